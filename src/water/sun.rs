//! Where the sun stands.
//!
//! Source: I. Reda and A. Andreas, *Solar Position Algorithm for Solar Radiation Applications*, NREL/TP-560-34302
//! (2003, revised 2008), by the crate `solar-positioning` with libm's functions. Heights are true, without refraction.

use std::cell::Cell;

use solar_positioning::{Horizon, Location, PreparedPositions, SolarEvents, SolarPositions, delta_t, time::JulianDate};

use super::{Derivation, Needs, Place, Surroundings};
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::quantity::{DAY, MINUTE, PER_UNIT, SECOND, from_si};
use crate::vocabulary::time::Instant;

pub(super) const SUN_HEIGHT: Derivation = Derivation {
    gives: Known::SunHeight,
    from: |_| &["position", "time"],
    how: |_| "from place and time, by the solar position algorithm of Reda and Andreas",
    estimated: |_| false,
    derive: |around| from_si(height_around(around, 0)?).ok_or_else(out_of_range),
};

pub(super) const SUN_RISING: Derivation = Derivation {
    gives: Known::SunRising,
    from: |_| &["position", "time"],
    how: |_| "from the sun's height now and a minute later",
    estimated: |_| false,
    derive: |around| {
        let (now, later) = (height_around(around, 0)?, height_around(around, 60 * SECOND)?);
        Ok(i64::from(later > now))
    },
};

fn out_of_range() -> Needs {
    "a time between the years -2000 and 6000".into()
}

fn height_around(around: &dyn Surroundings, later: i64) -> Result<f64, Needs> {
    let (place, at) = place_and_time(around)?;
    height(place, at.after(later)).ok_or_else(out_of_range)
}

/// The place and the time that everything about the sun needs.
pub(super) fn place_and_time(around: &dyn Surroundings) -> Result<(Place, Instant), Needs> {
    match (around.place(), around.calendar()) {
        (Some(place), Some(at)) => Ok((place, at)),
        (None, Some(_)) => Err("a position, from the boat or the water file".into()),
        (Some(_), None) => Err("a date and time".into()),
        (None, None) => Err("a position and a time".into()),
    }
}

/// The Julian date of 1970-01-01 00:00 UTC.
const EPOCH: f64 = 2_440_587.5;
const DAY_SECONDS: f64 = 86_400.0;

fn julian(at: Instant) -> f64 {
    EPOCH + at.0 as f64 / PER_UNIT as f64 / DAY_SECONDS
}

fn instant(julian: f64) -> Option<Instant> {
    from_si((julian - EPOCH) * DAY_SECONDS).map(Instant)
}

/// The difference between dynamical and universal time in seconds, by year.
fn delta(at: Instant) -> f64 {
    let year = 1970.0 + at.0 as f64 / PER_UNIT as f64 / (365.2425 * DAY_SECONDS);
    delta_t::estimate(year).unwrap_or(69.0)
}

/// How far apart the instants are at which the sun's place over the earth is worked out.
const APART: i64 = 10 * MINUTE;

thread_local! {
    /// The two of those instants that were last asked about, by their numbers, and where the sun stood over the earth then.
    /// Working that out takes ten times as long as all the rest, and a day asks for the same ones thousands of times.
    static SKY: Cell<[Option<(i64, PreparedPositions)>; 2]> = const { Cell::new([None; 2]) };
}

/// Where the sun stands over the earth at the instant of a number; none outside the years that the algorithm covers.
fn sky(number: i64) -> Option<PreparedPositions> {
    let [earlier, later] = SKY.get();
    let known = [earlier, later].into_iter().flatten().find(|(of, _)| *of == number);
    if let Some((_, sky)) = known {
        return Some(sky);
    }
    let at = Instant(number.checked_mul(APART)?);
    let time = JulianDate::new(julian(at), delta(at)).ok()?;
    let sky = SolarPositions::new().for_time_from_julian(time).ok()?;
    SKY.set([later, Some((number, sky))]);
    Some(sky)
}

thread_local! {
    /// The heights that were last worked out: several readings of one instant go by it, and two strategies that are held
    /// against each other ask for the same.
    static HEIGHTS: Cell<[Option<(Place, Instant, f64)>; 4]> = const { Cell::new([None; 4]) };
}

/// The true height of the sun's centre in degrees; none outside the years that the algorithm covers.
///
/// Between two tens of minutes the earth turns under the sun as it stood at either, and the heights by both are mixed by
/// how near each is. That differs from the algorithm at the very instant by less than a millionth of a degree.
pub fn height(place: Place, at: Instant) -> Option<f64> {
    let known = HEIGHTS.get();
    if let Some((_, _, height)) = known.into_iter().flatten().find(|(there, then, _)| *there == place && *then == at) {
        return Some(height);
    }
    let height = mixed_height(place, at)?;
    let [_, second, third, fourth] = known;
    HEIGHTS.set([second, third, fourth, Some((place, at, height))]);
    Some(height)
}

fn mixed_height(place: Place, at: Instant) -> Option<f64> {
    let (number, past) = (at.0.div_euclid(APART), at.0.rem_euclid(APART));
    let by = |number: i64, later: i64| {
        let turned = place.longitude + 360.0 * (later as f64 / DAY as f64);
        let longitude = match turned {
            turned if turned > 180.0 => turned - 360.0,
            turned if turned < -180.0 => turned + 360.0,
            turned => turned,
        };
        let location = Location { latitude: place.latitude, longitude };
        Some(sky(number)?.at(location, 0.0, None).ok()?.elevation_angle())
    };
    let before = by(number, past)?;
    if past == 0 {
        return Some(before);
    }
    let after = by(number + 1, past - APART)?;
    Some(before + (after - before) * (past as f64 / APART as f64))
}

/// What the sun does at a height within a stretch of time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Events {
    /// When it comes up through that height.
    pub rise: Option<Instant>,
    /// When it goes down through it.
    pub set: Option<Instant>,
    /// Where it does neither: on which side of that height it stays.
    pub always: Option<Always>,
}

/// On which side of a height the sun stays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Always {
    /// Above it.
    Above,
    /// Below it.
    Below,
}

/// Sunrise and sunset within a stretch of time, such as a local day: the sun's upper edge on the horizon, -0.8333°.
pub fn rise_and_set(place: Place, from: Instant, to: Instant) -> Option<Events> {
    events(place, from, to, Horizon::SunriseSunset, SUNRISE)
}

/// Civil dawn and dusk within a stretch of time: -6°.
pub fn civil_twilight(place: Place, from: Instant, to: Instant) -> Option<Events> {
    events(place, from, to, Horizon::CivilTwilight, -6.0)
}

/// Nautical dawn and dusk: -12°.
pub fn nautical_twilight(place: Place, from: Instant, to: Instant) -> Option<Events> {
    events(place, from, to, Horizon::NauticalTwilight, -12.0)
}

/// Astronomical dawn and dusk: -18°.
pub fn astronomical_twilight(place: Place, from: Instant, to: Instant) -> Option<Events> {
    events(place, from, to, Horizon::AstronomicalTwilight, -18.0)
}

/// The height of the sun's centre at sunrise and sunset, degrees: refraction and its half width below the horizon.
const SUNRISE: f64 = -0.8333;

fn events(place: Place, from: Instant, to: Instant, horizon: Horizon, degrees: f64) -> Option<Events> {
    let calculator = SolarEvents::new();
    let location = Location { latitude: place.latitude, longitude: place.longitude };
    let (start, end, delta) = (julian(from), julian(to), delta(from));
    let rise = calculator.next_rise_from_julian(start, end, location, delta, horizon).ok()?;
    let set = calculator.next_set_from_julian(start, end, location, delta, horizon).ok()?;
    let always = match (rise, set) {
        // Nothing crosses the height, so that any moment tells the side.
        (None, None) => Some(if height(place, from)? > degrees { Always::Above } else { Always::Below }),
        _ => None,
    };
    Some(Events { rise: rise.and_then(instant), set: set.and_then(instant), always })
}

/// When the sun stands highest within a stretch of time.
pub fn noon(place: Place, from: Instant, to: Instant) -> Option<Instant> {
    let found = SolarEvents::new().next_transit_from_julian(julian(from), julian(to), place.longitude, delta(from));
    found.ok()?.and_then(instant)
}

/// The height of the sun in degrees where it stands highest on the local day.
pub(super) fn highest_today(around: &dyn Surroundings) -> Result<f64, Needs> {
    let (place, _) = place_and_time(around)?;
    let (_, from, to) = super::day::local_day(around)?;
    let highest = noon(place, from, to).and_then(|noon| height(place, noon));
    highest.ok_or_else(out_of_range)
}
