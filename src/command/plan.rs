//! `leadsman plan`: a day ahead, hour by hour; and the draw of a fair contest.

use std::sync::Arc;

use clap::Args;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use super::moment::{rods, shown};
use super::strategies::program;
use super::{Ending, output};
use crate::advice::Shown;
use crate::advice::text::Layout;
use crate::page::plan::plan_page;
use crate::plan::ahead::Ahead;
use crate::plan::{plan, text};
use crate::session::Setting;
use crate::source::boat::Boat;
use crate::source::forecast::Forecast;
use crate::source::readings::Readings;
use crate::source::water::Water;
use crate::source::{Fault, Faults, files, time};
use crate::tackle::settings::Rods;
use crate::vocabulary::time::Instant;

/// Plan a day ahead, hour by hour.
#[derive(Debug, Args)]
pub struct Plan {
    /// The strategy, or - for standard input
    strategy: String,
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

/// What the flags describe, read.
struct Described {
    date: Date,
    zone: TimeZone,
    setting: Arc<Setting>,
    shown: Shown,
    forecast: Option<Forecast>,
    readings: Option<Readings>,
    rods: Option<Rods>,
    from: Option<Instant>,
    to: Option<Instant>,
}

impl Plan {
    /// Runs the command.
    pub fn run(&self) -> Result<Ending, Faults> {
        self.one_from_standard_input()?;
        let Some(program) = program(&self.strategy)? else { return Ok(Ending::Failed) };
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

    fn one_from_standard_input(&self) -> Result<(), Fault> {
        let flags = [
            ("STRATEGY", Some(&self.strategy)),
            ("--water", self.water.as_ref()),
            ("--forecast", self.forecast.as_ref()),
            ("--boat", self.boat.as_ref()),
            ("--readings", self.readings.as_ref()),
        ];
        let mut piped = flags.iter().filter(|(_, path)| path.is_some_and(|path| path == files::STANDARD_INPUT));
        match (piped.next(), piped.next()) {
            (Some((flag, _)), Some(_)) => {
                Err(Fault::new("only one file can be read from standard input").within(*flag))
            }
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
        faults.unless_any(Described { date, zone, setting, shown, forecast, readings, rods, from, to })
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

/// A time of day on the day that is planned.
fn at(text: &str, date: Date, zone: &TimeZone) -> Result<Instant, Fault> {
    time::of_day(text, date, Some(zone)).map(|(at, _)| at)
}
