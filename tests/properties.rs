//! What must hold whatever the strategy and the readings are.
//!
//! Strategies and days are made from random bytes (`tests/fuzz/make.rs`), so that a failure shrinks to a small one. Where
//! a property is a law of the language, the section of the language guide that states it is named.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

#[allow(dead_code, reason = "the fuzz targets use the rest")]
#[path = "fuzz/make.rs"]
mod make;

use std::sync::Arc;

use leadsman::check::{NoIncludes, check};
use leadsman::program::Program;
use make::{ALL, Choices};
use proptest::prelude::*;

/// A made strategy, checked. Every made strategy is one that checks.
fn checked(text: &str) -> Arc<Program> {
    let checked = check("made.strategy", text, &NoIncludes);
    let drawn = leadsman::findings::terminal::draw(&checked.findings, &checked.sources, false);
    checked.program.unwrap_or_else(|| panic!("{drawn}\n{text}"))
}

fn bytes(most: usize) -> impl Strategy<Value = Vec<u8>> {
    proptest::collection::vec(any::<u8>(), 0..most)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn made_strategies_check(bytes in bytes(400)) {
        checked(&make::strategy(&mut Choices::new(&bytes), ALL));
    }
}
