//! A strategy over a day's log: what it would have called, from the first lines in to the last lines out.
//!
//! The session's own minute steps, and what happened between them, each seeing what the log held by then. A log may have
//! been kept with another strategy: readings that this one does not have are passed over, and counted by name.

pub mod text;

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::Serialize;

use super::log::{Entry, Log, What};
use super::standing::Standing;
use crate::advice::quantity::Value;
use crate::advice::{Advice, Shown, advise};
use crate::engine::apart::Apart;
use crate::engine::{Outcome, Readings, Source, State, decide};
use crate::explain::{self, Supposing};
use crate::program::expr::{InputId, LadderId, Op};
use crate::program::{Program, is_small};
use crate::session::{Event, Mode, Moment, Session, Setting};
use crate::source::given::Names;
use crate::source::{Fault, Faults};
use crate::vocabulary::aspect::AspectId;
use crate::vocabulary::quantity::DAY;
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
    /// Errors: a value of the log can't be read, or is not plausible; the log covers more than a week.
    pub fn of(program: &Arc<Program>, setting: &Setting, log: &Log, shown: Option<&Shown>) -> Result<Self, Faults> {
        let mut replay = Replay::new(program, setting, log, shown)?;
        for happened in log.entries.chunk_by(|a, b| a.at == b.at) {
            replay.take(happened)?;
        }
        Ok(replay.timeline)
    }

    /// Replays a log by two strategies, side by side, as long as `wanted` says so, which is asked at every instant; what is
    /// given up stops where it was.
    ///
    /// Errors: as above.
    pub fn of_both(
        programs: [&Arc<Program>; 2],
        setting: &Setting,
        log: &Log,
        wanted: &dyn Fn() -> bool,
    ) -> Result<[Self; 2], Faults> {
        let [a, b] = programs;
        let (mut a, mut b) = (Replay::new(a, setting, log, None)?, Replay::new(b, setting, log, None)?);
        for happened in log.entries.chunk_by(|a, b| a.at == b.at) {
            if !wanted() {
                break;
            }
            a.take(happened)?;
            b.take(happened)?;
        }
        Ok([a.timeline, b.timeline])
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

/// Longest that a day's log may be: a week, so that one with a wrong year or month is told and not gone through.
const LONGEST: i64 = 7 * DAY;

/// A log's day gone through with a session of a program, from the first lines in to the end.
struct Replay<'l> {
    log: &'l Log,
    end: Option<Instant>,
    shown: Option<&'l Shown>,
    session: Session,
    names: Names,
    standing: Standing,
    apart: Apart,
    /// The values of the program's inputs as they were before, and as they are now.
    was: Vec<Option<i64>>,
    now: Vec<Option<i64>>,
    timeline: Timeline,
}

impl<'l> Replay<'l> {
    fn new(program: &Arc<Program>, setting: &Setting, log: &'l Log, shown: Option<&'l Shown>) -> Result<Self, Faults> {
        not_too_long(log)?;
        let zone = Some(setting.zone.clone().unwrap_or_else(|| log.zone.clone()));
        let setting = Arc::new(Setting { zone, ..setting.clone() });
        Ok(Self {
            log,
            end: end_of(log),
            shown,
            session: Session::new(program.clone(), setting, Mode::Live),
            names: Names::of(program),
            standing: Standing::default(),
            apart: Apart::of(program),
            was: Vec::new(),
            now: Vec::new(),
            timeline: Timeline { program: program.clone(), calls: Vec::new(), passed_over: BTreeMap::new() },
        })
    }

    /// Takes in what happened at one instant, and makes the steps before it.
    fn take(&mut self, happened: &[Entry]) -> Result<(), Faults> {
        let Some(at) = happened.first().map(|entry| entry.at) else { return Ok(()) };
        while let Some(step) = self.session.next_step().filter(|step| *step < at) {
            self.pass(step, Vec::new());
        }
        let mut events = Vec::new();
        for entry in happened {
            let passed_over = &mut self.timeline.passed_over;
            events.extend(entry.what.events_of_log(&self.log.file, &mut self.names, &self.standing, passed_over)?);
            self.standing.take(&entry.what);
        }
        self.pass(at, events);
        Ok(())
    }

    fn pass(&mut self, at: Instant, events: Vec<Event>) {
        // The instants of a log are in order, which its reading made sure of.
        let _ = self.session.at(at, events);
        let session = &self.session;
        let Some(standing) = session.state().filter(|_| self.end.is_some_and(|end| at <= end)) else { return };
        let Timeline { program, calls, .. } = &mut self.timeline;
        if let Some(last) = calls.last_mut() {
            last.to = at;
        }
        let moment = session.moment(at);
        std::mem::swap(&mut self.was, &mut self.now);
        self.now.clear();
        self.now.extend(ids(program.inputs.len()).map(|at| moment.input(InputId(at))));
        if self.apart.is_as_before(&self.now, standing) {
            return;
        }
        let outcome = decide(program, &moment, standing);
        if calls.last().is_some_and(|call| call.outcome.same_call(&outcome)) {
            return;
        }
        let seen = Seen { moment: &moment, standing, was: &self.was, now: &self.now };
        let tipped = calls.last().map(|last| tips(program, &seen, &last.outcome, &outcome)).unwrap_or_default();
        let advice = self.shown.map(|shown| Box::new(advise(session, at, shown)));
        calls.push(Call { from: at, to: at, outcome, tipped, advice });
    }
}

/// What an instant of a replay is seen by.
struct Seen<'s> {
    moment: &'s Moment<'s>,
    standing: &'s State,
    /// The values of all inputs at the instant before, and at this one.
    was: &'s [Option<i64>],
    now: &'s [Option<i64>],
}

fn not_too_long(log: &Log) -> Result<(), Fault> {
    let first = log.entries.first().map(|entry| entry.at);
    let Some(late) = log.entries.iter().find(|entry| first.is_some_and(|first| entry.at.since(first) > LONGEST)) else {
        return Ok(());
    };
    let fault = Fault::new("this event is more than a week after the first of the log");
    Err(fault.help("a log is of one day; write one for each").at(late.spot).within(&log.file))
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

/// For each aspect that changed, what alone would have left it as it was: readings whose former value does, ladders that
/// moved. Where it takes several together, all that changed and that the aspect hangs on.
fn tips(program: &Program, seen: &Seen<'_>, before: &Outcome, outcome: &Outcome) -> Vec<(AspectId, Vec<Tip>)> {
    let changed: Vec<(InputId, Option<i64>, Option<i64>)> = ids(program.inputs.len())
        .zip(seen.was.iter().zip(seen.now))
        .filter(|(_, (was, now))| was != now)
        .map(|(at, (was, now))| (InputId(at), *was, *now))
        .collect();
    let without: Vec<Outcome> = changed
        .iter()
        .map(|(id, was, _)| decide(program, &Supposing { readings: seen.moment, id: *id, value: *was }, seen.standing))
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
