//! Sources sent along: checked, formatted, or made into a program for advice.

use std::sync::Arc;

use super::library::{Library, errors, first_errors};
use super::limits::Limits;
use super::status::Refusal;
use super::v1;
use super::wire::{self, Violations, with_help};
use crate::check::{Checked, IncludeError, Includes, check_with_lets};
use crate::findings::data::FindingData;
use crate::findings::{Finding, Severity};
use crate::format;
use crate::program::Program;
use crate::text::{SourceFile, Sources};

/// Bytes of an answer that are left for what stands around a list of findings.
pub const AROUND: usize = 16 * 1024;

/// The name of a source that has none.
const UNNAMED: &str = "inline";

fn named(name: &str) -> &str {
    if name.is_empty() { UNNAMED } else { name }
}

fn check_sent(library: &Library, field: &str, source: v1::InlineSource) -> Result<Checked, Refusal> {
    let v1::InlineSource { text, name } = source;
    library.check(named(&name), text.into_bytes(), true).map_err(|why| Refusal::field(format!("{field}.name"), why))
}

/// Checks a source.
pub fn check(
    library: &Library,
    request: v1::CheckSourceRequest,
    limits: &Limits,
) -> Result<v1::CheckSourceResponse, Refusal> {
    let v1::CheckSourceRequest { source, notes } = request;
    let source = source.ok_or_else(|| Refusal::field("source", "there is no source to check"))?;
    let checked = check_sent(library, "source", source)?;
    let listed: Vec<&Finding> =
        checked.findings.iter().filter(|finding| notes || finding.severity() != Severity::Note).collect();
    Ok(v1::CheckSourceResponse {
        checks: checked.program.is_some(),
        finding_count: wire::count(listed.len()),
        findings: within(listed, &checked.sources, limits.bytes_out.saturating_sub(AROUND)),
        title: checked.program.map_or_else(String::new, |program| program.name.clone()),
    })
}

/// As many findings as fit so many bytes.
pub fn within<'f>(
    findings: impl IntoIterator<Item = &'f Finding>,
    sources: &Sources,
    bytes: usize,
) -> Vec<v1::Finding> {
    wire::findings_within(findings.into_iter().map(|finding| FindingData::of(finding, sources)), bytes)
}

/// Formats a source.
pub fn format(request: v1::FormatSourceRequest, limits: &Limits) -> Result<v1::FormatSourceResponse, Refusal> {
    let v1::FormatSourceRequest { source } = request;
    let source = source.ok_or_else(|| Refusal::field("source", "there is no source to format"))?;
    let v1::InlineSource { text, name } = source;
    match format::format(&text) {
        Ok(text) => Ok(v1::FormatSourceResponse { text: Some(text), findings: Vec::new(), finding_count: 0 }),
        Err(findings) => {
            let mut sources = Sources::default();
            sources.add(SourceFile::new(format!("{}{}", named(&name), super::library::ENDING), text));
            Ok(v1::FormatSourceResponse {
                text: None,
                finding_count: wire::count(findings.len()),
                findings: within(&findings, &sources, limits.bytes_out.saturating_sub(AROUND)),
            })
        }
    }
}

/// The program of a source, for advice; one that does not check is refused.
pub fn program(library: &Library, field: &str, source: v1::InlineSource) -> Result<Arc<Program>, Refusal> {
    let checked = check_sent(library, field, source)?;
    checked.program.ok_or_else(|| Refusal::Unchecked {
        field: format!("{field}.text"),
        count: errors(&checked.findings),
        first: first_errors(&checked.findings, &checked.sources),
    })
}

/// A program with some lets changed, each written `NAME = VALUE`, made from the very texts that it was made from. What is
/// wrong with a let names it by its place in `field`.
pub fn with_lets(program: &Program, field: &str, lets: &[String]) -> Result<Arc<Program>, Refusal> {
    let texts = Texts(&program.sources);
    let first = program.sources.files().first().ok_or(Refusal::Fault)?;
    let Checked { sources, program, findings, .. } =
        check_with_lets(first.name(), first.text().as_bytes().to_vec(), &texts, lets);
    if let Some(program) = program {
        return Ok(program);
    }
    // The lets stand after all other texts.
    let texts = sources.files().len().saturating_sub(lets.len());
    let mut wrong = Violations::default();
    for finding in findings.iter().filter(|finding| finding.severity() == Severity::Error) {
        if let Some(at) = (finding.span.file.0 as usize).checked_sub(texts) {
            wrong.add(format!("{field}[{at}]"), with_help(&finding.message, finding.help.as_deref()));
        }
    }
    wrong.refuse()?;
    // Each let is right by itself, and something else of the strategy can't do with it.
    let (count, first) = (errors(&findings), first_errors(&findings, &sources));
    Err(Refusal::Unchecked { field: field.to_owned(), count, first })
}

/// The texts of a program, for what its first one includes.
struct Texts<'s>(&'s Sources);

impl Texts<'_> {
    /// The folder of the first, as names begin with it.
    fn folder(&self) -> &str {
        let first = self.0.files().first().map_or("", SourceFile::name);
        first.rsplit_once('/').map_or("", |(folder, _)| folder)
    }
}

impl Includes for Texts<'_> {
    fn read(&self, path: &str) -> Result<Vec<u8>, IncludeError> {
        let shown = self.shown(path);
        let file = self.0.files().iter().find(|file| file.name() == shown);
        file.map(|file| file.text().as_bytes().to_vec()).ok_or(IncludeError::Missing)
    }

    fn shown(&self, path: &str) -> String {
        let folder = self.folder();
        if folder.is_empty() { path.to_owned() } else { format!("{folder}/{path}") }
    }
}
