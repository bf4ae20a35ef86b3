//! What can be told of a monitor that another camera photographed: no colours, since that camera, its exposure and the light
//! of the room are in the picture. Only the order of greys, where they stop changing, and which steps can be told apart.

use super::patches::Kind;
use super::read::Reading;

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

/// A step of two greys that counts, as a share of the range from black to white in the photograph.
const STEP: f64 = 0.004;

/// Reads a photograph; the greys are those of the scale, 16 codes apart.
pub fn photograph(reading: &Reading) -> Photograph {
    let mut greys: Vec<(u16, f64)> = reading
        .patches
        .iter()
        .filter(|m| m.patch.kind == Kind::Grey && (m.patch.codes[0].is_multiple_of(16) || m.patch.codes[0] == 1023))
        .map(|m| (m.patch.codes[0], m.mean.iter().sum::<f64>() / 3.0))
        .collect();
    greys.sort_by_key(|(code, _)| *code);
    let (low, high) = greys.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), (_, v)| (l.min(*v), h.max(*v)));
    let step = STEP * (high - low).max(1e-6);
    let disordered = greys.windows(2).filter(|w| w[1].1 < w[0].1 - step).count();
    let is_seen = |w: &&[(u16, f64)]| w[1].1 > w[0].1 + step;
    Photograph {
        disordered,
        greys: greys.len(),
        lowest: greys.windows(2).find(is_seen).map(|w| w[0].0),
        highest: greys.windows(2).rev().find(is_seen).map(|w| w[1].0),
    }
}
