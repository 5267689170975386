//! The pages: each holds all it needs, is whole, can be read by whoever can't see it, and opens without complaint.
//!
//! Where a Chromium is found (`LEADSMAN_CHROMIUM` names it, or it is on the path) the pages are opened in it, narrow and
//! wide; elsewhere that is said to be skipped.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use std::path::PathBuf;
use std::process::{Command, Stdio};

const DAY: [&str; 10] = [
    "--water",
    "rules/ossel/water.yaml",
    "--date",
    "2026-05-15",
    "--forecast",
    "rules/ossel/forecast_may.yaml",
    "--readings",
    "rules/ossel/may_noon.yaml",
    "--boat",
    "rules/ossel/boat.yaml",
];

/// Every kind of page, in a folder that lives as long as the test.
fn pages() -> (tempfile::TempDir, Vec<(PathBuf, String)>) {
    let folder = tempfile::tempdir().unwrap();
    // Texts that somebody wrote stay texts, whatever they look like.
    let hostile = folder.path().join("hostile.strategy");
    let text = "strategy \"<script>alert(1)</script> & 'co'\"\n  units us\n\nrule \"<img src=x onerror=y>\"\n  run depth 5 to 10 ft, speed 2 to 3 mph\n  because \"</style><b>bold</b>\"\n";
    std::fs::write(&hostile, text).unwrap();
    let hostile = hostile.to_string_lossy().into_owned();
    let contest = ["--contest", "rules/less_to_chase.strategy", "rules/light_and_depth.strategy", "--seed", "5"];
    let kinds: [(&str, Vec<&str>); 4] = [
        ("plan", vec!["rules/less_to_chase.strategy"]),
        ("hostile", vec![&hostile]),
        ("contest", contest.to_vec()),
        ("rods", [&contest[..], &["--by", "rods"]].concat()),
    ];
    let mut pages = Vec::new();
    for (name, arguments) in kinds {
        let path = folder.path().join(format!("{name}.html"));
        let output = Command::new(env!("CARGO_BIN_EXE_leadsman"))
            .arg("plan")
            .args(arguments)
            .args(DAY)
            .arg("--page")
            .arg(&path)
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .stdin(Stdio::null())
            .output()
            .unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let page = std::fs::read_to_string(&path).unwrap();
        pages.push((path, page));
    }
    (folder, pages)
}

/// The tags of a page, and its stylesheet; what stands between tags is text.
fn tags(page: &str) -> (Vec<&str>, &str) {
    let (before, rest) = page.split_once("<style>").expect("a stylesheet");
    let (style, after) = rest.split_once("</style>").expect("its end");
    let tags = [before, after].into_iter().flat_map(|part| part.split('<').skip(1));
    (tags.map(|tag| tag.split_once('>').expect("a tag's end").0).collect(), style)
}

#[test]
fn a_page_loads_nothing() {
    for (path, page) in pages().1 {
        let (tags, style) = tags(&page);
        for tag in tags {
            let name = tag.split([' ', '/']).next().unwrap();
            assert!(!["script", "img", "link", "iframe", "object", "embed", "image", "use"].contains(&name), "<{tag}>");
            for word in ["//", "src=", "href=", "url(", "onerror", "onload", "http:"] {
                assert!(!tag.contains(word), "{}: <{tag}>", path.display());
            }
        }
        assert!(!["url(", "@import", "//", "@font-face"].iter().any(|word| style.contains(word)));
        assert!(page.contains("default-src 'none'"));
    }
}

/// Elements without an end.
const VOID: [&str; 5] = ["meta", "br", "hr", "col", "wbr"];

#[test]
fn every_element_ends_where_it_should() {
    for (path, page) in pages().1 {
        assert!(page.starts_with("<!DOCTYPE html><html lang=\"en\">"));
        let mut open: Vec<&str> = Vec::new();
        for tag in tags(&page).0 {
            if let Some(name) = tag.strip_prefix('/').filter(|name| *name != "style") {
                assert_eq!(open.pop(), Some(name), "{}: </{name}>", path.display());
                continue;
            }
            let name = tag.split([' ', '/']).next().unwrap();
            if !VOID.contains(&name) && !tag.ends_with('/') && !tag.starts_with('!') {
                open.push(name);
            }
        }
        assert!(open.is_empty(), "{}: {open:?}", path.display());
    }
}

#[test]
fn plots_are_told_to_who_can_not_see_them_and_follow_the_stylesheet() {
    let (_folder, pages) = pages();
    let (_, plan) = &pages[0];
    let plots: Vec<&str> = plan.split("<svg ").skip(1).map(|rest| rest.split("</svg>").next().unwrap()).collect();
    assert!(plots.len() >= 5, "{}", plots.len());
    let mut ids = std::collections::BTreeSet::new();
    for plot in plots {
        assert!(plot.contains("role=\"img\"") && plot.contains("<title id=") && plot.contains("<desc id="), "{plot}");
        let labelled = plot.split("aria-labelledby=\"").nth(1).unwrap().split('"').next().unwrap();
        for id in labelled.split(' ') {
            assert!(plot.contains(&format!("id=\"{id}\"")), "{id}");
            assert!(ids.insert(id.to_owned()), "{id} is there twice");
        }
        // No colour of its own, or the dark would swallow it.
        assert!(!plot.contains("\"#"), "{plot}");
        assert!(plot.contains("var(--first)") && plot.contains("var(--text)"), "{plot}");
    }
    for used in plan.split("var(").skip(1).map(|rest| rest.split(')').next().unwrap()) {
        // In light, in the dark and on paper.
        assert_eq!(plan.matches(&format!("{used}: #")).count(), 3, "{used}");
    }
}

#[test]
fn a_page_says_what_the_words_say() {
    let (_folder, pages) = pages();
    let (_, plan) = &pages[0];
    for wanted in [
        "Less to chase",
        "2 to 25 ft",
        "Lines up",
        "where small craft are warned",
        "skipper's judgement",
        "Ossel Water",
        "starboard flat",
        "The cast of 14 May",
    ] {
        assert!(plan.contains(wanted), "{wanted}");
    }
    let (_, hostile) = &pages[1];
    assert!(hostile.contains("&lt;script&gt;alert(1)&lt;/script&gt; &amp; 'co'"));
    let (_, contest) = &pages[2];
    assert!(contest.contains("Drawn by blocks with the seed ") && contest.contains("low sun"));
    assert!(!plan.to_lowercase().contains(" safe"));
}

/// A Chromium, where there is one.
fn chromium() -> Option<PathBuf> {
    if let Some(named) = std::env::var_os("LEADSMAN_CHROMIUM") {
        return Some(PathBuf::from(named));
    }
    let path = std::env::var_os("PATH")?;
    let names = ["chromium", "chromium-browser", "google-chrome"];
    std::env::split_paths(&path).flat_map(|folder| names.map(|name| folder.join(name))).find(|file| file.is_file())
}

#[test]
fn a_browser_opens_every_page_without_complaint() {
    let Some(chromium) = chromium() else {
        eprintln!("skipped: no Chromium here; LEADSMAN_CHROMIUM names one");
        return;
    };
    let (folder, pages) = pages();
    for (path, _) in &pages {
        for width in ["360,800", "1200,900"] {
            let output = Command::new(&chromium)
                .args([
                    "--headless",
                    "--no-sandbox",
                    "--disable-gpu",
                    "--disable-dev-shm-usage",
                    "--enable-logging=stderr",
                    "--v=0",
                ])
                .arg(format!("--user-data-dir={}", folder.path().join("profile").display()))
                .arg(format!("--window-size={width}"))
                .args(["--dump-dom"])
                .arg(format!("file://{}", path.display()))
                .stdin(Stdio::null())
                .output()
                .unwrap();
            let (dom, said) = (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
            assert!(output.status.success(), "{said}");
            assert!(dom.contains("</main>"), "{dom}");
            let complaints: Vec<&str> = said.lines().filter(|line| line.contains("CONSOLE")).collect();
            assert!(complaints.is_empty(), "{}: {complaints:?}", path.display());
        }
    }
}
