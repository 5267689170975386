//! `leadsman watch`: the day live, from keys and a boat's instruments, with its log.

use std::io::BufRead;
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel};
use std::time::Duration;

use clap::Args;
use jiff::tz::TimeZone;

use super::moment::{now, rods, shown};
use super::strategies::{program, shown as shown_path};
use super::{Ending, output};
use crate::advice::Advice;
use crate::advice::text::{Layout, brief, tell};
use crate::day::live::Live;
use crate::day::log::Log;
use crate::day::press::{Keys, Press};
use crate::day::record::{Head, Record, Told};
use crate::session::Setting;
use crate::source::boat::Boat;
use crate::source::feed::{Clock, Feed, Instruments, Measured};
use crate::source::files::is_there;
use crate::source::gpx;
use crate::source::transport::{Address, Heard, USUAL_BAUD, follow};
use crate::source::water::Water;
use crate::source::{Fault, Faults};
use crate::tackle::settings::Rods;
use crate::vocabulary::quantity::SECOND;
use crate::vocabulary::time::Instant;

/// Call the tactic live, and keep the day's log.
#[derive(Debug, Args)]
pub struct Watch {
    /// The strategy
    strategy: String,
    /// The water file: its zone, its place, what it allows
    #[arg(long, value_name = "FILE")]
    water: Option<String>,
    /// The boat file
    #[arg(long, value_name = "FILE")]
    boat: Option<String>,
    /// Where the day's log is written, or gone on with; else day-DATE.yaml here
    #[arg(long, value_name = "FILE")]
    log: Option<String>,
    /// Instruments: tcp://HOST:PORT, udp://ADDRESS:PORT, a serial line, a recorded file of NMEA 0183 sentences, a GPX
    /// track, or - for standard input; may be repeated
    #[arg(long = "from", value_name = "ADDRESS")]
    from: Vec<String>,
    /// The speed of a serial line, bits a second
    #[arg(long, value_name = "BAUD", default_value_t = USUAL_BAUD)]
    baud: u32,
    /// How many seconds without a good sentence are silence
    #[arg(long, value_name = "SECONDS", default_value_t = 30, value_parser = clap::value_parser!(u16).range(1..=3600))]
    silence: u16,
    /// Lines are in from the first moment
    #[arg(long)]
    lines_in: bool,
    /// Beep where the call changes, and where instruments fall silent
    #[arg(long)]
    beep: bool,
    /// Print each call as one JSON document on a line of its own
    #[arg(long)]
    json: bool,
}

/// What the loop waits for.
enum Incoming {
    /// A typed line.
    Line(String),
    /// No more is typed.
    NoMoreLines,
    /// Something is heard of a feed, by its number.
    Feed(usize, Heard),
    /// A track, whole.
    Track(Vec<Measured>),
}

/// How often time passes by itself, and what was written goes to the disk.
const TICK: Duration = Duration::from_millis(500);

impl Watch {
    /// Runs the command.
    pub fn run(&self) -> Result<Ending, Faults> {
        let Some(program) = program(&self.strategy)? else { return Ok(Ending::Failed) };
        let water = self.water.as_deref().map(Water::read).transpose()?;
        let boat = self.boat.as_deref().map(Boat::read).transpose()?;
        let instruments = boat.as_ref().map_or_else(Instruments::default, |boat| boat.instruments);
        let sources = self.sources()?;
        let recorded = sources.iter().any(Source::is_recorded);
        if recorded && (self.log.is_none() || sources.len() > 1) {
            let fault = match self.log {
                None => Fault::new("a recording is of another day: name its log").help("add `--log FILE`"),
                Some(_) => Fault::new("a recording goes by its own time, and no other feed with it"),
            };
            return Err(fault.within("--from").into());
        }
        let (first, machine_zone) = clock();
        let zone = water.as_ref().and_then(|water| water.setting.zone.clone()).unwrap_or(machine_zone);
        let path = self.log.clone().unwrap_or_else(|| format!("day-{}.yaml", first.zoned(&zone).date()));
        let before = if is_there(&path) { Some(Log::read(&path, Some(&zone))?) } else { None };
        let head = Head {
            water: water.as_ref().map(|water| water.name.clone()),
            boat: boat.as_ref().map(|boat| boat.name.clone()),
            strategy: Some(shown_path(&self.strategy)),
            zone: zone_text(&zone, first),
            ..Head::default()
        };
        let cut = before.as_ref().and_then(|log| log.cut.as_deref());
        let record = Record::open(&path, &head, cut)?;
        let setting = water.as_ref().map_or_else(Setting::default, |water| water.setting.clone());
        let rods = boat.as_ref().and_then(|boat| rods(boat, water.as_ref()));
        let keys = Keys::of(&program);
        let mut live = Live::new(program, setting, zone, water.map(shown).unwrap_or_default(), record);
        if let Some(log) = &before {
            live.resume(log)?;
        }
        let lines_in = self.lines_in && !live.standing().lines_in();
        let clock = if recorded { Clock::Sentences } else { Clock::Arrival };
        let feeds = sources.iter().map(|source| FeedState::new(source, Feed::new(clock, instruments))).collect();
        let layout = Layout { width: output::width(), bold: output::colours(), all_readings: false };
        let mut helm = Helm {
            live,
            keys,
            layout,
            beep: self.beep,
            json: self.json,
            feeds,
            recorded,
            recorded_now: before.as_ref().and_then(|log| log.entries.last()).map(|entry| entry.at),
            lines_in,
            silence: i64::from(self.silence) * SECOND,
            rods,
        };
        helm.greet(before.as_ref());
        if !recorded {
            helm.begin(first)?;
            helm.call(first);
        }
        let keys_too = !sources.contains(&Source::Feed(Address::StandardInput)) && !recorded;
        helm.follow(&listen(sources, keys_too))
    }

    fn sources(&self) -> Result<Vec<Source>, Faults> {
        let mut faults = Faults::default();
        let read = |text: &String| match text.to_lowercase().ends_with(".gpx") {
            true => gpx::read(text).map(|track| {
                let passed_over = [
                    (track.timeless, "without a time"),
                    (track.impossible, "that can't be"),
                    (track.astray, "of other days than the most"),
                ];
                for (count, what) in passed_over {
                    if count > 0 {
                        output::complain(&format!("{text}: {count} points {what} are passed over"));
                    }
                }
                Source::Track(track.measured)
            }),
            false => Address::parse(text, self.baud).map(Source::Feed),
        };
        let sources = self.from.iter().filter_map(|text| faults.keep(read(text))).collect();
        faults.unless_any(sources)
    }
}

/// Where readings come from.
#[derive(PartialEq)]
enum Source {
    Feed(Address),
    Track(Vec<Measured>),
}

impl Source {
    /// Whether it is of another day, and goes by its own time.
    fn is_recorded(&self) -> bool {
        match self {
            Source::Feed(address) => address.is_recorded(),
            Source::Track(_) => true,
        }
    }
}

/// The time, to the millisecond, and the machine's zone.
fn clock() -> (Instant, TimeZone) {
    let (now, zone) = now();
    let whole = jiff::Timestamp::from_millisecond(now.as_millisecond()).unwrap_or(now);
    (Instant::of(whole), zone)
}

/// A zone as a log's head has it: its name, else its offset at the time.
pub(super) fn zone_text(zone: &TimeZone, at: Instant) -> String {
    zone.iana_name().map_or_else(|| at.zoned(zone).strftime("%:z").to_string(), str::to_owned)
}

/// Hears the keys and the feeds, each on a thread of its own.
fn listen(sources: Vec<Source>, keys: bool) -> Receiver<Incoming> {
    let (send, receive) = sync_channel(64);
    for (number, source) in sources.into_iter().enumerate() {
        let send = send.clone();
        std::thread::spawn(move || match source {
            Source::Feed(address) => follow(&address, &mut |heard| send.send(Incoming::Feed(number, heard)).is_ok()),
            Source::Track(measured) => {
                // Where nobody listens any more there is nobody to tell.
                let _ = send.send(Incoming::Track(measured));
                let _ = send.send(Incoming::Feed(number, Heard::Ended));
            }
        });
    }
    if keys {
        std::thread::spawn(move || typed(&send));
    }
    receive
}

fn typed(send: &SyncSender<Incoming>) {
    for line in std::io::stdin().lock().lines() {
        let Ok(line) = line else { break };
        if send.send(Incoming::Line(line)).is_err() {
            return;
        }
    }
    let _ = send.send(Incoming::NoMoreLines);
}

/// A feed as it goes.
struct FeedState {
    name: String,
    feed: Feed,
    since: Option<Instant>,
    silent: bool,
    lost: Option<String>,
    ended: bool,
}

impl FeedState {
    fn new(source: &Source, feed: Feed) -> Self {
        let name = match source {
            Source::Feed(Address::Tcp(server)) => format!("tcp://{server}"),
            Source::Feed(Address::Udp(local)) => format!("udp://{local}"),
            Source::Feed(Address::Serial(path, _) | Address::File(path)) => path.display().to_string(),
            Source::Feed(Address::StandardInput) => "standard input".to_owned(),
            Source::Track(_) => "the track".to_owned(),
        };
        Self { name, feed, since: None, silent: false, lost: None, ended: false }
    }
}

/// Who steers: the day under way, and how it is told.
struct Helm {
    live: Live,
    keys: Keys,
    layout: Layout,
    beep: bool,
    json: bool,
    feeds: Vec<FeedState>,
    /// The day is another one: it goes by the time of the recording.
    recorded: bool,
    recorded_now: Option<Instant>,
    /// Lines go in at the first moment.
    lines_in: bool,
    /// Instruments that say nothing good for so long are silent.
    silence: i64,
    /// The boat's rods, which are set to each call.
    rods: Option<Rods>,
}

impl Helm {
    fn greet(&self, before: Option<&Log>) {
        let path = self.live.path();
        let mut words = match before.map(|log| log.entries.len()) {
            None | Some(0) => format!("the log begins: {path}"),
            Some(events) => format!("the log goes on: {path}, {events} events so far"),
        };
        if before.is_some_and(|log| log.cut.is_some()) {
            words.push_str("; its last line was cut short and is left out");
        }
        output::complain(&words);
        if !self.recorded {
            output::complain("type ? for what can be typed");
        }
    }

    /// The time of the day that is watched; none before a recording has said one.
    fn now(&self) -> Option<Instant> {
        if self.recorded { self.recorded_now } else { Some(clock().0) }
    }

    fn begin(&mut self, at: Instant) -> Result<(), Faults> {
        if std::mem::take(&mut self.lines_in) {
            self.live.happened(at, &Told::Lines(true))?;
        }
        Ok(())
    }

    fn follow(&mut self, incoming: &Receiver<Incoming>) -> Result<Ending, Faults> {
        let mut keys = true;
        loop {
            let goes_on = match incoming.recv_timeout(TICK) {
                Ok(Incoming::Line(line)) => self.typed(clock().0, &line),
                Ok(Incoming::Feed(number, heard)) => self.heard(number, heard).map(|()| true),
                Ok(Incoming::Track(measured)) => self.measured(&measured).map(|()| true),
                Ok(Incoming::NoMoreLines) => {
                    keys = false;
                    Ok(true)
                }
                Err(RecvTimeoutError::Disconnected) => Ok(false),
                Err(RecvTimeoutError::Timeout) => Ok(true),
            };
            let goes_on = goes_on.unwrap_or_else(|faults| {
                // What can't be taken is said, and the day goes on.
                output::faults(&faults);
                true
            });
            if let Some(at) = self.now() {
                self.live.pass(at);
                self.tell_news(at);
                self.tell_silence(at);
            }
            self.live.sync()?;
            let all_ended = self.feeds.iter().all(|feed| feed.ended);
            if !goes_on || (all_ended && (!keys || self.recorded)) {
                break;
            }
        }
        self.farewell();
        Ok(Ending::Fine)
    }

    fn farewell(&self) {
        for feed in &self.feeds {
            let counts = feed.feed.counts();
            let wrong = counts.words().map(|words| format!("; {words}")).unwrap_or_default();
            if counts.good > 0 || !wrong.is_empty() {
                output::complain(&format!("{}: {} good sentences{wrong}", feed.name, counts.good));
            }
        }
        output::complain(&format!("the log is in {}", self.live.path()));
    }

    /// Takes in what is heard of a feed.
    fn heard(&mut self, number: usize, heard: Heard) -> Result<(), Faults> {
        let arrived = clock().0;
        let Some(state) = self.feeds.get_mut(number) else { return Ok(()) };
        state.since.get_or_insert(arrived);
        let mut measured = Vec::new();
        match heard {
            Heard::Bytes(bytes) => state.feed.take(&bytes, arrived, &mut |one| measured.push(one)),
            Heard::Connected => {
                output::complain(&format!("{} is there", state.name));
                state.lost = None;
            }
            Heard::Lost(why) => {
                if state.lost.as_ref() != Some(&why) {
                    output::complain(&format!("{} can't be had: {why}; it is tried again", state.name));
                }
                state.lost = Some(why);
            }
            Heard::Ended => {
                state.ended = true;
                state.feed.ended(&mut |one| measured.push(one));
            }
        }
        self.measured(&measured)
    }

    /// Takes in what was measured, instant by instant.
    fn measured(&mut self, measured: &[Measured]) -> Result<(), Faults> {
        for moment in measured.chunk_by(|a, b| a.at == b.at) {
            let Some(first) = moment.first() else { continue };
            self.begin(first.at)?;
            self.live.measured(first.at, moment)?;
            if self.recorded {
                self.recorded_now = Some(first.at);
                self.tell_news(first.at);
            }
        }
        Ok(())
    }

    /// Says aloud where instruments have fallen silent, and where they are back.
    fn tell_silence(&mut self, at: Instant) {
        if self.recorded {
            return;
        }
        for state in self.feeds.iter_mut().filter(|state| !state.ended) {
            let heard = state.feed.last_good().or(state.since);
            let since = *state.since.get_or_insert(at);
            let silent = at.since(heard.unwrap_or(since)) > self.silence;
            if silent && !state.silent {
                let bell = if self.beep { "\u{7}" } else { "" };
                output::complain(&format!("{bell}{} is silent: its readings grow old", state.name));
            } else if !silent && state.silent {
                output::complain(&format!("{} is heard again", state.name));
            }
            state.silent = silent;
        }
    }

    /// Does what a typed line says; whether the watch goes on.
    fn typed(&mut self, at: Instant, line: &str) -> Result<bool, Faults> {
        match self.keys.read(line)? {
            Press::Call => self.call(at),
            Press::Why => self.why(at),
            Press::Help => output::complain(&self.keys.help()),
            Press::Quit if self.live.standing().lines_in() => {
                let fault = Fault::new("lines are in");
                return Err(fault.help("type `o` when they are out, then `q`; or end it as it is with Ctrl-C").into());
            }
            Press::Quit => return Ok(false),
            Press::Happened(told) => self.happened(at, &told)?,
        }
        Ok(true)
    }

    fn happened(&mut self, at: Instant, told: &Told) -> Result<(), Faults> {
        if let Told::Strike(Some(rod)) = told
            && !self.live.standing().is_in(rod)
        {
            output::complain(&format!("nothing was said of rod {rod}; say what it runs: r {rod} depth 20 lure spoon"));
        }
        self.live.happened(at, told)?;
        // An event worth a key is worth the disk at once.
        Ok(self.live.sync()?)
    }

    fn call(&mut self, at: Instant) {
        let advice = self.live.advice(at);
        self.print(&advice, brief);
    }

    fn why(&mut self, at: Instant) {
        let advice = self.live.advice(at);
        self.print(&advice, |advice, layout| tell(advice, None, layout));
    }

    fn tell_news(&mut self, at: Instant) {
        let Some(advice) = self.live.news(at) else { return };
        self.print(&advice, brief);
        if self.beep && !self.json {
            output::print("\u{7}");
        }
    }

    fn print(&self, advice: &Advice, words: impl Fn(&Advice, Layout) -> String) {
        if self.json {
            output::json_line(advice);
        } else {
            output::print(&format!("\n{}", words(advice, self.layout)));
            let set = self.rods.as_ref().and_then(|rods| self.live.settings(rods));
            if let Some(settings) = set {
                output::print(&format!("\n{}", settings.table(self.live.program().system)));
            }
        }
    }
}
