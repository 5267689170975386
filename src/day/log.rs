//! The day's log: what was read and seen, what each rod ran, strikes, fish, notes.
//!
//! ```yaml
//! water: Ossel Water              # what it is about, each as it pleases
//! boat: the grey skiff
//! strategy: rules/less_to_chase.strategy
//! date: 2026-05-14                # lets events have a time of day alone
//! zone: "-07:00"                  # where their times carry none; else the water's
//! contest: {...}                  # the sheet of a fair contest, see [`super::sheet`]
//! events:
//! - {at: "06:02", lines: in}
//! - {at: "06:02", readings: {surface: 54 °F, marks: yes}}        # by hand
//! - {at: "06:03", measured: {wind: 8 mph, bottom: 96 ft}}        # by instruments
//! - {at: "06:04", rod: port, depth: 20 ft, speed: 2.7 mph, size: 3 in, lure: spoon, out: 140 ft}
//! - {at: "06:31", strike: port}
//! - {at: "06:34", landed: port}
//! - {at: "07:10", rod: port, up: yes}
//! - {at: "07:12", note: "fog until seven"}
//! - {at: "11:40", lines: out}
//! ```
//!
//! An event says one thing, or `readings` and `measured` together. What a rod runs holds until it is said anew; what is
//! left out then stays as it was. A rod fishes while it is in and lines are in; lines out and in again bring back every
//! rod that was in. A strike or a fish whose rod nobody saw is `strike: yes`.
//!
//! Every event of a log that `watch` writes is one line and ends with it, so that a line which the end of the file cuts
//! short can be told from a whole one: it is left out, and [`Log::cut`] says so.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use jiff::tz::TimeZone;

use super::form;
use super::keys::{Keys, NO_DATE, Times};
use super::sheet::Sheet;
use super::standing::{Check, Standing};
use crate::program::GivenTarget;
use crate::session::Event;
use crate::source::given::{Names, literal};
use crate::source::readings::{GivenText, MomentInput};
use crate::source::yaml::{Bounds, Document, Node, Spot, unknown_key};
use crate::source::{Fault, Faults, files, time};
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::quantity::{DAY, PER_UNIT};
use crate::vocabulary::time::Instant;

/// The size of a log: a day of readings each second, with room.
pub const BOUNDS: Bounds = Bounds { bytes: 32 << 20, nodes: 2_000_000 };

/// A day's log.
#[derive(Clone, Debug)]
pub struct Log {
    /// The name it is shown under.
    pub file: String,
    /// The water, as its header names it.
    pub water: Option<String>,
    /// The boat.
    pub boat: Option<String>,
    /// The strategy that was fished.
    pub strategy: Option<String>,
    /// The day, where the header says it; events on it have a time of day alone.
    pub date: Option<Date>,
    /// The zone of its times: its own, else the water's, else the one the first time carries.
    pub zone: TimeZone,
    /// The sheet of a fair contest, where the day was one.
    pub contest: Option<Sheet>,
    /// What happened, in the order of time.
    pub entries: Vec<Entry>,
    /// The line that the end of the file cuts short, which is left out.
    pub cut: Option<String>,
}

/// One thing that happened.
#[derive(Clone, Debug)]
pub struct Entry {
    /// When.
    pub at: Instant,
    /// Where it stands in the file.
    pub spot: Spot,
    /// What.
    pub what: What,
}

/// What can happen.
#[derive(Clone, Debug)]
pub enum What {
    /// Lines go in, or come out.
    Lines(bool),
    /// A fish strikes, on a rod where somebody saw which.
    Strike(Option<String>),
    /// A fish is landed.
    Landed(Option<String>),
    /// A rod goes in, or runs something else from now on; what is none stays as it was.
    Rod(String, Run),
    /// A rod comes out.
    Up(String),
    /// Words.
    Note(String),
    /// Readings: those that people gave, those that instruments measured.
    Readings {
        /// By hand.
        given: Option<MomentInput>,
        /// By instruments.
        measured: Option<MomentInput>,
    },
}

/// What a rod really runs; none is not known. Lengths and speeds in counts.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Run {
    /// How deep.
    pub depth: Option<i64>,
    /// How fast, through the water.
    pub speed: Option<i64>,
    /// The lure's length.
    pub size: Option<i64>,
    /// How far behind the boat or the release.
    pub setback: Option<i64>,
    /// Line out, on the reel's counter.
    pub out: Option<i64>,
    /// What is on it: the words of `lure`, `colour`, `line` and `path`, as they were written.
    pub words: BTreeMap<&'static str, String>,
}

/// The measures of what a rod runs, their kinds and how far they go.
const MEASURES: [(&str, Kind, i64, &str); 5] = [
    ("depth", Kind::Length, 1700 * PER_UNIT, "0 to 1700 m"),
    ("speed", Kind::Speed, 15 * PER_UNIT, "0 to 15 m/s"),
    ("size", Kind::Length, 2 * PER_UNIT, "0 to 2 m"),
    ("setback", Kind::Length, 1000 * PER_UNIT, "0 to 1000 m"),
    ("out", Kind::Length, 2000 * PER_UNIT, "0 to 2000 m"),
];
/// The words of what a rod runs.
const WORDS: [&str; 4] = ["lure", "colour", "line", "path"];

impl Run {
    /// The keys under which it is written, in the order of a line.
    pub fn keys() -> impl Iterator<Item = &'static str> {
        MEASURES.into_iter().map(|(key, ..)| key).chain(WORDS)
    }

    /// The kind of a key's value; none where it is a word.
    pub fn kind(key: &str) -> Option<Kind> {
        MEASURES.into_iter().find(|(name, ..)| *name == key).map(|(_, kind, ..)| kind)
    }

    /// The measure that is written under a key; none where there is none.
    pub fn measure(&self, key: &str) -> Option<i64> {
        match key {
            "depth" => self.depth,
            "speed" => self.speed,
            "size" => self.size,
            "setback" => self.setback,
            "out" => self.out,
            _ => None,
        }
    }

    /// Takes one key in. The fault's column counts in the text.
    pub fn set(&mut self, key: &str, text: &str) -> Result<(), Fault> {
        if let Some(word) = WORDS.into_iter().find(|word| *word == key) {
            let text = text.trim();
            if text.is_empty() {
                return Err(Fault::new(format!("`{key}` has no value")).help("leave it out"));
            }
            self.words.insert(word, text.to_owned());
            return Ok(());
        }
        let Some((key, kind, most, range)) = MEASURES.into_iter().find(|(name, ..)| *name == key) else {
            return Err(Fault::new(format!("a rod has no `{key}`")));
        };
        let counts = literal(key, kind, Some(((0, most), range)), text)?;
        let slot = match key {
            "depth" => &mut self.depth,
            "speed" => &mut self.speed,
            "size" => &mut self.size,
            "setback" => &mut self.setback,
            _ => &mut self.out,
        };
        *slot = Some(counts);
        Ok(())
    }

    /// The same with what a later one says.
    pub fn then(&self, later: &Run) -> Run {
        let mut words = self.words.clone();
        words.extend(later.words.clone());
        Run {
            depth: later.depth.or(self.depth),
            speed: later.speed.or(self.speed),
            size: later.size.or(self.size),
            setback: later.setback.or(self.setback),
            out: later.out.or(self.out),
            words,
        }
    }
}

/// How the name of a log's file ends.
const ENDINGS: [&str; 3] = ["yaml", "yml", "csv"];

/// Whether a path names a log by its ending.
pub fn is_log(path: &str) -> bool {
    path.rsplit_once('.').is_some_and(|(_, ending)| ENDINGS.iter().any(|known| ending.eq_ignore_ascii_case(known)))
}

/// The logs that a path names: `-` and a file name themselves; a folder names those in it and below it, sorted by path.
/// A day that is there in both forms under one name counts once, in YAML.
///
/// Errors: there is nothing at the path; it is a folder with no log in it.
pub fn find(path: &str) -> Result<Vec<String>, Fault> {
    let mut found = crate::source::strategies::find_with(path, &ENDINGS, "logs", "logs")?;
    let stem = |path: &str| path.rsplit_once('.').map(|(stem, ending)| (stem.to_owned(), ending == "csv"));
    let written: BTreeSet<String> =
        found.iter().filter_map(|path| stem(path)).filter(|(_, is_table)| !is_table).map(|(stem, _)| stem).collect();
    found.retain(|path| stem(path).is_none_or(|(stem, is_table)| !is_table || !written.contains(&stem)));
    Ok(found)
}

/// The keys of a log.
pub(super) const HEADER: [&str; 7] = ["water", "boat", "strategy", "date", "zone", "contest", "events"];
const THINGS: [&str; 7] = ["lines", "strike", "landed", "rod", "note", "readings", "measured"];

impl Log {
    /// Reads a log, or standard input where the path is `-`; `zone` is that of the water.
    pub fn read(path: &str, zone: Option<&TimeZone>) -> Result<Self, Faults> {
        Self::of_bytes(path, files::bytes_within(path, BOUNDS.bytes)?, zone)
    }

    /// Reads a log out of bytes.
    pub fn of_bytes(file: &str, bytes: Vec<u8>, zone: Option<&TimeZone>) -> Result<Self, Faults> {
        let (document, cut) = form::document(file, bytes)?;
        Ok(Self { cut, ..Self::of(&document, zone)? })
    }

    /// When lines were in: from each `in` to the next `out`, the last to the last event.
    pub fn lines_in(&self) -> Vec<(Instant, Instant)> {
        let mut spans = Vec::new();
        let mut since = None;
        for entry in &self.entries {
            match entry.what {
                What::Lines(true) => since = since.or(Some(entry.at)),
                What::Lines(false) => spans.extend(since.take().map(|from| (from, entry.at))),
                _ => {}
            }
        }
        spans.extend(since.zip(self.entries.last().map(|entry| entry.at)));
        spans
    }

    /// The one event of a line, as [`super::record`] writes it.
    pub fn event(file: &str, line: &str, zone: &TimeZone) -> Result<Entry, Faults> {
        let document = Document::parse(file, format!("events:\n{line}\n"))?;
        let items = events_of(&document).map_err(|fault| fault.within(file))?;
        let item = items.first().ok_or_else(|| Fault::new("the line holds no event").within(file))?;
        let mut times = Times { date: None, zone: Some(zone.clone()) };
        entry(0, item, &mut times).map_err(|fault| fault.within(file).into())
    }

    /// Reads a log as [`Log::read`] does, and its readings by names that are found for it. Everything that is wrong is
    /// told at once. A reading that has none of the names is passed over: another strategy may have declared it.
    pub fn check(path: &str, names: impl FnOnce(&Log) -> Names) -> Result<Self, Faults> {
        let (document, cut) = form::document(path, files::bytes_within(path, BOUNDS.bytes)?)?;
        let (log, mut faults) = Self::with_faults(&document, None);
        faults.keep(log.check_readings(&mut names(&log)));
        faults.unless_any(Self { cut, ..log })
    }

    /// Reads a log out of a file's text.
    pub fn of(document: &Document, zone: Option<&TimeZone>) -> Result<Self, Faults> {
        let (log, faults) = Self::with_faults(document, zone);
        faults.unless_any(log)
    }

    /// What can be read of a log, and what is wrong with it.
    fn with_faults(document: &Document, zone: Option<&TimeZone>) -> (Self, Faults) {
        let within = |fault: Fault| fault.within(&document.file);
        let mut faults = Faults::default();
        for (key, _) in document.root().iter().filter(|(key, _)| !HEADER.contains(&key.text.as_str())) {
            faults.add(within(unknown_key(key, None, &HEADER)));
        }
        let misspelt = !faults.is_empty();
        let mut header = |key: &str| match document.get(key) {
            Some(Node::Text(written)) => Some(written.text.trim().to_owned()),
            Some(other) => {
                let fault = Fault::new(format!("`{key}` is {}, not one text", other.what()));
                faults.add(within(fault.at(other.spot()).field(key)));
                None
            }
            None => None,
        };
        let (water, boat, strategy) = (header("water"), header("boat"), header("strategy"));
        let (date, own_zone) = (header("date"), header("zone"));
        let date = date.and_then(|text| faults.keep(time::date(&text).map_err(|fault| document.fault("date", fault))));
        let own_zone =
            own_zone.and_then(|text| faults.keep(time::zone(&text).map_err(|fault| document.fault("zone", fault))));
        let unread = |key: &str, read: bool| document.get(key).is_some() && !read;
        let (no_date, no_zone) = (unread("date", date.is_some()), unread("zone", own_zone.is_some()));
        let mut times = Times { date, zone: own_zone.or_else(|| zone.cloned()) };
        let contest = document.get("contest");
        let contest = contest.and_then(|node| faults.keep(Sheet::of(&document.file, node, &mut times)));
        let entries = match events_of(document).map_err(within) {
            // A misspelt key may have been meant for it.
            Err(_) if misspelt && document.get("events").is_none() => Vec::new(),
            Err(fault) => {
                faults.add(fault);
                Vec::new()
            }
            Ok(items) => {
                let (entries, wrong) = Self::entries(&document.file, items, &mut times);
                faults.extend(wrong);
                entries
            }
        };
        // One date or zone that is missing is one fault, however many times go by it.
        faults.at_most(NO_DATE, usize::from(!no_date));
        faults.at_most(time::NO_ZONE, usize::from(!no_zone));
        let zone = times.zone.unwrap_or(TimeZone::UTC);
        let file = document.file.clone();
        (Self { file, water, boat, strategy, date, zone, contest, entries, cut: None }, faults)
    }

    /// The events of a log, each for itself, in the order of time, and beside those before it; and what is wrong with
    /// them.
    fn entries(file: &str, items: &[Node], times: &mut Times) -> (Vec<Entry>, Faults) {
        let within = |fault: Fault| fault.within(file);
        let mut faults = Faults::default();
        let mut entries: Vec<Entry> = Vec::with_capacity(items.len());
        let mut day = Check::default();
        for (number, item) in items.iter().enumerate() {
            let entry = match entry(number, item, times) {
                Ok(entry) => entry,
                Err(fault) => {
                    faults.add(within(fault));
                    day.pass_over(item);
                    continue;
                }
            };
            if let Some(fault) = out_of_order(entries.last(), &entry, times) {
                faults.add(within(fault.at(entry.spot).field(format!("events[{number}].at"))));
            }
            if let Some(fault) = day.take(&entry) {
                faults.add(within(fault.at(entry.spot).field(format!("events[{number}]"))));
            }
            entries.push(entry);
        }
        (entries, faults)
    }

    /// What of the readings can't have been, under the names that are known.
    fn check_readings(&self, names: &mut Names) -> Result<(), Faults> {
        let mut faults = Faults::default();
        for entry in &self.entries {
            let What::Readings { given, measured } = &entry.what else { continue };
            for moment in given.iter().chain(measured) {
                let mut moment = moment.clone();
                moment.given.retain(|given| names.target(&given.name.text).is_ok());
                faults.keep(names.moment(&self.file, &moment));
            }
        }
        // A table has a reading's name once, in the row of its columns.
        faults.each_once();
        faults.unless_any(())
    }

    /// What the log holds, counted.
    pub fn counts(&self) -> Counts {
        let mut counts = Counts { events: self.entries.len(), ..Counts::default() };
        let mut rods = BTreeSet::new();
        for entry in &self.entries {
            match &entry.what {
                What::Strike(_) => counts.strikes += 1,
                What::Landed(_) => counts.landed += 1,
                What::Rod(rod, _) => {
                    rods.insert(rod.as_str());
                }
                _ => {}
            }
        }
        counts.rods = rods.len();
        counts.rod_time = self.rod_time().iter().map(|stretch| stretch.to.since(stretch.from)).sum();
        counts
    }
}

/// What a log holds, counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Events of every kind.
    pub events: usize,
    /// Rods that were in.
    pub rods: usize,
    /// Strikes.
    pub strikes: usize,
    /// Fish landed.
    pub landed: usize,
    /// How long rods fished, all of them together, in counts.
    pub rod_time: i64,
}

/// Why an event can't stand where it does; none where it can.
fn out_of_order(before: Option<&Entry>, entry: &Entry, times: &Times) -> Option<Fault> {
    if let Some(before) = before.filter(|before| entry.at < before.at) {
        let (line, earlier) = (entry.spot.line, before.spot.line);
        let fault =
            Fault::new(format!("the event in line {line} is earlier than the one before it, in line {earlier}"));
        // A night: the time of day begins anew.
        let next = times.date.and_then(|date| date.tomorrow().ok()).filter(|_| before.at.since(entry.at) > DAY / 2);
        return Some(match next {
            Some(next) => fault.help(format!(
                "events stand in the order of time; after midnight write the date too, as in `{next}T00:10`"
            )),
            None => fault.help("events stand in the order of time"),
        });
    }
    let (date, zone) = (times.date?, times.zone.as_ref()?);
    let own = entry.at.zoned(zone).date();
    // A day may pass midnight, and no more.
    if own < date || date.tomorrow().is_ok_and(|next| own > next) {
        let fault = Fault::new(format!("this event is on {own}, and the log is of {date}"));
        return Some(fault.help("a log holds one day, which may pass midnight; write the other day into its own"));
    }
    None
}

fn events_of(document: &Document) -> Result<&[Node], Fault> {
    let (fault, spot) = match document.get("events") {
        Some(Node::List(items, _)) => return Ok(items),
        Some(other) => (Fault::new(format!("`events` is {}, not a list", other.what())), Some(other.spot())),
        None => (Fault::new("the log has no events"), None),
    };
    let fault = fault.help("write `events:` and below it `- {at: \"06:02\", lines: in}` and so on").field("events");
    Err(spot.into_iter().fold(fault, Fault::at))
}

fn entry(number: usize, item: &Node, times: &mut Times) -> Result<Entry, Fault> {
    let path = format!("events[{number}]");
    let Node::Map(entries, spot) = item else {
        let fault = Fault::new(format!("an event is keys with values, not {}", item.what()));
        return Err(fault.help("write for instance `- {at: \"06:31\", strike: port}`").at(item.spot()).field(path));
    };
    let event = Keys { path, what: "event", entries, spot: *spot };
    let at = event.time("at", times)?;
    let things: Vec<&'static str> = THINGS.into_iter().filter(|thing| event.get(thing).is_some()).collect();
    let what = match things.as_slice() {
        ["lines"] => What::Lines(event.lines()?),
        ["strike"] => What::Strike(event.rod_or_yes("strike")?),
        ["landed"] => What::Landed(event.rod_or_yes("landed")?),
        ["rod"] => event.rod()?,
        ["note"] => What::Note(event.note()?),
        ["readings" | "measured"] | ["readings", "measured"] => What::Readings {
            given: event.readings("readings", at, times)?,
            measured: event.readings("measured", at, times)?,
        },
        [] => {
            event.nothing_else(&THINGS)?;
            let fault = Fault::new("this event does not say what happened");
            let help = "it has one of `lines`, `strike`, `landed`, `rod`, `note`, `readings` and `measured`";
            return Err(fault.help(help).at(*spot).field(event.path));
        }
        several => {
            let several: Vec<String> = several.iter().map(|thing| format!("`{thing}`")).collect();
            let fault = Fault::new(format!("this event says {} at once", several.join(" and ")));
            return Err(fault.help("write an event for each, each with its time").at(*spot).field(event.path));
        }
    };
    event.nothing_else(&things)?;
    Ok(Entry { at, spot: *spot, what })
}

/// What an event says, out of its keys.
impl Keys<'_> {
    fn lines(&self) -> Result<bool, Fault> {
        let written = self.text("lines", "")?;
        match written.text.trim() {
            "in" => Ok(true),
            "out" => Ok(false),
            other => {
                let fault = Fault::new(format!("`lines` is `in` or `out`, not `{other}`"));
                Err(self.fault("lines", written, fault))
            }
        }
    }

    fn note(&self) -> Result<String, Fault> {
        let written = self.text("note", "")?;
        let note = written.text.trim();
        if note.is_empty() {
            return Err(self.fault("note", written, Fault::new("this note is empty").help("leave it out")));
        }
        Ok(note.to_owned())
    }

    fn rod_or_yes(&self, key: &str) -> Result<Option<String>, Fault> {
        match self.text(key, "")?.text.trim() {
            "yes" => Ok(None),
            _ => self.rod_name(key).map(Some),
        }
    }

    fn rod(&self) -> Result<What, Fault> {
        let name = self.rod_name("rod")?;
        if self.get("up").is_some() {
            let up = self.text("up", "")?;
            if up.text.trim() != "yes" {
                let fault = Fault::new(format!("`up` is `yes` or is left out, not `{}`", up.text));
                return Err(self.fault("up", up, fault));
            }
            if let Some((key, _)) = self.entries.iter().find(|(key, _)| Run::keys().any(|known| known == key.text)) {
                let fault = Fault::new(format!("a rod that comes out runs no `{}`", key.text));
                return Err(fault.at(key.spot).field(self.field(&key.text)));
            }
            return Ok(What::Up(name));
        }
        let mut run = Run::default();
        for key in Run::keys().filter(|key| self.get(key).is_some()) {
            let written = self.text(key, "")?;
            run.set(key, &written.text).map_err(|fault| self.fault(key, written, fault))?;
        }
        Ok(What::Rod(name, run))
    }

    fn readings(&self, key: &str, at: Instant, times: &Times) -> Result<Option<MomentInput>, Fault> {
        let Some(node) = self.get(key) else { return Ok(None) };
        let Node::Map(entries, spot) = node else {
            let fault = Fault::new(format!("`{key}` is {}, not readings with their values", node.what()));
            let help = format!("write for instance `{key}: {{surface: 54 °F, marks: yes}}`");
            return Err(fault.help(help).at(node.spot()).field(self.field(key)));
        };
        let field = self.field(key);
        let path = |name: &str| [field.as_str(), ".", name].concat();
        let given = entries.iter().map(|(name, value)| GivenText {
            path: path(&name.text),
            name: name.clone(),
            value: value.clone(),
        });
        let zone = times.zone.clone().unwrap_or(TimeZone::UTC);
        Ok(Some(MomentInput { at, zone, spot: *spot, given: given.collect() }))
    }

    /// Refuses what an event that says these things has no use for.
    fn nothing_else(&self, things: &[&'static str]) -> Result<(), Fault> {
        let mut known: Vec<&'static str> = vec!["at"];
        known.extend(things);
        if things == ["rod"] {
            known.push("up");
            known.extend(Run::keys());
        }
        self.no_others(&known)
    }
}

/// Most characters of a rod's name.
const MOST_NAME: usize = 40;

/// The name of a rod: a short text on one line.
pub fn rod_name(text: &str) -> Result<String, Fault> {
    let name = text.trim();
    if name.is_empty() || name.chars().count() > MOST_NAME || name.contains(char::is_control) {
        return Err(Fault::new(format!("a rod has a name of 1 to {MOST_NAME} characters, such as `port` or `2`")));
    }
    Ok(name.to_owned())
}

/// Reads what a moment gives, with how values were written or without that.
type Read<'r> = dyn FnMut(&MomentInput, bool) -> Result<Vec<Event>, Faults> + 'r;

impl What {
    /// Whether it changes which rods fish, or what one runs.
    pub fn is_of_rods(&self) -> bool {
        matches!(self, What::Lines(_) | What::Rod(..) | What::Up(_))
    }

    /// What a session takes of it; `standing` is how the day stood before. Faults name file, line and field.
    pub fn events(&self, file: &str, names: &mut Names, standing: &Standing) -> Result<Vec<Event>, Faults> {
        self.events_by(standing, &mut |moment, written| {
            let mut events = names.moment(file, moment)?;
            events.retain(|event| written || !matches!(event, Event::Written(..)));
            Ok(events)
        })
    }

    /// The same where the log may have been kept with another strategy; see [`Names::moment_of_log`].
    pub fn events_of_log(
        &self,
        file: &str,
        names: &mut Names,
        standing: &Standing,
        passed_over: &mut BTreeMap<String, u64>,
    ) -> Result<Vec<Event>, Faults> {
        self.events_by(standing, &mut |moment, written| names.moment_of_log(file, moment, written, passed_over))
    }

    fn events_by(&self, standing: &Standing, read: &mut Read<'_>) -> Result<Vec<Event>, Faults> {
        let give = |known, value| Event::Give(GivenTarget::Known(known), Some(value));
        Ok(match self {
            What::Lines(lines_in) => vec![give(Known::LinesIn, i64::from(*lines_in))],
            What::Strike(rod) => {
                let depth = rod.as_ref().and_then(|rod| standing.running(rod)?.depth);
                std::iter::once(Event::Strike).chain(depth.map(|depth| give(Known::StrikeDepth, depth))).collect()
            }
            What::Readings { given, measured } => {
                let mut events = Vec::new();
                if let Some(measured) = measured {
                    // Instruments are shown in the strategy's own units, not as the log has them.
                    events = read(measured, false)?;
                }
                if let Some(given) = given {
                    events.extend(read(given, true)?);
                }
                events
            }
            What::Landed(_) | What::Rod(..) | What::Up(_) | What::Note(_) => Vec::new(),
        })
    }
}
