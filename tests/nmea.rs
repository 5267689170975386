//! A boat's instruments: sentences against published ones and a second library, whole feeds, and everything spoiled.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use leadsman::source::nmea::{Depth, Refused, Report, Wind, is_known_talker, parse};
use proptest::prelude::*;

const KNOT: f64 = 1852.0 / 3600.0;

#[track_caller]
fn near(got: Option<f64>, wanted: f64, within: f64) {
    let got = got.unwrap();
    assert!((got - wanted).abs() <= within, "{got}, wanted {wanted}");
}

fn with_checksum(body: &str) -> String {
    format!("${body}*{:02X}", body.bytes().fold(0, |sum, byte| sum ^ byte))
}

fn read(body: &str) -> Result<Report, Refused> {
    parse(with_checksum(body).as_bytes())
}

/// Sentences by the public description of the gpsd project (version 2.24), checksums worked out by hand.
#[test]
fn sentences_of_the_public_description() {
    let take = |line: &str| parse(line.as_bytes()).unwrap();
    assert_eq!(take("$SDDPT,14.3,0.4,100.0*66").depth, Some(Depth::Transducer(14.3, Some(0.4))));
    assert_eq!(take("$SDDBT,46.9,f,14.3,M,7.8,F*04").depth, Some(Depth::Transducer(14.3, None)));
    assert_eq!(take("$YXMTW,16.8,C*1D").water_temperature, Some(16.8));
    near(take("$VWVHW,,T,,M,2.1,N,3.9,K*5D").water_speed, 2.1 * KNOT, 1e-12);
    let vtg = take("$GPVTG,214.6,T,,M,1.9,N,3.5,K,A*02");
    near(vtg.course, 214.6, 1e-12);
    near(vtg.ground_speed, 1.9 * KNOT, 1e-12);
    let rmc = take("$GPRMC,142530.00,A,4812.0450,N,11624.3300,W,1.9,214.6,200624,,,A*48");
    let (latitude, longitude) = rmc.place.unwrap();
    near(Some(latitude), 48.20075, 1e-9);
    near(Some(longitude), -116.4055, 1e-9);
    let time = "2024-06-20T14:25:30Z".parse::<jiff::Timestamp>().unwrap();
    assert_eq!(rmc.time, Some(time.as_second() as f64));
    near(rmc.ground_speed, 1.9 * KNOT, 1e-12);
    near(rmc.course, 214.6, 1e-12);
    let Some(Wind::Apparent(angle, speed)) = take("$WIMWV,047.0,R,8.4,N,A*2C").wind else { panic!("apparent wind") };
    near(Some(angle), 47.0, 1e-12);
    near(Some(speed), 4.3213, 0.0001);
    assert_eq!(take("$GPZDA,142530.00,20,06,2024,00,00*67").time, Some(time.as_second() as f64));
    assert_eq!(take("$INMTW,9.4,C*29").water_temperature, Some(9.4));
    assert_eq!(take("$INMTW,17.9,C*1B").water_temperature, Some(17.9));
    assert_eq!(take("$INDPT,2.3,0.0*46").depth, Some(Depth::Transducer(2.3, None)));
    for spoiled in ["$YXMTW,16.8,C*1E", "$GPAPA,A,A,0.10,R,N,V,V,011,M,DEST,011,M*82", "$INMTW,9.4,C*2A"] {
        assert_eq!(parse(spoiled.as_bytes()), Err(Refused::Checksum), "{spoiled}");
    }
    // A good sentence that says nothing we ask for.
    assert_eq!(parse(b"$HEROT,0.0,A*2B"), Err(Refused::Unknown));
    // Lower-case digits do too, and ends of lines.
    assert!(parse(b"$INMTW,9.4,C*29\r\n").is_ok() && parse(b"$YXMTW,16.8,C*1d").is_ok());
}

#[test]
fn every_kind_is_read() {
    near(
        read("SDDBS,49.0,f,14.9,M,8.1,F").unwrap().depth.map(|depth| match depth {
            Depth::Surface(depth) => depth,
            _ => 0.0,
        }),
        14.9,
        0.0,
    );
    assert_eq!(read("SDDPT,14.3,-0.8").unwrap().depth, Some(Depth::Transducer(14.3, None)), "to the keel");
    assert_eq!(read("SDDBT,46.9,f,,M,,F").unwrap().depth, Some(Depth::Transducer(46.9 * 0.3048, None)));
    assert!(read("GPGGA,142530.00,4812.0450,N,11624.3300,W,1,08,1.0,640,M,,M,,").unwrap().place.is_some());
    assert_eq!(read("GPGGA,142530.00,4812.0450,N,11624.3300,W,0,08,1.0,640,M,,M,,"), Err(Refused::Void), "no fix");
    assert!(read("GPGLL,4812.0450,N,11624.3300,W,142530.00,A,A").unwrap().place.is_some());
    assert_eq!(read("GPVTG,214.6,,1.9,3.5").unwrap().ground_speed, Some(1.9 * KNOT), "the older form");
    assert_eq!(read("HCHDT,047.0,T").unwrap().heading, Some(47.0));
    assert_eq!(read("WIMWV,214.8,T,5.0,M,A").unwrap().wind, Some(Wind::Theoretical(214.8, 5.0)));
    assert_eq!(read("WIMWD,270.0,T,255.0,M,10.0,N,5.1,M").unwrap().wind, Some(Wind::True(270.0, 5.1)));
    let mda = read("WIMDA,30.0,I,1.016,B,18.5,C,12.5,C,,,,C,270.0,T,255.0,M,10.0,N,5.1,M").unwrap();
    assert_eq!((mda.air_temperature, mda.water_temperature), (Some(18.5), Some(12.5)));
    near(mda.pressure, 101_600.0, 1e-6);
    near(read("WIMMB,29.9,I,1.0132,B").unwrap().pressure, 101_320.0, 1e-6);
    near(read("WIXDR,P,1.0132,B,Barometer,C,18.5,C,AirTemp").unwrap().pressure, 101_320.0, 1e-6);
    assert_eq!(read("WIXDR,C,18.5,C,AirTemp").unwrap().air_temperature, Some(18.5));
    assert_eq!(read("IIVWR,47.0,R,8.4,N,4.3,M,15.6,K").unwrap().wind, Some(Wind::Apparent(47.0, 4.3)));
    assert_eq!(read("IIVWR,47.0,L,8.4,N,,M,,K").unwrap().wind, Some(Wind::Apparent(313.0, 8.4 * KNOT)));
    assert_eq!(read("IIVWR,0.0,L,8.4,N,4.3,M,15.6,K").unwrap().wind, Some(Wind::Apparent(0.0, 4.3)));
    assert_eq!(read("IIVWT,170.0,L,,N,,M,18.0,K").unwrap().wind, Some(Wind::Theoretical(190.0, 5.0)));
    near(read("WIMDA,30.0,I,,B,,C,,C").unwrap().pressure, 30.0 * 3386.389, 1e-6);
    near(read("WIMMB,29.92,I,,B").unwrap().pressure, 29.92 * 3386.389, 1e-6);
}

/// A compass is of use with the variation: true is magnetic plus what is to the east and less what is to the west.
#[test]
fn a_compass_with_its_variation_gives_true_north() {
    near(read("HCHDG,101.1,,,7.1,W").unwrap().heading, 94.0, 1e-9);
    near(read("HCHDG,355.0,2.0,E,13.5,E").unwrap().heading, 10.5, 1e-9);
    near(read("HCHDG,5.0,1.0,W,13.5,W").unwrap().heading, 350.5, 1e-9);
    for magnetic in ["HCHDG,101.1,,,,", "HCHDG,101.1,2.0,,7.1,W", "HCHDG,,,,7.1,W", "HCHDG,101.1,,,7.1,X"] {
        assert_eq!(read(magnetic), Err(Refused::Unknown), "{magnetic}");
    }
}

/// The mode of a fix counts for more than its status (gpsd's description, "FAA Mode Indicator").
#[test]
fn what_is_typed_in_or_made_up_is_no_fix() {
    for mode in ["A", "D", "F", "P", "R", ""] {
        let rmc = read(&format!("GPRMC,142530.00,A,4812.0450,N,11624.3300,W,1.9,214.6,200624,,,{mode}")).unwrap();
        assert!(rmc.place.is_some(), "{mode}");
    }
    for mode in ["N", "E", "M", "S", "X"] {
        for body in [
            format!("GPRMC,142530.00,A,4812.0450,N,11624.3300,W,1.9,214.6,200624,,,{mode}"),
            format!("GPGLL,4812.0450,N,11624.3300,W,142530.00,A,{mode}"),
            format!("GPVTG,214.6,T,,M,1.9,N,3.5,K,{mode}"),
        ] {
            assert_eq!(read(&body), Err(Refused::Void), "{body}");
        }
    }
    for (quality, fix) in
        [("0", false), ("1", true), ("2", true), ("5", true), ("6", false), ("7", false), ("8", false)]
    {
        let gga = read(&format!("GPGGA,142530.00,4812.0450,N,11624.3300,W,{quality},08,1.0,640,M,,M,,"));
        assert_eq!(gga.is_ok(), fix, "{quality}");
    }
}

#[test]
fn an_engine_s_transducers_are_not_the_lake_s() {
    for body in [
        "ERXDR,P,1.0132,B,EngineOil#0",
        "ERXDR,P,101320,P,BOOST PRES",
        "ERXDR,C,38.5,C,ENGINE WATER",
        "ERXDR,C,18.5,C,",
        "ERXDR,A,2.0,D,ROLL",
    ] {
        assert_eq!(read(body), Err(Refused::Unknown), "{body}");
    }
    let both = read("WIXDR,C,18.5,C,AIRTEMP,A,2.0,D,ROLL,C,12.5,C,WATERTEMP,P,0.9132,B,Baro").unwrap();
    assert_eq!((both.air_temperature, both.water_temperature), (Some(18.5), Some(12.5)));
    near(both.pressure, 91_320.0, 1e-6);
}

#[test]
fn talkers_are_those_of_the_public_list() {
    for known in ["GP", "GN", "II", "SD", "AB", "ZV", "YX", "VW", "WI", "U7"] {
        assert!(is_known_talker(format!("${known}MTW,9.4,C").as_bytes()), "{known}");
    }
    for unknown in ["XX", "gp", "UX", "BA", "PG"] {
        assert!(!is_known_talker(format!("${unknown}MTW,9.4,C").as_bytes()), "{unknown}");
    }
}

#[test]
fn what_is_not_valid_or_no_number_is_no_data() {
    for body in [
        "GPRMC,142530.00,V,4812.0450,N,11624.3300,W,1.9,214.6,200624,,,A",
        "GPRMC,142530.00,A,4812.0450,N,11624.3300,W,1.9,214.6,200624,,,N",
        "INMTW,NaN,C",
        "INMTW,inf,C",
        "INMTW,1e1,C",
        "INMTW,,C",
        "INMTW,9.4,F",
        "INMTW,99.9,C",
        "INMTW,-,C",
        "WIMWV,047.0,R,8.4,N,V",
        "WIMWV,047.0,R,8.4,X,A",
        "WIMWV,361.0,R,8.4,N,A",
        "SDDPT,-1.0,0.4",
        "SDDPT,,0.4",
        "GPZDA,142530.00,31,02,2024,00,00",
        "GPZDA,256030.00,20,06,2024,00,00",
    ] {
        assert_eq!(read(body), Err(Refused::Void), "{body}");
    }
    let rmc = read("GPRMC,142530.00,A,9112.0450,N,11624.3300,W,1.9,214.6,200624,,,A").unwrap();
    assert_eq!((rmc.place, rmc.ground_speed.is_some()), (None, true), "one field out of range spoils no other");
    for line in [
        "",
        "$",
        "$*00",
        "hello",
        "!AIVDM,1,1,,A,,0*26",
        "$GPRMC,1425",
        "$INMTW,9.4,C",
        "$INMTW,9.4,C*2",
        "$PGRMZ,1*00",
    ] {
        assert!(parse(line.as_bytes()).is_err(), "{line}");
    }
}

/// The crate `nmea` 0.8.0 reads the same out of what both read.
#[test]
fn a_second_library_agrees() {
    for number in 0..200u32 {
        let minutes = f64::from(number) * 0.299;
        let (knots, course) = (f64::from(number) * 0.1, f64::from(number) * 1.8);
        let body = format!(
            "GPRMC,{:02}2530.00,A,48{minutes:07.4},N,116{minutes:07.4},W,{knots:.1},{course:.1},200624,,,A",
            number % 24
        );
        let line = with_checksum(&body);
        let ours = parse(line.as_bytes()).unwrap();
        let nmea::ParseResult::RMC(theirs) = nmea::parse_str(&line).unwrap() else { panic!("RMC") };
        near(ours.place.map(|place| place.0), theirs.lat.unwrap(), 1e-9);
        near(ours.place.map(|place| place.1), theirs.lon.unwrap(), 1e-9);
        near(ours.ground_speed, f64::from(theirs.speed_over_ground.unwrap()) * KNOT, 1e-5);
        near(ours.course, f64::from(theirs.true_course.unwrap()), 1e-4);
        let mtw = with_checksum(&format!("INMTW,{:.1},C", f64::from(number) * 0.2));
        let nmea::ParseResult::MTW(theirs) = nmea::parse_str(&mtw).unwrap() else { panic!("MTW") };
        near(parse(mtw.as_bytes()).unwrap().water_temperature, theirs.temperature.unwrap(), 1e-9);
        let vhw = with_checksum(&format!("VWVHW,{course:.1},T,,M,{knots:.1},N,,K"));
        let nmea::ParseResult::VHW(theirs) = nmea::parse_str(&vhw).unwrap() else { panic!("VHW") };
        near(parse(vhw.as_bytes()).unwrap().water_speed, theirs.relative_speed_knots.unwrap() * KNOT, 1e-9);
    }
}

/// A library for another language, pynmea2 1.19.0, reads the same: its table is made by `tests/nmea/check_nmea.py`.
#[test]
fn a_third_library_agrees_on_every_kind_that_it_knows() {
    let mut kinds = std::collections::BTreeSet::new();
    for row in include_str!("nmea/values.tsv").lines().filter(|line| !line.starts_with('#')) {
        let [line, what, value] = row.split('\t').collect::<Vec<_>>()[..] else { panic!("{row}") };
        kinds.insert(&line[3..6]);
        let report = parse(line.as_bytes()).unwrap();
        if what == "time" {
            let time = value.parse::<jiff::Timestamp>().unwrap();
            near(report.time, time.as_millisecond() as f64 / 1e3, 1e-6);
            continue;
        }
        let depth = match report.depth {
            Some(Depth::Transducer(depth, offset)) => (Some(depth), None, offset),
            Some(Depth::Surface(depth)) => (None, Some(depth), None),
            None => (None, None, None),
        };
        let wind = report.wind.map(|wind| match wind {
            Wind::Apparent(angle, speed) | Wind::Theoretical(angle, speed) | Wind::True(angle, speed) => (angle, speed),
        });
        // Theirs are rounded to ten digits.
        let (got, per_unit) = match what {
            "latitude" => (report.place.map(|place| place.0), 1.0),
            "longitude" => (report.place.map(|place| place.1), 1.0),
            "knots_over_ground" => (report.ground_speed, KNOT),
            "knots_through_water" => (report.water_speed, KNOT),
            "course" => (report.course, 1.0),
            "heading" => (report.heading, 1.0),
            "metres_from_transducer" => (depth.0, 1.0),
            "metres_from_surface" => (depth.1, 1.0),
            "offset" => (depth.2, 1.0),
            "celsius_of_water" => (report.water_temperature, 1.0),
            "celsius_of_air" => (report.air_temperature, 1.0),
            "bars" => (report.pressure, 1e5),
            "wind_angle" => (wind.map(|wind| wind.0), 1.0),
            "wind_speed" => (wind.map(|wind| wind.1), 1.0),
            other => panic!("{other}"),
        };
        match value {
            "" => assert_eq!(got, None, "{row}"),
            value => near(got, value.parse::<f64>().unwrap() * per_unit, 1e-7),
        }
    }
    assert_eq!(kinds.len(), 16, "{kinds:?}");
}

proptest! {
    #[test]
    fn no_bytes_do_harm(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
        let _ = parse(&bytes);
    }

    /// Whatever is in the fields, nothing that comes out is no number or out of range.
    #[test]
    fn no_field_makes_no_number(
        kind in "RMC|GGA|GLL|ZDA|VTG|VHW|HDT|HDG|VWR|VWT|DPT|DBT|DBS|MTW|MWV|MWD|MDA|MMB|XDR",
        fields in proptest::collection::vec("NaN|inf|-?[0-9]{0,7}(\\.[0-9]{0,4})?|[A-Z]|1e5|", 0..24),
    ) {
        if let Ok(report) = read(&format!("GP{kind},{}", fields.join(","))) {
            let numbers = [report.time, report.ground_speed, report.course, report.water_speed, report.heading,
                report.water_temperature, report.air_temperature, report.pressure];
            prop_assert!(numbers.iter().flatten().all(|number| number.is_finite()));
            prop_assert!(report.place.is_none_or(|(lat, lon)| lat.abs() <= 90.0 && lon.abs() <= 180.0));
            prop_assert!(report.course.is_none_or(|course| (0.0..360.0).contains(&course)));
            prop_assert!(report.heading.is_none_or(|heading| (0.0..360.0).contains(&heading)));
            let wind = report.wind.map(|(Wind::Apparent(angle, speed) | Wind::Theoretical(angle, speed)
                | Wind::True(angle, speed))| (angle, speed));
            prop_assert!(wind.is_none_or(|(angle, speed)| (0.0..360.0).contains(&angle) && speed.is_finite()));
        }
    }

    /// One byte changed is found by the checksum, or makes the line no sentence.
    #[test]
    fn a_changed_byte_is_found(at in 0usize..60, to in any::<u8>()) {
        let line = "$GPRMC,142530.00,A,4812.0450,N,11624.3300,W,1.9,214.6,200624,,,A*48";
        let mut bytes = line.as_bytes().to_vec();
        let at = at % bytes.len();
        prop_assume!(bytes[at] != to && !bytes[at].eq_ignore_ascii_case(&to));
        bytes[at] = to;
        prop_assert!(parse(&bytes).is_err());
    }
}

// Feeds

mod feeds {
    use super::with_checksum;
    use leadsman::source::feed::{Clock, Feed, Instruments, Measured, What};
    use leadsman::source::transport::{Address, Heard, follow};
    use leadsman::vocabulary::catalogue::Known;
    use leadsman::vocabulary::quantity::{SECOND, to_si};
    use leadsman::vocabulary::time::Instant;
    use proptest::prelude::*;
    use std::io::Write;

    const BOAT: Instruments = Instruments { mast: Some(2.7), transducer: Some(0.3) };

    fn feed_at(lines: &[(f64, String)], boat: Instruments) -> (Vec<Measured>, Feed) {
        let mut feed = Feed::new(Clock::Arrival, boat);
        let mut measured = Vec::new();
        for (second, line) in lines {
            let at = Instant((second * SECOND as f64) as i64);
            feed.take(format!("{}\r\n", with_checksum(line)).as_bytes(), at, &mut |one| measured.push(one));
        }
        (measured, feed)
    }

    fn values(measured: &[Measured], wanted: Known) -> Vec<f64> {
        let value = |one: &Measured| match one.what {
            What::Value(known, value, _) if known == wanted => Some(to_si(value)),
            _ => None,
        };
        measured.iter().filter_map(value).collect()
    }

    #[test]
    fn depth_is_from_the_waterline_where_that_is_known() {
        let depth = |line: &str, boat| values(&feed_at(&[(0.0, line.to_owned())], boat).0, Known::Bottom);
        assert_eq!(depth("SDDPT,14.3,", BOAT), [14.6]);
        assert_eq!(depth("SDDPT,14.3,0.4", BOAT), [14.6], "the boat file knows better");
        assert_eq!(depth("SDDPT,14.3,0.4", Instruments::default()), [14.7]);
        assert_eq!(depth("SDDBS,,f,14.9,M,,F", BOAT), [14.9]);
        let (measured, _) = feed_at(&[(0.0, "SDDPT,14.3,-0.5".to_owned())], Instruments::default());
        let What::Value(_, value, Some(made)) = &measured[0].what else { panic!("a depth with a word on it") };
        assert_eq!((to_si(*value), made.contains("transducer")), (14.3, true));
    }

    #[test]
    fn one_wild_value_moves_nothing() {
        let mut lines: Vec<(f64, String)> =
            (0..30).map(|second| (f64::from(second), "INMTW,16.8,C".to_owned())).collect();
        lines[20].1 = "INMTW,31.0,C".to_owned();
        let (measured, _) = feed_at(&lines, BOAT);
        assert!(values(&measured, Known::Surface).iter().all(|value| (value - 289.95).abs() < 1e-9), "{measured:?}");
        assert_eq!(measured.len(), 1, "what does not move is passed on each minute");
    }

    #[test]
    fn what_moves_is_passed_on_at_most_every_five_seconds_and_what_stands_each_minute() {
        let moving: Vec<(f64, String)> = (0..120)
            .map(|second| (f64::from(second), format!("INMTW,{:.1},C", 10.0 + f64::from(second) * 0.1)))
            .collect();
        let (measured, _) = feed_at(&moving, BOAT);
        assert!((20..=25).contains(&measured.len()), "{}", measured.len());
        let standing: Vec<(f64, String)> =
            (0..600).map(|second| (f64::from(second), "INMTW,16.8,C".to_owned())).collect();
        assert_eq!(feed_at(&standing, BOAT).0.len(), 10);
    }

    #[test]
    fn the_wind_is_freed_of_the_boat_s_motion_and_brought_to_ten_metres() {
        // Two metres a second to the north, and the felt wind of four from ahead: two from the north.
        let lines = [(0.0, "GPVTG,0.0,T,,M,3.888,N,,K,A".to_owned()), (1.0, "WIMWV,0.0,R,4.0,M,A".to_owned())];
        let (measured, _) = feed_at(&lines, BOAT);
        let wind = values(&measured, Known::Wind);
        let factor = libm::pow(10.0 / 2.7, 1.0 / 7.0);
        assert!((wind[0] - 2.0 * factor).abs() < 0.01, "{wind:?}");
        assert!(values(&measured, Known::WindFrom)[0].abs() < 0.1);
        let made = measured.iter().find_map(|one| match &one.what {
            What::Value(Known::Wind, _, made) => *made,
            _ => None,
        });
        assert_eq!(made, Some("at the mast, corrected to 10 m outside the formula's range of 8 to 12 m"));
        // Without the boat's own motion an apparent wind says nothing.
        assert!(feed_at(&[(0.0, "WIMWV,0.0,R,4.0,M,A".to_owned())], BOAT).0.is_empty());
        let (measured, _) = feed_at(
            &[(0.0, "WIMWD,270.0,T,,M,,N,5.0,M".to_owned())],
            Instruments { mast: Some(10.0), transducer: None },
        );
        assert_eq!(values(&measured, Known::Wind), [5.0]);
    }

    #[test]
    fn a_recording_goes_by_its_own_time_and_counts_what_comes_late_or_twice() {
        let rmc = |time: &str| with_checksum(&format!("GPRMC,{time},A,4600.0,N,11600.0,W,2.0,90.0,140526,,,A"));
        let lines = [
            with_checksum("INMTW,16.8,C"),
            rmc("120000"),
            with_checksum("INMTW,16.8,C"),
            rmc("120000"),
            rmc("120010"),
            rmc("115950"),
            "$GPRMC,1200".to_owned(),
            with_checksum("INMTW,16.8,C").replace("16", "17"),
            "!AIVDM,1*00".to_owned(),
            with_checksum("GPRMC,120020,V,,,,,,,140526,,,N"),
        ];
        let mut feed = Feed::new(Clock::Sentences, BOAT);
        let mut measured = Vec::new();
        feed.take(format!("{}\n", lines.join("\n")).as_bytes(), Instant(0), &mut |one| measured.push(one));
        feed.ended(&mut |one| measured.push(one));
        let counts = feed.counts();
        assert_eq!((counts.good, counts.timeless, counts.repeated, counts.late), (3, 1, 1, 1), "{counts:?}");
        assert_eq!((counts.torn, counts.checksum, counts.void), (1, 2, 1), "{counts:?}");
        let noon = "2026-05-14T12:00:00Z".parse::<jiff::Timestamp>().unwrap();
        assert_eq!(measured[0].at, Instant::of(noon));
        assert_eq!(
            counts.words().unwrap(),
            "2 with a wrong checksum, 1 torn or no sentence, 1 without valid data, 1 repeated, 1 late, 1 before the time was known"
        );
    }

    fn taken(clock: Clock, text: &str) -> (Vec<Measured>, Feed) {
        let mut feed = Feed::new(clock, BOAT);
        let mut measured = Vec::new();
        feed.take(text.as_bytes(), Instant(0), &mut |one| measured.push(one));
        feed.ended(&mut |one| measured.push(one));
        (measured, feed)
    }

    #[test]
    fn a_sentence_after_a_torn_one_in_its_line_is_taken() {
        let whole = with_checksum("INMTW,16.8,C");
        for (before, torn) in [
            ("$GPRMC,142530.00,A,48", 1),
            ("\0\0\u{fffd}", 1),
            ("!AIVDM,1,1", 1),
            ("\\s:mast,c:1718893530*1A\\", 0),
            ("", 0),
        ] {
            let (measured, feed) = taken(Clock::Arrival, &format!("{before}{whole}\r\n"));
            assert_eq!(values(&measured, Known::Surface), [289.95], "{before}");
            assert_eq!((feed.counts().torn, feed.counts().good), (torn, 1), "{before}");
        }
        let (measured, feed) = taken(Clock::Arrival, "$INMTW,16$INMTW,16.8,C*00\n$GPRMC,1$GPRMC,1\n");
        assert!(measured.is_empty());
        assert_eq!((feed.counts().torn, feed.counts().checksum), (1, 1), "a line counts once");
        let (_, feed) = taken(Clock::Arrival, "!AIVDM,1,1,,A,,0*26\n");
        assert_eq!((feed.counts().unknown, feed.counts().torn), (1, 0), "another ship's report is whole");
    }

    #[test]
    fn an_unknown_talker_is_heard_and_counted() {
        let (measured, feed) = taken(Clock::Arrival, &format!("{}\n", with_checksum("XXMTW,16.8,C")));
        assert_eq!((measured.len(), feed.counts().good, feed.counts().strangers), (1, 1, 1));
        assert!(feed.counts().words().is_some_and(|words| words.contains("unknown talker")));
    }

    #[test]
    fn a_recording_whose_lines_begin_with_a_time_goes_by_that() {
        let line = |time: &str, body: &str| format!("{time} {}\n", with_checksum(body));
        let text = [
            line("2026-05-14T12:00:00.5Z", "INMTW,16.8,C"),
            // The receiver's clock is behind that of whoever wrote the file down.
            line("2026-05-14T12:00:20Z", "GPRMC,115900,A,4600.0,N,11600.0,W,2.0,90.0,140526,,,A"),
            line("2026-05-14T12:00:08Z", "INMTW,17.8,C"),
            line("2026-05-14T12:01:30+00:00", "INMTW,17.8,C"),
        ];
        let (measured, feed) = taken(Clock::Sentences, &text.concat());
        let counts = feed.counts();
        assert_eq!((counts.good, counts.late, counts.torn, counts.timeless), (3, 1, 0, 0), "{counts:?}");
        let at = |time: &str| Instant::of(time.parse::<jiff::Timestamp>().unwrap());
        let times: Vec<Instant> = measured.iter().map(|one| one.at).collect();
        assert_eq!(times.first(), Some(&at("2026-05-14T12:00:00.5Z")));
        assert_eq!(times.get(1), Some(&at("2026-05-14T12:00:20Z")));
        assert_eq!(times.last(), Some(&at("2026-05-14T12:01:30Z")));
        // Live, a time before a line changes nothing.
        let (measured, feed) = taken(Clock::Arrival, &text[0]);
        assert_eq!((measured[0].at, feed.counts().torn), (Instant(0), 0));
    }

    /// A receiver that begins on a wrong day, an hour or more ahead, and is put right: readings go on.
    #[test]
    fn a_clock_that_is_put_right_does_not_silence_a_recording() {
        let mut text = String::new();
        for (day, seconds) in [("150526", 0..5), ("140526", 0..120)] {
            for second in seconds {
                let fix = format!("12{:02}{:02}.5", second / 60, second % 60);
                let fix = if day == "150526" { fix.replace(".5", ".0") } else { fix };
                let rmc = format!("GPRMC,{fix},A,4600.0,N,11600.0,W,2.0,90.0,{day},,,A");
                text.push_str(&format!("{}\n{}\n", with_checksum(&rmc), with_checksum("INMTW,16.8,C")));
            }
        }
        let (measured, feed) = taken(Clock::Sentences, &text);
        let counts = feed.counts();
        assert_eq!((counts.late, counts.astray, counts.timeless, counts.good), (0, 5, 5, 240), "{counts:?}");
        let next_day = Instant::of("2026-05-15T00:00:00Z".parse::<jiff::Timestamp>().unwrap());
        assert!(measured.iter().all(|one| one.at < next_day), "nothing is of the wrong day");
        assert_eq!(values(&measured, Known::Surface).len(), 2, "at once, and a minute later");
        assert_eq!(values(&measured, Known::GroundSpeed).len(), 2);
    }

    /// Minutes of a recording, a fix and a temperature each second, all of one date.
    fn minutes(date: &str, from: u32, to: u32) -> String {
        let second = |second: u32| {
            let time = format!("{:02}{:02}{:02}", 12 + second / 3600, second / 60 % 60, second % 60);
            let rmc = format!("GPRMC,{time},A,4600.0,N,11600.0,W,2.0,90.0,{date},,,A");
            format!("{}\n{}\n", with_checksum(&rmc), with_checksum("INMTW,16.8,C"))
        };
        (from * 60..to * 60).map(second).collect()
    }

    fn day_of(one: &Measured) -> jiff::civil::Date {
        one.at.zoned(&jiff::tz::TimeZone::UTC).date()
    }

    /// A receiver that was just switched on tells any date, long past or to come, in a sentence or for half a minute; so
    /// does one whose count of weeks has run over, in the middle of the day.
    #[test]
    fn a_date_that_no_other_bears_out_moves_no_reading() {
        let day = jiff::civil::date(2026, 5, 14);
        let wrong = |date: &str, seconds: u32| -> String {
            let lines = minutes(date, 0, 1);
            lines.lines().take(2 * seconds as usize).map(|line| format!("{line}\n")).collect()
        };
        for date in ["060180", "140596", "280526", "311299"] {
            for seconds in [1, 2, 30] {
                let text = format!("{}{}", wrong(date, seconds), minutes("140526", 1, 4));
                let (measured, feed) = taken(Clock::Sentences, &text);
                let counts = feed.counts();
                assert!(measured.iter().all(|one| day_of(one) == day), "{date} {seconds} {measured:?}");
                assert_eq!((counts.astray, counts.timeless), (u64::from(seconds), u64::from(seconds)), "{date}");
                assert_eq!(counts.good, 360);
                let text = format!("{}{}{}", minutes("140526", 0, 2), wrong(date, seconds), minutes("140526", 2, 4));
                let (measured, feed) = taken(Clock::Sentences, &text);
                assert!(measured.iter().all(|one| day_of(one) == day), "{date} {seconds} {measured:?}");
                assert_eq!(feed.counts().astray, u64::from(seconds), "{date}");
                assert_eq!(feed.counts().good, 480 + u64::from(seconds), "what was measured meanwhile is kept");
            }
        }
        let (measured, _) = taken(Clock::Sentences, &wrong("140526", 1));
        assert!(measured.iter().all(|one| day_of(one) == day) && !measured.is_empty(), "the only time there is");
    }

    /// Hours in which nothing was recorded are no wrong date: the day goes on after them.
    #[test]
    fn a_gap_of_hours_in_a_recording_is_one() {
        let text = format!("{}{}", minutes("140526", 0, 2), minutes("140526", 200, 203));
        let (measured, feed) = taken(Clock::Sentences, &text);
        assert_eq!((feed.counts().astray, feed.counts().good), (0, 600));
        let from = Instant::of("2026-05-14T15:20:00Z".parse::<jiff::Timestamp>().unwrap());
        assert_eq!(
            values(&measured.iter().filter(|one| one.at >= from).cloned().collect::<Vec<_>>(), Known::Surface).len(),
            3
        );
        assert!(measured.is_sorted_by_key(|one| one.at));
    }

    /// A receiver without a fix goes by its own clock, for as long as it takes.
    #[test]
    fn a_receiver_without_a_fix_tells_no_time() {
        let mut text = String::new();
        for second in 0..300 {
            let time = format!("12{:02}{:02}", second / 60, second % 60);
            text.push_str(&format!("{}\n", with_checksum(&format!("GPRMC,{time},V,,,,,,,060180,,,N"))));
            text.push_str(&format!("{}\n", with_checksum(&format!("GPZDA,{time},06,01,1980,00,00"))));
        }
        text.push_str(&minutes("140526", 5, 8));
        let (measured, feed) = taken(Clock::Sentences, &text);
        assert!(measured.iter().all(|one| day_of(one) == jiff::civil::date(2026, 5, 14)), "{measured:?}");
        assert_eq!((feed.counts().good, feed.counts().astray), (360, 0));
        // Without a word of a fix, a date alone is one.
        let dates: String = (0..90)
            .map(|second| {
                let zda = format!("GPZDA,12{:02}{:02},14,05,2026,00,00", second / 60, second % 60);
                format!("{}\n{}\n", with_checksum(&zda), with_checksum("INMTW,16.8,C"))
            })
            .collect();
        assert!(!taken(Clock::Sentences, &dates).0.is_empty());
    }

    /// Most sounders say a depth twice: with the offset to the waterline, and without.
    #[test]
    fn a_depth_from_the_surface_goes_before_one_from_the_transducer() {
        let mut lines = vec![(0.0, "SDDBT,46.9,f,14.3,M,7.8,F".to_owned())];
        for second in 1..70 {
            lines.push((f64::from(second), "SDDPT,14.3,0.4".to_owned()));
            lines.push((f64::from(second), "SDDBT,46.9,f,14.3,M,7.8,F".to_owned()));
        }
        let (measured, _) = feed_at(&lines, Instruments::default());
        let depths = values(&measured, Known::Bottom);
        assert_eq!(depths, [14.3, 14.7, 14.7], "the first while nobody has said better, then the better one alone");
        // The better one falls silent: after ten seconds the other counts again.
        lines.extend((70..150).map(|second| (f64::from(second), "SDDBT,46.9,f,14.3,M,7.8,F".to_owned())));
        let (measured, _) = feed_at(&lines, Instruments::default());
        assert_eq!(values(&measured, Known::Bottom).last(), Some(&14.3));
    }

    proptest! {
        /// However a feed is cut, it measures the same.
        #[test]
        fn cuts_change_nothing(cuts in proptest::collection::vec(1usize..40, 1..80)) {
            let mut text = String::new();
            for second in 0..40 {
                text.push_str(&with_checksum(&format!("INMTW,{:.1},C", 10.0 + f64::from(second) * 0.3)));
                text.push_str("\r\n");
                text.push_str(if second % 7 == 0 { "garbage $INMTW*\n" } else { "\n" });
                text.push_str(&" ".repeat(if second % 11 == 0 { 300 } else { 3 }));
            }
            let whole = run(&[text.as_bytes()]);
            let mut parts = Vec::new();
            let (mut rest, mut at) = (text.as_bytes(), 0);
            while !rest.is_empty() {
                let (part, after) = rest.split_at(cuts[at % cuts.len()].min(rest.len()));
                parts.push(part);
                rest = after;
                at += 1;
            }
            prop_assert_eq!(run(&parts), whole);
        }

        /// A spoiled byte costs its line, and where it was a line's end the two that it parted.
        #[test]
        fn what_is_spoiled_costs_little(
            places in proptest::collection::vec((0usize..10_000, any::<u8>(), 0u8..3), 0..12),
            size in 1usize..200,
        ) {
            let sentences = 100;
            let text: String = (0..sentences)
                .map(|number| match number % 4 {
                    0 => format!("GPRMC,1200{:02},A,4600.5,N,11600.5,W,2.0,90.0,140526,,,A", number / 4),
                    1 => format!("INMTW,{}.5,C", number % 40),
                    2 => format!("SDDPT,{number}.5,0.4"),
                    _ => "WIMWV,47.0,R,8.4,N,A".to_owned(),
                })
                .map(|body| format!("{}\r\n", with_checksum(&body)))
                .collect();
            let mut bytes = text.into_bytes();
            for (at, byte, how) in &places {
                let at = at % bytes.len();
                match how {
                    0 => bytes[at] = *byte,
                    1 => { bytes.remove(at); }
                    _ => bytes.insert(at, *byte),
                }
            }
            let mut whole = Feed::new(Clock::Arrival, BOAT);
            let mut measured = Vec::new();
            whole.take(&bytes, Instant(0), &mut |one| measured.push(one));
            let counts = *whole.counts();
            let lost = sentences - counts.good.min(sentences);
            prop_assert!(lost <= 2 * places.len() as u64, "{:?} after {} places", counts, places.len());
            let mut cut = Feed::new(Clock::Arrival, BOAT);
            let mut in_pieces = Vec::new();
            for piece in bytes.chunks(size) {
                cut.take(piece, Instant(0), &mut |one| in_pieces.push(one));
            }
            prop_assert_eq!((measured, counts), (in_pieces, *cut.counts()));
        }

        #[test]
        fn no_feed_does_harm(bytes in proptest::collection::vec(any::<u8>(), 0..4000)) {
            let mut feed = Feed::new(Clock::Arrival, BOAT);
            feed.take(&bytes, Instant(0), &mut |_| {});
            prop_assert!(feed.held() < 4096);
        }
    }

    fn run(parts: &[&[u8]]) -> (Vec<Measured>, u64) {
        let mut feed = Feed::new(Clock::Arrival, BOAT);
        let mut measured = Vec::new();
        for part in parts {
            feed.take(part, Instant(0), &mut |one| measured.push(one));
        }
        (measured, feed.counts().torn)
    }

    /// An hour of ten sentences of each kind a second goes through without growth.
    #[test]
    fn an_hour_at_ten_hertz_is_held_in_little() {
        let mut feed = Feed::new(Clock::Sentences, BOAT);
        let mut count = 0usize;
        let mut most = 0;
        for tick in 0..36_000u32 {
            let (hour, minute, second) = (12 + tick / 36_000, tick / 600 % 60, f64::from(tick % 600) / 10.0);
            let wave = libm::sin(f64::from(tick) / 300.0);
            let lines = [
                format!(
                    "GPRMC,{hour:02}{minute:02}{second:04.1},A,46{:07.4},N,11600.0000,W,{:.2},{:.1},140526,,,A",
                    f64::from(tick) / 2000.0,
                    4.0 + wave,
                    90.0 + 40.0 * wave
                ),
                format!("VWVHW,,T,,M,{:.2},N,,K", 3.8 + wave),
                format!("SDDPT,{:.1},0.3", 30.0 + 8.0 * wave),
                format!("INMTW,{:.2},C", 16.0 + wave),
                format!("WIMWV,{:.1},R,{:.1},M,A", 30.0 + 20.0 * wave, 6.0 + wave),
            ];
            for line in lines {
                feed.take(format!("{}\r\n", with_checksum(&line)).as_bytes(), Instant(0), &mut |_| count += 1);
            }
            most = most.max(feed.held());
        }
        assert_eq!(feed.counts().good, 180_000, "{:?}", feed.counts());
        assert!(most < 2048, "{most} bytes and values held");
        assert!((1000..10_000).contains(&count), "{count} readings of an hour");
    }

    #[test]
    fn addresses_are_read_or_refused() {
        let parse = |text: &str| Address::parse(text, 4800);
        assert_eq!(parse("tcp://boat.local:10110"), Ok(Address::Tcp("boat.local:10110".to_owned())));
        assert_eq!(parse("udp://:10110"), Ok(Address::Udp("0.0.0.0:10110".to_owned())));
        assert_eq!(parse("-"), Ok(Address::StandardInput));
        assert!(matches!(parse("/dev/null"), Ok(Address::Serial(..))));
        for wrong in ["tcp://boat", "tcp://:10110", "http://boat:80", "udp://x:99999", "no/such/file.nmea", "src"] {
            let fault = parse(wrong).unwrap_err();
            assert!(fault.help.is_some(), "{fault}");
        }
    }

    /// Follows an address until so many bytes have come, or it ends.
    fn heard(address: &Address, enough: usize) -> Vec<u8> {
        let mut bytes = Vec::new();
        follow(address, &mut |heard| {
            match heard {
                Heard::Bytes(more) => bytes.extend(more),
                Heard::Connected => {}
                Heard::Lost(_) | Heard::Ended => return false,
            }
            bytes.len() < enough
        });
        bytes
    }

    #[test]
    fn a_server_datagrams_and_a_file_are_followed() {
        let line = with_checksum("INMTW,16.8,C");
        let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        let server = Address::Tcp(listener.local_addr().unwrap().to_string());
        let sent = format!("{line}\r\n");
        let thread = std::thread::spawn(move || listener.accept().unwrap().0.write_all(sent.as_bytes()).unwrap());
        assert_eq!(heard(&server, 10_000), format!("{line}\r\n").as_bytes());
        thread.join().unwrap();

        let free = std::net::UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap();
        let datagram = line.clone();
        let thread = std::thread::spawn(move || {
            let socket = std::net::UdpSocket::bind("127.0.0.1:0").unwrap();
            for _ in 0..50 {
                let _ = socket.send_to(datagram.as_bytes(), free);
                std::thread::sleep(std::time::Duration::from_millis(20));
            }
        });
        let bytes = heard(&Address::Udp(free.to_string()), line.len());
        assert!(bytes.starts_with(format!("{line}\n").as_bytes()), "a datagram ends its line");
        thread.join().unwrap();

        // What breaks off in a line has it ended, so that it is not taken for the beginning of the next.
        let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        let server = Address::Tcp(listener.local_addr().unwrap().to_string());
        let thread = std::thread::spawn(move || listener.accept().unwrap().0.write_all(b"$INMTW,1").unwrap());
        assert_eq!(heard(&server, 10_000), b"$INMTW,1\n");
        thread.join().unwrap();

        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), &line).unwrap();
        let address = Address::parse(&file.path().to_string_lossy(), 4800).unwrap();
        assert!(address.is_recorded());
        assert_eq!(heard(&address, 10_000), format!("{line}\n").as_bytes(), "the last line is whole without an end");
    }
}

// Tracks

mod tracks {
    use leadsman::source::feed::What;
    use leadsman::source::gpx::{of_bytes, way};
    use leadsman::vocabulary::catalogue::Known;
    use leadsman::vocabulary::quantity::{SECOND, to_si};
    use leadsman::water::Place;

    fn gpx(points: &str) -> String {
        format!(
            "<?xml version=\"1.0\"?><gpx version=\"1.1\" creator=\"x\" xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><trkseg>{points}</trkseg></trk></gpx>"
        )
    }

    /// A receiver that was just switched on, and one whose clock runs ahead.
    #[test]
    fn first_points_of_another_day_move_nothing() {
        let point = |time: &str| format!("<trkpt lat=\"46\" lon=\"-116\"><time>{time}</time></trkpt>");
        let day = ["2026-05-14T12:00:00Z", "2026-05-14T12:00:30Z", "2026-05-14T18:01:00Z"].map(point).concat();
        for wrong in ["1970-01-01T00:00:00Z", "2026-05-12T12:00:00Z", "2049-01-01T00:00:00Z"] {
            let track = of_bytes("t.gpx", gpx(&format!("{}{day}", point(wrong))).as_bytes()).unwrap();
            let times = track.measured.iter().map(|one| one.at);
            let (first, last) = (times.clone().min().unwrap(), times.max().unwrap());
            assert_eq!((track.astray, last.since(first) / SECOND), (1, 21_660), "{wrong}");
        }
    }

    #[test]
    fn a_track_gives_places_speeds_and_courses() {
        let point = |lat: f64, second: u32| {
            format!("<trkpt lat=\"{lat}\" lon=\"-116\"><time>2026-05-14T12:00:{second:02}Z</time></trkpt>")
        };
        // A minute of latitude is a nautical mile, about: the sphere's is 1853.25 m.
        let text = gpx(&[
            point(46.0, 0),
            point(46.0001, 3),
            point(46.0002, 10),
            "<trkpt lat=\"46\" lon=\"-116\"/>".to_owned(),
        ]
        .concat());
        let track = of_bytes("t.gpx", text.as_bytes()).unwrap();
        assert_eq!((track.timeless, track.impossible, track.astray), (1, 0, 0));
        let values = |wanted: Known| -> Vec<f64> {
            track
                .measured
                .iter()
                .filter_map(|one| match one.what {
                    What::Value(known, value, _) if known == wanted => Some(to_si(value)),
                    _ => None,
                })
                .collect()
        };
        let speed = 0.0002 * 60.0 * 1853.25 / 10.0;
        assert!((values(Known::GroundSpeed)[0] - speed).abs() < 0.001, "{track:?}");
        assert_eq!(values(Known::Course), [0.0]);
        assert_eq!(track.measured.iter().filter(|one| matches!(one.what, What::Place(_))).count(), 3);
    }

    /// Beside a track a waypoint may be anywhere, with the time at which it was set down.
    #[test]
    fn waypoints_count_where_there_is_no_track() {
        let waypoint = "<wpt lat=\"47\" lon=\"-116\"><time>2026-05-14T12:00:05Z</time><name>ramp</name></wpt>";
        let places = |points: &str| {
            let text = gpx(points).replace("<trk>", &format!("{waypoint}<trk>"));
            let track = of_bytes("t.gpx", text.as_bytes()).unwrap();
            track.measured.iter().filter(|one| matches!(one.what, What::Place(_))).count()
        };
        assert_eq!(places(""), 1);
        assert_eq!(places("<trkpt lat=\"46\" lon=\"-116\"/>"), 1);
        let point = "<trkpt lat=\"46\" lon=\"-116\"><time>2026-05-14T12:00:00Z</time></trkpt>";
        assert_eq!(places(&format!("{point}{}", point.replace(":00Z", ":10Z"))), 2);
    }

    /// What would take long to read, or to unfold, is refused before it is.
    #[test]
    fn a_hostile_track_is_refused_at_once() {
        let wrong = |text: &str| of_bytes("t.gpx", text.as_bytes()).unwrap_err().to_string();
        let entities = gpx("").replace("<gpx", "<!DOCTYPE gpx [<!ENTITY a \"<x><x><x>\">]><gpx");
        assert!(wrong(&entities).contains("declares a type of document"));
        let nested = "<x>".repeat(200_000);
        let deep = gpx(&format!("<trkpt lat=\"46\" lon=\"-116\"><extensions>{nested}"));
        assert!(wrong(&deep).contains("nest more than 100 deep"));
        // What only looks deep is read: comments, quotes, elements that end at once.
        let flat = format!(
            "<trkpt lat=\"46\" lon='-116'><time>2026-05-14T12:00:00Z</time><extensions>{}{}{}</extensions></trkpt>",
            "<x a=\"/>\"/>".repeat(200),
            "<!-- <x> -->".repeat(200),
            "<![CDATA[<x>]]>".repeat(200),
        );
        assert_eq!(of_bytes("t.gpx", gpx(&flat).as_bytes()).unwrap().measured.len(), 1);
    }

    #[test]
    fn what_is_no_track_is_told() {
        for text in ["", "<gpx", "<html></html>", "hello"] {
            assert!(
                of_bytes("t.gpx", text.as_bytes()).unwrap_err().to_string().contains("no GPX that can be read"),
                "{text}"
            );
        }
        let untimed = gpx("<trkpt lat=\"46\" lon=\"-116\"/>");
        assert!(of_bytes("t.gpx", untimed.as_bytes()).unwrap_err().to_string().contains("has a time"));
        let outside = gpx("<trkpt lat=\"96\" lon=\"-116\"><time>2026-05-14T12:00:00Z</time></trkpt>");
        assert!(of_bytes("t.gpx", outside.as_bytes()).is_err());
    }

    /// A quarter of the way around: closed forms on the sphere.
    #[test]
    fn great_circles() {
        let place = |latitude, longitude| Place { latitude, longitude };
        let quarter = 6_371_008.8 * std::f64::consts::FRAC_PI_2;
        let east = way(place(0.0, 0.0), place(0.0, 90.0), 1.0);
        assert!((east.speed - quarter).abs() < 1e-3 && (east.direction - 90.0).abs() < 1e-9);
        let north = way(place(0.0, 20.0), place(90.0, 20.0), 1.0);
        assert!((north.speed - quarter).abs() < 1e-3 && north.direction < 1e-9);
        // Across the date line it is the short way.
        assert!(way(place(0.0, 179.9), place(0.0, -179.9), 1.0).speed < 25_000.0);
    }
}
