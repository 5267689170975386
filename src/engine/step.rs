//! The state of a session, and one step of it.

use super::Readings;
use super::eval::{Scene, lets};
use crate::program::expr::{Expr, Op};
use crate::program::{LadderDef, Program, RungDef, Timing};
use crate::syntax::tree::Direction;
use crate::vocabulary::time::Instant;

/// Where a ladder's clocks begin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mark {
    /// The instant.
    pub at: Instant,
    /// The fishing time at that instant.
    pub fished: i64,
    /// Whether strikes of that very instant count: they do where the clocks began before its step.
    pub counts_own: bool,
    /// Whether the ladder has moved since lines went in, so that nothing before them counts.
    pub moved: bool,
}

/// Where a ladder stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LadderState {
    /// The rung; none where no rung is open.
    pub rung: Option<usize>,
    /// Where its clocks begin.
    pub mark: Mark,
    /// It was said to be unknown where it stands, and stays so until a rung is given.
    pub untold: bool,
}

/// What a timed let remembers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct LetState {
    /// Its value, as the last step made it.
    pub shown: Option<bool>,
    /// Settling: the last known value it had. For: whether its condition was no at the last step.
    memory: Option<bool>,
    /// Settling: since which step its condition has had the other value. For: since which it has been yes.
    since: Option<Instant>,
    /// For: the first step after the last no.
    after_no: Option<Instant>,
}

/// The state of a session between steps.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct State {
    /// When the first step was: lines went in.
    pub started: Instant,
    /// When the last step was.
    pub last_step: Instant,
    /// Each let's memory; only timed ones use it.
    pub lets: Vec<LetState>,
    /// Where each ladder stands.
    pub ladders: Vec<LadderState>,
    /// The last known value of what each `changes` watches.
    last_known: Vec<Option<i64>>,
}

impl State {
    /// The rung each ladder stands on.
    pub fn rungs(&self) -> Vec<Option<usize>> {
        self.ladders.iter().map(|ladder| ladder.rung).collect()
    }

    /// Whether another shows the rules the same: the same rungs, and timed lets of the same values.
    pub fn shows_what(&self, other: &State) -> bool {
        self.ladders.len() == other.ladders.len()
            && self.lets.len() == other.lets.len()
            && self.ladders.iter().zip(&other.ladders).all(|(a, b)| a.rung == b.rung)
            && self.lets.iter().zip(&other.lets).all(|(a, b)| a.shown == b.shown)
    }

    /// Puts a ladder on a rung, or on none, with its clocks from here: before this instant's step, if it has one.
    pub fn put(&mut self, ladder: usize, rung: Option<usize>, readings: &dyn Readings) {
        if let Some(state) = self.ladders.get_mut(ladder) {
            let mark = Mark { at: readings.now(), fished: readings.fished(), counts_own: true, moved: true };
            *state = LadderState { rung, mark, untold: rung.is_none() };
        }
    }

    /// The first step: lines go in. Ladders stand on their first open rung, or where `given` puts them. With
    /// `long_enough`, readings count as having been what they are for as long as any `for` asks.
    pub fn first_step(program: &Program, readings: &dyn Readings, given: &[Option<usize>], long_enough: bool) -> State {
        let now = readings.now();
        let mark = Mark { at: now, fished: readings.fished(), counts_own: true, moved: false };
        let given = |ladder: usize| given.get(ladder).copied().flatten();
        // While it is judged which rungs are open, every ladder stands on its first.
        let provisional: Vec<Option<usize>> =
            program.ladders.iter().enumerate().map(|(at, ladder)| given(at).or(ladder.first_rung())).collect();
        let mut state = State {
            started: now,
            last_step: now,
            lets: vec![LetState::default(); program.lets.len()],
            ladders: provisional
                .iter()
                .enumerate()
                // The clocks of a rung that was given begin there, as after a move.
                .map(|(at, &rung)| LadderState {
                    rung,
                    mark: Mark { moved: given(at).is_some(), ..mark },
                    untold: false,
                })
                .collect(),
            last_known: vec![None; program.changes],
        };
        let let_values = state.step_lets(program, readings, &provisional, long_enough);
        let scene = Scene { program, readings, lets: &let_values, rungs: &provisional, changes: &[], mark: None };
        for (at, ladder) in program.ladders.iter().enumerate() {
            if given(at).is_none() {
                state.ladders[at].rung = ladder.rungs.iter().position(|rung| is_open(rung, &scene));
            }
        }
        state.watch_changes(program, &scene);
        state
    }

    /// One later step. Gives the move that each ladder made, by its number, where it made one of its own.
    pub fn step(&mut self, program: &Program, readings: &dyn Readings) -> Vec<Option<usize>> {
        let rungs = self.rungs();
        let let_values = self.step_lets(program, readings, &rungs, false);
        let scene = Scene { program, readings, lets: &let_values, rungs: &rungs, changes: &[], mark: None };
        let changes = self.watch_changes(program, &scene);
        // All moves are judged on the rungs as they stood before the step.
        let moved: Vec<Option<Moved>> = program
            .ladders
            .iter()
            .zip(&self.ladders)
            .map(|(ladder, state)| next_standing(ladder, *state, Scene { changes: &changes, ..scene }))
            .collect();
        for (state, moved) in self.ladders.iter_mut().zip(&moved) {
            if let Some(moved) = moved {
                *state = moved.to;
            }
        }
        self.last_step = readings.now();
        moved.into_iter().map(|moved| moved.and_then(|moved| moved.by)).collect()
    }

    /// Moves timed lets on, in order, and gives the values of all lets at this step.
    fn step_lets(
        &mut self,
        program: &Program,
        readings: &dyn Readings,
        rungs: &[Option<usize>],
        long_enough: bool,
    ) -> Vec<Option<i64>> {
        let mut values: Vec<Option<i64>> = Vec::with_capacity(program.lets.len());
        for (at, definition) in program.lets.iter().enumerate() {
            let scene = Scene { program, readings, lets: &values, rungs, changes: &[], mark: None };
            let value = match definition.timing {
                None => scene.value(&definition.value),
                Some(timing) => {
                    let holds = scene.holds(&definition.value);
                    let state = &mut self.lets[at];
                    match timing {
                        Timing::Settling(time) => state.settle(holds, time, readings.now()),
                        Timing::For(time) => state.last(holds, time, readings.now(), long_enough),
                    }
                    state.shown.map(i64::from)
                }
            };
            values.push(value);
        }
        values
    }

    /// Whether each `changes` holds at this step; remembers what is known now.
    fn watch_changes(&mut self, program: &Program, scene: &Scene<'_>) -> Vec<bool> {
        let mut changes = vec![false; program.changes];
        if program.changes == 0 {
            return changes;
        }
        for (ladder, state) in program.ladders.iter().zip(&self.ladders) {
            for step in &ladder.moves {
                step.condition.visit(&mut |expr: &Expr| {
                    let Op::Changes(id, watched) = &expr.op else { return };
                    let Some(value) = Scene { mark: Some(state.mark), ..*scene }.value(watched) else { return };
                    if let (Some(last), Some(change)) =
                        (self.last_known.get_mut(id.index()), changes.get_mut(id.index()))
                    {
                        *change = last.is_some_and(|last| last != value);
                        *last = Some(value);
                    }
                });
            }
        }
        changes
    }

    /// The values of lets between steps: timed ones as the last step made them.
    pub fn let_values(&self, program: &Program, readings: &dyn Readings) -> Vec<Option<i64>> {
        lets(program, readings, &self.rungs(), |at| self.lets.get(at).and_then(|state| state.shown))
    }
}

impl LetState {
    /// `settling D`: the first known value at once, another only when it has stood for D. Unknown breaks the count,
    /// not the memory.
    fn settle(&mut self, holds: Option<bool>, time: i64, now: Instant) {
        let Some(value) = holds else {
            self.shown = None;
            self.since = None;
            return;
        };
        let memory = *self.memory.get_or_insert(value);
        if value == memory {
            self.since = None;
        } else {
            let since = *self.since.get_or_insert(now);
            if now.since(since) >= time {
                self.memory = Some(value);
                self.since = None;
            }
        }
        self.shown = self.memory;
    }

    /// `for D`: yes when the condition has been yes at every step for D; no when it is no, or less than D has passed
    /// since the first step after a no; else unknown.
    fn last(&mut self, holds: Option<bool>, time: i64, now: Instant, long_enough: bool) {
        let was_no = self.memory == Some(false);
        self.memory = holds;
        if holds == Some(false) {
            self.since = None;
            self.after_no = None;
            self.shown = Some(false);
            return;
        }
        if was_no {
            self.after_no = Some(now);
        }
        if holds == Some(true) {
            let long_ago = now.after(time.saturating_neg());
            self.since.get_or_insert(if long_enough { long_ago } else { now });
        } else {
            self.since = None;
        }
        let within = |since: Option<Instant>| since.is_some_and(|since| now.since(since) < time);
        self.shown = if within(self.after_no) {
            Some(false)
        } else if self.since.is_some() && !within(self.since) {
            Some(true)
        } else {
            None
        };
    }
}

impl LadderDef {
    fn first_rung(&self) -> Option<usize> {
        (!self.rungs.is_empty()).then_some(0)
    }
}

/// Which rungs are open.
pub fn open_rungs(ladder: &LadderDef, scene: &Scene<'_>) -> Vec<bool> {
    ladder.rungs.iter().map(|rung| is_open(rung, scene)).collect()
}

/// Whether a rung is open: its `only if` is yes, or it has none.
fn is_open(rung: &RungDef, scene: &Scene<'_>) -> bool {
    rung.only_if.as_ref().is_none_or(|only_if| scene.holds(only_if) == Some(true))
}

/// Where a ladder went in a step, and by which of its moves; none where it left a closed rung.
struct Moved {
    to: LadderState,
    by: Option<usize>,
}

/// Where a ladder stands after this step, if it makes a move: at most one.
fn next_standing(ladder: &LadderDef, state: LadderState, scene: Scene<'_>) -> Option<Moved> {
    if state.untold {
        return None;
    }
    let open = open_rungs(ladder, &scene);
    let mark = Mark { at: scene.readings.now(), fished: scene.readings.fished(), counts_own: false, moved: true };
    let first_open = open.iter().position(|open| *open);
    let stand =
        |rung: Option<usize>, by: Option<usize>| Some(Moved { to: LadderState { rung, mark, untold: false }, by });
    let scene = Scene { mark: Some(state.mark), ..scene };
    let mut moves = ladder.moves.iter();
    let starts_over =
        moves.position(|step| step.direction == Direction::Over && scene.holds(&step.condition) == Some(true));
    if starts_over.is_some() && first_open.is_some() {
        return stand(first_open, starts_over);
    }
    let Some(rung) = state.rung else {
        // No rung was open: the first to open again is taken, as at the start.
        return first_open.and_then(|open| stand(Some(open), None));
    };
    let above = || open.get(..rung)?.iter().rposition(|open| *open);
    let below = || open.get(rung + 1..)?.iter().position(|open| *open).map(|at| rung + 1 + at);
    if !open.get(rung).copied().unwrap_or(false) {
        return stand(above().or_else(below), None);
    }
    let others = ladder.moves.iter().enumerate().filter(|(_, step)| step.direction != Direction::Over);
    for (number, step) in others {
        if scene.holds(&step.condition) == Some(true) {
            let to = if step.direction == Direction::Down { below() } else { above() };
            if to.is_some() {
                return stand(to, Some(number));
            }
        }
    }
    None
}
