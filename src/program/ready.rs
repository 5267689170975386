//! What is asked of a program again and again, worked out once from its parts.

use foldhash::{HashMap, HashMapExt};

use super::{GivenTarget, InputSource, Program};
use crate::vocabulary::aspect::AspectId;
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::{Kind, lower_case};

/// What a plain name stands for when a value is given under it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PlainTarget {
    /// What is given.
    pub target: GivenTarget,
    /// The kind of its values.
    pub kind: Kind,
    /// The range that they lie in, in counts.
    pub plausible: Option<(i64, i64)>,
}

/// What a program is asked for again and again.
#[derive(Clone, Debug)]
pub struct Ready {
    /// The aspects that any rule or rung decides, in order.
    pub decided: Vec<AspectId>,
    /// The readings whose changes are asked for, each with the longest window.
    pub changes: Vec<(GivenTarget, i64)>,
    /// The longest window of any change.
    pub longest_change: i64,
    /// The longest window that strikes are counted over.
    pub longest_strikes: i64,
    plain: HashMap<String, PlainTarget>,
}

impl Ready {
    pub(super) fn of(program: &Program) -> Self {
        let windows = |pick: fn(InputSource) -> Option<i64>| {
            program.inputs.iter().filter_map(|input| pick(input.source)).max().unwrap_or(0)
        };
        Self {
            decided: decided(program),
            changes: changes(program),
            longest_change: windows(|source| match source {
                InputSource::Change(_, window) => Some(window),
                _ => None,
            }),
            longest_strikes: windows(|source| match source {
                InputSource::Strikes(window) => Some(window),
                _ => None,
            }),
            plain: plain(program),
        }
    }

    /// The reading of the strategy or of the catalogue that a plain name stands for, in any case; none for a name that
    /// the strategy declares as something else, and for what is not given as one value: a cast, a strike, a place.
    pub fn plain(&self, name: &str) -> Option<PlainTarget> {
        self.plain.get(&*lower_case(name)).copied()
    }
}

fn decided(program: &Program) -> Vec<AspectId> {
    let ids = (0..program.aspects.len()).filter_map(|at| Some(AspectId(u32::try_from(at).ok()?)));
    ids.filter(|id| program.runs().any(|run| run.decision(*id).is_some())).collect()
}

fn changes(program: &Program) -> Vec<(GivenTarget, i64)> {
    let mut changes: Vec<(GivenTarget, i64)> = Vec::new();
    for input in &program.inputs {
        let InputSource::Change(of, window) = input.source else { continue };
        let target = match program.inputs.get(of.index()).map(|input| input.source) {
            Some(InputSource::Known(known)) => GivenTarget::Known(known),
            Some(InputSource::Own(at)) => GivenTarget::Own(at),
            _ => continue,
        };
        match changes.iter_mut().find(|(other, _)| *other == target) {
            Some((_, longest)) => *longest = window.max(*longest),
            None => changes.push((target, window)),
        }
    }
    changes
}

/// The plain names, in lower case.
fn plain(program: &Program) -> HashMap<String, PlainTarget> {
    let mut plain = HashMap::new();
    for known in Known::ALL.into_iter().filter(|known| *known != Known::Position) {
        let entry = known.entry();
        if entry.takes.is_none() {
            let target = GivenTarget::Known(known);
            let target = PlainTarget { target, kind: entry.kind, plausible: entry.plausible };
            plain.insert(known.name().to_lowercase(), target);
        }
    }
    let declared = (program.lets.iter().map(|one| &one.name))
        .chain(program.ladders.iter().map(|one| &one.name))
        .chain(program.aspects.iter().map(|one| &one.name));
    for other in declared {
        plain.remove(&other.to_lowercase());
    }
    for other in ["cast", "strike"] {
        plain.remove(other);
    }
    for (at, own) in program.own.iter().enumerate() {
        let target = PlainTarget { target: GivenTarget::Own(at), kind: own.kind, plausible: own.plausible };
        plain.insert(own.name.to_lowercase(), target);
    }
    plain
}
