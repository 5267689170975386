//! Advice in words: first the tactic, large and plain, then why, then what is not known.
//!
//! Made for a small terminal at arm's length: short lines, the numbers first, one thing a line.

use super::cautions::StandingCaution;
use super::{Advice, AspectAdvice, By, LadderAdvice, LakeAdvice, Open, ReadingAdvice, Said};
use crate::explain::Needed;

/// How to lay out a text.
#[derive(Clone, Copy, Debug)]
pub struct Layout {
    /// Columns of the terminal.
    pub width: usize,
    /// Whether bold may be used.
    pub bold: bool,
    /// Whether every reading is listed, or only those that are estimated, old or missing.
    pub all_readings: bool,
}

impl Default for Layout {
    fn default() -> Self {
        Self { width: 80, bold: false, all_readings: false }
    }
}

/// Says advice in words. `chosen` says how its moment was chosen.
pub fn tell(advice: &Advice, chosen: Option<&str>, layout: Layout) -> String {
    let mut page = Page::new(layout);
    page.head(advice, chosen);
    page.the_call(advice);
    page.why(advice);
    page.not_known(advice);
    page.near(advice);
    page.readings(advice);
    page.lake(advice.lake.as_ref());
    page.standing(advice.standing_cautions.iter());
    page.text
}

/// The call alone, for whoever watches it change: the tactic, the rungs, what is not ruled out, the cautions.
pub fn brief(advice: &Advice, layout: Layout) -> String {
    let mut page = Page::new(layout);
    page.head(advice, None);
    page.the_call(advice);
    page.text
}

/// Words on a terminal, line by line.
pub(crate) struct Page {
    layout: Layout,
    /// What is said so far.
    pub text: String,
}

impl Page {
    /// A page with nothing on it.
    pub fn new(layout: Layout) -> Self {
        Self { layout, text: String::new() }
    }

    pub fn line(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }

    pub fn blank(&mut self) {
        if !self.text.is_empty() && !self.text.ends_with("\n\n") {
            self.text.push('\n');
        }
    }

    pub fn title(&mut self, title: &str) {
        self.blank();
        let title = self.strong(title);
        self.line(&title);
    }

    pub fn strong(&self, text: &str) -> String {
        if self.layout.bold { format!("\u{1b}[1m{text}\u{1b}[0m") } else { text.to_owned() }
    }

    /// A paragraph, its first line behind `first` and the others behind `rest`.
    pub fn paragraph(&mut self, first: &str, rest: &str, text: &str) {
        let options = textwrap::Options::new(self.layout.width.max(30)).initial_indent(first).subsequent_indent(rest);
        let lines: Vec<String> = textwrap::wrap(text, options).into_iter().map(|line| line.into_owned()).collect();
        for line in lines {
            self.line(&line);
        }
    }

    fn head(&mut self, advice: &Advice, chosen: Option<&str>) {
        self.paragraph("", "", &advice.strategy);
        if let Some(at) = &advice.at {
            let chosen = chosen.map(|chosen| format!(" ({chosen})")).unwrap_or_default();
            self.line(&format!("{}{chosen}", at.replacen('T', " ", 1)));
        }
    }

    fn the_call(&mut self, advice: &Advice) {
        // What is not ruled out stands ahead of a tactic; where lines come up, that comes first.
        if advice.lines_up.is_empty() {
            self.not_ruled_out(&advice.not_ruled_out);
            self.blank();
            self.call(&advice.lines_up, &advice.tactic);
        } else {
            self.blank();
            self.call(&advice.lines_up, &advice.tactic);
            self.not_ruled_out(&advice.not_ruled_out);
        }
        self.ladders(&advice.ladders);
        self.cautions(advice);
    }

    pub fn not_ruled_out(&mut self, list: &[Open]) {
        if list.is_empty() {
            return;
        }
        self.title("NOT RULED OUT");
        for open in list {
            let text = format!("{} ({})", open.texts.join("; "), by_name(&open.by));
            self.paragraph("? ", "  ", &text);
            self.settle(&open.settled_by);
        }
    }

    fn settle(&mut self, needed: &[Needed]) {
        if !needed.is_empty() {
            let names: Vec<&str> = needed.iter().map(|needed| needed.reading.as_str()).collect();
            self.paragraph("    settled by: ", "      ", &names.join(", "));
        }
    }

    /// Lines up and why, or the tactic, a line an aspect.
    pub fn call(&mut self, lines_up: &[Said], tactic: &[AspectAdvice]) {
        if !lines_up.is_empty() {
            let up = self.strong("  LINES UP");
            self.line(&up);
            for said in lines_up {
                self.paragraph("  ", "  ", &said.text);
                self.paragraph("    ", "    ", &by_place(&said.by));
            }
            return;
        }
        let widest = tactic.iter().map(|aspect| aspect.name.chars().count()).max().unwrap_or(0);
        for aspect in tactic {
            let name = format!("  {:<widest$}  ", aspect.name.to_uppercase());
            let value = match (&aspect.printed, &aspect.why_none) {
                (Some(printed), _) if aspect.estimated.is_empty() => printed.clone(),
                (Some(printed), _) => format!("{printed} (estimated)"),
                (None, Some(why)) => format!("- ({why})"),
                (None, None) => "-".to_owned(),
            };
            let room = self.layout.width.max(30).saturating_sub(name.chars().count()).max(12);
            // A value that needs more than one line goes on below itself.
            let mut begin = name;
            for part in textwrap::wrap(&value, room) {
                let part = if aspect.printed.is_some() { self.strong(&part) } else { part.into_owned() };
                self.line(&format!("{begin}{part}"));
                begin = " ".repeat(begin.chars().count());
            }
        }
        if tactic.is_empty() {
            self.line("  This strategy decides nothing.");
        }
    }

    fn ladders(&mut self, ladders: &[LadderAdvice]) {
        if ladders.is_empty() {
            return;
        }
        self.blank();
        for ladder in ladders {
            let line = match (&ladder.rung, &ladder.why_none) {
                (Some(rung), _) => {
                    let at = ladder.rungs.iter().position(|name| name == rung).map_or(0, |at| at + 1);
                    let stood = ladder.standing_for.as_ref().map(duration).unwrap_or_default();
                    format!("{}: {rung}, rung {at} of {}, for {stood}", ladder.name, ladder.rungs.len())
                }
                (None, Some(why)) => format!("{}: - ({why})", ladder.name),
                (None, None) => format!("{}: -", ladder.name),
            };
            self.paragraph("  ", "    ", &line);
        }
    }

    fn cautions(&mut self, advice: &Advice) {
        let reached: Vec<_> = advice.standing_cautions.iter().filter(|caution| caution.reached).collect();
        if advice.cautions.is_empty() && reached.is_empty() {
            return;
        }
        self.title("CAUTION");
        for caution in reached {
            self.paragraph("! ", "  ", &caution.text);
        }
        for said in &advice.cautions {
            self.paragraph("! ", "  ", &said.text);
            self.paragraph("    ", "    ", &by_place(&said.by));
        }
    }

    fn why(&mut self, advice: &Advice) {
        if !advice.lines_up.is_empty() {
            return;
        }
        let decided: Vec<&AspectAdvice> = advice.tactic.iter().filter(|aspect| aspect.by.is_some()).collect();
        if decided.is_empty() {
            return;
        }
        self.title("WHY");
        // Aspects that one rule decided stand together.
        let mut told: Vec<&By> = Vec::new();
        for aspect in &decided {
            let Some(by) = &aspect.by else { continue };
            if told.contains(&by) {
                continue;
            }
            told.push(by);
            let names: Vec<&str> =
                decided.iter().filter(|other| other.by.as_ref() == Some(by)).map(|other| other.name.as_str()).collect();
            self.paragraph("  ", "    ", &format!("{}: {}", names.join(", "), by_place(by)));
            if let Some(because) = &by.because {
                self.paragraph("    ", "    ", because);
            }
        }
        for aspect in &decided {
            self.moved(aspect);
        }
        for aspect in decided.iter().filter(|aspect| !aspect.estimated.is_empty()) {
            let text = format!("{} rests on an estimate: {}", aspect.name, aspect.estimated.join(", "));
            self.paragraph("  ", "    ", &text);
        }
    }

    /// What shifts and limits did to an aspect.
    fn moved(&mut self, aspect: &AspectAdvice) {
        // Below a line on what became of the value, else on its own.
        let (first, rest) = match (&aspect.before, &aspect.printed) {
            (Some(before), Some(now)) => {
                self.paragraph("  ", "    ", &format!("{}: {before} became {now}:", aspect.name));
                ("    ", "      ")
            }
            _ => ("  ", "    "),
        };
        for shift in &aspect.shifts {
            self.paragraph(first, rest, &format!("{}: {}", shift.text, by_place(&shift.by)));
            if let Some(because) = &shift.by.because {
                self.paragraph("      ", "      ", because);
            }
        }
        for limit in &aspect.limits {
            let by = limit.by.as_ref().map_or_else(|| "nothing runs below zero".to_owned(), by_place);
            self.paragraph(first, rest, &format!("{} {}: {by}", aspect.name, limit.text));
            if let Some(because) = limit.by.as_ref().and_then(|by| by.because.as_ref()) {
                self.paragraph(rest, rest, because);
            }
        }
        for passed in &aspect.passed_over {
            let text = format!("{}: passed over, as nothing of its wish is left: {}", aspect.name, by_place(passed));
            self.paragraph(first, rest, &text);
        }
        if !aspect.settled_by.is_empty() {
            self.paragraph("  ", "    ", &format!("{} would be known with:", aspect.name));
            self.settle(&aspect.settled_by);
        }
    }

    fn not_known(&mut self, advice: &Advice) {
        let open: Vec<_> = advice
            .undecided
            .iter()
            .filter(|undecided| !advice.not_ruled_out.iter().any(|open| open.by == undecided.by))
            .collect();
        if open.is_empty() && advice.idle.is_empty() {
            return;
        }
        self.title("NOT KNOWN");
        let (matter, idle): (Vec<_>, Vec<_>) = open.into_iter().partition(|undecided| undecided.could_change);
        for undecided in matter {
            self.paragraph("  ", "    ", &format!("{}: could change this call", by_place(&undecided.by)));
            self.settle(&undecided.settled_by);
        }
        if !idle.is_empty() {
            let names: Vec<String> = idle.iter().map(|undecided| by_name(&undecided.by)).collect();
            self.paragraph("  ", "    ", &format!("undecided, but it would change nothing: {}", names.join(", ")));
        }
        for idle in &advice.idle {
            self.paragraph("  ", "    ", &format!("{} did nothing, {}: {}", idle.text, idle.why, by_place(&idle.by)));
            self.settle(&idle.settled_by);
        }
        self.needs(advice);
    }

    /// What would make the missing readings known.
    fn needs(&mut self, advice: &Advice) {
        let asked: Vec<&str> = advice
            .undecided
            .iter()
            .flat_map(|undecided| &undecided.settled_by)
            .chain(advice.tactic.iter().flat_map(|aspect| &aspect.settled_by))
            .chain(advice.idle.iter().flat_map(|idle| &idle.settled_by))
            .map(|needed| needed.reading.as_str())
            .collect();
        let missing = advice.readings.iter().filter(|reading| asked.contains(&reading.name.as_str()));
        for reading in missing {
            if let Some(needs) = &reading.needs {
                self.paragraph("  ", "    ", &format!("{} needs {needs}", reading.name));
            }
        }
    }

    fn near(&mut self, advice: &Advice) {
        if advice.near.is_empty() {
            return;
        }
        self.title("NEAR BY");
        for near in &advice.near {
            let text =
                format!("{} is {}; {} {}: {}", near.reading, near.now, near.side, near.at, near.becomes.join(", "));
            self.paragraph("  ", "    ", &text);
        }
    }

    fn readings(&mut self, advice: &Advice) {
        let shown: Vec<&ReadingAdvice> =
            advice.readings.iter().filter(|reading| self.layout.all_readings || reading.origin != "unknown").collect();
        if shown.is_empty() {
            return;
        }
        self.title("READINGS");
        for reading in shown {
            let value = reading.printed.as_deref().unwrap_or("unknown");
            let from = whence(reading.origin, &reading.from, reading.how.as_deref());
            let age = age(reading.age.as_ref());
            let needs = reading.needs.as_ref().map(|needs| format!(": {needs}")).unwrap_or_default();
            self.paragraph("  ", "    ", &format!("{} {value}, {}{from}{age}{needs}", reading.name, reading.origin));
        }
        if let Some(super::Value::Quantity(depth, unit)) = &advice.cast_depth {
            self.line(&format!("  the cast goes to {} {unit}", libm::round(*depth * 10.0) / 10.0));
        }
    }

    pub fn lake(&mut self, lake: Option<&LakeAdvice>) {
        let Some(lake) = lake else { return };
        let checked = lake.checked.as_deref().map_or_else(|| "not dated".to_owned(), |date| format!("checked {date}"));
        self.title(&format!("{} ({checked})", lake.name.to_uppercase()));
        for rule in &lake.rules {
            self.paragraph("  ", "    ", rule);
        }
        if let Some(source) = &lake.source {
            self.paragraph("  ", "    ", &format!("source: {source}"));
        }
    }

    /// The standing cautions whose figures are not reached, and where all figures come from.
    pub fn standing<'c>(&mut self, cautions: impl Iterator<Item = &'c StandingCaution> + Clone) {
        self.title("ON THE WATER");
        for caution in cautions.clone().filter(|caution| !caution.reached) {
            self.paragraph("  ", "    ", &caution.text);
        }
        let mut sources: Vec<String> = Vec::new();
        for caution in cautions.filter(|caution| caution.limit.is_some()) {
            let source = format!("{} ({})", caution.source, caution.date);
            if !sources.contains(&source) {
                sources.push(source);
            }
        }
        if !sources.is_empty() {
            self.paragraph("  figures: ", "    ", &sources.join("; "));
        }
    }
}

/// What a reading came from, behind its origin: ` from cast, surface`; and how it was come by, where it came from no other
/// reading or is an estimate.
pub(crate) fn whence<S: AsRef<str>>(origin: &str, from: &[S], how: Option<&str>) -> String {
    let from: Vec<&str> = from.iter().map(AsRef::as_ref).collect();
    let from = if from.is_empty() { String::new() } else { format!(" from {}", from.join(", ")) };
    match how.filter(|_| from.is_empty() || origin == "estimated") {
        Some(how) => format!("{from}: {how}"),
        None => from,
    }
}

/// How old a reading is, behind what it came from: `, 20 min old`.
pub(crate) fn age(age: Option<&super::Value>) -> String {
    age.map(|age| format!(", {} old", duration(age))).unwrap_or_default()
}

fn duration(value: &super::Value) -> String {
    match value {
        super::Value::Quantity(minutes, _) => {
            let counts = minutes * 60.0 * crate::vocabulary::quantity::SECOND as f64;
            crate::vocabulary::print::duration(libm::round(counts) as i64)
        }
        _ => String::new(),
    }
}

/// A rule or rung as people call it.
pub(crate) fn by_name(by: &By) -> String {
    match &by.ladder {
        Some(ladder) => format!("{} of {ladder}", by.name),
        None => format!("\"{}\"", by.name),
    }
}

/// The same with its file and line.
pub(crate) fn by_place(by: &By) -> String {
    format!("{} ({}:{})", by_name(by), by.file, by.line)
}
