//! What a camera does to the picture, from simulated cameras of known truth.

use rushlight::apply::planes::{BT709, Coding};
use rushlight::camera::Range;
use rushlight::frame::{Depth, Format, Frame, Info, ReadOptions, read, write};
use rushlight::math::{cos, exp, ln, sin};
use rushlight::measure::patch::Patch;
use rushlight::measure::{Claim, Settings, Shot, measure};
use rushlight::processing::codec::{Codec, Source, codec};
use rushlight::processing::edge::{self, Edge};
use rushlight::processing::noise::{Noise, noise};
use rushlight::processing::{scene, words};
use rushlight::transfer::encoding;
use rushlight_tests::camera_tests::{self, detailed, normal};
use rushlight_tests::scene::{assert_holds_to, assert_says, files, json, output};
use rushlight_tests::sensor::{Draw, Sensor};
use std::f64::consts::{LN_2, PI};
use std::fs;
use tempfile::TempDir;

/// Light is signal.
fn linear() -> Claim {
    Claim {
        name: "linear".to_owned(),
        curve: encoding("linear").and_then(|e| e.build(None).ok()).unwrap(),
        range: Range::Full,
    }
}

fn float(width: usize, height: usize, rgb: impl Fn(usize, usize) -> [f64; 3]) -> Frame {
    let samples = (0..width * height).flat_map(|i| rgb(i % width, i / width)).map(|v| v as f32).collect();
    Frame::new(width, height, false, samples, Info::new(Format::Exr, Depth::Float)).unwrap()
}

/// An edge of light from 0.05 to 0.6, blurred by a Gaussian, slanted from the upright by so many degrees.
fn gaussian(sigma: f64, degrees: f64, side: usize, upright: bool) -> Frame {
    let (s, c) = (sin(degrees * PI / 180.0), cos(degrees * PI / 180.0));
    let middle = (side as f64 - 1.0) / 2.0;
    float(side, side, |x, y| {
        let (x, y) = if upright { (x, y) } else { (y, x) };
        let across = (x as f64 - middle - 0.3) * c - (y as f64 - middle) * s;
        [0.05 + 0.55 * normal(across / sigma); 3]
    })
}

fn whole(frame: &Frame) -> Patch {
    Patch::new([0, 0, frame.width(), frame.height()], frame.width(), frame.height()).unwrap()
}

/// The response of a Gaussian is exp(-2 pi^2 s^2 f^2), and half at sqrt(ln 2 / 2) / (pi s).
#[test]
fn gaussian_edges_have_their_own_response() {
    for sigma in [0.5, 0.7, 1.0, 1.5] {
        for degrees in [3.0, 5.0, -8.0, 12.0] {
            for upright in [true, false] {
                let frame = gaussian(sigma, degrees, 96, upright);
                let found = edge::measure(&frame, &whole(&frame), &linear()).unwrap();
                let truth = (LN_2 / 2.0).sqrt() / (PI * sigma);
                let mtf50 = found.green().mtf50.unwrap();
                let said = format!("sigma {sigma}, {degrees} degrees, upright {upright}: {mtf50} for {truth}");
                assert!((mtf50 / truth - 1.0).abs() < 0.01, "{said}");
                let mtf10 = (ln(10.0) / 2.0).sqrt() / (PI * sigma);
                // Above the limit of the grid bins of a quarter of a pixel no longer give it.
                if mtf10 < 0.5 {
                    assert!((found.green().mtf10.unwrap() / mtf10 - 1.0).abs() < 0.02, "{said}");
                }
                assert_eq!(found.upright, upright, "{said}");
                assert!((found.slant_degrees - degrees.abs()).abs() < 0.1, "{said}: {}", found.slant_degrees);
                assert!(found.green().overshoot_percent < 0.5 && found.green().undershoot_percent < 0.5, "{said}");
            }
        }
    }
}

#[test]
fn sharpening_is_seen_and_softening_is_said() {
    let soft = gaussian(1.0, 5.0, 96, true);
    // An unsharp mask, of a mean over five pixels.
    let sharp = float(96, 96, |x, y| {
        let at = |x: usize, y: usize| f64::from(soft.rgb(x.clamp(0, 95), y)[1]);
        let about =
            (0..25).map(|i| at((x + i % 5).saturating_sub(2), (y + i / 5).saturating_sub(2).min(95))).sum::<f64>();
        [at(x, y) + 1.0 * (at(x, y) - about / 25.0); 3]
    });
    let of = |f: &Frame| edge::measure(f, &whole(f), &linear()).unwrap();
    let (a, b) = (of(&soft), of(&sharp));
    assert!(
        b.green().overshoot_percent > 5.0 && b.green().undershoot_percent > 5.0,
        "{:?}",
        b.green().overshoot_percent
    );
    assert!(b.green().mtf50 > a.green().mtf50);
    assert!(words::of_edge(&b).iter().any(|s| s.starts_with("edges are sharpened")));
    assert!(words::of_edge(&a).iter().any(|s| s.starts_with("edges are not sharpened")));
    assert_eq!(words::sharper(0.31, 0.34), "slightly softer: MTF50 0.310 instead of 0.340 cycles per pixel");
}

#[test]
fn what_is_no_edge_is_refused() {
    let refused = |f: Frame, said: &str| {
        let why = edge::measure(&f, &whole(&f), &linear()).unwrap_err().0;
        assert!(why.contains(said), "{why}");
    };
    refused(gaussian(1.0, 0.0, 64, true), "slanted by 0.0 degrees");
    refused(float(64, 64, |x, _| [0.1 + 0.001 * x as f64; 3]), "");
    refused(float(12, 12, |x, _| [x as f64; 3]), "too few");
    // It leaves the rectangle at the side.
    refused(gaussian(1.0, 44.0, 64, true), "");
    let noise = {
        let mut draw = Draw::new(3);
        let all: Vec<f64> = (0..64 * 64).map(|_| 0.3 + 0.02 * draw.normal()).collect();
        float(64, 64, move |x, y| [all[y * 64 + x]; 3])
    };
    let claim = linear();
    assert!(edge::find(&noise, &claim).is_err());
}

/// A dark square turned by five degrees, among clutter: the edge is found and has the truth's response.
#[test]
fn an_edge_is_found_by_itself() {
    for (turn, seed) in [(5.0, 1), (-7.0, 2), (10.0, 3)] {
        let (s, c) = (sin(turn * PI / 180.0), cos(turn * PI / 180.0));
        let sigma = 0.8;
        let mut draw = Draw::new(seed);
        let noise: Vec<f64> = (0..640 * 360).map(|_| 0.004 * draw.normal()).collect();
        let frame = float(640, 360, |x, y| {
            let (px, py) = (x as f64 - 330.0, y as f64 - 190.0);
            let (u, v) = (px * c - py * s, px * s + py * c);
            let inside = |d: f64| normal((70.0 - d.abs()) / sigma);
            let square = inside(u) * inside(v);
            let stripes = if x < 120 && (x / 6) % 2 == 0 { 0.15 } else { 0.0 };
            [0.5 - 0.42 * square + stripes + noise[y * 640 + x]; 3]
        });
        let found = edge::find(&frame, &linear()).unwrap();
        let truth = (LN_2 / 2.0).sqrt() / (PI * sigma);
        let mtf50 = found.green().mtf50.unwrap();
        assert!((mtf50 / truth - 1.0).abs() < 0.05, "{turn}: {mtf50} for {truth} at {:?}", found.place);
        assert!((found.slant_degrees - f64::abs(turn)).abs() < 0.5, "{turn}: {}", found.slant_degrees);
    }
}

/// A bracket of a sensor whose development takes a weighted mean of its neighbours, across and down.
fn developed(sensor: &Sensor, kernel: &[f64], side: usize, frames: u64) -> Vec<Shot> {
    let wide = side + kernel.len() - 1;
    let raw = Sensor { bits: 16, ..sensor.clone() };
    let mut shots = raw.bracket((-7..=7).map(f64::from), wide, frames);
    for shot in &mut shots {
        shot.patches.iter_mut().for_each(|p| *p = smoothed(p, kernel, side, &sensor.claim));
    }
    shots
}

fn smoothed(frame: &Frame, kernel: &[f64], side: usize, claim: &Claim) -> Frame {
    let wide = frame.width();
    let light: Vec<[f64; 3]> = frame.pixels().map(|rgb| rgb.map(|v| claim.decode(f64::from(v)))).collect();
    let mean = |at: &dyn Fn(usize) -> [f64; 3]| -> [f64; 3] {
        let mut sum = [0.0; 3];
        for (i, k) in kernel.iter().enumerate() {
            let v = at(i);
            sum = std::array::from_fn(|c| sum[c] + k * v[c]);
        }
        sum
    };
    let rows: Vec<[f64; 3]> = (0..wide * side).map(|i| mean(&|k| light[i / side * wide + i % side + k])).collect();
    let all: Vec<[f64; 3]> = (0..side * side).map(|i| mean(&|k| rows[(i / side + k) * side + i % side])).collect();
    let samples = all.into_iter().flatten().map(|v| claim.encode(v) as f32).collect();
    Frame::new(side, side, false, samples, Info::new(Format::Tiff, Depth::Integer(16))).unwrap()
}

fn read_noise(shots: &[Shot], sensor: &Sensor) -> Noise {
    let settings = Settings { claim: Some(sensor.claim.clone()), ..Settings::default() };
    noise(shots, &measure(shots, &settings).unwrap(), 1.0)
}

/// The width of the smoothing within 20 %, and the floor that the sensor truly has within 0.25 stop.
#[test]
fn smoothing_and_the_true_floor_come_back() {
    let sensor = Sensor { pattern: 0.0, ..Sensor::new("slog3") };
    let gaussian = |sigma: f64| -> Vec<f64> {
        let all: Vec<f64> = (-6..=6).map(|i: i32| exp(-f64::from(i * i) / (2.0 * sigma * sigma))).collect();
        let sum: f64 = all.iter().sum();
        all.into_iter().map(|v| v / sum).collect()
    };
    for kernel in [vec![1.0], vec![1.0 / 3.0; 3], vec![0.25; 4], gaussian(0.8), gaussian(1.3)] {
        let width = 1.0 / kernel.iter().map(|k| k * k).sum::<f64>();
        let found = read_noise(&developed(&sensor, &kernel, 128, 1), &sensor);
        let pixels = found.smoothed_pixels.unwrap();
        assert!((pixels / width - 1.0).abs() < 0.2, "{pixels} for {width}");
        let (seen, white) = (found.seen.floor_stops.unwrap(), found.white.floor_stops.unwrap());
        let truth = sensor.floor(1, 1.0);
        assert!((white - truth).abs() < 0.25, "width {width}: white floor {white} for {truth}, seen {seen}");
        if width > 2.0 {
            assert!(seen < truth - 0.7, "width {width}: the floor as seen {seen} is flattered, truth {truth}");
            assert!(words::of_noise(&found).iter().any(|s| s.contains("expose by ")), "{found:?}");
        }
        let alike = found.autocorrelation[1];
        assert!(if width > 1.5 { alike > 0.3 } else { alike.abs() < 0.1 }, "{width}: {alike}");
    }
}

#[test]
fn noise_that_is_averaged_over_frames_is_seen() {
    let sensor = Sensor { pattern: 0.01, bits: 16, ..Sensor::new("slog3") };
    let fresh = sensor.bracket((-6..=7).map(f64::from), 64, 8);
    assert!(read_noise(&fresh, &sensor).averaged_frames.unwrap() < 1.3);
    // A recursive filter, with a share of 0.5 of the frame before: 3 frames by (1 + r) / (1 - r).
    let mut slow = sensor.bracket((-6..=7).map(f64::from), 64, 14);
    for shot in &mut slow {
        for k in 1..shot.patches.len() {
            let before: Vec<f32> = shot.patches[k - 1].samples().to_vec();
            for (v, b) in shot.patches[k].samples_mut().iter_mut().zip(before) {
                let light = |v: f32| sensor.claim.decode(f64::from(v));
                *v = sensor.claim.encode(0.5 * light(*v) + 0.5 * light(b)) as f32;
            }
        }
        shot.patches.drain(..6);
    }
    let found = read_noise(&slow, &sensor);
    let frames = found.averaged_frames.unwrap();
    assert!((frames / 3.0 - 1.0).abs() < 0.2, "{frames}");
    let (white, truth) = (found.white.floor_stops.unwrap(), sensor.floor(1, 1.0));
    assert!((white - truth).abs() < 0.3, "{white} for {truth}, seen {:?}", found.seen.floor_stops);
    // The fixed pattern is one per cent; the mean of eight frames leaves some noise beside it.
    let fixed = read_noise(&fresh, &sensor).fixed_percent.unwrap();
    assert!((fixed - 1.0).abs() < 0.15, "{fixed}");
}

#[test]
fn a_floor_that_no_sensor_has_is_said() {
    let clean = Sensor { electrons: [900_000.0; 3], read: 2.0, pattern: 0.0, bits: 16, ..Sensor::new("slog3") };
    let found = read_noise(&clean.bracket((-9..=7).map(f64::from), 96, 1), &clean);
    assert!(
        found.too_good.iter().any(|s| s.contains("no pixel of a video sensor holds more than 200000")),
        "{found:?}"
    );
    let plain = Sensor::new("slog3");
    let found = read_noise(&plain.bracket((-9..=7).map(f64::from), 96, 1), &plain);
    assert!(found.too_good.is_empty(), "{:?}", found.too_good);
    // Shadows alone are denoised.
    let bare = Sensor { bits: 16, read: 1.0, pattern: 0.0, ..Sensor::new("slog3") };
    let mut shots = bare.bracket((-7..=7).map(f64::from), 96, 1);
    for (shot, even) in shots.iter_mut().zip(developed(&bare, &[0.25; 4], 96, 1)) {
        if shot.stops <= -2.0 {
            shot.patches = even.patches;
        }
    }
    let found = read_noise(&shots, &bare);
    assert!(found.too_good.iter().any(|s| s.contains("from -2 stops down")), "{:?}", found.too_good);
}

fn of_file(bytes: &[u8]) -> Codec {
    let frame = read(bytes, &ReadOptions::default()).unwrap();
    codec(std::slice::from_ref(&frame), Source::of(&frame.info))
}

#[test]
fn blocks_are_found_where_they_are() {
    let frame = detailed(400, 280, 5);
    let lossless = of_file(&write(&frame, Format::Png, Depth::Integer(8)).unwrap());
    assert_eq!(lossless.blocks.unwrap().size, None);
    // Means of squares of 8, and of 16, mixed in; the phase is that of a cropped picture.
    for size in [8usize, 16] {
        let mut coarse = frame.clone();
        let width = frame.width();
        for (i, v) in coarse.samples_mut().iter_mut().enumerate() {
            let (x, y) = (i / 3 % width + 3, i / 3 / width + 5);
            let step = (((x / size) * 7 + (y / size) * 13) % 5) as f32 - 2.0;
            *v += 0.006 * step;
        }
        let found = codec(&[coarse], Source { coding: Coding::Rgb, bits: Some(8) });
        assert_eq!(found.blocks.as_ref().unwrap().size, Some(size), "{:?}", found.blocks);
        assert!(found.blocks.unwrap().strength() > 1.3);
    }
}

#[test]
fn bits_that_a_file_does_not_hold_are_found() {
    let frame = detailed(300, 200, 6);
    let with = |top: f64, of: &dyn Fn(f64) -> f64, bits: u8| {
        let mut other = frame.clone();
        other.samples_mut().iter_mut().for_each(|v| *v = (of((f64::from(*v) * 255.0).round()) / top) as f32);
        codec(&[other], Source { coding: Coding::Rgb, bits: Some(bits) }).codes
    };
    for (name, codes) in [
        ("shifted", with(1023.0, &|v| 4.0 * v, 10)),
        ("scaled", with(1023.0, &|v| (v * 1023.0 / 255.0).round(), 10)),
        ("in 16 bits", with(65535.0, &|v| v * 257.0, 16)),
    ] {
        assert!(codes.len() == 3 && codes.iter().all(|c| c.true_bits == Some(8)), "{name}: {codes:?}");
        assert!(codes.iter().all(|c| c.missing_percent == 0.0), "{name}: {codes:?}");
    }
    // Stretched within 8 bits: every fifth code is missing.
    let stretched = with(255.0, &|v| (v * 1.25).round().min(255.0), 8);
    assert!(stretched.iter().all(|c| (c.missing_percent - 20.0).abs() < 5.0), "{stretched:?}");
    let plain = with(255.0, &|v| v, 8);
    assert!(plain.iter().all(|c| c.true_bits == Some(8) && c.missing_percent < 1.0), "{plain:?}");
    assert!(plain.iter().all(|c| c.uneven_percent.is_none_or(|u| u < 5.0)), "{plain:?}");
}

#[test]
fn halved_chroma_is_seen() {
    let frame = detailed(320, 240, 7);
    let source = Source { coding: Coding::Luma { full: true, weights: BT709 }, bits: Some(8) };
    let plain = codec(std::slice::from_ref(&frame), source).chroma.unwrap();
    assert_eq!(plain.name(), "4:4:4", "{plain:?}");
    for (across, down, name) in [(true, false, "4:2:2"), (true, true, "4:2:0")] {
        let mut halved = frame.clone();
        let [red, blue] = BT709;
        let luma = |rgb: [f64; 3]| red * rgb[0] + (1.0 - red - blue) * rgb[1] + blue * rgb[2];
        let (width, height) = (frame.width(), frame.height());
        let at = |x: usize, y: usize| frame.rgb(x.min(width - 1), y.min(height - 1)).map(f64::from);
        // Means of pairs, filled up by the line between them.
        let pair = |x: usize, y: usize| {
            let mut sum = [0.0; 2];
            let places =
                [(0, 0), (1, 0), (0, 1), (1, 1)].map(|(i, j)| (if across { i } else { 0 }, if down { j } else { 0 }));
            for (i, j) in places {
                let rgb = at(x + i, y + j);
                sum = [sum[0] + (rgb[0] - luma(rgb)) / 4.0, sum[1] + (rgb[2] - luma(rgb)) / 4.0];
            }
            sum
        };
        let line = |v: usize, halve: bool| {
            if !halve {
                return [(v, 1.0), (v, 0.0)];
            }
            let low = v / 2 * 2;
            if v.is_multiple_of(2) {
                [(low, 0.75), (low.saturating_sub(2), 0.25)]
            } else {
                [(low, 0.75), (low + 2, 0.25)]
            }
        };
        for (i, pixel) in halved.samples_mut().chunks_exact_mut(3).enumerate() {
            let (x, y) = (i % width, i / width);
            let mut difference = [0.0; 2];
            for (px, wx) in line(x, across) {
                for (py, wy) in line(y, down) {
                    let of = pair(px, py);
                    difference = [difference[0] + wx * wy * of[0], difference[1] + wx * wy * of[1]];
                }
            }
            let y = luma(at(i % width, i / width));
            let (r, b) = (y + difference[0], y + difference[1]);
            let g = (y - red * r - blue * b) / (1.0 - red - blue);
            pixel.copy_from_slice(&[r as f32, g as f32, b as f32]);
        }
        let found = codec(&[halved], source).chroma.unwrap();
        assert_eq!(found.name(), name, "{found:?}");
    }
}

#[test]
fn key_frames_that_pump_are_counted() {
    let still = detailed(160, 120, 8);
    let clip = |fades: f64| -> Vec<Frame> {
        (0..40u64)
            .map(|k| {
                let mut frame = still.clone();
                let mut draw = Draw::new(100 + k);
                let size = 0.02 * (1.0 - fades * (k % 10) as f64);
                frame.samples_mut().iter_mut().for_each(|v| *v += (size * draw.normal()) as f32);
                frame
            })
            .collect()
    };
    let source = Source { coding: Coding::Rgb, bits: Some(8) };
    let pumps = codec(&clip(0.06), source).pumping.unwrap();
    assert_eq!(pumps.period_frames, Some(10), "{pumps:?}");
    assert!(pumps.detail_percent > 30.0, "{}", pumps.detail_percent);
    assert_eq!(pumps.still_period_frames, None, "every frame has noise of its own");
    assert_eq!(codec(&clip(0.0), source).pumping.unwrap().period_frames, None);
    assert_eq!(codec(&clip(0.0)[..8], source).pumping, None);
}

/// A codec that copies noise from frame to frame: only key frames bring a new one, and the detail is the same throughout.
#[test]
fn noise_that_stands_still_between_key_frames_is_seen() {
    let still = detailed(160, 120, 8);
    let clip = |from: u64, every: u64| -> Vec<Frame> {
        (from..from + 40)
            .map(|k| {
                let mut frame = still.clone();
                let (mut held, mut new) = (Draw::new(100 + k / every), Draw::new(900 + k));
                let sum = |held: &mut Draw, new: &mut Draw| 0.02 * held.normal() + 0.002 * new.normal();
                frame.samples_mut().iter_mut().for_each(|v| *v += sum(&mut held, &mut new) as f32);
                frame
            })
            .collect()
    };
    let source = Source { coding: Coding::Rgb, bits: Some(8) };
    for (from, every) in [(0, 10), (3, 12), (0, 5)] {
        let found = codec(&clip(from, every), source);
        let pumps = found.pumping.as_ref().unwrap();
        assert_eq!(pumps.still_period_frames, Some(every as usize), "{pumps:?}");
        // The amplitudes of both noises, twice each.
        assert!((pumps.jump_times - (0.02_f64 * 0.02 + 4e-6).sqrt() / 0.002).abs() < 1.0, "{pumps:?}");
        assert_eq!(pumps.period_frames, None, "{pumps:?}");
        assert!(words::of_codec(&found).iter().any(|s| s.starts_with("noise stands still and jumps")));
    }
    let fresh = codec(&clip(0, 1), source).pumping.unwrap();
    assert_eq!((fresh.still_period_frames, fresh.jump_times), (None, 1.0));
    // Frames that are all alike do not jump.
    let same = vec![still.clone(); 20];
    assert_eq!(codec(&same, source).pumping.unwrap().still_period_frames, None);
}

#[test]
fn a_mode_that_turns_colour_and_softens_detail_is_said() {
    let first = detailed(320, 240, 9);
    let source = Source::of(&first.info);
    let same = scene::difference(&first, &first, [source; 2], 1.0);
    assert!((same.fine().unwrap() - 1.0).abs() < 1e-9);
    assert_eq!(words::of_scene(&same), ["fine detail and noise are the same", "colour is the same"]);
    let mut second = first.clone();
    let [red, blue] = BT709;
    for rgb in second.samples_mut().chunks_exact_mut(3) {
        let v = [rgb[0], rgb[1], rgb[2]].map(f64::from);
        let y = red * v[0] + (1.0 - red - blue) * v[1] + blue * v[2];
        let (b, r) = ((v[2] - y) / (2.0 * (1.0 - blue)), (v[0] - y) / (2.0 * (1.0 - red)));
        // 20 % more, turned by 8 degrees.
        let (s, c) = (1.2 * sin(8.0 * PI / 180.0), 1.2 * cos(8.0 * PI / 180.0));
        let (b, r) = (c * b - s * r, s * b + c * r);
        let (nr, nb) = (y + 2.0 * (1.0 - red) * r, y + 2.0 * (1.0 - blue) * b);
        let g = (y - red * nr - blue * nb) / (1.0 - red - blue);
        rgb.copy_from_slice(&[nr as f32, g as f32, nb as f32]);
    }
    let found = scene::difference(&first, &second, [source; 2], 1.0);
    let colour = found.colour.as_ref().unwrap();
    assert!((colour.saturation - 1.2).abs() < 0.01 && (colour.hue_degrees - 8.0).abs() < 0.3, "{colour:?}");
    assert!(words::of_scene(&found).iter().any(|s| s.contains("20 % more saturated")), "{:?}", words::of_scene(&found));
    // A change of range is no change of colour.
    let legal = float(320, 240, |x, y| first.rgb(x, y).map(|v| Range::Legal.encode(f64::from(v))));
    let found = scene::difference(&first, &legal, [source; 2], 876.0 / 1023.0);
    assert_eq!(words::of_scene(&found), ["fine detail and noise are the same", "colour is the same"]);
    let soft = float(318, 238, |x, y| {
        let mut sum = [0.0; 3];
        for i in 0..9 {
            let rgb = first.rgb(x + i % 3, y + i / 3);
            sum = std::array::from_fn(|c| sum[c] + f64::from(rgb[c]) / 9.0);
        }
        sum
    });
    let found = scene::difference(&first.crop(1, 1, 318, 238).unwrap(), &soft, [source; 2], 1.0);
    assert!(found.fine().unwrap() < 0.5, "{:?}", found.fine());
}

#[test]
fn the_frames_of_camera_b_are_what_their_maker_makes() {
    let committed = files(&camera_tests::folder());
    let made = camera_tests::files();
    assert_eq!(committed.len(), made.len());
    let pixels = |file: &[u8]| read(file, &ReadOptions::default()).unwrap();
    for (name, bytes) in made {
        let (a, b) = (pixels(&committed[&name]), pixels(&bytes));
        let apart = a.samples().iter().zip(b.samples()).map(|(a, b)| (a - b).abs()).fold(0.0, f32::max);
        // A JPEG is decoded by whole numbers, which other machines may round otherwise.
        let most = if name.ends_with(".jpg") { 2.5 / 255.0 } else { 0.0 };
        assert!(apart <= most, "{name}: {apart}: make it again with the binary `demo_camera_tests`");
    }
}

/// As a user does it: the edges at two exposure indices, the scene, and the light on the card.
#[test]
fn camera_b_of_the_demo_does_to_the_picture_what_was_made() {
    let dir = TempDir::new().unwrap();
    rushlight_tests::demo::copy(dir.path());
    for (name, bytes) in files(&camera_tests::folder()) {
        fs::write(dir.path().join(name), bytes).unwrap();
    }
    let show = "--show show.toml --camera b";
    let found = json(dir.path(), &format!("measure --edge-frame 200:b_200_edge.png 800:b_800_edge.png {show} --json"));
    assert_holds_to(dir.path(), "measure", &found);
    for ((ei, sigma), index) in camera_tests::BLURS.iter().zip(found["processing"]["indices"].as_array().unwrap()) {
        assert_eq!(index["ei"], f64::from(*ei));
        let truth = (LN_2 / 2.0).sqrt() / (PI * sigma);
        let mtf50 = index["edge"]["channels"][1]["mtf50"].as_f64().unwrap();
        // Some noise is left in the mean of sixteen frames.
        assert!((mtf50 / truth - 1.0).abs() < 0.05, "EI {ei}: {mtf50} for {truth}");
        assert!((index["edge"]["slant_degrees"].as_f64().unwrap() - 5.0).abs() < 0.3);
    }
    let edges = format!("measure --edge-frame 200:b_200_edge.png 800:b_800_edge.png {show}");
    assert_says(&output(dir.path(), &edges), &["EI 800 against EI 200: softer: MTF50 0.2", " instead of 0.30"]);
    let text = output(dir.path(), &format!("measure --scene b_200_scene.jpg {show}"));
    assert_says(&text, &["blocks of 8 pixels"]);
    // Tungsten light on a camera balanced for daylight: much red, little blue.
    let white = json(dir.path(), &format!("measure --white b_grey_a.png --patch 4,4,40,40 {show} --json"));
    let kelvin = white["white"]["kelvin"].as_f64().unwrap();
    assert!((2300.0..3600.0).contains(&kelvin), "{kelvin}");
}

/// The window of an edge and its numbers, for the sentences.
#[test]
fn an_edge_says_what_it_is() {
    let frame = gaussian(0.6, 5.0, 96, true);
    let found: Edge = edge::measure(&frame, &whole(&frame), &linear()).unwrap();
    let said = words::of_edge(&found);
    assert!(said[0].starts_with("sharpness: MTF50 0.31"), "{said:?}");
    assert!(found.contrast > 5.0);
}
