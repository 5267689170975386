//! One trip: a stream in which a client sends what happens, and gets advice whenever the call changes.
//!
//! A task owns the trip and reads the client's stream; what it advises goes through a bounded channel, so that a client
//! that does not read is not written to without end. The task's own end is the stream's: a panic is an error to the
//! client, and a client that goes away ends the task.

use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;

use tokio::sync::{OwnedSemaphorePermit, mpsc, watch};
use tokio::task::JoinHandle;
use tokio::time::timeout;
use tokio_stream::{Stream, StreamExt};
use tonic::Status;

use super::advise::{Chosen, Programs};
use super::library::Library;
use super::limits::{Limits, MOST_SENTENCES, MOST_STRIKES, Workers, sendable};
use super::status::{Refusal, of_transport};
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

/// Advice that waits to be read, at most.
const WAITING: usize = 4;

/// What a trip needs of the service.
pub struct Surroundings {
    /// The served folder.
    pub library: Arc<Library>,
    /// The bounds.
    pub limits: Arc<Limits>,
    /// Who computes.
    pub workers: Workers,
    /// Turns true when the service ends.
    pub ending: watch::Receiver<bool>,
}

/// The client's stream.
pub type Messages = Pin<Box<dyn Stream<Item = Result<v1::AdviseTripRequest, Status>> + Send>>;

/// Begins a trip. It keeps its place among the trips until it ends.
pub fn begin(around: Surroundings, messages: Messages, place: OwnedSemaphorePermit) -> Answers {
    let (sender, advice) = mpsc::channel(WAITING);
    let task = tokio::spawn(async move {
        let _place = place;
        let longest = around.limits.trip_time;
        let ended = timeout(longest, follow(around, messages, sender)).await;
        ended.unwrap_or_else(|_| Err(Refusal::TripTooLong(longest).into()))
    });
    Answers { advice, task: Some(task) }
}

/// What a trip answers: advice, and in the end the reason why it ended, where there is one.
pub struct Answers {
    advice: mpsc::Receiver<v1::AdviseTripResponse>,
    task: Option<JoinHandle<Result<(), Status>>>,
}

impl Stream for Answers {
    type Item = Result<v1::AdviseTripResponse, Status>;

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        if let Some(answer) = std::task::ready!(self.advice.poll_recv(context)) {
            return Poll::Ready(Some(Ok(answer)));
        }
        let Some(task) = &mut self.task else { return Poll::Ready(None) };
        let ended = std::task::ready!(Pin::new(task).poll(context));
        self.task = None;
        let ended = ended.unwrap_or_else(|error| {
            tracing::error!(%error, "a trip failed");
            Err(Refusal::Fault.into())
        });
        Poll::Ready(ended.err().map(|status| {
            tracing::info!(code = ?status.code(), "a trip ended");
            Err(status)
        }))
    }
}

impl Drop for Answers {
    fn drop(&mut self) {
        if let Some(task) = &self.task {
            task.abort();
        }
    }
}

/// Follows a trip to its end.
async fn follow(
    mut around: Surroundings,
    mut messages: Messages,
    advice: mpsc::Sender<v1::AdviseTripResponse>,
) -> Result<(), Status> {
    let mut trip: Option<Trip> = None;
    while let Some(message) = next(&mut around.ending, &mut messages, &around.limits).await? {
        let v1::AdviseTripRequest { opening, moment } = message;
        let library = around.library.clone();
        let (moments, span) = (around.limits.trip_moments, around.limits.trip_span);
        let before = trip.take();
        let work = around.workers.run(move |_| {
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
            let answer = sendable(answer, around.limits.bytes_out)?;
            send(&mut around.ending, &advice, answer, around.limits.silence).await?;
        }
    }
    Ok(())
}

/// The client's next message; none where it has no more to say.
async fn next(
    ending: &mut watch::Receiver<bool>,
    messages: &mut Messages,
    limits: &Limits,
) -> Result<Option<v1::AdviseTripRequest>, Status> {
    tokio::select! {
        biased;
        () = ended(ending) => Err(Refusal::ShuttingDown.into()),
        message = timeout(limits.silence, messages.next()) => match message {
            Ok(message) => message.transpose().map_err(|status| {
                of_transport(status.code(), limits.bytes_in).map_or(status, Status::from)
            }),
            Err(_) => Err(Refusal::Silent(limits.silence).into()),
        },
    }
}

async fn send(
    ending: &mut watch::Receiver<bool>,
    advice: &mpsc::Sender<v1::AdviseTripResponse>,
    answer: v1::AdviseTripResponse,
    patience: Duration,
) -> Result<(), Status> {
    tokio::select! {
        biased;
        sent = timeout(patience, advice.send(answer)) => match sent {
            // Where nobody is left to read there is nobody to tell either.
            Ok(_) => Ok(()),
            Err(_) => Err(Refusal::Unread(patience).into()),
        },
        () = ended(ending) => Err(Refusal::ShuttingDown.into()),
    }
}

async fn ended(ending: &mut watch::Receiver<bool>) {
    // Where the one who would say so is gone, the service has ended too.
    let _ = ending.wait_for(|ending| *ending).await;
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
            advice: Some(wire::advice::advice(advice, at.timestamp().to_string())),
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
