//! The rooms of the house: which may use which, and what stays out of all but a few of them.
//!
//! `ROOMS` is the table that DEVELOPERS.md draws. A room may use those it names and no others, and each stands below
//! all that it uses, so that nothing flows back.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Each room, and the rooms it may use.
const ROOMS: [(&str, &[&str]); 22] = [
    ("text", &[]),
    ("findings", &["text"]),
    ("vocabulary", &[]),
    ("syntax", &["findings", "text", "vocabulary"]),
    ("format", &["findings", "syntax", "text", "vocabulary"]),
    ("program", &["syntax", "text", "vocabulary"]),
    ("check", &["findings", "program", "syntax", "text", "vocabulary"]),
    ("engine", &["program", "syntax", "vocabulary"]),
    ("explain", &["engine", "program", "syntax", "vocabulary"]),
    ("water", &["vocabulary"]),
    ("statistics", &[]),
    ("session", &["engine", "program", "vocabulary", "water"]),
    ("proof", &["check", "engine", "findings", "program", "session", "text", "vocabulary"]),
    ("advice", &["engine", "explain", "program", "session", "vocabulary", "water"]),
    ("tackle", &["advice", "engine", "program", "session", "vocabulary", "water"]),
    ("source", &["check", "findings", "program", "session", "syntax", "tackle", "text", "vocabulary", "water"]),
    ("day", &["advice", "engine", "explain", "program", "session", "source", "tackle", "vocabulary"]),
    ("compare", &["advice", "day", "engine", "program", "session", "source", "statistics", "vocabulary", "water"]),
    ("plan", &["advice", "day", "engine", "explain", "program", "session", "source", "tackle", "vocabulary", "water"]),
    ("page", &["advice", "compare", "day", "plan", "tackle", "vocabulary"]),
    (
        "service",
        &[
            "advice",
            "check",
            "compare",
            "day",
            "engine",
            "explain",
            "findings",
            "format",
            "program",
            "proof",
            "session",
            "source",
            "syntax",
            "tackle",
            "text",
            "vocabulary",
            "water",
        ],
    ),
    (
        "command",
        &[
            "advice",
            "check",
            "compare",
            "day",
            "findings",
            "format",
            "page",
            "plan",
            "program",
            "proof",
            "service",
            "session",
            "source",
            "tackle",
            "text",
            "vocabulary",
        ],
    ),
];

/// What may stand only in some files (or folders, which end in `/`), and why.
const EDGES: [(&str, &[&str], &str); 17] = [
    ("pest::", &["src/syntax/parse.rs"], "one file knows the library of the grammar"),
    ("pest_derive", &["src/syntax/parse.rs"], "one file knows the library of the grammar"),
    ("serde_yaml", &["src/source/yaml.rs"], "one file knows YAML"),
    ("saphyr_parser", &["src/source/yaml.rs"], "one file knows YAML"),
    ("annotate_snippets", &["src/findings/terminal.rs"], "one file knows the library that draws findings"),
    ("solar_positioning", &["src/water/sun.rs"], "one file knows the library of the sun"),
    ("::gpx::", &["src/source/gpx.rs"], "one file knows the library of tracks"),
    ("rustix::", &["src/source/transport.rs"], "one file knows serial lines"),
    ("rand_chacha::", &["src/plan/contest.rs"], "one file draws by chance"),
    ("plotters::", &["src/page/plot.rs", "src/page/plot/rows.rs"], "only plots know the library of plots"),
    ("maud::", &["src/page/", "src/tackle/draw.rs"], "only pages and drawings know the library of markup"),
    ("differential_equations", &["src/tackle/line.rs"], "one file knows the library of differential equations"),
    ("clap::", &["src/command.rs", "src/command/", "src/main.rs"], "only commands know arguments"),
    ("tonic::", &["src/service.rs", "src/service/"], "only the service knows the wire"),
    (
        "std::fs::",
        &[
            "src/command/format.rs",
            "src/command/strategies.rs",
            "src/day/record.rs",
            "src/service/library.rs",
            "src/source/",
        ],
        "files are read at the edges",
    ),
    ("std::env::", &["src/command/output.rs"], "the surroundings of the process are read at one place"),
    (
        "std::net::",
        &["src/service.rs", "src/service/", "src/command/serve.rs", "src/source/transport.rs"],
        "only the service listens, and only feeds are followed",
    ),
];

/// Where the clock of the machine may be read.
const CLOCKS: [&str; 4] =
    ["src/command/moment.rs", "src/service/connections.rs", "src/service/guard.rs", "src/service/limits.rs"];
/// The service's clock for a request without a time.
const SERVICE_CLOCK: &str = "src/service/rpcs.rs";

/// What .clippy.toml must ban, besides the clock.
const BANNED: [&str; 23] = [
    "std::time::SystemTime::now",
    "std::time::Instant::now",
    "jiff::Timestamp::now",
    "std::collections::HashMap::iter",
    "std::collections::HashMap::keys",
    "std::collections::HashMap::values",
    "std::collections::HashSet::iter",
    "f64::sin",
    "f64::cos",
    "f64::tan",
    "f64::asin",
    "f64::acos",
    "f64::atan",
    "f64::atan2",
    "f64::exp",
    "f64::ln",
    "f64::log2",
    "f64::log10",
    "f64::powf",
    "f64::powi",
    "f64::cbrt",
    "f64::hypot",
    "f64::tanh",
];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Every file of `src/`, its path from the root with `/`, and its text without comments.
fn sources() -> BTreeMap<String, String> {
    let mut files = BTreeMap::new();
    let mut folders = vec![root().join("src")];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path: PathBuf = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|ending| ending == "rs") {
                let name: Vec<_> =
                    path.strip_prefix(root()).unwrap().iter().map(|part| part.to_string_lossy()).collect();
                files.insert(name.join("/"), without_comments(&std::fs::read_to_string(&path).unwrap()));
            }
        }
    }
    files
}

fn without_comments(text: &str) -> String {
    text.lines().filter(|line| !line.trim_start().starts_with("//")).collect::<Vec<_>>().join("\n")
}

/// `src/check/names.rs` and `src/check.rs` are in the room `check`.
fn room(file: &str) -> &str {
    file.trim_start_matches("src/").split('/').next().unwrap().trim_end_matches(".rs")
}

/// The names that follow `crate::` in a text.
fn used(text: &str) -> BTreeSet<String> {
    let after = text.split("crate::").skip(1);
    let word = |rest: &str| rest.chars().take_while(|c| c.is_ascii_lowercase() || *c == '_').collect::<String>();
    after.map(word).collect()
}

fn within(file: &str, places: &[&str]) -> bool {
    places.iter().any(|place| file == *place || (place.ends_with('/') && file.starts_with(place)))
}

#[test]
fn each_room_uses_only_rooms_above_it() {
    let known: BTreeMap<&str, &[&str]> = ROOMS.into_iter().collect();
    let mut wrong = Vec::new();
    for (at, (name, uses)) in ROOMS.iter().enumerate() {
        let above: Vec<&str> = ROOMS[..at].iter().map(|(name, _)| *name).collect();
        wrong.extend(
            uses.iter()
                .filter(|used| !above.contains(used))
                .map(|used| format!("the table lets `{name}` use `{used}`, which does not stand above it")),
        );
    }
    let mut in_use: BTreeSet<(String, String)> = BTreeSet::new();
    for (file, text) in sources() {
        let room = room(&file).to_owned();
        if room == "main" || room == "lib" {
            continue;
        }
        assert!(!text.contains("crate::{"), "{file}: write each `use crate::...` on its own line");
        let Some(may) = known.get(room.as_str()) else {
            wrong.push(format!("{file}: `{room}` is no room of the table"));
            continue;
        };
        for name in used(&text).into_iter().filter(|name| *name != room) {
            if !may.contains(&name.as_str()) {
                wrong.push(format!("{file}: `{room}` may not use `{name}`"));
            }
            in_use.insert((room.clone(), name));
        }
    }
    for (room, uses) in ROOMS {
        let unused = uses.iter().filter(|used| !in_use.contains(&(room.to_owned(), (*used).to_string())));
        wrong.extend(unused.map(|used| format!("`{room}` no longer uses `{used}`: take it out of the table")));
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

#[test]
fn the_guide_for_developers_shows_this_table() {
    let text = std::fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    for (room, uses) in ROOMS {
        let uses = if uses.is_empty() { "nothing".to_owned() } else { uses.join(", ") };
        let row = text.lines().find(|line| line.starts_with(&format!("| `{room}` |")));
        let row = row.unwrap_or_else(|| panic!("DEVELOPERS.md has no row for `{room}`"));
        assert!(row.ends_with(&format!("| {uses} |")), "DEVELOPERS.md on `{room}`: should end in | {uses} |\n{row}");
    }
}

#[test]
fn libraries_files_and_sockets_stay_where_they_belong() {
    let mut wrong = Vec::new();
    for (file, text) in sources() {
        for (what, places, why) in EDGES {
            if text.contains(what) && !within(&file, places) {
                wrong.push(format!("{file} names `{what}`: {why}"));
            }
        }
        let clock = ["SystemTime::now", "Instant::now", "Timestamp::now", "Zoned::now", "TimeZone::system"];
        let reads = clock.iter().any(|clock| text.contains(clock));
        if reads && !within(&file, &CLOCKS) && file != SERVICE_CLOCK {
            wrong.push(format!("{file} reads the clock of the machine"));
        }
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

#[test]
fn clippy_bans_what_would_make_advice_differ() {
    let text = std::fs::read_to_string(root().join(".clippy.toml")).unwrap();
    for path in BANNED {
        let line = text.lines().find(|line| line.contains(&format!("path = \"{path}\"")));
        let line = line.unwrap_or_else(|| panic!(".clippy.toml does not ban {path}"));
        assert!(line.contains("reason = \""), ".clippy.toml gives no reason for {path}");
    }
    for allowed in ["allow-unwrap-in-tests", "allow-expect-in-tests", "allow-panic-in-tests"] {
        assert!(text.contains(&format!("{allowed} = true")), "{allowed}");
    }
}
