//! Light: its classes by the sun's height, at the surface under clouds, and down in the water.
//!
//! At the surface: F. Kasten and G. Czeplak, *Solar and terrestrial radiation dependent on the amount and type of cloud*,
//! Solar Energy 24 (1980), 177–189: a clear sky gives 910 sin γ - 30 W/m², γ the sun's height, and clouds over N eighths of
//! it leave 1 - 0.75 (N/8)^3.4 of that. In the water: Beer and Lambert's law, with the attenuation by a Secchi disk after
//! H. Poole and W. Atkins, Journal of the Marine Biological Association 16 (1929), 297–324: 1.7 over the depth at which it
//! disappears; published values go from 1.1 to 2.8, and a water file may name its own. One attenuation for all colours is a
//! simplification: the first metre loses its red faster, deeper water is dimmed more slowly.

use super::{Call, Derivation, Derived, Needs, Surroundings, sun};
use crate::vocabulary::catalogue::{Known, light_class};
use crate::vocabulary::quantity::{from_si, to_si};

/// The attenuation times the Secchi depth, where a lake has none of its own.
const POOLE_ATKINS: f64 = 1.7;

pub(super) const LIGHT: Derivation = Derivation {
    gives: Known::Light,
    from: |_| &["sun_height"],
    how: |_| "from the sun's height",
    estimated: |_| false,
    derive: |around| match around.reading(Known::SunHeight) {
        Some(height) => Ok(light_class(height)),
        None => Err("the sun's height: a position and a time".into()),
    },
};

pub(super) const DAYLIGHT: Derivation = Derivation {
    gives: Known::Daylight,
    from: |_| &["sun_height", "cloud", "position"],
    how: |_| "by sun and cloud after Kasten and Czeplak (1980), against that day's clear noon",
    estimated: |_| false,
    derive: daylight,
};

fn daylight(around: &dyn Surroundings) -> Derived {
    let highest = sun::highest_today(around)?;
    let noon = clear_sky(highest);
    let height = around.reading(Known::SunHeight).ok_or_else(|| Needs::from("the sun's height"))?;
    if noon <= 0.0 {
        return Err("nothing: the sun gives no light to speak of here today".into());
    }
    let now = clear_sky(to_si(height));
    let through = match around.reading(Known::Cloud) {
        Some(cloud) => cloud_ratio(to_si(cloud)),
        // In the dark clouds are of no account.
        None if now <= 0.0 => 1.0,
        None => return Err("how much of the sky the clouds cover".into()),
    };
    from_si((now / noon * through).clamp(0.0, 1.0)).ok_or_else(|| "light that can be".into())
}

/// The light of a clear sky on a level surface, W/m², by the sun's height in degrees; never below zero.
pub fn clear_sky(height: f64) -> f64 {
    (910.0 * libm::sin(height.to_radians()) - 30.0).max(0.0)
}

/// What clouds over a share of the sky, 0 to 1, leave of a clear sky's light.
pub fn cloud_ratio(cloud: f64) -> f64 {
    1.0 - 0.75 * libm::pow(cloud.clamp(0.0, 1.0), 3.4)
}

/// The attenuation of light, 1/m, by the depth at which a Secchi disk disappears, m, and their product.
pub fn attenuation(secchi: f64, product: f64) -> f64 {
    product / secchi
}

/// The share of the light under the surface that is left at a depth, m.
pub fn share_at(depth: f64, attenuation: f64) -> f64 {
    libm::exp(-attenuation * depth)
}

/// The depth, m, to which a share of the light under the surface comes.
pub fn depth_of_share(share: f64, attenuation: f64) -> f64 {
    -libm::log(share) / attenuation
}

fn attenuation_here(around: &dyn Surroundings) -> Result<f64, Needs> {
    let clarity = around.reading(Known::Clarity).map(to_si);
    match clarity {
        Some(secchi) if secchi > 0.0 => Ok(attenuation(secchi, around.lake().attenuation.unwrap_or(POOLE_ATKINS))),
        Some(_) => Err("a `clarity` above zero: a disk that is never seen tells nothing".into()),
        None => Err("the depth at which a Secchi disk disappears (`clarity`)".into()),
    }
}

/// The share of the surface's light at a depth in counts.
pub(super) fn light_at(around: &dyn Surroundings, depth: i64) -> Derived {
    let attenuation = attenuation_here(around)?;
    from_si(share_at(to_si(depth).max(0.0), attenuation)).ok_or_else(|| "a depth that can be".into())
}

/// The depth, in counts, to which a share of the surface's light comes, or less.
pub(super) fn depth_of_light(around: &dyn Surroundings, share: i64) -> Derived {
    let attenuation = attenuation_here(around)?;
    if share <= 0 {
        return Err("nothing: in no depth is there no light at all, by this law".into());
    }
    from_si(depth_of_share(to_si(share), attenuation).max(0.0)).ok_or_else(|| "a share that can be".into())
}

/// A call about light in the water.
pub(super) fn call(value: Derived) -> Call {
    Call {
        value,
        estimated: false,
        from: &["clarity"],
        how: Some("by Beer and Lambert's law, the attenuation from the Secchi disk (Poole and Atkins 1929)"),
    }
}
