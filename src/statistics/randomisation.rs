//! The exact test of a contest that was drawn by lot.
//!
//! In each stratum a fixed number of its units went to the first arm, every choice of them as likely as any other. Were
//! it all the same which arm a unit had, its events would have come anyway: so the events of the first arm are those of
//! as many units drawn at random, and their distribution is known without any assumption on how fish bite (R. Fisher, *The
//! Design of Experiments* (1935); from memory). It holds for strikes that clump, too.
//!
//! The distribution is built, not simulated: units with the same count are one group, of which a hypergeometric number
//! is drawn, and strata are added. All numbers on the way are probabilities of positive terms. What is too small to
//! matter is dropped, and counted as being as extreme as what was seen, so that a p errs upward, by less than 1e-20.

use std::collections::BTreeMap;

use super::Refused;
use super::ratio::RateTest;
use super::tails::hypergeometric;

/// Probabilities under this are dropped.
const DROPPED: f64 = 1e-30;
/// How many steps a design may take, and how many numbers it may hold at once.
const MOST_WORK: usize = 200_000_000;
const MOST_CELLS: usize = 8_000_000;

/// The units of one stratum, each by its events.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Drawn {
    /// Those that were drawn for the first arm.
    pub first: Vec<u64>,
    /// Those left for the second.
    pub second: Vec<u64>,
}

/// What the exact test of a drawn contest says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Randomisation {
    /// The events of the first arm.
    pub observed: u64,
    /// Those expected, were it all the same.
    pub expected: f64,
    /// The probability of so many or more, of so many or fewer, and twice the smaller.
    pub test: RateTest,
    /// The smallest two-sided p that this design could have given with these events, however they had been dealt.
    pub smallest: f64,
}

/// Whether a p reaches a level, such as 0.05: 1 in 20 does, though rounding may put it a last digit over.
pub fn reaches(p: f64, level: f64) -> bool {
    p <= level * (1.0 + 1e-9)
}

/// The smallest two-sided p that a design can give, whatever bites: twice the probability of a single assignment. Each
/// stratum by all its units and how many of them are drawn for the first arm.
pub fn smallest_of(design: &[(usize, usize)]) -> f64 {
    let mut one = 1.0_f64;
    for (units, drawn) in design {
        let second = units.saturating_sub(*drawn);
        let (less, more) = (second.min(units - second), second.max(units - second));
        // One over the binomial coefficient, factor by factor.
        for at in 1..=less {
            one *= at as f64 / (more as f64 + at as f64);
            if one < f64::MIN_POSITIVE {
                return f64::MIN_POSITIVE;
            }
        }
    }
    (2.0 * one).min(1.0)
}

/// The exact randomisation test of a design in which the units of each stratum were drawn completely at random.
///
/// # Errors
///
/// Where the design is too large.
pub fn randomisation(strata: &[Drawn]) -> Result<Randomisation, Refused> {
    let (mut observed, mut expected, mut work) = (0_u64, 0.0, 0);
    let mut all = Sums { least: 0, most: 0, from: 0, mass: vec![1.0], dropped: 0.0 };
    for stratum in strata {
        let total = sum(&stratum.first)?.checked_add(sum(&stratum.second)?).ok_or(Refused::Design)?;
        let (drawn, units) = (stratum.first.len(), stratum.first.len() + stratum.second.len());
        if units == 0 {
            continue;
        }
        observed = observed.checked_add(sum(&stratum.first)?).ok_or(Refused::Design)?;
        expected += total as f64 * (drawn as f64 / units as f64);
        all = all.and(&Sums::of(stratum, &mut work)?, &mut work)?;
    }
    let test = RateTest::new(all.at_least(observed), all.at_most(observed));
    let smallest = RateTest::new(all.at_least(all.most), all.at_most(all.least)).two_sided;
    Ok(Randomisation { observed, expected, test, smallest })
}

fn sum(counts: &[u64]) -> Result<u64, Refused> {
    let sum = counts.iter().try_fold(0_u64, |sum, count| sum.checked_add(*count));
    // So many that a count is no longer exact as a number with a point are far beyond all designs.
    sum.filter(|sum| *sum <= 1 << 50).ok_or(Refused::Design)
}

fn spend(work: &mut usize, more: usize) -> Result<(), Refused> {
    *work = work.saturating_add(more);
    if *work > MOST_WORK { Err(Refused::Design) } else { Ok(()) }
}

/// The distribution of the first arm's events.
struct Sums {
    /// The fewest and the most there can be.
    least: u64,
    most: u64,
    /// The sum of the first number in `mass`, and the probability of it and of each one after it.
    from: u64,
    mass: Vec<f64>,
    /// What was dropped.
    dropped: f64,
}

/// The sums of the units drawn so far, for one number of them: where they begin, and their probabilities.
#[derive(Clone, Default)]
struct Row {
    from: u64,
    mass: Vec<f64>,
}

impl Row {
    /// Adds another row times a weight, so many sums further on. Says by how many numbers the row grew.
    fn add(&mut self, other: &Row, weight: f64, by: u64, work: &mut usize) -> Result<usize, Refused> {
        let from = other.from + by;
        if self.mass.is_empty() {
            self.from = from;
        }
        let to = (from + other.mass.len() as u64).max(self.from + self.mass.len() as u64);
        let first = from.min(self.from);
        let length = usize::try_from(to - first).ok().filter(|length| *length <= MOST_CELLS).ok_or(Refused::Design)?;
        let growth = length - self.mass.len();
        spend(work, if first < self.from { length } else { growth } + other.mass.len())?;
        let (before, skip) = ((self.from - first) as usize, (from - first) as usize);
        if before > 0 {
            self.mass.splice(0..0, std::iter::repeat_n(0.0, before));
            self.from = first;
        }
        self.mass.resize(length, 0.0);
        for (to, mass) in self.mass.iter_mut().skip(skip).zip(&other.mass) {
            *to += weight * mass;
        }
        Ok(growth)
    }

    /// Drops what is too small at either end, and says how much that was.
    fn trim(&mut self) -> f64 {
        let small = |mass: &&f64| **mass < DROPPED;
        let after = self.mass.iter().rev().take_while(small).count();
        let mut dropped: f64 = self.mass.iter().rev().take(after).sum();
        self.mass.truncate(self.mass.len() - after);
        let before = self.mass.iter().take_while(small).count();
        dropped += self.mass.drain(..before).sum::<f64>();
        self.from += before as u64;
        dropped
    }

    fn whole(&self) -> f64 {
        self.mass.iter().sum()
    }
}

impl Sums {
    /// One stratum by itself.
    fn of(stratum: &Drawn, work: &mut usize) -> Result<Self, Refused> {
        let slots = stratum.first.len();
        let mut counts: Vec<u64> = stratum.first.iter().chain(&stratum.second).copied().collect();
        counts.sort_unstable();
        let least = sum(counts.get(..slots).unwrap_or_default())?;
        let most = sum(counts.get(counts.len() - slots..).unwrap_or_default())?;
        // What all units have they add whichever are drawn.
        let common = counts.first().copied().unwrap_or(0);
        let mut groups: BTreeMap<u64, usize> = BTreeMap::new();
        for count in &counts {
            *groups.entry(count - common).or_default() += 1;
        }
        // The largest group comes last, where the units still to be drawn leave no choice.
        let mut groups: Vec<(u64, usize)> = groups.into_iter().collect();
        groups.sort_by_key(|(count, units)| (*units, *count));
        let last = groups.pop().map_or(0, |(count, _)| count);
        let mut left = counts.len();
        let mut dropped = 0.0;
        // By how many units were drawn so far.
        let mut rows = vec![Row { from: 0, mass: vec![1.0] }];
        for (count, units) in groups {
            let mut next = vec![Row::default(); (rows.len() + units).min(slots + 1)];
            let mut cells = 0;
            for (drawn, row) in rows.iter().enumerate().filter(|(_, row)| !row.mass.is_empty()) {
                let whole = row.whole();
                for (more, target) in next.iter_mut().skip(drawn).enumerate().take(units + 1) {
                    let (all, marked, draws) = (left as f64, units as f64, (slots - drawn) as f64);
                    let weight = hypergeometric(more as f64, all, marked, draws);
                    spend(work, 20)?;
                    if weight * whole < DROPPED {
                        dropped += weight * whole;
                        continue;
                    }
                    cells += target.add(row, weight, count.saturating_mul(more as u64), work)?;
                    if cells > MOST_CELLS {
                        return Err(Refused::Design);
                    }
                }
            }
            dropped += next.iter_mut().map(Row::trim).sum::<f64>();
            left -= units;
            rows = next;
        }
        let mut sums = Row::default();
        for (drawn, row) in rows.iter().enumerate().filter(|(_, row)| !row.mass.is_empty()) {
            sums.add(row, 1.0, last * (slots - drawn) as u64, work)?;
        }
        dropped += sums.trim();
        Ok(Self { least, most, from: sums.from + common * slots as u64, mass: sums.mass, dropped })
    }

    /// Both together.
    fn and(&self, other: &Self, work: &mut usize) -> Result<Self, Refused> {
        let (long, short) = if self.mass.len() >= other.mass.len() { (self, other) } else { (other, self) };
        let mut sums = Row::default();
        let row = Row { from: long.from, mass: long.mass.clone() };
        for (at, mass) in short.mass.iter().enumerate().filter(|(_, mass)| **mass > 0.0) {
            sums.add(&row, *mass, short.from + at as u64, work)?;
        }
        let dropped = sums.trim() + self.dropped + other.dropped;
        let (least, most) = (self.least + other.least, self.most + other.most);
        Ok(Self { least, most, from: sums.from, mass: sums.mass, dropped })
    }

    /// The probability of so many or more; summed from the far end, where the terms are small.
    fn at_least(&self, events: u64) -> f64 {
        let skip = usize::try_from(events.saturating_sub(self.from)).unwrap_or(usize::MAX);
        (self.mass.iter().skip(skip).rev().sum::<f64>() + self.dropped).min(1.0)
    }

    fn at_most(&self, events: u64) -> f64 {
        let Some(above) = events.checked_sub(self.from) else { return self.dropped.min(1.0) };
        let take = usize::try_from(above).unwrap_or(usize::MAX).saturating_add(1);
        (self.mass.iter().take(take).sum::<f64>() + self.dropped).min(1.0)
    }
}
