//! Baking: the demo's night look, from S-Log3 and S-Gamut3.Cine to BT.709, compiled, sampled into cubes and written.

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use rayon::ThreadPoolBuilder;
use rushlight::cube::Reader;
use rushlight::format;
use rushlight::pipeline::Pipeline;
use rushlight_benches::demo_show;
use std::hint::black_box;

const SIZES: [usize; 3] = [17, 33, 65];

fn night() -> Pipeline {
    demo_show().pipeline("night", "a", "onset").expect("the night look fits the monitor")
}

fn nodes(points: usize) -> Throughput {
    Throughput::Elements((points * points * points) as u64)
}

/// Reading the documents, and from them to a pipeline: what a look costs before its first node.
fn compile(c: &mut Criterion) {
    c.bench_function("read the demo show", |b| b.iter(demo_show));
    let show = demo_show();
    c.bench_function("compile a pipeline", |b| b.iter(|| show.pipeline("night", "a", "onset")));
}

/// Sampling, on one thread and on all.
fn sample(c: &mut Criterion) {
    let pipeline = night();
    let all = std::thread::available_parallelism().map_or(1, usize::from);
    let mut group = c.benchmark_group("sample");
    for points in SIZES {
        group.throughput(nodes(points));
        for threads in [1, all] {
            let pool = ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
            let name = BenchmarkId::new(if threads == 1 { "1 thread" } else { "all threads" }, points);
            group.bench_function(name, |b| {
                b.iter(|| pool.install(|| pipeline.cube(black_box(points))));
            });
        }
    }
    group.finish();
}

/// Comparing a cube with the exact path, on all threads: what stands between sampling and writing in every bake.
fn audit(c: &mut Criterion) {
    let pipeline = night();
    let mut group = c.benchmark_group("audit");
    for points in SIZES {
        let cube = pipeline.cube(points).expect("a cube");
        group.bench_function(BenchmarkId::from_parameter(points), |b| {
            b.iter(|| rushlight::audit::audit(&pipeline, black_box(&cube)));
        });
    }
    group.finish();
}

/// Choosing the nodes, on one thread and on all: in the place of sampling where a bake is asked to.
fn fit(c: &mut Criterion) {
    let pipeline = night();
    let all = std::thread::available_parallelism().map_or(1, usize::from);
    let mut group = c.benchmark_group("fit");
    for points in SIZES {
        for threads in [1, all] {
            let pool = ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
            let name = BenchmarkId::new(if threads == 1 { "1 thread" } else { "all threads" }, points);
            group.bench_function(name, |b| {
                b.iter(|| {
                    pool.install(|| rushlight::fit::fit(&pipeline, black_box(points), Reader::Tetrahedral, None))
                });
            });
        }
    }
    group.bench_function("shaper", |b| b.iter(|| rushlight::shaper::shaper(black_box(&pipeline))));
    group.finish();
}

/// Writing a cube as text.
fn write(c: &mut Criterion) {
    let pipeline = night();
    let mut group = c.benchmark_group("write");
    for points in SIZES {
        let cube = pipeline.cube(points).expect("a cube");
        group.throughput(nodes(points));
        group.bench_function(BenchmarkId::from_parameter(points), |b| {
            b.iter(|| format::cube::write_cube(black_box(&cube), &format::cube::WriteOptions::default()));
        });
    }
    group.finish();
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(20);
    targets = compile, sample, audit, fit, write
}
criterion_main!(benches);
