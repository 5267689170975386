//! The water file: where a lake lies, what it allows, and what an agency says about it.

use jiff::civil::Date;
use serde::Deserialize;
use serde::de::IgnoredAny;

use super::fields::{Fields, count, prose, with_unit};
use super::given::literal;
use super::yaml::{Document, Node, Text};
use super::{Fault, Faults, place, time};
use crate::session::Setting;
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::quantity::PER_UNIT;
use crate::water::lake::{Current, Habitat, Lake};

/// A lake.
#[derive(Clone, Debug)]
pub struct Water {
    /// What it is called.
    pub name: String,
    /// A few words about it.
    pub about: Option<String>,
    /// What a session takes from it: its zone and place, the lake by itself, and whether bait is allowed and fish are
    /// released.
    pub setting: Setting,
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
    mean_depth: Option<Text>,
    area: Option<Text>,
    longest_open_line: Option<Text>,
    /// Directions are keys of the user's own, read from the document.
    #[serde(rename = "fetch")]
    _fetch: Option<IgnoredAny>,
    attenuation: Option<Text>,
    deep_water: Option<Text>,
    drawn_from_below: Option<Text>,
    current: Option<CurrentFile>,
    habitat: Option<Vec<HabitatFile>>,
    rules: Option<RulesFile>,
    cautions: Option<CautionsFile>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CurrentFile {
    set: Option<Text>,
    drift: Option<Text>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct HabitatFile {
    species: Option<Text>,
    warmest: Option<Text>,
    oxygen: Option<Text>,
    source: Option<Text>,
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

/// How far open water goes: the longest lakes.
pub const OPEN_WATER: ((i64, i64), &str) = ((0, 1_000_000 * PER_UNIT), "0 to 1000 km");
/// How large a lake is, m².
pub const AREAS: (f64, f64) = (1.0, 1e12);
/// What is published for the attenuation of light times the Secchi depth.
pub const ATTENUATIONS: (f64, f64) = (1.1, 2.8);
const MOST_LINES: u32 = 50;
/// Heights at which there are lakes: from the shores of the lowest to above the highest.
pub const ELEVATIONS: ((i64, i64), &str) = ((-450 * PER_UNIT, 7000 * PER_UNIT), "-450 to 7000 m");

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
    /// mean_depth: 90 ft                                # with `fetch` it gives waves by the wind
    /// fetch: {N: 1.2 mi, S: 4.5 mi, W: 0.6 mi}         # open water the wind runs over, by where it comes from
    /// area: 9 km²                                      # m², ha, km², acres or mi²
    /// longest_open_line: 5.5 mi                        # with `area` and `deepest` it gives an estimate without a cast
    /// deep_water: 43 °F                                # late in summer, below the layers
    /// drawn_from_below: no                             # a reservoir whose water leaves through its depth
    /// attenuation: 1.7                                 # of light, times the Secchi depth; 1.1 to 2.8
    /// current: {set: 180°, drift: 0.2 mph}             # where it goes to, and how fast
    /// habitat:                                         # what a fish can bear, and who says so
    ///   - {species: trout, warmest: 66 °F, oxygen: 5 mg/L, source: the fish agency (invented)}
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
        document.known_keys::<CurrentFile>(Some("current"))?;
        let (mut fields, file) = Fields::of::<WaterFile>(document)?;
        let name = fields.need("name", file.name, prose).unwrap_or_default();
        let about = fields.read("about", file.about, prose);
        let position = document.at("position").map(|node| place::of_node("position", node));
        let place = position.and_then(|place| fields.faults.keep(place.map_err(|fault| fault.within(&document.file))));
        let zone = fields.read("zone", file.zone, time::zone);
        let fetch = document.get("fetch").and_then(|node| fields.faults.keep(fetch(document, node)));
        let lake = Lake {
            elevation: fields
                .read("elevation", file.elevation, |text| literal("elevation", Kind::Length, Some(ELEVATIONS), text)),
            deepest: fields.read("deepest", file.deepest, |text| of_reading("deepest", Known::Bottom, text)),
            mean_depth: fields
                .read("mean_depth", file.mean_depth, |text| of_reading("mean_depth", Known::Bottom, text)),
            area: fields.read("area", file.area, area),
            longest_open_line: fields.read("longest_open_line", file.longest_open_line, |text| {
                literal("longest_open_line", Kind::Length, Some(OPEN_WATER), text)
            }),
            fetch: fetch.unwrap_or_default(),
            attenuation: fields.read("attenuation", file.attenuation, attenuation),
            deep_water: fields
                .read("deep_water", file.deep_water, |text| of_reading("deep_water", Known::Surface, text)),
            drawn_from_below: fields
                .read("drawn_from_below", file.drawn_from_below, |text| yes_or_no("drawn_from_below", text))
                .unwrap_or(false),
            current: file.current.and_then(|current| self::current(&mut fields, current)),
            habitat: habitat(&mut fields, file.habitat.unwrap_or_default()),
        };
        let rules = file.rules.map(|rules| lake_rules(&mut fields, rules));
        let cautions = file.cautions.map(|cautions| agency_figures(&mut fields, cautions));
        let rules = rules.flatten();
        let setting = Setting {
            zone,
            place,
            bait_allowed: rules.as_ref().and_then(|rules| rules.bait),
            releasing: rules.as_ref().and_then(|rules| rules.releasing),
            lake,
        };
        let cautions = cautions.flatten();
        fields.faults.unless_any(Self { name, about, setting, rules, cautions })
    }
}

/// The rose of fetches: directions with lengths.
fn fetch(document: &Document, node: &Node) -> Result<Vec<(i64, i64)>, Faults> {
    let mut faults = Faults::default();
    let Node::Map(entries, spot) = node else {
        let fault = Fault::new(format!("`fetch` is {}, not directions with lengths", node.what()));
        let fault = fault.help("write for instance `fetch: {N: 1.2 mi, SW: 4 mi}`").at(node.spot());
        return Err(fault.field("fetch").within(&document.file).into());
    };
    let mut rose: Vec<(i64, i64)> = Vec::new();
    for (key, value) in entries {
        let path = format!("fetch.{}", key.text);
        let placed = |fault: Fault| fault.field(&path).within(&document.file);
        let direction = literal("fetch", Kind::Direction, None, &key.text).map_err(|fault| placed(key.place(fault)));
        let Node::Text(written) = value else {
            faults.add(placed(Fault::new(format!("a fetch is one length, not {}", value.what())).at(value.spot())));
            continue;
        };
        let length = literal("fetch", Kind::Length, Some(OPEN_WATER), &written.text);
        let length = faults.keep(length.map_err(|fault| placed(written.place(fault))));
        if let (Some(direction), Some(length)) = (faults.keep(direction), length) {
            if rose.iter().any(|(other, _)| *other == direction) {
                faults.add(placed(Fault::new("this direction stands here twice").at(key.spot)));
            }
            rose.push((direction, length));
        }
    }
    if entries.is_empty() {
        faults.add(Fault::new("`fetch` names no direction").at(*spot).field("fetch").within(&document.file));
    }
    rose.sort_unstable();
    faults.unless_any(rose)
}

/// The international acre and mile, by the yard of 0.9144 m.
const ACRE: f64 = 4840.0 * 0.9144 * 0.9144;
const SQUARE_MILE: f64 = 1609.344 * 1609.344;
const AREA_UNITS: [(&str, f64); 9] = [
    ("m²", 1.0),
    ("m2", 1.0),
    ("ha", 1e4),
    ("km²", 1e6),
    ("km2", 1e6),
    ("acre", ACRE),
    ("acres", ACRE),
    ("mi²", SQUARE_MILE),
    ("mi2", SQUARE_MILE),
];

/// An area in m².
fn area(text: &str) -> Result<f64, Fault> {
    let text = text.trim();
    with_unit(text, &AREA_UNITS).filter(|area| (AREAS.0..=AREAS.1).contains(area)).ok_or_else(|| {
        Fault::new(format!("`{text}` is no area of a lake"))
            .help("write a number and m², ha, km², acres or mi²: `area: 9 km²`")
    })
}

fn attenuation(text: &str) -> Result<f64, Fault> {
    let number = literal("attenuation", Kind::Number, None, text)? as f64 / PER_UNIT as f64;
    let published = (ATTENUATIONS.0..=ATTENUATIONS.1).contains(&number);
    published.then_some(number).ok_or_else(|| {
        Fault::new(format!("`{text}` is outside what is published for the attenuation times the Secchi depth"))
            .help("it runs from 1.1 (turbid) to 2.8 (stained); without it 1.7 is taken")
    })
}

fn current(fields: &mut Fields<'_>, file: CurrentFile) -> Option<Current> {
    let set = fields.need("current.set", file.set, |text| literal("set", Kind::Direction, None, text));
    let drift = fields.need("current.drift", file.drift, |text| of_reading("drift", Known::WaterSpeed, text));
    Some(Current { set: set?, drift: drift? })
}

fn habitat(fields: &mut Fields<'_>, file: Vec<HabitatFile>) -> Vec<Habitat> {
    let items = file.into_iter().enumerate();
    items
        .filter_map(|(at, item)| {
            let path = |key: &str| format!("habitat[{at}].{key}");
            let species = fields.need(&path("species"), item.species, prose);
            let warmest =
                fields.need(&path("warmest"), item.warmest, |text| of_reading("warmest", Known::Surface, text));
            let oxygen = fields.need(&path("oxygen"), item.oxygen, |text| of_reading("oxygen", Known::OxygenAt, text));
            let source = fields.need(&path("source"), item.source, prose);
            Some(Habitat { species: species?, warmest: warmest?, oxygen: oxygen?, source: source? })
        })
        .collect()
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
    literal(what, entry.kind, entry.range(), text)
}
