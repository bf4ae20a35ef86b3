//! Stills as EXR files: scene-linear AP1, half float.

use exr::error::UnitResult;
use exr::meta::attribute::Chromaticities;
use exr::prelude::*;
use rushlight::chromaticity::Xy;
use rushlight::gamut::AP1;
use std::path::Path;

/// A still.
#[derive(Debug, Clone, PartialEq)]
pub struct Still {
    /// Pixels across.
    pub width: usize,
    /// Red, green, blue; row by row from the top.
    pub pixels: Vec<[f16; 3]>,
    /// Red, green, blue and white as the file states them, CIE 1931 x and y.
    pub chromaticities: Option<[[f32; 2]; 4]>,
}

/// Red, green, blue and white of AP1.
pub fn ap1() -> [[f32; 2]; 4] {
    let [r, g, b] = AP1.primaries;
    [r, g, b, AP1.white].map(|Xy { x, y }| [x as f32, y as f32])
}

/// Writes AP1 pixels, compressed without loss.
///
/// # Errors
/// What the disk says.
pub fn write(path: &Path, width: usize, pixels: &[[f16; 3]]) -> UnitResult {
    let size = Vec2(width, pixels.len() / width);
    let encoding = Encoding { compression: Compression::ZIP16, ..Encoding::SMALL_LOSSLESS };
    let channels = SpecificChannels::rgb(|at: Vec2<usize>| {
        let [r, g, b] = pixels[at.y() * width + at.x()];
        (r, g, b)
    });
    let layer = Layer::new(size, LayerAttributes::default(), encoding, channels);
    let mut image = Image::from_layer(layer);
    let [red, green, blue, white] = ap1().map(|[x, y]| Vec2(x, y));
    image.attributes.chromaticities = Some(Chromaticities { red, green, blue, white });
    image.write().to_file(path)
}

/// Reads a still with channels R, G and B.
///
/// # Errors
/// What is wrong with the file.
pub fn read(path: &Path) -> Result<Still> {
    let image = exr::prelude::read()
        .no_deep_data()
        .largest_resolution_level()
        .rgb_channels(
            |size, _| (size.width(), vec![[f16::ZERO; 3]; size.area()]),
            |(width, pixels), at, (r, g, b): (f16, f16, f16)| pixels[at.y() * *width + at.x()] = [r, g, b],
        )
        .first_valid_layer()
        .all_attributes()
        .from_file(path)?;
    let (width, pixels) = image.layer_data.channel_data.pixels;
    let chromaticities =
        image.attributes.chromaticities.map(|c| [c.red, c.green, c.blue, c.white].map(|Vec2(x, y)| [x, y]));
    Ok(Still { width, pixels, chromaticities })
}
