//! A day's log as lines over time, for pictures: each reading, what each rod really ran, strikes and fish.

use std::collections::BTreeMap;

use super::log::{Log, Run, What};
use super::standing::Standing;
use crate::program::GivenTarget;
use crate::session::Event;
use crate::source::given::Names;
use crate::source::readings::MomentInput;
use crate::vocabulary::catalogue::{GoodFor, Known};
use crate::vocabulary::kind::Kind;
use crate::vocabulary::time::Instant;

/// A day as lines.
#[derive(Clone, Debug, Default)]
pub struct Traces {
    /// The quantities that the log has, in the order of the catalogue.
    pub readings: Vec<Trace>,
    /// The rods, by name.
    pub rods: Vec<RodTrace>,
    /// Strikes and fish, in the order of time.
    pub caught: Vec<Caught>,
}

/// A reading over time.
#[derive(Clone, Debug)]
pub struct Trace {
    /// The reading.
    pub known: Known,
    /// Its values in counts, as stretches: a gap is a time in which it was unknown or no longer good.
    pub stretches: Vec<Vec<(Instant, i64)>>,
}

/// What a rod ran.
#[derive(Clone, Debug)]
pub struct RodTrace {
    /// Its name.
    pub name: String,
    /// From when to when it fished, and what it ran.
    pub spans: Vec<(Instant, Instant, Run)>,
}

/// A strike, or a fish landed.
#[derive(Clone, Debug)]
pub struct Caught {
    /// When.
    pub at: Instant,
    /// Whether the fish was landed; else it struck.
    pub landed: bool,
    /// What its rod ran or had run; none where nobody saw which rod it was, or what was on it.
    pub run: Option<Run>,
}

impl Traces {
    /// The lines of a log.
    pub fn of(log: &Log) -> Self {
        let mut traces = Self { readings: readings(log), ..Self::default() };
        let mut standing = Standing::default();
        let mut ran: BTreeMap<&str, Run> = BTreeMap::new();
        let mut going: BTreeMap<&str, (Instant, Run)> = BTreeMap::new();
        let mut spans: BTreeMap<&str, Vec<(Instant, Instant, Run)>> = BTreeMap::new();
        for entry in &log.entries {
            standing.take(&entry.what);
            let (landed, rod) = match &entry.what {
                What::Strike(rod) => (false, rod),
                What::Landed(rod) => (true, rod),
                What::Rod(..) | What::Up(_) | What::Lines(_) => {
                    if let What::Rod(name, run) = &entry.what {
                        let before = ran.entry(name).or_default();
                        *before = before.then(run);
                    }
                    for (name, run) in &ran {
                        let now = standing.running(name).map(|_| run);
                        if going.get(name).map(|(_, run)| run) == now {
                            continue;
                        }
                        let ended = going.remove(name).map(|(from, run)| (from, entry.at, run));
                        spans.entry(name).or_default().extend(ended);
                        going.extend(now.map(|run| (*name, (entry.at, run.clone()))));
                    }
                    continue;
                }
                What::Note(_) | What::Readings { .. } => continue,
            };
            let run = rod.as_ref().and_then(|rod| ran.get(rod.as_str()).cloned());
            traces.caught.push(Caught { at: entry.at, landed, run });
        }
        if let Some(last) = log.entries.last() {
            for (name, (from, run)) in going {
                spans.entry(name).or_default().push((from, last.at, run));
            }
        }
        traces.rods = spans.into_iter().map(|(name, spans)| RodTrace { name: name.to_owned(), spans }).collect();
        traces
    }
}

/// The quantities of the catalogue that a log has.
fn readings(log: &Log) -> Vec<Trace> {
    let mut names = Names::catalogue();
    let mut traces: BTreeMap<Known, Trace> = BTreeMap::new();
    for entry in &log.entries {
        let What::Readings { given, measured } = &entry.what else { continue };
        for moment in measured.iter().chain(given) {
            for item in &moment.given {
                let one = MomentInput {
                    at: moment.at,
                    zone: moment.zone.clone(),
                    spot: moment.spot,
                    given: vec![item.clone()],
                };
                // A strategy's own reading may bear a name of the catalogue and be something else: it has no line.
                let events = names.moment_of_log(&log.file, &one, false, &mut BTreeMap::new());
                for event in events.unwrap_or_default() {
                    if let Event::Give(GivenTarget::Known(known), value) = event
                        && is_drawn(known)
                    {
                        traces
                            .entry(known)
                            .or_insert_with(|| Trace { known, stretches: Vec::new() })
                            .add(entry.at, value);
                    }
                }
            }
        }
    }
    traces.into_values().filter(|trace| !trace.stretches.is_empty()).collect()
}

/// Whether a reading makes a line: quantities do; directions, which go round, don't.
fn is_drawn(known: Known) -> bool {
    let entry = known.entry();
    let quantity = matches!(
        entry.kind,
        Kind::Temperature | Kind::Length | Kind::Speed | Kind::Share | Kind::Pressure | Kind::Oxygen
    );
    entry.takes.is_none() && quantity
}

impl Trace {
    fn add(&mut self, at: Instant, value: Option<i64>) {
        let Some(value) = value else {
            // What comes after begins anew.
            if self.stretches.last().is_some_and(|stretch| !stretch.is_empty()) {
                self.stretches.push(Vec::new());
            }
            return;
        };
        let last = self.stretches.last().and_then(|stretch| stretch.last()).map(|(at, _)| *at);
        let still_good = match (last, self.known.entry().good_for) {
            (Some(last), GoodFor::Span(span)) => at.since(last) <= span,
            _ => true,
        };
        match self.stretches.last_mut().filter(|_| still_good) {
            Some(stretch) if last == Some(at) => {
                if let Some(slot) = stretch.last_mut() {
                    *slot = (at, value);
                }
            }
            Some(stretch) => stretch.push((at, value)),
            None => self.stretches.push(vec![(at, value)]),
        }
    }
}
