//! What goes into a hand-off.

use crate::args::{Args, Command};
use crate::commands::camera;
use crate::commands::false_colour::{self, Zone};
use crate::disk::{Folder, NewFolder};
use crate::drawing::{Drawing, Format as DrawingFormat};
use crate::failure::Failure;
use crate::progress::Progress;
use clap::Parser;
use rushlight::audit::Figures;
use rushlight::bake::{self, Format, Manifest, Options};
use rushlight::difference::Difference;
use rushlight::files::{Files, sha256};
use rushlight::format::amf::{Amf, LookTransform, Transform, WorkingSpace};
use rushlight::format::cdl::{self, CdlFile, Correction, Kind, Namespace, Remarks};
use rushlight::format::clf::ProcessList;
use rushlight::handoff::{self, Chain, FileRecord};
use rushlight::invalid::Refusals;
use rushlight::sheet::{CubeSheet, Strays};
use rushlight::shot::{Order, Space, file_part};
use rushlight::show::{Job, Show, slug};
use rushlight::stress::Grade;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::ffi::OsString;
use std::path::Path;

/// Folders of a hand-off, and what is in each.
const FOLDERS: [(&str, &str); 9] = [
    ("cubes/", "a cube for each look, camera and display (.cube, .clf)"),
    ("shots/", "a cube for each shot, with its correction"),
    ("cdl/", "the corrections of the shots, under the shots' names"),
    ("aces/", "the look in parts, from camera to ACES to display (.clf)"),
    ("amf/", "ACES Metadata Files that refer to aces/"),
    ("exposure/", "exposure cubes with their keys and test frames"),
    ("stops/", "stop tables, and a card for each camera"),
    ("reports/", "the look sheet and the stress test"),
    ("documents/", "the documents from which all of it is made"),
];

/// A hand-off that is being made.
pub(super) struct Parcel {
    pub(super) folder: NewFolder,
    pub(super) records: Vec<FileRecord>,
    /// Their names in lower case: some systems take names in any case for one.
    names: BTreeSet<String>,
    /// What could not be done, and other things to know.
    pub(super) notes: Vec<String>,
    /// The cubes of the looks, as the look sheet tells of them: look and cube.
    pub(super) cubes: Vec<(String, CubeSheet)>,
    /// Grades of the stress test: look, camera and display.
    pub(super) grades: Vec<(String, Grade)>,
    /// Errors of the cubes: formula, mean and max.
    pub(super) strays: Vec<(&'static str, f64, f64)>,
    /// Errors of the parts for ACES: formula, mean and max of each AMF.
    pub(super) parts_stray: Vec<(&'static str, f64, f64)>,
}

impl Parcel {
    pub(super) const fn new(folder: NewFolder) -> Self {
        Self {
            folder,
            records: Vec::new(),
            names: BTreeSet::new(),
            notes: Vec::new(),
            cubes: Vec::new(),
            grades: Vec::new(),
            strays: Vec::new(),
            parts_stray: Vec::new(),
        }
    }

    pub(super) fn add(&mut self, name: &str, bytes: &[u8], what: &str, about: Option<Value>) -> Result<(), Failure> {
        // What cannot be received everywhere is not sent.
        handoff::safe_name(name).map_err(|why| Failure::new(format!("{name}: {why}: rename it")))?;
        if !self.names.insert(name.to_lowercase()) {
            let why = "it would be the same file as another on some systems, which take names in any case: rename one";
            return Err(Failure::new(format!("{name}: {why}")));
        }
        self.folder.add(name, bytes)?;
        self.records.push(FileRecord::new(name, bytes, what, about));
        Ok(())
    }

    /// Lists what a command wrote into a folder of the hand-off.
    fn list(&mut self, folder: &str, what: impl Fn(&str) -> &'static str) -> Result<(), Failure> {
        for name in self.folder.names(folder)? {
            let bytes = self.folder.read(&name)?;
            self.records.push(FileRecord::new(&*name, &bytes, what(&name), None));
        }
        Ok(())
    }

    /// The folders that hold something: name, what, number of files.
    pub(super) fn folders(&self) -> Vec<(&'static str, &'static str, usize)> {
        let count = |folder: &str| self.records.iter().filter(|r| r.file.starts_with(folder)).count();
        FOLDERS.iter().map(|(folder, what)| (*folder, *what, count(folder))).filter(|(.., n)| *n > 0).collect()
    }
}

/// Gathers everything but the README and the lists.
pub(super) fn collect(
    parcel: &mut Parcel,
    file: &Path,
    show: &Show,
    options: &Options<'_>,
    time: &str,
) -> Result<(), Failure> {
    documents(parcel, file, show)?;
    cubes(parcel, show, options)?;
    corrections(parcel, show)?;
    aces(parcel, show, time)?;
    exposure(parcel, file)?;
    stops(parcel, file, show)
}

/// Every document, where the others find it by its relative name.
fn documents(parcel: &mut Parcel, file: &Path, show: &Show) -> Result<(), Failure> {
    let folder = Folder::of(file);
    let depth = |name: &str| name.split('/').take_while(|part| *part == "..").count();
    // Folders above the show's, as many as any document is up, get names of their own.
    let up = show.sources().iter().map(|s| depth(&s.file)).max().unwrap_or(0);
    for source in show.sources() {
        let name = &source.file;
        if name.starts_with('/') || name.get(1..2) == Some(":") {
            return Err(Failure::new(format!(
                "{name}: a document that is named from the root of a disk would not be found by the receiver: name it \
                 relative to the show, and store it beside the show"
            )));
        }
        let bytes = folder.read(name).map_err(|why| Failure::new(format!("cannot read {name}: {why}")))?;
        if sha256(&bytes) != source.sha256 {
            return Err(Failure::new(format!("{name} changed while the hand-off was made: begin again")));
        }
        let above = depth(name);
        let base: String = "show/".repeat(up - above);
        let rest = name.split('/').skip(above).collect::<Vec<_>>().join("/");
        parcel.add(&format!("documents/{base}{rest}"), &bytes, "document", None)?;
    }
    Ok(())
}

/// Cubes and CLFs of the show and of its shots.
fn cubes(parcel: &mut Parcel, show: &Show, options: &Options<'_>) -> Result<(), Failure> {
    let all = [("cubes", show.jobs().to_vec()), ("shots", show.shot_jobs())];
    let progress = Progress::new(all.iter().map(|(_, jobs)| jobs.len()).sum(), "{pos}/{len} cubes, {eta} left");
    for (folder, jobs) in all {
        for job in &jobs {
            for format in [Format::Cube, Format::Clf] {
                bake::preflight(show, job, format, options).map_err(Failure::refused)?;
            }
            let baked = bake::bake(show, job, options).map_err(Failure::refused)?;
            for format in [Format::Cube, Format::Clf] {
                let file = baked.file(format, options).map_err(Failure::refused)?;
                let mut manifest = Manifest::new(show);
                manifest.add(show, &baked, &file, options);
                let what = if format == Format::Cube { "cube" } else { "cube, as CLF" };
                let name = format!("{folder}/{}", file.name);
                parcel.add(&name, file.text.as_bytes(), what, manifest.into_records().pop())?;
                if format == Format::Cube && job.shot.is_none() {
                    let strays = baked.audit.as_ref().map(|audit| Strays::of(audit, options.reader));
                    parcel.cubes.push((job.look.clone(), CubeSheet::of(job, &name, file.text.as_bytes(), strays)));
                }
            }
            if let Some(audit) = &baked.audit {
                let worst = |pick: fn(&Figures) -> f64| {
                    let all = options.reader.interpolations().iter().map(|k| pick(audit.plausible.by(*k)));
                    all.fold(0.0, f64::max)
                };
                parcel.strays.push((audit.formula(), worst(|f| f.mean), worst(|f| f.max)));
            }
            progress.step();
        }
    }
    progress.end();
    let jobs = show.shot_jobs();
    let without = show.shots().keys().filter(|name| !jobs.iter().any(|job| job.shot.as_ref() == Some(*name)));
    for name in without {
        parcel
            .notes
            .push(format!("Shot {name} has no cube: no [[bake]] entry of the show matches its look and camera."));
    }
    Ok(())
}

/// The corrections of the shots in one collection.
fn corrections(parcel: &mut Parcel, show: &Show) -> Result<(), Failure> {
    if show.shots().is_empty() {
        return Ok(());
    }
    let corrections = show.shots().iter().map(|(name, shot)| Correction {
        id: Some(name.clone()),
        numbers: shot.numbers,
        remarks: Remarks { descriptions: vec![format!("{} of {}", shot.id, shot.file)], ..Remarks::default() },
        ..Correction::default()
    });
    let remarks =
        Remarks { descriptions: vec![format!("{}: {}", show.title(), show.grading().words())], ..Remarks::default() };
    let corrections = corrections.collect();
    let file =
        CdlFile { kind: Kind::Collection, namespace: Namespace::default(), remarks, corrections, refused: Vec::new() };
    let text = cdl::write(&file).map_err(Failure::refused)?;
    parcel.add(&format!("cdl/{}_shots.ccc", slug(show.title())), text.as_bytes(), "corrections of the shots", None)
}

/// A part of the look for ACES.
struct Part {
    list: ProcessList,
    transform: Transform,
}

/// The look in parts, and the files that say how they go together.
fn aces(parcel: &mut Parcel, show: &Show, time: &str) -> Result<(), Failure> {
    let title = slug(show.title());
    let points = show.jobs().iter().map(|job| job.points).max().unwrap_or(rushlight::cube::POINTS);
    let of_parts = handoff::part_points(points);
    let mut parts: BTreeMap<String, Part> = BTreeMap::new();
    let mut jobs: Vec<Job> = show.jobs().iter().cloned().chain(show.shot_jobs()).collect();
    // Sizes are of the cubes.
    jobs.iter_mut().for_each(|job| job.points = points);
    jobs.sort();
    jobs.dedup();
    let working = match show.grading().space() {
        _ if show.grading().clamps() => None,
        Space::AcesCct => Some(WorkingSpace::AcesCct),
        Space::Log(name, _) if name == "acescc" => Some(WorkingSpace::AcesCc),
        _ => None,
    };
    if working.is_none() && !show.shots().is_empty() {
        let words = show.grading().words();
        parcel.notes.push(format!("No AMF for the shots: an AMF cannot state \"{words}\". Use the cubes in shots/."));
    }
    for job in jobs {
        let (look, camera, display) =
            (&show.looks()[&job.look], &show.cameras()[&job.camera], &show.displays()[&job.display]);
        let revision = look.item.revision();
        // A correction in the midst of the steps parts them.
        let at = if job.shot.is_some() && show.grading().order() == Order::AfterCompress { 1 } else { 0 };
        let (first, rest) = look.item.steps().split_at(at);
        let of_look = |part: &str| format!("{title}_look_{}_r{revision}{part}", job.look);
        let names = [
            format!("{title}_input_{}", job.camera),
            of_look("_compress"),
            of_look(if at == 0 { "" } else { "_rest" }),
            format!("{title}_output_{}_r{revision}_{}", job.look, job.display),
        ];
        let mut add = |name: &str, make: &dyn Fn(String) -> Result<ProcessList, Refusals>| {
            if !parts.contains_key(name) {
                let list = make(name.to_owned()).map_err(Failure::refused)?;
                let (text, file) = (list.to_xml(), format!("aces/{name}.clf"));
                let said = list.name.clone().unwrap_or_default();
                let about = json!({ "title": said, "points": of_parts });
                parcel.add(&file, text.as_bytes(), "part of the look, as CLF", Some(about))?;
                let transform = Transform::new(said, format!("../{file}"), text.as_bytes());
                parts.insert(name.to_owned(), Part { list, transform });
            }
            Ok::<_, Failure>(())
        };
        add(&names[0], &|id| {
            let said = format!("{}: camera {} to ACES", show.title(), job.camera);
            handoff::input(id, said, &camera.terms, &camera.item)
        })?;
        for (name, steps) in [(&names[1], first), (&names[2], rest)].into_iter().filter(|(_, s)| !s.is_empty()) {
            add(name, &|id| {
                let all: Vec<&str> = steps.iter().map(|step| step.name()).collect();
                let said = format!("{}, revision {revision}: {}", look.item.title(), all.join(", "));
                handoff::look(id, said, steps, of_parts)
            })?;
        }
        add(&names[3], &|id| {
            let said = format!("{}, revision {revision}: its rendering on display {}", look.item.title(), job.display);
            handoff::output(id, said, &display.terms, (&camera.item, &look.item, &display.item), of_parts)
        })?;
        if job.shot.is_some() && working.is_none() {
            continue;
        }
        let part = |name: &str, there: bool| parts.get(name).filter(|_| there);
        let (first, rest) = (part(&names[1], !first.is_empty()), part(&names[2], !rest.is_empty()));
        let (input, output) = (&parts[&names[0]], &parts[&names[3]]);
        let path = show.job_pipeline(&job).map_err(Failure::refused)?;
        let chain = Chain {
            input: &input.list,
            first: first.map(|part| &part.list),
            grade: path.grade(),
            look: rest.map(|part| &part.list),
            output: &output.list,
        };
        let strays = chain.strays(&path);
        let steps = |part: Option<&Part>| part.map(|part| LookTransform::File(part.transform.clone()));
        let mut looks = Vec::from_iter(steps(first));
        if let (Some(name), Some(space)) = (&job.shot, working) {
            let numbers = show.shots()[name].numbers;
            looks.push(LookTransform::Cdl(format!("shot {name}: {}", show.grading().words()), space, numbers));
        }
        looks.extend(steps(rest));
        let of = job.shot.as_ref().map(|name| format!("shot {name}, ")).unwrap_or_default();
        let said = format!(
            "{}: {of}look {}, revision {revision}, camera {}, display {}",
            show.title(),
            job.look,
            job.camera,
            job.display
        );
        let amf = Amf {
            description: said,
            date: time.to_owned(),
            clip: job.shot.clone(),
            input: input.transform.clone(),
            looks,
            output: output.transform.clone(),
        };
        let shot = job.shot.as_ref().map(|name| file_part(name) + "_").unwrap_or_default();
        let name = format!("amf/{title}_{shot}{}_r{revision}_{}_{}.amf", job.look, job.camera, job.display);
        let about = json!({
            "shot": job.shot, "look": job.look, "camera": job.camera, "display": job.display,
            "parts_stray": strays,
        });
        parcel.add(&name, amf.to_xml().as_bytes(), "ACES Metadata File", Some(about))?;
        parcel.parts_stray.push((Difference::on(&display.item).formula().title(), strays.mean, strays.max));
    }
    Ok(())
}

/// The exposure cubes, as `false-colour` makes them.
fn exposure(parcel: &mut Parcel, file: &Path) -> Result<(), Failure> {
    let out = parcel.folder.within("exposure").into();
    let Command::FalseColour(args) = command(["false-colour".into(), file.into(), "--out".into(), out]) else {
        unreachable!("it is that command");
    };
    let made = false_colour::make(&args, Zone::Narrowest)?;
    parcel.notes.extend(made.notes);
    parcel.list("exposure", |name| match name {
        _ if name.ends_with(".cube") => "exposure cube",
        _ if name.contains("_key.") => "key of an exposure cube",
        _ if name.ends_with(".png") => "test frame",
        _ => "report on the exposure cubes",
    })
}

/// Stop tables, and the card of every camera.
fn stops(parcel: &mut Parcel, file: &Path, show: &Show) -> Result<(), Failure> {
    let title = slug(show.title());
    let Command::Camera(args) = command(["camera".into(), file.into()]) else { unreachable!("it is that command") };
    parcel.add(&format!("stops/{title}_stops.csv"), camera::stop_csv(&args)?.as_bytes(), "stop tables", None)?;
    for name in show.cameras().keys() {
        let mut args = args.clone();
        args.of.camera = Some(name.clone());
        match camera::stop_card(&args) {
            Ok(card) => {
                let bytes = card.bytes(DrawingFormat::Pdf, Drawing::DPI)?;
                parcel.add(&format!("stops/{title}_card_{name}.pdf"), &bytes, "stop card", None)?;
            }
            Err(Failure::Words(why)) => parcel.notes.push(format!("No card of camera {name}: {why}.")),
            Err(other) => return Err(other),
        }
    }
    Ok(())
}

/// A command of this program, with what it takes where nothing more is said.
pub(super) fn command<const N: usize>(words: [OsString; N]) -> Command {
    Args::parse_from(std::iter::once(OsString::from("rushlight")).chain(words)).command
}
