//! Line out and the spread: one forward solution, one inverse, a spread of eight rods; beside one evaluation of the drag
//! law alone, which says how fast the machine is.
//!
//! `cargo bench --bench tackle`.

#![allow(clippy::unwrap_used, reason = "a benchmark that can't run stops")]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use leadsman::source::boat::Boat;
use leadsman::tackle::spread::{Bounds, Called, spread};

const MPH: f64 = 0.44704;

fn rods(criterion: &mut Criterion) {
    let boat = Boat::read(concat!(env!("CARGO_MANIFEST_DIR"), "/rules/ossel/boat.yaml")).unwrap();
    let mut group = criterion.benchmark_group("tackle");
    for rod in boat.rods.iter().filter(|rod| rod.side == leadsman::tackle::gear::Side::Port) {
        let speed = black_box(2.3 * MPH);
        let shape = || rod.inverse(black_box(9.0), speed, Some(0.08), 999.0).unwrap();
        let out = shape().map_or(30.0, |run| run.out);
        group.bench_function(format!("{}: forward", rod.name), |bencher| {
            bencher.iter(|| black_box(rod.forward(black_box(out), speed, Some(0.08), 999.0).unwrap()));
        });
        group.bench_function(format!("{}: line out for a depth", rod.name), |bencher| {
            bencher.iter(|| black_box(shape()));
        });
    }
    let mut eight = boat.rods.clone();
    eight.extend(boat.rods.iter().cloned().map(|mut rod| {
        rod.out += 5.0;
        rod.name.push_str(" too");
        rod
    }));
    let lures = vec!["spoon".to_owned(), "plug".to_owned()];
    let called = Called { depth: (3.0, 12.0), speed: 2.0 * MPH, size: Some(0.08), lures };
    let bounds = Bounds { lines: None, apart: 2.0, density: 999.0 };
    group.bench_function("a spread of 8 rods", |bencher| {
        bencher.iter(|| black_box(spread(&eight, black_box(&called), &bounds).unwrap()));
    });
    group.bench_function("the drag law once", |bencher| {
        bencher.iter(|| {
            let (sin, cos) = libm::sincos(black_box(0.7));
            black_box(0.2 * sin + 0.03 * cos * cos + 0.7 * sin * sin)
        });
    });
    group.finish();
}

criterion_group!(benches, rods);
criterion_main!(benches);
