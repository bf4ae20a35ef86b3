//! The colours of exposure zones: a ladder of as many as are asked for, and marks that stand out from a grey picture.
//!
//! Colours are linear BT.709 light, 0 to 1. Each is given by its lightness (CIE L*), and by a hue and a chroma in Oklch
//! (Björn Ottosson, "A perceptual color space for image processing", 2020), whose L follows from the lightness.
//!
//! # How it was found
//! *Lightness* carries the exposure, so that the ladder reads in greyscale: black under the floor, then equal steps from
//! 14 up to just under mid-grey, mid-grey at 49.5 as an 18 % grey has it, and equal steps from just over it to 91; white
//! over the clip. A side of few zones takes steps of 12 and does not reach its end.
//! *Hue* names a zone that is seen alone, on a face or a lamp. Two hues that alternate would not: two zones apart would
//! differ by lightness only, which the eye cannot judge without a neighbour. So three hues take turns on each side: slate,
//! brown and purple under mid-grey, cyan, green and sand over it, and zones of one hue are three stops apart. Mid-grey alone
//! is blue, and as colourful as BT.709 can show it; the zone over it, where skin lies, alone is rose.
//!
//! A monitor blends neighbouring zones where one gives way to the other, on a straight line of its own signal. On the way it
//! must not show a third zone's colour, or an edge reads as a zone that is not there. `tests/reference/check/palette.py` searches
//! hues and chromas for ladders whose ways pass no third zone (nearest by CIEDE2000), and of these for the greatest least
//! difference over all four kinds of vision of zones two apart, which [`TWO_APART`] is the aim of: it is reached with up to
//! six zones under mid-grey and eight over it; with ten under it, 10.9 are reached.
//!
//! *Marks* on a grey picture keep out of its lightness, so that they read in greyscale too: the picture lies between L* 30
//! and 70, with mid-grey at 49.5, and levels of marks are 15 apart from there to black and to white. Under the floor is
//! black and the clip is white, as on the ladder. The hues of the others are those of the ladder's mid-grey and its
//! complement for the key, and the two a third of a circle further on for what is under and what is over.

use super::vision::Vision;
use crate::difference::ciede2000;
use crate::gamut::BT709;
use crate::invalid::Invalid;
use crate::math::{cos, sin};
use crate::oklab;
use crate::transfer::{Transfer, srgb::Srgb};
use schemars::JsonSchema;
use serde::Serialize;

/// CIEDE2000 that neighbouring zones, and a mark and any grey of the picture, are apart at least, to every kind of vision.
pub const NEIGHBOURS: f64 = 8.0;
/// CIEDE2000 between zones two apart by which each can be named when it is seen alone, to every kind of vision. Reached by
/// ladders of up to [`NAMED`] zones.
pub const TWO_APART: f64 = 12.0;
/// The most zones under mid-grey, and over it, of which zones two apart are [`TWO_APART`].
pub const NAMED: [usize; 2] = [6, 8];
/// CIEDE2000 that any two zones of a ladder are apart at least.
pub const ANY_TWO: f64 = 5.0;
/// CIEDE2000 that mid-grey is apart from every other zone at least.
pub const GREY_FROM_ALL: f64 = 16.0;

/// Lightness, CIE L*, along the ladder.
mod lightness {
    /// Mid-grey: that of a reflectance of 18 %.
    pub(super) const GREY: f64 = 49.5;
    /// The lowest and the highest zone.
    pub(super) const LOWEST: f64 = 14.0;
    pub(super) const HIGHEST: f64 = 91.0;
    /// The largest step from zone to zone.
    pub(super) const STEP: f64 = 12.0;
    /// What is left free on either side of mid-grey, so that its blue, which protan eyes see lighter, stays between.
    pub(super) const UNDER_GREY: f64 = 5.0;
    pub(super) const OVER_GREY: f64 = 6.0;
    /// The grey picture, from the floor to the clip.
    pub(super) const FLOOR: f64 = 30.0;
    pub(super) const CLIP: f64 = 70.0;
    /// Marks under it and over it; black and white lie as far again.
    pub(super) const UNDER: f64 = 15.0;
    pub(super) const OVER: f64 = 85.0;
    /// Marks of the key, both lighter than any of the picture.
    pub(super) const KEY: [f64; 2] = [82.0, 93.0];
}

/// A hue in degrees, and a chroma that is the least of the two: as much as given, or a share of what BT.709 can show.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Tint {
    hue: f64,
    chroma: f64,
    share: f64,
}

const fn tint(hue: f64, chroma: f64) -> Tint {
    Tint { hue, chroma, share: 0.95 }
}

const GREY: Tint = Tint { hue: 270.0, chroma: 1.0, share: 0.95 };
/// From mid-grey downwards, in turn: slate, brown, purple.
const UNDER: [Tint; 3] = [tint(230.0, 0.02), tint(75.0, 0.04), tint(320.0, 0.12)];
/// The zone over mid-grey: rose.
const SKIN: Tint = tint(10.0, 0.04);
/// From there upwards, in turn: cyan, green, sand.
const OVER: [Tint; 3] = [tint(208.0, 0.10), tint(130.0, 0.15), tint(90.0, 0.04)];

/// What stands out from a grey picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Signpost {
    /// Under the floor.
    Floor,
    /// Near the floor, or under a window.
    Low,
    /// Mid-grey.
    Grey,
    /// A stop over mid-grey.
    Skin,
    /// Near the clip, or over a window.
    High,
    /// At the clip.
    Clip,
}

impl Signpost {
    /// All of them, from the darkest to the lightest.
    pub const ALL: [Self; 6] = [Self::Floor, Self::Low, Self::Grey, Self::High, Self::Skin, Self::Clip];

    /// The colour.
    pub fn colour(self) -> [f64; 3] {
        let Tint { hue: base, share, .. } = GREY;
        let strong = |turned: f64| Tint { hue: (base + turned) % 360.0, chroma: 0.2, share };
        match self {
            Self::Floor => [0.0; 3],
            Self::Low => shade(lightness::UNDER, strong(120.0)),
            Self::Grey => shade(lightness::KEY[0], strong(0.0)),
            Self::Skin => shade(lightness::KEY[1], strong(180.0)),
            Self::High => shade(lightness::OVER, strong(300.0)),
            Self::Clip => [1.0; 3],
        }
    }
}

/// Linear BT.709 light of Oklch: lightness 0 to 1, chroma, hue in degrees.
pub fn oklch(lightness: f64, chroma: f64, hue: f64) -> [f64; 3] {
    let angle = hue * (std::f64::consts::PI / 180.0);
    let (a, b) = (chroma * cos(angle), chroma * sin(angle));
    let cones = oklab::LAB_TO_ROOTS.map(|row| {
        let root = row[0] * lightness + row[1] * a + row[2] * b;
        root * root * root
    });
    oklab::LMS_TO_BT709.map(|row| row[0] * cones[0] + row[1] * cones[1] + row[2] * cones[2])
}

/// Luminance of a lightness L*, white 1.
fn luminance(lightness: f64) -> f64 {
    // CIE 15:2018, 8.2.1, solved for Y.
    let root = (lightness + 16.0) / 116.0;
    if root > 6.0 / 29.0 { root * root * root } else { 3.0 * (6.0 / 29.0) * (6.0 / 29.0) * (root - 4.0 / 29.0) }
}

/// The neutral of a lightness L*.
pub fn neutral(lightness: f64) -> [f64; 3] {
    [luminance(lightness.clamp(0.0, 100.0)); 3]
}

/// The grey picture's neutral at a number of stops from mid-grey, its lightness straight from the floor to mid-grey and
/// from there to the clip; beyond both it stays as it is there, for what is darker and lighter belongs to marks.
pub fn picture(stops: f64, floor: f64, clip: f64) -> [f64; 3] {
    let (end, at) = if stops < 0.0 { (lightness::FLOOR, floor) } else { (lightness::CLIP, clip) };
    // A floor at mid-grey itself has nothing under it.
    let share = if at == 0.0 { 1.0 } else { stops / at };
    neutral(lightness::GREY + (end - lightness::GREY) * share.min(1.0))
}

/// Linear BT.709 light, 0 to 1, as an 8-bit sRGB colour such as `#1a2b3c`.
pub fn srgb(rgb: [f64; 3]) -> String {
    let [r, g, b] = rgb.map(|v| (255.0 * Srgb.encode(v.clamp(0.0, 1.0))).round() as u8);
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// Halvings that exhaust the numbers between 0 and 1 as far as a colour can show them.
const HALVINGS: usize = 52;

/// The largest number from 0 to `most` that still holds; what holds must hold for all below it.
fn largest(most: f64, holds: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (0.0, most);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if holds(middle) { low = middle } else { high = middle }
    }
    low
}

/// The colour of a lightness L* and a tint.
fn shade(lightness: f64, tint: Tint) -> [f64; 3] {
    let weights = BT709.luminance_weights();
    let wanted = luminance(lightness);
    let at = |chroma: f64| {
        let luminance = |l: f64| {
            let rgb = oklch(l, chroma, tint.hue);
            weights[0] * rgb[0] + weights[1] * rgb[1] + weights[2] * rgb[2]
        };
        oklch(largest(1.05, |l| luminance(l) <= wanted), chroma, tint.hue)
    };
    let shown = |rgb: [f64; 3]| rgb.iter().all(|v| (0.0..=1.0).contains(v));
    let most = largest(0.4, |chroma| shown(at(chroma)));
    at(tint.chroma.min(tint.share * most)).map(|v| v.clamp(0.0, 1.0))
}

/// The colours of a ladder: black, `under` zones under mid-grey, mid-grey, `over` zones over it, white; from the darkest.
///
/// # Errors
/// Under `zone`: more zones than have distinct colours.
pub fn ladder(under: usize, over: usize) -> Result<Vec<[f64; 3]>, Invalid> {
    let colours = colours(under, over);
    let apart = Apart::of(&colours, under + 1);
    if apart.suffices() {
        return Ok(colours);
    }
    let most = |fits: &dyn Fn(usize) -> bool| (1..=64).take_while(|n| fits(*n)).last().unwrap_or(0);
    let (most_under, most_over) = (
        most(&|n| Apart::of(&self::colours(n, 1), n + 1).suffices()),
        most(&|n| Apart::of(&self::colours(1, n), 2).suffices()),
    );
    Err(Invalid::new(
        "zone",
        format!(
            "{under} zones under mid-grey and {over} over it are more than can be told apart, which is at most {most_under} \
             and {most_over}: give a larger zone, such as 2 stops, or rate the camera, since its curve may go on beyond its \
             clip"
        ),
    ))
}

fn colours(under: usize, over: usize) -> Vec<[f64; 3]> {
    use lightness::{GREY as MIDDLE, HIGHEST, LOWEST, OVER_GREY, STEP, UNDER_GREY};
    // Of `count` zones the one `k` steps from mid-grey.
    let level = |from: f64, to: f64, k: usize, count: usize| {
        let step = ((to - from) / count as f64).clamp(-STEP, STEP);
        from + step * k as f64
    };
    let below = |k: usize| shade(level(MIDDLE - UNDER_GREY, LOWEST, k, under), UNDER[(k - 1) % UNDER.len()]);
    let above = |k: usize| {
        let tint = if k == 1 { SKIN } else { OVER[(k - 2) % OVER.len()] };
        shade(level(MIDDLE + OVER_GREY, HIGHEST, k, over), tint)
    };
    let (below, above) = ((1..=under).rev().map(below), (1..=over).map(above));
    let ends = [[0.0; 3], [1.0; 3]];
    [ends[0]].into_iter().chain(below).chain([shade(MIDDLE, GREY)]).chain(above).chain([ends[1]]).collect()
}

/// How far the colours of a ladder are apart, the least over every kind of vision.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Apart {
    /// CIEDE2000 between neighbours.
    pub neighbours: f64,
    /// CIEDE2000 between zones that have one zone between them.
    pub two_apart: f64,
    /// CIEDE2000 between any two.
    pub any_two: f64,
    /// CIEDE2000 from mid-grey to any other.
    pub grey: f64,
    /// L* from one to the next lighter.
    pub rise: f64,
}

impl Apart {
    /// Of `colours` from dark to light, of which the one at `grey` is mid-grey.
    pub fn of(colours: &[[f64; 3]], grey: usize) -> Self {
        let most = f64::INFINITY;
        let mut apart = Self { neighbours: most, two_apart: most, any_two: most, grey: most, rise: most };
        for vision in Vision::ALL {
            let places: Vec<[f64; 3]> = colours.iter().map(|c| vision.place(*c)).collect();
            for (i, one) in places.iter().enumerate() {
                for (j, two) in places.iter().enumerate().skip(i + 1) {
                    let difference = ciede2000(*one, *two);
                    apart.any_two = apart.any_two.min(difference);
                    if j == i + 1 {
                        apart.neighbours = apart.neighbours.min(difference);
                        apart.rise = apart.rise.min(two[0] - one[0]);
                    }
                    if j == i + 2 {
                        apart.two_apart = apart.two_apart.min(difference);
                    }
                    if i == grey || j == grey {
                        apart.grey = apart.grey.min(difference);
                    }
                }
            }
        }
        apart
    }

    /// Whether that is enough.
    pub fn suffices(&self) -> bool {
        self.neighbours >= NEIGHBOURS && self.any_two >= ANY_TWO && self.grey >= GREY_FROM_ALL && self.rise > 0.0
    }
}

/// The least CIEDE2000 from `colour` to any grey of the picture, over every kind of vision.
pub fn from_picture(colour: [f64; 3]) -> f64 {
    const STEPS: u32 = 400;
    let level = |i: u32| lightness::FLOOR + (lightness::CLIP - lightness::FLOOR) * f64::from(i) / f64::from(STEPS);
    let greys: Vec<[f64; 3]> = (0..=STEPS).map(|i| neutral(level(i))).collect();
    let least = |vision: Vision| {
        let here = vision.place(colour);
        greys.iter().map(|grey| ciede2000(here, Vision::Normal.place(*grey))).fold(f64::INFINITY, f64::min)
    };
    Vision::ALL.into_iter().map(least).fold(f64::INFINITY, f64::min)
}
