//! Frames of a chart, and the light that it was shot in.

use crate::args::{Chart as Args, Memory};
use crate::disk::{read_bytes, read_text};
use crate::failure::Failure;
use crate::frames::is_still;
use rushlight::camera::Camera;
use rushlight::chart::light::Light;
use rushlight::chart::measure::Shot;
use rushlight::chart::read::view;
use rushlight::chart::{Chart, ChartError};
use rushlight::files::sha256;
use rushlight::frame::{self, Frame, ReadOptions};
use rushlight::measure::Claim;
use std::path::Path;

/// A frame that was read.
pub(crate) struct Read {
    pub(crate) shot: Shot,
    pub(crate) sha256: String,
    pub(crate) frame: Frame,
}

/// How frames are opened.
#[derive(Clone, Copy)]
pub(crate) struct Input<'a> {
    pub(crate) layer: Option<&'a str>,
    pub(crate) memory: &'a Memory,
    /// The exposure index, for a clip that is known.
    pub(crate) ei: Option<f64>,
}

impl<'a> Input<'a> {
    pub(super) fn of(args: &'a Args) -> Self {
        Self { layer: args.layer.as_deref(), memory: &args.memory, ei: args.ei }
    }

    /// A still, and the SHA-256 of its file.
    pub(super) fn opened(&self, path: &Path) -> Result<(Frame, String), Failure> {
        if !is_still(path) && path.is_file() {
            return Err(Failure::new(format!("{}: it must be a still: EXR, TIFF, PNG or DPX", path.display())));
        }
        let bytes = read_bytes(path)?;
        let options = ReadOptions { layer: self.layer.map(str::to_owned), limits: self.memory.limits() };
        let frame = frame::read(&bytes, &options).map_err(|e| Failure::picture(path, &e))?;
        Ok((frame, sha256(&bytes)))
    }

    /// Reads a frame and the chart in it, by a curve and the camera of a show where one is known.
    pub(crate) fn read(
        &self,
        path: &Path,
        chart: &Chart,
        light: &Light,
        (claim, camera): (&Claim, Option<&Camera>),
        corners: Option<[[f64; 2]; 4]>,
    ) -> Result<Read, Failure> {
        let (frame, sha256) = self.opened(path)?;
        let reference = chart.reference(light).map_err(|why| Failure::new(why.message))?;
        let clip = camera.zip(self.ei).and_then(|(c, ei)| c.rating(ei)).and_then(|r| r.clip);
        let name = path.display().to_string();
        let view = view(&frame, chart, &reference, claim, clip, corners)
            .map_err(|why| Failure::new(format!("{name}: {why}")))?;
        Ok(Read { shot: Shot { name, light: light.clone(), view }, sha256, frame })
    }
}

/// A light by name, or from a CSV file of its spectrum.
pub(crate) fn light(option: &str, text: &str) -> Result<Light, Failure> {
    if !text.to_ascii_lowercase().ends_with(".csv") {
        return Light::parse(text).map_err(|why| Failure::new(format!("{option}: {why}")));
    }
    let name = Path::new(text).file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
    Light::from_csv(&name, &read_text(Path::new(text))?).map_err(|why| match why {
        ChartError::File(line, why) if line > 0 => Failure::new(format!("{text}:{line}: {why}")),
        why => Failure::new(format!("{text}: {why}")),
    })
}
