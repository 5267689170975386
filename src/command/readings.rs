//! `leadsman readings`: the catalogue; with a moment, every reading of it.

use std::sync::Arc;

use clap::Args;
use jiff::tz::TimeZone;
use serde::Serialize;

use super::moment::{AtMoment, MomentArgs};
use super::{Ending, output, strategies};
use crate::advice::quantity::Value;
use crate::advice::text::{age, whence};
use crate::check::given::Target;
use crate::check::{NoIncludes, check};
use crate::program::{GivenTarget, Program};
use crate::source::given::Names;
use crate::source::{Fault, Faults};
use crate::vocabulary::catalogue::{CATALOGUE, Entry, GoodFor, Known, Origin, Takes};
use crate::vocabulary::kind::Kind;
use crate::vocabulary::print::{System, duration, range, unrounded};
use crate::vocabulary::unit::SECONDS;
use crate::water::beside;

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
    beside: Vec<BesideDocument>,
}

/// What stands beside the readings: a quantity, a range of depths, a step of a scale, or a time.
#[derive(Serialize)]
struct BesideDocument {
    name: String,
    value: Option<Value>,
    time: Option<String>,
    #[serde(skip)]
    printed: String,
    note: String,
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
    from: Vec<&'static str>,
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
            None => no_strategy()?,
        };
        if self.names.is_empty() && !self.moment.any() {
            self.catalogue(&program);
            return Ok(Ending::Fine);
        }
        let targets = self.targets(&program)?;
        let moment = self.moment.session(program.clone())?;
        self.moment(&program, &moment, &targets);
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

    /// What is asked for: the names, else every reading of the catalogue and of the strategy.
    fn targets(&self, program: &Program) -> Result<Vec<(String, GivenTarget, Kind)>, Faults> {
        if self.names.is_empty() {
            let plain = Known::ALL.into_iter().filter(|known| known.entry().takes.is_none());
            let hidden = |known: &Known| program.own_reading(known.name()).is_some();
            let known = plain.filter(|known| !hidden(known));
            let known = known.map(|known| (known.name().to_owned(), GivenTarget::Known(known), known.entry().kind));
            let own = program.own.iter().enumerate();
            let own = own.map(|(at, own)| (own.name.clone(), GivenTarget::Own(at), own.kind));
            let asked = program.inputs.iter().filter_map(|input| match input.source {
                crate::program::InputSource::Call(known, kind, argument) => {
                    let name = program.input_name(input.source);
                    Some((name, GivenTarget::Call(known, kind, argument), input.kind))
                }
                _ => None,
            });
            return Ok(known.chain(own).chain(asked).collect());
        }
        let mut names = Names::of(program);
        let mut faults = Faults::default();
        let mut targets = Vec::new();
        for name in &self.names {
            match faults.keep(names.target(name).map_err(|fault| fault.within(name))) {
                Some(Target::Value(target, kind)) => targets.push((name.clone(), target, kind)),
                Some(Target::Position) => {
                    targets.push((name.clone(), GivenTarget::Known(Known::Position), Kind::Place));
                }
                Some(Target::Ladder(_) | Target::Cast | Target::Strike) => {
                    let fault = Fault::new(format!("`{name}` is no reading"));
                    faults
                        .add(fault.help("ask for a reading or a call of the catalogue, or one the strategy declares"));
                }
                None => {}
            }
        }
        faults.unless_any(targets)
    }

    fn moment(&self, program: &Arc<Program>, at: &AtMoment, targets: &[(String, GivenTarget, Kind)]) {
        let moment = at.session.moment(at.at);
        let readings: Vec<ReadingDocument> = targets
            .iter()
            .map(|(name, target, of)| {
                let report = moment.report_of(*target);
                let small = *target == GivenTarget::Known(Known::Waves);
                let printed = report.value.map(|value| match &report.written {
                    Some(written) => written.to_string(),
                    None if *of == Kind::Place => "known".to_owned(),
                    None => program.print(value, *of, small),
                });
                ReadingDocument {
                    name: name.clone(),
                    kind: kind(*of, program),
                    value: report.value.and_then(|value| Value::of(value, *of, small, program)),
                    printed,
                    origin: report.origin.name(),
                    age: report.age.and_then(|age| Value::of(age, Kind::Duration, false, program)),
                    from: report.from,
                    how: report.how.as_deref().map(str::to_owned),
                    needs: report.needs,
                }
            })
            .collect();
        let zone = at.session.setting().zone.clone().unwrap_or(jiff::tz::TimeZone::UTC);
        let when = at.at.zoned(&zone).strftime("%Y-%m-%dT%H:%M:%S%:z").to_string();
        // Who names readings wants just those.
        let beside = if self.names.is_empty() {
            let all = beside::beside(&moment, program.system == System::Nautical);
            all.into_iter().map(|beside| beside_document(beside, program, &zone)).collect()
        } else {
            Vec::new()
        };
        if self.json {
            output::json(&MomentDocument { at: when, chosen: at.chosen.text(), readings, beside });
            return;
        }
        let mut text = format!("{} ({})\n\n", when.replacen('T', " ", 1), at.chosen.text());
        for reading in readings {
            text.push_str(&line(&reading));
        }
        if !beside.is_empty() {
            text.push_str("\nBeside the readings:\n");
        }
        for BesideDocument { name, printed, note, .. } in &beside {
            text.push_str(&format!("{name:<21} {printed:<14} {note}\n"));
        }
        output::print(&text);
    }
}

fn beside_document(beside: beside::Beside, program: &Program, zone: &TimeZone) -> BesideDocument {
    let beside::Beside { name, value, note } = beside;
    let (printed, value, time) = match value {
        beside::Value::None => ("-".to_owned(), None, None),
        beside::Value::Step(step) => (step.to_string(), Some(Value::Number(step as f64)), None),
        // The period of waves is a matter of seconds.
        beside::Value::Counts(counts, Kind::Duration) => {
            let seconds = unrounded(counts, &SECONDS, Kind::Duration);
            (format!("{seconds:.1} s"), Some(Value::Quantity(seconds, "s")), None)
        }
        beside::Value::Counts(counts, kind) => {
            (program.print(counts, kind, false), Value::of(counts, kind, false, program), None)
        }
        beside::Value::Depths(from, to) => (
            range(from, to, Kind::Length, false, program.system),
            Value::range(from, to, Kind::Length, false, program),
            None,
        ),
        beside::Value::Time(at) => {
            let at = at.zoned(zone);
            (at.strftime("%H:%M").to_string(), None, Some(at.strftime("%Y-%m-%dT%H:%M:%S%:z").to_string()))
        }
    };
    BesideDocument { name, value, time, printed, note }
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

/// A program without a strategy, for the catalogue's readings alone.
fn no_strategy() -> Result<Arc<Program>, Faults> {
    let checked = check("readings", "strategy \"readings\"", &NoIncludes);
    checked
        .program
        .ok_or_else(|| Fault::new("the catalogue can't be shown: a fault of Leadsman, please report it").into())
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
