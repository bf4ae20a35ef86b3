//! Text on pictures for review: the show, look and camera in the corners, and that the picture is not for grading.
//!
//! Everything stays within the middle nine tenths of the width and the height, which EBU R 95 calls the graphics safe area of
//! a 16:9 picture (from memory). Text has the signal of diffuse white over a darkened ground, so it is as bright on an HDR
//! display as paper in the scene, and no brighter.

use crate::display::Display;
use crate::frame::Frame;
use crate::glyphs::{self, HEIGHT, WIDTH};

/// Of the width and of the height, on each side, that stays free.
const MARGIN: f64 = 0.05;
/// Rows of a picture for one row of a character's dots.
const ROWS: usize = 320;
/// Dots around a line of text.
const PAD: usize = 2;
/// How far the ground of text is brought towards black.
const GROUND: f32 = 0.6;
/// How far a watermark is brought towards white.
const FAINT: f32 = 0.18;
/// How much of the width a watermark takes.
const ACROSS: f64 = 0.7;
/// What text that is too long ends in.
const MORE: &str = "...";

/// Text for a picture. What is empty is not there.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BurnIn {
    /// At the top left.
    pub show: String,
    /// At the top right.
    pub caution: String,
    /// At the bottom left.
    pub what: String,
    /// Large and faint over the middle.
    pub watermark: String,
    /// Whether the left half is the picture before.
    pub split: bool,
    /// Signal of text, and of its ground.
    levels: [[f32; 3]; 2],
}

/// Which corner a line stands in.
#[derive(Clone, Copy)]
struct Corner {
    right: bool,
    bottom: bool,
}

impl BurnIn {
    /// Nothing yet, in the levels of a display; where it is not known, of a signal from 0 to 1.
    pub fn on(display: Option<&Display>) -> Self {
        let level = |light: f64| display.map_or([light as f32; 3], |d| d.send([light; 3]).0.map(|v| v as f32));
        Self { levels: [level(1.0), level(0.0)], ..Self::default() }
    }

    /// Whether there is nothing to draw, whatever the frame's place.
    pub fn is_empty(&self) -> bool {
        !self.split && [&self.show, &self.caution, &self.what, &self.watermark].iter().all(|text| text.is_empty())
    }

    /// Draws on a picture that holds the display's signal. `before` is what it was made from, for a split; `place` is its
    /// timecode or number, at the bottom right where there is other text.
    pub fn draw(&self, picture: &mut Frame, before: Option<&Frame>, place: Option<&str>) {
        let associated = picture.info.associated;
        picture.associate(true);
        let (width, height) = (picture.width(), picture.height());
        if let Some(before) = before.filter(|_| self.split) {
            self.divide(picture, before);
        }
        let dot = height.div_ceil(ROWS).min(width.div_ceil(ROWS)).max(1);
        if !self.watermark.is_empty() {
            self.faint(picture);
        }
        let room = width - 2 * margin(width);
        let at = |right, bottom| Corner { right, bottom };
        let place = place.filter(|_| !self.what.is_empty());
        let taken = place.map_or(0, |place| self.line(picture, place, dot, at(true, true), room));
        self.line(picture, &self.what, dot, at(false, true), room.saturating_sub(taken));
        let taken = self.line(picture, &self.caution, dot, at(true, false), room);
        self.line(picture, &self.show, dot, at(false, false), room.saturating_sub(taken));
        picture.associate(associated);
    }

    /// The picture before on the left half, and a line between.
    fn divide(&self, picture: &mut Frame, before: &Frame) {
        let mut before = before.clone();
        before.associate(true);
        let (width, channels, from) = (picture.width(), picture.channels(), before.channels());
        let middle = width / 2;
        let rows = picture.samples_mut().chunks_exact_mut(width * channels);
        for (row, old) in rows.zip(before.samples().chunks_exact(width * from)) {
            for (pixel, old) in row.chunks_exact_mut(channels).zip(old.chunks_exact(from)).take(middle) {
                // Light is not a signal: what lies outside one is at its end.
                (0..3).for_each(|c| pixel[c] = old[c].clamp(0.0, 1.0));
            }
        }
        let thick = (width / 640).max(1);
        fill(picture, [middle.saturating_sub(thick), 0], [2 * thick, usize::MAX], self.levels[0], 1.0);
    }

    /// A line of text on its ground, in `room` pixels; the width that it takes.
    fn line(&self, picture: &mut Frame, text: &str, dot: usize, corner: Corner, room: usize) -> usize {
        let text = fitting(text, (room / dot).saturating_sub(2 * PAD));
        if text.is_empty() {
            return 0;
        }
        let size = [(long(&text) + 2 * PAD) * dot, (HEIGHT + 2 * PAD) * dot];
        let start = |at_end: bool, all: usize, size: usize| {
            if at_end { all.saturating_sub(margin(all) + size) } else { margin(all) }
        };
        let [x, y] = [start(corner.right, picture.width(), size[0]), start(corner.bottom, picture.height(), size[1])];
        fill(picture, [x, y], size, self.levels[1], GROUND);
        self.text(picture, &text, [x + PAD * dot, y + PAD * dot], dot, 1.0);
        size[0]
    }

    /// The watermark.
    fn faint(&self, picture: &mut Frame) {
        let (width, height) = (picture.width(), picture.height());
        let dot = ((ACROSS * width as f64) as usize / long(&self.watermark).max(1)).min(height / (2 * HEIGHT)).max(1);
        let text = fitting(&self.watermark, width / dot);
        let at = [width.saturating_sub(long(&text) * dot) / 2, height.saturating_sub(HEIGHT * dot) / 2];
        self.text(picture, &text, at, dot, FAINT);
    }

    fn text(&self, picture: &mut Frame, text: &str, [x, y]: [usize; 2], dot: usize, share: f32) {
        for (place, character) in text.chars().enumerate() {
            for row in 0..HEIGHT {
                for column in (0..WIDTH).filter(|column| glyphs::dot(character, *column, row)) {
                    let at = [x + dot * (place * (WIDTH + 1) + column), y + dot * row];
                    fill(picture, at, [dot, dot], self.levels[0], share);
                }
            }
        }
    }
}

/// Brings the pixels of a rectangle towards a signal, by that share; what is transparent there covers as much.
fn fill(picture: &mut Frame, [x, y]: [usize; 2], [across, down]: [usize; 2], ink: [f32; 3], share: f32) {
    let (width, height, channels) = (picture.width(), picture.height(), picture.channels());
    let columns = x.min(width)..x.saturating_add(across).min(width);
    for row in y.min(height)..y.saturating_add(down).min(height) {
        let from = (row * width + columns.start) * channels;
        let to = (row * width + columns.end) * channels;
        for pixel in picture.samples_mut()[from..to].chunks_exact_mut(channels) {
            for (sample, ink) in pixel.iter_mut().zip(ink.into_iter().chain([1.0])) {
                *sample += share * (ink - *sample);
            }
        }
    }
}

/// Pixels that stay free on each side.
fn margin(all: usize) -> usize {
    (MARGIN * all as f64).ceil() as usize
}

/// Dots across a line.
fn long(text: &str) -> usize {
    (text.chars().count() * (WIDTH + 1)).saturating_sub(1)
}

/// Text in so many dots, its end cut off where it is longer.
fn fitting(text: &str, dots: usize) -> String {
    if long(text) <= dots {
        return text.to_owned();
    }
    let room = (dots + 1) / (WIDTH + 1);
    let kept = room.saturating_sub(MORE.len());
    if kept == 0 { String::new() } else { text.chars().take(kept).chain(MORE.chars()).collect() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::display::standard;
    use crate::frame::{Depth, Format, Info};

    const GREY: f32 = 0.4;

    fn grey(width: usize, height: usize, alpha: bool) -> Frame {
        let info = Info::new(Format::Png, Depth::Integer(16));
        let pixel: &[f32] = if alpha { &[GREY, GREY, GREY, 0.5] } else { &[GREY; 3] };
        Frame::new(width, height, alpha, pixel.repeat(width * height), info).unwrap()
    }

    fn burn(display: &str) -> BurnIn {
        let texts = ["Saltmarsh", "not for grading", "12A-3  night r1  camera a"].map(str::to_owned);
        let [show, caution, what] = texts;
        BurnIn { show, caution, what, ..BurnIn::on(Some(&Display::of(standard(display).unwrap()))) }
    }

    fn changed(before: &Frame, after: &Frame) -> Vec<[usize; 2]> {
        let of = |i| [i % before.width(), i / before.width()];
        before.pixels().zip(after.pixels()).enumerate().filter(|(_, (a, b))| a != b).map(|(i, _)| of(i)).collect()
    }

    #[test]
    fn text_is_read_where_it_stands() {
        let mut picture = grey(1920, 1080, false);
        burn("bt709").draw(&mut picture, None, Some("01:02:03:04"));
        // 1080 rows make dots of 4 pixels; the first letter lies two dots within its ground, which begins at 5 %.
        let (dot, left, top) = (4, 96 + 8, 54 + 8);
        for row in 0..HEIGHT {
            for column in 0..WIDTH {
                let [r, g, b] = picture.rgb(left + dot * column, top + dot * row);
                let want = if glyphs::dot('S', column, row) { 1.0 } else { GREY * (1.0 - GROUND) };
                assert!([r, g, b].iter().all(|v| (v - want).abs() < 1e-6), "{column} {row}: {r} {g} {b}");
            }
        }
    }

    #[test]
    fn everything_lies_within_the_safe_area_and_nothing_overlaps() {
        for [width, height] in [[1920, 1080], [640, 360], [320, 568], [960, 540], [4096, 1716]] {
            let before = grey(width, height, false);
            let only = |f: &dyn Fn(&mut BurnIn)| {
                let mut one = BurnIn { show: String::new(), caution: String::new(), ..burn("bt709") };
                f(&mut one);
                let mut picture = before.clone();
                one.draw(&mut picture, None, Some("01:02:03:04"));
                changed(&before, &picture)
            };
            let all = only(&|_| ());
            let edge = |all: usize| (0.05 * all as f64) as usize;
            for [x, y] in &all {
                assert!(*x >= edge(width) && *x < width - edge(width), "{width} x {height}: {x}");
                assert!(*y >= edge(height) && *y < height - edge(height), "{width} x {height}: {y}");
            }
            // A long text gives way to the timecode, which is always whole.
            let longer = only(&|one| one.what = "a shot of a long name ".repeat(20));
            let right = |all: &[[usize; 2]]| all.iter().filter(|[x, _]| *x > width * 3 / 4).count();
            assert!(right(&longer) >= right(&all));
        }
        assert_eq!(fitting("12A-3 night", 12 * 6), "12A-3 night");
        assert_eq!(fitting("12A-3 night", 8 * 6), "12A-3...");
        assert_eq!(fitting("12A-3", 10), "");
    }

    /// ITU-R BT.2408: diffuse white is 58 % of PQ and 75 % of HLG.
    #[test]
    fn text_is_diffuse_white() {
        for (display, white) in [("bt709", 1.0), ("bt2100-pq", 0.5807), ("bt2100-hlg", 0.75)] {
            let mut picture = grey(640, 360, false);
            burn(display).draw(&mut picture, None, None);
            let brightest = picture.samples().iter().fold(0.0, |a: f32, b| a.max(*b));
            assert!((brightest - white).abs() < 2e-3, "{display}: {brightest}");
        }
    }

    #[test]
    fn a_split_shows_the_picture_before_on_the_left() {
        let before = grey(64, 36, false);
        let mut picture = before.clone();
        picture.samples_mut().fill(0.9);
        let split = BurnIn { split: true, ..BurnIn::on(None) };
        assert!(!split.is_empty() && BurnIn::on(None).is_empty());
        split.draw(&mut picture, Some(&before), Some("7"));
        assert_eq!([picture.rgb(0, 0), picture.rgb(30, 35)], [[GREY; 3]; 2]);
        assert_eq!([picture.rgb(33, 0), picture.rgb(63, 35)], [[0.9; 3]; 2]);
        assert_eq!(picture.rgb(32, 10), [1.0; 3]);
    }

    #[test]
    fn a_watermark_lies_over_the_middle_and_what_is_transparent_shows_it() {
        let mut picture = grey(640, 360, true);
        let mark = BurnIn { watermark: "review".to_owned(), ..BurnIn::on(None) };
        mark.draw(&mut picture, None, Some("7"));
        let over: Vec<&[f32]> = picture.samples().chunks_exact(4).filter(|p| p[3] != 0.5).collect();
        assert!(over.len() > 640 * 360 / 50);
        for pixel in over {
            let [colour, alpha] = [GREY * 0.5 * (1.0 - FAINT) + FAINT, 0.5 * (1.0 - FAINT) + FAINT];
            assert!((pixel[0] - colour / alpha).abs() < 1e-5 && (pixel[3] - alpha).abs() < 1e-6, "{pixel:?}");
        }
        assert_eq!(picture.rgb(5, 5), [GREY; 3]);
    }
}
