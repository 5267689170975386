//! `leadsman rig`: the settings of every rod for a depth and a speed.

use clap::Args;

use super::moment::{AtMoment, MomentArgs};
use super::strategies::program;
use super::{Ending, output};
use crate::check::without_strategy;
use crate::program::GivenTarget;
use crate::session::Session;
use crate::source::boat::{DEPTHS, SIZES, SPEEDS};
use crate::source::given::literal;
use crate::source::{Fault, Faults, files};
use crate::tackle::settings::NoSettings;
use crate::tackle::spread::Called;
use crate::vocabulary::catalogue::{Known, Range};
use crate::vocabulary::kind::Kind;
use crate::vocabulary::quantity::{from_si, to_si};
use crate::vocabulary::time::Instant;

/// Set every rod for a called depth and speed: line out, depth, distance behind.
#[derive(Debug, Args)]
pub struct Rig {
    /// The strategy whose call is set; or say --depth and --speed
    strategy: Option<String>,
    /// The band of depths, such as '20 to 40 ft'
    #[arg(long, value_name = "RANGE", conflicts_with = "strategy")]
    depth: Option<String>,
    /// The speed, or a range of which the middle is taken, such as '2 to 2.6 mph'
    #[arg(long, value_name = "RANGE", conflicts_with = "strategy")]
    speed: Option<String>,
    /// The lure's length, or a range of which the middle is taken
    #[arg(long, value_name = "RANGE", conflicts_with = "strategy")]
    size: Option<String>,
    #[command(flatten)]
    moment: MomentArgs,
    /// Write a drawing of the spread, as SVG
    #[arg(long, value_name = "FILE")]
    svg: Option<String>,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
}

impl Rig {
    /// Runs the command.
    pub fn run(&self) -> Result<Ending, Faults> {
        let Some(boat) = self.moment.boat_path() else {
            let fault = Fault::new("rods are set for a boat").help("name its file with `--boat FILE`");
            return Err(fault.within("--boat").into());
        };
        let described = self.moment.read()?;
        let Some(rods) = described.rods() else {
            let fault = Fault::new("this boat has no rods").help("list them under `rods`, as in rules/ossel/boat.yaml");
            return Err(fault.field("rods").within(boat).into());
        };
        let program = match &self.strategy {
            Some(path) => match program(path)? {
                Some(program) => program,
                None => return Ok(Ending::Failed),
            },
            None => without_strategy().ok_or_else(|| Fault::new("a fault of Leadsman, please report it"))?,
        };
        let said = if self.strategy.is_none() { Some(self.said()?) } else { None };
        let AtMoment { session, at, .. } = described.session(program)?;
        let set = match &said {
            Some(called) => {
                within_bottom(&session, at, called)?;
                rods.settings_for(called, &session, at)
            }
            None => rods.settings(&session, at),
        };
        let (settings, spread) = set.map_err(|why| match why {
            NoSettings::NotCalled(_) => Fault::new(why.to_string()).help("`leadsman advise` says why"),
            why => Fault::new(why.to_string()),
        })?;
        let system = session.program().system;
        if let Some(path) = &self.svg {
            files::write(path, &settings.svg(&rods.rods, &spread, system))?;
        }
        if self.json {
            output::json(&settings);
        } else {
            output::print(&settings.text(&rods.rods, &spread, system));
        }
        Ok(Ending::Fine)
    }

    /// What the flags call.
    fn said(&self) -> Result<Called, Faults> {
        let mut faults = Faults::default();
        let mut read = |flag: &str, kind, bounds, text: &Option<String>| {
            let text = text.as_ref()?;
            faults.keep(range(flag, kind, bounds, text).map_err(|fault| fault.within(format!("--{flag}"))))
        };
        let depth = read("depth", Kind::Length, DEPTHS, &self.depth);
        let speed = read("speed", Kind::Speed, SPEEDS, &self.speed);
        let size = read("size", Kind::Length, SIZES, &self.size);
        faults.unless_any(())?;
        let middle = |(from, to): (f64, f64)| (from + to) / 2.0;
        match (depth, speed.map(middle)) {
            (Some(depth), Some(speed)) => Ok(Called { depth, speed, size: size.map(middle), lures: Vec::new() }),
            _ => Err(Fault::new("say what is to be set")
                .help("name a strategy, or write `--depth '20 to 40 ft' --speed '2.3 mph'`")
                .into()),
        }
    }
}

/// A range, or one value twice, in SI. A bare first end takes the unit of the second.
fn range(what: &str, kind: Kind, bounds: Range, text: &str) -> Result<(f64, f64), Fault> {
    let read = |text: &str| literal(what, kind, Some(bounds), text).map(to_si);
    let Some((from, to)) = text.split_once(" to ") else {
        let value = read(text)?;
        return Ok((value, value));
    };
    let unit = to.trim().trim_start_matches(|c: char| c.is_ascii_digit() || c == '.');
    let bare = from.trim().bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
    let from = if bare { format!("{}{unit}", from.trim()) } else { from.to_owned() };
    let (from, to) = (read(&from)?, read(to)?);
    if from > to {
        return Err(Fault::new(format!("`{text}` runs backwards")).help("write the smaller end first"));
    }
    Ok((from, to))
}

/// No lure is set to run below the bottom.
fn within_bottom(session: &Session, at: Instant, called: &Called) -> Result<(), Fault> {
    let bottom = session.moment(at).report_of(GivenTarget::Known(Known::Bottom)).value;
    let Some(bottom) = bottom.filter(|bottom| to_si(*bottom) < called.depth.1) else { return Ok(()) };
    let print = |counts| session.program().print(counts, Kind::Length, false);
    let deep = from_si(called.depth.1).map_or_else(String::new, print);
    let message = format!("{deep} is below the bottom, at {}", print(bottom));
    Err(Fault::new(message)
        .help("call for less, or give the `bottom` anew where the water is deeper")
        .within("--depth"))
}
