//! Stills and sequences: several frames at work at once, each read, computed and written by one thread, so that reading and
//! writing go on beside computing, and no more frames are held than are at work.

use super::how::How;
use super::plan::{Item, Kind, kind_of};
use super::report::{Broken, Outcome};
use crate::args::{Apply as Args, OnError};
use crate::disk::{maker, read_bytes, write_within};
use crate::failure::Failure;
use crate::progress::Progress;
use rushlight::apply::{Deviation, SampledPixels};
use rushlight::frame::{self, Depth, Format, Frame, ReadOptions, Tags};
use rushlight::slate::Slate;
use std::collections::BTreeSet;
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc;

/// Most frames at work at once, where nothing says how many.
const MOST: usize = 8;

/// What became of one file.
enum Became {
    Done(Deviation, Format, BTreeSet<&'static str>),
    /// It was there already.
    Kept,
    Broken(String),
}

pub(super) fn run(items: &[Item], how: &How, args: &Args) -> Outcome {
    let workers = args.jobs.unwrap_or_else(|| rayon::current_num_threads().min(MOST)).clamp(1, items.len().max(1));
    let (next, stop) = (AtomicUsize::new(0), AtomicBool::new(false));
    let progress = Progress::new(items.len(), "{pos}/{len} frames, {per_sec}, {eta} left");
    let tags = how.tags();
    let (sender, receiver) = mpsc::channel();
    let mut became: Vec<Option<Became>> = items.iter().map(|_| None).collect();
    std::thread::scope(|scope| {
        for _ in 0..workers {
            let (sender, next, stop, tags) = (sender.clone(), &next, &stop, &tags);
            scope.spawn(move || {
                while !stop.load(Ordering::Relaxed) {
                    let at = next.fetch_add(1, Ordering::Relaxed);
                    let Some(item) = items.get(at) else { break };
                    let result = one(item, how, tags, args);
                    if matches!(result, Became::Broken(_)) && args.on_error == OnError::Stop {
                        stop.store(true, Ordering::Relaxed);
                    }
                    if sender.send((at, result)).is_err() {
                        break;
                    }
                }
            });
        }
        drop(sender);
        for (at, result) in receiver {
            if let Became::Broken(why) = &result {
                progress.say(&format!("error: {why}"));
            }
            became[at] = Some(result);
            progress.step();
        }
    });
    progress.end();
    // In the order of the frames, whatever thread had them.
    let mut outcome = Outcome::default();
    for (item, became) in items.iter().zip(became) {
        match became {
            Some(Became::Done(error, format, lost)) => {
                outcome.error.merge(&error);
                outcome.left_out(format.name(), lost);
                outcome.done.push(item.output.clone());
            }
            Some(Became::Kept) => outcome.skipped.push(item.output.clone()),
            Some(Became::Broken(why)) => outcome.broken.push(Broken { file: item.input.clone(), why }),
            None => outcome.not_begun += 1,
        }
    }
    outcome
}

fn one(item: &Item, how: &How, tags: &Tags, args: &Args) -> Became {
    if args.resume && item.output.is_file() {
        return Became::Kept;
    }
    if item.missing {
        return Became::Broken(format!("{}: missing", item.input.display()));
    }
    match still(item, how, tags, args) {
        Ok((error, format, lost)) => Became::Done(error, format, lost),
        Err(failure) => Became::Broken(failure.words()),
    }
}

fn still(
    item: &Item,
    how: &How,
    tags: &Tags,
    args: &Args,
) -> Result<(Deviation, Format, BTreeSet<&'static str>), Failure> {
    let (picture, error) = picture(item, how, args)?;
    let Kind::Still(format) = kind_of(&item.output)? else {
        return Err(Failure::new(format!("{}: not a still", item.output.display())));
    };
    let lost = frame::unsupported_by(&picture.info, format);
    write_within(&item.output, bytes(picture, format, &item.output, (tags, &how.slate), args)?)?;
    Ok((error, format, lost))
}

/// A still as it is to be shown.
pub(super) fn picture(item: &Item, how: &How, args: &Args) -> Result<(Frame, Deviation), Failure> {
    let bytes = read_bytes(&item.input)?;
    let options = ReadOptions { layer: args.layer.clone(), limits: args.memory.limits() };
    let read = frame::read(&bytes, &options);
    let mut picture = read.map_err(|e| Failure::picture(&item.input, &e))?;
    how.look_at(&item.input, &picture);
    let place = item.number.map(|number| format!("frame {number}"));
    let error = through(&mut picture, how, place.as_deref());
    Ok((picture, error))
}

/// Applies the transform, and puts on the text that is asked for; gives the transform's error against the exact path.
/// `place` is the picture's timecode or number.
pub(super) fn through(picture: &mut Frame, how: &How, place: Option<&str>) -> Deviation {
    let mut error = Deviation::default();
    let before = how.burn_in.as_ref().filter(|burn| burn.split).map(|_| picture.clone());
    match &how.exact {
        Some(exact) => {
            let before = SampledPixels::of(picture);
            how.transform.frame(picture);
            error.add(exact, &before, picture);
        }
        None => how.transform.frame(picture),
    }
    if let Some(burn) = &how.burn_in {
        burn.draw(picture, before.as_ref(), place);
    }
    error
}

/// The bytes of a still that is to be `path`.
pub(super) fn bytes(
    mut picture: Frame,
    format: Format,
    path: &Path,
    (tags, slate): (&Tags, &str),
    args: &Args,
) -> Result<Vec<u8>, Failure> {
    let depth = args.depth.map_or_else(|| depth(format, &picture), |d| d.depth());
    picture.associate(format == Format::Exr);
    picture.info.tags = tags.clone();
    picture.info.maker = Some(maker());
    frame::describe(&mut picture.info, slate, |old| Slate::parse(old).is_some());
    let written = frame::write(&picture, format, depth);
    written.map_err(|e| Failure::new(format!("cannot write {}: {e}", path.display())))
}

/// As deep as the input, where the format has that, and not below what a display's signal needs.
fn depth(format: Format, picture: &Frame) -> Depth {
    let eight = picture.info.depth == Depth::Integer(8);
    match format {
        Format::Exr if matches!(picture.info.depth, Depth::Float | Depth::Integer(32)) => Depth::Float,
        Format::Exr => Depth::Half,
        Format::Jpeg => Depth::Integer(8),
        Format::Dpx => Depth::Integer(10),
        Format::Tiff | Format::Png if eight => Depth::Integer(8),
        Format::Tiff | Format::Png => Depth::Integer(16),
    }
}

/// What the stills are, in words: format and tags; nothing where they differ.
pub(super) fn written(outputs: &[impl AsRef<Path>], tags: &Tags) -> Option<String> {
    let Ok(Kind::Still(first)) = kind_of(outputs.first()?.as_ref()) else { return None };
    if !outputs.iter().all(|o| kind_of(o.as_ref()).is_ok_and(|k| k == Kind::Still(first))) {
        return None;
    }
    let mut words = Vec::new();
    if let (Some(cicp), Format::Png) = (tags.cicp, first) {
        words.push(format!("cICP {}-{}-{}-{}", cicp.primaries, cicp.transfer, cicp.matrix, u8::from(cicp.full_range)));
    }
    if tags.srgb && first == Format::Png {
        words.push("sRGB".to_owned());
    } else if tags.icc.is_some() && matches!(first, Format::Png | Format::Tiff | Format::Jpeg) {
        words.push("an ICC profile".to_owned());
    }
    if tags.chromaticities.is_some() && first == Format::Exr {
        words.push("chromaticities".to_owned());
    }
    let said = if words.is_empty() { "without colour tags".to_owned() } else { format!("with {}", words.join(", ")) };
    Some(format!("{}, {said}", first.name()))
}
