//! The log as a file: the sheet of a contest, tables for spreadsheets, what it holds together.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use leadsman::day::log::Log;
use leadsman::day::record::Head;
use leadsman::day::sheet::{Arm, Sheet, Unit};
use leadsman::source::time;
use leadsman::vocabulary::time::Instant;

fn zone() -> jiff::tz::TimeZone {
    time::zone("-07:00").unwrap()
}

fn at(text: &str) -> Instant {
    time::time(&format!("2026-05-14T{text}"), Some(&zone())).unwrap().0
}

fn read(text: &str) -> Result<Log, String> {
    Log::of_bytes("day.yaml", text.as_bytes().to_vec(), None).map_err(|faults| faults.to_string())
}

// The sheet of a contest

const DAY: &str = "date: 2026-05-14\nzone: \"-07:00\"\n";

fn contest(units: &str) -> String {
    format!("{DAY}contest:\n  a: rules/one.strategy\n  b: rules/two.strategy\n  seed: 7\n  units:\n{units}events: []\n")
}

fn sheet() -> Sheet {
    let unit = |from: &str, to: &str, rod: Option<(&str, &str)>, run| Unit {
        from: at(from),
        to: at(to),
        light: Some("low_sun".to_owned()),
        rod: rod.map(|(rod, _)| rod.to_owned()),
        side: rod.map(|(_, side)| side.to_owned()),
        run,
    };
    Sheet {
        a: "rules/one.strategy".to_owned(),
        b: "rules/two: \"the other\".strategy".to_owned(),
        seed: u64::MAX,
        units: vec![
            unit("06:00", "06:30", None, Arm::A),
            unit("06:30", "07:00:15", Some(("port \"1\"", "port")), Arm::B),
            unit("06:30", "07:00", Some(("2", "centre")), Arm::A),
        ],
    }
}

#[test]
fn a_sheet_is_read_as_it_is_written() {
    let head = |date: Option<&str>, zone: &str| Head {
        water: Some("Ossel Water".to_owned()),
        date: date.map(|date| time::date(date).unwrap()),
        zone: zone.to_owned(),
        contest: Some(sheet()),
        ..Head::default()
    };
    // On its own date, on another, on none, and in a zone of another offset.
    for (date, zone) in [
        (Some("2026-05-14"), "-07:00"),
        (Some("2026-05-13"), "-07:00"),
        (None, "America/Boise"),
        (Some("2026-05-14"), "+09:00"),
    ] {
        let text = head(date, zone).text();
        let log = read(&text).unwrap();
        assert_eq!(log.contest, Some(sheet()), "{text}");
    }
    assert_eq!(
        head(Some("2026-05-14"), "-07:00").text().lines().skip(3).collect::<Vec<_>>().join("\n"),
        "contest:\n  a: \"rules/one.strategy\"\n  b: \"rules/two: \\\"the other\\\".strategy\"\n  \
         seed: 18446744073709551615\n  units:\n  - {from: \"06:00\", to: \"06:30\", light: low_sun, run: A}\n  \
         - {from: \"06:30\", to: \"07:00:15\", light: low_sun, rod: \"port \\\"1\\\"\", side: port, run: B}\n  \
         - {from: \"06:30\", to: \"07:00\", light: low_sun, rod: \"2\", side: centre, run: A}\nevents:"
    );
}

#[test]
fn a_unit_of_an_hour_that_the_clocks_repeat_keeps_its_instant() {
    let boise = time::zone("America/Boise").unwrap();
    let instant = |text: &str| time::time(text, None).unwrap().0;
    let unit = |from: &str, to: &str, run| Unit {
        from: instant(from),
        to: instant(to),
        light: None,
        rod: None,
        side: None,
        run,
    };
    let sheet = Sheet {
        units: vec![
            unit("2026-11-01T01:30-06:00", "2026-11-01T01:30-07:00", Arm::A),
            unit("2026-11-01T01:30-07:00", "2026-11-01T02:00-07:00", Arm::B),
        ],
        ..sheet()
    };
    let date = time::date("2026-11-01").ok();
    let head = Head { date, zone: "America/Boise".to_owned(), contest: Some(sheet.clone()), ..Head::default() };
    assert_eq!(read(&head.text()).unwrap().contest, Some(sheet.clone()));
    assert!(sheet.yaml(date, &boise).contains("{from: \"01:30\", to: \"2026-11-01T01:30:00-07:00\", run: A}"));
}

#[test]
fn what_is_wrong_with_a_sheet_is_said_with_its_place() {
    let fine = "  - {from: \"06:00\", to: \"06:30\", run: A}\n  - {from: \"06:30\", to: \"07:00\", run: B}\n";
    assert!(read(&contest(fine)).is_ok());
    // Units side by side, rods beside each other.
    assert!(
        read(&contest(&format!(
            "{fine}  - {{from: \"07:00\", to: \"08:00\", rod: a, run: A}}\n  \
             - {{from: \"07:00\", to: \"08:00\", rod: b, run: B}}\n"
        )))
        .is_ok()
    );
    let cases = [
        (
            "- {from: \"06:15\", to: \"06:20\", run: B}",
            "10:5: this unit and the one in line 8 are at one time\n  help: end the one before the other begins",
        ),
        (
            "- {from: \"06:15\", to: \"06:20\", rod: port, run: B}",
            "10:5: this unit and the one in line 8 are at one time, one for every rod and one for a single rod\n  \
             help: assign the whole boat, or every rod for itself",
        ),
        (
            "- {from: \"07:10\", to: \"07:30\", rod: port, run: B}\n  - {from: \"07:00\", to: \"07:20\", rod: port, run: A}",
            "11:5: rod `port` is in this unit and in the one in line 10 at one time\n  help: a rod runs one strategy \
             at a time: end the one before the other begins",
        ),
        (
            "- {from: \"07:30\", to: \"07:30\", run: B}",
            "10:26: `to` is not later than `from`\n  help: a unit that passes midnight says its date too, as in \
             `to: 2026-05-15T00:30`",
        ),
        (
            "- {from: \"07:30\", run: B}",
            "10:5: this unit has no `to`\n  help: write when it was, as in `to: \"06:31\"`",
        ),
        ("- {from: 7h, to: \"07:30\", run: B}", "10:12: `7h` is no time of day"),
        ("- {from: \"07:30\", to: \"08:00\", run: C}", "10:39: `run` is `A` or `B`, not `C`"),
        ("- {from: \"07:30\", to: \"08:00\"}", "10:5: this unit has no `run`"),
        (
            "- {from: \"07:30\", to: \"08:00\", light: lowsun, run: B}",
            "10:41: `lowsun` is no `light`\n  help: did you mean `low_sun`?",
        ),
        (
            "- {from: \"07:30\", to: \"08:00\", rod: 1, side: left, run: B}",
            "10:48: `left` is no `side`\n  help: it is one of port, centre, starboard",
        ),
        (
            "- {from: \"07:30\", to: \"08:00\", side: port, run: B}",
            "10:40: a unit for every rod has no `side`\n  help: leave it out, or name the unit's `rod`",
        ),
        (
            "- {from: \"07:30\", to: \"08:00\", ruun: B, run: A}",
            "10:34: `contest.units[2]` has no `ruun`\n  help: did you mean `run`?",
        ),
        ("- six to seven", "10:5: a unit is keys with values, not a text"),
    ];
    for (unit, message) in cases {
        let fault = read(&contest(&format!("{fine}  {unit}\n"))).map(|_| ()).unwrap_err();
        assert!(fault.starts_with(&format!("day.yaml:{message}")), "{unit}\n{fault}");
        assert_eq!(fault.matches("day.yaml:").count(), 1, "{unit}\n{fault}");
    }
}

#[test]
fn a_sheet_is_whole_or_says_what_it_lacks() {
    let faults = |contest: &str| read(&format!("{DAY}{contest}events: []\n")).map(|_| ()).unwrap_err();
    assert_eq!(
        faults("contest: {a: one, sed: 1, units: [{from: \"06:00\", to: \"06:30\", run: A}]}\n"),
        "day.yaml:3:10: this contest has no `b`\n  help: write the strategy's file, as in `b: rules/mine.strategy`\n\
         day.yaml:3:10: this contest has no `seed`\n  help: write the number that the sheet was drawn with, as in \
         `seed: 20260514`\n\
         day.yaml:3:10: this contest has no unit that runs B\n  help: each strategy needs one at least: what is not \
         fished can't be compared\n\
         day.yaml:3:19: `contest` has no `sed`\n  help: did you mean `seed`?"
    );
    assert!(
        faults("contest: {a: one, b: two, seed: -1, units: []}\n")
            .contains("3:33: `seed` is a whole number from 0 to 18446744073709551615, not `-1`")
    );
    assert!(faults("contest: {a: one, b: two, seed: 1, units: 3}\n").contains("3:43: `units` is a text, not a list"));
    assert!(faults("contest: {a: one, b: two, seed: 1}\n").contains("3:10: this contest has no `units`"));
    assert!(faults("contest: yes\n").contains("3:10: `contest` is a text, not the sheet of a contest"));
}
