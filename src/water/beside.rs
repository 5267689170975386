//! What stands beside the readings of a moment, for those who know it: the wind's force, the sea's state, the sun's day,
//! what the water can hold, where a fish finds what it needs. No rule asks for these.

use super::estimate::Estimate;
use super::oxygen::{Layer, layer, saturation, standard_pressure};
use super::sun::{Always, Events, astronomical_twilight, civil_twilight, nautical_twilight, noon, rise_and_set};
use super::{Surroundings, day, heat, waves};
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::quantity::{from_si, to_si};
use crate::vocabulary::time::Instant;

/// One thing beside the readings.
#[derive(Clone, Debug, PartialEq)]
pub struct Beside {
    /// What it is.
    pub name: String,
    /// Its value.
    pub value: Value,
    /// What there is to say of it: where it came from, or why there is none.
    pub note: String,
}

/// A value beside the readings.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// There is none, and the note says why.
    None,
    /// A whole number of a scale.
    Step(usize),
    /// Counts of a kind.
    Counts(i64, Kind),
    /// From one depth to another, counts.
    Depths(i64, i64),
    /// A time of that day.
    Time(Instant),
}

/// Everything beside the readings that can be told; what nothing is known of is left out. `knots` says whether winds are
/// printed in knots, whose steps of the Beaufort scale are their own.
pub fn beside(around: &dyn Surroundings, knots: bool) -> Vec<Beside> {
    let mut list = Vec::new();
    wind_and_sea(around, knots, &mut list);
    sun(around, &mut list);
    water(around, &mut list);
    list
}

fn put(list: &mut Vec<Beside>, name: impl Into<String>, value: Value, note: impl Into<String>) {
    list.push(Beside { name: name.into(), value, note: note.into() });
}

/// Metres a second of a knot.
const KNOT: f64 = 1852.0 / 3600.0;

fn wind_and_sea(around: &dyn Surroundings, knots: bool, list: &mut Vec<Beside>) {
    if let Some(wind) = around.reading(Known::Wind).map(to_si) {
        let step = if knots { waves::beaufort_of_knots(wind / KNOT) } else { waves::beaufort(wind) };
        put(list, "wind force", Value::Step(step), "Beaufort scale");
    }
    if let Some(height) = around.reading(Known::Waves).map(to_si) {
        let (code, name) = waves::sea_state(height);
        put(list, "sea state", Value::Step(code), format!("{name}; WMO code table 3700"));
    }
    if let Ok(waves) = waves::of_wind(around)
        && let Some(period) = from_si(waves.period)
    {
        put(list, "wave period", Value::Counts(period, Kind::Duration), "estimated from wind, fetch and depth");
    }
}

fn sun(around: &dyn Surroundings, list: &mut Vec<Beside>) {
    let Ok((_, from, to)) = day::local_day(around) else { return };
    let Some(place) = around.place() else { return };
    type Course = fn(super::Place, Instant, Instant) -> Option<Events>;
    let courses: [(&str, &str, &str, Course); 4] = [
        ("astronomical dawn", "astronomical dusk", "18° below the horizon", astronomical_twilight),
        ("nautical dawn", "nautical dusk", "12° below the horizon", nautical_twilight),
        ("civil dawn", "civil dusk", "6° below the horizon", civil_twilight),
        ("sunrise", "sunset", "the sun's upper edge on the horizon", rise_and_set),
    ];
    let events: Vec<_> = courses.iter().map(|(.., course)| course(place, from, to)).collect();
    let mut tell = |name: &str, note: &str, events: &Events, at: Option<Instant>| match (at, events.always) {
        (Some(at), _) => put(list, name, Value::Time(at), note),
        (None, Some(Always::Above)) => put(list, name, Value::None, "none: the sun stays above it all day"),
        (None, Some(Always::Below)) => put(list, name, Value::None, "none: the sun stays below it all day"),
        (None, None) => put(list, name, Value::None, "none on this day"),
    };
    for ((name, _, note, _), events) in courses.iter().zip(&events) {
        if let Some(events) = events {
            tell(name, note, events, events.rise);
        }
    }
    if let Some(noon) = noon(place, from, to) {
        let none = Events { rise: None, set: None, always: None };
        tell("noon", "the sun at its highest", &none, Some(noon));
    }
    for ((_, name, note, _), events) in courses.iter().zip(&events).rev() {
        if let Some(events) = events {
            tell(name, note, events, events.set);
        }
    }
}

fn water(around: &dyn Surroundings, list: &mut Vec<Beside>) {
    if let heat::Layers::Layered(thermocline) = around.layers()
        && let Some(depth) = from_si(thermocline.depth)
    {
        put(list, "thermocline", Value::Counts(depth, Kind::Length), "where the density changes fastest");
    }
    match around.estimate() {
        Ok(Estimate { top, spread: (least, most), .. }) => {
            put(list, "top layer", Value::Counts(*top, Kind::Length), "estimated: nobody made a cast");
            put(list, "top layer by others", Value::Depths(*least, *most), "what other regressions of the kind give");
        }
        // With a cast nobody misses an estimate.
        Err(needs) if around.reading(Known::CastMeasured) != Some(1) => {
            put(list, "top layer", Value::None, needs.0.into_owned())
        }
        Err(_) => {}
    }
    let elevation = around.lake().elevation;
    if let (Some(surface), Some(elevation)) = (around.reading(Known::Surface), elevation)
        && let Some(held) = saturation(to_si(surface) - 273.15, standard_pressure(to_si(elevation)))
        && let Some(held) = from_si(held / 1000.0)
    {
        let note = "what water of the surface's temperature holds at this height over the sea";
        put(list, "oxygen saturation", Value::Counts(held, Kind::Oxygen), note);
    }
    let Some(cast) = around.cast() else { return };
    for habitat in &around.lake().habitat {
        let name = format!("layer for {}", habitat.species);
        let (value, said) = match layer(cast, habitat) {
            Layer::Between(top, bottom) => (Value::Depths(top, bottom), "cool enough and with enough oxygen"),
            Layer::From(top) => {
                (Value::Counts(top, Kind::Length), "from here down to the end of the cast: cool enough, enough oxygen")
            }
            Layer::None => (Value::None, "none: the oxygen gives out above where it is cool enough"),
            Layer::Unknown => (Value::None, "not known: the cast does not say, in temperature or in oxygen"),
        };
        put(list, name, value, format!("{said}; limits: {}", habitat.source));
    }
}
