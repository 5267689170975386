//! How values are printed: fixed decimals per unit, so that two prints of one value agree.

use super::kind::{COMPASS, Kind, MONTHS, WordSet};
use super::quantity::{CIRCLE, PER_UNIT, SECOND, divide_rounded};
use super::unit::{self, Unit};

/// The system of units in which advice is printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum System {
    /// °F, ft, in, mph, inHg.
    #[default]
    Us,
    /// °C, m, cm, km/h, hPa.
    Metric,
    /// As metric, with knots.
    Nautical,
}

impl System {
    /// The system of that name, in any case.
    pub fn find(word: &str) -> Option<System> {
        match word.to_ascii_lowercase().as_str() {
            "us" => Some(System::Us),
            "metric" => Some(System::Metric),
            "nautical" => Some(System::Nautical),
            _ => None,
        }
    }

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            System::Us => "us",
            System::Metric => "metric",
            System::Nautical => "nautical",
        }
    }

    /// The unit in which a kind is printed; `small` lengths are sizes of lures and heights of waves.
    pub fn unit(self, kind: Kind, small: bool) -> Option<&'static Unit> {
        let us = self == System::Us;
        Some(match kind {
            Kind::Temperature | Kind::Change => {
                if us {
                    &unit::FAHRENHEIT
                } else {
                    &unit::CELSIUS
                }
            }
            Kind::Length if small => {
                if us {
                    &unit::INCHES
                } else {
                    &unit::CENTIMETRES
                }
            }
            Kind::Length => {
                if us {
                    &unit::FEET
                } else {
                    &unit::METRES
                }
            }
            Kind::Speed => match self {
                System::Us => &unit::MILES_PER_HOUR,
                System::Metric => &unit::KILOMETRES_PER_HOUR,
                System::Nautical => &unit::KNOTS,
            },
            Kind::Pressure => {
                if us {
                    &unit::INCHES_OF_MERCURY
                } else {
                    &unit::HECTOPASCALS
                }
            }
            Kind::Angle | Kind::Direction => &unit::DEGREES,
            Kind::Share => &unit::PERCENT,
            Kind::Oxygen => &unit::MILLIGRAMS_PER_LITRE,
            Kind::Duration => &unit::MINUTES,
            _ => return None,
        })
    }
}

/// The number of `unit` in a value, rounded to so many places, halves away from zero, times ten to the places.
pub fn scaled(counts: i64, unit: &Unit, kind: Kind, places: u32) -> i128 {
    let above = i128::from(counts) - i128::from(unit.zero_for(&kind));
    divide_rounded(above * 10i128.pow(places), i128::from(unit.counts))
}

/// The number of `unit` in a value, printed to so many places.
pub fn number(counts: i64, unit: &Unit, kind: Kind, places: u32) -> String {
    fixed(scaled(counts, unit, kind, places), places)
}

/// The number of `unit` in a value, unrounded.
pub fn unrounded(counts: i64, unit: &Unit, kind: Kind) -> f64 {
    let above = i128::from(counts) - i128::from(unit.zero_for(&kind));
    // Twelve digits after the point say every count exactly and no more than that.
    let twelve = divide_rounded(above * 1_000_000_000_000, i128::from(unit.counts));
    nearest_short(twelve, 12).unwrap_or_else(|| fixed(twelve, 12).parse().unwrap_or(f64::NAN))
}

/// The number nearest to one with so many decimals, 12 at most, where it has few enough digits that floating point holds
/// them and the power of ten exactly: dividing the one by the other then rounds as reading the text would.
fn nearest_short(scaled: i128, places: u32) -> Option<f64> {
    let (mut digits, mut places) = (i64::try_from(scaled).ok()?, places);
    while places > 0 && digits % 10 == 0 {
        (digits, places) = (digits / 10, places - 1);
    }
    (digits.unsigned_abs() < 1 << 53).then(|| digits as f64 / 10u64.pow(places) as f64)
}

fn fixed(scaled: i128, places: u32) -> String {
    let sign = if scaled < 0 { "-" } else { "" };
    let (whole, part) = (scaled.unsigned_abs() / 10u128.pow(places), scaled.unsigned_abs() % 10u128.pow(places));
    if places == 0 {
        format!("{sign}{whole}")
    } else {
        format!("{sign}{whole}.{part:0width$}", width = places as usize)
    }
}

/// A number with its unit, as it is printed: a blank between, save before `°` and its like.
pub fn with_unit(number: &str, symbol: &str) -> String {
    if symbol == "°" { format!("{number}{symbol}") } else { format!("{number} {symbol}") }
}

/// How a printer knows about the words of one-of kinds.
pub trait Words {
    /// The words of a set.
    fn set(&self, id: super::kind::SetId) -> Option<&WordSet>;
}

/// A value of any kind as people read it.
pub fn value(counts: i64, kind: Kind, small: bool, system: System, words: &dyn Words) -> String {
    match kind {
        Kind::YesNo => if counts == 0 { "no" } else { "yes" }.to_owned(),
        Kind::OneOf(set) => usize::try_from(counts)
            .ok()
            .and_then(|at| words.set(set)?.words.get(at).cloned())
            .unwrap_or_else(|| "?".to_owned()),
        Kind::Month => usize::try_from(counts - 1).ok().and_then(|at| MONTHS.get(at)).map_or("?", |m| m).to_owned(),
        Kind::Clock => clock(counts),
        Kind::Duration => duration(counts),
        Kind::Direction => direction(counts),
        Kind::Number => plain(counts),
        _ => match system.unit(kind, small) {
            Some(unit) => with_unit(&number(counts, unit, kind, unit.places), unit.symbol),
            None => plain(counts),
        },
    }
}

/// A range as people read it: `3 to 10 ft`, or one value where both ends print alike.
pub fn range(from: i64, to: i64, kind: Kind, small: bool, system: System) -> String {
    match system.unit(kind, small) {
        Some(unit) => {
            let end = |counts| number(counts, unit, kind, unit.places);
            let (low, high) = (end(from), end(to));
            if low == high { with_unit(&low, unit.symbol) } else { with_unit(&format!("{low} to {high}"), unit.symbol) }
        }
        None => format!("{} to {}", plain(from), plain(to)),
    }
}

/// A plain number without needless zeros.
pub fn plain(counts: i64) -> String {
    let text = fixed(divide_rounded(i128::from(counts) * 1_000_000, i128::from(PER_UNIT)), 6);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A time of day: `05:30`, with seconds where there are any.
pub fn clock(counts: i64) -> String {
    let seconds = counts.rem_euclid(super::quantity::DAY) / SECOND;
    let (hour, minute, second) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    if second == 0 { format!("{hour:02}:{minute:02}") } else { format!("{hour:02}:{minute:02}:{second:02}") }
}

/// A stretch of time: `1 h 20 min`, `45 s`.
pub fn duration(counts: i64) -> String {
    let sign = if counts < 0 { "-" } else { "" };
    let seconds = divide_rounded(i128::from(counts), i128::from(SECOND)).unsigned_abs();
    let (hours, minutes, rest) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    let mut parts = Vec::new();
    if hours > 0 {
        parts.push(format!("{hours} h"));
    }
    if minutes > 0 {
        parts.push(format!("{minutes} min"));
    }
    if rest > 0 || parts.is_empty() {
        parts.push(if parts.is_empty() && rest == 0 { "0 min".to_owned() } else { format!("{rest} s") });
    }
    format!("{sign}{}", parts.join(" "))
}

fn direction(counts: i64) -> String {
    let round = counts.rem_euclid(CIRCLE);
    let point = CIRCLE / 16;
    match (round % point == 0, usize::try_from(round / point)) {
        (true, Ok(at)) if at < COMPASS.len() => COMPASS[at].to_owned(),
        _ => with_unit(&number(round, &unit::DEGREES, Kind::Angle, 0), "°"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::vocabulary::quantity::{HOUR, MINUTE};

    // Text and back is the long way, which is right by itself.
    #[test]
    fn the_short_way_to_a_number_is_the_long_one() {
        let mut short = 0;
        let steps = (0..400_000i128).map(|step| step * step * 1_237 - 90_000_000_000 + step);
        let edges = [0, 1, -1, 1 << 53, (1 << 53) - 1, -(1 << 53) + 1, 10i128.pow(12), i128::from(i64::MAX), 1 << 70];
        for digits in steps.chain(edges) {
            for scaled in [digits, digits * 1_000_000, digits * 5_000_000_000] {
                let Some(number) = nearest_short(scaled, 12) else { continue };
                let long: f64 = fixed(scaled, 12).parse().unwrap();
                assert_eq!(number.to_bits(), long.to_bits(), "{scaled}");
                short += 1;
            }
        }
        assert!(short > 400_000, "{short} went the short way");
    }

    #[test]
    fn decimals_are_fixed_per_unit_and_halves_go_away_from_zero() {
        let half_inch = 228_600 * 5 / 2;
        assert_eq!(number(half_inch, &unit::INCHES, Kind::Length, 0), "3");
        assert_eq!(number(-half_inch, &unit::INCHES, Kind::Length, 0), "-3");
        assert_eq!(range(3 * 2_743_200, 10 * 2_743_200, Kind::Length, false, System::Us), "3 to 10 ft");
        assert_eq!(range(2_743_200, 2_743_201, Kind::Length, false, System::Us), "1 ft");
        assert_eq!(duration(80 * MINUTE), "1 h 20 min");
        assert_eq!(duration(0), "0 min");
        assert_eq!(clock(5 * HOUR + 30 * MINUTE), "05:30");
        assert_eq!(plain(PER_UNIT / 4), "0.25");
        assert!(
            (unrounded(62 * 5_000_000 + unit::FAHRENHEIT.zero, &unit::FAHRENHEIT, Kind::Temperature) - 62.0).abs()
                < 1e-12
        );
    }
}
