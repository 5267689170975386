//! What a guide is told: the advice of the shipped strategies over the moments of Ossel Water, and telling single cases.
//!
//! Each is locked as it is printed on a terminal of 60 columns; some also as the JSON document. Read a changed one as a guide
//! would: is this what should be told? Ossel Water and its days are invented; the numbers of the strategies are one guide's
//! own, common practice, no source.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use std::path::{Path, PathBuf};
use std::sync::Arc;

use leadsman::advice::text::{Layout, tell};
use leadsman::advice::{Advice, LakeAdvice, Shown, advise};
use leadsman::check::{IncludeError, Includes, check_bytes};
use leadsman::program::{GivenTarget, Program};
use leadsman::session::{Event, Mode, Session, Setting};
use leadsman::source::given::Names;
use leadsman::source::readings::Readings;
use leadsman::source::water::Water;
use leadsman::vocabulary::catalogue::Known;
use leadsman::vocabulary::time::Instant;

const STRATEGIES: [&str; 3] = ["less_to_chase", "light_and_depth", "under_the_warm_lid"];
const DAYS: [&str; 4] = ["may_noon", "july_dawn", "august_afternoon", "october_blow"];

fn rules() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("rules")
}

fn ossel(file: &str) -> String {
    rules().join("ossel").join(file).to_string_lossy().into_owned()
}

/// The includes of the shipped strategies, shown by their path in that folder on every machine.
struct Folder;

impl Includes for Folder {
    fn read(&self, path: &str) -> Result<Vec<u8>, IncludeError> {
        std::fs::read(rules().join(path)).map_err(|_| IncludeError::Missing)
    }
}

fn program_of(name: &str, bytes: Vec<u8>) -> Arc<Program> {
    let checked = check_bytes(name, bytes, &Folder);
    let drawn = leadsman::findings::terminal::draw(&checked.findings, &checked.sources, false);
    checked.program.unwrap_or_else(|| panic!("{drawn}"))
}

fn shipped(name: &str) -> Arc<Program> {
    let file = format!("{name}.strategy");
    let bytes = std::fs::read(rules().join(&file)).expect("the strategy is there");
    program_of(&file, bytes)
}

fn water() -> Water {
    Water::read(&ossel("water.yaml")).expect("the water reads")
}

/// What the lake allows, as the commands show it.
fn shown(water: &Water) -> Shown {
    let rules = water.rules.as_ref().expect("rules");
    let lake = LakeAdvice {
        name: water.name.clone(),
        checked: Some(rules.checked.to_string()),
        source: rules.source.clone(),
        rules: rules.limits.clone(),
    };
    Shown { lake: Some(lake), figures: None }
}

fn at_sixty_columns(advice: &Advice) -> String {
    tell(advice, None, Layout { width: 60, bold: false, all_readings: false })
}

fn lock(name: &str, text: String) {
    insta::with_settings!({ omit_expression => true, prepend_module_to_snapshot => false, snapshot_path => "snapshots/advice" }, {
        insta::assert_snapshot!(name, text);
    });
}

fn lock_data(name: &str, advice: &Advice) {
    insta::with_settings!({ omit_expression => true, prepend_module_to_snapshot => false, snapshot_path => "snapshots/advice" }, {
        insta::assert_json_snapshot!(format!("{name}.json"), advice);
    });
}

/// What holds of every printed page, whatever it says.
fn is_a_page(page: &str, advice: &Advice) {
    for line in page.lines() {
        assert!(line.chars().count() <= 60, "a line of {} columns: {line}", line.chars().count());
        assert_eq!(line.trim_end(), line, "no blanks at the end of a line");
    }
    assert!(!page.contains("\n\n\n") && page.ends_with('\n'));
    let words = page.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    for promise in ["it is safe", "is safe to", "safe to go", "no danger"] {
        assert!(!words.contains(promise), "advice never says that it is safe");
    }
    assert!(words.contains("local rules, licences and the skipper's judgement come first"));
    for said in &advice.lines_up {
        assert!(page.contains("LINES UP") && words.contains(&said.text.to_lowercase()), "every stop is told");
    }
    for said in &advice.cautions {
        assert!(words.contains(&said.text.to_lowercase()), "every caution is told: {}", said.text);
    }
    // What is not ruled out stands ahead of the tactic.
    if let (Some(open), Some(tactic)) = (page.find("NOT RULED OUT"), page.find("\n  DEPTH ")) {
        assert!(open < tactic);
    }
    assert_eq!(page.contains("NOT RULED OUT"), !advice.not_ruled_out.is_empty());
}

// ---- The days of Ossel Water -------------------------------------------------------------------------------------------

#[test]
fn every_moment_of_ossel_water() {
    let water = water();
    for strategy in STRATEGIES {
        let program = shipped(strategy);
        for day in DAYS {
            let readings = Readings::read(&ossel(&format!("{day}.yaml")), water.setting.zone.as_ref()).expect(day);
            let mut names = Names::of(&program);
            let mut session = Session::alone(program.clone(), Arc::new(water.setting.clone()));
            for (number, moment) in readings.moments.iter().enumerate() {
                let events = names.moment(&readings.file, moment).expect(day);
                session.at(moment.at, events).expect("in the order of time");
                let advice = advise(&session, moment.at, &shown(&water));
                let page = at_sixty_columns(&advice);
                is_a_page(&page, &advice);
                let clock = moment.at.zoned(&moment.zone).strftime("%H%M").to_string();
                lock(&format!("{strategy}_{day}_{clock}"), page);
                if number + 1 == readings.moments.len() {
                    lock_data(&format!("{strategy}_{day}_{clock}"), &advice);
                }
            }
        }
    }
}

/// The same on the water: lines went in at the first moment, and the ladder has had its steps since.
#[test]
fn a_day_on_the_water() {
    let water = water();
    for (strategy, day) in [("less_to_chase", "may_noon"), ("under_the_warm_lid", "august_afternoon")] {
        let program = shipped(strategy);
        let readings = Readings::read(&ossel(&format!("{day}.yaml")), water.setting.zone.as_ref()).expect(day);
        let mut names = Names::of(&program);
        let mut session = Session::new(program, Arc::new(water.setting.clone()), Mode::Live);
        for (number, moment) in readings.moments.iter().enumerate() {
            let mut events = names.moment(&readings.file, moment).expect(day);
            if number == 0 {
                events.push(Event::Give(GivenTarget::Known(Known::LinesIn), Some(1)));
            }
            session.at(moment.at, events).expect("in the order of time");
            let advice = advise(&session, moment.at, &shown(&water));
            let page = at_sixty_columns(&advice);
            is_a_page(&page, &advice);
            let clock = moment.at.zoned(&moment.zone).strftime("%H%M").to_string();
            lock(&format!("on_the_water_{strategy}_{day}_{clock}"), page);
        }
    }
}

// ---- Single cases --------------------------------------------------------------------------------------------------------

/// The advice for some `--set NAME=VALUE`, without a water.
fn advice(program: &Arc<Program>, sets: &[&str]) -> Advice {
    let mut session = Session::alone(program.clone(), Arc::new(Setting::default()));
    let events = Names::of(program)
        .sets(sets)
        .unwrap_or_else(|faults| panic!("{:?}", faults.iter().next().map(ToString::to_string)));
    session.at(Instant(0), events).expect("the first moment");
    advise(&session, Instant(0), &Shown::default())
}

fn case(name: &str, program: &Arc<Program>, sets: &[&str]) -> Advice {
    let advice = advice(program, sets);
    let page = at_sixty_columns(&advice);
    is_a_page(&page, &advice);
    lock(name, page);
    lock_data(name, &advice);
    advice
}

#[test]
fn nothing_known() {
    for strategy in STRATEGIES {
        let advice = case(&format!("nothing_known_{strategy}"), &shipped(strategy), &[]);
        assert!(advice.lines_up.is_empty());
        assert!(
            advice.not_ruled_out.iter().any(|open| open.stops),
            "a stop whose condition is unknown is not ruled out"
        );
    }
}

#[test]
fn too_warm_to_release() {
    let advice = case(
        "lines_up_too_warm_to_release",
        &shipped("less_to_chase"),
        &["surface=69°F", "releasing=yes", "wind=24 mph"],
    );
    assert_eq!(advice.lines_up.len(), 2, "every stop is given with its reason");
    assert!(advice.tactic.iter().all(|aspect| aspect.value.is_none()), "under a stop no aspect has a value");
    assert_eq!(advice.ladders[0].rung.as_deref(), Some("fast"), "the rungs stand");
}

#[test]
fn a_stop_that_is_not_ruled_out() {
    let program = shipped("less_to_chase");
    let advice = case(
        "not_ruled_out_releasing_unknown",
        &program,
        &["surface=69 °F", "wind=3 mph", "waves=1 in", "bottom=80 ft"],
    );
    assert!(advice.lines_up.is_empty());
    let open: Vec<&str> = advice.not_ruled_out.iter().map(|open| open.by.name.as_str()).collect();
    assert_eq!(open, ["Turning warm for release", "Too warm to release", "No bait where it is not allowed"]);
}

fn own(name: &str, rules: &str) -> Arc<Program> {
    program_of("own.strategy", format!("strategy \"{name}\"\n{rules}").into_bytes())
}

#[test]
fn limits_that_meet_zero() {
    let program = own(
        "Limits",
        "rule \"Down there\" run depth 20 to 40 ft, speed 1 to 2 mph because \"They are down there.\"
         rule \"Off the bottom\" keep depth at most bottom - 6 ft because \"Room for the bottom to come up.\"
         rule \"Cold\" if surface < 43 °F run slower by 3 mph because \"Cold fish are slow fish.\"",
    );
    case("limits_within", &program, &["bottom=30 ft", "surface=50 °F"]);
    let zero = case("limits_at_zero", &program, &["bottom=6 ft", "surface=40 °F"]);
    assert_eq!(zero.tactic[0].printed.as_deref(), Some("0 ft"));
    assert_eq!(zero.tactic[1].printed.as_deref(), Some("0.0 mph"), "nothing runs below zero");
    let nothing = case("limits_below_zero_leave_nothing", &program, &["bottom=4 ft", "surface=50 °F"]);
    assert_eq!(nothing.tactic[0].printed, None);
    case("limit_of_unknown_amount", &program, &["surface=50 °F"]);
}

#[test]
fn limits_that_contradict() {
    let program = own(
        "Contradiction",
        "rule \"Down there\" run depth 20 to 40 ft
         rule \"Under the warm water\" if surface > 62 °F keep depth at least depth_of(62 °F)
         rule \"Off the bottom\" keep depth at most bottom - 6 ft",
    );
    case("limits_contradict", &program, &["surface=70 °F", "depth_of(62 °F)=31 ft", "bottom=24 ft"]);
}

#[test]
fn alternatives_taken_out() {
    let program = own(
        "Lures",
        "rule \"Bait first\" run lure natural_bait, colour silver or gold
         rule \"Spoons too\" run lure spoon or natural_bait or plug
         rule \"No bait\" if not bait_allowed keep lure not natural_bait because \"The lake does not allow it.\"
         rule \"No gold\" if marks keep colour not gold",
    );
    let advice = case("alternatives_partly_taken_out", &program, &["bait_allowed=no", "marks=yes"]);
    assert_eq!(advice.tactic[0].printed.as_deref(), Some("spoon or plug"));
    assert_eq!(advice.tactic[0].passed_over[0].name, "Bait first");
    assert_eq!(advice.tactic[1].printed.as_deref(), Some("silver"));
}

#[test]
fn a_ladder_without_an_open_rung() {
    let program = own(
        "Closed",
        "ladder pace \"Less to chase\"
           rung brisk run speed 2.6 to 3.6 mph only if marks
           rung bait run speed 0.9 to 1.4 mph, lure natural_bait only if bait_allowed
           step down if strikeless at least 30 min
         rule \"Otherwise\" run speed 2 mph because \"A fair speed.\"
         rule \"On bait\" if pace is bait run path weaving",
    );
    let advice = case("no_rung_is_open", &program, &["marks=no", "bait_allowed=no"]);
    assert_eq!((advice.ladders[0].rung.as_deref(), advice.tactic[0].printed.as_deref()), (None, Some("2.0 mph")));
    case("a_rung_is_closed_by_an_unknown", &program, &["bait_allowed=yes"]);
    case("down_the_ladder_without_a_session", &program, &["marks=yes", "bait_allowed=yes", "strikeless=40 min"]);
}

#[test]
fn values_that_are_not_there() {
    let program = own(
        "Missing",
        "rule \"Between\" if marks run depth mark_depth to bottom - 6 ft, size 2 in
         rule \"Deeper\" run deeper by waves * 3
         rule \"Longer\" if marks run longer by 10 ft",
    );
    case("a_range_came_out_reversed", &program, &["marks=yes", "mark_depth=50 ft", "bottom=40 ft", "waves=4 in"]);
    case("a_value_is_unknown", &program, &["marks=yes", "bottom=40 ft"]);
    case("nothing_decides", &program, &["marks=no", "waves=4 in"]);
}

#[test]
fn a_threshold_near_by() {
    let program = own(
        "Near",
        "rule \"Cool\" if surface at most 62 °F run depth 2 to 28 ft
         rule \"Warm\" run depth 30 to 50 ft
         rule \"Hot\" if surface at least 63 °F and releasing caution \"Warm for release.\"",
    );
    case("near_a_threshold", &program, &["surface=61.5 °F", "releasing=yes"]);
    case("on_a_threshold", &program, &["surface=62 °F", "releasing=yes"]);
}
