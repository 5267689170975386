//! What a session knows at one instant.

use std::cell::OnceCell;
use std::sync::Arc;

use jiff::tz::TimeZone;

use super::{Mode, Session};
use crate::engine::alone::count;
use crate::engine::{Mark, Readings};
use crate::program::expr::InputId;
use crate::program::{GivenTarget, InputSource};
use crate::vocabulary::catalogue::Known;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::quantity::DAY;
use crate::vocabulary::time::Instant;
use crate::water::cast::{Cast, Profile};
use crate::water::estimate::{self, Estimate};
use crate::water::heat::{self, Layers};
use crate::water::lake::Lake;
use crate::water::{self, Needs, Place, Surroundings};

/// Where a reading came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Origin {
    /// Somebody or something gave it.
    Given,
    /// It was worked out.
    Derived,
    /// A model's estimate.
    Estimated,
    /// It is not known.
    Unknown,
}

impl Origin {
    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Origin::Given => "given",
            Origin::Derived => "derived",
            Origin::Estimated => "estimated",
            Origin::Unknown => "unknown",
        }
    }
}

/// How old a value is, in counts.
pub type Age = i64;

/// A reading as it is reported.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// The value; none is unknown.
    pub value: Option<i64>,
    /// Where it came from.
    pub origin: Origin,
    /// How old it is: of what was given, and of the oldest that went into what was derived.
    pub age: Option<Age>,
    /// The readings it came from.
    pub from: Vec<&'static str>,
    /// How it was derived, or how an instrument's was made.
    pub how: Option<Arc<str>>,
    /// For an unknown one, what would make it known.
    pub needs: Option<String>,
    /// For a given one, how it was written.
    pub written: Option<Arc<str>>,
}

/// What was given for a target.
#[derive(Clone, Copy, Debug)]
enum Given {
    Nothing,
    /// Made unknown, until it is given again.
    Unknown,
    /// Past its time.
    Stale(Instant),
    Good(Instant, i64),
}

/// What a session knows at one instant.
pub struct Moment<'s> {
    session: &'s Session,
    at: Instant,
    cast: OnceCell<Option<Arc<Cast>>>,
    layers: OnceCell<Layers>,
    estimate: OnceCell<Result<Estimate, Needs>>,
    values: Vec<OnceCell<Option<i64>>>,
}

impl<'s> Moment<'s> {
    pub(super) fn new(session: &'s Session, at: Instant) -> Self {
        let values = session.program.inputs.iter().map(|_| OnceCell::new()).collect();
        Self { session, at, cast: OnceCell::new(), layers: OnceCell::new(), estimate: OnceCell::new(), values }
    }

    fn given(&self, target: GivenTarget) -> Given {
        match self.session.given.get(&target).and_then(|history| history.at(self.at)) {
            None => Given::Nothing,
            Some((_, None)) => Given::Unknown,
            Some((at, Some(value))) if self.session.is_good(target, at, self.at) => Given::Good(at, value),
            Some((at, Some(_))) => Given::Stale(at),
        }
    }

    /// `strikeless` as a request without a session gives it; zero where it does not.
    pub fn given_strikeless(&self) -> i64 {
        match self.given(GivenTarget::Known(Known::Strikeless)) {
            Given::Good(_, value) => value.clamp(0, DAY),
            _ => 0,
        }
    }

    fn source(&self, source: InputSource) -> Option<i64> {
        match source {
            InputSource::Change(of, window) => self.change(of, window),
            source => self.target(asked(&self.session.program, source)?),
        }
    }

    fn known(&self, known: Known) -> Option<i64> {
        match known {
            Known::Strikeless => return self.strikeless(),
            Known::LinesIn => return self.lines_in(),
            Known::Position => return self.place().map(|_| 1),
            Known::Surface => return self.surface(),
            _ => {}
        }
        match self.given(GivenTarget::Known(known)) {
            Given::Good(at, value) => self.run_on(known, at, value),
            Given::Unknown => None,
            Given::Nothing | Given::Stale(_) => self.derive(known).ok(),
        }
    }

    /// A given clock and its like run on from where they were given.
    fn run_on(&self, known: Known, at: Instant, value: i64) -> Option<i64> {
        let Some(direction) = known.runs_on() else { return Some(value) };
        let now = value.saturating_add(direction * self.at.since(at));
        match known {
            Known::Clock => Some(now.rem_euclid(DAY)),
            _ => (now >= 0).then_some(now),
        }
    }

    fn derive(&self, known: Known) -> Result<i64, Needs> {
        match known {
            Known::BaitAllowed => self
                .session
                .setting
                .bait_allowed
                .map(i64::from)
                .ok_or_else(|| "what the lake allows, from the water file".into()),
            Known::Releasing => self
                .session
                .setting
                .releasing
                .map(i64::from)
                .ok_or_else(|| "whether fish are released, from you or the water file".into()),
            Known::CastMeasured => match (self.made_cast(), Surroundings::estimate(self)) {
                (Some(_), _) => Ok(1),
                (None, Ok(_)) => Ok(0),
                (None, Err(_)) => Err("a cast".into()),
            },
            known => match water::derivation(known) {
                Some(derivation) => (derivation.derive)(self),
                None => Err("to be given".into()),
            },
        }
    }

    fn strikeless(&self) -> Option<i64> {
        if self.session.starts.is_none() {
            return Some(self.given_strikeless());
        }
        let since = self.session.quiet_since?;
        Some(self.fished().saturating_sub(since))
    }

    fn lines_in(&self) -> Option<i64> {
        if matches!(self.given(GivenTarget::Known(Known::LinesIn)), Given::Unknown) {
            return None;
        }
        if self.session.starts.is_some() {
            return Some(i64::from(self.session.lines_in_since.is_some()));
        }
        match self.given(GivenTarget::Known(Known::LinesIn)) {
            Given::Good(_, value) => Some(value),
            _ => Some(1),
        }
    }

    /// The surface temperature: given, or the cast's point at 0 where nothing newer gives it.
    fn surface(&self) -> Option<i64> {
        let of_cast = || {
            let (at, cast) = self.made_cast()?;
            Some((at, cast.temperature.at_surface()?))
        };
        match self.given(GivenTarget::Known(Known::Surface)) {
            Given::Unknown => None,
            Given::Good(at, value) => match of_cast() {
                Some((cast_at, from_cast)) if cast_at > at => Some(from_cast),
                _ => Some(value),
            },
            Given::Nothing | Given::Stale(_) => of_cast().map(|(_, value)| value),
        }
    }

    /// The last cast that is still good, as it was made.
    fn made_cast(&self) -> Option<(Instant, &'s Arc<Cast>)> {
        let casts = &self.session.casts;
        let after = casts.partition_point(|(at, _)| *at <= self.at);
        let (at, cast) = casts.get(after.checked_sub(1)?)?;
        let good = self.session.is_good(GivenTarget::Known(Known::CastMeasured), *at, self.at);
        cast.as_ref().filter(|_| good).map(|cast| (*at, cast))
    }

    /// The cast as it counts now: a good `surface` given later stands at 0; alone it is a cast of one point.
    fn effective_cast(&self) -> Option<Arc<Cast>> {
        let surface = match self.given(GivenTarget::Known(Known::Surface)) {
            Given::Good(at, value) => Some((at, value)),
            _ => None,
        };
        match (self.made_cast(), surface) {
            (None, None) => None,
            (Some((_, cast)), None) => Some(cast.clone()),
            (None, Some((_, surface))) => {
                Some(Arc::new(Cast { temperature: Profile::new(vec![(0, surface)]), oxygen: Profile::default() }))
            }
            (Some((cast_at, cast)), Some((at, surface))) => {
                let alone = cast.temperature.points().is_empty();
                if at > cast_at || alone {
                    let temperature = cast.temperature.with_surface(surface);
                    Some(Arc::new(Cast { temperature, oxygen: cast.oxygen.clone() }))
                } else {
                    Some(cast.clone())
                }
            }
        }
    }

    fn derived_call(&self, known: Known, kind: Kind, argument: i64) -> Result<i64, Needs> {
        match self.given(GivenTarget::Call(known, kind, argument)) {
            Given::Good(_, value) => Ok(value),
            Given::Unknown => Err("it was said to be unknown".into()),
            Given::Nothing | Given::Stale(_) => water::call(known, kind, argument, self).value,
        }
    }

    /// The reading now less the reading as it stood a window ago.
    fn change(&self, of: InputId, window: i64) -> Option<i64> {
        match self.session.program.inputs.get(of.index())?.source {
            InputSource::Known(known) => self.target(GivenTarget::ChangeOfKnown(known, window)),
            InputSource::Own(at) => self.target(GivenTarget::ChangeOfOwn(at, window)),
            _ => None,
        }
    }

    fn gained(&self, target: GivenTarget, of: GivenTarget, window: i64) -> Option<i64> {
        match self.given(target) {
            Given::Good(_, value) => return Some(value),
            Given::Unknown => return None,
            Given::Nothing | Given::Stale(_) => {}
        }
        self.session.starts?;
        let now = self.target(of)?;
        let then = Moment::new(self.session, self.at.after(-window)).target(of)?;
        now.checked_sub(then)
    }

    /// The value of whatever can be asked or given.
    fn target(&self, target: GivenTarget) -> Option<i64> {
        match target {
            GivenTarget::Known(known) => self.known(known),
            GivenTarget::Own(_) => match self.given(target) {
                Given::Good(_, value) => Some(value),
                _ => None,
            },
            GivenTarget::Call(Known::Strikes, _, window) => self.strikes(window),
            GivenTarget::Call(known, kind, argument) => self.derived_call(known, kind, argument).ok(),
            GivenTarget::ChangeOfKnown(known, window) => self.gained(target, GivenTarget::Known(known), window),
            GivenTarget::ChangeOfOwn(at, window) => self.gained(target, GivenTarget::Own(at), window),
        }
    }

    fn strikes(&self, window: i64) -> Option<i64> {
        match self.given(GivenTarget::Call(Known::Strikes, Kind::Duration, window)) {
            Given::Good(_, value) => return Some(value),
            Given::Unknown => return None,
            Given::Nothing | Given::Stale(_) => {}
        }
        self.session.starts?;
        self.counted(window, |_| true)
    }

    fn counted(&self, window: i64, counts: impl Fn(Instant) -> bool) -> Option<i64> {
        let since = self.at.after(-window);
        let strikes = self.session.strikes.iter().filter(|at| **at <= self.at && **at > since && counts(**at));
        count(strikes.count())
    }

    /// An input of the program as it is reported.
    pub fn report(&self, source: InputSource) -> Reading {
        match asked(&self.session.program, source) {
            Some(target) => self.report_of(target),
            None => Reading::unknown(String::new()),
        }
    }

    /// Whether an input of the program is known, and an estimate.
    pub fn is_estimated(&self, source: InputSource) -> bool {
        let Some(target) = asked(&self.session.program, source) else { return false };
        // Most readings never are, which is said sooner than what they are worth.
        let could_be = match target {
            GivenTarget::Known(known) => water::derivation(known).is_some_and(|derived| (derived.estimated)(self)),
            GivenTarget::Own(_) | GivenTarget::ChangeOfOwn(..) | GivenTarget::Call(Known::Strikes, ..) => false,
            GivenTarget::Call(..) | GivenTarget::ChangeOfKnown(..) => true,
        };
        could_be
            && self.target(target).is_some()
            && !matches!(self.given(target), Given::Good(at, _) if self.is_the_given_one(target, at))
            && self.whence(target).origin == Origin::Estimated
    }

    /// A reading as it is reported: with its origin, its age, what it came from and what it needs.
    pub fn report_of(&self, target: GivenTarget) -> Reading {
        let Some(value) = self.target(target) else { return Reading::unknown(self.needs(target)) };
        if let Given::Good(at, _) = self.given(target)
            && self.is_the_given_one(target, at)
        {
            let at_that = |(when, text): &(Instant, Arc<str>)| (*when == at).then(|| text.clone());
            return Reading {
                value: Some(value),
                origin: Origin::Given,
                age: Some(self.at.since(at)),
                from: Vec::new(),
                how: self.session.made.get(&target).and_then(at_that),
                needs: None,
                written: self.session.written.get(&target).and_then(at_that),
            };
        }
        let Whence { origin, from, how } = self.whence(target);
        let age = self.derived_age(target, &from);
        Reading { value: Some(value), origin, age, from, how: how.map(Arc::from), needs: None, written: None }
    }

    /// What a value that nobody gave came from.
    fn whence(&self, target: GivenTarget) -> Whence {
        let derived = |from: &[&'static str]| Whence { origin: Origin::Derived, from: from.to_vec(), how: None };
        match target {
            GivenTarget::Known(Known::BaitAllowed | Known::Releasing) => {
                Whence { origin: Origin::Given, ..derived(&["water file"]) }
            }
            GivenTarget::Known(Known::Surface) => derived(&["cast"]),
            GivenTarget::Known(Known::CastMeasured) if self.made_cast().is_none() => {
                Whence { how: Some("nobody made a cast: a model's estimate stands in"), ..derived(estimate::FROM) }
            }
            GivenTarget::Known(Known::Position) if self.boat_place().is_none() => derived(&["water file"]),
            GivenTarget::Known(Known::Position) | GivenTarget::Own(_) => derived(&[]),
            GivenTarget::Known(Known::Strikeless | Known::LinesIn) if self.session.starts.is_none() => {
                Whence { how: Some("lines have just gone in, as nobody says otherwise"), ..derived(&[]) }
            }
            GivenTarget::Known(known) => match water::derivation(known) {
                Some(derivation) => Whence {
                    origin: if (derivation.estimated)(self) { Origin::Estimated } else { Origin::Derived },
                    from: (derivation.from)(self).to_vec(),
                    how: Some((derivation.how)(self)),
                },
                None => derived(known.entry().from),
            },
            GivenTarget::Call(Known::Strikes, ..) => derived(Known::Strikes.entry().from),
            GivenTarget::Call(known, kind, argument) => {
                let call = water::call(known, kind, argument, self);
                let origin = if call.estimated { Origin::Estimated } else { Origin::Derived };
                Whence { origin, from: call.from.to_vec(), how: call.how }
            }
            GivenTarget::ChangeOfKnown(known, _) => {
                // A change of an estimate is one too.
                let estimated = self.report_of(GivenTarget::Known(known)).origin == Origin::Estimated;
                let origin = if estimated { Origin::Estimated } else { Origin::Derived };
                Whence { origin, ..derived(Known::Change.entry().from) }
            }
            GivenTarget::ChangeOfOwn(..) => derived(Known::Change.entry().from),
        }
    }

    fn is_the_given_one(&self, target: GivenTarget, at: Instant) -> bool {
        // A later cast's point at 0 takes the place of a given surface.
        target != GivenTarget::Known(Known::Surface)
            || self.made_cast().is_none_or(|(made, cast)| made <= at || cast.temperature.at_surface().is_none())
    }

    /// How old the oldest is that went into a derived value.
    fn derived_age(&self, target: GivenTarget, from: &[&str]) -> Option<Age> {
        let age = |known| match self.given(GivenTarget::Known(known)) {
            Given::Good(at, _) => Some(self.at.since(at)),
            _ => None,
        };
        match target {
            GivenTarget::Known(Known::Surface) => self.made_cast().map(|(at, _)| self.at.since(at)),
            // A surface given later than the cast counts as its point at 0, and makes the cast no younger.
            _ if from.contains(&"cast") => {
                self.made_cast().map(|(at, _)| self.at.since(at)).or_else(|| age(Known::Surface))
            }
            _ => from.iter().filter_map(|name| age(Known::reading(name)?)).max(),
        }
    }

    /// What would make something known.
    fn needs(&self, target: GivenTarget) -> String {
        match self.given(target) {
            Given::Stale(at) => {
                let age = crate::vocabulary::print::duration(self.at.since(at));
                return format!("a newer value; the last one is {age} old");
            }
            Given::Unknown => return "a value: it was said to be unknown".to_owned(),
            Given::Nothing | Given::Good(..) => {}
        }
        match target {
            GivenTarget::Known(Known::Surface | Known::LinesIn | Known::Strikeless) | GivenTarget::Own(_) => {
                "to be given".to_owned()
            }
            GivenTarget::Known(Known::Position) => "a position, from the boat or the water file".to_owned(),
            GivenTarget::Known(known) => {
                self.derive(known).err().map_or_else(String::new, |needs| needs.0.into_owned())
            }
            GivenTarget::Call(Known::Strikes, ..) => "lines in the water for that long".to_owned(),
            GivenTarget::Call(known, kind, argument) => {
                self.derived_call(known, kind, argument).err().map_or_else(String::new, |needs| needs.0.into_owned())
            }
            GivenTarget::ChangeOfKnown(..) | GivenTarget::ChangeOfOwn(..) => {
                "a session: the reading now, and as it stood that long ago".to_owned()
            }
        }
    }

    /// How deep the cast that counts now goes, in counts; a surface temperature alone is none that anybody made.
    pub fn cast_depth(&self) -> Option<i64> {
        self.made_cast()?;
        let cast = self.cast()?;
        let deepest = |profile: &Profile| profile.points().last().map(|(depth, _)| *depth);
        deepest(&cast.temperature).max(deepest(&cast.oxygen))
    }
}

impl Reading {
    fn unknown(needs: String) -> Self {
        Self {
            value: None,
            origin: Origin::Unknown,
            age: None,
            from: Vec::new(),
            how: None,
            needs: Some(needs),
            written: None,
        }
    }
}

/// Where a value came from that nobody gave.
struct Whence {
    origin: Origin,
    from: Vec<&'static str>,
    how: Option<&'static str>,
}

/// What an input asks for; none for a change of what has none.
fn asked(program: &crate::program::Program, source: InputSource) -> Option<GivenTarget> {
    Some(match source {
        InputSource::Known(known) => GivenTarget::Known(known),
        InputSource::Own(at) => GivenTarget::Own(at),
        InputSource::Call(known, kind, argument) => GivenTarget::Call(known, kind, argument),
        InputSource::Strikes(window) => GivenTarget::Call(Known::Strikes, Kind::Duration, window),
        InputSource::Change(of, window) => match program.inputs.get(of.index())?.source {
            InputSource::Known(known) => GivenTarget::ChangeOfKnown(known, window),
            InputSource::Own(at) => GivenTarget::ChangeOfOwn(at, window),
            _ => return None,
        },
    })
}

impl Readings for Moment<'_> {
    fn now(&self) -> Instant {
        self.at
    }

    fn input(&self, id: InputId) -> Option<i64> {
        let source = self.session.program.inputs.get(id.index())?.source;
        *self.values.get(id.index())?.get_or_init(|| self.source(source))
    }

    fn call(&self, known: Known, kind: Kind, argument: i64) -> Option<i64> {
        self.derived_call(known, kind, argument).ok()
    }

    fn fished(&self) -> i64 {
        self.session.fished(self.at)
    }

    fn strikeless_since(&self, mark: Mark) -> Option<i64> {
        let strikeless = self.strikeless()?;
        let since_move = self.fished().saturating_sub(mark.fished);
        Some(if mark.moved { strikeless.min(since_move) } else { strikeless })
    }

    fn strikes_since(&self, window: i64, mark: Mark) -> Option<i64> {
        // A count that was given stands until the ladder moves.
        match self.given(GivenTarget::Call(Known::Strikes, Kind::Duration, window)) {
            Given::Good(at, value) if mark.at < at || (mark.counts_own && mark.at == at) => return Some(value),
            Given::Unknown => return None,
            _ => {}
        }
        self.counted(window, |at| if mark.counts_own { at >= mark.at || !mark.moved } else { at > mark.at })
    }
}

impl Surroundings for Moment<'_> {
    fn calendar(&self) -> Option<Instant> {
        (self.session.mode == Mode::Live).then_some(self.at)
    }

    fn zone(&self) -> Option<&TimeZone> {
        self.session.setting.zone.as_ref()
    }

    fn place(&self) -> Option<Place> {
        self.boat_place().or(self.session.setting.place)
    }

    fn reading(&self, known: Known) -> Option<i64> {
        self.known(known)
    }

    fn cast(&self) -> Option<&Cast> {
        self.cast.get_or_init(|| self.effective_cast()).as_deref()
    }

    fn lake(&self) -> &Lake {
        &self.session.setting.lake
    }

    fn layers(&self) -> Layers {
        *self.layers.get_or_init(|| heat::of_cast(self.cast()))
    }

    fn estimate(&self) -> Result<&Estimate, Needs> {
        let estimate = self.estimate.get_or_init(|| {
            if self.made_cast().is_some() {
                return Err("no estimate: somebody made a cast".into());
            }
            let date = self.calendar().zip(self.zone()).map(|(at, zone)| at.zoned(zone).date());
            estimate::estimate(self.lake(), self.place(), date, self.surface())
        });
        estimate.as_ref().map_err(Needs::clone)
    }
}

impl Moment<'_> {
    /// Where the boat said it was, while that is good.
    fn boat_place(&self) -> Option<Place> {
        let places = &self.session.places;
        let after = places.partition_point(|(at, _)| *at <= self.at);
        let last = after.checked_sub(1).and_then(|at| places.get(at));
        let good = last.filter(|(at, _)| self.session.is_good(GivenTarget::Known(Known::Position), *at, self.at));
        good.map(|(_, place)| *place)
    }
}
