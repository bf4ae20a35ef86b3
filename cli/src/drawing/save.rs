//! A drawing as the bytes of a file.

use super::{Drawing, font, page};
use crate::failure::Failure;
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};
use std::path::Path;
use std::sync::Arc;

/// A kind of file that a drawing can be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Format {
    Svg,
    Png,
    Pdf,
    Html,
}

/// The longest side of a picture, in pixels.
const LONGEST: f64 = 16384.0;
const METRES_PER_INCH: f64 = 0.0254;

/// The converter takes two fonts in an order that chance gives; it is asked again until the order is ours.
const ATTEMPTS: usize = 64;

impl Format {
    /// By the end of the file's name.
    pub(crate) fn of(path: &Path) -> Result<Self, Failure> {
        let extension = path.extension().and_then(|e| e.to_str()).unwrap_or_default().to_ascii_lowercase();
        match extension.as_str() {
            "svg" => Ok(Self::Svg),
            "png" => Ok(Self::Png),
            "pdf" => Ok(Self::Pdf),
            "html" | "htm" => Ok(Self::Html),
            _ => Err(Failure::new(format!("{}: the name must end in .svg, .png, .pdf or .html", path.display()))),
        }
    }
}

impl Drawing {
    /// Dots to the inch of a picture, unless another number is asked for: twice that of the lengths in the drawing.
    pub(crate) const DPI: f64 = 192.0;

    /// The whole file, for [`Batch::add`](crate::disk::Batch::add). `dpi` is that of a PNG; the others have none.
    pub(crate) fn bytes(&self, format: Format, dpi: f64) -> Result<Vec<u8>, Failure> {
        match format {
            Format::Svg => Ok(self.svg.clone().into_bytes()),
            Format::Html => Ok(page::page(&self.title, &self.svg).into_bytes()),
            Format::Png => self.png(dpi),
            Format::Pdf => self.pdf(),
        }
    }

    /// A page whose text is text, with the same bytes each time.
    fn pdf(&self) -> Result<Vec<u8>, Failure> {
        let tree = self.tree()?;
        let mut pdf = Vec::new();
        for _ in 0..ATTEMPTS {
            let page = svg2pdf::PageOptions { dpi: 96.0 };
            pdf = svg2pdf::to_pdf(&tree, svg2pdf::ConversionOptions::default(), page).map_err(|e| self.fail(e))?;
            let at = |name: &[u8]| pdf.windows(name.len()).position(|bytes| bytes == name);
            match (at(b"+Inter-Regular"), at(b"+Inter-SemiBold")) {
                (Some(regular), Some(bold)) if bold < regular => {}
                _ => break,
            }
        }
        sort_resources(&mut pdf);
        Ok(pdf)
    }

    fn fail(&self, why: impl std::fmt::Display) -> Failure {
        Failure::new(format!("cannot draw `{}`: {why}", self.title))
    }

    fn tree(&self) -> Result<Tree, Failure> {
        let options = Options { fontdb: Arc::clone(&font::FONTS), ..Options::default() };
        Tree::from_str(&self.svg, &options).map_err(|e| self.fail(e))
    }

    /// The pixels as PNG: 8 bits, sRGB, on the drawing's own ground.
    fn png(&self, dpi: f64) -> Result<Vec<u8>, Failure> {
        let scale = dpi / 96.0;
        let [width, height] = [self.width, self.height].map(|side| (side * self.unit.px() * scale).round());
        if !(1.0..=LONGEST).contains(&width) || !(1.0..=LONGEST).contains(&height) {
            return Err(self.fail(format!("{width} x {height} pixels: each side has 1 to {LONGEST}")));
        }
        let tree = self.tree()?;
        let mut pixels = Pixmap::new(width as u32, height as u32).ok_or_else(|| self.fail("out of memory"))?;
        let fit = Transform::from_scale(width as f32 / tree.size().width(), height as f32 / tree.size().height());
        resvg::render(&tree, fit, &mut pixels.as_mut());
        let rgb: Vec<u8> =
            pixels.pixels().iter().map(|p| p.demultiply()).flat_map(|p| [p.red(), p.green(), p.blue()]).collect();
        let mut bytes = Vec::new();
        let mut encoder = png::Encoder::new(&mut bytes, width as u32, height as u32);
        encoder.set_color(png::ColorType::Rgb);
        encoder.set_depth(png::BitDepth::Eight);
        encoder.set_source_srgb(png::SrgbRenderingIntent::RelativeColorimetric);
        let per_metre = (dpi / METRES_PER_INCH).round() as u32;
        encoder.set_pixel_dims(Some(png::PixelDimensions { xppu: per_metre, yppu: per_metre, unit: png::Unit::Meter }));
        let mut writer = encoder.write_header().map_err(|e| self.fail(e))?;
        writer.write_image_data(&rgb).map_err(|e| self.fail(e))?;
        writer.finish().map_err(|e| self.fail(e))?;
        Ok(bytes)
    }
}

/// Puts the entries of a page's resources in order: they come as chance has it, a line each, and none moves beyond its
/// dictionary, so that every object stays where the file's own table says.
fn sort_resources(pdf: &mut [u8]) {
    for kind in ["ColorSpace", "ExtGState", "Font", "Pattern", "Shading", "XObject"] {
        let head = format!("/{kind} <<\n").into_bytes();
        let starts: Vec<usize> =
            pdf.windows(head.len()).enumerate().filter(|(_, w)| *w == head).map(|(i, _)| i).collect();
        for start in starts.into_iter().map(|at| at + head.len()) {
            let lines = pdf[start..].split_inclusive(|b| *b == b'\n');
            let mut entries: Vec<Vec<u8>> = lines
                .take_while(|l| l.trim_ascii().starts_with(b"/") && !l.trim_ascii().ends_with(b"<<"))
                .map(<[u8]>::to_vec)
                .collect();
            entries.sort();
            let sorted = entries.concat();
            pdf[start..start + sorted.len()].copy_from_slice(&sorted);
        }
    }
}
