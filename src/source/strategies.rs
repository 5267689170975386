//! Strategy files: one, standard input, or those of a folder; and what they include.

use std::fs::File;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use super::Fault;
use super::files::{STANDARD_INPUT, bounded, bytes, unreadable};
use crate::check::{IncludeError, Includes};

/// How a strategy file's name ends.
pub const ENDING: &str = "strategy";
/// Deepest folder that is looked into.
const MOST_FOLDERS_DEEP: usize = 32;

/// A strategy file's bytes, and where its includes are found.
#[derive(Debug)]
pub struct StrategyFile {
    /// The name it is shown under: the path as it was given.
    pub name: String,
    /// Its bytes, at most 1 MiB; whether they are text the checker says.
    pub bytes: Vec<u8>,
    /// Where its includes are found: its own folder, or the working directory for standard input.
    pub includes: FolderIncludes,
}

impl StrategyFile {
    /// Reads a strategy, or standard input where the path is `-`.
    ///
    /// Errors: there is no such file; it is a folder; it can't be read; it has more than 1 MiB.
    pub fn read(path: &str) -> Result<Self, Fault> {
        let bytes = bytes(path)?;
        let folder =
            if path == STANDARD_INPUT { Path::new("") } else { Path::new(path).parent().unwrap_or(Path::new("")) };
        let includes = FolderIncludes::new(folder).map_err(|error| unreadable(path, &error))?;
        Ok(Self { name: path.to_owned(), bytes, includes })
    }
}

/// The strategies that a path names: `-` and a file name themselves; a folder names the `.strategy` files in it and in
/// the folders below it, sorted by path. Hidden entries are left out, and folders that are links, so that no loop is
/// walked. Strategies made to be included are among them; the checker tells them by their missing header.
///
/// Errors: there is nothing at the path; it is a folder with no strategy in it.
pub fn find(path: &str) -> Result<Vec<String>, Fault> {
    find_with(path, &[ENDING], "strategies", "strategy files")
}

/// The files that a path names, likewise: those of a folder that have one of some endings. `what` and `files` say what
/// they are.
pub fn find_with(path: &str, endings: &[&str], what: &str, files: &str) -> Result<Vec<String>, Fault> {
    if path == STANDARD_INPUT {
        return Ok(vec![path.to_owned()]);
    }
    let about = std::fs::metadata(path).map_err(|error| unreadable(path, &error))?;
    if !about.is_dir() {
        return Ok(vec![path.to_owned()]);
    }
    let mut found = Vec::new();
    walk(Path::new(path), 0, endings, &mut found)?;
    if found.is_empty() {
        let endings: Vec<String> = endings.iter().map(|ending| format!("`.{ending}`")).collect();
        return Err(Fault::new(format!("the folder `{path}` has no {what}"))
            .help(format!("the names of {files} end in {}", endings.join(" or ")))
            .within(path));
    }
    found.sort();
    Ok(found.into_iter().map(|path| path.to_string_lossy().into_owned()).collect())
}

fn walk(folder: &Path, depth: usize, endings: &[&str], found: &mut Vec<PathBuf>) -> Result<(), Fault> {
    let cannot = |error: &std::io::Error| unreadable(&folder.to_string_lossy(), error);
    for entry in std::fs::read_dir(folder).map_err(|error| cannot(&error))? {
        let entry = entry.map_err(|error| cannot(&error))?;
        if entry.file_name().to_string_lossy().starts_with('.') {
            continue;
        }
        let path = entry.path();
        let kind = entry.file_type().map_err(|error| cannot(&error))?;
        if kind.is_dir() {
            if depth < MOST_FOLDERS_DEEP {
                walk(&path, depth + 1, endings, found)?;
            }
        } else if path.extension().is_some_and(|of| endings.iter().any(|ending| of == *ending)) && path.is_file() {
            found.push(path);
        }
    }
    Ok(())
}

/// Includes found in a folder and below it. A link that leads out of the folder is refused.
#[derive(Clone, Debug)]
pub struct FolderIncludes {
    /// The folder without links.
    root: PathBuf,
    /// The folder as it was named, for messages.
    shown: PathBuf,
}

impl FolderIncludes {
    /// Includes of files in a folder; the empty path is the working directory.
    pub fn new(folder: &Path) -> std::io::Result<Self> {
        let here = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
        Ok(Self { root: here.canonicalize()?, shown: folder.to_owned() })
    }

    /// The file of a path in the folder, links followed, where it is a file and lies inside.
    fn inside(&self, path: &str) -> Result<PathBuf, IncludeError> {
        let real = self.root.join(path).canonicalize().map_err(|error| why(&error))?;
        if !real.starts_with(&self.root) {
            return Err(IncludeError::Outside);
        }
        let about = real.metadata().map_err(|error| why(&error))?;
        if about.is_file() { Ok(real) } else { Err(IncludeError::Unreadable("it is no file".to_owned())) }
    }
}

impl Includes for FolderIncludes {
    fn read(&self, path: &str) -> Result<Vec<u8>, IncludeError> {
        // One byte past the bound is read at most, and the loader refuses what is past it.
        File::open(self.inside(path)?).and_then(bounded).map_err(|error| why(&error))
    }

    fn shown(&self, path: &str) -> String {
        self.shown.join(path).to_string_lossy().into_owned()
    }
}

fn why(error: &std::io::Error) -> IncludeError {
    match error.kind() {
        ErrorKind::NotFound | ErrorKind::NotADirectory => IncludeError::Missing,
        ErrorKind::PermissionDenied => IncludeError::Unreadable("it may not be read".to_owned()),
        _ => IncludeError::Unreadable(error.to_string()),
    }
}
