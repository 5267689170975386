//! Advice to the wire.

use std::borrow::Cow;

use super::super::v1;
use super::{Violations, all};
use crate::advice::cautions::StandingCaution;
use crate::advice::quantity::Value;
use crate::advice::readings::BesideReading;
use crate::advice::{
    Advice, AspectAdvice, By, Idle, LadderAdvice, LakeAdvice, LimitAdvice, Open, ReadingAdvice, Said, ShiftAdvice,
    Undecided, View,
};
use crate::explain::{Near, Needed};
use crate::vocabulary::time::Instant;

/// How much of an advice is wanted; not said is all.
pub fn view(field: &str, view: i32, wrong: &mut Violations) -> View {
    match v1::AdviceView::try_from(view) {
        Ok(v1::AdviceView::Call) => View::Call,
        Ok(v1::AdviceView::Unspecified | v1::AdviceView::Full) => View::Full,
        Err(_) => {
            wrong.add(field, format!("{view} is no view; 1 is the call alone, 2 the full advice"));
            View::Full
        }
    }
}

/// Advice; `instant` is the moment, as it is told where no zone is known.
pub fn advice(advice: Advice, instant: Instant) -> v1::Advice {
    let Advice {
        strategy,
        species,
        at,
        session,
        lines_up,
        not_ruled_out,
        tactic,
        ladders,
        cautions,
        undecided,
        idle,
        near,
        readings,
        cast_depth,
        standing_cautions,
        lake,
    } = advice;
    v1::Advice {
        strategy,
        species,
        at: at.unwrap_or_else(|| instant.timestamp().to_string()),
        session,
        lines_up: all(lines_up, said),
        not_ruled_out: all(not_ruled_out, self::not_ruled_out),
        tactic: all(tactic, aspect),
        ladders: all(ladders, ladder),
        cautions: all(cautions, said),
        undecided: all(undecided, self::undecided),
        idle: all(idle, self::idle),
        near: all(near, self::near),
        readings: all(readings, reading),
        cast_depth: cast_depth.map(value),
        standing_cautions: all(standing_cautions, standing_caution),
        lake: lake.map(self::lake),
    }
}

/// A value.
pub fn value(value: Value) -> v1::Value {
    use v1::value::Value as Wire;
    let value = match value {
        Value::Quantity(value, unit) => Wire::Quantity(v1::Quantity { value, unit: unit.to_owned() }),
        Value::Range(from, to, unit) => Wire::Range(v1::Range { from, to, unit: unit.to_owned() }),
        Value::Words(words) => Wire::Words(v1::Words { words }),
        Value::Word(word) => Wire::Word(word),
        Value::YesNo(yes) => Wire::YesNo(yes),
        Value::Number(number) => Wire::Number(number),
    };
    v1::Value { value: Some(value) }
}

/// A rule or rung, and where it is written.
pub fn by(by: By) -> v1::By {
    let By { name, ladder, file, line, because } = by;
    v1::By { name, ladder, file, line, because }
}

fn said(said: Said) -> v1::Said {
    let Said { text, by } = said;
    v1::Said { text, by: Some(self::by(by)) }
}

fn needed(needed: Needed) -> String {
    let Needed { reading } = needed;
    reading
}

fn not_ruled_out(open: Open) -> v1::NotRuledOut {
    let Open { texts, stops, by, settled_by } = open;
    v1::NotRuledOut { texts, stops, by: Some(self::by(by)), settled_by: all(settled_by, needed) }
}

fn aspect(aspect: AspectAdvice) -> v1::AspectAdvice {
    let AspectAdvice { name, value, printed, why_none, by, before, shifts, limits, passed_over, settled_by, estimated } =
        aspect;
    v1::AspectAdvice {
        name,
        value: value.map(self::value),
        printed,
        why_none,
        by: by.map(self::by),
        before,
        shifts: all(shifts, shift),
        limits: all(limits, limit),
        passed_over: all(passed_over, self::by),
        settled_by: all(settled_by, needed),
        estimated,
    }
}

fn shift(shift: ShiftAdvice) -> v1::ShiftAdvice {
    let ShiftAdvice { text, by } = shift;
    v1::ShiftAdvice { text, by: Some(self::by(by)) }
}

fn limit(limit: LimitAdvice) -> v1::LimitAdvice {
    let LimitAdvice { text, by } = limit;
    v1::LimitAdvice { text, by: by.map(self::by) }
}

fn ladder(ladder: LadderAdvice) -> v1::LadderAdvice {
    let LadderAdvice { name, title, rung, rungs, standing_for, because, why_none } = ladder;
    v1::LadderAdvice { name, title, rung, rungs, standing_for: standing_for.map(value), because, why_none }
}

fn undecided(undecided: Undecided) -> v1::UndecidedRule {
    let Undecided { by, settled_by, could_change } = undecided;
    v1::UndecidedRule { by: Some(self::by(by)), settled_by: all(settled_by, needed), could_change }
}

fn idle(idle: Idle) -> v1::Idle {
    let Idle { text, why, by, settled_by } = idle;
    v1::Idle { text, why, by: Some(self::by(by)), settled_by: all(settled_by, needed) }
}

fn near(near: Near) -> v1::NearThreshold {
    let Near { reading, now, at, side, becomes } = near;
    v1::NearThreshold { reading, now, at, becomes, side: side.to_owned() }
}

/// A reading.
pub fn reading(reading: ReadingAdvice) -> v1::ReadingAdvice {
    let ReadingAdvice { name, value, printed, origin, age, from, how, needs } = reading;
    let origin = match origin {
        "given" => v1::Origin::Given,
        "derived" => v1::Origin::Derived,
        "estimated" => v1::Origin::Estimated,
        "unknown" => v1::Origin::Unknown,
        _ => v1::Origin::Unspecified,
    };
    let (value, age) = (value.map(self::value), age.map(self::value));
    v1::ReadingAdvice { name, value, printed, origin: origin.into(), age, from, how, needs }
}

/// Something beside the readings.
pub fn beside(beside: BesideReading) -> v1::BesideReading {
    let BesideReading { name, value, time, printed, note } = beside;
    v1::BesideReading { name, value: value.map(self::value), time, printed, note }
}

fn standing_caution(caution: StandingCaution) -> v1::StandingCaution {
    let StandingCaution { about, text, limit, source, date, reached } = caution;
    v1::StandingCaution {
        about: about.to_owned(),
        text: text.into_owned(),
        limit: limit.map(Cow::into_owned),
        source: source.into_owned(),
        date: date.into_owned(),
        reached,
    }
}

fn lake(lake: LakeAdvice) -> v1::LakeAdvice {
    let LakeAdvice { name, checked, source, rules } = lake;
    v1::LakeAdvice { name, checked, source, rules }
}
