//! The spread: which rod runs how deep, so that the called band is covered evenly and no two lines come too close.

use pathfinding::kuhn_munkres::kuhn_munkres_min;
use pathfinding::matrix::Matrix;

use super::gear::{Rod, Run, Side, TooDeep, Way};
use super::line::Unsolved;

/// What is called: the band of depths, m; the middle of the speeds, m/s; the middle of the sizes, m; the lures that may be
/// shown.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Called {
    /// From the shallow end to the deep one.
    pub depth: (f64, f64),
    /// The speed.
    pub speed: f64,
    /// The lure's length.
    pub size: Option<f64>,
    /// Alternatives.
    pub lures: Vec<String>,
}

/// The bounds of a spread.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// How many lines the water allows; none where nobody has said.
    pub lines: Option<usize>,
    /// The least distance between two lures, m.
    pub apart: f64,
    /// The density of the water, kg/m³.
    pub density: f64,
}

/// One rod as it is to be set.
#[derive(Clone, Debug, PartialEq)]
pub struct Set {
    /// The rod's number among those of the boat.
    pub rod: usize,
    /// The lure it shows; none where the call names none.
    pub lure: Option<String>,
    /// Where its lure runs.
    pub run: Run,
}

/// A spread, and what was given up for it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Spread {
    /// The rods, shallow first.
    pub sets: Vec<Set>,
    /// What was given up, in words for whom depths print as `print` says.
    pub given_up: Vec<GivenUp>,
}

/// Something that a spread gives up.
#[derive(Clone, Debug, PartialEq)]
pub enum GivenUp {
    /// More rods than lines the water allows: how many are left out.
    TooManyRods(usize),
    /// A depth that no rod left reaches, m, and the nearest that one comes to it.
    Depth(f64, Option<TooDeep>),
    /// Lines left out so that no two come too close.
    TooClose(usize),
    /// A rod that can't carry any of the lures, by its number.
    NoLure(usize),
}

/// Costs are whole numbers: a rank is worth this much, a depth out of reach more than all ranks together.
const RANK: i64 = 10;
const OUT_OF_REACH: i64 = 1_000_000;

/// Deals depths and lures out over the rods of a boat.
///
/// # Errors
/// A shape can't be worked out; see [`Unsolved`].
pub fn spread(rods: &[Rod], called: &Called, bounds: &Bounds) -> Result<Spread, Unsolved> {
    let mut spread = Spread::default();
    let able: Vec<usize> =
        (0..rods.len()).filter(|rod| rods.get(*rod).is_some_and(|rod| carries(rod, called))).collect();
    spread.given_up.extend((0..rods.len()).filter(|rod| !able.contains(rod)).map(GivenUp::NoLure));
    let most = bounds.lines.map_or(able.len(), |lines| lines.min(able.len()));
    if most < able.len() {
        spread.given_up.push(GivenUp::TooManyRods(able.len() - most));
    }
    // The nearer a rod's line is to the boat's middle the deeper it may run; weights before other lines.
    let mut nearest = able;
    nearest.sort_by(|a, b| key(rods, *a).partial_cmp(&key(rods, *b)).unwrap_or(std::cmp::Ordering::Equal));
    let nearest: Vec<(usize, &Rod)> = nearest.iter().filter_map(|at| Some((*at, rods.get(*at)?))).collect();
    let deepest = nearest.iter().map(|(_, rod)| rod.deepest(called.speed, called.size, bounds.density));
    let deepest = deepest.collect::<Result<Vec<f64>, Unsolved>>()?;
    // Fewer lines, until none come too close.
    for lines in (1..=most).rev() {
        let (sets, missed) = assigned(&nearest, &deepest, lines, called, bounds)?;
        if lines > 1 && too_close(rods, &sets, bounds.apart) {
            continue;
        }
        if lines < most {
            spread.given_up.push(GivenUp::TooClose(most - lines));
        }
        for (depth, rod) in missed {
            let reached = rod.inverse(depth, called.speed, called.size, bounds.density)?;
            spread.given_up.push(GivenUp::Depth(depth, reached.err()));
        }
        spread.sets = sets;
        break;
    }
    deal_lures(rods, &mut spread.sets, called);
    Ok(spread)
}

fn carries(rod: &Rod, called: &Called) -> bool {
    called.lures.is_empty() || rod.lures.is_empty() || called.lures.iter().any(|lure| rod.lures.contains(lure))
}

/// The middles of so many equal parts of the band.
fn slots(band: (f64, f64), count: usize) -> Vec<f64> {
    let part = (band.1 - band.0) / count as f64;
    (0..count).map(|at| band.0 + part * (at as f64 + 0.5)).collect()
}

/// Rods that are set, and depths that none is left for, each with the rod that came nearest.
type Assigned<'r> = (Vec<Set>, Vec<(f64, &'r Rod)>);

/// So many lines over the rods that can fish, the nearest first, each with the most it reaches: depths first, then rods to
/// depths.
fn assigned<'r>(
    nearest: &[(usize, &'r Rod)],
    deepest: &[f64],
    lines: usize,
    called: &Called,
    bounds: &Bounds,
) -> Result<Assigned<'r>, Unsolved> {
    let slots = slots(called.depth, lines);
    let columns = nearest.len();
    let costs = slots.iter().enumerate().flat_map(|(slot, depth)| {
        deepest.iter().enumerate().map(move |(rank, deepest)| {
            // The deepest slot goes to the nearest rod.
            let wanted = (lines - 1 - slot) * (columns - 1) / (lines - 1).max(1);
            let off = i64::try_from(rank.abs_diff(wanted)).unwrap_or(0) * RANK;
            if depth <= deepest { off } else { OUT_OF_REACH + off }
        })
    });
    let Ok(matrix) = Matrix::from_vec(lines, columns, costs.collect()) else { return Ok((Vec::new(), Vec::new())) };
    let (_, to) = kuhn_munkres_min(&matrix);
    let (mut sets, mut missed) = (Vec::new(), Vec::new());
    for (depth, rank) in slots.iter().zip(to) {
        let Some(((at, rod), deepest)) = nearest.get(rank).zip(deepest.get(rank)) else { continue };
        // Only what is set is worked out whole.
        let reached = match depth <= deepest {
            true => rod.inverse(*depth, called.speed, called.size, bounds.density)?.ok(),
            false => None,
        };
        match reached {
            Some(run) => sets.push(Set { rod: *at, lure: None, run }),
            None => missed.push((*depth, *rod)),
        }
    }
    Ok((sets, missed))
}

fn key(rods: &[Rod], rod: usize) -> (u8, f64, usize) {
    let found = rods.get(rod);
    let weight = found.is_some_and(|rod| matches!(rod.way, Way::Weight { .. }));
    (u8::from(!weight), found.map_or(0.0, |rod| rod.out.abs()), rod)
}

/// How far to the right of the boat's middle a rod's line goes in, m.
pub fn sideways(rod: &Rod) -> f64 {
    match rod.side {
        Side::Port => -rod.out,
        Side::Centre => 0.0,
        Side::Starboard => rod.out,
    }
}

fn too_close(rods: &[Rod], sets: &[Set], apart: f64) -> bool {
    let place = |set: &Set| rods.get(set.rod).map(|rod| [sideways(rod), set.run.depth, set.run.behind]);
    let pairs = sets.iter().enumerate().flat_map(|(at, a)| sets.iter().skip(at + 1).map(move |b| (a, b)));
    pairs.into_iter().any(|(a, b)| match (place(a), place(b)) {
        (Some(a), Some(b)) => {
            let square: f64 = a.iter().zip(b).map(|(a, b)| (a - b) * (a - b)).sum();
            square < apart * apart
        }
        _ => false,
    })
}

/// Deals the alternatives out as evenly as what the rods can carry allows: the rods that can carry fewest choose first.
fn deal_lures(rods: &[Rod], sets: &mut [Set], called: &Called) {
    let mut dealt = vec![0usize; called.lures.len()];
    let choices = |set: &Set| -> Vec<usize> {
        let rod = rods.get(set.rod);
        let fits = |lure: &String| rod.is_some_and(|rod| rod.lures.is_empty() || rod.lures.contains(lure));
        called.lures.iter().enumerate().filter(|(_, lure)| fits(lure)).map(|(at, _)| at).collect()
    };
    let mut order: Vec<usize> = (0..sets.len()).collect();
    order.sort_by_key(|at| sets.get(*at).map_or(0, |set| choices(set).len()));
    for at in order {
        let Some(set) = sets.get_mut(at) else { continue };
        let best = choices(set).into_iter().min_by_key(|lure| (dealt.get(*lure).copied().unwrap_or(0), *lure));
        if let Some(lure) = best {
            if let Some(count) = dealt.get_mut(lure) {
                *count += 1;
            }
            set.lure = called.lures.get(lure).cloned();
        }
    }
}
