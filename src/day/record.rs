//! Writing the day's log as it happens.
//!
//! Every event is one line, written whole and at once, and brought to the disk by [`Record::sync`], which whoever keeps
//! the record calls each second: so a crash of the program loses nothing, and an empty battery at most a second. A log
//! that is there already is gone on with; a line that was cut short in it is kept as a comment.

use std::fmt::Write as _;
use std::fs::{File, OpenOptions};
use std::io::{Seek, SeekFrom, Write as _};
use std::path::Path;

use jiff::civil::Date;
use jiff::tz::TimeZone;

use super::form;
use super::sheet::Sheet;
use crate::source::yaml::Node;
use crate::source::{Fault, time};
use crate::vocabulary::time::Instant;

/// Something that happened, in the words it is written with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Told {
    /// Lines go in, or come out.
    Lines(bool),
    /// A fish strikes; on which rod, where somebody saw it.
    Strike(Option<String>),
    /// A fish is landed.
    Landed(Option<String>),
    /// A rod runs something: keys of [`super::log::Run`] with their values.
    Rod(String, Vec<(&'static str, String)>),
    /// A rod comes out.
    Up(String),
    /// Words.
    Note(String),
    /// Readings that somebody gives: names or calls with their values.
    Given(Vec<(String, String)>),
    /// Readings that instruments measure.
    Measured(Vec<(String, String)>),
}

impl Told {
    /// Its line in a log, without the end of the line.
    pub fn line(&self, at: Instant, zone: &TimeZone) -> String {
        let at = at.zoned(zone).strftime("%Y-%m-%dT%H:%M:%S%.f%:z").to_string();
        let mut line = format!("- {{at: {}", quoted(&at));
        let mut put = |key: &str, value: &str| {
            let _ = write!(line, ", {key}: {value}");
        };
        let rod = |rod: &Option<String>| rod.as_ref().map_or_else(|| "yes".to_owned(), |rod| quoted(rod));
        match self {
            Told::Lines(lines_in) => put("lines", if *lines_in { "in" } else { "out" }),
            Told::Strike(on) => put("strike", &rod(on)),
            Told::Landed(on) => put("landed", &rod(on)),
            Told::Rod(name, runs) => {
                put("rod", &quoted(name));
                for (key, value) in runs {
                    put(key, &quoted(value));
                }
            }
            Told::Up(name) => {
                put("rod", &quoted(name));
                put("up", "yes");
            }
            Told::Note(text) => put("note", &quoted(text)),
            Told::Given(readings) => put("readings", &map(readings)),
            Told::Measured(readings) => put("measured", &map(readings)),
        }
        line.push('}');
        line
    }
}

fn map(readings: &[(String, String)]) -> String {
    let entries: Vec<String> =
        readings.iter().map(|(name, value)| format!("{}: {}", quoted(name), quoted(value))).collect();
    format!("{{{}}}", entries.join(", "))
}

/// A text that YAML reads back as it is. What has no place in a file of data becomes a blank.
pub(super) fn quoted(text: &str) -> String {
    let mut quoted = String::with_capacity(text.len() + 2);
    quoted.push('"');
    for c in text.chars() {
        match c {
            '"' | '\\' => quoted.extend(['\\', c]),
            '\n' => quoted.push_str("\\n"),
            '\t' => quoted.push_str("\\t"),
            c if c.is_control() => quoted.push(' '),
            c => quoted.push(c),
        }
    }
    quoted.push('"');
    quoted
}

/// What stands at the head of a log.
#[derive(Clone, Debug, Default)]
pub struct Head {
    /// The water's name.
    pub water: Option<String>,
    /// The boat's.
    pub boat: Option<String>,
    /// The strategy's file.
    pub strategy: Option<String>,
    /// The day, where times of day alone shall do for who goes on with the log by hand.
    pub date: Option<Date>,
    /// The zone of the day, as [`crate::source::time::zone`] reads it.
    pub zone: String,
    /// The sheet of a fair contest.
    pub contest: Option<Sheet>,
}

impl Head {
    /// The head as text, up to where the events begin.
    pub fn text(&self) -> String {
        let mut text = String::new();
        let fields = [("water", &self.water), ("boat", &self.boat), ("strategy", &self.strategy)];
        for (key, value) in fields {
            if let Some(value) = value {
                let _ = writeln!(text, "{key}: {}", quoted(value));
            }
        }
        if let Some(date) = self.date {
            let _ = writeln!(text, "date: {date}");
        }
        let _ = writeln!(text, "zone: {}", quoted(&self.zone));
        if let Some(sheet) = &self.contest {
            // A zone that can't be read leaves times with their offset.
            let zone = time::zone(&self.zone).unwrap_or(TimeZone::UTC);
            text.push_str(&sheet.yaml(self.date, &zone));
        }
        text.push_str("events:\n");
        text
    }
}

/// The log of a day under way.
#[derive(Debug)]
pub struct Record {
    path: String,
    file: File,
    /// Something was written that may not be on the disk yet.
    unsynced: bool,
}

impl Record {
    /// Begins a log, or goes on with the one that is there; `cut` is its last line where that was cut short.
    ///
    /// Errors: the file can't be made, or written to; it is written in a way that no line can be added to, as a table is, or
    /// one whose events stand further in. Nothing is written to it then.
    pub fn open(path: &str, head: &Head, cut: Option<&str>) -> Result<Self, Fault> {
        let fault = |error| unwritable(path, &error);
        let mut file =
            OpenOptions::new().read(true).write(true).create(true).truncate(false).open(path).map_err(fault)?;
        let length = file.metadata().map_err(fault)?.len();
        let keep = match cut {
            Some(_) => length_without(&mut file, length).map_err(fault)?,
            None => length,
        };
        if length > 0 && !takes_a_line(path, &mut file, keep).map_err(fault)? {
            let help = format!(
                "put it into the form that takes lines, and name that with `--log`: `leadsman format {path} --as yaml`"
            );
            return Err(Fault::new("this log can't be gone on with as it is written").help(help).within(path));
        }
        let mut record = match cut {
            Some(cut) => {
                file.set_len(keep).map_err(fault)?;
                file.seek(SeekFrom::End(0)).map_err(fault)?;
                let mut record = Self { path: path.to_owned(), file, unsynced: false };
                let cut: String = cut.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
                record.write(&format!("# cut short: {cut}\n"))?;
                record
            }
            None => {
                file.seek(SeekFrom::End(0)).map_err(fault)?;
                Self { path: path.to_owned(), file, unsynced: false }
            }
        };
        if length == 0 {
            record.write(&head.text())?;
            record.sync()?;
            // The file's name has to reach the disk too.
            let folder = Path::new(path).parent().filter(|folder| !folder.as_os_str().is_empty());
            let folder = folder.unwrap_or_else(|| Path::new("."));
            // Where a folder can't be brought to the disk by itself, the system does it in its own time.
            let _ = File::open(folder).and_then(|folder| folder.sync_all());
        } else if !ends_with_line(&mut record.file).map_err(fault)? {
            record.write("\n")?;
        }
        Ok(record)
    }

    /// Where it is written.
    pub fn path(&self) -> &str {
        &self.path
    }

    /// Writes one line.
    pub fn line(&mut self, line: &str) -> Result<(), Fault> {
        self.write(&format!("{line}\n"))
    }

    fn write(&mut self, text: &str) -> Result<(), Fault> {
        self.unsynced = true;
        // One write for the whole line, so that nothing can come between its parts.
        self.file.write_all(text.as_bytes()).map_err(|error| unwritable(&self.path, &error))
    }

    /// Brings what was written to the disk.
    pub fn sync(&mut self) -> Result<(), Fault> {
        if !self.unsynced {
            return Ok(());
        }
        self.file.sync_data().map_err(|error| unwritable(&self.path, &error))?;
        self.unsynced = false;
        Ok(())
    }
}

fn unwritable(path: &str, error: &std::io::Error) -> Fault {
    Fault::new(format!("the day's log can't be written: {error}"))
        .help("name another place for it with `--log FILE`")
        .within(path)
}

/// Whether a log is written so that one more line at its end is one more event.
fn takes_a_line(path: &str, file: &mut File, length: u64) -> std::io::Result<bool> {
    use std::io::Read;
    file.seek(SeekFrom::Start(0))?;
    let mut bytes = Vec::new();
    file.take(length).read_to_end(&mut bytes)?;
    let events = |bytes: Vec<u8>| match form::document(path, bytes).ok()?.0.get("events") {
        Some(Node::List(events, _)) => Some(events.len()),
        _ => None,
    };
    let before = events(bytes.clone());
    let newline: &[u8] = if bytes.ends_with(b"\n") { b"" } else { b"\n" };
    bytes.extend([newline, b"- {at: \"2000-01-01T00:00:00+00:00\", note: \"\"}\n"].concat());
    Ok(before.is_some() && events(bytes) == before.map(|before| before + 1))
}

/// The length of a file up to the end of its last whole line.
fn length_without(file: &mut File, length: u64) -> std::io::Result<u64> {
    use std::io::Read;
    // A line is short; what lies further back than this is none.
    let back = length.min(1 << 20);
    let begin = length - back;
    file.seek(SeekFrom::Start(begin))?;
    let mut tail = Vec::new();
    file.take(back).read_to_end(&mut tail)?;
    let end = tail.iter().rposition(|byte| *byte == b'\n').map_or(0, |at| at + 1);
    Ok(begin + end as u64)
}

fn ends_with_line(file: &mut File) -> std::io::Result<bool> {
    use std::io::Read;
    file.seek(SeekFrom::End(-1))?;
    let mut last = [0u8; 1];
    file.read_exact(&mut last)?;
    file.seek(SeekFrom::End(0))?;
    Ok(last == *b"\n")
}
