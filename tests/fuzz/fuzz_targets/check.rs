//! Any bytes: checked, drawn and formatted.
#![no_main]

#[path = "../bodies.rs"]
mod bodies;
#[path = "../make.rs"]
mod make;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| bodies::check_any(bytes));
