//! The tree of a strategy file, as it was written, with the place of everything.
//!
//! Trees compare without regard to places and to how a name was cased, so that formatted text can be held against
//! the text it came from.

use smol_str::SmolStr;

use crate::text::Span;
use crate::vocabulary::kind::same_word;
use crate::vocabulary::quantity::Decimal;

/// A word as it was written.
#[derive(Clone, Debug)]
pub struct Word {
    /// The word; one of a usual length needs no memory of its own.
    pub text: SmolStr,
    /// Where it stands.
    pub span: Span,
}

impl Word {
    /// Whether this is that word, in any case.
    pub fn is(&self, other: &str) -> bool {
        same_word(&self.text, other)
    }
}

impl PartialEq for Word {
    fn eq(&self, other: &Self) -> bool {
        self.is(&other.text)
    }
}

/// A text between quotes.
#[derive(Clone, Debug)]
pub struct Text {
    /// What stands between the quotes.
    pub text: String,
    /// Where it stands, quotes included.
    pub span: Span,
}

impl PartialEq for Text {
    fn eq(&self, other: &Self) -> bool {
        self.text == other.text
    }
}

/// A literal value.
#[derive(Clone, Debug)]
pub struct Literal {
    /// What it is.
    pub value: LiteralValue,
    /// Where it stands, its sign included.
    pub span: Span,
}

impl PartialEq for Literal {
    fn eq(&self, other: &Self) -> bool {
        self.value == other.value
    }
}

/// What a literal is.
#[derive(Clone, Debug, PartialEq)]
pub enum LiteralValue {
    /// A number, with its unit as it was written if it has one.
    Number(Decimal, Option<UnitWord>),
    /// A time of day, in minutes since midnight.
    Clock(u32),
    /// Yes or no.
    YesNo(bool),
}

/// A unit as it was written.
#[derive(Clone, Debug)]
pub struct UnitWord(pub Word);

impl PartialEq for UnitWord {
    fn eq(&self, other: &Self) -> bool {
        use crate::vocabulary::unit::Unit;
        match (Unit::find(&self.0.text), Unit::find(&other.0.text)) {
            (Some(a), Some(b)) => std::ptr::eq(a, b),
            _ => self.0 == other.0,
        }
    }
}

/// A file: its statements in order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct File {
    /// The statements that could be read.
    pub statements: Vec<Statement>,
}

/// A statement.
#[derive(Clone, Debug, PartialEq)]
pub enum Statement {
    /// `strategy "..."`
    Strategy(Header),
    /// `include "..."`
    Include(Include),
    /// `reading NAME is KIND`
    Reading(Reading),
    /// `let NAME = ...`
    Let(Let),
    /// `rule "..."`
    Rule(Rule),
    /// `ladder NAME`
    Ladder(Ladder),
    /// `trial "..."`
    Trial(Trial),
    /// A statement that could not be read: its first word, and the name it seems to give.
    Broken(Broken),
}

/// What is known of a statement that could not be read.
#[derive(Clone, Debug, PartialEq)]
pub struct Broken {
    /// Its first word.
    pub keyword: Word,
    /// The name it seems to give.
    pub name: Option<Word>,
    /// The words in it, so that what they name does not count as never used.
    pub words: Vec<Word>,
}

/// `strategy "NAME"` and its clauses.
#[derive(Clone, Debug, PartialEq)]
pub struct Header {
    /// The strategy's name.
    pub name: Text,
    /// Its clauses in the order they stand in.
    pub clauses: Vec<HeaderClause>,
    /// Its first word.
    pub keyword: Word,
}

/// A clause of the header.
#[derive(Clone, Debug, PartialEq)]
pub enum HeaderClause {
    /// `species "..."`
    Species(Word, Text),
    /// `about "..."`
    About(Word, Text),
    /// `units us`
    Units(Word, Word),
    /// `also ASPECT NAMES`
    Also {
        /// The word `also`.
        keyword: Word,
        /// The aspect that gets more words, or a new one.
        aspect: Word,
        /// The words.
        names: Vec<Word>,
    },
}

/// `include "PATH"`.
#[derive(Clone, Debug, PartialEq)]
pub struct Include {
    /// The path, taken from the file that names it.
    pub path: Text,
    /// Its first word.
    pub keyword: Word,
}

/// `reading NAME is KIND, good for D`.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Its name.
    pub name: Word,
    /// Its kind.
    pub kind: KindSpec,
    /// The range that is plausible.
    pub plausible: Option<RangeExpr>,
    /// How long a value stays good.
    pub good_for: Option<Literal>,
}

/// A kind as it was written.
#[derive(Clone, Debug, PartialEq)]
pub enum KindSpec {
    /// `yes or no`
    YesNo,
    /// `one of A, B` or `one of A < B`
    OneOf {
        /// The words.
        words: Vec<Word>,
        /// Whether they are parted by `<`.
        ordered: bool,
    },
    /// One word, such as `length`.
    Named(Word),
}

/// `let NAME = VALUE`.
#[derive(Clone, Debug, PartialEq)]
pub struct Let {
    /// Its name.
    pub name: Word,
    /// Its value.
    pub value: Expr,
    /// A range's other end, which a let can't have; the checker says so.
    pub to: Option<Expr>,
    /// `settling D` or `for D`.
    pub timing: Option<Timing>,
}

/// How a timed let takes time.
#[derive(Clone, Debug, PartialEq)]
pub enum Timing {
    /// `settling D`
    Settling(Literal),
    /// `for D`
    For(Literal),
}

/// `rule "NAME"` and its clauses.
#[derive(Clone, Debug, PartialEq)]
pub struct Rule {
    /// Its name.
    pub name: Text,
    /// Its clauses in order.
    pub clauses: Vec<Clause>,
    /// Its first word.
    pub keyword: Word,
}

/// A clause of a rule.
#[derive(Clone, Debug, PartialEq)]
pub enum Clause {
    /// `if COND`
    If(Word, Expr),
    /// `run ...`
    Run(Word, Vec<RunItem>),
    /// `keep ...`
    Keep(Word, Vec<KeepItem>),
    /// `stop "..."`
    Stop(Word, Text),
    /// `caution "..."`
    Caution(Word, Text),
    /// `because "..."`
    Because(Word, Text),
}

/// One item of a `run` list.
#[derive(Clone, Debug, PartialEq)]
pub enum RunItem {
    /// `depth 3 to 10 ft`, `lure spoon or spinner`
    Decide {
        /// The aspect's name.
        aspect: Word,
        /// The value as it was written: an expression may be a word of the aspect.
        value: RunValue,
    },
    /// `deeper by 4 ft`
    Shift {
        /// The shift's word.
        word: Word,
        /// By how much.
        by: Expr,
    },
}

impl RunItem {
    /// The word that begins the item.
    pub fn word(&self) -> &Word {
        match self {
            RunItem::Decide { aspect, .. } => aspect,
            RunItem::Shift { word, .. } => word,
        }
    }
}

/// The value of an aspect.
#[derive(Clone, Debug, PartialEq)]
pub enum RunValue {
    /// A range, or one value.
    Range(RangeExpr),
    /// `A or B`: more than one word.
    Words(Vec<Word>),
}

/// `A`, or `A to B`.
#[derive(Clone, Debug, PartialEq)]
pub struct RangeExpr {
    /// The lower end.
    pub from: Expr,
    /// The upper end.
    pub to: Option<Expr>,
}

impl RangeExpr {
    /// Where it stands.
    pub fn span(&self) -> Span {
        self.to.as_ref().map_or(self.from.span, |to| self.from.span.to(to.span))
    }
}

/// One item of a `keep` list.
#[derive(Clone, Debug, PartialEq)]
pub struct KeepItem {
    /// The aspect's name.
    pub aspect: Word,
    /// The limit.
    pub limit: LimitSpec,
    /// Where the item stands.
    pub span: SpanOnly,
}

/// A place that does not count in comparisons.
#[derive(Clone, Copy, Debug)]
pub struct SpanOnly(pub Span);

impl PartialEq for SpanOnly {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

/// A limit.
#[derive(Clone, Debug, PartialEq)]
pub enum LimitSpec {
    /// `at least Q`
    AtLeast(Expr),
    /// `at most Q`
    AtMost(Expr),
    /// `not NAME`
    Not(Word),
}

/// `ladder NAME "TITLE"`, its rungs and moves.
#[derive(Clone, Debug, PartialEq)]
pub struct Ladder {
    /// Its name.
    pub name: Word,
    /// Its title.
    pub title: Option<Text>,
    /// Its rungs, top first.
    pub rungs: Vec<Rung>,
    /// Its moves in order.
    pub moves: Vec<Move>,
    /// Its first word.
    pub keyword: Word,
}

/// A rung.
#[derive(Clone, Debug, PartialEq)]
pub struct Rung {
    /// Its name.
    pub name: Word,
    /// What it runs.
    pub run: Vec<RunItem>,
    /// `only if COND`
    pub only_if: Option<Expr>,
    /// `because "..."`
    pub because: Option<Text>,
}

/// A move of a ladder.
#[derive(Clone, Debug, PartialEq)]
pub struct Move {
    /// Where to.
    pub direction: Direction,
    /// When.
    pub condition: Expr,
    /// Where it stands.
    pub span: SpanOnly,
}

/// Where a move goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// `step down`
    Down,
    /// `step up`
    Up,
    /// `start over`
    Over,
}

impl Direction {
    /// How it is written.
    pub fn text(self) -> &'static str {
        match self {
            Direction::Down => "step down",
            Direction::Up => "step up",
            Direction::Over => "start over",
        }
    }
}

/// `trial "NAME"` and its parts.
#[derive(Clone, Debug, PartialEq)]
pub struct Trial {
    /// Its name.
    pub name: Text,
    /// Its parts in order; only the first has no `after`.
    pub parts: Vec<Part>,
    /// Its first word.
    pub keyword: Word,
}

/// One moment of a trial.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// How long after the part before.
    pub after: Option<Literal>,
    /// What is given.
    pub given: Vec<Given>,
    /// What is expected.
    pub expect: Vec<Expect>,
    /// Where it begins.
    pub span: SpanOnly,
}

/// One thing given.
#[derive(Clone, Debug, PartialEq)]
pub enum Given {
    /// `strike yes`
    Strike(Word, Literal),
    /// `cast [...]`
    Cast(Word, Vec<CastPoint>),
    /// `NAME VALUE` or `NAME(...) VALUE`
    Value {
        /// The reading, call or ladder.
        target: Expr,
        /// The value.
        value: GivenValue,
    },
}

/// The value of something given.
#[derive(Clone, Debug, PartialEq)]
pub enum GivenValue {
    /// A literal.
    Literal(Literal),
    /// A word: a month, a compass point, a word of a set, a rung.
    Word(Word),
    /// `unknown`
    Unknown(Word),
}

impl GivenValue {
    /// Where it stands.
    pub fn span(&self) -> Span {
        match self {
            GivenValue::Literal(literal) => literal.span,
            GivenValue::Word(word) | GivenValue::Unknown(word) => word.span,
        }
    }
}

/// A point of a cast.
#[derive(Clone, Debug, PartialEq)]
pub struct CastPoint {
    /// The depth, and a temperature, an oxygen content or both, told apart by their units.
    pub values: Vec<Literal>,
    /// Where it stands.
    pub span: SpanOnly,
}

/// One thing expected.
#[derive(Clone, Debug, PartialEq)]
pub enum Expect {
    /// `unknown NAME`
    Unknown(Word),
    /// `stop`, `stop "..."`, `no stop`
    Stop {
        /// The word.
        keyword: Word,
        /// Whether one is expected.
        wanted: bool,
        /// The text that must be among those given.
        text: Option<Text>,
    },
    /// `caution`, `caution "..."`, `no caution`
    Caution {
        /// The word.
        keyword: Word,
        /// Whether one is expected.
        wanted: bool,
        /// The text that must be among those given.
        text: Option<Text>,
    },
    /// `depth 3 to 10 ft`, `pace brisk`, `lure spoon or spinner`
    Value {
        /// The aspect or ladder.
        name: Word,
        /// The value.
        value: ExpectValue,
    },
}

/// The value of something expected.
#[derive(Clone, Debug, PartialEq)]
pub enum ExpectValue {
    /// A range of literals, or one.
    Range(Literal, Option<Literal>),
    /// Words.
    Words(Vec<Word>),
}

/// An expression.
#[derive(Clone, Debug)]
pub struct Expr {
    /// What it is.
    pub node: ExprNode,
    /// Where it stands.
    pub span: Span,
}

impl PartialEq for Expr {
    fn eq(&self, other: &Self) -> bool {
        self.node == other.node
    }
}

/// A comparison's operator.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Compare {
    /// `<`
    Less,
    /// `<=` or `at most`
    AtMost,
    /// `>`
    Greater,
    /// `>=` or `at least`
    AtLeast,
}

impl Compare {
    /// Whether it points upwards, as `<` does.
    pub fn ascends(self) -> bool {
        matches!(self, Compare::Less | Compare::AtMost)
    }

    /// How it is written in signs.
    pub fn sign(self) -> &'static str {
        match self {
            Compare::Less => "<",
            Compare::AtMost => "<=",
            Compare::Greater => ">",
            Compare::AtLeast => ">=",
        }
    }
}

/// An arithmetic operator.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Arithmetic {
    /// `+`
    Plus,
    /// `-`
    Minus,
    /// `*`
    Times,
    /// `/`
    Over,
}

/// What an expression is. Long flat chains are lists, so that only brackets nest.
#[derive(Clone, Debug, PartialEq)]
pub enum ExprNode {
    /// A number, a time of day, yes or no.
    Literal(LiteralValue),
    /// A name.
    Name(Word),
    /// `NAME(ARGUMENTS)`
    Call(Word, Vec<Expr>),
    /// `- X`; `+ X` is X.
    Negated(Box<Expr>),
    /// `A + B - C`, or `A * B / C`
    Chain(Box<Expr>, Vec<(Arithmetic, Expr)>),
    /// `A < B <= C`
    Compared(Box<Expr>, Vec<(Compare, Expr)>),
    /// `X is NAME`, `X is 3 to 4 ft`, `X is not ...`
    Is {
        /// What is asked about.
        left: Box<Expr>,
        /// Whether `not` stands behind `is`.
        negated: bool,
        /// The value or lower end.
        right: Box<Expr>,
        /// The upper end.
        to: Option<Box<Expr>>,
    },
    /// `X is one of A, B`
    IsOneOf {
        /// What is asked about.
        left: Box<Expr>,
        /// Whether `not` stands behind `is`.
        negated: bool,
        /// The words.
        words: Vec<Expr>,
    },
    /// `X known`; `X unknown` where the flag is no.
    Known(Box<Expr>, bool),
    /// `X changes`
    Changes(Box<Expr>),
    /// `not X`
    Not(Box<Expr>),
    /// `A and B`
    And(Vec<Expr>),
    /// `A or B`
    Or(Vec<Expr>),
    /// An expression in brackets.
    Bracket(Box<Expr>),
}
