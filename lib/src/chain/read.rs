//! The patches and the marks of a capture.

use super::depth::{Signal, depth};
use super::find::{Lost, Place, Plane, locate};
use super::layout::{Area, CORE, CORNERS, DOWN, patch};
use super::mark::{Mark, Number, read_bars, read_number};
use super::patches::{Kind, Patch, STOPS, patches};
use crate::frame::{Depth, Frame};

/// What was read of a patch.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// The patch.
    pub patch: Patch,
    /// Mean of its core in signal, red, green and blue.
    pub mean: [f64; 3],
    /// Standard deviation of the pixels, the largest of the three channels.
    pub deviation: f64,
    /// Some of its pixels beside each other, of a patch of one colour.
    pub pixels: Vec<[f32; 3]>,
}

/// How finely a capture carries colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Chroma {
    /// In every pixel.
    Full,
    /// In every second pixel of a row: 4:2:2.
    Half,
    /// In every second pixel of every second row: 4:2:0.
    Quarter,
}

impl Chroma {
    /// As people write it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Full => "4:4:4",
            Self::Half => "4:2:2",
            Self::Quarter => "4:2:0",
        }
    }
}

/// A capture, read.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Where the chart lies.
    pub place: Place,
    /// Pixels of the capture, across and down.
    pub size: [usize; 2],
    /// The picture is mirrored left to right, and upside down.
    pub flipped: [bool; 2],
    /// What the bar code says.
    pub mark: Option<Mark>,
    /// What the printed number says.
    pub number: Option<Number>,
    /// 1 where the capture is as sharp as the chart.
    pub sharpness: f64,
    /// Pixels of the capture to one of the chart, where the bar code says the chart's size.
    pub scale: Option<[f64; 2]>,
    /// The chart stands at an angle, by so many units.
    pub slant: f64,
    /// How much one grey differs over the picture, in signal.
    pub uneven: f64,
    /// Every patch; greys at stops are those of the bar code, or left out without it.
    pub patches: Vec<Measured>,
    /// Colour, where the scale is 1 and the pattern has contrast.
    pub chroma: Option<Chroma>,
    /// Bits of a sample of the capture; none for floats.
    pub bits: Option<u8>,
    /// Bits of the signal and dither, where its pixels take the codes of fewer bits than the capture has.
    pub signal: Option<Signal>,
}

impl Reading {
    /// The patches of one colour each, without repeats of a grey.
    pub fn flat(&self) -> impl Iterator<Item = &Measured> {
        self.patches.iter().filter(|m| m.patch.kind.is_flat() && m.patch.kind != Kind::Repeat)
    }
}

/// A unit that is off by more stands at an angle.
pub const SLANT: f64 = 0.6;

/// Reads a capture.
///
/// # Errors
/// The chart is not found, or cannot be read.
pub fn read(frame: &Frame) -> Result<Reading, Lost> {
    let plane = Plane::of(frame);
    let located = locate(&plane)?;
    let light = |place: &Place| {
        let [black, white] = ends(frame, place);
        let place = place.clone();
        move |area: Area| {
            let [r, g, b] = spot(frame, &place, area);
            (0.25 * r + 0.5 * g + 0.25 * b - black) / (white - black).max(1e-6)
        }
    };
    // The bars have an error correction and decide; a number alone may be misread from a mirrored chart.
    let mut held: Option<([bool; 2], Place, Option<_>, Option<_>)> = None;
    for (flipped, place) in located.place.ways() {
        let (mark, number) = (read_bars(light(&place)), read_number(light(&place)));
        let is_read = mark.is_some();
        if is_read || held.as_ref().is_none_or(|(.., before)| before.is_none() && number.is_some()) {
            held = Some((flipped, place, mark, number));
        }
        if is_read {
            break;
        }
    }
    let (flipped, place, mark, number) = held.ok_or(Lost::Corners)?;
    let stops = mark.as_ref().map(|m| m.stops);
    let mut measured: Vec<Measured> = patches(&stops.unwrap_or([0; STOPS]))
        .into_iter()
        .filter(|p| stops.is_some() || p.kind != Kind::Stop)
        .map(|p| core(frame, &place, p))
        .collect();
    let unit = place.unit();
    let scale = mark.as_ref().map(|m| [unit[0] * 192.0 / f64::from(m.size[0]), unit[1] * DOWN / f64::from(m.size[1])]);
    let chroma =
        scale.filter(|s| s.iter().all(|v| (v - 1.0).abs() < 2e-3)).and_then(|_| chroma(frame, &place, &measured));
    let uneven = uneven(&measured);
    let signal = depth(frame.info.depth, &measured);
    measured.retain(|m| m.mean.iter().all(|v| v.is_finite()));
    Ok(Reading {
        slant: place.slant(),
        size: [frame.width(), frame.height()],
        flipped,
        number,
        sharpness: located.sharpness,
        scale,
        uneven,
        patches: measured,
        chroma,
        signal,
        bits: match frame.info.depth {
            Depth::Integer(bits) => Some(bits),
            Depth::Half | Depth::Float => None,
        },
        mark,
        place,
    })
}

/// Brightness of the chart's black and white, by its marks.
fn ends(frame: &Frame, place: &Place) -> [f64; 2] {
    let mean = |areas: [Area; 4]| {
        let sum: f64 =
            areas.iter().map(|a| spot(frame, place, *a)).map(|[r, g, b]| 0.25 * r + 0.5 * g + 0.25 * b).sum();
        sum / 4.0
    };
    // The outer black ring and the white in the middle.
    let dark = CORNERS.map(|[x, y]| Area::new(x - 4.4, y - 1.0, 0.8, 2.0));
    let light = CORNERS.map(|[x, y]| Area::new(x - 0.5, y - 0.5, 1.0, 1.0));
    [mean(dark), mean(light)]
}

/// Pixels whose middles lie in an area, or the one at its middle where there are none.
pub(super) fn pixels(frame: &Frame, place: &Place, area: Area) -> [std::ops::Range<usize>; 2] {
    let corners = [[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0]]
        .map(|[u, v]| place.at([area.x + u * area.width, area.y + v * area.height]));
    let middle = place.at(area.middle());
    let span = |axis: usize, most: usize| {
        let low = corners.iter().map(|c| c[axis]).fold(f64::INFINITY, f64::min);
        let high = corners.iter().map(|c| c[axis]).fold(f64::NEG_INFINITY, f64::max);
        let (from, to) = ((low - 0.5).ceil().max(0.0) as usize, ((high - 0.5).floor() + 1.0).max(0.0) as usize);
        if from < to {
            from.min(most - 1)..to.clamp(1, most)
        } else {
            let at = (middle[axis].max(0.0) as usize).min(most - 1);
            at..at + 1
        }
    };
    [span(0, frame.width()), span(1, frame.height())]
}

/// The mean of an area.
fn spot(frame: &Frame, place: &Place, area: Area) -> [f64; 3] {
    let [across, down] = pixels(frame, place, area);
    let (mut sum, mut count) = ([0.0; 3], 0.0);
    for y in down {
        for x in across.clone() {
            let rgb = frame.rgb(x, y);
            (0..3).for_each(|c| sum[c] += f64::from(rgb[c]));
            count += 1.0;
        }
    }
    sum.map(|v| v / count)
}

/// Pixels of a patch that are read at most, across and down: more say no more.
const MOST: usize = 40;
/// Pixels of a patch that are kept, across and down.
const PIXELS: usize = 8;

/// The core of a patch: the mean without pixels that lie far from the others, such as those under a line of an overlay.
fn core(frame: &Frame, place: &Place, patch_: Patch) -> Measured {
    let area = patch(patch_.column, patch_.row).core(CORE);
    let [across, down] = pixels(frame, place, area);
    let some = down.clone().take(PIXELS).flat_map(|y| across.clone().take(PIXELS).map(move |x| frame.rgb(x, y)));
    let pixels = if patch_.kind.is_flat() { some.collect() } else { Vec::new() };
    let step = |span: &std::ops::Range<usize>| (span.len() / MOST).max(1);
    let (right, below) = (step(&across), step(&down));
    let mut channels: [Vec<f64>; 3] = Default::default();
    for y in down.step_by(below) {
        for x in across.clone().step_by(right) {
            let rgb = frame.rgb(x, y);
            (0..3).for_each(|c| channels[c].push(f64::from(rgb[c])));
        }
    }
    let mut deviation: f64 = 0.0;
    let mean = channels.map(|mut values| {
        let half = values.len() / 2;
        let middle = *values.select_nth_unstable_by(half, f64::total_cmp).1;
        let mut off: Vec<f64> = values.iter().map(|v| (v - middle).abs()).collect();
        let usual = *off.select_nth_unstable_by(half, f64::total_cmp).1;
        // Two codes beside each other, as dither has them, are no outliers.
        let most = 6.0 * usual + 0.02;
        values.retain(|v| (v - middle).abs() <= most);
        let n = values.len().max(1) as f64;
        let mean = values.iter().sum::<f64>() / n;
        let square = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / n;
        deviation = deviation.max(square.sqrt());
        mean
    });
    Measured { patch: patch_, mean, deviation, pixels }
}

/// How much the repeats of a grey differ, in signal.
fn uneven(measured: &[Measured]) -> f64 {
    let repeats = measured.iter().filter(|m| m.patch.kind == Kind::Repeat);
    let light = repeats.map(|m| (m.mean[0] + m.mean[1] + m.mean[2]) / 3.0);
    let (low, high) = light.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
    if high >= low { high - low } else { 0.0 }
}

/// What is left of single columns and rows of colour, against the flat patches of both colours.
fn chroma(frame: &Frame, place: &Place, measured: &[Measured]) -> Option<Chroma> {
    let of = |kind: Kind| measured.iter().find(|m| m.patch.kind == kind);
    let (columns, rows) = (of(Kind::Columns)?, of(Kind::Rows)?);
    let flat = |codes: [u16; 3]| {
        measured.iter().find(|m| m.patch.kind == Kind::Colour && m.patch.codes == codes).map(|m| m.mean[0] - m.mean[2])
    };
    let full = (flat(columns.patch.codes)? - flat(columns.patch.other)?).abs();
    if full < 0.05 {
        return None;
    }
    // Of red less blue, which luma does not carry: the swing of the pixels over that of the flat patches.
    let left = |p: &Patch| {
        let [across, down] = pixels(frame, place, patch(p.column, p.row).core(CORE));
        let at = |x: usize, y: usize| {
            let rgb = frame.rgb(x, y);
            f64::from(rgb[0]) - f64::from(rgb[2])
        };
        let values: Vec<f64> = down.flat_map(|y| across.clone().map(move |x| (x, y))).map(|(x, y)| at(x, y)).collect();
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let square = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / n;
        2.0 * square.sqrt() / full
    };
    match (left(&columns.patch) > 0.5, left(&rows.patch) > 0.5) {
        (true, true) => Some(Chroma::Full),
        (false, true) => Some(Chroma::Half),
        (false, false) => Some(Chroma::Quarter),
        (true, false) => None,
    }
}
