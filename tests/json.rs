//! The shapes of JSON that the guide documents, held against what the commands print.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use std::io::Write;
use std::process::{Command, Stdio};

use serde_json::Value;

const GUIDE: &str = include_str!("../src/language.md");
const OSSEL: [&str; 4] = ["--water", "rules/ossel/water.yaml", "--readings", "rules/ossel/july_dawn.yaml"];

/// The document under a heading of the guide.
fn documented(heading: &str) -> Value {
    let (_, rest) = GUIDE.split_once(&format!("\n### {heading}\n")).unwrap_or_else(|| panic!("no heading {heading}"));
    let (_, rest) = rest.split_once("```json\n").expect("a document");
    let (document, _) = rest.split_once("\n```").expect("its end");
    serde_json::from_str(document).unwrap_or_else(|error| panic!("{heading}: {error}"))
}

/// What a command prints, run from the root.
fn printed(arguments: &[&str], input: &str) -> Value {
    let mut child = Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(input.as_bytes()).unwrap();
    let output = child.wait_with_output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    serde_json::from_str(&text)
        .unwrap_or_else(|error| panic!("{arguments:?}: {error}\n{text}\n{}", String::from_utf8_lossy(&output.stderr)))
}

/// A value of advice or of a reading has one of the forms that the guide lists.
fn is_a_value(value: &Value) -> bool {
    match value {
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => true,
        Value::Array(words) => words.iter().all(Value::is_string),
        Value::Object(map) => {
            let keys: Vec<&str> = map.keys().map(String::as_str).collect();
            let numbers = ["value", "from", "to"].iter().filter_map(|key| map.get(*key)).all(Value::is_number);
            (keys == ["value", "unit"] || keys == ["from", "to", "unit"]) && numbers && map["unit"].is_string()
        }
    }
}

/// Holds a document against a documented one: the same keys in the same order, lists of what is listed there.
fn same_shape(place: &str, documented: &Value, printed: &Value) {
    match (documented, printed) {
        (Value::Object(wanted), Value::Object(found)) => {
            let keys = |map: &serde_json::Map<String, Value>| {
                let keys: Vec<String> =
                    map.keys().filter(|key| *key != "text" || place != "files[]").cloned().collect();
                keys
            };
            assert_eq!(keys(wanted), keys(found), "the keys of {place}");
            for (key, found) in found {
                let Some(wanted) = wanted.get(key) else { continue };
                // `value` of a quantity is a number, `value` of anything else a value of any kind.
                if matches!(key.as_str(), "value" | "age" | "standing_for" | "cast_depth") {
                    assert!(is_a_value(found), "{place}.{key}: {found}");
                } else {
                    same_shape(&if place.is_empty() { key.clone() } else { format!("{place}.{key}") }, wanted, found);
                }
            }
        }
        (Value::Array(wanted), Value::Array(found)) => {
            for found in found {
                let wanted = wanted.first().unwrap_or_else(|| panic!("{place} is documented as always empty: {found}"));
                same_shape(&format!("{place}[]"), wanted, found);
            }
        }
        // Null stands for unknown, or for nothing to say; the guide's example may have either.
        (Value::Null, found) => assert!(!found.is_array(), "{place}: a list stands where none is documented"),
        (wanted, Value::Null) => assert!(!wanted.is_array(), "{place}: a list is never null"),
        (Value::String(_), Value::String(_))
        | (Value::Number(_), Value::Number(_))
        | (Value::Bool(_), Value::Bool(_)) => {}
        (wanted, found) => panic!("{place}: documented {wanted}, printed {found}"),
    }
}

/// Every list of a document, so that it can be seen that none was always empty.
fn filled(place: &str, document: &Value, into: &mut std::collections::BTreeSet<String>) {
    match document {
        Value::Object(map) => map.iter().for_each(|(key, value)| filled(&format!("{place}.{key}"), value, into)),
        Value::Array(list) => {
            if !list.is_empty() {
                into.insert(place.to_owned());
            }
            list.iter().for_each(|value| filled(&format!("{place}[]"), value, into));
        }
        _ => {}
    }
}

fn hold(heading: &str, runs: &[&[&str]]) -> Vec<Value> {
    let documented = documented(heading);
    let documents: Vec<Value> = runs.iter().map(|arguments| printed(arguments, "")).collect();
    for document in &documents {
        same_shape("", &documented, document);
    }
    documents
}

#[test]
fn check_prints_what_is_documented() {
    let documents = hold(
        "`check --json`",
        &[
            &["check", "--json", "tests/findings/e_unknown_unit.strategy"],
            &["check", "--json", "--notes", "tests/findings/w_reading_hides.strategy"],
            &["check", "--json", "rules"],
            &["check", "--json", "rules/ossel/days/2026-10-09.yaml"],
        ],
    );
    assert_eq!(documents[0]["strategies"][0]["name"], Value::Null);
    assert_eq!(documents[2]["strategies"][0]["name"], "Less to chase");
    assert_eq!(documents[2]["passed_over"][0], "rules/common/care.strategy");
}

#[test]
fn format_prints_what_is_documented() {
    hold(
        "`format --json`",
        &[
            &["format", "--json", "--check", "rules"],
            &["format", "--json", "--check", "tests/findings/e_then.strategy"],
        ],
    );
    let document = printed(&["format", "--json", "-"], "strategy \"x\" rule \"y\" run depth 3 ft");
    assert!(document["files"][0]["text"].as_str().unwrap().starts_with("strategy \"x\"\n"));
    same_shape("", &documented("`format --json`"), &document);
}

#[test]
fn trial_prints_what_is_documented() {
    let documents = hold(
        "`trial --json`",
        &[
            &["trial", "--json", "tests/conformance/must_fail/06_a_wrong_rung.strategy"],
            &["trial", "--json", "tests/conformance/must_fail/01_a_wrong_value.strategy"],
            &["trial", "--json", "rules"],
            &["trial", "--json", "tests/findings/e_unknown_unit.strategy"],
        ],
    );
    assert_eq!(documents[2]["failed"], 0);
    assert_eq!(documents[3]["strategies"][0]["name"], Value::Null);
}

#[test]
fn readings_print_what_is_documented() {
    hold(
        "`readings --json`",
        &[&["readings", "--json"], &["readings", "--json", "--strategy", "rules/light_and_depth.strategy"]],
    );
    let heading = "`readings --json` with a moment";
    let documents = hold(
        heading,
        &[
            &[&["readings", "--json"], &OSSEL[..]].concat(),
            &["readings", "--json", "--at", "2026-05-14T11:30-07:00", "surface"],
        ],
    );
    for reading in documents.iter().flat_map(|document| document["readings"].as_array().unwrap()) {
        unknown_has_its_reason(reading);
    }
}

fn unknown_has_its_reason(reading: &Value) {
    // A position is known without a value that could be shown.
    if reading["value"].is_null() && reading["name"] != "position" {
        assert_eq!(reading["origin"], "unknown", "{reading}");
        assert!(reading["needs"].as_str().is_some_and(|needs| !needs.is_empty()), "{reading}");
    }
}

#[test]
fn rig_prints_what_is_documented() {
    let said = ["--depth", "10 to 40 ft", "--speed", "2 to 2.6 mph", "--size", "2 to 4 in"];
    let boat = |path: &'static str| -> Vec<&'static str> { [&["rig", "--json", "--boat", path], &said[..]].concat() };
    let called =
        [&["rig", "--json", "rules/less_to_chase.strategy", "--boat", "rules/ossel/boat.yaml"], &OSSEL[..]].concat();
    let documents =
        hold("`rig --json`", &[&boat("rules/ossel/boat.yaml"), &boat("tests/tackle/measured.yaml"), &called]);
    assert_eq!(documents[0]["rods"].as_array().unwrap().len(), 4);
    assert_eq!(documents[1]["fits"][0]["points"].as_array().unwrap().len(), 3);
    assert!(documents[2]["rods"].as_array().unwrap().iter().all(|rod| rod["lure"] == "spoon"));
}

#[test]
fn advise_prints_what_is_documented() {
    let unsettled = ["advise", "--json", "tests/json/unsettled.strategy"];
    let at = ["--at", "2026-05-14T11:30-07:00"];
    let given = |sets: &[&'static str]| -> Vec<&'static str> {
        let sets = sets.iter().flat_map(|set| ["--set", set]);
        unsettled.into_iter().chain(at).chain(sets).collect()
    };
    let little = given(&[]);
    let some = given(&["surface=59 °F", "bait_allowed=no", "strikeless=1 h", "marks=yes"]);
    let warm = given(&["surface=70 °F", "wind=25 mph"]);
    let none_open = given(&["releasing=no"]);
    let lid = [&["advise", "--json", "rules/under_the_warm_lid.strategy"], &OSSEL[..]].concat();
    let documents = hold("`advise --json`", &[&little, &some, &warm, &none_open, &lid]);
    let mut lists = std::collections::BTreeSet::new();
    for document in &documents {
        document["readings"].as_array().unwrap().iter().for_each(unknown_has_its_reason);
        for aspect in document["tactic"].as_array().unwrap() {
            assert_eq!(aspect["value"].is_null(), aspect["why_none"].is_string(), "{aspect}");
        }
        for ladder in document["ladders"].as_array().unwrap() {
            assert_eq!(ladder["rung"].is_null(), ladder["why_none"].is_string(), "{ladder}");
        }
        filled("", document, &mut lists);
    }
    for list in ["lines_up", "not_ruled_out", "tactic", "ladders", "cautions", "undecided", "idle", "near", "readings"]
    {
        assert!(lists.contains(&format!(".{list}")), "no run has anything in `{list}`");
    }
    for list in ["shifts", "limits", "passed_over"] {
        assert!(lists.contains(&format!(".tactic[].{list}")), "no run has anything in `{list}`");
    }
}

const PLAN: [&str; 10] = [
    "--json",
    "--water",
    "rules/ossel/water.yaml",
    "--date",
    "2026-05-15",
    "--forecast",
    "rules/ossel/forecast_may.yaml",
    "--readings",
    "rules/ossel/may_noon.yaml",
    "--boat=rules/ossel/boat.yaml",
];

#[test]
fn plan_prints_what_is_documented() {
    let plan = |strategy: &'static str| -> Vec<&'static str> { [&["plan", strategy], &PLAN[..]].concat() };
    let documents = hold(
        "`plan --json`",
        &[
            &plan("rules/less_to_chase.strategy"),
            &plan("rules/light_and_depth.strategy"),
            &plan("tests/json/unsettled.strategy"),
            &[
                "plan",
                "rules/under_the_warm_lid.strategy",
                "--json",
                "--water",
                "rules/ossel/water.yaml",
                "--date",
                "2026-07-15",
            ],
        ],
    );
    let mut lists = std::collections::BTreeSet::new();
    documents.iter().for_each(|document| filled("", document, &mut lists));
    for list in
        ["sun", "strongest", "standing_cautions", "cautions", "not_ruled_out", "not_known", "calls", "ladders", "hours"]
    {
        assert!(lists.contains(&format!(".{list}")), "no run has anything in `{list}`");
    }
    let calls = documents[0]["calls"].as_array().unwrap();
    assert_eq!(calls.first().unwrap()["from"], documents[0]["hours_planned"]["from"]);
    assert_eq!(calls.last().unwrap()["to"], documents[0]["hours_planned"]["to"]);
    for call in calls {
        assert_eq!(call["rods"].is_null(), call["why_no_rods"].is_string(), "{call}");
    }
}

#[test]
fn a_contest_prints_what_is_documented() {
    let contest =
        ["plan", "--contest", "rules/less_to_chase.strategy", "rules/light_and_depth.strategy", "--seed", "7"];
    let blocks = [&contest[..], &PLAN[..]].concat();
    let rods = [&contest[..], &PLAN[..], &["--by", "rods"]].concat();
    let documents = hold("`plan --contest --json`", &[&blocks, &rods]);
    assert_eq!(documents[0]["by"], "blocks");
    assert_eq!(documents[1]["strata"].as_array().unwrap().len(), 6);
}
