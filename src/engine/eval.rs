//! Expressions in three-valued logic.

use super::{Mark, Readings};
use crate::program::expr::{Expr, Op};
use crate::program::{InputSource, Program};
use crate::syntax::tree::Compare;
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::quantity::{product, sum};

/// Joins one more value to a sum or a product, or takes it away.
type Join = fn(i64, &[(bool, i64)]) -> Option<i64>;

/// What expressions are worked out against.
#[derive(Clone, Copy)]
pub struct Scene<'a> {
    /// The program.
    pub program: &'a Program,
    /// The readings of the instant.
    pub readings: &'a dyn Readings,
    /// The value of each let, as far as they are worked out.
    pub lets: &'a [Option<i64>],
    /// The rung each ladder stands on.
    pub rungs: &'a [Option<usize>],
    /// Whether each `changes` holds at this step.
    pub changes: &'a [bool],
    /// In a ladder's move, where that ladder's clocks begin.
    pub mark: Option<Mark>,
}

/// A value as a truth.
pub fn truth(value: Option<i64>) -> Option<bool> {
    value.map(|value| value != 0)
}

fn number(truth: Option<bool>) -> Option<i64> {
    truth.map(i64::from)
}

/// The lets of a program, worked out in order; `timed` gives the value of those that take time.
pub fn lets(
    program: &Program,
    readings: &dyn Readings,
    rungs: &[Option<usize>],
    timed: impl Fn(usize) -> Option<bool>,
) -> Vec<Option<i64>> {
    let mut values: Vec<Option<i64>> = Vec::with_capacity(program.lets.len());
    for (at, definition) in program.lets.iter().enumerate() {
        let value = if definition.timing.is_some() {
            number(timed(at))
        } else {
            let scene = Scene { program, readings, lets: &values, rungs, changes: &[], mark: None };
            scene.value(&definition.value)
        };
        values.push(value);
    }
    values
}

impl Scene<'_> {
    /// Whether a condition holds; none is unknown.
    pub fn holds(&self, condition: &Expr) -> Option<bool> {
        truth(self.value(condition))
    }

    /// The value of an expression; none is unknown.
    pub fn value(&self, expr: &Expr) -> Option<i64> {
        match &expr.op {
            Op::Constant(value) => Some(*value),
            Op::Input(id) => self.input(*id),
            Op::Call(known, argument) => {
                let value = self.value(argument)?;
                self.readings.call(*known, argument.kind, value)
            }
            Op::Let(id) => self.lets.get(id.index()).copied().flatten(),
            Op::Rung(id) => {
                let rung = self.rungs.get(id.index()).copied().flatten()?;
                i64::try_from(rung).ok()
            }
            Op::Negate(inner) => self.value(inner)?.checked_neg(),
            Op::Sum(first, rest) => self.chain(first, rest, sum),
            Op::Product(first, rest) => self.chain(first, rest, product),
            Op::Compare(compare, a, b) => {
                let (a, b) = (self.value(a)?, self.value(b)?);
                Some(i64::from(match compare {
                    Compare::Less => a < b,
                    Compare::AtMost => a <= b,
                    Compare::Greater => a > b,
                    Compare::AtLeast => a >= b,
                }))
            }
            Op::Same(a, b) => Some(i64::from(self.value(a)? == self.value(b)?)),
            Op::Within(value, from, to) => number(self.within(value, from, to)),
            Op::OneOf(value, words) => {
                let value = self.value(value)?;
                Some(i64::from(words.contains(&value)))
            }
            Op::Known(inner, known) => Some(i64::from(self.value(inner).is_some() == *known)),
            Op::Changes(id, _) => Some(i64::from(self.changes.get(id.index()).copied().unwrap_or(false))),
            Op::Not(inner) => number(self.holds(inner).map(|holds| !holds)),
            Op::All(list) => number(self.all(list)),
            Op::Any(list) => number(self.any(list)),
        }
    }

    fn chain(&self, first: &Expr, rest: &[(bool, Expr)], join: Join) -> Option<i64> {
        let mut total = self.value(first)?;
        for (flag, expr) in rest {
            total = join(total, &[(*flag, self.value(expr)?)])?;
        }
        Some(total)
    }

    fn input(&self, id: crate::program::expr::InputId) -> Option<i64> {
        if let (Some(mark), Some(input)) = (self.mark, self.program.inputs.get(id.index())) {
            match input.source {
                InputSource::Known(Known::Strikeless) => return self.readings.strikeless_since(mark),
                InputSource::Strikes(window) => return self.readings.strikes_since(window, mark),
                _ => {}
            }
        }
        self.readings.input(id)
    }

    /// A closed range is its two comparisons joined by `and`. Kinds that go round wrap where the ends are reversed;
    /// any other reversed range holds nothing, whether the value is known or not.
    fn within(&self, value: &Expr, from: &Expr, to: &Expr) -> Option<bool> {
        let (from_value, to_value) = (self.value(from), self.value(to));
        let value_now = self.value(value);
        if let (Some(from), Some(to)) = (from_value, to_value) {
            if from > to {
                return match value.kind.round() {
                    Some(_) => value_now.map(|value| value >= from || value <= to),
                    None => Some(false),
                };
            }
        } else if value.kind.round().is_some() {
            // With one end unknown nobody can say whether the range wraps.
            return None;
        }
        let above = value_now.zip(from_value).map(|(value, from)| value >= from);
        let below = value_now.zip(to_value).map(|(value, to)| value <= to);
        match (above, below) {
            (Some(false), _) | (_, Some(false)) => Some(false),
            (Some(true), Some(true)) => Some(true),
            _ => None,
        }
    }

    fn all(&self, list: &[Expr]) -> Option<bool> {
        let mut result = Some(true);
        for expr in list {
            match self.holds(expr) {
                Some(false) => return Some(false),
                Some(true) => {}
                None => result = None,
            }
        }
        result
    }

    fn any(&self, list: &[Expr]) -> Option<bool> {
        let mut result = Some(false);
        for expr in list {
            match self.holds(expr) {
                Some(true) => return Some(true),
                Some(false) => {}
                None => result = None,
            }
        }
        result
    }
}
