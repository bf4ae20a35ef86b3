//! The colours of a camera from a chart: against colour-science and SciPy, against simulated cameras of known colours, and
//! in rendered frames.

use nalgebra::{Matrix3, Vector3};
use proptest::prelude::*;
use rushlight::camera::between;
use rushlight::chart::classic::classic;
use rushlight::chart::fit::{Seen, differences, fit, gamut, least_squares, published, with_matrix};
use rushlight::chart::light::Light;
use rushlight::chart::measure::{Colours, Shot, colours, matched};
use rushlight::chart::place::{Place, outer};
use rushlight::chart::read::{Reading, View, view};
use rushlight::chart::{Chart, ChartError, find};
use rushlight::chromaticity::{D65, Xy};
use rushlight::frame::Frame;
use rushlight::gamut::named_gamut;
use rushlight::math::exp2;
use rushlight::transfer::{MID_GREY, encoding};
use rushlight_tests::chart_scene::Scene;
use rushlight_tests::charts::of_camera;
use rushlight_tests::sensor::{Draw, Sensor};
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};

/// What a reference case has: what was seen, and CIEDE2000 by colour-science's linear matrix and by SciPy's least.
struct Case {
    seen: Seen,
    linear: Vec<f64>,
    least: Vec<f64>,
}

fn cases() -> BTreeMap<String, Case> {
    let mut cases: BTreeMap<String, Case> = BTreeMap::new();
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/reference/chart_fit.csv");
    let text = std::fs::read_to_string(folder).expect("the reference");
    for line in text.lines().filter(|l| !l.starts_with('#')).skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let numbers: Vec<f64> = cells[3..].iter().map(|c| c.parse().expect("a number")).collect();
        let case = cases.entry(format!("camera {} in {}", cells[0], cells[1])).or_insert_with(|| Case {
            seen: Seen { light: Vec::new(), reference: Vec::new(), used: Vec::new() },
            linear: Vec::new(),
            least: Vec::new(),
        });
        case.seen.light.push([numbers[0], numbers[1], numbers[2]]);
        case.seen.reference.push([numbers[3], numbers[4], numbers[5]]);
        case.seen.used.push(true);
        case.linear.push(numbers[6]);
        case.least.push(numbers[7]);
    }
    assert!(cases.len() == 8 && cases.values().all(|c| c.least.len() == 24));
    cases
}

/// tests/reference/make/chart.py: two cameras of published sensitivities in A, D50, D65 and a narrow LED, by colour-science 0.4.7
/// (matrix_colour_correction, Finlayson 2015 of degree 1) and by SciPy 1.17's least CIEDE2000 with white kept.
#[test]
fn the_matrix_is_that_of_scipy_and_the_linear_one_that_of_colour_science() {
    for (name, case) in cases() {
        let found = fit(std::slice::from_ref(&case.seen)).unwrap();
        let left = differences(&case.seen, &found.matrix, found.stops[0]);
        for (ours, theirs) in left.iter().zip(&case.least) {
            assert!((ours - theirs).abs() < 0.02, "{name}: {ours} for {theirs}");
        }
        let linear = least_squares(&case.seen.light, &case.seen.reference).unwrap();
        for (ours, theirs) in differences(&case.seen, &linear, 0.0).iter().zip(&case.linear) {
            assert!((ours - theirs).abs() < 0.02, "{name}: {ours} for {theirs}");
        }
        let white = D65.to_xyz(1.0);
        assert!((found.matrix * Vector3::repeat(1.0) - white).norm() < 1e-12, "{name}");
        // The channels of the second camera overlap so much that one column of its matrix is no light: no primaries say it.
        if name.starts_with("camera 2") {
            assert!(matches!(gamut(&found.matrix), Err(ChartError::Fit(_))), "{name}");
            continue;
        }
        let stated = gamut(&found.matrix).unwrap();
        assert!((stated.to_xyz() * Vector3::repeat(1.0) - white).norm() < 1e-12, "{name}");
        assert!((stated.to_xyz() - found.matrix).norm() < 1e-9, "{name}");
    }
}

/// A chart read without noise from the light of a camera's channels, through a curve and back.
fn shot(chart: &Chart, light: &Light, of: &[[f64; 3]], curve: &str) -> Shot {
    let curve = encoding(curve).unwrap().build(None).unwrap();
    let patches = of
        .iter()
        .map(|rgb| Reading {
            light: rgb.map(|v| curve.decode(curve.encode(v))),
            noise: [0.0; 3],
            pixels: 100,
            clipped: false,
            unevenness: 0.0,
        })
        .collect();
    let place = Place::of_corners([[0.0, 0.0], [600.0, 0.0], [600.0, 400.0], [0.0, 400.0]], 6, 4).unwrap();
    let view = View { place, left: 0.0, patches, squares: vec![[[0.0; 2]; 4]; chart.patches.len()] };
    Shot { name: "chart.tif".to_owned(), light: light.clone(), view }
}

/// The light of a camera whose matrix to XYZ under D65 is known.
fn lit(reference: &[[f64; 3]], matrix: &Matrix3<f64>, stops: f64) -> Vec<[f64; 3]> {
    let inverse = matrix.try_inverse().unwrap();
    reference.iter().map(|xyz| (inverse * Vector3::from(*xyz) * exp2(stops)).into()).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// A camera of any matrix that keeps white, by any published curve, is found again.
    #[test]
    fn a_camera_of_a_known_matrix_is_recovered(
        moves in prop::array::uniform6(-0.06f64..0.06), stops in -1.5f64..1.0, curve in 0usize..4, light in 0usize..4,
    ) {
        let base = named_gamut("bt2020").unwrap().gamut;
        let at = |i: usize| {
            let p = base.primaries[i];
            Xy::new(p.x + moves[2 * i], p.y + moves[2 * i + 1])
        };
        let Ok(truth) = rushlight::gamut::Gamut::new([at(0), at(1), at(2)], D65, base.adaptation) else { return Ok(()) };
        let (chart, light) = (classic(), Light::parse(["a", "d50", "d65", "p4300"][light]).unwrap());
        let reference = chart.reference(&light).unwrap();
        let curve = ["slog3", "vlog", "logc3", "canon-log2"][curve];
        let shot = shot(&chart, &light, &lit(&reference, &truth.to_xyz(), stops), curve);
        let found = colours(&chart, &[shot], Some(&truth.to_xyz())).unwrap();
        prop_assert!(found.after.max < 1e-3, "{:?}", found.after);
        prop_assert!((found.frames[0].under + stops).abs() < 1e-3);
        prop_assert!(found.frames[0].cast == [0.0; 2] && found.frames[0].slope == [0.0; 2]);
        prop_assert!((found.matrix - truth.to_xyz()).norm() < 1e-3, "{} {}", found.matrix, truth.to_xyz());
        prop_assert!(found.before.unwrap().max < 1e-3);
    }
}

#[test]
fn the_published_gamut_that_fits_is_named() {
    let chart = classic();
    let light = Light::parse("d55").unwrap();
    let reference = chart.reference(&light).unwrap();
    for name in ["vgamut", "sgamut3-cine", "awg4"] {
        let matrix = named_gamut(name).unwrap().gamut.to_xyz();
        let seen = Seen { light: lit(&reference, &matrix, 0.3), reference: reference.clone(), used: vec![true; 24] };
        let all = published(std::slice::from_ref(&seen));
        assert_eq!(all[0].name, name);
        assert!(all[0].differences.iter().all(|d| *d < 1e-3) && all[3].differences.iter().any(|d| *d > 0.5));
    }
}

/// What the camera's white balance and the light's fall-off do is taken off, and reported.
#[test]
fn a_cast_and_a_slope_are_mended_and_said() {
    let chart = classic();
    let light = Light::parse("d55").unwrap();
    let reference = chart.reference(&light).unwrap();
    let matrix = named_gamut("vgamut").unwrap().gamut.to_xyz();
    let mut of = lit(&reference, &matrix, 0.0);
    for (i, rgb) in of.iter_mut().enumerate() {
        let gain = exp2(0.3 * ((i % 6) as f64 / 5.0 - 0.5));
        *rgb = [rgb[0] * exp2(0.25) * gain, rgb[1] * gain, rgb[2] * exp2(-0.4) * gain];
    }
    let found = colours(&chart, &[shot(&chart, &light, &of, "vlog")], None).unwrap();
    let frame = &found.frames[0];
    assert!((frame.cast[0] - 0.25).abs() < 0.03 && (frame.cast[1] + 0.4).abs() < 0.03, "{:?}", frame.cast);
    assert!((frame.slope[0] - 0.3).abs() < 0.03 && frame.slope[1].abs() < 0.03, "{:?}", frame.slope);
    assert!(found.after.max < 0.3, "{:?}", found.after);
    let said = found.remarks.join("\n");
    assert!(said.contains("cast of +0.2") && said.contains("falls off by 0.3"), "{said}");
    // Too much of it cannot be mended; nor can an exposure that is far off.
    for (i, rgb) in of.iter_mut().enumerate() {
        *rgb = rgb.map(|v| v * exp2(1.2 * ((i / 6) as f64 / 3.0 - 0.5)));
    }
    let refused = colours(&chart, &[shot(&chart, &light, &of, "vlog")], None).unwrap_err();
    assert!(matches!(&refused, ChartError::Uneven(why) if why.contains("light it evenly")), "{refused}");
    let dark = lit(&reference, &matrix, -4.0);
    let refused = colours(&chart, &[shot(&chart, &light, &dark, "vlog")], None).unwrap_err();
    assert!(matches!(&refused, ChartError::Exposure(why) if why.contains("4.0 stops under")), "{refused}");
}

/// One wrong patch does not turn the others: the sum is robust.
#[test]
fn one_faded_patch_does_not_turn_the_others() {
    let chart = classic();
    let light = Light::parse("d50").unwrap();
    let reference = chart.reference(&light).unwrap();
    let matrix = named_gamut("awg3").unwrap().gamut.to_xyz();
    let mut faded = reference.clone();
    faded[14] = reference[14].map(|v| 0.5 * v + 0.1);
    let found = colours(&chart, &[shot(&chart, &light, &lit(&faded, &matrix, 0.0), "logc3")], None).unwrap();
    let others = found.frames[0].after.iter().enumerate().filter(|(i, _)| *i != 14).map(|(_, d)| *d);
    assert!(others.fold(0.0, f64::max) < 0.6 && found.frames[0].after[14] > 5.0, "{:?}", found.frames[0].after);
    // The patch stands out most when the fit has not seen it.
    assert!(found.frames[0].without_patch[14] >= found.frames[0].after[14] - 0.1);
}

#[test]
fn a_camera_that_sees_otherwise_is_said() {
    let chart = classic();
    let light = Light::parse("d55").unwrap();
    let found = colours(&chart, &[shot(&chart, &light, &of_camera(&chart, &light), "slog3")], None).unwrap();
    // The invented camera of the demo: a matrix leaves something, and a patch unseen leaves more.
    assert!(found.after.mean > 0.3 && found.after.mean < 3.0, "{:?}", found.after);
    let unseen = found.without_patch.mean;
    assert!(unseen > found.after.mean, "{unseen} {}", found.after.mean);
    let skewed: Vec<[f64; 3]> = of_camera(&chart, &light)
        .iter()
        .enumerate()
        .map(|(i, rgb)| if i % 5 == 2 && i < 18 { [rgb[0] * 1.5, rgb[1], rgb[2] * 0.6] } else { *rgb })
        .collect();
    let found = colours(&chart, &[shot(&chart, &light, &skewed, "slog3")], None).unwrap();
    assert!(found.remarks.join("\n").contains("no matrix makes this camera see"), "{:?}", found.remarks);
}

#[test]
fn several_frames_and_lights_give_one_matrix_and_two_give_what_lies_between() {
    let chart = classic();
    let [day, tungsten] = ["d55", "a"].map(|l| Light::parse(l).unwrap());
    let shots = [&day, &tungsten].map(|l| shot(&chart, l, &of_camera(&chart, l), "slog3"));
    let both = colours(&chart, &shots, None).unwrap();
    let one = colours(&chart, &shots[..1], None).unwrap();
    let two = colours(&chart, &shots[1..], None).unwrap();
    assert!(both.frames.len() == 2 && both.after.count == 48);
    // Of all patches in all frames, as what is left is: a patch that no fit saw is not nearer.
    assert!(
        both.without_patch.count == 48 && both.without_patch.mean > both.after.mean,
        "{:?} {:?}",
        both.without_patch,
        both.after
    );
    assert!(both.without_patch.max > both.after.max, "{:?} {:?}", both.without_patch, both.after);
    assert!(both.after.mean + 1e-6 > (one.after.mean + two.after.mean) / 2.0);
    let at = |kelvin: f64| between((&one.matrix, day.kelvin), (&two.matrix, tungsten.kelvin), kelvin);
    assert!((at(day.kelvin) - one.matrix).norm() < 1e-12 && (at(tungsten.kelvin) - two.matrix).norm() < 1e-12);
    assert!((at(9000.0) - one.matrix).norm() < 1e-12 && (at(2000.0) - two.matrix).norm() < 1e-12);
    let middle = 2.0 / (1.0 / day.kelvin + 1.0 / tungsten.kelvin);
    assert!((at(middle) - (one.matrix + two.matrix) / 2.0).norm() < 1e-9);
    assert!((at(3700.0) * Vector3::repeat(1.0) - D65.to_xyz(1.0)).norm() < 1e-12);
}

#[test]
fn b_is_matched_to_a_with_exposure_and_white() {
    let chart = classic();
    let light = Light::parse("d55").unwrap();
    let reference = chart.reference(&light).unwrap();
    let [a, b] = ["sgamut3-cine", "vgamut"].map(|g| named_gamut(g).unwrap().gamut);
    // A has a little cast of its own, which B is to share.
    let of_a: Vec<[f64; 3]> =
        lit(&reference, &a.to_xyz(), -0.2).iter().map(|rgb| [rgb[0] * 1.06, rgb[1], rgb[2] * 0.97]).collect();
    let of_b: Vec<[f64; 3]> =
        lit(&reference, &b.to_xyz(), 0.5).iter().map(|rgb| [rgb[0] * 0.9, rgb[1], rgb[2] * 1.2]).collect();
    let [shot_a, shot_b] = [(&of_a, "slog3"), (&of_b, "vlog")].map(|(of, curve)| shot(&chart, &light, of, curve));
    let found = matched(&chart, &[shot_b], &[shot_a], &a.to_xyz(), Some(&b.to_xyz())).unwrap();
    assert!(found.after.max < 0.4, "{:?}", found.after);
    assert!((found.frames[0].under + 0.7).abs() < 0.1, "{}", found.frames[0].under);
    assert!(found.before.unwrap().mean > found.after.mean);
}

const SIZE: [usize; 2] = [480, 270];

fn sensor(draw: &mut Draw) -> Sensor {
    let mut sensor = Sensor::new(["slog3", "vlog", "logc3"][(draw.unit() * 3.0) as usize % 3]);
    (sensor.electrons, sensor.bits, sensor.pattern) = ([800.0 + 8000.0 * draw.unit(); 3], 10, 0.01);
    sensor
}

/// 300 frames of charts at any turn, leaning, in light that falls off, with noise and clutter: each is found where it is, or
/// refused; none is found elsewhere.
#[test]
fn the_chart_is_found_where_it_is_or_refused() {
    let chart = classic();
    let light = Light::parse("d55").unwrap();
    let reference = chart.reference(&light).unwrap();
    let sees = named_gamut("sgamut3-cine").unwrap().gamut.from_xyz();
    let (right, refused, next) = (AtomicUsize::new(0), AtomicUsize::new(0), AtomicUsize::new(0));
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(2, usize::from) {
            scope.spawn(|| {
                loop {
                    let i = next.fetch_add(1, Ordering::Relaxed);
                    if i >= 300 {
                        break;
                    }
                    let mut draw = Draw::new(1000 + i as u64);
                    let sensor = sensor(&mut draw);
                    let scene = Scene::drawn(&chart, &reference, SIZE, sees, &mut draw);
                    let frame = scene.seen(&chart, &sensor, i as u64);
                    match find::find(&frame, &chart, &reference, &|v| sensor.claim.decode(v)) {
                        Ok(found) => {
                            assert!(scene.is_at(&chart, &found.place), "frame {i}: {found:?}");
                            right.fetch_add(1, Ordering::Relaxed);
                        }
                        Err(_) => {
                            refused.fetch_add(1, Ordering::Relaxed);
                        }
                    }
                }
            });
        }
    });
    let (right, refused) = (right.into_inner(), refused.into_inner());
    assert!(right + refused == 300 && right >= 285, "{right} found, {refused} refused");
}

#[test]
fn frames_without_the_chart_are_refused() {
    let chart = classic();
    let light = Light::parse("d55").unwrap();
    let reference = chart.reference(&light).unwrap();
    let sensor = Sensor::new("slog3");
    let decode = |v: f64| sensor.claim.decode(v);
    let sees = named_gamut("sgamut3-cine").unwrap().gamut.from_xyz();
    let mut draw = Draw::new(5);
    // A wall of squares of any colours, of the same layout.
    for _ in 0..20 {
        let colours: Vec<[f64; 3]> =
            (0..24).map(|_| std::array::from_fn(|_| 0.03 + 0.8 * draw.unit() * draw.unit())).collect();
        let scene = Scene::drawn(&chart, &colours, SIZE, sees, &mut draw);
        let frame = scene.seen(&chart, &sensor, 3);
        let refused = find::find(&frame, &chart, &reference, &decode).unwrap_err();
        assert!(matches!(refused, ChartError::NotFound(_)), "{refused}");
    }
    let card = sensor.card(0.0, 200, 120, 1);
    assert!(find::find(&card, &chart, &reference, &decode).is_err());
    assert!(find::find(&sensor.card(0.0, 20, 20, 1), &chart, &reference, &decode).is_err());
}

struct Setting {
    chart: Chart,
    reference: Vec<[f64; 3]>,
    sensor: Sensor,
    scene: Scene,
}

fn setting() -> Setting {
    let chart = classic();
    let reference = chart.reference(&Light::parse("d55").unwrap()).unwrap();
    let sees = named_gamut("sgamut3-cine").unwrap().gamut.from_xyz();
    let mut scene = Scene::drawn(&chart, &reference, SIZE, sees, &mut Draw::new(2));
    (scene.stops, scene.vignette, scene.slope) = (0.0, 0.0, 0.0);
    Setting { sensor: Sensor::new("slog3"), scene, chart, reference }
}

impl Setting {
    fn frame(&self) -> Frame {
        self.scene.seen(&self.chart, &self.sensor, 8)
    }

    fn view(&self, clip: Option<f64>, corners: Option<[[f64; 2]; 4]>) -> Result<View, ChartError> {
        view(&self.frame(), &self.chart, &self.reference, &self.sensor.claim, clip, corners)
    }

    fn corners(&self) -> [[f64; 2]; 4] {
        outer(6, 4).map(|at| self.scene.place.pixel(at))
    }
}

#[test]
fn patches_are_read_as_they_are() {
    let setting = setting();
    for corners in [None, Some(setting.corners())] {
        let view = setting.view(None, corners).unwrap();
        for (i, (patch, xyz)) in view.patches.iter().zip(&setting.reference).enumerate() {
            let truth = setting.scene.sees * Vector3::from(*xyz);
            for c in 0..3 {
                let error = 4.0 * patch.noise[c] / (patch.pixels as f64).sqrt() + 2e-3;
                // The fixed pattern has two parts in a hundred from pixel to pixel.
                assert!(
                    (patch.light[c] - truth[c]).abs() < error + 0.01 * truth[c].abs(),
                    "{i} {c}: {patch:?} for {truth}"
                );
            }
            assert!(!patch.clipped && patch.usable(), "{i}: {patch:?}");
        }
    }
}

#[test]
fn corners_in_a_wrong_order_or_outside_are_refused() {
    let setting = setting();
    let [a, b, c, d] = setting.corners();
    let refused = |corners| setting.view(None, Some(corners)).unwrap_err().to_string();
    assert!(refused([c, d, a, b]).contains("the chart is turned"), "{}", refused([c, d, a, b]));
    assert!(refused([a, d, c, b]).contains("clockwise"));
    assert!(refused([a, b, c, [-3.0, 4.0]]).contains("outside the frame"));
}

#[test]
fn clipped_patches_are_named_and_a_shining_one_is_left_out() {
    let mut bright = setting();
    bright.scene.stops = 1.0;
    // A camera that clips a stop over mid-grey: white and the light greys and more are at the clip.
    bright.sensor.full = [MID_GREY * exp2(1.0); 3];
    let clip = bright.sensor.claim.encode(bright.sensor.full[0]);
    let refused = bright.view(Some(clip), Some(bright.corners())).unwrap_err();
    assert!(matches!(&refused, ChartError::Clipped(why) if why.contains("white, neutral 8")), "{refused}");
    let mut shining = setting();
    shining.scene.shine = Some((7, 0.4));
    let view = shining.view(None, None).unwrap();
    let unusable: Vec<usize> = (0..24).filter(|i| !view.patches[*i].usable()).collect();
    assert_eq!(unusable, [7], "{:?}", view.patches[7]);
    let light = Light::parse("d55").unwrap();
    let shot = Shot { name: "c".to_owned(), light, view };
    let found: Colours = colours(&shining.chart, &[shot], None).unwrap();
    assert!(found.remarks.join("\n").contains("not used, since they clip or are not even: purplish blue"));
    // A patch that cannot be used counts in no figure.
    assert!(found.after.count == 23 && found.without_patch.count == 23, "{:?}", found.without_patch);
    assert!(found.frames[0].after.iter().enumerate().all(|(i, d)| i == 7 || *d < 2.5), "{:?}", found.frames[0].after);
}

/// Exposure alone can be fitted, with the matrix given: the reference tables of others hold the whole of it.
#[test]
fn exposure_is_free() {
    let (_, case) = cases().into_iter().next().unwrap();
    let found = fit(std::slice::from_ref(&case.seen)).unwrap();
    let mut darker = case.seen.clone();
    darker.light.iter_mut().for_each(|rgb| *rgb = rgb.map(|v| 0.25 * v));
    let again = with_matrix(std::slice::from_ref(&darker), &found.matrix);
    assert!((again.stops[0] - found.stops[0] - 2.0).abs() < 1e-4, "{:?}", again.stops);
}
