//! How a day stands, event by event: lines in or out, which rods are in and what they run; from there what can't have
//! been, and for how long each rod fished with what.

use std::collections::{BTreeMap, BTreeSet};

use super::log::{Entry, Log, Run, What};
use crate::source::Fault;
use crate::source::yaml::Node;
use crate::vocabulary::nearest::nearest;
use crate::vocabulary::time::Instant;

/// How a day stands: whether lines are in, which rods are, what they run, which strikes still wait for their fish.
#[derive(Clone, Debug, Default)]
pub struct Standing {
    lines_in: bool,
    /// Whether each rod is in, and what it runs or ran.
    rods: BTreeMap<String, (bool, Run)>,
    /// Strikes whose fish have not come in, by rod; those of rods that nobody saw under none.
    struck: BTreeMap<Option<String>, u32>,
}

impl Standing {
    /// Takes in what happened.
    pub fn take(&mut self, what: &What) {
        match what {
            What::Lines(lines_in) => self.lines_in = *lines_in,
            What::Strike(rod) => *self.struck.entry(rod.clone()).or_default() += 1,
            What::Landed(rod) => {
                if let Some(left) = self.strike_of(rod.as_deref()).and_then(|key| self.struck.get_mut(&key)) {
                    *left -= 1;
                }
            }
            What::Rod(name, run) => {
                let (is_in, before) = self.rods.entry(name.clone()).or_default();
                *is_in = true;
                *before = before.then(run);
            }
            What::Up(name) => {
                if let Some((is_in, _)) = self.rods.get_mut(name) {
                    *is_in = false;
                }
            }
            What::Note(_) | What::Readings { .. } => {}
        }
    }

    /// Whether lines are in.
    pub fn lines_in(&self) -> bool {
        self.lines_in
    }

    /// Whether a rod is in, as far as anybody has said; it fishes while lines are in too.
    pub fn is_in(&self, name: &str) -> bool {
        self.rods.get(name).is_some_and(|(is_in, _)| *is_in)
    }

    /// What a rod runs, while it fishes.
    pub fn running(&self, name: &str) -> Option<&Run> {
        self.rods.get(name).filter(|(is_in, _)| *is_in && self.lines_in).map(|(_, run)| run)
    }

    /// The rods that fish, with what they run.
    pub fn fishing(&self) -> impl Iterator<Item = (&str, &Run)> {
        let fishing = self.rods.iter().filter(|(_, (is_in, _))| *is_in && self.lines_in);
        fishing.map(|(name, (_, run))| (name.as_str(), run))
    }

    /// Whether a fish that is landed has struck: on that rod, or where either rod was not seen on any.
    pub fn has_struck(&self, rod: Option<&str>) -> bool {
        self.strike_of(rod).is_some()
    }

    /// The strike that a landed fish is counted to.
    fn strike_of(&self, rod: Option<&str>) -> Option<Option<String>> {
        let mut waiting = self.struck.iter().filter(|(_, left)| **left > 0).map(|(key, _)| key);
        let own = waiting.clone().find(|key| key.as_deref() == rod);
        own.or_else(|| waiting.find(|key| rod.is_none() || key.is_none())).cloned()
    }

    /// The rods that were said to be in at some time.
    fn rods(&self) -> impl Iterator<Item = &str> {
        self.rods.keys().map(String::as_str)
    }
}

/// A check of events in their order: how the day stands, and what of that is in doubt, so that one fault is told once
/// and what follows from it is not.
#[derive(Default)]
pub(super) struct Check {
    standing: Standing,
    /// The line in which lines last went in or came out.
    lines_said: u32,
    /// Whether lines are in may be otherwise.
    lines_in_doubt: bool,
    /// Rods that may be in or out.
    rods_in_doubt: BTreeSet<String>,
    /// So may all rods that nothing was said of since.
    all_in_doubt: bool,
}

impl Check {
    /// Takes in an event; why it can't have been, where it can't.
    pub fn take(&mut self, entry: &Entry) -> Option<Fault> {
        let fault = self.impossible(&entry.what);
        match &entry.what {
            What::Lines(_) => (self.lines_in_doubt, self.lines_said) = (false, entry.spot.line),
            What::Rod(rod, _) => _ = self.rods_in_doubt.remove(rod),
            // What was said twice, or not at all, is in doubt from here.
            What::Strike(_) if fault.is_some() && !self.standing.lines_in => self.lines_in_doubt = true,
            What::Strike(Some(rod)) | What::Up(rod) if fault.is_some() => _ = self.rods_in_doubt.insert(rod.clone()),
            What::Up(rod) => _ = self.rods_in_doubt.remove(rod),
            _ => {}
        }
        self.standing.take(&entry.what);
        fault
    }

    /// Takes in that something happened which can't be read: what it may have been about is in doubt.
    pub fn pass_over(&mut self, item: &Node) {
        let keys = match item {
            Node::Map(entries, _) => entries.as_slice(),
            _ => &[],
        };
        let mut known = false;
        for (key, value) in keys {
            match (key.text.as_str(), value) {
                ("lines", _) => self.lines_in_doubt = true,
                ("rod", Node::Text(rod)) => _ = self.rods_in_doubt.insert(rod.text.trim().to_owned()),
                ("strike", _) => self.standing.take(&What::Strike(None)),
                ("landed" | "note" | "readings" | "measured", _) => {}
                _ => continue,
            }
            known = true;
        }
        if !known {
            (self.lines_in_doubt, self.all_in_doubt) = (true, true);
            self.standing.take(&What::Strike(None));
        }
    }

    fn is_out(&self, rod: &str) -> bool {
        !self.standing.is_in(rod) && !self.all_in_doubt && !self.rods_in_doubt.contains(rod)
    }

    /// Why something can't have been; none where it can.
    fn impossible(&self, what: &What) -> Option<Fault> {
        match what {
            What::Lines(lines_in) if *lines_in == self.standing.lines_in && !self.lines_in_doubt => {
                let said = self.lines_said;
                let fault = match (lines_in, said) {
                    (true, _) => Fault::new(format!("lines go in and were in already, since line {said}")),
                    (false, 0) => Fault::new("lines come out and were never in"),
                    (false, _) => Fault::new(format!("lines come out and were out already, since line {said}")),
                };
                let other = if *lines_in { "out" } else { "in" };
                Some(fault.help(format!("say between them when lines were `{other}`, or take one of them out")))
            }
            What::Strike(_) if !self.standing.lines_in && !self.lines_in_doubt => {
                let fault = Fault::new("a fish can't strike while lines are out");
                Some(fault.help("say when lines went in, with `lines: in`, ahead of this"))
            }
            What::Strike(Some(rod)) if self.is_out(rod) => {
                let fault = Fault::new(format!("rod `{rod}` had a strike and was out of the water"));
                let help = format!("say when it went in, with `rod: {rod}`; or the strike was on another");
                Some(fault.help(self.meant(rod).unwrap_or(help)))
            }
            What::Landed(rod) if !self.standing.has_struck(rod.as_deref()) => {
                let whose = rod.as_ref().map_or_else(String::new, |rod| format!(" on rod `{rod}`"));
                let fault = Fault::new(format!("a fish was landed{whose} and none had struck"));
                let help = "write the strike too, ahead of it; every fish begins with one".to_owned();
                Some(fault.help(rod.as_ref().and_then(|rod| self.meant(rod)).unwrap_or(help)))
            }
            What::Up(rod) if self.is_out(rod) => {
                let fault = Fault::new(format!("rod `{rod}` comes up and was not in"));
                let help = format!("say when it went in: `rod: {rod}` with what it ran");
                Some(fault.help(self.meant(rod).unwrap_or(help)))
            }
            _ => None,
        }
    }

    /// The rod that a name which no rod has may be meant for.
    fn meant(&self, rod: &str) -> Option<String> {
        let unknown = !self.standing.rods().any(|known| known == rod);
        let near = unknown.then(|| nearest(rod, self.standing.rods())).flatten();
        near.map(|near| format!("did you mean `{near}`?"))
    }
}

/// A time in which a rod fished and ran one thing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// The rod.
    pub rod: String,
    /// When it began.
    pub from: Instant,
    /// When it ended; later than it began, and no longer part of it.
    pub to: Instant,
    /// What the rod ran.
    pub run: Run,
}

impl Log {
    /// How long each rod fished, and with what: while it was in and lines were in. Sorted by when they begin, then by
    /// rod; where one thing was said twice the stretches are one. What nobody ended lasts to the last event.
    pub fn rod_time(&self) -> Vec<Stretch> {
        let mut stretches: Vec<Stretch> = Vec::new();
        // Of each rod the last stretch, by its place among them all.
        let mut last: BTreeMap<String, usize> = BTreeMap::new();
        let mut standing = Standing::default();
        let mut since: BTreeMap<String, Instant> = BTreeMap::new();
        let mut end = |rod: &str, from: Instant, to: Instant, run: &Run| {
            if to <= from {
                return;
            }
            let before = last.get(rod).and_then(|at| stretches.get_mut(*at));
            match before.filter(|before| before.to == from && before.run == *run) {
                Some(before) => before.to = to,
                None => {
                    last.insert(rod.to_owned(), stretches.len());
                    stretches.push(Stretch { rod: rod.to_owned(), from, to, run: run.clone() });
                }
            }
        };
        for entry in &self.entries {
            let about: Vec<String> = match &entry.what {
                What::Lines(_) => standing.rods().map(str::to_owned).collect(),
                What::Rod(rod, _) | What::Up(rod) => vec![rod.clone()],
                _ => continue,
            };
            for rod in &about {
                if let (Some(from), Some(run)) = (since.remove(rod), standing.running(rod)) {
                    end(rod, from, entry.at, run);
                }
            }
            standing.take(&entry.what);
            since.extend(about.into_iter().filter(|rod| standing.running(rod).is_some()).map(|rod| (rod, entry.at)));
        }
        let closes = self.entries.last().map_or(Instant::default(), |last| last.at);
        for (rod, from) in since {
            if let Some(run) = standing.running(&rod) {
                end(&rod, from, closes, run);
            }
        }
        stretches.sort_by(|a, b| (a.from, &a.rod).cmp(&(b.from, &b.rod)));
        stretches
    }
}
