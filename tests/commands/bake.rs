//! `bake`, with good, wrong and missing input.

use rushlight::audit::audit;
use rushlight::bake::{CubeRecord, Format, MadeFor, Manifest, Options, bake, made_for};
use rushlight::cube::{Cube, Interpolation};
use rushlight::difference::Formula;
use rushlight::display::Eotf;
use rushlight::files::sha256;
use rushlight::format::cube::Strictness;
use rushlight::range::Range;
use rushlight::shot::Order;
use rushlight::show::{CameraId, DisplayId};
use rushlight_tests::demo;
use rushlight_tests::demo::show_of;
use rushlight_tests::scene::{
    CURVE, NIGHT, SHOW, assert_holds_to, assert_says, files, json, numbers, output, put, refusals, refused, run,
    saltmarsh, schema,
};
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;

#[test]
fn bake_writes_every_cube_and_a_true_manifest() {
    let dir = saltmarsh();
    let report = output(dir.path(), "bake show.toml");
    let baked = files(&dir.path().join("cubes"));
    let manifest: Value = serde_json::from_slice(&baked["manifest.json"]).expect("JSON");
    let cubes = manifest["cubes"].as_array().expect("a list");
    assert_eq!(cubes.len(), 8);
    assert_eq!(baked.len(), 9, "the cubes and the manifest alone: {:?}", baked.keys());
    for cube in cubes {
        let name = cube["file"].as_str().expect("a name");
        assert_eq!(cube["sha256"], sha256(&baked[name]), "{name}");
        assert!(report.contains(name), "{name} is not in the report");
        let text = std::str::from_utf8(&baked[name]).expect("a cube is ASCII");
        let file =
            rushlight::format::cube::read(text.as_bytes(), Strictness::Strict).expect("a cube by the specification");
        let table = file.into_cube().expect("a 3D table");
        assert_eq!((table.size(), cube["points"].as_u64()), (5, Some(5)));
        assert_eq!(cube["camera_id"]["range"], if cube["camera"] == "b" { "legal" } else { "full" });
        assert_eq!(cube["display_id"]["range"], if cube["display"] == "grade" { "legal" } else { "full" });
    }
    assert!(baked.contains_key("saltmarsh_night_r4_a_onset_5.cube"), "{:?}", baked.keys());
    let sources: BTreeMap<&str, &str> = manifest["sources"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|s| (s["file"].as_str().expect("a name"), s["sha256"].as_str().expect("a hash")))
        .collect();
    assert_eq!(sources.len(), 4, "{sources:?}");
    for (name, text) in [("show.toml", SHOW), ("looks/night.toml", NIGHT), ("curves/heron.toml", CURVE)] {
        assert_eq!(sources[name], sha256(text.as_bytes()), "{name}");
    }
}

#[test]
fn bake_gives_the_same_bytes_on_every_run_and_thread_count() {
    let dir = saltmarsh();
    for (out, threads) in [("one", "1"), ("two", "2"), ("again", "2")] {
        let mut command = run(dir.path(), "bake show.toml --points 9 --out");
        command.arg(out).env("RAYON_NUM_THREADS", threads).assert().success();
    }
    let first = files(&dir.path().join("one"));
    assert_eq!(first.len(), 9);
    assert!(first == files(&dir.path().join("two")) && first == files(&dir.path().join("again")));
    // Over what is there already, too.
    output(dir.path(), "bake show.toml --points 9 --out one");
    assert!(first == files(&dir.path().join("one")));
}

#[test]
fn bake_picks() {
    let dir = saltmarsh();
    for (options, expected) in [
        ("--look night", vec!["night_r4_a_grade", "night_r4_a_onset", "night_r4_b_grade", "night_r4_b_onset"]),
        ("--camera b --display grade", vec!["night_r4_b_grade", "plain_r1_b_grade"]),
        ("--look plain --camera a --display onset", vec!["plain_r1_a_onset"]),
    ] {
        let manifest = json(dir.path(), &format!("bake show.toml --points 3 --json --out picked {options}"));
        let out = dir.path().join("picked");
        let names: Vec<&str> =
            manifest["cubes"].as_array().expect("a list").iter().map(|c| c["file"].as_str().expect("a name")).collect();
        let expected: Vec<String> = expected.iter().map(|name| format!("saltmarsh_{name}_3.cube")).collect();
        assert_eq!(names, expected, "{options}");
        let written = files(&out);
        assert_eq!(written.len(), expected.len() + 1);
        assert!(serde_json::from_slice::<Value>(&written["manifest.json"]).expect("JSON") == manifest);
        fs::remove_dir_all(out).expect("it was written");
    }
}

#[test]
fn the_json_of_bake_is_the_manifest() {
    let dir = saltmarsh();
    let shown = output(dir.path(), "bake show.toml --json");
    let value: Value = serde_json::from_str(&shown).expect("JSON");
    assert_holds_to(dir.path(), "manifest", &value);
    let validator = schema(dir.path(), "manifest");
    for (pointer, other) in
        [("/cubes/0/format", "cubic"), ("/cubes/0/camera_id/range", "wide"), ("/cubes/0/sha256", "")]
    {
        let mut wrong = value.clone();
        *wrong.pointer_mut(pointer).expect("it is there") = if other.is_empty() { Value::Null } else { other.into() };
        assert!(!validator.is_valid(&wrong), "{pointer}");
    }
    assert_eq!(shown.as_bytes(), files(&dir.path().join("cubes"))["manifest.json"]);
}

#[test]
fn bake_takes_a_look_that_stands_alone() {
    let dir = saltmarsh();
    output(dir.path(), "bake looks/night.toml --camera vlog+vgamut --display srgb --points 4 --out alone");
    let names: Vec<String> = files(&dir.path().join("alone")).into_keys().collect();
    assert_eq!(names, ["manifest.json", "night-exterior_night_r4_vlog-vgamut_srgb_4.cube"]);
    refusals(
        "bake_bake_takes_a_look_that_stands_alone",
        dir.path(),
        "bake looks/night.toml --out none",
        &[
            "",
            "--camera vlog --display srgb",
            "--camera vlg+vgamut --display srgb",
            "--camera vlog+vgamutt --display srgb",
            "--camera pq+bt2020 --display srgb",
            "--camera vlog+vgamut --display sgrb",
            "--camera vlog+vgamut --display srgb --look day",
        ],
    );
    assert!(!dir.path().join("none").exists(), "nothing is made for a run that was refused");
}

#[test]
fn bake_refuses_what_it_cannot_do() {
    let dir = saltmarsh();
    put(dir.path(), "plain-file", "x");
    refusals(
        "bake_bake_refuses_what_it_cannot_do",
        dir.path(),
        "",
        &[
            "bake",
            "bake nowhere.toml",
            "bake looks",
            "bake show.toml --points 1",
            "bake show.toml --points 257",
            "bake show.toml --points many",
            "bake show.toml --look nigth",
            "bake show.toml --camera c",
            "bake show.toml --display onsett",
            "bake show.toml --out plain-file",
            "bake show.toml --out plain-file/cubes",
            "bake show.toml --colour",
        ],
    );
    assert_eq!(fs::read(dir.path().join("plain-file")).expect("it is still there"), b"x");
    fs::write(dir.path().join("bytes.toml"), b"title = '\xff'\n").expect("a file");
    assert_says(&refused(dir.path(), "bake bytes.toml"), &["bytes.toml is not text: byte 9 is not UTF-8"]);
}

#[cfg(target_os = "linux")]
#[test]
fn bake_refuses_a_folder_that_it_cannot_write_to() {
    let dir = saltmarsh();
    // Nobody makes folders there, whatever their rights.
    assert_says(&refused(dir.path(), "bake show.toml --out /proc/cubes"), &["cannot write into /proc/cubes: "]);
}

/// The manifest's name is taken by a folder, so that a bake fails at its last file.
#[test]
fn an_old_cube_survives_a_failed_bake() {
    let dir = saltmarsh();
    let out = dir.path().join("out");
    let cube = "saltmarsh_night_r4_a_onset_5.cube";
    put(&out, cube, "# made by rushlight 0.1.0: the old cube");
    fs::create_dir(out.join("manifest.json")).expect("a folder");
    let said = refused(dir.path(), "bake show.toml --out out");
    assert_says(&said, &["cannot write out/manifest.json: it is a folder"]);
    assert_eq!(files(&out), BTreeMap::from([(cube.to_owned(), b"# made by rushlight 0.1.0: the old cube".to_vec())]));
    fs::remove_dir(out.join("manifest.json")).expect("it is empty");
    output(dir.path(), "bake show.toml --out out");
    assert_eq!(files(&out).len(), 9);
    assert_ne!(files(&out)[cube], b"# made by rushlight 0.1.0: the old cube");
}

#[cfg(unix)]
#[test]
fn an_interrupted_bake_leaves_nothing_behind() {
    use rushlight_tests::scene::wait_until;
    let dir = saltmarsh();
    let out = dir.path().join("out");
    put(&out, "saltmarsh_night_r4_a_onset_96.cube", "# made by rushlight 0.1.0: the old cube");
    let mut child = std::process::Command::new(rushlight_tests::rushlight())
        .current_dir(dir.path())
        .args(["bake", "show.toml", "--points", "96", "--out", "out"])
        .spawn()
        .expect("it starts");
    // Once the first of eight large cubes is being written the others are still to come, and none has its name.
    let is_written = |e: fs::DirEntry| {
        // The empty file by which the folder was tried may be gone again.
        e.path().extension().is_some_and(|x| x == "tmp") && e.metadata().is_ok_and(|m| m.len() > 0)
    };
    let written = || fs::read_dir(&out).expect("the folder is there").flatten().any(is_written);
    wait_until("a cube is being written", written);
    let killed = std::process::Command::new("kill").args(["-INT", &child.id().to_string()]).status();
    assert!(killed.expect("unix has it").success());
    assert_eq!(child.wait().expect("it ends").code(), Some(130));
    assert_eq!(
        files(&out),
        BTreeMap::from([(
            "saltmarsh_night_r4_a_onset_96.cube".to_owned(),
            b"# made by rushlight 0.1.0: the old cube".to_vec()
        )])
    );
}

/// The manifest's audit, the header's, and an audit of the file as it was read back are one.
#[test]
fn the_audit_is_of_the_cube_that_was_written() {
    // Ten decimals are the path's; four move each node by up to half of the last.
    [10, 4].into_iter().for_each(audit_with_digits);
}

fn audit_with_digits(digits: usize) {
    let dir = saltmarsh();
    let args = format!("bake show.toml --look night --camera a --display onset --points 9 --digits {digits} --json");
    let manifest = json(dir.path(), &args);
    let recorded = &manifest["cubes"][0]["audit"];
    let text = files(&dir.path().join("cubes"))["saltmarsh_night_r4_a_onset_9.cube"].clone();
    let cube: Cube = rushlight::format::cube::read(&text, Strictness::Strict).unwrap().into_cube().unwrap();
    let show = show_of(&dir.path().join("show.toml"));
    let again = audit(&show.pipeline("night", "a", "onset").unwrap(), &cube);
    assert_eq!(
        (recorded["difference"].as_str(), recorded["reader"].as_str()),
        (Some("ciede2000"), Some("tetrahedral"))
    );
    for set in rushlight::audit::SETS {
        for kind in Interpolation::ALL {
            for figure in rushlight::audit::FIGURES {
                let want = again.set(set).unwrap().by(kind).get(figure).unwrap();
                let got = recorded[set][kind.name()][figure].as_f64().unwrap();
                // Ten decimals in the file; CIEDE2000 is some hundreds to the unit of signal.
                assert!((got - want).abs() < 1e-6, "{set} {} {figure}: {got}, {want}", kind.name());
            }
        }
        assert_eq!(recorded[set]["count"], again.set(set).unwrap().count);
    }
    let line =
        format!("# error: colours that a camera meets, tetrahedral: {}\n", again.line(Interpolation::Tetrahedral));
    let header = String::from_utf8(text).unwrap();
    assert!(header.contains(&line), "{line} is not in {}", &header[..900]);
    // Nine points of a film print are far from enough: an audit that finds nothing has not looked.
    assert!(again.plausible.tetrahedral.mean > 1.0 && again.neutral.tetrahedral.max > 0.5);
}

#[test]
fn limits_on_the_error_decide_the_exit_code_and_keep_the_files() {
    let dir = saltmarsh();
    let bake = "bake show.toml --look night --camera a --display onset --points 9 --out";
    let figures = json(dir.path(), &format!("{bake} measured --for either --json"))["cubes"][0]["audit"].clone();
    let of = |set: &str, kind: &str, figure: &str| figures[set][kind][figure].as_f64().unwrap();
    let [tetrahedral, trilinear] = ["tetrahedral", "trilinear"].map(|kind| of("neutral", kind, "max"));
    assert!(tetrahedral < trilinear, "{tetrahedral}, {trilinear}: greys lie on the tetrahedra's edges");
    let between = (tetrahedral + trilinear) / 2.0;
    for (limits, reader, code) in [
        (format!("mean={}", of("plausible", "tetrahedral", "mean") + 0.001), "tetrahedral", 0),
        (format!("mean={}", of("plausible", "tetrahedral", "mean") - 0.001), "tetrahedral", 1),
        (format!("uniform.p99={}", of("uniform", "tetrahedral", "p99") - 0.001), "tetrahedral", 1),
        (format!("mean=100,p99=100,max=100,neutral.max={between}"), "tetrahedral", 0),
        (format!("mean=100,neutral.max={between}"), "trilinear", 1),
        (format!("mean=100,neutral.max={between}"), "either", 1),
    ] {
        let run = run(dir.path(), &format!("{bake} limited --max-error {limits} --for {reader}")).output().unwrap();
        let said = String::from_utf8(run.stderr).unwrap();
        assert_eq!(run.status.code(), Some(code), "{limits} for {reader}: {said}");
        assert_eq!(said.is_empty(), code == 0);
        if code == 1 {
            let name = "saltmarsh_night_r4_a_onset_9.cube";
            assert_says(&said, &["limit exceeded: ", name, limits.split(',').next_back().unwrap()]);
        }
        let written = files(&dir.path().join("limited"));
        assert_eq!(written.len(), 2, "{:?}", written.keys());
        fs::remove_dir_all(dir.path().join("limited")).unwrap();
    }
    for (limit, part) in [
        ("max", "--max-error: `max`: a limit is [SET.]FIGURE=VALUE"),
        ("p98=1", "--max-error: `p98=1`: "),
        ("grey.max=1", "unknown set of colours `grey`"),
        ("max=-1", "a limit is a number from 0 up"),
        ("max=1 --no-audit", "--no-audit"),
    ] {
        let said = refused(dir.path(), &format!("{bake} none --max-error {limit}"));
        assert_says(&said, &[part.replace("`p98=1`: ", "`p98`: unknown figure").as_str()]);
    }
    assert!(!dir.path().join("none").exists());
}

#[test]
fn an_audit_can_be_left_out() {
    let dir = saltmarsh();
    let manifest = json(dir.path(), "bake show.toml --no-audit --json");
    assert!(manifest["cubes"].as_array().unwrap().iter().all(|cube| cube.get("audit").is_none()));
    for (name, text) in files(&dir.path().join("cubes")) {
        assert!(!String::from_utf8(text).unwrap().contains("audit"), "{name}");
    }
    let report = output(dir.path(), "bake show.toml --no-audit");
    assert!(!report.contains("strays"), "{report}");
}

#[test]
fn cubes_are_written_as_the_box_wants_them() {
    let dir = saltmarsh();
    let night = "bake show.toml --look night --camera a --display onset";
    output(dir.path(), &format!("{night} --plain --digits 4"));
    let name = "saltmarsh_night_r4_a_onset_5.cube";
    let text = String::from_utf8(files(&dir.path().join("cubes"))[name].clone()).unwrap();
    assert!(!text.contains('#') && text.lines().last().unwrap().split(' ').all(|v| v.len() == 6), "{text}");
    assert_says(&refused(dir.path(), &format!("{night} --digits 11")), &["--digits: 11 is out of range"]);
    assert_says(&refused(dir.path(), &format!("{night} --format csv")), &["invalid value 'csv'", "cube, clf"]);

    // Both formats at once, and a reader of either gets the same colours.
    let manifest =
        json(dir.path(), &format!("{night} --format clf,cube --for trilinear --digits 10 --json --out both"));
    let cubes = manifest["cubes"].as_array().unwrap();
    let kinds: Vec<&str> = cubes.iter().map(|c| c["format"].as_str().unwrap()).collect();
    assert_eq!(kinds, ["cube", "clf"]);
    let both = files(&dir.path().join("both"));
    for cube in cubes {
        assert_eq!(cube["generation"], rushlight::look::GENERATION);
        assert_eq!(cube["sha256"], sha256(&both[cube["file"].as_str().unwrap()]));
    }
    assert_says(
        &String::from_utf8(both["saltmarsh_night_r4_a_onset_5.clf"].clone()).unwrap(),
        &[
            "interpolation=\"trilinear\"",
            "look: Night exterior, revision 4, picture of generation 2",
            "source: looks/night.toml sha256 ",
        ],
    );
    let read = |file: &str, options: &str| {
        let shown = json(dir.path(), &format!("probe both/{file} 0.31 0.52 0.47 {options} --json"));
        assert_holds_to(dir.path(), "probe", &shown);
        numbers(&shown["colours"][0]["out"])
    };
    let clf = read("saltmarsh_night_r4_a_onset_5.clf", "");
    let cube = read("saltmarsh_night_r4_a_onset_5.cube", "--interpolation trilinear");
    assert!(clf.iter().zip(&cube).all(|(a, b)| (a - b).abs() < 1e-7), "{clf:?}, {cube:?}");
}

#[test]
fn a_device_is_asked_before_anything_is_written() {
    let dir = saltmarsh();
    let boxes = "
[devices.small]
label = 'Box in the tent'
max_points = 4
title_length = 20
ascii_name = true
clamp = true
bits = 14

[devices.large]
max_points = 65
bits = 12
";
    put(dir.path(), "boxes.toml", &format!("{SHOW}{boxes}"));
    let night = "--look night --camera a --display onset";
    let said = refused(dir.path(), &format!("bake boxes.toml {night} --device small --digits 4 --out none"));
    assert_says(
        &said,
        &[
            "saltmarsh_night_r4_a_onset_5.cube: devices.small.max_points: 5 points: the device takes at most 4",
            "devices.small.title_length: `Saltmarsh, night r4, a to onset` has 31 characters: at most 20",
            "devices.small.bits: 4 decimals are coarser than the 14 bits of the device",
        ],
    );
    assert!(!dir.path().join("none").exists());
    let manifest = json(dir.path(), &format!("bake boxes.toml {night} --device large --json"));
    assert_eq!(manifest["cubes"][0]["device"], "large");
    for (args, part) in [
        ("bake boxes.toml --device smal", "--device: unknown device `smal`: did you mean `small`?"),
        ("bake show.toml --device small", "--device small: the show has no [devices.small] table"),
    ] {
        assert_says(&refused(dir.path(), args), &[part]);
    }
    let wrong = boxes.replace("max_points = 65", "max_points = 1").replace("bits = 12", "bits = 7\ntitel_length = 3");
    put(dir.path(), "boxes.toml", &format!("{SHOW}{wrong}"));
    assert_says(
        &refused(dir.path(), "bake boxes.toml"),
        &["devices.large.titel_length: unknown key `titel_length`: did you mean `title_length`?"],
    );
    let wrong = boxes.replace("max_points = 65", "max_points = 1").replace("bits = 12", "bits = 7");
    put(dir.path(), "boxes.toml", &format!("{SHOW}{wrong}"));
    assert_says(
        &refused(dir.path(), "bake boxes.toml"),
        &["boxes.toml:38:14: devices.large.max_points: 1 is out of range", "devices.large.bits: 7 is out of range"],
    );
}

#[test]
fn cubes_of_another_revision_and_files_that_are_replaced_are_named() {
    let dir = saltmarsh();
    let bake = |revision: u32| {
        let look = NIGHT.replace("revision = 4", &format!("revision = {revision}"));
        put(dir.path(), "looks/night.toml", &look);
        let args = "bake show.toml --look night --camera a --display onset --points 3 --no-audit --out cubes";
        let done = run(dir.path(), args).output().expect("it runs");
        assert!(done.status.success());
        let said = [done.stdout, done.stderr].map(|text| String::from_utf8(text).expect("UTF-8")).join(" ");
        said.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let first = bake(4);
    assert!(!first.contains("replaced") && !first.contains("another revision"), "{first}");
    let again = bake(4);
    assert!(again.contains("1 cube of an earlier bake replaced"), "{again}");
    let next = bake(5);
    let said = "warning: This cube is of another revision, and still in cubes: saltmarsh_night_r4_a_onset_3.cube";
    assert!(next.contains(said), "{next}");
}

/// A manifest of version 1, as 0.1 wrote it, of three cubes of the demo: a plain one, a fitted one of a camera with a curve
/// of its own, and one of a shot behind a shaper.
const VERSION_1: &[u8] = include_bytes!("../../fixtures/manifests/version-1.json");

#[test]
fn manifests_of_version_1_are_read() {
    let manifest = Manifest::parse(VERSION_1).unwrap();
    assert_eq!((manifest.schema, manifest.show.as_str(), manifest.cubes.len()), (1, "Saltmarsh", 3));
    let [plain, fitted, shot] = manifest.cubes.as_slice() else { panic!("three cubes") };
    let camera = CameraId {
        curve: "slog3".to_owned(),
        ei: None,
        gamut: Some("sgamut3-cine".to_owned()),
        matrix: None,
        range: Range::Full,
        white: None,
    };
    let display =
        DisplayId { standard: Some("bt2100-pq".to_owned()), eotf: Eotf::Pq, peak: 1000.0, range: Range::Full };
    assert_eq!((&plain.camera_id, &plain.display_id), (&camera, &display));
    assert_eq!(plain.audit.unwrap().figures.difference, Formula::DeltaEItp);
    assert_eq!((fitted.camera_id.curve.as_str(), fitted.camera_id.gamut.as_deref()), ("curves/harbour.toml", None));
    assert_eq!(fitted.fit.unwrap().held_back, 5);
    assert_eq!((shot.format, shot.shaper), (Format::Clf, Some(1025)));
    let of = shot.shot.as_ref().unwrap();
    assert_eq!((of.name.as_str(), of.order, of.numbers.saturation), ("12A-3", Order::AfterCompress, 0.95));
    // What is not known here is not guessed at.
    for (from, to, part) in [
        ("\"schema\": 1", "\"schema\": 3", "schema: 3 is not known: this version reads 1 to 2"),
        ("slog3, sgamut3-cine, full range", "slog3", "must be a curve, a gamut and a range"),
        ("\"tetrahedral\",", "\"cubic\",", "unknown name `cubic`: must be one of tetrahedral, trilinear, either"),
    ] {
        let text = std::str::from_utf8(VERSION_1).unwrap().replacen(from, to, 1);
        let why = Manifest::parse(text.as_bytes()).unwrap_err().to_string();
        assert!(why.contains(part), "{why}");
    }
}

#[test]
fn a_manifest_is_read_as_it_is_written() {
    let show = demo::show();
    let shot = show.shot_jobs().into_iter().next().unwrap();
    let mut manifest = Manifest::new(&show);
    for job in show.jobs().into_iter().take(3).chain([shot]) {
        for fit in [false, true] {
            let baked = bake(&job.with_points(5), &Options { fit, ..Options::default() }).unwrap();
            manifest.add(&baked, &baked.file(Format::Cube).unwrap());
        }
    }
    assert_eq!(Manifest::parse(manifest.to_json().as_bytes()).unwrap(), manifest);
    // The header of a file says the same.
    let baked = bake(&show.jobs()[0].with_points(2), &Options::default()).unwrap();
    for format in Format::ALL {
        let file = baked.file(format).unwrap();
        let of_record = CubeRecord::of(&baked, &file).made_for();
        let of_header = made_for(file.text.as_bytes());
        match format {
            Format::Cube => assert_eq!(of_header, Some(MadeFor { names: None, ..of_record })),
            Format::Clf => assert_eq!(of_header, None, "a CLF has no such lines"),
        }
    }
}

/// A job of names that the show does not have once made `preflight` and the manifest panic.
#[test]
fn there_is_no_job_of_what_a_show_does_not_have() {
    let show = demo::show();
    let refused = show.job("nihgt", "c", "onsett", 33).unwrap_err();
    let keys: Vec<&str> = refused.iter().map(|r| r.key.as_str()).collect();
    assert_eq!(keys, ["look", "camera", "display"]);
    assert!(refused[0].message.contains("did you mean `night`?"), "{refused:?}");
    let job = show.job("night", "a", "onset", 33).unwrap();
    assert_eq!(job.with_shot(Some("12A-33")).unwrap_err()[0].key, "shot");
    assert_eq!(job.with_shot(Some("12A-3")).unwrap().shot(), Some("12A-3"));
}
