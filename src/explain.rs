//! Program and outcome to the reasons: names, what would settle what is unknown, thresholds near by.

use std::cmp::Ordering;

use serde::Serialize;

use crate::engine::eval::Scene;
use crate::engine::{Mark, Outcome, Readings, Source, State, Verdict, decide};
use crate::program::expr::{Expr, InputId, Op};
use crate::program::{Bound, InputSource, Program, Run, Wish, is_small};
use crate::syntax::tree::Compare;
use crate::vocabulary::aspect::AspectId;
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::print;
use crate::vocabulary::quantity::{HOUR, MINUTE, PER_UNIT};
use crate::vocabulary::time::Instant;

/// A reading that would settle something.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Needed {
    /// The reading, or call, by name.
    pub reading: String,
}

/// What a rule or rung runs.
pub fn run_of(program: &Program, source: Source) -> Option<&Run> {
    match source {
        Source::Rule(at) => program.rules.get(at).map(|rule| &rule.run),
        Source::Rung(ladder, rung) => program.ladders.get(ladder)?.rungs.get(rung).map(|rung| &rung.run),
    }
}

/// The expressions of a rule or rung that bear on an aspect: its condition, its wish, its shifts and its limits.
pub fn exprs_of(program: &Program, source: Source, aspect: AspectId) -> Vec<&Expr> {
    let mut exprs: Vec<&Expr> = Vec::new();
    match source {
        Source::Rule(at) => {
            let Some(rule) = program.rules.get(at) else { return exprs };
            exprs.extend(&rule.condition);
            for limit in rule.limits.iter().filter(|limit| limit.aspect == aspect) {
                match &limit.bound {
                    Bound::AtLeast(expr) | Bound::AtMost(expr) => exprs.push(expr),
                    Bound::Not(_) => {}
                }
            }
        }
        Source::Rung(ladder, rung) => {
            let rung = program.ladders.get(ladder).and_then(|ladder| ladder.rungs.get(rung));
            exprs.extend(rung.and_then(|rung| rung.only_if.as_ref()));
        }
    }
    let Some(run) = run_of(program, source) else { return exprs };
    if let Some(Wish::Range(from, to)) = run.decision(aspect).map(|decide| &decide.wish) {
        exprs.push(from);
        exprs.extend(to);
    }
    exprs.extend(run.shifts.iter().filter(|shift| shift.aspect == aspect).map(|shift| &shift.by));
    exprs
}

/// Calls a function with every expression within some, those of the lets they name included.
pub fn visit_all<'p>(program: &'p Program, exprs: &[&'p Expr], see: &mut dyn FnMut(&'p Expr)) {
    let mut seen = vec![false; program.lets.len()];
    let mut pending = exprs.to_vec();
    while let Some(expr) = pending.pop() {
        expr.visit(&mut |inner| {
            if let Op::Let(id) = inner.op
                && let Some(definition) = program.lets.get(id.index())
                && !std::mem::replace(&mut seen[id.index()], true)
            {
                pending.push(&definition.value);
            }
            see(inner);
        });
    }
}

/// The value of an expression outside a move.
pub fn value(
    program: &Program,
    readings: &dyn Readings,
    lets: &[Option<i64>],
    rungs: &[Option<usize>],
    expr: &Expr,
) -> Option<i64> {
    Scene { program, readings, lets, rungs, changes: &[], mark: None }.value(expr)
}

/// The readings that would settle an unknown expression: those that are unknown and that it hangs on.
pub fn needed(
    program: &Program,
    readings: &dyn Readings,
    lets: &[Option<i64>],
    rungs: &[Option<usize>],
    expr: &Expr,
) -> Vec<Needed> {
    let scene = Scene { program, readings, lets, rungs, changes: &[], mark: None };
    let mut search = Search { scene, found: Vec::new(), seen_lets: vec![false; program.lets.len()] };
    let mut pending = vec![expr];
    while let Some(expr) = pending.pop() {
        search.look(expr, &mut pending);
    }
    search.found
}

struct Search<'a> {
    scene: Scene<'a>,
    found: Vec<Needed>,
    seen_lets: Vec<bool>,
}

impl<'a> Search<'a> {
    fn add(&mut self, reading: String) {
        let needed = Needed { reading };
        if !self.found.contains(&needed) {
            self.found.push(needed);
        }
    }

    fn look(&mut self, expr: &'a Expr, pending: &mut Vec<&'a Expr>) {
        if self.scene.value(expr).is_some() {
            return;
        }
        let program = self.scene.program;
        match &expr.op {
            Op::Input(id) => {
                if let Some(input) = program.inputs.get(id.index()) {
                    match input.source {
                        InputSource::Change(of, _) if self.scene.readings.input(of).is_none() => {
                            self.add(program.input_name(program.inputs[of.index()].source));
                        }
                        source => self.add(program.input_name(source)),
                    }
                }
            }
            Op::Call(known, argument) => match self.scene.value(argument) {
                Some(value) => self.add(format!("{}({})", known.name(), program.exact(value, argument.kind))),
                None => pending.push(argument),
            },
            Op::Let(id) => {
                if !std::mem::replace(&mut self.seen_lets[id.index()], true) {
                    let definition = &program.lets[id.index()];
                    if definition.timing.is_some() && self.scene.value(&definition.value).is_some() {
                        self.add(format!("more time ({})", definition.name));
                    } else {
                        pending.push(&definition.value);
                    }
                }
            }
            Op::Rung(id) => {
                let name = program.ladders.get(id.index()).map_or("", |ladder| &ladder.name);
                self.add(format!("an open rung of {name}"));
            }
            Op::Sum(first, rest) | Op::Product(first, rest) => {
                pending.extend(rest.iter().rev().map(|(_, expr)| expr));
                pending.push(first);
            }
            Op::Compare(_, a, b) | Op::Same(a, b) => pending.extend([&**b, &**a]),
            Op::Within(value, from, to) => pending.extend([&**to, &**from, &**value]),
            Op::Negate(inner) | Op::OneOf(inner, _) | Op::Known(inner, _) | Op::Changes(_, inner) | Op::Not(inner) => {
                pending.push(inner);
            }
            Op::All(list) | Op::Any(list) => pending.extend(list.iter().rev()),
            Op::Constant(_) => {}
        }
    }
}

/// A threshold near by.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Near {
    /// The reading.
    pub reading: String,
    /// What it is now.
    pub now: String,
    /// The threshold.
    pub at: String,
    /// Where the call changes: `at` the threshold, `above` or `below` it.
    pub side: &'static str,
    /// What the call would be beyond it, where it differs.
    pub becomes: Vec<String>,
}

/// Most thresholds near by that are told.
const MOST_NEAR: usize = 3;

/// Most rules that are tried again, over all questions of what would be called instead.
const MOST_TRIED: usize = 1_000_000;

/// How often a program's rules are tried to see what would be called instead, so that advice stays quick.
pub fn most_tries(program: &Program) -> usize {
    MOST_TRIED / program.rules.len().max(1)
}

/// How far a threshold may lie from a reading and still be near by.
fn nearness(kind: Kind, value: i64) -> Option<i64> {
    Some(match kind {
        Kind::Temperature | Kind::Change => 2 * PER_UNIT,
        Kind::Length => (value.abs() / 4).clamp(PER_UNIT / 20, 3 * PER_UNIT),
        Kind::Speed => (value.abs() / 4).clamp(PER_UNIT / 10, 2 * PER_UNIT),
        Kind::Duration => 15 * MINUTE,
        Kind::Clock => HOUR / 2,
        Kind::Angle => 3 * PER_UNIT,
        Kind::Share => PER_UNIT / 10,
        Kind::Pressure => 200 * PER_UNIT,
        Kind::Oxygen => PER_UNIT / 1000,
        _ => return None,
    })
}

/// Thresholds near by at which the call changes: each is tried on the engine before it is told.
pub fn near(program: &Program, readings: &dyn Readings, state: &State, outcome: &Outcome) -> Vec<Near> {
    let mut thresholds = Vec::new();
    for rule in &program.rules {
        if let Some(condition) = &rule.condition {
            condition.visit(&mut |expr| threshold(expr, &mut thresholds));
        }
    }
    for definition in program.lets.iter().filter(|definition| definition.timing.is_none()) {
        definition.value.visit(&mut |expr| threshold(expr, &mut thresholds));
    }
    let mut candidates: Vec<(u128, InputId, i64, i64, Kind)> = Vec::new();
    for (id, limit, kind) in thresholds {
        let Some(now) = readings.input(id) else { continue };
        let distance = limit.abs_diff(now);
        let close = nearness(kind, now).is_some_and(|near| distance <= near.unsigned_abs());
        if close && !candidates.iter().any(|(_, other, value, ..)| *other == id && *value == limit) {
            let scale = nearness(kind, now).map_or(1, |near| near.unsigned_abs().max(1));
            candidates.push((u128::from(distance) * 1_000_000 / u128::from(scale), id, limit, now, kind));
        }
    }
    candidates.sort_by_key(|(distance, id, limit, ..)| (*distance, *id, *limit));
    let mut near = Vec::new();
    for (_, id, limit, now, kind) in candidates.into_iter().take(most_tries(program)) {
        if near.len() == MOST_NEAR {
            break;
        }
        // At a threshold's own value both `<` and `at least` have their say: try it and the next value beyond.
        let beyond = if limit >= now { limit.saturating_add(1) } else { limit.saturating_sub(1) };
        for supposed in [limit, beyond].into_iter().filter(|value| *value != now) {
            let supposing = Supposing { readings, id, value: Some(supposed) };
            let other = decide(program, &supposing, state);
            if !other.same_call(outcome) {
                let small = program.inputs.get(id.index()).is_some_and(|input| is_small(input.source));
                near.push(Near {
                    reading: program
                        .inputs
                        .get(id.index())
                        .map_or_else(String::new, |input| program.input_name(input.source)),
                    now: program.print(now, kind, small),
                    at: program.print(limit, kind, small),
                    side: match supposed.cmp(&limit) {
                        Ordering::Less => "below",
                        Ordering::Equal => "at",
                        Ordering::Greater => "above",
                    },
                    becomes: differences(program, outcome, &other),
                });
                break;
            }
        }
    }
    near
}

/// A comparison of one reading with a constant, as the reading and the constants.
fn threshold(expr: &Expr, found: &mut Vec<(InputId, i64, Kind)>) {
    let mut note = |reading: &Expr, limit: &Expr| {
        if let (Op::Input(id), Some(value)) = (&reading.op, limit.constant()) {
            found.push((*id, value, reading.kind));
        }
    };
    match &expr.op {
        Op::Compare(Compare::Less | Compare::AtMost | Compare::Greater | Compare::AtLeast, a, b) => {
            note(a, b);
            note(b, a);
        }
        Op::Within(value, from, to) => {
            note(value, from);
            note(value, to);
        }
        _ => {}
    }
}

/// How a call differs from another, in words: what it would be.
fn differences(program: &Program, from: &Outcome, to: &Outcome) -> Vec<String> {
    let mut list = Vec::new();
    if from.stopped() != to.stopped() {
        list.push(if to.stopped() { "lines up".to_owned() } else { "lines in again".to_owned() });
    }
    for at in 0..program.aspects.len() {
        let Some(id) = u32::try_from(at).ok().map(AspectId) else { continue };
        let (old, new) = (from.verdict(id), to.verdict(id));
        if old != new && !to.stopped() {
            list.push(format!("{} {}", program.aspect_name(id), verdict_text(program, id, new)));
        }
    }
    if from.stopped() && to.stopped() {
        for rule in to.stops.iter().filter(|rule| !from.stops.contains(rule)) {
            list.extend(program.rules[*rule].stops.iter().map(|text| format!("lines up too: {text}")));
        }
        if from.stops.iter().any(|rule| !to.stops.contains(rule)) {
            list.push("lines up all the same, for one reason less".to_owned());
        }
    }
    for rule in to.cautions.iter().filter(|rule| !from.cautions.contains(rule)) {
        list.extend(program.rules[*rule].cautions.iter().map(|text| format!("caution: {text}")));
    }
    if list.is_empty() {
        list.push("a caution falls away".to_owned());
    }
    list
}

/// A verdict as it is printed.
pub fn verdict_text(program: &Program, id: AspectId, verdict: &Verdict) -> String {
    let definition = &program.aspects[id.index()];
    match verdict {
        Verdict::Range(from, to) => {
            let kind = definition.range_kind().unwrap_or(Kind::Number);
            print::range(*from, *to, kind, id == AspectId::SIZE, program.system)
        }
        Verdict::Words(words) => {
            let names: Vec<&str> =
                words.iter().filter_map(|word| definition.words().get(*word)).map(String::as_str).collect();
            names.join(" or ")
        }
        _ => "without a value".to_owned(),
    }
}

/// Readings with one of them supposed to be something else.
pub struct Supposing<'a> {
    /// The readings.
    pub readings: &'a dyn Readings,
    /// The one.
    pub id: InputId,
    /// What it is supposed to be; none is unknown.
    pub value: Option<i64>,
}

impl Readings for Supposing<'_> {
    fn now(&self) -> Instant {
        self.readings.now()
    }

    fn input(&self, id: InputId) -> Option<i64> {
        if id == self.id { self.value } else { self.readings.input(id) }
    }

    fn call(&self, known: Known, kind: Kind, argument: i64) -> Option<i64> {
        self.readings.call(known, kind, argument)
    }

    fn fished(&self) -> i64 {
        self.readings.fished()
    }

    fn strikeless_since(&self, mark: Mark) -> Option<i64> {
        self.readings.strikeless_since(mark)
    }

    fn strikes_since(&self, window: i64, mark: Mark) -> Option<i64> {
        self.readings.strikes_since(window, mark)
    }
}
