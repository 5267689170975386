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

/// Reserved words that leave the levels before them open.
const INSIDE_OPERANDS: [&str; 11] = ["is", "not", "at", "known", "unknown", "changes", "to", "yes", "no", "by", "for"];

/// Whether a word is reserved, in any case.
pub fn is_reserved(word: &str) -> bool {
    RESERVED.iter().any(|reserved| reserved.eq_ignore_ascii_case(word))
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
        let starts = !after_include
            && token.kind == TokenKind::Word
            && STATEMENT_WORDS.iter().any(|word| word.eq_ignore_ascii_case(token.text(text)));
        if starts || scanned.statements.is_empty() {
            depth = Depth::default();
            scanned.statements.push(Slice { tokens: Vec::with_capacity(32) });
        }
        if starts && token.is(text, "rule") {
            rules += 1;
            if rules > MOST_RULES {
                let message = format!("a strategy may have {MOST_RULES} rules; this is one more");
                scanned.past_a_limit = Some(Finding::new(Code::TooLarge, span(file, token), message));
                return scanned;
            }
        }
        after_include = starts && token.is(text, "include");
        if depth.goes_past(text, token) {
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
    previous: Option<Token>,
    pending_operand_end: bool,
}

#[derive(PartialEq, Eq)]
enum Opener {
    Bracket,
    Not,
    Sign,
}

impl Depth {
    fn goes_past(&mut self, text: &str, token: Token) -> bool {
        let word = token.text(text);
        let is_open = token.kind == TokenKind::Sign && (word == "(" || word == "[");
        // A word just before `(` is a call, whose operand ends with the bracket.
        if std::mem::take(&mut self.pending_operand_end) && !is_open {
            self.close_signs();
        }
        match token.kind {
            TokenKind::Sign if is_open => self.open.push(Opener::Bracket),
            TokenKind::Sign if word == ")" || word == "]" => {
                while self.open.pop().is_some_and(|opener| opener != Opener::Bracket) {}
                self.close_signs();
            }
            TokenKind::Sign if matches!(word, "-" | "−" | "+") && !self.after_operand(text) => {
                self.open.push(Opener::Sign);
            }
            TokenKind::Sign if word == "," => self.close_operands(),
            TokenKind::Word if !is_reserved(word) => self.pending_operand_end = true,
            TokenKind::Word if token.is(text, "not") && !self.previous.is_some_and(|before| before.is(text, "is")) => {
                self.open.push(Opener::Not);
            }
            TokenKind::Word if !INSIDE_OPERANDS.iter().any(|inside| inside.eq_ignore_ascii_case(word)) => {
                self.close_operands();
            }
            TokenKind::Number | TokenKind::Text => self.close_signs(),
            _ => {}
        }
        self.previous = Some(token);
        self.open.len() > MOST_LEVELS
    }

    fn after_operand(&self, text: &str) -> bool {
        self.previous.is_some_and(|previous| match previous.kind {
            TokenKind::Number | TokenKind::Text => true,
            TokenKind::Word => !is_reserved(previous.text(text)) || previous.is(text, "yes") || previous.is(text, "no"),
            TokenKind::Sign => matches!(previous.text(text), ")" | "]" | "%" | "°"),
            _ => false,
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
}

impl<'t> Tokens<'t> {
    /// From the beginning of a text.
    pub fn new(text: &'t str) -> Self {
        Self { text, at: 0 }
    }

    fn rest(&self) -> &'t str {
        self.text.get(self.at..).unwrap_or("")
    }

    fn length_while(&self, skip: usize, keep: impl Fn(char) -> bool) -> usize {
        let rest = self.rest().get(skip..).unwrap_or("");
        skip + rest.find(|c| !keep(c)).unwrap_or(rest.len())
    }

    fn number(&self) -> usize {
        let whole = self.length_while(0, |c| c.is_ascii_digit());
        let rest = self.rest().as_bytes();
        let point = rest.get(whole) == Some(&b'.') && rest.get(whole + 1).is_some_and(u8::is_ascii_digit);
        if point { self.length_while(whole + 1, |c| c.is_ascii_digit()) } else { whole }
    }
}

impl Iterator for Tokens<'_> {
    type Item = Token;

    fn next(&mut self) -> Option<Token> {
        self.at += self.length_while(0, is_blank);
        let first = self.rest().chars().next()?;
        let width = first.len_utf8();
        let (kind, length) = match first {
            '#' => (TokenKind::Comment, self.length_while(0, |c| c != '\n' && c != '\r')),
            '0'..='9' => (TokenKind::Number, self.number()),
            c if is_word(c) => (TokenKind::Word, self.length_while(0, is_word)),
            c if is_quote(c) => {
                let inside = self.length_while(width, |c| !is_quote(c) && c != '\n' && c != '\r');
                match self.rest().get(inside..).and_then(|rest| rest.chars().next()) {
                    Some(close) if is_quote(close) => (TokenKind::Text, inside + close.len_utf8()),
                    _ => (TokenKind::UnclosedText, inside),
                }
            }
            '<' | '>' if self.rest()[1..].starts_with('=') => (TokenKind::Sign, 2),
            '<' | '>' | '≤' | '≥' | '=' | '+' | '-' | '−' | '*' | '×' | '/' | '(' | ')' | '[' | ']' | ',' | ':'
            | '°' | '%' => (TokenKind::Sign, width),
            _ => (TokenKind::Stray, width),
        };
        let token = Token { kind, start: self.at, end: self.at + length };
        self.at = token.end;
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
