//! Lights over exposure, as strips with a verdict each, and as fields along the spectrum.

use super::html::{Group, and};
use super::text::{flat, outside, spectrum, turns};
use crate::failure::Failure;
use crate::picture::{Screen, data_uri};
use maud::{Markup, html};
use rushlight::difference::Difference;
use rushlight::frame::Format;
use rushlight::stress::{CaseReport, LightOutcome, LightRow, SWEEP};

/// Degrees of hue from which a turn is named beside a strip: a third of what a figure still holds.
const TURNS: f64 = 7.5;

/// The largest difference of two strips that count as the same picture: what a careful eye just sees side by side.
const SAME: f64 = 1.0;

/// The lights of a look, each over exposure with a verdict: once for all cameras that show the same.
pub(super) fn strips(group: &Group<'_>, difference: &Difference, screen: &Screen<'_>) -> Result<Markup, Failure> {
    let lights = group.cases.first().map(|case| case.lights.len()).unwrap_or(0);
    let mut rows = Vec::new();
    for i in 0..lights {
        let alike = alike(group, i, difference);
        for (k, cases) in alike.iter().enumerate() {
            let (Some(case), true) = (cases.first(), cases.iter().all(|case| i < case.lights.len())) else { continue };
            let light = &case.lights[i];
            let mut pictures = vec![strip(screen, light, &light.name)?];
            if let Some(other) = tried(case, &light.name) {
                pictures.push(strip(screen, other, &format!("{}, with the step tried", light.name))?);
            }
            let cameras: Vec<&str> = cases.iter().map(|case| case.camera.as_str()).collect();
            let of = if alike.len() > 1 { format!(" {}", and(&cameras)) } else { String::new() };
            let verdict = verdict(&light.kept);
            rows.push(html! {
                tr.more[k > 0] {
                    th { @if k == 0 { (light.name) } @if !of.is_empty() { " " small { (of) } } }
                    td { @for picture in pictures { (picture) } }
                    td { (verdict) }
                }
            });
        }
    }
    Ok(html! {
        table.lights { @for row in rows { (row) } }
        @if group.cases.len() > 1 {
            p.note { "A strip without a camera's name is that of all: none of them differs by more than the eye just sees." }
        }
    })
}

fn tried<'c>(case: &'c CaseReport, name: &str) -> Option<&'c LightRow> {
    case.tried_lights.iter().find(|light| light.name == name)
}

/// The cases of a group by what they show of light `i`.
fn alike<'r>(group: &Group<'r>, i: usize, difference: &Difference) -> Vec<Vec<&'r CaseReport>> {
    let mut alike: Vec<Vec<&CaseReport>> = Vec::new();
    for case in &group.cases {
        let same = |cases: &&mut Vec<&CaseReport>| {
            cases.first().is_some_and(|first| match (first.lights.get(i), case.lights.get(i)) {
                (Some(one), Some(two)) => {
                    same(one, two, difference)
                        && match (tried(first, &one.name), tried(case, &two.name)) {
                            (Some(one), Some(two)) => same(one, two, difference),
                            (one, two) => one.is_none() && two.is_none(),
                        }
                }
                _ => false,
            })
        };
        match alike.iter_mut().find(same) {
            Some(cases) => cases.push(case),
            None => alike.push(vec![case]),
        }
    }
    alike
}

/// Whether two strips have one verdict and colours that an eye does not tell apart.
fn same(one: &LightRow, two: &LightRow, difference: &Difference) -> bool {
    let far = |(a, b): (&[f64; 3], &[f64; 3])| difference.between(difference.place(*a), difference.place(*b)) > SAME;
    let strips = (&one.kept.strip, &two.kept.strip);
    verdict(&one.kept) == verdict(&two.kept)
        && strips.0.len() == strips.1.len()
        && !strips.0.iter().zip(strips.1).any(far)
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
    if all.is_empty() { "keeps its hue, never a flat patch".to_owned() } else { all.join("; ") }
}

/// What was measured of each light.
pub(super) fn figures_of_lights(case: &CaseReport) -> Markup {
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
pub(super) fn spectra(case: &CaseReport, screen: &Screen<'_>) -> Result<Markup, Failure> {
    let mut fields = Vec::new();
    for (width, name) in [(0.0, "Lights of one wavelength"), (40.0, "Bands of 40 nm")] {
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
