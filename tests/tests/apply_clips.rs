//! `apply` between stills and clips, and on raw frames. What ffmpeg writes and reads is left out where it is missing.

use rushlight::cube::Cube;
use rushlight::format::cube::{WriteOptions, write_cube};
use rushlight::frame::{Depth, Format, Frame, Info, ReadOptions, read, write};
use rushlight_tests::scene::{assert_says, json, put, refused, run, saltmarsh};
use std::fs;
use std::path::Path;
use std::process::Command;
use tempfile::TempDir;

const WIDTH: usize = 32;
const HEIGHT: usize = 18;
const NIGHT: &str = "apply show.toml --look night --camera a --display onset";

fn has_ffmpeg() -> bool {
    let there = Command::new("ffmpeg").arg("-version").output().is_ok_and(|o| o.status.success());
    if !there {
        eprintln!("skipped: no ffmpeg here");
    }
    there
}

fn sequence(numbers: &[usize]) -> TempDir {
    let dir = saltmarsh();
    for n in numbers {
        let samples = (0..WIDTH * HEIGHT * 3).map(|i| (0.08 + 0.75 * ((i * 89 + n * 31) % 256) as f64 / 255.0) as f32);
        let frame = Frame::new(WIDTH, HEIGHT, false, samples.collect(), Info::new(Format::Exr, Depth::Float)).unwrap();
        fs::write(dir.path().join(format!("shot.{n}.exr")), write(&frame, Format::Exr, Depth::Float).unwrap()).unwrap();
    }
    dir
}

/// A cube that changes nothing.
fn unchanged(dir: &Path) {
    let cube = Cube::sample(2, |rgb| rgb).unwrap();
    put(dir, "same.cube", &write_cube(&cube, &WriteOptions::default()).unwrap());
}

/// Codes of 12 bits of every frame of a clip, red, green and blue, by ffmpeg.
fn codes(path: &Path) -> Vec<[Vec<u16>; 3]> {
    let done = Command::new("ffmpeg")
        .args(["-v", "error", "-i"])
        .arg(path)
        .args(["-f", "rawvideo", "-pix_fmt", "gbrp12le", "pipe:1"])
        .output()
        .unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let plane = |raw: &[u8]| raw.as_chunks::<2>().0.iter().map(|b| u16::from_le_bytes(*b)).collect::<Vec<u16>>();
    done.stdout
        .chunks_exact(WIDTH * HEIGHT * 6)
        .map(|frame| {
            let [green, blue, red] = [0, 1, 2].map(|p| plane(&frame[p * WIDTH * HEIGHT * 2..][..WIDTH * HEIGHT * 2]));
            [red, green, blue]
        })
        .collect()
}

fn still(path: &Path) -> Frame {
    read(&fs::read(path).unwrap(), &ReadOptions::default()).unwrap()
}

#[test]
fn a_sequence_becomes_the_clip_that_its_stills_would_make_and_back() {
    if !has_ffmpeg() {
        return;
    }
    let dir = sequence(&[1001, 1002, 1003]);
    let root = dir.path();
    let report = json(root, &format!("{NIGHT} shot.####.exr out.mkv --encoder lossless --rate 23.976 --json"));
    assert_eq!((&report["done"], &report["clip_frames"]), (&serde_json::json!(["out.mkv"]), &serde_json::json!(3)));
    json(root, &format!("{NIGHT} shot.####.exr graded.####.png --json"));
    let frames = codes(&root.join("out.mkv"));
    assert_eq!(frames.len(), 3);
    for (n, frame) in frames.iter().enumerate() {
        let want = still(&root.join(format!("graded.{}.png", 1001 + n)));
        for (i, pixel) in want.pixels().enumerate() {
            for c in 0..3 {
                // Twelve bits against sixteen, each to its nearest code.
                let off = (f64::from(frame[c][i]) - f64::from(pixel[c]) * 4095.0).abs();
                assert!(off <= 0.5 + 0.5 * 4095.0 / 65535.0 + 1e-3, "frame {n}, pixel {i}: {off}");
            }
        }
    }
    let rate = Command::new("ffprobe")
        .args(["-v", "error", "-show_entries", "stream=r_frame_rate", "-of", "csv=p=0"])
        .arg(root.join("out.mkv"))
        .output()
        .unwrap();
    assert_eq!(String::from_utf8_lossy(&rate.stdout).trim(), "24000/1001");
    // And back: the codes of the clip, whichever number the stills begin with.
    unchanged(root);
    let report = json(root, "apply --cube same.cube out.mkv back/f.####.png --start 86 --json");
    assert_eq!(report["done"], serde_json::json!(["back/f.0086.png", "back/f.0087.png", "back/f.0088.png"]));
    for (n, frame) in frames.iter().enumerate() {
        let back = still(&root.join(format!("back/f.{:04}.png", 86 + n)));
        for (i, pixel) in back.pixels().enumerate() {
            for c in 0..3 {
                let off = (f64::from(pixel[c]) * 4095.0 - f64::from(frame[c][i])).abs();
                assert!(off < 0.1, "frame {n}, pixel {i}: {off}");
            }
        }
    }
    // Into a folder, with what is there left alone.
    fs::remove_file(root.join("back/f.0087.png")).unwrap();
    let report = json(root, "apply --cube same.cube out.mkv back/f.####.png --start 86 --resume --json");
    assert_eq!(report["done"], serde_json::json!(["back/f.0087.png"]));
    assert_eq!(report["kept"].as_array().unwrap().len(), 2);
    let report = json(root, "apply --cube same.cube out.mkv stills/ --format tif --json");
    assert_eq!(report["done"][2], "stills/out.0003.tif");
}

#[test]
fn a_gap_stops_a_clip_or_is_left_out_by_choice() {
    let dir = sequence(&[1, 2, 4]);
    let root = dir.path();
    assert_says(
        &refused(root, &format!("{NIGHT} shot.#.exr out.mov")),
        &["missing frames: 3", "--on-error skip goes on without them"],
    );
    assert!(!root.join("out.mov").exists());
    if !has_ffmpeg() {
        return;
    }
    let done = run(root, &format!("{NIGHT} shot.#.exr out.mkv --encoder lossless --on-error skip")).output().unwrap();
    assert_eq!(done.status.code(), Some(1));
    assert_says(&String::from_utf8(done.stdout).unwrap(), &["1 frames are left out", "24 frames a second"]);
    assert_eq!(codes(&root.join("out.mkv")).len(), 3);
    // A frame of another size, and one that is broken.
    fs::copy(root.join("shot.1.exr"), root.join("shot.3.exr")).unwrap();
    put(root, "shot.4.exr", "no EXR");
    let why = refused(root, &format!("{NIGHT} shot.#.exr whole.mkv --encoder lossless"));
    assert_says(&why, &["shot.4.exr"]);
    assert!(!root.join("whole.mkv").exists());
}

#[test]
fn what_does_not_go_together_is_said() {
    let dir = sequence(&[1]);
    let root = dir.path();
    unchanged(root);
    put(root, "clip.mov", "no clip, but called so");
    for (args, parts) in [
        (format!("{NIGHT} shot.1.exr out.mov"), ["a clip is made of a sequence", "shot.1.exr is one still"]),
        (format!("{NIGHT} clip.mov out.png"), ["out.png", "a name with ####, such as out.####.png"]),
        (format!("{NIGHT} shot.#.exr out.mov --rate fast"), ["--rate: `fast`", "frames a second, such as 25"]),
        (format!("{NIGHT} shot.#.exr out.#.png --rate 25"), ["--rate: for a sequence", "becomes a clip"]),
        (format!("{NIGHT} shot.#.exr out.#.png --start 5"), ["--start: for a clip", "becomes stills"]),
        (format!("{NIGHT} shot.#.exr out.mov --depth 8"), ["--depth: for stills", "written"]),
        (format!("{NIGHT} shot.#.exr out.mov --slice 1/2"), ["--slice", "in one piece"]),
        (format!("{NIGHT} - out.png"), ["raw frames", "--raw 3840x2160"]),
        (format!("{NIGHT} shot.1.exr out.png --raw 4x2"), ["--raw", "give - and -"]),
        (format!("{NIGHT} - - --raw big"), ["--raw: `big`", "WIDTHxHEIGHT"]),
    ] {
        assert_says(&refused(root, &args), &parts);
    }
}

/// Runs on raw frames; exit code, what came out, and what was said.
fn raw(dir: &Path, args: &str, input: &[u8]) -> (Option<i32>, Vec<u8>, String) {
    put(dir, "raw.bytes", "");
    fs::write(dir.join("raw.bytes"), input).unwrap();
    let done = run(dir, args).pipe_stdin(dir.join("raw.bytes")).unwrap().output().unwrap();
    (done.status.code(), done.stdout, String::from_utf8(done.stderr).unwrap())
}

#[test]
fn raw_frames_go_through_as_planes() {
    let dir = saltmarsh();
    let root = dir.path();
    unchanged(root);
    // Every plane's own codes, so that none can be taken for another; two frames and a half.
    let frame: Vec<u8> = (0..6 * 4 * 3u16).flat_map(|i| (i * 811).to_le_bytes()).collect();
    let two = [&frame[..], &frame].concat();
    let (code, out, said) = raw(root, "apply --cube same.cube - - --raw 6x4", &two);
    assert_eq!((code, out == two), (Some(0), true), "{said}");
    assert_says(&said, &["2 raw frames"]);
    let (code, out, said) = raw(root, "apply --cube same.cube - - --raw 6x4", &two[..frame.len() * 3 / 2]);
    assert_eq!((code, out == frame), (Some(2), true), "{said}");
    assert_says(&said, &["the last frame has 72 bytes of 144: is --raw its size?"]);
    let (code, out, said) = raw(root, "apply --cube same.cube - - --raw 6x4:gbrp10le", b"");
    assert_eq!((code, out.len()), (Some(0), 0), "{said}");
    // A look: green, blue, red, as the exact path has them.
    let (code, out, said) =
        raw(root, &format!("{NIGHT} - - --raw 2x1 --exact"), &[0, 0x60, 0, 0x70, 0, 0x40, 0, 0x50, 0, 0x90, 0, 0x30]);
    assert_eq!(code, Some(0), "{said}");
    let code_of = |i: usize| f64::from(u16::from_le_bytes([out[2 * i], out[2 * i + 1]])) / 65535.0;
    for pixel in 0..2 {
        let [g, b, r] =
            [0, 2, 4].map(|p| f64::from([0x6000, 0x7000, 0x4000, 0x5000, 0x9000, 0x3000][p + pixel]) / 65535.0);
        let probed = json(root, &format!("probe show.toml --look night --camera a --display onset {r} {g} {b} --json"));
        let want = probed["colours"][0]["stages"].as_array().unwrap().last().unwrap()["rgb"].clone();
        for (c, at) in [4, 0, 2].into_iter().enumerate() {
            let off = (want[c].as_f64().unwrap() - code_of(at + pixel)).abs();
            assert!(off <= 0.6 / 65535.0, "pixel {pixel}, channel {c}: {off}");
        }
    }
}
