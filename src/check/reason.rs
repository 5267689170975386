//! Reasoning over all readings at once, exact where a condition holds one reading against a constant.
//!
//! Conditions become formulas over variables: one for each reading (its values and *unknown*), one for each comparison
//! that is more than one reading against a constant (free to be yes, no or unknown), one for each timed let and for each
//! ladder's rung. [`Query::solve`] looks for values that make some formulas come out as asked, by splitting on one
//! comparison after another. What it does not find does not exist, unless its budget ran out, and then it says so.

use foldhash::{HashMap, HashMapExt};
use smallvec::{SmallVec, smallvec};

use crate::program::expr::{Expr, InputId, LadderId, LetId, Op};
use crate::program::{InputSource, Program};
use crate::syntax::tree::Compare;
use crate::vocabulary::catalogue::{Known, LIGHT_LIMITS};
use crate::vocabulary::kind::Kind;
use crate::vocabulary::quantity::{CIRCLE, DAY};

/// Truths a formula can have, as a set of bits.
pub(super) type Truths = u8;
pub(super) const YES: Truths = 1;
pub(super) const NO: Truths = 2;
pub(super) const UNKNOWN: Truths = 4;

/// A formula, by its place in the model. Parts come before wholes.
pub(super) type FormulaId = usize;
type VarId = usize;

#[derive(Clone, Debug)]
enum Formula {
    Constant(Truths),
    /// Yes where the variable's value lies in these ranges, no elsewhere, unknown where it is unknown.
    Atom(VarId, Ranges),
    /// Whether a variable is known.
    VarKnown(VarId),
    /// Whether a formula is yes or no.
    IsKnown(FormulaId),
    Not(FormulaId),
    All(Vec<FormulaId>),
    Any(Vec<FormulaId>),
}

/// What a variable stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Var {
    Input(InputId),
    /// An input as a ladder's moves see it.
    InMove(InputId, LadderId),
    Rung(LadderId),
    Timed(LetId),
    Free(usize),
}

/// Ranges of values in order; hardly ever more than two.
pub(super) type Ranges = SmallVec<[(i64, i64); 2]>;

/// The values that a variable may still have.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Domain {
    ranges: Ranges,
    unknown: bool,
}

impl Domain {
    fn is_empty(&self) -> bool {
        self.ranges.is_empty() && !self.unknown
    }

    /// The least value that is left, where one is.
    pub fn least(&self) -> Option<i64> {
        self.ranges.first().map(|(low, _)| *low)
    }

    /// A value that is left and reads well: within `plausible` if any is, on the `grid` of a unit (its counts and its
    /// zero) if one is, and near the end that is bounded.
    pub fn telling_value(&self, plausible: Option<(i64, i64)>, grid: Option<(i64, i64)>) -> Option<i64> {
        let (least, most) = plausible.unwrap_or((i64::MIN, i64::MAX));
        let inside = self.ranges.iter().map(|(a, b)| ((*a).max(least), (*b).min(most))).find(|(a, b)| a <= b);
        let (low, high) = inside.or_else(|| self.ranges.first().copied())?;
        let Some((step, zero)) = grid.filter(|(step, _)| *step > 0) else { return Some(low) };
        let up = |value: i64| -> Option<i64> {
            let above = i128::from(value) - i128::from(zero);
            let steps = above.div_euclid(i128::from(step)) + i128::from(above.rem_euclid(i128::from(step)) != 0);
            i64::try_from(steps * i128::from(step) + i128::from(zero)).ok()
        };
        let bounded_below = low > least && low != i64::MIN;
        let on_grid = if bounded_below || high == i64::MAX {
            up(low)
        } else {
            // Only the upper end is a threshold: the last step that lies below it.
            up(high).and_then(|value| if value > high { value.checked_sub(step) } else { Some(value) })
        };
        Some(on_grid.filter(|value| (low..=high).contains(value)).unwrap_or(low))
    }

    fn greatest(&self) -> Option<i64> {
        self.ranges.last().map(|(_, high)| *high)
    }

    fn keep(&mut self, ranges: &[(i64, i64)]) {
        self.ranges = intersect(&self.ranges, ranges);
    }

    fn truths(&self, ranges: &[(i64, i64)]) -> Truths {
        let mut truths = if self.unknown { UNKNOWN } else { 0 };
        for (low, high) in &self.ranges {
            let mut covered_to = *low;
            let mut any = false;
            let mut all = false;
            for (a, b) in ranges.iter().filter(|(a, b)| a <= high && b >= low) {
                any = true;
                if *a <= covered_to {
                    if *b >= *high {
                        all = true;
                        break;
                    }
                    covered_to = b.saturating_add(1);
                }
            }
            truths |= if all {
                YES
            } else if any {
                YES | NO
            } else {
                NO
            };
        }
        truths
    }
}

fn intersect(a: &[(i64, i64)], b: &[(i64, i64)]) -> Ranges {
    let mut result = Ranges::new();
    for (low_a, high_a) in a {
        for (low_b, high_b) in b {
            let (low, high) = (*low_a.max(low_b), *high_a.min(high_b));
            if low <= high {
                result.push((low, high));
            }
        }
    }
    result
}

fn overlap(a: &[(i64, i64)], b: &[(i64, i64)]) -> bool {
    a.iter().any(|(low_a, high_a)| b.iter().any(|(low_b, high_b)| low_a.max(low_b) <= high_a.min(high_b)))
}

/// What is not in some ranges, given in order.
fn complement(ranges: &[(i64, i64)]) -> Ranges {
    let mut result = Ranges::new();
    let mut from = Some(i64::MIN);
    for (low, high) in ranges {
        if let Some(start) = from
            && *low > start
        {
            result.push((start, low - 1));
        }
        from = high.checked_add(1);
    }
    if let Some(start) = from {
        result.push((start, i64::MAX));
    }
    result
}

/// All conditions of a program as formulas.
pub(super) struct Model<'p> {
    program: &'p Program,
    formulas: Vec<Formula>,
    /// What is so of each formula.
    traits: Vec<Traits>,
    vars: Vec<Var>,
    domains: Vec<Domain>,
    var_ids: HashMap<Var, VarId>,
    free: HashMap<String, usize>,
    lets: Vec<FormulaId>,
    /// Pairs of variables that are tied, with how.
    ties: Vec<Tie>,
    /// How many formulas may still be worked out in all.
    budget: usize,
    /// Kept from question to question, so that none has to be made for each.
    scratch: Scratch,
}

/// What is so of a formula, whatever the readings are.
#[derive(Clone, Copy)]
struct Traits {
    /// It hangs only on exact comparisons and on what the readings fix.
    exact: bool,
    /// It asks somewhere if something is known.
    asks_known: bool,
}

#[derive(Default)]
struct Scratch {
    /// The question that last reached each formula.
    seen: Vec<u32>,
    question: u32,
    truths: Vec<Truths>,
    /// What the question hangs on: formulas, parts before wholes, and variables.
    cone: Vec<FormulaId>,
    vars: Vec<VarId>,
    pending: Vec<FormulaId>,
    /// Where each variable stands among those of the question.
    slots: Vec<usize>,
}

/// What must hold for a formula to be yes: variables, and the ranges they must lie in.
pub(super) type Bounds = Vec<(VarId, Ranges)>;

/// Whether two formulas can't be yes together, as far as their boxes tell.
pub(super) fn apart(a: &Bounds, b: &Bounds) -> bool {
    a.iter().any(|(var, ranges)| b.iter().any(|(other, others)| var == other && !overlap(ranges, others)))
}

/// Whether what must hold for `a` may be enough for all that must hold for `b`, as far as their boxes tell.
pub(super) fn may_imply(a: &Bounds, b: &Bounds) -> bool {
    let within = |own: &[(i64, i64)], ranges: &[(i64, i64)]| {
        own.iter().all(|(low, high)| ranges.iter().any(|(from, to)| from <= low && high <= to))
    };
    b.iter().all(|(var, ranges)| a.iter().any(|(own, bounds)| own == var && within(bounds, ranges)))
}

/// Known ties between readings.
#[derive(Clone, Copy, Debug)]
enum Tie {
    /// Strikeless for a window means that no strikes lie in it.
    Quiet { strikeless: VarId, strikes: VarId, window: i64 },
    /// The first is never greater than the second.
    NotGreater(VarId, VarId),
}

/// Most formulas worked out for one strategy, and for one question.
const BUDGET: usize = 3_000_000;
const QUESTION: usize = 150_000;
/// Most formulas looked at for the first bounds of one.
const MOST_BOUNDING: usize = 64;
/// Most ties that are used. One left out makes no proof wrong, only some impossible.
const MOST_TIES: usize = 4_000;

/// What came of a question.
#[derive(Debug)]
pub(super) enum Answer {
    /// These values do it, by variable, where they were asked for.
    Found(Vec<(Var, Domain)>),
    /// Nothing does.
    Nothing,
    /// The budget ran out before it was known.
    Unexamined,
}

impl<'p> Model<'p> {
    pub fn new(program: &'p Program) -> Self {
        let mut model = Self {
            program,
            formulas: Vec::new(),
            traits: Vec::new(),
            vars: Vec::new(),
            domains: Vec::new(),
            var_ids: HashMap::new(),
            free: HashMap::new(),
            lets: Vec::new(),
            ties: Vec::new(),
            budget: BUDGET,
            scratch: Scratch::default(),
        };
        for (at, definition) in program.lets.iter().enumerate() {
            let formula = if definition.timing.is_some() {
                let var = model.var(Var::Timed(LetId(u32::try_from(at).unwrap_or(u32::MAX))));
                model.add(Formula::Atom(var, smallvec![(1, 1)]))
            } else if definition.value.kind == Kind::YesNo {
                model.formula(&definition.value, None)
            } else {
                model.add(Formula::Constant(YES | NO | UNKNOWN))
            };
            model.lets.push(formula);
        }
        model
    }

    /// The formula of a let.
    pub fn let_formula(&self, at: usize) -> FormulaId {
        self.lets.get(at).copied().unwrap_or(0)
    }

    fn add(&mut self, formula: Formula) -> FormulaId {
        self.traits.push(self.traits_of(&formula));
        self.formulas.push(formula);
        self.formulas.len() - 1
    }

    /// A formula that is always yes.
    pub fn yes(&mut self) -> FormulaId {
        self.add(Formula::Constant(YES))
    }

    /// Whether a ladder stands on one of some rungs.
    pub fn stands_on(&mut self, ladder: LadderId, rungs: &[usize]) -> FormulaId {
        let var = self.var(Var::Rung(ladder));
        let ranges = rungs.iter().filter_map(|rung| i64::try_from(*rung).ok()).map(|rung| (rung, rung)).collect();
        self.add(Formula::Atom(var, ranges))
    }

    fn var(&mut self, var: Var) -> VarId {
        if let Some(&id) = self.var_ids.get(&var) {
            return id;
        }
        let id = self.vars.len();
        self.vars.push(var);
        self.domains.push(self.domain_of(var));
        self.var_ids.insert(var, id);
        self.tie(var, id);
        id
    }

    fn domain_of(&self, var: Var) -> Domain {
        let (range, unknown) = match var {
            Var::Input(id) | Var::InMove(id, _) => {
                let kind = self.program.inputs.get(id.index()).map(|input| input.kind);
                (kind.map_or((i64::MIN, i64::MAX), |kind| self.range_of(kind)), true)
            }
            Var::Rung(id) => {
                let ladder = self.program.ladders.get(id.index());
                let rungs = ladder.map_or(0, |ladder| ladder.rungs.len());
                let none = ladder.is_some_and(|ladder| ladder.rungs.iter().all(|rung| rung.only_if.is_some()));
                ((0, i64::try_from(rungs).unwrap_or(0) - 1), none)
            }
            Var::Timed(_) | Var::Free(_) => ((0, 1), true),
        };
        Domain { ranges: smallvec![range], unknown }
    }

    fn range_of(&self, kind: Kind) -> (i64, i64) {
        match kind {
            Kind::YesNo => (0, 1),
            Kind::OneOf(set) => {
                let words = self.program.sets.get(set.0 as usize).map_or(0, |set| set.words.len());
                (0, i64::try_from(words).unwrap_or(0) - 1)
            }
            Kind::Month => (1, 12),
            Kind::Clock => (0, DAY - 1),
            Kind::Direction => (0, CIRCLE - 1),
            _ => (i64::MIN, i64::MAX),
        }
    }

    /// Notes how a new variable is tied to those there are.
    fn tie(&mut self, var: Var, id: VarId) {
        let (input, level) = match var {
            Var::Input(input) => (input, None),
            Var::InMove(input, ladder) => (input, Some(ladder)),
            _ => return,
        };
        let Some(new) = self.program.inputs.get(input.index()).map(|input| input.source) else { return };
        let can_be_tied = matches!(
            new,
            InputSource::Known(Known::Strikeless) | InputSource::Strikes(_) | InputSource::Call(Known::DepthOf, ..)
        );
        if !can_be_tied || self.ties.len() >= MOST_TIES {
            return;
        }
        for (other_id, other) in self.vars.iter().enumerate() {
            let (other, other_level) = match other {
                Var::Input(input) => (*input, None),
                Var::InMove(input, ladder) => (*input, Some(*ladder)),
                _ => continue,
            };
            if other_id == id || level != other_level {
                continue;
            }
            let Some(old) = self.program.inputs.get(other.index()).map(|input| input.source) else { continue };
            let tie = match (old, new) {
                (InputSource::Known(Known::Strikeless), InputSource::Strikes(window)) => {
                    Some(Tie::Quiet { strikeless: other_id, strikes: id, window })
                }
                (InputSource::Strikes(window), InputSource::Known(Known::Strikeless)) => {
                    Some(Tie::Quiet { strikeless: id, strikes: other_id, window })
                }
                (InputSource::Strikes(a), InputSource::Strikes(b)) if a < b => Some(Tie::NotGreater(other_id, id)),
                (InputSource::Strikes(_), InputSource::Strikes(_)) => Some(Tie::NotGreater(id, other_id)),
                (InputSource::Call(Known::DepthOf, a, low), InputSource::Call(Known::DepthOf, b, high)) if a == b => {
                    // The warmer a temperature, the shallower it is found.
                    Some(if low < high { Tie::NotGreater(id, other_id) } else { Tie::NotGreater(other_id, id) })
                }
                _ => None,
            };
            self.ties.extend(tie);
        }
    }

    /// The formula of a condition; within a ladder's move its clocks are the ladder's own.
    pub fn formula(&mut self, expr: &Expr, ladder: Option<LadderId>) -> FormulaId {
        let formula = match &expr.op {
            Op::Constant(value) => Formula::Constant(if *value == 0 { NO } else { YES }),
            Op::Let(id) => return self.let_formula(id.index()),
            Op::Not(inner) => Formula::Not(self.formula(inner, ladder)),
            Op::All(list) => Formula::All(list.iter().map(|expr| self.formula(expr, ladder)).collect()),
            Op::Any(list) => Formula::Any(list.iter().map(|expr| self.formula(expr, ladder)).collect()),
            Op::Known(inner, known) => {
                let is_known = self.known(inner, ladder);
                if *known {
                    return is_known;
                }
                Formula::Not(is_known)
            }
            Op::Input(_) | Op::Rung(_) => match self.single(expr, ladder) {
                Some((var, _)) => Formula::Atom(var, smallvec![(1, i64::MAX)]),
                None => return self.free(expr, ladder),
            },
            Op::Compare(compare, a, b) => match self.one_reading(a, b, ladder) {
                Some((reading, value, flipped)) => {
                    let ranges = compared(*compare, value, flipped);
                    return self.atom(reading, ranges);
                }
                None => return self.free(expr, ladder),
            },
            Op::Same(a, b) => match self.one_reading(a, b, ladder) {
                Some((reading, value, _)) => return self.atom(reading, smallvec![(value, value)]),
                None => return self.free(expr, ladder),
            },
            Op::OneOf(value, words) => match self.single(value, ladder) {
                Some(reading) => {
                    let mut ranges: Ranges = words.iter().map(|word| (*word, *word)).collect();
                    ranges.sort_unstable();
                    ranges.dedup();
                    return self.atom(reading, ranges);
                }
                None => return self.free(expr, ladder),
            },
            Op::Within(value, from, to) => {
                let ends = self.constant(from).zip(self.constant(to));
                match (self.single(value, ladder), ends) {
                    (Some(reading), Some((from, to))) if from <= to => {
                        return self.atom(reading, smallvec![(from, to)]);
                    }
                    (Some(reading), Some((from, to))) if value.kind.round().is_some() => {
                        return self.atom(reading, smallvec![(i64::MIN, to), (from, i64::MAX)]);
                    }
                    _ => return self.free(expr, ladder),
                }
            }
            _ => return self.free(expr, ladder),
        };
        self.add(formula)
    }

    /// An atom over a reading; one over `light` becomes one over the sun's height.
    fn atom(&mut self, (var, is_light): (VarId, bool), ranges: Ranges) -> FormulaId {
        let ranges = if is_light { heights(&ranges) } else { ranges };
        self.add(Formula::Atom(var, ranges))
    }

    /// The variable of an expression that is one reading, and whether it is `light`, seen as the sun's height.
    fn single(&mut self, expr: &Expr, ladder: Option<LadderId>) -> Option<(VarId, bool)> {
        match &self.resolve(expr)?.op {
            Op::Input(id) => {
                let id = *id;
                let source = self.program.inputs.get(id.index())?.source;
                if source == InputSource::Known(Known::Light) {
                    return Some((self.sun_height(), true));
                }
                let clock = matches!(source, InputSource::Known(Known::Strikeless) | InputSource::Strikes(_));
                let var = match ladder {
                    Some(ladder) if clock => Var::InMove(id, ladder),
                    _ => Var::Input(id),
                };
                Some((self.var(var), false))
            }
            Op::Rung(id) => {
                let id = *id;
                Some((self.var(Var::Rung(id)), false))
            }
            _ => None,
        }
    }

    /// The variable of `sun_height`, whether or not the program asks for it by name.
    fn sun_height(&mut self) -> VarId {
        let at = self.program.inputs.iter().position(|input| input.source == InputSource::Known(Known::SunHeight));
        match at.and_then(|at| u32::try_from(at).ok()) {
            Some(at) => self.var(Var::Input(InputId(at))),
            None => {
                let free = self.free_number("sun_height".to_owned());
                let id = self.var(Var::Free(free));
                self.domains[id] = Domain { ranges: smallvec![(i64::MIN, i64::MAX)], unknown: true };
                id
            }
        }
    }

    /// An expression behind the lets that only name it.
    fn resolve<'e>(&self, expr: &'e Expr) -> Option<&'e Expr>
    where
        'p: 'e,
    {
        let mut inner = expr;
        while let Op::Let(id) = &inner.op {
            let definition = self.program.lets.get(id.index())?;
            if definition.timing.is_some() {
                return None;
            }
            inner = &definition.value;
        }
        Some(inner)
    }

    fn constant(&self, expr: &Expr) -> Option<i64> {
        self.resolve(expr)?.constant()
    }

    /// A reading held against a constant: the reading, the constant, and whether the constant stands first.
    fn one_reading(&mut self, a: &Expr, b: &Expr, ladder: Option<LadderId>) -> Option<((VarId, bool), i64, bool)> {
        if let Some(value) = self.constant(b) {
            return Some((self.single(a, ladder)?, value, false));
        }
        let value = self.constant(a)?;
        Some((self.single(b, ladder)?, value, true))
    }

    fn known(&mut self, expr: &Expr, ladder: Option<LadderId>) -> FormulaId {
        if self.constant(expr).is_some() {
            return self.yes();
        }
        if let Some((var, _)) = self.single(expr, ladder) {
            return self.add(Formula::VarKnown(var));
        }
        if expr.kind == Kind::YesNo {
            let inner = self.formula(expr, ladder);
            return self.add(Formula::IsKnown(inner));
        }
        let free = self.free_number(format!("known {}", self.key(expr, ladder)));
        let var = self.var(Var::Free(free));
        self.domains[var].unknown = false;
        self.add(Formula::Atom(var, smallvec![(1, 1)]))
    }

    fn free(&mut self, expr: &Expr, ladder: Option<LadderId>) -> FormulaId {
        let free = self.free_number(self.key(expr, ladder));
        let var = self.var(Var::Free(free));
        self.add(Formula::Atom(var, smallvec![(1, 1)]))
    }

    fn free_number(&mut self, key: String) -> usize {
        let next = self.free.len();
        *self.free.entry(key).or_insert(next)
    }

    /// The same text for the same comparison, wherever it stands.
    fn key(&self, expr: &Expr, ladder: Option<LadderId>) -> String {
        let mut key = String::new();
        let mut clock = false;
        expr.visit(&mut |expr| {
            if let Op::Input(id) = &expr.op {
                let source = self.program.inputs.get(id.index()).map(|input| input.source);
                clock |= matches!(source, Some(InputSource::Known(Known::Strikeless) | InputSource::Strikes(_)));
            }
            let part = match &expr.op {
                Op::Constant(value) => format!("c{value}"),
                Op::Input(id) => format!("i{}", id.0),
                Op::Call(known, _) => format!("f{}", known.name()),
                Op::Let(id) => format!("l{}", id.0),
                Op::Rung(id) => format!("r{}", id.0),
                Op::Negate(_) => "n".to_owned(),
                Op::Sum(_, rest) => format!("+{}{:?}", rest.len(), rest.iter().map(|(m, _)| *m).collect::<Vec<_>>()),
                Op::Product(_, rest) => {
                    format!("*{}{:?}", rest.len(), rest.iter().map(|(m, _)| *m).collect::<Vec<_>>())
                }
                Op::Compare(compare, ..) => compare.sign().to_owned(),
                Op::Same(..) => "=".to_owned(),
                Op::Within(..) => "w".to_owned(),
                Op::OneOf(_, words) => format!("o{words:?}"),
                Op::Known(_, known) => format!("k{known}"),
                Op::Changes(id, _) => format!("ch{}", id.0),
                Op::Not(_) => "!".to_owned(),
                Op::All(list) => format!("&{}", list.len()),
                Op::Any(list) => format!("|{}", list.len()),
            };
            key.push_str(&part);
            key.push(' ');
        });
        match ladder {
            Some(ladder) if clock => format!("m{} {key}", ladder.0),
            _ => key,
        }
    }

    /// Whether formulas hang only on comparisons that are exact, and on what the readings fix.
    pub fn is_exact(&self, roots: &[FormulaId]) -> bool {
        roots.iter().all(|root| self.traits[*root].exact)
    }

    /// Whether a formula asks anywhere if something is known.
    pub fn asks_known(&self, root: FormulaId) -> bool {
        self.traits[root].asks_known
    }

    /// What is so of a formula because of its parts, which are there already.
    fn traits_of(&self, formula: &Formula) -> Traits {
        let fixed = |var: VarId| !matches!(self.vars[var], Var::Free(_) | Var::Timed(_));
        match formula {
            Formula::Constant(truths) => Traits { exact: truths.count_ones() == 1, asks_known: false },
            Formula::Atom(var, _) => Traits { exact: fixed(*var), asks_known: false },
            Formula::VarKnown(var) => Traits { exact: fixed(*var), asks_known: true },
            Formula::Not(inner) => self.traits[*inner],
            Formula::IsKnown(inner) => Traits { asks_known: true, ..self.traits[*inner] },
            Formula::All(list) | Formula::Any(list) => Traits {
                exact: list.iter().all(|id| self.traits[*id].exact),
                asks_known: list.iter().any(|id| self.traits[*id].asks_known),
            },
        }
    }

    /// Gathers the formulas that some hang on, parts before wholes, and their variables.
    fn cone(&self, wanted: &[(FormulaId, Truths)], scratch: &mut Scratch) {
        scratch.seen.resize(self.formulas.len(), 0);
        scratch.question += 1;
        scratch.cone.clear();
        scratch.vars.clear();
        scratch.pending.extend(wanted.iter().map(|(id, _)| *id));
        while let Some(id) = scratch.pending.pop() {
            if std::mem::replace(&mut scratch.seen[id], scratch.question) == scratch.question {
                continue;
            }
            scratch.cone.push(id);
            match &self.formulas[id] {
                Formula::Not(inner) | Formula::IsKnown(inner) => scratch.pending.push(*inner),
                Formula::All(list) | Formula::Any(list) => scratch.pending.extend(list),
                Formula::Atom(var, _) | Formula::VarKnown(var) => scratch.vars.push(*var),
                Formula::Constant(_) => {}
            }
        }
        scratch.cone.sort_unstable();
        scratch.vars.sort_unstable();
        scratch.vars.dedup();
    }

    /// What must hold for a formula to be yes, as far as its own comparisons joined by `and` say.
    pub fn bounds_of(&self, root: FormulaId) -> Bounds {
        let mut found: Bounds = Vec::new();
        let mut pending: SmallVec<[FormulaId; 16]> = smallvec![root];
        // What lets share may be reached again and again, so that the steps are bounded too.
        for _ in 0..MOST_BOUNDING {
            let Some(id) = pending.pop().filter(|_| found.len() < 16) else { break };
            match &self.formulas[id] {
                Formula::Atom(var, ranges) => found.push((*var, ranges.clone())),
                Formula::Not(inner) => {
                    if let Formula::Atom(var, ranges) = &self.formulas[*inner] {
                        found.push((*var, complement(ranges)));
                    }
                }
                Formula::All(list) => pending.extend(list.iter().copied()),
                _ => {}
            }
        }
        found
    }

    /// Whether it is plain that a formula can be yes, and that it can be no with all known: it joins comparisons of as many
    /// readings, which nothing ties, and each of which can come out both ways.
    pub fn is_plainly_open(&self, root: FormulaId) -> bool {
        let mut vars: SmallVec<[VarId; 8]> = SmallVec::new();
        let mut pending: SmallVec<[FormulaId; 16]> = smallvec![root];
        // What lets share may be reached again and again, so that the steps are bounded too.
        for _ in 0..MOST_BOUNDING {
            let Some(id) = pending.pop() else {
                let tied = |a: VarId, b: VarId| vars.contains(&a) && vars.contains(&b);
                return !self.ties.iter().any(|tie| match *tie {
                    Tie::Quiet { strikeless, strikes, .. } => tied(strikeless, strikes),
                    Tie::NotGreater(a, b) => tied(a, b),
                });
            };
            match &self.formulas[id] {
                Formula::Atom(var, ranges) => {
                    let both = self.domains[*var].truths(ranges) & (YES | NO) == YES | NO;
                    if !both || vars.contains(var) {
                        return false;
                    }
                    vars.push(*var);
                }
                Formula::Not(inner) => pending.push(*inner),
                Formula::All(list) | Formula::Any(list) if !list.is_empty() => pending.extend(list.iter().copied()),
                _ => return false,
            }
        }
        false
    }

    /// Takes from the budget what a look at two boxes costs; no where it is spent.
    pub fn afford(&mut self, looks: usize) -> bool {
        let left = self.budget.checked_sub(looks);
        self.budget = left.unwrap_or(0);
        left.is_some()
    }

    /// Looks for values under which each formula has one of the truths asked of it. With `all_known`, no variable is
    /// unknown. What is found reads as an example should: comparisons come out yes where they can.
    pub fn solve(&mut self, wanted: &[(FormulaId, Truths)], all_known: bool) -> Answer {
        self.ask(wanted, all_known, false)
    }

    /// The same where it matters only whether there are such values, which it does not tell: found sooner, since each
    /// comparison is first tried the way that is asked for.
    pub fn possible(&mut self, wanted: &[(FormulaId, Truths)], all_known: bool) -> Answer {
        self.ask(wanted, all_known, true)
    }

    fn ask(&mut self, wanted: &[(FormulaId, Truths)], all_known: bool, guided: bool) -> Answer {
        if self.budget == 0 {
            return Answer::Unexamined;
        }
        let mut scratch = std::mem::take(&mut self.scratch);
        self.cone(wanted, &mut scratch);
        scratch.slots.resize(self.vars.len(), usize::MAX);
        scratch.truths.resize(self.formulas.len(), 0);
        let (cone, vars) = (std::mem::take(&mut scratch.cone), std::mem::take(&mut scratch.vars));
        let mut domains = Vec::with_capacity(vars.len());
        for (slot, var) in vars.iter().enumerate() {
            scratch.slots[*var] = slot;
            let mut domain = self.domains[*var].clone();
            if all_known && !domain.ranges.is_empty() {
                domain.unknown = false;
            }
            domains.push(domain);
        }
        let mut ties: Vec<Tie> = Vec::new();
        for tie in &self.ties {
            let slot = |var: VarId| vars.binary_search(&var).ok();
            ties.extend(match *tie {
                Tie::Quiet { strikeless, strikes, window } => slot(strikeless)
                    .zip(slot(strikes))
                    .map(|(strikeless, strikes)| Tie::Quiet { strikeless, strikes, window }),
                Tie::NotGreater(a, b) => slot(a).zip(slot(b)).map(|(a, b)| Tie::NotGreater(a, b)),
            });
        }
        let budget = QUESTION.min(self.budget);
        let mut query = Query { model: self, cone: &cone, wanted, ties: &ties, scratch: &mut scratch, budget, guided };
        let answer = query.solve(domains);
        let spent = budget - query.budget;
        // A question too large for its budget was gathered all the same.
        self.budget = self.budget.saturating_sub(spent.max(cone.len() + self.ties.len()).max(1));
        let answer = match answer {
            Ok(Some(_)) if guided => Answer::Found(Vec::new()),
            Ok(Some(domains)) => Answer::Found(vars.iter().map(|var| self.vars[*var]).zip(domains).collect()),
            Ok(None) => Answer::Nothing,
            Err(OutOfBudget) => Answer::Unexamined,
        };
        self.scratch = Scratch { cone, vars, ..scratch };
        answer
    }
}

struct OutOfBudget;

enum Look {
    Done,
    Fails,
    /// The variable to split, and its cases; the last is tried first.
    Split(usize, Cases),
}

/// The domains that one is split into.
type Cases = SmallVec<[Domain; 3]>;

struct Split {
    slot: usize,
    cases: Cases,
    before: Domain,
    whole: Vec<Domain>,
}

struct Query<'m> {
    model: &'m Model<'m>,
    cone: &'m [FormulaId],
    wanted: &'m [(FormulaId, Truths)],
    ties: &'m [Tie],
    scratch: &'m mut Scratch,
    budget: usize,
    /// Whether a comparison is first tried the way that is asked for.
    guided: bool,
}

impl Query<'_> {
    /// Narrows the domains until every formula asked for has a truth asked of it, whatever values are left.
    fn solve(&mut self, mut domains: Vec<Domain>) -> Result<Option<Vec<Domain>>, OutOfBudget> {
        let mut open: Vec<Split> = Vec::new();
        loop {
            let cost = self.cone.len().max(1) + self.ties.len();
            self.budget = self.budget.checked_sub(cost).ok_or(OutOfBudget)?;
            match self.look(&mut domains) {
                Look::Done => return Ok(Some(domains)),
                Look::Split(slot, cases) => {
                    // Ties narrow other domains too, so that all of them have to be put back.
                    let whole = if self.ties.is_empty() { Vec::new() } else { domains.clone() };
                    open.push(Split { slot, cases, before: domains[slot].clone(), whole });
                }
                Look::Fails => {}
            }
            // The next case of the innermost split that has one left.
            loop {
                let Some(split) = open.last_mut() else { return Ok(None) };
                match split.cases.pop() {
                    Some(case) => {
                        if !split.whole.is_empty() {
                            domains.clone_from(&split.whole);
                        }
                        domains[split.slot] = case;
                        break;
                    }
                    None => {
                        if let Some(split) = open.pop() {
                            domains[split.slot] = split.before;
                        }
                    }
                }
            }
        }
    }

    /// Works the formulas out: whether all come out as asked, one can't, or something has to be split first.
    fn look(&mut self, domains: &mut [Domain]) -> Look {
        if !self.hold_ties(domains) {
            return Look::Fails;
        }
        self.work_out(domains);
        let truths = |id: FormulaId| self.scratch.truths[id];
        if self.wanted.iter().any(|(id, allowed)| truths(*id) & allowed == 0) {
            return Look::Fails;
        }
        let open = self.wanted.iter().find(|(id, allowed)| truths(*id) & !allowed != 0);
        // A constant that nothing fixes may come out as asked.
        open.and_then(|(open, allowed)| self.split(*open, !self.guided || allowed & YES != 0, domains))
            .map_or(Look::Done, |(slot, cases)| Look::Split(slot, cases))
    }

    /// Narrows domains by what is tied; no where nothing is left of one.
    fn hold_ties(&self, domains: &mut [Domain]) -> bool {
        for _ in 0..self.ties.len().clamp(1, 8) {
            for tie in self.ties {
                match *tie {
                    Tie::Quiet { strikeless, strikes, window } => {
                        let quiet = !domains[strikeless].unknown
                            && domains[strikeless].least().is_some_and(|least| least >= window);
                        if quiet && !domains[strikes].unknown {
                            domains[strikes].keep(&[(i64::MIN, 0)]);
                        }
                        let struck =
                            !domains[strikes].unknown && domains[strikes].least().is_some_and(|least| least > 0);
                        if struck && !domains[strikeless].unknown {
                            domains[strikeless].keep(&[(i64::MIN, window - 1)]);
                        }
                    }
                    Tie::NotGreater(a, b) => {
                        if domains[a].unknown || domains[b].unknown {
                            continue;
                        }
                        if let Some(most) = domains[b].greatest() {
                            domains[a].keep(&[(i64::MIN, most)]);
                        }
                        if let Some(least) = domains[a].least() {
                            domains[b].keep(&[(least, i64::MAX)]);
                        }
                    }
                }
            }
        }
        !domains.iter().any(Domain::is_empty)
    }

    /// Which truths each formula can have, parts before wholes.
    fn work_out(&mut self, domains: &[Domain]) {
        for id in self.cone {
            let truths = match &self.model.formulas[*id] {
                Formula::Constant(truths) => *truths,
                Formula::Atom(var, ranges) => domains[self.scratch.slots[*var]].truths(ranges),
                Formula::VarKnown(var) => {
                    let domain = &domains[self.scratch.slots[*var]];
                    (if domain.ranges.is_empty() { 0 } else { YES }) | (if domain.unknown { NO } else { 0 })
                }
                Formula::IsKnown(inner) => {
                    let inner = self.scratch.truths[*inner];
                    (if inner & (YES | NO) != 0 { YES } else { 0 }) | (if inner & UNKNOWN != 0 { NO } else { 0 })
                }
                Formula::Not(inner) => {
                    let inner = self.scratch.truths[*inner];
                    (inner & UNKNOWN) | ((inner & YES) << 1) | ((inner & NO) >> 1)
                }
                Formula::All(list) => self.joined(list, YES, NO),
                Formula::Any(list) => self.joined(list, NO, YES),
            };
            self.scratch.truths[*id] = truths;
        }
    }

    /// `and` where the neutral truth is yes and the decisive one no; `or` the other way round.
    fn joined(&self, list: &[FormulaId], neutral: Truths, decisive: Truths) -> Truths {
        let (mut of_all, mut of_any, mut none_decisive) = (YES | NO | UNKNOWN, 0, true);
        for id in list {
            let truths = self.scratch.truths[*id];
            of_all &= truths;
            of_any |= truths;
            none_decisive &= truths & (neutral | UNKNOWN) != 0;
        }
        (of_all & neutral) | (of_any & decisive) | if none_decisive { of_any & UNKNOWN } else { 0 }
    }

    /// Splits the domains on a comparison that an open formula hangs on; the case to be tried first comes last: the one
    /// that serves the formula's being `yes`, or its not being that.
    fn split(&self, open: FormulaId, yes: bool, domains: &[Domain]) -> Option<(usize, Cases)> {
        let at = |var: VarId| self.scratch.slots[var];
        let mut pending: SmallVec<[(FormulaId, bool); 8]> = smallvec![(open, yes)];
        while let Some((id, yes)) = pending.pop() {
            if self.scratch.truths[id].count_ones() < 2 {
                continue;
            }
            match &self.model.formulas[id] {
                Formula::Atom(var, ranges) => return Some((at(*var), cases(&domains[at(*var)], ranges, yes))),
                Formula::VarKnown(var) => {
                    return Some((at(*var), cases(&domains[at(*var)], &[(i64::MIN, i64::MAX)], yes)));
                }
                Formula::Not(inner) => pending.push((*inner, yes ^ self.guided)),
                Formula::IsKnown(inner) => pending.push((*inner, yes)),
                Formula::All(list) | Formula::Any(list) => pending.extend(list.iter().rev().map(|id| (*id, yes))),
                Formula::Constant(_) => {}
            }
        }
        None
    }
}

fn cases(domain: &Domain, ranges: &[(i64, i64)], yes: bool) -> Cases {
    let known = |ranges: Ranges| Domain { ranges, unknown: false };
    let (inside, outside) = (intersect(&domain.ranges, ranges), intersect(&domain.ranges, &complement(ranges)));
    let unknown = Domain { ranges: Ranges::new(), unknown: domain.unknown };
    let cases = if yes { [unknown, known(outside), known(inside)] } else { [known(inside), unknown, known(outside)] };
    cases.into_iter().filter(|case| !case.is_empty()).collect()
}

fn compared(compare: Compare, value: i64, flipped: bool) -> Ranges {
    let below = |end: Option<i64>| end.map_or_else(Ranges::new, |end| smallvec![(i64::MIN, end)]);
    let above = |start: Option<i64>| start.map_or_else(Ranges::new, |start| smallvec![(start, i64::MAX)]);
    match (compare, flipped) {
        (Compare::Less, false) | (Compare::Greater, true) => below(value.checked_sub(1)),
        (Compare::AtMost, false) | (Compare::AtLeast, true) => below(Some(value)),
        (Compare::Greater, false) | (Compare::Less, true) => above(value.checked_add(1)),
        (Compare::AtLeast, false) | (Compare::AtMost, true) => above(Some(value)),
    }
}

/// The heights of the sun at which `light` is one of some classes.
fn heights(classes: &[(i64, i64)]) -> Ranges {
    let starts = [i64::MIN, LIGHT_LIMITS[0], LIGHT_LIMITS[1], LIGHT_LIMITS[2]];
    let mut ranges = Ranges::new();
    for (class, start) in (0i64..).zip(starts) {
        if classes.iter().any(|(low, high)| (*low..=*high).contains(&class)) {
            let end = LIGHT_LIMITS.get(class as usize).map_or(i64::MAX, |next| next - 1);
            match ranges.last_mut() {
                Some((_, last)) if last.checked_add(1) == Some(start) => *last = end,
                _ => ranges.push((start, end)),
            }
        }
    }
    ranges
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_and_what_is_not_in_them_make_a_whole() {
        let ranges = [(i64::MIN, -1), (5, 9)];
        assert_eq!(complement(&ranges)[..], [(0, 4), (10, i64::MAX)]);
        assert_eq!(complement(&complement(&ranges))[..], ranges);
        assert_eq!(intersect(&[(0, 10)], &complement(&ranges))[..], [(0, 4), (10, 10)]);
    }

    #[test]
    fn a_domain_knows_what_a_range_can_be() {
        let domain = Domain { ranges: smallvec![(0, 4), (10, 12)], unknown: false };
        assert_eq!(domain.truths(&[(0, 20)]), YES);
        assert_eq!(domain.truths(&[(5, 9)]), NO);
        assert_eq!(domain.truths(&[(0, 2), (3, 4)]), YES | NO);
    }

    #[test]
    fn light_is_the_sun_s_height() {
        assert_eq!(heights(&[(0, 1)])[..], [(i64::MIN, LIGHT_LIMITS[1] - 1)]);
        assert_eq!(heights(&[(3, 3)])[..], [(LIGHT_LIMITS[2], i64::MAX)]);
    }
}
