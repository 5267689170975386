//! Findings as data, for JSON, editors and the service.

use serde::Serialize;

use super::Finding;
use crate::text::Sources;

/// A finding with its place as people count it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FindingData {
    /// The code's name.
    pub code: &'static str,
    /// `error`, `warning` or `note`.
    pub severity: &'static str,
    /// The file it stands in.
    pub file: String,
    /// Line of its beginning, from 1.
    pub line: u32,
    /// Column of its beginning, in characters from 1.
    pub column: u32,
    /// Line of its end.
    pub end_line: u32,
    /// Column after its end.
    pub end_column: u32,
    /// One line that stands alone.
    pub message: String,
    /// What would be right.
    pub help: Option<String>,
}

impl FindingData {
    /// A finding's data.
    pub fn of(finding: &Finding, sources: &Sources) -> Self {
        let place = sources.place(finding.span);
        Self {
            code: finding.code.name(),
            severity: finding.severity().name(),
            file: sources.file(finding.span.file).name().to_owned(),
            line: place.line,
            column: place.column,
            end_line: place.end_line,
            end_column: place.end_column,
            message: finding.message.clone(),
            help: finding.help.clone(),
        }
    }
}
