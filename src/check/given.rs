//! What is given from outside a strategy: a name or call and a value, against a program's names and the catalogue.
//!
//! Files, flags and requests go through the same code as the `given` of a trial; only here a value outside the
//! plausible range is refused, where a trial is merely warned.

use std::sync::Arc;

use super::names::{Checker, Named};
use crate::findings::{Code, Finding};
use crate::program::expr::LadderId;
use crate::program::{GivenDef, GivenTarget, LadderDef, Program};
use crate::syntax::parse_given_name;
use crate::syntax::tree::{self, CastPoint, ExprNode, Given, GivenValue, Word};
use crate::text::{FileId, SourceFile, Sources, Span};
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::{Kind, WordSet};
use crate::vocabulary::print::{self, System};

/// In findings about something given, spans lie in the name's text or in the value's.
pub const NAME: FileId = FileId(0);
/// See [`NAME`].
pub const VALUE: FileId = FileId(1);

/// What a name stands for when something is given under it.
#[derive(Clone, Debug, PartialEq)]
pub enum Target {
    /// A reading, call or change, and the kind of its values.
    Value(GivenTarget, Kind),
    /// A ladder, which is given one of its rungs.
    Ladder(LadderId),
    /// The cast.
    Cast,
    /// A strike.
    Strike,
    /// Where the boat is.
    Position,
}

/// Knows the names under which something can be given: a program's own, and those of the catalogue.
pub struct Receiver {
    checker: Checker,
    system: System,
    /// There is no program, so that nothing can be declared.
    alone: bool,
}

impl Receiver {
    /// The names of a program, which hide those of the catalogue, or those of the catalogue alone.
    pub fn new(program: Option<&Program>) -> Self {
        let mut checker = Checker::new(Arc::default(), false);
        if let Some(program) = program {
            checker.take_names(program);
        }
        Self { checker, system: program.map(|program| program.system).unwrap_or_default(), alone: program.is_none() }
    }

    /// What a name or call stands for. The finding's span lies in `name`.
    pub fn target(&mut self, name: &str) -> Result<Target, Finding> {
        let written = self.read_name(name, "")?;
        let target = self.checker.target(&written);
        self.judged(target)
    }

    /// A plain value of a kind and in a range, in counts; none where [`Receiver::value`] has to judge it.
    pub fn plain(&self, kind: Kind, range: Option<(i64, i64)>, text: &str) -> Option<i64> {
        plain(&self.checker.sets, kind, range, text)
    }

    /// The points of a cast. The finding's span lies in [`VALUE`].
    pub fn cast(&mut self, points: &[CastPoint]) -> Result<GivenDef, Finding> {
        let read = super::trials::cast_points(points);
        read.map(GivenDef::Cast).map_err(|findings| {
            let first = findings.into_iter().next();
            first.unwrap_or_else(|| Finding::new(Code::Syntax, Span::new(VALUE, 0, 0), "this is no cast"))
        })
    }

    /// A value given under a name. The finding's span lies in [`NAME`] or [`VALUE`].
    pub fn value(&mut self, name: &str, value: &str, read: &GivenValue) -> Result<GivenDef, Finding> {
        let target = self.read_name(name, value)?;
        let named = target.clone();
        let given = match (&target.node, read) {
            (ExprNode::Name(word), GivenValue::Literal(literal)) if word.is("strike") => {
                Given::Strike(word.clone(), literal.clone())
            }
            _ => Given::Value { target, value: read.clone() },
        };
        let given = self.checker.given_one(&given);
        self.judged(given).map_err(|finding| self.with_range(finding, &named))
    }

    /// Names the range of an own reading, which a strategy shows and a file or flag does not.
    fn with_range(&self, finding: Finding, target: &tree::Expr) -> Finding {
        let own = match &target.node {
            ExprNode::Name(word) => self.checker.own.iter().find(|own| word.is(&own.name)),
            _ => None,
        };
        let own = own.filter(|_| finding.code == Code::Implausible);
        let Some((own, (from, to))) = own.and_then(|own| Some((own, own.plausible?))) else { return finding };
        let range = print::range(from, to, own.kind, false, self.system);
        finding.help(format!("`{}` runs from {range}", own.name))
    }

    fn read_name(&mut self, name: &str, value: &str) -> Result<tree::Expr, Finding> {
        let mut sources = Sources::default();
        sources.add(SourceFile::new("", name));
        sources.add(SourceFile::new("", value));
        self.checker.sources = Arc::new(sources);
        parse_given_name(NAME, name)
    }

    /// The first finding counts, a warning as much as an error.
    fn judged<T>(&mut self, made: Option<T>) -> Result<T, Finding> {
        let finding = std::mem::take(&mut self.checker.findings).into_iter().next();
        match (finding, made) {
            (Some(finding), _) if self.alone && finding.code == Code::UnknownName => Err(without_declaring(finding)),
            (Some(finding), _) => Err(finding),
            (None, Some(made)) => Ok(made),
            (None, None) => {
                Err(Finding::new(Code::UnknownName, Span::new(NAME, 0, 0), "nothing can be given under this name"))
            }
        }
    }
}

/// Where there is no strategy, nothing can be declared.
fn without_declaring(finding: Finding) -> Finding {
    let declares = finding.help.as_deref().is_some_and(|help| help.starts_with("declare it"));
    if !declares {
        return finding;
    }
    finding.help("these are the names of the catalogue alone; a strategy's own readings need the strategy")
}

/// A plain value of a kind and in a range, in counts, read without the grammar; none is anything else, right or wrong.
pub fn plain(sets: &[WordSet], kind: Kind, range: Option<(i64, i64)>, text: &str) -> Option<i64> {
    let counts = super::values::plain(kind, super::values::set_of(sets, kind), text)?;
    range.is_none_or(|(least, most)| (least..=most).contains(&counts)).then_some(counts)
}

/// A value of a kind, for what is written in files beside readings. The finding's span lies in [`VALUE`].
pub fn literal(kind: Kind, what: &str, value: &GivenValue) -> Result<i64, Finding> {
    super::values::given(kind, None, what, value)?
        .ok_or_else(|| Finding::new(Code::Kinds, value.span(), format!("`{what}` has no value here")))
}

impl Checker {
    /// What a name or call stands for when something is given under it.
    fn target(&mut self, written: &tree::Expr) -> Option<Target> {
        match &written.node {
            ExprNode::Call(name, _) => {
                self.call_target(written, name).map(|(target, kind)| Target::Value(target, kind))
            }
            ExprNode::Name(word) => match self.named(word) {
                Some((Named::Own(at), _)) => Some(Target::Value(GivenTarget::Own(at), self.own.get(at)?.kind)),
                Some((Named::Ladder(id), _)) => Some(Target::Ladder(id)),
                Some((named, _)) => {
                    self.not_given(word, named);
                    None
                }
                None => self.known_target(word),
            },
            _ => None,
        }
    }

    fn known_target(&mut self, word: &Word) -> Option<Target> {
        if word.is("cast") {
            return Some(Target::Cast);
        }
        if word.is("strike") {
            return Some(Target::Strike);
        }
        match Known::reading(&word.text) {
            Some(Known::Position) => Some(Target::Position),
            Some(known) => Some(Target::Value(GivenTarget::Known(known), known.entry().kind)),
            None => {
                self.nothing_given_so(word);
                None
            }
        }
    }

    /// Knows the names that a program declares, as far as something can be given under them or named in a call.
    fn take_names(&mut self, program: &Program) {
        self.sets = program.sets.clone();
        self.take_aspects(program.aspects.clone());
        self.own = program.own.clone();
        self.lets = program.lets.clone();
        self.let_kinds = program.lets.iter().map(|definition| Some(definition.value.kind)).collect();
        self.ladders = program.ladders.iter().map(without_rungs).collect();
        self.name_all();
    }
}

/// A ladder's name and the names of its rungs, which is all that a giver needs.
fn without_rungs(ladder: &LadderDef) -> LadderDef {
    LadderDef {
        name: ladder.name.clone(),
        title: None,
        set: ladder.set,
        rungs: Vec::new(),
        moves: Vec::new(),
        span: ladder.span,
    }
}
