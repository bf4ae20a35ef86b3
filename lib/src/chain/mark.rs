//! The mark of a chart: a bar code, and a printed number that people can read too.
//!
//! The bar code has 128 bytes, one a column, whose cells are black for 1. 86 bytes are content and 42 are check bytes of
//! the Reed-Solomon code of ISO/IEC 16022 (for 36 x 36 symbols), so that 21 wrong bytes can be corrected. The layout of the
//! bars is ours, and no reader of such symbols knows it. Each byte is combined with a fixed pattern, so that equal bytes
//! do not make equal columns.
//!
//! | bytes | content |
//! | --- | --- |
//! | 0 | 1, the version of the chart |
//! | 1 to 8 | the number |
//! | 9 to 12 | pixels across and down, two bytes each, the larger part first |
//! | 13 to 31 | codes of the greys at stops, 15 of 10 bits each |
//! | 32 to 33 | white and zero bits |
//! | 34 to 85 | the name of the cube, UTF-8, zeros after it |
//!
//! The printed number is the same eight bytes in base sixteen, and two digits to check them. It is read by the shapes of
//! its digits, and shares nothing with the bar code but the corner marks.

use super::layout::{Area, CELLS, COLUMNS, NUMBER, cell};
use super::patches::STOPS;
use crate::glyphs::{self, DIGITS, HEIGHT, WIDTH};
use datamatrix::SymbolSize;
use datamatrix::errorcode::{decode_error, encode_error};

/// The version of the chart.
const VERSION: u8 = 1;
/// The symbol of ISO/IEC 16022 whose code is taken: 86 bytes of content, 42 check bytes.
const SYMBOL: SymbolSize = SymbolSize::Square36;
const CONTENT: usize = 86;
const NAME: usize = 34;
const GREYS: usize = 13;

/// The number of a chart: an identifier of the cube that it is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Number(pub [u8; 8]);

impl Number {
    /// The number of the chart for a cube of this name: the first bytes of the name's SHA-256.
    pub fn of(name: &str) -> Self {
        let hash = crate::files::digest(name.as_bytes());
        Self(std::array::from_fn(|i| hash[i]))
    }

    /// Two check digits that detect a misread number.
    fn check(self) -> u8 {
        self.0.iter().fold(0x5au8, |sum, byte| sum.rotate_left(3) ^ byte.wrapping_mul(29))
    }

    /// The digits as they are printed, without the check digits.
    pub fn digits(self) -> String {
        self.0.iter().map(|byte| format!("{byte:02X}")).collect()
    }

    /// The line as it is printed.
    pub fn line(self) -> String {
        format!("NO {}-{:02X}", self.digits(), self.check())
    }
}

/// The content of a chart's mark.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    /// The name of the cube, at most 52 bytes of it.
    pub name: String,
    /// The number, of the whole name.
    pub number: Number,
    /// Pixels across and down.
    pub size: [u16; 2],
    /// Codes of the greys at stops.
    pub stops: [u16; STOPS],
}

impl Mark {
    /// The mark of a chart for the cube of a name.
    pub fn new(name: &str, size: [u16; 2], stops: [u16; STOPS]) -> Self {
        let mut end = name.len().min(CONTENT - NAME);
        while !name.is_char_boundary(end) {
            end -= 1;
        }
        Self { name: name[..end].to_owned(), number: Number::of(name), size, stops }
    }

    /// Whether each cell of the bar code is black, column by column from the left, each from the top.
    pub fn bars(&self) -> Vec<[bool; CELLS]> {
        let mut content = vec![0; CONTENT];
        content[0] = VERSION;
        content[1..9].copy_from_slice(&self.number.0);
        content[9..11].copy_from_slice(&self.size[0].to_be_bytes());
        content[11..13].copy_from_slice(&self.size[1].to_be_bytes());
        for (i, code) in self.stops.iter().enumerate() {
            for bit in (0..10).filter(|bit| code >> (9 - bit) & 1 == 1) {
                let at = 10 * i + bit;
                content[GREYS + at / 8] |= 0x80 >> (at % 8);
            }
        }
        content[NAME..NAME + self.name.len()].copy_from_slice(self.name.as_bytes());
        let check = encode_error(&content, SYMBOL);
        content.extend(check);
        content.iter().enumerate().map(|(i, byte)| bits(byte ^ pattern(i))).collect()
    }

    /// Decodes the cells of a bar code; `None` if too many are wrong.
    pub fn of_bars(bars: &[[bool; CELLS]]) -> Option<Self> {
        if bars.len() != COLUMNS {
            return None;
        }
        let byte = |cells: &[bool; CELLS]| cells.iter().fold(0u8, |byte, black| byte << 1 | u8::from(*black));
        let mut content: Vec<u8> = bars.iter().enumerate().map(|(i, cells)| byte(cells) ^ pattern(i)).collect();
        decode_error(&mut content, SYMBOL).ok()?;
        if content[0] != VERSION {
            return None;
        }
        let two = |at: usize| u16::from_be_bytes([content[at], content[at + 1]]);
        let stop = |i: usize| {
            (0..10).fold(0, |code, bit| {
                let at = 10 * i + bit;
                code << 1 | u16::from(content[GREYS + at / 8] >> (7 - at % 8) & 1)
            })
        };
        let name = &content[NAME..CONTENT];
        let name = &name[..name.iter().position(|b| *b == 0).unwrap_or(name.len())];
        Some(Self {
            name: String::from_utf8(name.to_vec()).ok()?,
            number: Number(std::array::from_fn(|i| content[1 + i])),
            size: [two(9), two(11)],
            stops: std::array::from_fn(stop),
        })
    }
}

fn bits(byte: u8) -> [bool; CELLS] {
    std::array::from_fn(|i| byte >> (CELLS - 1 - i) & 1 == 1)
}

/// The fixed pattern of a column.
fn pattern(column: usize) -> u8 {
    (column as u8).wrapping_mul(37) ^ 0xa6
}

/// Reads the bar code where `light` gives the share of white, 0 to 1, in an area of the chart.
pub fn read_bars(light: impl Fn(Area) -> f64) -> Option<Mark> {
    let black = |column: usize, row: usize| light(cell(column, row).core(0.5)) < 0.5;
    let bars: Vec<[bool; CELLS]> = (0..COLUMNS).map(|c| std::array::from_fn(|row| black(c, row))).collect();
    Mark::of_bars(&bars)
}

/// The area of a dot of the character at a place of the printed number.
fn dot_area(place: usize, x: usize, y: usize) -> Area {
    let left = NUMBER[0] + (place * (WIDTH + 1) + x) as f64;
    Area::new(left, NUMBER[1] + y as f64, 1.0, 1.0)
}

/// Reads the printed number where `light` gives the share of white, 0 to 1, in an area of the chart; none where its check
/// digits are not its own.
pub fn read_number(light: impl Fn(Area) -> f64) -> Option<Number> {
    let digit = |place: usize| -> Option<u8> {
        let mut dark = [[0.0; WIDTH]; HEIGHT];
        for (y, row) in dark.iter_mut().enumerate() {
            for (x, dot) in row.iter_mut().enumerate() {
                *dot = 1.0 - light(dot_area(place, x, y).core(0.5));
            }
        }
        let likeness = |character: char| -> f64 {
            let dots = (0..HEIGHT).flat_map(|y| (0..WIDTH).map(move |x| (x, y)));
            dots.map(|(x, y)| if glyphs::dot(character, x, y) { dark[y][x] - 0.5 } else { 0.5 - dark[y][x] }).sum()
        };
        let ranked = DIGITS.chars().enumerate().map(|(value, c)| (value as u8, likeness(c)));
        ranked.max_by(|a, b| a.1.total_cmp(&b.1)).map(|(value, _)| value)
    };
    // After "NO ", and after the hyphen.
    let byte = |place: usize| Some(digit(place)? << 4 | digit(place + 1)?);
    let mut number = [0; 8];
    for (i, value) in number.iter_mut().enumerate() {
        *value = byte(3 + 2 * i)?;
    }
    let number = Number(number);
    (byte(20)? == number.check()).then_some(number)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mark() -> Mark {
        Mark::new("saltmarsh_night_r3_a_onset_33", [3840, 2160], std::array::from_fn(|i| 100 + 57 * i as u16))
    }

    #[test]
    fn twenty_one_wrong_bytes_are_mended_and_more_are_no_mark() {
        let sound = mark().bars();
        assert_eq!(sound.len(), COLUMNS);
        for wrong in [0, 1, 21] {
            let mut bars = sound.clone();
            for i in 0..wrong {
                bars[i * 6] = bars[i * 6].map(|cell| !cell);
            }
            assert_eq!(Mark::of_bars(&bars), Some(mark()), "{wrong}");
        }
        let mut bars = sound.clone();
        (0..40).for_each(|i| bars[i * 3][i % 8] ^= true);
        assert_ne!(Mark::of_bars(&bars), Some(mark()));
        assert_eq!(Mark::of_bars(&sound[1..]), None);
    }

    #[test]
    fn long_names_are_cut_between_characters_and_numbers_are_of_the_whole() {
        let long = "é".repeat(40);
        let cut = Mark::new(&long, [960, 540], [0; STOPS]);
        assert_eq!(cut.name, "é".repeat(26));
        assert_eq!(cut.number, Number::of(&long));
        assert_eq!(Mark::of_bars(&cut.bars()), Some(cut));
    }

    #[test]
    fn the_printed_number_is_read_by_its_shapes() {
        let number = mark().number;
        let line: Vec<char> = number.line().chars().collect();
        let is_white = |area: Area| {
            let [x, y] = area.middle();
            let (x, y) = ((x - NUMBER[0]) as usize, (y - NUMBER[1]) as usize);
            let (place, x) = (x / (WIDTH + 1), x % (WIDTH + 1));
            if x < WIDTH && y < HEIGHT && glyphs::dot(line[place], x, y) { 0.0 } else { 1.0 }
        };
        assert_eq!(read_number(is_white), Some(number));
        // Blurred to almost nothing, it is still read; inverted, it is not.
        assert_eq!(read_number(|area| 0.45 + 0.1 * is_white(area)), Some(number));
        assert_eq!(read_number(|area| 1.0 - is_white(area)), None);
    }
}
