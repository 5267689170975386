//! YAML, and the only file that names a library for it.
//!
//! Two passes. The first reads events, refuses what a file of readings has no use for (anchors, aliases, merge keys,
//! tags, a key twice, several documents, a key without a value), holds the file to its bounds, and keeps every text as
//! it was written with the place it stands at. The second is serde's, into types that refuse unknown keys. No value is
//! ever typed by what it looks like: `yes`, `12` and `0.50` arrive as those texts.

use std::collections::BTreeSet;
use std::fmt;

use saphyr_parser::{Event, Marker, Parser, ScalarStyle, ScanError, Tag};
use serde::de::{self, Deserialize, DeserializeOwned, Deserializer, Visitor};
use serde::forward_to_deserialize_any;

use super::list::list;
use super::{Fault, files};
use crate::syntax::MOST_BYTES;
use crate::vocabulary::nearest::nearest;

/// Most lists and mappings inside each other.
pub const MOST_LEVELS: usize = 16;
/// Most values and keys of a file.
pub const MOST_NODES: usize = 100_000;

/// How large a file of data may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bounds {
    /// Most bytes.
    pub bytes: usize,
    /// Most values and keys.
    pub nodes: usize,
}

/// The bounds of most files of data.
pub const USUAL: Bounds = Bounds { bytes: MOST_BYTES, nodes: MOST_NODES };

/// A place in a file, line and column from 1, columns in characters.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Spot {
    /// The line.
    pub line: u32,
    /// The column.
    pub column: u32,
}

impl Spot {
    fn of(marker: Marker) -> Self {
        let number = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        Self { line: number(marker.line()), column: number(marker.col()).saturating_add(1) }
    }
}

/// A text as it was written, quotes and escapes resolved, and where it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    /// The text.
    pub text: String,
    /// Where it begins, its quote included.
    pub spot: Spot,
    /// How many characters stand before the text at its place; none where places in the text are none in the file.
    lead: Option<u32>,
}

impl Written {
    /// A text of a single place, as flags and requests have it.
    pub fn plain(text: impl Into<String>, spot: Spot) -> Self {
        Self { text: text.into(), spot, lead: Some(0) }
    }

    /// A text at a place; `lead` is how many characters stand before it there, none where places in the text are none
    /// in the file.
    pub fn placed(text: String, spot: Spot, lead: Option<u32>) -> Self {
        Self { text, spot, lead }
    }

    /// A fault about this text, whose column so far counts in it, at its place in the file.
    pub fn place(&self, fault: Fault) -> Fault {
        let inside = fault.column.unwrap_or(1).saturating_sub(1);
        let column = self.lead.map_or(self.spot.column, |lead| self.spot.column.saturating_add(lead + inside));
        fault.at(Spot { column, ..self.spot })
    }
}

/// A value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Node {
    /// A text.
    Text(Written),
    /// A list.
    List(Vec<Node>, Spot),
    /// Keys and their values, in the order of the file.
    Map(Vec<(Written, Node)>, Spot),
}

impl Node {
    /// Where it begins.
    pub fn spot(&self) -> Spot {
        match self {
            Node::Text(written) => written.spot,
            Node::List(_, spot) | Node::Map(_, spot) => *spot,
        }
    }

    /// What it is, for messages.
    pub fn what(&self) -> &'static str {
        match self {
            Node::Text(_) => "a text",
            Node::List(..) => "a list",
            Node::Map(..) => "keys with values",
        }
    }
}

/// A file of data, read as far as its shape.
#[derive(Clone, Debug)]
pub struct Document {
    /// The name it is shown under.
    pub file: String,
    text: String,
    root: Vec<(Written, Node)>,
}

impl Document {
    /// Reads a file, or standard input where the path is `-`.
    pub fn read(path: &str) -> Result<Self, Fault> {
        Self::parse(path, files::text(path)?)
    }

    /// Reads a text under the name it is shown under.
    pub fn parse(file: &str, text: String) -> Result<Self, Fault> {
        Self::parse_within(file, text, USUAL)
    }

    /// The same within bounds of its own.
    pub fn parse_within(file: &str, text: String, bounds: Bounds) -> Result<Self, Fault> {
        let root = parse(&text, bounds).map_err(|fault| fault.within(file))?;
        Ok(Self { file: file.to_owned(), text, root })
    }

    /// Keys and values that were read from another form than YAML. Serde has nothing to read in it.
    pub fn made(file: &str, root: Vec<(Written, Node)>) -> Self {
        Self { file: file.to_owned(), text: String::new(), root }
    }

    /// Its keys and their values.
    pub fn root(&self) -> &[(Written, Node)] {
        &self.root
    }

    /// The value under a key of the root.
    pub fn get(&self, key: &str) -> Option<&Node> {
        self.root.iter().find(|(written, _)| written.text == key).map(|(_, node)| node)
    }

    /// The value at a path: `rules.bait`, `moments[2].surface`. A key may itself have points and brackets in it.
    pub fn at(&self, path: &str) -> Option<&Node> {
        find_in_map(&self.root, path)
    }

    /// Where the value at a path stands.
    pub fn place(&self, path: &str) -> Option<Spot> {
        self.at(path).map(Node::spot)
    }

    /// The text at a path as it was written.
    pub fn written(&self, path: &str) -> Option<&Written> {
        match self.at(path) {
            Some(Node::Text(written)) => Some(written),
            _ => None,
        }
    }

    /// A fault about the field at a path, placed: its column so far counts in the field's text.
    pub fn fault(&self, path: &str, fault: Fault) -> Fault {
        let fault = match (self.written(path), self.place(path)) {
            (Some(written), _) => written.place(fault),
            (None, Some(spot)) => fault.at(spot),
            (None, None) => Fault { column: None, ..fault },
        };
        fault.field(path).within(&self.file)
    }

    /// Reads the whole file into a type of texts by serde. Keys that the type does not know are refused by
    /// [`Document::known_keys`], with better words.
    pub fn typed<T: DeserializeOwned>(&self) -> Result<T, Fault> {
        serde_yaml::from_str(&self.text).map_err(|error| self.misshapen(&error))
    }

    /// What serde says about the shape of a file, in the words of this room.
    fn misshapen(&self, error: &serde_yaml::Error) -> Fault {
        let whole = error.to_string();
        let message = whole.split(" at line ").next().unwrap_or(&whole);
        let told = message.split_once(": invalid type: ").and_then(|(path, rest)| {
            let (_, wanted) = rest.split_once(", expected ")?;
            Some((path, self.at(path)?, wanted))
        });
        let Some((path, node, wanted)) = told else {
            let number = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
            let spot = error.location().map(|at| Spot { line: number(at.line()), column: number(at.column()) });
            return spot.into_iter().fold(Fault::new(message).within(&self.file), Fault::at);
        };
        let wanted = match wanted {
            "a sequence" => "a list",
            wanted if wanted.starts_with("struct ") => "keys with values",
            wanted => wanted,
        };
        self.fault(path, Fault::new(format!("`{path}` is {}, not {wanted}", node.what())))
    }

    /// Refuses keys that a type of serde does not know, at the root or under a key of it, with the nearest known one.
    pub fn known_keys<T: DeserializeOwned>(&self, under: Option<&str>) -> Result<(), Fault> {
        let entries = match under.map(|key| self.get(key)) {
            None => &self.root,
            Some(Some(Node::Map(entries, _))) => entries,
            Some(_) => return Ok(()),
        };
        let known = keys_of::<T>();
        match entries.iter().find(|(key, _)| !known.contains(&key.text.as_str())) {
            None => Ok(()),
            Some((key, _)) => Err(unknown_key(key, under, &known).within(&self.file)),
        }
    }
}

/// The fault about a key that nothing knows, at its place; `under` is the path of the mapping it stands in.
pub fn unknown_key(key: &Written, under: Option<&str>, known: &[&str]) -> Fault {
    let place = under.map_or_else(|| "this file".to_owned(), |under| format!("`{under}`"));
    let help = match nearest(&key.text, known.iter().copied()) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("it has {}", list(known)),
    };
    let path = under.map_or_else(|| key.text.clone(), |under| format!("{under}.{}", key.text));
    Fault::new(format!("{place} has no `{}`", key.text)).help(help).at(key.spot).field(path)
}

// The first pass: events

fn find_in_map<'n>(entries: &'n [(Written, Node)], path: &str) -> Option<&'n Node> {
    let rest_of = |key: &Written| path.strip_prefix(key.text.as_str());
    entries.iter().find_map(|(key, node)| match rest_of(key)? {
        "" => Some(node),
        rest => find_below(node, rest),
    })
}

fn find_below<'n>(node: &'n Node, rest: &str) -> Option<&'n Node> {
    match node {
        Node::Text(_) => None,
        Node::Map(entries, _) => find_in_map(entries, rest.strip_prefix('.')?),
        Node::List(items, _) => {
            let (number, rest) = rest.strip_prefix('[')?.split_once(']')?;
            let item = items.get(number.parse::<usize>().ok()?)?;
            if rest.is_empty() { Some(item) } else { find_below(item, rest) }
        }
    }
}

fn parse(text: &str, bounds: Bounds) -> Result<Vec<(Written, Node)>, Fault> {
    if text.len() > bounds.bytes {
        let mib = bounds.bytes >> 20;
        return Err(Fault::new(format!("a file of this kind has at most {} bytes ({mib} MiB)", bounds.bytes)));
    }
    refuse_control_characters(text)?;
    match plain_lines(text, bounds) {
        Some(entries) => Ok(entries),
        None => parse_events(text, bounds),
    }
}

fn parse_events(text: &str, bounds: Bounds) -> Result<Vec<(Written, Node)>, Fault> {
    let mut events = Parser::new_from_str(text).keep_tags(true);
    let cursor = Cursor { rest: text, passed: 0 };
    let mut builder = Builder { cursor, open: Vec::new(), done: None, nodes: 0, most: bounds.nodes };
    let mut documents = 0;
    while let Some(next) = events.next_event() {
        let (event, span) = next.map_err(|error| unreadable(&error))?;
        let spot = Spot::of(span.start);
        if matches!(event, Event::DocumentStart(_)) {
            documents += 1;
        }
        if documents > 1 {
            return Err(Fault::new("a file of data holds one document").help("take out the second `---`").at(spot));
        }
        builder.take(event, spot, span.start.index())?;
    }
    match builder.done {
        Some(Node::Map(entries, _)) => Ok(entries),
        Some(other) => {
            let message = format!("the file is {}; it should be keys with values, as in `name: ...`", other.what());
            Err(Fault::new(message).at(other.spot()))
        }
        None => Err(Fault::new("the file is empty")),
    }
}

/// Refuses characters that no file of data has: what is no letter, mark or end of a line.
pub fn refuse_control_characters(text: &str) -> Result<(), Fault> {
    // One look at all bytes first: hardly any text has one.
    let (mut before, mut suspect) = (0, false);
    for byte in text.bytes() {
        let low = byte < b' ' && byte != b'\n' && byte != b'\t';
        suspect |= low || byte == 0x7f || (before == 0xc2 && (0x80..0xa0).contains(&byte));
        before = byte;
    }
    if !suspect {
        return Ok(());
    }
    let lines = text.split('\n').zip(1u32..);
    for (line, number) in lines {
        let line = line.strip_suffix('\r').unwrap_or(line);
        let found = line.chars().zip(1u32..).find(|(c, _)| c.is_control() && *c != '\t');
        if let Some((found, column)) = found {
            let message = format!("the character U+{:04X} can't stand in a file of data", u32::from(found));
            return Err(Fault::new(message).at(Spot { line: number, column }));
        }
    }
    Ok(())
}

fn unreadable(error: &ScanError) -> Fault {
    let spot = Spot::of(*error.marker());
    if error.info().contains("unknown anchor") {
        return no_anchors().at(spot);
    }
    Fault::new(format!("this is no YAML that can be read: {}", error.info()))
        .help("check quotes, brackets and how far the line is indented; a text with `: ` or ` #` needs quotes")
        .at(spot)
}

fn no_anchors() -> Fault {
    Fault::new("anchors and aliases (`&name`, `*name`) are not read").help("write the value out where it belongs")
}

/// Follows a text from front to back, to see whether a value stands there letter by letter.
struct Cursor<'t> {
    rest: &'t str,
    passed: usize,
}

impl Cursor<'_> {
    /// How many characters stand before a text at its place, where it stands there as it is: one for a quote.
    fn lead(&mut self, text: &str, index: usize) -> Option<u32> {
        let ahead = index.checked_sub(self.passed)?;
        let bytes = self.rest.char_indices().nth(ahead).map_or(self.rest.len(), |(byte, _)| byte);
        self.rest = self.rest.get(bytes..)?;
        self.passed = index;
        if self.rest.starts_with(text) {
            return Some(0);
        }
        self.rest.strip_prefix(['"', '\''])?.starts_with(text).then_some(1)
    }
}

// What needs no parser: a list of mappings in braces, one a line, as a log of thousands of lines is written. What is
// written in any other way is left to the parser, and both give the same.

/// The keys and values of a text whose last key has a list of plain lines; none where the text is anything else.
fn plain_lines(text: &str, bounds: Bounds) -> Option<Vec<(Written, Node)>> {
    let first = if text.starts_with("- {") { 0 } else { text.find("\n- {")? + 1 };
    let line_of = |at: usize| u32::try_from(newlines(text.get(..at)?)).ok()?.checked_add(1);
    // The key stands right above, but for lines that say nothing.
    let mut begins = first;
    let key = loop {
        let above = text.get(..begins)?.strip_suffix('\n')?;
        begins = above.rfind('\n').map_or(0, |at| at + 1);
        let line = above.get(begins..)?.trim_end_matches('\r');
        if !line.is_empty() && !line.starts_with('#') {
            break line;
        }
    };
    let before = text.get(..begins)?;
    let name = key.strip_suffix(':').filter(|name| !name.is_empty() && name.bytes().all(|b| b.is_ascii_lowercase()))?;
    // A head that ends its document, or begins one; a text that runs over lines until something ends it.
    let is_odd = |line: &str| line.starts_with(['.', '-', '%']) || line.contains(['|', '>']);
    if name == "null" || before.lines().any(is_odd) {
        return None;
    }
    let mut entries = match before.lines().all(|line| line.is_empty() || line.starts_with('#')) {
        true => Vec::new(),
        false => parse_events(before, bounds).ok()?,
    };
    // In braces the first key stands further in.
    let is_block = entries.first().is_none_or(|(key, _)| key.spot.column == 1);
    if !is_block || entries.iter().any(|(key, _)| key.text == name) {
        return None;
    }
    let (line, begins) = (line_of(before.len())?, line_of(first)?);
    let mut lines = PlainLines { nodes: 2 * entries.len() + 2, most: bounds.nodes };
    let items = lines.list(text.get(first..)?, begins)?;
    let list = Node::List(items, Spot { line: begins, column: 3 });
    entries.push((Written::placed(name.to_owned(), Spot { line, column: 1 }, Some(0)), list));
    // What the head holds more deeply is counted too low, by far less than this.
    (lines.nodes + before.len() <= bounds.nodes).then_some(entries)
}

fn newlines(text: &str) -> usize {
    text.bytes().filter(|byte| *byte == b'\n').count()
}

struct PlainLines {
    nodes: usize,
    most: usize,
}

/// A line that is read from front to back, and the column that is next.
struct Line<'t> {
    rest: &'t str,
    spot: Spot,
}

impl<'t> Line<'t> {
    fn skip(&mut self, text: &str) -> Option<()> {
        self.rest = self.rest.strip_prefix(text)?;
        // Only ASCII is skipped.
        self.spot.column += u32::try_from(text.len()).ok()?;
        Some(())
    }

    /// A text without quotes, or in double ones, up to what may follow it.
    fn written(&mut self) -> Option<Written> {
        let spot = self.spot;
        if let Some(inside) = self.rest.strip_prefix('"') {
            return self.quoted(inside);
        }
        let plain = |c: char| {
            c.is_ascii_alphanumeric()
                || matches!(c, ' ' | '.' | '/' | '_' | '%' | '(' | ')' | '-' | '+' | '°')
                || (!c.is_ascii() && c.is_alphabetic())
        };
        let ends = self.rest.find(|c| !plain(c))?;
        let (text, rest) = self.rest.split_at_checked(ends)?;
        let begins_well = text.starts_with(|c: char| c.is_alphanumeric());
        if !begins_well || text.ends_with(' ') || text.eq_ignore_ascii_case("null") {
            return None;
        }
        self.rest = rest;
        self.spot.column += characters(text)?;
        Some(Written::placed(text.to_owned(), spot, Some(0)))
    }

    /// A text in double quotes, of which the first was passed.
    fn quoted(&mut self, inside: &'t str) -> Option<Written> {
        let spot = self.spot;
        let mut text = String::new();
        let mut rest = inside;
        loop {
            let ends = rest.find(['"', '\\', '\t'])?;
            text.push_str(rest.get(..ends)?);
            rest = rest.get(ends..)?;
            if let Some(after) = rest.strip_prefix('"') {
                let whole = inside.get(..inside.len() - rest.len())?;
                // As the parser's cursor sees it.
                let lead = match self.rest.starts_with(&text) {
                    true => Some(0),
                    false => inside.starts_with(&text).then_some(1),
                };
                (self.rest, self.spot.column) = (after, self.spot.column + characters(whole)? + 2);
                return Some(Written::placed(text, spot, lead));
            }
            // Of the escapes those that a log is written with.
            let escaped = rest.strip_prefix('\\')?.chars().next().filter(|c| matches!(c, '"' | '\\'))?;
            text.push(escaped);
            rest = rest.get(2..)?;
        }
    }
}

fn characters(text: &str) -> Option<u32> {
    let count = if text.is_ascii() { text.len() } else { text.chars().count() };
    u32::try_from(count).ok()
}

impl PlainLines {
    fn list(&mut self, text: &str, begins: u32) -> Option<Vec<Node>> {
        let mut items = Vec::with_capacity(text.len() / 64);
        for (line, number) in text.split('\n').zip(begins..) {
            let line = line.strip_suffix('\r').unwrap_or(line);
            if line.is_empty() || line.starts_with('#') {
                continue;
            }
            let mut line = Line { rest: line, spot: Spot { line: number, column: 1 } };
            line.skip("- ")?;
            items.push(self.map(&mut line, 0)?);
            if !line.rest.is_empty() {
                return None;
            }
        }
        Some(items)
    }

    fn map(&mut self, line: &mut Line<'_>, depth: usize) -> Option<Node> {
        /// Longest key that a parser of YAML takes without looking for its end.
        const MOST_KEY: usize = 200;
        let spot = line.spot;
        line.skip("{")?;
        let mut entries: Vec<(Written, Node)> = Vec::with_capacity(4);
        self.nodes += 1;
        loop {
            let key =
                line.written().filter(|key| !key.text.is_empty() && key.text.len() < MOST_KEY && key.text != "<<")?;
            if entries.iter().any(|(other, _)| other.text == key.text) {
                return None;
            }
            line.skip(": ")?;
            let value = match line.rest.starts_with('{') {
                true if depth == 0 => self.map(line, depth + 1)?,
                true => return None,
                false => Node::Text(line.written()?),
            };
            self.nodes += 2;
            // Beyond this the parser says so; and keys are compared with each other.
            if self.nodes > self.most || entries.len() > 100 {
                return None;
            }
            entries.push((key, value));
            if line.skip(", ").is_some() {
                continue;
            }
            line.skip("}")?;
            return Some(Node::Map(entries, spot));
        }
    }
}

/// A list or mapping whose end has not come yet.
enum Open {
    List(Vec<Node>, Spot),
    Map { entries: Vec<(Written, Node)>, keys: BTreeSet<String>, key: Option<Written>, spot: Spot },
}

struct Builder<'t> {
    cursor: Cursor<'t>,
    open: Vec<Open>,
    done: Option<Node>,
    nodes: usize,
    most: usize,
}

impl Builder<'_> {
    fn take(&mut self, event: Event<'_>, spot: Spot, index: usize) -> Result<(), Fault> {
        match event {
            Event::Alias(_) => Err(no_anchors().at(spot)),
            Event::Scalar(text, style, anchor, tag) => {
                plain_only(anchor, tag.as_deref(), spot)?;
                let lead = self.cursor.lead(&text, index);
                self.scalar(Written { text: text.into_owned(), spot, lead }, style)
            }
            Event::SequenceStart(anchor, tag) => {
                plain_only(anchor, tag.as_deref(), spot)?;
                self.begin(Open::List(Vec::new(), spot), spot)
            }
            Event::MappingStart(anchor, tag) => {
                plain_only(anchor, tag.as_deref(), spot)?;
                self.begin(Open::Map { entries: Vec::new(), keys: BTreeSet::new(), key: None, spot }, spot)
            }
            Event::SequenceEnd | Event::MappingEnd => self.end(),
            Event::Nothing | Event::StreamStart | Event::StreamEnd | Event::DocumentStart(_) | Event::DocumentEnd => {
                Ok(())
            }
        }
    }

    fn count(&mut self, spot: Spot) -> Result<(), Fault> {
        self.nodes += 1;
        if self.nodes > self.most {
            return Err(Fault::new(format!("a file of this kind has at most {} keys and values", self.most)).at(spot));
        }
        Ok(())
    }

    fn begin(&mut self, open: Open, spot: Spot) -> Result<(), Fault> {
        self.count(spot)?;
        if let Some(Open::Map { key: None, .. }) = self.open.last() {
            return Err(Fault::new("a key is a plain text, not a list or a mapping").at(spot));
        }
        if self.open.len() >= MOST_LEVELS {
            return Err(Fault::new(format!("lists and mappings nest deeper than {MOST_LEVELS} levels here")).at(spot));
        }
        self.open.push(open);
        Ok(())
    }

    fn end(&mut self) -> Result<(), Fault> {
        match self.open.pop() {
            Some(Open::List(items, spot)) => self.put(Node::List(items, spot)),
            Some(Open::Map { entries, spot, .. }) => self.put(Node::Map(entries, spot)),
            None => {}
        }
        Ok(())
    }

    fn put(&mut self, node: Node) {
        match self.open.last_mut() {
            None => self.done = Some(node),
            Some(Open::List(items, _)) => items.push(node),
            Some(Open::Map { entries, key, .. }) => entries.extend(key.take().map(|key| (key, node))),
        }
    }

    fn scalar(&mut self, written: Written, style: ScalarStyle) -> Result<(), Fault> {
        let spot = written.spot;
        self.count(spot)?;
        if written.text.chars().any(|c| c.is_control() && !matches!(c, '\n' | '\t')) {
            return Err(Fault::new("an escape makes a control character here, which no value has").at(spot));
        }
        match self.open.last_mut() {
            Some(Open::Map { keys, key: key @ None, .. }) => {
                *key = Some(good_key(written, keys)?);
                return Ok(());
            }
            Some(Open::Map { key: Some(key), .. }) => has_value(&written, style, Some(&key.text))?,
            Some(Open::List(..)) => has_value(&written, style, None)?,
            None if written.text.is_empty() => return Err(Fault::new("the file is empty").at(spot)),
            None => {}
        }
        self.put(Node::Text(written));
        Ok(())
    }
}

fn plain_only(anchor: usize, tag: Option<&Tag>, spot: Spot) -> Result<(), Fault> {
    if anchor > 0 {
        return Err(no_anchors().at(spot));
    }
    if tag.is_some() {
        let help = "write the value alone; what kind it is follows from its key";
        return Err(Fault::new("tags (`!name`) are not read").help(help).at(spot));
    }
    Ok(())
}

fn good_key(key: Written, keys: &mut BTreeSet<String>) -> Result<Written, Fault> {
    if key.text == "<<" {
        let fault = Fault::new("merge keys (`<<`) are not read").help("write the keys out where they belong");
        return Err(fault.at(key.spot));
    }
    if key.text.is_empty() {
        return Err(Fault::new("a value stands here without its key").at(key.spot));
    }
    if !keys.insert(key.text.clone()) {
        return Err(Fault::new(format!("the key `{}` stands here twice", key.text)).at(key.spot).field(key.text));
    }
    Ok(key)
}

fn has_value(written: &Written, style: ScalarStyle, key: Option<&str>) -> Result<(), Fault> {
    let none = matches!(written.text.as_str(), "" | "~" | "null" | "Null" | "NULL");
    if !none || style != ScalarStyle::Plain {
        return Ok(());
    }
    let what = key.map_or_else(|| "this item of the list".to_owned(), |key| format!("`{key}`"));
    let fault = Fault::new(format!("{what} has no value")).help("leave out what is not known").at(written.spot);
    Err(key.into_iter().fold(fault, Fault::field))
}

// The second pass: serde

/// A value as the text that was written, whatever it looks like.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Text(pub String);

impl<'de> Deserialize<'de> for Text {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Reader;
        impl Visitor<'_> for Reader {
            type Value = Text;

            fn expecting(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
                to.write_str("one value")
            }

            fn visit_str<E: de::Error>(self, text: &str) -> Result<Text, E> {
                Ok(Text(text.to_owned()))
            }
        }
        from.deserialize_str(Reader)
    }
}

/// The keys that a struct of serde knows, asked of the struct itself.
fn keys_of<T: DeserializeOwned>() -> Vec<&'static str> {
    let mut keys = Vec::new();
    // The asking ends in an error by design: there is nothing to read.
    let _ = T::deserialize(Asking(&mut keys));
    keys
}

struct Asking<'k>(&'k mut Vec<&'static str>);

impl<'de> Deserializer<'de> for Asking<'_> {
    type Error = de::value::Error;

    fn deserialize_any<V: Visitor<'de>>(self, _: V) -> Result<V::Value, Self::Error> {
        Err(de::Error::custom("only a struct has keys"))
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Self::Error> {
        self.0.extend(fields);
        Deserializer::deserialize_any(Asking(&mut Vec::new()), visitor)
    }

    forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf option unit unit_struct
        newtype_struct seq tuple tuple_struct map enum identifier ignored_any
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fault_of(text: &str) -> String {
        match Document::parse("f.yaml", text.to_owned()) {
            Ok(_) => "fine".to_owned(),
            Err(fault) => fault.to_string().lines().next().unwrap_or_default().to_owned(),
        }
    }

    #[test]
    fn what_files_of_data_have_no_use_for_is_refused() {
        let cases = [
            ("a: &x 1\nb: 2\n", "f.yaml:1:4: anchors and aliases (`&name`, `*name`) are not read"),
            ("a: *x\n", "f.yaml:1:4: anchors and aliases (`&name`, `*name`) are not read"),
            ("a: {b: 1}\n<<: {c: 2}\n", "f.yaml:2:1: merge keys (`<<`) are not read"),
            ("a: !!str 1\n", "f.yaml:1:4: tags (`!name`) are not read"),
            ("a: 1\nb: 2\na: 3\n", "f.yaml:3:1: the key `a` stands here twice"),
            ("a: 1\n---\nb: 2\n", "f.yaml:2:1: a file of data holds one document"),
            ("[a]: 1\n", "f.yaml:1:1: a key is a plain text, not a list or a mapping"),
            ("a:\nb: 2\n", "f.yaml:1:2: `a` has no value"),
            ("a: ~\n", "f.yaml:1:4: `a` has no value"),
            ("- a\n", "f.yaml:1:1: the file is a list; it should be keys with values, as in `name: ...`"),
            ("", "f.yaml: the file is empty"),
            ("# nothing\n", "f.yaml: the file is empty"),
            ("a: \"b\u{1b}c\"\n", "f.yaml:1:6: the character U+001B can't stand in a file of data"),
            ("a: \"b\\ec\"\n", "f.yaml:1:4: an escape makes a control character here, which no value has"),
        ];
        for (text, message) in cases {
            assert_eq!(fault_of(text), message, "{text:?}");
        }
        assert!(fault_of("a: [1, 2\n").contains("no YAML that can be read"));
    }

    #[test]
    fn depth_size_and_number_are_bounded() {
        let nested = |levels: usize| format!("a: {}1{}\n", "[".repeat(levels), "]".repeat(levels));
        assert_eq!(fault_of(&nested(MOST_LEVELS - 1)), "fine");
        assert!(fault_of(&nested(MOST_LEVELS)).contains("nest deeper than 16 levels"));
        assert!(fault_of(&nested(500_000)).contains("recursion limit exceeded"), "the library has its own limit first");
        assert!(fault_of(&format!("a:\n  {}b\n", "- ".repeat(500_000))).contains("nest deeper than 16 levels"));
        assert!(fault_of(&format!("a: [{}]\n", "1,".repeat(MOST_NODES))).contains("at most 100000 keys and values"));
        assert!(fault_of(&format!("a: {}\n", "x".repeat(MOST_BYTES))).contains("at most 1048576 bytes"));
    }

    #[test]
    fn texts_arrive_as_written_with_their_places() {
        let text = "one: yes\ntwo: {three: 0.50, four: \"a b\"}\nfive:\n  - 12\n  - six: .nan\n";
        let document = Document::parse("f", text.to_owned()).ok();
        let place = |path: &str| document.as_ref()?.place(path).map(|spot| (spot.line, spot.column));
        let written = |path: &str| document.as_ref()?.written(path).map(|written| written.text.clone());
        assert_eq!(written("one").as_deref(), Some("yes"));
        assert_eq!(written("two.three").as_deref(), Some("0.50"));
        assert_eq!(place("two.three"), Some((2, 14)));
        assert_eq!(place("five[1].six"), Some((5, 10)));
        assert_eq!(place("five[2]"), None);
    }

    /// Lines that look plain and are not, and those that are.
    const PIECES: [&str; 34] = [
        "date: 2026-05-14\n",
        "# a\n",
        "\n",
        "a: \"x\n",
        "a: {b: 1,\n",
        "{a: 1}\n",
        "...\n",
        "---\n",
        "a: |\n",
        "  x\n",
        "events:\n",
        "events: \n",
        "evénts:\n",
        "- {at: \"06:02\", lines: in}\n",
        "- {at: 06:02, lines: in}\n",
        "- {\"at\": \"ö: {#\", m: {\"surface\": \"54 °F\", b: 2 ft}}\n",
        "- {at: x, at: y}\n",
        "- {at: null}\n",
        "- {at: ~}\n",
        "- {at: [a]}\n",
        "- {at: \"a\\\"b\"}\n",
        "- {a: 1} # x\n",
        "- {a: 1}\r\n",
        "- {a: b }\n",
        "- {a: &x b}\n",
        "- {a: {b: {c: d}}}\n",
        "- {}\n",
        "- {\"\": a}\n",
        "- {depth_of(62 °F): -3 ft}\n",
        "- {a: \"\"}\n",
        "-  {a: b}\n",
        " - {a: b}\n",
        "- {a: b}",
        "- {a: \"a\\\"b\\\\ö\", b: \"\\\\\", c: \"\\\"\"}\n",
    ];

    proptest::proptest! {
        #[test]
        fn plain_lines_are_what_the_parser_makes_of_them(
            head in proptest::collection::vec(0..PIECES.len(), 0..4), tail in proptest::collection::vec(11..PIECES.len(), 0..5), key: bool,
        ) {
            let text = |pieces: &[usize]| pieces.iter().map(|piece| PIECES[*piece]).collect::<String>();
            let text = format!("{}{}{}", text(&head), if key { "events:\n" } else { "" }, text(&tail));
            if let Some(entries) = plain_lines(&text, USUAL) {
                proptest::prop_assert_eq!(Ok(entries), parse_events(&text, USUAL), "{}", text);
            }
        }
    }

    #[test]
    fn the_lines_of_a_log_are_plain() {
        let log = "# a day\ndate: 2026-05-14\n\nevents:\n# morning\n- {at: \"06:02\", rod: port, depth: 20 ft}\n\
                   - {at: \"06:03\", measured: {\"surface\": \"54.1 °F\", wind: 8 mph}}\n# cut short: - {at\n- {\"at\": \"07:00\", note: \"a: \\\"b\"}\n";
        assert!(plain_lines(log, USUAL).is_some());
        assert_eq!(plain_lines(log, USUAL), parse_events(log, USUAL).ok());
        let crlf = log.replace('\n', "\r\n");
        assert_eq!(plain_lines(&crlf, USUAL).unwrap_or_default(), parse_events(&crlf, USUAL).unwrap_or_default());
    }

    #[test]
    fn serde_reads_texts_and_knows_its_keys() {
        #[derive(serde::Deserialize)]
        struct Shape {
            one: Option<Text>,
            two: Option<Vec<Text>>,
        }
        assert_eq!(keys_of::<Shape>(), ["one", "two"]);
        let document = |text: &str| Document::parse("f", text.to_owned());
        let shape = document("one: 0.50\ntwo: [yes, 1e3]\n").and_then(|document| document.typed::<Shape>());
        let shape = shape.map(|shape| (shape.one, shape.two));
        let text = |text: &str| Text(text.to_owned());
        assert_eq!(shape, Ok((Some(text("0.50")), Some(vec![text("yes"), text("1e3")]))));
        let wrong = document("one: [a]\n").and_then(|document| document.typed::<Shape>().map(|_| ()));
        assert_eq!(wrong.map_err(|fault| fault.to_string()), Err("f:1:6: `one` is a list, not one value".to_owned()));
        let unknown = document("on: 1\n").and_then(|document| document.known_keys::<Shape>(None));
        let told = unknown.map_err(|fault| fault.to_string());
        assert_eq!(told, Err("f:1:1: this file has no `on`\n  help: did you mean `one`?".to_owned()));
    }
}
