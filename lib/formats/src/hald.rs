//! The Hald image: a cube laid out as a square picture, as general image tools read it.
//!
//! Level n holds n² points along each edge in n³ × n³ pixels, in the order of a cube file, red fastest, row after row.
//! Input is 0 to 1; so is output, in 8 or 16 bits, black 0 and white the largest code.

use rushlight_colour::cube::{Cube, UNIT};
use std::fmt;
use std::io::Cursor;

/// Levels that are read and written: 4 to 196 points.
pub const LEVELS: std::ops::RangeInclusive<usize> = 2..=14;

/// Bits of each value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Depth {
    /// 0 to 255.
    Eight,
    /// 0 to 65535.
    Sixteen,
}

impl Depth {
    /// The code of white.
    pub const fn white(self) -> u16 {
        match self {
            Self::Eight => 255,
            Self::Sixteen => 65535,
        }
    }
}

/// A square RGB picture, row after row from the top, each pixel red, green, blue.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hald {
    level: usize,
    depth: Depth,
    pixels: Vec<[u16; 3]>,
}

/// Why a picture is no Hald image.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HaldError(String);

impl fmt::Display for HaldError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for HaldError {}

/// The level of a picture of that width and height.
fn level(width: usize, height: usize) -> Result<usize, HaldError> {
    LEVELS.clone().find(|n| n * n * n == width && width == height).ok_or_else(|| {
        HaldError(format!(
            "{width} x {height} pixels: a Hald image is square, with n^3 pixels a side, n from {} to {}",
            LEVELS.start(),
            LEVELS.end()
        ))
    })
}

impl Hald {
    /// The picture of `cube`, which must have n² points over 0..1. Values are rounded to the nearest code, and clipped to
    /// 0..1.
    ///
    /// # Errors
    /// A number of points that is no square of a level, another domain.
    pub fn from_cube(cube: &Cube, depth: Depth) -> Result<Self, HaldError> {
        let Some(level) = LEVELS.clone().find(|n| n * n == cube.size()) else {
            let sizes: Vec<String> = LEVELS.clone().map(|n| (n * n).to_string()).collect();
            let message =
                format!("{} points: a Hald image has a square number of them: {}", cube.size(), sizes.join(", "));
            return Err(HaldError(message));
        };
        if cube.domain() != UNIT {
            return Err(HaldError("a domain other than 0 to 1: a Hald image has no other".to_owned()));
        }
        let white = f64::from(depth.white());
        let code = |v: f64| (v.clamp(0.0, 1.0) * white).round() as u16;
        Ok(Self { level, depth, pixels: cube.nodes().iter().map(|node| node.map(code)).collect() })
    }

    /// A picture from its pixels, row after row.
    ///
    /// # Errors
    /// Sides that no level has, a wrong count of pixels.
    pub fn from_pixels(width: usize, height: usize, depth: Depth, pixels: Vec<[u16; 3]>) -> Result<Self, HaldError> {
        let level = level(width, height)?;
        if pixels.len() != width * height {
            return Err(HaldError(format!("{} pixels where {width} x {height} are {}", pixels.len(), width * height)));
        }
        if let Some(over) = pixels.iter().flatten().find(|v| **v > depth.white()) {
            return Err(HaldError(format!("code {over} is above white, {}", depth.white())));
        }
        Ok(Self { level, depth, pixels })
    }

    /// The level, n.
    pub const fn level(&self) -> usize {
        self.level
    }

    /// Pixels along each side.
    pub const fn side(&self) -> usize {
        self.level * self.level * self.level
    }

    /// Bits of each value.
    pub const fn depth(&self) -> Depth {
        self.depth
    }

    /// The pixels, row after row.
    pub fn pixels(&self) -> &[[u16; 3]] {
        &self.pixels
    }

    /// The cube that the picture holds.
    pub fn to_cube(&self) -> Cube {
        let white = f64::from(self.depth.white());
        let nodes = self.pixels.iter().map(|p| p.map(|v| f64::from(v) / white)).collect();
        Cube::new(self.level * self.level, UNIT, nodes).expect("a Hald image has as many pixels as its cube has nodes")
    }

    /// The picture as a PNG file.
    pub fn to_png(&self) -> Vec<u8> {
        let side = self.side() as u32;
        let mut file = Vec::new();
        let mut encoder = png::Encoder::new(&mut file, side, side);
        encoder.set_color(png::ColorType::Rgb);
        let values = self.pixels.iter().flatten();
        let (depth, data): (_, Vec<u8>) = match self.depth {
            Depth::Eight => (png::BitDepth::Eight, values.map(|v| *v as u8).collect()),
            Depth::Sixteen => (png::BitDepth::Sixteen, values.flat_map(|v| v.to_be_bytes()).collect()),
        };
        encoder.set_depth(depth);
        let written = encoder.write_header().and_then(|mut writer| writer.write_image_data(&data));
        written.expect("memory takes any picture");
        file
    }

    /// Reads a PNG file: RGB or RGBA (alpha is ignored), 8 or 16 bits.
    ///
    /// # Errors
    /// What is no PNG, another kind of pixels, sides that no level has.
    pub fn from_png(file: &[u8]) -> Result<Self, HaldError> {
        let fail = |e: png::DecodingError| HaldError(format!("not a PNG that can be read: {e}"));
        let mut reader = png::Decoder::new(Cursor::new(file)).read_info().map_err(fail)?;
        let info = reader.info();
        let (width, height) = (info.width as usize, info.height as usize);
        // Before the picture's memory is taken.
        level(width, height)?;
        let channels = match info.color_type {
            png::ColorType::Rgb => 3,
            png::ColorType::Rgba => 4,
            other => return Err(HaldError(format!("{other:?} pixels: a Hald image is RGB"))),
        };
        let depth = match info.bit_depth {
            png::BitDepth::Eight => Depth::Eight,
            png::BitDepth::Sixteen => Depth::Sixteen,
            other => return Err(HaldError(format!("{other:?} bits: a Hald image has 8 or 16"))),
        };
        let size = reader.output_buffer_size().ok_or_else(|| HaldError("a picture too large to read".to_owned()))?;
        let mut data = vec![0; size];
        reader.next_frame(&mut data).map_err(fail)?;
        let pixels = match depth {
            Depth::Eight => {
                let rgb = data.chunks_exact(channels).filter_map(<[u8]>::first_chunk::<3>);
                rgb.map(|codes| codes.map(u16::from)).collect()
            }
            Depth::Sixteen => {
                let rgb = data.chunks_exact(2 * channels).filter_map(|p| p.as_chunks().0.first_chunk::<3>());
                rgb.map(|codes| codes.map(u16::from_be_bytes)).collect()
            }
        };
        Self::from_pixels(width, height, depth, pixels)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pixels_follow_the_order_of_a_cube_file() {
        let hald = Hald::from_cube(&Cube::sample(4, |rgb| rgb).unwrap(), Depth::Eight).unwrap();
        assert_eq!((hald.level(), hald.side()), (2, 8));
        // Two rows of green in a row of the picture.
        assert_eq!(hald.pixels()[3], [255, 0, 0]);
        assert_eq!(hald.pixels()[4], [0, 85, 0]);
        assert_eq!(hald.pixels()[8 * 2], [0, 0, 85]);
        assert_eq!(hald.pixels()[63], [255; 3]);
    }

    #[test]
    fn a_png_holds_what_was_put_into_it() {
        let cube = Cube::sample(9, |[r, g, b]| [r * r, 1.2 * g - 0.1, 0.5 * (b + r)]).unwrap();
        for depth in [Depth::Eight, Depth::Sixteen] {
            let hald = Hald::from_cube(&cube, depth).unwrap();
            let back = Hald::from_png(&hald.to_png()).unwrap();
            assert_eq!(back, hald);
            let half = 0.5 / f64::from(depth.white()) + 1e-12;
            for (got, want) in back.to_cube().nodes().iter().zip(cube.nodes()) {
                assert!((0..3).all(|c| (got[c] - want[c].clamp(0.0, 1.0)).abs() <= half));
            }
        }
    }

    #[test]
    fn what_is_no_hald_image_is_refused() {
        let identity = |size| Cube::sample(size, |rgb| rgb).unwrap();
        assert!(Hald::from_cube(&identity(33), Depth::Eight).unwrap_err().to_string().contains("square number"));
        let wide = identity(4).resampled(4, [[0.0; 3], [2.0; 3]]).unwrap();
        assert!(Hald::from_cube(&wide, Depth::Eight).is_err());
        assert!(Hald::from_pixels(8, 9, Depth::Eight, vec![[0; 3]; 72]).is_err());
        assert!(Hald::from_pixels(8, 8, Depth::Eight, vec![[0; 3]; 63]).is_err());
        assert!(Hald::from_pixels(8, 8, Depth::Eight, vec![[256; 3]; 64]).is_err());
        assert!(Hald::from_png(b"not a picture").is_err());
        let mut cut = Hald::from_cube(&identity(9), Depth::Sixteen).unwrap().to_png();
        cut.truncate(cut.len() / 2);
        assert!(Hald::from_png(&cut).is_err());
    }
}
