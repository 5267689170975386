//! The cautions that always stand, from published figures, whatever a strategy says.
//!
//! They never say that it is safe, and put local rules, licences and the skipper's judgement first.

use serde::Serialize;

use crate::session::Moment;
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::print::{number, with_unit};
use crate::vocabulary::unit::{FAHRENHEIT, FEET, KNOTS};
use crate::water::Surroundings;

/// The figures of an agency, in counts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Figures {
    /// The wind at which it warns small craft.
    pub wind: Option<i64>,
    /// The waves at which it does.
    pub waves: Option<i64>,
    /// The water temperature from which it asks not to release fish.
    pub release: Option<i64>,
    /// Where they were read.
    pub source: Option<String>,
    /// When.
    pub date: Option<String>,
}

/// A caution that stands.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StandingCaution {
    /// What it is about: `wind`, `waves`, `release`, `cold_water`, `lightning`, `judgement`.
    pub about: &'static str,
    /// The caution.
    pub text: String,
    /// The figure it goes by.
    pub limit: Option<String>,
    /// Who publishes it.
    pub source: String,
    /// When it was read or published.
    pub date: String,
    /// Whether the readings are at the figure or past it.
    pub reached: bool,
}

/// The most cautious published figures, used where the water file names none.
struct Published {
    counts: i64,
    source: &'static str,
    date: &'static str,
}

/// The lowest wind of any small craft advisory: 20 kn.
const WIND: Published = Published {
    counts: 20 * 4_630_000,
    source: "the lowest small craft advisory of the US National Weather Service, NWSI 10-303",
    date: "read 2025",
};

/// The lowest waves: 4 ft.
const WAVES: Published = Published {
    counts: 4 * 2_743_200,
    source: "the small craft advisory for the central Great Lakes of the US National Weather Service, NWSI 10-303",
    date: "read 2025",
};

/// The lowest temperature at which an agency asks anglers to think before releasing: 65 °F.
const RELEASE: Published = Published {
    counts: 2_298_350_000 + 65 * 5_000_000,
    source: "the advice of a state fish agency (Wyoming Game and Fish), as quoted in 2021 and 2025",
    date: "read 2025",
};

/// The cautions that stand at a moment.
pub fn standing(moment: &Moment<'_>, figures: Option<&Figures>) -> Vec<StandingCaution> {
    let mut cautions = Vec::new();
    let own_source = figures.and_then(|figures| figures.source.clone());
    let own_date = figures.and_then(|figures| figures.date.clone());
    let mut figure = |about, own: Option<i64>, published: &Published, say: &dyn Fn(i64) -> (String, String, bool)| {
        let counts = own.unwrap_or(published.counts);
        let (text, limit, reached) = say(counts);
        let (source, date) = match own {
            Some(_) => (
                own_source.clone().unwrap_or_else(|| "the water file".to_owned()),
                own_date.clone().unwrap_or_else(|| "not dated".to_owned()),
            ),
            None => (published.source.to_owned(), published.date.to_owned()),
        };
        cautions.push(StandingCaution { about, text, limit: Some(limit), source, date, reached });
    };
    let reading = |known| moment.reading(known);
    figure("wind", figures.and_then(|figures| figures.wind), &WIND, &|limit| {
        let shown = with_unit(&number(limit, &KNOTS, Kind::Speed, 0), "kn");
        match reading(Known::Wind) {
            Some(wind) if wind >= limit => (
                format!("The wind is at or past {shown}, where small craft are warned: stay in, or come in."),
                shown,
                true,
            ),
            Some(_) => (format!("Small craft are warned from {shown} of wind; gusts come sooner."), shown, false),
            None => (format!("The wind is not known. Small craft are warned from {shown}."), shown, false),
        }
    });
    figure("waves", figures.and_then(|figures| figures.waves), &WAVES, &|limit| {
        let shown = with_unit(&number(limit, &FEET, Kind::Length, 0), "ft");
        match reading(Known::Waves) {
            Some(waves) if waves >= limit => (
                format!("The waves are at or past {shown}, where small craft are warned: stay in, or come in."),
                shown,
                true,
            ),
            Some(_) => (format!("Small craft are warned from {shown} of waves; a small boat has less."), shown, false),
            None => (format!("The waves are not known. Small craft are warned from {shown}."), shown, false),
        }
    });
    // Unknown counts as meant for release.
    if reading(Known::Releasing) != Some(0) {
        figure("release", figures.and_then(|figures| figures.release), &RELEASE, &|limit| {
            let shown = with_unit(&number(limit, &FAHRENHEIT, Kind::Temperature, 0), "°F");
            match reading(Known::Surface) {
                Some(surface) if surface >= limit => (
                    format!(
                        "The surface is at {shown} or warmer: trout played and released may not live. Stop releasing, or stop fishing for them."
                    ),
                    shown,
                    true,
                ),
                Some(_) => (format!("From {shown} at the surface trout released may not live."), shown, false),
                None => (
                    format!("The surface temperature is not known. From {shown} trout released may not live."),
                    shown,
                    false,
                ),
            }
        });
    }
    cautions.extend(ALWAYS.map(|(about, text)| StandingCaution {
        about,
        text: text.to_owned(),
        limit: None,
        source: "common practice, no source".to_owned(),
        date: "undated".to_owned(),
        reached: false,
    }));
    cautions
}

/// What all that is printed is, and is not.
pub const JUDGEMENT: &str =
    "This is advice on fishing, not on seamanship. Local rules, licences and the skipper's judgement come first.";

/// What holds on every day.
const ALWAYS: [(&str, &str); 3] = [
    ("cold_water", "Cold water takes strength within minutes: wear a life jacket, all aboard, all the time."),
    ("lightning", "Thunder heard or lightning seen: off the water at once."),
    ("judgement", JUDGEMENT),
];
