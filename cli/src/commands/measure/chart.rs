//! Response, noise and latitude, drawn.

use super::{Findings, Measured};
use crate::drawing::chart::{Axis, Chart, Guide, Mark, Panel, Series};
use crate::drawing::theme;
use rushlight::math::exp2;
use rushlight::measure::{Exposure, Reading, State};
use rushlight::transfer::MID_GREY;

/// Steps of the curves that are drawn, in stops.
const STEP: f64 = 1.0 / 16.0;

pub(super) fn chart(findings: &Findings) -> Chart {
    let mut panels = Vec::new();
    for measured in &findings.measured {
        panels.push(response(measured));
        panels.push(strays(measured));
        panels.push(noise(measured, findings.snr));
    }
    if findings.measured.iter().any(|m| m.measurement.floor().is_some()) {
        panels.push(latitude(findings));
    }
    panels.extend(super::processing_chart::panels(findings));
    let name = findings.measured.first().map(|m| m.measurement.used.claim().name.clone()).unwrap_or_default();
    Chart {
        title: "What the camera does".to_owned(),
        subtitle: format!("measured from test frames, light by {name}"),
        panels,
        columns: 3,
        plot: [300.0, 220.0],
        notes: vec![format!(
            "Stops from what the meter calls mid-grey. Dots are exposures, lines what was fitted. Floor: signal over noise is {}. This is what the whole chain does, from the lens to the codec.",
            super::report::usable(findings.snr)
        )],
    }
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
    let curve = along(ends(measured), |stops| claim.encode(MID_GREY * exp2(stops)).min(1.0));
    let mut series = vec![Series::line(claim.name.clone(), theme::QUIET, curve)];
    series.extend((0..3).map(|c| dots(measured, c, |_, r| r.signal)));
    let mut guides = vec![Guide::X(0.0, "mid-grey".to_owned())];
    guides.extend(m.clip().map(|clip| Guide::Y(clip.signal, "clip".to_owned())));
    let (x, y) = (Axis::linear("stops from mid-grey"), Axis::linear("signal").over(0.0, 1.0));
    Panel { title: titled(measured, "response"), x, y, series, guides }
}

fn strays(measured: &Measured) -> Panel {
    let series = (0..3).map(|c| dots(measured, c, |_, r| r.deviation.unwrap_or(f64::NAN))).collect();
    let all = measured.measurement.exposures.iter().flat_map(|s| s.channels.iter().filter_map(|r| r.deviation));
    let reach = all.fold(0.25, |most: f64, d| most.max(d.abs() * 1.1));
    let x = Axis::linear("stops from mid-grey");
    let y = Axis::linear("stops over the curve").over(-reach, reach);
    Panel {
        title: titled(measured, "departure from the curve"),
        x,
        y,
        series,
        guides: vec![Guide::Y(0.0, String::new())],
    }
}

fn noise(measured: &Measured, snr: f64) -> Panel {
    let m = &measured.measurement;
    let mut series = Vec::new();
    for (c, channel) in m.channels.iter().enumerate() {
        if let Some(fit) = channel.noise {
            let [from, to] = ends(measured);
            let ratio = along([from, to.min(channel.clip.stops)], |s| fit.ratio(MID_GREY * exp2(s + channel.offset)));
            let mark = Mark::Line { width: theme::CHANNEL_WIDTHS[c], dash: &[] };
            series.push(Series { mark, ..Series::line("", theme::CHANNELS[c], ratio) });
        }
        series.push(dots(measured, c, |_, r| match r.state {
            State::Good if r.noise > 0.0 && r.light > 0.0 => (r.light - channel.black) / r.noise,
            _ => f64::NAN,
        }));
    }
    let mut guides = vec![Guide::Y(snr, "usable".to_owned())];
    guides.extend(m.floor().map(|f| Guide::X(f.stops, "floor".to_owned())));
    guides.extend(m.clip().map(|c| Guide::Foot(c.stops, "clip".to_owned())));
    let (x, y) = (Axis::linear("stops from mid-grey"), Axis::log("signal over noise"));
    Panel { title: titled(measured, "noise"), x, y, series, guides }
}

/// Where a bracket without an exposure index is drawn.
const NO_EI: f64 = 1.0;

/// From floor to clip, one line an exposure index.
fn latitude(findings: &Findings) -> Panel {
    let rated = findings.measured.iter().map(|m| (m, m.ei.unwrap_or(NO_EI)));
    let (least, most) = rated.clone().fold((f64::MAX, f64::MIN), |(a, b), (_, ei)| (a.min(ei), b.max(ei)));
    let series = rated
        .enumerate()
        .filter_map(|(i, (m, ei))| {
            let clip = m.measurement.channels.iter().map(|c| c.clip.stops).fold(f64::INFINITY, f64::min);
            let floor = m.measurement.floor()?.stops;
            let colour = theme::SERIES[i % theme::SERIES.len()];
            let mark = Mark::Line { width: 6.0, dash: &[] };
            let seen = if m.measurement.clip().is_some() { "" } else { ", no clip seen" };
            let name = format!("{}{seen}: {:.1} stops", titled(m, "").trim_end_matches(": "), clip - floor);
            Some(Series {
                mark,
                ..Series::line(name.trim_start_matches([':', ',', ' ']), colour, vec![[floor, ei], [clip, ei]])
            })
        })
        .collect();
    let named = findings.measured.iter().any(|m| m.ei.is_some());
    let y = Axis::log(if named { "exposure index" } else { "" }).over(least / 1.6, most * 1.6);
    let guides = vec![Guide::X(0.0, "mid-grey".to_owned())];
    Panel { title: "latitude".to_owned(), x: Axis::linear("stops from mid-grey"), y, series, guides }
}
