//! How commands end, and what `advise` says where limits and shifts act.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use std::process::{Command, Stdio};

/// The exit code of a command, run from the root, with what it printed and what it complained of.
fn run(arguments: &[&str]) -> (i32, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .stdin(Stdio::null())
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

#[test]
fn exit_codes_tell_fine_from_bad_input_from_a_command_line_without_sense() {
    let broken = "tests/findings/e_unknown_unit.strategy";
    let doubtful = "tests/findings/w_never_true.strategy";
    let failing = "tests/conformance/must_fail/01_a_wrong_value.strategy";
    let cases: [(&[&str], i32); 12] = [
        (&["check", "rules"], 0),
        (&["check", doubtful], 0),
        (&["check", "--strict", doubtful], 1),
        (&["check", broken], 1),
        (&["check", "no/such.strategy"], 1),
        (&["trial", failing], 1),
        (&["format", "--check", "rules"], 0),
        (&["readings"], 0),
        (&["readings", "surfce"], 1),
        (&["advise", broken, "--at", "2026-05-14T11:30-07:00"], 1),
        (&["advise"], 2),
        (&["advise", "--colour"], 2),
    ];
    for (arguments, wanted) in cases {
        let (code, out, complaint) = run(arguments);
        assert_eq!(code, wanted, "{arguments:?}\n{out}\n{complaint}");
    }
}

#[test]
fn what_acted_on_an_aspect_stands_under_that_aspect() {
    let (_, out, _) = run(&[
        "advise",
        "tests/json/unsettled.strategy",
        "--at",
        "2026-05-14T11:30-07:00",
        "--set",
        "surface=59 °F",
        "--set",
        "bait_allowed=no",
    ]);
    let speed = "  speed: 2.0 to 3.0 mph became 1.6 to 2.6 mph:\n    slower by 0.4 mph: \"Cold fish\"";
    assert!(out.contains(speed), "{out}");
    // Nothing became of the lure's value, so that its limit stands by itself and not under the speed.
    assert!(out.contains("\n  lure not natural_bait: \"No bait here\""), "{out}");
    assert!(out.contains("\n  lure: passed over, as nothing of its wish is left: \"First of all bait\""), "{out}");
}
