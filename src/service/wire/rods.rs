//! The settings of rods to the wire, and calls that a request says.

use super::super::v1;
use super::Violations;
use super::advice::value;
use super::given;
use crate::source::boat::{DEPTHS, SIZES, SPEEDS};
use crate::tackle::settings::{FitPoint, FitSetting, RodSetting, Settings, TurnSetting};
use crate::tackle::spread::Called;
use crate::vocabulary::kind::Kind;

/// Most lures of a call that is said.
const MOST_LURES: usize = 20;

/// A call that a request says.
pub fn said(path: &str, said: v1::SaidCall, wrong: &mut Violations) -> Option<Called> {
    let v1::SaidCall { depth, speed, size, lures } = said;
    if lures.len() > MOST_LURES {
        wrong.add(format!("{path}.lures"), format!("{} lures; at most {MOST_LURES} are taken", lures.len()));
        return None;
    }
    let depth = given::range(&format!("{path}.depth"), "depth", depth, Kind::Length, DEPTHS, wrong);
    let speed = given::range(&format!("{path}.speed"), "speed", speed, Kind::Speed, SPEEDS, wrong);
    let size =
        size.and_then(|size| given::range(&format!("{path}.size"), "size", Some(size), Kind::Length, SIZES, wrong));
    let middle = |(from, to): (f64, f64)| (from + to) / 2.0;
    Some(Called { depth: depth?, speed: speed.map(middle)?, size: size.map(middle), lures })
}

/// The settings of a boat's rods.
pub fn settings(settings: Settings) -> v1::RodSettings {
    let Settings { depth, speed, size, rods, given_up, turns, fits, assumptions } = settings;
    v1::RodSettings {
        depth: Some(value(depth)),
        speed: Some(value(speed)),
        size: size.map(value),
        rods: rods.into_iter().map(rod).collect(),
        given_up,
        turns: turns.into_iter().map(turn).collect(),
        fits: fits.into_iter().map(fit).collect(),
        assumptions,
    }
}

fn rod(rod: RodSetting) -> v1::RodSetting {
    let RodSetting { rod, line, lure, out, drum_turns, depth, behind, rise } = rod;
    let [out, depth, behind, rise] = [out, depth, behind, rise].map(|one| Some(value(one)));
    v1::RodSetting { rod, line, lure, out, depth, behind, rise, drum_turns }
}

fn turn(turn: TurnSetting) -> v1::TurnSetting {
    let TurnSetting { rod, radius, inside, inside_depth, outside, outside_depth } = turn;
    let [inside, inside_depth, outside, outside_depth] =
        [inside, inside_depth, outside, outside_depth].map(|one| one.map(value));
    v1::TurnSetting { rod, radius: Some(value(radius)), inside, inside_depth, outside, outside_depth }
}

fn fit(fit: FitSetting) -> v1::FitSetting {
    let FitSetting { rod, drag_across, points } = fit;
    v1::FitSetting { rod, drag_across, points: points.into_iter().map(point).collect() }
}

fn point(point: FitPoint) -> v1::FitPoint {
    let FitPoint { out, speed, measured, without, with } = point;
    let [out, speed, measured, without, with] = [out, speed, measured, without, with].map(|one| Some(value(one)));
    v1::FitPoint { out, speed, measured, without, with }
}
