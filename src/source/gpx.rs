//! Tracks and waypoints: GPX 1.1, for a day that had no log. Positions with their times, and from one to the next the speed
//! and course over ground. Waypoints count only where no track has a time: beside one they may be anywhere on the map, with
//! the time at which they were set down. Where points lie more than a day apart the most that lie closer count: a receiver
//! that was just switched on may give its first points any date.

use jiff::Timestamp;

use super::feed::{Measured, What};
use super::{Fault, files};
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::quantity::{DAY, SECOND, from_si};
use crate::vocabulary::time::Instant;
use crate::water::Place;
use crate::water::wind::Vector;

/// The size of a track's file.
const MOST_BYTES: usize = 64 << 20;
/// How deep elements may nest; the library takes time by the square of it.
const DEEPEST: usize = 100;
/// The mean radius of the earth, m (WGS 84, from memory).
const EARTH: f64 = 6_371_008.8;
/// Points so far apart in time say nothing of the way between them.
const LONGEST_GAP: i64 = 120 * SECOND;
/// Points closer than this are skipped for the way: their places are no better than some metres.
const SHORTEST_GAP: i64 = 5 * SECOND;

/// What a track holds.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Track {
    /// Positions, speeds and courses over ground, in the order of time.
    pub measured: Vec<Measured>,
    /// How many points have no time, which says nothing of a day.
    pub timeless: usize,
    /// How many have a place or time that can't be.
    pub impossible: usize,
    /// How many are of other days than the most.
    pub astray: usize,
}

/// Reads a file, or standard input where the path is `-`.
///
/// Errors: it can't be read; it is no GPX; it has no point with a time.
pub fn read(path: &str) -> Result<Track, Fault> {
    of_bytes(path, &files::bytes_within(path, MOST_BYTES)?)
}

/// Reads a track out of bytes.
pub fn of_bytes(file: &str, bytes: &[u8]) -> Result<Track, Fault> {
    if let Some(why) = hostile(bytes) {
        return Err(Fault::new(format!("this is no GPX: {why}")).within(file));
    }
    let gpx = ::gpx::read(bytes).map_err(|error| {
        let message = format!("this is no GPX that can be read: {error}");
        Fault::new(message).help("a track is a file with `<gpx version=\"1.1\">` at its head").within(file)
    })?;
    let mut track = Track::default();
    let mut points: Vec<(Instant, Place)> = Vec::new();
    let in_tracks = || gpx.tracks.iter().flat_map(|track| &track.segments).flat_map(|segment| &segment.points);
    let tracked = in_tracks().any(|point| point.time.is_some());
    for point in in_tracks().chain(gpx.waypoints.iter().filter(|_| !tracked)) {
        let Some(time) = point.time else {
            track.timeless += 1;
            continue;
        };
        let at = time.format().ok().and_then(|text| text.parse::<Timestamp>().ok()).map(Instant::of);
        let (longitude, latitude) = point.point().x_y();
        let there = latitude.abs() <= 90.0 && longitude.abs() <= 180.0;
        match at.filter(|_| there) {
            Some(at) => points.push((at, Place { latitude, longitude })),
            None => track.impossible += 1,
        }
    }
    points.sort_by_key(|(at, _)| *at);
    points.dedup_by_key(|(at, _)| *at);
    if points.is_empty() {
        let help = "a recording has a `<time>` in every point; a route that was only planned has none";
        return Err(Fault::new("no point of this file has a time").help(help).within(file));
    }
    let days = points.chunk_by(|(before, _), (after, _)| after.since(*before) <= DAY);
    // Of two as long the earlier.
    let day = days.rev().max_by_key(|day| day.len()).unwrap_or_default();
    track.astray = points.len() - day.len();
    let mut before: Option<(Instant, Place)> = None;
    for (at, place) in day.iter().copied() {
        track.measured.push(Measured { at, what: What::Place(place) });
        let gap = before.map_or(i64::MAX, |(then, _)| at.since(then));
        if let Some((_, from)) = before.filter(|_| (SHORTEST_GAP..=LONGEST_GAP).contains(&gap)) {
            let way = way(from, place, gap as f64 / SECOND as f64);
            let mut put = |known: Known, value: f64| {
                let value = from_si(value).filter(|value| known.entry().is_plausible(*value));
                track.measured.extend(value.map(|value| Measured { at, what: What::Value(known, value, None) }));
            };
            put(Known::GroundSpeed, way.speed);
            if way.speed > 0.3 {
                put(Known::Course, way.direction);
            }
        }
        if gap >= SHORTEST_GAP {
            before = Some((at, place));
        }
    }
    Ok(track)
}

/// What an XML text has that no track needs and that takes the library long, as far as the text is well formed.
fn hostile(xml: &[u8]) -> Option<String> {
    let (mut deep, mut rest) = (0usize, xml);
    while let Some(at) = rest.iter().position(|byte| *byte == b'<') {
        rest = rest.get(at + 1..).unwrap_or_default();
        let skipped: Option<&[u8]> = [(&b"!--"[..], &b"-->"[..]), (b"![CDATA[", b"]]>"), (b"?", b"?>")]
            .into_iter()
            .find_map(|(begin, end)| rest.starts_with(begin).then_some(end));
        if let Some(end) = skipped {
            let after = rest.windows(end.len()).position(|window| window == end).map(|at| at + end.len());
            rest = after.and_then(|after| rest.get(after..)).unwrap_or_default();
            continue;
        }
        if rest.starts_with(b"!") {
            // Its entities could hold anything, elements too.
            return Some("it declares a type of document".to_owned());
        }
        // An element's end may stand in quotes before it ends.
        let mut quote = None;
        let end = rest.iter().position(|byte| {
            match (quote, byte) {
                (None, b'"' | b'\'') => quote = Some(*byte),
                (Some(open), byte) if open == *byte => quote = None,
                _ => {}
            }
            quote.is_none() && *byte == b'>'
        });
        let Some((element, after)) = end.and_then(|end| rest.split_at_checked(end)) else { break };
        if element.starts_with(b"/") {
            deep = deep.saturating_sub(1);
        } else if !element.ends_with(b"/") {
            deep += 1;
            if deep > DEEPEST {
                return Some(format!("its elements nest more than {DEEPEST} deep"));
            }
        }
        rest = after;
    }
    None
}

/// The speed in m/s and the course from one place to another, by the great circle: haversine, and the course at its
/// beginning.
pub fn way(from: Place, to: Place, seconds: f64) -> Vector {
    let [a, b] = [from.latitude, to.latitude].map(f64::to_radians);
    let across = (to.longitude - from.longitude).to_radians();
    let half = |angle: f64| libm::sin(angle / 2.0) * libm::sin(angle / 2.0);
    let (cos_a, cos_b) = (libm::cos(a), libm::cos(b));
    let h = (half(b - a) + cos_a * cos_b * half(across)).clamp(0.0, 1.0);
    let distance = 2.0 * EARTH * libm::asin(h.sqrt());
    let east = libm::sin(across) * cos_b;
    let north = cos_a * libm::sin(b) - libm::sin(a) * cos_b * libm::cos(across);
    let direction = libm::atan2(east, north).to_degrees().rem_euclid(360.0);
    Vector { speed: distance / seconds, direction }
}
