//! `apply` on stills and sequences, from files to files.

use rushlight::cube::{Cube, Interpolation};
use rushlight::frame::{Cicp, Depth, Format, Frame, Info, ReadOptions, read, write};
use rushlight::show::Show;
use rushlight_tests::scene::{
    assert_holds_to, assert_says, files, json, numbers, output, put, refused, run, saltmarsh,
};
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

const WIDTH: usize = 24;
const HEIGHT: usize = 10;
const NIGHT: &str = "apply show.toml --look night --camera a --display onset";

/// The signal of frame `n`.
fn signal(n: usize) -> Vec<f32> {
    (0..WIDTH * HEIGHT * 3).map(|i| (0.08 + 0.75 * ((i * 97 + n * 31) % 256) as f64 / 255.0) as f32).collect()
}

fn picture(n: usize, format: Format, depth: Depth) -> Vec<u8> {
    let frame = Frame::new(WIDTH, HEIGHT, false, signal(n), Info::new(format, depth)).unwrap();
    write(&frame, format, depth).unwrap()
}

/// A show, and frames 1001 to 1005 of a shot as EXR.
fn shot() -> TempDir {
    let dir = saltmarsh();
    for n in 1001..=1005 {
        let name = format!("shot.{n}.exr");
        fs::write(dir.path().join(name), picture(n, Format::Exr, Depth::Float)).unwrap();
    }
    dir
}

fn open(dir: &Path, name: &str) -> Frame {
    read(&fs::read(dir.join(name)).unwrap(), &ReadOptions::default()).unwrap()
}

fn names(value: &Value) -> Vec<&str> {
    value.as_array().unwrap().iter().map(|v| v.as_str().unwrap()).collect()
}

fn show(dir: &Path) -> Show {
    let files: BTreeMap<String, Vec<u8>> = ["looks/night.toml", "looks/plain.toml", "curves/heron.toml"]
        .iter()
        .map(|name| ((*name).to_owned(), fs::read(dir.join(name)).unwrap()))
        .collect();
    Show::parse("show.toml", &fs::read_to_string(dir.join("show.toml")).unwrap(), &files).unwrap()
}

/// A run that must end with this code; its standard output and its standard error.
fn ends(dir: &Path, args: &str, code: i32) -> (String, String) {
    let run = run(dir, args).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    let (out, err) = (text(run.stdout), text(run.stderr));
    assert_eq!(run.status.code(), Some(code), "{args}: {out}{err}");
    assert!(!err.contains("panicked"), "{err}");
    (out, err)
}

#[test]
fn a_sequence_becomes_what_the_pipeline_makes_of_it() {
    let dir = shot();
    let report = json(dir.path(), &format!("{NIGHT} --exact shot.####.exr out/graded.####.png --json"));
    assert_eq!(report["schema"], 1);
    assert_eq!(names(&report["done"]).len(), 5);
    let pipeline = show(dir.path()).pipeline("night", "a", "onset").unwrap();
    for n in 1001..=1005 {
        let graded = open(dir.path(), &format!("out/graded.{n}.png"));
        assert_eq!(graded.info.depth, Depth::Integer(16));
        for (rgb, got) in signal(n).chunks_exact(3).zip(graded.pixels()) {
            let want = pipeline.apply([rgb[0], rgb[1], rgb[2]].map(f64::from));
            for c in 0..3 {
                // The nearest code of an f32, which a frame holds.
                assert!((f64::from(got[c]) - want[c]).abs() <= 0.5021 / 65535.0, "{n}: {rgb:?} {got:?} {want:?}");
            }
        }
        // What the display is (ITU-T H.273): BT.709 and its transfer.
        assert_eq!(graded.info.tags.cicp, Some(Cicp::rgb(1, 1)));
        assert!(graded.info.tags.icc.is_some());
    }
    // By a cube: as far off as the report says, and no farther than a cube of 33 points is.
    let report = json(dir.path(), &format!("{NIGHT} shot.[1002-1003].exr cubed.####.tif --json"));
    assert_eq!(names(&report["done"]), ["cubed.1002.tif", "cubed.1003.tif"]);
    assert_eq!(report["points"], 33);
    let most = report["error"]["max_codes_10"].as_f64().unwrap();
    assert!(most > 0.0 && most < 20.0, "{report}");
    let (exact, cubed) = (open(dir.path(), "out/graded.1002.png"), open(dir.path(), "cubed.1002.tif"));
    let off = exact.samples().iter().zip(cubed.samples()).map(|(a, b)| f64::from((a - b).abs()) * 1023.0);
    let off = off.fold(0.0, f64::max);
    assert!(off > 0.0 && off < most + 0.1, "{off} where {most} is said");
}

#[test]
fn text_says_what_was_done() {
    let dir = shot();
    let said = output(dir.path(), &format!("{NIGHT} --points 9 shot.####.exr out.####.exr"));
    assert_says(
        &said,
        &["Saltmarsh: look night, camera a, display onset", "a cube of 9 points, tetrahedral", "5 files, "],
    );
    assert_says(&said, &["against the exact path", "10-bit codes", "with chromaticities", "not light"]);
    assert!(said.lines().all(|l| l.chars().count() <= 80), "{said}");
    // A float stays a float.
    assert_eq!(open(dir.path(), "out.1001.exr").info.depth, Depth::Float);
}

#[test]
fn cubes_of_any_kind_are_applied_and_alpha_is_kept() {
    let dir = shot();
    let bend = |[r, g, b]: [f64; 3]| [0.1 + 0.8 * r, g * g, 0.5 * (b + r)];
    let cube = Cube::sample(5, bend).unwrap();
    let text = rushlight::format::cube::write_cube(&cube, &Default::default());
    put(dir.path(), "bend.cube", &text.expect("a cube"));
    output(dir.path(), "convert bend.cube bend.clf");
    let pixels = [[0.25f32, 0.5, 0.75, 0.5], [0.9, 0.3, 0.1, 1.0], [0.2, 0.8, 0.6, 0.0]];
    let frame = Frame::new(3, 1, true, pixels.concat(), Info::new(Format::Png, Depth::Integer(16))).unwrap();
    fs::write(dir.path().join("in.png"), write(&frame, Format::Png, Depth::Integer(16)).unwrap()).unwrap();
    for table in ["bend.cube", "bend.clf"] {
        output(dir.path(), &format!("apply --cube {table} --display p3-d65 in.png out.png"));
        let out = open(dir.path(), "out.png");
        for (from, to) in pixels.iter().zip(out.samples().chunks_exact(4)) {
            let want = cube.at([from[0], from[1], from[2]].map(f64::from), Interpolation::Tetrahedral);
            for c in 0..3 {
                assert!((f64::from(to[c]) - want[c]).abs() < 1e-4, "{table}: {to:?} for {want:?}");
            }
            assert!((to[3] - from[3]).abs() < 1e-4);
        }
        // H.273 has no code for gamma 2.6: a profile alone.
        assert!(out.info.tags.cicp.is_none() && out.info.tags.icc.is_some());
    }
    // Multiplied by alpha in EXR, and without in PNG.
    output(dir.path(), "apply --cube bend.cube in.png out.exr --depth float");
    let (png, mut exr) = (open(dir.path(), "out.png"), open(dir.path(), "out.exr"));
    assert!((exr.samples()[0] - 0.5 * png.samples()[0]).abs() < 1e-4);
    exr.associate(false);
    assert!(exr.samples()[..8].iter().zip(png.samples()).all(|(a, b)| (a - b).abs() < 1e-4));
    let said = output(dir.path(), "apply --cube bend.cube in.png out.tif");
    assert_says(&said, &["without --display"]);
    // DPX has no alpha.
    let said = refused(dir.path(), "apply --cube bend.cube in.png out.dpx");
    assert_says(&said, &["out.dpx", "without alpha"]);
}

#[test]
fn scene_light_needs_no_camera() {
    let dir = saltmarsh();
    let light: Vec<f32> = (0..WIDTH * HEIGHT * 3).map(|i| 0.18 * 2f32.powf((i % 97) as f32 / 8.0 - 7.0)).collect();
    let frame = Frame::new(WIDTH, HEIGHT, false, light.clone(), Info::new(Format::Exr, Depth::Float)).unwrap();
    fs::write(dir.path().join("light.exr"), write(&frame, Format::Exr, Depth::Float).unwrap()).unwrap();
    let args = "apply show.toml --look night --display onset --scene-linear aces-ap1";
    output(dir.path(), &format!("{args} --exact light.exr exact.tif --depth float"));
    let pipeline = show(dir.path()).pipeline("night", "a", "onset").unwrap();
    for (rgb, got) in light.chunks_exact(3).zip(open(dir.path(), "exact.tif").pixels()) {
        let want = pipeline.apply_to_light([rgb[0], rgb[1], rgb[2]].map(f64::from));
        assert!((0..3).all(|c| (f64::from(got[c]) - want[c]).abs() < 1e-6), "{rgb:?}: {got:?} for {want:?}");
    }
    // A look that stands alone, through a cube over stops.
    let args = "apply looks/night.toml --display bt709 --scene-linear aces-ap1";
    let report = json(dir.path(), &format!("{args} light.exr cubed.tif --depth float --json"));
    assert_eq!(report["points"], 65);
    let (a, b) = (open(dir.path(), "exact.tif"), open(dir.path(), "cubed.tif"));
    assert!(a.samples().iter().zip(b.samples()).all(|(a, b)| (a - b).abs() < 0.02));
    let said = refused(dir.path(), "apply show.toml --look night --display onset --scene-linear srgb2 light.exr x.png");
    assert_says(&said, &["--scene-linear", "srgb2"]);
}

#[test]
fn what_else_an_exr_holds_stays() {
    let dir = saltmarsh();
    let fixture = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/frames/openexr_layers.exr");
    fs::copy(fixture, dir.path().join("layers.exr")).unwrap();
    output(dir.path(), &format!("{NIGHT} layers.exr out.exr"));
    let open = |name: &str| {
        exr::prelude::read()
            .no_deep_data()
            .largest_resolution_level()
            .all_channels()
            .all_layers()
            .all_attributes()
            .from_file(dir.path().join(name))
            .unwrap()
    };
    use exr::prelude::{ReadChannels as _, ReadLayers as _};
    let (before, after) = (open("layers.exr"), open("out.exr"));
    let (mut kept, mut changed) = (Vec::new(), Vec::new());
    for (a, b) in before.layer_data[0].channel_data.list.iter().zip(&after.layer_data[0].channel_data.list) {
        assert_eq!(a.name, b.name);
        if a == b { kept.push(a.name.to_string()) } else { changed.push(a.name.to_string()) }
    }
    assert_eq!(changed, ["beauty.B", "beauty.G", "beauty.R"]);
    assert!(!kept.is_empty());
    assert_eq!(before.attributes.display_window, after.attributes.display_window);
}

#[test]
fn slices_and_resuming_leave_nothing_out_and_do_nothing_twice() {
    let dir = shot();
    let args = format!("{NIGHT} --points 5 shot.####.exr out/g.####.png --json");
    let mut all = Vec::new();
    for k in 1..=3 {
        let report = json(dir.path(), &format!("{args} --slice {k}/3"));
        all.extend(names(&report["done"]).into_iter().map(str::to_owned));
    }
    let want: Vec<String> = (1001..=1005).map(|n| format!("out/g.{n}.png")).collect();
    assert_eq!(all, want);
    fs::remove_file(dir.path().join("out/g.1003.png")).unwrap();
    put(dir.path(), "out/g.1004.png", "as it was");
    let report = json(dir.path(), &format!("{args} --resume"));
    assert_eq!(names(&report["done"]), ["out/g.1003.png"]);
    assert_eq!(names(&report["skipped"]).len(), 4);
    assert_eq!(fs::read(dir.path().join("out/g.1004.png")).unwrap(), b"as it was");
    // Without it the frame is made again.
    assert_says(&refused(dir.path(), &format!("{args} --slice 4/5")), &["out/g.1004.png", "--force"]);
    output(dir.path(), &format!("{args} --slice 4/5 --force"));
    assert!(fs::read(dir.path().join("out/g.1004.png")).unwrap().starts_with(b"\x89PNG"));
    for bad in ["0/3", "4/3", "x"] {
        assert_says(&refused(dir.path(), &format!("{args} --slice {bad}")), &["--slice", "K/N"]);
    }
}

#[test]
fn gaps_in_a_sequence_are_named() {
    let dir = shot();
    fs::remove_file(dir.path().join("shot.1002.exr")).unwrap();
    fs::remove_file(dir.path().join("shot.1003.exr")).unwrap();
    let said = refused(dir.path(), &format!("{NIGHT} shot.####.exr out.####.png"));
    assert_says(&said, &["shot.####.exr", "missing frames: 1002-1003", "--on-error skip"]);
    assert!(!dir.path().join("out.1001.png").exists());
    let said = refused(dir.path(), &format!("{NIGHT} shot.[1004-1007].exr out.####.png"));
    assert_says(&said, &["missing frames: 1006-1007"]);
    let (out, err) =
        ends(dir.path(), &format!("{NIGHT} --points 5 --on-error skip shot.####.exr o.####.png --json"), 1);
    let report: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(names(&report["done"]), ["o.1001.png", "o.1004.png", "o.1005.png"]);
    assert_eq!(report["broken"].as_array().unwrap().len(), 2);
    assert_says(&err, &["shot.1002.exr: missing", "shot.1003.exr: missing"]);
    assert_says(&refused(dir.path(), &format!("{NIGHT} take.####.exr o.####.png")), &["take.####.exr"]);
}

/// A file cut short, and what was a still before.
fn broken(dir: &Path) -> Vec<String> {
    let kinds = [
        (Format::Exr, Depth::Half),
        (Format::Tiff, Depth::Integer(16)),
        (Format::Png, Depth::Integer(16)),
        (Format::Jpeg, Depth::Integer(8)),
        (Format::Dpx, Depth::Integer(10)),
    ];
    let mut names: Vec<String> = Vec::new();
    for (format, depth) in kinds {
        let whole = picture(7, format, depth);
        let name = format!("cut_{0}.{0}", format.extensions()[0]);
        fs::write(dir.join(&name), &whole[..whole.len() / 2]).unwrap();
        names.push(name);
    }
    for name in ["bad_cmyk.tif", "bad_cmyk.jpg", "bad_no_colour.exr"] {
        let fixture = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/frames").join(name);
        let name = name.replace('.', "_") + &name[name.len() - 4..];
        fs::copy(fixture, dir.join(&name)).unwrap();
        names.push(name);
    }
    put(dir, "empty.png", "");
    put(dir, "words.exr", "no picture");
    // The header of a DPX of 4096 x 4096 pixels, and nothing after it.
    let mut claims = picture(7, Format::Dpx, Depth::Integer(10))[..2048].to_vec();
    claims[772..780].copy_from_slice(&[0, 0, 0x10, 0, 0, 0, 0x10, 0]);
    fs::write(dir.join("claims.dpx"), claims).unwrap();
    names.extend(["empty.png", "words.exr", "claims.dpx"].map(str::to_owned));
    names
}

#[test]
fn broken_files_are_named_and_the_rest_goes_on_or_stops() {
    let dir = shot();
    let names = broken(dir.path());
    let list = names.join(" ");
    let (out, err) = ends(
        dir.path(),
        &format!("{NIGHT} --points 5 --on-error skip {list} shot.1001.exr out/ --format png --json"),
        1,
    );
    let report: Value = serde_json::from_str(&out).unwrap();
    assert_holds_to(dir.path(), "apply", &report);
    assert_eq!(report["done"].as_array().unwrap().len(), 1, "{report}");
    assert_eq!(report["broken"].as_array().unwrap().len(), names.len());
    for name in &names {
        assert_says(&err, &[&format!("cannot read {name}: ")]);
    }
    assert_says(&err, &["CMYK", "4096 x 4096"]);
    assert_eq!(files(&dir.path().join("out")).into_keys().collect::<Vec<_>>(), ["shot.1001.png"]);
    // One at a time: what comes after the broken one is left.
    let args = format!("{NIGHT} --points 5 --jobs 1 shot.1001.exr cut_png.png shot.1002.exr");
    let (out, err) = ends(dir.path(), &format!("{args} stop/ --format tif"), 1);
    assert_says(&out, &["pending", "1 files"]);
    assert_says(&err, &["cannot read cut_png.png"]);
    assert_eq!(files(&dir.path().join("stop")).into_keys().collect::<Vec<_>>(), ["shot.1001.tif"]);
    // Nothing done at all.
    let said = refused(dir.path(), &format!("{NIGHT} --points 5 cut_exr.exr never.png"));
    assert_says(&said, &["cannot read cut_exr.exr", "nothing is written"]);
    assert!(!dir.path().join("never.png").exists());
}

#[test]
fn what_cannot_be_meant_is_refused_before_any_work() {
    let dir = shot();
    let refused = |args: &str, parts: &[&str]| {
        assert_says(&refused(dir.path(), args), parts);
    };
    let before = files(dir.path());
    refused(&format!("{NIGHT} shot.1001.exr shot.1001.exr"), &["shot.1001.exr", "read too"]);
    refused(&format!("{NIGHT} shot.####.exr ./shot.####.exr"), &["read too"]);
    refused(
        &format!("{NIGHT} shot.1001.exr out.bmp"),
        &["out.bmp", "`.bmp` is unknown", "stills end in exr, tif, png, jpg, dpx"],
    );
    refused(&format!("{NIGHT} shot.1001.exr out"), &["no extension"]);
    refused(&format!("{NIGHT} shot.####.exr out.png"), &["####"]);
    refused(&format!("{NIGHT} shot.1001.exr out.####.png"), &["no number"]);
    refused(&format!("{NIGHT} shot.1001.exr shot.1002.exr out.png"), &["folder"]);
    refused(&format!("{NIGHT} shot.1001.exr"), &["what to read and what to write"]);
    refused(&format!("{NIGHT} --jobs 0 shot.1001.exr a.png"), &["--jobs"]);
    refused(&format!("{NIGHT} --points 1 shot.1001.exr a.png"), &["--points"]);
    refused("apply show.toml --camera a --display onset shot.1001.exr a.png", &["--look", "night, plain"]);
    refused("apply --cube none.cube shot.1001.exr a.png", &["none.cube", "no such file"]);
    refused(&format!("{NIGHT} --depth half shot.1001.exr a.png"), &["a.png", "half float"]);
    let after = files(dir.path());
    assert_eq!(before.keys().collect::<Vec<_>>(), after.keys().collect::<Vec<_>>());
}

#[test]
fn every_format_is_written_from_every_other() {
    let dir = saltmarsh();
    put(dir.path(), "id.cube", "LUT_3D_SIZE 2\n0 0 0\n1 0 0\n0 1 0\n1 1 0\n0 0 1\n1 0 1\n0 1 1\n1 1 1\n");
    let kinds = [
        (Format::Exr, Depth::Half, 1e-3),
        (Format::Tiff, Depth::Integer(16), 1e-4),
        (Format::Png, Depth::Integer(8), 2.1e-3),
        (Format::Dpx, Depth::Integer(10), 6e-4),
        (Format::Jpeg, Depth::Integer(8), 0.2),
    ];
    for (format, depth, _) in kinds {
        let name = format!("in.{}", format.extensions()[0]);
        fs::write(dir.path().join(name), picture(3, format, depth)).unwrap();
    }
    for (from, _, first) in kinds {
        for (to, _, second) in kinds {
            let [from, to] = [from, to].map(|f| f.extensions()[0]);
            output(dir.path(), &format!("apply --cube id.cube --display srgb in.{from} out_{from}.{to}"));
            let out = open(dir.path(), &format!("out_{from}.{to}"));
            let off = out.samples().iter().zip(signal(3)).map(|(a, b)| (a - b).abs()).sum::<f32>();
            let mean = off / out.samples().len() as f32;
            assert!(mean < first + second, "{from} to {to}: {mean}");
        }
    }
    let png = open(dir.path(), "out_exr.png");
    assert!(png.info.tags.srgb && png.info.tags.cicp == Some(Cicp::rgb(1, 13)));
    assert!(open(dir.path(), "out_png.jpg").info.tags.icc.is_some());
    let xy = open(dir.path(), "out_png.exr").info.tags.chromaticities.unwrap();
    assert_eq!(numbers(&serde_json::json!([xy[0].x as f32 as f64])), [f64::from(0.64f32)]);
}

/// Light that passes for a camera's signal gives a wrong picture: the run says so first.
#[test]
fn light_that_is_given_as_a_camera_signal_is_warned_of() {
    let dir = saltmarsh();
    let mut info = Info::new(Format::Exr, Depth::Half);
    let [red, green, blue] = rushlight::gamut::AP1.primaries;
    info.tags.chromaticities = Some([red, green, blue, rushlight::gamut::AP1.white]);
    let frame = Frame::new(WIDTH, HEIGHT, false, signal(1), info).unwrap();
    fs::write(dir.path().join("light.exr"), write(&frame, Format::Exr, Depth::Half).unwrap()).unwrap();
    let args = format!("{NIGHT} --points 9 light.exr out.png");
    let (_, err) = ends(dir.path(), &args, 0);
    let err = err.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_says(
        &err,
        &["warning: light.exr is scene light of aces-ap1, by its chromaticities, not a signal of camera a"],
    );
    assert_says(&err, &["give --scene-linear aces-ap1 in place of --camera"]);
    let (out, _) = ends(dir.path(), &format!("{args} --json"), 0);
    let report: Value = serde_json::from_str(&out).unwrap();
    assert!(names(&report["notes"])[0].contains("--scene-linear aces-ap1"), "{report}");
    let (_, err) = ends(dir.path(), &args.replace("--camera a", "--scene-linear aces-ap1"), 0);
    assert!(!err.contains("warning"), "{err}");
    // Frames of a camera have no such tags.
    fs::write(dir.path().join("log.exr"), picture(1, Format::Exr, Depth::Half)).unwrap();
    let (_, err) = ends(dir.path(), &args.replace("light", "log"), 0);
    assert!(!err.contains("warning"), "{err}");
}
