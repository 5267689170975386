//! Probabilities and tails of the Poisson, binomial, hypergeometric, chi-square and normal distributions.
//!
//! Single probabilities: C. Loader, *Fast and Accurate Computation of Binomial Probabilities* (2000; from memory, checked
//! against scipy). A tail is summed from its edge away from the mode, where terms only fall; the tail that holds the
//! mode is one less the other. So far tails keep their digits. Libraries of distributions take exponentials and
//! logarithms from the platform, which differ in the last bit from machine to machine.

use std::f64::consts::{PI, SQRT_2};

/// A term this small beside its sum changes nothing.
const NEGLIGIBLE: f64 = 1e-18;

/// What Stirling's formula leaves of ln x!.
fn stirling_error(x: f64) -> f64 {
    if x <= 15.0 {
        return libm::lgamma(x + 1.0) - (x + 0.5) * libm::log(x) + x - 0.5 * libm::log(2.0 * PI);
    }
    let square = x * x;
    (1.0 / 12.0 - (1.0 / 360.0 - (1.0 / 1260.0 - (1.0 / 1680.0 - 1.0 / 1188.0 / square) / square) / square) / square)
        / x
}

/// x ln(x / mean) + mean - x, without loss where they are near.
fn deviance(x: f64, mean: f64) -> f64 {
    let difference = x - mean;
    if difference.abs() >= 0.1 * (x + mean) {
        return x * libm::log(x / mean) - difference;
    }
    let ratio = difference / (x + mean);
    let (mut sum, mut power, mut odd) = (difference * ratio, 2.0 * x * ratio, 3.0);
    // The ratio is under 0.1, so that ten terms reach the last bit; the bound is for safety.
    for _ in 0..40 {
        power *= ratio * ratio;
        let next = sum + power / odd;
        if next == sum {
            break;
        }
        (sum, odd) = (next, odd + 2.0);
    }
    sum
}

/// mean^x e^-mean / Γ(x + 1): the probability of x by Poisson, where x may lie between whole numbers.
pub(super) fn poisson(x: f64, mean: f64) -> f64 {
    if mean <= 0.0 {
        return if x == 0.0 { 1.0 } else { 0.0 };
    }
    if x == 0.0 {
        return libm::exp(-mean);
    }
    libm::exp(-stirling_error(x) - deviance(x, mean)) / (2.0 * PI * x).sqrt()
}

/// The terms from x up; x is over the mean.
fn poisson_up(x: f64, mean: f64) -> f64 {
    let (mut x, mut term, mut sum) = (x, poisson(x, mean), 0.0);
    while term > sum * NEGLIGIBLE {
        sum += term;
        x += 1.0;
        term *= mean / x;
    }
    sum
}

/// The terms from x down to 0 or a half; x is under the mean.
fn poisson_down(x: f64, mean: f64) -> f64 {
    if x < 0.0 {
        return 0.0;
    }
    let (mut x, mut term, mut sum) = (x, poisson(x, mean), 0.0);
    while term > sum * NEGLIGIBLE {
        sum += term;
        if x < 1.0 {
            break;
        }
        term *= x / mean;
        x -= 1.0;
    }
    sum
}

/// The probability of so many or more.
pub(super) fn poisson_at_least(count: f64, mean: f64) -> f64 {
    if count > mean { poisson_up(count, mean).min(1.0) } else { (1.0 - poisson_down(count - 1.0, mean)).max(0.0) }
}

/// The probability of so many or fewer.
pub(super) fn poisson_at_most(count: f64, mean: f64) -> f64 {
    if count < mean { poisson_down(count, mean).min(1.0) } else { (1.0 - poisson_up(count + 1.0, mean)).max(0.0) }
}

/// A probability and its complement, each with all its digits.
#[derive(Clone, Copy, Debug)]
pub(super) struct Share {
    pub(super) of: f64,
    pub(super) rest: f64,
}

impl Share {
    /// By its odds' parts, neither below 0 and one above it.
    pub(super) fn new(part: f64, other: f64) -> Self {
        Self { of: part / (part + other), rest: other / (part + other) }
    }

    pub(super) fn swapped(self) -> Self {
        Self { of: self.rest, rest: self.of }
    }
}

fn none_of(trials: f64, share: Share) -> f64 {
    let logarithm = if share.of < 0.5 { libm::log1p(-share.of) } else { libm::log(share.rest) };
    libm::exp(trials * logarithm)
}

/// The probability of x in so many trials.
pub(super) fn binomial(x: f64, trials: f64, share: Share) -> f64 {
    if x < 0.0 || x > trials {
        return 0.0;
    }
    if trials == 0.0 {
        return 1.0;
    }
    if share.of <= 0.0 || share.rest <= 0.0 {
        return if (share.of <= 0.0 && x == 0.0) || (share.rest <= 0.0 && x == trials) { 1.0 } else { 0.0 };
    }
    if x == 0.0 {
        return none_of(trials, share);
    }
    let others = trials - x;
    if others == 0.0 {
        return none_of(trials, share.swapped());
    }
    let errors = stirling_error(trials) - (stirling_error(x) + stirling_error(others));
    let deviances = deviance(x, trials * share.of) + deviance(others, trials * share.rest);
    libm::exp(errors - deviances) * (trials / (2.0 * PI * (x * others))).sqrt()
}

/// The terms from x up; x is over the mean.
fn binomial_up(x: f64, trials: f64, share: Share) -> f64 {
    let odds = share.of / share.rest;
    let (mut x, mut term, mut sum) = (x, binomial(x, trials, share), 0.0);
    while term > sum * NEGLIGIBLE {
        sum += term;
        term *= (trials - x) / (x + 1.0) * odds;
        x += 1.0;
    }
    sum
}

/// The probability of x or more in so many trials.
pub(super) fn binomial_at_least(x: f64, trials: f64, share: Share) -> f64 {
    if x <= 0.0 {
        1.0
    } else if x > trials {
        0.0
    } else if x > trials * share.of {
        binomial_up(x, trials, share).min(1.0)
    } else {
        (1.0 - binomial_up(trials - x + 1.0, trials, share.swapped())).max(0.0)
    }
}

/// The probability of x or fewer in so many trials.
pub(super) fn binomial_at_most(x: f64, trials: f64, share: Share) -> f64 {
    binomial_at_least(trials - x, trials, share.swapped())
}

/// The probability that `draws` of `all` without putting back hold `x` of the `marked`.
pub(super) fn hypergeometric(x: f64, all: f64, marked: f64, draws: f64) -> f64 {
    let share = Share::new(draws, all - draws);
    let whole = binomial(draws, all, share);
    if whole <= 0.0 {
        return 0.0;
    }
    binomial(x, marked, share) * (binomial(draws - x, all - marked, share) / whole)
}

/// The probability of a chi-square this large or larger.
pub(super) fn chi_square_upper(chi_square: f64, degrees_of_freedom: u64) -> f64 {
    let (shape, x) = (degrees_of_freedom as f64 / 2.0, chi_square / 2.0);
    if x <= 0.0 || shape <= 0.0 {
        return 1.0;
    }
    if x < shape {
        return (1.0 - poisson_up(shape, x)).max(0.0);
    }
    let last = if degrees_of_freedom % 2 == 1 { libm::erfc(x.sqrt()) } else { 0.0 };
    (poisson_down(shape - 1.0, x) + last).min(1.0)
}

/// The number that a standard normal exceeds with this probability, under one half.
pub(super) fn normal_quantile(upper_tail: f64) -> f64 {
    crossing(0.0, 40.0, |z| libm::erfc(z / SQRT_2) / 2.0 > upper_tail).1
}

/// Where something that holds at the one end and not at the other changes: the last number found where it holds, and
/// the first where it doesn't, side by side. The ends are taken at their word.
pub(super) fn crossing(holds: f64, fails: f64, test: impl Fn(f64) -> bool) -> (f64, f64) {
    let (mut holds, mut fails) = (holds, fails);
    // From 100 down to the next number after 1e-20 takes 130 halvings.
    for _ in 0..200 {
        let middle = holds + (fails - holds) / 2.0;
        if middle == holds || middle == fails {
            break;
        }
        if test(middle) {
            holds = middle;
        } else {
            fails = middle;
        }
    }
    (holds, fails)
}
