//! `[production]`: who made the looks and when, in all that leaves; and the reference frames of a package.

use rushlight_tests::scene::{SHOW, assert_says, output, put, refused, run, saltmarsh};
use rushlight_tests::schemas::{Schema, assert_valid};
use std::fs;

const TABLE: &str =
    "\n[production]\nday = \"day 3 of 21\"\nunit = \"main\"\nauthor = \"Ida <Marsh>\"\ncontact = \"ida@example.org\"\n";

#[test]
fn who_and_when_goes_into_what_leaves_and_changes_no_picture() {
    let dir = saltmarsh();
    let root = dir.path();
    let bake = "bake show.toml --look night --camera a --display onset --no-audit --points 5 --out";
    output(root, &format!("{bake} plain"));
    put(root, "show.toml", &format!("{SHOW}{TABLE}"));
    output(root, &format!("{bake} said"));
    let cube = |folder: &str| {
        let text = fs::read_to_string(root.join(folder).join("saltmarsh_night_r4_a_onset_5.cube")).unwrap();
        let (comments, rest): (Vec<&str>, Vec<&str>) = text.lines().partition(|line| line.starts_with('#'));
        (comments.join("\n"), rest.join("\n"))
    };
    let ((before, table), (after, same)) = (cube("plain"), cube("said"));
    assert!(table == same && !before.contains("author"));
    assert_says(&after, &["# day: day 3 of 21", "# unit: main", "# author: Ida <Marsh>", "# contact: ida@example.org"]);
    output(root, "sheet show.toml --look plain --display onset --out sheet.html");
    assert_says(
        &fs::read_to_string(root.join("sheet.html")).unwrap(),
        &["day <b>day 3 of 21</b>", "author <b>Ida &lt;Marsh&gt;</b>"],
    );
    output(root, "package show.toml --out out --no-stress --date 2026-11-29");
    let readme = fs::read_to_string(root.join("out/README.txt")).unwrap();
    assert_says(
        &readme,
        &["day         day 3 of 21", "author      Ida <Marsh>", "rushlight diff reference/EXPECTED.png YOURS.tif"],
    );
    let manifest: serde_json::Value =
        serde_json::from_slice(&fs::read(root.join("out/manifest.json")).unwrap()).unwrap();
    assert_eq!(manifest["production"]["unit"], "main");
    let amf = fs::read(root.join("out/amf/saltmarsh_night_r4_a_onset.amf")).unwrap();
    let text = String::from_utf8_lossy(&amf);
    assert_says(
        &text,
        &[
            "<aces:name>Ida &lt;Marsh&gt;</aces:name>",
            "<aces:emailAddress>ida@example.org</aces:emailAddress>",
            "2026-11-29",
        ],
    );
    assert_valid(Schema::Amf, [("with an author", &amf[..])]);
}

#[test]
fn a_wrong_table_is_refused_by_its_keys() {
    let dir = saltmarsh();
    let root = dir.path();
    for (from, to, part) in [
        ("unit = \"main\"", "unit = \" \"", "production.unit: empty"),
        ("unit = \"main\"", "unit = \"a\\nb\"", "production.unit: must be one line of text"),
        ("unit = \"main\"", "units = \"main\"", "units"),
        ("unit = \"main\"", "unit = 3", "production.unit"),
    ] {
        put(root, "show.toml", &format!("{SHOW}{}", TABLE.replace(from, to)));
        assert_says(&refused(root, "bake show.toml"), &[part]);
    }
    // A contact that is no address is no author of an ACES Metadata File, which needs both.
    put(root, "show.toml", &format!("{SHOW}{}", TABLE.replace("ida@example.org", "channel 3")));
    output(root, "package show.toml --out out --no-stress");
    let amf = fs::read_to_string(root.join("out/amf/saltmarsh_night_r4_a_onset.amf")).unwrap();
    assert!(!amf.contains("aces:author"), "{amf}");
    assert_valid(Schema::Amf, [("without an author", amf.as_bytes())]);
}

/// The frame of a camera through the right chain is the expected picture; through another it is not.
#[test]
fn a_package_holds_frames_by_which_post_proves_its_chain() {
    let dir = saltmarsh();
    let root = dir.path();
    output(root, "package show.toml --out out --no-stress");
    let names: Vec<String> = fs::read_dir(root.join("out/reference"))
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    // A chart of each camera, and a picture for each of two looks, two cameras and two displays.
    assert_eq!(names.iter().filter(|name| name.ends_with(".tif")).count(), 2, "{names:?}");
    assert_eq!(names.iter().filter(|name| name.ends_with(".png")).count(), 8, "{names:?}");
    let chain = |look: &str, display: &str| {
        let how = format!("apply show.toml --exact --look {look} --camera a --display {display}");
        output(root, &format!("{how} out/reference/saltmarsh_a_chart.tif {look}-{display}.tif"));
    };
    let diff = |expected: &str, chain: &str| {
        let args = format!("diff out/reference/saltmarsh_{expected}_chart.png {chain}.tif --limit max=0.01");
        run(root, &args).output().unwrap().status.code()
    };
    chain("night", "onset");
    chain("plain", "onset");
    chain("night", "grade");
    assert_eq!(diff("night_r4_a_onset", "night-onset"), Some(0));
    assert_eq!(diff("night_r4_a_onset", "plain-onset"), Some(1));
    // A display of legal range in its own tags.
    let text = output(root, "inspect out/reference/saltmarsh_a_chart.tif --show show.toml");
    assert_says(&text, &["camera signal, by its description", "current        yes"]);
    assert_says(&output(root, "inspect out/reference/saltmarsh_night_r4_a_grade_chart.png"), &["display signal"]);
}

/// The same documents give the same bytes, reference frames too, and stills of the crew go in.
#[test]
fn stills_of_the_crew_go_in_and_the_bytes_are_the_same_each_time() {
    let dir = saltmarsh();
    let root = dir.path();
    output(root, "package show.toml --out first --no-stress");
    // A frame of camera b, which is the chart that was just made for it.
    fs::copy(root.join("first/reference/saltmarsh_b_chart.tif"), root.join("boat.tif")).unwrap();
    for zip in ["a.zip", "b.zip"] {
        let done = run(root, &format!("package show.toml --zip {zip} --no-stress --frame boat.tif --frame-camera b"))
            .output()
            .unwrap();
        assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
    }
    assert!(fs::read(root.join("a.zip")).unwrap() == fs::read(root.join("b.zip")).unwrap());
    output(root, "package --verify a.zip");
    assert_says(
        &refused(root, "package show.toml --out x --no-stress --frame boat.tif boat.tif --frame-camera b"),
        &["another frame has this name: boat"],
    );
    assert!(!root.join("x").exists());
}
