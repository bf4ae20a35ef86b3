//! The brackets of the demo: what the show's invented cameras give of a grey card, by simulated sensors whose truth is known.

use crate::demo;
use crate::sensor::Sensor;
use rushlight::frame::{Depth, Format, write};
use rushlight::math::exp2;
use rushlight::measure::Claim;
use rushlight::transfer::MID_GREY;
use std::fmt::Write as _;
use std::path::PathBuf;

/// A bracket: the camera, its exposure index, the sensor, the stops.
pub struct Bracket {
    /// The camera of the show.
    pub camera: &'static str,
    /// Exposure index.
    pub ei: u32,
    /// What stands for the camera.
    pub sensor: Sensor,
    /// Exposures, stops from mid-grey.
    pub stops: Vec<f64>,
}

/// Pixels of the card along each edge.
const SIDE: usize = 40;

fn bracket(camera: &'static str, ei: u32, electrons: f64, read: f64, clip: f64, range: [i32; 2]) -> Bracket {
    let item = demo::show().cameras()[camera].item.clone();
    let claim = Claim { name: camera.to_owned(), curve: item.shared_curve(), range: item.range() };
    let mut sensor = Sensor::new("slog3");
    sensor.claim = claim;
    (sensor.electrons, sensor.read, sensor.pattern, sensor.bits) = ([electrons; 3], read, 0.008, 10);
    sensor.full = [MID_GREY * exp2(clip); 3];
    Bracket { camera, ei, sensor, stops: (range[0]..=range[1]).map(f64::from).collect() }
}

/// All of them: camera `a` at two indices of one base, camera `b` at one.
pub fn brackets() -> Vec<Bracket> {
    vec![
        bracket("a", 800, 4500.0, 3.94, 6.0, [-9, 7]),
        bracket("a", 1600, 2250.0, 3.94, 7.0, [-8, 8]),
        bracket("b", 200, 2000.0, 5.1, 4.0, [-8, 5]),
    ]
}

/// The folder of the brackets.
pub fn folder() -> PathBuf {
    demo::folder().join("brackets")
}

/// Every file by name: frames, and a list for each camera.
///
/// # Panics
/// When a frame cannot be written.
pub fn files() -> Vec<(String, Vec<u8>)> {
    let mut files = Vec::new();
    for camera in ["a", "b"] {
        let mut list =
            "# Made by the program demo_brackets: an invented camera, a simulated sensor.\nfile,stops,ei\n".to_owned();
        for b in brackets().iter().filter(|b| b.camera == camera) {
            for (i, stops) in b.stops.iter().enumerate() {
                let name = format!("{camera}_{}_{:02}.png", b.ei, i + 1);
                let frame = b.sensor.card(*stops, SIDE, SIDE, u64::from(b.ei) * 100 + i as u64);
                let bytes = write(&frame, Format::Png, Depth::Integer(16)).expect("a PNG");
                let _ = writeln!(list, "{name},{stops:+},{}", b.ei);
                files.push((name, bytes));
            }
        }
        files.push((format!("{camera}.csv"), list.into_bytes()));
    }
    files
}
