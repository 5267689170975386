//! `leadsman watch`: the day live, from keys and a boat's instruments, with its log.

use std::io::BufRead;
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel};
use std::time::Duration;

use clap::Args;
use jiff::tz::TimeZone;

use super::moment::{now, shown};
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
use crate::source::files::is_there;
use crate::source::water::Water;
use crate::source::{Fault, Faults};
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
    /// Lines are in from the first moment
    #[arg(long)]
    lines_in: bool,
    /// Beep where the call changes
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
}

/// How often time passes by itself, and what was written goes to the disk.
const TICK: Duration = Duration::from_millis(500);

impl Watch {
    /// Runs the command.
    pub fn run(&self) -> Result<Ending, Faults> {
        let Some(program) = program(&self.strategy)? else { return Ok(Ending::Failed) };
        let water = self.water.as_deref().map(Water::read).transpose()?;
        let boat = self.boat.as_deref().map(Boat::read).transpose()?;
        let (first, machine_zone) = clock();
        let zone = water.as_ref().and_then(|water| water.setting.zone.clone()).unwrap_or(machine_zone);
        let path = self.log.clone().unwrap_or_else(|| format!("day-{}.yaml", first.zoned(&zone).date()));
        let before = if is_there(&path) { Some(Log::read(&path, Some(&zone))?) } else { None };
        let head = Head {
            water: water.as_ref().map(|water| water.name.clone()),
            boat: boat.map(|boat| boat.name),
            strategy: Some(shown_path(&self.strategy)),
            zone: zone_text(&zone, first),
        };
        let cut = before.as_ref().and_then(|log| log.cut.as_deref());
        let record = Record::open(&path, &head, cut)?;
        let setting = water.as_ref().map_or_else(Setting::default, |water| water.setting.clone());
        let keys = Keys::of(&program);
        let mut live = Live::new(program, setting, zone, water.map(shown).unwrap_or_default(), record);
        if let Some(log) = &before {
            live.resume(log)?;
        }
        let mut helm = Helm { live, keys, layout: self.layout(), beep: self.beep, json: self.json };
        helm.greet(before.as_ref());
        if self.lines_in && !helm.live.standing().lines_in() {
            helm.live.happened(first, &Told::Lines(true))?;
        }
        helm.call(first);
        helm.follow(&listen())
    }

    fn layout(&self) -> Layout {
        Layout { width: output::width(), bold: output::colours(), all_readings: false }
    }
}

/// The time, to the millisecond, and the machine's zone.
fn clock() -> (Instant, TimeZone) {
    let (now, zone) = now();
    let whole = jiff::Timestamp::from_millisecond(now.as_millisecond()).unwrap_or(now);
    (Instant::of(whole), zone)
}

/// A zone as a log's head has it: its name, else its offset at the time.
fn zone_text(zone: &TimeZone, at: Instant) -> String {
    zone.iana_name().map_or_else(|| at.zoned(zone).strftime("%:z").to_string(), str::to_owned)
}

/// Hears the keys.
fn listen() -> Receiver<Incoming> {
    let (send, receive) = sync_channel(64);
    std::thread::spawn(move || typed(&send));
    receive
}

fn typed(send: &SyncSender<Incoming>) {
    for line in std::io::stdin().lock().lines() {
        let Ok(line) = line else { break };
        if send.send(Incoming::Line(line)).is_err() {
            return;
        }
    }
    // Where nobody listens any more there is nobody to tell.
    let _ = send.send(Incoming::NoMoreLines);
}

/// Who steers: the day under way, and how it is told.
struct Helm {
    live: Live,
    keys: Keys,
    layout: Layout,
    beep: bool,
    json: bool,
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
        output::complain(&format!("{words}\ntype ? for what can be typed"));
    }

    fn follow(&mut self, incoming: &Receiver<Incoming>) -> Result<Ending, Faults> {
        loop {
            match incoming.recv_timeout(TICK) {
                Ok(Incoming::Line(line)) => {
                    let at = clock().0;
                    match self.typed(at, &line) {
                        Ok(true) => {}
                        Ok(false) => break,
                        // What can't be taken is said, and the day goes on.
                        Err(faults) => output::faults(&faults),
                    }
                }
                Ok(Incoming::NoMoreLines) | Err(RecvTimeoutError::Disconnected) => break,
                Err(RecvTimeoutError::Timeout) => {}
            }
            let at = clock().0;
            self.live.pass(at);
            self.tell_news(at);
            self.live.sync()?;
        }
        self.live.sync()?;
        output::complain(&format!("the log is in {}", self.live.path()));
        Ok(Ending::Fine)
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
        }
    }
}
