//! The boat file: what the boat is called and how many fish from it.

use serde::Deserialize;

use super::Faults;
use super::fields::{Fields, count, prose};
use super::yaml::{Document, Text};

/// A boat.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Boat {
    /// What it is called.
    pub name: String,
    /// How many fish from it, 1 to 50.
    pub anglers: Option<u32>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BoatFile {
    name: Option<Text>,
    anglers: Option<Text>,
}

const MOST_ANGLERS: u32 = 50;

impl Boat {
    /// Reads a boat file, or standard input where the path is `-`.
    pub fn read(path: &str) -> Result<Self, Faults> {
        Self::of(&Document::read(path)?)
    }

    /// Reads a boat out of a file's text.
    ///
    /// ```yaml
    /// name: the grey skiff    # needed
    /// anglers: 2              # a whole number
    /// ```
    pub fn of(document: &Document) -> Result<Self, Faults> {
        let (mut fields, file) = Fields::of::<BoatFile>(document)?;
        let name = fields.need("name", file.name, prose);
        let anglers = fields.read("anglers", file.anglers, |text| count("anglers", MOST_ANGLERS, text));
        fields.faults.unless_any(Self { name: name.unwrap_or_default(), anglers })
    }
}
