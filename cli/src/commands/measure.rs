//! `measure`

mod bracket;
mod chart;
mod colour;
mod json;
mod picture;
mod processing;
mod processing_chart;
mod rate;
mod report;
mod white;

use crate::args::Measure;
use crate::commands::claims::Claims;
use crate::commands::show_edit::checked_day;
use crate::disk::{check, write};
use crate::drawing::{Drawing, Format};
use crate::failure::Failure;
use crate::output;
use bracket::Bracket;
use rushlight::measure::compare::{Exposure, Row, compare};
use rushlight::measure::faults;
use rushlight::measure::modes::{self, Pairs};
use rushlight::measure::report::ColourFound;
use rushlight::measure::{Measurement, Settings, curve, measure};
use rushlight::processing::noise::{Noise, noise};
use rushlight::processing::report::Report;
use std::path::{Path, PathBuf};

/// Zones of the final picture that exposure indices are compared at, in stops from its mid-grey.
const ZONES: [f64; 11] = [-6.0, -5.0, -4.0, -3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0, 4.0];

/// One bracket, measured.
pub(crate) struct Measured {
    pub(crate) ei: Option<f64>,
    pub(crate) bracket: Bracket,
    pub(crate) measurement: Measurement,
    /// The analysis of its noise: how far it is smoothed.
    pub(crate) noise: Noise,
}

/// All that a run finds.
pub(crate) struct Findings {
    pub(crate) measured: Vec<Measured>,
    pub(crate) compared: Vec<Row>,
    /// The same with white noise of the same low-frequency power.
    pub(crate) compared_white: Vec<Row>,
    /// Two modes, red, green and blue.
    pub(crate) modes: Option<[Pairs; 3]>,
    /// Colours of two modes.
    pub(crate) colour: Option<ColourFound>,
    /// What the camera does to the picture.
    pub(crate) processing: Report,
    /// Frames were given for it, or ways to expose: the report has a part on it.
    pub(crate) asked: bool,
    pub(crate) snr: f64,
}

/// Whose measurement a drawing shows, and of which day.
pub(crate) struct Title<'a> {
    pub(crate) camera: Option<&'a str>,
    pub(crate) date: Option<&'a str>,
}

impl Title<'_> {
    /// The camera by its name, with the exposure indices and the day where they are known.
    fn of(&self, eis: &[f64]) -> String {
        let camera = self.camera.map_or("the camera".to_owned(), |name| format!("camera {name}"));
        let eis: Vec<String> = eis.iter().map(f64::to_string).collect();
        let eis = (!eis.is_empty()).then(|| format!("EI {}", eis.join(", ")));
        [Some(camera), eis, self.date.map(str::to_owned)].into_iter().flatten().collect::<Vec<_>>().join(", ")
    }
}

pub(crate) fn run(args: &Measure) -> Result<(), Failure> {
    checked_day(args.date.as_deref())?;
    if args.date.is_some() && !args.write && args.plot.is_none() && args.picture.is_none() {
        return Err(Failure::new("--date is written nowhere: give --write, --plot or --picture"));
    }
    if let Some(frame) = &args.white {
        return white::run(args, frame);
    }
    if !(args.snr > 0.0 && args.snr.is_finite()) {
        return Err(Failure::new(format!("--snr: {} is out of range: it must be above 0", args.snr)));
    }
    if !(args.card > 0.0 && args.card <= 1.0) {
        return Err(Failure::new(format!("--card: {} is out of range: it must lie between 0 and 1", args.card)));
    }
    let format = |path: &Option<PathBuf>| -> Result<Option<(PathBuf, Format)>, Failure> {
        path.as_ref().map(|path| Format::of(path).map(|format| (path.clone(), format))).transpose()
    };
    let (plot, picture) = (format(&args.plot)?, format(&args.picture)?);
    let camera = args.show.as_deref().zip(args.camera.as_deref());
    let claims = Claims::new(camera, args.curve.as_deref(), args.range)?;
    // Two frames of one scene say what a mode does, without a bracket.
    let single = args.frames.len() == 1 && args.against.len() == 1 && args.stops.is_none() && args.exif_from.is_none();
    if single {
        for (option, given) in [
            ("--plot", args.plot.is_some()),
            ("--picture", args.picture.is_some()),
            ("--fit", args.fit.is_some()),
            ("--write", args.write),
        ] {
            if given {
                return Err(Failure::new(format!("{option} needs a bracket: give --stops")));
            }
        }
        let (frames, modes) = bracket::two_frames(args)?;
        let processing = processing::of_modes(&frames, modes::width(&modes));
        let colour = colour::of(args, &claims, &[], None)?;
        let (measured, compared, compared_white) = (Vec::new(), Vec::new(), Vec::new());
        let findings = Findings {
            measured,
            compared,
            compared_white,
            modes: Some(modes),
            colour,
            processing,
            asked: true,
            snr: args.snr,
        };
        return if args.json {
            output::print_json(&json::document(&findings))
        } else {
            output::print(&report::text(&findings))
        };
    }
    let is_bracket = args.stops.is_some() || args.exif_from.is_some();
    if let (false, false, [extra, ..]) = (args.chart.is_empty(), is_bracket, &args.frames[..]) {
        return Err(Failure::new(format!(
            "--chart takes two frames, this mode's and the other mode's: {} is one too many (the frames of a bracket need --stops, --list or --exif-from)",
            extra.display()
        )));
    }
    let settings = |bracket: &Bracket| -> Result<Settings, Failure> {
        Ok(Settings { claim: claims.at(bracket.ei)?, ratio: args.snr, witness: bracket.witness() })
    };
    let bare = args.frames.is_empty() && args.list.is_none();
    if bare && (args.write || args.fit.is_some() || !args.against.is_empty()) {
        return Err(Failure::new(
            "--write, --fit and --against need a bracket: give its frames with --stops, or --list",
        ));
    }
    let read = if bare { Vec::new() } else { bracket::read(args, &|ei| claims.at(ei))? };
    let measured = read
        .into_iter()
        .map(|bracket| {
            let mut measurement =
                measure(&bracket.shots, &settings(&bracket)?).map_err(|e| Failure::new(e.to_string()))?;
            measurement.remarks.extend(faults::words(&bracket.moved, &[], &[], None));
            measurement.remarks.extend(claims.remark(bracket.ei));
            let noise = noise(&bracket.shots, &measurement, args.snr);
            Ok(Measured { ei: bracket.ei, bracket, measurement, noise })
        })
        .collect::<Result<Vec<Measured>, Failure>>()?;
    let [compared, compared_white] = compared(args, &measured)?;
    let (modes, second) = match (&args.against[..], &measured[..]) {
        ([], _) | (_, []) => (None, None),
        (_, [first, ..]) => {
            let other = bracket::against(args, &first.bracket)?;
            let second =
                measure(&other.shots, &settings(&other)?).map_err(|e| Failure::new(format!("--against: {e}")))?;
            let modes = modes::brackets(&first.measurement, &second).map_err(|e| Failure::new(e.to_string()))?;
            (Some(modes), Some(second))
        }
    };
    let colour = colour::of(args, &claims, &measured, second.as_ref())?;
    let processing = processing::of(args, &claims, &measured, &compared)?;
    let asked = !args.edge_frame.is_empty() || !args.scene.is_empty() || !compared.is_empty();
    let findings = Findings { measured, compared, compared_white, modes, colour, processing, asked, snr: args.snr };

    // Everything is made before anything is written.
    let rated = if args.write { Some(rate::edited(args, &findings.measured)?) } else { None };
    let fitted = args.fit.as_deref().map(|path| fitted(path, &findings)).transpose()?;
    let title = Title { camera: args.camera.as_deref(), date: args.date.as_deref() };
    let mut files: Vec<(&str, PathBuf, Vec<u8>)> = Vec::new();
    files.extend(fitted.map(|(path, text)| ("curve", path, text.into_bytes())));
    if let Some((path, format)) = plot {
        let drawn = chart::chart(&findings, &title).draw();
        files.push(("plot", path, drawn.bytes(format, Drawing::DPI)?));
    }
    if let Some((path, format)) = picture {
        files.push(("picture", path, picture::picture(&findings, &title).draw().bytes(format, Drawing::DPI)?));
    }
    files.iter().try_for_each(|(_, path, _)| check(path))?;
    if let Some(rated) = &rated {
        rated.show.write()?;
    }
    let mut written = String::new();
    for (what, path, bytes) in &files {
        write(path, bytes)?;
        written += &format!("{what} written to {}\n", path.display());
    }
    if args.json {
        return output::print_json(&json::document(&findings));
    }
    let mut text = report::text(&findings);
    if let Some(rated) = rated {
        written += &format!("ratings written to {}\n", rated.show.path.display());
        rated.changes.iter().for_each(|change| written += &format!("  {change}\n"));
    }
    if !written.is_empty() {
        text += &format!("\n{written}");
    }
    output::print(&text)
}

/// The ways to expose, as seen and with white noise.
fn compared(args: &Measure, measured: &[Measured]) -> Result<[Vec<Row>; 2], Failure> {
    let (mut ways, mut white) = (Vec::new(), Vec::new());
    for text in &args.compare {
        let wrong = |why: String| Failure::new(format!("--compare: `{text}`: {why}"));
        let (ei, over) = text.split_once(':').unwrap_or((text, "0"));
        let number = |text: &str| text.parse::<f64>().ok().filter(|v| v.is_finite());
        let (Some(ei), Some(over)) = (number(ei), number(over)) else {
            return Err(wrong("it must be an EI, or EI:OVER, such as 1600:+2".to_owned()));
        };
        let found = measured.iter().find(|m| m.ei == Some(ei)).ok_or_else(|| {
            let eis: Vec<String> = measured.iter().filter_map(|m| m.ei).map(|ei| ei.to_string()).collect();
            wrong(if eis.is_empty() {
                "the frames have no EI to compare by: name them in a --list with a column ei".to_owned()
            } else {
                format!("the list has no frames at that EI: it has EI {}", eis.join(", "))
            })
        })?;
        ways.push(Exposure { ei, measured: &found.measurement, over });
        let unsmoothed = found.noise.unsmoothed.as_ref().map_or(&found.measurement, |u| &u.0);
        white.push(Exposure { ei, measured: unsmoothed, over });
    }
    Ok([compare(&ways, &ZONES), compare(&white, &ZONES)])
}

/// A curve fitted to the first bracket, as a document.
fn fitted(path: &Path, findings: &Findings) -> Result<(PathBuf, String), Failure> {
    let first =
        findings.measured.first().ok_or_else(|| Failure::new("--fit needs a bracket: give --stops or --list"))?;
    // The curve of a camera is before the range, which the camera states.
    let range = first.measurement.used.claim().range;
    let fitted = curve::fit(&first.measurement.points_in(range)).ok_or_else(|| {
        Failure::new(format!("--fit: too few usable exposures to fit a curve: shoot {} or more", curve::FEWEST))
    })?;
    let ei = first.ei.map(|ei| format!(" at EI {ei}")).unwrap_or_default();
    let source = format!(
        "fitted by rushlight to a bracket of {} exposures{ei} in {} range, to {:.3} stops (root mean square)",
        first.measurement.exposures.len(),
        range.name(),
        fitted.rms
    );
    let title = path.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
    Ok((path.to_owned(), fitted.document(&title, &source)))
}
