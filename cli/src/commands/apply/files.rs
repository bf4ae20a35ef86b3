//! Raw frames from a file to a file. No thread waits for another: each reads a part of a frame, computes it and
//! writes it, in memory that stays in its nearest caches, while the others are at their parts. There is no frame in memory, and
//! no copy but the two that the system makes.

use super::raw::{Piped, cut_short, unread, unwritten};
use crate::failure::Failure;
use crate::progress::Progress;
use crate::system;
use rushlight::apply::planes::Planes;
use std::fs::File;
use std::io::{self, Seek, SeekFrom};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

/// Pixels of a part: as planes of 16 bits, source and target of it are 192 KiB.
const PART: usize = 1 << 14;

/// Standard input and output, where both are files.
pub(super) struct Files {
    input: File,
    output: File,
    /// Where each began.
    from: u64,
    to: u64,
    /// Nothing was there yet.
    fresh: bool,
}

/// Why a thread gave up, and in which frame.
enum Broken {
    Read(usize, io::Error),
    Written(usize, io::Error),
}

impl Broken {
    const fn frame(&self) -> usize {
        let (Self::Read(frame, _) | Self::Written(frame, _)) = self;
        *frame
    }
}

impl Files {
    /// None where one is no file, or writes to its end whatever the place.
    pub(super) fn standard() -> Option<Self> {
        let (input, from, _) = system::placed(&io::stdin())?;
        let (output, to, length) = system::placed(&io::stdout())?;
        Some(Self { input, output, from, to, fresh: length <= to })
    }

    /// Frames until the input ends, each of `planes` of so many pixels; `compute` takes a part of them, which is planes too, to
    /// one of the same size.
    pub(super) fn run(
        mut self,
        planes: Planes,
        pixels: usize,
        progress: &Progress,
        compute: impl Fn(&[u8], &mut [u8], usize) + Sync,
    ) -> Result<Piped, Failure> {
        let size = planes.size(pixels).expect("it was checked");
        let mut done = 0;
        let rest = loop {
            // It may have grown in the meantime.
            let length = self.input.metadata().map_err(|e| unread(&e))?.len().saturating_sub(self.from);
            let whole = (length / size as u64) as usize;
            if whole <= done {
                break (length % size as u64) as usize;
            }
            if let Err(broken) = self.frames(done..whole, planes, pixels, progress, &compute) {
                let whole = self.to + (broken.frame() * size) as u64;
                if self.fresh {
                    // No frame that is only a part.
                    let _ = self.output.set_len(whole);
                }
                return Err(match broken {
                    Broken::Read(_, why) => unread(&why),
                    Broken::Written(_, why) => unwritten(&why),
                });
            }
            done = whole;
        };
        // Where the next program at this file continues.
        let bytes = (done * size) as u64;
        self.output.seek(SeekFrom::Start(self.to + bytes)).map_err(|e| unwritten(&e))?;
        self.input.seek(SeekFrom::Start(self.from + bytes)).map_err(|e| unread(&e))?;
        Ok(Piped { frames: done, broken: (rest > 0).then(|| unread(&cut_short(rest, size))) })
    }

    fn frames(
        &self,
        frames: std::ops::Range<usize>,
        planes: Planes,
        pixels: usize,
        progress: &Progress,
        compute: &(impl Fn(&[u8], &mut [u8], usize) + Sync),
    ) -> Result<(), Broken> {
        let (count, size) = (planes.count(), planes.size(pixels).expect("it was checked"));
        let sample = size / (count * pixels);
        let parts = pixels.div_ceil(PART);
        let (next, stop) = (AtomicUsize::new(frames.start * parts), AtomicBool::new(false));
        let work = |_: rayon::BroadcastContext<'_>| -> Result<(), Broken> {
            let mut buffers = [(); 2].map(|()| vec![0; PART * sample * count]);
            let [source, target] = &mut buffers;
            while !stop.load(Ordering::Relaxed) {
                let i = next.fetch_add(1, Ordering::Relaxed);
                let (frame, at) = (i / parts, i % parts * PART);
                if frame >= frames.end {
                    break;
                }
                let part = PART.min(pixels - at);
                let (source, target) = (&mut source[..part * sample * count], &mut target[..part * sample * count]);
                let place = |p: usize| (frame * size + (p * pixels + at) * sample) as u64;
                for (p, piece) in source.chunks_exact_mut(part * sample).enumerate() {
                    system::read_at(&self.input, piece, self.from + place(p)).map_err(|e| Broken::Read(frame, e))?;
                }
                compute(source, target, part);
                for (p, piece) in target.chunks_exact(part * sample).enumerate() {
                    system::write_at(&self.output, piece, self.to + place(p)).map_err(|e| Broken::Written(frame, e))?;
                }
                if at + part == pixels {
                    progress.step();
                }
            }
            Ok(())
        };
        let each = rayon::broadcast(|context| work(context).inspect_err(|_| stop.store(true, Ordering::Relaxed)));
        // The first failure in the order of the frames, of any thread.
        each.into_iter().filter_map(Result::err).min_by_key(Broken::frame).map_or(Ok(()), Err)
    }
}
