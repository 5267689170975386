//! An estimate of the top layer where nobody made a cast: in midsummer, in lakes that keep their layers.
//!
//! Source: M. Hanna, *Evaluation of models predicting mixing depth*, Canadian Journal of Fisheries and Aquatic Sciences
//! 47 (1990), 940–947: the depth of the top layer by the longest straight line over open water, about the time of most
//! heat; its coefficients as lake models carry them. The spread beside it: K. Patalas (1984), by the lake's area, and the
//! factor of about 1.5 by which other regressions of the kind differ. Whether a lake keeps its layers: after H. Stefan and
//! X. Fang, by the fourth root of its area over its greatest depth.

use super::cast::Profile;
use super::lake::Lake;
use super::{Needs, Place, missing};
use crate::vocabulary::quantity::{from_si, to_si};
use jiff::civil::Date;

/// How an estimated depth was come by.
pub const HOW: &str = "a model's estimate of the top layer, by the lake's longest open line (Hanna 1990)";

/// What it is worked out from.
pub const FROM: &[&str] = &["surface", "water file"];

/// Above this ratio, m^-½, lakes mix to the bottom again and again.
const MOST_RATIO: f64 = 4.0;
/// How much regressions of the kind differ.
const SPREAD: f64 = 1.5;

/// An estimated profile.
#[derive(Clone, Debug, PartialEq)]
pub struct Estimate {
    /// The depth of the top layer, counts.
    pub top: i64,
    /// What the other regressions give, from the least to the most, counts.
    pub spread: (i64, i64),
    /// Temperature against depth: the surface's down to `top`, below it that of the deep water where it is stated.
    pub profile: Profile,
}

/// The depth of the top layer, m, by the longest straight line over open water, m.
pub fn hanna(longest_open_line: f64) -> f64 {
    libm::pow(10.0, 0.336 * libm::log10(longest_open_line) - 0.245)
}

/// The same by the area, m².
pub fn patalas(area: f64) -> f64 {
    4.6 * libm::pow(area / 1e6, 0.205)
}

/// Whether a date lies in the season that the regressions speak of, north or south of the equator.
fn in_season(date: Date, latitude: f64) -> bool {
    let day = (date.month(), date.day());
    if latitude >= 0.0 { ((7, 20)..=(9, 30)).contains(&day) } else { ((1, 20)..=(3, 31)).contains(&day) }
}

/// The estimate for a lake on a date, by its surface temperature, counts; else why there is none.
pub fn estimate(
    lake: &Lake,
    place: Option<Place>,
    date: Option<Date>,
    surface: Option<i64>,
) -> Result<Estimate, Needs> {
    let (Some(surface), Some(date), Some(place), Some(line), Some(area), Some(deepest)) =
        (surface, date, place, lake.longest_open_line, lake.area, lake.deepest)
    else {
        let missing = missing([
            (surface.is_none(), "the surface temperature"),
            (date.is_none(), "a date"),
            (place.is_none(), "a position"),
            (lake.longest_open_line.is_none(), "the water file's `longest_open_line`"),
            (lake.area.is_none(), "the water file's `area`"),
            (lake.deepest.is_none(), "the water file's `deepest`"),
        ]);
        return Err(format!("an estimate needs {missing}").into());
    };
    if lake.drawn_from_below {
        return Err("no estimate: water is drawn from below here, which the regressions do not know".into());
    }
    if !in_season(date, place.latitude) {
        let season = if place.latitude >= 0.0 { "20 July to 30 September" } else { "20 January to 31 March" };
        return Err(format!("no estimate: the regressions speak of {season} alone").into());
    }
    let (line, deepest) = (to_si(line), to_si(deepest));
    let ratio = libm::pow(area, 0.25) / deepest;
    if ratio >= MOST_RATIO {
        return Err("no estimate: a lake so wide and shallow mixes to the bottom again and again".into());
    }
    let (top, other) = (hanna(line), patalas(area));
    // A lake shallower than the layer has no layer below it.
    if top >= deepest {
        return Err("no estimate: the top layer would reach below the greatest depth".into());
    }
    let counts = |metres: f64| from_si(metres).ok_or_else(|| Needs::from("no estimate: the lake is no lake"));
    let spread = (counts(other.min(top / SPREAD))?, counts(other.max(top * SPREAD).min(deepest))?);
    let top = counts(top)?;
    let mut points = vec![(0, surface), (top, surface)];
    // Deep water is never warmer than the surface in this season; where somebody states so the model has nothing to say.
    if let Some(deep) = lake.deep_water.filter(|deep| *deep < surface) {
        points.extend([(top + 1, deep), (counts(deepest)?, deep)]);
    }
    Ok(Estimate { top, spread, profile: Profile::new(points) })
}
