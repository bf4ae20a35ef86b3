//! Remarks on a measured bracket, in sentences.

use super::faults::{Flicker, flicker, scale, steps, words};
use super::identify::Match;
use super::{CHANNELS, Channel, Claim, Exposure, FITS, Shot, State, Used};

/// A deviation from the curve beyond this is noted, in stops.
const STRAYS: f64 = 0.15;

/// Remarks on curve, offset, clip and floor.
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
            "mid-grey of the meter lies {:.2} stops {way} mid-grey of the curve: check the curve, the patch, the meter, the lens, the shutter and the exposure index; floor_stops of the rating counts from mid-grey of the curve, as in stop tables",
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

/// Remarks on the bracket itself: flicker, steps that differ from the stated ones.
pub(super) fn of_bracket(
    remarks: &mut Vec<String>,
    shots: &[&Shot],
    exposures: &[Exposure],
    claim: &Claim,
    black: f64,
    witness: Option<&[f64]>,
) {
    let clear = |e: &Exposure| e.channels[1].state == State::Good && e.channels[1].light > 8.0 * e.channels[1].noise;
    let pairs = shots.iter().zip(exposures).filter(|(_, e)| clear(e));
    let flickers: Vec<Flicker> = pairs.filter_map(|(s, _)| flicker(&s.name, &s.patches, |v| claim.decode(v))).collect();
    let witness = witness.filter(|w| w.len() == exposures.len());
    let steps = steps(exposures, witness, black, |v| claim.decode(v));
    // Single wrong steps would look like a slope too.
    let scale = if steps.is_empty() { scale(exposures) } else { None };
    remarks.extend(words(&[], &flickers, &steps, scale));
}
