//! Our half of `benches/side_by_side`, which explains it.
//!
//! `side_by_side make DIR` writes the frames (planes in the order green, blue, red) and the cubes.
//! `side_by_side time DIR KIND COUNT` prints `what milliseconds` lines: processor time for one frame or file, mean of
//! COUNT; `wall ...` lines are wall-clock time on two threads.

use rushlight::cube::fast::{FastCube, Sample};
use rushlight::cube::{Cube, Interpolation};
use rushlight::format::cube::{self, Strictness, WriteOptions};
use rushlight_benches::{frames, look, on_threads, processor, wall};
use std::path::Path;
use std::{env, fs, io};

/// Planes on disk are green, blue, red: the position of red, green and blue among them.
const ORDER: [usize; 3] = [2, 0, 1];

fn main() -> io::Result<()> {
    let arguments: Vec<String> = env::args().skip(1).collect();
    match arguments.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["make", dir] => make(Path::new(dir)),
        ["time", dir, "text", count] => text(Path::new(dir), count.parse().expect("a count")),
        ["time", dir, frame, count] => time(Path::new(dir), frame, count.parse().expect("a count")),
        _ => panic!("usage: side_by_side make DIR | time DIR natural|random|text COUNT"),
    }
}

fn make(dir: &Path) -> io::Result<()> {
    let (width, height) = frames::UHD;
    for size in [17, 33, 65] {
        fs::write(dir.join(format!("look{size}.cube")), text_of(&look(size)))?;
    }
    for (name, planes) in [("natural", frames::natural(width, height)), ("random", frames::random(width * height))] {
        let [r, g, b] = &planes;
        let bytes: Vec<u8> = [g, b, r].into_iter().flatten().flat_map(|v| v.to_le_bytes()).collect();
        fs::write(dir.join(format!("{name}.f32")), bytes)?;
        let [r, g, b] = &frames::sixteen(&planes);
        let bytes: Vec<u8> = [g, b, r].into_iter().flatten().flat_map(|v| v.to_le_bytes()).collect();
        fs::write(dir.join(format!("{name}.u16")), bytes)?;
    }
    Ok(())
}

/// Mean of `count` runs after one that does not count.
fn measure(what: &str, count: u32, clock: fn() -> f64, mut run: impl FnMut()) {
    run();
    let start = clock();
    (0..count).for_each(|_| run());
    println!("{what} {:.4}", (clock() - start) * 1e3 / f64::from(count));
}

fn load<S>(path: &Path, sample: impl Fn(&[u8]) -> S + Copy) -> io::Result<[Vec<S>; 3]> {
    let bytes = fs::read(path)?;
    let plane = bytes.len() / 3;
    Ok(ORDER.map(|p| bytes[p * plane..][..plane].chunks_exact(size_of::<S>()).map(sample).collect()))
}

fn time(dir: &Path, frame: &str, count: u32) -> io::Result<()> {
    let cube = cube_of(&fs::read(dir.join("look33.cube"))?);
    let fast = Interpolation::ALL.map(|i| FastCube::new(&cube, i).expect("a cube for f32"));
    let floats = load(&dir.join(format!("{frame}.f32")), |b| f32::from_le_bytes(b.try_into().expect("four bytes")))?;
    let codes = load(&dir.join(format!("{frame}.u16")), |b| u16::from_le_bytes(b.try_into().expect("two bytes")))?;
    planes("f32", &fast, &floats, count);
    planes("u16", &fast, &codes, count);

    let interleaved: Vec<f32> = (0..floats[0].len()).flat_map(|i| [0, 1, 2].map(|c| floats[c][i])).collect();
    let mut target = interleaved.clone();
    on_threads(1, || measure("f32-rgb", count, processor, || fast[0].rgb(&interleaved, &mut target).expect("a frame")));
    Ok(())
}

fn planes<S: Sample>(kind: &str, [tetrahedral, trilinear]: &[FastCube; 2], source: &[Vec<S>; 3], count: u32) {
    let [r, g, b] = source;
    let mut target = source.clone();
    measure(&format!("{kind}-copy"), count, processor, || copy(source, &mut target));
    for (fast, name) in [(tetrahedral, "tetrahedral"), (trilinear, "trilinear")] {
        let [tr, tg, tb] = &mut target;
        let mut run = || fast.planar([r, g, b], [&mut tr[..], tg, tb]).expect("a frame");
        on_threads(1, || measure(&format!("{kind}-{name}"), count, processor, &mut run));
        on_threads(2, || measure(&format!("wall-{kind}-{name}"), count, wall, &mut run));
    }
    on_threads(2, || {
        measure(&format!("wall-{kind}-copy"), count, wall, || {
            let [tr, tg, tb] = &mut target;
            let half = r.len() / 2;
            let [(r0, r1), (g0, g1), (b0, b1)] = [r, g, b].map(|p| p.split_at(half));
            let [(tr0, tr1), (tg0, tg1), (tb0, tb1)] = [tr, tg, tb].map(|p| p.split_at_mut(half));
            let halves = [([r0, g0, b0], [tr0, tg0, tb0]), ([r1, g1, b1], [tr1, tg1, tb1])];
            let [low, high] = halves;
            let run = |(from, to): ([&[S]; 3], [&mut [S]; 3])| {
                to.into_iter().zip(from).for_each(|(t, f)| t.copy_from_slice(f))
            };
            rayon::join(|| run(low), || run(high));
        })
    });
}

fn copy<S: Copy>(source: &[Vec<S>; 3], target: &mut [Vec<S>; 3]) {
    target.iter_mut().zip(source).for_each(|(to, from)| to.copy_from_slice(from));
}

fn text(dir: &Path, count: u32) -> io::Result<()> {
    let text = fs::read(dir.join("look33.cube"))?;
    let cube = cube_of(&text);
    measure("read", count, processor, || drop(cube_of(&text)));
    measure("write", count, processor, || drop(text_of(&cube)));
    Ok(())
}

/// A cube as text with the nine decimals that a float holds.
fn text_of(cube: &Cube) -> String {
    let options = WriteOptions { title: "Side by side", digits: 9, ..WriteOptions::default() };
    cube::write_cube(cube, &options).expect("numbers within the limits")
}

fn cube_of(text: &[u8]) -> Cube {
    let file = cube::read(text, Strictness::Strict).expect("our own cube");
    file.into_cube().expect("a 3D table")
}
