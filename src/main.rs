//! Leadsman.
fn main() {}
