//! Strategy and session to advice: the call, its reasons, and what is not known.
//!
//! [`Advice`] is data with everything in it that a person or a program may be shown; its serialised form is the JSON
//! that the commands print. [`text`] says it in words. [`cautions`] are the standing cautions, which are there whatever
//! the strategy says.

pub mod cautions;
pub mod quantity;
pub mod readings;
pub mod text;

use serde::Serialize;

use crate::engine::{LadderState, Outcome, Readings, Source, State, Verdict};
use crate::explain::{self, Near, Needed};
use crate::program::expr::{Expr, InputId, Op};
use crate::program::{Bound, GivenTarget, Input, LadderDef, Program, RungDef};
use crate::session::{Moment, Session};
use crate::vocabulary::aspect::{AspectId, Form};
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::print;
use crate::vocabulary::time::{Instant, to_the_second};
use cautions::{Figures, StandingCaution};
use quantity::Value;

/// What is called, and why.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Advice {
    /// The strategy's name.
    pub strategy: String,
    /// The fish it is for.
    pub species: Option<String>,
    /// The instant it is for, in the water's zone where there is one; none in a trial.
    pub at: Option<String>,
    /// Whether it stands in a session, or is one request without a history.
    pub session: bool,
    /// Why lines come up; empty where they stay in.
    pub lines_up: Vec<Said>,
    /// Cautions, limits and stops that are not ruled out, because their conditions are unknown.
    pub not_ruled_out: Vec<Open>,
    /// Each aspect that the strategy decides anywhere, in order.
    pub tactic: Vec<AspectAdvice>,
    /// Each ladder.
    pub ladders: Vec<LadderAdvice>,
    /// What the strategy cautions of.
    pub cautions: Vec<Said>,
    /// Rules that could not be judged.
    pub undecided: Vec<Undecided>,
    /// Shifts that had nothing to shift, or whose amount is unknown.
    pub idle: Vec<Idle>,
    /// Thresholds near by, at which the call changes.
    pub near: Vec<Near>,
    /// Every reading that the strategy asks for.
    pub readings: Vec<ReadingAdvice>,
    /// How deep the cast that was used goes.
    pub cast_depth: Option<Value>,
    /// The cautions that always stand, whatever the strategy says.
    pub standing_cautions: Vec<StandingCaution>,
    /// What the lake allows, as the water file says.
    pub lake: Option<LakeAdvice>,
}

/// A rule or rung, and where it is written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct By {
    /// The rule's name, or the rung's.
    pub name: String,
    /// The ladder, where it is a rung.
    pub ladder: Option<String>,
    /// The file it is written in.
    pub file: String,
    /// The line of its name.
    pub line: u32,
    /// Its reason.
    pub because: Option<String>,
}

/// A text that a rule gives.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Said {
    /// The text.
    pub text: String,
    /// Who gives it.
    pub by: By,
}

/// A stop, caution or limit whose condition is unknown.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Open {
    /// What would be said or limited.
    pub texts: Vec<String>,
    /// Whether it would bring lines up.
    pub stops: bool,
    /// The rule.
    pub by: By,
    /// The readings that would settle it.
    pub settled_by: Vec<Needed>,
}

/// What became of one aspect.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AspectAdvice {
    /// Its name.
    pub name: String,
    /// Its value; none where it has none.
    pub value: Option<Value>,
    /// The value as it is printed.
    pub printed: Option<String>,
    /// Why it has no value.
    pub why_none: Option<String>,
    /// Who decided it.
    pub by: Option<By>,
    /// What it was before shifts and limits, where those changed it.
    pub before: Option<String>,
    /// Every shift that acted on it.
    pub shifts: Vec<ShiftAdvice>,
    /// Every limit that moved it, or left it nothing.
    pub limits: Vec<LimitAdvice>,
    /// Wishes that limits left nothing of.
    pub passed_over: Vec<By>,
    /// The readings that would make an unknown value known.
    pub settled_by: Vec<Needed>,
    /// Readings that are estimates and went into it: into the value, or into what decided that this is it.
    pub estimated: Vec<String>,
}

/// A shift that acted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ShiftAdvice {
    /// What it did, such as `slower by 0.4 mph`.
    pub text: String,
    /// Who did it.
    pub by: By,
}

/// A limit that acted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LimitAdvice {
    /// What it says, such as `at most 50 ft`.
    pub text: String,
    /// Who says it; none for the standing limit of zero.
    pub by: Option<By>,
}

/// Where a ladder stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LadderAdvice {
    /// Its name.
    pub name: String,
    /// Its title.
    pub title: Option<String>,
    /// The rung it stands on; none where no rung is open.
    pub rung: Option<String>,
    /// The rungs, top first.
    pub rungs: Vec<String>,
    /// How long it has stood there.
    pub standing_for: Option<Value>,
    /// Its rung's reason.
    pub because: Option<String>,
    /// Why it stands on none.
    pub why_none: Option<String>,
}

/// A rule that could not be judged.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Undecided {
    /// The rule.
    pub by: By,
    /// The readings that would settle it.
    pub settled_by: Vec<Needed>,
    /// Whether settling it could change the call at all; yes too where there are too many rules to try each.
    pub could_change: bool,
}

/// Something that did nothing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Idle {
    /// What it says.
    pub text: String,
    /// Why it did nothing.
    pub why: String,
    /// Who says it.
    pub by: By,
    /// The readings that would settle its amount.
    pub settled_by: Vec<Needed>,
}

/// A reading that the strategy asks for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReadingAdvice {
    /// Its name, or the call.
    pub name: String,
    /// Its value; none is unknown.
    pub value: Option<Value>,
    /// The value as it is printed.
    pub printed: Option<String>,
    /// `given`, `derived`, `estimated` or `unknown`.
    pub origin: &'static str,
    /// How old it is.
    pub age: Option<Value>,
    /// The readings it came from.
    pub from: Vec<String>,
    /// How it was derived.
    pub how: Option<String>,
    /// For an unknown one, what would make it known.
    pub needs: Option<String>,
}

/// What the lake allows.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LakeAdvice {
    /// The water's name.
    pub name: String,
    /// When its rules were checked.
    pub checked: Option<String>,
    /// Where they were read.
    pub source: Option<String>,
    /// What they say, line by line.
    pub rules: Vec<String>,
}

/// What the water file says that advice shows.
#[derive(Clone, Debug, Default)]
pub struct Shown {
    /// What the lake allows.
    pub lake: Option<LakeAdvice>,
    /// The figures of the agency that the water file names.
    pub figures: Option<Figures>,
}

/// How much of an advice is wanted. What is left out is not worked out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum View {
    /// The call: lines up and why, what is not ruled out, each aspect's value and who decided it, the rungs, and every
    /// caution, the standing ones included. Estimates are marked as such here too.
    Call,
    /// All there is.
    #[default]
    Full,
}

/// The advice of a session at an instant.
pub fn advise(session: &Session, at: Instant, shown: &Shown) -> Advice {
    advise_in(session, at, shown, View::Full)
}

/// The same, as far as a view wants it.
pub fn advise_in(session: &Session, at: Instant, shown: &Shown, view: View) -> Advice {
    let moment = session.moment(at);
    let standing = session.standing(&moment);
    let outcome = session.outcome_of(&moment, &standing);
    if session.started() {
        build(session, &moment, &moment, &standing, &outcome, shown, view)
    } else {
        let frozen = session.frozen(&moment);
        build(session, &moment, &frozen, &standing, &outcome, shown, view)
    }
}

fn build(
    session: &Session,
    moment: &Moment<'_>,
    readings: &dyn Readings,
    standing: &State,
    outcome: &Outcome,
    shown: &Shown,
    view: View,
) -> Advice {
    let program = session.program();
    let lets = standing.let_values(program, readings);
    let at = session.setting().zone.as_ref().map(|zone| to_the_second(&readings.now().zoned(zone)));
    if view == View::Call {
        let is_estimated = |input: &Input| moment.is_estimated(input.source).then(|| program.input_name(input.source));
        let estimated = program.inputs.iter().map(is_estimated).collect();
        let scene = Telling { program, readings, moment, standing, outcome, lets, estimated };
        return scene.call(at, session.started(), shown);
    }
    let readings_told = reading_list(program, readings, moment);
    let is_estimated = |told: &ReadingAdvice| told.origin == crate::session::Origin::Estimated.name();
    let estimated = readings_told.iter().map(|told| is_estimated(told).then(|| told.name.clone())).collect();
    let scene = Telling { program, readings, moment, standing, outcome, lets, estimated };
    let mut near = explain::near(program, readings, standing, outcome);
    for near in &mut near {
        // A given value is shown as it was given here too.
        let told = readings_told.iter().find(|reading| reading.name == near.reading);
        if let Some(printed) = told.and_then(|reading| reading.printed.clone()) {
            near.now = printed;
        }
    }
    Advice {
        strategy: program.name.clone(),
        species: program.species.clone(),
        at,
        session: session.started(),
        lines_up: scene.said(&outcome.stops, |rule| &rule.stops, by),
        not_ruled_out: outcome.not_ruled_out.iter().map(|at| scene.open(*at)).collect(),
        tactic: scene.tactic(),
        ladders: scene.ladders(),
        cautions: scene.said(&outcome.cautions, |rule| &rule.cautions, by),
        undecided: scene.undecided(),
        idle: scene.idle(),
        near,
        readings: readings_told,
        cast_depth: moment
            .cast_depth()
            .filter(|depth| *depth > 0)
            .and_then(|depth| Value::of(depth, Kind::Length, false, program)),
        standing_cautions: cautions::standing(moment, shown.figures.as_ref()).collect(),
        lake: shown.lake.clone(),
    }
}

/// A rule or rung, and where it is written.
pub fn by(program: &Program, source: Source) -> By {
    let span = match source {
        Source::Rule(at) => program.rules.get(at).map(|rule| rule.span),
        Source::Rung(ladder, rung) => rung_of(program, ladder, rung).map(|(_, rung)| rung.span),
    };
    let span = span.unwrap_or_default();
    let file = program.sources.file(span.file);
    By { file: file.name().to_owned(), line: file.line_of(span.start), ..reason_of(program, source) }
}

/// The same without its place.
fn reason_of(program: &Program, source: Source) -> By {
    let because = match source {
        Source::Rule(at) => program.rules.get(at).and_then(|rule| rule.because.clone()),
        Source::Rung(ladder, rung) => rung_of(program, ladder, rung)
            .and_then(|(ladder, rung)| rung.because.clone().or_else(|| ladder.title.clone())),
    };
    By { because, ..name_of(program, source) }
}

/// The same by name alone, without its place and its reason.
fn name_of(program: &Program, source: Source) -> By {
    let (name, ladder) = match source {
        Source::Rule(at) => (program.rules.get(at).map(|rule| rule.name.clone()), None),
        Source::Rung(ladder, rung) => {
            rung_of(program, ladder, rung).map(|(ladder, rung)| (rung.name.clone(), ladder.name.clone())).unzip()
        }
    };
    By { name: name.unwrap_or_default(), ladder, file: String::new(), line: 0, because: None }
}

fn rung_of(program: &Program, ladder: usize, rung: usize) -> Option<(&LadderDef, &RungDef)> {
    let ladder = program.ladders.get(ladder)?;
    Some((ladder, ladder.rungs.get(rung)?))
}

/// Which rung a ladder stands on, and no more.
fn stands(ladder: &LadderDef, state: &LadderState) -> LadderAdvice {
    let rung = state.rung.and_then(|rung| ladder.rungs.get(rung));
    LadderAdvice {
        name: ladder.name.clone(),
        title: None,
        rung: rung.map(|rung| rung.name.clone()),
        rungs: Vec::new(),
        standing_for: None,
        because: None,
        why_none: rung.is_none().then(|| "none of its rungs is open".to_owned()),
    }
}

struct Telling<'a> {
    program: &'a Program,
    readings: &'a dyn Readings,
    moment: &'a Moment<'a>,
    standing: &'a State,
    outcome: &'a Outcome,
    lets: Vec<Option<i64>>,
    /// Of each input its name, where it is an estimate.
    estimated: Vec<Option<String>>,
}

impl Telling<'_> {
    fn by(&self, source: Source) -> By {
        by(self.program, source)
    }

    /// The call alone.
    fn call(&self, at: Option<String>, session: bool, shown: &Shown) -> Advice {
        let open = |at: &usize| {
            let (texts, stops) = self.open_texts(*at);
            Open { texts, stops, by: name_of(self.program, Source::Rule(*at)), settled_by: Vec::new() }
        };
        let aspect = |id: AspectId| AspectAdvice {
            name: self.program.aspects[id.index()].name.clone(),
            value: self.value(id),
            printed: None,
            why_none: self.why_none(id),
            by: self.outcome.aspects[id.index()].decided_by.map(|source| name_of(self.program, source)),
            before: None,
            shifts: Vec::new(),
            limits: Vec::new(),
            passed_over: Vec::new(),
            settled_by: Vec::new(),
            estimated: self.estimated_in(id),
        };
        let standings = self.program.ladders.iter().zip(&self.standing.ladders);
        Advice {
            strategy: self.program.name.clone(),
            species: None,
            at,
            session,
            lines_up: self.said(&self.outcome.stops, |rule| &rule.stops, reason_of),
            not_ruled_out: self.outcome.not_ruled_out.iter().map(open).collect(),
            tactic: self.decided_aspects().map(aspect).collect(),
            ladders: standings.map(|(ladder, state)| stands(ladder, state)).collect(),
            cautions: self.said(&self.outcome.cautions, |rule| &rule.cautions, name_of),
            undecided: Vec::new(),
            idle: Vec::new(),
            near: Vec::new(),
            readings: Vec::new(),
            cast_depth: None,
            standing_cautions: cautions::standing(self.moment, shown.figures.as_ref())
                .map(StandingCaution::alone)
                .collect(),
            lake: None,
        }
    }

    fn needed(&self, expr: &Expr) -> Vec<Needed> {
        explain::needed(self.program, self.readings, &self.lets, &self.outcome.rungs, expr)
    }

    /// What rules say, each with who says it.
    fn said(
        &self,
        rules: &[usize],
        texts: fn(&crate::program::RuleDef) -> &Vec<String>,
        by: fn(&Program, Source) -> By,
    ) -> Vec<Said> {
        let said = rules.iter().filter_map(|at| Some((*at, self.program.rules.get(*at)?)));
        let said = said.flat_map(|(at, rule)| texts(rule).iter().map(move |text| (at, text)));
        said.map(|(at, text)| Said { text: text.clone(), by: by(self.program, Source::Rule(at)) }).collect()
    }

    fn condition_needs(&self, rule: usize) -> Vec<Needed> {
        let condition = self.program.rules.get(rule).and_then(|rule| rule.condition.as_ref());
        condition.map_or_else(Vec::new, |condition| self.needed(condition))
    }

    fn open(&self, at: usize) -> Open {
        let (texts, stops) = self.open_texts(at);
        Open { texts, stops, by: self.by(Source::Rule(at)), settled_by: self.condition_needs(at) }
    }

    /// What a rule that is not ruled out would say or limit, and whether it would bring lines up.
    fn open_texts(&self, at: usize) -> (Vec<String>, bool) {
        let mut texts = Vec::new();
        let mut stops = false;
        if let Some(rule) = self.program.rules.get(at) {
            stops = !rule.stops.is_empty();
            texts.extend(rule.stops.iter().map(|text| format!("lines up: {text}")));
            texts.extend(rule.cautions.iter().cloned());
            texts.extend(rule.limits.iter().map(|limit| {
                format!("{} {}", self.program.aspect_name(limit.aspect), self.bound(limit.aspect, &limit.bound))
            }));
        }
        (texts, stops)
    }

    /// A limit in words; its amount as it is now, where it is known.
    fn bound(&self, aspect: AspectId, bound: &Bound) -> String {
        let amount =
            |expr: &Expr| match explain::value(self.program, self.readings, &self.lets, &self.outcome.rungs, expr) {
                Some(counts) => self.print(counts, aspect),
                None => format!("{} (unknown)", self.program.sources.slice(expr.span).trim()),
            };
        match bound {
            Bound::AtLeast(expr) => format!("at least {}", amount(expr)),
            Bound::AtMost(expr) => format!("at most {}", amount(expr)),
            Bound::Not(word) => format!("not {}", self.word(aspect, *word)),
        }
    }

    fn word(&self, aspect: AspectId, word: usize) -> String {
        let words = self.program.aspects.get(aspect.index()).map_or(&[][..], |aspect| aspect.words());
        words.get(word).cloned().unwrap_or_default()
    }

    fn print(&self, counts: i64, aspect: AspectId) -> String {
        let kind = self.program.aspects.get(aspect.index()).and_then(|aspect| aspect.range_kind());
        self.program.print(counts, kind.unwrap_or(Kind::Number), aspect == AspectId::SIZE)
    }

    fn decided_aspects(&self) -> impl Iterator<Item = AspectId> {
        self.program.ready().decided.iter().copied()
    }

    fn tactic(&self) -> Vec<AspectAdvice> {
        self.decided_aspects().map(|id| self.aspect(id)).collect()
    }

    fn kind(&self, id: AspectId) -> Kind {
        self.program.aspects[id.index()].range_kind().unwrap_or(Kind::Number)
    }

    fn value(&self, id: AspectId) -> Option<Value> {
        match self.outcome.verdict(id) {
            Verdict::Range(from, to) => Value::range(*from, *to, self.kind(id), id == AspectId::SIZE, self.program),
            Verdict::Words(words) => Some(Value::Words(words.iter().map(|word| self.word(id, *word)).collect())),
            _ => None,
        }
    }

    /// A value as it is printed.
    fn printed(&self, id: AspectId) -> Option<String> {
        match self.outcome.verdict(id) {
            Verdict::Range(from, to) => {
                Some(print::range(*from, *to, self.kind(id), id == AspectId::SIZE, self.program.system))
            }
            Verdict::Words(words) => {
                let names: Vec<String> = words.iter().map(|word| self.word(id, *word)).collect();
                Some(names.join(" or "))
            }
            _ => None,
        }
    }

    fn aspect(&self, id: AspectId) -> AspectAdvice {
        let definition = &self.program.aspects[id.index()];
        let outcome = &self.outcome.aspects[id.index()];
        let small = id == AspectId::SIZE;
        let kind = self.kind(id);
        let shifted = outcome.shifts.iter().any(|shift| shift.amount.is_some_and(|amount| amount != 0));
        let final_range = match outcome.verdict {
            Verdict::Range(from, to) => Some((from, to)),
            _ => None,
        };
        let before = outcome
            .wish
            .filter(|wish| Some(*wish) != final_range && matches!(definition.form, Form::Range(_)))
            .map(|(from, to)| print::range(from, to, kind, small, self.program.system));
        AspectAdvice {
            name: definition.name.clone(),
            value: self.value(id),
            printed: self.printed(id),
            why_none: self.why_none(id),
            by: outcome.decided_by.map(|source| self.by(source)),
            before,
            shifts: if shifted && final_range.is_some() { self.shifts(id) } else { Vec::new() },
            limits: self.limits(id),
            passed_over: outcome.passed_over.iter().map(|source| self.by(*source)).collect(),
            settled_by: self.value_needs(id),
            estimated: self.estimated_in(id),
        }
    }

    /// The estimates that went into an aspect: by the condition and the values of whoever decided, shifted or limited it.
    fn estimated_in(&self, id: AspectId) -> Vec<String> {
        if !self.program.works_out_calls && self.estimated.iter().all(Option::is_none) {
            return Vec::new();
        }
        let outcome = &self.outcome.aspects[id.index()];
        let limits = outcome.floor.iter().chain(&outcome.ceiling).filter_map(|limit| limit.rule).map(Source::Rule);
        let sources = outcome.decided_by.into_iter().chain(outcome.shifts.iter().map(|shift| shift.by)).chain(limits);
        let mut found = Vec::new();
        for source in sources {
            let exprs = explain::exprs_of(self.program, source, id);
            explain::visit_all(self.program, &exprs, &mut |expr| {
                let name = match &expr.op {
                    Op::Input(input) => self.estimated.get(input.index()).cloned().flatten(),
                    Op::Call(known, argument) => self.estimated_call(*known, argument),
                    _ => None,
                };
                found.extend(name.filter(|name| !found.contains(name)));
            });
        }
        found
    }

    /// A call whose argument is worked out, where it is an estimate.
    fn estimated_call(&self, known: Known, argument: &Expr) -> Option<String> {
        let value = explain::value(self.program, self.readings, &self.lets, &self.outcome.rungs, argument)?;
        let report = self.moment.report_of(GivenTarget::Call(known, argument.kind, value));
        let name = || format!("{}({})", known.name(), self.program.exact(value, argument.kind));
        (report.origin == crate::session::Origin::Estimated).then(name)
    }

    fn why_none(&self, id: AspectId) -> Option<String> {
        if self.outcome.stopped() {
            return Some("lines up".to_owned());
        }
        Some(match self.outcome.verdict(id) {
            Verdict::Range(..) | Verdict::Words(_) => return None,
            Verdict::Undecided => "no rule that applies decides it".to_owned(),
            Verdict::Unknown => "its value is not known".to_owned(),
            Verdict::Reversed => {
                let ends = self.outcome.aspects[id.index()].wish;
                let ends = ends.map(|(from, to)| format!(": {} to {}", self.print(from, id), self.print(to, id)));
                format!("its range came out reversed{}", ends.unwrap_or_default())
            }
            Verdict::Conflict(floor, ceiling) => format!(
                "the limits leave nothing: at least {} and at most {}",
                self.print(*floor, id),
                self.print(*ceiling, id)
            ),
        })
    }

    fn wish_exprs(&self, id: AspectId) -> Vec<&Expr> {
        let Some(source) = self.outcome.aspects[id.index()].decided_by else { return Vec::new() };
        let decision = explain::run_of(self.program, source).and_then(|run| run.decision(id));
        match decision.map(|decide| &decide.wish) {
            Some(crate::program::Wish::Range(from, to)) => std::iter::once(from).chain(to.as_ref()).collect(),
            _ => Vec::new(),
        }
    }

    fn value_needs(&self, id: AspectId) -> Vec<Needed> {
        if !matches!(self.outcome.verdict(id), Verdict::Unknown) {
            return Vec::new();
        }
        let mut needs = Vec::new();
        for expr in self.wish_exprs(id) {
            for need in self.needed(expr) {
                if !needs.contains(&need) {
                    needs.push(need);
                }
            }
        }
        needs
    }

    fn shifts(&self, id: AspectId) -> Vec<ShiftAdvice> {
        let acted = self.outcome.aspects[id.index()].shifts.iter();
        acted
            .filter_map(|shift| {
                let amount = shift.amount?;
                let definition = explain::run_of(self.program, shift.by)?.shifts.get(shift.number)?;
                let by = self.print(amount.saturating_mul(definition.sign), id);
                Some(ShiftAdvice { text: format!("{} by {by}", definition.word), by: self.by(shift.by) })
            })
            .collect()
    }

    /// The limits that moved an aspect, left it nothing, or took words out of it.
    fn limits(&self, id: AspectId) -> Vec<LimitAdvice> {
        let outcome = &self.outcome.aspects[id.index()];
        let mut limits = Vec::new();
        let shift: i64 = outcome.shifts.iter().filter_map(|shift| shift.amount).fold(0, i64::saturating_add);
        let shifted = outcome.wish.map(|(from, to)| (from.saturating_add(shift), to.saturating_add(shift)));
        if let Some((from, _)) = shifted
            && let Some((limit, amount)) = outcome.floor.and_then(|limit| Some((limit, limit.amount?)))
            && (from < amount || matches!(outcome.verdict, Verdict::Conflict(..)))
        {
            let by = limit.rule.map(|rule| self.by(Source::Rule(rule)));
            limits.push(LimitAdvice { text: format!("at least {}", self.print(amount, id)), by });
        }
        if let Some((_, to)) = shifted
            && let Some((limit, amount)) = outcome.ceiling.and_then(|limit| Some((limit, limit.amount?)))
            && (to > amount || matches!(outcome.verdict, Verdict::Conflict(..)))
        {
            let by = limit.rule.map(|rule| self.by(Source::Rule(rule)));
            limits.push(LimitAdvice { text: format!("at most {}", self.print(amount, id)), by });
        }
        for (word, rule, _) in &outcome.taken_out {
            let wished = outcome.decided_by.into_iter().chain(outcome.passed_over.iter().copied()).any(|source| {
                let decision = explain::run_of(self.program, source).and_then(|run| run.decision(id));
                matches!(decision.map(|decide| &decide.wish),
                    Some(crate::program::Wish::Words(words)) if words.contains(word))
            });
            if wished {
                let by = Some(self.by(Source::Rule(*rule)));
                limits.push(LimitAdvice { text: format!("not {}", self.word(id, *word)), by });
            }
        }
        limits
    }

    fn ladders(&self) -> Vec<LadderAdvice> {
        let standings = self.program.ladders.iter().zip(&self.standing.ladders);
        standings
            .map(|(ladder, state)| {
                let rung = state.rung.and_then(|rung| ladder.rungs.get(rung));
                let stood = self.readings.now().since(state.mark.at).max(0);
                LadderAdvice {
                    title: ladder.title.clone(),
                    rungs: ladder.rungs.iter().map(|rung| rung.name.clone()).collect(),
                    standing_for: Value::of(stood, Kind::Duration, false, self.program),
                    because: rung.and_then(|rung| rung.because.clone()),
                    ..stands(ladder, state)
                }
            })
            .collect()
    }

    fn undecided(&self) -> Vec<Undecided> {
        let unknown = self.outcome.rules.iter().enumerate().filter(|(_, holds)| holds.is_none());
        let tried = explain::most_tries(self.program);
        unknown
            .enumerate()
            .map(|(number, (at, _))| Undecided {
                by: self.by(Source::Rule(at)),
                settled_by: self.condition_needs(at),
                could_change: number >= tried || self.would_change(at),
            })
            .collect()
    }

    /// Whether the call would be another if a rule applied.
    fn would_change(&self, rule: usize) -> bool {
        let assumed = Some((rule, true));
        let assuming = crate::engine::decide::decide_assuming(self.program, self.readings, self.standing, assumed);
        !assuming.same_call(self.outcome)
    }

    /// Shifts on aspects that nobody decided, and shifts and limits of unknown amount.
    fn idle(&self) -> Vec<Idle> {
        let mut idle = Vec::new();
        for (at, outcome) in self.outcome.aspects.iter().enumerate() {
            let Some(id) = u32::try_from(at).ok().map(AspectId) else { continue };
            for shift in &outcome.shifts {
                let Some(definition) =
                    explain::run_of(self.program, shift.by).and_then(|run| run.shifts.get(shift.number))
                else {
                    continue;
                };
                let amount = self.program.sources.slice(definition.by.span).trim().to_owned();
                let (why, settled_by) = match shift.amount {
                    None => ("its amount is not known".to_owned(), self.needed(&definition.by)),
                    Some(_) if outcome.decided_by.is_none() => {
                        (format!("nothing decides {}", self.program.aspect_name(id)), Vec::new())
                    }
                    Some(_) => continue,
                };
                let text = format!("{} by {amount}", definition.word);
                idle.push(Idle { text, why, by: self.by(shift.by), settled_by });
            }
            for limited in &outcome.left_out {
                let Some(rule) = limited.rule else { continue };
                let limit = self.program.rules.get(rule).and_then(|rule| rule.limits.get(limited.number));
                let Some(limit) = limit else { continue };
                let settled_by = match &limit.bound {
                    Bound::AtLeast(expr) | Bound::AtMost(expr) => self.needed(expr),
                    Bound::Not(_) => Vec::new(),
                };
                idle.push(Idle {
                    text: format!("{} {}", self.program.aspect_name(id), self.bound(id, &limit.bound)),
                    why: "its amount is not known".to_owned(),
                    by: self.by(Source::Rule(rule)),
                    settled_by,
                });
            }
        }
        idle
    }
}

fn reading_list(program: &Program, readings: &dyn Readings, moment: &Moment<'_>) -> Vec<ReadingAdvice> {
    let inputs = program.inputs.iter().enumerate();
    inputs
        .map(|(at, input)| {
            let id = InputId(u32::try_from(at).unwrap_or(u32::MAX));
            reading(program, input, readings.input(id), moment.report(input.source))
        })
        .collect()
}

/// A reading as advice shows it. `value` is what the engine saw, which without a session may be more than the report.
fn reading(program: &Program, input: &Input, value: Option<i64>, report: crate::session::Reading) -> ReadingAdvice {
    let small = crate::program::is_small(input.source);
    // Given values are shown as they were given.
    let printed = value.map(|value| match &report.written {
        Some(written) => written.to_string(),
        None => program.print(value, input.kind, small),
    });
    let shown = value.and_then(|value| Value::of(value, input.kind, small, program));
    let report = match (value, report.origin) {
        (Some(_), crate::session::Origin::Unknown) => {
            crate::session::Reading { origin: crate::session::Origin::Derived, needs: None, ..report }
        }
        _ => report,
    };
    origin_of(program, program.input_name(input.source), shown, printed, report)
}

/// A value with where it came from, as its report says.
fn origin_of(
    program: &Program,
    name: String,
    value: Option<Value>,
    printed: Option<String>,
    report: crate::session::Reading,
) -> ReadingAdvice {
    ReadingAdvice {
        name,
        value,
        printed,
        origin: report.origin.name(),
        age: report.age.and_then(|age| Value::of(age, Kind::Duration, false, program)),
        from: report.from.iter().map(|name| (*name).to_owned()).collect(),
        how: report.how.as_deref().map(str::to_owned),
        needs: report.needs,
    }
}
