//! Pictures of both sides for the page: a chart of colours, a frame, and maps of the difference.

use crate::failure::Failure;
use crate::picture::{self, Scene, Screen, WIDTH};
use rayon::prelude::*;
use rushlight::cube::{Cube, Interpolation, POINTS};
use rushlight::diff::{Compared, SignalMap};
use rushlight::difference::{Difference, Formula};
use rushlight::frame::{Format, Frame};
use rushlight::transform::ColourTransform;

/// Pixels down a row of a chart, and the gap under it.
const ROW: usize = 26;
const GAP: usize = 2;
/// Points along each edge of the slices that are drawn where the camera is unknown.
const SLICE: usize = 33;

/// How much more of Delta E ITP the map's scale spans: a look's changes come to several times as much of it.
const ITP: f64 = 4.0;

/// What the stops of the difference map's scale stand for.
pub(super) fn factor(difference: &'static str) -> f64 {
    if difference == Formula::DeltaEItp.name() { ITP } else { 1.0 }
}

/// Stops of the difference map's scale: CIEDE2000, and sRGB. The colours are those of the theme's charts, from its ink over
/// its blues to orchid, and a light peach; their lightness rises in even steps, to every kind of vision, so that the map
/// reads in grey too.
pub(super) const SCALE: [(f64, [u8; 3]); 5] =
    [(0.0, [16, 20, 24]), (0.5, [44, 52, 91]), (1.0, [71, 85, 198]), (3.0, [198, 121, 195]), (6.0, [246, 187, 152])];

/// Three PNG files as data URIs: old, new, difference.
pub(super) struct Triple {
    pub(super) title: &'static str,
    /// What the rows are, from the top.
    pub(super) rows: &'static str,
    pub(super) size: [usize; 2],
    pub(super) images: [String; 3],
}

/// The scenes that a page shows for one picture.
pub(super) fn scenes(both: &Compared<'_>, frame: Option<&Frame>) -> Result<Vec<Scene>, Failure> {
    let Some(camera) = &both.camera else {
        return Ok(vec![slices()]);
    };
    let still = frame.map(|frame| Scene::frame(camera, frame));
    Ok(still.into_iter().chain([Scene::chart(camera, ROW, GAP)]).collect())
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
        rows: "",
        width,
        signals: (0..width * each).map(at).collect(),
    }
}

/// Draws a scene through both sides. An exact path is drawn by a cube of 33 points of it.
pub(super) fn draw(scene: &Scene, both: &Compared<'_>) -> Result<Triple, Failure> {
    let outputs = |map: &SignalMap<'_>| -> Result<Vec<[f64; 3]>, Failure> {
        let cube = match map {
            SignalMap::Exact(_) => Some(Cube::of(map, POINTS).map_err(Failure::refused)?),
            SignalMap::Table(_) => None,
        };
        let apply = |rgb: &[f64; 3]| match &cube {
            Some(cube) => cube.at(*rgb, Interpolation::Tetrahedral),
            None => map.transform(*rgb),
        };
        Ok(scene.signals.par_iter().map(apply).collect())
    };
    let (old, new) = (outputs(&both.old)?, outputs(&both.new)?);
    let difference = Difference::on(&both.display);
    let map: Vec<[f32; 3]> = old
        .par_iter()
        .zip(&new)
        .map(|(a, b)| if a == b { 0.0 } else { difference.between(difference.place(*a), difference.place(*b)) })
        .map(|d| colour(d / factor(difference.formula().name())))
        .collect();
    let screen = Screen::of(&both.display);
    let png = |pixels| picture::data_uri(pixels, scene.width, Format::Png);
    let seen = |signals: &[[f64; 3]]| png(signals.par_iter().map(|s| screen.show(*s)).collect());
    Ok(Triple {
        title: scene.title,
        rows: scene.rows,
        size: [scene.width, scene.height()],
        images: [seen(&old)?, seen(&new)?, png(map)?],
    })
}

/// A colour of the difference map, sRGB, for a difference by the scale.
pub(super) fn colour(difference: f64) -> [f32; 3] {
    let at = SCALE.iter().rposition(|(value, _)| *value <= difference).unwrap_or(0).min(SCALE.len() - 2);
    let ((low, from), (high, to)) = (SCALE[at], SCALE[at + 1]);
    let t = ((difference - low) / (high - low)).clamp(0.0, 1.0);
    std::array::from_fn(|c| ((f64::from(from[c]) * (1.0 - t) + f64::from(to[c]) * t) / 255.0) as f32)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rushlight::exposure::vision::Vision;
    use rushlight::transfer::{Transfer, srgb::Srgb};

    #[test]
    fn the_scale_rises_in_even_steps_to_every_eye() {
        for vision in Vision::ALL {
            let lightness = SCALE.map(|(_, rgb)| vision.place(rgb.map(|c| Srgb.decode(f64::from(c) / 255.0)))[0]);
            let steps: Vec<f64> = lightness.windows(2).map(|pair| pair[1] - pair[0]).collect();
            assert!(steps.iter().all(|step| (14.0..24.0).contains(step)), "{}: {steps:?}", vision.name());
        }
    }
}
