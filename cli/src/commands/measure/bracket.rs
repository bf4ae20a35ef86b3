//! From files to shots: which stops they are, which patch is measured.

use crate::args::Measure;
use crate::disk::{read_bytes, sha256_of};
use crate::failure::Failure;
use rushlight::frame::{Exposure, Frame, ReadOptions};
use rushlight::math::log2;
use rushlight::measure::choice::{Choice, choose};
use rushlight::measure::faults::{self, Moved};
use rushlight::measure::grid::Grid;
use rushlight::measure::modes::{self, Pairs};
use rushlight::measure::patch::Patch;
use rushlight::measure::{Claim, MeasureError, Shot};
use rushlight::transfer::MID_GREY;
use std::path::{Path, PathBuf};

/// The shots of one exposure index.
pub(crate) struct Bracket {
    pub(crate) ei: Option<f64>,
    pub(crate) patch: Patch,
    /// Pixels of the frames.
    pub(crate) size: [usize; 2],
    pub(crate) shots: Vec<Shot>,
    /// The files, each with its SHA-256, where these are to be noted.
    pub(crate) files: Vec<(PathBuf, String)>,
    /// How the patch was found; none where it was given.
    pub(crate) choice: Option<Choice>,
    /// The frame nearest to the meter's mid-grey.
    pub(crate) middle: Grid,
    /// Frames in which the card is elsewhere.
    pub(crate) moved: Vec<Moved>,
}

impl Bracket {
    /// The signal of a second patch in each exposure, dark to bright, where one of another brightness was found.
    pub(crate) fn witness(&self) -> Option<Vec<f64>> {
        let other = self.choice.as_ref()?.runner_up.as_ref().filter(|r| r.stops.abs() > 0.5)?;
        Some(other.signals().iter().map(|s| s.iter().sum::<f64>() / 3.0).collect())
    }
}

/// A file and its exposure.
struct Entry {
    path: PathBuf,
    stops: f64,
    ei: Option<f64>,
}

fn failure(error: MeasureError) -> Failure {
    Failure::new(error.to_string())
}

/// The frames of a file: one of a still, several of a clip.
pub(super) fn frames(path: &Path, args: &Measure, count: usize) -> Result<Vec<Frame>, Failure> {
    let options = ReadOptions { layer: args.layer.clone(), limits: args.memory.limits() };
    crate::frames::signals(path, count, &options)
}

/// Every bracket that the arguments name, one for each exposure index.
pub(crate) fn read(
    args: &Measure,
    claim: &dyn Fn(Option<f64>) -> Result<Option<Claim>, Failure>,
) -> Result<Vec<Bracket>, Failure> {
    let entries = match &args.list {
        Some(list) => listed(list)?,
        None => placed(args, &args.frames)?,
    };
    let card = log2(args.card / MID_GREY);
    let mut eis: Vec<Option<f64>> = Vec::new();
    for entry in &entries {
        if !eis.contains(&entry.ei) {
            eis.push(entry.ei);
        }
    }
    eis.into_iter()
        .map(|ei| {
            let own: Vec<&Entry> = entries.iter().filter(|e| e.ei == ei).collect();
            let ei = ei.or(args.ei);
            bracket(args, ei, &own, card, None, claim(ei)?.as_ref())
        })
        .collect()
}

/// The other bracket, of the same stops and the same patch.
pub(crate) fn against(args: &Measure, first: &Bracket) -> Result<Bracket, Failure> {
    let entries = placed(args, &args.against)?;
    let own: Vec<&Entry> = entries.iter().collect();
    bracket(args, first.ei, &own, log2(args.card / MID_GREY), Some(first.patch), None)
}

/// Two frames of one scene, and their pairs pixel by pixel.
pub(crate) fn two_frames(args: &Measure) -> Result<([Frame; 2], [Pairs; 3]), Failure> {
    let [first, second] =
        [&args.frames[0], &args.against[0]].map(|path| frames(path, args, 1).map(|mut f| f.remove(0)));
    let frames = [first?, second?];
    let pairs = modes::frames(&frames[0], &frames[1]).map_err(failure)?;
    Ok((frames, pairs))
}

fn bracket(
    args: &Measure,
    ei: Option<f64>,
    entries: &[&Entry],
    card: f64,
    patch: Option<Patch>,
    claim: Option<&Claim>,
) -> Result<Bracket, Failure> {
    let mut known = patch;
    let mut size = None;
    let mut shots = Vec::new();
    let mut grids = Vec::new();
    let mut files = Vec::new();
    for entry in entries {
        // Only what is written names the frames by their bytes, and a clip may be long.
        if args.write {
            files.push((entry.path.clone(), sha256_of(&entry.path)?));
        }
        let name = entry.path.display().to_string();
        let read = frames(&entry.path, args, args.clip_frames)?;
        let [width, height] = *size.get_or_insert([read[0].width(), read[0].height()]);
        if let Some(other) = read.iter().find(|f| [f.width(), f.height()] != [width, height]) {
            return Err(Failure::new(format!(
                "{name} has {} x {} pixels, {} has {width} x {height}: a bracket's frames are of one size",
                other.width(),
                other.height(),
                entries[0].path.display()
            )));
        }
        if let (None, Some(text)) = (known, &args.patch) {
            known = Some(given("--patch", text, [width, height])?);
        }
        let stops = entry.stops + card;
        grids.push(Grid::of(name.clone(), stops, &read[0]));
        let patches = known.map_or(Ok(Vec::new()), |patch| cut(&read, &patch))?;
        shots.push(Shot { name, stops, patches });
    }
    grids.sort_by(|a, b| a.stops.total_cmp(&b.stops));
    let choice = if known.is_none() { Some(choose(&grids, claim).map_err(failure)?) } else { None };
    let patch = known.or(choice.as_ref().map(|c| c.best.patch)).ok_or_else(|| Failure::new("no frames"))?;
    let moved = faults::moved(&grids, &patch);
    if let Some(lost) = moved.iter().find(|m| m.lost) {
        let [x, y] = lost.pixels.map(f64::abs);
        return Err(Failure::new(format!(
            "{}: the card lies about {:.0} pixels from where it is in the other frames, and the patch {patch} is partly beside it: shoot again from a fixed camera, or give a --patch that stays on the card",
            lost.name,
            (x * x + y * y).sqrt()
        )));
    }
    if known.is_none() {
        // Which patch it is shows only when every frame was seen: they are read again rather than all held.
        for (shot, entry) in shots.iter_mut().zip(entries) {
            shot.patches = cut(&frames(&entry.path, args, args.clip_frames)?, &patch)?;
        }
    }
    let middle = grids.into_iter().min_by(|a, b| a.stops.abs().total_cmp(&b.stops.abs()));
    let middle = middle.ok_or_else(|| Failure::new("no frames"))?;
    Ok(Bracket { ei, patch, size: middle.size, shots, files, choice, middle, moved })
}

fn cut(frames: &[Frame], patch: &Patch) -> Result<Vec<Frame>, Failure> {
    frames.iter().map(|f| patch.of(f)).collect::<Result<Vec<_>, _>>().map_err(failure)
}

/// X,Y,W,H, as an option says it.
pub(super) fn given(option: &str, text: &str, [width, height]: [usize; 2]) -> Result<Patch, Failure> {
    let numbers: Option<Vec<usize>> = text.split(',').map(|n| n.trim().parse().ok()).collect();
    let place: [usize; 4] = numbers.and_then(|n| n.try_into().ok()).ok_or_else(|| {
        Failure::new(format!("{option}: `{text}`: it must be X,Y,W,H in whole pixels, such as 900,500,128,128"))
    })?;
    Patch::new(place, width, height).map_err(|e| Failure::new(format!("{option}: {e}")))
}

/// Files with the stops that the arguments say.
fn placed(args: &Measure, files: &[PathBuf]) -> Result<Vec<Entry>, Failure> {
    let entry = |(path, stops): (&PathBuf, f64)| Entry { path: path.clone(), stops, ei: None };
    if let Some(middle) = &args.exif_from {
        let tagged = |path: &Path| -> Result<Exposure, Failure> { Ok(frames(path, args, 1)?[0].info.exposure) };
        let zero = tagged(middle)?;
        let exposed = |path: &Path, exposure: Exposure| -> Result<f64, Failure> {
            // The curve's stops at another sensitivity are others: such a frame belongs to another bracket.
            if let (Some(iso), Some(first)) = (exposure.iso, zero.iso)
                && iso != first
            {
                return Err(Failure::new(format!(
                    "{} was shot at ISO {iso}, {} at ISO {first}: a bracket is of one; give --stops, or --list with a column ei",
                    path.display(),
                    middle.display()
                )));
            }
            let time = exposure.time.ok_or_else(|| {
                Failure::new(format!("{} has no exposure time in its EXIF: give --stops", path.display()))
            })?;
            // Without an f-number every frame is taken to have the same.
            let stop = exposure.f_number.map_or(0.0, |n| 2.0 * log2(n));
            Ok(log2(time) - stop)
        };
        let at_zero = exposed(middle, zero)?;
        let stops = files.iter().map(|f| exposed(f, tagged(f)?)).collect::<Result<Vec<f64>, Failure>>()?;
        // To a third of a hundredth: shutters are marked in rounded numbers.
        return Ok(files.iter().zip(stops.into_iter().map(|s| s - at_zero)).map(entry).collect());
    }
    let Some(text) = &args.stops else {
        return Err(Failure::new(
            "the exposures are unknown: give --stops, such as -6:+6:1, or --list, or --exif-from",
        ));
    };
    let stops = stops(text)?;
    if stops.len() != files.len() {
        return Err(Failure::new(format!(
            "--stops: {text} has {} exposures, but there are {} files",
            stops.len(),
            files.len()
        )));
    }
    Ok(files.iter().zip(stops).map(entry).collect())
}

/// Most exposures of a bracket.
const MOST: f64 = 200.0;

/// FROM:TO:STEP, or a list.
fn stops(text: &str) -> Result<Vec<f64>, Failure> {
    let wrong = || {
        Failure::new(format!(
            "--stops: `{text}`: it must be FROM:TO:STEP, such as -6:+6:1, or a list, such as -6,-4,0,2"
        ))
    };
    let number = |t: &str| t.trim().parse::<f64>().ok().filter(|v| v.is_finite() && v.abs() <= 64.0).ok_or_else(wrong);
    let Some((from, rest)) = text.split_once(':') else {
        return text.split(',').map(number).collect();
    };
    let (to, step) = rest.split_once(':').unwrap_or((rest, "1"));
    let (from, to, step) = (number(from)?, number(to)?, number(step)?.abs());
    let count = ((to - from).abs() / step).round();
    if !(step > 0.0 && count < MOST) || ((to - from).abs() - count * step).abs() > 1e-6 {
        return Err(wrong());
    }
    let way = if to < from { -step } else { step };
    Ok((0..=count as usize).map(|i| from + way * i as f64).collect())
}

/// A CSV file with the columns file, stops and perhaps ei; files are relative to it.
fn listed(list: &Path) -> Result<Vec<Entry>, Failure> {
    let bytes = read_bytes(list)?;
    let shown = list.display();
    let fail = |why: String| Failure::new(format!("{shown}: {why}"));
    let mut reader =
        csv::ReaderBuilder::new().comment(Some(b'#')).trim(csv::Trim::All).flexible(true).from_reader(&bytes[..]);
    let heads = reader.headers().map_err(|e| fail(e.to_string()))?.clone();
    let column = |name: &str| heads.iter().position(|h| h.eq_ignore_ascii_case(name));
    let (Some(file), Some(stops)) = (column("file"), column("stops")) else {
        return Err(fail("its first line must name the columns file and stops, and may name ei".to_owned()));
    };
    let ei = column("ei");
    let folder = list.parent().unwrap_or(Path::new(""));
    let mut entries = Vec::new();
    for row in reader.records() {
        let row = row.map_err(|e| fail(e.to_string()))?;
        let line = row.position().map_or(0, csv::Position::line);
        let cell = |column: usize| row.get(column).unwrap_or("").trim();
        let number = |name: &str, text: &str| {
            text.parse::<f64>()
                .ok()
                .filter(|v| v.is_finite())
                .ok_or_else(|| Failure::new(format!("{shown}:{line}: {name}: `{text}` is not a number")))
        };
        if cell(file).is_empty() {
            return Err(Failure::new(format!("{shown}:{line}: file: the cell is empty: give a file")));
        }
        let ei = ei.map(cell).filter(|t| !t.is_empty()).map(|t| number("ei", t)).transpose()?;
        entries.push(Entry { path: folder.join(cell(file)), stops: number("stops", cell(stops))?, ei });
    }
    if entries.is_empty() {
        return Err(fail("it names no files".to_owned()));
    }
    Ok(entries)
}
