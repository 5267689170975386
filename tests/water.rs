//! The derivations against published values, and against second libraries.
//!
//! Where a table says no other source, its values were worked out from the cited formulas by the collector of the values
//! with general-purpose Python libraries: pvlib 0.16.1, scipy 1.17.1, gsw 3.6.23, seawater 3.3.5, pylake 0.1.13 and
//! scientimate 2.0; tolerances are those of the source's own rounding.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use leadsman::vocabulary::quantity::{PER_UNIT, from_si, to_si};
use leadsman::water::Place;
use leadsman::water::cast::{Cast, Profile};
use leadsman::water::current::through_water;
use leadsman::water::estimate::{estimate, hanna, patalas};
use leadsman::water::heat::{Layers, density, layers};
use leadsman::water::lake::{Habitat, Lake};
use leadsman::water::light::{attenuation, clear_sky, cloud_ratio, depth_of_share, share_at};
use leadsman::water::oxygen::{Layer, layer, saturation, standard_pressure};
use leadsman::water::waves::{beaufort, beaufort_of_knots, sea_state, waves};
use leadsman::water::wind::{Vector, at_ten_metres, true_wind};
use proptest::prelude::*;

#[track_caller]
fn near(what: &str, got: f64, wanted: f64, within: f64) {
    assert!((got - wanted).abs() <= within, "{what}: {got}, wanted {wanted} within {within}");
}

fn counts(si: f64) -> i64 {
    from_si(si).unwrap()
}

fn kelvin(celsius: f64) -> i64 {
    counts(celsius + 273.15)
}

// Light

/// Share of the light under the surface, by Secchi depth: Beer and Lambert's law with 1.7 (Poole and Atkins 1929) and with
/// 1.44 (Holmes 1970). Secchi m, depth m, per cent, per cent; within 0.1 % of the value.
#[test]
fn light_in_the_water() {
    let shares = [
        (2.0, 5.0, 1.4264, 2.7324),
        (3.0, 10.0, 0.3459, 0.823),
        (5.0, 10.0, 3.3373, 5.6135),
        (8.0, 20.0, 1.4264, 2.7324),
        (9.0, 0.0, 100.0, 100.0),
        (12.0, 25.0, 2.8965, 4.9787),
    ];
    for (secchi, depth, usual, turbid) in shares {
        near("share", 100.0 * share_at(depth, attenuation(secchi, 1.7)), usual, 0.001 * usual);
        near("share", 100.0 * share_at(depth, attenuation(secchi, 1.44)), turbid, 0.001 * turbid);
    }
    let depths = [
        (3.0, 1.0, 8.1268, 9.5941),
        (5.0, 1.0, 13.5446, 15.9902),
        (5.0, 10.0, 6.7723, 7.9951),
        (8.0, 1.0, 21.6714, 25.5843),
        (10.0, 1.0, 27.0892, 31.9803),
    ];
    for (secchi, percent, usual, turbid) in depths {
        near("depth", depth_of_share(percent / 100.0, attenuation(secchi, 1.7)), usual, 0.001 * usual);
        near("depth", depth_of_share(percent / 100.0, attenuation(secchi, 1.44)), turbid, 0.001 * turbid);
    }
}

/// Clouds and clear sky: Kasten and Czeplak, Solar Energy 24 (1980), 177–189; within 0.0001 and 0.1 W/m².
#[test]
fn light_at_the_surface() {
    let ratios = [(0.0, 1.0), (1.0, 0.99936), (2.0, 0.99327), (4.0, 0.92895), (6.0, 0.71799), (8.0, 0.25)];
    for (eighths, ratio) in ratios {
        near("cloud", cloud_ratio(eighths / 8.0), ratio, 0.0001);
    }
    for (height, light) in [(10.0, 128.02), (20.0, 281.24), (30.0, 425.0), (60.0, 758.08), (90.0, 880.0)] {
        near("clear sky", clear_sky(height), light, 0.1);
    }
    assert_eq!(clear_sky(1.5), 0.0, "the line goes below zero under 1.9°");
    assert_eq!(clear_sky(-30.0), 0.0);
}

// Wind and waves

/// Significant height and period of the shallow-water form, wind speed of the *Shore Protection Manual* (1984), g 9.81:
/// equal to scientimate 2.0 `parametricwaveshallow(U, F, d, 'spmshallow', 'no')` to four digits; within 0.3 %.
#[test]
fn waves_by_wind_fetch_and_depth() {
    let cases = [
        (5.0, 2000.0, 10.0, 0.1162, 1.2907),
        (10.0, 3000.0, 5.0, 0.3241, 1.9379),
        (10.0, 10_000.0, 20.0, 0.6028, 2.8848),
        (15.0, 8000.0, 4.0, 0.7367, 2.9629),
        (13.0, 15_000.0, 12.0, 0.9681, 3.5526),
    ];
    for (wind, fetch, depth, height, period) in cases {
        let made = waves(wind, fetch, depth);
        near("height", made.height, height, 0.003 * height);
        near("period", made.period, period, 0.003 * period);
    }
}

/// The worked example of the *ACES User's Guide* (Leenknecht, Szuwalski and Sherlock 1992), shallow water: 26 mi of fetch,
/// 13 ft of depth, a wind-stress speed of 67.92 mph give 4.23 ft and 4.77 s. The guide comes to that speed by a formula of
/// its own from 46.42 mph; here the wind is the one that gives it by ours, so that the wave formula is what is checked.
#[test]
fn the_published_example_of_shallow_water() {
    let stress = 67.92 * 0.44704;
    let wind = libm::pow(stress / 0.71, 1.0 / 1.23);
    let made = waves(wind, 26.0 * 1609.344, 13.0 * 0.3048);
    near("height", made.height / 0.3048, 4.23, 0.005);
    near("period", made.period, 4.77, 0.005);
}

/// To 10 m: *Coastal Engineering Manual* II-2-9; within 0.1 %.
#[test]
fn wind_at_ten_metres() {
    for (height, speed, wanted) in [(2.0, 6.0, 7.551), (5.0, 8.0, 8.8327)] {
        let at = at_ten_metres(speed, height).unwrap();
        near("wind", at.speed, wanted, 0.001 * wanted);
        assert!(!at.stated, "a mast of {height} m is outside the formula's range");
    }
    for (height, stated) in [(7.99, false), (8.0, true), (10.0, true), (12.0, true), (12.01, false)] {
        assert_eq!(at_ten_metres(5.0, height).unwrap().stated, stated, "{height}");
    }
    assert_eq!(at_ten_metres(5.0, 10.0).unwrap().speed, 5.0);
    assert!(at_ten_metres(5.0, 0.0).is_none() && at_ten_metres(5.0, f64::NAN).is_none());
}

/// The Beaufort scale and code table 3700 of the World Meteorological Organization. A height at a limit has the lower
/// code.
#[test]
fn force_and_sea_state() {
    let forces = [
        (0.0, 0),
        (1.5, 1),
        (3.4, 3),
        (7.9, 4),
        (8.0, 5),
        (13.8, 6),
        (20.8, 9),
        (17.2, 8),
        (32.7, 12),
        (0.29, 0),
        (0.3, 1),
    ];
    for (wind, force) in forces {
        assert_eq!(beaufort(wind), force, "{wind} m/s");
    }
    for (wind, force) in [(3.0, 1), (10.0, 3), (16.0, 4), (27.0, 6), (22.0, 6), (64.0, 12), (0.4, 0)] {
        assert_eq!(beaufort_of_knots(wind), force, "{wind} kn");
    }
    for (height, code) in [(0.0, 0), (0.1, 1), (0.3, 2), (1.25, 3), (3.0, 5), (9.0, 7), (14.0, 8), (14.1, 9)] {
        assert_eq!(sea_state(height).0, code, "{height} m");
    }
}

/// The boat's own motion: closed forms.
#[test]
fn the_boat_s_own_wind_is_taken_out() {
    let north = |speed| Vector { speed, direction: 0.0 };
    // Five ahead on a boat that makes five through calm air: no wind.
    near("calm", true_wind(5.0, 0.0, 0.0, north(5.0)).speed, 0.0, 1e-12);
    // Three from abeam and four of one's own.
    let wind = true_wind(5.0, 36.869_897_645_844_02, 0.0, north(4.0));
    near("speed", wind.speed, 3.0, 1e-9);
    near("from", wind.direction, 90.0, 1e-9);
    // At rest the apparent wind is the true one, wherever the bow points.
    let wind = true_wind(6.0, 350.0, 20.0, north(0.0));
    near("from", wind.direction, 10.0, 1e-9);
}

/// The way through the water, closed forms: over ground less the current, by where it goes to.
#[test]
fn the_current_is_taken_out() {
    let cases = [
        (0.8, 180.0, 180.0, 0.8, 0.0),
        (1.8, 45.0, 225.0, 0.4, 2.2),
        (2.0, 0.0, 0.0, 0.5, 1.5),
        (2.0, 0.0, 180.0, 0.5, 2.5),
        (2.0, 90.0, 0.0, 0.5, 2.0616),
    ];
    for (speed, course, set, drift, wanted) in cases {
        let way = through_water(Vector { speed, direction: course }, Vector { speed: drift, direction: set });
        near("speed", way.speed, wanted, 0.00005);
    }
    let way = through_water(Vector { speed: 2.0, direction: 90.0 }, Vector { speed: 0.5, direction: 0.0 });
    near("heading", way.direction, 104.0362, 0.0001);
}

// Heat

/// Density of fresh water by Martin and McCutcheon (1999), kg/m³; within 0.002. The third column is the density of the
/// equation of state TEOS-10 by gsw 3.6.23 `rho_t_exact(0, t, 0)`, from which this one differs by its norm, 0.025 within
/// 0.003.
#[test]
fn density_of_water() {
    let cases = [
        (0.0, 999.8676, 999.8431),
        (4.0, 1000.0, 999.9749),
        (10.0, 999.7281, 999.7025),
        (12.0, 999.5261, 999.5003),
        (15.0, 999.1285, 999.1026),
        (20.0, 998.2336, 998.2071),
        (22.0, 997.8003, 997.7735),
        (25.0, 997.0751, 997.0476),
    ];
    for (temperature, wanted, teos) in cases {
        near("density", density(temperature), wanted, 0.002);
        near("density less its norm", density(temperature) - 0.0257, teos, 0.003);
    }
}

fn profile(points: &[(f64, f64)]) -> Profile {
    Profile::new(points.iter().map(|(depth, celsius)| (counts(*depth), kelvin(*celsius))).collect())
}

/// Lake Mendota, North Temperate Lakes LTER, Center for Limnology, University of Wisconsin–Madison: dataset
/// knb-lter-ntl.400 of the Environmental Data Initiative, licence CC BY 4.0. Depth m, temperature °C, oxygen mg/L.
const MENDOTA_JUNE: &str = include_str!("water/mendota-2018-06-21.tsv");
const MENDOTA_JULY: &str = include_str!("water/mendota-2018-07-17.tsv");

fn cast(text: &str) -> Cast {
    Cast::new(text.lines().filter(|line| !line.starts_with('#')).map(|line| {
        let numbers: Vec<f64> = line.split('\t').map(|number| number.parse().unwrap()).collect();
        (counts(numbers[0]), Some(kelvin(numbers[1])), Some(counts(numbers[2] / 1000.0)))
    }))
}

/// The thermocline of Read and others (2011), by the method as the public code of rLakeAnalyzer 1.12.0 has it, within 0.02 m
/// (edges 0.05 m); pylake 0.1.13 `thermocline(T, depth=d)` gives 7.5022, 2.8784, 7.5845 and 6.8925 m, its salinity apart.
#[test]
fn thermoclines() {
    let doc = [
        (0.0, 22.51),
        (0.5, 22.42),
        (1.0, 22.4),
        (1.5, 22.4),
        (2.0, 22.4),
        (3.0, 22.36),
        (4.0, 22.3),
        (5.0, 22.21),
        (6.0, 22.11),
        (7.0, 21.23),
        (8.0, 16.42),
        (9.0, 15.15),
        (10.0, 14.24),
        (11.0, 13.35),
        (12.0, 10.94),
        (13.0, 10.43),
        (14.0, 10.36),
        (15.0, 9.94),
        (16.0, 9.45),
        (17.0, 9.1),
        (18.0, 8.91),
        (19.0, 8.58),
        (20.0, 8.43),
    ];
    let short = [(1.0, 14.3), (2.0, 14.0), (3.0, 12.1), (4.0, 10.0), (5.0, 9.7), (6.0, 9.5), (7.0, 6.0), (8.0, 5.0)];
    let step: Vec<(f64, f64)> = (0..=10).map(|depth| (f64::from(depth), if depth < 5 { 20.0 } else { 8.0 })).collect();
    let cases = [
        ("doc", profile(&doc), 7.502121, 7.5022),
        ("short", profile(&short), 2.877115, 2.8784),
        ("step", profile(&step), 4.5, 4.5),
        ("June", cast(MENDOTA_JUNE).temperature, 7.5836, 7.5845),
        ("July", cast(MENDOTA_JULY).temperature, 6.8908, 6.8925),
    ];
    for (name, profile, wanted, pylake) in cases {
        let Layers::Layered(found) = layers(&profile) else { panic!("{name} is layered") };
        near(name, found.depth, wanted, 0.02);
        near(name, found.depth, pylake, 0.02);
    }
    for (text, top, bottom) in [(MENDOTA_JUNE, 5.739, 10.322), (MENDOTA_JULY, 4.662, 10.575)] {
        let Layers::Layered(found) = layers(&cast(text).temperature) else { panic!("layered") };
        near("top", found.top.unwrap(), top, 0.05);
        near("bottom", found.bottom.unwrap(), bottom, 0.05);
    }
    let mixed = [(0.0, 12.3), (1.0, 12.2), (2.0, 12.2), (3.0, 12.1), (4.0, 12.0), (5.0, 11.9), (6.0, 11.8)];
    assert_eq!(layers(&profile(&mixed)), Layers::Mixed);
    assert_eq!(layers(&profile(&[(0.0, 20.0), (10.0, 5.0)])), Layers::Unknown, "two depths say nothing");
    // Cold water that is coldest above: the density grows downward up to 4 °C, and slowly.
    let under_ice = [(0.0, 0.5), (5.0, 2.0), (10.0, 3.5), (20.0, 4.0)];
    assert_eq!(layers(&profile(&under_ice)), Layers::Mixed);
}

/// `tests/water/values.tsv`, made by `tests/water/check_water.py`: densities by two equations of state, which lie 0.025
/// below this one's norm and follow it to 0.004 up to 30 °C; thermoclines by pylake, whose water is a little salt and whose
/// weights are those of the middles of stretches, within 0.1 m.
#[test]
fn other_libraries_agree() {
    let table = include_str!("water/values.tsv");
    assert!(table.starts_with("# gsw 3.6.23, seawater 3.3.5, pylake 0.1.13"), "the libraries and their versions");
    let mut rows = [0, 0];
    for line in table.lines().filter(|line| !line.starts_with('#')) {
        let mut fields = line.split('\t');
        let what = fields.next().unwrap();
        let numbers: Vec<f64> = fields.map(|number| number.parse().unwrap()).collect();
        match (what, numbers.as_slice()) {
            ("density", [temperature, teos, eos]) if *temperature <= 30.0 => {
                near("TEOS-10", density(*temperature) - 0.0257, *teos, 0.004);
                near("EOS-80", density(*temperature) - 0.0257, *eos, 0.004);
                rows[0] += 1;
            }
            ("density", _) => {}
            ("thermocline", [depth, pairs @ ..]) => {
                let points: Vec<(f64, f64)> = pairs.chunks(2).map(|pair| (pair[0], pair[1])).collect();
                let Layers::Layered(found) = layers(&profile(&points)) else { panic!("layered: {line}") };
                near("thermocline", found.depth, *depth, 0.1);
                rows[1] += 1;
            }
            other => panic!("{other:?}"),
        }
    }
    assert_eq!(rows, [31, 8]);
}

#[test]
fn an_edge_that_the_cast_does_not_reach_is_not_known() {
    let Layers::Layered(found) = layers(&profile(&[(2.0, 20.0), (4.0, 16.0), (6.0, 12.0), (8.0, 8.0)])) else {
        panic!("layered")
    };
    assert_eq!((found.top, found.bottom), (None, None));
    let Layers::Layered(found) = layers(&profile(&[(0.0, 20.0), (4.0, 16.0), (6.0, 12.0), (8.0, 11.9)])) else {
        panic!("layered")
    };
    assert_eq!(found.top, Some(0.0), "a layer that begins at the surface begins there");
    assert!(found.bottom.is_some());
}

/// Bands and squeezes of the two profiles, linear between points; within 0.005 m.
#[test]
fn bands_and_squeezes() {
    let habitat = |warmest: f64, oxygen: f64| Habitat {
        species: "trout".into(),
        warmest: kelvin(warmest),
        oxygen: counts(oxygen / 1000.0),
        source: String::new(),
    };
    let cases = [
        (MENDOTA_JUNE, 18.0, 5.0, Some((7.555, 7.8905))),
        (MENDOTA_JUNE, 20.0, 4.0, Some((7.066, 8.9884))),
        (MENDOTA_JUNE, 16.0, 3.0, Some((8.0497, 12.0217))),
        (MENDOTA_JUNE, 15.0, 5.0, None),
        (MENDOTA_JULY, 18.0, 5.0, None),
        (MENDOTA_JULY, 20.0, 3.0, None),
    ];
    for (text, warmest, oxygen, wanted) in cases {
        match (layer(&cast(text), &habitat(warmest, oxygen)), wanted) {
            (Layer::Between(top, bottom), Some(wanted)) => {
                near("top", to_si(top), wanted.0, 0.005);
                near("bottom", to_si(bottom), wanted.1, 0.005);
            }
            (Layer::None, None) => {}
            (found, wanted) => panic!("{warmest} °C, {oxygen} mg/L: {found:?}, wanted {wanted:?}"),
        }
    }
    assert_eq!(layer(&Cast::default(), &habitat(18.0, 5.0)), Layer::Unknown);
}

/// A real lake through a strategy, end to end: the two casts of Lake Mendota as a guide would have made them.
#[test]
fn a_strategy_on_a_real_lake() {
    for (name, date) in [("mendota_june", "2018-06-21"), ("mendota_july", "2018-07-17")] {
        let text = if name == "mendota_june" { MENDOTA_JUNE } else { MENDOTA_JULY };
        let points: Vec<String> = text
            .lines()
            .filter(|line| !line.starts_with('#'))
            .map(|line| {
                let numbers: Vec<&str> = line.split('\t').collect();
                format!("{} m {} °C {} mg/L", numbers[0], numbers[1], numbers[2])
            })
            .collect();
        let output = std::process::Command::new(env!("CARGO_BIN_EXE_leadsman"))
            .args(["advise", "rules/under_the_warm_lid.strategy", "--at", &format!("{date}T10:00-05:00"), "--all"])
            .args(["--set", &format!("cast=[{}]", points.join(", ")), "--set", "releasing=no", "--set", "wind=2 m/s"])
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .output()
            .unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        insta::with_settings!({ snapshot_path => "snapshots/water", prepend_module_to_snapshot => false }, {
            insta::assert_snapshot!(name, String::from_utf8(output.stdout).unwrap());
        });
    }
}

/// Where nobody made a cast, what the estimate decides says that it is one, with what it came from; with a cast it does not.
#[test]
fn what_comes_from_an_estimate_is_marked() {
    let advise = |extra: &[&str]| {
        let output = std::process::Command::new(env!("CARGO_BIN_EXE_leadsman"))
            .args(["advise", "rules/under_the_warm_lid.strategy", "--water", "rules/ossel/water.yaml"])
            .args(["--at", "2026-08-02T11:00", "--set", "surface=74 °F", "--set", "releasing=no"])
            .args(extra)
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .output()
            .unwrap();
        String::from_utf8(output.stdout).unwrap()
    };
    let estimated = advise(&[]);
    for words in [
        "  DEPTH  40 to 60 ft (estimated)\n",
        "depth rests on an estimate:",
        "thermocline_top 40 ft, estimated from surface, water file",
    ] {
        assert!(estimated.contains(words), "{words}\n{estimated}");
    }
    let cast = "cast=[0 ft 74 °F, 20 ft 73 °F, 30 ft 66 °F, 40 ft 58 °F, 60 ft 50 °F, 90 ft 46 °F]";
    let measured = advise(&["--set", cast]);
    assert!(!measured.contains("estimated") && !measured.contains("rests on"), "{measured}");
}

// Oxygen

/// Saturation at one atmosphere: Benson and Krause (1984); within 0.005 mg/L. The printed table of ISO 5814 agrees to 0.01
/// from 15 to 30 °C.
#[test]
fn oxygen_saturation() {
    let cases = [
        (0.0, 14.6208),
        (4.0, 13.1084),
        (5.0, 12.771),
        (8.0, 11.8433),
        (10.0, 11.2879),
        (12.0, 10.777),
        (15.0, 10.0839),
        (16.0, 9.8704),
        (18.0, 9.467),
        (20.0, 9.0924),
        (22.0, 8.7437),
        (24.0, 8.4182),
        (25.0, 8.2635),
        (30.0, 7.5588),
    ];
    for (temperature, wanted) in cases {
        near("saturation", saturation(temperature, 101_325.0).unwrap(), wanted, 0.005);
    }
    near("at 101.2 kPa", saturation(5.0, 101_200.0).unwrap(), 12.754349, 0.003);
    near("at 101.325 kPa", saturation(15.0, 101_325.0).unwrap(), 10.08393, 0.003);
    for (height, pressure) in [(0.0, 101_325.0), (500.0, 95_460.8), (1500.0, 84_556.0), (2357.0, 76_034.2)] {
        near("pressure", standard_pressure(height), pressure, 0.0001 * pressure);
    }
    let heights = [
        (500.0, 4.0, 12.344),
        (500.0, 15.0, 9.491),
        (1500.0, 10.0, 9.398),
        (1500.0, 20.0, 7.553),
        (2357.0, 15.0, 7.525),
        (2357.0, 25.0, 6.135),
    ];
    for (height, temperature, wanted) in heights {
        near("at a height", saturation(temperature, standard_pressure(height)).unwrap(), wanted, 0.01);
    }
    for (temperature, held, height, percent) in [(12.0, 6.5, 1500.0, 72.47), (20.0, 8.0, 0.0, 87.99)] {
        near("per cent", 100.0 * held / saturation(temperature, standard_pressure(height)).unwrap(), percent, 0.15);
    }
    assert!(saturation(-0.1, 101_325.0).is_none() && saturation(40.1, 101_325.0).is_none());
    assert!(saturation(20.0, 1000.0).is_none(), "thinner than vapour");
}

// The estimate

/// Hanna (1990) and Patalas (1984), coefficients as lake models carry them; within 0.005 m.
#[test]
fn regressions_of_the_top_layer() {
    for (line, wanted) in [(500.0, 4.590), (2000.0, 7.314), (3678.0, 8.975), (12_000.0, 13.354)] {
        near("Hanna", hanna(line), wanted, 0.005);
    }
    for (area, wanted) in [(0.5, 3.991), (5.0, 6.398), (50.0, 10.258), (200.0, 13.629)] {
        near("Patalas", patalas(area * 1e6), wanted, 0.005);
    }
}

#[test]
fn an_estimate_is_made_in_its_season_and_for_its_lakes_alone() {
    let lake = Lake {
        longest_open_line: Some(counts(3678.0)),
        area: Some(5e6),
        deepest: Some(counts(60.0)),
        deep_water: Some(kelvin(6.0)),
        ..Lake::default()
    };
    let north = Some(Place { latitude: 46.0, longitude: -116.0 });
    let south = Some(Place { latitude: -38.8, longitude: 175.9 });
    let surface = Some(kelvin(22.0));
    let on = |place, date: &str| estimate(&lake, place, Some(date.parse().unwrap()), surface);
    let made = on(north, "2026-07-20").unwrap();
    near("top", to_si(made.top), 8.975, 0.005);
    assert_eq!(made.profile.points()[0], (0, kelvin(22.0)));
    for (place, date, there) in [
        (north, "2026-07-19", false),
        (north, "2026-09-30", true),
        (north, "2026-10-01", false),
        (north, "2026-02-10", false),
        (south, "2026-01-19", false),
        (south, "2026-01-20", true),
        (south, "2026-03-31", true),
        (south, "2026-08-10", false),
    ] {
        assert_eq!(on(place, date).is_ok(), there, "{date} at {place:?}");
    }
    let refused = |lake: Lake| estimate(&lake, north, Some("2026-08-01".parse().unwrap()), surface).unwrap_err().0;
    // The fourth root of 5 km² is 47.3: over 11.8 m of depth it is 4.0.
    assert!(refused(Lake { deepest: Some(counts(11.8)), ..lake.clone() }).contains("mixes to the bottom"));
    assert!(refused(Lake { drawn_from_below: true, ..lake.clone() }).contains("drawn from below"));
    assert!(refused(Lake { area: None, ..lake.clone() }).contains("the water file's `area`"));
    // Without the deep water's temperature nothing is known below the top layer.
    let shallow = Lake { deep_water: None, ..lake.clone() };
    let made = estimate(&shallow, north, Some("2026-08-01".parse().unwrap()), surface).unwrap();
    assert_eq!(made.profile.points().last().unwrap().0, made.top);
}

/// A rose is linear between its directions, around the circle.
#[test]
fn the_rose_goes_around() {
    let degree = |degrees: i64| degrees * PER_UNIT;
    let lake = Lake { fetch: vec![(degree(0), 1000), (degree(90), 3000), (degree(270), 2000)], ..Lake::default() };
    for (from, fetch) in
        [(0, 1000), (45, 2000), (90, 3000), (180, 2500), (270, 2000), (315, 1500), (360, 1000), (-45, 1500)]
    {
        assert_eq!(lake.fetch_from(degree(from)), Some(fetch), "{from}°");
    }
    assert_eq!(Lake::default().fetch_from(0), None);
    let one = Lake { fetch: vec![(degree(200), 700)], ..Lake::default() };
    assert_eq!(one.fetch_from(degree(20)), Some(700));
}

proptest! {
    /// More wind, fetch or depth never makes smaller waves; nothing finite makes no number.
    #[test]
    fn waves_grow(wind in 0.0..60.0f64, fetch in 0.0..1e6f64, depth in 0.0..1700.0f64, more in 1.0..3.0f64) {
        let made = waves(wind, fetch, depth);
        prop_assert!(made.height.is_finite() && made.period.is_finite() && made.height >= 0.0);
        let slack = 1e-12 + made.height * 1e-9;
        prop_assert!(waves(wind * more, fetch, depth).height >= made.height - slack);
        prop_assert!(waves(wind, fetch * more, depth).height >= made.height - slack);
        prop_assert!(waves(wind, fetch, depth * more).height >= made.height - slack);
    }

    #[test]
    fn light_falls_with_depth_and_finds_back(secchi in 0.1..60.0f64, depth in 0.0..100.0f64, product in 1.1..2.8f64) {
        let k = attenuation(secchi, product);
        let share = share_at(depth, k);
        prop_assert!((0.0..=1.0).contains(&share));
        prop_assert!(share_at(depth + 1.0, k) <= share);
        if share > 1e-12 {
            prop_assert!((depth_of_share(share, k) - depth).abs() < 1e-6 * (1.0 + depth));
        }
    }

    #[test]
    fn oxygen_falls_with_warmth_and_height(temperature in 0.0..39.0f64, height in -400.0..5000.0f64) {
        let held = saturation(temperature, standard_pressure(height)).unwrap();
        prop_assert!(held.is_finite() && held > 0.0);
        prop_assert!(saturation(temperature + 1.0, standard_pressure(height)).unwrap() < held);
        prop_assert!(saturation(temperature, standard_pressure(height + 100.0)).unwrap() < held);
    }

    /// No cast of finite values makes anything that is no number; a thermocline lies within its edges and its cast.
    #[test]
    fn layers_of_any_cast(temperatures in proptest::collection::vec(-1.0..40.0f64, 0..40), step in 0.1..5.0f64) {
        let points: Vec<(f64, f64)> = temperatures.iter().enumerate().map(|(at, t)| (at as f64 * step, *t)).collect();
        let deepest = points.last().map_or(0.0, |point| point.0);
        if let Layers::Layered(found) = layers(&profile(&points)) {
            prop_assert!(found.depth.is_finite() && found.gradient.is_finite());
            prop_assert!((0.0..=deepest).contains(&found.depth), "{found:?} of {deepest}");
            let top = found.top.unwrap_or(0.0);
            let bottom = found.bottom.unwrap_or(deepest);
            prop_assert!(top <= bottom && (0.0..=deepest).contains(&top) && (0.0..=deepest).contains(&bottom));
        }
    }

    /// Taking the boat's motion out and putting it in again gives the same wind.
    #[test]
    fn wind_goes_there_and_back(speed in 0.0..60.0f64, from in 0.0..360.0f64, own in 0.0..15.0f64, course in 0.0..360.0f64) {
        let boat = Vector { speed: own, direction: course };
        let apparent = Vector { speed, direction: from }.plus(boat);
        let back = true_wind(apparent.speed, apparent.direction - course, course, boat);
        prop_assert!((back.speed - speed).abs() < 1e-9);
        prop_assert!((0.0..360.0).contains(&back.direction));
    }
}
