//! Evidence that grows with each unit of a contest, and may be looked at at any time.
//!
//! Where exactly so many units of a stratum are to be one strategy's, the lot's own odds of the next unit are known: of
//! those that are left, how many are still to be the first's. If it does not matter whose unit it is, they hold whatever
//! the unit brings. A bettor who believes in some ratio of rates, and so shifts those odds by what the unit brought, wins
//! on average nothing: the product of what the bets pay is a martingale, and the mean over bettors with many ratios is
//! one too. It passes 1/p with a chance of at most p, ever (J. Ville, *Étude critique de la notion de collectif*, 1939).
//! Nothing is taken for granted of how fish bite: no Poisson model, no equal hours, no independence.

use super::sequential::Look;

/// A unit of a contest, as it comes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Unit {
    /// Its stratum, by number.
    pub stratum: usize,
    /// Its events.
    pub events: u64,
    /// Whether it was the first strategy's.
    pub first: bool,
}

/// The ratios that bettors believe in go from 1/8 to 8, evenly by their logarithm.
const FARTHEST: f64 = 8.0;
const BETTORS: i32 = 32;

/// The evidence after each unit, in the order in which they came. It has no limits of a ratio: the lot alone speaks of
/// none.
pub fn evidence(units: &[Unit]) -> Vec<Look> {
    let strata = units.iter().map(|unit| unit.stratum + 1).max().unwrap_or(0);
    // Units that are left in each stratum, and those of them that are the first's.
    let mut left = vec![(0u64, 0u64); strata];
    for unit in units {
        if let Some((all, first)) = left.get_mut(unit.stratum) {
            *all += 1;
            *first += u64::from(unit.first);
        }
    }
    let step = libm::log(FARTHEST) / f64::from(BETTORS / 2);
    let mut bettors: Vec<(f64, f64)> = (-BETTORS / 2..=BETTORS / 2).map(|at| (f64::from(at) * step, 0.0)).collect();
    let mut most = 0.0f64;
    let mut looks = Vec::with_capacity(units.len());
    for unit in units {
        let Some((all, first)) = left.get_mut(unit.stratum) else { continue };
        let odds = *first as f64 / *all as f64;
        *all -= 1;
        *first -= u64::from(unit.first);
        // Where the lot has no choice left, nobody wins or loses.
        if odds > 0.0 && odds < 1.0 {
            let events = unit.events as f64;
            for (belief, gains) in &mut bettors {
                let weight = events * *belief;
                let pays = libm::log(odds) + weight;
                let all = sum_of_logs(pays, libm::log1p(-odds));
                *gains += if unit.first { weight - all } else { -all };
            }
        }
        let together = bettors.iter().map(|(_, gains)| *gains).fold(f64::NEG_INFINITY, sum_of_logs);
        let log_e = together - libm::log(bettors.len() as f64);
        most = most.max(log_e);
        looks.push(Look { log_e, p: libm::exp(-most), limits: None });
    }
    looks
}

/// The logarithm of the sum of two numbers, by theirs.
fn sum_of_logs(a: f64, b: f64) -> f64 {
    let (most, least) = if a > b { (a, b) } else { (b, a) };
    if most == f64::NEG_INFINITY { most } else { most + libm::log1p(libm::exp(least - most)) }
}
