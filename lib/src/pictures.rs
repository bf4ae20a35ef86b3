//! Compares two pictures of one display's signal: the difference of each pixel as the eye sees it.

use crate::compare::report::Verdict;
use crate::difference::quick::Quick;
use crate::difference::{Difference, Statistics};
use crate::display::Display;
use crate::frame::Frame;
use crate::invalid::Invalid;
use crate::limit::Limit;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;

/// The version of the report's shape.
pub const SCHEMA: u32 = 1;

/// Pixels that one thread takes at a time.
const BLOCK: usize = 4096;
/// Pixels from which on places are taken from tables.
const QUICK: usize = 1 << 16;
/// A difference that a careful eye just sees side by side.
pub const SEEN: f64 = 1.0;
/// Codes of 10 bits, in which signals are compared as numbers.
const CODES: f64 = 1023.0;

/// The report of `diff` on two pictures.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "Rushlight diff of two pictures")]
pub struct Report {
    /// The version of its shape.
    pub schema: u32,
    /// The file of the older picture.
    pub old: String,
    /// The file of the newer picture.
    pub new: String,
    /// The verdict.
    pub verdict: Verdict,
    /// The display whose signal both pictures are, and the reason for taking it, in words.
    pub display: String,
    /// Limits that are exceeded, in words.
    pub limits_exceeded: Vec<String>,
    /// The differences of the two pictures.
    pub pictures: Figures,
}

impl Report {
    /// Makes the report of two files, from their figures and the limits on these: `mean`, `p95`, `max`.
    pub fn new([old, new]: [String; 2], display: String, pictures: Figures, limits: &[Limit]) -> Self {
        let figure = |limit: &Limit| match limit.figure.as_str() {
            "mean" => pictures.mean,
            "p95" => pictures.p95,
            _ => pictures.max,
        };
        let exceeded = limits.iter().filter(|limit| limit.is_broken_by(figure(limit)));
        let limits_exceeded: Vec<String> =
            exceeded.map(|limit| format!("{} is {:.2}, and {limit} is allowed", limit.figure, figure(limit))).collect();
        let verdict = match (pictures.identical, limits.is_empty(), limits_exceeded.is_empty()) {
            (true, ..) => Verdict::Identical,
            (_, true, _) if pictures.seen_percent == 0.0 => Verdict::Alike,
            (_, true, _) => Verdict::Different,
            (.., true) => Verdict::Within,
            (.., false) => Verdict::Beyond,
        };
        Self { schema: SCHEMA, old, new, verdict, display, limits_exceeded, pictures }
    }
}

/// The JSON Schema of the report.
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(Report).to_value()
}

/// The differences of two pictures.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Figures {
    /// Pixels across and down.
    pub size: [usize; 2],
    /// `ciede2000`, or `delta-e-itp` for PQ and HLG.
    pub difference: &'static str,
    /// Whether every sample is the same.
    pub identical: bool,
    /// The mean over all pixels.
    pub mean: f64,
    /// The difference that 95 of 100 pixels do not exceed.
    pub p95: f64,
    /// The difference that 99 of 100 pixels do not exceed.
    pub p99: f64,
    /// The largest.
    pub max: f64,
    /// Of 100 pixels, those above 1, which a careful eye just sees.
    pub seen_percent: f64,
    /// The first pixel with the largest difference: from the left, from the top, from 0.
    pub worst_at: [usize; 2],
    /// Signal of the older picture there, 0 to 1.
    pub worst_old: [f64; 3],
    /// Signal of the newer picture there, 0 to 1.
    pub worst_new: [f64; 3],
    /// Mean of new less old over all pixels in 10-bit codes: red, green, blue.
    pub shift_codes_10: [f64; 3],
    /// Largest difference of a sample, in 10-bit codes.
    pub max_codes_10: f64,
}

/// The figures of two pictures, and the difference of each pixel, row by row from the top.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    /// The figures.
    pub figures: Figures,
    /// Each difference.
    pub each: Vec<f64>,
}

/// Compares two pictures that hold the signal of `display`: CIEDE2000, or Delta E ITP for PQ and HLG. Alpha is not
/// compared.
///
/// # Errors
/// Pictures of different sizes, under `size`; samples that are no numbers, under `samples`.
pub fn compare(old: &Frame, new: &Frame, display: &Display) -> Result<Compared, Invalid> {
    let sizes = [old, new].map(|frame| [frame.width(), frame.height()]);
    let [[width, height], [other_width, other_height]] = sizes;
    if sizes[0] != sizes[1] {
        let message =
            format!("{width} x {height} pixels against {other_width} x {other_height}: they must be of one size");
        return Err(Invalid::new("size", message));
    }
    let signals = |frame: &Frame| frame.pixels().map(|rgb| rgb.map(f64::from)).collect::<Vec<_>>();
    let (a, b) = (signals(old), signals(new));
    if let Some(at) = a.iter().zip(&b).position(|(a, b)| a.iter().chain(b).any(|v| !v.is_finite())) {
        return Err(Invalid::new("samples", format!("the pixel at {}, {} is no number", at % width, at / width)));
    }
    let difference = Difference::on(display);
    let quick = if a.len() < QUICK { None } else { Quick::new(&difference) };
    let place = |signal| quick.as_ref().map_or_else(|| difference.place(signal), |quick| quick.place(signal));
    let mut each = vec![0.0; a.len()];
    each.par_chunks_mut(BLOCK).zip(a.par_chunks(BLOCK).zip(b.par_chunks(BLOCK))).for_each(|(each, (a, b))| {
        for ((one, a), b) in each.iter_mut().zip(a).zip(b) {
            // Equal signals are no distance apart, whatever their colour.
            if a != b {
                *one = difference.between(place(*a), place(*b));
            }
        }
    });
    let Statistics { mean, p95, p99, max, worst, count } = Statistics::of(&each);
    let mut shift = [0.0; 3];
    let mut largest = 0.0f64;
    for (a, b) in a.iter().zip(&b) {
        for c in 0..3 {
            shift[c] += b[c] - a[c];
            largest = largest.max((b[c] - a[c]).abs());
        }
    }
    let figures = Figures {
        size: [width, height],
        difference: difference.formula().name(),
        identical: a == b,
        mean,
        p95,
        p99,
        max,
        seen_percent: 100.0 * Statistics::over(&each, SEEN) as f64 / count.max(1) as f64,
        worst_at: [worst % width, worst / width],
        worst_old: a[worst],
        worst_new: b[worst],
        shift_codes_10: shift.map(|sum| CODES * sum / count.max(1) as f64),
        max_codes_10: CODES * largest,
    };
    Ok(Compared { figures, each })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::display::{Display, standard};
    use crate::frame::{Depth, Format, Info};

    fn frame(width: usize, samples: Vec<f32>) -> Frame {
        let height = samples.len() / 3 / width;
        Frame::new(width, height, false, samples, Info::new(Format::Png, Depth::Integer(16))).unwrap()
    }

    #[test]
    fn figures_are_those_of_the_pixels() {
        let display = Display::of(standard("bt709").unwrap());
        let old = frame(2, vec![0.5; 12]);
        let mut samples = vec![0.5; 12];
        samples[9] = 0.6;
        let new = frame(2, samples);
        let Compared { figures, each } = compare(&old, &new, &display).unwrap();
        let difference = Difference::on(&display);
        let far = f64::from(0.6f32);
        let want = difference.between(difference.place([0.5; 3]), difference.place([far, 0.5, 0.5]));
        assert_eq!(each, [0.0, 0.0, 0.0, want]);
        assert_eq!(
            (figures.max, figures.mean, figures.worst_at, figures.seen_percent),
            (want, want / 4.0, [1, 1], 25.0)
        );
        assert_eq!((figures.worst_old, figures.worst_new), ([0.5; 3], [far, 0.5, 0.5]));
        assert!(
            (figures.shift_codes_10[0] - 1023.0 * (far - 0.5) / 4.0).abs() < 1e-9 && figures.shift_codes_10[1] == 0.0
        );
        assert!(!figures.identical && compare(&old, &old, &display).unwrap().figures.identical);
        let hdr = Display::of(standard("bt2100-pq").unwrap());
        assert_eq!(compare(&old, &new, &hdr).unwrap().figures.difference, "delta-e-itp");
        assert_eq!(compare(&old, &frame(1, vec![0.5; 12]), &display).unwrap_err().key, "size");
        assert_eq!(compare(&old, &frame(2, vec![f32::NAN; 12]), &display).unwrap_err().key, "samples");
    }

    /// Large pictures take places from tables: the same to a hundred-thousandth.
    #[test]
    fn large_pictures_are_measured_as_small_ones() {
        let display = Display::of(standard("bt2020").unwrap());
        let count = QUICK;
        let ramp = |by: f32| (0..count * 3).map(|i| (i % 1000) as f32 / 1000.0 * by).collect::<Vec<f32>>();
        let (old, new) = (ramp(1.0), ramp(0.98));
        let large = compare(&frame(256, old.clone()), &frame(256, new.clone()), &display).unwrap();
        let small = compare(&frame(100, old[..3000].to_vec()), &frame(100, new[..3000].to_vec()), &display).unwrap();
        let off = large.each.iter().zip(&small.each).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        assert!(off < 2e-5, "{off}");
    }

    #[test]
    fn a_verdict_follows_from_the_limits() {
        let display = Display::of(standard("bt709").unwrap());
        let (old, new) = (frame(1, vec![0.5; 3]), frame(1, vec![0.6; 3]));
        let verdict = |new: &Frame, limits: &[&str]| {
            let figures = compare(&old, new, &display).unwrap().figures;
            let limits: Vec<Limit> =
                limits.iter().map(|text| Limit::parse(text, &["whole"], &["mean", "p95", "max"]).unwrap()).collect();
            let report = Report::new(["a.png".to_owned(), "b.png".to_owned()], "bt709".to_owned(), figures, &limits);
            (report.verdict, report.limits_exceeded)
        };
        assert_eq!(verdict(&new, &[]), (Verdict::Different, Vec::new()));
        let close = frame(1, vec![0.501; 3]);
        assert_eq!(verdict(&close, &[]).0, Verdict::Alike);
        assert!(Verdict::Alike.passes() && !verdict(&close, &["max=0"]).0.passes());
        assert_eq!(verdict(&new, &["max=50", "mean=50"]), (Verdict::Within, Vec::new()));
        let (found, why) = verdict(&new, &["max=50", "p95=0.5"]);
        assert!(found == Verdict::Beyond && why.len() == 1 && why[0].contains("p95=0.5 is allowed"), "{why:?}");
        assert_eq!(verdict(&old, &["max=0"]), (Verdict::Identical, Vec::new()));
    }
}
