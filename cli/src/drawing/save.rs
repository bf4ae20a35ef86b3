//! A drawing as the bytes of a file.

use super::{Drawing, font, page};
use crate::failure::Failure;
use krilla::Document;
use krilla::geom::Size;
use krilla::page::PageSettings;
use krilla_svg::{SurfaceExt, SvgSettings};
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
/// A pixel of a drawing is 1/96 of an inch, a point of a page 1/72.
const POINTS_PER_PIXEL: f64 = 0.75;

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
        let points = |side: f64| (side * self.unit.px() * POINTS_PER_PIXEL) as f32;
        let size = Size::from_wh(points(self.width), points(self.height)).ok_or_else(|| self.fail("no size"))?;
        let mut document = Document::new();
        let mut page = document.start_page_with(PageSettings::new(size));
        let mut surface = page.surface();
        surface.draw_svg(&tree, size, SvgSettings::default()).ok_or_else(|| self.fail("it cannot be a page"))?;
        surface.finish();
        page.finish();
        document.finish().map_err(|e| self.fail(format!("{e:?}")))
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
