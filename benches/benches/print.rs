//! What the print costs: compiling it, and one core through the nodes of a 33-point cube.

use criterion::{Criterion, criterion_group, criterion_main};
use rushlight::chromaticity::D65;
use rushlight::math::exp2;
use rushlight::step::print::{Print, PrintSettings};
use std::hint::black_box;

/// Scene light of a 33-point grid over a log signal: 14 stops, mid-grey in the middle.
fn nodes() -> Vec<[f64; 3]> {
    let level = |i: usize| 0.18 * (exp2((i as f64 / 32.0 - 0.5) * 14.0) - 0.005);
    let mut nodes = Vec::with_capacity(33 * 33 * 33);
    for b in 0..33 {
        for g in 0..33 {
            for r in 0..33 {
                nodes.push([level(r), level(g), level(b)]);
            }
        }
    }
    nodes
}

fn print(c: &mut Criterion) {
    let settings = PrintSettings::default();
    c.bench_function("print: compile", |b| b.iter(|| Print::new(black_box(&settings), D65, 1.0).unwrap()));
    let print = Print::new(&settings, D65, 1.0).unwrap();
    let nodes = nodes();
    c.bench_function("print: 33-point cube, one core", |b| {
        b.iter(|| nodes.iter().fold(0.0, |sum, node| sum + print.render(black_box(*node))[1]));
    });
}

criterion_group!(benches, print);
criterion_main!(benches);
