use super::*;
use crate::audit::{audit, audit_plausible};
use crate::cube::{Cube, Interpolation, ShapedCube, UNIT};
use crate::display::standard;
use crate::format::clf::ProcessList;
use crate::format::cube as cube_file;
use crate::gamut::named_gamut;
use crate::look::Look;
use crate::pipeline::Pipeline;
use crate::step::exposure::ExposureSettings;
use crate::step::saturation::SaturationSettings;
use crate::step::tone::ToneSettings;
use crate::step::{Rendering, Step};
use crate::table_file::{Kind, TableFile};
use crate::transfer::encoding;
use crate::transform::{Interpolate, function};

fn camera() -> Camera {
    let curve = encoding("slog3").unwrap().build(None).unwrap();
    let gamut = named_gamut("sgamut3-cine").unwrap().gamut;
    Camera::new(curve, &gamut, None, crate::camera::Range::Full, vec![]).unwrap()
}

fn pipeline(steps: Vec<Step>, display: &str) -> Pipeline {
    let look = Look::new("t", 1, steps, Rendering::new(ToneSettings::default()).unwrap());
    Pipeline::new(&camera(), &look, &Display::of(standard(display).unwrap())).unwrap()
}

fn between(old: &Pipeline, new: &Pipeline) -> Comparison {
    compare(&Pair { old, new, camera: Some(old.camera()), display: old.display(), nodes: None })
}

fn exposed(stops: f64) -> Vec<Step> {
    vec![Step::new(ExposureSettings::stops(stops)).unwrap()]
}

#[test]
fn a_look_against_itself_is_exactly_nothing() {
    for display in ["bt709", "bt2100-pq", "bt2100-hlg"] {
        let look = pipeline(exposed(0.3), display);
        let none = between(&look, &look);
        assert!(none.is_nothing());
        assert_eq!(none.groups.len(), GroupName::ALL.len());
        for group in &none.groups {
            let d = &group.direction;
            assert_eq!([group.mean, group.p95, group.max], [0.0; 3], "{:?}", group.name);
            assert_eq!([d.lightness, d.chroma, d.warmth, d.magenta], [0.0; 4]);
            assert!(group.worst.is_none() && d.words.is_empty());
        }
        assert_eq!(none.grey.unwrap().stops, Some(0.0));
        assert!(none.ramp.iter().all(|step| step.difference == 0.0));
    }
}

#[test]
fn a_stop_more_is_a_stop_more_of_mid_grey() {
    for display in ["bt709", "bt2100-pq", "bt2100-hlg"] {
        for stops in [1.0, -1.0, 0.1] {
            let found = between(&pipeline(exposed(0.0), display), &pipeline(exposed(stops), display));
            let grey = found.grey.as_ref().unwrap();
            assert!((grey.stops.unwrap() - stops).abs() < 1e-9, "{display}: {grey:?}");
            let word = if stops > 0.0 { "lighter" } else { "darker" };
            let neutral = found.group(GroupName::Neutral).unwrap();
            assert_eq!(neutral.direction.words[0], word);
            assert_eq!(neutral.direction.words.len(), 1, "greys take no colour from exposure: {neutral:?}");
        }
    }
}

#[test]
fn swapping_the_sides_mirrors_the_direction() {
    let (old, new) = (
        pipeline(exposed(0.0), "bt709"),
        pipeline(vec![Step::new(SaturationSettings { amount: 1.3 }).unwrap()], "bt709"),
    );
    let (there, back) = (between(&old, &new), between(&new, &old));
    assert!(there.group(GroupName::Samples).unwrap().direction.words.contains(&"more saturated".to_owned()));
    assert!(back.group(GroupName::Samples).unwrap().direction.words.contains(&"less saturated".to_owned()));
    for (a, b) in there.groups.iter().zip(&back.groups) {
        assert_eq!((a.name, a.mean, a.p95, a.max), (b.name, b.mean, b.p95, b.max));
        let (d, e) = (&a.direction, &b.direction);
        assert_eq!([d.lightness, d.chroma, d.warmth, d.magenta], [-e.lightness, -e.chroma, -e.warmth, -e.magenta]);
        assert_eq!(
            a.worst.as_ref().map(|w| (w.signal, w.old, w.new)),
            b.worst.as_ref().map(|w| (w.signal, w.new, w.old))
        );
    }
}

#[test]
fn a_look_and_its_cube_differ_by_what_the_audit_says() {
    for display in ["bt709", "bt2100-pq"] {
        let look = pipeline(exposed(0.0), display);
        let cube = Cube::sample(9, |rgb| look.apply(rgb)).unwrap();
        let audit = audit(&look, &cube);
        for interpolation in Interpolation::ALL {
            let found = compare(&Pair {
                old: &look,
                new: &cube.by(interpolation),
                camera: Some(look.camera()),
                display: look.display(),
                nodes: None,
            });
            assert_eq!(found.difference, audit.difference.name());
            for (name, set) in [(GroupName::Whole, &audit.uniform), (GroupName::Plausible, &audit.plausible)] {
                let (group, figures) = (found.group(name).unwrap(), set.by(interpolation));
                assert_eq!([group.mean, group.p95, group.max], [figures.mean, figures.p95, figures.max]);
                assert_eq!((group.count, group.worst.as_ref().unwrap().signal), (set.count, figures.worst));
            }
        }
    }
}

#[test]
fn one_moved_node_of_two_cubes_is_found() {
    let old = Cube::sample(7, |rgb| rgb.map(|v| 0.1 + 0.8 * v)).unwrap();
    let mut nodes = old.nodes().to_vec();
    nodes[1 + 7 * (2 + 7 * 3)][0] += 0.1;
    let new = Cube::new(7, UNIT, nodes).unwrap();
    let found = compare(&Pair {
        old: &old.by(Interpolation::Tetrahedral),
        new: &new.by(Interpolation::Tetrahedral),
        camera: None,
        display: &Display::of(standard("bt709").unwrap()),
        nodes: Some([old.nodes(), new.nodes()]),
    });
    let names: Vec<_> = found.groups.iter().map(|g| g.name).collect();
    assert_eq!(names, [GroupName::Whole, GroupName::Neutral]);
    let worst = found.groups[0].worst.as_ref().unwrap();
    assert_eq!(worst.signal, [1.0 / 6.0, 2.0 / 6.0, 3.0 / 6.0]);
    assert!(found.groups[0].max > 2.0 && found.groups[0].p95 == 0.0 && found.groups[1].max == 0.0);
    assert!((found.groups[0].mean * 343.0 - found.groups[0].max).abs() < 1e-12);
}

/// Which way a colour goes, on both formulas: light from a warmer white, and a rise of green.
#[test]
fn directions_are_said_as_a_colourist_would() {
    for display in ["bt709", "bt2100-pq"] {
        let look = pipeline(exposed(0.0), display);
        let tinted = |gain: [f64; 3]| {
            compare(&Pair {
                old: &look,
                new: &function(|rgb| {
                    let light = look.camera().decode(rgb);
                    look.apply_to_light(std::array::from_fn::<_, 3, _>(|i| gain[i] * light[i])).0
                }),
                camera: Some(look.camera()),
                display: look.display(),
                nodes: None,
            })
        };
        let says = |found: &Comparison, word: &str| {
            let words = &found.group(GroupName::Neutral).unwrap().direction.words;
            assert!(words.contains(&word.to_owned()), "{display}, {word}: {words:?}");
        };
        says(&tinted([1.1, 1.0, 0.8]), "warmer");
        says(&tinted([0.9, 1.0, 1.2]), "cooler");
        says(&tinted([0.9, 1.1, 0.9]), "greener");
        says(&tinted([1.1, 0.9, 1.1]), "more magenta");
    }
}

#[test]
fn limits_name_what_they_judge() {
    let found = between(&pipeline(exposed(0.0), "bt709"), &pipeline(exposed(0.5), "bt709"));
    let mut limits = limits::Limits::none();
    for text in ["mean=100", "neutral.max=0.001"] {
        limits.set(limits::parse(text).unwrap());
    }
    let checks = limits.check(&found.groups);
    assert_eq!(checks.len(), 7);
    assert!(checks[..6].iter().all(|c| c.holds && c.value.is_some()));
    assert!(!checks[6].holds && checks[6].group == GroupName::Neutral);
    // Only the whole and the greys of cubes whose camera is unknown.
    let checks = limits.check(&found.groups[..1]);
    assert_eq!(checks.iter().map(|c| (c.value.is_some(), c.holds)).collect::<Vec<_>>(), [(true, true), (false, false)]);
}

/// A compiled look, its cube, the same cube as files of two formats, and a frame's transform: each stands on either side.
#[test]
fn any_function_of_a_colour_is_a_side() {
    let look = pipeline(exposed(0.0), "bt709");
    let cube = Cube::of(&look, 17).unwrap();
    let text = cube_file::write_cube(&cube, &cube_file::WriteOptions::default()).unwrap();
    let file = TableFile::read(Kind::Cube, text.as_bytes()).unwrap();
    let made = ProcessList::of_tables("t", "t", vec![], &[cube.clone().into()], Interpolation::Tetrahedral).unwrap();
    let list = TableFile::read(Kind::Clf, made.to_xml().as_bytes()).unwrap();
    let (read, shaped) = (cube.by(Interpolation::Tetrahedral), ShapedCube::from(cube.clone()));
    let shaped = shaped.by(Interpolation::Tetrahedral);
    let sides: [&dyn ColourTransform; 5] = [&read, &shaped, &file, &made, &list];
    for side in sides {
        let pair = |old, new| Pair { old, new, camera: Some(look.camera()), display: look.display(), nodes: None };
        // Files hold single precision.
        let [same, other] = [compare(&pair(&read, side)), compare(&pair(&look, side))];
        assert!(same.groups.iter().all(|g| g.max < 1e-3), "{:?}", same.groups);
        assert!(other.groups.iter().any(|g| g.max > 0.1), "{:?}", other.groups);
        assert!((audit_plausible(&look, side).max - audit(&look, &cube).plausible.tetrahedral.max).abs() < 1e-3);
    }
}
