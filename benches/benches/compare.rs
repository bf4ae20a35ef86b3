//! Comparing: every node of two 65-point cubes, and two looks on every group of colours.

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use rayon::ThreadPoolBuilder;
use rushlight::compare::{Pair, compare};
use rushlight::cube::{Cube, Interpolation};
use rushlight::display::{Display, standard};
use rushlight::transform::Interpolate;
use rushlight_benches::{demo_show, look};
use std::hint::black_box;

const POINTS: usize = 65;

/// Two cubes of which no node is the same, so that none is skipped.
fn cubes(c: &mut Criterion) {
    let old = look(POINTS);
    let nodes = old.nodes().iter().map(|n| n.map(|v| 0.01 + 0.97 * v)).collect();
    let new = Cube::new(POINTS, old.domain(), nodes).expect("a cube");
    let (old, new) = (&old, &new);
    let mut group = c.benchmark_group("two cubes, all nodes");
    group.sample_size(20).throughput(Throughput::Elements((POINTS * POINTS * POINTS) as u64));
    for (threads, name) in [(1, "1 thread"), (0, "all threads")] {
        let pool = ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        for display in ["bt709", "bt2100-pq"] {
            let screen = Display::of(standard(display).expect("a display of the catalogue"));
            let pair = Pair {
                old: &old.by(Interpolation::Tetrahedral),
                new: &new.by(Interpolation::Tetrahedral),
                camera: None,
                display: &screen,
                nodes: Some([old.nodes(), new.nodes()]),
            };
            group.bench_function(format!("{display}, {name}"), |b| {
                b.iter(|| pool.install(|| compare(black_box(&pair))));
            });
        }
    }
    group.finish();
}

fn looks(c: &mut Criterion) {
    let show = demo_show();
    let night = show.pipeline("night", "a", "onset").expect("the demo's own names");
    let day = show.pipeline("day", "a", "onset").expect("the demo's own names");
    let mut group = c.benchmark_group("two looks, all groups");
    group.sample_size(10);
    for (threads, name) in [(1, "1 thread"), (0, "all threads")] {
        let pool = ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        let pair = Pair { old: &night, new: &day, camera: Some(night.camera()), display: night.display(), nodes: None };
        group.bench_function(name, |b| b.iter(|| pool.install(|| compare(black_box(&pair)))));
    }
    group.finish();
}

criterion_group!(benches, cubes, looks);
criterion_main!(benches);
