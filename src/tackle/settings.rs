//! The settings of every rod, as data and in words: what a deckhand sets from.

use serde::Serialize;

use super::draw;
use super::gear::{Rod, Side, TooDeep, turned};
use super::line::Unsolved;
use super::spread::{Bounds, Called, GivenUp, Spread, sideways, spread};
use crate::advice::quantity::Value;
use crate::engine::{Outcome, Verdict};
use crate::program::{GivenTarget, Program};
use crate::session::Session;
use crate::vocabulary::aspect::AspectId;
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::print::{System, number, unrounded, with_unit};
use crate::vocabulary::quantity::{from_si, to_si};
use crate::vocabulary::time::Instant;
use crate::water::heat;

/// The settings of a boat's rods.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Settings {
    /// The band of depths that is covered.
    pub depth: Value,
    /// The speed that line out is worked out at: the middle of the called ones.
    pub speed: Value,
    /// The lure's length that it is worked out with: the middle of the called ones; none where none is called.
    pub size: Option<Value>,
    /// Each rod that fishes, shallow first.
    pub rods: Vec<RodSetting>,
    /// What was given up, and why.
    pub given_up: Vec<String>,
    /// What the inside and the outside lines do in a turn.
    pub turns: Vec<TurnSetting>,
    /// Rods whose drag was fitted to measured depths.
    pub fits: Vec<FitSetting>,
    /// What these figures rest on.
    pub assumptions: Vec<String>,
}

/// One rod.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RodSetting {
    /// Its name.
    pub rod: String,
    /// The kind of its line.
    pub line: String,
    /// The lure that it shows; none where the call names none.
    pub lure: Option<String>,
    /// Line out on the counter.
    pub out: Value,
    /// The same in turns of the drum, where its diameter is known.
    pub drum_turns: Option<f64>,
    /// How deep its lure runs.
    pub depth: Value,
    /// How far behind the boat.
    pub behind: Value,
    /// How much it rises for each tenth of a speed unit more.
    pub rise: Value,
}

/// A line in a turn.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TurnSetting {
    /// The rod.
    pub rod: String,
    /// The radius of the boat's circle.
    pub radius: Value,
    /// The lure's speed inside of the turn; none where it stalls and sinks.
    pub inside: Option<Value>,
    /// Its depth there.
    pub inside_depth: Option<Value>,
    /// The lure's speed outside of it.
    pub outside: Option<Value>,
    /// Its depth there.
    pub outside_depth: Option<Value>,
}

/// A drag that was fitted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FitSetting {
    /// The rod.
    pub rod: String,
    /// The drag across its line that fits.
    pub drag_across: f64,
    /// Each point measured.
    pub points: Vec<FitPoint>,
}

/// A measured depth beside the ones worked out.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FitPoint {
    /// Line out.
    pub out: Value,
    /// The speed.
    pub speed: Value,
    /// The depth measured.
    pub measured: Value,
    /// The depth worked out without the fit.
    pub without: Value,
    /// The depth worked out with it.
    pub with: Value,
}

/// Why there are no settings.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NoSettings {
    /// The call has no depth or no speed.
    #[error("there is no {0} to set rods to")]
    NotCalled(&'static str),
    /// The boat has no rods.
    #[error("this boat has no rods")]
    NoRods,
    /// A shape can't be worked out.
    #[error(transparent)]
    Unsolved(#[from] Unsolved),
}

/// What an outcome calls, for rods: the band, and the middles of speed and size.
///
/// # Errors
/// Depth or speed has no value.
fn called(program: &Program, outcome: &Outcome) -> Result<Called, NoSettings> {
    let range = |aspect: AspectId| match outcome.verdict(aspect) {
        Verdict::Range(from, to) => Some((to_si(*from), to_si(*to))),
        _ => None,
    };
    let middle = |(from, to): (f64, f64)| (from + to) / 2.0;
    let lures = match outcome.verdict(AspectId::LURE) {
        Verdict::Words(words) => {
            let known = program.aspects.get(AspectId::LURE.index()).map_or(&[][..], |aspect| aspect.words());
            words.iter().filter_map(|word| known.get(*word).cloned()).collect()
        }
        _ => Vec::new(),
    };
    Ok(Called {
        depth: range(AspectId::DEPTH).ok_or(NoSettings::NotCalled("depth"))?,
        speed: range(AspectId::SPEED).map(middle).ok_or(NoSettings::NotCalled("speed"))?,
        size: range(AspectId::SIZE).map(middle),
        lures,
    })
}

/// A boat's rods, and what bounds their spread.
#[derive(Clone, Debug, PartialEq)]
pub struct Rods {
    /// The rods.
    pub rods: Vec<Rod>,
    /// How many lines the water allows; none where nobody has said.
    pub lines: Option<usize>,
    /// The least distance between two lures, m.
    pub apart: f64,
}

impl Rods {
    /// The settings for what a session calls at an instant.
    ///
    /// # Errors
    /// Depth or speed has no value, there are no rods, or a shape can't be worked out.
    pub fn settings(&self, session: &Session, at: Instant) -> Result<(Settings, Spread), NoSettings> {
        let program = session.program();
        self.settings_for(&called(program, &session.outcome(at))?, session, at)
    }

    /// The settings for a call, in the water of a session at an instant.
    ///
    /// # Errors
    /// As [`Rods::settings`].
    pub fn settings_for(
        &self,
        called: &Called,
        session: &Session,
        at: Instant,
    ) -> Result<(Settings, Spread), NoSettings> {
        let surface = session.moment(at).report_of(GivenTarget::Known(Known::Surface)).value;
        let bounds = Bounds { lines: self.lines, apart: self.apart, density: density(surface) };
        settings(&self.rods, called, &bounds, session.program().system)
    }
}

/// The density of the water by its surface temperature in counts; without one that of 15 °C.
fn density(surface: Option<i64>) -> f64 {
    heat::density(surface.map_or(15.0, |surface| (to_si(surface) - 273.15).clamp(0.0, 40.0)))
}

/// How lengths and speeds are shown.
#[derive(Clone, Copy, Debug)]
struct Shown {
    system: System,
}

impl Shown {
    fn value(self, si: f64, kind: Kind, small: bool) -> Value {
        let unit = self.system.unit(kind, small);
        let counts = from_si(si).unwrap_or(0);
        unit.map_or(Value::Number(si), |unit| Value::Quantity(unrounded(counts, unit, kind), unit.symbol))
    }

    fn range(self, (from, to): (f64, f64), kind: Kind) -> Value {
        match (self.value(from, kind, false), self.value(to, kind, false)) {
            (Value::Quantity(from, unit), Value::Quantity(to, _)) => Value::Range(from, to, unit),
            (from, _) => from,
        }
    }

    fn print(self, si: f64, kind: Kind) -> String {
        let counts = from_si(si).unwrap_or(0);
        match self.system.unit(kind, false) {
            Some(unit) => with_unit(&number(counts, unit, kind, unit.places), unit.symbol),
            None => si.to_string(),
        }
    }

    /// A tenth of the unit that speeds are printed in, m/s.
    fn tenth(self) -> f64 {
        match self.system {
            System::Us => 0.044_704,
            System::Metric => 0.1 / 3.6,
            System::Nautical => 0.051_444_4,
        }
    }
}

/// The radius of the circle that turns are shown for, m: a wide turn with lines out.
const TURN: f64 = 60.0;

/// The settings of a boat's rods for a call.
///
/// # Errors
/// There are no rods, or a shape can't be worked out.
pub fn settings(
    rods: &[Rod],
    called: &Called,
    bounds: &Bounds,
    system: System,
) -> Result<(Settings, Spread), NoSettings> {
    if rods.is_empty() {
        return Err(NoSettings::NoRods);
    }
    let shown = Shown { system };
    let spread = spread(rods, called, bounds)?;
    let set_rods = spread.sets.iter().filter_map(|set| Some((rods.get(set.rod)?, set)));
    let settings = Settings {
        depth: shown.range(called.depth, Kind::Length),
        speed: shown.value(called.speed, Kind::Speed, false),
        size: called.size.map(|size| shown.value(size, Kind::Length, true)),
        rods: set_rods
            .clone()
            .map(|(rod, set)| RodSetting {
                rod: rod.name.clone(),
                line: rod.line.clone(),
                lure: set.lure.clone(),
                out: shown.value(set.run.out, Kind::Length, false),
                drum_turns: rod.drum.map(|drum| set.run.out / (std::f64::consts::PI * drum)),
                depth: shown.value(set.run.depth, Kind::Length, false),
                behind: shown.value(set.run.behind, Kind::Length, false),
                rise: shown.value(set.run.rise * shown.tenth(), Kind::Length, false),
            })
            .collect(),
        given_up: spread.given_up.iter().map(|given| words(rods, given, called, shown)).collect(),
        turns: set_rods
            .filter(|(rod, _)| rod.side != Side::Centre)
            .map(|(rod, set)| turn(rod, set.run.out, set.run.behind, called, bounds, shown))
            .collect::<Result<_, Unsolved>>()?,
        fits: rods.iter().filter_map(|rod| fit(rod, shown)).collect(),
        assumptions: assumptions(called, shown),
    };
    Ok((settings, spread))
}

fn turn(
    rod: &Rod,
    out: f64,
    behind: f64,
    called: &Called,
    bounds: &Bounds,
    shown: Shown,
) -> Result<TurnSetting, Unsolved> {
    let side = |sideways: f64| -> Result<(Option<Value>, Option<Value>), Unsolved> {
        let Some(times) = turned(TURN, sideways, behind).speed else { return Ok((None, None)) };
        let speed = called.speed * times;
        let depth = rod.forward(out, speed, called.size, bounds.density)?.depth;
        Ok((Some(shown.value(speed, Kind::Speed, false)), Some(shown.value(depth, Kind::Length, false))))
    };
    let across = sideways(rod).abs();
    let ((inside, inside_depth), (outside, outside_depth)) = (side(-across)?, side(across)?);
    let radius = shown.value(TURN, Kind::Length, false);
    Ok(TurnSetting { rod: rod.name.clone(), radius, inside, inside_depth, outside, outside_depth })
}

fn fit(rod: &Rod, shown: Shown) -> Option<FitSetting> {
    let fit = rod.fit.as_ref()?;
    let length = |si: f64| shown.value(si, Kind::Length, false);
    let points = fit.points.iter().map(|[out, speed, measured, without, with]| FitPoint {
        out: length(*out),
        speed: shown.value(*speed, Kind::Speed, false),
        measured: length(*measured),
        without: length(*without),
        with: length(*with),
    });
    Some(FitSetting { rod: rod.name.clone(), drag_across: fit.across, points: points.collect() })
}

fn assumptions(called: &Called, shown: Shown) -> Vec<String> {
    vec![
        format!(
            "line out is for {}, the middle of the called speeds, through still water",
            shown.print(called.speed, Kind::Speed)
        ),
        "a lure's own dive is not counted; its drag goes by its length".to_owned(),
        "measure once with what is on board, and write it under `measured`".to_owned(),
    ]
}

fn words(rods: &[Rod], given: &GivenUp, called: &Called, shown: Shown) -> String {
    let length = |si: f64| shown.print(si, Kind::Length);
    match given {
        GivenUp::TooManyRods(count) => format!("{count} of the rods: the water allows no more lines"),
        GivenUp::TooClose(count) => format!("{count} of the lines: lures would come closer than the boat file allows"),
        GivenUp::NoLure(rod) => {
            let name = rods.get(*rod).map_or("", |rod| &rod.name);
            format!("{name}: it can carry none of {}", called.lures.join(", "))
        }
        GivenUp::Depth(depth, too_deep) => {
            let reach = too_deep.map(|too_deep| not_reached(too_deep, shown));
            format!("{}: {}", length(*depth), reach.unwrap_or_else(|| "no rod reaches it".to_owned()))
        }
    }
}

fn not_reached(too_deep: TooDeep, shown: Shown) -> String {
    let TooDeep { most, slower, heavier } = too_deep;
    let mut words = format!("not reachable at this speed; at most {}", shown.print(most, Kind::Length));
    if let Some(slower) = slower {
        words.push_str(&format!("; at {} it would be", shown.print(slower, Kind::Speed)));
    }
    if let Some(heavier) = heavier {
        words.push_str(&format!("; or with {heavier:.1} times the weight"));
    }
    words
}

/// A quantity to the whole unit.
fn whole(value: &Value) -> String {
    match value {
        Value::Quantity(number, unit) => format!("{} {unit}", libm::round(*number)),
        _ => String::new(),
    }
}

/// A quantity to a tenth.
fn tenths(value: &Value) -> String {
    match value {
        Value::Quantity(number, unit) => format!("{number:.1} {unit}"),
        _ => String::new(),
    }
}

impl Settings {
    /// The settings in words: a table to set from, what was given up, turns, fits, and the drawing.
    pub fn text(&self, rods: &[Rod], spread: &Spread, system: System) -> String {
        let mut text = self.table(system);
        for given in &self.given_up {
            text.push_str(&format!("Given up: {given}\n"));
        }
        for turn in &self.turns {
            let side = |speed: &Option<Value>, depth: &Option<Value>| match (speed, depth) {
                (Some(speed), Some(depth)) => format!("{} at {}", whole(depth), tenths(speed)),
                _ => "stalls and sinks".to_owned(),
            };
            text.push_str(&format!(
                "In a turn of {}, {}: inside {}, outside {}\n",
                whole(&turn.radius),
                turn.rod,
                side(&turn.inside, &turn.inside_depth),
                side(&turn.outside, &turn.outside_depth)
            ));
        }
        for fit in &self.fits {
            text.push_str(&format!("{}: drag {:.2} by what was measured\n", fit.rod, fit.drag_across));
            for point in &fit.points {
                text.push_str(&format!(
                    "  {} out at {}: measured {}, worked out {} without it, {} with it\n",
                    whole(&point.out),
                    tenths(&point.speed),
                    tenths(&point.measured),
                    tenths(&point.without),
                    tenths(&point.with)
                ));
            }
        }
        if !self.rods.is_empty() {
            text.push('\n');
            text.push_str(&self.drawing(rods, spread, system));
        }
        text.push('\n');
        for assumption in &self.assumptions {
            text.push_str(&format!("  {assumption}\n"));
        }
        text
    }

    /// The table alone, to set from.
    pub fn table(&self, system: System) -> String {
        let mut text = String::new();
        if self.rods.is_empty() {
            return "No rod can be set to this.\n".to_owned();
        }
        let widest = self.rods.iter().map(|rod| rod.rod.chars().count()).max().unwrap_or(0).max(3);
        let line = |rod: &str, on: &str, out: &str, depth: &str, behind: &str| {
            format!("  {rod:<widest$}  {on:<20} {out:>8} {depth:>8} {behind:>8}\n")
        };
        text.push_str(&line("rod", "what is on it", "out", "depth", "behind"));
        for row in self.rows() {
            let [rod, on, out, depth, behind] = &row;
            text.push_str(&line(rod, on, out, depth, behind));
        }
        let turns: Vec<String> =
            self.rods.iter().filter_map(|rod| Some(format!("{} {:.1}", rod.rod, rod.drum_turns?))).collect();
        if !turns.is_empty() {
            text.push_str(&format!("\nOut in turns of the drum: {}\n", turns.join(", ")));
        }
        let rises: Vec<String> = self.rods.iter().map(|rod| format!("{} {}", rod.rod, tenths(&rod.rise))).collect();
        let speed = system.unit(Kind::Speed, false).map_or("", |unit| unit.symbol);
        text.push_str(&format!("\nA tenth of a {speed} faster lifts: {}\n", rises.join(", ")));
        text
    }

    /// The rows of the table: of each rod its name, what is on it, line out, depth, and how far behind the boat.
    pub fn rows(&self) -> Vec<[String; 5]> {
        let row = |rod: &RodSetting| {
            let on = match &rod.lure {
                Some(lure) => format!("{}, {lure}", rod.line),
                None => rod.line.clone(),
            };
            [rod.rod.clone(), on, whole(&rod.out), whole(&rod.depth), whole(&rod.behind)]
        };
        self.rods.iter().map(row).collect()
    }

    /// The drawing as text.
    pub fn drawing(&self, rods: &[Rod], spread: &Spread, system: System) -> String {
        let shown = Shown { system };
        draw::text(rods, &spread.sets, &|si| shown.print(si, Kind::Length))
    }

    /// The drawing as SVG.
    pub fn svg(&self, rods: &[Rod], spread: &Spread, system: System) -> String {
        let shown = Shown { system };
        draw::svg(rods, &spread.sets, &|si| shown.print(si, Kind::Length))
    }
}
