//! What a file holds beside its picture.

use std::fmt;
use std::sync::Arc;

/// What a frame has no place for and a file of the same format takes back: the other channels and layers of an OpenEXR
/// file, its windows and attributes; the header of a DPX file; the texts of a PNG file.
#[derive(Clone, PartialEq)]
pub struct Extras(Arc<Contents>);

#[derive(PartialEq)]
pub(super) enum Contents {
    Exr(Box<super::exr::Rest>),
    Dpx(Vec<u8>),
    /// Keywords and texts.
    Png(Vec<(String, String)>),
}

impl Extras {
    pub(super) fn new(contents: Contents) -> Self {
        Self(Arc::new(contents))
    }

    pub(super) fn exr(&self) -> Option<&super::exr::Rest> {
        match &*self.0 {
            Contents::Exr(rest) => Some(rest),
            _ => None,
        }
    }

    pub(super) fn dpx(&self) -> Option<&[u8]> {
        match &*self.0 {
            Contents::Dpx(header) => Some(header),
            _ => None,
        }
    }

    pub(super) fn png(&self) -> Option<&[(String, String)]> {
        match &*self.0 {
            Contents::Png(texts) => Some(texts),
            _ => None,
        }
    }
}

impl fmt::Debug for Extras {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match &*self.0 {
            Contents::Exr(_) => "Extras(EXR)",
            Contents::Dpx(_) => "Extras(DPX)",
            Contents::Png(_) => "Extras(PNG)",
        })
    }
}
