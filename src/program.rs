//! A checked strategy made ready to run: names are numbers, kinds are settled, literals are counts.
//!
//! Only the checker makes the parts of a [`Program`], and nothing changes one afterwards. Every part keeps its span,
//! so that whatever the engine decides can be traced to file and line.

pub mod expr;
pub mod ready;

use std::sync::{Arc, OnceLock};

use crate::syntax::tree::Direction;
use crate::text::{Sources, Span};
use crate::vocabulary::aspect::{Aspect, AspectId};
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::{Kind, SetId, WordSet};
use crate::vocabulary::print::{self, System, Words};
use expr::{Expr, InputId, LadderId};
use ready::Ready;

/// An immutable program.
#[derive(Clone, Debug)]
pub struct Program {
    /// The strategy's name.
    pub name: String,
    /// Where its header begins.
    pub span: Span,
    /// The fish it is for, if it says so.
    pub species: Option<String>,
    /// What it is about, if it says so.
    pub about: Option<String>,
    /// How its advice is printed.
    pub system: System,
    /// The files it was written in.
    pub sources: Arc<Sources>,
    /// The sets of words of one-of kinds.
    pub sets: Vec<WordSet>,
    /// The aspects of its tactic.
    pub aspects: Vec<Aspect>,
    /// The readings and calls it asks for.
    pub inputs: Vec<Input>,
    /// The readings it declares.
    pub own: Vec<OwnReading>,
    /// Its lets, each using only those before it.
    pub lets: Vec<LetDef>,
    /// Its rules in file order.
    pub rules: Vec<RuleDef>,
    /// Its ladders in file order.
    pub ladders: Vec<LadderDef>,
    /// Rules and ladders as they stand in the file.
    pub order: Vec<Item>,
    /// How many `changes` stand in its moves.
    pub changes: usize,
    /// Whether the argument of any call is worked out while running.
    pub works_out_calls: bool,
    /// Its trials.
    pub trials: Vec<TrialDef>,
    /// What is worked out of the rest once, when it is first asked for.
    pub(crate) ready: OnceLock<Ready>,
}

impl Words for Program {
    fn set(&self, id: SetId) -> Option<&WordSet> {
        self.sets.get(id.0 as usize)
    }
}

impl Program {
    /// The name of an aspect.
    pub fn aspect_name(&self, id: AspectId) -> &str {
        self.aspects.get(id.index()).map_or("", |aspect| &aspect.name)
    }

    /// What its rules and rungs run.
    pub fn runs(&self) -> impl Iterator<Item = &Run> {
        let rungs = self.ladders.iter().flat_map(|ladder| &ladder.rungs).map(|rung| &rung.run);
        self.rules.iter().map(|rule| &rule.run).chain(rungs)
    }

    /// Whether any rule or rung decides an aspect.
    pub fn decides(&self, aspect: AspectId) -> bool {
        self.ready().decided.contains(&aspect)
    }

    /// What it is asked for again and again.
    pub fn ready(&self) -> &Ready {
        self.ready.get_or_init(|| Ready::of(self))
    }

    /// A value of a kind as people read it in this strategy's units.
    pub fn print(&self, counts: i64, kind: Kind, small: bool) -> String {
        print::value(counts, kind, small, self.system, self)
    }

    /// The ladder of that name, in any case.
    pub fn ladder(&self, name: &str) -> Option<LadderId> {
        let at = self.ladders.iter().position(|ladder| crate::vocabulary::kind::same_word(&ladder.name, name))?;
        Some(LadderId(u32::try_from(at).ok()?))
    }

    /// The reading that the strategy declares under that name, in any case.
    pub fn own_reading(&self, name: &str) -> Option<usize> {
        self.own.iter().position(|own| crate::vocabulary::kind::same_word(&own.name, name))
    }
}

impl Program {
    /// The name of a reading, or a call as it would be written.
    pub fn input_name(&self, source: InputSource) -> String {
        match source {
            InputSource::Known(known) => known.name().to_owned(),
            InputSource::Own(at) => self.own.get(at).map_or_else(String::new, |own| own.name.clone()),
            InputSource::Call(known, kind, argument) => format!("{}({})", known.name(), self.exact(argument, kind)),
            InputSource::Change(of, window) => {
                let of = self.inputs.get(of.index()).map_or_else(String::new, |input| self.input_name(input.source));
                format!("change({of}, {})", print::duration(window))
            }
            InputSource::Strikes(window) => format!("strikes({})", print::duration(window)),
        }
    }

    /// A value with as many decimals as it takes to tell it from its neighbours.
    pub fn exact(&self, counts: i64, kind: Kind) -> String {
        match self.system.unit(kind, false) {
            Some(unit) => {
                let value = libm::round(print::unrounded(counts, unit, kind) * 1e4) / 1e4;
                print::with_unit(&format!("{value}"), unit.symbol)
            }
            None => print::plain(counts),
        }
    }
}

/// Whether a reading's lengths are small ones, printed in inches or centimetres.
pub fn is_small(source: InputSource) -> bool {
    source == InputSource::Known(Known::Waves)
}

/// A reading that a strategy declares.
#[derive(Clone, Debug)]
pub struct OwnReading {
    /// Its name.
    pub name: String,
    /// Its kind.
    pub kind: Kind,
    /// The plausible range, in counts.
    pub plausible: Option<(i64, i64)>,
    /// How many counts a value stays good; none holds to the end of the day.
    pub good_for: Option<i64>,
    /// Where it is declared.
    pub span: Span,
}

/// Something that a program asks the session for.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// What it is.
    pub source: InputSource,
    /// The kind of its value.
    pub kind: Kind,
}

/// What an input is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum InputSource {
    /// A reading of the catalogue.
    Known(Known),
    /// A reading that the strategy declares.
    Own(usize),
    /// A call with a constant argument, of the kind given.
    Call(Known, Kind, i64),
    /// What another input has gained over a window.
    Change(InputId, i64),
    /// How many strikes lie less than a window ago.
    Strikes(i64),
}

/// A let.
#[derive(Clone, Debug)]
pub struct LetDef {
    /// Its name.
    pub name: String,
    /// Its value.
    pub value: Expr,
    /// How it takes time.
    pub timing: Option<Timing>,
    /// Where it stands.
    pub span: Span,
}

/// How a timed let takes time, in counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Timing {
    /// It changes only when the other value has stood so long.
    Settling(i64),
    /// It is yes when its condition has been yes so long.
    For(i64),
}

/// A rule or a ladder, in file order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Item {
    /// A rule, by its number.
    Rule(usize),
    /// A ladder, by its number.
    Ladder(usize),
}

/// A rule.
#[derive(Clone, Debug)]
pub struct RuleDef {
    /// Its name.
    pub name: String,
    /// When it applies; none always.
    pub condition: Option<Expr>,
    /// What it runs.
    pub run: Run,
    /// Its limits.
    pub limits: Vec<Limit>,
    /// Its stops.
    pub stops: Vec<String>,
    /// Its cautions.
    pub cautions: Vec<String>,
    /// Its reason.
    pub because: Option<String>,
    /// Where its name stands.
    pub span: Span,
}

/// What a rule or a rung runs.
#[derive(Clone, Debug, Default)]
pub struct Run {
    /// The aspects it decides, each once.
    pub decides: Vec<Decide>,
    /// What it shifts.
    pub shifts: Vec<ShiftDef>,
}

impl Run {
    /// What it decides an aspect to be.
    pub fn decision(&self, aspect: AspectId) -> Option<&Decide> {
        self.decides.iter().find(|decide| decide.aspect == aspect)
    }
}

/// One aspect decided.
#[derive(Clone, Debug)]
pub struct Decide {
    /// The aspect.
    pub aspect: AspectId,
    /// To what.
    pub wish: Wish,
    /// Where it stands.
    pub span: Span,
}

/// What an aspect is decided to be.
#[derive(Clone, Debug)]
pub enum Wish {
    /// A range; one value has no upper end.
    Range(Expr, Option<Expr>),
    /// Alternatives, by their numbers among the aspect's words.
    Words(Vec<usize>),
}

/// One shift.
#[derive(Clone, Debug)]
pub struct ShiftDef {
    /// What it shifts.
    pub aspect: AspectId,
    /// 1 where it adds, -1 where it takes away.
    pub sign: i64,
    /// The word it was written with.
    pub word: &'static str,
    /// By how much.
    pub by: Expr,
    /// Where it stands.
    pub span: Span,
}

/// One limit.
#[derive(Clone, Debug)]
pub struct Limit {
    /// What it limits.
    pub aspect: AspectId,
    /// How.
    pub bound: Bound,
    /// Where it stands.
    pub span: Span,
}

/// How an aspect is limited.
#[derive(Clone, Debug)]
pub enum Bound {
    /// Not below a value.
    AtLeast(Expr),
    /// Not above a value.
    AtMost(Expr),
    /// Not a word, by its number among the aspect's words.
    Not(usize),
}

/// A ladder.
#[derive(Clone, Debug)]
pub struct LadderDef {
    /// Its name.
    pub name: String,
    /// Its title.
    pub title: Option<String>,
    /// The set of its rungs' names.
    pub set: SetId,
    /// Its rungs, top first.
    pub rungs: Vec<RungDef>,
    /// Its moves in file order.
    pub moves: Vec<MoveDef>,
    /// Where its name stands.
    pub span: Span,
}

/// A rung.
#[derive(Clone, Debug)]
pub struct RungDef {
    /// Its name.
    pub name: String,
    /// What it runs.
    pub run: Run,
    /// When it is open; none always.
    pub only_if: Option<Expr>,
    /// Its reason.
    pub because: Option<String>,
    /// Where its name stands.
    pub span: Span,
}

/// A move.
#[derive(Clone, Debug)]
pub struct MoveDef {
    /// Where to.
    pub direction: Direction,
    /// When.
    pub condition: Expr,
    /// Where it stands.
    pub span: Span,
}

/// A trial.
#[derive(Clone, Debug)]
pub struct TrialDef {
    /// Its name.
    pub name: String,
    /// Its moments.
    pub parts: Vec<PartDef>,
    /// Where its name stands.
    pub span: Span,
}

/// One moment of a trial.
#[derive(Clone, Debug)]
pub struct PartDef {
    /// Counts after the moment before; zero for the first.
    pub after: i64,
    /// What is given.
    pub given: Vec<GivenDef>,
    /// What is expected.
    pub expect: Vec<ExpectDef>,
    /// Where it begins.
    pub span: Span,
}

/// One thing given, in counts.
#[derive(Clone, Debug, PartialEq)]
pub enum GivenDef {
    /// A reading or call, or unknown.
    Value(GivenTarget, Option<i64>),
    /// A ladder's rung, or unknown.
    Rung(LadderId, Option<usize>),
    /// A cast: depth, temperature, oxygen.
    Cast(Vec<CastPointDef>),
    /// No cast, until one is given again.
    NoCast,
    /// A strike.
    Strike,
}

/// What a given value is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum GivenTarget {
    /// A reading of the catalogue.
    Known(Known),
    /// A reading that the strategy declares.
    Own(usize),
    /// A call, matched by the value of its argument.
    Call(Known, Kind, i64),
    /// The change of a catalogue reading over a window.
    ChangeOfKnown(Known, i64),
    /// The change of an own reading over a window.
    ChangeOfOwn(usize, i64),
}

/// A point of a cast, in counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CastPointDef {
    /// How deep.
    pub depth: i64,
    /// The temperature there.
    pub temperature: Option<i64>,
    /// The oxygen there.
    pub oxygen: Option<i64>,
}

/// One thing expected.
#[derive(Clone, Debug)]
pub struct ExpectDef {
    /// What.
    pub what: ExpectWhat,
    /// Where it stands.
    pub span: Span,
}

/// What is expected.
#[derive(Clone, Debug)]
pub enum ExpectWhat {
    /// An aspect in a range, each end in its unit at its decimals.
    Range(AspectId, PrintedEnd, PrintedEnd),
    /// An aspect with exactly these alternatives.
    Words(AspectId, Vec<usize>),
    /// An aspect without a value.
    NoValue(AspectId),
    /// A ladder on a rung; none where its name is unknown.
    Rung(LadderId, Option<usize>),
    /// A stop, or none; with a text that must be among those given.
    Stop(bool, Option<String>),
    /// A caution, or none; with a text that must be among those given.
    Caution(bool, Option<String>),
}

/// An expected number as it is printed.
#[derive(Clone, Copy, Debug)]
pub struct PrintedEnd {
    /// The value in counts.
    pub counts: i64,
    /// The unit it was written in.
    pub unit: &'static crate::vocabulary::unit::Unit,
    /// The decimals it was written with.
    pub places: u32,
}
