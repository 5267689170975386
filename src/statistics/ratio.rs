//! Two rates: whether they differ, and by how much.
//!
//! Given all events of both, those of the first are binomial, whatever the common rate is: J. Przyborowski and H.
//! Wilenski, *Homogeneity of results in testing samples from Poisson series*, Biometrika 31 (1940), 313–323. The limits of
//! the ratio are those of that binomial by C. Clopper and E. Pearson (Biometrika 26 (1934), 404–413).
//!
//! The two-sided p is the doubled one, twice the smaller tail and at most 1, because the limits agree with it: they leave
//! out a ratio where the doubled p of that ratio is under one less the level, and only there. Other two-sided tests
//! (of outcomes no likelier than the one seen) can say less and don't agree with these limits.

use super::tails::{Share, binomial_at_least, binomial_at_most, crossing};
use super::{Bound, Level, Limits, Tally};

/// The exact conditional test of two rates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RateTest {
    /// The probability of as many of the events with the first, or more.
    pub more: f64,
    /// The probability of as many, or fewer.
    pub fewer: f64,
    /// Twice the smaller, at most 1.
    pub two_sided: f64,
}

impl RateTest {
    /// What data that can't tell give.
    const SILENT: RateTest = RateTest { more: 1.0, fewer: 1.0, two_sided: 1.0 };

    pub(super) fn new(more: f64, fewer: f64) -> Self {
        Self { more, fewer, two_sided: (2.0 * more.min(fewer)).min(1.0) }
    }
}

/// The ratio of two rates with its limits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RateRatio {
    /// The first rate by the second.
    pub ratio: Bound,
    /// Its exact limits.
    pub limits: Limits,
}

/// Whether two rates are the same. Without events, or where only one of the two was fished, every p is 1.
pub fn test(first: Tally, second: Tally) -> RateTest {
    test_of(first, second, 1.0).unwrap_or(RateTest::SILENT)
}

/// Whether the first rate is so many times the second; none unless that is more than 0 and a number that can be counted
/// with, 1e-9 to 1e9.
pub fn test_of(first: Tally, second: Tally, ratio: f64) -> Option<RateTest> {
    if !(1e-9..=1e9).contains(&ratio) {
        return None;
    }
    if !comparable(first, second) {
        return Some(RateTest::SILENT);
    }
    let share = Share::new(ratio * first.exposure(), second.exposure());
    let (x, all) = (first.count(), first.count() + second.count());
    Some(RateTest::new(binomial_at_least(x, all, share), binomial_at_most(x, all, share)))
}

/// The first rate by the second, with exact limits; none without events, or where only one of the two was fished.
///
/// Where the second has no events, ratio and upper limit are unbounded; where the first has none, ratio and lower limit
/// are 0.
pub fn ratio(first: Tally, second: Tally, level: Level) -> Option<RateRatio> {
    if !comparable(first, second) {
        return None;
    }
    let lower = lower_odds(first.count(), second.count(), level.tail());
    let upper = lower_odds(second.count(), first.count(), level.tail());
    let exposures = second.exposure() / first.exposure();
    let limits =
        Limits { lower: lower * exposures, upper: Bound::inverse(upper * (first.exposure() / second.exposure())) };
    let ratio =
        if second.events() == 0 { Bound::Unbounded } else { Bound::Finite(first.count() / second.count() * exposures) };
    Some(RateRatio { ratio, limits })
}

fn comparable(first: Tally, second: Tally) -> bool {
    first.events() + second.events() > 0 && first.exposure() > 0.0 && second.exposure() > 0.0
}

/// The odds under which so many successes or more have the probability of the tail; 0 without successes.
fn lower_odds(successes: f64, failures: f64, tail: f64) -> f64 {
    if successes <= 0.0 {
        return 0.0;
    }
    let trials = successes + failures;
    let rare = |logarithm: f64| binomial_at_least(successes, trials, Share::new(libm::exp(logarithm), 1.0)) < tail;
    // A million events and the narrowest tail that a number can name lie within -55 and 16.
    libm::exp(crossing(-90.0, 40.0, rare).0)
}
