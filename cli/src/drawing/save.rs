//! A drawing as the bytes of a file.

use super::{Drawing, escape, page};
use crate::failure::Failure;
use std::path::Path;

/// A kind of file that a drawing can be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Format {
    Svg,
    Png,
    Pdf,
    Html,
}

impl Format {
    /// By the end of the file's name.
    pub(crate) fn of(path: &Path) -> Result<Self, Failure> {
        let extension = path.extension().and_then(|e| e.to_str()).unwrap_or_default().to_ascii_lowercase();
        let format = match extension.as_str() {
            "svg" => Self::Svg,
            "png" => Self::Png,
            "pdf" => Self::Pdf,
            "html" | "htm" => Self::Html,
            _ => {
                return Err(Failure::new(format!(
                    "{}: the name must end in .svg, .png, .pdf or .html",
                    path.display()
                )));
            }
        };
        match format.refusal() {
            Some(why) => Err(Failure::new(format!("{}: {why}", path.display()))),
            None => Ok(format),
        }
    }

    /// Refuses what this build cannot draw, before any work is done.
    pub(crate) fn check(self) -> Result<(), Failure> {
        self.refusal().map_or(Ok(()), |why| Err(Failure::new(why)))
    }

    /// Why this build cannot draw it.
    fn refusal(self) -> Option<&'static str> {
        matches!(self, Self::Png | Self::Pdf).then_some(
            "this build of rushlight has no feature `draw`, which writes drawings as PNG and PDF: use a build that has it, \
             or a drawing as .svg or .html",
        )
        .filter(|_| cfg!(not(feature = "draw")))
    }
}

impl Drawing {
    /// Dots to the inch of a picture, unless another number is asked for: twice that of the lengths in the drawing.
    pub(crate) const DPI: f64 = 192.0;

    /// The source with the slate as its description.
    fn described(&self) -> String {
        const AFTER: &str = "</title>\n";
        match self.slate.as_str() {
            "" => self.svg.clone(),
            slate => {
                let lines: Vec<String> = slate.lines().map(escape).collect();
                self.svg.replacen(AFTER, &format!("{AFTER}<desc>{}</desc>\n", lines.join("\n")), 1)
            }
        }
    }

    /// The whole file, for [`Batch::add`](crate::disk::Batch::add). `dpi` is that of a PNG; the others have none.
    pub(crate) fn bytes(&self, format: Format, dpi: f64) -> Result<Vec<u8>, Failure> {
        match format {
            Format::Svg => Ok(self.described().into_bytes()),
            Format::Html => Ok(page::page(&self.title, &self.described()).into_bytes()),
            #[cfg(feature = "draw")]
            Format::Png => self.png(dpi),
            #[cfg(feature = "draw")]
            Format::Pdf => self.pdf(),
            #[cfg(not(feature = "draw"))]
            Format::Png | Format::Pdf => format.check().map(|()| Vec::new()),
        }
    }
}
