//! The report as one HTML page that asks nothing of any other place: document, figures, pictures and curves.

use super::pictures::{SCALE, Triple, draw, factor, scenes};
use super::text::{SEEN, broken, by_unit, formula, grey, headline, place, state, words};
use crate::drawing::chart::{Axis, Chart, Guide, Mark, Panel, Series};
use crate::drawing::theme;
use crate::failure::Failure;
use crate::page::{Page, chart};
use maud::{Markup, html};
use rushlight::compare::Comparison;
use rushlight::compare::report::{Item, Picture, Report, State, Verdict};
use rushlight::diff::Compared;
use rushlight::frame::Frame;

/// Pictures that are drawn; the others have their line in the table.
const DRAWN: usize = 4;

pub(super) const STYLE: &str = include_str!("diff.css");

/// How a verdict is coloured.
pub(super) const fn class(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Identical | Verdict::Within => "good",
        Verdict::Different => "plain",
        Verdict::Beyond => "bad",
    }
}

pub(super) fn html(
    report: &Report,
    compared: &[Vec<Option<Compared<'_>>>],
    frame: Option<&Frame>,
) -> Result<String, Failure> {
    let mut left = DRAWN;
    let items = report.items.iter().zip(compared).map(|(shown, ways)| item(shown, ways, frame, &mut left));
    let items = items.collect::<Result<Vec<_>, _>>()?;
    let body = html! {
        header {
            h1 { "Look diff" }
            p.verdict.(class(report.verdict)) { (report.verdict) }
            p.sides { span { (report.old) } " " b aria-label="to" { "→" } " " span { (report.new) } }
        }
        main { @for item in items { (item) } }
        footer {
            p {
                "CIEDE2000 for displays of standard dynamic range, Delta E ITP (ITU-R BT.2124) for PQ and HLG: about 1 is a \
                 difference that a careful eye just sees side by side. Figures are of the exact paths. Pictures are drawn by \
                 33-point cubes of them for an sRGB screen, light above diffuse white clipped: judge the look itself on your own \
                 monitor."
            }
        }
    };
    let title = format!("Look diff: {} to {}", report.old, report.new);
    Ok(Page { title: &title, style: STYLE, font: false, slate: &[], body }.html())
}

/// An arrow is shown as one.
fn arrows(text: &str) -> String {
    text.replace("->", "→")
}

fn item(
    item: &Item,
    ways: &[Option<Compared<'_>>],
    frame: Option<&Frame>,
    left: &mut usize,
) -> Result<Markup, Failure> {
    let broken = broken(item);
    let changed: Vec<(&Picture, &Option<Compared<'_>>)> =
        item.pictures.iter().zip(ways).filter(|(p, _)| p.state != State::Identical).collect();
    let same = item.pictures.len() - changed.len();
    let mut articles = Vec::new();
    let mut open: Vec<(&Picture, &Comparison)> = Vec::new();
    for (picture, compared) in &changed {
        let (Some(found), Some(compared)) = (&picture.comparison, compared) else { continue };
        let shown = article(picture, found, compared, frame, left)?;
        match open.iter().find(|(first, other)| say_the_same((*first, *other), (*picture, found))) {
            Some((first, _)) => articles.push(folded(picture, first, found, &shown)),
            None => {
                open.push((*picture, found));
                articles.push(shown);
            }
        }
    }
    Ok(html! {
        section {
            h2 { (item.name) " " small { (state(item.state)) } }
            @for note in &item.notes { p.note { (note) } }
            @for document in item.documents.iter().filter(|d| !d.changes.is_empty()) {
                h3 { (document.name) }
                ul.changes { @for change in &document.changes { li { (arrows(&change.words)) } } }
            }
            @if !item.limits.is_empty() {
                h3 { "limits" }
                p { code { (item.limits.join(", ")) } }
                @if broken.is_empty() {
                    p { "None is exceeded." }
                } @else {
                    ul.broken { @for limit in &broken { li { (limit) } } }
                }
            }
            @if !changed.is_empty() { (summary(&changed.iter().map(|(p, _)| *p).collect::<Vec<_>>())) }
            @if same > 0 { p { (same) " unchanged." } }
            @for article in articles { (article) }
        }
    })
}

/// Whether two cameras of one look on one display differ from before by so nearly the same that no eye tells the changes
/// apart.
fn say_the_same((a, one): (&Picture, &Comparison), (b, two): (&Picture, &Comparison)) -> bool {
    let near = |x: f64, y: f64| (x - y).abs() < SAME;
    a.look == b.look
        && a.display == b.display
        && match (headline(one), headline(two)) {
            (Some(x), Some(y)) => near(x.mean, y.mean) && near(x.max, y.max) && x.direction.words == y.direction.words,
            _ => false,
        }
}

/// Two errors that count as the same: less than what a careful eye just sees.
const SAME: f64 = 1.0;

/// A picture that is folded, under its title, the one that shows the same, and its first figures.
fn folded(picture: &Picture, like: &Picture, found: &Comparison, article: &Markup) -> Markup {
    html! {
        details {
            summary {
                (picture.title()) ", as " (like.title())
                @if let Some(g) = headline(found) {
                    ": " (found.formula) " mean " (format!("{:.2}", g.mean)) ", max " (format!("{:.2}", g.max))
                }
            }
            (article)
        }
    }
}

/// One picture: its figures, and while there is room for it, what it looks like.
fn article(
    picture: &Picture,
    found: &Comparison,
    ways: &Compared<'_>,
    frame: Option<&Frame>,
    left: &mut usize,
) -> Result<Markup, Failure> {
    let mut triples = Vec::new();
    let is_drawn = *left > 0;
    if is_drawn {
        *left -= 1;
        for scene in scenes(ways, frame)? {
            triples.push(draw(&scene, ways)?);
        }
    }
    Ok(html! {
        article {
            h3 { (picture.title()) }
            p.note {
                @if let Some(camera) = &picture.camera_terms { (camera) " → " }
                (picture.display_terms)
            }
            @if let Some(note) = &picture.note { p.note { (note) } }
            // First what an eye sees, then the figures.
            @for triple in &triples { (shown(triple)) }
            @if is_drawn { (key(found.formula, found.difference)) }
            @if let Some(grey) = grey(found) { p { "Mid-grey: " (arrows(&grey)) } }
            details open[!is_drawn] {
                summary { "Figures by group of colours" @if is_drawn { ", and the curves of greys" } }
                (groups(found))
                @if is_drawn { (chart(&curves(found).draw())) }
            }
        }
    })
}

fn summary(pictures: &[&Picture]) -> Markup {
    // A head for each unit.
    let mut heads = Vec::new();
    for picture in by_unit(pictures) {
        match heads.last_mut() {
            Some((unit, rows)) if *unit == formula(picture) => Vec::push(rows, picture),
            _ => heads.push((formula(picture), vec![picture])),
        }
    }
    html! {
        div.scroll {
            table {
                caption { (SEEN) }
                @for (unit, pictures) in heads {
                    tbody {
                        tr {
                            @for name in [unit.unwrap_or("not compared"), "mean", "95 %", "max", "mid-grey"] {
                                th scope="col" { (name) }
                            }
                        }
                        @for picture in pictures { (row(picture)) }
                    }
                }
            }
        }
    }
}

/// A picture in the summary.
fn row(picture: &Picture) -> Markup {
    let compared = picture.comparison.as_ref().and_then(|c| Some((c, headline(c)?)));
    html! {
        tr {
            th scope="row" { (picture.title()) }
            @if let Some((found, g)) = compared {
                @for figure in [g.mean, g.p95, g.max] { td { (format!("{figure:.2}")) } }
                td {
                    @if let Some(stops) = found.grey.as_ref().and_then(|g| g.stops) { (format!("{stops:+.2} stops")) }
                }
            } @else {
                td.text colspan="4" {
                    (state(picture.state))
                    @if let Some(note) = &picture.note { ": " (note) }
                }
            }
        }
    }
}

fn groups(found: &Comparison) -> Markup {
    html! {
        div.scroll {
            table.groups {
                caption { (found.formula) }
                thead {
                    tr {
                        @for name in ["group", "mean", "95 %", "max"] { th { (name) } }
                        @for name in ["direction", "place of the max"] { th.text { (name) } }
                    }
                }
                tbody {
                    @for g in &found.groups {
                        tr {
                            th scope="row" { (g.name.name()) br; small { (g.name.title()) } }
                            @for figure in [g.mean, g.p95, g.max] { td { (format!("{figure:.2}")) } }
                            td.text { (words(&g.direction)) }
                            td.text { (place(g).unwrap_or_default()) }
                        }
                    }
                }
            }
        }
    }
}

/// Old, new and their difference.
fn shown(triple: &Triple) -> Markup {
    let [width, height] = triple.size;
    html! {
        h4 { (triple.title) }
        div.triple {
            @for (image, name) in triple.images.iter().zip(["old", "new", "difference"]) {
                figure {
                    img src=(image) width=(width) height=(height) alt={ (triple.title) ": " (name) };
                    figcaption { (name) }
                }
            }
        }
        @if !triple.rows.is_empty() { p.key { "Rows from the top: " (triple.rows) "." } }
    }
}

/// What the colours of the difference maps mean.
pub(super) fn key(formula: &str, difference: &'static str) -> Markup {
    html! {
        p.key {
            (formula)
            @for (i, (value, [r, g, b])) in SCALE.iter().enumerate() {
                " "
                span {
                    i style={ "background:rgb(" (r) "," (g) "," (b) ")" } {}
                    (value * factor(difference))
                    @if i + 1 == SCALE.len() { " and more" }
                }
            }
        }
    }
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
