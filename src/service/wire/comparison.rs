//! A comparison to the wire.

use super::super::v1;
use super::advice::{by, value};
use super::all;
use crate::compare::contest::{ArmSaid, ContestSaid, Evidence, Lot};
use crate::compare::differ::{CalledBy, Stretch, TippedIn};
use crate::compare::tested::{CellSaid, Contrast, Homogeneity, LightRow, Pooled, Rate, Split};
use crate::compare::{AgreementSaid, AspectAgreement, Comparison, DifferencesSaid, PairSaid, SideSaid, Skipped};
use crate::day::replay::TipSaid;
use crate::day::replay::text::PassedOver;

/// A comparison.
pub fn comparison(comparison: Comparison) -> v1::Comparison {
    let Comparison {
        a,
        b,
        days,
        from,
        to,
        skipped,
        skipped_count,
        lines_in_hours,
        differences,
        fish,
        strikes_unplaced,
        landed_unplaced,
        by_light,
        contest,
        proof,
        method,
    } = comparison;
    v1::Comparison {
        a: Some(side(a)),
        b: Some(side(b)),
        days,
        from,
        to,
        skipped: all(skipped, self::skipped),
        skipped_count,
        lines_in_hours,
        differences: Some(self::differences(differences)),
        fish: all(fish, split),
        strikes_unplaced,
        landed_unplaced,
        by_light: all(by_light, light_row),
        contest: contest.map(self::contest),
        proof,
        method,
    }
}

fn side(side: SideSaid) -> v1::ComparedSide {
    let SideSaid { strategy, file, lets, passed_over } = side;
    let passed_over = passed_over.into_iter().map(|PassedOver { reading, values }| v1::PassedOver { reading, values });
    v1::ComparedSide { strategy, file, lets, passed_over: passed_over.collect() }
}

fn skipped(skipped: Skipped) -> v1::SkippedLog {
    let Skipped { log, why } = skipped;
    v1::SkippedLog { log, why }
}

fn differences(differences: DifferencesSaid) -> v1::Differences {
    let DifferencesSaid { whole, aspects, only_a, only_b, pairs, stretches, stretches_left_out } = differences;
    v1::Differences {
        whole: Some(agreement(whole)),
        aspects: all(aspects, aspect),
        only_a,
        only_b,
        pairs: all(pairs, pair),
        stretches: all(stretches, stretch),
        stretches_left_out,
    }
}

fn agreement(agreement: AgreementSaid) -> v1::Agreement {
    let AgreementSaid { agree_hours, differ_hours } = agreement;
    v1::Agreement { agree_hours, differ_hours }
}

fn aspect(aspect: AspectAgreement) -> v1::AspectAgreement {
    let AspectAgreement { aspect, time } = aspect;
    v1::AspectAgreement { aspect, time: Some(agreement(time)) }
}

fn pair(pair: PairSaid) -> v1::RulePair {
    let PairSaid { aspect, a, b, hours } = pair;
    v1::RulePair { aspect, a: a.map(by), b: b.map(by), hours }
}

fn stretch(stretch: Stretch) -> v1::Stretch {
    let Stretch { aspect, from, to, minutes, a, b, tipped, span: _ } = stretch;
    let (a, b) = (Some(called_by(a)), Some(called_by(b)));
    v1::Stretch { aspect, from, to, minutes, a, b, tipped: all(tipped, tipped_in) }
}

fn called_by(called: CalledBy) -> v1::CalledBy {
    let CalledBy { value, printed, by } = called;
    v1::CalledBy { value: value.map(self::value), printed, by: by.map(self::by) }
}

fn tipped_in(tipped: TippedIn) -> v1::TippedIn {
    let TippedIn { strategy, by } = tipped;
    let strategy = match strategy {
        "a" => v1::Arm::A,
        "b" => v1::Arm::B,
        _ => v1::Arm::Unspecified,
    };
    v1::TippedIn { strategy: strategy.into(), by: all(by, tip) }
}

fn tip(tip: TipSaid) -> v1::Tip {
    let TipSaid { reading, was, now, printed } = tip;
    v1::Tip { reading, was: was.map(value), now: now.map(value), printed }
}

fn split(split: Split) -> v1::FishSplit {
    let Split { aspect, cells, strikes, landed } = split;
    let (strikes, landed) = (Some(contrast(strikes)), Some(contrast(landed)));
    v1::FishSplit { aspect, cells: all(cells, cell), strikes, landed }
}

fn cell(cell: CellSaid) -> v1::FishCell {
    let CellSaid { within, rod_hours, strikes, landed } = cell;
    let within = match within {
        "both" => v1::Within::Both,
        "only_a" => v1::Within::OnlyA,
        "only_b" => v1::Within::OnlyB,
        "neither" => v1::Within::Neither,
        "unsaid" => v1::Within::Unsaid,
        _ => v1::Within::Unspecified,
    };
    v1::FishCell { within: within.into(), rod_hours, strikes: Some(rate(strikes)), landed: Some(rate(landed)) }
}

fn light_row(row: LightRow) -> v1::LightRow {
    let LightRow { light, cells } = row;
    let light = match light {
        "dark" => v1::Light::Dark,
        "twilight" => v1::Light::Twilight,
        "low_sun" => v1::Light::LowSun,
        "high_sun" => v1::Light::HighSun,
        "unknown" => v1::Light::Unknown,
        _ => v1::Light::Unspecified,
    };
    v1::LightRow { light: light.into(), cells: all(cells, cell) }
}

fn rate(rate: Rate) -> v1::EventRate {
    let Rate { count, per_hour, low, high } = rate;
    v1::EventRate { count, per_hour, low, high }
}

fn contrast(contrast: Contrast) -> v1::Contrast {
    let Contrast { ratio, low, high, p, tells_apart, pooled, more_rod_hours } = contrast;
    v1::Contrast { ratio, low, high, p, tells_apart, pooled: pooled.map(self::pooled), more_rod_hours }
}

fn pooled(pooled: Pooled) -> v1::PooledRatio {
    let Pooled { ratio, low, high, strata, homogeneity } = pooled;
    v1::PooledRatio { ratio, low, high, strata, homogeneity: homogeneity.map(self::homogeneity) }
}

fn homogeneity(test: Homogeneity) -> v1::Homogeneity {
    let Homogeneity { statistic, degrees, p } = test;
    v1::Homogeneity { statistic, degrees, p }
}

fn contest(contest: ContestSaid) -> v1::Contest {
    let ContestSaid { days, strata, a, b, ratio, lot, evidence, left_out } = contest;
    v1::Contest {
        days,
        strata,
        a: Some(arm(a)),
        b: Some(arm(b)),
        ratio: Some(contrast(ratio)),
        lot: lot.map(self::lot),
        evidence: Some(self::evidence(evidence)),
        left_out: all(left_out, skipped),
    }
}

fn arm(arm: ArmSaid) -> v1::ContestArm {
    let ArmSaid { units, rod_hours, strikes, landed, followed } = arm;
    v1::ContestArm { units, rod_hours, strikes: Some(rate(strikes)), landed: Some(rate(landed)), followed }
}

fn lot(lot: Lot) -> v1::LotTest {
    let Lot { p_a, p_b, p, smallest } = lot;
    v1::LotTest { p_a, p_b, p, smallest }
}

fn evidence(evidence: Evidence) -> v1::Evidence {
    let Evidence { now, most, p } = evidence;
    v1::Evidence { now, most, p }
}
