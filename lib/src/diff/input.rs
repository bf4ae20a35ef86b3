//! One side of a comparison: a file, read together with the files that it names.

use super::{Error, refuse};
use crate::bake::{self, MANIFEST, MadeFor, Manifest};
use crate::cube::Interpolation;
use crate::document::{Document, Problems};
use crate::files::{Files, Source, sha256};
use crate::look::{self, Look};
use crate::show::Show;
use crate::table_file::{Kind, TableFile};
use std::path::Path;

/// Where a file comes from: its bytes, and the folder in which the files that it names are found.
pub struct Origin {
    /// The folder as people write it, ending in a slash where it is not empty.
    pub base: String,
    /// The file's name in that folder.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// The files that it names.
    pub files: Box<dyn Files>,
}

impl Origin {
    /// The whole name as people write it.
    pub fn shown(&self) -> String {
        format!("{}{}", self.base, self.name)
    }

    fn problems(&self, documents: impl IntoIterator<Item = Problems>) -> Error {
        let named = |p: Problems| Problems { name: format!("{}{}", self.base, p.name), ..p };
        Error::Documents(documents.into_iter().map(named).collect())
    }

    fn text(&self) -> Result<&str, Error> {
        std::str::from_utf8(&self.bytes)
            .map_err(|e| refuse(format!("{} is not text: byte {} is not UTF-8", self.shown(), e.valid_up_to())))
    }

    /// The show beside or above this look that names it.
    ///
    /// # Errors
    /// What is wrong with a show whose text names the look.
    pub fn show_above(&self) -> Result<Option<Show>, Error> {
        for name in ["show.toml", "../show.toml", "../../show.toml"] {
            let read = self.files.read(name).ok().and_then(|bytes| String::from_utf8(bytes).ok());
            let Some(text) = read.filter(|text| text.contains(&self.name)) else { continue };
            let show = Show::parse(name, &text, self.files.as_ref()).map_err(|p| self.problems(p))?;
            if self.name_in(&show).is_some() {
                return Ok(Some(show));
            }
        }
        Ok(None)
    }

    /// The name under which a show has this look.
    pub fn name_in(&self, show: &Show) -> Option<String> {
        let ends = |path: &str| path == self.name || path.ends_with(&format!("/{}", self.name));
        show.looks().iter().find(|(_, look)| ends(&look.id.file)).map(|(name, _)| name.clone())
    }
}

/// What was read.
#[non_exhaustive]
pub enum Content {
    /// A show.
    Show(Box<Show>),
    /// A look.
    Look(Box<Look>),
    /// A table file, and what is known of the camera and the display that it is for.
    Table(Box<TableFile>, Option<Box<MadeFor>>),
    /// A document of which only the text is compared.
    Other,
}

/// A file and what was read of it.
pub struct Input {
    /// Where it comes from.
    pub origin: Origin,
    /// What it holds.
    pub content: Content,
}

impl Input {
    /// Reads a file, by the end of its name; a table file by `interpolation`, or by its own.
    ///
    /// # Errors
    /// Every problem of a document; why a table file cannot be read; a name whose end says nothing.
    pub fn read(origin: Origin, interpolation: Option<Interpolation>) -> Result<Self, Error> {
        if let Some(kind) = Kind::of(Path::new(&origin.name)) {
            let file = TableFile::read(kind, &origin.bytes)
                .map_err(|why| refuse(format!("{}, {why}", origin.shown())))?
                .read_by(interpolation);
            let made_for = made_for(&origin).map(Box::new);
            return Ok(Self { content: Content::Table(Box::new(file), made_for), origin });
        }
        if !origin.name.ends_with(".toml") {
            let message = "the name must end in .toml, .cube, .clf or .png";
            return Err(refuse(format!("{}: {message}", origin.shown())));
        }
        let text = origin.text()?;
        let mut document = Document::parse(&origin.name, text).map_err(|p| origin.problems([p]))?;
        let content = if look::is_look(&mut document) {
            let look = look::parse(&origin.name, text, origin.files.as_ref()).map_err(|p| origin.problems([p]))?;
            Content::Look(Box::new(look))
        } else if document.has("cameras") || document.has("looks") {
            let show = Show::parse(&origin.name, text, origin.files.as_ref()).map_err(|p| origin.problems(p))?;
            Content::Show(Box::new(show))
        } else {
            Content::Other
        };
        Ok(Self { origin, content })
    }

    /// The document's text; none of a table file.
    pub fn text(&self) -> &str {
        match self.content {
            Content::Table(..) => "",
            _ => self.origin.text().unwrap_or_default(),
        }
    }

    /// Every file that went into it.
    pub fn sources(&self) -> Vec<Source> {
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
