//! What is written over, and what never is: no input of a run, no file of somebody else's, none that is read-only. And what
//! killed runs left.

use rushlight::frame::{Depth, Format, Frame, Info, write};
use rushlight_tests::scene::{assert_says, files, output, put, refused, run, saltmarsh};
use std::fs;
use std::path::Path;
use std::process::Command;

const NIGHT: &str = "apply show.toml --look night --camera a --display onset --points 5";

/// A folder with stills `shot.0001.png` and on.
fn shot(dir: &Path, frames: usize) {
    for n in 1..=frames {
        let samples = (0..16 * 8 * 3).map(|i| ((i * 89 + n * 31) % 256) as f32 / 255.0).collect();
        let frame = Frame::new(16, 8, false, samples, Info::new(Format::Png, Depth::Integer(8))).expect("a frame");
        let bytes = write(&frame, Format::Png, Depth::Integer(8)).expect("a file");
        fs::write(dir.join(format!("shot.{n:04}.png")), bytes).expect("it is written");
    }
}

#[test]
fn no_input_is_ever_an_output() {
    let dir = saltmarsh();
    let root = dir.path();
    let before = (files(root), files(&root.join("looks")));
    for args in [
        "stress show.toml --look plain --camera a --display onset --format html=show.toml",
        "stress show.toml --look plain --camera a --display onset --format json=looks/../show.toml",
        "diff show.toml show.toml --format json=show.toml",
        "diff show.toml show.toml --format json=looks/night.toml",
        "package show.toml --no-stress --zip show.toml",
    ] {
        assert_says(&refused(root, args), &["cannot write", "it is read too"]);
        assert!((files(root), files(&root.join("looks"))) == before, "{args}");
    }
}

#[test]
fn what_is_not_ours_is_not_replaced_by_a_name_of_our_choosing() {
    let dir = saltmarsh();
    let root = dir.path();
    put(root, "manifest.json", "MINE");
    let bake = "bake show.toml --look plain --points 3 --no-audit --out .";
    assert_says(&refused(root, bake), &["manifest.json", "not made by this program", "--force"]);
    assert_eq!(fs::read_to_string(root.join("manifest.json")).expect("mine"), "MINE");
    assert!(!files(root).keys().any(|name| name.ends_with(".cube")), "{:?}", files(root).keys());
    output(root, &format!("{bake} --force"));
    let made = files(root);
    assert!(made["manifest.json"].starts_with(b"{"));
    // Our own are replaced without a word, plain ones too, which say nothing of who made them.
    output(root, bake);
    output(root, &format!("{bake} --plain"));
    output(root, &format!("{bake} --plain"));
    let cube = files(root).keys().find(|name| name.ends_with(".cube")).expect("a cube").clone();
    put(root, &cube, "LUT_3D_SIZE 2\n");
    fs::remove_file(root.join("manifest.json")).expect("it was there");
    assert_says(&refused(root, bake), &[&cube, "--force"]);
}

/// Whatever command chooses the name of a file, it replaces nobody else's.
#[test]
fn every_command_that_chooses_names_asks_for_force() {
    let dir = saltmarsh();
    let root = dir.path();
    let list = "Name,ASC_SAT\na,0.9\nb,1.1\n";
    put(root, "rows.csv", list);
    for (command, name, again) in [
        ("false-colour show.toml --camera a --points 5 --kind clip --plain --accept --out o1", "o1/exposure.json", ""),
        ("false-colour show.toml --camera a --points 5 --kind clip --plain --accept --out o2", "", " --digits 7"),
        ("convert rows.csv o3/", "o3/b.cc", ""),
        ("man --out o4", "o4/rushlight-bake.1", ""),
        ("bake show.toml --look plain --points 3 --no-audit --plain --out o5", "", " --digits 7"),
    ] {
        let folder = root.join(command.split_whitespace().last().expect("a folder").trim_end_matches('/'));
        if name.is_empty() {
            // What a run wrote that was killed before it wrote its list.
            output(root, command);
            let lists = ["exposure.json", "manifest.json"];
            lists.iter().for_each(|list| drop(fs::remove_file(folder.join(list))));
            output(root, command);
            output(root, &format!("{command}{again}"));
            let there = files(&folder).into_keys().find(|name| name.ends_with(".cube")).expect("a cube");
            fs::write(folder.join(&there), "MINE").expect("it is written");
            lists.iter().for_each(|list| drop(fs::remove_file(folder.join(list))));
            assert_says(&refused(root, command), &[&there, "not made by this program", "--force"]);
            assert_eq!(files(&folder)[&there], b"MINE", "{command}");
            continue;
        }
        put(root, name, "MINE");
        assert_says(&refused(root, command), &[name, "not made by this program", "--force"]);
        assert_eq!(files(&folder).values().collect::<Vec<_>>(), [b"MINE"], "{command}");
        output(root, &format!("{command} --force"));
        assert_ne!(fs::read(root.join(name)).expect("it is there"), b"MINE", "{command}");
        // Its own it replaces without a word, whatever is in it.
        put(root, "rows.csv", &list.replace("1.1", "1.2"));
        output(root, command);
    }
    assert!(fs::read_to_string(root.join("o3/b.cc")).expect("a correction").contains("1.2"));
    // The page of who names none, and the same name by the user's own word.
    put(root, "sheet.html", "MINE");
    assert_says(&refused(root, "sheet show.toml --look plain"), &["sheet.html", "not made by this program", "--out"]);
    assert_eq!(fs::read_to_string(root.join("sheet.html")).expect("it is there"), "MINE");
    output(root, "sheet show.toml --look plain --out sheet.html");
    output(root, "sheet show.toml --look plain");
}

#[cfg(unix)]
#[test]
fn what_is_read_only_is_not_replaced() {
    use std::os::unix::fs::PermissionsExt;
    let dir = saltmarsh();
    let root = dir.path();
    shot(root, 1);
    for (name, args) in [
        ("out.html", "diff show.toml show.toml --format html=out.html"),
        ("out.clf", "convert cubes/a.cube out.clf"),
        ("o.png", &format!("{NIGHT} shot.0001.png o.png --force")),
        ("cubes/manifest.json", "bake show.toml --look plain --points 3 --no-audit"),
    ] {
        put(root, "cubes/a.cube", "LUT_3D_SIZE 2\n0 0 0\n1 0 0\n0 1 0\n1 1 0\n0 0 1\n1 0 1\n0 1 1\n1 1 1\n");
        put(root, name, "rushlight: kept");
        fs::set_permissions(root.join(name), fs::Permissions::from_mode(0o444)).expect("a mode");
        assert_says(&refused(root, args), &["it is read-only"]);
        assert_eq!(fs::read_to_string(root.join(name)).expect("it is there"), "rushlight: kept", "{args}");
        fs::set_permissions(root.join(name), fs::Permissions::from_mode(0o640)).expect("a mode");
        run(root, args).assert().success();
        let replaced = fs::metadata(root.join(name)).expect("it is there");
        assert_eq!(replaced.permissions().mode() & 0o777, 0o640, "{args}");
        assert_ne!(fs::read_to_string(root.join(name)).unwrap_or_default(), "rushlight: kept", "{args}");
        fs::remove_file(root.join(name)).expect("it goes");
    }
}

#[test]
fn what_killed_runs_left_is_gone_when_a_run_begins() {
    let dir = saltmarsh();
    let root = dir.path();
    shot(root, 2);
    let left = |names: &[&str]| names.iter().for_each(|name| put(root, name, "half"));
    let there = |name: &str| root.join(name).exists();
    // Of another name, or of nobody: they stay.
    left(&["o/.rushlight-other.0001.png-AbCdEf.tmp", "o/.rushlight"]);
    left(&["o/.rushlight-out.0001.png-AbCdEf.tmp", "o/.rushlight-out.0002.png-AbCdEg.tmp"]);
    output(root, &format!("{NIGHT} shot.%04d.png o/out.%04d.png"));
    assert_eq!(
        files(&root.join("o")).keys().collect::<Vec<_>>(),
        [".rushlight", ".rushlight-other.0001.png-AbCdEf.tmp", "out.0001.png", "out.0002.png"]
    );
    // A run that cannot go on has taken them away as well.
    left(&["o/.rushlight-broken.png-AbCdEf.tmp"]);
    put(root, "broken.png", "\u{89}PNG");
    refused(root, &format!("{NIGHT} broken.png o/broken.png"));
    assert!(!there("o/.rushlight-broken.png-AbCdEf.tmp"));
    left(&[
        "cubes/.rushlight-manifest.json-AbCdEf.tmp",
        "cubes/.rushlight--AbCdEf.tmp",
        ".rushlight-sent-AbCdEf.tmp/a/b",
        ".rushlight-sent-AbCdEf.held",
    ]);
    output(root, "bake show.toml --look plain --points 3 --no-audit");
    assert!(!there("cubes/.rushlight-manifest.json-AbCdEf.tmp") && !there("cubes/.rushlight--AbCdEf.tmp"));
    output(root, "package show.toml --no-stress --out sent");
    assert!(!there(".rushlight-sent-AbCdEf.tmp") && !there(".rushlight-sent-AbCdEf.held"));
    #[cfg(unix)]
    {
        // A pipe of such a name keeps nobody waiting.
        let pipe = root.join("cubes/.rushlight-manifest.json-AbCdEg.tmp");
        assert!(Command::new("mkfifo").arg(&pipe).status().is_ok_and(|s| s.success()));
        output(root, "bake show.toml --look plain --points 3 --no-audit");
    }
}

#[test]
fn what_killed_runs_left_of_clips_is_gone_too() {
    if Command::new("ffmpeg").arg("-version").output().is_err() {
        return eprintln!("skipped: no ffmpeg here");
    }
    let dir = saltmarsh();
    let root = dir.path();
    shot(root, 3);
    let clean = |wanted: &[&str]| {
        let found = files(root).into_keys().filter(|name| name.contains("rushlight-") || name.contains("out"));
        assert_eq!(found.collect::<Vec<_>>(), wanted);
    };
    put(root, ".rushlight-out.mkv-AbCdEf.mkv", "half");
    output(root, &format!("{NIGHT} shot.####.png out.mkv --encoder lossless"));
    clean(&["out.mkv"]);
    put(root, ".rushlight-out2.mkv-AbCdEf.mkv", "half");
    output(root, &format!("{NIGHT} out.mkv out2.mkv --encoder lossless"));
    clean(&["out.mkv", "out2.mkv"]);
    put(root, ".rushlight-out.0002.png-AbCdEf.tmp", "half");
    output(root, &format!("{NIGHT} out.mkv out.####.png"));
    clean(&["out.0001.png", "out.0002.png", "out.0003.png", "out.mkv", "out2.mkv"]);
}

#[test]
fn a_clip_that_is_a_list_of_others_is_not_read() {
    if Command::new("ffmpeg").arg("-version").output().is_err() {
        return eprintln!("skipped: no ffmpeg here");
    }
    let dir = saltmarsh();
    let root = dir.path();
    shot(root, 2);
    output(root, &format!("{NIGHT} shot.####.png good.mkv --encoder lossless"));
    let other = root.join("good.mkv").display().to_string();
    for list in
        [format!("ffconcat version 1.0\nfile '{other}'\n"), format!("#EXTM3U\n#EXTINF:1,\n{other}\n#EXT-X-ENDLIST\n")]
    {
        put(root, "list.mov", &list);
        assert_says(&refused(root, &format!("{NIGHT} list.mov out.mov")), &["list.mov"]);
        assert!(!root.join("out.mov").exists());
    }
    output(root, &format!("{NIGHT} good.mkv out.mov"));
}

#[test]
fn names_that_cannot_be_meant_are_said_plainly() {
    let dir = saltmarsh();
    let root = dir.path();
    shot(root, 1);
    put(root, "README.md", "# A shot\n");
    for (args, says) in [
        ("README.md out.png", &["README.md: it is neither a still nor a clip"][..]),
        ("*.png out/", &["*.png", "####"]),
        ("shot.%04d.png out.png", &["a sequence is written to a name with ####"]),
        ("other.%04d.png out.%04d.png", &["other.####.png", "no file has such a name"]),
    ] {
        let said = refused(root, &format!("{NIGHT} {args}"));
        assert_says(&said, says);
        assert!(!said.contains("a clip is written to stills"), "{said}");
    }
    // The part is taken before the range is gone through.
    let begun = std::time::Instant::now();
    let done = run(root, &format!("{NIGHT} shot.[0001-9999999].png o.####.png --on-error skip --slice 1/2000"))
        .output()
        .expect("it starts");
    assert_eq!(done.status.code(), Some(1), "{}", String::from_utf8_lossy(&done.stderr));
    assert!(root.join("o.0001.png").exists() && begun.elapsed() < std::time::Duration::from_secs(60));
}

/// A still of every format and a clip that a camera made stay as they are, and what the program made is replaced by a second run.
#[test]
fn pictures_of_others_are_not_replaced_by_apply() {
    let dir = saltmarsh();
    let root = dir.path();
    shot(root, 3);
    let mut ends = vec!["png", "tif", "exr", "jpg", "dpx"];
    let clips = ["mov", "mp4", "mkv", "mxf", "avi", "nut", "webm"];
    if Command::new("ffmpeg").arg("-version").output().is_ok_and(|o| o.status.success()) {
        ends.extend(clips);
    }
    for end in ends {
        let is_clip = clips.contains(&end);
        let encoder = match end {
            "mxf" => " --encoder mpeg2video --pixels yuv422p",
            "avi" => " --encoder ffv1",
            "webm" => " --encoder libvpx-vp9 --pixels yuv420p",
            _ => "",
        };
        let input = if is_clip { "shot.####.png" } else { "shot.0001.png" };
        let args = format!("{NIGHT} {input} other.{end}{encoder}");
        put(root, &format!("other.{end}"), "an original, and a rushlight in it");
        assert_says(&refused(root, &args), &[&format!("other.{end}"), "not made by this program", "--force"]);
        assert_eq!(fs::read(root.join(format!("other.{end}"))).expect("mine"), b"an original, and a rushlight in it");
        output(root, &format!("{args} --force"));
        let made = fs::metadata(root.join(format!("other.{end}"))).expect("it is made").len();
        assert!(made > 100, "{end}");
        // MXF, as ffmpeg writes it, has no place for who made it.
        if end == "mxf" {
            assert_says(&refused(root, &args), &["--force"]);
        } else {
            output(root, &args);
        }
    }
    // One of a sequence, before any frame is written.
    put(root, "out.0003.png", "an original");
    assert_says(&refused(root, &format!("{NIGHT} shot.####.png out.####.png")), &["out.0003.png", "--force"]);
    assert!(!root.join("out.0001.png").exists());
}

/// A cube of somebody else in which this program is named is no cube of ours.
#[test]
fn a_cube_that_only_names_the_program_is_not_ours() {
    let dir = saltmarsh();
    let root = dir.path();
    let bake = "bake show.toml --look plain --points 3 --no-audit --out .";
    output(root, bake);
    let cube = files(root).keys().find(|name| name.ends_with(".cube")).expect("a cube").clone();
    fs::remove_file(root.join("manifest.json")).expect("it was there");
    output(root, bake);
    fs::remove_file(root.join("manifest.json")).expect("it was there");
    put(root, &cube, "# better than the one of rushlight\nLUT_3D_SIZE 2\n");
    assert_says(&refused(root, bake), &[&cube, "not made by this program"]);
}
