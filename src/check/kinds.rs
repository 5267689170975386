//! What every expression is: kinds, units, and whether a literal of temperature is a temperature or a change.

use super::names::{Checker, Named, bare_number};
use super::values;
use crate::findings::{Code, Finding};
use crate::program::InputSource;
use crate::program::expr::{ChangesId, Expr, Op};
use crate::syntax::tree::{self, Arithmetic, Compare, ExprNode, LiteralValue, RangeExpr, Word};
use crate::text::Span;
use crate::vocabulary::catalogue::{Known, Takes};
use crate::vocabulary::kind::{Kind, compass_counts, month_number};
use crate::vocabulary::quantity::{self, CIRCLE, MINUTE};

/// What the surroundings of an expression say about it.
#[derive(Clone, Copy, Default)]
struct Hint {
    /// Bare words may be words of this kind.
    words: Option<Kind>,
    /// A literal of temperature is a change.
    change: bool,
}

/// An expression without the brackets around it.
fn bare(expr: &tree::Expr) -> &tree::Expr {
    let mut inner = expr;
    while let ExprNode::Bracket(within) = &inner.node {
        inner = within;
    }
    inner
}

fn literal_of(expr: &tree::Expr) -> Option<&LiteralValue> {
    match &bare(expr).node {
        ExprNode::Literal(value) => Some(value),
        _ => None,
    }
}

fn bare_word(expr: &tree::Expr) -> Option<&Word> {
    match &expr.node {
        ExprNode::Name(word) => Some(word),
        _ => None,
    }
}

impl Checker {
    /// An expression that must be yes or no.
    pub fn condition(&mut self, expr: &tree::Expr) -> Option<Expr> {
        let typed = self.expr(expr, Hint::default())?;
        if typed.kind == Kind::YesNo {
            return Some(typed);
        }
        let text = self.quoted(expr.span);
        let help = match typed.kind {
            Kind::OneOf(_) => format!("ask for one of its words, as in `{text} is ...`"),
            Kind::Place => format!("ask whether it is known, as in `{text} known`"),
            kind => format!("compare it, as in `{text} at least {}`, or ask `{text} known`", kind.example()),
        };
        self.error_with_help(
            Code::Kinds,
            expr.span,
            format!("`{text}` is {}; a condition is a yes or no", typed.kind.name()),
            help,
        );
        None
    }

    /// An expression of any kind that can be a value.
    pub fn any_value(&mut self, expr: &tree::Expr) -> Option<Expr> {
        let typed = self.expr(expr, Hint::default())?;
        if typed.kind == Kind::Place {
            self.place(expr);
            return None;
        }
        Some(typed)
    }

    /// An expression of a kind.
    pub fn value_of_kind(&mut self, expr: &tree::Expr, kind: Kind) -> Option<Expr> {
        let hint = Hint { words: Some(kind), change: kind == Kind::Change };
        let typed = self.expr(expr, hint)?;
        self.fit(typed, expr, kind)
    }

    /// A range of a kind, or one value: the upper end is none where one value was written.
    pub fn range_of_kind(&mut self, range: &RangeExpr, kind: Kind) -> Option<(Expr, Option<Expr>)> {
        let Some(to) = &range.to else {
            return self.value_of_kind(&range.from, kind).map(|value| (value, None));
        };
        let from = with_unit_of(&range.from, to);
        // A fault of both ends is said once.
        let from = self.value_of_kind(&from, kind)?;
        let to = self.value_of_kind(to, kind)?;
        self.check_order(&from, &to, range.span())?;
        Some((from, Some(to)))
    }

    fn check_order(&mut self, from: &Expr, to: &Expr, span: Span) -> Option<()> {
        let (Some(low), Some(high)) = (from.constant(), to.constant()) else { return Some(()) };
        if low <= high || from.kind.round().is_some() {
            return Some(());
        }
        let text = self.quoted(span);
        self.error_with_help(
            Code::ReversedRange,
            span,
            format!("the range `{text}` runs from the greater to the lesser value"),
            "write the lesser value first",
        );
        None
    }

    fn quoted(&self, span: Span) -> String {
        let text = self.sources.slice(span).split_whitespace().collect::<Vec<_>>().join(" ");
        if text.chars().count() > 60 { format!("{}…", text.chars().take(59).collect::<String>()) } else { text }
    }

    fn place(&mut self, expr: &tree::Expr) {
        let text = self.quoted(expr.span);
        self.error_with_help(
            Code::Kinds,
            expr.span,
            format!("`{text}` is a place; a condition can ask only whether it is known"),
            format!("write `{text} known` or `{text} unknown`"),
        );
    }

    // Fitting values to kinds

    /// Makes a value one of a kind where a bare zero or an angle can be; says so where it can't.
    fn fit(&mut self, typed: Expr, written: &tree::Expr, kind: Kind) -> Option<Expr> {
        if typed.kind == kind {
            return Some(typed);
        }
        if let Some(number) = literal_of(written).and_then(bare_number) {
            if number.digits == 0 && kind.takes_bare_zero() {
                return Some(Expr { op: Op::Constant(0), kind, span: typed.span });
            }
            if kind.is_quantity() || kind == Kind::Direction {
                self.findings.push(values::needs_unit(number, kind, typed.span));
                return None;
            }
        }
        if typed.kind == Kind::Angle
            && kind == Kind::Direction
            && let (Some(counts), Some(_)) = (typed.constant(), literal_of(written))
        {
            return Some(Expr { op: Op::Constant(counts.rem_euclid(CIRCLE)), kind, span: typed.span });
        }
        let text = self.quoted(written.span);
        let degrees = typed.kind == Kind::Angle && matches!(kind, Kind::Temperature | Kind::Change);
        let finding = Finding::new(
            Code::Kinds,
            written.span,
            format!("`{text}` is {}; here belongs {}", typed.kind.name(), kind.name()),
        );
        self.findings.push(finding.maybe_help(if degrees {
            Some("a temperature is written with its scale: `65 °F` or `18 °C`".to_owned())
        } else if typed.kind == Kind::Temperature && kind == Kind::Change {
            Some("a change is a difference, as in `surface - air`; a let of a bare literal is a temperature".to_owned())
        } else if kind.is_quantity() {
            Some(format!("write for instance `{}`", kind.example()))
        } else {
            None
        }));
        None
    }

    /// Types values that are held against each other, so that all are of one kind.
    fn alike(&mut self, written: &[&tree::Expr]) -> Option<Vec<Expr>> {
        let words = self.words_hint(written);
        let mut typed: Vec<Option<Option<Expr>>> = written.iter().map(|_| None).collect();
        for (at, expr) in written.iter().enumerate() {
            if literal_of(expr).is_none() {
                typed[at] = Some(self.expr(expr, Hint { words, change: false }));
            }
        }
        let known_kinds = typed.iter().flatten().flatten().map(|expr| expr.kind);
        let change = known_kinds.clone().any(|kind| kind == Kind::Change);
        for (at, expr) in written.iter().enumerate() {
            if typed[at].is_none() {
                typed[at] = Some(self.expr(expr, Hint { words, change }));
            }
        }
        let typed: Vec<Expr> = typed.into_iter().map(|slot| slot.flatten()).collect::<Option<_>>()?;
        if let Some(at) = typed.iter().position(|expr| expr.kind == Kind::Place) {
            self.place(written[at]);
            return None;
        }
        let reference = self.reference(&typed, written);
        let kind = typed[reference].kind;
        let mut fitted = Vec::with_capacity(typed.len());
        for (at, expr) in typed.into_iter().enumerate() {
            if expr.kind == kind || literal_of(written[at]).is_some() {
                fitted.push(self.fit_compared(expr, written[at], kind, written[reference])?);
            } else {
                self.mismatch(written[reference], kind, written[at], expr.kind);
                return None;
            }
        }
        Some(fitted)
    }

    fn fit_compared(&mut self, expr: Expr, written: &tree::Expr, kind: Kind, reference: &tree::Expr) -> Option<Expr> {
        let fits_specially = literal_of(written).and_then(bare_number).is_some() || expr.kind == Kind::Angle;
        if expr.kind == kind || fits_specially {
            return self.fit(expr, written, kind);
        }
        self.mismatch(reference, kind, written, expr.kind);
        None
    }

    /// Which of several values says what kind they are: the first that is more than a bare number.
    fn reference(&self, typed: &[Expr], written: &[&tree::Expr]) -> usize {
        let rank = |at: usize| match literal_of(written[at]) {
            None => 0,
            Some(value) if bare_number(value).is_none() && typed[at].kind != Kind::Angle => 1,
            Some(value) if bare_number(value).is_none() => 2,
            Some(_) => 3,
        };
        (0..typed.len()).min_by_key(|&at| (rank(at), at)).unwrap_or(0)
    }

    fn mismatch(&mut self, a: &tree::Expr, a_kind: Kind, b: &tree::Expr, b_kind: Kind) {
        let (a_text, b_text) = (self.quoted(a.span), self.quoted(b.span));
        let message = match (a_kind, b_kind) {
            (Kind::OneOf(_), Kind::OneOf(_)) => format!("`{a_text}` and `{b_text}` are words of different sets"),
            _ => format!("`{a_text}` is {} and `{b_text}` {}; they can't be compared", a_kind.name(), b_kind.name()),
        };
        let changes = matches!((a_kind, b_kind), (Kind::Temperature, Kind::Change) | (Kind::Change, Kind::Temperature));
        let help = changes.then(|| {
            "a temperature is not a change of temperature; write the change as a literal, as in `> 2 °F`".to_owned()
        });
        let finding = Finding::new(Code::Kinds, a.span.to(b.span), message).maybe_help(help);
        let later = if b.span.start >= a.span.start { b.span } else { a.span };
        // A difference over several lines is shown where it ends.
        let span = if self.line(finding.span) == self.line(later) { finding.span } else { later };
        self.findings.push(Finding { span, ..finding });
    }

    /// The kind whose words bare names may be, going by the names and calls among some values.
    fn words_hint(&self, written: &[&tree::Expr]) -> Option<Kind> {
        let kinds = written.iter().filter_map(|expr| self.quick_kind(bare(expr)));
        kinds.into_iter().find(|kind| matches!(kind, Kind::OneOf(_) | Kind::Month | Kind::Direction))
    }

    /// The kind of a name or call, without saying what may be wrong with it.
    fn quick_kind(&self, expr: &tree::Expr) -> Option<Kind> {
        match &expr.node {
            ExprNode::Name(word) => match self.named(word) {
                Some((Named::Own(at), _)) => self.own.get(at).map(|own| own.kind),
                Some((Named::Let(id), _)) => self.let_kinds.get(id.index()).copied().flatten(),
                Some((Named::Ladder(id), _)) => self.ladders.get(id.index()).map(|ladder| Kind::OneOf(ladder.set)),
                Some(_) => None,
                None => Known::reading(&word.text).map(|known| known.entry().kind),
            },
            _ => None,
        }
    }

    // Expressions

    fn expr(&mut self, expr: &tree::Expr, hint: Hint) -> Option<Expr> {
        let span = expr.span;
        match &expr.node {
            ExprNode::Literal(value) => self.literal(value, span, hint),
            ExprNode::Name(word) => self.name(word, hint),
            ExprNode::Call(name, arguments) => self.call(name, arguments, span),
            ExprNode::Bracket(inner) => {
                // Only a literal takes its kind from what stands outside its brackets.
                let change = hint.change && literal_of(inner).is_some();
                self.expr(inner, Hint { change, ..hint }).map(|typed| Expr { span, ..typed })
            }
            ExprNode::Negated(inner) => self.negated(inner, span, hint),
            ExprNode::Chain(first, rest) => match rest.first() {
                Some((Arithmetic::Plus | Arithmetic::Minus, _)) => self.sum(first, rest, span, hint),
                _ => self.product(first, rest, span),
            },
            ExprNode::Compared(first, links) => self.compared(first, links, span),
            ExprNode::Is { left, negated, right, to } => {
                let is = self.is(left, right, to.as_deref(), span)?;
                Some(negate_if(*negated, is, span))
            }
            ExprNode::IsOneOf { left, negated, words } => {
                let is = self.is_one_of(left, words, span)?;
                Some(negate_if(*negated, is, span))
            }
            ExprNode::Known(inner, known) => {
                let inner = self.expr(inner, Hint::default())?;
                Some(yes_no(Op::Known(Box::new(inner), *known), span))
            }
            ExprNode::Changes(inner) => self.changes(inner, span),
            ExprNode::Not(inner) => {
                let inner = self.condition(inner)?;
                Some(fold_not(inner, span))
            }
            ExprNode::And(operands) => {
                let operands = self.conditions(operands)?;
                Some(yes_no(Op::All(operands), span))
            }
            ExprNode::Or(operands) => {
                self.is_a_or_b(operands)?;
                let operands = self.conditions(operands)?;
                Some(yes_no(Op::Any(operands), span))
            }
        }
    }

    fn conditions(&mut self, operands: &[tree::Expr]) -> Option<Vec<Expr>> {
        // All of them are looked at, so that each has its own finding.
        let typed: Vec<Option<Expr>> = operands.iter().map(|operand| self.condition(operand)).collect();
        typed.into_iter().collect()
    }

    /// `mood is sulking or following`: the second word is no condition.
    fn is_a_or_b(&mut self, operands: &[tree::Expr]) -> Option<()> {
        for pair in operands.windows(2) {
            let [before, after] = pair else { continue };
            let (ExprNode::Is { left, right, .. }, Some(word)) = (&before.node, bare_word(after)) else { continue };
            let Some(kind) = self.quick_kind(bare(left)) else { continue };
            if self.word_of(kind, &word.text).is_some() && self.quick_kind(after).is_none() {
                let left = self.quoted(left.span);
                let right = self.quoted(right.span);
                self.error_with_help(
                    Code::Syntax,
                    after.span,
                    format!("`or {}` is no condition of its own", word.text),
                    format!("write `{left} is one of {right}, {}`", word.text),
                );
                return None;
            }
        }
        Some(())
    }

    /// The value of a word of a kind.
    fn word_of(&self, kind: Kind, word: &str) -> Option<i64> {
        match kind {
            Kind::OneOf(_) => values::set_of(&self.sets, kind)?.index(word).and_then(|at| i64::try_from(at).ok()),
            Kind::Month => month_number(word),
            Kind::Direction => compass_counts(word),
            _ => None,
        }
    }

    fn literal(&mut self, value: &LiteralValue, span: Span, hint: Hint) -> Option<Expr> {
        let (op, kind) = match value {
            LiteralValue::YesNo(yes) => (Op::Constant(i64::from(*yes)), Kind::YesNo),
            LiteralValue::Clock(minutes) => (Op::Constant(i64::from(*minutes) * MINUTE), Kind::Clock),
            LiteralValue::Number(number, unit) => {
                let unit = match unit {
                    Some(word) => Some(self.said(values::unit_of(&word.0))?),
                    None => None,
                };
                let kind = match unit {
                    Some(unit) if unit.kind == Kind::Temperature && hint.change => Kind::Change,
                    Some(unit) => unit.kind,
                    None => Kind::Number,
                };
                let counts = values::counts_of(*number, unit, kind, span);
                (Op::Constant(self.said(counts)?), kind)
            }
        };
        Some(Expr { op, kind, span })
    }

    fn said<T>(&mut self, result: Result<T, Finding>) -> Option<T> {
        result.map_err(|finding| self.findings.push(finding)).ok()
    }

    fn name(&mut self, word: &Word, hint: Hint) -> Option<Expr> {
        let span = word.span;
        if let Some((kind, value)) = hint.words.and_then(|kind| Some((kind, self.word_of(kind, &word.text)?))) {
            return Some(Expr { op: Op::Constant(value), kind, span });
        }
        let (op, kind) = match self.named(word) {
            Some((Named::Own(at), _)) => {
                self.use_own(at);
                let kind = self.own.get(at)?.kind;
                (Op::Input(self.input(InputSource::Own(at), kind)), kind)
            }
            Some((Named::Let(id), declared)) => {
                self.use_let(id);
                if id.index() >= self.lets_in_reach {
                    let line = self.line(declared);
                    let message = format!("a let may use only lets above it; `{}` stands in line {line}", word.text);
                    self.error(Code::UnknownName, span, message);
                    return None;
                }
                let kind = self.let_kinds.get(id.index()).copied().flatten()?;
                (Op::Let(id), kind)
            }
            Some((Named::Ladder(id), _)) => (Op::Rung(id), Kind::OneOf(self.ladders.get(id.index())?.set)),
            Some((Named::Aspect, _)) => {
                let message = format!("`{}` is an aspect of the tactic, not a reading", word.text);
                self.error(Code::UnknownName, span, message);
                return None;
            }
            Some((Named::Broken, _)) => return None,
            None => match Known::reading(&word.text) {
                Some(known) => {
                    let kind = known.entry().kind;
                    (Op::Input(self.input(InputSource::Known(known), kind)), kind)
                }
                None => {
                    self.unknown_name(word, hint);
                    return None;
                }
            },
        };
        Some(Expr { op, kind, span })
    }

    /// The name of the reading or ladder that has the words of a kind.
    fn owner_of_words(&self, kind: Kind) -> String {
        let own = self.own.iter().find(|own| own.kind == kind).map(|own| own.name.clone());
        let ladder =
            || self.ladders.iter().find(|ladder| Kind::OneOf(ladder.set) == kind).map(|ladder| ladder.name.clone());
        own.or_else(ladder).unwrap_or_else(|| "light".to_owned())
    }

    fn unknown_name(&mut self, word: &Word, hint: Hint) {
        if self.forgives_names {
            return;
        }
        if let Some(kind @ (Kind::OneOf(_) | Kind::Month | Kind::Direction)) = hint.words {
            let what = self.owner_of_words(kind);
            let near_name = self.nearest_value_name(&word.text);
            let set = values::set_of(&self.sets, kind);
            let finding = values::unknown_word(kind, set, &what, word);
            let offers_word = finding.help.as_deref().is_some_and(|help| help.starts_with("did you mean"));
            let help = match near_name {
                Some(near) if !offers_word => Some(format!("did you mean `{near}`?")),
                _ => finding.help.clone(),
            };
            self.findings.push(Finding { help, ..finding });
            return;
        }
        let message = format!("nothing is named `{}`", word.text);
        let help = if let Some(known) = Known::call(&word.text) {
            Some(format!("`{}` takes something in brackets: {}", known.name(), known.entry().help))
        } else if self.aspect_named(&word.text).is_some() {
            Some(format!("`{}` is an aspect of the tactic, not a reading", word.text))
        } else {
            let near = self.nearest_value_name(&word.text);
            near.map(|near| format!("did you mean `{near}`?")).or_else(|| {
                Some(format!("declare it, as in `reading {} is yes or no`, or ask for one of the catalogue", word.text))
            })
        };
        self.findings.push(Finding::new(Code::UnknownName, word.span, message).maybe_help(help));
    }

    fn negated(&mut self, inner: &tree::Expr, span: Span, hint: Hint) -> Option<Expr> {
        let typed = self.expr(inner, Hint { words: None, ..hint })?;
        if typed.kind.dimension().is_none() {
            let text = self.quoted(inner.span);
            let message = format!("`{text}` is {}; it has no negative", typed.kind.name());
            self.error(Code::Kinds, span, message);
            return None;
        }
        let kind = typed.kind;
        let op = match typed.constant().and_then(i64::checked_neg) {
            Some(value) => Op::Constant(value),
            None => Op::Negate(Box::new(typed)),
        };
        Some(Expr { op, kind, span })
    }

    fn sum(&mut self, first: &tree::Expr, rest: &[(Arithmetic, tree::Expr)], span: Span, hint: Hint) -> Option<Expr> {
        self.dash_range(first, rest)?;
        let change = hint.change || self.added_to_temperature(first, rest);
        let start = self.expr(first, Hint { words: None, change })?;
        let mut kind = start.kind;
        let mut terms = vec![(false, start, first)];
        for (sign, written) in rest {
            let change = matches!(kind, Kind::Temperature | Kind::Change);
            let term = self.expr(written, Hint { words: None, change })?;
            let minus = *sign == Arithmetic::Minus;
            kind = self.sum_kind((kind, first), minus, (term.kind, written))?;
            terms.push((minus, term, written));
        }
        let mut fitted = Vec::new();
        for (minus, term, written) in terms {
            let zero = literal_of(written).and_then(bare_number).is_some_and(|number| number.digits == 0);
            let term = if zero && term.kind == Kind::Number { Expr { kind, ..term } } else { term };
            fitted.push((minus, term));
        }
        let mut fitted = fitted.into_iter();
        let (_, start) = fitted.next()?;
        let rest: Vec<(bool, Expr)> = fitted.collect();
        let constants = rest.iter().map(|(minus, term)| term.constant().map(|value| (*minus, value)));
        let folded = constants.collect::<Option<Vec<_>>>().and_then(|rest| quantity::sum(start.constant()?, &rest));
        let op = folded.map_or_else(|| Op::Sum(Box::new(start), rest), Op::Constant);
        Some(Expr { op, kind, span })
    }

    /// `5 °C + surface`: the literal is added to a temperature, so that it is a change.
    fn added_to_temperature(&mut self, first: &tree::Expr, rest: &[(Arithmetic, tree::Expr)]) -> bool {
        let Some((Arithmetic::Plus, second)) = rest.first() else { return false };
        if literal_of(first).is_none() || literal_of(second).is_some() {
            return false;
        }
        // Looked at for its kind alone; what is wrong with it is said once, when it is typed for itself.
        let (found, changes) = (self.findings.len(), self.changes);
        let kind = self.expr(second, Hint::default()).map(|typed| typed.kind);
        self.findings.truncate(found);
        self.changes = changes;
        kind == Some(Kind::Temperature)
    }

    /// `3-10 ft` is read as a difference, and was meant as a range.
    fn dash_range(&mut self, first: &tree::Expr, rest: &[(Arithmetic, tree::Expr)]) -> Option<()> {
        let [(Arithmetic::Minus, last)] = rest else { return Some(()) };
        let counts = |value: &LiteralValue| match value {
            LiteralValue::Number(number, Some(word)) => {
                let unit = crate::vocabulary::unit::Unit::find(&word.0.text)?;
                Some((unit.kind, number.counts(unit.counts, unit.zero)?))
            }
            _ => None,
        };
        let range = match (literal_of(first), literal_of(last)) {
            (Some(LiteralValue::Number(_, None)), Some(LiteralValue::Number(_, Some(_))))
            | (Some(LiteralValue::Clock(_)), Some(LiteralValue::Clock(_))) => true,
            // `3ft-10ft`: nobody takes the greater of two plain lengths or speeds from the lesser.
            (Some(a), Some(b)) => match (counts(a), counts(b)) {
                (Some((kind, a)), Some((other, b))) => {
                    kind == other && matches!(kind, Kind::Length | Kind::Speed | Kind::Duration) && a < b
                }
                _ => false,
            },
            _ => false,
        };
        if !range {
            return Some(());
        }
        let (from, to) = (self.quoted(first.span), self.quoted(last.span));
        let span = first.span.to(last.span);
        self.error_with_help(
            Code::Kinds,
            span,
            format!("`{from} - {to}` takes one from the other"),
            format!("write a range with `to`: `{from} to {to}`"),
        );
        None
    }

    fn sum_kind(
        &mut self,
        (a, first): (Kind, &tree::Expr),
        minus: bool,
        (b, term): (Kind, &tree::Expr),
    ) -> Option<Kind> {
        use Kind::{Change, Number, Temperature};
        let zero =
            |written: &tree::Expr| literal_of(written).and_then(bare_number).is_some_and(|number| number.digits == 0);
        let kind = match (a, b) {
            (Temperature, Change) => Some(Temperature),
            (Change, Temperature) if !minus => Some(Temperature),
            (Temperature, Temperature) if minus => Some(Change),
            (Temperature, Temperature) => None,
            (a, b) if a == b && a.dimension().is_some() => Some(a),
            (a, Number) if zero(term) && a.dimension().is_some() => Some(a),
            (Number, b) if zero(first) && b.dimension().is_some() => Some(b),
            _ => None,
        };
        if kind.is_some() {
            return kind;
        }
        let span = first.span.to(term.span);
        let text = self.quoted(span);
        let text_b = self.quoted(term.span);
        let (message, help) = match (a, b) {
            (Temperature, Temperature) => (
                format!("`{text}` adds two temperatures"),
                Some("a change may be added to a temperature: a literal, or a difference of two".to_owned()),
            ),
            (Kind::YesNo, _) | (_, Kind::YesNo) => (
                format!("`{text}` adds {} and {}", a.name(), b.name()),
                Some("join conditions with `and` or `or`".to_owned()),
            ),
            _ => {
                let joined = if minus { "taken from" } else { "added to" };
                (format!("`{text_b}` is {} and can't be {joined} {}", b.name(), a.name()), None)
            }
        };
        let at = if self.line(span) == self.line(term.span) { span } else { term.span };
        self.findings.push(Finding::new(Code::Kinds, at, message).maybe_help(help));
        None
    }

    fn product(&mut self, first: &tree::Expr, rest: &[(Arithmetic, tree::Expr)], span: Span) -> Option<Expr> {
        self.vulgar_fraction(first, rest)?;
        let hint = Hint { words: None, change: true };
        let start = self.expr(first, hint)?;
        let mut kind = self.factor_kind(start.kind, first)?;
        let mut factors = Vec::new();
        for (sign, written) in rest {
            let factor = self.expr(written, hint)?;
            let factor_kind = self.factor_kind(factor.kind, written)?;
            let over = *sign == Arithmetic::Over;
            kind = if over { kind.over(factor_kind)? } else { kind.times(factor_kind)? };
            factors.push((over, factor));
        }
        let constants = factors.iter().map(|(over, factor)| factor.constant().map(|value| (*over, value)));
        let folded = constants.collect::<Option<Vec<_>>>().and_then(|rest| quantity::product(start.constant()?, &rest));
        let op = folded.map_or_else(|| Op::Product(Box::new(start), factors), Op::Constant);
        Some(Expr { op, kind, span })
    }

    /// `1/2 in` is read as a quotient by a length, and was meant as half an inch.
    fn vulgar_fraction(&mut self, first: &tree::Expr, rest: &[(Arithmetic, tree::Expr)]) -> Option<()> {
        let [(Arithmetic::Over, last)] = rest else { return Some(()) };
        let (Some(LiteralValue::Number(a, None)), Some(LiteralValue::Number(b, Some(unit)))) =
            (literal_of(first), literal_of(last))
        else {
            return Some(());
        };
        let number = |digits: f64, places: u32| digits / libm::pow(10.0, f64::from(places));
        let value = number(a.digits as f64, a.places) / number(b.digits as f64, b.places);
        let written = self.quoted(first.span.to(last.span));
        let help = if value.is_finite() {
            format!("write `{} {}`", libm::round(value * 10_000.0) / 10_000.0, unit.0.text)
        } else {
            "write it with a decimal point".to_owned()
        };
        self.error_with_help(
            Code::BadNumber,
            first.span.to(last.span),
            format!("`{written}` divides by {}", self.quoted(last.span)),
            help,
        );
        None
    }

    fn factor_kind(&mut self, kind: Kind, written: &tree::Expr) -> Option<Kind> {
        if kind.dimension().is_some() {
            return Some(kind);
        }
        let text = self.quoted(written.span);
        let help = (kind == Kind::Temperature)
            .then(|| "a difference of two temperatures can be, as in `(surface - air) / 2`".to_owned());
        let message = format!("`{text}` is {}; it can't be multiplied or divided", kind.name());
        self.findings.push(Finding::new(Code::Kinds, written.span, message).maybe_help(help));
        None
    }

    fn compared(&mut self, first: &tree::Expr, links: &[(Compare, tree::Expr)], span: Span) -> Option<Expr> {
        if links.iter().any(|(compare, _)| compare.ascends() != links[0].0.ascends()) {
            self.error_with_help(
                Code::Syntax,
                span,
                "a chain of comparisons runs in one direction",
                "write `a < b < c` or `a > b > c`, or join two comparisons with `and`",
            );
            return None;
        }
        let written: Vec<&tree::Expr> = std::iter::once(first).chain(links.iter().map(|(_, expr)| expr)).collect();
        let typed = self.alike(&written)?;
        self.check_has_order(typed[0].kind, first.span)?;
        for (expr, other) in typed.iter().zip(typed.iter().skip(1)) {
            self.check_plausible(expr, other);
            self.check_plausible(other, expr);
        }
        let mut parts: Vec<Expr> = Vec::new();
        for (at, (compare, _)) in links.iter().enumerate() {
            let (a, b) = (typed[at].clone(), typed[at + 1].clone());
            let span = a.span.to(b.span);
            parts.push(yes_no(Op::Compare(*compare, Box::new(a), Box::new(b)), span));
        }
        if parts.len() == 1 {
            parts.pop().map(|part| Expr { span, ..part })
        } else {
            Some(yes_no(Op::All(parts), span))
        }
    }

    fn check_has_order(&mut self, kind: Kind, span: Span) -> Option<()> {
        let ordered = match kind {
            Kind::OneOf(_) => values::set_of(&self.sets, kind).is_some_and(|set| set.ordered),
            Kind::Clock | Kind::Month => true,
            kind => kind.is_quantity(),
        };
        if ordered {
            return Some(());
        }
        let text = self.quoted(span);
        let help = match kind {
            Kind::OneOf(_) => {
                format!("ask `{text} is one of ...`; words have an order only where they are parted by `<`")
            }
            Kind::Direction => format!("ask for a range, as in `{text} is 315° to 45°`"),
            _ => format!("ask for it as it is: `{text}` or `not {text}`"),
        };
        self.error_with_help(Code::Kinds, span, format!("`{text}` has no order"), help);
        None
    }

    fn is(&mut self, left: &tree::Expr, right: &tree::Expr, to: Option<&tree::Expr>, span: Span) -> Option<Expr> {
        let Some(to) = to else {
            let typed = self.alike(&[left, right])?;
            let [left_typed, right_typed] = <[Expr; 2]>::try_from(typed).ok()?;
            self.check_plausible(&left_typed, &right_typed);
            return Some(yes_no(Op::Same(Box::new(left_typed), Box::new(right_typed)), span));
        };
        let from = with_unit_of(right, to);
        let typed = self.alike(&[left, &from, to])?;
        let [value, from, to] = <[Expr; 3]>::try_from(typed).ok()?;
        if value.kind.round().is_none() {
            self.check_has_order(value.kind, left.span)?;
        }
        self.check_order(&from, &to, from.span.to(to.span))?;
        self.check_plausible(&value, &from);
        self.check_plausible(&value, &to);
        Some(yes_no(Op::Within(Box::new(value), Box::new(from), Box::new(to)), span))
    }

    fn is_one_of(&mut self, left: &tree::Expr, words: &[tree::Expr], span: Span) -> Option<Expr> {
        let written: Vec<&tree::Expr> = std::iter::once(left).chain(words.iter()).collect();
        let mut typed = self.alike(&written)?.into_iter();
        let value = typed.next()?;
        let mut constants = Vec::new();
        for (expr, written) in typed.zip(words) {
            let Some(constant) = expr.constant() else {
                self.error(Code::Kinds, written.span, "`is one of` takes words and plain values");
                return None;
            };
            self.check_plausible(&value, &expr);
            constants.push(constant);
        }
        Some(yes_no(Op::OneOf(Box::new(value), constants), span))
    }

    fn changes(&mut self, inner: &tree::Expr, span: Span) -> Option<Expr> {
        if !self.in_move {
            self.error_with_help(
                Code::Misplaced,
                span,
                "`changes` stands only in the moves of a ladder",
                "write it behind `step down if`, `step up if` or `start over if`",
            );
            return None;
        }
        let inner = self.any_value(inner)?;
        let id = ChangesId(self.changes);
        self.changes += 1;
        Some(yes_no(Op::Changes(id, Box::new(inner)), span))
    }

    // Calls

    fn call(&mut self, name: &Word, arguments: &[tree::Expr], span: Span) -> Option<Expr> {
        let Some(known) = Known::call(&name.text) else {
            if !self.forgives_names {
                let calls = Known::ALL.into_iter().filter(|known| known.entry().takes.is_some()).map(Known::name);
                let help = crate::vocabulary::nearest::nearest(&name.text, calls)
                    .map(|near| format!("did you mean `{near}`?"));
                let message = format!("there is nothing like `{}(...)`", name.text);
                self.findings.push(Finding::new(Code::UnknownName, name.span, message).maybe_help(help));
            }
            return None;
        };
        let takes = known.entry().takes?;
        let wanted = if takes == Takes::ReadingAndWindow { 2 } else { 1 };
        if arguments.len() != wanted {
            let what = match takes {
                Takes::Depth => "a depth",
                Takes::Level => "a temperature, an oxygen content or a share of light",
                Takes::Window => "a time",
                Takes::ReadingAndWindow => "a reading and a time",
            };
            self.error_with_help(
                Code::Arguments,
                span,
                format!("`{}` takes {what} in its brackets", known.name()),
                known.entry().help,
            );
            return None;
        }
        match takes {
            Takes::Depth => {
                let argument = self.value_of_kind(&arguments[0], Kind::Length)?;
                self.call_of(known, argument, span)
            }
            Takes::Level => {
                let argument = self.expr(&arguments[0], Hint::default())?;
                if !matches!(argument.kind, Kind::Temperature | Kind::Oxygen | Kind::Share) {
                    let text = self.quoted(arguments[0].span);
                    self.error_with_help(
                        Code::Arguments,
                        arguments[0].span,
                        format!(
                            "`{text}` is {}; `{}` takes a temperature, an oxygen content or a share of light",
                            argument.kind.name(),
                            known.name()
                        ),
                        "write for instance `depth_of(62 °F)`, `depth_of(5 mg/L)` or `depth_of(1 %)`",
                    );
                    return None;
                }
                self.call_of(known, argument, span)
            }
            Takes::Window => {
                let window = self.window(&arguments[0])?;
                let kind = known.entry().kind;
                Some(Expr { op: Op::Input(self.input(InputSource::Strikes(window), kind)), kind, span })
            }
            Takes::ReadingAndWindow => self.change_call(&arguments[0], &arguments[1], span),
        }
    }

    fn call_of(&mut self, known: Known, argument: Expr, span: Span) -> Option<Expr> {
        let kind = known.entry().kind;
        let op = match self.known_constant(&argument) {
            Some(value) => Op::Input(self.input(InputSource::Call(known, argument.kind, value), kind)),
            None => {
                self.works_out_calls = true;
                Op::Call(known, Box::new(argument))
            }
        };
        Some(Expr { op, kind, span })
    }

    /// The value of an expression that is a constant, by way of lets too.
    pub fn known_constant(&self, expr: &Expr) -> Option<i64> {
        match &expr.op {
            Op::Constant(value) => Some(*value),
            Op::Let(id) => {
                let definition = self.lets.get(id.index()).filter(|definition| definition.timing.is_none())?;
                self.known_constant(&definition.value)
            }
            _ => None,
        }
    }

    /// A window: a fixed time of more than zero.
    fn window(&mut self, written: &tree::Expr) -> Option<i64> {
        let typed = self.value_of_kind(written, Kind::Duration)?;
        match self.known_constant(&typed) {
            Some(window) if window > 0 => Some(window),
            _ => {
                let text = self.quoted(written.span);
                self.error_with_help(
                    Code::Arguments,
                    written.span,
                    format!("`{text}` is no fixed time of more than zero"),
                    "write for instance `30 min`",
                );
                None
            }
        }
    }

    fn change_call(&mut self, reading: &tree::Expr, window: &tree::Expr, span: Span) -> Option<Expr> {
        let input = self.reading_input(reading);
        let window = self.window(window);
        let (source, kind) = input?;
        let of = self.input(source, kind);
        let kind = if kind == Kind::Temperature { Kind::Change } else { kind };
        Some(Expr { op: Op::Input(self.input(InputSource::Change(of, window?), kind)), kind, span })
    }

    /// The input that a reading's name stands for, where a change of it can be asked.
    pub fn reading_input(&mut self, written: &tree::Expr) -> Option<(InputSource, Kind)> {
        let typed = self.expr(bare(written), Hint::default())?;
        let session = [Known::Strikeless, Known::LinesIn];
        let source = match typed.op {
            Op::Input(id) => self.inputs.get(id.index()).map(|input| input.source),
            _ => None,
        };
        let text = self.quoted(written.span);
        let source = source.filter(|source| match source {
            InputSource::Known(known) => !session.contains(known),
            InputSource::Own(_) => true,
            _ => false,
        });
        let Some(source) = source else {
            self.error_with_help(
                Code::Arguments,
                written.span,
                format!("`{text}` is no reading whose change can be asked"),
                "write the name of a reading, as in `change(surface, 2 h)`",
            );
            return None;
        };
        if !typed.kind.is_quantity() {
            let message = format!("`{text}` is {}; only quantities have changes", typed.kind.name());
            self.error(Code::Kinds, written.span, message);
            return None;
        }
        Some((source, typed.kind))
    }

    // Plausibility

    /// Warns where a constant that a reading is held against is outside what is physically plausible.
    fn check_plausible(&mut self, reading: &Expr, constant: &Expr) {
        let (Op::Input(id), Some(value)) = (&reading.op, self.known_constant(constant)) else { return };
        let Some(source) = self.inputs.get(id.index()).map(|input| input.source) else { return };
        let within = |range: Option<(i64, i64)>| range.is_none_or(|(low, high)| (low..=high).contains(&value));
        match source {
            InputSource::Known(known) | InputSource::Call(known, ..) if !within(known.entry().plausible) => {
                self.implausible(known.name(), known.entry().plausible_text, constant.span);
            }
            InputSource::Own(at) => {
                let own = self.own.get(at).filter(|own| !within(own.plausible)).map(|own| own.name.clone());
                if let Some(name) = own {
                    self.implausible(&name, "", constant.span);
                }
            }
            _ => {}
        }
    }

    /// Warns of a value that can't physically be.
    pub fn implausible(&mut self, name: &str, range: &str, span: Span) {
        let written = self.quoted(span);
        let message = format!("`{written}` is outside what is physically plausible for `{name}`");
        let help = if range.is_empty() {
            "the range stands where the reading is declared".to_owned()
        } else {
            format!("`{name}` runs from {range}")
        };
        self.error_with_help(Code::Implausible, span, message, help);
    }
}

/// A bare lower end takes the unit of an upper end that is a number with one.
fn with_unit_of(from: &tree::Expr, to: &tree::Expr) -> tree::Expr {
    match (&from.node, &to.node) {
        (
            ExprNode::Literal(LiteralValue::Number(number, None)),
            ExprNode::Literal(LiteralValue::Number(_, Some(unit))),
        ) => {
            let node = ExprNode::Literal(LiteralValue::Number(*number, Some(unit.clone())));
            tree::Expr { node, span: from.span }
        }
        _ => from.clone(),
    }
}

fn yes_no(op: Op, span: Span) -> Expr {
    Expr { op, kind: Kind::YesNo, span }
}

fn fold_not(inner: Expr, span: Span) -> Expr {
    yes_no(Op::Not(Box::new(inner)), span)
}

fn negate_if(negated: bool, expr: Expr, span: Span) -> Expr {
    if negated { yes_no(Op::Not(Box::new(expr)), span) } else { expr }
}
