//! Every command that the README shows gives the output that it shows.
//!
//! In a block fenced as `console`, a line `$ leadsman ...` is run from the root, and the lines up to the next `$` are what
//! it prints: standard output, then standard error. The strategies it shows are checked in `docs.rs`.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use std::process::{Command, Stdio};

const README: &str = include_str!("../README.md");

/// Commands of the README, each with its line and the output shown.
fn shown() -> Vec<(usize, String, String)> {
    let mut commands: Vec<(usize, String, String)> = Vec::new();
    let mut inside = false;
    for (number, line) in README.lines().enumerate() {
        match line {
            "```console" => inside = true,
            "```" => inside = false,
            _ if inside => match (line.strip_prefix("$ "), commands.last_mut()) {
                (Some(command), _) => commands.push((number + 1, command.to_owned(), String::new())),
                (None, Some((.., output))) => {
                    output.push_str(line);
                    output.push('\n');
                }
                (None, None) => panic!("README.md:{}: a console block begins with `$ `", number + 1),
            },
            _ => {}
        }
    }
    commands
}

/// The words of a command line: parted by blanks, save in single quotes.
fn words(command: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for letter in command.chars() {
        match letter {
            '\'' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            _ => words.last_mut().unwrap().push(letter),
        }
    }
    assert!(!quoted, "a quote is open in {command}");
    words.retain(|word| !word.is_empty());
    words
}

#[test]
fn every_command_prints_what_is_shown() {
    let mut ran = 0;
    let mut wrong = Vec::new();
    for (line, command, wanted) in shown() {
        let words = words(&command);
        if words[0] != "leadsman" {
            // Setting up; what it prints is not shown.
            assert!(words[0] == "cargo" && wanted.is_empty(), "README.md:{line}: {command}");
            continue;
        }
        // A log that is there would be gone on with.
        if let Some(log) = words.iter().skip_while(|word| *word != "--log").nth(1) {
            let log = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(log);
            std::fs::create_dir_all(log.parent().unwrap()).unwrap();
            let _ = std::fs::remove_file(log);
        }
        let output = Command::new(env!("CARGO_BIN_EXE_leadsman"))
            .args(&words[1..])
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .stdin(Stdio::null())
            .output()
            .unwrap();
        let printed = String::from_utf8(output.stdout).unwrap() + &String::from_utf8(output.stderr).unwrap();
        if printed.trim_end() != wanted.trim_end() {
            wrong.push(format!("README.md:{line}: $ {command}\nshown:\n{wanted}\nprinted:\n{printed}"));
        }
        ran += 1;
    }
    assert!(ran >= 5, "{ran}");
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}
