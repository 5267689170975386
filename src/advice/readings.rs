//! Every reading of a moment, whether a strategy asks for it or not, and what stands beside them.

use jiff::tz::TimeZone;
use serde::Serialize;

use super::quantity::Value;
use super::{ReadingAdvice, origin_of};
use crate::program::{GivenTarget, InputSource, Program};
use crate::session::Moment;
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::print::{System, range, unrounded};
use crate::vocabulary::time::to_the_second;
use crate::vocabulary::unit::SECONDS;
use crate::water::beside;

/// A reading that is asked for: the name it is asked by, what it is, and its kind.
pub type Asked = (String, GivenTarget, Kind);

/// Every reading of the catalogue that a strategy does not hide, its own, and the calls that it asks for.
pub fn every(program: &Program) -> Vec<Asked> {
    let plain = Known::ALL.into_iter().filter(|known| known.entry().takes.is_none());
    let known = plain.filter(|known| program.own_reading(known.name()).is_none());
    let known = known.map(|known| (known.name().to_owned(), GivenTarget::Known(known), known.entry().kind));
    let own = program.own.iter().enumerate();
    let own = own.map(|(at, own)| (own.name.clone(), GivenTarget::Own(at), own.kind));
    let calls = program.inputs.iter().filter_map(|input| match input.source {
        InputSource::Call(known, kind, argument) => {
            Some((program.input_name(input.source), GivenTarget::Call(known, kind, argument), input.kind))
        }
        _ => None,
    });
    known.chain(own).chain(calls).collect()
}

/// A reading of a moment, in the units of a strategy.
pub fn reading(program: &Program, moment: &Moment<'_>, (name, target, kind): &Asked) -> ReadingAdvice {
    let report = moment.report_of(*target);
    let small = *target == GivenTarget::Known(Known::Waves);
    let printed = report.value.map(|value| match &report.written {
        Some(written) => written.to_string(),
        None if *kind == Kind::Place => "known".to_owned(),
        None => program.print(value, *kind, small),
    });
    let value = report.value.and_then(|value| Value::of(value, *kind, small, program));
    origin_of(program, name.clone(), value, printed, report)
}

/// One thing beside the readings: a quantity, a range of depths, a step of a scale, or a time of the day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BesideReading {
    /// What it is.
    pub name: String,
    /// Its value; none where there is none, or where it is a time.
    pub value: Option<Value>,
    /// The time, with its offset.
    pub time: Option<String>,
    /// The same as it is printed.
    #[serde(skip)]
    pub printed: String,
    /// What there is to say of it; where there is none, why.
    pub note: String,
}

/// What stands beside the readings of a moment.
pub fn beside(program: &Program, moment: &Moment<'_>, zone: &TimeZone) -> Vec<BesideReading> {
    let all = beside::beside(moment, program.system == System::Nautical);
    all.into_iter().map(|one| beside_reading(one, program, zone)).collect()
}

fn beside_reading(beside: beside::Beside, program: &Program, zone: &TimeZone) -> BesideReading {
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
            (at.strftime("%H:%M").to_string(), None, Some(to_the_second(&at)))
        }
    };
    BesideReading { name, value, time, printed, note }
}
