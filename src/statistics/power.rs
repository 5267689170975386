//! How much more fishing would tell two rates apart.
//!
//! At the rates seen and the same split of the exposure, events are Poisson and those of the first are binomial given all of
//! them. A first estimate comes from the normal formula for one proportion: z of the level times the deviation under
//! equal rates, and z of the power times the deviation under the rates seen, over the difference of the shares, squared
//! (J. Fleiss, B. Levin and M. Paik, *Statistical Methods for Rates and Proportions* (2003), chapter 2; from memory). From
//! there the power of the exact test is summed over the totals that may come, and the exposure moved to the first that
//! reaches it.

use super::tails::{Share, binomial_at_least, binomial_at_most, normal_quantile, poisson};
use super::{Level, Tally};

/// How often the difference is to be found if it is there.
pub const POWER: f64 = 0.8;
/// With up to so many events expected, power is summed exactly.
pub const MOST_EXPECTED: f64 = 4000.0;

/// The exposure that would tell two rates apart.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Needed {
    /// All of it, rod-hours of both together, starting anew.
    pub total: f64,
    /// What that is more than there was, rod-hours; 0 where there was as much.
    pub more: f64,
    /// The power there.
    pub power: f64,
    /// Whether the exact test was summed; else the normal formula stands, as so many events come near to.
    pub exact: bool,
}

/// How many rod-hours, split as they were, would tell two rates apart if they are what was seen: by the doubled exact
/// test at 5 %, in 80 of 100 cases. None where the rates seen are equal, without events, and where only one of the
/// two was fished.
pub fn needed(first: Tally, second: Tally) -> Option<Needed> {
    let (split, expected) = Split::new(first, second)?;
    let fished = first.exposure() + second.exposure();
    let answer = |total: f64, power, exact| Needed { total, more: (total - fished).max(0.0), power, exact };
    match Exact::new(split).first_to_reach(expected) {
        Some((events, power)) => Some(answer(events / split.rate, power, true)),
        None => Some(answer(expected / split.rate, POWER, false)),
    }
}

/// The power that the exact doubled test at 5 % would have in so much exposure of both, split and with rates as seen;
/// none where [`needed`] has none, and where more than [`MOST_EXPECTED`] events would be expected.
pub fn power(first: Tally, second: Tally, total: f64) -> Option<f64> {
    let (split, _) = Split::new(first, second)?;
    let events = split.rate * total;
    (0.0..=MOST_EXPECTED).contains(&events).then(|| Exact::new(split).power(events))
}

/// The share of events with the first, under equal rates and under those seen, and all events per rod-hour.
#[derive(Clone, Copy)]
struct Split {
    even: Share,
    seen: Share,
    rate: f64,
}

impl Split {
    /// The split, and the events that the normal formula asks for; none where the shares are the same but for rounding.
    fn new(first: Tally, second: Tally) -> Option<(Self, f64)> {
        let events = first.count() + second.count();
        if events <= 0.0 || first.exposure() <= 0.0 || second.exposure() <= 0.0 {
            return None;
        }
        let even = Share::new(first.exposure(), second.exposure());
        let seen = Share::new(first.count(), second.count());
        // The difference of the shares, without loss where both are near 0 or near 1.
        let difference = if even.of < 0.5 { seen.of - even.of } else { even.rest - seen.rest };
        if difference.abs() <= 1e-9 * even.of.min(even.rest) {
            return None;
        }
        let level = normal_quantile(Level::USUAL.tail()) * (even.of * even.rest).sqrt();
        let found = normal_quantile(1.0 - POWER) * (seen.of * seen.rest).sqrt();
        let root = (level + found) / difference;
        let split = Self { even, seen, rate: events / (first.exposure() + second.exposure()) };
        Some((split, root * root))
    }
}

/// The exact test at 5 %: its power given the total of events, total by total as far as was asked.
struct Exact {
    split: Split,
    given: Vec<f64>,
    /// The fewest with the first that are too many, and the most that are too few, one more than those.
    high: f64,
    low: f64,
}

impl Exact {
    fn new(split: Split) -> Self {
        Self { split, given: Vec::new(), high: 0.0, low: 0.0 }
    }

    /// Works out the power given each total up to this one. From total to total either edge moves one at most.
    fn up_to(&mut self, most: usize) {
        let tail = Level::USUAL.tail();
        for total in self.given.len()..=most {
            let all = total as f64;
            while self.high <= all && binomial_at_least(self.high, all, self.split.even) > tail {
                self.high += 1.0;
            }
            while self.low < all && binomial_at_most(self.low, all, self.split.even) <= tail {
                self.low += 1.0;
            }
            let few = if self.low > 0.0 { binomial_at_most(self.low - 1.0, all, self.split.seen) } else { 0.0 };
            self.given.push(binomial_at_least(self.high, all, self.split.seen) + few);
        }
    }

    /// The power where so many events are expected.
    fn power(&mut self, expected: f64) -> f64 {
        // Totals beyond this reach have less than 1e-15 of the probability.
        let reach = 9.0 * expected.sqrt() + 20.0;
        let (from, to) = ((expected - reach).max(0.0) as usize, (expected + reach) as usize);
        self.up_to(to);
        let given = self.given.iter().enumerate().take(to + 1).skip(from);
        given.map(|(total, power)| power * poisson(total as f64, expected)).sum::<f64>().min(1.0)
    }

    /// The first expectation of events with the power asked for, and the power there; none where that is too many.
    fn first_to_reach(&mut self, estimate: f64) -> Option<(f64, f64)> {
        if estimate > MOST_EXPECTED {
            return None;
        }
        // Power rises with the events but for ripples where an edge moves, so the search begins well below and goes up
        // in small steps.
        let mut under = estimate / 3.0;
        while self.power(under) >= POWER {
            under /= 2.0;
        }
        let mut over = under;
        while over <= MOST_EXPECTED {
            over = under * 1.02;
            if self.power(over) >= POWER {
                return Some(self.edge(under, over));
            }
            under = over;
        }
        None
    }

    /// Where the power asked for is reached between an expectation that does not and one that does.
    fn edge(&mut self, mut under: f64, mut over: f64) -> (f64, f64) {
        for _ in 0..40 {
            let middle = under + (over - under) / 2.0;
            if self.power(middle) < POWER {
                under = middle;
            } else {
                over = middle;
            }
        }
        (over, self.power(over))
    }
}
