use super::*;
use rushlight::step::KINDS;
use serde_json::json;

const LOOK: &str = "# The look.\n\nschema = 1\ngeneration = 2\ntitle = \"Night\"\n# Raised with each save.\nrevision = 3    # so far\n\n# Colder.\n[[step]]\ndo = \"balance\"\n[step.from]      # the light\nkelvin = 5400    # tungsten\n\n# A little down.\n[[step]]\ndo = \"exposure\"\nstops = -0.4     # by eye\n\n[[step]]\ndo = \"print\"    # the end\n# the last line\n";

fn apply(text: &str, edit: &Edit) -> Result<(String, usize), String> {
    let mut document = parse(text)?;
    let place = super::apply(&mut document, &Draft::of(text), edit)?;
    Ok((document.to_string(), place))
}

fn edited(text: &str, edit: Edit) -> String {
    apply(text, &edit).unwrap().0
}

fn set(step: usize, key: &str, value: Json) -> Edit {
    Edit::Set { step, key: key.to_owned(), value }
}

#[test]
fn a_value_changes_and_nothing_else_does() {
    assert_eq!(edited(LOOK, set(1, "stops", json!(0.1 + 0.2))), LOOK.replace("-0.4", "0.3"));
    assert_eq!(edited(LOOK, set(1, "stops", json!(-1))), LOOK.replace("-0.4", "-1.0"));
    assert_eq!(edited(LOOK, set(0, "from.kelvin", json!(5000.0))), LOOK.replace("5400", "5000.0"));
    assert_eq!(edited(LOOK, Edit::Title("Day \"1\"".to_owned())), LOOK.replace("\"Night\"", "'Day \"1\"'"));
    let more = edited(LOOK, set(2, "lights", json!([25, 24.5, 25])));
    assert_eq!(more, LOOK.replace("# the end\n", "# the end\nlights = [25.0, 24.5, 25.0]\n"));
    assert_eq!(edited(&more, set(2, "lights", Json::Null)), LOOK);
    let two = edited(LOOK, set(0, "to.kelvin", json!(6000)));
    assert!(two.contains("to = { kelvin = 6000.0 }"), "{two}");
    assert_eq!(edited(&two, set(0, "to.kelvin", Json::Null)), LOOK);
}

#[test]
fn steps_move_with_their_comments() {
    let moved = edited(LOOK, Edit::Move { from: 1, to: 0 });
    let (balance, exposure) = (moved.find("# Colder.").unwrap(), moved.find("# A little down.").unwrap());
    assert!(exposure < balance && moved.find("[step.from]").unwrap() > balance, "{moved}");
    assert_eq!(edited(&moved, Edit::Move { from: 0, to: 1 }), LOOK);
    // The rendering stays last, whatever is asked for.
    let (moved, place) = apply(LOOK, &Edit::Move { from: 0, to: 2 }).unwrap();
    assert_eq!(place, 1);
    assert!(moved.find("\"print\"").unwrap() > moved.find("# Colder.").unwrap());
    assert!(apply(LOOK, &Edit::Move { from: 2, to: 0 }).unwrap_err().contains("`print` gives display light"));
    assert!(apply(LOOK, &Edit::Remove { step: 2 }).is_err());
    assert!(apply(LOOK, &Edit::Remove { step: 3 }).unwrap_err().contains("there is no step 3"));
    let left = edited(LOOK, Edit::Remove { step: 0 });
    assert!(!left.contains("balance") && !left.contains("5400") && left.contains("# A little down."), "{left}");
}

#[test]
fn new_steps_leave_the_picture_as_it_is() {
    for kind in KINDS.iter().filter(|kind| kind.role == Role::Scene) {
        let (text, place) = apply(LOOK, &Edit::Add { what: kind.name.to_owned(), at: 9 }).unwrap();
        assert_eq!(place, 2, "{}", kind.name);
        let look = rushlight::look::parse("look.toml", &text, &std::collections::BTreeMap::new());
        let look = look.unwrap_or_else(|e| panic!("{text}\n{e}"));
        assert_eq!(look.steps()[2].name(), kind.name);
        if kind.name == "compress" || kind.name == "balance" {
            continue;
        }
        let grey = look.steps()[2].apply([0.2, 0.1, 0.4]);
        for (a, b) in grey.into_iter().zip([0.2, 0.1, 0.4]) {
            assert!((a - b).abs() < 1e-9, "{}: {grey:?}", kind.name);
        }
    }
    let toned = edited(LOOK, Edit::Add { what: "tone".to_owned(), at: 0 });
    assert!(toned.contains("do = \"tone\"") && !toned.contains("print"), "{toned}");
    assert!(apply(LOOK, &Edit::Add { what: "blur".to_owned(), at: 0 }).is_err());
}

#[test]
fn light_is_raised_where_the_look_has_an_exposure() {
    let raised = |text: &str, bypassed: &[bool]| {
        let edits = raise(&Draft::of(text), bypassed, 0.25);
        edits.into_iter().fold(text.to_owned(), |text, edit| edited(&text, edit))
    };
    assert_eq!(raised(LOOK, &[false; 3]), LOOK.replace("-0.4", "-0.15"));
    let factor = LOOK.replace("stops = -0.4", "factor = 2.0");
    assert_eq!(raised(&factor, &[]), factor.replace("2.0", "2.378414230005"));
    // One that is left out of the picture changes nothing that is seen: a new one does, behind the compress.
    let new = raised(LOOK, &[false, true, false]);
    let of = |text: &str| Draft::of(text).steps.iter().map(|step| step.name.clone()).collect::<Vec<_>>();
    assert_eq!(of(&new), ["exposure", "balance", "exposure", "print"]);
    assert!(new.contains("stops = 0.25") && new.contains("stops = -0.4 "), "{new}");
    let begins = edited(&edited(LOOK, Edit::Remove { step: 1 }), Edit::Add { what: "compress".to_owned(), at: 0 });
    assert_eq!(of(&raised(&begins, &[false; 3])), ["compress", "exposure", "balance", "print"]);
}

#[test]
fn saving_raises_the_revision_and_keeps_the_notes() {
    let once = with_revision(LOOK, 4, " less\n green\u{7} ", Vec::new()).unwrap();
    let line = "# Raised with each save.\n# Revision 4: less green\nrevision = 4    # so far\n";
    assert_eq!(once, LOOK.replace("# Raised with each save.\nrevision = 3    # so far\n", line));
    let twice = with_revision(&once, 5, "", Vec::new()).unwrap();
    assert_eq!(twice, once.replace("revision = 4", "revision = 5"));
    let none =
        with_revision("schema = 1\ngeneration = 2\ntitle = 'A'\n[[step]]\ndo = 'tone'\n", 2, "first", Vec::new())
            .unwrap();
    assert_eq!(
        none,
        "schema = 1\ngeneration = 2\ntitle = 'A'\n# Revision 2: first\nrevision = 2\n[[step]]\ndo = 'tone'\n"
    );
}

#[test]
fn steps_in_one_list_are_edited_too() {
    let text =
        "schema = 1\ngeneration = 2\ntitle = 'A'\nstep = [{ do = 'exposure', stops = 1 }, { do = 'tone' }] # both\n";
    assert_eq!(edited(text, set(0, "stops", json!(2))), text.replace("stops = 1", "stops = 2.0"));
    let more = edited(text, Edit::Add { what: "saturation".to_owned(), at: 0 });
    assert!(rushlight::look::parse("l", &more, &std::collections::BTreeMap::new()).is_ok(), "{more}");
    let back = edited(&more, Edit::Remove { step: 0 });
    assert!(back.contains("'exposure', stops = 1 }, { do = 'tone' }]"), "{back}");
}

#[test]
fn odd_edits_are_refused() {
    for (step, key, value) in [
        (9, "stops", json!(1)),
        (1, "do", json!("print")),
        (1, "", json!(1)),
        (1, "a..b", json!(1)),
        (1, "stops.more", json!(1)),
        (1, "a.b.c.d.e", json!(1)),
        (1, "stops", json!({ "a": { "b": null } })),
        (1, "list", json!(vec![0; 17])),
    ] {
        assert!(apply(LOOK, &set(step, key, value.clone())).is_err(), "{key} {value}");
    }
    assert!(apply("[[step", &set(0, "a", json!(1))).is_err());
}
