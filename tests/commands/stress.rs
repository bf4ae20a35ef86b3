//! `stress`, with good, wrong and missing input; and its hues against another library's.

use rushlight::oklab::oklab;
use rushlight_tests::scene::{
    SHOW, Transcript, assert_holds_to, assert_says, json, output, put, refused, run, saltmarsh,
};
use serde_json::Value;
use std::fs;

/// One case of the small show.
const ONE: &str = "stress show.toml --look plain --camera a --display onset";

/// `[stress]` limits that nothing passes but what is no number.
const LOOSE: &str = "
[stress.order]
neutral = { breaks = 1000 }
colours = { breaks = 1000 }
[stress.folds]
depth = { breaks = 1000 }
share = { breaks = 100 }
[stress.clipping]
white = { holds = 0, breaks = 0 }
black = { holds = 0, breaks = 0 }
[stress.banding]
neutral-step = { breaks = 2000 }
colour-step = { breaks = 2000 }
neutral-jump = { breaks = 1000 }
colour-jump = { breaks = 1000 }
[stress.hue]
skew = { breaks = 360 }
order = { breaks = 360 }
[stress.neutral]
unasked = { breaks = 1000 }
[stress.lights]
shape = { holds = 0, breaks = 0 }
hue = { breaks = 360 }
";

/// The show with more in its document.
fn with(limits: &str) -> tempfile::TempDir {
    let dir = saltmarsh();
    put(dir.path(), "show.toml", &format!("{SHOW}{limits}"));
    dir
}

#[test]
fn the_report_keeps_to_its_schema_and_names_a_neon_blue() {
    let dir = with(LOOSE);
    let report = json(dir.path(), &format!("{ONE} --json"));
    assert_holds_to(dir.path(), "stress", &report);
    assert_eq!(report["schema"], 2);
    assert_ne!(report["verdict"], "breaks");
    let case = &report["cases"][0];
    assert_eq!((case["look"].as_str(), case["points"].as_u64()), (Some("plain"), Some(5)));
    let lights: Vec<&str> =
        case["lights"].as_array().expect("a list").iter().filter_map(|l| l["name"].as_str()).collect();
    assert!(lights.contains(&"neon blue"), "{lights:?}");
    for finding in case["findings"].as_array().expect("a list") {
        let number = |path: &str| finding[path]["value"].as_f64().expect("a number");
        assert!((finding["cube_adds"].as_f64().expect("a number") - (number("cube") - number("exact"))).abs() < 1e-12);
        assert!(finding["tried"].is_null());
        // A signal that is named gives what is named of it.
        if let Some(signal) = finding["exact"]["at"]["signal"].as_array() {
            let words: Vec<String> = signal.iter().map(Value::to_string).collect();
            let probed = json(dir.path(), &format!("probe{} --json {}", &ONE["stress".len()..], words.join(" ")));
            assert_eq!(probed["colours"][0]["out"], finding["exact"]["at"]["out"], "{finding}");
        }
    }
}

#[test]
fn what_breaks_a_limit_of_the_show_ends_with_1() {
    let dir = with(&LOOSE.replace("skew = { breaks = 360 }", "skew = { holds = 0, breaks = 0.001 }"));
    let run = run(dir.path(), ONE).output().expect("it starts");
    let text = String::from_utf8(run.stdout).expect("UTF-8");
    assert_eq!(run.status.code(), Some(1), "{text}");
    assert_says(&text, &["breaks hue.skew", "remedy: ", "neon blue"]);
    let figures = text.lines().find(|l| l.starts_with("hue ")).expect("a line of the hue");
    assert!(figures.ends_with("breaks") && figures.contains("0.001"), "{figures}");
}

/// What is marginal ends with 0, and with 1 where that is asked for.
#[test]
fn what_is_marginal_ends_with_0_and_strictly_with_1() {
    let holds = "[stress.clipping]\nwhite = { holds = 0, breaks = 0 }\nblack = { holds = 0, breaks = 0 }\n";
    let dir = with(&LOOSE.replace("[stress.order]\nneutral = {", "[stress.order]\nneutral = { holds = 0,"));
    let code = |options: &str| {
        let run = run(dir.path(), &format!("{ONE} --json {options}")).output().expect("it starts");
        let report: Value = serde_json::from_slice(&run.stdout).expect("JSON");
        (report["verdict"].as_str().expect("a grade").to_owned(), run.status.code())
    };
    assert_eq!(code(""), ("marginal".to_owned(), Some(0)));
    assert_eq!(code("--strict"), ("marginal".to_owned(), Some(1)));
    assert!(LOOSE.contains(holds), "the other limits are those of the other tests");
    assert_says(&refused(dir.path(), "stress none.toml --strict"), &["none.toml: no such file"]);
}

/// A turn says beside it what it comes to with the tints that the look asks for.
#[test]
fn what_the_look_asks_for_is_said_beside_a_turn() {
    let dir = with(LOOSE);
    let case =
        |look: &str| json(dir.path(), &format!("stress show.toml --look {look} --camera a --display onset --json"));
    let total = |report: &Value| {
        let findings = report["cases"][0]["findings"].as_array().expect("a list").clone();
        let skew = findings.into_iter().find(|f| f["figure"] == "skew").expect("it is there");
        skew["exact"]["total"].as_f64()
    };
    assert_eq!(total(&case("plain")), None);
    let night = case("night");
    assert!(total(&night).is_some_and(|degrees| degrees > 0.0), "{}", night["cases"][0]["findings"]);
    let text = output(dir.path(), "stress show.toml --look night --camera a --display onset");
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_says(&text, &["degrees without what the look asks for", " with what the look asks for;"]);
}

#[test]
fn limits_that_are_none_are_refused_at_their_place() {
    for (limits, said) in [
        ("[stress.hues]\nskew = { holds = 1 }\n", "stress.hues: unknown property `hues`: did you mean `hue`?"),
        ("[stress.hue]\nskwe = { holds = 1 }\n", "stress.hue.skwe: unknown figure `skwe`: did you mean `skew`?"),
        ("[stress.hue]\nskew = { holds = 60 }\n", "stress.hue.skew: it holds within 60"),
        ("[stress.hue]\nskew = { holds = -1 }\n", "stress.hue.skew.holds: -1 is out of range"),
        ("[stress.hue]\nskew = { hold = 1 }\n", "unknown key `hold`: did you mean `holds`?"),
    ] {
        let said_of_it = refused(with(limits).path(), ONE);
        assert_says(&said_of_it, &["show.toml:", said]);
    }
}

#[test]
fn options_that_are_wrong_are_refused() {
    let dir = saltmarsh();
    put(dir.path(), "nowhere", "a file where a folder should be");
    let mut transcript = Transcript::of("stress_options_that_are_wrong_are_refused");
    for args in [
        "show.toml --points 1",
        "show.toml --try compres",
        "show.toml --look nihgt",
        "show.toml --format htm",
        "show.toml --format html --format text",
        "show.toml --json --format html",
        "none.toml",
    ] {
        let command = format!("stress {args}");
        transcript.add(&command, &refused(dir.path(), &command));
    }
    transcript.check();
    // The system says why.
    assert_says(&refused(dir.path(), &format!("{ONE} --format html=nowhere/page.html")), &["cannot write"]);
}

#[test]
fn a_step_that_is_tried_stands_beside_every_figure() {
    let dir = with(LOOSE);
    let report = json(dir.path(), &format!("{ONE} --try compress --json"));
    assert_eq!(report["tried"], "a compress step at the start");
    let findings = report["cases"][0]["findings"].as_array().expect("a list");
    let tried = |name: &str| {
        let of = findings.iter().find(|f| f["property"] == "hue" && f["figure"] == name).expect("it is there");
        [&of["exact"]["value"], &of["tried"]["exact"]].map(|v| v.as_f64().expect("a number"))
    };
    // What compress is for.
    let [without, with] = tried("skew");
    assert!(with < without, "{with} with it, {without} without");
    let text = output(dir.path(), "stress show.toml --look night --camera a --display onset --try compress");
    assert_says(&text, &["The look already begins with that step"]);
}

#[test]
fn text_fits_80_columns_and_pages_stand_alone() {
    let dir = with(LOOSE);
    let text = output(
        dir.path(),
        "stress show.toml --look plain --camera a --try compress --for either --format text --format html=page.html",
    );
    let long: Vec<&str> = text.lines().filter(|l| l.chars().count() > 80).collect();
    assert!(long.is_empty(), "{long:#?}");
    assert_eq!(text.matches("\nlook ").count(), 2);
    let page = fs::read_to_string(dir.path().join("page.html")).expect("it is written");
    assert!(
        page.starts_with("<!DOCTYPE html>") && page.contains("neon blue") && page.contains("data:image/png;base64,")
    );
    for outside in ["src=\"http", "href=\"http", "url(http", "<script", "<link"] {
        assert!(!page.contains(outside), "{outside}");
    }
    let markdown = output(dir.path(), &format!("{ONE} --format markdown"));
    let table: Vec<&str> = markdown.lines().filter(|l| l.starts_with("| hue.") || l.starts_with("| figure")).collect();
    assert!(table.len() == 5 && table.iter().all(|l| l.matches(" |").count() == 9), "{markdown}");
}

#[test]
fn strips_of_cameras_that_show_the_same_are_one() {
    let dir = saltmarsh();
    let strips = |name: &str| {
        let page = format!("{name}.html");
        let line = format!("stress {name}.toml --look plain --display onset --format html={page}");
        let run = run(dir.path(), &line).output().expect("it starts");
        assert_ne!(run.status.code(), Some(2), "{}", String::from_utf8_lossy(&run.stderr));
        let page = fs::read_to_string(dir.path().join(page)).expect("it is written");
        (page.matches("class=\"strip\"").count(), page.matches("<h2 id=\"case").count())
    };
    // The same camera under another name.
    let camera = SHOW.split("[cameras.a]").nth(1).and_then(|rest| rest.split("\n[").next()).expect("camera a");
    let twice = |camera: &str| format!("{SHOW}\n[cameras.twin]{camera}");
    put(dir.path(), "one.toml", SHOW);
    put(dir.path(), "twin.toml", &twice(camera));
    let (one, sections) = strips("one");
    assert_eq!(sections, 1);
    assert_eq!(strips("twin"), (one, 1));
    // A camera whose signal ends earlier shows less of each light.
    put(dir.path(), "other.toml", &twice("\ncurve = \"canon-log\"\ngamut = \"cinema-gamut\"\n"));
    let (both, sections) = strips("other");
    assert!(both > one && sections == 1, "{both} strips of two cameras, {one} of one");
}

/// Oklab by `colour.XYZ_to_Oklab` of colour-science 0.4.7, which has the author's own matrices as we do. (Others have
/// them derived anew, which makes differences in the fourth decimal.)
#[test]
fn hues_are_those_of_another_library() {
    for (xyz, want) in [
        ([0.2, 0.1, 0.6], [0.494288075057, 0.117340277887, -0.203599700809]),
        ([0.4, 0.5, 0.1], [0.786122611817, -0.068238754578, 0.14967036877]),
        ([0.95, 1.0, 1.089], [0.999968675414, -0.000258005817, -0.000114997565]),
        ([0.02, 0.03, 0.01], [0.30483977262, -0.048010722794, 0.047419512624]),
    ] {
        let got = oklab(xyz);
        assert!((0..3).all(|i| (got[i] - want[i]).abs() < 1e-11), "{xyz:?}: {got:?} {want:?}");
    }
}
