//! `leadsman advise`: the call for one moment, with its reasons.

use clap::Args;
use serde::Serialize;

use super::moment::MomentArgs;
use super::strategies::program;
use super::{Ending, output};
use crate::advice::text::{Layout, tell};
use crate::advice::{Advice, advise};
use crate::source::Faults;
use crate::tackle::settings::Settings;

/// Call the tactic for one moment, with its reasons.
#[derive(Debug, Args)]
pub struct Advise {
    /// The strategy, or - for standard input
    strategy: String,
    #[command(flatten)]
    moment: MomentArgs,
    /// Print one JSON document, with everything in it
    #[arg(long)]
    json: bool,
    /// List every reading the strategy asks for, the unknown ones too
    #[arg(long)]
    all: bool,
}

/// Advice, and the settings of the boat's rods where a boat with rods is named.
#[derive(Serialize)]
struct AdviceDocument {
    #[serde(flatten)]
    advice: Advice,
    rods: Option<Settings>,
}

impl Advise {
    /// Runs the command.
    pub fn run(&self) -> Result<Ending, Faults> {
        let Some(program) = program(&self.strategy)? else { return Ok(Ending::Failed) };
        let described = self.moment.read()?;
        let rods = described.rods();
        let moment = described.session(program)?;
        let advice = advise(&moment.session, moment.at, &moment.shown);
        // Where the call has no depth or speed there is nothing to set rods to, and the advice says why.
        let rods = rods.and_then(|rods| rods.settings(&moment.session, moment.at).ok()).map(|(settings, _)| settings);
        if self.json {
            output::json(&AdviceDocument { advice, rods });
        } else {
            let layout = Layout { width: output::width(), bold: output::colours(), all_readings: self.all };
            let mut text = tell(&advice, Some(moment.chosen.text()), layout);
            if let Some(rods) = rods {
                let units = moment.session.program().system;
                text.push_str(&format!("\nRODS\n{}", rods.table(units)));
                text.extend(rods.given_up.iter().map(|given| format!("  given up: {given}\n")));
            }
            output::print(&text);
        }
        Ok(Ending::Fine)
    }
}
