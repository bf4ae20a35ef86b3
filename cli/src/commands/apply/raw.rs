//! Raw frames from standard input to standard output, for the pipes of other programs.

use super::how::How;
use super::pump::pump;
use crate::failure::Failure;
use crate::ffmpeg::Layout;
use crate::progress::Progress;
use crate::system::widen;
use rushlight::apply::planes;
use rushlight::camera::Range;
use rushlight::frame::Limits;
use std::io::{self, Read, Write};

/// Size and layout of raw frames.
#[derive(Debug, Clone)]
pub(super) struct Raw {
    width: usize,
    height: usize,
    layout: Layout,
    /// Bytes of a frame.
    size: usize,
}

impl Raw {
    /// Reads WIDTHxHEIGHT, or WIDTHxHEIGHT:LAYOUT.
    pub(super) fn parse(text: &str, limits: Limits) -> Result<Self, Failure> {
        let fail = |why: String| Failure::new(format!("--raw: `{text}`: {why}"));
        let (size, name) = text.split_once(':').unwrap_or((text, "gbrp16le"));
        let number = |text: &str| text.parse::<usize>().ok().filter(|n| (1..=1 << 16).contains(n));
        let Some((width, height)) = size.split_once('x').and_then(|(w, h)| Some((number(w)?, number(h)?))) else {
            return Err(fail(
                "it must be WIDTHxHEIGHT, such as 3840x2160, or with a layout, 3840x2160:gbrp16le".to_owned(),
            ));
        };
        let Some(layout) = Layout::named(name) else {
            return Err(fail(format!(
                "the layout `{name}` is not known: gbrp, gbrp10le, gbrp12le, gbrp14le, gbrp16le, or yuv444p, and both with alpha as gbrap and yuva444p, with the same ends"
            )));
        };
        let floats = (width * height).checked_mul(4 * layout.planes.channels());
        let within = floats.filter(|bytes| *bytes <= limits.memory);
        let size = within.and(layout.planes.size(width * height));
        size.map(|size| Self { width, height, layout, size }).ok_or_else(|| fail("--max-memory allows more".to_owned()))
    }
}

/// What became of the frames of a pipe.
#[derive(Debug)]
pub(super) struct Piped {
    /// Frames that were written.
    pub(super) frames: usize,
    /// Why the input ended before its end.
    pub(super) broken: Option<Failure>,
}

/// Frames until the input ends.
pub(super) fn run(raw: &Raw, how: &How) -> Result<Piped, Failure> {
    let range = how.display.as_ref().map_or(Range::Full, |d| d.settings().range);
    let (mut input, mut output) = (io::stdin(), io::stdout());
    let progress = Progress::new(0, "{pos} frames, {per_sec}");
    if let Some(files) = super::files::Files::standard() {
        let done = files.run(raw.layout.planes, raw.width * raw.height, &progress, |from, to, pixels| {
            let planes = raw.layout.planes;
            planes::apply(&how.transform, (planes, from), (planes, to), range, pixels);
        });
        progress.end();
        return done;
    }
    widen(&input);
    widen(&output);
    let pumped = pump(
        [raw.size; 2],
        |frame| whole(&mut input, frame),
        |frame| output.write_all(frame).and_then(|()| output.flush()),
        |_, from, to| {
            let planes = raw.layout.planes;
            planes::apply(&how.transform, (planes, from), (planes, to), range, raw.width * raw.height);
            progress.step();
        },
    );
    progress.end();
    pumped.written.map_err(|e| unwritten(&e))?;
    Ok(Piped { frames: pumped.frames, broken: pumped.read.err().map(|e| unread(&e)) })
}

pub(super) fn unread(why: &io::Error) -> Failure {
    Failure::new(format!("cannot read standard input: {why}"))
}

pub(super) fn unwritten(why: &io::Error) -> Failure {
    Failure::new(format!("cannot write to standard output: {why}"))
}

/// What is wrong with a last frame of so many bytes.
pub(super) fn cut_short(bytes: usize, all: usize) -> io::Error {
    io::Error::other(format!("the last frame has {bytes} bytes of {all}: is --raw its size?"))
}

/// Fills a frame; false at the end of the input.
fn whole(input: &mut impl Read, frame: &mut [u8]) -> io::Result<bool> {
    let mut filled = 0;
    while filled < frame.len() {
        match input.read(&mut frame[filled..]) {
            Ok(0) if filled == 0 => return Ok(false),
            Ok(0) => return Err(cut_short(filled, frame.len())),
            Ok(n) => filled += n,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
    Ok(true)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_and_layouts_are_read() {
        assert_eq!(Raw::parse("4x2", Limits::default()).unwrap().size, 48);
        assert_eq!(Raw::parse("4x2:gbrp", Limits::default()).unwrap().size, 24);
        assert_eq!(Raw::parse("4x2:yuv444p10le", Limits::default()).unwrap().size, 48);
        for bad in ["4", "4x", "0x2", "4x2:nv12", "4x2:gbrp17le", "99999999999x2", "65536x65536"] {
            let Err(Failure::Words(why)) = Raw::parse(bad, Limits::default()) else { panic!("{bad} is taken") };
            assert!(why.starts_with(&format!("--raw: `{bad}`: ")), "{why}");
        }
    }

    #[test]
    fn a_frame_is_whole_or_the_end() {
        let mut frame = [0; 4];
        let mut input = &b"abcdef"[..];
        assert!(whole(&mut input, &mut frame).unwrap());
        assert!(whole(&mut input, &mut frame).unwrap_err().to_string().contains("2 bytes of 4"));
        assert!(!whole(&mut &b""[..], &mut frame).unwrap());
    }
}
