//! Frames of a clip, by the `ffmpeg` and `ffprobe` programs of this machine.
//!
//! Samples are asked for at the clip's own depth, so that ffmpeg changes no code value; chroma is filled up to every pixel,
//! and the matrix is undone here. A sample is code value over the largest code, as recorded: the signal that a camera's
//! `range` speaks of. Nothing is squeezed or spread.

use crate::failure::Failure;
use rushlight::frame::{Depth, Format, Frame, Info, Limits};
use serde::Deserialize;
use std::ffi::OsStr;
use std::io::ErrorKind;
use std::path::Path;
use std::process::{Command, Output, Stdio};

/// Weights of red and blue in luma.
type Weights = [f64; 2];
/// ITU-R BT.601-7, BT.709-6, BT.2020-2.
const BT601: Weights = [0.299, 0.114];
const BT709: Weights = [0.2126, 0.0722];
const BT2020: Weights = [0.2627, 0.0593];

#[derive(Debug, Deserialize)]
struct Probe {
    #[serde(default)]
    streams: Vec<Stream>,
}

#[derive(Debug, Deserialize)]
struct Stream {
    width: usize,
    height: usize,
    pix_fmt: Option<String>,
    color_range: Option<String>,
    color_space: Option<String>,
}

/// How the samples of a clip come over the pipe.
struct Layout {
    /// The name of the layout for ffmpeg.
    name: String,
    bits: u8,
    kind: Kind,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    /// Planes of green, blue and red.
    Rgb,
    /// Planes of luma and both chromas.
    Luma {
        /// Codes of full chroma swing over codes of full luma swing: 224 / 219, or 1 at full range.
        swing: f64,
        weights: Weights,
    },
    /// One plane.
    Grey,
}

/// The first `count` frames of a clip, fewer where it has fewer.
pub(crate) fn frames(path: &Path, count: usize, limits: Limits) -> Result<Vec<Frame>, Failure> {
    let fail = |why: String| Failure::new(format!("cannot read {}: {why}", path.display()));
    let stream = probe(path)?;
    let layout = layout(&stream).map_err(fail)?;
    let (width, height) = (stream.width, stream.height);
    let planes = if layout.kind == Kind::Grey { 1 } else { 3 };
    let bytes = if layout.bits > 8 { 2 } else { 1 };
    let size = width.checked_mul(height).and_then(|n| n.checked_mul(planes * bytes)).unwrap_or(usize::MAX);
    // As f32 a sample takes four bytes, and every pixel three samples.
    if width == 0 || height == 0 || size.checked_mul(12).is_none_or(|bytes| bytes > limits.memory) {
        return Err(fail(format!("{width} x {height} pixels: more than is read")));
    }
    let mut command = Command::new("ffmpeg");
    command.args(["-nostdin", "-v", "error", "-i"]).arg(url(path)).args(["-map", "0:v:0", "-vsync", "passthrough"]);
    command.args(["-frames:v", &count.to_string(), "-sws_flags", "accurate_rnd+full_chroma_int"]);
    command.args(["-f", "rawvideo", "-pix_fmt", &layout.name, "-"]);
    let output = run(&mut command, "ffmpeg")?;
    if !output.status.success() {
        return Err(fail(said(&output)));
    }
    let raw: Vec<Vec<u8>> = output.stdout.chunks_exact(size).map(<[u8]>::to_vec).collect();
    if raw.is_empty() {
        return Err(fail(format!("ffmpeg gave no frame of it{}", after(&said(&output)))));
    }
    raw.iter().map(|bytes| picture(bytes, width, height, &layout).map_err(fail)).collect()
}

/// A path that ffmpeg takes for a file, whatever its name begins with.
fn url(path: &Path) -> std::ffi::OsString {
    let mut url = std::ffi::OsString::from("file:");
    url.push::<&OsStr>(path.as_os_str());
    url
}

fn probe(path: &Path) -> Result<Stream, Failure> {
    let mut command = Command::new("ffprobe");
    command.args(["-v", "error", "-select_streams", "v:0", "-show_entries"]);
    command.arg("stream=width,height,pix_fmt,color_range,color_space").args(["-of", "json"]).arg(url(path));
    let output = run(&mut command, "ffprobe")?;
    let fail = |why: String| Failure::new(format!("cannot read {}: {why}", path.display()));
    if !output.status.success() {
        return Err(fail(said(&output)));
    }
    let probe: Probe = serde_json::from_slice(&output.stdout).map_err(|e| fail(format!("ffprobe: {e}")))?;
    probe.streams.into_iter().next().ok_or_else(|| fail("it has no video".to_owned()))
}

fn run(command: &mut Command, name: &str) -> Result<Output, Failure> {
    command.stdin(Stdio::null()).output().map_err(|error| match error.kind() {
        ErrorKind::NotFound => Failure::new(format!(
            "needs the program `{name}` to read a clip, and it is not on the path: install ffmpeg, or give stills (EXR, TIFF, PNG, DPX)"
        )),
        _ => Failure::new(format!("cannot run {name}: {error}")),
    })
}

/// The last line that a program said of what went wrong.
fn said(output: &Output) -> String {
    let text = String::from_utf8_lossy(&output.stderr);
    text.lines().map(str::trim).rfind(|l| !l.is_empty()).unwrap_or("it is no clip that ffmpeg reads").to_owned()
}

fn after(said: &str) -> String {
    if said.is_empty() { String::new() } else { format!(": {said}") }
}

/// Bits of a pixel format: the number after its kind, such as 10 of yuv422p10le; 8 where there is none.
fn bits(format: &str) -> Option<u8> {
    let plain = format.trim_end_matches("le").trim_end_matches("be");
    let number: String =
        plain.chars().rev().take_while(char::is_ascii_digit).collect::<String>().chars().rev().collect();
    match number.as_str() {
        "" | "24" | "32" | "8" => Some(8),
        "9" | "10" | "12" | "14" | "16" => number.parse().ok(),
        "48" | "64" => Some(16),
        // Luma and chroma in one plane: p010, nv12, y210 and the like.
        "010" | "210" | "410" => Some(10),
        "012" | "212" | "412" => Some(12),
        "016" | "216" | "416" => Some(16),
        _ => None,
    }
}

fn layout(stream: &Stream) -> Result<Layout, String> {
    let format = stream.pix_fmt.as_deref().unwrap_or("unknown");
    let semi_planar = format.starts_with("nv");
    let bits = if semi_planar { Some(8) } else { bits(format) };
    let bits = bits.ok_or_else(|| format!("its samples ({format}) are of a kind that is not read"))?;
    let end = if bits > 8 { format!("{bits}le") } else { String::new() };
    let starts = |all: &[&str]| all.iter().any(|start| format.starts_with(start));
    if starts(&["gray"]) {
        return Ok(Layout { name: format!("gray{end}"), bits, kind: Kind::Grey });
    }
    if starts(&["gbr", "rgb", "bgr", "argb", "abgr", "0rgb", "0bgr", "pal8", "x2rgb", "x2bgr"]) {
        if format.contains('f') || starts(&["x2", "pal8"]) {
            return Err(format!("its samples ({format}) are of a kind that is not read"));
        }
        return Ok(Layout { name: format!("gbrp{end}"), bits, kind: Kind::Rgb });
    }
    if !semi_planar && !starts(&["yuv", "p0", "p2", "p4", "y2", "xv"]) {
        return Err(format!("its samples ({format}) are of a kind that is not read"));
    }
    let full = stream.color_range.as_deref() == Some("pc") || format.starts_with("yuvj");
    let weights = match stream.color_space.as_deref().unwrap_or("unknown") {
        "bt709" => BT709,
        "smpte170m" | "bt470bg" | "fcc" => BT601,
        "bt2020nc" => BT2020,
        "unknown" | "unspecified" | "reserved" => {
            // Common practice, no source: pictures of fewer lines are BT.601.
            if stream.height >= 720 { BT709 } else { BT601 }
        }
        other => return Err(format!("its matrix ({other}) is not known here")),
    };
    let name = if full && bits == 8 { "yuvj444p".to_owned() } else { format!("yuv444p{end}") };
    Ok(Layout { name, bits, kind: Kind::Luma { swing: if full { 1.0 } else { 224.0 / 219.0 }, weights } })
}

fn picture(raw: &[u8], width: usize, height: usize, layout: &Layout) -> Result<Frame, String> {
    let codes: Vec<f64> = if layout.bits > 8 {
        raw.chunks_exact(2).map(|b| f64::from(u16::from_le_bytes([b[0], b[1]]))).collect()
    } else {
        raw.iter().map(|v| f64::from(*v)).collect()
    };
    let pixels = width * height;
    let top = ((1u32 << layout.bits) - 1) as f64;
    let middle = (1u32 << (layout.bits - 1)) as f64;
    let mut samples = Vec::with_capacity(3 * pixels);
    for i in 0..pixels {
        let plane = |p: usize| codes[p * pixels + i];
        let rgb = match layout.kind {
            Kind::Grey => [plane(0); 3],
            Kind::Rgb => [plane(2), plane(0), plane(1)],
            Kind::Luma { swing, weights: [red, blue] } => {
                // Codes of colour difference to codes of the difference from luma.
                let (y, b, r) = (plane(0), (plane(1) - middle) / swing, (plane(2) - middle) / swing);
                let (dr, db) = (2.0 * (1.0 - red) * r, 2.0 * (1.0 - blue) * b);
                let green = 1.0 - red - blue;
                [y + dr, y - (red * dr + blue * db) / green, y + db]
            }
        };
        samples.extend(rgb.map(|v| (v / top) as f32));
    }
    // DPX is the still that holds such codes.
    let info = Info::new(Format::Dpx, Depth::Integer(layout.bits));
    Frame::new(width, height, false, samples, info).map_err(|e| e.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stream(format: &str, range: Option<&str>, space: Option<&str>) -> Stream {
        let owned = |v: Option<&str>| v.map(str::to_owned);
        let pix_fmt = Some(format.to_owned());
        Stream { width: 1920, height: 1080, pix_fmt, color_range: owned(range), color_space: owned(space) }
    }

    #[test]
    fn a_clip_is_asked_for_at_its_own_depth() {
        let name = |format: &str| layout(&stream(format, Some("tv"), None)).map(|l| (l.name, l.bits));
        assert_eq!(name("yuv422p10le").unwrap(), ("yuv444p10le".to_owned(), 10));
        assert_eq!(name("yuv420p").unwrap(), ("yuv444p".to_owned(), 8));
        assert_eq!(name("p010le").unwrap(), ("yuv444p10le".to_owned(), 10));
        assert_eq!(name("nv12").unwrap(), ("yuv444p".to_owned(), 8));
        assert_eq!(name("gbrp12le").unwrap(), ("gbrp12le".to_owned(), 12));
        assert_eq!(name("rgb48le").unwrap(), ("gbrp16le".to_owned(), 16));
        assert_eq!(name("yuva444p12le").unwrap(), ("yuv444p12le".to_owned(), 12));
        assert!(name("gbrpf32le").is_err() && name("xyz12le").is_err());
        assert!(layout(&stream("yuv420p", None, Some("ycgco"))).is_err());
    }

    /// ITU-R BT.709-6, table 3, item 3.2 and 3.4: the colour bars of full amplitude, in codes of 10 bits.
    #[test]
    fn the_matrix_gives_back_the_codes_of_the_colours() {
        let layout = layout(&stream("yuv444p10le", Some("tv"), Some("bt709"))).unwrap();
        let codes = |rgb: [f64; 3]| {
            let luma = 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2];
            let [b, r] = [(rgb[2] - luma) / 1.8556, (rgb[0] - luma) / 1.5748];
            [64.0 + 876.0 * luma, 512.0 + 896.0 * b, 512.0 + 896.0 * r].map(|v: f64| v.round() as u16)
        };
        for rgb in [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [0.5, 0.5, 0.5], [1.0, 1.0, 1.0]] {
            let raw: Vec<u8> = codes(rgb).into_iter().flat_map(u16::to_le_bytes).collect();
            let frame = picture(&raw, 1, 1, &layout).unwrap();
            for (found, want) in frame.rgb(0, 0).into_iter().zip(rgb) {
                // A code of chroma is at most 1.9 of blue.
                assert!((f64::from(found) * 1023.0 - (64.0 + 876.0 * want)).abs() < 1.6, "{found} for {want}");
            }
        }
    }
}
