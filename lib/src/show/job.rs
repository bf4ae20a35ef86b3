//! A cube to bake: what it is made of, and how its file is called.

use super::id::Identified;
use super::{Entry, Show, find, slug};
use crate::camera::Camera;
use crate::display::Display;
use crate::format::device::Device;
use crate::invalid::Refusals;
use crate::look::Look;
use crate::pipeline::Pipeline;
use crate::shot::{Shot, file_part};
use std::cmp::Ordering;
use std::fmt;

/// An entry of a show with its name.
#[derive(Debug)]
pub struct Named<'s, T: Identified> {
    /// Its name.
    pub name: &'s str,
    /// The entry.
    pub entry: &'s Entry<T>,
}

impl<T: Identified> Clone for Named<'_, T> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<T: Identified> Copy for Named<'_, T> {}

impl<'s, T: Identified> Named<'s, T> {
    /// The thing itself.
    pub const fn item(&self) -> &'s T {
        &self.entry.item
    }
}

impl Named<'_, Device> {
    /// Limits that were broken, under their keys in the show.
    pub(crate) fn refused(&self, refused: Refusals) -> Refusals {
        refused.into_iter().map(|r| r.within(&format!("devices.{}", self.name))).collect()
    }
}

/// A cube to bake: a look, a camera and a display of one show, the points along each edge, and perhaps a shot. Made by
/// [`Show::job`], it has nothing that the show does not have.
///
/// Jobs of one show are equal, and in order, by shot, look, camera, display and points.
#[derive(Clone, Copy)]
pub struct Job<'s> {
    show: &'s Show,
    shot: Option<(&'s str, &'s Shot)>,
    look: Named<'s, Look>,
    camera: Named<'s, Camera>,
    display: Named<'s, Display>,
    points: usize,
}

impl<'s> Job<'s> {
    /// The show.
    pub const fn show(&self) -> &'s Show {
        self.show
    }

    /// The shot whose correction goes in, by name.
    pub fn shot(&self) -> Option<&'s str> {
        self.shot.map(|(name, _)| name)
    }

    /// That shot.
    pub fn correction(&self) -> Option<&'s Shot> {
        self.shot.map(|(_, shot)| shot)
    }

    /// The look.
    pub const fn look(&self) -> Named<'s, Look> {
        self.look
    }

    /// The camera.
    pub const fn camera(&self) -> Named<'s, Camera> {
        self.camera
    }

    /// The display.
    pub const fn display(&self) -> Named<'s, Display> {
        self.display
    }

    /// Nodes along each edge.
    pub const fn points(&self) -> usize {
        self.points
    }

    /// The names of its look, camera and display.
    pub const fn names(&self) -> [&'s str; 3] {
        [self.look.name, self.camera.name, self.display.name]
    }

    /// The same with so many nodes along each edge; whether a cube can have as many is checked when it is baked.
    #[must_use]
    pub const fn with_points(self, points: usize) -> Self {
        Self { points, ..self }
    }

    /// The same with the correction of a shot of the show, or of none.
    ///
    /// # Errors
    /// A shot that the show does not have, under `shot`.
    pub fn with_shot(self, shot: Option<&str>) -> Result<Self, Refusals> {
        let Some(name) = shot else { return Ok(Self { shot: None, ..self }) };
        self.show.shot(name)?;
        let shot = self.show.shots().get_key_value(name).map(|(name, shot)| (name.as_str(), shot));
        Ok(Self { shot, ..self })
    }

    /// The compiled path, with the correction of its shot.
    ///
    /// # Errors
    /// What the look gets wrong on the display, by key within the look's last step.
    pub fn pipeline(&self) -> Result<Pipeline, Refusals> {
        let pipeline = Pipeline::new(self.camera.item(), self.look.item(), self.display.item())?;
        let grade = self.shot.map(|(_, shot)| self.show.grading().correction(shot.numbers)).transpose()?;
        Ok(pipeline.with_correction(grade))
    }

    /// The file name without its extension: show, shot, look, revision, camera with its white,
    /// display, points.
    pub fn file_stem(&self) -> String {
        let [look, camera, display] = self.names();
        let shot = self.shot.map(|(name, _)| file_part(name) + "_").unwrap_or_default();
        let revision = self.look.item().revision();
        // The same camera may be set up for another light.
        let white = self.camera.entry.id.white_part().map(|white| format!("-{white}")).unwrap_or_default();
        format!("{}_{shot}{look}_r{revision}_{camera}{white}_{display}_{}", slug(self.show.title()), self.points)
    }

    /// The title of its file.
    pub fn title(&self) -> String {
        let [look, camera, display] = self.names();
        let shot = self.shot.map(|(name, _)| format!("{name}, ")).unwrap_or_default();
        let revision = self.look.item().revision();
        format!("{}, {shot}{look} r{revision}, {camera} to {display}", self.show.title())
    }

    fn key(&self) -> (Option<&'s str>, [&'s str; 3], usize) {
        (self.shot(), self.names(), self.points)
    }
}

impl fmt::Debug for Job<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [look, camera, display] = self.names();
        let mut fields = f.debug_struct("Job");
        fields.field("shot", &self.shot()).field("look", &look).field("camera", &camera);
        fields.field("display", &display).field("points", &self.points).finish()
    }
}

impl PartialEq for Job<'_> {
    fn eq(&self, other: &Self) -> bool {
        self.key() == other.key()
    }
}

impl Eq for Job<'_> {}

impl PartialOrd for Job<'_> {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Job<'_> {
    fn cmp(&self, other: &Self) -> Ordering {
        self.key().cmp(&other.key())
    }
}

/// The names of a job as a document gives them, each of which its show has.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct JobNames {
    pub(super) look: String,
    pub(super) camera: String,
    pub(super) display: String,
    pub(super) points: usize,
}

impl Show {
    /// A job of this show, by names.
    ///
    /// # Errors
    /// Every name that the show does not have, under `look`, `camera` or `display`.
    pub fn job(&self, look: &str, camera: &str, display: &str, points: usize) -> Result<Job<'_>, Refusals> {
        let (look, camera, display) = (self.look(look), self.camera(camera), self.display(display));
        match (look, camera, display) {
            (Ok(look), Ok(camera), Ok(display)) => Ok(Job { show: self, shot: None, look, camera, display, points }),
            (look, camera, display) => {
                Err([look.err(), camera.err(), display.err()].into_iter().flatten().flatten().collect())
            }
        }
    }

    /// A look by name.
    ///
    /// # Errors
    /// The show does not have it, under `look`.
    pub fn look(&self, name: &str) -> Result<Named<'_, Look>, Refusals> {
        find(&self.looks, "look", name)
    }

    /// A camera by name.
    ///
    /// # Errors
    /// The show does not have it, under `camera`.
    pub fn camera(&self, name: &str) -> Result<Named<'_, Camera>, Refusals> {
        find(&self.cameras, "camera", name)
    }

    /// A display by name.
    ///
    /// # Errors
    /// The show does not have it, under `display`.
    pub fn display(&self, name: &str) -> Result<Named<'_, Display>, Refusals> {
        find(&self.displays, "display", name)
    }

    /// What is to be baked, shots apart, without repeats, in order.
    pub fn jobs(&self) -> Vec<Job<'_>> {
        let job = |names: &JobNames| {
            let JobNames { look, camera, display, points } = names;
            self.job(look, camera, display, *points).expect("the names were checked when the show was read")
        };
        self.jobs.iter().map(job).collect()
    }

    /// What is to be baked for every shot of its own, in order: as [`jobs`](Self::jobs), for the looks and the cameras of
    /// the shot.
    pub fn shot_jobs(&self) -> Vec<Job<'_>> {
        let fits = |of: &Option<String>, name: &str| of.as_ref().is_none_or(|of| of == name);
        let all = self.jobs();
        let mut jobs = Vec::new();
        for (name, shot) in &self.shots {
            let own = all.iter().filter(|job| fits(&shot.look, job.look.name) && fits(&shot.camera, job.camera.name));
            jobs.extend(own.map(|job| Job { shot: Some((name, shot)), ..*job }));
        }
        jobs
    }
}
