//! The report as one HTML page that asks nothing of any other place: document, figures, pictures and curves.

use super::pictures::{SCALE, Triple, draw, factor, scenes};
use super::text::{SEEN, broken, by_unit, formula, grey, headline, place, shift, state, words};
use crate::drawing::chart::{Axis, Chart, Guide, Mark, Panel, Series};
use crate::drawing::theme;
use crate::failure::Failure;
use crate::page::{Page, chart};
use maud::{Markup, html};
use rushlight::compare::Comparison;
use rushlight::compare::report::{Item, Picture, Report, State, Verdict};
use rushlight::diff::Compared;
use rushlight::frame::Frame;
use std::collections::BTreeMap;

/// Pictures that are drawn; the others have their line in the table.
const DRAWN: usize = 4;

pub(super) const STYLE: &str = include_str!("diff.css");

/// How a verdict is coloured.
pub(super) const fn class(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Identical | Verdict::Alike | Verdict::Within => "good",
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
    let is_alone = matches!(&report.items[..], [one] if one.state == State::Changed);
    let items = report.items.iter().zip(compared).map(|(shown, ways)| item(shown, is_alone, ways, frame, &mut left));
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

/// A changed picture with its differences.
#[derive(Clone, Copy)]
struct Changed<'r, 'c> {
    picture: &'r Picture,
    found: &'r Comparison,
    compared: &'r Compared<'c>,
}

impl Changed<'_, '_> {
    fn mean(&self) -> f64 {
        headline(self.found).map_or(0.0, |g| g.mean)
    }

    /// Whether two cameras of one look on one display differ from before by so nearly the same that no eye tells the changes
    /// apart.
    fn shows_the_same_as(&self, other: &Self) -> bool {
        let near = |x: f64, y: f64| (x - y).abs() < SAME;
        self.picture.look == other.picture.look
            && self.picture.display == other.picture.display
            && match (headline(self.found), headline(other.found)) {
                (Some(x), Some(y)) => {
                    near(x.mean, y.mean) && near(x.max, y.max) && x.direction.words == y.direction.words
                }
                _ => false,
            }
    }
}

/// Two errors that count as the same: less than what a careful eye just sees.
const SAME: f64 = 1.0;

/// The changed pictures of each unit: first the one to show, then the others in order.
fn units<'r, 'c>(item: &'r Item, ways: &'r [Option<Compared<'c>>]) -> Vec<Vec<Changed<'r, 'c>>> {
    let mut units: BTreeMap<&str, Vec<Changed<'r, 'c>>> = BTreeMap::new();
    for (picture, compared) in item.pictures.iter().zip(ways).filter(|(p, _)| p.state != State::Identical) {
        if let (Some(found), Some(compared)) = (&picture.comparison, compared) {
            units.entry(found.formula).or_default().push(Changed { picture, found, compared });
        }
    }
    let mut units: Vec<_> = units.into_values().collect();
    for unit in &mut units {
        // The most changed one comes first, or the first camera that shows the same as it.
        let most = unit.iter().copied().max_by(|a, b| a.mean().total_cmp(&b.mean()));
        let first = most.and_then(|most| unit.iter().position(|one| one.shows_the_same_as(&most)));
        unit[..=first.unwrap_or(0)].rotate_right(1);
    }
    units
}

fn item(
    item: &Item,
    is_alone: bool,
    ways: &[Option<Compared<'_>>],
    frame: Option<&Frame>,
    left: &mut usize,
) -> Result<Markup, Failure> {
    let broken = broken(item);
    let changed: Vec<&Picture> = item.pictures.iter().filter(|p| p.state != State::Identical).collect();
    let same = item.pictures.len() - changed.len();
    // One picture of each unit is open. The number of drawn ones is bounded, so these are drawn before the folded ones.
    let units = units(item, ways);
    let mut open = Vec::new();
    for first in units.iter().filter_map(|unit| unit.first()) {
        open.push(article(*first, frame, left)?);
    }
    let mut folds = Vec::new();
    for (first, rest) in units.iter().filter_map(|unit| unit.split_first()) {
        let shown = rest.iter().map(|one| Ok(folded(*one, *first, &article(*one, frame, left)?)));
        folds.push(shown.collect::<Result<Vec<_>, Failure>>()?);
    }
    Ok(html! {
        section {
            // The only item is named in the head of the page.
            @if !is_alone { h2 { (item.name) " " small { (state(item.state)) } } }
            @for note in &item.notes { p.note { (note) } }
            div.overview {
                div {
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
                }
                @if !changed.is_empty() { (summary(&changed)) }
            }
            @if same > 0 { p { (same) " unchanged." } }
            div.open.many[open.len() > 1] {
                @for (shown, folds) in open.iter().zip(&folds) {
                    div {
                        (shown)
                        @for fold in folds { (fold) }
                    }
                }
            }
        }
    })
}

/// A picture that is folded, under its title and its first figures, and whether it shows the same as the open one.
fn folded(one: Changed<'_, '_>, open: Changed<'_, '_>, article: &Markup) -> Markup {
    html! {
        details.fold {
            summary {
                (one.picture.title())
                @if one.shows_the_same_as(&open) { ": looks the same as " (open.picture.title()) }
                @if let Some(g) = headline(one.found) {
                    ": " (one.found.formula) " mean " (format!("{:.2}", g.mean)) ", max " (format!("{:.2}", g.max))
                }
            }
            (article)
        }
    }
}

/// One picture: its verdict in a line, and while there is room for it, what it looks like. Figures, and pictures beyond the
/// first, are folded.
fn article(one: Changed<'_, '_>, frame: Option<&Frame>, left: &mut usize) -> Result<Markup, Failure> {
    let Changed { picture, found, compared } = one;
    let mut triples = Vec::new();
    let is_drawn = *left > 0;
    if is_drawn {
        *left -= 1;
        for scene in scenes(compared, frame)? {
            triples.push(draw(&scene, compared)?);
        }
    }
    let (first, more) = triples.split_first().map_or((None, &[][..]), |(first, more)| (Some(first), more));
    let folded = match (is_drawn, more.is_empty()) {
        (false, _) => "Figures by group of colours",
        (true, true) => "Figures by group of colours, and the curves of greys",
        (true, false) => "Chart of colours, figures by group of colours, and the curves of greys",
    };
    Ok(html! {
        article {
            h3 {
                (picture.title())
                @if let Some(g) = headline(found) {
                    " " small {
                        (found.formula) " mean " (format!("{:.2}", g.mean)) ", max " (format!("{:.2}", g.max))
                        @if !g.direction.words.is_empty() { ": " b { (words(&g.direction)) } }
                    }
                }
            }
            @if let Some(note) = &picture.note { p.note { (note) } }
            @let under = html! {
                div.under {
                    @if let Some(grey) = grey(found) { p { "Mid-grey: " (arrows(&grey)) } }
                    @if is_drawn { (key(found.formula, found.difference)) }
                }
            };
            @if let Some(first) = first { (shown(first, &under)) } @else { (under) }
            details open[!is_drawn] {
                summary { (folded) }
                p.note {
                    @if let Some(camera) = &picture.camera_terms { (camera) " → " }
                    (picture.display_terms)
                }
                @for triple in more { h4 { (triple.title) } (shown(triple, &Markup::default())) }
                (groups(found))
                @if is_drawn { (chart(&curves(found).draw())) }
            }
        }
    })
}

/// A table for each unit, side by side.
fn summary(pictures: &[&Picture]) -> Markup {
    let mut heads = Vec::new();
    for picture in by_unit(pictures) {
        match heads.last_mut() {
            Some((unit, rows)) if *unit == formula(picture) => Vec::push(rows, picture),
            _ => heads.push((formula(picture), vec![picture])),
        }
    }
    html! {
        div {
            p.note { (SEEN) }
            div.units {
                @for (unit, pictures) in heads {
                    div.scroll {
                        table {
                            thead {
                                tr {
                                    @for name in [unit.unwrap_or("not compared"), "mean", "95 %", "max", "mid-grey, stops"] {
                                        th scope="col" { (name) }
                                    }
                                }
                            }
                            tbody { @for picture in pictures { (row(picture)) } }
                        }
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
                    @if let Some(stops) = found.grey.as_ref().and_then(|g| g.stops) { (shift(stops)) }
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

/// Old, new and their difference, and what belongs under them.
fn shown(triple: &Triple, under: &Markup) -> Markup {
    let [width, height] = triple.size;
    html! {
        div.triple {
            @for (image, name) in triple.images.iter().zip(["old", "new", "difference"]) {
                figure {
                    img src=(image) width=(width) height=(height) alt={ (triple.title) ": " (name) };
                    figcaption { (name) }
                }
            }
            (under)
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
