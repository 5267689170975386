//! How long a day's log takes: to read, to replay, to compare two strategies on.
//!
//! A day of ten hours with readings each second, and a day as `watch` writes it, which thins.

#![allow(clippy::unwrap_used, reason = "a bench fails by panicking")]

use std::fmt::Write;
use std::hint::black_box;
use std::sync::Arc;

use criterion::{Criterion, criterion_group, criterion_main};
use leadsman::check::check_bytes;
use leadsman::day::log::Log;
use leadsman::day::replay::Timeline;
use leadsman::program::Program;
use leadsman::session::Setting;
use leadsman::source::strategies::StrategyFile;
use leadsman::source::water::Water;

/// A strategy of the scenario.
fn strategy(path: &str) -> Arc<Program> {
    let file = StrategyFile::read(path).unwrap();
    check_bytes(path, file.bytes, &file.includes).program.unwrap()
}

/// A day of ten hours with measured readings each so many seconds, four rods, and a strike every twenty minutes.
pub fn day(every: u32) -> String {
    let mut text = String::from("water: Ossel Water\ndate: 2026-05-14\nzone: \"-07:00\"\nevents:\n");
    text.push_str("- {at: \"06:00:00\", readings: {cloud: 40 %, clarity: 20 ft, marks: yes}}\n");
    text.push_str("- {at: \"06:00:00\", lines: in}\n");
    for rod in ["port flat", "starboard flat", "port lead", "starboard wire"] {
        writeln!(text, "- {{at: \"06:00:00\", rod: {rod}, depth: 18 ft, speed: 2.6 mph, size: 3 in, lure: spoon}}")
            .unwrap();
    }
    for second in (1..36_000).step_by(every as usize) {
        let (hour, minute) = (6 + second / 3600, second / 60 % 60);
        let wave = libm::sin(f64::from(second) / 900.0);
        let at = format!("{hour:02}:{minute:02}:{:02}", second % 60);
        writeln!(
            text,
            "- {{at: \"{at}\", measured: {{surface: {:.1} °F, wind: {:.1} mph, bottom: {:.0} ft, water_speed: {:.1} mph}}}}",
            54.0 + f64::from(second) / 4000.0 + wave * 0.3,
            8.0 + 5.0 * wave,
            90.0 + 40.0 * wave,
            2.6 + 0.2 * wave
        )
        .unwrap();
        if second % 1200 < every {
            writeln!(text, "- {{at: \"{at}\", strike: port flat}}").unwrap();
        }
    }
    text.push_str("- {at: \"16:00:00\", lines: out}\n");
    text
}

fn days(criterion: &mut Criterion) {
    let setting = Water::read("rules/ossel/water.yaml").unwrap().setting;
    let programs = ["rules/less_to_chase.strategy", "rules/light_and_depth.strategy"].map(strategy);
    let read = |text: &str| Log::of_bytes("day.yaml", text.as_bytes().to_vec(), setting.zone.as_ref()).unwrap();
    let replay =
        |program: &Arc<Program>, setting: &Setting, log: &Log| Timeline::of(program, setting, log, None).unwrap();
    for (name, every) in [("each second", 1), ("each minute", 60)] {
        let text = day(every);
        let log = read(&text);
        let mut group = criterion.benchmark_group(format!("a day of ten hours, readings {name}"));
        group.sample_size(10);
        group.bench_function("read", |bench| bench.iter(|| read(black_box(&text))));
        group.bench_function("replay", |bench| bench.iter(|| replay(&programs[0], &setting, black_box(&log))));
        group.bench_function("read, and replay through two", |bench| {
            bench.iter(|| {
                let log = read(black_box(&text));
                Timeline::of_both([&programs[0], &programs[1]], &setting, &log, &|| true).unwrap()
            })
        });
        group.finish();
    }
}

criterion_group!(benches, days);
criterion_main!(benches);
