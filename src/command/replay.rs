//! `leadsman replay`: what a strategy would have called over a day's log.

use clap::Args;

use super::moment::shown;
use super::strategies::program;
use super::{Ending, output};
use crate::advice::Shown;
use crate::day::log::Log;
use crate::day::replay::Timeline;
use crate::day::replay::text::Replayed;
use crate::session::Setting;
use crate::source::Faults;
use crate::source::water::Water;

/// Show what a strategy would have called over a day's log.
#[derive(Debug, Args)]
pub struct Replay {
    /// The strategy
    strategy: String,
    /// The day's log, or - for standard input
    log: String,
    /// The water file: its zone, its place, what it allows
    #[arg(long, value_name = "FILE")]
    water: Option<String>,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
}

impl Replay {
    /// Runs the command.
    pub fn run(&self) -> Result<Ending, Faults> {
        let Some(program) = program(&self.strategy)? else { return Ok(Ending::Failed) };
        let water = self.water.as_deref().map(Water::read).transpose()?;
        let setting = water.as_ref().map_or_else(Setting::default, |water| water.setting.clone());
        let log = Log::read(&self.log, setting.zone.as_ref())?;
        if log.cut.is_some() {
            output::complain("the log's last line was cut short and is left out");
        }
        let shown: Shown = water.map(shown).unwrap_or_default();
        let timeline = Timeline::of(&program, &setting, &log, Some(&shown))?;
        let replayed = Replayed::of(timeline, &log);
        if self.json {
            output::json(&replayed);
        } else {
            output::print(&replayed.text(output::width()));
        }
        Ok(Ending::Fine)
    }
}
