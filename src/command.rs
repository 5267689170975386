//! The command line: one file for each subcommand, each arguments -> library -> words and an exit code.

pub mod advise;
pub mod check;
pub mod format;
mod moment;
mod output;
pub mod readings;
pub mod replay;
pub mod rig;
pub mod serve;
mod strategies;
pub mod trial;
pub mod watch;

use clap::{Parser, Subcommand};

/// Checked trolling strategies, and the depth, speed and lure size they call from live readings, with reasons.
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
    /// Show the catalogue of readings, or every reading of a moment
    Readings(readings::Readings),
    /// Call the tactic for one moment, with its reasons
    Advise(advise::Advise),
    /// Set every rod for a called depth and speed
    Rig(rig::Rig),
    /// Call the tactic live, and keep the day's log
    Watch(watch::Watch),
    /// Show what a strategy would have called over a day's log
    Replay(replay::Replay),
    /// Serve the strategies of a folder over gRPC
    Serve(serve::Serve),
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
    let result = match &arguments.command {
        Command::Check(command) => command.run(),
        Command::Format(command) => command.run(),
        Command::Trial(command) => command.run(),
        Command::Readings(command) => command.run(),
        Command::Advise(command) => command.run(),
        Command::Rig(command) => command.run(),
        Command::Watch(command) => command.run(),
        Command::Replay(command) => command.run(),
        Command::Serve(command) => command.run(),
    };
    let ending = result.unwrap_or_else(|faults| {
        output::faults(&faults);
        Ending::Failed
    });
    if output::all_printed() { ending } else { Ending::Failed }
}
