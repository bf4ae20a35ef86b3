//! The report as one HTML page that asks nothing of any other place: document, figures, pictures and curves.

use super::pairs::Ways;
use super::pictures::{SCALE, Triple, draw, factor, scenes};
use super::text::{SEEN, broken, by_unit, formula, grey, headline, place, state, words};
use crate::drawing::chart::{Axis, Chart, Guide, Mark, Panel, Series};
use crate::drawing::{escape, theme};
use crate::failure::Failure;
use crate::page::Page;
use rushlight::compare::Comparison;
use rushlight::compare::report::{Item, Picture, Report, State, Verdict};
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// Pictures that are drawn; the others have their line in the table.
const DRAWN: usize = 4;

const STYLE: &str = include_str!("diff.css");

pub(super) fn html(report: &Report, ways: &[Vec<Option<Ways<'_>>>], frame: Option<&[u8]>) -> Result<String, Failure> {
    let (class, verdict) = match report.verdict {
        Verdict::Identical => ("good", "identical"),
        Verdict::Within => ("good", "within the limits"),
        Verdict::Different => ("plain", "different"),
        Verdict::Beyond => ("bad", "beyond the limits"),
    };
    let (old, new) = (escape(&report.old), escape(&report.new));
    let mut body = format!(
        "<header><h1>Look diff</h1><p class=\"verdict {class}\">{verdict}</p>\
         <p class=\"sides\"><span>{old}</span> <b aria-label=\"to\">&rarr;</b> <span>{new}</span></p></header>\n<main>\n"
    );
    let mut left = DRAWN;
    for (item, ways) in report.items.iter().zip(ways) {
        push_item(&mut body, item, ways, frame, &mut left)?;
    }
    body.push_str(
        "</main>\n<footer><p>CIEDE2000 for displays of standard dynamic range, Delta E ITP (ITU-R BT.2124) for PQ and HLG: \
         about 1 is a difference that a careful eye just sees side by side. Figures are of the exact paths. Pictures are \
         drawn by 33-point cubes of them for an sRGB screen, light above diffuse white clipped: judge the look itself on \
         your own monitor.</p></footer>\n",
    );
    let title = format!("Look diff: {} to {}", report.old, report.new);
    Ok(Page { title: &title, style: STYLE, font: false, body: &body }.html())
}

fn push_item(
    body: &mut String,
    item: &Item,
    ways: &[Option<Ways<'_>>],
    frame: Option<&[u8]>,
    left: &mut usize,
) -> Result<(), Failure> {
    let _ = writeln!(body, "<section>\n<h2>{} <small>{}</small></h2>", escape(&item.name), state(item.state));
    for note in &item.notes {
        let _ = writeln!(body, "<p class=\"note\">{}</p>", escape(note));
    }
    for document in item.documents.iter().filter(|d| !d.changes.is_empty()) {
        let _ = writeln!(body, "<h3>{}</h3>\n<ul class=\"changes\">", escape(&document.name));
        for change in &document.changes {
            let _ = writeln!(body, "<li>{}</li>", escape(&change.words).replace("-&gt;", "&rarr;"));
        }
        body.push_str("</ul>\n");
    }
    let broken = broken(item);
    if !item.limits.is_empty() {
        let _ = writeln!(body, "<h3>limits</h3>\n<p><code>{}</code></p>", escape(&item.limits.join(", ")));
        if broken.is_empty() {
            body.push_str("<p>None is exceeded.</p>\n");
        } else {
            body.push_str("<ul class=\"broken\">\n");
            broken.iter().for_each(|b| {
                let _ = writeln!(body, "<li>{}</li>", escape(b));
            });
            body.push_str("</ul>\n");
        }
    }
    let changed = || item.pictures.iter().zip(ways).filter(|(p, _)| p.state != State::Identical);
    if changed().next().is_some() {
        push_summary(body, changed().map(|(p, _)| p));
    }
    let same = item.pictures.len() - changed().count();
    if same > 0 {
        let _ = writeln!(body, "<p>{same} unchanged.</p>");
    }
    let mut seen = BTreeSet::new();
    for (picture, ways) in changed() {
        let (Some(found), Some(ways)) = (&picture.comparison, ways) else { continue };
        // Cameras of one look on one display differ by little: the first is open, the others are folded.
        let is_first = seen.insert((picture.look.as_deref(), picture.display.as_str()));
        if !is_first {
            let of = headline(found).map(|g| format!(": {} mean {:.2}, max {:.2}", found.formula, g.mean, g.max));
            let _ =
                writeln!(body, "<details><summary>{}{}</summary>", escape(&picture.title()), of.unwrap_or_default());
        }
        let _ = writeln!(body, "<article>\n<h3>{}</h3>", escape(&picture.title()));
        let camera = picture.camera_terms.as_ref().map(|c| format!("{} &rarr; ", escape(c))).unwrap_or_default();
        let _ = writeln!(body, "<p class=\"note\">{camera}{}</p>", escape(&picture.display_terms));
        if let Some(note) = &picture.note {
            let _ = writeln!(body, "<p class=\"note\">{}</p>", escape(note));
        }
        push_groups(body, found);
        if *left > 0 {
            *left -= 1;
            for scene in scenes(ways, frame)? {
                push_triple(body, &draw(&scene, ways)?);
            }
            push_key(body, found);
            let _ = writeln!(body, "<div class=\"chart\">{}</div>", curves(found).draw().svg);
        }
        body.push_str(if is_first { "</article>\n" } else { "</article>\n</details>\n" });
    }
    body.push_str("</section>\n");
    Ok(())
}

fn push_summary<'p>(body: &mut String, pictures: impl Iterator<Item = &'p Picture>) {
    let _ = writeln!(body, "<div class=\"scroll\"><table>\n<caption>{}</caption>", SEEN);
    let mut unit = None;
    for picture in by_unit(&pictures.collect::<Vec<_>>()) {
        // A head for each unit.
        if unit != Some(formula(picture)) {
            unit = Some(formula(picture));
            let head = formula(picture).unwrap_or("not compared");
            let _ = writeln!(
                body,
                "<tbody><tr><th scope=\"col\">{head}<th scope=\"col\">mean<th scope=\"col\">95 %<th scope=\"col\">max<th \
                 scope=\"col\">mid-grey</tr>"
            );
        }
        let title = escape(&picture.title());
        match picture.comparison.as_ref().and_then(|c| Some((c, headline(c)?))) {
            Some((found, g)) => {
                let stops = found.grey.as_ref().and_then(|g| g.stops);
                let stops = stops.map(|s| format!("{s:+.2} stops")).unwrap_or_default();
                let _ = writeln!(
                    body,
                    "<tr><th scope=\"row\">{title}<td>{:.2}<td>{:.2}<td>{:.2}<td>{stops}</tr>",
                    g.mean, g.p95, g.max
                );
            }
            None => {
                let note = picture.note.as_deref().map(|n| format!(": {}", escape(n))).unwrap_or_default();
                let state = state(picture.state);
                let _ =
                    writeln!(body, "<tr><th scope=\"row\">{title}<td colspan=\"4\" class=\"text\">{state}{note}</tr>");
            }
        }
    }
    body.push_str("</tbody></table></div>\n");
}

fn push_groups(body: &mut String, found: &Comparison) {
    let _ = writeln!(
        body,
        "<div class=\"scroll\"><table class=\"groups\">\n<caption>{}</caption>\n<thead><tr><th>group<th>mean<th>95 %<th>max\
         <th class=\"text\">direction<th class=\"text\">place of the max</tr></thead>\n<tbody>",
        found.formula
    );
    for g in &found.groups {
        let _ = writeln!(
            body,
            "<tr><th scope=\"row\">{}<br><small>{}</small><td>{:.2}<td>{:.2}<td>{:.2}<td class=\"text\">{}<td class=\"text\">{}</tr>",
            g.name.name(),
            g.name.title(),
            g.mean,
            g.p95,
            g.max,
            words(&g.direction),
            place(g).map(|p| escape(&p)).unwrap_or_default()
        );
    }
    body.push_str("</tbody></table></div>\n");
    if let Some(grey) = grey(found) {
        let _ = writeln!(body, "<p>Mid-grey: {}</p>", escape(&grey).replace("-&gt;", "&rarr;"));
    }
}

fn push_triple(body: &mut String, triple: &Triple) {
    let _ = writeln!(body, "<h4>{}</h4>\n<div class=\"triple\">", triple.title);
    let [width, height] = triple.size;
    for (image, name) in triple.images.iter().zip(["old", "new", "difference"]) {
        let _ = writeln!(
            body,
            "<figure><img src=\"{image}\" width=\"{width}\" height=\"{height}\" alt=\"{}: {name}\"><figcaption>{name}</figcaption></figure>",
            triple.title
        );
    }
    body.push_str("</div>\n");
    if !triple.rows.is_empty() {
        let _ = writeln!(body, "<p class=\"key\">Rows from the top: {}.</p>", triple.rows);
    }
}

/// What the colours of the difference maps mean.
fn push_key(body: &mut String, found: &Comparison) {
    let _ = write!(body, "<p class=\"key\">{}", found.formula);
    for (i, (value, [r, g, b])) in SCALE.iter().enumerate() {
        let more = if i + 1 == SCALE.len() { " and more" } else { "" };
        let _ = write!(
            body,
            " <span><i style=\"background:rgb({r},{g},{b})\"></i>{}{more}</span>",
            value * factor(found.difference)
        );
    }
    body.push_str("</p>\n");
}

/// Greys of both sides: the new one's channels, the old one's dashed.
fn curves(found: &Comparison) -> Chart {
    let known = found.ramp.iter().all(|step| step.stops.is_some());
    let x = |step: &rushlight::compare::RampStep| step.stops.unwrap_or(step.signal[1]);
    let line = |pick: fn(&rushlight::compare::RampStep) -> [f64; 3], c: usize| {
        found.ramp.iter().map(|step| [x(step), pick(step)[c]]).collect::<Vec<_>>()
    };
    let mut series = Vec::new();
    for (c, name) in ["red", "green", "blue"].into_iter().enumerate() {
        let colour = theme::CHANNELS[c];
        series.push(Series { mark: Mark::DASHED, ..Series::line(format!("{name}, old"), colour, line(|s| s.old, c)) });
        series.push(Series::line(format!("{name}, new"), colour, line(|s| s.new, c)));
    }
    let label = if known { "stops from mid-grey" } else { "camera signal" };
    let differences = found.ramp.iter().map(|step| [x(step), step.difference]).collect();
    let guides = if known { vec![Guide::X(0.0, "mid-grey".to_owned())] } else { Vec::new() };
    Chart {
        title: "Greys".to_owned(),
        subtitle: String::new(),
        columns: 2,
        plot: [400.0, 260.0],
        notes: Vec::new(),
        panels: vec![
            Panel {
                title: "Display signal of greys, old and new".to_owned(),
                x: Axis::linear(label),
                y: Axis::linear("display signal"),
                series,
                guides: guides.clone(),
            },
            Panel {
                title: format!("{} of greys", found.formula),
                x: Axis::linear(label),
                y: Axis::linear(found.formula),
                series: vec![Series::line("", theme::INK, differences)],
                guides,
            },
        ],
    }
}
