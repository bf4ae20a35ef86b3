//! The cubes of a look: those in a folder, as their manifest says and their bytes confirm, or those that `bake` would write.

use crate::disk;
use crate::failure::Failure;
use crate::manifest::{self, Figures, Manifest, Record};
use rushlight::bake::{Format, Options, bake};
use rushlight::cube::{Interpolation, Reader};
use rushlight::files::sha256;
use rushlight::sheet::{CubeSheet, Strays};
use rushlight::show::{Job, Show};
use std::path::{Path, PathBuf};

/// Where the cubes come from.
pub(crate) enum Cubes {
    /// A bake that lies there.
    Folder(PathBuf, Box<Manifest>),
    /// Nowhere: they are baked to be measured.
    Baked,
    /// As the caller states: look and cube.
    Told(Vec<(String, CubeSheet)>),
}

impl Cubes {
    /// Those in `folder`, whose manifest must be of this very show.
    pub(super) fn new(folder: Option<&Path>, show: &Show) -> Result<Self, Failure> {
        let Some(folder) = folder else { return Ok(Self::Baked) };
        let path = folder.join(manifest::NAME);
        let bytes = disk::read_bytes(&path)?;
        let manifest = Manifest::parse(&bytes).map_err(|why| {
            Failure::new(format!("--cubes: cannot read {} as the manifest of a bake: {why}", path.display()))
        })?;
        for source in show.sources() {
            let found = manifest.sources.iter().find(|s| s.file == source.file);
            if found.is_none_or(|f| f.sha256 != source.sha256) {
                let what = if found.is_some() { "another version of" } else { "a show without" };
                return Err(Failure::new(format!(
                    "--cubes: the cubes in {} were baked from {what} {}: bake again",
                    folder.display(),
                    source.file
                )));
            }
        }
        Ok(Self::Folder(folder.to_owned(), Box::new(manifest)))
    }

    /// The cubes of one look.
    pub(super) fn of(&self, show: &Show, jobs: &[&Job]) -> Result<Vec<CubeSheet>, Failure> {
        match self {
            Self::Folder(folder, manifest) => {
                let is = |record: &&Record| {
                    let Record { look, camera, display, .. } = record;
                    jobs.iter().any(|j| (&j.look, &j.camera, &j.display) == (look, camera, display))
                };
                let cubes: Vec<CubeSheet> =
                    manifest.cubes.iter().filter(is).map(|record| checked(folder, record)).collect::<Result<_, _>>()?;
                if cubes.is_empty() {
                    let look = &jobs[0].look;
                    let folder = folder.display();
                    return Err(Failure::new(format!(
                        "--cubes: {folder} has no cube of the look {look} for that camera and display: bake it"
                    )));
                }
                Ok(cubes)
            }
            Self::Told(cubes) => {
                Ok(cubes.iter().filter(|(look, _)| *look == jobs[0].look).map(|(_, cube)| cube.clone()).collect())
            }
            Self::Baked => jobs.iter().map(|job| baked(show, job)).collect(),
        }
    }
}

/// A cube of the folder, if it is still the one that was baked.
fn checked(folder: &Path, record: &Record) -> Result<CubeSheet, Failure> {
    let path = folder.join(&record.file);
    if sha256(&disk::read_bytes(&path)?) != record.sha256 {
        let path = path.display();
        return Err(Failure::new(format!("--cubes: {path} differs from the checksum in its manifest: bake again")));
    }
    let strays = record.audit.as_ref().map(|audit| {
        let reader = Reader::ALL.into_iter().find(|r| r.name() == audit.reader).unwrap_or(Reader::Either);
        let by = |kind: &Interpolation| match kind {
            Interpolation::Tetrahedral => &audit.plausible.tetrahedral,
            Interpolation::Trilinear => &audit.plausible.trilinear,
        };
        let worst = |pick: fn(&Figures) -> f64| reader.interpolations().iter().map(by).map(pick).fold(0.0, f64::max);
        Strays {
            difference: audit.difference.clone(),
            reader: reader.name().to_owned(),
            mean: worst(|f| f.mean),
            p99: worst(|f| f.p99),
            max: worst(|f| f.max),
        }
    });
    Ok(CubeSheet {
        file: record.file.clone(),
        camera: record.camera.clone(),
        display: record.display.clone(),
        points: record.points,
        sha256: record.sha256.clone(),
        strays,
    })
}

/// The cube that `bake` writes for a job when nothing else is asked of it.
fn baked(show: &Show, job: &Job) -> Result<CubeSheet, Failure> {
    let options = Options::default();
    let baked = bake(show, job, &options).map_err(Failure::refused)?;
    let file = baked.file(Format::Cube, &options).map_err(Failure::options)?;
    let strays = baked.audit.map(|audit| Strays::of(&audit, options.reader));
    Ok(CubeSheet::of(job, &file.name, file.text.as_bytes(), strays))
}
