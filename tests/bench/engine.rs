//! How long checking and evaluating take.
//!
//! `cargo bench --bench engine`. Evaluation runs over 100,000 different readings, since a short ring flatters branch
//! predictors, beside a hand-written function that decides the same, so that the ratio means something on any machine.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a benchmark that can't be set up fails by panicking"
)]

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use leadsman::check::{NoIncludes, check};
use leadsman::engine::{Mark, Readings, State, Verdict, decide};
use leadsman::program::expr::InputId;
use leadsman::program::{InputSource, Program};
use leadsman::vocabulary::aspect::AspectId;
use leadsman::vocabulary::catalogue::Known;
use leadsman::vocabulary::kind::Kind;
use leadsman::vocabulary::quantity::PER_UNIT;
use leadsman::vocabulary::time::Instant;

const FOOT: i64 = 2_743_200;
const FAHRENHEIT: i64 = 5_000_000;
const ZERO_F: i64 = 2_298_350_000;

/// A strategy of about a thousand lines, as a patient guide might come to: rules of four lines and a blank.
fn thousand_lines() -> String {
    let mut text = String::from(
        "strategy \"A thousand lines\"\n  units us\n\nreading mood is one of sulking < following < chasing, good for 45 min\n",
    );
    for at in 0..190 {
        text.push_str(&format!(
            "\nrule \"Number {at}\"\n  if surface is {} to {} °F and waves is {} to {} in and (marks or mood is following)\n  run depth {} to {} ft, speed 1.{} to 2.5 mph, lure spoon or spinner\n  because \"One of many.\"\n",
            32 + at % 40, 33 + at % 40, at / 40 * 3, at / 40 * 3 + 2, 2 + at % 30, 12 + at % 30, at % 10
        ));
    }
    text.push_str("\nrule \"Rest\"\n  run depth 5 to 25 ft, speed 1.9 to 2.5 mph, lure spoon\n\n");
    for at in 0..8 {
        text.push_str(&format!(
            "trial \"Number {at}\"\n  given surface {} °F, waves 1 in, marks yes\n  expect depth {} to {} ft\n\n",
            32 + at,
            2 + at,
            12 + at
        ));
    }
    text
}

/// Thirty rules over six readings; every aspect is decided by bands of the surface temperature.
fn thirty_rules() -> String {
    let mut text = String::from("strategy \"Thirty rules\"\n  units us\n");
    for at in 0..26 {
        text.push_str(&format!(
            "rule \"Band {at}\" if surface < {} °F and (marks or waves at least {} in) and cloud at most {} % run depth {} to {} ft, speed 2 to 3 mph because \"Band {at}\"\n",
            40 + at, 1 + at % 6, 40 + 2 * at, 1 + at, 11 + at
        ));
    }
    text.push_str("rule \"Dim\" if sun_height < 10° run shallower by 2 ft\n");
    text.push_str("rule \"Bottom\" keep depth at most bottom - 6 ft\n");
    text.push_str("rule \"Warm\" if surface at least 75 °F stop \"Too warm.\"\n");
    text.push_str("rule \"Rest\" run depth 20 to 40 ft, speed 1 to 2 mph\n");
    text
}

/// The readings of one moment.
#[derive(Clone, Copy)]
struct Sample {
    surface: i64,
    waves: i64,
    cloud: i64,
    sun: i64,
    bottom: i64,
    marks: bool,
}

/// A hundred thousand different samples, from a fixed sequence.
fn samples() -> Vec<Sample> {
    let mut seed = 0x2545_f491_4f6c_dd1du64;
    let mut next = |range: i64| {
        seed ^= seed << 13;
        seed ^= seed >> 7;
        seed ^= seed << 17;
        i64::try_from(seed % u64::try_from(range).unwrap()).unwrap()
    };
    (0..100_000)
        .map(|_| Sample {
            surface: ZERO_F + 35 * FAHRENHEIT + next(45 * FAHRENHEIT),
            waves: next(2 * FOOT),
            cloud: next(PER_UNIT),
            sun: next(60 * PER_UNIT) - 10 * PER_UNIT,
            bottom: 10 * FOOT + next(150 * FOOT),
            marks: next(2) == 0,
        })
        .collect()
}

struct Fixed {
    values: Vec<Option<i64>>,
}

impl Readings for Fixed {
    fn now(&self) -> Instant {
        Instant(0)
    }
    fn input(&self, id: InputId) -> Option<i64> {
        self.values[id.index()]
    }
    fn call(&self, _: Known, _: Kind, _: i64) -> Option<i64> {
        None
    }
    fn fished(&self) -> i64 {
        0
    }
    fn strikeless_since(&self, _: Mark) -> Option<i64> {
        Some(0)
    }
    fn strikes_since(&self, _: i64, _: Mark) -> Option<i64> {
        Some(0)
    }
}

fn fixed(program: &Program, sample: &Sample) -> Fixed {
    let value = |source: InputSource| match source {
        InputSource::Known(Known::Surface) => Some(sample.surface),
        InputSource::Known(Known::Waves) => Some(sample.waves),
        InputSource::Known(Known::Cloud) => Some(sample.cloud),
        InputSource::Known(Known::SunHeight) => Some(sample.sun),
        InputSource::Known(Known::Bottom) => Some(sample.bottom),
        InputSource::Known(Known::Marks) => Some(i64::from(sample.marks)),
        _ => None,
    };
    Fixed { values: program.inputs.iter().map(|input| value(input.source)).collect() }
}

/// The same decision, written by hand.
fn by_hand(sample: &Sample) -> Option<(i64, i64, usize)> {
    if sample.surface >= ZERO_F + 75 * FAHRENHEIT {
        return None;
    }
    let mut decided = (20 * FOOT, 40 * FOOT, 29);
    for at in 0..26i64 {
        let applies = sample.surface < ZERO_F + (40 + at) * FAHRENHEIT
            && (sample.marks || sample.waves >= (1 + at % 6) * FOOT / 12)
            && sample.cloud <= (40 + 2 * at) * (PER_UNIT / 100);
        if applies {
            decided = ((1 + at) * FOOT, (11 + at) * FOOT, usize::try_from(at).unwrap());
            break;
        }
    }
    let shift = if sample.sun < 10 * PER_UNIT { -2 * FOOT } else { 0 };
    let ceiling = sample.bottom - 6 * FOOT;
    if ceiling < 0 {
        return None;
    }
    Some(((decided.0 + shift).clamp(0, ceiling), (decided.1 + shift).clamp(0, ceiling), decided.2))
}

fn checking(criterion: &mut Criterion) {
    let text = thousand_lines();
    let checked = check("thousand.strategy", &text, &NoIncludes);
    assert!(checked.program.is_some(), "{:?}", checked.findings.first());
    let mut group = criterion.benchmark_group("check");
    group.throughput(Throughput::Bytes(text.len() as u64));
    group.bench_function(format!("{} lines, parsed and checked", text.lines().count()), |bencher| {
        bencher.iter(|| check("thousand.strategy", black_box(&text), &NoIncludes));
    });
    let source = leadsman::text::SourceFile::new("thousand.strategy", text.as_str());
    group.bench_function("the same, parsed only", |bencher| {
        bencher.iter(|| leadsman::syntax::parse(leadsman::text::FileId(0), black_box(&source)));
    });
    group.finish();
}

fn evaluating(criterion: &mut Criterion) {
    let checked = check("thirty.strategy", &thirty_rules(), &NoIncludes);
    let program = checked.program.expect("thirty rules check");
    let samples = samples();
    let moments: Vec<Fixed> = samples.iter().map(|sample| fixed(&program, sample)).collect();
    let state = State::first_step(&program, &moments[0], &[], true);
    // Both must decide the same before either is timed.
    for (sample, moment) in samples.iter().zip(&moments) {
        let outcome = decide(&program, moment, &state);
        let depth = match outcome.verdict(AspectId::DEPTH) {
            Verdict::Range(from, to) => Some((*from, *to)),
            _ => None,
        };
        assert_eq!(depth, by_hand(sample).map(|(from, to, _)| (from, to)));
    }
    let mut group = criterion.benchmark_group("evaluate");
    group.throughput(Throughput::Elements(samples.len() as u64));
    group.sample_size(20);
    group.bench_function("30 rules with the whole explanation, 100,000 readings", |bencher| {
        bencher.iter(|| {
            moments.iter().map(|moment| decide(&program, black_box(moment), &state).aspects.len()).sum::<usize>()
        });
    });
    group.bench_function("the same decided by hand", |bencher| {
        bencher.iter(|| {
            samples.iter().filter_map(|sample| by_hand(black_box(sample))).map(|(.., rule)| rule).sum::<usize>()
        });
    });
    group.finish();
}

criterion_group!(benches, checking, evaluating);
criterion_main!(benches);
