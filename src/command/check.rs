//! `leadsman check`: what is wrong or doubtful in strategies and in days' logs.

use clap::Args;
use serde::Serialize;

use super::strategies::{Found, checked_quietly, count, counts, read_all};
use super::{Ending, output};
use crate::day::log::{Counts, Log, is_log};
use crate::findings::data::FindingData;
use crate::findings::{Finding, Severity, terminal};
use crate::proof;
use crate::source::Faults;
use crate::source::files::is_there;
use crate::source::given::Names;
use crate::vocabulary::quantity::HOUR;

/// Say what is wrong or doubtful in strategies, and in days' logs.
#[derive(Debug, Args)]
pub struct Check {
    /// Strategy files, folders of them, or - for standard input; or days' logs, .yaml or .csv
    #[arg(required = true)]
    files: Vec<String>,
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
    logs: Vec<LogDocument>,
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

#[derive(Serialize)]
struct LogDocument {
    file: String,
    events: usize,
    rods: usize,
    strikes: usize,
    landed: usize,
    rod_hours: f64,
    /// The last line, where the end of the file cuts it short.
    cut: Option<String>,
}

impl Check {
    /// Runs the command.
    pub fn run(&self) -> Result<Ending, Faults> {
        let (logs, strategies): (Vec<String>, Vec<String>) = self.files.iter().cloned().partition(|file| is_log(file));
        let mut found = if strategies.is_empty() { Found::default() } else { read_all(&strategies)? };
        let logs: Vec<LogDocument> = logs.iter().filter_map(|path| found.faults.keep(log(path))).collect();
        let findings: Vec<Vec<Finding>> =
            found.strategies.iter().map(|strategy| self.shown(proof::all_findings(&strategy.checked))).collect();
        let [errors, warnings, _] = findings
            .iter()
            .map(|list| counts(list))
            .fold([0; 3], |sum, next| [sum[0] + next[0], sum[1] + next[1], sum[2] + next[2]]);
        if self.json {
            output::json(&document(&found, &findings, logs, errors, warnings));
        } else {
            logs.iter().for_each(tell_log);
            if !strategies.is_empty() {
                self.tell(&found, &findings, errors, warnings);
            }
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

/// Reads and checks a log, its readings by the names of the strategy that it was fished with, where that is there.
fn log(path: &str) -> Result<LogDocument, Faults> {
    let log = Log::check(path, |log| {
        let program = log.strategy.as_deref().filter(|strategy| is_there(strategy)).and_then(checked_quietly);
        program.map_or_else(Names::catalogue, |program| Names::of(&program))
    })?;
    let Counts { events, rods, strikes, landed, rod_time } = log.counts();
    let rod_hours = rod_time as f64 / HOUR as f64;
    Ok(LogDocument { file: path.to_owned(), events, rods, strikes, landed, rod_hours, cut: log.cut })
}

fn tell_log(log: &LogDocument) {
    let LogDocument { file, events, rods, strikes, landed, rod_hours, cut } = log;
    let (events, strikes) = (count(*events, "event"), count(*strikes, "strike"));
    let fish = if *landed == 1 { "1 fish landed".to_owned() } else { format!("{landed} fish landed") };
    let rods = count(*rods, "rod");
    output::print(&format!("{file}: {events}, {rods}, {rod_hours:.1} rod-hours, {strikes}, {fish}"));
    if cut.is_some() {
        output::complain(&format!("{file}: its last line was cut short and is left out"));
    }
}

fn document(
    found: &Found,
    findings: &[Vec<Finding>],
    logs: Vec<LogDocument>,
    errors: usize,
    warnings: usize,
) -> Document {
    let strategies = found.strategies.iter().zip(findings).map(|(strategy, list)| StrategyDocument {
        file: strategy.name.clone(),
        name: strategy.checked.program.as_ref().map(|program| program.name.clone()),
        findings: list.iter().map(|finding| FindingData::of(finding, &strategy.checked.sources)).collect(),
    });
    Document {
        strategies: strategies.collect(),
        logs,
        passed_over: found.passed_over.clone(),
        not_included: found.unused.clone(),
        errors,
        warnings,
    }
}
