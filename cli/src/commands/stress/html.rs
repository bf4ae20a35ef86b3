//! The report as one page that needs nothing but itself: tables, charts, and strips of lights over exposure.

use super::text::{CAUTION, cube, ends, flat, limits, outside, signed, spectrum, turns, value, with_asked};
use crate::drawing::chart::{Axis, Chart, Guide, Panel, Series};
use crate::drawing::{Drawing, theme};
use crate::failure::Failure;
use crate::page::{Page, chart};
use crate::picture::{Screen, data_uri};
use maud::{Markup, html};
use rushlight::display::Display;
use rushlight::frame::Format;
use rushlight::show::Show;
use rushlight::slate;
use rushlight::stress::{CaseReport, FindingReport, Grade, LightOutcome, LightRow, PROPERTIES, Report, SWEEP};

/// Width and height of a chart's plot, in pixels.
const PLOT: [f64; 2] = [360.0, 220.0];

const STYLE: &str = include_str!("stress.css");

pub(crate) fn page(report: &Report, show: &Show) -> Result<String, Failure> {
    let title = format!("{}, stress test", report.show);
    let cases = report.cases.iter().enumerate();
    let cases = cases.map(|(i, case)| one(i, case, report.tried.as_deref(), &show.displays()[&case.display].item));
    let cases = cases.collect::<Result<Vec<_>, _>>()?;
    let body = html! {
        h1 { (title) " " (chip(report.grade)) }
        p {
            "The exact path of each look, and the cube of it that will be on the monitor, searched for what breaks. Every figure \
             but a share is the worst that the search found, not a sample. Exposure is in stops over mid-grey, by the brightest \
             camera channel."
        }
        @if report.cases.len() > 1 { (overview(report)) }
        @for case in cases { (case) }
        h2 { "How far to trust this" }
        p { (CAUTION) }
    };
    let slate = slate::of_looks(show, report.cases.iter().map(|case| case.look.as_str()));
    Ok(Page { title: &title, style: STYLE, font: true, slate: &slate, body }.html())
}

/// A case by its names, a shot in front of its look.
fn named(case: &CaseReport) -> String {
    case.shot.as_ref().map(|shot| format!("{shot}, ")).unwrap_or_default() + &case.look
}

fn chip(grade: Grade) -> Markup {
    html! { span.grade.(grade.name()) { (grade.name()) } }
}

fn overview(report: &Report) -> Markup {
    html! {
        div.scroll {
            table {
                tr {
                    th { "look, camera, display" }
                    @for (property, asks) in PROPERTIES { th title=(asks) { (property) } }
                }
                @for (i, case) in report.cases.iter().enumerate() {
                    tr {
                        td { a href={ "#case" (i) } { (named(case)) ", " (case.camera) ", " (case.display) } }
                        @for (property, _) in PROPERTIES { td { (chip(case.grade_of(property))) } }
                    }
                }
            }
        }
    }
}

fn one(i: usize, case: &CaseReport, tried: Option<&str>, display: &Display) -> Result<Markup, Failure> {
    let CaseReport { revision, camera, display: name, points, reader, .. } = case;
    let screen = Screen::of_peak(display);
    Ok(html! {
        h2 id={ "case" (i) } { (named(case)) " r" (revision) ", " (camera) " to " (name) " " (chip(case.grade)) }
        p.note {
            "Cube of " (points) " points, read " (reader) "."
            @if let Some(step) = tried { " Tried: " (step) "." }
        }
        // First what a cinematographer looks at, then what to do, then the figures, folded.
        p { b { (in_short(case)) } }
        (lights(case, tried, &screen)?)
        @for finding in case.findings.iter().filter(|f| f.grade != Grade::Holds) { (remedy(finding)) }
        details {
            summary { "Every figure" }
            (figures(case, tried.is_some()))
            p { (ends(case)) }
            p { (cube(case)) }
            (light_figures(case))
        }
        details {
            summary { "Every wavelength, hues and greys" }
            (along_the_spectrum(case, &screen)?)
            (chart(&charts(case)))
        }
    })
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
fn remedy(finding: &FindingReport) -> Markup {
    let FindingReport { property, figure, title, unit, grade, .. } = finding;
    let [r, g, b] = finding.worse().at.as_ref().map(|at| at.signal).unwrap_or_default();
    html! {
        div.finding.{ "is-" (grade.name()) } {
            p {
                (chip(*grade)) " " b { (property) "." (figure) } ", " (title) ": " (value(finding.exact.value)) " " (unit) " ("
                (value(finding.cube.value)) " on the cube)" (with_asked(finding))
            }
            @if let Some(place) = finding.place() {
                p { "Where: " (place) "; signal " (format!("{r:.4} {g:.4} {b:.4}")) }
            }
            p { "You would see: " (finding.means) "." }
            @if let Some(hint) = &finding.hint { p { "To change it: " (hint) "." } }
        }
    }
}

fn figures(case: &CaseReport, tried: bool) -> Markup {
    html! {
        div.scroll {
            table {
                tr {
                    th { "figure" }
                    th { "what it is" }
                    @for name in ["exact", "cube", "cube adds"] { th.n { (name) } }
                    th { "unit" }
                    @for name in ["holds", "breaks"] { th.n { (name) } }
                    th {}
                    @if tried { th.n { "tried" } }
                }
                @for f in &case.findings {
                    tr {
                        td { (f.property) "." (f.figure) }
                        td { (f.title) }
                        @for number in [value(f.exact.value), value(f.cube.value), signed(f.cube_adds)] { td.n { (number) } }
                        td { (f.unit) }
                        @for limit in limits(f) { td.n { (limit) } }
                        td { @if f.limits.is_some() { (chip(f.grade)) } @else { "no limit" } }
                        @if tried {
                            td.n {
                                @if let Some(t) = &f.tried {
                                    (value(t.exact)) " (" (value(t.cube)) " on the cube) " (chip(t.grade))
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// The lights, each over exposure, with a verdict.
fn lights(case: &CaseReport, tried: Option<&str>, screen: &Screen<'_>) -> Result<Markup, Failure> {
    let (from, to, _) = SWEEP;
    let strips = |light: &LightRow| {
        let mut strips = vec![strip(screen, light, &light.name)?];
        if let Some(other) = case.tried_lights.iter().find(|l| l.name == light.name) {
            strips.push(strip(screen, other, &format!("{}, with the step tried", light.name))?);
        }
        Ok::<_, Failure>(strips)
    };
    let rows = case.lights.iter().map(|light| Ok((light, strips(light)?))).collect::<Result<Vec<_>, Failure>>()?;
    Ok(html! {
        p {
            "Each strip is one light from " (format!("{from:+}")) " stops over mid-grey, left, to " (format!("{to:+}")) " stops, \
             right, or as far as the camera's signal goes, in quarter stops. The display's peak is the white of this page."
            @if let Some(step) = tried { " Below it, with " (step) "." }
        }
        table.lights {
            @for (light, strips) in rows {
                tr {
                    th { (light.name) }
                    td { @for strip in strips { (strip) } }
                    td { (verdict(&light.kept)) }
                }
            }
        }
    })
}

/// What becomes of a light, in words.
fn verdict(kept: &LightOutcome) -> String {
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

/// What was measured of each light.
fn light_figures(case: &CaseReport) -> Markup {
    html! {
        div.scroll {
            table {
                tr {
                    @for name in ["light", "spectrum", "out of gamut"] { th { (name) } }
                    @for name in ["flat from", "least difference a stop makes", "hue turns"] { th.n { (name) } }
                }
                @for LightRow { name, spectrum, kept } in &case.lights {
                    tr {
                        td { (name) }
                        td { (spectrum) }
                        td { (outside(kept)) }
                        td.n { (flat(kept)) }
                        td.n { (format!("{:.2}", kept.least)) }
                        td.n { (turns(kept.span, kept.total, "°")) }
                    }
                }
            }
        }
    }
}

/// A light over exposure, as a picture of a pixel a step.
fn strip(screen: &Screen<'_>, light: &LightRow, name: &str) -> Result<Markup, Failure> {
    let source = picture(screen, light.kept.strip.len(), light.kept.strip.iter().copied())?;
    Ok(html! { img.strip alt={ (name) " as it gets brighter" } src=(source); })
}

/// Every line and band of the spectrum over exposure, as pictures of a pixel a step.
fn along_the_spectrum(case: &CaseReport, screen: &Screen<'_>) -> Result<Markup, Failure> {
    let mut fields = Vec::new();
    for (width, name) in [(0.0, "Single lines"), (40.0, "Bands of 40 nm")] {
        let rows: Vec<_> = case.spectrum.iter().filter(|row| row.width == width).collect();
        let (Some(first), Some(last)) = (rows.first(), rows.last()) else { continue };
        let stops = rows.iter().map(|row| row.kept.strip.len()).min().unwrap_or(0);
        // The brightest above.
        let pixels = (0..stops).rev().flat_map(|k| rows.iter().map(move |row| row.kept.strip[k]));
        let source = picture(screen, rows.len(), pixels)?;
        let to = SWEEP.0 + SWEEP.2 * stops.saturating_sub(1) as f64;
        let [from, to] = [SWEEP.0, to].map(|stops| format!("{stops:+}"));
        fields.push(html! {
            figure {
                div.field {
                    div.up { span { (to) } span { (from) } }
                    img alt={ (name) " of every wavelength as they get brighter" } src=(source);
                }
                div.along { span { (format!("{:.0} nm", first.nm)) } span { (format!("{:.0} nm", last.nm)) } }
                figcaption { (name) ", from " (from) " stops over mid-grey, below, to " (to) ", above." }
            }
        });
    }
    Ok(html! {
        div.spectra { @for field in fields { (field) } }
        p { (spectrum(case).join(" ")) }
    })
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
