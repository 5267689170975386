//! A strategy and a day made from bytes: the same day is called alike twice.
#![no_main]

#[path = "../bodies.rs"]
mod bodies;
#[path = "../make.rs"]
mod make;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| bodies::evaluate_any(bytes));
