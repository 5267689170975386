//! Advice without a session: one request, no history.
//!
//! The readings have been what they are long enough for every timed let; lines went in `strikeless` ago on the first
//! open rung, and steps ran since. A ladder that the request puts on a rung stands there, its clocks beginning now.

use super::{Mark, Readings, State};
use crate::program::expr::InputId;
use crate::program::{InputSource, Program};
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::quantity::{DAY, MINUTE, PER_UNIT};
use crate::vocabulary::time::Instant;

/// The state that a request without a session stands in. `strikeless` is in counts; at most a day of steps is run.
pub fn state(program: &Program, readings: &dyn Readings, strikeless: i64, rungs: &[Option<usize>]) -> State {
    let strikeless = strikeless.clamp(0, DAY);
    let lines_in = readings.now().after(-strikeless);
    let at = |elapsed: i64| Frozen { program, readings, now: lines_in.after(elapsed), elapsed };
    let mut state = State::first_step(program, &at(0), rungs, true);
    let mut elapsed = MINUTE;
    let moves = program.ladders.iter().any(|ladder| !ladder.rungs.is_empty())
        || program.lets.iter().any(|definition| definition.timing.is_some());
    while moves && elapsed <= strikeless {
        state.step(program, &at(elapsed));
        for (ladder, rung) in rungs.iter().enumerate() {
            if let (Some(rung), Some(standing)) = (rung, state.ladders.get_mut(ladder)) {
                standing.rung = Some(*rung);
            }
        }
        elapsed += MINUTE;
    }
    let now = at(strikeless);
    for (ladder, rung) in rungs.iter().enumerate() {
        if rung.is_some() {
            state.put(ladder, *rung, &now);
        }
    }
    state
}

/// Readings that stay what they are while the time since lines went in runs.
pub struct Frozen<'a> {
    /// The program.
    pub program: &'a Program,
    /// The readings.
    pub readings: &'a dyn Readings,
    /// The instant that is played.
    pub now: Instant,
    /// How long lines have been in by then.
    pub elapsed: i64,
}

impl Frozen<'_> {
    fn strikes(&self, window: i64, moved: bool) -> Option<i64> {
        (window <= self.elapsed || moved).then_some(0)
    }
}

impl Readings for Frozen<'_> {
    fn now(&self) -> Instant {
        self.now
    }

    fn input(&self, id: InputId) -> Option<i64> {
        let given = self.readings.input(id);
        match self.program.inputs.get(id.index()).map(|input| input.source) {
            Some(InputSource::Known(Known::Strikeless)) => Some(self.elapsed),
            // A count that the request gives stands.
            Some(InputSource::Strikes(window)) => given.or_else(|| self.strikes(window, false)),
            _ => given,
        }
    }

    fn call(&self, known: Known, kind: Kind, argument: i64) -> Option<i64> {
        self.readings.call(known, kind, argument)
    }

    fn fished(&self) -> i64 {
        self.elapsed
    }

    fn strikeless_since(&self, mark: Mark) -> Option<i64> {
        Some(self.elapsed.min(self.elapsed - mark.fished))
    }

    fn strikes_since(&self, window: i64, mark: Mark) -> Option<i64> {
        let given = self.program.inputs.iter().position(|input| input.source == InputSource::Strikes(window));
        let given = given.and_then(|at| self.readings.input(InputId(u32::try_from(at).ok()?)));
        match given {
            Some(count) if !mark.moved => Some(count.max(0)),
            _ => self.strikes(window, mark.moved),
        }
    }
}

/// A count as a quantity of the kind number.
pub fn count(strikes: usize) -> Option<i64> {
    i64::try_from(strikes).ok()?.checked_mul(PER_UNIT)
}
