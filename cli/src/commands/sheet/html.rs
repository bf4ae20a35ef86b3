//! The sheet as one HTML page: for each look two sides of A4 when printed, and one or more of scopes where
//! frames are given; on a screen one column or several.

use super::charts::charts;
use super::paper::{self, Part, Plan};
use super::pictures::{Image, Pictures};
use super::scopes::{self, Scoped};
use super::shots::shots;
use crate::failure::Failure;
use crate::output::short;
use crate::page::{Page, chart};
use crate::picture::Screen;
use maud::{Markup, html};
use rushlight::sheet::{
    CameraSheet, CubeSheet, DisplayLevel, DisplaySheet, LookSheet, RatingSheet, Report, table_stops,
};
use rushlight::show::Show;
use rushlight::slate;
use std::collections::BTreeSet;

const STYLE: &str = include_str!("sheet.css");

/// A number with a minus sign that reads as one.
pub(super) fn minus(text: impl Into<String>) -> String {
    text.into().replace('-', "\u{2212}")
}

fn stops(value: f64) -> String {
    minus(if value == 0.0 { "0".to_owned() } else { format!("{value:+}") })
}

pub(super) fn html(
    report: &Report,
    show: &Show,
    pictures: &Pictures<'_>,
    scoped: &[Vec<Scoped>],
) -> Result<String, Failure> {
    let title = match report.looks.as_slice() {
        [look] => format!("{}, revision {}: look sheet", look.title, look.revision),
        _ => format!("{}: look sheet", report.show),
    };
    let body = html! {
        @if report.looks.len() > 1 {
            nav aria-label="looks" {
                b { (report.show) }
                @for look in &report.looks { " " a href={ "#" (look.name) } { (look.title) } }
            }
        }
        main {
            @for (look, scoped) in report.looks.iter().zip(scoped) {
                article id=(look.name) aria-label=(look.title) {
                    (front(report, look, show, pictures)?)
                    (back(look, show, pictures)?)
                    (scopes::sides(scoped, &running(look)))
                }
            }
        }
    };
    let slate = slate::of_looks(show, report.looks.iter().map(|look| look.name.as_str()));
    Ok(Page { title: &title, style: STYLE, font: true, slate: &slate, body }.html())
}

/// The first side: which look, in two pictures, in words, in curves.
fn front(report: &Report, look: &LookSheet, show: &Show, pictures: &Pictures<'_>) -> Result<Markup, Failure> {
    let all = charts(look);
    let columns = if all.len() > 6 { 4 } else { 3 };
    Ok(html! {
        section.side.front {
            header {
                p.show { @if report.show == look.title { "Look sheet" } @else { (report.show) ": look sheet" } }
                h1 { (look.title) }
                p.revision { "revision " b { (look.revision) } }
                p.sum { (look.document.file) " \u{a0}SHA-256 " code { (look.document.sha256) } }
            }
            @if !show.production().lines().is_empty() {
                p.production {
                    @for (i, (name, said)) in show.production().lines().iter().enumerate() {
                        @if i > 0 { " \u{a0} " }
                        (name) " " b { (said) }
                    }
                }
            }
            (hero(look, show, pictures)?)
            div.two {
                section {
                    h2 { "What it does" }
                    ol.steps { @for step in &look.steps { li { b { (step.title) "." } " " (code(&step.words)) } } }
                }
                section {
                    h2 { "Cameras and displays" }
                    dl.path {
                        @for camera in &look.cameras {
                            (entry("camera", &camera.name, &camera.label, &camera.terms))
                            dd.ratings { @for of in &camera.ratings { (rating(of)) " " } }
                            @for one in &camera.measured { dd { "measured: " (one.title()) ": " (one.by()) } }
                        }
                        @for display in &look.displays {
                            (entry("display", &display.name, &display.label, &display.terms))
                            @if display.hdr { dd { "diffuse white at " (short(display.white)) " nits" } }
                        }
                    }
                    p.note { "EI: from the floor to the clip in stops (10-bit code of the clip)." }
                }
            }
            (held(look))
            section.curves {
                h2 { "Greys and colours, stop by stop" }
                div.charts style={ "--columns:" (columns) } { @for drawing in &all { (chart(drawing)) } }
            }
        }
    })
}

/// The look at first glance, before and after: of the first camera, on a display of standard dynamic range if there is one.
fn hero(look: &LookSheet, show: &Show, pictures: &Pictures<'_>) -> Result<Markup, Failure> {
    let Some(camera) = look.cameras.first() else { return Ok(Markup::default()) };
    let displays = displays_of(look, camera, show);
    let Some(display) = displays.iter().find(|d| !d.hdr).or(displays.first()) else { return Ok(Markup::default()) };
    let on = called(&display.label, &display.name);
    let hdr = if display.hdr { ", mapped to SDR" } else { "" };
    let plain = pictures.plain(&camera.name, &display.name)?;
    let after = pictures.look(&look.name, &camera.name, &display.name)?;
    let label = called(&camera.label, &camera.name);
    let (before, seen) =
        (format!("{label}, plain rendering, {on}{hdr}"), format!("{label}, {}, {on}{hdr}", look.title));
    Ok(html! {
        div.hero {
            (figure("plain", &plain[..1], &html! { "Before: the plain rendering, " (on) (hdr) }, &before))
            (figure("look", &after[..1], &html! { b { "After: this look" } ", " (on) (hdr) }, &seen))
        }
    })
}

/// What stands between grave accents, as code.
fn code(text: &str) -> Markup {
    let parts: Vec<&str> = text.split('`').collect();
    if parts.len().is_multiple_of(2) {
        return html! { (text) };
    }
    html! {
        @for (i, part) in parts.iter().enumerate() {
            @if i % 2 == 1 { code { (part) } } @else { (part) }
        }
    }
}

/// Its label, or else its name.
fn called<'t>(label: &'t str, name: &'t str) -> &'t str {
    if label.is_empty() { name } else { label }
}

fn entry(kind: &str, name: &str, label: &str, terms: &str) -> Markup {
    let label = called(label, name);
    html! {
        dt {
            (label)
            @if label != name { " " small { (kind) " " (name) } }
        }
        dd { (terms) }
    }
}

fn rating(rating: &RatingSheet) -> Markup {
    let RatingSheet { ei, floor, clip, clip_code_10, measured } = rating;
    let ei = ei.map_or_else(|| "no EI".to_owned(), |ei| format!("EI {}", short(ei)));
    let star = if *measured { "" } else { "*" };
    let (floor, clip) = (minus(format!("{floor:+.1}")), minus(format!("{clip:+.1}")));
    html! { span { (ei) ": " (floor) " to " (clip) (star) " (" (format!("{clip_code_10:.0}")) ")" } }
}

/// The stop table: the cameras, and of the displays as many a table as fit side by side on paper.
fn table(look: &LookSheet, show: &Show) -> Markup {
    let measured = !look.cameras.iter().flat_map(|c| &c.ratings).any(|r| !r.measured);
    html! {
        section {
            h2 { "Stop table" }
            @for displays in look.displays.chunks(paper::TABLE_DISPLAYS) {
            div.scroll tabindex="0" role="region" aria-label="stop table" {
                table.stops {
                    thead {
                        tr {
                            th rowspan="2" scope="col" { "stops" }
                            @for camera in &look.cameras {
                                th.of colspan="2" scope="colgroup" { (called(&camera.label, &camera.name)) }
                            }
                            @for display in displays {
                                th.of colspan="5" scope="colgroup" { (called(&display.label, &display.name)) }
                            }
                        }
                        tr {
                            @for _ in &look.cameras {
                                th.first scope="col" { "10 bits" }
                                th scope="col" { "% full" }
                            }
                            @for _ in displays {
                                th.first scope="col" { span.hidden { "colour" } }
                                th scope="col" { "R G B, 10 bits" }
                                th scope="col" { "nits" }
                                th.text scope="col" { "cast, C*" }
                                th scope="col" { "satur." }
                            }
                        }
                    }
                    tbody { @for at in table_stops() { (row(at, look, displays, show)) } }
                }
            }
            }
            p.note {
                "Camera: code values of a grey, and percent of full range. Display: what the look makes of it on the exact path. \
                 Cast: hue and chroma of the grey in CIELAB, with diffuse white as white; neutral below 1. Satur.: mean chroma of samples 1 to \
                 8 of CIE 13.3-1995 exposed like that grey, over that of the plain rendering (tone curve at its defaults, no steps); \
                 a dash where that has almost no colour."
                @if !measured { " * not measured: where the curve ends." }
            }
        }
    }
}

/// A line of the stop table.
fn row(at: f64, look: &LookSheet, displays: &[DisplaySheet], show: &Show) -> Markup {
    let levels = look.cameras.iter().filter_map(|c| c.levels.iter().find(|l| l.stops == at));
    html! {
        tr.grey[at == 0.0] {
            th scope="row" { @if at == 0.0 { "mid-grey" } @else { (stops(at)) } }
            @for level in levels {
                td.first { (format!("{:.0}", level.code_10)) }
                td { (format!("{:.1}", 100.0 * level.signal)) }
            }
            @for (display, level) in displays.iter().filter_map(|d| Some((d, d.at(at)?))) {
                (cells(&Screen::of(&show.displays()[&display.name].item), level))
            }
        }
    }
}

fn cells(screen: &Screen<'_>, level: &DisplayLevel) -> Markup {
    let [r, g, b] = screen.show(level.signal).map(|v| (255.0 * v).round());
    let saturation = level.saturation.map_or_else(|| "\u{2013}".to_owned(), |s| format!("{:.0} %", 100.0 * s));
    html! {
        td.first { i style={ "background:rgb(" (r) "," (g) "," (b) ")" } {} }
        td { (level.code_10.map(|v| format!("{v:.0}")).join(" ")) }
        td { (nits(level.nits)) }
        td.text { (level.cast) @if level.cast != "neutral" { " " (format!("{:.0}", level.cast_chroma())) } }
        td { (saturation) }
    }
}

/// Nits with three figures that count.
fn nits(value: f64) -> String {
    let decimals = match value {
        v if v >= 99.95 => 0,
        v if v >= 9.995 => 1,
        v if v >= 0.0995 => 2,
        _ => 3,
    };
    format!("{value:.decimals$}")
}

/// The name of the look over every side but the first.
fn running(look: &LookSheet) -> Markup {
    html! { p.running { b { (look.title) } ", revision " (look.revision) " " code { (look.document.sha256[..16]) } } }
}

/// The sides behind the first one: stop tables, pictures, shots, cubes, files.
fn back(look: &LookSheet, show: &Show, pictures: &Pictures<'_>) -> Result<Markup, Failure> {
    let plan = paper::plan(look, |camera| displays_of(look, camera, show).len(), pictures);
    let part = |part: &Part| match part {
        Part::Tables => Ok(table(look, show)),
        Part::Pictures => before_and_after(look, show, pictures, &plan),
        Part::Shots => Ok(shots(look)),
        Part::Cubes => Ok(html! { (cubes(&look.cubes)) (made_from(look)) }),
    };
    let last = plan.sides.len().saturating_sub(1);
    Ok(html! {
        @for (i, side) in plan.sides.iter().enumerate() {
            section.side {
                (running(look))
                @for one in side { (part(one)?) }
                @if i == last {
                    footer {
                        "A cube is not a light meter: look at it on your camera and your monitor before the shoot. Made by \
                         rushlight " (env!("CARGO_PKG_VERSION")) "."
                    }
                }
            }
        }
    })
}

/// The pictures of every camera.
fn before_and_after(look: &LookSheet, show: &Show, pictures: &Pictures<'_>, plan: &Plan) -> Result<Markup, Failure> {
    let hdr = look.displays.iter().find(|d| d.hdr);
    Ok(html! {
        h2 { "Before and after" }
        p.note {
            "Log: the camera\u{2019}s signal, as a monitor shows it without a cube. Before: the plain rendering (tone curve at \
             its defaults, no steps). After: this look, through a 33-point cube. Drawn for an sRGB screen."
            @if let Some(display) = hdr {
                " " b { "HDR pictures are mapped to SDR" } ": light over diffuse white (" (short(display.white)) " nits) is \
                 clipped here, and is not on the display."
            }
        }
        div.pictures style={ "--w:" (format!("{:.1}", plan.picture)) "mm;--columns:" (plan.columns) } {
            @for camera in &look.cameras { (block(look, camera, show, pictures, plan)?) }
        }
    })
}

fn made_from(look: &LookSheet) -> Markup {
    html! {
        h2 { "Made from" }
        dl.files {
            @for source in &look.sources { div { dt { (source.file) } dd { code { (source.sha256) } } } }
        }
    }
}

/// The displays that a camera of the look is baked for.
fn displays_of<'l>(look: &'l LookSheet, camera: &CameraSheet, show: &Show) -> Vec<&'l DisplaySheet> {
    let baked = |display: &&DisplaySheet| {
        show.jobs().iter().any(|job| job.names() == [&look.name, &camera.name, &display.name])
    };
    look.displays.iter().filter(baked).collect()
}

/// One camera: its log, and before and after on each display.
fn block(
    look: &LookSheet,
    camera: &CameraSheet,
    show: &Show,
    pictures: &Pictures<'_>,
    plan: &Plan,
) -> Result<Markup, Failure> {
    let pairs = plan.pairs();
    let displays = displays_of(look, camera, show);
    let label = called(&camera.label, &camera.name);
    let log = pictures.log(&camera.name)?;
    Ok(html! {
        div.camera {
            (figure("log", &log, &html! { b { (label) } ": log, no cube" }, &format!("{label}, log, no cube")))
            @for (i, display) in displays.into_iter().enumerate() {
                @let cell = |after: usize| format!("--row:{};--column:{}", i / pairs + 1, i % pairs * 2 + 2 + after);
                @let on = called(&display.label, &display.name);
                @let hdr = if display.hdr { ", mapped to SDR" } else { "" };
                @let plain = pictures.plain(&camera.name, &display.name)?;
                (placed("before", &cell(0), &plain, &html! { "Before, " (on) (hdr) }, &format!("{label}, plain rendering, {on}{hdr}")))
                @let after = pictures.look(&look.name, &camera.name, &display.name)?;
                @let words = format!("{label}, {}, {on}{hdr}", look.title);
                (placed("after", &cell(1), &after, &html! { b { "After" } ", " (on) (hdr) }, &words))
            }
        }
    })
}

/// Findings that a sheet has room for.
const FINDINGS: usize = 4;

/// What was found under stress: a verdict for each property through each camera on each display, then the worst findings.
fn held(look: &LookSheet) -> Markup {
    let all = &look.stress;
    let Some(first) = all.first() else { return Markup::default() };
    let mut findings: Vec<_> = all.iter().flat_map(|held| held.findings.iter().map(move |f| (held, f))).collect();
    findings.sort_by_key(|(_, f)| std::cmp::Reverse(f.grade));
    let more = findings.len().saturating_sub(FINDINGS);
    html! {
        section {
            h2 { "Stress test" }
            div.held {
                div.scroll {
                    table {
                        thead {
                            tr {
                                th scope="col" { "property" }
                                @for held in all { th.text scope="col" { (held.camera) ", " (held.display) } }
                            }
                        }
                        tbody {
                            @for (i, property) in first.properties.iter().enumerate() {
                                tr {
                                    th scope="row" { (property.property) }
                                    @for grade in all.iter().filter_map(|held| held.properties.get(i)).map(|p| p.grade.name()) {
                                        td.text.(grade) { (grade) }
                                    }
                                }
                            }
                        }
                    }
                }
                @if !findings.is_empty() {
                    ul {
                        @for (held, finding) in findings.iter().take(FINDINGS) {
                            @let worst = short((finding.worse().value * 100.0).round() / 100.0);
                            @let grade = finding.grade.name();
                            li {
                                b.(grade) { (grade) } ", " (held.camera) " on " (held.display) ": " (finding.property) "."
                                (finding.figure) " " (worst) " " (finding.unit)
                                @if let Some(place) = finding.place() { ", " (minus(place)) }
                            }
                        }
                    }
                }
                p.note {
                    @if more > 0 { (more) " more: " }
                    code { "rushlight stress" } " prints every figure."
                }
            }
        }
    }
}

/// A column of pictures under each other with one caption.
fn figure(class: &str, column: &[Image], caption: &Markup, said: &str) -> Markup {
    placed(class, "", column, caption, said)
}

/// The same with its row and column on paper.
fn placed(class: &str, cell: &str, column: &[Image], caption: &Markup, said: &str) -> Markup {
    html! {
        figure.(class) style=[(!cell.is_empty()).then_some(cell)] {
            @for image in column {
                @let [width, height] = image.size;
                img src=(image.uri) width=(width) height=(height) alt={ (image.title) ": " (said) };
            }
            figcaption { (caption) }
        }
    }
}

fn cubes(cubes: &[CubeSheet]) -> Markup {
    let readers: BTreeSet<&str> = cubes.iter().filter_map(|c| c.error.as_ref()).map(|s| s.reader.as_str()).collect();
    let readers = if readers.is_empty() { vec!["any"] } else { readers.into_iter().collect() };
    html! {
        h2 { "Cubes" }
        div.scroll tabindex="0" role="region" aria-label="cubes" {
            table.cubes {
                thead {
                    tr {
                        @for name in ["file", "mean", "99 %", "max"] { th scope="col" { (name) } }
                        @for name in ["unit", "SHA-256"] { th.text scope="col" { (name) } }
                    }
                }
                tbody {
                    @for cube in cubes {
                        // On paper the first digits; the manifest has all of them.
                        @let (first, rest) = cube.sha256.split_at(16);
                        tr {
                            th scope="row" { (cube.file) }
                            @if let Some(s) = &cube.error {
                                @for figure in [s.mean, s.p99, s.max] { td { (format!("{figure:.2}")) } }
                                td.text { (s.formula()) }
                            } @else {
                                td.text colspan="4" { "not measured" }
                            }
                            td.text { code { (first) span.rest { (rest) } } }
                        }
                    }
                }
            }
        }
        p.note {
            "Error of each cube against the exact path, for colours that a camera meets, with " (readers.join(" or ")) " \
             interpolation. An error of 1 is what a careful eye just sees side by side."
        }
    }
}
