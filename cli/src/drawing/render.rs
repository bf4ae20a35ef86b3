//! A drawing as pixels, and as a page of a PDF.

use super::{Drawing, font};
use crate::failure::Failure;
use crate::pdf;
use krilla::Document;
use krilla::geom::Size;
use krilla::page::PageSettings;
use krilla_svg::{SurfaceExt, SvgSettings};
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::fontdb::Database;
use resvg::usvg::{Options, Tree};
use std::sync::{Arc, LazyLock};

/// The longest side of a picture, in pixels.
const LONGEST: f64 = 16384.0;
const METRES_PER_INCH: f64 = 0.0254;
/// A pixel of a drawing is 1/96 of an inch, a point of a page 1/72.
const POINTS_PER_PIXEL: f64 = 0.75;

/// The two embedded fonts and no other, whatever family a drawing asks for.
static FONTS: LazyLock<Arc<Database>> = LazyLock::new(|| {
    let mut fonts = Database::new();
    fonts.load_font_data(font::REGULAR.to_vec());
    fonts.load_font_data(font::SEMIBOLD.to_vec());
    fonts.set_sans_serif_family(font::FAMILY);
    fonts.set_serif_family(font::FAMILY);
    fonts.set_monospace_family(font::FAMILY);
    Arc::new(fonts)
});

impl Drawing {
    /// A page whose text is text, with the same bytes each time.
    pub(super) fn pdf(&self) -> Result<Vec<u8>, Failure> {
        let tree = self.tree()?;
        let points = |side: f64| (side * self.unit.px() * POINTS_PER_PIXEL) as f32;
        let size = Size::from_wh(points(self.width), points(self.height)).ok_or_else(|| self.fail("no size"))?;
        let mut document = Document::new();
        let mut page = document.start_page_with(PageSettings::new(size));
        let mut surface = page.surface();
        surface.draw_svg(&tree, size, SvgSettings::default()).ok_or_else(|| self.fail("it cannot be a page"))?;
        surface.finish();
        page.finish();
        let bytes = document.finish().map_err(|e| self.fail(format!("{e:?}")))?;
        Ok(pdf::with_slate(bytes, &self.title, &self.slate))
    }

    fn fail(&self, why: impl std::fmt::Display) -> Failure {
        Failure::new(format!("cannot draw `{}`: {why}", self.title))
    }

    fn tree(&self) -> Result<Tree, Failure> {
        let options = Options { fontdb: Arc::clone(&FONTS), ..Options::default() };
        Tree::from_str(&self.svg, &options).map_err(|e| self.fail(e))
    }

    /// The pixels as PNG: 8 bits, sRGB, on the drawing's own ground.
    pub(super) fn png(&self, dpi: f64) -> Result<Vec<u8>, Failure> {
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
        if !self.slate.is_empty() {
            encoder.add_itxt_chunk("Description".to_owned(), self.slate.clone()).map_err(|e| self.fail(e))?;
        }
        let mut writer = encoder.write_header().map_err(|e| self.fail(e))?;
        writer.write_image_data(&rgb).map_err(|e| self.fail(e))?;
        writer.finish().map_err(|e| self.fail(e))?;
        Ok(bytes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_weights_are_there_under_one_name() {
        let weights: Vec<_> = FONTS.faces().map(|f| (f.families[0].0.as_str(), f.weight.0)).collect();
        assert_eq!(weights, [(font::FAMILY, 400), (font::FAMILY, 600)]);
    }
}
