//! Why a statement can't be read, in words, with the likely slip named.
//!
//! Works on the tokens around the place where reading stopped. Each slip is one small function or one row of a table;
//! what none of them knows is said with what could have stood there.

use super::scan::{self, Token, TokenKind};
use crate::findings::{Code, Finding};
use crate::text::{FileId, Span};
use crate::vocabulary::nearest::nearest;

/// What is wrong with a statement, and whether one of its words seems to start a statement of its own.
pub(super) struct Fault {
    pub finding: Finding,
    /// Index of the token that looks like a misspelt statement word.
    pub misspelt_statement: Option<usize>,
}

/// Words that stand at the start of a clause or part, with what they are part of.
const CLAUSE_WORDS: [&str; 20] = [
    "if", "run", "keep", "stop", "caution", "because", "rung", "only", "step", "start", "given", "expect", "after",
    "species", "about", "units", "also", "settling", "known", "unknown",
];

/// Words that people write and the language does not have, and what to write.
const STRANGERS: [(&str, &str); 24] = [
    ("then", "leave `then` out: what the rule does follows its condition, as in `if marks run depth 10 ft`"),
    ("else", "write a second rule below this one; the first rule that applies decides"),
    ("otherwise", "write a second rule below this one; the first rule that applies decides"),
    ("elif", "write a second rule below this one; the first rule that applies decides"),
    ("unless", "write `if not ...`, with what follows in brackets if it has an `and` or `or`"),
    ("when", "write `if`"),
    ("while", "write `if`"),
    ("where", "write `if`"),
    ("above", "write `>` or `at least`, as in `surface > 62 °F`"),
    ("over", "write `>` or `at least`, as in `surface > 62 °F`"),
    ("exceeds", "write `>` or `at least`, as in `surface > 62 °F`"),
    ("more", "write `>` or `at least`, as in `surface > 62 °F`"),
    ("greater", "write `>` or `at least`, as in `surface > 62 °F`"),
    ("under", "write `<` or `at most`, as in `surface < 62 °F`"),
    ("below", "write `<` or `at most`, as in `surface < 62 °F`"),
    ("less", "write `<` or `at most`, as in `surface < 62 °F`"),
    ("between", "write a range, as in `surface is 50 to 62 °F`"),
    ("equals", "write `is`, as in `mood is sulking`"),
    ("equal", "write `is`, as in `mood is sulking`"),
    ("isn", "write `is not`"),
    ("&", "write `and`"),
    ("|", "write `or`"),
    ("since", "ask how long with a let, as in `let marked = marks for 10 min`"),
    ("plus", "write `+`"),
];

const SECOND_PLACE: [(&str, &[&str]); 4] =
    [("start", &["over"]), ("step", &["down", "up"]), ("at", &["least", "most"]), ("only", &["if"])];

struct Around<'t> {
    file: FileId,
    text: &'t str,
    tokens: &'t [Token],
    /// The token at which reading stopped; past the last where the statement ended too early.
    at: usize,
}

impl<'t> Around<'t> {
    fn token(&self, offset: isize) -> Option<Token> {
        let index = self.at.checked_add_signed(offset)?;
        self.tokens.get(index).copied()
    }

    fn word(&self, offset: isize) -> &'t str {
        self.token(offset).map_or("", |token| token.text(self.text))
    }

    fn lower(&self, offset: isize) -> String {
        self.word(offset).to_lowercase()
    }

    fn kind(&self, offset: isize) -> Option<TokenKind> {
        self.token(offset).map(|token| token.kind)
    }

    fn span(&self, offset: isize) -> Span {
        match (self.token(offset), self.tokens.last()) {
            (Some(token), _) => Span::new(self.file, token.start, token.end),
            (None, Some(last)) => Span::new(self.file, last.end, last.end),
            (None, None) => Span::new(self.file, 0, 0),
        }
    }

    fn touches(&self, offset: isize) -> bool {
        match (self.token(offset - 1), self.token(offset)) {
            (Some(before), Some(token)) => before.end == token.start,
            _ => false,
        }
    }

    fn finding(&self, code: Code, offset: isize, message: impl Into<String>) -> Finding {
        Finding::new(code, self.span(offset), message)
    }

    /// The clause that the place stands in, by its word.
    fn clause(&self) -> String {
        let before = &self.tokens[..self.at.min(self.tokens.len())];
        let clause =
            before.iter().rev().map(|token| token.text(self.text).to_lowercase()).find(|word| {
                CLAUSE_WORDS[..17].contains(&word.as_str()) || scan::STATEMENT_WORDS.contains(&word.as_str())
            });
        clause.unwrap_or_default()
    }
}

/// A fault of single tokens: characters that the language has not, texts without an end, signs run together.
pub(super) fn of_tokens(file: FileId, text: &str, tokens: &[Token]) -> Option<Finding> {
    for at in 0..tokens.len() {
        let around = Around { file, text, tokens, at };
        let found = match around.kind(0)? {
            TokenKind::Stray => Some(stray(&around)),
            TokenKind::UnclosedText => Some(unclosed_text(&around)),
            TokenKind::Text => hidden_in_text(&around),
            TokenKind::Sign if around.word(0) == "+" && matches!(around.word(1), "-" | "−") && around.touches(1) => {
                Some(
                    around
                        .finding(Code::StrayCharacter, 0, "`+-` is no sign of the language")
                        .help("write a range from the lowest to the highest value, as in `15 to 25 ft`"),
                )
            }
            _ => None,
        };
        if found.is_some() {
            return found;
        }
    }
    None
}

fn stray(around: &Around<'_>) -> Finding {
    let c = around.word(0).chars().next().unwrap_or(' ');
    let number_before = around.kind(-1) == Some(TokenKind::Number) && around.touches(0);
    let help = match c {
        '\'' | '’' | '′' if number_before => format!("write feet as `{} ft`", around.word(-1)),
        '″' if number_before => format!("write inches as `{} in`", around.word(-1)),
        '±' => "write a range from the lowest to the highest value, as in `15 to 25 ft`".to_owned(),
        '{' | '}' => "leave braces out: every statement begins with a word of its own".to_owned(),
        ';' => "leave it out: items of a list are parted by commas, statements by nothing".to_owned(),
        '–' | '—' => "write a range with `to`, as in `3 to 10 ft`".to_owned(),
        '!' => "write `is not`".to_owned(),
        '&' => "write `and`".to_owned(),
        '|' => "write `or`".to_owned(),
        '.' => "write a number with digits on both sides of its point, as in `0.5`".to_owned(),
        '\u{b2}' | '\u{b3}' | '¼' | '½' | '¾' => "write the number with a decimal point, as in `2.5`".to_owned(),
        _ => "leave it out".to_owned(),
    };
    let name = if c.is_control() || c.is_whitespace() {
        format!("the character U+{:04X}", u32::from(c))
    } else {
        format!("`{c}`")
    };
    around.finding(Code::StrayCharacter, 0, format!("{name} can't stand in a strategy outside a text")).help(help)
}

/// A character in a text that a terminal would obey, or that turns what is read around.
fn hidden_in_text(around: &Around<'_>) -> Option<Finding> {
    let hides =
        |c: char| (c.is_control() && c != '\t') || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    let (at, c) = around.word(0).char_indices().find(|(_, c)| hides(*c))?;
    let start = around.token(0)?.start + at;
    let span = Span::new(around.file, start, start + c.len_utf8());
    let message = format!("the character U+{:04X} can't stand in a text", u32::from(c));
    Some(
        Finding::new(Code::StrayCharacter, span, message).help("leave it out; it can't be seen, and terminals obey it"),
    )
}

fn unclosed_text(around: &Around<'_>) -> Finding {
    let number_before = around.kind(-1) == Some(TokenKind::Number) && around.touches(0);
    let finding = around.finding(Code::UnclosedText, 0, "this text has no closing quote on its line");
    let finding = Finding { span: Span { end: finding.span.start + 1, ..finding.span }, ..finding };
    if number_before {
        finding.help(format!("if inches were meant, write `{} in`", around.word(-1)))
    } else {
        finding.help("a text ends at the next double quote and has no line break")
    }
}

/// A file or statement that begins with no statement word.
pub(super) fn of_beginning(file: FileId, text: &str, tokens: &[Token]) -> Finding {
    let around = Around { file, text, tokens, at: 0 };
    let word = around.word(0);
    match nearest(word, scan::STATEMENT_WORDS) {
        Some(near) => around
            .finding(Code::Misspelt, 0, format!("`{word}` begins no statement"))
            .help(format!("did you mean `{near}`?")),
        None => around.finding(Code::Syntax, 0, format!("`{word}` begins no statement")).help(
            "a strategy begins with `strategy \"its name\"`; statements begin with one of \
                   `include`, `reading`, `let`, `rule`, `ladder`, `trial`",
        ),
    }
}

/// A value of a reading, from a file, a flag or a request, that can't be read.
pub(super) fn of_value(file: FileId, text: &str, tokens: &[Token], at: usize) -> Finding {
    if let Some(finding) = of_tokens(file, text, tokens) {
        return finding;
    }
    let around = Around { file, text, tokens, at };
    if let Some(finding) = numbers(&around) {
        return finding;
    }
    let help = "write a value as in a strategy: `54 °F`, `yes`, `05:30`, `NW`, `may`, `low_sun`, `unknown`";
    around.finding(Code::Syntax, 0, format!("`{}` is no value of the language", text.trim())).help(help)
}

/// A statement that could be read up to the token `at`, where one of `expected` could have stood.
pub(super) fn of_statement(
    file: FileId,
    text: &str,
    tokens: &[Token],
    at: usize,
    expected: Vec<&'static str>,
) -> Fault {
    let around = Around { file, text, tokens, at };
    if around.kind(0) == Some(TokenKind::Word) && around.kind(1) == Some(TokenKind::Text) {
        let word = around.word(0);
        if let Some(near) = nearest(word, scan::STATEMENT_WORDS).filter(|_| around.at > 0) {
            let finding = around
                .finding(Code::Misspelt, 0, format!("`{word}` is no word that can stand here"))
                .help(format!("did you mean `{near}`?"));
            return Fault { finding, misspelt_statement: Some(around.at) };
        }
    }
    let slips: [fn(&Around<'_>) -> Option<Finding>; 15] = [
        numbers,
        equals_sign,
        joined_by_and,
        second_place,
        misspelt_word,
        strangers,
        missing_quotes,
        is_known,
        missing_condition,
        lasting_in_the_middle,
        missing_limit,
        open_bracket,
        missing_comma,
        two_words,
        missing_expect,
    ];
    let finding = slips.iter().find_map(|slip| slip(&around)).unwrap_or_else(|| unknown_slip(&around, expected));
    Fault { finding, misspelt_statement: None }
}

/// `2,5`, `3 1/2`, `60° F`, `65 degrees F`.
fn numbers(around: &Around<'_>) -> Option<Finding> {
    let word = around.word(0);
    let number = around.kind(0) == Some(TokenKind::Number);
    if number
        && around.word(-1) == ","
        && around.touches(0)
        && around.touches(-1)
        && around.kind(-2) == Some(TokenKind::Number)
    {
        let (whole, part) = (around.word(-2), word);
        let span = around.span(-2).to(around.span(0));
        return Some(
            Finding::new(Code::BadNumber, span, format!("`{whole},{part}` has a comma where a point belongs"))
                .help(format!("write `{whole}.{part}`")),
        );
    }
    let unit_before = around.kind(-1) == Some(TokenKind::Word)
        && crate::vocabulary::unit::Unit::is_unit(around.word(-1))
        && around.kind(-2) == Some(TokenKind::Number);
    if number && unit_before {
        let (whole, unit) = (around.word(-2), around.word(-1));
        let message = format!("`{whole} {unit} {word}` are two measures in a row");
        let help = "write one number with one unit, as in `90 min` or `66 in`";
        return Some(Finding::new(Code::BadNumber, around.span(-2).to(around.span(0)), message).help(help));
    }
    if number && around.kind(-1) == Some(TokenKind::Number) {
        let message = format!("`{} {word}` are two numbers in a row", around.word(-1));
        let help = "write a mixed number with a decimal point, as in `3.5`";
        return Some(Finding::new(Code::BadNumber, around.span(-1).to(around.span(0)), message).help(help));
    }
    let degree = around.word(-1) == "°" || matches!(around.lower(-1).as_str(), "deg" | "degree" | "degrees");
    if degree && matches!(around.lower(0).as_str(), "f" | "c") {
        let letter = around.word(0).to_uppercase();
        let span = around.span(-1).to(around.span(0));
        return Some(
            Finding::new(Code::UnknownUnit, span, format!("`{} {}` is no unit", around.word(-1), around.word(0)))
                .help(format!("write `{} °{letter}`, without a blank after `°`", around.word(-2))),
        );
    }
    None
}

/// `lure spoon and spinner`, `depth 3 to 10 ft and speed 2 mph`.
fn joined_by_and(around: &Around<'_>) -> Option<Finding> {
    let lists = ["run", "keep", "given", "expect"];
    (around.lower(0) == "and" && lists.contains(&around.clause().as_str())).then(|| {
        around
            .finding(Code::Syntax, 0, "`and` joins conditions, not the items of a list")
            .help("part items with commas, and alternatives of one aspect with `or`, as in `lure spoon or spinner`")
    })
}

fn equals_sign(around: &Around<'_>) -> Option<Finding> {
    (around.word(0) == "=").then(|| {
        around
            .finding(Code::Syntax, 0, "`=` stands only behind the name of a let")
            .help("in a condition write `is`, as in `mood is sulking`")
    })
}

fn second_place(around: &Around<'_>) -> Option<Finding> {
    let (_, follows) = SECOND_PLACE.into_iter().find(|(first, _)| around.lower(-1) == *first)?;
    let word = around.word(0);
    let code = if nearest(word, follows.iter().copied()).is_some() { Code::Misspelt } else { Code::Syntax };
    let first = around.word(-1);
    let right: Vec<String> = follows.iter().map(|second| format!("`{first} {second}`")).collect();
    let message = if word.is_empty() {
        format!("`{first}` needs another word behind it")
    } else {
        format!("`{first} {word}` is nothing that the language knows")
    };
    Some(around.finding(code, 0, message).help(format!("write {}", right.join(" or "))))
}

fn misspelt_word(around: &Around<'_>) -> Option<Finding> {
    if around.kind(0) != Some(TokenKind::Word) {
        return None;
    }
    let word = around.word(0);
    if scan::is_reserved(word) || STRANGERS.iter().any(|(stranger, _)| around.lower(0) == *stranger) {
        return None;
    }
    let more = ["least", "most", "one", "is", "not", "and", "changes", "good", "for", "because"];
    let near = nearest(word, CLAUSE_WORDS.into_iter().chain(more))?;
    let message = format!("`{word}` is no word that can stand here");
    Some(around.finding(Code::Misspelt, 0, message).help(format!("did you mean `{near}`?")))
}

fn strangers(around: &Around<'_>) -> Option<Finding> {
    let found = |offset: isize| {
        let lower = around.lower(offset);
        STRANGERS.iter().find(|(word, _)| *word == lower)
    };
    // `is above 62 °F` stops at the number, behind the stranger.
    let (offset, (_, help)) =
        found(0).map(|row| (0, row)).or_else(|| found(-1).filter(|_| around.lower(-2) == "is").map(|row| (-1, row)))?;
    let word = around.word(offset);
    Some(around.finding(Code::Syntax, offset, format!("`{word}` is no word of the language")).help(*help))
}

fn missing_quotes(around: &Around<'_>) -> Option<Finding> {
    let owner = around.lower(-1);
    let wants = ["strategy", "include", "rule", "trial", "species", "about", "stop", "caution", "because"];
    if !wants.contains(&owner.as_str()) {
        return None;
    }
    let what = match owner.as_str() {
        "strategy" | "rule" | "trial" => "a name in quotes",
        "include" => "a path in quotes",
        _ => "a text in quotes",
    };
    if around.lower(0) == "if" && matches!(owner.as_str(), "stop" | "caution" | "because") {
        return Some(
            around
                .finding(Code::Misplaced, 0, "`if` comes first in a rule")
                .help(format!("write `if ... {owner} \"...\"`, the condition straight behind the rule's name")),
        );
    }
    let message = format!("behind `{owner}` comes {what}");
    let meant = meant_text(around, what == "a text in quotes");
    let help = (!meant.is_empty()).then(|| format!("write `{owner} \"{meant}\"`"));
    Some(around.finding(Code::MissingQuotes, 0, message).maybe_help(help))
}

/// What seems to have been meant as a text: to the end of the line, a name only up to the next word of the language.
fn meant_text(around: &Around<'_>, whole_line: bool) -> String {
    let rest = around.tokens.get(around.at..).unwrap_or(&[]);
    let Some(first) = rest.first() else { return String::new() };
    let line_end = around
        .text
        .get(first.start..)
        .and_then(|text| text.find(['\n', '\r']))
        .map_or(usize::MAX, |at| first.start + at);
    let belongs = |token: &&Token| {
        token.start < line_end
            && token.kind == TokenKind::Word
            && (whole_line || !scan::is_reserved(token.text(around.text)))
    };
    let words: Vec<&str> = rest.iter().take_while(belongs).take(12).map(|token| token.text(around.text)).collect();
    words.join(" ")
}

fn is_known(around: &Around<'_>) -> Option<Finding> {
    let state = around.lower(0);
    let after_is = around.lower(-1) == "is" || (around.lower(-1) == "not" && around.lower(-2) == "is");
    (after_is && matches!(state.as_str(), "known" | "unknown")).then(|| {
        let name = if around.lower(-1) == "is" { around.word(-2) } else { around.word(-3) };
        // Behind a call stands its bracket, which is no name.
        let name = if name == ")" { "..." } else { name };
        around
            .finding(Code::Syntax, 0, format!("`{state}` stands without `is`"))
            .help(format!("write `{name} {state}`"))
    })
}

fn missing_condition(around: &Around<'_>) -> Option<Finding> {
    let before = around.lower(-1);
    let ends = around.token(0).is_none() || CLAUSE_WORDS[..13].contains(&around.lower(0).as_str());
    (ends && matches!(before.as_str(), "if" | "and" | "or" | "not" | "is")).then(|| {
        around
            .finding(Code::Syntax, -1, format!("nothing stands behind `{before}`"))
            .help("write a condition, as in `if surface at most 62 °F and marks`")
    })
}

fn lasting_in_the_middle(around: &Around<'_>) -> Option<Finding> {
    let let_statement = around.tokens.first()?.is(around.text, "let");
    let is_timing = |token: &Token| token.is(around.text, "for") || token.is(around.text, "settling");
    // Reading stops at the word itself, or behind the time that follows it.
    let nearby = (-1..=3).find(|back| around.token(-back).is_some_and(|token| is_timing(&token)))?;
    if nearby == -1 && around.word(0) != "," {
        return None;
    }
    let word = around.word(-nearby);
    if let_statement {
        let message = format!("`{word}` takes the whole condition and ends the let");
        return Some(
            around
                .finding(Code::Misplaced, -nearby, message)
                .help("give this part a let of its own and use its name here"),
        );
    }
    let how = if word.eq_ignore_ascii_case("for") { "for 10 min" } else { "settling 10 min" };
    let comma = if word.eq_ignore_ascii_case("for") { "" } else { "," };
    Some(
        around
            .finding(Code::Misplaced, -nearby, format!("`{word}` stands only at the end of a let"))
            .help(format!("write `let NAME = CONDITION{comma} {how}` and use the name here")),
    )
}

/// `keep lure spoon`, `keep depth 9 ft`.
fn missing_limit(around: &Around<'_>) -> Option<Finding> {
    let begins = around.lower(-2) == "keep" || (around.word(-2) == "," && around.clause() == "keep");
    let aspect = around.word(-1);
    (begins && around.kind(-1) == Some(TokenKind::Word)).then(|| {
        around
            .finding(Code::Syntax, 0, format!("`keep {aspect}` says no limit"))
            .help(format!("write `keep {aspect} at least ...`, `keep {aspect} at most ...` or `keep {aspect} not ...`"))
    })
}

fn open_bracket(around: &Around<'_>) -> Option<Finding> {
    let before = &around.tokens[..around.at.min(around.tokens.len())];
    let mut open = Vec::new();
    for token in before {
        match token.text(around.text) {
            "(" | "[" if token.kind == TokenKind::Sign => open.push(*token),
            ")" | "]" if token.kind == TokenKind::Sign => {
                open.pop();
            }
            _ => {}
        }
    }
    let last = open.last()?;
    let closing = if last.text(around.text) == "(" { ")" } else { "]" };
    let never = !around.tokens[before.len()..].iter().any(|token| token.text(around.text) == closing);
    let ends = around.token(0).is_none() || CLAUSE_WORDS[..13].contains(&around.lower(0).as_str());
    (never || ends).then(|| {
        let span = Span::new(around.file, last.start, last.end);
        Finding::new(Code::UnclosedBracket, span, format!("this `{}` is not closed", last.text(around.text)))
            .help(format!("put a `{closing}` where it ends"))
    })
}

fn missing_comma(around: &Around<'_>) -> Option<Finding> {
    let starts_item = match around.kind(0)? {
        TokenKind::Word => {
            !scan::is_reserved(around.word(0)) || matches!(around.lower(0).as_str(), "stop" | "unknown" | "no")
        }
        _ => false,
    };
    let ends_item = match around.kind(-1)? {
        TokenKind::Word => !CLAUSE_WORDS[..13].contains(&around.lower(-1).as_str()),
        TokenKind::Number | TokenKind::Text => true,
        TokenKind::Sign => matches!(around.word(-1), "°" | "%" | "]" | ")"),
        _ => false,
    };
    let clause = around.clause();
    let lists = ["given", "expect", "run", "keep", "also", "reading"];
    (starts_item && ends_item && lists.contains(&clause.as_str())).then(|| {
        around
            .finding(Code::MissingComma, 0, format!("a comma is missing before `{}`", around.word(0)))
            .help("items of a list are parted by commas")
    })
}

fn two_words(around: &Around<'_>) -> Option<Finding> {
    let plain = |offset: isize| around.kind(offset) == Some(TokenKind::Word) && !scan::is_reserved(around.word(offset));
    (plain(0) && plain(-1)).then(|| {
        let (first, second) = (around.word(-1), around.word(0));
        around.finding(Code::Syntax, 0, format!("`{first} {second}` are two words where one name belongs")).help(
            match crate::vocabulary::catalogue::Known::reading(&format!("{first}_{second}")) {
                Some(known) => format!("did you mean `{}`?", known.name()),
                None => format!("a name is one word: `{first}`, or `{first}_{second}` if you declared that"),
            },
        )
    })
}

fn missing_expect(around: &Around<'_>) -> Option<Finding> {
    let trial = around.tokens.first()?.is(around.text, "trial");
    (trial && around.token(0).is_none()).then(|| {
        around
            .finding(Code::Incomplete, -1, "this trial ends without an `expect`")
            .help("say what should be called, as in `expect depth 3 to 10 ft`; every `after` has its own")
    })
}

fn unknown_slip(around: &Around<'_>, expected: Vec<&'static str>) -> Finding {
    let mut wanted: Vec<&str> = Vec::new();
    for name in expected {
        if !wanted.contains(&name) {
            wanted.push(name);
        }
    }
    let help = match wanted.as_slice() {
        [] => None,
        [one] => Some(format!("here comes {one}")),
        [most @ .., last] if wanted.len() <= 7 => Some(format!("here comes {} or {last}", most.join(", "))),
        _ => Some(format!("here comes {} or the like", wanted[..6].join(", "))),
    };
    let message = match around.token(0) {
        Some(token) => format!("`{}` can't stand here", clip(token.text(around.text))),
        None => "the statement ends too early".to_owned(),
    };
    let offset = if around.token(0).is_some() { 0 } else { -1 };
    around.finding(Code::Syntax, offset, message).maybe_help(help)
}

fn clip(text: &str) -> String {
    if text.chars().count() <= 40 {
        text.to_owned()
    } else {
        format!("{}…", text.chars().take(40).collect::<String>())
    }
}
