//! Event lists: `apply --list` over clips, `convert` with and without `--into`, `inspect`, and shots of a show.

use rushlight_tests::cdl;
use rushlight_tests::scene::{assert_holds_to, assert_says, json, output, put, refused, run};
use std::fs;
use std::path::Path;
use std::process::Command;
use tempfile::TempDir;

/// Two clips' events, of which one has a correction of its own and one takes that of the show's shot; and one whose clip is
/// not there. Reel and timecodes are those that [`clip`] writes.
const EDL: &str = "TITLE: SALTMARSH NIGHT 1\nFCM: NON-DROP FRAME\n\n\
    001  A001     V     C        01:00:00:02 01:00:00:08 00:00:00:00 00:00:00:06\n* FROM CLIP NAME: 40-1\n\
    *ASC_SOP (1.2 1 0.8)(0 0 0)(1 1 1)\n*ASC_SAT 1\n\
    002  A001     V     C        02:00:00:00 02:00:00:04 00:00:00:06 00:00:00:10\n* FROM CLIP NAME: 12A-3\n* LOC: kept\n\
    003  A009     V     C        01:00:00:00 01:00:00:04 00:00:00:10 00:00:00:14\n* FROM CLIP NAME: 99-9\n*ASC_SAT 0.5\n";

/// The show with shots whose corrections come after the look's compress.
fn shots(change: impl Fn(String) -> String) -> TempDir {
    let list = "look = \"night\"\ncamera = \"a\"";
    cdl::shots(|text| {
        let text = text.replacen("[cdl]", "[cdl]\norder = \"after-compress\"", 1).replace("look = \"plain\"", list);
        change(text)
    })
}

fn has_ffmpeg() -> bool {
    let there = Command::new("ffmpeg").arg("-version").output().is_ok_and(|o| o.status.success());
    if !there {
        eprintln!("skipped: no ffmpeg here");
    }
    there
}

/// A clip of ten frames with reel and timecode, by ffmpeg.
fn clip(dir: &Path, name: &str, reel: &str, timecode: &str) {
    let path = dir.join(name);
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    let done = Command::new("ffmpeg")
        .args(["-v", "error", "-f", "lavfi", "-i", "color=c=0x6a6258:s=64x36:r=24", "-frames:v", "10"])
        .args(["-timecode", timecode, "-metadata:s:v:0", &format!("reel_name={reel}")])
        .args(["-c:v", "ffv1", "-pix_fmt", "gbrp10le"])
        .arg(path)
        .output()
        .unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
}

/// The first sample of a clip, red, green and blue, of 12 bits.
fn first(path: &Path) -> [u16; 3] {
    let done = Command::new("ffmpeg")
        .args(["-v", "error", "-i"])
        .arg(path)
        .args(["-frames:v", "1", "-f", "rawvideo", "-pix_fmt", "gbrp12le", "pipe:1"])
        .output()
        .unwrap();
    let plane = |p: usize| u16::from_le_bytes(done.stdout[p * 64 * 36 * 2..][..2].try_into().unwrap());
    [2, 0, 1].map(plane)
}

#[test]
fn each_clip_of_a_folder_has_its_correction() {
    if !has_ffmpeg() {
        return;
    }
    let dir = shots(|text| text);
    let root = dir.path();
    put(root, "day.edl", EDL);
    clip(root, "card/one.mov", "A001", "01:00:00:00");
    clip(root, "card/two.mov", "A001", "02:00:00:00");
    clip(root, "card/three.mov", "B001", "01:00:00:00");
    put(root, "card/notes.txt", "no clip");
    let how = "apply show.toml --look night --camera a --display onset --encoder lossless --format mkv";
    let report = json(root, &format!("{how} --list day.edl card out/ --json"));
    assert_holds_to(root, "apply", &report);
    let list = &report["list"];
    assert_eq!(
        list["shots"],
        serde_json::json!([
            { "clip": "card/one.mov", "shot": "40-1" }, { "clip": "card/two.mov", "shot": "12A-3" }
        ])
    );
    assert_eq!(list["clips_without_shot"], serde_json::json!(["card/three.mov"]));
    assert_eq!(list["shots_without_clip"], serde_json::json!(["99-9 (line 11, reel A009 at 01:00:00:00)"]));
    // The same of containers that do not count their frames: they say how long they last.
    for name in ["one", "two", "three"] {
        let reel = if name == "three" { "B001" } else { "A001" };
        let at = if name == "two" { "02:00:00:00" } else { "01:00:00:00" };
        clip(root, &format!("matroska/{name}.mkv"), reel, at);
    }
    put(root, "late.edl", &EDL.replace("01:00:00:0", "01:30:00:0"));
    let report = json(root, &format!("{how} --list late.edl matroska late/ --json"));
    assert_eq!(
        (&report["list"]["shots"], &report["list"]["clips_without_shot"]),
        (
            &serde_json::json!([{ "clip": "matroska/two.mkv", "shot": "12A-3" }]),
            &serde_json::json!(["matroska/one.mkv", "matroska/three.mkv"])
        )
    );
    // As one by one: the look alone, the show's shot, and the list's own correction as a shot of the show.
    put(root, "cdl/own.csv", "Name,ASC_SOP\n40-1,(1.2 1 0.8)(0 0 0)(1 1 1)\n");
    let show = fs::read_to_string(root.join("show.toml")).unwrap();
    put(
        root,
        "own.toml",
        &show.replace(
            "[[shots]]\nlist",
            "[[shots]]\nname = \"40-1\"\nfile = \"cdl/own.csv\"\nlook = \"night\"\ncamera = \"a\"\n\n[[shots]]\nlist",
        ),
    );
    output(root, &format!("{how} card/three.mov alone/"));
    output(root, &format!("{how} --shot 12A-3 card/two.mov alone/"));
    output(root, &format!("{} --shot 40-1 card/one.mov alone/", how.replace("show.toml", "own.toml")));
    let all = ["one", "two", "three"].map(|name| {
        let made = first(&root.join(format!("out/{name}.mkv")));
        assert_eq!(made, first(&root.join(format!("alone/{name}.mkv"))), "{name}");
        made
    });
    assert!(all[0] != all[1] && all[1] != all[2] && all[0] != all[2], "{all:?}");
    // The report names both kinds of rests.
    let text = output(root, &format!("{how} --list day.edl card again/"));
    assert_says(
        &text,
        &["card/three.mov: no correction in the list", "99-9 (line 11, reel A009 at 01:00:00:00): its clip"],
    );
}

#[test]
fn what_a_list_cannot_say_is_refused() {
    let dir = shots(|text| text);
    let root = dir.path();
    fs::write(root.join("a001.exr"), "x").unwrap();
    let how = "apply show.toml --look night --camera a --display onset --list";
    put(root, "bad.edl", &EDL.replace("(1.2 1 0.8)", "(1.2 1)").replace("ASC_SAT 0.5", "ASC_SAT x"));
    let said = refused(root, &format!("{how} bad.edl a001.exr out.png"));
    assert_says(&said, &["bad.edl, line 4: 40-1: ASC_SOP `(1.2 1)(0 0 0)(1 1 1)`", "line 11: 99-9: ASC_SAT: `x`"]);
    put(root, "two.csv", "Name,Source File,ASC_SAT\n1-1,a001.exr,1.1\n1-2,A001.exr,1.2\n");
    let said = refused(root, &format!("{how} two.csv a001.exr out.png"));
    assert_says(&said, &["a001.exr: lines 2 and 3 of two.csv give it different corrections"]);
    assert_says(
        &refused(root, &format!("{how} show.toml a001.exr out.png")),
        &["must end in .edl, .ale, .csv or .otio"],
    );
    // A look without the compress after which corrections are to come.
    put(root, "one.csv", "Name,Source File,ASC_SAT\n1-1,a001.exr,1.1\n");
    let said = refused(root, &format!("{} one.csv a001.exr out.png", how.replace("night", "plain")));
    assert_says(
        &said.split_whitespace().collect::<Vec<_>>().join(" "),
        &["1-1: the show's corrections come after the compress"],
    );
    fs::create_dir(root.join("empty")).unwrap();
    assert_says(&refused(root, &format!("{how} two.csv empty out/")), &["no clip in this folder"]);
    assert!(!root.join("out.png").exists());
}

#[test]
fn corrections_go_into_a_list_and_all_else_stays() {
    let dir = shots(|text| text);
    let root = dir.path();
    put(root, "day.edl", EDL);
    let said = output(root, "convert cdl/day3.ccc --into day.edl new.edl");
    assert_says(
        &said,
        &[
            "new.edl: corrections of 1 shots entered",
            "events without a correction here, as they were: 40-1, 99-9",
            "corrections without an event: none",
        ],
    );
    let new = fs::read_to_string(root.join("new.edl")).unwrap();
    let entered = "* LOC: kept\n*ASC_SOP (1.1 1 0.9)(0.01 0 -0.02)(1 1 1.2)\n*ASC_SAT 0.9\n";
    assert!(new.contains(entered), "{new}");
    assert_eq!(new.replace("*ASC_SOP (1.1 1 0.9)(0.01 0 -0.02)(1 1 1.2)\n*ASC_SAT 0.9\n", ""), EDL);
    // The list as shots of a show, and as corrections.
    let report = json(root, "inspect new.edl --json");
    assert_holds_to(root, "inspect", &report);
    assert_eq!(
        (&report["events"][1]["name"], &report["events"][1]["correction"]["saturation"]),
        (&"12A-3".into(), &0.9.into())
    );
    assert_eq!(report["events"][1]["source"], serde_json::json!(["02:00:00:00", "02:00:00:04"]));
    output(root, "convert new.edl new.ccc");
    assert_says(&output(root, "inspect new.ccc"), &["3 corrections", "12A-3\n    slope 1.1 1 0.9"]);
    // From form to form, with reels and timecodes.
    assert_says(&refused(root, "convert new.edl new.ale"), &["does not say its frames per second: give --rate"]);
    output(root, "convert new.edl new.ale --rate 24");
    output(root, "convert new.ale back.edl");
    let plain = |name: &str| {
        let mut report = json(root, &format!("inspect {name} --json"));
        let events = report["events"].as_array_mut().unwrap();
        events.iter_mut().for_each(|e| e["line"] = 0.into());
        events.clone()
    };
    assert_eq!(plain("back.edl"), plain("new.edl"));
    assert_says(
        &refused(root, "convert cdl/day3.ccc day3.edl"),
        &["it has no reels and timecodes: give the event list"],
    );
    assert_says(&refused(root, "convert cdl/day3.ccc --into day.edl new.ale"), &["must be of one form"]);
    put(root, "other.edl", &EDL.replace("12A-3", "x"));
    assert_says(
        &refused(root, "convert cdl/day3.ccc --into other.edl y.edl"),
        &["no event has the name of a correction: they are called 12A-3, none"],
    );
    assert!(!root.join("y.edl").exists());
}

#[test]
fn an_event_list_gives_a_show_its_shots() {
    let dir = shots(|text| text.replace("cdl/day3.ale", "day.edl"));
    let root = dir.path();
    put(root, "day.edl", &EDL.replace("12A-3", "12C-1"));
    let said = output(root, "bake show.toml --shots --display onset --points 5 --no-audit");
    assert_says(&said, &["40-1          slope 1.2 1 0.8", "99-9          slope 1 1 1"]);
    let bad = run(root, "inspect day.edl").output().unwrap();
    assert_eq!(bad.status.code(), Some(0));
    put(root, "day.edl", &EDL.replace("(1.2 1 0.8)", "(-1 1 1)"));
    let bad = run(root, "inspect day.edl").output().unwrap();
    assert_eq!(bad.status.code(), Some(1), "a correction that cannot be used");
    assert_says(&String::from_utf8_lossy(&bad.stdout), &["cannot be used: slope[0]: -1 is out of range"]);
}
