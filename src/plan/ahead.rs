//! What is expected of a day: its hours, and for each the readings as they are taken to be at its middle.
//!
//! A day ahead has no readings of its own. What stands in for them is written down as an assumption, each in words: the
//! forecast; what was measured in the days before and changes slowly; what the guide says with `--set`. All else is not
//! known, and stays so.

use std::sync::Arc;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::Serialize;

use crate::program::{GivenTarget, Program};
use crate::session::{Event, Origin, Session, Setting};
use crate::source::forecast::Forecast;
use crate::source::given::Names;
use crate::source::readings::Readings;
use crate::source::{Fault, Faults};
use crate::vocabulary::catalogue::{GoodFor, Known};
use crate::vocabulary::quantity::{HOUR, MINUTE};
use crate::vocabulary::time::{Instant, clock, end_of_day, to_the_second};
use crate::water::sun::{Always, Events, civil_twilight};

/// How many days back a cast, a clarity or a surface temperature may be from: our own choice, no source. Deep water and
/// clarity change slowly; a blow can turn both over in a night, so that each that is taken to hold is named.
const DAYS_BACK: i32 = 3;
/// A piece of an hour at either end of the day that is shorter than this goes with the hour beside it.
const SHORTEST: i64 = 15 * MINUTE;

/// A stretch of the day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Span {
    /// When it begins.
    pub from: Instant,
    /// When it ends.
    pub to: Instant,
}

impl Span {
    /// Its middle, at which it is judged.
    pub fn middle(self) -> Instant {
        self.from.after(self.to.since(self.from) / 2)
    }

    /// Both ends as they are told.
    pub fn told(self, zone: &TimeZone) -> Hours {
        let told = |at: Instant| to_the_second(&at.zoned(zone));
        Hours { from: told(self.from), to: told(self.to) }
    }
}

/// A stretch of the day as it is told: two times with their offsets.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Hours {
    /// When it begins.
    pub from: String,
    /// When it ends.
    pub to: String,
}

/// A day ahead: where, when, and what there is to go by.
#[derive(Debug)]
pub struct Ahead<'a> {
    /// The day.
    pub date: Date,
    /// The zone of its times.
    pub zone: TimeZone,
    /// The water.
    pub setting: Arc<Setting>,
    /// What the weather is to be.
    pub forecast: Option<&'a Forecast>,
    /// What was read before.
    pub readings: Option<&'a Readings>,
    /// What is taken to be so at every hour, each `NAME=VALUE`.
    pub sets: &'a [String],
}

/// What is expected of a day, for one strategy.
pub struct Expected {
    /// Of each stretch the session at its middle.
    pub sessions: Vec<Session>,
    /// What had to be assumed, in words.
    pub assumptions: Vec<String>,
}

/// Something that is taken to hold from before: what a session takes, when it was read, how it is called.
struct Held {
    reading: Known,
    at: Instant,
    events: Vec<Event>,
    words: String,
}

impl Ahead<'_> {
    /// The beginning and end of the day by its zone's calendar.
    ///
    /// # Errors
    /// The day is none of the calendar's.
    pub fn calendar_day(&self) -> Result<Span, Fault> {
        let start = self.zone.to_ambiguous_timestamp(self.date.at(0, 0, 0, 0)).compatible();
        let start = start.map_err(|_| Fault::new(format!("{} is a day that can't be planned", self.date)))?;
        let from = Instant::of(start);
        Ok(Span { from, to: end_of_day(from, &self.zone).after(1) })
    }

    /// The stretch to plan: from civil dawn to civil dusk, where no other is asked for.
    ///
    /// # Errors
    /// It is not known when the sun rises, or it does not; the ends are the wrong way round.
    pub fn span(&self, from: Option<Instant>, to: Option<Instant>) -> Result<Span, Fault> {
        let day = self.calendar_day()?;
        let span = match (from, to) {
            (Some(from), Some(to)) => Span { from, to },
            _ => {
                let light = self.light_of(day)?;
                Span { from: from.unwrap_or(light.from), to: to.unwrap_or(light.to) }
            }
        };
        if span.from >= span.to {
            let time = |at: Instant| at.zoned(&self.zone).strftime("%H:%M").to_string();
            return Err(Fault::new(format!(
                "the day would end at {}, before it begins at {}",
                time(span.to),
                time(span.from)
            ))
            .help("write `--from` and `--to` as times of that day, the earlier first"));
        }
        Ok(span)
    }

    /// From civil dawn to civil dusk, in whole minutes.
    fn light_of(&self, day: Span) -> Result<Span, Fault> {
        let help = "say which hours to plan, with `--from 06:00 --to 18:00`";
        let Some(place) = self.setting.place else {
            return Err(
                Fault::new("it is not known when the day begins: the water file names no `position`").help(help)
            );
        };
        match civil_twilight(place, day.from, day.to) {
            Some(Events { always: Some(Always::Below), .. }) | None => {
                Err(Fault::new(format!("the sun does not come up to civil dawn here on {}", self.date)).help(help))
            }
            Some(Events { rise, set, .. }) => {
                let minute = |at: Instant| Instant(at.0.div_euclid(MINUTE) * MINUTE);
                Ok(Span { from: rise.map_or(day.from, minute), to: set.map_or(day.to, minute) })
            }
        }
    }

    /// A span in the whole hours of the clock, or in parts of them.
    pub fn hours(&self, span: Span, step: i64) -> Vec<Span> {
        let mut hours: Vec<Span> = Vec::new();
        let mut from = span.from;
        while from < span.to {
            let into = clock(from, &self.zone).rem_euclid(step);
            let to = from.after(step - into).min(span.to);
            hours.push(Span { from, to });
            from = to;
        }
        let short = |hour: &Span| hour.to.since(hour.from) < SHORTEST.min(step);
        if hours.len() > 1 && hours.first().is_some_and(short) {
            let first = hours.remove(0);
            hours.iter_mut().take(1).for_each(|hour| hour.from = first.from);
        }
        if hours.len() > 1 && hours.last().is_some_and(short) {
            hours.pop();
            hours.iter_mut().next_back().into_iter().for_each(|hour| hour.to = span.to);
        }
        hours
    }

    /// What is expected for a strategy in each stretch, at its middle, as one request without a history.
    ///
    /// # Errors
    /// What was read or is set is nothing that the strategy takes.
    pub fn expect(&self, program: &Arc<Program>, spans: &[Span]) -> Result<Expected, Faults> {
        let mut faults = Faults::default();
        let mut names = Names::of(program);
        let begins = spans.first().map_or(Instant::default(), |span| span.from);
        let mut before: Vec<(Instant, Vec<Event>)> = Vec::new();
        let mut left_out = Vec::new();
        let mut later = 0;
        for moment in self.readings.iter().flat_map(|readings| readings.moments.iter()) {
            let file = self.readings.map_or("", |readings| readings.file.as_str());
            let Some(events) = faults.keep(names.moment(file, moment)) else { continue };
            if moment.at <= begins {
                before.push((moment.at, events.into_iter().filter(is_of_the_water).collect()));
            } else {
                later += 1;
            }
        }
        let sets = faults.keep(names.sets(self.sets)).unwrap_or_default();
        faults.keep(self.forecast_is_for(spans));
        faults.unless_any(())?;
        let held = self.held(&before, &mut left_out);
        if later > 0 {
            let moments = if later == 1 { "1 moment".to_owned() } else { format!("{later} moments") };
            left_out.push(format!("Left out: {moments} of the readings, from after the plan begins."));
        }
        let sessions = spans.iter().map(|span| self.session(program, *span, &before, &held, &sets));
        let sessions = sessions.collect::<Result<_, Fault>>()?;
        let taken = held.iter().filter(|held| spans.iter().any(|span| holds(held, *span, &self.zone)));
        let mut assumptions: Vec<String> = taken.map(|held| held.words.clone()).collect();
        if !self.sets.is_empty() {
            assumptions.push(format!("Taken to be so at every hour, as set: {}.", self.sets.join(", ")));
        }
        assumptions.extend(left_out);
        Ok(Expected { sessions, assumptions })
    }

    /// That the forecast has an hour of the day that is planned, or one shortly before.
    fn forecast_is_for(&self, spans: &[Span]) -> Result<(), Fault> {
        let (Some(forecast), Some(first), Some(last)) = (self.forecast, spans.first(), spans.last()) else {
            return Ok(());
        };
        if forecast.hours.iter().any(|hour| hour.at < last.to && hour.at >= first.from.after(-HOUR)) {
            return Ok(());
        }
        let time = |at: Instant| at.zoned(&self.zone).strftime("%Y-%m-%d %H:%M").to_string();
        let ends = [forecast.hours.first(), forecast.hours.last()]
            .map(|hour| hour.map_or_else(String::new, |hour| time(hour.at)));
        let [from, to] = ends;
        Err(Fault::new(format!("the forecast is of another time: its hours run from {from} to {to}"))
            .help(format!(
                "the plan runs from {} to {}; take the forecast of that day",
                time(first.from),
                time(last.to)
            ))
            .within(&forecast.file))
    }

    fn session(
        &self,
        program: &Arc<Program>,
        span: Span,
        before: &[(Instant, Vec<Event>)],
        held: &[Held],
        sets: &[Event],
    ) -> Result<Session, Fault> {
        let setting = Setting { zone: Some(self.zone.clone()), ..(*self.setting).clone() };
        let mut session = Session::alone(program.clone(), Arc::new(setting));
        let mut course: Vec<(Instant, Vec<Event>)> = Vec::new();
        let forecast = self.forecast.iter().flat_map(|forecast| forecast.hours.iter());
        course.extend(forecast.filter(|hour| hour.at <= span.middle()).map(|hour| (hour.at, hour.events().collect())));
        course.extend(before.iter().cloned());
        // A surface read after the cast stays the newer of the two.
        for held in held.iter().filter(|held| holds(held, span, &self.zone)) {
            let at = if held.reading == Known::Surface { span.middle() } else { span.from };
            course.push((at, held.events.clone()));
        }
        course.push((span.middle(), sets.to_vec()));
        course.sort_by_key(|(at, _)| *at);
        for (at, events) in course {
            // What is past its time is as if nobody had read it: its age says nothing about a day ahead.
            let events = events.into_iter().filter(|event| is_good(event, at, span.middle(), program, &self.zone));
            session.at(at, events).map_err(|_| Fault::new("the readings are not in the order of time"))?;
        }
        Ok(session)
    }

    /// What was read before and is taken to hold: the last cast, clarity and surface temperature.
    fn held(&self, before: &[(Instant, Vec<Event>)], left_out: &mut Vec<String>) -> Vec<Held> {
        let oldest = self.date.checked_sub(jiff::Span::new().days(DAYS_BACK)).unwrap_or(self.date);
        let last = |reading: Known| {
            before.iter().rev().find_map(|(at, events)| {
                let event = events.iter().find(|event| gives(event, reading))?;
                let written = events.iter().find(|event| is_written(event, reading));
                Some((*at, event, written))
            })
        };
        let cast_at = last(Known::CastMeasured).map(|(at, ..)| at);
        let mut held = Vec::new();
        for reading in [Known::CastMeasured, Known::Clarity, Known::Surface] {
            let Some((at, event, written)) = last(reading) else { continue };
            // What was made unknown again is not held, and a later cast gives the surface a temperature of its own.
            let unknown = matches!(event, Event::Cast(None) | Event::Give(_, None));
            if unknown || (reading == Known::Surface && cast_at.is_some_and(|cast_at| cast_at > at)) {
                continue;
            }
            let day = at.zoned(&self.zone);
            let when = day.strftime("%-d %B, %H:%M");
            let value = match written {
                Some(Event::Written(_, text)) => text,
                _ => "as it was",
            };
            if day.date() < oldest {
                let name = if reading == Known::CastMeasured { "cast" } else { reading.name() };
                left_out.push(format!("Left out, as it is more than {DAYS_BACK} days old: the {name} of {when}."));
                continue;
            }
            let words = match reading {
                Known::CastMeasured => format!("The cast of {when} is taken to hold."),
                Known::Clarity => format!("The clarity is taken to stay {value}, as on {when}."),
                _ => format!("The surface is taken to stay at {value}, as on {when}: measure it again on the water."),
            };
            let events = std::iter::once(event).chain(written).cloned().collect();
            held.push(Held { reading, at, events, words });
        }
        held
    }
}

/// Whether an event says something about the water or the weather, and not about how the fishing went: a plan begins
/// with lines just in.
fn is_of_the_water(event: &Event) -> bool {
    match event {
        Event::Give(GivenTarget::Known(known), _) => !matches!(known, Known::Strikeless | Known::LinesIn),
        Event::Give(GivenTarget::Call(known, ..), _) => *known != Known::Strikes,
        Event::Strike | Event::Rung(..) => false,
        _ => true,
    }
}

fn gives(event: &Event, reading: Known) -> bool {
    match event {
        Event::Cast(_) => reading == Known::CastMeasured,
        Event::Give(target, _) => *target == GivenTarget::Known(reading),
        _ => false,
    }
}

fn is_written(event: &Event, reading: Known) -> bool {
    matches!(event, Event::Written(target, _) if *target == GivenTarget::Known(reading))
}

/// Whether something from before has to be taken to hold in a stretch, because it is past its time there.
fn holds(held: &Held, span: Span, zone: &TimeZone) -> bool {
    !within(held.reading.entry().good_for, held.at, span.middle(), zone)
}

/// Whether what an event gives is still good at a later time.
fn is_good(event: &Event, at: Instant, later: Instant, program: &Program, zone: &TimeZone) -> bool {
    let good_for = match event {
        Event::Give(target, _) => match target {
            GivenTarget::Known(known) | GivenTarget::Call(known, ..) => known.entry().good_for,
            GivenTarget::Own(own) => match program.own.get(*own).and_then(|own| own.good_for) {
                Some(span) => GoodFor::Span(span),
                None => GoodFor::Day,
            },
            GivenTarget::ChangeOfKnown(..) | GivenTarget::ChangeOfOwn(..) => Known::Change.entry().good_for,
        },
        Event::Cast(_) => Known::CastMeasured.entry().good_for,
        Event::Place(_) => Known::Position.entry().good_for,
        Event::Strike | Event::Rung(..) | Event::Written(..) | Event::Made(..) => return true,
    };
    within(good_for, at, later, zone)
}

fn within(good_for: GoodFor, at: Instant, later: Instant, zone: &TimeZone) -> bool {
    match good_for {
        GoodFor::Span(span) => later.since(at) <= span,
        GoodFor::Day => later <= end_of_day(at, zone),
    }
}

/// Whether a reading is a model's estimate in any of some sessions, each at its latest instant.
pub fn estimated_in(sessions: &[Session], known: Known) -> bool {
    sessions.iter().any(|session| {
        let at = session.latest().unwrap_or_default();
        session.moment(at).report_of(GivenTarget::Known(known)).origin == Origin::Estimated
    })
}
