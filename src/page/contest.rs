//! The page of a contest's sheet: to print, take along and tick off.

use maud::{Markup, html};

use super::frame::{caution, list, page, section, table};
use super::plan::{lake, on_the_water};
use crate::plan::contest::{Block, Contest, Stratum, block_lines, headline};
use crate::plan::text::hours;

/// The page of a sheet.
pub fn contest_page(contest: &Contest) -> String {
    let reached = contest.standing_cautions.iter().filter(|standing| standing.caution.reached);
    let body = html! {
        h1 { "A fair contest" }
        dl {
            dt { "A" } dd { (contest.a.strategy) " " small { (contest.a.file) } }
            dt { "B" } dd { (contest.b.strategy) " " small { (contest.b.file) } }
        }
        p { (headline(contest)) }
        p.soft { "Drawn by " (contest.by) " with the seed " strong { (contest.seed) } "; the same seed draws the same again." }
        @for standing in reached {
            (caution(&html! {
                strong { (standing.reached_in.iter().map(hours).collect::<Vec<_>>().join(", ")) ": " }
                (standing.caution.text)
            }))
        }
        @for said in &contest.cautions { (caution(&html! { (said) })) }
        (section("The sheet", &html! { @for block in &contest.blocks { (a_block(block)) } }))
        (section("How it is balanced", &balance(&contest.strata)))
        (section("How to follow it", &list(&contest.rules)))
        (section("Assumed", &list(&contest.assumptions)))
        (lake(contest.lake.as_ref()))
        (on_the_water(&contest.standing_cautions))
    };
    page(&format!("A fair contest, {}", contest.date), &body)
}

fn a_block(block: &Block) -> Markup {
    let whole = block.units.iter().find(|unit| unit.rod.is_none()).map(|unit| unit.run);
    html! {
        div.call {
            h3 {
                (hours(&block.hours)) " "
                @if let Some(run) = whole { span.run { (run) } " " }
                small { (block.light.as_deref().unwrap_or("light not known").replace('_', " ")) }
            }
            @for line in block_lines(block) { p { (line) } }
        }
    }
}

fn balance(strata: &[Stratum]) -> Markup {
    let rows: Vec<Vec<String>> = strata
        .iter()
        .map(|stratum| {
            vec![
                stratum.light.as_deref().unwrap_or("not known").replace('_', " "),
                stratum.side.unwrap_or("all").to_owned(),
                stratum.a.to_string(),
                stratum.b.to_string(),
            ]
        })
        .collect();
    table(&["light", "side", "A", "B"], &rows)
}
