//! The handlers: each takes a request apart, has somebody else answer it, and sends the answer if it is not too large.

use std::sync::Arc;

use jiff::Timestamp;
use tokio::sync::{Semaphore, watch};
use tonic::{Request, Response, Status, Streaming};

use super::advise;
use super::comparison;
use super::library::{Entry, Library, State};
use super::limits::{Limits, MOST_ON_PAGE, Workers, sendable};
use super::source_text::{self, AROUND};
use super::status::{Follows, Refusal};
use super::stream::{self, Surroundings};
use super::trip;
use super::v1;
use super::v1::leadsman_service_server::LeadsmanService;
use super::wire;
use crate::findings::{Finding, Severity};
use crate::text::Sources;
use crate::vocabulary::time::Instant;

/// Who answers.
#[derive(Debug)]
pub struct Desk {
    library: Arc<Library>,
    limits: Arc<Limits>,
    workers: Workers,
    trips: Arc<Semaphore>,
    comparisons: Arc<Semaphore>,
    ending: watch::Receiver<bool>,
}

impl Desk {
    /// A desk for a library, within limits; `ending` turns true when the service ends.
    pub fn new(library: Arc<Library>, limits: Arc<Limits>, ending: watch::Receiver<bool>) -> Self {
        let workers = Workers::new(&limits);
        let trips = Arc::new(Semaphore::new(limits.trips));
        let comparisons = Arc::new(Semaphore::new(limits.comparisons));
        Self { library, limits, workers, trips, comparisons, ending }
    }

    fn around(&self) -> Surroundings {
        Surroundings {
            library: self.library.clone(),
            limits: self.limits.clone(),
            workers: self.workers.clone(),
            ending: self.ending.clone(),
        }
    }

    fn send<M: prost::Message>(&self, answer: M) -> Result<Response<M>, Status> {
        Ok(Response::new(sendable(answer, self.limits.bytes_out)?))
    }
}

#[expect(clippy::disallowed_methods, reason = "this is the edge: without a time given, the moment is now")]
fn now() -> Instant {
    Instant::of(Timestamp::now())
}

#[tonic::async_trait]
impl LeadsmanService for Desk {
    async fn list_strategies(
        &self,
        request: Request<v1::ListStrategiesRequest>,
    ) -> Result<Response<v1::ListStrategiesResponse>, Status> {
        let v1::ListStrategiesRequest { page_size, page_token } = request.into_inner();
        let most = match usize::try_from(page_size) {
            Ok(1..MOST_ON_PAGE) => page_size as usize,
            _ => MOST_ON_PAGE,
        };
        let shelf = self.library.shelf();
        let mut rest = shelf.after(&page_token);
        let strategies: Vec<v1::StrategySummary> = rest.by_ref().take(most).map(|entry| summary(entry)).collect();
        let last = strategies.last().map_or_else(String::new, |last| last.name.clone());
        let next_page_token = if rest.next().is_some() { last } else { String::new() };
        self.send(v1::ListStrategiesResponse { strategies, next_page_token })
    }

    async fn get_strategy(
        &self,
        request: Request<v1::GetStrategyRequest>,
    ) -> Result<Response<v1::GetStrategyResponse>, Status> {
        let v1::GetStrategyRequest { name } = request.into_inner();
        let shelf = self.library.shelf();
        let entry = shelf.get("name", &name)?;
        self.send(v1::GetStrategyResponse { strategy: Some(strategy(entry, self.limits.bytes_out)) })
    }

    async fn check_source(
        &self,
        request: Request<v1::CheckSourceRequest>,
    ) -> Result<Response<v1::CheckSourceResponse>, Status> {
        let (library, limits, request) = (self.library.clone(), self.limits.clone(), request.into_inner());
        self.send(self.workers.run(move |_| source_text::check(&library, request, &limits)).await?)
    }

    async fn format_source(
        &self,
        request: Request<v1::FormatSourceRequest>,
    ) -> Result<Response<v1::FormatSourceResponse>, Status> {
        let (limits, request) = (self.limits.clone(), request.into_inner());
        self.send(self.workers.run(move |_| source_text::format(request, &limits)).await?)
    }

    async fn describe_catalogue(
        &self,
        request: Request<v1::DescribeCatalogueRequest>,
    ) -> Result<Response<v1::DescribeCatalogueResponse>, Status> {
        let v1::DescribeCatalogueRequest {} = request.into_inner();
        self.send(wire::catalogue::describe())
    }

    async fn describe_moment(
        &self,
        request: Request<v1::DescribeMomentRequest>,
    ) -> Result<Response<v1::DescribeMomentResponse>, Status> {
        let (library, request) = (self.library.clone(), request.into_inner());
        self.send(self.workers.run(move |_| advise::describe(&library, request, now())).await?)
    }

    async fn set_rods(&self, request: Request<v1::SetRodsRequest>) -> Result<Response<v1::SetRodsResponse>, Status> {
        let (library, request) = (self.library.clone(), request.into_inner());
        self.send(self.workers.run(move |_| advise::set_rods(&library, request, now())).await?)
    }

    async fn advise(&self, request: Request<v1::AdviseRequest>) -> Result<Response<v1::AdviseResponse>, Status> {
        let (library, request) = (self.library.clone(), request.into_inner());
        if advise::is_light(&library, &request) {
            return self.send(advise::one(&library, request, now())?);
        }
        self.send(self.workers.run(move |_| advise::one(&library, request, now())).await?)
    }

    async fn advise_many(
        &self,
        request: Request<v1::AdviseManyRequest>,
    ) -> Result<Response<v1::AdviseManyResponse>, Status> {
        let (library, limits, request) = (self.library.clone(), self.limits.clone(), request.into_inner());
        let work = self.workers.run(move |deadline| advise::many(&library, request, now(), &limits, deadline));
        self.send(work.await?)
    }

    type AdviseTripStream = trip::Answers;

    async fn advise_trip(
        &self,
        request: Request<Streaming<v1::AdviseTripRequest>>,
    ) -> Result<Response<trip::Answers>, Status> {
        let place = self.trips.clone().try_acquire_owned();
        let place = place.map_err(|_| Refusal::Busy("the service follows as many trips as it can"))?;
        let (messages, longest) = (Box::pin(request.into_inner()), self.limits.trip_time);
        Ok(Response::new(stream::begin(self.around(), Follows::Trip, messages, place, longest, trip::follow)))
    }

    type CompareStrategiesStream = comparison::Answers;

    async fn compare_strategies(
        &self,
        request: Request<Streaming<v1::CompareStrategiesRequest>>,
    ) -> Result<Response<comparison::Answers>, Status> {
        let place = self.comparisons.clone().try_acquire_owned();
        let place = place.map_err(|_| Refusal::Busy("the service makes as many comparisons as it can"))?;
        let (messages, longest) = (Box::pin(request.into_inner()), self.limits.comparison_time);
        let begun = stream::begin(self.around(), Follows::Comparison, messages, place, longest, comparison::follow);
        Ok(Response::new(begun))
    }
}

fn summary(entry: &Entry) -> v1::StrategySummary {
    let state = match entry.state() {
        State::InForce => v1::StrategyState::InForce,
        State::OldInForce => v1::StrategyState::OldInForce,
        State::Broken => v1::StrategyState::Broken,
    };
    let program = entry.program.as_deref();
    v1::StrategySummary {
        name: entry.name.clone(),
        state: state.into(),
        title: program.map_or_else(String::new, |program| program.name.clone()),
        species: program.and_then(|program| program.species.clone()),
        about: program.and_then(|program| program.about.clone()),
        units: program.map_or(v1::Units::Unspecified, |program| wire::units(program.system)).into(),
    }
}

fn strategy(entry: &Entry, most_bytes: usize) -> v1::Strategy {
    let program = entry.program.as_deref();
    let sources: &Sources = program.map_or(&entry.sources, |program| &program.sources);
    let files: Vec<v1::SourceFile> = sources
        .files()
        .iter()
        .map(|file| v1::SourceFile { name: file.name().to_owned(), text: file.text().to_owned() })
        .collect();
    let texts: usize = files.iter().map(|file| file.name.len() + file.text.len() + 16).sum();
    let listed: Vec<&Finding> = entry.findings.iter().filter(|finding| finding.severity() != Severity::Note).collect();
    let ladders = program.map_or(&[][..], |program| &program.ladders).iter().map(|ladder| v1::Ladder {
        name: ladder.name.clone(),
        title: ladder.title.clone(),
        rungs: ladder.rungs.iter().map(|rung| rung.name.clone()).collect(),
    });
    let readings = program
        .map_or_else(Vec::new, |program| program.inputs.iter().map(|input| program.input_name(input.source)).collect());
    v1::Strategy {
        summary: Some(summary(entry)),
        files,
        finding_count: wire::count(listed.len()),
        findings: source_text::within(listed, &entry.sources, most_bytes.saturating_sub(texts + AROUND) / 2),
        readings,
        ladders: ladders.collect(),
    }
}
