//! Statements to tree: the only file that names pest.

use std::iter::Peekable;

use pest::Parser;
use pest::error::{ErrorVariant, InputLocation};
use pest::iterators::{Pair, Pairs};
use pest_derive::Parser;
use smol_str::SmolStr;

use super::scan::{self, Slice, Token, TokenKind};
use super::tree::*;
use super::{MOST_LEVELS, Parsed, fault};
use crate::findings::{Code, Finding};
use crate::text::{FileId, Span};
use crate::vocabulary::quantity::{Decimal, DecimalError};

#[derive(Parser)]
#[grammar = "../grammar/strategy.pest"]
struct Grammar;

/// Reads one statement into `parsed`, as a tree or as a broken one with what is wrong with it.
pub(super) fn statement(file: FileId, text: &str, slice: &Slice, parsed: &mut Parsed) {
    let Some(first) = slice.tokens.first() else { return };
    if let Some(finding) = fault::of_tokens(file, text, &slice.tokens) {
        parsed.findings.push(finding);
        parsed.file.statements.push(broken(file, text, slice));
        return;
    }
    let Some(rule) = rule_of(text, *first) else {
        parsed.findings.push(fault::of_beginning(file, text, &slice.tokens));
        parsed.file.statements.push(broken(file, text, slice));
        return;
    };
    match Grammar::parse(rule, &codes(&slice.tokens)) {
        Ok(pairs) => {
            let mut build = Build { file, text, tokens: &slice.tokens, findings: &mut parsed.findings };
            match build.statement(pairs) {
                Some(statement) => parsed.file.statements.push(statement),
                None => parsed.file.statements.push(broken(file, text, slice)),
            }
        }
        Err(error) => {
            let at = place(&error.location);
            let expected = match &error.variant {
                ErrorVariant::ParsingError { positives, .. } => positives.iter().filter_map(human).collect(),
                ErrorVariant::CustomError { .. } => Vec::new(),
            };
            let found = fault::of_statement(file, text, &slice.tokens, at, expected);
            parsed.findings.push(found.finding);
            match found.misspelt_statement {
                // The word begins a statement of its own: what stands before it is read for itself.
                Some(index) if index > 0 => {
                    let before = Slice { tokens: slice.tokens[..index].to_vec() };
                    statement(file, text, &before, parsed);
                }
                _ => parsed.file.statements.push(broken(file, text, slice)),
            }
        }
    }
}

/// What the grammar reads: a character for each token, so that its places are tokens' indices.
fn codes(tokens: &[Token]) -> String {
    let codes = tokens.iter().map(|token| token.code).collect();
    // Every code is ASCII.
    String::from_utf8(codes).unwrap_or_default()
}

/// The token at which reading stopped.
fn place(location: &InputLocation) -> usize {
    match location {
        InputLocation::Pos(at) => *at,
        InputLocation::Span((start, _)) => *start,
    }
}

fn rule_of(text: &str, first: Token) -> Option<Rule> {
    let rules = [
        Rule::strategy,
        Rule::include,
        Rule::reading,
        Rule::let_statement,
        Rule::rule_statement,
        Rule::ladder,
        Rule::trial,
    ];
    let at = scan::STATEMENT_WORDS.iter().position(|word| first.is(text, word))?;
    rules.get(at).copied()
}

fn broken(file: FileId, text: &str, slice: &Slice) -> Statement {
    let word = |token: &Token| Word { text: token.text(text).into(), span: Span::new(file, token.start, token.end) };
    let words: Vec<Word> = slice.tokens.iter().filter(|token| token.kind == TokenKind::Word).map(word).collect();
    let keyword = slice.tokens.first().map(word).unwrap_or(Word { text: SmolStr::default(), span: Span::default() });
    let name = slice.tokens.get(1).filter(|token| token.kind == TokenKind::Word).map(word);
    Statement::Broken(Broken { keyword, name, words })
}

/// How an expected grammar rule is called in messages; none for those that are never worth naming.
fn human(rule: &Rule) -> Option<&'static str> {
    Some(match rule {
        Rule::text => "a text in quotes",
        Rule::word | Rule::any_word | Rule::name => "a name",
        Rule::quantity | Rule::signed | Rule::literal_range => "a number",
        Rule::literal | Rule::value | Rule::range | Rule::bracket => "a value",
        Rule::condition => "a condition",
        Rule::compare | Rule::order | Rule::is_tail | Rule::state | Rule::k_is | Rule::k_at => {
            "a comparison (`is`, `at least`, `<` ...)"
        }
        Rule::k_least | Rule::k_most => "`least` or `most`",
        Rule::k_to => "`to`",
        Rule::k_by => "`by`",
        Rule::k_of => "`of`",
        Rule::k_if | Rule::if_clause => "`if`",
        Rule::k_run | Rule::run_clause => "`run`",
        Rule::k_keep | Rule::keep_clause => "`keep`",
        Rule::k_stop | Rule::stop_clause => "`stop`",
        Rule::k_caution | Rule::caution_clause => "`caution`",
        Rule::k_because | Rule::because_clause => "`because`",
        Rule::rung | Rule::k_rung => "`rung`",
        Rule::k_only | Rule::only_if => "`only if`",
        Rule::move_ | Rule::step_down | Rule::step_up | Rule::start_over | Rule::k_step | Rule::k_start => {
            "`step down`, `step up` or `start over`"
        }
        Rule::k_down | Rule::k_up => "`down` or `up`",
        Rule::k_over => "`over`",
        Rule::given | Rule::k_given => "`given`",
        Rule::expect | Rule::k_expect => "`expect`",
        Rule::after | Rule::k_after => "`after`",
        Rule::expect_item | Rule::expect_value | Rule::expect_stop | Rule::expect_caution | Rule::expect_unknown => {
            "an aspect or a rung"
        }
        Rule::given_item | Rule::given_value | Rule::given_cast | Rule::given_strike => "a reading",
        Rule::cast_points => "`[`",
        Rule::cast_point => "a depth and what was measured there",
        Rule::run_item | Rule::subject | Rule::shift => "an aspect or a shift",
        Rule::keep_item => "an aspect",
        Rule::kind | Rule::one_of | Rule::yes_or_no => "a kind (`yes or no`, `one of ...`, `length` ...)",
        Rule::header_clause
        | Rule::species
        | Rule::about
        | Rule::units
        | Rule::also
        | Rule::k_species
        | Rule::k_about
        | Rule::k_units
        | Rule::k_also => "`species`, `about`, `units` or `also`",
        Rule::settling | Rule::k_settling => "`settling`",
        Rule::lasting | Rule::k_for => "`for`",
        Rule::unit => "a unit",
        Rule::EOI => "the next statement",
        _ => return None,
    })
}

/// Reads a value as it is written behind a reading's name, in a file, a flag or a request.
pub fn parse_given_value(file: FileId, text: &str) -> Result<GivenInput, Finding> {
    check_short(file, text)?;
    let tokens: Vec<Token> = scan::Tokens::new(text).filter(|token| token.kind != TokenKind::Comment).collect();
    let codes = codes(&tokens);
    let pairs = Grammar::parse(Rule::given_literal, &codes)
        .map_err(|error| fault::of_value(file, text, &tokens, place(&error.location)))?;
    let mut findings = Vec::new();
    let mut build = Build { file, text, tokens: &tokens, findings: &mut findings };
    let input = pairs.into_iter().next().and_then(|pair| build.given_input(pair.into_inner()));
    match (input, findings.into_iter().next()) {
        (_, Some(finding)) => Err(finding),
        (Some(input), None) => Ok(input),
        (None, None) => Err(internal(file, 0, text.len())),
    }
}

/// Reads a reading's name, or a call with its arguments.
pub fn parse_given_name(file: FileId, text: &str) -> Result<Expr, Finding> {
    // Most names are one word, which needs no grammar.
    if text.chars().next().is_some_and(|first| !first.is_ascii_digit()) && text.chars().all(scan::is_word) {
        let span = Span::new(file, 0, text.len());
        return Ok(Expr { node: ExprNode::Name(Word { text: text.into(), span }), span });
    }
    check_short(file, text)?;
    let tokens: Vec<Token> = scan::Tokens::new(text).filter(|token| token.kind != TokenKind::Comment).collect();
    let codes = codes(&tokens);
    let pairs = Grammar::parse(Rule::given_name, &codes)
        .map_err(|error| fault::of_value(file, text, &tokens, place(&error.location)))?;
    let mut findings = Vec::new();
    let mut build = Build { file, text, tokens: &tokens, findings: &mut findings };
    let target = pairs.into_iter().next().and_then(|pair| pair.into_inner().next()).and_then(|pair| build.target(pair));
    match (target, findings.into_iter().next()) {
        (_, Some(finding)) => Err(finding),
        (Some(target), None) => Ok(target),
        (None, None) => Err(internal(file, 0, text.len())),
    }
}

/// Most bytes of a single value: a cast of a few hundred points.
const MOST_VALUE_BYTES: usize = 16 * 1024;

fn check_short(file: FileId, text: &str) -> Result<(), Finding> {
    let limit = if text.len() > MOST_VALUE_BYTES {
        Some(Finding::new(Code::TooLarge, Span::new(file, 0, 0), format!("a value may have {MOST_VALUE_BYTES} bytes")))
    } else if text.len() > MOST_LEVELS {
        scan::scan(file, text).past_a_limit
    } else {
        // Too short to nest too deep.
        None
    };
    limit.map_or(Ok(()), Err)
}

/// A value given from outside a strategy.
#[derive(Clone, Debug, PartialEq)]
pub enum GivenInput {
    /// A literal, a word, or `unknown`.
    Value(GivenValue),
    /// The points of a cast.
    Cast(Vec<CastPoint>),
}

fn internal(file: FileId, start: usize, end: usize) -> Finding {
    Finding::new(Code::Syntax, Span::new(file, start, end), "this can't be read, and Leadsman does not know why")
        .help("please report it with the file: it is a fault of Leadsman")
}

struct Build<'f> {
    file: FileId,
    text: &'f str,
    tokens: &'f [Token],
    findings: &'f mut Vec<Finding>,
}

type P<'t> = Pair<'t, Rule>;

impl<'f> Build<'f> {
    /// From a pair's first token to its last.
    fn span(&self, pair: &P<'_>) -> Span {
        let span = pair.as_span();
        let start = self.tokens.get(span.start()).map_or(0, |first| first.start);
        let last = self.tokens.get(span.start()..span.end()).and_then(<[Token]>::last);
        Span::new(self.file, start, last.map_or(start, |last| last.end))
    }

    fn str(&self, span: Span) -> &'f str {
        self.text.get(span.start as usize..span.end as usize).unwrap_or("")
    }

    fn word(&self, pair: P<'_>) -> Word {
        let span = self.span(&pair);
        Word { text: self.str(span).into(), span }
    }

    fn text(&self, pair: P<'_>) -> Text {
        let span = self.span(&pair);
        // Only the quotes at the two ends go; a text has none inside.
        Text { text: self.str(span).trim_matches(scan::is_quote).to_owned(), span }
    }

    fn statement(&mut self, pairs: Pairs<'_, Rule>) -> Option<Statement> {
        let pair = pairs.into_iter().next()?;
        let rule = pair.as_rule();
        let mut inner = pair.into_inner();
        let keyword = self.word(inner.next()?);
        Some(match rule {
            Rule::strategy => Statement::Strategy(self.header(keyword, inner)?),
            Rule::include => Statement::Include(Include { path: self.text(inner.next()?), keyword }),
            Rule::reading => Statement::Reading(self.reading(inner)?),
            Rule::let_statement => Statement::Let(self.let_statement(inner)?),
            Rule::rule_statement => {
                let name = self.text(inner.next()?);
                let clauses = inner.filter(not_end).map(|pair| self.clause(pair)).collect::<Option<_>>()?;
                Statement::Rule(super::tree::Rule { name, clauses, keyword })
            }
            Rule::ladder => Statement::Ladder(self.ladder(keyword, inner)?),
            Rule::trial => Statement::Trial(self.trial(keyword, inner)?),
            _ => return None,
        })
    }

    fn header(&mut self, keyword: Word, mut inner: Pairs<'_, Rule>) -> Option<Header> {
        let name = self.text(inner.next()?);
        let mut clauses = Vec::new();
        for pair in inner.filter(not_end) {
            let clause = pair.into_inner().next()?;
            let rule = clause.as_rule();
            let mut parts = clause.into_inner();
            let keyword = self.word(parts.next()?);
            let first = parts.next()?;
            clauses.push(match rule {
                Rule::species => HeaderClause::Species(keyword, self.text(first)),
                Rule::about => HeaderClause::About(keyword, self.text(first)),
                Rule::units => HeaderClause::Units(keyword, self.word(first)),
                _ => HeaderClause::Also {
                    keyword,
                    aspect: self.word(first),
                    names: parts.map(|pair| self.word(pair)).collect(),
                },
            });
        }
        Some(Header { name, clauses, keyword })
    }

    fn reading(&mut self, mut inner: Pairs<'_, Rule>) -> Option<Reading> {
        let name = self.word(inner.next()?);
        let mut reading = Reading { name, kind: KindSpec::YesNo, plausible: None, good_for: None };
        for pair in inner {
            match pair.as_rule() {
                Rule::kind => reading.kind = self.kind(pair.into_inner().next()?)?,
                Rule::range => reading.plausible = Some(self.range(pair)?),
                Rule::quantity => reading.good_for = Some(self.quantity(pair, false)?),
                _ => {}
            }
        }
        Some(reading)
    }

    fn kind(&mut self, pair: P<'_>) -> Option<KindSpec> {
        match pair.as_rule() {
            Rule::yes_or_no => Some(KindSpec::YesNo),
            Rule::one_of => {
                let mut words = Vec::new();
                let mut ordered = false;
                for part in pair.into_inner() {
                    match part.as_rule() {
                        Rule::any_word => words.push(self.word(part)),
                        Rule::one_of_ordered => {
                            ordered = true;
                            words.extend(part.into_inner().map(|word| self.word(word)));
                        }
                        Rule::one_of_free => words.extend(part.into_inner().map(|word| self.word(word))),
                        _ => {}
                    }
                }
                Some(KindSpec::OneOf { words, ordered })
            }
            _ => Some(KindSpec::Named(self.word(pair))),
        }
    }

    fn let_statement(&mut self, mut inner: Pairs<'_, Rule>) -> Option<Let> {
        let name = self.word(inner.next()?);
        let value = self.condition(inner.next()?)?;
        let mut statement = Let { name, value, to: None, timing: None };
        for pair in inner {
            match pair.as_rule() {
                Rule::condition => statement.to = Some(self.condition(pair)?),
                Rule::settling => statement.timing = Some(Timing::Settling(self.last_quantity(pair)?)),
                Rule::lasting => statement.timing = Some(Timing::For(self.last_quantity(pair)?)),
                _ => {}
            }
        }
        Some(statement)
    }

    fn last_quantity(&mut self, pair: P<'_>) -> Option<Literal> {
        let quantity = pair.into_inner().last()?;
        self.quantity(quantity, false)
    }

    fn clause(&mut self, pair: P<'_>) -> Option<Clause> {
        let rule = pair.as_rule();
        let mut inner = pair.into_inner();
        let keyword = self.word(inner.next()?);
        Some(match rule {
            Rule::if_clause => Clause::If(keyword, self.condition(inner.next()?)?),
            Rule::run_clause => Clause::Run(keyword, inner.map(|item| self.run_item(item)).collect::<Option<_>>()?),
            Rule::keep_clause => Clause::Keep(keyword, inner.map(|item| self.keep_item(item)).collect::<Option<_>>()?),
            Rule::stop_clause => Clause::Stop(keyword, self.text(inner.next()?)),
            Rule::caution_clause => Clause::Caution(keyword, self.text(inner.next()?)),
            _ => Clause::Because(keyword, self.text(inner.next()?)),
        })
    }

    fn run_item(&mut self, pair: P<'_>) -> Option<RunItem> {
        let mut inner = pair.into_inner();
        let word = self.word(inner.next()?);
        let value = inner.next()?;
        let value = match value.as_rule() {
            Rule::shift => return Some(RunItem::Shift { word, by: self.value(value.into_inner().last()?)? }),
            Rule::words => RunValue::Words(self.words(value)),
            _ => RunValue::Range(self.range(value)?),
        };
        Some(RunItem::Decide { aspect: word, value })
    }

    fn words(&mut self, pair: P<'_>) -> Vec<Word> {
        pair.into_inner().filter(|part| part.as_rule() == Rule::word).map(|word| self.word(word)).collect()
    }

    fn keep_item(&mut self, pair: P<'_>) -> Option<KeepItem> {
        let span = SpanOnly(self.span(&pair));
        let mut inner = pair.into_inner();
        let aspect = self.word(inner.next()?);
        let mut at_least = false;
        let mut limit = None;
        for part in inner {
            match part.as_rule() {
                Rule::k_least => at_least = true,
                Rule::value => {
                    let amount = self.value(part)?;
                    limit = Some(if at_least { LimitSpec::AtLeast(amount) } else { LimitSpec::AtMost(amount) });
                }
                Rule::word => limit = Some(LimitSpec::Not(self.word(part))),
                _ => {}
            }
        }
        Some(KeepItem { aspect, limit: limit?, span })
    }

    fn ladder(&mut self, keyword: Word, mut inner: Pairs<'_, Rule>) -> Option<Ladder> {
        let name = self.word(inner.next()?);
        let mut ladder = Ladder { name, title: None, rungs: Vec::new(), moves: Vec::new(), keyword };
        for pair in inner {
            match pair.as_rule() {
                Rule::text => ladder.title = Some(self.text(pair)),
                Rule::rung => ladder.rungs.push(self.rung(pair)?),
                Rule::move_ => ladder.moves.push(self.ladder_move(pair)?),
                _ => {}
            }
        }
        Some(ladder)
    }

    fn rung(&mut self, pair: P<'_>) -> Option<Rung> {
        let mut rung = None;
        for part in pair.into_inner() {
            match (part.as_rule(), &mut rung) {
                (Rule::any_word, slot) => {
                    *slot = Some(Rung { name: self.word(part), run: Vec::new(), only_if: None, because: None });
                }
                (Rule::run_item, Some(rung)) => rung.run.push(self.run_item(part)?),
                (Rule::only_if, Some(rung)) => rung.only_if = Some(self.condition(part.into_inner().last()?)?),
                (Rule::because_clause, Some(rung)) => rung.because = Some(self.text(part.into_inner().last()?)),
                _ => {}
            }
        }
        rung
    }

    fn ladder_move(&mut self, pair: P<'_>) -> Option<Move> {
        let span = SpanOnly(self.span(&pair));
        let mut inner = pair.into_inner();
        let direction = match inner.next()?.as_rule() {
            Rule::step_down => Direction::Down,
            Rule::step_up => Direction::Up,
            _ => Direction::Over,
        };
        let condition = self.condition(inner.last()?)?;
        Some(Move { direction, condition, span })
    }

    fn trial(&mut self, keyword: Word, mut inner: Pairs<'_, Rule>) -> Option<Trial> {
        let name = self.text(inner.next()?);
        let mut first = Part { after: None, given: Vec::new(), expect: Vec::new(), span: SpanOnly(keyword.span) };
        let mut parts = Vec::new();
        for pair in inner {
            match pair.as_rule() {
                Rule::given => first.given = self.given(pair)?,
                Rule::expect => first.expect = self.expect(pair)?,
                Rule::after => parts.push(self.part(pair)?),
                _ => {}
            }
        }
        parts.insert(0, first);
        Some(Trial { name, parts, keyword })
    }

    fn part(&mut self, pair: P<'_>) -> Option<Part> {
        let mut part = Part { after: None, given: Vec::new(), expect: Vec::new(), span: SpanOnly(self.span(&pair)) };
        for piece in pair.into_inner() {
            match piece.as_rule() {
                Rule::quantity => part.after = Some(self.quantity(piece, false)?),
                Rule::given => part.given = self.given(piece)?,
                Rule::expect => part.expect = self.expect(piece)?,
                _ => {}
            }
        }
        Some(part)
    }

    fn given(&mut self, pair: P<'_>) -> Option<Vec<Given>> {
        let items = pair.into_inner().filter(|item| item.as_rule() == Rule::given_item);
        items.map(|item| self.given_item(item.into_inner().next()?)).collect()
    }

    fn given_item(&mut self, pair: P<'_>) -> Option<Given> {
        let rule = pair.as_rule();
        let mut inner = pair.into_inner();
        let first = inner.next()?;
        Some(match rule {
            Rule::given_cast => Given::Cast(self.word(first), self.cast_points(inner.next()?)?),
            Rule::given_strike => Given::Strike(self.word(first), self.literal(inner.next()?)?),
            _ => {
                let target = self.target(first)?;
                Given::Value { target, value: self.given_value(inner.next()?)? }
            }
        })
    }

    fn given_value(&mut self, pair: P<'_>) -> Option<GivenValue> {
        Some(match pair.as_rule() {
            Rule::k_unknown => GivenValue::Unknown(self.word(pair)),
            Rule::literal => GivenValue::Literal(self.literal(pair)?),
            _ => GivenValue::Word(self.word(pair)),
        })
    }

    fn given_input(&mut self, mut inner: Pairs<'_, Rule>) -> Option<GivenInput> {
        let pair = inner.next()?;
        Some(match pair.as_rule() {
            Rule::cast_points => GivenInput::Cast(self.cast_points(pair)?),
            _ => GivenInput::Value(self.given_value(pair)?),
        })
    }

    /// A name, or a call: its word comes first.
    fn target(&mut self, pair: P<'_>) -> Option<Expr> {
        match pair.as_rule() {
            Rule::name => {
                let mut inner = pair.into_inner().peekable();
                let word = inner.next()?;
                self.name(word, &mut inner)
            }
            _ => self.name(pair, &mut std::iter::empty().peekable()),
        }
    }

    fn cast_points(&mut self, pair: P<'_>) -> Option<Vec<CastPoint>> {
        let points = pair.into_inner().filter(|part| part.as_rule() == Rule::cast_point);
        points
            .map(|point| {
                let span = SpanOnly(self.span(&point));
                let values = point.into_inner().map(|value| self.signed(value)).collect::<Option<_>>()?;
                Some(CastPoint { values, span })
            })
            .collect()
    }

    fn expect(&mut self, pair: P<'_>) -> Option<Vec<Expect>> {
        let items = pair.into_inner().filter(|item| item.as_rule() == Rule::expect_item);
        items.map(|item| self.expect_item(item.into_inner().next()?)).collect()
    }

    fn expect_item(&mut self, pair: P<'_>) -> Option<Expect> {
        let rule = pair.as_rule();
        let mut inner = pair.into_inner().peekable();
        let wanted = inner.next_if(|part| part.as_rule() == Rule::k_no).is_none();
        let keyword = self.word(inner.next()?);
        Some(match rule {
            Rule::expect_unknown => Expect::Unknown(self.word(inner.next()?)),
            Rule::expect_stop => Expect::Stop { keyword, wanted, text: inner.next().map(|text| self.text(text)) },
            Rule::expect_caution => Expect::Caution { keyword, wanted, text: inner.next().map(|text| self.text(text)) },
            _ => {
                let value = inner.next()?;
                let value = match value.as_rule() {
                    Rule::expect_words => ExpectValue::Words(self.words(value)),
                    _ => {
                        let mut ends = value.into_inner().filter(|end| end.as_rule() == Rule::signed);
                        let from = self.signed(ends.next()?)?;
                        let to = match ends.next() {
                            Some(end) => Some(self.signed(end)?),
                            None => None,
                        };
                        ExpectValue::Range(from, to)
                    }
                };
                Expect::Value { name: keyword, value }
            }
        })
    }

    // Literals

    fn literal(&mut self, pair: P<'_>) -> Option<Literal> {
        let inner = if pair.as_rule() == Rule::literal { pair.into_inner().next()? } else { pair };
        match inner.as_rule() {
            Rule::yes_no => Some(self.yes_no(&inner)),
            _ => self.signed(inner),
        }
    }

    fn yes_no(&self, pair: &P<'_>) -> Literal {
        let span = self.span(pair);
        Literal { value: LiteralValue::YesNo(pair.as_str() == "Y"), span }
    }

    fn signed(&mut self, pair: P<'_>) -> Option<Literal> {
        let span = self.span(&pair);
        let mut negative = false;
        for part in pair.into_inner() {
            match part.as_rule() {
                Rule::sign => negative = is_minus(&part),
                Rule::clock => {
                    let clock = self.clock(part)?;
                    if negative {
                        self.findings.push(Finding::new(Code::BadNumber, span, "a time of day has no sign"));
                    }
                    return Some(Literal { span, ..clock });
                }
                Rule::quantity => {
                    let literal = self.quantity(part, negative)?;
                    return Some(Literal { span, ..literal });
                }
                _ => {}
            }
        }
        None
    }

    fn clock(&mut self, pair: P<'_>) -> Option<Literal> {
        let span = self.span(&pair);
        let (hour, minute) = self.str(span).split_once(':')?;
        let (hour, minute): (u32, u32) = (hour.parse().ok()?, minute.parse().ok()?);
        if hour > 23 || minute > 59 {
            let message = format!("`{}` is no time of day", self.str(span));
            self.findings.push(Finding::new(Code::BadNumber, span, message).help("times run from 00:00 to 23:59"));
        }
        Some(Literal { value: LiteralValue::Clock((hour.min(23)) * 60 + minute.min(59)), span })
    }

    fn quantity(&mut self, pair: P<'_>, negative: bool) -> Option<Literal> {
        let span = self.span(&pair);
        let number = self.tokens.get(pair.as_span().start())?;
        let number_span = Span::new(self.file, number.start, number.end);
        let unit = pair.into_inner().next().map(|unit| UnitWord(self.word(unit)));
        let decimal = match Decimal::read(self.str(number_span)) {
            Ok(decimal) => decimal,
            Err(error) => {
                let message = match error {
                    DecimalError::TooLong => "a number may have 15 digits before the point",
                    DecimalError::TooFine => "a number may have 9 digits after the point",
                    DecimalError::NotANumber => "this is no number",
                };
                self.findings.push(Finding::new(Code::BadNumber, number_span, message));
                Decimal { digits: 0, places: 0 }
            }
        };
        let decimal = if negative { decimal.negated() } else { decimal };
        Some(Literal { value: LiteralValue::Number(decimal, unit), span })
    }

    // Expressions

    /// Comparisons joined by `and` and, looser, by `or`.
    fn condition(&mut self, pair: P<'_>) -> Option<Expr> {
        let mut inner = pair.into_inner().peekable();
        let first = self.negation(&mut inner)?;
        if inner.peek().is_none() {
            return Some(first);
        }
        let mut alternatives = Vec::new();
        let mut together = vec![first];
        while let Some(joint) = inner.next() {
            if joint.as_str() == "O" {
                alternatives.push(joined(std::mem::take(&mut together), ExprNode::And)?);
            }
            together.push(self.negation(&mut inner)?);
        }
        alternatives.push(joined(together, ExprNode::And)?);
        joined(alternatives, ExprNode::Or)
    }

    fn negation(&mut self, inner: &mut Inner<'_>) -> Option<Expr> {
        let mut starts = Vec::new();
        while let Some(not) = inner.next_if(|part| part.as_rule() == Rule::k_not) {
            starts.push(self.span(&not));
        }
        let mut expr = self.comparison(inner)?;
        for start in starts.into_iter().rev() {
            let span = start.to(expr.span);
            expr = Expr { node: ExprNode::Not(Box::new(expr)), span };
        }
        Some(expr)
    }

    fn comparison(&mut self, inner: &mut Inner<'_>) -> Option<Expr> {
        let left = self.value(inner.next()?)?;
        let start = left.span;
        let is_tail = |part: &P<'_>| matches!(part.as_rule(), Rule::is_tail | Rule::state | Rule::compare);
        let Some(tail) = inner.next_if(is_tail) else { return Some(left) };
        let end = self.span(&tail);
        let left = Box::new(left);
        match tail.as_rule() {
            Rule::state => {
                let node = match tail.as_str() {
                    "J" => ExprNode::Known(left, true),
                    "U" => ExprNode::Known(left, false),
                    _ => ExprNode::Changes(left),
                };
                Some(Expr { node, span: start.to(end) })
            }
            Rule::is_tail => Some(Expr { node: self.is_tail(left, tail)?, span: start.to(end) }),
            _ => {
                let mut links = vec![(self.compare(tail)?, self.value(inner.next()?)?)];
                while let Some(next) = inner.next_if(is_tail) {
                    links.push((self.compare(next)?, self.value(inner.next()?)?));
                }
                let span = start.to(links.last()?.1.span);
                Some(Expr { node: ExprNode::Compared(left, links), span })
            }
        }
    }

    fn compare(&self, pair: P<'_>) -> Option<Compare> {
        let sign = pair.into_inner().last()?;
        Some(match (sign.as_rule(), sign.as_str()) {
            (Rule::k_most, _) | (_, "{") => Compare::AtMost,
            (_, "<") => Compare::Less,
            (_, ">") => Compare::Greater,
            _ => Compare::AtLeast,
        })
    }

    fn is_tail(&mut self, left: Box<Expr>, pair: P<'_>) -> Option<ExprNode> {
        let mut negated = false;
        let (mut right, mut to) = (None, None);
        let mut words = Vec::new();
        for part in pair.into_inner() {
            match part.as_rule() {
                Rule::k_not => negated = true,
                Rule::one_of_word => {
                    let inner = part.into_inner().next()?;
                    words.push(if inner.as_rule() == Rule::word {
                        self.target(inner)?
                    } else {
                        self.literal_expr(inner)?
                    });
                }
                Rule::value if right.is_none() => right = Some(Box::new(self.value(part)?)),
                Rule::value => to = Some(Box::new(self.value(part)?)),
                _ => {}
            }
        }
        if !words.is_empty() {
            return Some(ExprNode::IsOneOf { left, negated, words });
        }
        Some(ExprNode::Is { left, negated, right: right?, to })
    }

    fn literal_expr(&mut self, pair: P<'_>) -> Option<Expr> {
        self.signed(pair).map(of_literal)
    }

    fn range(&mut self, pair: P<'_>) -> Option<RangeExpr> {
        let mut ends = pair.into_inner().filter(|part| part.as_rule() == Rule::value);
        let from = self.value(ends.next()?)?;
        let to = match ends.next() {
            Some(end) => Some(self.value(end)?),
            None => None,
        };
        Some(RangeExpr { from, to })
    }

    /// Operands joined by `*` and `/` and, looser, by `+` and `-`.
    fn value(&mut self, pair: P<'_>) -> Option<Expr> {
        let mut inner = pair.into_inner().peekable();
        let first = self.operand(&mut inner)?;
        if inner.peek().is_none() {
            return Some(first);
        }
        let mut sum: Vec<(Arithmetic, Expr)> = Vec::new();
        let mut product = (Arithmetic::Plus, first, Vec::new());
        while let Some(sign) = inner.next() {
            let arithmetic = match sign.as_str() {
                "+" => Arithmetic::Plus,
                "-" => Arithmetic::Minus,
                "/" | "|" => Arithmetic::Over,
                _ => Arithmetic::Times,
            };
            let operand = self.operand(&mut inner)?;
            if matches!(arithmetic, Arithmetic::Times | Arithmetic::Over) {
                product.2.push((arithmetic, operand));
            } else {
                let (before, first, rest) = std::mem::replace(&mut product, (arithmetic, operand, Vec::new()));
                sum.push((before, chain(first, rest)));
            }
        }
        let (before, first, rest) = product;
        sum.push((before, chain(first, rest)));
        let mut terms = sum.into_iter();
        let (_, first) = terms.next()?;
        Some(chain(first, terms.collect()))
    }

    fn operand(&mut self, inner: &mut Inner<'_>) -> Option<Expr> {
        let mut signs = Vec::new();
        while let Some(sign) = inner.next_if(|part| part.as_rule() == Rule::sign) {
            if is_minus(&sign) {
                signs.push(self.span(&sign));
            }
        }
        let mut expr = self.primary(inner)?;
        for minus in signs.into_iter().rev() {
            let span = minus.to(expr.span);
            // A sign belongs to its literal.
            let node = match expr.node {
                ExprNode::Literal(LiteralValue::Number(decimal, unit)) => {
                    ExprNode::Literal(LiteralValue::Number(decimal.negated(), unit))
                }
                _ => ExprNode::Negated(Box::new(expr)),
            };
            expr = Expr { node, span };
        }
        Some(expr)
    }

    fn primary(&mut self, inner: &mut Inner<'_>) -> Option<Expr> {
        let pair = inner.next()?;
        match pair.as_rule() {
            Rule::bracket => {
                let span = self.span(&pair);
                let node = ExprNode::Bracket(Box::new(self.condition(pair.into_inner().next()?)?));
                Some(Expr { node, span })
            }
            Rule::clock => self.clock(pair).map(of_literal),
            Rule::quantity => self.quantity(pair, false).map(of_literal),
            Rule::yes_no => Some(of_literal(self.yes_no(&pair))),
            _ => self.name(pair, inner),
        }
    }

    /// A word and the arguments that may follow it.
    fn name<'t>(&mut self, word: P<'t>, inner: &mut Peekable<impl Iterator<Item = P<'t>>>) -> Option<Expr> {
        let word = self.word(word);
        let span = word.span;
        let Some(arguments) = inner.next_if(|part| part.as_rule() == Rule::arguments) else {
            return Some(Expr { node: ExprNode::Name(word), span });
        };
        let span = span.to(self.span(&arguments));
        let arguments = arguments.into_inner().map(|argument| self.condition(argument)).collect::<Option<_>>()?;
        Some(Expr { node: ExprNode::Call(word, arguments), span })
    }
}

type Inner<'t> = Peekable<Pairs<'t, Rule>>;

fn is_minus(sign: &P<'_>) -> bool {
    sign.as_str() == "-"
}

fn of_literal(literal: Literal) -> Expr {
    Expr { node: ExprNode::Literal(literal.value), span: literal.span }
}

/// An operand as it is, more of them as a chain.
fn chain(first: Expr, rest: Vec<(Arithmetic, Expr)>) -> Expr {
    match rest.last() {
        Some((_, last)) => {
            let span = first.span.to(last.span);
            Expr { node: ExprNode::Chain(Box::new(first), rest), span }
        }
        None => first,
    }
}

/// One part as it is, more of them joined.
fn joined(mut parts: Vec<Expr>, join: fn(Vec<Expr>) -> ExprNode) -> Option<Expr> {
    let span = parts.first()?.span.to(parts.last()?.span);
    if parts.len() == 1 { parts.pop() } else { Some(Expr { node: join(parts), span }) }
}

fn not_end(pair: &P<'_>) -> bool {
    pair.as_rule() != Rule::EOI
}

#[cfg(test)]
mod tests {
    use super::*;

    fn coded(text: &str) -> String {
        codes(&scan::Tokens::new(text).filter(|token| token.kind != TokenKind::Comment).collect::<Vec<_>>())
    }

    #[track_caller]
    fn takes(rule: Rule, text: &str) {
        let coded = coded(text);
        let taken = Grammar::parse(rule, &coded).map(|pairs| pairs.as_str().len());
        assert_eq!(taken.ok(), Some(coded.len()), "{text}");
    }

    #[test]
    fn grammar_rules_take_the_whole_of_what_they_should() {
        takes(Rule::condition, "a < b <= c and not x is one of p, q or (y known) is no");
        takes(Rule::condition, "probe - -3 ft at most 2 * reach + 4 ft/min * 2 min");
        takes(Rule::unit, "mg/L");
        takes(Rule::unit, "°F");
        takes(Rule::clock, "05:30");
        takes(Rule::range, "3 # between\n to 10 ft");
        takes(Rule::cast_points, "[0 ft 70 °F, 25 ft 66 °F 8 mg/L]");
        takes(Rule::text, "“curly”");
        takes(Rule::any_word, "été_2");
    }

    #[test]
    fn blanks_count_in_units_and_times() {
        for (rule, text) in [
            (Rule::unit, "mg / L"),
            (Rule::unit, "ft/ min"),
            (Rule::unit, "ft/2"),
            (Rule::unit, "° F"),
            (Rule::unit, "°Fs"),
            (Rule::clock, "05: 30"),
            (Rule::clock, "105:30"),
            (Rule::clock, "05:305"),
            (Rule::clock, "05:30:00"),
        ] {
            let coded = coded(text);
            let taken = Grammar::parse(rule, &coded).map_or(0, |pairs| pairs.as_str().len());
            assert!(taken < coded.len(), "{text}");
        }
    }

    // The grammar's words must be the scanner's: each has a rule named after it, or stands in one that takes two or three.
    #[test]
    fn the_grammar_and_the_scanner_agree_on_words() {
        let mut named = 0;
        for rule in Rule::all_rules() {
            if let Some(word) = format!("{rule:?}").strip_prefix("k_") {
                takes(*rule, word);
                takes(*rule, &word.to_uppercase());
                assert!(Grammar::parse(*rule, "w").is_err(), "{word}");
                named += 1;
            }
        }
        assert_eq!(named, scan::RESERVED.len() + scan::IN_PLACE.len() - 3);
        for (rule, words) in [
            (Rule::yes_no, &["yes", "no"][..]),
            (Rule::joint, &["and", "or"]),
            (Rule::state, &["known", "unknown", "changes"]),
        ] {
            words.iter().for_each(|word| takes(rule, word));
        }
        for word in scan::RESERVED {
            assert!(Grammar::parse(Rule::word, &coded(word)).is_err(), "{word}");
            takes(Rule::any_word, word);
            takes(Rule::word, &format!("{word}s_own"));
        }
    }
}
