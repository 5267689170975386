//! The service on the strategies of the demo, over a real socket on loopback; and its lake as requests describe it.

use std::path::Path;
use std::time::Duration;

use leadsman::service::v1;
use leadsman::service::v1::leadsman_service_client::LeadsmanServiceClient;
use leadsman::service::{Config, Limits, ServeError, bind};
use tokio::sync::oneshot;
use tokio::task::JoinHandle;
use tonic::transport::Channel;

/// A client.
pub type Client = LeadsmanServiceClient<Channel>;

/// The strategies that are served.
pub const RULES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/rules");
/// The scenario's days.
pub const DAYS: [&str; 5] = [
    "ossel/days/2026-05-14.yaml",
    "ossel/days/2026-06-11.yaml",
    "ossel/days/2026-07-14.yaml",
    "ossel/days/2026-08-19.yaml",
    "ossel/days/2026-10-09.csv",
];

/// A service of its own for a test.
pub struct Service {
    /// A client of it.
    pub client: Client,
    /// Ends it.
    pub stop: oneshot::Sender<()>,
    /// How it ended.
    pub ended: JoinHandle<Result<(), ServeError>>,
}

/// Begins to serve a folder.
pub async fn begin_in(folder: &Path, change: impl FnOnce(&mut Limits)) -> Service {
    let mut config = Config::new(folder);
    config.listen.set_port(0);
    config.limits.quiet = Duration::from_millis(50);
    // Builds for tests are slow, and the machines that run them busy.
    config.limits.request_time = Duration::from_secs(120);
    change(&mut config.limits);
    let bound = bind(config).await.unwrap();
    let address = bound.address();
    let (stop, stopped) = oneshot::channel();
    let ended = tokio::spawn(bound.serve(async {
        let _ = stopped.await;
    }));
    let client = Client::connect(format!("http://{address}")).await.unwrap();
    Service { client: client.max_decoding_message_size(16 << 20), stop, ended }
}

/// Ossel Water, as its file describes it.
pub fn water() -> v1::Water {
    let quantity = |value: f64, unit: &str| Some(v1::Quantity { value, unit: unit.to_owned() });
    let fetch =
        [(0.0, 2.6), (45.0, 0.8), (90.0, 0.5), (135.0, 0.7), (180.0, 3.0), (225.0, 1.1), (270.0, 0.5), (315.0, 0.9)];
    let fetch = fetch.map(|(from_degrees, miles)| v1::Fetch { from_degrees, length: quantity(miles, "mi") });
    v1::Water {
        name: "Ossel Water".to_owned(),
        zone: "-07:00".to_owned(),
        position: Some(v1::Position { latitude: 46.0, longitude: -116.0 }),
        bait_allowed: Some(false),
        releasing: Some(true),
        lake: Some(v1::Lake {
            elevation: quantity(2100.0, "ft"),
            deepest: quantity(210.0, "ft"),
            mean_depth: quantity(88.0, "ft"),
            area_square_metres: Some(9.4e6),
            longest_open_line: quantity(5.6, "mi"),
            deep_water: quantity(43.0, "°F"),
            fetch: fetch.to_vec(),
            ..Default::default()
        }),
        ..Default::default()
    }
}
