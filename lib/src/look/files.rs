//! The files that the steps of a document name.

use super::corrections::{corrections, one_of};
use super::names::resolve_curve;
use crate::cube::Cube;
use crate::files::{Recorder, Source};
use crate::format::cube::{Strictness, read};
use crate::invalid::{Invalid, Refusals};
use crate::step::cdl::CdlNumbers;
use crate::step::space::CurveName;
use crate::step::{Context, within};
use crate::transfer::Transfer;
use std::sync::Arc;

/// What the settings of a step find in the folder of their document.
pub struct Named<'n> {
    from: &'n str,
    files: &'n Recorder<'n>,
}

impl<'n> Named<'n> {
    /// What the document `from` names of `files`.
    pub const fn new(from: &'n str, files: &'n Recorder<'n>) -> Self {
        Self { from, files }
    }
}

impl Context for Named<'_> {
    fn curve(&self, name: &CurveName, ei: Option<u32>) -> Result<Arc<dyn Transfer>, Refusals> {
        resolve_curve(name, ei, self.from, self.files)
    }

    fn cube(&self, file: &str) -> Result<Arc<Cube>, Refusals> {
        let (file, text) = self.files.bytes(self.from, file).map_err(|why| Invalid::plain(why.to_string()))?;
        let read = read(&text, Strictness::Tolerant).map_err(|e| Invalid::plain(format!("`{file}`, {e}")))?;
        let cube = read.into_cube().map_err(|why| Invalid::plain(format!("`{file}`: {why}")))?;
        Ok(Arc::new(cube))
    }

    fn correction(&self, file: &str, id: Option<&str>) -> Result<CdlNumbers, Refusals> {
        let (file, read) = within("file", corrections(file, None, self.from, self.files))?;
        one_of(&read, &file, id).map(|correction| correction.numbers)
    }
    fn sources(&self) -> Vec<Source> {
        self.files.sources()
    }
}
