//! What commands print, and how: words or one JSON document on standard output, faults on standard error.

use std::io::{IsTerminal, Write};
use std::sync::atomic::{AtomicBool, Ordering};

use serde::Serialize;

use crate::source::Faults;

/// Whether standard output is a terminal where colours are welcome.
pub(super) fn colours() -> bool {
    std::io::stdout().is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty())
}

/// Whether standard error is a terminal where colours are welcome.
pub(super) fn colours_on_error() -> bool {
    std::io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty())
}

/// The columns to write in: the terminal's, else eighty.
pub(super) fn width() -> usize {
    match terminal_size::terminal_size() {
        Some((terminal_size::Width(columns), _)) => usize::from(columns).clamp(30, 100),
        None => 80,
    }
}

/// Whether something could not be printed, so that the command can't say it is fine.
static LOST: AtomicBool = AtomicBool::new(false);

/// Prints to standard output. A reader that has gone away wants no more, which is no fault; anything else that hinders
/// is one, and the command ends as failed.
pub(super) fn print(text: &str) {
    let mut out = std::io::stdout().lock();
    let newline = if text.is_empty() || text.ends_with('\n') { "" } else { "\n" };
    let written = write!(out, "{text}{newline}").and_then(|()| out.flush());
    let Some(error) = written.err().filter(|error| error.kind() != std::io::ErrorKind::BrokenPipe) else { return };
    if !LOST.swap(true, Ordering::Relaxed) {
        complain(&format!("error: standard output can't be written: {error}"));
    }
}

/// Whether all that was printed arrived.
pub(super) fn all_printed() -> bool {
    !LOST.load(Ordering::Relaxed)
}

/// Prints one JSON document.
pub(super) fn json(document: &impl Serialize) {
    written(serde_json::to_string_pretty(document));
}

/// Prints one JSON document on one line, of several that follow each other.
pub(super) fn json_line(document: &impl Serialize) {
    written(serde_json::to_string(document));
}

fn written(document: serde_json::Result<String>) {
    match document {
        Ok(text) => print(&text),
        Err(error) => complain(&format!("the document can't be written as JSON: {error}")),
    }
}

/// Prints to standard error.
pub(super) fn complain(text: &str) {
    let _ = writeln!(std::io::stderr().lock(), "{}", text.trim_end());
}

/// Says what was wrong with input.
pub(super) fn faults(faults: &Faults) {
    for fault in faults.iter() {
        complain(&format!("error: {fault}"));
    }
}
