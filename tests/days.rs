//! The scenario's days as they are told: each replayed, and two strategies compared on each.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::sync::Arc;

use insta::{assert_snapshot, glob};
use leadsman::advice::Shown;
use leadsman::check::check_bytes;
use leadsman::compare::season::Season;
use leadsman::compare::{Side, Sides, text};
use leadsman::day::log::Log;
use leadsman::day::replay::Timeline;
use leadsman::day::replay::text::Replayed;
use leadsman::program::Program;
use leadsman::source::strategies::StrategyFile;
use leadsman::source::water::Water;

const A: &str = "rules/less_to_chase.strategy";
const B: &str = "rules/light_and_depth.strategy";

fn program(path: &str) -> Arc<Program> {
    let file = StrategyFile::read(path).unwrap();
    check_bytes(path, file.bytes, &file.includes).program.unwrap()
}

#[test]
fn each_day_is_told() {
    let setting = Water::read("rules/ossel/water.yaml").unwrap().setting;
    let side = |path: &str| Side { program: program(path), file: path.to_owned(), lets: Vec::new() };
    let mut days = 0;
    glob!("../rules/ossel/days", "*.yaml", |path| {
        days += 1;
        let name = format!("rules/ossel/days/{}", path.file_name().unwrap().to_string_lossy());
        let read = || Log::read(&name, setting.zone.as_ref()).unwrap();
        let log = read();
        let timeline = Timeline::of(&program(A), &setting, &log, Some(&Shown::default())).unwrap();
        assert_snapshot!("replayed", Replayed::of(timeline, &log).text(80));
        let mut season = Season::new(&Sides::new(side(A), side(B)));
        season.read_all(&[()], &setting, &|()| (name.clone(), Ok(read())), &mut |_| true);
        assert_snapshot!("compared", text::tell(&season.finish(), 80));
    });
    assert!(days >= 4, "{days} days");
}
