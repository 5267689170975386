//! The units of the language: how they are written, what they measure, how many counts they are.

use super::kind::Kind;
use super::quantity::{CIRCLE, HOUR, MINUTE, PER_UNIT, SECOND};

/// A unit. Every one is exact in counts (see [`super::quantity`]).
#[derive(Debug, PartialEq, Eq)]
pub struct Unit {
    /// How it is printed.
    pub symbol: &'static str,
    /// What it measures; a temperature's unit serves changes of temperature too.
    pub kind: Kind,
    /// Counts in one of it.
    pub counts: i64,
    /// Counts at its zero, which only temperatures have.
    pub zero: i64,
    /// Digits after the point when it is printed.
    pub places: u32,
    /// The other ways of writing it.
    names: &'static [&'static str],
}

const fn unit(symbol: &'static str, kind: Kind, counts: i64, places: u32, names: &'static [&'static str]) -> Unit {
    Unit { symbol, kind, counts, zero: 0, places, names }
}

const FOOT: i64 = 2_743_200;
const INCH: i64 = FOOT / 12;

/// Degrees Fahrenheit; its zero is 459.67 °F above absolute zero.
pub static FAHRENHEIT: Unit =
    Unit { zero: 2_298_350_000, ..unit("°F", Kind::Temperature, 5_000_000, 0, &["f", "fahrenheit"]) };
/// Degrees Celsius.
pub static CELSIUS: Unit =
    Unit { zero: 2_458_350_000, ..unit("°C", Kind::Temperature, PER_UNIT, 1, &["c", "celsius"]) };
static KELVIN: Unit = unit("K", Kind::Temperature, PER_UNIT, 2, &["kelvin", "kelvins"]);
/// Feet of 0.3048 m.
pub static FEET: Unit = unit("ft", Kind::Length, FOOT, 0, &["foot", "feet"]);
/// Inches.
pub static INCHES: Unit = unit("in", Kind::Length, INCH, 1, &["inch", "inches"]);
static YARDS: Unit = unit("yd", Kind::Length, 3 * FOOT, 1, &["yard", "yards"]);
/// Metres.
pub static METRES: Unit = unit("m", Kind::Length, PER_UNIT, 1, &["metre", "metres", "meter", "meters"]);
/// Centimetres.
pub static CENTIMETRES: Unit =
    unit("cm", Kind::Length, PER_UNIT / 100, 0, &["centimetre", "centimetres", "centimeter", "centimeters"]);
static MILLIMETRES: Unit =
    unit("mm", Kind::Length, PER_UNIT / 1000, 0, &["millimetre", "millimetres", "millimeter", "millimeters"]);
static MILES: Unit = unit("mi", Kind::Length, 5280 * FOOT, 2, &["mile", "miles"]);
static KILOMETRES: Unit =
    unit("km", Kind::Length, 1000 * PER_UNIT, 2, &["kilometre", "kilometres", "kilometer", "kilometers"]);
static NAUTICAL_MILES: Unit = unit("nmi", Kind::Length, 1852 * PER_UNIT, 2, &[]);
static FATHOMS: Unit = unit("fathom", Kind::Length, 6 * FOOT, 1, &["fathoms"]);
/// Statute miles an hour.
pub static MILES_PER_HOUR: Unit = unit("mph", Kind::Speed, 4_023_360, 1, &[]);
/// Knots: 1852 m an hour.
pub static KNOTS: Unit = unit("kn", Kind::Speed, 4_630_000, 1, &["knot", "knots"]);
/// Kilometres an hour.
pub static KILOMETRES_PER_HOUR: Unit = unit("km/h", Kind::Speed, 2_500_000, 1, &[]);
static METRES_PER_SECOND: Unit = unit("m/s", Kind::Speed, PER_UNIT, 1, &[]);
static FEET_PER_MINUTE: Unit = unit("ft/min", Kind::Speed, FOOT / 60, 0, &[]);
/// Seconds.
pub static SECONDS: Unit = unit("s", Kind::Duration, SECOND, 0, &["sec", "second", "seconds"]);
/// Minutes.
pub static MINUTES: Unit = unit("min", Kind::Duration, MINUTE, 0, &["minute", "minutes"]);
/// Hours.
pub static HOURS: Unit = unit("h", Kind::Duration, HOUR, 1, &["hour", "hours"]);
static DAYS: Unit = unit("day", Kind::Duration, 24 * HOUR, 1, &["days"]);
/// Degrees of angle.
pub static DEGREES: Unit = unit("°", Kind::Angle, CIRCLE / 360, 0, &["deg", "degree", "degrees"]);
/// Hundredths.
pub static PERCENT: Unit = unit("%", Kind::Share, PER_UNIT / 100, 0, &["percent"]);
/// Hectopascals.
pub static HECTOPASCALS: Unit = unit("hPa", Kind::Pressure, 100 * PER_UNIT, 0, &[]);
static MILLIBARS: Unit = unit("mbar", Kind::Pressure, 100 * PER_UNIT, 0, &["millibar", "millibars"]);
/// Inches of mercury: 3386.389 Pa.
pub static INCHES_OF_MERCURY: Unit = unit("inHg", Kind::Pressure, 30_477_501_000, 2, &[]);
/// Milligrams a litre, which are grams a cubic metre.
pub static MILLIGRAMS_PER_LITRE: Unit = unit("mg/L", Kind::Oxygen, PER_UNIT / 1000, 1, &[]);

/// Every unit of the language.
pub static UNITS: [&Unit; 28] = [
    &FAHRENHEIT,
    &CELSIUS,
    &KELVIN,
    &FEET,
    &INCHES,
    &YARDS,
    &METRES,
    &CENTIMETRES,
    &MILLIMETRES,
    &MILES,
    &KILOMETRES,
    &NAUTICAL_MILES,
    &FATHOMS,
    &MILES_PER_HOUR,
    &KNOTS,
    &KILOMETRES_PER_HOUR,
    &METRES_PER_SECOND,
    &FEET_PER_MINUTE,
    &SECONDS,
    &MINUTES,
    &HOURS,
    &DAYS,
    &DEGREES,
    &PERCENT,
    &HECTOPASCALS,
    &MILLIBARS,
    &INCHES_OF_MERCURY,
    &MILLIGRAMS_PER_LITRE,
];

impl Unit {
    /// The unit written so, in any case; none if there is no such unit.
    pub fn find(written: &str) -> Option<&'static Unit> {
        UNITS.iter().copied().find(|unit| {
            unit.symbol.eq_ignore_ascii_case(written)
                || unit.names.iter().any(|name| name.eq_ignore_ascii_case(written))
        })
    }

    /// Every way of writing every unit, for finding the nearest.
    pub fn spellings() -> impl Iterator<Item = &'static str> {
        UNITS.into_iter().flat_map(|unit| std::iter::once(unit.symbol).chain(unit.names.iter().copied()))
    }

    /// Whether a word is the name of a unit, so that nothing else may take it.
    pub fn is_unit(word: &str) -> bool {
        Self::find(word).is_some()
    }

    /// The zero of this unit where a temperature is meant; a change has none.
    pub fn zero_for(&self, kind: &Kind) -> i64 {
        if *kind == Kind::Temperature { self.zero } else { 0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::vocabulary::quantity::Decimal;

    fn counts(number: &str, unit: &str) -> i64 {
        let unit = Unit::find(unit).expect("a unit");
        Decimal::read(number).expect("a number").counts(unit.counts, unit.zero).expect("fits")
    }

    // The exact definitions of the international yard (1959), the knot and the Celsius and Fahrenheit scales.
    #[test]
    fn exact_definitions_hold() {
        assert_eq!(counts("12", "in"), counts("1", "ft"));
        assert_eq!(counts("1", "yd"), counts("0.9144", "m"));
        assert_eq!(counts("1", "mi"), counts("1609.344", "m"));
        assert_eq!(counts("1", "nmi"), counts("1852", "m"));
        assert_eq!(counts("5", "fathom"), counts("9.144", "m"));
        assert_eq!(counts("2", "mph"), counts("0.89408", "m/s"));
        assert_eq!(counts("1", "kn"), counts("1.852", "km/h"));
        assert_eq!(counts("68", "F"), counts("20", "°C"));
        assert_eq!(counts("459.67", "F") - FAHRENHEIT.zero, FAHRENHEIT.zero);
        assert_eq!(counts("1", "inHg"), counts("33.86389", "hPa"));
    }
}
