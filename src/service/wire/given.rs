//! What requests give: readings, casts, rungs, the water, times.

use jiff::tz::TimeZone;

use super::super::limits::{MOST_FETCHES, MOST_HABITATS, MOST_READINGS, MOST_RULE_LINES, MOST_VALUE_BYTES};
use super::super::v1;
use super::{Violations, with_help};
use crate::advice::cautions::Figures;
use crate::advice::readings::Asked;
use crate::advice::{LakeAdvice, Shown};
use crate::program::{GivenTarget, Program};
use crate::session::{Event, Setting};
use crate::source::feed::Instruments;
use crate::source::given::{self, Giver};
use crate::source::{Fault, boat, place, time, water};
use crate::vocabulary::catalogue::{Known, Range};
use crate::vocabulary::kind::{Kind, same_word};
use crate::vocabulary::nearest::nearest;
use crate::vocabulary::quantity::{from_si, to_si};
use crate::vocabulary::time::Instant;
use crate::water::Place;
use crate::water::lake::{Current, Habitat, Lake};

/// The water as a request describes it.
#[derive(Clone, Debug, Default)]
pub struct Water {
    /// What does not change.
    pub setting: Setting,
    /// What is shown with the advice.
    pub shown: Shown,
}

fn words(fault: &Fault) -> String {
    with_help(&fault.message, fault.help.as_deref())
}

/// The water of a request, at a path of it.
pub fn water(path: &str, water: Option<v1::Water>, wrong: &mut Violations) -> Water {
    let Some(v1::Water { name, zone, position, bait_allowed, releasing, rules, cautions, lake }) = water else {
        return Water::default();
    };
    let zone = (!zone.is_empty()).then(|| {
        // Any zone will do where the request is refused for it: its times are not to be called wrong for that alone.
        time::zone(&zone).map_err(|fault| wrong.add(format!("{path}.zone"), words(&fault))).unwrap_or(TimeZone::UTC)
    });
    let place = position.and_then(|position| self::place(&format!("{path}.position"), position, wrong));
    let figures = cautions.map(|figures| self::figures(&format!("{path}.cautions"), figures, wrong));
    let lake = lake.map(|lake| self::lake(&format!("{path}.lake"), lake, wrong)).unwrap_or_default();
    let allowed = allowed(path, name, rules, wrong);
    Water { setting: Setting { zone, place, bait_allowed, releasing, lake }, shown: Shown { lake: allowed, figures } }
}

/// What is known of a lake by itself.
fn lake(path: &str, lake: v1::Lake, wrong: &mut Violations) -> Lake {
    let v1::Lake {
        elevation,
        deepest,
        mean_depth,
        area_square_metres,
        longest_open_line,
        fetch,
        attenuation,
        deep_water,
        drawn_from_below,
        current,
        habitats,
    } = lake;
    for (field, count, most) in [("fetch", fetch.len(), MOST_FETCHES), ("habitats", habitats.len(), MOST_HABITATS)] {
        if count > most {
            wrong.add(format!("{path}.{field}"), format!("{count} of them; at most {most} are taken"));
            return Lake::default();
        }
    }
    let mut length = |name: &str, quantity: Option<v1::Quantity>, range: Range| {
        quantity
            .and_then(|quantity| counts(&format!("{path}.{name}"), name, &quantity, Kind::Length, Some(range), wrong))
    };
    let (elevation, deepest) =
        (length("elevation", elevation, water::ELEVATIONS), length("deepest", deepest, depths()));
    let mean_depth = length("mean_depth", mean_depth, depths());
    let longest_open_line = length("longest_open_line", longest_open_line, water::OPEN_WATER);
    let mut within = |name: &str, value: Option<f64>, (low, high): (f64, f64)| {
        let value = value?;
        let good = (low..=high).contains(&value);
        if !good {
            wrong.add(format!("{path}.{name}"), format!("{value} is not within {low} to {high}"));
        }
        good.then_some(value)
    };
    let area = within("area_square_metres", area_square_metres, water::AREAS);
    let attenuation = within("attenuation", attenuation, water::ATTENUATIONS);
    let mut rose = Vec::new();
    for (at, fetch) in fetch.into_iter().enumerate() {
        let v1::Fetch { from_degrees, length } = fetch;
        let path = format!("{path}.fetch[{at}]");
        let from = direction(&format!("{path}.from_degrees"), from_degrees, wrong);
        let field = format!("{path}.length");
        let length = needed(&field, "length", length, Kind::Length, Some(water::OPEN_WATER), wrong);
        rose.extend(from.zip(length));
    }
    rose.sort_unstable();
    rose.dedup_by_key(|(from, _)| *from);
    let deep_water = deep_water.and_then(|quantity| {
        let field = format!("{path}.deep_water");
        counts(&field, "deep_water", &quantity, Kind::Temperature, Known::Surface.entry().range(), wrong)
    });
    let current = current.and_then(|current| {
        let v1::Current { set_degrees, drift } = current;
        let set = direction(&format!("{path}.current.set_degrees"), set_degrees, wrong);
        let field = format!("{path}.current.drift");
        let drift = needed(&field, "drift", drift, Kind::Speed, Known::WaterSpeed.entry().range(), wrong);
        Some(Current { set: set?, drift: drift? })
    });
    let habitat = habitats.into_iter().enumerate();
    let habitat = habitat.filter_map(|(at, habitat)| {
        let v1::Habitat { species, warmest, oxygen, source } = habitat;
        let path = format!("{path}.habitats[{at}]");
        for (field, text) in [("species", &species), ("source", &source)] {
            if text.is_empty() || text.len() > MOST_VALUE_BYTES {
                wrong.add(format!("{path}.{field}"), format!("a text of 1 to {MOST_VALUE_BYTES} bytes is needed"));
            }
        }
        let (field, known) = (format!("{path}.warmest"), Known::Surface.entry().range());
        let warmest = needed(&field, "warmest", warmest, Kind::Temperature, known, wrong);
        let (field, known) = (format!("{path}.oxygen"), Known::OxygenAt.entry().range());
        let oxygen = needed(&field, "oxygen", oxygen, Kind::Oxygen, known, wrong);
        Some(Habitat { species, warmest: warmest?, oxygen: oxygen?, source })
    });
    let habitat = habitat.collect();
    Lake {
        elevation,
        deepest,
        mean_depth,
        area,
        longest_open_line,
        fetch: rose,
        attenuation,
        deep_water,
        drawn_from_below,
        current,
        habitat,
    }
}

fn depths() -> Range {
    Known::Bottom.entry().range().unwrap_or(((0, i64::MAX), "0 and more"))
}

/// A direction in counts.
fn direction(field: &str, degrees: f64, wrong: &mut Violations) -> Option<i64> {
    let plain = (-360.0..=360.0).contains(&degrees);
    if !plain {
        wrong.add(field, format!("{degrees} is no direction: it runs from -360 to 360 degrees"));
    }
    from_si(degrees.rem_euclid(360.0)).filter(|_| plain)
}

/// A quantity that has to be there.
fn needed(
    field: &str,
    what: &str,
    quantity: Option<v1::Quantity>,
    kind: Kind,
    plausible: Option<Range>,
    wrong: &mut Violations,
) -> Option<i64> {
    match quantity {
        Some(quantity) => counts(field, what, &quantity, kind, plausible, wrong),
        None => {
            wrong.add(field, format!("`{what}` is needed here"));
            None
        }
    }
}

/// A range in SI that has to be there.
pub fn range(
    field: &str,
    what: &str,
    range: Option<v1::Range>,
    kind: Kind,
    plausible: Range,
    wrong: &mut Violations,
) -> Option<(f64, f64)> {
    let Some(v1::Range { from, to, unit }) = range else {
        wrong.add(field, format!("`{what}` is needed here"));
        return None;
    };
    if from > to {
        wrong.add(field, format!("{from} to {to} runs backwards"));
        return None;
    }
    let mut end = |value: f64| {
        let quantity = v1::Quantity { value, unit: unit.clone() };
        counts(field, what, &quantity, kind, Some(plausible), wrong).map(to_si)
    };
    Some((end(from)?, end(to)?))
}

/// Where a boat's instruments sit.
pub fn instruments(path: &str, instruments: v1::Instruments, wrong: &mut Violations) -> Instruments {
    let v1::Instruments { mast_height, transducer_depth } = instruments;
    let mut length = |name: &str, quantity: Option<v1::Quantity>, range: Range| {
        let quantity = quantity?;
        counts(&format!("{path}.{name}"), name, &quantity, Kind::Length, Some(range), wrong).map(to_si)
    };
    Instruments {
        mast: length("mast_height", mast_height, boat::MAST),
        transducer: length("transducer_depth", transducer_depth, boat::TRANSDUCER),
    }
}

fn place(path: &str, position: v1::Position, wrong: &mut Violations) -> Option<Place> {
    let v1::Position { latitude, longitude } = position;
    place::of_numbers(latitude, longitude).map_err(|fault| wrong.add(path, words(&fault))).ok()
}

/// What a lake allows, as it is shown.
fn allowed(path: &str, name: String, rules: Option<v1::LakeRules>, wrong: &mut Violations) -> Option<LakeAdvice> {
    if name.is_empty() && rules.is_none() {
        return None;
    }
    let v1::LakeRules { checked, source, lines } = rules.unwrap_or_default();
    if lines.len() > MOST_RULE_LINES {
        let description = format!("{} lines; at most {MOST_RULE_LINES} are taken", lines.len());
        wrong.add(format!("{path}.rules.lines"), description);
    }
    let checked = date(&format!("{path}.rules.checked"), checked, wrong);
    Some(LakeAdvice { name, checked, source: some(source), rules: lines })
}

fn figures(path: &str, figures: v1::CautionFigures, wrong: &mut Violations) -> Figures {
    let v1::CautionFigures { wind, waves, release, source, date } = figures;
    let mut figure = |name: &str, quantity: Option<v1::Quantity>, kind| {
        quantity.and_then(|quantity| counts(&format!("{path}.{name}"), name, &quantity, kind, None, wrong))
    };
    let (wind, waves) = (figure("wind", wind, Kind::Speed), figure("waves", waves, Kind::Length));
    let release = figure("release", release, Kind::Temperature);
    let date = self::date(&format!("{path}.date"), date, wrong);
    Figures { wind, waves, release, source: some(source), date }
}

/// A text, where it is one.
fn some(text: String) -> Option<String> {
    (!text.is_empty()).then_some(text)
}

/// A date as it was written, where it is one.
fn date(field: &str, text: String, wrong: &mut Violations) -> Option<String> {
    let text = some(text)?;
    time::date(&text).map_err(|fault| wrong.add(field, words(&fault))).ok()?;
    Some(text)
}

/// A time of a request, and the zone it is meant in.
pub fn time(field: &str, text: &str, water: Option<&TimeZone>, wrong: &mut Violations) -> Option<(Instant, TimeZone)> {
    time::time(text, water).map_err(|fault| wrong.add(field, words(&fault))).ok()
}

/// A stretch of time since the last strike.
pub fn strikeless(field: &str, quantity: &v1::Quantity, wrong: &mut Violations) -> Option<Event> {
    let known = Known::Strikeless;
    let counts = counts(field, known.name(), quantity, Kind::Duration, known.entry().range(), wrong)?;
    Some(Event::Give(GivenTarget::Known(known), Some(counts)))
}

/// A quantity in counts, where it is one of a kind.
fn counts(
    field: &str,
    what: &str,
    quantity: &v1::Quantity,
    kind: Kind,
    plausible: Option<Range>,
    wrong: &mut Violations,
) -> Option<i64> {
    let text = text_of(quantity).map_err(|why| wrong.add(field, why)).ok()?;
    given::literal(what, kind, plausible, &text).map_err(|fault| wrong.add(field, words(&fault))).ok()
}

/// A number as the language writes it, to the nine decimals it has.
fn number(value: f64) -> Result<String, String> {
    if !value.is_finite() {
        return Err(format!("{value} is no number; leave the reading out, or give the text `unknown`"));
    }
    let written = format!("{value:.9}");
    let short = written.trim_end_matches('0').trim_end_matches('.');
    Ok(if short == "-0" { "0".to_owned() } else { short.to_owned() })
}

/// A quantity as the language writes it.
fn text_of(quantity: &v1::Quantity) -> Result<String, String> {
    let v1::Quantity { value, unit } = quantity;
    let number = number(*value)?;
    Ok(if unit.is_empty() { number } else { format!("{number} {unit}") })
}

/// Readings, each with the text of its time and, where it has one, that field's name.
pub fn readings(
    path: &str,
    giver: &mut Giver<'_>,
    readings: Vec<v1::Reading>,
    wrong: &mut Violations,
) -> Vec<(String, String, Event)> {
    if readings.len() > MOST_READINGS {
        wrong.add(path, format!("{} readings; at most {MOST_READINGS} are taken", readings.len()));
        return Vec::new();
    }
    let mut events = Vec::with_capacity(readings.len());
    for (at, reading) in readings.into_iter().enumerate() {
        // Hardly any reading needs the name of its field.
        let field = |name: &str| format!("{path}[{at}].{name}");
        let v1::Reading { name, value, time } = reading;
        if let Some(event) = self::reading(&field, giver, &name, value, wrong) {
            let field = if time.is_empty() { String::new() } else { field("time") };
            events.push((field, time, event));
        }
    }
    events
}

/// One reading; `field` names a field of it.
fn reading(
    field: &dyn Fn(&str) -> String,
    giver: &mut Giver<'_>,
    name: &str,
    value: Option<v1::reading::Value>,
    wrong: &mut Violations,
) -> Option<Event> {
    use v1::reading::Value;
    let text = match value {
        Some(Value::Text(text)) => text,
        Some(Value::Quantity(quantity)) => text_of(&quantity).map_err(|why| wrong.add(field("value"), why)).ok()?,
        Some(Value::Position(position)) if same_word(name, Known::Position.name()) => {
            return place(&field("value"), position, wrong).map(Event::Place);
        }
        Some(Value::Position(_)) => {
            wrong.add(field("value"), format!("`{name}` is no place; only `position` is"));
            return None;
        }
        None => {
            wrong.add(field("value"), format!("`{name}` has no value; leave it out, or give `unknown`"));
            return None;
        }
    };
    for (part, written) in [("name", name), ("value", &text)] {
        if written.len() > MOST_VALUE_BYTES {
            wrong.add(field(part), format!("{} bytes; at most {MOST_VALUE_BYTES} are read", written.len()));
            return None;
        }
    }
    if let Some(plain) = giver.plain(name, &text) {
        return Some(plain);
    }
    let names = giver.names();
    names.target(name).map_err(|fault| wrong.add(field("name"), words(&fault))).ok()?;
    names.event(name, &text).map_err(|fault| wrong.add(field("value"), words(&fault))).ok()
}

/// Readings that are asked for by name.
pub fn names(path: &str, giver: &mut Giver<'_>, asked: &[String], wrong: &mut Violations) -> Vec<Asked> {
    let mut wanted = Vec::new();
    for (at, name) in asked.iter().enumerate() {
        let path = format!("{path}[{at}]");
        if name.len() > MOST_VALUE_BYTES {
            wrong.add(path, format!("{} bytes; at most {MOST_VALUE_BYTES} are read", name.len()));
            continue;
        }
        match giver.names().readings(std::slice::from_ref(name)) {
            Ok(one) => wanted.extend(one),
            Err(faults) => faults.iter().for_each(|fault| wrong.add(path.clone(), words(fault))),
        }
    }
    wanted
}

/// A cast, with the text of its time.
pub fn cast(
    path: &str,
    giver: &mut Giver<'_>,
    cast: v1::Cast,
    wrong: &mut Violations,
) -> Option<(String, String, Event)> {
    let v1::Cast { points, time } = cast;
    let field = format!("{path}.points");
    let count = points.len();
    if count > MOST_READINGS {
        wrong.add(field, format!("{count} points; at most {MOST_READINGS} are taken"));
        return None;
    }
    let texts: Vec<String> = points
        .into_iter()
        .enumerate()
        .filter_map(|(at, point)| cast_point(&format!("{field}[{at}]"), point, wrong))
        .collect();
    if texts.len() < count {
        return None;
    }
    let text = if texts.is_empty() { "unknown".to_owned() } else { format!("[{}]", texts.join(", ")) };
    let event = giver.names().event("cast", &text).map_err(|fault| wrong.add(field, words(&fault))).ok()?;
    Some((format!("{path}.time"), time, event))
}

/// A point of a cast as the language writes it.
fn cast_point(path: &str, point: v1::CastPoint, wrong: &mut Violations) -> Option<String> {
    let v1::CastPoint { depth, temperature, oxygen } = point;
    let mut values = Vec::new();
    let mut right = true;
    for (name, quantity) in [("depth", depth), ("temperature", temperature), ("oxygen", oxygen)] {
        match quantity.as_ref().map(text_of).transpose() {
            Ok(text) => values.extend(text),
            Err(why) => {
                wrong.add(format!("{path}.{name}"), why);
                right = false;
            }
        }
    }
    right.then(|| values.join(" "))
}

/// Ladders put on rungs.
pub fn rungs(path: &str, program: &Program, rungs: Vec<v1::LadderRung>, wrong: &mut Violations) -> Vec<Event> {
    if rungs.len() > MOST_READINGS {
        wrong.add(path, format!("{} rungs; at most {MOST_READINGS} are taken", rungs.len()));
        return Vec::new();
    }
    let mut events = Vec::new();
    for (at, rung) in rungs.into_iter().enumerate() {
        match self::rung(program, rung) {
            Ok(event) => events.push(event),
            Err((field, why)) => wrong.add(format!("{path}[{at}].{field}"), why),
        }
    }
    events
}

fn rung(program: &Program, rung: v1::LadderRung) -> Result<Event, (&'static str, String)> {
    let v1::LadderRung { ladder: name, rung } = rung;
    let names = program.ladders.iter().map(|ladder| ladder.name.as_str());
    let found = program.ladder(&name).and_then(|id| Some((id, program.ladders.get(id.index())?)));
    let Some((id, ladder)) = found else {
        return Err(("ladder", unknown(&format!("the strategy has no ladder `{name}`"), &name, names.collect())));
    };
    let rungs: Vec<&str> = ladder.rungs.iter().map(|rung| rung.name.as_str()).collect();
    match rungs.iter().position(|other| same_word(other, &rung)) {
        Some(at) => Ok(Event::Rung(id, Some(at))),
        None => Err(("rung", unknown(&format!("the ladder `{name}` has no rung `{rung}`"), &rung, rungs))),
    }
}

fn unknown(message: &str, word: &str, known: Vec<&str>) -> String {
    match nearest(word, known.iter().copied()) {
        Some(near) => format!("{message}; did you mean `{near}`?"),
        None if known.is_empty() => message.to_owned(),
        None => format!("{message}; it has {}", known.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_written_as_the_language_reads_them() {
        let written = |value: f64| number(value).unwrap_or_else(|_| "refused".to_owned());
        assert_eq!(written(0.1 + 0.2), "0.3");
        assert_eq!(written(54.0), "54");
        assert_eq!(written(-0.0), "0");
        assert_eq!(written(-1.5), "-1.5");
        assert_eq!(written(1e-12), "0");
        assert_eq!(written(f64::NAN), "refused");
        assert_eq!(written(f64::INFINITY), "refused");
        assert_eq!(written(1e20), "100000000000000000000", "which the language's reader refuses");
    }
}
