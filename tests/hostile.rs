//! Sources made to break things: the sizes of section 10 of the language's reference, and what lies past them.
//!
//! Everything runs on a thread with a small stack, from the check to the advice. Nothing may panic, overflow or go on for
//! ever; what can't be read says so in words.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use std::collections::HashMap;
use std::sync::Arc;

use leadsman::advice::text::{Layout, tell};
use leadsman::advice::{Shown, advise};
use leadsman::check::{IncludeError, Includes, NoIncludes, check_bytes};
use leadsman::findings::{Code, Finding, Severity, terminal};
use leadsman::program::Program;
use leadsman::session::{Session, Setting};
use leadsman::syntax::{MOST_BYTES, MOST_LEVELS, MOST_RULES};
use leadsman::vocabulary::time::Instant;
use leadsman::{format, proof};

const HEAD: &str = "strategy \"Hostile\"\n";
/// The stack that a thread gets by itself; the first thread of a program has more.
const STACK: usize = 2 << 20;

/// What became of a source.
struct Seen {
    findings: Vec<Finding>,
    drawn: String,
    program: Option<Arc<Program>>,
    /// What failed in its trials.
    failures: usize,
    /// What is advised where nothing is known.
    advice: String,
}

impl Seen {
    #[track_caller]
    fn is_fine(&self) {
        let errors = self.findings.iter().filter(|finding| finding.severity() == Severity::Error).count();
        assert!(errors == 0 && self.program.is_some(), "{}", self.beginning());
    }

    /// It has errors, all of one code, and the first says `message`.
    #[track_caller]
    fn is_refused(&self, code: Code, message: &str) {
        assert!(self.program.is_none(), "it was to be refused");
        let first = self.findings.first().expect("a finding");
        assert_eq!(first.code, code, "{}", self.beginning());
        assert!(first.message.contains(message), "{}", self.beginning());
        assert!(!self.drawn.is_empty());
    }

    fn beginning(&self) -> String {
        self.drawn.chars().take(2000).collect()
    }
}

/// It can be formatted, or is too large only when it is laid out.
#[track_caller]
fn can_be_formatted(text: String) {
    let can = on_a_small_stack(move || match format::format(&text) {
        Ok(_) => true,
        Err(findings) => findings.iter().all(|finding| finding.code == Code::TooLarge) && text.len() <= MOST_BYTES,
    });
    assert!(can, "what can be read can be formatted");
}

/// Runs something on a thread with a small stack.
fn on_a_small_stack<T: Send + 'static>(run: impl FnOnce() -> T + Send + 'static) -> T {
    let thread = std::thread::Builder::new().stack_size(STACK).spawn(run).expect("a thread");
    thread.join().unwrap_or_else(|_| panic!("it panicked"))
}

/// Everything that is done with a source: checked, its trials run, drawn, advised, thrown away.
fn all_of_it(bytes: Vec<u8>, includes: &dyn Includes) -> Seen {
    let checked = check_bytes("hostile.strategy", bytes, includes);
    let findings = proof::all_findings(&checked);
    let drawn = terminal::draw(&findings, &checked.sources, false);
    let mut seen = Seen { findings, drawn, program: checked.program, failures: 0, advice: String::new() };
    if let Some(program) = &seen.program {
        seen.failures = proof::run(program).trials.iter().map(|trial| trial.failures.len()).sum();
        let mut session = Session::alone(program.clone(), Arc::new(Setting::default()));
        session.at(Instant(0), []).expect("the first moment");
        let advice = advise(&session, Instant(0), &Shown::default());
        seen.advice = tell(&advice, None, Layout { width: 60, bold: false, all_readings: true });
    }
    seen
}

fn look(text: impl Into<Vec<u8>>) -> Seen {
    let bytes = text.into();
    on_a_small_stack(move || all_of_it(bytes, &NoIncludes))
}

/// A text of exactly so many bytes: the head, and then `unit` again and again, the rest a comment.
fn filled(head: &str, unit: &str, bytes: usize) -> String {
    let mut text = head.to_owned();
    while text.len() + unit.len() + 2 < bytes {
        text.push_str(unit);
    }
    text.push_str("\n#");
    while text.len() < bytes {
        text.push('.');
    }
    text
}

// ---- Size ------------------------------------------------------------------------------------------------------------

#[test]
fn a_mebibyte_is_read_and_a_byte_more_is_not() {
    let text = filled(&format!("{HEAD}rule \"R\" run depth 3 ft\n"), "# no\n", MOST_BYTES);
    assert_eq!(text.len(), 1 << 20);
    look(text.clone()).is_fine();
    can_be_formatted(text.clone());
    look(text + "#").is_refused(Code::TooLarge, "1048577 bytes; at most 1048576");
}

#[test]
fn one_line_of_a_mebibyte() {
    let head = format!("{HEAD}rule \"R\" if ").replace('\n', " ");
    let chain = filled(&head, "marks and ", MOST_BYTES - 100).replace("\n#", "marks #");
    let text = chain + "\n run depth 3 ft";
    look(text.clone()).is_fine();
    can_be_formatted(text);
    let blanks = " ".repeat(MOST_BYTES - 200);
    look(format!("{HEAD}rule \"R\"{blanks}run depth 3 ft")).is_fine();
    look(format!("{HEAD}rule \"R\" run depth 3 ft because \"{blanks}\"")).is_fine();
    // The line goes wrong at its end.
    look(format!("{HEAD}rule \"R\"{blanks}run depth 3 furlongs")).is_refused(Code::UnknownUnit, "furlongs");
}

#[test]
fn a_mebibyte_of_brackets() {
    for bracket in ["(", "[", "not ", "- ", "((", "(["] {
        let text = filled(&format!("{HEAD}rule \"R\" if "), bracket, MOST_BYTES);
        look(text).is_refused(Code::TooLarge, "64");
    }
    for bracket in [")", "]", ")]", "<", "\"", "°", "%"] {
        let seen = look(filled(&format!("{HEAD}rule \"R\" if "), bracket, MOST_BYTES - 10));
        assert!(seen.program.is_none() && !seen.findings.is_empty(), "{bracket}");
    }
}

#[test]
fn ten_thousand_rules_and_one_more() {
    let rules = |count: usize| -> String {
        let mut text = HEAD.to_owned();
        for at in 0..count {
            text.push_str(&format!(
                "rule \"{at}\" if surface < {}.{:02} °F run depth {at} ft\n",
                32 + at / 100,
                at % 100
            ));
        }
        text
    };
    let seen = look(rules(MOST_RULES));
    seen.is_fine();
    assert_eq!(seen.program.as_ref().unwrap().rules.len(), 10_000);
    look(rules(MOST_RULES + 1)).is_refused(Code::TooLarge, "10000");
}

#[test]
fn sixty_four_levels_and_one_more() {
    let nested = |open: &str, close: &str, levels: usize| {
        format!("{HEAD}rule \"R\" if {}marks{} run depth 3 ft", open.repeat(levels), close.repeat(levels))
    };
    for (open, close, each) in [("(", ")", 1), ("not ", "", 1), ("not (", ")", 2)] {
        look(nested(open, close, MOST_LEVELS / each)).is_fine();
        look(nested(open, close, MOST_LEVELS / each + 1)).is_refused(Code::TooLarge, "64");
    }
    let signs = |levels: usize| {
        format!("{HEAD}rule \"R\" if hits < {}1 run depth 3 ft\nreading hits is number", "- ".repeat(levels))
    };
    look(signs(MOST_LEVELS + 1)).is_refused(Code::TooLarge, "64");
    let calls = |levels: usize| {
        let (open, close) = ("temp_at(depth_of(".repeat(levels / 2), "))".repeat(levels / 2));
        format!("{HEAD}rule \"R\" if {open}62 °F{close} < 62 °F run depth 3 ft")
    };
    look(calls(MOST_LEVELS)).is_fine();
    look(calls(MOST_LEVELS + 2)).is_refused(Code::TooLarge, "64");
}

// ---- Includes --------------------------------------------------------------------------------------------------------

/// Files that can be included.
#[derive(Default)]
struct Shelf(HashMap<String, String>);

impl Shelf {
    fn with(mut self, path: impl Into<String>, text: impl Into<String>) -> Self {
        self.0.insert(path.into(), text.into());
        self
    }

    fn look(self, text: &str) -> Seen {
        let bytes = text.as_bytes().to_vec();
        on_a_small_stack(move || all_of_it(bytes, &self))
    }
}

impl Includes for Shelf {
    fn read(&self, path: &str) -> Result<Vec<u8>, IncludeError> {
        self.0.get(path).map(|text| text.clone().into_bytes()).ok_or(IncludeError::Missing)
    }
}

const RULE: &str = "rule \"Of the first\" run depth 3 ft\n";

#[test]
fn a_file_that_includes_itself() {
    let text = format!("{HEAD}include \"hostile.strategy\"\n{RULE}");
    Shelf::default().with("hostile.strategy", text.clone()).look(&text).is_refused(Code::Include, "itself");
    let seen = Shelf::default().with("a", "include \"a\"").look(&format!("{HEAD}include \"a\"\n{RULE}"));
    seen.is_refused(Code::Include, "itself");
}

#[test]
fn many_files_that_include_each_other() {
    let all: String = (0..200).map(|at| format!("include \"f{at}\"\n")).collect();
    let mut shelf = Shelf::default();
    for at in 0..200 {
        shelf = shelf.with(format!("f{at}"), all.clone());
    }
    let seen = shelf.look(&format!("{HEAD}{all}{RULE}"));
    assert!(seen.program.is_none() && seen.findings.iter().all(|finding| finding.code == Code::Include));
    assert!(seen.findings.len() < 50_000, "{}", seen.findings.len());
}

#[test]
fn files_that_double_at_every_level_count_once() {
    let mut shelf = Shelf::default();
    for at in 0..30 {
        shelf = shelf.with(format!("f{at}"), format!("include \"f{}\"\ninclude \"f{}\"\n", at + 1, at + 1));
    }
    let seen = shelf.with("f30", "rule \"Deep\" run speed 2 mph\n").look(&format!("{HEAD}include \"f0\"\n{RULE}"));
    seen.is_fine();
    assert_eq!(seen.program.unwrap().rules.len(), 2);
}

#[test]
fn a_chain_of_includes_too_deep() {
    let mut shelf = Shelf::default();
    for at in 0..5000 {
        shelf = shelf.with(format!("f{at}"), format!("include \"f{}\"\n", at + 1));
    }
    shelf.look(&format!("{HEAD}include \"f0\"\n{RULE}")).is_refused(Code::Include, "deep");
}

#[test]
fn includes_that_are_too_much_together() {
    let mut shelf = Shelf::default();
    let half = filled("", "# much\n", MOST_BYTES / 2 + 10);
    shelf = shelf.with("a", half.clone()).with("b", half);
    shelf.look(&format!("{HEAD}include \"a\" include \"b\"\n{RULE}")).is_refused(Code::TooLarge, "1 MiB");
    let rules =
        |from: usize| -> String { (0..6000).map(|at| format!("rule \"{}\" run depth 3 ft\n", from + at)).collect() };
    let shelf = Shelf::default().with("a", rules(0)).with("b", rules(6000));
    shelf.look(&format!("{HEAD}include \"a\" include \"b\"\n")).is_refused(Code::TooLarge, "10000");
    // Ten thousand names of files that are not there.
    let missing: String = (0..10_000).map(|at| format!("include \"{at}\"\n")).collect();
    Shelf::default().look(&format!("{HEAD}{missing}{RULE}")).is_refused(Code::Include, "");
}

#[test]
fn paths_that_lead_elsewhere() {
    for path in
        ["/etc/passwd", "../a", "a/../../b", "", "a\\..\\b", "c:\\a", "//", "a\u{0}b", "./.", "..", "a//b", "~/.a"]
    {
        let seen = Shelf::default().look(&format!("{HEAD}include \"{path}\"\n{RULE}"));
        assert!(seen.program.is_none(), "{path}");
        assert!(seen.findings.iter().all(|finding| finding.severity() == Severity::Error), "{path}");
    }
}

// ---- Bytes and texts -------------------------------------------------------------------------------------------------

#[test]
fn bytes_that_are_no_text() {
    for bytes in [&b"strategy \"A\xff\""[..], b"\xff\xfe", b"\xc3", b"\xed\xa0\x80", b"strategy \"A\" # \x80"] {
        look(bytes.to_vec()).is_refused(Code::NotText, "UTF-8");
    }
    look(vec![0xff; MOST_BYTES]).is_refused(Code::NotText, "UTF-8");
}

#[test]
fn nul_bytes_and_controls() {
    for text in [
        "\u{0}".to_owned(),
        "\u{0}".repeat(10_000),
        format!("{HEAD}\u{0}{RULE}"),
        format!("{HEAD}rule \"a\u{0}b\" run depth 3\u{0} ft"),
        format!("{HEAD}{RULE}\u{1b}[31m"),
        format!("{HEAD}rule \"\u{202e}\u{1b}]0;x\u{7}\" run depth 3 parsecs"),
    ] {
        let seen = look(text.clone());
        assert!(seen.program.is_none() && !seen.findings.is_empty(), "{text:?}");
        assert!(
            !seen.drawn.contains(['\u{0}', '\u{1b}', '\u{7}']),
            "no control reaches the terminal: {:?}",
            seen.drawn
        );
    }
}

#[test]
fn texts_without_an_end() {
    look(format!("{HEAD}rule \"R\" because \"")).is_refused(Code::UnclosedText, "");
    look("strategy \"").is_refused(Code::UnclosedText, "");
    look(format!("{HEAD}rule \"R\" run depth 3 ft because \"{}", "a".repeat(MOST_BYTES - 100)))
        .is_refused(Code::UnclosedText, "");
    let quotes: String = (0..50_000).map(|_| "rule \"\n").collect();
    let seen = look(format!("{HEAD}{quotes}"));
    assert!(seen.program.is_none());
}

#[test]
fn numbers_beyond_measure() {
    let rule = |value: &str| format!("{HEAD}reading far is length\nrule \"R\" if far < {value} run depth 3 ft");
    let nines = "9".repeat(15);
    look(rule(&format!("{nines} mm"))).is_fine();
    look(rule("0.000000001 mm")).is_fine();
    for value in [
        format!("{nines} nmi"),
        format!("{nines}9 ft"),
        format!("{} ft", "9".repeat(100_000)),
        "0.0000000001 ft".to_owned(),
        format!("0.{} ft", "0".repeat(100_000)),
        "1e400 ft".to_owned(),
        "0x10 ft".to_owned(),
        "1_000 ft".to_owned(),
        "NaN".to_owned(),
        "1.2.3 ft".to_owned(),
        "٣ ft".to_owned(),
    ] {
        let seen = look(rule(&value));
        assert!(seen.program.is_none() && !seen.findings.is_empty(), "{:.40}", value);
    }
    // Products that do not fit are unknown, not wrong.
    let product = vec![format!("{nines} mm"); 2].join(" * ");
    look(format!("{HEAD}rule \"R\" run depth ({product}) / 1 mm")).is_fine();
    let powers = vec!["far"; 5000].join(" * ");
    let seen =
        look(format!("{HEAD}reading far is length\nlet x = {powers} / far\nrule \"R\" if x known run depth 3 ft"));
    assert!(!seen.findings.is_empty());
}

// ---- Chains ----------------------------------------------------------------------------------------------------------

#[test]
fn sixty_thousand_lets_each_using_the_one_above() {
    let name = |number: usize| format!("x{number:x}");
    let mut text = format!("{HEAD}let x0 = marks\n");
    for at in 1..60_000 {
        text.push_str(&format!("let {}={}\n", name(at), name(at - 1)));
    }
    assert!(text.len() < MOST_BYTES, "{}", text.len());
    let last = format!("rule \"R\" if {} run depth 3 ft\ntrial \"T\" given marks yes expect depth 3 ft", name(59_999));
    let text = text + &last;
    can_be_formatted(text.clone());
    let seen = look(text);
    seen.is_fine();
    assert_eq!(seen.failures, 0);
    assert!(seen.advice.contains("marks"), "{}", seen.advice);
}

#[test]
fn thousands_of_lets_each_more_than_the_one_above() {
    let chain = |first: &str, form: &dyn Fn(usize) -> String, last: &str| {
        let mut text = format!("{HEAD}reading hits is number\nlet a0 = {first}\n");
        for at in 1..6_000 {
            text.push_str(&format!("let a{at}={}\n", form(at - 1)));
        }
        text + last
    };
    let condition = "rule \"R\" if a5999 run depth 3 ft\ntrial \"T\" given marks yes expect depth 3 ft";
    look(chain("marks", &|above| format!("not not a{above}"), condition)).is_fine();
    look(
        chain("marks", &|above| format!("a{above} or bite"), condition)
            .replace("reading", "reading bite is yes or no reading"),
    )
    .is_fine();
    look(chain("marks", &|above| format!("a{above}, settling 1 min"), condition)).is_fine();
    let number = "rule \"R\" if a5999 > 3 run depth 3 ft\ntrial \"T\" given hits 1 expect depth 3 ft";
    look(chain("hits", &|above| format!("a{above} + 1"), number)).is_fine();
    look(chain("hits", &|above| format!("- a{above}"), number)).is_fine();
    look(chain("hits", &|above| format!("a{above} * 1"), number)).is_fine();
    let depth = "rule \"R\" run depth a5999\n";
    look(chain("bottom", &|above| format!("depth_of(temp_at(a{above}))"), depth)).is_fine();
}

#[test]
fn lets_that_double() {
    for join in ["and", "or"] {
        let mut text = format!("{HEAD}let a0 = marks or surface < 50 °F\n");
        for at in 1..1000 {
            text.push_str(&format!("let a{at} = a{} {join} a{}\n", at - 1, at - 1));
        }
        let seen = look(text + "rule \"R\" if a999 run depth 3 ft\ntrial \"T\" given marks yes expect depth 3 ft");
        seen.is_fine();
        assert_eq!(seen.failures, 0);
    }
    let mut text = format!("{HEAD}reading hits is number\nlet a0 = hits\n");
    for at in 1..1000 {
        text.push_str(&format!("let a{at} = a{} + a{}\n", at - 1, at - 1));
    }
    // 2 to the 999th does not fit: unknown, so that the rule does not apply.
    let seen = look(text + "rule \"R\" if a999 > 0 run depth 3 ft\ntrial \"T\" given hits 1 expect unknown depth");
    seen.is_fine();
    assert_eq!(seen.failures, 0);
    // Conditions whose parts are known only together.
    let mut text = format!("{HEAD}let a0 = marks\nlet b0 = releasing\n");
    for at in 1..300 {
        let above = at - 1;
        text.push_str(&format!(
            "let a{at} = a{above} and not b{above} or b{above} and not a{above}\nlet b{at} = a{at} or not b{above}\n"
        ));
    }
    look(text + "rule \"R\" if a299 run depth 3 ft\nrule \"S\" if b299 run depth 4 ft\n").is_fine();
}

#[test]
fn chains_of_a_hundred_thousand_operands() {
    for (operand, join) in [("marks", " and "), ("marks", " or ")] {
        let chain = vec![operand; 100_000].join(join);
        let seen = look(format!(
            "{HEAD}rule \"R\" if {chain} run depth 3 ft\ntrial \"T\" given {operand} yes expect depth 3 ft"
        ));
        seen.is_fine();
        assert_eq!(seen.failures, 0, "{join}");
    }
    let sum = vec!["hits"; 100_000].join("+");
    let text = format!("{HEAD}reading hits is number\nrule \"R\" if {sum} is 100000 run depth 3 ft\n");
    let seen = look(text + "trial \"T\" given hits 1 expect depth 3 ft");
    seen.is_fine();
    assert_eq!(seen.failures, 0);
    let product = vec!["hits"; 50_000].join("*");
    look(format!("{HEAD}reading hits is number\nrule \"R\" if {product} is 1 run depth 3 ft\n")).is_fine();
    let compared = vec!["hits"; 20_000].join("<");
    look(format!("{HEAD}reading hits is number\nrule \"R\" if {compared} run depth 3 ft\n")).is_fine();
    let different: Vec<String> =
        (0..10_000).map(|at| format!("surface is not {}.{:03} °F", 32 + at / 1000, at % 1000)).collect();
    look(format!("{HEAD}rule \"R\" if {} run depth 3 ft\n", different.join(" and "))).is_fine();
}

#[test]
fn long_lists() {
    let words: Vec<String> = (0..20_000).map(|at| format!("w{at}")).collect();
    let text = format!(
        "{HEAD}reading mood is one of {}\nrule \"R\" if mood is one of {} run depth 3 ft\n",
        words.join("<"),
        words.join(",")
    );
    look(text).is_fine();
    let text = format!("{HEAD} also lure {}\nrule \"R\" run lure {}\n", words.join(","), words.join(" or "));
    look(text).is_fine();
    let shifts = vec!["deeper by 1 in"; 20_000].join(", ");
    look(format!("{HEAD}rule \"R\" run depth 3 ft, {shifts}\n")).is_fine();
    let limits = vec!["depth at most 9 ft"; 20_000].join(", ");
    look(format!("{HEAD}rule \"R\" run depth 3 ft keep {limits}\n")).is_fine();
    let texts = "caution \"Mind.\" ".repeat(40_000);
    look(format!("{HEAD}rule \"R\" {texts}\n")).is_fine();
    let rungs: String =
        (0..5000).map(|at| format!("rung r{at} run speed {}.{:02} mph\n", at / 100, at % 100)).collect();
    let moves = "step down if strikeless at least 5 min\n".repeat(2000);
    look(format!("{HEAD}ladder pace\n{rungs}{moves}")).is_fine();
    let points: Vec<String> = (0..20_000).map(|at| format!("{at} cm 60 °F")).collect();
    look(format!(
        "{HEAD}rule \"R\" run depth depth_of(60 °F)\ntrial \"T\" given cast [{}] expect depth 0 ft",
        points.join(",")
    ))
    .is_fine();
}

#[test]
fn a_trial_of_ten_thousand_parts() {
    let mut text = format!(
        "{HEAD}rule \"R\" if marks run depth 3 ft\nrule \"S\" run depth 5 ft\ntrial \"T\" given marks yes expect depth 3 ft\n"
    );
    for at in 0..10_000 {
        let (given, depth) = if at % 2 == 0 { ("no", 5) } else { ("yes", 3) };
        text.push_str(&format!("after 8 s given marks {given} expect depth {depth} ft\n"));
    }
    let seen = look(text.clone());
    seen.is_fine();
    assert_eq!(seen.failures, 0);
    look(text + "after 2 h expect depth 3 ft").is_refused(Code::TrialTime, "midnight");
}

#[test]
fn twenty_thousand_errors() {
    let text: String = (0..20_000).map(|at| format!("rule \"{at}\" if surfac < 5 run dept 3\n")).collect();
    let seen = look(HEAD.to_owned() + &text.replace("rule", "let"));
    assert!(seen.program.is_none() && seen.findings.len() >= 19_999, "{}", seen.findings.len());
    let lets: String = (0..20_000).map(|at| format!("let a{at} = nothing{at}\n")).collect();
    let seen = look(format!("{HEAD}{lets}"));
    assert!(seen.program.is_none() && seen.findings.len() >= 20_000, "{}", seen.findings.len());
    let rules: String =
        (0..10_000).map(|at| format!("rule \"{at}\" if surface < 5 ft and marks > 3 run dept 3 ft\n")).collect();
    let seen = look(format!("{HEAD}{rules}"));
    assert!(seen.program.is_none() && seen.findings.len() >= 20_000, "{}", seen.findings.len());
}

#[test]
fn words_close_to_many_others() {
    let lets: String = (0..10_000).map(|at| format!("let name_that_is_rather_long_{at} = marks\n")).collect();
    let uses: String =
        (0..2000).map(|at| format!("rule \"{at}\" if name_that_is_rather_lnog_{at} run depth 3 ft\n")).collect();
    let seen = look(format!("{HEAD}{lets}{uses}"));
    assert!(seen.program.is_none() && seen.findings.len() >= 2000, "{}", seen.findings.len());
}

#[test]
fn thousands_of_calls_that_hang_together() {
    let depths = (0..4000).map(|at| format!("let d{at} = depth_of({}.{:03} °F) < 20 ft\n", 32 + at / 1000, at % 1000));
    let text = format!("{HEAD}{}rule \"R\" if d3999 and d0 run depth 3 ft\n", depths.collect::<String>());
    look(text).is_fine();
    let windows = (1..4000).map(|at| format!("let s{at} = strikes({at} s) > 1 and strikeless < {at} s\n"));
    let text = format!("{HEAD}{}rule \"R\" if s1 or s3999 run depth 3 ft\n", windows.collect::<String>());
    look(text).is_fine();
}

#[test]
fn help_stays_short_however_many_words_there_are() {
    let words: Vec<String> = (0..5000).map(|at| format!("w{at}")).collect();
    let rules: String = (0..2000).map(|at| format!("rule \"{at}\" if mood is q_{at}_qqqq run depth 3 ft\n")).collect();
    let seen = look(format!("{HEAD}reading mood is one of {}\n{rules}", words.join(",")));
    assert!(seen.program.is_none() && seen.findings.len() >= 2000);
    let longest = seen.findings.iter().filter_map(|finding| finding.help.as_ref()).map(String::len).max();
    assert!(longest < Some(400), "{longest:?}");
    let aspects: String = (0..3000).map(|at| format!(" also own{at} w{at}\n")).collect();
    let rules: String = (0..2000).map(|at| format!("rule \"{at}\" run zzzzzz{at} w{at}\n")).collect();
    let seen = look(format!("{HEAD}{aspects}{rules}"));
    let longest = seen.findings.iter().filter_map(|finding| finding.help.as_ref()).map(String::len).max();
    assert!(seen.program.is_none() && longest < Some(600), "{longest:?}");
}
