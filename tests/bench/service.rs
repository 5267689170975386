//! Unary advice over loopback, beside a handler that answers nothing, in the same run.
//!
//! `cargo bench --bench service`. Sixty-four calls are in flight at any time, over four connections, as from a few
//! apps; the ratio to the empty handler is what counts. Beside each view of the advice stands a handler that sends a copy
//! of the same and works nothing out: what carrying and reading an answer of that size costs, whoever made it. Those two
//! are served by the transport as it comes, without what the service does to send small answers together. The
//! client is the same for all, and runs on the same cores. The last figure is what a served process holds with a hundred
//! open trips.

#![allow(clippy::expect_used, reason = "a benchmark that can't run stops")]
#![allow(clippy::disallowed_methods, reason = "a benchmark reads the clock")]

use std::time::{Duration, Instant};

use leadsman::service::v1::leadsman_service_client::LeadsmanServiceClient;
use leadsman::service::v1::leadsman_service_server::{LeadsmanService, LeadsmanServiceServer};
use leadsman::service::v1::{self, advise_request, reading};
use leadsman::service::{Config, bind};
use tonic::transport::server::TcpIncoming;
use tonic::transport::{Channel, Server};
use tonic::{Request, Response, Status, Streaming};

const IN_FLIGHT: usize = 64;
const CALLS: usize = 20_000;
const ROUNDS: usize = 5;

/// Answers every call for advice with the same, and every other with nothing in it.
#[derive(Default)]
struct Same(v1::AdviseResponse);

type Answer<T> = Result<Response<T>, Status>;

#[tonic::async_trait]
impl LeadsmanService for Same {
    async fn list_strategies(&self, _: Request<v1::ListStrategiesRequest>) -> Answer<v1::ListStrategiesResponse> {
        Ok(Response::new(Default::default()))
    }
    async fn get_strategy(&self, _: Request<v1::GetStrategyRequest>) -> Answer<v1::GetStrategyResponse> {
        Ok(Response::new(Default::default()))
    }
    async fn check_source(&self, _: Request<v1::CheckSourceRequest>) -> Answer<v1::CheckSourceResponse> {
        Ok(Response::new(Default::default()))
    }
    async fn format_source(&self, _: Request<v1::FormatSourceRequest>) -> Answer<v1::FormatSourceResponse> {
        Ok(Response::new(Default::default()))
    }
    async fn describe_catalogue(
        &self,
        _: Request<v1::DescribeCatalogueRequest>,
    ) -> Answer<v1::DescribeCatalogueResponse> {
        Ok(Response::new(Default::default()))
    }
    async fn describe_moment(&self, _: Request<v1::DescribeMomentRequest>) -> Answer<v1::DescribeMomentResponse> {
        Ok(Response::new(Default::default()))
    }
    async fn set_rods(&self, _: Request<v1::SetRodsRequest>) -> Answer<v1::SetRodsResponse> {
        Ok(Response::new(Default::default()))
    }
    async fn advise(&self, _: Request<v1::AdviseRequest>) -> Answer<v1::AdviseResponse> {
        Ok(Response::new(self.0.clone()))
    }
    async fn advise_many(&self, _: Request<v1::AdviseManyRequest>) -> Answer<v1::AdviseManyResponse> {
        Ok(Response::new(Default::default()))
    }
    type AdviseTripStream = tokio_stream::Empty<Result<v1::AdviseTripResponse, Status>>;
    async fn advise_trip(&self, _: Request<Streaming<v1::AdviseTripRequest>>) -> Answer<Self::AdviseTripStream> {
        Ok(Response::new(tokio_stream::empty()))
    }
    type CompareStrategiesStream = tokio_stream::Empty<Result<v1::CompareStrategiesResponse, Status>>;
    async fn compare_strategies(
        &self,
        _: Request<Streaming<v1::CompareStrategiesRequest>>,
    ) -> Answer<Self::CompareStrategiesStream> {
        Ok(Response::new(tokio_stream::empty()))
    }
}

fn question(view: v1::AdviceView) -> v1::AdviseRequest {
    let text = |name: &str, value: &str| v1::Reading {
        name: name.into(),
        value: Some(reading::Value::Text(value.into())),
        ..Default::default()
    };
    v1::AdviseRequest {
        strategy: Some(advise_request::Strategy::StrategyName("less_to_chase".into())),
        at: "2026-05-14T12:10-07:00".into(),
        readings: vec![
            text("surface", "54 °F"),
            text("waves", "8 in"),
            text("marks", "yes"),
            text("wind", "10 mph"),
            text("bottom", "90 ft"),
        ],
        view: view.into(),
        ..Default::default()
    }
}

/// Calls a second, sixty-four in flight.
async fn rate(clients: &[LeadsmanServiceClient<Channel>], question: &v1::AdviseRequest) -> f64 {
    let begun = Instant::now();
    let tasks: Vec<_> = (0..IN_FLIGHT)
        .map(|at| {
            let (mut client, question) = (clients[at % clients.len()].clone(), question.clone());
            tokio::spawn(async move {
                for _ in 0..CALLS / IN_FLIGHT {
                    client.advise(question.clone()).await.expect("an answer");
                }
            })
        })
        .collect();
    for task in tasks {
        task.await.expect("a task");
    }
    CALLS as f64 / begun.elapsed().as_secs_f64()
}

async fn connect(address: std::net::SocketAddr) -> Vec<LeadsmanServiceClient<Channel>> {
    let mut clients = Vec::new();
    for _ in 0..4 {
        clients.push(LeadsmanServiceClient::connect(format!("http://{address}")).await.expect("a connection"));
    }
    clients
}

/// Clients of a handler that always answers the same.
async fn same(answer: v1::AdviseResponse) -> Vec<LeadsmanServiceClient<Channel>> {
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.expect("a port");
    let address = listener.local_addr().expect("an address");
    // As the service itself does: small answers do not wait for more to send.
    let incoming = TcpIncoming::from(listener).with_nodelay(Some(true));
    tokio::spawn(Server::builder().add_service(LeadsmanServiceServer::new(Same(answer))).serve_with_incoming(incoming));
    connect(address).await
}

/// Resident memory of a process in MiB, where the system tells.
fn resident(process: u32) -> Option<f64> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    let kib: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kib / 1024.0)
}

/// A free port, which is free again when this returns.
fn free_port() -> std::net::SocketAddr {
    let listener = std::net::TcpListener::bind("127.0.0.1:0").expect("a port");
    listener.local_addr().expect("an address")
}

/// What a served process holds with a hundred trips under way, each of which has had its first advice.
async fn memory_of_trips() {
    let address = free_port();
    let mut served = std::process::Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .args(["serve", concat!(env!("CARGO_MANIFEST_DIR"), "/rules"), "--listen", &address.to_string()])
        .stderr(std::process::Stdio::null())
        .spawn()
        .expect("the service starts");
    let mut clients = Vec::new();
    for _ in 0..200 {
        if let Ok(client) = LeadsmanServiceClient::connect(format!("http://{address}")).await {
            clients.push(client);
        }
        if clients.len() == 4 {
            break;
        }
        tokio::time::sleep(Duration::from_millis(25)).await;
    }
    let before = resident(served.id());
    let mut trips = Vec::new();
    for at in 0..100 {
        let ask = question(v1::AdviceView::Full);
        let opening = v1::TripOpening {
            strategy: Some(v1::trip_opening::Strategy::StrategyName("less_to_chase".into())),
            ..Default::default()
        };
        let moment = v1::TripMoment { time: ask.at, readings: ask.readings, ..Default::default() };
        let first = v1::AdviseTripRequest { opening: Some(opening), moment: Some(moment) };
        let open = tokio_stream::StreamExt::chain(tokio_stream::once(first), tokio_stream::pending());
        let mut client = clients[at % clients.len()].clone();
        let mut trip = client.advise_trip(open).await.expect("a trip").into_inner();
        let advice = trip.message().await.expect("no error");
        assert!(advice.is_some(), "the first moment is answered");
        trips.push(trip);
    }
    if let (Some(before), Some(after)) = (before, resident(served.id())) {
        println!("served process: {before:.0} MiB at rest, {after:.0} MiB with {} trips under way", trips.len());
    }
    let _ = served.kill();
    let _ = served.wait();
}

fn median(of: &[f64]) -> f64 {
    let mut sorted = of.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[sorted.len() / 2]
}

#[tokio::main]
async fn main() {
    let mut config = Config::new(concat!(env!("CARGO_MANIFEST_DIR"), "/rules"));
    config.listen.set_port(0);
    config.limits.requests = 4 * IN_FLIGHT;
    let bound = bind(config).await.expect("the scenario is served");
    let advice = bound.address();
    tokio::spawn(bound.serve(std::future::pending()));
    let (advice, empty) = (connect(advice).await, same(v1::AdviseResponse::default()).await);
    let mut rows = vec![("empty handler".to_owned(), empty, question(v1::AdviceView::Call))];
    for (name, view) in [("call view", v1::AdviceView::Call), ("full view", v1::AdviceView::Full)] {
        let question = question(view);
        let answer = advice[0].clone().advise(question.clone()).await.expect("an answer").into_inner();
        let size = prost::Message::encoded_len(&answer);
        rows.push((format!("{name}, {size} bytes, copied"), same(answer).await, question.clone()));
        rows.push((format!("{name}, worked out"), advice.clone(), question));
    }
    // `-- "call view, worked"` runs what has that in its name alone, for a profile of it.
    if let Some(wanted) = std::env::args().nth(1).filter(|wanted| !wanted.starts_with('-')) {
        rows.retain(|(name, ..)| name.contains(&wanted));
    }
    // A round of each to warm up, then in turn, so that a machine that slows down slows all.
    let mut rates = vec![Vec::new(); rows.len()];
    for round in 0..=ROUNDS {
        for ((_, clients, question), rates) in rows.iter().zip(&mut rates) {
            let rate = rate(clients, question).await;
            rates.extend((round > 0).then_some(rate));
        }
    }
    println!("median of {ROUNDS} rounds, {IN_FLIGHT} calls in flight:");
    for ((name, ..), row) in rows.iter().zip(&rates) {
        let ratios: Vec<f64> = row.iter().zip(&rates[0]).map(|(rate, nothing)| rate / nothing).collect();
        println!("{name}: {:.0} calls/s, {:.2} of the empty handler's", median(row), median(&ratios));
    }
    memory_of_trips().await;
}
