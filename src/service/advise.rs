//! Advice on one moment, without a session, and on many in one call.

use std::borrow::Cow;
use std::sync::Arc;

use jiff::tz::TimeZone;

use super::library::{Library, Shelf};
use super::limits::{Deadline, Limits, MOST_MOMENTS, MOST_READINGS};
use super::source_text;
use super::status::Refusal;
use super::v1;
use super::wire::given::{self, Water};
use super::wire::{self, Violations};
use crate::advice::{self, readings};
use crate::check::without_strategy;
use crate::program::Program;
use crate::session::{Event, Session, Setting};
use crate::source::Faults;
use crate::source::boat::Boat;
use crate::source::given::Giver;
use crate::source::yaml::Document;
use crate::tackle::settings::NoSettings;
use crate::vocabulary::time::{Instant, to_the_second};

/// What a request goes by.
pub enum Chosen {
    /// A strategy of the folder, by name.
    Served(String),
    /// A source sent along.
    Sent(v1::InlineSource),
}

/// The programs that the requests of one call go by. A source sent along several times in a row is checked once.
pub struct Programs<'l> {
    library: &'l Library,
    shelf: Arc<Shelf>,
    last: Option<(v1::InlineSource, Arc<Program>)>,
}

impl<'l> Programs<'l> {
    /// The programs of a library as it is now.
    pub fn of(library: &'l Library) -> Self {
        Self { library, shelf: library.shelf(), last: None }
    }

    /// The program of a request, or of a trip's opening, at a path.
    pub fn get(&mut self, path: &str, chosen: Option<Chosen>) -> Result<Arc<Program>, Refusal> {
        match chosen {
            Some(Chosen::Served(name)) => self.shelf.program(&field(path, "strategy_name"), &name),
            Some(Chosen::Sent(source)) => {
                if let Some((_, program)) = self.last.as_ref().filter(|(last, _)| *last == source) {
                    return Ok(program.clone());
                }
                let program = source_text::program(self.library, &field(path, "source"), source.clone())?;
                self.last = Some((source, program.clone()));
                Ok(program)
            }
            None => {
                let why = "there is no strategy; name one of the folder, or send a source";
                Err(Refusal::field(field(path, "strategy_name"), why))
            }
        }
    }
}

/// Most rules, lets and rungs of a strategy whose advice is light, and most readings of a light request.
const LIGHT: usize = 200;

/// Whether a request takes so little work that handing it to a worker would cost more than answering it: a served
/// strategy of an everyday size, a few readings, and no hours to be played before the moment.
pub fn is_light(library: &Library, request: &v1::AdviseRequest) -> bool {
    let Some(v1::advise_request::Strategy::StrategyName(name)) = &request.strategy else { return false };
    let is_small = |program: Arc<Program>| {
        let rungs: usize = program.ladders.iter().map(|ladder| ladder.rungs.len()).sum();
        program.rules.len() <= LIGHT && program.lets.len() <= LIGHT && rungs <= LIGHT
    };
    let played = request.strikeless.is_some();
    !played && request.readings.len() <= LIGHT && library.shelf().program("strategy_name", name).is_ok_and(is_small)
}

/// Advice on one moment. `now` is the moment where the request says none.
pub fn one(library: &Library, request: v1::AdviseRequest, now: Instant) -> Result<v1::AdviseResponse, Refusal> {
    answer("", &mut Programs::of(library), request, now)
}

/// Advice on many moments: on all of them, or a refusal for the first that can't be answered.
pub fn many(
    library: &Library,
    request: v1::AdviseManyRequest,
    now: Instant,
    limits: &Limits,
    deadline: Deadline,
) -> Result<v1::AdviseManyResponse, Refusal> {
    let v1::AdviseManyRequest { requests } = request;
    if requests.len() > MOST_MOMENTS {
        let why = format!("{} requests; at most {MOST_MOMENTS} are answered in one call", requests.len());
        return Err(Refusal::field("requests", why));
    }
    let mut programs = Programs::of(library);
    let mut response = v1::AdviseManyResponse::default();
    let mut bytes = 0;
    for (at, request) in requests.into_iter().enumerate() {
        deadline.check()?;
        let answer = answer(&format!("requests[{at}]."), &mut programs, request, now)?;
        bytes += prost::Message::encoded_len(&answer);
        if bytes > limits.bytes_out {
            return Err(Refusal::AnswerTooLarge { bytes, most: limits.bytes_out });
        }
        response.responses.push(answer);
    }
    Ok(response)
}

/// Every reading of one moment, or those that are asked for. `now` is the moment where the request says none.
pub fn describe(
    library: &Library,
    request: v1::DescribeMomentRequest,
    now: Instant,
) -> Result<v1::DescribeMomentResponse, Refusal> {
    let v1::DescribeMomentRequest { strategy, at, water, readings, cast, names: asked } = request;
    let program = match strategy {
        Some(v1::describe_moment_request::Strategy::StrategyName(name)) => {
            Programs::of(library).get("", Some(Chosen::Served(name)))?
        }
        Some(v1::describe_moment_request::Strategy::Source(source)) => {
            Programs::of(library).get("", Some(Chosen::Sent(source)))?
        }
        None => without_strategy().ok_or(Refusal::Fault)?,
    };
    let mut wrong = Violations::default();
    if asked.len() > MOST_READINGS {
        wrong.add("names", format!("{} names; at most {MOST_READINGS} are taken", asked.len()));
        wrong.refuse()?;
        return Err(Refusal::Fault);
    }
    let mut giver = Giver::new(&program);
    let (mut water, timed) = given_at("", &mut giver, water, readings, cast, &mut wrong);
    let wanted = given::names("names", &mut giver, &asked, &mut wrong);
    let (at, events) = in_time("at", &at, timed, &mut water, now, &mut wrong);
    wrong.refuse()?;
    let session = session_of(program.clone(), water.setting, events)?;
    let zone = session.setting().zone.clone().unwrap_or(TimeZone::UTC);
    let moment = session.moment(at);
    let every = if asked.is_empty() { readings::every(&program) } else { wanted };
    let beside = if asked.is_empty() { readings::beside(&program, &moment, &zone) } else { Vec::new() };
    Ok(v1::DescribeMomentResponse {
        at: to_the_second(&at.zoned(&zone)),
        readings: every.iter().map(|one| wire::advice::reading(readings::reading(&program, &moment, one))).collect(),
        beside: beside.into_iter().map(wire::advice::beside).collect(),
    })
}

/// The settings of a boat's rods. `now` is the moment where the request says none.
pub fn set_rods(library: &Library, request: v1::SetRodsRequest, now: Instant) -> Result<v1::SetRodsResponse, Refusal> {
    use v1::set_rods_request::Call;
    let v1::SetRodsRequest { call, at, water, readings, cast, boat, lines, drawings } = request;
    let (program, said) = match call {
        Some(Call::StrategyName(name)) => (Programs::of(library).get("", Some(Chosen::Served(name)))?, None),
        Some(Call::Source(source)) => (Programs::of(library).get("", Some(Chosen::Sent(source)))?, None),
        Some(Call::Said(said)) => (without_strategy().ok_or(Refusal::Fault)?, Some(said)),
        None => return Err(Refusal::field("said", "nothing is called; name a strategy, or say depth and speed")),
    };
    let mut wrong = Violations::default();
    let said = said.map(|said| wire::rods::said("said", said, &mut wrong));
    let boat = Document::parse("boat", boat).map_err(Faults::from).and_then(|document| Boat::of(&document));
    let rods = match boat.map(|boat| boat.rods(lines.map(|lines| lines as usize))) {
        Ok(Some(rods)) => Some(rods),
        Ok(None) => {
            wrong.add("boat", NoSettings::NoRods.to_string());
            None
        }
        Err(faults) => {
            faults.iter().for_each(|fault| wrong.add("boat", fault.to_string()));
            None
        }
    };
    let mut giver = Giver::new(&program);
    let (mut water, timed) = given_at("", &mut giver, water, readings, cast, &mut wrong);
    let (at, events) = in_time("at", &at, timed, &mut water, now, &mut wrong);
    wrong.refuse()?;
    let rods = rods.ok_or(Refusal::Fault)?;
    let session = session_of(program, water.setting, events)?;
    let set = match said {
        Some(called) => rods.settings_for(&called.ok_or(Refusal::Fault)?, &session, at),
        None => rods.settings(&session, at),
    };
    let (settings, spread) = set.map_err(|why| match why {
        NoSettings::NotCalled(what) => Refusal::field("readings", format!("the strategy calls no {what} here")),
        why => Refusal::field("boat", why.to_string()),
    })?;
    let system = session.program().system;
    let drawn =
        drawings.then(|| (settings.drawing(&rods.rods, &spread, system), settings.svg(&rods.rods, &spread, system)));
    let (text_drawing, svg_drawing) = drawn.unzip();
    Ok(v1::SetRodsResponse { settings: Some(wire::rods::settings(settings)), text_drawing, svg_drawing })
}

/// The answer to a request that stands at a path: empty, or such as `requests[3].`.
fn answer(
    path: &str,
    programs: &mut Programs<'_>,
    request: v1::AdviseRequest,
    now: Instant,
) -> Result<v1::AdviseResponse, Refusal> {
    let v1::AdviseRequest { strategy, at, water, readings, cast, strikeless, rungs, view } = request;
    let chosen = strategy.map(|strategy| match strategy {
        v1::advise_request::Strategy::StrategyName(name) => Chosen::Served(name),
        v1::advise_request::Strategy::Source(source) => Chosen::Sent(source),
    });
    let program = programs.get(path, chosen)?;
    let mut wrong = Violations::default();
    let mut giver = Giver::new(&program);
    let (mut water, timed) = given_at(path, &mut giver, water, readings, cast, &mut wrong);
    let view = wire::advice::view(&field(path, "view"), view, &mut wrong);
    let standing = given::rungs(&field(path, "rungs"), &program, rungs, &mut wrong);
    let strikeless =
        strikeless.and_then(|quantity| given::strikeless(&field(path, "strikeless"), &quantity, &mut wrong));
    let (at, mut events) = in_time(&field(path, "at"), &at, timed, &mut water, now, &mut wrong);
    wrong.refuse()?;
    // `strikeless` is about the time after all that was given.
    events.extend(standing.into_iter().chain(strikeless).map(|event| (at, event)));
    let session = session_of(program, water.setting, events)?;
    let advice = advice::advise_in(&session, at, &water.shown, view);
    Ok(v1::AdviseResponse { advice: Some(wire::advice::advice(advice, at)) })
}

/// The water of a request at a path, and its events, each with the field and the text of its time.
fn given_at(
    path: &str,
    giver: &mut Giver<'_>,
    water: Option<v1::Water>,
    readings: Vec<v1::Reading>,
    cast: Option<v1::Cast>,
    wrong: &mut Violations,
) -> (Water, Vec<(String, String, Event)>) {
    let water = given::water(&field(path, "water"), water, wrong);
    let mut timed = given::readings(&field(path, "readings"), giver, readings, wrong);
    timed.extend(cast.and_then(|cast| given::cast(&field(path, "cast"), giver, cast, wrong)));
    (water, timed)
}

/// A field of the request at a path.
fn field(path: &str, name: &'static str) -> Cow<'static, str> {
    if path.is_empty() { Cow::Borrowed(name) } else { Cow::Owned(format!("{path}{name}")) }
}

/// The moment of a request, and its events in the order of time.
fn in_time(
    field: &str,
    at: &str,
    timed: Vec<(String, String, Event)>,
    water: &mut Water,
    now: Instant,
    wrong: &mut Violations,
) -> (Instant, Vec<(Instant, Event)>) {
    // Without a zone of the water, that of the moment is everybody's, else that of the first reading with a time.
    let mut zone: Option<TimeZone> = water.setting.zone.clone();
    let mut read = |field: &str, text: &str, wrong: &mut Violations| {
        let (at, here) = given::time(field, text, zone.as_ref(), wrong)?;
        zone.get_or_insert(here);
        Some(at)
    };
    let said = if at.is_empty() { None } else { read(field, at, wrong) };
    let own: Vec<(String, Option<Instant>, Event)> = timed
        .into_iter()
        .map(|(field, text, event)| {
            let at = if text.is_empty() { None } else { read(&field, &text, wrong) };
            (field, at, event)
        })
        .collect();
    let latest = own.iter().filter_map(|(_, at, _)| *at).max();
    let moment = said.or(latest).unwrap_or(now);
    let mut events = Vec::new();
    for (field, at, event) in own {
        let at = at.unwrap_or(moment);
        if at > moment {
            wrong.add(field, "this lies after the moment that advice is asked for");
        }
        events.push((at, event));
    }
    events.sort_by_key(|(at, _)| *at);
    water.setting.zone = zone;
    (moment, events)
}

/// The session of a program with all that a request gave, in the order of time.
fn session_of(program: Arc<Program>, setting: Setting, events: Vec<(Instant, Event)>) -> Result<Session, Refusal> {
    let mut session = Session::alone(program, Arc::new(setting));
    for (when, event) in events {
        session.at(when, [event]).map_err(|_| Refusal::Fault)?;
    }
    Ok(session)
}
