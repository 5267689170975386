//! Whether the statistics keep what they promise: intervals cover, and tests cry wolf no oftener than their level says.
//!
//! Where all outcomes can be gone through they are, weighted by their probability, and the promise holds to rounding. Where
//! they can't, chance is seeded and the count of failures has to be one that a promise kept would give with all but one
//! in a million.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use leadsman::statistics::lot::{Unit, evidence};
use leadsman::statistics::power::power;
use leadsman::statistics::randomisation::{Drawn, randomisation};
use leadsman::statistics::rates::rate;
use leadsman::statistics::ratio::{ratio, test};
use leadsman::statistics::sequential::sequential;
use leadsman::statistics::strata::{dispersion, homogeneity, mantel_haenszel};
use leadsman::statistics::{Level, Tally};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use statrs::distribution::{Binomial, Discrete, DiscreteCDF, Poisson};

/// What rounding may add to a promise.
const ROUNDING: f64 = 1e-9;

fn tally(events: u64, exposure: f64) -> Tally {
    Tally::new(events, exposure).unwrap()
}

/// A Poisson number, by the product of uniform ones (D. Knuth, *The Art of Computer Programming* 2, 3.4.1; from memory).
fn chance_of(mean: f64, dice: &mut ChaCha8Rng) -> u64 {
    let (least, mut product, mut events) = (libm::exp(-mean), dice.random::<f64>(), 0);
    while product > least {
        product *= dice.random::<f64>();
        events += 1;
    }
    events
}

/// Holds a count of failures against the rate promised: no more than such a rate gives but once in a million.
#[track_caller]
fn promised(what: &str, failures: u64, of: u64, at_most: f64) {
    let chance = if failures == 0 { 1.0 } else { Binomial::new(at_most, of).unwrap().sf(failures - 1) };
    assert!(chance > 1e-6, "{what}: {failures} of {of}, where at most {at_most} of them were promised");
}

// Gone through

/// Garwood's limits cover any mean with the level at least.
#[test]
fn rates_are_covered() {
    for level in [0.8, 0.95] {
        let most = 120;
        let limits: Vec<_> =
            (0..most).map(|events| rate(tally(events, 1.0), Level::new(level).unwrap()).unwrap().interval).collect();
        for step in 1..200 {
            let mean = f64::from(step) * 0.25;
            let seen = Poisson::new(mean).unwrap();
            let covered: f64 = (0..most)
                .zip(&limits)
                .filter(|(_, limits)| limits.cover(mean))
                .map(|(events, _)| seen.pmf(events))
                .sum();
            assert!(covered >= level - ROUNDING, "mean {mean}: {covered}");
        }
    }
}

/// Given all events, the doubled test rejects equal rates at its level at most, and the limits cover the ratio.
#[test]
fn two_rates_keep_their_level() {
    for (t1, t2) in [(10.0, 10.0), (3.0, 8.0), (1.0, 25.0)] {
        for all in 1..45 {
            let outcomes: Vec<_> = (0..=all).map(|x1| (tally(x1, t1), tally(all - x1, t2))).collect();
            for of in [0.01, 0.05, 0.2] {
                let level = Level::new(1.0 - of).unwrap();
                for (times, true_ratio) in [(1, 1.0), (2, 0.5), (3, 4.0)] {
                    let share = true_ratio * t1 / (true_ratio * t1 + t2);
                    let seen = Binomial::new(share, all).unwrap();
                    let mass = |fails: &dyn Fn(&(Tally, Tally)) -> bool| -> f64 {
                        outcomes.iter().filter(|pair| fails(pair)).map(|(first, _)| seen.pmf(first.events())).sum()
                    };
                    let missed = mass(&|(x1, x2)| !ratio(*x1, *x2, level).unwrap().limits.cover(true_ratio));
                    assert!(missed <= of + ROUNDING, "{all} events, ratio {true_ratio}: {missed}");
                    if times == 1 {
                        let alarms = mass(&|(x1, x2)| test(*x1, *x2).two_sided <= of);
                        let one_sided = mass(&|(x1, x2)| test(*x1, *x2).more <= of);
                        assert!(alarms <= of + ROUNDING && one_sided <= of + ROUNDING, "{all} events: {alarms}");
                    }
                }
            }
        }
    }
}

/// Every choice of a number of things out of some.
fn choices(of: usize, number: usize) -> Vec<Vec<bool>> {
    (0..1_u32 << of)
        .map(|bits| (0..of).map(|at| bits >> at & 1 == 1).collect::<Vec<bool>>())
        .filter(|choice| choice.iter().filter(|drawn| **drawn).count() == number)
        .collect()
}

/// Over every assignment that could have been drawn: a p of so much or less comes at most that often, and the smallest p
/// that is stated is the smallest that comes.
#[test]
fn contests_keep_their_level() {
    let designs: [&[(&[u64], usize)]; 3] = [
        &[(&[0, 1, 1, 2, 0, 5, 3, 0], 4)],
        &[(&[0, 2, 1, 0], 2), (&[3, 1, 1, 0], 2), (&[1, 0, 4], 1)],
        &[(&[2, 2, 2, 7, 0], 3), (&[1, 1, 0, 0, 6], 2)],
    ];
    for design in designs {
        let mut assignments: Vec<Vec<Drawn>> = vec![Vec::new()];
        for (counts, drawn) in design {
            let choices = choices(counts.len(), *drawn);
            let dealt = |choice: &Vec<bool>, first: bool| {
                counts.iter().zip(choice).filter(|(_, drawn)| **drawn == first).map(|(count, _)| *count).collect()
            };
            assignments = assignments
                .iter()
                .flat_map(|before| {
                    choices.iter().map(|choice| {
                        let stratum = Drawn { first: dealt(choice, true), second: dealt(choice, false) };
                        before.iter().cloned().chain([stratum]).collect()
                    })
                })
                .collect();
        }
        let p: Vec<f64> = assignments.iter().map(|strata| randomisation(strata).unwrap().test.two_sided).collect();
        for level in p.iter().map(|p| p * (1.0 + ROUNDING)) {
            let alarms = p.iter().filter(|p| **p <= level).count() as f64 / p.len() as f64;
            assert!(alarms <= level * (1.0 + ROUNDING), "p of {level} comes in {alarms}");
        }
        let smallest = randomisation(&assignments[0]).unwrap().smallest;
        let least = p.iter().copied().fold(1.0, f64::min);
        assert!((least - smallest).abs() < 1e-12, "{least}, stated {smallest}");
    }
}

/// Given each stratum's events and the total of the first arm, the test of homogeneity rejects at its level at most.
#[test]
fn agreeing_strata_are_rarely_told_apart() {
    let exposures = [(4.0, 4.0), (6.0, 2.0), (3.0, 9.0)];
    let events = [5_u64, 4, 6];
    for total in 1..15_u64 {
        let (mut p, mut whole) = (Vec::new(), 0.0);
        for (x, y) in (0..=events[0]).flat_map(|x| (0..=events[1]).map(move |y| (x, y))) {
            let Some(z) = total.checked_sub(x + y).filter(|z| *z <= events[2]) else { continue };
            let strata: Vec<_> = [x, y, z]
                .iter()
                .zip(events)
                .zip(exposures)
                .map(|((first, all), (t1, t2))| (tally(*first, t1), tally(all - first, t2)))
                .collect();
            let mass: f64 = strata
                .iter()
                .map(|(first, second)| {
                    let share = first.exposure() / (first.exposure() + second.exposure());
                    Binomial::new(share, first.events() + second.events()).unwrap().pmf(first.events())
                })
                .product();
            whole += mass;
            p.push((homogeneity(&strata).unwrap().p, mass));
        }
        for of in [0.01, 0.05, 0.1, 0.2, 0.5] {
            let alarms = p.iter().filter(|(p, _)| *p <= of).map(|(_, mass)| mass).sum::<f64>() / whole;
            assert!(alarms <= of + ROUNDING, "{total} with the first: {alarms} at {of}");
        }
    }
}

/// Looking after every event, two arms side by side: the doubled test cries wolf far oftener than its level, the
/// sequential one doesn't. Each stream of events is followed until its first alarm, by how many were with the first arm.
#[test]
fn looking_every_time() {
    let most = 100;
    let alarms = |share: f64, alarm: &dyn Fn(u64, u64) -> bool| {
        let mut quiet = vec![1.0];
        let mut alarms = 0.0;
        for all in 1..=most {
            let mut next = vec![0.0; all as usize + 1];
            for (x1, mass) in quiet.iter().enumerate() {
                next[x1 + 1] += mass * share;
                next[x1] += mass * (1.0 - share);
            }
            for (x1, mass) in next.iter_mut().enumerate() {
                if *mass > 0.0 && alarm(x1 as u64, all - x1 as u64) {
                    alarms += *mass;
                    *mass = 0.0;
                }
            }
            quiet = next;
        }
        alarms
    };
    for (t1, t2) in [(6.0, 6.0), (2.0, 7.0)] {
        let share = t1 / (t1 + t2);
        let fooled = alarms(share, &|x1, x2| test(tally(x1, t1), tally(x2, t2)).two_sided <= 0.05);
        let valid = alarms(share, &|x1, x2| {
            sequential(&[(tally(x1, t1), tally(x2, t2))], Level::USUAL).unwrap()[0].e() >= 20.0
        });
        assert!(fooled > 0.1, "{fooled}");
        assert!(valid <= 0.05 && valid > 0.001, "{valid}");
    }
}

// By chance

/// Blocks of rods and hours that differ from block to block, as they come in a contest.
fn blocks(many: u64, ratio: f64, dice: &mut ChaCha8Rng) -> Vec<(Tally, Tally)> {
    (0..many)
        .map(|_| {
            let rods = [(1.0, 1.0), (2.0, 1.0), (1.0, 2.0), (2.0, 2.0)][dice.random_range(0..4)];
            // Fish come and go: the rate of a block is its own.
            let rate = dice.random_range(0.2..1.5);
            let (first, second) = (chance_of(rate * ratio * rods.0, dice), chance_of(rate * rods.1, dice));
            (tally(first, rods.0), tally(second, rods.1))
        })
        .collect()
}

/// A confidence sequence holds the ratio after every block at once, whatever it is, with shares that vary and rates that
/// drift; and under equal rates the always-valid p gets to its level at most that often.
#[test]
fn looking_after_every_block() {
    let mut dice = ChaCha8Rng::seed_from_u64(7);
    let level = Level::new(0.8).unwrap();
    let runs = 120;
    for true_ratio in [1.0, 2.0, 0.4] {
        let (mut missed, mut alarms) = (0, 0);
        for _ in 0..runs {
            let looks = sequential(&blocks(30, true_ratio, &mut dice), level).unwrap();
            missed += u64::from(!looks.iter().all(|look| look.limits.is_some_and(|left| left.cover(true_ratio))));
            alarms += u64::from(looks.iter().any(|look| look.p <= 0.2));
        }
        promised("ratios missed", missed, runs, 0.2);
        if true_ratio == 1.0 {
            promised("alarms", alarms, runs, 0.2);
        } else {
            assert!(alarms > runs / 4, "a ratio of {true_ratio} is found in {alarms} of {runs}");
        }
    }
}

/// The limits of the pooled ratio are not exact; with some thirty events over the strata they cover well enough.
#[test]
fn pooled_ratios_are_covered() {
    let mut dice = ChaCha8Rng::seed_from_u64(11);
    let runs = 3000;
    for true_ratio in [1.0, 2.5] {
        let mut missed = 0;
        for _ in 0..runs {
            let pooled = mantel_haenszel(&blocks(15, true_ratio, &mut dice), Level::USUAL);
            missed += u64::from(!pooled.is_some_and(|got| got.interval.cover(true_ratio)));
        }
        promised("ratios missed", missed, runs, 0.05);
    }
}

/// Counts that don't clump are called so about as often as the level says, counts of schools mostly.
#[test]
fn clumps_are_told_from_chance() {
    let mut dice = ChaCha8Rng::seed_from_u64(13);
    let runs = 3000;
    let (mut alarms, mut found) = (0, 0);
    for _ in 0..runs {
        let even: Vec<u64> = (0..20).map(|_| chance_of(3.0, &mut dice)).collect();
        alarms += u64::from(dispersion(&even).is_some_and(|got| got.p <= 0.05));
        let schools: Vec<u64> = (0..20).map(|_| 3 * chance_of(1.0, &mut dice)).collect();
        found += u64::from(dispersion(&schools).is_some_and(|got| got.p <= 0.05));
    }
    promised("alarms", alarms, runs, 0.05);
    assert!(found > runs * 9 / 10, "{found}");
}

/// The power that is stated is how often the test does find the difference.
#[test]
fn power_is_how_often_it_is_found() {
    let mut dice = ChaCha8Rng::seed_from_u64(17);
    let (first, second, hours) = (tally(12, 30.0), tally(4, 28.0), 136.73);
    let stated = power(first, second, hours).unwrap();
    let (t1, t2) = (hours * 30.0 / 58.0, hours * 28.0 / 58.0);
    let runs = 3000;
    let found: u64 = (0..runs)
        .map(|_| {
            let (x1, x2) = (chance_of(0.4 * t1, &mut dice), chance_of(4.0 / 28.0 * t2, &mut dice));
            u64::from(test(tally(x1, t1), tally(x2, t2)).two_sided <= 0.05)
        })
        .sum();
    promised("found", found, runs, stated);
    promised("not found", runs - found, runs, 1.0 - stated);
}

/// Every way in which a lot can fall on units: exactly `first` of each stratum are the first's.
fn lots(strata: &[usize], first: &[usize]) -> Vec<Vec<bool>> {
    let units = strata.len();
    (0..1u32 << units)
        .map(|lot| (0..units).map(|unit| lot >> unit & 1 == 1).collect::<Vec<bool>>())
        .filter(|lot| {
            first.iter().enumerate().all(|(stratum, first)| {
                lot.iter().zip(strata).filter(|(is_first, of)| **is_first && **of == stratum).count() == *first
            })
        })
        .collect()
}

/// Where it does not matter whose unit it was, the evidence is worth one on average, after every unit, over all the ways in
/// which the lot could have fallen; and whoever looks after each of them sees 20 or more in at most one lot of twenty.
/// Whatever the strikes are: clumped, rising over the day, none.
#[test]
fn the_evidence_of_a_lot_is_a_fair_bet_however_fish_bite() {
    for (strata, first, strikes) in [
        (vec![0; 12], vec![6], vec![0, 0, 9, 0, 1, 0, 0, 14, 0, 2, 0, 0]),
        (vec![0; 12], vec![6], vec![1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]),
        (vec![0, 0, 0, 0, 1, 1, 1, 1, 1, 0, 0, 1], vec![3, 3], vec![5, 0, 0, 1, 0, 7, 0, 0, 3, 40, 0, 1]),
        (vec![0, 1, 0, 1, 2, 2], vec![1, 2, 1], vec![1, 1, 1, 1, 1, 1]),
        (vec![0; 6], vec![3], vec![0; 6]),
    ] {
        let lots = lots(&strata, &first);
        let mut sums = vec![0.0; strata.len()];
        let mut alarms = 0usize;
        for lot in &lots {
            let units: Vec<Unit> = strata
                .iter()
                .zip(&strikes)
                .zip(lot)
                .map(|((stratum, events), first)| Unit { stratum: *stratum, events: *events, first: *first })
                .collect();
            let looks = evidence(&units);
            assert_eq!(looks.len(), units.len());
            for (sum, look) in sums.iter_mut().zip(&looks) {
                *sum += look.e();
            }
            alarms += usize::from(looks.last().unwrap().p <= 0.05);
            // The other strategy's evidence is the same.
            let swapped: Vec<Unit> = units.iter().map(|unit| Unit { first: !unit.first, ..*unit }).collect();
            for (look, other) in looks.iter().zip(evidence(&swapped)) {
                assert!((look.log_e - other.log_e).abs() < 1e-9, "{look:?} {other:?}");
            }
        }
        for sum in sums {
            assert!((sum / lots.len() as f64 - 1.0).abs() < 1e-9, "a fair bet: {}", sum / lots.len() as f64);
        }
        assert!(alarms * 20 <= lots.len(), "{alarms} of {}", lots.len());
    }
    // And it finds what is there: one side's units have four times the strikes.
    let units: Vec<Unit> = (0..40)
        .map(|at| Unit { stratum: at / 4, events: if at % 2 == 0 { 4 } else { 1 }, first: at % 2 == 0 })
        .collect();
    assert!(evidence(&units).last().unwrap().p < 0.001);
}

/// The odds that a lot leaves open are worth nothing where it has no choice left, and no number is too large.
#[test]
fn the_evidence_of_a_lot_has_bounds() {
    assert!(evidence(&[]).is_empty());
    let unit = |events, first| Unit { stratum: 0, events, first };
    let alone = evidence(&[unit(7, true), unit(3, true)]);
    assert!(alone.iter().all(|look| look.log_e == 0.0 && look.p == 1.0), "{alone:?}");
    let wild = evidence(&[unit(u64::MAX, true), unit(0, false)]);
    assert!(wild.iter().all(|look| look.log_e.is_finite() && (0.0..=1.0).contains(&look.p)), "{wild:?}");
}
