use super::*;
use crate::display::standard;
use crate::frame::{Depth, Format, Info};
use crate::gamut::{AP1, CATALOGUE, named_gamut};
use crate::look;
use crate::math::{exp2, pow};
use crate::test_show::NIGHT;
use crate::transfer::slog3::S_LOG3;
use crate::transform::function;
use std::collections::BTreeMap;

fn look() -> Look {
    look::parse("night.toml", NIGHT, &BTreeMap::new()).unwrap()
}

fn display() -> Display {
    Display::of(standard("bt709").unwrap())
}

fn camera() -> Camera {
    let gamut = &named_gamut("sgamut3-cine").unwrap().gamut;
    Camera::new(Arc::new(S_LOG3), gamut, None, Range::Full, Vec::new()).unwrap()
}

fn frame(format: Format, alpha: bool, samples: Vec<f32>) -> Frame {
    let channels = if alpha { 4 } else { 3 };
    let depth = if format == Format::Exr { Depth::Float } else { Depth::Integer(16) };
    Frame::new(samples.len() / channels, 1, alpha, samples, Info::new(format, depth)).unwrap()
}

/// A transform that is not linear and has no black at zero.
fn bend() -> Transform {
    Transform::of(function(|rgb| rgb.map(|v| 0.1 + 0.8 * pow(v.abs(), 0.5))))
}

#[test]
fn the_exact_transform_is_the_pipeline() {
    let pipeline = Pipeline::new(&camera(), &look(), &display()).unwrap();
    let signal: Vec<f32> = (0..300).map(|i| (i * 37 % 100) as f32 / 99.0).collect();
    let mut frame = frame(Format::Png, false, signal.clone());
    Transform::exact(pipeline.clone()).frame(&mut frame);
    for (rgb, out) in signal.chunks_exact(3).zip(frame.pixels()) {
        let want = pipeline.apply([rgb[0], rgb[1], rgb[2]].map(f64::from));
        assert_eq!(out, want.map(|v| v as f32));
    }
}

#[test]
fn what_a_cube_strays_by_is_measured() {
    let pipeline = Pipeline::new(&camera(), &look(), &display()).unwrap();
    let exact = Transform::exact(pipeline.clone());
    let signal: Vec<f32> = (0..30_000).map(|i| 0.1 + 0.6 * (i * 7919 % 9973) as f32 / 9973.0).collect();
    let mut strays = [Deviation::default(); 2];
    for (points, strays) in [9, 33].into_iter().zip(&mut strays) {
        let mut frame = frame(Format::Png, false, signal.clone());
        let before = SampledPixels::of(&frame);
        Transform::sampled(&pipeline, points, Interpolation::Tetrahedral).unwrap().frame(&mut frame);
        strays.add(&exact, &before, &frame);
    }
    assert!(strays[0].pixels > 200 && strays[0].pixels == strays[1].pixels);
    // Second order in the distance of the nodes: sixteen times, less what lies on bends.
    assert!(strays[1].mean() > 0.0 && strays[0].mean() > 6.0 * strays[1].mean(), "{strays:?}");
    assert!(strays[1].max >= strays[1].mean());
}

#[test]
fn light_goes_where_the_same_light_of_a_camera_goes() {
    let from = &CATALOGUE.iter().find(|g| g.name == "sgamut3-cine").unwrap().gamut;
    let (look, display) = (look(), display());
    let camera = Pipeline::new(&camera(), &look, &display).unwrap();
    let light = from_light(from, &look, &display).unwrap();
    // Every level from 7 stops under mid-grey to 5 over, with a cast of up to a stop.
    let stops = |i: u32| f64::from(i / 3 % 13) - 7.0 + 0.5 * f64::from(i % 3) - 0.04 * f64::from(i / 39);
    let pixels: Vec<f32> = (0..390).map(|i| (0.18 * exp2(stops(i))) as f32).collect();
    let mut exact = frame(Format::Exr, false, pixels.clone());
    Transform::exact_light(light.clone()).frame(&mut exact);
    for (rgb, out) in pixels.chunks_exact(3).zip(exact.pixels()) {
        let signal = [rgb[0], rgb[1], rgb[2]].map(|v| S_LOG3.encode(f64::from(v)));
        let want = camera.apply(signal);
        for c in 0..3 {
            assert!((f64::from(out[c]) - want[c]).abs() < 1e-6, "{rgb:?}: {out:?} for {want:?}");
        }
    }
    let mut sampled = frame(Format::Exr, false, pixels);
    Transform::sampled_light(&light, LIGHT_POINTS, Interpolation::Tetrahedral).unwrap().frame(&mut sampled);
    for (a, b) in sampled.samples().iter().zip(exact.samples()) {
        assert!((a - b).abs() < 6e-3, "{a} for {b}");
    }
}

#[test]
fn no_number_and_no_end_come_out_finite() {
    let light = from_light(&AP1, &look(), &display()).unwrap();
    let pipeline = Pipeline::new(&camera(), &look(), &display()).unwrap();
    let kind = Interpolation::Tetrahedral;
    let all = [
        Transform::sampled(&pipeline, 5, kind).unwrap(),
        Transform::exact(pipeline),
        Transform::sampled_light(&light, 5, kind).unwrap(),
        Transform::exact_light(light),
    ];
    for transform in all {
        let strange = vec![f32::NAN, f32::INFINITY, f32::NEG_INFINITY, f32::MAX, f32::MIN, 0.0];
        let mut frame = frame(Format::Exr, false, strange);
        transform.frame(&mut frame);
        assert!(frame.samples().iter().all(|v| v.is_finite()), "{transform:?}: {:?}", frame.samples());
    }
}

#[test]
fn alpha_is_kept_and_divided_out_where_colour_holds_it() {
    let colours = [[0.25, 0.5, 0.75, 0.5], [0.2, 0.4, 0.6, 1.0], [0.3, 0.1, 0.2, 0.25]];
    let plain: Vec<f32> = colours.concat();
    let held: Vec<f32> = colours.iter().flat_map(|[r, g, b, a]| [r * a, g * a, b * a, *a]).collect();
    let (mut png, mut exr) = (frame(Format::Png, true, plain), frame(Format::Exr, true, held));
    bend().frame(&mut png);
    bend().frame(&mut exr);
    for ((a, b), colour) in png.samples().chunks_exact(4).zip(exr.samples().chunks_exact(4)).zip(colours) {
        assert_eq!((a[3], b[3]), (colour[3], colour[3]));
        for c in 0..3 {
            let want = 0.1 + 0.8 * colour[c].sqrt();
            assert!((a[c] - want).abs() < 1e-6 && (b[c] - want * colour[3]).abs() < 1e-6);
        }
    }
    exr.associate(false);
    for (a, b) in exr.samples().iter().zip(png.samples()) {
        assert!((a - b).abs() < 1e-6);
    }
    // Nothing stays nothing; light without alpha goes through as it stands.
    let mut exr = frame(Format::Exr, true, vec![0.0, 0.0, 0.0, 0.0, 0.25, 0.25, 0.25, 0.0]);
    bend().frame(&mut exr);
    assert_eq!(exr.samples(), [0.0, 0.0, 0.0, 0.0, 0.5, 0.5, 0.5, 0.0]);
}
