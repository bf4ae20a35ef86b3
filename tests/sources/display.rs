//! Displays against colour-science 0.4.7 (fixtures/reference/display.csv, made by tests/reference/make/display.py), against the
//! figures of the ITU, and the laws of the way into a gamut.

use nalgebra::{Matrix3, Vector3};
use palette::color_difference::Ciede2000;
use palette::white_point::D65 as LabWhite;
use palette::{FromColor, Lab, Oklab, Xyz};
use proptest::prelude::*;
use rushlight::camera::Range;
use rushlight::chromaticity::{A, ACES, D65, Xy};
use rushlight::display::{Ceiling, Display, DisplaySettings, Eotf, Mapping, STANDARDS, White, standard};
use rushlight::gamut::{BT709, BT2020, P3_D65};
use rushlight::math;
use rushlight_tests::{Worst, table};

fn settings(name: &str) -> DisplaySettings {
    DisplaySettings::of(standard(name).unwrap_or_else(|| panic!("{name} is built in")))
}

fn display(name: &str) -> Display {
    Display::new(settings(name)).unwrap()
}

/// A display with other levels; diffuse white follows the peak, so that 1.0 is the peak.
fn with_levels(name: &str, peak: f64, black: f64) -> Display {
    Display::new(DisplaySettings { peak, black, diffuse_white: peak, ..settings(name) })
        .or_else(|_| Display::new(DisplaySettings { peak, black, ..settings(name) }))
        .unwrap()
}

/// Both directions at every peak and black of the table. What differs is colour-science's own: the constant c of HLG
/// unrounded (5e-10 in signal) and the threshold of sRGB (2.3e-9 of light where the pieces miss each other).
#[test]
fn signal_and_light_against_colour_science() {
    for (name, encode, decode) in [
        ("bt709", 5e-15, 5e-15),
        ("bt2020", 5e-15, 5e-15),
        ("srgb", 5e-15, 5e-15),
        ("p3-d65", 5e-15, 5e-15),
        ("p3-dci", 5e-15, 5e-15),
        ("bt2100-pq", 1e-14, 1e-12),
        ("bt2100-hlg", 1e-9, 1e-8),
    ] {
        let (mut signals, mut lights) = (Worst::default(), Worst::default());
        for row in table("display.csv").into_iter().filter(|row| row.text(0) == name) {
            let [peak, black] = row.numbers(2);
            let given: [f64; 3] = row.numbers(4);
            let expected: [f64; 3] = row.numbers(7);
            let display = with_levels(name, peak, black);
            let differs = |ours: [f64; 3]| (Vector3::from(ours) - Vector3::from(expected)).amax();
            let to_light = |nits: f64| (nits - black) / (peak - black) * display.peak_ratio();
            let to_nits = |light: f64| black + light / display.peak_ratio() * (peak - black);
            if row.text(1) == "encode" {
                signals.add(differs(display.encode(given.map(to_light)).0), row);
            } else {
                lights.add(differs(display.decode(given).map(to_nits)) / peak, row);
            }
        }
        signals.within(encode);
        if !name.starts_with("p3") {
            lights.within(decode);
        }
    }
}

/// ITU-R BT.2408 (2017 and on): HDR reference white, 203 nits, is 58 % PQ and 75 % HLG on a display of 1000 nits.
#[test]
fn hdr_reference_white() {
    for (name, percent) in [("bt2100-pq", 58.0), ("bt2100-hlg", 75.0)] {
        let display = display(name);
        assert_eq!(display.settings().diffuse_white, 203.0);
        for signal in display.encode([1.0; 3]).0 {
            assert_eq!((signal * 100.0).round(), percent, "{signal}");
        }
        assert_eq!(display.peak_ratio(), 1000.0 / 203.0);
    }
    // BT.2100-2: HLG signal 1 is the nominal peak; PQ 1000 nits is 0.751827.
    assert!((display("bt2100-hlg").encode([1000.0 / 203.0; 3])[0] - 1.0).abs() < 1e-8);
    assert!((display("bt2100-pq").encode([1000.0 / 203.0; 3])[0] - 0.751827).abs() < 5e-7);
}

/// ITU-R BT.709-6, table 4: black is code 64 and white code 940 of 10 bits.
#[test]
fn legal_range_runs_from_64_to_940() {
    for name in ["bt709", "bt2020", "bt2100-hlg"] {
        let display = Display::new(DisplaySettings { range: Range::Legal, ..settings(name) }).unwrap();
        let code = |light: f64| display.encode([light; 3])[1] * 1023.0;
        // The printed constants of HLG put signal 1 at 1 - 4.5e-9.
        assert!((code(0.0) - 64.0).abs() < 1e-12, "{name}");
        assert!(
            (code(display.peak_ratio()) - 940.0).abs() < if name == "bt2100-hlg" { 4e-6 } else { 1e-11 },
            "{name}: {}",
            code(display.peak_ratio())
        );
    }
}

#[test]
fn levels_that_are_silently_lost_are_refused() {
    for (settings, key) in [
        (DisplaySettings { black: 0.01, ..settings("srgb") }, "black"),
        (DisplaySettings { black: 0.01, ..settings("p3-dci") }, "black"),
        (DisplaySettings { diffuse_white: 50.0, ..settings("bt709") }, "diffuse_white"),
        (DisplaySettings { diffuse_white: 2000.0, ..settings("bt2100-pq") }, "diffuse_white"),
        (DisplaySettings { peak: f64::NAN, ..settings("bt2100-pq") }, "peak"),
        (DisplaySettings { peak: 50.0, diffuse_white: 50.0, ..settings("bt2100-hlg") }, "peak"),
        (DisplaySettings { white: White::Keep(Xy::new(0.7, 0.29)), ..settings("bt709") }, "keep_white"),
        (DisplaySettings { white: White::Keep(Xy::new(f64::NAN, 0.3)), ..settings("bt709") }, "keep_white"),
        (DisplaySettings { white: White::Keep(Xy::new(0.3, 0.0)), ..settings("bt709") }, "keep_white"),
        (DisplaySettings { white: White::Keep(Xy::new(0.3, -0.2)), ..settings("bt709") }, "keep_white"),
    ] {
        assert_eq!(Display::new(settings).unwrap_err()[0].key, key);
    }
}

/// The picture's white, kept, is that chromaticity at every level, reaches the peak in one channel and leaves it in none.
#[test]
fn a_kept_white_stays_at_every_level() {
    for mapping in Mapping::ALL {
        for (name, white) in [("p3-dci", D65), ("bt709", A), ("bt2100-pq", ACES), ("p3-d65", D65)] {
            let display =
                Display::new(DisplaySettings { white: White::Keep(white), mapping, ..settings(name) }).unwrap();
            let peak = display.peak_ratio();
            assert_eq!(display.picture_white(), white);
            for level in [1e-4, 0.105, 0.5, 0.9, 0.999, 1.0, 2.0] {
                let light = display.map(display.to_linear(white.to_xyz(level * peak)));
                let back = Xy::from_xyz(&(display.gamut().to_xyz() * Vector3::from(light))).unwrap();
                assert!((back.x - white.x).abs().max((back.y - white.y).abs()) < 1e-14, "{name} {level}: {back:?}");
                let brightest = light[0].max(light[1]).max(light[2]);
                assert!((brightest - level.min(1.0) * peak).abs() < 1e-14 * peak, "{name} {level}: {light:?}");
            }
        }
    }
    // To keep the display's native white changes nothing.
    let kept = Display::new(DisplaySettings { white: White::KEPT, ..settings("bt709") }).unwrap();
    for xyz in [[0.2, 0.1, 0.9], [0.5, 0.4, 0.3], [0.9, 1.0, 1.2]] {
        let (a, b) = (kept.map(kept.to_linear(xyz)), display("bt709").map(display("bt709").to_linear(xyz)));
        assert!((Vector3::from(a) - Vector3::from(b)).amax() < 1e-14);
    }
}

/// Linear light of BT.709, of a peak of 1, in CIE Lab and Oklab.
fn lab(rgb: [f64; 3]) -> Lab<LabWhite, f64> {
    Lab::from_color(xyz(rgb))
}

fn xyz(rgb: [f64; 3]) -> Xyz<LabWhite, f64> {
    let v = BT709.to_xyz() * Vector3::from(rgb);
    Xyz::new(v.x, v.y, v.z)
}

fn hue(rgb: [f64; 3]) -> f64 {
    let ok = Oklab::from_color(xyz(rgb));
    math::atan2(ok.b, ok.a).to_degrees()
}

fn luminance(rgb: [f64; 3]) -> f64 {
    BT709.luminance_weights().dot(&Vector3::from(rgb))
}

/// The blue primary of BT.2020 raised from -4 to +8 stops on a BT.709 display: `soft` keeps its luminance and moves to
/// white, `clip` loses luminance and stays a flat blue.
#[test]
fn a_bright_blue() {
    let to_bt709: Matrix3<f64> = BT2020.to(&BT709, None);
    let blue = to_bt709 * Vector3::new(0.0, 0.0, 1.0);
    let sweep = |mapping: Mapping| -> Vec<[f64; 3]> {
        let weights = BT709.luminance_weights().into();
        (-400..=800)
            .map(|i| mapping.apply((blue * math::exp2(f64::from(i) * 0.01)).into(), weights, Ceiling::White))
            .collect()
    };
    let (soft, clip) = (sweep(Mapping::Soft), sweep(Mapping::Clip));
    // Near white, light of so little chroma has no hue to speak of.
    let coloured = |rgb: &&[f64; 3]| {
        let ok = Oklab::from_color(xyz(**rgb));
        (ok.a * ok.a + ok.b * ok.b).sqrt() > 0.02
    };
    let span = |sweep: &[[f64; 3]]| {
        let hues: Vec<f64> = sweep.iter().filter(coloured).map(|rgb| hue(*rgb)).collect();
        hues.iter().fold(f64::MIN, |m, h| m.max(*h)) - hues.iter().fold(f64::MAX, |m, h| m.min(*h))
    };
    println!("hue span: soft {:.2} degrees, clip {:.2}", span(&soft), span(&clip));
    println!("from {:.2} degrees; at 0 stops soft {:.2}, clip {:.2}", hue(blue.into()), hue(soft[400]), hue(clip[400]));
    for (i, rgb) in soft.iter().enumerate() {
        let light = luminance(blue.into()) * math::exp2(i as f64 * 0.01 - 4.0);
        assert!((luminance(*rgb) - light.min(1.0)).abs() < 1e-14);
    }
    assert!(soft.windows(2).all(|w| luminance(w[1]) >= luminance(w[0])));
    assert_eq!(*soft.last().unwrap(), [1.0; 3]);
    // A clipped blue ends with what a saturated blue has, 0.07 of white, of light that is 15 times white.
    assert!(luminance(*clip.last().unwrap()) < 0.073);
    // Measured: the straight line to white crosses 19.3 degrees of Oklab hue, most of it where little chroma is left; a
    // clip sits still at the blue of BT.709, 19 degrees away from where the light is.
    assert!(span(&soft) < 19.5, "{}", span(&soft));
    assert!(span(&clip) < 1e-6 && (hue(clip[400]) - hue(blue.into())).abs() > 18.0);
}

/// The steepest local slope, CIEDE2000 a stop of one channel, does not grow as the step shrinks: the way in has no jump. It
/// is steepest for a bright yellow just under white, where chroma must give way within a small part of a stop:
/// a step of blue costs (1 - w) / w = 13 times its share w of luminance there.
#[test]
fn no_jump_on_the_way_in() {
    let weights: [f64; 3] = BT709.luminance_weights().into();
    let to_bt709 = BT2020.to(&BT709, None);
    let slope = |mapping: Mapping, step: f64| {
        let mut random = fastrand::Rng::with_seed(7);
        let out = |stops: [f64; 3]| {
            mapping.apply((to_bt709 * Vector3::from(stops.map(math::exp2))).into(), weights, Ceiling::White)
        };
        (0..40_000).fold(0.0f64, |worst, _| {
            // Light of BT.2020 over nine stops, up to two above white.
            let stops: [f64; 3] = std::array::from_fn(|_| random.f64() * 9.0 - 7.0);
            let mut near = stops;
            near[random.usize(..3)] += step;
            worst.max(lab(out(stops)).difference(lab(out(near))) / step)
        })
    };
    for (mapping, most) in [(Mapping::Soft, 400.0), (Mapping::Clip, 150.0)] {
        let (coarse, fine) = (slope(mapping, 1e-3), slope(mapping, 1e-5));
        println!("{mapping:?}: CIEDE2000 a stop {coarse:.1}, by a finer step {fine:.1}");
        assert!(coarse < most && fine < 1.2 * coarse, "{mapping:?}: {coarse}, {fine}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn every_display_decodes_what_it_encodes(
        which in 0..STANDARDS.len(), legal: bool, dark in 0.0..0.5f64, r in 0.0..1.0f64, g in 0.0..1.0f64, b in 0.0..1.0f64
    ) {
        let range = if legal { Range::Legal } else { Range::Full };
        let base = DisplaySettings::of(&STANDARDS[which]);
        let black = if matches!(base.eotf, Eotf::Srgb | Eotf::Gamma(_)) { 0.0 } else { dark };
        let display = Display::new(DisplaySettings { range, black, ..base }).unwrap();
        let peak = display.peak_ratio();
        let light = [r * peak, g * peak, b * peak];
        let signal = display.encode(light);
        let back = display.decode(signal);
        for i in 0..3 {
            // HLG and sRGB miss themselves at their breaks by their rounded constants.
            prop_assert!((back[i] - light[i]).abs() < 3e-9 * peak, "{} {light:?} {back:?}", STANDARDS[which].name);
            let (low, high) = if legal { (64.0 / 1023.0, 940.0 / 1023.0) } else { (0.0, 1.0) };
            // A saturated blue of HLG lies over 100 % (its OOTF divides by luminance), and colour near black under it.
            if base.eotf != Eotf::Hlg {
                prop_assert!((low - 1e-12..=high + 1e-12).contains(&signal[i]), "{signal:?}");
            }
        }
    }

    #[test]
    fn the_way_in_keeps_luminance_neutrals_and_inner_colours(
        which in 0..STANDARDS.len(), keep: bool, r in -2.0..3.0f64, g in -2.0..3.0f64, b in -2.0..3.0f64
    ) {
        let white = if keep { White::Keep(ACES) } else { White::Adapt };
        let display = Display::new(DisplaySettings { white, ..DisplaySettings::of(&STANDARDS[which]) }).unwrap();
        let weights = display.gamut().luminance_weights();
        let peak = display.peak_ratio();
        let top = display.map([1e9; 3]);
        let most = weights.dot(&Vector3::from(top));
        let light = [r * peak, g * peak, b * peak];
        let out = display.map(light);
        prop_assert!((0..3).all(|i| (0.0..=top[i]).contains(&out[i])));
        let luminance = weights.dot(&Vector3::from(light)).clamp(0.0, most);
        prop_assert!((weights.dot(&Vector3::from(out)) - luminance).abs() < 1e-12 * peak);
        // A second time changes only what lies beyond the knee, and never outwards.
        let again = display.map(out);
        prop_assert!((0..3).all(|i| (0.0..=top[i]).contains(&again[i])));
        let grey = top.map(|c| c * g.clamp(0.0, 1.0));
        prop_assert!((Vector3::from(display.map(grey)) - Vector3::from(grey)).amax() < 1e-13 * peak);
    }
}

/// A custom display without diffuse white or a standard: P3-D65 at gamma 2.2, 300 nits.
#[test]
fn a_display_of_ones_own() {
    let own = DisplaySettings {
        gamut: P3_D65,
        eotf: Eotf::from_name("gamma22").unwrap(),
        peak: 300.0,
        diffuse_white: 300.0,
        ..settings("bt709")
    };
    let display = Display::new(own).unwrap();
    assert_eq!(display.encode([0.25, 1.0, 0.0]), [math::pow(0.25, 1.0 / 2.2), 1.0, 0.0]);
}
