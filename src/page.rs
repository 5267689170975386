//! Pages to look at and to print: each one file that holds all it needs and loads nothing.
//!
//! [`frame`] is the document and its one stylesheet, [`plot`] draws readings and calls over a day, and each kind of page
//! has a file of its own; the days of a comparison have theirs in `day_pictures`. Whatever a page shows was made
//! elsewhere; nothing is decided here.

pub mod comparison;
pub mod contest;
mod day_pictures;
pub mod frame;
pub mod plan;
pub mod plot;
