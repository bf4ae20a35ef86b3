//! What goes into a hand-off.

use crate::commands::camera::{self, Ratings};
use crate::commands::false_colour::{self, Zone};
use crate::disk::{Folder, NewFolder, SAME_NAME};
use crate::drawing::{Drawing, Format as DrawingFormat};
use crate::failure::Failure;
use crate::progress::Progress;
use rushlight::bake::Options;
use rushlight::files::in_any_case;
use rushlight::handoff::{Aces, CubeFiles, FOLDERS, File, FileRecord, Plan};
use rushlight::sheet::{CubeSheet, ErrorFigures};
use rushlight::show::{Show, slug};
use rushlight::stress::Grade;
use std::collections::BTreeSet;
use std::path::Path;

/// A cube of a hand-off, with what the person who loads it looks for.
pub(super) struct Loaded {
    pub(super) shot: Option<String>,
    /// The look's title.
    pub(super) look: String,
    /// Names of the show.
    pub(super) camera: String,
    pub(super) display: String,
    pub(super) file: String,
    /// From the range of the camera's signal to that of the display's.
    pub(super) ranges: String,
    /// Formula, mean and max.
    pub(super) error: Option<(&'static str, f64, f64)>,
    pub(super) sha256: String,
}

/// A hand-off that is being made.
pub(super) struct Parcel {
    pub(super) folder: NewFolder,
    pub(super) records: Vec<FileRecord>,
    /// Their names, as systems see them that take names in any case.
    names: BTreeSet<String>,
    /// What could not be done, and other things to know.
    pub(super) notes: Vec<String>,
    /// The cubes of the looks, as the look sheet tells of them: look and cube.
    pub(super) cubes: Vec<(String, CubeSheet)>,
    /// Every cube.
    pub(super) loads: Vec<Loaded>,
    /// Grades of the stress test: look, camera and display.
    pub(super) grades: Vec<(String, Grade)>,
    /// Errors of the cubes: formula, mean and max.
    pub(super) strays: Vec<(&'static str, f64, f64)>,
    /// Errors of the parts for ACES: formula, mean and max of each AMF.
    pub(super) parts_error: Vec<(&'static str, f64, f64)>,
}

impl Parcel {
    pub(super) const fn new(folder: NewFolder) -> Self {
        Self {
            folder,
            records: Vec::new(),
            names: BTreeSet::new(),
            notes: Vec::new(),
            cubes: Vec::new(),
            loads: Vec::new(),
            grades: Vec::new(),
            strays: Vec::new(),
            parts_error: Vec::new(),
        }
    }

    /// Adds a file.
    pub(super) fn add(&mut self, file: &File) -> Result<(), Failure> {
        // What cannot be received everywhere is not sent.
        file.check().map_err(|refused| Failure::refused(refused.into()))?;
        if !self.names.insert(in_any_case(&file.name)) {
            return Err(Failure::new(format!("{}: {SAME_NAME}", file.name)));
        }
        self.folder.add(&file.name, &file.bytes)?;
        self.records.push(FileRecord::of(file));
        Ok(())
    }

    /// The folders that hold something: name, what, number of files.
    pub(super) fn folders(&self) -> Vec<(&'static str, &'static str, usize)> {
        let count = |folder: &str| self.records.iter().filter(|r| r.file.starts_with(folder)).count();
        FOLDERS.iter().map(|(folder, what)| (*folder, *what, count(folder))).filter(|(.., n)| *n > 0).collect()
    }
}

/// Gathers everything but the reports, the README and the lists.
pub(super) fn collect(
    parcel: &mut Parcel,
    file: &Path,
    show: &Show,
    options: &Options<'_>,
    time: &str,
) -> Result<(), Failure> {
    let plan = Plan::new(show, *options).map_err(Failure::refused)?;
    for document in plan.documents(&Folder::of(file)).map_err(Failure::refused)? {
        parcel.add(&document)?;
    }
    cubes(parcel, &plan)?;
    parcel.notes.extend(plan.notes());
    plan.corrections().map_err(Failure::refused)?.iter().try_for_each(|file| parcel.add(file))?;
    let aces = Aces::new(show, time);
    parcel.notes.extend(aces.note());
    for made in aces {
        let made = made.map_err(Failure::refused)?;
        made.files.iter().try_for_each(|file| parcel.add(file))?;
        parcel.parts_error.extend(made.error.map(|(formula, mean, max)| (formula.title(), mean, max)));
    }
    exposure(parcel, show)?;
    stops(parcel, show)
}

/// Cubes and CLFs of the show and of its shots.
fn cubes(parcel: &mut Parcel, plan: &Plan<'_>) -> Result<(), Failure> {
    let progress = Progress::new(plan.jobs().len(), "{pos}/{len} cubes, {eta} left");
    for made in plan.cubes() {
        let CubeFiles { baked, files } = made.map_err(Failure::refused)?;
        let (job, reader) = (baked.job(), baked.options().reader);
        files.iter().try_for_each(|file| parcel.add(file))?;
        let strays = baked.audit().map(|audit| (audit.formula(), ErrorFigures::of(audit, reader)));
        let error = strays.as_ref().map(|(formula, strays)| (*formula, strays.mean, strays.max));
        parcel.strays.extend(error);
        let Some(file) = files.first() else { continue };
        let sheet = CubeSheet::of(job, &file.name, &file.bytes, strays.map(|(_, strays)| strays));
        let [from, to] = [job.camera().item().range(), job.display().item().settings().range];
        parcel.loads.push(Loaded {
            shot: job.shot().map(str::to_owned),
            look: job.look().item().title().to_owned(),
            camera: sheet.camera.clone(),
            display: sheet.display.clone(),
            file: file.name.clone(),
            ranges: format!("{} to {}", from.name(), to.name()),
            error,
            sha256: sheet.sha256.clone(),
        });
        if job.shot().is_none() {
            parcel.cubes.push((job.look().name.to_owned(), sheet));
        }
        progress.step();
    }
    progress.end();
    Ok(())
}

/// The exposure cubes, as `false-colour` makes them.
fn exposure(parcel: &mut Parcel, show: &Show) -> Result<(), Failure> {
    let request = false_colour::Request { size: Zone::Narrowest, ..false_colour::Request::default() };
    let display = false_colour::display(show, &request.display)?;
    let plan = false_colour::Plan::new(show, &display, &request)?;
    plan.make(&mut |name, what, bytes| parcel.add(&File::new(format!("exposure/{name}"), bytes, what)))?;
    parcel.notes.extend(plan.notes);
    Ok(())
}

/// Stop tables, and the card of every camera.
fn stops(parcel: &mut Parcel, show: &Show) -> Result<(), Failure> {
    let title = slug(show.title());
    let csv = camera::csv(&camera::report(show, &camera::Request::default())?);
    parcel.add(&File::new(format!("stops/{title}_stops.csv"), csv, "stop tables"))?;
    for name in show.cameras().keys() {
        let of = Ratings { camera: Some(name.clone()), ..Ratings::default() };
        let report = camera::report(show, &camera::Request { of, ..camera::Request::default() });
        match report.and_then(|report| camera::drawn(show, &report)) {
            Ok(card) => {
                let bytes = card.bytes(DrawingFormat::Pdf, Drawing::DPI)?;
                parcel.add(&File::new(format!("stops/{title}_card_{name}.pdf"), bytes, "stop card"))?;
            }
            Err(Failure::Words(why)) => parcel.notes.push(format!("No card of camera {name}: {why}.")),
            Err(other) => return Err(other),
        }
    }
    Ok(())
}
