//! Looks as values, and what they say of themselves.

use super::*;
use crate::setting::Takes;
use crate::step::exposure::ExposureSettings;
use crate::step::print::PrintSettings;
use crate::step::tone::ToneSettings;
use crate::step::{KINDS, Rendering, Settings, Step};
use std::collections::BTreeMap;

fn words(steps: &str) -> Vec<String> {
    let draft = Draft::of(&crate::test_show::look(steps));
    draft.steps.iter().map(|step| step.written.as_ref().unwrap().sentence().words).collect()
}

#[test]
fn steps_are_sentences_with_units() {
    let steps = "[[step]]\ndo = 'compress'\n[[step]]\ndo = 'exposure'\nstops = -0.4\n[[step]]\ndo = 'balance'\nfrom = { kelvin \
        = 5400 }\n[[step]]\ndo = 'tint'\nshadows = [-0.16, 0.02, 0.14]\nhighlights = [0.06, 0, -0.08]\n[[step]]\ndo = \
        'contrast'\namount = 1.05\npivot = -1\n[[step]]\ndo = 'printer'\npoints = [0.5, 0.0, -6]\n[[step]]\ndo = \
        'saturation'\namount = 0.95\n";
    assert_eq!(
        words(steps),
        [
            "Colours far outside AP1 are moved back near its edge, gently, by the published numbers of the ACES reference \
             gamut compression.",
            "0.4 stops darker.",
            "A light of 5400 K becomes neutral (D65); the whole picture turns cooler.",
            "Shadows red −0.16, green +0.02, blue +0.14 stops, from mid-grey on, full 4 stops under mid-grey. Highlights \
             red +0.06, blue −0.08 stops, from mid-grey on, full 4 stops over mid-grey. Mid-grey and the luminance of \
             greys stay.",
            "1.05 stops out for a stop in, around 1 stop under mid-grey.",
            "Red +0.5 (+0.042 stops), blue −6 (−0.5 stops); twelve points to a stop, more points are more light.",
            "Colours at 95 % of their strength; luminance stays.",
        ]
    );
}

#[test]
fn a_print_says_what_its_variant_leaves_unsaid() {
    let said = &words("[[step]]\ndo = 'print'\nvariant = 'deep'\ntoe = 1.0\nlights = [25, 24, 25]\n")[0];
    for part in [
        "`deep`",
        "8.5 % of white",
        "hue at 85 %",
        "contrast 4.4",
        "over 1 stop into",
        "density 4.5,",
        "lights 25 24 25",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
}

/// Every number and name that a look can give appears in its sentences: each setting has a value of its own, which must stand in the
/// sentence.
#[test]
fn nothing_that_a_document_gives_goes_unsaid() {
    let mut count = 0;
    for kind in KINDS {
        for (key, field) in kind.shape.leaves() {
            let (value, said) = match field.takes {
                Takes::Three(..) => ("[0.11, 0.22, 0.33]", "0.22"),
                Takes::Xy => ("[0.11, 0.22]", "0.22"),
                Takes::Number(_) => ("0.25", "25"),
                Takes::Whole => ("25", "25"),
                Takes::Text | Takes::Curve(_) | Takes::Gamut(_) => ("'odd-name'", "odd-name"),
                Takes::Choice(names) => (&*format!("'{}'", names()[1]).leak(), names()[1]),
                Takes::Flag | Takes::Table(_) => continue,
            };
            let must = match (kind.name, key.as_str()) {
                ("balance", "from.xy" | "from.kelvin") => "",
                ("balance", "from.tint") => "from.kelvin = 4000\n",
                ("balance", "to.tint") => "from.kelvin = 4000\nto.kelvin = 4000\n",
                ("balance", _) => "from.kelvin = 4000\n",
                ("saturation" | "contrast", key) if key != "amount" => "amount = 1.1\n",
                ("printer", key) if key != "points" => "points = [1, 2, 3]\n",
                ("cdl", "id") => "file = 'x.ccc'\n",
                _ => "",
            };
            let cube = [("file", "'x.cube'"), ("expects.curve", "'slog3'"), ("expects.gamut", "'sgamut3'")];
            let gives = if key == "gives.display" {
                [].as_slice()
            } else {
                &[("gives.curve", "'slog3'"), ("gives.gamut", "'sgamut3'")]
            };
            let all = cube.iter().chain(gives).filter(|(other, _)| kind.name == "cube" && *other != key);
            let must = all.fold(must.to_owned(), |must, (key, value)| format!("{must}{key} = {value}\n"));
            let text = format!("[[step]]\ndo = '{}'\n{must}{key} = {value}\n", kind.name);
            let words = words(&text);
            assert!(words[0].contains(said), "{text}\n{words:?}");
            count += 1;
        }
    }
    assert!(count > 45, "{count}");
}

fn night() -> Look {
    let steps = vec![Step::new(ExposureSettings::stops(-0.5)).unwrap()];
    let print = PrintSettings { lights: [25.0, 24.5, 25.0], ..PrintSettings::named("deep").unwrap() };
    Look::new("Night \"1\"", 3, steps, Rendering::new(print).unwrap()).with_note(" less\n green\u{7} ")
}

#[test]
fn a_look_is_built_compared_written_and_read() {
    let look = night();
    let text = to_toml(&look);
    assert_eq!(
        text,
        "schema = 1\ngeneration = 2\ntitle = 'Night \"1\"'\n# Revision 3: less green\nrevision = 3\n\n[[step]]\ndo = \
         \"exposure\"\nstops = -0.5\n\n[[step]]\ndo = \"print\"\nvariant = \"deep\"\nlights = [25.0, 24.5, 25.0]\n"
    );
    let again = parse("night.toml", &text, &BTreeMap::new()).unwrap();
    assert_eq!(again, look);
    assert_eq!((again.note(), again.generation()), ("less green", GENERATION));
    assert_eq!(to_toml(&again), text);
    let older =
        text.replace("# Revision 3", "# Revision 2: calmer: the sign\n# Revision of the print: none\n# Revision 3");
    assert_eq!(notes(&older), [(2, "calmer: the sign".to_owned()), (3, "less green".to_owned())]);
    assert_eq!(Draft::from(&again), Draft::from(&look));
    assert!(matches!(again.steps()[0].settings(), Settings::Exposure(ExposureSettings { stops: Some(-0.5), .. })));
    let other = look.with_steps(vec![Step::new(ExposureSettings::factor(0.5)).unwrap()]);
    assert_ne!(other, look);
    let tone = Look::new("Night", 3, Vec::new(), Rendering::new(ToneSettings::default()).unwrap());
    assert_ne!(tone, look.with_steps(Vec::new()));
    // A note of another revision is none of this one.
    let stale = parse("night.toml", &text.replace("revision = 3", "revision = 4"), &BTreeMap::new()).unwrap();
    assert_eq!(stale.note(), "");
}

/// What a document states stays stated when it is written, though it is the default.
#[test]
fn what_is_stated_stays_stated() {
    let text = "schema = 1\ngeneration = 2\ntitle = \"T\"\nrevision = 1\n\n[[step]]\ndo = \"balance\"\nfrom = { kelvin = \
                4300.0, tint = 3.0 }\nadaptation = \"bradford\"\n\n[[step]]\ndo = \"print\"\ntoe = 1.5\n";
    let look = parse("t.toml", text, &BTreeMap::new()).unwrap();
    assert_eq!(to_toml(&look), text);
    let without = text.replace("adaptation = \"bradford\"\n", "").replace("toe = 1.5\n", "");
    // The picture is the same, and so are the looks.
    assert_eq!(parse("t.toml", &without, &BTreeMap::new()).unwrap(), look);
}

#[test]
fn steps_that_name_files_are_the_same_while_their_contents_are() {
    let cube = |last: &str| {
        let text = format!("LUT_3D_SIZE 2\n0 0 0\n1 0 0\n0 1 0\n1 1 0\n0 0 1\n1 0 1\n0 1 1\n{last}\n");
        BTreeMap::from([("own.cube".to_owned(), text.into_bytes())])
    };
    let settings = || crate::step::cube::CubeSettings { file: "own.cube".to_owned(), ..Default::default() };
    let made = |last: &str| {
        let files = cube(last);
        Step::with(settings(), &Named::new("", &Recorder::new(&files))).unwrap()
    };
    assert_eq!(made("1 1 1"), made("1 1 1"));
    assert_ne!(made("1 1 1"), made("0.9 1 1"));
    // What is left of a step without its cast is no longer the same step.
    let warm = crate::step::printer::PrinterSettings { points: [3.0, 0.0, -3.0], ..Default::default() };
    let warm = Step::new(warm).unwrap();
    let crate::step::Uncast::Less(even) = warm.uncast() else { panic!("it asks for a cast") };
    let even = warm.with_maths(even);
    assert!(even != warm && even == even.clone() && warm == warm.clone());
    assert!(Step::new(settings()).unwrap_err()[0].message.contains("no files are given"));
}
