//! Leadsman: checked trolling strategies, and the tactic they call from live readings, with reasons.

pub mod advice;
pub mod check;
pub mod command;
pub mod engine;
pub mod explain;
pub mod findings;
pub mod format;
pub mod program;
pub mod proof;
pub mod service;
pub mod session;
pub mod source;
pub mod syntax;
pub mod text;
pub mod vocabulary;
pub mod water;
