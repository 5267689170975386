//! The boat file: what the boat is called, how many fish from it, where its instruments sit, its rods and what is on them.

use serde::Deserialize;

use super::feed::Instruments;
use super::fields::{Fields, count, prose, with_unit};
use super::given::literal;
use super::yaml::{Document, Text};
use super::{Fault, Faults};
use crate::tackle::gear::{ACROSS, ALONG, LEAD, Rod, Side, Way, ball};
use crate::tackle::line::{FASTEST, GRAVITY, Load, Stretch};
use crate::tackle::settings::Rods;
use crate::vocabulary::catalogue::Range;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::nearest::nearest;
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
    /// Its rods, in the order of the file.
    pub rods: Vec<Rod>,
    /// The least distance between two lures, m.
    pub apart: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BoatFile {
    name: Option<Text>,
    anglers: Option<Text>,
    instruments: Option<InstrumentsFile>,
    apart: Option<Text>,
    rods: Option<Vec<RodFile>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct InstrumentsFile {
    mast_height: Option<Text>,
    transducer_depth: Option<Text>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RodFile {
    name: Option<Text>,
    side: Option<Text>,
    out: Option<Text>,
    height: Option<Text>,
    most_out: Option<Text>,
    lures: Option<Vec<Text>>,
    lure_drag: Option<Text>,
    cable: Option<LineFile>,
    drum: Option<Text>,
    weight: Option<WeightFile>,
    setback: Option<Text>,
    line: Option<LineFile>,
    weighted: Option<LineFile>,
    sinker: Option<WeightFile>,
    leader: Option<LineFile>,
    measured: Option<Vec<MeasuredFile>>,
}

/// A line: a preset by its name, or its own figures, or a preset with some of its own.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LineFile {
    preset: Option<Text>,
    diameter: Option<Text>,
    material: Option<Text>,
    mass_per_length: Option<Text>,
    drag_across: Option<Text>,
    drag_along: Option<Text>,
    length: Option<Text>,
}

/// A weight: its mass in air and its density, or its volume; and its shape.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WeightFile {
    mass: Option<Text>,
    density: Option<Text>,
    volume: Option<Text>,
    drag: Option<Text>,
    diameter: Option<Text>,
}

/// A depth that was measured with so much line out at a speed.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MeasuredFile {
    out: Option<Text>,
    speed: Option<Text>,
    depth: Option<Text>,
}

const MOST_ANGLERS: u32 = 50;
const MOST_RODS: usize = 20;
/// Most measured depths of a rod.
const MOST_MEASURED: usize = 10;
/// How high a mast is on a boat: more than nothing, and not beyond all boats.
pub const MAST: Range = ((1, 60 * PER_UNIT), "more than 0 to 60 m");
/// How deep a transducer is under the waterline.
pub const TRANSDUCER: Range = ((0, 10 * PER_UNIT), "0 to 10 m");
const OUTWARD: Range = ((0, 100 * PER_UNIT), "0 to 100 m");
const HEIGHT: Range = ((0, 10 * PER_UNIT), "0 to 10 m");
const REEL: Range = ((1, 1000 * PER_UNIT), "more than 0 to 1000 m");
const DRUM: Range = ((PER_UNIT / 100, PER_UNIT), "1 cm to 1 m");
const DIAMETER: Range = ((1, PER_UNIT / 10), "more than 0 to 10 cm");
const APART: Range = ((0, 100 * PER_UNIT), "0 to 100 m");
/// The least distance between two lures where nobody says, m; common practice, no source.
const USUAL_APART: f64 = 4.0;
/// The reel of a rod, where nobody says what its counter may show, m.
const USUAL_REEL: f64 = 90.0;
/// The density of the water that weights in water are counted with, kg/m³.
const WATER: f64 = 1000.0;

/// How much of its circle a strand of wires fills.
const STRAND: f64 = 0.62;

/// A line by name: diameter m, mass of a metre kg, and how much of its circle it fills; what it does not is water. Lead 11,340, stainless steel 7,930, nylon 1,140,
/// polyester 1,380 kg/m³; strands of steel fill 0.62 of their circle; lead cores lie in a braid that fills 0.6.
///
/// Weighted lines are sold by the load they bear; which core goes with which is common practice, no source.
const LINES: [(&str, f64, f64, f64); 11] = [
    ("steel wire 0.9 mm", 0.0009, 0.003_13, STRAND),
    ("steel wire 1.4 mm", 0.0014, 0.007_57, STRAND),
    ("light lead core", 0.0007, 0.001_33, 0.700),
    ("18 lb lead core", 0.0007, 0.001_33, 0.700),
    ("lead core", 0.0008, 0.002_088, 0.726),
    ("27 lb lead core", 0.0008, 0.002_088, 0.726),
    ("heavy lead core", 0.0009, 0.003_024, 0.749),
    ("36 lb lead core", 0.0009, 0.003_024, 0.749),
    ("solid steel wire", 0.0005, 0.001_557, 1.0),
    ("nylon 0.30 mm", 0.0003, 0.000_080_6, 1.0),
    ("nylon 0.40 mm", 0.0004, 0.000_143_3, 1.0),
];

/// What lines are made of: the density, kg/m³, and how much of its circle a line of it fills.
const MATERIALS: [(&str, f64, f64); 5] = [
    ("steel strand", 7930.0, STRAND),
    ("steel", 7930.0, 1.0),
    ("nylon", 1140.0, 1.0),
    ("polyester", 1380.0, 1.0),
    ("polyester braid", 1380.0, 0.6),
];

fn material(text: &str) -> Result<&'static (&'static str, f64, f64), Fault> {
    MATERIALS.iter().find(|(name, ..)| *name == text.trim()).ok_or_else(|| {
        let names: Vec<&str> = MATERIALS.iter().map(|(name, ..)| *name).collect();
        Fault::new(format!("no line is made of `{text}` here"))
            .help(format!("there are {}; or give its `mass_per_length`", names.join(", ")))
    })
}

impl Boat {
    /// Its rods with what bounds their spread, where it has any; `lines` is how many the water allows in all.
    pub fn rods(&self, lines: Option<usize>) -> Option<Rods> {
        (!self.rods.is_empty()).then(|| Rods { rods: self.rods.clone(), lines, apart: self.apart })
    }

    /// Reads a boat file, or standard input where the path is `-`.
    pub fn read(path: &str) -> Result<Self, Faults> {
        Self::of(&Document::read(path)?)
    }

    /// Reads a boat out of a file's text.
    ///
    /// ```yaml
    /// name: the grey skiff    # needed
    /// anglers: 2              # a whole number
    /// apart: 13 ft            # no two lures closer than this
    /// instruments:
    ///   mast_height: 9 ft         # of the wind's instrument over the water
    ///   transducer_depth: 10 in   # of the sounder's transducer under the waterline
    /// rods:
    ///   - name: port boom         # a weight on a cable; the lure's line lets go of a release at the weight
    ///     side: port              # port, centre or starboard
    ///     out: 3 ft               # how far out from the middle of the boat the line goes in
    ///     height: 4 ft            # of the block or tip over the water
    ///     most_out: 200 ft        # the most that the counter may show
    ///     cable: {preset: steel wire 0.9 mm}   # or its diameter with its material or mass_per_length
    ///     drum: 12 in             # its drum's diameter, for whoever counts turns
    ///     weight: {mass: 10 lb}   # a ball of lead, unless `density` or `volume`, `diameter` and `drag` say otherwise
    ///     setback: 30 ft          # of the lure behind the release
    ///     lures: [spoon, plug]    # what it can carry; left out, anything
    ///     lure_drag: 12 cm²       # drag coefficient times area of its lure; left out, by the lure's length
    ///   - name: port board        # a line that sinks of itself
    ///     weighted: {preset: lead core, length: 300 ft}
    ///     line: {preset: nylon 0.40 mm}     # the backing above it
    ///     leader: {preset: nylon 0.30 mm, length: 30 ft}
    ///     measured:               # what was really measured: the drag is fitted to it
    ///       - {out: 150 ft, speed: 2 mph, depth: 26 ft}
    ///   - name: centre            # a plain line, with a sinker in it or without
    ///     line: {diameter: 0.4 mm, mass_per_length: 0.14 g/m}
    ///     sinker: {mass: 2 oz}
    ///     leader: {preset: nylon 0.30 mm, length: 6 ft}
    /// ```
    pub fn of(document: &Document) -> Result<Self, Faults> {
        document.known_keys::<InstrumentsFile>(Some("instruments"))?;
        let (mut fields, file) = Fields::of::<BoatFile>(document)?;
        let name = fields.need("name", file.name, prose);
        let anglers = fields.read("anglers", file.anglers, |text| count("anglers", MOST_ANGLERS, text));
        let instruments = file.instruments.map(|file| Instruments {
            mast: length(&mut fields, "instruments.mast_height", file.mast_height, MAST),
            transducer: length(&mut fields, "instruments.transducer_depth", file.transducer_depth, TRANSDUCER),
        });
        let apart = length(&mut fields, "apart", file.apart, APART);
        let files = file.rods.unwrap_or_default();
        if files.len() > MOST_RODS {
            let fault = Fault::new(format!("{} rods; at most {MOST_RODS} are read", files.len()));
            fields.faults.add(document.fault("rods", fault));
        }
        let mut rods: Vec<Rod> = Vec::new();
        for (at, file) in files.into_iter().take(MOST_RODS).enumerate() {
            let path = format!("rods[{at}]");
            let Some(rod) = rod(&mut fields, &path, file) else { continue };
            if rods.iter().any(|other| other.name == rod.name) {
                let fault = Fault::new(format!("two rods are called `{}`", rod.name));
                fields.faults.add(document.fault(&format!("{path}.name"), fault));
            }
            rods.push(rod);
        }
        fields.faults.unless_any(Self {
            name: name.unwrap_or_default(),
            anglers,
            instruments: instruments.unwrap_or_default(),
            rods,
            apart: apart.unwrap_or(USUAL_APART),
        })
    }
}

fn length(fields: &mut Fields<'_>, path: &str, text: Option<Text>, (range, words): Range) -> Option<f64> {
    let key = path.rsplit('.').next().unwrap_or(path);
    fields.read(path, text, |text| literal(key, Kind::Length, Some((range, words)), text)).map(to_si)
}

/// A positive number with one of some units.
fn measure(what: &str, text: &str, units: &[(&str, f64)], most: f64) -> Result<f64, Fault> {
    let text = text.trim();
    let names: Vec<&str> = units.iter().map(|(name, _)| *name).collect();
    let help = format!("write a number above zero with a unit: {}", names.join(", "));
    match with_unit(text, units) {
        Some(value) if value > 0.0 && value <= most => Ok(value),
        Some(_) => Err(Fault::new(format!("`{text}` is no {what} that can be")).help(help)),
        None => Err(Fault::new(format!("`{text}` is no {what}")).help(help)),
    }
}

const MASSES: [(&str, f64); 4] = [("lb", 0.453_592_37), ("oz", 0.028_349_523_125), ("kg", 1.0), ("g", 0.001)];
const MASSES_PER_LENGTH: [(&str, f64); 2] = [("g/m", 0.001), ("kg/m", 1.0)];
const VOLUMES: [(&str, f64); 3] = [("L", 0.001), ("cm³", 1e-6), ("cm3", 1e-6)];
const AREAS: [(&str, f64); 2] = [("cm²", 1e-4), ("cm2", 1e-4)];
const DENSITIES: [(&str, f64); 2] = [("kg/m³", 1.0), ("kg/m3", 1.0)];

fn number(what: &str, text: &str, (low, high): (f64, f64)) -> Result<f64, Fault> {
    let number = literal(what, Kind::Number, None, text)? as f64 / PER_UNIT as f64;
    let good = (low..=high).contains(&number);
    good.then_some(number).ok_or_else(|| Fault::new(format!("`{what}` lies between {low} and {high}, not at `{text}`")))
}

fn rod(fields: &mut Fields<'_>, path: &str, file: RodFile) -> Option<Rod> {
    let RodFile {
        name,
        side,
        out,
        height,
        most_out,
        lures,
        lure_drag,
        cable,
        drum,
        weight,
        setback,
        line,
        weighted,
        sinker,
        leader,
        measured,
    } = file;
    let at = |key: &str| format!("{path}.{key}");
    let name = fields.need(&at("name"), name, prose);
    let side = fields.read(&at("side"), side, self::side).unwrap_or(Side::Centre);
    let out = length(fields, &at("out"), out, OUTWARD).unwrap_or(0.0);
    let height = length(fields, &at("height"), height, HEIGHT).unwrap_or(1.0);
    let most_out = length(fields, &at("most_out"), most_out, REEL).unwrap_or(USUAL_REEL);
    let lures = lures.unwrap_or_default().into_iter().enumerate();
    let lures = lures.filter_map(|(number, lure)| fields.read(&format!("{path}.lures[{number}]"), Some(lure), prose));
    let lures: Vec<String> = lures.collect();
    let drum = length(fields, &at("drum"), drum, DRUM);
    let lure_drag = fields.read(&at("lure_drag"), lure_drag, |text| measure("drag area", text, &AREAS, 1.0));
    let (word, way) = if cable.is_some() || weight.is_some() {
        let wrong = [(line.is_some(), "line"), (weighted.is_some(), "weighted"), (sinker.is_some(), "sinker")];
        if let Some((_, key)) = wrong.into_iter().find(|(there, _)| *there) {
            let fault = Fault::new(format!("a rod with a weight on a cable has no `{key}` of its own here"));
            fields.faults.add(fields.document.fault(&at(key), fault.help("the lure's line adds little to the cable")));
            return None;
        }
        let (Some(cable), Some(weight)) = (cable, weight) else {
            let fault = Fault::new("a weight needs its cable and a cable its weight")
                .help("write `cable: {preset: steel wire 0.9 mm}` and `weight: {mass: 10 lb}`");
            fields.faults.add(fields.document.fault(path, fault));
            return None;
        };
        let cable = self::line(fields, &at("cable"), cable).map(|(stretch, _)| stretch);
        let weight = self::weight(fields, &at("weight"), weight);
        let setback = length(fields, &at("setback"), setback, OUTWARD).unwrap_or(0.0);
        ("downrigger", Way::Weight { weight: weight?, cable: cable?, setback })
    } else {
        let word = match (&weighted, &sinker) {
            (Some(_), _) => "leadcore",
            (None, Some(_)) => "sinker",
            (None, None) => "flat",
        };
        let mut above = Vec::new();
        for (key, file) in [("weighted", weighted), ("line", line)] {
            if let Some(file) = file {
                let (stretch, length) = self::line(fields, &at(key), file)?;
                above.push((stretch, length.unwrap_or(most_out)));
            }
        }
        if above.is_empty() {
            let fault = Fault::new("this rod has no line")
                .help("write `line: {preset: nylon 0.40 mm}`, `weighted: {preset: lead core, length: 300 ft}`, or a cable with its weight");
            fields.faults.add(fields.document.fault(path, fault));
            return None;
        }
        let leader = leader.and_then(|leader| self::line(fields, &at("leader"), leader));
        let leader = leader.map_or((NO_LEADER, 0.0), |(stretch, length)| (stretch, length.unwrap_or(0.0)));
        let sinker = sinker.map(|sinker| self::weight(fields, &at("sinker"), sinker));
        let sinker = match sinker {
            Some(None) => return None,
            Some(Some(load)) => Some(load),
            None => None,
        };
        (word, Way::Line { leader, sinker, above })
    };
    let measured = measured.unwrap_or_default();
    if measured.len() > MOST_MEASURED {
        let fault = Fault::new(format!("{} measured depths; at most {MOST_MEASURED} are read", measured.len()));
        fields.faults.add(fields.document.fault(&at("measured"), fault));
        return None;
    }
    let points = measured.into_iter().enumerate();
    let points: Vec<[f64; 3]> = points
        .filter_map(|(number, point)| {
            let at = |key: &str| format!("{path}.measured[{number}].{key}");
            let need = |fields: &mut Fields<'_>, key: &str, text: Option<Text>, kind, range: Range| {
                fields.need(&at(key), text, |text| literal(key, kind, Some(range), text)).map(to_si)
            };
            let out = need(fields, "out", point.out, Kind::Length, REEL);
            let speed = need(fields, "speed", point.speed, Kind::Speed, SPEEDS);
            let depth = need(fields, "depth", point.depth, Kind::Length, REEL);
            Some([out?, speed?, depth?])
        })
        .collect();
    let rod =
        Rod { name: name?, side, out, height, most_out, line: word.to_owned(), lures, lure_drag, drum, way, fit: None };
    match rod.fitted(&points, WATER) {
        Ok(rod) => Some(rod),
        Err(unsolved) => {
            fields.faults.add(fields.document.fault(path, Fault::new(unsolved.to_string())));
            None
        }
    }
}

/// Depths that rods are set to.
pub const DEPTHS: Range = ((0, 500 * PER_UNIT), "0 to 500 m");
/// Lengths of lures.
pub const SIZES: Range = ((1, 2 * PER_UNIT), "more than 0 to 2 m");
/// Speeds that anything is worked out for.
pub const SPEEDS: Range = ((1, (FASTEST as i64) * PER_UNIT), "more than 0 to 5 m/s (11 mph)");
/// No leader at all.
const NO_LEADER: Stretch = Stretch { weight: 0.0, diameter: 0.0, across: 0.0, along: 0.0 };

fn side(text: &str) -> Result<Side, Fault> {
    match text.trim() {
        "port" => Ok(Side::Port),
        "centre" | "center" => Ok(Side::Centre),
        "starboard" => Ok(Side::Starboard),
        other => Err(Fault::new(format!("`{other}` is no side of a boat")).help("write port, centre or starboard")),
    }
}

/// A line, and how long it is where somebody says.
fn line(fields: &mut Fields<'_>, path: &str, file: LineFile) -> Option<(Stretch, Option<f64>)> {
    let at = |key: &str| format!("{path}.{key}");
    let named = file.preset.is_some();
    let preset = fields.read(&at("preset"), file.preset, |text| {
        LINES.iter().find(|(name, ..)| *name == text.trim()).ok_or_else(|| {
            let names: Vec<&str> = LINES.iter().map(|(name, ..)| *name).collect();
            let help = match nearest(text, names.iter().copied()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("there are {}; or give `diameter` and `mass_per_length`", names.join(", ")),
            };
            Fault::new(format!("no line is known as `{text}`")).help(help)
        })
    });
    if named && preset.is_none() {
        return None;
    }
    let diameter = length(fields, &at("diameter"), file.diameter, DIAMETER);
    let mass = fields.read(&at("mass_per_length"), file.mass_per_length, |text| {
        measure("mass of a length", text, &MASSES_PER_LENGTH, 10.0)
    });
    let named = file.material.is_some();
    let material = fields.read(&at("material"), file.material, material);
    if named && material.is_none() {
        return None;
    }
    let across = fields.read(&at("drag_across"), file.drag_across, |text| number("drag_across", text, (0.1, 5.0)));
    let along = fields.read(&at("drag_along"), file.drag_along, |text| number("drag_along", text, (0.0, 1.0)));
    let length = length(fields, &at("length"), file.length, REEL);
    let diameter = diameter.or(preset.map(|preset| preset.1));
    let area = diameter.map_or(0.0, |diameter| std::f64::consts::PI * diameter * diameter / 4.0);
    let fills = material.map(|material| material.2).or(preset.map(|preset| preset.3)).unwrap_or(1.0);
    let mass = mass.or(material.map(|(_, density, fills)| density * fills * area)).or(preset.map(|preset| preset.2));
    let (Some(diameter), Some(mass)) = (diameter, mass) else {
        let fault = Fault::new("a line needs its `preset`, or its `diameter` with `material` or `mass_per_length`");
        fields.faults.add(fields.document.fault(path, fault.help("write for instance `{preset: lead core}`")));
        return None;
    };
    let weight = (mass - WATER * area * fills) * GRAVITY;
    let stretch = Stretch { weight, diameter, across: across.unwrap_or(ACROSS), along: along.unwrap_or(ALONG) };
    Some((stretch, length))
}

fn weight(fields: &mut Fields<'_>, path: &str, file: WeightFile) -> Option<Load> {
    let at = |key: &str| format!("{path}.{key}");
    let mass = fields.need(&at("mass"), file.mass, |text| measure("mass", text, &MASSES, 100.0));
    let density = fields.read(&at("density"), file.density, |text| measure("density", text, &DENSITIES, 25_000.0));
    let volume = fields.read(&at("volume"), file.volume, |text| measure("volume", text, &VOLUMES, 1.0));
    if density.is_some() && volume.is_some() {
        let fault = Fault::new("a weight has its density or its volume, not both");
        fields.faults.add(fields.document.fault(&at("volume"), fault));
        return None;
    }
    let drag = fields.read(&at("drag"), file.drag, |text| number("drag", text, (0.05, 2.0)));
    let diameter = length(fields, &at("diameter"), file.diameter, ((1, PER_UNIT), "more than 0 to 1 m"));
    let density = density.or(mass.zip(volume).map(|(mass, volume)| mass / volume)).unwrap_or(LEAD);
    if density <= WATER {
        let fault = Fault::new("a weight that is no denser than water does not sink");
        let key = if volume.is_some() { "volume" } else { "density" };
        fields.faults.add(fields.document.fault(&at(key), fault.help("lead has 11340 kg/m³, steel 7850 kg/m³")));
        return None;
    }
    let round = ball(mass?, density);
    let face = diameter.map_or(round.drag_area / crate::tackle::gear::BALL_DRAG, |diameter| {
        std::f64::consts::PI * diameter * diameter / 4.0
    });
    Some(Load { drag_area: face * drag.unwrap_or(crate::tackle::gear::BALL_DRAG), ..round })
}
