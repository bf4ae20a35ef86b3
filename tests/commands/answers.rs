//! Answers that a user relies on without reading further: a file that was changed, a mistake that looks like a result, a word
//! that has to be the right one.

use rushlight_tests::scene::{assert_says, json, output, put, refused, run, saltmarsh, show_of};
use std::fs;
use std::path::Path;

/// Output and exit code of a run.
fn ends(dir: &Path, args: &str) -> (String, Option<i32>) {
    let run = run(dir, args).output().expect("it runs");
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    // As one line, whatever its width.
    let said = text(run.stdout) + &text(run.stderr);
    (said.split_whitespace().collect::<Vec<_>>().join(" "), run.status.code())
}

#[test]
fn a_cube_that_was_changed_by_hand_is_not_current() {
    let dir = saltmarsh();
    let root = dir.path();
    output(root, "bake show.toml --look night --points 5 --no-audit");
    let cube = "cubes/saltmarsh_night_r4_a_onset_5.cube";
    let inspect = format!("inspect {cube} --show show.toml");
    let (said, code) = ends(root, &inspect);
    assert!(said.contains("yes: as the show is now, and unchanged since it was made") && code == Some(0), "{said}");
    assert_eq!(json(root, &format!("{inspect} --json"))["slate"]["matches_manifest"], true);
    let text = fs::read_to_string(root.join(cube)).expect("a cube");
    let (head, last) = text.trim_end().rsplit_once('\n').expect("rows");
    assert_ne!(last, "0.5 0.5 0.5");
    put(root, cube, &format!("{head}\n0.5 0.5 0.5\n"));
    let (said, code) = ends(root, &inspect);
    assert!(said.contains("no: the file is not as its manifest states: it was changed") && code == Some(1), "{said}");
    // Without a list only its documents can be compared, and that is what is said.
    fs::remove_file(root.join("cubes/manifest.json")).expect("it was there");
    let (said, code) = ends(root, &inspect);
    assert!(said.contains("no manifest says whether the file was changed") && code == Some(0), "{said}");
}

#[test]
fn an_exposure_cube_of_a_built_in_display_is_current_until_its_rating_changes() {
    let dir = show_of(
        "[cameras.a]\ncurve = 'slog3'\ngamut = 'sgamut3-cine'\nrating = [{ ei = 800, clip = 0.94, floor_stops = -7 }]\n\
         [displays.onset]\nstandard = 'srgb'\n[looks]\nplain = 'plain.toml'\n",
    );
    let root = dir.path();
    put(root, "plain.toml", "schema = 1\ngeneration = 2\ntitle = 'Plain'\n[[step]]\ndo = 'tone'\n");
    output(root, "false-colour show.toml --out exposure");
    let inspect = "inspect exposure/saltmarsh_a_ei800_ladder_bt709_65.cube --show show.toml";
    let (said, code) = ends(root, inspect);
    assert_eq!(code, Some(0), "{said}");
    assert_says(
        &said,
        &["verdict exposure cube: ladder", "zones jump on purpose", "made for camera signal of a, EI 800"],
    );
    assert!(said.contains("current yes") && !said.contains("damaged"), "{said}");
    let report = json(root, &format!("{inspect} --json"));
    assert_eq!(report["concerns"].as_array().map(Vec::len), Some(0), "{report}");
    let show = fs::read_to_string(root.join("show.toml")).expect("the show");
    put(root, "show.toml", &show.replace("clip = 0.94", "clip = 0.9"));
    let (said, code) = ends(root, inspect);
    assert!(said.contains("the camera has no such rating any more: EI 800") && code == Some(1), "{said}");
}

#[test]
fn a_converted_cube_says_what_it_was_and_what_was_changed() {
    let dir = saltmarsh();
    let root = dir.path();
    output(root, "bake show.toml --look night --points 9");
    let cube = "cubes/saltmarsh_night_r4_a_onset_9.cube";
    output(root, &format!("convert {cube} small.cube --points 5"));
    let text = fs::read_to_string(root.join("small.cube")).expect("a cube");
    assert_says(&text, &["# converted by rushlight", "# show: Saltmarsh", "# changed: sampled with 5 points"]);
    assert!(text.contains("# camera: ") && !text.contains("# error: "), "{text}");
    let (said, code) = ends(root, "inspect small.cube --show show.toml");
    assert!(said.contains("current yes: its show and documents") && code == Some(0), "{said}");
    // One that takes other signals is for that camera no longer.
    output(root, &format!("convert {cube} legal.cube --input full-to-legal"));
    let text = fs::read_to_string(root.join("legal.cube")).expect("a cube");
    assert_says(
        &text,
        &["(input full to legal)", "# camera of the source: ", "changed: sampled with 9 points, input full to legal"],
    );
    assert!(!text.contains("# camera: "), "{text}");
    output(root, &format!("convert {cube} whole.clf"));
    assert!(ends(root, "inspect whole.clf --show show.toml").1 == Some(0));
}

#[test]
fn a_bake_says_which_cubes_its_manifest_no_longer_lists() {
    let dir = saltmarsh();
    let root = dir.path();
    let (said, _) = ends(root, "bake show.toml --look night --points 5 --no-audit");
    assert!(!said.contains("lists this bake alone"), "{said}");
    let (said, _) = ends(root, "bake show.toml --look plain --points 5 --no-audit");
    assert_says(&said, &["manifest.json lists this bake alone", "saltmarsh_night_r4_a_onset_5.cube", "another --out"]);
}

#[test]
fn a_clip_over_legal_range_and_the_ei_of_a_curve_are_said() {
    let dir = show_of(
        "[cameras.a]\ncurve = 'logc3'\ngamut = 'awg3'\nrange = 'legal'\nrating = [{ ei = 800, clip = 0.94 }]\n\
         [displays.onset]\nstandard = 'bt709'\n[looks]\nplain = 'plain.toml'\n",
    );
    let root = dir.path();
    put(root, "plain.toml", "schema = 1\ngeneration = 2\ntitle = 'Plain'\n[[step]]\ndo = 'tone'\n");
    let (said, _) = ends(root, "camera show.toml");
    assert_says(&said, &["logc3 at EI 800, awg3, legal range", "clip = 0.94 at EI 800 is code 962", "write 0.8675"]);
    let (said, _) = ends(root, "bake show.toml --points 5 --no-audit");
    assert!(said.contains("logc3 at EI 800"), "{said}");
    let show = fs::read_to_string(root.join("show.toml")).expect("the show");
    put(root, "show.toml", &show.replace("clip = 0.94", "clip = 0.8675"));
    assert!(!ends(root, "camera show.toml").0.contains("WARNING"));
}

#[test]
fn a_look_that_changed_without_its_revision_is_noted() {
    let dir = saltmarsh();
    let root = dir.path();
    let before = fs::read_to_string(root.join("looks/plain.toml")).expect("a look");
    put(root, "looks/before.toml", &before);
    put(root, "looks/plain.toml", &before.replace("[[step]]", "[[step]]\ndo = 'exposure'\nstops = 0.3\n[[step]]"));
    let diff = "diff looks/before.toml looks/plain.toml --camera slog3+sgamut3-cine --display bt709";
    assert_says(&ends(root, diff).0, &["its revision is still 1: raise it"]);
    put(
        root,
        "looks/plain.toml",
        &before
            .replace("title", "revision = 2\ntitle")
            .replace("[[step]]", "[[step]]\ndo = 'exposure'\nstops = 0.3\n[[step]]"),
    );
    assert!(!ends(root, diff).0.contains("raise it"));
}

#[test]
fn reports_into_files_end_with_the_verdict_and_two_never_share_one() {
    let dir = saltmarsh();
    let root = dir.path();
    let (said, _) =
        ends(root, "stress show.toml --look plain --camera a --display onset --points 5 --format html=page.html");
    assert!(said.starts_with("Saltmarsh: ") && said.contains("written to page.html"), "{said}");
    let (said, _) = ends(root, "diff show.toml show.toml --format html=diff.html");
    assert!(said.contains("identical") || said.contains("->"), "{said}");
    assert!(said.contains("written to diff.html"), "{said}");
    let said = refused(root, "diff show.toml show.toml --format text=a --format json=a");
    assert_says(&said, &["--format: two reports into a"]);
    assert!(!root.join("a").exists());
}

#[test]
fn mistakes_of_beginners_are_answered_by_what_to_do() {
    let dir = saltmarsh();
    let root = dir.path();
    put(root, "my-night/show.toml", "schema = 1\n");
    for (args, wanted) in [
        (
            "probe show.toml --look night --camera a --display onset 420 420 420",
            "420 is no signal: a signal is 0 to 1: code 420 of 10 bits is 0.4106",
        ),
        ("curve slog3 --decode 420", "code 420 of 10 bits is 0.4106 (420 / 1023)"),
        ("bake my-night", "it is a folder: give the show in it, my-night/show.toml"),
        ("convert looks/night.toml n.cube", "`rushlight bake` checks a show or a look, and makes cubes of it"),
        ("inspect show.toml", "is a document, not a table: `rushlight bake`"),
        ("curve slog", "did you mean `slog2` or `slog3`?"),
    ] {
        let said = refused(root, args).split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(said.contains(wanted), "{args}: {said}");
    }
    let said = refused(root, "convert shot.png x.exr --camera c --show show.toml");
    assert!(!said.contains("--frame-camera"), "{said}");
}
