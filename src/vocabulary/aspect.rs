//! The aspects of a tactic: what a rod can be told to do.

use super::kind::{Kind, same_word};

/// An aspect of one strategy: a built-in one, or one that its header names.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct AspectId(pub u32);

impl AspectId {
    /// Depth under the surface.
    pub const DEPTH: AspectId = AspectId(0);
    /// Speed through the water at the boat.
    pub const SPEED: AspectId = AspectId(1);
    /// The lure's length.
    pub const SIZE: AspectId = AspectId(2);
    /// The lure's kind.
    pub const LURE: AspectId = AspectId(3);
    /// The lure's colour.
    pub const COLOUR: AspectId = AspectId(4);
    /// The kind of line it runs on.
    pub const LINE: AspectId = AspectId(5);
    /// The distance behind the boat or the release.
    pub const SETBACK: AspectId = AspectId(6);
    /// How the boat goes.
    pub const PATH: AspectId = AspectId(7);

    /// Its place in lists of aspects.
    pub fn index(self) -> usize {
        self.0 as usize
    }
}

/// What an aspect's values are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Form {
    /// A range of a kind, never below zero.
    Range(Kind),
    /// Alternatives out of a list of words.
    Words(Vec<String>),
}

/// An aspect's name and values.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Aspect {
    /// Its name.
    pub name: String,
    /// Its values.
    pub form: Form,
}

impl Aspect {
    /// Its words, none where its values are ranges.
    pub fn words(&self) -> &[String] {
        match &self.form {
            Form::Words(words) => words,
            Form::Range(_) => &[],
        }
    }

    /// The kind of its ranges, none where its values are words.
    pub fn range_kind(&self) -> Option<Kind> {
        match self.form {
            Form::Range(kind) => Some(kind),
            Form::Words(_) => None,
        }
    }
}

/// The built-in aspects, in the order of their numbers.
pub fn built_in() -> Vec<Aspect> {
    let range = |name: &str, kind| Aspect { name: name.into(), form: Form::Range(kind) };
    let words = |name: &str, list: &str| Aspect {
        name: name.into(),
        form: Form::Words(list.split_whitespace().map(str::to_owned).collect()),
    };
    vec![
        range("depth", Kind::Length),
        range("speed", Kind::Speed),
        range("size", Kind::Length),
        words("lure", "spoon spinner plug minnow fly jig grub soft_bait worm natural_bait"),
        words(
            "colour",
            "silver gold copper brass white black red orange pink yellow chartreuse green blue purple brown pearl",
        ),
        words("line", "flat sinker leadcore wire downrigger"),
        range("setback", Kind::Length),
        words("path", "straight weaving upwind downwind crosswind contour"),
    ]
}

/// The names of the built-in aspects, and the other spelling of one.
pub const BUILT_IN_NAMES: [&str; 9] = ["depth", "speed", "size", "lure", "colour", "line", "setback", "path", "color"];

/// A shift: the word, the aspect it shifts, and whether it adds or takes away.
pub struct Shift {
    /// How it is written.
    pub word: &'static str,
    /// What it shifts.
    pub aspect: AspectId,
    /// 1 where it adds, -1 where it takes away.
    pub sign: i64,
}

/// The shifts of the language.
pub const SHIFTS: [Shift; 8] = [
    Shift { word: "deeper", aspect: AspectId::DEPTH, sign: 1 },
    Shift { word: "shallower", aspect: AspectId::DEPTH, sign: -1 },
    Shift { word: "faster", aspect: AspectId::SPEED, sign: 1 },
    Shift { word: "slower", aspect: AspectId::SPEED, sign: -1 },
    Shift { word: "larger", aspect: AspectId::SIZE, sign: 1 },
    Shift { word: "smaller", aspect: AspectId::SIZE, sign: -1 },
    Shift { word: "longer", aspect: AspectId::SETBACK, sign: 1 },
    Shift { word: "shorter", aspect: AspectId::SETBACK, sign: -1 },
];

impl Shift {
    /// The shift written so, in any case.
    pub fn find(word: &str) -> Option<&'static Shift> {
        SHIFTS.iter().find(|shift| same_word(shift.word, word))
    }
}
