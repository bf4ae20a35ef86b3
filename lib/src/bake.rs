//! Baking: compiled pipelines sampled into cubes, audited, written as text, and listed in a manifest.
//!
//! Nothing here touches a disk: files are text, the same bytes on every run, thread count and machine.

mod header;
mod manifest;

pub use header::made_for;
pub use manifest::{AuditRecord, CubeRecord, MANIFEST, MadeFor, Manifest, SCHEMA, ShotRecord, Tool, schema};

use crate::advice::{Advice, Made, advise};
use crate::audit::{Audit, audit_shaped};
use crate::cube::{Cube, Interpolation, Reader, SIZES, ShapedCube, Table};
use crate::fit::{MOST_POINTS, Report, fit};
use crate::format::clf::ProcessList;
use crate::format::cube::{DEFAULT_DIGITS, WriteOptions, write_cube};
use crate::format::device::Device;
use crate::invalid::{Invalid, Refusals};
use crate::shaper::shaper;
use crate::show::{Job, Named};

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
    /// Every format.
    pub const ALL: [Self; 2] = [Self::Cube, Self::Clf];

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
    /// The interpolation of the box that reads them.
    pub reader: Reader,
    /// Whether nodes are fitted for the least error, rather than sampled.
    pub fit: bool,
    /// Whether curves are put in front of the cube, which only a CLF can contain.
    pub shaper: bool,
    /// Whether the cubes are compared with the exact path.
    pub audit: bool,
    /// Decimals of a .cube. With fewer than [`DEFAULT_DIGITS`] the error is that of the rounded nodes.
    pub digits: usize,
    /// No comments in a .cube.
    pub plain: bool,
    /// The device of the show that they are for.
    pub device: Option<Named<'o, Device>>,
}

impl Default for Options<'_> {
    fn default() -> Self {
        Self {
            reader: Reader::default(),
            fit: false,
            shaper: false,
            audit: true,
            digits: DEFAULT_DIGITS,
            plain: false,
            device: None,
        }
    }
}

/// A baked cube: its job and options, the table, and its error.
#[derive(Debug, Clone)]
pub struct Baked<'s> {
    job: Job<'s>,
    options: Options<'s>,
    table: ShapedCube,
    fit: Option<Report>,
    audit: Option<Audit>,
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

/// The reason why a .cube cannot have a shaper.
const NO_SHAPER: &str = "a .cube holds a cube or curves, not both: write CLF alone (--format clf)";

/// Checks a job before it is baked.
///
/// # Errors
/// A shaper that the format cannot have, a size that cannot be fitted, limits of the device that the file would exceed; each
/// under its key in the show.
pub fn preflight(job: &Job<'_>, format: Format, options: &Options<'_>) -> Result<(), Refusals> {
    if options.shaper && format != Format::Clf {
        return Err(Invalid::new("shaper", NO_SHAPER).into());
    }
    if options.fit && job.points() > MOST_POINTS {
        let message = format!("takes {MOST_POINTS} points at most, and {} are asked for", job.points());
        return Err(Invalid::new("fit", message).into());
    }
    let Some(device) = options.device else { return Ok(()) };
    let title = job.title();
    let written = WriteOptions { title: &title, digits: options.digits, ..WriteOptions::default() };
    device.item().check_file(&file_name(job, format), job.points(), &written).map_err(|refused| device.refused(refused))
}

/// Bakes one cube of a show.
///
/// # Errors
/// A look that does not fit its display, a size that a cube cannot have, values that the device does not accept.
pub fn bake<'s>(job: &Job<'s>, options: &Options<'s>) -> Result<Baked<'s>, Refusals> {
    let pipeline = job.pipeline()?;
    let curves = options.shaper.then(|| shaper(&pipeline));
    let (table, report) = if options.fit {
        let fitted = fit(&pipeline, job.points(), options.reader, curves.as_ref())?;
        (fitted.table, Some(fitted.report))
    } else {
        let sampled = match curves {
            None => pipeline.cube(job.points())?.into(),
            Some(curves) => ShapedCube::sample(curves, job.points(), |signal| pipeline.apply(signal).0)?,
        };
        (sampled, None)
    };
    if let Some(device) = options.device {
        let checked = device.item().check_values(table.cube(), &WriteOptions::default());
        checked.map_err(|refused| device.refused(refused))?;
    }
    // More decimals change no figure that is printed.
    let written = (options.digits < DEFAULT_DIGITS).then(|| rounded(&table, options.digits)).transpose()?;
    let audit = options.audit.then(|| audit_shaped(&pipeline, written.as_ref().unwrap_or(&table)));
    Ok(Baked { job: *job, options: *options, table, fit: report, audit })
}

/// The table as a file of so many decimals holds it.
fn rounded(table: &ShapedCube, digits: usize) -> Result<ShapedCube, Refusals> {
    let scale = (0..digits).fold(1.0, |scale, _| scale * 10.0);
    let cube = table.cube();
    let nodes = cube.nodes().iter().map(|rgb| rgb.map(|v| (v * scale).round() / scale)).collect();
    ShapedCube::new(table.shaper().cloned(), Cube::new(cube.size(), cube.domain(), nodes)?)
}

impl<'s> Baked<'s> {
    /// The job that it was baked from.
    pub const fn job(&self) -> &Job<'s> {
        &self.job
    }

    /// The options of baking and writing.
    pub const fn options(&self) -> &Options<'s> {
        &self.options
    }

    /// The table.
    pub const fn table(&self) -> &ShapedCube {
        &self.table
    }

    /// The result of the fit, if one was asked for.
    pub const fn fit(&self) -> Option<Report> {
        self.fit
    }

    /// Its error against the exact path, if that was asked for.
    pub const fn audit(&self) -> Option<&Audit> {
        self.audit.as_ref()
    }

    /// The file's name in a format.
    pub fn file_name(&self, format: Format) -> String {
        file_name(&self.job, format)
    }

    /// The slate of the file.
    fn comments(&self) -> Vec<String> {
        let mut comments = crate::slate::lines(&self.job);
        comments.extend(self.fit.map(|r| fit_line(&r)));
        if let Some(audit) = &self.audit {
            let kinds = self.options.reader.interpolations().iter();
            let said = |kind: &Interpolation| {
                format!("error: colours that a camera meets, {}: {}", kind.name(), audit.line(*kind))
            };
            comments.extend(kinds.map(said));
        }
        comments
    }

    /// The cube as a file.
    ///
    /// # Errors
    /// Decimals that a .cube cannot have.
    pub fn file(&self, format: Format) -> Result<BakedFile, Refusals> {
        let (options, title, comments) = (&self.options, self.job.title(), self.comments());
        let text = match format {
            Format::Cube => {
                let written = WriteOptions {
                    title: &title,
                    comments: &comments,
                    digits: options.digits,
                    plain: options.plain,
                    clamp: false,
                };
                if self.table.shaper().is_some() {
                    return Err(Invalid::new("shaper", NO_SHAPER).into());
                }
                write_cube(self.table.cube(), &written)?
            }
            Format::Clf => {
                // A reader that is not known finds its own way; the file can name only one.
                let kind = options.reader.interpolations().first().copied().unwrap_or(Interpolation::Tetrahedral);
                let front = self.table.shaper().cloned().map(Table::from);
                let tables: Vec<Table> = front.into_iter().chain([self.table.cube().clone().into()]).collect();
                ProcessList::of_tables(&*self.job.file_stem(), &*title, comments, &tables, kind)?.to_xml()
            }
        };
        Ok(BakedFile { format, name: self.file_name(format), text })
    }
}

/// The name of a cube's file with the revision of its look taken out: the same for a cube of every revision.
pub fn of_any_revision(file: &str) -> String {
    let parts = file.split('_').map(|part| match part.strip_prefix('r') {
        Some(number) if !number.is_empty() && number.bytes().all(|b| b.is_ascii_digit()) => "r",
        _ => part,
    });
    parts.collect::<Vec<_>>().join("_")
}

fn file_name(job: &Job<'_>, format: Format) -> String {
    format!("{}.{}", job.file_stem(), format.name())
}

/// The result of a fit, in words.
fn fit_line(report: &Report) -> String {
    let Report { reader, nodes, held_back, .. } = report;
    let held =
        if *held_back == 0 { String::new() } else { format!(", {held_back} of {nodes} held back by the maximum") };
    format!("nodes: fitted for {} reading{held}", reader.name())
}

/// Advice on what would reduce the error of a cube most.
///
/// # Errors
/// As [`bake`].
pub fn advice(job: &Job<'_>, options: &Options<'_>) -> Result<Advice, Refusals> {
    let pipeline = job.pipeline()?;
    let most = options.device.and_then(|device| device.item().max_points).unwrap_or(MOST_ADVISED);
    let made = Made {
        points: job.points(),
        most: most.min(*SIZES.end()),
        reader: options.reader,
        fit: options.fit,
        shaper: options.shaper,
    };
    advise(&pipeline, job.look().item(), made)
}

/// The most points that are advised if no device states its limit: few boxes read more (common practice, no source).
const MOST_ADVISED: usize = 65;
