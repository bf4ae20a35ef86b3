//! Laws of the list of steps: no kind lacks a part.

use super::step_to_toml;
use crate::document::Document;
use crate::look::{self, Draft};
use crate::setting::{Field, Takes};
use crate::step::{KINDS, Kind, Rendering, Role, Step, Written, cdl, contrast, exposure, print, printer, tint, tone};
use std::collections::BTreeMap;

fn look_of(kind: &Kind, body: &str) -> String {
    let tone = if kind.role == Role::Rendering { "" } else { "[[step]]\ndo = 'tone'\n" };
    format!("schema = 1\ngeneration = 2\ntitle = 'T'\n[[step]]\ndo = '{}'\n{body}\n{tone}", kind.name)
}

fn files() -> BTreeMap<String, Vec<u8>> {
    let cube = "LUT_3D_SIZE 2\n0 0 0\n1 0 0\n0 1 0\n1 1 0\n0 0 1\n1 0 1\n0 1 1\n1 1 1\n";
    BTreeMap::from([("own.cube".to_owned(), cube.as_bytes().to_vec())])
}

#[test]
fn every_kind_has_all_its_parts() {
    for kind in KINDS {
        let name = kind.name;
        assert!(!kind.title.is_empty() && kind.help.ends_with('.'), "{name}: title and help");
        assert!(!kind.shape.about.is_empty(), "{name}: what its settings are");
        assert!(kind.main.is_empty() || kind.shape.field(kind.main).is_some(), "{name}: no setting {}", kind.main);
        assert_eq!((kind.new)().kind().name, name);
        assert_eq!(KINDS.iter().filter(|other| other.name == name).count(), 1, "{name} is there twice");
        for (key, field) in kind.shape.leaves() {
            part(&format!("{name}.{key}"), field);
            let default = kind.shape.default(&key);
            assert!(!field.optional || default.is_none(), "{name}.{key}: {default:?} where it is not set");
            assert!(field.optional || default.is_some(), "{name}.{key} has no default");
            assert!(std::ptr::eq(kind.shape.field(&key).unwrap(), field));
        }
        let numbers = kind.shape.leaves().into_iter().filter(|(_, field)| field.parameter().is_some());
        let numbers: Vec<String> = numbers.map(|(key, _)| key).collect();
        for key in &numbers {
            let ends = kind.extremes.iter().find(|ends| ends.key == key);
            let ends = ends.unwrap_or_else(|| panic!("{name}.{key}: what it looks like too low and too high"));
            assert!(!ends.low.is_empty() && !ends.high.is_empty() && ends.low != ends.high, "{name}.{key}");
        }
        assert_eq!(kind.extremes.len(), numbers.len(), "{name}: extremes of a setting that is no number");
        let text = look_of(kind, kind.example);
        let (draft, look) = look::read("l.toml", &text, &files());
        let look = look.unwrap_or_else(|problems| panic!("the example of {name}: {problems}"));
        let written = draft.steps[0].written.as_ref().unwrap();
        assert!(written.values().iter().any(|set| set.stated), "the example of {name} states nothing");
        let sentence = &look.sentences()[0];
        assert!(sentence.words.len() > 10 && sentence.words.ends_with('.'), "{name}: {sentence:?}");
        assert_eq!((sentence.step.as_str(), sentence.title.as_str()), (name, kind.title));
        assert_eq!(written.settings().is_rendering(), kind.role == Role::Rendering, "{name}");
    }
}

/// Help, bounds, and a default within them.
fn part(name: &str, field: &Field) {
    assert!(!field.help().is_empty(), "{name} has no help");
    match field.takes {
        Takes::Number(p) | Takes::Three(p, _) => {
            assert_eq!(p.key, field.key, "{name}: the key of another");
            assert!(p.min < p.max && p.min.is_finite() && p.max.is_finite(), "{name}: {p:?}");
            assert!((p.min..=p.max).contains(&p.default) || name == "compress.limits", "{name}: {p:?}");
        }
        Takes::Choice(names) => assert!(names().len() > 1, "{name}"),
        Takes::Curve(names) | Takes::Gamut(names) => assert!(names().len() > 5, "{name}"),
        Takes::Xy | Takes::Whole | Takes::Flag | Takes::Text => {}
        Takes::Table(_) => panic!("{name} is a table among settings"),
    }
    if let Takes::Three(_, parts) = field.takes {
        assert_eq!(parts.len(), 3, "{name}");
    }
}

/// What a step begins with leaves nothing unsaid that its kind must have, and is sound, but for a file that is not there.
#[test]
fn what_a_step_begins_with_can_be_read() {
    for kind in KINDS {
        let body = step_to_toml(&Written::of((kind.new)()));
        let text = look_of(kind, body.split_once('\n').unwrap().1);
        let mut document = Document::parse("l.toml", &text).unwrap();
        let problems = look::parse("l.toml", &text, &files()).err().map(|p| p.to_string()).unwrap_or_default();
        assert_eq!(problems.is_empty(), kind.name != "cube", "{text}{problems}");
        assert!(problems.lines().all(|line| line.contains("step[0].file")), "{problems}");
        assert_eq!(Draft::of(&text).steps[0].written.as_ref().unwrap().settings(), &(kind.new)());
        assert!(document.read_sound_part::<toml::Table>("step[0]", &[]).is_some());
    }
}

/// The settings are serde's both ways: what is not set counts with its default, a print's with its variant's.
#[test]
fn settings_are_read_and_written_by_serde() {
    let print = print::PrintSettings { toe: 1.0, ..print::PrintSettings::named("deep").unwrap() };
    let text = serde_json::to_string(&print).unwrap();
    assert_eq!(serde_json::from_str::<print::PrintSettings>(&text).unwrap(), print);
    let short = r#"{ "toe": 1.0, "variant": "deep" }"#;
    assert_eq!(serde_json::from_str::<print::PrintSettings>(short).unwrap(), print);
    assert_eq!(serde_json::from_str::<tint::TintSettings>("{}").unwrap(), tint::TintSettings::default());
    let error = serde_json::from_str::<contrast::ContrastSettings>("{}").unwrap_err().to_string();
    assert!(error.starts_with("missing field `amount`"), "{error}");
    let error = serde_json::from_str::<tint::TintSettings>(r#"{ "shadow": 1 }"#).unwrap_err().to_string();
    assert!(error.starts_with("unknown field `shadow`"), "{error}");
    let error = serde_json::from_str::<printer::PrinterSettings>(r#"{ "points": [1, 2, 3, 4] }"#).unwrap_err();
    assert!(error.to_string().contains("an array of length 3"), "{error}");
}

#[test]
fn the_first_variant_is_the_default() {
    assert_eq!(print::VariantName::FIRST.name(), print::VARIANTS[0].name);
    assert_eq!(print::PrintSettings::default(), print::PrintSettings::NEUTRAL);
    assert_eq!(print::PrintSettings::named(print::VARIANTS[0].name), Some(print::PrintSettings::NEUTRAL));
}

#[test]
fn settings_in_the_wrong_place_are_refused() {
    assert_eq!(Step::new(tone::ToneSettings::default()).unwrap_err()[0].key, "do");
    assert_eq!(Rendering::new(tint::TintSettings::default()).unwrap_err()[0].key, "do");
    assert_eq!(Step::new(exposure::ExposureSettings::stops(99.0)).unwrap_err()[0].key, "stops");
    assert_eq!(
        Step::new(cdl::CdlSettings { file: Some("x.cc".to_owned()), ..Default::default() }).unwrap_err()[0].key,
        "file"
    );
}
