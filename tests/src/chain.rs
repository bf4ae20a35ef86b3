//! Chains whose truth is known: a chart through faults drawn by seed, and through what a capture does to every picture.
//!
//! The arithmetic is written again, apart from the library's: codes where it has ratios, luma and colour difference where it
//! has matrices, its own way between the nodes of a cube. What the two share is only how a fault is called.

use crate::sensor::Draw;
use rushlight::chain::draw::{chart, stops};
use rushlight::chain::mark::Mark;
use rushlight::chain::model::{Change, Fault, Form, Levels, Loaded, Matrix, Rounding, Tag};
use rushlight::cube::Cube;
use rushlight::frame::{Depth, Format, Frame, Info};
use rushlight::math::pow;
use rushlight::show::Show;
use std::collections::HashMap;

type Rgb = [f64; 3];

/// How a simulated box reads a cube.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// By the tetrahedra of a cell.
    Tetrahedra,
    /// By all eight corners.
    Corners,
    /// The nearest node.
    Nearest,
}

/// A chain.
#[derive(Debug, Clone)]
pub struct Truth {
    /// What is wrong with it.
    pub faults: Vec<Fault>,
    /// How it reads the cube.
    pub way: Way,
    /// What the capture does.
    pub capture: Capture,
}

/// What a capture does to a picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Capture {
    /// Bits of a sample.
    pub bits: u8,
    /// Luma and colour difference of legal range, colour in every second pixel of every second row.
    pub quarter: bool,
    /// Standard deviation of the noise, in signal.
    pub noise: f64,
    /// Pixels that are cut off at the left and the top; below zero, so many black ones are added.
    pub shift: [i32; 2],
    /// Pixels over which each is averaged, across and down.
    pub blur: usize,
}

/// The value of a cube over 0..1 at a signal, nodes of `step` taken.
pub fn at(cube: &Cube, step: usize, way: Way, rgb: Rgb) -> Rgb {
    let n = (cube.size() - 1) / step;
    let place = rgb.map(|v| v.clamp(0.0, 1.0) * n as f64);
    let node = |r: usize, g: usize, b: usize| cube.node(r * step, g * step, b * step);
    if way == Way::Nearest {
        let [r, g, b] = place.map(|v| (v + 0.5).floor() as usize);
        return node(r.min(n), g.min(n), b.min(n));
    }
    let low = place.map(|v| (v as usize).min(n - 1));
    let f: Rgb = std::array::from_fn(|c| place[c] - low[c] as f64);
    let corner = |bits: [usize; 3]| node(low[0] + bits[0], low[1] + bits[1], low[2] + bits[2]);
    let mut sum = [0.0; 3];
    let mut add = |weight: f64, value: Rgb| (0..3).for_each(|c| sum[c] += weight * value[c]);
    if way == Way::Corners {
        for r in 0..2 {
            for g in 0..2 {
                for b in 0..2 {
                    let share = |bit: usize, f: f64| if bit == 1 { f } else { 1.0 - f };
                    add(share(r, f[0]) * share(g, f[1]) * share(b, f[2]), corner([r, g, b]));
                }
            }
        }
        return sum;
    }
    // The six tetrahedra by the order of the fractions, written out.
    let [r, g, b] = f;
    let (first, second): ([usize; 3], [usize; 3]) = if r >= g && g >= b {
        ([1, 0, 0], [1, 1, 0])
    } else if r >= b && b >= g {
        ([1, 0, 0], [1, 0, 1])
    } else if b >= r && r >= g {
        ([0, 0, 1], [1, 0, 1])
    } else if g >= r && r >= b {
        ([0, 1, 0], [1, 1, 0])
    } else if g >= b && b >= r {
        ([0, 1, 0], [0, 1, 1])
    } else {
        ([0, 0, 1], [0, 1, 1])
    };
    let mut sorted = [r, g, b];
    sorted.sort_by(f64::total_cmp);
    let [least, middle, most] = sorted;
    add(1.0 - most, corner([0, 0, 0]));
    add(most - middle, corner(first));
    add(middle - least, corner(second));
    add(least, corner([1, 1, 1]));
    sum
}

fn weights(matrix: Matrix) -> Rgb {
    match matrix {
        Matrix::Bt601 => [0.299, 0.587, 0.114],
        Matrix::Bt709 => [0.2126, 0.7152, 0.0722],
        Matrix::Bt2020 => [0.2627, 0.6780, 0.0593],
    }
}

/// Luma and both colour differences.
fn differences(matrix: Matrix, [r, g, b]: Rgb) -> Rgb {
    let [kr, kg, kb] = weights(matrix);
    let y = kr * r + kg * g + kb * b;
    [y, (b - y) / (2.0 - 2.0 * kb), (r - y) / (2.0 - 2.0 * kr)]
}

fn colours(matrix: Matrix, [y, cb, cr]: Rgb) -> Rgb {
    let [kr, kg, kb] = weights(matrix);
    let (r, b) = (y + (2.0 - 2.0 * kr) * cr, y + (2.0 - 2.0 * kb) * cb);
    [r, (y - kr * r - kb * b) / kg, b]
}

fn light(tag: Tag, v: f64) -> f64 {
    match tag {
        Tag::Gamma196 => pow(v, 1.96),
        Tag::Gamma22 => pow(v, 2.2),
        Tag::Gamma24 => pow(v, 2.4),
        Tag::Srgb if v <= 0.04045 => v / 12.92,
        Tag::Srgb => pow((v + 0.055) / 1.055, 2.4),
    }
}

fn signal(tag: Tag, v: f64) -> f64 {
    match tag {
        Tag::Gamma196 => pow(v, 1.0 / 1.96),
        Tag::Gamma22 => pow(v, 1.0 / 2.2),
        Tag::Gamma24 => pow(v, 1.0 / 2.4),
        Tag::Srgb if v <= 0.0031308 => v * 12.92,
        Tag::Srgb => 1.055 * pow(v, 1.0 / 2.4) - 0.055,
    }
}

fn changed(change: Change, rgb: Rgb) -> Rgb {
    let codes = rgb.map(|v| 1023.0 * v);
    let out = match change {
        Change::Levels(levels, Form::Luma) => {
            let squeeze = |[y, b, r]: Rgb| [(64.0 + 876.0 * y) / 1023.0, b * 896.0 / 1023.0, r * 896.0 / 1023.0];
            let stretch = |[y, b, r]: Rgb| [(1023.0 * y - 64.0) / 876.0, b * 1023.0 / 896.0, r * 1023.0 / 896.0];
            let of = |change: &dyn Fn(Rgb) -> Rgb, rgb: Rgb| {
                colours(Matrix::Bt709, change(differences(Matrix::Bt709, rgb))).map(|v| v.clamp(0.0, 1.0))
            };
            match levels {
                Levels::Squeezed => of(&squeeze, rgb),
                Levels::Stretched => of(&stretch, rgb),
                Levels::SqueezedTwice => of(&squeeze, of(&squeeze, rgb)),
                Levels::StretchedTwice => of(&stretch, of(&stretch, rgb)),
            }
        }
        Change::Levels(levels, Form::Rgb) => {
            let squeeze = |c: f64| 64.0 + c * 876.0 / 1023.0;
            let stretch = |c: f64| ((c - 64.0) * 1023.0 / 876.0).clamp(0.0, 1023.0);
            codes
                .map(|c| match levels {
                    Levels::Squeezed => squeeze(c),
                    Levels::Stretched => stretch(c),
                    Levels::SqueezedTwice => squeeze(squeeze(c)),
                    Levels::StretchedTwice => stretch(stretch(c)),
                })
                .map(|c| c / 1023.0)
        }
        Change::Matrix(made, read) => colours(read, differences(made, rgb)),
        Change::Order([r, g, b]) => [rgb[r], rgb[g], rgb[b]],
        Change::Tag(made, sent) => rgb.map(|v| signal(sent, light(made, v))),
        Change::Clamp => codes.map(|c| c.clamp(64.0, 940.0) / 1023.0),
        Change::Saturation(amount) => {
            let [y, cb, cr] = differences(Matrix::Bt709, rgb);
            colours(Matrix::Bt709, [y, amount * cb, amount * cr])
        }
        Change::Gain(gain) => rgb.map(|v| gain * v),
        Change::Lift(lift) => rgb.map(|v| lift + v),
        Change::Eight(Rounding::Nearest) => rgb.map(|v| (255.0 * v + 0.5).floor() / 255.0),
        Change::Eight(Rounding::Dithered) => rgb,
        Change::Eight(Rounding::Cut) => codes.map(|c| f64::from((c + 1e-6) as u32 >> 2) / 255.0),
    };
    out.map(|v| v.clamp(0.0, 1.0))
}

/// Order on one side of the cube, from the first.
fn rank(change: Change) -> usize {
    match change {
        Change::Matrix(..) => 0,
        Change::Levels(..) => 1,
        Change::Order(_) => 2,
        Change::Tag(..) => 3,
        Change::Clamp => 4,
        Change::Saturation(_) => 5,
        Change::Gain(_) => 6,
        Change::Lift(_) => 7,
        Change::Eight(_) => 8,
    }
}

fn side(faults: &[Fault], is_input: bool, mut rgb: Rgb) -> Rgb {
    let mut changes: Vec<Change> = faults
        .iter()
        .filter_map(|f| match f {
            Fault::Input(c) if is_input => Some(*c),
            Fault::Output(c) if !is_input => Some(*c),
            _ => None,
        })
        .collect();
    changes.sort_by_key(|c| rank(*c));
    changes.iter().for_each(|c| rgb = changed(*c, rgb));
    rgb
}

/// What a chain with faults gives for a signal; the first of `cubes` should be in it.
pub fn given(cubes: &[Cube], faults: &[Fault], way: Way, rgb: Rgb) -> Rgb {
    let rgb = side(faults, true, rgb);
    let way = if faults.contains(&Fault::Nearest) { Way::Nearest } else { way };
    let fewer = faults.iter().find_map(|f| if let Fault::Points(n) = f { Some(*n) } else { None });
    let read = |i: usize, rgb: Rgb| -> Rgb {
        let step = fewer.map_or(1, |n| ((cubes[i].size() - 1) / (n - 1)).max(1));
        at(&cubes[i], step, way, rgb).map(|v| v.clamp(0.0, 1.0))
    };
    let loaded = faults.iter().find_map(|f| if let Fault::Cube(l) = f { Some(*l) } else { None });
    let out = match loaded {
        None => read(0, rgb),
        Some(Loaded::None) => rgb,
        Some(Loaded::Other(i)) => read(i, rgb),
        Some(Loaded::Twice) => read(0, read(0, rgb)),
        Some(Loaded::Before(i)) => read(0, read(i, rgb)),
    };
    side(faults, false, out)
}

/// One fault of a kind, 0 to 20; cubes are numbered up to `cubes` less one.
pub fn fault(draw: &mut Draw, kind: usize, cubes: usize) -> Fault {
    let mut pick = |n: usize| ((draw.unit() * n as f64).ceil() as usize).clamp(1, n) - 1;
    let levels = |i: usize| Change::Levels(Levels::ALL[i % 4], Form::ALL[i / 4]);
    let two = |i: usize, n: usize| (i / (n - 1), (i / (n - 1) + 1 + i % (n - 1)) % n);
    let matrix = |i: usize| {
        let (a, b) = two(i, 3);
        Change::Matrix(Matrix::ALL[a], Matrix::ALL[b])
    };
    let tag = |i: usize| {
        let (a, b) = two(i, 4);
        Change::Tag(Tag::ALL[a], Tag::ALL[b])
    };
    let order = |i: usize| Change::Order([[2, 1, 0], [1, 0, 2], [0, 2, 1], [1, 2, 0], [2, 0, 1]][i]);
    let eight = |i: usize| Change::Eight([Rounding::Nearest, Rounding::Cut][i]);
    match kind {
        0 => Fault::Input(levels(pick(8))),
        1 => Fault::Input(matrix(pick(6))),
        2 => Fault::Input(order(pick(5))),
        3 => Fault::Input(tag(pick(12))),
        4 => Fault::Input(Change::Clamp),
        5 => Fault::Input(eight(pick(2))),
        6 => Fault::Cube(Loaded::None),
        7 => Fault::Cube(Loaded::Twice),
        8 => Fault::Cube(Loaded::Other(1 + pick(cubes - 1))),
        9 => Fault::Cube(Loaded::Before(1 + pick(cubes - 1))),
        10 => Fault::Nearest,
        11 => Fault::Points(17),
        12 => Fault::Output(levels(pick(8))),
        13 => Fault::Output(matrix(pick(6))),
        14 => Fault::Output(order(pick(5))),
        15 => Fault::Output(tag(pick(12))),
        16 => Fault::Output(Change::Clamp),
        17 => Fault::Output(eight(pick(2))),
        18 => Fault::Output(Change::Gain(if draw.unit() < 0.5 { 0.85 } else { 1.03 } + 0.1 * draw.unit())),
        19 => Fault::Output(Change::Lift(if draw.unit() < 0.5 { -0.08 } else { 0.015 } + 0.06 * draw.unit())),
        _ => Fault::Output(Change::Saturation(if draw.unit() < 0.5 { 0.6 } else { 1.07 } + 0.3 * draw.unit())),
    }
}

/// Kinds of fault.
pub const KINDS: usize = 21;

/// A capture of what usual recorders and grabs do.
pub fn capture(draw: &mut Draw) -> Capture {
    let mut pick = |n: usize| ((draw.unit() * n as f64).ceil() as usize).clamp(1, n) - 1;
    let (bits, quarter) = [(8, false), (10, false), (16, false), (8, true), (10, true)][pick(5)];
    let shift = [[0, 0], [7, 4], [-31, -20], [-100, 0]][pick(4)];
    let blur = [1, 1, 2, 3][pick(4)];
    Capture { bits, quarter, noise: [0.0, 0.001, 0.004][pick(3)], shift, blur }
}

/// The chart of the demo's camera `a` for a cube of a name.
///
/// # Panics
/// When no chart has such a size.
pub fn chart_of(show: &Show, name: &str, size: [u16; 2]) -> Frame {
    let camera = &show.cameras()["a"].item;
    chart(&Mark::new(name, size, stops(camera))).expect("a chart")
}

/// A frame of the chart through a chain, as it is captured.
///
/// # Panics
/// When the frame has no pixels.
pub fn captured(chart: &Frame, cubes: &[Cube], truth: &Truth, draw: &mut Draw) -> Frame {
    let mut known: HashMap<[u16; 3], [f32; 3]> = HashMap::new();
    let through = |rgb: [f32; 3]| {
        let codes = rgb.map(|v| (f64::from(v) * 1023.0).round() as u16);
        let out = given(cubes, &truth.faults, truth.way, codes.map(|c| f64::from(c) / 1023.0));
        (codes, out.map(|v| v as f32))
    };
    let mut pixels: Vec<[f32; 3]> = chart
        .pixels()
        .map(|rgb| {
            let codes = rgb.map(|v| (v * 1023.0).round() as u16);
            *known.entry(codes).or_insert_with(|| through(rgb).1)
        })
        .collect();
    let (width, height) = (chart.width(), chart.height());
    let Capture { bits, quarter, noise, shift, blur } = truth.capture;
    if blur > 1 {
        pixels = blurred(&pixels, width, blur);
    }
    if noise > 0.0 {
        pixels.iter_mut().flatten().for_each(|v| *v += (noise * draw.normal()) as f32);
    }
    let (w, h) = ((width as i32 - shift[0]) as usize, (height as i32 - shift[1]) as usize);
    let mut moved = vec![[0.0; 3]; w * h];
    for (y, row) in moved.chunks_exact_mut(w).enumerate() {
        for (x, pixel) in row.iter_mut().enumerate() {
            let (fx, fy) = (x as i32 + shift[0], y as i32 + shift[1]);
            if fx >= 0 && fy >= 0 {
                *pixel = pixels[fy as usize * width + fx as usize];
            }
        }
    }
    if quarter {
        subsampled(&mut moved, w, bits);
    }
    let top = f32::from(((1u32 << bits) - 1) as u16);
    let samples = moved.iter().flatten().map(|v| (v.clamp(0.0, 1.0) * top).round() / top).collect();
    let info = Info { associated: false, ..Info::new(Format::Dpx, Depth::Integer(bits)) };
    Frame::new(w, h, false, samples, info).expect("a frame")
}

/// Each pixel the mean of those around it, `size` across and down.
fn blurred(pixels: &[[f32; 3]], width: usize, size: usize) -> Vec<[f32; 3]> {
    let height = pixels.len() / width;
    let (mut across, mut down) = (pixels.to_vec(), pixels.to_vec());
    let share = 1.0 / size as f32;
    for y in 0..height {
        for x in 0..width {
            across[y * width + x] = std::array::from_fn(|c| {
                (0..size).map(|k| pixels[y * width + (x + k).min(width - 1)][c]).sum::<f32>() * share
            });
        }
    }
    for y in 0..height {
        for x in 0..width {
            down[y * width + x] = std::array::from_fn(|c| {
                (0..size).map(|k| across[(y + k).min(height - 1) * width + x][c]).sum::<f32>() * share
            });
        }
    }
    down
}

/// Luma and colour difference of legal range as whole codes, colour of four pixels together, and back.
fn subsampled(pixels: &mut [[f32; 3]], width: usize, bits: u8) {
    let unit = f64::from(1u32 << (bits - 8));
    let height = pixels.len() / width;
    let of = |p: [f32; 3]| differences(Matrix::Bt709, p.map(f64::from));
    for y in (0..height).step_by(2) {
        for x in (0..width).step_by(2) {
            let places: Vec<usize> = [(x, y), (x + 1, y), (x, y + 1), (x + 1, y + 1)]
                .into_iter()
                .filter(|(x, y)| *x < width && *y < height)
                .map(|(x, y)| y * width + x)
                .collect();
            let all: Vec<Rgb> = places.iter().map(|i| of(pixels[*i])).collect();
            let mean = |c: usize| all.iter().map(|v| v[c]).sum::<f64>() / all.len() as f64;
            let chroma = [mean(1), mean(2)].map(|v| (224.0 * unit * v).round() / (224.0 * unit));
            for (i, v) in places.iter().zip(&all) {
                let luma = (219.0 * unit * v[0]).round() / (219.0 * unit);
                pixels[*i] = colours(Matrix::Bt709, [luma, chroma[0], chroma[1]]).map(|v| v as f32);
            }
        }
    }
}
