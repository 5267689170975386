//! A day ahead: what a guide is told the evening before, and the draw of a fair contest.
//!
//! The snapshots are what the commands print. Read a changed one as a guide would: is this what should be told? Ossel
//! Water, its days and their forecasts are invented.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::Arc;

use leadsman::advice::Shown;
use leadsman::check::{NoIncludes, check};
use leadsman::day::log::Log;
use leadsman::day::sheet::{Arm, Unit};
use leadsman::plan::ahead::{Ahead, Span};
use leadsman::plan::contest::{By, Draw, Entrant, contest};
use leadsman::program::Program;
use leadsman::source::boat::Boat;
use leadsman::source::forecast::Forecast;
use leadsman::source::time::zone;
use leadsman::source::water::Water;
use leadsman::source::yaml::Document;
use leadsman::vocabulary::catalogue::Known;
use leadsman::vocabulary::quantity::{HOUR, MINUTE};
use leadsman::vocabulary::time::Instant;

/// What a command prints and complains of, run from the root, and whether it ended well.
fn run(arguments: &[&str]) -> (bool, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .stdin(Stdio::null())
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.success(), text(output.stdout), text(output.stderr))
}

fn printed(arguments: &[&str]) -> String {
    let (fine, out, complaint) = run(arguments);
    assert!(fine, "{arguments:?}\n{complaint}");
    out
}

fn lock(name: &str, text: &str) {
    insta::with_settings!({ omit_expression => true, prepend_module_to_snapshot => false, snapshot_path => "snapshots/plan" }, {
        insta::assert_snapshot!(name, text);
    });
}

const WATER: [&str; 2] = ["--water", "rules/ossel/water.yaml"];
const MAY: [&str; 6] =
    ["--date", "2026-05-15", "--forecast", "rules/ossel/forecast_may.yaml", "--readings", "rules/ossel/may_noon.yaml"];
const JULY: [&str; 6] =
    ["--date", "2026-07-15", "--forecast", "rules/ossel/forecast_july.csv", "--readings", "rules/ossel/july_dawn.yaml"];
const BOAT: [&str; 2] = ["--boat", "rules/ossel/boat.yaml"];

fn plan_of(strategy: &'static str, more: &[&[&'static str]]) -> Vec<&'static str> {
    [&["plan", strategy][..], &WATER[..], &more.concat()[..]].concat()
}

#[test]
fn a_windy_day_in_may_is_told_with_the_settings_of_the_rods() {
    lock("may", &printed(&plan_of("rules/less_to_chase.strategy", &[&MAY, &BOAT])));
}

#[test]
fn a_day_in_july_follows_the_light() {
    lock("july", &printed(&plan_of("rules/light_and_depth.strategy", &[&JULY])));
}

#[test]
fn a_day_of_which_little_is_known_says_what_to_measure() {
    let little = ["--date", "2026-08-20", "--from", "06:00", "--to", "10:00", "--set", "clarity=15 ft"];
    lock("little_known", &printed(&plan_of("rules/under_the_warm_lid.strategy", &[&little])));
}

const CONTEST: [&str; 4] = ["plan", "--contest", "rules/less_to_chase.strategy", "rules/light_and_depth.strategy"];

#[test]
fn a_contest_is_a_sheet_to_follow() {
    let blocks = [&CONTEST[..], &WATER, &MAY, &["--seed", "20260515"]].concat();
    lock("contest", &printed(&blocks));
    let rods =
        [&CONTEST[..], &WATER, &JULY, &BOAT, &["--by", "rods", "--seed", "4", "--from", "06:00", "--to", "08:00"]];
    lock("contest_by_rods", &printed(&rods.concat()));
}

#[test]
fn a_day_without_dawn_has_to_be_told_its_hours() {
    let folder = tempfile::tempdir().unwrap();
    let north = folder.path().join("north.yaml");
    std::fs::write(
        &north,
        "name: North Water\nzone: \"+01:00\"\nposition: {latitude: \"80.0\", longitude: \"15.0\"}\n",
    )
    .unwrap();
    let north = north.to_string_lossy().into_owned();
    let strategy = "rules/less_to_chase.strategy";
    let (fine, _, complaint) = run(&["plan", strategy, "--water", &north, "--date", "2026-12-21"]);
    assert!(!fine && complaint.contains("the sun does not come up to civil dawn here on 2026-12-21"), "{complaint}");
    let told =
        printed(&["plan", strategy, "--water", &north, "--date", "2026-12-21", "--from", "10:00", "--to", "12:00"]);
    assert!(told.contains("no civil dawn (the sun stays below it all day)"), "{told}");
    // In summer the day is as long as the calendar's.
    let told = printed(&["plan", strategy, "--water", &north, "--date", "2026-06-21"]);
    assert!(told.contains("Sunday 21 June 2026, 00:00 to 00:00"), "{told}");
}

#[test]
fn what_is_old_does_not_hold_and_what_is_later_does_not_count() {
    let strategy = "rules/less_to_chase.strategy";
    let day = |date: &str| {
        printed(&["plan", strategy, WATER[0], WATER[1], "--readings", "rules/ossel/may_noon.yaml", "--date", date])
    };
    assert!(day("2026-05-15").contains("The cast of 14 May, 11:30 is taken to hold."));
    assert!(day("2026-05-17").contains("The surface is taken to stay at 54.9 °F, as on 14 May, 12:50"));
    let old = day("2026-05-18");
    assert!(old.contains("more than 3 days old: the cast of 14 May"), "{old}");
    assert!(!old.contains("taken to hold"), "{old}");
    let before = day("2026-05-14");
    assert!(before.contains("Left out: 3 moments of the readings, from after the plan begins."), "{before}");
    // On the day itself what is still good is no assumption.
    let same = printed(&[
        "plan",
        strategy,
        WATER[0],
        WATER[1],
        "--readings",
        "rules/ossel/may_noon.yaml",
        "--date",
        "2026-05-14",
        "--from",
        "13:00",
        "--to",
        "14:00",
    ]);
    assert!(!same.contains("taken to"), "{same}");
}

#[test]
fn what_is_set_holds_at_every_hour_and_before_the_forecast() {
    let calm =
        printed(&plan_of("rules/less_to_chase.strategy", &[&MAY, &["--set", "wind=1 mph", "--set", "bottom=90 ft"]]));
    assert!(calm.contains("wind 1 mph, 04:36 to 05:00"), "{calm}");
    assert!(!calm.contains("LINES UP") && !calm.contains("? bottom"), "{calm}");
    assert!(calm.contains("Taken to be so at every hour, as set: wind=1 mph, bottom=90 ft."), "{calm}");
}

#[test]
fn a_plan_begins_with_lines_just_in_however_the_day_before_ended() {
    let folder = tempfile::tempdir().unwrap();
    let readings = folder.path().join("evening.yaml").to_string_lossy().into_owned();
    let before =
        "moments:\n  - at: 2026-05-15T05:30\n    surface: 54 °F\n    marks: yes\n    pace: slow\n    strikeless: 2 h\n";
    std::fs::write(&readings, before).unwrap();
    let arguments = [
        "plan",
        "rules/less_to_chase.strategy",
        WATER[0],
        WATER[1],
        "--date",
        "2026-05-15",
        "--from",
        "06:00",
        "--to",
        "07:00",
    ];
    let told = printed(&[&arguments[..], &["--readings", &readings]].concat());
    assert!(told.contains("fast of pace"), "{told}");
    // Who says so with --set means it.
    let told = printed(&[&arguments[..], &["--readings", &readings, "--set", "pace=slow"]].concat());
    assert!(told.contains("slow of pace"), "{told}");
}

#[test]
fn a_forecast_of_another_day_is_refused() {
    let other = [
        "plan",
        "rules/less_to_chase.strategy",
        WATER[0],
        WATER[1],
        "--date",
        "2026-05-16",
        "--forecast",
        "rules/ossel/forecast_may.yaml",
    ];
    let (fine, _, complaint) = run(&other);
    let wanted = "rules/ossel/forecast_may.yaml: the forecast is of another time: its hours run from 2026-05-15 04:00 to 2026-05-15 19:00";
    assert!(!fine && complaint.contains(wanted), "{complaint}");
}

#[test]
fn no_plan_says_that_it_is_safe() {
    for arguments in
        [plan_of("rules/less_to_chase.strategy", &[&MAY]), plan_of("rules/light_and_depth.strategy", &[&JULY])]
    {
        let told = printed(&arguments).to_lowercase();
        assert!(!told.contains(" safe"), "{told}");
        assert!(
            told.contains("the\n    skipper's judgement") || told.contains("skipper's judgement come first"),
            "{told}"
        );
        assert!(told.contains("life jacket"), "{told}");
    }
}

// Forecasts

#[test]
fn a_forecast_reads_alike_from_yaml_and_from_tables() {
    let yaml = "zone: \"-07:00\"\ndate: 2026-05-15\nhours:\n  - {at: \"06:00\", wind: 8.5 mph, wind_from: SW, cloud: 40 %}\n  - {at: 2026-05-15T07:00, air: 52 °F, wind: unknown}\n";
    let yaml = Forecast::of(&Document::parse("f.yaml", yaml.to_owned()).unwrap(), None).unwrap();
    assert_eq!(yaml.hours.len(), 2);
    assert_eq!(
        yaml.hours[0].foretold.iter().map(|one| one.reading).collect::<Vec<_>>(),
        [Known::Wind, Known::WindFrom, Known::Cloud]
    );
    assert_eq!(yaml.hours[1].foretold.iter().map(|one| one.written.to_string()).collect::<Vec<_>>(), ["52 °F"]);
    let zone = zone("-07:00").unwrap();
    let tables = [
        "at,wind,wind_from,cloud,air\n2026-05-15T06:00,8.5 mph,SW,40 %,\n2026-05-15T07:00,,,,52 °F\n",
        "date;at;wind (mph);wind_from;cloud [%];air °F\r\n2026-05-15;06:00;8,5;SW;40;\r\n2026-05-15;07:00;;;;52\r\n;;;;;\r\n",
        "sep=;\nAt;Wind (mph);wind_from;cloud (%);air (°F)\n\"2026-05-15 06:00\";\"8,5\";SW;40;\n2026-05-15 07:00;;;;52\n",
        "at\twind\twind_from\tcloud\tair\n2026-05-15T06:00-07:00\t8.5 mph\tSW\t40 %\t\n2026-05-15T07:00-07:00\t\t\t\t52 °F\n",
    ];
    for table in tables {
        let read =
            Forecast::of_table("f.csv", table, Some(&zone)).unwrap_or_else(|faults| panic!("{table}\n{faults:?}"));
        assert_eq!(read.hours, yaml.hours, "{table}");
    }
}

#[test]
fn every_fault_of_a_forecast_is_named_at_its_place() {
    let yaml = |text: &str| {
        let document = Document::parse("f.yaml", text.to_owned()).unwrap();
        Forecast::of(&document, None).map(|_| ()).expect_err(text)
    };
    let table = |text: &str| Forecast::of_table("f.csv", text, None).map(|_| ()).expect_err(text);
    let head = "date: 2026-05-15\nzone: \"-07:00\"\n";
    let cases = [
        (yaml("hurs: []\n"), "f.yaml:1:1: this file has no `hurs`\n  help: did you mean `hours`?"),
        (yaml("zone: \"-07:00\"\n"), "f.yaml: the file has no hours"),
        (yaml("hours: []\n"), "f.yaml:1:8: the file has no hours"),
        (yaml("hours: soon\n"), "f.yaml:1:8: `hours` is a text, not a list"),
        (yaml("hours:\n  - windy\n"), "f.yaml:2:5: an hour is keys with values, not a text"),
        (yaml("hours:\n  - {wind: 8 mph}\n"), "f.yaml:2:5: this hour has no `at`"),
        (yaml("hours:\n  - {at: \"06:00\"}\n"), "f.yaml:2:11: `06:00` has no date, and the file gives none"),
        (
            yaml("date: 2026-05-15\nhours:\n  - {at: \"06:00\"}\n"),
            "f.yaml:3:11: `06:00` has no time zone, and neither the file nor a water gives it one",
        ),
        (yaml(&format!("{head}hours:\n  - {{at: soon}}\n")), "f.yaml:4:10: `soon` is no time of day"),
        (
            yaml(&format!("{head}hours:\n  - {{at: \"06:00\", wnd: 8 mph}}\n")),
            "`hours[0]` has no `wnd`\n  help: did you mean `wind`?",
        ),
        (
            yaml(&format!("{head}hours:\n  - {{at: \"06:00\", surface: 50 °F}}\n")),
            "a forecast does not foretell `surface`",
        ),
        (yaml(&format!("{head}hours:\n  - {{at: \"06:00\", wind: 8}}\n")), "f.yaml:4:25: "),
        (yaml(&format!("{head}hours:\n  - {{at: \"06:00\", wind: 8 ft}}\n")), "f.yaml:4:25: "),
        (
            yaml(&format!("{head}hours:\n  - {{at: \"06:00\", wind: 400 mph}}\n")),
            "outside what is physically plausible for `wind`",
        ),
        (yaml(&format!("{head}hours:\n  - {{at: \"06:00\", wind: NaN}}\n")), "`NaN` is no value"),
        (yaml(&format!("{head}hours:\n  - {{at: \"06:00\", wind: [1 mph]}}\n")), "`wind` is a list, not one value"),
        (
            yaml(&format!("{head}hours:\n  - {{at: \"07:00\"}}\n  - {{at: \"06:00\"}}\n")),
            "f.yaml:5:5: line 5 is for an earlier time than line 4",
        ),
        (
            yaml(&format!("{head}hours:\n  - {{at: \"06:00\"}}\n  - {{at: \"06:00\"}}\n")),
            "f.yaml:5:5: lines 4 and 5 are for the same time",
        ),
        (yaml("date: soon\nhours:\n  - {at: \"06:00\"}\n"), "f.yaml:1:7: `soon` is no date"),
        (yaml("zone: Atlantis\nhours:\n  - {at: \"06:00\"}\n"), "f.yaml:1:7: `Atlantis` is no time zone"),
        (table(""), "f.csv: the file is empty"),
        (table("at,wind\n"), "f.csv: the table has no line below its names"),
        (table("wind,air\n8 mph,50 °F\n"), "f.csv:1:1: no column is named `at`"),
        (table("at,wnd\n"), "f.csv:1:4: a forecast has no column `wnd`\n  help: did you mean `wind`?"),
        (table("at,wind (mhp)\n"), "f.csv:1:4: `mhp` is no unit\n  help: did you mean `mph`?"),
        (table("at,wind,wind\n"), "f.csv:1:9: the column `wind` is there twice"),
        (table("at,wind\n2026-05-15T06:00-07:00,8 mph,9\n"), "f.csv:2:30: `9` stands under no name"),
        (table("at,wind\n2026-05-15T06:00-07:00,eight\n"), "f.csv:2:24: "),
        (table("at,wind\n06:00,8 mph\n"), "f.csv:2:1: `06:00` has no date, and the file gives none"),
        (table("date,at,wind\n15.5.2026,06:00,8 mph\n"), "f.csv:2:1: `15.5.2026` is no date"),
        (table("at,wind\n2026-05-15T06:00,8 mph\n"), "f.csv:2:1: `2026-05-15T06:00` has no time zone"),
    ];
    for (faults, wanted) in cases {
        let told: Vec<String> = faults.iter().map(ToString::to_string).collect();
        assert!(told.iter().any(|fault| fault.contains(wanted)), "wanted {wanted}\ngot {told:?}");
    }
}

#[test]
fn a_command_line_that_can_not_be_planned_says_why() {
    let strategy = "rules/less_to_chase.strategy";
    let cases: [(&[&str], &str); 13] = [
        (&["plan", strategy, "--date", "2026-05-15"], "--date: it is not known in which time zone the day is"),
        (&["plan", strategy, WATER[0], WATER[1], "--date", "tomorrow"], "--date: `tomorrow` is no date"),
        (
            &["plan", strategy, WATER[0], WATER[1], "--date", "2026-05-15", "--from", "6"],
            "--from: `6` is no time of day",
        ),
        (
            &["plan", strategy, WATER[0], WATER[1], "--date", "2026-05-15", "--from", "12:00", "--to", "06:00"],
            "the day would end at 06:00, before it begins at 12:00",
        ),
        (
            &["plan", strategy, WATER[0], WATER[1], "--date", "2026-05-15", "--forecast", "no/such.csv"],
            "there is no file `no/such.csv`",
        ),
        (&["plan", strategy, WATER[0], WATER[1], "--date", "2026-05-15", "--set", "surfce=50 °F"], "--set: "),
        (&["plan", "-", "--water", "-", "--date", "2026-05-15"], "only one file can be read from standard input"),
        (
            &["plan", "tests/findings/e_unknown_unit.strategy", WATER[0], WATER[1], "--date", "2026-05-15"],
            "does not check",
        ),
        (&["plan", WATER[0], WATER[1], "--date", "2026-05-15"], "required arguments were not provided"),
        (&["plan", "--contest", strategy, WATER[0], WATER[1], "--date", "2026-05-15"], "2 values required"),
        (
            &["plan", "--contest", strategy, strategy, WATER[0], WATER[1], "--date", "2026-05-15", "--by", "rods"],
            "--by: rods can be drawn where a boat with rods is named",
        ),
        (
            &["plan", "--contest", strategy, strategy, WATER[0], WATER[1], "--date", "2026-05-15", "--block", "1 min"],
            "--block: `1 min` is outside",
        ),
        (
            &[
                "plan",
                "--contest",
                strategy,
                strategy,
                WATER[0],
                WATER[1],
                "--date",
                "2026-05-15",
                "--from",
                "06:00",
                "--to",
                "06:20",
            ],
            "so few blocks can't be shared",
        ),
    ];
    for (arguments, wanted) in cases {
        let (fine, out, complaint) = run(arguments);
        assert!(!fine && complaint.contains(wanted), "{arguments:?}\nwanted {wanted}\n{out}\n{complaint}");
    }
}

// The contest

const PLAIN: &str = "strategy \"Plain\"\n  units us\n\nrule \"Always\"\n  run depth 5 to 10 ft, speed 2 to 3 mph\n";
const SLOW: &str = "strategy \"Slow\"\n  units us\n\nrule \"Always\"\n  run depth 5 to 10 ft, speed 1 to 1.5 mph\n";

fn program(text: &str) -> Arc<Program> {
    check("x.strategy", text, &NoIncludes).program.expect("a program")
}

/// A draw for a day on Ossel Water.
fn drawn(seed: u64, by_rods: bool, block: i64) -> leadsman::plan::contest::Drawn {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let path = |name: &str| root.join("rules/ossel").join(name).to_string_lossy().into_owned();
    let water = Water::read(&path("water.yaml")).unwrap();
    let rods = Boat::read(&path("boat.yaml")).unwrap().rods(None).unwrap();
    let zone = water.setting.zone.clone().unwrap();
    let ahead = Ahead {
        date: "2026-07-15".parse().unwrap(),
        zone,
        setting: Arc::new(water.setting),
        forecast: None,
        readings: None,
        sets: &[],
    };
    let (a, b) = (program(PLAIN), program(SLOW));
    let span = ahead.span(None, None).unwrap();
    let draw = Draw { by: if by_rods { By::Rods(&rods.rods) } else { By::Blocks }, block, seed };
    let entrant = |file, program| Entrant { file, program };
    contest(entrant("a.strategy", &a), entrant("b.strategy", &b), &ahead, span, draw, &Shown::default()).unwrap()
}

fn halves(units: &[Unit]) -> BTreeMap<(Option<&str>, Option<&str>), [usize; 2]> {
    let mut strata: BTreeMap<_, [usize; 2]> = BTreeMap::new();
    for unit in units {
        strata.entry(unit.stratum()).or_default()[usize::from(unit.run == Arm::B)] += 1;
    }
    strata
}

#[test]
fn half_of_every_stratum_goes_to_either_strategy() {
    for seed in 0..40 {
        for (by_rods, block) in [(false, 30 * MINUTE), (true, 30 * MINUTE), (false, 20 * MINUTE), (true, HOUR)] {
            let drawn = drawn(seed, by_rods, block);
            for (stratum, [a, b]) in halves(&drawn.sheet.units) {
                assert!(a.abs_diff(b) == (a + b) % 2, "seed {seed}, {stratum:?}: {a} and {b}");
            }
        }
    }
}

#[test]
fn every_moment_of_the_day_is_in_one_block_for_every_rod() {
    for (by_rods, block) in [(false, 30 * MINUTE), (true, 25 * MINUTE)] {
        let units = drawn(3, by_rods, block).sheet.units;
        let mut rods: BTreeMap<Option<&str>, Vec<&Unit>> = BTreeMap::new();
        units.iter().for_each(|unit| rods.entry(unit.rod.as_deref()).or_default().push(unit));
        assert_eq!(rods.len(), if by_rods { 4 } else { 1 });
        for units in rods.values() {
            for pair in units.windows(2) {
                assert_eq!(pair[0].to, pair[1].from);
            }
            assert!(units.iter().all(|unit| unit.light.is_some() && unit.side.is_some() == by_rods));
        }
    }
}

#[test]
fn a_seed_draws_the_same_again_and_another_draws_another() {
    let sheets: Vec<String> = (0..20)
        .map(|seed| drawn(seed, false, 30 * MINUTE).sheet.units.iter().map(|unit| unit.run.name()).collect())
        .collect();
    let again: String = drawn(11, false, 30 * MINUTE).sheet.units.iter().map(|unit| unit.run.name()).collect();
    assert_eq!(again, sheets[11]);
    assert_eq!(sheets.iter().collect::<BTreeSet<_>>().len(), 20);
}

#[test]
fn rods_of_one_boat_share_its_speed_and_the_sheet_says_so() {
    let drawn = drawn(1, true, HOUR).contest;
    assert!(drawn.blocks.iter().all(|block| block.speeds_apart));
    assert!(drawn.cautions.iter().any(|caution| caution.contains("share the boat's speed")), "{:?}", drawn.cautions);
    assert!(
        drawn.cautions.iter().any(|caution| caution.contains("speeds that no boat can run at once")),
        "{:?}",
        drawn.cautions
    );
}

#[test]
fn a_log_begins_with_the_sheet_and_nothing_is_written_over() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("day.yaml").to_string_lossy().into_owned();
    let draw = [&CONTEST[..], &WATER, &MAY, &BOAT, &["--seed", "9", "--log", &log, "--json"]].concat();
    let told: serde_json::Value = serde_json::from_str(&printed(&draw)).unwrap();
    let read = Log::read(&log, None).unwrap();
    let sheet = read.contest.expect("a sheet");
    assert_eq!((sheet.seed, sheet.a.as_str(), read.water.as_deref()), (9, CONTEST[2], Some("Ossel Water")));
    let runs: Vec<&str> = sheet.units.iter().map(|unit| unit.run.name()).collect();
    let blocks = told["blocks"].as_array().unwrap();
    let said: Vec<&str> = blocks.iter().map(|block| block["units"][0]["run"].as_str().unwrap()).collect();
    assert_eq!(runs, said);
    let before = std::fs::read_to_string(&log).unwrap();
    let (fine, _, complaint) = run(&draw);
    assert!(!fine && complaint.contains("this file is there already"), "{complaint}");
    assert_eq!(std::fs::read_to_string(&log).unwrap(), before);
}

#[test]
fn a_seed_that_chance_gave_is_printed_and_draws_the_same_again() {
    let contest = [&CONTEST[..], &WATER, &MAY, &["--json"]].concat();
    let first: serde_json::Value = serde_json::from_str(&printed(&contest)).unwrap();
    let seed = first["seed"].to_string();
    let again: serde_json::Value =
        serde_json::from_str(&printed(&[&contest[..], &["--seed", &seed]].concat())).unwrap();
    assert_eq!(first, again);
}

#[test]
fn hours_are_those_of_the_clock_and_short_ends_go_with_their_neighbours() {
    let ahead = Ahead {
        date: "2026-05-15".parse().unwrap(),
        zone: zone("-07:00").unwrap(),
        setting: Arc::default(),
        forecast: None,
        readings: None,
        sets: &[],
    };
    let at = |text: &str| Instant::of(format!("2026-05-15T{text}:00-07:00").parse().unwrap());
    let hours = |from: &str, to: &str| -> Vec<String> {
        let hours = ahead.hours(Span { from: at(from), to: at(to) }, HOUR);
        hours.iter().map(|hour| hour.to.zoned(&ahead.zone).strftime("%H:%M").to_string()).collect()
    };
    assert_eq!(hours("04:50", "07:10"), ["06:00", "07:10"]);
    assert_eq!(hours("04:45", "07:15"), ["05:00", "06:00", "07:00", "07:15"]);
    assert_eq!(hours("05:00", "05:10"), ["05:10"]);
    assert_eq!(hours("05:55", "06:05"), ["06:05"]);
}
