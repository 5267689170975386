//! What the fish said: what rods really ran against what both strategies called, with the strikes and the fish of each.

use std::collections::{BTreeMap, VecDeque};

use super::differ::{Called, Stand};
use super::{Side, Sides};
use crate::day::log::{Entry, Log, Run, What};
use crate::day::replay::Call;
use crate::day::standing::Standing;
use crate::program::Program;
use crate::vocabulary::aspect::AspectId;
use crate::vocabulary::catalogue::light_class;
use crate::vocabulary::kind::same_word;
use crate::vocabulary::quantity::{MINUTE, from_si};
use crate::vocabulary::time::Instant;
use crate::water::{Place, sun};

/// Whose call a rod ran within.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Within {
    /// Both strategies'.
    Both,
    /// A's alone.
    OnlyA,
    /// B's alone.
    OnlyB,
    /// Neither's.
    Neither,
    /// That can't be said: nobody wrote down what the rod ran, or a strategy called nothing.
    Unsaid,
}

impl Within {
    /// All of them, in the order in which they are shown.
    pub const ALL: [Within; 5] = [Within::Both, Within::OnlyA, Within::OnlyB, Within::Neither, Within::Unsaid];

    fn of(a: Option<bool>, b: Option<bool>) -> Self {
        match (a, b) {
            (Some(true), Some(true)) => Within::Both,
            (Some(true), Some(false)) => Within::OnlyA,
            (Some(false), Some(true)) => Within::OnlyB,
            (Some(false), Some(false)) => Within::Neither,
            _ => Within::Unsaid,
        }
    }

    /// Its place among all.
    pub fn index(self) -> usize {
        self as usize
    }
}

/// Effort and fish, by whose call the rods ran within.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Rod time, in counts.
    pub time: [i64; 5],
    /// Strikes.
    pub strikes: [u64; 5],
    /// Fish landed.
    pub landed: [u64; 5],
}

impl Tally {
    /// Adds another's.
    pub fn join(&mut self, other: &Tally) {
        for (slot, more) in self.time.iter_mut().zip(other.time) {
            *slot = slot.saturating_add(more);
        }
        for (slot, more) in self.strikes.iter_mut().zip(other.strikes) {
            *slot += more;
        }
        for (slot, more) in self.landed.iter_mut().zip(other.landed) {
            *slot += more;
        }
    }
}

/// The classes of light, with one more where the sun's height is not known.
pub const LIGHTS: [&str; 5] = ["dark", "twilight", "low_sun", "high_sun", "unknown"];

/// Effort and fish by light class.
pub type ByLight = [Tally; LIGHTS.len()];

/// What rods ran and caught on a day.
#[derive(Clone, Debug, Default)]
pub struct Fished {
    /// The whole tactic, then each aspect that both strategies decide.
    pub tallies: Vec<ByLight>,
    /// Strikes on a rod that nobody saw, with rods on both sides of a line between the calls.
    pub strikes_unplaced: u64,
    /// Fish of them.
    pub landed_unplaced: u64,
    /// The strikes of each whole half hour with lines in.
    pub half_hours: Vec<u64>,
}

/// The class of light at an instant, as a place in [`LIGHTS`].
pub fn light_at(place: Option<Place>, at: Instant) -> usize {
    let height = place.and_then(|place| sun::height(place, at)).and_then(from_si);
    height.and_then(|height| usize::try_from(light_class(height)).ok()).unwrap_or(LIGHTS.len() - 1)
}

/// Holds what rods ran against the calls.
pub fn fished(sides: &Sides, log: &Log, place: Option<Place>, stands: &[Stand<'_>]) -> Fished {
    let subjects = sides.subjects.len() + 1;
    let mut walk = Walk {
        sides,
        place,
        found: Fished { tallies: vec![ByLight::default(); subjects], ..Fished::default() },
        standing: Standing::default(),
        waiting: Waiting::default(),
    };
    let (mut next, mut since) = (0, log.entries.first().map(|entry| entry.at));
    for entry in &log.entries {
        if let Some(from) = since.filter(|_| entry.what.is_of_rods()) {
            walk.pass(from, entry.at, stands, &mut next);
            since = Some(entry.at);
        }
        walk.happens(entry, stands);
    }
    if let Some((from, last)) = since.zip(log.entries.last()) {
        walk.pass(from, last.at, stands, &mut next);
    }
    walk.found.half_hours = half_hours(log, stands);
    walk.found
}

/// A strike: whose calls it was within, and its light; none where nobody saw the rod.
type Struck = Option<(Vec<Within>, usize)>;

/// Strikes whose fish have not come in, by rod, each with what it counts to: a fish counts to the same.
#[derive(Debug)]
pub struct Waiting<T>(BTreeMap<Option<String>, VecDeque<T>>);

impl<T> Default for Waiting<T> {
    fn default() -> Self {
        Self(BTreeMap::new())
    }
}

impl<T> Waiting<T> {
    /// A fish strikes.
    pub fn strike(&mut self, rod: &Option<String>, counts_to: T) {
        self.0.entry(rod.clone()).or_default().push_back(counts_to);
    }

    /// A fish is landed: that of the oldest strike of its rod, else of one whose rod either did not see.
    pub fn landed(&mut self, rod: &Option<String>) -> Option<T> {
        let key = match self.0.get(rod).is_some_and(|waiting| !waiting.is_empty()) {
            true => Some(rod.clone()),
            false => {
                let mut others = self.0.iter().filter(|(_, waiting)| !waiting.is_empty());
                others.find(|(key, _)| rod.is_none() || key.is_none()).map(|(key, _)| key.clone())
            }
        };
        self.0.get_mut(&key?)?.pop_front()
    }
}

struct Walk<'s> {
    sides: &'s Sides,
    place: Option<Place>,
    found: Fished,
    standing: Standing,
    /// Strikes whose fish have not come in.
    waiting: Waiting<Struck>,
}

impl Walk<'_> {
    /// Counts the time of every rod that fishes while none is changed; `next` is the first stand that may matter.
    fn pass(&mut self, from: Instant, to: Instant, stands: &[Stand<'_>], next: &mut usize) {
        if from == to {
            return;
        }
        while stands.get(*next).is_some_and(|stand| stand.to <= from) {
            *next += 1;
        }
        for stand in stands.iter().skip(*next).take_while(|stand| stand.from < to) {
            let (began, ended) = (stand.from.max(from), stand.to.min(to));
            let rods: Vec<Vec<Within>> =
                self.standing.fishing().map(|(_, run)| within(self.sides, stand.a, stand.b, run)).collect();
            // Light changes so slowly that a minute is of one class.
            let mut at = began;
            while at < ended {
                let upto = at.after(MINUTE).min(ended);
                let light = light_at(self.place, at);
                for rod in &rods {
                    for (tally, within) in self.found.tallies.iter_mut().zip(rod) {
                        let Some(slot) = tally.get_mut(light).and_then(|tally| tally.time.get_mut(within.index()))
                        else {
                            continue;
                        };
                        *slot = slot.saturating_add(upto.since(at));
                    }
                }
                at = upto;
            }
        }
    }

    fn happens(&mut self, entry: &Entry, stands: &[Stand<'_>]) {
        match &entry.what {
            What::Strike(rod) => {
                let light = light_at(self.place, entry.at);
                let placed = self.struck(rod.as_deref(), entry.at, stands).map(|within| (within, light));
                match &placed {
                    Some((within, light)) => self.count(within, *light, |tally| &mut tally.strikes),
                    None => self.found.strikes_unplaced += 1,
                }
                self.waiting.strike(rod, placed);
            }
            What::Landed(rod) => match self.waiting.landed(rod).flatten() {
                Some((within, light)) => self.count(&within, light, |tally| &mut tally.landed),
                None => self.found.landed_unplaced += 1,
            },
            _ => {}
        }
        self.standing.take(&entry.what);
    }

    /// Whose calls a strike was within: the calls that stood just before it. On a rod that nobody saw, where all that
    /// fished were within the same.
    fn struck(&self, rod: Option<&str>, at: Instant, stands: &[Stand<'_>]) -> Option<Vec<Within>> {
        let after = stands.partition_point(|stand| stand.from < at);
        let before = after.checked_sub(1).and_then(|place| stands.get(place)).filter(|stand| at <= stand.to);
        let stand = before.or_else(|| stands.get(after).filter(|stand| stand.from == at))?;
        let judged = |run: &Run| within(self.sides, stand.a, stand.b, run);
        match rod {
            Some(rod) => self.standing.running(rod).map(judged),
            None => {
                let mut all = self.standing.fishing().map(|(_, run)| judged(run));
                let first = all.next()?;
                all.all(|other| other == first).then_some(first)
            }
        }
    }

    fn count(&mut self, within: &[Within], light: usize, pick: fn(&mut Tally) -> &mut [u64; 5]) {
        for (tally, within) in self.found.tallies.iter_mut().zip(within) {
            if let Some(slot) = tally.get_mut(light).and_then(|tally| pick(tally).get_mut(within.index())) {
                *slot += 1;
            }
        }
    }
}

/// Whose calls a rod is within: the whole tactic, then each aspect that both strategies decide.
pub fn within(sides: &Sides, a: &Call, b: &Call, run: &Run) -> Vec<Within> {
    let whole = Within::of(whole(&sides.a, a, run), whole(&sides.b, b, run));
    let aspects = sides.subjects.iter().map(|subject| {
        Within::of(
            judge(&sides.a.program, a, subject.a, &subject.name, run),
            judge(&sides.b.program, b, subject.b, &subject.name, run),
        )
    });
    std::iter::once(whole).chain(aspects).collect()
}

/// Whether a rod ran the whole tactic of a call, as far as somebody wrote down what it ran.
pub fn whole(side: &Side, call: &Call, run: &Run) -> Option<bool> {
    let program = &side.program;
    let mut any = None;
    for (id, aspect) in (0..).map(AspectId).zip(&program.aspects) {
        match judge(program, call, id, &aspect.name, run) {
            Some(false) => return Some(false),
            Some(true) => any = Some(true),
            None => {}
        }
    }
    any
}

/// Whether a rod ran what a call calls for an aspect; none where it calls nothing, or nobody wrote down what the rod ran.
fn judge(program: &Program, call: &Call, id: AspectId, name: &str, run: &Run) -> Option<bool> {
    match Called::of(program, call, id) {
        Called::LinesUp => Some(false),
        Called::Nothing => None,
        Called::Range(from, to) => run.measure(name).map(|ran| (from..=to).contains(&ran)),
        Called::Words(words) => {
            let ran = run.words.get(name)?;
            Some(words.iter().any(|word| same_word(word, ran)))
        }
    }
}

/// The strikes of each whole half hour with lines in.
fn half_hours(log: &Log, stands: &[Stand<'_>]) -> Vec<u64> {
    const BLOCK: i64 = 30 * MINUTE;
    let (Some(first), Some(last)) = (stands.first(), stands.last()) else { return Vec::new() };
    let strikes: Vec<Instant> =
        log.entries.iter().filter(|entry| matches!(entry.what, What::Strike(_))).map(|entry| entry.at).collect();
    let mut counts = Vec::new();
    let mut from = first.from;
    while from.after(BLOCK) <= last.to {
        let to = from.after(BLOCK);
        let fished: i64 = stands.iter().map(|stand| stand.to.min(to).since(stand.from.max(from)).max(0)).sum();
        if fished == BLOCK {
            counts.push(strikes.iter().filter(|at| (from..to).contains(*at)).count() as u64);
        }
        from = to;
    }
    counts
}
