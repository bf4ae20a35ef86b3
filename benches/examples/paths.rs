//! The paths of `cube::fast` in turns within one process, on one table each size: milliseconds of processor time of one thread
//! for a UHD frame, the least of the rounds.
//!
//! `paths [ROUNDS]`

use rushlight::cube::Interpolation;
use rushlight::cube::fast::{FastCube, Path, Sample};
use rushlight_benches::{frames, look, on_threads, processor};

fn main() {
    let rounds = std::env::args().nth(1).map_or(20, |rounds| rounds.parse().expect("a count"));
    let (width, height) = frames::UHD;
    let frames = [("natural", frames::natural(width, height)), ("random", frames::random(width * height))];
    println!("{:44}{}", "", Path::available().iter().map(|p| format!("{:>9}", format!("{p:?}"))).collect::<String>());
    for size in [17, 33, 65] {
        for interpolation in Interpolation::ALL {
            let cube = look(size);
            let paths: Vec<FastCube> = Path::available()
                .iter()
                .map(|path| FastCube::on_path(&cube, interpolation, *path).expect("a cube for f32"))
                .collect();
            for (name, planes) in &frames {
                let name = format!("{name}, {size} points, {}", interpolation.name());
                each_layout(&format!("{name}, f32"), &paths, planes, rounds);
                each_layout(&format!("{name}, u16"), &paths, &frames::sixteen(planes), rounds);
            }
        }
    }
}

fn each_layout<S: Sample>(name: &str, paths: &[FastCube], planes: &[Vec<S>; 3], rounds: usize) {
    let [r, g, b] = planes;
    let mut target = planes.clone();
    let [tr, tg, tb] = &mut target;
    turns(&format!("{name}, planes"), paths, rounds, |fast| {
        fast.planar([r, g, b], [&mut tr[..], tg, tb]).expect("planes")
    });
    let pixels: Vec<S> = (0..r.len()).flat_map(|i| [r[i], g[i], b[i]]).collect();
    let mut target = pixels.clone();
    turns(&format!("{name}, rgb"), paths, rounds, |fast| fast.rgb(&pixels, &mut target).expect("pixels"));
    let pixels: Vec<S> = (0..r.len()).flat_map(|i| [r[i], g[i], b[i], r[i]]).collect();
    let mut target = pixels.clone();
    turns(&format!("{name}, rgba"), paths, rounds, |fast| fast.rgba(&pixels, &mut target).expect("pixels"));
}

fn turns(name: &str, paths: &[FastCube], rounds: usize, mut run: impl FnMut(&FastCube) + Send) {
    let mut least = vec![f64::INFINITY; paths.len()];
    on_threads(1, || {
        for _ in 0..rounds {
            for (least, fast) in least.iter_mut().zip(paths) {
                let start = processor();
                run(fast);
                *least = least.min(processor() - start);
            }
        }
    });
    println!("{name:44}{}", least.iter().map(|t| format!("{:9.2}", t * 1e3)).collect::<String>());
}
