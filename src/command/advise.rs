//! `leadsman advise`: the call for one moment, with its reasons.

use clap::Args;

use super::moment::MomentArgs;
use super::strategies::program;
use super::{Ending, output};
use crate::advice::advise;
use crate::advice::text::{Layout, tell};
use crate::source::Faults;

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

impl Advise {
    /// Runs the command.
    pub fn run(&self) -> Result<Ending, Faults> {
        let Some(program) = program(&self.strategy)? else { return Ok(Ending::Failed) };
        let moment = self.moment.session(program)?;
        let advice = advise(&moment.session, moment.at, &moment.shown);
        if self.json {
            output::json(&advice);
        } else {
            let layout = Layout { width: output::width(), bold: output::colours(), all_readings: self.all };
            output::print(&tell(&advice, Some(moment.chosen.text()), layout));
        }
        Ok(Ending::Fine)
    }
}
