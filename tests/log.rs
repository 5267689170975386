//! The log as a file: the sheet of a contest, tables for spreadsheets, what it holds together.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use leadsman::day::form::{self, Form};
use leadsman::day::log::{Log, Run, What};
use leadsman::day::record::{Head, Told};
use leadsman::day::sheet::{Arm, Sheet, Unit};
use leadsman::source::readings::MomentInput;
use leadsman::source::time;
use leadsman::source::yaml::Node;
use leadsman::vocabulary::quantity::SECOND;
use leadsman::vocabulary::time::Instant;
use proptest::prelude::*;

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
            "10:34: this unit has no `ruun`\n  help: did you mean `run`?",
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

// The log as a table

fn read_table(text: &str) -> Result<Log, String> {
    Log::of_bytes("day.csv", text.as_bytes().to_vec(), None).map_err(|faults| faults.to_string())
}

/// What a log says, without the places at which it says it; readings by name.
fn said(log: &Log) -> Vec<String> {
    let mut lines = vec![format!("{:?} {:?} {:?} {:?} {:?}", log.water, log.boat, log.strategy, log.zone, log.contest)];
    for entry in &log.entries {
        let what = match &entry.what {
            What::Readings { given, measured } => {
                let of = |moment: &Option<MomentInput>| {
                    let given = moment.iter().flat_map(|moment| &moment.given);
                    let mut given: Vec<String> =
                        given.map(|one| format!("{} {}", one.name.text, text_of(&one.value))).collect();
                    given.sort();
                    given
                };
                format!("{:?} {:?}", of(given), of(measured))
            }
            other => format!("{other:?}"),
        };
        lines.push(format!("{:?} {what}", entry.at));
    }
    lines
}

fn text_of(value: &Node) -> String {
    match value {
        Node::Text(written) => written.text.trim().to_owned(),
        Node::List(items, _) => format!("[{}]", items.iter().map(text_of).collect::<Vec<_>>().join(", ")),
        Node::Map(entries, _) => entries.iter().map(|(_, value)| text_of(value)).collect::<Vec<_>>().join(", "),
    }
}

/// A log in the other form.
fn other_form(file: &str, text: &str, other: Form) -> String {
    form::converted(file, text.as_bytes().to_vec(), other).unwrap().0
}

const NOTEBOOK: &str = "water: Ossel Water\nboat: \"the grey; skiff\"\ndate: 2026-05-14\nzone: \"-07:00\"\ncontest:\n  \
    a: one.strategy\n  b: two.strategy\n  seed: 7\n  units:\n  - {from: \"06:00\", to: \"06:30\", light: low_sun, run: A}\n  \
    - {from: \"06:30\", to: \"07:00\", rod: port, side: port, run: B}\nevents:\n- {at: \"06:02\", lines: in}\n\
    - at: \"06:02\"\n  readings: {surface: 54 °F, cast: [0 ft 54 °F, \"25 ft 50 °F 9 mg/L\"], \"change(surface, 2 h)\": 1 °F}\n  \
    measured: {wind: 8 mph, position: {latitude: 46.0, longitude: -116.5}}\n\
    - {at: \"06:04\", rod: \"2\", depth: 20 ft, speed: 2.7 mph, size: 3 in, lure: spoon, out: 140 ft}\n\
    - {at: \"06:31:30\", strike: \"2\"}\n- {at: \"06:34\", landed: yes}\n\
    - {at: \"07:12\", note: \"a \\\"quoted\\\" note, with; all\\nof it: # and \\\\\"}\n\
    - {at: \"07:20\", rod: \"2\", up: yes}\n- {at: \"2026-05-14T11:40:00.5-07:00\", lines: out}\n";

const TABLE: &str = "\
at,to,event,rod,value,depth,speed,size,out,lure,light,side,run,reading surface,reading cast,\
\"reading change(surface, 2 h)\",measured wind,measured position
,,water,,Ossel Water,,,,,,,,,,,,,
,,boat,,the grey; skiff,,,,,,,,,,,,,
,,date,,2026-05-14,,,,,,,,,,,,,
,,zone,,UTC-07:00,,,,,,,,,,,,,
,,contest a,,one.strategy,,,,,,,,,,,,,
,,contest b,,two.strategy,,,,,,,,,,,,,
,,contest seed,,7,,,,,,,,,,,,,
06:00,06:30,unit,,,,,,,,low_sun,,A,,,,,
06:30,07:00,unit,port,,,,,,,,port,B,,,,,
06:02,,lines in,,,,,,,,,,,,,,,
06:02,,readings,,,,,,,,,,,54 °F,\"[0 ft 54 °F, 25 ft 50 °F 9 mg/L]\",1 °F,8 mph,\"46.0, -116.5\"
06:04,,rod,2,,20 ft,2.7 mph,3 in,140 ft,spoon,,,,,,,,
06:31:30,,strike,2,,,,,,,,,,,,,,
06:34,,landed,,,,,,,,,,,,,,,
07:12,,note,,\"a \"\"quoted\"\" note, with; all
of it: # and \\\",,,,,,,,,,,,,
07:20,,up,2,,,,,,,,,,,,,,
2026-05-14T11:40:00.5-07:00,,lines out,,,,,,,,,,,,,,,
";

#[test]
fn a_log_is_the_same_as_a_table() {
    let log = read(NOTEBOOK).unwrap();
    let table = other_form("day.yaml", NOTEBOOK, Form::Csv);
    assert_eq!(table, TABLE);
    assert_eq!(said(&read_table(&table).unwrap()), said(&log));
    let again = other_form("day.csv", &table, Form::Yaml);
    assert_eq!(said(&read(&again).unwrap()), said(&log), "{again}");
    assert_eq!(other_form("day.yaml", &again, Form::Csv), table);
    // A table from standard input is told by its first row.
    let piped = Log::of_bytes("-", table.into_bytes(), None).unwrap();
    assert_eq!(said(&piped), said(&log));
    assert!(Log::of_bytes("-", NOTEBOOK.as_bytes().to_vec(), None).is_ok());
}

#[test]
fn what_spreadsheets_do_to_a_table_changes_nothing() {
    let log = said(&read(NOTEBOOK).unwrap());
    let rows = |separator: &str, end: &str, tail: &str| {
        let mut text = String::new();
        let mut quoted = false;
        for c in TABLE.chars() {
            quoted ^= c == '"';
            match c {
                ',' if !quoted => text.push_str(separator),
                '\n' if !quoted => text.push_str(&format!("{tail}{end}")),
                '\n' => text.push_str(end),
                c => text.push(c),
            }
        }
        text
    };
    // Cells that now hold the separator need quotes.
    let semicolons = rows(";", "\n", "").replace(";the grey; skiff;", ";\"the grey; skiff\";");
    for text in [
        rows(",", "\r\n", ""),
        rows(",", "\n", ",,"),
        format!("\u{feff}{}", rows(",", "\r\n", ",")),
        semicolons.clone(),
        format!("\u{feff}sep=;\r\n{}", semicolons.replace('\n', "\r\n")),
        rows("\t", "\n", ""),
        TABLE.replace("\n06:02,,lines", "\n\"# for people, all of it\",\n06:02,,lines"),
        TABLE.replace("\n06:04", "\n\n,,,,\n\n06:04"),
        format!("\n\n{TABLE}\n,,\n"),
        TABLE.trim_end().to_owned(),
        TABLE.replace("\n06:02,,lines in", "\n\"06:02\",\"\",\" Lines In \""),
    ] {
        assert_eq!(read_table(&text).map(|log| said(&log)).as_ref(), Ok(&log), "{text}");
    }
    // Columns in another order.
    let short = "event,value,at,rod,lure,depth\nzone,UTC-07:00,,,,\ndate,2026-05-14,,,,\nlines in,,6:02,,,\nrod,,06:03,a,spoon,9 ft\n";
    assert_eq!(read_table(short).unwrap().entries.len(), 2);
    assert_eq!(read_table("at,event\n").unwrap().entries.len(), 0);
}

#[test]
fn what_is_wrong_in_a_table_is_said_with_the_place_of_its_cell() {
    let head = "at,event,rod,value,depth,reading surface\n,date,,2026-05-14,,\n,zone,,UTC-07:00,,\n";
    let cases = [
        ("06:02,lines in,,,,\n06:31,strike,port,,,", "5:1: rod `port` had a strike and was out of the water"),
        ("06:02,rod,\"ö\",,20 mph,", "4:16: "),
        ("06:02,rod,\"a\"\"b\",,\"20 mph\",", "4:20: "),
        ("06:02,rod,a,\"x\ny\",,", "4:13: this event has no `value`"),
        ("06:02,note,,\"x\ny\",20 ft,", "5:4: this event has no `depth`"),
        ("06:02,note,,,,", "4:7: this row has no note"),
        ("06:02,rod,,,20 ft,", "4:7: this row names no rod"),
        ("06:02,readings,,,,", "4:7: this row has no readings"),
        ("06:02,Strik,,,,", "4:7: `Strik` is no event\n  help: did you mean `strike`?"),
        ("06:02,,,hi,,", "4:1: this row does not say what happened"),
        ("06:61,lines in,,,,", "4:1: `06:61` is no time of day"),
        (",lines in,,,,", "4:1: this event has no `at`"),
        ("06:02,strike,,,,54 °F", "4:1: this event says `strike` and `readings` at once"),
        ("06:02,lines in,,,,,hm", "4:20: `hm` stands in a column without a name"),
        (",water,,,,", "4:2: `water` has no value"),
        (",water,a,b,,", "4:8: a row of `water` has its `value` and nothing else"),
        (",date,,2026-05-14,,", "4:2: `date` stands here twice"),
        ("06:02,note,,\"never closed,,\n06:03,lines in,,,,", "4:13: a quote opens here and none closes it"),
        (
            "06:02,lines in,,,,\n06:01,lines out,,,,",
            "5:1: the event in line 5 is earlier than the one before it, in line 4",
        ),
        ("06:02,unit,,,,", "4:1: this contest has no `a`"),
    ];
    for (rows, message) in cases {
        let fault = read_table(&format!("{head}{rows}\n")).map(|_| ()).unwrap_err();
        assert!(fault.starts_with(&format!("day.csv:{message}")), "{rows}\n{fault}");
    }
    let heads = [
        ("at,evnt\n", "1:4: a log has no column `evnt`\n  help: did you mean `event`?"),
        ("at,event,surface\n", "1:10: a log has no column `surface`\n  help: a reading's column is `reading surface`"),
        ("event,value\n", "1:1: the table has no column `at`"),
        ("at,event,at\n", "1:10: the column `at` stands here twice"),
    ];
    for (text, message) in heads {
        let fault = read_table(text).map(|_| ()).unwrap_err();
        assert!(fault.contains(&format!("day.csv:{message}")), "{text}\n{fault}");
    }
    assert_eq!(read_table("\n\n").map(|_| ()), Err("day.csv: the file is empty".to_owned()));
    assert!(read_table("at,event\n06:02,\u{7}\n").is_err());
}

proptest! {
    /// Whatever a day held, it is the same as a table, and again in YAML.
    #[test]
    fn any_log_is_the_same_as_a_table_and_back(day in events(), offset in prop::sample::select(vec!["-07:00", "America/Boise", "+05:45"])) {
        let mut text = Head { water: Some("Ossel Water".to_owned()), zone: offset.to_owned(), ..Head::default() }.text();
        let zone = time::zone(offset).unwrap();
        let mut now = at("06:00");
        for (told, seconds) in day {
            now = now.after(seconds * SECOND / 4);
            let longer = format!("{text}{}\n", told.line(now, &zone));
            // What can't have been is left out: it is not what this is about.
            if read(&longer).is_ok() {
                text = longer;
            }
        }
        let log = read(&text).unwrap();
        let table = other_form("day.yaml", &text, Form::Csv);
        prop_assert_eq!(said(&read_table(&table).unwrap()), said(&log), "{}", table);
        let again = other_form("day.csv", &table, Form::Yaml);
        prop_assert_eq!(said(&read(&again).unwrap()), said(&log), "{}", again);
    }

    /// No table, however spoiled, does more than be refused.
    #[test]
    fn a_spoiled_table_is_refused_or_read(cut in 0..TABLE.len(), with in "[\",;\\n\\t a-c0°]{0,6}", take in 0usize..9) {
        let cut = (0..=cut).rev().find(|at| TABLE.is_char_boundary(*at)).unwrap_or(0);
        let on = (cut + take..).find(|at| *at >= TABLE.len() || TABLE.is_char_boundary(*at)).unwrap_or(TABLE.len()).min(TABLE.len());
        let text = format!("{}{with}{}", &TABLE[..cut], &TABLE[on..]);
        if let Err(faults) = Log::of_bytes("day.csv", text.clone().into_bytes(), None) {
            let lines = text.split('\n').count();
            for fault in faults.iter() {
                prop_assert!(fault.line.is_none_or(|line| line as usize <= lines), "{fault}");
            }
        }
    }
}

/// Things that happen, in any words.
fn events() -> impl Strategy<Value = Vec<(Told, i64)>> {
    let word = || "[a-zäß°0-9 :#,;\"'\\\\=+@\\-{}\\[\\]%&*!|>?]{1,12}";
    let rod =
        || prop::sample::select(vec!["port", "2", "the \"far\" one; so, called", "yes no"]).prop_map(str::to_owned);
    let name = || prop::sample::select(vec!["surface", "wind", "mood", "depth_of(62 °F)", "at", "event", "light"]);
    let readings = move || {
        prop::collection::btree_map(name(), "[a-z0-9°]{1,4}", 1..4)
            .prop_map(|readings| readings.into_iter().map(|(name, value)| (name.to_owned(), value)).collect::<Vec<_>>())
    };
    let told = prop_oneof![
        Just(Told::Lines(true)),
        rod().prop_map(|rod| Told::Rod(rod, vec![("depth", "20 ft".to_owned()), ("lure", "spoon, or so".to_owned())])),
        rod().prop_map(|rod| Told::Rod(rod, Vec::new())),
        rod().prop_map(Told::Up),
        prop::option::of(rod()).prop_map(Told::Strike),
        prop::option::of(rod()).prop_map(Told::Landed),
        word().prop_map(Told::Note),
        readings().prop_map(Told::Given),
        readings().prop_map(Told::Measured),
        Just(Told::Lines(false)),
    ];
    prop::collection::vec((told, 0i64..400), 0..12)
}

// What can't have been

/// The faults of a day's events, a line each, help left out.
fn faults(events: &str) -> Vec<String> {
    let text = format!("{DAY}events:\n{events}");
    let wrong = read(&text).map(|_| ()).err().unwrap_or_default();
    wrong.lines().filter(|line| !line.starts_with("  help")).map(str::to_owned).collect()
}

#[test]
fn every_fault_of_a_day_is_told_once_and_what_follows_from_it_is_not() {
    let found = faults(
        "- {at: \"06:02\", lines: in}\n- {at: \"06:03\", rod: prot, depht: 20 ft}\n- {at: \"06:05\", strike: prot}\n\
         - {at: \"06:06\", rod: port, depth: 20 mph}\n- {at: \"06:10\", strike: port}\n- {at: \"06:11\", landed: port}\n\
         - {at: \"06:12\", strike: far}\n- {at: \"06:13\", strike: far}\n- {at: \"06:14\", landed: near}\n\
         - {at: \"06:15\", lines: in}\n- {at: \"06:20\", lines: out}\n- {at: \"06:21\", strike: port}\n\
         - {at: \"06:22\", strike: port}\n- {at: \"06:23\", lines: in}\n- {at: \"16:24\", rod: far, up: yes}\n\
         - {at: \"06:25\", rod: far, up: yes}\n- {at: \"06:26\", note: \"\"}\n- {at: \"06:70\", lines: out}\n",
    );
    assert_eq!(
        found,
        [
            "day.yaml:5:28: this event has no `depht`",
            "day.yaml:7:35: `depth` is a length, not a speed",
            "day.yaml:10:3: rod `far` had a strike and was out of the water",
            "day.yaml:12:3: a fish was landed on rod `near` and none had struck",
            "day.yaml:13:3: lines go in and were in already, since line 4",
            "day.yaml:15:3: a fish can't strike while lines are out",
            "day.yaml:19:3: the event in line 19 is earlier than the one before it, in line 18",
            "day.yaml:19:3: rod `far` comes up and was not in",
            "day.yaml:20:23: this note is empty",
            "day.yaml:21:9: `06:70` is no time of day",
        ]
    );
}

#[test]
fn a_rod_that_was_misspelt_is_told_by_the_one_that_was_meant() {
    let text = "- {at: \"06:02\", lines: in}\n- {at: \"06:03\", rod: port wire}\n";
    let help =
        |event: &str| read(&format!("{DAY}events:\n{text}- {{at: \"06:05\", {event}}}\n")).map(|_| ()).unwrap_err();
    for event in ["strike: prot wire", "landed: Port wrie", "rod: portwire, up: yes"] {
        assert!(help(event).ends_with("\n  help: did you mean `port wire`?"), "{}", help(event));
    }
    assert!(help("strike: 2").ends_with("help: say when it went in, with `rod: 2`; or the strike was on another"));
}

#[test]
fn a_rod_comes_up_once_and_lines_come_out_once() {
    let day = "- {at: \"06:02\", lines: in}\n- {at: \"06:03\", rod: a}\n- {at: \"06:05\", rod: a, up: yes}\n";
    assert_eq!(
        faults(&format!("{day}- {{at: \"06:06\", rod: a, up: yes}}\n")),
        ["day.yaml:7:3: rod `a` comes up and was not in"]
    );
    assert_eq!(
        faults(&format!("{day}- {{at: \"06:06\", lines: out}}\n- {{at: \"06:07\", lines: out}}\n")),
        ["day.yaml:8:3: lines come out and were out already, since line 7"]
    );
    assert_eq!(faults("- {at: \"06:02\", lines: out}\n"), ["day.yaml:4:3: lines come out and were never in"]);
    // A fish may be landed when lines are out and its rod is up.
    assert!(faults("- {at: \"06:02\", lines: in}\n- {at: \"06:03\", rod: a}\n- {at: \"06:05\", strike: a}\n- {at: \"06:06\", rod: a, up: yes}\n- {at: \"06:06\", lines: out}\n- {at: \"06:09\", landed: a}\n").is_empty());
}

#[test]
fn a_day_may_pass_midnight_and_no_more() {
    let night = |after: &str| {
        let text = format!("{DAY}events:\n- {{at: \"22:30\", lines: in}}\n- {{at: \"{after}\", lines: out}}\n");
        read(&text).map(|log| log.entries.len())
    };
    assert_eq!(night("2026-05-15T00:10"), Ok(2));
    assert_eq!(night("2026-05-15 00:10"), Ok(2));
    assert_eq!(
        night("00:10"),
        Err("day.yaml:5:3: the event in line 5 is earlier than the one before it, in line 4\n  help: events stand in \
             the order of time; after midnight write the date too, as in `2026-05-15T00:10`"
            .to_owned())
    );
    assert_eq!(
        night("2026-05-16T00:10"),
        Err("day.yaml:5:3: this event is on 2026-05-16, and the log is of 2026-05-14\n  help: a log holds one day, which \
             may pass midnight; write the other day into its own"
            .to_owned())
    );
    assert_eq!(
        faults("- {at: 2026-05-13T23:00, lines: in}\n- {at: \"06:00\", lines: out}\n"),
        ["day.yaml:4:3: this event is on 2026-05-13, and the log is of 2026-05-14"]
    );
}

#[test]
fn a_date_or_zone_that_is_missing_is_one_fault() {
    let events = "events:\n- {at: \"06:02\", lines: in}\n- {at: \"06:03\", strike: a}\n- {at: \"06:04\", strike: a}\n";
    let told = |head: &str| read(&format!("{head}{events}")).map(|_| ()).unwrap_err();
    let first = |head: &str| {
        told(head).lines().filter(|line| !line.starts_with("  help")).map(str::to_owned).collect::<Vec<_>>()
    };
    assert_eq!(first("zone: UTC\n"), ["day.yaml:3:9: `06:02` has no date, and the log has none"]);
    assert_eq!(first("date: 2026-05-14\n"), ["day.yaml:3:9: `06:02` has no time zone, and no water gives it one"]);
    assert_eq!(first("date: 14.5.2026\nzone: UTC\n"), ["day.yaml:1:7: `14.5.2026` is no date"]);
    assert_eq!(first("date: 2026-05-14\nzone: UCT+7\nboaat: x\n").len(), 2);
}

// Rod-hours

#[test]
fn rods_fish_while_they_and_lines_are_in() {
    let events = "- {at: \"05:50\", rod: a, depth: 20 ft}\n- {at: \"06:00\", lines: in}\n- {at: \"06:00\", rod: b, lure: plug}\n\
                  - {at: \"06:30\", rod: a, depth: 20 ft}\n- {at: \"06:40\", rod: a, speed: 2 mph}\n\
                  - {at: \"07:00\", lines: out}\n- {at: \"07:10\", rod: b, lure: fly}\n- {at: \"07:20\", lines: in}\n\
                  - {at: \"07:30\", rod: b, up: yes}\n- {at: \"07:40\", rod: a, up: yes}\n- {at: \"07:40\", rod: a}\n\
                  - {at: \"07:50\", note: late}\n";
    let log = read(&format!("{DAY}events:\n{events}")).unwrap();
    let told: Vec<String> = log
        .rod_time()
        .iter()
        .map(|stretch| {
            let time = |at: Instant| at.zoned(&zone()).strftime("%H:%M").to_string();
            let Run { depth, speed, words, .. } = &stretch.run;
            let has = |known: bool, name: &str| if known { format!(" {name}") } else { String::new() };
            let lure = words.get("lure").cloned().unwrap_or_default();
            let runs = format!("{}{}", has(depth.is_some(), "depth"), has(speed.is_some(), "speed"));
            format!("{} {}-{}{runs} {lure}", stretch.rod, time(stretch.from), time(stretch.to)).trim_end().to_owned()
        })
        .collect();
    assert_eq!(
        told,
        [
            "a 06:00-06:40 depth",
            "b 06:00-07:00 plug",
            "a 06:40-07:00 depth speed",
            "a 07:20-07:50 depth speed",
            "b 07:20-07:30 fly",
        ]
    );
    let counts = log.counts();
    assert_eq!((counts.rods, counts.strikes, counts.landed), (2, 0, 0));
    // 40 + 60 + 20 + 30 + 10 minutes.
    assert_eq!(counts.rod_time, 160 * 60 * SECOND);
}

proptest! {
    /// Stretches of a rod don't overlap, lie within lines in, and a cut of the log cuts them.
    #[test]
    fn rod_time_is_sorted_and_never_counted_twice(day in events()) {
        let (mut text, mut now) = (format!("{DAY}events:\n"), at("06:00"));
        for (told, seconds) in day {
            now = now.after(seconds * SECOND / 4);
            let longer = format!("{text}{}\n", told.line(now, &zone()));
            if read(&longer).is_ok() {
                text = longer;
            }
        }
        let Ok(log) = read(&text) else { return Ok(()) };
        let time = log.rod_time();
        prop_assert!(time.is_sorted_by(|a, b| (a.from, &a.rod) < (b.from, &b.rod)));
        let lines_in = log.lines_in();
        for (number, stretch) in time.iter().enumerate() {
            prop_assert!(stretch.from < stretch.to);
            let covered: i64 = lines_in.iter().map(|(from, to)| stretch.to.min(*to).since(stretch.from.max(*from)).max(0)).sum();
            prop_assert_eq!(covered, stretch.to.since(stretch.from), "within lines in");
            let next = time[number + 1..].iter().find(|next| next.rod == stretch.rod);
            prop_assert!(next.is_none_or(|next| stretch.to < next.from || (stretch.to == next.from && stretch.run != next.run)));
        }
    }
}

// The scenario's days, and the command line

fn leadsman(arguments: &[&str]) -> (i32, String, String) {
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

const DAYS: &str = "rules/ossel/days";

#[test]
fn the_days_of_the_scenario_check_and_are_the_same_as_tables() {
    let days = leadsman::day::log::find(DAYS).unwrap();
    assert!(days.len() >= 5 && days.iter().all(|day| day.ends_with(".yaml")), "{days:?}");
    let mut large = 0;
    for path in &days {
        let text = std::fs::read_to_string(path).unwrap();
        assert!(text.lines().take(3).any(|line| line.contains("Invented, like the lake")), "{path}");
        let log = read(&text).unwrap();
        assert!(!log.rod_time().is_empty() && log.counts().landed > 0, "{path}");
        large += usize::from(log.entries.len() >= 300);
        let table = other_form("day.yaml", &text, Form::Csv);
        assert_eq!(said(&read_table(&table).unwrap()), said(&log), "{path}");
        assert_eq!(said(&read(&other_form("day.csv", &table, Form::Yaml)).unwrap()), said(&log), "{path}");
    }
    assert!(large >= 2);
    assert!(days.iter().any(|path| Log::read(path, None).unwrap().contest.is_some()));
    let table = std::fs::read_to_string(format!("{DAYS}/2026-10-09.csv")).unwrap();
    let day = std::fs::read_to_string(format!("{DAYS}/2026-10-09.yaml")).unwrap();
    assert_eq!(said(&read_table(&table).unwrap()), said(&read(&day).unwrap()), "one day in both forms");
    let mut arguments = vec!["check", "rules/ossel/days/2026-10-09.csv"];
    arguments.extend(days.iter().map(String::as_str));
    let (code, words, wrong) = leadsman(&arguments);
    assert_eq!((code, wrong.as_str()), (0, ""));
    insta::assert_snapshot!("check_days", words);
}

#[test]
fn a_spoiled_day_is_told_with_every_place_and_what_would_be_right() {
    let (code, words, wrong) = leadsman(&["check", "tests/day/spoiled.yaml"]);
    assert_eq!((code, words.as_str()), (1, ""));
    insta::assert_snapshot!("check_spoiled_day", wrong);
    let (code, words, same) = leadsman(&["check", "--json", "tests/day/spoiled.yaml", "rules/less_to_chase.strategy"]);
    assert_eq!((code, same), (1, wrong));
    assert!(words.contains("\"logs\": []"), "{words}");
}

#[test]
fn a_log_that_is_cut_is_said_so_and_read_without_its_last_line() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("day.yaml").to_string_lossy().into_owned();
    std::fs::write(&path, format!("{DAY}events:\n- {{at: \"06:02\", lines: in}}\n- {{at: \"06:03\", stri")).unwrap();
    let (code, words, said) = leadsman(&["check", &path]);
    assert_eq!((code, words), (0, format!("{path}: 1 event, 0 rods, 0.0 rod-hours, 0 strikes, 0 fish landed\n")));
    assert_eq!(said, format!("{path}: its last line was cut short and is left out\n"));
    let (code, words, said) = leadsman(&["format", &path, "--as", "csv"]);
    assert_eq!((code, said.as_str()), (0, "the log's last line was cut short and is left out\n"));
    assert!(words.starts_with("at,event,rod,value\n"), "{words}");
}

#[test]
fn format_prints_a_log_in_the_other_form_once_it_is_checked() {
    let (code, yaml, _) = leadsman(&["format", "rules/ossel/days/2026-10-09.csv", "--as", "yaml"]);
    assert_eq!(code, 0);
    assert!(yaml.starts_with("water: Ossel Water\nboat: the grey skiff\n"), "{yaml}");
    assert!(yaml.contains("- {at: \"08:00\", rod: port lead, depth: 11 ft, "), "{yaml}");
    let (code, words, wrong) = leadsman(&["format", "tests/day/spoiled.yaml", "--as", "csv"]);
    assert_eq!((code, words.as_str()), (1, ""));
    assert!(wrong.starts_with("error: tests/day/spoiled.yaml:"), "{wrong}");
    assert_eq!(leadsman(&["format", "rules/ossel/days", "--as", "csv"]).0, 1);
    assert_eq!(leadsman(&["format", "a.yaml", "--as", "csv", "--check"]).0, 2);
}
