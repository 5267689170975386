//! Rules and ladders: what they decide, shift, limit, stop and move.

use std::collections::HashSet;

use super::names::Checker;
use crate::findings::{Code, Finding};
use crate::program::expr::Expr;
use crate::program::{Bound, Decide, Item, Limit, MoveDef, RuleDef, Run, RungDef, ShiftDef, Wish};
use crate::syntax::tree::{self, Clause, ExprNode, KeepItem, LimitSpec, RunItem, RunValue, Statement, Word};
use crate::text::Span;
use crate::vocabulary::aspect::{AspectId, Shift};

impl Checker {
    /// Lowers rules and ladders, and gives their order in the file.
    pub fn lower_rules(&mut self, statements: &[Statement]) -> Vec<Item> {
        let mut order = Vec::new();
        let mut ladders = 0;
        let mut names: std::collections::BTreeMap<String, Span> = std::collections::BTreeMap::new();
        for statement in statements {
            match statement {
                Statement::Rule(rule) => {
                    if let Some(earlier) = names.get(&rule.name.text).copied() {
                        self.twice(Code::NameTwice, "the rule", &rule.name.text, rule.name.span, earlier);
                    }
                    names.entry(rule.name.text.clone()).or_insert(rule.name.span);
                    self.check_not_empty(&rule.name);
                    let lowered = self.rule(rule);
                    order.push(Item::Rule(self.rules.len()));
                    self.rules.push(lowered);
                }
                Statement::Ladder(ladder) => {
                    self.ladder(ladders, ladder);
                    order.push(Item::Ladder(ladders));
                    ladders += 1;
                }
                _ => {}
            }
        }
        order
    }

    /// A name in quotes may be as long as its author likes, but not empty.
    pub fn check_not_empty(&mut self, name: &tree::Text) {
        if name.text.trim().is_empty() {
            self.error(Code::Incomplete, name.span, "a name has at least one character");
        }
    }

    fn rule(&mut self, rule: &tree::Rule) -> RuleDef {
        let mut lowered = RuleDef {
            name: rule.name.text.clone(),
            condition: None,
            run: Run::default(),
            limits: Vec::new(),
            stops: Vec::new(),
            cautions: Vec::new(),
            because: None,
            span: rule.name.span,
        };
        let mut first_if: Option<Span> = None;
        let mut because: Option<Span> = None;
        for (at, clause) in rule.clauses.iter().enumerate() {
            match clause {
                Clause::If(keyword, condition) => {
                    if let Some(earlier) = first_if {
                        let line = self.line(earlier);
                        self.error_with_help(
                            Code::ClauseTwice,
                            keyword.span,
                            format!("a rule has one `if`; this rule's stands in line {line}"),
                            "join the two conditions with `and`",
                        );
                    } else if at > 0 {
                        self.error_with_help(
                            Code::Misplaced,
                            keyword.span,
                            "`if` comes first in a rule",
                            "write the condition straight behind the rule's name",
                        );
                    }
                    first_if.get_or_insert(keyword.span);
                    lowered.condition = self.condition(condition);
                }
                Clause::Run(_, items) => self.run_items(items, &mut lowered.run),
                Clause::Keep(_, items) => {
                    for item in items {
                        let limit = self.limit(item);
                        lowered.limits.extend(limit);
                    }
                }
                Clause::Stop(_, text) => lowered.stops.push(text.text.clone()),
                Clause::Caution(_, text) => lowered.cautions.push(text.text.clone()),
                Clause::Because(keyword, text) => {
                    if let Some(earlier) = because {
                        let line = self.line(earlier);
                        let message = format!("a rule has one `because`; this rule's stands in line {line}");
                        self.error(Code::ClauseTwice, keyword.span, message);
                    }
                    because.get_or_insert(keyword.span);
                    lowered.because = Some(text.text.clone());
                }
            }
        }
        let does_something = rule.clauses.iter().any(|clause| !matches!(clause, Clause::If(..) | Clause::Because(..)));
        if !does_something {
            self.error_with_help(
                Code::Incomplete,
                rule.name.span,
                format!("the rule `{}` does nothing", rule.name.text),
                "a rule has at least one of `run`, `keep`, `stop` and `caution`",
            );
        }
        lowered
    }

    fn run_items(&mut self, items: &[RunItem], run: &mut Run) {
        for item in items {
            match item {
                RunItem::Shift { word, by } => {
                    let shift = self.shift_item(word, by);
                    run.shifts.extend(shift);
                }
                RunItem::Decide { aspect, value } => {
                    let Some(decide) = self.decide(aspect, value) else { continue };
                    if let Some(earlier) = run.decision(decide.aspect).map(|decision| decision.span) {
                        let line = self.line(earlier);
                        let message = format!("`{}` is decided already, in line {line}", aspect.text);
                        self.error_with_help(
                            Code::AspectTwice,
                            aspect.span,
                            message,
                            "name alternatives with `or`, or write a second rule",
                        );
                        continue;
                    }
                    run.decides.push(decide);
                }
            }
        }
    }

    fn shift_item(&mut self, word: &Word, by: &tree::Expr) -> Option<ShiftDef> {
        let Some(shift) = Shift::find(&word.text) else {
            let near = crate::vocabulary::nearest::nearest(
                &word.text,
                crate::vocabulary::aspect::SHIFTS.iter().map(|shift| shift.word),
            );
            let help = near.map_or_else(
                || "the shifts are deeper, shallower, faster, slower, larger, smaller, longer and shorter".to_owned(),
                |near| format!("did you mean `{near}`?"),
            );
            self.error_with_help(Code::UnknownWord, word.span, format!("`{}` is no shift", word.text), help);
            return None;
        };
        let kind = self.aspects.get(shift.aspect.index())?.range_kind()?;
        let span = word.span.to(by.span);
        let by = self.value_of_kind(by, kind)?;
        Some(ShiftDef { aspect: shift.aspect, sign: shift.sign, word: shift.word, by, span })
    }

    /// The aspect of a word, or a finding with the nearest.
    pub fn known_aspect(&mut self, word: &Word) -> Option<AspectId> {
        let aspect = self.aspect_named(&word.text);
        if aspect.is_none() {
            if let Some(shift) = Shift::find(&word.text) {
                let message = format!("`{}` needs `by` and an amount", word.text);
                let help = format!("write for instance `{} by {}`", shift.word, "4 ft");
                self.error_with_help(Code::Syntax, word.span, message, help);
            } else {
                self.unknown_aspect(word);
            }
        }
        aspect
    }

    fn decide(&mut self, word: &Word, value: &RunValue) -> Option<Decide> {
        let aspect = self.known_aspect(word)?;
        let wish = match (self.aspects.get(aspect.index())?.range_kind(), value) {
            (Some(kind), RunValue::Range(range)) => {
                let (from, to) = self.range_of_kind(range, kind)?;
                Wish::Range(from, to)
            }
            (None, RunValue::Words(words)) => Wish::Words(self.wish_words(aspect, words)?),
            (None, RunValue::Range(range)) => match (&range.from.node, &range.to) {
                (ExprNode::Name(name), None) => Wish::Words(vec![self.aspect_word(aspect, name)?]),
                _ => {
                    let name = &self.aspects[aspect.index()].name;
                    let example = self.aspects[aspect.index()].words().first().cloned().unwrap_or_default();
                    let message = format!("`{name}` is decided by words, not by a value");
                    let help = format!("write for instance `{name} {example}`");
                    self.error_with_help(Code::Kinds, range.span(), message, help);
                    return None;
                }
            },
            (Some(_), RunValue::Words(words)) => {
                let span = words.first().map_or(word.span, |first| first.span);
                self.error_with_help(
                    Code::Kinds,
                    span,
                    format!("`{}` is decided by one range, not by alternatives", word.text),
                    "write a range with `to`, or rules for the single cases",
                );
                return None;
            }
        };
        Some(Decide { aspect, wish, span: word.span })
    }

    fn wish_words(&mut self, aspect: AspectId, words: &[Word]) -> Option<Vec<usize>> {
        let mut chosen = Vec::new();
        let mut seen = HashSet::new();
        for word in words {
            let at = self.aspect_word(aspect, word);
            match at {
                Some(at) if !seen.insert(at) => {
                    self.error(Code::NameTwice, word.span, format!("`{}` stands twice here", word.text));
                }
                Some(at) => chosen.push(at),
                None => {}
            }
        }
        (!chosen.is_empty()).then_some(chosen)
    }

    fn limit(&mut self, item: &KeepItem) -> Option<Limit> {
        let aspect = self.known_aspect(&item.aspect)?;
        let range = self.aspects.get(aspect.index())?.range_kind();
        let name = item.aspect.text.clone();
        let bound = match (&item.limit, range) {
            (LimitSpec::AtLeast(amount), Some(kind)) => Bound::AtLeast(self.value_of_kind(amount, kind)?),
            (LimitSpec::AtMost(amount), Some(kind)) => Bound::AtMost(self.value_of_kind(amount, kind)?),
            (LimitSpec::Not(word), None) => Bound::Not(self.aspect_word(aspect, word)?),
            (LimitSpec::Not(_), Some(_)) => {
                let finding =
                    Finding::new(Code::Kinds, item.span.0, format!("`{name}` is limited by values, not words"))
                        .help(format!("write `keep {name} at least ...` or `keep {name} at most ...`"));
                self.findings.push(finding);
                return None;
            }
            (_, None) => {
                let finding =
                    Finding::new(Code::Kinds, item.span.0, format!("`{name}` is limited by words, not values"))
                        .help(format!("write `keep {name} not ...`"));
                self.findings.push(finding);
                return None;
            }
        };
        Some(Limit { aspect, bound, span: item.span.0 })
    }

    fn ladder(&mut self, at: usize, ladder: &tree::Ladder) {
        let mut rungs = Vec::new();
        for rung in &ladder.rungs {
            let mut run = Run::default();
            self.run_items(&rung.run, &mut run);
            let only_if = rung.only_if.as_ref().and_then(|condition| self.condition(condition));
            rungs.push(RungDef {
                name: rung.name.text.to_string(),
                run,
                only_if,
                because: rung.because.as_ref().map(|text| text.text.clone()),
                span: rung.name.span,
            });
        }
        let mut moves = Vec::new();
        self.in_move = true;
        for step in &ladder.moves {
            let condition: Option<Expr> = self.condition(&step.condition);
            if let Some(condition) = condition {
                moves.push(MoveDef { direction: step.direction, condition, span: step.span.0 });
            }
        }
        self.in_move = false;
        if let Some(definition) = self.ladders.get_mut(at) {
            definition.rungs = rungs;
            definition.moves = moves;
        }
    }
}
