//! What the camera does to the picture, drawn: spectra of noise, responses of edges, and the choices side by side.

use super::{Findings, ZONES};
use crate::drawing::chart::{Axis, Guide, Mark, Panel, Series};
use crate::drawing::theme;
use rushlight::measure::compare::{Row, Zone};

/// The panels of what was measured.
pub(super) fn panels(findings: &Findings) -> Vec<Panel> {
    let indices = &findings.processing.indices;
    let name = |ei: Option<f64>| ei.map_or(String::new(), |ei| format!("EI {ei}"));
    let colour = |i: usize| theme::SERIES[i % theme::SERIES.len()];
    let spectra: Vec<Series> = indices
        .iter()
        .enumerate()
        .filter_map(|(i, at)| Some((i, at, at.found.noise.as_ref().filter(|n| !n.spectrum.is_empty())?)))
        .map(|(i, at, noise)| Series::line(name(at.ei), colour(i), noise.spectrum.clone()))
        .collect();
    let edges: Vec<Series> = indices
        .iter()
        .enumerate()
        .filter_map(|(i, at)| Some((i, at, at.found.edge.as_ref()?)))
        .map(|(i, at, edge)| Series::line(name(at.ei), colour(i), edge.green().response.clone()))
        .collect();
    let mut panels = Vec::new();
    if !spectra.is_empty() {
        panels.push(Panel {
            title: "noise by frequency".to_owned(),
            x: Axis::linear("cycles per pixel").over(0.0, 0.5),
            y: Axis::log("power over its mean"),
            series: spectra,
            guides: vec![Guide::Y(1.0, "white noise".to_owned())],
        });
    }
    if !edges.is_empty() {
        let highest = edges.iter().flat_map(|s| &s.points).map(|p| p[1]).fold(1.0, f64::max);
        panels.push(Panel {
            title: "sharpness (green)".to_owned(),
            x: Axis::linear("cycles per pixel").over(0.0, 1.0),
            y: Axis::linear("response").over(0.0, 1.05 * highest),
            series: edges,
            guides: vec![Guide::Y(0.5, "MTF50".to_owned()), Guide::X(0.5, "limit of the grid".to_owned())],
        });
    }
    if !findings.compared.is_empty() {
        let smoothed = findings.measured.iter().any(|m| m.noise.is_smoothed());
        let line = |(i, row): (usize, &Row), is_white: bool| {
            let points = ZONES.iter().zip(&row.zones).map(|(stops, zone)| match zone {
                Zone::Noise(noise) => [*stops, *noise],
                _ => [*stops, f64::NAN],
            });
            let over = if row.over == 0.0 { String::new() } else { format!(" {:+}", row.over) };
            // The flattered one is never drawn alone.
            let mark = if is_white { Mark::DASHED } else { Mark::LINE };
            let name = if is_white { String::new() } else { format!("EI {}{over}", row.ei) };
            Series { mark, ..Series::line(name, colour(i), points.collect()) }
        };
        let mut lines: Vec<Series> = findings.compared.iter().enumerate().map(|row| line(row, false)).collect();
        if smoothed {
            lines.extend(findings.compared_white.iter().enumerate().map(|row| line(row, true)));
        }
        panels.push(Panel {
            title: "choices: noise at one final brightness".to_owned(),
            x: Axis::linear("stops from mid-grey of the picture").every(1.0),
            y: Axis::log("noise, stops"),
            series: lines,
            guides: vec![Guide::X(0.0, "mid-grey".to_owned())],
        });
    }
    panels
}
