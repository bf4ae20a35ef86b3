//! What a file holds beside its picture.

use std::fmt;
use std::sync::Arc;

/// What a frame has no place for and a file of the same format takes back: the other channels and layers of an OpenEXR
/// file, its windows and attributes; the header of a DPX file.
#[derive(Clone, PartialEq)]
pub struct Kept(Arc<Contents>);

#[derive(PartialEq)]
pub(super) enum Contents {
    Exr(Box<super::exr::Rest>),
    Dpx(Vec<u8>),
}

impl Kept {
    pub(super) fn new(contents: Contents) -> Self {
        Self(Arc::new(contents))
    }

    pub(super) fn exr(&self) -> Option<&super::exr::Rest> {
        match &*self.0 {
            Contents::Exr(rest) => Some(rest),
            Contents::Dpx(_) => None,
        }
    }

    pub(super) fn dpx(&self) -> Option<&[u8]> {
        match &*self.0 {
            Contents::Dpx(header) => Some(header),
            Contents::Exr(_) => None,
        }
    }
}

impl fmt::Debug for Kept {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match &*self.0 {
            Contents::Exr(_) => "Kept(EXR)",
            Contents::Dpx(_) => "Kept(DPX)",
        })
    }
}
