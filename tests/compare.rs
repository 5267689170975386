//! Two strategies on the same days: what is counted, that nothing hangs on which is called A, on threads or on the order
//! of work, and what a comparison says of what it left out.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use leadsman::check::check_with_lets;
use leadsman::compare::season::Season;
use leadsman::compare::tested::{CellSaid, Contrast, Rate};
use leadsman::compare::{Comparison, Side, Sides};
use leadsman::day::log::{self, Log};
use leadsman::day::replay::text::PassedOver;
use leadsman::program::Program;
use leadsman::session::Setting;
use leadsman::source::strategies::FolderIncludes;
use leadsman::source::water::Water;

const RULES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/rules");
const SPOILED: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/day/spoiled.yaml");

fn program(file: &str, text: &str, lets: &[String]) -> Arc<Program> {
    let includes = FolderIncludes::new(Path::new(RULES)).unwrap();
    let checked = check_with_lets(file, text.as_bytes().to_vec(), &includes, lets);
    let drawn = leadsman::findings::terminal::draw(&checked.findings, &checked.sources, false);
    checked.program.unwrap_or_else(|| panic!("{drawn}"))
}

/// A strategy written here.
fn written(file: &str, text: &str) -> Side {
    Side { program: program(file, text, &[]), file: file.to_owned(), lets: Vec::new() }
}

/// One that is shipped, with changed lets.
fn shipped_with(name: &str, lets: &[&str]) -> Side {
    let file = format!("rules/{name}.strategy");
    let text = std::fs::read_to_string(format!("{RULES}/{name}.strategy")).unwrap();
    let lets: Vec<String> = lets.iter().map(|text| (*text).to_owned()).collect();
    Side { program: program(&file, &text, &lets), file, lets }
}

fn shipped(name: &str) -> Side {
    shipped_with(name, &[])
}

fn ossel() -> Setting {
    Water::read(&format!("{RULES}/ossel/water.yaml")).unwrap().setting
}

fn days() -> Vec<String> {
    log::find(&format!("{RULES}/ossel/days")).unwrap()
}

fn compare(a: Side, b: Side, setting: &Setting, logs: &[String]) -> Comparison {
    let sides = Sides::new(a, b);
    let mut season = Season::new(&sides);
    let read = |path: &String| (path.clone(), Log::read(path, setting.zone.as_ref()));
    season.read_all(logs, setting, &read, &mut |_| true);
    season.finish()
}

/// Logs that are written here, by name.
fn compare_written(a: Side, b: Side, logs: &[(&str, String)]) -> Comparison {
    let sides = Sides::new(a, b);
    let mut season = Season::new(&sides);
    let read =
        |(name, text): &(&str, String)| ((*name).to_owned(), Log::of_bytes(name, text.clone().into_bytes(), None));
    season.read_all(logs, &Setting::default(), &read, &mut |_| true);
    season.finish()
}

fn cell<'c>(comparison: &'c Comparison, aspect: Option<&str>, within: &str) -> &'c CellSaid {
    let split = comparison.fish.iter().find(|split| split.aspect.as_deref() == aspect).unwrap();
    split.cells.iter().find(|cell| cell.within == within).unwrap()
}

/// Rod-hours, strikes and fish of each cell, in the order `both`, `only_a`, `only_b`, `neither`, `unsaid`.
fn cells(comparison: &Comparison, aspect: Option<&str>) -> Vec<(f64, u64, u64)> {
    let split = comparison.fish.iter().find(|split| split.aspect.as_deref() == aspect).unwrap();
    split.cells.iter().map(|cell| (cell.rod_hours, cell.strikes.count, cell.landed.count)).collect()
}

// ---- What is counted ----------------------------------------------------------------------------------------------------

const A: &str = "strategy \"A\" units us
rule \"high\" run depth 10 to 20 ft, lure spoon
";

/// What it calls changes at 07:00 with the marks.
const B: &str = "strategy \"B\" units us
rule \"marks\" if marks run depth 20 to 30 ft, lure spoon or plug
rule \"none\" run depth 40 to 50 ft, lure spoon or plug
";

const MORNING: &str = "zone: \"-07:00\"
date: 2026-05-14
events:
- {at: \"06:00\", lines: in}
- {at: \"06:00\", readings: {marks: yes}}
- {at: \"06:00\", rod: r1, depth: 20 ft, lure: spoon}
- {at: \"06:00\", rod: r2, depth: 30 ft, lure: plug}
- {at: \"06:30\", strike: r1}
- {at: \"06:30\", readings: {marks: yes}}
- {at: \"06:35\", landed: r1}
- {at: \"07:00\", readings: {marks: no}}
- {at: \"07:00\", strike: r2}
- {at: \"07:20\", strike: r1}
- {at: \"07:30\", strike: r2}
- {at: \"07:30\", rod: r2, depth: 45 ft}
- {at: \"07:31\", landed: r2}
- {at: \"07:45\", rod: r1, up: yes}
- {at: \"07:50\", strike: r2}
- {at: \"07:52\", landed: r2}
- {at: \"08:00\", lines: out}
";

#[test]
fn rod_hours_strikes_and_fish_are_what_a_hand_counts() {
    let comparison =
        compare_written(written("a.strategy", A), written("b.strategy", B), &[("day.yaml", MORNING.to_owned())]);
    assert_eq!((comparison.days, comparison.skipped_count), (1, 0));
    assert_eq!(comparison.lines_in_hours, 2.0);
    // A calls 10 to 20 ft all day; B 20 to 30 ft to 07:00, then 40 to 50 ft. The ends of a range are within it.
    // r1 at 20 ft: 06:00 to 07:00 within both, 1 h; 07:00 to 07:45, where it comes up, within A's alone, 0.75 h.
    // r2 at 30 ft: 06:00 to 07:00 within B's alone, 1 h; 07:00 to 07:30 within neither, 0.5 h.
    // r2 at 45 ft: 07:30 to 08:00 within B's alone, 0.5 h.
    //
    // Strikes: r1 06:30 both, 07:20 A's alone; r2 07:00, the very instant at which B's call changes, counts to the call
    // before: B's alone; 07:30, the very instant at which r2 goes deeper, to what it ran before: neither; 07:50 B's alone.
    // Fish count to their rod's oldest strike that has none: r1's of 06:35 to 06:30, both; r2's of 07:31 to 07:00 and that
    // of 07:52 to 07:30, B's alone and neither.
    let depth = vec![(1.0, 1, 1), (0.75, 1, 0), (1.5, 2, 1), (0.5, 1, 1), (0.0, 0, 0)];
    assert_eq!(cells(&comparison, Some("depth")), depth);
    // The spoon is within both, r1's 1.75 h with 2 strikes and a fish; the plug within B's alone, r2's 2 h, 3 strikes, 2 fish.
    let lure = vec![(1.75, 2, 1), (0.0, 0, 0), (2.0, 3, 2), (0.0, 0, 0), (0.0, 0, 0)];
    assert_eq!(cells(&comparison, Some("lure")), lure);
    // Where the depth is within A's call the spoon is too, and B's lures never were outside: the whole is as the depth.
    assert_eq!(cells(&comparison, None), depth);
    // A's alone 1 in 0.75 h, B's alone 2 in 1.5 h: the same rate. Of 3 strikes as A's has a third of the time, 1 or more
    // come with 19 in 27, 1 or fewer with 20 in 27: twice the smaller is more than 1.
    let strikes = &comparison.fish[0].strikes;
    assert_eq!((strikes.ratio, strikes.p, strikes.tells_apart), (Some(1.0), Some(1.0), false));
    assert_eq!(cell(&comparison, None, "only_b").strikes.per_hour, Some(2.0 / 1.5));
    // They differ all the time, in the depth and in the lure: 2 h each.
    let differences = &comparison.differences;
    assert_eq!((differences.whole.agree_hours, differences.whole.differ_hours), (0.0, 2.0));
    let stretches: Vec<(&str, f64, &str, &str)> = differences
        .stretches
        .iter()
        .map(|stretch| {
            (stretch.aspect.as_str(), stretch.minutes, stretch.a.printed.as_str(), stretch.b.printed.as_str())
        })
        .collect();
    let wanted = [
        ("depth", 60.0, "10 to 20 ft", "20 to 30 ft"),
        ("lure", 60.0, "spoon", "plug or spoon"),
        ("depth", 60.0, "10 to 20 ft", "40 to 50 ft"),
        ("lure", 60.0, "spoon", "plug or spoon"),
    ];
    assert_eq!(stretches, wanted);
    assert_eq!(differences.stretches[2].tipped[0].by[0].printed, "marks no, before yes");
    assert_eq!(differences.stretches[2].tipped[0].strategy, "b");
}

#[test]
fn a_strike_that_nobody_saw_counts_where_every_rod_was_within_the_same() {
    let b = || written("b.strategy", B);
    let day = |rods: &str| {
        format!(
            "zone: \"-07:00\"\nevents:\n- {{at: \"2026-05-14T06:00\", lines: in}}\n\
             - {{at: \"2026-05-14T06:00\", readings: {{marks: yes}}}}\n{rods}\
             - {{at: \"2026-05-14T06:20\", strike: yes}}\n- {{at: \"2026-05-14T06:21\", landed: yes}}\n\
             - {{at: \"2026-05-14T06:30\", lines: out}}\n"
        )
    };
    let rod =
        |name: &str, depth: &str| format!("- {{at: \"2026-05-14T06:00\", rod: {name}, depth: {depth}, lure: spoon}}\n");
    let same = day(&(rod("r1", "12 ft") + &rod("r2", "15 ft")));
    let comparison = compare_written(written("a.strategy", A), b(), &[("day.yaml", same)]);
    assert_eq!(cells(&comparison, None)[1], (1.0, 1, 1));
    assert_eq!((comparison.strikes_unplaced, comparison.landed_unplaced), (0, 0));
    let apart = day(&(rod("r1", "12 ft") + &rod("r2", "25 ft")));
    let comparison = compare_written(written("a.strategy", A), b(), &[("day.yaml", apart)]);
    assert_eq!((comparison.strikes_unplaced, comparison.landed_unplaced), (1, 1));
    assert!(cells(&comparison, None).iter().all(|(_, strikes, landed)| (*strikes, *landed) == (0, 0)));
    assert!(comparison.proof.iter().any(|words| words.starts_with("1 strike was on a rod that nobody saw")));
}

#[test]
fn what_nobody_wrote_down_is_not_said_and_lines_up_is_nobodys_call() {
    let stops =
        "strategy \"B\" units us\nrule \"high\" run depth 10 to 20 ft\nrule \"calm\" if marks stop \"Enough.\"\n";
    let day = "zone: \"-07:00\"\nevents:\n- {at: \"2026-05-14T06:00\", lines: in}\n- {at: \"2026-05-14T06:00\", rod: r1, lure: spoon}\n\
         - {at: \"2026-05-14T06:30\", rod: r1, depth: 12 ft}\n- {at: \"2026-05-14T07:00\", readings: {marks: yes}}\n\
         - {at: \"2026-05-14T07:30\", lines: out}\n";
    let comparison =
        compare_written(written("a.strategy", A), written("b.strategy", stops), &[("day.yaml", day.to_owned())]);
    // 06:00 to 06:30 nobody said how deep; then 12 ft, within both to 07:00; from there B has lines up, and A's alone is left.
    assert_eq!(cells(&comparison, Some("depth")), [(0.5, 0, 0), (0.5, 0, 0), (0.0, 0, 0), (0.0, 0, 0), (0.5, 0, 0)]);
    assert_eq!(comparison.differences.only_a, ["lure"]);
    let stretch = &comparison.differences.stretches[0];
    assert_eq!((stretch.b.printed.as_str(), &stretch.b.value, stretch.minutes), ("lines up", &None, 30.0));
}

// ---- Either way round, on any number of threads ---------------------------------------------------------------------------

#[test]
fn a_strategy_against_itself_shows_no_difference() {
    for name in ["less_to_chase", "light_and_depth", "under_the_warm_lid"] {
        let comparison = compare(shipped(name), shipped(name), &ossel(), &days());
        let found = &comparison.differences;
        assert_eq!((found.whole.differ_hours, found.stretches.len(), found.pairs.len()), (0.0, 0, 0), "{name}");
        assert!((found.whole.agree_hours - comparison.lines_in_hours).abs() < 1e-9);
        assert!(found.aspects.iter().all(|aspect| aspect.time.differ_hours == 0.0));
        assert!(found.only_a.is_empty() && found.only_b.is_empty());
        let mut fished = 0.0;
        for split in &comparison.fish {
            for cell in split.cells.iter().filter(|cell| cell.within.starts_with("only")) {
                assert_eq!((cell.rod_hours, cell.strikes.count, cell.landed.count), (0.0, 0, 0), "{name}");
            }
            fished += split.cells[0].rod_hours;
            assert_eq!((split.strikes.p, split.strikes.ratio, split.strikes.tells_apart), (None, None, false));
        }
        assert!(fished > 0.0, "some rod ran what {name} calls");
        assert!(comparison.proof[0].starts_with("No rod ran within either call without"), "{}", comparison.proof[0]);
    }
}

fn close(a: Option<f64>, b: Option<f64>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= 1e-9 * a.abs().max(b.abs()),
        (a, b) => a == b,
    }
}

/// One over a ratio; that without end is none, as one over nothing is.
fn inverse(ratio: Option<f64>) -> Option<f64> {
    match ratio {
        None => Some(0.0),
        Some(0.0) => None,
        Some(ratio) => Some(1.0 / ratio),
    }
}

/// `mirrored` is what the other way round says: ratios inverted, their limits too and in each other's place.
fn assert_mirrored(place: &str, contrast: &Contrast, mirrored: &Contrast) {
    assert!(close(contrast.p, mirrored.p), "{place}: {contrast:?} {mirrored:?}");
    assert_eq!(contrast.tells_apart, mirrored.tells_apart, "{place}");
    assert!(close(contrast.more_rod_hours, mirrored.more_rod_hours), "{place}: {contrast:?} {mirrored:?}");
    if contrast.low.is_none() {
        assert_eq!((contrast.ratio, contrast.high), (None, None), "{place}");
        assert_eq!((mirrored.ratio, mirrored.low, mirrored.high), (None, None, None), "{place}");
    } else {
        assert!(close(inverse(contrast.ratio), mirrored.ratio), "{place}: {contrast:?} {mirrored:?}");
        assert!(close(inverse(contrast.high), mirrored.low), "{place}: {contrast:?} {mirrored:?}");
        assert!(close(inverse(contrast.low), mirrored.high), "{place}: {contrast:?} {mirrored:?}");
    }
    match (&contrast.pooled, &mirrored.pooled) {
        (Some(pooled), Some(mirrored)) => {
            assert!(close(Some(1.0 / pooled.ratio), Some(mirrored.ratio)), "{place}: {pooled:?} {mirrored:?}");
            assert!(close(Some(1.0 / pooled.low), Some(mirrored.high)), "{place}: {pooled:?} {mirrored:?}");
            assert!(close(Some(1.0 / pooled.high), Some(mirrored.low)), "{place}: {pooled:?} {mirrored:?}");
            assert_eq!(pooled.strata, mirrored.strata, "{place}");
            let tests = pooled.homogeneity.zip(mirrored.homogeneity);
            assert_eq!(pooled.homogeneity.is_some(), mirrored.homogeneity.is_some(), "{place}");
            assert!(tests.is_none_or(|(a, b)| (a.statistic - b.statistic).abs() < 1e-6 && a.degrees == b.degrees));
        }
        (pooled, mirrored) => assert_eq!(pooled, mirrored, "{place}"),
    }
}

fn by_name(cells: &[CellSaid], swap: bool) -> BTreeMap<&'static str, (f64, Rate, Rate)> {
    let name = |name: &'static str| match (name, swap) {
        ("only_a", true) => "only_b",
        ("only_b", true) => "only_a",
        (name, _) => name,
    };
    cells.iter().map(|cell| (name(cell.within), (cell.rod_hours, cell.strikes, cell.landed))).collect()
}

#[test]
fn the_other_way_round_is_the_mirror() {
    let names = ["less_to_chase", "light_and_depth", "under_the_warm_lid"];
    for (a, b) in [(0, 1), (1, 2), (0, 2)] {
        let one = compare(shipped(names[a]), shipped(names[b]), &ossel(), &days());
        let other = compare(shipped(names[b]), shipped(names[a]), &ossel(), &days());
        assert_eq!((&one.a, &one.b), (&other.b, &other.a));
        assert_eq!(
            (one.days, &one.from, &one.to, one.lines_in_hours),
            (other.days, &other.from, &other.to, other.lines_in_hours)
        );
        assert_eq!(one.differences.whole, other.differences.whole);
        assert_eq!(
            (&one.differences.only_a, &one.differences.only_b),
            (&other.differences.only_b, &other.differences.only_a)
        );
        let times = |comparison: &Comparison| -> BTreeMap<String, _> {
            comparison.differences.aspects.iter().map(|one| (one.aspect.clone(), one.time)).collect()
        };
        assert_eq!(times(&one), times(&other));
        let pairs = |comparison: &Comparison, swap: bool| -> Vec<String> {
            let pair = |pair: &leadsman::compare::PairSaid| {
                let (a, b) = if swap { (&pair.b, &pair.a) } else { (&pair.a, &pair.b) };
                format!("{} {a:?} {b:?} {}", pair.aspect, pair.hours)
            };
            let mut pairs: Vec<String> = comparison.differences.pairs.iter().map(pair).collect();
            pairs.sort();
            pairs
        };
        // Of pairs that cost as much as the last one that is shown either may be left out.
        if one.differences.pairs.len() < 20 {
            assert_eq!(pairs(&one, false), pairs(&other, true));
        }
        let stretches = |comparison: &Comparison, swap: bool| -> Vec<String> {
            let stretch = |stretch: &leadsman::compare::differ::Stretch| {
                let (a, b) = if swap { (&stretch.b, &stretch.a) } else { (&stretch.a, &stretch.b) };
                let mut tips: Vec<String> = stretch
                    .tipped
                    .iter()
                    .map(|tipped| format!("{} {:?}", (tipped.strategy == "a") != swap, tipped.by))
                    .collect();
                tips.sort();
                format!("{} {} {} {a:?} {b:?} {tips:?}", stretch.from, stretch.to, stretch.aspect)
            };
            let mut stretches: Vec<String> = comparison.differences.stretches.iter().map(stretch).collect();
            stretches.sort();
            stretches
        };
        assert_eq!(stretches(&one, false), stretches(&other, true));
        assert!(!one.differences.stretches.is_empty());
        assert_eq!((one.strikes_unplaced, one.landed_unplaced), (other.strikes_unplaced, other.landed_unplaced));
        assert_eq!(one.fish.len(), other.fish.len());
        for split in &one.fish {
            let mirror = other.fish.iter().find(|other| other.aspect == split.aspect).unwrap();
            let place = format!("{} {} {:?}", names[a], names[b], split.aspect);
            assert_eq!(by_name(&split.cells, false), by_name(&mirror.cells, true), "{place}");
            assert_mirrored(&place, &split.strikes, &mirror.strikes);
            assert_mirrored(&place, &split.landed, &mirror.landed);
        }
        assert_eq!(one.by_light.len(), other.by_light.len());
        for (row, mirror) in one.by_light.iter().zip(&other.by_light) {
            assert_eq!((row.light, by_name(&row.cells, false)), (mirror.light, by_name(&mirror.cells, true)));
        }
        let (Some(contest), Some(mirror)) = (&one.contest, &other.contest) else {
            panic!("the scenario has a contest");
        };
        assert_eq!((contest.days, contest.strata, &contest.left_out), (mirror.days, mirror.strata, &mirror.left_out));
        assert_eq!((&contest.a, &contest.b), (&mirror.b, &mirror.a));
        assert_mirrored("contest", &contest.ratio, &mirror.ratio);
        if let (Some(lot), Some(mirror)) = (&contest.lot, &mirror.lot) {
            assert!(
                close(Some(lot.p_a), Some(mirror.p_b)) && close(Some(lot.p_b), Some(mirror.p_a)),
                "{lot:?} {mirror:?}"
            );
            assert!(close(Some(lot.p), Some(mirror.p)) && close(Some(lot.smallest), Some(mirror.smallest)));
        }
        assert!(close(Some(contest.evidence.p), Some(mirror.evidence.p)));
        assert!(close(Some(contest.evidence.now), Some(mirror.evidence.now)));
    }
}

#[test]
fn any_number_of_threads_gives_the_same() {
    let mut logs = Vec::new();
    for _ in 0..2 {
        logs.extend(days());
        logs.push(SPOILED.to_owned());
    }
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let comparison =
            pool.install(|| compare(shipped("less_to_chase"), shipped("light_and_depth"), &ossel(), &logs));
        serde_json::to_string(&comparison).unwrap()
    };
    let one = with(1);
    assert_eq!(one, with(2));
    assert_eq!(one, with(7));
}

// ---- What is left out is said ------------------------------------------------------------------------------------------

#[test]
fn a_log_of_another_strategys_own_readings_says_what_was_passed_over() {
    let comparison = compare(shipped("less_to_chase"), written("a.strategy", A), &ossel(), &days());
    // The days' logs have the fish's mood, which the strategies that ask for it declare; these two do not.
    let mood: usize = days().iter().map(|day| std::fs::read_to_string(day).unwrap().matches("mood").count()).sum();
    assert!(mood > 10);
    for side in [&comparison.a, &comparison.b] {
        assert_eq!(side.passed_over, [PassedOver { reading: "mood".to_owned(), values: mood as u64 }], "{}", side.file);
    }
    assert_eq!(comparison.days, 5);
    let told = leadsman::compare::text::tell(&comparison, 100);
    assert!(told.contains("without the log's mood"), "{told}");
}

#[test]
fn a_folder_with_a_spoiled_log_names_it_and_compares_the_others() {
    let folder = tempfile::tempdir().unwrap();
    for day in days() {
        let name = Path::new(&day).file_name().unwrap();
        std::fs::copy(&day, folder.path().join(name)).unwrap();
    }
    std::fs::create_dir(folder.path().join("july")).unwrap();
    std::fs::copy(SPOILED, folder.path().join("july/spoiled.yaml")).unwrap();
    let logs = log::find(&folder.path().to_string_lossy()).unwrap();
    let comparison = compare(shipped("less_to_chase"), shipped("light_and_depth"), &ossel(), &logs);
    assert_eq!((comparison.days, comparison.skipped_count), (5, 1));
    assert!(comparison.skipped[0].log.ends_with("july/spoiled.yaml"));
    let why = &comparison.skipped[0].why;
    assert!(why.contains("spoiled.yaml:") && why.contains("(did you mean") && !why.contains('\n'), "{why}");
    let alone = compare(shipped("less_to_chase"), shipped("light_and_depth"), &ossel(), &days());
    assert_eq!((&comparison.fish, &comparison.proof), (&alone.fish, &alone.proof), "the others are as without it");
    assert!(leadsman::compare::text::tell(&comparison, 100).contains("NOT COMPARED"));
}

#[test]
fn changed_lets_make_another_strategy_and_are_named() {
    let lets = ["cool = depth_of(60 °F)"];
    let comparison =
        compare(shipped("under_the_warm_lid"), shipped_with("under_the_warm_lid", &lets), &ossel(), &days());
    assert_eq!(
        (comparison.a.lets.len(), comparison.b.lets.as_slice()),
        (0, &["cool = depth_of(60 °F)".to_owned()][..])
    );
    let found = &comparison.differences;
    assert!(found.whole.differ_hours > 0.0 && found.whole.agree_hours > 0.0, "{found:?}");
    assert!(found.stretches.iter().any(|stretch| stretch.aspect == "depth"), "{found:?}");
    // A let that says what it said before changes nothing.
    let same = ["cool = depth_of(65 °F)"];
    let comparison =
        compare(shipped("under_the_warm_lid"), shipped_with("under_the_warm_lid", &same), &ossel(), &days());
    assert_eq!(comparison.differences.whole.differ_hours, 0.0);
}

#[test]
fn a_log_with_a_wrong_year_is_told_and_not_gone_through() {
    let day = "zone: \"-07:00\"\nevents:\n- {at: \"2026-05-14T06:00\", lines: in}\n- {at: \"2062-05-14T08:00\", lines: out}\n";
    let comparison =
        compare_written(written("a.strategy", A), written("b.strategy", B), &[("day.yaml", day.to_owned())]);
    assert_eq!((comparison.days, comparison.skipped_count), (0, 1));
    let why = &comparison.skipped[0].why;
    assert!(why.starts_with("day.yaml:4:3: this event is more than a week after the first of the log"), "{why}");
}

#[test]
fn a_log_with_more_rods_than_any_boat_is_told() {
    let rods: String = (0..101).map(|n| format!("- {{at: \"2026-05-14T06:00\", rod: r{n}, depth: 12 ft}}\n")).collect();
    let day = format!("zone: \"-07:00\"\nevents:\n- {{at: \"2026-05-14T06:00\", lines: in}}\n{rods}");
    let comparison = compare_written(written("a.strategy", A), written("b.strategy", B), &[("day.yaml", day)]);
    let why = &comparison.skipped[0].why;
    assert!(why.starts_with("day.yaml:104:3: rod `r100` is one more than the 100"), "{why}");
}

// ---- The fair contest ---------------------------------------------------------------------------------------------------

const HIGH: &str = "strategy \"High\" units us\nrule \"only\" run depth 10 to 20 ft\n";
const LOW: &str = "strategy \"Low\" units us\nrule \"only\" run depth 30 to 40 ft\n";

/// Four half hours for the whole boat, drawn ABBA, and two by port and starboard: a strike at each clock of a rod.
fn contest(a: &str, b: &str, strikes: &[(&str, &str)]) -> String {
    let mut text = format!(
        "zone: \"-07:00\"\ndate: 2026-05-14\ncontest:\n  a: {a}\n  b: {b}\n  seed: 1\n  units:\n\
         \x20 - {{from: \"06:00\", to: \"06:30\", light: low_sun, run: A}}\n\
         \x20 - {{from: \"06:30\", to: \"07:00\", light: low_sun, run: B}}\n\
         \x20 - {{from: \"07:00\", to: \"07:30\", light: low_sun, run: B}}\n\
         \x20 - {{from: \"07:30\", to: \"08:00\", light: low_sun, run: A}}\n\
         \x20 - {{from: \"08:00\", to: \"08:30\", light: high_sun, rod: port, side: port, run: A}}\n\
         \x20 - {{from: \"08:30\", to: \"09:00\", light: high_sun, rod: port, side: port, run: B}}\n\
         events:\n"
    );
    let rods = "- {at: \"06:00\", lines: in}\n- {at: \"06:00\", rod: port, depth: 15 ft}\n- {at: \"06:00\", rod: starboard, depth: 35 ft}\n";
    text.push_str(rods);
    for (clock, what) in strikes {
        text.push_str(&format!("- {{at: \"{clock}\", {what}}}\n"));
    }
    text.push_str("- {at: \"09:00\", lines: out}\n");
    text
}

/// 2 and 1 strikes in A's half hours, none in B's; then 1 in port's for A, none in its for B.
const STRIKES: [(&str, &str); 6] = [
    ("06:10", "strike: port"),
    ("06:30", "strike: starboard"),
    ("06:34", "landed: starboard"),
    ("07:40", "strike: port"),
    ("08:10", "strike: port"),
    ("08:20", "strike: starboard"),
];

#[test]
fn a_tiny_contest_is_what_a_hand_enumerates() {
    let day = contest("high.strategy", "low.strategy", &STRIKES);
    let comparison =
        compare_written(written("high.strategy", HIGH), written("low.strategy", LOW), &[("day.yaml", day)]);
    let found = comparison.contest.unwrap();
    assert_eq!((found.days, found.strata, found.left_out.len()), (1, 2, 0));
    // Both rods through 06:00 to 06:30 and 07:30 to 08:00: 2 rod-hours of A's, and 0.5 of port; B's likewise.
    assert_eq!((found.a.units, found.a.rod_hours, found.b.units, found.b.rod_hours), (3, 2.5, 3, 2.5));
    // The strike at 06:30 sharp is on what ran before, A's; its fish of 06:34 counts to the same. Starboard at 08:20 is of
    // no unit, port alone was drawn then.
    assert_eq!((found.a.strikes.count, found.a.landed.count, found.b.strikes.count), (4, 1, 0));
    // A's call was followed by port, 10 to 20 ft, not by starboard: 1 h of 2, and port's 0.5 h: 1.5 of 2.5.
    assert!(close(found.a.followed, Some(1.5 / 2.5)), "{:?}", found.a.followed);
    // B's by starboard: 1 h of 2, and port's 0.5 h is not.
    assert!(close(found.b.followed, Some(1.0 / 2.5)), "{:?}", found.b.followed);
    // Of four half hours with 2, 0, 0 and 1 strikes two are A's: 6 ways, of which one gives A all three. Of port's two one:
    // 2 ways, of which one gives A the strike. A has all 4 of 4 in 1 way of 12; that is as much as it can have.
    let lot = found.lot.unwrap();
    assert!(close(Some(lot.p_a), Some(1.0 / 12.0)), "{lot:?}");
    assert!(close(Some(lot.p_b), Some(1.0)), "{lot:?}");
    assert!(close(Some(lot.p), Some(2.0 / 12.0)), "{lot:?}");
    // The most telling fall of the lot gives A all or nothing, 1 way of 12 each; doubled.
    assert!(close(Some(lot.smallest), Some(2.0 / 12.0)), "{lot:?}");
    assert!(found.evidence.p <= 1.0 && found.evidence.now > 1.0, "{:?}", found.evidence);
    assert!(comparison.proof.iter().any(|words| words.contains("could not have proved anything")));
}

#[test]
fn a_sheet_in_the_other_order_is_turned_and_one_of_other_strategies_is_left_out() {
    let sides = || (written("high.strategy", HIGH), written("low.strategy", LOW));
    let day = contest("rules/low.strategy", "elsewhere/high.strategy", &STRIKES);
    let found = compare_written(sides().0, sides().1, &[("day.yaml", day)]).contest.unwrap();
    // A of the sheet is the comparison's B.
    assert_eq!((found.a.strikes.count, found.b.strikes.count), (0, 4));
    assert!(close(Some(found.lot.unwrap().p_b), Some(1.0 / 12.0)));
    let logs = [
        ("one.yaml", contest("high.strategy", "low.strategy", &STRIKES)),
        ("other.yaml", contest("high.strategy", "deeper.strategy", &STRIKES)),
    ];
    let comparison = compare_written(sides().0, sides().1, &logs);
    assert_eq!(comparison.days, 2, "its day counts for all else");
    let found = comparison.contest.unwrap();
    assert_eq!((found.days, found.a.strikes.count), (1, 4));
    assert_eq!(found.left_out[0].log, "other.yaml");
    assert_eq!(found.left_out[0].why, "its sheet is of high.strategy and deeper.strategy");
    let said = "other.yaml is no part of the contest: its sheet is of high.strategy and deeper.strategy.";
    assert!(comparison.proof.iter().any(|words| words == said), "{:?}", comparison.proof);
    // Lets that were changed make another strategy than the sheet's.
    let changed = Side { lets: vec!["x = 1".to_owned()], ..sides().1 };
    let logs = [("one.yaml", contest("high.strategy", "low.strategy", &STRIKES))];
    let found = compare_written(sides().0, changed, &logs).contest.unwrap();
    assert_eq!((found.days, found.left_out.len(), found.lot), (0, 1, None));
}
