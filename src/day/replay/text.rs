//! A replay in words and as data: one line wherever the call changes, with its reasons.

use std::collections::BTreeMap;

use serde::Serialize;

use super::{Call, Timeline, TipSaid};
use crate::advice::{Advice, AspectAdvice, By};
use crate::day::log::Log;
use crate::vocabulary::time::{Instant, to_the_second};

/// A replay as it is shown.
#[derive(Clone, Debug, Serialize)]
pub struct Replayed {
    /// The strategy's name.
    pub strategy: String,
    /// The log.
    pub log: String,
    /// When lines first went in; none where they never did.
    pub from: Option<String>,
    /// When the day ended.
    pub to: Option<String>,
    /// Readings of the log that the strategy does not have, with how many values of each were passed over.
    pub passed_over: BTreeMap<String, u64>,
    /// Its calls.
    pub calls: Vec<CallSaid>,
}

/// One call.
#[derive(Clone, Debug, Serialize)]
pub struct CallSaid {
    /// From when on.
    pub from: String,
    /// Up to when.
    pub to: String,
    /// What brought it about, aspect by aspect.
    pub tipped: Vec<Tipped>,
    /// The advice of its first instant.
    pub advice: Option<Box<Advice>>,
}

/// What brought a change of an aspect about; nothing where only time went by: a condition that settled, a reading that
/// grew old.
#[derive(Clone, Debug, Serialize)]
pub struct Tipped {
    /// The aspect.
    pub aspect: String,
    /// What tipped it.
    pub by: Vec<TipSaid>,
}

impl Replayed {
    /// A timeline of a log, in the log's own zone.
    pub fn of(timeline: Timeline, log: &Log) -> Self {
        let at = |at: Instant| to_the_second(&at.zoned(&log.zone));
        let Timeline { program, calls, passed_over } = timeline;
        let (from, to) = (calls.first().map(|call| at(call.from)), calls.last().map(|call| at(call.to)));
        let said = |call: Call| {
            let tipped = call.tipped.iter().map(|(id, tips)| Tipped {
                aspect: program.aspect_name(*id).to_owned(),
                by: tips.iter().map(|tip| tip.said(&program)).collect(),
            });
            CallSaid { from: at(call.from), to: at(call.to), tipped: tipped.collect(), advice: call.advice }
        };
        let calls = calls.into_iter().map(said).collect();
        Self { strategy: program.name.clone(), log: log.file.clone(), from, to, passed_over, calls }
    }

    /// In words, so wide.
    pub fn text(&self, width: usize) -> String {
        let mut page = format!("{}\nover {}\n", self.strategy, self.log);
        let (Some(from), Some(to)) = (&self.from, &self.to) else {
            page.push_str("lines never went in: there is nothing to call\n");
            return page;
        };
        let (day, _) = from.split_once('T').unwrap_or((from, ""));
        page.push_str(&format!("{day}, {} to {}\n", clock(from), clock(to)));
        let mut before: Option<&Advice> = None;
        for call in &self.calls {
            let Some(advice) = &call.advice else { continue };
            let (news, cautions) = (news(before, advice), cautions(before, advice));
            // A range that moved by less than is printed is no news.
            if news.is_none() && cautions.is_empty() {
                continue;
            }
            page.push('\n');
            let mut line = |first: &str, rest: &str, text: &str| {
                let options = textwrap::Options::new(width.max(30)).initial_indent(first).subsequent_indent(rest);
                page.push_str(&textwrap::fill(text, options));
                page.push('\n');
            };
            let time = format!("{}  ", clock(&call.from));
            let indent = " ".repeat(time.len());
            line(&time, &indent, news.as_deref().unwrap_or("the same tactic"));
            for caution in cautions {
                line(&indent, &format!("{indent}  "), &caution);
            }
            for reason in reasons(before, advice, &call.tipped) {
                line(&indent, &format!("{indent}  "), &reason);
            }
            before = Some(advice);
        }
        if !self.passed_over.is_empty() {
            let names: Vec<String> = self.passed_over.iter().map(|(name, count)| format!("{name} ({count})")).collect();
            let text = format!("The strategy does not have these readings of the log: {}", names.join(", "));
            page.push('\n');
            page.push_str(&textwrap::fill(&text, width.max(30)));
            page.push('\n');
        }
        page
    }
}

/// The time of day of a time as it is shown; with seconds only where there are some.
pub fn clock(at: &str) -> &str {
    let time = at.split_once('T').map_or(at, |(_, time)| time);
    match time.get(5..8) {
        Some(":00") | None => time.get(..5).unwrap_or(time),
        Some(_) => time.get(..8).unwrap_or(time),
    }
}

/// What is new in a call: at first all of it.
fn news(before: Option<&Advice>, advice: &Advice) -> Option<String> {
    if !advice.lines_up.is_empty() {
        let why: Vec<&str> = advice.lines_up.iter().map(|said| said.text.as_str()).collect();
        let news = format!("LINES UP: {}", why.join(" "));
        return before.is_none_or(|before| before.lines_up != advice.lines_up).then_some(news);
    }
    let stopped = before.is_some_and(|before| !before.lines_up.is_empty());
    let changed = |aspect: &&AspectAdvice| stopped || is_new(before, aspect);
    let mut parts: Vec<String> = advice.tactic.iter().filter(changed).map(said).collect();
    for ladder in &advice.ladders {
        let was = before.and_then(|before| before.ladders.iter().find(|was| was.name == ladder.name));
        if was.is_none_or(|was| was.rung != ladder.rung) {
            parts.push(format!("{} {}", ladder.name, ladder.rung.as_deref().unwrap_or("on no rung")));
        }
    }
    (!parts.is_empty()).then(|| parts.join(", "))
}

/// What is cautioned of from here on, and what no more; a caution whose readings are gone is not ruled out.
fn cautions(before: Option<&Advice>, advice: &Advice) -> Vec<String> {
    let was = before.map_or(&[][..], |before| &before.cautions);
    let new = advice.cautions.iter().filter(|caution| !was.contains(caution));
    let mut lines: Vec<String> = new.map(|caution| format!("caution: {}", caution.text)).collect();
    for gone in was.iter().filter(|was| !advice.cautions.contains(was)) {
        let open = advice.not_ruled_out.iter().any(|open| open.by == gone.by);
        lines.push(format!(
            "{}: {}",
            if open { "caution no longer certain, and not ruled out" } else { "caution over" },
            place(&gone.by)
        ));
    }
    lines
}

fn said(aspect: &AspectAdvice) -> String {
    let estimated = if aspect.estimated.is_empty() { "" } else { " (estimated)" };
    match (&aspect.printed, &aspect.why_none) {
        (Some(printed), _) => format!("{} {printed}{estimated}", aspect.name),
        (None, why) => format!("no {} ({})", aspect.name, why.as_deref().unwrap_or("not decided")),
    }
}

fn is_new(before: Option<&Advice>, aspect: &AspectAdvice) -> bool {
    let was = before.and_then(|before| before.tactic.iter().find(|was| was.name == aspect.name));
    was.is_none_or(|was| was.printed != aspect.printed || was.by != aspect.by || was.why_none != aspect.why_none)
}

/// Who decided what is new, and what tipped it; aspects with the same reason together.
fn reasons<'a>(before: Option<&Advice>, advice: &'a Advice, tipped: &[Tipped]) -> Vec<String> {
    let mut reasons: Vec<(Vec<&'a str>, String)> = Vec::new();
    let mut add = |aspect: Option<&'a str>, reason: String| match reasons.iter_mut().find(|(_, known)| *known == reason)
    {
        Some((aspects, _)) => aspects.extend(aspect),
        None => reasons.push((aspect.into_iter().collect(), reason)),
    };
    let since = |name: &str| {
        let tips = tipped.iter().find(|tipped| tipped.aspect == name)?;
        let texts: Vec<&str> = tips.by.iter().map(|tip| tip.printed.as_str()).collect();
        Some(if texts.is_empty() { "; time alone".to_owned() } else { format!("; {}", texts.join("; ")) })
    };
    if !advice.lines_up.is_empty() {
        let first = advice.tactic.iter().find_map(|aspect| since(&aspect.name)).unwrap_or_default();
        for said in &advice.lines_up {
            add(None, format!("{}{first}", place(&said.by)));
        }
    } else {
        let stopped = before.is_some_and(|before| !before.lines_up.is_empty());
        for aspect in advice.tactic.iter().filter(|aspect| stopped || is_new(before, aspect)) {
            let by = aspect.by.as_ref().map_or_else(|| "nobody decides it".to_owned(), place);
            add(Some(&aspect.name), format!("{by}{}", since(&aspect.name).unwrap_or_default()));
        }
    }
    let joined = |(aspects, reason): (Vec<&str>, String)| match aspects.is_empty() {
        true => reason,
        false => format!("{}: {reason}", aspects.join(", ")),
    };
    reasons.into_iter().map(joined).collect()
}

/// Who decided, and where that is written.
pub fn place(by: &By) -> String {
    match &by.ladder {
        Some(ladder) => format!("{} of {ladder} ({}:{})", by.name, by.file, by.line),
        None => format!("{} ({}:{})", by.name, by.file, by.line),
    }
}
