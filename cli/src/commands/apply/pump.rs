//! Frames through this program: one thread reads, all compute, one writes; a few frames are held between them and used again
//! and again.

use std::io;
use std::sync::mpsc::sync_channel;
use std::thread::{ScopedJoinHandle, scope};

/// Frames that wait on either side.
const WAITING: usize = 2;

/// What became of the frames.
pub(super) struct Pumped {
    pub(super) frames: usize,
    pub(super) read: io::Result<()>,
    pub(super) written: io::Result<()>,
}

/// Reads frames of the first of `sizes` in bytes by `next`, until it says that there is none; `compute` makes of each, by its
/// number, one of the second size, and `give` takes it. Ends when either fails.
pub(super) fn pump(
    sizes: [usize; 2],
    mut next: impl FnMut(&mut [u8]) -> io::Result<bool> + Send,
    mut give: impl FnMut(&[u8]) -> io::Result<()> + Send,
    mut compute: impl FnMut(usize, &[u8], &mut [u8]),
) -> Pumped {
    let (to_us, read) = sync_channel::<Vec<u8>>(WAITING);
    let (to_writer, from_us) = sync_channel::<Vec<u8>>(WAITING);
    let (empty_in, empties_in) = sync_channel::<Vec<u8>>(WAITING + 2);
    let (empty_out, empties_out) = sync_channel::<Vec<u8>>(WAITING + 2);
    scope(|scope| {
        let reader = scope.spawn(move || -> io::Result<()> {
            loop {
                let mut frame = empties_in.try_recv().unwrap_or_else(|_| vec![0; sizes[0]]);
                if !next(&mut frame)? || to_us.send(frame).is_err() {
                    return Ok(());
                }
            }
        });
        let writer = scope.spawn(move || -> io::Result<()> {
            for frame in from_us {
                give(&frame)?;
                let _ = empty_out.try_send(frame);
            }
            Ok(())
        });
        let mut frames = 0;
        for frame in read {
            let mut out = empties_out.try_recv().unwrap_or_else(|_| vec![0; sizes[1]]);
            compute(frames, &frame, &mut out);
            let _ = empty_in.try_send(frame);
            if to_writer.send(out).is_err() {
                break;
            }
            frames += 1;
        }
        drop(to_writer);
        let join = |thread: ScopedJoinHandle<'_, io::Result<()>>| {
            thread.join().unwrap_or_else(|_| Err(io::Error::other("a thread ended")))
        };
        let written = join(writer);
        Pumped { frames, read: join(reader), written }
    })
}
