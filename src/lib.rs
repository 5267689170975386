//! Leadsman: checked trolling strategies, and the tactic they call from live readings, with reasons.

pub mod findings;
pub mod syntax;
pub mod text;
pub mod vocabulary;
