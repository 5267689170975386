//! Program and trials to what passed, and what the trials exercise.

use std::sync::Arc;

use crate::check::Example;
use crate::engine::{Mark, Outcome, Readings, Source, State, Verdict, decide};
use crate::findings::{Code, Finding, Findings};
use crate::program::expr::{InputId, LadderId};
use crate::program::{ExpectDef, ExpectWhat, GivenDef, GivenTarget, PartDef, PrintedEnd, Program, TrialDef};
use crate::session::{Event, Mode, Session, Setting};
use crate::text::Span;
use crate::vocabulary::aspect::AspectId;
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::print::{number, scaled, with_unit};
use crate::vocabulary::time::Instant;

/// What became of a trial.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TrialResult {
    /// Its name.
    pub name: String,
    /// Where its name stands.
    pub span: Span,
    /// How many things it expected.
    pub expected: usize,
    /// What turned out otherwise.
    pub failures: Vec<Failure>,
}

impl TrialResult {
    /// Whether everything turned out as expected.
    pub fn passed(&self) -> bool {
        self.failures.is_empty()
    }
}

/// One expectation that was not met.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Failure {
    /// Where it stands.
    pub span: Span,
    /// How long after the trial's first moment, in counts.
    pub after: i64,
    /// What was expected.
    pub expected: String,
    /// What was called.
    pub got: String,
    /// Who decided it: a rule or a rung by name.
    pub decided_by: Option<String>,
}

/// What the trials made happen at least once.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Exercised {
    /// Rules that applied.
    pub rules: Vec<bool>,
    /// Rungs stood on, by ladder.
    pub rungs: Vec<Vec<bool>>,
    /// Moves made, by ladder.
    pub moves: Vec<Vec<bool>>,
}

/// What running all trials of a program showed.
#[derive(Clone, Debug)]
pub struct Proof {
    /// Each trial.
    pub trials: Vec<TrialResult>,
    /// What they exercised together.
    pub exercised: Exercised,
}

/// Runs every trial of a program.
pub fn run(program: &Arc<Program>) -> Proof {
    let mut exercised = Exercised {
        rules: vec![false; program.rules.len()],
        rungs: program.ladders.iter().map(|ladder| vec![false; ladder.rungs.len()]).collect(),
        moves: program.ladders.iter().map(|ladder| vec![false; ladder.moves.len()]).collect(),
    };
    let trials = program.trials.iter().map(|trial| run_one(program, trial, &mut exercised)).collect();
    Proof { trials, exercised }
}

fn run_one(program: &Arc<Program>, trial: &TrialDef, exercised: &mut Exercised) -> TrialResult {
    let mut session = Session::new(program.clone(), Arc::new(Setting::default()), Mode::Trial);
    let mut result = TrialResult { name: trial.name.clone(), span: trial.span, expected: 0, failures: Vec::new() };
    let mut now = Instant(0);
    for (at, part) in trial.parts.iter().enumerate() {
        now = now.after(part.after);
        let played = if at == 0 { begin(&mut session, part) } else { session.at(now, events(part)) };
        if played.is_err() {
            // Parts come in order, so that time never runs backwards here.
            break;
        }
        let outcome = session.outcome(now);
        note(&outcome, exercised);
        for expect in &part.expect {
            result.expected += 1;
            result.failures.extend(failure(program, expect, &outcome, now.0));
        }
    }
    for (seen, trodden) in
        [(&mut exercised.moves, &session.trodden().moves), (&mut exercised.rungs, &session.trodden().rungs)]
    {
        for (ladder, number) in trodden {
            if let Some(seen) = seen.get_mut(*ladder).and_then(|list| list.get_mut(*number)) {
                *seen = true;
            }
        }
    }
    result
}

/// The first moment: lines go in, or went in `strikeless` before, on the readings given now.
fn begin(session: &mut Session, part: &PartDef) -> Result<(), crate::session::OutOfOrder> {
    let strikeless = part.given.iter().find_map(|given| match given {
        GivenDef::Value(GivenTarget::Known(Known::Strikeless), Some(value)) => Some((*value).max(0)),
        _ => None,
    });
    let before = strikeless.unwrap_or(0);
    let lines_in = Instant(-before);
    let is_now = |event: &Event| {
        matches!(
            event,
            Event::Rung(..) | Event::Strike | Event::Give(GivenTarget::Known(Known::LinesIn | Known::Strikeless), _)
        )
    };
    let (now, standing): (Vec<Event>, Vec<Event>) = events(part).into_iter().partition(is_now);
    // What runs on by itself stood that much earlier when lines went in.
    let earlier = standing.into_iter().map(|event| match event {
        Event::Give(GivenTarget::Known(known), Some(value)) => {
            let ran = known.runs_on().unwrap_or(0) * before;
            Event::Give(GivenTarget::Known(known), Some(value.saturating_sub(ran)))
        }
        other => other,
    });
    let lines = Event::Give(GivenTarget::Known(Known::LinesIn), Some(1));
    let mut first: Vec<Event> = earlier.chain(std::iter::once(lines)).collect();
    if before == 0 {
        first.extend(now);
        return session.at(lines_in, first);
    }
    session.at(lines_in, first)?;
    // The time without a strike has passed, and a strike younger than that would be gone.
    let is_past =
        |event: &Event| matches!(event, Event::Strike | Event::Give(GivenTarget::Known(Known::Strikeless), Some(_)));
    session.at(Instant(0), now.into_iter().filter(|event| !is_past(event)))
}

fn events(part: &PartDef) -> Vec<Event> {
    let mut events: Vec<Event> = part.given.iter().map(Event::from).collect();
    // A given `strikeless` is about the time after the strikes of the same moment.
    events.sort_by_key(|event| matches!(event, Event::Give(GivenTarget::Known(Known::Strikeless), _)));
    events
}

fn note(outcome: &Outcome, exercised: &mut Exercised) {
    for (seen, applies) in exercised.rules.iter_mut().zip(&outcome.rules) {
        *seen |= *applies == Some(true);
    }
    for (seen, rung) in exercised.rungs.iter_mut().zip(&outcome.rungs) {
        if let Some(seen) = rung.and_then(|rung| seen.get_mut(rung)) {
            *seen = true;
        }
    }
}

fn failure(program: &Program, expect: &ExpectDef, outcome: &Outcome, after: i64) -> Option<Failure> {
    let failed = |expected: String, got: String, decided_by: Option<String>| {
        Some(Failure { span: expect.span, after, expected, got, decided_by })
    };
    match &expect.what {
        ExpectWhat::Range(aspect, low, high) => {
            let kind = program.aspects.get(aspect.index())?.range_kind()?;
            let verdict = outcome.verdict(*aspect);
            let met = match verdict {
                Verdict::Range(from, to) => prints_alike(*from, low, kind) && prints_alike(*to, high, kind),
                _ => false,
            };
            if met {
                return None;
            }
            let name = program.aspect_name(*aspect);
            failed(
                format!("{name} {}", printed_range(low, high, kind)),
                format!("{name} {}", verdict_in_words(program, *aspect, outcome, Some((low, high)))),
                decider(program, *aspect, outcome),
            )
        }
        ExpectWhat::Words(aspect, words) => {
            let met = match outcome.verdict(*aspect) {
                Verdict::Words(got) => {
                    let mut got = got.clone();
                    got.sort_unstable();
                    got == *words
                }
                _ => false,
            };
            if met {
                return None;
            }
            let name = program.aspect_name(*aspect);
            failed(
                format!("{name} {}", words_of(program, *aspect, words)),
                format!("{name} {}", verdict_in_words(program, *aspect, outcome, None)),
                decider(program, *aspect, outcome),
            )
        }
        ExpectWhat::NoValue(aspect) => {
            if !matches!(outcome.verdict(*aspect), Verdict::Range(..) | Verdict::Words(_)) {
                return None;
            }
            let name = program.aspect_name(*aspect);
            failed(
                format!("unknown {name}"),
                format!("{name} {}", verdict_in_words(program, *aspect, outcome, None)),
                decider(program, *aspect, outcome),
            )
        }
        ExpectWhat::Rung(ladder, rung) => {
            let got = outcome.rungs.get(ladder.index()).copied().flatten();
            if got == *rung {
                return None;
            }
            failed(rung_in_words(program, *ladder, *rung), rung_in_words(program, *ladder, got), None)
        }
        ExpectWhat::Stop(wanted, text) => {
            let texts: Vec<&String> = outcome.stops.iter().flat_map(|at| &program.rules[*at].stops).collect();
            said("stop", *wanted, text.as_ref(), &texts)
                .and_then(|(expected, got)| failed(expected, got, names_of(program, &outcome.stops)))
        }
        ExpectWhat::Caution(wanted, text) => {
            let texts: Vec<&String> = outcome.cautions.iter().flat_map(|at| &program.rules[*at].cautions).collect();
            said("caution", *wanted, text.as_ref(), &texts)
                .and_then(|(expected, got)| failed(expected, got, names_of(program, &outcome.cautions)))
        }
    }
}

fn prints_alike(counts: i64, end: &PrintedEnd, kind: Kind) -> bool {
    scaled(counts, end.unit, kind, end.places) == scaled(end.counts, end.unit, kind, end.places)
}

fn printed(counts: i64, end: &PrintedEnd, kind: Kind) -> String {
    with_unit(&number(counts, end.unit, kind, end.places), end.unit.symbol)
}

fn printed_range(low: &PrintedEnd, high: &PrintedEnd, kind: Kind) -> String {
    let (from, to) = (printed(low.counts, low, kind), printed(high.counts, high, kind));
    if from == to { from } else { format!("{from} to {to}") }
}

fn words_of(program: &Program, aspect: AspectId, words: &[usize]) -> String {
    let names = program.aspects.get(aspect.index()).map_or(&[][..], |aspect| aspect.words());
    let names: Vec<&str> = words.iter().filter_map(|at| names.get(*at)).map(String::as_str).collect();
    names.join(" or ")
}

fn verdict_in_words(
    program: &Program,
    aspect: AspectId,
    outcome: &Outcome,
    ends: Option<(&PrintedEnd, &PrintedEnd)>,
) -> String {
    if outcome.stopped() {
        return "has no value: lines up".to_owned();
    }
    let kind = program.aspects.get(aspect.index()).and_then(|aspect| aspect.range_kind());
    match (outcome.verdict(aspect), kind, ends) {
        (Verdict::Range(from, to), Some(kind), Some((low, high))) => {
            let (from, to) = (printed(*from, low, kind), printed(*to, high, kind));
            if from == to { from } else { format!("{from} to {to}") }
        }
        (Verdict::Range(from, to), Some(kind), None) => {
            crate::vocabulary::print::range(*from, *to, kind, aspect == AspectId::SIZE, program.system)
        }
        (Verdict::Words(words), ..) => words_of(program, aspect, words),
        (Verdict::Unknown, ..) => "is unknown".to_owned(),
        (Verdict::Reversed, ..) => "has no value: its range is reversed".to_owned(),
        (Verdict::Conflict(..), ..) => "has no value: the limits leave nothing".to_owned(),
        _ => "is not decided".to_owned(),
    }
}

fn rung_in_words(program: &Program, ladder: LadderId, rung: Option<usize>) -> String {
    let Some(ladder) = program.ladders.get(ladder.index()) else { return String::new() };
    match rung.and_then(|rung| ladder.rungs.get(rung)) {
        Some(rung) => format!("{} {}", ladder.name, rung.name),
        None => format!("unknown {}", ladder.name),
    }
}

fn decider(program: &Program, aspect: AspectId, outcome: &Outcome) -> Option<String> {
    outcome.aspects.get(aspect.index())?.decided_by.map(|source| source_name(program, source))
}

/// A rule or rung by name, with its file and line.
pub fn source_name(program: &Program, source: Source) -> String {
    match source {
        Source::Rule(at) => match program.rules.get(at) {
            Some(rule) => format!("rule \"{}\" ({})", rule.name, program.sources.file_and_line(rule.span)),
            None => String::new(),
        },
        Source::Rung(ladder, rung) => {
            let Some(ladder) = program.ladders.get(ladder) else { return String::new() };
            let Some(rung) = ladder.rungs.get(rung) else { return String::new() };
            format!("rung {} of {} ({})", rung.name, ladder.name, program.sources.file_and_line(rung.span))
        }
    }
}

fn names_of(program: &Program, rules: &[usize]) -> Option<String> {
    let names: Vec<String> = rules.iter().map(|at| source_name(program, Source::Rule(*at))).collect();
    (!names.is_empty()).then(|| names.join(", "))
}

fn said(what: &str, wanted: bool, text: Option<&String>, texts: &[&String]) -> Option<(String, String)> {
    let met = match (wanted, text) {
        (true, None) => !texts.is_empty(),
        (true, Some(text)) => texts.contains(&text),
        (false, None) => texts.is_empty(),
        (false, Some(text)) => !texts.contains(&text),
    };
    if met {
        return None;
    }
    let no = if wanted { "" } else { "no " };
    let expected = text.map_or_else(|| format!("{no}{what}"), |text| format!("{no}{what} \"{text}\""));
    let got = if texts.is_empty() {
        format!("no {what}")
    } else {
        texts.iter().map(|text| format!("{what} \"{text}\"")).collect::<Vec<_>>().join(", ")
    };
    Some((expected, got))
}

/// What only running the trials can tell: rules, rungs and moves that no trial exercises.
///
/// `known` are the findings of the check: what it calls never true or unreachable is not called untried as well.
pub fn untried(program: &Arc<Program>, known: &[Finding]) -> Vec<Finding> {
    if program.trials.is_empty() {
        let finding = Finding::new(Code::NoTrials, program.span, "the strategy has no trial")
            .help("a trial says what should be called when, as in `trial \"May\" given surface 54 °F expect depth 3 to 10 ft`");
        return vec![finding];
    }
    let exercised = run(program).exercised;
    let is_known = |span: Span| {
        known.iter().any(|finding| matches!(finding.code, Code::Never | Code::Unreachable) && finding.span == span)
    };
    let mut findings = Vec::new();
    let mut say = |span: Span, message: String| findings.push(Finding::new(Code::Untried, span, message));
    for (rule, seen) in program.rules.iter().zip(&exercised.rules) {
        let never = rule.condition.as_ref().is_some_and(|condition| is_known(condition.span));
        if !seen && !never {
            say(rule.span, format!("no trial makes the rule \"{}\" apply", rule.name));
        }
    }
    for (at, ladder) in program.ladders.iter().enumerate() {
        for (rung, seen) in ladder.rungs.iter().zip(&exercised.rungs[at]) {
            let never = rung.only_if.as_ref().is_some_and(|only_if| is_known(only_if.span));
            if !seen && !never && !is_known(rung.span) {
                say(rung.span, format!("no trial stands on the rung `{}` of `{}`", rung.name, ladder.name));
            }
        }
        for (step, seen) in ladder.moves.iter().zip(&exercised.moves[at]) {
            if !seen && !is_known(step.condition.span) {
                say(step.span, format!("no trial makes this `{}` of `{}`", step.direction.text(), ladder.name));
            }
        }
    }
    findings
}

/// All findings of a check: those that end at the checked strategy, and what only running its trials can tell.
pub fn all_findings(checked: &crate::check::Checked) -> Vec<Finding> {
    let mut findings = Findings::default();
    let confirmed = |finding: &Finding| {
        let program = checked.program.as_ref()?;
        let mut examples = checked.examples.iter().filter(|example| example.span == finding.span);
        examples.any(|example| confirms(program, example)).then(|| finding.message.replacen(" may have ", " has ", 1))
    };
    findings.extend(checked.findings.iter().map(|finding| match confirmed(finding) {
        Some(message) if finding.code == Code::Gap => Finding { message, ..finding.clone() },
        _ => finding.clone(),
    }));
    if let Some(program) = &checked.program {
        findings.extend(untried(program, &checked.findings));
    }
    findings.in_order()
}

/// Whether the engine leaves the aspect of an example without advice.
fn confirms(program: &Program, example: &Example) -> bool {
    let readings = Supposed(&example.values);
    let state = State::first_step(program, &readings, &example.rungs, true);
    let outcome = decide(program, &readings, &state);
    !outcome.stopped() && *outcome.verdict(example.aspect) == Verdict::Undecided
}

/// The readings of an example.
struct Supposed<'a>(&'a [Option<i64>]);

impl Readings for Supposed<'_> {
    fn now(&self) -> Instant {
        Instant(0)
    }

    fn input(&self, id: InputId) -> Option<i64> {
        self.0.get(id.index()).copied().flatten()
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
