//! What the checker says of broken, doubtful and right strategies.
//!
//! `tests/broken` holds decided cases with the severity and line wanted; `tests/findings` our own, each of which names
//! in its first line what it wants. Every finding is locked as it is drawn, so that its wording is reviewed.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use std::path::{Path, PathBuf};

use leadsman::check::{IncludeError, Includes, check_bytes};
use leadsman::findings::{Finding, Severity, terminal};
use leadsman::proof;

struct Folder(PathBuf);

impl Includes for Folder {
    fn read(&self, path: &str) -> Result<Vec<u8>, IncludeError> {
        std::fs::read(self.0.join(path)).map_err(|_| IncludeError::Missing)
    }
}

struct Found {
    drawn: String,
    /// Severity and line of each finding in the first file, and whether it lies there.
    list: Vec<(Severity, u32)>,
}

fn look(path: &Path) -> Found {
    let name = path.file_name().unwrap().to_string_lossy();
    let folder = Folder(path.parent().unwrap().to_owned());
    let checked = check_bytes(&name, std::fs::read(path).unwrap(), &folder);
    let findings: Vec<Finding> = proof::all_findings(&checked);
    let list = findings.iter().map(|finding| (finding.severity(), checked.sources.place(finding.span).line)).collect();
    Found { drawn: terminal::draw(&findings, &checked.sources, false), list }
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests")
}

/// `7`, `6|7`, `10-13` or `*`.
fn on_line(wanted: &str, line: u32) -> bool {
    if wanted == "*" || wanted == "-" {
        return true;
    }
    wanted.split('|').any(|choice| match choice.split_once('-') {
        Some((from, to)) => (from.parse().unwrap()..=to.parse().unwrap()).contains(&line),
        None => choice.parse::<u32>().unwrap() == line,
    })
}

#[test]
fn decided_cases_come_out_as_they_say() {
    let table = std::fs::read_to_string(root().join("broken/want.tsv")).unwrap();
    let mut wanted: Vec<(String, Vec<(String, String)>)> = Vec::new();
    for row in table.lines().skip(1) {
        let mut cells = row.split('\t').map(str::to_owned);
        let (file, severity, line) = (cells.next().unwrap(), cells.next().unwrap(), cells.next().unwrap());
        match wanted.last_mut() {
            Some((last, list)) if *last == file => list.push((severity, line)),
            _ => wanted.push((file, vec![(severity, line)])),
        }
    }
    assert!(wanted.len() > 60);
    let mut wrong = Vec::new();
    for (file, wants) in wanted {
        let found = look(&root().join("broken").join(&file));
        let errors: Vec<u32> =
            found.list.iter().filter(|(severity, _)| *severity == Severity::Error).map(|(_, line)| *line).collect();
        let warnings: Vec<u32> =
            found.list.iter().filter(|(severity, _)| *severity == Severity::Warning).map(|(_, line)| *line).collect();
        let right = match wants[0].0.as_str() {
            "error" => {
                errors.len() == wants.len() && errors.iter().zip(&wants).all(|(line, (_, want))| on_line(want, *line))
            }
            "warning" => errors.is_empty() && warnings.iter().any(|line| on_line(&wants[0].1, *line)),
            "none" => errors.is_empty() && warnings.is_empty(),
            "noerror" => errors.is_empty(),
            other => panic!("{other}"),
        };
        if !right {
            wrong.push(format!("{file} wants {wants:?}, got errors {errors:?} warnings {warnings:?}\n{}", found.drawn));
        }
    }
    assert!(wrong.is_empty(), "{} wrong:\n{}", wrong.len(), wrong.join("\n\n"));
}

/// `# wants: error 7 ; warning 12`, in the first line.
fn wants_of(path: &Path) -> Vec<(String, String)> {
    let text = std::fs::read(path).unwrap();
    let text = String::from_utf8_lossy(&text).into_owned();
    let first = text.lines().next().unwrap_or("");
    let list = first.split_once("wants:").unwrap_or_else(|| panic!("{} names no wants", path.display())).1;
    list.split(';')
        .map(|want| {
            let mut words = want.split_whitespace();
            (words.next().unwrap().to_owned(), words.next().unwrap_or("*").to_owned())
        })
        .collect()
}

#[test]
fn own_cases_have_just_the_fault_that_they_name() {
    let mut wrong = Vec::new();
    let mut files: Vec<PathBuf> = std::fs::read_dir(root().join("findings"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "strategy"))
        .collect();
    files.sort();
    assert!(files.len() > 100);
    for path in files {
        let found = look(&path);
        let wants = wants_of(&path);
        let notes = wants.iter().any(|(severity, _)| severity == "note");
        let shown: Vec<(String, u32)> = found
            .list
            .iter()
            .filter(|(severity, _)| notes || *severity != Severity::Note)
            .map(|(severity, line)| (severity.name().to_owned(), *line))
            .collect();
        let right = shown.len() == wants.len()
            && shown.iter().zip(&wants).all(|((severity, line), (want, at))| severity == want && on_line(at, *line));
        if !right {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            wrong.push(format!("=== {name} wants {wants:?}, got {shown:?}\n{}", found.drawn));
        }
    }
    assert!(wrong.is_empty(), "{} wrong:\n{}", wrong.len(), wrong.join("\n\n"));
}

#[test]
fn findings_read_well() {
    insta::glob!("findings/*.strategy", |path| {
        let found = look(path);
        insta::with_settings!({ omit_expression => true, prepend_module_to_snapshot => false }, {
            insta::assert_snapshot!(found.drawn);
        });
    });
}
