//! The kept corpus of the fuzz targets, run through what the targets do. `tests/fuzz` says how to fuzz on.

#![allow(clippy::panic, clippy::expect_used, reason = "a test fails by panicking")]
#![allow(clippy::disallowed_methods, reason = "the corpus is bounded in time")]

#[path = "fuzz/bodies.rs"]
mod bodies;
#[allow(dead_code, reason = "the property tests use the rest")]
#[path = "fuzz/make.rs"]
mod make;

use std::path::Path;
use std::time::{Duration, Instant};

/// Past this no further file is begun, so that the corpus stays a quick test on a slow machine too.
const LONGEST: Duration = Duration::from_secs(60);

fn run(target: &str, least: usize, body: fn(&[u8])) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus").join(target);
    let entries = std::fs::read_dir(&folder).expect("the corpus is there");
    let mut files: Vec<_> = entries.map(|entry| entry.expect("a folder that can be listed").path()).collect();
    files.sort();
    assert!(files.len() >= least, "the corpus of {target} has {} files", files.len());
    let begun = Instant::now();
    for file in files {
        if begun.elapsed() > LONGEST {
            break;
        }
        println!("{}", file.display());
        body(&std::fs::read(&file).expect("a file that can be read"));
    }
}

#[test]
fn any_bytes_are_checked_and_drawn() {
    run("check", 50, bodies::check_any);
}

#[test]
fn a_day_is_called_alike_twice() {
    run("evaluate", 50, bodies::evaluate_any);
}

#[test]
fn a_feed_measures_the_same_however_it_is_cut() {
    run("hear", 10, bodies::hear_any);
}
