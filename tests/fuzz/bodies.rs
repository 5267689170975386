//! What the fuzz targets do with bytes. `tests/fuzz_corpus.rs` does the same with the kept corpus.

use std::sync::Arc;

use leadsman::advice::text::{Layout, tell};
use leadsman::advice::{Shown, advise};
use leadsman::check::{IncludeError, Includes, check, check_bytes};
use leadsman::findings::terminal;
use leadsman::program::Program;
use leadsman::session::{Mode, Session, Setting};
use leadsman::source::feed::{Clock, Counts, Feed, Instruments, Measured, What};
use leadsman::syntax;
use leadsman::text::{FileId, SourceFile};
use leadsman::vocabulary::quantity::SECOND;
use leadsman::vocabulary::time::Instant;
use leadsman::{format, proof};

use super::make::{ALL, Choices, day, strategy};

const CARE: &str = include_str!("../../rules/common/care.strategy");
const SHIPPED: [&str; 3] = [
    include_str!("../../rules/less_to_chase.strategy"),
    include_str!("../../rules/light_and_depth.strategy"),
    include_str!("../../rules/under_the_warm_lid.strategy"),
];

/// What can be included: the shared rules, and the bytes themselves.
struct Shelf<'b>(&'b [u8]);

impl Includes for Shelf<'_> {
    fn read(&self, path: &str) -> Result<Vec<u8>, IncludeError> {
        match path {
            "common/care.strategy" => Ok(CARE.into()),
            "again" => Ok(self.0.to_vec()),
            _ => Err(IncludeError::Missing),
        }
    }
}

/// Any bytes are checked, drawn, and, where they can be read, formatted.
pub fn check_any(bytes: &[u8]) {
    let checked = check_bytes("any.strategy", bytes.to_vec(), &Shelf(bytes));
    let findings = proof::all_findings(&checked);
    let drawn = terminal::draw(&findings, &checked.sources, false);
    assert_eq!(drawn.is_empty(), findings.is_empty(), "every finding is drawn");
    for finding in &findings {
        assert!(!finding.message.is_empty() && !finding.message.contains('\n'), "a message is one line");
    }
    if let Ok(text) = std::str::from_utf8(bytes) {
        format_any(text);
    }
}

/// Whatever can be read can be formatted, keeps its meaning, and stays as it is when it is formatted again.
fn format_any(text: &str) {
    let parsed = syntax::parse(FileId(0), &SourceFile::new("", text));
    match format::format(text) {
        Ok(once) => assert_eq!(format::format(&once).as_ref(), Ok(&once), "formatting twice is formatting once"),
        // A text close to the largest may be too large when it is laid out.
        Err(findings) => assert!(
            !parsed.findings.is_empty() || text.len() > syntax::MOST_BYTES / 4,
            "what can be read can be formatted: {findings:?}"
        ),
    }
}

/// Any bytes come from a boat's instruments: however they are cut they measure the same, nothing that is measured is
/// implausible, and little is held.
pub fn hear_any(bytes: &[u8]) {
    let [size, seconds, sounds @ ..] = bytes else { return };
    let size = usize::from(*size) + 1;
    for clock in [Clock::Arrival, Clock::Sentences] {
        let whole = hear(clock, [sounds].into_iter());
        let cut = hear(clock, sounds.chunks(size));
        assert!(whole == cut, "a feed in pieces of {size} differs");
        // In time too, as far as that goes: between two pieces some seconds pass.
        let mut feed = Feed::new(clock, Instruments { mast: Some(3.0), transducer: None });
        for (number, piece) in sounds.chunks(size).enumerate() {
            let at = Instant(number as i64 * i64::from(*seconds) * SECOND);
            feed.take(piece, at, &mut plausible);
            assert!(feed.held() < 8192, "{} bytes and values are held", feed.held());
        }
        feed.ended(&mut plausible);
    }
}

fn hear<'b>(clock: Clock, pieces: impl Iterator<Item = &'b [u8]>) -> (Vec<Measured>, Counts) {
    let mut feed = Feed::new(clock, Instruments { mast: Some(3.0), transducer: Some(0.3) });
    let mut measured = Vec::new();
    for piece in pieces {
        feed.take(piece, Instant(0), &mut |one| measured.push(one));
    }
    feed.ended(&mut |one| measured.push(one));
    (measured, *feed.counts())
}

fn plausible(measured: Measured) {
    match measured.what {
        What::Value(known, value, _) => {
            let range = known.entry().plausible;
            assert!(range.is_none_or(|(least, most)| (least..=most).contains(&value)), "{known:?} {value}");
        }
        What::Place(place) => assert!(place.latitude.abs() <= 90.0 && place.longitude.abs() <= 180.0, "{place:?}"),
    }
}

/// Bytes become a strategy and a day; two sessions of it see the same and call the same, in numbers and in words.
pub fn evaluate_any(bytes: &[u8]) {
    let mut choices = Choices::new(bytes);
    let text = match choices.below(8) {
        shipped @ 0..=2 => SHIPPED[shipped].to_owned(),
        _ => strategy(&mut choices, ALL),
    };
    let checked = check("made.strategy", &text, &Shelf(b""));
    let Some(program) = checked.program else { panic!("{:?}\n{text}", checked.findings) };
    let mode = if choices.chance(128) { Mode::Live } else { Mode::Trial };
    let day = day(&mut choices, &program, 24);
    let first = play(&program, mode, &day);
    let second = play(&program, mode, &day);
    assert!(first == second, "the same day, called twice, differs");
}

/// Everything that a session calls on a day, at each instant of it, in words and as data.
fn play(program: &Arc<Program>, mode: Mode, day: &[(Instant, Vec<leadsman::session::Event>)]) -> Vec<String> {
    let mut session = Session::new(program.clone(), Arc::new(Setting::default()), mode);
    let mut alone = Session::alone(program.clone(), Arc::new(Setting::default()));
    let mut called = Vec::new();
    for (at, events) in day {
        for session in [&mut session, &mut alone] {
            assert!(session.at(*at, events.iter().cloned()).is_ok(), "a day is in the order of time");
        }
    }
    let Some((last, _)) = day.last() else { return called };
    for session in [&session, &alone] {
        let advice = advise(session, *last, &Shown::default());
        called.push(tell(&advice, None, Layout { width: 60, bold: false, all_readings: true }));
        called.push(serde_json::to_string(&advice).unwrap_or_default());
        called.push(format!("{:?}", session.outcome(*last)));
    }
    called
}
