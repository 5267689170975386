//! Speed through the water where no log measures it: the way over the ground less the current.

use super::wind::Vector;
use super::{Derivation, Needs, Surroundings, missing};
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::quantity::{from_si, to_si};

pub(super) const WATER_SPEED: Derivation = Derivation {
    gives: Known::WaterSpeed,
    from: |_| &["ground_speed", "course", "water file"],
    how: |_| "the way over the ground less the current that the water file states",
    estimated: |_| false,
    derive: |around| {
        let way = || {
            let speed = to_si(around.reading(Known::GroundSpeed)?);
            Some(Vector { speed, direction: to_si(around.reading(Known::Course)?) })
        };
        let current = around.lake().current;
        let (Some(way), Some(current)) = (way(), current) else { return Err(needs(around)) };
        let current = Vector { speed: to_si(current.drift), direction: to_si(current.set) };
        from_si(through_water(way, current).speed).ok_or_else(|| needs(around))
    },
};

fn needs(around: &dyn Surroundings) -> Needs {
    let missing = missing([
        (around.reading(Known::GroundSpeed).is_none(), "the speed over ground"),
        (around.reading(Known::Course).is_none(), "the course over ground"),
        (around.lake().current.is_none(), "the water file's `current`"),
    ]);
    format!("a log that measures it; or {}", missing).into()
}

/// The way through the water: that over the ground less the current, by where both go to.
pub fn through_water(over_ground: Vector, current: Vector) -> Vector {
    over_ground.less(current)
}
