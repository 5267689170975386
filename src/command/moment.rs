//! The moment that a command is about: the flags that describe it, and the session they make.

use std::sync::Arc;

use clap::Args;
use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::advice::cautions::Figures;
use crate::advice::{LakeAdvice, Shown};
use crate::program::Program;
use crate::session::{Session, Setting};
use crate::source::boat::Boat;
use crate::source::given::Names;
use crate::source::readings::Readings;
use crate::source::time::time;
use crate::source::water::Water;
use crate::source::{Fault, Faults};
use crate::tackle::settings::Rods;
use crate::vocabulary::time::Instant;

/// What describes the moment; the same in every command.
#[derive(Debug, Args)]
pub(super) struct MomentArgs {
    /// The water file: its zone, its place, what it allows
    #[arg(long, value_name = "FILE")]
    water: Option<String>,
    /// A file of readings, or - for standard input
    #[arg(long, value_name = "FILE")]
    readings: Option<String>,
    /// The boat file
    #[arg(long, value_name = "FILE")]
    boat: Option<String>,
    /// The moment, such as 2026-05-14T11:30 or 2026-05-14T11:30-07:00; else the latest in the readings, else now
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
    /// A reading, such as surface=54°F or 'depth_of(62 °F)=31 ft'; may be repeated
    #[arg(long = "set", value_name = "NAME=VALUE")]
    set: Vec<String>,
}

/// Where the moment came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Chosen {
    /// `--at` said so.
    Said,
    /// It is the latest in the readings.
    Latest,
    /// It is the time of the machine.
    Now,
}

impl Chosen {
    pub(super) fn text(self) -> &'static str {
        match self {
            Chosen::Said => "as asked",
            Chosen::Latest => "the latest in the readings",
            Chosen::Now => "now",
        }
    }
}

/// A session at its moment.
pub(super) struct AtMoment {
    pub session: Session,
    pub at: Instant,
    pub chosen: Chosen,
    pub shown: Shown,
}

impl MomentArgs {
    /// Whether any of the flags is there.
    pub(super) fn any(&self) -> bool {
        let MomentArgs { water, readings, boat, at, set } = self;
        water.is_some() || readings.is_some() || boat.is_some() || at.is_some() || !set.is_empty()
    }

    /// Reads the files of the water and the boat.
    pub(super) fn read(&self) -> Result<Described<'_>, Faults> {
        let flags = [("--water", &self.water), ("--boat", &self.boat), ("--readings", &self.readings)];
        let mut piped = flags.iter().filter(|(_, path)| path.as_deref() == Some("-"));
        if let (Some((flag, _)), Some(_)) = (piped.next(), piped.next()) {
            return Err(Fault::new("only one file can be read from standard input").within(*flag).into());
        }
        let water = self.water.as_deref().map(Water::read).transpose()?;
        let boat = self.boat.as_deref().map(Boat::read).transpose()?;
        Ok(Described { flags: self, water, boat })
    }

    /// The file of the boat.
    pub(super) fn boat_path(&self) -> Option<&str> {
        self.boat.as_deref()
    }

    fn when(
        &self,
        water_zone: Option<&TimeZone>,
        readings: Option<&Readings>,
    ) -> Result<(Instant, TimeZone, Chosen), Faults> {
        if let Some(text) = &self.at {
            // A time without a zone of its own is in the water's, else in that of the readings.
            let of_readings = readings.and_then(|readings| readings.latest()).map(|moment| &moment.zone);
            let (at, zone) = time(text, water_zone.or(of_readings)).map_err(|fault| fault.within("--at"))?;
            return Ok((at, zone, Chosen::Said));
        }
        if let Some(moment) = readings.and_then(|readings| readings.latest()) {
            return Ok((moment.at, moment.zone.clone(), Chosen::Latest));
        }
        let (now, machine_zone) = now();
        Ok((Instant::of(now), water_zone.cloned().unwrap_or(machine_zone), Chosen::Now))
    }
}

/// What the flags describe, with the water and the boat read.
pub(super) struct Described<'f> {
    flags: &'f MomentArgs,
    water: Option<Water>,
    boat: Option<Boat>,
}

impl Described<'_> {
    /// The rods of the boat, with the lines that the water allows; none where no boat is named or it has no rods.
    pub(super) fn rods(&self) -> Option<Rods> {
        rods(self.boat.as_ref()?, self.water.as_ref())
    }

    /// The session of a program at the moment, as one request without a history.
    pub(super) fn session(self, program: Arc<Program>) -> Result<AtMoment, Faults> {
        let Described { flags, water, boat: _ } = self;
        let water_zone = water.as_ref().and_then(|water| water.setting.zone.clone());
        let readings = flags.readings.as_deref().map(|path| Readings::read(path, water_zone.as_ref())).transpose()?;
        let (at, zone, chosen) = flags.when(water_zone.as_ref(), readings.as_ref())?;
        let setting = match &water {
            Some(water) => Setting { zone: Some(zone), ..water.setting.clone() },
            None => Setting { zone: Some(zone), ..Setting::default() },
        };
        let mut names = Names::of(&program);
        let mut session = Session::alone(program, Arc::new(setting));
        let mut faults = Faults::default();
        if let Some(readings) = &readings {
            // All moments are read, so that a fault in a later one is not kept back.
            for moment in &readings.moments {
                let Some(events) = faults.keep(names.moment(&readings.file, moment)) else { continue };
                if moment.at <= at && faults.is_empty() {
                    faults.keep(session.at(moment.at, events).map_err(|_| out_of_order(&readings.file)));
                }
            }
        }
        if let Some(events) = faults.keep(names.sets(&flags.set)).filter(|_| faults.is_empty()) {
            faults.keep(session.at(at, events).map_err(|_| out_of_order("--set")));
        }
        faults.unless_any(AtMoment { session, at, chosen, shown: water.map(shown).unwrap_or_default() })
    }
}

/// The one place where a command looks at the clock, and at the machine's zone.
#[expect(clippy::disallowed_methods, reason = "this is the edge: without a time given, the moment is now")]
pub(super) fn now() -> (Timestamp, TimeZone) {
    (Timestamp::now(), TimeZone::system())
}

/// A boat's rods, where it has any, with the lines that a water allows its anglers.
pub(super) fn rods(boat: &Boat, water: Option<&Water>) -> Option<Rods> {
    let lines = water.and_then(|water| water.rules.as_ref()).and_then(|rules| rules.lines_per_angler);
    boat.rods(lines.zip(boat.anglers).map(|(lines, anglers)| lines as usize * anglers as usize))
}

fn out_of_order(file: &str) -> Fault {
    Fault::new("the moments are not in the order of time").within(file)
}

/// What advice shows of a water file.
pub(super) fn shown(water: Water) -> Shown {
    let rules = water.rules.as_ref();
    let mut lines = Vec::new();
    if let Some(rules) = rules {
        let yes_no = |yes: bool| if yes { "allowed" } else { "not allowed" };
        lines.extend(rules.bait.map(|bait| format!("natural bait: {}", yes_no(bait))));
        lines.extend(rules.lines_per_angler.map(|lines| format!("lines for each angler: {lines}")));
        lines.extend(rules.season.as_ref().map(|season| format!("season: {season}")));
        lines.extend(rules.limits.iter().cloned());
    }
    let lake = LakeAdvice {
        name: water.name.clone(),
        checked: rules.map(|rules| rules.checked.to_string()),
        source: rules.and_then(|rules| rules.source.clone()),
        rules: lines,
    };
    let figures = water.cautions.as_ref().map(|figures| Figures {
        wind: figures.wind,
        waves: figures.waves,
        release: figures.release,
        source: Some(figures.source.clone()),
        date: Some(figures.date.to_string()),
    });
    Shown { lake: Some(lake), figures }
}
