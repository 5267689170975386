//! The fields of a file of data: texts that become values, each fault at its field.

use serde::de::DeserializeOwned;

use super::yaml::{Document, Text};
use super::{Fault, Faults};

/// Reads fields and gathers what is wrong with them.
pub(super) struct Fields<'d> {
    /// The file.
    pub document: &'d Document,
    /// What is wrong so far.
    pub faults: Faults,
}

impl<'d> Fields<'d> {
    /// Begins with a file, of which every key must be known to `T`.
    pub fn of<T: DeserializeOwned>(document: &'d Document) -> Result<(Self, T), Fault> {
        document.known_keys::<T>(None)?;
        Ok((Self { document, faults: Faults::default() }, document.typed()?))
    }

    /// A field that may be left out.
    pub fn read<T>(
        &mut self,
        path: &str,
        text: Option<Text>,
        read: impl FnOnce(&str) -> Result<T, Fault>,
    ) -> Option<T> {
        match text.map(|Text(text)| read(&text))? {
            Ok(value) => Some(value),
            Err(fault) => {
                self.faults.add(self.document.fault(path, fault));
                None
            }
        }
    }

    /// A field that must be there.
    pub fn need<T>(
        &mut self,
        path: &str,
        text: Option<Text>,
        read: impl FnOnce(&str) -> Result<T, Fault>,
    ) -> Option<T> {
        if text.is_none() {
            let (under, key) = path.rsplit_once('.').map_or((None, path), |(under, key)| (Some(under), key));
            let what = under.map_or_else(|| "this file".to_owned(), |under| format!("`{under}`"));
            let fault = Fault::new(format!("{what} has no `{key}`, which it needs")).field(path);
            let fault = under.and_then(|under| self.document.place(under)).into_iter().fold(fault, Fault::at);
            self.faults.add(fault.within(&self.document.file));
        }
        self.read(path, text, read)
    }
}

/// A text that says something.
pub(super) fn prose(text: &str) -> Result<String, Fault> {
    let text = text.trim();
    if text.is_empty() { Err(Fault::new("this text is empty").help("leave the key out")) } else { Ok(text.to_owned()) }
}

/// A number with one of some units, in what these are given in: the number times the unit's factor. None where the text is
/// something else.
pub(super) fn with_unit(text: &str, units: &[(&str, f64)]) -> Option<f64> {
    let text = text.trim();
    let begins = text.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(text.len());
    let (number, unit) = text.split_at(begins);
    let number = number.parse::<f64>().ok().filter(|_| !number.starts_with('.') && !number.ends_with('.'))?;
    let (_, factor) = units.iter().find(|(name, _)| name.eq_ignore_ascii_case(unit.trim()))?;
    Some(number * factor)
}

/// A whole number, 1 to `most`.
pub(super) fn count(what: &str, most: u32, text: &str) -> Result<u32, Fault> {
    let digits = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let number = if digits { text.parse().ok() } else { None };
    number
        .filter(|number| (1..=most).contains(number))
        .ok_or_else(|| Fault::new(format!("`{what}` is a whole number from 1 to {most}, not `{text}`")))
}
