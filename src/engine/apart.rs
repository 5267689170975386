//! What the rules can tell apart, so that of a day's thousands of readings only those are decided that could make a
//! difference.
//!
//! A reading that the rules hold against constants alone makes a difference only where it passes one of them: the sun
//! climbs all morning, and a rule that asks `sun_height at least 30°` sees it move once. [`super::decide()`] is a function
//! of what is kept here, so where nothing of it changed the outcome has not either.

use super::State;
use crate::program::expr::{Expr, Op};
use crate::program::{Bound, Program, Run, Wish};

/// What of an input the rules can tell apart.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Seen {
    /// On which side of these constants it lies, or at which; sorted. Of one that no rule asks for, nothing.
    Cuts(Vec<i64>),
    /// Its very value.
    Value,
}

/// What the rules of a program can tell apart, and how that was last.
#[derive(Clone, Debug)]
pub struct Apart {
    inputs: Vec<Seen>,
    /// Rules ask for calls whose arguments they work out, which no input tells of.
    has_calls: bool,
    last: Option<(Vec<Option<i64>>, State)>,
}

impl Apart {
    /// What the rules of a program can tell apart.
    pub fn of(program: &Program) -> Self {
        let mut apart =
            Self { inputs: vec![Seen::Cuts(Vec::new()); program.inputs.len()], has_calls: false, last: None };
        let untimed = program.lets.iter().filter(|one| one.timing.is_none());
        untimed.for_each(|one| apart.look(&one.value));
        for rule in &program.rules {
            rule.condition.iter().for_each(|condition| apart.look(condition));
            for limit in &rule.limits {
                match &limit.bound {
                    Bound::AtLeast(amount) | Bound::AtMost(amount) => apart.look(amount),
                    Bound::Not(_) => {}
                }
            }
        }
        program.runs().for_each(|run| apart.look_at_run(run));
        for seen in &mut apart.inputs {
            if let Seen::Cuts(cuts) = seen {
                cuts.sort_unstable();
                cuts.dedup();
            }
        }
        apart
    }

    fn look_at_run(&mut self, run: &Run) {
        for decide in &run.decides {
            if let Wish::Range(from, to) = &decide.wish {
                self.look(from);
                to.iter().for_each(|to| self.look(to));
            }
        }
        run.shifts.iter().for_each(|shift| self.look(&shift.by));
    }

    fn look(&mut self, expr: &Expr) {
        match &expr.op {
            Op::Constant(_) | Op::Let(_) | Op::Rung(_) | Op::Changes(..) => {}
            Op::Input(id) => {
                if let Some(seen) = self.inputs.get_mut(id.index()) {
                    *seen = Seen::Value;
                }
            }
            Op::Call(_, argument) => {
                self.has_calls = true;
                self.look(argument);
            }
            Op::Compare(_, a, b) | Op::Same(a, b) => match (a.constant(), b.constant()) {
                (Some(cut), None) => self.cut(b, &[cut]),
                (None, Some(cut)) => self.cut(a, &[cut]),
                _ => {
                    self.look(a);
                    self.look(b);
                }
            },
            Op::Within(value, from, to) => match (from.constant(), to.constant()) {
                (Some(from), Some(to)) => self.cut(value, &[from, to]),
                _ => [value, from, to].into_iter().for_each(|expr| self.look(expr)),
            },
            Op::OneOf(value, words) => self.cut(value, words),
            Op::Known(inner, _) => self.cut(inner, &[]),
            Op::Negate(inner) | Op::Not(inner) => self.look(inner),
            Op::Sum(first, rest) | Op::Product(first, rest) => {
                self.look(first);
                rest.iter().for_each(|(_, expr)| self.look(expr));
            }
            Op::All(list) | Op::Any(list) => list.iter().for_each(|expr| self.look(expr)),
        }
    }

    /// An expression that is held against constants alone.
    fn cut(&mut self, expr: &Expr, by: &[i64]) {
        match &expr.op {
            Op::Input(id) => {
                if let Some(Seen::Cuts(cuts)) = self.inputs.get_mut(id.index()) {
                    cuts.extend(by);
                }
            }
            _ => self.look(expr),
        }
    }

    /// Whether the rules can't tell an instant from the last one that this was asked of: by the values of all inputs, and
    /// where the session stands.
    pub fn is_as_before(&mut self, inputs: &[Option<i64>], state: &State) -> bool {
        if self.has_calls {
            return false;
        }
        let Some((before, stood)) = &mut self.last else {
            self.last = Some((inputs.to_vec(), state.clone()));
            return false;
        };
        let mut same = stood.shows_what(state);
        for ((seen, before), now) in self.inputs.iter().zip(&mut *before).zip(inputs) {
            same &= seen.is_same(*before, *now);
            *before = *now;
        }
        if !same {
            stood.clone_from(state);
        }
        same
    }
}

impl Seen {
    fn is_same(&self, before: Option<i64>, now: Option<i64>) -> bool {
        match (self, before, now) {
            (_, None, None) => true,
            (Seen::Value, before, now) => before == now,
            (Seen::Cuts(cuts), Some(before), Some(now)) => {
                // None of them lies between the two, or at one alone.
                let (low, high) = (before.min(now), before.max(now));
                low == high || !cuts.iter().any(|cut| (low..=high).contains(cut))
            }
            (Seen::Cuts(_), ..) => false,
        }
    }
}
