//! `leadsman plan`: a day ahead, hour by hour; and the draw of a fair contest.

use std::sync::Arc;

use clap::Args;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use rand::TryRng;
use rand::rngs::SysRng;

use super::moment::{rods, shown};
use super::strategies::program;
use super::watch::zone_text;
use super::{Ending, output};
use crate::advice::Shown;
use crate::advice::text::Layout;
use crate::day::record::Head;
use crate::page::contest::contest_page;
use crate::page::plan::plan_page;
use crate::plan::ahead::Ahead;
use crate::plan::contest::{self, BLOCKS, By, Draw, Entrant, contest};
use crate::plan::{plan, text};
use crate::session::Setting;
use crate::source::boat::Boat;
use crate::source::forecast::Forecast;
use crate::source::given::literal;
use crate::source::readings::Readings;
use crate::source::water::Water;
use crate::source::{Fault, Faults, files, time};
use crate::tackle::gear::Rod;
use crate::tackle::settings::Rods;
use crate::vocabulary::kind::Kind;
use crate::vocabulary::time::Instant;

/// Plan a day ahead, hour by hour.
#[derive(Debug, Args)]
pub struct Plan {
    /// The strategy, or - for standard input
    #[arg(required_unless_present = "contest", conflicts_with = "contest")]
    strategy: Option<String>,
    /// Draw up a fair contest of two strategies instead, as a sheet to follow
    #[arg(long, num_args = 2, value_names = ["A", "B"])]
    contest: Option<Vec<String>>,
    /// What is drawn: blocks of time, or the rods of the boat
    #[arg(long, value_enum, default_value_t = DrawnBy::Blocks, requires = "contest")]
    by: DrawnBy,
    /// How long a block of the contest is
    #[arg(long, value_name = "TIME", default_value = "30 min", requires = "contest")]
    block: String,
    /// The seed of a contest that was drawn before, to draw the same again
    #[arg(long, value_name = "N", requires = "contest")]
    seed: Option<u64>,
    /// Begin the day's log with the contest's sheet in its head; never over a file that is there
    #[arg(long, value_name = "FILE", requires = "contest")]
    log: Option<String>,
    /// The water file: its zone, its place, what it allows
    #[arg(long, value_name = "FILE")]
    water: Option<String>,
    /// The day, such as 2026-05-15
    #[arg(long, value_name = "DATE")]
    date: String,
    /// The forecast, hour by hour: YAML, or a table as spreadsheets save it (.csv)
    #[arg(long, value_name = "FILE")]
    forecast: Option<String>,
    /// The boat file, for the settings of its rods
    #[arg(long, value_name = "FILE")]
    boat: Option<String>,
    /// A file of readings of the days before: its last cast, clarity and surface temperature are taken to hold
    #[arg(long, value_name = "FILE")]
    readings: Option<String>,
    /// A reading that is taken to be so at every hour, such as clarity=18ft; may be repeated
    #[arg(long = "set", value_name = "NAME=VALUE")]
    set: Vec<String>,
    /// When to begin, such as 06:00; else civil dawn
    #[arg(long, value_name = "TIME")]
    from: Option<String>,
    /// When to end; else civil dusk
    #[arg(long, value_name = "TIME")]
    to: Option<String>,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
    /// Write the plan as a page to look at and to print
    #[arg(long, value_name = "FILE.html")]
    page: Option<String>,
}

/// What a contest draws.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
enum DrawnBy {
    /// Blocks of time, each for the whole boat
    Blocks,
    /// The rods, anew in each block
    Rods,
}

/// What the flags describe, read.
struct Described {
    date: Date,
    zone: TimeZone,
    setting: Arc<Setting>,
    shown: Shown,
    forecast: Option<Forecast>,
    readings: Option<Readings>,
    rods: Option<Rods>,
    /// The boat's name.
    boat: Option<String>,
    from: Option<Instant>,
    to: Option<Instant>,
}

impl Plan {
    /// Runs the command.
    pub fn run(&self) -> Result<Ending, Faults> {
        self.one_from_standard_input()?;
        if let Some([a, b]) = self.contest.as_deref() {
            return self.draw_up(a, b);
        }
        let Some(program) = program(self.strategy.as_deref().unwrap_or_default())? else { return Ok(Ending::Failed) };
        let described = self.read()?;
        let ahead = described.ahead(&self.set);
        let span = ahead.span(described.from, described.to)?;
        let planned = plan(&program, &ahead, span, described.rods.as_ref(), &described.shown)?;
        if let Some(path) = &self.page {
            files::write(path, &plan_page(&planned))?;
        }
        if self.json {
            output::json(&planned.plan);
        } else {
            let layout = Layout { width: output::width(), bold: output::colours(), all_readings: false };
            output::print(&text::tell(&planned.plan, program.system, layout));
        }
        Ok(Ending::Fine)
    }

    /// Draws up a contest.
    fn draw_up(&self, a: &str, b: &str) -> Result<Ending, Faults> {
        let block =
            literal("block", Kind::Duration, Some(BLOCKS), &self.block).map_err(|fault| fault.within("--block"))?;
        let (Some(program_a), Some(program_b)) = (program(a)?, program(b)?) else { return Ok(Ending::Failed) };
        let described = self.read()?;
        let ahead = described.ahead(&self.set);
        let span = ahead.span(described.from, described.to)?;
        let rods = match self.by {
            DrawnBy::Blocks => None,
            DrawnBy::Rods => Some(self.rods_of(&described)?),
        };
        let by = rods.map_or(By::Blocks, By::Rods);
        let seed = match self.seed {
            Some(seed) => seed,
            None => chance()?,
        };
        let entrants = [Entrant { file: a, program: &program_a }, Entrant { file: b, program: &program_b }];
        let [a, b] = entrants;
        let drawn = contest(a, b, &ahead, span, Draw { by, block, seed }, &described.shown)?;
        if let Some(path) = &self.log {
            let head = Head {
                water: described.shown.lake.as_ref().map(|lake| lake.name.clone()),
                boat: described.boat.clone(),
                date: Some(described.date),
                zone: zone_text(&described.zone, span.from),
                contest: Some(drawn.sheet.clone()),
                ..Head::default()
            };
            files::write_new(path, &head.text())?;
        }
        if let Some(path) = &self.page {
            files::write(path, &contest_page(&drawn.contest))?;
        }
        if self.json {
            output::json(&drawn.contest);
        } else {
            let layout = Layout { width: output::width(), bold: output::colours(), all_readings: false };
            output::print(&contest::tell(&drawn.contest, layout));
        }
        Ok(Ending::Fine)
    }

    /// The rods that are drawn: those of the boat, as many as the water allows lines.
    fn rods_of<'d>(&self, described: &'d Described) -> Result<&'d [Rod], Fault> {
        let Some(rods) = &described.rods else {
            let fault = Fault::new("rods can be drawn where a boat with rods is named");
            return Err(fault.help("name its file with `--boat FILE`, or draw `--by blocks`").within("--by"));
        };
        match rods.lines.filter(|lines| *lines < rods.rods.len()) {
            Some(lines) => Err(Fault::new(format!(
                "the boat has {} rods, and the water allows {lines} lines: it is not said which to leave in",
                rods.rods.len()
            ))
            .help("write a boat file with the rods of that day")
            .within("--by")),
            None => Ok(&rods.rods),
        }
    }

    fn one_from_standard_input(&self) -> Result<(), Fault> {
        let entrants = self.contest.iter().flatten().map(|path| ("--contest", Some(path)));
        let flags = [
            ("STRATEGY", self.strategy.as_ref()),
            ("--water", self.water.as_ref()),
            ("--forecast", self.forecast.as_ref()),
            ("--boat", self.boat.as_ref()),
            ("--readings", self.readings.as_ref()),
        ];
        let mut piped = flags
            .into_iter()
            .chain(entrants)
            .filter(|(_, path)| path.is_some_and(|path| path == files::STANDARD_INPUT));
        match (piped.next(), piped.next()) {
            (Some((flag, _)), Some(_)) => Err(Fault::new("only one file can be read from standard input").within(flag)),
            _ => Ok(()),
        }
    }

    fn read(&self) -> Result<Described, Faults> {
        let mut faults = Faults::default();
        let date = faults.keep(time::date(&self.date).map_err(|fault| fault.within("--date")));
        let water = self.water.as_deref().and_then(|path| faults.keep(Water::read(path)));
        let boat = self.boat.as_deref().and_then(|path| faults.keep(Boat::read(path)));
        let own_zone = water.as_ref().and_then(|water| water.setting.zone.clone());
        let forecast = self.forecast.as_deref().and_then(|path| faults.keep(Forecast::read(path, own_zone.as_ref())));
        let zone = own_zone.or_else(|| Some(forecast.as_ref()?.zone.clone()));
        let readings = self.readings.as_deref().and_then(|path| faults.keep(Readings::read(path, zone.as_ref())));
        if !faults.is_empty() {
            return Err(faults);
        }
        let (Some(date), Some(zone)) = (date, zone) else {
            return Err(Fault::new("it is not known in which time zone the day is")
                .help("name the water with its `zone` by `--water FILE`, or write `zone` in the forecast")
                .within("--date")
                .into());
        };
        let mut end = |flag: &str, text: &Option<String>| {
            let text = text.as_ref()?;
            faults.keep(at(text, date, &zone).map_err(|fault| fault.within(flag)))
        };
        let (from, to) = (end("--from", &self.from), end("--to", &self.to));
        let rods = boat.as_ref().and_then(|boat| rods(boat, water.as_ref()));
        let setting = water.as_ref().map(|water| water.setting.clone()).unwrap_or_default();
        let shown = water.map(shown).unwrap_or_default();
        let setting = Arc::new(setting);
        let boat = boat.map(|boat| boat.name);
        faults.unless_any(Described { date, zone, setting, shown, forecast, readings, rods, boat, from, to })
    }
}

impl Described {
    fn ahead<'a>(&'a self, sets: &'a [String]) -> Ahead<'a> {
        Ahead {
            date: self.date,
            zone: self.zone.clone(),
            setting: self.setting.clone(),
            forecast: self.forecast.as_ref(),
            readings: self.readings.as_ref(),
            sets,
        }
    }
}

/// The one place where a contest's seed is left to chance. Short enough to be read out and typed.
fn chance() -> Result<u64, Fault> {
    let drawn = SysRng.try_next_u32();
    drawn.map(u64::from).map_err(|error| {
        Fault::new(format!("the system gives no chance to draw with: {error}")).help("name a seed with `--seed N`")
    })
}

/// A time of day on the day that is planned.
fn at(text: &str, date: Date, zone: &TimeZone) -> Result<Instant, Fault> {
    time::of_day(text, date, Some(zone)).map(|(at, _)| at)
}
