//! The served folder: which strategies there are, which text of each is in force, and reading it anew.
//!
//! The shelf is swapped as a whole, so that a request sees one state of the folder from beginning to end, and never
//! waits for a reload. Where a file changed and does not check, what it said before stays in force.

use std::collections::BTreeMap;
use std::path::{Component, Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use arc_swap::ArcSwap;

use super::status::Refusal;
use super::wire::with_help;
use crate::check::{self, Checked, IncludeError, Includes};
use crate::findings::data::FindingData;
use crate::findings::{Finding, Severity};
use crate::program::Program;
use crate::proof;
use crate::source::strategies::{self, FolderIncludes};
use crate::text::{SourceFile, Sources};
use crate::vocabulary::nearest::nearest;

/// How a strategy file's name ends.
pub const ENDING: &str = ".strategy";
/// Most bytes of a strategy's name.
const MOST_NAME_BYTES: usize = 256;
/// How many findings are told of a strategy that does not check, where they are not asked for.
const FIRST: usize = 32;

/// The served folder.
#[derive(Debug)]
pub struct Library {
    folder: PathBuf,
    shelf: ArcSwap<Shelf>,
    /// One reload at a time.
    reloading: Mutex<()>,
}

/// All strategies of the folder at one time, by name.
#[derive(Debug, Default)]
pub struct Shelf {
    strategies: BTreeMap<String, Arc<Entry>>,
}

/// How a strategy stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// The file checks.
    InForce,
    /// The file does not check; an older text is in force.
    OldInForce,
    /// The file never checked.
    Broken,
}

/// One strategy.
#[derive(Debug)]
pub struct Entry {
    /// Its name.
    pub name: String,
    /// What is in force; none where it is broken.
    pub program: Option<Arc<Program>>,
    /// The files as they are now, in force or not.
    pub sources: Arc<Sources>,
    /// What checking them found.
    pub findings: Vec<Finding>,
}

impl Entry {
    /// How it stands.
    pub fn state(&self) -> State {
        match (&self.program, errors(&self.findings)) {
            (None, _) => State::Broken,
            (Some(_), 0) => State::InForce,
            (Some(_), _) => State::OldInForce,
        }
    }

    /// The first errors as data.
    fn first_errors(&self) -> Vec<FindingData> {
        first_errors(&self.findings, &self.sources)
    }
}

/// How many of some findings are errors.
pub fn errors(findings: &[Finding]) -> usize {
    findings.iter().filter(|finding| finding.severity() == Severity::Error).count()
}

/// The first of some findings that are errors, as data.
pub fn first_errors(findings: &[Finding], sources: &Sources) -> Vec<FindingData> {
    let errors = findings.iter().filter(|finding| finding.severity() == Severity::Error);
    errors.take(FIRST).map(|finding| FindingData::of(finding, sources)).collect()
}

impl Shelf {
    /// The strategies after a name, by name; all of them after the empty one.
    pub fn after(&self, name: &str) -> impl Iterator<Item = &Arc<Entry>> {
        let from = (std::ops::Bound::Excluded(name.to_owned()), std::ops::Bound::Unbounded);
        self.strategies.range(from).map(|(_, entry)| entry)
    }

    /// A strategy by name; `field` is where the name stands in the request.
    pub fn get(&self, field: &str, name: &str) -> Result<&Arc<Entry>, Refusal> {
        self.strategies.get(name).ok_or_else(|| Refusal::NoSuchStrategy {
            field: field.to_owned(),
            name: name.to_owned(),
            nearest: self.nearest(name).map(str::to_owned),
        })
    }

    /// The name that was probably meant: the same without its ending, or one that is near.
    fn nearest<'s>(&'s self, name: &'s str) -> Option<&'s str> {
        let without = name.strip_suffix(ENDING).filter(|name| self.strategies.contains_key(*name));
        without.or_else(|| nearest(name, self.strategies.keys().map(String::as_str)))
    }

    /// What is in force under a name.
    pub fn program(&self, field: &str, name: &str) -> Result<Arc<Program>, Refusal> {
        let entry = self.get(field, name)?;
        entry.program.clone().ok_or_else(|| Refusal::Broken {
            name: name.to_owned(),
            count: errors(&entry.findings),
            first: entry.first_errors(),
        })
    }
}

impl Library {
    /// Opens a folder and reads it.
    ///
    /// Errors: it can't be read, or has no strategies.
    pub fn open(folder: &Path) -> Result<Self, String> {
        let folder = folder.canonicalize().map_err(|error| error.to_string())?;
        let library = Self { folder, shelf: ArcSwap::default(), reloading: Mutex::new(()) };
        library.reload()?;
        Ok(library)
    }

    /// The folder, links followed.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The strategies as they are now.
    pub fn shelf(&self) -> Arc<Shelf> {
        self.shelf.load_full()
    }

    /// Reads the folder anew. What does not check leaves what was in force before in its place.
    ///
    /// Errors: the folder can't be read, or has no strategies at all; the shelf then stays as it was.
    pub fn reload(&self) -> Result<(), String> {
        // A reload that panicked left the shelf as it was.
        let _one_at_a_time = self.reloading.lock().unwrap_or_else(PoisonError::into_inner);
        let old = self.shelf();
        let mut strategies = BTreeMap::new();
        let folder = self.folder.to_string_lossy();
        for file in strategies::find(&folder).map_err(|fault| with_help(&fault.message, fault.help.as_deref()))? {
            let Some(name) = self.name_of(&file) else { continue };
            let before = old.strategies.get(&name);
            if let Some(entry) = self.read(&name, &file, before) {
                tell(before, &entry);
                strategies.insert(name, entry);
            }
        }
        for name in old.strategies.keys().filter(|name| !strategies.contains_key(*name)) {
            tracing::info!(strategy = name, "gone from the folder, and no longer served");
        }
        self.shelf.store(Arc::new(Shelf { strategies }));
        Ok(())
    }

    /// The name of a file of the folder: its path in it without the ending, with `/` between folders.
    fn name_of(&self, file: &str) -> Option<String> {
        let path = Path::new(file).strip_prefix(&self.folder).ok()?;
        let parts: Option<Vec<&str>> = path.components().map(|part| part.as_os_str().to_str()).collect();
        let name = parts?.join("/");
        name.strip_suffix(ENDING).map(str::to_owned)
    }

    /// The entry of a file; none where it is made to be included.
    fn read(&self, name: &str, file: &str, before: Option<&Arc<Entry>>) -> Option<Arc<Entry>> {
        if let Some(before) = before.filter(|before| self.is_unchanged(before)) {
            return Some(before.clone());
        }
        let bytes = match read_bounded(Path::new(file)) {
            Ok(bytes) => bytes,
            Err(error) => {
                tracing::warn!(strategy = name, %error, "the file can't be read; what was in force stays");
                return before.cloned();
            }
        };
        let old_program = before.and_then(|entry| entry.program.clone());
        // A strategy that lost its header is one that does not check; a file that never had one is for including.
        if old_program.is_none() && !check::has_header(&String::from_utf8_lossy(&bytes)) {
            return None;
        }
        let Checked { sources, program, findings, .. } = self.check(name, bytes, false).ok()?;
        if let Some(before) =
            before.filter(|before| before.findings == findings && same_files(&before.sources, &sources))
        {
            return Some(before.clone());
        }
        Some(Arc::new(Entry { name: name.to_owned(), program: program.or(old_program), sources, findings }))
    }

    /// Whether a strategy that checks is word for word what it was, and what it includes too.
    fn is_unchanged(&self, entry: &Entry) -> bool {
        let same = |file: &SourceFile| {
            read_bounded(&self.folder.join(file.name())).is_ok_and(|bytes| bytes == file.text().as_bytes())
        };
        entry.state() == State::InForce && entry.sources.files().iter().all(same)
    }

    /// Checks a source under a name of the folder, from which its includes are found. Its findings are those that the
    /// command line prints. A source that was `sent` reads nothing of the folder but strategies.
    ///
    /// Errors: the name is none that a strategy could have.
    pub fn check(&self, name: &str, bytes: Vec<u8>, sent: bool) -> Result<Checked, String> {
        let name = well_named(name)?;
        let file = format!("{name}{ENDING}");
        let folder = name.rsplit_once('/').map_or("", |(folder, _)| folder);
        let includes =
            Shelved { files: FolderIncludes::new(&self.folder.join(folder)).ok(), folder, only_strategies: sent };
        let mut checked = check::check_bytes(&file, bytes, &includes);
        checked.findings = proof::all_findings(&checked);
        Ok(checked)
    }
}

/// A name that a strategy of the folder could have.
fn well_named(name: &str) -> Result<&str, String> {
    let plain =
        |part: Component<'_>| matches!(part, Component::Normal(part) if !part.to_string_lossy().starts_with('.'));
    let fits = !name.is_empty()
        && name.len() <= MOST_NAME_BYTES
        && !name.contains(['\\', '\0', '\n', '\r'])
        && !name.ends_with('/')
        && Path::new(name).components().all(plain);
    if fits {
        return Ok(name);
    }
    Err(format!(
        "this is no name of a strategy; write a path without its ending, as in `ossel/evening`, in at most \
         {MOST_NAME_BYTES} bytes"
    ))
}

/// What a strategy of the folder includes, shown by its path in the folder.
struct Shelved<'n> {
    /// None where the folder is not there.
    files: Option<FolderIncludes>,
    folder: &'n str,
    only_strategies: bool,
}

impl Includes for Shelved<'_> {
    fn read(&self, path: &str) -> Result<Vec<u8>, IncludeError> {
        // What else lies in the folder is nobody's business, and findings would quote it.
        if self.only_strategies && !path.ends_with(ENDING) {
            return Err(IncludeError::Missing);
        }
        self.files.as_ref().map_or(Err(IncludeError::Missing), |files| files.read(path))
    }

    fn shown(&self, path: &str) -> String {
        if self.folder.is_empty() { path.to_owned() } else { format!("{}/{path}", self.folder) }
    }
}

fn read_bounded(file: &Path) -> std::io::Result<Vec<u8>> {
    use std::io::Read;
    let mut bytes = Vec::new();
    // One byte past the bound, so that the checker can say that it is too large.
    std::fs::File::open(file)?.take(crate::syntax::MOST_BYTES as u64 + 1).read_to_end(&mut bytes)?;
    Ok(bytes)
}

fn same_files(a: &Sources, b: &Sources) -> bool {
    let same = |(a, b): (&SourceFile, &SourceFile)| a.name() == b.name() && a.text() == b.text();
    a.files().len() == b.files().len() && a.files().iter().zip(b.files()).all(same)
}

/// One line of the log for what became of a strategy, where anything did.
fn tell(before: Option<&Arc<Entry>>, now: &Arc<Entry>) {
    if before.is_some_and(|before| Arc::ptr_eq(before, now)) {
        return;
    }
    let strategy = now.name.as_str();
    let errors = errors(&now.findings);
    let first = now.first_errors();
    let first = first.first().map(|finding| format!("{}:{}: {}", finding.file, finding.line, finding.message));
    let first = first.unwrap_or_default();
    match (now.state(), before) {
        (State::InForce, None) => tracing::info!(strategy, "served"),
        (State::InForce, Some(_)) => tracing::info!(strategy, "changed; the new one is in force"),
        (State::OldInForce, _) => {
            tracing::warn!(strategy, errors, first, "changed, and does not check: the old one stays in force");
        }
        (State::Broken, _) => tracing::warn!(strategy, errors, first, "does not check: it gives no advice"),
    }
}

#[cfg(test)]
#[allow(clippy::expect_used, reason = "a test fails by panicking")]
mod tests {
    use std::io::Write;
    use std::sync::PoisonError;

    use super::*;

    /// What was logged.
    #[derive(Clone, Default)]
    struct Log(Arc<Mutex<Vec<u8>>>);

    impl Write for Log {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            self.0.lock().unwrap_or_else(PoisonError::into_inner).write(bytes)
        }

        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    impl Log {
        /// The lines logged while something is done.
        fn of(work: impl FnOnce()) -> String {
            let log = Log::default();
            let writer = log.clone();
            let subscriber = tracing_subscriber::fmt()
                .with_writer(move || writer.clone())
                .with_ansi(false)
                .with_target(false)
                .without_time()
                .finish();
            tracing::subscriber::with_default(subscriber, work);
            let bytes = log.0.lock().unwrap_or_else(PoisonError::into_inner).clone();
            String::from_utf8_lossy(&bytes).into_owned()
        }
    }

    const GOOD: &str = "strategy \"x\"\nrule \"y\" run depth 3 m";

    #[test]
    fn the_log_says_what_became_of_a_changed_file() {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("evening.strategy");
        std::fs::write(&file, GOOD).expect("written");
        let library = Library::open(folder.path()).expect("a library");
        let reload = |text: &str| {
            std::fs::write(&file, text).expect("written");
            Log::of(|| library.reload().expect("read anew"))
        };
        assert_eq!(reload(GOOD), "");
        let changed = " INFO changed; the new one is in force strategy=\"evening\"\n";
        assert_eq!(reload(&GOOD.replace('3', "4")), changed);
        let broken = GOOD.replace("3 m", "3 pints");
        assert_eq!(
            reload(&broken),
            " WARN changed, and does not check: the old one stays in force strategy=\"evening\" errors=1 \
             first=\"evening.strategy:2: `pints` is no unit\"\n"
        );
        assert_eq!(reload(&broken), "", "and says it once");
        assert_eq!(reload(GOOD), changed);
        std::fs::remove_file(&file).expect("removed");
        std::fs::write(folder.path().join("other.strategy"), GOOD).expect("written");
        let log = Log::of(|| library.reload().expect("read anew"));
        assert!(log.contains("gone from the folder") && log.contains("served strategy=\"other\""), "{log}");
    }

    #[test]
    fn names_are_plain_paths() {
        assert!(well_named("evening").is_ok() && well_named("ossel/first light").is_ok());
        for name in ["", "/x", "../x", "a/../b", "./a", ".a", "a/.b", "a/", "a\\b", "a\nb"] {
            assert!(well_named(name).is_err(), "{name}");
        }
    }
}
