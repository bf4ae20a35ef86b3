//! The look in parts for ACES, and the files that say how the parts go together.

use super::plan::{About, File};
use super::transforms::{self, Chain};
use crate::cube::POINTS;
use crate::difference::{Difference, Formula};
use crate::format::amf::{Amf, LookTransform, Transform, WorkingSpace};
use crate::format::clf::ProcessList;
use crate::invalid::Refusals;
use crate::pipeline::Pipeline;
use crate::shot::{Grading, Order, Space, file_part};
use crate::show::{Job, Show, slug};
use crate::step::Step;
use std::collections::{BTreeMap, BTreeSet};

/// The look of a show in parts.
#[derive(Debug, Clone, Default)]
pub struct Aces {
    /// The parts, and an ACES Metadata File for each look, camera and display, and for each shot.
    pub files: Vec<File>,
    /// What could not be done, in sentences.
    pub notes: Vec<String>,
    /// The error of the parts of each metadata file against the exact path: formula, mean and max.
    pub errors: Vec<(Formula, f64, f64)>,
}

/// A part of the look for ACES.
struct Part {
    list: ProcessList,
    transform: Transform,
}

/// The space in which an AMF can state the corrections of a show's shots, if any.
fn working_space(grading: &Grading) -> Option<WorkingSpace> {
    match grading.space() {
        _ if grading.clamps() => None,
        Space::AcesCct => Some(WorkingSpace::AcesCct),
        Space::Log(name, _) if name == "acescc" => Some(WorkingSpace::AcesCc),
        _ => None,
    }
}

/// The look of a show in parts; `time` is the date of the metadata files, as `2026-11-25T00:00:00Z`.
///
/// # Errors
/// A look that does not fit a display, parts that a CLF does not hold.
pub fn aces(show: &Show, time: &str) -> Result<Aces, Refusals> {
    let points = show.jobs().iter().map(Job::points).max().unwrap_or(POINTS);
    // Sizes are of the cubes.
    let jobs = show.jobs().into_iter().chain(show.shot_jobs()).map(|job| job.with_points(points));
    let jobs: BTreeSet<Job<'_>> = jobs.collect();
    let working = working_space(show.grading());
    let mut made =
        Making { title: slug(show.title()), time, working, points, parts: BTreeMap::new(), aces: Aces::default() };
    if working.is_none() && !show.shots().is_empty() {
        let words = show.grading().words();
        made.aces
            .notes
            .push(format!("No AMF for the shots: an AMF cannot state \"{words}\". Use the cubes in shots/."));
    }
    jobs.iter().try_for_each(|job| made.add(job))?;
    Ok(made.aces)
}

/// Parts and files that are being made.
struct Making<'t> {
    title: String,
    time: &'t str,
    working: Option<WorkingSpace>,
    /// Points of the show's cubes.
    points: usize,
    parts: BTreeMap<String, Part>,
    aces: Aces,
}

impl Making<'_> {
    /// Adds a part, where it is not there yet.
    fn part(&mut self, name: &str, make: impl FnOnce(String) -> Result<ProcessList, Refusals>) -> Result<(), Refusals> {
        if self.parts.contains_key(name) {
            return Ok(());
        }
        let list = make(name.to_owned())?;
        let (text, file) = (list.to_xml(), format!("aces/{name}.clf"));
        let title = list.name.clone().unwrap_or_default();
        let transform = Transform::new(title.clone(), format!("../{file}"), text.as_bytes());
        let about = Some(About::Part { title, points: transforms::part_points(self.points) });
        self.aces.files.push(File { about, ..File::new(file, text, "part of the look, as CLF") });
        self.parts.insert(name.to_owned(), Part { list, transform });
        Ok(())
    }

    /// Adds what a job needs.
    fn add(&mut self, job: &Job<'_>) -> Result<(), Refusals> {
        let (show, of_parts) = (job.show(), transforms::part_points(self.points));
        let (look, camera, display) = (job.look().item(), job.camera().entry, job.display().entry);
        let [look_name, camera_name, display_name] = job.names();
        let revision = look.revision();
        // A correction in the midst of the steps parts them.
        let at = if job.shot().is_some() && show.grading().order() == Order::AfterCompress { 1 } else { 0 };
        let (first, rest) = look.steps().split_at(at);
        let title = &self.title;
        let of_look = |part: &str| format!("{title}_look_{look_name}_r{revision}{part}");
        let names = [
            format!("{title}_input_{camera_name}"),
            of_look("_compress"),
            of_look(if at == 0 { "" } else { "_rest" }),
            format!("{title}_output_{look_name}_r{revision}_{display_name}"),
        ];
        self.part(&names[0], |id| {
            let title = format!("{}: camera {camera_name} to ACES", show.title());
            transforms::input(id, title, &camera.id.to_string(), &camera.item)
        })?;
        for (name, steps) in [(&names[1], first), (&names[2], rest)].into_iter().filter(|(_, s)| !s.is_empty()) {
            self.part(name, |id| {
                let all: Vec<&str> = steps.iter().map(Step::name).collect();
                let title = format!("{}, revision {revision}: {}", look.title(), all.join(", "));
                transforms::look(id, title, steps, of_parts)
            })?;
        }
        self.part(&names[3], |id| {
            let title = format!("{}, revision {revision}: its rendering on display {display_name}", look.title());
            let path = (&camera.item, look, &display.item);
            transforms::output(id, title, &display.id.to_string(), path, of_parts)
        })?;
        if job.shot().is_some() && self.working.is_none() {
            return Ok(());
        }
        self.metadata(job, &names, [!first.is_empty(), !rest.is_empty()])
    }

    /// Adds the file that says how the parts `names` of a job go together.
    fn metadata(&mut self, job: &Job<'_>, names: &[String; 4], there: [bool; 2]) -> Result<(), Refusals> {
        let show = job.show();
        let [look_name, camera_name, display_name] = job.names();
        let revision = job.look().item().revision();
        let part = |name: &str, there: bool| self.parts.get(name).filter(|_| there);
        let (first, rest) = (part(&names[1], there[0]), part(&names[2], there[1]));
        let (input, output) = (&self.parts[&names[0]], &self.parts[&names[3]]);
        let path: Pipeline = job.pipeline()?;
        let chain = Chain {
            input: &input.list,
            first: first.map(|part| &part.list),
            correction: path.correction(),
            look: rest.map(|part| &part.list),
            output: &output.list,
        };
        let errors = chain.strays(&path);
        let steps = |part: Option<&Part>| part.map(|part| LookTransform::File(part.transform.clone()));
        let mut looks = Vec::from_iter(steps(first));
        if let (Some((name, shot)), Some(space)) = (job.shot().zip(job.correction()), self.working) {
            looks.push(LookTransform::Cdl(format!("shot {name}: {}", show.grading().words()), space, shot.numbers));
        }
        looks.extend(steps(rest));
        let of = job.shot().map(|name| format!("shot {name}, ")).unwrap_or_default();
        let amf = Amf {
            description: format!(
                "{}: {of}look {look_name}, revision {revision}, camera {camera_name}, display {display_name}",
                show.title()
            ),
            author: show.production().author().map(|both| both.map(str::to_owned)),
            date: self.time.to_owned(),
            clip: job.shot().map(str::to_owned),
            input: input.transform.clone(),
            looks,
            output: output.transform.clone(),
        };
        let shot = job.shot().map(|name| file_part(name) + "_").unwrap_or_default();
        let name = format!("amf/{}_{shot}{look_name}_r{revision}_{camera_name}_{display_name}.amf", self.title);
        let about = Some(About::Amf {
            shot: job.shot().map(str::to_owned),
            look: look_name.to_owned(),
            camera: camera_name.to_owned(),
            display: display_name.to_owned(),
            parts_error: errors,
        });
        self.aces.files.push(File { about, ..File::new(name, amf.to_xml(), "ACES Metadata File") });
        let formula = Difference::on(job.display().item()).formula();
        self.aces.errors.push((formula, errors.mean, errors.max));
        Ok(())
    }
}
