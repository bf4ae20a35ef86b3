//! Shots of a show: a correction for each, where on the path it works, and `bake --shots`.

#![allow(clippy::disallowed_methods, reason = "the formula, by another power than the library's")]

use rushlight::format::cube::Strictness;
use rushlight::frame::{self, Depth, Format, Frame, Info};
use rushlight::math;
use rushlight::pipeline::Pipeline;
use rushlight::show::Show;
use rushlight::transfer::encoding;
use rushlight_tests::cdl::{DAY, SHOTS, shots};
use rushlight_tests::demo::{self, show_of};
use rushlight_tests::scene::{
    SHOW, assert_holds_to, assert_says, files, json, output, put, refusals, refused, run, schema,
};
use rushlight_tests::server::Server;

const COLOURS: [[f64; 3]; 5] =
    [[0.5, 0.4, 0.3], [0.1, 0.2, 0.15], [0.9, 0.8, 0.95], [0.41, 0.41, 0.41], [0.0, 1.0, 0.4]];

/// The formula of the ASC CDL v1.2 of shot 12A-3, without limits, written out here.
fn corrected(v: [f64; 3]) -> [f64; 3] {
    let sop: [f64; 3] = std::array::from_fn(|c| {
        let v = v[c] * [1.1, 1.0, 0.9][c] + [0.01, 0.0, -0.02][c];
        if v > 0.0 { v.powf([1.0, 1.0, 1.2][c]) } else { v }
    });
    let luma = 0.2126 * sop[0] + 0.7152 * sop[1] + 0.0722 * sop[2];
    sop.map(|v| luma + 0.9 * (v - luma))
}

fn path(show: &Show, shot: Option<&str>) -> Pipeline {
    show.job("night", "a", "onset", 9).and_then(|job| job.with_shot(shot)).and_then(|job| job.pipeline()).unwrap()
}

fn both(show: &Show) -> (Pipeline, Pipeline) {
    (path(show, None), path(show, Some("12A-3")))
}

/// For each space, that the shot's path is the plain path with the formula at that place.
#[test]
fn the_correction_works_where_the_show_says() {
    let log = |name: &str| encoding(name).unwrap().build(None).unwrap();
    let show = |words: &str| {
        let dir = shots(|text| text.replacen("[cdl]", &format!("[cdl]\n{words}"), 1));
        show_of(&dir.path().join("show.toml"))
    };
    let close = |words: &str, expected: &dyn Fn(&Pipeline, [f64; 3]) -> [f64; 3]| {
        let show = show(words);
        let (plain, shot) = both(&show);
        let mut moved = false;
        for signal in COLOURS {
            let (want, got) = (expected(&plain, signal), shot.apply(signal));
            assert!((0..3).all(|c| (want[c] - got[c]).abs() < 1e-9), "{words}: {signal:?}: {got:?} for {want:?}");
            assert_eq!(shot.stages(signal).last().unwrap().rgb, got.0, "{words}: stages");
            let light = shot.apply_to_light(shot.camera().decode(signal));
            assert!((0..3).all(|c| (light[c] - got[c]).abs() < 1e-9), "{words}: from light");
            moved |= (0..3).any(|c| (got[c] - plain.apply(signal)[c]).abs() > 0.01);
        }
        assert!(moved, "{words}: it does something");
        assert_eq!(shot.stages(COLOURS[0]).iter().filter(|s| s.name == "shot's cdl").count(), 1, "{words}");
    };
    let in_log = |name: &'static str| {
        let curve = log(name);
        move |plain: &Pipeline, signal: [f64; 3]| {
            let light = plain.camera().decode(signal);
            plain.apply_to_light(corrected(light.map(|v| curve.encode(v))).map(|v| curve.decode(v))).0
        }
    };
    close("", &in_log("acescct"));
    close("space = \"acescct\"", &in_log("acescct"));
    close("space = \"acescc\"", &in_log("acescc"));
    close("order = \"before\"\nspace = \"camera\"", &|plain, signal| plain.apply(corrected(signal)).0);
    let space = "space = { curve = \"slog3\", gamut = \"sgamut3-cine\" }";
    close(space, &|plain, signal| plain.apply(corrected(signal)).0);
    let compress = |plain: &Pipeline, signal: [f64; 3]| {
        let (acescct, stages) = (log("acescct"), plain.stages(signal));
        let light = stages.iter().find(|s| s.name == "compress").unwrap().rgb;
        corrected(light.map(|v| acescct.encode(v))).map(|v| acescct.decode(v))
    };
    let dir =
        shots(|text| text.replacen("[cdl]", "[cdl]\norder = \"after-compress\"", 1).replace("\"plain\"", "\"night\""));
    let show_after = show_of(&dir.path().join("show.toml"));
    let shot = path(&show_after, Some("12A-3"));
    for signal in COLOURS {
        let stages = shot.stages(signal);
        let at = stages.iter().position(|s| s.name == "shot's cdl").unwrap();
        assert_eq!((stages[at - 1].name, stages[at + 1].name), ("compress", "exposure"));
        let (want, got) = (compress(&shot, signal), stages[at].rgb);
        assert!(
            (0..3).all(|c| (want[c] - got[c]).abs() < 1e-9 * (1.0 + want[c].abs())),
            "{signal:?}: {got:?} {want:?}"
        );
        assert_eq!(stages.last().unwrap().rgb, shot.apply(signal).0);
    }
    let after: &dyn Fn(&Pipeline, [f64; 3]) -> [f64; 3] =
        &|plain, signal| corrected(plain.apply(signal).0).map(|v| v.clamp(0.0, 1.0));
    close("order = \"after\"", after);
    close("order = \"after\"\nspace = \"display\"", after);
    let shot = path(&show("clamp = true"), Some("12A-3"));
    let far = shot.camera().encode([4000.0; 3]);
    assert_eq!(shot.stages(far)[2].name, "shot's cdl");
    assert!(shot.stages(far)[2].rgb.iter().all(|v| *v <= 1.001 * math::exp2(7.8)), "{:?}", shot.stages(far)[2]);
}

#[test]
fn a_neutral_correction_leaves_the_look_as_it_is() {
    let dir = shots(|text| text);
    let show = show_of(&dir.path().join("show.toml"));
    let (plain, none) = (path(&show, None), path(&show, Some("12A-4")));
    for signal in COLOURS {
        let (a, b) = (plain.apply(signal), none.apply(signal));
        assert!((0..3).all(|c| (a[c] - b[c]).abs() < 1e-12), "{a:?} {b:?}");
    }
}

/// Standard output of a run on shot 12A-3 with `before`: its strong lights turn, which is the one thing on standard error.
fn with_a_warning(dir: &std::path::Path, args: &str) -> String {
    let done = run(dir, args).output().expect("it starts");
    let said = String::from_utf8(done.stderr).expect("UTF-8");
    assert_eq!(done.status.code(), Some(0), "{args}: {said}");
    let line = "warning: shot 12A-3: its correction comes before the look's compress";
    assert!(said.starts_with(line) && said.matches("warning").count() == 1, "{args}: {said}");
    String::from_utf8(done.stdout).expect("UTF-8")
}

#[test]
fn bake_makes_a_cube_for_every_shot_and_says_how_it_is_meant() {
    let dir = shots(|text| text.replacen("[cdl]", "[cdl]\norder = 'before'", 1));
    let root = dir.path();
    let text = with_a_warning(root, "bake show.toml --shots --points 9 --display onset --no-audit");
    assert_says(
        &text,
        &[
            "Saltmarsh: 4 cubes into cubes",
            "12A-3         slope 1.1 1 0.9, offset 0.01 0 -0.02, power 1 1 1.2, saturation",
            "(CDL before the look, in ACEScct, not clamped)",
            "saltmarsh_31-2_plain_r1_b_onset_9.cube",
        ],
    );
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    let baked = files(&root.join("cubes"));
    let names: Vec<&String> = baked.keys().collect();
    assert_eq!(
        names,
        [
            "manifest.json",
            "saltmarsh_12A-3_night_r4_a_onset_9.cube",
            "saltmarsh_12A-4_night_r4_a_onset_9.cube",
            "saltmarsh_31-2_plain_r1_a_onset_9.cube",
            "saltmarsh_31-2_plain_r1_b_onset_9.cube",
        ]
    );
    let bytes = &baked["saltmarsh_12A-3_night_r4_a_onset_9.cube"];
    let head = String::from_utf8_lossy(bytes);
    assert_says(
        &head,
        &[
            "TITLE \"Saltmarsh, 12A-3, night r4, a to onset\"",
            "# shot: 12A-3, slope 1.1 1 0.9, offset 0.01 0 -0.02, power 1 1 1.2, saturation 0.9",
            "# order: CDL before the look, in ACEScct, not clamped",
            "# source: cdl/day3.ccc sha256 ",
        ],
    );
    // The nodes are the exact path's.
    let cube = rushlight::format::cube::read(bytes, Strictness::Strict).unwrap().into_cube().unwrap();
    let (_, shot) = both(&show_of(&root.join("show.toml")));
    let (node, want) = (cube.nodes()[2 + 9 * (4 + 9 * 6)], shot.apply([0.25, 0.5, 0.75]));
    assert!((0..3).all(|c| (node[c] - want[c]).abs() < 1e-6), "{node:?} {want:?}");

    let manifest = with_a_warning(root, "bake show.toml --shot 12A-3 --points 5 --no-audit --json --out one");
    let manifest: serde_json::Value = serde_json::from_str(&manifest).expect("JSON");
    let record = &manifest["cubes"][0]["shot"];
    assert_eq!(manifest["cubes"].as_array().unwrap().len(), 2);
    let expected = serde_json::json!({
        "name": "12A-3", "id": "12A-3", "file": "cdl/day3.ccc",
        "slope": [1.1, 1.0, 0.9], "offset": [0.01, 0.0, -0.02], "power": [1.0, 1.0, 1.2], "saturation": 0.9,
        "order": "before", "space": "acescct", "clamp": false,
    });
    assert_eq!(record, &expected);
    // Without the option, the show's own cubes, and nothing of the shots in them.
    let plain = json(root, "bake show.toml --no-audit --json --out plain");
    assert_eq!(plain["cubes"].as_array().unwrap().len(), 8);
    assert!(plain["cubes"][0].get("shot").is_none());
}

#[test]
fn probe_follows_a_colour_through_a_shot() {
    let dir = shots(|text| text);
    let text = output(dir.path(), "probe show.toml --shot 12A-3 --display onset --stops 0");
    assert_says(
        &text,
        &[
            "shot 12A-3, look night, camera a, display onset\nCDL before the look, in ACEScct, not clamped\n",
            "shot's cdl ",
        ],
    );
    refusals(
        "shots_probe_follows_a_colour_through_a_shot",
        dir.path(),
        "probe show.toml --display onset --stops 0",
        &["--shot 12A-3 --camera b", "--shot 12A-9", "--shot 31-2"],
    );
}

#[test]
fn every_way_to_name_a_correction() {
    let dir = shots(|_| {
        "[[shots]]\nname = \"a shot/1\"\nfile = \"cdl/day3.ccc\"\nid = \"none\"\n\
         [[shots]]\nname = \"12A-3\"\nfile = \"cdl/day3.ccc\"\n\
         [[shots]]\nname = \"own\"\nfile = \"own.cc\"\n\
         [[shots]]\nlist = \"more.cdl\"\n\
         [[shots]]\nlist = \"rows.csv\"\ncolumn = \"clip\"\n"
            .to_owned()
    });
    let sat = |v: &str| format!("<SatNode><Saturation>{v}</Saturation></SatNode>");
    let own = sat("0.5");
    put(dir.path(), "own.cc", &format!("<ColorCorrection>{own}</ColorCorrection>"));
    let decision = format!("<ColorDecision><ColorCorrection id='d1'>{}</ColorCorrection></ColorDecision>", sat("0.6"));
    put(dir.path(), "more.cdl", &format!("<ColorDecisionList>{decision}</ColorDecisionList>"));
    put(dir.path(), "rows.csv", "clip,ASC_SAT\nc1,0.7\n");
    let show = show_of(&dir.path().join("show.toml"));
    let found: Vec<(&str, f64, &str)> =
        show.shots().iter().map(|(name, s)| (name.as_str(), s.numbers.saturation, s.file.as_str())).collect();
    assert_eq!(
        found,
        [
            ("12A-3", 0.9, "cdl/day3.ccc"),
            ("a shot/1", 1.0, "cdl/day3.ccc"),
            ("c1", 0.7, "rows.csv"),
            ("d1", 0.6, "more.cdl"),
            ("own", 0.5, "own.cc"),
        ]
    );
    let jobs = show.shot_jobs();
    assert!(jobs.iter().any(|job| job.file_stem() == "saltmarsh_a-shot-1_night_r4_a_onset_5"));
}

#[test]
fn wrong_shots_are_refused_by_line_and_key_and_nothing_is_written() {
    let at = |what: &str| 1 + format!("{SHOW}{SHOTS}").lines().position(|l| l.starts_with(what)).expect("it is there");
    let shot = at("name = \"12A-3\"");
    for (old, new, part) in [
        (
            "name = \"12A-3\"",
            "name = \"12A-5\"",
            format!("show.toml:{shot}:8: shots[0].name: `12A-5` is in no file of [cdl]: did you mean"),
        ),
        (
            "id = \"none\"",
            "id = \"nine\"",
            "shots[1].id: `nine` is in no file of [cdl]: did you mean `none`?".to_owned(),
        ),
        (
            "files = [\"cdl/day3.ccc\"]",
            "",
            "shots[0].name: no correction `12A-3`: name the file that it is in".to_owned(),
        ),
        (
            "day3.ccc\"]",
            "day4.ccc\"]",
            format!("show.toml:{}:10: cdl.files[0]: cannot read `cdl/day4.ccc`", at("files")),
        ),
        (
            "\"cdl/day3.ccc\"]",
            "\"cdl/day3.ccc\", \"cdl/more.ccc\"]",
            "cdl.files[1]: `cdl/more.ccc`, line 2: id `none` is in `cdl/day3.ccc` too".to_owned(),
        ),
        (
            "\"cdl/day3.ccc\"]",
            "\"cdl/bad.ccc\"]",
            "shots[0].name: `cdl/bad.ccc`, line 5: Slope: -1 is out of range".to_owned(),
        ),
        (
            "look = \"plain\"",
            "look = \"plian\"",
            "shots[2].look: unknown look `plian`: did you mean `plain`?".to_owned(),
        ),
        ("camera = \"a\"", "camera = \"c\"", "shots[0].camera: unknown camera `c`".to_owned()),
        ("name = \"12A-4\"", "name = \"12A-3\"", "shots[1].name: shot `12A-3` is in shots[0] too".to_owned()),
        (
            "name = \"12A-4\"",
            "name = \"12a-3\"",
            "shots[1].name: shots `12a-3` and `12A-3` would have the same file names".to_owned(),
        ),
        ("name = \"12A-4\"", "name = \"\"", "shots[1].name: a shot's name is one line of text".to_owned()),
        (
            "name = \"12A-4\"",
            "list = \"x.ale\"\nname = \"x\"",
            "shots[1]: needs `name`, or else `list`: one of the two".to_owned(),
        ),
        (
            "list = \"cdl/day3.ale\"",
            "list = \"cdl/day3.txt\"",
            "shots[2].list: `cdl/day3.txt`: the name must end in".to_owned(),
        ),
        (
            "list = \"cdl/day3.ale\"",
            "list = \"cdl/bad.ale\"",
            "shots[2].list: `cdl/bad.ale`, line 8: 31-2: slope[0]: -1 is out".to_owned(),
        ),
        (
            "list = \"cdl/day3.ale\"",
            "list = \"cdl/day3.ale\"\ncolumn = \"Tapes\"",
            "line 5: unknown column `Tapes`: did you mean `Tape`?".to_owned(),
        ),
        ("list = \"cdl/day3.ale\"", "list = \"cdl/day3.ale\"\nid = \"x\"", "shots[2].id: goes with `name`".to_owned()),
        ("[cdl]", "[cdl]\nspace = \"logg\"", "cdl.space: unknown space `logg`".to_owned()),
        ("[cdl]", "[cdl]\nspace = \"display\"", "cdl.space: before the look there is no display signal".to_owned()),
        (
            "[cdl]",
            "[cdl]\norder = \"after\"\nspace = \"camera\"",
            "cdl.space: order = \"after\" corrects the display signal".to_owned(),
        ),
        (
            "[cdl]",
            "[cdl]\nspace = { curve = \"slog9\", gamut = \"bt709\" }",
            "cdl.space.curve: unknown curve `slog9`".to_owned(),
        ),
        (
            "[cdl]",
            "[cdl]\norder = \"later\"",
            "cdl.order: unknown order `later`: it must be one of before, after-compress, after".to_owned(),
        ),
        ("[cdl]", "[cdl]\nfile = \"x\"", "cdl.file: unknown key `file`: did you mean `files`?".to_owned()),
    ] {
        let dir = shots(|text| {
            assert!(text.contains(old), "{old}");
            text.replacen(old, new, 1)
        });
        let again = |id: &str| {
            format!(
                "<ColorCorrectionCollection>\n<ColorCorrection id='{id}'><SatNode><Saturation>1</Saturation></SatNode></ColorCorrection>\n</ColorCorrectionCollection>"
            )
        };
        put(dir.path(), "cdl/more.ccc", &again("none"));
        put(
            dir.path(),
            "cdl/bad.ccc",
            &rushlight_tests::cdl::DAY.replace("<Slope>1.1", "<Slope>-1").replacen(
                "<Description>day 3</Description>\n",
                "",
                1,
            ),
        );
        put(dir.path(), "cdl/bad.ale", &rushlight_tests::cdl::LIST.replace("(1 1 1.02)", "(-1 1 1.02)"));
        assert_says(&refused(dir.path(), "bake show.toml --shots"), &[part.as_str()]);
        assert!(!dir.path().join("cubes").exists(), "nothing is written");
    }
    let dir = shots(|_| String::new());
    assert_says(&refused(dir.path(), "bake show.toml --shots"), &["--shots: the show has no shots"]);
    let dir = shots(|text| text + "[[bake]]\nlooks = [\"plain\"]\n");
    put(
        dir.path(),
        "show.toml",
        &std::fs::read_to_string(dir.path().join("show.toml")).unwrap().replacen("[[bake]]\npoints = 5\n", "", 1),
    );
    assert_says(
        &refused(dir.path(), "bake show.toml --shots"),
        &["shot 12A-3: no [[bake]] entry of the show matches its look and camera"],
    );
    assert_says(&refused(dir.path(), "bake show.toml --shot 12A-8"), &["--shot: unknown shot `12A-8`"]);
    // A look that no shot has: the entries of [[bake]] are not the reason.
    let dir = shots(|text| text);
    let said = refused(dir.path(), "bake show.toml --shot 12A-3 --look plain");
    assert_says(&said, &["no cube of a shot matches look `plain`: drop an option"]);
}

#[test]
fn a_correction_after_compress_needs_one() {
    for (words, part) in [
        ("order = \"after-compress\"", "cdl.order: look plain of shot 31-2 does not begin with `compress`"),
        ("order = \"after-compress\"\nspace = \"camera\"", "cdl.space: after compress there is no camera signal"),
    ] {
        let dir = shots(|text| text.replacen("[cdl]", &format!("[cdl]\n{words}"), 1));
        assert_says(&refused(dir.path(), "bake show.toml --shots"), &[part]);
    }
}

/// Pixels through a shot's exact path, as the library has it; and the same by scene-linear light.
#[test]
fn apply_takes_a_shot() {
    let dir = shots(|text| text.replacen("[cdl]", "[cdl]\norder = 'before'", 1));
    let root = dir.path();
    let write = |name: &str, rgb: &[[f64; 3]], format, depth| {
        let samples = rgb.iter().flatten().map(|v| *v as f32).collect();
        let frame = Frame::new(rgb.len(), 1, false, samples, Info::new(format, depth)).unwrap();
        std::fs::write(root.join(name), frame::write(&frame, format, depth).unwrap()).unwrap();
    };
    let show = show_of(&root.join("show.toml"));
    let (_, shot) = both(&show);
    write("in.png", &COLOURS, Format::Png, Depth::Integer(16));
    let light: Vec<[f64; 3]> = COLOURS.iter().map(|v| shot.camera().decode(*v).0).collect();
    write("in.exr", &light, Format::Exr, Depth::Float);
    let text = with_a_warning(root, "apply show.toml in.png out.png --shot 12A-3 --display onset --exact");
    assert_says(&text, &["shot 12A-3 (CDL before the look, in ACEScct, not"]);
    output(root, "apply show.toml in.exr light.png --shot 12A-3 --display onset --exact --scene-linear aces-ap1");
    for (name, close) in [("out.png", 4e-5), ("light.png", 4e-5)] {
        let read = demo::still(&root.join(name));
        for (pixel, signal) in read.pixels().zip(COLOURS) {
            let want = shot.apply(signal);
            assert!((0..3).all(|c| (f64::from(pixel[c]) - want[c]).abs() < close), "{name}: {pixel:?} {want:?}");
        }
    }
    for (args, part) in [
        ("--shot 12A-9", "--shot: unknown shot `12A-9`: did you mean `12A-3`?"),
        ("--shot 12A-3 --look plain", "--look plain: shot 12A-3 uses look night"),
    ] {
        assert_says(&refused(root, &format!("apply show.toml in.png no.png --display onset {args}")), &[part]);
    }
}

#[test]
fn the_demo_has_shots_and_the_schema_knows_them() {
    let show = demo::show();
    let names: Vec<&str> = show.shots().keys().map(String::as_str).collect();
    assert_eq!(names, ["12A-3", "12B-1", "31-2", "31-3"]);
    for job in show.shot_jobs() {
        job.pipeline().unwrap_or_else(|e| panic!("{job:?}: {e:?}"));
    }
    let dir = shots(|text| text);
    let text = std::fs::read_to_string(demo::folder().join("show.toml")).unwrap();
    let document: toml::Table = text.parse().unwrap();
    let document = serde_json::to_value(document).unwrap();
    assert_holds_to(dir.path(), "show", &document);
    let mut wrong = document.clone();
    wrong["cdl"]["space"] = "logg".into();
    assert!(!schema(dir.path(), "show").is_valid(&wrong));
}

/// A show that does not say where its corrections come is told where that matters, by every command that puts one on; one
/// that says it, either way, is not.
#[test]
fn an_order_that_is_left_out_is_warned_of_where_it_matters() {
    // 12A-3 is seen in the night, which begins with compress; a strong correction, so that it matters.
    let dir = shots(|text| text);
    put(dir.path(), "cdl/day3.ccc", &DAY.replace("<Slope>1.1 1 0.9</Slope>", "<Slope>1.4 1 0.7</Slope>"));
    let warned = |dir: &std::path::Path, args: &str| {
        let done = run(dir, args).output().expect("it starts");
        String::from_utf8(done.stderr).expect("UTF-8").replace('\n', " ")
    };
    let bake = "bake show.toml --shot 12A-3 --points 5 --no-audit --display onset --out cubes";
    let said = warned(dir.path(), bake);
    assert_says(
        &said,
        &[
            "warning: shot 12A-3: its correction comes before the look's compress",
            "CIEDE2000",
            "the show does not say where corrections come",
            "under [cdl]: order = \"after-compress\"",
        ],
    );
    let stress = "stress show.toml --shot 12A-3 --look night --camera a --display onset --points 5 --json";
    assert_says(&warned(dir.path(), stress), &["warning: shot 12A-3"]);
    let show = std::fs::read_to_string(dir.path().join("show.toml")).expect("a show");
    let with = |words: &str| put(dir.path(), "show.toml", &show.replacen("[cdl]", &format!("[cdl]\n{words}"), 1));
    // What is meant is no question any more; that strong lights turn is still worth a line.
    with("order = \"before\"");
    let said = warned(dir.path(), bake);
    assert_says(&said, &["warning: shot 12A-3: its correction comes before the look's compress"]);
    assert_eq!(said.matches("warning").count(), 1, "{said}");
    for settled in ["order = \"after-compress\"", "space = \"camera\""] {
        with(settled);
        let said = warned(dir.path(), bake);
        assert!(!said.contains("warning"), "{settled}: {said}");
    }
    // A correction that moves nothing far: the show is told once what it means.
    put(dir.path(), "show.toml", &show);
    let weak = DAY.replace("<Slope>1.1 1 0.9</Slope>", "<Slope>1.001 1 0.999</Slope>");
    let weak = weak.replace("<Offset>0.01 0 -0.02</Offset>", "<Offset>0 0 0</Offset>");
    let weak = weak.replace("<Saturation>0.9</Saturation>", "<Saturation>0.999</Saturation>");
    put(dir.path(), "cdl/day3.ccc", &weak.replace("<Power>1 1 1.2</Power>", "<Power>1 1 1</Power>"));
    let said = warned(dir.path(), bake);
    assert_says(&said, &["warning: the show does not say where corrections come: they come before the look"]);
    assert_eq!(said.matches("warning").count(), 1, "{said}");
}

/// The same as a value of the server of `preview`, whose page shows it.
#[test]
fn preview_says_to_which_shots_the_order_matters() {
    let dir = shots(|text| text);
    put(dir.path(), "cdl/day3.ccc", &DAY.replace("<Slope>1.1 1 0.9</Slope>", "<Slope>1.4 1 0.7</Slope>"));
    let server = Server::start(dir.path(), "show.toml");
    let found = server.get("order").good();
    assert_eq!((&found["is"], &found["is_open"]), (&serde_json::json!("before"), &serde_json::json!(true)), "{found}");
    let worst = &found["differences"][0];
    assert_eq!(worst["shot"], "12A-3", "{found}");
    assert!(worst["difference"].as_f64().unwrap() > 5.0, "{found}");
    let warnings = found["warnings"].as_array().unwrap();
    assert!(warnings.last().unwrap().as_str().unwrap().starts_with("the show does not say"), "{found}");
    drop(server);
    let dir =
        shots(|text| text.replacen("[cdl]", "[cdl]\norder = \"after-compress\"", 1).replace("\"plain\"", "\"night\""));
    let found = Server::start(dir.path(), "show.toml").get("order").good();
    assert_eq!(found["warnings"], serde_json::json!([]), "{found}");
}
