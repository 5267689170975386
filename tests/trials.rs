//! The decided cases in `tests/trials` and `tests/conformance`: every trial passes, and those made to fail fail.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use std::path::{Path, PathBuf};

use leadsman::check::{IncludeError, Includes, check_bytes};
use leadsman::findings::terminal;
use leadsman::proof;

struct Folder(PathBuf);

impl Includes for Folder {
    fn read(&self, path: &str) -> Result<Vec<u8>, IncludeError> {
        std::fs::read(self.0.join(path)).map_err(|_| IncludeError::Missing)
    }
}

fn files(folder: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let mut files: Vec<PathBuf> = std::fs::read_dir(&folder)
        .map(|entries| entries.filter_map(|entry| entry.ok().map(|entry| entry.path())).collect())
        .unwrap_or_default();
    files.retain(|path| path.extension().is_some_and(|ending| ending == "strategy"));
    files.sort();
    assert!(!files.is_empty(), "{} has no strategies", folder.display());
    files
}

/// Runs a file's trials; gives how many there are and a report of what failed.
fn run(path: &Path) -> (usize, Vec<String>) {
    let bytes = std::fs::read(path).unwrap();
    let name = path.file_name().unwrap().to_string_lossy();
    let checked = check_bytes(&name, bytes, &Folder(path.parent().unwrap().to_owned()));
    let Some(program) = checked.program else {
        let drawn = terminal::draw(&checked.findings, &checked.sources, false);
        return (0, vec![format!("{name} does not check:\n{drawn}")]);
    };
    let proof = proof::run(&program);
    let mut failed = Vec::new();
    for trial in &proof.trials {
        for failure in &trial.failures {
            let place = program.sources.file_and_line(failure.span);
            failed.push(format!(
                "{place} \"{}\": expected {}, got {} ({})",
                trial.name,
                failure.expected,
                failure.got,
                failure.decided_by.as_deref().unwrap_or("-")
            ));
        }
    }
    (proof.trials.len(), failed)
}

fn all_pass(folder: &str) -> usize {
    let mut count = 0;
    let mut failed = Vec::new();
    for path in files(folder) {
        let (trials, failures) = run(&path);
        count += trials;
        failed.extend(failures);
    }
    assert!(failed.is_empty(), "{} of {count} trials' expectations failed:\n{}", failed.len(), failed.join("\n"));
    count
}

#[test]
fn decided_trials_pass() {
    assert!(all_pass("tests/trials") > 300);
}

#[test]
fn conformance_trials_pass() {
    assert!(all_pass("tests/conformance") >= 300);
}

#[test]
fn facts_of_the_trade_hold() {
    all_pass("tests/trade");
}

#[test]
fn shipped_strategies_pass_their_trials() {
    all_pass("rules");
}

#[test]
fn trials_made_to_fail_fail() {
    for path in files("tests/conformance/must_fail") {
        let (trials, failures) = run(&path);
        assert!(trials == 1 && !failures.is_empty(), "{} was to fail", path.display());
        assert!(!failures[0].contains("does not check"), "{}", failures[0]);
    }
}
