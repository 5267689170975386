//! Plots over a day: a reading as a line, a called range as a band, what happened as marks; drawn by plotters. Rows of
//! bars and intervals are in [`rows`], what stands beside a plot to explain it in [`key`].
//!
//! Times are the horizontal axis of every plot, so that plots of one day stand below each other hour for hour. A plot is
//! drawn 400 units wide, which is about the width of a phone, with type that is readable there. plotters writes fixed
//! colours; each [`Ink`] has one that is then replaced by its variable of the page's stylesheet.

pub mod key;
pub mod rows;

use jiff::tz::TimeZone;
use maud::{Markup, PreEscaped, html};
use plotters::coord::ranged1d::{DefaultFormatting, KeyPointHint};
use plotters::prelude::*;

use key::{Swatch, keys};

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
    /// The page itself, to leave something empty.
    Paper,
}

impl Ink {
    const ALL: [Ink; 8] =
        [Ink::Text, Ink::Rule, Ink::Shade, Ink::First, Ink::Second, Ink::Third, Ink::Mark, Ink::Paper];

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
            Ink::Paper => "var(--paper)",
        }
    }

    /// The colour that stands for it until the plot is drawn.
    fn colour(self) -> RGBColor {
        self.patterned(Pattern::Solid)
    }

    /// The same for a line with a pattern.
    fn patterned(self, pattern: Pattern) -> RGBColor {
        RGBColor(1, 2 + pattern as u8, self as u8)
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

impl Axis {
    /// The hours at which the axis is named: so many that they do not touch.
    fn whole_hours(&self) -> Vec<f64> {
        let hours = self.to.since(self.from) as f64 / HOUR as f64;
        let step = [1, 2, 3, 4, 6].into_iter().find(|step| hours / f64::from(*step) <= 6.0).unwrap_or(12);
        let step = i64::from(step) * HOUR;
        let into = clock(self.from, &self.zone).rem_euclid(step);
        let first = if into == 0 { 0 } else { step - into };
        let all = (0..48).map(|number| (first + number * step) as f64 / HOUR as f64);
        all.take_while(|hour| *hour <= hours).collect()
    }

    /// An hour of the axis as a time of day.
    fn clock(&self, hour: f64) -> String {
        let seconds = libm::round(hour * 3600.0) as i64;
        self.from.after(seconds * SECOND).zoned(&self.zone).strftime("%H:%M").to_string()
    }
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

/// How far a shade covers what is under it, from the lightest to the darkest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Depth {
    /// A breath.
    Light,
    /// Half.
    Middle,
    /// All of it.
    Full,
}

impl Depth {
    /// The share of the shade's colour.
    fn share(self) -> f64 {
        match self {
            Depth::Light => 0.5,
            Depth::Middle => 0.75,
            Depth::Full => 1.0,
        }
    }
}

/// How a line is broken up, so that lines of one colour can be told apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pattern {
    /// Not at all.
    Solid,
    /// In dashes.
    Dashes,
    /// In dots.
    Dots,
    /// In dashes and dots by turns.
    DashDot,
    /// In long dashes.
    LongDashes,
}

impl Pattern {
    /// All of them, in the order in which they are used.
    pub const ALL: [Pattern; 5] =
        [Pattern::Solid, Pattern::Dashes, Pattern::Dots, Pattern::DashDot, Pattern::LongDashes];

    /// The lengths of stroke and gap, as SVG has them.
    fn dashes(self) -> Option<&'static str> {
        match self {
            Pattern::Solid => None,
            Pattern::Dashes => Some("7 4"),
            Pattern::Dots => Some("2 3"),
            Pattern::DashDot => Some("8 3 2 3"),
            Pattern::LongDashes => Some("14 4"),
        }
    }
}

/// A value that is told from others of its ink by its pattern, such as what a rod ran.
#[derive(Clone, Debug)]
pub struct Track {
    /// Its stretches.
    pub stretches: Vec<Vec<(Instant, f64)>>,
    /// Its colour.
    pub ink: Ink,
    /// Its pattern.
    pub pattern: Pattern,
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
    /// A small disc: one of the readings that a line goes through.
    Dot,
    /// A circle, empty.
    Ring,
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
    /// Stretches that are shaded less or more.
    pub graded: Vec<(Shade, Depth)>,
    /// Bands.
    pub bands: Vec<Band>,
    /// Lines.
    pub lines: Vec<Line>,
    /// Lines in patterns.
    pub tracks: Vec<Track>,
    /// Marks.
    pub marks: Vec<Mark>,
    /// What colours and forms mean, where that needs to be said.
    pub key: Vec<(Swatch, String)>,
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
            graded: Vec::new(),
            bands: Vec::new(),
            lines: Vec::new(),
            tracks: Vec::new(),
            marks: Vec::new(),
            key: Vec::new(),
        }
    }

    /// The plot as a figure of a page; in words alone where there is nothing that can be drawn.
    pub fn figure(&self) -> Markup {
        figure(self.title, &self.key, self.values().and_then(|(low, high)| self.draw(low, high)))
    }

    /// The least and greatest value that is shown.
    fn values(&self) -> Option<(f64, f64)> {
        let bands = self.bands.iter().flat_map(|band| [band.low, band.high]);
        let lines = self.lines.iter().flat_map(|line| line.stretches.iter().flatten().map(|(_, value)| *value));
        let tracks = self.tracks.iter().flat_map(|track| track.stretches.iter().flatten().map(|(_, value)| *value));
        let marks = self.marks.iter().map(|mark| mark.value);
        let zero = self.from_zero.then_some(0.0);
        let all = bands.chain(lines).chain(tracks).chain(marks).filter(|value| value.is_finite());
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
        drawing(self.id, self.title, self.description, HEIGHT, &svg)
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
            .margin_right(22)
            .margin_left(2)
            .x_label_area_size(30)
            .y_label_area_size(44)
            .build_cartesian_2d(
                Scale { ends: (0.0, hours), named: self.axis.whole_hours() },
                Scale { ends, named: ticks },
            )?;
        let shade = Ink::Shade.colour().filled();
        chart.draw_series(
            self.shades.iter().map(|s| Rectangle::new([(within(s.from), bottom), (within(s.to), top)], shade)),
        )?;
        for (stretch, depth) in &self.graded {
            let corners = [(within(stretch.from), bottom), (within(stretch.to), top)];
            chart.draw_series([Rectangle::new(corners, Ink::Shade.colour().mix(depth.share()).filled())])?;
        }
        let label = ("sans-serif", TYPE).into_font().color(&Ink::Text.colour());
        chart
            .configure_mesh()
            .light_line_style(TRANSPARENT)
            .bold_line_style(Ink::Rule.colour())
            .axis_style(Ink::Rule.colour())
            .label_style(label)
            .x_labels(24)
            .y_labels(8)
            .x_label_formatter(&|hour| self.axis.clock(*hour))
            .y_label_formatter(&|value| format!("{value:.decimals$}"))
            .draw()?;
        for run in runs(&self.bands, self.axis) {
            let Some(first) = run.first() else { continue };
            let upper = run.iter().flat_map(|band| [(within(band.from), band.high), (within(band.to), band.high)]);
            let lower = run.iter().rev().flat_map(|band| [(within(band.to), band.low), (within(band.from), band.low)]);
            let mut outline: Vec<(f64, f64)> = upper.chain(lower).collect();
            let colour = first.ink.colour();
            if first.filled {
                chart.draw_series([Polygon::new(outline.clone(), colour.mix(0.35).filled())])?;
            }
            outline.extend(outline.first().copied());
            chart.draw_series([PathElement::new(outline, colour.stroke_width(2))])?;
        }
        for line in &self.lines {
            for stretch in thinned(&line.stretches, self.axis) {
                if let [(at, value)] = stretch.as_slice() {
                    chart.draw_series([Circle::new((within(*at), *value), 3, line.ink.colour().filled())])?;
                }
                let points = stretch.iter().map(|(at, value)| (within(*at), *value));
                chart.draw_series(LineSeries::new(points, line.ink.colour().stroke_width(3)))?;
            }
        }
        for track in &self.tracks {
            for stretch in thinned(&track.stretches, self.axis) {
                let points = stretch.iter().map(|(at, value)| (within(*at), *value));
                let colour = track.ink.patterned(track.pattern);
                chart.draw_series(LineSeries::new(points, colour.stroke_width(2)))?;
            }
        }
        for mark in self.marks.iter().filter(|mark| mark.at >= self.axis.from && mark.at <= self.axis.to) {
            let (at, colour) = ((x(mark.at), mark.value), mark.ink.colour());
            match mark.form {
                Form::Disc => chart.draw_series([Circle::new(at, 5, colour.filled())])?,
                Form::Triangle => chart.draw_series([TriangleMarker::new(at, 6, colour.filled())])?,
                Form::Cross => chart.draw_series([Cross::new(at, 5, colour.stroke_width(3))])?,
                Form::Dot => chart.draw_series([Circle::new(at, 3, colour.filled())])?,
                Form::Ring => chart.draw_series([Circle::new(at, 6, colour.stroke_width(3))])?,
            };
        }
        area.present()?;
        Ok(())
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

/// A figure of a page: a title with its key over a drawing; in words alone where there is nothing that can be drawn.
fn figure(title: &str, key: &[(Swatch, String)], drawing: Option<Markup>) -> Markup {
    html! {
        figure {
            figcaption { strong { (title) } " " (keys(key)) }
            @match drawing {
                Some(drawing) => (drawing),
                None => p.soft { "Nothing of this is known." },
            }
        }
    }
}

/// What plotters drew, as a part of a page: with title and description for whoever can't see it, in the page's colours.
fn drawing(id: &str, title: &str, description: &str, height: u32, svg: &str) -> Option<Markup> {
    // The opening tag is the page's own, with what a reader of screens needs.
    let mut inside = svg.split_once('>')?.1.rsplit_once("</svg>")?.0.to_owned();
    for ink in Ink::ALL {
        for pattern in Pattern::ALL {
            let RGBColor(red, green, blue) = ink.patterned(pattern);
            let dashes = pattern.dashes().map_or_else(String::new, |dashes| format!(" stroke-dasharray=\"{dashes}\""));
            let drawn = format!("\"{}\"{dashes}", ink.variable());
            inside = inside.replace(&format!("\"#{red:02X}{green:02X}{blue:02X}\""), &drawn);
        }
    }
    let (title_id, description_id) = (format!("{id}-title"), format!("{id}-description"));
    Some(html! {
        svg viewBox=(format!("0 0 {WIDTH} {height}")) role="img" aria-labelledby=(format!("{title_id} {description_id}")) {
            title id=(title_id) { (title) }
            desc id=(description_id) { (description) }
            (PreEscaped(inside))
        }
    })
}

/// Parts of the time of a plot of which nobody sees more than one thing each.
const PARTS: i64 = 100;

/// Lines of no more points than can be seen: of each part of the time the first, the least, the greatest and the last.
fn thinned(stretches: &[Vec<(Instant, f64)>], axis: &Axis) -> Vec<Vec<(Instant, f64)>> {
    let points: usize = stretches.iter().map(Vec::len).sum();
    if points <= 4 * PARTS as usize {
        return stretches.to_vec();
    }
    let part = |at: Instant| at.since(axis.from) / (axis.to.since(axis.from) / PARTS).max(1);
    let all: Vec<(usize, Instant, f64)> =
        (0..).zip(stretches).flat_map(|(of, points)| points.iter().map(move |(at, value)| (of, *at, *value))).collect();
    let mut thin: Vec<Vec<(Instant, f64)>> = Vec::new();
    let mut stretch = None;
    for bucket in all.chunk_by(|a, b| part(a.1) == part(b.1)) {
        let of_all = |better: fn(f64, f64) -> bool| {
            let ends = (0..bucket.len()).zip(bucket);
            ends.fold(None, |best: Option<(usize, f64)>, (place, (_, _, value))| match best {
                Some((_, found)) if !better(*value, found) => best,
                _ => Some((place, *value)),
            })
        };
        let mut places = vec![0, bucket.len().saturating_sub(1)];
        places.extend(of_all(|value, found| value < found).map(|(place, _)| place));
        places.extend(of_all(|value, found| value > found).map(|(place, _)| place));
        places.sort_unstable();
        places.dedup();
        for (of, at, value) in places.into_iter().filter_map(|place| bucket.get(place)) {
            if stretch != Some(*of) {
                thin.push(Vec::new());
                stretch = Some(*of);
            }
            if let Some(line) = thin.last_mut() {
                line.push((*at, *value));
            }
        }
    }
    thin
}

/// Bands that touch in time and value, together, each to be drawn as one; what is too short to be seen goes with what
/// stood before it.
fn runs(bands: &[Band], axis: &Axis) -> Vec<Vec<Band>> {
    let least = axis.to.since(axis.from) / (2 * PARTS);
    let mut runs: Vec<Vec<Band>> = Vec::new();
    for band in bands.iter().filter(|band| band.low.is_finite() && band.high.is_finite()) {
        if let Some(run) = runs.last_mut()
            && let Some(last) = run.last_mut()
            && (last.ink, last.filled) == (band.ink, band.filled)
            && last.from <= band.from
        {
            let same = last.to == band.from && (last.low, last.high) == (band.low, band.high);
            if same || band.to.since(last.from) < least {
                last.to = last.to.max(band.to);
                continue;
            }
            if last.to == band.from && last.low <= band.high && band.low <= last.high {
                run.push(band.clone());
                continue;
            }
        }
        runs.push(vec![band.clone()]);
    }
    runs
}

/// About as wide as a phone, so that type keeps its size there.
const WIDTH: u32 = 400;
const HEIGHT: u32 = 190;
/// plotters writes type smaller than it is asked for, by this library's own factor of 1.24.
const TYPE: u32 = 20;

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
        let named: Vec<String> = axis.whole_hours().into_iter().map(|hour| axis.clock(hour)).collect();
        assert_eq!(named, ["06:00", "09:00", "12:00", "15:00", "18:00"]);
    }
    fn a_day() -> Axis {
        Axis { from: Instant(0), to: Instant(10 * HOUR), zone: TimeZone::UTC }
    }

    #[test]
    fn thin_lines_keep_their_extremes_and_gaps() {
        let point = |number: i64| (Instant(number * SECOND), if number == 12_345 { 99.0 } else { 5.0 });
        let line: Vec<(Instant, f64)> = (0..36_000).map(point).collect();
        let (before, after) = line.split_at(20_000);
        let thin = thinned(&[before.to_vec(), after.to_vec()], &a_day());
        assert_eq!(thin.len(), 2);
        assert!(thin.iter().map(Vec::len).sum::<usize>() <= 404);
        assert!(thin[0].contains(&point(12_345)));
        assert_eq!((thin[0].first(), thin[1].last()), (before.first(), after.last()));
    }

    #[test]
    fn bands_that_touch_are_one_and_short_ones_do_not_multiply() {
        let band = |from: i64, to: i64, low: f64| Band {
            from: Instant(from * SECOND),
            to: Instant(to * SECOND),
            low,
            high: low + 5.0,
            ink: Ink::First,
            filled: true,
        };
        let touching = [band(0, 3600, 1.0), band(3600, 7200, 3.0), band(7200, 9000, 20.0), band(12_000, 15_000, 20.0)];
        let lengths: Vec<usize> = runs(&touching, &a_day()).iter().map(Vec::len).collect();
        assert_eq!(lengths, [2, 1, 1]);
        let flicker: Vec<Band> = (0..36_000).map(|at| band(at, at + 1, (at % 2) as f64)).collect();
        assert!(runs(&flicker, &a_day()).iter().map(Vec::len).sum::<usize>() <= 402);
    }
}
