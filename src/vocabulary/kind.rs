//! The kinds of values, and which kinds a product or quotient has.

use std::borrow::Cow;

use foldhash::HashMap;

/// A kind of value. Values of different kinds are never compared with each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Yes or no.
    YesNo,
    /// One of the words of a set.
    OneOf(SetId),
    /// How warm it is.
    Temperature,
    /// How much warmer something is than something else.
    Change,
    /// A length.
    Length,
    /// A speed.
    Speed,
    /// A stretch of time.
    Duration,
    /// An angle.
    Angle,
    /// A direction, counted modulo a full circle.
    Direction,
    /// A time of the day.
    Clock,
    /// A month of the year.
    Month,
    /// A share of a whole.
    Share,
    /// A pressure.
    Pressure,
    /// How much oxygen the water holds.
    Oxygen,
    /// A plain number.
    Number,
    /// A product without a name of its own, such as an area.
    Unnamed(Dimension),
    /// A place on the map, which a condition can only ask to be known.
    Place,
}

/// Which set of words a one-of kind draws from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct SetId(pub u32);

/// The words of a one-of reading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WordSet {
    /// The words, lowest first where they have an order.
    pub words: Vec<String>,
    /// Whether they were parted by `<`.
    pub ordered: bool,
    /// The place of each, by the word in lower case.
    places: HashMap<String, usize>,
}

impl WordSet {
    /// A set of words, each once.
    pub fn new(words: Vec<String>, ordered: bool) -> Self {
        let places = words.iter().enumerate().map(|(at, word)| (word.to_lowercase(), at)).collect();
        Self { words, ordered, places }
    }

    /// The index of a word, in any case.
    pub fn index(&self, word: &str) -> Option<usize> {
        self.places.get(&*lower_case(word)).copied()
    }
}

/// Whether two names are the same without regard to case.
pub fn same_word(a: &str, b: &str) -> bool {
    a.eq_ignore_ascii_case(b) || (!(a.is_ascii() && b.is_ascii()) && a.to_lowercase() == b.to_lowercase())
}

/// A word in small letters, as words are told apart by; most are written so.
pub fn lower_case(word: &str) -> Cow<'_, str> {
    let is_lower = word.bytes().all(|byte| byte.is_ascii() && !byte.is_ascii_uppercase());
    if is_lower { Cow::Borrowed(word) } else { Cow::Owned(word.to_lowercase()) }
}

/// Exponents of the base dimensions of SI that the language's kinds are made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub struct Dimension {
    length: i32,
    time: i32,
    mass: i32,
    warmth: i32,
    angle: i32,
}

const NONE: Dimension = Dimension { length: 0, time: 0, mass: 0, warmth: 0, angle: 0 };

impl Dimension {
    fn combine(self, other: Self, sign: i32) -> Self {
        let join = |a: i32, b: i32| a.saturating_add(b.saturating_mul(sign));
        Self {
            length: join(self.length, other.length),
            time: join(self.time, other.time),
            mass: join(self.mass, other.mass),
            warmth: join(self.warmth, other.warmth),
            angle: join(self.angle, other.angle),
        }
    }
}

impl Kind {
    /// Its dimension, where it can be multiplied and divided. A temperature can't: its zero is a convention.
    pub fn dimension(self) -> Option<Dimension> {
        Some(match self {
            Kind::Change => Dimension { warmth: 1, ..NONE },
            Kind::Length => Dimension { length: 1, ..NONE },
            Kind::Speed => Dimension { length: 1, time: -1, ..NONE },
            Kind::Duration => Dimension { time: 1, ..NONE },
            Kind::Angle => Dimension { angle: 1, ..NONE },
            Kind::Share | Kind::Number => NONE,
            Kind::Pressure => Dimension { mass: 1, length: -1, time: -2, ..NONE },
            Kind::Oxygen => Dimension { mass: 1, length: -3, ..NONE },
            Kind::Unnamed(dimension) => dimension,
            _ => return None,
        })
    }

    fn of(dimension: Dimension) -> Kind {
        let named = [
            Kind::Number,
            Kind::Change,
            Kind::Length,
            Kind::Speed,
            Kind::Duration,
            Kind::Angle,
            Kind::Pressure,
            Kind::Oxygen,
        ];
        named.into_iter().find(|kind| kind.dimension() == Some(dimension)).unwrap_or(Kind::Unnamed(dimension))
    }

    /// The kind of a product; none where one of the two can't be multiplied.
    pub fn times(self, other: Kind) -> Option<Kind> {
        let kind = Kind::of(self.dimension()?.combine(other.dimension()?, 1));
        let of_share = kind == Kind::Number && (self == Kind::Share || other == Kind::Share);
        Some(if of_share { Kind::Share } else { kind })
    }

    /// The kind of a quotient; none where one of the two can't be divided.
    pub fn over(self, other: Kind) -> Option<Kind> {
        let kind = Kind::of(self.dimension()?.combine(other.dimension()?, -1));
        let of_share = kind == Kind::Number && self == Kind::Share && other == Kind::Number;
        Some(if of_share { Kind::Share } else { kind })
    }

    /// Whether values of this kind are quantities, which can be added and shifted.
    pub fn is_quantity(self) -> bool {
        self == Kind::Temperature || self.dimension().is_some()
    }

    /// Whether a bare 0 needs no unit: everywhere but as a temperature, whose scales begin at different points.
    pub fn takes_bare_zero(self) -> bool {
        self == Kind::Direction || self.dimension().is_some()
    }

    /// Whether ranges of this kind go round and may wrap; the counts of one round, if so.
    pub fn round(self) -> Option<i64> {
        match self {
            Kind::Clock => Some(super::quantity::DAY),
            Kind::Direction => Some(super::quantity::CIRCLE),
            Kind::Month => Some(12),
            _ => None,
        }
    }

    /// How the kind is called in messages, with its article.
    pub fn name(self) -> &'static str {
        match self {
            Kind::YesNo => "a yes or no",
            Kind::OneOf(_) => "a one-of word",
            Kind::Temperature => "a temperature",
            Kind::Change => "a change of temperature",
            Kind::Length => "a length",
            Kind::Speed => "a speed",
            Kind::Duration => "a duration",
            Kind::Angle => "an angle",
            Kind::Direction => "a direction",
            Kind::Clock => "a time of day",
            Kind::Month => "a month",
            Kind::Share => "a share",
            Kind::Pressure => "a pressure",
            Kind::Oxygen => "an oxygen content",
            Kind::Number => "a plain number",
            Kind::Unnamed(_) => "a product without a name of its own",
            Kind::Place => "a place",
        }
    }

    /// The word that declares a reading of this kind, where one word does.
    pub fn word(self) -> &'static str {
        match self {
            Kind::YesNo => "yes or no",
            Kind::OneOf(_) => "one of",
            Kind::Unnamed(_) => "product",
            Kind::Place => "place",
            other => KIND_WORDS.iter().find(|(_, kind)| *kind == other).map_or("", |(word, _)| word),
        }
    }

    /// A value of the kind, for help texts.
    pub fn example(self) -> &'static str {
        match self {
            Kind::YesNo => "yes",
            Kind::OneOf(_) => "one of its words",
            Kind::Temperature => "62 °F",
            Kind::Change => "4 °F",
            Kind::Length => "12 ft",
            Kind::Speed => "2 mph",
            Kind::Duration => "30 min",
            Kind::Angle => "10°",
            Kind::Direction => "NW",
            Kind::Clock => "05:30",
            Kind::Month => "may",
            Kind::Share => "90 %",
            Kind::Pressure => "1013 hPa",
            Kind::Oxygen => "6 mg/L",
            Kind::Number => "2",
            Kind::Unnamed(_) => "12 ft * 2 ft",
            Kind::Place => "a latitude and a longitude",
        }
    }
}

/// The words that declare a reading's kind, besides `yes or no` and `one of`.
pub const KIND_WORDS: [(&str, Kind); 13] = [
    ("temperature", Kind::Temperature),
    ("change", Kind::Change),
    ("length", Kind::Length),
    ("speed", Kind::Speed),
    ("duration", Kind::Duration),
    ("angle", Kind::Angle),
    ("direction", Kind::Direction),
    ("clock", Kind::Clock),
    ("month", Kind::Month),
    ("share", Kind::Share),
    ("pressure", Kind::Pressure),
    ("oxygen", Kind::Oxygen),
    ("number", Kind::Number),
];

/// The months, first to last.
pub const MONTHS: [&str; 12] = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
];

/// The sixteen compass points, from north clockwise.
pub const COMPASS: [&str; 16] =
    ["N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"];

/// The number of a month, from 1.
pub fn month_number(word: &str) -> Option<i64> {
    MONTHS.iter().position(|month| same_word(month, word)).and_then(|at| i64::try_from(at + 1).ok())
}

/// The direction of a compass point, in counts.
pub fn compass_counts(word: &str) -> Option<i64> {
    let at = COMPASS.iter().position(|point| same_word(point, word))?;
    Some(i64::try_from(at).ok()? * (super::quantity::CIRCLE / 16))
}

#[cfg(test)]
mod tests {
    use super::Kind;

    #[test]
    fn products_and_quotients_have_the_kinds_of_physics() {
        assert_eq!(Kind::Length.over(Kind::Duration), Some(Kind::Speed));
        assert_eq!(Kind::Speed.times(Kind::Duration), Some(Kind::Length));
        assert_eq!(Kind::Length.over(Kind::Length), Some(Kind::Number));
        assert_eq!(Kind::Share.times(Kind::Length), Some(Kind::Length));
        assert_eq!(Kind::Share.times(Kind::Number), Some(Kind::Share));
        assert_eq!(Kind::Number.times(Kind::Change), Some(Kind::Change));
        assert_eq!(Kind::Temperature.times(Kind::Number), None);
        let area = Kind::Length.times(Kind::Length).expect("an area");
        assert!(matches!(area, Kind::Unnamed(_)));
        assert_eq!(area.over(Kind::Length), Some(Kind::Length));
    }
}
