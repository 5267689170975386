//! What a rod fishes with, and how deep its lure runs: line out to depth, and the other way round.
//!
//! Beside what people say (common practice, no source: ten yards of weighted line take a lure down about 5 ft at about
//! 2 mph), the lead core of the boat in `rules/ossel` takes a lure to 15.7 ft with three such lengths and to 28.1 ft with five.

use super::line::{FASTEST, GRAVITY, Load, Piece, Shape, Stretch, Unsolved, root, shape};

/// The density of lead, kg/m³.
pub const LEAD: f64 = 11_340.0;
/// The drag coefficient of a ball below the speeds at which its wake narrows.
pub const BALL_DRAG: f64 = 0.47;
/// Drag across a line and along it, where nobody has measured them (*WHOI-97-15* and Hoerner, *Fluid-Dynamic Drag*).
pub const ACROSS: f64 = 1.2;
/// See [`ACROSS`].
pub const ALONG: f64 = 0.02;
/// The drag area of a lure over the square of its length; our own guess, no source. A lure's drag matters little on a
/// weight's cable and on a long weighted line, and more on a light line.
const LURE_DRAG: f64 = 0.15;
/// The length of a lure where nobody says, m.
const USUAL_LURE: f64 = 0.08;
/// The flattest a line lies between water and tip: 20°, our own guess, no source.
const FLATTEST: f64 = std::f64::consts::PI / 9.0;
/// How exactly a depth is met, m.
const CLOSE: f64 = 0.002;

/// On which side of the boat a rod stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Side {
    /// Left, looking ahead.
    Port,
    /// In the middle.
    Centre,
    /// Right.
    Starboard,
}

/// A rod with its reel and what is on it.
#[derive(Clone, Debug, PartialEq)]
pub struct Rod {
    /// Its name.
    pub name: String,
    /// Its side.
    pub side: Side,
    /// How far out from the middle of the boat its line goes into the water, m.
    pub out: f64,
    /// How high over the water its line leaves the tip or block, m.
    pub height: f64,
    /// The most that its counter may show, m.
    pub most_out: f64,
    /// The kind of line it is, in the words of the aspect `line`.
    pub line: String,
    /// The lures it can carry; none named is any.
    pub lures: Vec<String>,
    /// The drag area of its lure, m², where somebody has said it.
    pub lure_drag: Option<f64>,
    /// The diameter of its drum, m, where turns are counted.
    pub drum: Option<f64>,
    /// How its lure is brought down.
    pub way: Way,
    /// Measured depths, to which the drag across its line was fitted.
    pub fit: Option<Fit>,
}

/// How a lure is brought down.
#[derive(Clone, Debug, PartialEq)]
pub enum Way {
    /// A weight on a cable; the lure's own line lets go of a release at the weight.
    Weight {
        /// The weight.
        weight: Load,
        /// The cable.
        cable: Stretch,
        /// How far the lure runs behind the release, m.
        setback: f64,
    },
    /// The line itself sinks, or a sinker in it does.
    Line {
        /// The leader between lure and what sinks, and its length, m.
        leader: (Stretch, f64),
        /// A sinker at the leader's upper end.
        sinker: Option<Load>,
        /// The line above, from below: each kind with its length; the last goes on to the reel.
        above: Vec<(Stretch, f64)>,
    },
}

/// Where a rod's lure runs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Run {
    /// Line out on the counter, m.
    pub out: f64,
    /// How deep, m.
    pub depth: f64,
    /// How far behind the boat, m.
    pub behind: f64,
    /// How much it rises for each m/s more, m; what a little speed costs.
    pub rise: f64,
}

/// A depth that a rod does not reach at a speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TooDeep {
    /// The most that it reaches, m.
    pub most: f64,
    /// The speed at which it would, m/s.
    pub slower: Option<f64>,
    /// How many times the weight would.
    pub heavier: Option<f64>,
}

/// What comes of asking for a depth.
pub type Reached = Result<Run, TooDeep>;

/// Measured depths and what they made of the drag.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// The drag across the line that fits them.
    pub across: f64,
    /// Of each point line out, speed, the depth measured, and the depth worked out before and after, m and m/s.
    pub points: Vec<[f64; 5]>,
}

/// A ball of lead, by its mass in kg.
pub fn ball(mass: f64, density: f64) -> Load {
    let radius = libm::cbrt(3.0 * mass / (4.0 * std::f64::consts::PI * density));
    Load {
        weight: mass * GRAVITY * (1.0 - 1000.0 / density),
        drag_area: BALL_DRAG * std::f64::consts::PI * radius * radius,
    }
}

impl Rod {
    /// The lure of a size, m.
    fn lure(&self, size: Option<f64>) -> Load {
        let size = size.unwrap_or(USUAL_LURE);
        Load { weight: 0.0, drag_area: self.lure_drag.unwrap_or(LURE_DRAG * size * size) }
    }

    /// The pieces with so much line in the water above what is always there.
    fn pieces(&self, lure: Load, in_water: f64) -> Vec<Piece> {
        match &self.way {
            Way::Weight { weight, cable, .. } => vec![Piece::Load(*weight), Piece::Line(*cable, in_water)],
            Way::Line { leader, sinker, above } => {
                let mut pieces = vec![Piece::Load(lure), Piece::Line(leader.0, leader.1)];
                pieces.extend(sinker.map(Piece::Load));
                let mut left = in_water;
                for (at, (stretch, length)) in above.iter().enumerate() {
                    let here = if at + 1 == above.len() { left } else { left.min(*length) };
                    pieces.push(Piece::Line(*stretch, here));
                    left -= here;
                }
                pieces
            }
        }
    }

    fn shape(&self, lure: Load, in_water: f64, speed: f64, density: f64) -> Result<Shape, Unsolved> {
        shape(&self.pieces(lure, in_water), speed, density)
    }

    /// The angle of the line between the water and the tip: straight on, and never so flat that its own weight would not
    /// let it sag more.
    fn angle_in_air(shape: &Shape) -> f64 {
        shape.angle.max(FLATTEST)
    }

    /// Line between the tip and the water, m.
    fn in_air(&self, shape: &Shape) -> f64 {
        self.height / libm::sin(Self::angle_in_air(shape))
    }

    fn run(&self, shape: &Shape, in_water: f64, rise: f64) -> Run {
        let setback = match &self.way {
            Way::Weight { setback, .. } => *setback,
            Way::Line { .. } => 0.0,
        };
        let air = self.in_air(shape);
        Run {
            out: in_water + air,
            depth: shape.depth,
            behind: shape.behind + air * libm::cos(Self::angle_in_air(shape)) + setback,
            rise,
        }
    }

    /// How deep and how far behind the lure runs with so much line out on the counter, at a speed; m, m/s, kg/m³.
    ///
    /// # Errors
    /// The shape can't be worked out; see [`Unsolved`].
    pub fn forward(&self, out: f64, speed: f64, size: Option<f64>, density: f64) -> Result<Run, Unsolved> {
        let lure = self.lure(size);
        let in_water = self.in_water(out, CLOSE / 2.0, lure, speed, density)?;
        let shape = self.shape(lure, in_water, speed, density)?;
        Ok(self.run(&shape, in_water, self.rise(lure, in_water, speed, density)?))
    }

    /// By how much the lure rises for each m/s more, with the same line.
    fn rise(&self, lure: Load, in_water: f64, speed: f64, density: f64) -> Result<f64, Unsolved> {
        // A tenth of a mile an hour, to both sides.
        let step = 0.044_704_f64.min(speed / 2.0).max(1e-3);
        let slower = self.shape(lure, in_water, (speed - step).max(0.0), density)?.depth;
        let faster = self.shape(lure, in_water, (speed + step).min(FASTEST), density)?.depth;
        Ok((slower - faster) / (2.0 * step))
    }

    /// The line out for a depth at a speed, or why there is none.
    ///
    /// # Errors
    /// The shape can't be worked out; see [`Unsolved`].
    pub fn inverse(&self, depth: f64, speed: f64, size: Option<f64>, density: f64) -> Result<Reached, Unsolved> {
        let lure = self.lure(size);
        let deep = |in_water: f64| Ok::<_, Unsolved>(self.shape(lure, in_water, speed, density)?.depth);
        let longest = self.longest(lure, speed, density)?;
        match root((0.0, longest), depth, CLOSE, deep)? {
            Some(in_water) => {
                let shape = self.shape(lure, in_water, speed, density)?;
                Ok(Ok(self.run(&shape, in_water, self.rise(lure, in_water, speed, density)?)))
            }
            // Above where the leader and the lure hang of themselves.
            None if depth < deep(0.0)? => {
                let shape = self.shape(lure, 0.0, speed, density)?;
                Ok(Ok(self.run(&shape, 0.0, 0.0)))
            }
            None => Ok(Err(TooDeep {
                most: deep(longest)?,
                slower: self.slower(depth, speed, lure, density)?,
                heavier: self.heavier(depth, speed, lure, density)?,
            })),
        }
    }

    /// The most that it reaches at a speed, m.
    ///
    /// # Errors
    /// The shape can't be worked out; see [`Unsolved`].
    pub fn deepest(&self, speed: f64, size: Option<f64>, density: f64) -> Result<f64, Unsolved> {
        let lure = self.lure(size);
        self.deepest_with(lure, speed, density)
    }

    fn deepest_with(&self, lure: Load, speed: f64, density: f64) -> Result<f64, Unsolved> {
        let longest = self.longest(lure, speed, density)?;
        Ok(self.shape(lure, longest, speed, density)?.depth)
    }

    /// The most line that can be in the water.
    fn longest(&self, lure: Load, speed: f64, density: f64) -> Result<f64, Unsolved> {
        self.in_water(self.most_out, CLOSE, lure, speed, density)
    }

    /// How much of the line out is in the water: none where it is less than it takes to the water.
    fn in_water(&self, out: f64, close: f64, lure: Load, speed: f64, density: f64) -> Result<f64, Unsolved> {
        let total = |in_water: f64| -> Result<f64, Unsolved> {
            Ok(in_water + self.in_air(&self.shape(lure, in_water, speed, density)?))
        };
        Ok(root((0.0, out), out, close, total)?.unwrap_or(0.0))
    }

    /// The speed at which all the line would reach a depth.
    fn slower(&self, depth: f64, speed: f64, lure: Load, density: f64) -> Result<Option<f64>, Unsolved> {
        const SLOWEST: f64 = 0.2;
        let deep = |less: f64| self.deepest_with(lure, speed - less, density);
        if speed <= SLOWEST {
            return Ok(None);
        }
        Ok(root((0.0, speed - SLOWEST), depth, 0.05, deep)?.map(|less| speed - less))
    }

    /// How many times the weight would reach a depth with all the line.
    fn heavier(&self, depth: f64, speed: f64, lure: Load, density: f64) -> Result<Option<f64>, Unsolved> {
        const MOST: f64 = 4.0;
        let deep = |times: f64| match self.with_weight(times) {
            Some(rod) => rod.deepest_with(lure, speed, density),
            None => Ok(0.0),
        };
        root((1.0, MOST), depth, 0.05, deep)
    }

    fn with_weight(&self, times: f64) -> Option<Rod> {
        // The same shape and material: its face grows by the two thirds of its mass.
        let scaled =
            |load: &Load| Load { weight: load.weight * times, drag_area: load.drag_area * libm::pow(times, 2.0 / 3.0) };
        let way = match &self.way {
            Way::Weight { weight, cable, setback } => {
                Way::Weight { weight: scaled(weight), cable: *cable, setback: *setback }
            }
            Way::Line { leader, sinker: Some(sinker), above } => {
                Way::Line { leader: *leader, sinker: Some(scaled(sinker)), above: above.clone() }
            }
            Way::Line { sinker: None, .. } => return None,
        };
        Some(Rod { way, ..self.clone() })
    }

    /// The same rod with another drag across its line.
    pub fn with_drag(&self, across: f64) -> Rod {
        let changed = |stretch: &Stretch| Stretch { across, ..*stretch };
        let way = match &self.way {
            Way::Weight { weight, cable, setback } => {
                Way::Weight { weight: *weight, cable: changed(cable), setback: *setback }
            }
            Way::Line { leader, sinker, above } => Way::Line {
                leader: *leader,
                sinker: *sinker,
                above: above.iter().map(|(stretch, length)| (changed(stretch), *length)).collect(),
            },
        };
        Rod { way, ..self.clone() }
    }

    /// The rod with the drag across its line fitted to measured depths: line out, speed and depth, m and m/s. The drag is
    /// the one whose sum of squared differences is least, between 0.2 and 5.
    ///
    /// # Errors
    /// The shape can't be worked out; see [`Unsolved`].
    pub fn fitted(self, measured: &[[f64; 3]], density: f64) -> Result<Rod, Unsolved> {
        if measured.is_empty() {
            return Ok(self);
        }
        let misses = |across: f64| -> Result<f64, Unsolved> {
            let rod = self.with_drag(across);
            let mut sum = 0.0;
            for [out, speed, depth] in measured {
                let miss = rod.forward(*out, *speed, None, density)?.depth - depth;
                sum += miss * miss;
            }
            Ok(sum)
        };
        // Golden section: the sum has one valley, since every depth falls as the drag grows.
        const GOLDEN: f64 = 0.618_033_988_749_894_9;
        let (mut low, mut high) = (0.2, 5.0);
        let (mut a, mut b) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
        let (mut at_a, mut at_b) = (misses(a)?, misses(b)?);
        for _ in 0..30 {
            if at_a < at_b {
                (high, b, at_b) = (b, a, at_a);
                a = high - GOLDEN * (high - low);
                at_a = misses(a)?;
            } else {
                (low, a, at_a) = (a, b, at_b);
                b = low + GOLDEN * (high - low);
                at_b = misses(b)?;
            }
        }
        let across = (low + high) / 2.0;
        let after = self.with_drag(across);
        let points: Result<Vec<_>, Unsolved> = measured
            .iter()
            .map(|[out, speed, depth]| {
                let before = self.forward(*out, *speed, None, density)?.depth;
                Ok([*out, *speed, *depth, before, after.forward(*out, *speed, None, density)?.depth])
            })
            .collect();
        Ok(Rod { fit: Some(Fit { across, points: points? }), ..after })
    }
}

/// What a turn does to a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turned {
    /// The lure's speed over the boat's; none where no steady circle is possible: the lure stalls and sinks.
    pub speed: Option<f64>,
}

/// A lure in a turn: the boat on a circle, the line going in to one side of its middle (outward positive), the lure so far
/// behind; all m. The line lies along the lure's own circle: its radius is `√((R + y)² - ℓ²)`.
pub fn turned(radius: f64, sideways: f64, behind: f64) -> Turned {
    let square = (radius + sideways) * (radius + sideways) - behind * behind;
    let possible = square > 0.0 && radius > 0.0 && radius + sideways > 0.0;
    Turned { speed: possible.then(|| square.sqrt() / radius) }
}
