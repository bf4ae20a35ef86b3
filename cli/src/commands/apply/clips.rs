//! Clips: one thread takes frames from ffmpeg, all compute, one gives them to ffmpeg; a few frames are held between them and
//! used again and again.

use super::encoder::Choice;
use super::how::How;
use super::plan::Item;
use super::report::{Broken, Outcome};
use crate::args::{Apply as Args, OnError};
use crate::disk::Pending;
use crate::failure::Failure;
use crate::ffmpeg::{Clip, Decoder, Encoder, Output};
use crate::progress::Progress;
use rushlight::apply::{Strays, Transform, Witness, planes};
use rushlight::camera::Range;
use rushlight::frame::{Depth, Format, Frame, Info, Limits};
use std::sync::mpsc::sync_channel;

/// Frames that wait on either side.
const WAITING: usize = 2;
/// How far the cube strays is looked at in one of so many frames.
const LOOKED_AT: usize = 250;

pub(super) fn run(items: &[Item], how: &How, choice: &Choice, args: &Args) -> Outcome {
    let mut outcome = Outcome::default();
    for (i, item) in items.iter().enumerate() {
        if args.resume && item.output.is_file() {
            outcome.kept.push(item.output.clone());
            continue;
        }
        let (frames, broken) = match clip(item, how, choice, args, &mut outcome) {
            Ok((frames, broken)) => (Some(frames), broken),
            Err(failure) => (None, Some(failure.words())),
        };
        if let Some(frames) = frames {
            outcome.done.push(item.output.clone());
            outcome.frames += frames;
        }
        if let Some(why) = broken {
            eprintln!("error: {why}");
            outcome.broken.push(Broken { file: item.input.clone(), why });
            if args.on_error == OnError::Stop {
                outcome.left = items.len() - i - 1;
                break;
            }
        }
    }
    outcome
}

/// The frames that were written; and what was wrong with a clip that was written all the same.
fn clip(
    item: &Item,
    how: &How,
    choice: &Choice,
    args: &Args,
    outcome: &mut Outcome,
) -> Result<(usize, Option<String>), Failure> {
    let fail = |why: String| Failure::new(format!("cannot read {}: {why}", item.input.display()));
    let unwritten = |why: String| Failure::new(format!("cannot write {}: {why}", item.output.display()));
    if !item.input.is_file() {
        return Err(fail(if item.input.exists() { "it is a folder" } else { "no such file" }.to_owned()));
    }
    let clip = Clip::open(&item.input)?;
    let pixels = clip.width * clip.height;
    let Some(size) = clip.size(Limits::default()) else {
        return Err(fail(format!("{} x {} pixels: more than is read", clip.width, clip.height)));
    };
    let out_size = choice.layout.planes.size(pixels).ok_or_else(|| fail("more than is read".to_owned()))?;
    let range = how.display.as_ref().map_or(Range::Full, |d| d.settings().range);
    let pending = Pending::new(&item.output)?;
    let mut decoder = Decoder::start(&item.input, &clip)?;
    let mut encoder = Encoder::start(&Output {
        from: &item.input,
        clip: &clip,
        layout: &choice.layout,
        codec: &choice.options,
        pixels: &choice.pixels,
        width: choice.width,
        codes: choice.codes,
        matrix: choice.matrix,
        path: pending.path(),
    })?;
    let progress = Progress::new(clip.frames.unwrap_or(0), "{pos}/{len} frames, {per_sec}, {eta} left");
    let (to_us, from_decoder) = sync_channel::<Vec<u8>>(WAITING);
    let (to_encoder, from_us) = sync_channel::<Vec<u8>>(WAITING);
    let (empty_in, empties_in) = sync_channel::<Vec<u8>>(WAITING + 2);
    let (empty_out, empties_out) = sync_channel::<Vec<u8>>(WAITING + 2);
    let strays = &mut outcome.strays;
    let (frames, taken, given) = std::thread::scope(|scope| {
        let decoder = &mut decoder;
        let reader = scope.spawn(move || -> std::io::Result<()> {
            loop {
                let mut frame = empties_in.try_recv().unwrap_or_else(|_| vec![0; size]);
                if !decoder.next(&mut frame)? || to_us.send(frame).is_err() {
                    return Ok(());
                }
            }
        });
        let encoder = &mut encoder;
        let writer = scope.spawn(move || -> std::io::Result<()> {
            for frame in from_us {
                encoder.give(&frame)?;
                let _ = empty_out.try_send(frame);
            }
            Ok(())
        });
        let mut frames = 0;
        for frame in from_decoder {
            let mut out = empties_out.try_recv().unwrap_or_else(|_| vec![0; out_size]);
            if let Some(exact) = how.exact.as_ref().filter(|_| frames % LOOKED_AT == 0) {
                strays.merge(&look(&frame, &clip, how, exact));
            }
            let (source, target) = ((clip.layout.planes, &frame[..]), (choice.layout.planes, &mut out[..]));
            planes::apply(&how.transform, source, target, range, pixels);
            let _ = empty_in.try_send(frame);
            if to_encoder.send(out).is_err() {
                break;
            }
            frames += 1;
            progress.step();
        }
        drop(to_encoder);
        let join = |thread: std::thread::ScopedJoinHandle<'_, std::io::Result<()>>| {
            thread.join().unwrap_or_else(|_| Err(std::io::Error::other("a thread ended")))
        };
        (frames, join(reader), join(writer))
    });
    progress.end();
    // The encoder first: where it failed, nobody took what the decoder gave.
    let written = encoder.end();
    if let (Err(why), _) | (Ok(()), Err(why)) = (written, given.map_err(|e| e.to_string())) {
        return Err(unwritten(why));
    }
    let mut wrong = decoder.end();
    if let Err(error) = taken {
        wrong = wrong.or_else(|| Some(error.to_string()));
    }
    if frames == 0 {
        return Err(fail(wrong.unwrap_or_else(|| "ffmpeg gave no frame of it".to_owned())));
    }
    if clip.frames.is_some_and(|all| frames < all) {
        let all = clip.frames.unwrap_or(0);
        let why = wrong.map(|w| format!(" ({w})")).unwrap_or_default();
        wrong = Some(format!("it has {frames} whole frames where it says {all}{why}"));
    }
    let wrong = wrong.map(|why| fail(why).words());
    if let (Some(why), OnError::Stop) = (&wrong, args.on_error) {
        return Err(Failure::new(format!("{why}; --on-error skip writes what can be read")));
    }
    pending.finish()?;
    outcome.notes.extend(clip.notes);
    Ok((frames, wrong))
}

/// How far the cube strays on a frame.
fn look(raw: &[u8], clip: &Clip, how: &How, exact: &Transform) -> Strays {
    let samples = clip.layout.planes.samples(raw, clip.width * clip.height);
    let info = Info::new(Format::Dpx, Depth::Integer(clip.layout.planes.bits));
    let mut strays = Strays::default();
    if let Ok(mut frame) = Frame::new(clip.width, clip.height, false, samples, info) {
        let before = Witness::of(&frame);
        how.transform.frame(&mut frame);
        strays.add(exact, &before, &frame);
    }
    strays
}
