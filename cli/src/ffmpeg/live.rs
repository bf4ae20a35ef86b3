//! A live picture: what ffmpeg opens as a device, a stream, a pipe, or a clip that is played in a loop.
//!
//! ffprobe is asked first what it is, so that ffmpeg changes no code value; where a device is given again, in another form
//! perhaps, both are asked anew.

use super::command::{FORMATS, ffmpeg, reading_live, url, writing_raw};
use super::feed::Feed;
use super::held::held;
use super::pipe::{Decoder, SCALING};
use super::probe::{Probed, probe_live};
use super::program::{Program, run};
use super::{Clip, Layout, Trouble};
use crate::failure::Failure;
use crate::system;
use rushlight::frame::Limits;
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::process::{ChildStdout, Command, Stdio};
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// How long ffprobe waits for a picture.
const PROBING: Duration = Duration::from_secs(12);
/// A source that gives no frame for so long is opened anew.
const SILENCE: Duration = Duration::from_secs(10);
/// What asks a program about itself waits no longer.
const PATIENCE: Duration = Duration::from_secs(20);
/// Bytes of what a program says of itself.
const MOST_HELP: usize = 1 << 20;

/// Addresses that may be named: how they begin, the protocols that ffmpeg may use for them, and the formats that come by them
/// beside those of files.
const SCHEMES: [(&str, &str, &str); 7] = [
    ("udp", "udp", ""),
    ("rtp", "rtp,udp", ",rtp"),
    ("rtsp", "rtsp,rtp,udp,tcp", ",rtsp"),
    ("tcp", "tcp", ""),
    ("srt", "srt", ""),
    ("http", "http,tcp", ""),
    ("https", "https,http,tls,tcp", ""),
];

/// Settings that would undo what is set here.
const SET_HERE: [&str; 16] = [
    "c",
    "codec",
    "f",
    "filter_complex",
    "format_whitelist",
    "i",
    "lavfi",
    "max_pixels",
    "n",
    "progress",
    "protocol_blacklist",
    "protocol_whitelist",
    "report",
    "stream_loop",
    "vf",
    "y",
];

/// Where a live picture comes from.
#[derive(Debug)]
pub(crate) struct Source {
    kind: Kind,
    input: String,
    format: Option<String>,
    settings: Vec<(String, String)>,
    /// Most pixels across.
    width: usize,
}

#[derive(Debug, PartialEq)]
enum Kind {
    Standard,
    Pipe(PathBuf),
    /// Played in a loop.
    File(PathBuf),
    Device,
    Address {
        protocols: &'static str,
        formats: &'static str,
    },
}

/// A live picture that is being read.
pub(crate) struct Live {
    pub(crate) clip: Arc<Clip>,
    decoder: Decoder,
    feed: Option<JoinHandle<Option<Feed>>>,
    /// When the last frame came.
    last: Instant,
}

impl Source {
    pub(crate) fn new(input: &str, format: Option<&str>, settings: &[String], width: usize) -> Result<Self, Failure> {
        let settings = settings.iter().map(|text| setting(text)).collect::<Result<Vec<_>, _>>()?;
        if let Some(format) = format {
            known(format)?;
        } else {
            asked("ffmpeg", &["-version"])?;
        }
        asked("ffprobe", &["-version"])?;
        let kind = kind(input, format)?;
        Ok(Self { kind, input: input.to_owned(), format: format.map(str::to_owned), settings, width })
    }

    /// What it is called.
    pub(crate) fn name(&self) -> String {
        match &self.kind {
            Kind::Standard => "standard input".to_owned(),
            // A name or a password is no part of what is shown.
            Kind::Address { .. } => match self.input.split_once("://") {
                Some((scheme, rest)) => format!("{scheme}://{}", rest.rsplit_once('@').map_or(rest, |(_, host)| host)),
                None => self.input.clone(),
            },
            _ => self.input.clone(),
        }
    }

    /// What has to be said of a picture that another machine sends, or may send.
    pub(crate) fn warning(&self) -> Option<String> {
        let Kind::Address { .. } = self.kind else { return None };
        let rest = self.input.split_once("://").map_or("", |(_, rest)| rest);
        let host = host(rest);
        if ["127.0.0.1", "localhost", "[::1]"].contains(&host) {
            return None;
        }
        Some(match host {
            "" | "0.0.0.0" | "[::]" => format!(
                "--live {}: ffmpeg takes a picture from any machine of the network: name 127.0.0.1 to take it from this one \
                 alone",
                self.name()
            ),
            host => {
                format!("--live: the picture comes from {host} over the network, and is not checked for who sends it")
            }
        })
    }

    /// Whether it is at its end for good, where a feed has ended.
    pub(crate) fn ends(&self) -> bool {
        self.kind == Kind::Standard
    }

    /// Opens it: what it gives, or why it gives nothing. `feed` is what is left of a pipe.
    pub(crate) fn open(&self, feed: &mut Option<Feed>, limits: Limits) -> Result<Live, String> {
        let fail = |trouble: Trouble| match trouble {
            Trouble::Program(why) | Trouble::NoClip(why) | Trouble::Large(why) | Trouble::Clip(why) => why,
        };
        let mut of_pipe = match self.pipe() {
            Some(path) => Some(match feed.take() {
                Some(feed) => feed,
                None => Feed::open(path).map_err(|e| crate::disk::plainly(&e))?,
            }),
            None => None,
        };
        let input = |command: &mut Command| self.reading(command);
        let probed = match of_pipe.take() {
            None => probe_live(input, |command| Program::hold(&mut held(command)), PROBING),
            Some(feed) => {
                let mut showing = None;
                let start = |command: &mut Command| {
                    let (program, stdin, stdout) = Program::start(command.stdin(Stdio::piped()))?;
                    showing = stdin.map(|stdin| feed.show(stdin));
                    Ok((program, stdout))
                };
                let probed = probe_live(input, start, PROBING);
                of_pipe = showing.and_then(|showing| showing.join().ok());
                probed
            }
        };
        let clip = match probed.and_then(|probed| self.clip(probed, limits)) {
            Ok(clip) => clip,
            Err(trouble) => {
                // What it was is over: what comes next may be another.
                *feed = of_pipe.filter(|feed| !feed.is_over()).map(Feed::forget);
                return Err(fail(trouble));
            }
        };
        let mut command = self.decode(&clip);
        command.stdout(Stdio::piped());
        let started = |(program, stdout): (Program, Option<ChildStdout>)| {
            Decoder::watched(program, stdout.expect("it is piped"), usize::MAX, SILENCE)
        };
        let (decoder, feed) = match of_pipe {
            None => (started(Program::hold(&mut held(&command)).map_err(|failure| failure.words())?), None),
            Some(feed) => {
                let (program, stdin, stdout) =
                    Program::start(command.stdin(Stdio::piped())).map_err(|failure| failure.words())?;
                (started((program, stdout)), stdin.map(|stdin| feed.give(stdin)))
            }
        };
        Ok(Live { clip: Arc::new(clip), decoder, feed, last: Instant::now() })
    }

    /// The pipe that it comes by: standard input where no path is given.
    fn pipe(&self) -> Option<Option<&Path>> {
        match &self.kind {
            Kind::Standard => Some(None),
            Kind::Pipe(path) => Some(Some(path)),
            _ => None,
        }
    }

    /// Adds it to what a program reads.
    fn reading(&self, command: &mut Command) {
        let (protocols, input, formats) = match &self.kind {
            Kind::Standard | Kind::Pipe(_) => ("pipe", OsString::from("pipe:0"), ""),
            Kind::File(path) => ("file", url(path), ""),
            Kind::Device => ("file", OsString::from(&self.input), ""),
            Kind::Address { protocols, formats } => (*protocols, OsString::from(&self.input), *formats),
        };
        let formats = format!("{FORMATS}{formats}");
        reading_live(command, &self.settings, (self.format.as_deref(), &formats), protocols, &input);
    }

    /// What ffprobe says of it, at the size at which it is shown.
    fn clip(&self, probed: Probed, limits: Limits) -> Result<Clip, Trouble> {
        let mut clip = Clip::of_probed(probed, &self.name())?;
        clip.layout = clip.layout.opaque();
        if let Some(aspect) = &clip.aspect {
            clip.notes.push(format!("its pixels are not square ({aspect}), and are shown as if they were"));
        }
        let (width, height) = (clip.width, clip.height);
        if width > self.width {
            clip.height = (height * self.width).div_ceil(width).max(1);
            clip.width = self.width;
            clip.notes.push(format!("{width} x {height} pixels are shown as {} x {}", clip.width, clip.height));
        }
        match clip.size(limits) {
            Some(_) => Ok(clip),
            None => Err(Trouble::Large(format!("{width} x {height} pixels are more than --max-memory allows"))),
        }
    }

    /// The command that gives its frames as they come.
    fn decode(&self, clip: &Clip) -> Command {
        let mut command = ffmpeg();
        command.arg("-noautorotate");
        match (&self.kind, self.format.as_deref()) {
            (Kind::File(_), _) => command.args(["-re", "-stream_loop", "-1"]),
            // Test pictures come as fast as they are taken.
            (_, Some("lavfi")) => command.arg("-re"),
            // All that came by a pipe is shown.
            (Kind::Standard | Kind::Pipe(_), _) => command.args(["-flags", "low_delay"]),
            // What a device gave while ffmpeg found out what it is would be late.
            _ => command.args(["-fflags", "nobuffer", "-flags", "low_delay"]),
        };
        self.reading(&mut command);
        command.args(["-map", "0:v:0", "-fps_mode", "passthrough", "-vf"]);
        let Layout { name, range, .. } = &clip.layout;
        let (width, height) = (clip.width, clip.height);
        command.arg(format!("scale=w={width}:h={height}:in_range={range}:out_range={range}:{SCALING},format={name}"));
        writing_raw(&mut command);
        command
    }
}

impl Live {
    /// The next frame; false where none comes any more.
    pub(crate) fn next(&mut self, frame: &mut [u8]) -> bool {
        let came = self.decoder.next(frame).unwrap_or_default();
        if came {
            self.last = Instant::now();
        }
        came
    }

    /// Ends it: why it ended, and what is left of a pipe.
    pub(crate) fn end(self) -> (String, Option<Feed>) {
        let silent = self.last.elapsed() >= SILENCE;
        let said = self.decoder.last_words().filter(|_| !silent);
        let why = said.unwrap_or_else(|| match silent {
            true => format!("no frame came for {} s", SILENCE.as_secs()),
            false => "it gives no more frames".to_owned(),
        });
        let left = self.feed.and_then(|feed| feed.join().ok()).flatten();
        (why, left)
    }
}

/// The machine of an address after its `://`.
fn host(rest: &str) -> &str {
    let end = rest.find(['/', '?']).unwrap_or(rest.len());
    let host = rest[..end].rsplit_once('@').map_or(&rest[..end], |(_, host)| host);
    match host.strip_prefix('[').and_then(|inner| inner.find(']')) {
        Some(end) => &host[..end + 2],
        None => host.split(':').next().unwrap_or_default(),
    }
}

fn kind(input: &str, format: Option<&str>) -> Result<Kind, Failure> {
    if input == "-" {
        return Ok(Kind::Standard);
    }
    if let Some((scheme, _)) = input.split_once("://") {
        let found = SCHEMES.iter().find(|(name, ..)| *name == scheme);
        let known = || SCHEMES.map(|(name, ..)| format!("{name}://")).join(", ");
        let (_, protocols, formats) = found
            .ok_or_else(|| Failure::new(format!("--live {input}: an address must begin with one of {}", known())))?;
        return Ok(Kind::Address { protocols, formats });
    }
    let path = Path::new(input);
    match std::fs::metadata(path) {
        Ok(found) if system::is_pipe(&found) => Ok(Kind::Pipe(path.to_owned())),
        Ok(found) if found.is_file() => {
            if format.is_none() {
                Clip::open(path)?;
            }
            Ok(Kind::File(path.to_owned()))
        }
        _ if format.is_some() => Ok(Kind::Device),
        Ok(_) => Err(Failure::new(format!(
            "--live {input}: it is a device or a folder: name the format of a device with --live-format, such as v4l2"
        ))),
        Err(e) => Err(Failure::new(format!(
            "--live {input}: {}: name a clip, a pipe or an address, or a device with --live-format",
            crate::disk::plainly(&e)
        ))),
    }
}

fn setting(text: &str) -> Result<(String, String), Failure> {
    let fail = |why: &str| Failure::new(format!("--live-option {text}: {why}"));
    let (key, value) = text.split_once('=').ok_or_else(|| fail("it must be KEY=VALUE, such as framerate=25"))?;
    if key.is_empty() || !key.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'_') {
        return Err(fail("its key must be the name of a setting of ffmpeg, such as framerate"));
    }
    if SET_HERE.contains(&key) {
        return Err(fail("this is set by the command itself"));
    }
    Ok((key.to_owned(), value.to_owned()))
}

/// What a program prints of itself.
fn asked(program: &str, words: &[&str]) -> Result<String, Failure> {
    let mut command = Command::new(program);
    command.args(["-hide_banner", "-v", "error"]).args(words);
    let ended = run(&mut command, PATIENCE, MOST_HELP).map_err(|trouble| match trouble {
        Trouble::Program(why) => Failure::new(format!("--live: {why}")),
        other => other.of(Path::new(program)),
    })?;
    Ok(String::from_utf8_lossy(&ended.sent).into_owned())
}

/// Refuses a format that this machine's ffmpeg does not read.
fn known(format: &str) -> Result<(), Failure> {
    let name = !format.is_empty() && format.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'_');
    if name && asked("ffmpeg", &["-h", &format!("demuxer={format}")])?.starts_with("Demuxer ") {
        return Ok(());
    }
    Err(Failure::new(format!(
        "--live-format {format}: ffmpeg on this machine reads no such format: `ffmpeg -devices` and `ffmpeg -demuxers` list those \
         that it reads"
    )))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_machine_of_an_address_is_found() {
        for (rest, wanted) in [
            ("127.0.0.1:5000", "127.0.0.1"),
            ("user:word@10.0.0.7:80/a?b", "10.0.0.7"),
            ("@:5000", ""),
            ("[::1]:5000/x", "[::1]"),
            ("localhost", "localhost"),
            ("example/a@127.0.0.1", "example"),
        ] {
            assert_eq!(host(rest), wanted, "{rest}");
        }
        let warned = |input: &str| {
            let kind = kind(input, None).unwrap();
            Source { kind, input: input.to_owned(), format: None, settings: Vec::new(), width: 960 }.warning()
        };
        assert_eq!(warned("udp://127.0.0.1:5000"), None);
        assert!(warned("udp://10.0.0.7:5000").unwrap().contains("from 10.0.0.7"));
        assert!(warned("udp://0.0.0.0:5000").unwrap().contains("any machine"));
        assert!(kind("gopher://127.0.0.1/", None).unwrap_err().words().contains("udp://"));
    }

    #[test]
    fn settings_do_not_undo_what_is_set_here() {
        assert_eq!(setting("video_size=1920x1080").unwrap().1, "1920x1080");
        for bad in ["framerate", "=1", "-y=1", "protocol_whitelist=tcp", "i=/etc/passwd", "a b=1"] {
            assert!(setting(bad).unwrap_err().words().contains("--live-option"), "{bad}");
        }
    }
}
