//! Pages, as a command writes them: whole by themselves, well-formed, with nothing in them that a text could smuggle in.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use tempfile::TempDir;

const A: &str = "rules/less_to_chase.strategy";
const B: &str = "rules/light_and_depth.strategy";
const WATER: [&str; 2] = ["--water", "rules/ossel/water.yaml"];
const MORNING: &str = "tests/compare/morning.yaml";

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env("NO_COLOR", "1")
        .env("COLUMNS", "100")
        .output()
        .unwrap()
}

/// The page of a comparison, and the words beside it.
fn compared(a: &str, b: &str, logs: &[&str]) -> (String, String) {
    let folder = TempDir::new().unwrap();
    let page = folder.path().join("page.html");
    let mut arguments = vec!["compare", a, b];
    arguments.extend(logs);
    arguments.extend(WATER);
    arguments.extend(["--report", page.to_str().unwrap()]);
    let output = run(&arguments);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let left: Vec<_> = std::fs::read_dir(folder.path()).unwrap().collect();
    assert_eq!(left.len(), 1, "something was left beside the page");
    (std::fs::read_to_string(page).unwrap(), String::from_utf8(output.stdout).unwrap())
}

/// Elements that HTML closes by itself.
const VOID: [&str; 4] = ["meta", "br", "hr", "link"];

/// Goes through a page tag by tag: each opening tag with its attributes, and the text after it, in order; panics where an
/// element is not closed in its place or an attribute not in quotes.
fn tags(page: &str) -> Vec<(String, String)> {
    let mut open: Vec<String> = Vec::new();
    let mut found = Vec::new();
    for piece in page.split('<').skip(1) {
        let (tag, text) = piece.split_once('>').unwrap_or_else(|| panic!("an open bracket: <{piece}"));
        if tag.starts_with('!') {
            continue;
        }
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop().as_deref(), Some(name), "closed out of place");
            found.push((String::new(), text.to_owned()));
            continue;
        }
        assert_eq!(tag.matches('"').count() % 2, 0, "<{tag}>");
        let name = tag.split([' ', '/', '\n']).next().unwrap().to_owned();
        if !VOID.contains(&name.as_str()) && !tag.ends_with('/') {
            open.push(name);
        }
        found.push((tag.to_owned(), text.to_owned()));
    }
    assert!(open.is_empty(), "not closed: {open:?}");
    found
}

fn plain(text: &str) -> String {
    let text = text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&apos;", "'");
    text.replace("&amp;", "&")
}

/// All that a page says, without what is drawn.
fn outline(page: &str) -> String {
    let (mut outline, mut skipped) = (String::new(), "");
    for (tag, text) in tags(page) {
        let name = tag.split(' ').next().unwrap();
        match name {
            "style" | "text" => skipped = "this",
            _ => skipped = if skipped == "this" { "" } else { skipped },
        }
        match name {
            "h1" | "h2" | "h3" => write!(outline, "\n\n{} ", "#".repeat(name[1..].parse().unwrap())).unwrap(),
            "tr" | "p" | "li" | "figure" => outline.push('\n'),
            "td" | "th" => outline.push_str(" | "),
            "title" => outline.push_str("\n[plot: "),
            "desc" => outline.push_str("] "),
            _ => {}
        }
        if skipped.is_empty() {
            outline.push_str(plain(&text).trim_end_matches('\n'));
        }
    }
    outline
}

fn loads_nothing(page: &str) {
    for (tag, _) in tags(page) {
        let name = tag.split(' ').next().unwrap();
        assert!(!["script", "link", "img", "image", "iframe", "object", "use", "a", "form"].contains(&name), "<{tag}>");
        for attribute in [" src=", " href=", "xlink", " on", "url("] {
            assert!(!tag.contains(attribute), "<{tag}>");
        }
    }
    for loads in ["@import", "@font-face", "url(", "http://", "https://"] {
        assert!(!page.contains(loads), "{loads}");
    }
}

fn drawings_have_words(page: &str) {
    let tags = tags(page);
    let mut ids: Vec<&str> = Vec::new();
    for (tag, _) in &tags {
        ids.extend(tag.split(" id=\"").nth(1).and_then(|rest| rest.split('"').next()));
    }
    let all = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), all, "an id stands twice");
    let drawings = tags.iter().filter(|(tag, _)| tag.starts_with("svg"));
    for (drawing, _) in drawings {
        let hidden = drawing.contains("aria-hidden=\"true\"");
        let labels = drawing.split("aria-labelledby=\"").nth(1).and_then(|rest| rest.split('"').next());
        let named = labels.is_some_and(|labels| labels.split(' ').all(|label| ids.contains(&label)));
        assert!(hidden || named, "<{drawing}>");
    }
}

#[test]
fn a_comparison_is_a_page_that_stands_alone() {
    let (page, words) = compared(A, B, &[MORNING]);
    loads_nothing(&page);
    drawings_have_words(&page);
    assert!(words.contains("WHAT THAT CAN PROVE"), "the words are printed too");
    insta::assert_snapshot!(outline(&page));
}

#[test]
fn the_page_says_what_text_and_json_say() {
    let (page, words) = compared(A, B, &[MORNING]);
    let said = outline(&page);
    let output = run(&["compare", A, B, MORNING, WATER[0], WATER[1], "--json"]);
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    for part in ["proof", "method"] {
        for sentence in json[part].as_array().unwrap() {
            assert!(said.contains(sentence.as_str().unwrap()), "{sentence}");
        }
    }
    // Every row of rates that the terminal shows.
    let squeezed =
        |text: &str| text.split(['|', ' ', '\n']).filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ");
    let (_, fish) = words.split_once("WHAT THE FISH SAID").unwrap();
    let rows = fish.lines().filter(|line| {
        ["both", "A alone ", "B alone ", "neither"].iter().any(|cell| line.trim_start().starts_with(cell))
    });
    let rows: Vec<String> = rows.filter(|line| !line.contains("over")).map(squeezed).collect();
    assert!(rows.len() > 8, "{rows:?}");
    let page_words = squeezed(&said);
    for row in rows {
        assert!(page_words.contains(&row), "{row}");
    }
}

#[test]
fn no_text_of_a_strategy_or_a_log_becomes_markup() {
    let folder = TempDir::new().unwrap();
    let write = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let bad = "<script>alert(1)</script><b onclick=x>&amp;'</style></svg>#010200";
    let strategy = |title: &str, feet: u32| {
        format!(
            "strategy \"{title} {bad}\"\nrule \"R {bad}\"\n  if surface < 60 °F\n  run depth {feet} to 40 ft\n  because \"{bad}\"\n\
             rule \"S {bad}\"\n  run depth 1 to 9 ft\n"
        )
    };
    let (a, b) = (write("a<i>.strategy", &strategy("One", 3)), write("b&.strategy", &strategy("Two", 20)));
    let log = format!(
        "water: \"W {bad}\"\nboat: \"B {bad}\"\nstrategy: \"S {bad}\"\ndate: 2026-05-14\nzone: \"-07:00\"\nevents:\n\
         - {{at: \"06:00\", lines: in}}\n- {{at: \"06:00\", rod: \"<b>'&\\\"</svg>\", depth: 8 ft}}\n- {{at: \"06:10\", note: \"{bad}\"}}\n\
         - {{at: \"06:20\", readings: {{surface: 54 °F}}}}\n- {{at: \"06:40\", strike: \"<b>'&\\\"</svg>\"}}\n\
         - {{at: \"06:50\", readings: {{surface: 64 °F}}}}\n- {{at: \"07:00\", lines: out}}\n"
    );
    let log = write("day<u>.yaml", &log);
    let spoiled = write("spoiled.yaml", &format!("events:\n- {{at: \"{bad}\", lines: in}}\n"));
    let (page, _) = compared(&a, &b, &[&log, &spoiled]);
    loads_nothing(&page);
    drawings_have_words(&page);
    let known = ["b", "i", "u"];
    for (tag, _) in tags(&page) {
        assert!(!known.contains(&tag.split(' ').next().unwrap()), "<{tag}>");
    }
    let said = outline(&page);
    for part in ["One <script>", "R <script>", "W <script>", "<b>'&\"</svg>", "Not compared"] {
        assert!(said.contains(part), "{part}");
    }
}

#[test]
fn a_day_of_many_readings_makes_a_small_page() {
    let folder = TempDir::new().unwrap();
    let mut log = "date: 2026-07-14\nzone: \"-07:00\"\nevents:\n- {at: \"06:00\", lines: in}\n- {at: \"06:00\", rod: port, depth: 20 ft}\n".to_owned();
    // Ten hours, four readings every four seconds: 36,000.
    for second in (0..36_000_u32).step_by(4) {
        let (hour, minute, rest) = (6 + second / 3600, second / 60 % 60, second % 60);
        let (bottom, wind) = (30 + second * 7 % 60, f64::from(second * 13 % 97) / 10.0);
        writeln!(log, "- {{at: \"{hour:02}:{minute:02}:{rest:02}\", measured: {{bottom: {bottom} ft, wind: {wind} mph, surface: 61 °F, water_speed: {wind} mph}}}}").unwrap();
        if second % 600 == 596 {
            writeln!(log, "- {{at: \"{hour:02}:{minute:02}:{rest:02}\", strike: port}}").unwrap();
        }
    }
    log.push_str("- {at: \"16:00\", lines: out}\n");
    let path = folder.path().join("day.yaml");
    std::fs::write(&path, log).unwrap();
    // What one of them calls hangs on the bottom, and changes each time.
    let other = folder.path().join("bottom.strategy");
    std::fs::write(&other, "strategy \"By the bottom\"\nrule \"Low\"\n  run depth bottom - 20 ft to bottom - 5 ft\n")
        .unwrap();
    let (page, _) = compared(A, other.to_str().unwrap(), &[path.to_str().unwrap()]);
    tags(&page);
    assert!(page.len() < 400_000, "{} bytes", page.len());
}

#[test]
fn a_page_that_cannot_be_written_is_a_fault_and_leaves_what_was_there() {
    let folder = TempDir::new().unwrap();
    let nowhere = folder.path().join("no/such/folder/page.html");
    let nowhere = nowhere.to_str().unwrap();
    for (path, said) in [(nowhere, "no such folder"), (folder.path().to_str().unwrap(), "is a folder")] {
        let output = run(&["compare", A, B, MORNING, "--report", path]);
        assert_eq!(output.status.code(), Some(1));
        let message = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(message.contains(said) && message.contains(path), "{message}");
    }
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}

/// The browser, where the machine has one.
fn browser() -> Option<&'static str> {
    ["chromium", "chromium-browser", "google-chrome"]
        .into_iter()
        .find(|name| Command::new(name).arg("--version").output().is_ok_and(|output| output.status.success()))
}

fn look(browser: &str, profile: &Path, page: &Path, flags: &[String]) -> Output {
    Command::new(browser)
        .args(["--headless=new", "--no-sandbox", "--disable-gpu", "--enable-logging=stderr"])
        .arg(format!("--user-data-dir={}", profile.display()))
        .args(flags)
        .arg(format!("file://{}", page.display()))
        .output()
        .unwrap()
}

#[test]
fn a_browser_opens_the_page_without_a_word_of_complaint() {
    let Some(browser) = browser() else {
        eprintln!("no browser here: left out");
        return;
    };
    let folder = TempDir::new().unwrap();
    let (page, _) = compared(A, B, &[MORNING]);
    let path: PathBuf = folder.path().join("page.html");
    std::fs::write(&path, page).unwrap();
    for scheme in [0, 1] {
        let flags = ["--dump-dom".to_owned(), format!("--blink-settings=preferredColorScheme={scheme}")];
        let output = look(browser, folder.path(), &path, &flags);
        let complaints = String::from_utf8_lossy(&output.stderr);
        let complaints: Vec<&str> = complaints.lines().filter(|line| line.contains("CONSOLE")).collect();
        assert!(complaints.is_empty(), "{complaints:?}");
        assert!(String::from_utf8_lossy(&output.stdout).contains("What that can prove"));
    }
    let printed = folder.path().join("page.pdf");
    look(browser, folder.path(), &path, &[format!("--print-to-pdf={}", printed.display())]);
    assert!(std::fs::read(printed).unwrap().starts_with(b"%PDF"));
}
