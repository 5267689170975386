//! Times and time zones, as files, flags and requests write them.
//!
//! A time is a date and a time of day, `2026-05-14T11:30`, with or without an offset (`-07:00`, `Z`) or a zone
//! (`[America/Boise]`) behind it. Without either it is read in the zone of the water. A time of day that a change of
//! the clocks leaves out is refused; one that it makes twice is the earlier of the two (write the offset for the
//! later).

use std::sync::OnceLock;

use jiff::civil::DateTime;
use jiff::fmt::temporal::{DateTimeParser, Pieces, PiecesOffset, TimeZoneAnnotationKind};
use jiff::tz::{AmbiguousOffset, Offset, TimeZone, TimeZoneDatabase};
use jiff::{Timestamp, civil};

use super::Fault;
use super::given::literal;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::nearest::nearest;
use crate::vocabulary::print;
use crate::vocabulary::time::Instant;

const FORM: &str = "write a date and a time of day, as in `2026-05-14T11:30` or `2026-05-14T11:30-07:00`";
const ZONE_FORM: &str = "write a name as in `America/Boise`, or an offset as in `-07:00`";

/// The zones that come with Leadsman, so that a name means the same on every machine.
fn zones() -> &'static TimeZoneDatabase {
    static ZONES: OnceLock<TimeZoneDatabase> = OnceLock::new();
    ZONES.get_or_init(TimeZoneDatabase::bundled)
}

/// A time zone: an IANA name, or a fixed offset such as `-07:00`.
pub fn zone(text: &str) -> Result<TimeZone, Fault> {
    let plain = text.trim().replace('\u{2212}', "-");
    if plain.starts_with(['+', '-']) {
        return offset(&plain).map(Offset::to_time_zone);
    }
    let named = zones().get(&plain).ok().filter(|zone| !zone.is_unknown());
    named.ok_or_else(|| {
        let names: Vec<String> = zones().available().map(|name| name.to_string()).collect();
        let help = match nearest(&plain, names.iter().map(String::as_str)) {
            Some(near) => format!("did you mean `{near}`?"),
            None => ZONE_FORM.to_owned(),
        };
        Fault::new(format!("`{text}` is no time zone")).help(help)
    })
}

fn offset(text: &str) -> Result<Offset, Fault> {
    // The library's reader of zones takes rules too, which nobody means here: only digits and colons are an offset.
    let only_digits = text.get(1..).is_some_and(|rest| rest.bytes().all(|b| b.is_ascii_digit() || b == b':'));
    let read = only_digits.then(|| DateTimeParser::new().parse_time_zone(text).ok()).flatten();
    let read = read.and_then(|zone| zone.to_fixed_offset().ok());
    read.ok_or_else(|| Fault::new(format!("`{text}` is no offset from UTC")).help(ZONE_FORM))
}

/// A date: `2026-04-18`.
pub fn date(text: &str) -> Result<civil::Date, Fault> {
    let shaped = text.len() == 10 && text.bytes().all(|byte| byte.is_ascii_digit() || byte == b'-');
    let read = if shaped { text.parse::<civil::Date>().ok() } else { None };
    read.ok_or_else(|| Fault::new(format!("`{text}` is no date")).help("write year, month and day: `2026-04-18`"))
}

/// A time, and the zone it is meant in: the water's where there is one, else the one that the time carries.
///
/// Errors: no date and time; neither the water nor the time has a zone; a zone and an offset that contradict each
/// other; a time of day that the clocks left out on that day.
pub fn time(text: &str, water: Option<&TimeZone>) -> Result<(Instant, TimeZone), Fault> {
    let pieces = Pieces::parse(text.trim()).map_err(|_| no_time(text))?;
    let clock = pieces.time().ok_or_else(|| Fault::new(format!("`{text}` has no time of day")).help(FORM))?;
    let civil = pieces.date().to_datetime(clock);
    let carried = carried(text, &pieces)?;
    let (timestamp, own) = match (carried, water) {
        (Carried { offset: Some(offset), zone }, _) => {
            let timestamp = offset.to_timestamp(civil).map_err(|_| no_time(text))?;
            agree(text, timestamp, offset, zone.as_ref())?;
            (timestamp, Some(zone.unwrap_or_else(|| offset.to_time_zone())))
        }
        (Carried { offset: None, zone: Some(zone) }, _) => (in_zone(text, civil, &zone)?, Some(zone)),
        (Carried { offset: None, zone: None }, Some(water)) => (in_zone(text, civil, water)?, None),
        (Carried { offset: None, zone: None }, None) => return Err(no_zone(text)),
    };
    let zone = water.cloned().or(own).unwrap_or(TimeZone::UTC);
    Ok((Instant::of(timestamp), zone))
}

/// A time of day, such as `06:00`, on a date, in a zone. What it says is known as a time of day in messages.
///
/// # Errors
/// It is no time of day, or there was none such on that date.
pub fn of_day(text: &str, date: civil::Date, zone: Option<&TimeZone>) -> Result<(Instant, TimeZone), Fault> {
    let clock = literal("time", Kind::Clock, None, text).map_err(|_| {
        Fault::new(format!("`{text}` is no time of day")).help("write hours and minutes, as in `06:00`")
    })?;
    time(&format!("{date}T{}", print::clock(clock)), zone)
}

/// A time of a calendar without a zone of its own, which stands there as `text`; likewise.
pub fn civil(text: &str, civil: DateTime, water: Option<&TimeZone>) -> Result<(Instant, TimeZone), Fault> {
    let water = water.ok_or_else(|| no_zone(text))?;
    Ok((Instant::of(in_zone(text, civil, water)?), water.clone()))
}

/// How the fault ends about a time that has no zone.
pub const NO_ZONE: &str = "has no time zone, and no water gives it one";

fn no_zone(text: &str) -> Fault {
    let help = format!("name the water with its `zone`, or write the offset, as in `{}-07:00`", text.trim());
    Fault::new(format!("`{text}` {NO_ZONE}")).help(help)
}

fn no_time(text: &str) -> Fault {
    Fault::new(format!("`{text}` is no date and time")).help(FORM)
}

/// What a time carries behind it.
struct Carried {
    offset: Option<Offset>,
    zone: Option<TimeZone>,
}

fn carried(text: &str, pieces: &Pieces<'_>) -> Result<Carried, Fault> {
    let offset = match pieces.offset() {
        None => None,
        Some(PiecesOffset::Numeric(numeric)) => Some(numeric.offset()),
        Some(_) => Some(Offset::UTC),
    };
    let zone = match pieces.time_zone_annotation().map(|annotation| annotation.kind()) {
        None => None,
        Some(TimeZoneAnnotationKind::Named(name)) => Some(zone(name.as_str())?),
        Some(TimeZoneAnnotationKind::Offset(offset)) => Some(offset.to_time_zone()),
        Some(_) => return Err(no_time(text)),
    };
    Ok(Carried { offset, zone })
}

fn agree(text: &str, at: Timestamp, offset: Offset, zone: Option<&TimeZone>) -> Result<(), Fault> {
    match zone.map(|zone| zone.to_offset(at)) {
        Some(there) if there != offset => {
            Err(Fault::new(format!("`{text}` contradicts itself: its zone is at {there} then"))
                .help("leave out the offset or the zone"))
        }
        _ => Ok(()),
    }
}

fn in_zone(text: &str, civil: DateTime, zone: &TimeZone) -> Result<Timestamp, Fault> {
    let ambiguous = zone.to_ambiguous_timestamp(civil);
    if let AmbiguousOffset::Gap { before, after } = ambiguous.offset() {
        let name = zone.iana_name().unwrap_or("the time zone");
        return Err(Fault::new(format!("there was no `{text}` in {name}: the clocks were put forward over it"))
            .help(format!("write the offset that was meant: {before} before the change, {after} after it")));
    }
    ambiguous.earlier().map_err(|_| no_time(text))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn utc(text: &str, water: Option<&str>) -> Result<String, String> {
        let water = water.map(zone).transpose().map_err(|fault| fault.message)?;
        let (at, zone) = time(text, water.as_ref()).map_err(|fault| fault.message)?;
        Ok(format!("{} {}", at.timestamp(), zone.iana_name().unwrap_or("fixed")))
    }

    #[test]
    fn a_time_is_read_by_its_own_zone_or_the_waters() {
        let boise = Some("America/Boise");
        assert_eq!(utc("2026-05-14T11:30", boise).as_deref(), Ok("2026-05-14T17:30:00Z America/Boise"));
        assert_eq!(utc("2026-05-14 11:30:15", Some("-07:00")).as_deref(), Ok("2026-05-14T18:30:15Z fixed"));
        assert_eq!(utc("2026-05-14T11:30-07:00", None).as_deref(), Ok("2026-05-14T18:30:00Z fixed"));
        assert_eq!(utc("2026-05-14T11:30-07:00", boise).as_deref(), Ok("2026-05-14T18:30:00Z America/Boise"));
        assert_eq!(utc("2026-05-14T11:30Z", boise).as_deref(), Ok("2026-05-14T11:30:00Z America/Boise"));
        assert_eq!(utc("2026-05-14T11:30[America/Boise]", None).as_deref(), Ok("2026-05-14T17:30:00Z America/Boise"));
    }

    #[test]
    fn what_is_no_time_says_why() {
        let message = |text: &str, zone| utc(text, zone).err().unwrap_or_default();
        assert_eq!(message("2026-05-14T11:30", None), "`2026-05-14T11:30` has no time zone, and no water gives it one");
        assert_eq!(message("2026-05-14", Some("UTC")), "`2026-05-14` has no time of day");
        assert_eq!(message("11:30", Some("UTC")), "`11:30` is no date and time");
        assert_eq!(message("2026-02-30T11:30", Some("UTC")), "`2026-02-30T11:30` is no date and time");
        assert_eq!(message("noon", Some("UTC")), "`noon` is no date and time");
        assert_eq!(
            message("2026-05-14T11:30-03:00[America/Boise]", None),
            "`2026-05-14T11:30-03:00[America/Boise]` contradicts itself: its zone is at -06 then"
        );
    }

    #[test]
    fn a_time_left_out_is_refused_and_one_made_twice_is_the_earlier() {
        let boise = Some("America/Boise");
        assert_eq!(
            utc("2026-03-08T02:30", boise).err().unwrap_or_default(),
            "there was no `2026-03-08T02:30` in America/Boise: the clocks were put forward over it"
        );
        assert_eq!(utc("2026-11-01T01:30", boise).as_deref(), Ok("2026-11-01T07:30:00Z America/Boise"));
    }

    #[test]
    fn zones_are_names_or_offsets() {
        let message = |text: &str| zone(text).map(|_| ()).map_err(|fault| (fault.message, fault.help));
        assert!(message("America/Boise").is_ok() && message("-07:00").is_ok() && message("+05:45").is_ok());
        let near = Some("did you mean `America/Boise`?".to_owned());
        assert_eq!(message("America/Bosie"), Err(("`America/Bosie` is no time zone".to_owned(), near)));
        for text in ["", "-7h", "+99:00", "EST5EDT4,M3.2.0,M11.1.0", "NaN"] {
            assert!(message(text).is_err(), "{text}");
        }
    }

    #[test]
    fn dates_are_year_month_day() {
        assert!(date("2026-04-18").is_ok());
        assert!(date("18.4.2026").is_err() && date("2026-04-31").is_err() && date("2026-04-18T10:00").is_err());
    }
}
