//! Typed expressions.

use crate::syntax::tree::Compare;
use crate::text::Span;
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::Kind;

macro_rules! number_of {
    ($(#[$doc:meta] $name:ident;)*) => {
        $(
            #[$doc]
            #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
            pub struct $name(pub u32);

            impl $name {
                /// Its place in the program's list.
                pub fn index(self) -> usize {
                    self.0 as usize
                }
            }
        )*
    };
}

number_of! {
    /// An input of a program.
    InputId;
    /// A let of a program.
    LetId;
    /// A ladder of a program.
    LadderId;
    /// A `changes` in a program's moves.
    ChangesId;
}

/// An expression whose kind is settled. Its value is a whole number, or unknown: counts for quantities, 0 and 1 for no
/// and yes, the place among its set's words for a one-of, the number of a month.
#[derive(Clone, Debug)]
pub struct Expr {
    /// What is done.
    pub op: Op,
    /// The kind of its value.
    pub kind: Kind,
    /// Where it stands.
    pub span: Span,
}

/// What an expression does.
#[derive(Clone, Debug)]
pub enum Op {
    /// A value.
    Constant(i64),
    /// A reading, or a call with a constant argument.
    Input(InputId),
    /// A call with an argument that changes.
    Call(Known, Box<Expr>),
    /// A let.
    Let(LetId),
    /// The rung that a ladder stands on.
    Rung(LadderId),
    /// The negative.
    Negate(Box<Expr>),
    /// The first, and others added or, where the flag is set, taken away.
    Sum(Box<Expr>, Vec<(bool, Expr)>),
    /// The first, multiplied by others or, where the flag is set, divided.
    Product(Box<Expr>, Vec<(bool, Expr)>),
    /// A comparison.
    Compare(Compare, Box<Expr>, Box<Expr>),
    /// Whether two values are the same.
    Same(Box<Expr>, Box<Expr>),
    /// Whether a value lies in a closed range.
    Within(Box<Expr>, Box<Expr>, Box<Expr>),
    /// Whether a value is one of several constants.
    OneOf(Box<Expr>, Vec<i64>),
    /// Whether a value is known, or, where the flag is no, unknown.
    Known(Box<Expr>, bool),
    /// Whether a value differs from its last known one.
    Changes(ChangesId, Box<Expr>),
    /// The opposite.
    Not(Box<Expr>),
    /// Whether all hold.
    All(Vec<Expr>),
    /// Whether any holds.
    Any(Vec<Expr>),
}

impl Expr {
    /// Calls a function with this expression and every one within it, outermost first.
    pub fn visit<'e>(&'e self, see: &mut dyn FnMut(&'e Expr)) {
        see(self);
        match &self.op {
            Op::Constant(_) | Op::Input(_) | Op::Let(_) | Op::Rung(_) => {}
            Op::Call(_, inner)
            | Op::Negate(inner)
            | Op::OneOf(inner, _)
            | Op::Known(inner, _)
            | Op::Changes(_, inner)
            | Op::Not(inner) => inner.visit(see),
            Op::Sum(first, rest) | Op::Product(first, rest) => {
                first.visit(see);
                rest.iter().for_each(|(_, expr)| expr.visit(see));
            }
            Op::Compare(_, a, b) | Op::Same(a, b) => {
                a.visit(see);
                b.visit(see);
            }
            Op::Within(value, from, to) => {
                value.visit(see);
                from.visit(see);
                to.visit(see);
            }
            Op::All(list) | Op::Any(list) => list.iter().for_each(|expr| expr.visit(see)),
        }
    }

    /// The plain number zero, in the place of what is not worked out yet.
    pub(crate) fn zero(span: Span) -> Self {
        Expr { op: Op::Constant(0), kind: Kind::Number, span }
    }

    /// Its value where it is a constant.
    pub fn constant(&self) -> Option<i64> {
        match self.op {
            Op::Constant(value) => Some(value),
            _ => None,
        }
    }
}
