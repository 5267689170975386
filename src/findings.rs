//! Findings: what is wrong or doubtful in a strategy, where, and what would be right.
//!
//! A [`Finding`] is data: a code, a place, one line that stands alone, and help where help exists. [`codes`] is the
//! registry of codes; [`terminal`] and [`data`] are the only places that know how findings are shown.

pub mod codes;
pub mod data;
pub mod terminal;

pub use codes::{Code, Severity};

use crate::text::Span;

/// One finding.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// What sort of finding it is.
    pub code: Code,
    /// Where it stands.
    pub span: Span,
    /// One line that stands alone.
    pub message: String,
    /// What would be right.
    pub help: Option<String>,
}

impl Finding {
    /// A finding without help.
    pub fn new(code: Code, span: Span, message: impl Into<String>) -> Self {
        Self { code, span, message: message.into(), help: None }
    }

    /// The same with help.
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// The same with help where there is any.
    pub fn maybe_help(mut self, help: Option<String>) -> Self {
        self.help = help;
        self
    }

    /// How bad it is.
    pub fn severity(&self) -> Severity {
        self.code.severity()
    }
}

/// Findings gathered over the stages.
#[derive(Clone, Debug, Default)]
pub struct Findings {
    list: Vec<Finding>,
}

impl Findings {
    /// Takes a finding in. A second one of the same place and code says nothing new and is left out.
    pub fn add(&mut self, finding: Finding) {
        self.list.push(finding);
    }

    /// Takes several in.
    pub fn extend(&mut self, findings: impl IntoIterator<Item = Finding>) {
        self.list.extend(findings);
    }

    /// Whether any of them is an error.
    pub fn has_errors(&self) -> bool {
        self.list.iter().any(|finding| finding.severity() == Severity::Error)
    }

    /// All of them, in the order of their places; where there is an error, warnings and notes wait.
    pub fn in_order(mut self) -> Vec<Finding> {
        if self.has_errors() {
            self.list.retain(|finding| finding.severity() == Severity::Error);
        }
        self.list.sort_by_key(|finding| (finding.span.file, finding.span.start, finding.code));
        self.list.dedup_by(|a, b| a.code == b.code && a.span == b.span && a.message == b.message);
        self.list
    }

    /// The findings as they came.
    pub fn iter(&self) -> impl Iterator<Item = &Finding> {
        self.list.iter()
    }
}
