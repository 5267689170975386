//! The boat file: what the boat is called, how many fish from it, where its instruments sit.

use serde::Deserialize;

use super::Faults;
use super::feed::Instruments;
use super::fields::{Fields, count, prose};
use super::given::literal;
use super::yaml::{Document, Text};
use crate::vocabulary::kind::Kind;
use crate::vocabulary::quantity::{PER_UNIT, to_si};

/// A boat.
#[derive(Clone, Debug, PartialEq)]
pub struct Boat {
    /// What it is called.
    pub name: String,
    /// How many fish from it, 1 to 50.
    pub anglers: Option<u32>,
    /// Where its instruments sit.
    pub instruments: Instruments,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BoatFile {
    name: Option<Text>,
    anglers: Option<Text>,
    instruments: Option<InstrumentsFile>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct InstrumentsFile {
    mast_height: Option<Text>,
    transducer_depth: Option<Text>,
}

/// How high a mast is on a boat: more than nothing, and not beyond all boats.
pub const MAST: ((i64, i64), &str) = ((1, 60 * PER_UNIT), "more than 0 to 60 m");
/// How deep a transducer is under the waterline.
pub const TRANSDUCER: ((i64, i64), &str) = ((0, 10 * PER_UNIT), "0 to 10 m");

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
    /// instruments:
    ///   mast_height: 9 ft         # of the wind's instrument over the water
    ///   transducer_depth: 10 in   # of the sounder's transducer under the waterline
    /// ```
    pub fn of(document: &Document) -> Result<Self, Faults> {
        document.known_keys::<InstrumentsFile>(Some("instruments"))?;
        let (mut fields, file) = Fields::of::<BoatFile>(document)?;
        let name = fields.need("name", file.name, prose);
        let anglers = fields.read("anglers", file.anglers, |text| count("anglers", MOST_ANGLERS, text));
        let mut length = |path: &str, text: Option<Text>, (range, words): ((i64, i64), &str)| {
            let key = path.rsplit('.').next().unwrap_or(path);
            fields.read(path, text, |text| literal(key, Kind::Length, Some((range, words)), text)).map(to_si)
        };
        let instruments = file.instruments.map(|file| Instruments {
            mast: length("instruments.mast_height", file.mast_height, MAST),
            transducer: length("instruments.transducer_depth", file.transducer_depth, TRANSDUCER),
        });
        let instruments = instruments.unwrap_or_default();
        fields.faults.unless_any(Self { name: name.unwrap_or_default(), anglers, instruments })
    }
}
