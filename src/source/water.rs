//! The water file: where a lake lies, what it allows, and what an agency says about it.

use jiff::civil::Date;
use serde::Deserialize;
use serde::de::IgnoredAny;

use super::fields::{Fields, count, prose};
use super::given::literal;
use super::yaml::{Document, Text};
use super::{Fault, Faults, place, time};
use crate::session::Setting;
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::quantity::PER_UNIT;

/// A lake.
#[derive(Clone, Debug)]
pub struct Water {
    /// What it is called.
    pub name: String,
    /// A few words about it.
    pub about: Option<String>,
    /// What a session takes from it: its zone and place, and whether bait is allowed and fish are released.
    pub setting: Setting,
    /// The height of its surface over the sea, in counts of length.
    pub elevation: Option<i64>,
    /// Its greatest depth, in counts of length.
    pub deepest: Option<i64>,
    /// What it allows, and when somebody looked.
    pub rules: Option<LakeRules>,
    /// What an agency publishes for it.
    pub cautions: Option<AgencyFigures>,
}

/// What a lake allows, as the user found it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LakeRules {
    /// When somebody looked.
    pub checked: Date,
    /// Where.
    pub source: Option<String>,
    /// Whether natural bait is allowed.
    pub bait: Option<bool>,
    /// Whether the fish are released, by rule or by custom.
    pub releasing: Option<bool>,
    /// How many lines each angler may fish.
    pub lines_per_angler: Option<u32>,
    /// When the lake is open.
    pub season: Option<String>,
    /// Other limits, one text each.
    pub limits: Vec<String>,
}

/// What an agency publishes: the figures from which on it warns.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AgencyFigures {
    /// The wind from which on small craft are warned, in counts of speed.
    pub wind: Option<i64>,
    /// The waves from which on small craft are warned, in counts of length.
    pub waves: Option<i64>,
    /// The surface temperature from which on fish should not be played and released, in counts.
    pub release: Option<i64>,
    /// Who says so, and where.
    pub source: String,
    /// When.
    pub date: Date,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WaterFile {
    name: Option<Text>,
    about: Option<Text>,
    /// Read from the document, as in a file of readings.
    #[serde(rename = "position")]
    _position: Option<IgnoredAny>,
    zone: Option<Text>,
    elevation: Option<Text>,
    deepest: Option<Text>,
    rules: Option<RulesFile>,
    cautions: Option<CautionsFile>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RulesFile {
    checked: Option<Text>,
    source: Option<Text>,
    bait: Option<Text>,
    releasing: Option<Text>,
    lines_per_angler: Option<Text>,
    season: Option<Text>,
    limits: Option<Vec<Text>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CautionsFile {
    wind: Option<Text>,
    waves: Option<Text>,
    release: Option<Text>,
    source: Option<Text>,
    date: Option<Text>,
}

const MOST_LINES: u32 = 50;
/// Heights at which there are lakes: from the shores of the lowest to above the highest.
const ELEVATIONS: (i64, i64) = (-450 * PER_UNIT, 7000 * PER_UNIT);

impl Water {
    /// Reads a water file, or standard input where the path is `-`.
    pub fn read(path: &str) -> Result<Self, Faults> {
        Self::of(&Document::read(path)?)
    }

    /// Reads a water out of a file's text. Only `name` is needed; under `rules` also `checked`, under `cautions` also
    /// `source` and `date`.
    ///
    /// ```yaml
    /// name: Ossel Water
    /// about: An invented lake.
    /// position: {latitude: 46.0, longitude: -116.0}    # or the text "46.0, -116.0"
    /// zone: America/Boise                              # or an offset, "-07:00"
    /// elevation: 2100 ft
    /// deepest: 210 ft
    /// rules:
    ///   checked: 2026-04-18
    ///   source: the board at the ramp
    ///   bait: no
    ///   releasing: yes
    ///   lines_per_angler: 2
    ///   season: 1 April to 31 October
    ///   limits: ["two trout a day, 16 in or longer"]
    /// cautions:                                        # what an agency publishes for this water
    ///   wind: 18 kn
    ///   waves: 3 ft
    ///   release: 66 °F
    ///   source: the harbour office (invented)
    ///   date: 2026-03-02
    /// ```
    pub fn of(document: &Document) -> Result<Self, Faults> {
        document.known_keys::<RulesFile>(Some("rules"))?;
        document.known_keys::<CautionsFile>(Some("cautions"))?;
        let (mut fields, file) = Fields::of::<WaterFile>(document)?;
        let name = fields.need("name", file.name, prose).unwrap_or_default();
        let about = fields.read("about", file.about, prose);
        let position = document.at("position").map(|node| place::of_node("position", node));
        let place = position.and_then(|place| fields.faults.keep(place.map_err(|fault| fault.within(&document.file))));
        let zone = fields.read("zone", file.zone, time::zone);
        let elevation = fields.read("elevation", file.elevation, |text| {
            literal("elevation", Kind::Length, Some((ELEVATIONS, "-450 to 7000 m")), text)
        });
        let deepest = fields.read("deepest", file.deepest, |text| of_reading("deepest", Known::Bottom, text));
        let rules = file.rules.map(|rules| lake_rules(&mut fields, rules));
        let cautions = file.cautions.map(|cautions| agency_figures(&mut fields, cautions));
        let rules = rules.flatten();
        let setting = Setting {
            zone,
            place,
            bait_allowed: rules.as_ref().and_then(|rules| rules.bait),
            releasing: rules.as_ref().and_then(|rules| rules.releasing),
        };
        let cautions = cautions.flatten();
        fields.faults.unless_any(Self { name, about, setting, elevation, deepest, rules, cautions })
    }
}

fn lake_rules(fields: &mut Fields<'_>, file: RulesFile) -> Option<LakeRules> {
    let checked = fields.need("rules.checked", file.checked, time::date);
    let source = fields.read("rules.source", file.source, prose);
    let bait = fields.read("rules.bait", file.bait, |text| yes_or_no("bait", text));
    let releasing = fields.read("rules.releasing", file.releasing, |text| yes_or_no("releasing", text));
    let lines_per_angler = fields
        .read("rules.lines_per_angler", file.lines_per_angler, |text| count("lines_per_angler", MOST_LINES, text));
    let season = fields.read("rules.season", file.season, prose);
    let limits = file.limits.unwrap_or_default().into_iter().enumerate();
    let limits = limits.filter_map(|(at, text)| fields.read(&format!("rules.limits[{at}]"), Some(text), prose));
    let limits = limits.collect();
    Some(LakeRules { checked: checked?, source, bait, releasing, lines_per_angler, season, limits })
}

fn agency_figures(fields: &mut Fields<'_>, file: CautionsFile) -> Option<AgencyFigures> {
    let wind = fields.read("cautions.wind", file.wind, |text| of_reading("wind", Known::Wind, text));
    let waves = fields.read("cautions.waves", file.waves, |text| of_reading("waves", Known::Waves, text));
    let release = fields.read("cautions.release", file.release, |text| of_reading("release", Known::Surface, text));
    let source = fields.need("cautions.source", file.source, prose);
    let date = fields.need("cautions.date", file.date, time::date);
    Some(AgencyFigures { wind, waves, release, source: source?, date: date? })
}

fn yes_or_no(what: &str, text: &str) -> Result<bool, Fault> {
    literal(what, Kind::YesNo, None, text).map(|value| value != 0)
}

/// A value of a reading's kind, in its plausible range.
fn of_reading(what: &str, known: Known, text: &str) -> Result<i64, Fault> {
    let entry = known.entry();
    literal(what, entry.kind, entry.plausible.map(|range| (range, entry.plausible_text)), text)
}
