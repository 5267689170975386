//! Puts the service together, listens, and ends in order.

use std::future::Future;
use std::net::{Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use tokio::net::TcpListener;
use tokio::sync::watch;
use tonic::transport::Server;
use tonic_health::ServingStatus;

use super::DESCRIPTORS;
use super::connections::Incoming;
use super::guard::Guard;
use super::library::Library;
use super::limits::Limits;
use super::rpcs::Desk;
use super::v1::leadsman_service_server::{LeadsmanServiceServer, SERVICE_NAME};
use super::watch::Watch;

/// The port that is listened on unless told otherwise.
const PORT: u16 = 50051;
/// How often a quiet connection is asked whether it is still there, and how long it may take to say so.
const ALIVE: (Duration, Duration) = (Duration::from_secs(60), Duration::from_secs(20));

/// What is served, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Config {
    /// The folder of strategies.
    pub folder: PathBuf,
    /// The address to listen on; port 0 takes a free one.
    pub listen: SocketAddr,
    /// The bounds.
    pub limits: Limits,
}

impl Config {
    /// A folder served on loopback, port 50051, within the usual limits.
    pub fn new(folder: impl Into<PathBuf>) -> Self {
        Self { folder: folder.into(), listen: SocketAddr::from((Ipv4Addr::LOCALHOST, PORT)), limits: Limits::default() }
    }
}

/// Why the service can't begin, or had to end.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The folder can't be read.
    #[error("the folder {} can't be served: {why}", folder.display())]
    Folder {
        /// The folder.
        folder: PathBuf,
        /// Why.
        why: String,
    },
    /// The folder can't be watched for changes.
    #[error("the folder {} can't be watched for changes: {why}", folder.display())]
    Watch {
        /// The folder.
        folder: PathBuf,
        /// Why.
        why: notify::Error,
    },
    /// The address can't be listened on.
    #[error("can't listen on {address}: {why}")]
    Listen {
        /// The address.
        address: SocketAddr,
        /// Why.
        why: std::io::Error,
    },
    /// The descriptors of the API don't fit the reflection service.
    #[error("reflection can't be served: {0}")]
    Reflection(#[from] tonic_reflection::server::Error),
    /// The transport failed.
    #[error("the service failed: {0}")]
    Transport(#[from] tonic::transport::Error),
}

/// Serves a folder until `shutdown` completes, then ends in order: no new requests, trips told to open anew elsewhere,
/// and after a grace an end whatever still goes on.
pub async fn serve(config: Config, shutdown: impl Future<Output = ()>) -> Result<(), ServeError> {
    bind(config).await?.serve(shutdown).await
}

/// Reads the folder and listens; nothing is answered until [`Bound::serve`].
pub async fn bind(config: Config) -> Result<Bound, ServeError> {
    let Config { folder, listen, limits } = config;
    if !folder.is_dir() {
        let why = if folder.exists() { "it is a file, not a folder" } else { "there is no such folder" };
        return Err(ServeError::Folder { folder, why: why.to_owned() });
    }
    let opened = {
        let folder = folder.clone();
        tokio::task::spawn_blocking(move || Library::open(&folder)).await
    };
    let opened = opened.unwrap_or_else(|error| Err(error.to_string()));
    let library = Arc::new(opened.map_err(|why| ServeError::Folder { folder: folder.clone(), why })?);
    let watch = Watch::begin(library.clone(), limits.quiet).map_err(|why| ServeError::Watch { folder, why })?;
    let failed = |why| ServeError::Listen { address: listen, why };
    let listener = TcpListener::bind(listen).await.map_err(failed)?;
    let address = listener.local_addr().map_err(failed)?;
    Ok(Bound { library, watch, listener, address, limits: Arc::new(limits) })
}

/// A service that listens and does not answer yet.
pub struct Bound {
    library: Arc<Library>,
    watch: Watch,
    listener: TcpListener,
    address: SocketAddr,
    limits: Arc<Limits>,
}

impl Bound {
    /// The address it listens on, its port the real one.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Answers until `shutdown` completes, as [`serve`] does.
    pub async fn serve(self, shutdown: impl Future<Output = ()>) -> Result<(), ServeError> {
        let Bound { library, watch, listener, address, limits } = self;
        let (ending, hears_ending) = watch::channel(false);
        let (health, health_service) = tonic_health::server::health_reporter();
        health.set_service_status(SERVICE_NAME, ServingStatus::Serving).await;
        let desk = Desk::new(library, limits.clone(), hears_ending.clone());
        let desk = LeadsmanServiceServer::new(desk)
            .max_decoding_message_size(limits.bytes_in)
            .max_encoding_message_size(limits.bytes_out);
        let router = Server::builder()
            .layer(Guard::new(&limits))
            .max_concurrent_streams(limits.streams_per_connection)
            .max_connection_age(limits.connection_age)
            .http2_keepalive_interval(Some(ALIVE.0))
            .http2_keepalive_timeout(Some(ALIVE.1))
            .http2_max_header_list_size(16 * 1024)
            .add_service(desk)
            .add_service(health_service)
            .add_service(reflection()?.build_v1()?)
            .add_service(reflection()?.build_v1alpha()?);
        let incoming = Incoming::new(listener, &limits);
        let served = router.serve_with_incoming_shutdown(incoming, until_true(hears_ending));
        tokio::pin!(served);
        tracing::info!(%address, "listening");
        tokio::select! {
            ended = &mut served => return Ok(ended?),
            () = shutdown => {}
        }
        tracing::info!("shutting down");
        health.set_service_status(SERVICE_NAME, ServingStatus::NotServing).await;
        health.set_service_status("", ServingStatus::NotServing).await;
        // Who listens are the accept loop and the trips; without any of them there is nobody to tell.
        let _ = ending.send(true);
        drop(watch);
        match tokio::time::timeout(limits.shutdown_grace, served).await {
            Ok(ended) => ended?,
            Err(_) => tracing::warn!("some connections did not end in time, and were left"),
        }
        tracing::info!("ended");
        Ok(())
    }
}

async fn until_true(mut ending: watch::Receiver<bool>) {
    // Where the one who would say so is gone, it has ended too.
    let _ = ending.wait_for(|ending| *ending).await;
}

/// Reflection of the API and of health.
fn reflection() -> Result<tonic_reflection::server::Builder<'static>, ServeError> {
    Ok(tonic_reflection::server::Builder::configure()
        .register_encoded_file_descriptor_set(DESCRIPTORS)
        .register_encoded_file_descriptor_set(tonic_health::pb::FILE_DESCRIPTOR_SET))
}
