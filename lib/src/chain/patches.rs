//! The colour of each patch: the same on every chart, except the greys at the stops of its camera.
//!
//! Greys over the whole range of codes; ramps of one code; colours on the nodes of usual cubes, in the middle of their
//! cells where interpolations differ, along edges and faces, and spread evenly; and patterns of single pixels. Codes are
//! of 10 bits, so that every format holds them exactly.

use super::layout::{BLACK, GROUND, PATCH_COLUMNS, PATCH_ROWS, WHITE};

/// The stop of the first grey at a stop.
pub const FIRST_STOP: i32 = -8;
/// Greys at stops, a stop apart.
pub const STOPS: usize = 15;

/// What a patch is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A grey of the scale.
    Grey,
    /// A grey at a stop of the camera.
    Stop,
    /// A grey of a ramp of one code a patch.
    Ramp,
    /// A colour.
    Colour,
    /// A repeat of one grey, to detect uneven light.
    Repeat,
    /// Columns of pixels of the two colours before it in turn.
    Columns,
    /// Rows of pixels of the two colours before it in turn.
    Rows,
    /// Black on the left half and white on the right one.
    Halves,
    /// A checkerboard of black and white pixels.
    Checks,
}

impl Kind {
    /// Whether every pixel of the patch has one colour.
    pub const fn is_flat(self) -> bool {
        !matches!(self, Self::Columns | Self::Rows | Self::Halves | Self::Checks)
    }
}

/// A patch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Patch {
    /// From the left, 0 to 36.
    pub column: usize,
    /// From the top, 0 to 14.
    pub row: usize,
    /// What it is for.
    pub kind: Kind,
    /// Codes of red, green and blue, of 10 bits; of a pattern, its first colour.
    pub codes: [u16; 3],
    /// The second colour of a pattern; else the first again.
    pub other: [u16; 3],
}

impl Patch {
    /// The signal of its colour.
    pub fn signal(&self) -> [f64; 3] {
        self.codes.map(|code| f64::from(code) / 1023.0)
    }

    /// The colour of the pixel at (x, y) of the chart, `left` where that is in the left half of the patch.
    pub fn pixel(&self, x: usize, y: usize, left: bool) -> [u16; 3] {
        let first = match self.kind {
            Kind::Columns => x.is_multiple_of(2),
            Kind::Rows => y.is_multiple_of(2),
            Kind::Checks => (x + y).is_multiple_of(2),
            Kind::Halves => left,
            _ => true,
        };
        if first { self.codes } else { self.other }
    }
}

/// The two colours of the chroma patterns: they differ in red and blue against each other.
const WARM: [u16; 3] = [560, 430, 320];
const COOL: [u16; 3] = [320, 430, 560];
/// Special greys: the ends of legal range with the codes beside them, and the ends of what SDI carries.
const OF_INTEREST: [u16; 9] = [4, 56, 60, 68, 936, 940, 944, 950, 1019];
/// Where the dark ramp and the ramp in the middle begin.
const RAMPS: [u16; 2] = [84, 404];

/// A share of 1 that is spread evenly with those of the indices before it (van der Corput).
fn spread(mut index: usize, base: usize) -> f64 {
    let (mut value, mut part) = (0.0, 1.0);
    while index > 0 {
        part /= base as f64;
        value += part * (index % base) as f64;
        index /= base;
    }
    value
}

fn point(index: usize) -> [f64; 3] {
    [spread(index, 2), spread(index, 3), spread(index, 5)]
}

fn code(signal: f64) -> u16 {
    (signal.clamp(0.0, 1.0) * 1023.0).round() as u16
}

/// Colours near grey, the most frequent ones in pictures of log. `reach` is the largest distance of a channel from the mean.
fn near_grey(index: usize, reach: f64) -> [f64; 3] {
    let [grey, a, b] = point(index);
    let grey = 0.06 + 0.76 * grey;
    let (a, b) = ((a - 0.5) * 2.0 * reach, (b - 0.5) * 2.0 * reach);
    [grey + a, grey - (a + b) / 2.0, grey + b]
}

/// Middles of cells of 33 points, of faces and of edges of cells: where interpolations differ most.
const WITHIN: [[f64; 3]; 8] = [
    [0.5, 0.5, 0.0],
    [0.5, 0.0, 0.5],
    [0.0, 0.5, 0.5],
    [0.5, 0.5, 1.0],
    [0.75, 0.25, 0.5],
    [0.25, 0.75, 0.5],
    [0.5, 0.5, 0.5],
    [0.25, 0.5, 0.75],
];

/// Colours that are no greys, `count` of them.
fn colours(count: usize) -> Vec<[u16; 3]> {
    let mut all = Vec::with_capacity(count);
    // Corners, the middles of edges and of faces.
    for r in 0..3 {
        for g in 0..3 {
            for b in 0..3 {
                let (at, ends) = ([r, g, b], [r, g, b].iter().filter(|v| **v != 1).count());
                let is_grey = r == g && g == b;
                if ends > 0 && !is_grey {
                    all.push(at.map(|v| [0, 512, 1023][v]));
                }
            }
        }
    }
    // Saturated hues.
    for hue in 1..7usize {
        for level in [256, 384, 512, 640, 768, 896] {
            all.push(std::array::from_fn(|c| if hue >> c & 1 == 1 { level } else { BLACK }));
        }
    }
    // Nodes of 33 points, every other one a node of 17.
    for i in 1..=36 {
        let node = |v: f64| if i % 2 == 0 { (v * 16.0).round() / 16.0 } else { (v * 32.0).round() / 32.0 };
        all.push(near_grey(i, 0.2).map(|v| code(node(v.clamp(0.0, 1.0)))));
    }
    for i in 1..=104 {
        let within = WITHIN[i % WITHIN.len()];
        let cell = near_grey(100 + i, 0.16);
        all.push(std::array::from_fn(|c| code(((cell[c].clamp(0.0, 0.96) * 32.0).floor() + within[c]) / 32.0)));
    }
    all.extend((1..=54).map(|i| point(i).map(code)));
    let rest = count.saturating_sub(all.len());
    all.extend((1..=rest).map(|i| near_grey(300 + i, 0.1).map(code)));
    all.truncate(count);
    all
}

/// Every patch of a chart whose camera has these codes at its stops, from [`FIRST_STOP`] on, in rows from the top.
pub fn patches(stops: &[u16; STOPS]) -> Vec<Patch> {
    let grey = |code: u16| [code; 3];
    let mut greys = (0..64).map(|i| 16 * i).chain([1023]).chain(OF_INTEREST);
    let mut after = (RAMPS[0]..).take(PATCH_COLUMNS - STOPS).chain((RAMPS[1]..).take(PATCH_COLUMNS));
    let is_repeat = |column: usize, row: usize| column.is_multiple_of(PATCH_COLUMNS - 1) && row > 4 && row % 3 == 2;
    let free = (5..PATCH_ROWS).flat_map(|row| (0..PATCH_COLUMNS).map(move |column| (column, row)));
    let pattern = [
        (Kind::Colour, WARM, WARM),
        (Kind::Colour, COOL, COOL),
        (Kind::Columns, WARM, COOL),
        (Kind::Rows, WARM, COOL),
        (Kind::Halves, grey(BLACK), grey(WHITE)),
        (Kind::Checks, grey(BLACK), grey(WHITE)),
    ];
    let count = free.filter(|(column, row)| !is_repeat(*column, *row)).count() + PATCH_COLUMNS - pattern.len();
    let mut colours = colours(count).into_iter();
    let mut all = Vec::with_capacity(PATCH_COLUMNS * PATCH_ROWS);
    for row in 0..PATCH_ROWS {
        for column in 0..PATCH_COLUMNS {
            let (kind, codes, other) = match row {
                0 | 1 => {
                    let codes = grey(greys.next().unwrap_or(GROUND));
                    (Kind::Grey, codes, codes)
                }
                2 if column < STOPS => (Kind::Stop, grey(stops[column]), grey(stops[column])),
                2 | 3 => {
                    let codes = grey(after.next().unwrap_or(GROUND));
                    (Kind::Ramp, codes, codes)
                }
                4 if column < pattern.len() => pattern[column],
                _ if is_repeat(column, row) => (Kind::Repeat, grey(GROUND), grey(GROUND)),
                _ => {
                    let codes = colours.next().unwrap_or(grey(GROUND));
                    (Kind::Colour, codes, codes)
                }
            };
            all.push(Patch { column, row, kind, codes, other });
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_patches_fill_the_chart() {
        let all = patches(&[77; STOPS]);
        assert_eq!(all.len(), PATCH_COLUMNS * PATCH_ROWS);
        let of = |kind| all.iter().filter(|p| p.kind == kind).count();
        assert_eq!([of(Kind::Grey), of(Kind::Stop), of(Kind::Ramp), of(Kind::Repeat)], [74, 15, 59, 8]);
        assert!(all.iter().all(|p| p.codes.iter().all(|c| *c <= 1023)));
        let mut colours: Vec<_> = all.iter().filter(|p| p.kind == Kind::Colour).map(|p| p.codes).collect();
        let count = colours.len();
        colours.sort_unstable();
        colours.dedup();
        assert!(colours.len() + 8 > count, "{count} colours, {} of them different", colours.len());
        for wanted in [0, 64, 940, 1023] {
            assert!(all.iter().any(|p| p.kind == Kind::Grey && p.codes == [wanted; 3]), "{wanted}");
        }
    }
}
