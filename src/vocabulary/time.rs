//! Instants, counted like durations, and their edge to the calendar.

use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};

use super::quantity::PER_UNIT;

/// A moment: counts (ninths of a microsecond) since 1970-01-01 00:00 UTC.
///
/// Trials, which have no date, count from zero. The range is about thirty thousand years.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Instant(pub i64);

impl Instant {
    /// A moment of the calendar.
    pub fn of(timestamp: Timestamp) -> Self {
        Self(timestamp.as_microsecond().saturating_mul(PER_UNIT / 1_000_000))
    }

    /// The moment in the calendar, to the microsecond.
    pub fn timestamp(self) -> Timestamp {
        let micros = self.0.div_euclid(PER_UNIT / 1_000_000);
        Timestamp::from_microsecond(micros).unwrap_or(Timestamp::UNIX_EPOCH)
    }

    /// The moment in a time zone.
    pub fn zoned(self, zone: &TimeZone) -> ZonedDateTime {
        self.timestamp().to_zoned_datetime(zone.clone())
    }

    /// Later by so many counts.
    pub fn after(self, counts: i64) -> Self {
        Self(self.0.saturating_add(counts))
    }

    /// Counts from an earlier moment to this one.
    pub fn since(self, earlier: Instant) -> i64 {
        self.0.saturating_sub(earlier.0)
    }
}

/// A moment as everything that is told has it: to the second, with its offset.
pub fn to_the_second(at: &ZonedDateTime) -> String {
    at.strftime("%Y-%m-%dT%H:%M:%S%:z").to_string()
}

/// The last moment of the day that a moment lies in, by a zone's calendar.
pub fn end_of_day(at: Instant, zone: &TimeZone) -> Instant {
    let start_of_next = at.zoned(zone).tomorrow().and_then(|next| next.start_of_day());
    start_of_next.map_or(at.after(super::quantity::DAY), |next| Instant(Instant::of(next.timestamp()).0 - 1))
}

/// Counts since midnight on the clock of a zone.
pub fn clock(at: Instant, zone: &TimeZone) -> i64 {
    let time = at.zoned(zone).time();
    let seconds = i64::from(time.hour()) * 3600 + i64::from(time.minute()) * 60 + i64::from(time.second());
    seconds * PER_UNIT + i64::from(time.subsec_nanosecond()) / 1000 * (PER_UNIT / 1_000_000)
}
