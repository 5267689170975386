//! A test that may be looked at every evening.
//!
//! The e-value of so much data is how much likelier a mixture of ratios makes it than equal rates do. Under equal rates it
//! is a martingale that starts at 1, so that it ever reaches 20 with a probability of 1 in 20 at most (J. Ville 1939): one may
//! look after each block, and stop when one likes. H. Robbins, *Statistical methods related to the law of the iterated
//! logarithm*, Annals of Mathematical Statistics 41 (1970), 1397–1409. The always-valid p is one by the largest e-value
//! so far, and the ratios whose own e-value never reached its level make up the confidence sequence.
//!
//! Given a block's events, those of the first arm are binomial with a share that depends on the ratio and on the block's
//! exposures. The exposures have to be settled without a look at the block's own strikes, as on a sheet drawn up before.
//! The mixture is over [`POINTS`] ratios, each the same over all blocks, so it holds exactly, not in the limit, while the
//! share of the exposure varies from block to block. Their weights are those of a logistic distribution of the ratio's
//! logarithm, with which equal shares give the uniform mixture of [`beta_mixture`].

use std::collections::BTreeMap;

use super::tails::crossing;
use super::{Bound, Level, Limits, Refused, Tally};

/// The most blocks that are counted with.
pub const MOST_BLOCKS: usize = 4096;
/// How many ratios are mixed: their logarithms lie between -16 and 16, a sixteenth apart.
pub const POINTS: usize = 513;
/// Beyond this no logarithm of a ratio is told from one without end.
const FARTHEST: f64 = 80.0;

/// What the data up to the end of a block say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// The logarithm of the e-value against equal rates, as the data stand.
    pub log_e: f64,
    /// The always-valid two-sided p: the smallest so far.
    pub p: f64,
    /// The ratios, first rate by second, that no look so far has ruled out; none where all are, which data from one
    /// ratio do at most as often as the level allows.
    pub limits: Option<Limits>,
}

impl Look {
    /// The e-value; the largest number where it is larger than that.
    pub fn e(&self) -> f64 {
        libm::exp(self.log_e).min(f64::MAX)
    }
}

/// The logarithm of the e-value of two streams with a constant share of the exposure, against equal rates: the share of
/// events with the first mixed over a beta distribution.
///
/// None unless the share lies between 0 and 1, both parameters from 1e-6 to 1e6, and both counts up to a million.
pub fn beta_mixture(first: u64, second: u64, share: f64, alpha: f64, beta: f64) -> Option<f64> {
    let parameters = 1e-6..=1e6;
    let shares = share > 0.0 && share < 1.0;
    let counts = first <= super::MOST_EVENTS && second <= super::MOST_EVENTS;
    if !shares || !counts || !parameters.contains(&alpha) || !parameters.contains(&beta) {
        return None;
    }
    let (first, second) = (first as f64, second as f64);
    let log_beta = |a: f64, b: f64| libm::lgamma(a) + libm::lgamma(b) - libm::lgamma(a + b);
    let equal = first * libm::log(share) + second * libm::log1p(-share);
    Some(log_beta(alpha + first, beta + second) - log_beta(alpha, beta) - equal)
}

/// What the data say after each block of two arms: blocks in the order of time.
///
/// # Errors
///
/// Where there are too many blocks.
pub fn sequential(blocks: &[(Tally, Tally)], level: Level) -> Result<Vec<Look>, Refused> {
    if blocks.len() > MOST_BLOCKS {
        return Err(Refused::Blocks(blocks.len()));
    }
    let mut stream = Stream::new(level);
    Ok(blocks.iter().map(|(first, second)| stream.look(*first, *second)).collect())
}

/// ln(1 + e^x), without overflow.
fn softplus(x: f64) -> f64 {
    x.max(0.0) + libm::log1p(libm::exp(-x.abs()))
}

/// Events by a share of the exposure, which stands as the logarithm of its odds.
#[derive(Clone, Copy)]
struct Counted {
    log_odds: f64,
    first: f64,
    second: f64,
}

impl Counted {
    /// The logarithm of the probability of these events under a ratio.
    fn log_likelihood(&self, log_ratio: f64) -> f64 {
        let log_odds = self.log_odds + log_ratio;
        let of = |events: f64, log_odds: f64| if events > 0.0 { events * softplus(log_odds) } else { 0.0 };
        -of(self.first, -log_odds) - of(self.second, log_odds)
    }

    /// Its slope: the events with the first over those expected.
    fn slope(&self, log_ratio: f64) -> f64 {
        let odds = libm::exp(-(self.log_odds + log_ratio).abs());
        let (more, less) = (1.0 / (1.0 + odds), odds / (1.0 + odds));
        let (of, rest) = if self.log_odds + log_ratio >= 0.0 { (more, less) } else { (less, more) };
        self.first * rest - self.second * of
    }
}

struct Stream {
    level: Level,
    /// Ratios by their logarithm, with the logarithms of their weights and of the likelihood.
    mixed: Vec<(f64, f64, f64)>,
    /// All events so far, those of equal shares together.
    counted: BTreeMap<u64, Counted>,
    /// The logarithm of the likelihood of equal rates, and of the largest e-value so far.
    equal: f64,
    most: f64,
    /// The ratios left, by their logarithms.
    left: Option<(f64, f64)>,
}

impl Stream {
    fn new(level: Level) -> Self {
        let middle = (POINTS / 2) as f64;
        // The logistic density, but for what makes the weights one together.
        let density = |log_ratio: f64| -log_ratio.abs() - 2.0 * libm::log1p(libm::exp(-log_ratio.abs()));
        let mut mixed: Vec<(f64, f64, f64)> =
            (0..POINTS).map(|at| (at as f64 - middle) / 16.0).map(|point| (point, density(point), 0.0)).collect();
        let whole = log_sum(mixed.iter().map(|(_, weight, _)| *weight));
        mixed.iter_mut().for_each(|(_, weight, _)| *weight -= whole);
        let left = Some((f64::NEG_INFINITY, f64::INFINITY));
        Self { level, mixed, counted: BTreeMap::new(), equal: 0.0, most: 0.0, left }
    }

    /// Takes in a block.
    fn look(&mut self, first: Tally, second: Tally) -> Look {
        // A block that one arm did not fish has a share that no ratio changes.
        if first.exposure() > 0.0 && second.exposure() > 0.0 && first.events() + second.events() > 0 {
            let log_odds = libm::log(first.exposure()) - libm::log(second.exposure());
            let block = Counted { log_odds, first: first.count(), second: second.count() };
            for (log_ratio, _, log_likelihood) in &mut self.mixed {
                *log_likelihood += block.log_likelihood(*log_ratio);
            }
            self.equal += block.log_likelihood(0.0);
            let counted = self.counted.entry(log_odds.to_bits());
            let counted = counted.or_insert(Counted { log_odds, first: 0.0, second: 0.0 });
            counted.first += block.first;
            counted.second += block.second;
        }
        let mixture = log_sum(self.mixed.iter().map(|(_, weight, log_likelihood)| weight + log_likelihood));
        let log_e = mixture - self.equal;
        self.most = self.most.max(log_e);
        self.narrow(mixture);
        let p = libm::exp(-self.most).max(f64::MIN_POSITIVE);
        let limits = self.left.map(|(lower, upper)| Limits {
            lower: libm::exp(lower),
            upper: if upper < FARTHEST { Bound::Finite(libm::exp(upper)) } else { Bound::Unbounded },
        });
        Look { log_e, p, limits }
    }

    fn log_likelihood(&self, log_ratio: f64) -> f64 {
        self.counted.values().map(|counted| counted.log_likelihood(log_ratio)).sum()
    }

    /// Rules out the ratios against which the mixture is likelier by as much as the level asks. The likelihood has one
    /// peak, so what it leaves is one interval around that.
    fn narrow(&mut self, mixture: f64) {
        let Some((lower, upper)) = self.left else { return };
        let least = mixture + libm::log(1.0 - self.level.value());
        let stands = |log_ratio: f64| self.log_likelihood(log_ratio) > least;
        let (low, high) = (lower.max(-FARTHEST), upper.min(FARTHEST));
        let (low_stands, high_stands) = (stands(low), stands(high));
        if low_stands && high_stands {
            return;
        }
        let rises = |log_ratio: f64| self.counted.values().map(|counted| counted.slope(log_ratio)).sum::<f64>() > 0.0;
        let peak = if !rises(low) {
            low
        } else if rises(high) {
            high
        } else {
            crossing(low, high, rises).0
        };
        if !stands(peak) {
            self.left = None;
            return;
        }
        let lower = if low_stands { lower } else { crossing(peak, low, stands).0 };
        let upper = if high_stands { upper } else { crossing(peak, high, stands).0 };
        self.left = Some((lower, upper));
    }
}

/// The logarithm of the sum of numbers given by theirs.
fn log_sum(logarithms: impl Iterator<Item = f64> + Clone) -> f64 {
    let most = logarithms.clone().fold(f64::NEG_INFINITY, f64::max);
    most + libm::log(logarithms.map(|logarithm| libm::exp(logarithm - most)).sum())
}
