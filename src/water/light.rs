//! Classes of light by the sun's height.
//!
//! `dark` below -6° and `twilight` below -0.833° are the published limits of civil twilight and of sunrise and sunset
//! (the definitions of the national almanac offices); `low_sun` below 15° is our own class.

use super::Derivation;
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::quantity::PER_UNIT;

/// The heights at which `twilight`, `low_sun` and `high_sun` begin, in counts of a degree.
pub const LIMITS: [i64; 3] = [-6 * PER_UNIT, -833 * (PER_UNIT / 1000), 15 * PER_UNIT];

pub(super) const LIGHT: Derivation = Derivation {
    gives: Known::Light,
    how: "from the sun's height",
    derive: |around| match around.reading(Known::SunHeight) {
        Some(height) => Ok(class(height)),
        None => Err("the sun's height: a position and a time".into()),
    },
};

/// The number of the class of a height among the words of `light`.
pub fn class(height: i64) -> i64 {
    LIMITS.iter().map(|limit| i64::from(height >= *limit)).sum()
}

#[cfg(test)]
mod tests {
    use super::{LIMITS, class};

    #[test]
    fn a_limit_belongs_to_the_lighter_class() {
        for (at, limit) in (0..).zip(LIMITS) {
            assert_eq!((class(limit - 1), class(limit)), (at, at + 1));
        }
    }
}
