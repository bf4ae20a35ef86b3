//! The sheet as one HTML page: for each look two sides of A4 when printed, on a screen one column or several.

use super::charts::charts;
use super::pictures::{Image, Pictures};
use super::shots::shots;
use crate::failure::Failure;
use crate::output::short;
use crate::page::{Page, chart};
use crate::picture::Screen;
use maud::{Markup, html};
use rushlight::sheet::{
    CameraSheet, CubeSheet, DisplayLevel, DisplaySheet, HeldSheet, LookSheet, RatingSheet, Report, table_stops,
};
use rushlight::show::Show;
use rushlight::slate;
use std::collections::BTreeSet;

const STYLE: &str = include_str!("sheet.css");

/// Of a side of A4, in millimetres: what the margins leave, and what lines take when printed.
mod paper {
    pub(super) const WIDTH: f64 = 186.0;
    pub(super) const HEIGHT: f64 = 275.0;
    /// Everything on the side of the pictures but the pictures and the lines of the tables.
    pub(super) const FIXED: f64 = 46.0;
    /// A line of the table of cubes, and one of the list of files.
    pub(super) const CUBE: f64 = 3.6;
    pub(super) const SOURCE: f64 = 3.1;
    /// A line of the stop table, and its head, its heading and its note.
    pub(super) const STOP: f64 = 3.6;
    pub(super) const TABLE: f64 = 26.0;
    /// The caption of a column of pictures, in two lines, and the space between columns.
    pub(super) const CAPTION: f64 = 6.0;
    pub(super) const GAP: f64 = 2.0;
    /// Between two pictures of a column.
    pub(super) const SEAM: f64 = 0.8;
    /// What was found under stress, where no second row of pictures stands beside it.
    pub(super) const HELD: f64 = 44.0;
    /// Narrower pictures show nothing: the sheet then has more than two sides.
    pub(super) const LEAST: f64 = 34.0;
}

/// A number with a minus sign that reads as one.
pub(super) fn minus(text: impl Into<String>) -> String {
    text.into().replace('-', "\u{2212}")
}

fn stops(value: f64) -> String {
    minus(if value == 0.0 { "0".to_owned() } else { format!("{value:+}") })
}

pub(super) fn html(report: &Report, show: &Show, pictures: &Pictures<'_>) -> Result<String, Failure> {
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
            @for look in &report.looks {
                article id=(look.name) aria-label=(look.title) {
                    (front(report, look, show, pictures)?)
                    (back(look, show, pictures)?)
                    (shots(look))
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

/// The stop table.
fn table(look: &LookSheet, show: &Show) -> Markup {
    let measured = !look.cameras.iter().flat_map(|c| &c.ratings).any(|r| !r.measured);
    html! {
        section {
            h2 { "Stop table" }
            div.scroll tabindex="0" role="region" aria-label="stop table" {
                table.stops {
                    thead {
                        tr {
                            th rowspan="2" scope="col" { "stops" }
                            @for camera in &look.cameras {
                                th.of colspan="2" scope="colgroup" { (called(&camera.label, &camera.name)) }
                            }
                            @for display in &look.displays {
                                th.of colspan="5" scope="colgroup" { (called(&display.label, &display.name)) }
                            }
                        }
                        tr {
                            @for _ in &look.cameras {
                                th.first scope="col" { "10 bits" }
                                th scope="col" { "% full" }
                            }
                            @for _ in &look.displays {
                                th.first scope="col" { span.hidden { "colour" } }
                                th scope="col" { "R G B, 10 bits" }
                                th scope="col" { "nits" }
                                th.text scope="col" { "cast, C*" }
                                th scope="col" { "satur." }
                            }
                        }
                    }
                    tbody { @for at in table_stops() { (row(at, look, show)) } }
                }
            }
            p.note {
                "Camera: code values of a grey, and percent of full range. Display: what the look makes of it on the exact path. \
                 Cast: hue and CIELAB chroma of the grey under diffuse white, neutral below 1. Satur.: mean chroma of samples 1 to \
                 8 of CIE 13.3-1995 exposed like that grey, over that of the plain rendering (tone curve at its defaults, no steps)."
                @if !measured { " * not measured: where the curve ends." }
            }
        }
    }
}

/// A line of the stop table.
fn row(at: f64, look: &LookSheet, show: &Show) -> Markup {
    let levels = look.cameras.iter().filter_map(|c| c.levels.iter().find(|l| l.stops == at));
    html! {
        tr.grey[at == 0.0] {
            th scope="row" { @if at == 0.0 { "mid-grey" } @else { (stops(at)) } }
            @for level in levels {
                td.first { (format!("{:.0}", level.code_10)) }
                td { (format!("{:.1}", 100.0 * level.signal)) }
            }
            @for (display, level) in look.displays.iter().filter_map(|d| Some((d, d.at(at)?))) {
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

/// The second side: the stop table, pictures, cubes, files.
fn back(look: &LookSheet, show: &Show, pictures: &Pictures<'_>) -> Result<Markup, Failure> {
    let hdr = look.displays.iter().find(|d| d.hdr);
    Ok(html! {
        section.side {
            p.running { b { (look.title) } ", revision " (look.revision) " " code { (look.document.sha256[..16]) } }
            (table(look, show))
            h2 { "Before and after" }
            p.note {
                "Log: the camera\u{2019}s signal, as a monitor shows it without a cube. Before: the plain rendering (tone curve at \
                 its defaults, no steps). After: this look, through a 33-point cube. Drawn for an sRGB screen."
                @if let Some(display) = hdr {
                    " " b { "HDR pictures are mapped to SDR" } ": light over diffuse white (" (short(display.white)) " nits) is \
                     clipped here, and is not on the display."
                }
            }
            div.pictures style={ "--w:" (format!("{:.1}", picture_width(look, show, pictures))) "mm" } {
                @for camera in &look.cameras { (block(look, camera, show, pictures)?) }
            }
            (cubes(&look.cubes))
            h2 { "Made from" }
            dl.files {
                @for source in &look.sources { div { dt { (source.file) } dd { code { (source.sha256) } } } }
            }
            footer {
                "A cube is not a light meter: look at it on your camera and your monitor before the shoot. Made by \
                 rushlight " (env!("CARGO_PKG_VERSION")) "."
            }
        }
    })
}

/// The displays that a camera of the look is baked for.
fn displays_of<'l>(look: &'l LookSheet, camera: &CameraSheet, show: &Show) -> Vec<&'l DisplaySheet> {
    let baked = |display: &&DisplaySheet| {
        show.jobs().iter().any(|job| job.names() == [&look.name, &camera.name, &display.name])
    };
    look.displays.iter().filter(baked).collect()
}

/// Displays that stand beside each other, before and after; more of them stand in rows.
const BESIDE: usize = 2;

/// Rows of a camera's pictures on so many displays, and pictures in each.
fn grid(displays: usize) -> [usize; 2] {
    if displays <= BESIDE { [1, 1 + 2 * displays] } else { [displays, 3] }
}

/// How wide pictures may be, in millimetres, so that they leave room for the rest of the side.
fn picture_width(look: &LookSheet, show: &Show, pictures: &Pictures<'_>) -> f64 {
    use paper::{CAPTION, CUBE, FIXED, GAP, HEIGHT, HELD, LEAST, SEAM, SOURCE, STOP, TABLE, WIDTH};
    let grid = |camera: &CameraSheet| grid(displays_of(look, camera, show).len());
    let rows = |camera: &CameraSheet| grid(camera)[0] as f64;
    let count: f64 = look.cameras.iter().map(rows).sum();
    let aspects: f64 = look.cameras.iter().map(|c| rows(c) * pictures.aspect(&c.name)).sum();
    let lines = CUBE * look.cubes.len() as f64 + SOURCE * look.sources.len() as f64;
    let alone = look.cameras.iter().filter(|c| grid(c)[0] < 2 && look.stress.iter().any(|s| s.camera == c.name));
    let stops = look.displays.first().map_or(0, |d| d.levels.len());
    let lines = lines + HELD * alone.count() as f64 + TABLE + STOP * stops as f64;
    let seams = SEAM * (pictures.count() - 1) as f64;
    let room = HEIGHT - FIXED - lines - count * (CAPTION + GAP + seams);
    let across = look.cameras.iter().map(|c| grid(c)[1]).max().unwrap_or(3) as f64;
    let widest = (WIDTH - (across - 1.0) * GAP) / across;
    let fits = room / aspects;
    if fits < LEAST { widest } else { fits.min(widest) }
}

/// One camera: its log, and before and after on each display.
fn block(look: &LookSheet, camera: &CameraSheet, show: &Show, pictures: &Pictures<'_>) -> Result<Markup, Failure> {
    let displays = displays_of(look, camera, show);
    let label = called(&camera.label, &camera.name);
    let log = pictures.log(&camera.name)?;
    Ok(html! {
        @let [rows, across] = grid(displays.len());
        div.camera.beside[rows == 1] style={ "--across:" (across) } {
            (figure("log", &log, &html! { b { (label) } ": log, no cube" }, &format!("{label}, log, no cube")))
            (held(look, camera, displays.len()))
            @for display in displays {
                @let on = called(&display.label, &display.name);
                @let hdr = if display.hdr { ", mapped to SDR" } else { "" };
                @let plain = pictures.plain(&camera.name, &display.name)?;
                (figure("before", &plain, &html! { "Before, " (on) (hdr) }, &format!("{label}, plain rendering, {on}{hdr}")))
                @let after = pictures.look(&look.name, &camera.name, &display.name)?;
                @let words = format!("{label}, {}, {on}{hdr}", look.title);
                (figure("after", &after, &html! { b { "After" } ", " (on) (hdr) }, &words))
            }
        }
    })
}

/// Findings that a sheet has room for, of each camera.
const FINDINGS: usize = 3;

/// What was found under stress through one camera.
fn held(look: &LookSheet, camera: &CameraSheet, rows: usize) -> Markup {
    let all: Vec<&HeldSheet> = look.stress.iter().filter(|s| s.camera == camera.name).collect();
    let Some(first) = all.first() else { return Markup::default() };
    let mut findings: Vec<_> = all.iter().flat_map(|held| held.findings.iter().map(move |f| (held, f))).collect();
    findings.sort_by_key(|(_, f)| std::cmp::Reverse(f.grade));
    let more = findings.len().saturating_sub(FINDINGS);
    html! {
        div.held style={ "--rows:" (rows.saturating_sub(1).max(1)) } {
            table {
                thead {
                    tr {
                        th scope="col" { "stress" }
                        @for held in &all { th.text scope="col" { (held.display) } }
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
            @if !findings.is_empty() {
                ul {
                    @for (held, finding) in findings.iter().take(FINDINGS) {
                        @let worst = short((finding.worse().value * 100.0).round() / 100.0);
                        @let grade = finding.grade.name();
                        li {
                            (held.display) ": " (finding.property) "." (finding.figure) " " b.(grade) { (grade) } ", " (worst) " "
                            (finding.unit)
                            @if let Some(place) = finding.place() { ", " (minus(place)) }
                        }
                    }
                }
            }
            p.note {
                @if more > 0 { (more) " more: " }
                code { "rushlight stress" } " has every figure."
            }
        }
    }
}

/// A column of pictures under each other with one caption.
fn figure(class: &str, column: &[Image], caption: &Markup, said: &str) -> Markup {
    html! {
        figure.(class) {
            @for image in column {
                @let [width, height] = image.size;
                img src=(image.uri) width=(width) height=(height) alt={ (image.title) ": " (said) };
            }
            figcaption { (caption) }
        }
    }
}

fn cubes(cubes: &[CubeSheet]) -> Markup {
    let readers: BTreeSet<&str> = cubes.iter().filter_map(|c| c.strays.as_ref()).map(|s| s.reader.as_str()).collect();
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
                            @if let Some(s) = &cube.strays {
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
