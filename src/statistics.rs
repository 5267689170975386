//! The mathematics of the honest comparison: what two counts can prove, and what they can't.
//!
//! Strikes are counted over rod-hours: events over exposure, as a [`Tally`]. Every function is pure and gives the same
//! result bit for bit on every machine: floating point goes through `libm` alone, and tails are sums of positive terms.
//! What is not defined (a rate without exposure, a ratio without events) is none, a limit without an end is
//! [`Bound::Unbounded`], and nothing is ever NaN.
//!
//! - [`rates`]: a rate with its exact interval.
//! - [`ratio`]: two rates, the exact conditional test and limits that agree with it.
//! - [`strata`]: one ratio over strata, whether the strata agree on it, and whether counts clump.
//! - [`power`]: how much more fishing would tell two rates apart.
//! - [`randomisation`]: the exact test of a contest that was drawn by lot.
//! - [`lot`]: the evidence of such a contest, that grows with each unit.
//! - [`sequential`]: a test that may be looked at every evening.

pub mod lot;
pub mod power;
pub mod randomisation;
pub mod rates;
pub mod ratio;
pub mod sequential;
pub mod strata;
mod tails;

/// The most events of one tally; a thousand days of fishing hold some ten thousand strikes.
pub const MOST_EVENTS: u64 = 1_000_000;
/// The least and the most exposure of one tally, rod-hours, where it is not 0.
pub const EXPOSURES: (f64, f64) = (1e-6, 1e9);

/// Why something can't be worked out.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum Refused {
    /// The exposure is no number, or out of range.
    #[error("{0} rod-hours can't be counted with; 0.000001 to 1,000,000,000 can, and 0 where nothing was fished")]
    Exposure(f64),
    /// Events where nothing was fished.
    #[error("{0} events in 0 rod-hours; events need rod-hours to happen in")]
    NoExposure(u64),
    /// More events than are counted with.
    #[error("{0} events are too many; up to 1,000,000 can be counted with")]
    Events(u64),
    /// More blocks than are counted with.
    #[error("{0} blocks are too many for the sequential test; up to {most} can be counted with", most = sequential::MOST_BLOCKS)]
    Blocks(usize),
    /// A design whose assignments are too many to go through.
    #[error("the design is too large for the exact randomisation test; more and smaller strata can be counted with")]
    Design,
}

/// How many events there were, in how much exposure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tally {
    events: u64,
    exposure: f64,
}

impl Tally {
    /// Nothing in nothing.
    pub const NONE: Tally = Tally { events: 0, exposure: 0.0 };

    /// Events in an exposure, rod-hours. No exposure has no events.
    ///
    /// # Errors
    ///
    /// Says what is out of range.
    pub fn new(events: u64, exposure: f64) -> Result<Self, Refused> {
        if events > MOST_EVENTS {
            return Err(Refused::Events(events));
        }
        if exposure == 0.0 {
            return if events == 0 { Ok(Self::NONE) } else { Err(Refused::NoExposure(events)) };
        }
        if !(EXPOSURES.0..=EXPOSURES.1).contains(&exposure) {
            return Err(Refused::Exposure(exposure));
        }
        Ok(Self { events, exposure })
    }

    /// How many events.
    pub fn events(self) -> u64 {
        self.events
    }

    /// In how many rod-hours.
    pub fn exposure(self) -> f64 {
        self.exposure
    }

    /// Both together: the ratio of the sums, not the mean of the ratios.
    ///
    /// # Errors
    ///
    /// Says what is out of range.
    pub fn and(self, other: Self) -> Result<Self, Refused> {
        Self::new(self.events + other.events, self.exposure + other.exposure)
    }

    fn count(self) -> f64 {
        self.events as f64
    }
}

/// How much of what may be an interval is to cover: more than 0, less than 1. Half of the rest lies on either side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level(f64);

impl Level {
    /// The usual 95 %.
    pub const USUAL: Level = Level(0.95);

    /// None outside 0 to 1, and at either.
    pub fn new(level: f64) -> Option<Self> {
        (level > 0.0 && level < 1.0).then_some(Self(level))
    }

    /// The level, 0 to 1.
    pub fn value(self) -> f64 {
        self.0
    }

    /// What lies outside on one side.
    fn tail(self) -> f64 {
        (1.0 - self.0) / 2.0
    }
}

/// An interval between two numbers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Its lower limit.
    pub lower: f64,
    /// Its upper limit.
    pub upper: f64,
}

impl Interval {
    /// Whether a number lies within, the limits included.
    pub fn cover(&self, number: f64) -> bool {
        self.lower <= number && number <= self.upper
    }
}

/// A number from 0 up, or no end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Bound {
    /// This number.
    Finite(f64),
    /// Larger than any number.
    Unbounded,
}

impl Bound {
    /// The number, where there is one.
    pub fn finite(self) -> Option<f64> {
        match self {
            Bound::Finite(number) => Some(number),
            Bound::Unbounded => None,
        }
    }

    fn inverse(number: f64) -> Self {
        if number > 0.0 { Bound::Finite(1.0 / number) } else { Bound::Unbounded }
    }
}

/// The limits of a ratio, from 0 up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// The lower limit; 0 where nothing holds it.
    pub lower: f64,
    /// The upper limit.
    pub upper: Bound,
}

impl Limits {
    /// Whether a ratio lies within, the limits included.
    pub fn cover(&self, ratio: f64) -> bool {
        self.lower <= ratio && self.upper.finite().is_none_or(|upper| ratio <= upper)
    }
}
