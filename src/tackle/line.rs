//! The steady shape of a flexible line towed through still water, and its inverse: the line out for a depth.
//!
//! The line does not stretch and lies in one upright plane; the water is still, or streams uniformly. With `s` along the
//! line from the lure up, `φ` the angle from the horizontal, `T` the tension, `w` the weight in water of a metre of line,
//! `d` its diameter, `U` the speed through the water and `ρ` the water's density:
//!
//! ```text
//! dT/ds = w sin φ + ½ ρ Ct π d U² cos² φ        dx/ds = cos φ    (how far behind)
//! T dφ/ds = w cos φ - ½ ρ Cn d U² sin² φ        dh/ds = sin φ    (how deep)
//! ```
//!
//! The load on a line across and along the stream is that of J. Gobat, M. Grosenbaugh and M. Triantafyllou,
//! *WHOI Cable: Time Domain Numerical Simulation of Moored and Towed Oceanographic Systems*, WHOI-97-15 (1997), equations
//! 2.34 to 2.37: across by the square of the sine, along by that of the cosine over the wetted circumference π d. The
//! integration goes upward from the end, where everything is known, by the adaptive method of Dormand and Prince of the
//! crate `differential-equations`. All numbers here are SI: m, N, N/m, m/s, kg/m³, radians.

use differential_equations::error::Error;
use differential_equations::prelude::{ExplicitRungeKutta, IVP, ODE};

/// The acceleration of gravity, m/s².
pub const GRAVITY: f64 = 9.80665;
/// The speeds at which anything is worked out, m/s: people troll at a tenth of the upper one to a fifth of it.
pub const FASTEST: f64 = 5.0;
/// The longest line, m.
pub const LONGEST: f64 = 1000.0;

/// A stretch of line of one kind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Weight in water of a metre, N/m; below zero it floats.
    pub weight: f64,
    /// Diameter, m.
    pub diameter: f64,
    /// Drag coefficient across the stream, on the diameter.
    pub across: f64,
    /// Drag coefficient along it, on the circumference.
    pub along: f64,
}

/// What hangs in the line or at its end: a lure, a sinker, a weight.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Load {
    /// Weight in water, N; below zero it floats.
    pub weight: f64,
    /// Drag coefficient times area, m².
    pub drag_area: f64,
}

/// A piece of a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Piece {
    /// Something that hangs here.
    Load(Load),
    /// So many metres of line of one kind.
    Line(Stretch, f64),
}

/// How a line runs.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Shape {
    /// How deep its lower end is under its upper one, m.
    pub depth: f64,
    /// How far behind, m.
    pub behind: f64,
    /// The tension at its upper end, N.
    pub tension: f64,
    /// Its angle there, from the horizontal, radians.
    pub angle: f64,
}

/// Why a shape can't be worked out.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum Unsolved {
    /// Something given is no number, below zero or beyond all measure.
    #[error("the {0} is out of the range that can be worked out")]
    OutOfRange(&'static str),
    /// The method gave up.
    #[error("the shape of this line can't be worked out; nearly nothing pulls at its end")]
    NoShape,
}

/// How exactly a shape is worked out: relative, and absolute in metres, newtons and radians.
const TOLERANCE: (f64, f64) = (1e-8, 1e-10);
/// How little of a line may be left at its end, of the whole.
const ROUNDING: f64 = 1e-12;
/// Less pull than this at the end of a line is none, N.
const NO_PULL: f64 = 1e-9;

/// The equations of a stretch: tension, angle, how far behind, how deep, over the length from its lower end.
struct Towed {
    weight: f64,
    /// The load across at φ = 90°, and along at φ = 0°, N/m.
    across: f64,
    along: f64,
}

impl Towed {
    fn new(stretch: &Stretch, speed: f64, density: f64) -> Self {
        let pressure = 0.5 * density * speed * speed * stretch.diameter;
        let along = pressure * stretch.along * std::f64::consts::PI;
        Self { weight: stretch.weight, across: pressure * stretch.across, along }
    }

    /// The angle at which weight and load across the line balance, so that it runs straight.
    fn critical_angle(&self) -> f64 {
        if self.across <= 0.0 {
            return if self.weight > 0.0 { std::f64::consts::FRAC_PI_2 } else { 0.0 };
        }
        // sin² φ / cos φ = k
        let k = self.weight / self.across;
        libm::acos(((k * k + 4.0).sqrt() - k) / 2.0)
    }
}

impl ODE<f64, [f64; 4]> for Towed {
    fn diff(&self, _: f64, state: &[f64; 4], change: &mut [f64; 4]) {
        let (sin, cos) = libm::sincos(state[1]);
        change[0] = self.weight * sin + self.along * cos * cos;
        // The load is against the motion, whichever way the line leans.
        change[1] = (self.weight * cos - self.across * sin * sin.abs()) / state[0];
        change[2] = cos;
        change[3] = sin;
    }
}

/// The shape of a line whose pieces are given from the lure up.
///
/// # Errors
/// A speed, density, diameter, coefficient or length is no number, below zero or beyond all measure; nothing pulls at the
/// end of a line that has no weight.
pub fn shape(pieces: &[Piece], speed: f64, density: f64) -> Result<Shape, Unsolved> {
    in_range("speed", speed, 0.0, FASTEST)?;
    in_range("density of the water", density, 900.0, 1100.0)?;
    let mut shape = Shape { angle: std::f64::consts::FRAC_PI_2, ..Shape::default() };
    for piece in pieces {
        match piece {
            Piece::Load(load) => shape = loaded(shape, load, speed, density)?,
            Piece::Line(stretch, length) => shape = along(shape, stretch, *length, speed, density)?,
        }
    }
    Ok(shape)
}

fn in_range(what: &'static str, value: f64, least: f64, most: f64) -> Result<(), Unsolved> {
    if value.is_finite() && (least..=most).contains(&value) { Ok(()) } else { Err(Unsolved::OutOfRange(what)) }
}

/// The pull of the line below with what hangs here added to it.
fn loaded(shape: Shape, load: &Load, speed: f64, density: f64) -> Result<Shape, Unsolved> {
    in_range("weight", load.weight, -1e4, 1e5)?;
    in_range("drag area", load.drag_area, 0.0, 10.0)?;
    let (sin, cos) = libm::sincos(shape.angle);
    let down = shape.tension * sin + load.weight;
    let back = shape.tension * cos + 0.5 * density * load.drag_area * speed * speed;
    Ok(Shape { tension: libm::hypot(down, back), angle: libm::atan2(down, back), ..shape })
}

/// The shape at the upper end of a stretch, from that at its lower one.
fn along(below: Shape, stretch: &Stretch, length: f64, speed: f64, density: f64) -> Result<Shape, Unsolved> {
    in_range("length of line", length, 0.0, LONGEST)?;
    in_range("weight of the line", stretch.weight, -100.0, 1000.0)?;
    in_range("diameter of the line", stretch.diameter, 0.0, 0.1)?;
    in_range("drag across the line", stretch.across, 0.0, 10.0)?;
    in_range("drag along the line", stretch.along, 0.0, 10.0)?;
    if length == 0.0 {
        return Ok(below);
    }
    let towed = Towed::new(stretch, speed, density);
    if below.tension <= NO_PULL {
        return straight(below, &towed, length);
    }
    let begin = [below.tension, below.angle, below.behind, below.depth];
    let method = ExplicitRungeKutta::dop853().rtol(TOLERANCE.0).atol(TOLERANCE.1);
    let end = match IVP::ode(&towed, 0.0, length, begin).method(method).solve() {
        Ok(solved) => solved.y.last().copied(),
        // The last step may be one of rounding alone, which the method takes for one that is too small.
        Err(Error::StepSize { t, y }) if length - t <= ROUNDING * length => Some(y),
        Err(_) => None,
    };
    let Some([tension, angle, behind, depth]) = end else { return Err(Unsolved::NoShape) };
    let shape = Shape { depth, behind, tension, angle };
    let known = [depth, behind, tension, angle].iter().all(|value| value.is_finite());
    if known { Ok(shape) } else { Err(Unsolved::NoShape) }
}

/// A line at whose end nothing pulls runs straight, at the angle where its own weight and load balance.
fn straight(below: Shape, towed: &Towed, length: f64) -> Result<Shape, Unsolved> {
    if towed.weight <= 0.0 {
        return Err(Unsolved::NoShape);
    }
    let angle = towed.critical_angle();
    let (sin, cos) = libm::sincos(angle);
    Ok(Shape {
        depth: below.depth + length * sin,
        behind: below.behind + length * cos,
        tension: below.tension + length * (towed.weight * sin + towed.along * cos * cos),
        angle,
    })
}

/// The place between `low` and `high` where a growing function comes up to a value, to within `close` of the value.
///
/// By the Illinois method: a secant that keeps its bracket. None where the function does not grow from below the value to
/// above it, or a value can't be had.
pub fn root<E>(
    (low, high): (f64, f64),
    value: f64,
    close: f64,
    mut function: impl FnMut(f64) -> Result<f64, E>,
) -> Result<Option<f64>, E> {
    let (mut left, mut right) = ((low, function(low)? - value), (high, function(high)? - value));
    if left.1.abs() <= close {
        return Ok(Some(low));
    }
    if right.1.abs() <= close {
        return Ok(Some(high));
    }
    if !(left.1 < 0.0 && right.1 > 0.0) {
        return Ok(None);
    }
    // Which side the last step left standing: its weight is halved, so that the other side moves too.
    let mut stood = 0;
    for _ in 0..MOST_STEPS {
        let at = (left.0 * right.1 - right.0 * left.1) / (right.1 - left.1);
        let here = function(at)? - value;
        if here.abs() <= close {
            return Ok(Some(at));
        }
        if here < 0.0 {
            left = (at, here);
            if stood == 1 {
                right.1 /= 2.0;
            }
            stood = 1;
        } else {
            right = (at, here);
            if stood == -1 {
                left.1 /= 2.0;
            }
            stood = -1;
        }
    }
    Ok(None)
}

/// Most steps of a search: each third step at the latest halves what is left.
const MOST_STEPS: usize = 200;
