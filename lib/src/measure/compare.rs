//! Exposure indices side by side, at one final brightness.
//!
//! A camera at a high EI can be exposed over and brought down afterwards. What comes of it is set against others by zones
//! of the final picture: the noise of each zone, and where its clip ends up.

use super::Measurement;
use crate::math::exp2;
use crate::transfer::MID_GREY;

/// One way to expose.
#[derive(Debug, Clone, Copy)]
pub struct Exposure<'m> {
    /// The exposure index, for the table.
    pub ei: f64,
    /// What was measured at it.
    pub measured: &'m Measurement,
    /// Stops exposed over what the meter says, and brought down afterwards.
    pub over: f64,
}

/// The noise of a zone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Zone {
    /// In stops, to first order.
    Noise(f64),
    /// It lies at or above the clip of a channel.
    Clipped,
    /// Signal over noise is below what counts as usable, or nothing is known.
    Drowned,
}

impl Zone {
    /// Noise in percent of the light.
    pub fn percent(self) -> Option<f64> {
        match self {
            Self::Noise(stops) => Some(100.0 * std::f64::consts::LN_2 * stops),
            _ => None,
        }
    }
}

/// A way, zone by zone.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The exposure index.
    pub ei: f64,
    /// Stops over.
    pub over: f64,
    /// Stops over mid-grey of the final picture where the first channel clips.
    pub clip: f64,
    /// Stops of the final picture of the lowest usable light.
    pub floor: Option<f64>,
    /// The zones asked for.
    pub zones: Vec<Zone>,
}

/// The ways at zones of the final picture, in stops from its mid-grey. The noise is the worst channel's.
pub fn compare(ways: &[Exposure<'_>], zones: &[f64]) -> Vec<Row> {
    ways.iter()
        .map(|way| {
            let channels = &way.measured.channels;
            let clip = channels.iter().map(|c| c.clip.stops).fold(f64::INFINITY, f64::min);
            let floor = way.measured.floor().map(|f| f.stops);
            let zone = |zone: &f64| {
                let exposed = zone + way.over;
                if exposed >= clip {
                    return Zone::Clipped;
                }
                if floor.is_none_or(|f| exposed < f) {
                    return Zone::Drowned;
                }
                let noises: Option<Vec<f64>> =
                    channels.iter().map(|c| c.noise.map(|n| n.stops(MID_GREY * exp2(exposed + c.offset)))).collect();
                noises.map_or(Zone::Drowned, |n| Zone::Noise(n.into_iter().fold(0.0, f64::max)))
            };
            let zones = zones.iter().map(zone).collect();
            Row { ei: way.ei, over: way.over, clip: clip - way.over, floor: floor.map(|f| f - way.over), zones }
        })
        .collect()
}
