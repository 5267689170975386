//! The day under way: what happens goes into the log, and from there into the session.

use std::sync::Arc;

use jiff::tz::TimeZone;

use super::log::Log;
use super::record::{Record, Told};
use super::standing::Standing;
use crate::advice::{Advice, Shown, advise};
use crate::engine::Outcome;
use crate::program::Program;
use crate::session::{Mode, Session, Setting};
use crate::source::feed::Measured;
use crate::source::given::Names;
use crate::source::{Fault, Faults};
use crate::tackle::settings::{Rods, Settings};
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::time::Instant;

/// A day under way.
pub struct Live {
    record: Record,
    zone: TimeZone,
    names: Names,
    session: Session,
    shown: Shown,
    standing: Standing,
    /// The call that was last told.
    told: Option<Outcome>,
}

impl Live {
    /// Begins a day of a program; `zone` is that of the log's times.
    pub fn new(program: Arc<Program>, setting: Setting, zone: TimeZone, shown: Shown, record: Record) -> Self {
        let names = Names::of(&program);
        let setting = Setting { zone: Some(zone.clone()), ..setting };
        let session = Session::new(program, Arc::new(setting), Mode::Live);
        Self { record, zone, names, session, shown, standing: Standing::default(), told: None }
    }

    /// Takes in what a log already holds, without writing it again.
    pub fn resume(&mut self, log: &Log) -> Result<(), Faults> {
        for entry in &log.entries {
            let events = entry.what.events(&log.file, &mut self.names, &self.standing)?;
            self.standing.take(&entry.what);
            self.session.at(entry.at, events).map_err(|_| Fault::new("an event is out of order").at(entry.spot))?;
        }
        Ok(())
    }

    /// Writes down what happened, and takes it in; ahead of it what must have been before: lines went in before a strike,
    /// a rod did, a fish struck before it was landed. So no strike is lost for what nobody typed. A clock that is put back
    /// changes no order: what it calls earlier than the last event happens at that event's instant.
    ///
    /// Errors: the value of a reading is not plausible or not readable, a rod that was not in comes up, lines go in
    /// that are in (then nothing is written), or the log can't be written.
    pub fn happened(&mut self, at: Instant, told: &Told) -> Result<(), Faults> {
        for ahead in self.ahead(told) {
            self.write(at, &ahead)?;
        }
        if let Told::Lines(lines_in) = told
            && *lines_in == self.standing.lines_in()
        {
            let already = if *lines_in { "in" } else { "out" };
            return Err(Fault::new(format!("lines are {already} already")).into());
        }
        if let Told::Up(rod) = told
            && !self.standing.is_in(rod)
        {
            return Err(Fault::new(format!("rod `{rod}` is not in")).into());
        }
        self.write(at, told)
    }

    /// What must have been before something happened, and was not told.
    fn ahead(&self, told: &Told) -> Vec<Told> {
        let struck = match told {
            Told::Strike(rod) => Some(rod),
            Told::Landed(rod) if !self.standing.has_struck(rod.as_deref()) => Some(rod),
            _ => None,
        };
        let mut ahead = Vec::new();
        if struck.is_some() && !self.standing.lines_in() {
            ahead.push(Told::Lines(true));
        }
        if let Some(Some(rod)) = struck.filter(|rod| rod.as_ref().is_some_and(|rod| !self.standing.is_in(rod))) {
            ahead.push(Told::Rod(rod.clone(), Vec::new()));
        }
        if let (Told::Landed(_), Some(rod)) = (told, struck) {
            ahead.push(Told::Strike(rod.clone()));
        }
        ahead
    }

    fn write(&mut self, at: Instant, told: &Told) -> Result<(), Faults> {
        let at = self.not_before(at);
        let line = told.line(at, &self.zone);
        let entry = Log::event(self.record.path(), &line, &self.zone)?;
        let events = entry.what.events(self.record.path(), &mut self.names, &self.standing)?;
        self.record.line(&line)?;
        self.standing.take(&entry.what);
        // The instant is not before the latest, so that it is in order.
        let _ = self.session.at(entry.at, events);
        Ok(())
    }

    /// Writes down what instruments measured at an instant, and takes it in, with how it was made, which the log leaves
    /// out. A name that the strategy has taken for something else is passed over.
    pub fn measured(&mut self, at: Instant, measured: &[Measured]) -> Result<(), Faults> {
        let program = self.session.program().clone();
        let named = measured.iter().filter_map(|one| {
            let (name, value) = one.written(program.system);
            let own = program.own_reading(name).and_then(|own| program.own.get(own));
            let taken = own.is_some_and(|own| Known::reading(name).is_none_or(|known| known.entry().kind != own.kind));
            (!taken).then(|| (name.to_owned(), value))
        });
        let told = Told::Measured(named.collect());
        if told != Told::Measured(Vec::new()) {
            self.happened(at, &told)?;
        }
        // What was just written at this instant is what these are about.
        let _ = self.session.at(self.not_before(at), measured.iter().filter_map(Measured::made));
        Ok(())
    }

    /// Lets time pass.
    pub fn pass(&mut self, at: Instant) {
        let at = self.not_before(at);
        let _ = self.session.at(at, []);
    }

    fn not_before(&self, at: Instant) -> Instant {
        self.session.latest().map_or(at, |latest| latest.max(at))
    }

    /// Brings what was written to the disk.
    pub fn sync(&mut self) -> Result<(), Fault> {
        self.record.sync()
    }

    /// Where the log is written.
    pub fn path(&self) -> &str {
        self.record.path()
    }

    /// The advice at an instant.
    pub fn advice(&mut self, at: Instant) -> Advice {
        let at = self.not_before(at);
        self.told = Some(self.session.outcome(at));
        advise(&self.session, at, &self.shown)
    }

    /// The advice where its call differs from the one last told.
    pub fn news(&mut self, at: Instant) -> Option<Advice> {
        let at = self.not_before(at);
        let outcome = self.session.outcome(at);
        let same = self.told.as_ref().is_some_and(|told| told.same_call(&outcome));
        (!same).then(|| self.advice(at))
    }

    /// The settings of a boat's rods for the call of the latest instant; none where it has no depth or speed.
    pub fn settings(&self, rods: &Rods) -> Option<Settings> {
        let settings = rods.settings(&self.session, self.session.latest()?).ok();
        settings.map(|(settings, _)| settings)
    }

    /// How the day stands.
    pub fn standing(&self) -> &Standing {
        &self.standing
    }

    /// The program.
    pub fn program(&self) -> &Arc<Program> {
        self.session.program()
    }
}
