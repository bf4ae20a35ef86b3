//! What was measured, as JSON.

use super::rate::rating;
use super::{Findings, Measured, ZONES};
use rushlight::measure::compare::Zone;
use rushlight::measure::modes::{Finding, Pairs, words};
use rushlight::measure::{CHANNELS, Channel, Exposure, State, Used};
use serde_json::{Value, json};

/// The whole document.
pub(super) fn document(findings: &Findings) -> Value {
    json!({
        "schema": 1,
        "snr": findings.snr,
        "floor_by": super::report::usable(findings.snr),
        "brackets": findings.measured.iter().map(bracket).collect::<Vec<_>>(),
        "compared": findings.compared.iter().map(|row| json!({
            "ei": row.ei,
            "over": row.over,
            "clip_stops": row.clip,
            "floor_stops": row.floor,
            "zones": ZONES.iter().zip(&row.zones).map(|(stops, zone)| json!({
                "stops": stops,
                "state": match zone {
                    Zone::Noise(_) => "usable",
                    Zone::Clipped => "clipped",
                    Zone::Drowned => "below floor",
                },
                "noise_stops": match zone { Zone::Noise(v) => Some(*v), _ => None },
                "noise_percent": zone.percent(),
            })).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
        "modes": findings.modes.as_ref().map(|pairs| {
            pairs.iter().enumerate().map(|(c, p)| mode(c, p)).collect::<Vec<_>>()
        }),
        "processing": findings.processing,
    })
}

fn mode(c: usize, pairs: &Pairs) -> Value {
    let kind = |finding: &Finding| match finding {
        Finding::Same => "same",
        Finding::Squeezed => "squeezed",
        Finding::Spread => "spread",
        Finding::Shifted(_) => "shifted",
        Finding::BlackMoved(_) => "black moved",
        Finding::Curve { .. } => "curve",
        Finding::ClipMoved { .. } => "clip moved",
    };
    json!({
        "channel": CHANNELS[c],
        "findings": pairs.findings().iter().map(|f| json!({ "kind": kind(f), "words": words(f, None) })).collect::<Vec<_>>(),
        "pairs": pairs.pairs.iter().map(|p| [p.first, p.second]).collect::<Vec<_>>(),
        "clips": pairs.clips,
    })
}

fn bracket(measured: &Measured) -> Value {
    let (m, b) = (&measured.measurement, &measured.bracket);
    let fitted = match &m.used {
        Used::Fitted(_, fitted) => {
            let p = &fitted.parameters;
            Some(json!({
                "log_base": 2, "log_slope": p.log_slope, "light_gain": p.light_gain, "light_offset": p.light_offset,
                "signal_offset": p.signal_offset, "break_light": p.break_light, "rms_stops": fitted.rms,
                "residuals": fitted.residuals.iter().map(|(s, r)| json!({ "stops": s, "residual_stops": r })).collect::<Vec<_>>(),
            }))
        }
        _ => None,
    };
    let source = match &m.used {
        Used::Claimed(_) => "claimed",
        Used::Published(_) => "published",
        Used::Alike(_) => "one of several that fit alike",
        Used::Fitted(..) => "fitted",
    };
    json!({
        "ei": measured.ei,
        "patch": [b.patch.x, b.patch.y, b.patch.width, b.patch.height],
        "frame": b.size,
        "choice": b.choice.as_ref().map(|c| json!({
            "share": c.best.share,
            "deviation_stops": c.best.deviation,
            "runner_up": c.runner_up.as_ref().map(|r| json!({
                "patch": [r.patch.x, r.patch.y, r.patch.width, r.patch.height],
                "stops": if r.stops.is_finite() { Some(r.stops) } else { None },
                "score_ratio": r.score / c.best.score,
            })),
        })),
        "smoothing_pixels": m.white.smoothing,
        "white_floor_stops": m.white.floor,
        "flattered": m.white.flattered,
        "noise": if m.temporal { "temporal" } else { "spatial" },
        "step": m.step,
        "curve": { "name": m.used.claim().name, "source": source, "range": m.used.claim().range.name(), "fitted": fitted },
        "fits": m.matches.iter().map(|f| json!({
            "name": f.claim.name, "offset_stops": f.offset, "rms_stops": f.rms, "alike": f.alike,
        })).collect::<Vec<_>>(),
        "channels": m.channels.iter().enumerate().map(|(c, channel)| of_channel(c, channel)).collect::<Vec<_>>(),
        "exposures": m.exposures.iter().map(exposure).collect::<Vec<_>>(),
        "rating": rating(measured).map(|r| json!({ "ei": r.ei, "clip": r.clip, "floor_stops": r.floor_stops })),
        "remarks": m.remarks,
    })
}

fn of_channel(c: usize, channel: &Channel) -> Value {
    json!({
        "channel": CHANNELS[c],
        "grey": channel.grey,
        "offset_stops": channel.offset,
        "strays_stops": channel.worst,
        "black_light": channel.black,
        "clip": { "signal": channel.clip.signal, "stops": channel.clip.stops, "seen": channel.clip.seen },
        "floor": channel.floor.map(|f| json!({
            "signal": f.signal, "stops": f.stops, "stops_from_the_curves_grey": f.rated, "below_bracket": f.below_bracket,
        })),
        "photon_transfer": channel.noise.map(|n| json!({ "a": n.dark, "b": n.gain, "c": n.fixed })),
    })
}

fn exposure(shot: &Exposure) -> Value {
    json!({
        "file": shot.name,
        "stops": shot.stops,
        "channels": shot.channels.iter().enumerate().map(|(c, r)| json!({
            "channel": CHANNELS[c],
            "signal": r.signal,
            "signal_noise": r.signal_noise,
            "light": r.light,
            "light_noise": r.noise,
            "noise_stops": r.noise_stops(),
            "deviation_stops": r.deviation,
            "state": match r.state {
                State::Good => "good",
                State::Touched => "clips in part",
                State::Clipped => "clipped",
            },
            "coarse": r.coarse,
        })).collect::<Vec<_>>(),
    })
}
