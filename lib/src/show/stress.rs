//! A job of a show under stress.

use super::{Job, Show};
use crate::cube::Reader;
use crate::invalid::Refusals;
use crate::look::Look;
use crate::stress::{CaseReport, Names, Subject, Try, stress};

impl Show {
    /// Looks for what breaks the path of `job`, and its cube as `reader` reads it, by the show's limits; and once more with
    /// `step` in the look.
    ///
    /// # Errors
    /// As [`job_pipeline`](Self::job_pipeline) and [`stress`]; a step that the look cannot have.
    pub fn stress(&self, job: &Job, reader: Reader, step: Option<&Try>) -> Result<CaseReport, Refusals> {
        let path = self.job_pipeline(job)?;
        let look = &self.looks[&job.look].item;
        let stressed = |look: &Look| {
            let subject = Subject {
                look,
                camera: path.camera(),
                display: path.display(),
                correction: path.grade(),
                points: job.points,
                reader,
            };
            stress(&subject, &self.stress)
        };
        let found = stressed(look)?;
        let other = step.map(|step| step.on(look)).transpose()?.flatten();
        let tried = other.as_ref().map(stressed).transpose()?;
        let names = Names { shot: job.shot.as_deref(), look: &job.look, camera: &job.camera, display: &job.display };
        Ok(CaseReport::new(names, look.revision(), (job.points, reader.name()), &found, tried.as_ref()))
    }
}
