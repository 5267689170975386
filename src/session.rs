//! Readings and events in time order to the state at an instant.
//!
//! A [`Session`] takes in what people, instruments and files say, each at its time, and steps the engine: once when
//! lines first go in and at each whole minute after it, on the readings good then, asked or not. [`Moment`] is what it
//! knows at one instant: every reading a program asks for, given or derived, and how old it is.

mod moment;

pub use moment::{Age, Moment, Origin, Reading};

use std::collections::VecDeque;
use std::sync::Arc;

use foldhash::{HashMap, HashMapExt};
use jiff::tz::TimeZone;

use crate::engine::{Outcome, Readings, State, alone, decide};
use crate::program::expr::LadderId;
use crate::program::{GivenDef, GivenTarget, Program};
use crate::vocabulary::catalogue::{GoodFor, Known};
use crate::vocabulary::quantity::MINUTE;
use crate::vocabulary::time::{Instant, end_of_day};
use crate::water::cast::Cast;
use crate::water::lake::Lake;
use crate::water::{self, Place};

/// How many things are given to most requests: as many as a small table holds.
const FEW: usize = 7;

/// What does not change during a session: where the water lies, and what it allows.
#[derive(Clone, Debug, Default)]
pub struct Setting {
    /// The time zone of the water.
    pub zone: Option<TimeZone>,
    /// Where the water lies.
    pub place: Option<Place>,
    /// Whether bait is allowed, by the water file.
    pub bait_allowed: Option<bool>,
    /// Whether the fish are meant for release, by the water file.
    pub releasing: Option<bool>,
    /// What is known of the lake by itself.
    pub lake: Lake,
}

/// What kind of session it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// On the water, by the calendar: readings grow old.
    Live,
    /// A trial: a reading stays as given until it is given again, and there is no calendar.
    Trial,
}

/// One thing that happens at one instant.
#[derive(Clone, Debug)]
pub enum Event {
    /// A reading, call or change is given; none makes it unknown.
    Give(GivenTarget, Option<i64>),
    /// A cast is made, or what was known of one is taken back.
    Cast(Option<Arc<Cast>>),
    /// The boat is somewhere.
    Place(Place),
    /// A fish strikes.
    Strike,
    /// A ladder is put on a rung.
    Rung(LadderId, Option<usize>),
    /// How what is given at this instant was written, so that it can be shown so.
    Written(GivenTarget, Arc<str>),
    /// How an instrument's reading that is given at this instant was made.
    Made(GivenTarget, Arc<str>),
}

impl From<&GivenDef> for Event {
    fn from(given: &GivenDef) -> Self {
        match given {
            GivenDef::Value(target, value) => Event::Give(*target, *value),
            GivenDef::Rung(ladder, rung) => Event::Rung(*ladder, *rung),
            GivenDef::Cast(points) => {
                let points = points.iter().map(|point| (point.depth, point.temperature, point.oxygen));
                Event::Cast(Some(Arc::new(Cast::new(points))))
            }
            GivenDef::NoCast => Event::Cast(None),
            GivenDef::Strike => Event::Strike,
        }
    }
}

/// An event came later than one that is already taken in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OutOfOrder {
    /// When the event is said to have been.
    pub at: Instant,
    /// The latest instant already taken in.
    pub latest: Instant,
}

/// Values in time order, as far back as anything asks.
#[derive(Clone, Debug)]
struct History {
    latest: (Instant, Option<i64>),
    /// Those before it; of most readings nothing asks for any.
    older: VecDeque<(Instant, Option<i64>)>,
}

impl History {
    fn new(at: Instant, value: Option<i64>) -> Self {
        Self { latest: (at, value), older: VecDeque::new() }
    }

    fn put(&mut self, at: Instant, value: Option<i64>, keep: i64) {
        let before = std::mem::replace(&mut self.latest, (at, value));
        if keep > 0 && before.0 != at {
            self.older.push_back(before);
        }
        forget(&mut self.older, at.after(-keep));
    }

    fn at(&self, at: Instant) -> Option<(Instant, Option<i64>)> {
        if self.latest.0 <= at {
            return Some(self.latest);
        }
        let after = self.older.partition_point(|(when, _)| *when <= at);
        self.older.get(after.checked_sub(1)?).copied()
    }
}

/// Forgets what had been replaced by an instant; what stood then is kept.
fn forget<T>(entries: &mut VecDeque<(Instant, T)>, by: Instant) {
    while entries.get(1).is_some_and(|(next, _)| *next <= by) {
        entries.pop_front();
    }
}

/// What ladders did at least once in a session.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Trodden {
    /// Moves made, by ladder and number.
    pub moves: std::collections::BTreeSet<(usize, usize)>,
    /// Rungs stood on, by ladder and number.
    pub rungs: std::collections::BTreeSet<(usize, usize)>,
}

/// A session of one program.
#[derive(Clone, Debug)]
pub struct Session {
    program: Arc<Program>,
    setting: Arc<Setting>,
    mode: Mode,
    /// There are no steps: every advice is that of one request without a history.
    alone: bool,
    given: HashMap<GivenTarget, History>,
    written: HashMap<GivenTarget, (Instant, Arc<str>)>,
    made: HashMap<GivenTarget, (Instant, Arc<str>)>,
    casts: VecDeque<(Instant, Option<Arc<Cast>>)>,
    places: VecDeque<(Instant, Place)>,
    strikes: VecDeque<Instant>,
    /// The fishing time at which `strikeless` began; none while it is unknown.
    quiet_since: Option<i64>,
    /// Fishing time up to the last time lines came out.
    fished_before: i64,
    /// Since when lines are in.
    lines_in_since: Option<Instant>,
    /// When the first step is due, once lines went in.
    starts: Option<Instant>,
    /// Rungs given before the first step.
    first_rungs: Vec<Option<usize>>,
    /// Ladders said to be unknown before it.
    untold: Vec<usize>,
    state: Option<State>,
    /// What stood before the step that the latest instant made, so that what is still given then is seen by it.
    before: Option<(Option<State>, Trodden)>,
    latest: Option<Instant>,
    /// Moves that ladders made, and rungs they stood on, at least once.
    history: Trodden,
    /// Whether the values of every reading are kept for the longest change that is asked for; else only of those whose
    /// changes are.
    keeps_all: bool,
}

impl Session {
    /// A session in which nothing has happened yet.
    pub fn new(program: Arc<Program>, setting: Arc<Setting>, mode: Mode) -> Self {
        // A derived reading changes with those it is worked out from, which then have to be kept as long.
        let is_derived =
            |target: &GivenTarget| matches!(target, GivenTarget::Known(known) if water::derivation(*known).is_some());
        let keeps_all = program.ready().changes.iter().any(|(target, _)| is_derived(target));
        Self {
            first_rungs: vec![None; program.ladders.len()],
            untold: Vec::new(),
            program,
            setting,
            mode,
            alone: false,
            given: HashMap::with_capacity(FEW),
            written: HashMap::new(),
            made: HashMap::new(),
            casts: VecDeque::new(),
            places: VecDeque::new(),
            strikes: VecDeque::new(),
            quiet_since: None,
            fished_before: 0,
            lines_in_since: None,
            starts: None,
            state: None,
            before: None,
            latest: None,
            history: Trodden::default(),
            keeps_all,
        }
    }

    /// Readings of one request without a history: lines are in, unless it says otherwise, and no steps are made.
    pub fn alone(program: Arc<Program>, setting: Arc<Setting>) -> Self {
        Self { alone: true, ..Self::new(program, setting, Mode::Live) }
    }

    /// Its program.
    pub fn program(&self) -> &Arc<Program> {
        &self.program
    }

    /// What does not change during it.
    pub fn setting(&self) -> &Setting {
        &self.setting
    }

    /// Whether lines have been in, so that steps run.
    pub fn started(&self) -> bool {
        self.starts.is_some()
    }

    /// The latest instant taken in.
    pub fn latest(&self) -> Option<Instant> {
        self.latest
    }

    /// The engine's state, once lines have been in.
    pub fn state(&self) -> Option<&State> {
        self.state.as_ref()
    }

    /// Lets time pass to `at`, takes in what happens then, and makes that minute's step, which sees it: all of it, even
    /// where it comes in several calls, or after somebody asked at that very instant.
    pub fn at(&mut self, at: Instant, events: impl IntoIterator<Item = Event>) -> Result<(), OutOfOrder> {
        self.pass_to(at)?;
        for event in events {
            self.take(at, event);
        }
        self.step_at(at);
        Ok(())
    }

    /// Lets time pass up to an instant, its own step left out.
    fn pass_to(&mut self, at: Instant) -> Result<(), OutOfOrder> {
        if let Some(latest) = self.latest.filter(|latest| at < *latest) {
            return Err(OutOfOrder { at, latest });
        }
        let before = self.before.take().filter(|_| self.latest == Some(at));
        if let Some((state, history)) = before {
            self.state = state;
            self.history = history;
        }
        self.latest = Some(at);
        while let Some(next) = self.next_step().filter(|next| *next < at) {
            self.step(next);
        }
        Ok(())
    }

    fn step_at(&mut self, at: Instant) {
        if self.next_step().is_some_and(|next| next <= at) {
            self.before = Some((self.state.clone(), self.history.clone()));
            self.step(at);
        }
    }

    /// When its next step is due, once lines have been in.
    pub fn next_step(&self) -> Option<Instant> {
        match &self.state {
            None => self.starts,
            Some(state) => Some(state.last_step.after(MINUTE)),
        }
    }

    fn step(&mut self, at: Instant) {
        let mut state = self.state.take();
        let moment = Moment::new(self, at);
        let moves = match &mut state {
            Some(state) => state.step(&self.program, &moment),
            None => {
                let mut first = State::first_step(&self.program, &moment, &self.first_rungs, false);
                for ladder in &self.untold {
                    first.put(*ladder, None, &moment);
                }
                state = Some(first);
                Vec::new()
            }
        };
        let rungs = state.as_ref().map(State::rungs).unwrap_or_default();
        self.state = state;
        let numbered = |list: Vec<Option<usize>>| {
            list.into_iter().enumerate().filter_map(|(ladder, number)| number.map(|number| (ladder, number)))
        };
        self.history.moves.extend(numbered(moves));
        self.history.rungs.extend(numbered(rungs));
    }

    /// What ladders did at least once.
    pub fn trodden(&self) -> &Trodden {
        &self.history
    }

    fn take(&mut self, at: Instant, event: Event) {
        match event {
            Event::Give(GivenTarget::Known(Known::LinesIn), value) => {
                if let Some(value) = value.filter(|_| !self.alone) {
                    self.lines(at, value != 0);
                }
                self.put(GivenTarget::Known(Known::LinesIn), at, value);
            }
            Event::Give(GivenTarget::Known(Known::Strikeless), value) => {
                self.quiet_since = value.map(|value| self.fished(at).saturating_sub(value));
                if let Some(value) = value {
                    // Strikes younger than a given `strikeless` are gone.
                    self.strikes.retain(|strike| at.since(*strike) >= value);
                }
                self.put(GivenTarget::Known(Known::Strikeless), at, value);
            }
            Event::Give(target, value) => self.put(target, at, value),
            Event::Cast(cast) => {
                forget(&mut self.casts, at.after(-self.program.ready().longest_change));
                self.casts.push_back((at, cast));
            }
            Event::Place(place) => {
                forget(&mut self.places, at.after(-self.program.ready().longest_change));
                self.places.push_back((at, place));
            }
            Event::Strike => {
                self.strikes.push_back(at);
                let gone = at.after(-self.program.ready().longest_strikes);
                while self.strikes.front().is_some_and(|strike| *strike <= gone) {
                    self.strikes.pop_front();
                }
                if self.quiet_since.is_some() || !self.strikeless_unknown() {
                    self.quiet_since = Some(self.fished(at));
                }
            }
            Event::Rung(ladder, rung) => self.put_on_rung(at, ladder, rung),
            Event::Written(target, text) => {
                self.written.insert(target, (at, text));
            }
            Event::Made(target, text) => {
                self.made.insert(target, (at, text));
            }
        }
    }

    /// Whether `strikeless` was made unknown, so that only giving it again makes it known.
    fn strikeless_unknown(&self) -> bool {
        let history = self.given.get(&GivenTarget::Known(Known::Strikeless));
        history.is_some_and(|history| history.latest.1.is_none())
    }

    fn put(&mut self, target: GivenTarget, at: Instant, value: Option<i64>) {
        let ready = self.program.ready();
        let keep = if self.keeps_all {
            ready.longest_change
        } else {
            ready.changes.iter().find(|(changes, _)| *changes == target).map_or(0, |(_, window)| *window)
        };
        let history = self.given.entry(target);
        history.and_modify(|history| history.put(at, value, keep)).or_insert_with(|| History::new(at, value));
    }

    fn put_on_rung(&mut self, at: Instant, ladder: LadderId, rung: Option<usize>) {
        match self.state.take() {
            None => {
                if let Some(slot) = self.first_rungs.get_mut(ladder.index()) {
                    *slot = rung;
                }
                self.untold.retain(|untold| *untold != ladder.index());
                if rung.is_none() {
                    self.untold.push(ladder.index());
                }
            }
            Some(mut state) => {
                let moment = Moment::new(self, at);
                state.put(ladder.index(), rung, &moment);
                self.state = Some(state);
            }
        }
    }

    /// Lines go in or come out. The first time they go in the session's steps begin.
    fn lines(&mut self, at: Instant, lines_in: bool) {
        match (lines_in, self.lines_in_since) {
            (true, None) => {
                self.lines_in_since = Some(at);
                if !self.strikeless_unknown() {
                    self.quiet_since = Some(self.fished_before);
                }
                self.starts.get_or_insert(at);
            }
            (false, Some(since)) => {
                self.fished_before = self.fished_before.saturating_add(at.since(since));
                self.lines_in_since = None;
            }
            _ => {}
        }
    }

    fn fished(&self, at: Instant) -> i64 {
        let running = self.lines_in_since.map_or(0, |since| at.since(since).max(0));
        self.fished_before.saturating_add(running)
    }

    /// What the session knows at an instant, which must not lie before the latest one taken in.
    pub fn moment(&self, at: Instant) -> Moment<'_> {
        Moment::new(self, at)
    }

    /// The state that advice at a moment stands in: the session's, or before lines went in that without a session.
    pub fn standing(&self, moment: &Moment<'_>) -> State {
        match &self.state {
            Some(state) => state.clone(),
            None => {
                let strikeless = moment.given_strikeless();
                alone::state(&self.program, moment, strikeless, &self.first_rungs)
            }
        }
    }

    /// What the rules make of an instant.
    pub fn outcome(&self, at: Instant) -> Outcome {
        let moment = self.moment(at);
        self.outcome_of(&moment, &self.standing(&moment))
    }

    /// What the rules make of a moment, with a standing.
    pub fn outcome_of(&self, moment: &Moment<'_>, standing: &State) -> Outcome {
        match &self.state {
            Some(_) => decide(&self.program, moment, standing),
            None => {
                let frozen = self.frozen(moment);
                decide(&self.program, &frozen, standing)
            }
        }
    }

    /// The readings of a moment before lines went in, as advice without a session takes them.
    pub fn frozen<'m>(&'m self, moment: &'m Moment<'m>) -> alone::Frozen<'m> {
        let elapsed = moment.given_strikeless();
        alone::Frozen { program: &self.program, readings: moment, now: moment.now(), elapsed }
    }

    /// Whether a value given at a time is still good at a later one.
    fn is_good(&self, target: GivenTarget, given_at: Instant, at: Instant) -> bool {
        if self.mode == Mode::Trial {
            return true;
        }
        let good_for = match target {
            GivenTarget::Known(known) | GivenTarget::Call(known, ..) => known.entry().good_for,
            GivenTarget::Own(own) => match self.program.own.get(own).and_then(|own| own.good_for) {
                Some(span) => GoodFor::Span(span),
                None => GoodFor::Day,
            },
            GivenTarget::ChangeOfKnown(..) | GivenTarget::ChangeOfOwn(..) => Known::Change.entry().good_for,
        };
        match good_for {
            GoodFor::Span(span) => at.since(given_at) <= span,
            GoodFor::Day => match &self.setting.zone {
                Some(zone) => at <= end_of_day(given_at, zone),
                None => at.since(given_at) < crate::vocabulary::quantity::DAY,
            },
        }
    }
}
