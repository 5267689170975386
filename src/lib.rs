//! Checked trolling strategies, and the depth, speed and lure size they call from live readings, with reasons.
//!
//! Two streams join once, and nothing flows back:
//!
//! ```text
//! strategy text -> parse -> check -> program         (once a strategy)
//! boat, water, casts, given readings -> readings     (each moment)
//! program + readings + session -> advice             (each moment)
//! all of it -> command line and gRPC service         (thin; no rule of the trade lives here)
//! ```
//!
//! The rooms, in reading order:
//!
//! | room | what it makes of what |
//! |---|---|
//! | [`text`] | source files, spans, lines and columns |
//! | [`findings`] | what is wrong or doubtful, where, and how it is shown |
//! | [`vocabulary`] | what both streams share: quantities, units, kinds, the catalogue of readings, the aspects |
//! | [`syntax`] | text to tree |
//! | [`mod@format`] | text to text, in one form |
//! | [`program`] | a checked strategy, ready to run |
//! | [`check`] | tree to program, and what is doubtful about it |
//! | [`engine`] | program, readings and state to an outcome; pure |
//! | [`explain`] | program and outcome to the reasons |
//! | [`water`] | the derivations: sun, light, wind, waves, heat, oxygen |
//! | [`statistics`] | counts and exposures to what they can prove; pure |
//! | [`session`] | readings and events in time order to the state at an instant |
//! | [`proof`] | program and trials to what passed, and what they exercise |
//! | [`source`] | files, flags and requests to readings with time |
//! | [`advice`] | strategy and session to advice, as data and in words |
//! | [`day`] | what happens on the water to the day's log, and from there to a session |
//! | [`tackle`] | the called tactic to each rod: line out |
//! | [`compare`] | two strategies on the same days: where they differ, what the fish said, what that proves |
//! | [`plan`] | a day ahead, hour by hour, as data and in words |
//! | [`page`] | pages to look at and to print |
//! | [`service`] | the gRPC service |
//! | [`command`] | one file for each subcommand |
//!
//! What follows is the guide to the language, for those who write strategies.
//!
#![doc = include_str!("language.md")]

// The grammar is generated without `std`, and with it without a look at the stack at each rule of it: nesting is bounded.
extern crate alloc;

pub mod advice;
pub mod check;
pub mod command;
pub mod compare;
pub mod day;
pub mod engine;
pub mod explain;
pub mod findings;
pub mod format;
pub mod page;
pub mod plan;
pub mod program;
pub mod proof;
pub mod service;
pub mod session;
pub mod source;
pub mod statistics;
pub mod syntax;
pub mod tackle;
pub mod text;
pub mod vocabulary;
pub mod water;
