//! Text on review pictures by `apply`, and what pages and drawings say of where they come from.

use rushlight::frame::{Depth, Format, Frame, Info, ReadOptions, read, write};
use rushlight_tests::scene::{assert_says, output, put, refused, run, saltmarsh};
use std::fs;
use std::path::Path;
use std::process::Command;

const NIGHT: &str = "apply show.toml --look night --camera a --display onset";
const SIZE: [usize; 2] = [640, 360];

fn grey(path: &Path) {
    let samples = vec![0.4; SIZE[0] * SIZE[1] * 3];
    let frame = Frame::new(SIZE[0], SIZE[1], false, samples, Info::new(Format::Tiff, Depth::Integer(16))).unwrap();
    fs::write(path, write(&frame, Format::Tiff, Depth::Integer(16)).unwrap()).unwrap();
}

fn picture(path: &Path) -> Frame {
    read(&fs::read(path).unwrap(), &ReadOptions::default()).unwrap()
}

/// The corners of a picture that are not as the same picture without text: left or right, top or bottom.
fn corners(plain: &Frame, burnt: &Frame) -> Vec<[&'static str; 2]> {
    let mut found = Vec::new();
    for (x, across) in [(0, "left"), (SIZE[0] / 2, "right")] {
        for (y, down) in [(0, "top"), (SIZE[1] * 2 / 3, "bottom")] {
            let [a, b] = [plain, burnt].map(|f| f.crop(x, y, SIZE[0] / 2, SIZE[1] / 3).unwrap());
            if a.samples() != b.samples() {
                found.push([across, down]);
            }
        }
    }
    found
}

#[test]
fn stills_get_the_text_that_is_asked_for_and_no_other() {
    let dir = saltmarsh();
    let root = dir.path();
    grey(&root.join("shot.0007.tif"));
    output(root, &format!("{NIGHT} shot.0007.tif plain.png"));
    let plain = picture(&root.join("plain.png"));
    let made = |options: &str, input: &str, out: &str| {
        let text = output(root, &format!("{NIGHT} {options} {input} {out}"));
        (text, picture(&root.join(out.replace("####", "0007"))))
    };
    // A still has no place in time; a frame of a sequence has its number.
    let (_, still) = made("--burn-in", "shot.0007.tif", "still.png");
    assert_eq!(corners(&plain, &still), [["left", "top"], ["left", "bottom"], ["right", "top"]]);
    let (text, frame) = made("--burn-in", "shot.####.tif", "burnt.####.png");
    assert_eq!(corners(&plain, &frame), [["left", "top"], ["left", "bottom"], ["right", "top"], ["right", "bottom"]]);
    assert_says(&text, &["text is printed on the pictures"]);
    let middle = |f: &Frame| f.crop(0, SIZE[1] / 3, SIZE[0], SIZE[1] / 3).unwrap();
    assert_eq!(middle(&frame).samples(), middle(&plain).samples());
    let (_, marked) = made("--watermark REVIEW", "shot.0007.tif", "marked.png");
    assert!(corners(&plain, &marked).is_empty() && middle(&marked).samples() != middle(&plain).samples());
    let (_, split) = made("--split", "shot.0007.tif", "split.png");
    assert_eq!(split.rgb(10, 10), picture(&root.join("shot.0007.tif")).rgb(10, 10));
    assert_eq!(split.rgb(SIZE[0] - 10, 10), plain.rgb(SIZE[0] - 10, 10));
}

#[test]
fn what_cannot_be_is_refused() {
    let dir = saltmarsh();
    grey(&dir.path().join("in.tif"));
    let show = "apply show.toml --look night --display onset";
    for (args, part) in [
        (format!("{show} --scene-linear aces-ap1 --split in.tif out.png"), "cannot be used with"),
        (format!("{NIGHT} --burn-in - - --raw 640x360"), "cannot be used with"),
    ] {
        assert_says(&refused(dir.path(), &args), &[part]);
    }
    let blank = run(dir.path(), NIGHT).args(["--watermark", " ", "in.tif", "out.png"]).output().unwrap();
    assert_eq!(blank.status.code(), Some(2));
    assert_says(&String::from_utf8_lossy(&blank.stderr), &["--watermark", "must be text"]);
}

/// Two frames of the same signal differ by their timecode alone.
#[test]
fn clips_count_their_timecode() {
    let dir = saltmarsh();
    let root = dir.path();
    let source = format!("color=gray:size={}x{}:rate=24:duration=0.2", SIZE[0], SIZE[1]);
    let clip = Command::new("ffmpeg")
        .args(["-v", "error", "-f", "lavfi", "-i", &source, "-timecode", "01:00:00:22", "-c:v", "ffv1"])
        .args(["-pix_fmt", "gbrp10le"])
        .arg(root.join("A001.mov"))
        .output();
    if !clip.is_ok_and(|clip| clip.status.success()) {
        return eprintln!("skipped: no ffmpeg here");
    }
    output(root, &format!("{NIGHT} A001.mov plain.####.png"));
    output(root, &format!("{NIGHT} --burn-in A001.mov burnt.####.png"));
    output(root, &format!("{NIGHT} --burn-in A001.mov out.mov --encoder lossless"));
    put(root, "same.cube", "LUT_3D_SIZE 2\n0 0 0\n1 0 0\n0 1 0\n1 1 0\n0 0 1\n1 0 1\n0 1 1\n1 1 1\n");
    output(root, "apply --cube same.cube out.mov decoded.####.png --display bt709");
    let still = |name: &str, n: usize| picture(&root.join(format!("{name}.{n:04}.png")));
    for n in [1, 4] {
        assert_eq!(corners(&still("plain", n), &still("burnt", n)).len(), 4);
        // The clip has the very text that the stills have.
        let [a, b] = ["burnt", "decoded"].map(|name| still(name, n));
        let off = a.samples().iter().zip(b.samples()).map(|(a, b)| (a - b).abs());
        assert!(off.fold(0.0, f32::max) < 1e-3);
    }
    assert_eq!(corners(&still("burnt", 1), &still("burnt", 4)), [["right", "bottom"]]);
}

#[test]
fn pages_and_drawings_say_whose_they_are() {
    let dir = saltmarsh();
    let root = dir.path();
    output(root, "sheet show.toml --look plain --display onset --out sheet.html");
    let mut files = vec!["sheet.html"];
    for card in ["card.svg", "card.html", "card.pdf", "card.png"] {
        output(root, &format!("camera show.toml --camera a --out {card}"));
        files.push(card);
    }
    for file in &files {
        let text = output(root, &format!("inspect {file} --show show.toml"));
        assert_says(&text, &["current        yes", "made by rushlight", "show: Saltmarsh"]);
        assert!(text.contains("source: show.toml sha256") || *file == "sheet.html", "{text}");
    }
    // The show changes: nothing of it is current any more.
    let changed = fs::read_to_string(root.join("show.toml")).unwrap() + "\n# later\n";
    put(root, "show.toml", &changed);
    for file in ["card.svg", "card.pdf", "card.png"] {
        let old = run(root, &format!("inspect {file} --show show.toml")).output().unwrap();
        assert_eq!(old.status.code(), Some(1));
        assert_says(&String::from_utf8_lossy(&old.stdout), &["no: `show.toml` has changed since it was made"]);
    }
    put(root, "other.html", "<!DOCTYPE html><meta name=\"description\" content=\"a page of another\"><p>x");
    assert_says(&output(root, "inspect other.html"), &["HTML page", "does not name its show"]);
}
