//! The day's log: what it holds, what can't have been, and that a crash loses nothing of it.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]
#![allow(clippy::disallowed_methods, reason = "the process under test is timed by the machine's clock")]

use std::io::{BufRead, BufReader, Write};
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::time::{Duration, Instant};

use leadsman::day::live::Live;
use leadsman::day::log::{Log, What};
use leadsman::day::record::{Head, Record, Told};
use leadsman::program::Program;
use leadsman::session::Setting;
use leadsman::source::strategies::FolderIncludes;
use leadsman::vocabulary::time;

const RULES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/rules");

fn program() -> Arc<Program> {
    let path = format!("{RULES}/less_to_chase.strategy");
    let text = std::fs::read_to_string(&path).unwrap();
    let includes = FolderIncludes::new(std::path::Path::new(RULES)).unwrap();
    leadsman::check::check(&path, &text, &includes).program.unwrap()
}

fn zone() -> jiff::tz::TimeZone {
    leadsman::source::time::zone("-07:00").unwrap()
}

fn at(text: &str) -> time::Instant {
    leadsman::source::time::time(&format!("2026-05-14T{text}"), Some(&zone())).unwrap().0
}

fn read(text: &str) -> Result<Log, String> {
    Log::of_bytes("day.yaml", text.as_bytes().to_vec(), None).map_err(|faults| faults.to_string())
}

const HEAD: &str = "date: 2026-05-14\nzone: \"-07:00\"\nevents:\n";

#[test]
fn a_log_from_a_notebook_is_read() {
    let log = read(&format!(
        "water: Ossel Water\n{HEAD}- {{at: \"6:02\", lines: in}}\n- at: \"06:04\"\n  rod: port\n  depth: 20 ft\n  lure: spoon\n\
         - {{at: \"06:31:30\", strike: port}}\n- {{at: \"06:34\", landed: port}}\n- {{at: \"06:34\", strike: yes}}\n\
         - {{at: \"06:40\", rod: port, up: yes}}\n- {{at: 2026-05-14T07:00-06:00, note: \"fog: thick\"}}\n\
         - {{at: \"06:50\", readings: {{surface: 54 °F}}, measured: {{wind: 8 mph}}}}\n"
    ))
    .unwrap_err();
    // 07:00 at -06:00 is 06:00 here.
    assert_eq!(
        log,
        "day.yaml:14:3: the event in line 14 is earlier than the one before it, in line 13\n  help: events stand in \
         the order of time"
    );
    let log =
        read(&format!("{HEAD}- {{at: \"6:02\", lines: in}}\n- {{at: \"06:04\", rod: port, depth: 20 ft}}\n")).unwrap();
    assert_eq!(log.entries.len(), 2);
    assert_eq!(log.entries[0].at, at("06:02"));
    assert!(matches!(&log.entries[1].what, What::Rod(name, run) if name == "port" && run.depth.is_some()));
}

#[test]
fn what_cant_have_been_is_found_with_line_and_help() {
    let cases = [
        ("- {at: \"06:31\", strike: port}", "4:3: a fish can't strike while lines are out"),
        (
            "- {at: \"06:01\", lines: in}\n- {at: \"06:31\", strike: port}",
            "5:3: rod `port` had a strike and was out of the water",
        ),
        ("- {at: \"06:01\", lines: in}\n- {at: \"06:31\", landed: yes}", "5:3: a fish was landed and none had struck"),
        ("- {at: \"06:31\", rod: port, up: yes}", "4:3: rod `port` comes up and was not in"),
        (
            "- {at: \"06:31\", lines: in}\n- {at: \"06:30\", lines: out}",
            "5:3: the event in line 5 is earlier than the one before it, in line 4",
        ),
        ("- {at: \"06:31\", strke: port}", "4:17: this event has no `strke`"),
        ("- {at: \"06:31\", lines: down}", "4:24: `lines` is `in` or `out`, not `down`"),
        ("- {at: \"06:31\", rod: port, depth: 20 mph}", "4:35: "),
        (
            "- {at: \"06:31\", rod: port, depth: 9000 ft}",
            "4:35: `9000 ft` is outside what is physically plausible for `depth`",
        ),
        ("- {at: \"25:31\", lines: in}", "4:9: `25:31` is no time of day"),
        ("- {at: \"06:31\"}", "4:3: this event does not say what happened"),
        ("- {at: \"06:31\", lines: in, note: hi}", "4:3: this event says `lines` and `note` at once"),
        ("- {at: \"06:31\", lines: in, depth: 20 ft}", "4:28: this event has no `depth`"),
        ("- {lines: in}", "4:3: this event has no `at`"),
        ("- {at: \"06:31\", readings: 54 °F}", "4:27: `readings` is a text, not readings with their values"),
    ];
    for (events, message) in cases {
        let fault = read(&format!("{HEAD}{events}\n")).map(|_| ()).unwrap_err();
        assert!(fault.starts_with(&format!("day.yaml:{message}")), "{events}\n{fault}");
    }
    assert!(read("zone: \"-07:00\"\nevents:\n- {at: \"06:31\", lines: in}\n").unwrap_err().contains("has no date"));
    assert!(read("evnts: []\n").unwrap_err().contains("did you mean `events`?"));
}

#[test]
fn a_log_opens_wherever_it_is_cut() {
    let whole = format!(
        "{HEAD}- {{at: \"06:02\", lines: in}}\n- {{at: \"06:03\", measured: {{\"surface\": \"54.1 °F\"}}}}\n\
         - {{at: \"06:04\", rod: \"pört\", depth: \"20 ft\"}}\n- {{at: \"06:05\", strike: \"pört\"}}\n"
    );
    let events_begin = HEAD.len();
    for length in events_begin..=whole.len() {
        for zeros in [0, 5] {
            let mut bytes = whole.as_bytes()[..length].to_vec();
            bytes.extend(std::iter::repeat_n(0, zeros));
            let log =
                Log::of_bytes("day.yaml", bytes, None).unwrap_or_else(|faults| panic!("cut at {length}: {faults}"));
            let lines = whole[events_begin..].bytes().take(length - events_begin).filter(|byte| *byte == b'\n').count();
            let unended = log.cut.is_none() && !whole.as_bytes()[..length].ends_with(b"\n");
            assert_eq!(log.entries.len(), lines + usize::from(unended), "cut at {length}");
        }
    }
}

#[test]
fn reading_the_log_again_gives_the_same_calls() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("day.yaml").to_string_lossy().into_owned();
    let head = Head { zone: "-07:00".to_owned(), ..Head::default() };
    let begin = |record| Live::new(program(), Setting::default(), zone(), Default::default(), record);
    let mut live = begin(Record::open(&path, &head, None).unwrap());
    let given = |name: &str, value: &str| Told::Given(vec![(name.to_owned(), value.to_owned())]);
    let mut calls = Vec::new();
    let happened: [(&str, Option<Told>); 9] = [
        ("06:00", Some(given("surface", "54 °F"))),
        ("06:00:10.5", Some(Told::Lines(true))),
        ("06:01", Some(Told::Measured(vec![("wind".into(), "8.25 mph".into()), ("bottom".into(), "90.1 ft".into())]))),
        ("06:02", Some(given("marks", "yes"))),
        ("06:02", Some(Told::Rod("port".into(), vec![("depth", "20 ft".into()), ("lure", "spoon".into())]))),
        ("06:28", None),
        ("06:30", Some(Told::Strike(Some("port".into())))),
        ("06:31", Some(Told::Landed(Some("port".into())))),
        ("06:55", Some(Told::Note("a \"quoted\" note: with # and \\".into()))),
    ];
    for (when, told) in &happened {
        match told {
            Some(told) => live.happened(at(when), told).unwrap(),
            None => live.pass(at(when)),
        }
        calls.push(live.advice(at(when)));
    }
    live.sync().unwrap();
    let log = Log::read(&path, None).unwrap();
    let mut again = begin(Record::open(&format!("{path}.2"), &head, None).unwrap());
    again.resume(&log).unwrap();
    let (last, _) = happened.last().unwrap();
    let (then, now) = (calls.last().unwrap(), again.advice(at(last)));
    assert_eq!((&then.tactic, &then.ladders, &then.undecided), (&now.tactic, &now.ladders, &now.undecided));
    assert_eq!(then.readings, now.readings, "instruments and hands are told apart in the log too");
    let rungs: Vec<_> = calls.iter().map(|advice| advice.ladders[0].rung.clone().unwrap()).collect();
    assert_eq!(rungs.first(), rungs.get(5 - 1), "nothing moves within the ladder's patience");
    assert!(
        matches!(&log.entries.last().unwrap().what, What::Note(text) if text == "a \"quoted\" note: with # and \\")
    );
}

#[test]
fn what_must_have_been_before_is_written_ahead() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("day.yaml").to_string_lossy().into_owned();
    let head = Head { zone: "-07:00".to_owned(), ..Head::default() };
    let record = Record::open(&path, &head, None).unwrap();
    let mut live = Live::new(program(), Setting::default(), zone(), Default::default(), record);
    live.happened(at("06:30"), &Told::Landed(Some("2".into()))).unwrap();
    let refused = live.happened(at("06:31"), &Told::Up("3".into())).unwrap_err();
    assert_eq!(refused.to_string(), "rod `3` is not in");
    let implausible = Told::Given(vec![("surface".into(), "99 °C".into())]);
    assert!(live.happened(at("06:32"), &implausible).is_err());
    // A clock put back changes no order.
    live.happened(at("06:20"), &Told::Note("earlier".into())).unwrap();
    let log = Log::read(&path, None).unwrap();
    let lines: Vec<String> = log.entries.iter().map(|entry| format!("{:?}", entry.what)).collect();
    assert_eq!(lines.len(), 5, "{lines:?}");
    assert!(lines[0].starts_with("Lines(true)") && lines[1].starts_with("Rod(\"2\""), "{lines:?}");
    assert!(lines[2].starts_with("Strike(Some(\"2\"))") && lines[3].starts_with("Landed"), "{lines:?}");
    assert_eq!(log.entries[4].at, at("06:30"));
}

/// A watch with its keys at hand.
struct Watched {
    child: Child,
}

impl Watched {
    fn begin(log: &str) -> Self {
        let child = Command::new(env!("CARGO_BIN_EXE_leadsman"))
            .args([
                "watch",
                &format!("{RULES}/less_to_chase.strategy"),
                "--water",
                &format!("{RULES}/ossel/water.yaml"),
            ])
            .args(["--log", log, "--json"])
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut watched = Self { child };
        // It has begun once it says where the log is.
        let mut said = String::new();
        BufReader::new(watched.child.stderr.as_mut().unwrap()).read_line(&mut said).unwrap();
        assert!(said.starts_with("the log"), "{said}");
        watched
    }

    fn press(&mut self, line: &str) {
        let _ = writeln!(self.child.stdin.as_mut().unwrap(), "{line}");
    }
}

#[test]
fn a_watch_killed_at_any_moment_loses_nothing_older_than_a_second() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("day.yaml").to_string_lossy().into_owned();
    let mut number = 0;
    // One log through many deaths: each watch goes on where the one before it was killed.
    for round in 0..12u64 {
        let mut watched = Watched::begin(&path);
        if round == 0 {
            watched.press("i");
        }
        let begun = Instant::now();
        let lives = Duration::from_millis(37 * round % 400);
        let mut pressed = Vec::new();
        while begun.elapsed() < lives {
            watched.press(&format!("n note {number}"));
            pressed.push((Instant::now(), number));
            number += 1;
            std::thread::sleep(Duration::from_millis(3));
        }
        let killed = Instant::now();
        watched.child.kill().unwrap();
        watched.child.wait().unwrap();
        let log = Log::read(&path, None).unwrap();
        let noted: Vec<String> = log
            .entries
            .iter()
            .filter_map(|entry| match &entry.what {
                What::Note(text) => Some(text.clone()),
                _ => None,
            })
            .collect();
        for (when, number) in pressed {
            let old = killed.duration_since(when) > Duration::from_secs(1);
            assert!(!old || noted.contains(&format!("note {number}")), "note {number} of round {round} is lost");
        }
    }
    let log = Log::read(&path, None).unwrap();
    let notes = log.entries.iter().filter(|entry| matches!(entry.what, What::Note(_))).count();
    assert!(notes > 50, "the watch had time to write: {notes} notes");
}

#[test]
fn a_line_cut_short_is_kept_as_a_comment_and_the_day_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("day.yaml").to_string_lossy().into_owned();
    std::fs::write(&path, format!("{HEAD}- {{at: \"06:02\", lines: in}}\n- {{at: \"06:03\", note: \"half a no"))
        .unwrap();
    let log = Log::read(&path, None).unwrap();
    assert_eq!(log.cut.as_deref(), Some("- {at: \"06:03\", note: \"half a no"));
    let head = Head { zone: "-07:00".to_owned(), ..Head::default() };
    let record = Record::open(&path, &head, log.cut.as_deref()).unwrap();
    let mut live = Live::new(program(), Setting::default(), zone(), Default::default(), record);
    live.resume(&log).unwrap();
    live.happened(at("06:10"), &Told::Strike(None)).unwrap();
    let text = std::fs::read_to_string(&path).unwrap();
    assert!(
        text.contains(
            "# cut short: - {at: \"06:03\", note: \"half a no\n- {at: \"2026-05-14T06:10:00-07:00\", strike: yes}\n"
        ),
        "{text}"
    );
    assert_eq!(Log::read(&path, None).unwrap().entries.len(), 2);
}

/// A log that a hand wrote in a way that takes no line at its end is not spoiled by one: that is told, and how to mend it.
#[test]
fn a_log_that_takes_no_line_is_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let takes = |name: &str, text: &str| {
        let path = folder.path().join(name).to_string_lossy().into_owned();
        std::fs::write(&path, text).unwrap();
        let head = Head { zone: "-07:00".to_owned(), ..Head::default() };
        let opened = Record::open(&path, &head, None);
        let same = std::fs::read_to_string(&path).unwrap() == text;
        match opened {
            Ok(mut record) => {
                record.line(&Told::Note("on".to_owned()).line(at("09:00"), &zone())).unwrap();
                let log = Log::read(&path, None).unwrap();
                assert!(log.entries.iter().any(|entry| matches!(entry.what, What::Note(_))), "{text}");
                true
            }
            Err(fault) => {
                assert!(same, "{text}");
                assert!(fault.to_string().contains("can't be gone on with"), "{fault}");
                false
            }
        }
    };
    let event = "- {at: \"06:02\", lines: in}";
    assert!(takes("plain.yaml", &format!("{HEAD}{event}\n")));
    assert!(takes("no_end.yaml", &format!("{HEAD}{event}")));
    assert!(takes("begun.yaml", HEAD));
    assert!(takes("block.yaml", &format!("{HEAD}- at: \"06:02\"\n  lines: in\n")));
    for (name, text) in [
        ("indented.yaml", format!("{HEAD}  {event}\n")),
        ("empty_list.yaml", "date: 2026-05-14\nzone: \"-07:00\"\nevents: []\n".to_owned()),
        ("first.yaml", format!("events:\n{event}\nzone: \"-07:00\"\ndate: 2026-05-14\n")),
        ("table.csv", "at,event\n2026-05-14T06:02-07:00,lines in\n".to_owned()),
    ] {
        assert!(!takes(name, &text), "{name}");
    }
}
