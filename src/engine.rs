//! Program, readings and state to an outcome: pure, exact, and written to be read.
//!
//! [`eval`] works out expressions in three-valued logic, [`step`] moves the state of a session on by one step, and
//! [`decide()`] says what the rules make of one instant, [`apart`] which instants they can't tell apart. None of them looks at a clock, a file or a random number: the
//! same program, readings and state give the same outcome, bit for bit. This is the reference that any faster
//! evaluator is tested against.

pub mod alone;
pub mod apart;
pub mod decide;
pub mod eval;
pub mod step;

pub use decide::{AspectOutcome, Outcome, Source, Verdict, decide};
pub use step::{LadderState, Mark, State};

use crate::program::expr::InputId;
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::time::Instant;

/// What the engine asks of the readings at one instant.
///
/// Values are whole numbers as [`crate::program::expr::Expr`] explains; none is unknown.
pub trait Readings {
    /// The instant.
    fn now(&self) -> Instant;

    /// The value of an input of the program.
    fn input(&self, id: InputId) -> Option<i64>;

    /// The value of a call whose argument is worked out while running.
    fn call(&self, known: Known, kind: Kind, argument: i64) -> Option<i64>;

    /// How long lines have been in the water so far, breaks left out: a clock that stands still while they are out.
    fn fished(&self) -> i64;

    /// `strikeless` as a ladder's moves see it: never more than the fishing time since the ladder's mark.
    fn strikeless_since(&self, mark: Mark) -> Option<i64>;

    /// `strikes(window)` as a ladder's moves see it: only strikes that later steps than the ladder's mark saw.
    fn strikes_since(&self, window: i64, mark: Mark) -> Option<i64>;
}
