//! The keys of one event or one unit of a log, and the times they say.

use jiff::civil::Date;
use jiff::tz::TimeZone;

use super::log::rod_name;
use crate::source::yaml::{Node, Spot, Written, unknown_key};
use crate::source::{Fault, time};
use crate::vocabulary::time::Instant;

/// Keys with their values, as they stand in a log.
pub(super) struct Keys<'n> {
    /// The path of its field, as in `events[3]`.
    pub path: String,
    /// What it is, for messages: `event`.
    pub what: &'static str,
    /// The keys and their values.
    pub entries: &'n [(Written, Node)],
    /// Where it begins.
    pub spot: Spot,
}

impl<'n> Keys<'n> {
    pub fn get(&self, key: &str) -> Option<&'n Node> {
        self.entries.iter().find(|(written, _)| written.text == key).map(|(_, node)| node)
    }

    pub fn field(&self, key: &str) -> String {
        format!("{}.{key}", self.path)
    }

    /// The text under a key that has to be there; the help says what to write.
    pub fn text(&self, key: &str, help: &str) -> Result<&'n Written, Fault> {
        match self.get(key) {
            Some(Node::Text(written)) => Ok(written),
            Some(other) => {
                let fault = Fault::new(format!("`{key}` is {}, not one text", other.what()));
                Err(fault.at(other.spot()).field(self.field(key)))
            }
            None => {
                let fault = Fault::new(format!("this {} has no `{key}`", self.what));
                Err(fault.help(help).at(self.spot).field(self.path.clone()))
            }
        }
    }

    /// A fault about the value of a key, at its place.
    pub fn fault(&self, key: &str, written: &Written, fault: Fault) -> Fault {
        written.place(fault).field(self.field(key))
    }

    pub fn time(&self, key: &str, times: &mut Times) -> Result<Instant, Fault> {
        let written = self.text(key, &format!("write when it was, as in `{key}: \"06:31\"`"))?;
        times.read(&written.text).map_err(|fault| self.fault(key, written, Fault { column: None, ..fault }))
    }

    pub fn rod_name(&self, key: &str) -> Result<String, Fault> {
        let written = self.text(key, "write the rod's name")?;
        rod_name(&written.text).map_err(|fault| self.fault(key, written, fault))
    }

    /// Refuses what it has no use for.
    pub fn no_others(&self, known: &[&'static str]) -> Result<(), Fault> {
        match self.entries.iter().find(|(key, _)| !known.contains(&key.text.as_str())) {
            None => Ok(()),
            Some((key, _)) => {
                let message = format!("this {} has no `{}`", self.what, key.text);
                Err(Fault { message, ..unknown_key(key, Some(&self.path), known) })
            }
        }
    }
}

/// What the times of a log go by.
pub(super) struct Times {
    pub date: Option<Date>,
    /// The zone: the log's own, else the water's, else the one that the first time carries.
    pub zone: Option<TimeZone>,
}

impl Times {
    /// A time: a time of day on the log's date, or one with its date.
    pub fn read(&mut self, text: &str) -> Result<Instant, Fault> {
        let said = text.trim();
        let has_date = said.contains('T') || said.get(4..5) == Some("-");
        let (at, zone) = match self.date {
            _ if has_date => time::time(said, self.zone.as_ref())?,
            Some(date) => {
                let whole = format!("{date}T{said:0>5}");
                time::time(&whole, self.zone.as_ref()).map_err(|fault| match fault.message.contains(" is no ") {
                    true => Fault::new(format!("`{said}` is no time of day"))
                        .help("write hours and minutes, as in `06:31`, or the date before them"),
                    false => fault,
                })?
            }
            None => {
                let help = "write the log's `date: 2026-05-14` at its head, or the date here too";
                return Err(Fault::new(format!("`{said}` has no date, and the log has none")).help(help));
            }
        };
        self.zone.get_or_insert(zone);
        Ok(at)
    }
}
