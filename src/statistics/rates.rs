//! A rate with its interval.
//!
//! Limits: F. Garwood, *Fiducial limits for the Poisson distribution*, Biometrika 28 (1936), 437–442. They cover at least
//! their level, whatever the rate is.

use super::tails::{crossing, poisson_at_least, poisson_at_most};
use super::{Interval, Level, Tally};

/// Events per rod-hour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rate {
    /// The rate seen.
    pub rate: f64,
    /// Its exact limits.
    pub interval: Interval,
}

/// The rate of a tally with its exact Poisson limits; none where nothing was fished.
///
/// Without events the lower limit is 0. The upper one leaves half of the rest over itself, as ever: at 95 % it is 3.689
/// events, where the one-sided "rule of three" is that of 90 %, 2.996.
pub fn rate(tally: Tally, level: Level) -> Option<Rate> {
    let exposure = tally.exposure();
    if exposure <= 0.0 {
        return None;
    }
    let mean = mean_limits(tally.count(), level.tail());
    let interval = Interval { lower: mean.lower / exposure, upper: mean.upper / exposure };
    Some(Rate { rate: tally.count() / exposure, interval })
}

fn mean_limits(count: f64, tail: f64) -> Interval {
    let lower = if count > 0.0 { crossing(0.0, count, |mean| poisson_at_least(count, mean) < tail).0 } else { 0.0 };
    // Ten standard deviations and fifty are beyond every level that a number under 1 can name.
    let beyond = count + 10.0 * count.sqrt() + 50.0;
    let upper = crossing(count, beyond, |mean| poisson_at_most(count, mean) > tail).1;
    Interval { lower, upper }
}
