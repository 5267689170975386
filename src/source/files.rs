//! Files and standard input, read whole and never past a bound.

use std::fs::File;
use std::io::{ErrorKind, Read, Write};
use std::path::Path;

use super::Fault;
use crate::syntax::MOST_BYTES;

/// How standard input is named on a command line, and shown.
pub const STANDARD_INPUT: &str = "-";

/// The bytes of a file, or of standard input where the path is `-`; at most 1 MiB.
///
/// Errors: there is no such file, it is a folder, it can't be read, it is larger.
pub fn bytes(path: &str) -> Result<Vec<u8>, Fault> {
    bytes_within(path, MOST_BYTES)
}

/// The bytes of a file, or of standard input where the path is `-`; at most so many.
///
/// Errors: there is no such file, it is a folder, it can't be read, it is larger.
pub fn bytes_within(path: &str, most: usize) -> Result<Vec<u8>, Fault> {
    let read = if path == STANDARD_INPUT {
        read_within(std::io::stdin().lock(), most)
    } else {
        open(Path::new(path)).and_then(|file| read_within(file, most))
    };
    let bytes = read.map_err(|error| unreadable(path, &error))?;
    if bytes.len() > most {
        return Err(Fault::new(format!("{} has more than {most} bytes ({} MiB)", shown(path), most >> 20))
            .help("take something out, or make two files of it")
            .within(path));
    }
    Ok(bytes)
}

/// The text of a file of data, or of standard input; at most 1 MiB of UTF-8. A byte order mark is left out.
pub fn text(path: &str) -> Result<String, Fault> {
    text_of(path, bytes(path)?)
}

/// Bytes as text, a byte order mark left out.
///
/// Errors: they are not UTF-8.
pub fn text_of(path: &str, bytes: Vec<u8>) -> Result<String, Fault> {
    let text = String::from_utf8(bytes).map_err(|error| {
        let good = error.utf8_error().valid_up_to();
        let line = error.as_bytes().iter().take(good).filter(|byte| **byte == b'\n').count() + 1;
        Fault {
            line: u32::try_from(line).ok(),
            ..Fault::new("the file is not UTF-8 text").help("save it as UTF-8; most editors call it so").within(path)
        }
    })?;
    Ok(text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text))
}

/// Whether a path names a file that is there and has anything in it.
pub fn is_there(path: &str) -> bool {
    Path::new(path).metadata().is_ok_and(|about| about.is_file() && about.len() > 0)
}

/// Writes a file anew: beside the old one, and then in its place, so that nobody finds half of it.
///
/// Errors: it can't be written; what was there before is left as it was.
pub fn write(path: &str, text: &str) -> Result<(), Fault> {
    // A link keeps its place; what it leads to is replaced.
    let target = std::fs::canonicalize(path).unwrap_or_else(|_| path.into());
    let written = match std::fs::metadata(&target) {
        Ok(about) if about.is_dir() => Err(ErrorKind::IsADirectory.into()),
        // A pipe or a device is written to as it is.
        Ok(about) if !about.is_file() => std::fs::write(&target, text),
        _ => replace(&target, text),
    };
    written.map_err(|error| {
        let fault = match error.kind() {
            ErrorKind::NotFound => Fault::new(format!("{} can't be written: there is no such folder", shown(path))),
            ErrorKind::IsADirectory => Fault::new(format!("{} is a folder, not a file", shown(path))),
            ErrorKind::PermissionDenied => Fault::new(format!("{} may not be written", shown(path))),
            _ => Fault::new(format!("{} can't be written: {error}", shown(path))),
        };
        fault.within(path)
    })
}

fn replace(path: &Path, text: &str) -> std::io::Result<()> {
    let mut beside = path.as_os_str().to_owned();
    beside.push(format!(".{}.new", std::process::id()));
    let write = || {
        let mut new = File::create(&beside)?;
        new.write_all(text.as_bytes())?;
        new.sync_all()?;
        if let Ok(old) = std::fs::metadata(path) {
            std::fs::set_permissions(&beside, old.permissions())?;
        }
        std::fs::rename(&beside, path)
    };
    write().inspect_err(|_| {
        let _ = std::fs::remove_file(&beside);
    })
}

/// Writes a file that is not there yet.
///
/// Errors: it is there already, or it can't be written.
pub fn write_new(path: &str, text: &str) -> Result<(), Fault> {
    let mut file = File::create_new(path).map_err(|error| match error.kind() {
        ErrorKind::AlreadyExists => {
            Fault::new("this file is there already, and nothing is written over it").help("name another").within(path)
        }
        _ => Fault::new(format!("this can't be written: {error}")).within(path),
    })?;
    file.write_all(text.as_bytes()).map_err(|error| Fault::new(format!("this can't be written: {error}")).within(path))
}

/// How a path is shown in messages.
pub fn shown(path: &str) -> String {
    if path == STANDARD_INPUT { "standard input".to_owned() } else { format!("`{path}`") }
}

fn open(path: &Path) -> std::io::Result<File> {
    let file = File::open(path)?;
    if file.metadata()?.is_dir() {
        return Err(ErrorKind::IsADirectory.into());
    }
    Ok(file)
}

/// Reads one byte more than may be, so that the caller can tell what is too large, and no more than that.
pub(super) fn bounded(from: impl Read) -> std::io::Result<Vec<u8>> {
    read_within(from, MOST_BYTES)
}

fn read_within(from: impl Read, most: usize) -> std::io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    from.take(most as u64 + 1).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// The fault about a path that could not be read.
pub(super) fn unreadable(path: &str, error: &std::io::Error) -> Fault {
    let fault = match error.kind() {
        ErrorKind::NotFound => Fault::new(format!("there is no file {}", shown(path))),
        ErrorKind::IsADirectory => Fault::new(format!("{} is a folder, not a file", shown(path))),
        ErrorKind::PermissionDenied => Fault::new(format!("{} may not be read", shown(path))),
        _ => Fault::new(format!("{} can't be read: {error}", shown(path))),
    };
    fault.within(path)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_more_is_read_than_the_bound() {
        let read = bounded(std::io::repeat(b'x')).map(|bytes| bytes.len());
        assert_eq!(read.ok(), Some(MOST_BYTES + 1));
    }
}
