//! What is wrong with something that people wrote, for people.

use std::collections::BTreeSet;
use std::fmt;

use serde::Serialize;

use super::yaml::Spot;
use crate::findings::Finding;

/// One thing that is wrong in a file, a flag or a request.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, thiserror::Error)]
#[error("{}{message}{}", self.place(), self.help_line())]
pub struct Fault {
    /// The file, or what else it stands in (`--set`); empty until that is known.
    pub file: String,
    /// The line, from 1; none where it is about the whole file, or about a text that stands in no file.
    pub line: Option<u32>,
    /// The column, in characters from 1; without a line it counts in the text of the value.
    pub column: Option<u32>,
    /// The path of the field, as in `moments[2].surface`.
    pub field: Option<String>,
    /// One line that stands alone.
    pub message: String,
    /// What would be right.
    pub help: Option<String>,
}

impl Fault {
    /// A fault that says what is wrong, and not yet where.
    pub fn new(message: impl Into<String>) -> Self {
        Self { message: one_line(message.into()), ..Self::default() }
    }

    /// The same with help.
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// The same in a file, or under what else it was written: a flag for instance.
    pub fn within(mut self, file: impl Into<String>) -> Self {
        self.file = file.into();
        self
    }

    /// The same about a field, by its path.
    pub fn field(mut self, path: impl Into<String>) -> Self {
        self.field = Some(path.into());
        self
    }

    /// The same at a place of its file.
    pub fn at(mut self, spot: Spot) -> Self {
        self.line = Some(spot.line);
        self.column = Some(spot.column);
        self
    }

    /// What a finding says about a text that stands in no file: its column counts in that text.
    pub fn of_finding(finding: Finding, text: &str) -> Self {
        let before = text.get(..finding.span.start as usize).unwrap_or(text);
        let column = u32::try_from(before.chars().count() + 1).ok();
        Self { column, message: one_line(finding.message), help: finding.help, ..Self::default() }
    }

    /// `FILE:LINE:COLUMN: `, as far as it is known.
    fn place(&self) -> String {
        match (self.file.as_str(), self.line, self.column) {
            ("", ..) => String::new(),
            (file, Some(line), Some(column)) => format!("{file}:{line}:{column}: "),
            (file, Some(line), None) => format!("{file}:{line}: "),
            (file, None, _) => format!("{file}: "),
        }
    }

    fn help_line(&self) -> String {
        self.help.as_ref().map_or_else(String::new, |help| format!("\n  help: {help}"))
    }
}

/// Most characters of a message: what is quoted in one may be as long as a file.
const MOST_MESSAGE: usize = 400;

/// A message on one line and of bounded length, whatever it quotes.
fn one_line(message: String) -> String {
    let fits = message.len() <= MOST_MESSAGE && !message.contains(char::is_control);
    if fits {
        return message;
    }
    let mut clipped: String =
        message.chars().take(MOST_MESSAGE).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if clipped.len() < message.len() {
        clipped.push('…');
    }
    clipped
}

/// Everything that is wrong in one file, one flag or one request; never empty where it is an error.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(transparent)]
pub struct Faults(Vec<Fault>);

impl Faults {
    /// Takes one in.
    pub fn add(&mut self, fault: Fault) {
        self.0.push(fault);
    }

    /// Takes others in.
    pub fn extend(&mut self, others: Faults) {
        self.0.extend(others.0);
    }

    /// Takes in what is wrong with a result, and gives what is right.
    pub fn keep<T>(&mut self, result: Result<T, impl Into<Faults>>) -> Option<T> {
        match result {
            Ok(value) => Some(value),
            Err(faults) => {
                self.extend(faults.into());
                None
            }
        }
    }

    /// Leaves out all but the first few of those whose message ends in some words.
    pub fn at_most(&mut self, ending: &str, most: usize) {
        let mut seen = 0;
        self.0.retain(|fault| {
            let same = fault.message.ends_with(ending);
            seen += usize::from(same);
            !same || seen <= most
        });
    }

    /// Leaves out what is there twice: one message at one place.
    pub fn each_once(&mut self) {
        let mut seen = BTreeSet::new();
        self.0.retain(|fault| seen.insert((fault.line, fault.column, fault.message.clone())));
    }

    /// The value where nothing is wrong, else what is, in the order of lines.
    pub fn unless_any<T>(mut self, value: T) -> Result<T, Faults> {
        if self.0.is_empty() {
            return Ok(value);
        }
        self.0.sort_by_key(|fault| (fault.line, fault.column));
        Err(self)
    }

    /// The faults.
    pub fn iter(&self) -> std::slice::Iter<'_, Fault> {
        self.0.iter()
    }

    /// Whether nothing is wrong.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl From<Fault> for Faults {
    fn from(fault: Fault) -> Self {
        Self(vec![fault])
    }
}

impl IntoIterator for Faults {
    type Item = Fault;
    type IntoIter = std::vec::IntoIter<Fault>;

    fn into_iter(self) -> Self::IntoIter {
        self.0.into_iter()
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, fault) in self.0.iter().enumerate() {
            if at > 0 {
                writeln!(to)?;
            }
            write!(to, "{fault}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Faults {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_message_is_one_line_of_bounded_length() {
        assert_eq!(Fault::new("`a\nb` is no date").message, "`a b` is no date");
        assert_eq!(Fault::new("ä".repeat(1000)).message, format!("{}…", "ä".repeat(400)));
    }

    #[test]
    fn a_fault_prints_its_place_so_that_editors_can_jump_to_it() {
        let fault = Fault::new("`surface` has no value").help("leave it out");
        assert_eq!(fault.to_string(), "`surface` has no value\n  help: leave it out");
        let fault = fault.within("day.yaml").at(Spot { line: 3, column: 5 }).field("moments[0].surface");
        assert_eq!(fault.to_string(), "day.yaml:3:5: `surface` has no value\n  help: leave it out");
        let as_json = serde_json::to_value(&fault).unwrap_or_default();
        assert_eq!(
            as_json,
            serde_json::json!({"file": "day.yaml", "line": 3, "column": 5, "field": "moments[0].surface",
                "message": "`surface` has no value", "help": "leave it out"})
        );
    }
}
