//! Conversions between the wire and values, both ways. Every struct is taken apart whole, without `..`, so that a field
//! that is added on either side does not compile until somebody has thought about it.
//!
//! - [`given`] reads what requests give; whatever is wrong becomes a [`Violation`] with the path of its field;
//! - [`advice`] writes advice; [`catalogue`] the readings, units and aspects of the language, [`rods`] the
//!   settings of rods, [`comparison`] two strategies on the same days.

pub mod advice;
pub mod catalogue;
pub mod comparison;
pub mod given;
pub mod rods;

use prost::Message;

use super::status::{Refusal, Violation};
use super::v1;
use crate::findings::data::FindingData;
use crate::source::feed::Counts;
use crate::vocabulary::print::System;

/// What is wrong with a request, gathered.
#[derive(Debug, Default)]
pub struct Violations(Vec<Violation>);

impl Violations {
    /// Takes one in.
    pub fn add(&mut self, field: impl Into<String>, description: impl Into<String>) {
        self.0.push(Violation { field: field.into(), description: description.into() });
    }

    /// Refuses the request where anything is wrong.
    pub fn refuse(self) -> Result<(), Refusal> {
        if self.0.is_empty() { Ok(()) } else { Err(Refusal::Fields(self.0)) }
    }
}

fn all<A, B>(list: Vec<A>, convert: fn(A) -> B) -> Vec<B> {
    list.into_iter().map(convert).collect()
}

/// What is wrong, and what would be right, in one text.
pub fn with_help(message: &str, help: Option<&str>) -> String {
    help.map_or_else(|| message.to_owned(), |help| format!("{message}; {help}"))
}

/// A finding.
pub fn finding(finding: FindingData) -> v1::Finding {
    let FindingData { code, severity, file, line, column, end_line, end_column, message, help } = finding;
    let severity = match severity {
        "error" => v1::Severity::Error,
        "warning" => v1::Severity::Warning,
        "note" => v1::Severity::Note,
        _ => v1::Severity::Unspecified,
    };
    let (code, severity) = (code.to_owned(), severity.into());
    v1::Finding { code, severity, file, line, column, end_line, end_column, message, help }
}

/// What became of a trip's sentences; none where none were sent.
pub fn sentences(counts: &Counts) -> Option<v1::SentenceCounts> {
    // A live feed goes by the time at which it arrives, so that nothing of it is without one or goes astray.
    let Counts { good, checksum, torn, unknown, strangers, void, repeated, late, timeless: _, astray: _, implausible } =
        *counts;
    let counts = v1::SentenceCounts {
        good,
        wrong_checksum: checksum,
        torn,
        unknown,
        unknown_talker: strangers,
        void,
        repeated,
        late,
        implausible,
    };
    (counts != v1::SentenceCounts::default()).then_some(counts)
}

/// As many findings as fit so many bytes.
pub fn findings_within(findings: impl IntoIterator<Item = FindingData>, bytes: usize) -> Vec<v1::Finding> {
    // Each carries its key and length besides itself.
    const AROUND: usize = 8;
    let mut left = bytes;
    let mut listed = Vec::new();
    for data in findings {
        let finding = finding(data);
        let size = finding.encoded_len() + AROUND;
        if size > left {
            break;
        }
        left -= size;
        listed.push(finding);
    }
    listed
}

/// A count as the wire has it.
pub fn count(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}

/// The units that advice is printed in.
pub fn units(system: System) -> v1::Units {
    match system {
        System::Us => v1::Units::Us,
        System::Metric => v1::Units::Metric,
        System::Nautical => v1::Units::Nautical,
    }
}
