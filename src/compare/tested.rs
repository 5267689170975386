//! Sums to rates, ratios and tests, by [`crate::statistics`].

use serde::Serialize;

use crate::statistics::{Level, Refused, Tally as Count, power, rates, ratio, strata};

use super::fished::{ByLight, LIGHTS, Tally, Within};
use super::hours;

/// Events an hour of rod time, with the exact Poisson interval.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Rate {
    /// How many.
    pub count: u64,
    /// An hour; none without rod time.
    pub per_hour: Option<f64>,
    /// The lower end of the interval.
    pub low: Option<f64>,
    /// The upper end.
    pub high: Option<f64>,
}

/// Rod time and fish of one cell.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CellSaid {
    /// `both`, `only_a`, `only_b`, `neither` or `unsaid`.
    pub within: &'static str,
    /// Rod time, hours.
    pub rod_hours: f64,
    /// Strikes.
    pub strikes: Rate,
    /// Fish landed.
    pub landed: Rate,
}

/// Effort and fish split by whose call rods ran within.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Split {
    /// The aspect; none is the whole tactic.
    pub aspect: Option<String>,
    /// The cells.
    pub cells: Vec<CellSaid>,
    /// Strikes within A's call alone against B's alone.
    pub strikes: Contrast,
    /// Fish likewise.
    pub landed: Contrast,
}

/// The cells of one class of light.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LightRow {
    /// The class.
    pub light: &'static str,
    /// The cells.
    pub cells: Vec<CellSaid>,
}

/// A's rate against B's.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Contrast {
    /// A's over B's; none where neither had any, or B had none.
    pub ratio: Option<f64>,
    /// The lower end of its interval; none where there is no interval.
    pub low: Option<f64>,
    /// The upper end; none where there is no interval, or it has no end.
    pub high: Option<f64>,
    /// The two-sided p of the exact conditional test, twice the smaller tail; none without rod time on either side.
    pub p: Option<f64>,
    /// Whether the interval leaves out 1.
    pub tells_apart: bool,
    /// Compared within the same day and light alone.
    pub pooled: Option<Pooled>,
    /// Rod-hours more, split as these were, to tell them apart four times in five at these rates; none where they can be
    /// told apart, or the rates are equal or unknown.
    pub more_rod_hours: Option<f64>,
}

/// A ratio pooled over strata.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pooled {
    /// The ratio.
    pub ratio: f64,
    /// The ends of its interval.
    pub low: f64,
    /// The upper one.
    pub high: f64,
    /// Strata that say anything.
    pub strata: u64,
    /// Whether the ratio is the same in all of them.
    pub homogeneity: Option<Homogeneity>,
}

/// A test of whether a ratio is the same in all strata.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Homogeneity {
    /// Chi-square.
    pub statistic: f64,
    /// Its degrees of freedom.
    pub degrees: u64,
    /// How likely at least as much is where the ratio is the same.
    pub p: f64,
}

/// Whether strikes come in clumps.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Clumping {
    /// Variance over mean of the strikes of half hours: 1 where they come one by one.
    pub index: f64,
    /// How likely at least as much is where they do.
    pub p: f64,
}

/// One day in one light: events and hours of A alone and of B alone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stratum {
    /// Strikes of A alone, of B alone.
    pub strikes: [u64; 2],
    /// Fish.
    pub landed: [u64; 2],
    /// Rod-hours.
    pub hours: [f64; 2],
}

/// Strata that can say anything, in the order of days.
#[derive(Clone, Debug, Default)]
pub struct Strata(Vec<Stratum>);

/// Most strata of a season; what comes after counts in every figure but those of strata.
const MOST_STRATA: usize = 20_000;

impl Strata {
    /// Adds a day's tally in one light.
    pub fn add(&mut self, tally: &Tally) {
        let (a, b) = (Within::OnlyA.index(), Within::OnlyB.index());
        let stratum = Stratum {
            strikes: [tally.strikes[a], tally.strikes[b]],
            landed: [tally.landed[a], tally.landed[b]],
            hours: [hours(tally.time[a]), hours(tally.time[b])],
        };
        if stratum.hours.iter().all(|hours| *hours > 0.0) && self.0.len() < MOST_STRATA {
            self.0.push(stratum);
        }
    }
}

impl Rate {
    /// Events in rod-hours.
    pub fn of(count: u64, rod_hours: f64) -> Self {
        let rate = Count::new(count, rod_hours).ok().and_then(|count| rates::rate(count, Level::USUAL));
        Self {
            count,
            per_hour: rate.map(|rate| rate.rate),
            low: rate.map(|rate| rate.interval.lower),
            high: rate.map(|rate| rate.interval.upper),
        }
    }
}

/// Events and rod-hours of A alone and of B alone in one stratum.
pub type Counts = ([u64; 2], [f64; 2]);

impl Contrast {
    /// A's events and rod-hours against B's; pooled where there are strata.
    pub fn of(a: (u64, f64), b: (u64, f64), counts: &[Counts]) -> Self {
        let none = Self {
            ratio: None,
            low: None,
            high: None,
            p: None,
            tells_apart: false,
            pooled: None,
            more_rod_hours: None,
        };
        let (Ok(a), Ok(b)) = (Count::new(a.0, a.1), Count::new(b.0, b.1)) else { return none };
        if a.exposure() == 0.0 || b.exposure() == 0.0 {
            return none;
        }
        let of = ratio::ratio(a, b, Level::USUAL);
        let tells_apart = of.is_some_and(|of| !of.limits.cover(1.0));
        let more = power::needed(a, b).filter(|_| !tells_apart);
        Self {
            ratio: of.and_then(|of| of.ratio.finite()),
            low: of.map(|of| of.limits.lower),
            high: of.and_then(|of| of.limits.upper.finite()),
            p: Some(ratio::test(a, b).two_sided),
            tells_apart,
            pooled: Pooled::of(counts),
            more_rod_hours: more.map(|needed| needed.more).filter(|more| *more > 0.0),
        }
    }
}

impl Pooled {
    fn of(counts: &[Counts]) -> Option<Self> {
        let tally = |([a, b], [hours_a, hours_b]): &Counts| -> Result<(Count, Count), Refused> {
            Ok((Count::new(*a, *hours_a)?, Count::new(*b, *hours_b)?))
        };
        let counts: Vec<(Count, Count)> = counts.iter().filter_map(|counts| tally(counts).ok()).collect();
        let pooled = strata::mantel_haenszel(&counts, Level::USUAL)?;
        let homogeneity = strata::homogeneity(&counts).map(|test| Homogeneity {
            statistic: test.chi_square,
            degrees: test.degrees_of_freedom,
            p: test.p,
        });
        Some(Self {
            ratio: pooled.ratio,
            low: pooled.interval.lower,
            high: pooled.interval.upper,
            strata: pooled.strata,
            homogeneity,
        })
    }
}

/// Whether the strikes of half hours clump; none where there are too few.
pub fn clumping(counts: &[u64]) -> Option<Clumping> {
    strata::dispersion(counts).map(|found| Clumping { index: found.index, p: found.p })
}

const NAMES: [&str; 5] = ["both", "only_a", "only_b", "neither", "unsaid"];

fn cells(tally: &Tally) -> Vec<CellSaid> {
    let cell = |within: Within| {
        let at = within.index();
        let rod_hours = hours(tally.time[at]);
        CellSaid {
            within: NAMES[at],
            rod_hours,
            strikes: Rate::of(tally.strikes[at], rod_hours),
            landed: Rate::of(tally.landed[at], rod_hours),
        }
    };
    Within::ALL.into_iter().map(cell).collect()
}

/// An aspect's tallies of all lights, and its strata, to what they say.
pub fn split(aspect: Option<String>, tallies: &ByLight, strata: &Strata) -> Split {
    let mut sum = Tally::default();
    tallies.iter().for_each(|tally| sum.join(tally));
    let (a, b) = (Within::OnlyA.index(), Within::OnlyB.index());
    let (hours_a, hours_b) = (hours(sum.time[a]), hours(sum.time[b]));
    let contrast = |events: [u64; 5], pick: fn(&Stratum) -> [u64; 2]| {
        let strata: Vec<Counts> = strata.0.iter().map(|one| (pick(one), one.hours)).collect();
        Contrast::of((events[a], hours_a), (events[b], hours_b), &strata)
    };
    Split {
        aspect,
        cells: cells(&sum),
        strikes: contrast(sum.strikes, |one| one.strikes),
        landed: contrast(sum.landed, |one| one.landed),
    }
}

/// The whole tactic by light: the classes in which rods fished.
pub fn by_light(tallies: &ByLight) -> Vec<LightRow> {
    let fished = LIGHTS.iter().zip(tallies).filter(|(_, tally)| tally.time.iter().any(|time| *time > 0));
    fished.map(|(light, tally)| LightRow { light, cells: cells(tally) }).collect()
}
