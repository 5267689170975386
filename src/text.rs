//! Source files, spans, and the lines and columns that people read.
//!
//! A [`Span`] is a stretch of bytes in one file. [`Sources`] turns it into lines and columns, which count
//! characters from 1, as editors do. Lines end in LF, CRLF or CR.

use std::sync::Arc;

/// Which file of a [`Sources`] a span lies in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct FileId(pub u32);

/// A stretch of one file, in bytes, end exclusive.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Span {
    /// The file it lies in.
    pub file: FileId,
    /// The first byte.
    pub start: u32,
    /// The byte after the last.
    pub end: u32,
}

impl Span {
    /// A span of a file.
    pub fn new(file: FileId, start: usize, end: usize) -> Self {
        let clip = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        Self { file, start: clip(start), end: clip(end.max(start)) }
    }

    /// From the beginning of this span to the end of the other.
    pub fn to(self, other: Span) -> Span {
        Span { end: other.end.max(self.end), ..self }
    }

    /// The byte range, for slicing the file's text.
    pub fn range(self) -> std::ops::Range<usize> {
        self.start as usize..self.end as usize
    }
}

/// A place as people read it: lines and columns count from 1, columns in characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Line of the first character.
    pub line: u32,
    /// Column of the first character.
    pub column: u32,
    /// Line of the end.
    pub end_line: u32,
    /// Column after the last character.
    pub end_column: u32,
}

/// One file's name and text.
#[derive(Clone, Debug)]
pub struct SourceFile {
    name: Arc<str>,
    text: Arc<str>,
    line_starts: Vec<u32>,
}

impl SourceFile {
    /// A file by the name it is shown under.
    pub fn new(name: impl Into<Arc<str>>, text: impl Into<Arc<str>>) -> Self {
        let text = text.into();
        let line_starts = line_starts(&text);
        Self { name: name.into(), text, line_starts }
    }

    /// The name shown in findings and reasons.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The whole text.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The line that a byte lies in, from 1.
    pub fn line_of(&self, byte: u32) -> u32 {
        let after = self.line_starts.partition_point(|&start| start <= byte);
        u32::try_from(after.max(1)).unwrap_or(u32::MAX)
    }

    fn column_of(&self, byte: u32) -> u32 {
        let line = self.line_of(byte) as usize - 1;
        let start = self.line_starts.get(line).copied().unwrap_or(0) as usize;
        let end = floor_char(&self.text, byte as usize);
        let chars = self.text.get(start..end.max(start)).map_or(0, |s| s.chars().filter(|c| *c != '\u{feff}').count());
        u32::try_from(chars + 1).unwrap_or(u32::MAX)
    }

    /// Lines and columns of a span in this file.
    pub fn place(&self, span: Span) -> Place {
        Place {
            line: self.line_of(span.start),
            column: self.column_of(span.start),
            end_line: self.line_of(span.end),
            end_column: self.column_of(span.end),
        }
    }
}

/// The files of one strategy: the first, and those it includes.
#[derive(Clone, Debug, Default)]
pub struct Sources {
    files: Vec<SourceFile>,
}

impl Sources {
    /// Takes a file in and gives the name by which spans refer to it.
    pub fn add(&mut self, file: SourceFile) -> FileId {
        let id = FileId(u32::try_from(self.files.len()).unwrap_or(u32::MAX));
        self.files.push(file);
        id
    }

    /// The file of that name, which only [`Sources::add`] gives out.
    pub fn file(&self, id: FileId) -> &SourceFile {
        &self.files[id.0 as usize]
    }

    /// All files, the first one first.
    pub fn files(&self) -> &[SourceFile] {
        &self.files
    }

    /// Lines and columns of a span.
    pub fn place(&self, span: Span) -> Place {
        self.file(span.file).place(span)
    }

    /// `FILE:LINE` of the beginning of a span.
    pub fn file_and_line(&self, span: Span) -> String {
        let file = self.file(span.file);
        format!("{}:{}", file.name(), file.line_of(span.start))
    }

    /// The text of a span.
    pub fn slice(&self, span: Span) -> &str {
        self.file(span.file).text().get(span.range()).unwrap_or("")
    }
}

fn line_starts(text: &str) -> Vec<u32> {
    let bytes = text.as_bytes();
    let mut starts = vec![0];
    for (at, &byte) in bytes.iter().enumerate() {
        let ends_line = byte == b'\n' || (byte == b'\r' && bytes.get(at + 1) != Some(&b'\n'));
        if ends_line {
            starts.push(u32::try_from(at + 1).unwrap_or(u32::MAX));
        }
    }
    starts
}

fn floor_char(text: &str, byte: usize) -> usize {
    let mut at = byte.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_end_in_lf_crlf_or_cr_and_columns_count_characters() {
        let file = SourceFile::new("a", "é1\r\nb2\rc3\nd");
        let at = |byte: usize| {
            let place = file.place(Span::new(FileId(0), byte, byte));
            (place.line, place.column)
        };
        assert_eq!(at(2), (1, 2), "é is one column");
        assert_eq!(at(5), (2, 1));
        assert_eq!(at(8), (3, 1));
        assert_eq!(at(11), (4, 1));
    }
}
