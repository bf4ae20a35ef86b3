//! The cubes of a look: those in a folder, as their manifest says and their bytes confirm, or those that `bake` would write.

use crate::disk;
use crate::failure::Failure;
use rushlight::bake::{CubeRecord, Format, MANIFEST, Manifest, Options, bake};
use rushlight::files::sha256;
use rushlight::sheet::{CubeSheet, ErrorFigures};
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
        let path = folder.join(MANIFEST);
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
    pub(super) fn of(&self, jobs: &[Job<'_>]) -> Result<Vec<CubeSheet>, Failure> {
        match self {
            Self::Folder(folder, manifest) => {
                let is = |record: &&CubeRecord| {
                    let CubeRecord { look, camera, display, .. } = record;
                    jobs.iter().any(|job| job.names() == [look, camera, display])
                };
                let cubes: Vec<CubeSheet> =
                    manifest.cubes.iter().filter(is).map(|record| checked(folder, record)).collect::<Result<_, _>>()?;
                if cubes.is_empty() {
                    let look = jobs.first().map_or("", |job| job.look().name);
                    let folder = folder.display();
                    return Err(Failure::new(format!(
                        "--cubes: {folder} has no cube of the look {look} for that camera and display: bake it"
                    )));
                }
                Ok(cubes)
            }
            Self::Told(cubes) => {
                let is = |look: &str| jobs.iter().any(|job| job.look().name == look);
                Ok(cubes.iter().filter(|(look, _)| is(look)).map(|(_, cube)| cube.clone()).collect())
            }
            Self::Baked => jobs.iter().map(baked).collect(),
        }
    }
}

/// A cube of the folder, if it is still the one that was baked.
fn checked(folder: &Path, record: &CubeRecord) -> Result<CubeSheet, Failure> {
    let path = folder.join(&record.file);
    if sha256(&disk::read_bytes(&path)?) != record.sha256 {
        let path = path.display();
        return Err(Failure::new(format!("--cubes: {path} differs from the checksum in its manifest: bake again")));
    }
    let error = record.audit.as_ref().map(|audit| ErrorFigures::of(&audit.figures, audit.reader));
    Ok(CubeSheet {
        file: record.file.clone(),
        camera: record.camera.clone(),
        display: record.display.clone(),
        points: record.points,
        sha256: record.sha256.clone(),
        error,
    })
}

/// The cube that `bake` writes for a job when nothing else is asked of it.
fn baked(job: &Job<'_>) -> Result<CubeSheet, Failure> {
    let baked = bake(job, &Options::default()).map_err(Failure::refused)?;
    let file = baked.file(Format::Cube).map_err(Failure::refused)?;
    let error = baked.audit().map(|audit| ErrorFigures::of(audit, baked.options().reader));
    Ok(CubeSheet::of(job, &file.name, file.text.as_bytes(), error))
}
