//! One trip: a stream in which a client sends what happens, and gets advice whenever the call changes.

use std::sync::Arc;
use std::time::Duration;

use tonic::Status;

use super::advise::{Chosen, Programs};
use super::library::Library;
use super::limits::{MOST_SENTENCES, MOST_STRIKES, sendable};
use super::status::Refusal;
use super::stream::{self, Line};
use super::v1;
use super::wire::given::{self, Water};
use super::wire::{self, Violations};
use crate::advice;
use crate::engine::Outcome;
use crate::program::Program;
use crate::session::{Event, Mode, Session, Setting};
use crate::source::feed::{Clock, Feed, Instruments};
use crate::source::given::Giver;
use crate::vocabulary::quantity::PER_UNIT;
use crate::vocabulary::time::Instant;

/// What a trip answers: advice.
pub type Answers = stream::Answers<v1::AdviseTripResponse>;

/// Follows a trip to its end.
pub async fn follow(mut line: Line<v1::AdviseTripRequest, v1::AdviseTripResponse>) -> Result<(), Status> {
    let limits = line.around.limits.clone();
    let mut trip: Option<Trip> = None;
    while let Some(message) = line.next().await? {
        let v1::AdviseTripRequest { opening, moment } = message;
        let library = line.around.library.clone();
        let (moments, span) = (limits.trip_moments, limits.trip_span);
        let before = trip.take();
        let work = line.around.workers.run(move |_| {
            let (mut trip, opened) = match (before, opening) {
                (None, Some(opening)) => (Trip::open(&library, opening)?, true),
                (Some(trip), None) => (trip, false),
                (None, None) => return Err(Refusal::field("opening", "the first message of a trip opens it")),
                (Some(_), Some(_)) => {
                    return Err(Refusal::field(
                        "opening",
                        "the trip is open already; begin another stream for another",
                    ));
                }
            };
            let answer = match moment {
                Some(moment) => trip.moment(moment, moments, span)?,
                None if opened => None,
                None => return Err(Refusal::field("moment", "there is no moment; a tick has its time")),
            };
            Ok((trip, answer))
        });
        let (after, answer) = work.await?;
        trip = Some(after);
        if let Some(answer) = answer {
            line.send(sendable(answer, limits.bytes_out)?).await?;
        }
    }
    Ok(())
}

/// A trip as far as it went.
struct Trip {
    program: Arc<Program>,
    water: Option<Water>,
    instruments: Instruments,
    view: advice::View,
    /// Once the first moment came, which may bring the zone.
    going: Option<Going>,
    moments: u64,
    sent: u64,
    last: Option<Outcome>,
}

struct Going {
    session: Session,
    shown: advice::Shown,
    first: Instant,
    feed: Feed,
}

impl Trip {
    fn open(library: &Library, opening: v1::TripOpening) -> Result<Self, Refusal> {
        let v1::TripOpening { strategy, water, instruments, view } = opening;
        let chosen = strategy.map(|strategy| match strategy {
            v1::trip_opening::Strategy::StrategyName(name) => Chosen::Served(name),
            v1::trip_opening::Strategy::Source(source) => Chosen::Sent(source),
        });
        let program = Programs::of(library).get("opening.", chosen)?;
        let mut wrong = Violations::default();
        let water = given::water("opening.water", water, &mut wrong);
        let instruments =
            instruments.map(|instruments| given::instruments("opening.instruments", instruments, &mut wrong));
        let view = wire::advice::view("opening.view", view, &mut wrong);
        wrong.refuse()?;
        let instruments = instruments.unwrap_or_default();
        Ok(Self { program, water: Some(water), instruments, view, going: None, moments: 0, sent: 0, last: None })
    }

    /// Takes a moment in, and advises where its call differs from the last one sent.
    fn moment(
        &mut self,
        moment: v1::TripMoment,
        most: u64,
        span: Duration,
    ) -> Result<Option<v1::AdviseTripResponse>, Refusal> {
        let v1::TripMoment { time, readings, cast, strikes, rungs, sentences } = moment;
        self.moments += 1;
        if self.moments > most {
            return Err(Refusal::field("moment", format!("a trip has {most} moments at most; open a new one")));
        }
        let mut wrong = Violations::default();
        let zone = match (&self.going, &self.water) {
            (Some(going), _) => going.session.setting().zone.clone(),
            (None, water) => water.as_ref().and_then(|water| water.setting.zone.clone()),
        };
        let time = given::time("moment.time", &time, zone.as_ref(), &mut wrong);
        let events = self.events(readings, cast, strikes, rungs, &mut wrong);
        if sentences.len() > MOST_SENTENCES {
            let description = format!("{} sentences; at most {MOST_SENTENCES} are taken", sentences.len());
            wrong.add("moment.sentences", description);
        }
        wrong.refuse()?;
        let Some((at, zone)) = time else { return Err(Refusal::Fault) };
        let (program, instruments) = (self.program.clone(), self.instruments);
        let water = &mut self.water;
        let going = self.going.get_or_insert_with(|| {
            let Water { setting, shown } = water.take().unwrap_or_default();
            let setting = Setting { zone: Some(setting.zone.unwrap_or(zone)), ..setting };
            let session = Session::new(program, Arc::new(setting), Mode::Live);
            Going { session, shown, first: at, feed: Feed::new(Clock::Arrival, instruments) }
        });
        // What people say at an instant stands over what instruments measure then.
        let measured = going.sentences(at, &sentences);
        going.take_in(at, measured.into_iter().chain(events).collect(), span)?;
        let outcome = going.session.outcome(at);
        if self.last.as_ref().is_some_and(|last| last.same_call(&outcome)) {
            return Ok(None);
        }
        let advice = advice::advise_in(&going.session, at, &going.shown, self.view);
        self.last = Some(outcome);
        self.sent += 1;
        Ok(Some(v1::AdviseTripResponse {
            sequence: self.sent,
            moment: self.moments,
            advice: Some(wire::advice::advice(advice, at)),
            sentences: wire::sentences(going.feed.counts()),
        }))
    }

    /// What happened at a moment, in the order in which a session takes it.
    fn events(
        &self,
        readings: Vec<v1::Reading>,
        cast: Option<v1::Cast>,
        strikes: u32,
        rungs: Vec<v1::LadderRung>,
        wrong: &mut Violations,
    ) -> Vec<Event> {
        let mut giver = Giver::new(&self.program);
        let mut timed = given::readings("moment.readings", &mut giver, readings, wrong);
        timed.extend(cast.and_then(|cast| given::cast("moment.cast", &mut giver, cast, wrong)));
        for (field, time, _) in &timed {
            if !time.is_empty() {
                wrong.add(field, "what is given on a trip has the time of its moment; leave this empty");
            }
        }
        if strikes > MOST_STRIKES {
            wrong.add("moment.strikes", format!("{strikes} strikes at one instant; at most {MOST_STRIKES} are taken"));
        }
        let mut events: Vec<Event> = timed.into_iter().map(|(_, _, event)| event).collect();
        events.extend((0..strikes.min(MOST_STRIKES)).map(|_| Event::Strike));
        events.extend(given::rungs("moment.rungs", &self.program, rungs, wrong));
        events
    }
}

impl Going {
    /// What the boat's instruments say, as events.
    fn sentences(&mut self, at: Instant, sentences: &[String]) -> Vec<Event> {
        let mut events = Vec::new();
        for sentence in sentences {
            // Each is a line, whether it says so or not.
            for bytes in [sentence.as_bytes(), b"\n"] {
                self.feed.take(bytes, at, &mut |measured| events.extend(measured.events()));
            }
        }
        events
    }

    fn take_in(&mut self, at: Instant, events: Vec<Event>, span: Duration) -> Result<(), Refusal> {
        let most = i64::try_from(span.as_secs()).unwrap_or(i64::MAX).saturating_mul(PER_UNIT);
        if at.since(self.first) > most {
            let hours = span.as_secs() / 3600;
            return Err(Refusal::field("moment.time", format!("a trip covers {hours} h at most; open a new one")));
        }
        self.session.at(at, events).map_err(|late| {
            let latest = late.latest.timestamp();
            Refusal::field(
                "moment.time",
                format!("this lies before the moment before it, {latest}; moments come in order"),
            )
        })
    }
}
