//! Comparisons over a real socket on loopback, with the generated client.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]
#![allow(clippy::disallowed_methods, reason = "how long something takes is what some of these tests are about")]

#[path = "service/ossel.rs"]
mod ossel;

use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use leadsman::service::v1::compare_strategies_request::Log as Sent;
use leadsman::service::v1::compare_strategies_response::Answer;
use leadsman::service::v1::compared_strategy::Strategy as Which;
use leadsman::service::v1::value::Value as Of;
use leadsman::service::v1::{self, CompareStrategiesRequest};
use ossel::{Client, DAYS, RULES, Service, begin_in, water};
use proptest::prelude::*;
use serde_json::{Value, json};
use tokio::sync::mpsc;
use tokio_stream::wrappers::ReceiverStream;
use tonic::{Code, Status};
use tonic_types::StatusExt;

const SPOILED: &str = "../tests/day/spoiled.yaml";

async fn begin() -> Service {
    begin_in(Path::new(RULES), |_| {}).await
}

fn served(name: &str) -> Option<v1::ComparedStrategy> {
    Some(v1::ComparedStrategy { strategy: Some(Which::StrategyName(name.to_owned())) })
}

fn sent(text: &str) -> Option<v1::ComparedStrategy> {
    let source = v1::InlineSource { text: text.to_owned(), name: String::new() };
    Some(v1::ComparedStrategy { strategy: Some(Which::Source(source)) })
}

fn change(name: &str, value: &str) -> v1::LetChange {
    v1::LetChange { name: name.to_owned(), value: value.to_owned() }
}

fn two() -> v1::ComparisonOpening {
    let (a, b) = (served("less_to_chase"), served("light_and_depth"));
    v1::ComparisonOpening { a, b, lets: Vec::new(), water: Some(water()) }
}

fn open(opening: v1::ComparisonOpening) -> CompareStrategiesRequest {
    CompareStrategiesRequest { opening: Some(opening), log: None }
}

fn whole(name: &str, text: &str) -> CompareStrategiesRequest {
    let whole = v1::WholeLog { name: name.to_owned(), text: text.to_owned() };
    CompareStrategiesRequest { opening: None, log: Some(Sent::Whole(whole)) }
}

fn piece(name: &str, content: &[u8], last: bool) -> CompareStrategiesRequest {
    let piece = v1::LogPiece { name: name.to_owned(), content: content.to_vec(), last };
    CompareStrategiesRequest { opening: None, log: Some(Sent::Piece(piece)) }
}

fn read(name: &str) -> String {
    std::fs::read_to_string(Path::new(RULES).join(name)).unwrap()
}

fn day(name: &str) -> CompareStrategiesRequest {
    whole(name, &read(name))
}

/// Progress, and the comparison in the end.
async fn compare(
    client: &mut Client,
    messages: Vec<CompareStrategiesRequest>,
) -> Result<(Vec<v1::ComparisonProgress>, v1::Comparison), Status> {
    let mut answers = client.compare_strategies(tokio_stream::iter(messages)).await?.into_inner();
    let mut progress = Vec::new();
    while let Some(answer) = answers.message().await? {
        match answer.answer.expect("an answer") {
            Answer::Progress(one) => progress.push(one),
            Answer::Comparison(comparison) => {
                assert_eq!(answers.message().await?, None, "nothing after the comparison");
                return Ok((progress, comparison));
            }
        }
    }
    panic!("the stream ended without a comparison")
}

fn violations(status: &Status) -> Vec<(String, String)> {
    let details = status.get_error_details();
    let bad = details.bad_request().map(|bad| bad.field_violations.clone()).unwrap_or_default();
    bad.into_iter().map(|violation| (violation.field, violation.description)).collect()
}

/// The JSON that the command prints for the same.
fn printed(arguments: &[&str]) -> Value {
    let output = Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .arg("compare")
        .args(arguments)
        .args(["--water", "ossel/water.yaml", "--json"])
        .current_dir(RULES)
        .output()
        .unwrap();
    serde_json::from_slice(&output.stdout).unwrap_or_else(|_| panic!("{}", String::from_utf8_lossy(&output.stderr)))
}

// The answer as the JSON of the command has it, taken apart field by field so that nothing is left out of the comparison.

fn of_value(value: &Option<v1::Value>) -> Value {
    match value.as_ref().and_then(|value| value.value.as_ref()) {
        None => Value::Null,
        Some(Of::Quantity(v1::Quantity { value, unit })) => json!({"value": value, "unit": unit}),
        Some(Of::Range(v1::Range { from, to, unit })) if unit.is_empty() => json!({"from": from, "to": to}),
        Some(Of::Range(v1::Range { from, to, unit })) => json!({"from": from, "to": to, "unit": unit}),
        Some(Of::Words(v1::Words { words })) => json!(words),
        Some(Of::Word(word)) => json!(word),
        Some(Of::YesNo(yes)) => json!(yes),
        Some(Of::Number(number)) => json!(number),
    }
}

fn of_by(by: &Option<v1::By>) -> Value {
    let Some(v1::By { name, ladder, file, line, because }) = by else { return Value::Null };
    json!({"name": name, "ladder": ladder, "file": file, "line": line, "because": because})
}

fn of_side(side: &Option<v1::ComparedSide>) -> Value {
    let v1::ComparedSide { strategy, file, lets, passed_over } = side.as_ref().unwrap();
    let passed_over: Vec<Value> =
        passed_over.iter().map(|one| json!({"reading": one.reading, "values": one.values})).collect();
    json!({"strategy": strategy, "file": file, "lets": lets, "passed_over": passed_over})
}

fn of_skipped(skipped: &[v1::SkippedLog]) -> Value {
    skipped.iter().map(|v1::SkippedLog { log, why }| json!({"log": log, "why": why})).collect()
}

fn of_rate(rate: &Option<v1::EventRate>) -> Value {
    let v1::EventRate { count, per_hour, low, high } = rate.as_ref().unwrap();
    json!({"count": count, "per_hour": per_hour, "low": low, "high": high})
}

fn of_cells(cells: &[v1::FishCell]) -> Value {
    let cell = |cell: &v1::FishCell| {
        let within = cell.within().as_str_name().trim_start_matches("WITHIN_").to_lowercase();
        let v1::FishCell { within: _, rod_hours, strikes, landed } = cell;
        json!({"within": within, "rod_hours": rod_hours, "strikes": of_rate(strikes), "landed": of_rate(landed)})
    };
    cells.iter().map(cell).collect()
}

fn of_contrast(contrast: &Option<v1::Contrast>) -> Value {
    let v1::Contrast { ratio, low, high, p, tells_apart, pooled, more_rod_hours } = contrast.as_ref().unwrap();
    let pooled = pooled.as_ref().map(|v1::PooledRatio { ratio, low, high, strata, homogeneity }| {
        let homogeneity = homogeneity.as_ref().map(
            |v1::Homogeneity { statistic, degrees, p }| json!({"statistic": statistic, "degrees": degrees, "p": p}),
        );
        json!({"ratio": ratio, "low": low, "high": high, "strata": strata, "homogeneity": homogeneity})
    });
    json!({"ratio": ratio, "low": low, "high": high, "p": p, "tells_apart": tells_apart, "pooled": pooled,
        "more_rod_hours": more_rod_hours})
}

fn of_agreement(time: &Option<v1::Agreement>) -> Value {
    let v1::Agreement { agree_hours, differ_hours } = time.as_ref().unwrap();
    json!({"agree_hours": agree_hours, "differ_hours": differ_hours})
}

fn of_stretch(stretch: &v1::Stretch) -> Value {
    let called = |called: &Option<v1::CalledBy>| {
        let v1::CalledBy { value, printed, by } = called.as_ref().unwrap();
        json!({"value": of_value(value), "printed": printed, "by": of_by(by)})
    };
    let tip = |v1::Tip { reading, was, now, printed }: &v1::Tip| json!({"reading": reading, "was": of_value(was), "now": of_value(now), "printed": printed});
    let tipped = |tipped: &v1::TippedIn| {
        let strategy = tipped.strategy().as_str_name().trim_start_matches("ARM_").to_lowercase();
        json!({"strategy": strategy, "by": tipped.by.iter().map(tip).collect::<Vec<_>>()})
    };
    let v1::Stretch { aspect, from, to, minutes, a, b, tipped: tips } = stretch;
    json!({"aspect": aspect, "from": from, "to": to, "minutes": minutes, "a": called(a), "b": called(b),
        "tipped": tips.iter().map(tipped).collect::<Vec<_>>()})
}

fn of_differences(differences: &Option<v1::Differences>) -> Value {
    let v1::Differences { whole, aspects, only_a, only_b, pairs, stretches, stretches_left_out } =
        differences.as_ref().unwrap();
    let aspect = |v1::AspectAgreement { aspect, time }: &v1::AspectAgreement| {
        let mut said = json!({"aspect": aspect});
        said.as_object_mut().unwrap().extend(of_agreement(time).as_object().unwrap().clone());
        said
    };
    let pair = |v1::RulePair { aspect, a, b, hours }: &v1::RulePair| json!({"aspect": aspect, "a": of_by(a), "b": of_by(b), "hours": hours});
    json!({"whole": of_agreement(whole), "aspects": aspects.iter().map(aspect).collect::<Vec<_>>(),
        "only_a": only_a, "only_b": only_b, "pairs": pairs.iter().map(pair).collect::<Vec<_>>(),
        "stretches": stretches.iter().map(of_stretch).collect::<Vec<_>>(), "stretches_left_out": stretches_left_out})
}

fn of_contest(contest: &v1::Contest) -> Value {
    let arm = |arm: &Option<v1::ContestArm>| {
        let v1::ContestArm { units, rod_hours, strikes, landed, followed } = arm.as_ref().unwrap();
        json!({"units": units, "rod_hours": rod_hours, "strikes": of_rate(strikes), "landed": of_rate(landed), "followed": followed})
    };
    let v1::Contest { days, strata, a, b, ratio, lot, evidence, left_out } = contest;
    let lot = lot
        .as_ref()
        .map(|v1::LotTest { p_a, p_b, p, smallest }| json!({"p_a": p_a, "p_b": p_b, "p": p, "smallest": smallest}));
    let v1::Evidence { now, most, p } = evidence.as_ref().unwrap();
    json!({"days": days, "strata": strata, "a": arm(a), "b": arm(b), "ratio": of_contrast(ratio), "lot": lot,
        "evidence": {"now": now, "most": most, "p": p}, "left_out": of_skipped(left_out)})
}

fn as_json(comparison: &v1::Comparison) -> Value {
    let split = |v1::FishSplit { aspect, cells, strikes, landed }: &v1::FishSplit| json!({"aspect": aspect, "cells": of_cells(cells), "strikes": of_contrast(strikes), "landed": of_contrast(landed)});
    let light = |row: &v1::LightRow| {
        let light = row.light().as_str_name().trim_start_matches("LIGHT_").to_lowercase();
        json!({"light": light, "cells": of_cells(&row.cells)})
    };
    let v1::Comparison {
        a,
        b,
        days,
        from,
        to,
        skipped,
        skipped_count,
        lines_in_hours,
        differences,
        fish,
        strikes_unplaced,
        landed_unplaced,
        by_light,
        contest,
        proof,
        method,
    } = comparison;
    json!({"a": of_side(a), "b": of_side(b), "days": days, "from": from, "to": to, "skipped": of_skipped(skipped),
        "skipped_count": skipped_count, "lines_in_hours": lines_in_hours, "differences": of_differences(differences),
        "fish": fish.iter().map(split).collect::<Vec<_>>(), "strikes_unplaced": strikes_unplaced,
        "landed_unplaced": landed_unplaced, "by_light": by_light.iter().map(light).collect::<Vec<_>>(),
        "contest": contest.as_ref().map(of_contest), "proof": proof, "method": method})
}

/// Every figure and every word is the same; a number that went through text may differ in its last bit.
fn assert_same(place: &str, wire: &Value, printed: &Value) {
    match (wire, printed) {
        (Value::Object(wire), Value::Object(printed)) => {
            let keys =
                |map: &serde_json::Map<String, Value>| map.keys().cloned().collect::<std::collections::BTreeSet<_>>();
            assert_eq!(keys(wire), keys(printed), "the keys of {place}");
            wire.iter().for_each(|(key, value)| assert_same(&format!("{place}.{key}"), value, &printed[key]));
        }
        (Value::Array(wire), Value::Array(printed)) => {
            assert_eq!(wire.len(), printed.len(), "how many of {place}");
            let pairs = wire.iter().zip(printed).enumerate();
            pairs.for_each(|(at, (wire, printed))| assert_same(&format!("{place}[{at}]"), wire, printed));
        }
        (Value::Number(wire), Value::Number(printed)) => {
            let (wire, printed) = (wire.as_f64().unwrap(), printed.as_f64().unwrap());
            assert!((wire - printed).abs() <= 1e-14 * printed.abs(), "{place}: {wire} and {printed}");
        }
        _ => assert_eq!(wire, printed, "{place}"),
    }
}

// The same as the command

#[tokio::test(flavor = "multi_thread")]
async fn the_scenario_compared_is_what_the_command_prints() {
    let mut service = begin().await;
    let mut messages = vec![open(two())];
    messages.extend(DAYS.map(day));
    messages.push(day(SPOILED));
    let (progress, comparison) = compare(&mut service.client, messages).await.unwrap();
    let logs: Vec<&str> = DAYS.into_iter().chain([SPOILED]).collect();
    let printed = printed(&[&["less_to_chase.strategy", "light_and_depth.strategy"], logs.as_slice()].concat());
    assert_same("", &as_json(&comparison), &printed);
    // There is something in it.
    assert_eq!((comparison.days, comparison.skipped_count), (5, 1));
    assert!(comparison.contest.is_some() && !comparison.differences.unwrap().stretches.is_empty());
    assert!(comparison.fish[0].cells.iter().any(|cell| cell.strikes.unwrap().count > 0));
    let done: Vec<(&str, u64, u64)> = progress.iter().map(|one| (one.log.as_str(), one.done, one.days)).collect();
    let wanted: Vec<(&str, u64, u64)> = logs.iter().zip(1..).map(|(log, at)| (*log, at, at.min(5))).collect();
    assert_eq!(done, wanted);
    assert!(progress[..5].iter().all(|one| one.skipped.is_none()));
    assert_eq!(progress[5].skipped.as_ref(), Some(&comparison.skipped[0].why));
    assert!(comparison.skipped[0].why.starts_with(&format!("{SPOILED}:")), "{}", comparison.skipped[0].why);
}

#[tokio::test(flavor = "multi_thread")]
async fn changed_lets_are_those_of_the_command() {
    let mut service = begin().await;
    let opening = v1::ComparisonOpening {
        a: served("under_the_warm_lid"),
        b: None,
        lets: vec![change("cool", "depth_of(60 °F)")],
        water: Some(water()),
    };
    let messages = vec![open(opening), day(DAYS[2])];
    let (_, comparison) = compare(&mut service.client, messages).await.unwrap();
    let printed = printed(&["under_the_warm_lid.strategy", DAYS[2], "--let", "cool = depth_of(60 °F)"]);
    assert_same("", &as_json(&comparison), &printed);
    assert!(comparison.differences.unwrap().whole.unwrap().differ_hours > 0.0, "the let matters");
    // A strategy sent along is changed likewise.
    let text = "strategy \"x\"\nlet deep = 40 ft\nrule \"y\" run depth 10 ft to deep\n";
    let opening =
        v1::ComparisonOpening { a: sent(text), b: None, lets: vec![change("deep", "50 ft")], water: Some(water()) };
    let (_, comparison) = compare(&mut service.client, vec![open(opening), day(DAYS[1])]).await.unwrap();
    assert_eq!(comparison.b.unwrap().lets, ["deep = 50 ft"]);
    assert_eq!(comparison.differences.unwrap().stretches[0].b.as_ref().unwrap().printed, "10 to 50 ft");
}

#[tokio::test(flavor = "multi_thread")]
async fn pieces_cut_anywhere_are_the_whole() {
    let mut service = begin().await;
    let (name, text) = (DAYS[1], read(DAYS[1]));
    let opening = v1::ComparisonOpening { a: sent("strategy \"x\"\nrule \"y\" run depth 9 to 20 ft"), ..two() };
    let (_, wanted) = compare(&mut service.client, vec![open(opening.clone()), day(name)]).await.unwrap();
    let mut runner = proptest::test_runner::TestRunner::new(ProptestConfig {
        cases: 12,
        failure_persistence: None,
        ..Default::default()
    });
    let cuts = proptest::collection::vec(any::<proptest::sample::Index>(), 0..6);
    let handle = tokio::runtime::Handle::current();
    let client = service.client.clone();
    tokio::task::block_in_place(|| {
        runner
            .run(&cuts, |cuts| {
                // Between any two bytes, the middle of a character too, and nothing at all between two cuts.
                let mut cuts: Vec<usize> = cuts.iter().map(|cut| cut.index(text.len() + 1)).collect();
                cuts.extend([0, text.len()]);
                cuts.sort_unstable();
                let parts: Vec<&[u8]> = cuts.windows(2).map(|cut| &text.as_bytes()[cut[0]..cut[1]]).collect();
                let mut messages = vec![open(opening.clone())];
                for (at, part) in parts.iter().enumerate() {
                    let named = if at % 2 == 0 { name } else { "" };
                    messages.push(piece(named, part, at + 1 == parts.len()));
                }
                let (progress, found) = handle.block_on(compare(&mut client.clone(), messages)).unwrap();
                prop_assert_eq!(progress.len(), 1);
                prop_assert_eq!(&found, &wanted);
                Ok(())
            })
            .unwrap();
    });
}

#[tokio::test(flavor = "multi_thread")]
async fn the_opening_may_bring_the_first_log_and_logs_come_in_both_ways() {
    let mut service = begin().await;
    let first = CompareStrategiesRequest { opening: Some(two()), ..day(DAYS[3]) };
    let (text, table) = (read(DAYS[1]), read(DAYS[4]));
    let (head, tail) = text.as_bytes().split_at(1000);
    let messages = vec![first, piece("notebook.yaml", head, false), piece("", tail, true), whole("table.CSV", &table)];
    let (progress, comparison) = compare(&mut service.client, messages).await.unwrap();
    assert_eq!((progress.len(), comparison.days), (3, 3));
    assert_eq!(progress[1].log, "notebook.yaml");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_comparison_keeps_the_strategies_that_it_was_opened_with() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, depth: &str| {
        let text = format!("strategy \"{name}\"\nrule \"only\" run depth {depth}\n");
        std::fs::write(folder.path().join(format!("{name}.strategy")), text).unwrap();
    };
    write("high", "5 to 10 ft");
    write("low", "30 to 40 ft");
    let mut service = begin_in(folder.path(), |_| {}).await;
    let (send, messages) = mpsc::channel(8);
    let mut answers = service.client.compare_strategies(ReceiverStream::new(messages)).await.unwrap().into_inner();
    let opening = v1::ComparisonOpening { a: served("high"), b: served("low"), lets: Vec::new(), water: Some(water()) };
    send.send(open(opening.clone())).await.unwrap();
    send.send(day(DAYS[1])).await.unwrap();
    assert!(matches!(answers.message().await.unwrap().unwrap().answer, Some(Answer::Progress(_))));
    write("low", "50 to 60 ft");
    let begun = Instant::now();
    loop {
        let (_, comparison) = compare(&mut service.client, vec![open(opening.clone()), day(DAYS[1])]).await.unwrap();
        if comparison.differences.unwrap().stretches[0].b.as_ref().unwrap().printed == "50 to 60 ft" {
            break;
        }
        assert!(begun.elapsed() < Duration::from_secs(20), "the change did not come in time");
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    send.send(day(DAYS[3])).await.unwrap();
    drop(send);
    let mut last = None;
    while let Some(answer) = answers.message().await.unwrap() {
        last = answer.answer;
    }
    let Some(Answer::Comparison(comparison)) = last else { panic!("{last:?}") };
    assert_eq!(comparison.days, 2);
    let stretches = comparison.differences.unwrap().stretches;
    assert!(stretches.iter().all(|stretch| stretch.b.as_ref().unwrap().printed == "30 to 40 ft"), "{stretches:?}");
}

// What makes no sense

#[tokio::test(flavor = "multi_thread")]
async fn what_makes_no_sense_ends_with_the_field_that_does_not() {
    let mut service = begin().await;
    let lets = |lets: Vec<v1::LetChange>| open(v1::ComparisonOpening { b: None, lets, ..two() });
    let bad_water = v1::Water { zone: "America/Bosie".to_owned(), ..water() };
    type Case = (Vec<CompareStrategiesRequest>, Code, &'static str, &'static str);
    let cases: Vec<Case> = vec![
        (vec![], Code::InvalidArgument, "opening", "the first message"),
        (vec![day(DAYS[1])], Code::InvalidArgument, "opening", "the first message"),
        (vec![open(two())], Code::InvalidArgument, "whole", "no log was sent"),
        (vec![open(two()), open(two())], Code::InvalidArgument, "opening", "open already"),
        (vec![open(two()), CompareStrategiesRequest::default()], Code::InvalidArgument, "whole", "no log"),
        (
            vec![open(v1::ComparisonOpening { a: None, ..two() })],
            Code::InvalidArgument,
            "opening.a.strategy_name",
            "no strategy",
        ),
        (
            vec![open(v1::ComparisonOpening { b: Some(v1::ComparedStrategy::default()), ..two() })],
            Code::InvalidArgument,
            "opening.b.strategy_name",
            "no strategy",
        ),
        (
            vec![open(v1::ComparisonOpening { b: None, ..two() })],
            Code::InvalidArgument,
            "opening.b",
            "one strategy alone",
        ),
        (
            vec![open(v1::ComparisonOpening { b: served("ligth_and_depth"), ..two() })],
            Code::NotFound,
            "opening.b.strategy_name",
            "did you mean `light_and_depth`?",
        ),
        (
            vec![open(v1::ComparisonOpening { a: sent("strategy \"x\" rule \"y\" run depth 3 pints"), ..two() })],
            Code::InvalidArgument,
            "opening.a.source.text",
            "`pints`",
        ),
        (
            vec![open(v1::ComparisonOpening { lets: vec![change("ruffled", "yes")], ..two() })],
            Code::InvalidArgument,
            "opening.lets",
            "two are named",
        ),
        (
            vec![lets(vec![change("rufled", "yes")])],
            Code::InvalidArgument,
            "opening.lets[0]",
            "did you mean `ruffled`?",
        ),
        (
            vec![lets(vec![change("ruffled", "waves at least 5 in"), change("x", "")])],
            Code::InvalidArgument,
            "opening.lets[1].value",
            "1 to 16384 bytes",
        ),
        (
            vec![lets(vec![change("ruffled", "waves at least 5 pints")])],
            Code::InvalidArgument,
            "opening.lets[0]",
            "`pints`",
        ),
        (
            vec![lets(vec![change("ruffled", "waves at least 5 in rule \"z\" stop \"no\"")])],
            Code::InvalidArgument,
            "opening.lets[0]",
            "no let",
        ),
        // Right by itself, and nothing that the strategy's rules could ask for.
        (vec![lets(vec![change("ruffled", "5 in")])], Code::InvalidArgument, "opening.lets", "does not check"),
        (vec![lets(vec![change("ruffled", "yes"); 101])], Code::InvalidArgument, "opening.lets", "at most 100"),
        (
            vec![open(v1::ComparisonOpening { water: Some(bad_water), ..two() })],
            Code::InvalidArgument,
            "opening.water.zone",
            "America/Boise",
        ),
        (vec![open(two()), whole("", "events: []")], Code::InvalidArgument, "whole.name", "1 to 256 bytes"),
        (vec![open(two()), whole(&"x".repeat(257), "")], Code::InvalidArgument, "whole.name", "1 to 256 bytes"),
        (vec![open(two()), piece("", b"events", true)], Code::InvalidArgument, "piece.name", "1 to 256 bytes"),
        (
            vec![open(two()), piece("a", b"x", false), piece("b", b"x", true)],
            Code::InvalidArgument,
            "piece.name",
            "`a`",
        ),
        (
            vec![open(two()), piece("a", b"x", false), whole("b", "x")],
            Code::InvalidArgument,
            "whole",
            "`a` is not at its end",
        ),
        (vec![open(two()), piece("a", b"x", false)], Code::InvalidArgument, "piece.last", "`a` is not at its end"),
    ];
    for (messages, code, field, words) in cases {
        let shown = format!("{field} {words}");
        let status = compare(&mut service.client, messages).await.expect_err(&shown);
        assert_eq!(status.code(), code, "{shown}: {status:?}");
        let violations = violations(&status);
        assert_eq!(violations.first().map_or("", |(field, _)| field.as_str()), field, "{violations:?}");
        assert!(violations[0].1.contains(words), "{shown}: {violations:?}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn spoiled_logs_are_named_and_nothing_else_is_lost() {
    let mut service = begin().await;
    let messages = vec![
        open(two()),
        whole("empty.yaml", ""),
        piece("bytes.yaml", b"events: \xff\xfe", true),
        piece("bytes.csv", b"at,event\n06:00,\xff\n", true),
        whole(
            "years.yaml",
            "zone: \"-07:00\"\nevents:\n- {at: \"2026-05-14T06:00\", lines: in}\n- {at: \"2062-05-14T06:00\", lines: out}\n",
        ),
        day(DAYS[1]),
    ];
    let (progress, comparison) = compare(&mut service.client, messages).await.unwrap();
    assert_eq!((comparison.days, comparison.skipped_count, progress.len()), (1, 4, 5));
    let names: Vec<&str> = comparison.skipped.iter().map(|skipped| skipped.log.as_str()).collect();
    assert_eq!(names, ["empty.yaml", "bytes.yaml", "bytes.csv", "years.yaml"]);
    let years = &comparison.skipped[3].why;
    assert!(years.starts_with("years.yaml:4:3: this event is more than a week after"), "{years}");
    // Where nothing could be compared that is the answer.
    let (_, comparison) = compare(&mut service.client, vec![open(two()), whole("empty.yaml", "")]).await.unwrap();
    assert_eq!((comparison.days, comparison.from, comparison.skipped_count), (0, None, 1));
}

// Limits and the end

#[tokio::test(flavor = "multi_thread")]
async fn logs_are_held_to_their_bounds() {
    let rules = Path::new(RULES);
    let mut service = begin_in(rules, |limits| (limits.log_bytes, limits.comparison_logs) = (5_000, 2)).await;
    let bytes = vec![b'#'; 3_000];
    let messages = vec![open(two()), piece("long.yaml", &bytes, false), piece("", &bytes, false)];
    let status = compare(&mut service.client, messages).await.unwrap_err();
    assert_eq!(status.code(), Code::ResourceExhausted);
    assert_eq!(status.message(), "the log `long.yaml` is too large: a log may have 5000 bytes at most");
    assert_eq!(status.get_error_details().error_info().unwrap().reason, "LOG_TOO_LARGE");
    let messages = vec![open(two()), day(DAYS[1]), day(DAYS[3]), day(DAYS[1])];
    let status = compare(&mut service.client, messages).await.unwrap_err();
    assert_eq!((status.code(), violations(&status)[0].0.as_str()), (Code::InvalidArgument, "whole.name"));
    assert!(status.message().contains("2 logs at most"), "{}", status.message());
    let large = "x".repeat(3 << 20);
    let status = compare(&mut service.client, vec![open(two()), whole("large.yaml", &large)]).await.unwrap_err();
    assert_eq!(status.get_error_details().error_info().unwrap().reason, "REQUEST_TOO_LARGE");
}

#[tokio::test(flavor = "multi_thread")]
async fn an_answer_that_would_be_too_large_has_fewer_stretches_and_says_how_many() {
    let all = {
        let mut service = begin().await;
        compare(&mut service.client, vec![open(two()), day(DAYS[0])]).await.unwrap().1.differences.unwrap()
    };
    let mut service = begin_in(Path::new(RULES), |limits| limits.bytes_out = 12_000).await;
    let (_, comparison) = compare(&mut service.client, vec![open(two()), day(DAYS[0])]).await.unwrap();
    let fewer = comparison.differences.unwrap();
    assert!(fewer.stretches_left_out > 0);
    assert_eq!(fewer.stretches.len() as u64 + fewer.stretches_left_out, all.stretches.len() as u64);
    assert_eq!(fewer.stretches[..], all.stretches[..fewer.stretches.len()]);
    let mut service = begin_in(Path::new(RULES), |limits| limits.bytes_out = 2_000).await;
    let status = compare(&mut service.client, vec![open(two()), day(DAYS[1])]).await.unwrap_err();
    assert_eq!(status.get_error_details().error_info().unwrap().reason, "ANSWER_TOO_LARGE");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_silent_comparison_ends_and_one_that_takes_too_long_does() {
    let rules = Path::new(RULES);
    for opened in [true, false] {
        let mut service = begin_in(rules, |limits| limits.silence = Duration::from_millis(300)).await;
        let (send, messages) = mpsc::channel(8);
        if opened {
            send.send(open(two())).await.unwrap();
        }
        let mut answers = service.client.compare_strategies(ReceiverStream::new(messages)).await.unwrap().into_inner();
        let status = answers.message().await.unwrap_err();
        assert_eq!(status.code(), Code::DeadlineExceeded);
        assert!(status.message().starts_with("the comparison was silent for 300 ms"), "{}", status.message());
        assert_eq!(status.get_error_details().error_info().unwrap().reason, "SILENT");
    }
    let mut service = begin_in(rules, |limits| limits.comparison_time = Duration::from_millis(300)).await;
    let (send, messages) = mpsc::channel(8);
    send.send(open(two())).await.unwrap();
    let mut answers = service.client.compare_strategies(ReceiverStream::new(messages)).await.unwrap().into_inner();
    let status = answers.message().await.unwrap_err();
    assert_eq!(status.get_error_details().error_info().unwrap().reason, "COMPARISON_TOO_LONG");
}

#[tokio::test(flavor = "multi_thread")]
async fn comparisons_are_counted_and_a_client_that_goes_away_makes_room() {
    let mut service = begin_in(Path::new(RULES), |limits| limits.comparisons = 1).await;
    let (send, messages) = mpsc::channel(8);
    send.send(open(two())).await.unwrap();
    let first = service.client.compare_strategies(ReceiverStream::new(messages)).await.unwrap();
    let status = compare(&mut service.client, vec![open(two()), day(DAYS[1])]).await.unwrap_err();
    assert_eq!(status.code(), Code::ResourceExhausted);
    assert!(status.get_error_details().retry_info().is_some());
    drop((first, send));
    let begun = Instant::now();
    while compare(&mut service.client, vec![open(two()), day(DAYS[1])]).await.is_err() {
        assert!(begun.elapsed() < Duration::from_secs(20), "no room was made");
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_log_that_takes_too_long_is_given_up_and_so_is_one_that_nobody_waits_for() {
    // A week of minutes through a strategy of many rules, which takes far longer than this test may.
    let rules: String = (0..1_500)
        .map(|n| format!("rule \"r{n}\" if surface < {n} °F and waves > {n} in run depth {n} ft\n"))
        .collect();
    let slow = format!("strategy \"slow\"\n{rules}");
    let week = "zone: \"-07:00\"\nevents:\n- {at: \"2026-05-14T06:00\", lines: in}\n- {at: \"2026-05-21T05:00\", lines: out}\n";
    let opening = v1::ComparisonOpening { a: sent(&slow), b: served("light_and_depth"), lets: Vec::new(), water: None };
    let mut service = begin_in(Path::new(RULES), |limits| (limits.comparisons, limits.workers) = (1, 1)).await;
    let (send, messages) = mpsc::channel(8);
    let opened = service.client.compare_strategies(ReceiverStream::new(messages)).await.unwrap();
    send.send(open(opening)).await.unwrap();
    send.send(whole("week.yaml", week)).await.unwrap();
    tokio::time::sleep(Duration::from_secs(4)).await;
    drop((send, opened));
    let begun = Instant::now();
    let quick = vec![open(two()), day(DAYS[1])];
    while compare(&mut service.client, quick.clone()).await.is_err() {
        assert!(begun.elapsed() < Duration::from_secs(60), "the one worker is still at it");
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    let mut service = begin_in(Path::new(RULES), |limits| limits.request_time = Duration::from_millis(1)).await;
    let status = compare(&mut service.client, quick).await.unwrap_err();
    assert_eq!(status.get_error_details().error_info().unwrap().reason, "TOO_SLOW");
}

#[tokio::test(flavor = "multi_thread")]
async fn shutdown_ends_open_comparisons() {
    let Service { mut client, stop, ended } = begin().await;
    let (send, messages) = mpsc::channel(8);
    send.send(open(two())).await.unwrap();
    let mut answers = client.compare_strategies(ReceiverStream::new(messages)).await.unwrap().into_inner();
    send.send(day(DAYS[1])).await.unwrap();
    answers.message().await.unwrap();
    stop.send(()).unwrap();
    let status = answers.message().await.unwrap_err();
    assert_eq!(status.code(), Code::Unavailable);
    drop((client, answers, send));
    ended.await.unwrap().unwrap();
}
