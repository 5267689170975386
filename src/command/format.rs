//! `leadsman format`: strategies in their one form, and a day's log in another.

use std::io::Write;
use std::path::Path;

use clap::Args;
use serde::Serialize;

use super::strategies::{count, shown};
use super::{Ending, output};
use crate::day::form::{self, Form};
use crate::day::log::BOUNDS;
use crate::findings::data::FindingData;
use crate::findings::{Finding, terminal};
use crate::source::strategies::find;
use crate::source::{Fault, Faults, files};
use crate::text::{SourceFile, Sources};

/// Put strategies, and the files they include, into their one form; or print a day's log as a table or as YAML.
#[derive(Debug, Args)]
pub struct Format {
    /// Strategy files, folders of them, or - to format standard input to standard output; with --as, a day's log
    #[arg(required = true)]
    files: Vec<String>,
    /// Print the day's log in this form, for a spreadsheet (csv) or an editor (yaml); comments are not kept
    #[arg(long = "as", value_name = "FORM", conflicts_with_all = ["check", "json"])]
    form: Option<LogForm>,
    /// Change nothing; name the files that are not formatted, and fail if there are any
    #[arg(long)]
    check: bool,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
}

/// The forms of a log.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
enum LogForm {
    Csv,
    Yaml,
}

#[derive(Serialize)]
struct Document {
    files: Vec<FileDocument>,
}

#[derive(Serialize)]
struct FileDocument {
    file: String,
    formatted: bool,
    changed: bool,
    findings: Vec<FindingData>,
    #[serde(skip_serializing_if = "Option::is_none")]
    text: Option<String>,
}

impl Format {
    /// Runs the command.
    pub fn run(&self) -> Result<Ending, Faults> {
        if let Some(form) = self.form {
            return self.log(form);
        }
        let mut faults = Faults::default();
        let mut documents = Vec::new();
        for path in &self.files {
            for file in faults.keep(find(path)).unwrap_or_default() {
                let document = self.file(&file);
                documents.extend(faults.keep(document));
            }
        }
        let failed = !faults.is_empty()
            || documents.iter().any(|file| !file.findings.is_empty() || (self.check && !file.formatted));
        if self.json {
            output::json(&Document { files: documents });
        } else {
            self.tell(&documents);
        }
        output::faults(&faults);
        Ok(if failed { Ending::Failed } else { Ending::Fine })
    }

    /// Prints a log in a form, once it is checked.
    fn log(&self, form: LogForm) -> Result<Ending, Faults> {
        let [file] = self.files.as_slice() else {
            let fault = Fault::new("`--as` prints one log").help("name one file");
            return Err(fault.within("--as").into());
        };
        let form = match form {
            LogForm::Csv => Form::Csv,
            LogForm::Yaml => Form::Yaml,
        };
        let (text, cut) = form::converted(file, files::bytes_within(file, BOUNDS.bytes)?, form)?;
        output::print(&text);
        if cut.is_some() {
            output::complain("the log's last line was cut short and is left out");
        }
        Ok(Ending::Fine)
    }

    fn file(&self, file: &str) -> Result<FileDocument, Faults> {
        let text = files::text(file)?;
        let name = shown(file);
        let is_input = file == "-";
        match crate::format::format(&text) {
            Ok(formatted) => {
                let was_formatted = formatted == text;
                let write = !self.check && !was_formatted;
                if write && !is_input {
                    replace(file, &formatted)?;
                }
                if is_input && !self.check && !self.json {
                    output::print(&formatted);
                }
                let text = (is_input && self.json && !self.check).then_some(formatted);
                Ok(FileDocument {
                    file: name,
                    formatted: was_formatted,
                    changed: write && !is_input,
                    findings: Vec::new(),
                    text,
                })
            }
            Err(findings) => {
                let mut sources = Sources::default();
                sources.add(SourceFile::new(name.as_str(), text));
                if !self.json {
                    output::complain(&terminal::draw(&findings, &sources, false));
                }
                let data = |finding: &Finding| FindingData::of(finding, &sources);
                let findings = findings.iter().map(data).collect();
                Ok(FileDocument { file: name, formatted: false, changed: false, findings, text: None })
            }
        }
    }

    fn tell(&self, documents: &[FileDocument]) {
        let readable = || documents.iter().filter(|file| file.findings.is_empty() && file.file != "standard input");
        for file in readable().filter(|file| !file.formatted) {
            let did = if self.check { "not formatted" } else { "formatted" };
            output::print(&format!("{did}: {}", file.file));
        }
        let stdin_only = documents.iter().all(|file| file.file == "standard input");
        if stdin_only {
            if self.check && documents.iter().any(|file| !file.formatted && file.findings.is_empty()) {
                output::print("not formatted: standard input");
            }
            return;
        }
        let changed = readable().filter(|file| !file.formatted).count();
        let total = documents.len();
        let did = if self.check { "not formatted" } else { "changed" };
        output::print(&format!("{} read, {changed} {did}", count(total, "file")));
    }
}

/// Writes a file anew beside the old one and puts it in its place, so that nothing is lost if that is cut short.
fn replace(file: &str, text: &str) -> Result<(), Fault> {
    let path = Path::new(file);
    let fault = |error: std::io::Error| {
        Fault::new(format!("can't be written: {error}")).help("the file was left as it was").within(file)
    };
    // A link keeps its place; what it leads to is replaced.
    let path = std::fs::canonicalize(path).map_err(fault)?;
    if std::fs::metadata(&path).map_err(fault)?.permissions().readonly() {
        return Err(Fault::new("is not to be written to, by its permissions")
            .help("it was left as it was")
            .within(file));
    }
    let mut beside = path.clone().into_os_string();
    beside.push(".new");
    let write = || -> std::io::Result<()> {
        let permissions = std::fs::metadata(&path)?.permissions();
        let mut new = std::fs::File::create(&beside)?;
        new.write_all(text.as_bytes())?;
        new.sync_all()?;
        std::fs::set_permissions(&beside, permissions)?;
        std::fs::rename(&beside, &path)
    };
    write().map_err(|error| {
        let _ = std::fs::remove_file(&beside);
        fault(error)
    })
}
