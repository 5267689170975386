//! The service over a real socket on loopback, with the generated client.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]
#![allow(clippy::disallowed_methods, reason = "how long an answer takes is what some of these tests are about")]

use std::path::Path;
use std::time::{Duration, Instant};

use leadsman::check::{IncludeError, Includes, check};
use leadsman::findings::data::FindingData;
use leadsman::findings::{Finding, Severity};
use leadsman::proof;
use leadsman::service::v1::leadsman_service_client::LeadsmanServiceClient;
use leadsman::service::v1::{self, advise_request, reading, trip_opening, value};
use leadsman::service::{Config, Limits, ServeError, bind};
use prost::Message;
use tokio::net::TcpStream;
use tokio::sync::{mpsc, oneshot};
use tokio::task::JoinHandle;
use tokio_stream::wrappers::ReceiverStream;
use tonic::transport::Channel;
use tonic::{Code, Status, Streaming};
use tonic_types::StatusExt;

type Client = LeadsmanServiceClient<Channel>;

/// A service of its own for a test, on a folder of its own.
struct Service {
    folder: tempfile::TempDir,
    address: std::net::SocketAddr,
    client: Client,
    stop: oneshot::Sender<()>,
    ended: JoinHandle<Result<(), ServeError>>,
}

/// The strategy that most tests ask.
const EVENING: &str = "strategy \"Evening\"
  species \"brown trout\"
  units us

rule \"Low light\"
  if light is low_sun
  run depth 4 to 12 ft
  because \"They come up when the light goes.\"

rule \"Cool water\"
  if surface at most 62 °F
  run depth 10 to 30 ft, speed 2 to 3 mph
  because \"Cool enough to chase.\"

rule \"Warm water\"
  run depth 30 to 50 ft, speed 1.5 to 2 mph

ladder pace \"Less to chase\"
  rung large run size 3 to 4 in
  rung small run size 1 to 2 in
  step down if marks and strikeless at least 30 min
  step up if strikes(20 min) at least 2

include \"common/care.strategy\"
";

const CARE: &str = "rule \"Too warm to release\"
  if surface at least 68 °F and releasing
  stop \"Too warm.\"
";

fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    write(folder.path(), "evening.strategy", EVENING);
    write(folder.path(), "common/care.strategy", CARE);
    write(folder.path(), "ossel/broken.strategy", "strategy \"Broken\"\nrule \"x\" run depth 3 gallons\n");
    write(folder.path(), "ossel/plain.strategy", "strategy \"Plain\" units metric\nrule \"x\" run depth 3 m\n");
    write(folder.path(), "notes.txt", "secret words\n");
    folder
}

fn write(folder: &Path, name: &str, text: &str) {
    let path = folder.join(name);
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    std::fs::write(path, text).unwrap();
}

async fn begin() -> Service {
    begin_with(|_| {}).await
}

async fn begin_with(change: impl FnOnce(&mut Limits)) -> Service {
    let folder = folder();
    let mut config = Config::new(folder.path());
    assert!(config.listen.ip().is_loopback(), "unless told otherwise");
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
    let client = connect(address).await;
    Service { folder, address, client, stop, ended }
}

async fn connect(address: std::net::SocketAddr) -> Client {
    Client::connect(format!("http://{address}")).await.unwrap()
}

fn inline(text: impl Into<String>) -> v1::InlineSource {
    v1::InlineSource { text: text.into(), name: String::new() }
}

fn text(name: &str, value: &str) -> v1::Reading {
    let value = Some(reading::Value::Text(value.to_owned()));
    v1::Reading { name: name.to_owned(), value, time: String::new() }
}

fn quantity(name: &str, value: f64, unit: &str) -> v1::Reading {
    let value = Some(reading::Value::Quantity(v1::Quantity { value, unit: unit.to_owned() }));
    v1::Reading { name: name.to_owned(), value, time: String::new() }
}

fn water() -> v1::Water {
    v1::Water {
        name: "Ossel Water".to_owned(),
        zone: "-07:00".to_owned(),
        position: Some(v1::Position { latitude: 46.0, longitude: -116.0 }),
        bait_allowed: Some(false),
        releasing: Some(true),
        ..Default::default()
    }
}

fn ask(readings: Vec<v1::Reading>) -> v1::AdviseRequest {
    v1::AdviseRequest {
        strategy: Some(advise_request::Strategy::StrategyName("evening".to_owned())),
        at: "2026-05-14T12:10".to_owned(),
        water: Some(water()),
        readings,
        ..Default::default()
    }
}

fn ask_source(source: v1::InlineSource) -> v1::AdviseRequest {
    v1::AdviseRequest { strategy: Some(advise_request::Strategy::Source(source)), ..ask(Vec::new()) }
}

fn printed(advice: &v1::Advice, aspect: &str) -> String {
    let found = advice.tactic.iter().find(|advice| advice.name == aspect);
    found.and_then(|advice| advice.printed.clone()).unwrap_or_default()
}

fn rung(advice: &v1::Advice) -> &str {
    advice.ladders[0].rung.as_deref().unwrap_or_default()
}

fn violations(status: &Status) -> Vec<(String, String)> {
    let details = status.get_error_details();
    let bad = details.bad_request().map(|bad| bad.field_violations.clone()).unwrap_or_default();
    bad.into_iter().map(|violation| (violation.field, violation.description)).collect()
}

fn source_findings(status: &Status) -> v1::SourceFindings {
    let packed = tonic_types::pb::Status::decode(status.details()).unwrap();
    let found = packed.details.iter().find(|any| any.type_url == "type.googleapis.com/leadsman.v1.SourceFindings");
    v1::SourceFindings::decode(found.unwrap().value.as_slice()).unwrap()
}

/// Waits until something holds that a change of the folder brings.
async fn until<F: Future<Output = bool>>(mut holds: impl FnMut() -> F) {
    let begun = Instant::now();
    while !holds().await {
        assert!(begun.elapsed() < Duration::from_secs(10), "it did not come in time");
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
}

struct Files<'a>(&'a Path);

impl Includes for Files<'_> {
    fn read(&self, path: &str) -> Result<Vec<u8>, IncludeError> {
        std::fs::read(self.0.join(path)).map_err(|_| IncludeError::Missing)
    }
}

/// What the command line finds in a text.
fn found(name: &str, text: &str, folder: &Path) -> Vec<FindingData> {
    let checked = check(name, text, &Files(folder));
    let shown = |finding: &&Finding| finding.severity() != Severity::Note;
    proof::all_findings(&checked).iter().filter(shown).map(|found| FindingData::of(found, &checked.sources)).collect()
}

fn assert_same(wire: &[v1::Finding], data: &[FindingData]) {
    assert_eq!(wire.len(), data.len());
    for (wire, data) in wire.iter().zip(data) {
        let severity = wire.severity().as_str_name().trim_start_matches("SEVERITY_").to_lowercase();
        assert_eq!((wire.code.as_str(), severity.as_str()), (data.code, data.severity));
        assert_eq!((&wire.file, &wire.message, &wire.help), (&data.file, &data.message, &data.help));
        let place = (wire.line, wire.column, wire.end_line, wire.end_column);
        assert_eq!(place, (data.line, data.column, data.end_line, data.end_column));
    }
}

// Strategies of the folder

#[tokio::test(flavor = "multi_thread")]
async fn strategies_are_listed_by_their_paths_in_pages() {
    let mut service = begin().await;
    let all = service.client.list_strategies(v1::ListStrategiesRequest::default()).await.unwrap().into_inner();
    let names: Vec<&str> = all.strategies.iter().map(|strategy| strategy.name.as_str()).collect();
    assert_eq!(names, ["evening", "ossel/broken", "ossel/plain"], "a file without a header is passed over");
    assert_eq!(all.next_page_token, "");
    assert_eq!(all.strategies[0].state(), v1::StrategyState::InForce);
    assert_eq!(all.strategies[0].species.as_deref(), Some("brown trout"));
    assert_eq!(all.strategies[1].state(), v1::StrategyState::Broken);
    assert_eq!(all.strategies[2].units(), v1::Units::Metric);

    let mut paged = Vec::new();
    let mut page_token = String::new();
    loop {
        let request = v1::ListStrategiesRequest { page_size: 1, page_token };
        let page = service.client.list_strategies(request).await.unwrap().into_inner();
        assert_eq!(page.strategies.len(), 1);
        paged.extend(page.strategies.into_iter().map(|strategy| strategy.name));
        page_token = page.next_page_token;
        if page_token.is_empty() {
            break;
        }
    }
    assert_eq!(paged, names);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_strategy_is_got_with_its_text_or_the_nearest_name_is_offered() {
    let mut service = begin().await;
    let mut get = async |name: &str| {
        let request = v1::GetStrategyRequest { name: name.to_owned() };
        service.client.get_strategy(request).await.map(|got| got.into_inner().strategy.unwrap())
    };
    let evening = get("evening").await.unwrap();
    let files: Vec<&str> = evening.files.iter().map(|file| file.name.as_str()).collect();
    assert_eq!(files, ["evening.strategy", "common/care.strategy"]);
    assert_eq!(evening.files[0].text, EVENING);
    assert_eq!(evening.ladders[0].rungs, ["large", "small"]);
    assert!(
        evening.readings.contains(&"surface".to_owned()) && evening.readings.contains(&"strikes(20 min)".to_owned())
    );

    let broken = get("ossel/broken").await.unwrap();
    assert_eq!((broken.finding_count, broken.findings[0].line), (1, 2));

    let status = get("evning").await.unwrap_err();
    assert_eq!(status.code(), Code::NotFound);
    assert_eq!(status.message(), "there is no strategy `evning`; did you mean `evening`?");
    let details = status.get_error_details();
    assert_eq!(details.error_info().unwrap().metadata["nearest"], "evening");
    assert!(get("evening.strategy").await.unwrap_err().message().contains("did you mean `evening`?"));
    assert_eq!(get("../evening").await.unwrap_err().code(), Code::NotFound);
    assert_eq!(get(&"x".repeat(1_000_000)).await.unwrap_err().code(), Code::NotFound);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_changed_file_is_in_force_soon_and_a_broken_one_is_not() {
    let mut service = begin().await;
    let depth = async |mut client: Client| {
        let answer = client.advise(ask(vec![text("surface", "70 °F"), text("releasing", "no")])).await.unwrap();
        printed(&answer.into_inner().advice.unwrap(), "depth")
    };
    assert_eq!(depth(service.client.clone()).await, "30 to 50 ft");

    write(service.folder.path(), "evening.strategy", &EVENING.replace("depth 30 to 50 ft", "depth 31 to 51 ft"));
    until(async || depth(service.client.clone()).await == "31 to 51 ft").await;

    // Editors write a new file and put it in the place of the old one.
    write(service.folder.path(), "evening.tmp", &EVENING.replace("depth 30 to 50 ft", "depth 32 to 52 ft"));
    std::fs::rename(service.folder.path().join("evening.tmp"), service.folder.path().join("evening.strategy")).unwrap();
    until(async || depth(service.client.clone()).await == "32 to 52 ft").await;

    write(service.folder.path(), "evening.strategy", &EVENING.replace("depth 30 to 50 ft", "depth 33 to 53 pounds"));
    let state = async |mut client: Client| {
        let got = client.get_strategy(v1::GetStrategyRequest { name: "evening".to_owned() }).await;
        got.unwrap().into_inner().strategy.unwrap()
    };
    let is_old = async || state(service.client.clone()).await.summary.unwrap().state() == v1::StrategyState::OldInForce;
    until(is_old).await;
    assert_eq!(depth(service.client.clone()).await, "32 to 52 ft", "the old one stays in force");
    let old = state(service.client.clone()).await;
    assert!(old.files[0].text.contains("32 to 52 ft"), "what is shown is what is in force");
    assert_eq!((old.findings[0].code.as_str(), old.findings[0].line), ("unknown-unit", 16));

    // Half written, it is nothing that only includes.
    write(service.folder.path(), "evening.strategy", "");
    until(async || state(service.client.clone()).await.findings[0].code == "no-strategy").await;
    assert_eq!(depth(service.client.clone()).await, "32 to 52 ft");

    write(service.folder.path(), "evening.strategy", EVENING);
    until(async || depth(service.client.clone()).await == "30 to 50 ft").await;
    // What it includes counts too.
    write(service.folder.path(), "common/care.strategy", &CARE.replace("68", "71"));
    let stops = ask(vec![text("surface", "70 °F")]);
    until(async || {
        let answer = service.client.clone().advise(stops.clone()).await.unwrap().into_inner();
        answer.advice.unwrap().lines_up.is_empty()
    })
    .await;

    std::fs::remove_file(service.folder.path().join("evening.strategy")).unwrap();
    until(async || {
        let all = service.client.clone().list_strategies(v1::ListStrategiesRequest::default()).await.unwrap();
        all.into_inner().strategies.len() == 2
    })
    .await;
    assert_eq!(service.client.advise(ask(Vec::new())).await.unwrap_err().code(), Code::NotFound);
}

// Sources sent along

#[tokio::test(flavor = "multi_thread")]
async fn findings_are_those_of_the_check() {
    let mut service = begin().await;
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/findings");
    let mut compared = 0;
    for entry in std::fs::read_dir(root).unwrap() {
        let path = entry.unwrap().path();
        let (Some("strategy"), Ok(source)) =
            (path.extension().and_then(|e| e.to_str()), std::fs::read_to_string(&path))
        else {
            continue;
        };
        let request = v1::CheckSourceRequest { source: Some(inline(source.clone())), notes: false };
        let answer = service.client.check_source(request).await.unwrap().into_inner();
        let expected = found("inline.strategy", &source, service.folder.path());
        assert_same(&answer.findings, &expected);
        assert_eq!(answer.finding_count as usize, expected.len());
        assert_eq!(answer.checks, !expected.iter().any(|finding| finding.severity == "error"));
        compared += usize::from(!expected.is_empty());
    }
    assert!(compared > 50);
}

#[tokio::test(flavor = "multi_thread")]
async fn includes_of_a_source_are_found_in_the_folder_and_nothing_else_is() {
    let mut service = begin().await;
    let mut check = async |text: &str, name: &str| {
        let source = Some(v1::InlineSource { text: text.to_owned(), name: name.to_owned() });
        service.client.check_source(v1::CheckSourceRequest { source, notes: true }).await.map(|got| got.into_inner())
    };
    assert!(check(EVENING, "").await.unwrap().checks);
    let moved = check(EVENING, "ossel/evening").await.unwrap();
    assert!(!moved.checks, "from there no common folder is found");
    assert_eq!(moved.findings[0].file, "ossel/evening.strategy");
    for path in ["notes.txt", "../../etc/passwd", "/etc/passwd"] {
        let answer = check(&format!("strategy \"x\"\ninclude \"{path}\"\nrule \"y\" run depth 3 m"), "").await.unwrap();
        assert!(!answer.checks);
        assert!(answer.findings.iter().all(|finding| !finding.message.contains("secret")), "{:?}", answer.findings);
    }
    for name in ["../x", "/x", "a//../b", ".hidden", "a/", "a\\b", &"x".repeat(300)] {
        let status = check("strategy \"x\"", name).await.unwrap_err();
        assert_eq!(
            (status.code(), violations(&status)[0].0.as_str()),
            (Code::InvalidArgument, "source.name"),
            "{name}"
        );
    }
    let status = service.client.check_source(v1::CheckSourceRequest::default()).await.unwrap_err();
    assert_eq!((status.code(), violations(&status)[0].0.as_str()), (Code::InvalidArgument, "source"));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_source_is_formatted_or_comes_back_with_findings() {
    let mut service = begin().await;
    let mut format = async |text: &str| {
        let request = v1::FormatSourceRequest { source: Some(inline(text)) };
        service.client.format_source(request).await.unwrap().into_inner()
    };
    let source = "strategy   \"x\"  units us rule \"y\"   run depth 3  ft";
    assert_eq!(format(source).await.text, leadsman::format::format(source).ok());
    let broken = format("strategy \"x\"\nrule \"y\" runn depth 3 ft").await;
    assert_eq!(broken.text, None);
    assert_eq!(
        (broken.finding_count, broken.findings[0].line, broken.findings[0].file.as_str()),
        (1, 2, "inline.strategy")
    );
}

/// A source with so many errors.
fn errors(count: usize) -> String {
    let rules: String = (0..count).map(|n| format!("rule \"r{n}\" run depth {n} furlongs\n")).collect();
    format!("strategy \"x\"\n{rules}")
}

#[tokio::test(flavor = "multi_thread")]
async fn however_many_errors_there_are_answers_and_trailers_stay_small() {
    let mut service = begin().await;
    let source = errors(10_000);
    let request = v1::CheckSourceRequest { source: Some(inline(source.clone())), notes: false };
    let answer = service.client.check_source(request).await.unwrap().into_inner();
    assert_eq!(answer.finding_count, 10_000);
    assert!(answer.encoded_len() <= 4 * 1024 * 1024);

    let status = service.client.advise(ask_source(inline(source))).await.unwrap_err();
    assert_eq!(status.code(), Code::InvalidArgument);
    assert!(status.details().len() * 4 / 3 <= 4 * 1024, "{} bytes of details", status.details().len());
    assert!(status.message().len() <= 400);
    assert!(
        status
            .message()
            .starts_with("source.text: the source does not check: 10000 errors; the first is inline.strategy:2:")
    );
    let findings = source_findings(&status);
    assert_eq!(findings.count, 10_000);
    assert!(findings.findings.len() > 5);
    assert_eq!((findings.findings[1].line, findings.findings[1].code.as_str()), (3, "unknown-unit"));
    assert_eq!(violations(&status)[0].0, "source.text");
    assert_eq!(status.get_error_details().error_info().unwrap().metadata["errors"], "10000");

    let many = vec![text("surface", "3 pounds"); 1000];
    let status = service.client.advise(ask(many)).await.unwrap_err();
    assert!(
        status.message().starts_with("1000 fields are wrong; the first is readings[0].value"),
        "{}",
        status.message()
    );
    assert!(status.details().len() * 4 / 3 <= 4 * 1024);
    assert!(violations(&status).len() > 3);
}

// Advice

#[tokio::test(flavor = "multi_thread")]
async fn advice_comes_with_values_units_and_reasons() {
    let mut service = begin().await;
    let readings = vec![quantity("surface", 54.0, "°F"), text("marks", "yes"), quantity("wind", 12.0, "mph")];
    let advice = service.client.advise(ask(readings)).await.unwrap().into_inner().advice.unwrap();
    assert_eq!((advice.strategy.as_str(), advice.at.as_str()), ("Evening", "2026-05-14T12:10:00-07:00"));
    assert!(!advice.session);
    let depth = &advice.tactic[0];
    let range = v1::Range { from: 10.0, to: 30.0, unit: "ft".to_owned() };
    assert_eq!(depth.value.as_ref().unwrap().value, Some(value::Value::Range(range)));
    assert_eq!(depth.printed.as_deref(), Some("10 to 30 ft"));
    let by = depth.by.as_ref().unwrap();
    assert_eq!((by.name.as_str(), by.file.as_str(), by.line), ("Cool water", "evening.strategy", 10));
    assert_eq!(by.because.as_deref(), Some("Cool enough to chase."));
    assert_eq!(rung(&advice), "large");
    let surface = advice.readings.iter().find(|reading| reading.name == "surface").unwrap();
    assert_eq!(surface.origin(), v1::Origin::Given);
    let light = advice.readings.iter().find(|reading| reading.name == "light").unwrap();
    assert_eq!((light.origin(), light.printed.as_deref()), (v1::Origin::Derived, Some("high_sun")));
    assert!(advice.standing_cautions.iter().any(|caution| caution.about == "judgement"));
    assert_eq!(advice.lake.unwrap().name, "Ossel Water");
}

#[tokio::test(flavor = "multi_thread")]
async fn the_call_view_is_the_call_alone_and_keeps_the_cautions() {
    let mut service = begin().await;
    let full = ask(vec![text("surface", "54 °F"), text("marks", "yes")]);
    let call = v1::AdviseRequest { view: v1::AdviceView::Call.into(), ..full.clone() };
    let full = service.client.advise(full).await.unwrap().into_inner().advice.unwrap();
    let advice = service.client.advise(call.clone()).await.unwrap().into_inner().advice.unwrap();
    assert_eq!((&advice.strategy, &advice.at), (&full.strategy, &full.at));
    assert_eq!(rung(&advice), rung(&full));
    for (call, full) in advice.tactic.iter().zip(&full.tactic) {
        assert_eq!((&call.name, &call.value, &call.why_none), (&full.name, &full.value, &full.why_none));
        assert_eq!(call.by.as_ref().map(|by| &by.name), full.by.as_ref().map(|by| &by.name));
    }
    let about = |advice: &v1::Advice| -> Vec<(String, String, bool)> {
        let cautions = advice.standing_cautions.iter();
        cautions.map(|caution| (caution.about.clone(), caution.text.clone(), caution.reached)).collect()
    };
    assert_eq!(about(&advice), about(&full));
    assert!(advice.readings.is_empty() && advice.near.is_empty() && advice.undecided.is_empty());
    let (small, large) = (prost::Message::encoded_len(&advice), prost::Message::encoded_len(&full));
    assert!(small * 2 < large, "{small} bytes of {large}");

    // In one call of many, and on a trip, each as it asks.
    let both = v1::AdviseManyRequest { requests: vec![v1::AdviseRequest { view: 2, ..call.clone() }, call.clone()] };
    let answers = service.client.advise_many(both).await.unwrap().into_inner().responses;
    let readings: Vec<bool> = answers.into_iter().map(|answer| answer.advice.unwrap().readings.is_empty()).collect();
    assert_eq!(readings, [false, true]);
    let opening = v1::TripOpening {
        strategy: Some(v1::trip_opening::Strategy::StrategyName("evening".to_owned())),
        water: call.water.clone(),
        view: v1::AdviceView::Call.into(),
        ..Default::default()
    };
    let moment = v1::TripMoment { time: call.at.clone(), readings: call.readings.clone(), ..Default::default() };
    let first = v1::AdviseTripRequest { opening: Some(opening), moment: Some(moment) };
    let mut trip = service.client.advise_trip(tokio_stream::once(first)).await.unwrap().into_inner();
    assert!(trip.message().await.unwrap().unwrap().advice.unwrap().readings.is_empty());

    let status = service.client.advise(v1::AdviseRequest { view: 7, ..call }).await.unwrap_err();
    let why = "7 is no view; 1 is the call alone, 2 the full advice";
    assert_eq!(violations(&status), [("view".to_owned(), why.to_owned())]);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_request_may_say_how_long_nothing_struck_and_where_ladders_stand() {
    let mut service = begin().await;
    let minutes = |value: f64| Some(v1::Quantity { value, unit: "min".to_owned() });
    let asked = ask(vec![text("marks", "yes")]);
    let quiet = v1::AdviseRequest { strikeless: minutes(45.0), ..asked.clone() };
    let advice = service.client.advise(quiet).await.unwrap().into_inner().advice.unwrap();
    assert_eq!(rung(&advice), "small");
    let on = |ladder: &str, rung: &str| v1::LadderRung { ladder: ladder.to_owned(), rung: rung.to_owned() };
    let put = v1::AdviseRequest { rungs: vec![on("pace", "small")], ..asked.clone() };
    let advice = service.client.advise(put).await.unwrap().into_inner().advice.unwrap();
    assert_eq!(rung(&advice), "small");

    let wrong = v1::AdviseRequest {
        rungs: vec![on("pase", "small"), on("pace", "smal")],
        strikeless: minutes(-5.0),
        ..asked.clone()
    };
    let status = service.client.advise(wrong).await.unwrap_err();
    let fields: Vec<String> = violations(&status).into_iter().map(|(field, _)| field).collect();
    assert_eq!(fields, ["rungs[0].ladder", "rungs[1].rung", "strikeless"]);
    assert!(violations(&status)[1].1.contains("did you mean `small`?"));

    // Lines that are in begin no session here: nothing is remembered between two requests.
    let lines = v1::AdviseRequest { readings: vec![text("lines_in", "yes")], ..asked };
    assert!(!service.client.advise(lines).await.unwrap().into_inner().advice.unwrap().session);
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_wrong_with_a_request_names_its_field() {
    let mut service = begin().await;
    let base = ask(Vec::new());
    let at = |time: &str| v1::AdviseRequest { at: time.to_owned(), ..base.clone() };
    let zoneless = |time: &str| v1::AdviseRequest { water: None, ..at(time) };
    let given = |reading: v1::Reading| ask(vec![text("marks", "yes"), reading]);
    let timed = |time: &str| given(v1::Reading { time: time.to_owned(), ..text("surface", "54 °F") });
    let with_water = |water: v1::Water| v1::AdviseRequest { water: Some(water), ..base.clone() };
    let cast = |depth: f64, temperature: f64| {
        let point = |depth: f64| v1::CastPoint {
            depth: Some(v1::Quantity { value: depth, unit: "ft".to_owned() }),
            temperature: Some(v1::Quantity { value: temperature, unit: "°F".to_owned() }),
            oxygen: None,
        };
        let cast = v1::Cast { points: vec![point(0.0), point(depth)], time: String::new() };
        v1::AdviseRequest { cast: Some(cast), ..base.clone() }
    };
    let placed = |name: &str, latitude: f64| v1::Reading {
        name: name.to_owned(),
        value: Some(reading::Value::Position(v1::Position { latitude, longitude: -116.0 })),
        time: String::new(),
    };
    let nothing = v1::Reading { name: "surface".to_owned(), ..Default::default() };
    let cases: Vec<(v1::AdviseRequest, &str, &str)> = vec![
        (v1::AdviseRequest { strategy: None, ..base.clone() }, "strategy_name", "no strategy"),
        (zoneless("2026-05-14T12:10"), "at", "no time zone"),
        (at("noon"), "at", "`noon`"),
        (at("2026-05-14"), "at", "time of day"),
        (timed("2026-05-14T12:11"), "readings[1].time", "after the moment"),
        (timed("yesterday"), "readings[1].time", "`yesterday`"),
        (given(text("surface", "3 mph")), "readings[1].value", "temperature"),
        (given(text("surface", "54")), "readings[1].value", "what?"),
        (given(text("surface", "cold")), "readings[1].value", "temperature"),
        (given(text("surface", "54 °F, wind 3 mph")), "readings[1].value", ""),
        (given(text("surfce", "54 °F")), "readings[1].name", "surface"),
        (given(text("", "54 °F")), "readings[1].name", ""),
        (given(text("pace", "fastest")), "readings[1].value", "rung"),
        (given(quantity("surface", f64::NAN, "°F")), "readings[1].value", "NaN"),
        (given(quantity("surface", f64::INFINITY, "°F")), "readings[1].value", "inf"),
        (given(quantity("surface", 54.0, "furlong")), "readings[1].value", "`furlong`"),
        (given(quantity("surface", 54.0, "")), "readings[1].value", "what?"),
        (given(quantity("surface", 540.0, "°F")), "readings[1].value", "plausible"),
        (given(quantity("surface", 1e300, "°F")), "readings[1].value", ""),
        (given(nothing), "readings[1].value", "no value"),
        (given(placed("position", 91.0)), "readings[1].value", "latitude"),
        (given(placed("position", f64::NAN)), "readings[1].value", "latitude"),
        (given(placed("surface", 46.0)), "readings[1].value", "no place"),
        (cast(0.0, 50.0), "cast.points", "grow"),
        (cast(f64::NAN, 50.0), "cast.points[1].depth", "NaN"),
        (with_water(v1::Water { zone: "America/Bosie".to_owned(), ..water() }), "water.zone", "America/Boise"),
        (
            with_water(v1::Water { position: Some(v1::Position { latitude: 46.0, longitude: 181.0 }), ..water() }),
            "water.position",
            "longitude",
        ),
        (
            with_water(v1::Water {
                rules: Some(v1::LakeRules { checked: "April".to_owned(), ..Default::default() }),
                ..water()
            }),
            "water.rules.checked",
            "`April`",
        ),
        (
            with_water(v1::Water {
                cautions: Some(v1::CautionFigures {
                    wind: Some(v1::Quantity { value: 20.0, unit: "ft".to_owned() }),
                    ..Default::default()
                }),
                ..water()
            }),
            "water.cautions.wind",
            "speed",
        ),
        (ask(vec![text("marks", "yes"); 1001]), "readings", "at most 1000"),
        (given(text("surface", &"9".repeat(20_000))), "readings[1].value", "bytes"),
    ];
    for (request, field, words) in cases {
        let shown = format!("{field} {words}");
        let status = service.client.advise(request).await.expect_err(&shown);
        assert_eq!(status.code(), Code::InvalidArgument, "{shown}: {status:?}");
        let violations = violations(&status);
        assert_eq!(violations.len(), 1, "{shown}: {violations:?}");
        assert_eq!(violations[0].0, field, "{violations:?}");
        assert!(violations[0].1.contains(words), "{shown}: {violations:?}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_moment_is_the_one_said_or_the_latest_of_the_readings_or_now() {
    let mut service = begin().await;
    let mut at = async |request: v1::AdviseRequest| {
        service.client.advise(request).await.unwrap().into_inner().advice.unwrap().at
    };
    let timed = |time: &str| v1::Reading { time: time.to_owned(), ..text("surface", "54 °F") };
    let base = v1::AdviseRequest { at: String::new(), ..ask(Vec::new()) };
    let readings = vec![timed("2026-05-14T12:30"), timed("2026-05-14T12:05")];
    assert_eq!(at(v1::AdviseRequest { readings, ..base.clone() }).await, "2026-05-14T12:30:00-07:00");
    // Without a zone of the water the offset that the time carries is the zone.
    let carried = v1::AdviseRequest { water: None, at: "2026-05-14T12:10:00+02:00".to_owned(), ..base.clone() };
    assert_eq!(at(carried).await, "2026-05-14T12:10:00+02:00");
    let now = at(base).await;
    assert!(now.starts_with("20") && now.ends_with("-07:00"), "{now}");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_source_gives_advice_by_itself_and_a_broken_strategy_none() {
    let mut service = begin().await;
    let request = ask_source(inline("strategy \"x\"\nrule \"y\" run depth 3 to 4 ft"));
    let advice = service.client.advise(request).await.unwrap().into_inner().advice.unwrap();
    assert_eq!(printed(&advice, "depth"), "3 to 4 ft");
    assert_eq!(advice.tactic[0].by.as_ref().unwrap().file, "inline.strategy");

    let named = |name: &str| v1::AdviseRequest {
        strategy: Some(advise_request::Strategy::StrategyName(name.to_owned())),
        ..ask(Vec::new())
    };
    let status = service.client.advise(named("ossel/broken")).await.unwrap_err();
    assert_eq!(status.code(), Code::FailedPrecondition);
    assert_eq!(source_findings(&status).findings[0].line, 2);
    let status = service.client.advise(named("ossel/plian")).await.unwrap_err();
    assert_eq!(status.code(), Code::NotFound);
    assert!(status.message().contains("did you mean `ossel/plain`?"));
    assert_eq!(violations(&status)[0].0, "strategy_name");
}

#[tokio::test(flavor = "multi_thread")]
async fn many_moments_are_answered_in_order_or_not_at_all() {
    let mut service = begin().await;
    let warm = |degrees: f64| ask(vec![quantity("surface", degrees, "°F"), text("releasing", "no")]);
    let requests: Vec<v1::AdviseRequest> = (0..100).map(|n| warm(if n % 2 == 0 { 50.0 } else { 70.0 })).collect();
    let answer = service.client.advise_many(v1::AdviseManyRequest { requests: requests.clone() }).await.unwrap();
    let responses = answer.into_inner().responses;
    assert_eq!(responses.len(), 100);
    for (n, response) in responses.iter().enumerate() {
        let depth = printed(response.advice.as_ref().unwrap(), "depth");
        assert_eq!(depth, if n % 2 == 0 { "10 to 30 ft" } else { "30 to 50 ft" });
    }
    let mut wrong = requests.clone();
    wrong[7].readings.push(text("wind", "3 pounds"));
    let status = service.client.advise_many(v1::AdviseManyRequest { requests: wrong }).await.unwrap_err();
    assert_eq!(violations(&status)[0].0, "requests[7].readings[2].value");
    let too_many = vec![ask(Vec::new()); 257];
    let status = service.client.advise_many(v1::AdviseManyRequest { requests: too_many }).await.unwrap_err();
    assert_eq!((status.code(), violations(&status)[0].0.as_str()), (Code::InvalidArgument, "requests"));
    let none = service.client.advise_many(v1::AdviseManyRequest::default()).await.unwrap().into_inner();
    assert!(none.responses.is_empty());
}

#[tokio::test(flavor = "multi_thread")]
async fn the_catalogue_has_every_reading_with_its_kind_and_help() {
    let mut service = begin().await;
    let catalogue = service.client.describe_catalogue(v1::DescribeCatalogueRequest {}).await.unwrap().into_inner();
    assert_eq!(catalogue.readings.len(), leadsman::vocabulary::catalogue::CATALOGUE.len());
    assert!(catalogue.readings.iter().all(|entry| !entry.help.is_empty() && !entry.kind.is_empty()));
    let surface = &catalogue.readings[0];
    assert_eq!(
        (surface.name.as_str(), surface.kind.as_str(), surface.plausible.as_str()),
        ("surface", "temperature", "-1 to 40 °C")
    );
    assert_eq!(surface.good_for, Some(v1::Quantity { value: 120.0, unit: "min".to_owned() }));
    let light = catalogue.readings.iter().find(|entry| entry.name == "light").unwrap();
    assert_eq!(light.words, ["dark", "twilight", "low_sun", "high_sun"]);
    assert!(catalogue.units.iter().any(|unit| unit.symbol == "ft" && unit.kind == "length"));
    assert!(catalogue.aspects.iter().any(|aspect| aspect.name == "lure" && aspect.words.contains(&"spoon".to_owned())));
}

// Trips

struct Trip {
    send: mpsc::Sender<v1::AdviseTripRequest>,
    answers: Streaming<v1::AdviseTripResponse>,
}

impl Trip {
    async fn begin(client: &mut Client) -> Result<Trip, Status> {
        let (send, messages) = mpsc::channel(8);
        let answers = client.advise_trip(ReceiverStream::new(messages)).await?.into_inner();
        Ok(Trip { send, answers })
    }

    async fn opened(client: &mut Client) -> Trip {
        let trip = Trip::begin(client).await.unwrap();
        trip.send(Some(opening("evening")), None).await;
        trip
    }

    async fn send(&self, opening: Option<v1::TripOpening>, moment: Option<v1::TripMoment>) {
        // A trip that ended already says so where its answers are read.
        let _ = self.send.send(v1::AdviseTripRequest { opening, moment }).await;
    }

    async fn moment(&self, moment: v1::TripMoment) {
        self.send(None, Some(moment)).await;
    }

    async fn answer(&mut self) -> v1::AdviseTripResponse {
        self.answers.message().await.unwrap().unwrap()
    }

    async fn status(&mut self) -> Status {
        loop {
            match self.answers.message().await {
                Ok(Some(_)) => {}
                Ok(None) => panic!("the trip ended without a word"),
                Err(status) => return status,
            }
        }
    }
}

fn opening(name: &str) -> v1::TripOpening {
    let strategy = Some(trip_opening::Strategy::StrategyName(name.to_owned()));
    v1::TripOpening { strategy, water: Some(water()), ..Default::default() }
}

fn tick(clock: &str) -> v1::TripMoment {
    v1::TripMoment { time: format!("2026-05-14T{clock}"), ..Default::default() }
}

fn with(clock: &str, readings: Vec<v1::Reading>) -> v1::TripMoment {
    v1::TripMoment { readings, ..tick(clock) }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_trip_is_advised_at_once_and_then_whenever_the_call_changes() {
    let mut service = begin().await;
    let mut trip = Trip::opened(&mut service.client).await;
    let lines_in = vec![quantity("surface", 54.0, "°F"), text("marks", "yes"), text("lines_in", "yes")];
    trip.moment(with("11:30", lines_in)).await;
    let first = trip.answer().await;
    assert_eq!((first.sequence, first.moment), (1, 1));
    let advice = first.advice.unwrap();
    assert!(advice.session);
    assert_eq!((rung(&advice), printed(&advice, "depth").as_str()), ("large", "10 to 30 ft"));

    // Nothing changes until half an hour without a strike.
    trip.moment(tick("11:40")).await;
    trip.moment(with("11:55", vec![text("marks", "yes")])).await;
    trip.moment(tick("12:00")).await;
    let second = trip.answer().await;
    assert_eq!((second.sequence, second.moment), (2, 4));
    assert_eq!(rung(&second.advice.unwrap()), "small");

    trip.moment(v1::TripMoment { strikes: 1, ..tick("12:03") }).await;
    trip.moment(v1::TripMoment { strikes: 1, ..tick("12:05") }).await;
    let third = trip.answer().await;
    assert_eq!((third.sequence, third.moment, rung(&third.advice.unwrap())), (3, 6, "large"));

    let put = v1::LadderRung { ladder: "pace".to_owned(), rung: "small".to_owned() };
    trip.moment(v1::TripMoment { rungs: vec![put], ..tick("12:06") }).await;
    assert_eq!(rung(&trip.answer().await.advice.unwrap()), "small");

    let strategy = EVENING.replace("size 1 to 2 in", "size 9 to 10 in");
    write(service.folder.path(), "evening.strategy", &strategy);
    let mut client = service.client.clone();
    until(async || {
        let got = client.clone().get_strategy(v1::GetStrategyRequest { name: "evening".to_owned() }).await.unwrap();
        got.into_inner().strategy.unwrap().files[0].text.contains("9 to 10")
    })
    .await;
    trip.moment(with("12:07", vec![quantity("surface", 64.0, "°F")])).await;
    let kept = trip.answer().await.advice.unwrap();
    assert_eq!(printed(&kept, "size"), "1.0 to 2.0 in", "a trip keeps the strategy that it began with");
    let mut fresh = Trip::opened(&mut client).await;
    let put = v1::LadderRung { ladder: "pace".to_owned(), rung: "small".to_owned() };
    fresh.moment(v1::TripMoment { rungs: vec![put], ..tick("12:07") }).await;
    assert_eq!(printed(&fresh.answer().await.advice.unwrap(), "size"), "9.0 to 10.0 in");

    drop(trip.send);
    assert!(trip.answers.message().await.unwrap().is_none(), "a client that is done ends the trip in good order");
}

fn of(value: f64, unit: &str) -> Option<v1::Quantity> {
    Some(v1::Quantity { value, unit: unit.to_owned() })
}

fn with_checksum(body: &str) -> String {
    format!("${body}*{:02X}", body.bytes().fold(0, |sum, byte| sum ^ byte))
}

/// A lake of which enough is known for waves and an estimate.
fn lake() -> v1::Lake {
    v1::Lake {
        elevation: of(2100.0, "ft"),
        deepest: of(210.0, "ft"),
        mean_depth: of(88.0, "ft"),
        area_square_metres: Some(9.4e6),
        longest_open_line: of(5.6, "mi"),
        fetch: vec![
            v1::Fetch { from_degrees: 0.0, length: of(2.6, "mi") },
            v1::Fetch { from_degrees: 180.0, length: of(3.0, "mi") },
        ],
        deep_water: of(43.0, "°F"),
        current: Some(v1::Current { set_degrees: 180.0, drift: of(0.2, "mph") }),
        habitats: vec![v1::Habitat {
            species: "trout".to_owned(),
            warmest: of(66.0, "°F"),
            oxygen: of(5.0, "mg/L"),
            source: "the fish agency (invented)".to_owned(),
        }],
        ..Default::default()
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_moment_is_described_with_where_each_reading_came_from() {
    let mut service = begin().await;
    let request = v1::DescribeMomentRequest {
        at: "2026-08-02T11:00".to_owned(),
        water: Some(v1::Water { lake: Some(lake()), ..water() }),
        readings: vec![
            quantity("surface", 74.0, "°F"),
            quantity("wind", 12.0, "mph"),
            text("wind_from", "S"),
            quantity("clarity", 18.0, "ft"),
            quantity("ground_speed", 2.5, "mph"),
            text("course", "N"),
        ],
        ..Default::default()
    };
    let described = service.client.describe_moment(request.clone()).await.unwrap().into_inner();
    assert_eq!(described.at, "2026-08-02T11:00:00-07:00");
    let reading = |name: &str| described.readings.iter().find(|one| one.name == name).unwrap();
    assert_eq!(reading("waves").origin(), v1::Origin::Estimated);
    assert_eq!(reading("thermocline_top").origin(), v1::Origin::Estimated);
    assert!(reading("thermocline_top").how().contains("Hanna"));
    assert_eq!((reading("water_speed").origin(), reading("water_speed").printed()), (v1::Origin::Derived, "2.7 mph"));
    assert_eq!(reading("layered").needs(), "a cast of three depths or more");
    assert!(described.beside.iter().any(|one| one.name == "wind force" && one.printed == "3"));
    assert!(described.beside.iter().any(|one| one.name == "sunset" && one.time().starts_with("2026-08-02T20:")));

    let names = ["depth_of(1 %)", "temp_at(100 ft)"].map(str::to_owned).to_vec();
    let named = v1::DescribeMomentRequest { names, ..request.clone() };
    let described = service.client.describe_moment(named).await.unwrap().into_inner();
    assert!(described.beside.is_empty());
    let found: Vec<_> = described.readings.iter().map(|one| (one.origin(), one.printed())).collect();
    assert_eq!(found, [(v1::Origin::Derived, "49 ft"), (v1::Origin::Estimated, "43 °F")]);

    let wrong =
        v1::DescribeMomentRequest { names: vec!["depth_of(".to_owned(), "surfce".to_owned()], ..request.clone() };
    let fields: Vec<String> =
        violations(&service.client.describe_moment(wrong).await.unwrap_err()).into_iter().map(|one| one.0).collect();
    assert_eq!(fields, ["names[0]", "names[1]"]);
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_wrong_with_a_lake_names_its_field() {
    let mut service = begin().await;
    let spoiled = v1::Lake {
        elevation: of(f64::NAN, "ft"),
        deepest: of(210.0, "mph"),
        area_square_metres: Some(f64::INFINITY),
        attenuation: Some(9.0),
        fetch: vec![v1::Fetch { from_degrees: f64::NAN, length: None }],
        current: Some(v1::Current { set_degrees: 400.0, drift: of(99.0, "m/s") }),
        habitats: vec![v1::Habitat::default()],
        ..Default::default()
    };
    let request = v1::DescribeMomentRequest {
        at: "2026-08-02T11:00".to_owned(),
        water: Some(v1::Water { lake: Some(spoiled), ..water() }),
        ..Default::default()
    };
    let status = service.client.describe_moment(request).await.unwrap_err();
    assert_eq!(status.code(), Code::InvalidArgument);
    let fields: Vec<String> = violations(&status).into_iter().map(|one| one.0.replace("water.lake.", "")).collect();
    let wanted = [
        "elevation",
        "deepest",
        "area_square_metres",
        "attenuation",
        "fetch[0].from_degrees",
        "fetch[0].length",
        "current.set_degrees",
        "current.drift",
        "habitats[0].species",
        "habitats[0].source",
        "habitats[0].warmest",
        "habitats[0].oxygen",
    ];
    assert_eq!(fields, wanted);
}

#[tokio::test(flavor = "multi_thread")]
async fn rods_are_set_for_a_call_or_the_boat_s_fault_is_told() {
    let mut service = begin().await;
    let boat = include_str!("../rules/ossel/boat.yaml").to_owned();
    let range = |from: f64, to: f64, unit: &str| Some(v1::Range { from, to, unit: unit.to_owned() });
    let said = v1::SaidCall {
        depth: range(10.0, 40.0, "ft"),
        speed: range(2.0, 2.6, "mph"),
        lures: vec!["spoon".to_owned(), "plug".to_owned()],
        ..Default::default()
    };
    let request = v1::SetRodsRequest {
        call: Some(v1::set_rods_request::Call::Said(said.clone())),
        at: "2026-05-14T12:10-07:00".to_owned(),
        boat,
        drawings: true,
        lines: Some(3),
        ..Default::default()
    };
    let set = service.client.set_rods(request.clone()).await.unwrap().into_inner();
    assert!(set.svg_drawing().starts_with("<svg") && set.text_drawing().contains("From above"));
    let settings = set.settings.unwrap();
    assert_eq!(settings.rods.len(), 3);
    assert_eq!(settings.given_up, ["1 of the rods: the water allows no more lines"]);
    let quantity = |value: &Option<v1::Value>| match value.clone().and_then(|value| value.value) {
        Some(value::Value::Quantity(quantity)) => (quantity.value.round(), quantity.unit),
        _ => panic!("a quantity"),
    };
    let depths: Vec<_> = settings.rods.iter().map(|rod| quantity(&rod.depth)).collect();
    assert_eq!(depths, [(15.0, "ft".to_owned()), (25.0, "ft".to_owned()), (35.0, "ft".to_owned())]);

    // What a strategy calls; without water or readings `Warm water` decides.
    let called = v1::set_rods_request::Call::StrategyName("evening".to_owned());
    let asked = v1::SetRodsRequest { call: Some(called), drawings: false, ..request.clone() };
    let set = service.client.set_rods(asked).await.unwrap().into_inner();
    assert_eq!((set.svg_drawing, set.text_drawing), (None, None));
    assert!(set.settings.unwrap().rods.iter().all(|rod| quantity(&rod.depth).0 >= 30.0));

    let wrong = v1::SetRodsRequest {
        boat: "name: b\nrods:\n  - name: a\n    line: {preset: lead cor}\n".to_owned(),
        call: Some(v1::set_rods_request::Call::Said(v1::SaidCall { speed: range(20.0, 30.0, "mph"), ..said })),
        ..request.clone()
    };
    let violations = violations(&service.client.set_rods(wrong).await.unwrap_err());
    assert_eq!(violations.iter().map(|one| one.0.as_str()).collect::<Vec<_>>(), ["said.speed", "boat"]);
    assert!(violations[1].1.starts_with("boat:4:20: no line is known as `lead cor`"), "{violations:?}");
    let none = v1::SetRodsRequest { boat: "name: b".to_owned(), ..request };
    assert_eq!(service.client.set_rods(none).await.unwrap_err().code(), Code::InvalidArgument);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_trip_takes_the_sentences_of_instruments() {
    let mut service = begin().await;
    let mut trip = Trip::begin(&mut service.client).await.unwrap();
    let instruments = v1::Instruments { mast_height: of(9.0, "ft"), transducer_depth: of(10.0, "in") };
    let opening = v1::TripOpening { instruments: Some(instruments), ..opening("evening") };
    let sentences = vec![with_checksum("INMTW,12.2,C"), with_checksum("SDDPT,30.0,"), "$INMTW,9.4,C*00".to_owned()];
    trip.send(Some(opening), Some(v1::TripMoment { sentences, ..with("11:30", vec![text("lines_in", "yes")]) })).await;
    let first = trip.answer().await;
    assert_eq!(first.sentences, Some(v1::SentenceCounts { good: 2, wrong_checksum: 1, ..Default::default() }));
    let advice = first.advice.unwrap();
    assert_eq!(printed(&advice, "depth"), "10 to 30 ft", "54 °F is cool water");
    let surface = advice.readings.iter().find(|one| one.name == "surface").unwrap();
    assert_eq!((surface.origin(), surface.printed()), (v1::Origin::Given, "54 °F"));
    // The surface warms up: the median of the last ten seconds is what counts.
    for second in 0..12 {
        let sentences = vec![with_checksum("INMTW,19.0,C")];
        trip.moment(v1::TripMoment { sentences, ..tick(&format!("11:31:{second:02}")) }).await;
    }
    trip.moment(tick("11:32")).await;
    assert_eq!(printed(&trip.answer().await.advice.unwrap(), "depth"), "30 to 50 ft");
    // What people say at an instant stands over what instruments measure then.
    let sentences = vec![with_checksum("INMTW,19.0,C")];
    trip.moment(v1::TripMoment { sentences, ..with("11:40", vec![quantity("surface", 55.0, "°F")]) }).await;
    assert_eq!(printed(&trip.answer().await.advice.unwrap(), "depth"), "10 to 30 ft");
    trip.moment(v1::TripMoment { sentences: vec![String::new(); 1001], ..tick("11:41") }).await;
    let status = trip.status().await;
    assert_eq!(violations(&status)[0].0, "moment.sentences");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_trip_takes_its_zone_from_the_first_moment_where_the_water_has_none() {
    let mut service = begin().await;
    let mut trip = Trip::begin(&mut service.client).await.unwrap();
    let opening = v1::TripOpening { water: None, ..opening("evening") };
    trip.send(Some(opening), Some(tick("11:30-06:00"))).await;
    assert_eq!(trip.answer().await.advice.unwrap().at, "2026-05-14T11:30:00-06:00");
    trip.moment(with("11:31", vec![text("surface", "54 °F")])).await;
    assert_eq!(trip.answer().await.advice.unwrap().at, "2026-05-14T11:31:00-06:00");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_trip_that_makes_no_sense_ends_with_the_field_that_does_not() {
    let mut service = begin().await;
    let opened = Some(opening("evening"));
    let timed = v1::Reading { time: "2026-05-14T11:30".to_owned(), ..text("surface", "54 °F") };
    type Messages = Vec<(Option<v1::TripOpening>, Option<v1::TripMoment>)>;
    let cases: Vec<(Messages, Code, &str)> = vec![
        (vec![(None, Some(tick("11:30")))], Code::InvalidArgument, "opening"),
        (vec![(opened.clone(), None), (opened.clone(), None)], Code::InvalidArgument, "opening"),
        (vec![(opened.clone(), None), (None, None)], Code::InvalidArgument, "moment"),
        (vec![(Some(v1::TripOpening::default()), None)], Code::InvalidArgument, "opening.strategy_name"),
        (vec![(Some(opening("evning")), None)], Code::NotFound, "opening.strategy_name"),
        (vec![(Some(opening("ossel/broken")), None)], Code::FailedPrecondition, ""),
        (
            vec![(opened.clone(), Some(tick("11:30"))), (None, Some(tick("11:29")))],
            Code::InvalidArgument,
            "moment.time",
        ),
        (vec![(opened.clone(), Some(tick("11:30"))), (None, Some(tick("")))], Code::InvalidArgument, "moment.time"),
        (
            vec![
                (opened.clone(), Some(tick("11:30"))),
                (None, Some(v1::TripMoment { time: "2027-05-14T11:30".to_owned(), ..Default::default() })),
            ],
            Code::InvalidArgument,
            "moment.time",
        ),
        (
            vec![(opened.clone(), Some(with("11:30", vec![text("surface", "54 ft")])))],
            Code::InvalidArgument,
            "moment.readings[0].value",
        ),
        (vec![(opened.clone(), Some(with("11:30", vec![timed])))], Code::InvalidArgument, "moment.readings[0].time"),
        (
            vec![(opened.clone(), Some(v1::TripMoment { strikes: 101, ..tick("11:30") }))],
            Code::InvalidArgument,
            "moment.strikes",
        ),
    ];
    for (messages, code, field) in cases {
        let mut trip = Trip::begin(&mut service.client).await.unwrap();
        for (opening, moment) in messages {
            trip.send(opening, moment).await;
        }
        let status = trip.status().await;
        assert_eq!(status.code(), code, "{field}: {status:?}");
        let violations = violations(&status);
        assert_eq!(violations.first().map_or("", |(field, _)| field.as_str()), field, "{violations:?}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_silent_trip_ends_and_says_why() {
    let mut service = begin_with(|limits| limits.silence = Duration::from_millis(200)).await;
    let mut trip = Trip::opened(&mut service.client).await;
    trip.moment(tick("11:30")).await;
    trip.answer().await;
    let status = trip.status().await;
    assert_eq!(status.code(), Code::DeadlineExceeded);
    assert!(status.message().contains("silent for 200 ms"), "{}", status.message());
    assert_eq!(status.get_error_details().error_info().unwrap().reason, "SILENT");
    // One that never opens is silent too.
    let mut trip = Trip::begin(&mut service.client).await.unwrap();
    assert_eq!(trip.status().await.code(), Code::DeadlineExceeded);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_trip_has_an_end_and_so_have_its_moments() {
    let mut service = begin_with(|limits| limits.trip_time = Duration::from_millis(300)).await;
    let mut trip = Trip::opened(&mut service.client).await;
    let status = trip.status().await;
    assert_eq!(status.code(), Code::DeadlineExceeded);
    assert!(status.message().contains("stays open for 300 ms"), "{}", status.message());

    let mut service = begin_with(|limits| limits.trip_moments = 2).await;
    let mut trip = Trip::opened(&mut service.client).await;
    for clock in ["11:30", "11:31", "11:32"] {
        trip.moment(tick(clock)).await;
    }
    assert_eq!(trip.status().await.code(), Code::InvalidArgument);
}

// Limits and the end

#[tokio::test(flavor = "multi_thread")]
async fn an_oversized_message_is_refused_and_the_service_goes_on() {
    let mut service = begin_with(|limits| limits.bytes_out = 2_000).await;
    let request = v1::CheckSourceRequest { source: Some(inline("x".repeat(3 * 1024 * 1024))), notes: false };
    let status = service.client.check_source(request).await.unwrap_err();
    assert_eq!(status.code(), Code::ResourceExhausted);
    assert_eq!(status.message(), "a message may have 2097152 bytes at most; this one has more");
    let mut trip = Trip::begin(&mut service.client).await.unwrap();
    trip.send(Some(opening(&"x".repeat(3 * 1024 * 1024))), None).await;
    assert_eq!(trip.status().await.get_error_details().error_info().unwrap().reason, "REQUEST_TOO_LARGE");
    let status = service.client.describe_catalogue(v1::DescribeCatalogueRequest {}).await.unwrap_err();
    assert_eq!(status.code(), Code::ResourceExhausted);
    assert!(status.message().contains("at most 2000 are sent"), "{}", status.message());
    let page = v1::ListStrategiesRequest { page_size: 1, page_token: String::new() };
    service.client.list_strategies(page).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_source_past_its_bounds_is_told_so() {
    let mut service = begin().await;
    let large = format!("strategy \"x\"\n# {}\nrule \"y\" run depth 3 m", "x".repeat(1024 * 1024));
    let deep =
        format!("strategy \"x\"\nrule \"y\" if {}marks{} run depth 3 m", "(".repeat(100_000), ")".repeat(100_000));
    for source in [large, deep] {
        let request = v1::CheckSourceRequest { source: Some(inline(source)), notes: false };
        let answer = service.client.check_source(request).await.unwrap().into_inner();
        assert_eq!(answer.findings[0].code, "too-large");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn too_much_at_once_is_turned_away_and_too_slow_is_ended() {
    let service = begin_with(|limits| (limits.requests, limits.workers) = (2, 1)).await;
    let source = errors(300);
    let asked: Vec<_> = (0..12)
        .map(|_| {
            let (mut client, source) = (service.client.clone(), source.clone());
            tokio::spawn(async move { client.advise(ask_source(inline(source))).await.unwrap_err() })
        })
        .collect();
    let mut turned_away = 0;
    for answer in asked {
        let status = answer.await.unwrap();
        match status.code() {
            Code::InvalidArgument => {}
            Code::ResourceExhausted => {
                turned_away += 1;
                assert!(status.get_error_details().retry_info().is_some());
            }
            _ => panic!("{status:?}"),
        }
    }
    assert!((1..12).contains(&turned_away), "{turned_away} turned away");

    let mut service = begin_with(|limits| limits.trips = 1).await;
    let mut first = Trip::opened(&mut service.client).await;
    first.moment(tick("11:30")).await;
    first.answer().await;
    assert_eq!(Trip::begin(&mut service.client).await.err().unwrap().code(), Code::ResourceExhausted);
    drop(first);
    until(async || Trip::begin(&mut service.client.clone()).await.is_ok()).await;

    let mut service = begin_with(|limits| limits.request_time = Duration::from_millis(1)).await;
    let status = service.client.advise(ask_source(inline(errors(10_000)))).await.unwrap_err();
    assert_eq!(status.code(), Code::DeadlineExceeded);
    assert!(status.message().contains("longer than a request may"), "{}", status.message());
}

#[tokio::test(flavor = "multi_thread")]
async fn many_clients_at_once_get_the_same_advice() {
    let service = begin_with(|limits| limits.requests = 1000).await;
    let clients: Vec<_> = (0..8)
        .map(|_| {
            tokio::spawn(async move {
                let mut client = connect(service.address).await;
                for _ in 0..50 {
                    let answer = client.advise(ask(vec![text("surface", "54 °F")])).await.unwrap().into_inner();
                    assert_eq!(printed(&answer.advice.unwrap(), "depth"), "10 to 30 ft");
                }
            })
        })
        .collect();
    for client in clients {
        client.await.unwrap();
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn connections_are_counted_and_silent_ones_are_closed() {
    let service = begin_with(|limits| {
        limits.connections = 2;
        limits.first_byte = Duration::from_millis(200);
    })
    .await;
    let closed = async |stream: &TcpStream| {
        stream.readable().await.unwrap();
        // What the server sends first tells nothing; the end of it does.
        tokio::time::timeout(Duration::from_secs(5), async {
            let mut buffer = [0; 1024];
            loop {
                stream.readable().await.unwrap();
                match stream.try_read(&mut buffer) {
                    Ok(0) => return,
                    Err(error) if error.kind() == std::io::ErrorKind::WouldBlock => {}
                    Err(_) => return,
                    Ok(_) => {}
                }
            }
        })
        .await
        .expect("the connection is closed");
    };
    let silent = TcpStream::connect(service.address).await.unwrap();
    tokio::time::sleep(Duration::from_millis(50)).await;
    let one_too_many = TcpStream::connect(service.address).await.unwrap();
    closed(&one_too_many).await;
    closed(&silent).await;
    // The client that speaks is still there.
    service.client.clone().list_strategies(v1::ListStrategiesRequest::default()).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn shutdown_ends_open_trips_and_waits_for_no_silent_connection() {
    let mut service = begin_with(|limits| limits.shutdown_grace = Duration::from_millis(500)).await;
    let mut trip = Trip::opened(&mut service.client).await;
    trip.moment(tick("11:30")).await;
    trip.answer().await;
    let _silent = TcpStream::connect(service.address).await.unwrap();
    let begun = Instant::now();
    service.stop.send(()).unwrap();
    let status = trip.status().await;
    assert_eq!(status.code(), Code::Unavailable);
    assert!(status.message().contains("shutting down"), "{}", status.message());
    service.ended.await.unwrap().unwrap();
    assert!(begun.elapsed() < Duration::from_secs(3), "{:?}", begun.elapsed());
    assert!(TcpStream::connect(service.address).await.is_err(), "nobody listens any more");
}

#[tokio::test(flavor = "multi_thread")]
async fn shutdown_is_quick_where_nothing_goes_on() {
    let Service { client, stop, ended, folder, .. } = begin().await;
    let begun = Instant::now();
    drop(client);
    stop.send(()).unwrap();
    ended.await.unwrap().unwrap();
    assert!(begun.elapsed() < Duration::from_secs(2), "{:?}", begun.elapsed());
    drop(folder);
}

#[tokio::test]
async fn what_can_not_be_served_is_said() {
    let why = async |config: Config| bind(config).await.err().unwrap().to_string();
    let empty = tempfile::tempdir().unwrap();
    assert!(why(Config::new(empty.path())).await.contains("has no strategies"));
    assert!(why(Config::new(empty.path().join("nowhere"))).await.contains("nowhere can't be served"));
    let folder = folder();
    let taken = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let config = Config { listen: taken.local_addr().unwrap(), ..Config::new(folder.path()) };
    assert!(why(config).await.starts_with("can't listen on 127.0.0.1:"));
}

#[tokio::test(flavor = "multi_thread")]
async fn health_and_reflection_are_served() {
    use tonic_health::pb::health_client::HealthClient;
    use tonic_health::pb::{HealthCheckRequest, health_check_response::ServingStatus};
    use tonic_reflection::pb::v1::server_reflection_client::ServerReflectionClient;
    use tonic_reflection::pb::v1::{
        ServerReflectionRequest, server_reflection_request::MessageRequest, server_reflection_response::MessageResponse,
    };
    let service = begin().await;
    let channel = Channel::from_shared(format!("http://{}", service.address)).unwrap().connect().await.unwrap();
    let mut health = HealthClient::new(channel.clone());
    for name in ["", "leadsman.v1.LeadsmanService"] {
        let answer = health.check(HealthCheckRequest { service: name.to_owned() }).await.unwrap().into_inner();
        assert_eq!(answer.status(), ServingStatus::Serving);
    }
    let mut reflection = ServerReflectionClient::new(channel);
    let message_request = Some(MessageRequest::ListServices(String::new()));
    let request = ServerReflectionRequest { host: String::new(), message_request };
    let mut answers = reflection.server_reflection_info(tokio_stream::iter([request])).await.unwrap().into_inner();
    let answer = answers.message().await.unwrap().unwrap();
    let Some(MessageResponse::ListServicesResponse(list)) = answer.message_response else { panic!("{answer:?}") };
    let names: Vec<&str> = list.service.iter().map(|service| service.name.as_str()).collect();
    assert!(names.contains(&"leadsman.v1.LeadsmanService") && names.contains(&"grpc.health.v1.Health"), "{names:?}");
}
