//! Compares two frames of one scene in two modes of a camera, in detail and colour.
//!
//! Detail is the power of luma by frequency, along rows and columns; each frame's is taken over its own at low frequencies, so
//! that another contrast of the curve does not count. Colour is luma's two differences, in signal, as means of squares of
//! eight pixels, so that noise does not count: the second frame's are fitted by a factor and a turn of the first's.

use super::Plane;
use super::codec::Source;
use super::spectrum::along_rows;
use crate::frame::Frame;
use crate::math::atan2;
use schemars::JsonSchema;
use serde::Serialize;
use std::f64::consts::PI;

/// Pixels along the edge of a square whose mean colour counts.
const SQUARE: usize = 8;
/// The fewest squares.
const FEWEST: usize = 16;
/// Colour differences below this, in signal (root mean square), are too grey to say anything.
const GREY: f64 = 0.005;

/// The second frame against the first.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Difference {
    /// Contrast of detail by frequency in cycles per pixel, over the first's: 1 is no difference. None for small frames.
    pub detail: Option<Vec<[f64; 2]>>,
    /// Colour, without a change of range; none where the scene has too little of it.
    pub colour: Option<Colour>,
}

/// Colour of the second frame against the first, in signal.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Colour {
    /// Its colour differences over the first's: more is more saturated.
    pub saturation: f64,
    /// By how much hues turn, degrees; above 0 from red towards yellow.
    pub hue_degrees: f64,
    /// What remains after both, over the first's colour differences, per cent (root mean square).
    pub left_percent: f64,
}

impl Difference {
    /// Mean contrast of detail from a quarter of a cycle a pixel to half of one, over the first's.
    pub fn fine(&self) -> Option<f64> {
        let part: Vec<f64> = self.detail.as_ref()?.iter().filter(|p| p[0] >= 0.25).map(|p| p[1]).collect();
        Some(part.iter().sum::<f64>() / part.len().max(1) as f64)
    }
}

/// Compares two frames of one size. `width` is that of the second's range over the first's, such as 876 / 1023 for one
/// that is squeezed: colour counts without it.
pub fn difference(first: &Frame, second: &Frame, sources: [Source; 2], width: f64) -> Difference {
    // Both use one matrix, so that the matrix itself makes no difference.
    let source = sources[0];
    let without_range =
        |c: Colour| Colour { saturation: c.saturation / width, left_percent: c.left_percent / width, ..c };
    let colour = colour(first, second, source).map(without_range);
    Difference { detail: detail(&source.luma(first), &source.luma(second)), colour }
}

fn detail(first: &Plane, second: &Plane) -> Option<Vec<[f64; 2]>> {
    let of = |p: &Plane| -> Option<Vec<f64>> {
        let (rows, columns) = (along_rows(p)?, along_rows(&p.turned())?);
        Some(rows.iter().zip(&columns).map(|(a, b)| a + b).collect())
    };
    let (a, b) = (of(first)?, of(second)?);
    let contrast = |k: usize| (b[k] / a[k].max(f64::MIN_POSITIVE)).sqrt();
    let low = (contrast(0) + contrast(1)) / 2.0;
    (low > 0.0 && low.is_finite())
        .then(|| (0..a.len()).map(|k| [(k + 1) as f64 / (2 * a.len()) as f64, contrast(k) / low]).collect())
}

fn colour(first: &Frame, second: &Frame, source: Source) -> Option<Colour> {
    let (width, height) = (first.width() / SQUARE, first.height() / SQUARE);
    let [red, _, blue] = source.weights();
    let top = |f: &Frame| f.pixels().flatten().map(f64::from).fold(f64::MIN, f64::max);
    let tops = [top(first), top(second)];
    // The mean colour differences of a square; none where it clips.
    let square = |frame: &Frame, top: f64, at: usize| -> Option<[f64; 2]> {
        let (left, upper) = (at % width * SQUARE, at / width * SQUARE);
        let mut sum = [0.0; 3];
        for i in 0..SQUARE * SQUARE {
            let rgb = frame.rgb(left + i % SQUARE, upper + i / SQUARE).map(f64::from);
            if rgb.iter().any(|v| *v > 0.98 * top) {
                return None;
            }
            sum = std::array::from_fn(|c| sum[c] + rgb[c] / (SQUARE * SQUARE) as f64);
        }
        let luma = red * sum[0] + (1.0 - red - blue) * sum[1] + blue * sum[2];
        Some([(sum[2] - luma) / (2.0 * (1.0 - blue)), (sum[0] - luma) / (2.0 * (1.0 - red))])
    };
    let pairs: Vec<[[f64; 2]; 2]> = (0..width * height)
        .filter_map(|at| Some([square(first, tops[0], at)?, square(second, tops[1], at)?]))
        .collect();
    if pairs.len() < FEWEST {
        return None;
    }
    let n = pairs.len() as f64;
    let mean: [[f64; 2]; 2] =
        std::array::from_fn(|k| std::array::from_fn(|j| pairs.iter().map(|p| p[k][j]).sum::<f64>() / n));
    // As complex numbers: second = factor times first, least squares.
    let (mut real, mut imaginary, mut square_of_first) = (0.0, 0.0, 0.0);
    let centred = |p: &[[f64; 2]; 2], k: usize| [p[k][0] - mean[k][0], p[k][1] - mean[k][1]];
    for p in &pairs {
        let ([a, b], [c, d]) = (centred(p, 0), centred(p, 1));
        (real, imaginary) = (real + a * c + b * d, imaginary + a * d - b * c);
        square_of_first += a * a + b * b;
    }
    if (square_of_first / n).sqrt() < GREY {
        return None;
    }
    let (real, imaginary) = (real / square_of_first, imaginary / square_of_first);
    let left: f64 = pairs
        .iter()
        .map(|p| {
            let ([a, b], [c, d]) = (centred(p, 0), centred(p, 1));
            let (x, y) = (c - (real * a - imaginary * b), d - (imaginary * a + real * b));
            x * x + y * y
        })
        .sum();
    Some(Colour {
        saturation: (real * real + imaginary * imaginary).sqrt(),
        // Blue difference to the right, red difference up: red lies up, yellow left, so a turn to the left goes from red to yellow.
        hue_degrees: atan2(imaginary, real) * 180.0 / PI,
        left_percent: 100.0 * (left / square_of_first).sqrt(),
    })
}
