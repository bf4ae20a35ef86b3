//! Bytes that come but once, by standard input or a named pipe, and that two programs are to read: ffprobe, which says what
//! they are, and then ffmpeg, which is given all of them from the first on.

use std::fs::File;
use std::io::{self, ErrorKind, Read, Write};
use std::path::Path;
use std::process::ChildStdin;
use std::thread::JoinHandle;

/// Bytes that ffprobe is shown at most: more than it asks for, and more than one frame of the largest picture of today.
const MOST_SHOWN: usize = 128 << 20;
/// Bytes that are read at once.
const PART: usize = 1 << 16;

pub(crate) struct Feed {
    /// What was read and is yet to be given.
    head: Vec<u8>,
    from: Box<dyn Read + Send>,
    /// Nothing more comes.
    is_over: bool,
}

impl Feed {
    /// Standard input, or a named pipe, whose writer is waited for.
    pub(super) fn open(path: Option<&Path>) -> io::Result<Self> {
        let from: Box<dyn Read + Send> = match path {
            Some(path) => Box::new(File::open(path)?),
            None => Box::new(io::stdin()),
        };
        Ok(Self { head: Vec::new(), from, is_over: false })
    }

    /// The next bytes; none at the end.
    fn next<'p>(&mut self, part: &'p mut [u8]) -> Option<&'p [u8]> {
        loop {
            match self.from.read(part) {
                Err(e) if e.kind() == ErrorKind::Interrupted => {}
                Ok(0) | Err(_) => {
                    self.is_over = true;
                    // Closed at once: what the next writer of a named pipe gives is not for this reader.
                    self.from = Box::new(io::empty());
                    return None;
                }
                Ok(n) => return Some(&part[..n]),
            }
        }
    }

    /// Nothing more comes.
    pub(super) fn is_over(&self) -> bool {
        self.is_over
    }

    /// The same without what was shown and was of no use.
    pub(super) fn forget(self) -> Self {
        Self { head: Vec::new(), ..self }
    }

    /// Shows what comes to a program until that has seen enough, and keeps it.
    pub(super) fn show(mut self, mut to: ChildStdin) -> JoinHandle<Self> {
        std::thread::spawn(move || {
            let mut is_open = to.write_all(&self.head).is_ok();
            let mut part = vec![0; PART];
            while is_open && self.head.len() < MOST_SHOWN {
                let Some(bytes) = self.next(&mut part) else { break };
                self.head.extend_from_slice(bytes);
                is_open = to.write_all(bytes).is_ok();
            }
            self
        })
    }

    /// Gives everything to a program, as long as it takes it; none at the end of all.
    pub(super) fn give(mut self, mut to: ChildStdin) -> JoinHandle<Option<Self>> {
        std::thread::spawn(move || {
            let mut is_open = to.write_all(&std::mem::take(&mut self.head)).is_ok();
            let mut part = vec![0; PART];
            while is_open && let Some(bytes) = self.next(&mut part) {
                is_open = to.write_all(bytes).is_ok();
            }
            (!self.is_over).then_some(self)
        })
    }
}
