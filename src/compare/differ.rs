//! Where two strategies differ on a day: every stretch of time in which an aspect is called otherwise, by which rules, and
//! what tipped it.

use std::collections::BTreeMap;

use serde::Serialize;

use super::{Sides, Subject};
use crate::advice::quantity::Value;
use crate::advice::{By, by};
use crate::day::replay::{Call, Timeline, TipSaid};
use crate::engine::{Source, Verdict};
use crate::program::Program;
use crate::vocabulary::aspect::{Aspect, AspectId};
use crate::vocabulary::kind::Kind;
use crate::vocabulary::print::{self, System};
use crate::vocabulary::time::Instant;

/// What is called for an aspect, so that two strategies' calls can be held against each other.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Called {
    /// Lines come up.
    LinesUp,
    /// Nothing: undecided, unknown, or nothing that limits leave.
    Nothing,
    /// A range, in counts.
    Range(i64, i64),
    /// Words, in order.
    Words(Vec<String>),
}

impl Called {
    /// What a call calls for an aspect of its program.
    pub fn of(program: &Program, call: &Call, id: AspectId) -> Self {
        if call.outcome.stopped() {
            return Called::LinesUp;
        }
        match call.outcome.verdict(id) {
            Verdict::Range(from, to) => Called::Range(*from, *to),
            Verdict::Words(words) => {
                let known = program.aspects.get(id.index()).map_or(&[][..], Aspect::words);
                let mut words: Vec<String> = words.iter().filter_map(|word| known.get(*word).cloned()).collect();
                words.sort();
                Called::Words(words)
            }
            _ => Called::Nothing,
        }
    }

    /// As data, in a system of units; none for nothing and lines up.
    fn value(&self, kind: Option<Kind>, small: bool, system: System) -> Option<Value> {
        match self {
            Called::LinesUp | Called::Nothing => None,
            Called::Range(from, to) => {
                let kind = kind?;
                let unit = system.unit(kind, small)?;
                let end = |counts| print::unrounded(counts, unit, kind);
                Some(Value::Range(end(*from), end(*to), unit.symbol))
            }
            Called::Words(words) => Some(Value::Words(words.clone())),
        }
    }

    /// As it is printed.
    fn printed(&self, kind: Option<Kind>, small: bool, system: System) -> String {
        match self {
            Called::LinesUp => "lines up".to_owned(),
            Called::Nothing => "nothing".to_owned(),
            Called::Range(from, to) => print::range(*from, *to, kind.unwrap_or(Kind::Number), small, system),
            Called::Words(words) => words.join(" or "),
        }
    }
}

/// Time in which both calls stood as they are, and lines were in.
#[derive(Clone, Copy)]
pub struct Stand<'t> {
    /// From when on.
    pub from: Instant,
    /// Up to when.
    pub to: Instant,
    /// A's call.
    pub a: &'t Call,
    /// B's call.
    pub b: &'t Call,
}

/// The time with lines in, cut wherever either strategy's call changes.
pub fn stands<'t>(a: &'t Timeline, b: &'t Timeline, lines_in: &[(Instant, Instant)]) -> Vec<Stand<'t>> {
    let mut cuts: Vec<Instant> = a.calls.iter().chain(&b.calls).map(|call| call.from).collect();
    cuts.extend(lines_in.iter().flat_map(|(from, to)| [*from, *to]));
    cuts.sort();
    cuts.dedup();
    let call = |timeline: &'t Timeline, at: Instant| {
        let after = timeline.calls.partition_point(|call| call.from <= at);
        after.checked_sub(1).and_then(|at| timeline.calls.get(at))
    };
    let mut stands = Vec::new();
    for pair in cuts.windows(2) {
        let [from, to] = *pair else { continue };
        let fished = lines_in.iter().any(|(began, ended)| *began <= from && to <= *ended);
        if let (true, Some(a), Some(b)) = (fished, call(a, from), call(b, from)) {
            stands.push(Stand { from, to, a, b });
        }
    }
    stands
}

/// Time that agrees and that differs, in counts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Agreement {
    /// Both call the same.
    pub agree: i64,
    /// They do not.
    pub differ: i64,
}

impl Agreement {
    fn add(&mut self, same: bool, time: i64) {
        let slot = if same { &mut self.agree } else { &mut self.differ };
        *slot = slot.saturating_add(time);
    }

    /// Adds another's.
    pub fn join(&mut self, other: Self) {
        self.agree = self.agree.saturating_add(other.agree);
        self.differ = self.differ.saturating_add(other.differ);
    }
}

/// Who decided in each strategy, where they differ on an aspect: by the aspect's place among those that both decide.
pub type Pair = (usize, Option<Source>, Option<Source>);

/// Where two strategies differ on a day.
#[derive(Clone, Debug, Default)]
pub struct Differences {
    /// All aspects that both decide at once.
    pub whole: Agreement,
    /// Each of them.
    pub aspects: Vec<Agreement>,
    /// How long each pair of rules or rungs differed.
    pub pairs: BTreeMap<Pair, i64>,
    /// Every stretch, in the order of time.
    pub stretches: Vec<Stretch>,
}

/// A stretch of time in which an aspect is called otherwise by the same two rules.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Stretch {
    /// The aspect.
    pub aspect: String,
    /// From when on.
    pub from: String,
    /// Up to when.
    pub to: String,
    /// How long, in minutes.
    pub minutes: f64,
    /// What A calls.
    pub a: CalledBy,
    /// What B calls.
    pub b: CalledBy,
    /// What changed as it began, for each strategy whose call changed then.
    pub tipped: Vec<TippedIn>,
    /// The instants, for pictures.
    #[serde(skip)]
    pub span: (Instant, Instant),
}

/// A call and who made it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CalledBy {
    /// The value; none is nothing called, or lines up.
    pub value: Option<Value>,
    /// The value as it is printed.
    pub printed: String,
    /// Who decided it.
    pub by: Option<By>,
}

/// What tipped a strategy's call.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TippedIn {
    /// `a` or `b`.
    pub strategy: &'static str,
    /// What changed; nothing where only time went by.
    pub by: Vec<TipSaid>,
}

/// Finds where two strategies differ; `print_time` says an instant as it is shown.
pub fn differences(sides: &Sides, stands: &[Stand<'_>], print_time: &dyn Fn(Instant) -> String) -> Differences {
    let subjects = &sides.subjects;
    let mut found = Differences { aspects: vec![Agreement::default(); subjects.len()], ..Differences::default() };
    for stand in stands {
        let time = stand.to.since(stand.from);
        let mut all_same = true;
        for (subject, agreement) in subjects.iter().zip(&mut found.aspects) {
            let same = called(sides, stand, subject).0 == called(sides, stand, subject).1;
            agreement.add(same, time);
            all_same &= same;
        }
        found.whole.add(all_same, time);
    }
    for (place, subject) in subjects.iter().enumerate() {
        let mut stretch: Option<(Stand<'_>, Pair)> = None;
        for stand in stands {
            let (a, b) = called(sides, stand, subject);
            let pair = (place, source(stand.a, subject.a), source(stand.b, subject.b));
            if let Some((going, going_pair)) = &mut stretch {
                let goes_on = going.to == stand.from
                    && *going_pair == pair
                    && called(sides, going, subject) == (a.clone(), b.clone());
                if goes_on {
                    going.to = stand.to;
                    continue;
                }
                found.close(sides, subject, *going, *going_pair, print_time);
            }
            stretch = (a != b).then_some((*stand, pair));
        }
        if let Some((going, pair)) = stretch {
            found.close(sides, subject, going, pair, print_time);
        }
    }
    found.stretches.sort_by_key(|stretch| stretch.span.0);
    found
}

fn called(sides: &Sides, stand: &Stand<'_>, subject: &Subject) -> (Called, Called) {
    (Called::of(&sides.a.program, stand.a, subject.a), Called::of(&sides.b.program, stand.b, subject.b))
}

/// Who decided an aspect; under a stop, who stops.
fn source(call: &Call, id: AspectId) -> Option<Source> {
    match call.outcome.stops.first() {
        Some(rule) => Some(Source::Rule(*rule)),
        None => call.outcome.aspects.get(id.index())?.decided_by,
    }
}

impl Differences {
    fn close(
        &mut self,
        sides: &Sides,
        subject: &Subject,
        stand: Stand<'_>,
        pair: Pair,
        print_time: &dyn Fn(Instant) -> String,
    ) {
        let (a, b) = called(sides, &stand, subject);
        let time = stand.to.since(stand.from);
        let slot = self.pairs.entry(pair).or_default();
        *slot = slot.saturating_add(time);
        let (kind, small, system) = (subject.kind, subject.is_small(), sides.a.program.system);
        let called_by = |called: &Called, program: &Program, source: Option<Source>| CalledBy {
            value: called.value(kind, small, system),
            printed: called.printed(kind, small, system),
            by: source.map(|source| by(program, source)),
        };
        let tipped_in = |strategy: &'static str, call: &Call, program: &Program, id: AspectId| {
            let (_, tips) = call.tipped.iter().find(|(of, _)| *of == id)?;
            (call.from == stand.from)
                .then(|| TippedIn { strategy, by: tips.iter().map(|tip| tip.said(program)).collect() })
        };
        let in_a = tipped_in("a", stand.a, &sides.a.program, subject.a);
        let in_b = tipped_in("b", stand.b, &sides.b.program, subject.b);
        self.stretches.push(Stretch {
            aspect: subject.name.clone(),
            from: print_time(stand.from),
            to: print_time(stand.to),
            minutes: super::minutes(time),
            a: called_by(&a, &sides.a.program, pair.1),
            b: called_by(&b, &sides.b.program, pair.2),
            tipped: in_a.into_iter().chain(in_b).collect(),
            span: (stand.from, stand.to),
        });
    }
}
