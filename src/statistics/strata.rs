//! One ratio over strata, whether the strata agree on it, and whether counts clump.
//!
//! The ratio of two rates where days, light or sides of the boat differ is compared within each stratum and pooled by N.
//! Mantel and W. Haenszel's weights, with the variance of S. Greenland and J. Robins, *Estimation of a common effect
//! parameter from sparse follow-up data*, Biometrics 41 (1985), 55–68.
//!
//! Whether the strata agree: the score statistic for person-time of N. Breslow and N. Day, *Statistical Methods in Cancer
//! Research II* (IARC 1987), chapter 3 (from memory, checked against a logistic regression), at the ratio that is likeliest
//! given each stratum's events and the arm's total. Its chi-square distribution is wrong for a few events in each of
//! many strata, so its distribution under those totals is worked out itself where that is not too long.

use super::tails::{Share, binomial, chi_square_upper, crossing, normal_quantile};
use super::{Interval, Level, Tally};

/// A ratio pooled over strata.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pooled {
    /// The first rate by the second.
    pub ratio: f64,
    /// Its limits, by the normal distribution of its logarithm; they are not exact.
    pub interval: Interval,
    /// The variance of its logarithm.
    pub log_variance: f64,
    /// How many strata had events and both arms fished, and so say something.
    pub strata: u64,
}

/// How the probability of a statistic was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Found {
    /// From its own distribution. Statistics up to 1 % under the one seen count as reaching it, so it errs upward.
    Exactly,
    /// From the chi-square distribution, which it is near when strata have more than a few events.
    ByChiSquare,
}

/// Whether strata agree on a ratio.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Homogeneity {
    /// The ratio that is likeliest, if they do.
    pub ratio: f64,
    /// The statistic.
    pub chi_square: f64,
    /// One less than the strata that say something.
    pub degrees_of_freedom: u64,
    /// The probability of so large a statistic or a larger one, if they do.
    pub p: f64,
    /// How that was found.
    pub found: Found,
}

/// How counts spread.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dispersion {
    /// Variance by mean: 1 for Poisson; over 1 Poisson intervals are too short.
    pub index: f64,
    /// The index times its degrees of freedom.
    pub chi_square: f64,
    /// One less than the blocks.
    pub degrees_of_freedom: u64,
    /// The probability of so large an index or a larger one, were the counts Poisson.
    pub p: f64,
}

/// The ratio of two rates, the first and the second of each stratum, after Mantel and Haenszel; none where no stratum
/// with both arms fished has an event of the first, or none has one of the second.
pub fn mantel_haenszel(strata: &[(Tally, Tally)], level: Level) -> Option<Pooled> {
    let (mut over, mut under, mut spread, mut informative) = (0.0, 0.0, 0.0, 0);
    for (first, second) in strata {
        let all = first.exposure() + second.exposure();
        if !informs(first, second) {
            continue;
        }
        informative += 1;
        over += first.count() * (second.exposure() / all);
        under += second.count() * (first.exposure() / all);
        spread += (first.count() + second.count()) * (first.exposure() / all * (second.exposure() / all));
    }
    if over <= 0.0 || under <= 0.0 {
        return None;
    }
    let (ratio, log_variance) = (over / under, spread / over / under);
    let reach = libm::exp(normal_quantile(level.tail()) * log_variance.sqrt());
    // Where one arm had next to none of the exposure, the reach is beyond all numbers and the limits say nothing.
    let interval = Interval { lower: ratio / reach, upper: ratio * reach };
    (interval.upper.is_finite() && ratio > 0.0).then_some(Pooled { ratio, interval, log_variance, strata: informative })
}

fn informs(first: &Tally, second: &Tally) -> bool {
    first.exposure() > 0.0 && second.exposure() > 0.0 && first.events() + second.events() > 0
}

/// A stratum that says something: its events with the first, all its events, and the exposures.
struct Stratum {
    first: f64,
    all: f64,
    exposures: (f64, f64),
}

impl Stratum {
    /// The share of events with the first, under a ratio of rates.
    fn share(&self, ratio: f64) -> Share {
        Share::new(ratio * self.exposures.0, self.exposures.1)
    }

    /// The same with the arms exchanged.
    fn turned(&self) -> Self {
        Self { first: self.all - self.first, all: self.all, exposures: (self.exposures.1, self.exposures.0) }
    }

    /// How many more so many events are than those expected.
    fn over(&self, events: f64, share: Share) -> f64 {
        events * share.rest - (self.all - events) * share.of
    }

    /// How far they are from those, squared, by their variance.
    fn distance(&self, events: f64, share: Share) -> f64 {
        let difference = self.over(events, share);
        difference * difference / (self.all * share.of * share.rest)
    }
}

/// Whether the strata agree on the ratio; none where fewer than two say something, and where all events are with one arm.
pub fn homogeneity(strata: &[(Tally, Tally)]) -> Option<Homogeneity> {
    let informative: Vec<Stratum> = strata
        .iter()
        .filter(|(first, second)| informs(first, second))
        .map(|(first, second)| Stratum {
            first: first.count(),
            all: first.count() + second.count(),
            exposures: (first.exposure(), second.exposure()),
        })
        .collect();
    let firsts: f64 = informative.iter().map(|stratum| stratum.first).sum();
    let all: f64 = informative.iter().map(|stratum| stratum.all).sum();
    if informative.len() < 2 || firsts <= 0.0 || firsts >= all {
        return None;
    }
    // The events seen over those expected, each stratum by what keeps its digits where a share is nearly one.
    let too_few = |logarithm: f64| {
        let ratio = libm::exp(logarithm);
        let over = |stratum: &Stratum| stratum.over(stratum.first, stratum.share(ratio));
        informative.iter().map(over).sum::<f64>() > 0.0
    };
    // Exposures as unlike as can be and as many events as can be lie within 60 of an even ratio.
    let ratio = libm::exp(crossing(-80.0, 80.0, too_few).1);
    let chi_square: f64 = informative.iter().map(|s| s.distance(s.first, s.share(ratio))).sum();
    if !chi_square.is_finite() {
        return None;
    }
    let degrees_of_freedom = informative.len() as u64 - 1;
    let (p, found) = match exact_tail(&informative, ratio, chi_square) {
        Some(p) => (p, Found::Exactly),
        None => (chi_square_upper(chi_square, degrees_of_freedom), Found::ByChiSquare),
    };
    Some(Homogeneity { ratio, chi_square, degrees_of_freedom, p, found })
}

/// Steps of the statistic for each stratum: rounding each stratum's part up to a step adds at most 1 % together.
const STEPS: usize = 100;
/// How many additions the exact distribution may take.
const MOST_WORK: usize = 100_000_000;

/// The probability that the statistic is as large or larger, given each stratum's events and the total with the first;
/// none where it would take too long.
///
/// Built stratum by stratum over two whole numbers: the events so far with the arm that has fewer, and the statistic so far in steps,
/// each part rounded up, where everything that has reached the one seen is one.
fn exact_tail(strata: &[Stratum], ratio: f64, chi_square: f64) -> Option<f64> {
    let firsts: f64 = strata.iter().map(|stratum| stratum.first).sum();
    let seconds: f64 = strata.iter().map(|stratum| stratum.all - stratum.first).sum();
    if firsts > seconds {
        let turned: Vec<Stratum> = strata.iter().map(Stratum::turned).collect();
        return exact_tail(&turned, 1.0 / ratio, chi_square);
    }
    let (steps, total) = (STEPS.checked_mul(strata.len())?, firsts as usize);
    let cells = (total + 1).checked_mul(steps + 1)?;
    let choices = strata.iter().map(|stratum| stratum.all as usize + 1).sum::<usize>();
    if cells.checked_mul(choices)? > MOST_WORK {
        return None;
    }
    if chi_square <= 0.0 {
        return Some(1.0);
    }
    let width = steps + 1;
    let mut now = vec![0.0; cells];
    *now.first_mut()? = 1.0;
    for stratum in strata {
        let share = stratum.share(ratio);
        let parts: Vec<(f64, usize)> = (0..=stratum.all as usize)
            .map(|events| {
                let part = stratum.distance(events as f64, share) / chi_square * steps as f64;
                // A part that is the whole number it stands for, but for rounding, stays there.
                (binomial(events as f64, stratum.all, share), (part - 1e-7).ceil().clamp(0.0, steps as f64) as usize)
            })
            .collect();
        let mut next = vec![0.0; cells];
        for (events, row) in now.chunks_exact(width).enumerate() {
            if row.iter().all(|mass| *mass == 0.0) {
                continue;
            }
            for (target, (weight, part)) in next.chunks_exact_mut(width).skip(events).zip(&parts) {
                add_shifted(target, row, *weight, *part);
            }
        }
        now = next;
    }
    let last = now.chunks_exact(width).next_back()?;
    let (reached, whole) = (*last.last()?, last.iter().sum::<f64>());
    (whole > 0.0).then(|| (reached / whole).min(1.0))
}

/// Adds a row times a weight, so many steps further on; what would pass the end gathers there.
fn add_shifted(target: &mut [f64], row: &[f64], weight: f64, by: usize) {
    let kept = row.len().saturating_sub(by);
    for (to, from) in target.iter_mut().skip(by).zip(row.iter().take(kept)) {
        *to += weight * from;
    }
    if let Some(end) = target.last_mut() {
        *end += weight * row.iter().skip(kept).sum::<f64>();
    }
}

/// How the counts of blocks of equal exposure spread; none for fewer than two blocks, and without events.
///
/// Fisher's index of dispersion: R. Fisher, *Statistical Methods for Research Workers* (1925; from memory). Its chi-square
/// distribution is an approximation, rough where blocks have less than about one event each.
pub fn dispersion(counts: &[u64]) -> Option<Dispersion> {
    let blocks = counts.len() as f64;
    let mean = counts.iter().map(|count| *count as f64).sum::<f64>() / blocks;
    if counts.len() < 2 || mean <= 0.0 {
        return None;
    }
    let squares: f64 = counts.iter().map(|count| (*count as f64 - mean) * (*count as f64 - mean)).sum();
    let degrees_of_freedom = counts.len() as u64 - 1;
    let chi_square = squares / mean;
    let p = chi_square_upper(chi_square, degrees_of_freedom);
    Some(Dispersion { index: chi_square / (blocks - 1.0), chi_square, degrees_of_freedom, p })
}
