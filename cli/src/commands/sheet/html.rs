//! The sheet as one HTML page: for each look two sides of A4 when printed, on a screen one column or several.

use super::charts::charts;
use super::pictures::{Image, Pictures};
use super::shots::shots;
use crate::drawing::escape;
use crate::failure::Failure;
use crate::output::short;
use crate::page::Page;
use crate::picture::Screen;
use rushlight::sheet::{
    CameraSheet, CubeSheet, DisplayLevel, DisplaySheet, HeldSheet, LookSheet, RatingSheet, Report, table_stops,
};
use rushlight::show::Show;
use std::fmt::Write as _;

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
    let mut body = String::new();
    if report.looks.len() > 1 {
        let _ = writeln!(body, "<nav aria-label=\"looks\"><b>{}</b>", escape(&report.show));
        for look in &report.looks {
            let _ = writeln!(body, "<a href=\"#{}\">{}</a>", escape(&look.name), escape(&look.title));
        }
        body.push_str("</nav>\n");
    }
    body.push_str("<main>\n");
    for look in &report.looks {
        let (id, title) = (escape(&look.name), escape(&look.title));
        let _ = writeln!(body, "<article id=\"{id}\" aria-label=\"{title}\">");
        front(&mut body, report, look, show, pictures)?;
        back(&mut body, look, show, pictures)?;
        shots(&mut body, look);
        body.push_str("</article>\n");
    }
    body.push_str("</main>\n");
    Ok(Page { title: &title, style: STYLE, font: true, body: &body }.html())
}

/// The first side: which look, in two pictures, in words, in curves.
fn front(
    body: &mut String,
    report: &Report,
    look: &LookSheet,
    show: &Show,
    pictures: &Pictures<'_>,
) -> Result<(), Failure> {
    let (name, title) = (escape(&report.show), escape(&look.title));
    let name = if name == title { "Look sheet".to_owned() } else { format!("{name}: look sheet") };
    let _ = writeln!(
        body,
        "<section class=\"side front\">\n<header><p class=\"show\">{name}</p>\n<h1>{title}</h1>\n<p class=\"revision\">revision \
         <b>{}</b></p>\n<p class=\"sum\">{} &nbsp;SHA-256 <code>{}</code></p></header>",
        look.revision,
        escape(&look.document.file),
        look.document.sha256
    );
    hero(body, look, show, pictures)?;
    body.push_str("<div class=\"two\">\n<section>\n<h2>What it does</h2>\n<ol class=\"steps\">\n");
    for step in &look.steps {
        let words = code(&escape(&step.words));
        let _ = writeln!(body, "<li><b>{}.</b> {words}</li>", escape(&step.title));
    }
    body.push_str("</ol>\n</section>\n<section>\n<h2>Cameras and displays</h2>\n<dl class=\"path\">\n");
    for camera in &look.cameras {
        entry(body, "camera", &camera.name, &camera.label, &camera.terms);
        let ratings: Vec<String> = camera.ratings.iter().map(rating).collect();
        let _ = writeln!(body, "<dd class=\"ratings\">{}</dd>", ratings.join(" "));
    }
    for display in &look.displays {
        entry(body, "display", &display.name, &display.label, &display.terms);
        if display.hdr {
            let _ = writeln!(body, "<dd>diffuse white at {} nits</dd>", short(display.white));
        }
    }
    body.push_str(
        "</dl>\n<p class=\"note\">EI: from the floor to the clip in stops (10-bit code of the clip).</p>\n</section>\n</div>\n",
    );
    let all = charts(look);
    let columns = if all.len() > 6 { 4 } else { 3 };
    let _ = writeln!(
        body,
        "<section class=\"curves\">\n<h2>Greys and colours, stop by stop</h2>\n<div class=\"charts\" style=\"--columns:{columns}\">"
    );
    for chart in all {
        let _ = writeln!(body, "<div class=\"chart\">{}</div>", chart.svg);
    }
    body.push_str("</div>\n</section>\n</section>\n");
    Ok(())
}

/// The look at first glance, before and after: of the first camera, on a display of standard dynamic range if there is one.
fn hero(body: &mut String, look: &LookSheet, show: &Show, pictures: &Pictures<'_>) -> Result<(), Failure> {
    let Some(camera) = look.cameras.first() else { return Ok(()) };
    let displays = displays_of(look, camera, show);
    let Some(display) = displays.iter().find(|d| !d.hdr).or(displays.first()) else { return Ok(()) };
    let on = if display.label.is_empty() { &display.name } else { &display.label };
    let hdr = if display.hdr { ", mapped to SDR" } else { "" };
    body.push_str("<div class=\"hero\">\n");
    let plain = pictures.plain(&camera.name, &display.name)?;
    figure(body, "plain", &plain[..1], &format!("Before: the plain rendering, {}{hdr}", escape(on)), "before");
    let after = pictures.look(&look.name, &camera.name, &display.name)?;
    figure(body, "look", &after[..1], &format!("<b>After: this look</b>, {}{hdr}", escape(on)), "after");
    body.push_str("</div>\n");
    Ok(())
}

/// What stands between grave accents, as code.
fn code(text: &str) -> String {
    let parts: Vec<&str> = text.split('`').collect();
    if parts.len().is_multiple_of(2) {
        return text.to_owned();
    }
    let part = |(i, part): (usize, &&str)| if i % 2 == 1 { format!("<code>{part}</code>") } else { (*part).to_owned() };
    parts.iter().enumerate().map(part).collect()
}

fn entry(body: &mut String, kind: &str, name: &str, label: &str, terms: &str) {
    let label = if label.is_empty() { name } else { label };
    let short = if label == name { String::new() } else { format!(" <small>{kind} {}</small>", escape(name)) };
    let _ = writeln!(body, "<dt>{}{short}</dt>\n<dd>{}</dd>", escape(label), escape(terms));
}

fn rating(rating: &RatingSheet) -> String {
    let RatingSheet { ei, floor, clip, clip_code_10, measured } = rating;
    let ei = ei.map_or_else(|| "no EI".to_owned(), |ei| format!("EI {}", short(ei)));
    let star = if *measured { "" } else { "*" };
    let (floor, clip) = (minus(format!("{floor:+.1}")), minus(format!("{clip:+.1}")));
    format!("<span>{ei}: {floor} to {clip}{star} ({clip_code_10:.0})</span>")
}

/// The stop table.
fn table(body: &mut String, look: &LookSheet, show: &Show) {
    let label = |label: &str, name: &str| escape(if label.is_empty() { name } else { label });
    body.push_str("<section>\n<h2>Stop table</h2>\n<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"stop table\">\n");
    body.push_str("<table class=\"stops\">\n<thead>\n<tr><th rowspan=\"2\" scope=\"col\">stops</th>");
    for camera in &look.cameras {
        let name = label(&camera.label, &camera.name);
        let _ = write!(body, "<th colspan=\"2\" scope=\"colgroup\" class=\"of\">{name}</th>");
    }
    for display in &look.displays {
        let name = label(&display.label, &display.name);
        let _ = write!(body, "<th colspan=\"5\" scope=\"colgroup\" class=\"of\">{name}</th>");
    }
    body.push_str("</tr>\n<tr>");
    for _ in &look.cameras {
        body.push_str("<th scope=\"col\" class=\"first\">10 bits</th><th scope=\"col\">% full</th>");
    }
    for _ in &look.displays {
        body.push_str(
            "<th scope=\"col\" class=\"first\"><span class=\"hidden\">colour</span></th><th scope=\"col\">R G B, 10 bits</th>\
             <th scope=\"col\">nits</th><th scope=\"col\" class=\"text\">cast, C*</th><th scope=\"col\">satur.</th>",
        );
    }
    body.push_str("</tr>\n</thead>\n<tbody>\n");
    for at in table_stops() {
        let class = if at == 0.0 { " class=\"grey\"" } else { "" };
        let named = if at == 0.0 { "mid-grey".to_owned() } else { stops(at) };
        let _ = write!(body, "<tr{class}><th scope=\"row\">{named}</th>");
        for level in look.cameras.iter().filter_map(|c| c.levels.iter().find(|l| l.stops == at)) {
            let _ = write!(body, "<td class=\"first\">{:.0}</td><td>{:.1}</td>", level.code_10, 100.0 * level.signal);
        }
        for (display, level) in look.displays.iter().filter_map(|d| Some((d, d.at(at)?))) {
            cells(body, &Screen::of(&show.displays()[&display.name].item), level);
        }
        body.push_str("</tr>\n");
    }
    body.push_str("</tbody>\n</table>\n</div>\n");
    let mut said = "Camera: code values of a grey, and percent of full range. Display: what the look makes of it on the exact path. \
        Cast: hue and CIELAB chroma of the grey under diffuse white, neutral below 1. Satur.: mean chroma of samples 1 to 8 of \
        CIE 13.3-1995 exposed like that grey, over that of the plain rendering (tone curve at its defaults, no steps)."
        .to_owned();
    if look.cameras.iter().flat_map(|c| &c.ratings).any(|r| !r.measured) {
        said.push_str(" * not measured: where the curve ends.");
    }
    let _ = writeln!(body, "<p class=\"note\">{said}</p>\n</section>");
}

fn cells(body: &mut String, screen: &Screen<'_>, level: &DisplayLevel) {
    let [r, g, b] = screen.show(level.signal).map(|v| (255.0 * v).round());
    let codes = level.code_10.map(|v| format!("{v:.0}")).join(" ");
    let cast = match level.cast {
        "neutral" => "neutral".to_owned(),
        cast => format!("{cast} {:.0}", level.cast_chroma()),
    };
    let saturation = level.saturation.map_or_else(|| "\u{2013}".to_owned(), |s| format!("{:.0} %", 100.0 * s));
    let _ = write!(
        body,
        "<td class=\"first\"><i style=\"background:rgb({r},{g},{b})\"></i></td><td>{codes}</td><td>{}</td>\
         <td class=\"text\">{cast}</td><td>{saturation}</td>",
        nits(level.nits)
    );
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
fn back(body: &mut String, look: &LookSheet, show: &Show, pictures: &Pictures<'_>) -> Result<(), Failure> {
    let _ = writeln!(
        body,
        "<section class=\"side\">\n<p class=\"running\"><b>{}</b>, revision {} <code>{}</code></p>",
        escape(&look.title),
        look.revision,
        &look.document.sha256[..16]
    );
    table(body, look, show);
    body.push_str("<h2>Before and after</h2>\n");
    let hdr: Vec<&DisplaySheet> = look.displays.iter().filter(|d| d.hdr).collect();
    let clipped = hdr.first().map(|d| {
        format!(
            " <b>HDR pictures are mapped to SDR</b>: light over diffuse white ({} nits) is clipped here, and is not on the \
             display.",
            short(d.white)
        )
    });
    let _ = writeln!(
        body,
        "<p class=\"note\">Log: the camera\u{2019}s signal, as a monitor shows it without a cube. Before: the plain rendering (tone \
         curve at its defaults, no steps). After: this look, through a 33-point cube. Drawn for an sRGB screen.{}</p>",
        clipped.unwrap_or_default()
    );
    let _ = writeln!(body, "<div class=\"pictures\" style=\"--w:{:.1}mm\">", picture_width(look, show, pictures));
    for camera in &look.cameras {
        block(body, look, camera, show, pictures)?;
    }
    body.push_str("</div>\n");
    cubes(body, &look.cubes);
    body.push_str("<h2>Made from</h2>\n<dl class=\"files\">\n");
    for source in &look.sources {
        let _ = writeln!(body, "<div><dt>{}</dt><dd><code>{}</code></dd></div>", escape(&source.file), source.sha256);
    }
    let _ = writeln!(
        body,
        "</dl>\n<footer>A cube is not a light meter: look at it on your camera and your monitor before the shoot. \
         Made by rushlight {}.</footer>\n</section>",
        env!("CARGO_PKG_VERSION")
    );
    Ok(())
}

/// The displays that a camera of the look is baked for.
fn displays_of<'l>(look: &'l LookSheet, camera: &CameraSheet, show: &Show) -> Vec<&'l DisplaySheet> {
    let baked = |display: &&DisplaySheet| {
        let is = |job: &&rushlight::show::Job| {
            job.look == look.name && job.camera == camera.name && job.display == display.name
        };
        show.jobs().iter().any(|job| is(&job))
    };
    look.displays.iter().filter(baked).collect()
}

/// How wide pictures may be, in millimetres, so that they leave room for the rest of the side.
fn picture_width(look: &LookSheet, show: &Show, pictures: &Pictures<'_>) -> f64 {
    use paper::{CAPTION, CUBE, FIXED, GAP, HEIGHT, HELD, LEAST, SEAM, SOURCE, STOP, TABLE, WIDTH};
    let rows = |camera: &CameraSheet| displays_of(look, camera, show).len() as f64;
    let count: f64 = look.cameras.iter().map(rows).sum();
    let aspects: f64 = look.cameras.iter().map(|c| rows(c) * pictures.aspect(&c.name)).sum();
    let lines = CUBE * look.cubes.len() as f64 + SOURCE * look.sources.len() as f64;
    let alone = look.cameras.iter().filter(|c| rows(c) < 2.0 && look.stress.iter().any(|s| s.camera == c.name));
    let stops = look.displays.first().map_or(0, |d| d.levels.len());
    let lines = lines + HELD * alone.count() as f64 + TABLE + STOP * stops as f64;
    let seams = SEAM * (pictures.count() - 1) as f64;
    let room = HEIGHT - FIXED - lines - count * (CAPTION + GAP + seams);
    let widest = (WIDTH - 2.0 * GAP) / 3.0;
    let fits = room / aspects;
    if fits < LEAST { widest } else { fits.min(widest) }
}

/// One camera: its log, and before and after on each display.
fn block(
    body: &mut String,
    look: &LookSheet,
    camera: &CameraSheet,
    show: &Show,
    pictures: &Pictures<'_>,
) -> Result<(), Failure> {
    let displays = displays_of(look, camera, show);
    let label = if camera.label.is_empty() { &camera.name } else { &camera.label };
    let _ = writeln!(body, "<div class=\"camera\" style=\"--rows:{}\">", displays.len());
    let log = pictures.log(&camera.name)?;
    figure(body, "log", &log, &format!("<b>{}</b>: log, no cube", escape(label)), &format!("{label}, log, no cube"));
    held(body, look, camera, displays.len());
    for display in displays {
        let on = if display.label.is_empty() { &display.name } else { &display.label };
        let hdr = if display.hdr { ", mapped to SDR" } else { "" };
        let plain = pictures.plain(&camera.name, &display.name)?;
        let said = format!("before, {on}{hdr}");
        figure(body, "before", &plain, &escape(&capital(&said)), &format!("{label}, plain rendering, {on}{hdr}"));
        let after = pictures.look(&look.name, &camera.name, &display.name)?;
        let said = format!("<b>After</b>, {}{hdr}", escape(on));
        figure(body, "after", &after, &said, &format!("{label}, {}, {on}{hdr}", look.title));
    }
    body.push_str("</div>\n");
    Ok(())
}

/// Findings that a sheet has room for, of each camera.
const FINDINGS: usize = 3;

/// What was found under stress through one camera.
fn held(body: &mut String, look: &LookSheet, camera: &CameraSheet, rows: usize) {
    let all: Vec<&HeldSheet> = look.stress.iter().filter(|s| s.camera == camera.name).collect();
    let Some(first) = all.first() else { return };
    let span = rows.saturating_sub(1).max(1);
    let _ =
        write!(body, "<div class=\"held\" style=\"--rows:{span}\">\n<table><thead><tr><th scope=\"col\">stress</th>");
    for held in &all {
        let _ = write!(body, "<th scope=\"col\" class=\"text\">{}</th>", escape(&held.display));
    }
    body.push_str("</tr></thead>\n<tbody>\n");
    for (i, property) in first.properties.iter().enumerate() {
        let _ = write!(body, "<tr><th scope=\"row\">{}</th>", property.property);
        for grade in all.iter().filter_map(|held| held.properties.get(i)).map(|p| p.grade.name()) {
            let _ = write!(body, "<td class=\"text {grade}\">{grade}</td>");
        }
        body.push_str("</tr>\n");
    }
    body.push_str("</tbody></table>\n");
    let mut findings: Vec<_> = all.iter().flat_map(|held| held.findings.iter().map(move |f| (held, f))).collect();
    findings.sort_by_key(|(_, f)| std::cmp::Reverse(f.grade));
    if !findings.is_empty() {
        body.push_str("<ul>\n");
        for (held, finding) in findings.iter().take(FINDINGS) {
            let place = finding.place().map(|p| format!(", {}", escape(&minus(p)))).unwrap_or_default();
            let worst = short((finding.worse().value * 100.0).round() / 100.0);
            let (grade, unit) = (finding.grade.name(), escape(&finding.unit));
            let _ = writeln!(
                body,
                "<li>{}: {}.{} <b class=\"{grade}\">{grade}</b>, {worst} {unit}{place}</li>",
                escape(&held.display),
                finding.property,
                finding.figure
            );
        }
        body.push_str("</ul>\n");
    }
    let more = findings.len().saturating_sub(FINDINGS);
    let more = if more > 0 { format!("{more} more: ") } else { String::new() };
    let _ = writeln!(body, "<p class=\"note\">{more}<code>rushlight stress</code> has every figure.</p>\n</div>");
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A column of pictures under each other with one caption, which is HTML.
fn figure(body: &mut String, class: &str, column: &[Image], caption: &str, said: &str) {
    let _ = write!(body, "<figure class=\"{class}\">");
    for image in column {
        let [width, height] = image.size;
        let _ = write!(
            body,
            "<img src=\"{}\" width=\"{width}\" height=\"{height}\" alt=\"{}: {}\">",
            image.uri,
            image.title,
            escape(said)
        );
    }
    let _ = writeln!(body, "<figcaption>{caption}</figcaption></figure>");
}

fn cubes(body: &mut String, cubes: &[CubeSheet]) {
    body.push_str(
        "<h2>Cubes</h2>\n<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"cubes\">\n<table class=\"cubes\">\n\
         <thead><tr><th scope=\"col\">file</th><th scope=\"col\">mean</th><th scope=\"col\">99 %</th><th scope=\"col\">max</th>\
         <th scope=\"col\" class=\"text\">unit</th><th scope=\"col\" class=\"text\">SHA-256</th></tr></thead>\n<tbody>\n",
    );
    for cube in cubes {
        let _ = write!(body, "<tr><th scope=\"row\">{}</th>", escape(&cube.file));
        match &cube.strays {
            Some(s) => {
                let formula = s.formula();
                let _ = write!(
                    body,
                    "<td>{:.2}</td><td>{:.2}</td><td>{:.2}</td><td class=\"text\">{formula}</td>",
                    s.mean, s.p99, s.max
                );
            }
            None => body.push_str("<td colspan=\"4\" class=\"text\">not measured</td>"),
        }
        // On paper the first digits; the manifest has all of them.
        let (first, rest) = cube.sha256.split_at(16);
        let _ = writeln!(body, "<td class=\"text\"><code>{first}<span class=\"rest\">{rest}</span></code></td></tr>");
    }
    let readers: std::collections::BTreeSet<&str> =
        cubes.iter().filter_map(|c| c.strays.as_ref()).map(|s| s.reader.as_str()).collect();
    let readers: Vec<&str> = readers.into_iter().collect();
    let _ = writeln!(
        body,
        "</tbody>\n</table>\n</div>\n<p class=\"note\">Error of each cube against the exact path, for colours that a camera meets, with {} interpolation. An error of 1 is what a careful eye just sees side by side.</p>",
        if readers.is_empty() { "any".to_owned() } else { readers.join(" or ") }
    );
}
