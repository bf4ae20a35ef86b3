//! Cube text: how fast it is read and written, in bytes of text, on one core.

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use rushlight::cube::{Cube, Table};
use rushlight::format::cube::{Strictness, WriteOptions, read, write};
use std::hint::black_box;

fn text(c: &mut Criterion) {
    let mut group = c.benchmark_group("text");
    for size in [33, 65] {
        // Every digit differs: no branch is learnt from the numbers.
        let bend = |v: f64| (v * 0.93 + 0.031).sqrt();
        let cube = Cube::sample(size, |[r, g, b]| [bend(r + 0.01 * g), bend(g + 0.02 * b), bend(b + 0.013 * r)]);
        let table = Table::from(cube.expect("a size that cubes have"));
        let options = WriteOptions::default();
        let file = write(&table, &options).expect("numbers within bounds");
        group.throughput(Throughput::Bytes(file.len() as u64));
        group.bench_function(format!("read/{size}"), |b| {
            b.iter(|| read(black_box(file.as_bytes()), Strictness::Strict).expect("a good file"));
        });
        group.bench_function(format!("write/{size}"), |b| {
            b.iter(|| write(black_box(&table), &options).expect("numbers within bounds"));
        });
    }
    group.finish();
}

criterion_group!(benches, text);
criterion_main!(benches);
