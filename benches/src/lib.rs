//! Shared inputs of the benchmarks.

pub mod frames;

use rushlight::cube::Cube;
use rushlight::math::{exp, pow};
use rushlight::show::Show;
use std::collections::BTreeMap;
use std::time::Instant;

macro_rules! demo_files {
    ($($name:literal),*) => {
        [$(($name, include_str!(concat!("../../fixtures/demo/", $name)))),*]
    };
}

/// The demo show, as its documents give it.
///
/// # Panics
/// When the show does not read.
pub fn demo_show() -> Show {
    let files = demo_files![
        "show.toml",
        "curves/harbour.toml",
        "looks/night.toml",
        "looks/day.toml",
        "cdl/night1.ccc",
        "cdl/day2.ale"
    ];
    let text = files[0].1;
    let files: BTreeMap<String, Vec<u8>> =
        files.iter().map(|(name, text)| ((*name).to_owned(), text.as_bytes().to_vec())).collect();
    Show::parse("show.toml", text, &files).expect("the demo show reads")
}

/// A cube with a look's bends: an S-shaped curve in each channel, and crosstalk between them.
pub fn look(size: usize) -> Cube {
    let curve = |v: f64| 1.0 / (1.0 + exp(-7.0 * (v - 0.45)));
    let look = |[r, g, b]: [f64; 3]| {
        let mixed = [0.86 * r + 0.10 * g + 0.04 * b, 0.05 * r + 0.88 * g + 0.07 * b, 0.02 * r + 0.12 * g + 0.86 * b];
        let [r, g, b] = mixed.map(curve);
        [pow(r, 0.97), g, 0.98 * pow(b, 1.04) + 0.01]
    };
    Cube::sample(size, look).expect("a size that cubes may have")
}

/// `run` on a pool of `threads`.
pub fn on_threads<T: Send>(threads: usize, run: impl FnOnce() -> T + Send) -> T {
    rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads").install(run)
}

/// Processor time of this thread, seconds.
#[cfg(unix)]
pub fn processor() -> f64 {
    let now = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
    now.tv_sec as f64 + now.tv_nsec as f64 * 1e-9
}

/// Where the system has no such clock: on a machine that does nothing else.
#[cfg(not(unix))]
pub fn processor() -> f64 {
    wall()
}

/// Wall-clock time, seconds.
pub fn wall() -> f64 {
    thread_local!(static START: Instant = Instant::now());
    START.with(|start| start.elapsed().as_secs_f64())
}
