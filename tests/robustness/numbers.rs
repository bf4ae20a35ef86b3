//! Numbers that no camera gives: of any size and sign, subnormal, infinite, and none at all, through every curve, camera, step,
//! rendering, display and difference. Finite goes in, finite comes out, and a signal lies in its range; what is no finite
//! number never stops the program.

use proptest::prelude::*;
use rushlight::camera::Range;
use rushlight::difference::Difference;
use rushlight::pipeline::Pipeline;
use rushlight::show::Show;
use rushlight::transfer::{Role, encodings};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::OnceLock;

/// Any number by its bits, and those at the ends.
fn number() -> impl Strategy<Value = f64> {
    let ends = vec![
        0.0,
        -0.0,
        f64::MIN_POSITIVE,
        5e-324,
        -5e-324,
        f64::EPSILON,
        1.0 - f64::EPSILON / 2.0,
        1.0 + f64::EPSILON,
        f64::MAX,
        f64::MIN,
        1e37,
        -1e37,
        f64::from(f32::MAX),
    ];
    prop_oneof![
        4 => -0.5..1.5f64,
        3 => any::<u64>().prop_map(f64::from_bits).prop_filter("finite", |v| v.is_finite()),
        2 => prop::sample::select(ends),
        1 => (-330..308i32, any::<bool>()).prop_map(|(e, negative)| {
            let size = format!("1e{e}").parse::<f64>().expect("a number");
            if negative { -size } else { size }
        }),
    ]
}

fn no_number() -> impl Strategy<Value = f64> {
    prop_oneof![3 => number(), 1 => prop::sample::select(vec![f64::NAN, f64::INFINITY, f64::NEG_INFINITY])]
}

/// Every step, with settings that are far from doing nothing.
const STEPS: &str = "
[[step]]
do = 'exposure'
stops = 8
[[step]]
do = 'balance'
from = { kelvin = 2000, tint = 5 }
[[step]]
do = 'printer'
points = [20, -20, 5]
[[step]]
do = 'cdl'
slope = [4, 0.01, 1]
offset = [0.5, -0.5, 0]
power = [4, 0.25, 1]
saturation = 3
[[step]]
do = 'cdl'
clamp = false
slope = [2, 1, 1]
offset = [0.2, -0.2, 0]
power = [3, 0.3, 1]
saturation = 0
[[step]]
do = 'saturation'
amount = 2
[[step]]
do = 'contrast'
amount = 2
pivot = 1
[[step]]
do = 'tint'
shadows = [-0.3, 0.3, 0]
highlights = [0.3, -0.3, 0]
[[step]]
do = 'cube'
file = 'a.cube'
expects = { curve = 'acescct', gamut = 'aces-ap1' }
gives = { curve = 'acescct', gamut = 'aces-ap1' }
[[step]]
do = 'compress'
";

/// Every camera curve into one display, and one camera with every look into every display.
fn paths() -> &'static [(String, Pipeline)] {
    static PATHS: OnceLock<Vec<(String, Pipeline)>> = OnceLock::new();
    PATHS.get_or_init(|| {
        let look = |title: &str, end: &str| format!("schema = 1\ngeneration = 2\ntitle = '{title}'\n{STEPS}[[step]]\n{end}\n").into_bytes();
        let cube = "LUT_3D_SIZE 2\n-1 0 0\n1 0 0\n0 2 0\n1 1 0\n0 0 1e37\n1 0 1\n0 1 1\n1 1 1e37\n";
        let own = "do = 'cube'\nfile = 'a.cube'\nexpects = { curve = 'slog3', gamut = 'sgamut3-cine' }\ngives = { display = 'bt709' }";
        let files: BTreeMap<String, Vec<u8>> = [
            ("print.toml", look("Print", "do = 'print'")),
            ("tone.toml", look("Tone", "do = 'tone'")),
            ("own.toml", look("Own", own)),
            ("bare.toml", b"schema = 1\ngeneration = 2\ntitle = 'Bare'\n[[step]]\ndo = 'print'\n".to_vec()),
            ("a.cube", cube.as_bytes().to_vec()),
        ]
        .into_iter()
        .map(|(name, bytes)| (name.to_owned(), bytes))
        .collect();
        let mut text = "schema = 1\ntitle = 'x'\n".to_owned();
        for (i, encoding) in encodings().iter().filter(|e| e.role == Role::Camera).enumerate() {
            let range = if i % 2 == 0 { "full" } else { "legal" };
            let _ = write!(text, "[cameras.{0}]\ncurve = '{0}'\ngamut = 'bt2020'\nrange = '{range}'\n", encoding.name);
            if let Some(ei) = encoding.base_rating {
                let _ = writeln!(text, "ei = {ei}");
            }
        }
        for (i, standard) in rushlight::display::STANDARDS.iter().enumerate() {
            let range = if i % 2 == 0 { "legal" } else { "full" };
            let _ = write!(text, "[displays.{0}]\nstandard = '{0}'\nrange = '{range}'\n", standard.name);
        }
        text += "[displays.clipped]\nstandard = 'bt709'\nmapping = 'clip'\n";
        text += "[looks]\nprint = 'print.toml'\ntone = 'tone.toml'\nown = 'own.toml'\nbare = 'bare.toml'\n";
        let show = Show::parse("s.toml", &text, &files)
            .unwrap_or_else(|all| panic!("{}", all.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")));
        let first = show.cameras().keys().next().expect("a camera").clone();
        let cameras = show.cameras().keys().map(|camera| ("bare", camera.as_str(), "bt709"));
        let others = show.looks().keys().flat_map(|look| show.displays().keys().map(move |d| (look.as_str(), d.as_str())));
        cameras
            .chain(others.map(|(look, display)| (look, first.as_str(), display)))
            .map(|(look, camera, display)| {
                (format!("{look} {camera} {display}"), show.pipeline(look, camera, display).expect("a path"))
            })
            .collect()
    })
}

fn ends(pipeline: &Pipeline) -> [f64; 2] {
    let range: Range = pipeline.display().settings().range;
    [range.encode(0.0), range.encode(1.0)]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 192, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_signal_becomes_one_that_the_display_has(signal in [number(), number(), number()]) {
        for (name, path) in paths() {
            let out = path.apply(signal);
            let [low, high] = ends(path);
            prop_assert!(out.iter().all(|v| (low - 1e-12..=high + 1e-12).contains(v)), "{name}: {signal:?} -> {out:?}");
            for stage in path.stages(signal) {
                // What the curve alone says may be beyond all numbers; from there on it is bounded.
                let sound = |v: &f64| if stage.name == "linear" { !v.is_nan() } else { v.is_finite() };
                prop_assert!(stage.rgb.iter().all(sound), "{name}, {}: {signal:?} -> {:?}", stage.name, stage.rgb);
            }
        }
    }

    #[test]
    fn any_light_becomes_a_signal_too(light in [number(), number(), number()]) {
        for (name, path) in paths() {
            let out = path.apply_to_light(light);
            let [low, high] = ends(path);
            prop_assert!(out.iter().all(|v| (low - 1e-12..=high + 1e-12).contains(v)), "{name}: {light:?} -> {out:?}");
        }
    }

    #[test]
    fn what_is_no_number_stops_nothing(signal in [no_number(), no_number(), no_number()]) {
        for (_, path) in paths() {
            let _ = (path.apply(signal), path.apply_to_light(signal), path.stages(signal));
        }
    }

    #[test]
    fn no_curve_makes_nan_of_a_number(value in number(), other in no_number()) {
        for encoding in encodings() {
            for ei in encoding.ratings.iter().map(|ei| Some(*ei)).chain([None]).take(3) {
                let Ok(curve) = encoding.build(ei) else { continue };
                prop_assert!(!curve.encode(value).is_nan(), "{} encodes {value:e} as NaN", encoding.name);
                prop_assert!(!curve.decode(value).is_nan(), "{} decodes {value:e} as NaN", encoding.name);
                let _ = (curve.encode(other), curve.decode(other));
            }
        }
    }

    #[test]
    fn differences_of_signals_are_numbers(one in [number(), number(), number()], two in [number(), number(), number()]) {
        for (name, path) in paths().iter().rev().take(8) {
            let ruler = Difference::on(path.display());
            let apart = ruler.between(ruler.place(path.apply(one)), ruler.place(path.apply(two)));
            prop_assert!(apart.is_finite() && apart >= 0.0, "{name}: {apart}");
        }
    }
}
