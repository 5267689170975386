//! The derivations: what a boat measures made into what a strategy asks.
//!
//! One derivation is one small unit that says what it needs and what it gives; each file is a field of its own, pure,
//! with its published source named. What a derivation needs it asks of a [`Surroundings`]; what is missing it names.

pub mod cast;
pub mod day;
pub mod light;
pub mod sun;

use jiff::tz::TimeZone;

use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::time::Instant;
use cast::Cast;

/// A place on the map, in decimal degrees, north and east positive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Latitude, -90 to 90.
    pub latitude: f64,
    /// Longitude, -180 to 180.
    pub longitude: f64,
}

/// What derivations ask of the readings at one instant.
pub trait Surroundings {
    /// The instant, where it has a place in the calendar.
    fn calendar(&self) -> Option<Instant>;
    /// The time zone of the water.
    fn zone(&self) -> Option<&TimeZone>;
    /// Where the boat is, or where the water lies.
    fn place(&self) -> Option<Place>;
    /// Another reading, given or derived.
    fn reading(&self, known: Known) -> Option<i64>;
    /// The cast as it counts at this instant.
    fn cast(&self) -> Option<&Cast>;
}

/// What would make a reading known, as people say it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Needs(pub String);

impl From<&str> for Needs {
    fn from(text: &str) -> Self {
        Needs(text.to_owned())
    }
}

/// A derived value, or what it needs.
pub type Derived = Result<i64, Needs>;

/// A derivation: a reading of the catalogue worked out from others.
pub struct Derivation {
    /// What it gives.
    pub gives: Known,
    /// How, for the report of a reading.
    pub how: &'static str,
    /// The working out.
    pub derive: fn(&dyn Surroundings) -> Derived,
}

/// Every derivation of a plain reading.
pub static DERIVATIONS: [Derivation; 7] =
    [sun::SUN_HEIGHT, sun::SUN_RISING, light::LIGHT, day::MONTH, day::CLOCK, day::UNTIL_SUNSET, day::SINCE_SUNRISE];

/// The derivation of a reading, where there is one.
pub fn derivation(known: Known) -> Option<&'static Derivation> {
    DERIVATIONS.iter().find(|derivation| derivation.gives == known)
}

/// A derived call: `temp_at`, `oxygen_at`, `light_at` or `depth_of` with its argument in counts.
pub fn call(known: Known, kind: Kind, argument: i64, around: &dyn Surroundings) -> Derived {
    match (known, kind) {
        (Known::TempAt, _) => cast::temp_at(around.cast(), argument),
        (Known::OxygenAt, _) => cast::oxygen_at(around.cast(), argument),
        (Known::DepthOf, Kind::Temperature) => cast::depth_of_temperature(around.cast(), argument),
        (Known::DepthOf, Kind::Oxygen) => cast::depth_of_oxygen(around.cast(), argument),
        _ => Err("to be given: this version does not derive it".into()),
    }
}
