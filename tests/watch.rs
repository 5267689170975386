//! `watch` from a boat's instruments: a recording, a live server, a track, a serial line, and what is wrong with them.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]
#![allow(clippy::disallowed_methods, reason = "the process under test is waited for by the machine's clock")]

use std::io::{BufRead, BufReader, Write};
use std::process::{Command, Stdio};

use leadsman::day::log::{Log, What};

const STRATEGY: &str = "rules/less_to_chase.strategy";

fn with_checksum(body: &str) -> String {
    format!("${body}*{:02X}\r\n", body.bytes().fold(0, |sum, byte| sum ^ byte))
}

fn watch(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_leadsman"));
    command.args(["watch", STRATEGY, "--water", "rules/ossel/water.yaml", "--boat", "rules/ossel/boat.yaml"]);
    command.args(arguments).current_dir(env!("CARGO_MANIFEST_DIR"));
    command
}

fn in_folder(name: &str) -> (tempfile::TempDir, String) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name).to_string_lossy().into_owned();
    (folder, path)
}

/// The calls that were printed as JSON.
fn calls(output: &[u8]) -> Vec<serde_json::Value> {
    String::from_utf8_lossy(output).lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

/// An hour and a half on the lake: cool water, a wind that rises, sentences torn now and then.
fn recording() -> String {
    let mut text = String::new();
    for second in 0..5400u32 {
        let at = 18 * 3600 + second;
        let wave = libm::sin(f64::from(second) / 600.0);
        let fix = format!("{:02}{:02}{:02}", at / 3600, at / 60 % 60, at % 60);
        text.push_str(&with_checksum(&format!("GPRMC,{fix},A,4600.{second:04},N,11600.0000,W,2.6,0.0,140526,,,A")));
        text.push_str(&with_checksum(&format!("INMTW,{:.1},C", 12.2 + f64::from(second) / 3000.0)));
        text.push_str(&with_checksum(&format!("SDDPT,{:.1},", 30.0 + 5.0 * wave)));
        text.push_str(&with_checksum(&format!("WIMWV,20.0,R,{:.1},M,A", 5.0 + 2.0 * wave)));
        if second % 100 == 0 {
            text.push_str("$GPRMC,torn\r\n");
        }
    }
    text
}

#[test]
fn a_recording_is_called_through_by_its_own_time_and_leaves_a_log() {
    let (folder, log) = in_folder("day.yaml");
    let recorded = folder.path().join("recorded.nmea");
    std::fs::write(&recorded, recording()).unwrap();
    let from = recorded.to_string_lossy().into_owned();
    let output =
        watch(&["--from", &from, "--log", &log, "--lines-in", "--json"]).stdin(Stdio::null()).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}");
    assert!(said.contains("21600 good sentences; 54 torn or no sentence"), "{said}");
    let calls = calls(&output.stdout);
    assert!((3..12).contains(&calls.len()), "{} calls", calls.len());
    assert_eq!(calls[0]["at"], "2026-05-14T11:00:00-07:00");
    // The waves are the model's, by the wind of the mast, and say so.
    let reading = |name: &str| calls[0]["readings"].as_array().unwrap().iter().find(|one| one["name"] == name).unwrap();
    assert_eq!(reading("waves")["origin"], "estimated");
    assert_eq!(reading("wind")["how"], "at the mast, corrected to 10 m outside the formula's range of 8 to 12 m");
    assert_eq!(reading("wind")["origin"], "given");
    let day = Log::read(&log, None).unwrap();
    assert!(matches!(day.entries[0].what, What::Lines(true)));
    assert!((200..800).contains(&day.entries.len()), "thinned: {} events of 21,600 sentences", day.entries.len());
}

/// A receiver that was just switched on told another year, twice: the day is that of all the rest.
#[test]
fn a_recording_that_begins_on_a_wrong_date_is_called_on_the_right_one() {
    for wrong in ["060180", "311249"] {
        let (folder, log) = in_folder("day.yaml");
        let recorded = folder.path().join("recorded.nmea");
        let first: String = ["175950", "175951"]
            .map(|fix| with_checksum(&format!("GPRMC,{fix},A,4600.0,N,11600.0,W,2.6,0.0,{wrong},,,A")))
            .concat();
        std::fs::write(&recorded, first + &recording()).unwrap();
        let from = recorded.to_string_lossy().into_owned();
        let output =
            watch(&["--from", &from, "--log", &log, "--lines-in", "--json"]).stdin(Stdio::null()).output().unwrap();
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(said.contains("2 with a time that no other bore out"), "{said}");
        assert_eq!(calls(&output.stdout)[0]["at"], "2026-05-14T11:00:00-07:00");
        assert!(Log::read(&log, None).unwrap().entries.len() > 200);
    }
}

#[test]
fn a_live_server_and_keys_together() {
    let (_folder, log) = in_folder("day.yaml");
    let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let address = format!("tcp://{}", listener.local_addr().unwrap());
    let mut child = watch(&["--from", &address, "--log", &log, "--json"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut keys = child.stdin.take().unwrap();
    let mut printed = BufReader::new(child.stdout.take().unwrap()).lines();
    let (mut server, _) = listener.accept().unwrap();
    let mut call = || serde_json::from_str::<serde_json::Value>(&printed.next().unwrap().unwrap()).unwrap();
    assert_eq!(call()["session"], false, "lines are not in yet");
    writeln!(keys, "i\n").unwrap();
    while call()["session"] == false {}
    // A surface of 21 °C brings lines up for trout that are to be let go.
    server.write_all(with_checksum("INMTW,21.0,C").as_bytes()).unwrap();
    while call()["lines_up"].as_array().unwrap().is_empty() {}
    // The server goes away and the day goes on; a strike is never lost.
    drop(server);
    writeln!(keys, "s 2\nf 2\nn back to the ramp\no\nq").unwrap();
    assert!(child.wait().unwrap().success());
    let day = Log::read(&log, None).unwrap();
    let kinds: Vec<String> = day
        .entries
        .iter()
        .map(|entry| format!("{:?}", entry.what).split(['(', ' ']).next().unwrap().to_owned())
        .collect();
    let wanted = ["Lines", "Readings", "Rod", "Strike", "Landed", "Note", "Lines"];
    assert_eq!(kinds, wanted);
}

#[test]
fn instruments_that_fall_silent_are_told_and_so_is_their_return() {
    let (_folder, log) = in_folder("day.yaml");
    let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let address = format!("tcp://{}", listener.local_addr().unwrap());
    let mut child = watch(&["--from", &address, "--log", &log, "--silence", "1", "--beep"])
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let (mut server, _) = listener.accept().unwrap();
    let mut said = BufReader::new(child.stderr.take().unwrap()).lines().map(Result::unwrap);
    server.write_all(with_checksum("INMTW,12.0,C").as_bytes()).unwrap();
    let silent = said.by_ref().find(|line| line.contains("silent")).unwrap();
    assert_eq!(silent, format!("\u{7}{address} is silent: its readings grow old"));
    server.write_all(with_checksum("INMTW,12.1,C").as_bytes()).unwrap();
    assert_eq!(said.by_ref().find(|line| line.contains("again")), Some(format!("{address} is heard again")));
    child.kill().unwrap();
    child.wait().unwrap();
}

#[test]
fn a_track_gives_the_places_of_a_day_without_a_log() {
    let (folder, log) = in_folder("day.yaml");
    let mut points = String::new();
    for minute in 0..60 {
        points.push_str(&format!(
            "<trkpt lat=\"{:.5}\" lon=\"-116.0\"><time>2026-05-14T18:{minute:02}:00Z</time></trkpt>",
            46.0 + f64::from(minute) * 0.0007
        ));
    }
    let track = folder.path().join("track.gpx");
    let head = "<?xml version=\"1.0\"?><gpx version=\"1.1\" creator=\"x\" xmlns=\"http://www.topografix.com/GPX/1/1\">";
    std::fs::write(&track, format!("{head}<trk><trkseg>{points}</trkseg></trk></gpx>")).unwrap();
    let from = track.to_string_lossy().into_owned();
    let output = watch(&["--from", &from, "--log", &log]).stdin(Stdio::null()).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let text = std::fs::read_to_string(&log).unwrap();
    assert_eq!(text.matches("\"position\"").count(), 60);
    assert_eq!(text.matches("\"ground_speed\": \"2.90 mph\"").count(), 59, "{text}");
}

/// A serial line, by a pseudo-terminal.
#[cfg(target_os = "linux")]
#[test]
fn a_serial_line_is_read() {
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    let (_folder, log) = in_folder("day.yaml");
    let ours = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
    grantpt(&ours).unwrap();
    unlockpt(&ours).unwrap();
    let line = ptsname(&ours, Vec::new()).unwrap().to_string_lossy().into_owned();
    let mut ours = std::fs::File::from(ours);
    let mut child = watch(&["--from", &line, "--baud", "38400", "--log", &log, "--json", "--lines-in"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut printed = BufReader::new(child.stdout.take().unwrap()).lines();
    let _ = printed.next().unwrap().unwrap();
    for _ in 0..5 {
        ours.write_all(with_checksum("INMTW,21.0,C").as_bytes()).unwrap();
    }
    let stopped = printed.map(|line| serde_json::from_str::<serde_json::Value>(&line.unwrap()).unwrap());
    assert!(stopped.into_iter().any(|call| !call["lines_up"].as_array().unwrap().is_empty()));
    child.kill().unwrap();
    child.wait().unwrap();
}

#[test]
fn what_cant_be_followed_is_told() {
    let (_folder, log) = in_folder("day.yaml");
    let cases: [(&[&str], &str, i32); 6] = [
        (&["--from", "Cargo.toml"], "a recording is of another day: name its log", 1),
        (&["--from", "no/such.nmea", "--log", &log], "there is no file `no/such.nmea`", 1),
        (&["--from", "tcp://nowhere", "--log", &log], "`nowhere` names no port", 1),
        (&["--from", "Cargo.toml", "--from", "README.md", "--log", &log], "a recording goes by its own time", 1),
        (&["--log", "no/such/folder/day.yaml"], "the day's log can't be written", 1),
        (&["--baud", "fast"], "invalid value", 2),
    ];
    for (arguments, message, code) in cases {
        let output = watch(arguments).stdin(Stdio::null()).output().unwrap();
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(said.contains(message), "{arguments:?}: {said}");
        assert_eq!(output.status.code(), Some(code), "{arguments:?}");
    }
    // A log that has faults is not written on, and nothing of it is lost.
    std::fs::write(&log, "zone: \"-07:00\"\nevents:\n- {at: \"2026-05-14T06:31:00-07:00\", strike: yes}\n").unwrap();
    let output = watch(&["--log", &log]).stdin(Stdio::null()).output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&output.stderr).contains(":3:3: a fish can't strike while lines are out"));
}
