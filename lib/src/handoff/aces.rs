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
use std::collections::{BTreeMap, BTreeSet, btree_set};

/// A part of the look for ACES.
#[derive(Debug, Clone)]
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

/// The files of one job that no job before it had.
#[derive(Debug, Clone, Default)]
pub struct AcesFiles {
    /// The parts, and an ACES Metadata File if one can state the job.
    pub files: Vec<File>,
    /// The error of the parts of its metadata file against the exact path: formula, mean and max.
    pub error: Option<(Formula, f64, f64)>,
}

/// The look of a show in parts, with an ACES Metadata File for each look, camera and display, and for each shot.
///
/// An iterator, which makes the files of one job at a time: all of them may be too many for memory. It fails on a look that
/// does not fit a display, and on parts that a CLF does not hold.
#[derive(Debug)]
pub struct Aces<'s> {
    show: &'s Show,
    jobs: btree_set::IntoIter<Job<'s>>,
    title: String,
    time: &'s str,
    working: Option<WorkingSpace>,
    /// Points of the show's cubes.
    points: usize,
    parts: BTreeMap<String, Part>,
}

impl<'s> Aces<'s> {
    /// Of a show; `time` is the date of the metadata files, as `2026-11-25T00:00:00Z`.
    pub fn new(show: &'s Show, time: &'s str) -> Self {
        let points = show.jobs().iter().map(Job::points).max().unwrap_or(POINTS);
        // Sizes are of the cubes.
        let jobs = show.jobs().into_iter().chain(show.shot_jobs()).map(|job| job.with_points(points));
        let jobs: BTreeSet<Job<'s>> = jobs.collect();
        Self {
            show,
            jobs: jobs.into_iter(),
            title: slug(show.title()),
            time,
            working: working_space(show.grading()),
            points,
            parts: BTreeMap::new(),
        }
    }

    /// What cannot be done, in a sentence.
    pub fn note(&self) -> Option<String> {
        let words = self.show.grading().words();
        (self.working.is_none() && !self.show.shots().is_empty())
            .then(|| format!("No AMF for the shots: an AMF cannot state \"{words}\". Use the cubes in shots/."))
    }

    /// Adds a part, where it is not there yet.
    fn part(
        &mut self,
        made: &mut AcesFiles,
        name: &str,
        make: impl FnOnce(String) -> Result<ProcessList, Refusals>,
    ) -> Result<(), Refusals> {
        if self.parts.contains_key(name) {
            return Ok(());
        }
        let list = make(name.to_owned())?;
        let (text, file) = (list.to_xml(), format!("aces/{name}.clf"));
        let title = list.name.clone().unwrap_or_default();
        let transform = Transform::new(title.clone(), format!("../{file}"), text.as_bytes());
        let about = Some(About::Part { title, points: transforms::part_points(self.points) });
        made.files.push(File { about, ..File::new(file, text, "part of the look, as CLF") });
        self.parts.insert(name.to_owned(), Part { list, transform });
        Ok(())
    }

    /// What a job needs.
    fn make(&mut self, job: &Job<'_>) -> Result<AcesFiles, Refusals> {
        let mut made = AcesFiles::default();
        let (show, of_parts) = (self.show, transforms::part_points(self.points));
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
        self.part(&mut made, &names[0], |id| {
            let title = format!("{}: camera {camera_name} to ACES", show.title());
            transforms::input(id, title, &camera.id.to_string(), &camera.item)
        })?;
        for (name, steps) in [(&names[1], first), (&names[2], rest)].into_iter().filter(|(_, s)| !s.is_empty()) {
            self.part(&mut made, name, |id| {
                let all: Vec<&str> = steps.iter().map(Step::name).collect();
                let title = format!("{}, revision {revision}: {}", look.title(), all.join(", "));
                transforms::look(id, title, steps, of_parts)
            })?;
        }
        self.part(&mut made, &names[3], |id| {
            let title = format!("{}, revision {revision}: its rendering on display {display_name}", look.title());
            let path = (&camera.item, look, &display.item);
            transforms::output(id, title, &display.id.to_string(), path, of_parts)
        })?;
        if job.shot().is_none() || self.working.is_some() {
            self.metadata(&mut made, job, &names, [!first.is_empty(), !rest.is_empty()])?;
        }
        Ok(made)
    }

    /// Adds the file that says how the parts `names` of a job go together.
    fn metadata(
        &self,
        made: &mut AcesFiles,
        job: &Job<'_>,
        names: &[String; 4],
        there: [bool; 2],
    ) -> Result<(), Refusals> {
        let show = self.show;
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
        made.files.push(File { about, ..File::new(name, amf.to_xml(), "ACES Metadata File") });
        made.error = Some((Difference::on(job.display().item()).formula(), errors.mean, errors.max));
        Ok(())
    }
}

impl Iterator for Aces<'_> {
    type Item = Result<AcesFiles, Refusals>;

    fn next(&mut self) -> Option<Self::Item> {
        let job = self.jobs.next()?;
        Some(self.make(&job))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_show;

    #[test]
    fn a_part_comes_with_the_first_job_that_needs_it() {
        let show = test_show::show("[[step]]\ndo = 'tone'\n", "[displays.second]\nstandard = 'p3-d65'\n");
        let aces = Aces::new(&show, "2026-11-25T00:00:00Z");
        assert_eq!(aces.note(), None);
        let made: Vec<AcesFiles> = aces.map(Result::unwrap).collect();
        let names = |made: &AcesFiles| made.files.iter().map(|f| f.name.clone()).collect::<Vec<_>>();
        assert_eq!(
            made.iter().map(names).collect::<Vec<_>>(),
            [
                vec![
                    "aces/saltmarsh_input_a.clf",
                    "aces/saltmarsh_output_night_r1_onset.clf",
                    "amf/saltmarsh_night_r1_a_onset.amf"
                ],
                vec!["aces/saltmarsh_output_night_r1_second.clf", "amf/saltmarsh_night_r1_a_second.amf"]
            ]
        );
        assert!(made.iter().all(|made| made.error.is_some()));
    }
}
