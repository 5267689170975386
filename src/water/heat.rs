//! Layers: the density of water by its temperature, and the thermocline of a cast.
//!
//! Density: J. Martin and S. McCutcheon, *Hydrodynamics and Transport for Water Quality Modeling* (1999); fresh water,
//! 0 to 40 °C. Thermocline: J. Read, D. Hamilton, I. Jones, K. Muraoka, L. Winslow, R. Kroiss, C. Wu and E. Gaiser,
//! *Derivation of lake mixing and stratification indices from high-resolution lake buoy data*, Environmental Modelling &
//! Software 26 (2011), 1325–1336: the depth of the steepest gradient of density, weighted by its neighbours; its edges
//! where the gradient falls to 0.1 kg/m³ a metre.

use super::cast::{Cast, Profile};
use super::{Derivation, Derived, Needs, Surroundings, estimate};
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::quantity::{from_si, to_si};

/// The freezing point of water, K.
const ICE: f64 = 273.15;
/// The gradient at which a thermocline ends, kg/m³ a metre.
const EDGE: f64 = 0.1;
/// A column whose warmest and coldest water differ by less than this has no thermocline, K.
const LEAST_RANGE: f64 = 1.0;

/// The density of fresh water in kg/m³ at a temperature in °C, 0 to 40.
pub fn density(temperature: f64) -> f64 {
    let t = temperature;
    1000.0 * (1.0 - (t + 288.9414) * (t - 3.9863) * (t - 3.9863) / (508_929.2 * (t + 68.12963)))
}

/// Where the water's density changes fastest, and the edges of that layer; depths in m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thermocline {
    /// The depth of the steepest gradient.
    pub depth: f64,
    /// The gradient there, kg/m³ a metre.
    pub gradient: f64,
    /// Where it begins; none where the cast begins within it and below the surface.
    pub top: Option<f64>,
    /// Where it ends; none where the cast ends within it.
    pub bottom: Option<f64>,
}

/// What a cast says of layers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Layers {
    /// Fewer than three depths say nothing.
    Unknown,
    /// The water is mixed as deep as the cast goes.
    Mixed,
    /// It has a thermocline.
    Layered(Thermocline),
}

/// The layers of a profile of temperatures.
pub fn layers(profile: &Profile) -> Layers {
    let points: Vec<(f64, f64)> =
        profile.points().iter().map(|(depth, value)| (to_si(*depth), to_si(*value) - ICE)).collect();
    if points.len() < 3 {
        return Layers::Unknown;
    }
    let (coldest, warmest) = points.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (_, temperature)| {
        (low.min(*temperature), high.max(*temperature))
    });
    if warmest - coldest < LEAST_RANGE {
        return Layers::Mixed;
    }
    // Of each stretch between two points its middle and the gradient of density in it.
    let stretches: Vec<(f64, f64)> = points
        .windows(2)
        .map(|pair| {
            let [(above, warm), (below, cold)] = *pair else { return (0.0, 0.0) };
            ((above + below) / 2.0, (density(cold) - density(warm)) / (below - above))
        })
        .collect();
    let steepest =
        stretches.iter().enumerate().max_by(|(_, a), (_, b)| a.1.total_cmp(&b.1).then(std::cmp::Ordering::Greater));
    match steepest {
        Some((at, (_, gradient))) if *gradient >= EDGE => Layers::Layered(Thermocline {
            depth: weighted(&points, &stretches, at),
            gradient: *gradient,
            top: edge(stretches.get(..=at).unwrap_or_default().iter().rev()).or_else(|| at_surface(&points)),
            bottom: edge(stretches.get(at..).unwrap_or_default().iter()),
        }),
        _ => Layers::Mixed,
    }
}

/// The depth of the steepest gradient, weighted by how fast it falls off to both sides.
fn weighted(points: &[(f64, f64)], stretches: &[(f64, f64)], at: usize) -> f64 {
    let middle = stretches.get(at).map_or(0.0, |stretch| stretch.0);
    let around = || {
        let gradient = |at: usize| Some(stretches.get(at)?.1);
        let (before, here, after) = (gradient(at.checked_sub(1)?)?, gradient(at)?, gradient(at + 1)?);
        let depth = |at: usize| Some(points.get(at)?.0);
        let (before_it, above, below) = (depth(at - 1)?, depth(at)?, depth(at + 1)?);
        let down = -(below - above) / (after - here);
        let up = (above - before_it) / (here - before);
        let depth = below * (down / (down + up)) + above * (up / (down + up));
        depth.is_finite().then_some(depth)
    };
    around().unwrap_or(middle)
}

/// Where the gradient first falls to the edge's, going away from the steepest stretch, which comes first: in proportion
/// between the first stretch below it and the weakest before that, which is mostly its neighbour. (So the method's public
/// code has it, which looks the depth up by the gradient.)
fn edge<'s>(stretches: impl Iterator<Item = &'s (f64, f64)>) -> Option<f64> {
    let mut weakest: Option<(f64, f64)> = None;
    for &(middle, gradient) in stretches {
        if let Some((from, steeper)) = weakest.filter(|_| gradient < EDGE) {
            return Some(from + (middle - from) * (steeper - EDGE) / (steeper - gradient));
        }
        weakest = weakest.filter(|(_, least)| *least < gradient).or(Some((middle, gradient)));
    }
    None
}

/// The surface, where a layer reaches up to it.
fn at_surface(points: &[(f64, f64)]) -> Option<f64> {
    points.first().filter(|(depth, _)| *depth == 0.0).map(|(depth, _)| *depth)
}

fn measured(around: &dyn Surroundings) -> Result<Thermocline, Needs> {
    match around.layers() {
        Layers::Layered(thermocline) => Ok(thermocline),
        Layers::Mixed => Err("nothing: the cast shows no thermocline".into()),
        Layers::Unknown => Err("a cast of three depths or more".into()),
    }
}

fn depth(metres: f64) -> Derived {
    from_si(metres).ok_or_else(|| "a cast that can be".into())
}

const HOW: &str = "from the gradient of density in the cast, by the method of Read and others (2011)";

pub(super) const LAYERED: Derivation = Derivation {
    gives: Known::Layered,
    from: |_| &["cast"],
    how: |_| HOW,
    estimated: |_| false,
    derive: |around| match around.layers() {
        Layers::Layered(_) => Ok(1),
        Layers::Mixed => Ok(0),
        Layers::Unknown => Err("a cast of three depths or more".into()),
    },
};

pub(super) const THERMOCLINE_TOP: Derivation = Derivation {
    gives: Known::ThermoclineTop,
    from: |around| if measured(around).is_err() { estimate::FROM } else { &["cast"] },
    how: |around| if measured(around).is_err() { estimate::HOW } else { HOW },
    estimated: |around| measured(around).is_err(),
    derive: |around| match (measured(around), around.estimate()) {
        (Ok(thermocline), _) => match thermocline.top {
            Some(top) => depth(top),
            None => Err("a cast that begins above the thermocline".into()),
        },
        (Err(_), Ok(estimate)) => Ok(estimate.top),
        (Err(needs), Err(_)) => Err(needs),
    },
};

pub(super) const THERMOCLINE_BOTTOM: Derivation = Derivation {
    gives: Known::ThermoclineBottom,
    from: |_| &["cast"],
    how: |_| HOW,
    estimated: |_| false,
    derive: |around| match measured(around)?.bottom {
        Some(bottom) => depth(bottom),
        None => Err("a cast that goes deeper, to where the thermocline ends".into()),
    },
};

/// The layers of a cast.
pub fn of_cast(cast: Option<&Cast>) -> Layers {
    cast.map_or(Layers::Unknown, |cast| layers(&cast.temperature))
}
