//! Plots over a day: a reading as a line, a called range as a band, what happened as marks; drawn by plotters.
//!
//! Times are the horizontal axis of every plot, so that plots of one day stand below each other hour for hour. A plot is
//! drawn 400 units wide, which is about the width of a phone, with type that is readable there. plotters writes fixed
//! colours; each [`Ink`] has one that is then replaced by its variable of the page's stylesheet.

use jiff::tz::TimeZone;
use maud::{Markup, PreEscaped, html};
use plotters::coord::ranged1d::{DefaultFormatting, KeyPointHint};
use plotters::prelude::*;

use crate::vocabulary::quantity::{HOUR, SECOND};
use crate::vocabulary::time::{Instant, clock};

/// What something is drawn with: a variable of the stylesheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// Type.
    Text,
    /// The lines of the grid.
    Rule,
    /// What lies behind: the night, a block of a sheet.
    Shade,
    /// The first of things compared, or the only one.
    First,
    /// The second.
    Second,
    /// A third.
    Third,
    /// What happened: strikes.
    Mark,
}

impl Ink {
    const ALL: [Ink; 7] = [Ink::Text, Ink::Rule, Ink::Shade, Ink::First, Ink::Second, Ink::Third, Ink::Mark];

    /// Its variable of the stylesheet.
    pub fn variable(self) -> &'static str {
        match self {
            Ink::Text => "var(--text)",
            Ink::Rule => "var(--rule)",
            Ink::Shade => "var(--shade)",
            Ink::First => "var(--first)",
            Ink::Second => "var(--second)",
            Ink::Third => "var(--third)",
            Ink::Mark => "var(--mark)",
        }
    }

    /// The colour that stands for it until the plot is drawn.
    fn colour(self) -> RGBColor {
        RGBColor(1, 2, self as u8)
    }
}

/// The stretch of time that a plot shows.
#[derive(Clone, Debug)]
pub struct Axis {
    /// Its beginning.
    pub from: Instant,
    /// Its end.
    pub to: Instant,
    /// The zone of its hours.
    pub zone: TimeZone,
}

/// A reading over time: stretches of points, each from the one before; a gap parts stretches.
#[derive(Clone, Debug)]
pub struct Line {
    /// Its name in the key.
    pub name: String,
    /// Its stretches.
    pub stretches: Vec<Vec<(Instant, f64)>>,
    /// Its colour.
    pub ink: Ink,
}

/// A range over time, such as a called band of depths.
#[derive(Clone, Debug)]
pub struct Band {
    /// When it begins.
    pub from: Instant,
    /// When it ends.
    pub to: Instant,
    /// Its lower value.
    pub low: f64,
    /// Its upper value.
    pub high: f64,
    /// Its colour.
    pub ink: Ink,
    /// Whether its inside is filled; else it is outlined, so that a second one can lie over a first.
    pub filled: bool,
}

/// A stretch of time that is shaded from top to bottom.
#[derive(Clone, Copy, Debug)]
pub struct Shade {
    /// When it begins.
    pub from: Instant,
    /// When it ends.
    pub to: Instant,
}

/// The form of a mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// A filled disc.
    Disc,
    /// A filled triangle.
    Triangle,
    /// A cross.
    Cross,
}

/// One thing that happened.
#[derive(Clone, Copy, Debug)]
pub struct Mark {
    /// When.
    pub at: Instant,
    /// At which value.
    pub value: f64,
    /// Its form.
    pub form: Form,
    /// Its colour.
    pub ink: Ink,
}

/// What a plot shows.
#[derive(Clone, Debug)]
pub struct Plot<'a> {
    /// A word that no other plot of the page has.
    pub id: &'a str,
    /// What it is, with the unit: `Wind, mph`.
    pub title: &'a str,
    /// What is to be seen, for whoever can't see it.
    pub description: &'a str,
    /// Its time.
    pub axis: &'a Axis,
    /// Whether values grow downwards, as depths do.
    pub downwards: bool,
    /// Whether zero is shown in any case.
    pub from_zero: bool,
    /// Shaded stretches.
    pub shades: Vec<Shade>,
    /// Bands.
    pub bands: Vec<Band>,
    /// Lines.
    pub lines: Vec<Line>,
    /// Marks.
    pub marks: Vec<Mark>,
    /// What the colours mean, where that needs to be said.
    pub key: Vec<(Ink, String)>,
}

impl<'a> Plot<'a> {
    /// An empty plot.
    pub fn new(id: &'a str, title: &'a str, description: &'a str, axis: &'a Axis) -> Self {
        Self {
            id,
            title,
            description,
            axis,
            downwards: false,
            from_zero: false,
            shades: Vec::new(),
            bands: Vec::new(),
            lines: Vec::new(),
            marks: Vec::new(),
            key: Vec::new(),
        }
    }

    /// The plot as a figure of a page; in words alone where there is nothing that can be drawn.
    pub fn figure(&self) -> Markup {
        let drawing = self.values().and_then(|(low, high)| self.draw(low, high));
        html! {
            figure {
                figcaption { strong { (self.title) } " " (keys(&self.key)) }
                @match drawing {
                    Some(drawing) => (drawing),
                    None => p.soft { "Nothing of this is known." },
                }
            }
        }
    }

    /// The least and greatest value that is shown.
    fn values(&self) -> Option<(f64, f64)> {
        let bands = self.bands.iter().flat_map(|band| [band.low, band.high]);
        let lines = self.lines.iter().flat_map(|line| line.stretches.iter().flatten().map(|(_, value)| *value));
        let marks = self.marks.iter().map(|mark| mark.value);
        let zero = self.from_zero.then_some(0.0);
        let all = bands.chain(lines).chain(marks).filter(|value| value.is_finite());
        let mut ends: Option<(f64, f64)> = None;
        for value in all {
            let (low, high) = ends.unwrap_or((value, value));
            ends = Some((low.min(value), high.max(value)));
        }
        ends.map(|(low, high)| (low.min(zero.unwrap_or(low)), high.max(zero.unwrap_or(high))))
    }

    fn draw(&self, low: f64, high: f64) -> Option<Markup> {
        let mut svg = String::new();
        self.draw_into(&mut svg, low, high).ok()?;
        // The opening tag is the page's own, with what a reader of screens needs.
        let inside = svg.split_once('>')?.1.rsplit_once("</svg>")?.0;
        let mut inside = inside.to_owned();
        for ink in Ink::ALL {
            let RGBColor(red, green, blue) = ink.colour();
            inside =
                inside.replace(&format!("\"#{red:02X}{green:02X}{blue:02X}\""), &format!("\"{}\"", ink.variable()));
        }
        let (title, description) = (format!("{}-title", self.id), format!("{}-description", self.id));
        Some(html! {
            svg viewBox=(format!("0 0 {WIDTH} {HEIGHT}")) role="img" aria-labelledby=(format!("{title} {description}")) {
                title id=(title) { (self.title) }
                desc id=(description) { (self.description) }
                (PreEscaped(inside))
            }
        })
    }

    fn draw_into(&self, svg: &mut String, low: f64, high: f64) -> Result<(), Box<dyn std::error::Error>> {
        let area = SVGBackend::with_string(svg, (WIDTH, HEIGHT)).into_drawing_area();
        let hours = self.axis.to.since(self.axis.from).max(SECOND) as f64 / HOUR as f64;
        let x = |at: Instant| at.since(self.axis.from) as f64 / HOUR as f64;
        let within = |at: Instant| x(at).clamp(0.0, hours);
        let ticks = ticks(low, high);
        let (bottom, top) = (ticks.first().copied().unwrap_or(low), ticks.last().copied().unwrap_or(high));
        let ends = if self.downwards { (top, bottom) } else { (bottom, top) };
        let decimals = decimals(&ticks);
        let mut chart = ChartBuilder::on(&area)
            .margin_top(10)
            .margin_right(14)
            .margin_left(2)
            .x_label_area_size(30)
            .y_label_area_size(44)
            .build_cartesian_2d(
                Scale { ends: (0.0, hours), named: self.whole_hours() },
                Scale { ends, named: ticks },
            )?;
        let shade = Ink::Shade.colour().filled();
        chart.draw_series(
            self.shades.iter().map(|s| Rectangle::new([(within(s.from), bottom), (within(s.to), top)], shade)),
        )?;
        let label = ("sans-serif", TYPE).into_font().color(&Ink::Text.colour());
        chart
            .configure_mesh()
            .light_line_style(TRANSPARENT)
            .bold_line_style(Ink::Rule.colour())
            .axis_style(Ink::Rule.colour())
            .label_style(label)
            .x_labels(24)
            .y_labels(8)
            .x_label_formatter(&|hour| self.clock(*hour))
            .y_label_formatter(&|value| format!("{value:.decimals$}"))
            .draw()?;
        for band in &self.bands {
            let corners = [(within(band.from), band.low), (within(band.to), band.high)];
            let colour = band.ink.colour();
            if band.filled {
                chart.draw_series([Rectangle::new(corners, colour.mix(0.35).filled())])?;
            }
            chart.draw_series([Rectangle::new(corners, colour.stroke_width(2))])?;
        }
        for line in &self.lines {
            for stretch in &line.stretches {
                let points = stretch.iter().map(|(at, value)| (within(*at), *value));
                chart.draw_series(LineSeries::new(points, line.ink.colour().stroke_width(3)))?;
            }
        }
        for mark in self.marks.iter().filter(|mark| mark.at >= self.axis.from && mark.at <= self.axis.to) {
            let (at, colour) = ((x(mark.at), mark.value), mark.ink.colour());
            match mark.form {
                Form::Disc => chart.draw_series([Circle::new(at, 5, colour.filled())])?,
                Form::Triangle => chart.draw_series([TriangleMarker::new(at, 6, colour.filled())])?,
                Form::Cross => chart.draw_series([Cross::new(at, 5, colour.stroke_width(2))])?,
            };
        }
        area.present()?;
        Ok(())
    }

    /// The hours at which the axis is named: so many that they do not touch.
    fn whole_hours(&self) -> Vec<f64> {
        let hours = self.axis.to.since(self.axis.from) as f64 / HOUR as f64;
        let step = [1, 2, 3, 4, 6].into_iter().find(|step| hours / f64::from(*step) <= 6.0).unwrap_or(12);
        let step = i64::from(step) * HOUR;
        let into = clock(self.axis.from, &self.axis.zone).rem_euclid(step);
        let first = if into == 0 { 0 } else { step - into };
        let all = (0..48).map(|number| (first + number * step) as f64 / HOUR as f64);
        all.take_while(|hour| *hour <= hours).collect()
    }

    /// An hour of the axis as a time of day.
    fn clock(&self, hour: f64) -> String {
        let seconds = libm::round(hour * 3600.0) as i64;
        self.axis.from.after(seconds * SECOND).zoned(&self.axis.zone).strftime("%H:%M").to_string()
    }
}

/// An axis from one value to another, which may be the smaller, with the values that are named on it.
struct Scale {
    ends: (f64, f64),
    named: Vec<f64>,
}

impl Ranged for Scale {
    type FormatOption = DefaultFormatting;
    type ValueType = f64;

    fn map(&self, value: &f64, (first, last): (i32, i32)) -> i32 {
        let (from, to) = self.ends;
        let along = if from == to { 0.0 } else { (value - from) / (to - from) };
        libm::round(f64::from(first) + along * f64::from(last - first)) as i32
    }

    fn key_points<Hint: KeyPointHint>(&self, _hint: Hint) -> Vec<f64> {
        self.named.clone()
    }

    fn range(&self) -> std::ops::Range<f64> {
        self.ends.0..self.ends.1
    }
}

/// About as wide as a phone, so that type keeps its size there.
const WIDTH: u32 = 400;
const HEIGHT: u32 = 190;
/// plotters writes type smaller than it is asked for, by this library's own factor of 1.24.
const TYPE: u32 = 20;

/// What colours mean, beside a plot.
pub fn keys(key: &[(Ink, String)]) -> Markup {
    html! { @for (ink, name) in key { span.key { i style=(format!("background:{}", ink.variable())) {} (name) } " " } }
}

/// Round values from at or below the least to at or above the greatest, about four steps.
fn ticks(low: f64, high: f64) -> Vec<f64> {
    let span = if high > low { high - low } else { low.abs().max(1.0) };
    let rough = span / 4.0;
    let power = libm::pow(10.0, libm::floor(libm::log10(rough)));
    let step = [1.0, 2.0, 2.5, 5.0, 10.0].into_iter().map(|one| one * power).find(|step| *step >= rough);
    let step = step.unwrap_or(rough);
    let first = libm::floor(low / step);
    let last = libm::ceil(high / step).max(first + 1.0);
    let steps = (last - first).clamp(1.0, 12.0) as u32;
    (0..=steps).map(|number| (first + f64::from(number)) * step).collect()
}

/// The digits after the point that tell the values of an axis apart.
fn decimals(ticks: &[f64]) -> usize {
    let whole = |times: f64| ticks.iter().all(|tick| (tick * times - libm::round(tick * times)).abs() < 1e-6);
    [1.0, 10.0, 100.0].into_iter().position(whole).unwrap_or(3)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn axes_are_round_and_hold_what_is_shown() {
        assert_eq!(ticks(0.0, 24.0), [0.0, 10.0, 20.0, 30.0]);
        assert_eq!(ticks(2.0, 25.0), [0.0, 10.0, 20.0, 30.0]);
        assert_eq!(ticks(3.0, 3.0), [3.0, 4.0]);
        assert_eq!(decimals(&ticks(2.0, 4.0)), 1);
        assert_eq!(decimals(&ticks(0.0, 24.0)), 0);
    }

    #[test]
    fn hours_are_those_of_the_clock() {
        let zone = TimeZone::fixed(jiff::tz::offset(-7));
        let from = Instant::of("2026-05-15T04:36:00-07:00".parse().expect("a time"));
        let axis = Axis { from, to: from.after(16 * HOUR), zone };
        let plot = Plot::new("x", "x", "x", &axis);
        let named: Vec<String> = plot.whole_hours().into_iter().map(|hour| plot.clock(hour)).collect();
        assert_eq!(named, ["06:00", "09:00", "12:00", "15:00", "18:00"]);
    }
}
