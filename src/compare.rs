//! Two strategies on the same days: where they differ, what the fish said, and what that can prove.
//!
//! [`differ`] holds the calls of a day against each other, [`fished`] what rods really ran against both, [`season`] reads
//! many logs and adds them up, [`tested`] makes rates, ratios and tests of the sums by [`crate::statistics`], [`contest`]
//! analyses a day that was drawn up for it, [`words`] says in plain words what that can prove, [`text`] lays it all out.
//! [`Comparison`] is data with everything in it; its serialised form is the JSON that the command prints.

pub mod contest;
pub mod differ;
pub mod fished;
pub mod season;
pub mod tested;
pub mod text;
pub mod words;

use std::collections::BTreeSet;
use std::sync::Arc;

use serde::Serialize;

use crate::advice::By;
use crate::day::log::{Log, What};
use crate::day::replay::Timeline;
use crate::day::replay::text::PassedOver;
use crate::program::Program;
use crate::session::Setting;
use crate::source::{Fault, Faults};
use crate::vocabulary::aspect::AspectId;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::quantity::{HOUR, MINUTE};
use crate::vocabulary::time::{Instant, to_the_second};
use crate::water::Place;
use contest::{ContestDay, ContestSaid};
use differ::{Differences, Stretch};
use fished::Fished;
use tested::{LightRow, Split};

/// One of the two strategies.
#[derive(Clone, Debug)]
pub struct Side {
    /// Its program.
    pub program: Arc<Program>,
    /// The file it is from, as it was named.
    pub file: String,
    /// Lets that were changed, as `NAME = VALUE`.
    pub lets: Vec<String>,
}

/// Both strategies, and the aspects that both decide.
#[derive(Clone, Debug)]
pub struct Sides {
    /// The one.
    pub a: Side,
    /// The other.
    pub b: Side,
    /// What can be compared, aspect by aspect.
    pub subjects: Vec<Subject>,
    /// Aspects that A alone decides.
    pub only_a: Vec<String>,
    /// Aspects that B alone decides.
    pub only_b: Vec<String>,
}

/// An aspect that both strategies decide somewhere.
#[derive(Clone, Debug)]
pub struct Subject {
    /// Its name.
    pub name: String,
    /// Its number in A.
    pub a: AspectId,
    /// Its number in B.
    pub b: AspectId,
    /// The kind of its range; none where it is words.
    pub kind: Option<Kind>,
}

impl Subject {
    /// Whether its lengths are printed in inches or centimetres.
    pub fn is_small(&self) -> bool {
        self.a == AspectId::SIZE
    }
}

impl Sides {
    /// Two strategies side by side.
    pub fn new(a: Side, b: Side) -> Self {
        let decided = |program: &Program| -> Vec<(String, AspectId, Option<Kind>)> {
            let aspects = (0..).map(AspectId).zip(&program.aspects);
            let decided = aspects.filter(|(id, _)| program.decides(*id));
            decided.map(|(id, aspect)| (aspect.name.clone(), id, aspect.range_kind())).collect()
        };
        let (of_a, of_b) = (decided(&a.program), decided(&b.program));
        let other = |list: &[(String, AspectId, Option<Kind>)], name: &str, kind| {
            list.iter().find(|(other, _, of)| other == name && *of == kind).map(|(_, id, _)| *id)
        };
        let subjects = of_a.iter().filter_map(|(name, id, kind)| {
            Some(Subject { name: name.clone(), a: *id, b: other(&of_b, name, *kind)?, kind: *kind })
        });
        let subjects: Vec<Subject> = subjects.collect();
        let rest = |list: &[(String, AspectId, Option<Kind>)]| -> Vec<String> {
            let shared = |name: &String| subjects.iter().any(|subject| subject.name == *name);
            list.iter().map(|(name, ..)| name.clone()).filter(|name| !shared(name)).collect()
        };
        let (only_a, only_b) = (rest(&of_a), rest(&of_b));
        Self { a, b, subjects, only_a, only_b }
    }
}

/// What one day shows.
#[derive(Clone, Debug)]
pub struct Day {
    /// The log.
    pub log: Log,
    /// What A called.
    pub a: Timeline,
    /// What B called.
    pub b: Timeline,
    /// When lines were in.
    pub lines_in: Vec<(Instant, Instant)>,
    /// Where they differ.
    pub differences: Differences,
    /// What rods ran and caught.
    pub fished: Fished,
    /// Units of a contest, where the log carries its sheet.
    pub contest: Option<ContestDay>,
    /// Where the water lies, for its light.
    pub place: Option<Place>,
}

impl Day {
    /// Compares two strategies on one day.
    ///
    /// Errors: a value of the log can't be read, or is not plausible; the log covers more than a week, or has more rods than
    /// any boat.
    pub fn of(sides: &Sides, setting: &Setting, log: Log) -> Result<Self, Faults> {
        Self::of_while(sides, setting, log, &|| true)
    }

    /// The same as long as `wanted` says so; what is given up is no comparison.
    ///
    /// Errors: as above.
    pub fn of_while(sides: &Sides, setting: &Setting, log: Log, wanted: &dyn Fn() -> bool) -> Result<Self, Faults> {
        not_too_many_rods(&log)?;
        let [a, b] = Timeline::of_both([&sides.a.program, &sides.b.program], setting, &log, wanted)?;
        let lines_in = log.lines_in();
        let stands = differ::stands(&a, &b, &lines_in);
        let print_time = |at: Instant| to_the_second(&at.zoned(&log.zone));
        let differences = differ::differences(sides, &stands, &print_time);
        let place = setting.place;
        let fished = fished::fished(sides, &log, place, &stands);
        let contest = log.contest.as_ref().map(|sheet| contest::day(sides, sheet, &log, &stands));
        Ok(Self { a, b, lines_in, differences, fished, contest, place, log })
    }
}

/// Most rods of a log. What each ran is gone through at every change of any, so that a log without end would take as long.
const MOST_RODS: usize = 100;

fn not_too_many_rods(log: &Log) -> Result<(), Fault> {
    let mut rods = BTreeSet::new();
    for entry in &log.entries {
        let What::Rod(name, _) = &entry.what else { continue };
        if rods.insert(name) && rods.len() > MOST_RODS {
            let fault = Fault::new(format!("rod `{name}` is one more than the {MOST_RODS} that a log may have"));
            return Err(fault.help("call a rod by one name all day").at(entry.spot).within(&log.file));
        }
    }
    Ok(())
}

/// Two strategies on one or many days.
#[derive(Clone, Debug, Serialize)]
pub struct Comparison {
    /// The one strategy.
    pub a: SideSaid,
    /// The other.
    pub b: SideSaid,
    /// How many logs were compared.
    pub days: u64,
    /// When the first begins.
    pub from: Option<String>,
    /// When the last ends.
    pub to: Option<String>,
    /// Logs that could not be read, the first of them, and why.
    pub skipped: Vec<Skipped>,
    /// How many there were.
    pub skipped_count: u64,
    /// Time with lines in, hours.
    pub lines_in_hours: f64,
    /// Where they differ.
    pub differences: DifferencesSaid,
    /// What the fish said: the whole tactic, then aspect by aspect.
    pub fish: Vec<Split>,
    /// Strikes on a rod that nobody saw, which could be within either's call.
    pub strikes_unplaced: u64,
    /// Fish of them.
    pub landed_unplaced: u64,
    /// The whole tactic by light class.
    pub by_light: Vec<LightRow>,
    /// The fair contest, where logs carry its sheet.
    pub contest: Option<ContestSaid>,
    /// What that can prove, in plain words.
    pub proof: Vec<String>,
    /// How it was computed.
    pub method: Vec<String>,
}

/// A strategy as a comparison names it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SideSaid {
    /// Its name.
    pub strategy: String,
    /// Its file.
    pub file: String,
    /// Lets that were changed.
    pub lets: Vec<String>,
    /// Readings of the logs that it does not have.
    pub passed_over: Vec<PassedOver>,
}

/// A log that could not be read.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Skipped {
    /// The log.
    pub log: String,
    /// Why.
    pub why: String,
}

/// Where two strategies differ, over all days.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct DifferencesSaid {
    /// All aspects that both decide, at once.
    pub whole: AgreementSaid,
    /// Each of them.
    pub aspects: Vec<AspectAgreement>,
    /// Aspects that only A decides.
    pub only_a: Vec<String>,
    /// Aspects that only B decides.
    pub only_b: Vec<String>,
    /// The pairs of rules or rungs that differed longest, the longest first.
    pub pairs: Vec<PairSaid>,
    /// Every stretch, as far as there is room.
    pub stretches: Vec<Stretch>,
    /// How many more there were.
    pub stretches_left_out: u64,
}

/// Time that agrees and that differs, hours.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct AgreementSaid {
    /// Both call the same.
    pub agree_hours: f64,
    /// They do not.
    pub differ_hours: f64,
}

/// The same for an aspect.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AspectAgreement {
    /// The aspect.
    pub aspect: String,
    /// Its time.
    #[serde(flatten)]
    pub time: AgreementSaid,
}

/// How long two rules or rungs differed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PairSaid {
    /// The aspect.
    pub aspect: String,
    /// Who decided it in A; none is nobody.
    pub a: Option<By>,
    /// Who decided it in B.
    pub b: Option<By>,
    /// How long, hours.
    pub hours: f64,
}

/// Counts of time as minutes.
pub fn minutes(counts: i64) -> f64 {
    counts as f64 / MINUTE as f64
}

/// Counts of time as hours.
pub fn hours(counts: i64) -> f64 {
    counts as f64 / HOUR as f64
}
