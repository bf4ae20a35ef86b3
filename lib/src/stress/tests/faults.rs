//! Faults that are built into a look on purpose, each in a figure of its own; and what is no fault.

use super::*;
use crate::step::tint::TintSettings;
use crate::transfer::pq::Pq;

/// Scales a colour's distance from grey.
fn scaled(rgb: [f64; 3], scale: impl Fn(f64) -> f64) -> [f64; 3] {
    let mean = (rgb[0] + rgb[1] + rgb[2]) / 3.0;
    let away = rgb.map(|v| v - mean);
    let radius = (away[0] * away[0] + away[1] * away[1] + away[2] * away[2]).sqrt();
    away.map(|v| mean + v * scale(radius))
}

/// A fault: its name, the figure that it breaks, points of the cube that holds it, and what it does to signal.
type Fault = (&'static str, &'static Figure, usize, fn([f64; 3]) -> [f64; 3]);

const FAULTS: [Fault; 10] = [
    // Beyond a distance of 0.25 from grey colours come back as fast as they went.
    ("a fold", &FOLDS_DEPTH, 33, |rgb| scaled(rgb, |r| if r > 0.25 { (0.5 - r).max(0.05) / r } else { 1.0 })),
    // Nearly flat, and from half of the signal on as steep as a wall.
    ("a crease", &BANDING_NEUTRAL_JUMP, 41, |rgb| {
        rgb.map(|v| if v <= 0.5 { 0.1 * v } else { (0.05 + 34.0 * (v - 0.5)).min(0.9 + 0.1 * v) })
    }),
    ("an inversion of greys", &ORDER_NEUTRAL, 17, |rgb| if rgb == [0.5; 3] { [0.625; 3] } else { rgb }),
    ("an inversion of hues", &HUE_ORDER, 2, |[r, g, b]| [g, r, b]),
    ("a clipped channel", &LIGHTS_SHAPE, 33, |[r, g, b]| [r.min(0.5), g, b]),
    ("a stuck node", &BANDING_COLOUR_STEP, 49, |rgb| if rgb == [0.75, 0.5, 0.25] { [0.0, 0.5, 0.25] } else { rgb }),
    ("a cast", &NEUTRAL_UNASKED, 2, |[r, g, b]| [r, g, 0.9 * b]),
    ("a step", &BANDING_NEUTRAL_STEP, 65, |rgb| rgb.map(|v| if v > 0.5 { 0.7 * v + 13.0 / 64.0 } else { 0.7 * v })),
    // A steep curve for each channel takes every light to a primary or a secondary.
    ("a curve per channel", &HUE_SKEW, 65, |rgb| {
        rgb.map(|v| v * v * v / (v * v * v + (1.0 - v) * (1.0 - v) * (1.0 - v)))
    }),
    ("white that clips early", &CLIPPING_WHITE, 65, |rgb| rgb.map(|v| (2.2 * v).min(1.0))),
];

#[test]
fn every_fault_breaks_the_figure_that_is_named_for_it_and_the_clean_cube_none() {
    let clean = of(&[], &through(33, vec![], |rgb| rgb), 33);
    for (name, figure, size, fault) in FAULTS {
        assert_eq!(grade(&clean, figure), Grade::Holds, "without {name}");
        let stress = of(&[figure.property], &through(size, vec![], fault), 33);
        let finding = stress.finding(figure).unwrap();
        assert_eq!(finding.grade, Grade::Breaks, "{name}: {} {:?}", figure.key(), finding.exact);
    }
    assert_eq!(clean.grade(), Grade::Holds);
}

/// The fault lies where the camera's blue, x 0.089 y -0.087, has less red and green than any light has.
#[test]
fn what_turns_beyond_every_light_is_told_apart_and_breaks_nothing() {
    let curve: Arc<dyn Transfer> = Arc::new(Power);
    let gamut = crate::gamut::named_gamut("sgamut3-cine").unwrap().gamut;
    let camera = camera(curve.clone(), &gamut);
    // Of little red and green beside its blue, in the upper half of the signal: magenta.
    let beyond = |rgb: [f64; 3]| rgb[0].max(rgb[1]) < 0.12 * rgb[2] && rgb[2] > 0.55;
    let cube = Cube::sample(65, |rgb| if beyond(rgb) { [0.9 * rgb[2], rgb[1], rgb[2]] } else { rgb }).unwrap();
    let expects = LogSpace::new(curve, &gamut);
    let rendering = DisplayCube::new(Arc::new(cube), Interpolation::Tetrahedral, expects, monitor(Mapping::Clip));
    let look = Look::new("beyond", 1, vec![], display_cube(rendering));
    let stress = found(&["hue"], &look, &camera, Mapping::Clip, 65);
    let value = |figure| reading(&stress, figure).value;
    assert!(value(&HUE_UNREAL) > 45.0, "{}", value(&HUE_UNREAL));
    assert_eq!(grade(&stress, &HUE_UNREAL), Grade::Marginal);
    assert!(value(&HUE_SKEW) < 5.0, "{:?}", reading(&stress, &HUE_SKEW));
    let at = reading(&stress, &HUE_UNREAL).at.clone().unwrap().light;
    assert!((210.0..270.0).contains(&at.hue.unwrap()) && at.saturation.unwrap() > 0.9, "{at:?}");
}

/// A tint turns pale lights as it is asked to: that is reported, and not graded.
#[test]
fn what_a_tint_asks_for_is_told_beside_what_it_does_not() {
    let settings = TintSettings { shadows: [-0.3, 0.0, 0.3], highlights: [0.3, 0.0, -0.3], ..TintSettings::default() };
    let tint = || vec![Step::new(settings).unwrap()];
    let asked = of(&["hue", "lights"], &through(2, tint(), |rgb| rgb), 33);
    for figure in [&HUE_SKEW, &LIGHTS_HUE] {
        assert!(reading(&asked, figure).value < 1.0, "{}: {:?}", figure.key(), reading(&asked, figure));
    }
    let widest = asked.hues.iter().filter_map(|row| row.total).fold(0.0, f64::max);
    assert!(widest > 5.0, "{widest}");
    // With a fault behind it, both are reported.
    let fault = FAULTS.iter().find(|f| f.1 == &HUE_SKEW).unwrap().3;
    let both = of(&["hue"], &through(65, tint(), fault), 33);
    let (with, without) = (reading(&both, &HUE_SKEW), of(&["hue"], &through(65, vec![], fault), 33));
    assert!((with.value - reading(&without, &HUE_SKEW).value).abs() < 1.0, "{with:?}");
    assert!(with.total.is_some() && reading(&without, &HUE_SKEW).total.is_none());
}

/// Light of the display over mid-grey as PQ holds it: with an identity for a look, camera signal is display signal.
#[derive(Debug)]
struct PqLight;

impl Transfer for PqLight {
    fn encode(&self, light: f64) -> f64 {
        Pq::new().encode(light.max(0.0) / MID_GREY * 10.0)
    }

    fn decode(&self, signal: f64) -> f64 {
        Pq::new().decode(signal) / 10.0 * MID_GREY
    }
}

/// The hue of ICtCp turns such lights by up to 10.7 degrees.
#[test]
fn a_light_that_only_gets_brighter_turns_nowhere_on_pq() {
    let bt2020 = crate::gamut::BT2020;
    let display =
        Display::new(DisplaySettings { mapping: Mapping::Clip, ..DisplaySettings::of(standard("bt2100-pq").unwrap()) })
            .unwrap();
    let camera = camera(Arc::new(PqLight), &bt2020);
    let cube = Arc::new(Cube::sample(2, |rgb| rgb).unwrap());
    let expects = LogSpace::new(Arc::new(PqLight), &bt2020);
    let rendering = DisplayCube::new(cube, Interpolation::Tetrahedral, expects, display.clone());
    let look = Look::new("identity", 1, vec![], display_cube(rendering));
    let subject = Subject {
        look: &look,
        camera: &camera,
        display: &display,
        correction: None,
        points: 9,
        reader: Reader::Either,
    };
    let stress = search_for(&["hue"], &subject, &Limits::default(), &AtomicBool::new(false)).unwrap().unwrap();
    assert!(stress.hdr);
    assert!(reading(&stress, &HUE_SKEW).value < 0.01, "{:?}", reading(&stress, &HUE_SKEW));
}

/// Warm lights that go to yellow are marginal at most, with a hint that says why; those that go elsewhere are not spared.
#[test]
fn warm_lights_may_go_to_yellow() {
    // Red clips last: from a half on, green catches up.
    let yellow = |[r, g, b]: [f64; 3]| [r, if r > 0.45 { g + (r - g) * ((r - 0.45) * 1.8).min(1.0) } else { g }, b];
    let stress = of(&["hue"], &through(65, vec![], yellow), 65);
    assert_eq!(grade(&stress, &HUE_WARM), Grade::Marginal, "{:?}", reading(&stress, &HUE_WARM));
    let hint = stress.finding(&HUE_WARM).unwrap().hint.clone().unwrap();
    assert!(hint.contains("Bezold and Brücke"), "{hint}");
    // Its reds go to yellow too, and its magentas to white by way of rose: those are no warm lights.
    assert_eq!(grade(&stress, &HUE_SKEW), Grade::Breaks, "{:?}", reading(&stress, &HUE_SKEW));
}
