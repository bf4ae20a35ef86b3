//! The positions of everything on the chart, in units of its lattice: 192 across, 108 down.

use crate::invalid::Invalid;

/// Units across.
pub const ACROSS: f64 = 192.0;
/// Units down.
pub const DOWN: f64 = 108.0;

/// Code of the chart's white, in which the marks are drawn; it lies within full and legal range.
pub const WHITE: u16 = 940;
/// Code of the chart's black.
pub const BLACK: u16 = 64;
/// Code of the ground around the patches.
pub const GROUND: u16 = 400;

/// The smallest chart, pixels across and down: patches have 25 pixels, and a quarter of it can be read.
pub const SMALLEST: [usize; 2] = [960, 540];
/// The largest.
pub const LARGEST: [usize; 2] = [8192, 8192];

/// An area, in units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    /// The left edge.
    pub x: f64,
    /// The upper edge.
    pub y: f64,
    /// How wide it is.
    pub width: f64,
    /// How high it is.
    pub height: f64,
}

impl Area {
    /// An area by its corner and its size.
    pub const fn new(x: f64, y: f64, width: f64, height: f64) -> Self {
        Self { x, y, width, height }
    }

    /// The middle.
    pub fn middle(&self) -> [f64; 2] {
        [self.x + self.width / 2.0, self.y + self.height / 2.0]
    }

    /// The part of it around its middle, `share` of each side.
    pub fn core(&self, share: f64) -> Self {
        let [x, y] = self.middle();
        let (width, height) = (self.width * share, self.height * share);
        Self { x: x - width / 2.0, y: y - height / 2.0, width, height }
    }
}

/// Middles of the corner marks: upper left, upper right, lower left, lower right.
pub const CORNERS: [[f64; 2]; 4] = [[9.0, 9.0], [183.0, 9.0], [9.0, 99.0], [183.0, 99.0]];
/// The widths of a mark's rings along a line through its middle, black first. No run of text or of bars has them.
pub const RINGS: [f64; 7] = [2.0, 1.0, 1.0, 2.0, 1.0, 1.0, 2.0];
/// A mark from edge to edge: the sum of its rings.
pub const MARK: f64 = 10.0;
/// White around a mark, on each side.
pub const QUIET: f64 = 1.0;

/// The bar code: columns of eight cells, one byte each.
pub const BARS: Area = Area::new(18.0, 4.0, 156.0, 10.0);
/// Its columns.
pub const COLUMNS: usize = 128;
/// Its cells in a column.
pub const CELLS: usize = 8;
/// White under the bar code.
pub const BARS_GROUND: Area = Area::new(16.5, 3.0, 159.0, 12.0);

/// White under both printed lines.
pub const PRINT_GROUND: Area = Area::new(16.5, 92.5, 159.0, 13.0);
/// Upper left corner of the line that the program reads too.
pub const NUMBER: [f64; 2] = [18.0, 93.5];
/// The line for people.
pub const TEXT: [f64; 2] = [18.0, 101.5];
/// Characters of the line for people.
pub const TEXT_LENGTH: usize = 52;

/// The upper left corner of the patches.
pub const PATCHES: [f64; 2] = [3.5, 17.0];
/// The side of a patch.
pub const PATCH: f64 = 5.0;
/// Patches across.
pub const PATCH_COLUMNS: usize = 37;
/// Patches down.
pub const PATCH_ROWS: usize = 15;
/// The share of a patch's side that is read: what is around it suffers from scaling, chroma and compression.
pub const CORE: f64 = 0.44;

/// The area of the patch in a column and a row.
pub fn patch(column: usize, row: usize) -> Area {
    Area::new(PATCHES[0] + PATCH * column as f64, PATCHES[1] + PATCH * row as f64, PATCH, PATCH)
}

/// The area of a cell of the bar code.
pub fn cell(column: usize, row: usize) -> Area {
    let (width, height) = (BARS.width / COLUMNS as f64, BARS.height / CELLS as f64);
    Area::new(BARS.x + width * column as f64, BARS.y + height * row as f64, width, height)
}

/// Checks a size of a chart in pixels.
///
/// # Errors
/// Why a chart cannot have that size.
pub fn check_size(width: usize, height: usize) -> Result<(), Invalid> {
    let fits = |value: usize, axis: usize| (SMALLEST[axis]..=LARGEST[axis]).contains(&value);
    if fits(width, 0) && fits(height, 1) {
        return Ok(());
    }
    let ([w, h], [most_w, most_h]) = (SMALLEST, LARGEST);
    let right = format!("it must lie between {w} x {h} and {most_w} x {most_h} pixels");
    Err(Invalid::plain(format!("{width} x {height} is out of range: {right}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_overlaps() {
        let mut areas: Vec<Area> =
            (0..PATCH_ROWS).flat_map(|row| (0..PATCH_COLUMNS).map(move |column| patch(column, row))).collect();
        areas.extend([BARS_GROUND, PRINT_GROUND]);
        let side = MARK + 2.0 * QUIET;
        areas.extend(CORNERS.map(|[x, y]| Area::new(x - side / 2.0, y - side / 2.0, side, side)));
        for (i, a) in areas.iter().enumerate() {
            assert!(a.x >= 0.0 && a.y >= 0.0 && a.x + a.width <= ACROSS && a.y + a.height <= DOWN, "{a:?}");
            for b in &areas[..i] {
                let apart =
                    a.x >= b.x + b.width || b.x >= a.x + a.width || a.y >= b.y + b.height || b.y >= a.y + a.height;
                assert!(apart, "{a:?} {b:?}");
            }
        }
        assert_eq!(RINGS.iter().sum::<f64>(), MARK);
    }
}
