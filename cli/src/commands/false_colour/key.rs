//! The key of an exposure cube: what each of its colours means.

use crate::drawing::{Anchor, Canvas, Drawing, Paint, Text, Unit, theme};
use rushlight::exposure::{Basis, ExposureCube, Fill, Job, Kind, Zone, palette, signed};

const WIDTH: f64 = 640.0;
const MARGIN: f64 = 24.0;
/// Height of a zone.
const ROW: f64 = 34.0;
/// The swatch's width, and where the words begin.
const SWATCH: f64 = 96.0;
const HEAD: f64 = 96.0;
/// Room around the words under the zones.
const FOOT: f64 = 38.0;
/// Where the words begin that say what a zone means.
const MEANS: f64 = 402.0;
const LINE: f64 = 18.0;
/// Shades of a swatch that stands for the grey picture.
const SHADES: usize = 24;
const WARNING: Text<'static> = Text { size: 13.0, bold: true, colour: theme::WARNING, ..Text::PLAIN };

/// The key of a cube, the lightest zone on top.
pub(super) fn key(job: &Job<'_>, made: &ExposureCube) -> Drawing {
    let zones: Vec<&Zone> = made.zones.list.iter().chain(&made.zones.clip).collect();
    let warnings = super::findings::unrated(made).into_iter().chain(super::findings::for_the_key(made));
    let warning: Vec<String> =
        warnings.flat_map(|said| WARNING.wrap(&format!("Warning: {said}."), WIDTH - 2.0 * MARGIN)).collect();
    let said = said(made);
    let height = HEAD + ROW * zones.len() as f64 + FOOT + LINE * (warning.len() + said.len()) as f64;
    let mut canvas = Canvas::new(&format!("Key of {}", job.file_name()), WIDTH, height, Unit::Px);
    head(&mut canvas, job);
    let camera = job.camera.item();
    for (i, zone) in zones.iter().enumerate().rev() {
        let y = HEAD + ROW * (zones.len() - 1 - i) as f64;
        swatch(&mut canvas, made, &zones, i, y);
        let middle = y + ROW / 2.0 + 5.0;
        let x = MARGIN + SWATCH + 20.0;
        canvas.text([x, middle], &title(&zone.name), &Text { size: 15.0, bold: true, ..Text::PLAIN });
        canvas.text([x + 148.0, middle], &span(&zones, i), &Text { size: 13.0, ..Text::PLAIN });
        canvas.text([MEANS, middle], meaning(&zone.name), &Text { size: 13.0, ..Text::PLAIN });
        if let Some(from) = zone.from {
            let signal = made.signal_at(camera, from);
            let said = format!("{:.0} / {:.1} %", camera.range().code(signal, 10), 100.0 * signal);
            let set = Text { size: 13.0, colour: theme::QUIET, anchor: Anchor::End, ..Text::PLAIN };
            canvas.text([WIDTH - MARGIN, middle], &said, &set);
        }
    }
    foot(&mut canvas, &said, &warning, height);
    canvas.finish()
}

fn head(canvas: &mut Canvas, job: &Job<'_>) {
    let camera = job.camera.entry;
    let ei = job.ei.map(|ei| format!(", EI {ei}")).unwrap_or_default();
    let label = if camera.label == job.camera.name { format!("camera {}", camera.label) } else { camera.label.clone() };
    let [low, high] = job.options.zones.window.map(|stops| signed(stops).replace('-', "\u{2212}"));
    let first = match job.options.zones.kind {
        Kind::Ladder => "Exposure: a colour for every stop".to_owned(),
        Kind::Key => "Exposure: mid-grey and one stop over it".to_owned(),
        Kind::Clip => "Exposure: near the clip and near the floor".to_owned(),
        Kind::Range => format!("Exposure: below {low} and above {high} stops"),
    };
    canvas.text([MARGIN, 34.0], &first, &theme::HEADING);
    let of = format!("{}: {label}{ei}", job.show.title());
    canvas.text([MARGIN, 55.0], &theme::BODY.cut(&of, WIDTH - 2.0 * MARGIN), &theme::BODY);
    let reads = match job.options.basis {
        Basis::Luminance => "exposure from luminance by the camera's primaries",
        Basis::Highest => "exposure from the highest channel",
    };
    canvas.text(
        [MARGIN, 73.0],
        &theme::LABEL.cut(&format!("{}; {reads}", camera.id), WIDTH - 2.0 * MARGIN),
        &theme::LABEL,
    );
    let y = HEAD - 6.0;
    canvas.text([MARGIN + SWATCH + 168.0, y], "stops from mid-grey", &theme::LABEL);
    canvas.text([WIDTH - MARGIN, y], "from 10-bit code, % of full range", &theme::LABEL.anchor(Anchor::End));
}

/// What a zone means for who pulls focus or sets the stop. Skin a stop over mid-grey: common practice, no source.
fn meaning(zone: &str) -> &'static str {
    match zone {
        "clip" => "a channel clips",
        "near the clip" => "close the iris soon",
        "+1" => "skin in key light",
        "mid-grey" => "18 % grey card",
        "near the floor" => "almost only noise",
        "floor" => "noise, no detail",
        _ => "",
    }
}

fn title(name: &str) -> String {
    let mut letters = name.chars();
    let name: String = letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default();
    // Signs of numbers, as long as the plus; the hyphen of a word stays.
    if name.starts_with('-') { name.replace('-', "\u{2212}") } else { name }
}

/// The stops of a zone in words.
fn span(zones: &[&Zone], i: usize) -> String {
    let (zone, next) = (zones[i], zones.get(i + 1).and_then(|next| next.from));
    let signed = |stops: f64| signed(stops).replace('-', "\u{2212}");
    match (zone.from, next) {
        (None, Some(next)) => format!("below {}", signed(next)),
        (Some(from), Some(next)) => format!("{} to {}", signed(from), signed(next)),
        (Some(from), None) => format!("from {}", signed(from)),
        (None, None) => String::new(),
    }
}

fn swatch(canvas: &mut Canvas, made: &ExposureCube, zones: &[&Zone], i: usize, y: f64) {
    let edge = Paint::stroke(theme::FRAME, 0.75);
    match zones[i].fill {
        Fill::Colour(rgb) => canvas.rect([MARGIN, y], [SWATCH, ROW], &Paint::fill(&palette::srgb(rgb))),
        Fill::Picture => {
            let (floor, clip) = (made.ends.floor.0.stops, made.ends.clip.0.stops);
            let from = zones[i].from.unwrap_or(floor);
            let to = zones.get(i + 1).and_then(|next| next.from).unwrap_or(clip);
            for shade in 0..SHADES {
                let share = (shade as f64 + 0.5) / SHADES as f64;
                let grey = palette::picture(from + (to - from) * share, floor, clip);
                let width = SWATCH / SHADES as f64;
                // A little wider, so that no seam shows.
                let wide = if shade + 1 < SHADES { width + 0.5 } else { width };
                canvas.rect([MARGIN + width * shade as f64, y], [wide, ROW], &Paint::fill(&palette::srgb(grey)));
            }
        }
    }
    canvas.rect([MARGIN, y], [SWATCH, ROW], &edge);
}

/// How right the cube is, and what it is for.
fn said(made: &ExposureCube) -> Vec<String> {
    let error = made.edges.neutrals[0];
    let mut said = vec![format!(
        "Edges of the zones on greys: right within {:.2} stops, {:.2} in the mean.",
        error.max, error.mean
    )];
    if let Some([tetrahedral, trilinear]) = made.edges.clip {
        said.push(format!("The mark of the clip begins up to {:.2} stops before it.", -tetrahedral.min(trilinear)));
    }
    said.push("For this camera, this EI and this range alone. Not a light meter:".to_owned());
    said.push("test it on your camera and your monitor first.".to_owned());
    said
}

fn foot(canvas: &mut Canvas, said: &[String], warning: &[String], height: f64) {
    let top = height - FOOT - LINE * (warning.len() + said.len()) as f64 + 28.0;
    for (i, line) in warning.iter().enumerate() {
        canvas.text([MARGIN, top + LINE * i as f64], line, &WARNING);
    }
    let top = top + LINE * warning.len() as f64;
    for (i, line) in said.iter().enumerate() {
        canvas.text([MARGIN, top + LINE * i as f64], line, &theme::LABEL);
    }
}
