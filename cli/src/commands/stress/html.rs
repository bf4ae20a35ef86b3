//! The report as one page that needs nothing but itself: tables, charts, and strips of lights over exposure.

use super::text::{CAUTION, cube, ends, flat, limits, outside, signed, spectrum, turns, value, with_asked};
use crate::drawing::chart::{Axis, Chart, Guide, Panel, Series};
use crate::drawing::{Drawing, escape, theme};
use crate::failure::Failure;
use crate::page::Page;
use crate::picture::{Screen, data_uri};
use rushlight::display::Display;
use rushlight::frame::Format;
use rushlight::show::Show;
use rushlight::stress::{CaseReport, FindingReport, Grade, Kept, LightRow, PROPERTIES, Report, SWEEP};
use std::fmt::Write as _;

/// Width and height of a chart's plot, in pixels.
const PLOT: [f64; 2] = [360.0, 220.0];

const STYLE: &str = include_str!("stress.css");

pub(crate) fn page(report: &Report, show: &Show) -> Result<String, Failure> {
    let title = format!("{}, stress test", report.show);
    let mut body = format!("<h1>{} {}</h1>\n", escape(&title), chip(report.grade));
    body.push_str(
        "<p>The exact path of each look, and the cube of it that will be on the monitor, searched for what breaks. \
         Every figure but a share is the worst that the search found, not a sample. Exposure is in stops over mid-grey, \
         by the brightest camera channel.</p>\n",
    );
    if report.cases.len() > 1 {
        body.push_str(&overview(report));
    }
    for (i, case) in report.cases.iter().enumerate() {
        one(&mut body, i, case, report.tried.as_deref(), &show.displays()[&case.display].item)?;
    }
    let _ = writeln!(body, "<h2>How far to trust this</h2>\n<p>{CAUTION}</p>");
    Ok(Page { title: &title, style: STYLE, font: true, body: &body }.html())
}

/// A shot in front of its look.
fn shot(case: &CaseReport) -> String {
    case.shot.as_ref().map(|shot| format!("{}, ", escape(shot))).unwrap_or_default()
}

fn chip(grade: Grade) -> String {
    format!("<span class=\"grade {0}\">{0}</span>", grade.name())
}

fn overview(report: &Report) -> String {
    let mut body = String::from("<div class=\"scroll\"><table>\n<tr><th>look, camera, display</th>");
    for (property, asks) in PROPERTIES {
        let _ = write!(body, "<th title=\"{asks}\">{property}</th>");
    }
    body.push_str("</tr>\n");
    for (i, case) in report.cases.iter().enumerate() {
        let CaseReport { look, camera, display, .. } = case;
        let shot = shot(case);
        let _ = write!(body, "<tr><td><a href=\"#case{i}\">{shot}{look}, {camera}, {display}</a></td>");
        for (property, _) in PROPERTIES {
            let _ = write!(body, "<td>{}</td>", chip(case.grade_of(property)));
        }
        body.push_str("</tr>\n");
    }
    body + "</table></div>\n"
}

fn one(body: &mut String, i: usize, case: &CaseReport, tried: Option<&str>, display: &Display) -> Result<(), Failure> {
    let CaseReport { look, revision, camera, display: name, points, reader, .. } = case;
    let _ = writeln!(
        body,
        "<h2 id=\"case{i}\">{}{look} r{revision}, {camera} to {name} {}</h2>\n<p class=\"note\">Cube of {points} points, \
         read {reader}.{}</p>",
        shot(case),
        chip(case.grade),
        tried.map(|step| format!(" Tried: {}.", escape(step))).unwrap_or_default()
    );
    // First what a cinematographer looks at, then what to do, then the figures, folded.
    let screen = Screen::of_peak(display);
    let _ = writeln!(body, "<p><b>{}</b></p>", escape(&in_short(case)));
    body.push_str(&lights(case, tried, &screen)?);
    for finding in case.findings.iter().filter(|f| f.grade != Grade::Holds) {
        body.push_str(&remedy(finding));
    }
    body.push_str("<details>\n<summary>Every figure</summary>\n");
    body.push_str(&figures(case, tried.is_some()));
    let _ = writeln!(body, "<p>{}</p>\n<p>{}</p>", escape(&ends(case)), escape(&cube(case)));
    body.push_str(&light_figures(case));
    body.push_str("</details>\n<details>\n<summary>Every wavelength, hues and greys</summary>\n");
    body.push_str(&along_the_spectrum(case, &screen)?);
    let _ = writeln!(body, "<div class=\"chart\">{}</div>\n</details>", charts(case).svg);
    Ok(())
}

/// What was found, in one plain sentence.
fn in_short(case: &CaseReport) -> String {
    let count = |grade: Grade| case.findings.iter().filter(|f| f.grade == grade).count();
    let worst = case.findings.iter().find(|f| f.grade == case.grade).map(|f| f.title.as_str()).unwrap_or_default();
    match (count(Grade::Breaks), count(Grade::Marginal)) {
        (0, 0) => "Everything that was searched holds.".to_owned(),
        (0, 1) => format!("Nothing breaks; one figure is marginal: {worst}."),
        (0, n) => format!("Nothing breaks; {n} figures are marginal, first of all: {worst}."),
        (1, 0) => format!("One figure breaks: {worst}."),
        (b, m) => {
            format!("{} and {m} {} marginal, first of all: {worst}.", breaks(b), if m == 1 { "is" } else { "are" })
        }
    }
}

fn breaks(n: usize) -> String {
    if n == 1 { "One figure breaks".to_owned() } else { format!("{n} figures break") }
}

/// What does not hold, where, what it does to a picture, and what changes it.
fn remedy(finding: &FindingReport) -> String {
    let FindingReport { property, figure, title, unit, grade, .. } = finding;
    let mut text = format!(
        "<div class=\"finding is-{}\"><p>{} <b>{property}.{figure}</b>, {title}: {} {} ({} on the cube){}</p>\n",
        grade.name(),
        chip(*grade),
        value(finding.exact.value),
        escape(unit),
        value(finding.cube.value),
        with_asked(finding)
    );
    if let Some(place) = finding.place() {
        let signal = finding.worse().at.as_ref().map(|at| at.signal).unwrap_or_default();
        let [r, g, b] = signal;
        let _ = writeln!(text, "<p>Where: {}; signal {r:.4} {g:.4} {b:.4}</p>", escape(&place));
    }
    let _ = writeln!(text, "<p>You would see: {}.</p>", escape(&finding.means));
    if let Some(hint) = &finding.hint {
        let _ = writeln!(text, "<p>To change it: {}.</p>", escape(hint));
    }
    text + "</div>\n"
}

fn figures(case: &CaseReport, tried: bool) -> String {
    let mut text = String::from(
        "<div class=\"scroll\"><table>\n<tr><th>figure</th><th>what it is</th><th \
         class=\"n\">exact</th><th class=\"n\">cube</th><th class=\"n\">cube adds</th><th>unit</th><th class=\"n\">holds</th><th \
         class=\"n\">breaks</th><th></th>",
    );
    text.push_str(if tried { "<th class=\"n\">tried</th></tr>\n" } else { "</tr>\n" });
    for f in &case.findings {
        let [holds, breaks] = limits(f);
        let _ = write!(
            text,
            "<tr><td>{}.{}</td><td>{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td>{}</td><td \
             class=\"n\">{}</td><td class=\"n\">{}</td><td>{}</td>",
            f.property,
            f.figure,
            f.title,
            value(f.exact.value),
            value(f.cube.value),
            signed(f.cube_adds),
            escape(&f.unit),
            holds,
            breaks,
            f.limits.map_or("no limit".to_owned(), |_| chip(f.grade))
        );
        if tried {
            let with = f.tried.map_or(String::new(), |t| {
                format!("{} ({} on the cube) {}", value(t.exact), value(t.cube), chip(t.grade))
            });
            let _ = write!(text, "<td class=\"n\">{with}</td>");
        }
        text.push_str("</tr>\n");
    }
    text + "</table></div>\n"
}

/// The lights, each over exposure, with a verdict.
fn lights(case: &CaseReport, tried: Option<&str>, screen: &Screen<'_>) -> Result<String, Failure> {
    let (from, to, _) = SWEEP;
    let mut text = format!(
        "<p>Each strip is one light from {from:+} stops over mid-grey, left, to {to:+} stops, right, or as far as the \
         camera's signal goes, in quarter stops. The display's peak is the white of this page.{}</p>\n<table \
         class=\"lights\">\n",
        tried.map(|step| format!(" Below it, with {}.", escape(step))).unwrap_or_default()
    );
    for light in &case.lights {
        let LightRow { name, kept, .. } = light;
        let mut strips = strip(screen, light, name)?;
        if let Some(other) = case.tried_lights.iter().find(|l| l.name == *name) {
            strips.push_str(&strip(screen, other, &format!("{name}, with the step tried"))?);
        }
        let _ = writeln!(text, "<tr><th>{name}</th><td>{strips}</td><td>{}</td></tr>", escape(&verdict(kept)));
    }
    Ok(text + "</table>\n")
}

/// What becomes of a light, in words.
fn verdict(kept: &Kept) -> String {
    let mut all = Vec::new();
    if let Some(stops) = kept.flat {
        all.push(format!("one flat patch from {stops:+.1} stops"));
    }
    if let Some(turn) = kept.span.filter(|turn| *turn > TURNS) {
        all.push(format!("its hue turns by {turn:.0}°"));
    }
    match kept.outside {
        None => {}
        Some(stops) if stops <= SWEEP.0 => all.push("more saturated than this display can show".to_owned()),
        Some(stops) => all.push(format!("more saturated than this display can show from {stops:+.1} stops")),
    }
    if all.is_empty() { "keeps its hue and its shape".to_owned() } else { all.join("; ") }
}

/// Degrees of hue from which a turn is named beside a strip: a third of what a figure still holds.
const TURNS: f64 = 7.5;

fn light_figures(case: &CaseReport) -> String {
    let mut text = String::from(
        "<div class=\"scroll\"><table>\n<tr><th>light</th><th>spectrum</th><th>out of gamut</th><th class=\"n\">flat from</th>\
         <th class=\"n\">least difference a stop makes</th><th class=\"n\">hue turns</th></tr>\n",
    );
    for LightRow { name, spectrum, kept } in &case.lights {
        let _ = writeln!(
            text,
            "<tr><td>{name}</td><td>{spectrum}</td><td>{}</td><td class=\"n\">{}</td><td class=\"n\">{:.2}</td><td \
             class=\"n\">{}</td></tr>",
            outside(kept),
            flat(kept),
            kept.least,
            turns(kept.span, kept.total, "°")
        );
    }
    text + "</table></div>\n"
}

/// A light over exposure, as a picture of a pixel a step.
fn strip(screen: &Screen<'_>, light: &LightRow, name: &str) -> Result<String, Failure> {
    let source = picture(screen, light.kept.strip.len(), light.kept.strip.iter().copied())?;
    Ok(format!("<img class=\"strip\" alt=\"{} as it gets brighter\" src=\"{source}\">", escape(name)))
}

/// Every line and band of the spectrum over exposure, as pictures of a pixel a step.
fn along_the_spectrum(case: &CaseReport, screen: &Screen<'_>) -> Result<String, Failure> {
    let mut text = String::from("<div class=\"spectra\">\n");
    for (width, name) in [(0.0, "Single lines"), (40.0, "Bands of 40 nm")] {
        let rows: Vec<_> = case.spectrum.iter().filter(|row| row.width == width).collect();
        let (Some(first), Some(last)) = (rows.first(), rows.last()) else { continue };
        let stops = rows.iter().map(|row| row.kept.strip.len()).min().unwrap_or(0);
        // The brightest above.
        let pixels = (0..stops).rev().flat_map(|k| rows.iter().map(move |row| row.kept.strip[k]));
        let source = picture(screen, rows.len(), pixels)?;
        let to = SWEEP.0 + SWEEP.2 * stops.saturating_sub(1) as f64;
        let _ = writeln!(
            text,
            "<figure><div class=\"field\"><div class=\"up\"><span>{to:+}</span><span>{:+}</span></div><img alt=\"{name} of every \
             wavelength as they get brighter\" src=\"{source}\"></div><div class=\"along\"><span>{:.0} nm</span><span>{:.0} \
             nm</span></div><figcaption>{name}, from {:+} stops over mid-grey, below, to {to:+}, above.</figcaption></figure>",
            SWEEP.0, first.nm, last.nm, SWEEP.0
        );
    }
    let _ = writeln!(text, "</div>\n<p>{}</p>", escape(&spectrum(case).join(" ")));
    Ok(text)
}

/// Display signals as a picture in the page, row by row.
fn picture(screen: &Screen<'_>, width: usize, signals: impl Iterator<Item = [f64; 3]>) -> Result<String, Failure> {
    let mut pixels: Vec<[f32; 3]> = signals.map(|signal| screen.show(signal)).collect();
    let width = width.max(1);
    if pixels.is_empty() {
        pixels.resize(width, [0.0; 3]);
    }
    data_uri(pixels, width, Format::Png)
}

/// The hues of saturated lights and the cast of greys, drawn.
fn charts(case: &CaseReport) -> Drawing {
    let hue = || Axis::linear("hue over the camera's primaries, degrees").over(0.0, 360.0);
    let limit = |figure: &str| {
        let limits = case.findings.iter().find(|f| f.property == "hue" && f.figure == figure)?.limits?;
        Some(vec![Guide::Y(limits.holds, "holds".to_owned()), Guide::Y(limits.breaks, "breaks".to_owned())])
    };
    let spans = case.hues.iter().map(|row| [row.hue, row.span.unwrap_or(f64::NAN)]).collect();
    let clips = case.hues.iter().map(|row| [row.hue, row.clips.unwrap_or(f64::NAN)]).collect();
    let cast = |pick: fn(&rushlight::stress::NeutralRow) -> f64| -> Vec<[f64; 2]> {
        case.neutral.iter().map(|row| [row.stops, pick(row)]).collect()
    };
    let [first, second, third, fourth, ..] = theme::SERIES;
    let axes = if case.findings.iter().any(|f| f.unit == "CIELAB") { ["a*", "b*"] } else { ["T", "P"] };
    let label = if axes[0] == "a*" { "CIELAB" } else { "Delta E ITP" };
    Chart {
        title: String::new(),
        subtitle: String::new(),
        panels: vec![
            Panel {
                title: "Saturated lights: how far their hue turns from -6 to +6 stops".to_owned(),
                x: hue(),
                y: Axis::linear("degrees on the display"),
                series: vec![Series::line("", first, spans)],
                guides: limit("skew").unwrap_or_default(),
            },
            Panel {
                title: "Saturated lights: where a channel first clips".to_owned(),
                x: hue(),
                y: Axis::linear("stops over mid-grey"),
                series: vec![Series::line("", first, clips)],
                guides: Vec::new(),
            },
            Panel {
                title: "Greys: their cast".to_owned(),
                x: Axis::linear("stops from mid-grey"),
                y: Axis::linear(label),
                series: vec![
                    Series::line(axes[0], first, cast(|row| row.cast[0])),
                    Series::line(axes[1], second, cast(|row| row.cast[1])),
                    Series::line(format!("{}, unasked", axes[0]), third, cast(|row| row.unasked[0])),
                    Series::line(format!("{}, unasked", axes[1]), fourth, cast(|row| row.unasked[1])),
                ],
                guides: vec![Guide::Y(0.0, String::new())],
            },
        ],
        columns: 3,
        plot: PLOT,
        notes: vec!["A line is broken where a hue has no colour left to see, or never clips.".to_owned()],
    }
    .draw()
}
