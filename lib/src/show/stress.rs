//! A job of a show under stress.

use super::Job;
use crate::cube::Reader;
use crate::invalid::Refusals;
use crate::look::Look;
use crate::stress::{CaseReport, Names, Subject, Try, stress};

impl Job<'_> {
    /// Looks for what breaks the path of this job, and its cube as `reader` reads it, by the show's limits; and once more with
    /// `step` in the look.
    ///
    /// # Errors
    /// As [`pipeline`](Self::pipeline) and [`stress`]; a step that the look cannot have.
    pub fn stress(&self, reader: Reader, step: Option<&Try>) -> Result<CaseReport, Refusals> {
        let path = self.pipeline()?;
        let look = self.look().item();
        let stressed = |look: &Look| {
            let subject = Subject {
                look,
                camera: path.camera(),
                display: path.display(),
                correction: path.correction(),
                points: self.points(),
                reader,
            };
            stress(&subject, self.show().stress_limits())
        };
        let found = stressed(look)?;
        let other = step.map(|step| step.on(look)).transpose()?.flatten();
        let tried = other.as_ref().map(stressed).transpose()?;
        let [name, camera, display] = self.names();
        let names = Names { shot: self.shot(), look: name, camera, display };
        Ok(CaseReport::new(names, look.revision(), (self.points(), reader.name()), &found, tried.as_ref()))
    }
}
