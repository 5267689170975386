//! A strategy over a day's log: what it would have called, from the first lines in to the last lines out.
//!
//! The session's own minute steps, and what happened between them, each seeing what the log held by then. A log may have
//! been kept with another strategy: readings that this one does not have are passed over, and counted by name.

pub mod text;

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::Serialize;

use super::log::{Log, What};
use super::standing::Standing;
use crate::advice::quantity::Value;
use crate::advice::{Advice, Shown, advise};
use crate::engine::{Outcome, Readings, Source, State, decide};
use crate::explain::{self, Supposing};
use crate::program::expr::{InputId, LadderId, Op};
use crate::program::{Program, is_small};
use crate::session::{Event, Mode, Moment, Session, Setting};
use crate::source::given::Names;
use crate::source::{Fault, Faults};
use crate::vocabulary::aspect::AspectId;
use crate::vocabulary::quantity::{DAY, MINUTE};
use crate::vocabulary::time::Instant;

/// What a strategy called over a day.
#[derive(Clone, Debug)]
pub struct Timeline {
    /// Its program.
    pub program: Arc<Program>,
    /// Its calls, one after the other without a gap; the last ends where the day does.
    pub calls: Vec<Call>,
    /// Readings of the log that the strategy does not have, with how many values of each were passed over.
    pub passed_over: BTreeMap<String, u64>,
}

/// A call, as long as it stood.
#[derive(Clone, Debug)]
pub struct Call {
    /// From when on.
    pub from: Instant,
    /// Up to when.
    pub to: Instant,
    /// What the rules made of its first instant.
    pub outcome: Outcome,
    /// What brought it about, for each aspect that changed; for the first call none.
    pub tipped: Vec<(AspectId, Vec<Tip>)>,
    /// The whole advice of its first instant, where that was asked for.
    pub advice: Option<Box<Advice>>,
}

/// Something whose change brought another call about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Tip {
    /// A reading or call of the strategy, by its number among the inputs: its value before and now.
    Reading(InputId, Option<i64>, Option<i64>),
    /// A ladder moved: the rung before and now.
    Ladder(LadderId, Option<usize>, Option<usize>),
}

/// A tip as it is shown.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct TipSaid {
    /// The reading or call, or the ladder.
    pub reading: String,
    /// Its value before; none was unknown.
    pub was: Option<Value>,
    /// Its value now; none is unknown.
    pub now: Option<Value>,
    /// Both as they are printed.
    pub printed: String,
}

impl Tip {
    /// How it is shown, in the units of its program.
    pub fn said(&self, program: &Program) -> TipSaid {
        let unknown = || "unknown".to_owned();
        match *self {
            Tip::Reading(id, was, now) => {
                let Some(input) = program.inputs.get(id.index()) else { return TipSaid::default() };
                let small = is_small(input.source);
                let value =
                    |counts: Option<i64>| counts.and_then(|counts| Value::of(counts, input.kind, small, program));
                let print = |counts: Option<i64>| {
                    counts.map_or_else(unknown, |counts| program.print(counts, input.kind, small))
                };
                let reading = program.input_name(input.source);
                let printed = match (print(now), print(was)) {
                    // Two values that print alike differ by less than anybody reads off.
                    (now, was) if now == was => format!("{reading} {now}"),
                    (now, was) => format!("{reading} {now}, before {was}"),
                };
                TipSaid { reading, was: value(was), now: value(now), printed }
            }
            Tip::Ladder(id, was, now) => {
                let Some(ladder) = program.ladders.get(id.index()) else { return TipSaid::default() };
                let rung = |at: Option<usize>| Some(ladder.rungs.get(at?)?.name.clone());
                let (was, now) = (rung(was), rung(now));
                let print = |rung: &Option<String>| rung.clone().unwrap_or_else(unknown);
                let printed = format!("{} {}, before {}", ladder.name, print(&now), print(&was));
                TipSaid { reading: ladder.name.clone(), was: was.map(Value::Word), now: now.map(Value::Word), printed }
            }
        }
    }
}

impl Timeline {
    /// Replays a log; where `shown` is there, each call has its whole advice. Where lines never went in there is no call.
    ///
    /// Errors: a value of the log can't be read, or is not plausible.
    pub fn of(program: &Arc<Program>, setting: &Setting, log: &Log, shown: Option<&Shown>) -> Result<Self, Faults> {
        Self::of_while(program, setting, log, shown, &|| true)
    }

    /// The same as long as `wanted` says so, which is asked at every instant; what is given up stops where it was.
    ///
    /// Errors: as above.
    pub fn of_while(
        program: &Arc<Program>,
        setting: &Setting,
        log: &Log,
        shown: Option<&Shown>,
        wanted: &dyn Fn() -> bool,
    ) -> Result<Self, Faults> {
        let mut calls: Vec<Call> = Vec::new();
        let mut inputs: Vec<Option<i64>> = Vec::new();
        let passed_over = replay(program, setting, log, &mut |seen| {
            let outcome = seen.session.outcome_of(&seen.moment, seen.standing);
            let now = inputs_of(program, &seen.moment);
            let same = calls.last().is_some_and(|call| call.outcome.same_call(&outcome));
            if let Some(last) = calls.last_mut() {
                last.to = seen.at;
            }
            if !same {
                let tipped = calls.last().map(|last| tips(program, seen, &last.outcome, &outcome, &inputs, &now));
                let advice = shown.map(|shown| Box::new(advise(seen.session, seen.at, shown)));
                calls.push(Call { from: seen.at, to: seen.at, outcome, tipped: tipped.unwrap_or_default(), advice });
            }
            inputs = now;
            wanted()
        })?;
        Ok(Self { program: program.clone(), calls, passed_over })
    }

    /// The call that stood just before an instant, or begins the day there.
    pub fn before(&self, at: Instant) -> Option<&Call> {
        let after = self.calls.partition_point(|call| call.from < at);
        let call = match after.checked_sub(1) {
            Some(before) => self.calls.get(before),
            None => self.calls.first().filter(|call| call.from == at),
        };
        call.filter(|call| at <= call.to)
    }
}

/// A session at one instant of a replay: at a step, or where something happened.
pub struct Seen<'s> {
    /// The instant.
    pub at: Instant,
    /// The session.
    pub session: &'s Session,
    /// What it knows.
    pub moment: Moment<'s>,
    /// Where it stands.
    pub standing: &'s State,
}

/// Longest that a day's log may be: a week, so that one with a wrong year or month is told and not gone through.
const LONGEST: i64 = 7 * DAY;

/// Goes through a log's day with a session of a program, from the first lines in to the end, as long as `see` says to go
/// on; gives the readings that the program does not have.
///
/// Errors: a value of the log can't be read, or is not plausible; the log covers more than a week.
pub fn replay(
    program: &Arc<Program>,
    setting: &Setting,
    log: &Log,
    see: &mut dyn FnMut(&Seen<'_>) -> bool,
) -> Result<BTreeMap<String, u64>, Faults> {
    let zone = Some(setting.zone.clone().unwrap_or_else(|| log.zone.clone()));
    let setting = Arc::new(Setting { zone, ..setting.clone() });
    let mut session = Session::new(program.clone(), setting, Mode::Live);
    let mut names = Names::of(program);
    let mut passed_over = BTreeMap::new();
    let mut standing = Standing::default();
    let Some(end) = end_of(log) else { return Ok(passed_over) };
    not_too_long(log)?;
    let mut pass = |session: &mut Session, at: Instant, events: Vec<Event>| {
        // The instants of a log are in order, which its reading made sure of.
        let _ = session.at(at, events);
        match session.state().filter(|_| at <= end) {
            Some(standing) => see(&Seen { at, session, moment: session.moment(at), standing }),
            None => true,
        }
    };
    for happened in log.entries.chunk_by(|a, b| a.at == b.at) {
        let Some(at) = happened.first().map(|entry| entry.at) else { continue };
        while let Some(step) = next_step(&session).filter(|step| *step < at) {
            if !pass(&mut session, step, Vec::new()) {
                return Ok(passed_over);
            }
        }
        let mut events = Vec::new();
        for entry in happened {
            events.extend(entry.what.events_of_log(&log.file, &mut names, &standing, &mut passed_over)?);
            standing.take(&entry.what);
        }
        if !pass(&mut session, at, events) {
            return Ok(passed_over);
        }
    }
    Ok(passed_over)
}

fn not_too_long(log: &Log) -> Result<(), Fault> {
    let first = log.entries.first().map(|entry| entry.at);
    let Some(late) = log.entries.iter().find(|entry| first.is_some_and(|first| entry.at.since(first) > LONGEST)) else {
        return Ok(());
    };
    let fault = Fault::new("this event is more than a week after the first of the log");
    Err(fault.help("a log is of one day; write one for each").at(late.spot).within(&log.file))
}

fn next_step(session: &Session) -> Option<Instant> {
    Some(session.state()?.last_step.after(MINUTE))
}

/// When a day ends: where lines came out for the last time, else where the log does.
fn end_of(log: &Log) -> Option<Instant> {
    let last = log.entries.iter().rfind(|entry| matches!(entry.what, What::Lines(_)));
    match last {
        Some(entry) if matches!(entry.what, What::Lines(false)) => Some(entry.at),
        _ => log.entries.last().map(|entry| entry.at),
    }
}

fn ids(count: usize) -> impl Iterator<Item = u32> {
    0..u32::try_from(count).unwrap_or(u32::MAX)
}

fn inputs_of(program: &Program, readings: &dyn Readings) -> Vec<Option<i64>> {
    ids(program.inputs.len()).map(|at| readings.input(InputId(at))).collect()
}

/// For each aspect that changed, what alone would have left it as it was: readings whose former value does, ladders that
/// moved. Where it takes several together, all that changed and that the aspect hangs on.
fn tips(
    program: &Program,
    seen: &Seen<'_>,
    before: &Outcome,
    outcome: &Outcome,
    was: &[Option<i64>],
    now: &[Option<i64>],
) -> Vec<(AspectId, Vec<Tip>)> {
    let changed: Vec<(InputId, Option<i64>, Option<i64>)> = ids(program.inputs.len())
        .zip(was.iter().zip(now))
        .filter(|(_, (was, now))| was != now)
        .map(|(at, (was, now))| (InputId(at), *was, *now))
        .collect();
    let without: Vec<Outcome> = changed
        .iter()
        .map(|(id, was, _)| decide(program, &Supposing { readings: &seen.moment, id: *id, value: *was }, seen.standing))
        .collect();
    let differs = |a: &Outcome, b: &Outcome, id: AspectId| {
        let by = |outcome: &Outcome| outcome.aspects.get(id.index()).and_then(|aspect| aspect.decided_by);
        a.verdict(id) != b.verdict(id) || by(a) != by(b)
    };
    let aspects = ids(program.aspects.len()).map(AspectId).filter(|id| differs(before, outcome, *id));
    aspects
        .map(|id| {
            let mut tips: Vec<Tip> = moved(program, before, outcome, id);
            let alone = changed.iter().zip(&without).filter(|(_, without)| !differs(before, without, id));
            tips.extend(alone.map(|((id, was, now), _)| Tip::Reading(*id, *was, *now)));
            if tips.is_empty() {
                let bears_on = bearing_on(program, &[before, outcome], id);
                let together = changed.iter().filter(|(input, ..)| bears_on.contains(input));
                tips.extend(together.map(|(id, was, now)| Tip::Reading(*id, *was, *now)));
            }
            (id, tips)
        })
        .collect()
}

/// The ladders that moved, where an aspect is or was decided by one of their rungs.
fn moved(program: &Program, before: &Outcome, outcome: &Outcome, id: AspectId) -> Vec<Tip> {
    let ladder = |outcome: &Outcome| match outcome.aspects.get(id.index())?.decided_by? {
        Source::Rung(ladder, _) => Some(ladder),
        Source::Rule(_) => None,
    };
    let of_aspect = [ladder(before), ladder(outcome)];
    let moved = ids(program.ladders.len()).filter_map(|at| {
        let rung = |outcome: &Outcome| outcome.rungs.get(at as usize).copied().flatten();
        let (was, now) = (rung(before), rung(outcome));
        (was != now && of_aspect.contains(&Some(at as usize))).then_some(Tip::Ladder(LadderId(at), was, now))
    });
    moved.collect()
}

/// The inputs that the rules and rungs which decided an aspect hang on.
fn bearing_on(program: &Program, outcomes: &[&Outcome], id: AspectId) -> Vec<InputId> {
    let mut found = Vec::new();
    for outcome in outcomes {
        let stops = outcome.stops.iter().map(|rule| Source::Rule(*rule));
        let decided = outcome.aspects.get(id.index()).and_then(|aspect| aspect.decided_by);
        for source in decided.into_iter().chain(stops) {
            let exprs = explain::exprs_of(program, source, id);
            explain::visit_all(program, &exprs, &mut |expr| {
                if let Op::Input(input) = expr.op
                    && !found.contains(&input)
                {
                    found.push(input);
                }
            });
        }
    }
    found
}
