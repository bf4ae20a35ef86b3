//! Charts that are scaled, cut, turned, blurred and covered: found, read, or refused for the right reason.

use super::bank::{Bank, Candidate};
use super::draw::chart;
use super::find::Lost;
use super::layout::{BARS, PATCH};
use super::mark::{Mark, Number};
use super::patches::{Kind, STOPS};
use super::photo::{Photograph, photograph, right};
use super::read::{Chroma, Reading, SLANT, read};
use crate::frame::{Depth, Format, Frame, Info};

const NAME: &str = "saltmarsh_night_r1_a_onset_33";

fn drawn(width: u16, height: u16) -> Frame {
    let stops: [u16; STOPS] = std::array::from_fn(|i| 90 + 50 * i as u16);
    chart(&Mark::new(NAME, [width, height], stops)).unwrap()
}

/// The mean of `frame` over squares whose corners `place` gives: pixels of a picture made of another by any way back.
fn warped(frame: &Frame, [width, height]: [usize; 2], place: impl Fn(f64, f64) -> [f64; 2]) -> Frame {
    const FINE: usize = 3;
    let mut samples = Vec::with_capacity(width * height * 3);
    for y in 0..height {
        for x in 0..width {
            let mut sum = [0.0; 3];
            for i in 0..FINE * FINE {
                let part = |k: usize| (k as f64 + 0.5) / FINE as f64;
                let [u, v] = place(x as f64 + part(i % FINE), y as f64 + part(i / FINE));
                let inside = u >= 0.0 && v >= 0.0 && u < frame.width() as f64 && v < frame.height() as f64;
                if inside {
                    let rgb = frame.rgb(u as usize, v as usize);
                    (0..3).for_each(|c| sum[c] += rgb[c] / (FINE * FINE) as f32);
                }
            }
            samples.extend(sum);
        }
    }
    Frame::new(width, height, false, samples, Info::new(Format::Dpx, Depth::Integer(10))).unwrap()
}

/// The largest difference of a flat patch from the chart, in signal.
fn worst(reading: &Reading) -> f64 {
    let off = |m: &super::read::Measured| {
        let signal = m.patch.signal();
        (0..3).map(|c| (m.mean[c] - signal[c]).abs()).fold(0.0, f64::max)
    };
    reading.flat().map(off).fold(0.0, f64::max)
}

#[test]
fn the_chart_reads_as_it_was_drawn_at_every_size() {
    for [width, height] in [[960, 540], [1280, 720], [1920, 1080], [2048, 1080], [1440, 1080], [1080, 1350]] {
        let reading = read(&drawn(width, height)).unwrap_or_else(|lost| panic!("{width} x {height}: {lost:?}"));
        let mark = reading.mark.as_ref().unwrap();
        assert_eq!((mark.name.as_str(), mark.size), (NAME, [width, height]));
        assert_eq!(reading.number, Some(Number::of(NAME)));
        assert!(worst(&reading) < 1e-6, "{width} x {height}: {}", worst(&reading));
        assert_eq!(reading.chroma, Some(Chroma::Full));
        assert_eq!(reading.flipped, [false, false]);
        assert!(reading.slant < 0.02 && reading.uneven < 1e-6 && reading.sharpness > 0.97);
        let stop = reading.patches.iter().find(|m| m.patch.kind == Kind::Stop).unwrap();
        assert_eq!(stop.patch.codes, [90; 3]);
    }
}

#[test]
fn scaled_cropped_padded_and_blurred_it_is_read_to_a_code() {
    let sheet = drawn(1920, 1080);
    // A quarter of the size; three fifths, moved and padded; larger, with its edges cut off.
    let ways: [([usize; 2], f64, [f64; 2]); 4] = [
        ([480, 270], 4.0, [0.0, 0.0]),
        ([1300, 800], 1.667, [-130.0, -90.0]),
        ([1890, 1060], 1.0, [14.0, 9.0]),
        ([1920, 1080], 0.985, [12.0, 8.0]),
    ];
    for (size, scale, [dx, dy]) in ways {
        let frame = warped(&sheet, size, |x, y| [x * scale + dx, y * scale + dy]);
        let reading = read(&frame).unwrap_or_else(|lost| panic!("{size:?}: {lost:?}"));
        assert!(worst(&reading) < 1.0 / 1023.0, "{size:?}: {}", worst(&reading));
        assert_eq!(reading.mark.as_ref().map(|m| m.name.as_str()), Some(NAME), "{size:?}");
        assert_eq!(reading.number, Some(Number::of(NAME)), "{size:?}");
        let [x, y] = reading.place.at([0.0, 0.0]);
        assert!((x + dx / scale).abs() < 1.0 && (y + dy / scale).abs() < 1.0, "{size:?}: {x} {y}");
    }
    // Each pixel the mean of nine by nine; a unit has less than seven.
    let (sheet, mut blurred) = (drawn(1280, 720), drawn(1280, 720));
    let near = |at: usize, by: usize, most: usize| (at + by).saturating_sub(4).min(most - 1);
    for (i, pixel) in blurred.samples_mut().chunks_exact_mut(3).enumerate() {
        let mut sum = [0.0f32; 3];
        for k in 0..81 {
            let rgb = sheet.rgb(near(i % 1280, k % 9, 1280), near(i / 1280, k / 9, 720));
            (0..3).for_each(|c| sum[c] += rgb[c] / 81.0);
        }
        pixel.copy_from_slice(&sum);
    }
    let reading = read(&blurred).unwrap();
    assert!(worst(&reading) < 1.0 / 1023.0 && reading.sharpness < 0.7, "{}", reading.sharpness);
    assert_eq!(reading.chroma, Some(Chroma::Quarter), "single columns are gone");
}

#[test]
fn mirrored_it_says_so_and_is_read() {
    let sheet = drawn(1280, 720);
    for (flip, [sx, sy]) in [([true, false], [-1.0, 1.0]), ([false, true], [1.0, -1.0]), ([true, true], [-1.0, -1.0])] {
        let at = |v: f64, s: f64, length: f64| if s < 0.0 { length - v } else { v };
        let reading = read(&warped(&sheet, [1280, 720], |x, y| [at(x, sx, 1280.0), at(y, sy, 720.0)])).unwrap();
        assert_eq!(reading.flipped, flip);
        assert!(worst(&reading) < 1e-3);
    }
}

#[test]
fn what_covers_one_reading_leaves_the_other() {
    let sheet = drawn(1280, 720);
    let pixels = |units: f64| (units * 1280.0 / 192.0) as usize;
    let mut covered = sheet.clone();
    let cover = |frame: &mut Frame, x: usize, y: usize, w: usize, h: usize| {
        for row in y..y + h {
            let at = (row * 1280 + x) * 3;
            frame.samples_mut()[at..at + 3 * w].fill(0.5);
        }
    };
    // A third of the bars.
    cover(&mut covered, pixels(BARS.x + 20.0), pixels(BARS.y), pixels(52.0), pixels(BARS.height));
    let reading = read(&covered).unwrap();
    assert!(reading.mark.is_none());
    assert_eq!(reading.number, Some(Number::of(NAME)));
    assert!(reading.patches.iter().all(|m| m.patch.kind != Kind::Stop), "stops are known from the bars alone");
    // A tenth of them is mended; the number is covered.
    let mut covered = sheet.clone();
    cover(&mut covered, pixels(BARS.x + 20.0), pixels(BARS.y), pixels(15.0), pixels(BARS.height));
    cover(&mut covered, pixels(40.0), pixels(93.0), pixels(30.0), pixels(8.0));
    let reading = read(&covered).unwrap();
    assert_eq!((reading.mark.map(|m| m.name), reading.number), (Some(NAME.to_owned()), None));
    // A line of an overlay through a patch moves it by little, where it is almost of its colour, or not at all.
    let mut lined = sheet;
    cover(&mut lined, 0, pixels(17.0 + PATCH * 7.5), 1280, 2);
    assert!(worst(&read(&lined).unwrap()) < 3e-3);
}

#[test]
fn a_corner_may_be_covered_and_two_may_not() {
    let sheet = drawn(1280, 720);
    let mut frame = sheet.clone();
    let cover = |frame: &mut Frame, x: usize| {
        for row in 0..120 {
            let at = (row * 1280 + x) * 3;
            frame.samples_mut()[at..at + 3 * 90].fill(0.5);
        }
    };
    cover(&mut frame, 1180);
    assert!(worst(&read(&frame).unwrap()) < 2e-3);
    cover(&mut frame, 10);
    assert_eq!(read(&frame), Err(Lost::Marks(2)));
}

#[test]
fn what_is_no_chart_is_refused_for_its_reason() {
    let flat =
        Frame::new(640, 360, false, vec![0.4; 640 * 360 * 3], Info::new(Format::Png, Depth::Integer(8))).unwrap();
    assert_eq!(read(&flat), Err(Lost::Flat));
    let ramp: Vec<f32> = (0..640 * 360).flat_map(|i| [(i % 640) as f32 / 640.0; 3]).collect();
    let ramp = Frame::new(640, 360, false, ramp, Info::new(Format::Png, Depth::Integer(8))).unwrap();
    assert_eq!(read(&ramp), Err(Lost::Marks(0)));
    let mut broken = flat;
    broken.samples_mut().fill(f32::NAN);
    assert_eq!(read(&broken), Err(Lost::Flat));
    let tiny = warped(&drawn(1920, 1080), [384, 216], |x, y| [x * 5.0, y * 5.0]);
    assert!(read(&tiny).is_err());
}

#[test]
fn a_photograph_at_an_angle_is_known_by_its_corners() {
    let sheet = drawn(1280, 720);
    // Turned by a degree and a half about the middle; and narrower at the top.
    let (sin, cos) = (0.0262, 0.9997);
    let turned = warped(&sheet, [1400, 800], |x, y| {
        let (u, v) = (x - 700.0, y - 400.0);
        [640.0 + cos * u + sin * v, 360.0 - sin * u + cos * v]
    });
    let keystone = warped(&sheet, [1400, 800], |x, y| {
        let depth = 0.95 + 0.1 * y / 800.0;
        [640.0 + (x - 700.0) / depth, 360.0 + (y - 400.0) / depth]
    });
    for frame in [turned, keystone] {
        let reading = read(&frame).unwrap();
        assert!(reading.slant > SLANT, "{}", reading.slant);
        assert!(worst(&reading) < 0.01, "{}", worst(&reading));
        let photo = photograph(&reading);
        assert_eq!((photo.disordered, photo.lowest, photo.highest), (0, Some(0), Some(1023)));
    }
    // What a screen of legal range leaves of the scale.
    let mut clipped = sheet;
    clipped.samples_mut().iter_mut().for_each(|v| *v = ((*v - 64.0 / 1023.0) * 1023.0 / 876.0).clamp(0.0, 1.0));
    let photo = photograph(&read(&clipped).unwrap());
    assert_eq!((photo.lowest, photo.highest), (Some(64), Some(944)));
    let seen = |lowest, highest| Photograph { disordered: 0, greys: 66, lowest: Some(lowest), highest: Some(highest) };
    let full = seen(0, 1023);
    assert_eq!(photo.clipped(&full), Some("Both ends are clipped, as by a screen or a box of legal range"));
    assert!(seen(64, 1023).clipped(&full).is_some_and(|said| said.starts_with("Black is clipped")));
    assert!(seen(0, 944).clipped(&full).is_some_and(|said| said.starts_with("White is clipped")));
    // What the right picture does not show either is no fault.
    assert_eq!(photo.clipped(&seen(80, 944)), None);
    // A cube that changes nothing shows every step.
    let cube = crate::cube::Cube::sample(2, |rgb| rgb).unwrap();
    let bank = Bank { cubes: vec![Candidate::new("even", None, cube)] };
    assert_eq!(right(&bank), full);
}
