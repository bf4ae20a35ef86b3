//! Between stills and clips: a sequence becomes a clip, a clip becomes a sequence.

use super::clips;
use super::encoder::Choice;
use super::how::How;
use super::plan::{Item, Kind, Pattern, check_ours, kind_of};
use super::report::{Broken, Outcome};
use super::stills;
use crate::args::{Apply as Args, OnError};
use crate::disk::{Pending, write_within};
use crate::failure::Failure;
use crate::ffmpeg::{Clip, Decoder, Encoder};
use crate::progress::Progress;
use rayon::prelude::*;
use rushlight::apply::{Deviation, planes};
use rushlight::camera::Range;
use rushlight::frame::{self, Format, Frame};
use std::path::Path;
use std::sync::mpsc::sync_channel;

/// Frames a second where nothing says how many (common practice, no source).
const RATE: &str = "24";

fn at_once(args: &Args) -> usize {
    args.jobs.unwrap_or_else(rayon::current_num_threads).clamp(1, 8)
}

/// The rate as ffmpeg takes it: 23.976, 29.97 and 59.94 stand for their ratios.
pub(super) fn rate(args: &Args) -> Result<String, Failure> {
    let given = args.rate.as_deref().unwrap_or(RATE);
    let ratio = match given {
        "23.976" | "23.98" => "24000/1001",
        "29.97" => "30000/1001",
        "47.952" | "47.95" => "48000/1001",
        "59.94" => "60000/1001",
        "119.88" => "120000/1001",
        other => other,
    };
    let (over, under) = ratio.split_once('/').unwrap_or((ratio, "1"));
    let value = over.parse::<f64>().ok().zip(under.parse::<f64>().ok()).map(|(over, under)| over / under);
    match value.filter(|v| v.is_finite() && (0.01..=1000.0).contains(v)) {
        Some(_) => Ok(ratio.to_owned()),
        None => Err(Failure::new(format!(
            "--rate: `{given}`: it must be frames a second, such as 25, 23.976 or 24000/1001"
        ))),
    }
}

/// A sequence into one clip.
pub(super) fn into_clip(items: &[Item], how: &How, choice: &Choice, rate: &str, args: &Args) -> Outcome {
    let mut outcome = Outcome::default();
    let Some(first) = items.first() else { return outcome };
    if args.resume && first.output.is_file() {
        outcome.skipped.push(first.output.clone());
        return outcome;
    }
    match sequence(items, how, choice, rate, args, &mut outcome) {
        Ok(frames) => {
            outcome.done.push(first.output.clone());
            outcome.frames = frames;
            let out = items.len() - frames;
            if out > 0 {
                outcome.notes.push(format!("{out} frames are missing: the clip is shorter by as many"));
            }
            if args.rate.is_none() {
                outcome.notes.push(format!("{RATE} frames a second (change it with --rate)"));
            }
        }
        Err(failure) => {
            let why = failure.words();
            crate::output::say(&format!("error: {why}"));
            outcome.broken.push(Broken { file: first.output.clone(), why });
        }
    }
    outcome
}

fn sequence(
    items: &[Item],
    how: &How,
    choice: &Choice,
    rate: &str,
    args: &Args,
    outcome: &mut Outcome,
) -> Result<usize, Failure> {
    let output = &items[0].output;
    let unwritten = |why: String| Failure::new(format!("cannot write {}: {why}", output.display()));
    let pending = Pending::new(output)?;
    let range = how.display.as_ref().map_or(Range::Full, |d| d.settings().range);
    let progress = Progress::new(items.len(), "{pos}/{len} frames, {per_sec}, {eta} left");
    let mut encoder: Option<(Encoder, [usize; 2])> = None;
    let (mut frames, mut lost) = (0, false);
    let mut choice = choice;
    for part in items.chunks(at_once(args)) {
        let made: Vec<Result<(Frame, Deviation), Failure>> = part
            .par_iter()
            .map(|item| match item.missing {
                true => Err(Failure::new(format!("{}: missing", item.input.display()))),
                false => stills::picture(item, how, args),
            })
            .collect();
        for (item, made) in part.iter().zip(made) {
            progress.step();
            let wrong = |frame: &Frame, [width, height]: [usize; 2]| {
                let (w, h) = (frame.width(), frame.height());
                (w != width || h != height).then(|| {
                    Failure::new(format!(
                        "{}: {w} x {h} pixels where the first has {width} x {height}",
                        item.input.display()
                    ))
                })
            };
            let size = encoder.as_ref().map(|(_, size)| *size);
            let made = made.and_then(|made| size.and_then(|size| wrong(&made.0, size)).map_or(Ok(made), Err));
            let (mut frame, error) = match made {
                Ok(made) => made,
                Err(failure) if args.on_error == OnError::Skip => {
                    let why = failure.words();
                    progress.say(&format!("error: {why}"));
                    outcome.broken.push(Broken { file: item.input.clone(), why });
                    continue;
                }
                Err(failure) => return Err(failure),
            };
            outcome.error.merge(&error);
            outcome.left_out("a clip", frame::summary(&frame.info));
            let size = [frame.width(), frame.height()];
            if encoder.is_none() {
                choice = choice.of(frame.alpha());
            }
            let kept = choice.layout.planes.alpha;
            lost |= frame.alpha() && !kept;
            frame.associate(!kept);
            let (to, _) = match &mut encoder {
                Some(there) => there,
                none => {
                    let clip = Clip::of_stills(size[0], size[1], choice.layout.clone(), rate);
                    none.insert((choice.start(None, &clip, &how.slate, pending.path())?, size))
                }
            };
            let planes = choice.layout.planes;
            let bytes = planes.size(size[0] * size[1]).ok_or_else(|| unwritten("more than is read".to_owned()))?;
            let mut raw = vec![0; bytes];
            planes::store(&frame, (planes, &mut raw), range);
            if to.give(&raw).is_err() {
                // The program's own error message is more precise.
                let (ended, _) = encoder.take().expect("it is there");
                return Err(unwritten(ended.end().err().unwrap_or_else(|| "ffmpeg ended early".to_owned())));
            }
            frames += 1;
        }
    }
    progress.end();
    let Some((encoder, _)) = encoder else { return Err(unwritten("no frame of it can be read".to_owned())) };
    encoder.end().map_err(unwritten)?;
    pending.finish()?;
    outcome.encoded.insert(choice.said.clone());
    if lost {
        outcome.notes.push("the alpha of the stills is dropped: transparent parts are shown over black".to_owned());
    }
    Ok(frames)
}

/// Clips into sequences.
pub(super) fn out_of_clips(items: &[Item], how: &How, args: &Args) -> Outcome {
    let mut outcome = Outcome::default();
    for (i, item) in items.iter().enumerate() {
        let before = outcome.broken.len();
        if let Err(failure) = clip(item, how, args, &mut outcome) {
            let why = failure.words();
            crate::output::say(&format!("error: {why}"));
            outcome.broken.push(Broken { file: item.input.clone(), why });
        }
        if outcome.broken.len() > before && args.on_error == OnError::Stop {
            outcome.not_begun = items.len() - i - 1;
            break;
        }
    }
    outcome
}

fn clip(item: &Item, how: &How, args: &Args, outcome: &mut Outcome) -> Result<(), Failure> {
    let fail = |why: String| Failure::new(format!("cannot read {}: {why}", item.input.display()));
    let mut clip = clips::open(&item.input, args.memory.limits())?;
    let pattern = Pattern::of(&item.output)?.ok_or_else(|| {
        Failure::new(format!("{}: a file has this very name: it is not replaced", item.output.display()))
    })?;
    let Kind::Still(format) = kind_of(&item.output)? else {
        return Err(Failure::new(format!("{}: not a still", item.output.display())));
    };
    if matches!(format, Format::Jpeg | Format::Dpx) {
        clip.without_alpha(&item.input);
    }
    if clip.varies {
        clip.notes.push(format!("{}: its frame rate varies: each frame is written once", item.input.display()));
    }
    let size = clip.layout.planes.size(clip.width * clip.height).ok_or_else(|| fail("more than is read".to_owned()))?;
    let mut decoder = Decoder::start(&item.input, &clip)?;
    let progress = Progress::new(clip.frames.unwrap_or(0), "{pos}/{len} frames, {per_sec}, {eta} left");
    let (sender, receiver) = sync_channel::<Vec<u8>>(2);
    let (stop, mut number) = (args.on_error == OnError::Stop, args.start);
    let mut frames = 0;
    let taken = std::thread::scope(|scope| {
        let decoder = &mut decoder;
        let reader = scope.spawn(move || -> std::io::Result<()> {
            loop {
                let mut frame = vec![0; size];
                if !decoder.next(&mut frame)? || sender.send(frame).is_err() {
                    return Ok(());
                }
            }
        });
        loop {
            let part: Vec<Vec<u8>> = receiver.iter().take(at_once(args)).collect();
            if part.is_empty() {
                break;
            }
            let first = frames;
            let write = |(i, raw): (usize, Vec<u8>)| {
                let of = (&clip, first + i);
                still(&raw, of, format, &pattern.file(number + i as u64), how, args)
            };
            let made: Vec<_> = part.into_par_iter().enumerate().map(write).collect();
            let mut broken = false;
            for made in made {
                let path = pattern.file(number);
                (number, frames) = (number + 1, frames + 1);
                progress.step();
                match made {
                    Ok(Some(error)) => {
                        outcome.error.merge(&error);
                        outcome.done.push(path);
                    }
                    Ok(None) => outcome.skipped.push(path),
                    Err(failure) => {
                        let why = failure.words();
                        progress.say(&format!("error: {why}"));
                        outcome.broken.push(Broken { file: path, why });
                        broken = true;
                    }
                }
            }
            if broken && stop {
                break;
            }
        }
        drop(receiver);
        reader.join().unwrap_or_else(|_| Err(std::io::Error::other("a thread ended")))
    });
    progress.end();
    let whole = outcome.broken.is_empty();
    let wrong = decoder.end().or_else(|| taken.err().map(|e| e.to_string()));
    outcome.notes.extend(clip.notes.iter().cloned());
    let short = clip.frames.filter(|all| frames < *all && whole);
    match (wrong.filter(|_| whole), short) {
        (why, Some(all)) => {
            let why = why.map(|w| format!(" ({w})")).unwrap_or_default();
            Err(fail(format!("it has {frames} whole frames, but states {all}{why}")))
        }
        (Some(why), None) => Err(fail(why)),
        (None, None) if frames == 0 => Err(fail("ffmpeg gave no frame of it".to_owned())),
        _ => Ok(()),
    }
}

/// One frame of a clip; none where it is there already.
fn still(
    raw: &[u8],
    (clip, number): (&Clip, usize),
    format: Format,
    path: &Path,
    how: &How,
    args: &Args,
) -> Result<Option<Deviation>, Failure> {
    if args.resume && path.is_file() {
        return Ok(None);
    }
    check_ours(path, args)?;
    let mut frame = clip.frame(raw).map_err(|e| Failure::new(format!("{}: {e}", path.display())))?;
    let error = stills::through(&mut frame, how, Some(&clips::place(clip, number)));
    let bytes = stills::bytes(frame, format, path, (&how.tags(), &how.slate), args)?;
    write_within(path, bytes)?;
    Ok(Some(error))
}

/// Whether the output is EXR.
pub(super) fn is_exr(path: &Path) -> bool {
    kind_of(path).is_ok_and(|kind| kind == Kind::Still(Format::Exr))
}
