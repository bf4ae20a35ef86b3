//! A program that ends when we do, however we do: another instance of this program starts it, and ends it as soon as its own
//! input ends, which we hold open. A program that waits for a device would otherwise go on without us after a kill.

use super::not_run;
use crate::{output, system};
use std::env;
use std::ffi::OsStr;
use std::io::Read as _;
use std::process::{Command, ExitCode, Stdio};
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::Duration;

/// The first argument of an instance that stands by; no command has such a name.
const STAND_BY: &str = "--stand-by-and-run";
/// How often it is looked whether the program has ended.
const GLANCE: Duration = Duration::from_millis(50);
/// The exit code of a program that did not start, or was ended.
const NOT_RUN: u8 = 127;

/// The command by which another instance of this program runs `command`.
pub(super) fn held(command: &Command) -> Command {
    let mut held = Command::new(system::this_program());
    held.arg(STAND_BY).arg(command.get_program()).args(command.get_args());
    held
}

/// Where this is such an instance: runs the program to its end, or until the input ends.
pub(crate) fn stand_by() -> Option<ExitCode> {
    let mut words = env::args_os().skip(1);
    if words.next().as_deref() != Some(OsStr::new(STAND_BY)) {
        return None;
    }
    let program = words.next()?;
    let mut child = match Command::new(&program).args(words).stdin(Stdio::null()).spawn() {
        Ok(child) => child,
        Err(e) => {
            output::say(&not_run(&program.to_string_lossy(), &e));
            return Some(ExitCode::from(NOT_RUN));
        }
    };
    let (sender, input_ends) = channel::<()>();
    std::thread::spawn(move || {
        let _ = std::io::stdin().read(&mut [0; 1]);
        drop(sender);
    });
    loop {
        match child.try_wait() {
            Ok(Some(status)) => return Some(ExitCode::from(u8::from(!status.success()))),
            Ok(None) if input_ends.recv_timeout(GLANCE) == Err(RecvTimeoutError::Timeout) => {}
            _ => {
                let _ = child.kill();
                let _ = child.wait();
                return Some(ExitCode::from(NOT_RUN));
            }
        }
    }
}
