//! Frames over pipes: ffmpeg reads a clip for us, and writes one from what we give.

use super::command::{ffmpeg, reading, reading_raw, writing, writing_raw};
use super::program::{Program, run};
use super::{Clip, Layout, last, said};
use crate::failure::Failure;
use rushlight::apply::tags::Codes;
use std::io::{Read, Write};
use std::path::Path;
use std::process::{ChildStdin, ChildStdout, Command, Stdio};
use std::time::Duration;

/// How ffmpeg fills up and thins out chroma: as exactly as it can.
pub(super) const SCALING: &str = "flags=bicubic+accurate_rnd+full_chroma_int+full_chroma_inp";

/// A program that neither gives nor takes a frame for so long, though it could, is ended.
const SILENCE: Duration = Duration::from_secs(300);
/// What asks a program about itself waits no longer.
const PATIENCE: Duration = Duration::from_secs(20);

/// The command that gives a clip's frames, `most` of them, from so many seconds on: what comes before is skipped, not decoded.
pub(super) fn decode(path: &Path, clip: &Clip, seconds: f64, most: usize) -> Command {
    let mut command = ffmpeg();
    command.arg("-noautorotate");
    if seconds > 0.0 {
        command.args(["-ss", &seconds.to_string()]);
    }
    reading(&mut command, path);
    command.args(["-map", "0:v:0", "-fps_mode", "passthrough", "-vf"]);
    let Layout { name, range, .. } = &clip.layout;
    // Frames as they come, or as many a second, whatever each lasted.
    let even = if clip.evened { format!("fps={},", clip.rate) } else { String::new() };
    command.arg(format!("{even}scale=in_range={range}:out_range={range}:{SCALING},format={name}"));
    command.args(["-frames:v", &most.to_string()]);
    writing_raw(&mut command);
    command
}

/// A clip that is being read.
pub(crate) struct Decoder {
    program: Program,
    frames: ChildStdout,
    /// Frames that may still come.
    left: usize,
    /// Why it was ended, where it gave more.
    excess: Option<String>,
}

impl Decoder {
    pub(crate) fn start(path: &Path, clip: &Clip) -> Result<Self, Failure> {
        let most = clip.most_frames();
        // One more, which tells a clip that ends from one that goes on.
        Self::of(decode(path, clip, 0.0, most.saturating_add(1)), most)
    }

    /// The first frames alone.
    pub(crate) fn first(path: &Path, clip: &Clip, count: usize) -> Result<Self, Failure> {
        Self::of(decode(path, clip, 0.0, count), count)
    }

    fn of(mut command: Command, most: usize) -> Result<Self, Failure> {
        command.stdin(Stdio::null()).stdout(Stdio::piped());
        let (program, _, stdout) = Program::start(&mut command)?;
        Ok(Self::watched(program, stdout.expect("it is piped"), most, SILENCE))
    }

    /// Of a program that gives frames, and is ended when it gives none for so long.
    pub(super) fn watched(program: Program, frames: ChildStdout, most: usize, silence: Duration) -> Self {
        program.watched(silence);
        Self { program, frames, left: most, excess: None }
    }

    /// The next frame; false at the end. A program that gives more frames than its clip can stand for is ended.
    pub(crate) fn next(&mut self, frame: &mut [u8]) -> std::io::Result<bool> {
        let mut filled = 0;
        while filled < frame.len() {
            match self.program.waited.during(|| self.frames.read(&mut frame[filled..])) {
                Ok(0) => return Ok(false),
                Ok(n) if self.left > 0 => filled += n,
                Ok(_) => {
                    let why = "it gives more frames than a clip of its length and its rate can hold, and was ended";
                    self.excess = Some(why.to_owned());
                    self.program.kill();
                    return Err(std::io::Error::other(why));
                }
                Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
                Err(e) => return Err(e),
            }
        }
        self.left = self.left.saturating_sub(1);
        Ok(true)
    }

    /// The last that the program said, once it has ended, if it said anything.
    pub(super) fn last_words(self) -> Option<String> {
        drop(self.frames);
        said(&self.program.end().1, false)
    }

    /// What was wrong with the clip, if anything was.
    pub(crate) fn end(self) -> Option<String> {
        drop(self.frames);
        let (good, said) = self.program.end();
        self.excess.or_else(|| (!good || !said.is_empty()).then(|| last(&said)))
    }
}

/// What is to be written.
pub(crate) struct Output<'o> {
    /// The clip that sound and metadata come from, if any does.
    pub(crate) from: Option<&'o Path>,
    pub(crate) clip: &'o Clip,
    /// The layout of the frames on the pipe.
    pub(crate) layout: &'o Layout,
    /// The encoder and its options.
    pub(crate) codec: &'o [String],
    /// The layout that the encoder gets.
    pub(crate) pixels: &'o str,
    /// Widest picture; a wider one is made smaller.
    pub(crate) width: Option<usize>,
    pub(crate) codes: Codes,
    /// The matrix, by its name for ffmpeg.
    pub(crate) matrix: &'o str,
    /// What the clip says of its making.
    pub(crate) comment: &'o str,
    pub(crate) path: &'o Path,
}

/// A clip that is being written.
pub(crate) struct Encoder {
    program: Program,
    frames: ChildStdin,
}

impl Encoder {
    pub(crate) fn start(out: &Output<'_>) -> Result<Self, Failure> {
        let (clip, layout) = (out.clip, out.layout);
        let mut command = ffmpeg();
        if clip.delay > 0.0 {
            command.args(["-itsoffset", &clip.delay.to_string()]);
        }
        reading_raw(&mut command, &layout.name, [clip.width, clip.height], &clip.rate);
        if let Some(from) = out.from {
            reading(&mut command, from);
        }
        let mut add = |args: &[&str]| {
            command.args(args);
        };
        add(&["-map", "0:v:0", "-fps_mode", "passthrough"]);
        if out.from.is_some() {
            add(&["-map", "1:a?", "-map_metadata", "1", "-c:a", "copy"]);
        }
        add(&["-metadata", &format!("comment={}", out.comment)]);
        if let Some(reel) = &clip.reel {
            add(&["-metadata:s:v:0", &format!("reel_name={reel}")]);
        }
        if let Some(timecode) = &clip.timecode {
            add(&["-timecode", timecode]);
            // Where the container has no track for it.
            add(&["-metadata", &format!("timecode={timecode}")]);
        }
        let range = if layout.range == "full" { "pc" } else { "tv" };
        let [primaries, transfer] = names(out.codes);
        let tags = [
            ("range", "-color_range", range),
            ("color_primaries", "-color_primaries", primaries),
            ("color_trc", "-color_trc", transfer),
            ("colorspace", "-colorspace", out.matrix),
        ];
        let set: Vec<String> = tags.iter().map(|(key, _, value)| format!("{key}={value}")).collect();
        let fit = out.width.map(|w| format!("w='min({w},iw)':h=-2:")).unwrap_or_default();
        let mut filters = format!(
            "setparams={},scale={fit}in_range={range}:out_range={range}:in_color_matrix={m}:out_color_matrix={m}:{SCALING},format={}",
            set.join(":"),
            out.pixels,
            range = layout.range,
            m = if out.matrix == "gbr" { "bt709" } else { out.matrix },
        );
        if let Some(aspect) = &clip.aspect {
            filters = format!("setsar={},{filters}", aspect.replace(':', "/"));
        }
        add(&["-vf", &filters]);
        // ffmpeg has another name here for no matrix: what the frames say does for it.
        for (_, option, value) in tags.into_iter().filter(|(_, _, value)| *value != "gbr") {
            add(&[option, value]);
        }
        let codec: Vec<&str> = out.codec.iter().map(String::as_str).collect();
        add(&codec);
        writing(&mut command, out.path);
        command.stdin(Stdio::piped()).stdout(Stdio::null());
        let (program, stdin, _) = Program::start(&mut command)?;
        program.watched(SILENCE);
        Ok(Self { program, frames: stdin.expect("it is piped") })
    }

    pub(crate) fn give(&mut self, frame: &[u8]) -> std::io::Result<()> {
        self.program.waited.during(|| self.frames.write_all(frame))
    }

    /// Waits until the clip is whole; what went wrong, if anything did.
    pub(crate) fn end(self) -> Result<(), String> {
        drop(self.frames);
        let (good, said) = self.program.end();
        if good { Ok(()) } else { Err(super::unwritten(&said).unwrap_or_else(|| "ffmpeg failed".to_owned())) }
    }
}

/// Primaries and transfer by ffmpeg's names for the code points of H.273.
fn names(codes: Codes) -> [&'static str; 2] {
    let primaries = match codes.primaries {
        1 => "bt709",
        9 => "bt2020",
        11 => "smpte431",
        12 => "smpte432",
        _ => "unknown",
    };
    let transfer = match codes.transfer {
        1 => "bt709",
        4 => "bt470m",
        13 => "iec61966-2-1",
        14 => "bt2020-10",
        16 => "smpte2084",
        18 => "arib-std-b67",
        _ => "unknown",
    };
    [primaries, transfer]
}

/// The most bytes of ffmpeg's output on an encoder.
const MOST_HELP: usize = 1 << 20;

/// The pixel formats that an encoder of this machine's ffmpeg takes; none where there is no such encoder.
pub(crate) fn encoder_formats(name: &str) -> Result<Option<Vec<String>>, Failure> {
    let mut command = ffmpeg();
    command.arg("-h").arg(format!("encoder={name}"));
    let ended = run(&mut command, PATIENCE, MOST_HELP).map_err(|trouble| trouble.of(Path::new("ffmpeg")))?;
    let text = String::from_utf8_lossy(&ended.sent);
    let formats = text.lines().find_map(|line| line.trim().strip_prefix("Supported pixel formats:"));
    let formats = formats.unwrap_or_default().split_whitespace().map(str::to_owned).collect();
    Ok(text.starts_with("Encoder ").then_some(formats))
}
