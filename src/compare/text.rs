//! A comparison in words, for a terminal.

use super::differ::TippedIn;
use super::tested::{CellSaid, Contrast, Rate};
use super::words::{figure, p_value};
use super::{AgreementSaid, Comparison, SideSaid};
use crate::advice::By;
use crate::day::replay::text::{clock, place};

/// Says a comparison in words, so wide.
pub fn tell(comparison: &Comparison, width: usize) -> String {
    let mut page = Page { width: width.max(40), text: String::new() };
    page.head(comparison);
    page.differences(comparison);
    page.fish(comparison);
    page.title("WHAT THAT CAN PROVE");
    for words in &comparison.proof {
        page.paragraph("- ", "  ", words);
    }
    page.skipped(comparison);
    page.text
}

/// How many days of when, and how long lines were in.
pub fn what_was_compared(comparison: &Comparison) -> String {
    let days = if comparison.days == 1 { "1 day".to_owned() } else { format!("{} days", comparison.days) };
    let date = |at: &Option<String>| at.as_deref().and_then(|at| at.split('T').next()).unwrap_or("").to_owned();
    let (from, to) = (date(&comparison.from), date(&comparison.to));
    let dates = if from == to { from } else { format!("{from} to {to}") };
    let dates = if dates.is_empty() { dates } else { format!(", {dates}") };
    format!("{days}{dates}, {} h with lines in", figure(comparison.lines_in_hours))
}

/// The strategies' names are long; cells are told by letters.
pub fn within(cell: &str) -> &'static str {
    match cell {
        "both" => "both",
        "only_a" => "A alone",
        "only_b" => "B alone",
        "neither" => "neither",
        _ => "not said",
    }
}

/// Most pairs of rules that are told; the document has more.
const MOST_PAIRS: usize = 8;

struct Page {
    width: usize,
    text: String,
}

impl Page {
    fn line(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }

    fn title(&mut self, title: &str) {
        self.line("");
        self.line(title);
    }

    fn paragraph(&mut self, first: &str, rest: &str, text: &str) {
        let options = textwrap::Options::new(self.width).initial_indent(first).subsequent_indent(rest);
        let filled = textwrap::fill(text, options);
        self.line(&filled);
    }

    fn head(&mut self, comparison: &Comparison) {
        for (letter, side) in [("A", &comparison.a), ("B", &comparison.b)] {
            self.paragraph(&format!("{letter}  "), "   ", &side_name(side));
        }
        self.line(&what_was_compared(comparison));
    }

    fn differences(&mut self, comparison: &Comparison) {
        let found = &comparison.differences;
        self.title("WHERE THEY DIFFER");
        self.line("                      the same    otherwise");
        let mut row = |name: &str, time: &AgreementSaid| {
            let (agree, differ) = (figure(time.agree_hours), figure(time.differ_hours));
            self.line(&format!("  {name:<16}{agree:>8} h {:>5}{differ:>8} h", share(time)));
        };
        row("whole tactic", &found.whole);
        for aspect in &found.aspects {
            row(&aspect.aspect, &aspect.time);
        }
        for (letter, list) in [("A", &found.only_a), ("B", &found.only_b)] {
            if !list.is_empty() {
                self.paragraph("  ", "  ", &format!("only {letter} calls {}", list.join(", ")));
            }
        }
        if !found.pairs.is_empty() {
            self.line("");
            self.line("  The rules that cost most agreement:");
            for pair in found.pairs.iter().take(MOST_PAIRS) {
                let text = format!("{}: A {}; B {}", pair.aspect, by(pair.a.as_ref()), by(pair.b.as_ref()));
                self.paragraph(&format!("  {:>6} h  ", figure(pair.hours)), "            ", &text);
            }
        }
        if comparison.days == 1 && !found.stretches.is_empty() {
            self.line("");
            self.line("  Through the day:");
            for stretch in &found.stretches {
                let time = format!("  {} to {}  ", clock(&stretch.from), clock(&stretch.to));
                let text = format!("{}: A {}, B {}", stretch.aspect, stretch.a.printed, stretch.b.printed);
                self.paragraph(&time, "                  ", &text);
                for tipped in &stretch.tipped {
                    self.paragraph("                  ", "                    ", &changed_by(tipped));
                }
            }
        }
    }

    fn fish(&mut self, comparison: &Comparison) {
        self.title("WHAT THE FISH SAID");
        self.line("                 rod-hours  strikes  an hour (95 %)             fish");
        for split in &comparison.fish {
            self.line(&format!("  {}", split.aspect.as_deref().unwrap_or("whole tactic")));
            for cell in split.cells.iter().filter(|cell| cell.rod_hours > 0.0 || cell.strikes.count > 0) {
                self.cell(cell);
            }
            self.paragraph("    A alone over B alone: ", "      ", &contrast(&split.strikes));
        }
        if comparison.by_light.len() > 1 {
            self.line("");
            self.line("  The whole tactic by light");
            for row in &comparison.by_light {
                self.line(&format!("  {}", row.light));
                for cell in row.cells.iter().filter(|cell| cell.rod_hours > 0.0 || cell.strikes.count > 0) {
                    self.cell(cell);
                }
            }
        }
    }

    fn cell(&mut self, cell: &CellSaid) {
        let rate = rate(&cell.strikes);
        let (name, hours) = (within(cell.within), figure(cell.rod_hours));
        self.line(&format!("    {name:<12}{hours:>10}{:>9}  {rate:<25}{:>6}", cell.strikes.count, cell.landed.count));
    }

    fn skipped(&mut self, comparison: &Comparison) {
        if comparison.skipped_count == 0 {
            return;
        }
        self.title("NOT COMPARED");
        for skipped in &comparison.skipped {
            self.paragraph("- ", "  ", &format!("{}: {}", skipped.log, skipped.why));
        }
        let more = comparison.skipped_count.saturating_sub(comparison.skipped.len() as u64);
        if more > 0 {
            self.line(&format!("  and {more} more"));
        }
    }
}

/// Events an hour with their interval.
pub fn rate(rate: &Rate) -> String {
    match (rate.per_hour, rate.low, rate.high) {
        (Some(per_hour), Some(low), Some(high)) => {
            format!("{} ({} to {})", figure(per_hour), figure(low), figure(high))
        }
        _ => "-".to_owned(),
    }
}

/// The time that agrees as a share of all.
pub fn share(time: &AgreementSaid) -> String {
    match time.agree_hours + time.differ_hours {
        all if all > 0.0 => format!("{:.0} %", 100.0 * time.agree_hours / all),
        _ => "-".to_owned(),
    }
}

/// A strategy with its file, the lets that were changed, and the readings that it does not have.
pub fn side_name(side: &SideSaid) -> String {
    let lets = if side.lets.is_empty() { String::new() } else { format!(", with {}", side.lets.join(", ")) };
    let names: Vec<&str> = side.passed_over.keys().map(String::as_str).collect();
    let passed_over =
        if names.is_empty() { String::new() } else { format!("; without the log's {}", names.join(", ")) };
    format!("{} ({}{lets}{passed_over})", side.strategy, side.file)
}

/// What tipped a strategy's call.
pub fn changed_by(tipped: &TippedIn) -> String {
    let by: Vec<&str> = tipped.by.iter().map(|tip| tip.printed.as_str()).collect();
    let by = if by.is_empty() { "time alone".to_owned() } else { by.join("; ") };
    format!("{} changed by {by}", tipped.strategy.to_uppercase())
}

/// Who decided; nobody is none.
pub fn by(by: Option<&By>) -> String {
    by.map_or_else(|| "nobody".to_owned(), place)
}

/// A ratio with its interval and its p.
pub fn contrast(contrast: &Contrast) -> String {
    let Some(p) = contrast.p else { return "-".to_owned() };
    let ratio = match (contrast.ratio, contrast.low, contrast.high) {
        (Some(ratio), Some(low), Some(high)) => format!("{} ({} to {})", figure(ratio), figure(low), figure(high)),
        (_, Some(low), None) => format!("without end ({} and more)", figure(low)),
        _ => return "nothing on either side".to_owned(),
    };
    let verdict = if contrast.tells_apart { "" } else { "; can't be told apart" };
    format!("{ratio}, p {}{verdict}", p_value(p))
}
