//! `leadsman readings`: the catalogue; with a moment, every reading of it.

use std::sync::Arc;

use clap::Args;
use serde::Serialize;

use super::moment::{AtMoment, MomentArgs};
use super::{Ending, output, strategies};
use crate::advice::ReadingAdvice;
use crate::advice::quantity::Value;
use crate::advice::readings::{self, Asked, BesideReading};
use crate::advice::text::{age, whence};
use crate::check::without_strategy;
use crate::program::Program;
use crate::source::given::Names;
use crate::source::{Fault, Faults};
use crate::vocabulary::catalogue::{CATALOGUE, Entry, GoodFor, Origin, Takes};
use crate::vocabulary::kind::Kind;
use crate::vocabulary::print::duration;
use crate::vocabulary::time::to_the_second;

/// Show the catalogue of readings; with a moment, every reading of it; with names or calls, just those.
#[derive(Debug, Args)]
pub struct Readings {
    /// Readings or calls, such as sun_height or 'depth_of(62 °F)'
    names: Vec<String>,
    /// A strategy whose own readings are shown too, in its units
    #[arg(long, value_name = "FILE")]
    strategy: Option<String>,
    #[command(flatten)]
    moment: MomentArgs,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct CatalogueDocument {
    readings: Vec<EntryDocument>,
}

#[derive(Serialize)]
struct EntryDocument {
    name: String,
    takes: Option<&'static str>,
    kind: String,
    unit: Option<&'static str>,
    plausible: Option<String>,
    good_for: Option<String>,
    origin: &'static str,
    from: Vec<&'static str>,
    help: String,
}

#[derive(Serialize)]
struct MomentDocument {
    at: String,
    chosen: &'static str,
    readings: Vec<ReadingDocument>,
    beside: Vec<BesideReading>,
}

#[derive(Serialize)]
struct ReadingDocument {
    name: String,
    kind: String,
    value: Option<Value>,
    #[serde(skip)]
    printed: Option<String>,
    origin: &'static str,
    age: Option<Value>,
    from: Vec<String>,
    how: Option<String>,
    needs: Option<String>,
}

impl Readings {
    /// Runs the command.
    pub fn run(&self) -> Result<Ending, Faults> {
        let program = match &self.strategy {
            Some(path) => match strategies::program(path)? {
                Some(program) => program,
                None => return Ok(Ending::Failed),
            },
            None => without_strategy()
                .ok_or_else(|| Fault::new("the catalogue can't be shown: a fault of Leadsman, please report it"))?,
        };
        if self.names.is_empty() && !self.moment.any() {
            self.catalogue(&program);
            return Ok(Ending::Fine);
        }
        let asked = match self.names.as_slice() {
            [] => readings::every(&program),
            names => Names::of(&program).readings(names)?,
        };
        let moment = self.moment.read()?.session(program.clone())?;
        self.moment(&program, &moment, &asked);
        Ok(Ending::Fine)
    }

    fn catalogue(&self, program: &Program) {
        let mut readings: Vec<EntryDocument> = CATALOGUE.iter().map(entry).collect();
        readings.extend(program.own.iter().map(|own| EntryDocument {
            name: own.name.clone(),
            takes: None,
            kind: kind(own.kind, program),
            unit: None,
            plausible: None,
            good_for: Some(own.good_for.map_or_else(|| "the day".to_owned(), duration)),
            origin: "given",
            from: Vec::new(),
            help: "declared by the strategy".to_owned(),
        }));
        if self.json {
            output::json(&CatalogueDocument { readings });
            return;
        }
        let mut text = String::new();
        for reading in readings {
            let takes = reading.takes.map(|takes| format!("({takes})")).unwrap_or_default();
            let range = reading.plausible.map(|range| format!(", {range}")).unwrap_or_default();
            let good = reading.good_for.map(|good| format!(", good for {good}")).unwrap_or_default();
            let from =
                if reading.from.is_empty() { String::new() } else { format!(" from {}", reading.from.join(", ")) };
            text.push_str(&format!("{}{takes}: {}\n", reading.name, reading.help));
            text.push_str(&format!("    {}{range}; {}{from}{good}\n", reading.kind, reading.origin));
        }
        output::print(&text);
    }

    fn moment(&self, program: &Arc<Program>, at: &AtMoment, asked: &[Asked]) {
        let moment = at.session.moment(at.at);
        let told =
            asked.iter().map(|one| ReadingDocument::of(readings::reading(program, &moment, one), one.2, program));
        let told: Vec<ReadingDocument> = told.collect();
        let zone = at.session.setting().zone.clone().unwrap_or(jiff::tz::TimeZone::UTC);
        let when = to_the_second(&at.at.zoned(&zone));
        // Who names readings wants just those.
        let beside = if self.names.is_empty() { readings::beside(program, &moment, &zone) } else { Vec::new() };
        if self.json {
            output::json(&MomentDocument { at: when, chosen: at.chosen.text(), readings: told, beside });
            return;
        }
        let mut text = format!("{} ({})\n\n", when.replacen('T', " ", 1), at.chosen.text());
        for reading in told {
            text.push_str(&line(&reading));
        }
        if !beside.is_empty() {
            text.push_str("\nBeside the readings:\n");
        }
        for BesideReading { name, printed, note, .. } in &beside {
            text.push_str(&format!("{name:<21} {printed:<14} {note}\n"));
        }
        output::print(&text);
    }
}

impl ReadingDocument {
    fn of(reading: ReadingAdvice, of: Kind, program: &Program) -> Self {
        let ReadingAdvice { name, value, printed, origin, age, from, how, needs } = reading;
        Self { name, kind: kind(of, program), value, printed, origin, age, from, how, needs }
    }
}

fn line(reading: &ReadingDocument) -> String {
    let name = &reading.name;
    match &reading.printed {
        Some(printed) => {
            let from = whence(reading.origin, &reading.from, reading.how.as_deref());
            let age = age(reading.age.as_ref());
            format!("{name:<18} {printed:<14} {}{from}{age}\n", reading.origin)
        }
        None => {
            let needs = reading.needs.as_deref().filter(|needs| !needs.is_empty());
            let needs = needs.map(|needs| format!("; needs {needs}")).unwrap_or_default();
            format!("{name:<18} {:<14} unknown{needs}\n", "-")
        }
    }
}

fn entry(entry: &'static Entry) -> EntryDocument {
    EntryDocument {
        name: entry.name.to_owned(),
        takes: entry.takes.map(|takes| match takes {
            Takes::Depth => "depth",
            Takes::Level => "temperature, oxygen or share",
            Takes::Window => "time",
            Takes::ReadingAndWindow => "reading, time",
        }),
        kind: match entry.kind {
            Kind::OneOf(_) => "one of dark < twilight < low_sun < high_sun".to_owned(),
            other => other.word().to_owned(),
        },
        unit: (!entry.unit.is_empty()).then_some(entry.unit),
        plausible: (!entry.plausible_text.is_empty()).then(|| entry.plausible_text.to_owned()),
        good_for: match (entry.origin, entry.good_for) {
            (Origin::Given, GoodFor::Span(span)) => Some(duration(span)),
            (Origin::Given, GoodFor::Day) => Some("the day".to_owned()),
            _ => None,
        },
        origin: match entry.origin {
            Origin::Given => "given",
            Origin::Derived => "derived",
            Origin::Session => "from the session",
        },
        from: entry.from.to_vec(),
        help: entry.help.to_owned(),
    }
}

fn kind(kind: Kind, program: &Program) -> String {
    match kind {
        Kind::OneOf(set) => match program.sets.get(set.0 as usize) {
            Some(set) => format!("one of {}", set.words.join(if set.ordered { " < " } else { ", " })),
            None => "one of".to_owned(),
        },
        kind => kind.word().to_owned(),
    }
}
