//! The readings of one moment, the sun beside its crate alone, sentences of instruments beside a plain pass over their
//! bytes, and what a day's session holds.
//!
//! `cargo bench --bench readings`.

#![allow(clippy::expect_used, clippy::unwrap_used, reason = "a benchmark that can't run stops")]
#![allow(clippy::disallowed_methods, reason = "a benchmark reads the clock")]

use std::hint::black_box;
use std::sync::Arc;

use criterion::{Criterion, Throughput, criterion_group};
use leadsman::check::{NoIncludes, check};
use leadsman::engine::Readings;
use leadsman::program::Program;
use leadsman::program::expr::InputId;
use leadsman::session::{Event, Mode, Session, Setting};
use leadsman::source::feed::{Clock, Feed, Instruments};
use leadsman::source::given::Names;
use leadsman::source::water::Water;
use leadsman::source::yaml::Document;
use leadsman::vocabulary::quantity::SECOND;
use leadsman::vocabulary::time::Instant;
use leadsman::water::Place;

/// Everything that is derived and needs no sun.
const WATER: &str = r#"strategy "every reading of the water"
let is_a = temp_at(20 ft) > 50 °F
let is_b = oxygen_at(20 ft) > 5 mg/L
let is_c = light_at(20 ft) > 5 %
let is_d = depth_of(62 °F) > 20 ft
let is_e = depth_of(5 mg/L) > 20 ft
let is_f = depth_of(1 %) > 20 ft
let is_g = layered
let is_h = thermocline_top > 10 ft
let is_i = thermocline_bottom > 10 ft
let is_j = waves > 4 in
let is_k = water_speed > 2 mph
let is_l = month is july and clock > 10:00
let is_m = cast_measured and surface > 60 °F
rule "all" if is_a and is_b and is_c and is_d and is_e and is_f and is_g and is_h and is_i and is_j and is_k and is_l and is_m run depth 10 ft
"#;

const SUN: &str = r#"strategy "the sun"
rule "all" if sun_height > 10° run depth 10 ft
"#;

fn program(text: &str) -> Arc<Program> {
    check("bench", text, &NoIncludes).program.expect("it checks")
}

fn at(text: &str) -> Instant {
    Instant::of(text.parse::<jiff::Timestamp>().expect("a time"))
}

/// A session at a July morning, with a cast of forty points.
fn morning(program: &Arc<Program>) -> Session {
    let water = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/rules/ossel/water.yaml")).unwrap();
    let water = Water::of(&Document::parse("water", water).unwrap()).unwrap();
    let current = leadsman::water::lake::Current { set: 0, drift: 900_000 };
    let lake = leadsman::water::lake::Lake { current: Some(current), ..water.setting.lake.clone() };
    let mut session = Session::alone(program.clone(), Arc::new(Setting { lake, ..water.setting }));
    let mut names = Names::of(program);
    let points: Vec<String> = (0..40)
        .map(|at| {
            let temperature = 8.0 + 14.0 / (1.0 + libm::exp((f64::from(at) - 9.0) / 1.5));
            format!("{at} m {temperature:.2} °C {:.2} mg/L", 9.0 - f64::from(at) * 0.15)
        })
        .collect();
    let cast = format!("[{}]", points.join(", "));
    let given = [
        ("cast", cast.as_str()),
        ("clarity", "18 ft"),
        ("wind", "12 mph"),
        ("wind_from", "S"),
        ("ground_speed", "2.5 mph"),
        ("course", "40°"),
    ];
    let events: Vec<Event> = given.iter().map(|(name, value)| names.event(name, value).expect("a reading")).collect();
    session.at(at("2026-07-14T15:00:00Z"), events).unwrap();
    session
}

fn every_input(session: &Session, at: Instant) -> usize {
    let moment = session.moment(at);
    let inputs = session.program().inputs.len() as u32;
    (0..inputs).filter(|id| moment.input(InputId(*id)).is_some()).count()
}

fn moments(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("readings");
    let session = morning(&program(WATER));
    let now = at("2026-07-14T15:01:00Z");
    assert_eq!(every_input(&session, now), session.program().inputs.len(), "every reading is known");
    group.bench_function("all that the water gives, of one moment with a 40-point cast", |bencher| {
        bencher.iter(|| black_box(every_input(&session, black_box(now))));
    });
    let sun = morning(&program(SUN));
    // Instants as a day's readings bring them, each another.
    let mut seconds = (0..36_000i64).step_by(7).cycle();
    group.bench_function("the sun's height", |bencher| {
        bencher.iter(|| {
            let later = seconds.next().unwrap_or_default() * SECOND;
            black_box(every_input(&sun, black_box(now.after(later))))
        });
    });
    let location = solar_positioning::Location { latitude: 46.0, longitude: -116.0 };
    group.bench_function("the same by its crate alone", |bencher| {
        bencher.iter(|| {
            let days = seconds.next().unwrap_or_default() as f64 / 86_400.0;
            let time = solar_positioning::time::JulianDate::new(black_box(2_461_236.166_7 + days), 69.2).unwrap();
            let positions = solar_positioning::SolarPositions::new();
            black_box(positions.at_from_julian(time, location, 0.0, None).unwrap().elevation_angle())
        });
    });
    group.finish();
}

fn with_checksum(body: &str) -> String {
    format!("${body}*{:02X}\r\n", body.bytes().fold(0, |sum, byte| sum ^ byte))
}

fn sentences(criterion: &mut Criterion) {
    let mut text = String::new();
    for second in 0..2000u32 {
        let fix = format!("{:02}{:02}{:02}", 12 + second / 3600, second / 60 % 60, second % 60);
        text.push_str(&with_checksum(&format!("GPRMC,{fix},A,4600.{second:04},N,11600.0000,W,2.6,40.0,140526,,,A")));
        text.push_str(&with_checksum(&format!("INMTW,{:.1},C", 12.0 + f64::from(second % 50) / 10.0)));
        text.push_str(&with_checksum(&format!("SDDPT,{:.1},0.3", 30.0 + f64::from(second % 70) / 10.0)));
        text.push_str(&with_checksum("WIMWV,20.0,R,5.0,M,A"));
        text.push_str(&with_checksum("VWVHW,,T,,M,2.4,N,,K"));
    }
    let mut group = criterion.benchmark_group("instruments");
    group.throughput(Throughput::Elements(10_000));
    group.bench_function("10,000 sentences to readings", |bencher| {
        bencher.iter(|| {
            let mut feed = Feed::new(Clock::Sentences, Instruments { mast: Some(3.0), transducer: Some(0.3) });
            let mut count = 0;
            feed.take(black_box(text.as_bytes()), Instant(0), &mut |_| count += 1);
            assert_eq!(feed.counts().good, 10_000);
            black_box(count)
        });
    });
    group.bench_function("a plain pass over their bytes", |bencher| {
        bencher.iter(|| black_box(black_box(text.as_bytes()).iter().fold(0u8, |sum, byte| sum ^ byte)));
    });
    group.finish();
}

/// Resident memory of this process in MiB, where the system tells.
fn resident() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    let kib: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kib / 1024.0)
}

/// Ten hours of readings each second, of which a strategy asks the changes over three hours.
const DAY: &str = r#"strategy "a day"
let is_a = change(surface, 3 h) > 1 °F
let is_b = change(wind, 3 h) > 2 mph
let is_c = change(pressure, 3 h) < 0 hPa
let is_d = strikes(2 h) > 3 and bottom > 20 ft and water_speed > 2 mph and course is 0° to 90°
rule "all" if is_a and is_b and is_c and is_d run depth 10 ft
"#;

/// What the session of a ten-hour day holds at its end: the difference that many of them make.
fn a_day_s_session() {
    const SESSIONS: usize = 8;
    let program = program(DAY);
    let mut names = Names::of(&program);
    let texts = |second: u32| {
        let wave = libm::sin(f64::from(second) / 500.0);
        [
            ("surface", format!("{:.2} °C", 14.0 + wave)),
            ("wind", format!("{:.2} m/s", 4.0 + wave)),
            ("pressure", format!("{:.1} hPa", 940.0 + wave)),
            ("bottom", format!("{:.1} m", 30.0 + wave)),
            ("water_speed", format!("{:.2} m/s", 1.2 + 0.1 * wave)),
            ("ground_speed", format!("{:.2} m/s", 1.2 + 0.1 * wave)),
            ("course", format!("{:.0}°", 40.0 + wave)),
        ]
    };
    let mut sessions: Vec<Session> = (0..SESSIONS)
        .map(|_| {
            Session::new(
                program.clone(),
                Arc::new(Setting { zone: Some(jiff::tz::TimeZone::UTC), ..Setting::default() }),
                Mode::Live,
            )
        })
        .collect();
    let begin = at("2026-07-14T12:00:00Z");
    let lines_in = names.event("lines_in", "yes").unwrap();
    let before = resident();
    for second in 0..36_000u32 {
        let now = begin.after(i64::from(second) * SECOND);
        let mut events: Vec<Event> =
            texts(second).iter().map(|(name, value)| names.event(name, value).unwrap()).collect();
        events.push(Event::Place(Place { latitude: 46.0, longitude: -116.0 }));
        if second == 0 {
            events.push(lines_in.clone());
        }
        for session in &mut sessions {
            session.at(now, events.clone()).unwrap();
        }
    }
    if let (Some(before), Some(after)) = (before, resident()) {
        let each = (after - before) / SESSIONS as f64;
        println!("session of a ten-hour day of readings each second: {each:.1} MiB");
    }
    black_box(sessions);
}

criterion_group!(benches, moments, sentences);

fn main() {
    a_day_s_session();
    benches();
    Criterion::default().configure_from_args().final_summary();
}
