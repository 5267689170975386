//! The two forms of a log's file, YAML and a table, read into the same keys and values and written from them.

use std::fmt::Write as _;

use jiff::tz::TimeZone;

use super::csv::{self, text_of};
use super::log::{BOUNDS, HEADER, Log};
use super::record::quoted;
use crate::source::yaml::{Document, Node};
use crate::source::{Fault, Faults, files};

/// A form of a log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// Keys and values.
    Yaml,
    /// A table, as spreadsheets read and write it; see [`super::csv`].
    Csv,
}

impl Form {
    /// The form of a file: a table where its name ends in `.csv`; what comes from standard input, where its first row
    /// names the columns of one.
    pub fn of(file: &str, bytes: &[u8]) -> Self {
        // Enough of it to hold the first row.
        let begins = || String::from_utf8_lossy(bytes.get(..bytes.len().min(1 << 14)).unwrap_or_default());
        let is_table = match file {
            files::STANDARD_INPUT => csv::is_table(&begins()),
            named => named.to_lowercase().ends_with(csv::ENDING),
        };
        if is_table { Form::Csv } else { Form::Yaml }
    }
}

/// A log's keys and values out of bytes, and the line that the end of the file cuts short.
pub(super) fn document(file: &str, bytes: Vec<u8>) -> Result<(Document, Option<String>), Faults> {
    if Form::of(file, &bytes) == Form::Csv {
        return Ok((csv::document(file, &files::text_of(file, bytes)?)?, None));
    }
    let (bytes, cut) = without_cut(bytes);
    let mut text = files::text_of(file, bytes)?;
    // A log that was begun and has no event yet.
    if let Some(head) = text.trim_end().strip_suffix("events:") {
        text = format!("{head}events: []\n");
    }
    Ok((Document::parse_within(file, text, BOUNDS)?, cut))
}

/// The text of a log in a form, and the line that the end of its file cuts short. Comments are not kept.
///
/// Errors: the log can't have been; that it names no zone and goes by its water's is no fault here.
pub fn converted(file: &str, bytes: Vec<u8>, form: Form) -> Result<(String, Option<String>), Faults> {
    let (document, cut) = document(file, bytes)?;
    // A log may go by the zone of its water, which changes nothing in how it is written.
    let zone = document.get("zone").is_none().then_some(TimeZone::UTC);
    Log::of(&document, zone.as_ref())?;
    Ok((text(&document, form)?, cut))
}

/// A log, which has been checked, in a form.
fn text(document: &Document, form: Form) -> Result<String, Fault> {
    match form {
        Form::Csv => csv::table(document),
        Form::Yaml => Ok(yaml(document)),
    }
}

fn yaml(document: &Document) -> String {
    let mut text = String::new();
    for name in HEADER {
        match (name, document.get(name)) {
            (_, None) => {}
            ("contest", Some(Node::Map(entries, _))) => {
                text.push_str("contest:\n");
                for (name, value) in entries {
                    match value {
                        Node::List(units, _) => {
                            let _ = writeln!(text, "  {}:", scalar(&name.text));
                            items(&mut text, "  ", units);
                        }
                        value => {
                            let _ = writeln!(text, "  {}: {}", scalar(&name.text), flow(value));
                        }
                    }
                }
            }
            ("events", Some(Node::List(events, _))) => {
                text.push_str("events:\n");
                items(&mut text, "", events);
            }
            (name, Some(value)) => {
                let _ = writeln!(text, "{name}: {}", flow(value));
            }
        }
    }
    text
}

fn items(text: &mut String, indent: &str, nodes: &[Node]) {
    for node in nodes {
        let _ = writeln!(text, "{indent}- {}", flow(node));
    }
}

/// A value on one line. What is a list or a place in YAML may be a text as well, and is written as one.
fn flow(node: &Node) -> String {
    match node {
        Node::Map(entries, _) if !entries.iter().any(|(key, _)| key.text == "latitude") => {
            let entries: Vec<String> =
                entries.iter().map(|(key, value)| format!("{}: {}", scalar(&key.text), flow(value))).collect();
            format!("{{{}}}", entries.join(", "))
        }
        other => scalar(&text_of(other)),
    }
}

/// A text as YAML reads it back, without quotes where it needs none.
fn scalar(text: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || matches!(c, ' ' | '.' | '/' | '_' | '%' | '-' | '(' | ')' | '°');
    let begins = text.chars().next().is_some_and(char::is_alphanumeric);
    let is_plain = begins && !text.ends_with(' ') && text.chars().all(plain) && !text.eq_ignore_ascii_case("null");
    if is_plain { text.to_owned() } else { quoted(text) }
}

/// The bytes without a last line that was never finished, and that line. Zeros at the end are what a file system leaves
/// of bytes that a dead battery kept from the disk.
fn without_cut(mut bytes: Vec<u8>) -> (Vec<u8>, Option<String>) {
    let zeros = bytes.iter().rev().take_while(|byte| **byte == 0).count();
    bytes.truncate(bytes.len() - zeros);
    let begins = bytes.iter().rposition(|byte| *byte == b'\n').map_or(0, |at| at + 1);
    let last = String::from_utf8_lossy(bytes.get(begins..).unwrap_or_default()).into_owned();
    // A line that a person wrote and did not end is whole all the same.
    if last.is_empty() || (zeros == 0 && is_whole(&last)) {
        return (bytes, None);
    }
    bytes.truncate(begins);
    (bytes, Some(last))
}

/// Whether a last line may be all that was meant to be written: one that opens a brace closes it.
fn is_whole(line: &str) -> bool {
    const OPENS: &str = "- {";
    if !line.starts_with(OPENS) {
        return !OPENS.starts_with(line);
    }
    let (mut open, mut quoted, mut escaped) = (0u32, false, false);
    for c in line.chars() {
        match c {
            _ if escaped => escaped = false,
            '\\' if quoted => escaped = true,
            '"' => quoted = !quoted,
            '{' if !quoted => open += 1,
            '}' if !quoted => open = open.saturating_sub(1),
            _ => {}
        }
    }
    open == 0 && !quoted
}
