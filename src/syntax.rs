//! Text to tree.
//!
//! [`scan`] cuts a file into tokens and statements and holds it to the limits of size, in time linear in its length;
//! [`parse`] is the only file that names pest, and turns one statement at a time into the [`tree`]; where a statement
//! can't be read, `fault` says in words what is wrong with it, and reading goes on with the next one.

mod fault;
mod parse;
pub mod scan;
pub mod tree;

pub use parse::{GivenInput, parse_given_name, parse_given_value};

use std::sync::OnceLock;
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::findings::{Code, Finding};
use crate::text::{FileId, SourceFile, Span};
use tree::File;

/// Most bytes of a source.
pub const MOST_BYTES: usize = 1 << 20;
/// Most rules of a strategy.
pub const MOST_RULES: usize = 10_000;
/// Most levels of nesting.
pub const MOST_LEVELS: usize = 64;

/// A file as far as it could be read, and what is wrong with the rest.
#[derive(Debug, Default)]
pub struct Parsed {
    /// The statements.
    pub file: File,
    /// What is wrong.
    pub findings: Vec<Finding>,
}

/// The text of a file's bytes, or where it stops being UTF-8 and the text with replacements, so that it can be shown.
pub fn text_of(bytes: Vec<u8>) -> Result<String, (String, usize)> {
    String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        (String::from_utf8_lossy(error.as_bytes()).into_owned(), at)
    })
}

/// The finding about bytes that are no text.
pub fn not_text(file: FileId, at: usize) -> Finding {
    Finding::new(Code::NotText, Span::new(file, at, at + 3), "this byte is not UTF-8 text")
        .help("save the file as UTF-8; most editors call it so in their save dialogue")
}

/// Reads a source file into its tree.
pub fn parse(id: FileId, source: &SourceFile) -> Parsed {
    let text = source.text();
    if text.len() > MOST_BYTES {
        let message = format!("the source has {} bytes; at most {MOST_BYTES} (1 MiB) are read", text.len());
        return Parsed {
            file: File::default(),
            findings: vec![
                Finding::new(Code::TooLarge, Span::new(id, 0, 0), message)
                    .help("split it with `include`, or shorten it"),
            ],
        };
    }
    let scanned = scan::scan(id, text);
    if let Some(limit) = scanned.past_a_limit {
        return Parsed { file: File::default(), findings: vec![limit] };
    }
    let read = |statements: &[scan::Slice]| {
        let mut parsed = Parsed::default();
        statements.iter().for_each(|statement| parse::statement(id, text, statement, &mut parsed));
        parsed
    };
    let mut whole = Parsed { file: File::default(), findings: scanned.findings };
    // A statement is read for itself.
    for part in in_parts(&scanned.statements, read) {
        whole.file.statements.extend(part.file.statements);
        whole.findings.extend(part.findings);
    }
    whole
}

/// Reads statements in parts, in order: on this thread and on the others of the pool, since a thread that only waits for
/// those costs a long file a tenth of its check. Of few, handing them out would take longer than reading them.
fn in_parts(statements: &[scan::Slice], read: impl Fn(&[scan::Slice]) -> Parsed + Sync) -> Vec<Parsed> {
    if statements.len() <= TOGETHER {
        return vec![read(statements)];
    }
    let parts: Vec<_> = statements.chunks(TOGETHER).map(|part| (part, OnceLock::new())).collect();
    let next = AtomicUsize::new(0);
    let take_parts = || {
        while let Some((part, parsed)) = parts.get(next.fetch_add(1, Ordering::Relaxed)) {
            parsed.get_or_init(|| read(part));
        }
    };
    rayon::in_place_scope(|scope| {
        let others = rayon::current_num_threads().min(parts.len()) - 1;
        (0..others).for_each(|_| scope.spawn(|_| take_parts()));
        take_parts();
    });
    parts.into_iter().filter_map(|(_, parsed)| parsed.into_inner()).collect()
}

/// How many statements are read one after the other.
const TOGETHER: usize = 16;
