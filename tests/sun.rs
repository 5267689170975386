//! Where the sun stands and when it rises, against published values and against libraries of their own.
//!
//! Sources: the worked example of I. Reda and A. Andreas, *Solar Position Algorithm for Solar Radiation Applications*,
//! NREL/TP-560-34302 (2003, revised 2008); positions by pvlib 0.16.1 and times by skyfield 1.55 with the ephemeris JPL DE421,
//! computed for this project; and `tests/sun/values.tsv` by pvlib and astral, which `tests/sun/check_sun.py` makes.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use std::path::Path;
use std::sync::Arc;

use jiff::tz::{Offset, TimeZone};
use jiff::{SignedDuration, Timestamp};
use leadsman::check::{NoIncludes, check};
use leadsman::program::GivenTarget;
use leadsman::session::{Mode, Session, Setting};
use leadsman::vocabulary::catalogue::Known;
use leadsman::vocabulary::quantity::{MINUTE, SECOND, to_si};
use leadsman::vocabulary::time::Instant;
use leadsman::water::Place;
use leadsman::water::sun::{
    Always, Events, astronomical_twilight, civil_twilight, height, nautical_twilight, noon, rise_and_set,
};

fn at(text: &str) -> Instant {
    Instant::of(text.parse::<Timestamp>().expect(text))
}

fn place(latitude: f64, longitude: f64) -> Place {
    Place { latitude, longitude }
}

#[track_caller]
fn close(got: f64, want: f64, most: f64, what: &str) {
    assert!((got - want).abs() <= most, "{what}: {got}, not {want} ± {most}");
}

fn hours(offset: i64) -> String {
    format!("{}{:02}:00", if offset < 0 { '-' } else { '+' }, offset.abs())
}

/// The beginning and the end of a local day.
fn day(date: &str, zone: &str) -> (Instant, Instant) {
    let from = at(&format!("{date}T00:00:00{zone}"));
    (from, from.after(24 * 60 * MINUTE - 1))
}

// ---- Heights ---------------------------------------------------------------------------------------------------------

/// Reda and Andreas, the worked example: 2003-10-17 12:30:30 in a zone of -7 h. True height, ±0.001°.
#[test]
fn the_worked_example_of_the_algorithm() {
    let got = height(place(39.742_476, -105.178_6), at("2003-10-17T12:30:30-07:00")).unwrap();
    close(got, 39.872_046, 0.001, "true height");
}

/// pvlib's SPA, with which skyfield agrees within 0.0003°; accepted is ±0.02°.
#[test]
fn heights_at_six_places() {
    let rows = [
        (48.2, -116.4, "2024-06-20T13:00:00Z", 9.8529),
        (44.5, -73.3, "2025-10-15T21:30:00Z", 5.7681),
        (39.1, -120.0, "2023-12-21T17:00:00Z", 14.8845),
        (-38.8, 175.9, "2025-01-10T07:00:00Z", 6.9167),
        (69.0, 27.6, "2025-06-20T22:00:00Z", 2.4589),
        (69.0, 27.6, "2025-12-21T10:00:00Z", -2.4513),
    ];
    for (latitude, longitude, when, want) in rows {
        close(height(place(latitude, longitude), at(when)).unwrap(), want, 0.02, when);
    }
}

/// The algorithm is stated for the years -2000 to 6000; outside there is no number, and no panic.
#[test]
fn years_that_the_algorithm_does_not_cover() {
    let here = place(46.0, -116.0);
    for counts in [i64::MIN, i64::MAX, i64::MIN / 2, i64::MAX / 2] {
        let got = height(here, Instant(counts));
        assert!(got.is_none_or(|height| (-90.0..=90.0).contains(&height)), "{got:?}");
        let _ = rise_and_set(here, Instant(counts), Instant(counts).after(24 * 60 * MINUTE));
    }
    for (latitude, longitude) in [(90.0, 0.0), (-90.0, 180.0), (0.0, -180.0), (f64::NAN, 0.0), (91.0, 500.0)] {
        let got = height(place(latitude, longitude), at("2026-05-14T19:30:00Z"));
        assert!(got.is_none_or(|height| (-90.0..=90.0).contains(&height)), "{latitude} {longitude}: {got:?}");
    }
}

// ---- Rise, set and twilight ------------------------------------------------------------------------------------------

struct Row {
    name: &'static str,
    latitude: f64,
    longitude: f64,
    date: &'static str,
    offset: i64,
    /// Civil dawn, sunrise, sunset, civil dusk.
    times: [Option<&'static str>; 4],
}

/// skyfield 1.55 with DE421, at -0.8333° and -6°, on the local date. Accepted: ±45 s below 60° of latitude, ±120 s above.
const ROWS: [Row; 6] = [
    Row {
        name: "a lake in the north of Idaho",
        latitude: 48.2,
        longitude: -116.4,
        date: "2024-06-20",
        offset: -7,
        times: [Some("04:03:23"), Some("04:45:01"), Some("20:49:43"), Some("21:31:21")],
    },
    Row {
        name: "Lake Champlain",
        latitude: 44.5,
        longitude: -73.3,
        date: "2025-10-15",
        offset: -4,
        times: [Some("06:39:24"), Some("07:08:45"), Some("18:08:18"), Some("18:37:37")],
    },
    Row {
        name: "Lake Tahoe",
        latitude: 39.1,
        longitude: -120.0,
        date: "2023-12-21",
        offset: -8,
        times: [Some("06:45:26"), Some("07:15:32"), Some("16:40:38"), Some("17:10:45")],
    },
    Row {
        name: "Lake Taupo",
        latitude: -38.8,
        longitude: 175.9,
        date: "2025-01-10",
        offset: 13,
        times: [Some("05:31:42"), Some("06:03:01"), Some("20:44:15"), Some("21:15:29")],
    },
    Row {
        name: "Lake Inari at midsummer: the sun does not set",
        latitude: 69.0,
        longitude: 27.6,
        date: "2025-06-21",
        offset: 3,
        times: [None, None, None, None],
    },
    Row {
        name: "Lake Inari at midwinter: twilight without a sunrise",
        latitude: 69.0,
        longitude: 27.6,
        date: "2025-12-21",
        offset: 2,
        times: [Some("09:44:42"), None, None, Some("14:30:46")],
    },
];

#[track_caller]
fn same_time(got: Option<Instant>, want: Option<Instant>, most: i64, what: &str) {
    match (got, want) {
        (None, None) => {}
        (Some(got), Some(want)) => {
            let off = got.since(want).abs() / SECOND;
            assert!(off <= most, "{what}: {} is {off} s off {}", got.timestamp(), want.timestamp());
        }
        _ => panic!("{what}: {got:?}, not {want:?}"),
    }
}

#[test]
fn rise_set_and_twilight_on_the_local_date_and_none_where_there_is_none() {
    for row in &ROWS {
        let here = place(row.latitude, row.longitude);
        let (from, to) = day(row.date, &hours(row.offset));
        let want = row.times.map(|time| time.map(|time| at(&format!("{}T{time}{}", row.date, hours(row.offset)))));
        let sun = rise_and_set(here, from, to).expect("a day of this age of the world");
        let civil = civil_twilight(here, from, to).expect("a day of this age of the world");
        let most = if row.latitude.abs() > 60.0 { 120 } else { 45 };
        let got = [civil.rise, sun.rise, sun.set, civil.set];
        for ((got, want), what) in got.into_iter().zip(want).zip(["civil dawn", "sunrise", "sunset", "civil dusk"]) {
            same_time(got, want, most, &format!("{}: {what}", row.name));
        }
    }
}

/// The same rows: nautical dawn and dusk at -12°, and noon within 30 s.
#[test]
fn nautical_twilight_and_noon_on_the_local_date() {
    let times = [
        (Some("03:05:01"), Some("22:29:43"), "12:47:22"),
        (Some("06:05:39"), Some("19:11:19"), "12:38:52"),
        (Some("06:11:49"), Some("17:44:22"), "11:58:05"),
        (Some("04:52:35"), Some("21:54:29"), "13:23:49"),
        (None, None, "13:11:26"),
        (Some("08:06:54"), Some("16:08:34"), "12:07:44"),
    ];
    for (row, (dawn, dusk, midday)) in ROWS.iter().zip(times) {
        let here = place(row.latitude, row.longitude);
        let (from, to) = day(row.date, &hours(row.offset));
        let local = |time: &str| at(&format!("{}T{time}{}", row.date, hours(row.offset)));
        let nautical = nautical_twilight(here, from, to).unwrap();
        let most = if row.latitude.abs() > 60.0 { 120 } else { 45 };
        same_time(nautical.rise, dawn.map(local), most, &format!("{}: nautical dawn", row.name));
        same_time(nautical.set, dusk.map(local), most, &format!("{}: nautical dusk", row.name));
        same_time(noon(here, from, to), Some(local(midday)), 30, &format!("{}: noon", row.name));
    }
}

/// Where the sun does not cross a height, it is told on which side of it the sun stays.
#[test]
fn always_above_and_always_below_are_told_apart() {
    let inari = place(69.0, 27.6);
    let always = |events: Option<Events>| events.unwrap().always;
    let (from, to) = day("2025-06-21", "+03:00");
    assert_eq!(always(rise_and_set(inari, from, to)), Some(Always::Above));
    assert_eq!(always(civil_twilight(inari, from, to)), Some(Always::Above));
    let (from, to) = day("2025-12-21", "+02:00");
    assert_eq!(always(rise_and_set(inari, from, to)), Some(Always::Below));
    assert_eq!(always(civil_twilight(inari, from, to)), None, "twilight without a sunrise");
    assert_eq!(always(astronomical_twilight(place(48.2, -116.4), from, to)), None);
}

/// Reda and Andreas' example day, ±2 s: sunrise 06:12:43 local. The document's sunset is that of the UT day, the evening
/// before; skyfield's for the local 17 October is 17:18:51.
#[test]
fn the_worked_example_s_day() {
    let (from, to) = day("2003-10-17", "-07:00");
    let Events { rise, set, .. } = rise_and_set(place(39.742_476, -105.178_6), from, to).unwrap();
    same_time(rise, Some(at("2003-10-17T06:12:43-07:00")), 2, "sunrise");
    same_time(set, Some(at("2003-10-17T17:18:51-07:00")), 2, "sunset");
}

/// At its rise and its set the sun stands at -0.8333°, at civil dawn and dusk at -6°: two ways that must agree.
#[test]
fn an_event_is_where_the_height_says_it_is() {
    for row in &ROWS {
        let here = place(row.latitude, row.longitude);
        let (from, to) = day(row.date, &hours(row.offset));
        for (events, limit) in [(rise_and_set(here, from, to), -0.8333), (civil_twilight(here, from, to), -6.0)] {
            let Events { rise, set, .. } = events.unwrap();
            for event in [rise, set].into_iter().flatten() {
                assert!(event >= from && event <= to, "{}: on the local day", row.name);
                close(height(here, event).unwrap(), limit, 0.01, row.name);
            }
        }
    }
}

// ---- A second library ------------------------------------------------------------------------------------------------

/// `tests/sun/values.tsv`: pvlib's heights within 0.02°. astral's times come from a shorter series: on the rows above it is
/// up to 30 s off below 60° of latitude and up to 70 s at 69°, so that 60 s and 180 s are allowed; far in the north the sun
/// moves along the horizon, and a small difference of height is a large one of time.
#[test]
fn other_libraries_agree() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/sun/values.tsv");
    let table = std::fs::read_to_string(file).expect("the table is there");
    assert!(table.starts_with("# pvlib 0.16.1, astral 3.2"), "the libraries are named with their versions");
    let (mut heights, mut times, mut none) = (0, 0, 0);
    for line in table.lines().filter(|line| !line.starts_with('#')) {
        let cells: Vec<&str> = line.split('\t').collect();
        let [what, _, latitude, longitude, zone, when, value] = cells[..] else { panic!("{line}") };
        let here = place(latitude.parse().unwrap(), longitude.parse().unwrap());
        if what == "height" {
            heights += 1;
            close(height(here, at(when)).unwrap(), value.parse().unwrap(), 0.02, line);
            continue;
        }
        let (from, to) = day(when, zone);
        let events = match what {
            "rise" | "set" => rise_and_set(here, from, to),
            _ => civil_twilight(here, from, to),
        }
        .unwrap();
        let got = if matches!(what, "rise" | "civil_dawn") { events.rise } else { events.set };
        let want = (value != "none").then(|| at(value));
        times += 1;
        none += usize::from(want.is_none());
        let most = if here.latitude.abs() > 60.0 { 180 } else { 60 };
        same_time(got, want, most, line);
    }
    assert!(heights >= 280 && times >= 160 && none >= 6, "{heights} {times} {none}");
}

// ---- Through a session -----------------------------------------------------------------------------------------------

fn session(here: Place, offset: i64) -> Session {
    let text = "strategy \"Sun\" rule \"R\" if sun_height > 0 and light is dark and sun_rising and until_sunset > 1 h \
                and since_sunrise > 1 h and month is may and clock < 12:00 run depth 3 ft";
    let program = check("sun.strategy", text, &NoIncludes).program.expect("a program");
    let offset = Offset::from_seconds(i32::try_from(offset * 3600).unwrap()).unwrap();
    let setting = Setting { zone: Some(TimeZone::fixed(offset)), place: Some(here), ..Setting::default() };
    Session::new(program, Arc::new(setting), Mode::Live)
}

fn asked(session: &Session, known: Known, when: &str) -> Option<i64> {
    session.moment(at(when)).report_of(GivenTarget::Known(known)).value
}

/// The published limits: -6° is civil twilight's, -0.833° that of sunrise and sunset (34′ of refraction, 16′ of half a
/// sun); 15° is the project's own. A limit belongs to the lighter class.
#[test]
fn light_by_the_sun_s_height() {
    let here = session(place(46.0, -116.0), -7);
    let heights = [
        ("-90°", 0),
        ("-6.000001°", 0),
        ("-6°", 1),
        ("-0.834°", 1),
        ("-0.833001°", 1),
        ("-0.833°", 2),
        ("0", 2),
        ("14.999999°", 2),
        ("15°", 3),
        ("90°", 3),
    ];
    let program = here.program().clone();
    for (height, class) in heights {
        let mut session = Session::new(program.clone(), Arc::new(Setting::default()), Mode::Trial);
        let event = leadsman::source::given::event(&program, "sun_height", height).unwrap();
        session.at(Instant(0), [event]).unwrap();
        let light = session.moment(Instant(0)).report_of(GivenTarget::Known(Known::Light)).value;
        assert_eq!(light, Some(class), "{height}");
    }
}

/// The sun's times of the rows above, asked at instants around them through a session with a zone.
#[test]
fn hours_to_sunset_and_from_sunrise() {
    let minutes = |counts: Option<i64>| counts.map(|counts| to_si(counts) / 60.0);
    let idaho = session(place(48.2, -116.4), -7);
    // Sunrise 04:45:01, sunset 20:49:43, each within 45 s.
    close(minutes(asked(&idaho, Known::UntilSunset, "2024-06-20T12:00:00-07:00")).unwrap(), 529.72, 0.75, "at noon");
    close(minutes(asked(&idaho, Known::SinceSunrise, "2024-06-20T12:00:00-07:00")).unwrap(), 434.98, 0.75, "at noon");
    close(minutes(asked(&idaho, Known::UntilSunset, "2024-06-20T00:30:00-07:00")).unwrap(), 1219.72, 0.75, "by night");
    assert_eq!(asked(&idaho, Known::SinceSunrise, "2024-06-20T04:43:00-07:00"), None, "before that day's sunrise");
    assert!(asked(&idaho, Known::SinceSunrise, "2024-06-20T04:47:00-07:00").is_some());
    assert!(asked(&idaho, Known::UntilSunset, "2024-06-20T20:48:00-07:00").is_some());
    assert_eq!(asked(&idaho, Known::UntilSunset, "2024-06-20T20:51:00-07:00"), None, "after that day's sunset");
    // East of Greenwich the local day begins on the day before by UTC.
    let taupo = session(place(-38.8, 175.9), 13);
    close(
        minutes(asked(&taupo, Known::UntilSunset, "2025-01-10T08:00:00+13:00")).unwrap(),
        764.25,
        0.75,
        "in the morning",
    );
    close(
        minutes(asked(&taupo, Known::SinceSunrise, "2025-01-10T08:00:00+13:00")).unwrap(),
        116.98,
        0.75,
        "in the morning",
    );
    // Where there is no sunset and no sunrise there are no hours to them.
    let inari = session(place(69.0, 27.6), 3);
    for known in [Known::UntilSunset, Known::SinceSunrise] {
        assert_eq!(asked(&inari, known, "2025-06-21T12:00:00+03:00"), None);
    }
    let winter = session(place(69.0, 27.6), 2);
    for known in [Known::UntilSunset, Known::SinceSunrise] {
        assert_eq!(asked(&winter, known, "2025-12-21T12:00:00+02:00"), None);
    }
}

/// The class of light and the direction of the sun's height through one day, at the rows' times and a few minutes beside.
#[test]
fn a_day_s_light() {
    let idaho = session(place(48.2, -116.4), -7);
    let light = |time: &str| asked(&idaho, Known::Light, &format!("2024-06-20T{time}-07:00")).unwrap();
    assert_eq!(light("04:00:00"), 0, "before civil dawn at 04:03:23");
    assert_eq!(light("04:06:00"), 1);
    assert_eq!(light("04:43:00"), 1, "before sunrise at 04:45:01");
    assert_eq!(light("04:47:00"), 2);
    assert_eq!(light("12:47:22"), 3);
    assert_eq!(light("20:51:00"), 1, "after sunset at 20:49:43");
    assert_eq!(light("21:34:00"), 0, "after civil dusk at 21:31:21");
    let rising = |time: &str| asked(&idaho, Known::SunRising, &format!("2024-06-20T{time}-07:00"));
    // Noon is at 12:47:22, within 30 s; whether it rises is told from a minute.
    assert_eq!((rising("12:45:30"), rising("12:48:30")), (Some(1), Some(0)));
    let sun = asked(&idaho, Known::SunHeight, "2024-06-20T13:00:00Z").unwrap();
    close(to_si(sun), 9.8529, 0.02, "the height of the table");
    assert_eq!(asked(&idaho, Known::Month, "2024-07-01T06:59:59Z"), Some(6), "still June in the water's zone");
    assert_eq!(asked(&idaho, Known::Clock, "2024-07-01T06:59:59Z"), Some((23 * 60 + 59) * MINUTE + 59 * SECOND));
}

/// Without a place or a zone nothing is made up.
#[test]
fn no_place_no_sun() {
    let mut nowhere = session(place(0.0, 0.0), 0);
    nowhere = Session::new(nowhere.program().clone(), Arc::new(Setting::default()), Mode::Live);
    for known in [
        Known::SunHeight,
        Known::Light,
        Known::SunRising,
        Known::UntilSunset,
        Known::SinceSunrise,
        Known::Month,
        Known::Clock,
    ] {
        assert_eq!(asked(&nowhere, known, "2024-06-20T12:00:00-07:00"), None, "{known:?}");
    }
}

/// The height by the session is that of the pure function, at every ten minutes of a day.
#[test]
fn a_session_asks_the_same_sun() {
    let here = place(46.0, -116.0);
    let session = session(here, -7);
    let begin = "2026-05-14T00:00:00-07:00".parse::<Timestamp>().unwrap();
    for step in 0..144 {
        let when = begin + SignedDuration::from_mins(10 * step);
        let got = session.moment(Instant::of(when)).report_of(GivenTarget::Known(Known::SunHeight)).value.unwrap();
        close(to_si(got), height(here, Instant::of(when)).unwrap(), 1e-6, "height");
    }
}

/// Between tens of minutes the height is mixed of two; the algorithm at the very instant, by the crate alone, says the same.
#[test]
fn the_height_at_any_instant_is_the_algorithm_s() {
    use solar_positioning::{Location, SolarPositions, delta_t, time::JulianDate};
    let begin = Instant::of("2026-01-01T00:00:00Z".parse::<jiff::Timestamp>().unwrap());
    let mut most = 0.0f64;
    for step in 0..10_000i64 {
        // Some 131 minutes and 13.7 seconds on, over a year, all over the earth, over its date line too.
        let at = begin.after(step * (131 * MINUTE + 123_300_000 + step));
        let place = Place { latitude: (step * 7 % 179 - 89) as f64, longitude: (step * 13 % 360 - 180) as f64 };
        let julian = 2_440_587.5 + at.0 as f64 / 9e6 / 86_400.0;
        let year = 1970.0 + at.0 as f64 / 9e6 / (365.2425 * 86_400.0);
        let time = JulianDate::new(julian, delta_t::estimate(year).unwrap()).unwrap();
        let location = Location { latitude: place.latitude, longitude: place.longitude };
        let there = SolarPositions::new().at_from_julian(time, location, 0.0, None).unwrap().elevation_angle();
        most = most.max((height(place, at).unwrap() - there).abs());
    }
    assert!(most < 1e-6, "{most} degrees apart");
}
