//! Files, flags and requests to readings with time.
//!
//! Nothing outside this room opens a file of data or of strategies. What people wrote stays text until the language's
//! own reader of literals reads it, so that a value means the same in a trial, a file, a flag and a request:
//!
//! - [`files`] opens files and standard input, bounded; [`strategies`] finds strategies and what they include;
//! - [`yaml`] is the only file that names a YAML library, and keeps where everything stands;
//! - [`water`], [`boat`], [`readings`] and [`forecast`] read the four kinds of data files; [`place`] and [`time`] what they
//!   share;
//! - [`given`] is the one way by which a name and a value become an event of a session.
//!
//! Whatever is wrong is a [`Fault`]: where, what, and what would be right.

pub mod boat;
mod fault;
pub mod feed;
mod fields;
pub mod files;
pub mod forecast;
pub mod given;
pub mod gpx;
mod list;
pub mod nmea;
pub mod place;
pub mod readings;
pub mod strategies;
pub mod time;
pub mod transport;
pub mod water;
pub mod yaml;

pub use fault::{Fault, Faults};
