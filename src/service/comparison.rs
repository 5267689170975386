//! One comparison: a stream in which a client sends the logs of days, whole or in pieces, and hears how far it has got and
//! in the end what all of them say.
//!
//! A log is gathered, compared, added up and dropped before the next message is read, so that one is in memory at a time,
//! however many there are; the transport holds back a client that sends faster.

use std::sync::{Arc, Weak};

use prost::Message;
use tonic::Status;

use super::advise::{Chosen, Programs};
use super::library::Library;
use super::limits::{Deadline, Limits, MOST_LETS, MOST_LOG_NAME_BYTES, MOST_VALUE_BYTES, sendable};
use super::source_text;
use super::status::Refusal;
use super::stream::{self, Line};
use super::v1;
use super::v1::compare_strategies_request::Log as Sent;
use super::v1::compare_strategies_response::Answer;
use super::wire::comparison;
use super::wire::{Violations, given};
use crate::compare::season::{self, Season};
use crate::compare::{Day, Side, Sides};
use crate::day::log::Log;
use crate::session::Setting;

/// What a comparison answers: how far it has got, and in the end the whole of it.
pub type Answers = stream::Answers<v1::CompareStrategiesResponse>;

/// Follows a comparison to its end.
pub async fn follow(mut line: Line<v1::CompareStrategiesRequest, v1::CompareStrategiesResponse>) -> Result<(), Status> {
    let limits = line.around.limits.clone();
    // Gone as soon as nobody waits for the comparison, which ends its work.
    let waiting = Arc::new(());
    let mut going: Option<Comparing> = None;
    let mut logs = Logs::default();
    while let Some(v1::CompareStrategiesRequest { opening, log }) = line.next().await? {
        match (&going, opening) {
            (None, Some(opening)) => {
                let library = line.around.library.clone();
                going = Some(line.around.workers.run(move |_| Comparing::open(&library, opening)).await?);
                if log.is_none() {
                    continue;
                }
            }
            (Some(_), None) => {}
            (None, None) => return Err(not_opened().into()),
            (Some(_), Some(_)) => {
                let why = "the comparison is open already; begin another stream for another";
                return Err(Refusal::field("opening", why).into());
            }
        }
        let Some((name, bytes)) = logs.take(log, &limits)? else { continue };
        let Some(comparing) = going.take() else { return Err(Refusal::Fault.into()) };
        let waited_for = Arc::downgrade(&waiting);
        let work = line.around.workers.run(move |deadline| comparing.compare(name, bytes, &waited_for, deadline));
        let (comparing, progress) = work.await?;
        going = Some(comparing);
        line.send(v1::CompareStrategiesResponse { answer: Some(Answer::Progress(progress)) }).await?;
    }
    let comparing = going.ok_or_else(not_opened)?;
    logs.ended()?;
    let most = limits.bytes_out;
    let answer = line.around.workers.run(move |_| comparing.finish(most)).await?;
    line.send(answer).await
}

fn not_opened() -> Refusal {
    Refusal::field("opening", "the first message of a comparison opens it")
}

/// The logs that a client sends, gathered from their pieces.
#[derive(Debug, Default)]
struct Logs {
    /// The name of a log that is not at its end, and its bytes so far.
    begun: Option<(String, Vec<u8>)>,
    /// How many were begun.
    count: u64,
}

impl Logs {
    /// Takes in what a message has of a log, and gives the log where that is whole.
    fn take(&mut self, sent: Option<Sent>, limits: &Limits) -> Result<Option<(String, Vec<u8>)>, Refusal> {
        match (sent, &self.begun) {
            (Some(Sent::Whole(v1::WholeLog { name, text })), None) => {
                let bytes = self.begin("whole.name", &name, limits)?;
                Ok(Some((name.clone(), add(&name, bytes, text.into_bytes(), limits)?)))
            }
            (Some(Sent::Whole(_)), Some((begun, _))) => Err(Refusal::field("whole", not_ended(begun))),
            (Some(Sent::Piece(v1::LogPiece { name, content, last })), _) => {
                let (begun, bytes) = match self.begun.take() {
                    Some((begun, _)) if !name.is_empty() && name != begun => {
                        return Err(Refusal::field("piece.name", not_ended(&begun)));
                    }
                    Some(begun) => begun,
                    None => {
                        let bytes = self.begin("piece.name", &name, limits)?;
                        (name, bytes)
                    }
                };
                let bytes = add(&begun, bytes, content, limits)?;
                if last {
                    return Ok(Some((begun, bytes)));
                }
                self.begun = Some((begun, bytes));
                Ok(None)
            }
            (None, _) => Err(Refusal::field("whole", "there is no log, and no piece of one")),
        }
    }

    fn begin(&mut self, field: &str, name: &str, limits: &Limits) -> Result<Vec<u8>, Refusal> {
        if name.is_empty() || name.len() > MOST_LOG_NAME_BYTES || name.contains(char::is_control) {
            let why =
                format!("a log has a name of 1 to {MOST_LOG_NAME_BYTES} bytes on one line, as in `2026-05-14.yaml`");
            return Err(Refusal::field(field, why));
        }
        self.count += 1;
        if self.count > limits.comparison_logs {
            let why = format!("a comparison has {} logs at most; send fewer at a time", limits.comparison_logs);
            return Err(Refusal::field(field, why));
        }
        Ok(Vec::new())
    }

    /// Refuses an end of the stream where there was no log, or one is not at its end.
    fn ended(self) -> Result<(), Refusal> {
        match self.begun {
            Some((begun, _)) => Err(Refusal::field("piece.last", not_ended(&begun))),
            None if self.count == 0 => Err(Refusal::field("whole", "no log was sent; there is nothing to compare")),
            None => Ok(()),
        }
    }
}

fn not_ended(log: &str) -> String {
    format!("the log `{log}` is not at its end yet; its last piece says `last`")
}

fn add(log: &str, mut bytes: Vec<u8>, more: Vec<u8>, limits: &Limits) -> Result<Vec<u8>, Refusal> {
    if bytes.len().saturating_add(more.len()) > limits.log_bytes {
        return Err(Refusal::LogTooLarge { log: log.to_owned(), most: limits.log_bytes });
    }
    if bytes.is_empty() {
        return Ok(more);
    }
    bytes.extend(more);
    Ok(bytes)
}

/// A comparison as far as it went.
struct Comparing {
    sides: Sides,
    setting: Setting,
    season: Season,
    done: u64,
}

impl Comparing {
    fn open(library: &Library, opening: v1::ComparisonOpening) -> Result<Self, Refusal> {
        let v1::ComparisonOpening { a, b, lets, water } = opening;
        let mut programs = Programs::of(library);
        let mut side = |path: &str, compared: Option<v1::ComparedStrategy>| -> Result<Side, Refusal> {
            let chosen =
                compared.and_then(|v1::ComparedStrategy { strategy }| strategy).map(|strategy| match strategy {
                    v1::compared_strategy::Strategy::StrategyName(name) => Chosen::Served(name),
                    v1::compared_strategy::Strategy::Source(source) => Chosen::Sent(source),
                });
            let program = programs.get(path, chosen)?;
            let file = program.sources.files().first().map_or_else(String::new, |file| file.name().to_owned());
            Ok(Side { program, file, lets: Vec::new() })
        };
        let a = side("opening.a.", a)?;
        let b = match (b, lets.is_empty()) {
            (Some(b), true) => side("opening.b.", Some(b))?,
            (None, false) => changed(&a, lets)?,
            (Some(_), false) => {
                let why = "lets are changed in one strategy, and two are named; leave out `b`, or the lets";
                return Err(Refusal::field("opening.lets", why));
            }
            (None, true) => {
                let why = "one strategy alone has nothing to be compared with; name another, or change its lets";
                return Err(Refusal::field("opening.b", why));
            }
        };
        let mut wrong = Violations::default();
        let setting = given::water("opening.water", water, &mut wrong).setting;
        wrong.refuse()?;
        let sides = Sides::new(a, b);
        let season = Season::new(&sides);
        Ok(Self { sides, setting, season, done: 0 })
    }

    /// Compares one log, and says how far that is.
    fn compare(
        mut self,
        name: String,
        bytes: Vec<u8>,
        waited_for: &Weak<()>,
        deadline: Deadline,
    ) -> Result<(Self, v1::ComparisonProgress), Refusal> {
        let wanted = || waited_for.strong_count() > 0 && deadline.check().is_ok();
        let log = Log::of_bytes(&name, bytes, self.setting.zone.as_ref());
        let day = log.and_then(|log| Day::of_while(&self.sides, &self.setting, log, &wanted));
        deadline.check()?;
        let skipped = day.as_ref().err().map(season::why);
        match day {
            Ok(day) => self.season.add(day),
            Err(faults) => self.season.skip(&name, &faults),
        }
        self.done += 1;
        let progress = v1::ComparisonProgress { log: name, done: self.done, days: self.season.days(), skipped };
        Ok((self, progress))
    }

    /// The whole of it, with as many stretches as fit so many bytes.
    fn finish(self, most: usize) -> Result<v1::CompareStrategiesResponse, Refusal> {
        let mut comparison = comparison::comparison(self.season.finish());
        // Its key and length stand around it.
        const AROUND: usize = 16;
        while comparison.encoded_len().saturating_add(AROUND) > most {
            let Some(differences) = comparison.differences.as_mut().filter(|found| !found.stretches.is_empty()) else {
                break;
            };
            let keep = differences.stretches.len() / 2;
            differences.stretches_left_out += (differences.stretches.len() - keep) as u64;
            differences.stretches.truncate(keep);
        }
        sendable(v1::CompareStrategiesResponse { answer: Some(Answer::Comparison(comparison)) }, most)
    }
}

/// A strategy with changed lets.
fn changed(a: &Side, lets: Vec<v1::LetChange>) -> Result<Side, Refusal> {
    if lets.len() > MOST_LETS {
        return Err(Refusal::field("opening.lets", format!("{} lets; at most {MOST_LETS} are changed", lets.len())));
    }
    let mut wrong = Violations::default();
    let mut written = Vec::new();
    for (at, v1::LetChange { name, value }) in lets.into_iter().enumerate() {
        for (field, text) in [("name", &name), ("value", &value)] {
            if text.trim().is_empty() || text.len() > MOST_VALUE_BYTES {
                let why = format!("a text of 1 to {MOST_VALUE_BYTES} bytes is needed");
                wrong.add(format!("opening.lets[{at}].{field}"), why);
            }
        }
        written.push(format!("{} = {}", name.trim(), value.trim()));
    }
    wrong.refuse()?;
    let program = source_text::with_lets(&a.program, "opening.lets", &written)?;
    Ok(Side { program, file: a.file.clone(), lets: written })
}
