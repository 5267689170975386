//! Classes of light by the sun's height.

use super::Derivation;
use crate::vocabulary::catalogue::{Known, light_class};

pub(super) const LIGHT: Derivation = Derivation {
    gives: Known::Light,
    how: "from the sun's height",
    derive: |around| match around.reading(Known::SunHeight) {
        Some(height) => Ok(light_class(height)),
        None => Err("the sun's height: a position and a time".into()),
    },
};
