//! The mathematics of the comparison, against published values and against general-purpose libraries.
//!
//! Where a table says no other source, its values were worked out from the cited formulas by the collector of the values
//! with scipy 1.17.1, statsmodels 0.15.0 and R's epiR 2.0.57. `tests/statistics/values.tsv` holds many more, which
//! `tests/statistics/check_statistics.py` makes and explains row by row; statrs is a third library beside both.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use leadsman::statistics::power::{MOST_EXPECTED, needed, power};
use leadsman::statistics::randomisation::{Drawn, randomisation, reaches, smallest_of};
use leadsman::statistics::rates::rate;
use leadsman::statistics::ratio::{RateTest, ratio, test, test_of};
use leadsman::statistics::sequential::{MOST_BLOCKS, beta_mixture, sequential};
use leadsman::statistics::strata::{Found, dispersion, homogeneity, mantel_haenszel};
use leadsman::statistics::{Bound, Level, Limits, MOST_EVENTS, Refused, Tally};
use proptest::prelude::*;
use statrs::distribution::{Binomial, ChiSquared, ContinuousCDF, DiscreteCDF, Poisson};

const VALUES: &str = include_str!("statistics/values.tsv");

fn tally(events: u64, exposure: f64) -> Tally {
    Tally::new(events, exposure).unwrap()
}

fn level(level: f64) -> Level {
    Level::new(level).unwrap()
}

#[track_caller]
fn near(what: &str, got: f64, wanted: f64, within: f64) {
    assert!((got - wanted).abs() <= within, "{what}: {got}, wanted {wanted} within {within}");
}

/// Within a share of the value wanted.
#[track_caller]
fn like(what: &str, got: f64, wanted: f64, share: f64) {
    near(what, got, wanted, share * wanted.abs());
}

/// The rows of a kind, without their first field.
fn rows(kind: &str) -> Vec<Vec<&'static str>> {
    let rows: Vec<Vec<&str>> = VALUES
        .lines()
        .filter_map(|line| line.strip_prefix(kind)?.strip_prefix('\t'))
        .map(|line| line.split('\t').collect())
        .collect();
    assert!(!rows.is_empty(), "no row of {kind}");
    rows
}

fn number(text: &str) -> f64 {
    text.parse().unwrap()
}

fn count(text: &str) -> u64 {
    text.parse().unwrap()
}

fn counts(text: &str) -> Vec<u64> {
    if text.is_empty() { Vec::new() } else { text.split(',').map(count).collect() }
}

fn pair(fields: &[&str]) -> (Tally, Tally) {
    (tally(count(fields[0]), number(fields[1])), tally(count(fields[2]), number(fields[3])))
}

fn pairs(text: &str) -> Vec<(Tally, Tally)> {
    text.split(',').collect::<Vec<_>>().chunks(4).map(pair).collect()
}

fn swapped(pairs: &[(Tally, Tally)]) -> Vec<(Tally, Tally)> {
    pairs.iter().map(|(first, second)| (*second, *first)).collect()
}

// Tallies

#[test]
fn what_can_be_counted_with() {
    assert_eq!(Tally::new(0, 0.0), Ok(Tally::NONE));
    assert_eq!(Tally::new(2, 0.0), Err(Refused::NoExposure(2)));
    assert_eq!(Tally::new(MOST_EVENTS + 1, 5.0), Err(Refused::Events(MOST_EVENTS + 1)));
    for exposure in [-1.0, 1e-7, 2e9, f64::INFINITY] {
        assert_eq!(Tally::new(0, exposure), Err(Refused::Exposure(exposure)));
    }
    assert!(matches!(Tally::new(0, f64::NAN), Err(Refused::Exposure(_))));
    for outside in [0.0, 1.0, -0.5, 95.0, f64::NAN] {
        assert_eq!(Level::new(outside), None);
    }
    let message = Tally::new(2, 0.0).unwrap_err().to_string();
    assert_eq!(message, "2 events in 0 rod-hours; events need rod-hours to happen in");
}

/// Catch per effort of a day: the ratio of the sums, 8 in 18.5 rod-hours, not the mean of the trips' ratios.
#[test]
fn tallies_add_up_to_the_ratio_of_their_sums() {
    let trips = [(2, 4.0), (0, 3.0), (5, 10.0), (1, 1.5)];
    let day = trips.into_iter().fold(Tally::NONE, |day, (events, hours)| day.and(tally(events, hours)).unwrap());
    near("rate", rate(day, Level::USUAL).unwrap().rate, 0.432432, 0.0000005);
}

// Rates

/// Limits of a Poisson mean: Garwood, Biometrika 28 (1936), 437-442. Printed elsewhere as well: no events, 3.689; 25
/// events, 16.18 to 36.90 at 95 %, 17.38 to 34.92 at 90 %, 14.00 to 41.00 at 99 %.
#[test]
fn garwoods_limits() {
    let table = [
        (0, 0.95, 0.0, 3.68888),
        (1, 0.95, 0.02532, 5.57164),
        (2, 0.95, 0.24221, 7.22469),
        (3, 0.95, 0.61867, 8.76727),
        (5, 0.95, 1.62349, 11.66833),
        (6, 0.95, 2.20189, 13.05947),
        (8, 0.95, 3.45383, 15.76319),
        (10, 0.95, 4.79539, 18.39036),
        (11, 0.95, 5.49116, 19.68204),
        (12, 0.95, 6.20058, 20.96159),
        (14, 0.95, 7.65393, 23.48962),
        (16, 0.95, 9.14538, 25.983),
        (17, 0.95, 9.90313, 27.21865),
        (20, 0.95, 12.21652, 30.88838),
        (25, 0.95, 16.17868, 36.90493),
        (30, 0.95, 20.24087, 42.82687),
        (0, 0.9, 0.0, 2.99573),
        (5, 0.9, 1.97015, 10.51303),
        (25, 0.9, 17.38213, 34.91608),
        (25, 0.99, 13.99537, 41.00041),
        (0, 0.99, 0.0, 5.29832),
    ];
    for (events, of, lower, upper) in table {
        let got = rate(tally(events, 1.0), level(of)).unwrap().interval;
        near("lower", got.lower, lower, 0.00005);
        near("upper", got.upper, upper, 0.00005);
    }
}

/// Per rod-hour, within 0.01 %; and a test suite's reference of 15 events in 400 (statsmodels, exact-c).
#[test]
fn rates_per_rod_hour() {
    let table = [
        (0, 12.5, 0.0, 0.0, 0.29511),
        (7, 20.0, 0.35, 0.140718, 0.721134),
        (15, 48.0, 0.3125, 0.174904, 0.515421),
        (15, 400.0, 0.0375, 0.020_988_465_3, 0.061_850_547_2),
    ];
    for (events, hours, seen, lower, upper) in table {
        let got = rate(tally(events, hours), Level::USUAL).unwrap();
        like("rate", got.rate, seen, 1e-12);
        like("lower", got.interval.lower, lower, 0.0001);
        like("upper", got.interval.upper, upper, 0.0001);
    }
    assert_eq!(rate(Tally::NONE, Level::USUAL), None);
}

#[test]
fn rates_by_a_library() {
    for row in rows("garwood") {
        let got = rate(tally(count(row[0]), number(row[1])), level(number(row[2]))).unwrap().interval;
        like("lower", got.lower, number(row[3]), 1e-9);
        like("upper", got.upper, number(row[4]), 1e-9);
    }
}

// Ratios

/// x1, t1, x2, t2; ratio, limits; p doubled, at least, at most. A ratio or limit of infinity has no end.
#[test]
fn two_rates() {
    let inf = f64::INFINITY;
    let table = [
        ((7, 20.0, 2, 20.0), (3.5, 0.666_406_78, 34.530_323), (0.179_688, 0.089_844, 0.980_469)),
        ((12, 30.0, 4, 28.0), (2.8, 0.848_616_52, 11.911_522), (0.102_726, 0.051_363, 0.984_887)),
        ((5, 8.0, 0, 9.5), (inf, 1.088_172_6, inf), (0.039_929, 0.019_965, 1.0)),
        ((2, 6.0, 8, 7.5), (0.3125, 0.032_328_431, 1.565_920_8), (0.211_737, 0.974_793, 0.105_868)),
        ((1, 4.0, 1, 4.0), (1.0, 0.012_739_367, 78.496_835), (1.0, 0.75, 0.75)),
    ];
    for ((x1, t1, x2, t2), (wanted, lower, upper), (doubled, more, fewer)) in table {
        let (first, second) = (tally(x1, t1), tally(x2, t2));
        let got = test(first, second);
        near("doubled", got.two_sided, doubled, 0.00002);
        near("at least", got.more, more, 0.00002);
        near("at most", got.fewer, fewer, 0.00002);
        let got = ratio(first, second, Level::USUAL).unwrap();
        like("lower", got.limits.lower, lower, 0.0002);
        for (got, wanted) in [(got.ratio, wanted), (got.limits.upper, upper)] {
            match got {
                Bound::Finite(got) => like("ratio or upper", got, wanted, 0.0002),
                Bound::Unbounded => assert!(wanted.is_infinite(), "unbounded, not {wanted}"),
            }
        }
    }
}

/// The published example of 60 in 51 477.5 against 30 in 54 308.7, with the exact one-sided p and the limits that R prints.
#[test]
fn the_published_example_of_two_rates() {
    let (first, second) = (tally(60, 51_477.5), tally(30, 54_308.7));
    near("p", test(first, second).more, 0.000_428, 0.000_000_5);
    let got = ratio(first, second, Level::USUAL).unwrap();
    like("ratio", got.ratio.finite().unwrap(), 2.109_997_571_8, 1e-10);
    like("lower", got.limits.lower, 1.339_735_7, 1e-7);
    like("upper", got.limits.upper.finite().unwrap(), 3.388_365_6, 1e-7);
}

/// The conditional test of Krishnamoorthy and Thomson's example (J. Stat. Plan. Inf. 119 (2004), 23-35; the figure from
/// memory): 3 against 0 in equal exposure.
#[test]
fn three_against_none() {
    near("p", test(tally(3, 1.0), tally(0, 1.0)).more, 0.125, 1e-12);
}

#[test]
fn nothing_seen_proves_nothing() {
    let silent = RateTest { more: 1.0, fewer: 1.0, two_sided: 1.0 };
    for (first, second) in [
        (tally(0, 10.0), tally(0, 12.0)),
        (tally(0, 15.0), tally(0, 3.0)),
        (tally(4, 15.0), Tally::NONE),
        (Tally::NONE, Tally::NONE),
    ] {
        assert_eq!(test(first, second), silent);
        assert_eq!(ratio(first, second, Level::USUAL), None);
        assert_eq!(needed(first, second), None);
    }
    assert_eq!(test_of(tally(1, 1.0), tally(1, 1.0), 0.0), None);
    assert_eq!(test_of(tally(1, 1.0), tally(1, 1.0), f64::NAN), None);
    let none = ratio(tally(0, 4.0), tally(9, 4.0), Level::USUAL).unwrap();
    assert_eq!((none.ratio, none.limits.lower), (Bound::Finite(0.0), 0.0));
    assert!(none.limits.upper.finite().unwrap() < 1.0);
}

#[test]
fn two_rates_by_libraries() {
    for row in rows("test") {
        let (first, second) = pair(&row);
        let got = test_of(first, second, number(row[4])).unwrap();
        for (got, wanted) in [(got.more, number(row[5])), (got.fewer, number(row[6]))] {
            // Probabilities under the smallest number with all its digits are none there.
            near("p", got, wanted, 1e-9 * wanted + 1e-300);
        }
    }
    for row in rows("limits") {
        let (first, second) = pair(&row);
        let got = ratio(first, second, level(number(row[4]))).unwrap().limits;
        like("lower", got.lower, number(row[5]), 1e-8);
        match got.upper {
            Bound::Finite(upper) => like("upper", upper, number(row[6]), 1e-8),
            Bound::Unbounded => assert_eq!(row[6], "unbounded"),
        }
    }
}

/// The limits leave out what the doubled test rejects, and only that.
#[test]
fn limits_are_where_the_doubled_test_turns() {
    for row in rows("limits").into_iter().filter(|row| row[4] == "0.95") {
        let (first, second) = pair(&row);
        let Limits { lower, upper } = ratio(first, second, Level::USUAL).unwrap().limits;
        let p = |ratio| test_of(first, second, ratio).unwrap().two_sided;
        if lower > 0.0 {
            assert!(p(lower * 0.999_999) < 0.05 && p(lower * 1.000_001) > 0.05, "{row:?}");
        }
        if let Bound::Finite(upper) = upper {
            assert!(p(upper * 0.999_999) > 0.05 && p(upper * 1.000_001) < 0.05, "{row:?}");
        }
    }
}

/// Tails by statrs, where its own are good: whole numbers of middling size.
#[test]
fn tails_by_a_third_library() {
    for (x1, x2, share) in [(3_u64, 9_u64, 0.4), (20, 14, 0.5), (61, 30, 0.487), (0, 7, 0.2)] {
        let binomial = Binomial::new(share, x1 + x2).unwrap();
        let got = test(tally(x1, 10.0 * share), tally(x2, 10.0 * (1.0 - share)));
        near("at most", got.fewer, binomial.cdf(x1), 1e-12);
        near("at least", got.more, if x1 == 0 { 1.0 } else { binomial.sf(x1 - 1) }, 1e-12);
    }
    for events in [4_u64, 19, 88] {
        let limits = rate(tally(events, 1.0), Level::USUAL).unwrap().interval;
        near("lower tail", Poisson::new(limits.lower).unwrap().sf(events - 1), 0.025, 1e-12);
        near("upper tail", Poisson::new(limits.upper).unwrap().cdf(events), 0.025, 1e-12);
    }
    for counts in [vec![4, 0, 7, 2], vec![1, 1, 5, 9, 0, 2, 3], vec![3; 20]] {
        let got = dispersion(&counts).unwrap();
        let chi_square = ChiSquared::new(got.degrees_of_freedom as f64).unwrap();
        near("p", got.p, chi_square.sf(got.chi_square), 1e-12);
    }
}

// Strata

/// British doctors and smoking, five bands of age: Doll and Hill 1966 as tabulated by Breslow and Day 1987. Ratio and
/// limits by R's epiR 2.0.57, the limits with 1.96 where ours take all the digits of that quantile: within 0.0005 %.
#[test]
fn british_doctors() {
    let bands = [
        (32, 52_407.0, 2, 18_790.0),
        (104, 43_248.0, 12, 10_673.0),
        (206, 28_612.0, 28, 5_710.0),
        (186, 12_663.0, 28, 2_585.0),
        (102, 5_317.0, 31, 1_462.0),
    ];
    let bands: Vec<_> = bands.iter().map(|(a, t1, b, t2)| (tally(*a, *t1), tally(*b, *t2))).collect();
    let got = mantel_haenszel(&bands, Level::USUAL).unwrap();
    near("ratio", got.ratio, 1.424_682_02, 1e-8);
    like("lower", got.interval.lower, 1.154_698_6, 0.000_005);
    like("upper", got.interval.upper, 1.757_791, 0.000_005);
    near("variance", got.log_variance, 0.011_491_539, 1e-9);
    assert_eq!(got.strata, 5);
    let all =
        |arm: fn(&(Tally, Tally)) -> Tally| bands.iter().fold(Tally::NONE, |sum, band| sum.and(arm(band)).unwrap());
    let crude = ratio(all(|band| band.0), all(|band| band.1), Level::USUAL).unwrap();
    near("crude", crude.ratio.finite().unwrap(), 1.719_822_59, 1e-8);
    // The ratio falls with age, as Breslow and Day discuss.
    let agree = homogeneity(&bands).unwrap();
    assert_eq!((agree.degrees_of_freedom, agree.found), (4, Found::Exactly));
    near("p by chi-square", agree.p, ChiSquared::new(4.0).unwrap().sf(agree.chi_square), 0.003);
}

#[test]
fn strata_by_libraries() {
    for row in rows("pooled") {
        let got = mantel_haenszel(&pairs(row[0]), Level::USUAL).unwrap();
        like("ratio", got.ratio, number(row[1]), 1e-10);
        like("lower", got.interval.lower, number(row[2]), 1e-10);
        like("upper", got.interval.upper, number(row[3]), 1e-10);
        like("variance", got.log_variance, number(row[4]), 1e-10);
    }
    for row in rows("homogeneous") {
        let got = homogeneity(&pairs(row[0])).unwrap();
        like("ratio", got.ratio, number(row[1]), 1e-8);
        near("chi-square", got.chi_square, number(row[2]), 1e-7);
        assert_eq!(got.degrees_of_freedom, count(row[3]));
        if got.found == Found::ByChiSquare {
            near("p", got.p, number(row[4]), 1e-8);
        }
    }
    let (mut equal, table) = (0, rows("exactly"));
    for row in &table {
        let got = homogeneity(&pairs(row[0])).unwrap();
        assert_eq!(got.found, Found::Exactly);
        let (seen, smaller) = (number(row[1]), number(row[2]));
        assert!(got.p >= seen - 1e-9 && got.p <= smaller + 1e-9, "{}, not from {seen} to {smaller}", got.p);
        equal += usize::from((got.p - seen).abs() < 1e-9);
    }
    assert!(2 * equal >= table.len(), "most are the same: {equal} of {}", table.len());
}

#[test]
fn strata_that_say_nothing() {
    let silent = [(tally(0, 3.0), tally(0, 3.0)), (tally(4, 3.0), Tally::NONE), (Tally::NONE, tally(1, 2.0))];
    assert_eq!(mantel_haenszel(&silent, Level::USUAL), None);
    assert_eq!(homogeneity(&silent), None);
    let one_sided = [(tally(4, 3.0), tally(0, 3.0)), (tally(1, 3.0), tally(0, 2.0))];
    assert_eq!(mantel_haenszel(&one_sided, Level::USUAL), None);
    assert_eq!(homogeneity(&one_sided), None);
    // They take no part: one stratum that speaks beside them is none to agree with.
    let mut strata = silent.to_vec();
    strata.push((tally(4, 3.0), tally(2, 3.0)));
    let pooled = mantel_haenszel(&strata, Level::USUAL).unwrap();
    assert_eq!((pooled.ratio, pooled.strata), (2.0, 1));
    assert_eq!(homogeneity(&strata), None);
}

#[test]
fn counts_that_clump() {
    for row in rows("dispersion") {
        let got = dispersion(&counts(row[0])).unwrap();
        like("index", got.index, number(row[1]), 1e-10);
        like("chi-square", got.chi_square, number(row[2]), 1e-10);
        like("p", got.p, number(row[3]), 1e-9);
    }
    assert_eq!(dispersion(&[5]), None);
    assert_eq!(dispersion(&[0, 0, 0]), None);
    assert_eq!(dispersion(&[]), None);
    assert_eq!(dispersion(&[3, 3, 3]).unwrap().p, 1.0);
}

// Power

#[test]
fn power_by_libraries() {
    for row in rows("power") {
        let (first, second) = pair(&row);
        near("power", power(first, second, number(row[4])).unwrap(), number(row[5]), 1e-9);
    }
    for row in rows("needed") {
        let (first, second) = pair(&row);
        let got = needed(first, second).unwrap();
        assert!(got.exact);
        like("rod-hours", got.total, number(row[4]), 1e-8);
        near("power", got.power, 0.8, 1e-8);
        assert!(got.power >= 0.8);
        near("more", got.more, (got.total - first.exposure() - second.exposure()).max(0.0), 1e-9);
    }
}

#[test]
fn rates_that_are_equal_or_nearly_so() {
    assert_eq!(needed(tally(3, 0.3), tally(10, 1.0)), None);
    assert_eq!(power(tally(3, 0.3), tally(10, 1.0), 50.0), None);
    let got = needed(tally(1000, 500.0), tally(1010, 500.0)).unwrap();
    assert!(!got.exact && got.total * 2.01 > MOST_EXPECTED, "{got:?}");
    // Where the exact sum ends the formula is near it.
    let (exact, formula) = (
        needed(tally(1000, 500.0), tally(1096, 500.0)).unwrap(),
        needed(tally(1000, 500.0), tally(1092, 500.0)).unwrap(),
    );
    assert!(exact.exact && !formula.exact, "{exact:?} {formula:?}");
    like("like", formula.total / exact.total, 96.0_f64 * 96.0 / (92.0 * 92.0), 0.03);
    // What was plain to see needs no more.
    assert_eq!(needed(tally(90, 50.0), tally(10, 50.0)).unwrap().more, 0.0);
    assert_eq!(power(tally(5, 1.0), tally(2, 1.0), -1.0), None);
    assert_eq!(power(tally(5, 1.0), tally(2, 1.0), f64::NAN), None);
}

// Contests drawn by lot

fn drawn(text: &str) -> Vec<Drawn> {
    let stratum = |text: &str| {
        let (first, second) = text.split_once('/').unwrap();
        Drawn { first: counts(first), second: counts(second) }
    };
    text.split(';').map(stratum).collect()
}

#[test]
fn contests_by_a_library_and_counted_through() {
    for row in rows("permuted") {
        let strata = [Drawn { first: counts(row[0]), second: counts(row[1]) }];
        let got = randomisation(&strata).unwrap().test;
        near("at least", got.more, number(row[2]), 1e-12);
        near("at most", got.fewer, number(row[3]), 1e-12);
    }
    for row in rows("drawn") {
        let got = randomisation(&drawn(row[0])).unwrap();
        like("at least", got.test.more, number(row[1]), 1e-10);
        like("at most", got.test.fewer, number(row[2]), 1e-10);
        near("smallest", got.smallest, number(row[3]), 1e-10 * number(row[3]) + 1e-20);
        assert!(got.test.two_sided >= got.smallest);
    }
}

/// Fisher's own small design: of eight cups four were picked, all of them right, 1 in 70 (*The Design of Experiments*, 1935,
/// chapter II; from memory).
#[test]
fn eight_cups() {
    let got = randomisation(&[Drawn { first: vec![1; 4], second: vec![0; 4] }]).unwrap();
    like("p", got.test.more, 1.0 / 70.0, 1e-12);
    assert_eq!((got.observed, got.expected), (4, 2.0));
    assert!(reaches(got.smallest, 0.05));
}

#[test]
fn designs_that_can_show_nothing() {
    // Six units, three each: 2 in 20 at best, whatever bites.
    let small = randomisation(&[Drawn { first: vec![9, 8, 7], second: vec![0, 0, 0] }]).unwrap();
    like("smallest", small.smallest, 0.1, 1e-12);
    assert!(!reaches(small.smallest, 0.05) && reaches(small.smallest, 0.1));
    like("of the design", smallest_of(&[(6, 3)]), 0.1, 1e-12);
    // One of five and one of eight: 2 in 40.
    assert!(reaches(smallest_of(&[(5, 1), (8, 7), (3, 3), (0, 0)]), 0.05));
    assert!(!reaches(smallest_of(&[(5, 1), (7, 6)]), 0.05));
    assert_eq!(smallest_of(&[]), 1.0);
    assert!(smallest_of(&[(usize::MAX, usize::MAX / 2)]) > 0.0 && smallest_of(&[(3, usize::MAX)]) == 1.0);
    // All the same, nobody dealt, nothing at all.
    let same = vec![Drawn { first: vec![2, 2, 2, 2], second: vec![2, 2, 2, 2, 2] }];
    for strata in [same, vec![Drawn { first: vec![3, 1], second: vec![] }], vec![Drawn::default()], vec![]] {
        let got = randomisation(&strata).unwrap();
        assert_eq!((got.test.two_sided, got.smallest), (1.0, 1.0), "{strata:?}");
        assert!(!reaches(got.smallest, 0.05));
    }
}

/// Each day's blocks of a season, and one stratum of thousands of units; what lies beyond is refused.
#[test]
fn contests_of_a_season() {
    let strike = |at: u64| [0, 1, 0, 2, 0, 0, 1, 3, 1, 0, 0, 5][(at * at % 131 % 12) as usize];
    let stratum = |from: u64, units: u64| Drawn {
        first: (from..from + units / 2).map(strike).collect(),
        second: (from + units / 2..from + units).map(strike).collect(),
    };
    let season: Vec<Drawn> = (0..120).map(|day| stratum(day * 20, 20)).collect();
    let got = randomisation(&season).unwrap();
    let variance: f64 = season
        .iter()
        .map(|stratum| {
            let all: Vec<f64> = stratum.first.iter().chain(&stratum.second).map(|count| *count as f64).collect();
            let mean = all.iter().sum::<f64>() / 20.0;
            all.iter().map(|count| (count - mean) * (count - mean)).sum::<f64>() / 19.0 * 5.0
        })
        .sum();
    let z = (got.observed as f64 - 0.5 - got.expected) / variance.sqrt();
    near("near the normal", got.test.more, libm::erfc(z / std::f64::consts::SQRT_2) / 2.0, 0.002);
    let one = randomisation(&[stratum(0, 2000)]).unwrap();
    near("both tails and the middle", one.test.more + one.test.fewer, 1.0, 0.05);
    let huge = Drawn { first: (0..50_000).collect(), second: (0..50_000).collect() };
    assert_eq!(randomisation(&[huge]), Err(Refused::Design));
    let wide = Drawn { first: (0..20).map(|at| 1_000_000 + at * at * 1_000).collect(), second: vec![0; 30] };
    assert_eq!(randomisation(&[wide]), Err(Refused::Design));
    let most = Drawn { first: vec![u64::MAX, 1], second: vec![u64::MAX] };
    assert_eq!(randomisation(&[most]), Err(Refused::Design));
}

// Looks each evening

/// Robbins 1970; e-values of the mixture over a beta distribution, within 0.001 %.
#[test]
fn e_values() {
    let table = [
        (0, 0, 0.5, 1.0, 1.0, 1.0, 1.0),
        (7, 2, 0.5, 1.0, 1.0, 1.422_222, 0.703_125),
        (10, 0, 0.5, 1.0, 1.0, 93.090_909, 0.010_742),
        (18, 4, 0.5, 1.0, 1.0, 24.929_739, 0.040_113),
        (20, 8, 0.48, 0.5, 0.5, 3.515_179, 0.284_481),
        (20, 8, 0.48, 1.0, 1.0, 4.923_283, 0.203_116),
    ];
    for (x1, x2, share, alpha, beta, e, p) in table {
        let got = beta_mixture(x1, x2, share, alpha, beta).unwrap();
        like("e", libm::exp(got), e, 0.000_01);
        near("p", libm::exp(-got), p, 0.000_000_5 + 0.000_01 * p);
        if share == 0.5 && alpha == 1.0 {
            // The grid of the general one comes to the same.
            let look = sequential(&[(tally(x1, 5.0), tally(x2, 5.0))], Level::USUAL).unwrap()[0];
            like("e by the grid", look.e(), e, 0.000_01);
            near("p by the grid", look.p, p, 0.000_000_5 + 0.000_01 * p);
        }
    }
    for (share, alpha) in [(0.0, 1.0), (1.0, 1.0), (0.5, 0.0), (0.5, f64::INFINITY), (f64::NAN, 1.0), (0.5, f64::NAN)] {
        assert_eq!(beta_mixture(1, 1, share, alpha, 1.0), None);
    }
}

#[test]
fn e_values_by_libraries() {
    for row in rows("beta") {
        let of = |at: usize| number(row[at]);
        let got = beta_mixture(count(row[0]), count(row[1]), of(2), of(3), of(4)).unwrap();
        near("log e", got, of(5), 1e-10);
    }
    for row in rows("looks") {
        let last = *sequential(&pairs(row[0]), Level::USUAL).unwrap().last().unwrap();
        near("log e by the integral", last.log_e, number(row[1]), 1e-6);
        near("log e", last.log_e, number(row[2]), 1e-9);
        like("p", last.p, number(row[3]), 1e-9);
        let limits = last.limits.unwrap();
        like("lower", limits.lower, number(row[4]), 1e-8);
        match limits.upper {
            Bound::Finite(upper) => like("upper", upper, number(row[5]), 1e-8),
            Bound::Unbounded => assert_eq!(row[5], "unbounded"),
        }
    }
}

#[test]
fn evenings_without_news_change_nothing() {
    let quiet = [(tally(0, 3.0), tally(0, 2.0)), (Tally::NONE, tally(4, 2.0)), (tally(2, 1.0), Tally::NONE)];
    for look in sequential(&quiet, Level::USUAL).unwrap() {
        near("e", look.e(), 1.0, 1e-12);
        near("p", look.p, 1.0, 1e-12);
        assert_eq!(look.limits, Some(Limits { lower: 0.0, upper: Bound::Unbounded }));
    }
    assert_eq!(sequential(&[], Level::USUAL), Ok(vec![]));
    let many = vec![(Tally::NONE, Tally::NONE); MOST_BLOCKS + 1];
    assert_eq!(sequential(&many, Level::USUAL), Err(Refused::Blocks(MOST_BLOCKS + 1)));
}

/// Ratios once ruled out stay out; where first all events are with the one and then all with the other, none is left.
#[test]
fn the_ratios_left_only_get_fewer() {
    let mut blocks = vec![(tally(40, 2.0), tally(0, 2.0)); 3];
    blocks.extend(vec![(tally(0, 2.0), tally(40, 2.0)); 3]);
    let looks = sequential(&blocks, Level::USUAL).unwrap();
    assert!(looks[2].limits.unwrap().lower > 1.0);
    assert_eq!(looks[5].limits, None);
    assert!(looks.windows(2).all(|two| two[1].p <= two[0].p));
    // As the data stand in the end, the e-value is low again; the p keeps what was seen.
    assert!(looks[5].e() < 1.0 && looks[5].p < 1e-10);
}

// Whatever comes

fn any_tally() -> impl Strategy<Value = Tally> {
    let exposure = prop_oneof![Just(1e-6), Just(1e9), 0.1..50.0, (-5.9..8.9).prop_map(libm::exp10)];
    let events = prop_oneof![4 => 0..30_u64, 1 => 0..3000_u64, 1 => Just(MOST_EVENTS)];
    prop_oneof![1 => Just(Tally::NONE), 9 => (events, exposure).prop_map(|(x, t)| tally(x, t))]
}

fn any_pairs(most: usize) -> impl Strategy<Value = Vec<(Tally, Tally)>> {
    proptest::collection::vec((any_tally(), any_tally()), 0..most)
}

fn any_level() -> impl Strategy<Value = Level> {
    prop_oneof![Just(0.95), Just(f64::MIN_POSITIVE), Just(1.0 - f64::EPSILON / 2.0), 0.001..0.999].prop_map(level)
}

fn sound_p(p: f64) -> bool {
    (0.0..=1.0).contains(&p)
}

fn sound(limits: Limits) -> bool {
    limits.lower >= 0.0 && limits.upper.finite().is_none_or(|upper| upper.is_finite() && upper >= limits.lower)
}

/// Alike but for the last digits.
fn alike(one: f64, other: f64) -> bool {
    (one - other).abs() <= 1e-7 * one.abs().max(other.abs())
}

fn mirrored(one: Limits, other: Limits) -> bool {
    let turned = |lower: f64, upper: Bound| match upper {
        Bound::Finite(upper) => alike(lower * upper, 1.0),
        Bound::Unbounded => lower == 0.0,
    };
    turned(one.lower, other.upper) && turned(other.lower, one.upper)
}

fn cases(cases: u32) -> ProptestConfig {
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(cases(150))]

    #[test]
    fn two_rates_are_sound_and_mirror(first in any_tally(), second in any_tally(), of in any_level()) {
        if let Some(got) = rate(first, of) {
            let (lower, upper) = (got.interval.lower, got.interval.upper);
            prop_assert!(0.0 <= lower && lower <= got.rate && got.rate <= upper && upper.is_finite());
        }
        let (here, there) = (test(first, second), test(second, first));
        prop_assert!(sound_p(here.more) && sound_p(here.fewer) && sound_p(here.two_sided));
        prop_assert!(alike(here.more, there.fewer) && alike(here.two_sided, there.two_sided), "{here:?} {there:?}");
        match (ratio(first, second, of), ratio(second, first, of)) {
            (Some(here), Some(there)) => {
                prop_assert!(sound(here.limits) && mirrored(here.limits, there.limits), "{here:?} {there:?}");
                prop_assert!(here.ratio.finite().is_none_or(|ratio| here.limits.cover(ratio)), "{here:?}");
            }
            (here, there) => prop_assert!(here.is_none() && there.is_none()),
        }
    }

    #[test]
    fn strata_are_sound_and_mirror(strata in any_pairs(6), of in any_level()) {
        match (mantel_haenszel(&strata, of), mantel_haenszel(&swapped(&strata), of)) {
            (Some(here), Some(there)) => {
                prop_assert!(0.0 <= here.interval.lower && here.interval.lower <= here.ratio);
                prop_assert!(here.ratio <= here.interval.upper && here.interval.upper.is_finite());
                prop_assert!(alike(here.ratio * there.ratio, 1.0) && alike(here.log_variance, there.log_variance));
            }
            // Limits too wide for numbers may be so on one side first.
            (here, there) => prop_assert!([here, there].iter().flatten().all(|pooled| pooled.interval.upper > 1e100 || pooled.interval.lower < 1e-100), "{here:?} {there:?}"),
        }
        match (homogeneity(&strata), homogeneity(&swapped(&strata))) {
            (Some(here), Some(there)) => {
                prop_assert!(sound_p(here.p) && here.chi_square >= 0.0 && here.chi_square.is_finite());
                // Strata that contradict each other beyond all measure leave a likelihood so flat that no ratio is likeliest.
                let measured = here.chi_square < 1e6;
                prop_assert!(!measured || alike(here.ratio * there.ratio, 1.0), "{here:?} {there:?}");
                prop_assert!(here.found == there.found && (here.p - there.p).abs() < 1e-4, "{here:?} {there:?}");
            }
            (here, there) => prop_assert!(here.is_none() && there.is_none(), "{here:?} {there:?}"),
        }
        let counts: Vec<u64> = strata.iter().map(|(first, _)| first.events()).collect();
        if let Some(got) = dispersion(&counts) {
            prop_assert!(got.index >= 0.0 && got.index.is_finite() && sound_p(got.p));
        }
    }

    #[test]
    fn contests_are_sound_and_mirror(
        strata in proptest::collection::vec((proptest::collection::vec(0..6_u64, 0..9), proptest::collection::vec(0..6_u64, 0..9)), 0..6)
    ) {
        let here: Vec<Drawn> = strata.iter().cloned().map(|(first, second)| Drawn { first, second }).collect();
        let there: Vec<Drawn> = strata.into_iter().map(|(second, first)| Drawn { first, second }).collect();
        let (here, there) = (randomisation(&here).unwrap(), randomisation(&there).unwrap());
        prop_assert!(sound_p(here.test.more) && sound_p(here.test.fewer) && sound_p(here.smallest));
        prop_assert!(alike(here.test.more, there.test.fewer) && alike(here.test.two_sided, there.test.two_sided));
        prop_assert!(alike(here.smallest, there.smallest) && here.test.two_sided >= here.smallest * 0.999_999);
    }

    #[test]
    fn contests_of_any_counts_end(
        first in proptest::collection::vec(any::<u64>(), 0..5), second in proptest::collection::vec(any::<u64>(), 0..5)
    ) {
        if let Some(got) = dispersion(&first) {
            prop_assert!(got.index >= 0.0 && got.index.is_finite() && sound_p(got.p));
        }
        if let Ok(got) = randomisation(&[Drawn { first, second }]) {
            prop_assert!(sound_p(got.test.two_sided));
        }
    }

    #[test]
    fn looks_are_sound_and_mirror(blocks in any_pairs(12), of in any_level()) {
        let (here, there) = (sequential(&blocks, of).unwrap(), sequential(&swapped(&blocks), of).unwrap());
        for (here, there) in here.into_iter().zip(there) {
            prop_assert!(here.log_e.is_finite() && here.e().is_finite() && here.p > 0.0 && here.p <= 1.0);
            prop_assert!((here.log_e - there.log_e).abs() <= 1e-7 * here.log_e.abs().max(1.0), "{here:?} {there:?}");
            match (here.limits, there.limits) {
                (Some(here), Some(there)) => {
                    prop_assert!(sound(here) && sound(there));
                    // At next to no level what is left hangs on the last digits of a sum.
                    prop_assert!(of.value() < 0.001 || mirrored(here, there), "{here:?} {there:?}");
                }
                (here, there) => prop_assert!(here.is_none() && there.is_none(), "{here:?} {there:?}"),
            }
        }
    }
}

proptest! {
    #![proptest_config(cases(24))]

    #[test]
    fn what_is_needed_is_sound_and_mirrors(first in any_tally(), second in any_tally()) {
        match (needed(first, second), needed(second, first)) {
            (Some(here), Some(there)) => {
                prop_assert!(here.total.is_finite() && here.total > 0.0 && here.more >= 0.0 && here.power >= 0.8);
                prop_assert!(alike(here.total, there.total), "{here:?} {there:?}");
            }
            (here, there) => prop_assert!(here.is_none() && there.is_none()),
        }
    }
}
