//! The guide to the language: it names all there is, and what it shows is right.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use leadsman::check::{NoIncludes, check};
use leadsman::findings::{Code, Severity, terminal};
use leadsman::proof;
use leadsman::vocabulary::aspect::{SHIFTS, built_in};
use leadsman::vocabulary::catalogue::{CATALOGUE, Origin};
use leadsman::vocabulary::kind::KIND_WORDS;
use leadsman::vocabulary::unit::UNITS;

const GUIDE: &str = include_str!("../src/language.md");
const README: &str = include_str!("../README.md");

/// The fenced blocks of a text that carry a label.
fn blocks(text: &str, label: &str) -> Vec<String> {
    let mut blocks = Vec::new();
    let mut lines = text.lines();
    while let Some(line) = lines.next() {
        if line == format!("```{label}") {
            let block: Vec<&str> = lines.by_ref().take_while(|line| *line != "```").collect();
            blocks.push(block.join("\n") + "\n");
        } else if line.starts_with("```") {
            // Another block: up to its end.
            lines.by_ref().find(|line| *line == "```");
        }
    }
    blocks
}

#[test]
fn every_strategy_shown_checks_and_its_trials_pass() {
    let mut seen = 0;
    for (file, text) in [("language.md", GUIDE), ("README.md", README)] {
        for block in blocks(text, "strategy") {
            // A part of a strategy stands for one with a header.
            let whole = block.trim_start().starts_with("strategy");
            let block = if whole { block } else { format!("strategy \"A part\"\n\n{block}") };
            let checked = check(file, &block, &NoIncludes);
            let errors: Vec<_> =
                checked.findings.iter().filter(|finding| finding.severity() == Severity::Error).cloned().collect();
            assert!(errors.is_empty(), "{}", terminal::draw(&errors, &checked.sources, false));
            let program = checked.program.expect("a program");
            for trial in proof::run(&program).trials {
                assert!(trial.passed(), "{file}: \"{}\": {:?}", trial.name, trial.failures);
            }
            seen += 1;
        }
    }
    assert!(seen > 6, "{seen}");
}

#[test]
fn the_guide_lists_every_finding_code() {
    let rows: Vec<String> = Code::ALL
        .iter()
        .map(|code| format!("| `{}` | {} | {} |", code.name(), code.severity().name(), code.meaning()))
        .collect();
    let begins = GUIDE.lines().position(|line| line.starts_with("| code |")).expect("the table of findings");
    let table: Vec<&str> = GUIDE.lines().skip(begins + 2).take_while(|line| line.starts_with('|')).collect();
    assert_eq!(table, rows, "the table of findings in src/language.md should be:\n{}", rows.join("\n"));
}

#[test]
fn the_guide_lists_every_reading_of_the_catalogue() {
    let begins = GUIDE.lines().position(|line| line.starts_with("| reading |")).expect("the catalogue");
    let table: Vec<&str> = GUIDE.lines().skip(begins + 2).take_while(|line| line.starts_with('|')).collect();
    assert_eq!(table.len(), CATALOGUE.len());
    for (row, entry) in table.iter().zip(&CATALOGUE) {
        let name = format!("| `{}", entry.name);
        assert!(row.starts_with(&name), "{row} should begin with {name}");
        let origin = match entry.origin {
            Origin::Given => "given",
            Origin::Derived => "derived",
            Origin::Session => "session",
        };
        let from = match entry.from {
            [] => origin.to_owned(),
            from => format!("{origin} from {}", from.join(", ")),
        };
        for part in [entry.help, entry.plausible_text, from.as_str()] {
            assert!(row.contains(part), "{row}\nshould say: {part}");
        }
    }
}

#[test]
fn the_guide_names_every_unit_kind_aspect_and_shift() {
    for unit in UNITS {
        assert!(GUIDE.contains(&format!("`{}`", unit.symbol)), "unit {}", unit.symbol);
    }
    for (kind, _) in KIND_WORDS {
        assert!(GUIDE.contains(kind), "kind {kind}");
    }
    for aspect in built_in() {
        assert!(GUIDE.contains(&format!("| `{}`", aspect.name)), "aspect {}", aspect.name);
        assert!(GUIDE.contains(&aspect.words().join(" ")), "the words of {}", aspect.name);
    }
    for shift in &SHIFTS {
        assert!(GUIDE.contains(shift.word), "shift {}", shift.word);
    }
}
