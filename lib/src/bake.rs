//! Baking: compiled pipelines sampled into cubes, audited, written as text, and listed in a manifest.
//!
//! Nothing here touches a disk: files are text, the same bytes on every run, thread count and machine.

mod manifest;

pub use manifest::{Manifest, SCHEMA};

use crate::advice::{Advice, Made, advise};
use crate::audit::{Audit, audit_shaped};
use crate::cube::{Interpolation, Reader, SIZES, Shaped, Table};
use crate::fit::{MOST_POINTS, Report, fit};
use crate::format::clf::ProcessList;
use crate::format::cube::{DEFAULT_DIGITS, WriteOptions, write_cube};
use crate::format::device::Device;
use crate::invalid::{Invalid, Refusals};
use crate::look::GENERATION;
use crate::shaper::shaper;
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
    /// Whether nodes are fitted for the least error, rather than sampled.
    pub fit: bool,
    /// Whether curves stand in front of the cube, which only a CLF holds.
    pub shaper: bool,
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

/// A baked cube.
#[derive(Debug, Clone)]
pub struct Baked {
    /// The names of its look, camera and display.
    pub job: Job,
    /// The table.
    pub table: Shaped,
    /// What the fit did, where one was asked for.
    pub fit: Option<Report>,
    /// Its error against the exact path, where that was asked for.
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

/// Why a shaper does not go with a .cube.
const NO_SHAPER: &str = "a .cube holds a cube or curves, not both: write CLF alone (--format clf)";

/// Checks what can be known of a job's files before it is baked.
///
/// # Errors
/// A shaper that the format does not hold, a size that no fit takes, limits of the device that the file would break, each
/// under its key in the show.
pub fn preflight(show: &Show, job: &Job, format: Format, options: &Options<'_>) -> Result<(), Refusals> {
    if options.shaper && format != Format::Clf {
        return Err(Invalid::new("shaper", NO_SHAPER).into());
    }
    if options.fit && job.points > MOST_POINTS {
        let message = format!("takes {MOST_POINTS} points at most, and {} are asked for", job.points);
        return Err(Invalid::new("fit", message).into());
    }
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
pub fn bake(show: &Show, job: &Job, options: &Options<'_>) -> Result<Baked, Refusals> {
    let pipeline = show.job_pipeline(job)?;
    let curves = options.shaper.then(|| shaper(&pipeline));
    let (table, report) = if options.fit {
        let fitted = fit(&pipeline, job.points, options.reader, curves.as_ref())?;
        (fitted.table, Some(fitted.report))
    } else {
        let sampled = match curves {
            None => pipeline.cube(job.points)?.into(),
            Some(curves) => Shaped::sample(curves, job.points, |signal| pipeline.apply(signal))?,
        };
        (sampled, None)
    };
    if let Some((device, limits)) = options.device {
        limits.check_values(table.cube(), &WriteOptions::default()).map_err(|refused| of_device(device, refused))?;
    }
    let audit = options.audit.then(|| audit_shaped(&pipeline, &table));
    let mut comments = comments(show, job);
    comments.extend(report.map(|r| fit_line(&r)));
    if let Some(audit) = &audit {
        comments.extend(
            options
                .reader
                .interpolations()
                .iter()
                .map(|kind| format!("audit: plausible colours, {}: {}", kind.name(), audit.line(*kind))),
        );
    }
    Ok(Baked {
        job: job.clone(),
        table,
        fit: report,
        audit,
        stem: show.file_stem(job),
        title: title(show, job),
        comments,
    })
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
    pub fn file(&self, format: Format, options: &Options<'_>) -> Result<BakedFile, Refusals> {
        let text = match format {
            Format::Cube => {
                let written = WriteOptions {
                    title: &self.title,
                    comments: &self.comments,
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
pub(crate) fn of_device(device: &str, refused: Refusals) -> Refusals {
    refused.into_iter().map(|r| r.within(&format!("devices.{device}"))).collect()
}

/// What a fit did, in words.
fn fit_line(report: &Report) -> String {
    let Report { reader, nodes, held_back, .. } = report;
    let held =
        if *held_back == 0 { String::new() } else { format!(", {held_back} of {nodes} held back by the maximum") };
    format!("nodes: fitted for {reader} reading{held}")
}

/// What would bring a cube nearest to the exact path.
///
/// # Errors
/// As [`bake`].
pub fn advice(show: &Show, job: &Job, options: &Options<'_>) -> Result<Advice, Refusals> {
    let pipeline = show.job_pipeline(job)?;
    let most = options.device.and_then(|(_, limits)| limits.max_points).unwrap_or(MOST_ADVISED);
    let made = Made {
        points: job.points,
        most: most.min(*SIZES.end()),
        reader: options.reader,
        fit: options.fit,
        shaper: options.shaper,
    };
    advise(&pipeline, &show.looks()[&job.look].item, made)
}

/// Points that are advised at most where no device says what it takes: more are read by few boxes (common practice, no
/// source).
const MOST_ADVISED: usize = 65;

/// The title in a cube's file.
fn title(show: &Show, job: &Job) -> String {
    let look = &show.looks()[&job.look].item;
    let shot = job.shot.as_ref().map(|shot| format!("{shot}, ")).unwrap_or_default();
    format!("{}, {shot}{} r{}, {} to {}", show.title(), job.look, look.revision(), job.camera, job.display)
}

/// What a cube's file says of where it comes from.
fn comments(show: &Show, job: &Job) -> Vec<String> {
    let look = &show.looks()[&job.look];
    let (camera, display) = (&show.cameras()[&job.camera], &show.displays()[&job.display]);
    let mut lines = vec![
        format!("made by rushlight {}", env!("CARGO_PKG_VERSION")),
        format!("show: {}", show.title()),
        format!("look: {}, revision {}, picture of generation {GENERATION}", look.item.title(), look.item.revision()),
        format!("camera: {} ({})", camera.label, camera.terms),
        format!("display: {} ({})", display.label, display.terms),
    ];
    if let Some((name, shot)) = job.shot.as_ref().and_then(|name| show.shots().get_key_value(name)) {
        lines.push(format!("shot: {name}, {}", shot.numbers));
        lines.push(format!("order: {}", show.grading().words()));
    }
    let of_shot = job.shot.iter().filter_map(|name| show.shots().get(name));
    let of_shot = of_shot.flat_map(|shot| show.sources().iter().filter(|s| s.file == shot.file));
    lines.extend(of_shot.map(|s| format!("source: {} sha256 {}", s.file, s.sha256)));
    lines.extend(look.item.sources().iter().map(|s| format!("source: {} sha256 {}", s.file, s.sha256)));
    lines
}
