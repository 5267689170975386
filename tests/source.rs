//! Files, flags and requests: the scenario reads, and every bad input says what is wrong, where, and what is right.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use std::path::{Path, PathBuf};
use std::sync::Arc;

use leadsman::check::{IncludeError, Includes, NoIncludes, check, check_bytes};
use leadsman::program::{GivenTarget, Program};
use leadsman::session::{Event, Mode, Session, Setting};
use leadsman::source::boat::Boat;
use leadsman::source::feed::Instruments;
use leadsman::source::given::{Names, event};
use leadsman::source::readings::Readings;
use leadsman::source::strategies::{FolderIncludes, StrategyFile, find};
use leadsman::source::water::Water;
use leadsman::source::yaml::Document;
use leadsman::source::{Fault, Faults, place, time};
use leadsman::vocabulary::catalogue::Known;
use leadsman::vocabulary::kind::Kind;
use leadsman::vocabulary::quantity::PER_UNIT;
use proptest::prelude::*;

const FOOT: i64 = 2_743_200;

fn ossel(file: &str) -> String {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("rules/ossel").join(file).to_string_lossy().into_owned()
}

fn program() -> Arc<Program> {
    let text = r#"
        strategy "Names" units us
        also water inlet
        reading mood is one of sulking < following < chasing
        reading tail is length 0 to 60 ft
        reading air is yes or no
        let cool = surface < 62 °F or mood is chasing or tail > 3 ft or air
        let far = 20 ft
        rule "A" if cool run depth far to 30 ft, water inlet
        ladder pace
          rung brisk run speed 3 mph
          rung slow run speed 1 mph
          step down if strikeless at least 30 min
    "#;
    check("names.strategy", text, &NoIncludes).program.expect("a program")
}

/// The first line of everything that is wrong, and its help.
fn told<T>(result: Result<T, Faults>) -> Vec<String> {
    result.err().map_or_else(Vec::new, |faults| faults.iter().map(Fault::to_string).collect())
}

fn water(text: &str) -> Vec<String> {
    told(Document::parse("w.yaml", text.to_owned()).map_err(Faults::from).and_then(|document| Water::of(&document)))
}

fn readings(text: &str) -> Result<Readings, Faults> {
    Readings::of(&Document::parse("r.yaml", text.to_owned())?, None)
}

/// What a file of readings gives to the names of the catalogue alone.
fn day(text: &str) -> Vec<String> {
    let mut names = Names::catalogue();
    let given = readings(text).and_then(|read| {
        let mut faults = Faults::default();
        for moment in &read.moments {
            faults.keep(names.moment(&read.file, moment));
        }
        faults.unless_any(())
    });
    told(given)
}

fn one(line: &str) -> String {
    day(&format!("moments:\n  - at: 2026-05-14T11:30-07:00\n    {line}\n")).join(" | ")
}

fn said(name: &str, value: &str) -> String {
    let fault = event(&program(), name, value).expect_err("a fault");
    fault.to_string().replace("\n  help: ", " / ")
}

#[test]
fn the_scenario_reads() {
    let water = Water::read(&ossel("water.yaml")).expect("the water reads");
    assert_eq!(water.name, "Ossel Water");
    assert_eq!(water.setting.lake.elevation, Some(2100 * FOOT));
    assert_eq!(water.setting.lake.deepest, Some(210 * FOOT));
    let place = water.setting.place.expect("a place");
    assert_eq!((place.latitude, place.longitude), (46.0, -116.0));
    assert_eq!((water.setting.bait_allowed, water.setting.releasing), (Some(false), Some(true)));
    let rules = water.rules.clone().expect("rules");
    assert_eq!(rules.checked.to_string(), "2026-04-18");
    assert_eq!((rules.lines_per_angler, rules.limits.len()), (Some(2), 1));
    assert!(water.cautions.is_none());

    let boat = Boat::read(&ossel("boat.yaml")).expect("the boat reads");
    assert_eq!((boat.name.as_str(), boat.anglers), ("the grey skiff", Some(2)));
    assert_eq!(boat.instruments, Instruments { mast: Some(2.7432), transducer: Some(0.254) });

    let files = [("may_noon", 3, 15), ("july_dawn", 3, 11), ("august_afternoon", 3, 12), ("october_blow", 4, 12)];
    for (file, moments, first) in files {
        let read = Readings::read(&ossel(&format!("{file}.yaml")), water.setting.zone.as_ref()).expect(file);
        assert_eq!(read.moments.len(), moments, "{file}");
        let mut session = Session::new(program(), Arc::new(water.setting.clone()), Mode::Live);
        let mut names = Names::catalogue();
        for (number, moment) in read.moments.iter().enumerate() {
            let events = names.moment(&read.file, moment).expect(file);
            let given = events.iter().filter(|event| !matches!(event, Event::Written(..))).count();
            assert_eq!(given, moment.given.len());
            if number == 0 {
                assert_eq!(given, first, "{file}");
            }
            session.at(moment.at, events).expect("in order");
        }
        assert_eq!(session.latest(), read.latest().map(|moment| moment.at));
    }
}

#[test]
fn a_water_file_names_the_field_that_is_wrong() {
    let cases: [(&str, &str); 18] = [
        ("about: x\n", "w.yaml: this file has no `name`, which it needs"),
        (
            "name: x\nzone: Amerika/Boise\n",
            "w.yaml:2:7: `Amerika/Boise` is no time zone\n  help: did you mean `America/Boise`?",
        ),
        ("name: x\nelevaton: 1 ft\n", "w.yaml:2:1: this file has no `elevaton`\n  help: did you mean `elevation`?"),
        (
            "name: x\nelevation: 2100\n",
            "w.yaml:2:12: 2100 what? a length needs its unit\n  help: write for instance `12 ft`",
        ),
        ("name: x\nelevation: 2100 fet\n", "w.yaml:2:17: `fet` is no unit\n  help: did you mean `ft`?"),
        (
            "name: x\nelevation: 12 mph\n",
            "w.yaml:2:12: `elevation` is a length, not a speed\n  help: write for instance `elevation 12 ft`",
        ),
        (
            "name: x\ndeepest: 20 km\n",
            "w.yaml:2:10: `20 km` is outside what is physically plausible for `deepest`\n  help: `deepest` runs from 0 to 1700 m",
        ),
        (
            "name: x\ndeepest: .nan\n",
            "w.yaml:2:10: `.nan` is no value: `deepest` is not a number here\n  help: leave out what is not known, or write `unknown`",
        ),
        (
            "name: x\nposition: {latitude: 46, longitude: 181}\n",
            "w.yaml:2:37: 181 is no longitude: it runs from -180 to 180 degrees",
        ),
        (
            "name: x\nposition: {latitude: .nan, longitude: 1}\n",
            "w.yaml:2:22: `.nan` is no latitude in decimal degrees",
        ),
        ("name: x\nposition: {latitude: 1}\n", "w.yaml:2:11: the position has no `longitude`"),
        (
            "name: x\nposition: {lat: 1, longitude: 1}\n",
            "w.yaml:2:12: `position` has no `lat`\n  help: it has `latitude` and `longitude`",
        ),
        ("name: x\nrules: {bait: no}\n", "w.yaml:2:8: `rules` has no `checked`, which it needs"),
        (
            "name: x\nrules: {checked: 18.4.2026}\n",
            "w.yaml:2:18: `18.4.2026` is no date\n  help: write year, month and day: `2026-04-18`",
        ),
        (
            "name: x\nrules: {checked: 2026-04-18, bait: maybe}\n",
            "w.yaml:2:36: `bait` is a yes or no, not `maybe`\n  help: write for instance `bait: yes`",
        ),
        (
            "name: x\nrules: {checked: 2026-04-18, lines_per_angler: 2.5}\n",
            "w.yaml:2:48: `lines_per_angler` is a whole number from 1 to 50, not `2.5`",
        ),
        ("name: x\nrules: {checked: 2026-04-18, limits: two}\n", "w.yaml:2:38: `rules.limits` is a text, not a list"),
        (
            "name: x\ncautions: {wind: 18 kn, source: s, date: 2026-03-02, wave: 3 ft}\n",
            "w.yaml:2:54: `cautions` has no `wave`\n  help: did you mean `waves`?",
        ),
    ];
    for (text, message) in cases {
        let told = water(text).join(" | ");
        assert!(told.starts_with(message), "{text}\n  got:  {told}\n  want: {message}");
    }
    let several = water("name: x\nelevation: 3\ndeepest: 4\nzone: here\n");
    assert_eq!(several.len(), 3, "each fault is told: {several:?}");
    let text = "name: x\ncautions: {wind: 18 kn, waves: 3 ft, release: 66 °F, source: an office, date: 2026-03-02}\n";
    let fine = Document::parse("w", text.to_owned()).map_err(Faults::from).and_then(|document| Water::of(&document));
    let figures = fine.expect("fine").cautions.expect("figures");
    assert_eq!((figures.wind, figures.waves), (Some(18 * 4_630_000), Some(3 * FOOT)));
}

#[test]
fn a_boat_file_takes_what_is_settled() {
    let boat = |text: &str| {
        told(Document::parse("b.yaml", text.to_owned()).map_err(Faults::from).and_then(|document| Boat::of(&document)))
    };
    assert_eq!(boat("name: skiff\nrod: 3\n"), ["b.yaml:2:1: this file has no `rod`\n  help: did you mean `rods`?"]);
    assert_eq!(boat("name: skiff\nrods: 3\n"), ["b.yaml:2:7: `rods` is a text, not a list"]);
    assert_eq!(
        boat("name: skiff\nanglers: many\n"),
        ["b.yaml:2:10: `anglers` is a whole number from 1 to 50, not `many`"]
    );
    assert!(boat("name: 12\nanglers: 1\n").is_empty(), "a number may be a name");
}

#[test]
fn a_readings_file_says_what_is_wrong_and_where() {
    let cases = [
        ("surface: 54 celsus", "r.yaml:3:17: `celsus` is no unit\n  help: did you mean `celsius`?"),
        ("surface: 54", "r.yaml:3:14: 54 what? a temperature needs its unit\n  help: write for instance `62 °F`"),
        (
            "surface: 3 mph",
            "r.yaml:3:14: `surface` is a temperature, not a speed\n  help: write for instance `surface 62 °F`",
        ),
        (
            "surface: 54°",
            "r.yaml:3:14: `surface` is a temperature, not an angle\n  help: a temperature is written with its scale",
        ),
        (
            "surface: .nan",
            "r.yaml:3:14: `.nan` is no value: `surface` is not a number here\n  help: leave out what is not known",
        ),
        ("surface: -.inf", "r.yaml:3:14: `-.inf` is no value"),
        ("surface: NaN °F", "r.yaml:3:14: `NaN °F` is no value"),
        (
            "surface: 900 °F",
            "r.yaml:3:14: `900 °F` is outside what is physically plausible for `surface`\n  help: `surface` runs from -1 to 40 °C",
        ),
        ("surface: \"900 °F\"", "r.yaml:3:15: `900 °F` is outside"),
        ("surface: yes", "r.yaml:3:14: `surface` is a temperature"),
        ("surface: {a: 1}", "r.yaml:3:14: `surface` is one value, not keys with values"),
        ("surface: [54 °F]", "r.yaml:3:15: `surface` is one value; only a cast is a list"),
        ("surfce: 54 °F", "r.yaml:3:5: nothing is named `surfce`\n  help: did you mean `surface`?"),
        ("mood: chasing", "r.yaml:3:5: nothing is named `mood`\n  help: these are the names of the catalogue alone"),
        ("marks: maybe", "r.yaml:3:12: `marks` is a yes or no"),
        ("light: low_sum", "r.yaml:3:12: `low_sum` is none of the words of `light`\n  help: did you mean `low_sun`?"),
        ("wind_from: NX", "r.yaml:3:16: `NX` is no compass point"),
        ("wind: 2,5 mph", "r.yaml:3:1"),
        ("cast: 54 °F", "r.yaml:3:11: a cast is a list of points in brackets"),
        ("cast: [0 ft 54 °F, 5 ft]", "r.yaml:3:24: nothing was measured at this point of the cast"),
        ("cast: [0 ft 54 °F, 5 ft 54 mgl]", "r.yaml:3:32: `mgl` is no unit"),
        ("cast: [5 ft 54 °F, 0 ft 54 °F]", "r.yaml:3:24: the depths of a cast grow from point to point"),
        ("position: {latitude: 46.0, longitude: -216}", "r.yaml:3:43: -216 is no longitude"),
        ("position: somewhere", "r.yaml:3:15: `somewhere` is no latitude and longitude with a comma between"),
        ("temp_at(fast): 3 °C", "r.yaml:3:13: "),
        ("temp_at(20 ft): 3 ft", "r.yaml:3:21: `temp_at(20 ft)` is a temperature, not a length"),
        ("depth: 3 ft", "r.yaml:3:5: nothing is named `depth`"),
        ("strike: no", "r.yaml:3:13: a strike that did not happen is not given"),
        ("surface: ~", "r.yaml:3:14: `surface` has no value\n  help: leave out what is not known"),
    ];
    for (line, message) in cases {
        let told = one(line);
        assert!(told.starts_with(message), "{line}\n  got:  {told}\n  want: {message}");
    }
    let fine = [
        "surface: unknown",
        "Surface: 54 f",
        "position: 46.0, -116.0",
        "cast: \"[0 ft 54 °F, 5 ft 53 °F]\"",
        "cast: unknown",
        "\"temp_at(20 ft)\": 3 °C",
        "change(surface, 2 h): -1 °C",
        "clock: 05:30",
        "month: may",
        "strikes(30 min): 2",
        "strike: yes",
    ];
    for line in fine {
        assert_eq!(one(line), "", "{line}");
    }
}

#[test]
fn moments_stand_in_the_order_of_time_and_have_a_zone() {
    let at = |times: &[&str]| {
        let moments: Vec<String> = times.iter().map(|time| format!("  - at: {time}\n    marks: yes\n")).collect();
        day(&format!("moments:\n{}", moments.concat()))
    };
    assert!(at(&["2026-05-14T11:30-07:00", "2026-05-14T11:31-07:00"]).is_empty());
    assert_eq!(
        at(&["2026-05-14T11:30"]),
        [
            "r.yaml:2:9: `2026-05-14T11:30` has no time zone, and no water gives it one\n  help: name the water with its \
          `zone`, or write the offset, as in `2026-05-14T11:30-07:00`"
        ]
    );
    assert_eq!(
        at(&["2026-05-14T11:30Z", "2026-05-14T11:20Z"]),
        [
            "r.yaml:4:9: the moment in line 4 is earlier than the one before it, in line 2\n  help: moments stand in the \
          order of time"
        ]
    );
    assert_eq!(
        at(&["2026-05-14T11:30Z", "2026-05-14T04:30-07:00"]),
        ["r.yaml:4:9: the moments in lines 2 and 4 are at the same time\n  help: put their readings into one moment"]
    );
    assert_eq!(day("moments: []\n")[0].lines().next(), Some("r.yaml:1:10: the file has no moments"));
    assert_eq!(day("moment: []\n"), ["r.yaml:1:1: this file has no `moment`\n  help: did you mean `moments`?"]);
    assert!(day("moments:\n  - surface: 54 °F\n")[0].starts_with("r.yaml:2:5: this moment has no `at`"));
    let twice = one("depth_of(62 °F): 10 ft\n    depth_of(62 F): 11 ft");
    assert_eq!(twice, "r.yaml:4:5: `depth_of(62 F)` is given twice in one moment; first in line 3");
}

#[test]
fn names_and_values_become_events() {
    let program = program();
    let give = |name: &str, value: &str| event(&program, name, value).map_err(|fault| fault.to_string());
    let value = |name: &str, value: &str| match give(name, value) {
        Ok(Event::Give(target, counts)) => (target, counts),
        other => panic!("{other:?}"),
    };
    assert_eq!(value("waves", "12 in"), (GivenTarget::Known(Known::Waves), Some(FOOT)));
    assert_eq!(value("MOOD", "Chasing"), (GivenTarget::Own(0), Some(2)));
    assert_eq!(value("air", "yes"), (GivenTarget::Own(2), Some(1)), "an own name hides the catalogue's");
    assert_eq!(value("surface", "unknown"), (GivenTarget::Known(Known::Surface), None));
    assert_eq!(value("temp_at(far)", "0 °C").0, GivenTarget::Call(Known::TempAt, Kind::Length, 20 * FOOT));
    assert_eq!(value("change(tail, 1 min)", "1 ft"), (GivenTarget::ChangeOfOwn(1, 60 * PER_UNIT), Some(FOOT)));
    assert_eq!(value("strikes(30 min)", "2").1, Some(2 * PER_UNIT));
    assert!(matches!(give("pace", "slow"), Ok(Event::Rung(_, Some(1)))));
    assert!(matches!(give("pace", "unknown"), Ok(Event::Rung(_, None))));
    assert!(matches!(give("strike", "yes"), Ok(Event::Strike)));
    assert!(matches!(give("cast", "[0 ft 54 °F]"), Ok(Event::Cast(Some(_)))));
    assert!(matches!(give("cast", "unknown"), Ok(Event::Cast(None))));
}

#[test]
fn each_wrong_name_or_value_has_one_clear_message() {
    let cases = [
        ("mood", "chasin", "`chasin` is none of the words of `mood` / did you mean `chasing`?"),
        ("tail", "70 ft", "`70 ft` is outside what is physically plausible for `tail` / `tail` runs from 0 to 60 ft"),
        ("pace", "slw", "`slw` is no rung of the ladder `pace` / did you mean `slow`?"),
        ("pace", "3 ft", "`pace` is a ladder; give the name of one of its rungs"),
        ("cool", "yes", "`cool` is a let; only readings and rungs are given / give the readings that it asks for"),
        ("water", "inlet", "`water` is an aspect of the tactic; it is expected, not given"),
        (
            "position",
            "46, -116",
            "a position can't be given here / it comes from a file of readings; or give what follows from it, such as `sun_height`",
        ),
        (
            "temp_at(20 ft, 3 ft)",
            "3 °C",
            "`temp_at` takes a depth in its brackets / temperature of the water at a depth: temp_at(20 ft)",
        ),
        ("temp_at(tail)", "3 °C", "`temp_at` is given for a fixed argument"),
        ("dept_of(62 °F)", "3 ft", "there is nothing like `dept_of(...)` / did you mean `depth_of`?"),
        (
            "change(lines_in, 2 h)",
            "3",
            "`lines_in` is no reading whose change can be asked / write the name of a reading, as in `change(surface, 2 h)`",
        ),
        ("surface", "", "`surface` has no value / leave it out, or write `unknown`"),
        (
            "surface",
            "infinity",
            "`infinity` is no value: `surface` is not a number here / leave out what is not known, or write `unknown`",
        ),
        (
            "strike",
            "3 ft",
            "a strike that did not happen is not given / `given strike yes` is one strike; without one, leave it out",
        ),
        ("barometer", "3 hPa", "nothing is named `barometer` / declare it, as in `reading barometer is yes or no`"),
    ];
    for (name, value, message) in cases {
        assert_eq!(said(name, value), message, "{name}={value}");
    }
}

#[test]
fn flags_are_name_and_value() {
    let mut names = Names::of(&program());
    assert!(matches!(names.set("depth_of(62 °F)=31 ft"), Ok(Event::Give(..))));
    let fault = names.set("surface 54 °F").expect_err("no equals sign");
    assert!(fault.to_string().starts_with("--set: `surface 54 °F` is no NAME=VALUE"), "{fault}");
    let fault = names.set("surface = 54 ft").expect_err("wrong kind");
    assert!(fault.to_string().starts_with("--set: `surface` is a temperature, not a length"), "{fault}");
    assert_eq!(fault.field.as_deref(), Some("surface"));
    let twice = names.sets(&["marks=yes", "Marks=no"]).expect_err("twice");
    assert_eq!(twice.to_string(), "--set: `Marks` is given twice");
    let sets = names.sets(&["strikeless=0 min", "strike=yes"]).expect("fine");
    assert!(matches!(sets.first(), Some(Event::Strike)), "strikes come before the `strikeless` of their moment");
}

// Hostile files

#[test]
fn hostile_files_end_in_words() {
    let many = 1 << 20;
    let files = [
        format!("a: [{}]", "x, ".repeat(90_000)),
        (0..80_000).map(|number| format!("k{number}: v\n")).collect(),
        "? ".repeat(many / 2),
        "- ".repeat(many / 2),
        ": ".repeat(many / 2),
        "{".repeat(many),
        format!("a: \"{}", "\n".repeat(many - 4)),
        format!("a: \"{}", "\\".repeat(many - 4)),
        "!".repeat(many),
        "%TAG ! x\n".repeat(many / 9),
        format!("moments:\n{}", "- at: 2026-01-01T00:00:00Z\n".repeat(30_000)),
        format!("moments:\n- at: {}\n", "x".repeat(many - 20)),
    ];
    for text in files {
        let start: String = text.chars().take(20).collect();
        let faults = readings(&text).map(|_| ()).expect_err(&start);
        assert!(faults.iter().all(|fault| fault.message.chars().count() <= 401 && !fault.message.contains('\n')));
    }
}

proptest! {
    #[test]
    fn no_file_of_data_makes_it_panic(text in "(moments:\n)?([-:?\\[\\]{},#&*!|>'\"%@ \n\t~a°.0-9]|at: |cast: |surface: |position: |2026-05-14T11:30Z|54 °F){0,60}") {
        let read = Document::parse("f", text);
        if let Ok(document) = read {
            let _ = (Water::of(&document).is_ok(), Boat::of(&document).is_ok());
            let mut names = Names::catalogue();
            for moment in Readings::of(&document, None).map(|read| read.moments).unwrap_or_default() {
                let _ = names.moment("f", &moment);
            }
        }
    }

    #[test]
    fn no_flag_or_time_makes_it_panic(text in "([-+=()\\[\\],.:TZ/ a-z0-9°%µ\u{2212}]|surface=|change\\(|2026-){0,30}") {
        let mut names = Names::catalogue();
        let _ = (names.set(&text).is_ok(), names.target(&text).is_ok());
        let _ = (time::time(&text, None).is_ok(), time::zone(&text).is_ok(), time::date(&text).is_ok());
        let _ = place::of_text(&text).is_ok();
    }
}

// Strategies

fn put(folder: &Path, file: &str, text: &str) -> PathBuf {
    let path = folder.join(file);
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    std::fs::write(&path, text).unwrap();
    path
}

#[test]
fn a_folder_is_searched_with_those_below_it() {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path();
    for file in ["b.strategy", "a/z.strategy", ".hidden/c.strategy", "a/.d.strategy", "a/note.txt"] {
        put(root, file, "strategy \"x\"");
    }
    #[cfg(unix)]
    std::os::unix::fs::symlink(root, root.join("a/loop")).unwrap();
    let found = find(&root.to_string_lossy()).expect("strategies");
    let short: Vec<&str> = found.iter().map(|path| &path[root.to_string_lossy().len() + 1..]).collect();
    assert_eq!(short, ["a/z.strategy", "b.strategy"]);
    assert_eq!(find("-").as_deref(), Ok(&["-".to_owned()][..]));

    let empty = put(root, "empty/x.txt", "");
    let empty = empty.parent().unwrap().to_string_lossy().into_owned();
    let told = find(&empty).expect_err("no strategies").to_string();
    assert_eq!(
        told,
        format!(
            "{empty}: the folder `{empty}` has no strategies\n  help: the names of strategy files end in `.strategy`"
        )
    );
    let missing = root.join("no.strategy").to_string_lossy().into_owned();
    assert_eq!(find(&missing).expect_err("missing").to_string(), format!("{missing}: there is no file `{missing}`"));
    let folder = root.to_string_lossy();
    let told = StrategyFile::read(&folder).expect_err("a folder").to_string();
    assert_eq!(told, format!("{folder}: `{folder}` is a folder, not a file"));
    let large = put(root, "large.strategy", &"#".repeat((1 << 20) + 1)).to_string_lossy().into_owned();
    let told = StrategyFile::read(&large).expect_err("large").to_string();
    assert!(told.contains("has more than 1048576 bytes (1 MiB)"), "{told}");
}

#[test]
fn includes_are_found_beside_the_strategy_and_never_outside() {
    let folder = tempfile::tempdir().unwrap();
    let inside = folder.path().join("mine");
    let first =
        put(&inside, "first.strategy", "strategy \"x\" include \"common/a.strategy\" rule \"R\" run depth 3 ft");
    put(&inside, "common/a.strategy", "rule \"A\" keep depth at most 10 ft");
    let secret = put(folder.path(), "secret.strategy", "rule \"S\" stop \"x\"");
    let file = StrategyFile::read(&first.to_string_lossy()).expect("reads");
    let checked = check_bytes(&file.name, file.bytes, &file.includes);
    assert!(checked.program.is_some(), "{:?}", checked.findings);
    let shown = inside.join("common/a.strategy").to_string_lossy().into_owned();
    assert_eq!(checked.sources.files()[1].name(), shown);

    let includes = FolderIncludes::new(&inside).unwrap();
    assert_eq!(includes.read("none.strategy"), Err(IncludeError::Missing));
    assert_eq!(includes.read("common"), Err(IncludeError::Unreadable("it is no file".to_owned())));
    assert_eq!(includes.read("../secret.strategy"), Err(IncludeError::Outside));
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(&secret, inside.join("link.strategy")).unwrap();
        assert_eq!(includes.read("link.strategy"), Err(IncludeError::Outside));
        std::os::unix::fs::symlink(inside.join("common/a.strategy"), inside.join("near.strategy")).unwrap();
        assert!(includes.read("near.strategy").is_ok(), "a link inside the folder is fine");
    }
}

#[test]
fn files_that_are_missing_or_no_text_are_told() {
    let told = told(Water::read("/no/such/water.yaml"));
    assert_eq!(told, ["/no/such/water.yaml: there is no file `/no/such/water.yaml`"]);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("w.yaml");
    std::fs::write(&path, b"name: x\nabout: \xff\n").unwrap();
    let path = path.to_string_lossy().into_owned();
    let fault = Water::read(&path).expect_err("no text").to_string();
    assert!(fault.starts_with(&format!("{path}:2: the file is not UTF-8 text")), "{fault}");
    std::fs::write(&path, "\u{feff}name: x\n").unwrap();
    assert_eq!(Water::read(&path).expect("a byte order mark is skipped").name, "x");
    let setting = Water::read(&path).expect("reads").setting;
    assert!(setting.place.is_none() && Setting::default().zone.is_none());
}
