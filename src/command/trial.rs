//! `leadsman trial`: what the trials of strategies show.

use clap::Args;
use serde::Serialize;

use super::strategies::{Strategy, count, read_all};
use super::{Ending, output};
use crate::findings::data::FindingData;
use crate::findings::terminal;
use crate::program::Program;
use crate::proof::{self, Proof};
use crate::source::Faults;
use crate::vocabulary::print::duration;

/// Run the trials of strategies.
#[derive(Debug, Args)]
pub struct Trial {
    /// Strategy files, folders of them, or - for standard input
    #[arg(required = true)]
    strategies: Vec<String>,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct Document {
    strategies: Vec<StrategyDocument>,
    passed: usize,
    failed: usize,
}

#[derive(Serialize)]
struct StrategyDocument {
    file: String,
    name: Option<String>,
    findings: Vec<FindingData>,
    trials: Vec<TrialDocument>,
    never_applied: Vec<String>,
    never_stood_on: Vec<String>,
    never_made: Vec<String>,
}

#[derive(Serialize)]
struct TrialDocument {
    name: String,
    line: u32,
    passed: bool,
    failures: Vec<FailureDocument>,
}

#[derive(Serialize)]
struct FailureDocument {
    file: String,
    line: u32,
    column: u32,
    after: String,
    expected: String,
    got: String,
    decided_by: Option<String>,
}

impl Trial {
    /// Runs the command.
    pub fn run(&self) -> Result<Ending, Faults> {
        let found = read_all(&self.strategies)?;
        let documents: Vec<StrategyDocument> = found.strategies.iter().map(document).collect();
        let trials = || documents.iter().flat_map(|strategy| &strategy.trials);
        let passed = trials().filter(|trial| trial.passed).count();
        let failed = trials().count() - passed;
        let broken = documents.iter().any(|strategy| !strategy.findings.is_empty());
        if self.json {
            output::json(&Document { strategies: documents, passed, failed });
        } else {
            for (strategy, document) in found.strategies.iter().zip(&documents) {
                tell(strategy, document);
            }
            output::print(&format!("{passed} passed, {failed} failed{}", found.passed_over_text()));
        }
        output::faults(&found.faults);
        Ok(if failed > 0 || broken || !found.faults.is_empty() { Ending::Failed } else { Ending::Fine })
    }
}

fn document(strategy: &Strategy) -> StrategyDocument {
    let sources = &strategy.checked.sources;
    let Some(program) = &strategy.checked.program else {
        let findings = strategy.checked.findings.iter().map(|finding| FindingData::of(finding, sources));
        return StrategyDocument {
            file: strategy.name.clone(),
            name: None,
            findings: findings.collect(),
            trials: Vec::new(),
            never_applied: Vec::new(),
            never_stood_on: Vec::new(),
            never_made: Vec::new(),
        };
    };
    let proof = proof::run(program);
    let trials = proof.trials.iter().map(|trial| TrialDocument {
        name: trial.name.clone(),
        line: sources.place(trial.span).line,
        passed: trial.passed(),
        failures: trial
            .failures
            .iter()
            .map(|failure| {
                let place = sources.place(failure.span);
                FailureDocument {
                    file: sources.file(failure.span.file).name().to_owned(),
                    line: place.line,
                    column: place.column,
                    after: duration(failure.after),
                    expected: failure.expected.clone(),
                    got: failure.got.clone(),
                    decided_by: failure.decided_by.clone(),
                }
            })
            .collect(),
    });
    StrategyDocument {
        file: strategy.name.clone(),
        name: Some(program.name.clone()),
        findings: Vec::new(),
        trials: trials.collect(),
        never_applied: never_applied(program, &proof),
        never_stood_on: never_stood_on(program, &proof),
        never_made: never_made(program, &proof),
    }
}

fn never_applied(program: &Program, proof: &Proof) -> Vec<String> {
    let seen = program.rules.iter().zip(&proof.exercised.rules);
    seen.filter(|(_, seen)| !**seen).map(|(rule, _)| rule.name.clone()).collect()
}

fn never_stood_on(program: &Program, proof: &Proof) -> Vec<String> {
    let mut never = Vec::new();
    for (ladder, seen) in program.ladders.iter().zip(&proof.exercised.rungs) {
        let rungs = ladder.rungs.iter().zip(seen).filter(|(_, seen)| !**seen);
        never.extend(rungs.map(|(rung, _)| format!("{} {}", ladder.name, rung.name)));
    }
    never
}

fn never_made(program: &Program, proof: &Proof) -> Vec<String> {
    let mut never = Vec::new();
    for (ladder, seen) in program.ladders.iter().zip(&proof.exercised.moves) {
        let moves = ladder.moves.iter().zip(seen).filter(|(_, seen)| !**seen);
        never.extend(moves.map(|(step, _)| {
            let place = program.sources.file_and_line(step.span);
            format!("{} {} ({place})", ladder.name, step.direction.text())
        }));
    }
    never
}

fn tell(strategy: &Strategy, document: &StrategyDocument) {
    let sources = &strategy.checked.sources;
    let Some(name) = &document.name else {
        output::print(&terminal::draw(&strategy.checked.findings, sources, output::colours()));
        output::print(&format!("\n{} does not check, so its trials were not run\n\n", strategy.name));
        return;
    };
    let failing = document.trials.iter().filter(|trial| !trial.passed);
    for trial in failing {
        output::print(&format!("failed: \"{}\"", trial.name));
        for failure in &trial.failures {
            let FailureDocument { file, line, column, after, expected, got, .. } = failure;
            let by = failure.decided_by.as_ref().map(|by| format!("\n      decided by {by}")).unwrap_or_default();
            output::print(&format!(
                "  {file}:{line}:{column}: after {after}\n      expected {expected}\n      got      {got}{by}"
            ));
        }
    }
    let trials = count(document.trials.len(), "trial");
    output::print(&format!("{}: \"{name}\", {trials}", strategy.name));
    let lists = [
        ("rules that no trial makes apply", &document.never_applied),
        ("rungs that no trial stands on", &document.never_stood_on),
        ("moves that no trial makes", &document.never_made),
    ];
    for (what, list) in lists {
        if !list.is_empty() && !document.trials.is_empty() {
            output::print(&format!("  {what}: {}", list.join(", ")));
        }
    }
}
