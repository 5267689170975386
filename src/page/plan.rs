//! The page of a plan: what stands in the way, the day as plots, the calls hour by hour.

use maud::{Markup, html};

use super::frame::{caution, list, page, section, table};
use super::plot::{Axis, Band, Ink, Line, Plot, Shade};
use crate::advice::quantity::Value;
use crate::advice::text::{by_name, by_place};
use crate::advice::{AspectAdvice, By, LakeAdvice};
use crate::plan::text::{headline, hours, rung_line, strongest, sun, when};
use crate::plan::{Call, CautionPlan, Plan, Planned, StandingPlan};
use crate::tackle::settings::Settings;
use crate::vocabulary::time::Instant;

/// The page of a plan.
pub fn plan_page(planned: &Planned) -> String {
    let plan = &planned.plan;
    let body = html! {
        h1 { (plan.strategy) }
        p { (headline(plan)) }
        p.soft { (sun(plan)) }
        (cautions(plan))
        (not_known(plan))
        (section("The day", &plots(planned)))
        (section("Hour by hour", &html! { @for call in &plan.calls { (a_call(call, plan)) } }))
        @for ladder in &plan.ladders {
            (section(&format!("If they will not come: {}", ladder.title.as_deref().unwrap_or(&ladder.name)), &html! {
                ol { @for rung in &ladder.rungs { li { (rung_line(rung)) } } }
                (list(&ladder.moves))
            }))
        }
        (section("Assumed", &list(&plan.assumptions)))
        @if let Some(source) = plan.forecast.as_ref().and_then(|forecast| forecast.source.as_ref()) {
            p.soft { "Forecast: " (source) "." }
        }
        (lake(plan.lake.as_ref()))
        (on_the_water(&plan.standing_cautions))
    };
    page(&format!("{}, {}", plan.strategy, plan.date), &body)
}

fn cautions(plan: &Plan) -> Markup {
    html! {
        @for standing in plan.standing_cautions.iter().filter(|standing| standing.caution.reached) {
            (caution(&html! { strong { (when(&standing.reached_in, plan)) ": " } (standing.caution.text) }))
        }
        @for said in &plan.cautions {
            (caution(&html! { strong { (when(&said.hours, plan)) ": " } (said.said.text) " " small { (by_name(&said.said.by)) } }))
        }
        @for open in &plan.not_ruled_out {
            p { strong { (when(&open.hours, plan)) ", not ruled out: " } (open.open.texts.join("; ")) " " small { (by_name(&open.open.by)) } }
        }
        @let strongest = strongest(plan);
        @if !strongest.is_empty() { p { strong { "Strongest wind, highest waves: " } (strongest.join("; ")) } }
    }
}

fn not_known(plan: &Plan) -> Markup {
    let (matter, others): (Vec<_>, Vec<_>) = plan.not_known.iter().partition(|one| one.could_change);
    let body = html! {
        ul {
            @for one in matter {
                li {
                    strong { (one.reading) } ", " (when(&one.hours, plan)) ": for "
                    (one.asked_by.iter().map(by_name).collect::<Vec<_>>().join(", "))
                    @if let Some(needs) = &one.needs { br; small { "needs " (needs) } }
                }
            }
            @if !others.is_empty() {
                li { "would change no call: " (others.iter().map(|one| one.reading.as_str()).collect::<Vec<_>>().join(", ")) }
            }
        }
    };
    if plan.not_known.is_empty() {
        html! {}
    } else {
        section("Not known: measure it on the water", &body)
    }
}

fn plots(planned: &Planned) -> Markup {
    let (Some(first), Some(last)) = (planned.hours.first(), planned.hours.last()) else { return html! {} };
    let axis = Axis { from: first.from, to: last.to, zone: planned.zone.clone() };
    let sun = |name: &str| planned.sun.iter().find(|(of, _)| of == name).map(|(_, at)| *at);
    let mut night = Vec::new();
    night.extend(sun("sunrise").filter(|at| *at > axis.from).map(|to| Shade { from: axis.from, to }));
    night.extend(sun("sunset").filter(|at| *at < axis.to).map(|from| Shade { from, to: axis.to }));
    let shaded = !night.is_empty();
    let called = |aspect: &str| bands(planned, aspect);
    let mut plots: Vec<Markup> = Vec::new();
    for (aspect, title, downwards) in [("depth", "Depth called", true), ("speed", "Speed called", false)] {
        let (bands, unit) = called(aspect);
        if let Some(unit) = unit {
            let title = format!("{title}, {unit}");
            let mut plot = Plot::new(
                aspect,
                &title,
                "The called range over the hours of the day; a gap is lines up, or no value.",
                &axis,
            );
            plot.downwards = downwards;
            plot.from_zero = downwards;
            plot.shades.clone_from(&night);
            plot.bands = bands;
            plots.push(plot.figure());
        }
    }
    for (name, title) in [("wind", "Wind"), ("waves", "Waves"), ("cloud", "Clouds"), ("air", "Air")] {
        let Some(Course { stretches, unit, estimated }) = course(planned, name) else { continue };
        let estimated = if estimated { " (estimated)" } else { "" };
        let title = format!("{title}{estimated}, {unit}");
        let mut plot = Plot::new(name, &title, "What is expected over the hours of the day.", &axis);
        plot.from_zero = name != "air";
        plot.shades.clone_from(&night);
        plot.lines = vec![Line { name: name.to_owned(), stretches, ink: Ink::First }];
        plots.push(plot.figure());
    }
    html! {
        @for plot in &plots { (plot) }
        @if shaded { p.soft { "Shaded: the sun is not up." } }
    }
}

/// The called ranges of an aspect, and their unit.
fn bands(planned: &Planned, aspect: &str) -> (Vec<Band>, Option<&'static str>) {
    let mut unit = None;
    let calls = planned.calls.iter().zip(&planned.plan.calls);
    let bands = calls.filter_map(|(span, call)| {
        let value = call.tactic.iter().find(|one| one.name == aspect)?.value.as_ref()?;
        let Value::Range(low, high, of) = value else { return None };
        unit = Some(*of);
        Some(Band { from: span.from, to: span.to, low: *low, high: *high, ink: Ink::First, filled: true })
    });
    (bands.collect(), unit)
}

/// A reading hour by hour.
struct Course {
    /// Stretches of steps, parted where it is not known.
    stretches: Vec<Vec<(Instant, f64)>>,
    unit: &'static str,
    estimated: bool,
}

/// A reading hour by hour; none where it is known at no hour.
fn course(planned: &Planned, name: &str) -> Option<Course> {
    let mut course: Option<Course> = None;
    let mut gap = true;
    for (span, hour) in planned.hours.iter().zip(&planned.plan.hours) {
        let reading = hour.readings.iter().find(|reading| reading.name == name);
        let value = reading.and_then(|reading| reading.value.as_ref());
        let (Some(reading), Some(Value::Quantity(value, unit))) = (reading, value) else {
            gap = true;
            continue;
        };
        let course = course.get_or_insert(Course { stretches: Vec::new(), unit, estimated: false });
        course.estimated |= reading.origin == "estimated";
        if std::mem::take(&mut gap) {
            course.stretches.push(Vec::new());
        }
        course.stretches.iter_mut().next_back().into_iter().for_each(|stretch| {
            stretch.extend([(span.from, *value), (span.to, *value)]);
        });
    }
    course
}

fn a_call(call: &Call, plan: &Plan) -> Markup {
    html! {
        div.call {
            h3 { (hours(&call.hours)) }
            @for standing in call.standing_cautions.iter().filter(|standing| !plan.reached_all_day(standing.caution.about)) {
                (caution(&html! { (standing.caution.text) }))
            }
            @for said in call.cautions.iter().filter(|said| !all_day(said, plan)) { (caution(&html! { (said.said.text) })) }
            @if call.lines_up.is_empty() {
                dl { @for aspect in &call.tactic { dt { (aspect.name) } dd { (value(aspect)) } } }
                (why(call))
                @if let Some(rods) = &call.rods { (settings(rods)) }
                @if let Some(why) = &call.why_no_rods { p.soft { "Rods: " (why) } }
            } @else {
                p.up { "Lines up" }
                @for said in &call.lines_up { p { (said.text) " " small { (by_place(&said.by)) } } }
            }
        }
    }
}

/// Whether a caution is given all day, and so said on top.
fn all_day(said: &CautionPlan, plan: &Plan) -> bool {
    plan.cautions.iter().any(|whole| whole.said == said.said && plan.is_all_day(&whole.hours))
}

fn value(aspect: &AspectAdvice) -> Markup {
    html! {
        @match (&aspect.printed, &aspect.why_none) {
            (Some(printed), _) => { (printed) @if !aspect.estimated.is_empty() { " " small { "(estimated)" } } },
            (None, why) => { "- " @if let Some(why) = why { small { (why) } } },
        }
    }
}

fn why(call: &Call) -> Markup {
    let mut by: Vec<(&By, Vec<&str>)> = Vec::new();
    for aspect in &call.tactic {
        let Some(of) = &aspect.by else { continue };
        match by.iter_mut().find(|(other, _)| *other == of) {
            Some((_, names)) => names.push(&aspect.name),
            None => by.push((of, vec![&aspect.name])),
        }
    }
    html! {
        @for (by, names) in by {
            p.soft { (names.join(", ")) ": " (by_name(by)) @if let Some(because) = &by.because { ". " (because) } }
        }
        @for aspect in &call.tactic {
            @for shift in &aspect.shifts { p.soft { (shift.text) ": " (by_name(&shift.by)) } }
            @for limit in &aspect.limits {
                @if let Some(by) = &limit.by { p.soft { (aspect.name) " " (limit.text) ": " (by_name(by)) } }
            }
        }
    }
}

fn settings(rods: &Settings) -> Markup {
    // A number stays with its unit on a narrow page.
    let row = |[rod, on, numbers @ ..]: [String; 5]| -> Vec<String> {
        [rod, on].into_iter().chain(numbers.map(|number| number.replace(' ', "\u{a0}"))).collect()
    };
    let rows: Vec<Vec<String>> = rods.rows().into_iter().map(row).collect();
    html! {
        (table(&["rod", "what is on it", "out", "depth", "behind"], &rows))
        @for given in &rods.given_up { p.soft { "Given up: " (given) } }
    }
}

/// What the lake allows.
pub(super) fn lake(lake: Option<&LakeAdvice>) -> Markup {
    let Some(lake) = lake else { return html! {} };
    let checked = lake.checked.as_deref().map_or_else(|| "not dated".to_owned(), |date| format!("checked {date}"));
    let body = html! {
        (list(&lake.rules))
        @if let Some(source) = &lake.source { p.soft { "Source: " (source) } }
    };
    section(&format!("{} ({checked})", lake.name), &body)
}

/// The standing cautions whose figures are not reached, and where all figures come from.
pub(super) fn on_the_water(standing: &[StandingPlan]) -> Markup {
    let cautions = standing.iter().map(|standing| &standing.caution);
    let mut sources: Vec<String> = Vec::new();
    for caution in cautions.clone().filter(|caution| caution.limit.is_some()) {
        let source = format!("{} ({})", caution.source, caution.date);
        if !sources.contains(&source) {
            sources.push(source);
        }
    }
    let body = html! {
        ul { @for caution in cautions.filter(|caution| !caution.reached) { li { (caution.text) } } }
        @if !sources.is_empty() { p.soft { "Figures: " (sources.join("; ")) } }
    };
    section("On the water", &body)
}
