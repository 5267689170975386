//! Rows that share one horizontal axis: bars over time or over a share, and values with their intervals.

use maud::Markup;
use plotters::prelude::*;

use super::key::Swatch;
use super::{Axis, Form, Ink, Scale, TYPE, WIDTH, decimals, drawing, figure, ticks};
use crate::vocabulary::quantity::{HOUR, SECOND};
use crate::vocabulary::time::Instant;

/// What the horizontal axis of rows is.
#[derive(Clone, Debug)]
pub enum Across<'a> {
    /// Time; positions are hours from its beginning.
    Time(&'a Axis),
    /// Values from zero to the greatest.
    Linear(f64),
    /// Values from the least to the greatest, tenfold after tenfold.
    Log(f64, f64),
}

impl Across<'_> {
    /// An axis on which so many values with their intervals can be read: from zero where that shows them all, else by
    /// tenfolds. An end that lies far from every value is left to an arrow.
    pub fn of(spans: &[Span]) -> Self {
        const FAR: f64 = 30.0;
        let least = |all: &mut dyn Iterator<Item = f64>| all.filter(|value| *value > 0.0).reduce(f64::min);
        let most = |all: &mut dyn Iterator<Item = f64>| all.filter(|value| value.is_finite()).reduce(f64::max);
        let ends = most(&mut spans.iter().filter_map(|span| span.high)).unwrap_or(1.0);
        let Some(greatest) = most(&mut spans.iter().filter_map(|span| span.value)).filter(|value| *value > 0.0) else {
            return Across::Linear(if ends > 0.0 { ends } else { 1.0 });
        };
        if ends <= 6.0 * greatest {
            return Across::Linear(ends.max(greatest));
        }
        let smallest = least(&mut spans.iter().filter_map(|span| span.value)).unwrap_or(greatest);
        let low = least(&mut spans.iter().filter_map(|span| span.low)).unwrap_or(smallest / 10.0);
        Across::Log(low.clamp(smallest / FAR, smallest), ends.clamp(greatest, greatest * FAR))
    }

    /// An axis of ratios: by tenfolds, with 1 on it.
    pub fn of_ratios(spans: &[Span]) -> Self {
        let one = Span { low: Some(0.5), value: Some(1.0), high: Some(2.0) };
        let finite = |span: &Span| Span { low: span.low.filter(|low| *low > 0.0), ..*span };
        let spans: Vec<Span> = spans.iter().map(finite).chain([one]).collect();
        let all = || spans.iter().flat_map(|span| [span.low, span.value, span.high]).flatten().filter(|of| *of > 0.0);
        let (low, high) = (all().reduce(f64::min).unwrap_or(0.5), all().reduce(f64::max).unwrap_or(2.0));
        Across::Log(low.max(0.01), high.min(100.0))
    }

    /// Where on the axis a value lies; ends of the axis for what lies past them.
    fn place(&self, value: f64) -> f64 {
        let (low, high) = self.ends();
        let at = match self {
            Across::Log(..) => {
                if value > 0.0 {
                    libm::log10(value)
                } else {
                    low
                }
            }
            _ => value,
        };
        at.clamp(low, high)
    }

    fn ends(&self) -> (f64, f64) {
        match self {
            Across::Time(axis) => (0.0, axis.to.since(axis.from).max(SECOND) as f64 / HOUR as f64),
            Across::Linear(high) => (0.0, ticks(0.0, *high).last().copied().unwrap_or(*high)),
            Across::Log(low, high) => {
                let (low, high) = (libm::log10(low.max(1e-9)), libm::log10(high.max(1e-9)));
                if high - low < 0.5 { (low - 0.25, high + 0.25) } else { (low, high) }
            }
        }
    }

    /// The places that are named.
    fn named(&self) -> Vec<f64> {
        match self {
            Across::Time(axis) => axis.whole_hours(),
            Across::Linear(high) => ticks(0.0, *high),
            Across::Log(..) => {
                let (low, high) = self.ends();
                let steps: &[f64] = match high - low {
                    span if span > 3.0 => &[1.0],
                    span if span > 1.6 => &[1.0, 3.0],
                    _ => &[1.0, 2.0, 5.0],
                };
                let (first, last) = (libm::floor(low) as i32, libm::ceil(high) as i32);
                let all = (first..=last)
                    .flat_map(|power| steps.iter().map(move |step| libm::log10(*step) + f64::from(power)));
                all.filter(|at| (low..=high).contains(at)).collect()
            }
        }
    }

    fn name(&self, at: f64, decimals: usize) -> String {
        match self {
            Across::Time(axis) => axis.clock(at),
            Across::Linear(_) => format!("{at:.decimals$}"),
            Across::Log(..) => {
                let value = libm::pow(10.0, at);
                let decimals = if value < 0.095 { 2 } else { usize::from(value < 0.95) };
                format!("{value:.decimals$}")
            }
        }
    }
}

/// A value with its interval; none at an end is an interval without that end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// The lower end.
    pub low: Option<f64>,
    /// The value.
    pub value: Option<f64>,
    /// The upper end.
    pub high: Option<f64>,
}

/// A bar of a row.
#[derive(Clone, Copy, Debug)]
pub struct Bar {
    /// Where it begins on the axis.
    pub from: f64,
    /// Where it ends.
    pub to: f64,
    /// How it is drawn: as its sample is.
    pub drawn: Swatch,
}

impl Bar {
    /// A bar over a stretch of time.
    pub fn over(axis: &Axis, from: Instant, to: Instant, drawn: Swatch) -> Self {
        let hours = |at: Instant| at.since(axis.from) as f64 / HOUR as f64;
        Self { from: hours(from), to: hours(to), drawn }
    }
}

/// One row.
#[derive(Clone, Debug)]
pub struct Row {
    /// What stands beside it.
    pub label: String,
    /// Its bars.
    pub bars: Vec<Bar>,
    /// Its interval, with the form and colour of its value.
    pub span: Option<(Span, Form, Ink)>,
}

/// Rows under each other.
#[derive(Clone, Debug)]
pub struct Rows<'a> {
    /// A word that no other plot of the page has.
    pub id: &'a str,
    /// What it is, with the unit.
    pub title: &'a str,
    /// What is to be seen, for whoever can't see it.
    pub description: &'a str,
    /// The horizontal axis.
    pub across: Across<'a>,
    /// A value that a line goes through all rows at.
    pub line_at: Option<f64>,
    /// The rows, from the top.
    pub rows: Vec<Row>,
    /// What colours and forms mean, where that needs to be said.
    pub key: Vec<(Swatch, String)>,
}

/// The height of a row.
const ROW: u32 = 30;
/// The width of a letter of a label, about.
const LETTER: usize = 9;
/// Most letters of a label.
const MOST_LABEL: usize = 15;
/// Most bars of a row; what comes after is too much for anybody to see.
const MOST_BARS: usize = 400;

impl Rows<'_> {
    /// The rows as a figure of a page.
    pub fn figure(&self) -> Markup {
        let height = ROW * u32::try_from(self.rows.len()).unwrap_or(0) + 44;
        let mut svg = String::new();
        let drawn = self.draw_into(&mut svg, height).ok().filter(|()| !self.rows.is_empty());
        let drawn = drawn.and_then(|()| drawing(self.id, self.title, self.description, height, &svg));
        figure(self.title, &self.key, drawn)
    }

    fn draw_into(&self, svg: &mut String, height: u32) -> Result<(), Box<dyn std::error::Error>> {
        let area = SVGBackend::with_string(svg, (WIDTH, height)).into_drawing_area();
        let labels: Vec<String> = self.rows.iter().map(|row| shortened(&row.label)).collect();
        let widest = labels.iter().map(|label| label.chars().count()).max().unwrap_or(0);
        let (low, high) = self.across.ends();
        let named = self.across.named();
        let decimals = decimals(&named);
        let middle = |row: usize| row as f64 + 0.5;
        let mut chart = ChartBuilder::on(&area)
            .margin_top(6)
            .margin_right(22)
            .margin_left(2)
            .x_label_area_size(30)
            .y_label_area_size(u32::try_from(widest * LETTER + 18).unwrap_or(0))
            .build_cartesian_2d(
                Scale { ends: (low, high), named },
                Scale { ends: (self.rows.len() as f64, 0.0), named: (0..self.rows.len()).map(middle).collect() },
            )?;
        let type_of_label = ("sans-serif", TYPE).into_font().color(&Ink::Text.colour());
        chart
            .configure_mesh()
            .disable_y_mesh()
            .light_line_style(TRANSPARENT)
            .bold_line_style(Ink::Rule.colour())
            .axis_style(Ink::Rule.colour())
            .label_style(type_of_label)
            .x_labels(24)
            .y_labels(100)
            .x_label_formatter(&|at| self.across.name(*at, decimals))
            .y_label_formatter(&|at| labels.get(libm::floor(*at) as usize).cloned().unwrap_or_default())
            .draw()?;
        if let Some(at) = self.line_at.map(|at| self.across.place(at)) {
            let line = vec![(at, 0.0), (at, self.rows.len() as f64)];
            chart.draw_series([PathElement::new(line, Ink::Text.colour().stroke_width(2))])?;
        }
        for (number, row) in self.rows.iter().enumerate() {
            for bar in row.bars.iter().take(MOST_BARS) {
                let at = |value: f64| value.clamp(low, high);
                let corners = [(at(bar.from), number as f64 + 0.15), (at(bar.to), number as f64 + 0.85)];
                let (inside, edge) = match bar.drawn {
                    Swatch::Filled(ink) => (Some(ink.colour().mix(0.35)), Some(ink)),
                    Swatch::Block(ink) => (Some(ink.colour().mix(1.0)), None),
                    Swatch::Shaded(depth) => (Some(Ink::Shade.colour().mix(depth.share())), None),
                    Swatch::Outlined(ink) | Swatch::Stroke(ink, _) | Swatch::Mark(_, ink) => (None, Some(ink)),
                };
                if let Some(inside) = inside {
                    chart.draw_series([Rectangle::new(corners, inside.filled())])?;
                }
                if let Some(edge) = edge {
                    chart.draw_series([Rectangle::new(corners, edge.colour().stroke_width(2))])?;
                }
            }
            if let Some((span, form, ink)) = row.span {
                let y = middle(number);
                let fill = ink.colour().filled();
                let line = ink.colour().stroke_width(3);
                let (from, to) = (
                    span.low.map_or(low, |at| self.across.place(at)),
                    span.high.map_or(high, |at| self.across.place(at)),
                );
                chart.draw_series([PathElement::new(vec![(from, y), (to, y)], line)])?;
                // An end that lies past the axis is an arrow, any other a stroke across.
                let (before, after) = (self.goes_below(span.low), self.goes_above(span.high));
                for (at, goes_on, turned) in [(from, before, -1), (to, after, 1)] {
                    if goes_on {
                        let tip = vec![(0, 0), (-11 * turned, -7), (-11 * turned, 7)];
                        chart.draw_series([EmptyElement::at((at, y)) + Polygon::new(tip, fill)])?;
                    } else {
                        chart.draw_series([PathElement::new(vec![(at, y - 0.2), (at, y + 0.2)], line)])?;
                    }
                }
                if let Some(value) = span.value.filter(|value| *value > 0.0 || !matches!(self.across, Across::Log(..)))
                {
                    let at = (self.across.place(value), y);
                    match form {
                        Form::Ring => {
                            // Empty, so that the line does not show through.
                            chart.draw_series([Circle::new(at, 7, Ink::Paper.colour().filled())])?;
                            chart.draw_series([Circle::new(at, 7, line)])?
                        }
                        Form::Cross => chart.draw_series([Cross::new(at, 6, line)])?,
                        Form::Triangle => chart.draw_series([TriangleMarker::new(at, 9, fill)])?,
                        Form::Disc | Form::Dot => chart.draw_series([Circle::new(at, 7, fill)])?,
                    };
                }
            }
        }
        area.present()?;
        Ok(())
    }

    fn goes_below(&self, low: Option<f64>) -> bool {
        let end = self.across.ends().0;
        match (&self.across, low) {
            (_, None) => true,
            (Across::Log(..), Some(low)) => low <= 0.0 || libm::log10(low) < end - 1e-9,
            (_, Some(low)) => low < end,
        }
    }

    fn goes_above(&self, high: Option<f64>) -> bool {
        let end = self.across.ends().1;
        match (&self.across, high) {
            (_, None) => true,
            (Across::Log(..), Some(high)) => high > 0.0 && libm::log10(high) > end + 1e-9,
            (_, Some(high)) => high > end,
        }
    }
}

/// A label that fits beside its row.
fn shortened(label: &str) -> String {
    if label.chars().count() <= MOST_LABEL {
        return label.to_owned();
    }
    label.chars().take(MOST_LABEL - 1).chain(['…']).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn span(low: f64, value: f64, high: f64) -> Span {
        Span { low: Some(low), value: Some(value), high: Some(high) }
    }

    #[test]
    fn an_axis_is_linear_where_that_can_be_read() {
        assert!(matches!(Across::of(&[span(0.2, 0.5, 1.2), span(0.0, 0.0, 2.9)]), Across::Linear(_)));
        // One short stretch without a strike would press all else into a corner.
        let Across::Log(low, high) = Across::of(&[span(0.2, 0.5, 1.2), span(0.0, 0.0, 370.0)]) else {
            panic!("not by tenfolds")
        };
        assert!((low - 0.2).abs() < 1e-9 && (high - 15.0).abs() < 1e-9, "{low} {high}");
    }

    #[test]
    fn ratios_stand_around_one() {
        let Across::Log(low, high) = Across::of_ratios(&[Span { low: Some(0.0), value: Some(3.0), high: None }]) else {
            panic!("not by tenfolds")
        };
        assert!(low <= 0.5 && high >= 3.0);
    }

    #[test]
    fn long_labels_are_cut() {
        assert_eq!(shortened("whole tactic"), "whole tactic");
        assert_eq!(shortened("a_word_of_ones_own_that_is_long").chars().count(), MOST_LABEL);
    }
}
