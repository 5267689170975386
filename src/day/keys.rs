//! The keys of one event or one unit of a log, and the times they say.

use jiff::civil::{Date, Time};
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
        let (at, zone) = match (self.date, of_day(said)) {
            _ if has_date => time::time(said, self.zone.as_ref())?,
            (None, _) => {
                let help = "write the log's `date: 2026-05-14` at its head, or the date here too";
                return Err(Fault::new(format!("`{said}` {NO_DATE}")).help(help));
            }
            (Some(date), Some(of_day)) => time::civil(said, date.to_datetime(of_day), self.zone.as_ref())?,
            (Some(date), None) if said.contains(['+', '-', '[', 'Z', '\u{2212}']) => {
                time::time(&format!("{date}T{said:0>5}"), self.zone.as_ref())?
            }
            (Some(_), None) => {
                let help = "write hours and minutes, as in `06:31`, or the date before them";
                return Err(Fault::new(format!("`{said}` is no time of day")).help(help));
            }
        };
        self.zone.get_or_insert(zone);
        Ok(at)
    }
}

/// How the fault ends about a time without a date in a log that has none.
pub(super) const NO_DATE: &str = "has no date, and the log has none";

/// A time of day: hours and minutes, with seconds and parts of them where they are known.
fn of_day(text: &str) -> Option<Time> {
    let number = |text: &str, most: usize| {
        let digits = (1..=most).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
        if digits { text.parse::<i32>().ok() } else { None }
    };
    let (hour, rest) = text.split_once(':')?;
    let (minute, second) = rest.split_once(':').unwrap_or((rest, "00"));
    let (second, part) = second.split_once('.').unwrap_or((second, "0"));
    if minute.len() != 2 || second.len() != 2 {
        return None;
    }
    let part = number(part, 9)?.checked_mul(10i32.checked_pow(u32::try_from(9 - part.len()).ok()?)?)?;
    let small = |number: i32| i8::try_from(number).ok();
    Time::new(small(number(hour, 2)?)?, small(number(minute, 2)?)?, small(number(second, 2)?)?, part).ok()
}
