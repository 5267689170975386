//! Every bound of the service in one place, and the workers that computing is done by.

use std::sync::Arc;
use std::time::{Duration, Instant};

use prost::Message;
use tokio::sync::Semaphore;

use super::status::Refusal;
use crate::day::log::BOUNDS;

const MINUTE: Duration = Duration::from_secs(60);
const HOUR: Duration = Duration::from_secs(60 * 60);

/// Most readings in a request or moment, and most points of a cast.
pub const MOST_READINGS: usize = 1000;
/// Most bytes of a reading's name, and of its value as text.
pub const MOST_VALUE_BYTES: usize = 16 * 1024;
/// Most moments that are advised on in one call.
pub const MOST_MOMENTS: usize = 256;
/// Most strategies on a page.
pub const MOST_ON_PAGE: usize = 100;
/// Most strikes at one instant.
pub const MOST_STRIKES: u32 = 100;
/// Most lines of a lake's rules.
pub const MOST_RULE_LINES: usize = 100;
/// Most directions of a lake's fetch.
pub const MOST_FETCHES: usize = 360;
/// Most kinds of fish that a lake's limits are given for.
pub const MOST_HABITATS: usize = 50;
/// Most sentences of instruments in one moment of a trip.
pub const MOST_SENTENCES: usize = 1000;

/// Most lets that a comparison changes.
pub const MOST_LETS: usize = 100;
/// Most bytes of a log's name.
pub const MOST_LOG_NAME_BYTES: usize = 256;

/// What the service takes on at most.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Bytes of a message that comes in.
    pub bytes_in: usize,
    /// Bytes of a message that goes out.
    pub bytes_out: usize,
    /// Connections at a time.
    pub connections: usize,
    /// Streams at a time on one connection.
    pub streams_per_connection: u32,
    /// Requests at a time, over all connections; what comes on top is turned away.
    pub requests: usize,
    /// Trips at a time, over all connections; what comes on top is turned away.
    pub trips: usize,
    /// Comparisons at a time, over all connections; what comes on top is turned away. Each may hold a whole log.
    pub comparisons: usize,
    /// Requests that compute at a time; the others wait.
    pub workers: usize,
    /// How long a request may take, a trip for one moment, and a comparison for one log.
    pub request_time: Duration,
    /// How long the client of a trip or a comparison may be silent.
    pub silence: Duration,
    /// How long a trip's stream may stay open.
    pub trip_time: Duration,
    /// How much time may lie between the first moment of a trip and its last, by the times it is sent.
    pub trip_span: Duration,
    /// How many moments a trip may have.
    pub trip_moments: u64,
    /// How long a comparison may take, from its opening to its end.
    pub comparison_time: Duration,
    /// How many logs a comparison may have.
    pub comparison_logs: u64,
    /// Bytes of a log.
    pub log_bytes: usize,
    /// How long a new connection may be silent.
    pub first_byte: Duration,
    /// After how long a connection takes no more requests and is closed once it is idle.
    pub connection_age: Duration,
    /// How long after that it is closed whatever goes on; no less than a trip may take.
    pub connection_grace: Duration,
    /// How long requests may go on once the service is told to end.
    pub shutdown_grace: Duration,
    /// How long the served folder has to be quiet before it is read anew.
    pub quiet: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            bytes_in: 2 * 1024 * 1024,
            // What most clients take without being told otherwise.
            bytes_out: 4 * 1024 * 1024,
            connections: 256,
            streams_per_connection: 32,
            requests: 64,
            trips: 256,
            comparisons: 8,
            workers: std::thread::available_parallelism().map_or(2, usize::from),
            request_time: Duration::from_secs(10),
            silence: 15 * MINUTE,
            trip_time: 24 * HOUR,
            trip_span: 48 * HOUR,
            trip_moments: 100_000,
            comparison_time: HOUR,
            comparison_logs: 10_000,
            log_bytes: BOUNDS.bytes,
            first_byte: Duration::from_secs(10),
            connection_age: 6 * HOUR,
            connection_grace: 25 * HOUR,
            shutdown_grace: Duration::from_secs(10),
            quiet: Duration::from_millis(200),
        }
    }
}

/// Hands computing to threads of its own, so many at a time, so that the sockets are served meanwhile.
#[derive(Clone, Debug)]
pub struct Workers {
    free: Arc<Semaphore>,
    time: Duration,
}

impl Workers {
    /// The workers that limits allow.
    pub fn new(limits: &Limits) -> Self {
        Self { free: Arc::new(Semaphore::new(limits.workers.max(1))), time: limits.request_time }
    }

    /// Runs a job when a worker is free. A job can't be stopped from outside: it is told by when it has to end, and
    /// keeps its worker until it does, whether or not anybody waits for it.
    pub async fn run<T: Send + 'static>(
        &self,
        job: impl FnOnce(Deadline) -> Result<T, Refusal> + Send + 'static,
    ) -> Result<T, Refusal> {
        let deadline = Deadline::after(self.time);
        let work = async {
            let worker = self.free.clone().acquire_owned().await.map_err(|_| Refusal::ShuttingDown)?;
            let done = tokio::task::spawn_blocking(move || {
                let _worker = worker;
                deadline.check()?;
                job(deadline)
            });
            done.await.unwrap_or_else(|error| {
                tracing::error!(%error, "a request's work failed");
                Err(Refusal::Fault)
            })
        };
        tokio::time::timeout(self.time, work).await.unwrap_or(Err(Refusal::TooSlow(self.time)))
    }
}

/// By when a job has to end.
#[derive(Clone, Copy, Debug)]
pub struct Deadline {
    at: Instant,
    time: Duration,
}

#[expect(clippy::disallowed_methods, reason = "a request has so much time by the machine's clock")]
impl Deadline {
    fn after(time: Duration) -> Self {
        Self { at: Instant::now() + time, time }
    }

    /// Whether there is time left.
    pub fn check(self) -> Result<(), Refusal> {
        if Instant::now() < self.at { Ok(()) } else { Err(Refusal::TooSlow(self.time)) }
    }
}

/// An answer, if it is no larger than may be sent.
pub fn sendable<M: Message>(answer: M, most: usize) -> Result<M, Refusal> {
    let bytes = answer.encoded_len();
    if bytes > most { Err(Refusal::AnswerTooLarge { bytes, most }) } else { Ok(answer) }
}
