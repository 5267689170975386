//! A feed of sentences to readings: cut into lines, read, smoothed, thinned.
//!
//! **Smoothing.** A thermometer's or a log's value is the median of the last ten seconds, so that one wild value moves
//! nothing. A direction is that of the mean vector of ten seconds. The wind is the mean vector of two minutes: gusts are
//! not the wind that makes waves. At most one value a second is kept of each, so that what is held is bounded whatever
//! the instruments send.
//!
//! **Thinning.** A reading is passed on at once where it moved by more than its step, at most every five seconds, and each
//! minute where it did not, so that it does not go stale while its instrument is alive.
//!
//! **Time.** A live feed's readings are of the instant at which they arrive. A recording's are of the time that its
//! sentences carry (RMC and ZDA have a date too), or, where its lines begin with a time (`2026-05-14T12:00:00.2Z $...`), of
//! that; what comes before the first such is passed over and counted. A receiver that was just switched on may tell any
//! date: a time that is the first, or far from the one that the recording is at, counts once a minute of times has gone on
//! from it, and till then what is said is kept back. A receiver that says it has no fix tells no time.
//!
//! **Lines.** A sentence that follows the rest of a torn one in the same line, or bytes that are none, is taken, and the
//! rest counted as torn; a tag block (`\...\`) before a sentence is passed over. An instrument's depth from its transducer
//! gives way, for ten seconds, to one that is known to be from the surface: most sounders say both.

use std::collections::VecDeque;
use std::sync::Arc;

use super::nmea::{Depth, LONGEST, Refused, Report, Wind, is_known_talker, parse};
use crate::program::GivenTarget;
use crate::session::Event;
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::quantity::{MINUTE, SECOND, from_si, to_si};
use crate::vocabulary::time::Instant;
use crate::water::Place;
use crate::water::wind::{Vector, at_ten_metres, true_wind};

/// Where a boat's instruments sit, m; none is not known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Instruments {
    /// The height of the wind's instrument over the water.
    pub mast: Option<f64>,
    /// The depth of the sounder's transducer under the waterline.
    pub transducer: Option<f64>,
}

/// Whose time a feed goes by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Clock {
    /// The instant at which bytes arrive.
    Arrival,
    /// The time that the sentences carry.
    Sentences,
}

/// What became of a feed's lines.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Taken.
    pub good: u64,
    /// The checksum did not fit.
    pub checksum: u64,
    /// Torn, too long, or no sentence at all.
    pub torn: u64,
    /// Of a kind that is not read, or that reports only what is not read.
    pub unknown: u64,
    /// Taken, from a talker that is not in the public list.
    pub strangers: u64,
    /// Without anything valid in them.
    pub void: u64,
    /// The same fix again.
    pub repeated: u64,
    /// With a time before one that was there already.
    pub late: u64,
    /// Before a recording said what time it is.
    pub timeless: u64,
    /// With a time far from the others, which none bore out.
    pub astray: u64,
    /// Values outside what is physically plausible.
    pub implausible: u64,
}

impl Counts {
    /// What is wrong with the feed, in words; none where nothing is.
    pub fn words(&self) -> Option<String> {
        let counts = [
            (self.checksum, "with a wrong checksum"),
            (self.torn, "torn or no sentence"),
            (self.void, "without valid data"),
            (self.strangers, "from an unknown talker, which are taken all the same"),
            (self.repeated, "repeated"),
            (self.late, "late"),
            (self.timeless, "before the time was known"),
            (self.astray, "with a time that no other bore out"),
            (self.implausible, "not plausible"),
        ];
        let told: Vec<String> =
            counts.iter().filter(|(count, _)| *count > 0).map(|(count, what)| format!("{count} {what}")).collect();
        (!told.is_empty()).then(|| told.join(", "))
    }
}

/// A reading out of a feed.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// When.
    pub at: Instant,
    /// What.
    pub what: What,
}

/// What a feed measures.
#[derive(Clone, Debug, PartialEq)]
pub enum What {
    /// A reading's value in counts, and how it was made where that is not plain.
    Value(Known, i64, Option<&'static str>),
    /// Where the boat is.
    Place(Place),
}

/// A feed of sentences.
#[derive(Debug)]
pub struct Feed {
    clock: Clock,
    instruments: Instruments,
    /// The line that has begun and not ended.
    line: Vec<u8>,
    /// It is longer than any sentence, and is passed over to its end.
    overlong: bool,
    counts: Counts,
    now: Option<Instant>,
    /// The latest time of a sentence, in seconds.
    latest: f64,
    /// Lines begin with a time, which is then the only one that counts.
    stamped: bool,
    /// The receiver says that it has no fix.
    no_fix: bool,
    /// A time that is not borne out yet.
    doubted: Option<Doubted>,
    /// The latest fix, by kind and time of day.
    fixes: [Option<([u8; 3], u64)>; 4],
    last_good: Option<Instant>,
    motion: Motion,
    surface: Series,
    air: Series,
    pressure: Series,
    bottom: Series,
    ground_speed: Series,
    water_speed: Series,
    course: Series,
    wind: Series,
    wind_from: Thinning,
    place: Thinning,
    /// When a depth was last known to be from the surface.
    bottom_known: Option<Instant>,
}

/// The boat's own motion, as last heard, for taking it out of the wind.
#[derive(Clone, Copy, Debug, Default)]
struct Motion {
    heading: Option<(Instant, f64)>,
    way: Option<(Instant, Vector)>,
    water_speed: Option<(Instant, f64)>,
}

/// Motion that is older than this takes nothing out of a wind any more.
const MOTION_GOOD_FOR: i64 = 10 * SECOND;
/// A course says where the bow points only while the boat makes way, m/s.
const MAKING_WAY: f64 = 0.3;
const SMOOTHED: i64 = 10 * SECOND;
const WIND_SMOOTHED: i64 = 2 * MINUTE;
const SOONEST: i64 = 5 * SECOND;
const LATEST: i64 = MINUTE;
/// A sentence whose time lies so far before the latest is late, seconds; several instruments may differ by less.
const LATE: f64 = 2.0;
/// From here on, back or ahead, it is no sentence that comes late but another time, which has to be borne out, seconds.
const FAR: f64 = 3600.0;
/// A time is borne out once others have gone on from it for so long, seconds, or so many reports wait for it.
const BORNE_OUT: f64 = 60.0;
const MOST_KEPT_BACK: usize = 1024;

/// A time that a recording has told and that no other bears out yet, in seconds, with what was said since.
#[derive(Debug)]
struct Doubted {
    began: f64,
    latest: f64,
    /// What was said, with the time it had then; whether it told that time itself.
    reports: Vec<(f64, bool, Report)>,
}

impl Feed {
    /// A feed that has not said anything yet.
    pub fn new(clock: Clock, instruments: Instruments) -> Self {
        let scalar = |step: f64| Series::new(Smooth::Median, SMOOTHED, step);
        Self {
            clock,
            instruments,
            line: Vec::with_capacity(LONGEST),
            overlong: false,
            counts: Counts::default(),
            now: None,
            latest: f64::NEG_INFINITY,
            stamped: false,
            no_fix: false,
            doubted: None,
            fixes: [None; 4],
            last_good: None,
            motion: Motion::default(),
            surface: scalar(0.05),
            air: scalar(0.2),
            pressure: scalar(20.0),
            bottom: scalar(0.3),
            ground_speed: scalar(0.05),
            water_speed: scalar(0.05),
            course: Series::new(Smooth::Vector, SMOOTHED, 5.0),
            wind: Series::new(Smooth::Vector, WIND_SMOOTHED, 0.3),
            wind_from: Thinning::new(5.0),
            // About twenty metres.
            place: Thinning::new(0.0002),
            bottom_known: None,
        }
    }

    /// What became of its lines so far.
    pub fn counts(&self) -> &Counts {
        &self.counts
    }

    /// When it last said anything good.
    pub fn last_good(&self) -> Option<Instant> {
        self.last_good
    }

    /// The instant it is at; none for a recording that has not said its time yet.
    pub fn now(&self) -> Option<Instant> {
        self.now
    }

    /// How many bytes and values it holds: bounded, whatever comes.
    pub fn held(&self) -> usize {
        let series = [
            &self.surface,
            &self.air,
            &self.pressure,
            &self.bottom,
            &self.ground_speed,
            &self.water_speed,
            &self.course,
            &self.wind,
        ];
        let kept_back = self.doubted.as_ref().map_or(0, |doubted| doubted.reports.capacity());
        self.line.capacity() + kept_back + series.iter().map(|series| series.values.capacity()).sum::<usize>()
    }

    /// Takes in bytes, cut anywhere, that arrive at an instant; what they measure goes to `to`.
    pub fn take(&mut self, bytes: &[u8], arrived: Instant, to: &mut dyn FnMut(Measured)) {
        if self.clock == Clock::Arrival {
            self.now = Some(self.now.map_or(arrived, |now| now.max(arrived)));
        }
        let mut rest = bytes;
        while let Some(at) = rest.iter().position(|byte| matches!(byte, b'\n' | b'\r')) {
            let (line, after) = rest.split_at(at);
            if self.line.is_empty() && !self.overlong && line.len() <= LONGEST {
                self.line_ended(line, to);
            } else {
                self.lengthen(line);
                let line = std::mem::take(&mut self.line);
                if std::mem::take(&mut self.overlong) {
                    self.counts.torn += 1;
                } else {
                    self.line_ended(&line, to);
                }
                self.line = line;
                self.line.clear();
            }
            rest = after.get(1..).unwrap_or_default();
        }
        self.lengthen(rest);
    }

    fn lengthen(&mut self, part: &[u8]) {
        if self.line.len() + part.len() > LONGEST {
            self.overlong = true;
            self.line.clear();
        } else if !self.overlong {
            self.line.extend_from_slice(part);
        }
    }

    fn line_ended(&mut self, line: &[u8], to: &mut dyn FnMut(Measured)) {
        let line = line.trim_ascii();
        if line.is_empty() {
            return;
        }
        let (line, stamp, parsed) = match parse(line) {
            Err(Refused::Torn | Refused::Checksum) => self.after_something_else(line),
            parsed => (line, None, parsed),
        };
        let report = match parsed {
            Ok(report) => report,
            Err(refused) => {
                let count = match refused {
                    Refused::Torn => &mut self.counts.torn,
                    Refused::Checksum => &mut self.counts.checksum,
                    Refused::Unknown => &mut self.counts.unknown,
                    Refused::Void => &mut self.counts.void,
                };
                *count += 1;
                self.no_fix |= refused == Refused::Void && is_a_fix(line);
                return;
            }
        };
        self.no_fix &= !is_a_fix(line);
        let time = if self.stamped { stamp } else { report.time.filter(|_| !self.no_fix) };
        if self.clock == Clock::Arrival && time.is_some_and(|time| self.is_late(time)) {
            self.counts.late += 1;
            return;
        }
        if self.repeats(line, &report) {
            self.counts.repeated += 1;
            return;
        }
        self.counts.strangers += u64::from(!is_known_talker(line));
        match self.clock {
            Clock::Arrival => self.good(&report, to),
            Clock::Sentences => self.at_its_time(time, report, to),
        }
    }

    /// Takes a report in at the instant the feed is at.
    fn good(&mut self, report: &Report, to: &mut dyn FnMut(Measured)) {
        let Some(now) = self.now else {
            self.counts.timeless += 1;
            return;
        };
        self.counts.good += 1;
        self.last_good = Some(now);
        self.report(report, now, to);
    }

    /// Takes in a recording's report, with the time that its sentence or line carries, in seconds.
    fn at_its_time(&mut self, time: Option<f64>, report: Report, to: &mut dyn FnMut(Measured)) {
        if let Some(time) = time {
            let near = |latest: f64| (time - latest).abs() < FAR;
            let known = self.now.is_some() && near(self.latest);
            let latest = match &mut self.doubted {
                _ if known => self.latest,
                Some(doubted) if near(doubted.latest) => doubted.latest,
                _ => time,
            };
            if time - latest < -LATE {
                self.counts.late += 1;
                return;
            }
            match &mut self.doubted {
                _ if known => {
                    self.doubt_is_gone(to);
                    self.is_at(time);
                }
                Some(doubted) if near(doubted.latest) => doubted.latest = doubted.latest.max(time),
                _ => {
                    self.doubt_is_gone(to);
                    self.doubted = Some(Doubted { began: time, latest: time, reports: Vec::new() });
                }
            }
        }
        let Some(doubted) = &mut self.doubted else { return self.good(&report, to) };
        doubted.reports.push((doubted.latest, time.is_some(), report));
        if doubted.latest - doubted.began >= BORNE_OUT || doubted.reports.len() >= MOST_KEPT_BACK {
            self.borne_out(to);
        }
    }

    fn is_at(&mut self, time: f64) {
        self.latest = self.latest.max(time);
        self.now = from_si(self.latest).map(Instant).or(self.now);
    }

    /// The time that was doubted holds: what was kept back is of it.
    fn borne_out(&mut self, to: &mut dyn FnMut(Measured)) {
        let Some(doubted) = self.doubted.take() else { return };
        self.latest = f64::NEG_INFINITY;
        for (time, _, report) in &doubted.reports {
            self.is_at(*time);
            self.good(report, to);
        }
    }

    /// The time that was doubted does not hold: what told it is astray, the rest is of the time before.
    fn doubt_is_gone(&mut self, to: &mut dyn FnMut(Measured)) {
        let Some(doubted) = self.doubted.take() else { return };
        for (_, told_it, report) in &doubted.reports {
            if *told_it {
                self.counts.astray += 1;
            } else {
                self.good(report, to);
            }
        }
    }

    /// No more comes: what a recording's only time was said under is of that time.
    pub fn ended(&mut self, to: &mut dyn FnMut(Measured)) {
        if self.now.is_none() {
            self.borne_out(to);
        } else {
            self.doubt_is_gone(to);
        }
    }

    /// Whether a live feed's sentence is older than one that was there already. A clock that goes back by hours was wrong
    /// before, and is put right.
    fn is_late(&mut self, time: f64) -> bool {
        let behind = self.latest - time;
        if behind > LATE && behind < FAR {
            return true;
        }
        self.latest = if behind >= FAR { time } else { self.latest.max(time) };
        false
    }

    /// What can be read of a line that is no sentence as a whole: one that follows something else in it, such as the time
    /// at which a recording heard it, in seconds.
    fn after_something_else<'l>(&mut self, line: &'l [u8]) -> (&'l [u8], Option<f64>, Result<Report, Refused>) {
        let start = line.iter().rposition(|byte| matches!(byte, b'$' | b'!')).unwrap_or(0);
        let (before, sentence) = line.split_at_checked(start).unwrap_or((b"", line));
        let parsed = parse(sentence);
        let before = before.trim_ascii();
        // What is all torn counts once, and a tag block is no part of a sentence.
        let all_torn = matches!(parsed, Err(Refused::Torn | Refused::Checksum));
        if all_torn || matches!(before, [] | [b'\\', .., b'\\']) {
            return (sentence, None, parsed);
        }
        let stamp = std::str::from_utf8(before).ok().and_then(|text| text.parse::<jiff::Timestamp>().ok());
        match stamp {
            Some(_) => self.stamped |= self.clock == Clock::Sentences,
            None => self.counts.torn += 1,
        }
        (sentence, stamp.map(|stamp| stamp.as_nanosecond() as f64 / 1e9), parsed)
    }

    /// Whether a fix is the one that this kind of sentence gave last.
    fn repeats(&mut self, line: &[u8], report: &Report) -> bool {
        let (Some(fix), Some(&[a, b, c])) = (report.fix, line.get(3..6)) else { return false };
        let kind = [a, b, c];
        let slot = match self.fixes.iter().position(|known| known.is_some_and(|(of, _)| of == kind)) {
            Some(at) => at,
            None => self.fixes.iter().position(Option::is_none).unwrap_or(0),
        };
        let Some(slot) = self.fixes.get_mut(slot) else { return false };
        let same = *slot == Some((kind, fix));
        *slot = Some((kind, fix));
        same
    }

    fn report(&mut self, report: &Report, now: Instant, to: &mut dyn FnMut(Measured)) {
        let kelvin = |celsius: f64| celsius + 273.15;
        if let Some((latitude, longitude)) = report.place
            && self.place.passes(now, Vector { speed: latitude, direction: longitude }, |a, b| {
                (a.speed - b.speed).abs().max((a.direction - b.direction).abs())
            })
        {
            to(Measured { at: now, what: What::Place(Place { latitude, longitude }) });
        }
        self.motion.take(report, now);
        let mut put =
            |series: &mut Series, known, value: Option<f64>, counts: &mut Counts, made: Option<&'static str>| {
                if let Some(value) = value.and_then(|value| series.take(now, Vector { speed: value, direction: 0.0 })) {
                    pass(now, known, value.speed, made, counts, to);
                }
            };
        let counts = &mut self.counts;
        put(&mut self.surface, Known::Surface, report.water_temperature.map(kelvin), counts, None);
        put(&mut self.air, Known::Air, report.air_temperature.map(kelvin), counts, None);
        put(&mut self.pressure, Known::Pressure, report.pressure, counts, None);
        put(&mut self.ground_speed, Known::GroundSpeed, report.ground_speed, counts, None);
        put(&mut self.water_speed, Known::WaterSpeed, report.water_speed, counts, None);
        if let Some(depth) = report.depth {
            let (depth, made) = self.instruments.under_the_surface(depth);
            let better = self.bottom_known.is_some_and(|at| (0..SMOOTHED).contains(&now.since(at)));
            if made.is_none() && !better {
                // Depths from the surface and from elsewhere make no median together.
                self.bottom.values.clear();
            }
            if made.is_none() {
                self.bottom_known = Some(now);
            }
            if made.is_none() || !better {
                put(&mut self.bottom, Known::Bottom, Some(depth), counts, made);
            }
        }
        // A boat that lies still has no course.
        let course = report.course.filter(|_| report.ground_speed.is_none_or(|speed| speed >= MAKING_WAY));
        if let Some(course) = course.and_then(|direction| self.course.take(now, Vector { speed: 1.0, direction })) {
            pass(now, Known::Course, course.direction, None, counts, to);
        }
        if let Some((wind, made)) = report.wind.and_then(|wind| self.instruments.true_wind(wind, &self.motion, now)) {
            let mean = self.wind.keep(now, wind);
            if self.wind.thinning.passes(now, mean, |a, b| (a.speed - b.speed).abs()) {
                pass(now, Known::Wind, mean.speed, Some(made), &mut self.counts, to);
            }
            if mean.speed > 0.2 && self.wind_from.passes(now, mean, |a, b| turn(a.direction, b.direction)) {
                pass(now, Known::WindFrom, mean.direction, Some(made), &mut self.counts, to);
            }
        }
    }
}

/// Passes a value on where it is plausible.
fn pass(
    at: Instant,
    known: Known,
    value: f64,
    made: Option<&'static str>,
    counts: &mut Counts,
    to: &mut dyn FnMut(Measured),
) {
    match from_si(value).filter(|value| known.entry().is_plausible(*value)) {
        Some(value) => to(Measured { at, what: What::Value(known, value, made) }),
        None => counts.implausible += 1,
    }
}

/// Whether a sentence is of the kinds that say whether a receiver has a fix.
fn is_a_fix(sentence: &[u8]) -> bool {
    matches!(sentence.get(3..6), Some(b"RMC" | b"GGA" | b"GLL"))
}

/// The angle between two directions, 0 to 180.
fn turn(a: f64, b: f64) -> f64 {
    let apart = (a - b).abs() % 360.0;
    apart.min(360.0 - apart)
}

impl Motion {
    fn take(&mut self, report: &Report, now: Instant) {
        self.heading = report.heading.map(|heading| (now, heading)).or(self.heading);
        self.water_speed = report.water_speed.map(|speed| (now, speed)).or(self.water_speed);
        if let (Some(speed), Some(direction)) = (report.ground_speed, report.course) {
            self.way = Some((now, Vector { speed, direction }));
        }
    }

    /// Where the bow points, and how the boat moves over ground, as far as that is fresh.
    fn fresh(&self, now: Instant) -> (Option<f64>, Option<Vector>) {
        fn good<T>(now: Instant, known: Option<(Instant, T)>) -> Option<T> {
            known.filter(|(at, _)| (0..=MOTION_GOOD_FOR).contains(&now.since(*at))).map(|(_, value)| value)
        }
        let way = good(now, self.way);
        let heading = good(now, self.heading);
        let heading = heading.or(way.filter(|way| way.speed >= MAKING_WAY).map(|way| way.direction));
        let through_water = good(now, self.water_speed).zip(heading);
        let moves = way.or(through_water.map(|(speed, direction)| Vector { speed, direction }));
        (heading, moves)
    }
}

impl Instruments {
    /// A depth from the surface, and what there is to say of it.
    fn under_the_surface(&self, depth: Depth) -> (f64, Option<&'static str>) {
        match (depth, self.transducer) {
            (Depth::Surface(depth), _) => (depth, None),
            (Depth::Transducer(depth, _), Some(under)) | (Depth::Transducer(depth, Some(under)), None) => {
                (depth + under, None)
            }
            (Depth::Transducer(depth, None), None) => {
                (depth, Some("from the transducer, whose depth under the waterline nobody has said"))
            }
        }
    }

    /// The true wind at 10 m, by where it comes from, and how it was made; none without the boat's own motion.
    fn true_wind(&self, wind: Wind, motion: &Motion, now: Instant) -> Option<(Vector, &'static str)> {
        let (heading, moves) = motion.fresh(now);
        let at_mast = match wind {
            Wind::True(direction, speed) => Vector { speed, direction },
            Wind::Theoretical(angle, speed) => Vector { speed, direction: (heading? + angle).rem_euclid(360.0) },
            Wind::Apparent(angle, speed) => true_wind(speed, angle, heading?, moves?),
        };
        let corrected = self.mast.and_then(|mast| at_ten_metres(at_mast.speed, mast));
        Some(match corrected {
            Some(at) if at.stated => (Vector { speed: at.speed, ..at_mast }, "at the mast, corrected to 10 m"),
            Some(at) => (
                Vector { speed: at.speed, ..at_mast },
                "at the mast, corrected to 10 m outside the formula's range of 8 to 12 m",
            ),
            None => (at_mast, "at the mast, whose height nobody has said"),
        })
    }
}

/// How values are smoothed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Smooth {
    /// The median of the speeds; directions play no part.
    Median,
    /// The mean vector.
    Vector,
}

/// The values of one thing over a short while.
#[derive(Debug)]
struct Series {
    smooth: Smooth,
    window: i64,
    /// Of a scalar its value and nothing; of a vector its parts to the east and to the north.
    values: VecDeque<(Instant, [f64; 2])>,
    thinning: Thinning,
    /// Room to sort in.
    sorted: Vec<f64>,
}

impl Series {
    fn new(smooth: Smooth, window: i64, step: f64) -> Self {
        Self { smooth, window, values: VecDeque::new(), thinning: Thinning::new(step), sorted: Vec::new() }
    }

    /// Takes a value in, and gives the smoothed one where it is to be passed on.
    fn take(&mut self, now: Instant, value: Vector) -> Option<Vector> {
        let smoothed = self.keep(now, value);
        let apart: fn(Vector, Vector) -> f64 = match self.smooth {
            Smooth::Median => |a, b| (a.speed - b.speed).abs(),
            Smooth::Vector => |a, b| turn(a.direction, b.direction),
        };
        self.thinning.passes(now, smoothed, apart).then_some(smoothed)
    }

    /// Takes a value in, and gives the smoothed one.
    fn keep(&mut self, now: Instant, value: Vector) -> Vector {
        let value = match self.smooth {
            Smooth::Median => [value.speed, 0.0],
            Smooth::Vector => value.parts().into(),
        };
        // A clock that was put right makes everything before it worthless.
        if self.values.back().is_some_and(|(at, _)| now < *at) {
            self.values.clear();
        }
        // One value a second is enough, and bounds what is kept.
        match self.values.back_mut() {
            Some((at, last)) if now.since(*at) < SECOND => *last = value,
            _ => self.values.push_back((now, value)),
        }
        while self.values.front().is_some_and(|(at, _)| now.since(*at) >= self.window) {
            self.values.pop_front();
        }
        match self.smooth {
            Smooth::Median => {
                self.sorted.clear();
                self.sorted.extend(self.values.iter().map(|(_, value)| value[0]));
                self.sorted.sort_unstable_by(f64::total_cmp);
                let median = self.sorted.get(self.sorted.len() / 2).copied();
                Vector { speed: median.unwrap_or(value[0]), direction: 0.0 }
            }
            Smooth::Vector => {
                let sum =
                    self.values.iter().fold([0.0, 0.0], |sum, (_, [east, north])| [sum[0] + east, sum[1] + north]);
                let count = self.values.len().max(1) as f64;
                Vector::of(sum[0] / count, sum[1] / count)
            }
        }
    }
}

/// What was last passed on, and when the next may be.
#[derive(Debug)]
struct Thinning {
    step: f64,
    last: Option<(Instant, Vector)>,
}

impl Thinning {
    fn new(step: f64) -> Self {
        Self { step, last: None }
    }

    fn passes(&mut self, now: Instant, value: Vector, apart: impl Fn(Vector, Vector) -> f64) -> bool {
        let passes = match self.last {
            None => true,
            Some((at, last)) => {
                let age = now.since(at);
                !(0..LATEST).contains(&age) || (age >= SOONEST && apart(last, value) > self.step)
            }
        };
        if passes {
            self.last = Some((now, value));
        }
        passes
    }
}

impl Measured {
    /// What a session takes of it.
    pub fn events(&self) -> Vec<Event> {
        match &self.what {
            What::Place(place) => vec![Event::Place(*place)],
            What::Value(known, value, _) => {
                let give = Event::Give(GivenTarget::Known(*known), Some(*value));
                std::iter::once(give).chain(self.made()).collect()
            }
        }
    }

    /// How a value was made, where that is not plain.
    pub fn made(&self) -> Option<Event> {
        let What::Value(known, _, Some(made)) = &self.what else { return None };
        Some(Event::Made(GivenTarget::Known(*known), Arc::from(*made)))
    }

    /// The name of what is measured, and its value as a log has it: in a system's units, with a decimal more than is
    /// printed.
    pub fn written(&self, system: crate::vocabulary::print::System) -> (&'static str, String) {
        use crate::vocabulary::print::{number, with_unit};
        match &self.what {
            What::Place(place) => (Known::Position.name(), format!("{:.6}, {:.6}", place.latitude, place.longitude)),
            What::Value(known, value, _) => {
                let kind = known.entry().kind;
                let text = match system.unit(kind, *known == Known::Waves) {
                    Some(unit) => with_unit(&number(*value, unit, kind, unit.places + 1), unit.symbol),
                    None => to_si(*value).to_string(),
                };
                (known.name(), text)
            }
        }
    }
}
