//! Pairs of small shows, looks and cubes.

use super::*;
use crate::bake::{Format, Options, bake};
use crate::compare::report::{Item, Kind, State};
use crate::test_show::{NIGHT, SHOW, files};
use crate::transform::ColourTransform;

fn darker() -> String {
    NIGHT.replacen("[[step]]\ndo = 'print'", "[[step]]\ndo = 'exposure'\nstops = -1\n[[step]]\ndo = 'print'", 1)
}

/// A file among others, all in one folder.
fn input(name: &str, text: &str, others: &[(&str, &str)]) -> Input {
    let bytes = text.as_bytes().to_vec();
    let origin = Origin { base: String::new(), name: name.to_owned(), bytes, files: Box::new(files(others)) };
    Input::read(origin, None).unwrap_or_else(|e| panic!("{e}"))
}

fn show(text: &str, night: &str) -> Input {
    input("show.toml", text, &[("looks/night.toml", night), ("looks/other.toml", night)])
}

/// The item of two files in a report.
fn item(old: &Input, new: &Input, request: &Request) -> Item {
    pair(Some(old), Some(new), request).unwrap_or_else(|e| panic!("{e}")).item
}

fn picked(camera: &str, display: &str) -> Request {
    let pick = Pick { look: None, camera: Some(camera.to_owned()), display: Some(display.to_owned()) };
    Request { pick, ..Request::default() }
}

#[test]
fn shows_are_compared_picture_by_picture() {
    let (old, new) = (show(SHOW, NIGHT), show(SHOW, &darker()));
    let found = pair(Some(&old), Some(&new), &Request::default()).unwrap();
    assert_eq!((found.item.kind, found.item.state), (Kind::Show, State::Changed));
    let [picture] = found.item.pictures.as_slice() else { panic!("one picture") };
    assert_eq!((picture.look.as_deref(), picture.display.as_str()), (Some("night"), "onset"));
    let both = found.compared[0].as_ref().unwrap();
    assert!(both.old.transform([0.5; 3])[1] > both.new.transform([0.5; 3])[1]);
    let same = item(&old, &show(SHOW, NIGHT), &Request::default());
    assert_eq!(same.state, State::Identical);
    let none = pair(Some(&old), Some(&new), &picked("a", "hdr"));
    assert!(none.is_err(), "neither show bakes that");
}

#[test]
fn a_look_of_another_name_is_found_again() {
    let renamed = SHOW.replace("night = ", "evening = ");
    let found = item(&show(SHOW, NIGHT), &show(&renamed, NIGHT), &Request::default());
    let [picture] = found.pictures.as_slice() else { panic!("one picture") };
    assert_eq!(picture.look.as_deref(), Some("evening"));
    assert!(picture.note.as_deref().unwrap().contains("night"), "{picture:?}");
    // Of two that went and two that came, the document says which is which.
    let [two, other] =
        ["night = 'looks/night.toml'\nday = 'looks/other.toml'", "b = 'looks/other.toml'\na = 'looks/night.toml'"]
            .map(|looks| SHOW.replace("night = 'looks/night.toml'", looks));
    let found = item(&show(&two, NIGHT), &show(&other, NIGHT), &Request::default());
    let notes: Vec<_> = found.pictures.iter().map(|p| (p.look.as_deref().unwrap(), p.note.as_deref())).collect();
    assert!(
        matches!(notes[..], [("a", Some(a)), ("b", Some(b))] if a.contains("night") && b.contains("day")),
        "{notes:?}"
    );
}

#[test]
fn another_display_is_not_compared_and_another_camera_is_said() {
    let hdr = SHOW.replace("'bt709'", "'bt2100-pq'");
    let found = item(&show(SHOW, NIGHT), &show(&hdr, NIGHT), &Request::default());
    assert_eq!(found.pictures[0].state, State::Incomparable);
    let other = SHOW.replace("curve = 'slog3'", "curve = 'slog3'\nrange = 'legal'");
    let found = item(&show(SHOW, NIGHT), &show(&other, NIGHT), &Request::default());
    let picture = &found.pictures[0];
    assert_eq!(picture.state, State::Changed);
    assert!(picture.note.as_deref().unwrap().contains("legal range"), "{picture:?}");
}

#[test]
fn a_cube_is_compared_with_the_look_that_it_was_baked_of() {
    let side = show(SHOW, NIGHT);
    let Content::Show(of) = &side.content else { panic!("a show") };
    let baked = bake(&of.jobs()[0].with_points(17), &Options::default()).unwrap();
    let file = baked.file(Format::Cube).unwrap();
    let cube = input(&file.name, &file.text, &[]);
    // The header says which camera and display it is for.
    let found = item(&cube, &side, &Request::default());
    let comparison = found.pictures[0].comparison.as_ref().unwrap();
    assert!(comparison.groups.iter().all(|g| g.mean < 1.0), "a cube is near its look");
    let other = show(&SHOW.replace("bt709", "srgb"), NIGHT);
    let why = pair(Some(&cube), Some(&other), &Request::default()).map(|_| ()).unwrap_err().to_string();
    assert!(why.contains("is for the display bt709") && why.contains("--display"), "{why}");
}

#[test]
fn looks_need_a_camera_and_a_display_unless_nobody_can_name_them() {
    let (old, new) = (input("night.toml", NIGHT, &[]), input("night.toml", &darker(), &[]));
    let why = pair(Some(&old), Some(&new), &Request::default()).map(|_| ()).unwrap_err().to_string();
    assert!(why.contains("night.toml is a look without a show"), "{why}");
    let found = item(&old, &new, &picked("slog3+sgamut3-cine", "bt709"));
    assert_eq!(found.pictures.len(), 1);
    let Err(Error::Refused(refused)) = pair(Some(&old), Some(&new), &picked("slog3+sgamutt", "bt709")) else {
        panic!("no such gamut")
    };
    assert_eq!(refused[0].key, "camera");
    let lenient = Request { lenient: true, ..Request::default() };
    let found = item(&old, &new, &lenient);
    assert!(found.pictures.is_empty() && found.notes[0].starts_with("no picture: "), "{:?}", found);
    assert!(!found.documents[0].changes.is_empty());
    // The show beside the look says it.
    let beside = [("show.toml", SHOW.replace("looks/", ""))];
    let beside: Vec<(&str, &str)> =
        beside.iter().map(|(n, t)| (*n, t.as_str())).chain([("night.toml", NIGHT)]).collect();
    let found = item(&old, &input("night.toml", NIGHT, &beside), &Request::default());
    assert_eq!(found.pictures[0].camera.as_deref(), Some("a"));
}

#[test]
fn one_side_may_not_be_there() {
    let new = input("night.toml", NIGHT, &[]);
    for (old, new, state) in [(None, Some(&new), State::Added), (Some(&new), None, State::Removed)] {
        assert_eq!(pair(old, new, &Request::default()).unwrap().item.state, state);
    }
    assert!(pair(None, None, &Request::default()).is_err());
}
