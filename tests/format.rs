//! The formatter over every strategy of the project, over telling inputs, and over scrambled and hostile ones.

#![allow(clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use std::fs;
use std::path::{Path, PathBuf};

use leadsman::findings::Code;
use leadsman::format;
use leadsman::syntax::scan::{TokenKind, Tokens};
use leadsman::syntax::{self, tree};
use leadsman::text::{FileId, SourceFile};
use proptest::prelude::*;

fn parse(text: &str) -> tree::File {
    let parsed = syntax::parse(FileId(0), &SourceFile::new("", text));
    assert!(parsed.findings.is_empty(), "{:?}\n{text}", parsed.findings);
    parsed.file
}

#[track_caller]
fn formatted(text: &str) -> String {
    format::format(text).unwrap_or_else(|findings| panic!("{findings:?}\n{text}"))
}

fn comments(text: &str) -> Vec<&str> {
    let comments = Tokens::new(text).filter(|token| token.kind == TokenKind::Comment);
    comments.map(|token| token.text(text).trim_end()).collect()
}

/// The tree, with one spelling for the aspect that has two. No file of the corpus has `color` as anything else.
fn meaning(text: &str) -> tree::File {
    let mut spelt = String::new();
    let mut end = 0;
    for token in Tokens::new(text).filter(|token| token.is(text, "color")) {
        spelt.push_str(&text[end..token.start]);
        spelt.push_str("colour");
        end = token.end;
    }
    spelt.push_str(&text[end..]);
    parse(&spelt)
}

#[track_caller]
fn holds_what_a_formatter_must(text: &str) {
    let once = formatted(text);
    assert_eq!(formatted(&once), once, "formatting twice is not formatting once");
    assert_eq!(meaning(&once), meaning(text));
    assert_eq!(comments(&once), comments(text));
    assert!(once.is_empty() || once.ends_with('\n') && !once.ends_with("\n\n"), "one line end at the end");
    assert!(!once.contains(['\r', '\t', '\u{feff}']), "only blanks and line feeds");
    assert!(once.lines().all(|line| line.trim_end() == line), "no blanks at the end of a line");
    assert!(!once.contains("\n\n\n") && !once.starts_with('\n'), "at most one blank line in a row");
}

/// The strategies in the folders of the repository that exist, without those made to be refused.
fn corpus() -> Vec<(PathBuf, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let folders = [
        "rules",
        "rules/common",
        "tests/trials",
        "tests/trade",
        "tests/conformance",
        "tests/conformance/must_fail",
        "tests/broken/fine",
        "tests/broken/warn",
    ];
    let mut files = Vec::new();
    for folder in folders {
        let Ok(entries) = fs::read_dir(root.join(folder)) else { continue };
        for path in entries.map(|entry| entry.expect("a folder that can be listed").path()) {
            if path.extension().is_some_and(|extension| extension == "strategy") {
                let text = fs::read_to_string(&path).expect("a text file");
                files.push((path, text));
            }
        }
    }
    files.sort();
    files
}

#[test]
fn every_strategy_of_the_project_keeps_its_meaning_and_comes_out_the_same_twice() {
    let files = corpus();
    assert!(files.len() > 3, "the strategies are where they were");
    for (path, text) in files {
        println!("{}", path.display());
        holds_what_a_formatter_must(&text);
    }
}

/// The layout of the language's reference, which formatting leaves alone.
const REFERENCE: &str = r#"strategy "Ossel Water, open season"
  species "brown trout"
  about "Begin where the lively fish are; give the others less and less to chase."
  units us  # how advice is printed: us, metric or nautical

include "common/care.strategy"

reading bait_fish is yes or no, good for 1 h
reading mood      is one of sulking < following < chasing, good for 45 min

let ruffled  = waves at least 4 in, settling 10 min  # settles: see section 4
let dim      = sun_height < 10° or cloud at least 90 %
let cool_top = depth_of(62 °F)  # the shallowest depth where the water is this cool

rule "Ruffled in bright light"
  if ruffled and not dim and surface at most 62 °F
  run depth 3 to 10 ft
  because "Broken light hides the boat, and fish rise under it."

rule "Cool to the top"
  if surface at most 62 °F
  run depth 2 to 28 ft
  because "While the surface is comfortable the fish that will chase are the high ones."

rule "Warm lid"
  if surface > 62 °F and cool_top known
  run depth cool_top to cool_top + 18 ft
  because "Begin where the water first turns cool enough and work down."

ladder pace "Less to chase"
  rung brisk   run speed 2.6 to 3.6 mph, size 3 to 4.5 in, lure spoon
  rung steady  run speed 1.9 to 2.5 mph, size 2 to 3 in,   lure spoon
  rung slow    run speed 1.2 to 1.8 mph, size 1 to 2 in,   lure spoon or spinner
  rung bait    run speed 0.9 to 1.4 mph, size 1 to 2 in,   lure natural_bait   only if bait_allowed
  step down  if marks and strikeless at least 35 min
  step up    if strikes(30 min) at least 3
  start over if ruffled changes or light changes

rule "Cold fish are slow fish"
  if surface < 43 °F
  run slower by 0.4 mph, smaller by 0.5 in
  keep speed at least 0.8 mph
  because "Trout turn sluggish in cold water."

rule "Off the bottom"
  keep depth at most bottom - 6 ft

rule "Too warm to play and release"
  if surface at least 68 °F and releasing
  stop "The surface is too warm to release trout in good health."

trial "Windy noon in May"
  given surface 54 °F, waves 8 in, sun_height 55°, cloud 20 %, marks yes, bottom 120 ft
  expect depth 3 to 10 ft, speed 2.6 to 3.6 mph, pace brisk
  after 40 min expect pace steady
  after 5 min given waves 1 in expect pace steady  # the wind has to stay down for a while first
  after 15 min expect pace brisk, depth 2 to 28 ft
"#;

#[test]
fn the_layout_of_the_reference_stays() {
    assert_eq!(formatted(REFERENCE), REFERENCE);
}

/// Source and result under each other, with a stand-in for what does not show.
macro_rules! snapshot {
    ($source:expr) => {
        let source: &str = $source;
        holds_what_a_formatter_must(source);
        let shown = source.replace("\u{feff}", "⟨BOM⟩").replace('\u{a0}', "⍽").replace('\t', "⇥").replace('\r', "␍");
        let pair = format!("{}\n\n================\n\n{}", shown.trim_matches('\n'), formatted(source));
        insta::with_settings!({ omit_expression => true, prepend_module_to_snapshot => false }, {
            insta::assert_snapshot!(pair);
        });
    };
}

#[test]
fn phones_and_fast_fingers() {
    snapshot!(
        "\u{feff}STRATEGY “Ossel Water”   Units\u{a0}US ABOUT „any case, curly quotes”\r\n\
         READING Mood\tIS One Of Sulking<Following<Chasing,GOOD FOR 45 Minutes\r\r\r\
         Let Twice=2×Probe−1ft Rule“Far”IF Twice≥10FEET And Not(mood is SULKING OR month Is MAY)\
         RUN Depth Twice To Twice+5Foot,Color SILVER Or Rubber_Duck KEEP Speed AT LEAST 0.8mph"
    );
}

#[test]
fn comments_stay_beside_and_above() {
    snapshot!(
        r#"
# about the file


# about the strategy
strategy # the word
 "A"     # the name
      # about the units
  units us # beside the units
  # below the units, and a clause that waits
rule "B" # on the rule
  if # on if
     a # on a
     and # on and
     # above b
     b
  run lure spoon # on spoon
    , # on the comma
    # above the size
    size 1 # on the number
    in
  # because "why"

  # above the ladder
ladder c
  # above the rung
  rung d run depth 1 ft # beside the rung
  # above the last rung
  rung e # on its name
    run depth 2 # on two
      ft, speed 1 mph
trial "F" given cast [ # on the bracket
  0 ft 70 °F # on the first point
  , 10 ft 60 °F
  # above the end
  ] expect depth 1 ft # on the end
      # also on the end
# the end of the file"#
    );
}

#[test]
fn lists_of_one_line_statements() {
    snapshot!(
        r#"include "a"
include "b"
reading follows is number, good for 20 min
reading last_bite is one of inside, outside # where the boat turned
let a = follows at least 2
let breathing = depth_of(5 mg/L) # air

let on_its_own = yes
rule "Last hour, up and quick" if until_sunset < 1 h run depth 3 to 15 ft
rule "Flat" if waves < 2 in run setback 150 to 250 ft because "Hide the boat."
rule "Air" keep depth at most breathing
rule "The day after the front" if change(pressure, 24 h) > 6 hPa and cloud < 20 % run slower by 0.4 mph

rule "Alone" if bright run depth clarity * 1.5 to clarity * 2.5
trial "Grey" given cloud 100 % expect depth 3 to 9 ft
trial "Blue" given cloud 0 %, sun_height 40° expect depth 10 to 30 ft after 5 min given cloud 90 % expect stop
"#
    );
}

#[test]
fn long_clauses_wrap() {
    snapshot!(
        r#"
rule "A condition" if surface at least 50 °F and surface at most 62 °F and change(pressure, 3 h) < -2 hPa and (light is twilight or light is low_sun)
  run depth 3 to 10 ft, speed 2.6 to 3.6 mph, size 3 to 4.5 in, lure spoon or spinner or plug or minnow, colour silver or gold
  because "A text can't be broken, so that it goes past the edge of the page where it is longer than the page is wide."
rule "A bracket wider than the page"
  if not (wind_from is N and wind at least 10 mph or wind_from is NE and wind at least 12 mph or wind_from is E)
  caution "!"
let reach = first_measured_distance + second_measured_distance + third_measured_distance - what_was_measured_twice
trial "A cast on one line and one on several"
  given surface 71 °F, cast [0 ft 71 °F 8.4 mg/L, 25 ft 70 °F 8.3 mg/L, 41 ft 60 °F 8 mg/L, 60 ft 50 °F 6.5 mg/L]
  expect stop after 10 min given cast [
  0 ft 71 °F 8.4 mg/L, 25 ft 70 °F 8.3 mg/L], releasing no, clarity 20 ft, sun_height 40°, cloud 100 % expect depth 1 ft, no stop
"#
    );
}

#[test]
fn ladders_have_columns_where_they_fit() {
    snapshot!(
        r#"
ladder pace "Columns"
  rung brisk run speed 2.6 to 3.6 mph, size 3 to 4.5 in, lure spoon
  rung slow run speed 1 to 2 mph, size 1 in, lure spoon or spinner because "Slow."
  rung bait
    run speed 1 mph
    only if bait_allowed and not releasing
  start over if ruffled changes
  step down if marks
  step up if strikes(30 min) at least 3
ladder gear "Other aspects in each rung, so no columns of items"
  rung plain run setback 100 ft, lure spoon
  rung fancy run lure spoon, setback 10 ft
  step down if marks
ladder reach "Too wide for one line"
  rung near run setback 10 to 20 ft, size 1 in because "A reason of some length, which is why this rung is wide."
  rung far run setback 60 to 80 ft
  step up if strikes(10 min) at least 1
ladder one "On one line" rung a run depth 1 ft step down if marks
"#
    );
}

#[test]
fn what_cannot_be_read_is_not_formatted() {
    let findings = format::format("rule \"A\"\n  if\n\nlet b 2\nlet c = 1").expect_err("two statements are broken");
    assert_eq!(findings.len(), 2);
    assert!(findings.iter().all(|finding| finding.span.file == FileId(0)));
    assert!(findings[0].span.start < findings[1].span.start, "in the order of their places");
}

#[test]
fn what_would_grow_past_the_limit_is_refused() {
    let source = format!("include\"{}\"", "x".repeat(syntax::MOST_BYTES - 9));
    let findings = format::format(&source).expect_err("it grows by a blank and a line end");
    assert_eq!(findings[0].code, Code::TooLarge);
}

/// Pieces of a text that may not be parted: tokens that touch.
fn atoms(text: &str) -> Vec<(String, bool)> {
    let mut atoms: Vec<(String, bool)> = Vec::new();
    let mut end = usize::MAX;
    for token in Tokens::new(text).filter(|token| token.kind != TokenKind::Comment) {
        let is_text = token.kind == TokenKind::Text;
        match atoms.last_mut() {
            Some((atom, _)) if token.start == end && !is_text => atom.push_str(token.text(text)),
            _ => atoms.push((token.text(text).to_owned(), is_text)),
        }
        end = token.end;
    }
    atoms
}

/// What may stand between two tokens.
fn separator() -> impl Strategy<Value = String> {
    prop_oneof![
        8 => "[ \t\u{a0}\u{202f}\u{2007}\u{feff}]{1,3}",
        2 => "[ \t]?(\n|\r|\r\n){1,3}[ \t]{0,5}",
        2 => "[ \t]{0,2}#[ a-z#\"“]{0,6}[ \t]{0,2}(\n|\r|\r\n)[ \t]{0,5}",
        1 => "(\n|\r\n)[ ]{0,5}(#[ a-z]{0,4}(\n|\r\n){1,3}){1,3}",
    ]
}

fn scrambled(sample: &'static str) -> impl Strategy<Value = String> {
    let atoms = atoms(sample);
    let count = atoms.len();
    let noise = prop::collection::vec((separator(), any::<bool>()), count..=count);
    (noise, any::<bool>()).prop_map(move |(noise, plain_case)| {
        let mut text = String::new();
        for ((atom, is_text), (separator, upper)) in atoms.iter().zip(noise) {
            let same_case = *is_text || plain_case || !upper;
            text.push_str(&if same_case { atom.clone() } else { atom.to_uppercase() });
            text.push_str(&separator);
        }
        text
    })
}

fn small_files() -> impl Strategy<Value = String> {
    let words = [
        "strategy", "include", "reading", "let", "rule", "ladder", "trial", "if", "run", "keep", "stop", "caution",
        "because", "rung", "only", "step", "start", "given", "expect", "after", "and", "or", "not", "is", "at",
        "known", "unknown", "for", "settling", "to", "by", "changes", "yes", "no", "one", "of", "least", "most",
        "good", "down", "up", "over", "cast", "strike", "color", "depth", "lure", "also", "units", "species", "a",
        "été", "\"t\"", "“", "\"", "1", "2.5", "05", ":", "°", "%", "ft", "/", "<", "<=", "≤", "=", "+", "-", "−", "*",
        "×", "(", ")", "[", "]", ",", "#", "\n", "\r", " ", "\t", "\u{feff}", "\u{a0}", ";", "\0", "🐟",
    ];
    prop::collection::vec((prop::sample::select(words.to_vec()), any::<bool>()), 0..30).prop_map(|words| {
        words.into_iter().map(|(word, blank)| if blank { format!("{word} ") } else { word.to_owned() }).collect()
    })
}

/// Statements that can be read, of parts chosen at random; what they mean does not matter.
fn statements() -> impl Strategy<Value = String> {
    let value = prop_oneof![
        Just("a".to_owned()),
        Just("- 3 ft".to_owned()),
        Just("f ( 62 F , b )".to_owned()),
        Just("5:30".to_owned()),
        Just("( a or yes )".to_owned()),
        "[a-z]{20,40}_",
    ];
    let sum = prop::collection::vec((value, prop::sample::select(vec!["+", "-", "*", "/", "−"])), 1..5)
        .prop_map(|parts| parts.iter().map(|(value, sign)| format!("{value} {sign} ")).collect::<String>() + "1");
    let test =
        (sum, prop::sample::select(vec!["at least b", "≤ 3 ft < c", "known", "is not one of May , b", "is 1 to 2 m"]))
            .prop_map(|(sum, test)| format!("{sum} {test}"));
    let condition =
        prop::collection::vec((test, prop::sample::select(vec!["and", "or", "and not", "or not not"])), 1..5)
            .prop_map(|parts| parts.iter().map(|(test, join)| format!("{test} {join} ")).collect::<String>() + "z");
    let run = prop::sample::select(vec![
        "depth 1 to 2 ft",
        "slower by - 1 mph",
        "color Red or Own",
        "lure a",
        "size ( a ) to b",
    ]);
    let run = prop::collection::vec(run, 1..6).prop_map(|items| items.join(" , "));
    let given = prop::sample::select(vec![
        "air - 4 C",
        "f ( 1 ) 2",
        "strike yes",
        "cast [ 0 ft 1 C , 2 ft - 3 C ]",
        "month MAY",
    ]);
    let given = prop::collection::vec(given, 1..6).prop_map(|items| items.join(" , "));
    prop_oneof![
        condition.clone().prop_map(|condition| format!("let a = {condition} , settling 5 minutes ")),
        condition.clone().prop_map(|condition| format!("let longer_name = {condition} ")),
        Just("reading x is one of May , b , good for 1 h ".to_owned()),
        Just("include \"a\" ".to_owned()),
        Just("strategy \"a\" also water a , b units us about \"b\" ".to_owned()),
        (condition.clone(), run.clone()).prop_map(|(condition, run)| format!("rule \"a\" if {condition} run {run} ")),
        run.clone().prop_map(|run| format!("rule \"longer\" run {run} stop \"why\" ")),
        (run.clone(), run, condition).prop_map(|(a, b, condition)| {
            format!("ladder a rung b run {a} rung longer run {b} only if {condition} step down if c start over if d ")
        }),
        (given.clone(), given).prop_map(|(a, b)| format!(
            "trial \"a\" given {a} expect stop , color red after 5 min given {b} expect depth 1 ft "
        )),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 100, ..ProptestConfig::default() })]

    #[test]
    fn blanks_comments_line_ends_and_case_do_not_count(text in scrambled(REFERENCE)) {
        holds_what_a_formatter_must(&text);
        prop_assert_eq!(parse(&formatted(&text)), parse(REFERENCE));
    }

    #[test]
    fn statements_of_any_shape_are_formatted_once(
        parts in prop::collection::vec((statements(), separator()), 1..6),
        breaks in prop::collection::vec(prop::option::weighted(0.1, separator()), 200),
    ) {
        let mut text: String = parts.into_iter().map(|(statement, separator)| statement + &separator).collect();
        // Some of the blanks between tokens become something else; no text has a blank in it.
        for (at, separator) in breaks.into_iter().enumerate().filter_map(|(at, separator)| Some((at, separator?))) {
            let blank = text.match_indices(' ').map(|(at, _)| at).nth(at * 3);
            if let Some(blank) = blank.filter(|&blank| !in_a_comment(&text, blank)) {
                text.replace_range(blank..=blank, &separator);
            }
        }
        holds_what_a_formatter_must(&text);
    }

    #[test]
    fn no_text_makes_the_formatter_fail(text in prop_oneof![small_files(), any::<String>()]) {
        match format::format(&text) {
            Ok(once) => prop_assert_eq!(format::format(&once), Ok(once)),
            Err(findings) => {
                let own_fault = findings.iter().any(|finding| finding.help.as_deref().is_some_and(|help| help.contains("report")));
                prop_assert!(!findings.is_empty() && !own_fault);
            }
        }
    }
}

fn in_a_comment(text: &str, at: usize) -> bool {
    Tokens::new(text).any(|token| token.kind == TokenKind::Comment && (token.start..token.end).contains(&at))
}
