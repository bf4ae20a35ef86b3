//! What else there is to say of a measured bracket, in sentences.

use super::faults::{Flicker, flicker, scale, steps, words};
use super::identify::Match;
use super::smoothing::{FLATTERED, MOST_ELECTRONS, factor};
use super::{CHANNELS, Channel, Claim, Exposure, FITS, Shot, State, Used};
use crate::frame::Frame;
use crate::math::exp2;
use crate::transfer::MID_GREY;

/// A deviation from the curve beyond this is noted, in stops.
const STRAYS: f64 = 0.15;

/// Of curve, offset, clip and floor.
pub(super) fn of_camera(
    remarks: &mut Vec<String>,
    exposures: &[Exposure],
    channels: &[Channel],
    used: &Used,
    matches: &[Match],
) {
    let claim = used.claim();
    let worst = channels.iter().map(|c| c.worst).fold(0.0, |a: f64, b| if b.abs() > a.abs() { b } else { a });
    if worst.abs() > STRAYS {
        let mut said = format!("the bracket deviates from {} by up to {worst:+.2} stops", claim.name);
        if let (Used::Claimed(_), Some(best)) = (used, matches.first())
            && best.rms <= FITS
        {
            said += &format!("; {} fits to {:.3} stops", best.claim.name, best.rms);
        }
        remarks.push(said);
    }
    let offset = channels[1].offset;
    if offset.abs() > STRAYS {
        let way = if offset > 0.0 { "over" } else { "under" };
        remarks.push(format!(
            "mid-grey of the meter lies {:.2} stops {way} mid-grey of the curve: check the patch, the meter, the lens, the shutter and the exposure index; floor_stops of the rating counts from mid-grey of the curve, as in stop tables",
            offset.abs()
        ));
    }
    for (c, channel) in channels.iter().enumerate() {
        if !channel.clip.seen {
            let name = CHANNELS[c];
            remarks.push(format!("{name} does not clip in this bracket: add brighter exposures to find its clip"));
        }
    }
    if exposures.iter().any(|s| s.channels.iter().any(|r| r.coarse && r.state == State::Good)) {
        remarks.push("some noise is smaller than one code, and is not used in the noise fit".to_owned());
    }
    if channels.iter().any(|c| c.floor.is_some_and(|f| f.below_bracket)) {
        remarks.push("the floor lies below the darkest exposure, and is extrapolated by the fit".to_owned());
    }
}

/// Of the bracket itself: flicker, steps that are not what they say.
pub(super) fn of_bracket(
    remarks: &mut Vec<String>,
    shots: &[&Shot],
    exposures: &[Exposure],
    claim: &Claim,
    witness: Option<&[f64]>,
) {
    let clear = |e: &Exposure| e.channels[1].state == State::Good && e.channels[1].light > 8.0 * e.channels[1].noise;
    let pairs = shots.iter().zip(exposures).filter(|(_, e)| clear(e));
    let flickers: Vec<Flicker> = pairs.filter_map(|(s, _)| flicker(&s.name, &s.patches, |v| claim.decode(v))).collect();
    let witness = witness.filter(|w| w.len() == exposures.len());
    let steps = steps(exposures, witness, |v| claim.decode(v));
    // Steps that lie one by one would look like a slope too.
    let scale = if steps.is_empty() { scale(exposures) } else { None };
    remarks.extend(words(&[], &flickers, &steps, scale));
}

/// Pixels along each edge of the middle of a patch: enough to see how noise is smoothed.
const ENOUGH: usize = 160;

/// Over how many pixels noise is smoothed, by the exposures in which it is seen; see [`super::smoothing`].
pub(super) fn smoothing(shots: &[&Shot], exposures: &[Exposure], claim: &Claim) -> Option<f64> {
    let clear =
        |e: &Exposure| e.channels.iter().all(|r| r.state == State::Good && !r.coarse && r.light > 2.0 * r.noise);
    let middle = |frame: &Frame| {
        let (w, h) = (frame.width().min(ENOUGH), frame.height().min(ENOUGH));
        frame.crop((frame.width() - w) / 2, (frame.height() - h) / 2, w, h)
    };
    let patches: Vec<Vec<Frame>> = shots
        .iter()
        .zip(exposures)
        .filter(|(_, e)| clear(e))
        .map(|(s, _)| s.patches.iter().take(2).filter_map(middle).collect())
        .collect();
    factor(&patches.iter().map(Vec::as_slice).collect::<Vec<_>>(), |v| claim.decode(v)).map(f64::sqrt)
}

/// Why noise, floor and latitude are too good to be true; none where nothing speaks against them.
pub(super) fn flattered(channels: &[Channel; 3], smoothing: Option<f64>) -> Option<String> {
    if let Some(edge) = smoothing.filter(|edge| *edge > FLATTERED) {
        return Some(format!(
            "noise is smoothed over about {edge:.1} pixels, more than any debayering does: noise reduction hides it"
        ));
    }
    let well = |c: &Channel| c.noise?.electrons(MID_GREY * exp2(c.clip.stops + c.offset));
    let most = channels.iter().filter_map(well).fold(0.0, f64::max);
    (most > MOST_ELECTRONS).then(|| {
        format!(
            "the full well would be {most:.0} electrons, and no pixel holds more than about {MOST_ELECTRONS}: noise reduction hides noise"
        )
    })
}
