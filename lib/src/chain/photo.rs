//! What can be told of a monitor that another camera photographed: no colours, since that camera, its exposure and the light
//! of the room are in the picture. Only the order of greys, where they stop changing, and which steps can be told apart.

use super::bank::Bank;
use super::patches::{Kind, Patch, STOPS, patches};
use super::read::Reading;
use crate::cube::Interpolation;

/// What a photograph says.
#[derive(Debug, Clone, PartialEq)]
pub struct Photograph {
    /// Greys that are darker than the one below them in signal, of all that were read.
    pub disordered: usize,
    /// Greys that were read.
    pub greys: usize,
    /// The lowest code whose step to the next grey can be seen.
    pub lowest: Option<u16>,
    /// The highest code whose step from the grey below it can be seen.
    pub highest: Option<u16>,
}

impl Photograph {
    /// By codes of greys and how bright each is, in rising order of the codes.
    fn of(greys: &[(u16, f64)]) -> Self {
        let (low, high) =
            greys.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), (_, v)| (l.min(*v), h.max(*v)));
        let step = STEP * (high - low).max(1e-6);
        let is_seen = |w: &&[(u16, f64)]| w[1].1 > w[0].1 + step;
        Self {
            disordered: greys.windows(2).filter(|w| w[1].1 < w[0].1 - step).count(),
            greys: greys.len(),
            lowest: greys.windows(2).find(is_seen).map(|w| w[0].0),
            highest: greys.windows(2).rev().find(is_seen).map(|w| w[1].0),
        }
    }

    /// What is clipped to legal range here and is not in the `right` picture, in words. Greys are 16 codes apart: the last one
    /// that changes below white of legal range is 944.
    pub fn clipped(&self, right: &Self) -> Option<&'static str> {
        let black = right.lowest? < LEGAL[0] && self.lowest? >= LEGAL[0];
        let white = right.highest? >= LEGAL[1] + 16 && self.highest? < LEGAL[1] + 16;
        match (black, white) {
            (true, true) => Some("Both ends are clipped, as by a screen or a box of legal range"),
            (true, false) => Some("Black is clipped, as by lift that is too low or by the wrong range"),
            (false, true) => Some("White is clipped, as by gain that is too high or by the wrong range"),
            (false, false) => None,
        }
    }
}

/// Codes of black and white of legal range (ITU-R BT.709-6, table 4).
const LEGAL: [u16; 2] = [64, 940];

/// A step of two greys that counts, as a share of the range from black to white in the photograph.
const STEP: f64 = 0.004;

/// Whether a patch is a grey of the scale, 16 codes apart.
fn is_grey(patch: &Patch) -> bool {
    patch.kind == Kind::Grey && (patch.codes[0].is_multiple_of(16) || patch.codes[0] == 1023)
}

/// Reads a photograph.
pub fn photograph(reading: &Reading) -> Photograph {
    let greys = reading.patches.iter().filter(|m| is_grey(&m.patch));
    Photograph::of(&in_order(greys.map(|m| (m.patch.codes[0], m.mean.iter().sum::<f64>() / 3.0)).collect()))
}

/// What a photograph of the right picture would say.
pub fn right(bank: &Bank) -> Photograph {
    let greys: Vec<Patch> = patches(&[0; STOPS]).into_iter().filter(is_grey).collect();
    let signals: Vec<[f64; 3]> = greys.iter().map(Patch::signal).collect();
    let given = bank.captured(&[], Interpolation::Tetrahedral, &signals);
    let light = greys.iter().zip(given).map(|(p, v)| (p.codes[0], v.iter().sum::<f64>() / 3.0));
    Photograph::of(&in_order(light.collect()))
}

fn in_order(mut greys: Vec<(u16, f64)>) -> Vec<(u16, f64)> {
    greys.sort_by_key(|(code, _)| *code);
    greys
}
