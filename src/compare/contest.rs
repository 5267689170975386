//! The fair contest: days whose blocks or rods were given to A or B by lot, on a sheet that the log carries.
//!
//! Because the lot decided, chance alone is what a difference has to be held against, and that chance is known: every way
//! in which the units of each stratum (a class of light, a side of the boat) could have been drawn was as likely. So the
//! randomisation test is exact whatever the hours, the places or the clumps in which fish bite, and so is the evidence
//! that grows with each unit, which may be looked at every evening.

use std::collections::BTreeMap;

use serde::Serialize;

use super::differ::Stand;
use super::fished::{self, Waiting};
use super::tested::{Contrast, Rate};
use super::{Side, Sides, Skipped, hours};
use crate::day::log::{Log, What};
use crate::day::sheet::{Arm, Sheet, Unit};
use crate::day::standing::Standing;
use crate::statistics::lot;
use crate::statistics::randomisation::{self, Drawn};
use crate::vocabulary::time::Instant;

/// One unit as it went.
#[derive(Clone, Debug)]
pub struct UnitFound {
    /// From when to when.
    pub span: (Instant, Instant),
    /// The one rod that it is of; none is the whole boat.
    pub rod: Option<String>,
    /// Its class of light and side of the boat, within which the lot was drawn.
    pub stratum: (Option<String>, Option<String>),
    /// Whose it was.
    pub arm: Arm,
    /// Strikes in it.
    pub strikes: u64,
    /// Fish landed.
    pub landed: u64,
    /// Rod time, in counts.
    pub time: i64,
    /// Of that, time within the call whose it was; and outside it.
    pub followed: [i64; 2],
}

/// A day of a contest: its units in the order of time. None is a day whose sheet is of other strategies, and why.
pub type ContestDay = Result<Vec<UnitFound>, String>;

/// Holds a day against its sheet.
pub fn day(sides: &Sides, sheet: &Sheet, log: &Log, stands: &[Stand<'_>]) -> ContestDay {
    let swapped = arms(sides, sheet)?;
    let arm = |unit: &Unit| match (unit.run, swapped) {
        (Arm::A, false) | (Arm::B, true) => Arm::A,
        (Arm::B, false) | (Arm::A, true) => Arm::B,
    };
    let mut units: Vec<&Unit> = sheet.units.iter().collect();
    units.sort_by_key(|unit| (unit.from, unit.rod.clone()));
    let mut found: Vec<UnitFound> = units
        .iter()
        .map(|unit| UnitFound {
            span: (unit.from, unit.to),
            rod: unit.rod.clone(),
            stratum: (unit.light.clone(), unit.side.clone()),
            arm: arm(unit),
            strikes: 0,
            landed: 0,
            time: 0,
            followed: [0, 0],
        })
        .collect();
    let mut standing = Standing::default();
    // Strikes whose fish have not come in, by rod, each with its unit.
    let mut waiting: Waiting<Option<usize>> = Waiting::default();
    let mut since = log.entries.first().map(|entry| entry.at);
    let pass = |found: &mut [UnitFound], standing: &Standing, span: (Instant, Instant)| {
        for (unit, found) in units.iter().zip(found) {
            effort(sides, unit, found, standing, stands, span);
        }
    };
    for entry in &log.entries {
        if let Some(from) = since.filter(|_| entry.what.is_of_rods()) {
            pass(&mut found, &standing, (from, entry.at));
            since = Some(entry.at);
        }
        match &entry.what {
            What::Strike(rod) => {
                let place = unit_of(&units, rod.as_deref(), entry.at);
                if let Some(found) = place.and_then(|place| found.get_mut(place)) {
                    found.strikes += 1;
                }
                waiting.strike(rod, place);
            }
            What::Landed(rod) => {
                let place = waiting.landed(rod).flatten();
                if let Some(found) = place.and_then(|place| found.get_mut(place)) {
                    found.landed += 1;
                }
            }
            _ => {}
        }
        standing.take(&entry.what);
    }
    if let Some((from, last)) = since.zip(log.entries.last()) {
        pass(&mut found, &standing, (from, last.at));
    }
    Ok(found)
}

/// The unit that a strike counts to: as with calls, the one that went on just before it, or begins there.
fn unit_of(units: &[&Unit], rod: Option<&str>, at: Instant) -> Option<usize> {
    let is_of = |unit: &Unit| unit.rod.is_none() || unit.rod.as_deref() == rod;
    let went_on = units.iter().position(|unit| is_of(unit) && unit.from < at && at <= unit.to);
    went_on.or_else(|| units.iter().position(|unit| is_of(unit) && unit.from == at))
}

/// Counts the time of a unit's rods while none is changed, and whether they followed the call that it was given to.
fn effort(
    sides: &Sides,
    unit: &Unit,
    found: &mut UnitFound,
    standing: &Standing,
    stands: &[Stand<'_>],
    (from, to): (Instant, Instant),
) {
    let (from, to) = (from.max(unit.from), to.min(unit.to));
    if from >= to {
        return;
    }
    let first = stands.partition_point(|stand| stand.to <= from);
    for stand in stands.iter().skip(first).take_while(|stand| stand.from < to) {
        let time = stand.to.min(to).since(stand.from.max(from));
        let rods = standing.fishing().filter(|(rod, _)| unit.rod.as_deref().is_none_or(|of| of == *rod));
        for (_, run) in rods {
            found.time = found.time.saturating_add(time);
            let followed = match found.arm {
                Arm::A => fished::whole(&sides.a, stand.a, run),
                Arm::B => fished::whole(&sides.b, stand.b, run),
            };
            let [within, outside] = &mut found.followed;
            match followed {
                Some(true) => *within = within.saturating_add(time),
                Some(false) => *outside = outside.saturating_add(time),
                None => {}
            }
        }
    }
}

/// Whether a sheet's A is the comparison's B; a fault where it is of other strategies.
fn arms(sides: &Sides, sheet: &Sheet) -> Result<bool, String> {
    let is = |side: &Side, named: &str| {
        side.lets.is_empty() && (side.file == named || side.program.name == named || same_file(&side.file, named))
    };
    if is(&sides.a, &sheet.a) && is(&sides.b, &sheet.b) {
        return Ok(false);
    }
    if is(&sides.a, &sheet.b) && is(&sides.b, &sheet.a) {
        return Ok(true);
    }
    Err(format!("its sheet is of {} and {}", sheet.a, sheet.b))
}

/// Whether two paths end in the same file, from wherever they are named.
fn same_file(a: &str, b: &str) -> bool {
    let name = |path: &str| path.rsplit(['/', '\\']).next().unwrap_or(path).to_owned();
    name(a) == name(b)
}

/// A contest over days.
#[derive(Debug, Default)]
pub struct Contest {
    days: u64,
    /// Of each stratum of each day, its units: strikes, and whether it was A's.
    strata: Vec<Vec<(u64, bool)>>,
    /// The same units in the order of time, for the evidence that grows.
    order: Vec<lot::Unit>,
    arms: [ArmSum; 2],
    left_out: Vec<Skipped>,
}

#[derive(Clone, Copy, Debug, Default)]
struct ArmSum {
    units: u64,
    strikes: u64,
    landed: u64,
    time: i64,
    followed: [i64; 2],
}

impl Contest {
    /// Adds a day.
    pub fn add(&mut self, units: &[UnitFound]) {
        self.days += 1;
        let mut places: BTreeMap<(Option<String>, Option<String>), usize> = BTreeMap::new();
        for unit in units {
            let next = self.strata.len();
            let place = *places.entry(unit.stratum.clone()).or_insert(next);
            if place == next {
                self.strata.push(Vec::new());
            }
            let is_a = unit.arm == Arm::A;
            if let Some(stratum) = self.strata.get_mut(place) {
                stratum.push((unit.strikes, is_a));
            }
            self.order.push(lot::Unit { stratum: place, events: unit.strikes, first: is_a });
            let [a, b] = &mut self.arms;
            let sum = if is_a { a } else { b };
            sum.units += 1;
            sum.strikes += unit.strikes;
            sum.landed += unit.landed;
            sum.time = sum.time.saturating_add(unit.time);
            for (slot, more) in sum.followed.iter_mut().zip(unit.followed) {
                *slot = slot.saturating_add(more);
            }
        }
    }

    /// Names a day whose sheet is of no use here.
    pub fn leave_out(&mut self, log: &str, why: &str) {
        self.left_out.push(Skipped { log: log.to_owned(), why: why.to_owned() });
    }

    /// What the contest says; none where no log carried a sheet.
    pub fn finish(self) -> Option<ContestSaid> {
        if self.days == 0 && self.left_out.is_empty() {
            return None;
        }
        let arm = |sum: ArmSum| {
            let [within, outside] = sum.followed;
            let judged = within.saturating_add(outside);
            ArmSaid {
                units: sum.units,
                rod_hours: hours(sum.time),
                strikes: Rate::of(sum.strikes, hours(sum.time)),
                landed: Rate::of(sum.landed, hours(sum.time)),
                followed: (judged > 0).then(|| within as f64 / judged as f64),
            }
        };
        let [a, b] = self.arms;
        let ratio = Contrast::of((a.strikes, hours(a.time)), (b.strikes, hours(b.time)), &[]);
        Some(ContestSaid {
            days: self.days,
            strata: self.strata.len() as u64,
            a: arm(a),
            b: arm(b),
            ratio,
            lot: Lot::of(&self.strata),
            evidence: Evidence::of(&self.order),
            left_out: self.left_out,
        })
    }
}

/// A contest as it is shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ContestSaid {
    /// Days that carried its sheet.
    pub days: u64,
    /// In how many strata the lot was drawn.
    pub strata: u64,
    /// What was A's.
    pub a: ArmSaid,
    /// What was B's.
    pub b: ArmSaid,
    /// The ratio of strike rates, by the Poisson model.
    pub ratio: Contrast,
    /// The exact test by the lot.
    pub lot: Option<Lot>,
    /// The evidence that may be looked at every evening.
    pub evidence: Evidence,
    /// Days whose sheet was of other strategies.
    pub left_out: Vec<Skipped>,
}

/// One side of a contest.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ArmSaid {
    /// Its units.
    pub units: u64,
    /// Their rod-hours.
    pub rod_hours: f64,
    /// Strikes.
    pub strikes: Rate,
    /// Fish landed.
    pub landed: Rate,
    /// The share of the rod time that was really within its call, as far as that is known.
    pub followed: Option<f64>,
}

/// The exact randomisation test.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Lot {
    /// How likely the lot alone gives A as many strikes or more.
    pub p_a: f64,
    /// The same for B.
    pub p_b: f64,
    /// Twice the smaller of the two.
    pub p: f64,
    /// The smallest that this design and these strikes could have given.
    pub smallest: f64,
}

/// Evidence against "it does not matter whose unit it was", by units in the order of time.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Evidence {
    /// How many times as well the units are foretold by a difference as by the lot alone, now.
    pub now: f64,
    /// The most that it ever was.
    pub most: f64,
    /// One over that, at most 1: a p that holds however often somebody looked.
    pub p: f64,
}

impl Lot {
    /// None where there are no units, or too many to go through.
    fn of(strata: &[Vec<(u64, bool)>]) -> Option<Self> {
        let drawn = |units: &Vec<(u64, bool)>| {
            let of =
                |first: bool| units.iter().filter(|(_, is_a)| *is_a == first).map(|(strikes, _)| *strikes).collect();
            Drawn { first: of(true), second: of(false) }
        };
        let strata: Vec<Drawn> = strata.iter().map(drawn).collect();
        let found = randomisation::randomisation(&strata).ok().filter(|_| !strata.is_empty())?;
        Some(Self { p_a: found.test.more, p_b: found.test.fewer, p: found.test.two_sided, smallest: found.smallest })
    }
}

impl Evidence {
    fn of(units: &[lot::Unit]) -> Self {
        let looks = lot::evidence(units);
        let now = looks.last().map_or(1.0, |look| libm::exp(look.log_e));
        let p = looks.last().map_or(1.0, |look| look.p);
        Self { now, most: 1.0 / p, p }
    }
}
