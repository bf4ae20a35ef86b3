//! Applying a 33-point cube to a UHD frame, one core: a picture-like frame and the hardest one, floats and 16 bits.

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use rushlight::cube::Interpolation;
use rushlight::cube::fast::FastCube;
use rushlight_benches::{frames, look, on_threads};

fn apply(c: &mut Criterion) {
    let (width, height) = frames::UHD;
    let cube = look(33);
    let mut group = c.benchmark_group("apply 33 points, UHD, one core");
    group.throughput(Throughput::Elements((width * height) as u64)).sample_size(10);
    for (name, planes) in [("natural", frames::natural(width, height)), ("random", frames::random(width * height))] {
        let [r, g, b] = &planes;
        let codes = frames::sixteen(&planes);
        let [r16, g16, b16] = &codes;
        let mut target = planes.clone();
        let mut target16 = codes.clone();
        group.bench_function(format!("{name}, f32 planar, copy"), |bencher| {
            bencher.iter(|| (0..3).for_each(|i| target[i].copy_from_slice(&planes[i])));
        });
        for interpolation in Interpolation::ALL {
            let fast = FastCube::new(&cube, interpolation).expect("a cube for f32");
            let kind = interpolation.name();
            group.bench_function(format!("{name}, f32 planar, {kind}"), |bencher| {
                let [tr, tg, tb] = &mut target;
                on_threads(1, || bencher.iter(|| fast.planar([r, g, b], [&mut tr[..], tg, tb])));
            });
            group.bench_function(format!("{name}, u16 planar, {kind}"), |bencher| {
                let [tr, tg, tb] = &mut target16;
                on_threads(1, || bencher.iter(|| fast.planar([r16, g16, b16], [&mut tr[..], tg, tb])));
            });
        }
    }
    group.finish();
}

criterion_group!(benches, apply);
criterion_main!(benches);
