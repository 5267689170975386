//! A replay equals the day: what happened, sent moment by moment to a trip of the service, with a tick of the clock each
//! minute, is called as a replay of the log calls it, at the same instants.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

#[path = "fuzz/make.rs"]
#[allow(dead_code, reason = "other tests use the rest")]
mod make;
#[path = "service/ossel.rs"]
#[allow(dead_code, reason = "other tests use the rest")]
mod ossel;

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;
use std::sync::Arc;

use leadsman::advice::{self, Advice, Shown};
use leadsman::check::check;
use leadsman::day::log::{Log, What};
use leadsman::day::replay::Timeline;
use leadsman::day::standing::Standing;
use leadsman::engine::Outcome;
use leadsman::program::Program;
use leadsman::service::v1::{self, reading, trip_opening};
use leadsman::session::{Event, Mode, Session, Setting};
use leadsman::source::given::Names;
use leadsman::source::readings::MomentInput;
use leadsman::source::strategies::FolderIncludes;
use leadsman::source::water::Water;
use leadsman::source::yaml::Node;
use leadsman::vocabulary::quantity::{MINUTE, to_si};
use leadsman::vocabulary::time::Instant;
use make::{ALL, Choices};
use ossel::{Client, DAYS, RULES, begin_in};
use proptest::prelude::*;

/// An aspect: its name, its value as it is printed, why it has none, and who decided it, in which line.
type Aspect = (String, Option<String>, Option<String>, Option<(String, u32)>);

/// A call, so that two can be held against each other: what is called and by whom, rungs, stops, cautions, and what is not
/// ruled out.
#[derive(Clone, Debug, PartialEq)]
struct Called {
    tactic: Vec<Aspect>,
    rungs: Vec<(String, Option<String>)>,
    stops: Vec<String>,
    cautions: Vec<String>,
    not_ruled_out: Vec<Vec<String>>,
}

impl Called {
    fn of_replay(advice: &Advice) -> Self {
        let texts = |said: &[advice::Said]| said.iter().map(|said| said.text.clone()).collect();
        let tactic = advice.tactic.iter().map(|aspect| {
            let by = aspect.by.as_ref().map(|by| (by.name.clone(), by.line));
            (aspect.name.clone(), aspect.printed.clone(), aspect.why_none.clone(), by)
        });
        Self {
            tactic: tactic.collect(),
            rungs: advice.ladders.iter().map(|ladder| (ladder.name.clone(), ladder.rung.clone())).collect(),
            stops: texts(&advice.lines_up),
            cautions: texts(&advice.cautions),
            not_ruled_out: advice.not_ruled_out.iter().map(|open| open.texts.clone()).collect(),
        }
    }

    fn of_trip(advice: &v1::Advice) -> Self {
        let texts = |said: &[v1::Said]| said.iter().map(|said| said.text.clone()).collect();
        let tactic = advice.tactic.iter().map(|aspect| {
            let by = aspect.by.as_ref().map(|by| (by.name.clone(), by.line));
            (aspect.name.clone(), aspect.printed.clone(), aspect.why_none.clone(), by)
        });
        Self {
            tactic: tactic.collect(),
            rungs: advice.ladders.iter().map(|ladder| (ladder.name.clone(), ladder.rung.clone())).collect(),
            stops: texts(&advice.lines_up),
            cautions: texts(&advice.cautions),
            not_ruled_out: advice.not_ruled_out.iter().map(|open| open.texts.clone()).collect(),
        }
    }
}

impl Called {
    /// What makes a call: values, stops, cautions and rungs. Who decided them, and what is not ruled out, may change
    /// while it stands.
    fn bare(&self) -> Self {
        let tactic = self.tactic.iter().map(|(name, printed, ..)| (name.clone(), printed.clone(), None, None));
        Self { tactic: tactic.collect(), not_ruled_out: Vec::new(), ..self.clone() }
    }
}

/// A time as the wire has it.
fn time_of(at: Instant) -> String {
    at.timestamp().to_string()
}

fn text(name: &str, value: &str) -> v1::Reading {
    let value = Some(reading::Value::Text(value.to_owned()));
    v1::Reading { name: name.to_owned(), value, time: String::new() }
}

/// What is given, as far as the strategy has it: a log may have been kept with another.
fn readings(names: &mut Names, moment: &MomentInput) -> Vec<v1::Reading> {
    let mut readings = Vec::new();
    for item in &moment.given {
        let name = item.name.text.as_str();
        match &item.value {
            Node::Text(value) if names.event(name, &value.text).is_ok() => readings.push(text(name, &value.text)),
            Node::Text(_) => {}
            Node::Map(entries, _) => {
                let degrees = |key: &str| {
                    let (_, value) = entries.iter().find(|(name, _)| name.text == key)?;
                    let Node::Text(value) = value else { return None };
                    value.text.parse().ok()
                };
                let (latitude, longitude) = (degrees("latitude").unwrap(), degrees("longitude").unwrap());
                let value = Some(reading::Value::Position(v1::Position { latitude, longitude }));
                readings.push(v1::Reading { name: name.to_owned(), value, time: String::new() });
            }
            Node::List(..) => panic!("`{name}` is a list"),
        }
    }
    readings
}

/// The moments of a log as a client sends them, with a tick at each minute of the session that has none.
fn moments(program: &Program, log: &Log) -> Vec<(Instant, v1::TripMoment)> {
    let mut names = Names::of(program);
    let mut standing = Standing::default();
    let mut moments: BTreeMap<Instant, v1::TripMoment> = BTreeMap::new();
    for entry in &log.entries {
        let moment = moments.entry(entry.at).or_default();
        match &entry.what {
            What::Lines(lines_in) => moment.readings.push(text("lines_in", if *lines_in { "yes" } else { "no" })),
            What::Strike(rod) => {
                moment.strikes += 1;
                let depth = rod.as_ref().and_then(|rod| standing.running(rod)?.depth);
                let metres = depth.map(to_si);
                moment.readings.extend(metres.map(|value| v1::Reading {
                    name: "strike_depth".to_owned(),
                    value: Some(reading::Value::Quantity(v1::Quantity { value, unit: "m".to_owned() })),
                    time: String::new(),
                }));
            }
            What::Readings { given, measured } => {
                for some in [measured, given].into_iter().flatten() {
                    moment.readings.extend(readings(&mut names, some));
                }
            }
            What::Landed(_) | What::Rod(..) | What::Up(_) | What::Note(_) => {}
        }
        standing.take(&entry.what);
    }
    let first = log.entries.iter().find(|entry| matches!(entry.what, What::Lines(true))).map(|entry| entry.at);
    let last = log.entries.last().map(|entry| entry.at);
    if let Some((first, last)) = first.zip(last) {
        let mut at = first;
        while at <= last {
            moments.entry(at).or_default();
            at = at.after(MINUTE);
        }
    }
    let timed = |(at, moment)| (at, v1::TripMoment { time: time_of(at), ..moment });
    moments.into_iter().map(timed).collect()
}

/// The calls of a trip from the first lines in on: the one that stood then, and each later one with its instant.
async fn live(
    client: &mut Client,
    opening: v1::TripOpening,
    moments: &[(Instant, v1::TripMoment)],
    from: Instant,
    to: Instant,
) -> Vec<(Instant, Called)> {
    let opened = v1::AdviseTripRequest { opening: Some(opening), moment: None };
    let sent = moments.iter().map(|(_, moment)| v1::AdviseTripRequest { opening: None, moment: Some(moment.clone()) });
    let messages: Vec<v1::AdviseTripRequest> = std::iter::once(opened).chain(sent).collect();
    let mut answers = client.advise_trip(tokio_stream::iter(messages)).await.unwrap().into_inner();
    let mut calls: Vec<(Instant, Called)> = Vec::new();
    while let Some(answer) = answers.message().await.unwrap() {
        let (at, _) = moments[usize::try_from(answer.moment).unwrap() - 1];
        let called = Called::of_trip(&answer.advice.unwrap());
        if at > to {
            continue;
        }
        if at <= from {
            calls.clear();
        }
        // A call that stood before lines went in is not told again then, where it stays.
        calls.push((at.max(from), if at < from { called.bare() } else { called }));
    }
    calls
}

/// Replays a log, lives it, and holds the calls against each other one by one; how many there were.
async fn held(
    client: &mut Client,
    opening: v1::TripOpening,
    program: &Arc<Program>,
    setting: &Setting,
    log: &Log,
) -> Result<usize, String> {
    let timeline = Timeline::of(program, setting, log, Some(&Shown::default())).map_err(|faults| faults.to_string())?;
    let (Some(first), Some(last)) = (timeline.calls.first(), timeline.calls.last()) else { return Ok(0) };
    let replayed: Vec<(Instant, Called)> =
        timeline.calls.iter().map(|call| (call.from, Called::of_replay(call.advice.as_deref().unwrap()))).collect();
    let lived = live(client, opening, &moments(program, log), first.from, last.to).await;
    for (at, (replayed, lived)) in replayed.iter().zip(&lived).enumerate() {
        if replayed != lived && (at > 0 || (replayed.0, replayed.1.bare()) != *lived) {
            return Err(format!(
                "call {at} differs:\nreplayed at {}: {:#?}\nlived at {}: {:#?}",
                time_of(replayed.0),
                replayed.1,
                time_of(lived.0),
                lived.1
            ));
        }
    }
    if replayed.len() != lived.len() {
        let (many, few) = (replayed.len().max(lived.len()), replayed.len().min(lived.len()));
        let more = replayed.get(few).or(lived.get(few)).unwrap();
        let (replayed, lived) = (replayed.len(), lived.len());
        let at = time_of(more.0);
        return Err(format!("{replayed} calls replayed, {lived} lived; of {many} number {few} at {at}: {:#?}", more.1));
    }
    Ok(replayed.len())
}

fn served(name: &str) -> Arc<Program> {
    let file = format!("{name}.strategy");
    let text = std::fs::read_to_string(Path::new(RULES).join(&file)).unwrap();
    check(&file, &text, &FolderIncludes::new(Path::new(RULES)).unwrap()).program.unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_replay_of_the_scenarios_days_is_what_a_trip_was_told() {
    let mut service = begin_in(Path::new(RULES), |_| {}).await;
    let setting = Water::read(&format!("{RULES}/ossel/water.yaml")).unwrap().setting;
    for name in ["less_to_chase", "light_and_depth", "under_the_warm_lid"] {
        let program = served(name);
        let mut calls = 0;
        for day in DAYS {
            let log = Log::read(&format!("{RULES}/{day}"), setting.zone.as_ref()).unwrap();
            let strategy = Some(trip_opening::Strategy::StrategyName(name.to_owned()));
            let opening = v1::TripOpening { strategy, water: Some(ossel::water()), ..Default::default() };
            let held = held(&mut service.client, opening, &program, &setting, &log).await;
            calls += held.unwrap_or_else(|why| panic!("{name} on {day}: {why}"));
        }
        assert!(calls > 20, "{name} has {calls} calls over five days");
    }
}

/// Readings of the catalogue with values on both sides of what strategies ask for.
const GIVEN: [(&str, [&str; 5]); 15] = [
    ("surface", ["41 °F", "54 °F", "62 °F", "66 °F", "unknown"]),
    ("air", ["40 °F", "62 °F", "75 °F", "20 °C", "unknown"]),
    ("cloud", ["0 %", "20 %", "50 %", "90 %", "100 %"]),
    ("wind", ["0 mph", "5 mph", "8 mph", "22 mph", "unknown"]),
    ("waves", ["0 in", "3 in", "4 in", "8 in", "unknown"]),
    ("clarity", ["4 ft", "12 ft", "20 ft", "30 ft", "unknown"]),
    ("bottom", ["20 ft", "60 ft", "96 ft", "150 ft", "unknown"]),
    ("marks", ["yes", "yes", "no", "yes", "unknown"]),
    ("mark_depth", ["8 ft", "20 ft", "33 ft", "60 ft", "unknown"]),
    ("water_speed", ["1.5 mph", "2.2 mph", "3 mph", "3.8 mph", "unknown"]),
    ("ground_speed", ["1.5 mph", "2.2 mph", "3 mph", "3.8 mph", "unknown"]),
    ("bait_allowed", ["yes", "no", "yes", "no", "unknown"]),
    ("releasing", ["yes", "no", "yes", "no", "unknown"]),
    ("wind_from", ["N", "SW", "270°", "E", "unknown"]),
    (
        "cast",
        [
            "[0 ft 70 °F, 25 ft 66 °F, 40 ft 52 °F]",
            "[0 ft 50 °F, 60 ft 44 °F]",
            "[10 ft 63 °F, 30 ft 60 °F]",
            "[0 ft 64 °F 9 mg/L, 30 ft 50 °F 4 mg/L]",
            "unknown",
        ],
    ),
];

/// The text of a log of a day on which anything may happen.
fn day_text(choices: &mut Choices<'_>) -> String {
    let mut text = "zone: \"-07:00\"\nevents:\n".to_owned();
    let mut second = 5 * 3600 + 600 * choices.below(30);
    let (mut lines_in, mut rods) = (false, [false; 2]);
    let mut count = 0;
    while count < 40 && (choices.is_left() || count < 3) {
        second += [0, 0, 1, 30, 60, 60, 300, 660, 1500][choices.below(9)];
        let clock = format!("2026-05-14T{:02}:{:02}:{:02}", second / 3600, second / 60 % 60, second % 60);
        if second >= 23 * 3600 {
            break;
        }
        count += 1;
        let rod = choices.below(2);
        let what = match choices.below(14) {
            0 | 1 if lines_in && rods[rod] => format!("strike: r{rod}"),
            2 if lines_in => "strike: yes".to_owned(),
            3 => {
                rods[rod] = true;
                format!("rod: r{rod}, depth: {} ft", 5 + 7 * choices.below(6))
            }
            4 if lines_in && choices.chance(90) => {
                lines_in = false;
                "lines: out".to_owned()
            }
            4..=6 if !lines_in => {
                lines_in = true;
                "lines: in".to_owned()
            }
            7 => "note: \"nothing\"".to_owned(),
            other => {
                let key = if other % 2 == 0 { "readings" } else { "measured" };
                let mut given: BTreeMap<&str, &str> = BTreeMap::new();
                for _ in 0..1 + choices.below(4) {
                    let (name, values) = *choices.pick(&GIVEN);
                    given.insert(name, *choices.pick(&values));
                }
                let given: Vec<String> = given.iter().map(|(name, value)| format!("{name}: \"{value}\"")).collect();
                format!("{key}: {{{}}}", given.join(", "))
            }
        };
        let _ = writeln!(text, "- {{at: \"{clock}\", {what}}}");
    }
    text
}

/// A strategy out of choices: one of the scenario's, or one that is made.
fn strategy_text(choices: &mut Choices<'_>) -> String {
    match choices.below(8) {
        shipped @ 0..=2 => {
            let name = ["less_to_chase", "light_and_depth", "under_the_warm_lid"][shipped];
            std::fs::read_to_string(Path::new(RULES).join(format!("{name}.strategy"))).unwrap()
        }
        _ => make::strategy(choices, ALL),
    }
}

/// The calls of a day where the rules are asked at every step and event, with the outcome of each.
fn asked_each_time(program: &Arc<Program>, setting: &Setting, log: &Log) -> Vec<(Instant, Outcome)> {
    let mut session = Session::new(program.clone(), Arc::new(setting.clone()), Mode::Live);
    let (mut names, mut standing, mut passed_over) = (Names::of(program), Standing::default(), BTreeMap::new());
    let last = log.entries.iter().rfind(|entry| matches!(entry.what, What::Lines(_)));
    let out = last.filter(|entry| matches!(entry.what, What::Lines(false)));
    let end = out.or(log.entries.last()).map(|entry| entry.at);
    let mut calls: Vec<(Instant, Outcome)> = Vec::new();
    let mut ask = |session: &mut Session, at: Instant, events: Vec<Event>| {
        session.at(at, events).unwrap();
        if session.started() && Some(at) <= end {
            let outcome = session.outcome(at);
            if calls.last().is_none_or(|(_, last)| !last.same_call(&outcome)) {
                calls.push((at, outcome));
            }
        }
    };
    for happened in log.entries.chunk_by(|a, b| a.at == b.at) {
        while let Some(step) = session.state().map(|state| state.last_step.after(MINUTE)) {
            if step >= happened[0].at {
                break;
            }
            ask(&mut session, step, Vec::new());
        }
        let mut events = Vec::new();
        for entry in happened {
            events.extend(entry.what.events_of_log("", &mut names, &standing, &mut passed_over).unwrap());
            standing.take(&entry.what);
        }
        ask(&mut session, happened[0].at, events);
    }
    calls
}

/// A replay decides only where something changed that the rules can tell apart. Asking them each time finds no other call.
#[test]
fn a_replay_passes_over_no_call() {
    let setting = Water::read(&format!("{RULES}/ossel/water.yaml")).unwrap().setting;
    let config = ProptestConfig { cases: 400, failure_persistence: None, max_shrink_iters: 300, ..Default::default() };
    let mut runner = proptest::test_runner::TestRunner::new(config);
    let bytes = (proptest::collection::vec(any::<u8>(), 0..200), proptest::collection::vec(any::<u8>(), 20..200));
    let count = std::cell::Cell::new(0);
    let result = runner.run(&bytes, |(strategy, day)| {
        let source = strategy_text(&mut Choices::new(&strategy));
        let program = check("inline.strategy", &source, &FolderIncludes::new(Path::new(RULES)).unwrap());
        let program = program.program.unwrap();
        let text = day_text(&mut Choices::new(&day));
        let log = Log::of_bytes("made.yaml", text.clone().into_bytes(), None).unwrap();
        let timeline = Timeline::of(&program, &setting, &log, None).unwrap();
        let found: Vec<(Instant, Outcome)> =
            timeline.calls.iter().map(|call| (call.from, call.outcome.clone())).collect();
        let asked = asked_each_time(&program, &setting, &log);
        prop_assert!(found == asked, "{found:#?}\n{asked:#?}\n{text}\n{source}");
        count.set(count.get() + found.len());
        Ok(())
    });
    result.unwrap_or_else(|error| panic!("{error}"));
    assert!(count.get() > 1000, "{} calls", count.get());
}

/// A call whose argument is worked out changes with the cast, which is no input of the rules.
#[test]
fn a_call_with_an_argument_that_is_worked_out_is_asked_each_time() {
    let source = "strategy \"x\"\nrule \"cold below\" if temp_at(bottom - 30 ft) < 50 °F run depth 5 ft\n\
                  rule \"else\" run depth 20 ft";
    let program = check("x.strategy", source, &FolderIncludes::new(Path::new(RULES)).unwrap()).program.unwrap();
    let text = "zone: \"-07:00\"\nevents:\n\
                - {at: \"2026-05-14T06:00:00\", lines: in}\n\
                - {at: \"2026-05-14T06:00:10\", readings: {bottom: 90 ft, cast: \"[0 ft 60 °F, 80 ft 52 °F]\"}}\n\
                - {at: \"2026-05-14T06:00:20\", readings: {cast: \"[0 ft 60 °F, 80 ft 45 °F]\"}}\n\
                - {at: \"2026-05-14T06:00:30\", readings: {cast: \"[0 ft 60 °F, 80 ft 55 °F]\"}}\n\
                - {at: \"2026-05-14T06:00:50\", lines: out}\n";
    let log = Log::of_bytes("made.yaml", text.as_bytes().to_vec(), None).unwrap();
    let timeline = Timeline::of(&program, &Setting::default(), &log, None).unwrap();
    let begun = log.entries[0].at;
    let calls: Vec<i64> = timeline.calls.iter().map(|call| call.from.since(begun) / MINUTE.div_euclid(60)).collect();
    assert_eq!(calls, [0, 20, 30], "cold below at 20 seconds alone");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_replay_of_any_day_by_any_strategy_is_what_a_trip_was_told() {
    let service = begin_in(Path::new(RULES), |_| {}).await;
    let setting = Water::read(&format!("{RULES}/ossel/water.yaml")).unwrap().setting;
    let handle = tokio::runtime::Handle::current();
    let config = ProptestConfig { cases: 60, failure_persistence: None, max_shrink_iters: 300, ..Default::default() };
    let mut runner = proptest::test_runner::TestRunner::new(config);
    let bytes = (proptest::collection::vec(any::<u8>(), 0..200), proptest::collection::vec(any::<u8>(), 20..200));
    let calls = std::cell::Cell::new(0);
    tokio::task::block_in_place(|| {
        let result = runner.run(&bytes, |(strategy, day)| {
            let source = strategy_text(&mut Choices::new(&strategy));
            let includes = FolderIncludes::new(Path::new(RULES)).unwrap();
            let program = check("inline.strategy", &source, &includes).program.unwrap();
            let text = day_text(&mut Choices::new(&day));
            let log = Log::of_bytes("made.yaml", text.clone().into_bytes(), None);
            let log = log.unwrap_or_else(|faults| panic!("{faults}\n{text}"));
            let sent = v1::InlineSource { text: source.clone(), name: String::new() };
            let strategy = Some(trip_opening::Strategy::Source(sent));
            let opening = v1::TripOpening { strategy, water: Some(ossel::water()), ..Default::default() };
            let mut client = service.client.clone();
            match handle.block_on(held(&mut client, opening, &program, &setting, &log)) {
                Ok(held) => calls.set(calls.get() + held),
                Err(why) => return Err(TestCaseError::fail(format!("{why}\n{text}\n{source}"))),
            }
            Ok(())
        });
        result.unwrap_or_else(|error| panic!("{error}"));
    });
    assert!(calls.get() > 100, "{} calls", calls.get());
}
