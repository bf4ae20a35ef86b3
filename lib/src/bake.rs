//! Baking: compiled pipelines sampled into cubes, audited, written as text, and listed in a manifest.
//!
//! Nothing here touches a disk: files are text, the same bytes on every run, thread count and machine.

mod manifest;

pub use manifest::{Manifest, SCHEMA};

use crate::audit::{Audit, audit};
use crate::cube::{Cube, Interpolation, Reader};
use crate::format::clf::ProcessList;
use crate::format::cube::{DEFAULT_DIGITS, WriteOptions, write_cube};
use crate::format::device::Device;
use crate::invalid::Invalid;
use crate::show::{Job, Show};

/// Formats of a baked file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Format {
    /// The Cube LUT Specification 1.0.
    #[default]
    Cube,
    /// The Common LUT Format, version 3.
    Clf,
}

impl Format {
    /// The name, which is also the file extension.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Cube => "cube",
            Self::Clf => "clf",
        }
    }
}

/// How cubes are baked and written.
#[derive(Debug, Clone, Copy)]
pub struct Options<'o> {
    /// Who reads them.
    pub reader: Reader,
    /// Whether they are compared with the exact path.
    pub audit: bool,
    /// Decimals of a .cube.
    pub digits: usize,
    /// No comments in a .cube.
    pub plain: bool,
    /// The box that they are for, by its name in the show.
    pub device: Option<(&'o str, &'o Device)>,
}

impl Default for Options<'_> {
    fn default() -> Self {
        Self { reader: Reader::default(), audit: true, digits: DEFAULT_DIGITS, plain: false, device: None }
    }
}

/// A baked cube.
#[derive(Debug, Clone)]
pub struct Baked {
    /// The names of its look, camera and display.
    pub job: Job,
    /// The table.
    pub cube: Cube,
    /// How far it strays from the exact path, where that was asked for.
    pub audit: Option<Audit>,
    stem: String,
    title: String,
    comments: Vec<String>,
}

/// A file to be written.
#[derive(Debug, Clone)]
pub struct BakedFile {
    /// Its format.
    pub format: Format,
    /// Its name.
    pub name: String,
    /// Its contents.
    pub text: String,
}

/// Checks what can be known of a job's files before it is baked.
///
/// # Errors
/// Limits of the device that the file would break, each under its key in the show.
pub fn preflight(show: &Show, job: &Job, format: Format, options: &Options<'_>) -> Result<(), Vec<Invalid>> {
    let Some((device, limits)) = options.device else { return Ok(()) };
    let title = title(show, job);
    let written = WriteOptions { title: &title, digits: options.digits, ..WriteOptions::default() };
    limits
        .check_file(&file_name(&show.file_stem(job), format), job.points, &written)
        .map_err(|refused| of_device(device, refused))
}

/// Bakes one cube of a show.
///
/// # Errors
/// A job that the show does not have, a look that does not fit its display, a size that no cube has, values that the
/// device does not take.
pub fn bake(show: &Show, job: &Job, options: &Options<'_>) -> Result<Baked, Vec<Invalid>> {
    let pipeline = show.pipeline(&job.look, &job.camera, &job.display)?;
    let cube = Cube::sample(job.points, |signal| pipeline.apply(signal))?;
    if let Some((device, limits)) = options.device {
        limits.check_values(&cube, &WriteOptions::default()).map_err(|refused| of_device(device, refused))?;
    }
    let audit = options.audit.then(|| audit(&pipeline, &cube));
    let mut comments = comments(show, job);
    if let Some(audit) = &audit {
        comments.extend(
            options
                .reader
                .interpolations()
                .iter()
                .map(|kind| format!("audit: plausible colours, {}: {}", kind.name(), audit.line(*kind))),
        );
    }
    Ok(Baked { job: job.clone(), cube, audit, stem: show.file_stem(job), title: title(show, job), comments })
}

impl Baked {
    /// The file's name in a format.
    pub fn file_name(&self, format: Format) -> String {
        file_name(&self.stem, format)
    }

    /// The cube as a file.
    ///
    /// # Errors
    /// Decimals that a .cube cannot have.
    pub fn file(&self, format: Format, options: &Options<'_>) -> Result<BakedFile, Vec<Invalid>> {
        let text = match format {
            Format::Cube => {
                let written = WriteOptions {
                    title: &self.title,
                    comments: &self.comments,
                    digits: options.digits,
                    plain: options.plain,
                    clamp: false,
                };
                write_cube(&self.cube, &written)?
            }
            Format::Clf => {
                // A reader that is not known finds its own way; the file can name only one.
                let kind = options.reader.interpolations().first().copied().unwrap_or(Interpolation::Tetrahedral);
                let tables = [self.cube.clone().into()];
                ProcessList::of_tables(&*self.stem, &*self.title, self.comments.clone(), &tables, kind)?.to_xml()
            }
        };
        Ok(BakedFile { format, name: self.file_name(format), text })
    }
}

fn file_name(stem: &str, format: Format) -> String {
    format!("{stem}.{}", format.name())
}

/// Limits that were broken, under their keys in the show.
pub(crate) fn of_device(device: &str, refused: Vec<Invalid>) -> Vec<Invalid> {
    refused.into_iter().map(|r| r.within(&format!("devices.{device}"))).collect()
}

/// The title in a cube's file.
fn title(show: &Show, job: &Job) -> String {
    let look = &show.looks()[&job.look].item;
    format!("{}, {} r{}, {} to {}", show.title(), job.look, look.revision(), job.camera, job.display)
}

/// What a cube's file says of where it comes from.
fn comments(show: &Show, job: &Job) -> Vec<String> {
    let look = &show.looks()[&job.look];
    let (camera, display) = (&show.cameras()[&job.camera], &show.displays()[&job.display]);
    let mut lines = vec![
        format!("made by rushlight {}", env!("CARGO_PKG_VERSION")),
        format!("show: {}", show.title()),
        format!("look: {}, revision {}", look.item.title(), look.item.revision()),
        format!("camera: {} ({})", camera.label, camera.terms),
        format!("display: {} ({})", display.label, display.terms),
    ];
    lines.extend(look.item.sources().iter().map(|s| format!("source: {} sha256 {}", s.file, s.sha256)));
    lines
}
