//! Scopes as drawings: the pixels of a picture by stops, by the display's signal, and by chromaticity. More ink is more pixels.

use super::svg::{Anchor, Canvas, Paint, Text};
use super::{Drawing, Unit, theme};
use crate::failure::Failure;
use crate::picture::data_uri;
use rushlight::display::Display;
use rushlight::frame::Format;
use rushlight::gamut::BT709;
use rushlight::math::{log10, pow};
use rushlight::nalgebra::Matrix3;
use rushlight::range::Range;
use rushlight::scope::{Bins, CHROMA_BINS, CHROMA_WIDTH, CODES, Counted, Plane, STOP_BINS, STOPS, display_nits};
use std::array::from_fn;

/// The plot, and the room around it, in pixels.
const PLOT: [f64; 2] = [290.0, 200.0];
const LEFT: f64 = 34.0;
const TOP: f64 = 8.0;
const RIGHT: f64 = 8.0;
const BOTTOM: f64 = 18.0;
/// Levels that stand beside a plot in nits.
const NITS: [f64; 15] =
    [0.01, 0.1, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 4000.0, 10000.0];
/// Light of the tint of a chromaticity: dark enough for a white ground.
const TINT: f64 = 0.62;
const SMALL: Text<'static> = Text { size: 9.5, ..theme::LABEL };
const LIMIT: &[f64] = &[4.0, 3.0];

/// A share of pixels as ink: 0.2 for a decade, so that few pixels are seen beside many.
fn ink(share: f64) -> f64 {
    if share > 0.0 { (1.0 + 0.2 * log10(share)).clamp(0.22, 1.0) } else { 0.0 }
}

fn rgb(colour: &str) -> [f64; 3] {
    let part = |at: usize| colour.get(at..at + 2).and_then(|hex| u8::from_str_radix(hex, 16).ok());
    [1, 3, 5].map(|at| f64::from(part(at).unwrap_or_default()) / 255.0)
}

/// Rows of a waveform as a picture, a pixel for each bin; what lies beyond them is in the outermost. `down`: pixels of the
/// picture from its top to its bottom.
fn waveform(bins: &Bins, [from, to]: [usize; 2], across: f64, down: f64) -> Result<String, Failure> {
    let inks = theme::CHANNELS.map(rgb);
    // Pixels that a column has.
    let high = down * across / bins.columns as f64;
    let last = bins.rows() - 1;
    let pixel = |row: usize, column: usize| {
        let rows = if row == from { 0 } else { row }..=if row + 1 == to { last } else { row };
        let mut sums = [0.0; 3];
        for bin in rows.map(|row| bins.counts[row * bins.columns + column]) {
            (0..3).for_each(|c| sums[c] += f64::from(bin[c]));
        }
        let covers: [f64; 3] = sums.map(|sum| ink(sum / high));
        // Ink over ink, so that much of one channel and little of another still differ.
        from_fn(|i| (0..3).map(|c| 1.0 - covers[c] * (1.0 - inks[c][i])).product::<f64>() as f32)
    };
    let rows = (from..to).rev();
    let pixels = rows.flat_map(|row| (0..bins.columns).map(move |column| (row, column))).map(|(r, c)| pixel(r, c));
    data_uri(pixels.collect(), bins.columns, Format::Png)
}

/// A plot in the making, with values from the bottom to the top.
struct Plot {
    canvas: Canvas,
    ends: [f64; 2],
}

impl Plot {
    fn new(said: &str, ends: [f64; 2], image: &str) -> Self {
        let mut canvas = Canvas::new(said, LEFT + PLOT[0] + RIGHT, TOP + PLOT[1] + BOTTOM, Unit::Px);
        canvas.image([LEFT, TOP], PLOT, image);
        Self { canvas, ends }
    }

    fn y(&self, value: f64) -> f64 {
        TOP + PLOT[1] * (1.0 - (value - self.ends[0]) / (self.ends[1] - self.ends[0]))
    }

    /// A line of the scale with what stands beside it.
    fn tick(&mut self, value: f64, label: &str, strong: bool) {
        let y = self.y(value);
        let colour = if strong { theme::GUIDE } else { theme::FRAME };
        let paint = Paint { opacity: Some(if strong { 0.8 } else { 0.4 }), ..Paint::stroke(colour, 0.7) };
        self.canvas.line([LEFT, y], [LEFT + PLOT[0], y], &paint);
        self.canvas.text([LEFT - 4.0, y + 3.2], label, &SMALL.anchor(Anchor::End));
    }

    /// A line that the picture must be read by.
    fn limit(&mut self, value: f64, label: &str, below: bool) {
        let y = self.y(value);
        let paint = Paint { dash: LIMIT, ..Paint::stroke(theme::INK, 1.0) };
        self.canvas.line([LEFT, y], [LEFT + PLOT[0], y], &paint);
        let set = SMALL.colour(theme::INK).anchor(Anchor::End);
        let (width, base) = (set.width_of(label), if below { y + 10.5 } else { y - 3.5 });
        let ground = Paint { opacity: Some(0.8), ..Paint::fill(theme::GROUND) };
        self.canvas.rect([LEFT + PLOT[0] - width - 5.0, base - 8.5], [width + 4.0, 11.0], &ground);
        self.canvas.text([LEFT + PLOT[0] - 3.0, base], label, &set);
    }

    fn finish(mut self, foot: &str) -> Drawing {
        self.canvas.rect([LEFT, TOP], PLOT, &Paint::stroke(theme::FRAME, 0.8));
        self.canvas.text([LEFT, TOP + PLOT[1] + 13.0], foot, &SMALL);
        self.canvas.finish()
    }
}

fn minus(text: String) -> String {
    text.replace('-', "\u{2212}")
}

/// The camera's channels in stops from mid-grey, with where it clips and its floor.
pub(crate) fn stops(counted: &Counted, floor: f64, clip: f64, said: &str) -> Result<Drawing, Failure> {
    // As many whole stops as show all that the camera has.
    let low = (floor.min(-6.0) - 1.0).floor().max(STOPS[0]);
    let high = (clip.max(4.0) + 1.0).ceil().min(STOPS[1]);
    let rows = [low, high].map(|stop| ((stop - STOPS[0]) * STOP_BINS as f64).round() as usize);
    let [across, down] = counted.size.map(|v| v as f64);
    let mut plot = Plot::new(said, [low, high], &waveform(&counted.stops, rows, across, down)?);
    for stop in low as i32..=high as i32 {
        let label = if stop % 2 == 0 { minus(format!("{stop:+}")) } else { String::new() };
        plot.tick(f64::from(stop), if stop == 0 { "0" } else { &label }, stop == 0);
    }
    plot.limit(clip, &format!("clip {clip:+.1}"), false);
    plot.limit(floor, &minus(format!("floor {floor:+.1}")), true);
    Ok(plot.finish("stops from mid-grey, over the width of the picture"))
}

/// The code of a grey of so many nits.
fn code_of(table: &[f32], wanted: f64) -> f64 {
    let high = table.iter().position(|nits| f64::from(*nits) >= wanted).unwrap_or(table.len() - 1);
    let Some(low) = high.checked_sub(1) else { return 0.0 };
    let [below, above] = [table[low], table[high]].map(f64::from);
    low as f64 + if above > below { ((wanted - below) / (above - below)).min(1.0) } else { 0.0 }
}

/// The display's channels: in nits of a grey where it is HDR, else in per cent of the signal.
pub(crate) fn display(counted: &Counted, display: &Display, said: &str) -> Result<Drawing, Failure> {
    let settings = display.settings();
    let [across, down] = counted.size.map(|v| v as f64);
    let rows = counted.display.rows();
    let image = waveform(&counted.display, [0, rows], across, down)?;
    let mut plot = Plot::new(said, [-0.5, (rows * CODES) as f64 - 0.5], &image);
    let [black, white] = [0.0, 1.0].map(|v| settings.range.code(settings.range.encode(v), 10));
    let hdr = settings.eotf.is_hdr();
    let table = display_nits(display);
    let mut levels: Vec<(f64, String)> = if hdr {
        let inside = NITS.into_iter().filter(|nits| *nits < 0.99 * settings.peak && *nits > f64::from(table[0]));
        inside
            .map(|nits| (code_of(&table, nits), nits.to_string()))
            .chain([(white, format!("{:.0}", settings.peak))])
            .collect()
    } else {
        (0..=5).map(|i| (black + f64::from(i) / 5.0 * (white - black), (20 * i).to_string())).collect()
    };
    // From the top down, as long as there is room.
    levels.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut free = f64::NEG_INFINITY;
    for (code, label) in levels {
        let y = plot.y(code);
        let fits = y - free >= 11.0;
        plot.tick(code, if fits { &label } else { "" }, false);
        free = if fits { y } else { free };
    }
    if settings.range == Range::Legal {
        plot.limit(white, &format!("legal {white:.0}"), true);
        plot.limit(black, &format!("legal {black:.0}"), false);
    }
    if hdr {
        let diffuse = settings.diffuse_white;
        plot.limit(code_of(&table, diffuse), &format!("diffuse white {diffuse:.0} nits"), true);
    }
    Ok(plot.finish(if hdr { "nits of a grey" } else { "% of the signal" }))
}

/// A colour of a chromaticity for an sRGB screen: it helps the eye to find its place, and is no measure.
fn tint(from: &Matrix3<f64>, u: f64, v: f64) -> [f64; 3] {
    let xyz = xyz_of(u, v);
    let rgb: [f64; 3] = from_fn(|i| (0..3).map(|j| from[(i, j)] * xyz[j]).sum::<f64>().max(0.0));
    let most = rgb.into_iter().fold(1e-9, f64::max);
    rgb.map(|c| TINT * (0.25 + 0.75 * pow(c / most, 1.0 / 2.2)))
}

/// XYZ of a chromaticity at a luminance of 1.
fn xyz_of(u: f64, v: f64) -> [f64; 3] {
    [9.0 * u / (4.0 * v), 1.0, (12.0 - 3.0 * u - 20.0 * v) / (4.0 * v)]
}

/// The chromaticity of the display's light, with the gamuts of display and camera, and skin.
pub(crate) fn chromaticity(counted: &Counted, plane: &Plane, said: &str) -> Result<Drawing, Failure> {
    let pixels = (counted.size[0] * counted.size[1]) as f64;
    let from = BT709.to_xyz().try_inverse().unwrap_or_default();
    let pixel = |row: usize, column: usize| {
        let cover = ink(100.0 * f64::from(counted.chroma.counts[row * CHROMA_BINS + column][0]) / pixels);
        let centre = |bin: usize| (bin as f64 + 0.5) * CHROMA_WIDTH;
        if cover == 0.0 {
            [1.0; 3]
        } else {
            tint(&from, centre(column), centre(row)).map(|c| (1.0 - cover * (1.0 - c)) as f32)
        }
    };
    let places = (0..CHROMA_BINS).rev().flat_map(|row| (0..CHROMA_BINS).map(move |column| (row, column)));
    let image = data_uri(places.map(|(row, column)| pixel(row, column)).collect(), CHROMA_BINS, Format::Png)?;
    let reach = CHROMA_BINS as f64 * CHROMA_WIDTH;
    let side = PLOT[1];
    let mut canvas = Canvas::new(said, LEFT + side + RIGHT, TOP + side + BOTTOM, Unit::Px);
    canvas.image([LEFT, TOP], [side; 2], &image);
    canvas.rect([LEFT, TOP], [side; 2], &Paint::stroke(theme::FRAME, 0.8));
    canvas.window([LEFT, TOP], [side; 2], |canvas| {
        let at = |[u, v]: [f64; 2]| [u / reach * side, side - v / reach * side];
        let ring = |canvas: &mut Canvas, corners: &mut dyn Iterator<Item = [f64; 2]>, paint: &Paint<'_>| {
            let mut line: Vec<[f64; 2]> = corners.map(at).collect();
            line.extend(line.first().copied());
            canvas.polyline(&line, paint);
        };
        ring(canvas, &mut plane.locus.iter().copied(), &Paint::stroke(theme::FRAME, 0.8));
        let camera = Paint { dash: &[2.0, 2.5], ..Paint::stroke(theme::QUIET, 1.0) };
        ring(canvas, &mut plane.camera.iter().copied().flatten(), &camera);
        ring(canvas, &mut plane.display.iter().copied().flatten(), &Paint::stroke(theme::INK, 1.0));
        let skin: Vec<[f64; 2]> = plane.skin.iter().copied().map(at).collect();
        canvas.polyline(&skin, &Paint::stroke(theme::GROUND, 3.2));
        canvas.polyline(&skin, &Paint::stroke(theme::SERIES[4], 1.8));
        let [x, y] = at(plane.white);
        canvas.line([x - 3.5, y], [x + 3.5, y], &Paint::stroke(theme::INK, 0.8));
        canvas.line([x, y - 3.5], [x, y + 3.5], &Paint::stroke(theme::INK, 0.8));
        let key = [
            ("display", Paint::stroke(theme::INK, 1.0)),
            ("camera", camera),
            ("skin", Paint::stroke(theme::SERIES[4], 1.8)),
        ];
        for (i, (name, paint)) in key.iter().enumerate() {
            let y = side - 34.0 + 12.0 * i as f64;
            canvas.line([side - 62.0, y], [side - 46.0, y], paint);
            canvas.text([side - 42.0, y + 3.2], name, &SMALL);
        }
    });
    for i in 0..=3 {
        let (label, part) = ((f64::from(2 * i) / 10.0).to_string(), f64::from(2 * i) / 10.0 / reach);
        canvas.text([LEFT + part * side, TOP + side + 13.0], &label, &SMALL.anchor(Anchor::Middle));
        canvas.text([LEFT - 4.0, TOP + side * (1.0 - part) + 3.2], &label, &SMALL.anchor(Anchor::End));
    }
    canvas.text([LEFT + 0.5 / reach * side, TOP + side + 13.0], "u\u{2032}", &SMALL.anchor(Anchor::Middle));
    canvas.text([LEFT - 4.0, TOP + side * (1.0 - 0.5 / reach) + 3.2], "v\u{2032}", &SMALL.anchor(Anchor::End));
    Ok(canvas.finish())
}
