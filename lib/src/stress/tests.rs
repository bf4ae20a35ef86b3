//! Looks made to break a property in a known place, and one that provably holds them all.

use super::figures::*;
use super::*;
use crate::camera::Range;
use crate::cube::Interpolation;
use crate::display::{DisplaySettings, Mapping, standard};
use crate::gamut::{AP1, BT709, Gamut};
use crate::step::cube::{CubeSettings, DisplayCube, Gives, LogSpace, SceneCube};
use crate::step::exposure::ExposureSettings;
use crate::step::print::PrintSettings;
use crate::step::printer::PrinterSettings;
use crate::step::tone::ToneSettings;
use crate::step::{MID_GREY, Rendering, Written};
use crate::transfer::{Transfer, encoding};
use std::sync::Arc;

mod faults;

/// Stops over mid-grey where the signal of [`Power`] ends.
const TOP: f64 = 5.0;

/// The inverse of BT.1886, from black to [`TOP`] stops over mid-grey: with an identity for a look, camera signal is
/// display signal.
#[derive(Debug)]
struct Power;

impl Transfer for Power {
    fn encode(&self, light: f64) -> f64 {
        math::signed_pow(light / (MID_GREY * math::exp2(TOP)), 1.0 / 2.4)
    }

    fn decode(&self, signal: f64) -> f64 {
        math::signed_pow(signal, 2.4) * MID_GREY * math::exp2(TOP)
    }
}

fn camera(curve: Arc<dyn Transfer>, gamut: &Gamut) -> Camera {
    Camera::new(curve, gamut, None, Range::Full, vec![]).unwrap()
}

fn power() -> Camera {
    camera(Arc::new(Power), &BT709)
}

fn monitor(mapping: Mapping) -> Display {
    Display::new(DisplaySettings { mapping, ..DisplaySettings::of(standard("bt709").unwrap()) }).unwrap()
}

/// Maths of its own curve, which no document can name, as a step and as a rendering.
fn scene_cube(cube: SceneCube) -> Step {
    Step::of(Written::of(CubeSettings::default().into()), Vec::new(), Arc::new(cube))
}

fn display_cube(cube: DisplayCube) -> Rendering {
    let settings = CubeSettings { gives: Gives::display("bt709"), ..CubeSettings::default() };
    Rendering::of(Written::of(settings.into()), Vec::new(), Arc::new(cube))
}

/// A look that hands the signal of [`power`] to the display through a function of it, held by a cube.
fn through(size: usize, steps: Vec<Step>, f: impl Fn([f64; 3]) -> [f64; 3] + Sync) -> Look {
    let cube = Arc::new(Cube::sample(size, f).unwrap());
    let expects = LogSpace::new(Arc::new(Power), &BT709);
    let gives = monitor(Mapping::Clip);
    let rendering = DisplayCube::new(cube, Interpolation::Tetrahedral, expects, gives);
    Look::new("made to break", 1, steps, display_cube(rendering))
}

/// What is found of some properties, or of all.
fn found(properties: &[&str], look: &Look, camera: &Camera, mapping: Mapping, points: usize) -> Stress {
    let display = monitor(mapping);
    let subject = Subject { look, camera, display: &display, correction: None, points, reader: Reader::Tetrahedral };
    let all = PROPERTIES.map(|p| p.0);
    let properties: &[&str] = if properties.is_empty() { &all } else { properties };
    search_for(properties, &subject, &Limits::default(), &AtomicBool::new(false)).unwrap().unwrap()
}

/// What is found of a look on [`power`].
fn of(properties: &[&str], look: &Look, points: usize) -> Stress {
    found(properties, look, &power(), Mapping::Clip, points)
}

fn reading<'s>(stress: &'s Stress, figure: &Figure) -> &'s Reading {
    &stress.finding(figure).unwrap().exact
}

fn grade(stress: &Stress, figure: &Figure) -> Grade {
    stress.finding(figure).unwrap().grade
}

/// Camera signal is display signal, to rounding: nothing can be wrong with that.
#[test]
fn a_provably_clean_pipeline_holds_everything() {
    let stress = of(&[], &through(2, vec![], |rgb| rgb), 17);
    assert_eq!(stress.findings.len(), FIGURES.len());
    for finding in &stress.findings {
        assert_eq!(finding.grade, Grade::Holds, "{finding:?}");
        assert!(finding.hint.is_none());
    }
    let is = |figure, want: f64, near: f64| {
        let value = reading(&stress, figure).value;
        assert!((value - want).abs() <= near, "{}: {value}", figure.key());
    };
    is(&ORDER_NEUTRAL, 0.0, 0.0);
    is(&ORDER_COLOURS, 0.0, 0.0);
    is(&FOLDS_SHARE, 0.0, 0.0);
    is(&BANDING_NEUTRAL_STEP, 1.0, 1e-6);
    is(&BANDING_COLOUR_STEP, 1.0, 1e-6);
    // Light over light keeps its chromaticity, and Oklab's hue with it.
    is(&HUE_SKEW, 0.0, 1e-4);
    is(&NEUTRAL_CAST, 0.0, 1e-6);
    // Half a code under the top, in stops of a power of 2.4.
    is(&CLIPPING_WHITE, TOP + 2.4 * math::log2(1.0 - 0.5 / 1023.0), 1e-6);
    assert_eq!(stress.grade(), Grade::Holds);
}

/// A camera, a look with a cube of its own in its own log, and what is found of them.
fn with_cube(properties: &[&str], size: usize, bend: impl Fn([f64; 3]) -> [f64; 3] + Sync) -> Stress {
    let cube = Arc::new(Cube::sample(size, bend).unwrap());
    let space = || LogSpace::new(Arc::new(Power), &BT709);
    let step = SceneCube::new(cube, Interpolation::Tetrahedral, space(), space(), 1.0).unwrap();
    of(properties, &through(2, vec![scene_cube(step)], |rgb| rgb), 17)
}

#[test]
fn an_inverted_node_on_the_greys_is_found_there() {
    // Node 8 of 0 to 16 lies where node 10 should: light falls from it to node 9.
    let stress = with_cube(&["order", "folds"], 17, |rgb| if rgb == [0.5; 3] { [0.625; 3] } else { rgb });
    assert_eq!(grade(&stress, &ORDER_NEUTRAL), Grade::Breaks);
    let Reading { value, at, to, .. } = reading(&stress, &ORDER_NEUTRAL);
    let [at, to] = [at, to].map(|p| p.as_ref().unwrap().signal[0]);
    assert!((at - 0.5).abs() < 1e-4 && (to - 0.5625).abs() < 1e-4, "{at} to {to}");
    // L* of greys of signal 0.625 and 0.5625 (CIE 15:2018).
    let lightness = |v: f64| 116.0 * math::cbrt(math::pow(v, 2.4)) - 16.0;
    assert!((value - (lightness(0.625) - lightness(0.5625))).abs() < 1e-3, "{value}");
    assert_eq!(grade(&stress, &FOLDS_DEPTH), Grade::Breaks);
    assert!(stress.finding(&ORDER_NEUTRAL).unwrap().hint.as_ref().unwrap().contains("cube"));
}

#[test]
fn an_inverted_node_of_a_colour_is_found_where_it_is() {
    let node = [11.0 / 16.0, 6.0 / 16.0, 4.0 / 16.0];
    let stress =
        with_cube(&["order", "folds"], 17, |rgb| if rgb == node { [rgb[0] + 0.15, rgb[1], rgb[2]] } else { rgb });
    assert_eq!(grade(&stress, &FOLDS_DEPTH), Grade::Breaks);
    let at = reading(&stress, &FOLDS_DEPTH).at.as_ref().unwrap().signal;
    assert!((0..3).all(|i| (at[i] - node[i]).abs() <= 1.0 / 16.0), "{at:?}");
    assert_eq!(grade(&stress, &ORDER_NEUTRAL), Grade::Holds);
    assert_eq!(reading(&stress, &ORDER_NEUTRAL).value, 0.0);
    // Its eight cells are a small part of all.
    let share = reading(&stress, &FOLDS_SHARE).value;
    assert!(share < 100.0 * 8.0 / 4096.0 * 2.0, "{share}");
}

#[test]
fn a_tint_that_turns_the_order_round_is_found_in_its_zone() {
    // Minus two stops over one and a half stops, which the tint step refuses: light falls between grey and +1.5.
    let curve = Power;
    let stress = with_cube(&["order"], 129, |rgb| {
        let light = rgb.map(|v| curve.decode(v));
        let stops = math::log2(light[1].max(1e-6) / MID_GREY);
        let gain = math::exp2(-2.0 * math::smooth_step(0.0, 1.5, stops));
        light.map(|c| curve.encode(c * gain))
    });
    assert_eq!(grade(&stress, &ORDER_NEUTRAL), Grade::Breaks);
    let Reading { at, to, .. } = reading(&stress, &ORDER_NEUTRAL);
    let [at, to] = [at, to].map(|p| p.as_ref().unwrap().stops.unwrap());
    // The slope of the zone, -2 / 1.5 times 6 t (1 - t), passes -1 at t = 0.146 and 0.854.
    assert!((at - 0.22).abs() < 0.1 && (to - 1.28).abs() < 0.1, "{at} to {to}");
}

#[test]
fn colours_that_change_places_are_a_fold_everywhere() {
    let stress = of(&["order", "folds", "hue"], &through(2, vec![], |[r, g, b]| [g, r, b]), 9);
    // All but the darkest and those that look alike.
    assert!(reading(&stress, &FOLDS_SHARE).value > 80.0);
    // The largest by numpy over 20 000 signals of the same swap: 0.0656.
    let depth = reading(&stress, &FOLDS_DEPTH).value;
    assert!((0.0655..0.068).contains(&depth), "{depth}");
    assert_eq!(grade(&stress, &FOLDS_DEPTH), Grade::Breaks);
    assert_eq!(grade(&stress, &HUE_ORDER), Grade::Breaks);
    assert_eq!(grade(&stress, &ORDER_NEUTRAL), Grade::Holds);
}

#[test]
fn a_monochrome_look_folds_nothing() {
    let stress = of(&["folds", "hue"], &through(2, vec![], |[r, g, b]| [0.2 * r + 0.7 * g + 0.1 * b; 3]), 9);
    assert_eq!(reading(&stress, &FOLDS_SHARE).value, 0.0);
    assert_eq!(grade(&stress, &FOLDS_DEPTH), Grade::Holds);
    assert_eq!(reading(&stress, &HUE_SKEW).value, 0.0);
}

#[test]
fn a_step_is_measured_where_it_stands() {
    // Nodes of 1/64: from node 32 to node 33 the picture makes 14 steps at once.
    let (from, rise) = (0.5, 13.0 / 64.0);
    let stress =
        of(&["banding"], &through(65, vec![], |rgb| rgb.map(|v| if v > from { v * 0.7 + rise } else { v * 0.7 })), 65);
    let Reading { value, at, .. } = reading(&stress, &BANDING_NEUTRAL_STEP);
    assert!((value - (0.7 + 13.0)).abs() < 1e-6, "{value}");
    let v = at.as_ref().unwrap().signal[0];
    assert!((from - 1e-9..=from + 1.0 / 64.0).contains(&v), "{v}");
    assert_eq!(grade(&stress, &BANDING_NEUTRAL_STEP), Grade::Breaks);
    // The change of step is at one end of it or the other.
    let v = reading(&stress, &BANDING_NEUTRAL_JUMP).at.as_ref().unwrap().signal[0];
    assert!((v - from).abs() < 1.1 / 1023.0 || (v - from - 1.0 / 64.0).abs() < 1.1 / 1023.0, "{v}");
    assert_eq!(grade(&stress, &BANDING_NEUTRAL_JUMP), Grade::Breaks);
}

#[test]
fn white_and_black_clip_where_they_are_made_to() {
    // Three stops up: white is the display's at two stops over grey.
    let up = Step::new(ExposureSettings::stops(3.0)).unwrap();
    let stress = of(&["clipping"], &through(2, vec![up], |rgb| rgb), 33);
    let white = reading(&stress, &CLIPPING_WHITE).value;
    assert!((white - (2.0 + 2.4 * math::log2(1.0 - 0.5 / 1023.0))).abs() < 1e-6, "{white}");
    assert_eq!(grade(&stress, &CLIPPING_WHITE), Grade::Breaks);
    assert!(stress.ends.channels.iter().all(|c| (c.unwrap() - white).abs() < 1e-6));
    // Nothing below signal 1/8, a node: the next code of output is 8/7 of a code on.
    let stress = of(&["clipping"], &through(65, vec![], |rgb| rgb.map(|v| (v - 0.125).max(0.0) / 0.875)), 65);
    let black = reading(&stress, &CLIPPING_BLACK).value;
    let want = -(TOP + 2.4 * math::log2(0.125 + 0.875 / 1023.0));
    assert!((black - want).abs() < 1e-3, "{black}, not {want}");
    assert_eq!(grade(&stress, &CLIPPING_BLACK), Grade::Breaks);
}

#[test]
fn a_cast_is_held_against_what_is_asked_for() {
    let warm = PrinterSettings { points: [3.0, 0.0, -3.0], ..PrinterSettings::default() };
    let asked = of(&["neutral"], &through(2, vec![Step::new(warm).unwrap()], |rgb| rgb), 17);
    assert!(reading(&asked, &NEUTRAL_CAST).value > 5.0);
    assert!(reading(&asked, &NEUTRAL_UNASKED).value < 1e-6);
    let unasked = of(&["neutral"], &through(2, vec![], |[r, g, b]| [r, g, b * 0.9]), 17);
    assert!(reading(&unasked, &NEUTRAL_UNASKED).value > 5.0);
    assert_eq!(grade(&unasked, &NEUTRAL_UNASKED), Grade::Breaks);
    // A cube of 17 points has an error where red clips between two of its nodes: no step asks for that.
    let cube = &asked.finding(&NEUTRAL_UNASKED).unwrap().cube;
    assert!(cube.value > 0.1 && cube.at.as_ref().unwrap().out[0] > 0.95, "{cube:?}");
    let row = unasked.neutral.iter().find(|row| row.stops == 0.0).unwrap();
    // Less blue is more b*.
    assert!(row.cast[1] > 3.0 && row.cast == row.unasked, "{row:?}");
}

fn wide() -> Camera {
    camera(encoding("slog3").unwrap().build(None).unwrap(), &AP1)
}

/// What a plain clip does to a blue sign: it stays the same blue while it gets brighter.
#[test]
fn a_plain_clip_of_a_neon_blue_loses_its_shape() {
    let look = Look::new(
        "plain",
        1,
        vec![],
        Rendering::new(ToneSettings { per_channel: true, ..ToneSettings::default() }).unwrap(),
    );
    let clipped = found(&["lights"], &look, &wide(), Mapping::Clip, 9);
    let soft = found(&["lights"], &look, &wide(), Mapping::Soft, 9);
    let blue = |stress: &Stress| stress.lights.iter().find(|l| l.name == "neon blue").unwrap().clone();
    assert_eq!(blue(&clipped).kept.outside, Some(SWEEP.0), "{:?}", blue(&clipped));
    assert!(blue(&clipped).kept.least < blue(&soft).kept.least, "{:?} {:?}", blue(&clipped), blue(&soft));
    assert!(blue(&clipped).kept.flat.is_some(), "{:?}", blue(&clipped));
    assert_eq!(grade(&clipped, &LIGHTS_SHAPE), Grade::Breaks);
    let hint = clipped.finding(&LIGHTS_SHAPE).unwrap().hint.clone().unwrap();
    assert!(hint.contains("mapping = \"soft\""), "{hint}");
}

#[test]
fn a_coarse_cube_adds_to_the_figures() {
    let look = Look::new("print", 1, vec![], Rendering::new(PrintSettings::default()).unwrap());
    let stress = found(&["banding", "neutral"], &look, &wide(), Mapping::Soft, 5);
    let jump = stress.finding(&BANDING_NEUTRAL_JUMP).unwrap();
    assert!(jump.cube_adds() > 0.0 && jump.worse() == &jump.cube, "{jump:?}");
    assert!(stress.neutral.iter().any(|row| row.cube != row.cast));
    let either = Subject {
        look: &look,
        camera: &wide(),
        display: &monitor(Mapping::Soft),
        correction: None,
        points: 5,
        reader: Reader::Either,
    };
    let either = search_for(&["banding"], &either, &Limits::default(), &AtomicBool::new(false)).unwrap().unwrap();
    assert!(either.finding(&BANDING_NEUTRAL_JUMP).unwrap().cube.value >= jump.cube.value);
}

#[test]
fn the_thread_count_does_not_change_a_figure() {
    let look = Look::new("print", 1, vec![], Rendering::new(PrintSettings::default()).unwrap());
    let on = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| found(&["order", "hue", "lights"], &look, &wide(), Mapping::Soft, 9))
    };
    assert_eq!(on(1), on(3));
}

#[test]
fn a_step_is_tried_where_it_is_not() {
    let look = Look::new("plain", 1, vec![], Rendering::new(ToneSettings::default()).unwrap());
    let with = "compress".parse::<Try>().unwrap().on(&look).unwrap().unwrap();
    assert!(with.steps().iter().map(|step| step.name()).eq(["compress"]));
    assert!(Try::Compress.on(&with).unwrap().is_none());
    let with = "saturation=0.5".parse::<Try>().unwrap().on(&with).unwrap().unwrap();
    assert!(with.steps().iter().map(|step| step.name()).eq(["compress", "saturation"]));
    for bad in ["compres", "saturation", "saturation=x", "saturation=-3", "saturation=nan"] {
        assert!(bad.parse::<Try>().is_err(), "{bad}");
    }
}

#[test]
fn a_light_of_a_signal_is_in_the_cameras_terms() {
    let camera = power();
    let rays = Rays::of(&camera);
    for (hue, saturation) in [(10.0, 0.5), (130.0, 0.9), (250.0, 1.0), (300.0, 0.25)] {
        let signal = rays.signal(hue, saturation, rays.at_stops(1.0));
        let (light, stops) = Light::of_signal(&rays, signal);
        assert!((light.hue.unwrap() - hue).abs() < 1e-6 && (light.saturation.unwrap() - saturation).abs() < 1e-6);
        assert!((stops.unwrap() - 1.0).abs() < 1e-9);
    }
    assert_eq!(Light::of_signal(&rays, [0.0; 3]), (Light::grey(), None));
}

#[test]
fn a_search_that_is_stopped_ends_with_nothing() {
    let look = Look::new("print", 1, vec![], Rendering::new(PrintSettings::default()).unwrap());
    let (camera, display) = (wide(), monitor(Mapping::Soft));
    let subject = Subject {
        look: &look,
        camera: &camera,
        display: &display,
        correction: None,
        points: 9,
        reader: Reader::Either,
    };
    let limits = Limits::default();
    assert!(stress_until(&subject, &limits, &AtomicBool::new(true)).unwrap().is_none());
    // Stopped in the middle: the search ends without a panic, with what it has.
    let stop = AtomicBool::new(false);
    let pipeline = Pipeline::new(&camera, &look, &display).unwrap();
    let difference = Difference::on(&display);
    let path = Path::exact(&pipeline, &difference, &stop);
    let (grey, rays) = ([0.4; 3], Rays::of(&camera));
    let before = path.at(grey);
    assert!(before != [0.0; 3] && !path.is_stopped());
    let half = Sweep::of(&rays, &path);
    stop.store(true, std::sync::atomic::Ordering::Relaxed);
    assert_eq!((path.at(grey), path.is_stopped()), ([0.0; 3], true));
    with_run(&subject, &stop, |run| {
        for measure in MEASURES {
            measure(run, &path, &half, &mut Found::default());
        }
    })
    .unwrap();
}

/// A curve that rises by few codes, or by none, leaves little to search; it ends in figures, not in a panic.
#[test]
fn curves_of_few_codes_do_not_end_the_search() {
    use crate::transfer::custom::{TableCurve, TableParameters};
    let look = Look::new(
        "flat",
        1,
        vec![Step::new(crate::step::compress::CompressSettings::default()).unwrap()],
        Rendering::new(ToneSettings::default()).unwrap(),
    );
    for codes in [0.3, 1.2, 2.5, 9.0] {
        let points = vec![[-6.0, 0.5 - codes / 1023.0], [0.0, 0.5], [6.0, 0.5 + codes / 1023.0]];
        let curve = TableCurve::new(&TableParameters { points, black: None }).unwrap();
        let stress = found(&[], &look, &camera(Arc::new(curve), &BT709), Mapping::Clip, 5);
        assert!(stress.findings.iter().all(|f| !f.exact.value.is_nan() && !f.cube.value.is_nan()), "{codes} codes");
    }
}
