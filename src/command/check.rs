//! `leadsman check`: what is wrong or doubtful in strategies.

use clap::Args;
use serde::Serialize;

use super::strategies::{Found, count, counts, read_all};
use super::{Ending, output};
use crate::findings::data::FindingData;
use crate::findings::{Finding, Severity, terminal};
use crate::proof;
use crate::source::Faults;

/// Say what is wrong or doubtful in strategies.
#[derive(Debug, Args)]
pub struct Check {
    /// Strategy files, folders of them, or - for standard input
    #[arg(required = true)]
    strategies: Vec<String>,
    /// Fail on warnings too
    #[arg(long)]
    strict: bool,
    /// Show notes too
    #[arg(long)]
    notes: bool,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
}

/// The document that `--json` prints.
#[derive(Serialize)]
struct Document {
    strategies: Vec<StrategyDocument>,
    passed_over: Vec<String>,
    not_included: Vec<String>,
    errors: usize,
    warnings: usize,
}

#[derive(Serialize)]
struct StrategyDocument {
    file: String,
    name: Option<String>,
    findings: Vec<FindingData>,
}

impl Check {
    /// Runs the command.
    pub fn run(&self) -> Result<Ending, Faults> {
        let found = read_all(&self.strategies)?;
        let findings: Vec<Vec<Finding>> =
            found.strategies.iter().map(|strategy| self.shown(proof::all_findings(&strategy.checked))).collect();
        let [errors, warnings, _] = findings
            .iter()
            .map(|list| counts(list))
            .fold([0; 3], |sum, next| [sum[0] + next[0], sum[1] + next[1], sum[2] + next[2]]);
        if self.json {
            output::json(&document(&found, &findings, errors, warnings));
        } else {
            self.tell(&found, &findings, errors, warnings);
        }
        output::faults(&found.faults);
        let failed = errors > 0 || !found.faults.is_empty() || (self.strict && warnings > 0);
        Ok(if failed { Ending::Failed } else { Ending::Fine })
    }

    fn shown(&self, findings: Vec<Finding>) -> Vec<Finding> {
        findings.into_iter().filter(|finding| self.notes || finding.severity() != Severity::Note).collect()
    }

    fn tell(&self, found: &Found, findings: &[Vec<Finding>], errors: usize, warnings: usize) {
        for (strategy, list) in found.strategies.iter().zip(findings) {
            if !list.is_empty() {
                output::print(&terminal::draw(list, &strategy.checked.sources, output::colours()));
                output::print("\n");
            }
        }
        let strategies = count(found.strategies.len(), "strategy");
        let errors = count(errors, "error");
        let warnings = count(warnings, "warning");
        output::print(&format!("{strategies} checked: {errors}, {warnings}{}", found.passed_over_text()));
    }
}

fn document(found: &Found, findings: &[Vec<Finding>], errors: usize, warnings: usize) -> Document {
    let strategies = found.strategies.iter().zip(findings).map(|(strategy, list)| StrategyDocument {
        file: strategy.name.clone(),
        name: strategy.checked.program.as_ref().map(|program| program.name.clone()),
        findings: list.iter().map(|finding| FindingData::of(finding, &strategy.checked.sources)).collect(),
    });
    Document {
        strategies: strategies.collect(),
        passed_over: found.passed_over.clone(),
        not_included: found.unused.clone(),
        errors,
        warnings,
    }
}
