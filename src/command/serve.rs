//! `leadsman serve`: the strategies of a folder, over gRPC.

use std::net::SocketAddr;
use std::time::Duration;

use clap::Args;
use tracing_subscriber::EnvFilter;

use super::{Ending, output};
use crate::service::{Config, serve};
use crate::source::{Fault, Faults};

/// Serve the strategies of a folder over gRPC.
#[derive(Debug, Args)]
pub struct Serve {
    /// The folder of strategies
    folder: String,
    /// The address to listen on; others than the machine itself reach it only if told so here
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "127.0.0.1:50051")]
    listen: SocketAddr,
    /// How many trips may be followed at a time
    #[arg(long, value_name = "NUMBER", value_parser = clap::value_parser!(u32).range(1..=100_000))]
    trips: Option<u32>,
    /// How many minutes a trip's client may be silent
    #[arg(long, value_name = "MINUTES", value_parser = clap::value_parser!(u64).range(1..=1440))]
    silence: Option<u64>,
}

impl Serve {
    /// Runs the command, until it is interrupted or told to end.
    pub fn run(&self) -> Result<Ending, Faults> {
        let filter = EnvFilter::try_from_env("LEADSMAN_LOG").unwrap_or_else(|_| EnvFilter::new("leadsman=info,warn"));
        // A second subscriber can't be set; the first one serves as well.
        let _ = tracing_subscriber::fmt()
            .with_env_filter(filter)
            .with_writer(std::io::stderr)
            .with_ansi(output::colours_on_error())
            .try_init();
        let mut config = Config { listen: self.listen, ..Config::new(&self.folder) };
        config.limits.trips = self.trips.map_or(config.limits.trips, |trips| trips as usize);
        config.limits.silence = self.silence.map_or(config.limits.silence, |minutes| Duration::from_secs(60 * minutes));
        let runtime = tokio::runtime::Runtime::new()
            .map_err(|error| Fault::new(format!("the service can't be started: {error}")))?;
        runtime
            .block_on(serve(config, told_to_end()))
            .map_err(|error| Fault::new(error.to_string()).within(self.folder.as_str()))?;
        Ok(Ending::Fine)
    }
}

/// Completes on Ctrl-C, and on the signal by which services are told to end.
async fn told_to_end() {
    let interrupted = tokio::signal::ctrl_c();
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        match signal(SignalKind::terminate()) {
            Ok(mut terminated) => {
                tokio::select! {
                    _ = interrupted => {}
                    _ = terminated.recv() => {}
                }
            }
            Err(_) => {
                let _ = interrupted.await;
            }
        }
    }
    #[cfg(not(unix))]
    {
        let _ = interrupted.await;
    }
}
