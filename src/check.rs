//! Tree to checked strategy.
//!
//! [`load`] gathers the files, `names` says what every name is, `kinds` what every expression is, `rules` and `trials`
//! turn statements into the parts of a [`Program`]. Only where no error was found is there a program, and only then do
//! `doubts` (what is legal and probably not meant) look at it.

mod doubts;
pub mod given;
mod kinds;
pub mod load;
mod names;
mod reason;
mod rules;
mod trials;
pub mod values;

use std::sync::{Arc, OnceLock};

use crate::findings::{Code, Finding, Findings};
use crate::program::Program;
use crate::syntax::tree::{HeaderClause, Statement};
use crate::text::{FileId, SourceFile, Sources, Span};
use crate::vocabulary::print::System;

pub use doubts::Example;
pub use load::{IncludeError, Includes, NoIncludes};

/// What checking found.
#[derive(Debug)]
pub struct Checked {
    /// The files that were read.
    pub sources: Arc<Sources>,
    /// The program, where there is no error.
    pub program: Option<Arc<Program>>,
    /// What was found, in the order of places. Where there is an error, warnings wait.
    pub findings: Vec<Finding>,
    /// Examples in the findings that running can confirm; see [`crate::proof`].
    pub examples: Vec<Example>,
}

/// A program without a strategy, for the catalogue's readings alone; there always is one.
pub fn without_strategy() -> Option<Arc<Program>> {
    check("readings", "strategy \"readings\"", &NoIncludes).program
}

/// Checks a strategy: the text of its first file, the name to show for it, and where its includes are found.
pub fn check(name: &str, text: &str, includes: &dyn Includes) -> Checked {
    check_bytes(name, text.as_bytes().to_vec(), includes)
}

/// The same for bytes, which may turn out to be no text.
pub fn check_bytes(name: &str, bytes: Vec<u8>, includes: &dyn Includes) -> Checked {
    check_with_lets(name, bytes, includes, &[])
}

/// The same with some lets changed, each written `NAME = VALUE`; a let that is not there is a finding.
pub fn check_with_lets(name: &str, bytes: Vec<u8>, includes: &dyn Includes, lets: &[String]) -> Checked {
    let mut loaded = load::load(name, bytes, includes);
    for changed in lets {
        loaded.change_let(changed);
    }
    let mut findings = Findings::default();
    findings.extend(std::mem::take(&mut loaded.findings));
    let sources = Arc::new(loaded.sources);
    if loaded.unreadable {
        return Checked { sources, program: None, findings: findings.in_order(), examples: Vec::new() };
    }
    let program = lower(&loaded.statements, loaded.include_failed, &sources, &mut findings);
    let program = program.filter(|_| !findings.has_errors()).map(Arc::new);
    let examples = program.as_ref().map(|program| doubts::look(program, &mut findings)).unwrap_or_default();
    Checked { sources, program, findings: findings.in_order(), examples }
}

/// Whether a file that could be read has no `strategy` statement, so that it can only be included.
pub fn has_header(text: &str) -> bool {
    let source = SourceFile::new("", text);
    let parsed = crate::syntax::parse(FileId(0), &source);
    let is_header = |statement: &Statement| match statement {
        Statement::Strategy(_) => true,
        Statement::Broken(broken) => broken.keyword.is("strategy"),
        _ => false,
    };
    parsed.file.statements.iter().any(is_header)
}

fn lower(
    statements: &[Statement],
    include_failed: bool,
    sources: &Arc<Sources>,
    findings: &mut Findings,
) -> Option<Program> {
    let mut checker = names::Checker::new(sources.clone(), include_failed);
    let header = header(statements, &mut checker);
    checker.declare(statements);
    checker.lower_lets(statements);
    let order = checker.lower_rules(statements);
    let trials = checker.lower_trials(statements);
    checker.report_unused();
    let names::Checker {
        findings: found,
        sets,
        aspects,
        inputs,
        own,
        lets,
        ladders,
        rules,
        changes,
        works_out_calls,
        ..
    } = checker;
    findings.extend(found);
    Some(Program {
        name: header.name?,
        span: header.span,
        species: header.species,
        about: header.about,
        system: header.system,
        sources: sources.clone(),
        sets,
        aspects,
        inputs,
        own,
        lets,
        rules,
        ladders,
        order,
        changes: changes as usize,
        works_out_calls,
        trials,
        ready: OnceLock::new(),
    })
}

#[derive(Default)]
struct HeaderParts {
    span: Span,
    name: Option<String>,
    species: Option<String>,
    about: Option<String>,
    system: System,
}

fn header(statements: &[Statement], checker: &mut names::Checker) -> HeaderParts {
    let mut parts = HeaderParts::default();
    let first = FileId(0);
    let is_header = |statement: &&Statement| match statement {
        Statement::Strategy(_) => true,
        Statement::Broken(broken) => broken.keyword.is("strategy"),
        _ => false,
    };
    let headers: Vec<&Statement> = statements.iter().filter(is_header).collect();
    let Some(found) = headers.first() else {
        no_header(statements, first, checker);
        return parts;
    };
    if !statements.first().is_some_and(|statement| std::ptr::eq(statement, *found)) {
        let span = keyword_span(found);
        let finding = Finding::new(Code::NoStrategy, span, "`strategy` comes first in a file")
            .help("move it above all other statements");
        checker.findings.push(finding);
    }
    for again in headers.iter().skip(1) {
        let span = keyword_span(again);
        let line = checker.sources.place(keyword_span(found)).line;
        let message = format!("a file has one `strategy`; the first stands in line {line}");
        checker.findings.push(Finding::new(Code::ClauseTwice, span, message));
    }
    let Statement::Strategy(header) = found else {
        checker.forgives_words = true;
        return parts;
    };
    parts.name = Some(header.name.text.clone());
    parts.span = header.keyword.span;
    let mut seen: Vec<(&str, Span)> = Vec::new();
    for clause in &header.clauses {
        let (word, span) = match clause {
            HeaderClause::Species(keyword, text) => {
                parts.species.get_or_insert(text.text.clone());
                ("species", keyword.span)
            }
            HeaderClause::About(keyword, text) => {
                parts.about.get_or_insert(text.text.clone());
                ("about", keyword.span)
            }
            HeaderClause::Units(keyword, word) => {
                match System::find(&word.text) {
                    Some(system) => parts.system = system,
                    None => checker.findings.push(
                        Finding::new(Code::UnknownWord, word.span, format!("`{}` is no system of units", word.text))
                            .help("write `us`, `metric` or `nautical`"),
                    ),
                }
                ("units", keyword.span)
            }
            HeaderClause::Also { keyword, aspect, names } => {
                checker.also(keyword, aspect, names);
                continue;
            }
        };
        if let Some((_, earlier)) = seen.iter().find(|(earlier, _)| *earlier == word) {
            let line = checker.sources.place(*earlier).line;
            let message = format!("`{word}` stands twice; the first is in line {line}");
            checker.findings.push(Finding::new(Code::ClauseTwice, span, message));
        }
        seen.push((word, span));
    }
    parts
}

fn no_header(statements: &[Statement], first: FileId, checker: &mut names::Checker) {
    let span = statements.first().map_or(Span::new(first, 0, 0), keyword_span);
    let has_trials = statements.iter().any(|statement| matches!(statement, Statement::Trial(_)));
    let finding = if statements.is_empty() || has_trials {
        Finding::new(Code::NoStrategy, span, "the file does not begin with a `strategy` statement")
            .help("begin it with `strategy \"its name\"`")
    } else {
        Finding::new(Code::IncludedOnly, span, "this file has no `strategy` statement: it is made to be included")
            .help("name a strategy that includes it, or begin it with `strategy \"its name\"`")
    };
    checker.findings.push(finding);
}

/// Where a statement's first word stands.
fn keyword_span(statement: &Statement) -> Span {
    match statement {
        Statement::Strategy(header) => header.keyword.span,
        Statement::Include(include) => include.keyword.span,
        Statement::Reading(reading) => reading.name.span,
        Statement::Let(definition) => definition.name.span,
        Statement::Rule(rule) => rule.keyword.span,
        Statement::Ladder(ladder) => ladder.keyword.span,
        Statement::Trial(trial) => trial.keyword.span,
        Statement::Broken(broken) => broken.keyword.span,
    }
}
