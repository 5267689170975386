//! One day of a comparison as pictures: what both strategies called over what rods really ran, with strikes and fish;
//! where the two differ; what was read.

use maud::{Markup, html};

use super::comparison::{A, B};
use super::frame::{section, stacked_table};
use super::plot::key::Swatch;
use super::plot::rows::{Across, Bar, Row, Rows};
use super::plot::{Axis, Band, Depth, Form, Ink, Line, Mark, Pattern, Plot, Shade, Track};
use crate::compare::differ::{Called, CalledBy, Stretch};
use crate::compare::fished::{LIGHTS, light_at};
use crate::compare::text::{by, changed_by};
use crate::compare::{Day, Sides};
use crate::day::replay::Timeline;
use crate::day::replay::text::clock;
use crate::day::sheet::Arm;
use crate::day::traces::{Trace, Traces};
use crate::vocabulary::aspect::{Aspect, AspectId};
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::print::{self, System, unrounded};
use crate::vocabulary::quantity::MINUTE;
use crate::vocabulary::time::{Instant, to_the_second};
use crate::vocabulary::unit::Unit;

/// Most stretches of a day that are told, the longest of them.
const MOST_STRETCHES: usize = 60;
/// Most rods and marks of a plot: more than anybody can tell apart.
const MOST_RODS: usize = 10;
const MOST_MARKS: usize = 300;
/// Readings that are few enough to be shown one by one.
const FEW: usize = 40;

/// A day of a comparison.
pub(super) fn day(number: usize, day: &Day, sides: &Sides) -> Markup {
    let log = &day.log;
    let (Some((from, _)), Some((_, to))) = (day.lines_in.first(), day.lines_in.last()) else {
        return section(&log.file, &html! { p { "Lines never went in." } });
    };
    let axis = Axis { from: *from, to: *to, zone: log.zone.clone() };
    let pictures = Pictures {
        number,
        day,
        sides,
        traces: Traces::of(log),
        light: light(day, &axis),
        system: sides.a.program.system,
        axis,
    };
    let about = [log.water.as_ref(), log.boat.as_ref()].into_iter().flatten().map(String::as_str);
    let date = pictures.date();
    let body = html! {
        p.soft {
            (log.file)
            @for about in about { ", " (about) }
            @if let Some(strategy) = &log.strategy { "; fished by " (strategy) }
        }
        p { (pictures.light_in_words()) }
        @for id in [AspectId::DEPTH, AspectId::SPEED, AspectId::SIZE, AspectId::SETBACK] { (pictures.called(id)) }
        (pictures.differences())
        (pictures.stretches())
        (pictures.readings())
    };
    section(&date, &body)
}

struct Pictures<'a> {
    number: usize,
    day: &'a Day,
    sides: &'a Sides,
    traces: Traces,
    /// Stretches of one class of light, by its place among all.
    light: Vec<(Instant, Instant, usize)>,
    system: System,
    axis: Axis,
}

/// The classes of light over a day.
fn light(day: &Day, axis: &Axis) -> Vec<(Instant, Instant, usize)> {
    // A day of a log is no longer than a few; whatever its times say, no more is gone through.
    const MOST_MINUTES: i64 = 7 * 24 * 60;
    let step = (axis.to.since(axis.from) / MOST_MINUTES).max(MINUTE);
    let mut spans: Vec<(Instant, Instant, usize)> = Vec::new();
    let mut at = axis.from;
    while at < axis.to {
        let (upto, class) = (at.after(step).min(axis.to), light_at(day.place, at));
        match spans.last_mut().filter(|(.., last)| *last == class) {
            Some((_, to, _)) => *to = upto,
            None => spans.push((at, upto, class)),
        }
        at = upto;
    }
    spans
}

/// How a class of light is shaded.
fn depth_of(class: usize) -> Option<Depth> {
    [Some(Depth::Full), Some(Depth::Middle), Some(Depth::Light)].get(class).copied().flatten()
}

impl Pictures<'_> {
    fn date(&self) -> String {
        self.axis.from.zoned(&self.axis.zone).strftime("%Y-%m-%d").to_string()
    }

    fn clock(&self, at: Instant) -> String {
        clock(&to_the_second(&at.zoned(&self.axis.zone))).to_owned()
    }

    fn id(&self, what: &str) -> String {
        format!("day-{}-{what}", self.number)
    }

    fn light_in_words(&self) -> String {
        let class = |at: usize| LIGHTS.get(at).copied().unwrap_or("unknown");
        match self.light.as_slice() {
            [(.., one)] if *one == LIGHTS.len() - 1 => {
                "Light: unknown; the water's place is not known, name its file by `--water`.".to_owned()
            }
            spans => {
                let spans = spans.iter().map(|(from, _, at)| format!("{} from {}", class(*at), self.clock(*from)));
                format!("Light: {}.", spans.collect::<Vec<_>>().join(", "))
            }
        }
    }

    /// What every plot of the day has: light as shade, and time without lines.
    fn plot<'p>(&'p self, id: &'p str, title: &'p str, description: &'p str) -> Plot<'p> {
        let mut plot = Plot::new(id, title, description, &self.axis);
        let shaded =
            self.light.iter().filter_map(|(from, to, class)| Some((Shade { from: *from, to: *to }, depth_of(*class)?)));
        plot.graded = shaded.collect();
        plot
    }

    fn shade_keys(&self) -> Vec<(Swatch, String)> {
        let classes = LIGHTS.iter().zip(0..).filter(|(_, class)| self.light.iter().any(|(.., at)| at == class));
        classes.filter_map(|(name, class)| Some((Swatch::Shaded(depth_of(class)?), (*name).to_owned()))).collect()
    }

    /// Both strategies' calls of an aspect over what rods ran; nothing where neither strategy decides it.
    fn called(&self, id: AspectId) -> Markup {
        let (a, b) = (&self.sides.a.program, &self.sides.b.program);
        let aspect = a.aspects.get(id.index());
        let Some((aspect, kind)) = aspect.and_then(|aspect| Some((aspect, aspect.range_kind()?))) else {
            return html! {};
        };
        let decided = [a.decides(id), b.decides(id)];
        if decided == [false, false] {
            return html! {};
        }
        let small = id == AspectId::SIZE;
        let Some(unit) = self.system.unit(kind, small) else { return html! {} };
        let measure = Measure { id, aspect, kind, unit };
        let title = format!("{}, {}", capital(&aspect.name), unit.symbol);
        let id = self.id(&aspect.name);
        let mut plot = self.plot(
            &id,
            &title,
            "Both strategies' called ranges over the day, what each rod ran, strikes and fish. Where no range is drawn, lines were up or nothing was called.",
        );
        plot.downwards = aspect.name == "depth";
        plot.from_zero = plot.downwards;
        plot.bands = self.bands(&self.day.a, &measure, Ink::First, true);
        plot.bands.extend(self.bands(&self.day.b, &measure, Ink::Second, false));
        for (drawn, letter, decides) in [(A, "A", decided[0]), (B, "B", decided[1])] {
            if decides {
                plot.key.push((drawn, format!("{letter} calls")));
            }
        }
        self.add_rods(&mut plot, &measure);
        let unseen = self.add_caught(&mut plot, &measure);
        plot.key.extend(self.shade_keys());
        html! {
            (plot.figure())
            @if unseen > 0 {
                p.soft { "Not drawn: " (unseen) " of the strikes and fish, whose rod or whose " (aspect.name) " nobody wrote down." }
            }
        }
    }

    /// The called ranges while lines were in.
    fn bands(&self, timeline: &Timeline, measure: &Measure<'_>, ink: Ink, filled: bool) -> Vec<Band> {
        let mut bands = Vec::new();
        for call in &timeline.calls {
            let Called::Range(low, high) = Called::of(&timeline.program, call, measure.id) else { continue };
            for (from, to) in &self.day.lines_in {
                let (from, to) = (call.from.max(*from), call.to.min(*to));
                if from < to {
                    bands.push(Band { from, to, low: measure.of(low), high: measure.of(high), ink, filled });
                }
            }
        }
        bands
    }

    fn add_rods(&self, plot: &mut Plot<'_>, measure: &Measure<'_>) {
        let mut drawn = 0;
        for rod in &self.traces.rods {
            let mut stretches: Vec<Vec<(Instant, f64)>> = Vec::new();
            for (from, to, run) in &rod.spans {
                let Some(value) = run.measure(&measure.aspect.name).map(|counts| measure.of(counts)) else { continue };
                let goes_on = stretches.last().and_then(|stretch| stretch.last()).is_some_and(|(at, _)| at == from);
                match stretches.last_mut().filter(|_| goes_on) {
                    Some(stretch) => stretch.extend([(*from, value), (*to, value)]),
                    None => stretches.push(vec![(*from, value), (*to, value)]),
                }
            }
            if stretches.is_empty() {
                continue;
            }
            if drawn == MOST_RODS {
                plot.key.push((Swatch::Stroke(Ink::Text, Pattern::Solid), "and more rods, not drawn".to_owned()));
                return;
            }
            let pattern = Pattern::ALL.get(drawn % Pattern::ALL.len()).copied().unwrap_or(Pattern::Solid);
            plot.key.push((Swatch::Stroke(Ink::Text, pattern), rod.name.clone()));
            plot.tracks.push(Track { stretches, ink: Ink::Text, pattern });
            drawn += 1;
        }
    }

    /// Marks strikes and fish at what their rods ran; gives how many have no place.
    fn add_caught(&self, plot: &mut Plot<'_>, measure: &Measure<'_>) -> usize {
        let mut unseen = 0;
        for caught in &self.traces.caught {
            let value = caught.run.as_ref().and_then(|run| run.measure(&measure.aspect.name));
            let Some(value) = value.filter(|_| plot.marks.len() < MOST_MARKS) else {
                unseen += 1;
                continue;
            };
            let form = if caught.landed { LANDED } else { STRIKE };
            plot.marks.push(Mark { at: caught.at, value: measure.of(value), form, ink: Ink::Mark });
        }
        for (form, name) in [(STRIKE, "strike"), (LANDED, "fish landed")] {
            if plot.marks.iter().any(|mark| mark.form == form) {
                plot.key.push((Swatch::Mark(form, Ink::Mark), name.to_owned()));
            }
        }
        // Where nobody wrote down what any rod ran, that says it.
        if plot.tracks.is_empty() { 0 } else { unseen }
    }

    /// A strip for each aspect, dark where the two differ; and whose turn it was, on a day of a contest.
    fn differences(&self) -> Markup {
        let lines_in = |drawn: Swatch| self.day.lines_in.iter().map(move |(from, to)| (*from, *to, drawn));
        let bars = |spans: Vec<(Instant, Instant, Swatch)>| -> Vec<Bar> {
            joined(spans, &self.axis)
                .into_iter()
                .map(|(from, to, drawn)| Bar::over(&self.axis, from, to, drawn))
                .collect()
        };
        let stretches = &self.day.differences.stretches;
        let mut rows: Vec<Row> = Vec::new();
        for subject in &self.sides.subjects {
            let differ = stretches.iter().filter(|stretch| stretch.aspect == subject.name);
            let differ = differ.map(|stretch| (stretch.span.0, stretch.span.1, DIFFER)).collect();
            let mut all = bars(lines_in(Swatch::Outlined(Ink::Rule)).collect());
            all.extend(bars(differ));
            rows.push(Row { label: subject.name.clone(), bars: all, span: None });
        }
        let mut key = vec![(DIFFER, "they differ".to_owned()), (Swatch::Outlined(Ink::Rule), "the same".to_owned())];
        if let Some(Ok(units)) = &self.day.contest {
            let mut rods: Vec<&Option<String>> = units.iter().map(|unit| &unit.rod).collect();
            rods.sort();
            rods.dedup();
            for rod in rods {
                let own = units.iter().filter(|unit| unit.rod == *rod);
                let spans = own.map(|unit| (unit.span.0, unit.span.1, if unit.arm == Arm::A { A } else { B }));
                let label = rod.as_ref().map_or_else(|| "by lot".to_owned(), |rod| format!("lot: {rod}"));
                let bars = spans.map(|(from, to, drawn)| Bar::over(&self.axis, from, to, drawn)).collect();
                rows.push(Row { label, bars, span: None });
            }
            key.extend([(A, "A's by lot".to_owned()), (B, "B's by lot".to_owned())]);
        }
        let id = self.id("differences");
        let picture = Rows {
            id: &id,
            title: "Where they differ through the day",
            description: "A strip for each aspect that both decide, dark where they call otherwise; the stretches stand in the table below.",
            across: Across::Time(&self.axis),
            line_at: None,
            rows,
            key,
        };
        picture.figure()
    }

    fn stretches(&self) -> Markup {
        let all = &self.day.differences.stretches;
        let mut longest: Vec<&Stretch> = all.iter().collect();
        longest.sort_by_key(|stretch| std::cmp::Reverse(stretch.span.1.since(stretch.span.0)));
        longest.truncate(MOST_STRETCHES);
        longest.sort_by_key(|stretch| stretch.span.0);
        let called = |side: &CalledBy| format!("{}: {}", side.printed, by(side.by.as_ref()));
        let rows: Vec<Vec<String>> = longest
            .iter()
            .map(|stretch| {
                let tipped: Vec<String> = stretch.tipped.iter().map(changed_by).collect();
                vec![
                    format!("{} to {}", clock(&stretch.from), clock(&stretch.to)),
                    stretch.aspect.clone(),
                    called(&stretch.a),
                    called(&stretch.b),
                    tipped.join("; "),
                ]
            })
            .collect();
        html! {
            @if rows.is_empty() { p { "They call the same all day." } }
            @else { (stacked_table(&["time", "aspect", "A", "B", "what tipped"], &rows)) }
            @if all.len() > rows.len() { p.soft { "The longest " (rows.len()) " of " (all.len()) " stretches; `--json` has more." } }
        }
    }

    fn readings(&self) -> Markup {
        let mut alone: Vec<String> = Vec::new();
        let mut plots: Vec<Markup> = Vec::new();
        for trace in &self.traces.readings {
            let entry = trace.known.entry();
            let small = trace.known == Known::Waves;
            let Some(unit) = self.system.unit(entry.kind, small) else { continue };
            let (stretches, points) = self.shown(trace, unit);
            match points.as_slice() {
                [] => {}
                [(at, counts)] => {
                    let value = print::with_unit(&print::number(*counts, unit, entry.kind, unit.places), unit.symbol);
                    alone.push(format!("{} {value} ({})", entry.name, self.clock(*at)));
                }
                _ => plots.push(self.reading(trace.known, unit, stretches, &points)),
            }
        }
        html! {
            h3 { "What was read" }
            @if plots.is_empty() && alone.is_empty() { p { "The log has no readings." } }
            @for plot in &plots { (plot) }
            @if !alone.is_empty() { p { "Read once: " (alone.join(", ")) "." } }
        }
    }

    /// A reading as it stood while lines were in: from the last value before they went in.
    fn shown(&self, trace: &Trace, unit: &Unit) -> (Vec<Vec<(Instant, f64)>>, Vec<(Instant, i64)>) {
        let kind = trace.known.entry().kind;
        let (mut stretches, mut points) = (Vec::new(), Vec::new());
        for stretch in &trace.stretches {
            let before = stretch.partition_point(|(at, _)| *at <= self.axis.from).saturating_sub(1);
            let after = stretch.partition_point(|(at, _)| *at <= self.axis.to);
            let inside = stretch.get(before..after).unwrap_or_default();
            // One that was read only before lines went in is told by its own time.
            points.extend(inside.iter().copied());
            let line = inside.iter().map(|(at, counts)| ((*at).max(self.axis.from), unrounded(*counts, unit, kind)));
            stretches.push(line.collect());
        }
        (stretches, points)
    }

    fn reading(
        &self,
        known: Known,
        unit: &Unit,
        stretches: Vec<Vec<(Instant, f64)>>,
        points: &[(Instant, i64)],
    ) -> Markup {
        let entry = known.entry();
        let name = entry.name.replace('_', " ");
        let title = format!("{}, {}", capital(&name), unit.symbol);
        let (id, description) =
            (self.id(entry.name), format!("{} through the day, as the log has it.", capital(entry.help)));
        let mut plot = self.plot(&id, &title, &description);
        plot.downwards = matches!(known, Known::Bottom | Known::MarkDepth | Known::StrikeDepth);
        plot.from_zero = plot.downwards || matches!(known, Known::Wind | Known::Waves | Known::Cloud);
        if points.len() <= FEW {
            let at = stretches.iter().flatten();
            plot.marks =
                at.map(|(at, value)| Mark { at: *at, value: *value, form: Form::Dot, ink: Ink::Third }).collect();
        }
        plot.lines = vec![Line { name, stretches, ink: Ink::Third }];
        plot.figure()
    }
}

/// A range aspect, and how its values are drawn.
struct Measure<'a> {
    id: AspectId,
    aspect: &'a Aspect,
    kind: Kind,
    unit: &'static Unit,
}

impl Measure<'_> {
    fn of(&self, counts: i64) -> f64 {
        unrounded(counts, self.unit, self.kind)
    }
}

const STRIKE: Form = Form::Cross;
/// Around a cross it is a strike whose fish came in.
const LANDED: Form = Form::Ring;
const DIFFER: Swatch = Swatch::Block(Ink::Text);

/// Stretches that touch, or that nobody could tell apart, as one.
fn joined(spans: Vec<(Instant, Instant, Swatch)>, axis: &Axis) -> Vec<(Instant, Instant, Swatch)> {
    let least = axis.to.since(axis.from) / 400;
    let mut joined: Vec<(Instant, Instant, Swatch)> = Vec::new();
    for (from, to, drawn) in spans {
        match joined.last_mut().filter(|(_, last, of)| *of == drawn && from.since(*last) < least) {
            Some((_, last, _)) => *last = to.max(*last),
            None => joined.push((from, to, drawn)),
        }
    }
    joined
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
