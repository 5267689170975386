//! The cautions that always stand, from published figures, whatever a strategy says.
//!
//! They never say that it is safe, and put local rules, licences and the skipper's judgement first.

use std::borrow::Cow;
use std::sync::LazyLock;

use serde::Serialize;

use crate::session::Moment;
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::print::{number, with_unit};
use crate::vocabulary::unit::{FAHRENHEIT, FEET, KNOTS, Unit};
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
    pub text: Cow<'static, str>,
    /// The figure it goes by.
    pub limit: Option<Cow<'static, str>>,
    /// Who publishes it.
    pub source: Cow<'static, str>,
    /// When it was read or published.
    pub date: Cow<'static, str>,
    /// Whether the readings are at the figure or past it.
    pub reached: bool,
}

impl StandingCaution {
    /// The same without its figure, and without who published that and when.
    pub fn alone(self) -> Self {
        Self { limit: None, source: Cow::default(), date: Cow::default(), ..self }
    }
}

/// A caution that goes by a figure.
struct ByFigure {
    about: &'static str,
    /// The reading that is held against it.
    reading: Known,
    /// The unit it is told in.
    unit: &'static Unit,
    /// What is said of a figure.
    say: fn(&str) -> Texts,
    /// The most cautious published figure, in counts, which is gone by where the water file names none.
    published: i64,
    source: &'static str,
    date: &'static str,
    /// What is said of that one.
    told: LazyLock<Told>,
}

/// What is said of a figure: where it is reached, where it is not, and where its reading is not known.
struct Texts {
    reached: String,
    not_reached: String,
    unknown: String,
}

/// A figure as it is printed, and what is said of it.
struct Told {
    limit: String,
    texts: Texts,
}

/// The lowest wind of any small craft advisory: 20 kn.
static WIND: ByFigure = ByFigure {
    about: "wind",
    reading: Known::Wind,
    unit: &KNOTS,
    say: |limit| small_craft("wind is", limit, "wind; gusts come sooner"),
    published: 20 * 4_630_000,
    source: "the lowest small craft advisory of the US National Weather Service, NWSI 10-303",
    date: "read 2025",
    told: LazyLock::new(|| WIND.tell(WIND.published)),
};

/// The lowest waves: 4 ft.
static WAVES: ByFigure = ByFigure {
    about: "waves",
    reading: Known::Waves,
    unit: &FEET,
    say: |limit| small_craft("waves are", limit, "waves; a small boat has less"),
    published: 4 * 2_743_200,
    source: "the small craft advisory for the central Great Lakes of the US National Weather Service, NWSI 10-303",
    date: "read 2025",
    told: LazyLock::new(|| WAVES.tell(WAVES.published)),
};

/// The lowest temperature at which an agency asks anglers to think before releasing: 65 °F.
static RELEASE: ByFigure = ByFigure {
    about: "release",
    reading: Known::Surface,
    unit: &FAHRENHEIT,
    say: |limit| Texts {
        reached: format!(
            "The surface is at {limit} or warmer: trout played and released may not live. Stop releasing, or stop fishing for them."
        ),
        not_reached: format!("From {limit} at the surface trout released may not live."),
        unknown: format!("The surface temperature is not known. From {limit} trout released may not live."),
    },
    published: 2_298_350_000 + 65 * 5_000_000,
    source: "the advice of a state fish agency (Wyoming Game and Fish), as quoted in 2021 and 2025",
    date: "read 2025",
    told: LazyLock::new(|| RELEASE.tell(RELEASE.published)),
};

/// What is said of a figure at which small craft are warned of something: what it `is`, and what more there is `of` it.
fn small_craft(is: &str, limit: &str, of: &str) -> Texts {
    Texts {
        reached: format!("The {is} at or past {limit}, where small craft are warned: stay in, or come in."),
        not_reached: format!("Small craft are warned from {limit} of {of}."),
        unknown: format!("The {is} not known. Small craft are warned from {limit}."),
    }
}

impl ByFigure {
    fn tell(&self, figure: i64) -> Told {
        let limit = with_unit(&number(figure, self.unit, self.reading.entry().kind, 0), self.unit.symbol);
        let texts = (self.say)(&limit);
        Told { limit, texts }
    }

    /// The caution at a moment, by the published figure or by one of the water file's own.
    fn at(&'static self, moment: &Moment<'_>, own: Option<(i64, &Figures)>) -> StandingCaution {
        let value = moment.reading(self.reading);
        let reached = value.is_some_and(|value| value >= own.map_or(self.published, |(figure, _)| figure));
        let (text, limit, source, date) = match own {
            None => {
                let Told { limit, texts } = &*self.told;
                let text = texts.of(value, reached);
                (text.as_str().into(), limit.as_str().into(), self.source.into(), self.date.into())
            }
            Some((figure, figures)) => {
                let Told { limit, texts } = self.tell(figure);
                let named = |text: &Option<String>, none: &'static str| text.clone().map_or(none.into(), Cow::Owned);
                let text = texts.of(value, reached).clone();
                let source = named(&figures.source, "the water file");
                (text.into(), limit.into(), source, named(&figures.date, "not dated"))
            }
        };
        StandingCaution { about: self.about, text, limit: Some(limit), source, date, reached }
    }
}

impl Texts {
    fn of(&self, value: Option<i64>, reached: bool) -> &String {
        match value {
            Some(_) if reached => &self.reached,
            Some(_) => &self.not_reached,
            None => &self.unknown,
        }
    }
}

/// The cautions that stand at a moment.
pub fn standing(moment: &Moment<'_>, figures: Option<&Figures>) -> impl Iterator<Item = StandingCaution> {
    let own = |pick: fn(&Figures) -> Option<i64>| figures.and_then(|figures| Some((pick(figures)?, figures)));
    let wind = WIND.at(moment, own(|figures| figures.wind));
    let waves = WAVES.at(moment, own(|figures| figures.waves));
    // Unknown counts as meant for release.
    let releases = moment.reading(Known::Releasing) != Some(0);
    let release = releases.then(|| RELEASE.at(moment, own(|figures| figures.release)));
    let always = ALWAYS.map(|(about, text)| StandingCaution {
        about,
        text: text.into(),
        limit: None,
        source: "common practice, no source".into(),
        date: "undated".into(),
        reached: false,
    });
    [wind, waves].into_iter().chain(release).chain(always)
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
