//! Which cube should be in the chain, and which may be.

use crate::args::ChainSubject;
use crate::disk::read_bytes;
use crate::failure::Failure;
use crate::table;
use crate::target::{self, Target};
use rushlight::chain::bank::{Bank, Candidate};
use rushlight::chain::draw::stops;
use rushlight::chain::origin::Origin;
use rushlight::chain::patches::STOPS;
use rushlight::cube::{Cube, POINTS, Table, check_points};
use rushlight::display::Display;
use rushlight::show::{Job, standing_camera, standing_display};
use rushlight::slate::{self, Slate};
use rushlight::table_file::{Kind, TableFile};
use std::path::{Path, PathBuf};

/// Points of the cube that is sampled from a file without one: a CLF, or curves.
const SAMPLED: usize = 65;
/// Files of a folder and of the folders in it that are looked at.
const MOST: usize = 4096;

/// What should be in the chain.
pub(super) struct Expected {
    pub(super) cube: Candidate,
    pub(super) display: Display,
    /// Codes of the greys at the stops of the camera; none where no camera is known.
    pub(super) stops: [u16; STOPS],
    /// What the cube is of.
    pub(super) origin: Origin,
    /// The same as the lines of a slate; none where the file of a cube has none.
    pub(super) slate: Vec<String>,
    /// The show, and the place in it.
    of: Option<(Target, Place)>,
}

/// A look, a camera and a display of a show, by name.
struct Place([String; 3]);

/// Why no show is needed where a cube is given.
fn unwanted(subject: &ChainSubject) -> Result<(), Failure> {
    for (option, given) in [("--look", subject.pick.look.is_some()), ("--points", subject.points.is_some())] {
        if given {
            return Err(Failure::new(format!("{option} is of a show or a look: a cube file has its own")));
        }
    }
    Ok(())
}

impl Expected {
    /// By the arguments; `named` is what a capture says that its chart was drawn for, where the arguments leave it open.
    pub(super) fn of(subject: &ChainSubject, named: Option<&str>) -> Result<Self, Failure> {
        if Kind::of(&subject.file).is_some_and(|kind| kind != Kind::Png) {
            unwanted(subject)?;
            let camera = subject.pick.camera.as_deref().map(standing_camera).transpose().map_err(Failure::options)?;
            let display = standing_display(subject.pick.display.as_deref().unwrap_or("bt709"));
            let display = display.map_err(Failure::options)?.1.item;
            let stops = camera.map_or([0; STOPS], |(_, camera)| stops(&camera.item));
            let (cube, slate) = file(&subject.file)?;
            let origin = slate.as_ref().map(Origin::of).unwrap_or_default();
            let lines = slate.map(|slate| {
                let all = slate.lines.iter().map(|(name, said)| format!("{name}: {said}"));
                std::iter::once(slate::made()).chain(all).collect()
            });
            return Ok(Self { cube, display, stops, origin, slate: lines.unwrap_or_default(), of: None });
        }
        let target = target::load(&subject.file, &subject.pick)?;
        let points = subject.points.map(|n| check_points("--points", n)).transpose().map_err(Failure::options)?;
        let job = named.and_then(|name| fitting(&target, name, points));
        let job = match job {
            Some(job) => job,
            None => {
                let of_now = target.job(None).map_err(|failure| match named {
                    Some(name) => Failure::new(format!(
                        "the chart was drawn for {name}, which these documents do not give now: draw it again, or compare with \
                         another cube: {}",
                        failure.words()
                    )),
                    None => failure,
                });
                of_now?.with_points(points.unwrap_or(POINTS))
            }
        };
        let (stops, display) = (stops(job.camera().item()), job.display().item().clone());
        let (cube, place) = (baked(&job)?, Place(job.names().map(str::to_owned)));
        let slate = slate::lines(&job);
        let origin = Slate::parse(&slate.join("\n")).as_ref().map(Origin::of).unwrap_or_default();
        Ok(Self { cube, display, stops, origin, slate, of: Some((target, place)) })
    }

    /// With every other cube that may be there, and the notes on them.
    pub(super) fn bank(self, with: &[PathBuf]) -> Result<(Bank, Display, Vec<String>), Failure> {
        let mut bank = Bank { cubes: vec![self.cube] };
        let mut notes = Vec::new();
        if let Some((target, place)) = &self.of {
            let show = &target.show;
            for look in show.looks().keys() {
                for camera in show.cameras().keys() {
                    for display in show.displays().keys() {
                        if [look, camera, display] != place.0.each_ref() {
                            let other = show.job(look, camera, display, POINTS).map_err(Failure::options)?;
                            bank.add(baked(&other)?);
                        }
                    }
                }
            }
        }
        for path in with {
            let files = if path.is_dir() { within(path)? } else { vec![path.clone()] };
            if files.is_empty() {
                return Err(Failure::new(format!("--with: {} holds no cube (.cube, .clf)", path.display())));
            }
            for path in files {
                let (candidate, _) = file(&path)?;
                let is_expected = candidate.name == bank.expected().name;
                if bank.add(candidate) && is_expected {
                    notes.push(format!(
                        "{} is not the cube that the documents give now: it was baked from others",
                        path.display()
                    ));
                }
            }
        }
        Ok((bank, self.display, notes))
    }
}

/// The place in a show whose cube has this name.
fn fitting<'t>(target: &'t Target, name: &str, points: Option<usize>) -> Option<Job<'t>> {
    let show = &target.show;
    let fits = |picked: &Option<String>, name: &String| picked.as_ref().is_none_or(|p| p == name);
    for look in show.looks().keys().filter(|l| fits(&target.look, l)) {
        for camera in show.cameras().keys().filter(|c| fits(&target.camera, c)) {
            for display in show.displays().keys().filter(|d| fits(&target.display, d)) {
                let sizes = points.map_or_else(|| vec![17, POINTS, 65], |n| vec![n]);
                for points in sizes {
                    let job = show.job(look, camera, display, points).ok()?;
                    if job.file_stem() == name {
                        return Some(job);
                    }
                }
            }
        }
    }
    None
}

fn baked(job: &Job<'_>) -> Result<Candidate, Failure> {
    let pipeline = job.pipeline().map_err(Failure::options)?;
    Candidate::of_path(&job.file_stem(), pipeline, job.points()).map_err(Failure::options)
}

/// A table file as a cube, and what it says of where it comes from.
fn file(path: &Path) -> Result<(Candidate, Option<Slate>), Failure> {
    let bytes = read_bytes(path)?;
    let source = table::parse(table::kind(path)?, &bytes, path)?;
    let slate = table::slate(&source, &bytes);
    let name = path.file_stem().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let candidate = match source {
        TableFile::Cube(file, _) if matches!(file.table, Table::Cube(_)) => {
            let Table::Cube(cube) = file.table else { unreachable!("it was looked at") };
            Candidate::new(&name, file.shaper, cube)
        }
        other => Candidate::new(&name, None, Cube::sample(SAMPLED, |rgb| other.apply(rgb)).map_err(Failure::refused)?),
    };
    Ok((candidate, slate))
}

/// The cubes in a folder and below: of two files of one name, the .cube.
fn within(folder: &Path) -> Result<Vec<PathBuf>, Failure> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_owned()];
    let mut seen = 0;
    while let Some(folder) = folders.pop() {
        let fail = |e: std::io::Error| Failure::new(format!("cannot read {}: {e}", folder.display()));
        for entry in std::fs::read_dir(&folder).map_err(fail)? {
            let path = entry.map_err(fail)?.path();
            seen += 1;
            if seen > MOST {
                return Err(Failure::new(format!("--with: {} holds more than {MOST} files", folder.display())));
            }
            if path.is_dir() {
                folders.push(path);
            } else if matches!(Kind::of(&path), Some(Kind::Cube | Kind::Clf)) {
                found.push(path);
            }
        }
    }
    found.sort();
    let twins: Vec<PathBuf> = found.iter().filter(|p| Kind::of(p) == Some(Kind::Cube)).cloned().collect();
    found.retain(|p| Kind::of(p) == Some(Kind::Cube) || !twins.contains(&p.with_extension("cube")));
    // Parts of a look for ACES, which no box takes alone.
    found.retain(|p| !p.parent().is_some_and(|dir| dir.ends_with("aces")));
    Ok(found)
}
