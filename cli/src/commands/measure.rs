//! `measure`

mod bracket;
mod chart;
mod json;
mod rate;
mod report;

use crate::args::{Measure, SignalRange};
use crate::disk::{Expected, Folder, Replaced, check, read_text, replace, write};
use crate::drawing::{Drawing, Format};
use crate::failure::Failure;
use crate::output;
use crate::target;
use bracket::Bracket;
use rushlight::camera::{Camera, Range};
use rushlight::document::unknown;
use rushlight::measure::compare::{Row, Way, compare};
use rushlight::measure::modes::{self, Pairs};
use rushlight::measure::{Claim, Measurement, Settings, curve, measure};
use rushlight::show::Show;
use rushlight::transfer::{Encoding, Light, Role, encoding, encodings};
use std::path::Path;

/// Zones of the final picture that exposure indices are compared at, in stops from its mid-grey.
const ZONES: [f64; 11] = [-6.0, -5.0, -4.0, -3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0, 4.0];

/// One bracket, measured.
pub(crate) struct Measured {
    pub(crate) ei: Option<f64>,
    pub(crate) bracket: Bracket,
    pub(crate) measurement: Measurement,
}

/// All that a run finds.
pub(crate) struct Findings {
    pub(crate) measured: Vec<Measured>,
    pub(crate) compared: Vec<Row>,
    /// Two modes, red, green and blue.
    pub(crate) modes: Option<[Pairs; 3]>,
    pub(crate) snr: f64,
}

pub(crate) fn run(args: &Measure) -> Result<(), Failure> {
    if !(args.snr > 0.0 && args.snr.is_finite()) {
        return Err(Failure::new(format!("--snr: {} is out of range: it must be above 0", args.snr)));
    }
    if !(args.card > 0.0 && args.card <= 1.0) {
        return Err(Failure::new(format!("--card: {} is out of range: it must lie between 0 and 1", args.card)));
    }
    let plot = args.plot.as_deref().map(|path| Format::of(path).map(|format| (path, format))).transpose()?;
    let claims = claims(args)?;
    // Two frames of one scene say what a mode does, without a bracket.
    let single = args.frames.len() == 1 && args.against.len() == 1 && args.stops.is_none() && args.exif_from.is_none();
    if single {
        for (option, given) in [("--plot", args.plot.is_some()), ("--fit", args.fit.is_some()), ("--write", args.write)]
        {
            if given {
                return Err(Failure::new(format!("{option} needs a bracket: give --stops")));
            }
        }
        let modes = bracket::two_frames(args)?;
        let findings = Findings { measured: Vec::new(), compared: Vec::new(), modes: Some(modes), snr: args.snr };
        return if args.json {
            output::print_json(&json::document(&findings))
        } else {
            output::print(&report::text(&findings))
        };
    }
    let settings =
        |ei: Option<f64>| -> Result<Settings, Failure> { Ok(Settings { claim: claims.at(ei)?, ratio: args.snr }) };
    let measured = bracket::read(args)?
        .into_iter()
        .map(|bracket| {
            let mut measurement =
                measure(&bracket.shots, &settings(bracket.ei)?).map_err(|e| Failure::new(e.to_string()))?;
            measurement.remarks.extend(claims.remark(bracket.ei));
            Ok(Measured { ei: bracket.ei, bracket, measurement })
        })
        .collect::<Result<Vec<Measured>, Failure>>()?;
    let compared = compared(args, &measured)?;
    let modes = match (&args.against[..], &measured[..]) {
        ([], _) | (_, []) => None,
        (_, [first, ..]) => {
            let other = bracket::against(args, &first.bracket)?;
            let second =
                measure(&other.shots, &settings(other.ei)?).map_err(|e| Failure::new(format!("--against: {e}")))?;
            Some(modes::brackets(&first.measurement, &second).map_err(|e| Failure::new(e.to_string()))?)
        }
    };
    let findings = Findings { measured, compared, modes, snr: args.snr };

    // Everything is made before anything is written.
    let rated = if args.write { Some(rate::edited(args, &findings.measured)?) } else { None };
    let fitted = args.fit.as_deref().map(|path| fitted(path, &findings)).transpose()?;
    let drawn = plot.map(|(path, format)| {
        chart::chart(&findings, args.camera.as_deref()).draw().bytes(format, Drawing::DPI).map(|bytes| (path, bytes))
    });
    let drawn = drawn.transpose()?;
    let paths = fitted.iter().map(|(path, _)| path).chain(drawn.iter().map(|(path, _)| path));
    paths.copied().try_for_each(check)?;
    if let Some(rated) = &rated
        && let Replaced::Other(_) = replace(rated.path, Expected::Text(&rated.was), &rated.text)?
    {
        let path = rated.path.display();
        return Err(Failure::new(format!("cannot write {path}: it changed since it was read: nothing is written")));
    }
    let mut written = String::new();
    let files = [("curve", fitted.map(|(path, text)| (path, text.into_bytes()))), ("plot", drawn)];
    for (what, path, bytes) in
        files.into_iter().filter_map(|(what, file)| file.map(|(path, bytes)| (what, path, bytes)))
    {
        write(path, &bytes)?;
        written += &format!("{what} written to {}\n", path.display());
    }
    if args.json {
        return output::print_json(&json::document(&findings));
    }
    let mut text = report::text(&findings);
    if let Some(rated) = rated {
        written += &format!("ratings written to {}\n", rated.path.display());
    }
    if !written.is_empty() {
        text += &format!("\n{written}");
    }
    output::print(&text)
}

/// The curve that the camera claims, where one was named: some have constants of their own at each exposure index.
enum Claims {
    Camera { name: String, camera: Box<Camera> },
    Encoding { encoding: &'static Encoding, range: Range },
    File(Claim),
    None,
}

impl Claims {
    fn at(&self, ei: Option<f64>) -> Result<Option<Claim>, Failure> {
        match self {
            Self::Camera { name, camera } => {
                let own = ei.filter(|ei| camera.curve_at(*ei).is_some());
                // A camera's own EI may be part of its name.
                let plain = name.split(" at EI ").next().unwrap_or(name);
                let name = own.map_or_else(|| name.clone(), |ei| format!("{plain} at EI {ei}"));
                let curve = ei.map_or_else(|| camera.shared_curve(), |ei| camera.shared_curve_at(ei));
                Ok(Some(Claim { name, curve, range: camera.range() }))
            }
            Self::Encoding { encoding, range } => {
                let ei = ei.filter(|_| !encoding.ratings.is_empty());
                let curve = encoding.build(ei.map(|ei| ei.round() as u32));
                let curve = curve.map_err(|refused| Failure::new(format!("--ei: {}", refused.message)))?;
                let at = ei.map(|ei| format!(" at EI {ei}")).unwrap_or_default();
                let legal = if *range == Range::Legal { " at legal range" } else { "" };
                Ok(Some(Claim { name: format!("{}{at}{legal}", encoding.name), curve, range: *range }))
            }
            Self::File(claim) => Ok(Some(claim.clone())),
            Self::None => Ok(None),
        }
    }

    /// What there is to say of the claim at an exposure index.
    fn remark(&self, ei: Option<f64>) -> Option<String> {
        let Self::Camera { name, camera } = self else { return None };
        let ei = ei.filter(|ei| camera.lacks_curve_at(*ei))?;
        Some(format!("the curve is not published for EI {ei}: the curve of the camera is used instead, {name}"))
    }
}

/// What the arguments say of the curve.
fn claims(args: &Measure) -> Result<Claims, Failure> {
    if let Some(show) = &args.show {
        let show = load(show)?;
        let name = args.camera.as_deref().unwrap_or_default();
        let entry = show.cameras().get(name).ok_or_else(|| {
            Failure::new(format!("--camera: {}", unknown("camera", name, show.cameras().keys().map(String::as_str))))
        })?;
        let name = entry.terms.split(',').next().unwrap_or(name).to_owned();
        return Ok(Claims::Camera { name, camera: Box::new(entry.item.clone()) });
    }
    let Some(name) = &args.curve else { return Ok(Claims::None) };
    let range = match args.range {
        SignalRange::Full => Range::Full,
        SignalRange::Legal => Range::Legal,
    };
    let cameras = || encodings().iter().filter(|e| e.role != Role::Display && e.light == Light::SceneReflectance);
    if name.ends_with(".toml") {
        let path = Path::new(name);
        let file = rushlight::curve_file::parse(name, &read_text(path)?).map_err(|p| Failure::Documents(vec![p]))?;
        return Ok(Claims::File(Claim { name: name.clone(), curve: file.transfer(), range }));
    }
    let encoding = encoding(name).filter(|e| cameras().any(|c| c.name == e.name)).ok_or_else(|| {
        let why = unknown("curve", name, cameras().map(|e| e.name));
        Failure::new(format!("--curve: {}", target::or_file(why)))
    })?;
    Ok(Claims::Encoding { encoding, range })
}

/// The show of a file.
fn load(path: &Path) -> Result<Show, Failure> {
    let folder = Folder::of(path);
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    Show::parse(&name, &read_text(path)?, &folder).map_err(|problems| folder.failure(problems))
}

fn compared(args: &Measure, measured: &[Measured]) -> Result<Vec<Row>, Failure> {
    let mut ways = Vec::new();
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
                format!("there are no frames at that EI, but at {}", eis.join(", "))
            })
        })?;
        ways.push(Way { ei, measured: &found.measurement, over });
    }
    Ok(compare(&ways, &ZONES))
}

/// A curve fitted to the first bracket, as a document.
fn fitted<'p>(path: &'p Path, findings: &Findings) -> Result<(&'p Path, String), Failure> {
    let first = &findings.measured[0];
    let fitted = curve::fit(&first.measurement.points()).ok_or_else(|| {
        Failure::new(format!("--fit: too few usable exposures to fit a curve: shoot {} or more", curve::FEWEST))
    })?;
    let ei = first.ei.map(|ei| format!(" at EI {ei}")).unwrap_or_default();
    let source = format!(
        "fitted by rushlight to a bracket of {} exposures{ei}, to {:.3} stops (root mean square)",
        first.measurement.exposures.len(),
        fitted.rms
    );
    let title = path.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
    Ok((path, fitted.document(&title, &source)))
}
