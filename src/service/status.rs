//! What is refused, and the one table from that to a gRPC status.
//!
//! A status travels in trailers, which clients bound (many at 8 KiB, in base64): whatever was wrong, its details stay
//! under [`MOST_DETAIL_BYTES`] and its message under [`MOST_MESSAGE_BYTES`].

use std::time::Duration;

use prost::Message;
use tonic::{Code, Status};
use tonic_types::pb;

use super::v1;
use crate::findings::data::FindingData;

/// Most bytes of details: 4 KiB once they are in base64.
pub const MOST_DETAIL_BYTES: usize = 3 * 1024;
/// Most bytes of a message.
pub const MOST_MESSAGE_BYTES: usize = 400;
/// Most bytes of one text in the details.
const MOST_TEXT_BYTES: usize = 300;
/// Most violations or findings that are tried to fit.
const MOST_LISTED: usize = 32;
/// Who speaks in details.
const DOMAIN: &str = "leadsman.v1";
/// After how long a client that was turned away may try again.
const TRY_AGAIN: Duration = Duration::from_secs(1);

/// A field of a request that is wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Violation {
    /// Its path in the request, such as `readings[2].value`.
    pub field: String,
    /// What is wrong with it, and what would be right.
    pub description: String,
}

/// What a stream follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Follows {
    /// A trip.
    Trip,
    /// A comparison.
    Comparison,
}

/// Why a request got no answer.
#[derive(Clone, Debug, PartialEq)]
pub enum Refusal {
    /// Fields of it are wrong.
    Fields(Vec<Violation>),
    /// The source sent along for advice does not check.
    Unchecked {
        /// The path of the source's text in the request.
        field: String,
        /// How many errors there are.
        count: usize,
        /// The first of them.
        first: Vec<FindingData>,
    },
    /// No strategy has that name.
    NoSuchStrategy {
        /// The path of the name in the request.
        field: String,
        /// The name.
        name: String,
        /// The nearest one there is.
        nearest: Option<String>,
    },
    /// The served file never checked.
    Broken {
        /// The strategy's name.
        name: String,
        /// How many errors there are.
        count: usize,
        /// The first of them.
        first: Vec<FindingData>,
    },
    /// Too much is going on already; what.
    Busy(&'static str),
    /// The answer would be larger than clients take.
    AnswerTooLarge {
        /// How large it would be, in bytes.
        bytes: usize,
        /// How large it may be, in bytes.
        most: usize,
    },
    /// The request, or a message of a stream, is larger than is taken; how large it may be, in bytes.
    RequestTooLarge(usize),
    /// It took longer than a request may.
    TooSlow(Duration),
    /// A stream's client sent nothing for so long.
    Silent(Follows, Duration),
    /// A stream's client read nothing for so long.
    Unread(Follows, Duration),
    /// A stream has been open for as long as it may.
    OpenTooLong(Follows, Duration),
    /// A log of a comparison is larger than is taken.
    LogTooLarge {
        /// The log's name.
        log: String,
        /// How large it may be, in bytes.
        most: usize,
    },
    /// The service is ending.
    ShuttingDown,
    /// A fault of the service itself, which the log has.
    Fault,
}

impl Refusal {
    /// One field that is wrong.
    pub fn field(field: impl Into<String>, description: impl Into<String>) -> Self {
        Refusal::Fields(vec![Violation { field: field.into(), description: description.into() }])
    }

    fn code(&self) -> Code {
        match self {
            Refusal::Fields(_) | Refusal::Unchecked { .. } => Code::InvalidArgument,
            Refusal::NoSuchStrategy { .. } => Code::NotFound,
            Refusal::Broken { .. } => Code::FailedPrecondition,
            Refusal::Busy(_)
            | Refusal::AnswerTooLarge { .. }
            | Refusal::RequestTooLarge(_)
            | Refusal::LogTooLarge { .. } => Code::ResourceExhausted,
            Refusal::TooSlow(_) | Refusal::Silent(..) | Refusal::Unread(..) | Refusal::OpenTooLong(..) => {
                Code::DeadlineExceeded
            }
            Refusal::ShuttingDown => Code::Unavailable,
            Refusal::Fault => Code::Internal,
        }
    }

    /// A word for programs, where several causes share a code.
    fn reason(&self) -> &'static str {
        match self {
            Refusal::Fields(_) => "BAD_FIELDS",
            Refusal::Unchecked { .. } => "SOURCE_DOES_NOT_CHECK",
            Refusal::NoSuchStrategy { .. } => "NO_SUCH_STRATEGY",
            Refusal::Broken { .. } => "STRATEGY_BROKEN",
            Refusal::Busy(_) => "BUSY",
            Refusal::AnswerTooLarge { .. } => "ANSWER_TOO_LARGE",
            Refusal::RequestTooLarge(_) => "REQUEST_TOO_LARGE",
            Refusal::TooSlow(_) => "TOO_SLOW",
            Refusal::LogTooLarge { .. } => "LOG_TOO_LARGE",
            Refusal::Silent(..) => "SILENT",
            Refusal::Unread(..) => "UNREAD",
            Refusal::OpenTooLong(Follows::Trip, _) => "TRIP_TOO_LONG",
            Refusal::OpenTooLong(Follows::Comparison, _) => "COMPARISON_TOO_LONG",
            Refusal::ShuttingDown => "SHUTTING_DOWN",
            Refusal::Fault => "FAULT",
        }
    }

    fn message(&self) -> String {
        match self {
            Refusal::Fields(violations) => {
                let first = violations.first().map_or_else(String::new, |v| format!("{}: {}", v.field, v.description));
                match violations.len() {
                    0 | 1 => first,
                    count => format!("{count} fields are wrong; the first is {first}"),
                }
            }
            Refusal::Unchecked { field, count, first } => {
                format!("{field}: the source does not check: {}", errors_in_words(*count, first))
            }
            Refusal::NoSuchStrategy { name, nearest, .. } => no_such_strategy(name, nearest.as_deref()),
            Refusal::Broken { name, count, first } => {
                format!("the strategy `{name}` does not check: {}", errors_in_words(*count, first))
            }
            Refusal::Busy(what) => format!("{what}; try again in a moment"),
            Refusal::AnswerTooLarge { bytes, most } => {
                format!("the answer would have {bytes} bytes; at most {most} are sent: ask for less at a time")
            }
            Refusal::RequestTooLarge(most) => format!("a message may have {most} bytes at most; this one has more"),
            Refusal::TooSlow(limit) => format!("this took longer than a request may ({}): ask for less", span(*limit)),
            Refusal::LogTooLarge { log, most } => {
                format!("the log `{}` is too large: a log may have {most} bytes at most", cut(log, 100))
            }
            Refusal::Silent(follows, limit) => {
                let (what, help) = match follows {
                    Follows::Trip => ("trip", "send a moment, a tick at least, more often"),
                    Follows::Comparison => ("comparison", "send the next log, or end the stream, sooner"),
                };
                format!("the {what} was silent for {}, which ends it: {help}", span(*limit))
            }
            Refusal::Unread(follows, limit) => {
                let what = match follows {
                    Follows::Trip => "trip's advice",
                    Follows::Comparison => "comparison's progress",
                };
                format!("nobody read the {what} for {}, which ends it", span(*limit))
            }
            Refusal::OpenTooLong(Follows::Trip, limit) => {
                format!("a trip's stream stays open for {} at most: open a new one", span(*limit))
            }
            Refusal::OpenTooLong(Follows::Comparison, limit) => {
                format!("a comparison takes {} at most: send fewer logs at a time", span(*limit))
            }
            Refusal::ShuttingDown => {
                "the service is shutting down: try again, and open trips and comparisons anew".to_owned()
            }
            Refusal::Fault => "a fault of the service; its log says more".to_owned(),
        }
    }

    fn details(&self) -> Details {
        let mut details = Details::default();
        match self {
            Refusal::Fields(violations) => details.violations = violations.iter().take(MOST_LISTED).cloned().collect(),
            Refusal::Unchecked { field, count, first } => {
                let description = format!("the source does not check: {}", errors_in_words(*count, first));
                details.violations.push(Violation { field: field.clone(), description });
                details.list_findings(*count, first);
            }
            Refusal::NoSuchStrategy { field, name, nearest } => {
                let description = no_such_strategy(name, nearest.as_deref());
                details.violations.push(Violation { field: field.clone(), description });
                details.facts.push(("name", name.clone()));
                details.facts.extend(nearest.clone().map(|near| ("nearest", near)));
            }
            Refusal::Broken { name, count, first } => {
                details.facts.push(("name", name.clone()));
                details.list_findings(*count, first);
            }
            Refusal::Busy(_) | Refusal::ShuttingDown => details.try_again = true,
            Refusal::AnswerTooLarge { bytes, most } => {
                details.facts.extend([("bytes", bytes.to_string()), ("most", most.to_string())]);
            }
            Refusal::RequestTooLarge(most) => details.facts.push(("most", most.to_string())),
            Refusal::LogTooLarge { log, most } => {
                details.facts.extend([("log", log.clone()), ("most", most.to_string())]);
            }
            Refusal::TooSlow(limit)
            | Refusal::Silent(_, limit)
            | Refusal::Unread(_, limit)
            | Refusal::OpenTooLong(_, limit) => details.facts.push(("limit", span(*limit))),
            Refusal::Fault => {}
        }
        details
    }
}

impl From<Refusal> for Status {
    fn from(refusal: Refusal) -> Status {
        let code = refusal.code();
        let message = cut(&refusal.message(), MOST_MESSAGE_BYTES);
        let details = refusal.details().encode(code, &message, refusal.reason());
        Status::with_details(code, message, details.into())
    }
}

/// What the transport says of a message that came in, as a refusal where there is one for it.
pub fn of_transport(code: Code, most_bytes: usize) -> Option<Refusal> {
    // The transport calls what is too large out of range, and nothing else.
    (code == Code::OutOfRange).then_some(Refusal::RequestTooLarge(most_bytes))
}

fn no_such_strategy(name: &str, nearest: Option<&str>) -> String {
    let name = cut(name, 100);
    match nearest {
        Some(near) => format!("there is no strategy `{name}`; did you mean `{near}`?"),
        None => format!("there is no strategy `{name}`; ListStrategies names those that there are"),
    }
}

fn errors_in_words(count: usize, first: &[FindingData]) -> String {
    let first = first.first().map_or_else(String::new, |finding| {
        let FindingData { file, line, column, message, .. } = finding;
        format!("{file}:{line}:{column}: {message}")
    });
    match count {
        1 => first,
        count => format!("{count} errors; the first is {first}"),
    }
}

/// A stretch of time in words.
fn span(time: Duration) -> String {
    match (time.as_secs(), time.subsec_millis()) {
        (0, millis) => format!("{millis} ms"),
        (seconds, _) if seconds % 3600 == 0 => format!("{} h", seconds / 3600),
        (seconds, _) if seconds % 60 == 0 => format!("{} min", seconds / 60),
        (seconds, _) => format!("{seconds} s"),
    }
}

/// A text of at most so many bytes.
fn cut(text: &str, most: usize) -> String {
    if text.len() <= most {
        return text.to_owned();
    }
    let mut end = most.saturating_sub('…'.len_utf8());
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    format!("{}…", &text[..end])
}

/// What goes into the details, before it is made to fit.
#[derive(Default)]
struct Details {
    violations: Vec<Violation>,
    findings: Option<(usize, Vec<v1::Finding>)>,
    facts: Vec<(&'static str, String)>,
    try_again: bool,
}

impl Details {
    fn list_findings(&mut self, count: usize, first: &[FindingData]) {
        self.facts.push(("errors", count.to_string()));
        let listed = first.iter().take(MOST_LISTED).cloned().map(|finding| {
            let mut finding = super::wire::finding(finding);
            finding.message = cut(&finding.message, MOST_TEXT_BYTES);
            finding.help = finding.help.map(|help| cut(&help, MOST_TEXT_BYTES));
            finding.file = cut(&finding.file, MOST_TEXT_BYTES);
            finding
        });
        self.findings = Some((count, listed.collect()));
    }

    /// The details as bytes; what stands last in a list is left out until they fit.
    fn encode(mut self, code: Code, message: &str, reason: &str) -> Vec<u8> {
        loop {
            let encoded = self.status(code, message, reason).encode_to_vec();
            if encoded.len() <= MOST_DETAIL_BYTES || !self.shorten() {
                return encoded;
            }
        }
    }

    fn shorten(&mut self) -> bool {
        match &mut self.findings {
            Some((_, list)) if list.len() > 1 => list.pop().is_some(),
            _ if self.violations.len() > 1 => self.violations.pop().is_some(),
            _ => false,
        }
    }

    fn status(&self, code: Code, message: &str, reason: &str) -> pb::Status {
        let mut details = vec![any(
            "google.rpc.ErrorInfo",
            &pb::ErrorInfo {
                reason: reason.to_owned(),
                domain: DOMAIN.to_owned(),
                metadata: self
                    .facts
                    .iter()
                    .map(|(key, fact)| ((*key).to_owned(), cut(fact, MOST_TEXT_BYTES)))
                    .collect(),
            },
        )];
        if !self.violations.is_empty() {
            let field_violations = self.violations.iter().map(|violation| pb::bad_request::FieldViolation {
                field: cut(&violation.field, MOST_TEXT_BYTES),
                description: cut(&violation.description, MOST_TEXT_BYTES),
                ..Default::default()
            });
            details
                .push(any("google.rpc.BadRequest", &pb::BadRequest { field_violations: field_violations.collect() }));
        }
        if let Some((count, findings)) = &self.findings {
            let count = u32::try_from(*count).unwrap_or(u32::MAX);
            let findings = v1::SourceFindings { count, findings: findings.clone() };
            details.push(any("leadsman.v1.SourceFindings", &findings));
        }
        if self.try_again {
            let retry_delay = prost_types::Duration::try_from(TRY_AGAIN).ok();
            details.push(any("google.rpc.RetryInfo", &pb::RetryInfo { retry_delay }));
        }
        pb::Status { code: code.into(), message: message.to_owned(), details }
    }
}

fn any(name: &str, message: &impl Message) -> prost_types::Any {
    prost_types::Any { type_url: format!("type.googleapis.com/{name}"), value: message.encode_to_vec() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bytes_of(refusal: Refusal) -> usize {
        let status = Status::from(refusal);
        // Base64 takes four bytes for three, a message at worst three for one.
        status.details().len() * 4 / 3 + status.message().len() * 3
    }

    #[test]
    fn however_much_is_wrong_a_status_stays_small() {
        let finding = |text: &str| FindingData {
            code: "syntax",
            severity: "error",
            file: text.to_owned(),
            line: 1,
            column: 1,
            end_line: 1,
            end_column: 1,
            message: text.to_owned(),
            help: Some(text.to_owned()),
        };
        for (length, count) in [(100_000, 40), (400, 10_000), (1, 10_000)] {
            let text = "é".repeat(length);
            let violation = Violation { field: text.clone(), description: text.clone() };
            assert!(bytes_of(Refusal::Fields(vec![violation; count])) < 6 * 1024);
            let first = vec![finding(&text); count];
            assert!(bytes_of(Refusal::Unchecked { field: text.clone(), count, first: first.clone() }) < 6 * 1024);
            assert!(bytes_of(Refusal::Broken { name: text.clone(), count, first }) < 6 * 1024);
            let (field, nearest) = ("name".to_owned(), Some(text.clone()));
            assert!(bytes_of(Refusal::NoSuchStrategy { field, name: text, nearest }) < 6 * 1024);
        }
    }

    #[test]
    fn a_cut_text_ends_at_a_character() {
        assert_eq!(cut("short", 10), "short");
        assert_eq!(cut("ééééé", 6), "é…");
        assert_eq!(cut("abcdefgh", 6), "abc…");
    }
}
