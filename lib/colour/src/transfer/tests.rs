//! Laws that every built-in encoding keeps. Published values are compared with in the crate of conformance tests.

use super::*;
use crate::math::exp2;
use proptest::prelude::*;
use std::sync::Arc;

/// Every built-in curve at every exposure index that has its own constants.
fn curves() -> Vec<(&'static Encoding, Arc<dyn Transfer>)> {
    let mut all = Vec::new();
    for encoding in encodings() {
        if encoding.ratings.is_empty() {
            all.push((encoding, encoding.build(None).unwrap()));
        }
        for &ei in encoding.ratings {
            all.push((encoding, encoding.build(Some(ei)).unwrap()));
        }
    }
    all
}

/// Where the two directions of published constants are not each other's inverse: signals about the jumps of those
/// curves that [`the_published_jumps`] lists by name, as far as the document's own threshold in signal.
fn near_jump(name: &str, curve: &dyn Transfer, signal: f64) -> bool {
    // N-Log's 452 lies 0.22 code above the signal at its break in light.
    let threshold = if name == "nlog" { 0.3 / 1023.0 } else { 1e-7 };
    curve.jumps().iter().any(|jump| {
        let width = jump.codes.abs() / 1023.0 + threshold;
        (signal - curve.encode(jump.light)).abs() <= width
    })
}

/// D-Log's two directions are rounded apart; ACEScc has one signal for all lights below zero.
fn invertible(name: &str, light: f64) -> bool {
    name != "dlog" && !(name == "acescc" && light < 0.0)
}

/// The range of lights that is walked: magnitudes from 2^-20 to 2^`top`.
fn top(light: Light) -> f64 {
    match light {
        Light::SceneReflectance => 10.0,
        Light::Nits => 16.0,
        Light::FractionOfWhite | Light::SceneFraction => 3.0,
    }
}

/// Lights of both signs, rising.
fn lights(light: Light) -> Vec<f64> {
    let steps = 1200;
    let magnitudes = (0..=steps).map(|i| exp2(-20.0 + (20.0 + top(light)) * f64::from(i) / f64::from(steps)));
    let mut all: Vec<f64> = magnitudes.collect();
    let mut below: Vec<f64> = all.iter().rev().map(|x| -x).collect();
    below.push(0.0);
    below.append(&mut all);
    below
}

#[test]
fn three_at_once_are_each_by_itself() {
    let odd = [0.0, -0.0, f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e-300, -1e300];
    for (encoding, curve) in curves() {
        let lights: Vec<f64> = lights(encoding.light).into_iter().chain(odd).collect();
        for three in lights.windows(3) {
            let three = [three[0], three[1], three[2]];
            let bits = |values: [f64; 3]| values.map(|v| if v.is_nan() { 0 } else { v.to_bits() });
            let signals = three.map(|l| curve.encode(l));
            assert_eq!(bits(curve.encode_each(three)), bits(signals), "{}: lights {three:?}", encoding.name);
            let again = signals.map(|v| curve.decode(v));
            assert_eq!(bits(curve.decode_each(signals)), bits(again), "{}: signals {signals:?}", encoding.name);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4096))]

    #[test]
    fn light_comes_back(which in 0..curves().len(), place in 0.0..1.0f64, negative: bool) {
        let (encoding, curve) = &curves()[which];
        let size = exp2(-20.0 + (20.0 + top(encoding.light)) * place);
        let light = if negative { -size } else { size };
        let signal = curve.encode(light);
        prop_assume!(invertible(encoding.name, light) && !near_jump(encoding.name, curve.as_ref(), signal));
        let back = curve.decode(signal);
        // PQ's exponents, 78.8 and 6.3, magnify rounding.
        let tolerance = if encoding.name == "pq" { 2e-12 } else { 1e-13 };
        let name = encoding.name;
        prop_assert!((back - light).abs() <= tolerance * (light.abs() + 1e-3), "{name}: {light} came back as {back}");
    }

    #[test]
    fn signal_comes_back(which in 0..curves().len(), signal in -0.3..1.3f64) {
        let (encoding, curve) = &curves()[which];
        let light = curve.decode(signal);
        prop_assume!(invertible(encoding.name, light) && !near_jump(encoding.name, curve.as_ref(), signal));
        // The cube root of N-Log stands upright at signal 0, where no double holds the light finely enough.
        prop_assume!(encoding.name != "nlog" || signal.abs() > 0.01);
        let tolerance = if encoding.name == "pq" { 1e-13 } else { 2e-15 };
        let back = curve.encode(light);
        prop_assert!((back - signal).abs() <= tolerance, "{}: {signal} came back as {back}", encoding.name);
    }
}

#[test]
fn dlog_comes_back_as_well_as_its_document_rounds() {
    let curve = encoding("dlog").unwrap().build(None).unwrap();
    for light in lights(Light::SceneReflectance).into_iter().filter(|light| !(0.007..0.009).contains(light)) {
        let back = curve.decode(curve.encode(light));
        assert!((back - light).abs() <= 7e-6 * light.abs() + 1e-15, "{light} came back as {back}");
    }
}

#[test]
fn acescc_gives_one_signal_below_zero_as_its_document_says() {
    let curve = encoding("acescc").unwrap().build(None).unwrap();
    for light in [-1e-9, -1.0, -1e30] {
        assert_eq!(curve.encode(light), curve.encode(0.0));
    }
    assert!(curve.decode(curve.encode(0.0)).abs() < 1e-19);
}

#[test]
fn both_directions_rise() {
    for (encoding, curve) in curves() {
        let rising = |x: &f64| !(encoding.name == "acescc" && *x < 0.0);
        let lights: Vec<f64> = lights(encoding.light).into_iter().filter(rising).collect();
        for pair in lights.windows(2) {
            let (below, above) = (curve.encode(pair[0]), curve.encode(pair[1]));
            let falls =
                curve.jumps().iter().any(|jump| jump.codes < 0.0 && pair[0] < jump.light && pair[1] >= jump.light);
            assert!(above > below || falls, "{}: {below} at {}, {above} at {}", encoding.name, pair[0], pair[1]);
        }
        let mut last = f64::NEG_INFINITY;
        for i in -400..=1600 {
            let light = curve.decode(f64::from(i) * 1e-3);
            // ACEScc comes to rest at -2^-15 in the far negatives.
            assert!(light > last, "{}: light {light} at signal {}", encoding.name, f64::from(i) * 1e-3);
            last = light;
        }
    }
}

#[test]
fn no_finite_number_gives_nan_and_nan_gives_nan() {
    let sizes = [0.0, f64::MIN_POSITIVE, 1e-300, 1e-9, 0.5, 1.0, 1.9934, 2.0, 1e3, 1e9, 1e30, 1e300, f64::MAX];
    for (encoding, curve) in curves() {
        for x in sizes.into_iter().flat_map(|x| [x, -x]) {
            assert!(!curve.encode(x).is_nan(), "{}: light {x}", encoding.name);
            assert!(!curve.decode(x).is_nan(), "{}: signal {x}", encoding.name);
        }
        assert!(curve.encode(f64::NAN).is_nan(), "{}", encoding.name);
        assert!(curve.decode(f64::NAN).is_nan(), "{}", encoding.name);
    }
}

/// The steps that the published constants leave, by name; every other curve is continuous. Sizes in code values of 10
/// bits, computed here from the documents' constants in other arithmetic (60 digits).
#[test]
fn the_published_jumps() {
    let expected = [
        ("vlog", vec![-0.00031839]),
        ("canon-log3", vec![2.6226e-6, 2.6226e-6]),
        ("nlog", vec![0.12954540]),
        ("flog", vec![-0.10325790]),
        ("flog2", vec![-3.6274e-5]),
        ("llog", vec![-0.92021568]),
        ("dlog", vec![0.00206134]),
        ("srgb", vec![-2.9173e-5]),
        ("hlg", vec![4.8126e-7]),
        ("bt709-oetf", vec![0.25364675]),
    ];
    let mut found = Vec::new();
    for (encoding, curve) in curves() {
        let jumps: Vec<f64> = curve.jumps().iter().map(|jump| jump.codes).collect();
        if encoding.name == "logc3" {
            assert!(jumps.len() == 1 && jumps[0].abs() < 0.00095, "{jumps:?}");
        } else if !jumps.is_empty() {
            found.push((encoding.name, jumps));
        }
    }
    assert_eq!(found.len(), expected.len(), "{found:?}");
    for ((name, jumps), (expected_name, codes)) in found.iter().zip(&expected) {
        assert_eq!((name, jumps.len()), (expected_name, codes.len()));
        for (jump, codes) in jumps.iter().zip(codes) {
            assert!((jump / codes - 1.0).abs() < 2e-5, "{name}: {jump}, expected {codes}");
        }
    }
}

#[test]
fn names_are_unique_and_found() {
    let names: Vec<&str> = encodings().iter().map(|encoding| encoding.name).collect();
    let listed = "acescc acescct logc3 logc4 slog2 slog3 vlog canon-log canon-log2 canon-log3 nlog flog flog2 log3g10 \
                  llog dlog linear bt1886 srgb gamma22 gamma24 gamma26 pq hlg bt709-oetf";
    assert_eq!(names, listed.split_whitespace().collect::<Vec<_>>());
    for name in names {
        assert_eq!(encoding(name).unwrap().name, name);
    }
    assert!(encoding("S-Log3").is_none());
}

#[test]
fn exposure_indices_are_checked() {
    let logc3 = encoding("logc3").unwrap();
    let refused = logc3.build(Some(850)).unwrap_err();
    assert_eq!(refused.key, "ei");
    assert!(refused.message.contains("160, 200, 250, 320, 400, 500, 640, 800, 1000, 1280, 1600"), "{refused}");
    assert!(refused.message.contains("850"), "{refused}");
    let refused = encoding("slog3").unwrap().build(Some(800)).unwrap_err();
    assert!(refused.key == "ei" && refused.message.contains("800"), "{refused}");
    assert_eq!(logc3.build(None).unwrap().encode(0.18), logc3.build(Some(800)).unwrap().encode(0.18));
    for encoding in encodings() {
        assert_eq!(encoding.base_rating.is_some(), !encoding.ratings.is_empty());
    }
}

#[test]
fn a_display_with_black_lifts_it() {
    let display = bt1886::Bt1886::new(100.0, 0.1).unwrap();
    assert!((display.decode(0.0) - 0.001).abs() < 1e-16);
    assert!((display.decode(1.0) - 1.0).abs() < 1e-15);
    for i in -50..=150 {
        let signal = f64::from(i) * 0.01;
        assert!((display.encode(display.decode(signal)) - signal).abs() < 1e-14, "{signal}");
    }
    let plain = bt1886::Bt1886::new(bt1886::Bt1886::WHITE, bt1886::Bt1886::BLACK).unwrap();
    assert_eq!(plain, bt1886::Bt1886::default());
    assert_eq!(plain.decode(0.5), gamma::GAMMA24.decode(0.5));
    for (white, black, key) in
        [(0.0, 0.0, "white"), (f64::NAN, 0.0, "white"), (100.0, 100.0, "black"), (100.0, f64::NAN, "black")]
    {
        assert_eq!(bt1886::Bt1886::new(white, black).unwrap_err()[0].key, key);
    }
}

#[test]
fn hlg_displays_invert() {
    for (peak, black) in [(1000.0, 0.0), (1000.0, 0.05), (400.0, 0.01), (2000.0, 0.005), (100.0, 0.0)] {
        let display = hlg::HlgDisplay::new(peak, black).unwrap();
        let white = display.eotf([1.0; 3])[0];
        // The printed constants give 1 + 2.4e-8 of scene light at a signal of 1.
        assert!((white / peak - 1.0).abs() < 4e-8, "{white}");
        assert!((display.eotf([0.0; 3])[1] - black).abs() < 1e-12 * peak);
        for signal in [[0.1, 0.45, 0.9], [0.75, 0.75, 0.75], [0.0, 0.0, 1.0], [-0.05, 0.4, 0.2], [1.05, 1.0, 0.3]] {
            let back = display.inverse_eotf(display.eotf(signal));
            for (back, signal) in back.into_iter().zip(signal) {
                assert!((back - signal).abs() < 1e-12, "{signal} came back as {back}");
            }
        }
        assert_eq!(display.ootf([0.0; 3]), [0.0; 3]);
        assert_eq!(display.inverse_ootf([0.0; 3]), [0.0; 3]);
        assert!(display.eotf([f64::NAN, 0.5, 0.5])[0].is_nan());
    }
    assert_eq!(hlg::HlgDisplay::new(1000.0, 0.0).unwrap(), hlg::HlgDisplay::default());
    assert_eq!(hlg::HlgDisplay::new(50.0, 0.0).unwrap_err()[0].key, "peak");
    assert_eq!(hlg::HlgDisplay::new(1000.0, 20.0).unwrap_err()[0].key, "black");
}
