//! A day ahead, hour by hour: what a strategy is expected to call, and what that rests on.
//!
//! [`ahead`] says what is expected of the day, [`plan`] what a strategy calls then, as data, and [`text`] in words. Each
//! hour stands alone: its call is that of its middle, as one request without a history, with lines just in and nothing
//! struck, so that every hour shows the opening tactic; what a ladder falls back to is listed once. [`contest`] draws up a
//! day on which two strategies are tried against each other.

pub mod ahead;
pub mod contest;
pub mod text;

use std::sync::Arc;

use jiff::tz::TimeZone;
use serde::Serialize;

use crate::advice::quantity::Value;
use crate::advice::readings::{BesideReading, beside, reading};
use crate::advice::{
    Advice, AspectAdvice, By, LadderAdvice, LakeAdvice, Open, ReadingAdvice, Said, Shown, advise,
    cautions::StandingCaution,
};
use crate::program::expr::LadderId;
use crate::program::{GivenTarget, LadderDef, Program};
use crate::session::{Event, Session};
use crate::source::{Fault, Faults};
use crate::tackle::settings::{NoSettings, Rods, Settings};
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::quantity::HOUR;
use crate::vocabulary::time::Instant;
use ahead::{Ahead, Expected, Hours, Span, estimated_in};

/// A day ahead.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Plan {
    /// The strategy's name.
    pub strategy: String,
    /// The fish it is for.
    pub species: Option<String>,
    /// The day.
    pub date: String,
    /// From when to when.
    pub hours_planned: Hours,
    /// Dawn, sunrise, noon, sunset and dusk of the day.
    pub sun: Vec<BesideReading>,
    /// The forecast that it goes by.
    pub forecast: Option<ForecastTold>,
    /// The strongest wind and the highest waves, each with the hour.
    pub strongest: Vec<Strongest>,
    /// The cautions that always stand, each as in its worst hour.
    pub standing_cautions: Vec<StandingPlan>,
    /// What the strategy cautions of, and when.
    pub cautions: Vec<CautionPlan>,
    /// What is not ruled out, because its condition is unknown, and when.
    pub not_ruled_out: Vec<OpenPlan>,
    /// What is not known and would have to be measured.
    pub not_known: Vec<NotKnown>,
    /// The calls: hours whose call is the same stand together.
    pub calls: Vec<Call>,
    /// Each ladder: what it falls back to.
    pub ladders: Vec<LadderPlan>,
    /// What was assumed.
    pub assumptions: Vec<String>,
    /// Each hour by itself: what is expected of it.
    pub hours: Vec<HourPlan>,
    /// What the lake allows, as the water file says.
    pub lake: Option<LakeAdvice>,
}

/// The forecast that a plan goes by.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ForecastTold {
    /// The file.
    pub file: String,
    /// Who made it, and when.
    pub source: Option<String>,
}

/// The greatest of a reading over the day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Strongest {
    /// The reading as it is then.
    pub reading: ReadingAdvice,
    /// The hour.
    pub hours: Hours,
}

/// A standing caution, as in the hour in which it weighs most.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StandingPlan {
    /// The caution.
    #[serde(flatten)]
    pub caution: StandingCaution,
    /// The stretches in which its figure is reached.
    pub reached_in: Vec<Hours>,
}

/// A caution of the strategy, and when it is given.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct CautionPlan {
    /// The caution.
    #[serde(flatten)]
    pub said: Said,
    /// The stretches in which it is given.
    pub hours: Vec<Hours>,
}

/// Something that is not ruled out, and when.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct OpenPlan {
    /// What.
    #[serde(flatten)]
    pub open: Open,
    /// The stretches in which it is not.
    pub hours: Vec<Hours>,
}

/// A reading that is not known, and what hangs on it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct NotKnown {
    /// The reading.
    pub reading: String,
    /// What would make it known.
    pub needs: Option<String>,
    /// The rules and rungs that ask for it.
    pub asked_by: Vec<By>,
    /// Whether knowing it could change a call.
    pub could_change: bool,
    /// The stretches in which it is not known.
    pub hours: Vec<Hours>,
}

/// What is called in a stretch of the day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Call {
    /// The stretch.
    #[serde(flatten)]
    pub hours: Hours,
    /// Why lines come up; empty where they stay in.
    pub lines_up: Vec<Said>,
    /// Each aspect that the strategy decides anywhere.
    pub tactic: Vec<AspectAdvice>,
    /// The rung of each ladder.
    pub rungs: Vec<RungCalled>,
    /// The standing cautions whose figures are reached in it, and when.
    pub standing_cautions: Vec<StandingPlan>,
    /// What the strategy cautions of in it, and when.
    pub cautions: Vec<CautionPlan>,
    /// What is not ruled out in it, and when.
    pub not_ruled_out: Vec<OpenPlan>,
    /// The settings of the boat's rods; none where no boat with rods is named, or there is nothing to set them to.
    pub rods: Option<Settings>,
    /// Why there are none, where a boat with rods is named.
    pub why_no_rods: Option<String>,
}

/// The rung that a ladder opens on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RungCalled {
    /// The ladder.
    pub ladder: String,
    /// The rung; none where none is open.
    pub rung: Option<String>,
    /// Why it stands on none.
    pub why_none: Option<String>,
}

/// A ladder: what it opens with, and what it falls back to.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LadderPlan {
    /// Its name.
    pub name: String,
    /// Its title.
    pub title: Option<String>,
    /// Its rungs, top first.
    pub rungs: Vec<RungPlan>,
    /// Its moves, as they are written.
    pub moves: Vec<String>,
}

/// What a rung would call in the first hour that has a call.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RungPlan {
    /// Its name.
    pub name: String,
    /// The condition on which it is open, as it is written.
    pub only_if: Option<String>,
    /// Whether it is open then; unknown where that is not known.
    pub open: Option<bool>,
    /// The aspects it decides.
    pub tactic: Vec<RungAspect>,
    /// Its reason.
    pub because: Option<String>,
}

/// An aspect that a rung decides.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RungAspect {
    /// Its name.
    pub name: String,
    /// Its value.
    pub value: Option<Value>,
    /// The value as it is printed.
    pub printed: Option<String>,
}

/// An hour, and what is expected of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HourPlan {
    /// The hour.
    #[serde(flatten)]
    pub hours: Hours,
    /// Sun, light and weather at its middle.
    pub readings: Vec<ReadingAdvice>,
}

/// What an hour is shown with.
pub const SHOWN: [Known; 9] = [
    Known::SunHeight,
    Known::Light,
    Known::Wind,
    Known::WindFrom,
    Known::Waves,
    Known::Cloud,
    Known::Air,
    Known::Pressure,
    Known::Surface,
];

impl Plan {
    /// Whether stretches are the whole of the plan.
    pub fn is_all_day(&self, hours: &[Hours]) -> bool {
        matches!(hours, [one] if *one == self.hours_planned)
    }

    /// Whether the figure of a standing caution is reached all day, so that saying it once is enough.
    pub fn reached_all_day(&self, about: &str) -> bool {
        let standing = self.standing_cautions.iter().find(|standing| standing.caution.about == about);
        standing.is_some_and(|standing| self.is_all_day(&standing.reached_in))
    }
}

/// A plan, and the stretches it was made of, for drawing.
#[derive(Clone, Debug)]
pub struct Planned {
    /// The plan.
    pub plan: Plan,
    /// Its hours.
    pub hours: Vec<Span>,
    /// The stretch of each call.
    pub calls: Vec<Span>,
    /// The zone of its times.
    pub zone: TimeZone,
    /// When the sun does what `plan.sun` tells.
    pub sun: Vec<(String, Instant)>,
}

/// Plans a day.
///
/// # Errors
/// What was read or is set is nothing that the strategy takes, or the day can't be told.
pub fn plan(
    program: &Arc<Program>,
    ahead: &Ahead<'_>,
    span: Span,
    rods: Option<&Rods>,
    shown: &Shown,
) -> Result<Planned, Faults> {
    let hours = ahead.hours(span, HOUR);
    let expected = ahead.expect(program, &hours)?;
    let judged: Vec<Judged<'_>> = hours
        .iter()
        .zip(&expected.sessions)
        .map(|(span, session)| Judged { span: *span, session, advice: advise(session, span.middle(), shown) })
        .collect();
    let Some(first) = judged.first() else { return Err(Fault::new("there are no hours to plan").into()) };
    let stretches = run_together(&judged);
    let noon = first.session.moment(first.span.middle());
    let sun = beside(program, &noon, &ahead.zone);
    let sun: Vec<BesideReading> =
        SUN.iter().filter_map(|name| sun.iter().find(|one| one.name == *name).cloned()).collect();
    let calls: Vec<Call> = stretches.iter().filter_map(|(span, at)| call(*span, &judged, *at, rods, ahead)).collect();
    let plan = Plan {
        strategy: program.name.clone(),
        species: program.species.clone(),
        date: ahead.date.to_string(),
        hours_planned: span.told(&ahead.zone),
        forecast: ahead
            .forecast
            .map(|forecast| ForecastTold { file: forecast.file.clone(), source: forecast.source.clone() }),
        strongest: [Known::Wind, Known::Waves]
            .into_iter()
            .filter_map(|known| strongest(&judged, known, ahead))
            .collect(),
        standing_cautions: standing(&judged, ahead),
        cautions: cautions(&judged, ahead),
        not_ruled_out: open(&judged, ahead),
        not_known: not_known(&judged, ahead),
        ladders: ladders(program, &judged, shown),
        assumptions: assumptions(ALONE, &[&expected], ahead),
        hours: judged.iter().map(|judged| hour(program, judged, ahead)).collect(),
        lake: first.advice.lake.clone(),
        sun,
        calls,
    };
    let sun = plan.sun.iter().filter_map(|one| {
        let at: jiff::Timestamp = one.time.as_ref()?.parse().ok()?;
        Some((one.name.clone(), Instant::of(at)))
    });
    let sun = sun.collect();
    let calls = stretches.into_iter().map(|(span, _)| span).collect();
    Ok(Planned { plan, hours, calls, zone: ahead.zone.clone(), sun })
}

/// What is told of the sun's day.
const SUN: [&str; 5] = ["civil dawn", "sunrise", "noon", "sunset", "civil dusk"];

/// An hour with its advice.
struct Judged<'a> {
    span: Span,
    session: &'a Session,
    advice: Advice,
}

/// Stretches whose call is the same, each with the number of its first hour.
fn run_together(judged: &[Judged<'_>]) -> Vec<(Span, usize)> {
    let mut stretches: Vec<(Span, usize)> = Vec::new();
    for (at, hour) in judged.iter().enumerate() {
        let before = stretches.last_mut();
        match before.filter(|(_, first)| judged.get(*first).is_some_and(|first| same_call(&first.advice, &hour.advice)))
        {
            Some((span, _)) => span.to = hour.span.to,
            None => stretches.push((hour.span, at)),
        }
    }
    stretches
}

/// Whether two hours are told the same.
fn same_call(a: &Advice, b: &Advice) -> bool {
    let aspects = |advice: &Advice| -> Vec<_> {
        let of = |aspect: &AspectAdvice| {
            let estimated = !aspect.estimated.is_empty();
            (
                aspect.printed.clone(),
                aspect.why_none.clone(),
                aspect.by.clone(),
                aspect.shifts.clone(),
                aspect.limits.clone(),
                estimated,
            )
        };
        advice.tactic.iter().map(of).collect()
    };
    let rungs = |advice: &Advice| -> Vec<_> { advice.ladders.iter().map(|ladder| ladder.rung.clone()).collect() };
    a.lines_up == b.lines_up && aspects(a) == aspects(b) && rungs(a) == rungs(b)
}

fn call(stretch: Span, judged: &[Judged<'_>], at: usize, rods: Option<&Rods>, ahead: &Ahead<'_>) -> Option<Call> {
    let after = judged.get(at..)?;
    let within = after.get(..after.iter().take_while(|hour| hour.span.from < stretch.to).count())?;
    let Judged { span, session, advice } = within.first()?;
    let settings = rods.map(|rods| rods.settings(session, span.middle()));
    let why_no_rods = settings.as_ref().and_then(|settings| settings.as_ref().err()).map(|why| match why {
        NoSettings::NotCalled(_) if !advice.lines_up.is_empty() => "lines are up".to_owned(),
        why => why.to_string(),
    });
    let rung = |ladder: &LadderAdvice| RungCalled {
        ladder: ladder.name.clone(),
        rung: ladder.rung.clone(),
        why_none: ladder.why_none.clone(),
    };
    Some(Call {
        hours: stretch.told(&ahead.zone),
        lines_up: advice.lines_up.clone(),
        tactic: advice.tactic.clone(),
        rungs: advice.ladders.iter().map(rung).collect(),
        standing_cautions: standing(within, ahead).into_iter().filter(|standing| standing.caution.reached).collect(),
        cautions: cautions(within, ahead),
        not_ruled_out: open(within, ahead),
        rods: settings.and_then(Result::ok).map(|(settings, _)| settings),
        why_no_rods,
    })
}

/// Each thing of a kind that is said in any hour, with the stretches in which it is.
fn said_when<T: Clone + PartialEq>(
    judged: &[Judged<'_>],
    ahead: &Ahead<'_>,
    of: impl Fn(&Advice) -> &Vec<T>,
) -> Vec<(T, Vec<Hours>)> {
    let mut all: Vec<&T> = Vec::new();
    for one in judged.iter().flat_map(|hour| of(&hour.advice)) {
        if !all.contains(&one) {
            all.push(one);
        }
    }
    let when = |one: &T| {
        let hours = judged.iter().filter(|hour| of(&hour.advice).contains(one));
        joined(hours.map(|hour| hour.span), ahead)
    };
    all.into_iter().map(|one| (one.clone(), when(one))).collect()
}

fn cautions(judged: &[Judged<'_>], ahead: &Ahead<'_>) -> Vec<CautionPlan> {
    let said = said_when(judged, ahead, |advice| &advice.cautions);
    said.into_iter().map(|(said, hours)| CautionPlan { said, hours }).collect()
}

fn open(judged: &[Judged<'_>], ahead: &Ahead<'_>) -> Vec<OpenPlan> {
    let open = said_when(judged, ahead, |advice| &advice.not_ruled_out);
    open.into_iter().map(|(open, hours)| OpenPlan { open, hours }).collect()
}

fn hour(program: &Program, judged: &Judged<'_>, ahead: &Ahead<'_>) -> HourPlan {
    let moment = judged.session.moment(judged.span.middle());
    let told = |known: Known| {
        reading(program, &moment, &(known.name().to_owned(), GivenTarget::Known(known), known.entry().kind))
    };
    HourPlan { hours: judged.span.told(&ahead.zone), readings: SHOWN.into_iter().map(told).collect() }
}

fn strongest(judged: &[Judged<'_>], known: Known, ahead: &Ahead<'_>) -> Option<Strongest> {
    let target = GivenTarget::Known(known);
    let value = |hour: &Judged<'_>| hour.session.moment(hour.span.middle()).report_of(target).value;
    // Of several alike the first.
    let most = judged.iter().filter_map(value).max()?;
    let hour = judged.iter().find(|hour| value(hour) == Some(most))?;
    let moment = hour.session.moment(hour.span.middle());
    let asked = (known.name().to_owned(), target, known.entry().kind);
    Some(Strongest { reading: reading(hour.session.program(), &moment, &asked), hours: hour.span.told(&ahead.zone) })
}

/// Each standing caution as in the hour where it weighs most: where its figure is reached, else where its reading is not
/// known, else any.
fn standing(judged: &[Judged<'_>], ahead: &Ahead<'_>) -> Vec<StandingPlan> {
    let Some(first) = judged.first() else { return Vec::new() };
    let abouts = first.advice.standing_cautions.iter().map(|caution| caution.about);
    let worst = abouts.filter_map(|about| {
        let of =
            |hour: &Judged<'_>| hour.advice.standing_cautions.iter().find(|caution| caution.about == about).cloned();
        let all = || judged.iter().filter_map(|hour| Some((hour.span, of(hour)?)));
        let not_known = |caution: &StandingCaution| {
            let known = Known::reading(about).or((about == "release").then_some(Known::Surface));
            known.is_some_and(|known| caution.limit.is_some() && unknown_somewhere(judged, known, caution, about))
        };
        let reached = all().find(|(_, caution)| caution.reached);
        let (_, caution) =
            reached.or_else(|| all().find(|(_, caution)| not_known(caution))).or_else(|| all().next())?;
        let reached_in = joined(all().filter(|(_, caution)| caution.reached).map(|(span, _)| span), ahead);
        Some(StandingPlan { caution, reached_in })
    });
    worst.collect()
}

/// Whether a caution is that of an hour whose reading is not known.
fn unknown_somewhere(judged: &[Judged<'_>], known: Known, caution: &StandingCaution, about: &str) -> bool {
    judged.iter().any(|hour| {
        let moment = hour.session.moment(hour.span.middle());
        let unknown = moment.report_of(GivenTarget::Known(known)).value.is_none();
        unknown && hour.advice.standing_cautions.iter().any(|other| other.about == about && other == caution)
    })
}

/// Stretches that follow each other as one.
fn joined(spans: impl Iterator<Item = Span>, ahead: &Ahead<'_>) -> Vec<Hours> {
    let mut joined: Vec<Span> = Vec::new();
    for span in spans {
        match joined.last_mut().filter(|last| last.to >= span.from) {
            Some(last) => last.to = last.to.max(span.to),
            None => joined.push(span),
        }
    }
    joined.into_iter().map(|span| span.told(&ahead.zone)).collect()
}

/// What is not known and asked for, in the order in which it first matters.
fn not_known(judged: &[Judged<'_>], ahead: &Ahead<'_>) -> Vec<NotKnown> {
    struct Gathered {
        reading: String,
        needs: Option<String>,
        asked_by: Vec<By>,
        could_change: bool,
        spans: Vec<Span>,
    }
    let mut gathered: Vec<Gathered> = Vec::new();
    for hour in judged {
        let advice = &hour.advice;
        let open = advice.not_ruled_out.iter().map(|open| (&open.by, &open.settled_by, true));
        let undecided = advice.undecided.iter().map(|rule| (&rule.by, &rule.settled_by, rule.could_change));
        let aspects = advice.tactic.iter().filter_map(|aspect| Some((aspect.by.as_ref()?, &aspect.settled_by, true)));
        let idle = advice.idle.iter().map(|idle| (&idle.by, &idle.settled_by, true));
        for (by, needed, could_change) in open.chain(undecided).chain(aspects).chain(idle) {
            for reading in needed.iter().map(|needed| &needed.reading) {
                let at = gathered.iter().position(|one| one.reading == *reading).unwrap_or_else(|| {
                    let told = advice.readings.iter().find(|told| told.name == *reading);
                    gathered.push(Gathered {
                        reading: reading.clone(),
                        needs: told.and_then(|told| told.needs.clone()),
                        asked_by: Vec::new(),
                        could_change: false,
                        spans: Vec::new(),
                    });
                    gathered.len() - 1
                });
                let Some(one) = gathered.get_mut(at) else { continue };
                one.could_change |= could_change;
                if !one.asked_by.contains(by) {
                    one.asked_by.push(by.clone());
                }
                if one.spans.last() != Some(&hour.span) {
                    one.spans.push(hour.span);
                }
            }
        }
    }
    // What could change a call comes first.
    gathered.sort_by_key(|one| !one.could_change);
    let told = gathered.into_iter().map(|one| NotKnown {
        reading: one.reading,
        needs: one.needs,
        asked_by: one.asked_by,
        could_change: one.could_change,
        hours: joined(one.spans.into_iter(), ahead),
    });
    told.collect()
}

/// What each ladder falls back to, in the first hour that has a call.
fn ladders(program: &Arc<Program>, judged: &[Judged<'_>], shown: &Shown) -> Vec<LadderPlan> {
    let Some(hour) = judged.iter().find(|hour| hour.advice.lines_up.is_empty()).or(judged.first()) else {
        return Vec::new();
    };
    let ladders = program.ladders.iter().enumerate();
    ladders.map(|(at, ladder)| ladder_plan(program, at, ladder, hour, shown)).collect()
}

fn ladder_plan(program: &Arc<Program>, at: usize, ladder: &LadderDef, hour: &Judged<'_>, shown: &Shown) -> LadderPlan {
    let slice = |span| one_line(program.sources.slice(span));
    let rungs = ladder.rungs.iter().enumerate().map(|(number, rung)| {
        let moment = hour.session.moment(hour.span.middle());
        let standing = hour.session.standing(&moment);
        let frozen = hour.session.frozen(&moment);
        let lets = standing.let_values(program, &frozen);
        let open = match &rung.only_if {
            None => Some(true),
            Some(door) => crate::explain::value(program, &frozen, &lets, &standing.rungs(), door).map(|yes| yes != 0),
        };
        RungPlan {
            name: rung.name.clone(),
            only_if: rung.only_if.as_ref().map(|door| slice(door.span)),
            open,
            tactic: on_rung(at, number, hour, shown),
            because: rung.because.clone(),
        }
    });
    LadderPlan {
        name: ladder.name.clone(),
        title: ladder.title.clone(),
        rungs: rungs.collect(),
        moves: ladder
            .moves
            .iter()
            .map(|one| format!("{} if {}", one.direction.text(), slice(one.condition.span)))
            .collect(),
    }
}

/// What a rung decides when its ladder stands on it.
fn on_rung(ladder: usize, rung: usize, hour: &Judged<'_>, shown: &Shown) -> Vec<RungAspect> {
    let mut session = hour.session.clone();
    let id = u32::try_from(ladder).map_or(LadderId(0), LadderId);
    let at = hour.span.middle();
    if session.at(at, [Event::Rung(id, Some(rung))]).is_err() {
        return Vec::new();
    }
    let Some(definition) = session.program().ladders.get(ladder) else { return Vec::new() };
    let (name, rung) = (definition.name.clone(), definition.rungs.get(rung).map(|rung| rung.name.clone()));
    let by_it = |aspect: &AspectAdvice| {
        aspect.by.as_ref().is_some_and(|by| by.ladder.as_ref() == Some(&name) && Some(&by.name) == rung.as_ref())
    };
    let tactic = advise(&session, at, shown).tactic.into_iter().filter(by_it);
    tactic.map(|aspect| RungAspect { name: aspect.name, value: aspect.value, printed: aspect.printed }).collect()
}

/// A part of a source, with line breaks and runs of blanks as one blank.
fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

const ALONE: &str = "Each hour stands alone: its call is that of its middle, with lines just in, nothing struck, and each ladder on its first open rung.";

/// What was assumed: what `first` says, then of the forecast, the waves and the cast, then what was taken from before.
fn assumptions(first: &str, expected: &[&Expected], ahead: &Ahead<'_>) -> Vec<String> {
    let mut said = vec![
        first.to_owned(),
        match ahead.forecast {
            Some(_) => "The forecast is taken as it is, each value for as long as a reading of it is good.".to_owned(),
            None => "There is no forecast: wind, clouds, air and pressure are not known.".to_owned(),
        },
    ];
    if expected.iter().any(|expected| estimated_in(&expected.sessions, Known::Waves)) {
        said.push("Waves are estimated from the wind foretold and the open water that it runs over.".to_owned());
    }
    if expected.iter().any(|expected| no_cast(expected)) {
        said.push(
            "There is no cast to go by: what depends on the water's layers is not known, or is an estimate.".to_owned(),
        );
    }
    for one in expected.iter().flat_map(|expected| &expected.assumptions) {
        if !said.contains(one) {
            said.push(one.clone());
        }
    }
    said
}

/// Whether no hour has a cast that somebody made.
fn no_cast(expected: &Expected) -> bool {
    expected.sessions.iter().all(|session| session.moment(session.latest().unwrap_or_default()).cast_depth().is_none())
}

#[cfg(test)]
mod tests {
    #[test]
    fn what_stands_on_several_lines_is_told_on_one() {
        assert_eq!(super::one_line("marks\n    and  surface < 50 °F"), "marks and surface < 50 °F");
    }
}
