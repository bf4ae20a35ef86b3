//! Which look is wanted, of which version, through which camera, for which display.

use super::shots::Corrected;

/// A look, a camera and a display by name, and which version of the look.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Wanted {
    pub(super) look: String,
    pub(super) camera: String,
    pub(super) display: String,
    pub(super) at: At,
    /// A shot's correction, if it is seen with one.
    pub(super) shot: Option<Corrected>,
}

/// A version of a look.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum At {
    /// As it is edited.
    Now,
    /// As it is on the disk.
    Saved,
    /// A version that is held beside it.
    Held(u64),
    /// As it was at a revision of git.
    Revision(String),
}

impl From<&str> for At {
    fn from(name: &str) -> Self {
        match name {
            "" | "now" => Self::Now,
            "saved" => Self::Saved,
            // No revision of git has a space in its name.
            name => match name.strip_prefix("held ").map(str::parse) {
                Some(Ok(id)) => Self::Held(id),
                _ => Self::Revision(name.to_owned()),
            },
        }
    }
}

/// A look at a version, by what can never be another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Version {
    /// Now and saved: a number of this session; a revision: its commit.
    pub(super) id: String,
    /// The version that the page counts.
    pub(super) number: u64,
}
