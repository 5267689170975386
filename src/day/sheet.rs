//! The sheet of a fair contest: which strategy each unit of a day was assigned to, by chance.
//!
//! ```yaml
//! contest:
//!   a: rules/less_to_chase.strategy
//!   b: rules/light_and_depth.strategy
//!   seed: 20260514                  # what the chance was drawn with
//!   units:
//!   - {from: "06:00", to: "06:30", light: low_sun, run: A}                              # every rod
//!   - {from: "06:30", to: "07:00", light: low_sun, rod: port flat, side: port, run: B}  # one rod
//! ```
//!
//! A unit is a stretch of the day for the whole boat, or for one rod; never both at one time, and no rod is in two units
//! at once. Light and the side of the boat are the strata within which the assignment is balanced. Times are as in a
//! log's events.

use std::fmt::Write as _;

use jiff::civil::Date;
use jiff::tz::TimeZone;

use super::keys::{Keys, Times};
use super::record::quoted;
use crate::source::yaml::{Node, Spot, unknown_key};
use crate::source::{Fault, Faults};
use crate::vocabulary::catalogue::light_words;
use crate::vocabulary::nearest::{listed, nearest};
use crate::vocabulary::time::Instant;

/// Which of two strategies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Arm {
    /// The first that the sheet names.
    A,
    /// The second.
    B,
}

impl Arm {
    /// As it is written.
    pub fn name(self) -> &'static str {
        match self {
            Arm::A => "A",
            Arm::B => "B",
        }
    }

    /// The other one.
    pub fn other(self) -> Self {
        match self {
            Arm::A => Arm::B,
            Arm::B => Arm::A,
        }
    }
}

/// A stretch of the day that was assigned to a strategy.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unit {
    /// When it begins.
    pub from: Instant,
    /// When it ends; later than it begins.
    pub to: Instant,
    /// The light then, a word of the reading `light`.
    pub light: Option<String>,
    /// The rod it is for; none for every rod of the boat.
    pub rod: Option<String>,
    /// The side of the boat which that rod is on: `port`, `centre` or `starboard`.
    pub side: Option<String>,
    /// The strategy to run.
    pub run: Arm,
}

impl Unit {
    /// Within what its assignment is balanced: the light, and the side of the boat.
    pub fn stratum(&self) -> (Option<&str>, Option<&str>) {
        (self.light.as_deref(), self.side.as_deref())
    }
}

/// The sheet of a contest: at least one unit for each strategy, in the order of the file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sheet {
    /// The first strategy's file.
    pub a: String,
    /// The second's.
    pub b: String,
    /// What the chance was drawn with.
    pub seed: u64,
    /// What was assigned.
    pub units: Vec<Unit>,
}

/// The sides of a boat, as a boat file writes them.
const SIDES: [&str; 3] = ["port", "centre", "starboard"];
/// Most units of a sheet: a day's minutes for a handful of rods, with room.
const MOST_UNITS: usize = 10_000;
const KEYS: [&str; 4] = ["a", "b", "seed", "units"];
const UNIT_KEYS: [&str; 6] = ["from", "to", "light", "rod", "side", "run"];

impl Sheet {
    /// The sheet as the lines of a log's header, `contest:` and what belongs to it. A time that lies on the log's date
    /// is written as a time of day.
    pub fn yaml(&self, date: Option<Date>, zone: &TimeZone) -> String {
        let mut text =
            format!("contest:\n  a: {}\n  b: {}\n  seed: {}\n  units:\n", quoted(&self.a), quoted(&self.b), self.seed);
        for unit in &self.units {
            let time = |at| quoted(&time_text(at, date, zone));
            let _ = write!(text, "  - {{from: {}, to: {}", time(unit.from), time(unit.to));
            for (key, value) in [("light", &unit.light), ("rod", &unit.rod), ("side", &unit.side)] {
                if let Some(value) = value {
                    let value = if key == "rod" { quoted(value) } else { value.clone() };
                    let _ = write!(text, ", {key}: {value}");
                }
            }
            let _ = writeln!(text, ", run: {}}}", unit.run.name());
        }
        text
    }

    /// Reads the value of `contest` in a log's header.
    pub(super) fn of(file: &str, node: &Node, times: &mut Times) -> Result<Self, Faults> {
        let within = |fault: Fault| fault.within(file);
        let Node::Map(entries, spot) = node else {
            let fault = Fault::new(format!("`contest` is {}, not the sheet of a contest", node.what()));
            return Err(
                within(fault.help("it has `a`, `b`, `seed` and `units`").at(node.spot()).field("contest")).into()
            );
        };
        let keys = Keys { path: "contest".to_owned(), what: "contest", entries, spot: *spot };
        let mut faults = Faults::default();
        for (key, _) in entries.iter().filter(|(key, _)| !KEYS.contains(&key.text.as_str())) {
            faults.add(within(unknown_key(key, Some("contest"), &KEYS)));
        }
        let mut file_of = |key: &str| {
            let written = keys.text(key, &format!("write the strategy's file, as in `{key}: rules/mine.strategy`"));
            faults.keep(written.map_err(within)).map(|written| written.text.trim().to_owned())
        };
        let (a, b) = (file_of("a"), file_of("b"));
        let seed = faults.keep(seed(&keys).map_err(within));
        let units = match keys.get("units") {
            Some(Node::List(items, _)) => faults.keep(units(file, items, *spot, times)),
            other => {
                let fault = match other {
                    Some(other) => Fault::new(format!("`units` is {}, not a list", other.what())).at(other.spot()),
                    None => Fault::new("this contest has no `units`").at(*spot),
                };
                let help = "write `units:` and below it `- {from: \"06:00\", to: \"06:30\", run: A}` and so on";
                faults.add(within(fault.help(help).field("contest.units")));
                None
            }
        };
        match (a, b, seed, units) {
            (Some(a), Some(b), Some(seed), Some(units)) => faults.unless_any(Self { a, b, seed, units }),
            // What is missing is among the faults.
            _ => Err(faults),
        }
    }
}

/// A time as a log has it: of day, where that reads back as the same instant on the log's date.
fn time_text(at: Instant, date: Option<Date>, zone: &TimeZone) -> String {
    let zoned = at.zoned(zone);
    let whole_minute = zoned.time().second() == 0 && zoned.time().subsec_nanosecond() == 0;
    let of_day = zoned.strftime(if whole_minute { "%H:%M" } else { "%H:%M:%S%.f" }).to_string();
    let again = Times { date, zone: Some(zone.clone()) }.read(&of_day);
    if again.is_ok_and(|again| again == at) { of_day } else { zoned.strftime("%Y-%m-%dT%H:%M:%S%.f%:z").to_string() }
}

fn seed(keys: &Keys<'_>) -> Result<u64, Fault> {
    let written = keys.text("seed", "write the number that the sheet was drawn with, as in `seed: 20260514`")?;
    let text = written.text.trim();
    let digits = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let number = if digits { text.parse().ok() } else { None };
    number.ok_or_else(|| {
        let fault = Fault::new(format!("`seed` is a whole number from 0 to {}, not `{text}`", u64::MAX));
        keys.fault("seed", written, fault)
    })
}

/// The units, each for itself and then beside each other.
fn units(file: &str, items: &[Node], contest: Spot, times: &mut Times) -> Result<Vec<Unit>, Faults> {
    let mut faults = Faults::default();
    if items.len() > MOST_UNITS {
        let fault = Fault::new(format!("a contest has at most {MOST_UNITS} units, and this one {}", items.len()));
        return Err(fault.at(contest).field("contest.units").within(file).into());
    }
    let mut units: Vec<(Unit, Spot)> = Vec::with_capacity(items.len());
    let mut all_read = true;
    for (number, item) in items.iter().enumerate() {
        match unit(file, number, item, times) {
            Ok(unit) => units.push((unit, item.spot())),
            Err(wrong) => {
                all_read = false;
                faults.extend(wrong);
            }
        }
    }
    faults.extend(clashes(file, &units));
    // What can't be read may be the unit that is missing here.
    for arm in [Arm::A, Arm::B] {
        if all_read && !units.iter().any(|(unit, _)| unit.run == arm) {
            let fault = Fault::new(format!("this contest has no unit that runs {}", arm.name()));
            let fault = fault.help("each strategy needs one at least: what is not fished can't be compared");
            faults.add(fault.at(contest).field("contest.units").within(file));
        }
    }
    faults.unless_any(units.into_iter().map(|(unit, _)| unit).collect())
}

fn unit(file: &str, number: usize, item: &Node, times: &mut Times) -> Result<Unit, Faults> {
    let within = |fault: Fault| fault.within(file);
    let path = format!("contest.units[{number}]");
    let Node::Map(entries, spot) = item else {
        let fault = Fault::new(format!("a unit is keys with values, not {}", item.what()));
        let help = "write for instance `- {from: \"06:00\", to: \"06:30\", run: A}`";
        return Err(within(fault.help(help).at(item.spot()).field(path)).into());
    };
    let keys = Keys { path, what: "unit", entries, spot: *spot };
    let mut faults = Faults::default();
    faults.keep(keys.no_others(&UNIT_KEYS).map_err(within));
    let from = faults.keep(keys.time("from", times).map_err(within));
    let to = faults.keep(keys.time("to", times).map_err(within));
    if let (Some(from), Some(to)) = (from, to)
        && to <= from
        && let Some(Node::Text(written)) = keys.get("to")
    {
        let fault = Fault::new("`to` is not later than `from`");
        let fault = fault.help("a unit that passes midnight says its date too, as in `to: 2026-05-15T00:30`");
        faults.add(within(keys.fault("to", written, fault)));
    }
    let light = faults.keep(one_of(&keys, "light", &light_words().words).map_err(within)).flatten();
    let side = faults.keep(one_of(&keys, "side", &SIDES).map_err(within)).flatten();
    let rod = keys.get("rod").and_then(|_| faults.keep(keys.rod_name("rod").map_err(within)));
    if let (Some(side), None) = (keys.get("side"), keys.get("rod")) {
        let fault = Fault::new("a unit for every rod has no `side`").help("leave it out, or name the unit's `rod`");
        faults.add(within(fault.at(side.spot()).field(keys.field("side"))));
    }
    let run = faults.keep(run(&keys).map_err(within));
    match (from, to, run) {
        (Some(from), Some(to), Some(run)) => faults.unless_any(Unit { from, to, light, rod, side, run }),
        _ => Err(faults),
    }
}

fn run(keys: &Keys<'_>) -> Result<Arm, Fault> {
    let written = keys.text("run", "write which strategy it was assigned to: `run: A` or `run: B`")?;
    match written.text.trim() {
        "A" | "a" => Ok(Arm::A),
        "B" | "b" => Ok(Arm::B),
        other => Err(keys.fault("run", written, Fault::new(format!("`run` is `A` or `B`, not `{other}`")))),
    }
}

/// One of some words, where the key is there.
fn one_of(keys: &Keys<'_>, key: &str, words: &[impl AsRef<str>]) -> Result<Option<String>, Fault> {
    if keys.get(key).is_none() {
        return Ok(None);
    }
    let written = keys.text(key, "")?;
    let word = written.text.trim();
    let words = || words.iter().map(AsRef::as_ref);
    if words().any(|known| known == word) {
        return Ok(Some(word.to_owned()));
    }
    let help = match nearest(word, words()) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("it is one of {}", listed(words())),
    };
    Err(keys.fault(key, written, Fault::new(format!("`{word}` is no `{key}`")).help(help)))
}

/// Units that can't both be: two at once for one rod, or one rod's beside one for every rod. Each is told once, with
/// the one it meets that begins first.
fn clashes(file: &str, units: &[(Unit, Spot)]) -> Faults {
    let mut faults = Faults::default();
    let mut sorted: Vec<&(Unit, Spot)> = units.iter().collect();
    sorted.sort_by_key(|(unit, spot)| (unit.from, *spot));
    // Those that may still reach into what follows; few at any time, since what has ended leaves.
    let mut open: Vec<&(Unit, Spot)> = Vec::new();
    for here in sorted {
        let (unit, spot) = here;
        open.retain(|(earlier, _)| unit.from < earlier.to);
        let meets =
            |(earlier, _): &&&(Unit, Spot)| earlier.rod == unit.rod || earlier.rod.is_none() || unit.rod.is_none();
        match open.iter().find(meets) {
            Some((earlier, there)) => {
                // The later in the file is the one that is wrong.
                let (at, line) = if spot > there { (*spot, there.line) } else { (*there, spot.line) };
                let fault = match &unit.rod {
                    rod if *rod != earlier.rod => {
                        Fault::new(format!("this unit and the one in line {line} are at one time, one for every rod and one for a single rod"))
                            .help("assign the whole boat, or every rod for itself")
                    }
                    Some(rod) => Fault::new(format!("rod `{rod}` is in this unit and in the one in line {line} at one time"))
                        .help("a rod runs one strategy at a time: end the one before the other begins"),
                    None => Fault::new(format!("this unit and the one in line {line} are at one time"))
                        .help("end the one before the other begins"),
                };
                faults.add(fault.at(at).within(file));
            }
            None => open.push(here),
        }
    }
    faults
}
