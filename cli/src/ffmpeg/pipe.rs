//! Frames over pipes: ffmpeg reads a clip for us, and writes one from what we give.

use super::{Clip, Layout, last, not_run, url};
use crate::failure::Failure;
use rushlight::apply::tags::Codes;
use std::io::{Read, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

/// How ffmpeg fills up and thins out chroma: as exactly as it can.
const SCALING: &str = "flags=bicubic+accurate_rnd+full_chroma_int+full_chroma_inp";

type Running = Arc<Mutex<Child>>;

/// Programs that are at work.
static RUNNING: Mutex<Vec<Running>> = Mutex::new(Vec::new());

fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// We were interrupted, and are about to end.
static INTERRUPTED: AtomicBool = AtomicBool::new(false);

/// Ends the programs that are at work; for when we are interrupted.
pub(crate) fn end_running() {
    INTERRUPTED.store(true, Ordering::SeqCst);
    for child in locked(&RUNNING).iter() {
        let mut child = locked(child);
        let _ = child.kill();
        let _ = child.wait();
    }
}

/// Bytes that a pipe may hold, where the system lets it: the most that it allows everyone.
#[cfg(target_os = "linux")]
const PIPE: usize = 1 << 20;

/// Lets a pipe hold more, so that both ends have to wait for each other less often; nothing where it is no pipe.
pub(crate) fn widen(end: &impl AsEnd) {
    #[cfg(target_os = "linux")]
    let _ = rustix::pipe::fcntl_setpipe_size(end, PIPE);
    #[cfg(not(target_os = "linux"))]
    let _ = end;
}

/// An end of a pipe, perhaps.
#[cfg(unix)]
pub(crate) use std::os::fd::AsFd as AsEnd;
#[cfg(windows)]
pub(crate) use std::os::windows::io::AsHandle as AsEnd;

/// After an interrupt, which ends us: no clip is broken, and there is nothing to begin or to report.
fn wait_if_interrupted() {
    while INTERRUPTED.load(Ordering::SeqCst) {
        std::thread::park();
    }
}

/// A program at work, and what it says of what went wrong.
struct Program {
    child: Running,
    said: Option<JoinHandle<Vec<u8>>>,
}

impl Program {
    fn start(command: &mut Command) -> Result<(Self, Option<ChildStdin>, Option<ChildStdout>), Failure> {
        // Apart from us, so that an interrupt comes to us alone, and we end it.
        #[cfg(unix)]
        std::os::unix::process::CommandExt::process_group(command, 0);
        // Listed before an interrupt can look, or not begun at all: else it would go on without us.
        let mut running = loop {
            let running = locked(&RUNNING);
            if !INTERRUPTED.load(Ordering::SeqCst) {
                break running;
            }
            drop(running);
            wait_if_interrupted();
        };
        let mut child = command.stderr(Stdio::piped()).spawn().map_err(|e| not_run("ffmpeg", &e))?;
        let (stdin, stdout, stderr) = (child.stdin.take(), child.stdout.take(), child.stderr.take());
        let said = std::thread::spawn(move || {
            let mut text = Vec::new();
            if let Some(mut stderr) = stderr {
                let _ = stderr.read_to_end(&mut text);
            }
            text
        });
        stdin.iter().for_each(widen);
        stdout.iter().for_each(widen);
        let child = Arc::new(Mutex::new(child));
        running.push(child.clone());
        Ok((Self { child, said: Some(said) }, stdin, stdout))
    }

    /// Waits for its end: what it said, where that is anything, and whether it ended well.
    fn end(mut self) -> (bool, Vec<u8>) {
        let said = self.said.take().and_then(|s| s.join().ok()).unwrap_or_default();
        let good = loop {
            // In steps, so that an interrupt can get at it.
            match locked(&self.child).try_wait() {
                Ok(Some(status)) => break status.success(),
                Ok(None) => {}
                Err(_) => break false,
            }
            std::thread::sleep(Duration::from_millis(2));
        };
        wait_if_interrupted();
        (good, said)
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        {
            let mut child = locked(&self.child);
            let _ = child.kill();
            let _ = child.wait();
        }
        locked(&RUNNING).retain(|r| !Arc::ptr_eq(r, &self.child));
    }
}

/// The command that gives a clip's frames; where to is left to add.
pub(super) fn decode(path: &Path, layout: &Layout) -> Command {
    let mut command = Command::new("ffmpeg");
    command.args(["-nostdin", "-v", "error", "-noautorotate", "-i"]).arg(url(path));
    command.args(["-map", "0:v:0", "-fps_mode", "passthrough", "-vf"]);
    let Layout { name, range, .. } = layout;
    command.arg(format!("scale=in_range={range}:out_range={range}:{SCALING},format={name}"));
    command.args(["-f", "rawvideo"]);
    command
}

/// A clip that is being read.
pub(crate) struct Decoder {
    program: Program,
    frames: ChildStdout,
}

impl Decoder {
    pub(crate) fn start(path: &Path, clip: &Clip) -> Result<Self, Failure> {
        let mut command = decode(path, &clip.layout);
        command.arg("pipe:1").stdin(Stdio::null()).stdout(Stdio::piped());
        let (program, _, stdout) = Program::start(&mut command)?;
        Ok(Self { program, frames: stdout.expect("it is piped") })
    }

    /// The next frame; false at the end.
    pub(crate) fn next(&mut self, frame: &mut [u8]) -> std::io::Result<bool> {
        let mut filled = 0;
        while filled < frame.len() {
            match self.frames.read(&mut frame[filled..]) {
                Ok(0) => return Ok(false),
                Ok(n) => filled += n,
                Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
                Err(e) => return Err(e),
            }
        }
        Ok(true)
    }

    /// What was wrong with the clip, if anything was.
    pub(crate) fn end(self) -> Option<String> {
        drop(self.frames);
        let (good, said) = self.program.end();
        (!good || !said.is_empty()).then(|| last(&said))
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
        let mut command = Command::new("ffmpeg");
        let mut add = |args: &[&str]| {
            command.args(args);
        };
        let size = format!("{}x{}", clip.width, clip.height);
        let delay = clip.delay.to_string();
        add(&["-nostdin", "-v", "error", "-y"]);
        if clip.delay > 0.0 {
            add(&["-itsoffset", &delay]);
        }
        add(&["-f", "rawvideo", "-pix_fmt", &layout.name, "-video_size", &size, "-framerate", &clip.rate]);
        add(&["-i", "pipe:0"]);
        if let Some(from) = out.from {
            command.arg("-i").arg(url(from));
        }
        let mut add = |args: &[&str]| {
            command.args(args);
        };
        add(&["-map", "0:v:0", "-fps_mode", "passthrough"]);
        if out.from.is_some() {
            add(&["-map", "1:a?", "-map_metadata", "1", "-c:a", "copy"]);
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
        command.arg(url(out.path)).stdin(Stdio::piped()).stdout(Stdio::null());
        let (program, stdin, _) = Program::start(&mut command)?;
        Ok(Self { program, frames: stdin.expect("it is piped") })
    }

    pub(crate) fn give(&mut self, frame: &[u8]) -> std::io::Result<()> {
        self.frames.write_all(frame)
    }

    /// Waits until the clip is whole; what went wrong, if anything did.
    pub(crate) fn end(self) -> Result<(), String> {
        drop(self.frames);
        let (good, said) = self.program.end();
        if good { Ok(()) } else { Err(super::said(&said, true).unwrap_or_else(|| "ffmpeg failed".to_owned())) }
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

/// Whether the ffmpeg of this machine has an encoder.
pub(crate) fn has_encoder(name: &str) -> Result<bool, Failure> {
    let mut command = Command::new("ffmpeg");
    let output =
        super::run(command.args(["-hide_banner", "-v", "error", "-h"]).arg(format!("encoder={name}")), "ffmpeg")?;
    Ok(String::from_utf8_lossy(&output.stdout).starts_with("Encoder "))
}
