//! Draws response, noise and latitude.

use super::{Findings, Measured, Title};
use crate::drawing::chart::{Axis, Chart, Guide, Mark, Panel, Series};
use crate::drawing::theme;
use rushlight::math::exp2;
use rushlight::measure::{Exposure, Reading, State};
use rushlight::transfer::MID_GREY;

/// Steps of the curves that are drawn, in stops.
const STEP: f64 = 1.0 / 16.0;

/// Code values of 10 bits in all of the signal.
const CODES: f64 = 1023.0;

/// The charts of the measurements.
pub(super) fn chart(findings: &Findings, title: &Title<'_>) -> Chart {
    let mut panels = Vec::new();
    for measured in &findings.measured {
        panels.push(response(measured));
        panels.push(deviation(measured));
        panels.push(noise(measured, findings.snr));
    }
    // One bracket's latitude is a sentence, not a chart.
    let mut notes = Vec::new();
    if findings.measured.iter().filter(|m| m.measurement.floor().is_some()).count() > 1 {
        panels.push(latitude(findings));
    } else {
        notes.extend(latitude(findings).series.into_iter().map(|series| format!("Latitude: {}.", series.name)));
    }
    panels.extend(super::processing_chart::panels(findings));
    if findings.measured.iter().any(|m| m.noise.is_smoothed()) {
        notes.push(
            "Noise is smoothed before it is seen. Dashed lines, and the thick ones of the latitude, have white noise of the same \
             low-frequency power: expose by these."
                .to_owned(),
        );
    }
    notes.push(format!(
        "Stops from mid-grey of the meter. Dots are exposures. In `response` the line is the curve, in `signal to noise` it is fitted. Floor: signal over noise is {}. The \
         result is that of the whole chain, from the lens to the codec.",
        super::report::usable(findings.snr)
    ));
    let name = findings.measured.first().map(|m| m.measurement.used.claim().name.clone()).unwrap_or_default();
    let eis: Vec<f64> = findings.measured.iter().filter_map(|m| m.ei).collect();
    Chart {
        title: format!("Measured: {}", title.of(&eis)),
        subtitle: format!("by test frames, {}; light by the curve {name}", patches(findings)),
        panels,
        columns: 3,
        plot: [340.0, 240.0],
        notes,
    }
}

/// The patch of the frames, or that each bracket has one of its own.
fn patches(findings: &Findings) -> String {
    let mut all: Vec<_> = findings.measured.iter().map(|m| m.bracket.patch).collect();
    all.dedup();
    match &all[..] {
        [patch] => format!("patch {},{},{},{}", patch.x, patch.y, patch.width, patch.height),
        _ => "a patch for each bracket".to_owned(),
    }
}

/// Stops, each with its tick, from the darkest exposure to the brightest in every chart of a bracket.
fn stops(measured: &Measured) -> Axis {
    let [from, to] = ends(measured);
    Axis::linear("stops from mid-grey").over(from - 0.5, to + 0.5).every(1.0)
}

fn titled(measured: &Measured, what: &str) -> String {
    measured.ei.map_or(what.to_owned(), |ei| format!("EI {ei}: {what}"))
}

/// The darkest and the brightest stop.
fn ends(measured: &Measured) -> [f64; 2] {
    let stops = measured.measurement.exposures.iter().map(|s| s.stops);
    stops.fold([f64::MAX, f64::MIN], |[a, b], v| [a.min(v), b.max(v)])
}

fn along([from, to]: [f64; 2], of: impl Fn(f64) -> f64) -> Vec<[f64; 2]> {
    (0..=((to - from) / STEP).round() as usize).map(|i| from + STEP * i as f64).map(|x| [x, of(x)]).collect()
}

/// Dots of one channel.
fn dots(measured: &Measured, c: usize, of: impl Fn(&Exposure, &Reading) -> f64) -> Series {
    let points = measured.measurement.exposures.iter().map(|s| [s.stops, of(s, &s.channels[c])]).collect();
    // So that each shows where they lie on one another.
    let mark = Mark::Dots { radius: [4.2, 3.0, 1.8][c] };
    Series { mark, ..Series::line(rushlight::measure::CHANNELS[c], theme::CHANNELS[c], points) }
}

fn response(measured: &Measured) -> Panel {
    let m = &measured.measurement;
    let claim = m.used.claim();
    let curve = along(ends(measured), |stops| CODES * claim.encode(MID_GREY * exp2(stops)).min(1.0));
    let mut series = vec![Series::line(claim.name.clone(), theme::QUIET, curve)];
    series.extend((0..3).map(|c| dots(measured, c, |_, r| CODES * r.signal)));
    let mut guides = vec![Guide::X(0.0, "mid-grey".to_owned())];
    guides.extend(m.clip().map(|clip| Guide::Y(CODES * clip.signal, "clip".to_owned())));
    let (x, y) = (stops(measured), Axis::linear("signal, 10-bit code").over(0.0, CODES).every(100.0));
    Panel { title: titled(measured, "response"), x, y, series, guides }
}

fn deviation(measured: &Measured) -> Panel {
    let series = (0..3).map(|c| dots(measured, c, |_, r| r.deviation.unwrap_or(f64::NAN))).collect();
    let all = measured.measurement.exposures.iter().flat_map(|s| s.channels.iter().filter_map(|r| r.deviation));
    let reach = all.fold(0.25, |most: f64, d| most.max(d.abs() * 1.1));
    let x = stops(measured);
    let y = Axis::linear("stops over the curve").over(-reach, reach);
    Panel {
        title: titled(measured, "deviation from the curve"),
        x,
        y,
        series,
        guides: vec![Guide::Y(0.0, String::new())],
    }
}

fn noise(measured: &Measured, snr: f64) -> Panel {
    let m = &measured.measurement;
    let mut series = Vec::new();
    let white = measured.noise.unsmoothed.as_ref().filter(|_| measured.noise.is_smoothed());
    for (c, channel) in m.channels.iter().enumerate() {
        if let Some(fit) = channel.noise {
            let [from, to] = ends(measured);
            let ratio = along([from, to.min(channel.clip.stops)], |s| fit.ratio(MID_GREY * exp2(s + channel.offset)));
            let mark = Mark::Line { width: theme::CHANNEL_WIDTHS[c], dash: &[] };
            series.push(Series { mark, ..Series::line("", theme::CHANNELS[c], ratio) });
        }
        if let Some(fit) = white.and_then(|w| w.0.channels[c].noise) {
            let [from, to] = ends(measured);
            let ratio = along([from, to.min(channel.clip.stops)], |s| fit.ratio(MID_GREY * exp2(s + channel.offset)));
            let name = if c == 0 { "with white noise" } else { "" };
            series.push(Series { mark: Mark::DASHED, ..Series::line(name, theme::CHANNELS[c], ratio) });
        }
        series.push(dots(measured, c, |_, r| match r.state {
            State::Good if r.noise > 0.0 && r.light > 0.0 && !r.coarse => (r.light - channel.black) / r.noise,
            _ => f64::NAN,
        }));
    }
    let mut guides = vec![Guide::Y(snr, "usable above".to_owned())];
    guides.extend(m.floor().map(|f| Guide::X(f.stops, "floor".to_owned())));
    guides.extend(m.clip().map(|c| Guide::Foot(c.stops, "clip".to_owned())));
    let (x, y) = (stops(measured), Axis::log("signal over noise"));
    Panel { title: titled(measured, "signal to noise"), x, y, series, guides }
}

/// Where a bracket without an exposure index is drawn.
const NO_EI: f64 = 1.0;

/// From floor to clip, one line an exposure index.
fn latitude(findings: &Findings) -> Panel {
    let rated = findings.measured.iter().map(|m| (m, m.ei.unwrap_or(NO_EI)));
    let (least, most) = rated.clone().fold((f64::MAX, f64::MIN), |(a, b), (_, ei)| (a.min(ei), b.max(ei)));
    let series = rated
        .enumerate()
        .flat_map(|(i, (m, ei))| {
            let clip = m.measurement.channels.iter().map(|c| c.clip.stops).fold(f64::INFINITY, f64::min);
            let seen = if m.measurement.clip().is_some() { "" } else { ", no clip seen" };
            let one = |floor: f64, what: &str, width: f64| {
                let name = format!("{}{seen}{what}: {:.1} stops", titled(m, "").trim_end_matches(": "), clip - floor);
                let mark = Mark::Line { width, dash: &[] };
                let colour = theme::SERIES[i % theme::SERIES.len()];
                Series {
                    mark,
                    ..Series::line(name.trim_start_matches([':', ',', ' ']), colour, vec![[floor, ei], [clip, ei]])
                }
            };
            // The flattered one is never drawn alone: thin as seen, thick with white noise.
            let floor = m.measurement.floor().map(|f| f.stops);
            let white = m.noise.white.floor_stops.filter(|_| m.noise.is_smoothed());
            match (floor, white) {
                (Some(floor), Some(white)) => vec![one(floor, " as seen", 2.0), one(white, " with white noise", 6.0)],
                (Some(floor), None) => vec![one(floor, "", 6.0)],
                _ => Vec::new(),
            }
        })
        .collect();
    let eis: Vec<f64> = findings.measured.iter().filter_map(|m| m.ei).collect();
    let label = if eis.is_empty() { "" } else { "exposure index" };
    let y = Axis::log(label).over(least / 1.6, most * 1.6).at(eis);
    let guides = vec![Guide::X(0.0, "mid-grey".to_owned())];
    Panel { title: "latitude".to_owned(), x: Axis::linear("stops from mid-grey").every(1.0), y, series, guides }
}
