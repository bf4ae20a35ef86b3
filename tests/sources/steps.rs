//! The steps of a look against independent code (fixtures/reference/steps.csv, made by tests/reference/make/steps.py), and
//! their laws.

use nalgebra::Vector3;
use proptest::prelude::*;
use rushlight::adaptation::Adaptation;
use rushlight::chromaticity::Xy;
use rushlight::cube::{Cube, Interpolation};
use rushlight::gamut::{AP1, named_gamut};
use rushlight::math;
use rushlight::step::MID_GREY;
use rushlight::step::balance::Balance;
use rushlight::step::cdl::{Cdl, CdlNumbers};
use rushlight::step::compress::{Compress, PUBLISHED_LIMITS, PUBLISHED_POWER, PUBLISHED_THRESHOLDS};
use rushlight::step::contrast::Contrast;
use rushlight::step::cube::{LogSpace, SceneCube};
use rushlight::step::exposure::Exposure;
use rushlight::step::printer::{self, Printer};
use rushlight::step::saturation::Saturation;
use rushlight::step::tint::{Tint, TintSettings};
use rushlight::transfer::encoding;
use rushlight_tests::{Row, Worst, table};
use std::sync::Arc;

fn of_kind(kind: &str) -> Vec<Row> {
    let found: Vec<Row> = table("steps.csv").into_iter().filter(|row| row.text(0) == kind).collect();
    assert!(!found.is_empty(), "no rows of {kind}");
    found
}

/// The largest difference of the channels, relative to the largest channel where that is above 1.
fn apart(a: [f64; 3], b: [f64; 3]) -> f64 {
    let scale = b.iter().fold(1.0f64, |m, v| m.max(v.abs()));
    a.iter().zip(b).map(|(a, b)| (a - b).abs() / scale).fold(0.0, f64::max)
}

fn luminance(rgb: [f64; 3]) -> f64 {
    AP1.luminance_weights().dot(&Vector3::from(rgb))
}

fn stops(light: f64) -> f64 {
    math::log2(light / MID_GREY)
}

/// ASC CDL version 1.2 (2009), its formula written out in numpy; on scene light within colour-science's ACEScct.
#[test]
fn cdl_against_its_formula() {
    for (kind, tolerance) in [("cdl", 1e-14), ("cdl-scene", 1e-12)] {
        let mut worst = Worst::default();
        for row in of_kind(kind) {
            let p: [f64; 11] = row.numbers(7);
            let three = |from: usize| [p[from], p[from + 1], p[from + 2]];
            let numbers = CdlNumbers { slope: three(0), offset: three(3), power: three(6), saturation: p[9] };
            let cdl = Cdl::new(numbers, p[10] == 1.0).unwrap();
            let rgb = row.numbers(1);
            let out = if kind == "cdl" { cdl.correct(rgb) } else { cdl.apply(rgb) };
            worst.add(apart(out, row.numbers(4)), row);
        }
        worst.within(tolerance);
    }
}

/// Academy S-2020-001 (2020): its parameters, and its formula written out in numpy.
#[test]
fn compression_against_its_formula() {
    assert_eq!(PUBLISHED_LIMITS, [1.147, 1.264, 1.312]);
    assert_eq!(PUBLISHED_THRESHOLDS, [0.815, 0.803, 0.880]);
    assert_eq!(PUBLISHED_POWER, 1.2);
    let mut worst = Worst::default();
    for row in of_kind("compress") {
        let p: [f64; 7] = row.numbers(7);
        let step = Compress::new([p[0], p[1], p[2]], [p[3], p[4], p[5]], p[6]).unwrap();
        worst.add(apart(step.apply(row.numbers(1)), row.numbers(4)), row);
    }
    worst.within(1e-14);
}

#[test]
fn contrast_against_colour_science() {
    let mut worst = Worst::default();
    for row in of_kind("contrast") {
        let [amount, pivot] = row.numbers(7);
        worst.add(apart(Contrast::new(amount, pivot).unwrap().apply(row.numbers(1)), row.numbers(4)), row);
    }
    worst.within(1e-13);
}

#[test]
fn balance_against_colour_science() {
    for by in [Adaptation::Bradford, Adaptation::Cat02, Adaptation::Cat16, Adaptation::VonKries] {
        let mut worst = Worst::default();
        for row in of_kind(&format!("balance-{}", by.name())) {
            let [ax, ay, bx, by_] = row.numbers(7);
            let step = Balance::new(Xy::new(ax, ay), Xy::new(bx, by_), by).unwrap();
            worst.add(apart(step.apply(row.numbers(1)), row.numbers(4)), row);
        }
        worst.within(1e-13);
    }
}

/// Common practice, no source: a stop is a factor of two, twelve printer points are a stop.
#[test]
fn stops_and_points() {
    for n in -10..=10i32 {
        let factor = (0..n.abs()).fold(1.0, |f, _| if n > 0 { f * 2.0 } else { f / 2.0 });
        assert_eq!(Exposure::from_stops(f64::from(n)).unwrap().apply([0.18; 3]), [0.18 * factor; 3]);
    }
    assert_eq!(printer::PER_STOP.default, 12.0);
    let points = Printer::new([12.0, -24.0, 6.0], printer::PER_STOP.default).unwrap().apply([1.0; 3]);
    assert_eq!(points, [2.0, 0.25, 2.0f64.sqrt()]);
}

#[test]
fn an_identity_cube_is_no_step_and_a_cube_step_is_its_cube() {
    let curve = encoding("slog3").unwrap().build(None).unwrap();
    let space = LogSpace::new(curve, &named_gamut("sgamut3-cine").unwrap().gamut);
    let cube = |f: fn([f64; 3]) -> [f64; 3]| Arc::new(Cube::sample(17, f).unwrap());
    let step = |cube: &Arc<Cube>, interpolation, strength| {
        SceneCube::new(cube.clone(), interpolation, space.clone(), space.clone(), strength).unwrap()
    };
    let same = cube(|rgb| rgb);
    let turned = cube(|[r, g, b]| [0.8 * g + 0.1, b * b, r.sqrt()]);
    for interpolation in Interpolation::ALL {
        for signal in [[0.41, 0.41, 0.41], [0.3, 0.7, 0.5], [0.0, 1.0, 0.25]] {
            let scene = space.decode(signal);
            assert!(apart(step(&same, interpolation, 1.0).apply(scene), scene) < 1e-13);
            assert!(apart(step(&turned, interpolation, 0.0).apply(scene), scene) < 1e-13);
            let out = space.encode(step(&turned, interpolation, 1.0).apply(scene));
            // The log and the gamut cost what they cost: about 1e-15 of light each way, in signal.
            assert!(apart(out, turned.at(signal, interpolation)) < 1e-12, "{signal:?}");
        }
    }
    // Beyond its domain a cube gives its edge.
    let [low, high] = [space.decode([-0.2; 3]), space.decode([1.3; 3])];
    assert!(apart(step(&same, Interpolation::Tetrahedral, 1.0).apply(low), space.decode([0.0; 3])) < 1e-13);
    assert!(apart(step(&same, Interpolation::Tetrahedral, 1.0).apply(high), space.decode([1.0; 3])) < 1e-13);
}

/// Offsets that keep the order of lights: at most `width` / 1.5 stops between channels.
fn offsets(width: f64) -> impl Strategy<Value = [f64; 3]> {
    let most = (0.33 * width).min(2.0);
    [-most..most, -most..most, -most..most]
}

prop_compose! {
    fn tints()(shadow_width in 0.5..10.0f64, highlight_width in 0.5..10.0f64)(
        shadows in offsets(shadow_width),
        highlights in offsets(highlight_width),
        shadow_start in -6.0..=0.0f64,
        highlight_start in 0.0..=6.0f64,
        shadow_width in Just(shadow_width),
        highlight_width in Just(highlight_width),
    ) -> TintSettings {
        TintSettings {
            shadows, highlights, shadow_start, shadow_width, highlight_start, highlight_width,
            ..TintSettings::default()
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_tint_keeps_grey_luminance_and_order(settings in tints(), at in -12.0..12.0f64, up in 1e-3..1.0f64) {
        let tint = Tint::new(&settings).unwrap();
        prop_assert!(apart(tint.apply([MID_GREY; 3]), [MID_GREY; 3]) < 1e-16);
        let light = |stops: f64| MID_GREY * math::exp2(stops);
        let (low, high) = (tint.apply([light(at); 3]), tint.apply([light(at + up); 3]));
        prop_assert!((luminance(low) / light(at) - 1.0).abs() < 1e-14);
        prop_assert!((0..3).all(|i| low[i] < high[i]), "{low:?} {high:?}");
    }

    #[test]
    fn a_tint_is_full_beyond_its_zones(settings in tints(), beyond in 0.0..6.0f64) {
        let tint = Tint::new(&TintSettings { keep_luminance: false, ..settings }).unwrap();
        let shadow = settings.shadow_start - settings.shadow_width - beyond;
        let highlight = settings.highlight_start + settings.highlight_width + beyond;
        for (at, offsets) in [(shadow, settings.shadows), (highlight, settings.highlights)] {
            let out = tint.apply([MID_GREY * math::exp2(at); 3]);
            for i in 0..3 {
                prop_assert!((stops(out[i]) - at - offsets[i]).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn saturation_keeps_luminance_and_neutrals(amount in 0.0..2.0f64, r in -1.0..9.0f64, g in -1.0..9.0f64, b in -1.0..9.0f64) {
        let step = Saturation::new(amount).unwrap();
        prop_assert!((luminance(step.apply([r, g, b])) - luminance([r, g, b])).abs() < 2e-14);
        prop_assert!(apart(step.apply([g; 3]), [g; 3]) < 1e-14);
    }

    #[test]
    fn contrast_multiplies_stops_in_the_log_part(amount in 0.5..2.0f64, pivot in -2.0..2.0f64, at in -2.0..6.0f64) {
        let out = Contrast::new(amount, pivot).unwrap().apply([MID_GREY * math::exp2(at); 3])[1];
        let expected = pivot + amount * (at - pivot);
        // Below 2^-7 ACEScct is a line (Academy S-2016-001).
        prop_assume!(expected > -4.4);
        prop_assert!((stops(out) - expected).abs() < 1e-12);
    }

    #[test]
    fn compression_keeps_the_achromatic_and_the_order(a in 0.01..20.0f64, x in -20.0..20.0f64, up in 1e-6..1.0f64) {
        let step = Compress::published();
        let (low, high) = (step.apply([a, x.min(a), 0.5 * a]), step.apply([a, (x + up).min(a), 0.5 * a]));
        prop_assert_eq!(low[0], a);
        prop_assert!(low[1] <= high[1]);
        // Nothing lies further out than the curve's end.
        prop_assert!((low[0] - low[1]) / a < 1.4);
    }
}
