//! Clips, by the `ffmpeg` and `ffprobe` programs of this machine.
//!
//! Samples are asked for at the clip's own depth, so that ffmpeg changes no code value; chroma is filled up to every pixel,
//! and the matrix is undone here. A sample is code value over the largest code, as recorded: the signal that a camera's
//! `range` speaks of. Nothing is squeezed or spread.

mod command;
mod feed;
mod held;
mod live;
mod pipe;
mod probe;
mod program;

pub(crate) use feed::Feed;
pub(crate) use held::stand_by;
pub(crate) use live::Source;
pub(crate) use pipe::{Decoder, Encoder, Output, encoder_formats};
pub(crate) use program::end_running;

use crate::failure::Failure;
use probe::{Probed, probe, tag};
use program::{Ended, run};
use rushlight::apply::planes::{BT601, BT709, BT2020, Coding, Planes};
use rushlight::frame::{Depth, Format, Frame, FrameError, Info, Limits};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::io::ErrorKind;
use std::path::Path;
use std::time::Duration;

/// Extensions of containers that ffmpeg writes.
pub(crate) const CONTAINERS: [&str; 7] = ["mov", "mp4", "mkv", "mxf", "avi", "nut", "webm"];

/// A page waits no longer for a frame, by each of the two programs.
const PATIENCE: Duration = Duration::from_secs(20);
/// Seconds until ffprobe is ended; a clip may lie on a slow disk.
const PROBING: Duration = Duration::from_secs(60);
/// Nor for the frames of a bracket.
const BRACKET: Duration = Duration::from_secs(300);
/// Seconds of the longest clip that is read; no camera and no card gives one of a day (common practice, no source).
const LONGEST: f64 = 24.0 * 3600.0;

/// Why a clip gave no frame.
#[derive(Debug)]
pub(crate) enum Trouble {
    /// The program is not there, or had to be ended.
    Program(String),
    /// ffmpeg reads no clip there.
    NoClip(String),
    /// A frame that is larger than may be read.
    Large(String),
    /// A clip without the requested stream, or with one in an unsupported form.
    Clip(String),
}

impl Trouble {
    fn of(self, path: &Path) -> Failure {
        let path = path.display();
        Failure::new(match self {
            Self::Program(why) => why,
            Self::NoClip(why) if why.contains("Invalid data found") => {
                format!("cannot read {path}: it is neither a still nor a clip that ffmpeg reads")
            }
            Self::NoClip(why) | Self::Clip(why) => format!("cannot read {path}: {why}"),
            Self::Large(why) => format!("cannot read {path}: {why}: --max-memory allows more"),
        })
    }
}

/// The picture of a clip, as ffprobe has it.
#[derive(Debug, Deserialize)]
pub(crate) struct Stream {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pix_fmt: Option<String>,
    color_range: Option<String>,
    color_space: Option<String>,
    r_frame_rate: Option<String>,
    avg_frame_rate: Option<String>,
    sample_aspect_ratio: Option<String>,
    field_order: Option<String>,
    start_time: Option<String>,
    duration: Option<String>,
    nb_frames: Option<String>,
    #[serde(default)]
    tags: BTreeMap<String, String>,
}

/// How the samples of a clip come over the pipe.
#[derive(Debug, Clone)]
pub(crate) struct Layout {
    /// The name of the layout for ffmpeg.
    pub(crate) name: String,
    /// The range of its codes, for ffmpeg.
    pub(crate) range: &'static str,
    pub(crate) planes: Planes,
}

impl Layout {
    /// Planes of red, green and blue, or of luma and colour difference in legal range (BT.709), with alpha or without, by
    /// ffmpeg's name.
    pub(crate) fn named(name: &str) -> Option<Self> {
        let luma = Coding::Luma { full: false, weights: BT709 };
        let kinds = [
            ("gbrp", Coding::Rgb, "full", false),
            ("gbrap", Coding::Rgb, "full", true),
            ("yuv444p", luma, "limited", false),
            ("yuva444p", luma, "limited", true),
        ];
        let (depth, coding, range, alpha) = kinds
            .into_iter()
            .find_map(|(start, coding, range, alpha)| Some((name.strip_prefix(start)?, coding, range, alpha)))?;
        let bits = if depth.is_empty() { Some(8) } else { depth.strip_suffix("le").and_then(bits) }?;
        // An 8 has no end that says which byte comes first.
        ((bits == 8) == depth.is_empty()).then(|| Self {
            name: name.to_owned(),
            range,
            planes: Planes { bits, coding, alpha },
        })
    }

    /// The same without alpha.
    pub(crate) fn opaque(&self) -> Self {
        let name = self.name.replace("gbrap", "gbrp").replace("yuva444p", "yuv444p");
        let name = match self.planes.coding {
            Coding::Luma { full: true, .. } if self.planes.bits == 8 => "yuvj444p".to_owned(),
            _ => name,
        };
        Self { name, range: self.range, planes: self.planes.opaque() }
    }
}

/// A clip that can be read.
#[derive(Debug)]
pub(crate) struct Clip {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) layout: Layout,
    /// Frames a second, as ffmpeg writes it: 24000/1001.
    pub(crate) rate: String,
    /// The frames do not last alike.
    pub(crate) varies: bool,
    /// Frames are repeated and dropped so that they last alike.
    pub(crate) evened: bool,
    /// The shape of a pixel, where it is not square.
    pub(crate) aspect: Option<String>,
    pub(crate) timecode: Option<String>,
    /// The reel or tape that it is of, as the file says.
    pub(crate) reel: Option<String>,
    /// Its comment, which is where a slate stands.
    pub(crate) comment: Option<String>,
    /// Seconds by which the picture starts after the clip does.
    pub(crate) delay: f64,
    /// Frames, as the file says.
    pub(crate) frames: Option<usize>,
    /// How long it lasts, as the file says.
    seconds: Option<f64>,
    /// Bytes of the file.
    bytes: u64,
    /// What one has to know of it.
    pub(crate) notes: Vec<String>,
}

impl Clip {
    /// Asks ffprobe.
    pub(crate) fn open(path: &Path) -> Result<Self, Failure> {
        Self::open_within(path, PROBING).map_err(|trouble| trouble.of(path))
    }

    fn open_within(path: &Path, time: Duration) -> Result<Self, Trouble> {
        Self::of_probed(probe(path, time)?, &path.display().to_string())
    }

    /// What ffprobe says of what is called `name`.
    fn of_probed(probed: Probed, name: &str) -> Result<Self, Trouble> {
        let fail = Trouble::Clip;
        let Probed { stream, container, reel, bytes } = probed;
        let layout = layout(&stream).map_err(fail)?;
        let rate = stream.r_frame_rate.clone().unwrap_or_default();
        let (each, mean) = (ratio(&rate), stream.avg_frame_rate.as_deref().and_then(ratio));
        let Some(each) = each else { return Err(fail("it states no frame rate".to_owned())) };
        let count = stream.nb_frames.as_deref().and_then(|n| n.parse::<usize>().ok());
        // By a hundredth, or by more than two frames from end to end.
        let varies = mean.is_some_and(|mean| {
            let off = (each / mean - 1.0).abs();
            off > 0.01 || count.is_some_and(|n| off * n as f64 > 2.0)
        });
        let seconds = |text: &Option<String>| text.as_deref().and_then(|t| t.parse::<f64>().ok());
        let delay = match (seconds(&stream.start_time), seconds(&container.start_time)) {
            (Some(picture), Some(whole)) => (picture - whole).max(0.0),
            _ => 0.0,
        };
        // A container without the times of its streams has those of the whole.
        let lasts = seconds(&stream.duration).or_else(|| Some(seconds(&container.duration)? - delay));
        let mut notes = Vec::new();
        if stream.field_order.as_deref().is_some_and(|o| !matches!(o, "progressive" | "unknown")) {
            notes.push(format!("{name} is interlaced: its colour is filled up across fields"));
        }
        let coded = matches!(layout.planes.coding, Coding::Luma { .. });
        let untold = matches!(stream.color_space.as_deref(), None | Some("unknown" | "unspecified" | "reserved"));
        if coded && untold {
            let (matrix, lines) =
                if stream.height >= 720 { ("BT.709", "720 lines or more") } else { ("BT.601", "fewer than 720 lines") };
            notes.push(format!("{name} does not state its matrix: {matrix} is assumed, because it has {lines}"));
        }
        Ok(Self {
            width: stream.width,
            height: stream.height,
            layout,
            rate,
            varies,
            evened: false,
            aspect: stream.sample_aspect_ratio.clone().filter(|a| !matches!(&**a, "1:1" | "0:1" | "N/A")),
            timecode: tag(&stream.tags, "timecode").or_else(|| tag(&container.tags, "timecode")).cloned(),
            reel,
            comment: tag(&container.tags, "comment").cloned(),
            delay,
            frames: count,
            seconds: lasts,
            bytes,
            notes,
        })
    }

    /// Makes every frame last alike, so many a second, by repeating and dropping frames as they come.
    pub(crate) fn even(&mut self, rate: &str, path: &Path) {
        let (was, is) = (ratio(&self.rate), ratio(rate));
        if !self.varies && was.zip(is).is_some_and(|(was, is)| (was / is - 1.0).abs() < 1e-6) {
            return;
        }
        let was = if self.varies { "a rate that varies".to_owned() } else { format!("{} frames a second", self.rate) };
        self.notes.push(format!("{}: {was} became {rate} by repeating and dropping frames", path.display()));
        let counted = self.timecode.as_deref().and_then(|t| t.rsplit([':', ';', '.']).next()?.parse::<f64>().ok());
        if counted.zip(is).is_some_and(|(frame, rate)| frame >= rate.ceil()) {
            self.notes.push(format!("{}: its timecode counts more frames per second and is dropped", path.display()));
            self.timecode = None;
        }
        (self.rate, self.varies, self.evened, self.frames) = (rate.to_owned(), false, true, None);
    }

    /// The same without its alpha.
    pub(crate) fn without_alpha(&mut self, path: &Path) {
        if self.layout.planes.alpha {
            self.layout = self.layout.opaque();
            self.notes.push(format!("{}: its alpha is dropped", path.display()));
        }
    }

    /// A frame as recorded.
    pub(crate) fn frame(&self, raw: &[u8]) -> Result<Frame, FrameError> {
        let planes = self.layout.planes;
        let samples = planes.samples(raw, self.width * self.height);
        // DPX is the still that holds such codes.
        let info = Info { associated: false, ..Info::new(Format::Dpx, Depth::Integer(planes.bits)) };
        Frame::new(self.width, self.height, planes.alpha, samples, info)
    }

    /// The clip that stills of a size become.
    pub(crate) fn of_stills(width: usize, height: usize, layout: Layout, rate: &str) -> Self {
        Self {
            width,
            height,
            layout,
            rate: rate.to_owned(),
            varies: false,
            evened: false,
            aspect: None,
            timecode: None,
            reel: None,
            comment: None,
            delay: 0.0,
            frames: None,
            seconds: None,
            bytes: 0,
            notes: Vec::new(),
        }
    }

    /// Frames a second.
    pub(crate) fn rate(&self) -> Option<f64> {
        ratio(&self.rate)
    }

    /// Its frames, counted by the file or by how long it lasts.
    pub(crate) fn length(&self) -> Option<u64> {
        let lasts = || Some((self.seconds? * self.rate()?).round()).filter(|n| *n >= 1.0);
        self.frames.map(|n| n as u64).or_else(|| lasts().map(|n| n as u64))
    }

    /// Frames that it can stand for: those of a day, and no more than the file has bytes, where none is repeated.
    fn most_frames(&self) -> usize {
        let day = ratio(&self.rate).map_or(0.0, |rate| (rate * LONGEST).ceil()) as usize;
        let coded = if self.evened { usize::MAX } else { usize::try_from(self.bytes).unwrap_or(usize::MAX) };
        day.min(coded)
    }

    /// Bytes of a frame on the pipe, where it is no more than may be read.
    pub(crate) fn size(&self, limits: Limits) -> Option<usize> {
        let pixels = self.width.checked_mul(self.height).filter(|n| *n > 0)?;
        // As f32 a sample takes four bytes.
        let floats = pixels.checked_mul(4 * self.layout.planes.channels())?;
        self.layout.planes.size(pixels).filter(|_| floats <= limits.memory)
    }
}

/// A ratio such as 24000/1001, or a number.
fn ratio(text: &str) -> Option<f64> {
    let (over, under) = text.split_once('/').unwrap_or((text, "1"));
    let (over, under) = (over.parse::<f64>().ok()?, under.parse::<f64>().ok()?);
    Some(over / under).filter(|r| r.is_finite() && *r > 0.0)
}

/// The first `count` frames of a clip, fewer where it has fewer.
pub(crate) fn frames(path: &Path, count: usize, limits: Limits) -> Result<Vec<Frame>, Failure> {
    frames_from(path, 0.0, count, limits, BRACKET).map_err(|trouble| trouble.of(path))
}

/// Gives the first `count` frames of a clip to `take`, one after another, and says how its samples were recorded.
pub(crate) fn each(
    path: &Path,
    count: usize,
    limits: Limits,
    mut take: impl FnMut(Planes, &Frame),
) -> Result<(), Failure> {
    let mut clip = Clip::open(path)?;
    clip.without_alpha(path);
    let large = || Trouble::Large(format!("{} x {} pixels", clip.width, clip.height)).of(path);
    let mut raw = vec![0; clip.size(limits).ok_or_else(large)?];
    let mut decoder = Decoder::first(path, &clip, count)?;
    let fail = |why: String| Trouble::Clip(why).of(path);
    let mut read = 0;
    while read < count && decoder.next(&mut raw).map_err(|e| fail(e.to_string()))? {
        take(clip.layout.planes, &clip.frame(&raw).map_err(|e| fail(e.to_string()))?);
        read += 1;
    }
    match decoder.end() {
        Some(why) if read == 0 => Err(fail(why)),
        None if read == 0 => Err(fail("ffmpeg gave no frame of it".to_owned())),
        _ => Ok(()),
    }
}

/// How the samples of a clip were recorded.
pub(crate) fn planes(path: &Path) -> Result<Planes, Failure> {
    Ok(Clip::open(path)?.layout.planes)
}

/// The frame of a clip at so many seconds from its start, for who waits for it.
pub(crate) fn frame_at(path: &Path, seconds: f64, limits: Limits) -> Result<Frame, Trouble> {
    let none = || Trouble::Clip(format!("it has no frame at {seconds} s"));
    frames_from(path, seconds, 1, limits, PATIENCE)?.pop().ok_or_else(none)
}

fn frames_from(path: &Path, seconds: f64, count: usize, limits: Limits, time: Duration) -> Result<Vec<Frame>, Trouble> {
    let fail = Trouble::Clip;
    let mut clip = Clip::open_within(path, time)?;
    clip.without_alpha(path);
    let (width, height) = (clip.width, clip.height);
    let size = clip.size(limits).ok_or_else(|| Trouble::Large(format!("{width} x {height} pixels")))?;
    let mut command = pipe::decode(path, &clip, seconds, count);
    let Ended { good, sent, said } = run(&mut command, time, count.saturating_mul(size))?;
    if !good {
        return Err(fail(last(&said)));
    }
    if sent.len() < size && seconds > 0.0 {
        return Err(fail(format!("it has no frame at {seconds} s")));
    }
    if sent.len() < size {
        return Err(fail(format!("ffmpeg gave no frame of it{}", after(&last(&said)))));
    }
    sent.chunks_exact(size).map(|bytes| clip.frame(bytes).map_err(|e| fail(e.to_string()))).collect()
}

/// Why a program did not start.
fn not_run(name: &str, error: &std::io::Error) -> String {
    match error.kind() {
        ErrorKind::NotFound => format!(
            "clips need the program `{name}`, which is not on the path: install ffmpeg, or give stills (EXR, TIFF, PNG, DPX)"
        ),
        _ => format!("cannot run {name}: {error}"),
    }
}

/// The line of a program's standard error that says what went wrong: the last, or the first where one mistake leads to
/// others; without the name of the part of the program.
fn said(stderr: &[u8], first: bool) -> Option<String> {
    let text = String::from_utf8_lossy(stderr);
    let mut lines = text.lines().map(str::trim).filter(|l| !l.is_empty());
    let line = if first { lines.next() } else { lines.next_back() }?;
    Some(line.rsplit_once("] ").filter(|_| line.starts_with('[')).map_or(line, |(_, said)| said).to_owned())
}

/// Why a clip could not be written, in the words that stills have for it, or else the first of ffmpeg's own.
fn unwritten(stderr: &[u8]) -> Option<String> {
    let text = String::from_utf8_lossy(stderr);
    if text.contains("No space left on device") || text.contains("Disk quota exceeded") {
        return Some(crate::disk::plainly(&ErrorKind::StorageFull.into()));
    }
    said(stderr, true)
}

/// What went wrong with a clip that was to be read.
fn last(stderr: &[u8]) -> String {
    said(stderr, false).unwrap_or_else(|| "ffmpeg cannot read it as a clip".to_owned())
}

fn after(said: &str) -> String {
    if said.is_empty() { String::new() } else { format!(": {said}") }
}

/// Bits of a pixel format: the number after its kind, such as 10 of yuv422p10le; 8 where there is none.
pub(crate) fn bits(format: &str) -> Option<u8> {
    let plain = format.trim_end_matches("le").trim_end_matches("be");
    let number: String =
        plain.chars().rev().take_while(char::is_ascii_digit).collect::<String>().chars().rev().collect();
    match number.as_str() {
        // A 0 at the end is an unused byte: bgr0.
        "" | "24" | "32" | "8" | "0" => Some(8),
        "9" | "10" | "12" | "14" | "16" => number.parse().ok(),
        "48" | "64" => Some(16),
        // Luma and chroma in one plane: p010, nv12, y210 and the like.
        "010" | "210" | "410" => Some(10),
        "012" | "212" | "412" => Some(12),
        "016" | "216" | "416" => Some(16),
        _ => None,
    }
}

/// Whether a pixel format has alpha.
pub(crate) fn has_alpha(format: &str) -> bool {
    ["yuva", "gbrap", "rgba", "bgra", "argb", "abgr", "ayuv"].iter().any(|start| format.starts_with(start))
}

fn layout(stream: &Stream) -> Result<Layout, String> {
    let format = stream.pix_fmt.as_deref().unwrap_or("unknown");
    let semi_planar = format.starts_with("nv");
    let bits = if semi_planar { Some(8) } else { bits(format) };
    let bits = bits.ok_or_else(|| format!("its samples ({format}) are of a kind that is not read"))?;
    let end = if bits > 8 { format!("{bits}le") } else { String::new() };
    let starts = |all: &[&str]| all.iter().any(|start| format.starts_with(start));
    if starts(&["gray"]) {
        let full = stream.color_range.as_deref() != Some("tv");
        let range = if full { "full" } else { "limited" };
        return Ok(Layout { name: format!("gray{end}"), range, planes: Planes::new(bits, Coding::Grey) });
    }
    let alpha = has_alpha(format);
    let a = if alpha { "a" } else { "" };
    if starts(&["gbr", "rgb", "bgr", "argb", "abgr", "0rgb", "0bgr", "pal8", "x2rgb", "x2bgr"]) {
        if format.contains('f') || starts(&["x2", "pal8"]) {
            return Err(format!("its samples ({format}) are of a kind that is not read"));
        }
        let planes = Planes { bits, coding: Coding::Rgb, alpha };
        return Ok(Layout { name: format!("gbr{a}p{end}"), range: "full", planes });
    }
    if !semi_planar && !starts(&["yuv", "ayuv", "p0", "p2", "p4", "y2", "xv"]) {
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
        other => return Err(format!("its matrix ({other}) is not supported")),
    };
    let name = if full && bits == 8 && !alpha { "yuvj444p".to_owned() } else { format!("yuv{a}444p{end}") };
    let range = if full { "full" } else { "limited" };
    Ok(Layout { name, range, planes: Planes { bits, coding: Coding::Luma { full, weights }, alpha } })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stream(format: &str, range: Option<&str>, space: Option<&str>) -> Stream {
        let mut said = serde_json::json!({ "width": 1920, "height": 1080, "pix_fmt": format });
        (said["color_range"], said["color_space"]) = (range.into(), space.into());
        serde_json::from_value(said).unwrap()
    }

    #[test]
    fn a_clip_is_asked_for_at_its_own_depth() {
        let name = |format: &str| layout(&stream(format, Some("tv"), None)).map(|l| (l.name, l.planes.bits));
        assert_eq!(name("yuv422p10le").unwrap(), ("yuv444p10le".to_owned(), 10));
        assert_eq!(name("yuv420p").unwrap(), ("yuv444p".to_owned(), 8));
        assert_eq!(name("p010le").unwrap(), ("yuv444p10le".to_owned(), 10));
        assert_eq!(name("nv12").unwrap(), ("yuv444p".to_owned(), 8));
        assert_eq!(name("gbrp12le").unwrap(), ("gbrp12le".to_owned(), 12));
        assert_eq!(name("rgb48le").unwrap(), ("gbrp16le".to_owned(), 16));
        assert_eq!(name("yuva444p12le").unwrap(), ("yuva444p12le".to_owned(), 12));
        assert_eq!(name("yuva420p").unwrap(), ("yuva444p".to_owned(), 8));
        assert_eq!(name("argb").unwrap(), ("gbrap".to_owned(), 8));
        assert_eq!(name("bgr0").unwrap(), ("gbrp".to_owned(), 8));
        assert_eq!(name("rgba64be").unwrap(), ("gbrap16le".to_owned(), 16));
        let full = layout(&stream("yuva422p", Some("pc"), None)).unwrap();
        assert_eq!((&*full.name, full.range, &*full.opaque().name), ("yuva444p", "full", "yuvj444p"));
        assert!(name("gbrpf32le").is_err() && name("xyz12le").is_err());
        assert!(layout(&stream("yuv420p", None, Some("ycgco"))).is_err());
    }

    #[test]
    fn rates_are_ratios() {
        assert_eq!(ratio("25/1"), Some(25.0));
        assert_eq!(ratio("24000/1001"), Some(24000.0 / 1001.0));
        assert!(ratio("0/0").is_none() && ratio("").is_none());
    }
}
