//! Text to tokens and statements, in one pass that no text can make slow.

use crate::findings::{Code, Finding};
use crate::text::{FileId, Span};

use super::{MOST_LEVELS, MOST_RULES};

/// What a token is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TokenKind {
    /// Letters, digits and underscores, beginning with no digit.
    Word,
    /// Digits, with a point between digits.
    Number,
    /// A text between quotes.
    Text,
    /// A text without a closing quote on its line.
    UnclosedText,
    /// One of the language's signs.
    Sign,
    /// A comment, to the end of its line.
    Comment,
    /// A character that the language does not have.
    Stray,
}

/// A token and its bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Token {
    /// What it is.
    pub kind: TokenKind,
    /// Its first byte.
    pub start: usize,
    /// The byte after its last.
    pub end: usize,
    /// What the grammar reads in its place: one character for each word, sign and kind, as `code` lists them.
    pub code: u8,
}

impl Token {
    /// Its text.
    pub fn text<'t>(&self, source: &'t str) -> &'t str {
        source.get(self.start..self.end).unwrap_or("")
    }

    /// Whether it is that word, in any case.
    pub fn is(&self, source: &str, word: &str) -> bool {
        self.kind == TokenKind::Word && self.text(source).eq_ignore_ascii_case(word)
    }
}

/// The words that start a statement.
pub const STATEMENT_WORDS: [&str; 7] = ["strategy", "include", "reading", "let", "rule", "ladder", "trial"];

/// The words that are reserved everywhere.
pub const RESERVED: [&str; 34] = [
    "strategy", "include", "reading", "let", "rule", "ladder", "trial", "if", "run", "keep", "stop", "caution",
    "because", "rung", "only", "step", "start", "given", "expect", "after", "and", "or", "not", "is", "at", "known",
    "unknown", "for", "settling", "to", "by", "changes", "yes", "no",
];

/// The codes of [`RESERVED`], in its order: digits for what starts a statement, then capitals and two more digits.
const RESERVED_CODES: &[u8; 34] = b"1234567FRKZCBGLPQVEWAONIMJUDXT9HY0";

/// Words that mean something in one place and may be names elsewhere, and their codes: small letters.
pub(super) const IN_PLACE: [&str; 14] =
    ["species", "about", "units", "also", "least", "most", "one", "of", "good", "down", "up", "over", "strike", "cast"];
const IN_PLACE_CODES: &[u8; 14] = b"saulemnogdpvkc";

/// What the grammar reads in place of a token.
pub mod code {
    /// A word that the language does not have.
    pub const NAME: u8 = b'w';
    /// A number.
    pub const NUMBER: u8 = b'#';
    /// The hour of a time of day, straight before its `:` and its minutes.
    pub const HOUR: u8 = b'@';
    /// A text.
    pub const TEXT: u8 = b'"';
    /// A degree sign by itself.
    pub const DEGREE: u8 = b'~';
    /// A degree sign straight before `F` or `C`.
    pub const DEGREE_OF: u8 = b'^';
    /// A `/` straight between two words, as in `ft/min`.
    pub const PER: u8 = b'|';
    /// `<=`
    pub const AT_MOST: u8 = b'{';
    /// `>=`
    pub const AT_LEAST: u8 = b'}';
    /// What the grammar has no place for: comments, texts without an end, strays.
    pub const NONE: u8 = b'?';
}

/// A word of at most eight letters in small ones, as a number, so that one comparison finds it.
const fn key(word: &[u8]) -> u64 {
    let mut key = 0;
    let mut at = 0;
    while at < word.len() {
        key = key << 8 | word[at].to_ascii_lowercase() as u64;
        at += 1;
    }
    key
}

const WORDS: [(u64, u8); 48] = {
    let mut words = [(0, 0); 48];
    let mut at = 0;
    while at < words.len() {
        words[at] = if at < RESERVED.len() {
            (key(RESERVED[at].as_bytes()), RESERVED_CODES[at])
        } else {
            (key(IN_PLACE[at - RESERVED.len()].as_bytes()), IN_PLACE_CODES[at - RESERVED.len()])
        };
        at += 1;
    }
    words
};

fn word_code(word: &str) -> u8 {
    if word.len() > 8 {
        return code::NAME;
    }
    let key = key(word.as_bytes());
    WORDS.iter().find(|(known, _)| *known == key).map_or(code::NAME, |(_, code)| *code)
}

/// Whether a word is reserved, in any case.
pub fn is_reserved(word: &str) -> bool {
    is_reserved_code(word_code(word))
}

fn is_reserved_code(code: u8) -> bool {
    code.is_ascii_uppercase() || code.is_ascii_digit()
}

fn starts_statement(code: u8) -> bool {
    matches!(code, b'1'..=b'7')
}

/// One statement: its tokens, comments left out.
#[derive(Clone, Debug)]
pub struct Slice {
    /// The first is a statement word, save in a file that begins with something else.
    pub tokens: Vec<Token>,
}

/// What a scan gives.
#[derive(Debug, Default)]
pub struct Scanned {
    /// Statements in order.
    pub statements: Vec<Slice>,
    /// Faults of single characters.
    pub findings: Vec<Finding>,
    /// The limit that the source is past, after which nothing else is read.
    pub past_a_limit: Option<Finding>,
}

/// Cuts a text into statements.
pub fn scan(file: FileId, text: &str) -> Scanned {
    let mut scanned = Scanned::default();
    let mut after_include = false;
    let mut rules = 0;
    let mut depth = Depth::default();
    for token in Tokens::new(text) {
        if token.kind == TokenKind::Comment {
            continue;
        }
        let starts = !after_include && starts_statement(token.code);
        if starts || scanned.statements.is_empty() {
            depth = Depth::default();
            scanned.statements.push(Slice { tokens: Vec::with_capacity(32) });
        }
        if starts && token.code == b'5' {
            rules += 1;
            if rules > MOST_RULES {
                let message = format!("a strategy may have {MOST_RULES} rules; this is one more");
                scanned.past_a_limit = Some(Finding::new(Code::TooLarge, span(file, token), message));
                return scanned;
            }
        }
        after_include = starts && token.code == b'2';
        if depth.goes_past(token) {
            let message = format!("brackets, `not` and signs nest deeper than {MOST_LEVELS} levels here");
            let finding = Finding::new(Code::TooLarge, span(file, token), message)
                .help("name a part of the condition with `let` and use the name");
            scanned.past_a_limit = Some(finding);
            return scanned;
        }
        if let Some(statement) = scanned.statements.last_mut() {
            statement.tokens.push(token);
        }
    }
    scanned
}

fn span(file: FileId, token: Token) -> Span {
    Span::new(file, token.start, token.end)
}

/// Counts levels: every bracket, `not` and sign opens one until its operand ends.
#[derive(Default)]
struct Depth {
    open: Vec<Opener>,
    previous: Option<u8>,
    pending_operand_end: bool,
}

/// Whether a reserved word leaves the levels before it open: `is`, `not`, `at`, `known`, `unknown`, `changes`, `to`, `yes`,
/// `no`, `by`, `for`.
fn leaves_open(code: u8) -> bool {
    matches!(code, b'I' | b'N' | b'M' | b'J' | b'U' | b'H' | b'T' | b'Y' | b'0' | b'9' | b'D')
}

#[derive(PartialEq, Eq)]
enum Opener {
    Bracket,
    Not,
    Sign,
}

impl Depth {
    fn goes_past(&mut self, token: Token) -> bool {
        let is_open = matches!(token.code, b'(' | b'[');
        // A word just before `(` is a call, whose operand ends with the bracket.
        if std::mem::take(&mut self.pending_operand_end) && !is_open {
            self.close_signs();
        }
        match token.code {
            b'(' | b'[' => self.open.push(Opener::Bracket),
            b')' | b']' => {
                while self.open.pop().is_some_and(|opener| opener != Opener::Bracket) {}
                self.close_signs();
            }
            b'-' | b'+' if !self.after_operand() => self.open.push(Opener::Sign),
            b',' => self.close_operands(),
            b'a'..=b'z' => self.pending_operand_end = true,
            // `not`, save behind `is`.
            b'N' if self.previous != Some(b'I') => self.open.push(Opener::Not),
            code if is_reserved_code(code) && !leaves_open(code) => self.close_operands(),
            code::NUMBER | code::HOUR | code::TEXT => self.close_signs(),
            _ => {}
        }
        self.previous = Some(token.code);
        self.open.len() > MOST_LEVELS
    }

    fn after_operand(&self) -> bool {
        self.previous.is_some_and(|code| {
            code.is_ascii_lowercase()
                || matches!(code, b'Y' | b'0' | b')' | b']' | b'%')
                || matches!(code, code::NUMBER | code::HOUR | code::TEXT | code::DEGREE | code::DEGREE_OF)
        })
    }

    fn close_signs(&mut self) {
        while self.open.last() == Some(&Opener::Sign) {
            self.open.pop();
        }
    }

    fn close_operands(&mut self) {
        while self.open.last().is_some_and(|opener| *opener != Opener::Bracket) {
            self.open.pop();
        }
    }
}

/// Whether a character is white space between tokens.
pub fn is_blank(c: char) -> bool {
    matches!(c, ' ' | '\t' | '\r' | '\n' | '\u{a0}' | '\u{202f}' | '\u{2007}' | '\u{feff}')
}

/// Whether a character is a double quote, straight or curly.
pub fn is_quote(c: char) -> bool {
    matches!(c, '"' | '“' | '”' | '„' | '‟')
}

/// Whether a character can stand in a word. The grammar's `word_char` is the same set.
pub fn is_word(c: char) -> bool {
    if c.is_ascii() {
        return c.is_ascii_alphanumeric() || c == '_';
    }
    matches!(c, '\u{aa}' | '\u{b5}' | '\u{ba}' | '\u{c0}'..='\u{d6}' | '\u{d8}'..='\u{f6}' | '\u{f8}'..='\u{1fff}'
        | '\u{2c00}'..='\u{2fff}' | '\u{3040}'..='\u{d7ff}' | '\u{f900}'..='\u{fdff}' | '\u{10000}'..='\u{1efff}'
        | '\u{20000}'..='\u{3ffff}')
}

/// The tokens of a text, comments included.
pub struct Tokens<'t> {
    text: &'t str,
    at: usize,
    /// Where the last token ended, if it was a word.
    word_end: Option<usize>,
}

impl<'t> Tokens<'t> {
    /// From the beginning of a text.
    pub fn new(text: &'t str) -> Self {
        Self { text, at: 0, word_end: None }
    }

    fn rest(&self) -> &'t str {
        self.text.get(self.at..).unwrap_or("")
    }

    fn length_while(&self, skip: usize, keep: impl Fn(char) -> bool) -> usize {
        let rest = self.rest().get(skip..).unwrap_or("");
        skip + rest.find(|c| !keep(c)).unwrap_or(rest.len())
    }

    /// How many bytes from here on are plain blanks or plain word characters: most are, and bytes are counted faster.
    fn plain(&self, keep: impl Fn(u8) -> bool) -> usize {
        self.rest().bytes().take_while(|byte| keep(*byte)).count()
    }

    fn blanks(&self) -> usize {
        let plain = self.plain(|byte| matches!(byte, b' ' | b'\t' | b'\r' | b'\n'));
        if self.byte(plain).is_some_and(|byte| !byte.is_ascii()) { self.length_while(plain, is_blank) } else { plain }
    }

    fn word(&self) -> usize {
        let plain = self.plain(|byte| byte.is_ascii_alphanumeric() || byte == b'_');
        if self.byte(plain).is_some_and(|byte| !byte.is_ascii()) { self.length_while(plain, is_word) } else { plain }
    }

    fn byte(&self, offset: usize) -> Option<u8> {
        self.text.as_bytes().get(self.at + offset).copied()
    }

    fn is_digit(&self, offset: usize) -> bool {
        self.byte(offset).is_some_and(|byte| byte.is_ascii_digit())
    }

    fn is_word(&self, offset: usize) -> bool {
        self.rest().get(offset..).and_then(|rest| rest.chars().next()).is_some_and(is_word)
    }

    fn number(&self) -> usize {
        let whole = self.plain(|byte| byte.is_ascii_digit());
        let point = self.byte(whole) == Some(b'.') && self.is_digit(whole + 1);
        if point { self.length_while(whole + 1, |c| c.is_ascii_digit()) } else { whole }
    }

    /// Whether a number of that length is an hour: `:` and two digits straight behind it.
    fn is_hour(&self, length: usize) -> bool {
        let after = length + 3;
        length <= 2
            && self.byte(length) == Some(b':')
            && self.is_digit(length + 1)
            && self.is_digit(length + 2)
            && !self.is_word(after)
            && !(self.byte(after) == Some(b'.') && self.is_digit(after + 1))
            && self.byte(after) != Some(b':')
    }

    fn degree(&self, width: usize) -> u8 {
        match self.byte(width) {
            Some(b'F' | b'f' | b'C' | b'c') if !self.is_word(width + 1) => code::DEGREE_OF,
            _ if self.is_word(width) => code::NONE,
            _ => code::DEGREE,
        }
    }

    fn slash(&self) -> u8 {
        if self.word_end == Some(self.at) && self.is_word(1) && !self.is_digit(1) { code::PER } else { b'/' }
    }
}

impl Iterator for Tokens<'_> {
    type Item = Token;

    fn next(&mut self) -> Option<Token> {
        self.at += self.blanks();
        let first = self.rest().chars().next()?;
        let width = first.len_utf8();
        let (kind, length, code) = match first {
            '#' => (TokenKind::Comment, self.length_while(0, |c| c != '\n' && c != '\r'), code::NONE),
            '0'..='9' => {
                let length = self.number();
                (TokenKind::Number, length, if self.is_hour(length) { code::HOUR } else { code::NUMBER })
            }
            c if is_word(c) => {
                let length = self.word();
                (TokenKind::Word, length, word_code(self.rest().get(..length).unwrap_or("")))
            }
            c if is_quote(c) => {
                let inside = self.length_while(width, |c| !is_quote(c) && c != '\n' && c != '\r');
                match self.rest().get(inside..).and_then(|rest| rest.chars().next()) {
                    Some(close) if is_quote(close) => (TokenKind::Text, inside + close.len_utf8(), code::TEXT),
                    _ => (TokenKind::UnclosedText, inside, code::NONE),
                }
            }
            '<' if self.byte(1) == Some(b'=') => (TokenKind::Sign, 2, code::AT_MOST),
            '>' if self.byte(1) == Some(b'=') => (TokenKind::Sign, 2, code::AT_LEAST),
            '≤' => (TokenKind::Sign, width, code::AT_MOST),
            '≥' => (TokenKind::Sign, width, code::AT_LEAST),
            '−' => (TokenKind::Sign, width, b'-'),
            '×' => (TokenKind::Sign, width, b'*'),
            '°' => (TokenKind::Sign, width, self.degree(width)),
            '/' => (TokenKind::Sign, width, self.slash()),
            '<' | '>' | '=' | '+' | '-' | '*' | '(' | ')' | '[' | ']' | ',' | ':' | '%' => {
                (TokenKind::Sign, width, u8::try_from(first).unwrap_or(code::NONE))
            }
            _ => (TokenKind::Stray, width, code::NONE),
        };
        let token = Token { kind, start: self.at, end: self.at + length, code };
        self.at = token.end;
        self.word_end = (kind == TokenKind::Word).then_some(token.end);
        Some(token)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn levels(condition: &str) -> bool {
        scan(FileId(0), &format!("let x = {condition}")).past_a_limit.is_none()
    }

    #[test]
    fn sixty_four_levels_pass_and_sixty_five_do_not() {
        let nested = |open: &str, close: &str, n: usize| format!("{}marks{}", open.repeat(n), close.repeat(n));
        for (open, close) in [("(", ")"), ("not ", ""), ("- ", ""), ("f(", ")")] {
            assert!(levels(&nested(open, close, 64)), "{open}");
            assert!(!levels(&nested(open, close, 65)), "{open}");
        }
        assert!(levels(&nested("not (", ")", 32)));
        assert!(!levels(&format!("not {}", nested("not (", ")", 32))));
    }

    #[test]
    fn long_flat_chains_do_not_nest() {
        assert!(levels(&vec!["not a"; 500].join(" and ")));
        assert!(levels(&vec!["-1"; 500].join(" + ")));
        assert!(levels(&vec!["-f(-1)"; 500].join(" + ")));
        assert!(levels(&vec!["mood is not following"; 200].join(" or ")));
    }

    #[test]
    fn statements_split_at_their_words_outside_texts_and_comments() {
        let text = "strategy \"a rule\" # rule\ninclude let rule \"x\" let y = 1";
        let scanned = scan(FileId(0), text);
        let firsts: Vec<_> = scanned.statements.iter().map(|s| s.tokens[0].text(text)).collect();
        assert_eq!(firsts, ["strategy", "include", "rule", "let"]);
    }
}
