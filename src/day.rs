//! A day on the water: what happened, as it is written down, and the session it makes.
//!
//! [`log`] is the day's log, read and checked; [`form`] its file, YAML or a table ([`csv`]); [`standing`] how the day
//! stands, and how long each rod fished; [`sheet`] what a fair contest assigns. [`record`] writes a log as it happens, so
//! that a crash loses nothing that is older than a second; [`live`] is the day under way: what happens goes into the log
//! first and from there into the session, so that reading the log again gives the same calls; [`replay`] is a strategy
//! over a log; [`traces`] a log as lines, for pictures.

pub mod csv;
pub mod form;
mod keys;
pub mod live;
pub mod log;
pub mod press;
pub mod record;
pub mod replay;
pub mod sheet;
pub mod standing;
pub mod traces;
