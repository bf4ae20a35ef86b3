//! Frames over pipes: ffmpeg reads a clip for us, and writes one from what we give.

use super::command::{ffmpeg, reading, reading_raw, writing, writing_raw};
use super::{Clip, Layout, Trouble, last, not_run};
use crate::failure::Failure;
use crate::system;
use rushlight::apply::tags::Codes;
use std::io::{Read, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

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

/// A program that neither gives nor takes a frame for so long, though it could, is ended.
const SILENCE: Duration = Duration::from_secs(300);
/// What asks a program about itself waits no longer.
const PATIENCE: Duration = Duration::from_secs(20);

/// Since when a program is waited for, if it is.
#[derive(Debug, Default)]
struct Waited(Mutex<Option<Instant>>);

impl Waited {
    /// Does what waits for the program.
    fn during<T>(&self, wait: impl FnOnce() -> T) -> T {
        *locked(&self.0) = Some(Instant::now());
        let made = wait();
        *locked(&self.0) = None;
        made
    }

    fn is_longer_than(&self, time: Duration) -> bool {
        locked(&self.0).is_some_and(|since| since.elapsed() > time)
    }
}

/// Ends a program once it is waited for too long; looks as long as the program is in use.
fn watch(child: Weak<Mutex<Child>>, waited: Arc<Waited>, silence: Duration) {
    std::thread::spawn(move || {
        while let Some(child) = child.upgrade() {
            if waited.is_longer_than(silence) {
                let _ = locked(&child).kill();
            }
            drop(child);
            std::thread::sleep((silence / 4).min(Duration::from_millis(500)));
        }
    });
}

/// After an interrupt, which ends us: no clip is broken, and there is nothing to begin or to report.
fn wait_if_interrupted() {
    while INTERRUPTED.load(Ordering::SeqCst) {
        std::thread::park();
    }
}

/// A running program, and its error output.
struct Program {
    child: Running,
    said: Option<JoinHandle<Vec<u8>>>,
    waited: Arc<Waited>,
}

impl Program {
    fn start(command: &mut Command) -> Result<(Self, Option<ChildStdin>, Option<ChildStdout>), Failure> {
        system::set_apart(command);
        // Listed before an interrupt can look, or not begun at all: else it would go on without us.
        let mut running = loop {
            let running = locked(&RUNNING);
            if !INTERRUPTED.load(Ordering::SeqCst) {
                break running;
            }
            drop(running);
            wait_if_interrupted();
        };
        let mut child = command
            .stderr(Stdio::piped())
            .spawn()
            .map_err(|e| Failure::new(not_run(&command.get_program().to_string_lossy(), &e)))?;
        let (stdin, stdout, stderr) = (child.stdin.take(), child.stdout.take(), child.stderr.take());
        let said = std::thread::spawn(move || stderr.map(heard).unwrap_or_default());
        stdin.iter().for_each(system::widen);
        stdout.iter().for_each(system::widen);
        let child = Arc::new(Mutex::new(child));
        running.push(child.clone());
        Ok((Self { child, said: Some(said), waited: Arc::default() }, stdin, stdout))
    }

    /// From now on it is ended when it is silent for too long.
    fn watched(&self, silence: Duration) {
        watch(Arc::downgrade(&self.child), self.waited.clone(), silence);
    }

    /// Waits for its end: its standard error, if any, and whether its exit code was 0.
    fn end(mut self) -> (bool, Vec<u8>) {
        let said = self.said.take().map(|said| self.waited.during(|| said.join()));
        let said = said.and_then(Result::ok).unwrap_or_default();
        let good = self.has_ended(None).unwrap_or_default();
        wait_if_interrupted();
        (good, said)
    }

    /// Waits for its end, and says whether it was a good one; none where it comes no sooner than `by`.
    fn has_ended(&self, by: Option<Instant>) -> Option<bool> {
        loop {
            // In steps, so that an interrupt can get at it.
            match locked(&self.child).try_wait() {
                Ok(Some(status)) => return Some(status.success()),
                Ok(None) => {}
                Err(_) => return Some(false),
            }
            if by.is_some_and(|by| Instant::now() >= by) {
                return None;
            }
            std::thread::sleep(Duration::from_millis(2));
        }
    }
}

/// Bytes of a program's error output that are stored, from its beginning and from its end each.
const MOST_SAID: usize = 1 << 16;

/// What a program says until it ends: all of it is heard, or it would wait for us.
fn heard(mut stderr: impl Read) -> Vec<u8> {
    let (mut text, mut part) = (Vec::new(), [0; 4096]);
    loop {
        match stderr.read(&mut part) {
            Ok(0) => return text,
            Ok(n) => text.extend_from_slice(&part[..n]),
            Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
            Err(_) => return text,
        }
        if text.len() > 4 * MOST_SAID {
            text.drain(MOST_SAID..text.len() - MOST_SAID);
        }
    }
}

/// Standard output and standard error of a program that ended, and whether its exit code was 0.
#[derive(Debug)]
pub(super) struct Ended {
    pub(super) good: bool,
    pub(super) sent: Vec<u8>,
    pub(super) said: Vec<u8>,
}

/// Runs a program to its end. One that takes longer than `time`, or sends more than `most` bytes, is ended.
pub(super) fn run(command: &mut Command, time: Duration, most: usize) -> Result<Ended, Trouble> {
    let name = command.get_program().to_string_lossy().into_owned();
    let by = Instant::now() + time;
    command.stdin(Stdio::null()).stdout(Stdio::piped());
    let (program, _, stdout) = Program::start(command).map_err(|failure| Trouble::Program(failure.words()))?;
    let (sender, receiver) = mpsc::channel();
    let stdout = stdout.expect("it is piped");
    // In a thread of its own, so that nothing blocks on output that never comes.
    std::thread::spawn(move || {
        let mut sent = Vec::new();
        let _ = stdout.take(most as u64 + 1).read_to_end(&mut sent);
        let _ = sender.send(sent);
    });
    let late = || Trouble::Program(format!("{name} took longer than {} s, and was ended", time.as_secs_f64()));
    let sent = receiver.recv_timeout(time).map_err(|_| late())?;
    if sent.len() > most {
        return Err(Trouble::Program(format!("{name} sent more than {most} bytes, and was ended")));
    }
    program.has_ended(Some(by)).ok_or_else(late)?;
    let (good, said) = program.end();
    Ok(Ended { good, sent, said })
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
        program.watched(SILENCE);
        Ok(Self { program, frames: stdout.expect("it is piped"), left: most, excess: None })
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
                    let _ = locked(&self.program.child).kill();
                    return Err(std::io::Error::other(why));
                }
                Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
                Err(e) => return Err(e),
            }
        }
        self.left = self.left.saturating_sub(1);
        Ok(true)
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

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    const SHORT: Duration = Duration::from_millis(200);

    fn ran(script: &str, time: Duration, most: usize) -> Result<Ended, String> {
        run(Command::new("sh").args(["-c", script]), time, most).map_err(|trouble| match trouble {
            Trouble::Program(why) => why,
            other => panic!("{other:?}"),
        })
    }

    #[test]
    fn a_program_that_does_not_end_is_ended() {
        for endless in ["exec sleep 60", "exec >&-; exec sleep 60", "sleep 2 & sleep 2"] {
            let why = ran(endless, SHORT, 9).unwrap_err();
            assert!(why.contains("sh took longer than 0.2 s, and was ended"), "{why}");
        }
        let why = ran("exec yes", Duration::from_secs(60), 1000).unwrap_err();
        assert!(why.contains("sent more than 1000 bytes"), "{why}");
        let missing = run(&mut Command::new("no-such-program"), SHORT, 9).unwrap_err();
        assert!(matches!(missing, Trouble::Program(why) if why.contains("`no-such-program`")));
    }

    #[test]
    fn a_silent_program_is_ended_and_a_slow_reader_is_not_blamed() {
        let start = |script: &str| {
            let mut command = Command::new("sh");
            command.args(["-c", script]).stdin(Stdio::null()).stdout(Stdio::piped());
            let (program, _, stdout) = Program::start(&mut command).unwrap();
            program.watched(SHORT);
            Decoder { program, frames: stdout.unwrap(), left: 2, excess: None }
        };
        let mut silent = start("printf abc; exec sleep 60");
        let mut frame = [0; 3];
        assert!(silent.next(&mut frame).unwrap() && &frame == b"abc");
        assert!(!silent.next(&mut frame).unwrap());
        assert!(silent.end().is_some());
        let mut ready = start("printf abcdef");
        assert!(ready.next(&mut frame).unwrap());
        std::thread::sleep(2 * SHORT);
        assert!(ready.next(&mut frame).unwrap() && &frame == b"def");
        assert!(!ready.next(&mut frame).unwrap() && ready.end().is_none());
        // More than two frames are more than this clip may have.
        let mut endless = start("exec yes");
        assert!(endless.next(&mut frame).unwrap() && endless.next(&mut frame).unwrap());
        assert!(endless.next(&mut frame).unwrap_err().to_string().contains("more frames than a clip"));
        assert!(endless.end().unwrap().contains("more frames than a clip"));
    }

    #[test]
    fn what_it_sends_and_says_is_heard() {
        let ended = ran("echo sent; echo said >&2; exit 3", Duration::from_secs(60), 5).unwrap();
        assert_eq!((ended.good, &ended.sent[..], &ended.said[..]), (false, &b"sent\n"[..], &b"said\n"[..]));
        // Much of it: its beginning and its end.
        let much = heard(&[vec![b'a'], vec![b'b'; 9 * MOST_SAID], vec![b'c']].concat()[..]);
        assert!(much.len() <= 4 * MOST_SAID && much[0] == b'a' && much.last() == Some(&b'c'));
    }
}
