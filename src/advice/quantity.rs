//! Values as data: with their units, unrounded.

use serde::{Serialize, Serializer, ser::SerializeMap};

use crate::program::Program;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::print::{self, System, Words};

/// A value of advice or of a reading.
///
/// Serialised: a quantity is `{"value": 12.5, "unit": "ft"}`, a range `{"from": 3, "to": 10, "unit": "ft"}`, words are a
/// list, a single word, a month or a time of day is a text, yes and no are `true` and `false`, a number is a number.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// A quantity in a unit.
    Quantity(f64, &'static str),
    /// A range in a unit.
    Range(f64, f64, &'static str),
    /// Alternatives.
    Words(Vec<String>),
    /// A word, a month, a direction or a time of day.
    Word(String),
    /// Yes or no.
    YesNo(bool),
    /// A plain number.
    Number(f64),
}

impl Serialize for Value {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Value::Quantity(value, unit) => {
                let mut map = serializer.serialize_map(Some(2))?;
                map.serialize_entry("value", &Plain(*value))?;
                map.serialize_entry("unit", unit)?;
                map.end()
            }
            Value::Range(from, to, unit) => {
                let mut map = serializer.serialize_map(Some(3))?;
                map.serialize_entry("from", &Plain(*from))?;
                map.serialize_entry("to", &Plain(*to))?;
                map.serialize_entry("unit", unit)?;
                map.end()
            }
            Value::Words(words) => words.serialize(serializer),
            Value::Word(word) => serializer.serialize_str(word),
            Value::YesNo(yes) => serializer.serialize_bool(*yes),
            Value::Number(number) => Plain(*number).serialize(serializer),
        }
    }
}

/// A number that is written without a point where it is whole.
struct Plain(f64);

impl Serialize for Plain {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let whole = self.0 == libm::trunc(self.0) && self.0.abs() < 9e15;
        if whole { serializer.serialize_i64(self.0 as i64) } else { serializer.serialize_f64(self.0) }
    }
}

impl Value {
    /// A value of a kind, in the units of a program.
    pub fn of(counts: i64, kind: Kind, small: bool, program: &Program) -> Option<Value> {
        Value::with(counts, kind, small, program.system, program)
    }

    /// A value of a kind, in a system of units.
    pub fn with(counts: i64, kind: Kind, small: bool, system: System, words: &dyn Words) -> Option<Value> {
        Some(match kind {
            Kind::YesNo => Value::YesNo(counts != 0),
            Kind::Number => Value::Number(unrounded_number(counts)),
            Kind::OneOf(_) | Kind::Month | Kind::Clock => Value::Word(print::value(counts, kind, small, system, words)),
            Kind::Place => return None,
            _ => match system.unit(kind, small) {
                Some(unit) => Value::Quantity(print::unrounded(counts, unit, kind), unit.symbol),
                None => Value::Number(unrounded_number(counts)),
            },
        })
    }

    /// A range of a kind, in the units of a program.
    pub fn range(from: i64, to: i64, kind: Kind, small: bool, program: &Program) -> Option<Value> {
        let unit = program.system.unit(kind, small)?;
        let end = |counts| print::unrounded(counts, unit, kind);
        Some(Value::Range(end(from), end(to), unit.symbol))
    }
}

fn unrounded_number(counts: i64) -> f64 {
    print::plain(counts).parse().unwrap_or(f64::NAN)
}
