//! Arguments to command to exit code, and nothing else.

use std::process::ExitCode;

use clap::Parser;
use leadsman::command::{self, Arguments, Ending};

fn main() -> ExitCode {
    // A command line that makes no sense ends here, with 2 and a word on what would make sense.
    let arguments = Arguments::parse();
    match command::run(&arguments) {
        Ending::Fine => ExitCode::SUCCESS,
        Ending::Failed => ExitCode::FAILURE,
    }
}
