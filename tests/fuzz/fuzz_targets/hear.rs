//! Any bytes from a boat's instruments: measured alike however they are cut.
#![no_main]

#[path = "../bodies.rs"]
mod bodies;
#[path = "../make.rs"]
mod make;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| bodies::hear_any(bytes));
