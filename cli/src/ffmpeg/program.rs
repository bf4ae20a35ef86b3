//! Programs at work: started apart from us, heard to their end, and ended when we are.

use super::{Trouble, not_run};
use crate::failure::Failure;
use crate::system;
use std::io::Read;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

type Running = Arc<Mutex<Child>>;

/// Programs that are at work.
static RUNNING: Mutex<Vec<Running>> = Mutex::new(Vec::new());

fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// How long a program which ends with its input has for that.
const LEAVE: Duration = Duration::from_millis(2000);

/// Ends a program. Where we have kept its input, it ends with that, and ends what it has started itself.
fn stop(child: &mut Child) {
    if child.stdin.take().is_some() {
        let by = Instant::now() + LEAVE;
        while matches!(child.try_wait(), Ok(None)) && Instant::now() < by {
            std::thread::sleep(Duration::from_millis(2));
        }
    }
    let _ = child.kill();
    let _ = child.wait();
}

/// We were interrupted, and are about to end.
static INTERRUPTED: AtomicBool = AtomicBool::new(false);

/// Ends the programs that are at work; for when we are interrupted.
pub(crate) fn end_running() {
    INTERRUPTED.store(true, Ordering::SeqCst);
    locked(&RUNNING).iter().for_each(|child| stop(&mut locked(child)));
}

/// Since when a program is waited for, if it is.
#[derive(Debug, Default)]
pub(super) struct Waited(Mutex<Option<Instant>>);

impl Waited {
    /// Does what waits for the program.
    pub(super) fn during<T>(&self, wait: impl FnOnce() -> T) -> T {
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
                stop(&mut locked(&child));
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

/// A program at work, and what it says of what went wrong.
pub(super) struct Program {
    child: Running,
    said: Option<JoinHandle<Vec<u8>>>,
    pub(super) waited: Arc<Waited>,
}

impl Program {
    pub(super) fn start(command: &mut Command) -> Result<(Self, Option<ChildStdin>, Option<ChildStdout>), Failure> {
        Self::start_with(command, |child| child.stdin.take())
    }

    /// One whose input is kept open as long as it is to run.
    pub(super) fn hold(command: &mut Command) -> Result<(Self, Option<ChildStdout>), Failure> {
        command.stdin(Stdio::piped()).stdout(Stdio::piped());
        let (program, _, stdout) = Self::start_with(command, |_| None)?;
        Ok((program, stdout))
    }

    fn start_with(
        command: &mut Command,
        input: impl FnOnce(&mut Child) -> Option<ChildStdin>,
    ) -> Result<(Self, Option<ChildStdin>, Option<ChildStdout>), Failure> {
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
        let (stdin, stdout, stderr) = (input(&mut child), child.stdout.take(), child.stderr.take());
        let said = std::thread::spawn(move || stderr.map(heard).unwrap_or_default());
        stdin.iter().for_each(system::widen);
        stdout.iter().for_each(system::widen);
        let child = Arc::new(Mutex::new(child));
        running.push(child.clone());
        Ok((Self { child, said: Some(said), waited: Arc::default() }, stdin, stdout))
    }

    /// From now on it is ended when it is silent for too long.
    pub(super) fn watched(&self, silence: Duration) {
        watch(Arc::downgrade(&self.child), self.waited.clone(), silence);
    }

    /// Waits for its end: what it said, where that is anything, and whether it ended well.
    pub(super) fn end(mut self) -> (bool, Vec<u8>) {
        let said = self.said.take().map(|said| self.waited.during(|| said.join()));
        let said = said.and_then(Result::ok).unwrap_or_default();
        let good = self.has_ended(None).unwrap_or_default();
        wait_if_interrupted();
        (good, said)
    }

    /// Ends it now.
    pub(super) fn kill(&self) {
        stop(&mut locked(&self.child));
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

/// Bytes that are kept of what a program says, of its beginning and of its end each.
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

/// What a program sent and said until it ended, and whether it ended well.
#[derive(Debug)]
pub(super) struct Ended {
    pub(super) good: bool,
    pub(super) sent: Vec<u8>,
    pub(super) said: Vec<u8>,
}

/// Runs a program to its end. One that takes longer than `time`, or sends more than `most` bytes, is ended.
pub(super) fn run(command: &mut Command, time: Duration, most: usize) -> Result<Ended, Trouble> {
    let name = command.get_program().to_string_lossy().into_owned();
    command.stdin(Stdio::null()).stdout(Stdio::piped());
    let (program, _, stdout) = Program::start(command).map_err(|failure| Trouble::Program(failure.words()))?;
    to_end(program, stdout.expect("it is piped"), &name, time, most)
}

/// Hears a program of this name to its end. One that takes longer than `time`, or sends more than `most` bytes, is ended.
pub(super) fn to_end(
    program: Program,
    stdout: ChildStdout,
    name: &str,
    time: Duration,
    most: usize,
) -> Result<Ended, Trouble> {
    let by = Instant::now() + time;
    let (sender, receiver) = mpsc::channel();
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
        self.kill();
        locked(&RUNNING).retain(|r| !Arc::ptr_eq(r, &self.child));
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::super::pipe::Decoder;
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
            Decoder::watched(program, stdout.unwrap(), 2, SHORT)
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

    #[test]
    fn what_is_held_ends_with_its_input() {
        let mut command = Command::new("sh");
        command.args(["-c", "echo $$; cat; exec sleep 60"]).stdout(Stdio::piped());
        let (program, stdout) = Program::hold(&mut command).unwrap();
        let mut decoder = Decoder::watched(program, stdout.unwrap(), 9, SHORT);
        let mut first = [0; 1];
        assert!(decoder.next(&mut first).unwrap());
        drop(decoder);
        let mut rude = Command::new("sh");
        rude.args(["-c", "cat; exit 7"]).stdout(Stdio::piped());
        let (program, _) = Program::hold(&mut rude).unwrap();
        program.kill();
        // It had its time to end by itself.
        assert_eq!(locked(&program.child).wait().unwrap().code(), Some(7));
    }
}
