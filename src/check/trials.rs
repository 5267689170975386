//! Trials: what they give and expect, as values.

use super::names::{Checker, Named};
use super::values;
use crate::findings::{Code, Finding};
use crate::program::expr::{LadderId, Op};
use crate::program::{
    CastPointDef, ExpectDef, ExpectWhat, GivenDef, GivenTarget, InputSource, PartDef, PrintedEnd, TrialDef,
};
use crate::syntax::tree::{
    self, CastPoint, Expect, ExpectValue, ExprNode, Given, GivenValue, Literal, LiteralValue, Statement, Word,
};
use crate::text::Span;
use crate::vocabulary::aspect::AspectId;
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::nearest::{listed, nearest};
use crate::vocabulary::quantity::DAY;
use crate::vocabulary::unit::Unit;

impl Checker {
    /// Lowers the trials.
    pub fn lower_trials(&mut self, statements: &[Statement]) -> Vec<TrialDef> {
        let mut names: std::collections::BTreeMap<String, Span> = std::collections::BTreeMap::new();
        let mut trials = Vec::new();
        for statement in statements {
            let Statement::Trial(trial) = statement else { continue };
            if let Some(earlier) = names.get(&trial.name.text).copied() {
                self.twice(Code::NameTwice, "the trial", &trial.name.text, trial.name.span, earlier);
            }
            names.entry(trial.name.text.clone()).or_insert(trial.name.span);
            self.check_not_empty(&trial.name);
            trials.push(self.trial(trial));
        }
        trials
    }

    fn trial(&mut self, trial: &tree::Trial) -> TrialDef {
        let mut parts = Vec::new();
        for part in &trial.parts {
            let after = part.after.as_ref().and_then(|literal| self.positive_duration(literal)).unwrap_or(0);
            let given = self.given_list(&part.given);
            let expect = self.expect_list(&part.expect);
            parts.push(PartDef { after, given, expect, span: part.span.0 });
        }
        let lowered = TrialDef { name: trial.name.text.clone(), parts, span: trial.name.span };
        self.check_one_day(&lowered, trial);
        lowered
    }

    /// A trial is a session within one day: a given clock passes no midnight, and all of it lasts less than a day.
    fn check_one_day(&mut self, lowered: &TrialDef, trial: &tree::Trial) {
        let mut clock: Option<i64> = None;
        let mut elapsed = 0i64;
        for (part, written) in lowered.parts.iter().zip(&trial.parts) {
            elapsed = elapsed.saturating_add(part.after);
            clock = clock.map(|time| time.saturating_add(part.after));
            for given in &part.given {
                match given {
                    GivenDef::Value(GivenTarget::Known(Known::Clock), value) => clock = *value,
                    GivenDef::Value(GivenTarget::Known(Known::Strikeless), Some(before)) if part.after == 0 => {
                        elapsed = elapsed.saturating_add(*before);
                    }
                    _ => {}
                }
            }
            let before = part.given.iter().find_map(|given| match given {
                GivenDef::Value(GivenTarget::Known(Known::Strikeless), Some(before)) if part.after == 0 => {
                    Some(*before)
                }
                _ => None,
            });
            let starts_yesterday = clock.zip(before).is_some_and(|(clock, before)| before > clock);
            if clock.is_some_and(|time| time >= DAY) || elapsed >= DAY || starts_yesterday {
                let span = written.after.as_ref().map_or(lowered.span, |after| after.span);
                self.error_with_help(
                    Code::TrialTime,
                    span,
                    "a trial is a session within one day; this one passes midnight",
                    "begin it earlier, or make two trials of it",
                );
                return;
            }
        }
    }

    fn given_list(&mut self, list: &[Given]) -> Vec<GivenDef> {
        let mut given = Vec::new();
        let mut seen: Vec<(String, Span)> = Vec::new();
        for item in list {
            let span = match item {
                Given::Cast(word, _) | Given::Strike(word, _) => word.span,
                Given::Value { target, .. } => target.span,
            };
            let Some(lowered) = self.given_one(item) else { continue };
            let key = match &lowered {
                GivenDef::Value(target, _) => format!("{target:?}"),
                GivenDef::Rung(ladder, _) => format!("{ladder:?}"),
                GivenDef::Cast(_) | GivenDef::NoCast => "cast".to_owned(),
                GivenDef::Strike => "strike".to_owned(),
            };
            if let Some((_, earlier)) = seen.iter().find(|(other, _)| *other == key) {
                let line = self.line(*earlier);
                let text = self.sources.slice(span).to_owned();
                let message = format!("`{text}` is given twice in one moment; first in line {line}");
                self.error(Code::TwiceInTrial, span, message);
                continue;
            }
            seen.push((key, span));
            given.push(lowered);
        }
        given
    }

    /// One thing given, whoever gives it.
    pub fn given_one(&mut self, item: &Given) -> Option<GivenDef> {
        match item {
            Given::Cast(_, points) => self.cast(points).map(GivenDef::Cast),
            Given::Strike(word, literal) => self.strike(word, literal),
            Given::Value { target, value } => self.given_value(target, value),
        }
    }

    fn strike(&mut self, word: &Word, literal: &Literal) -> Option<GivenDef> {
        if let Some((Named::Own(at), _)) = self.named(word) {
            let kind = self.own.get(at)?.kind;
            let value = self.given_of(kind, &word.text, &GivenValue::Literal(literal.clone()))?;
            return Some(GivenDef::Value(GivenTarget::Own(at), value));
        }
        if literal.value == LiteralValue::YesNo(true) {
            return Some(GivenDef::Strike);
        }
        let help = "`given strike yes` is one strike; without one, leave it out";
        self.error_with_help(Code::Syntax, literal.span, "a strike that did not happen is not given", help);
        None
    }

    fn given_of(&mut self, kind: Kind, what: &str, value: &GivenValue) -> Option<Option<i64>> {
        match values::given(kind, values::set_of(&self.sets, kind), what, value) {
            Ok(value) => Some(value),
            Err(finding) => {
                self.findings.push(finding);
                None
            }
        }
    }

    fn given_value(&mut self, target: &tree::Expr, value: &GivenValue) -> Option<GivenDef> {
        match &target.node {
            ExprNode::Name(word) => self.given_name(word, value),
            ExprNode::Call(name, _) => self.given_call(target, name, value),
            _ => None,
        }
    }

    fn given_name(&mut self, word: &Word, value: &GivenValue) -> Option<GivenDef> {
        let span = value.span();
        match self.named(word) {
            Some((Named::Own(at), _)) => {
                let kind = self.own.get(at)?.kind;
                let counts = self.given_of(kind, &word.text, value)?;
                let range = self.own.get(at)?.plausible;
                self.warn_implausible(&word.text, range, "", counts, span);
                Some(GivenDef::Value(GivenTarget::Own(at), counts))
            }
            Some((Named::Ladder(id), _)) => self.given_rung(id, word, value),
            Some((named, _)) => {
                self.not_given(word, named);
                None
            }
            None => self.given_known(word, value),
        }
    }

    /// Says that a declared name is none under which something is given.
    pub fn not_given(&mut self, word: &Word, named: Named) {
        match named {
            Named::Let(_) => {
                let message = format!("`{}` is a let; only readings and rungs are given", word.text);
                self.error_with_help(Code::UnknownName, word.span, message, "give the readings that it asks for");
            }
            Named::Aspect => {
                let message = format!("`{}` is an aspect of the tactic; it is expected, not given", word.text);
                self.error(Code::UnknownName, word.span, message);
            }
            Named::Own(_) | Named::Ladder(_) | Named::Broken => {}
        }
    }

    fn given_known(&mut self, word: &Word, value: &GivenValue) -> Option<GivenDef> {
        if word.is("cast") && matches!(value, GivenValue::Unknown(_)) {
            return Some(GivenDef::NoCast);
        }
        let Some(known) = Known::reading(&word.text) else {
            self.nothing_given_so(word);
            return None;
        };
        if known == Known::Position {
            self.error_with_help(
                Code::Kinds,
                word.span,
                "a position can't be given in a trial",
                "give what follows from it, such as `sun_height 12°` or `light low_sun`",
            );
            return None;
        }
        let entry = known.entry();
        let counts = self.given_of(entry.kind, &word.text, value)?;
        self.warn_implausible(known.name(), entry.plausible, entry.plausible_text, counts, value.span());
        Some(GivenDef::Value(GivenTarget::Known(known), counts))
    }

    /// Says that nothing is given under a name.
    pub fn nothing_given_so(&mut self, word: &Word) {
        if self.forgives_names {
            return;
        }
        let help = if self.aspect_named(&word.text).is_some() {
            format!("`{}` is an aspect of the tactic; it is expected, not given", word.text)
        } else if let Some(near) = self.nearest_value_name(&word.text) {
            format!("did you mean `{near}`?")
        } else {
            format!("declare it, as in `reading {} is yes or no`", word.text)
        };
        let message = format!("nothing is named `{}`", word.text);
        self.error_with_help(Code::UnknownName, word.span, message, help);
    }

    fn warn_implausible(&mut self, name: &str, range: Option<(i64, i64)>, text: &str, value: Option<i64>, span: Span) {
        if let (Some((low, high)), Some(value)) = (range, value)
            && (value < low || value > high)
        {
            self.implausible(name, text, span);
        }
    }

    fn given_rung(&mut self, id: LadderId, word: &Word, value: &GivenValue) -> Option<GivenDef> {
        match value {
            GivenValue::Unknown(_) => Some(GivenDef::Rung(id, None)),
            GivenValue::Word(rung) => Some(GivenDef::Rung(id, Some(self.rung_named(id, word, rung)?))),
            GivenValue::Literal(literal) => {
                let message = format!("`{}` is a ladder; give the name of one of its rungs", word.text);
                self.error(Code::Kinds, literal.span, message);
                None
            }
        }
    }

    fn rung_named(&mut self, id: LadderId, ladder: &Word, rung: &Word) -> Option<usize> {
        let set = self.ladders.get(id.index())?.set;
        let words = self.sets.get(set.0 as usize)?.words.iter();
        if let Some(at) = words.clone().position(|word| rung.is(word)) {
            return Some(at);
        }
        let help = match nearest(&rung.text, words.clone().map(String::as_str)) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("its rungs are {}", listed(words.map(String::as_str))),
        };
        let message = format!("`{}` is no rung of the ladder `{}`", rung.text, ladder.text);
        self.error_with_help(Code::UnknownWord, rung.span, message, help);
        None
    }

    fn given_call(&mut self, target: &tree::Expr, name: &Word, value: &GivenValue) -> Option<GivenDef> {
        let (given_target, kind) = self.call_target(target, name)?;
        let text = self.sources.slice(target.span).to_owned();
        let counts = self.given_of(kind, &text, value)?;
        if let Some(known) = Known::call(&name.text).filter(|known| *known != Known::Change) {
            let entry = known.entry();
            self.warn_implausible(&text, entry.plausible, entry.plausible_text, counts, value.span());
        }
        Some(GivenDef::Value(given_target, counts))
    }

    /// What a call with fixed arguments stands for when it is given, and the kind of its value.
    pub fn call_target(&mut self, target: &tree::Expr, name: &Word) -> Option<(GivenTarget, Kind)> {
        let typed = self.any_value(target)?;
        let Op::Input(id) = typed.op else {
            let message = format!("`{}` is given for a fixed argument", name.text);
            self.error(Code::Arguments, target.span, message);
            return None;
        };
        let given_target = match self.inputs.get(id.index())?.source {
            InputSource::Call(known, kind, argument) => GivenTarget::Call(known, kind, argument),
            InputSource::Strikes(window) => GivenTarget::Call(Known::Strikes, Kind::Duration, window),
            InputSource::Change(of, window) => match self.inputs.get(of.index())?.source {
                InputSource::Known(known) => GivenTarget::ChangeOfKnown(known, window),
                InputSource::Own(at) => GivenTarget::ChangeOfOwn(at, window),
                _ => return None,
            },
            _ => return None,
        };
        Some((given_target, typed.kind))
    }

    fn cast(&mut self, points: &[CastPoint]) -> Option<Vec<CastPointDef>> {
        match read_cast(points) {
            Ok((points, implausible)) => {
                self.findings.extend(implausible);
                Some(points)
            }
            Err(findings) => {
                self.findings.extend(findings);
                None
            }
        }
    }

    // What is expected

    fn expect_list(&mut self, list: &[Expect]) -> Vec<ExpectDef> {
        let mut expected: Vec<ExpectDef> = Vec::new();
        let mut seen: Vec<(String, Span)> = Vec::new();
        for item in list {
            let (key, span) = match item {
                Expect::Unknown(word) | Expect::Value { name: word, .. } => {
                    let name = if word.is("color") { "colour".to_owned() } else { word.text.to_lowercase() };
                    (name, word.span)
                }
                Expect::Stop { keyword, text, .. } => (key_of("stop", text.as_ref()), keyword.span),
                Expect::Caution { keyword, text, .. } => (key_of("caution", text.as_ref()), keyword.span),
            };
            if let Some((_, earlier)) = seen.iter().find(|(other, _)| *other == key) {
                let line = self.line(*earlier);
                let text = self.sources.slice(span).to_owned();
                let message = format!("`{text}` is expected twice in one moment; first in line {line}");
                self.error(Code::TwiceInTrial, span, message);
                continue;
            }
            seen.push((key, span));
            let what = self.expect(item);
            expected.extend(what.map(|what| ExpectDef { what, span }));
        }
        expected
    }

    fn expect(&mut self, item: &Expect) -> Option<ExpectWhat> {
        match item {
            Expect::Stop { wanted, text, .. } => {
                Some(ExpectWhat::Stop(*wanted, text.as_ref().map(|text| text.text.clone())))
            }
            Expect::Caution { wanted, text, .. } => {
                Some(ExpectWhat::Caution(*wanted, text.as_ref().map(|text| text.text.clone())))
            }
            Expect::Unknown(word) => {
                if let Some((Named::Ladder(id), _)) = self.named(word) {
                    return Some(ExpectWhat::Rung(id, None));
                }
                self.expectable(word).map(ExpectWhat::NoValue)
            }
            Expect::Value { name, value } => self.expect_value(name, value),
        }
    }

    /// The aspect that a word in an `expect` names, or a finding.
    fn expectable(&mut self, word: &Word) -> Option<AspectId> {
        if let Some(aspect) = self.aspect_named(&word.text) {
            return Some(aspect);
        }
        if matches!(self.named(word), Some((Named::Broken, _))) || self.forgives_words {
            return None;
        }
        let aspects = self.aspects.iter().map(|aspect| aspect.name.clone());
        let ladders = self.ladders.iter().map(|ladder| ladder.name.clone());
        let names: Vec<String> = aspects.chain(ladders).collect();
        let help = match nearest(&word.text, names.iter().map(String::as_str)) {
            Some(near) => format!("did you mean `{near}`?"),
            None => {
                format!("what can be expected is {}, `stop` and `caution`", listed(names.iter().map(String::as_str)))
            }
        };
        let message = format!("`{}` is neither an aspect nor a ladder", word.text);
        self.error_with_help(Code::UnknownAspect, word.span, message, help);
        None
    }

    fn expect_value(&mut self, name: &Word, value: &ExpectValue) -> Option<ExpectWhat> {
        if let Some((Named::Ladder(id), _)) = self.named(name) {
            return match value {
                ExpectValue::Words(words) if words.len() == 1 => {
                    Some(ExpectWhat::Rung(id, Some(self.rung_named(id, name, &words[0])?)))
                }
                _ => {
                    let message = format!("`{}` is a ladder; expect one of its rungs", name.text);
                    self.error(Code::Kinds, name.span, message);
                    None
                }
            };
        }
        let aspect = self.expectable(name)?;
        match (self.aspects.get(aspect.index())?.range_kind(), value) {
            (Some(kind), ExpectValue::Range(from, to)) => self.expect_range(aspect, kind, name, from, to.as_ref()),
            (None, ExpectValue::Words(words)) => {
                let mut chosen = Vec::new();
                for word in words {
                    chosen.push(self.aspect_word(aspect, word)?);
                }
                chosen.sort_unstable();
                chosen.dedup();
                Some(ExpectWhat::Words(aspect, chosen))
            }
            (Some(kind), ExpectValue::Words(_)) => {
                let message = format!("`{}` is expected as a value", name.text);
                let help = format!("write for instance `{} {}`", name.text, kind.example());
                self.error_with_help(Code::Kinds, name.span, message, help);
                None
            }
            (None, ExpectValue::Range(..)) => {
                let words = self.aspects.get(aspect.index())?.words();
                let message = format!("`{}` is expected as words", name.text);
                let help = format!("write for instance `{} {}`", name.text, words.first().map_or("", String::as_str));
                self.error_with_help(Code::Kinds, name.span, message, help);
                None
            }
        }
    }

    fn expect_range(
        &mut self,
        aspect: AspectId,
        kind: Kind,
        name: &Word,
        from: &Literal,
        to: Option<&Literal>,
    ) -> Option<ExpectWhat> {
        let upper_unit = to.and_then(unit_word);
        let high = match to {
            Some(to) => Some(self.printed_end(kind, name, to, None)?),
            None => None,
        };
        let low = self.printed_end(kind, name, from, upper_unit)?;
        let high = high.unwrap_or(low);
        if low.counts > high.counts {
            let span = from.span.to(to.map_or(from.span, |to| to.span));
            self.error(Code::ReversedRange, span, "this range runs from the greater to the lesser value");
            return None;
        }
        Some(ExpectWhat::Range(aspect, low, high))
    }

    /// An end as it is printed: a bare one takes the unit of the upper end.
    fn printed_end(&mut self, kind: Kind, name: &Word, literal: &Literal, unit: Option<&Word>) -> Option<PrintedEnd> {
        let LiteralValue::Number(number, own_unit) = &literal.value else {
            let message = format!("`{}` is {}", name.text, kind.name());
            self.error(Code::Kinds, literal.span, message);
            return None;
        };
        let word = own_unit.as_ref().map(|unit| &unit.0).or(unit);
        let Some(word) = word else {
            if number.digits == 0 {
                // Zero is zero in every unit; its decimals are those of the base unit.
                let unit: &'static Unit = match kind {
                    Kind::Speed => &crate::vocabulary::unit::MILES_PER_HOUR,
                    _ if name.is("size") => &crate::vocabulary::unit::INCHES,
                    _ => &crate::vocabulary::unit::FEET,
                };
                return Some(PrintedEnd { counts: 0, unit, places: number.places });
            }
            self.findings.push(values::needs_unit(*number, kind, literal.span));
            return None;
        };
        let unit = match values::unit_of(word) {
            Ok(unit) => unit,
            Err(finding) => {
                self.findings.push(finding);
                return None;
            }
        };
        if unit.kind != kind {
            let message = format!("`{}` is {}, not {}", name.text, kind.name(), unit.kind.name());
            self.error(Code::Kinds, literal.span, message);
            return None;
        }
        match values::counts_of(*number, Some(unit), kind, literal.span) {
            Ok(counts) => Some(PrintedEnd { counts, unit, places: number.places }),
            Err(finding) => {
                self.findings.push(finding);
                None
            }
        }
    }
}

fn key_of(word: &str, text: Option<&tree::Text>) -> String {
    text.map_or_else(|| word.to_owned(), |text| format!("{word} {}", text.text))
}

fn unit_word(literal: &Literal) -> Option<&Word> {
    match &literal.value {
        LiteralValue::Number(_, Some(unit)) => Some(&unit.0),
        _ => None,
    }
}

/// The points of a cast in counts, or what is wrong with them, an implausible value included.
///
/// Each point is a depth with a temperature, an oxygen content or both; depths grow from point to point.
pub fn cast_points(points: &[CastPoint]) -> Result<Vec<CastPointDef>, Vec<Finding>> {
    let (points, implausible) = read_cast(points)?;
    if implausible.is_empty() { Ok(points) } else { Err(implausible) }
}

/// The points of a cast, with the findings about what is implausible in it.
fn read_cast(points: &[CastPoint]) -> Result<(Vec<CastPointDef>, Vec<Finding>), Vec<Finding>> {
    let mut implausible = Vec::new();
    let mut findings = Vec::new();
    let mut read: Vec<CastPointDef> = Vec::new();
    for point in points {
        match cast_point(point, &mut implausible) {
            Ok(next) if read.last().is_some_and(|last| next.depth <= last.depth) => findings.push(
                Finding::new(Code::ReversedRange, point.span.0, "the depths of a cast grow from point to point")
                    .help("write each depth once, the shallowest first"),
            ),
            Ok(next) => read.push(next),
            Err(finding) => findings.push(finding),
        }
    }
    if findings.is_empty() { Ok((read, implausible)) } else { Err(findings) }
}

/// Least oxygen that a cast's point may have: the noise of a probe near zero, in counts.
const LEAST_OXYGEN: i64 = -4_500;

fn cast_point(point: &CastPoint, implausible: &mut Vec<Finding>) -> Result<CastPointDef, Finding> {
    let mut depth = None;
    let mut temperature = None;
    let mut oxygen = None;
    for literal in &point.values {
        let LiteralValue::Number(number, unit) = &literal.value else {
            return Err(Finding::new(Code::Kinds, literal.span, "a time of day is no part of a cast"));
        };
        let (slot, kind) = match unit {
            Some(word) => match values::unit_of(&word.0)?.kind {
                Kind::Length => (&mut depth, Kind::Length),
                Kind::Temperature => (&mut temperature, Kind::Temperature),
                Kind::Oxygen => (&mut oxygen, Kind::Oxygen),
                other => {
                    let message = format!("a cast has depths, temperatures and oxygen contents, not {}", other.name());
                    return Err(Finding::new(Code::Kinds, literal.span, message));
                }
            },
            None if number.digits == 0 => (&mut depth, Kind::Length),
            None => return Err(values::needs_unit(*number, Kind::Length, literal.span)),
        };
        if slot.is_some() {
            let message = format!("this point of the cast has {} twice", kind.name());
            return Err(Finding::new(Code::TwiceInTrial, literal.span, message));
        }
        let unit = match unit {
            Some(word) => Some(values::unit_of(&word.0)?),
            None => None,
        };
        let counts = values::counts_of(*number, unit, kind, literal.span)?;
        implausible.extend(implausible_in_cast(kind, counts, literal.span));
        *slot = Some(counts);
    }
    let point_span = point.span.0;
    let help = "write points as in `[0 ft 70 °F, 25 ft 66 °F 8 mg/L]`";
    match depth {
        None => Err(Finding::new(Code::Incomplete, point_span, "this point of the cast has no depth").help(help)),
        Some(_) if temperature.is_none() && oxygen.is_none() => {
            Err(Finding::new(Code::Incomplete, point_span, "nothing was measured at this point of the cast").help(help))
        }
        Some(depth) => Ok(CastPointDef { depth, temperature, oxygen }),
    }
}

fn implausible_in_cast(kind: Kind, counts: i64, span: Span) -> Option<Finding> {
    let (range, text) = match kind {
        Kind::Length => (Known::Bottom.entry().plausible, Known::Bottom.entry().plausible_text),
        Kind::Temperature => (Known::Surface.entry().plausible, Known::Surface.entry().plausible_text),
        _ => (Known::OxygenAt.entry().plausible.map(|(_, high)| (LEAST_OXYGEN, high)), "-0.5 to 25 mg/L"),
    };
    let (low, high) = range?;
    (counts < low || counts > high).then(|| {
        let message = format!("{} in a cast that is outside what is physically plausible", kind.name());
        Finding::new(Code::Implausible, span, message).help(format!("in a cast it runs from {text}"))
    })
}
