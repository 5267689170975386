//! The command line: one file for each subcommand, each arguments -> library -> words and an exit code.

pub mod check;
pub mod format;
pub mod output;
pub mod trial;

use clap::{Parser, Subcommand};

/// Checked trolling strategies, and the depth, speed and lure size they call.
#[derive(Debug, Parser)]
#[command(name = "leadsman", version, about, disable_help_subcommand = true)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// The subcommands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Say what is wrong or doubtful in strategies
    Check(check::Check),
    /// Put strategies into their one form
    Format(format::Format),
    /// Run the trials of strategies
    Trial(trial::Trial),
}

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// All is well.
    Fine,
    /// Bad input, an error found, a trial that failed, a file that is not formatted.
    Failed,
}

/// Runs a command.
pub fn run(arguments: &Arguments) -> Ending {
    match &arguments.command {
        Command::Check(command) => command.run(),
        Command::Format(command) => command.run(),
        Command::Trial(command) => command.run(),
    }
}
