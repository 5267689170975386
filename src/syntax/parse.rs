//! Statements to tree: the only file that names pest.

use pest::Parser;
use pest::error::{ErrorVariant, InputLocation};
use pest::iterators::{Pair, Pairs};
use pest_derive::Parser;

use super::scan::{self, Slice, Token, TokenKind};
use super::tree::*;
use super::{Parsed, fault};
use crate::findings::{Code, Finding};
use crate::text::{FileId, Span};
use crate::vocabulary::quantity::{Decimal, DecimalError};

#[derive(Parser)]
#[grammar = "../grammar/strategy.pest"]
struct Grammar;

/// Reads one statement into `parsed`, as a tree or as a broken one with what is wrong with it.
pub(super) fn statement(file: FileId, text: &str, slice: &Slice, parsed: &mut Parsed) {
    let (Some(first), Some(last)) = (slice.tokens.first(), slice.tokens.last()) else { return };
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
    let source = text.get(first.start..last.end).unwrap_or("");
    match Grammar::parse(rule, source) {
        Ok(pairs) => {
            let mut build = Build { file, base: first.start, findings: &mut parsed.findings };
            match build.statement(pairs) {
                Some(statement) => parsed.file.statements.push(statement),
                None => parsed.file.statements.push(broken(file, text, slice)),
            }
        }
        Err(error) => {
            let at = first.start
                + match error.location {
                    InputLocation::Pos(at) => at,
                    InputLocation::Span((start, _)) => start,
                };
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
    let word =
        |token: &Token| Word { text: token.text(text).to_owned(), span: Span::new(file, token.start, token.end) };
    let words: Vec<Word> = slice.tokens.iter().filter(|token| token.kind == TokenKind::Word).map(word).collect();
    let keyword = slice.tokens.first().map(word).unwrap_or(Word { text: String::new(), span: Span::default() });
    let name = slice.tokens.get(1).filter(|token| token.kind == TokenKind::Word).map(word);
    Statement::Broken(Broken { keyword, name, words })
}

/// How an expected grammar rule is called in messages; none for those that are never worth naming.
fn human(rule: &Rule) -> Option<&'static str> {
    Some(match rule {
        Rule::text => "a text in quotes",
        Rule::word | Rule::any_word => "a name",
        Rule::number | Rule::quantity | Rule::signed | Rule::literal_range => "a number",
        Rule::literal => "a value",
        Rule::primary | Rule::factor | Rule::product | Rule::sum | Rule::range | Rule::bracket | Rule::call => {
            "a value"
        }
        Rule::condition | Rule::conjunct | Rule::negation | Rule::comparison => "a condition",
        Rule::compare
        | Rule::is_tail
        | Rule::k_is
        | Rule::k_at
        | Rule::less
        | Rule::less_equal
        | Rule::greater
        | Rule::greater_equal
        | Rule::state_tail
        | Rule::k_known
        | Rule::k_unknown
        | Rule::k_changes
        | Rule::chain_tail => "a comparison (`is`, `at least`, `<` ...)",
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
        Rule::run_item | Rule::shift | Rule::decide => "an aspect or a shift",
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
    let pairs = Grammar::parse(Rule::given_literal, text).map_err(|error| given_fault(file, text, &error.location))?;
    let mut findings = Vec::new();
    let mut build = Build { file, base: 0, findings: &mut findings };
    let input = pairs.into_iter().next().and_then(|pair| build.given_input(pair.into_inner()));
    match (input, findings.into_iter().next()) {
        (_, Some(finding)) => Err(finding),
        (Some(input), None) => Ok(input),
        (None, None) => Err(internal(file, 0, text.len())),
    }
}

/// Reads a reading's name, or a call with its arguments.
pub fn parse_given_name(file: FileId, text: &str) -> Result<Expr, Finding> {
    check_short(file, text)?;
    let pairs = Grammar::parse(Rule::given_name, text).map_err(|error| given_fault(file, text, &error.location))?;
    let mut findings = Vec::new();
    let mut build = Build { file, base: 0, findings: &mut findings };
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
    } else {
        scan::scan(file, text).past_a_limit
    };
    limit.map_or(Ok(()), Err)
}

fn given_fault(file: FileId, text: &str, location: &InputLocation) -> Finding {
    let at = match location {
        InputLocation::Pos(at) => *at,
        InputLocation::Span((start, _)) => *start,
    };
    fault::of_value(file, text, at)
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
    base: usize,
    findings: &'f mut Vec<Finding>,
}

type P<'t> = Pair<'t, Rule>;

impl Build<'_> {
    fn span(&self, pair: &P<'_>) -> Span {
        let span = pair.as_span();
        Span::new(self.file, self.base + span.start(), self.base + span.end())
    }

    fn word(&self, pair: P<'_>) -> Word {
        Word { text: pair.as_str().to_owned(), span: self.span(&pair) }
    }

    fn text(&self, pair: P<'_>) -> Text {
        let inner = pair.as_str().trim_matches(scan::is_quote);
        // Only the quotes at the two ends go; a text has none inside.
        Text { text: inner.to_owned(), span: self.span(&pair) }
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
        let item = pair.into_inner().next()?;
        let rule = item.as_rule();
        let mut inner = item.into_inner();
        let word = self.word(inner.next()?);
        if rule == Rule::shift {
            let by = self.sum(inner.last()?)?;
            return Some(RunItem::Shift { word, by });
        }
        let value = inner.next()?;
        let value = match value.as_rule() {
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
                Rule::sum => {
                    let amount = self.sum(part)?;
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

    fn target(&mut self, pair: P<'_>) -> Option<Expr> {
        let span = self.span(&pair);
        match pair.as_rule() {
            Rule::call => self.primary(pair),
            _ => Some(Expr { node: ExprNode::Name(self.word(pair)), span }),
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
            Rule::yes_no => {
                let span = self.span(&inner);
                let yes = inner.into_inner().next()?.as_rule() == Rule::k_yes;
                Some(Literal { value: LiteralValue::YesNo(yes), span })
            }
            _ => self.signed(inner),
        }
    }

    fn signed(&mut self, pair: P<'_>) -> Option<Literal> {
        let span = self.span(&pair);
        let mut negative = false;
        for part in pair.into_inner() {
            match part.as_rule() {
                Rule::minus => negative = true,
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
        let (hour, minute) = pair.as_str().split_once(':')?;
        let (hour, minute): (u32, u32) = (hour.parse().ok()?, minute.parse().ok()?);
        if hour > 23 || minute > 59 {
            let message = format!("`{}` is no time of day", pair.as_str());
            self.findings.push(Finding::new(Code::BadNumber, span, message).help("times run from 00:00 to 23:59"));
        }
        Some(Literal { value: LiteralValue::Clock((hour.min(23)) * 60 + minute.min(59)), span })
    }

    fn quantity(&mut self, pair: P<'_>, negative: bool) -> Option<Literal> {
        let span = self.span(&pair);
        let mut inner = pair.into_inner();
        let number = inner.next()?;
        let number_span = self.span(&number);
        let unit = inner.find(|part| part.as_rule() == Rule::unit).map(|unit| UnitWord(self.word(unit)));
        let decimal = match Decimal::read(number.as_str()) {
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

    fn condition(&mut self, pair: P<'_>) -> Option<Expr> {
        self.joined(pair, Self::conjunct, ExprNode::Or)
    }

    fn conjunct(&mut self, pair: P<'_>) -> Option<Expr> {
        self.joined(pair, Self::negation, ExprNode::And)
    }

    fn joined(
        &mut self,
        pair: P<'_>,
        operand: fn(&mut Self, P<'_>) -> Option<Expr>,
        join: fn(Vec<Expr>) -> ExprNode,
    ) -> Option<Expr> {
        let span = self.span(&pair);
        let operands = pair.into_inner().filter(|part| !matches!(part.as_rule(), Rule::k_or | Rule::k_and));
        let mut operands = operands.map(|part| operand(self, part)).collect::<Option<Vec<_>>>()?;
        if operands.len() == 1 { operands.pop() } else { Some(Expr { node: join(operands), span }) }
    }

    fn negation(&mut self, pair: P<'_>) -> Option<Expr> {
        let whole = self.span(&pair);
        let mut starts = Vec::new();
        let mut inner = None;
        for part in pair.into_inner() {
            match part.as_rule() {
                Rule::k_not => starts.push(self.span(&part)),
                _ => inner = Some(self.comparison(part)?),
            }
        }
        let mut expr = inner?;
        for start in starts.into_iter().rev() {
            expr = Expr { node: ExprNode::Not(Box::new(expr)), span: Span { start: start.start, ..whole } };
        }
        Some(expr)
    }

    fn comparison(&mut self, pair: P<'_>) -> Option<Expr> {
        let span = self.span(&pair);
        let mut inner = pair.into_inner();
        let left = self.sum(inner.next()?)?;
        let Some(tail) = inner.next() else { return Some(left) };
        let node = match tail.as_rule() {
            Rule::state_tail => match tail.into_inner().next()?.as_rule() {
                Rule::k_known => ExprNode::Known(Box::new(left), true),
                Rule::k_unknown => ExprNode::Known(Box::new(left), false),
                _ => ExprNode::Changes(Box::new(left)),
            },
            Rule::is_tail => self.is_tail(left, tail)?,
            _ => {
                let mut links = vec![self.link(tail)?];
                for tail in inner {
                    links.push(self.link(tail)?);
                }
                ExprNode::Compared(Box::new(left), links)
            }
        };
        Some(Expr { node, span })
    }

    fn link(&mut self, pair: P<'_>) -> Option<(Compare, Expr)> {
        let mut inner = pair.into_inner();
        let compare = match inner.next()?.into_inner().last()?.as_rule() {
            Rule::less => Compare::Less,
            Rule::less_equal | Rule::k_most => Compare::AtMost,
            Rule::greater => Compare::Greater,
            _ => Compare::AtLeast,
        };
        Some((compare, self.sum(inner.next()?)?))
    }

    fn is_tail(&mut self, left: Expr, pair: P<'_>) -> Option<ExprNode> {
        let left = Box::new(left);
        let mut negated = false;
        let mut values = Vec::new();
        let mut words = Vec::new();
        for part in pair.into_inner() {
            match part.as_rule() {
                Rule::k_not => negated = true,
                Rule::one_of_word => {
                    let inner = part.into_inner().next()?;
                    words.push(if inner.as_rule() == Rule::word {
                        self.primary(inner)?
                    } else {
                        self.literal_expr(inner)?
                    });
                }
                Rule::sum => values.push(self.sum(part)?),
                _ => {}
            }
        }
        if !words.is_empty() {
            return Some(ExprNode::IsOneOf { left, negated, words });
        }
        let mut values = values.into_iter();
        let right = Box::new(values.next()?);
        Some(ExprNode::Is { left, negated, right, to: values.next().map(Box::new) })
    }

    fn literal_expr(&mut self, pair: P<'_>) -> Option<Expr> {
        let literal = self.signed(pair)?;
        Some(Expr { node: ExprNode::Literal(literal.value), span: literal.span })
    }

    fn range(&mut self, pair: P<'_>) -> Option<RangeExpr> {
        let mut ends = pair.into_inner().filter(|part| part.as_rule() == Rule::sum);
        let from = self.sum(ends.next()?)?;
        let to = match ends.next() {
            Some(end) => Some(self.sum(end)?),
            None => None,
        };
        Some(RangeExpr { from, to })
    }

    fn sum(&mut self, pair: P<'_>) -> Option<Expr> {
        self.chain(pair, Self::product)
    }

    fn product(&mut self, pair: P<'_>) -> Option<Expr> {
        self.chain(pair, Self::factor)
    }

    fn chain(&mut self, pair: P<'_>, operand: fn(&mut Self, P<'_>) -> Option<Expr>) -> Option<Expr> {
        let span = self.span(&pair);
        let mut inner = pair.into_inner();
        let first = operand(self, inner.next()?)?;
        let mut rest = Vec::new();
        while let Some(sign) = inner.next() {
            let arithmetic = match sign.as_rule() {
                Rule::plus => Arithmetic::Plus,
                Rule::minus => Arithmetic::Minus,
                Rule::times => Arithmetic::Times,
                _ => Arithmetic::Over,
            };
            rest.push((arithmetic, operand(self, inner.next()?)?));
        }
        Some(if rest.is_empty() { first } else { Expr { node: ExprNode::Chain(Box::new(first), rest), span } })
    }

    fn factor(&mut self, pair: P<'_>) -> Option<Expr> {
        let whole = self.span(&pair);
        let mut minuses = Vec::new();
        let mut value = None;
        for part in pair.into_inner() {
            match part.as_rule() {
                Rule::minus => minuses.push(self.span(&part)),
                Rule::plus => {}
                _ => value = Some(self.primary(part)?),
            }
        }
        let mut expr = value?;
        for minus in minuses.into_iter().rev() {
            let span = Span { start: minus.start, ..whole };
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

    fn primary(&mut self, pair: P<'_>) -> Option<Expr> {
        let span = self.span(&pair);
        let node = match pair.as_rule() {
            Rule::bracket => ExprNode::Bracket(Box::new(self.condition(pair.into_inner().next()?)?)),
            Rule::clock => ExprNode::Literal(self.clock(pair)?.value),
            Rule::quantity => ExprNode::Literal(self.quantity(pair, false)?.value),
            Rule::yes_no => ExprNode::Literal(self.literal(pair)?.value),
            Rule::call => {
                let mut inner = pair.into_inner();
                let name = self.word(inner.next()?);
                ExprNode::Call(name, inner.map(|argument| self.condition(argument)).collect::<Option<_>>()?)
            }
            _ => ExprNode::Name(self.word(pair)),
        };
        Some(Expr { node, span })
    }
}

fn not_end(pair: &P<'_>) -> bool {
    pair.as_rule() != Rule::EOI
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn takes(rule: Rule, text: &str) {
        let taken = Grammar::parse(rule, text).map(|pairs| pairs.as_str().len());
        assert_eq!(taken.ok(), Some(text.len()), "{text}");
    }

    #[test]
    fn grammar_rules_take_the_whole_of_what_they_should() {
        takes(Rule::condition, "a < b <= c and not x is one of p, q or (y known) is no");
        takes(Rule::condition, "probe - -3 ft at most 2 * reach + 4 ft/min * 2 min");
        takes(Rule::unit, "mg/L");
        takes(Rule::range, "3 # between\n to 10 ft");
        takes(Rule::cast_points, "[0 ft 70 °F, 25 ft 66 °F 8 mg/L]");
        takes(Rule::text, "“curly”");
        takes(Rule::any_word, "été_2");
    }

    // The grammar's set of reserved words and of word characters must be the scanner's.
    #[test]
    fn the_grammar_and_the_scanner_agree_on_words() {
        for word in scan::RESERVED {
            assert!(Grammar::parse(Rule::word, word).is_err(), "{word}");
            takes(Rule::word, &format!("{word}s_own"));
        }
        for c in (0u32..0x3_0000).filter_map(char::from_u32) {
            let starts = Grammar::parse(Rule::any_word, &c.to_string()).is_ok();
            assert_eq!(starts, scan::is_word(c) && !c.is_ascii_digit(), "{c:?}");
        }
    }
}
