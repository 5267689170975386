//! Many logs, one after the other: what each shows is added up, and nothing of it kept but the sums.
//!
//! Logs are read in small batches, in parallel; the sums are made in the order of the logs, so that any number of threads
//! gives the same result.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::contest::Contest;
use super::differ::{Agreement, Pair, Stretch};
use super::fished::ByLight;
use super::tested::{self, Strata};
use super::{
    AgreementSaid, AspectAgreement, Comparison, Day, DifferencesSaid, PairSaid, Side, SideSaid, Sides, Skipped, hours,
    words,
};
use crate::advice::by;
use crate::day::log::Log;
use crate::day::replay::text::PassedOver;
use crate::session::Setting;
use crate::source::{Fault, Faults};
use crate::vocabulary::time::{Instant, to_the_second};

/// Most stretches, skipped logs and pairs that a comparison shows.
const MOST_STRETCHES: usize = 1000;
const MOST_SKIPPED: usize = 100;
const MOST_PAIRS: usize = 20;
/// Half hours whose strikes are kept, to see whether they clump.
const MOST_HALF_HOURS: usize = 20_000;

/// Why a log could not be read, on one line: the first faults, and how many more there are.
pub fn why(faults: &Faults) -> String {
    let one_line = |fault: &Fault| match fault.to_string().split_once("\n  help: ") {
        Some((what, help)) => format!("{what} ({help})"),
        None => fault.to_string(),
    };
    let mut why: Vec<String> = faults.iter().take(3).map(one_line).collect();
    let more = faults.iter().count().saturating_sub(why.len());
    if more > 0 {
        why.push(format!("and {more} more"));
    }
    why.join("; ")
}

/// Reads a log: its name, and what it holds or what is wrong with it.
pub type Read<'r, S> = dyn Fn(&S) -> (String, Result<Log, Faults>) + Sync + 'r;

/// Sums over days.
#[derive(Debug)]
pub struct Season {
    sides: Sides,
    days: u64,
    from: Option<(Instant, String)>,
    to: Option<(Instant, String)>,
    skipped: Vec<Skipped>,
    skipped_count: u64,
    lines_in: i64,
    whole: Agreement,
    aspects: Vec<Agreement>,
    pairs: BTreeMap<Pair, i64>,
    stretches: Vec<Stretch>,
    stretches_left_out: u64,
    tallies: Vec<ByLight>,
    strata: Vec<Strata>,
    strikes_unplaced: u64,
    landed_unplaced: u64,
    half_hours: Vec<u64>,
    contest: Contest,
    passed_over: [BTreeMap<String, u64>; 2],
    kept: Vec<Day>,
    keeps: usize,
}

impl Season {
    /// No day yet.
    pub fn new(sides: &Sides) -> Self {
        let subjects = sides.subjects.len();
        Self {
            sides: sides.clone(),
            days: 0,
            from: None,
            to: None,
            skipped: Vec::new(),
            skipped_count: 0,
            lines_in: 0,
            whole: Agreement::default(),
            aspects: vec![Agreement::default(); subjects],
            pairs: BTreeMap::new(),
            stretches: Vec::new(),
            stretches_left_out: 0,
            tallies: vec![ByLight::default(); subjects + 1],
            strata: vec![Strata::default(); subjects + 1],
            strikes_unplaced: 0,
            landed_unplaced: 0,
            half_hours: Vec::new(),
            contest: Contest::default(),
            passed_over: [BTreeMap::new(), BTreeMap::new()],
            kept: Vec::new(),
            keeps: 0,
        }
    }

    /// Keeps the first so many days whole, for pictures of them.
    pub fn keeping(self, days: usize) -> Self {
        Self { keeps: days, ..self }
    }

    /// The days that were kept.
    pub fn take_days(&mut self) -> Vec<Day> {
        std::mem::take(&mut self.kept)
    }

    /// Adds a day.
    pub fn add(&mut self, day: Day) {
        self.sum_up(&day);
        if self.kept.len() < self.keeps {
            self.kept.push(day);
        }
    }

    fn sum_up(&mut self, day: &Day) {
        self.days += 1;
        let said = |at: Instant| (at, to_the_second(&at.zoned(&day.log.zone)));
        if let (Some((from, _)), Some((_, to))) = (day.lines_in.first(), day.lines_in.last()) {
            if self.from.as_ref().is_none_or(|(first, _)| from < first) {
                self.from = Some(said(*from));
            }
            if self.to.as_ref().is_none_or(|(last, _)| to > last) {
                self.to = Some(said(*to));
            }
        }
        let time: i64 = day.lines_in.iter().map(|(from, to)| to.since(*from)).sum();
        self.lines_in = self.lines_in.saturating_add(time);
        self.whole.join(day.differences.whole);
        for (sum, more) in self.aspects.iter_mut().zip(&day.differences.aspects) {
            sum.join(*more);
        }
        for (pair, time) in &day.differences.pairs {
            let slot = self.pairs.entry(*pair).or_default();
            *slot = slot.saturating_add(*time);
        }
        for stretch in &day.differences.stretches {
            match self.stretches.len() < MOST_STRETCHES {
                true => self.stretches.push(stretch.clone()),
                false => self.stretches_left_out += 1,
            }
        }
        for ((sums, strata), more) in self.tallies.iter_mut().zip(&mut self.strata).zip(&day.fished.tallies) {
            for (sum, more) in sums.iter_mut().zip(more) {
                sum.join(more);
                strata.add(more);
            }
        }
        self.strikes_unplaced += day.fished.strikes_unplaced;
        self.landed_unplaced += day.fished.landed_unplaced;
        let room = MOST_HALF_HOURS.saturating_sub(self.half_hours.len());
        self.half_hours.extend(day.fished.half_hours.iter().take(room));
        match &day.contest {
            Some(Ok(units)) => self.contest.add(units),
            Some(Err(why)) => self.contest.leave_out(&day.log.file, why),
            None => {}
        }
        for (sums, timeline) in self.passed_over.iter_mut().zip([&day.a, &day.b]) {
            for (name, count) in &timeline.passed_over {
                *sums.entry(name.clone()).or_default() += count;
            }
        }
    }

    /// Names a log that could not be read.
    pub fn skip(&mut self, log: &str, faults: &Faults) {
        self.skipped_count += 1;
        if self.skipped.len() < MOST_SKIPPED {
            self.skipped.push(Skipped { log: log.to_owned(), why: why(faults) });
        }
    }

    /// How many logs were compared so far.
    pub fn days(&self) -> u64 {
        self.days
    }

    /// Reads and adds logs, each read by `read`; `progress` hears how many are done, and says whether to go on.
    pub fn read_all<S: Sync>(
        &mut self,
        logs: &[S],
        setting: &Setting,
        read: &Read<'_, S>,
        progress: &mut dyn FnMut(usize) -> bool,
    ) {
        let sides = &self.sides.clone();
        // Enough that no thread waits long for the last of a batch, and what is made of a log takes little room.
        let batch = rayon::current_num_threads().saturating_mul(8).max(1);
        let mut done = 0;
        for batch in logs.chunks(batch) {
            let may_be_kept = self.kept.len() < self.keeps;
            let days: Vec<(String, Result<Day, Faults>)> = batch
                .par_iter()
                .with_max_len(1)
                .map(|log| {
                    let (name, log) = read(log);
                    let mut day = log.and_then(|log| Day::of(sides, setting, log));
                    if let Ok(day) = &mut day
                        && !may_be_kept
                    {
                        day.log.entries = Vec::new();
                    }
                    (name, day)
                })
                .collect();
            for (name, day) in days {
                match day {
                    Ok(day) => self.add(day),
                    Err(faults) => self.skip(&name, &faults),
                }
                done += 1;
            }
            if !progress(done) {
                return;
            }
        }
    }

    /// What all of it says.
    pub fn finish(self) -> Comparison {
        let sides = &self.sides;
        let side = |side: &Side, passed_over: &BTreeMap<String, u64>| SideSaid {
            strategy: side.program.name.clone(),
            file: side.file.clone(),
            lets: side.lets.clone(),
            passed_over: PassedOver::each(passed_over),
        };
        let agreement =
            |time: &Agreement| AgreementSaid { agree_hours: hours(time.agree), differ_hours: hours(time.differ) };
        let mut pairs: Vec<(&Pair, &i64)> = self.pairs.iter().collect();
        // Of two that cost as much the one that stands first.
        pairs.sort_by_key(|(pair, time)| (std::cmp::Reverse(**time), **pair));
        let pairs = pairs.into_iter().take(MOST_PAIRS).map(|((subject, a, b), time)| PairSaid {
            aspect: sides.subjects.get(*subject).map_or_else(String::new, |subject| subject.name.clone()),
            a: a.map(|source| by(&sides.a.program, source)),
            b: b.map(|source| by(&sides.b.program, source)),
            hours: hours(*time),
        });
        let differences = DifferencesSaid {
            whole: agreement(&self.whole),
            aspects: sides
                .subjects
                .iter()
                .zip(&self.aspects)
                .map(|(subject, time)| AspectAgreement { aspect: subject.name.clone(), time: agreement(time) })
                .collect(),
            only_a: sides.only_a.clone(),
            only_b: sides.only_b.clone(),
            pairs: pairs.collect(),
            stretches: self.stretches,
            stretches_left_out: self.stretches_left_out,
        };
        let names = std::iter::once(None).chain(sides.subjects.iter().map(|subject| Some(subject.name.clone())));
        let fish: Vec<_> = names
            .zip(self.tallies.iter().zip(&self.strata))
            .map(|(name, (tallies, strata))| tested::split(name, tallies, strata))
            .collect();
        let by_light = self.tallies.first().map_or_else(Vec::new, tested::by_light);
        let mut comparison = Comparison {
            a: side(&sides.a, &self.passed_over[0]),
            b: side(&sides.b, &self.passed_over[1]),
            days: self.days,
            from: self.from.map(|(_, said)| said),
            to: self.to.map(|(_, said)| said),
            skipped: self.skipped,
            skipped_count: self.skipped_count,
            lines_in_hours: hours(self.lines_in),
            differences,
            fish,
            strikes_unplaced: self.strikes_unplaced,
            landed_unplaced: self.landed_unplaced,
            by_light,
            contest: self.contest.finish(),
            proof: Vec::new(),
            method: words::method(),
        };
        comparison.proof = words::proof(&comparison, tested::clumping(&self.half_hours));
        comparison
    }
}
