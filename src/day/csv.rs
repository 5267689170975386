//! The log as a table, for spreadsheets, and the only file that names a library for it.
//!
//! ```csv
//! at,event,rod,value,depth,lure,reading surface,measured wind
//! ,water,,Ossel Water,,,,
//! ,date,,2026-05-14,,,,
//! ,zone,,UTC-07:00,,,,
//! 06:02,lines in,,,,,,
//! 06:03,readings,,,,,54 °F,8 mph
//! 06:04,rod,port wire,,20 ft,spoon,,
//! 06:31,strike,port wire,,,,,
//! 06:34,landed,port wire,,,,,
//! 07:10,up,port wire,,,,,
//! 07:12,note,,fog until seven,,,,
//! 11:40,lines out,,,,,,
//! ```
//!
//! The first row names the columns, which stand in any order; those that nothing fills may be missing. Each row below is
//! one event, or one value of the header: `water`, `boat`, `strategy`, `date`, `zone`, and of a contest `contest a`,
//! `contest b`, `contest seed` and for each unit `unit`, with `at`, `to`, `light`, `rod`, `side` and `run`. What a
//! reading is called stands in its column: `reading NAME` by hand, `measured NAME` by instruments. A zone by its offset
//! may be written `UTC-07:00`, which no spreadsheet takes for a sum.
//!
//! A table is read into the same keys and values as a log in YAML, each with the place of its cell, and goes through the
//! same checks from there. A row below the first that has one cell, with a `#` at its beginning, is for people. What spreadsheets do to a table is taken as it comes: semicolons or tabs for commas, a byte
//! order mark, carriage returns, blank rows, empty columns.

use std::collections::BTreeSet;

use csv::{ByteRecord, ReaderBuilder, WriterBuilder};

use super::log::{BOUNDS, HEADER, Run};
use crate::source::yaml::{Document, Node, Spot, Written, refuse_control_characters};
use crate::source::{Fault, Faults};
use crate::vocabulary::nearest::{listed, nearest};

/// How the name of a file ends that holds a table.
pub const ENDING: &str = ".csv";
/// What may part the cells of a row.
const SEPARATORS: [char; 3] = [',', ';', '\t'];
/// The columns that are no readings, but for what a rod runs.
const PLAIN: [&str; 8] = ["at", "to", "event", "rod", "value", "light", "side", "run"];
/// What begins the name of a reading's column, and under what it stands in an event.
const READINGS: [(&str, &str); 2] = [("reading ", "readings"), ("measured ", "measured")];
/// What the column `event` has, beside the keys of the header.
const EVENTS: [&str; 8] = ["lines in", "lines out", "strike", "landed", "rod", "up", "note", "readings"];
/// The same for a contest, and the keys they stand for.
const CONTEST: [(&str, &str); 3] = [("contest a", "a"), ("contest b", "b"), ("contest seed", "seed")];
const UNIT: &str = "unit";
/// Most columns that are written: more readings than any boat has.
const MOST_COLUMNS: usize = 1000;

/// The columns that are no readings, in the order in which they are written.
fn plain_columns() -> impl Iterator<Item = &'static str> {
    let [at, to, event, rod, value, last @ ..] = PLAIN;
    [at, to, event, rod, value].into_iter().chain(Run::keys()).chain(last)
}

/// The keys of a log's header that are one value.
fn header_keys() -> impl Iterator<Item = &'static str> {
    HEADER.into_iter().filter(|key| !matches!(*key, "contest" | "events"))
}

/// Whether a text looks like a table: its first row names the columns `at` and `event`.
pub(super) fn is_table(text: &str) -> bool {
    let text = text.trim_start_matches('\u{feff}');
    let (_, header) = without_separator_line(text);
    let names: Vec<String> = header.lines().next().unwrap_or_default().split(SEPARATORS).map(column_name).collect();
    ["at", "event"].iter().all(|wanted| names.iter().any(|name| name == wanted))
}

fn column_name(cell: &str) -> String {
    cell.trim().trim_matches('"').trim().to_lowercase()
}

/// The separator that a first line `sep=;` names, and what follows it.
fn without_separator_line(text: &str) -> (Option<char>, &str) {
    let (first, rest) = text.split_once('\n').unwrap_or((text, ""));
    let named = first.trim_end_matches('\r').trim_matches('"').strip_prefix("sep=");
    match named.and_then(|named| SEPARATORS.into_iter().find(|separator| named == separator.to_string())) {
        Some(separator) => (Some(separator), rest),
        None => (None, text),
    }
}

// Reading

/// Reads a table as the keys and values of a log.
pub(super) fn document(file: &str, text: &str) -> Result<Document, Faults> {
    // Rows end in one way from here on, within quotes too.
    let text = text.replace("\r\n", "\n");
    refuse_control_characters(&text).map_err(|fault| fault.within(file))?;
    let (named, table) = without_separator_line(&text);
    let first = table.lines().find(|line| !line.trim().is_empty()).unwrap_or_default();
    let count = |separator: char| first.matches(separator).count();
    // Of two that are as many, the one that is named first.
    let most = SEPARATORS.into_iter().rev().max_by_key(|separator| count(*separator)).unwrap_or(',');
    let separator = named.unwrap_or(most);
    let mut table = Table {
        file,
        faults: Faults::default(),
        columns: None,
        header: Vec::new(),
        contest: None,
        units: Vec::new(),
        events: Vec::new(),
    };
    let skipped = text.len() - without_separator_line(&text).1.len();
    table.rows(&text, skipped, separator)?;
    table.document()
}

/// A column.
enum Column {
    /// One that the head of this file names.
    Plain(&'static str),
    /// A reading's: what it stands under, and its name.
    Reading(&'static str, Written),
    /// One without a name, in which nothing may stand.
    Nameless,
}

/// A table under way.
struct Table<'f> {
    file: &'f str,
    faults: Faults,
    /// The columns, once their row was read.
    columns: Option<Vec<Column>>,
    header: Vec<(Written, Node)>,
    /// The keys of a contest, and where it begins.
    contest: Option<(Vec<(Written, Node)>, Spot)>,
    units: Vec<Node>,
    events: Vec<Node>,
}

impl Table<'_> {
    fn rows(&mut self, text: &str, begins: usize, separator: char) -> Result<(), Faults> {
        let file = self.file;
        let within = |fault: Fault| Faults::from(fault.within(file));
        let body = text.get(begins..).unwrap_or_default();
        let mut builder = ReaderBuilder::new();
        builder.has_headers(false).flexible(true).delimiter(u8::try_from(separator).unwrap_or(b','));
        let mut reader = builder.from_reader(body.as_bytes());
        let mut cursor = Cursor { text, at: 0, line: 1 };
        let mut record = ByteRecord::new();
        let mut nodes = 0;
        loop {
            let more = reader.read_byte_record(&mut record);
            let more =
                more.map_err(|error| within(Fault::new(format!("this is no table that can be read: {error}"))))?;
            if !more {
                return Ok(());
            }
            let ends = usize::try_from(reader.position().byte()).unwrap_or(usize::MAX).saturating_add(begins);
            let begins_at =
                record.position().map_or(0, |position| usize::try_from(position.byte()).unwrap_or(usize::MAX));
            let cells = cursor.cells(begins_at.saturating_add(begins), ends, separator, &record).map_err(within)?;
            let Some(first) = cells.iter().find(|(_, cell)| !cell.text.trim().is_empty()) else { continue };
            let spot = Spot { column: 1, ..first.1.spot };
            nodes += 2 * cells.iter().filter(|(_, cell)| !cell.text.trim().is_empty()).count();
            if nodes > BOUNDS.nodes {
                return Err(within(Fault::new(format!("a log has at most {} cells", BOUNDS.nodes / 2)).at(spot)));
            }
            match self.columns.take() {
                None => self.columns = Some(self.named(cells)?),
                // A row for people.
                Some(columns) if is_comment(&cells) => self.columns = Some(columns),
                Some(columns) => {
                    self.row(&columns, cells, spot);
                    self.columns = Some(columns);
                }
            }
        }
    }

    /// The columns that the first row names.
    fn named(&self, cells: Vec<(usize, Written)>) -> Result<Vec<Column>, Faults> {
        let mut faults = Faults::default();
        let mut columns = Vec::new();
        let mut seen = BTreeSet::new();
        for (_, cell) in cells {
            let name = cell.text.trim();
            let lower = name.to_lowercase();
            let plain = plain_columns().find(|plain| *plain == lower);
            let reading = READINGS.into_iter().find(|(begins, _)| lower.starts_with(begins));
            let column = match (plain, reading) {
                _ if name.is_empty() => Column::Nameless,
                (Some(plain), _) => Column::Plain(plain),
                (None, Some((begins, under))) => {
                    let name = name.get(begins.len()..).unwrap_or_default().trim();
                    Column::Reading(under, Written::plain(name, cell.spot))
                }
                (None, None) => {
                    let help = match nearest(&lower, plain_columns()) {
                        Some(near) => format!("did you mean `{near}`?"),
                        None => format!(
                            "a reading's column is `reading {name}`, or `measured {name}` where an instrument measured it"
                        ),
                    };
                    let fault = Fault::new(format!("a log has no column `{name}`")).help(help);
                    faults.add(fault.at(cell.spot).within(self.file));
                    Column::Nameless
                }
            };
            if !name.is_empty() && !seen.insert(lower) {
                let fault = Fault::new(format!("the column `{name}` stands here twice"));
                faults.add(fault.at(cell.spot).within(self.file));
            }
            columns.push(column);
        }
        for wanted in ["at", "event"] {
            if !columns.iter().any(|column| matches!(column, Column::Plain(plain) if *plain == wanted)) {
                let fault = Fault::new(format!("the table has no column `{wanted}`"));
                let help = "its first row names the columns, as in `at,event,rod,value,depth`";
                faults.add(fault.help(help).at(Spot { line: 1, column: 1 }).within(self.file));
            }
        }
        faults.unless_any(columns)
    }

    fn row(&mut self, columns: &[Column], cells: Vec<(usize, Written)>, spot: Spot) {
        let mut plain: Vec<(&'static str, Written)> = Vec::new();
        let mut readings: [Vec<(Written, Node)>; 2] = Default::default();
        for (number, cell) in cells {
            if cell.text.trim().is_empty() {
                continue;
            }
            match columns.get(number) {
                Some(Column::Plain(name)) => plain.push((name, cell)),
                Some(Column::Reading(under, name)) => {
                    let [given, measured] = &mut readings;
                    let list = if *under == "readings" { given } else { measured };
                    list.push((name.clone(), Node::Text(cell)));
                }
                Some(Column::Nameless) | None => {
                    let fault = Fault::new(format!("`{}` stands in a column without a name", cell.text.trim()));
                    let fault = fault.help("name the column in the first row, or empty the cell");
                    self.faults.add(fault.at(cell.spot).within(self.file));
                }
            }
        }
        let Some(event) = take(&mut plain, "event") else {
            let fault = Fault::new("this row does not say what happened");
            let fault = fault.help(format!("its `event` is one of {}", listed(EVENTS)));
            self.faults.add(fault.at(spot).within(self.file));
            return;
        };
        let word = event.text.trim().to_lowercase();
        let header = header_keys().find(|key| *key == word);
        let contest = CONTEST.into_iter().find(|(name, _)| *name == word).map(|(_, key)| key);
        match (header, contest) {
            (Some(key), _) | (None, Some(key)) => {
                let value = take(&mut plain, "value");
                let others = plain.first().map(|(_, cell)| cell.spot);
                let others = others.or_else(|| readings.iter().flatten().next().map(|(_, value)| value.spot()));
                self.header_row(header.is_none(), key, &event, value, others);
            }
            _ if word == UNIT => {
                let mut keys: Vec<(Written, Node)> =
                    plain.into_iter().map(|(name, cell)| key(if name == "at" { "from" } else { name }, cell)).collect();
                keys.extend(readings.into_iter().flatten());
                self.units.push(Node::Map(keys, spot));
                self.contest.get_or_insert_with(|| (Vec::new(), spot));
            }
            _ => match event_keys(&word, &event, plain, readings) {
                Ok(keys) => self.events.push(Node::Map(keys, spot)),
                Err(fault) => self.faults.add(fault.within(self.file)),
            },
        }
    }

    fn header_row(&mut self, contest: bool, name: &str, event: &Written, value: Option<Written>, others: Option<Spot>) {
        let word = event.text.trim();
        let entries = match contest {
            true => &mut self.contest.get_or_insert_with(|| (Vec::new(), event.spot)).0,
            false => &mut self.header,
        };
        let fault = match (value, others) {
            (_, Some(other)) => Fault::new(format!("a row of `{word}` has its `value` and nothing else")).at(other),
            (None, None) => {
                Fault::new(format!("`{word}` has no value")).help("write it into the column `value`").at(event.spot)
            }
            _ if entries.iter().any(|(written, _)| written.text == name) => {
                Fault::new(format!("`{word}` stands here twice")).at(event.spot)
            }
            (Some(value), None) => {
                let text = value.text.trim();
                let offset = text.strip_prefix("UTC").filter(|offset| offset.starts_with(['+', '-']));
                let value = match (name, offset) {
                    ("zone", Some(offset)) => Written::plain(offset, value.spot),
                    _ => value,
                };
                entries.push((Written::plain(name, event.spot), Node::Text(value)));
                return;
            }
        };
        self.faults.add(fault.within(self.file));
    }

    fn document(mut self) -> Result<Document, Faults> {
        if self.columns.is_none() {
            return Err(Fault::new("the file is empty").within(self.file).into());
        }
        let start = Spot { line: 1, column: 1 };
        if let Some((mut entries, spot)) = self.contest.take() {
            let units = Node::List(std::mem::take(&mut self.units), spot);
            entries.push((Written::plain("units", spot), units));
            self.header.push((Written::plain("contest", spot), Node::Map(entries, spot)));
        }
        self.header.push((Written::plain("events", start), Node::List(self.events, start)));
        self.faults.unless_any(Document::made(self.file, self.header))
    }
}

fn is_comment(cells: &[(usize, Written)]) -> bool {
    let mut filled = cells.iter().filter(|(_, cell)| !cell.text.trim().is_empty());
    filled.next().is_some_and(|(_, cell)| cell.text.trim_start().starts_with('#')) && filled.next().is_none()
}

fn take(cells: &mut Vec<(&'static str, Written)>, name: &str) -> Option<Written> {
    let at = cells.iter().position(|(column, _)| *column == name)?;
    Some(cells.remove(at).1)
}

/// A key of an event, at the place of its value.
fn key(name: &str, value: Written) -> (Written, Node) {
    (Written::plain(name, value.spot), Node::Text(value))
}

/// What a row says, as the keys of an event. Cells that it has no use for become keys too, and are refused as such.
fn event_keys(
    word: &str,
    event: &Written,
    mut plain: Vec<(&'static str, Written)>,
    readings: [Vec<(Written, Node)>; 2],
) -> Result<Vec<(Written, Node)>, Fault> {
    let said = |name: &str, text: &str| key(name, Written::plain(text, event.spot));
    let mut keys: Vec<(Written, Node)> = take(&mut plain, "at").into_iter().map(|at| key("at", at)).collect();
    match word {
        "lines in" => keys.push(said("lines", "in")),
        "lines out" => keys.push(said("lines", "out")),
        "strike" | "landed" => keys.push(match take(&mut plain, "rod") {
            Some(rod) => key(word, rod),
            None => said(word, "yes"),
        }),
        "rod" | "up" => {
            keys.extend(take(&mut plain, "rod").map(|rod| key("rod", rod)));
            if keys.last().is_none_or(|(last, _)| last.text != "rod") {
                let fault = Fault::new("this row names no rod");
                return Err(fault.help("write its name into the column `rod`").at(event.spot));
            }
            if word == "up" {
                keys.push(said("up", "yes"));
            }
        }
        "note" => match take(&mut plain, "value") {
            Some(note) => keys.push(key("note", note)),
            None => {
                let fault = Fault::new("this row has no note");
                return Err(fault.help("write it into the column `value`").at(event.spot));
            }
        },
        "readings" => {
            if readings.iter().all(Vec::is_empty) {
                let fault = Fault::new("this row has no readings");
                let help = "each stands in a column of its own, such as `reading surface` or `measured wind`";
                return Err(fault.help(help).at(event.spot));
            }
        }
        other => {
            let words = || EVENTS.into_iter().chain(header_keys()).chain(CONTEST.map(|(name, _)| name)).chain([UNIT]);
            let help = match nearest(other, words()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("it is one of {}", listed(words())),
            };
            return Err(Fault::new(format!("`{}` is no event", event.text.trim())).help(help).at(event.spot));
        }
    }
    keys.extend(plain.into_iter().map(|(name, cell)| key(name, cell)));
    for ((_, under), readings) in READINGS.into_iter().zip(readings) {
        if let Some((_, first)) = readings.first() {
            let spot = first.spot();
            keys.push((Written::plain(under, spot), Node::Map(readings, spot)));
        }
    }
    Ok(keys)
}

/// Follows the text of a table from front to back, to say where each cell begins.
struct Cursor<'t> {
    text: &'t str,
    at: usize,
    line: u32,
}

impl Cursor<'_> {
    /// The cells of a row that stands somewhere between two places of the text, each with its number.
    fn cells(
        &mut self,
        begins: usize,
        ends: usize,
        separator: char,
        record: &ByteRecord,
    ) -> Result<Vec<(usize, Written)>, Fault> {
        let mut line = self.line + newlines(self.text.get(self.at..begins).unwrap_or_default());
        let row = self.text.get(begins..ends.min(self.text.len())).unwrap_or_default();
        // Blank lines ahead of the row belong to it, as the library counts.
        let blank = row.len() - row.trim_start_matches('\n').len();
        line += u32::try_from(blank).unwrap_or(u32::MAX);
        let mut rest = row.get(blank..).unwrap_or_default().chars().peekable();
        let mut column = 1;
        let mut cells = Vec::with_capacity(record.len());
        for (number, cell) in record.iter().enumerate() {
            let spot = Spot { line, column };
            let quoted = rest.peek() == Some(&'"');
            let mut straight = true;
            let (mut inside, mut first) = (false, true);
            loop {
                match rest.peek().copied() {
                    None if inside => {
                        let fault = Fault::new("a quote opens here and none closes it").at(spot);
                        return Err(fault.help("a cell in quotes ends with one; a quote inside is written twice"));
                    }
                    None => break,
                    Some(c) if !inside && (c == separator || c == '\n') => break,
                    Some('"') if quoted && first => inside = true,
                    Some('"') if quoted && inside => {
                        inside = false;
                    }
                    Some('"') if quoted => {
                        // A second one: it stands for itself.
                        inside = true;
                        straight = false;
                    }
                    Some('\n') => {
                        line = line.saturating_add(1);
                        column = 0;
                        straight = false;
                    }
                    Some(_) => {}
                }
                first = false;
                column += 1;
                rest.next();
            }
            // Past what parts it from the next.
            rest.next();
            column += 1;
            let lead = straight.then_some(u32::from(quoted));
            // The text is UTF-8 and cells are parted at whole characters.
            let text = String::from_utf8_lossy(cell).into_owned();
            cells.push((number, Written::placed(text, spot, lead)));
        }
        self.at = begins + blank;
        self.line = cells.first().map_or(line, |(_, cell)| cell.spot.line);
        Ok(cells)
    }
}

fn newlines(text: &str) -> u32 {
    u32::try_from(text.bytes().filter(|byte| *byte == b'\n').count()).unwrap_or(u32::MAX)
}

// Writing

/// A log as a table; the log has been checked.
pub(super) fn table(document: &Document) -> Result<String, Fault> {
    let events = match document.get("events") {
        Some(Node::List(events, _)) => events.as_slice(),
        _ => &[],
    };
    let mut rows: Vec<Row> = header_rows(document);
    rows.extend(events.iter().map(event_row));
    let columns = columns_of(&rows);
    if columns.len() > MOST_COLUMNS {
        return Err(Fault::new(format!(
            "a table of this log would have {} columns; at most {MOST_COLUMNS} go",
            columns.len()
        )));
    }
    let mut writer = WriterBuilder::new().from_writer(Vec::new());
    let fault = |error: csv::Error| Fault::new(format!("the table can't be written: {error}"));
    writer.write_record(&columns).map_err(fault)?;
    for row in &rows {
        let cell =
            |column: &String| row.iter().find(|(name, _)| name == column).map_or("", |(_, value)| value.as_str());
        writer.write_record(columns.iter().map(cell)).map_err(fault)?;
    }
    let bytes = writer.into_inner().map_err(|error| Fault::new(format!("the table can't be written: {error}")))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// The cells of a row, by the names of their columns.
type Row = Vec<(String, String)>;

fn cell(column: &str, text: impl Into<String>) -> (String, String) {
    (column.to_owned(), text.into())
}

fn header_rows(document: &Document) -> Vec<Row> {
    let mut rows = Vec::new();
    let row = |word: &str, value: String| vec![cell("event", word), cell("value", value)];
    for name in header_keys() {
        let Some(value) = document.get(name).map(text_of) else { continue };
        let value =
            if name == "zone" && value.trim().starts_with(['+', '-']) { format!("UTC{}", value.trim()) } else { value };
        rows.push(row(name, value));
    }
    let Some(Node::Map(contest, _)) = document.get("contest") else { return rows };
    for (name, value) in contest {
        match (CONTEST.into_iter().find(|(_, known)| *known == name.text), value) {
            (Some((word, _)), value) => rows.push(row(word, text_of(value))),
            (None, Node::List(units, _)) => rows.extend(units.iter().filter_map(|unit| {
                let Node::Map(keys, _) = unit else { return None };
                let cells = keys
                    .iter()
                    .map(|(name, value)| cell(if name.text == "from" { "at" } else { &name.text }, text_of(value)));
                Some(cells.chain([cell("event", UNIT)]).collect())
            })),
            (None, _) => {}
        }
    }
    rows
}

fn event_row(event: &Node) -> Row {
    let Node::Map(keys, _) = event else { return Vec::new() };
    let mut row = Vec::new();
    for (name, value) in keys {
        let text = || text_of(value);
        match (name.text.as_str(), value) {
            ("lines", _) => row.push(cell("event", format!("lines {}", text().trim()))),
            (word @ ("strike" | "landed"), _) => {
                row.push(cell("event", word));
                row.extend((text().trim() != "yes").then(|| cell("rod", text())));
            }
            ("rod", _) => {
                let up = keys.iter().any(|(name, _)| name.text == "up");
                row.extend([cell("event", if up { "up" } else { "rod" }), cell("rod", text())]);
            }
            ("up", _) => {}
            ("note", _) => row.extend([cell("event", "note"), cell("value", text())]),
            (under @ ("readings" | "measured"), Node::Map(readings, _)) => {
                if !row.iter().any(|(column, _)| column == "event") {
                    row.push(cell("event", "readings"));
                }
                let begins = if under == "readings" { "reading" } else { "measured" };
                row.extend(
                    readings.iter().map(|(name, value)| cell(&format!("{begins} {}", name.text), text_of(value))),
                );
            }
            (other, _) => row.push(cell(other, text())),
        }
    }
    row
}

/// A value as the text of one cell: the points of a cast in brackets, a place as its two numbers.
pub(super) fn text_of(value: &Node) -> String {
    match value {
        Node::Text(written) => written.text.clone(),
        Node::List(items, _) => format!("[{}]", items.iter().map(text_of).collect::<Vec<_>>().join(", ")),
        Node::Map(entries, _) => {
            let of = |name: &str| entries.iter().find(|(key, _)| key.text == name).map(|(_, value)| text_of(value));
            [of("latitude"), of("longitude")].into_iter().flatten().collect::<Vec<_>>().join(", ")
        }
    }
}

/// The columns that some rows fill: those that every log has, then readings in the order in which they come.
fn columns_of(rows: &[Row]) -> Vec<String> {
    let mut filled: BTreeSet<&str> = ["at", "event", "rod", "value"].into();
    let mut readings = Vec::new();
    for (column, _) in rows.iter().flatten() {
        if filled.insert(column) && !plain_columns().any(|plain| plain == column) {
            readings.push(column.clone());
        }
    }
    let plain = plain_columns().filter(|column| filled.contains(column)).map(str::to_owned);
    plain.chain(readings).collect()
}
