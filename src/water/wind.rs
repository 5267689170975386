//! The wind of a mast: corrected for the height it was measured at, and for the boat's own motion.
//!
//! Source of the height's correction: *Coastal Engineering Manual* (US Army Corps of Engineers, 2002), II-2, equation
//! II-2-9: the speed grows with the seventh root of the height. The manual states it for 8 to 12 m; a small boat's mast
//! is below that, where the result is marked as outside the formula's range.

/// The heights for which the correction is stated, m.
const STATED: std::ops::RangeInclusive<f64> = 8.0..=12.0;

/// A wind as if measured at 10 m, and whether the correction is stated for where it was measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AtTenMetres {
    /// The speed, in the unit it was given in.
    pub speed: f64,
    /// Whether the height lies within the formula's range.
    pub stated: bool,
}

/// The wind at 10 m by that at a height, m; none for a height that is not above the water.
pub fn at_ten_metres(speed: f64, height: f64) -> Option<AtTenMetres> {
    let usable = height.is_finite() && height > 0.0;
    usable.then(|| AtTenMetres { speed: speed * libm::pow(10.0 / height, 1.0 / 7.0), stated: STATED.contains(&height) })
}

/// A speed and a direction in degrees clockwise from north.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vector {
    /// How fast.
    pub speed: f64,
    /// Where to or from.
    pub direction: f64,
}

impl Vector {
    /// Its parts to the east and to the north.
    pub fn parts(self) -> (f64, f64) {
        let (sin, cos) = libm::sincos(self.direction.to_radians());
        (self.speed * sin, self.speed * cos)
    }

    /// A vector of its parts to the east and to the north.
    pub fn of(east: f64, north: f64) -> Self {
        let direction = libm::atan2(east, north).to_degrees();
        // What rounds up to a full circle is north.
        let direction = if direction < 0.0 { (direction + 360.0) % 360.0 } else { direction };
        Self { speed: libm::hypot(east, north), direction }
    }

    /// The sum of both.
    pub fn plus(self, other: Vector) -> Vector {
        let (a, b) = (self.parts(), other.parts());
        Self::of(a.0 + b.0, a.1 + b.1)
    }

    /// This less the other.
    pub fn less(self, other: Vector) -> Vector {
        let (a, b) = (self.parts(), other.parts());
        Self::of(a.0 - b.0, a.1 - b.1)
    }
}

/// The true wind, by where it comes from: the apparent wind (its angle from the bow, degrees clockwise) with the boat's own
/// motion taken out. `heading` is where the bow points, `over_ground` how the boat really moves.
pub fn true_wind(apparent: f64, angle: f64, heading: f64, over_ground: Vector) -> Vector {
    // A boat that moves feels a wind from ahead of its own speed.
    Vector { speed: apparent, direction: heading + angle }.less(over_ground)
}
