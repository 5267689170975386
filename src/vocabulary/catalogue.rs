//! The catalogue: every reading the language knows by itself.
//!
//! Given readings come from people, instruments, files and apps; derived ones are worked out from those; session
//! ones from what happened since lines went in. A strategy may declare more, and its own names hide these.

use std::sync::LazyLock;

use foldhash::HashMap;

use super::kind::{Kind, SetId, WordSet, lower_case};
use super::quantity::{DAY, HOUR, MINUTE, PER_UNIT};

/// How long a value stays good.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GoodFor {
    /// So many counts; an age equal to it is still good.
    Span(i64),
    /// To the end of the day it was given on.
    Day,
}

/// Where a reading comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Origin {
    /// People, instruments, files and apps give it.
    Given,
    /// It is worked out from other readings.
    Derived,
    /// The session knows it.
    Session,
}

/// One reading of the catalogue, or one call.
#[derive(Debug)]
pub struct Entry {
    /// Its name.
    pub name: &'static str,
    /// What it takes in brackets; none for a plain reading.
    pub takes: Option<Takes>,
    /// Its kind; for `change` that of the reading it is asked of.
    pub kind: Kind,
    /// The unit of the range below, as text.
    pub unit: &'static str,
    /// The least and greatest value that is physically plausible, in counts.
    pub plausible: Option<(i64, i64)>,
    /// The same as text.
    pub plausible_text: &'static str,
    /// How long a given value stays good.
    pub good_for: GoodFor,
    /// Where it comes from.
    pub origin: Origin,
    /// What it is derived from.
    pub from: &'static [&'static str],
    /// One line of help.
    pub help: &'static str,
}

/// The least and greatest value that can be, in counts, and the same as text.
pub type Range = ((i64, i64), &'static str);

impl Entry {
    /// The range that is physically plausible, where there is one.
    pub fn range(&self) -> Option<Range> {
        self.plausible.map(|range| (range, self.plausible_text))
    }

    /// Whether a value in counts is physically plausible.
    pub fn is_plausible(&self, value: i64) -> bool {
        self.plausible.is_none_or(|(least, most)| (least..=most).contains(&value))
    }
}

/// What a call takes in its brackets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Takes {
    /// A depth: `temp_at(20 ft)`.
    Depth,
    /// A temperature, an oxygen content or a share of light: `depth_of(62 °F)`.
    Level,
    /// A stretch of time: `strikes(30 min)`.
    Window,
    /// A reading and a stretch of time: `change(surface, 2 h)`.
    ReadingAndWindow,
}

/// The set of the words of `light`.
pub const LIGHT: SetId = SetId(0);

/// The heights of the sun at which `twilight`, `low_sun` and `high_sun` begin, in counts of a degree.
///
/// -6° and -0.833° are the published limits of civil twilight and of sunrise and sunset (the definitions of the national
/// almanac offices); 15° is our own.
pub const LIGHT_LIMITS: [i64; 3] = [-6 * PER_UNIT, -833 * (PER_UNIT / 1000), 15 * PER_UNIT];

/// The number of the word of `light` for a height of the sun. A limit belongs to the lighter class.
pub fn light_class(height: i64) -> i64 {
    LIGHT_LIMITS.iter().map(|limit| i64::from(height >= *limit)).sum()
}

/// The words of `light`, darkest first.
pub fn light_words() -> WordSet {
    let words = ["dark", "twilight", "low_sun", "high_sun"];
    WordSet::new(words.into_iter().map(str::to_owned).collect(), true)
}

const DEGREE: i64 = PER_UNIT;
const METRE: i64 = PER_UNIT;
const KELVIN: i64 = PER_UNIT;
const ICE: i64 = 2_458_350_000;
const BOTTOM: Option<(i64, i64)> = Some((0, 1700 * METRE));
const BOTTOM_TEXT: &str = "0 to 1700 m";
const SHARE: Option<(i64, i64)> = Some((0, PER_UNIT));
const TIME_OF_DAY: Option<(i64, i64)> = Some((0, DAY));
const SURFACE: Option<(i64, i64)> = Some((ICE - KELVIN, ICE + 40 * KELVIN));
const PACE: Option<(i64, i64)> = Some((0, 15 * METRE));

const fn entry(name: &'static str, kind: Kind, help: &'static str) -> Entry {
    Entry {
        name,
        takes: None,
        kind,
        unit: "",
        plausible: None,
        plausible_text: "",
        good_for: GoodFor::Day,
        origin: Origin::Given,
        from: &[],
        help,
    }
}

const fn given(
    name: &'static str,
    kind: Kind,
    unit: &'static str,
    plausible: Option<(i64, i64)>,
    plausible_text: &'static str,
    good_for: GoodFor,
    help: &'static str,
) -> Entry {
    Entry { unit, plausible, plausible_text, good_for, ..entry(name, kind, help) }
}

/// How long a derived reading that was given by hand stays good: such a value is about its moment.
const DERIVED_GOOD_FOR: GoodFor = GoodFor::Span(10 * MINUTE);

const fn derived(
    name: &'static str,
    kind: Kind,
    unit: &'static str,
    plausible: Option<(i64, i64)>,
    plausible_text: &'static str,
    from: &'static [&'static str],
    help: &'static str,
) -> Entry {
    let given = given(name, kind, unit, plausible, plausible_text, DERIVED_GOOD_FOR, help);
    Entry { origin: Origin::Derived, from, ..given }
}

macro_rules! catalogue {
    ($($known:ident = $entry:expr;)*) => {
        /// A reading or call of the catalogue.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[allow(missing_docs, reason = "each variant is the entry of the same name, which says what it is")]
        pub enum Known { $($known),* }

        /// The catalogue, in the order it is shown in.
        pub static CATALOGUE: [Entry; [$(Known::$known),*].len()] = [$($entry),*];

        impl Known {
            /// Every reading and call, in the order they are shown in.
            pub const ALL: [Known; CATALOGUE.len()] = [$(Known::$known),*];
        }
    };
}

catalogue! {
    Surface = given("surface", Kind::Temperature, "°C", SURFACE, "-1 to 40 °C", GoodFor::Span(2 * HOUR),
        "temperature of the water at the surface");
    Air = given("air", Kind::Temperature, "°C", Some((ICE - 50 * KELVIN, ICE + 55 * KELVIN)), "-50 to 55 °C",
        GoodFor::Span(3 * HOUR), "temperature of the air");
    Cloud = given("cloud", Kind::Share, "%", SHARE, "0 to 100 %", GoodFor::Span(2 * HOUR),
        "how much of the sky the clouds cover");
    Wind = given("wind", Kind::Speed, "m/s", Some((0, 60 * METRE)), "0 to 60 m/s", GoodFor::Span(HOUR),
        "speed of the wind");
    WindFrom = given("wind_from", Kind::Direction, "°", None, "any direction", GoodFor::Span(HOUR),
        "direction the wind comes from");
    Waves = Entry { from: &["wind", "wind_from"], ..given("waves", Kind::Length, "m", Some((0, 5 * METRE)), "0 to 5 m",
        GoodFor::Span(HOUR), "height of the waves") };
    Clarity = given("clarity", Kind::Length, "m", Some((0, 60 * METRE)), "0 to 60 m", GoodFor::Day,
        "depth at which a Secchi disk disappears");
    Pressure = given("pressure", Kind::Pressure, "hPa", Some((500 * 100 * PER_UNIT, 1100 * 100 * PER_UNIT)),
        "500 to 1100 hPa", GoodFor::Span(3 * HOUR), "pressure of the air");
    Bottom = given("bottom", Kind::Length, "m", BOTTOM, BOTTOM_TEXT, GoodFor::Span(10 * MINUTE),
        "depth of the water under the boat");
    Marks = given("marks", Kind::YesNo, "", None, "", GoodFor::Span(30 * MINUTE), "whether the sonar shows fish");
    MarkDepth = given("mark_depth", Kind::Length, "m", BOTTOM, BOTTOM_TEXT, GoodFor::Span(30 * MINUTE),
        "depth at which the sonar shows fish");
    StrikeDepth = given("strike_depth", Kind::Length, "m", BOTTOM, BOTTOM_TEXT, GoodFor::Span(3 * HOUR),
        "depth at which the last fish struck");
    GroundSpeed = given("ground_speed", Kind::Speed, "m/s", PACE, "0 to 15 m/s", GoodFor::Span(2 * MINUTE),
        "speed of the boat over the ground");
    WaterSpeed = Entry { from: &["ground_speed", "course"], ..given("water_speed", Kind::Speed, "m/s", PACE,
        "0 to 15 m/s", GoodFor::Span(2 * MINUTE), "speed of the boat through the water") };
    Course = given("course", Kind::Direction, "°", None, "any direction", GoodFor::Span(2 * MINUTE),
        "direction the boat goes over the ground");
    Position = given("position", Kind::Place, "", None, "", GoodFor::Span(10 * MINUTE),
        "where the boat is; a condition can ask only whether it is known");
    BaitAllowed = given("bait_allowed", Kind::YesNo, "", None, "", GoodFor::Day, "whether the lake allows natural bait");
    Releasing = given("releasing", Kind::YesNo, "", None, "", GoodFor::Day, "whether the fish are meant for release");
    LinesIn = given("lines_in", Kind::YesNo, "", None, "", GoodFor::Day, "whether lines are in the water");
    CastMeasured = Entry { from: &["cast"], ..given("cast_measured", Kind::YesNo, "", None, "", GoodFor::Day,
        "whether somebody made the cast; no where it is a model's estimate") };
    SunHeight = derived("sun_height", Kind::Angle, "°", Some((-90 * DEGREE, 90 * DEGREE)), "-90° to 90°",
        &["position", "time"], "height of the sun's centre over the horizon, without refraction");
    SunRising = derived("sun_rising", Kind::YesNo, "", None, "", &["position", "time"],
        "whether the sun's height is growing");
    Light = derived("light", Kind::OneOf(LIGHT), "", None, "", &["sun_height"],
        "dark below -6°, twilight below -0.833°, low_sun below 15°, else high_sun");
    Daylight = derived("daylight", Kind::Share, "%", SHARE, "0 to 100 %", &["sun_height", "cloud", "position"],
        "light at the surface, as a share of a clear noon of that day and place");
    TempAt = Entry { takes: Some(Takes::Depth), ..derived("temp_at", Kind::Temperature, "°C", SURFACE, "-1 to 40 °C",
        &["cast", "surface"], "temperature of the water at a depth: temp_at(20 ft)") };
    OxygenAt = Entry { takes: Some(Takes::Depth), ..derived("oxygen_at", Kind::Oxygen, "mg/L",
        Some((0, 25 * PER_UNIT / 1000)), "0 to 25 mg/L", &["cast"], "oxygen in the water at a depth: oxygen_at(20 ft)") };
    LightAt = Entry { takes: Some(Takes::Depth), ..derived("light_at", Kind::Share, "%", SHARE, "0 to 100 %",
        &["clarity"], "share of the surface light left at a depth: light_at(20 ft)") };
    DepthOf = Entry { takes: Some(Takes::Level), ..derived("depth_of", Kind::Length, "m", BOTTOM, BOTTOM_TEXT,
        &["cast", "surface", "clarity"],
        "shallowest depth where the water is at a temperature, oxygen content or share of light, or lower") };
    Layered = derived("layered", Kind::YesNo, "", None, "", &["cast"], "whether the cast shows a thermocline");
    ThermoclineTop = derived("thermocline_top", Kind::Length, "m", BOTTOM, BOTTOM_TEXT, &["cast"],
        "where the thermocline begins");
    ThermoclineBottom = derived("thermocline_bottom", Kind::Length, "m", BOTTOM, BOTTOM_TEXT, &["cast"],
        "where the thermocline ends");
    Month = derived("month", Kind::Month, "", None, "", &["time"], "the month");
    Clock = derived("clock", Kind::Clock, "", TIME_OF_DAY, "0 to 24 h", &["time"], "the time of day");
    UntilSunset = derived("until_sunset", Kind::Duration, "h", TIME_OF_DAY, "0 to 24 h", &["position", "time"],
        "time until sunset; unknown after it, or where there is none");
    SinceSunrise = derived("since_sunrise", Kind::Duration, "h", TIME_OF_DAY, "0 to 24 h", &["position", "time"],
        "time since sunrise; unknown before it");
    Strikeless = Entry { origin: Origin::Session, ..derived("strikeless", Kind::Duration, "h", TIME_OF_DAY, "0 to 24 h",
        &["strikes", "lines_in"], "time since the last strike, or since lines went in") };
    Strikes = Entry { takes: Some(Takes::Window), origin: Origin::Session, ..derived("strikes", Kind::Number, "",
        Some((0, 10_000 * PER_UNIT)), "0 to 10000", &["strikes"], "how many strikes lie less than a time ago: strikes(30 min)") };
    Change = Entry { takes: Some(Takes::ReadingAndWindow), origin: Origin::Session, ..derived("change", Kind::Change, "",
        None, "", &["the reading's history"], "what a reading has gained over a time: change(surface, 2 h)") };
}

/// The entry of that name, in any case.
fn of_name(name: &str) -> Option<Known> {
    static NAMES: LazyLock<HashMap<&str, Known>> =
        LazyLock::new(|| Known::ALL.into_iter().map(|known| (known.name(), known)).collect());
    NAMES.get(&*lower_case(name)).copied()
}

impl Known {
    /// Its entry.
    pub fn entry(self) -> &'static Entry {
        &CATALOGUE[self as usize]
    }

    /// Its name.
    pub fn name(self) -> &'static str {
        self.entry().name
    }

    /// The plain reading of that name, in any case.
    pub fn reading(name: &str) -> Option<Known> {
        of_name(name).filter(|known| known.entry().takes.is_none())
    }

    /// The call of that name, in any case.
    pub fn call(name: &str) -> Option<Known> {
        of_name(name).filter(|known| known.entry().takes.is_some())
    }

    /// Whether a given value of it is where it begins and runs on by itself.
    pub fn runs_on(self) -> Option<i64> {
        match self {
            Known::Clock | Known::SinceSunrise | Known::Strikeless => Some(1),
            Known::UntilSunset => Some(-1),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_belongs_to_the_lighter_class() {
        for (at, limit) in (0..).zip(LIGHT_LIMITS) {
            assert_eq!((light_class(limit - 1), light_class(limit)), (at, at + 1));
        }
    }

    #[test]
    fn names_are_unique_and_every_entry_has_help() {
        let mut names: Vec<_> = CATALOGUE.iter().map(|entry| entry.name).collect();
        assert!(CATALOGUE.iter().all(|entry| !entry.help.is_empty()));
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), CATALOGUE.len());
    }
}
