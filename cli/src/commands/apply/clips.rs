//! Clips into clips.

use super::encoder::Choice;
use super::how::How;
use super::plan::Item;
use super::pump::pump;
use super::report::{Broken, Outcome};
use super::stills;
use crate::args::{Apply as Args, OnError};
use crate::disk::{self, Pending};
use crate::failure::Failure;
use crate::ffmpeg::{Clip, Decoder};
use crate::progress::Progress;
use rushlight::apply::{Deviation, SampledPixels, Transform, planes};
use rushlight::camera::Range;
use rushlight::format::timecode::{Timecode, base};
use rushlight::frame::Limits;
use std::path::Path;

/// The error of the cube is measured in one of so many frames.
const LOOKED_AT: usize = 250;

/// `rate` is what every clip is brought to, if any.
pub(super) fn run(items: &[Item], how: &How, choice: &Choice, rate: Option<&str>, args: &Args) -> Outcome {
    let mut outcome = Outcome::default();
    for (i, item) in items.iter().enumerate() {
        if args.resume && item.output.is_file() {
            outcome.skipped.push(item.output.clone());
            continue;
        }
        let (frames, broken) = match clip(item, how, choice, rate, args, &mut outcome) {
            Ok((frames, broken)) => (Some(frames), broken),
            Err(failure) => (None, Some(failure.words())),
        };
        if let Some(frames) = frames {
            outcome.done.push(item.output.clone());
            outcome.frames += frames;
        }
        if let Some(why) = broken {
            crate::output::say(&format!("error: {why}"));
            outcome.broken.push(Broken { file: item.input.clone(), why });
            if args.on_error == OnError::Stop {
                outcome.not_begun = items.len() - i - 1;
                break;
            }
        }
    }
    outcome
}

/// The frames that were written, and the problem of a clip that was written nevertheless.
fn clip(
    item: &Item,
    how: &How,
    choice: &Choice,
    rate: Option<&str>,
    args: &Args,
    outcome: &mut Outcome,
) -> Result<(usize, Option<String>), Failure> {
    let fail = |why: String| Failure::new(format!("cannot read {}: {why}", item.input.display()));
    let unwritten = |why: String| Failure::new(format!("cannot write {}: {why}", item.output.display()));
    let mut clip = open(&item.input, args.memory.limits())?;
    match rate {
        Some(rate) => clip.even(rate, &item.input),
        None if clip.varies => {
            return Err(fail(
                "its frame rate varies, so sound and picture would drift apart: give --rate, such as --rate 25, to repeat and drop frames for a constant rate".to_owned(),
            ));
        }
        None => {}
    }
    let choice = choice.of(clip.layout.planes.alpha);
    if !choice.layout.planes.alpha {
        clip.without_alpha(&item.input);
    }
    let pixels = clip.width * clip.height;
    let size = clip.layout.planes.size(pixels).ok_or_else(|| fail("more than is read".to_owned()))?;
    let out_size = choice.layout.planes.size(pixels).ok_or_else(|| fail("more than is read".to_owned()))?;
    let range = how.display.as_ref().map_or(Range::Full, |d| d.settings().range);
    let pending = Pending::new(&item.output)?;
    let mut decoder = Decoder::start(&item.input, &clip)?;
    let mut encoder = choice.start(Some(&item.input), &clip, &how.slate, pending.path())?;
    let progress = Progress::new(clip.frames.unwrap_or(0), "{pos}/{len} frames, {per_sec}, {eta} left");
    let error = &mut outcome.error;
    let pumped = pump(
        [size, out_size],
        |frame| decoder.next(frame),
        |frame| encoder.give(frame),
        |number, frame, out| {
            if how.burn_in.is_some() {
                if let Ok(mut picture) = clip.frame(frame) {
                    error.merge(&stills::through(&mut picture, how, Some(&place(&clip, number))));
                    picture.associate(!choice.layout.planes.alpha);
                    planes::store(&picture, (choice.layout.planes, out), range);
                }
                return progress.step();
            }
            if let Some(exact) = how.exact.as_ref().filter(|_| number % LOOKED_AT == 0) {
                error.merge(&look(frame, &clip, how, exact));
            }
            let (source, target) = ((clip.layout.planes, frame), (choice.layout.planes, out));
            planes::apply(&how.transform, source, target, range, pixels);
            progress.step();
        },
    );
    progress.end();
    // The encoder first: where it failed, the output of the decoder was not read.
    let written = encoder.end();
    if let (Err(why), _) | (Ok(()), Err(why)) = (written, pumped.written.map_err(|e| e.to_string())) {
        return Err(unwritten(why));
    }
    let mut wrong = decoder.end();
    let frames = pumped.frames;
    if let Err(error) = pumped.read {
        wrong = wrong.or_else(|| Some(error.to_string()));
    }
    if frames == 0 {
        return Err(fail(wrong.unwrap_or_else(|| "ffmpeg gave no frame of it".to_owned())));
    }
    if clip.frames.is_some_and(|all| frames < all) {
        let all = clip.frames.unwrap_or(0);
        let why = wrong.map(|w| format!(" ({w})")).unwrap_or_default();
        wrong = Some(format!("it has {frames} whole frames, but states {all}{why}"));
    }
    let wrong = wrong.map(|why| fail(why).words());
    if let (Some(why), OnError::Stop) = (&wrong, args.on_error) {
        return Err(Failure::new(format!("{why}; --on-error skip writes what can be read")));
    }
    pending.finish()?;
    outcome.encoded.insert(choice.said.clone());
    outcome.notes.extend(clip.notes);
    Ok((frames, wrong))
}

/// A clip whose frames are no larger than may be read.
pub(super) fn open(path: &Path, limits: Limits) -> Result<Clip, Failure> {
    let fail = |why: String| Failure::new(format!("cannot read {}: {why}", path.display()));
    disk::open(path).map_err(fail)?;
    let clip = Clip::open(path)?;
    match clip.size(limits) {
        Some(_) => Ok(clip),
        None => Err(fail(format!("{} x {} pixels: --max-memory allows more", clip.width, clip.height))),
    }
}

/// The error of the cube on a frame.
fn look(raw: &[u8], clip: &Clip, how: &How, exact: &Transform) -> Deviation {
    let mut error = Deviation::default();
    if let Ok(mut frame) = clip.frame(raw) {
        let before = SampledPixels::of(&frame);
        how.transform.frame(&mut frame);
        error.add(exact, &before, &frame);
    }
    error
}

/// Where frame `number` of a clip is, from 0: its timecode, or its number from 1.
pub(super) fn place(clip: &Clip, number: usize) -> String {
    let start = clip.timecode.as_deref().and_then(|text| text.parse::<Timecode>().ok());
    let timecode = start.zip(clip.rate().and_then(base)).and_then(|(start, base)| {
        let frame = start.frame(base).ok()? + number as u64;
        Some(Timecode::of_frame(frame, base, start.is_drop()).to_string())
    });
    timecode.unwrap_or_else(|| format!("frame {}", number + 1))
}
