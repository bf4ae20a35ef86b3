//! The film-print-style tone map: what must hold.

use nalgebra::{Matrix3, Vector3};
use proptest::prelude::*;
use rushlight::chromaticity::{ACES, D65, DCI, Xy};
use rushlight::gamut::{AP1, BT709, BT2020};
use rushlight::invalid::Parameter;
use rushlight::math::{atan2, exp2, log2};
use rushlight::step::print::{Print, PrintSettings, VARIANTS, parameters};
use rushlight_tests::print::{HIGH_RANGE, difference, fixture, lab, strong_colours, three, to_ap1};

fn compiled(settings: PrintSettings, peak: f64) -> Print {
    Print::new(&settings, D65, peak).unwrap()
}

fn neutral() -> Print {
    compiled(PrintSettings::default(), 1.0)
}

/// Every variant in standard and high range.
fn variants() -> Vec<(String, Print)> {
    let of = |peak: f64| VARIANTS.iter().map(move |v| (format!("{} at {peak:.2}", v.name), compiled(v.settings, peak)));
    [1.0, HIGH_RANGE].into_iter().flat_map(of).collect()
}

/// The variants, and the ends of what moves colours most.
fn many() -> Vec<(String, Print)> {
    let mut all = variants();
    let plain = PrintSettings::default();
    for peak in [1.0, HIGH_RANGE] {
        for crosstalk in [0.0, 0.02, parameters::CROSSTALK.max] {
            for colour in [0.0, 0.5, parameters::COLOUR.max] {
                let settings = PrintSettings { crosstalk, colour, ..plain };
                all.push((format!("crosstalk {crosstalk}, colour {colour} at {peak:.2}"), compiled(settings, peak)));
            }
        }
        for kelvin in [parameters::KELVIN.min, parameters::KELVIN.max] {
            all.push((format!("{kelvin} K at {peak:.2}"), compiled(PrintSettings { kelvin, ..plain }, peak)));
        }
    }
    all
}

fn case(name: &str) -> Print {
    let plain = PrintSettings::default();
    match name {
        "default" => neutral(),
        "high-range" => compiled(plain, HIGH_RANGE),
        "bare-dyes" => compiled(PrintSettings { hue: 0.0, ..plain }, 1.0),
        "full-hue" => compiled(PrintSettings { hue: 1.0, ..plain }, HIGH_RANGE),
        "everything" => {
            let settings = PrintSettings {
                exposure: 0.5,
                grey: 0.12,
                contrast: 2.6,
                toe: 0.9,
                shoulder: 1.2,
                black: 3.1,
                colour: 0.8,
                hue: 0.5,
                crosstalk: 0.08,
                lights: [28.0, 25.0, 21.0],
                kelvin: 4300.0,
                flare: 0.004,
                ..plain
            };
            Print::new(&settings, DCI, 1.0).unwrap()
        }
        other => panic!("no case {other}"),
    }
}

/// Against an independent transcription in numpy (tests/reference/make/print_model.py), which solves the dyes at each colour
/// and sums plainly with colour-science's observer.
#[test]
fn an_independent_transcription_agrees() {
    let mut worst = 0.0_f64;
    let rows = fixture("print.csv");
    for name in ["default", "high-range", "bare-dyes", "full-hue", "everything"] {
        let print = case(name);
        for row in rows.iter().filter(|row| row[0] == name) {
            let (got, want) = (print.render(three(row, 1)), three(row, 4));
            for k in 0..3 {
                worst = worst.max((got[k] - want[k]).abs());
            }
        }
    }
    println!("transcription: worst {worst:.1e} in XYZ over {} colours", rows.len());
    assert!(rows.len() > 500 && worst < 5e-9, "{worst:e}");
}

/// The sum over every 10 nm against every 1 nm, both by the transcription.
#[test]
fn ten_nanometres_are_close_to_one() {
    let mut differences: Vec<f64> = Vec::new();
    for row in fixture("print.csv").iter().filter(|row| row[0] == "default") {
        differences.push(difference(three(row, 4), three(row, 7)));
    }
    let (chart, _) = differences.split_at(24 * 4);
    let mean = |all: &[f64]| all.iter().sum::<f64>() / all.len() as f64;
    let max = |all: &[f64]| all.iter().copied().fold(0.0, f64::max);
    println!(
        "10 nm against 1 nm: chart mean {:.3} max {:.3}; all {:.3} {:.3}",
        mean(chart),
        max(chart),
        mean(&differences),
        max(&differences)
    );
    assert!(mean(chart) < 0.015 && max(chart) < 0.13, "{} {}", mean(chart), max(chart));
    assert!(mean(&differences) < 0.03 && max(&differences) < 0.28);
}

/// Chroma and hue of a published 24-patch chart (averaged reflectances under D65) against the patches' own colours: with
/// the default print, then over the whole range of crosstalk, between the rows of the interlayer table too.
#[test]
fn a_chart_keeps_its_hues_and_chromas() {
    let rows = fixture("chart24.csv");
    assert_eq!(rows.len(), 24);
    for i in 0..=20 {
        let crosstalk = f64::from(i) * 0.005;
        let print = compiled(PrintSettings { crosstalk, ..PrintSettings::default() }, 1.0);
        let (mut ratios, mut shifts) = (Vec::new(), Vec::new());
        for row in &rows[..18] {
            let [_, a, b] = lab(three(row, 1), D65);
            let [_, pa, pb] = lab(print.render(three(row, 4)), D65);
            ratios.push(((pa * pa + pb * pb) / (a * a + b * b)).sqrt());
            // The angle between the two, from their cross and dot products.
            shifts.push(atan2(a * pb - b * pa, a * pa + b * pb).abs().to_degrees());
        }
        let [dark_skin, light_skin] = [ratios[0], ratios[1]];
        ratios.sort_by(f64::total_cmp);
        let (low, median, high) = (ratios[0], 0.5 * (ratios[8] + ratios[9]), ratios[17]);
        let mean = shifts.iter().sum::<f64>() / 18.0;
        let max = shifts.iter().copied().fold(0.0, f64::max);
        println!(
            "chart at crosstalk {crosstalk}: chroma ratio median {median:.3} ({low:.2} to {high:.2}), hue mean {mean:.2} \
             max {max:.1} degrees; light skin {light_skin:.3}, dark skin {dark_skin:.3}"
        );
        assert!((0.97..1.03).contains(&median) && low > 0.75 && high < 1.21, "{crosstalk}: {low} {median} {high}");
        assert!((light_skin - 1.0).abs() < 0.03 && dark_skin < 1.21, "{crosstalk}: {light_skin} {dark_skin}");
        assert!(mean < 2.7 && max < 7.4, "{crosstalk}: {mean} {max}");
        if crosstalk == PrintSettings::default().crosstalk {
            assert!((median - 0.989).abs() < 0.005 && low > 0.8 && mean < 1.6 && max < 5.0);
        }
    }
    // Without interlayer effects, much of the chroma is lost: what they are for.
    let bare = compiled(PrintSettings { colour: 0.0, ..PrintSettings::default() }, 1.0);
    let lost = rows[..18].iter().filter(|row| {
        let ([_, a, b], [_, pa, pb]) = (lab(three(row, 1), D65), lab(bare.render(three(row, 4)), D65));
        pa * pa + pb * pb < 0.75 * 0.75 * (a * a + b * b)
    });
    assert!(lost.count() > 12);
}

#[test]
fn greys_are_neutral_and_rise() {
    for (name, print) in many() {
        // The variant that is meant to be warm.
        let neutral = !name.starts_with("rich");
        let mut last = 0.0;
        let mut worst = 0.0_f64;
        for i in -1000..=1000 {
            let light = 0.18 * exp2(f64::from(i) * 0.01);
            let xyz = print.render([light; 3]);
            assert!(xyz[1] > last, "{name}: {i}");
            last = xyz[1];
            let [_, a, b] = lab(xyz, D65);
            worst = worst.max(a.abs()).max(b.abs());
        }
        assert!(if neutral { worst < 1e-3 } else { (1.0..8.0).contains(&worst) }, "{name}: {worst}");
    }
}

#[test]
fn white_is_the_displays_and_black_is_clean() {
    let print = neutral();
    let white = print.render([1e6; 3]);
    let want = D65.to_xyz(1.0);
    assert!((0..3).all(|k| (white[k] - want[k]).abs() < 1e-6), "{white:?}");
    let black = print.render([0.0; 3]);
    println!("black {:.6} of white, ten stops under grey {:.6}", black[1], print.render([0.18 / 1024.0; 3])[1]);
    assert!(black[1] > 0.0 && black[1] < 1.0 / 3000.0, "{black:?}");
}

fn strategy() -> impl Strategy<Value = (PrintSettings, f64)> {
    let range = |p: Parameter| p.min..=p.max;
    let tone = (
        range(parameters::GREY),
        range(parameters::CONTRAST),
        range(parameters::TOE),
        range(parameters::SHOULDER),
        range(parameters::BLACK),
    );
    let colour = (range(parameters::COLOUR), range(parameters::CROSSTALK), range(parameters::KELVIN));
    (tone, colour, range(parameters::FLARE), 1.0..=50.0).prop_map(|(tone, colour, flare, peak)| {
        let (grey, contrast, toe, shoulder, black) = tone;
        let (colour, crosstalk, kelvin) = colour;
        let plain = PrintSettings::default();
        (PrintSettings { grey, contrast, toe, shoulder, black, colour, crosstalk, kelvin, flare, ..plain }, peak)
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn mid_grey_lands_whatever_is_set((settings, peak) in strategy()) {
        let print = compiled(settings, peak);
        let xyz = print.render([0.18; 3]);
        prop_assert!((xyz[1] - settings.grey).abs() < 1e-6, "{} for {}", xyz[1], settings.grey);
        let mut last = print.render([0.0; 3])[1];
        for i in -100..=100 {
            let y = print.render([0.18 * exp2(f64::from(i) * 0.1); 3])[1];
            prop_assert!(y > last, "{i}: {y} after {last}");
            last = y;
        }
        let white = print.render([1e9; 3])[1];
        prop_assert!(white < peak * (1.0 + 1e-6), "white {white} over the peak {peak}");
    }

    #[test]
    fn any_finite_light_gives_finite_light(
        (settings, peak) in strategy(),
        light in prop::array::uniform3(prop_oneof![
            -1e3..1e3f64, -1e30..1e30f64, Just(0.0), Just(-1e30), Just(1e30), Just(f64::MAX), Just(-f64::MAX), Just(1e-320),
        ]),
        lights in prop::array::uniform3(0.0..=50.0f64),
        exposure in -10.0..=10.0f64,
    ) {
        let print = compiled(PrintSettings { lights, exposure, ..settings }, peak);
        let xyz = print.render(light);
        prop_assert!(xyz.iter().all(|v| v.is_finite()) && xyz[1] > 0.0, "{xyz:?}");
    }
}

/// Luminance of strong lights, raised from 6 stops under mid-grey to 8 over in steps of 1/100 stop: it never falls, at
/// the ends of what may be set either.
#[test]
fn raised_lights_get_brighter() {
    let least = |print: &Print| {
        let mut least = f64::INFINITY;
        for colour in strong_colours() {
            let mut last = 0.0;
            for i in -600..=800 {
                let y = print.render((colour * (0.18 * exp2(f64::from(i) * 0.01))).into())[1];
                least = least.min(y / last - 1.0);
                last = y;
            }
        }
        least
    };
    for (name, print) in many() {
        let least = least(&print);
        println!("raised lights, {name}: {least:.1e} a step at least");
        assert!(least > 0.0, "{name}: {least:e}");
    }
}

#[test]
fn a_raised_blue_never_loses_luminance() {
    let blue = to_ap1(&BT2020) * Vector3::z();
    for (name, print) in many() {
        let mut last = 0.0;
        let (mut low, mut high, mut hue) = (f64::INFINITY, f64::NEG_INFINITY, None::<f64>);
        for i in -4000..=8000 {
            let xyz = print.render((blue * (0.18 * exp2(f64::from(i) * 0.001))).into());
            assert!(xyz[1] > last, "{name}: loses at {i}");
            last = xyz[1];
            let [_, a, b] = lab(xyz, D65);
            let angle = atan2(b, a).to_degrees();
            let turned = hue.map_or(angle, |h| h + (angle - h + 540.0).rem_euclid(360.0) - 180.0);
            (low, high, hue) = (low.min(turned), high.max(turned), Some(turned));
        }
        println!("{name}: blue's hue spans {:.0} degrees", high - low);
        assert!(high - low < 40.0, "{name}: {}", high - low);
    }
}

/// Hues of `matrix`'s gamut, pure, as AP1 with a largest component of one in the gamut's own light.
fn wheel(hues: u32) -> impl Iterator<Item = Vector3<f64>> {
    (0..hues).map(move |hue| {
        let t = 6.0 * f64::from(hue) / f64::from(hues);
        let ramp = |phase: f64| (((t + phase).rem_euclid(6.0) - 3.0).abs() - 1.0).clamp(0.0, 1.0);
        Vector3::new(ramp(0.0), ramp(4.0), ramp(2.0))
    })
}

/// Scene colours of one luminance, from grey outwards to the edge of BT.709 and of BT.2020, in standard range.
///
/// From two stops over mid-grey up, every pure colour comes out darker than grey, and none on the way more than 2.5 %
/// brighter (next to grey a hue cannot but gain what its complement loses); a stop over, the mean pure colour is darker
/// by a tenth and more, and no colour brighter by 7.5 %: there the interlayer effects are strongest, for skin. Five stops
/// over, a pure colour is on its way to white, where film puts it too, and its mean comes to 0.91 of grey. In the dark a
/// pure hue outshines grey on any contrasty print, since its own layer sits higher: the test after this one is about
/// that.
#[test]
fn stronger_colours_are_denser() {
    let weights = AP1.luminance_weights();
    for v in VARIANTS {
        let print = compiled(v.settings, 1.0);
        for stops in 1..=5 {
            let level = 0.18 * exp2(f64::from(stops));
            let grey = print.render([level; 3])[1];
            let (mut brightest, mut brightest_pure, mut mean) = (0.0_f64, 0.0_f64, 0.0);
            for gamut in [BT709, BT2020] {
                for pure in wheel(48) {
                    let edge = to_ap1(&gamut) * pure;
                    let edge = edge / weights.dot(&edge);
                    let at = |share: f64| {
                        let colour = (Vector3::repeat(1.0) * (1.0 - share) + edge * share) * level;
                        print.render(colour.into())[1] / grey
                    };
                    brightest = (1..=50).map(|s| at(f64::from(s) * 0.02)).fold(brightest, f64::max);
                    brightest_pure = brightest_pure.max(at(1.0));
                    mean += at(1.0) / 96.0;
                }
            }
            println!(
                "density, {}, {stops} over: pure mean {mean:.3} of grey, at most {brightest_pure:.3}, any {brightest:.3}",
                v.name
            );
            let most = match stops {
                1 => 0.9,
                5 => 0.91,
                _ => 0.85,
            };
            assert!(mean < most, "{} at {stops}: {mean}", v.name);
            assert!(brightest_pure < 1.0 || stops == 1, "{} at {stops}: {brightest_pure}", v.name);
            assert!(brightest < if stops == 1 { 1.08 } else { 1.025 }, "{} at {stops}: {brightest}", v.name);
        }
    }
}

/// Pure and half-pure hues of BT.709 against the neutral curve on each channel by itself, in stops: as dense or denser on
/// average, and never a third of a stop brighter up to two stops over mid-grey.
#[test]
fn strong_colours_are_denser_than_a_curve_per_channel() {
    let (matrix, weights) = (to_ap1(&BT709), BT709.luminance_weights());
    for (name, print) in variants() {
        for stops in -4..=3 {
            let level = 0.18 * exp2(f64::from(stops));
            let mut all: Vec<f64> = Vec::new();
            for pure in wheel(24) {
                for colour in [pure, pure * 0.5 + Vector3::repeat(0.25)] {
                    let colour = colour * level;
                    let plain = weights.dot(&colour.map(|v| print.scale().light(v / 0.18)));
                    all.push(log2(print.render((matrix * colour).into())[1] / plain));
                }
            }
            let mean = all.iter().sum::<f64>() / all.len() as f64;
            let max = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            println!("per channel, {name}, {stops}: mean {mean:.2} max {max:.2} stops");
            let bounds = match stops {
                // There a channel by itself has ended, and a print with a long shoulder goes on.
                3.. => (0.08, 0.6),
                1.. => (0.05, 0.33),
                _ => (0.03, 0.32),
            };
            assert!(mean < bounds.0 && max < bounds.1, "{name} at {stops}: {mean} {max}");
        }
    }
}

/// The hue guard changes no luminance and no grey, whatever its strength.
#[test]
fn the_hue_guard_keeps_luminance_and_greys() {
    for peak in [1.0, HIGH_RANGE] {
        let with = |hue: f64| compiled(PrintSettings { hue, ..PrintSettings::default() }, peak);
        let bare = with(0.0);
        for print in [with(0.3), with(0.85), with(1.0)] {
            for colour in strong_colours() {
                for stops in -6..=8 {
                    let light: [f64; 3] = (colour * (0.18 * exp2(f64::from(stops)))).into();
                    let (got, want) = (print.render(light)[1], bare.render(light)[1]);
                    assert!((got - want).abs() < 1e-12 * peak, "{light:?}: {got} for {want}");
                }
            }
            for stops in -10..=10 {
                let grey = [0.18 * exp2(f64::from(stops)); 3];
                let (got, want) = (print.render(grey), bare.render(grey));
                assert!((0..3).all(|k| (got[k] - want[k]).abs() < 1e-9 * peak), "{stops}: {got:?} for {want:?}");
            }
        }
    }
}

/// A blue LED (band at 450 nm) from two stops under mid-grey to five over: the dyes alone turn it to violet.
#[test]
fn a_neon_blue_stays_blue() {
    let band = rushlight::spectrum::gaussian(450.0, 20.0).unwrap().to_xyz();
    let ap1 = AP1.from_xyz() * rushlight::adaptation::Adaptation::Bradford.matrix(D65, ACES) * band;
    let unit = rushlight::step::compress::Compress::published().apply((ap1 * (0.18 / ap1.max())).into());
    for variant in VARIANTS {
        let turn = |hue: f64| {
            let print = compiled(PrintSettings { hue, ..variant.settings }, 1.0);
            let angles: Vec<f64> = (-8..=20)
                .map(|quarter| {
                    let [_, a, b] =
                        rushlight::oklab::oklab(print.render(unit.map(|c| c * exp2(f64::from(quarter) / 4.0)))).0;
                    atan2(b, a).to_degrees()
                })
                .collect();
            angles.iter().copied().fold(f64::NEG_INFINITY, f64::max)
                - angles.iter().copied().fold(f64::INFINITY, f64::min)
        };
        println!("{}: {:.1} degrees, {:.1} by the dyes alone", variant.name, turn(0.85), turn(0.0));
        assert!(turn(0.85) < 15.0 && turn(0.0) > 20.0, "{}: {} {}", variant.name, turn(0.85), turn(0.0));
    }
}

/// The dyes are one-to-one: the determinant of d XYZ / d amounts keeps its sign over the whole cube of amounts. It is
/// smallest at the densest corner, which a deep black under a blue lamp moves out.
#[test]
fn the_dyes_do_not_fold() {
    for (name, print) in many() {
        let (low, high) = print.dyes().span();
        let mut least = f64::INFINITY;
        for i in 0..=24 {
            for j in 0..=24 {
                for k in 0..=24 {
                    let at = Vector3::new(f64::from(i), f64::from(j), f64::from(k)) / 24.0;
                    let amounts = low + (high - low).component_mul(&at);
                    let (light, slopes) = print.projector().light_and_slopes(&amounts);
                    // Relative to each of X, Y and Z, or dense colours would all look singular.
                    let relative = Matrix3::from_fn(|r, c| slopes[(r, c)] / light[r]);
                    least = least.min(-relative.determinant());
                }
            }
        }
        assert!(least > 3e-4, "{name}: {least}");
    }
}

#[test]
fn printer_lights_tint_and_exposure_moves_grey() {
    let red = compiled(PrintSettings { lights: [30.0, 25.0, 25.0], ..PrintSettings::default() }, 1.0);
    let [_, a, _] = lab(red.render([0.18; 3]), D65);
    assert!(a < -5.0, "more red light prints cyan: a* {a}");
    let over = compiled(PrintSettings { exposure: 1.0, ..PrintSettings::default() }, 1.0);
    let (a, b) = (over.render([0.18, 0.1, 0.05]), neutral().render([0.36, 0.2, 0.1]));
    assert!((0..3).all(|k| (a[k] - b[k]).abs() < 1e-15));
}

#[test]
fn every_refusal_comes_in_one_go() {
    let settings =
        PrintSettings { grey: 0.0, contrast: f64::NAN, lights: [25.0, 51.0, 25.0], ..PrintSettings::default() };
    let refusals = Print::new(&settings, Xy::new(0.3, 0.0), 0.5).unwrap_err();
    let keys: Vec<&str> = refusals.iter().map(|r| r.key.as_str()).collect();
    assert_eq!(keys, ["grey", "contrast", "lights[1]", "peak", "white"]);
    assert_eq!(refusals[2].message, "51 is out of range: it must lie between 0 and 50 printer points");
}

#[test]
fn names_are_unique_and_defaults_are_allowed() {
    let mut names: Vec<_> = VARIANTS.iter().map(|v| v.name).collect();
    names.dedup();
    assert_eq!(names, ["even", "deep", "soft", "rich"]);
    for v in VARIANTS {
        v.settings.check().unwrap();
        assert!(Print::new(&v.settings, ACES, HIGH_RANGE).is_ok());
    }
}
