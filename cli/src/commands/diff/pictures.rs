//! Pictures of both sides for the page: a chart of colours, a frame, and maps of the difference.

use super::pairs::{Way, Ways};
use crate::failure::Failure;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use rayon::prelude::*;
use rushlight::compare::chart;
use rushlight::cube::{Cube, Interpolation, POINTS, UNIT};
use rushlight::difference::{Difference, Formula};
use rushlight::display::{Display, standard};
use rushlight::frame::{self, Depth, Format, Frame, Info, ReadOptions};
use rushlight::gamut::BT709;

/// Pixels across a picture.
const WIDTH: usize = 640;
/// Pixels down a row of a chart, and the gap under it.
const ROW: usize = 26;
const GAP: usize = 2;
/// Points along each edge of the slices that stand in for a chart of a camera that nobody knows.
const SLICE: usize = 33;

/// How much more of Delta E ITP the map's scale spans: a look's changes come to several times as much of it.
const ITP: f64 = 4.0;

/// What the stops of the difference map's scale stand for.
pub(super) fn factor(difference: &'static str) -> f64 {
    if difference == Formula::DeltaEItp.name() { ITP } else { 1.0 }
}

/// Stops of the difference map's scale: CIEDE2000, and sRGB. Lightness rises all the way, so that it reads in grey too.
pub(super) const SCALE: [(f64, [u8; 3]); 5] =
    [(0.0, [16, 20, 24]), (0.5, [28, 62, 102]), (1.0, [42, 116, 140]), (3.0, [132, 184, 110]), (6.0, [255, 232, 160])];

/// Signals of a picture, row by row.
pub(super) struct Scene {
    pub(super) title: &'static str,
    width: usize,
    signals: Vec<[f64; 3]>,
}

/// Three PNG files as data URIs: old, new, difference.
pub(super) struct Triple {
    pub(super) title: &'static str,
    pub(super) size: [usize; 2],
    pub(super) images: [String; 3],
}

/// The scenes that a page shows for one picture.
pub(super) fn scenes(ways: &Ways<'_>, frame: Option<&[u8]>) -> Result<Vec<Scene>, Failure> {
    let Some(camera) = &ways.camera else {
        return Ok(vec![slices()]);
    };
    let mut signals = Vec::new();
    for row in chart(camera) {
        let line: Vec<[f64; 3]> = (0..WIDTH).map(|x| row[x * row.len() / WIDTH]).collect();
        (0..ROW).for_each(|_| signals.extend_from_slice(&line));
        signals.extend(std::iter::repeat_n([0.0; 3], GAP * WIDTH));
    }
    let mut scenes = vec![Scene { title: "Chart of greys, samples, skin and lights", width: WIDTH, signals }];
    if let Some(file) = frame {
        let frame = frame::read(file, &ReadOptions::default()).map_err(|e| Failure::new(format!("--frame: {e}")))?;
        let (width, height) = (frame.width(), frame.height());
        let across = width.min(WIDTH);
        let down = (height * across / width).max(1);
        // The mean of the pixels under each, in light.
        let pixel = |i: usize| {
            let (x, y) = (i % across, i / across);
            let span = |at: usize, of: usize, all: usize| at * all / of..((at + 1) * all / of).max(at * all / of + 1);
            let (mut sum, mut count) = ([0.0; 3], 0.0);
            for row in span(y, down, height) {
                for column in span(x, across, width) {
                    let rgb = frame.rgb(column, row);
                    (0..3).for_each(|c| sum[c] += f64::from(rgb[c]));
                    count += 1.0;
                }
            }
            camera.encode(sum.map(|v| v / count)).map(|v| if v.is_finite() { v.clamp(0.0, 1.0) } else { 0.0 })
        };
        let signals = (0..across * down).into_par_iter().map(pixel).collect();
        scenes.push(Scene { title: "Frame", width: across, signals });
    }
    Ok(scenes)
}

/// Slices of the cube: green to the right, red upwards, blue from slice to slice.
fn slices() -> Scene {
    let count = 5;
    let each = WIDTH / count;
    let at = |i: usize| {
        let (x, y) = (i % (each * count), i / (each * count));
        let step = |v: usize| ((v * SLICE / each) as f64 / (SLICE - 1) as f64).min(1.0);
        [1.0 - step(y), step(x % each), (x / each) as f64 / (count - 1) as f64]
    };
    let width = each * count;
    Scene {
        title: "Slices of the cube, blue rising from the left",
        width,
        signals: (0..width * each).map(at).collect(),
    }
}

/// Draws a scene through both sides. An exact path is drawn by a cube of 33 points of it.
pub(super) fn draw(scene: &Scene, ways: &Ways<'_>) -> Result<Triple, Failure> {
    let outputs = |way: &Way<'_>| -> Result<Vec<[f64; 3]>, Failure> {
        let cube = match way {
            Way::Exact(_) => Some(Cube::sample_over(POINTS, UNIT, |rgb| way.apply(rgb)).map_err(Failure::options)?),
            Way::Table(_) => None,
        };
        let apply = |rgb: &[f64; 3]| match &cube {
            Some(cube) => cube.at(*rgb, Interpolation::Tetrahedral),
            None => way.apply(*rgb),
        };
        Ok(scene.signals.par_iter().map(apply).collect())
    };
    let (old, new) = (outputs(&ways.old)?, outputs(&ways.new)?);
    let difference = Difference::on(&ways.display);
    let map: Vec<[f32; 3]> = old
        .par_iter()
        .zip(&new)
        .map(|(a, b)| if a == b { 0.0 } else { difference.between(difference.place(*a), difference.place(*b)) })
        .map(|d| colour(d / factor(difference.formula().name())))
        .collect();
    let down = scene.signals.len() / scene.width;
    let image = |pixels: Vec<[f32; 3]>| -> Result<String, Failure> {
        let samples = pixels.into_iter().flatten().collect();
        let frame = Frame::new(scene.width, down, false, samples, Info::new(Format::Png, Depth::Integer(8)));
        let file = frame.and_then(|frame| frame::write(&frame, Format::Png, Depth::Integer(8)));
        let file = file.map_err(|e| Failure::new(format!("a picture of the page: {e}")))?;
        Ok(format!("data:image/png;base64,{}", STANDARD.encode(file)))
    };
    let screen = Screen::of(&ways.display);
    let seen = |signals: &[[f64; 3]]| image(signals.par_iter().map(|s| screen.show(*s)).collect());
    Ok(Triple { title: scene.title, size: [scene.width, down], images: [seen(&old)?, seen(&new)?, image(map)?] })
}

/// A colour of the difference map, sRGB, for a difference by the scale.
fn colour(difference: f64) -> [f32; 3] {
    let at = SCALE.iter().rposition(|(value, _)| *value <= difference).unwrap_or(0).min(SCALE.len() - 2);
    let ((low, from), (high, to)) = (SCALE[at], SCALE[at + 1]);
    let t = ((difference - low) / (high - low)).clamp(0.0, 1.0);
    std::array::from_fn(|c| ((f64::from(from[c]) * (1.0 - t) + f64::from(to[c]) * t) / 255.0) as f32)
}

/// From a display's signal to what a browser takes for sRGB. White is white; light above it is clipped.
struct Screen<'d> {
    display: &'d Display,
    /// To linear BT.709 light.
    matrix: [[f64; 3]; 3],
    srgb: Display,
}

impl<'d> Screen<'d> {
    fn of(display: &'d Display) -> Self {
        let srgb = Display::of(standard("srgb").expect("a display of the catalogue"));
        let matrix = display.gamut().to(&BT709, None);
        let matrix = std::array::from_fn(|r| std::array::from_fn(|c| matrix[(r, c)]));
        Self { display, matrix, srgb }
    }

    fn show(&self, signal: [f64; 3]) -> [f32; 3] {
        let [r, g, b] = self.display.decode(signal);
        let light = self.matrix.map(|row| (row[0] * r + row[1] * g + row[2] * b).clamp(0.0, 1.0));
        self.srgb.encode(light).map(|v| v as f32)
    }
}
