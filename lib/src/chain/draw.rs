//! The chart as pixels: codes of 10 bits.

use super::layout::{
    ACROSS, Area, BARS_GROUND, BLACK, CELLS, CORNERS, DOWN, GROUND, MARK, NUMBER, PATCH_COLUMNS, PATCH_ROWS,
    PRINT_GROUND, QUIET, RINGS, TEXT, TEXT_LENGTH, WHITE, cell, check_size, patch,
};
use super::mark::Mark;
use super::patches::{FIRST_STOP, STOPS, patches};
use crate::camera::Camera;
use crate::frame::{Depth, Format, Frame, Info};
use crate::glyphs::{self, HEIGHT, WIDTH};
use crate::invalid::Invalid;
use crate::math::exp2;
use crate::transfer::MID_GREY;

/// A canvas of codes of 10 bits.
pub(super) struct Sheet {
    width: usize,
    height: usize,
    codes: Vec<[u16; 3]>,
}

impl Sheet {
    pub(super) fn new(width: usize, height: usize, code: u16) -> Self {
        Self { width, height, codes: vec![[code; 3]; width * height] }
    }

    /// The pixels whose middle lies in an area, as spans across and down.
    fn pixels(&self, area: Area) -> [std::ops::Range<usize>; 2] {
        let span = |from: f64, length: f64, units: f64, pixels: usize| {
            let edge = |at: f64| ((at * pixels as f64 / units).round().max(0.0) as usize).min(pixels);
            edge(from)..edge(from + length)
        };
        [span(area.x, area.width, ACROSS, self.width), span(area.y, area.height, DOWN, self.height)]
    }

    /// Fills an area with what `code` gives for a pixel, from its position and whether it is left of the area's middle.
    pub(super) fn fill(&mut self, area: Area, code: impl Fn(usize, usize, bool) -> [u16; 3]) {
        let [across, down] = self.pixels(area);
        let middle = (across.start + across.end) / 2;
        for y in down {
            for x in across.clone() {
                self.codes[y * self.width + x] = code(x, y, x < middle);
            }
        }
    }

    /// Fills an area with a grey.
    pub(super) fn flat(&mut self, area: Area, code: u16) {
        self.fill(area, |_, _, _| [code; 3]);
    }

    /// A line of text; `unit` is the side of a dot.
    pub(super) fn text(&mut self, [x, y]: [f64; 2], unit: f64, text: &str, code: u16) {
        for (place, character) in text.chars().enumerate() {
            for row in 0..HEIGHT {
                for column in (0..WIDTH).filter(|column| glyphs::dot(character, *column, row)) {
                    let left = x + unit * (place * (WIDTH + 1) + column) as f64;
                    self.flat(Area::new(left, y + unit * row as f64, unit, unit), code);
                }
            }
        }
    }

    pub(super) fn frame(self) -> Frame {
        let samples = self.codes.iter().flatten().map(|code| f32::from(*code) / 1023.0).collect();
        let info = Info { associated: false, ..Info::new(Format::Dpx, Depth::Integer(10)) };
        Frame::new(self.width, self.height, false, samples, info).expect("a frame of its own size")
    }
}

/// The codes of the greys at stops of a camera, from [`FIRST_STOP`] on; beyond what the signal holds, its ends.
pub fn stops(camera: &Camera) -> [u16; STOPS] {
    let code = |i: usize| {
        let light = MID_GREY * exp2(f64::from(FIRST_STOP + i as i32));
        let signal = camera.range().encode(camera.curve().encode(light));
        (signal.clamp(0.0, 1.0) * 1023.0).round() as u16
    };
    std::array::from_fn(code)
}

/// The chart of camera signal, code value / 1023 of 10 bits.
///
/// # Errors
/// A size that a chart cannot have.
pub fn chart(mark: &Mark) -> Result<Frame, Invalid> {
    let [width, height] = mark.size.map(usize::from);
    check_size(width, height)?;
    let mut sheet = Sheet::new(width, height, GROUND);
    for [x, y] in CORNERS {
        let around = |side: f64| Area::new(x - side / 2.0, y - side / 2.0, side, side);
        sheet.flat(around(MARK + 2.0 * QUIET), WHITE);
        let mut side = MARK;
        for (i, ring) in RINGS[..4].iter().enumerate() {
            sheet.flat(around(side), if i % 2 == 0 { BLACK } else { WHITE });
            side -= 2.0 * ring;
        }
    }
    sheet.flat(BARS_GROUND, WHITE);
    for (column, cells) in mark.bars().iter().enumerate() {
        for row in (0..CELLS).filter(|row| cells[*row]) {
            sheet.flat(cell(column, row), BLACK);
        }
    }
    let all = patches(&mark.stops);
    debug_assert_eq!(all.len(), PATCH_COLUMNS * PATCH_ROWS);
    for p in all {
        sheet.fill(patch(p.column, p.row), |x, y, left| p.pixel(x, y, left));
    }
    sheet.flat(PRINT_GROUND, WHITE);
    sheet.text(NUMBER, 1.0, &mark.number.line(), BLACK);
    let text: String = mark.name.chars().take(TEXT_LENGTH).collect();
    sheet.text(TEXT, 0.5, &text, BLACK);
    Ok(sheet.frame())
}
