//! A plan in words: first what stands in the way, then what is not known, then the day from dawn to dusk.
//!
//! Made to be read at arm's length on a small terminal, and to be taken along on paper.

use super::ahead::Hours;
use super::{Call, LadderPlan, Plan, RungPlan};
use crate::advice::readings::BesideReading;
use crate::advice::text::{Layout, Page, by_name, by_place};
use crate::advice::{By, LakeAdvice};
use crate::vocabulary::print::System;

/// Says a plan in words.
pub fn tell(plan: &Plan, system: System, layout: Layout) -> String {
    let mut page = Page::new(layout);
    page.paragraph("", "", &plan.strategy);
    page.paragraph("", "", &headline(plan));
    page.paragraph("", "", &sun(plan));
    cautions(&mut page, plan);
    not_known(&mut page, plan);
    page.title("THE DAY");
    let mut told = Told { rules: Vec::new(), calls: Vec::new() };
    for call in &plan.calls {
        stretch(&mut page, call, plan, system, &mut told);
    }
    for ladder in &plan.ladders {
        fall_back(&mut page, ladder);
    }
    page.title("ASSUMED");
    for assumption in &plan.assumptions {
        page.paragraph("  ", "    ", assumption);
    }
    if let Some(forecast) = plan.forecast.as_ref().and_then(|forecast| forecast.source.as_ref()) {
        page.paragraph("  ", "    ", &format!("Forecast: {forecast}."));
    }
    page.lake(plan.lake.as_ref());
    page.standing(plan.standing_cautions.iter().map(|standing| &standing.caution));
    page.text
}

/// What was told before, and need not be told again at length.
struct Told<'p> {
    rules: Vec<By>,
    calls: Vec<&'p Call>,
}

/// The water, the day and its hours: `Ossel Water, Friday 15 May 2026, 04:38 to 20:33`.
pub fn headline(plan: &Plan) -> String {
    day(plan.lake.as_ref(), &plan.date, &plan.hours_planned)
}

/// A day on a water.
pub(super) fn day(lake: Option<&LakeAdvice>, date: &str, planned: &Hours) -> String {
    let water = lake.map(|lake| format!("{}, ", lake.name)).unwrap_or_default();
    let date = match date.parse::<jiff::civil::Date>() {
        Ok(date) => date.strftime("%A %-d %B %Y").to_string(),
        Err(_) => date.to_owned(),
    };
    format!("{water}{date}, {}", hours(planned))
}

/// `06:00 to 09:00`.
pub fn hours(hours: &Hours) -> String {
    format!("{} to {}", time(&hours.from), time(&hours.to))
}

/// Several stretches: `06:00 to 09:00, 12:00 to 14:00`; `all day` where they are the whole of the plan.
pub fn when(list: &[Hours], plan: &Plan) -> String {
    match list {
        list if plan.is_all_day(list) => "all day".to_owned(),
        list => list.iter().map(hours).collect::<Vec<_>>().join(", "),
    }
}

/// The time of day of a time as it is told.
fn time(told: &str) -> String {
    told.get(11..16).unwrap_or(told).to_owned()
}

/// The sun's day in one line.
pub fn sun(plan: &Plan) -> String {
    let one = |one: &BesideReading| match &one.time {
        Some(at) => format!("{} {}", one.name, time(at)),
        None => format!("no {} ({})", one.name, one.note.trim_start_matches("none: ")),
    };
    plan.sun.iter().map(one).collect::<Vec<_>>().join(", ")
}

fn cautions(page: &mut Page, plan: &Plan) {
    let reached = plan.standing_cautions.iter().filter(|standing| standing.caution.reached);
    let reached: Vec<_> = reached.collect();
    if !reached.is_empty() || !plan.cautions.is_empty() {
        page.title("CAUTION");
    }
    for standing in reached {
        page.paragraph("! ", "  ", &format!("{}: {}", when(&standing.reached_in, plan), standing.caution.text));
    }
    for caution in &plan.cautions {
        page.paragraph("! ", "  ", &format!("{}: {}", when(&caution.hours, plan), caution.said.text));
        page.paragraph("    ", "    ", &by_place(&caution.said.by));
    }
    if !plan.strongest.is_empty() {
        page.title("STRONGEST WIND, HIGHEST WAVES");
    }
    for line in strongest(plan) {
        page.paragraph("  ", "    ", &line);
    }
    if !plan.not_ruled_out.is_empty() {
        page.title("NOT RULED OUT");
    }
    for one in &plan.not_ruled_out {
        let texts = one.open.texts.join("; ");
        page.paragraph("? ", "  ", &format!("{}: {texts} ({})", when(&one.hours, plan), by_name(&one.open.by)));
    }
}

/// The strongest wind and the highest waves, a line each.
pub fn strongest(plan: &Plan) -> Vec<String> {
    let line = |strongest: &super::Strongest| {
        let printed = strongest.reading.printed.as_deref().unwrap_or("-");
        let estimated = if strongest.reading.origin == "estimated" { " (estimated)" } else { "" };
        format!("{} {printed}{estimated}, {}", strongest.reading.name, hours(&strongest.hours))
    };
    plan.strongest.iter().map(line).collect()
}

fn not_known(page: &mut Page, plan: &Plan) {
    let (matter, others): (Vec<_>, Vec<_>) = plan.not_known.iter().partition(|one| one.could_change);
    if matter.is_empty() && others.is_empty() {
        return;
    }
    page.title("NOT KNOWN: MEASURE IT ON THE WATER");
    for one in matter {
        let by: Vec<String> = one.asked_by.iter().map(by_name).collect();
        page.paragraph("? ", "  ", &format!("{}, {}: for {}", one.reading, when(&one.hours, plan), by.join(", ")));
        if let Some(needs) = one.needs.as_ref().filter(|needs| *needs != "to be given" && !needs.is_empty()) {
            page.paragraph("    needs ", "      ", needs);
        }
    }
    if !others.is_empty() {
        let names: Vec<&str> = others.iter().map(|one| one.reading.as_str()).collect();
        page.paragraph("  ", "    ", &format!("not known, but it would change no call: {}", names.join(", ")));
    }
}

fn stretch<'p>(page: &mut Page, call: &'p Call, plan: &Plan, system: System, told: &mut Told<'p>) {
    page.title(&hours(&call.hours));
    // What stands all day is said on top.
    let all_day = |hours: &[Hours]| plan.is_all_day(hours);
    for standing in call.standing_cautions.iter().filter(|standing| !plan.reached_all_day(standing.caution.about)) {
        page.paragraph("! ", "  ", &format!("{}: {}", of_call(&standing.reached_in, call), standing.caution.text));
    }
    for caution in &call.cautions {
        if !plan.cautions.iter().any(|whole| whole.said == caution.said && all_day(&whole.hours)) {
            page.paragraph("! ", "  ", &format!("{}: {}", of_call(&caution.hours, call), by_name(&caution.said.by)));
        }
    }
    for one in &call.not_ruled_out {
        if !plan.not_ruled_out.iter().any(|whole| whole.open == one.open && all_day(&whole.hours)) {
            let what = if one.open.stops { "lines up is not ruled out" } else { "not ruled out" };
            page.paragraph("? ", "  ", &format!("{}: {what}: {}", of_call(&one.hours, call), by_name(&one.open.by)));
        }
    }
    page.call(&call.lines_up, &call.tactic);
    if call.lines_up.is_empty() {
        why(page, call, &mut told.rules);
        rods(page, call, &told.calls, system);
        told.calls.push(call);
    }
}

/// Stretches within a call; `all through` where they are all of it.
fn of_call(list: &[Hours], call: &Call) -> String {
    match list {
        [one] if *one == call.hours => "all through".to_owned(),
        list => list.iter().map(hours).collect::<Vec<_>>().join(", "),
    }
}

/// Who decided what: with its place and reason where it comes up first, afterwards by name.
fn why(page: &mut Page, call: &Call, told: &mut Vec<By>) {
    let mut here: Vec<&By> = Vec::new();
    for by in call.tactic.iter().filter_map(|aspect| aspect.by.as_ref()) {
        if here.contains(&by) {
            continue;
        }
        here.push(by);
        let names: Vec<&str> = call
            .tactic
            .iter()
            .filter(|aspect| aspect.by.as_ref() == Some(by))
            .map(|aspect| aspect.name.as_str())
            .collect();
        let again = told.contains(by);
        let who = if again { by_name(by) } else { by_place(by) };
        page.paragraph("  ", "    ", &format!("{}: {who}", names.join(", ")));
        if let Some(because) = by.because.as_ref().filter(|_| !again) {
            page.paragraph("    ", "    ", because);
        }
        if !again {
            told.push(by.clone());
        }
    }
    for aspect in &call.tactic {
        for shift in &aspect.shifts {
            page.paragraph("  ", "    ", &format!("{}: {}", shift.text, by_name(&shift.by)));
        }
        for limit in &aspect.limits {
            let by = limit.by.as_ref().map_or_else(|| "nothing runs below zero".to_owned(), by_name);
            page.paragraph("  ", "    ", &format!("{} {}: {by}", aspect.name, limit.text));
        }
    }
}

fn rods(page: &mut Page, call: &Call, before: &[&Call], system: System) {
    if let Some(why) = &call.why_no_rods {
        page.paragraph("  ", "    ", &format!("rods: {why}"));
    }
    let Some(rods) = &call.rods else { return };
    if let Some(same) = before.iter().find(|before| before.rods.as_ref() == Some(rods)) {
        page.line(&format!("  rods: as at {}", time(&same.hours.from)));
        return;
    }
    for line in rods.table(system).lines().filter(|line| !line.is_empty()) {
        // The rows stand as they are; what is said below them is as long as it is.
        if line.starts_with("  ") { page.line(line) } else { page.paragraph("  ", "    ", line) }
    }
    for given in &rods.given_up {
        page.paragraph("  ", "    ", &format!("given up: {given}"));
    }
}

fn fall_back(page: &mut Page, ladder: &LadderPlan) {
    let title = ladder.title.as_ref().map(|title| format!(": {title}")).unwrap_or_default();
    page.title(&format!("IF THEY WILL NOT COME ({}{title})", ladder.name));
    for (number, rung) in ladder.rungs.iter().enumerate() {
        page.paragraph("  ", "     ", &format!("{} {}", number + 1, rung_line(rung)));
    }
    for one in &ladder.moves {
        page.paragraph("  ", "    ", one);
    }
}

/// A rung in one line: `brisk: speed 2.6 to 3.6 mph, lure spoon`.
pub fn rung_line(rung: &RungPlan) -> String {
    let aspect = |aspect: &super::RungAspect| Some(format!("{} {}", aspect.name, aspect.printed.as_ref()?));
    let tactic: Vec<String> = rung.tactic.iter().filter_map(aspect).collect();
    let door = match (&rung.only_if, rung.open) {
        (None, _) | (_, Some(true)) => String::new(),
        (Some(door), Some(false)) => format!(" (closed: only if {door})"),
        (Some(door), None) => format!(" (only if {door}, which is not known)"),
    };
    format!("{}: {}{door}", rung.name, tactic.join(", "))
}
