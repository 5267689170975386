//! The forecast file: the weather that somebody expects, hour by hour.
//!
//! ```yaml
//! source: "the lake forecast of 14 May, 18:00 (invented)"   # who says so, and when
//! date: 2026-05-15                                          # of the times of day below
//! zone: "-07:00"                                            # where no water gives it
//! hours:
//!   - {at: "06:00", wind: 8 mph, wind_from: SW, cloud: 40 %, air: 52 °F, pressure: 941 hPa}
//!   - {at: 2026-05-15T07:00-07:00, wind: 9 mph}             # or a whole time
//! ```
//!
//! Or a table, as spreadsheets save it: commas, semicolons or tabs between cells, with the same names in the first line.
//! A unit may stand behind a name, `wind (mph)`, for cells that are bare numbers; a column `date` gives the day of times
//! that are times of day. Where semicolons part the cells a comma in a number is its point.
//!
//! Hours stand in the order of time. A value holds as long as a reading of its name is good.

use std::sync::Arc;

use jiff::civil::Date;
use jiff::tz::TimeZone;

use super::given::literal;
use super::list::list;
use super::yaml::{Document, Node, Spot, Written, unknown_key};
use super::{Fault, Faults, fields, files, time};
use crate::program::GivenTarget;
use crate::session::Event;
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::nearest::nearest;
use crate::vocabulary::print;
use crate::vocabulary::time::Instant;
use crate::vocabulary::unit::Unit;

/// What a forecast may foretell.
pub const FORETOLD: [Known; 5] = [Known::Wind, Known::WindFrom, Known::Cloud, Known::Air, Known::Pressure];

/// A forecast.
#[derive(Clone, Debug)]
pub struct Forecast {
    /// The name it is shown under.
    pub file: String,
    /// Who made it, and when.
    pub source: Option<String>,
    /// Its hours, in the order of time; at least one.
    pub hours: Vec<ForecastHour>,
    /// The zone of its first time: the water's, else its own.
    pub zone: TimeZone,
}

/// What is foretold for one time.
#[derive(Clone, Debug, PartialEq)]
pub struct ForecastHour {
    /// From when on.
    pub at: Instant,
    /// What.
    pub foretold: Vec<Foretold>,
}

/// One value foretold.
#[derive(Clone, Debug, PartialEq)]
pub struct Foretold {
    /// The reading.
    pub reading: Known,
    /// Its value, counts.
    pub value: i64,
    /// The value as it was written, with its unit.
    pub written: Arc<str>,
}

impl ForecastHour {
    /// The same as a session takes it.
    pub fn events(&self) -> impl Iterator<Item = Event> {
        self.foretold.iter().flat_map(|foretold| {
            let target = GivenTarget::Known(foretold.reading);
            [Event::Give(target, Some(foretold.value)), Event::Written(target, foretold.written.clone())]
        })
    }
}

const KEYS: [&str; 4] = ["source", "date", "zone", "hours"];
const AT_HELP: &str = "write a time of day, as in `06:00`, or a whole time, as in `2026-05-15T06:00`";

impl Forecast {
    /// Reads a forecast, or standard input where the path is `-`; `zone` is that of the water. A file whose name ends in
    /// `.csv` is a table, and so is standard input that begins with `at` or `date` and no colon.
    ///
    /// # Errors
    /// What can't be read, each with its place.
    pub fn read(path: &str, zone: Option<&TimeZone>) -> Result<Self, Faults> {
        let text = files::text(path)?;
        let named_table = path.to_ascii_lowercase().ends_with(".csv");
        if named_table || (path == files::STANDARD_INPUT && begins_a_table(&text)) {
            Self::of_table(path, &text, zone)
        } else {
            Self::of(&Document::parse(path, text)?, zone)
        }
    }

    /// Reads a forecast out of a YAML file; `zone` is that of the water.
    ///
    /// # Errors
    /// What can't be read, each with its place.
    pub fn of(document: &Document, zone: Option<&TimeZone>) -> Result<Self, Faults> {
        let within = |fault: Fault| fault.within(&document.file);
        if let Some((key, _)) = document.root().iter().find(|(key, _)| !KEYS.contains(&key.text.as_str())) {
            return Err(within(unknown_key(key, None, &KEYS)).into());
        }
        let mut faults = Faults::default();
        let source = header(document, "source", fields::prose, &mut faults);
        let date = header(document, "date", time::date, &mut faults);
        let own_zone = header(document, "zone", time::zone, &mut faults);
        let days = Days { date: date.flatten(), zone: own_zone.flatten().or(zone.cloned()) };
        let items = match document.get("hours") {
            Some(Node::List(items, _)) if !items.is_empty() => items,
            other => {
                faults.add(within(no_hours(other)));
                return Err(faults);
            }
        };
        let mut hours = Vec::new();
        for (number, item) in items.iter().enumerate() {
            let path = format!("hours[{number}]");
            let cells = faults.keep(cells(&path, item).map_err(within));
            let read = cells.and_then(|cells| {
                faults.keep(hour(&path, item.spot(), &cells, &days).map_err(in_file(&document.file)))
            });
            hours.extend(read);
        }
        Self::ordered(&document.file, source.flatten(), hours, zone, faults)
    }

    /// Reads a forecast out of a table; `zone` is that of the water.
    ///
    /// # Errors
    /// What can't be read, each with its place.
    pub fn of_table(file: &str, text: &str, zone: Option<&TimeZone>) -> Result<Self, Faults> {
        let mut faults = Faults::default();
        let rows = table(text).map_err(|fault| fault.within(file))?;
        let mut rows = rows.into_iter();
        let Some(first) = rows.next() else {
            return Err(Fault::new("the file is empty").help(TABLE_HELP).within(file).into());
        };
        let Some(columns) = faults.keep(columns(&first).map_err(in_file(file))) else { return Err(faults) };
        let mut hours = Vec::new();
        for row in rows {
            let spot = row.first().map_or(Spot::default(), |cell| cell.spot);
            let read = faults.keep(row_of(&columns, row, zone).map_err(in_file(file)));
            let Some((days, cells)) = read else { continue };
            hours.extend(faults.keep(hour("", spot, &cells, &days).map_err(in_file(file))));
        }
        if hours.is_empty() && faults.is_empty() {
            faults.add(Fault::new("the table has no line below its names").help(TABLE_HELP).within(file));
        }
        Self::ordered(file, None, hours, zone, faults)
    }

    fn ordered(
        file: &str,
        source: Option<String>,
        hours: Vec<Hour>,
        water: Option<&TimeZone>,
        mut faults: Faults,
    ) -> Result<Self, Faults> {
        for pair in hours.windows(2) {
            let [before, after] = pair else { continue };
            if after.hour.at <= before.hour.at {
                let (line, earlier) = (after.spot.line, before.spot.line);
                let fault = if after.hour.at == before.hour.at {
                    Fault::new(format!("lines {earlier} and {line} are for the same time"))
                        .help("leave one of them out")
                } else {
                    Fault::new(format!("line {line} is for an earlier time than line {earlier}"))
                        .help("hours stand in the order of time")
                };
                faults.add(fault.at(after.spot).within(file));
            }
        }
        let zone = hours.first().map(|hour| hour.zone.clone());
        let zone = water.cloned().or(zone).unwrap_or(TimeZone::UTC);
        let hours = hours.into_iter().map(|hour| hour.hour).collect();
        faults.unless_any(Self { file: file.to_owned(), source, hours, zone })
    }
}

/// Each fault in a file.
fn in_file(file: &str) -> impl Fn(Faults) -> Faults {
    move |faults| {
        let mut placed = Faults::default();
        faults.into_iter().for_each(|fault| placed.add(fault.within(file)));
        placed
    }
}

/// What the times of a file are read by.
struct Days {
    date: Option<Date>,
    zone: Option<TimeZone>,
}

/// An hour, and where it stands.
struct Hour {
    hour: ForecastHour,
    zone: TimeZone,
    spot: Spot,
}

/// A value under its name; `unit` is that of a bare number.
struct Cell {
    name: Written,
    unit: Option<&'static Unit>,
    value: Written,
}

fn header<T>(
    document: &Document,
    key: &str,
    read: impl FnOnce(&str) -> Result<T, Fault>,
    faults: &mut Faults,
) -> Option<Option<T>> {
    match document.get(key)? {
        Node::Text(written) => Some(
            faults.keep(read(&written.text).map_err(|fault| written.place(fault).field(key).within(&document.file))),
        ),
        other => {
            let fault = Fault::new(format!("`{key}` is {}, not a text", other.what()));
            faults.add(fault.at(other.spot()).field(key).within(&document.file));
            None
        }
    }
}

fn no_hours(found: Option<&Node>) -> Fault {
    let fault = match found {
        Some(Node::List(..)) | None => Fault::new("the file has no hours"),
        Some(other) => Fault::new(format!("`hours` is {}, not a list", other.what())),
    };
    let fault =
        fault.help("write `hours:` and below it `- {at: \"06:00\", wind: 8 mph, wind_from: SW}`").field("hours");
    found.map(Node::spot).into_iter().fold(fault, Fault::at)
}

fn cells(path: &str, item: &Node) -> Result<Vec<Cell>, Fault> {
    let Node::Map(entries, _) = item else {
        let fault = Fault::new(format!("an hour is keys with values, not {}", item.what()));
        return Err(fault.help("write `- {at: \"06:00\", wind: 8 mph}`").at(item.spot()).field(path));
    };
    let cell = |(name, value): &(Written, Node)| match value {
        Node::Text(value) => Ok(Cell { name: name.clone(), unit: None, value: value.clone() }),
        other => {
            let fault = Fault::new(format!("`{}` is {}, not one value", name.text, other.what()));
            Err(fault.at(other.spot()).field(format!("{path}.{}", name.text)))
        }
    };
    entries.iter().map(cell).collect()
}

fn hour(path: &str, spot: Spot, cells: &[Cell], days: &Days) -> Result<Hour, Faults> {
    let field = |name: &str| if path.is_empty() { name.to_owned() } else { format!("{path}.{name}") };
    let mut faults = Faults::default();
    let mut when = None;
    let mut foretold = Vec::new();
    for cell in cells {
        let name = cell.name.text.as_str();
        if name == "at" {
            when = Some(faults.keep(at(&cell.value, days).map_err(|fault| cell.value.place(fault).field(field("at")))));
            continue;
        }
        let Some(reading) = FORETOLD.into_iter().find(|known| known.name() == name) else {
            let names: Vec<&str> = names();
            let fault = match Known::reading(name) {
                Some(_) => Fault::new(format!("a forecast does not foretell `{name}`"))
                    .help(format!("it has {}", list(&names))),
                None => Fault { field: None, ..unknown_key(&cell.name, Some(path), &names) },
            };
            faults.add(fault.at(cell.name.spot).field(field(name)));
            continue;
        };
        let read = value(reading, cell).map_err(|fault| cell.value.place(fault).field(field(name)));
        foretold.extend(faults.keep(read).flatten());
    }
    if when.is_none() {
        faults.add(Fault::new("this hour has no `at`").help(AT_HELP).at(spot).field(field("at")));
    }
    match when.flatten() {
        Some((at, zone)) => faults.unless_any(Hour { hour: ForecastHour { at, foretold }, zone, spot }),
        None => Err(faults),
    }
}

fn names() -> Vec<&'static str> {
    std::iter::once("at").chain(FORETOLD.iter().map(|known| known.name())).collect()
}

/// A time of day on the file's date, or a whole time.
fn at(written: &Written, days: &Days) -> Result<(Instant, TimeZone), Fault> {
    let text = written.text.trim();
    if text.contains('-') || text.contains('\u{2212}') {
        return time::time(text, days.zone.as_ref());
    }
    let Some(date) = days.date else {
        return Err(Fault::new(format!("`{text}` has no date, and the file gives none"))
            .help("write `date: 2026-05-15` above the hours, in a table a column `date`; or whole times"));
    };
    let Some(zone) = &days.zone else {
        return Err(Fault::new(format!("`{text}` has no time zone, and neither the file nor a water gives it one"))
            .help("write `zone: \"-07:00\"` above the hours, or name the water with its `zone`"));
    };
    time::of_day(text, date, Some(zone))
}

/// A value; none where it is left out or said to be unknown.
fn value(reading: Known, cell: &Cell) -> Result<Option<Foretold>, Fault> {
    let text = cell.value.text.trim();
    if text.eq_ignore_ascii_case("unknown") {
        return Ok(None);
    }
    let bare =
        !text.is_empty() && text.trim_start_matches(['-', '\u{2212}']).bytes().all(|b| b.is_ascii_digit() || b == b'.');
    let written = match cell.unit {
        Some(unit) if bare => print::with_unit(text, unit.symbol),
        _ => text.to_owned(),
    };
    let entry = reading.entry();
    let value = literal(entry.name, entry.kind, entry.range(), &written)?;
    Ok(Some(Foretold { reading, value, written: written.into() }))
}

// Tables

const TABLE_HELP: &str = "write names in the first line, as in `at,wind (mph),wind_from,cloud (%),air (°F)`, and below it a line for each hour";
/// What parts the cells of a table.
const BETWEEN: [char; 3] = [';', '\t', ','];

fn begins_a_table(text: &str) -> bool {
    let first = text.lines().next().unwrap_or_default().to_ascii_lowercase();
    ["at", "date"].iter().any(|name| {
        first
            .trim_start_matches('"')
            .strip_prefix(name)
            .is_some_and(|rest| rest.trim_start_matches('"').starts_with(BETWEEN))
    })
}

/// The rows of a table, without empty ones; each cell with its place.
fn table(text: &str) -> Result<Vec<Vec<Written>>, Fault> {
    // Some spreadsheets name what parts the cells in a line of its own, which counts as a line.
    let unnamed = text.strip_prefix("sep=").and_then(|rest| rest.split_once('\n')).map(|(_, rest)| format!("\n{rest}"));
    let text = unnamed.as_deref().unwrap_or(text);
    let first = text.lines().find(|line| !line.trim().is_empty()).unwrap_or_default();
    let between = BETWEEN.into_iter().find(|between| first.contains(*between)).unwrap_or(',');
    let mut reader = csv::ReaderBuilder::new();
    let reader =
        reader.has_headers(false).flexible(true).delimiter(u8::try_from(between).unwrap_or(b',')).trim(csv::Trim::All);
    let lines: Vec<&str> = text.split('\n').collect();
    let mut rows = Vec::new();
    for record in reader.from_reader(text.as_bytes()).records() {
        let record = record.map_err(|error| {
            let line = error.position().and_then(|at| u32::try_from(at.line()).ok());
            Fault { line, ..Fault::new("this line can't be read as cells").help("is a quote left open?") }
        })?;
        if record.iter().all(str::is_empty) {
            continue;
        }
        let line = record.position().map_or(1, |at| at.line());
        let source =
            usize::try_from(line).ok().and_then(|line| lines.get(line.checked_sub(1)?)).copied().unwrap_or_default();
        let line = u32::try_from(line).unwrap_or(u32::MAX);
        let begins = beginnings(source, between);
        let cells = record.iter().enumerate().map(|(number, cell)| {
            let column = begins.get(number).copied().unwrap_or(1);
            // Where semicolons part cells, a comma is a number's point.
            let number = cell.bytes().next().is_some_and(|byte| byte.is_ascii_digit() || byte == b'-');
            let cell = if between == ';' && number { cell.replace(',', ".") } else { cell.to_owned() };
            Written::plain(cell, Spot { line, column })
        });
        rows.push(cells.collect());
    }
    Ok(rows)
}

/// The columns, in characters from 1, at which the cells of a line begin.
fn beginnings(line: &str, between: char) -> Vec<u32> {
    let (mut begins, mut quoted, mut column, mut waits) = (Vec::new(), false, 0, true);
    for c in line.chars() {
        column += 1;
        quoted ^= c == '"';
        if waits && (c == between || !matches!(c, ' ' | '"')) {
            begins.push(column);
            waits = false;
        }
        waits |= c == between && !quoted;
    }
    if waits {
        begins.push(column + 1);
    }
    begins
}

/// A column of a table.
struct Column {
    name: Written,
    unit: Option<&'static Unit>,
}

fn columns(first: &[Written]) -> Result<Vec<Column>, Faults> {
    let mut faults = Faults::default();
    let mut columns: Vec<Column> = Vec::new();
    for cell in first {
        let Some(column) = faults.keep(column(cell).map_err(|fault| fault.at(cell.spot))) else { continue };
        if columns.iter().any(|other| other.name.text == column.name.text && !column.name.text.is_empty()) {
            faults.add(Fault::new(format!("the column `{}` is there twice", column.name.text)).at(cell.spot));
        }
        columns.push(column);
    }
    if faults.is_empty() && !columns.iter().any(|column| column.name.text == "at") {
        faults.add(Fault::new("no column is named `at`").help(TABLE_HELP).at(Spot { line: 1, column: 1 }));
    }
    faults.unless_any(columns)
}

/// A name, and behind it maybe a unit: `wind (mph)`, `wind [mph]`, `wind mph`.
fn column(cell: &Written) -> Result<Column, Fault> {
    let text = cell.text.trim();
    let ends = text.find(|c: char| !(c.is_alphanumeric() || c == '_')).unwrap_or(text.len());
    let (name, unit) = text.split_at(ends);
    let (name, unit) = (name.to_ascii_lowercase(), unit.trim().trim_matches(['(', ')', '[', ']']).trim());
    let known: Vec<&str> = names().into_iter().chain(["date"]).collect();
    if !known.contains(&name.as_str()) && !text.is_empty() {
        let help = match nearest(&name, known.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("columns are {}; leave the others out", list(&known)),
        };
        return Err(Fault::new(format!("a forecast has no column `{text}`")).help(help));
    }
    let found = if unit.is_empty() { None } else { Unit::find(unit) };
    if found.is_none() && !unit.is_empty() {
        let help = match nearest(unit, Unit::spellings()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => "write for instance `wind (mph)` or `air (°F)`".to_owned(),
        };
        return Err(Fault::new(format!("`{unit}` is no unit")).help(help));
    }
    Ok(Column { name: Written::plain(name, cell.spot), unit: found })
}

/// The cells of a row under their names, and what its time is read by.
fn row_of(columns: &[Column], row: Vec<Written>, zone: Option<&TimeZone>) -> Result<(Days, Vec<Cell>), Faults> {
    let mut days = Days { date: None, zone: zone.cloned() };
    let mut faults = Faults::default();
    let mut cells = Vec::new();
    for (number, value) in row.into_iter().enumerate() {
        let column = columns.get(number).filter(|column| !column.name.text.is_empty());
        match column {
            _ if value.text.is_empty() => {}
            None => {
                let fault = Fault::new(format!("`{}` stands under no name", value.text));
                faults.add(fault.help("give its column a name in the first line, or take it out").at(value.spot));
            }
            Some(column) if column.name.text == "date" => {
                days.date = faults.keep(time::date(&value.text).map_err(|fault| value.place(fault).field("date")));
            }
            Some(column) => cells.push(Cell { name: column.name.clone(), unit: column.unit, value }),
        }
    }
    faults.unless_any((days, cells))
}
