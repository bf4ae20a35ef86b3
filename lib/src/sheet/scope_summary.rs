//! What the scopes of a frame say, in few numbers.

use crate::camera::Camera;
use crate::exposure::Ends;
use crate::scope::{Bins, CHROMA_BINS, CHROMA_WIDTH, CODES, Counted, STOP_BINS, STOPS};
use schemars::JsonSchema;
use serde::Serialize;

/// Shares of all channels' pixels under which the three levels of a waveform lie.
const SHARES: [f64; 3] = [0.05, 0.5, 0.95];

/// The scopes of a frame through a look.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ScopeSummary {
    /// The file.
    pub frame: String,
    /// Name of the camera that it is seen through.
    pub camera: String,
    /// Name of the display.
    pub display: String,
    /// The shot whose correction goes in.
    pub shot: Option<String>,
    /// The exposure index by which clip and floor are drawn.
    pub ei: Option<f64>,
    /// Pixels across and down that were counted; of a larger frame, each the mean of what it stands for.
    pub pixels: [usize; 2],
    /// The clip and the floor, in stops from mid-grey.
    pub clip: f64,
    /// The floor.
    pub floor: f64,
    /// Stops from mid-grey under which 5, 50 and 95 % of the channels' pixels lie, to a bin of a twelfth.
    pub stops: [f64; 3],
    /// 10-bit codes of the display under which 5, 50 and 95 % of its channels' pixels lie, to a bin of four.
    pub display_code_10: [f64; 3],
    /// Shares of red, green and blue at or over the clip.
    pub clipped: [f64; 3],
    /// Shares of red, green and blue under the floor.
    pub under_floor: [f64; 3],
    /// The mean CIE 1976 u′, v′ of the pixels that have a chromaticity.
    pub chromaticity: Option<[f64; 2]>,
}

/// Whose scopes they are: names of frame, camera and display, and of the shot, if any.
#[derive(Debug, Clone, Copy)]
pub struct ScopeOf<'n> {
    /// The file.
    pub frame: &'n str,
    /// The camera.
    pub camera: &'n str,
    /// The display.
    pub display: &'n str,
    /// The shot.
    pub shot: Option<&'n str>,
}

impl ScopeSummary {
    /// Of what was counted of `signals` of a camera that ends so.
    pub fn of(names: ScopeOf<'_>, counted: &Counted, signals: &[[f64; 3]], ends: &Ends) -> Self {
        let ScopeOf { frame, camera, display, shot } = names;
        let code = |signal: f64| (signal.clamp(0.0, 1.0) * 65535.0).round();
        let [clip, floor] = [&ends.clip, &ends.floor].map(|(level, _)| code(level.signal));
        let share = |beyond: &dyn Fn(f64) -> bool| {
            std::array::from_fn(|c| {
                let beyond = signals.iter().filter(|signal| beyond(code(signal[c]))).count();
                beyond as f64 / signals.len().max(1) as f64
            })
        };
        Self {
            frame: frame.to_owned(),
            camera: camera.to_owned(),
            display: display.to_owned(),
            shot: shot.map(str::to_owned),
            ei: ends.ei,
            pixels: counted.size,
            clip: ends.clip.0.stops,
            floor: ends.floor.0.stops,
            stops: SHARES.map(|share| STOPS[0] + (quantile(&counted.stops, share) + 0.5) / STOP_BINS as f64),
            display_code_10: SHARES.map(|share| (quantile(&counted.display, share) + 0.5) * CODES as f64 - 0.5),
            clipped: share(&|code| code >= clip),
            under_floor: share(&|code| code < floor),
            chromaticity: mean(&counted.chroma),
        }
    }

    /// In a sentence, as a screen reader says it.
    pub fn words(&self) -> String {
        let [low, middle, high] = self.stops;
        let ei = self.ei.map_or_else(String::new, |ei| format!("at EI {ei} "));
        format!(
            "90 % of the pixels' red, green and blue values lie between {low:+.1} and {high:+.1} stops from mid-grey, half of them under {middle:+.1}; \
             {ei}the clip is at {:+.1} and the floor at {:+.1}.",
            self.clip, self.floor
        )
    }
}

/// The bin up to which so great a share of all channels' pixels lies.
fn quantile(bins: &Bins, share: f64) -> f64 {
    let rows: Vec<u64> = bins.sums().into_iter().map(|row| row.iter().sum()).collect();
    let wanted = share * rows.iter().sum::<u64>() as f64;
    let mut sum = 0;
    let reached = |count: &u64| {
        sum += count;
        sum as f64 >= wanted
    };
    rows.iter().position(reached).unwrap_or_default() as f64
}

/// The mean place of what was counted on u′ and v′.
fn mean(bins: &Bins) -> Option<[f64; 2]> {
    let (mut all, mut sums) = (0.0, [0.0; 2]);
    for (i, [count, ..]) in bins.counts.iter().enumerate() {
        let place = [i % CHROMA_BINS, i / CHROMA_BINS].map(|bin| (bin as f64 + 0.5) * CHROMA_WIDTH);
        all += f64::from(*count);
        (0..2).for_each(|c| sums[c] += f64::from(*count) * place[c]);
    }
    (all > 0.0).then(|| sums.map(|sum| sum / all))
}

/// The ends of a camera at an exposure index that was noted of a frame; by the first rating where there is none of that, or none
/// was noted.
///
/// # Errors
/// As [`Ends::of`].
pub fn ends_at(camera: &Camera, ei: Option<f64>) -> Result<Ends, crate::invalid::Invalid> {
    let rating = ei.and_then(|ei| camera.rating(ei)).or(camera.ratings().first());
    Ends::of(camera, rating, false)
}
