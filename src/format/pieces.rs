//! Tokens to pieces: every word, number and sign in its one spelling.

use std::borrow::Cow;
use std::collections::BTreeSet;

use super::place::{Clause, KIND_AT, Place};
use crate::syntax::scan::{self, Token, TokenKind};
use crate::vocabulary::aspect::{Aspect, BUILT_IN_NAMES, SHIFTS};
use crate::vocabulary::kind::{COMPASS, KIND_WORDS, MONTHS};
use crate::vocabulary::unit::Unit;

/// A token with its comments.
pub(super) struct Lexeme<'t> {
    pub token: Token,
    /// Whether the author began a line with it.
    pub on_new_line: bool,
    /// Comments on lines of their own above it.
    pub above: Vec<&'t str>,
    /// The comment behind it on its line.
    pub beside: Option<&'t str>,
}

/// What a statement is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sort {
    Strategy,
    Include,
    Reading,
    Let,
    Rule,
    Ladder,
    Trial,
}

impl Sort {
    /// The statement that a word begins.
    pub(super) fn of(word: &str) -> Sort {
        match word.to_ascii_lowercase().as_str() {
            "strategy" => Sort::Strategy,
            "include" => Sort::Include,
            "reading" => Sort::Reading,
            "let" => Sort::Let,
            "ladder" => Sort::Ladder,
            "trial" => Sort::Trial,
            _ => Sort::Rule,
        }
    }
}

/// What a piece is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// A name, or a word that stands for a value.
    Name,
    /// A word of the language in its place.
    Keyword,
    /// A number or a time of day.
    Number,
    /// The unit of the number before it.
    Unit,
    /// A text in quotes.
    Text,
    /// A sign.
    Sign,
}

/// Whether a line may end before a piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Break {
    /// Never.
    Never,
    /// Before a sign of a sum or product, where nothing better is left.
    Sum,
    /// Where what stands between two better places is wider than a line.
    Inside,
    /// Where the line is full.
    Between,
    /// Always; the next line stands so many blanks deeper than the clause.
    Always(usize),
}

/// What is printed without a line end in it.
pub(super) struct Piece<'t> {
    pub kind: Kind,
    pub text: Cow<'t, str>,
    /// Characters of its text.
    pub width: usize,
    /// Blanks before it where it does not begin a line.
    pub gap: usize,
    pub line_break: Break,
    /// 1 where it begins a clause, 2 where it begins a part of a rung.
    pub level: usize,
    /// Whether the author began a line with it.
    pub on_new_line: bool,
    /// Comments on lines of their own above it.
    pub above: Vec<&'t str>,
    /// The comment behind it.
    pub beside: Option<&'t str>,
}

impl Piece<'_> {
    /// Whether it is that sign.
    pub(super) fn is_sign(&self, sign: &str) -> bool {
        self.kind == Kind::Sign && self.text == sign
    }

    /// Whether it is that word of the language.
    pub(super) fn is_keyword(&self, word: &str) -> bool {
        self.kind == Kind::Keyword && self.text == word
    }
}

/// Blanks by which the lines of a wrapped clause hang deeper than the clause.
pub(super) const HANG: usize = 4;

/// Spells the pieces of one file.
pub(super) struct Speller<'s> {
    /// Words that the file declares, in lower case.
    pub own_words: BTreeSet<String>,
    /// The built-in aspects.
    pub aspects: &'s [Aspect],
}

impl Speller<'_> {
    /// The pieces of a statement.
    pub(super) fn pieces<'t>(&self, source: &'t str, sort: Sort, lexemes: Vec<Lexeme<'t>>) -> Vec<Piece<'t>> {
        let mut pieces = cut(source, lexemes);
        commas_before_comments(&mut pieces);
        let mut place = Place::new(sort);
        for at in 0..pieces.len() {
            self.spell(&mut pieces, at, &mut place);
        }
        for piece in &mut pieces {
            piece.width = piece.text.chars().count();
        }
        pieces
    }

    fn spell(&self, pieces: &mut [Piece<'_>], at: usize, place: &mut Place) {
        if let Some((clause, level)) = place.clause_begun(pieces, at) {
            place.begin(clause);
            pieces[at].level = level;
            set(&mut pieces[at], Kind::Keyword, None);
        } else if pieces[at].kind == Kind::Name {
            self.spell_word(pieces, at, place);
        }
        pieces[at].gap = usize::from(!place.touches_previous(pieces, at));
        pieces[at].line_break = place.line_break(pieces, at);
        place.pass(pieces, at);
    }

    fn spell_word(&self, pieces: &mut [Piece<'_>], at: usize, place: &mut Place) {
        let Some(piece) = pieces.get(at) else { return };
        let word = piece.text.to_ascii_lowercase();
        if scan::is_reserved(&word) || place.counts_here(pieces, at, &word) {
            return set(&mut pieces[at], Kind::Keyword, None);
        }
        if place.aspect_stands_here(pieces, at) && BUILT_IN_NAMES.contains(&word.as_str()) {
            place.aspect = self.aspects.iter().position(|aspect| aspect.name == colour(&word));
            return set(&mut pieces[at], Kind::Name, Some(colour(&word)));
        }
        let trade_word = place
            .aspect
            .and_then(|aspect| self.aspects.get(aspect))
            .is_some_and(|aspect| aspect.words().contains(&word));
        let shift = place.clause == Clause::Run && place.item == 0 && SHIFTS.iter().any(|shift| shift.word == word);
        let kind_word =
            place.sort == Sort::Reading && at == KIND_AT && KIND_WORDS.iter().any(|(kind, _)| *kind == word);
        if trade_word || shift || kind_word || (place.clause == Clause::Units && place.item == 0) {
            return set(&mut pieces[at], Kind::Name, Some(&word));
        }
        if place.value_stands_here(pieces, at) && !self.own_words.contains(&word) {
            if MONTHS.contains(&word.as_str()) {
                set(&mut pieces[at], Kind::Name, Some(&word));
            } else if let Some(point) = COMPASS.iter().find(|point| point.eq_ignore_ascii_case(&word)) {
                set(&mut pieces[at], Kind::Name, Some(point));
            }
        }
    }
}

fn colour(aspect: &str) -> &str {
    if aspect == "color" { "colour" } else { aspect }
}

/// Gives a piece its kind and its spelling, or its own text in lower case.
fn set(piece: &mut Piece<'_>, kind: Kind, spelling: Option<&str>) {
    piece.kind = kind;
    let lower = piece.text.to_ascii_lowercase();
    let spelling = spelling.unwrap_or(&lower);
    if piece.text != spelling {
        piece.text = Cow::Owned(spelling.to_owned());
    }
}

/// Joins the tokens that make one piece: the parts of a time of day or of a unit.
fn cut<'t>(source: &'t str, lexemes: Vec<Lexeme<'t>>) -> Vec<Piece<'t>> {
    let mut pieces: Vec<Piece<'t>> = Vec::with_capacity(lexemes.len());
    let mut lexemes = lexemes.into_iter().peekable();
    while let Some(first) = lexemes.next() {
        let token = first.token;
        let after_number = pieces.last().is_some_and(|piece| piece.kind == Kind::Number && !piece.text.contains(':'));
        let mut whole = first;
        let mut join = |whole: &mut Lexeme<'t>, fits: &dyn Fn(Token) -> bool| {
            let next = lexemes.next_if(|next| next.token.start == whole.token.end && fits(next.token));
            next.map(|next| {
                whole.token.end = next.token.end;
                whole.beside = next.beside;
            })
        };
        let is_word = |token: Token| token.kind == TokenKind::Word;
        let sign = |sign: &'static str| move |token: Token| token.kind == TokenKind::Sign && token.text(source) == sign;
        let text = token.text(source);
        let (kind, spelling) = match token.kind {
            TokenKind::Number => {
                let clock = join(&mut whole, &sign(":")).and_then(|()| join(&mut whole, &|_| true)).is_some();
                let text = whole.token.text(source);
                (Kind::Number, if clock { clock_time(text) } else { Cow::Borrowed(text) })
            }
            TokenKind::Word if after_number && !scan::is_reserved(text) => {
                // A `/` belongs to a unit only where a word touches it on both sides.
                let over_word = source.get(token.end + 1..).and_then(|rest| rest.chars().next());
                if over_word.is_some_and(|c| scan::is_word(c) && !c.is_ascii_digit()) {
                    let _ = join(&mut whole, &sign("/")).and_then(|()| join(&mut whole, &is_word));
                }
                (Kind::Unit, unit(whole.token.text(source)))
            }
            TokenKind::Sign if after_number && matches!(text, "°" | "%") => {
                if text == "°" {
                    let _ = join(&mut whole, &is_word);
                }
                (Kind::Unit, unit(whole.token.text(source)))
            }
            TokenKind::Text | TokenKind::UnclosedText => (Kind::Text, straight_quotes(text)),
            TokenKind::Word => (Kind::Name, Cow::Borrowed(text)),
            _ => (Kind::Sign, Cow::Borrowed(plain_sign(text))),
        };
        pieces.push(Piece {
            kind,
            text: spelling,
            width: 0,
            gap: 1,
            line_break: Break::Never,
            level: 0,
            on_new_line: whole.on_new_line,
            above: whole.above,
            beside: whole.beside,
        });
    }
    pieces
}

fn clock_time(text: &str) -> Cow<'_, str> {
    if text.find(':') == Some(1) { Cow::Owned(format!("0{text}")) } else { Cow::Borrowed(text) }
}

/// A unit's symbol. A unit that is a word (`day`, `fathom`) keeps its number, and an unknown one all of its letters.
fn unit(written: &str) -> Cow<'_, str> {
    match Unit::find(written) {
        Some(unit) if matches!(unit.symbol, "day" | "fathom") => Cow::Owned(written.to_ascii_lowercase()),
        Some(unit) => Cow::Borrowed(unit.symbol),
        None => Cow::Borrowed(written),
    }
}

fn straight_quotes(text: &str) -> Cow<'_, str> {
    let inner = text.trim_matches(scan::is_quote);
    let straight = text.len() == inner.len() + 2 && text.starts_with('"') && text.ends_with('"');
    if straight { Cow::Borrowed(text) } else { Cow::Owned(format!("\"{inner}\"")) }
}

fn plain_sign(sign: &str) -> &str {
    match sign {
        "≤" => "<=",
        "≥" => ">=",
        "−" => "-",
        "×" => "*",
        other => other,
    }
}

/// Puts a comma that its author wrote below a comment behind the word that the comment stands beside, so that no line
/// begins with a comma.
fn commas_before_comments(pieces: &mut [Piece<'_>]) {
    for at in 1..pieces.len() {
        let (before, rest) = pieces.split_at_mut(at);
        let (Some(previous), [comma, next, ..]) = (before.last_mut(), rest) else { continue };
        if comma.is_sign(",") && comma.beside.is_none() {
            comma.beside = previous.beside.take();
            next.above.splice(..0, comma.above.drain(..));
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::format::format;

    #[track_caller]
    fn becomes(source: &str, wanted: &str) {
        assert_eq!(
            format(source).map_err(|findings| findings[0].message.clone()).as_deref(),
            Ok(&*format!("{wanted}\n"))
        );
    }

    #[test]
    fn units_get_their_symbols() {
        becomes("let x = 62f", "let x = 62 °F");
        becomes("let x = 62 FAHRENHEIT", "let x = 62 °F");
        becomes("let x = 62°c", "let x = 62 °C");
        becomes("let x = 10 °", "let x = 10°");
        becomes("let x = 10 degrees", "let x = 10°");
        becomes("let x = 90percent", "let x = 90 %");
        becomes("let x = 3 feet + 2 INCHES", "let x = 3 ft + 2 in");
        becomes("let x = 5 MG/l", "let x = 5 mg/L");
        becomes("let x = 2 Days + 1 day", "let x = 2 days + 1 day");
        becomes("let x = 3 Cubits", "let x = 3 Cubits");
    }

    #[test]
    fn a_slash_belongs_to_a_unit_only_where_words_touch_it() {
        becomes("let x = 5 ft/min", "let x = 5 ft/min");
        becomes("let x = 5 ft / min", "let x = 5 ft / min");
        becomes("let x = 5 ft/2", "let x = 5 ft / 2");
        becomes("let x = reach/spell", "let x = reach / spell");
        becomes("let x = 5/spell", "let x = 5 / spell");
    }

    #[test]
    fn signs_stand_by_what_they_belong_to() {
        becomes("let x = -4−3", "let x = -4 - 3");
        becomes("let x = a*-(b+ -c)", "let x = a * -(b + -c)");
        becomes("let x = - - a", "let x = - -a");
        becomes("let x = a≥-1", "let x = a >= -1");
        becomes("let x = a at least (b×2)", "let x = a at least (b * 2)");
        becomes("rule \"\" run depth −1 to(a)", "rule \"\" run depth -1 to (a)");
    }

    #[test]
    fn signs_of_numbers_touch_them_in_trials_and_after_a_kind() {
        becomes("trial \"\" given air - 4 °C expect depth 1 ft", "trial \"\" given air -4 °C expect depth 1 ft");
        becomes("trial \"\" given f( a - 1 ) - 4 expect stop", "trial \"\" given f(a - 1) -4 expect stop");
        becomes("trial \"\" given cast[0 ft - 1 °C] expect stop", "trial \"\" given cast [0 ft -1 °C] expect stop");
        becomes("reading x is temperature - 5 to 40 °C", "reading x is temperature -5 to 40 °C");
        becomes("rule \"\" run depth (a) to b", "rule \"\" run depth (a) to b");
        becomes("rule \"\" if strikes (30 MIN) > 2 stop \"\"", "rule \"\" if strikes(30 min) > 2 stop \"\"");
    }

    #[test]
    fn words_of_the_language_are_lower_case_in_their_place_and_names_as_written() {
        becomes("LET One = One IS NOT ONE OF One, Of", "let One = One is not one of One, Of");
        becomes("let x = Least AT LEAST Least", "let x = Least at least Least");
        becomes("READING Good IS One OF Good, Poor, GOOD FOR 1 H", "reading Good is one of Good, Poor, good for 1 h");
        becomes("reading x is LENGTH", "reading x is length");
        becomes("strategy \"\" UNITS US ALSO LURE Species, About", "strategy \"\" units us also lure Species, About");
        becomes("rule \"\" run SLOWER BY Slower", "rule \"\" run slower by Slower");
        becomes(
            "trial \"\" given STRIKE YES, Strike 2 expect stop",
            "trial \"\" given strike yes, Strike 2 expect stop",
        );
    }

    #[test]
    fn trade_words_months_and_compass_points_have_one_form_where_no_name_of_the_file_is_meant() {
        becomes("rule \"\" run LURE Spoon OR Rubber_Duck", "rule \"\" run lure spoon or Rubber_Duck");
        becomes("rule \"\" keep Color NOT Red", "rule \"\" keep colour not red");
        becomes("trial \"\" expect UNKNOWN Color, Pace Red", "trial \"\" expect unknown colour, Pace Red");
        becomes("let x = month is MAY to June", "let x = month is may to june");
        becomes("let x = wind_from is not nne", "let x = wind_from is not NNE");
        becomes(
            "trial \"\" given wind_from sw, month MAY expect stop",
            "trial \"\" given wind_from SW, month may expect stop",
        );
        becomes(
            "reading may is one of May, e\nlet x = may is May or may is e",
            "reading may is one of May, e\n\nlet x = may is May or may is e",
        );
    }

    #[test]
    fn texts_get_straight_quotes_and_keep_what_stands_between_them() {
        becomes("include “a\u{a0}b”", "include \"a\u{a0}b\"");
        becomes("include „‟", "include \"\"");
    }

    #[test]
    fn times_of_day_have_two_digits_for_the_hour() {
        becomes("let x = clock is 5:30 to 22:00", "let x = clock is 05:30 to 22:00");
    }
}
