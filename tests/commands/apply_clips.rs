//! `apply` between stills and clips, and on raw frames. What ffmpeg writes and reads is left out where it is missing.

use rushlight::cube::Cube;
use rushlight::format::cube::{WriteOptions, write_cube};
use rushlight::frame::{Depth, Format, Frame, Info, ReadOptions, read, write};
use rushlight_tests::scene::{assert_holds_to, assert_says, json, put, refused, run, saltmarsh};
#[cfg(unix)]
use rushlight_tests::scene::{files, path_with};
use serde_json::Value;
use std::fs;
use std::io::{Seek, SeekFrom};
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
    assert_eq!(report["skipped"].as_array().unwrap().len(), 2);
    let report = json(root, "apply --cube same.cube out.mkv stills/ --format tif --json");
    assert_eq!(report["done"][2], "stills/out.0003.tif");
}

#[test]
fn what_stills_say_beside_the_picture_is_said_to_be_left_out_of_a_clip() {
    if !has_ffmpeg() {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let root = dir.path();
    unchanged(root);
    let mut info = Info::new(Format::Png, Depth::Integer(8));
    info.xmp = Some(b"<x:xmpmeta xmlns:x='adobe:ns:meta/'/>".to_vec());
    let frame = Frame::new(WIDTH, HEIGHT, false, vec![0.5; WIDTH * HEIGHT * 3], info).unwrap();
    fs::write(root.join("f.1.png"), write(&frame, Format::Png, Depth::Integer(8)).unwrap()).unwrap();
    let report = json(root, "apply --cube same.cube f.#.png out.mkv --encoder lossless --rate 25 --json");
    let notes = report["notes"].as_array().unwrap();
    assert!(notes.contains(&"a clip cannot store this, so it is missing in the output: XMP".into()), "{notes:?}");
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
    assert_says(&String::from_utf8(done.stdout).unwrap(), &["1 frames are missing", "24 frames a second"]);
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
        (format!("{NIGHT} shot.#.exr out.#.png --rate 25"), ["--rate: only for clips", "that are written"]),
        (format!("{NIGHT} shot.#.exr out.#.png --start 5"), ["--start: only for a clip", "becomes stills"]),
        (format!("{NIGHT} shot.#.exr out.mov --depth 8"), ["--depth: only for stills", "written"]),
        (format!("{NIGHT} shot.#.exr out.mov --slice 1/2"), ["--slice", "in one piece"]),
        (format!("{NIGHT} - out.png"), ["raw frames", "--raw 3840x2160"]),
        (format!("{NIGHT} shot.1.exr out.png --raw 4x2"), ["--raw", "give - and -"]),
        (format!("{NIGHT} - - --raw big"), ["--raw: `big`", "WIDTHxHEIGHT"]),
    ] {
        assert_says(&refused(root, &args), &parts);
    }
}

/// Runs on raw frames: exit code, standard output and standard error.
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
    let (_, _, said) = raw(root, "apply --cube same.cube - - --raw 6x4 --json", &two);
    let report: Value = serde_json::from_str(&said).unwrap();
    assert_eq!(report["raw_frames"], 2);
    assert_holds_to(root, "apply", &report);
    let (code, out, said) = raw(root, "apply --cube same.cube - - --raw 6x4", &two[..frame.len() * 3 / 2]);
    assert_eq!((code, out == frame), (Some(1), true), "{said}");
    assert_says(&said, &["error: ", "the last frame has 72 bytes of 144: is --raw its size?", "1 raw frame"]);
    let (code, out, said) = raw(root, "apply --cube same.cube - - --raw 6x4", &frame[..72]);
    assert_eq!((code, out.len()), (Some(2), 0), "{said}");
    assert_says(&said, &["the last frame has 72 bytes of 144"]);
    let (code, out, said) = raw(root, "apply --cube same.cube - - --raw 6x4:gbrp10le", b"");
    assert_eq!((code, out.len()), (Some(2), 0), "{said}");
    assert_says(&said, &["standard input is empty: no frame is written"]);
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

/// Makes a clip by ffmpeg.
fn made(dir: &Path, args: &str, name: &str) {
    let done = Command::new("ffmpeg")
        .args(["-nostdin", "-v", "error", "-y"])
        .args(args.split_whitespace())
        .arg(dir.join(name))
        .output()
        .unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
}

/// What ffprobe says of an entry of a clip's streams.
fn probed(path: &Path, entry: &str) -> String {
    let done = Command::new("ffprobe")
        .args(["-v", "error", "-select_streams", "v:0", "-show_entries", &format!("stream={entry}"), "-of", "csv=p=0"])
        .arg(path)
        .output()
        .unwrap();
    String::from_utf8(done.stdout).unwrap().trim().to_owned()
}

/// What ffmpeg measures of the sound of a clip.
fn sound(path: &Path) -> Vec<u8> {
    let args = ["-map", "0:a", "-c", "copy", "-f", "md5", "pipe:1"];
    Command::new("ffmpeg").args(["-v", "error", "-i"]).arg(path).args(args).output().unwrap().stdout
}

#[test]
fn a_rate_that_varies_is_made_constant_and_sound_stays_in_step() {
    if !has_ffmpeg() {
        return;
    }
    let dir = saltmarsh();
    let root = dir.path();
    unchanged(root);
    // Two seconds of 24 a second, of which the second one has every third frame alone; grey that counts.
    let picture = format!("color=black:size={WIDTH}x{HEIGHT}:rate=24:duration=2,format=gbrp,geq=r=5*N:g=5*N:b=5*N");
    let thin = "select='lt(n,24)+not(mod(n,3))'";
    made(
        root,
        &format!(
            "-f lavfi -i {picture},{thin} -f lavfi -i sine=frequency=440:duration=2 -fps_mode vfr -c:v ffv1 -c:a pcm_s16le"
        ),
        "varies.mov",
    );
    let why = refused(root, "apply --cube same.cube varies.mov out.mkv --encoder lossless");
    assert_says(&why, &["varies.mov", "its frame rate varies", "give --rate", "repeat and drop frames"]);
    assert!(!root.join("out.mkv").exists());
    let report = json(root, "apply --cube same.cube varies.mov out.mkv --encoder lossless --rate 24 --json");
    // The last of them, of frame 45, lasts no longer than one.
    assert_eq!(report["clip_frames"], 46, "{report}");
    assert_says(&report["notes"].to_string(), &["a rate that varies became 24"]);
    assert_eq!(probed(&root.join("out.mkv"), "r_frame_rate"), "24/1");
    // What every moment shows is the last that had come.
    let frames = codes(&root.join("out.mkv"));
    for (n, frame) in frames.iter().enumerate() {
        let last = if n < 24 { n } else { n - n % 3 };
        let shown = (f64::from(frame[0][0]) * 255.0 / 4095.0 / 5.0).round() as usize;
        assert_eq!(shown, last, "frame {n}");
    }
    assert!(!sound(&root.join("out.mkv")).is_empty());
    assert_eq!(sound(&root.join("out.mkv")), sound(&root.join("varies.mov")));
    // Every frame once, as stills.
    let report = json(root, "apply --cube same.cube varies.mov stills/f.##.png --json");
    assert_eq!(report["done"].as_array().unwrap().len(), 32);
    assert_says(&report["notes"].to_string(), &["each frame is written once"]);
    // A rate that does not vary is changed when asked for, which is reported.
    let report = json(root, "apply --cube same.cube out.mkv half.mkv --encoder lossless --rate 12 --json");
    assert_eq!(report["clip_frames"], 23);
    assert_says(&report["notes"].to_string(), &["24/1 frames a second became 12"]);
    let report = json(root, "apply --cube same.cube out.mkv as_it_was.mkv --encoder lossless --rate 24/1 --json");
    assert_eq!((&report["clip_frames"], report["notes"].to_string().contains("became")), (&46.into(), false));
}

#[test]
fn alpha_of_clips_is_kept_where_the_encoder_has_it() {
    if !has_ffmpeg() {
        return;
    }
    let dir = saltmarsh();
    let root = dir.path();
    unchanged(root);
    let ramp = format!(
        "color=black:size={WIDTH}x{HEIGHT}:rate=24:duration=0.125,format=gbrap12le,geq=r=100*X:g=200*Y:b=1000:a=127*X+N"
    );
    made(root, &format!("-f lavfi -i {ramp} -c:v ffv1 -pix_fmt gbrap12le"), "alpha.mkv");
    let planes_as = |name: &str, format: &str| {
        let args = ["-f", "rawvideo", "-pix_fmt", format, "pipe:1"];
        let done = Command::new("ffmpeg").args(["-v", "error", "-i"]).arg(root.join(name)).args(args).output().unwrap();
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
        done.stdout
    };
    let planes = |name: &str| planes_as(name, "gbrap12le");
    let report = json(root, "apply --cube same.cube alpha.mkv out.mkv --encoder lossless --json");
    assert_eq!((&report["clip_frames"], probed(&root.join("out.mkv"), "pix_fmt")), (&3.into(), "gbrap12le".to_owned()));
    assert_says(report["written"].as_str().unwrap(), &["gbrap12le"]);
    assert!(!report["notes"].to_string().contains("alpha"), "{report}");
    assert_eq!(planes("out.mkv").len(), WIDTH * HEIGHT * 8 * 3);
    assert!(planes("out.mkv") == planes("alpha.mkv"));
    // Another encoder, of luma and chroma, whose formats are its own.
    json(root, "apply --cube same.cube alpha.mkv luma.mkv --encoder ffv1 --json");
    assert_eq!(probed(&root.join("luma.mkv"), "pix_fmt"), "yuva420p");
    let (want, found) = (planes("alpha.mkv"), planes_as("luma.mkv", "yuva420p"));
    let pixels = WIDTH * HEIGHT;
    for frame in 0..3 {
        let deep = want[frame * pixels * 8 + pixels * 6..][..pixels * 2].as_chunks::<2>().0;
        let plane = &found[frame * pixels * 5 / 2 + pixels * 3 / 2..][..pixels];
        for (i, (deep, code)) in deep.iter().zip(plane).enumerate() {
            let nearest = (f64::from(u16::from_le_bytes(*deep)) * 255.0 / 4095.0).round();
            assert_eq!(f64::from(*code), nearest, "frame {frame}, pixel {i}");
        }
    }
    // Without a place for it, it is dropped with a note; likewise where a format without it is asked for.
    for (args, format) in [("--encoder review", "yuv420p"), ("--encoder lossless --pixels gbrp12le", "gbrp12le")] {
        let report = json(root, &format!("apply --cube same.cube alpha.mkv none.mkv {args} --json"));
        assert_says(&report["notes"].to_string(), &["alpha.mkv: its alpha is dropped"]);
        assert_eq!(probed(&root.join("none.mkv"), "pix_fmt"), format);
    }
    // Stills keep it, and make a clip that has it again.
    json(root, "apply --cube same.cube alpha.mkv stills/f.#.png --json");
    assert!(still(&root.join("stills/f.2.png")).alpha());
    let report = json(root, "apply --cube same.cube stills/f.#.png again.mkv --encoder lossless --json");
    assert!(!report["notes"].to_string().contains("alpha"), "{report}");
    assert!(planes("again.mkv") == planes("alpha.mkv"));
    let report = json(root, "apply --cube same.cube alpha.mkv stills/f.#.jpg --json");
    assert_says(&report["notes"].to_string(), &["alpha is dropped"]);
}

#[test]
fn raw_frames_go_from_file_to_file() {
    let dir = saltmarsh();
    let root = dir.path();
    unchanged(root);
    // Larger than a part, and no whole number of them; what stands before in both files stays.
    let (width, height) = (301, 173);
    let one: Vec<u8> = (0..width * height * 3u32).flat_map(|i| ((i * 7919) as u16).to_le_bytes()).collect();
    let two: Vec<u8> = one.iter().map(|b| b.rotate_left(3)).collect();
    let whole = [&one[..], &two].concat();
    let ends = |input: &[u8], before: &[u8], append: bool| {
        fs::write(root.join("in.raw"), input).unwrap();
        fs::write(root.join("out.raw"), before).unwrap();
        let mut out = fs::OpenOptions::new().write(true).append(append).open(root.join("out.raw")).unwrap();
        out.seek(SeekFrom::End(0)).unwrap();
        let done = Command::new(rushlight_tests::rushlight())
            .current_dir(root)
            .args(["apply", "--cube", "same.cube", "-", "-", "--raw", &format!("{width}x{height}")])
            .stdin(fs::File::open(root.join("in.raw")).unwrap())
            .stdout(out.try_clone().unwrap())
            .output()
            .unwrap();
        // Whoever comes after us goes on where we ended.
        let end = out.stream_position().unwrap();
        let written = fs::read(root.join("out.raw")).unwrap();
        assert_eq!(end as usize, written.len());
        (done.status.code(), written, String::from_utf8(done.stderr).unwrap())
    };
    for append in [false, true] {
        let (code, out, said) = ends(&whole, b"before", append);
        assert_eq!((code, out == [b"before", &whole[..]].concat()), (Some(0), true), "{said}");
        assert_says(&said, &["2 raw frames"]);
        let (code, out, said) = ends(&whole[..whole.len() - 6], b"", append);
        assert_eq!((code, out == one), (Some(1), true), "{said}");
        assert_says(&said, &[&format!("has {} bytes of {}: is --raw its size?", one.len() - 6, one.len())]);
    }
    let (code, out, said) = ends(b"", b"", false);
    assert_eq!((code, out.len()), (Some(2), 0), "{said}");
}

/// A decoder that goes on for ever is ended, and what would come of it is not there.
#[cfg(unix)]
#[test]
fn a_clip_gives_no_more_frames_than_it_can_hold() {
    let dir = saltmarsh();
    let probed =
        r#"echo '{"streams":[{"codec_type":"video","width":4,"height":2,"pix_fmt":"gbrp","r_frame_rate":"25/1"}]}'"#;
    let path = path_with(dir.path(), &[("ffprobe", probed), ("ffmpeg", "exec yes")]);
    put(dir.path(), "in.mov", "a clip of 23 bytes only");
    put(dir.path(), "a.cube", "LUT_3D_SIZE 2\n0 0 0\n1 0 0\n0 1 0\n1 1 0\n0 0 1\n1 0 1\n0 1 1\n1 1 1\n");
    let apply = run(dir.path(), "apply --cube a.cube in.mov out.####.png").env("PATH", &path).output();
    let done = apply.expect("it runs");
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert_ne!(done.status.code(), Some(0), "{said}");
    assert!(said.contains("in.mov: it gives more frames than a clip of its length and its rate can hold"), "{said}");
    // A frame for each of its bytes, at most.
    assert_eq!(files(dir.path()).into_keys().filter(|name| name.starts_with("out")).count(), 23, "{said}");
}
