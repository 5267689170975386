//! From the called tactic to each rod: how much line puts a lure at a depth at a speed, and which rod runs where.
//!
//! [`mod@line`] is the physics: the steady shape of a line that is towed through still water. [`gear`] is what a rod fishes
//! with, and the line out for a depth; [`spread`] deals depths and lures out over the rods; [`settings`] says them, and [`draw`] shows
//! them.

pub mod draw;
pub mod gear;
pub mod line;
pub mod settings;
pub mod spread;
