//! A cast: temperature and oxygen against depth, linear between points, nothing known beyond them.

use super::{Derived, Needs};
use crate::vocabulary::kind::Kind;
use crate::vocabulary::print::{System, number};
use crate::vocabulary::quantity::divide_rounded;
use crate::vocabulary::unit;

/// A profile: depths, growing, and what was measured there; both in counts.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Profile {
    points: Vec<(i64, i64)>,
}

impl Profile {
    /// A profile of points whose depths grow.
    pub fn new(points: Vec<(i64, i64)>) -> Self {
        Self { points }
    }

    /// Its points.
    pub fn points(&self) -> &[(i64, i64)] {
        &self.points
    }

    /// What was measured at the surface itself.
    pub fn at_surface(&self) -> Option<i64> {
        self.points.first().filter(|(depth, _)| *depth == 0).map(|(_, value)| *value)
    }

    /// The same with another value at the surface.
    pub fn with_surface(&self, value: i64) -> Self {
        let below = self.points.iter().copied().filter(|(depth, _)| *depth != 0);
        Self { points: std::iter::once((0, value)).chain(below).collect() }
    }

    /// The value at a depth, between its points.
    pub(super) fn at(&self, depth: i64) -> Option<i64> {
        let next = self.points.partition_point(|(point, _)| *point < depth);
        let &(below, value_below) = self.points.get(next)?;
        if below == depth {
            return Some(value_below);
        }
        let &(above, value_above) = self.points.get(next.checked_sub(1)?)?;
        interpolate((above, value_above), (below, value_below), depth)
    }

    /// The shallowest depth where the value is at a level or lower, where that is certain.
    pub(super) fn depth_of(&self, level: i64) -> Option<i64> {
        let &(first, value) = self.points.first()?;
        if value <= level {
            return (first == 0).then_some(0);
        }
        for pair in self.points.windows(2) {
            let [(above, value_above), (below, value_below)] = *pair else { continue };
            if value_below <= level {
                // The value falls through the level within this stretch: the roles of depth and value change.
                return interpolate((value_above, above), (value_below, below), level);
            }
        }
        None
    }

    /// Whether the value is above a level at every point down to a depth, which the profile reaches.
    pub(super) fn stays_above(&self, level: i64, depth: i64) -> bool {
        self.points.iter().all(|(_, value)| *value > level) && self.deepest().is_some_and(|(last, _)| last >= depth)
    }

    fn deepest(&self) -> Option<(i64, i64)> {
        self.points.last().copied()
    }
}

/// The value at `x` on the line through two points, rounded once, halves away from zero.
pub(super) fn interpolate((x0, y0): (i64, i64), (x1, y1): (i64, i64), x: i64) -> Option<i64> {
    let [x0, y0, x1, y1, x] = [x0, y0, x1, y1, x].map(i128::from);
    if x0 == x1 {
        return i64::try_from(y1).ok();
    }
    i64::try_from(divide_rounded(y0 * (x1 - x0) + (y1 - y0) * (x - x0), x1 - x0)).ok()
}

/// What a cast measured.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Cast {
    /// Temperature against depth.
    pub temperature: Profile,
    /// Oxygen against depth.
    pub oxygen: Profile,
}

impl Cast {
    /// A cast of points whose depths grow; each has a temperature, an oxygen content or both.
    pub fn new(points: impl IntoIterator<Item = (i64, Option<i64>, Option<i64>)>) -> Self {
        let mut cast = Cast::default();
        for (depth, temperature, oxygen) in points {
            cast.temperature.points.extend(temperature.map(|value| (depth, value)));
            cast.oxygen.points.extend(oxygen.map(|value| (depth, value)));
        }
        cast
    }
}

/// The temperature at a depth.
pub fn temp_at(cast: Option<&Cast>, depth: i64) -> Derived {
    let profile = measured(cast.map(|cast| &cast.temperature), "a cast of temperatures")?;
    profile.at(depth).ok_or_else(|| reaches(profile, depth))
}

/// The oxygen at a depth; never below zero, though a probe's noise may be.
pub fn oxygen_at(cast: Option<&Cast>, depth: i64) -> Derived {
    let profile = measured(cast.map(|cast| &cast.oxygen), "a cast with oxygen")?;
    profile.at(depth).map(|oxygen| oxygen.max(0)).ok_or_else(|| reaches(profile, depth))
}

/// The shallowest depth where the water is at a temperature or cooler.
pub fn depth_of_temperature(cast: Option<&Cast>, level: i64) -> Derived {
    let profile = measured(cast.map(|cast| &cast.temperature), "a cast of temperatures, or the surface temperature")?;
    profile.depth_of(level).ok_or_else(|| ends(profile, Kind::Temperature))
}

/// The shallowest depth where the water holds an oxygen content or less.
pub fn depth_of_oxygen(cast: Option<&Cast>, level: i64) -> Derived {
    let profile = measured(cast.map(|cast| &cast.oxygen), "a cast with oxygen")?;
    profile.depth_of(level).ok_or_else(|| ends(profile, Kind::Oxygen))
}

fn measured<'c>(profile: Option<&'c Profile>, needs: &'static str) -> Result<&'c Profile, Needs> {
    profile.filter(|profile| !profile.points.is_empty()).ok_or_else(|| needs.into())
}

fn feet(depth: i64) -> String {
    format!("{} ft", number(depth, &unit::FEET, Kind::Length, 0))
}

fn reaches(profile: &Profile, depth: i64) -> Needs {
    let (from, to) = (profile.points.first(), profile.points.last());
    let (from, to) = (from.map_or(0, |point| point.0), to.map_or(0, |point| point.0));
    format!("a cast that reaches {}; the last one covers {} to {}", feet(depth), feet(from), feet(to)).into()
}

fn ends(profile: &Profile, kind: Kind) -> Needs {
    let begins_below = profile.points.first().is_some_and(|(depth, _)| *depth > 0);
    let Some((deepest, value)) = profile.deepest() else { return "a cast".into() };
    let unit = System::Us.unit(kind, false).unwrap_or(&unit::FAHRENHEIT);
    let value = format!("{} {}", number(value, unit, kind, unit.places), unit.symbol);
    let surface = if begins_below { " and begins at the surface" } else { "" };
    format!("a cast that goes deeper{surface}; the last one ended at {} with {value}", feet(deepest)).into()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn profile(points: &[(i64, i64)]) -> Profile {
        Profile::new(points.to_vec())
    }

    #[test]
    fn depth_of_is_the_shallowest_certain_depth() {
        let cast = profile(&[(0, 70), (10, 66), (20, 60), (30, 64), (40, 50)]);
        assert_eq!(cast.depth_of(70), Some(0), "the surface is there already");
        assert_eq!(cast.depth_of(63), Some(15));
        assert_eq!(cast.depth_of(60), Some(20), "a warmer layer below does not matter");
        assert_eq!(cast.depth_of(49), None, "the cast ends before");
        assert_eq!(profile(&[(5, 60), (10, 50)]).depth_of(60), None, "it begins below the surface already there");
        assert_eq!(profile(&[(5, 60), (10, 50)]).depth_of(55), Some(8), "halves round away from zero");
    }

    #[test]
    fn between_points_values_are_linear_and_beyond_them_nothing_is_known() {
        let cast = profile(&[(10, 66), (20, 60)]);
        assert_eq!(
            [cast.at(9), cast.at(10), cast.at(15), cast.at(20), cast.at(21)],
            [None, Some(66), Some(63), Some(60), None]
        );
    }
}
