//! The readings file: what was read and seen, moment by moment.
//!
//! ```yaml
//! moments:
//!   - at: 2026-05-14T11:30            # with an offset where no water gives the zone
//!     surface: 54 °F                  # values as in a strategy
//!     marks: yes
//!     position: {latitude: 46.0, longitude: -116.0}
//!     cast: ["0 ft 54 °F 10 mg/L", "25 ft 49.9 °F"]
//!   - at: 2026-05-14T12:10
//!     wind: 12 mph
//! ```
//!
//! Moments stand in the order of time, each later than the one before. What the names mean depends on the strategy, so
//! they and their values stay texts here; [`super::given::Names::moment`] reads them.

use jiff::tz::TimeZone;

use super::yaml::{Document, Node, Spot, Written, unknown_key};
use super::{Fault, Faults, time};
use crate::vocabulary::time::Instant;

/// A file of readings.
#[derive(Clone, Debug)]
pub struct Readings {
    /// The name it is shown under.
    pub file: String,
    /// Its moments, in the order of time; at least one.
    pub moments: Vec<MomentInput>,
}

/// One moment of a file.
#[derive(Clone, Debug)]
pub struct MomentInput {
    /// When.
    pub at: Instant,
    /// The zone it is meant in: the water's, else the one that the time carried.
    pub zone: TimeZone,
    /// Where its `at` stands.
    pub spot: Spot,
    /// What it gives.
    pub given: Vec<GivenText>,
}

/// One thing given, as it was written.
#[derive(Clone, Debug)]
pub struct GivenText {
    /// The path of its field: `moments[2].surface`.
    pub path: String,
    /// The name or call.
    pub name: Written,
    /// The value: a text; a list of texts for a cast; latitude and longitude for a position.
    pub value: Node,
}

const KEYS: [&str; 1] = ["moments"];

impl Readings {
    /// Reads a file of readings, or standard input where the path is `-`; `zone` is that of the water.
    pub fn read(path: &str, zone: Option<&TimeZone>) -> Result<Self, Faults> {
        Self::of(&Document::read(path)?, zone)
    }

    /// Reads readings out of a file's text; `zone` is that of the water.
    pub fn of(document: &Document, zone: Option<&TimeZone>) -> Result<Self, Faults> {
        let within = |fault: Fault| fault.within(&document.file);
        if let Some((key, _)) = document.root().iter().find(|(key, _)| !KEYS.contains(&key.text.as_str())) {
            return Err(within(unknown_key(key, None, &KEYS)).into());
        }
        let items = match document.get("moments") {
            Some(Node::List(items, _)) if !items.is_empty() => items,
            other => return Err(within(no_moments(other)).into()),
        };
        let mut faults = Faults::default();
        let mut moments: Vec<MomentInput> = Vec::new();
        for (number, item) in items.iter().enumerate() {
            let moment = moment(number, item, zone).map_err(within);
            let Some(moment) = faults.keep(moment) else { continue };
            if let Some(fault) = moments.last().and_then(|before| not_later(before, &moment)) {
                faults.add(within(fault.field(format!("moments[{number}].at"))));
            }
            moments.push(moment);
        }
        faults.unless_any(Self { file: document.file.clone(), moments })
    }

    /// The latest moment, which is the last.
    pub fn latest(&self) -> Option<&MomentInput> {
        self.moments.last()
    }
}

fn no_moments(found: Option<&Node>) -> Fault {
    let fault = match found {
        Some(Node::List(..)) | None => Fault::new("the file has no moments"),
        Some(other) => Fault::new(format!("`moments` is {}, not a list", other.what())),
    };
    let fault =
        fault.help("write `moments:` and below it `- at: 2026-05-14T11:30` with what was read then").field("moments");
    found.map(Node::spot).into_iter().fold(fault, Fault::at)
}

fn moment(number: usize, item: &Node, zone: Option<&TimeZone>) -> Result<MomentInput, Fault> {
    let path = format!("moments[{number}]");
    let Node::Map(entries, spot) = item else {
        let fault = Fault::new(format!("a moment is keys with values, not {}", item.what()));
        return Err(fault
            .help("write `- at: 2026-05-14T11:30` and below it what was read then")
            .at(item.spot())
            .field(path));
    };
    let at_path = format!("{path}.at");
    let written = match entries.iter().find(|(key, _)| key.text == "at").map(|(_, node)| node) {
        Some(Node::Text(written)) => written,
        Some(other) => {
            return Err(Fault::new(format!("`at` is {}, not a time", other.what())).at(other.spot()).field(at_path));
        }
        None => {
            let fault = Fault::new("this moment has no `at`").help("write when it was: `at: 2026-05-14T11:30`");
            return Err(fault.at(*spot).field(path));
        }
    };
    let (at, zone) = time::time(&written.text, zone).map_err(|fault| written.place(fault).field(at_path))?;
    let given = entries.iter().filter(|(key, _)| key.text != "at");
    let given = given.map(|(name, value)| GivenText {
        path: format!("{path}.{}", name.text),
        name: name.clone(),
        value: value.clone(),
    });
    Ok(MomentInput { at, zone, spot: written.spot, given: given.collect() })
}

fn not_later(before: &MomentInput, moment: &MomentInput) -> Option<Fault> {
    let (line, earlier) = (moment.spot.line, before.spot.line);
    let fault = if moment.at > before.at {
        return None;
    } else if moment.at == before.at {
        Fault::new(format!("the moments in lines {earlier} and {line} are at the same time"))
            .help("put their readings into one moment")
    } else {
        Fault::new(format!("the moment in line {line} is earlier than the one before it, in line {earlier}"))
            .help("moments stand in the order of time")
    };
    Some(fault.at(moment.spot))
}
