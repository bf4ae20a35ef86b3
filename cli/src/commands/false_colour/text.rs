//! The report of `false-colour` for a terminal.

use super::{Record, Report};
use crate::output::{COLUMNS, push_field, wrap};
use rushlight::cube::Interpolation;
use rushlight::exposure::{Basis, Edges, Limit, signed};
use std::fmt::Write as _;
use std::path::Path;

pub(super) fn text(report: &Report<'_>, out: &Path) -> String {
    let n = report.cubes.len();
    let what = if n == 1 { "exposure cube" } else { "exposure cubes" };
    let mut text = format!("{}: {n} {what} into {}\n", report.show, out.display());
    for cube in &report.cubes {
        let _ = writeln!(text, "\n{}", cube.file);
        push_field(&mut text, "camera", &format!("{}: {}", cube.camera, cube.camera_terms));
        let from = |limit: Limit| match limit {
            Limit::Rating => "",
            Limit::Extrapolated => " (extrapolated)",
            Limit::Curve => " (the end of the curve)",
        };
        let ei = cube.ei.map_or_else(|| "no rating".to_owned(), |ei| format!("EI {ei}"));
        let ends = format!(
            "{ei}: clip {} stops{}, floor {} stops{}",
            signed(cube.clip.stops),
            from(cube.clip_from),
            signed(cube.floor.stops),
            from(cube.floor_from)
        );
        push_field(&mut text, "rating", &ends);
        let soft = if cube.soft { "soft" } else { "plain" };
        let clip = if cube.edges.clip.is_some() { "clip: any channel; " } else { "" };
        push_field(&mut text, "reads", &format!("exposure: {}; {clip}{soft} edges", reading(cube.basis)));
        push_field(&mut text, "display", &format!("{}: {}", cube.display, cube.display_terms));
        edges(&mut text, cube);
        purity(&mut text, cube);
        for note in &cube.notes {
            push_field(&mut text, "note", note);
        }
        if n == 1 {
            zone_table(&mut text, cube);
        }
    }
    text.push('\n');
    let play = match &report.frames[..] {
        [one] => format!(
            "{one} is the test frame, as camera signal. Load a cube into the box, and play this frame into the box"
        ),
        _ => format!(
            "Test frames, as camera signal: {}. Load a cube into the box, and play the frame that has the camera and the EI of \
             this cube in its name",
            report.frames.join(", ")
        ),
    };
    let files = format!(
        "{play}. Beside each cube are that frame as it must then look (_frame.png) and the \
         key of its colours (_key.png, _key.svg)."
    );
    let meter = "A cube is not a light meter. It holds for one camera, one EI and one range: test it with \
                 your own camera and your own monitor first.";
    for said in [files.as_str(), meter] {
        text.push_str(&wrap(said, COLUMNS).join("\n"));
        text.push('\n');
    }
    text
}

fn reading(basis: &str) -> &'static str {
    if basis == Basis::Luminance.name() { "luminance by the camera's primaries" } else { "highest channel" }
}

fn edges(text: &mut String, cube: &Record<'_>) {
    let Edges { neutral, neutrals, colours, clip, .. } = &cube.edges;
    for (i, kind) in Interpolation::ALL.into_iter().enumerate() {
        let lost = |of: usize, what: &str, more: &str| match of {
            0 => String::new(),
            1 => format!("; 1 edge on {what} cannot be seen{more}"),
            _ => format!("; {of} edges on {what} cannot be seen{more}"),
        };
        let places = neutral.iter().filter(|edge| edge.errors[i].is_none()).map(|edge| signed(edge.stops));
        let places = format!(" ({} stops): a zone is lost there", places.collect::<Vec<_>>().join(", "));
        let lost = lost(neutrals[i].lost, "greys", &places) + &lost(colours[i].lost, "colours", "");
        let said = format!(
            "error in stops: mean {:.2}, max {:.2} on greys; mean {:.2}, max {:.2} on colours; {}{lost}",
            neutrals[i].mean,
            neutrals[i].max,
            colours[i].mean,
            colours[i].max,
            kind.name()
        );
        push_field(text, if i == 0 { "edges" } else { "" }, &said);
    }
    if let Some([tetrahedral, trilinear]) = clip {
        let under = -tetrahedral.min(*trilinear);
        push_field(
            text,
            "clip",
            &format!("its mark begins up to {under:.2} stops early, so that everything that clips is marked"),
        );
    } else {
        push_field(text, "clip", "not marked: load the cube of --kind clip for that");
    }
    if let Some(advice) = &cube.advice {
        push_field(text, "advice", advice);
    }
}

/// How much of each zone shows its colour.
fn purity(text: &mut String, cube: &Record<'_>) {
    let least = cube.zones.iter().min_by(|a, b| a.shown.least().total_cmp(&b.shown.least()));
    if let Some(zone) = least {
        let elsewhere: usize =
            cube.zones.iter().map(|z| z.shown.codes_of_other_zones[0].max(z.shown.codes_of_other_zones[1])).sum();
        let elsewhere = match elsewhere {
            0 => "the other codes look like a zone beside it".to_owned(),
            1 => "1 code shows a zone that is not beside it".to_owned(),
            n => format!("{n} codes show a zone that is not beside it"),
        };
        push_field(
            text,
            "purity",
            &format!(
                "every zone shows its colour in {:.0} % of its codes or more (least: {}); {elsewhere}",
                100.0 * zone.shown.least(),
                zone.name
            ),
        );
    }
    if let Some(apart) = cube.apart {
        let said = format!(
            "neighbours differ by CIEDE2000 {:.1} or more, zones two apart by {:.1}, to normal and to colour-blind eyes",
            apart.neighbours, apart.two_apart
        );
        push_field(text, "colours", &said);
    }
    for warning in cube.unrated.iter().chain(&cube.warning) {
        push_field(text, "WARNING", warning);
    }
}

fn zone_table(text: &mut String, cube: &Record<'_>) {
    let _ =
        writeln!(text, "\n  {:<16}{:>8}{:>10}{:>7}    {:<9}display signal", "zone", "from", "10 bits", "pure", "sRGB");
    for zone in cube.zones.iter().rev() {
        let from = zone.from.map_or_else(String::new, signed);
        let code = zone.from_code_10.map_or_else(String::new, |c| format!("{c:.0}"));
        let srgb = zone.srgb.as_deref().unwrap_or("picture");
        let signal = if zone.srgb.is_some() { zone.signal.map(|v| format!("{v:.3}")).join(" ") } else { String::new() };
        let pure = format!("{:.0} %", 100.0 * zone.shown.least());
        let line = format!("  {:<16}{from:>8}{code:>10}{pure:>7}    {srgb:<9}{signal}", zone.name);
        let _ = writeln!(text, "{}", line.trim_end());
    }
}
