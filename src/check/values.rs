//! Literals as values of a kind: in trials, in files, in flags and in requests.

use crate::findings::{Code, Finding};
use crate::syntax::tree::{GivenValue, Literal, LiteralValue, Word};
use crate::text::Span;
use crate::vocabulary::kind::{self, Kind, SetId, WordSet};
use crate::vocabulary::nearest::{listed, nearest};
use crate::vocabulary::quantity::{CIRCLE, Decimal, MINUTE, PER_UNIT};
use crate::vocabulary::unit::Unit;

/// The unit of a literal, or a finding with the nearest one.
pub fn unit_of(word: &Word) -> Result<&'static Unit, Finding> {
    Unit::find(&word.text).ok_or_else(|| {
        let help = match nearest(&word.text, Unit::spellings()) {
            Some(near) => Some(format!("did you mean `{near}`?")),
            None if word.text.contains('/') => Some("to divide, put blanks around `/`".to_owned()),
            None => None,
        };
        Finding::new(Code::UnknownUnit, word.span, format!("`{}` is no unit", word.text)).maybe_help(help)
    })
}

/// A number in a unit as counts of a kind, or a finding where it does not fit.
pub fn counts_of(number: Decimal, unit: Option<&Unit>, kind: Kind, span: Span) -> Result<i64, Finding> {
    let (per_unit, zero) = match unit {
        Some(unit) => (unit.counts, unit.zero_for(&kind)),
        None => (PER_UNIT, 0),
    };
    number
        .counts(per_unit, zero)
        .ok_or_else(|| Finding::new(Code::BadNumber, span, "this number is too large to be counted exactly"))
}

/// A value given for a kind: counts, or none for `unknown`.
pub fn given(kind: Kind, set: Option<&WordSet>, what: &str, value: &GivenValue) -> Result<Option<i64>, Finding> {
    match value {
        GivenValue::Unknown(_) => Ok(None),
        GivenValue::Literal(literal) => of_literal(kind, what, literal).map(Some),
        GivenValue::Word(word) => of_word(kind, set, what, word).map(Some),
    }
}

/// A plain value in counts, as nearly all are that files and requests hold: a number with a unit that fits, or one word,
/// and nothing beside. It is read without the grammar. None is anything else, right or wrong, which [`given`] is to judge.
pub fn plain(kind: Kind, set: Option<&WordSet>, text: &str) -> Option<i64> {
    let text = text.trim();
    let (sign, digits) = text.strip_prefix('-').map_or((1, text), |rest| (-1, rest));
    let end = digits.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(digits.len());
    let (number, unit) = digits.split_at_checked(end)?;
    if number.is_empty() {
        return plain_word(kind, set, text);
    }
    let number = Decimal::read(number).ok()?;
    let number = if sign < 0 { number.negated() } else { number };
    if unit.is_empty() {
        return (kind == Kind::Number).then(|| number.counts(PER_UNIT, 0)).flatten();
    }
    let unit = Unit::find(unit.strip_prefix(' ').unwrap_or(unit)).filter(|unit| fits(unit, kind))?;
    Some(turned(kind, number.counts(unit.counts, unit.zero_for(&kind))?))
}

fn plain_word(kind: Kind, set: Option<&WordSet>, text: &str) -> Option<i64> {
    match (kind, text) {
        (Kind::YesNo, "yes") => Some(1),
        (Kind::YesNo, "no") => Some(0),
        (Kind::YesNo, _) => None,
        _ if text.eq_ignore_ascii_case("unknown") => None,
        _ => number_of_word(kind, set, text),
    }
}

/// Whether a number in a unit can be a value of a kind.
fn fits(unit: &Unit, kind: Kind) -> bool {
    unit.kind == kind
        || (unit.kind == Kind::Temperature && kind == Kind::Change)
        || (unit.kind == Kind::Angle && kind == Kind::Direction)
}

/// Counts as a kind has them: a direction goes round.
fn turned(kind: Kind, counts: i64) -> i64 {
    if kind == Kind::Direction { counts.rem_euclid(CIRCLE) } else { counts }
}

fn of_literal(kind: Kind, what: &str, literal: &Literal) -> Result<i64, Finding> {
    match (&literal.value, kind) {
        (LiteralValue::YesNo(yes), Kind::YesNo) => Ok(i64::from(*yes)),
        (LiteralValue::Clock(minutes), Kind::Clock) => Ok(i64::from(*minutes) * MINUTE),
        (LiteralValue::Number(number, Some(word)), _) => {
            let unit = unit_of(&word.0)?;
            if !fits(unit, kind) {
                return Err(wrong_kind(kind, what, literal.span, Some(unit)));
            }
            Ok(turned(kind, counts_of(*number, Some(unit), kind, literal.span)?))
        }
        (LiteralValue::Number(number, None), Kind::Number) => counts_of(*number, None, kind, literal.span),
        (LiteralValue::Number(number, None), _) if number.digits == 0 && kind.takes_bare_zero() => Ok(0),
        (LiteralValue::Number(number, None), _) if kind.is_quantity() || kind == Kind::Direction => {
            Err(needs_unit(*number, kind, literal.span))
        }
        _ => Err(wrong_kind(kind, what, literal.span, None)),
    }
}

/// The finding about a number that lacks its unit.
pub fn needs_unit(number: Decimal, kind: Kind, span: Span) -> Finding {
    let written = written(number);
    Finding::new(Code::NeedsUnit, span, format!("{written} what? {} needs its unit", kind.name()))
        .help(format!("write for instance `{}`", kind.example()))
}

/// A number as it was written.
pub fn written(number: Decimal) -> String {
    let places = number.places as usize;
    let sign = if number.digits < 0 { "-" } else { "" };
    let digits = format!("{:0width$}", number.digits.unsigned_abs(), width = places + 1);
    let (whole, part) = digits.split_at(digits.len() - places);
    if places == 0 { format!("{sign}{whole}") } else { format!("{sign}{whole}.{part}") }
}

fn wrong_kind(kind: Kind, what: &str, span: Span, unit: Option<&Unit>) -> Finding {
    let degrees = unit.is_some_and(|unit| unit.kind == Kind::Angle) && matches!(kind, Kind::Temperature | Kind::Change);
    let help = if degrees {
        "a temperature is written with its scale: `65 °F` or `18 °C`".to_owned()
    } else {
        format!("write for instance `{}`", format!("{what} {}", kind.example()).trim())
    };
    let found = unit.map_or(String::new(), |unit| format!(", not {}", unit.kind.name()));
    let subject = if what.is_empty() { "here belongs".to_owned() } else { format!("`{what}` is") };
    Finding::new(Code::Kinds, span, format!("{subject} {}{found}", kind.name())).help(help)
}

fn of_word(kind: Kind, set: Option<&WordSet>, what: &str, word: &Word) -> Result<i64, Finding> {
    if !matches!(kind, Kind::OneOf(_) | Kind::Month | Kind::Direction) {
        return Err(wrong_kind(kind, what, word.span, None));
    }
    number_of_word(kind, set, &word.text).ok_or_else(|| unknown_word(kind, set, what, word))
}

/// What a word is as a value of a kind that has words; none where it is none of them.
fn number_of_word(kind: Kind, set: Option<&WordSet>, word: &str) -> Option<i64> {
    match kind {
        Kind::OneOf(_) => i64::try_from(set?.index(word)?).ok(),
        Kind::Month => kind::month_number(word),
        Kind::Direction => kind::compass_counts(word),
        _ => None,
    }
}

/// The finding about a word that a kind does not have.
pub fn unknown_word(kind: Kind, set: Option<&WordSet>, what: &str, word: &Word) -> Finding {
    let message = match kind {
        Kind::Month => format!("`{}` is no month", word.text),
        Kind::Direction => format!("`{}` is no compass point", word.text),
        _ => format!("`{}` is none of the words of `{what}`", word.text),
    };
    let candidates: Vec<&str> = match kind {
        Kind::Month => kind::MONTHS.to_vec(),
        Kind::Direction => kind::COMPASS.to_vec(),
        _ => set.map_or(Vec::new(), |set| set.words.iter().map(String::as_str).collect()),
    };
    if let Some(point) = compass_name(kind, &word.text) {
        return Finding::new(Code::UnknownWord, word.span, message).help(format!("write `{point}`"));
    }
    let help = match nearest(&word.text, candidates.iter().copied()) {
        Some(near) => format!("did you mean `{near}`?"),
        None if kind == Kind::Month => "write its English name, as in `november`".to_owned(),
        None => format!("write one of {}", listed(candidates)),
    };
    Finding::new(Code::UnknownWord, word.span, message).help(help)
}

/// The compass point that somebody wrote out: `north`, `southwest`.
fn compass_name(kind: Kind, word: &str) -> Option<String> {
    let names = [("north", 'N'), ("east", 'E'), ("south", 'S'), ("west", 'W')];
    let mut rest = word.to_ascii_lowercase();
    let mut point = String::new();
    while kind == Kind::Direction && !rest.is_empty() {
        let (name, letter) = names.iter().find(|(name, _)| rest.starts_with(name))?;
        point.push(*letter);
        rest = rest.split_off(name.len());
    }
    kind::compass_counts(&point).map(|_| point)
}

/// The set of a one-of kind.
pub fn set_of(sets: &[WordSet], kind: Kind) -> Option<&WordSet> {
    match kind {
        Kind::OneOf(SetId(id)) => sets.get(id as usize),
        _ => None,
    }
}
