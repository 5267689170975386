//! The gRPC service: wire to values, values to wire, and nothing of the trade in between.
//!
//! - [`v1`] is generated from `proto/leadsman/v1` and stays in this room; `wire` converts both ways;
//! - `library` is the served folder: which strategies are in force, and their reloading, which `watch` sets off;
//! - `source_text` checks and formats texts sent along, `advise` advises on one moment, `trip` follows a trip and
//!   `comparison` a comparison, each by a `stream`;
//! - `rpcs` are the handlers, thin; `status` is the one table from what is refused to a status;
//! - `limits` holds every bound, `guard` holds requests to them, `connections` connections;
//! - [`serve`] puts it together.

mod advise;
mod comparison;
mod connections;
mod guard;
mod library;
mod limits;
mod rpcs;
mod serve;
mod source_text;
mod status;
mod stream;
mod trip;
mod watch;
mod wire;

pub use limits::Limits;
pub use serve::{Bound, Config, ServeError, bind, serve};

/// The generated messages, client and server of the API.
#[allow(missing_docs, reason = "generated; the protobuf files document it")]
#[allow(clippy::all, clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "generated")]
pub mod v1 {
    tonic::include_proto!("leadsman.v1");
}

/// The descriptors of the API, encoded, for reflection.
pub const DESCRIPTORS: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/leadsman_v1.bin"));
