//! Scopes: how many pixels of a picture lie at each stop, at each code of a display, and at each chromaticity.
//!
//! | scope | across | up |
//! | --- | --- | --- |
//! | stops | the width of the picture, in [`COLUMNS`] | stops from mid-grey of each camera channel, [`STOP_BINS`] to a stop |
//! | display | the same | 10-bit code of each display channel, [`CODES`] to a bin |
//! | chromaticity | CIE 1976 u′ from 0, [`CHROMA_WIDTH`] to a bin | v′ alike |
//!
//! Stops are of the camera's own channels, before any look: what is left over a face up to the clip is their distance.

mod plane;

pub use plane::Plane;

use crate::camera::Camera;
use crate::display::Display;
use crate::math::log2;
use crate::transfer::MID_GREY;
use crate::transform::ColourTransform;
use rayon::prelude::*;

/// Codes of a camera's channel in a picture of 16 bits.
pub const CAMERA_CODES: usize = 1 << 16;
/// Codes of a display's channel of 10 bits.
pub const DISPLAY_CODES: usize = 1 << 10;
/// The ends of the scale of stops. What lies beyond is in the outermost bins.
pub const STOPS: [f64; 2] = [-12.0, 12.0];
/// Bins of a stop.
pub const STOP_BINS: usize = 12;
/// Bins across a waveform; fewer of a picture that is narrower.
pub const COLUMNS: usize = 256;
/// Codes of a display's channel that a bin holds.
pub const CODES: usize = 4;
/// Bins of u′ and of v′.
pub const CHROMA_BINS: usize = 256;
/// Width of a bin of u′ and v′.
pub const CHROMA_WIDTH: f64 = 0.0025;

/// Stops of a code that holds no light: under every scale.
const NO_LIGHT: f32 = -99.0;
/// The value of the curve beside which the light of the others is stated; any that is neither black nor clipped.
const BESIDE: f64 = 0.5;

/// Light of every 16-bit code of a camera's channel at an exposure index, in its own colours; mid-grey is 0.18.
pub fn camera_light(camera: &Camera, ei: Option<f64>) -> Vec<f64> {
    let curve = ei.map_or_else(|| camera.shared_curve(), |ei| camera.shared_curve_at(ei));
    let range = camera.range();
    (0..CAMERA_CODES).map(|code| curve.decode(range.decode(code as f64 / (CAMERA_CODES - 1) as f64))).collect()
}

/// Stops from mid-grey of light, in the precision of the scales; far under them where there is none.
pub fn stops(light: f64) -> f32 {
    if light > 0.0 { log2(light / MID_GREY) as f32 } else { NO_LIGHT }
}

fn signal(code: usize) -> f64 {
    code as f64 / (DISPLAY_CODES - 1) as f64
}

/// Light of every 10-bit code of a display's channel beside another channel that stays: what all channels of a pixel have in
/// common, as the system gamma of HLG is, drops out.
pub fn display_light(display: &Display) -> Vec<f32> {
    let beside = display.settings().range.encode(BESIDE);
    let light = |code| {
        let light = display.decode([signal(code), beside, beside]).0;
        (light[0] / light[1]).max(0.0) as f32
    };
    (0..DISPLAY_CODES).map(light).collect()
}

/// Nits of the grey of every 10-bit code of a display.
pub fn display_nits(display: &Display) -> Vec<f32> {
    (0..DISPLAY_CODES).map(|code| display.nits([signal(code); 3]) as f32).collect()
}

/// Pixels in bins: row by row from the lowest up, red, green and blue of each.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bins {
    /// Bins across.
    pub columns: usize,
    /// Pixels of each bin.
    pub counts: Vec<[u32; 3]>,
}

impl Bins {
    fn new(columns: usize, rows: usize) -> Self {
        Self { columns, counts: vec![[0; 3]; columns * rows] }
    }

    /// Bins up.
    pub fn rows(&self) -> usize {
        self.counts.len() / self.columns
    }

    /// Pixels of each row over all columns, channel by channel.
    pub fn sums(&self) -> Vec<[u64; 3]> {
        let sum = |row: &[[u32; 3]]| std::array::from_fn(|c| row.iter().map(|bin| u64::from(bin[c])).sum());
        self.counts.chunks(self.columns).map(sum).collect()
    }
}

/// What was counted of a picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Counted {
    /// Pixels across and down.
    pub size: [usize; 2],
    /// Waveform of the camera's channels in stops.
    pub stops: Bins,
    /// Waveform of the display's channels in codes.
    pub display: Bins,
    /// Chromaticity of the display's light: the first of each three counts; the others stay at 0.
    pub chroma: Bins,
}

/// What a picture is counted by.
#[derive(Debug, Clone)]
pub struct Scales {
    rows: Vec<u16>,
    light: Vec<f32>,
    to_xyz: [[f64; 3]; 3],
}

impl Scales {
    /// Those of a camera at an exposure index and of a display.
    pub fn of(camera: &Camera, ei: Option<f64>, display: &Display) -> Self {
        let to_xyz = display.gamut().to_xyz();
        Self {
            rows: camera_light(camera, ei).into_iter().map(|light| row(stops(light))).collect(),
            light: display_light(display),
            to_xyz: std::array::from_fn(|i| std::array::from_fn(|j| to_xyz[(i, j)])),
        }
    }

    /// Counts the pixels of a picture that is `across` wide: signals of the camera, rounded to 16 bits, row by row from the top.
    /// `path` leads from a signal to that of the display.
    pub fn count(&self, across: usize, signals: &[[f64; 3]], path: &impl ColourTransform) -> Counted {
        let across = across.max(1);
        let columns = COLUMNS.min(across);
        let most = (CAMERA_CODES - 1) as f64;
        let round = |v: f64, most: f64| (v.clamp(0.0, 1.0) * most).round() as usize;
        let pixel = |signal: &[f64; 3]| {
            let codes = signal.map(|v| round(v, most));
            let shown = path.transform(codes.map(|code| code as f64 / most));
            (codes, shown.map(|v| round(v, (DISPLAY_CODES - 1) as f64)))
        };
        let pixels: Vec<_> = signals.par_iter().map(pixel).collect();
        let mut stops = Bins::new(columns, (STOPS[1] - STOPS[0]) as usize * STOP_BINS);
        let mut display = Bins::new(columns, DISPLAY_CODES / CODES);
        let mut chroma = Bins::new(CHROMA_BINS, CHROMA_BINS);
        for (i, (codes, shown)) in pixels.into_iter().enumerate() {
            let column = i % across * columns / across;
            for c in 0..3 {
                stops.counts[usize::from(self.rows[codes[c]]) * columns + column][c] += 1;
                display.counts[shown[c] / CODES * columns + column][c] += 1;
            }
            if let Some([u, v]) = self.place(shown) {
                chroma.counts[v * CHROMA_BINS + u][0] += 1;
            }
        }
        Counted { size: [across, signals.len() / across], stops, display, chroma }
    }

    /// The bin of u′ and v′ of a display's codes; none of what has no light, and of what lies outside.
    fn place(&self, codes: [usize; 3]) -> Option<[usize; 2]> {
        let light = codes.map(|code| f64::from(self.light[code]));
        let [x, y, z] = self.to_xyz.map(|row| (0..3).map(|i| row[i] * light[i]).sum::<f64>());
        let sum = x + 15.0 * y + 3.0 * z;
        if sum <= 0.0 {
            return None;
        }
        let bins = [4.0 * x / sum / CHROMA_WIDTH, 9.0 * y / sum / CHROMA_WIDTH].map(f64::floor);
        bins.iter().all(|bin| (0.0..CHROMA_BINS as f64).contains(bin)).then(|| bins.map(|bin| bin as usize))
    }
}

/// The bin of stops.
fn row(stops: f32) -> u16 {
    let most = (STOPS[1] - STOPS[0]) * STOP_BINS as f64 - 1.0;
    ((f64::from(stops) - STOPS[0]) * STOP_BINS as f64).floor().clamp(0.0, most) as u16
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::display;

    /// The light of HLG beside another code is its inverse OETF's, whatever the system gamma does to both.
    #[test]
    fn light_of_hlg_is_without_its_system_gamma() {
        let hlg = Display::of(display::standard("bt2100-hlg").expect("a standard"));
        let table = display_light(&hlg);
        // ITU-R BT.2100-2, table 5: below a signal of 0.5, light is the square of the signal over three.
        let [low, high] = [256, 511].map(|code| f64::from(table[code]));
        let wanted = (256.0_f64 / 511.0) * (256.0 / 511.0);
        assert!((low / high - wanted).abs() < 1e-5, "{low} {high} {wanted}");
    }

    #[test]
    fn what_lies_beyond_the_scale_is_in_its_outermost_bins() {
        assert_eq!([NO_LIGHT, -12.0, -11.9, 0.0, 11.99, 40.0].map(row), [0, 0, 1, 144, 287, 287]);
    }
}
