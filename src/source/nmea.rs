//! One sentence of a boat's instruments: NMEA 0183, by the public description of its sentences.
//!
//! A line is `$`, a talker of two letters, a kind of three, fields parted by commas, `*` and two hexadecimal digits: every
//! byte between `$` and `*` taken together by exclusive or. An empty field is no data, not zero. A sentence without its
//! two digits is refused: a torn line would look like one. Values are plain SI; what is no number or out of all range is
//! no data. Sentences with `!` (other ships' reports) are whole, and of a kind that is not read.
//!
//! Source: *NMEA Revealed*, the gpsd project's description, version 2.24, which did not consult the paid standard.

use std::ops::RangeInclusive;

/// The longest line that is looked at; the standard says 82 bytes, and some instruments write more.
pub const LONGEST: usize = 256;
const KNOT: f64 = 1852.0 / 3600.0;
const BAR: f64 = 1e5;
/// As the language has it, Pa.
const INCH_OF_MERCURY: f64 = 3386.389;

/// Why a line was not taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refused {
    /// It is no sentence: torn, too long, something else.
    Torn,
    /// Its checksum does not fit.
    Checksum,
    /// A kind that is not read, or that reports only what is not read.
    Unknown,
    /// It says of itself that it is not valid, or holds nothing that is.
    Void,
}

/// What a sentence reports; what it does not say is none. Metres, metres a second, degrees, °C, pascals.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Report {
    /// Coordinated universal time, where the sentence has a date too: seconds since 1970-01-01.
    pub time: Option<f64>,
    /// The time of day as it is written, to tell a sentence from its repetition.
    pub fix: Option<u64>,
    /// Latitude and longitude, decimal degrees, north and east positive.
    pub place: Option<(f64, f64)>,
    /// Speed over ground.
    pub ground_speed: Option<f64>,
    /// Course over ground, from true north.
    pub course: Option<f64>,
    /// Speed through the water.
    pub water_speed: Option<f64>,
    /// Where the bow points, from true north.
    pub heading: Option<f64>,
    /// Depth of the water.
    pub depth: Option<Depth>,
    /// Temperature of the water.
    pub water_temperature: Option<f64>,
    /// Temperature of the air.
    pub air_temperature: Option<f64>,
    /// Pressure of the air.
    pub pressure: Option<f64>,
    /// The wind.
    pub wind: Option<Wind>,
}

/// A depth, and what it is measured from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Depth {
    /// From the transducer; where the instrument says how deep that is under the waterline, so.
    Transducer(f64, Option<f64>),
    /// From the surface.
    Surface(f64),
}

/// A wind as it is measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Wind {
    /// As it is felt on the boat: the angle from the bow, and the speed.
    Apparent(f64, f64),
    /// With the boat's motion taken out: the angle from the bow, and the speed.
    Theoretical(f64, f64),
    /// By where it comes from, from true north, and the speed.
    True(f64, f64),
}

/// Reads one line, its end left out or not.
pub fn parse(line: &[u8]) -> Result<Report, Refused> {
    let line = line.trim_ascii();
    if line.len() > LONGEST {
        return Err(Refused::Torn);
    }
    let (ours, body) = match line {
        [b'$', body @ ..] => (true, body),
        [b'!', body @ ..] => (false, body),
        _ => return Err(Refused::Torn),
    };
    let star = body.iter().rposition(|byte| *byte == b'*').ok_or(Refused::Torn)?;
    let (body, digits) = (body.get(..star).unwrap_or_default(), body.get(star + 1..).unwrap_or_default());
    let said = checksum_of(digits).ok_or(Refused::Torn)?;
    if body.iter().fold(0, |sum, byte| sum ^ byte) != said {
        return Err(Refused::Checksum);
    }
    // An exclusive or of printable characters can make any two digits: what is not printable is torn all the same.
    let text = std::str::from_utf8(body).ok().filter(|text| text.bytes().all(|byte| (b' '..=b'~').contains(&byte)));
    let text = text.ok_or(Refused::Torn)?;
    let (address, rest) = text.split_once(',').ok_or(Refused::Torn)?;
    let kind = match (address.get(..2), address.get(2..)) {
        // Makers' own sentences have one letter and a name.
        _ if !ours || address.starts_with('P') => return Err(Refused::Unknown),
        (Some(_), Some(kind)) if kind.len() == 3 => kind,
        _ => return Err(Refused::Torn),
    };
    let report = read(kind, &Fields::of(rest)).ok_or(Refused::Unknown)?;
    let nothing = Report { time: None, fix: None, ..report } == Report::default() && report.time.is_none();
    match (nothing, kind) {
        (false, _) => Ok(report),
        // Most transducers measure what nobody asks here, and a compass without the variation is of no use.
        (true, "XDR" | "HDG") => Err(Refused::Unknown),
        (true, _) => Err(Refused::Void),
    }
}

/// Whether a whole sentence comes from a talker of the public list. Any other is heard too: the list grows.
pub fn is_known_talker(sentence: &[u8]) -> bool {
    let Some(&[a, b]) = sentence.get(1..3) else { return false };
    (a == b'U' && b.is_ascii_digit()) || TALKERS.as_chunks::<2>().0.binary_search(&[a, b]).is_ok()
}

/// The public list of talkers, in order, obsolete ones too.
const TALKERS: &[u8] =
    b"ABADAGAIANAPARATAXBDBIBNCACCCDCMCRCSCTCVCXDEDFDMDPDUECEPERFDFSGAGBGIGLGNGPGQHCHDHEHFHNHSIIINJAJB\
    JCJDJEJFJGJHLALCMPMXNLOMOSQZRARBRCRISASDSGSNSSSTTCTITRUPVAVDVMVRVSVTVWWDWIWLYCYDYFYLYPYRYTYVYXZAZCZQZV";

fn checksum_of(digits: &[u8]) -> Option<u8> {
    let digit = |byte: u8| char::from(byte).to_digit(16);
    match digits {
        [high, low] => u8::try_from(digit(*high)? * 16 + digit(*low)?).ok(),
        _ => None,
    }
}

/// The fields of a sentence after its address.
struct Fields<'s> {
    fields: [&'s str; Fields::MOST],
}

impl<'s> Fields<'s> {
    const MOST: usize = 40;

    fn of(rest: &'s str) -> Self {
        let mut fields = [""; Self::MOST];
        for (slot, field) in fields.iter_mut().zip(rest.split(',')) {
            *slot = field;
        }
        Self { fields }
    }

    /// A field by its number from 1; empty where there is none.
    fn text(&self, number: usize) -> &'s str {
        self.fields.get(number - 1).copied().unwrap_or_default().trim()
    }

    fn is(&self, number: usize, letter: &str) -> bool {
        self.text(number).eq_ignore_ascii_case(letter)
    }

    fn number(&self, number: usize, range: RangeInclusive<f64>) -> Option<f64> {
        plain_number(self.text(number)).filter(|value| range.contains(value))
    }

    /// A speed whose unit follows it.
    fn speed(&self, number: usize) -> Option<f64> {
        let per_unit = match self.text(number + 1).as_bytes() {
            b"N" => KNOT,
            b"K" => 1.0 / 3.6,
            b"M" => 1.0,
            b"S" => 0.44704,
            _ => return None,
        };
        self.number(number, 0.0..=1000.0).map(|speed| speed * per_unit)
    }

    fn knots(&self, number: usize) -> Option<f64> {
        self.number(number, 0.0..=1000.0).map(|speed| speed * KNOT)
    }

    fn angle(&self, number: usize) -> Option<f64> {
        self.number(number, 0.0..=360.0).map(|angle| if angle == 360.0 { 0.0 } else { angle })
    }

    /// Whether the mode of a fix, a letter that older sentences leave out, says that it is measured: not worked on from an
    /// earlier one, typed in or made up. It counts for more than the letter of the status.
    fn is_measured(&self, number: usize) -> bool {
        matches!(self.text(number).as_bytes(), [] | [b'A' | b'D' | b'F' | b'P' | b'R'])
    }

    /// A wind by its angle to one side of the bow, the letter of that side, and its speed in up to three units.
    fn wind_to_a_side(&self) -> Option<(f64, f64)> {
        let angle = self.number(1, 0.0..=180.0)?;
        let angle = match self.text(2).as_bytes() {
            b"R" => angle,
            b"L" => (360.0 - angle) % 360.0,
            _ => return None,
        };
        let speed = [5, 3, 7].into_iter().find_map(|number| self.speed(number))?;
        Some((angle, speed))
    }

    /// An angle to the east or the west, signed; none where there is a number without its letter.
    fn eastward(&self, number: usize) -> Option<f64> {
        let angle = self.number(number, 0.0..=180.0)?;
        match self.text(number + 1).as_bytes() {
            b"E" => Some(angle),
            b"W" => Some(-angle),
            _ => None,
        }
    }

    /// The pressure of the air in inches of mercury, I, and bar, B: the finer of the two that is there.
    fn barometer(&self) -> Option<f64> {
        let bars = self.number(3, 0.5..=1.2).filter(|_| self.is(4, "B")).map(|bars| bars * BAR);
        bars.or_else(|| self.number(1, 15.0..=35.0).filter(|_| self.is(2, "I")).map(|inches| inches * INCH_OF_MERCURY))
    }

    /// `ddmm.mmmm`, N or S, `dddmm.mmmm`, E or W.
    fn place(&self, number: usize) -> Option<(f64, f64)> {
        let part = |at: usize, digits: usize, most: f64, positive: &str, negative: &str| {
            let text = self.text(at);
            let (degrees, minutes) = (text.get(..digits)?, text.get(digits..)?);
            let degrees = plain_number(degrees).filter(|_| degrees.bytes().all(|byte| byte.is_ascii_digit()))?;
            let minutes = plain_number(minutes).filter(|minutes| (0.0..60.0).contains(minutes))?;
            let value = degrees + minutes / 60.0;
            let sign = if self.is(at + 1, positive) {
                1.0
            } else if self.is(at + 1, negative) {
                -1.0
            } else {
                return None;
            };
            (value <= most).then_some(sign * value)
        };
        Some((part(number, 2, 90.0, "N", "S")?, part(number + 2, 3, 180.0, "E", "W")?))
    }

    /// `hhmmss` with what follows the point: seconds of the day.
    fn time_of_day(&self, number: usize) -> Option<f64> {
        let text = self.text(number);
        let two =
            |at: usize| text.get(at..at + 2).filter(|two| two.bytes().all(|b| b.is_ascii_digit()))?.parse::<u32>().ok();
        let (hours, minutes) = (two(0)?, two(2)?);
        let seconds = plain_number(text.get(4..)?).filter(|seconds| (0.0..61.0).contains(seconds))?;
        (hours < 24 && minutes < 60).then_some(f64::from(hours * 3600 + minutes * 60) + seconds)
    }
}

/// A decimal number as instruments write it: digits, a point, a sign; no exponent, no name of what is none.
fn plain_number(text: &str) -> Option<f64> {
    let digits = text.strip_prefix(['-', '+']).unwrap_or(text);
    let plain = !digits.is_empty() && digits.len() <= 16 && digits.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    if plain { text.parse().ok() } else { None }
}

/// Seconds since 1970 of a day of the calendar.
fn day(year: i16, month: u32, day: u32) -> Option<f64> {
    let date = jiff::civil::Date::new(year, i8::try_from(month).ok()?, i8::try_from(day).ok()?).ok()?;
    Some(jiff::tz::Offset::UTC.to_timestamp(date.at(0, 0, 0, 0)).ok()?.as_second() as f64)
}

const WATER: RangeInclusive<f64> = -5.0..=60.0;
const AIR: RangeInclusive<f64> = -90.0..=70.0;
const DEPTHS: RangeInclusive<f64> = 0.0..=12_000.0;

fn read(kind: &str, fields: &Fields<'_>) -> Option<Report> {
    let report = Report::default();
    Some(match kind {
        "RMC" => {
            let valid = fields.is(2, "A") && fields.is_measured(12);
            let when = fields.time_of_day(1);
            let fix = when.map(f64::to_bits);
            if !valid {
                return Some(Report { fix, ..report });
            }
            Report {
                time: date_of_rmc(fields.text(9)).zip(when).map(|(day, time)| day + time),
                fix,
                place: fields.place(3),
                ground_speed: fields.knots(7),
                course: fields.angle(8),
                ..report
            }
        }
        "GGA" => {
            let fix = fields.time_of_day(1).map(f64::to_bits);
            // 0 is no fix, 6 worked on from an earlier one, 7 typed in, 8 made up.
            let place = fields.place(2).filter(|_| matches!(fields.text(6).as_bytes(), [b'1'..=b'5' | b'9']));
            Report { fix, place, ..report }
        }
        "GLL" => {
            let fix = fields.time_of_day(5).map(f64::to_bits);
            let place = fields.place(1).filter(|_| fields.is(6, "A") && fields.is_measured(7));
            Report { fix, place, ..report }
        }
        "ZDA" => {
            let two = |number: usize| fields.text(number).parse::<u32>().ok();
            let date =
                || day(fields.text(4).parse().ok().filter(|year| (1980..=2200).contains(year))?, two(3)?, two(2)?);
            let when = fields.time_of_day(1);
            Report { time: date().zip(when).map(|(day, time)| day + time), fix: when.map(f64::to_bits), ..report }
        }
        "VTG" => {
            // An older form has no letters of the units.
            let with_letters = fields.is(2, "T");
            let speed = if with_letters { 5 } else { 3 };
            let valid = fields.is_measured(9);
            Report {
                course: fields.angle(1).filter(|_| valid),
                ground_speed: fields.knots(speed).filter(|_| valid),
                ..report
            }
        }
        "VHW" => Report { heading: fields.angle(1), water_speed: fields.knots(5), ..report },
        "HDT" => Report { heading: fields.angle(1), ..report },
        "HDG" => {
            // What a compass shows is of true north only together with the variation.
            let deviation = if fields.text(2).is_empty() { Some(0.0) } else { fields.eastward(2) };
            let heading = || Some(fields.angle(1)? + deviation? + fields.eastward(4)?);
            Report { heading: heading().map(|heading| heading.rem_euclid(360.0) % 360.0), ..report }
        }
        "DPT" => {
            let offset = fields.number(2, -100.0..=100.0);
            let depth = fields.number(1, DEPTHS);
            // A negative offset goes down to the keel, and says nothing of the waterline.
            Report {
                depth: depth.map(|depth| Depth::Transducer(depth, offset.filter(|offset| *offset > 0.0))),
                ..report
            }
        }
        "DBT" => Report { depth: depth_in_three(fields).map(|depth| Depth::Transducer(depth, None)), ..report },
        "DBS" => Report { depth: depth_in_three(fields).map(Depth::Surface), ..report },
        "MTW" => Report { water_temperature: fields.number(1, WATER).filter(|_| fields.is(2, "C")), ..report },
        "MWV" => {
            let wind = || {
                let (angle, speed) = (fields.angle(1)?, fields.speed(3)?);
                let theoretical = fields.is(2, "T");
                if !theoretical && !fields.is(2, "R") {
                    return None;
                }
                Some(if theoretical { Wind::Theoretical(angle, speed) } else { Wind::Apparent(angle, speed) })
            };
            Report { wind: if fields.is(5, "A") { wind() } else { None }, ..report }
        }
        "MWD" => {
            let speed = fields.speed(7).or_else(|| fields.speed(5));
            Report { wind: fields.angle(1).zip(speed).map(|(from, speed)| Wind::True(from, speed)), ..report }
        }
        "VWR" => Report { wind: fields.wind_to_a_side().map(|(angle, speed)| Wind::Apparent(angle, speed)), ..report },
        "VWT" => {
            Report { wind: fields.wind_to_a_side().map(|(angle, speed)| Wind::Theoretical(angle, speed)), ..report }
        }
        "MDA" => {
            let speed = fields.speed(19).or_else(|| fields.speed(17));
            Report {
                pressure: fields.barometer(),
                air_temperature: fields.number(5, AIR).filter(|_| fields.is(6, "C")),
                water_temperature: fields.number(7, WATER).filter(|_| fields.is(8, "C")),
                wind: fields.angle(13).zip(speed).map(|(from, speed)| Wind::True(from, speed)),
                ..report
            }
        }
        "MMB" => Report { pressure: fields.barometer(), ..report },
        "XDR" => transducers(fields),
        _ => return None,
    })
}

fn date_of_rmc(text: &str) -> Option<f64> {
    let two =
        |at: usize| text.get(at..at + 2).filter(|two| two.bytes().all(|b| b.is_ascii_digit()))?.parse::<i16>().ok();
    let (date, month, year) = (two(0)?, two(2)?, two(4)?);
    // Two digits: the system began in 1980.
    let year = if year >= 80 { 1900 + year } else { 2000 + year };
    day(year, u32::try_from(month).ok()?, u32::try_from(date).ok()?)
}

/// Feet, metres and fathoms side by side: metres where they are there.
fn depth_in_three(fields: &Fields<'_>) -> Option<f64> {
    let metres = fields.number(3, DEPTHS).filter(|_| fields.is(4, "M"));
    let feet = || fields.number(1, 0.0..=40_000.0).filter(|_| fields.is(2, "f")).map(|feet| feet * 0.3048);
    let fathoms = || fields.number(5, 0.0..=7000.0).filter(|_| fields.is(6, "F")).map(|fathoms| fathoms * 1.8288);
    metres.or_else(feet).or_else(fathoms)
}

/// Transducers in groups of four: type, value, unit, name. Only the name says of what: an engine has a pressure and
/// temperatures too.
fn transducers(fields: &Fields<'_>) -> Report {
    let mut report = Report::default();
    for group in 0..Fields::MOST / 4 {
        let at = group * 4 + 1;
        let name = fields.text(at + 3).to_ascii_uppercase();
        let has = |words: &[&str]| words.iter().any(|word| name.contains(word));
        if has(&["ENGINE", "OIL", "FUEL", "COOL", "EXHAUST", "BOOST", "TANK"]) {
            continue;
        }
        match (fields.text(at), fields.text(at + 2)) {
            ("P", unit) if has(&["BARO", "ATM", "AIR", "PRES"]) => {
                let pressure = match unit {
                    "B" => fields.number(at + 1, 0.5..=1.2).map(|bars| bars * BAR),
                    "P" => fields.number(at + 1, 5e4..=1.2e5),
                    _ => None,
                };
                report.pressure = pressure.or(report.pressure);
            }
            ("C", "C") if has(&["AIR"]) => {
                report.air_temperature = fields.number(at + 1, AIR).or(report.air_temperature);
            }
            ("C", "C") if has(&["WATER", "SEA"]) => {
                report.water_temperature = fields.number(at + 1, WATER).or(report.water_temperature);
            }
            _ => {}
        }
    }
    report
}
