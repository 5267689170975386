//! One form for strategies: the same words, comments and meaning, laid out as the language guide lays them out.
//!
//! [`format()`] goes from text to text. It works on the scanner's tokens, which hold every comment: a statement's tokens
//! become pieces, each spelt in the one form of its place and knowing its comments (`pieces`, `place`), and the pieces
//! are put on lines (`layout`). None of this has to be trusted: what comes out is read again and held against what went
//! in.

mod layout;
mod pieces;
mod place;

use std::collections::BTreeSet;

use crate::findings::{Code, Finding, Findings};
use crate::syntax::scan::{self, Token, TokenKind};
use crate::syntax::tree::{Expect, File, HeaderClause, KindSpec, RunItem, Statement, Word};
use crate::syntax::{self, MOST_BYTES};
use crate::text::{FileId, SourceFile, Span};
use crate::vocabulary::aspect;
use pieces::{Lexeme, Piece, Sort, Speller};

/// Gives a strategy in the one form, or what is wrong with it where it can't be read.
///
/// Formatting what was formatted changes nothing, and formatting never changes what a strategy means: a text that would
/// come out with another meaning, or without one of its comments, is refused as a fault of Leadsman.
pub fn format(source: &str) -> Result<String, Vec<Finding>> {
    let tree = read(source)?;
    let aspects = aspect::built_in();
    let speller = Speller { own_words: own_words(&tree), aspects: &aspects };
    let page = gather(source, &speller);
    let formatted = layout::lay_out(page);
    if formatted.len() > MOST_BYTES {
        let message =
            format!("formatted, the source would have {} bytes; at most {MOST_BYTES} are read", formatted.len());
        let finding =
            Finding::new(Code::TooLarge, Span::default(), message).help("split it with `include`, or shorten it");
        return Err(vec![finding]);
    }
    if says_the_same(source, tree, &formatted) { Ok(formatted) } else { Err(vec![own_fault()]) }
}

fn read(source: &str) -> Result<File, Vec<Finding>> {
    let parsed = syntax::parse(FileId(0), &SourceFile::new("", source));
    if parsed.findings.is_empty() {
        return Ok(parsed.file);
    }
    let mut findings = Findings::default();
    findings.extend(parsed.findings);
    Err(findings.in_order())
}

/// Whether both texts have the same tree and the same comments.
fn says_the_same(source: &str, mut tree: File, formatted: &str) -> bool {
    let Ok(mut other) = read(formatted) else { return false };
    one_spelling(&mut tree);
    one_spelling(&mut other);
    tree == other && comments(source).eq(comments(formatted))
}

fn own_fault() -> Finding {
    Finding::new(
        Code::Syntax,
        Span::default(),
        "this file can't be formatted without changing it; it was left as it is",
    )
    .help("please report it with the file: it is a fault of Leadsman")
}

fn comments(text: &str) -> impl Iterator<Item = &str> {
    scan::Tokens::new(text)
        .filter(|token| token.kind == TokenKind::Comment)
        .map(|token| without_end_blanks(token.text(text)))
}

fn without_end_blanks(text: &str) -> &str {
    text.trim_end_matches(|c: char| c.is_whitespace() || scan::is_blank(c))
}

/// Spells the aspect `colour` in one way, since trees of both spellings mean the same.
fn one_spelling(tree: &mut File) {
    let spell = |word: &mut Word| {
        if word.is("color") {
            word.text = "colour".into();
        }
    };
    let spell_items = |items: &mut Vec<RunItem>| {
        for item in items {
            if let RunItem::Decide { aspect, .. } = item {
                spell(aspect);
            }
        }
    };
    for statement in &mut tree.statements {
        match statement {
            Statement::Strategy(header) => header.clauses.iter_mut().for_each(|clause| {
                if let HeaderClause::Also { aspect, .. } = clause {
                    spell(aspect);
                }
            }),
            Statement::Rule(rule) => rule.clauses.iter_mut().for_each(|clause| match clause {
                syntax::tree::Clause::Run(_, items) => spell_items(items),
                syntax::tree::Clause::Keep(_, items) => items.iter_mut().for_each(|item| spell(&mut item.aspect)),
                _ => {}
            }),
            Statement::Ladder(ladder) => ladder.rungs.iter_mut().for_each(|rung| spell_items(&mut rung.run)),
            Statement::Trial(trial) => {
                trial.parts.iter_mut().flat_map(|part| &mut part.expect).for_each(|expect| match expect {
                    Expect::Unknown(name) | Expect::Value { name, .. } => spell(name),
                    _ => {}
                });
            }
            _ => {}
        }
    }
}

/// The words that a file declares, in lower case: they keep the case in which they were written.
fn own_words(tree: &File) -> BTreeSet<String> {
    let mut words: Vec<&Word> = Vec::new();
    for statement in &tree.statements {
        match statement {
            Statement::Strategy(header) => header.clauses.iter().for_each(|clause| {
                if let HeaderClause::Also { aspect, names, .. } = clause {
                    words.push(aspect);
                    words.extend(names);
                }
            }),
            Statement::Reading(reading) => {
                words.push(&reading.name);
                if let KindSpec::OneOf { words: set, .. } = &reading.kind {
                    words.extend(set);
                }
            }
            Statement::Let(statement) => words.push(&statement.name),
            Statement::Ladder(ladder) => {
                words.push(&ladder.name);
                words.extend(ladder.rungs.iter().map(|rung| &rung.name));
            }
            _ => {}
        }
    }
    words.into_iter().map(|word| word.text.to_lowercase()).collect()
}

/// A comment on a line of its own.
struct Note<'t> {
    text: &'t str,
    /// Whether a blank line stands above it.
    blank_above: bool,
    /// Blanks before it on its line.
    column: usize,
}

/// A statement with the comments above it and those that end it.
struct Block<'t> {
    sort: Sort,
    above: Vec<Note<'t>>,
    /// Whether a blank line stands above its first word.
    blank_above: bool,
    pieces: Vec<Piece<'t>>,
    /// Whether it stands on one line; the layout decides it.
    one_line: bool,
    /// Comments below its last line that are indented under it.
    below: Vec<&'t str>,
}

/// A file's statements, and the comments after the last.
struct Page<'t> {
    blocks: Vec<Block<'t>>,
    end: Vec<Note<'t>>,
}

/// Cuts a text into statements and gives every comment its place: beside the token that it follows on its line, or else
/// above the token that comes next.
fn gather<'t>(source: &'t str, speller: &Speller<'_>) -> Page<'t> {
    let mut starts =
        scan::scan(FileId(0), source).statements.into_iter().filter_map(|slice| Some(slice.tokens.first()?.start));
    let mut gathering =
        Gathering { page: Page { blocks: Vec::new(), end: Vec::new() }, code: Vec::new(), notes: Vec::new(), speller };
    let mut next_start = starts.next();
    let mut before = 0;
    for token in scan::Tokens::new(source) {
        let gap = Gap::of(source.get(before..token.start).unwrap_or(""));
        before = token.end;
        if token.kind == TokenKind::Comment {
            gathering.comment(without_end_blanks(token.text(source)), gap);
        } else if next_start == Some(token.start) {
            next_start = starts.next();
            gathering.start(source, token, gap);
        } else {
            gathering.go_on(token, gap);
        }
    }
    gathering.finish(source)
}

/// The white space before a token.
#[derive(Clone, Copy)]
struct Gap {
    /// Line ends in it.
    lines: usize,
    /// Characters after the last line end.
    column: usize,
}

impl Gap {
    fn of(blanks: &str) -> Gap {
        let mut gap = Gap { lines: 0, column: 0 };
        let mut previous = ' ';
        for c in blanks.chars() {
            match c {
                '\n' if previous == '\r' => {}
                '\n' | '\r' => gap = Gap { lines: gap.lines + 1, column: 0 },
                '\u{feff}' => {}
                _ => gap.column += 1,
            }
            previous = c;
        }
        gap
    }
}

struct Gathering<'t, 's> {
    page: Page<'t>,
    /// The tokens of the statement that is being read.
    code: Vec<Lexeme<'t>>,
    /// The comments since its last token.
    notes: Vec<Note<'t>>,
    speller: &'s Speller<'s>,
}

impl<'t> Gathering<'t, '_> {
    fn comment(&mut self, text: &'t str, gap: Gap) {
        match self.code.last_mut() {
            Some(lexeme) if gap.lines == 0 && self.notes.is_empty() => lexeme.beside = Some(text),
            _ => self.notes.push(Note { text, blank_above: gap.lines > 1, column: gap.column }),
        }
    }

    fn start(&mut self, source: &'t str, token: Token, gap: Gap) {
        self.close(source, gap.column);
        let above = std::mem::take(&mut self.notes);
        self.page.blocks.push(Block {
            sort: Sort::of(token.text(source)),
            above,
            blank_above: gap.lines > 1,
            pieces: Vec::new(),
            one_line: false,
            below: Vec::new(),
        });
        self.code.push(Lexeme { token, on_new_line: false, above: Vec::new(), beside: None });
    }

    fn go_on(&mut self, token: Token, gap: Gap) {
        let above = self.notes.drain(..).map(|note| note.text).collect();
        self.code.push(Lexeme { token, on_new_line: gap.lines > 0, above, beside: None });
    }

    /// Ends the statement that is being read. Comments right below it that are indented deeper than what follows belong
    /// to it; the others stay above what follows.
    fn close(&mut self, source: &'t str, next_column: usize) {
        let Some(block) = self.page.blocks.last_mut() else { return };
        block.pieces = self.speller.pieces(source, block.sort, std::mem::take(&mut self.code));
        let deeper = |note: &Note<'_>| !note.blank_above && note.column > next_column;
        let count = self.notes.iter().take_while(|note| deeper(note)).count();
        block.below = self.notes.drain(..count).map(|note| note.text).collect();
    }

    fn finish(mut self, source: &'t str) -> Page<'t> {
        self.close(source, 0);
        self.page.end = self.notes;
        self.page
    }
}
