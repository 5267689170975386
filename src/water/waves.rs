//! Waves by wind, fetch and depth, where nobody measured them: a model's estimate, marked as one.
//!
//! Source: the shallow-water form of the *Shore Protection Manual* (US Army Corps of Engineers, 1984), chapter 3, as
//! printed in the *ACES Technical Reference* (Leenknecht, Szuwalski and Sherlock, 1992), with the manual's own wind-stress
//! speed, `U_A = 0.71 U^1.23` m/s. It gives the significant height (the mean of the highest third) where the wind has
//! blown long enough over the whole fetch; single waves reach about 1.8 times that. Below about 1 km of fetch it is an
//! extrapolation (from memory), and is marked so.
//!
//! The Beaufort number and the sea state are the World Meteorological Organization's: the limits of the scale's steps in
//! metres a second and in knots, and code table 3700.

use super::{Derivation, Needs, Surroundings, missing};
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::quantity::{from_si, to_si};

/// The acceleration of gravity as the manuals have it, m/s².
const GRAVITY: f64 = 9.81;
/// The fetch below which the formulas are an extrapolation, m.
const LEAST_FETCH: f64 = 1000.0;

/// Significant waves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Waves {
    /// Significant height, m.
    pub height: f64,
    /// Peak period, s.
    pub period: f64,
}

/// What both formulas go by: stress, and depth and fetch as numbers without a unit; none where there is no wind, fetch or
/// water, so no waves, and the formulas divide by nothing.
fn stressed(wind: f64, fetch: f64, depth: f64) -> Option<(f64, f64, f64)> {
    let stress = 0.71 * libm::pow(wind.max(0.0), 1.23);
    let square = stress * stress;
    if square <= f64::MIN_POSITIVE || fetch <= 0.0 || depth <= 0.0 {
        return None;
    }
    Some((stress, GRAVITY * depth / square, GRAVITY * fetch / square))
}

/// The significant height, m, of the waves of a wind, m/s at 10 m height, over a fetch and a mean depth, m.
fn height(wind: f64, fetch: f64, depth: f64) -> f64 {
    let Some((stress, depth, fetch)) = stressed(wind, fetch, depth) else { return 0.0 };
    let a = libm::tanh(0.530 * libm::pow(depth, 0.75));
    stress * stress / GRAVITY * 0.283 * a * libm::tanh(0.00565 * fetch.sqrt() / a)
}

/// Their peak period, s.
fn period(wind: f64, fetch: f64, depth: f64) -> f64 {
    let Some((stress, depth, fetch)) = stressed(wind, fetch, depth) else { return 0.0 };
    let b = libm::tanh(0.833 * libm::pow(depth, 0.375));
    stress / GRAVITY * 7.54 * b * libm::tanh(0.0379 * libm::cbrt(fetch) / b)
}

/// The waves of a wind, m/s at 10 m height, over a fetch and a mean depth, m.
pub fn waves(wind: f64, fetch: f64, depth: f64) -> Waves {
    Waves { height: height(wind, fetch, depth), period: period(wind, fetch, depth) }
}

/// The waves that the wind makes here; measured ones play no part.
pub fn of_wind(around: &dyn Surroundings) -> Result<Waves, Needs> {
    let (wind, fetch, depth) = over(around)?;
    Ok(waves(wind, fetch, depth))
}

fn over(around: &dyn Surroundings) -> Result<(f64, f64, f64), Needs> {
    let lake = around.lake();
    let known = || {
        let wind = around.reading(Known::Wind)?;
        let fetch = lake.fetch_from(around.reading(Known::WindFrom)?)?;
        Some((to_si(wind), to_si(fetch), to_si(lake.mean_depth?)))
    };
    known().ok_or_else(|| {
        let missing = missing([
            (around.reading(Known::Wind).is_none(), "the wind"),
            (around.reading(Known::WindFrom).is_none(), "where the wind comes from"),
            (lake.fetch.is_empty(), "the water file's `fetch`"),
            (lake.mean_depth.is_none(), "the water file's `mean_depth`"),
        ]);
        format!("somebody to measure them; or, for an estimate, {missing}").into()
    })
}

pub(super) const WAVES: Derivation = Derivation {
    gives: Known::Waves,
    from: |_| &["wind", "wind_from", "water file"],
    how: |around| match over(around) {
        Ok((_, fetch, _)) if fetch < LEAST_FETCH => {
            "significant height by the Shore Protection Manual's formula, which at a fetch under 1 km is an extrapolation"
        }
        _ => "significant height by the Shore Protection Manual's formula for wind, fetch and depth",
    },
    estimated: |_| true,
    derive: |around| {
        let (wind, fetch, depth) = over(around)?;
        from_si(height(wind, fetch, depth)).ok_or_else(|| "waves that can be".into())
    },
};

/// The lower limits of the Beaufort numbers from 1 to 12, m/s at 10 m height.
const BEAUFORT: [f64; 12] = [0.3, 1.6, 3.4, 5.5, 8.0, 10.8, 13.9, 17.2, 20.8, 24.5, 28.5, 32.7];
/// The same in knots, which are whole.
const BEAUFORT_KNOTS: [f64; 12] = [1.0, 4.0, 7.0, 11.0, 17.0, 22.0, 28.0, 34.0, 41.0, 48.0, 56.0, 64.0];

/// The Beaufort number of a wind in m/s.
pub fn beaufort(wind: f64) -> usize {
    BEAUFORT.iter().filter(|limit| wind >= **limit).count()
}

/// The Beaufort number of a wind in knots: the scale's steps in knots are whole and not those in m/s converted.
pub fn beaufort_of_knots(wind: f64) -> usize {
    BEAUFORT_KNOTS.iter().filter(|limit| libm::round(wind) >= **limit).count()
}

/// The upper limits of the sea states from 0 to 8, m of significant height, and what all are called.
const SEA_STATES: [f64; 9] = [0.0, 0.1, 0.5, 1.25, 2.5, 4.0, 6.0, 9.0, 14.0];
const SEA_NAMES: [&str; 10] = [
    "calm, glassy",
    "calm, rippled",
    "smooth",
    "slight",
    "moderate",
    "rough",
    "very rough",
    "high",
    "very high",
    "phenomenal",
];

/// The sea state of a significant height in m: its code and what it is called. A height at a limit has the lower code.
pub fn sea_state(height: f64) -> (usize, &'static str) {
    let code = SEA_STATES.iter().filter(|limit| height > **limit).count();
    (code, SEA_NAMES.get(code).copied().unwrap_or_default())
}
