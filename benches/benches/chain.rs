//! What the check of a captured frame costs, on one core: finding and reading a chart of UHD, explaining it, and all of it
//! from the bytes of a PNG of 16 bits on, with the cubes of the demo computed as they are needed.

use criterion::{Criterion, criterion_group, criterion_main};
use rushlight::chain::bank::{Bank, Candidate};
use rushlight::chain::draw::{chart, stops};
use rushlight::chain::explain::{Evidence, explain};
use rushlight::chain::mark::Mark;
use rushlight::chain::model::{Change, Fault, Levels, Loaded, Tag};
use rushlight::chain::read::read;
use rushlight::cube::Interpolation;
use rushlight::difference::Difference;
use rushlight::frame::{Depth, Format, Frame, ReadOptions, read as picture, write};
use rushlight::show::Show;
use rushlight_benches::{demo_show, on_threads};
use std::collections::HashMap;
use std::hint::black_box;

const NAME: &str = "saltmarsh_night_r1_a_onset_33";

/// The chart through a chain with these faults.
fn captured(chart: &Frame, bank: &Bank, faults: &[Fault]) -> Frame {
    let mut known: HashMap<[u32; 3], [f64; 3]> = HashMap::new();
    let mut frame = chart.clone();
    for pixel in frame.samples_mut().chunks_exact_mut(3) {
        let key = [pixel[0], pixel[1], pixel[2]];
        let out = known
            .entry(key.map(f32::to_bits))
            .or_insert_with(|| bank.captured(faults, Interpolation::Tetrahedral, &[key.map(f64::from)])[0]);
        (0..3).for_each(|c| pixel[c] = out[c] as f32);
    }
    frame
}

/// The cubes of the demo, that of the night look on the set first; their nodes are computed when they are read.
fn bank(show: &Show) -> Bank {
    let mut cubes = Vec::new();
    for look in ["night", "day"] {
        for camera in show.cameras().keys() {
            for display in show.displays().keys() {
                let name = format!("{look}_{camera}_{display}");
                let path = show.pipeline(look, camera, display).expect("a path");
                cubes.push(Candidate::of_path(&name, path, 33).expect("a cube"));
            }
        }
    }
    let first = cubes.iter().position(|c| c.name == "night_a_onset").expect("the night look on the set");
    cubes.swap(0, first);
    Bank { cubes }
}

fn demo(c: &mut Criterion) {
    let show = demo_show();
    let bank = bank(&show);
    let difference = Difference::on(&show.displays()["onset"].item);
    let mark = Mark::new(NAME, [3840, 2160], stops(&show.cameras()["a"].item));
    let chart = chart(&mark).expect("a chart");
    let stretched = Fault::Input(Change::Levels(Levels::Stretched, rushlight::chain::model::Form::Rgb));
    let other = Fault::Cube(Loaded::Other(1));
    let shifted = Fault::Output(Change::Tag(Tag::Gamma24, Tag::Gamma196));
    let chains: [(&str, &[Fault]); 4] = [
        ("right", &[]),
        ("one fault", &[stretched]),
        ("two faults", &[stretched, shifted]),
        ("three faults", &[stretched, other, shifted]),
    ];
    let mut group = c.benchmark_group("chain, UHD, 1 thread");
    group.sample_size(10);
    for (name, faults) in chains {
        let frame = captured(&chart, &bank, faults);
        group.bench_function(format!("read, {name}"), |b| b.iter(|| on_threads(1, || read(black_box(&frame)))));
        let evidence = Evidence::of(&read(&frame).expect("a chart"));
        group.bench_function(format!("explain, {name}, {} cubes", bank.cubes.len()), |b| {
            b.iter(|| on_threads(1, || explain(&bank, black_box(&evidence), &difference)));
        });
        let file = write(&frame, Format::Png, Depth::Integer(16)).expect("a PNG");
        let check = || {
            let frame = picture(black_box(&file), &ReadOptions::default()).expect("a picture");
            let evidence = Evidence::of(&read(&frame).expect("a chart"));
            explain(&self::bank(&show), &evidence, &difference)
        };
        group.bench_function(format!("check, {name}"), |b| b.iter(|| on_threads(1, check)));
    }
    group.finish();
}

criterion_group!(benches, demo);
criterion_main!(benches);
