//! The strategies that a command names: files, folders, standard input.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::output;
use crate::check::{Checked, check_bytes, check_with_lets, has_header};
use crate::findings::{Finding, terminal};
use crate::program::Program;
use crate::source::strategies::{StrategyFile, find};
use crate::source::{Fault, Faults};

/// One strategy, checked.
pub(super) struct Strategy {
    /// The name it is shown under.
    pub name: String,
    /// What checking found.
    pub checked: Checked,
}

/// What some paths name.
#[derive(Default)]
pub(super) struct Found {
    /// Strategies, in the order of their paths.
    pub strategies: Vec<Strategy>,
    /// Files in folders that have no header: they are made to be included.
    pub passed_over: Vec<String>,
    /// Those of them that no strategy found here includes.
    pub unused: Vec<String>,
    /// What could not be read.
    pub faults: Faults,
}

/// Reads and checks what paths name.
pub(super) fn read_all(paths: &[String]) -> Result<Found, Faults> {
    let mut found = Found::default();
    let mut faults = Faults::default();
    for path in paths {
        let Some(files) = faults.keep(find(path)) else { continue };
        let in_folder = files.len() != 1 || files.first() != Some(path);
        for file in files {
            let Some(read) = faults.keep(StrategyFile::read(&file)) else { continue };
            let text = String::from_utf8_lossy(&read.bytes);
            if in_folder && !has_header(&text) {
                found.passed_over.push(file);
                continue;
            }
            let checked = check_bytes(&shown(&file), read.bytes, &read.includes);
            found.strategies.push(Strategy { name: shown(&file), checked });
        }
    }
    if found.strategies.is_empty() && faults.is_empty() {
        faults.add(
            Fault::new("no strategy among these files: none has a `strategy` statement")
                .help("a strategy begins with `strategy \"its name\"`"),
        );
    }
    if found.strategies.is_empty() {
        return Err(faults);
    }
    found.unused = unused(&found);
    // One file that can't be read hides nothing of the others.
    found.faults = faults;
    Ok(found)
}

/// The program of one strategy; where it does not check, its findings are printed and there is none.
pub(super) fn program(path: &str) -> Result<Option<Arc<Program>>, Faults> {
    checked(path, &[])
}

/// The same with some lets changed, each written `NAME = VALUE`.
pub(super) fn checked(path: &str, lets: &[String]) -> Result<Option<Arc<Program>>, Faults> {
    let read = StrategyFile::read(path)?;
    let strategy =
        Strategy { name: shown(path), checked: check_with_lets(&shown(path), read.bytes, &read.includes, lets) };
    if strategy.checked.program.is_none() {
        let Checked { findings, sources, .. } = &strategy.checked;
        output::complain(&terminal::draw(findings, sources, false));
        output::complain(&format!("\n{} does not check", strategy.name));
    }
    Ok(strategy.checked.program)
}

/// The program of a strategy, where it is there and checks.
pub(super) fn checked_quietly(path: &str) -> Option<Arc<Program>> {
    let read = StrategyFile::read(path).ok()?;
    check_bytes(path, read.bytes, &read.includes).program
}

/// The name that findings show for a path.
pub(super) fn shown(path: &str) -> String {
    if path == "-" { "standard input".to_owned() } else { path.to_owned() }
}

/// Counts of errors, warnings and notes.
pub(super) fn counts(findings: &[Finding]) -> [usize; 3] {
    use crate::findings::Severity;
    let of = |severity| findings.iter().filter(|finding| finding.severity() == severity).count();
    [of(Severity::Error), of(Severity::Warning), of(Severity::Note)]
}

/// `1 error`, `2 errors`.
pub(super) fn count(number: usize, what: &str) -> String {
    let plural = if number == 1 {
        ""
    } else if what.ends_with('y') {
        "ies"
    } else {
        "s"
    };
    let stem = if number == 1 || !what.ends_with('y') { what } else { &what[..what.len() - 1] };
    format!("{number} {stem}{plural}")
}

fn unused(found: &Found) -> Vec<String> {
    let canonical = |path: &str| std::fs::canonicalize(path).unwrap_or_else(|_| PathBuf::from(path));
    let included: Vec<PathBuf> = found
        .strategies
        .iter()
        .flat_map(|strategy| strategy.checked.sources.files().iter().skip(1))
        .map(|file| canonical(file.name()))
        .collect();
    let unused = |file: &&String| !included.contains(&canonical(Path::new(file.as_str()).to_string_lossy().as_ref()));
    found.passed_over.iter().filter(unused).cloned().collect()
}

impl Found {
    /// What was passed over, in words; empty where nothing was.
    pub(super) fn passed_over_text(&self) -> String {
        if self.passed_over.is_empty() {
            return String::new();
        }
        let number = self.passed_over.len();
        let files = if number == 1 { "1 file is".to_owned() } else { format!("{number} files are") };
        let unused = if self.unused.is_empty() {
            String::new()
        } else {
            format!("; no strategy here includes {}", self.unused.join(", "))
        };
        format!("; {files} made to be included and passed over{unused}")
    }
}
