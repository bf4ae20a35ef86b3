//! Steps and renderings of plain settings, for programs that do not start from a document.

use super::Named;
use crate::files::{Files, Recorder, Source};
use crate::invalid::{Invalid, Refusals};
use crate::step::{Maths, Rendering, Settings, Step, Written};
use std::collections::BTreeMap;

fn made(settings: Settings, files: &dyn Files) -> Result<(Written, Vec<Source>, Maths), Refusals> {
    let written = Written::of(settings);
    let recorder = Recorder::new(files);
    let maths = written.make(&Named::new("", &recorder, &written))?;
    Ok((written, recorder.sources(), maths))
}

impl Step {
    /// A step of settings that name no files.
    ///
    /// # Errors
    /// Everything that the settings get wrong, by key; under `do`, that they give display light.
    pub fn new(settings: impl Into<Settings>) -> Result<Self, Refusals> {
        Self::with_files(settings, &BTreeMap::new())
    }

    /// A step of settings that name `files`, by paths from their folder.
    ///
    /// # Errors
    /// As [`new`](Self::new); what is wrong with the files.
    pub fn with_files(settings: impl Into<Settings>, files: &dyn Files) -> Result<Self, Refusals> {
        match made(settings.into(), files)? {
            (written, sources, Maths::Scene(maths)) => Ok(Self::of(written, sources, maths)),
            _ => Err(Invalid::new("do", "gives display light, which ends a look").into()),
        }
    }
}

impl Rendering {
    /// A rendering of settings that name no files.
    ///
    /// # Errors
    /// Everything that the settings get wrong, by key; under `do`, that they do not give display light.
    pub fn new(settings: impl Into<Settings>) -> Result<Self, Refusals> {
        Self::with_files(settings, &BTreeMap::new())
    }

    /// A rendering of settings that name `files`, by paths from their folder.
    ///
    /// # Errors
    /// As [`new`](Self::new); what is wrong with the files.
    pub fn with_files(settings: impl Into<Settings>, files: &dyn Files) -> Result<Self, Refusals> {
        match made(settings.into(), files)? {
            (written, sources, Maths::Rendering(maths)) => Ok(Self::of(written, sources, maths)),
            _ => Err(Invalid::new("do", "does not give display light, which ends a look").into()),
        }
    }
}
