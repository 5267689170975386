//! The files of a strategy: the first, and those it includes, each once, in the places of their includes.

use crate::findings::{Code, Finding};
use crate::syntax::tree::{Include, Statement};
use crate::syntax::{self, MOST_BYTES, MOST_RULES};
use crate::text::{SourceFile, Sources, Span};
use crate::vocabulary::nearest::nearest;

/// Why an included file could not be had.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum IncludeError {
    /// There is no such file.
    Missing,
    /// It leads out of the first file's folder, by a link for instance.
    Outside,
    /// It could not be read.
    Unreadable(String),
}

/// Where included files are found. Paths are relative to the first file's folder, with `/` and without `.` and `..`.
pub trait Includes {
    /// The bytes of a file.
    fn read(&self, path: &str) -> Result<Vec<u8>, IncludeError>;

    /// The name to show for a file.
    fn shown(&self, path: &str) -> String {
        path.to_owned()
    }
}

/// Nothing can be included.
pub struct NoIncludes;

impl Includes for NoIncludes {
    fn read(&self, _: &str) -> Result<Vec<u8>, IncludeError> {
        Err(IncludeError::Missing)
    }
}

/// Deepest chain of includes.
const MOST_INCLUDES_DEEP: usize = 32;

pub(super) struct Loaded {
    pub sources: Sources,
    pub statements: Vec<Statement>,
    pub findings: Vec<Finding>,
    /// The first file is no text, or past a limit: nothing can be said of it.
    pub unreadable: bool,
    /// An include could not be had, so that names may be missing for that reason alone.
    pub include_failed: bool,
}

impl Loaded {
    /// Puts another value in the place of a let's, written `NAME = VALUE`.
    pub fn change_let(&mut self, changed: &str) {
        let source = SourceFile::new("--let", format!("let {}", changed.trim()));
        let id = self.sources.add(source.clone());
        let parsed = syntax::parse(id, &source);
        self.findings.extend(parsed.findings);
        let whole = Span::new(id, 0, source.text().len());
        let mut statements = parsed.file.statements.into_iter();
        let (Some(Statement::Let(changed)), None) = (statements.next(), statements.next()) else {
            if self.findings.iter().all(|finding| finding.span.file != id) {
                let finding = Finding::new(Code::Syntax, whole, "this is no let with its value");
                self.findings.push(finding.help("write for instance `cool_top = depth_of(60 °F)`"));
            }
            return;
        };
        let is_it = |statement: &&mut Statement| match statement {
            Statement::Let(there) => there.name.is(&changed.name.text),
            _ => false,
        };
        match self.statements.iter_mut().find(is_it) {
            Some(slot) => *slot = Statement::Let(changed),
            None => {
                let names = self.statements.iter().filter_map(|statement| match statement {
                    Statement::Let(there) => Some(there.name.text.as_str()),
                    _ => None,
                });
                let near = nearest(&changed.name.text, names).map(|near| format!("did you mean `{near}`?"));
                let message = format!("the strategy has no let `{}`", changed.name.text);
                self.findings.push(Finding::new(Code::UnknownName, changed.name.span, message).maybe_help(near));
            }
        }
    }
}

pub(super) fn load(name: &str, bytes: Vec<u8>, includes: &dyn Includes) -> Loaded {
    let mut loader = Loader {
        includes,
        chain: Vec::new(),
        seen: Vec::new(),
        bytes: 0,
        rules: 0,
        loaded: Loaded {
            sources: Sources::default(),
            statements: Vec::new(),
            findings: Vec::new(),
            unreadable: false,
            include_failed: false,
        },
    };
    // The first file may have any name; its own folder is the root that paths are taken from.
    let own = name.rsplit(['/', '\\']).next().unwrap_or(name).to_owned();
    loader.seen.push(own.clone());
    loader.file(name, &own, bytes, None);
    loader.loaded
}

struct Loader<'i> {
    includes: &'i dyn Includes,
    /// Paths of the files being read, outermost first.
    chain: Vec<String>,
    /// Paths of all files read so far.
    seen: Vec<String>,
    bytes: usize,
    rules: usize,
    loaded: Loaded,
}

impl Loader<'_> {
    fn file(&mut self, shown: &str, path: &str, bytes: Vec<u8>, named_at: Option<Span>) {
        self.bytes += bytes.len();
        let (text, bad_byte) = match syntax::text_of(bytes) {
            Ok(text) => (text, None),
            Err((text, at)) => (text, Some(at)),
        };
        let source = SourceFile::new(shown, text);
        let id = self.loaded.sources.add(source.clone());
        if let Some(at) = bad_byte {
            self.loaded.findings.push(syntax::not_text(id, at));
            self.failed(named_at);
            return;
        }
        if self.bytes > MOST_BYTES && named_at.is_some() {
            let message = format!("with its includes the strategy has more than {MOST_BYTES} bytes (1 MiB)");
            self.refuse(named_at, Code::TooLarge, message);
            return;
        }
        let parsed = syntax::parse(id, &source);
        let past_a_limit = parsed.findings.iter().any(|finding| finding.code == Code::TooLarge);
        self.loaded.findings.extend(parsed.findings);
        if past_a_limit {
            self.failed(named_at);
            return;
        }
        self.chain.push(path.to_owned());
        for statement in parsed.file.statements {
            self.statement(statement, named_at.is_some());
        }
        self.chain.pop();
    }

    fn failed(&mut self, named_at: Option<Span>) {
        match named_at {
            None => self.loaded.unreadable = true,
            Some(_) => self.loaded.include_failed = true,
        }
    }

    fn statement(&mut self, statement: Statement, included: bool) {
        match statement {
            Statement::Include(include) => self.include(&include),
            Statement::Strategy(header) if included => {
                let message = "an included file has no `strategy` of its own";
                self.loaded.findings.push(Finding::new(Code::Include, header.keyword.span, message));
            }
            Statement::Trial(trial) if included => {
                let finding = Finding::new(Code::Include, trial.keyword.span, "an included file has no trials")
                    .help("put the trial into a strategy that includes this file");
                self.loaded.findings.push(finding);
            }
            Statement::Rule(rule) => {
                self.rules += 1;
                if self.rules == MOST_RULES + 1 {
                    let message = format!("with its includes the strategy has more than {MOST_RULES} rules");
                    self.loaded.findings.push(Finding::new(Code::TooLarge, rule.keyword.span, message));
                    self.loaded.unreadable = true;
                }
                self.loaded.statements.push(Statement::Rule(rule));
            }
            Statement::Broken(broken) if broken.keyword.is("include") => {
                self.loaded.include_failed = true;
                self.loaded.statements.push(Statement::Broken(broken));
            }
            other => self.loaded.statements.push(other),
        }
    }

    fn include(&mut self, include: &Include) {
        let span = include.path.span;
        let written = &include.path.text;
        let from = self.chain.last().cloned().unwrap_or_default();
        let Some(path) = resolve(&from, written) else {
            let message = format!("`{written}` lies outside the strategy's folder");
            self.refuse(Some(span), Code::Include, message);
            return;
        };
        if self.chain.contains(&path) {
            let message = format!("`{written}` includes itself by way of this file");
            self.refuse(Some(span), Code::Include, message);
            return;
        }
        if self.seen.contains(&path) {
            return;
        }
        if self.chain.len() > MOST_INCLUDES_DEEP {
            let message = format!("includes nest deeper than {MOST_INCLUDES_DEEP} files here");
            self.refuse(Some(span), Code::Include, message);
            return;
        }
        self.seen.push(path.clone());
        match self.includes.read(&path) {
            Ok(bytes) => {
                let shown = self.includes.shown(&path);
                self.file(&shown, &path, bytes, Some(span));
            }
            Err(error) => {
                let message = match error {
                    IncludeError::Missing => format!("there is no file `{path}` to include"),
                    IncludeError::Outside => format!("`{written}` lies outside the strategy's folder"),
                    IncludeError::Unreadable(why) => format!("`{path}` can't be read: {why}"),
                };
                self.refuse(Some(span), Code::Include, message);
            }
        }
    }

    fn refuse(&mut self, at: Option<Span>, code: Code, message: String) {
        self.loaded.include_failed = true;
        let help = "a path is taken from the file that names it, and stays inside the first file's folder";
        let finding = Finding::new(code, at.unwrap_or_default(), message);
        self.loaded.findings.push(if code == Code::Include { finding.help(help) } else { finding });
    }
}

/// A path named in the file at `from`, relative to the root folder; none where it leaves that folder.
fn resolve(from: &str, written: &str) -> Option<String> {
    if written.is_empty() || written.starts_with('/') || written.contains(['\\', ':', '\0']) {
        return None;
    }
    let mut parts: Vec<&str> = from.split('/').collect();
    parts.pop();
    for part in written.split('/') {
        match part {
            "" | "." => {}
            ".." => {
                parts.pop()?;
            }
            part => parts.push(part),
        }
    }
    (!parts.is_empty()).then(|| parts.join("/"))
}

#[cfg(test)]
mod tests {
    use super::resolve;

    #[test]
    fn paths_stay_inside_the_root() {
        assert_eq!(resolve("a.strategy", "common/care.strategy").as_deref(), Some("common/care.strategy"));
        assert_eq!(resolve("common/care.strategy", "../b.strategy").as_deref(), Some("b.strategy"));
        assert_eq!(resolve("a.strategy", "../b.strategy"), None);
        assert_eq!(resolve("a.strategy", "/etc/passwd"), None);
        assert_eq!(resolve("a.strategy", "common/../../b.strategy"), None);
    }
}
