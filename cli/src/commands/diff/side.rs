//! One side of a comparison: a file, read together with the files that it names.

use crate::disk::Folder;
use crate::failure::Failure;
use crate::table::{Kind as TableKind, Source as TableFile};
use crate::target::is_look;
use rushlight::bake::{self, MANIFEST, MadeFor, Manifest};
use rushlight::cube::Interpolation;
use rushlight::document::{Document, Problems};
use rushlight::files::{Files, Source, sha256};
use rushlight::look::{self, Look};
use rushlight::show::Show;
use std::path::Path;

/// Where a file comes from: its bytes, and the folder in which the files that it names are found.
pub(super) struct Origin {
    /// The folder as people write it, ending in a slash where it is not empty.
    pub(super) base: String,
    /// The file's name in that folder.
    pub(super) name: String,
    pub(super) bytes: Vec<u8>,
    pub(super) files: Box<dyn Files>,
}

impl Origin {
    /// A file of the disk.
    pub(super) fn disk(path: &Path) -> Result<Self, Failure> {
        Ok(Self { bytes: crate::disk::read_bytes(path)?, ..Self::beside(path) })
    }

    /// A file that stands for the one at `path`, with no bytes yet.
    pub(super) fn beside(path: &Path) -> Self {
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        let shown = path.display().to_string();
        let base = shown.strip_suffix(&name).unwrap_or_default().to_owned();
        Self { base, name, bytes: Vec::new(), files: Box::new(Folder::of(path)) }
    }

    pub(super) fn shown(&self) -> String {
        format!("{}{}", self.base, self.name)
    }

    fn failure(&self, documents: impl IntoIterator<Item = Problems>) -> Failure {
        let named = |p: Problems| Problems { name: format!("{}{}", self.base, p.name), ..p };
        Failure::Documents(documents.into_iter().map(named).collect())
    }

    fn text(&self) -> Result<&str, Failure> {
        std::str::from_utf8(&self.bytes)
            .map_err(|e| Failure::new(format!("{} is not text: byte {} is not UTF-8", self.shown(), e.valid_up_to())))
    }

    /// The show beside or above this look that names it.
    ///
    /// # Errors
    /// What is wrong with a show whose text names the look.
    pub(super) fn show_above(&self) -> Result<Option<Show>, Failure> {
        for name in ["show.toml", "../show.toml", "../../show.toml"] {
            let read = self.files.read(name).ok().and_then(|bytes| String::from_utf8(bytes).ok());
            let Some(text) = read.filter(|text| text.contains(&self.name)) else { continue };
            let show = Show::parse(name, &text, self.files.as_ref()).map_err(|p| self.failure(p))?;
            if self.name_in(&show).is_some() {
                return Ok(Some(show));
            }
        }
        Ok(None)
    }

    /// The name under which a show has this look.
    pub(super) fn name_in(&self, show: &Show) -> Option<String> {
        let ends = |path: &str| path == self.name || path.ends_with(&format!("/{}", self.name));
        show.looks().iter().find(|(_, look)| ends(&look.id.file)).map(|(name, _)| name.clone())
    }
}

/// What was read.
pub(super) enum Content {
    Show(Box<Show>),
    Look(Box<Look>),
    Table(Box<TableFile>, Option<Box<MadeFor>>),
    /// A document of which only the text is compared.
    Other,
}

/// A file and what was read of it.
pub(super) struct Side {
    pub(super) origin: Origin,
    pub(super) content: Content,
}

impl Side {
    pub(super) fn read(origin: Origin, interpolation: Option<Interpolation>) -> Result<Self, Failure> {
        if let Some(kind) = TableKind::of(Path::new(&origin.name)) {
            let file = TableFile::from_bytes(kind, &origin.bytes, Path::new(&origin.shown()))?.read_by(interpolation);
            let made_for = made_for(&origin).map(Box::new);
            return Ok(Self { content: Content::Table(Box::new(file), made_for), origin });
        }
        if !origin.name.ends_with(".toml") {
            let message = "the name must end in .toml, .cube, .clf or .png";
            return Err(Failure::new(format!("{}: {message}", origin.shown())));
        }
        let text = origin.text()?;
        let mut document = Document::parse(&origin.name, text).map_err(|p| origin.failure([p]))?;
        let content = if is_look(&mut document) {
            let look = look::parse(&origin.name, text, origin.files.as_ref()).map_err(|p| origin.failure([p]))?;
            Content::Look(Box::new(look))
        } else if document.has("cameras") || document.has("looks") {
            let show = Show::parse(&origin.name, text, origin.files.as_ref()).map_err(|p| origin.failure(p))?;
            Content::Show(Box::new(show))
        } else {
            Content::Other
        };
        Ok(Self { origin, content })
    }

    /// The document's text; none of a table file.
    pub(super) fn text(&self) -> &str {
        match self.content {
            Content::Table(..) => "",
            _ => self.origin.text().unwrap_or_default(),
        }
    }

    /// Every file that went into it.
    pub(super) fn sources(&self) -> Vec<Source> {
        match &self.content {
            Content::Show(show) => show.sources().to_vec(),
            Content::Look(look) => look.sources().to_vec(),
            _ => vec![Source { file: self.origin.name.clone(), sha256: sha256(&self.origin.bytes) }],
        }
    }
}

/// What a table file is for: by the manifest beside it, if that has this very file, or by the file's own header.
fn made_for(origin: &Origin) -> Option<MadeFor> {
    let manifest = origin.files.read(MANIFEST).ok().and_then(|bytes| Manifest::parse(&bytes).ok());
    let sum = sha256(&origin.bytes);
    let listed = manifest.and_then(|manifest| manifest.cubes.into_iter().find(|cube| cube.sha256 == sum));
    listed.map(|cube| cube.made_for()).or_else(|| bake::made_for(&origin.bytes))
}
