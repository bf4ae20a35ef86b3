//! Pictures within pages: scenes as a camera's signals, and display signals as images for a browser.

use crate::failure::Failure;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use rayon::prelude::*;
use rushlight::camera::Camera;
use rushlight::compare::chart;
use rushlight::frame::{self, Depth, Format, Frame, Info};
pub(crate) use rushlight::screen::Screen;
use std::path::{Path, PathBuf};

/// Pixels across a picture.
pub(crate) const WIDTH: usize = 640;

/// The rows of [`chart`], from the top.
const ROWS: &str = "greys by the stop; the CIE 13.3 samples under D65, and under illuminant A; skin in three depths, each \
                    from tungsten to a cold sky; saturated lights, one a row, from two stops under mid-grey to four over";

/// The still that is taken when none is named.
const FRAME: &str = "frame.exr";

/// The still beside a document, or, for the looks in a folder of a show, beside that.
pub(crate) fn beside(document: &Path) -> Option<PathBuf> {
    let folder = document.parent().unwrap_or(Path::new(""));
    [folder.join(FRAME), folder.join("..").join(FRAME)].into_iter().find(|path| path.is_file())
}

/// The stills that are named, or else the one beside the document.
pub(crate) fn stills(document: &Path, named: &[PathBuf]) -> Vec<PathBuf> {
    if named.is_empty() { beside(document).into_iter().collect() } else { named.to_vec() }
}

/// Signals of a picture, row by row.
pub(crate) struct Scene {
    pub(crate) title: &'static str,
    /// What its rows are, from the top, where that does not show.
    pub(crate) rows: &'static str,
    pub(crate) width: usize,
    pub(crate) signals: Vec<[f64; 3]>,
}

impl Scene {
    pub(crate) fn height(&self) -> usize {
        self.signals.len() / self.width
    }

    /// Named colours through `camera`: `row` pixels to a row, and `gap` under it.
    pub(crate) fn chart(camera: &Camera, row: usize, gap: usize) -> Self {
        let mut signals = Vec::new();
        for colours in chart(camera) {
            let line: Vec<[f64; 3]> = (0..WIDTH).map(|x| colours[x * colours.len() / WIDTH]).collect();
            (0..row).for_each(|_| signals.extend_from_slice(&line));
            signals.extend(std::iter::repeat_n([0.0; 3], gap * WIDTH));
        }
        Self { title: "Chart of greys, samples, skin and lights", rows: ROWS, width: WIDTH, signals }
    }

    /// A still of ACES AP1 light through `camera`, no wider than [`WIDTH`]: the mean of the pixels under each, in light.
    pub(crate) fn frame(camera: &Camera, frame: &Frame) -> Self {
        Self::frame_within(camera, frame, WIDTH)
    }

    /// The same, no wider than `most`.
    pub(crate) fn frame_within(camera: &Camera, frame: &Frame, most: usize) -> Self {
        Self::means(frame, most, |light| camera.encode(light).0)
    }

    /// A still of a camera's signal, no wider than `most`: the mean of the pixels under each.
    pub(crate) fn signal(frame: &Frame, most: usize) -> Self {
        Self::means(frame, most, |signal| signal)
    }

    fn means(frame: &Frame, most: usize, signal: impl Fn([f64; 3]) -> [f64; 3] + Sync) -> Self {
        let (width, height) = (frame.width(), frame.height());
        let across = width.min(most);
        let down = (height * across / width).max(1);
        let pixel = |i: usize| {
            let mean = mean(frame, [i % across, i / across], [across, down]);
            signal(mean).map(|v| if v.is_finite() { v.clamp(0.0, 1.0) } else { 0.0 })
        };
        let signals = (0..across * down).into_par_iter().map(pixel).collect();
        Self { title: "Frame", rows: "", width: across, signals }
    }
}

/// The mean of the pixels of `frame` under the one at `[x, y]` of a picture of so many across and down.
pub(crate) fn mean(frame: &Frame, [x, y]: [usize; 2], [across, down]: [usize; 2]) -> [f64; 3] {
    let span = |at: usize, of: usize, all: usize| at * all / of..((at + 1) * all / of).max(at * all / of + 1);
    let (mut sum, mut count) = ([0.0; 3], 0.0);
    for row in span(y, down, frame.height()) {
        for column in span(x, across, frame.width()) {
            let rgb = frame.rgb(column, row);
            (0..3).for_each(|c| sum[c] += f64::from(rgb[c]));
            count += 1.0;
        }
    }
    sum.map(|v| v / count)
}

/// An image within a page: PNG, or JPEG for a photograph, which is a tenth as long.
pub(crate) fn data_uri(pixels: Vec<[f32; 3]>, width: usize, format: Format) -> Result<String, Failure> {
    let height = pixels.len() / width;
    let depth = Depth::Integer(8);
    let samples = pixels.into_iter().flatten().collect();
    let frame = Frame::new(width, height, false, samples, Info::new(format, depth));
    let file = frame.and_then(|frame| frame::write(&frame, format, depth));
    let file = file.map_err(|e| Failure::new(format!("a picture of the page: {e}")))?;
    let kind = format.name().to_ascii_lowercase();
    Ok(format!("data:image/{kind};base64,{}", STANDARD.encode(file)))
}
