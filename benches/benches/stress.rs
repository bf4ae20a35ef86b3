//! What a stress test of one look, camera and display costs.

use criterion::{Criterion, criterion_group, criterion_main};
use rushlight::cube::Reader;
use rushlight::stress::{Limits, Subject, stress};
use rushlight_benches::{demo_show, on_threads};
use std::hint::black_box;

fn demo(c: &mut Criterion) {
    let show = demo_show();
    let limits = Limits::default();
    let mut group = c.benchmark_group("stress, night, a, 33 points");
    group.sample_size(10);
    for display in ["onset", "hdr"] {
        let subject = Subject {
            look: &show.looks()["night"].item,
            camera: &show.cameras()["a"].item,
            display: &show.displays()[display].item,
            correction: None,
            points: 33,
            reader: Reader::Tetrahedral,
        };
        for (threads, name) in [(1, "1 thread"), (0, "all threads")] {
            group.bench_function(format!("{display}, {name}"), |b| {
                b.iter(|| on_threads(threads, || stress(black_box(&subject), &limits)));
            });
        }
    }
    group.finish();
}

criterion_group!(benches, demo);
criterion_main!(benches);
