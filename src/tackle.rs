//! From the called tactic to each rod: how much line puts a lure at a depth at a speed, and which rod runs where.
//!
//! [`line`] is the physics: the steady shape of a line that is towed through still water.

pub mod line;
