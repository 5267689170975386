//! The calendar and the day's course: month, clock, sunrise and sunset of the local day.

use super::sun::{place_and_time, rise_and_set};
use super::{Derivation, Needs, Surroundings};
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::time::{Instant, clock, end_of_day};

pub(super) const MONTH: Derivation = Derivation {
    gives: Known::Month,
    from: |_| &["time"],
    how: |_| "from the time, in the water's zone",
    estimated: |_| false,
    derive: |around| {
        let at = around.calendar().ok_or_else(no_time)?;
        let zone = around.zone().ok_or_else(no_zone)?;
        Ok(i64::from(at.zoned(zone).month()))
    },
};

pub(super) const CLOCK: Derivation = Derivation {
    gives: Known::Clock,
    from: |_| &["time"],
    how: |_| "from the time, in the water's zone",
    estimated: |_| false,
    derive: |around| {
        let at = around.calendar().ok_or_else(no_time)?;
        Ok(clock(at, around.zone().ok_or_else(no_zone)?))
    },
};

pub(super) const UNTIL_SUNSET: Derivation = Derivation {
    gives: Known::UntilSunset,
    from: |_| &["position", "time"],
    how: |_| "from place and time: the sun's upper edge on the horizon, -0.8333°",
    estimated: |_| false,
    derive: |around| {
        let (at, from, to) = local_day(around)?;
        let (place, _) = place_and_time(around)?;
        let set = rise_and_set(place, from, to).and_then(|events| events.set);
        match set {
            Some(set) if set >= at => Ok(set.since(at)),
            Some(_) => Err("nothing: today's sunset is past".into()),
            None => Err("nothing: the sun does not set here today".into()),
        }
    },
};

pub(super) const SINCE_SUNRISE: Derivation = Derivation {
    gives: Known::SinceSunrise,
    from: |_| &["position", "time"],
    how: |_| "from place and time: the sun's upper edge on the horizon, -0.8333°",
    estimated: |_| false,
    derive: |around| {
        let (at, from, to) = local_day(around)?;
        let (place, _) = place_and_time(around)?;
        let rise = rise_and_set(place, from, to).and_then(|events| events.rise);
        match rise {
            Some(rise) if rise <= at => Ok(at.since(rise)),
            Some(_) => Err("nothing: today's sunrise is still to come".into()),
            None => Err("nothing: the sun does not rise here today".into()),
        }
    },
};

fn no_time() -> Needs {
    "a date and time".into()
}

fn no_zone() -> Needs {
    "a time zone, from the water file or with the time".into()
}

/// The instant, and the beginning and end of its local day.
pub(super) fn local_day(around: &dyn Surroundings) -> Result<(Instant, Instant, Instant), Needs> {
    let (_, at) = place_and_time(around)?;
    let zone = around.zone().ok_or_else(no_zone)?;
    let start = at.zoned(zone).start_of_day().map_err(|_| no_time())?;
    Ok((at, Instant::of(start.timestamp()), end_of_day(at, zone).after(1)))
}
