//! What both streams share: quantities and units, kinds, the catalogue of readings, the aspects of a tactic.

pub mod aspect;
pub mod catalogue;
pub mod kind;
pub mod nearest;
pub mod print;
pub mod quantity;
pub mod time;
pub mod unit;
