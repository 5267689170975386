//! How much oxygen water can hold, and the layer where it is both cool enough and rich enough for a fish.
//!
//! Saturation: B. Benson and D. Krause, *The concentration and isotopic fractionation of oxygen dissolved in freshwater
//! and seawater in equilibrium with the atmosphere*, Limnology and Oceanography 29 (1984), 620–632; fresh water, 0 to
//! 40 °C. Its correction for the pressure of the air with the pressure of vapour (from memory, and agreeing with a
//! published example). The pressure of the standard atmosphere: ISO 2533, below 11 km. A barometer's reading is mostly
//! reduced to the sea and would say too much at height, so it is not used.

use super::cast::Cast;
use super::lake::Habitat;

/// The pressure of the standard atmosphere, Pa, at a height over the sea, m.
pub fn standard_pressure(height: f64) -> f64 {
    101_325.0 * libm::pow((1.0 - 2.255_77e-5 * height).max(0.0), 5.255_88)
}

/// The oxygen, mg/L, that fresh water holds in balance with the air, by its temperature, °C, and the pressure, Pa; none
/// outside 0 to 40 °C, and where the air is thinner than vapour alone.
pub fn saturation(temperature: f64, pressure: f64) -> Option<f64> {
    if !(0.0..=40.0).contains(&temperature) || !pressure.is_finite() {
        return None;
    }
    let kelvin = temperature + 273.15;
    let logarithm = -139.344_11 + 1.575_701e5 / kelvin - 6.642_308e7 / libm::pow(kelvin, 2.0)
        + 1.243_800e10 / libm::pow(kelvin, 3.0)
        - 8.621_949e11 / libm::pow(kelvin, 4.0);
    let at_sea = libm::exp(logarithm);
    let atmospheres = pressure / 101_325.0;
    let vapour = libm::exp(11.8571 - 3840.70 / kelvin - 216_961.0 / (kelvin * kelvin));
    let theta = 0.000_975 - 1.426e-5 * temperature + 6.436e-8 * temperature * temperature;
    let correction = |p: f64| (1.0 - vapour / p) * (1.0 - theta * p);
    let held = at_sea * atmospheres * correction(atmospheres) / correction(1.0);
    (atmospheres > vapour).then_some(held)
}

/// The layer where a fish finds water both cool enough and rich enough in oxygen, counts of depth.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Layer {
    /// From where the water is cool enough to where it is too poor.
    Between(i64, i64),
    /// From where it is cool enough down to the end of the cast, which is rich enough.
    From(i64),
    /// The water is too poor before it is cool enough.
    None,
    /// The cast does not say.
    Unknown,
}

/// The layer of a cast that suits a fish.
pub fn layer(cast: &Cast, habitat: &Habitat) -> Layer {
    let Some(top) = cast.temperature.depth_of(habitat.warmest) else { return Layer::Unknown };
    match cast.oxygen.depth_of(habitat.oxygen) {
        Some(bottom) if bottom > top => Layer::Between(top, bottom),
        Some(_) => Layer::None,
        // Nowhere as low: rich enough as far as the cast goes, if it goes there.
        None if cast.oxygen.stays_above(habitat.oxygen, top) => Layer::From(top),
        None => Layer::Unknown,
    }
}
