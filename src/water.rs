//! The derivations: what a boat measures made into what a strategy asks.
//!
//! One derivation is one small unit that says what it needs and what it gives; each file is a field of its own, pure,
//! with its published source named. What a derivation needs it asks of a [`Surroundings`]; what is missing it names.

pub mod beside;
pub mod cast;
pub mod current;
pub mod day;
pub mod estimate;
pub mod heat;
pub mod lake;
pub mod light;
pub mod oxygen;
pub mod sun;
pub mod waves;
pub mod wind;

use std::borrow::Cow;

use jiff::tz::TimeZone;

use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::time::Instant;
use cast::Cast;
use estimate::Estimate;
use heat::Layers;
use lake::Lake;

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
    /// What is known of the lake by itself.
    fn lake(&self) -> &Lake;
    /// The cast as it counts at this instant.
    fn cast(&self) -> Option<&Cast>;
    /// The layers of that cast.
    fn layers(&self) -> Layers;
    /// The estimate that stands in where nobody made a cast, or why there is none.
    fn estimate(&self) -> Result<&Estimate, Needs>;
}

/// What would make a reading known, as people say it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Needs(pub Cow<'static, str>);

impl From<&'static str> for Needs {
    fn from(text: &'static str) -> Self {
        Needs(text.into())
    }
}

impl From<String> for Needs {
    fn from(text: String) -> Self {
        Needs(text.into())
    }
}

/// What is missing of all that a derivation needs, as people say it.
fn missing<const N: usize>(needed: [(bool, &str); N]) -> String {
    let missing: Vec<&str> = needed.into_iter().filter_map(|(missing, what)| missing.then_some(what)).collect();
    missing.join(", ")
}

/// A derived value, or what it needs.
pub type Derived = Result<i64, Needs>;

/// A derivation: a reading of the catalogue worked out from others.
pub struct Derivation {
    /// What it gives.
    pub gives: Known,
    /// What it is worked out from, where a value is known.
    pub from: fn(&dyn Surroundings) -> &'static [&'static str],
    /// How, for the report of a reading.
    pub how: fn(&dyn Surroundings) -> &'static str,
    /// Whether the value is a model's estimate.
    pub estimated: fn(&dyn Surroundings) -> bool,
    /// The working out.
    pub derive: fn(&dyn Surroundings) -> Derived,
}

/// Every derivation of a plain reading.
pub static DERIVATIONS: [Derivation; 13] = [
    sun::SUN_HEIGHT,
    sun::SUN_RISING,
    light::LIGHT,
    light::DAYLIGHT,
    waves::WAVES,
    current::WATER_SPEED,
    heat::LAYERED,
    heat::THERMOCLINE_TOP,
    heat::THERMOCLINE_BOTTOM,
    day::MONTH,
    day::CLOCK,
    day::UNTIL_SUNSET,
    day::SINCE_SUNRISE,
];

/// The derivation of a reading, where there is one.
pub fn derivation(known: Known) -> Option<&'static Derivation> {
    DERIVATIONS.iter().find(|derivation| derivation.gives == known)
}

/// A derived call.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Call {
    /// Its value, or what it needs.
    pub value: Derived,
    /// Whether the value is a model's estimate.
    pub estimated: bool,
    /// What it is worked out from.
    pub from: &'static [&'static str],
    /// How.
    pub how: Option<&'static str>,
}

/// A derived call: `temp_at`, `oxygen_at`, `light_at` or `depth_of` with its argument in counts.
pub fn call(known: Known, kind: Kind, argument: i64, around: &dyn Surroundings) -> Call {
    let plain = |value, from| Call { value, estimated: false, from, how: None };
    match (known, kind) {
        (Known::TempAt, _) => {
            with_estimate(cast::temp_at(around.cast(), argument), around, |estimate| estimate.profile.at(argument))
        }
        (Known::DepthOf, Kind::Temperature) => {
            let measured = cast::depth_of_temperature(around.cast(), argument);
            with_estimate(measured, around, |estimate| estimate.profile.depth_of(argument))
        }
        (Known::OxygenAt, _) => plain(cast::oxygen_at(around.cast(), argument), &["cast"]),
        (Known::DepthOf, Kind::Oxygen) => plain(cast::depth_of_oxygen(around.cast(), argument), &["cast"]),
        (Known::LightAt, _) => light::call(light::light_at(around, argument)),
        _ => light::call(light::depth_of_light(around, argument)),
    }
}

/// What a cast says of temperature; else what the estimate says that stands in for one.
fn with_estimate(measured: Derived, around: &dyn Surroundings, of: impl Fn(&Estimate) -> Option<i64>) -> Call {
    let cast = Call { value: measured, estimated: false, from: &["cast", "surface"], how: None };
    let Err(needs) = &cast.value else { return cast };
    match around.estimate() {
        Ok(estimate) => match of(estimate) {
            Some(value) => Call { value: Ok(value), estimated: true, from: estimate::FROM, how: Some(estimate::HOW) },
            None => Call { value: Err("a cast, or the water file's `deep_water` for an estimate".into()), ..cast },
        },
        Err(_) => Call { value: Err(needs.clone()), ..cast },
    }
}
