//! What the camera does to the picture: from files to findings, and those as text.

use super::report::{field, wrapped};
use super::{Claims, Findings, Measured, bracket};
use crate::args::Measure;
use crate::failure::Failure;
use crate::ffmpeg;
use crate::frames::{is_still, needs_file};
use rushlight::camera::Range;
use rushlight::curve;
use rushlight::frame::Frame;
use rushlight::measure::Claim;
use rushlight::measure::compare::Row;
use rushlight::processing::codec::{Codec, Reader, Source};
use rushlight::processing::edge::{self, Edge};
use rushlight::processing::report::{AtIndex, Report};
use rushlight::processing::scene;
use rushlight::processing::{Processing, words};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Frames of a clip of a scene that are read: several key frames of most codecs.
const FRAMES: usize = 100;

/// A file of one exposure index.
struct Named<'t> {
    text: &'t str,
    ei: Option<f64>,
    path: PathBuf,
}

/// [EI:]FILE.
fn named(texts: &[String]) -> Vec<Named<'_>> {
    texts
        .iter()
        .map(|text| {
            let split = text.split_once(':').and_then(|(ei, rest)| Some((ei.parse::<f64>().ok()?, rest)));
            let (ei, path) = split.map_or((None, text.as_str()), |(ei, rest)| (Some(ei), rest));
            Named { text, ei, path: PathBuf::from(path) }
        })
        .collect()
}

/// The file for an exposure index: that which names it, or one that names none where there is but one index.
fn of_index<'n, 't>(files: &'n [Named<'t>], ei: Option<f64>, several: bool) -> Option<&'n Named<'t>> {
    files.iter().find(|f| f.ei.is_some() && f.ei == ei).or_else(|| files.iter().find(|f| f.ei.is_none() && !several))
}

pub(super) fn of(args: &Measure, claims: &Claims, measured: &[Measured], rows: &[Row]) -> Result<Report, Failure> {
    let (edges, scenes) = (named(&args.edge_frame), named(&args.scene));
    let mut indices: Vec<Option<f64>> = measured.iter().map(|m| m.ei).collect();
    if measured.is_empty() {
        for file in edges.iter().chain(&scenes) {
            let ei = file.ei.or(args.ei);
            if !indices.contains(&ei) {
                indices.push(ei);
            }
        }
    }
    let several = indices.len() > 1;
    for (option, files) in [("--edge-frame", &edges), ("--scene", &scenes)] {
        for file in files {
            let known = if file.ei.is_some() { indices.contains(&file.ei) } else { !several };
            if !known {
                let all: Vec<String> = indices.iter().flatten().map(f64::to_string).collect();
                let why = format!("say its exposure index as EI:FILE, one of {}", all.join(", "));
                return Err(Failure::new(format!("{option}: `{}`: {why}", file.text)));
            }
        }
    }
    let mut found = Report::default();
    for ei in indices {
        let own = measured.iter().find(|m| m.ei == ei);
        let mut notes = Vec::new();
        let noise = own.map(|m| m.noise.clone());
        let edge = of_index(&edges, ei, several)
            .map(|file| {
                let claim = match own {
                    Some(m) => m.measurement.used.claim().clone(),
                    None => claims.at(ei)?.unwrap_or_else(|| linear(&mut notes)),
                };
                measured_edge(args, &file.path, &claim)
            })
            .transpose()?;
        let codec = match (of_index(&scenes, ei, several), own) {
            (Some(file), _) => Some(of_file(args, &file.path)?),
            (None, Some(m)) => Some(of_patch(m)?),
            (None, None) => None,
        };
        found.indices.push(AtIndex::new(ei, Processing { noise, edge, codec }, notes));
    }
    let known: Vec<_> = measured.iter().filter_map(|m| Some((m.ei?, &m.measurement))).collect();
    found.compare(&known, rows);
    Ok(found)
}

/// Signal is taken for light where no curve is known.
fn linear(notes: &mut Vec<String>) -> Claim {
    notes.push(
        "no curve is known, so the signal is taken for light: with a log curve MTF50 is wrong, give --curve".to_owned(),
    );
    Claim { name: "linear".to_owned(), curve: curve::LINEAR.curve(), range: Range::Full }
}

fn measured_edge(args: &Measure, path: &Path, claim: &Claim) -> Result<Edge, Failure> {
    let frame = bracket::frames(path, args, 1)?.remove(0);
    let found = match &args.edge {
        Some(text) => {
            let place = bracket::given("--edge", text, [frame.width(), frame.height()])?;
            edge::measure(&frame, &place, claim)
        }
        None => edge::find(&frame, claim),
    };
    found.map_err(|e| Failure::new(format!("{}: {e}: choose the place with --edge X,Y,W,H", path.display())))
}

/// A still, or the first frames of a clip.
fn of_file(args: &Measure, path: &Path) -> Result<Codec, Failure> {
    if is_still(path) {
        let frame = bracket::frames(path, args, 1)?.remove(0);
        return Ok(rushlight::processing::codec::codec(std::slice::from_ref(&frame), Source::of(&frame.info)));
    }
    needs_file(path)?;
    let mut reader: Option<Reader> = None;
    ffmpeg::each(path, FRAMES, args.memory.limits(), |planes, frame| {
        let source = Source { coding: planes.coding, bits: Some(planes.bits) };
        reader.get_or_insert_with(|| Reader::new(source)).add(frame);
    })?;
    reader.map(Reader::finish).ok_or_else(|| Failure::new(format!("cannot read {}: it has no frames", path.display())))
}

/// The patch of the exposure nearest mid-grey.
fn of_patch(measured: &Measured) -> Result<Codec, Failure> {
    let shots = &measured.bracket.shots;
    let nearest = shots.iter().min_by(|a, b| a.stops.abs().total_cmp(&b.stops.abs()));
    let nearest = nearest.ok_or_else(|| Failure::new("no frames"))?;
    let path = Path::new(&nearest.name);
    let mut source = Source::of(&nearest.patches[0].info);
    if !is_still(path) {
        let planes = ffmpeg::planes(path)?;
        source = Source { coding: planes.coding, bits: Some(planes.bits) };
    }
    Ok(rushlight::processing::codec::codec(&nearest.patches, source))
}

/// Two frames of one scene.
pub(super) fn of_modes(frames: &[Frame; 2], width: f64) -> Report {
    let sources = frames.each_ref().map(|f| Source::of(&f.info));
    let difference = scene::difference(&frames[0], &frames[1], sources, width);
    let difference_in_words = words::of_scene(&difference);
    Report { difference: Some(difference), difference_in_words, ..Report::default() }
}

/// The parts of the report on it: of a bracket alone none, which has its own words on noise.
pub(super) fn text(findings: &Findings) -> Vec<String> {
    let found = &findings.processing;
    let mut parts = Vec::new();
    for at in found.indices.iter().filter(|_| findings.asked) {
        let ei = at.ei.map_or(String::new(), |ei| format!(", EI {ei}"));
        let mut text = format!("what the camera does to the picture{ei}\n");
        let Processing { noise, edge, codec } = &at.found;
        let parts_here = [
            ("noise", noise.as_ref().map(words::of_noise)),
            ("edge", edge.as_ref().map(edge_words)),
            ("codec", codec.as_ref().map(words::of_codec)),
            ("note", Some(at.notes.clone())),
        ];
        for (name, sentences) in parts_here {
            for (i, sentence) in sentences.unwrap_or_default().iter().enumerate() {
                field(&mut text, if i == 0 { name } else { "" }, sentence);
            }
        }
        parts.push(text);
    }
    if let Some(said) = sharpness(found).filter(|_| found.choices.is_empty()) {
        parts.push(said);
    }
    if !found.choices.is_empty() {
        parts.push(table(&found.choices));
        parts.push(found.choices_in_words.iter().map(|s| wrapped(s)).collect());
    }
    if !found.difference_in_words.is_empty() {
        let mut text = "what the second mode does to detail and colour\n".to_owned();
        found.difference_in_words.iter().for_each(|s| field(&mut text, "", s));
        parts.push(text);
    }
    parts
}

/// Each exposure index against the first in sharpness, a sentence each; none where there are no two.
fn sharpness(found: &Report) -> Option<String> {
    let edge = |at: &AtIndex| Some((at.ei?, at.found.edge.as_ref()?.green().mtf50?));
    let all: Vec<(f64, f64)> = found.indices.iter().filter_map(edge).collect();
    let ((first, than), others) = all.split_first().filter(|(_, others)| !others.is_empty())?;
    let one =
        |(ei, this): &(f64, f64)| wrapped(&format!("EI {ei} against EI {first}: {}", words::sharper(*this, *than)));
    Some(others.iter().map(one).collect())
}

fn edge_words(edge: &Edge) -> Vec<String> {
    let [x, y, w, h] = edge.place;
    let mut said = words::of_edge(edge);
    said.push(format!("at {x},{y},{w},{h}, slanted by {:.1} degrees", edge.slant_degrees));
    said
}

fn table(choices: &[words::Choice]) -> String {
    let mut text = format!("{:<26}", "at one final brightness");
    choices.iter().for_each(|c| {
        let _ = write!(text, "{:>13}", c.name());
    });
    text.push('\n');
    type Of = fn(&words::Choice) -> Option<f64>;
    let rows: [(&str, Of, usize); 8] = [
        ("stops over mid-grey", |c| Some(c.stops_over), 2),
        ("stops under, as seen", |c| c.stops_under, 2),
        ("stops under, white noise", |c| c.stops_under_white, 2),
        ("noise as seen, %", |c| c.noise_percent, 2),
        ("noise if white, %", |c| c.noise_white_percent, 2),
        ("smoothed over, pixels", |c| c.smoothed_pixels, 1),
        ("MTF50, cycles per pixel", |c| c.mtf50, 3),
        ("steps at blocks, times", |c| c.block_steps, 2),
    ];
    let smoothed = choices.iter().any(|c| c.is_smoothed);
    for (name, of, decimals) in rows {
        // What is as white as it is seen has one figure.
        let is_white = name.contains("white");
        if choices.iter().all(|c| of(c).is_none()) || (is_white && !smoothed) {
            continue;
        }
        let name = if smoothed { name } else { name.trim_end_matches(", as seen").trim_end_matches(" as seen, %") };
        let _ = write!(text, "  {name:<24}");
        for choice in choices {
            let _ = write!(text, "{:>13}", of(choice).map_or("-".to_owned(), |v| format!("{v:.decimals$}")));
        }
        text.push('\n');
    }
    text
}
