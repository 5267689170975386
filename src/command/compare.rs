//! `leadsman compare`: two strategies on the same days.

use std::sync::Arc;

use clap::Args;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::strategies::{checked, shown as shown_path};
use super::{Ending, output};
use crate::compare::season::Season;
use crate::compare::{Side, Sides, text};
use crate::day::log::{self, Log};
use crate::page::comparison::comparison_page;
use crate::session::Setting;
use crate::source::strategies::ENDING;
use crate::source::water::Water;
use crate::source::{Fault, Faults, files};

/// Compare two strategies on the logs of one or many days.
#[derive(Debug, Args)]
pub struct Compare {
    /// Two strategies, or one with --let; then logs, or folders of logs
    #[arg(required = true, value_name = "STRATEGY... LOG")]
    paths: Vec<String>,
    /// A let that is changed in the second strategy, which is then the first otherwise, as in 'cool_top = depth_of(60 °F)';
    /// may be repeated
    #[arg(long = "let", value_name = "NAME=VALUE")]
    lets: Vec<String>,
    /// The water file: its zone, its place, what it allows
    #[arg(long, value_name = "FILE")]
    water: Option<String>,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
    /// Write the comparison as a page to look at and to print, with pictures of the first days
    #[arg(long, value_name = "FILE.html")]
    report: Option<String>,
}

/// Days that the page has pictures of.
const PICTURED: usize = 7;

impl Compare {
    /// Runs the command.
    pub fn run(&self) -> Result<Ending, Faults> {
        let (a, b, logs) = self.parts()?;
        let Some(a) = side(a, &[])? else { return Ok(Ending::Failed) };
        let Some(b) = side(b, &self.lets)? else { return Ok(Ending::Failed) };
        let sides = Sides::new(a, b);
        let water = self.water.as_deref().map(Water::read).transpose()?;
        let setting = water.map_or_else(Setting::default, |water| water.setting);
        let mut faults = Faults::default();
        let logs: Vec<String> = logs.iter().filter_map(|path| faults.keep(log::find(path))).flatten().collect();
        faults.unless_any(())?;
        let pictured = if self.report.is_some() { PICTURED } else { 0 };
        let mut season = Season::new(&sides).keeping(pictured);
        let bar = progress(logs.len());
        let zone = setting.zone.clone();
        let read = |path: &String| (shown_path(path), Log::read(path, zone.as_ref()));
        season.read_all(&logs, &setting, &read, &mut |done| {
            bar.set_position(done as u64);
            true
        });
        bar.finish_and_clear();
        let days = season.take_days();
        let comparison = season.finish();
        if let Some(path) = &self.report {
            files::write(path, &comparison_page(&comparison, &sides, &days))
                .map_err(|fault| fault.field("--report"))?;
        }
        if self.json {
            output::json(&comparison);
        } else {
            output::print(&text::tell(&comparison, output::width()));
        }
        // Where no log at all could be read there is nothing that anybody asked for.
        Ok(if comparison.days == 0 { Ending::Failed } else { Ending::Fine })
    }

    /// The two strategies and the logs.
    fn parts(&self) -> Result<(&str, &str, &[String]), Fault> {
        let is_strategy = |path: &&String| path.ends_with(&format!(".{ENDING}"));
        let strategies = self.paths.iter().take_while(is_strategy).count();
        let logs = self.paths.get(strategies..).unwrap_or_default();
        let help = "write `leadsman compare A.strategy B.strategy DAY.yaml`, or one strategy with `--let NAME=VALUE`";
        let sides = match (self.paths.get(..strategies).unwrap_or_default(), self.lets.is_empty()) {
            ([one], false) => (one.as_str(), one.as_str()),
            ([a, b], true) => (a.as_str(), b.as_str()),
            ([_, _], false) => return Err(Fault::new("lets are changed in one strategy, and two are named").help(help)),
            ([_], true) => return Err(Fault::new("one strategy alone has nothing to be compared with").help(help)),
            ([], _) => return Err(Fault::new("no strategy is named first").help(help)),
            _ => return Err(Fault::new("more than two strategies are named").help(help)),
        };
        if logs.is_empty() {
            return Err(Fault::new("no log is named").help(help));
        }
        Ok((sides.0, sides.1, logs))
    }
}

fn side(path: &str, lets: &[String]) -> Result<Option<Side>, Faults> {
    let program: Option<Arc<_>> = checked(path, lets)?;
    Ok(program.map(|program| Side { program, file: shown_path(path), lets: lets.to_vec() }))
}

/// A bar on a terminal, where there is anything to wait for.
fn progress(logs: usize) -> ProgressBar {
    if logs < 3 {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::with_draw_target(Some(logs as u64), ProgressDrawTarget::stderr());
    // The template is fixed and right; without one the bar has its usual form.
    if let Ok(style) = ProgressStyle::with_template("{wide_bar} {pos} of {len} days, {eta} to go") {
        bar.set_style(style);
    }
    bar
}
