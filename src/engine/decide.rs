//! What the rules make of one instant.

use super::eval::Scene;
use super::{Readings, State};
use crate::program::{Bound, Decide, Item, Limit, Program, RuleDef, Run, Wish};
use crate::vocabulary::aspect::{Aspect, AspectId, Form};

/// Who decided something: a rule, or a rung of a ladder.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Source {
    /// A rule, by its number.
    Rule(usize),
    /// A ladder's rung.
    Rung(usize, usize),
}

/// What became of an aspect.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Nobody decided it.
    Undecided,
    /// A range, in counts.
    Range(i64, i64),
    /// Alternatives, by their numbers among the aspect's words.
    Words(Vec<usize>),
    /// Decided, and the value turned out unknown.
    Unknown,
    /// Decided, and the range turned out reversed, so that it holds nothing.
    Reversed,
    /// The limits leave nothing: the lowest that one allows, the highest that the other does.
    Conflict(i64, i64),
}

/// A shift as it was applied.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shifted {
    /// Who shifted.
    pub by: Source,
    /// Which of its shifts.
    pub number: usize,
    /// By how much, in counts, signed; none where the amount is unknown, so that it was left out.
    pub amount: Option<i64>,
}

/// A limit that was in force.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limited {
    /// The rule; none for the standing limit of zero.
    pub rule: Option<usize>,
    /// Which of its limits.
    pub number: usize,
    /// The bound in counts; none where it is unknown, so that it was left out.
    pub amount: Option<i64>,
}

/// What became of an aspect, and by whom.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AspectOutcome {
    /// Who decided it.
    pub decided_by: Option<Source>,
    /// What it was decided to be before shifts and limits, where that was a known range.
    pub wish: Option<(i64, i64)>,
    /// The outcome.
    pub verdict: Verdict,
    /// Wishes that limits left nothing of, so that the next one decided.
    pub passed_over: Vec<Source>,
    /// Shifts, in file order.
    pub shifts: Vec<Shifted>,
    /// The limit that moved, or would move, the lower end; and the upper.
    pub floor: Option<Limited>,
    /// The strictest upper limit.
    pub ceiling: Option<Limited>,
    /// Limits of unknown amount, which were left out.
    pub left_out: Vec<Limited>,
    /// Words that limits take out, with the rule and which of its limits.
    pub taken_out: Vec<(usize, usize, usize)>,
}

impl AspectOutcome {
    /// Of an aspect that nothing acts on but the standing limit of zero.
    fn untouched(aspect: &Aspect) -> Self {
        let is_range = matches!(aspect.form, Form::Range(_));
        Self {
            decided_by: None,
            wish: None,
            verdict: Verdict::Undecided,
            passed_over: Vec::new(),
            shifts: Vec::new(),
            floor: is_range.then_some(Limited { rule: None, number: 0, amount: Some(0) }),
            ceiling: None,
            left_out: Vec::new(),
            taken_out: Vec::new(),
        }
    }
}

/// What the rules make of one instant.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Outcome {
    /// Whether each rule applies; none is unknown.
    pub rules: Vec<Option<bool>>,
    /// What became of each aspect.
    pub aspects: Vec<AspectOutcome>,
    /// Rules that stop.
    pub stops: Vec<usize>,
    /// Rules that caution.
    pub cautions: Vec<usize>,
    /// Rules with a stop, a caution or a limit whose condition is unknown.
    pub not_ruled_out: Vec<usize>,
    /// The rung each ladder stands on.
    pub rungs: Vec<Option<usize>>,
}

impl Outcome {
    /// Whether lines come up.
    pub fn stopped(&self) -> bool {
        !self.stops.is_empty()
    }

    /// What an aspect is; under a stop nothing.
    pub fn verdict(&self, aspect: AspectId) -> &Verdict {
        match self.aspects.get(aspect.index()) {
            Some(outcome) if !self.stopped() => &outcome.verdict,
            _ => &Verdict::Undecided,
        }
    }

    /// Whether two outcomes call the same: values, stops, cautions and rungs.
    pub fn same_call(&self, other: &Outcome) -> bool {
        let same_values = || {
            self.aspects.len() == other.aspects.len()
                && self.aspects.iter().zip(&other.aspects).all(|(a, b)| a.verdict == b.verdict)
        };
        self.stops == other.stops
            && self.cautions == other.cautions
            && self.rungs == other.rungs
            && (self.stopped() || same_values())
    }
}

/// What the rules make of the readings, with the state of the session.
pub fn decide(program: &Program, readings: &dyn Readings, state: &State) -> Outcome {
    decide_assuming(program, readings, state, None)
}

/// The same, assuming that one rule applies or does not, whatever its condition says.
pub fn decide_assuming(
    program: &Program,
    readings: &dyn Readings,
    state: &State,
    assumed: Option<(usize, bool)>,
) -> Outcome {
    let rungs = state.rungs();
    let let_values = state.let_values(program, readings);
    let scene = Scene { program, readings, lets: &let_values, rungs: &rungs, changes: &[], mark: None };
    let holds = |(at, rule): (usize, &RuleDef)| match (assumed, &rule.condition) {
        (Some((rule, holds)), _) if rule == at => Some(holds),
        (_, None) => Some(true),
        (_, Some(condition)) => scene.holds(condition),
    };
    let rules: Vec<Option<bool>> = program.rules.iter().enumerate().map(holds).collect();
    let with = |wanted: Option<bool>, has: fn(&RuleDef) -> bool| -> Vec<usize> {
        let numbered = program.rules.iter().enumerate();
        numbered.filter(|(at, rule)| rules[*at] == wanted && has(rule)).map(|(at, _)| at).collect()
    };
    let mut deciding = Deciding { program, scene, rules: &rules, rungs: &rungs, aspects: Vec::new() };
    deciding.gather();
    let aspects = deciding.finish();
    Outcome {
        aspects,
        stops: with(Some(true), |rule| !rule.stops.is_empty()),
        cautions: with(Some(true), |rule| !rule.cautions.is_empty()),
        not_ruled_out: with(None, |rule| {
            !(rule.stops.is_empty() && rule.cautions.is_empty() && rule.limits.is_empty())
        }),
        rules,
        rungs,
    }
}

struct Deciding<'a> {
    program: &'a Program,
    scene: Scene<'a>,
    rules: &'a [Option<bool>],
    rungs: &'a [Option<usize>],
    aspects: Vec<AspectOutcome>,
}

impl<'a> Deciding<'a> {
    /// What acts at this instant, in file order: rules that apply, and the rungs that ladders stand on.
    fn acting(&self) -> impl Iterator<Item = (Source, &'a Run)> + use<'a> {
        let (program, rules, rungs) = (self.program, self.rules, self.rungs);
        program.order.iter().filter_map(move |item| match *item {
            Item::Rule(at) => (rules.get(at) == Some(&Some(true))).then(|| (Source::Rule(at), &program.rules[at].run)),
            Item::Ladder(at) => {
                let rung = rungs.get(at).copied().flatten()?;
                let run = &program.ladders.get(at)?.rungs.get(rung)?.run;
                Some((Source::Rung(at, rung), run))
            }
        })
    }

    /// Gathers shifts and limits, which act on whatever is decided.
    fn gather(&mut self) {
        self.aspects = self.program.aspects.iter().map(AspectOutcome::untouched).collect();
        for (by, run) in self.acting() {
            for (number, shift) in run.shifts.iter().enumerate() {
                let amount = self.scene.value(&shift.by).and_then(|by| by.checked_mul(shift.sign));
                self.aspects[shift.aspect.index()].shifts.push(Shifted { by, number, amount });
            }
        }
        for (at, rule) in self.program.rules.iter().enumerate() {
            if self.rules[at] == Some(true) {
                for (number, limit) in rule.limits.iter().enumerate() {
                    self.limit(at, number, limit);
                }
            }
        }
    }

    fn limit(&mut self, rule: usize, number: usize, limit: &Limit) {
        let outcome = &mut self.aspects[limit.aspect.index()];
        let (amount, slot, stricter): (_, _, fn(i64, i64) -> bool) = match &limit.bound {
            Bound::AtLeast(amount) => (self.scene.value(amount), &mut outcome.floor, |new, old| new > old),
            Bound::AtMost(amount) => (self.scene.value(amount), &mut outcome.ceiling, |new, old| new < old),
            Bound::Not(word) => {
                outcome.taken_out.push((*word, rule, number));
                return;
            }
        };
        let limited = Limited { rule: Some(rule), number, amount };
        let Some(new) = amount else {
            outcome.left_out.push(limited);
            return;
        };
        if slot.and_then(|old| old.amount).is_none_or(|old| stricter(new, old)) {
            *slot = Some(limited);
        }
    }

    /// Decides every aspect: the first wish in file order that limits leave anything of.
    fn finish(mut self) -> Vec<AspectOutcome> {
        let mut aspects = std::mem::take(&mut self.aspects);
        for (source, run) in self.acting() {
            for decide in &run.decides {
                let outcome = &mut aspects[decide.aspect.index()];
                if outcome.decided_by.is_none() {
                    self.wish(outcome, source, decide);
                }
            }
        }
        aspects
    }

    fn wish(&self, outcome: &mut AspectOutcome, source: Source, decide: &Decide) {
        match &decide.wish {
            Wish::Words(words) => {
                let out = |word: &usize| outcome.taken_out.iter().any(|(taken, _, _)| taken == word);
                let left: Vec<usize> = words.iter().copied().filter(|word| !out(word)).collect();
                if left.is_empty() {
                    outcome.passed_over.push(source);
                    return;
                }
                outcome.verdict = Verdict::Words(left);
            }
            Wish::Range(from, to) => {
                let low = self.scene.value(from);
                let high = to.as_ref().map_or(low, |to| self.scene.value(to));
                outcome.wish = low.zip(high);
                outcome.verdict = range_verdict(outcome);
            }
        }
        outcome.decided_by = Some(source);
    }
}

/// Shifts added up and applied once, then limits, each end for itself.
fn range_verdict(outcome: &AspectOutcome) -> Verdict {
    let Some((low, high)) = outcome.wish else { return Verdict::Unknown };
    if low > high {
        return Verdict::Reversed;
    }
    let mut by = Some(0i64);
    for shift in &outcome.shifts {
        by = by.and_then(|by| by.checked_add(shift.amount.unwrap_or(0)));
    }
    let shifted = by.and_then(|by| Some((low.checked_add(by)?, high.checked_add(by)?)));
    let Some((low, high)) = shifted else { return Verdict::Unknown };
    let floor = outcome.floor.and_then(|limit| limit.amount).unwrap_or(i64::MIN);
    let ceiling = outcome.ceiling.and_then(|limit| limit.amount).unwrap_or(i64::MAX);
    if floor > ceiling {
        return Verdict::Conflict(floor, ceiling);
    }
    Verdict::Range(low.clamp(floor, ceiling), high.clamp(floor, ceiling))
}
