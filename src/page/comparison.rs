//! The page of a comparison: what it can prove first, then the rates, where two strategies differ, and each day as
//! pictures of what was read, called, run and caught.
//!
//! A is filled and B is outlined wherever both are drawn, and a letter says it too; no colour says who was better.

use maud::{Markup, html};

use super::day_pictures;
use super::frame::{list, page, section, stacked_table, table};
use super::plot::key::{Swatch, swatch};
use super::plot::rows::{Across, Bar, Row, Rows, Span};
use super::plot::{Form, Ink};
use crate::compare::contest::{ArmSaid, ContestSaid};
use crate::compare::tested::{CellSaid, Contrast, LightRow, Rate};
use crate::compare::text::{by, contrast, rate, share, side_name, what_was_compared, within};
use crate::compare::words::{figure, p_value};
use crate::compare::{AgreementSaid, Comparison, Day, Sides};

/// How A and B are drawn wherever both are.
pub(super) const A: Swatch = Swatch::Filled(Ink::First);
pub(super) const B: Swatch = Swatch::Outlined(Ink::Second);

/// The page of a comparison, with pictures of the days that were kept.
pub fn comparison_page(comparison: &Comparison, sides: &Sides, days: &[Day]) -> String {
    let body = html! {
        h1 { "Two strategies on the same days" }
        p { (swatch(A)) " " strong { "A" } " " (side_name(&comparison.a)) }
        p { (swatch(B)) " " strong { "B" } " " (side_name(&comparison.b)) }
        p.soft { (what_was_compared(comparison)) }
        (section("What that can prove", &html! { div.first { (list(&comparison.proof)) } }))
        (section("What the fish said", &fish(comparison)))
        @if let Some(contest) = &comparison.contest { (section("The contest", &of_the_contest(contest))) }
        @if comparison.by_light.len() > 1 {
            (section("The whole tactic by light", &by_light(&comparison.by_light)))
        }
        (section("Where they differ", &differences(comparison)))
        @for (number, day) in (1..).zip(days) { (day_pictures::day(number, day, sides)) }
        @if comparison.days > days.len() as u64 {
            p.soft { "Pictures of the first " (days.len()) " days of " (comparison.days) "." }
        }
        (section("How it was computed", &list(&comparison.method)))
        @if comparison.skipped_count > 0 { (section("Not compared", &skipped(comparison))) }
        (section("On the water", &html! {
            p { "This is advice on fishing, not on seamanship. Local rules, licences and the skipper's judgement come first." }
        }))
    };
    page(&format!("A {}, B {}", comparison.a.strategy, comparison.b.strategy), &body)
}

fn fish(comparison: &Comparison) -> Markup {
    let all: Vec<Span> =
        comparison.fish.iter().flat_map(|split| fished(&split.cells)).map(|cell| span(&cell.strikes)).collect();
    let across = Across::of(&all);
    let ratios: Vec<(String, &Contrast)> =
        comparison.fish.iter().map(|split| (aspect_name(split.aspect.as_deref()), &split.strikes)).collect();
    html! {
        p {
            "Strikes an hour of rod time, by whose call a rod ran within. The mark is the rate, the line its interval at 95 %; an "
            "arrow goes on past the edge, and a line without a mark had no strike."
        }
        @for (number, split) in comparison.fish.iter().enumerate() {
            @let name = aspect_name(split.aspect.as_deref());
            h3 { (name) }
            (rates(&format!("rates-{number}"), &format!("Strikes a rod-hour: {name}"), &split.cells, &across))
            @for (what, of) in [("strikes", &split.strikes), ("fish", &split.landed)] {
                @if of.p.is_some() { p { "A alone over B alone, " (what) ": " (contrast(of)) } }
            }
        }
        h3 { "A alone over B alone" }
        (of_ratios("ratios", "Strikes of A alone over those of B alone", &ratios))
    }
}

/// The cells that anything is known of.
fn fished(cells: &[CellSaid]) -> impl Iterator<Item = &CellSaid> {
    cells.iter().filter(|cell| cell.rod_hours > 0.0 || cell.strikes.count > 0)
}

/// Rates as a picture, and beside it as a table.
fn rates(id: &str, title: &str, cells: &[CellSaid], across: &Across<'_>) -> Markup {
    let rows = fished(cells).filter(|cell| cell.strikes.per_hour.is_some()).map(|cell| {
        let (form, ink) = form_of(cell.within);
        Row { label: within(cell.within).to_owned(), bars: Vec::new(), span: Some((span(&cell.strikes), form, ink)) }
    });
    let picture = Rows {
        id,
        title,
        description: "A rate with its interval for each; the numbers stand in the table beside it.",
        across: across.clone(),
        line_at: None,
        rows: rows.collect(),
        key: Vec::new(),
    };
    let numbers = fished(cells).map(|cell| {
        let count = |count: u64| count.to_string();
        vec![
            within(cell.within).to_owned(),
            figure(cell.rod_hours),
            count(cell.strikes.count),
            rate(&cell.strikes),
            count(cell.landed.count),
        ]
    });
    html! {
        div.pair {
            (picture.figure())
            (table(&["within", "rod-hours", "strikes", "an hour (95 %)", "fish"], &numbers.collect::<Vec<_>>()))
        }
    }
}

/// Filled is A, empty is B; what is both or neither has no colour.
fn form_of(within: &str) -> (Form, Ink) {
    match within {
        "only_a" => (Form::Disc, Ink::First),
        "only_b" => (Form::Ring, Ink::Second),
        "both" => (Form::Disc, Ink::Text),
        "neither" => (Form::Ring, Ink::Text),
        _ => (Form::Cross, Ink::Text),
    }
}

/// Ratios with their intervals around 1.
fn of_ratios(id: &str, title: &str, ratios: &[(String, &Contrast)]) -> Markup {
    let spans: Vec<(&str, Span)> = ratios
        .iter()
        .filter_map(|(name, ratio)| {
            ratio.low?;
            Some((name.as_str(), Span { low: ratio.low, value: ratio.ratio, high: ratio.high }))
        })
        .collect();
    if spans.is_empty() {
        return html! { p.soft { "There is no ratio to draw: one of the two had no rod time to itself, or neither a strike." } };
    }
    let across = Across::of_ratios(&spans.iter().map(|(_, span)| *span).collect::<Vec<_>>());
    let rows = spans.iter().map(|(name, span)| Row {
        label: (*name).to_owned(),
        bars: Vec::new(),
        span: Some((*span, Form::Disc, Ink::Text)),
    });
    let picture = Rows {
        id,
        title,
        description: "A ratio with its interval at 95 % for each; the line stands at 1, which is no difference.",
        across,
        line_at: Some(1.0),
        rows: rows.collect(),
        key: Vec::new(),
    };
    html! {
        (picture.figure())
        p.soft { "The line stands at 1, which is no difference. An interval across it can't tell the two apart." }
    }
}

fn span(rate: &Rate) -> Span {
    Span { low: rate.low, value: rate.per_hour, high: rate.high }
}

fn aspect_name(aspect: Option<&str>) -> String {
    aspect.unwrap_or("whole tactic").to_owned()
}

fn of_the_contest(contest: &ContestSaid) -> Markup {
    let arms = [("A's units", &contest.a, "only_a"), ("B's units", &contest.b, "only_b")];
    let across = Across::of(&arms.map(|(_, arm, _)| span(&arm.strikes)));
    let rows = arms.iter().filter(|(_, arm, _)| arm.strikes.per_hour.is_some()).map(|(name, arm, within)| {
        let (form, ink) = form_of(within);
        Row { label: (*name).to_owned(), bars: Vec::new(), span: Some((span(&arm.strikes), form, ink)) }
    });
    let picture = Rows {
        id: "contest",
        title: "Strikes a rod-hour: the contest",
        description: "A rate with its interval for A's units and for B's; the numbers stand in the table beside it.",
        across,
        line_at: None,
        rows: rows.collect(),
        key: Vec::new(),
    };
    let number = |name: &str, of: &dyn Fn(&ArmSaid) -> String| vec![name.to_owned(), of(&contest.a), of(&contest.b)];
    let followed =
        |arm: &ArmSaid| arm.followed.map_or_else(|| "-".to_owned(), |share| format!("{:.0} %", share * 100.0));
    let numbers = [
        number("units", &|arm| arm.units.to_string()),
        number("rod-hours", &|arm| figure(arm.rod_hours)),
        number("within its call", &followed),
        number("strikes", &|arm| arm.strikes.count.to_string()),
        number("an hour (95 %)", &|arm| rate(&arm.strikes)),
        number("fish", &|arm| arm.landed.count.to_string()),
    ];
    html! {
        @if contest.days > 0 {
            div.pair { (picture.figure()) (table(&["", "A's units", "B's units"], &numbers)) }
            p { "A's units over B's, strikes: " (contrast(&contest.ratio)) }
            @if let Some(lot) = &contest.lot {
                p { "By the lot: p " (p_value(lot.p)) "; the smallest that these units and strikes could have given is " (p_value(lot.smallest)) "." }
            }
            p { "However often it was looked at: p " (p_value(contest.evidence.p)) "." }
        }
        @for day in &contest.left_out { p.soft { (day.log) " is no part of the contest: " (day.why) "." } }
    }
}

fn by_light(rows: &[LightRow]) -> Markup {
    let all: Vec<Span> = rows.iter().flat_map(|row| fished(&row.cells)).map(|cell| span(&cell.strikes)).collect();
    let across = Across::of(&all);
    html! {
        @for row in rows {
            h3 { (row.light) }
            (rates(&format!("light-{}", row.light), &format!("Strikes a rod-hour: {}", row.light), &row.cells, &across))
        }
    }
}

fn differences(comparison: &Comparison) -> Markup {
    let found = &comparison.differences;
    let all = || {
        let whole = ("whole tactic", &found.whole);
        std::iter::once(whole).chain(found.aspects.iter().map(|aspect| (aspect.aspect.as_str(), &aspect.time)))
    };
    let rows = all().map(|(name, time)| Row { label: name.to_owned(), bars: agreement_bars(time), span: None });
    let picture = Rows {
        id: "agreement",
        title: "Time that they call the same, %",
        description: "A bar for the whole tactic and for each aspect; the hours stand in the table beside it.",
        across: Across::Linear(100.0),
        line_at: None,
        rows: rows.collect(),
        key: vec![(SAME, "the same".to_owned()), (OTHERWISE, "otherwise".to_owned())],
    };
    let numbers = all().map(|(name, time)| {
        let (agree, differ) = (figure(time.agree_hours), figure(time.differ_hours));
        vec![name.to_owned(), format!("{agree} h"), share(time), format!("{differ} h")]
    });
    let pairs = found.pairs.iter().map(|pair| {
        vec![format!("{} h", figure(pair.hours)), pair.aspect.clone(), by(pair.a.as_ref()), by(pair.b.as_ref())]
    });
    let pairs: Vec<Vec<String>> = pairs.collect();
    html! {
        div.pair {
            (picture.figure())
            (table(&["", "the same", "", "otherwise"], &numbers.collect::<Vec<_>>()))
        }
        @for (letter, only) in [("A", &found.only_a), ("B", &found.only_b)] {
            @if !only.is_empty() { p { "only " (letter) " calls " (only.join(", ")) } }
        }
        @if !pairs.is_empty() {
            h3 { "The rules that cost most agreement" }
            (stacked_table(&["", "aspect", "A", "B"], &pairs))
        }
    }
}

const SAME: Swatch = Swatch::Block(Ink::Third);
const OTHERWISE: Swatch = Swatch::Outlined(Ink::Text);

fn agreement_bars(time: &AgreementSaid) -> Vec<Bar> {
    let all = time.agree_hours + time.differ_hours;
    if all <= 0.0 {
        return Vec::new();
    }
    let share = 100.0 * time.agree_hours / all;
    vec![Bar { from: 0.0, to: share, drawn: SAME }, Bar { from: 0.0, to: 100.0, drawn: OTHERWISE }]
}

fn skipped(comparison: &Comparison) -> Markup {
    let lines: Vec<String> =
        comparison.skipped.iter().map(|skipped| format!("{}: {}", skipped.log, skipped.why)).collect();
    let more = comparison.skipped_count.saturating_sub(comparison.skipped.len() as u64);
    html! {
        (list(&lines))
        @if more > 0 { p { "and " (more) " more" } }
    }
}
