//! From a look document to a look: every value checked by the type that it makes.

use super::corrections::{corrections, one_of};
use super::document::{BalanceDoc, CdlDoc, CubeDoc, GivesDoc, HeadDoc, PrintDoc, SpaceDoc, StepDoc, ToneDoc, WhiteDoc};
use super::{Look, SCHEMA, generation, resolve_curve, resolve_gamut};
use crate::adaptation::Adaptation;
use crate::chromaticity::{D65, Xy};
use crate::cube::Interpolation;
use crate::display::{self, Display};
use crate::document::{Document, Problems, unknown};
use crate::files::Recorder;
use crate::format::{self, cube::Strictness};
use crate::invalid::Invalid;
use crate::step::balance::{self, Balance};
use crate::step::cdl::{Cdl, CdlNumbers};
use crate::step::compress::{Compress, PUBLISHED_LIMITS, PUBLISHED_POWER, PUBLISHED_THRESHOLDS};
use crate::step::contrast::{self, Contrast};
use crate::step::cube::{DisplayCube, LogSpace, STRENGTH, SceneCube};
use crate::step::exposure::Exposure;
use crate::step::print::{PrintSettings, VARIANTS};
use crate::step::printer::{self, Printer};
use crate::step::saturation::Saturation;
use crate::step::tint::{Tint, TintSettings};
use crate::step::tone::ToneSettings;
use crate::step::{Rendering, Step};
use std::sync::Arc;

/// What a step's table makes.
enum Made {
    Step(Step),
    Rendering(Rendering),
}

type Refused = Vec<Invalid>;

/// The steps that never give display light.
const SCENE_STEPS: [&str; 8] = ["exposure", "balance", "cdl", "printer", "saturation", "contrast", "tint", "compress"];

/// Reads the look document `text` of the file `name`; its sources are left to the caller.
pub(crate) fn read(name: &str, text: &str, files: &Recorder<'_>) -> Result<Look, Problems> {
    /// Beyond any look; two of them are compared step by step.
    const MOST_STEPS: usize = 500;
    let mut document = Document::parse(name, text)?;
    let head = document.read_sound_part::<HeadDoc>("", &["step"]);
    document.check_head(SCHEMA, &["title"]);
    if !generation::check(&mut document, head.as_ref().and_then(|head| head.generation)) {
        return Err(document.into_problems());
    }
    if head.as_ref().is_some_and(|head| head.revision == 0) {
        document.refuse(Invalid::new("revision", "must be 1 or more"));
    }
    let count = document.count("step");
    if count > MOST_STEPS {
        document.refuse(Invalid::new("step", format!("{count} steps: {MOST_STEPS} at most")));
        return Err(document.into_problems());
    }
    let mut steps = Vec::new();
    let (mut rendering, mut misplaced) = (None, false);
    for i in 0..count {
        let path = format!("step[{i}]");
        let Some(doc) = StepDoc::read(&mut document, &path) else { continue };
        match build(doc, name, files) {
            Err(refused) => document.refuse_standing(&path, refused),
            Ok(_) if document.is_wrong_within(&path) => {}
            Ok(Made::Step(step)) => steps.push(step),
            Ok(Made::Rendering(made)) if i + 1 == count => rendering = Some(made),
            Ok(Made::Rendering(_)) => {
                misplaced = true;
                let message = "gives display light, which ends a look: it must be the last step".to_owned();
                document.refuse(Invalid::new(format!("{path}.do"), message));
            }
        }
    }
    // A last step that could not be read might have been a rendering.
    let last = format!("step[{}]", count.wrapping_sub(1));
    let spoilt = if count == 0 {
        document.is_wrong_within("step")
    } else {
        let scene_step =
            document.string(&format!("{last}.do")).is_some_and(|name| SCENE_STEPS.contains(&name.as_str()));
        document.is_wrong_within(&last) && !scene_step
    };
    if rendering.is_none() && !spoilt && !misplaced {
        let message = "the look does not end in display light: its last step must be `print`, `tone`, or a `cube` that gives a display";
        let key = if count == 0 { "step".to_owned() } else { last };
        document.refuse(Invalid::new(key, message));
    }
    match (head, rendering) {
        (Some(head), Some(rendering)) if document.is_sound() => {
            Ok(Look::new(head.title, head.revision, steps, rendering))
        }
        _ => Err(document.into_problems()),
    }
}

fn build(doc: StepDoc, name: &str, files: &Recorder<'_>) -> Result<Made, Refused> {
    let step = match doc {
        StepDoc::Exposure(d) => Step::Exposure(match (d.stops, d.factor) {
            (Some(stops), None) => Exposure::from_stops(stops).map_err(one)?,
            (None, Some(factor)) => Exposure::from_factor(factor).map_err(one)?,
            (None, None) => return refuse("", "needs `stops` or `factor`"),
            (Some(_), Some(_)) => return refuse("factor", "says the same as `stops`: give one of the two"),
        }),
        StepDoc::Balance(d) => Step::Balance(balance(&d)?),
        StepDoc::Cdl(d) => Step::Cdl(cdl(&d, name, files)?),
        StepDoc::Printer(d) => Step::Printer(Printer::new(d.points, d.per_stop.unwrap_or(printer::PER_STOP.default))?),
        StepDoc::Saturation(d) => Step::Saturation(Saturation::new(d.amount).map_err(one)?),
        StepDoc::Contrast(d) => Step::Contrast(Contrast::new(d.amount, d.pivot.unwrap_or(contrast::PIVOT.default))?),
        StepDoc::Tint(d) => {
            let base = TintSettings::default();
            Step::Tint(Tint::new(&TintSettings {
                shadows: d.shadows.unwrap_or(base.shadows),
                highlights: d.highlights.unwrap_or(base.highlights),
                shadow_start: d.shadow_start.unwrap_or(base.shadow_start),
                shadow_width: d.shadow_width.unwrap_or(base.shadow_width),
                highlight_start: d.highlight_start.unwrap_or(base.highlight_start),
                highlight_width: d.highlight_width.unwrap_or(base.highlight_width),
                keep_grey: d.keep_grey.unwrap_or(base.keep_grey),
                keep_luminance: d.keep_luminance.unwrap_or(base.keep_luminance),
            })?)
        }
        StepDoc::Compress(d) => Step::Compress(Compress::new(
            d.limits.unwrap_or(PUBLISHED_LIMITS),
            d.thresholds.unwrap_or(PUBLISHED_THRESHOLDS),
            d.power.unwrap_or(PUBLISHED_POWER),
        )?),
        StepDoc::Cube(d) => return cube(&d, name, files),
        StepDoc::Print(d) => return Ok(Made::Rendering(Rendering::Print(print(&d)?))),
        StepDoc::Tone(d) => return Ok(Made::Rendering(Rendering::Tone(tone(&d)?))),
    };
    Ok(Made::Step(step))
}

fn one(refused: Invalid) -> Refused {
    vec![refused]
}

fn refuse<T>(key: &str, message: impl Into<String>) -> Result<T, Refused> {
    Err(vec![Invalid::new(key, message)])
}

/// Both results, or the refusals of both.
fn both<A, B>(a: Result<A, Refused>, b: Result<B, Refused>) -> Result<(A, B), Refused> {
    match (a, b) {
        (Ok(a), Ok(b)) => Ok((a, b)),
        (a, b) => Err(a.err().into_iter().chain(b.err()).flatten().collect()),
    }
}

/// The refusals of a table within another, under its key.
pub(crate) fn within<T>(key: &str, made: Result<T, Refused>) -> Result<T, Refused> {
    made.map_err(|refused| refused.into_iter().map(|r| r.within(key)).collect())
}

fn balance(d: &BalanceDoc) -> Result<Balance, Refused> {
    let to = d.to.as_ref().map_or(Ok(D65), white);
    let (from, to) = both(within("from", white(&d.from)), within("to", to))?;
    Balance::new(from, to, d.adaptation.map_or(Adaptation::Bradford, |a| a.0))
}

fn white(d: &WhiteDoc) -> Result<Xy, Refused> {
    match (d.kelvin, d.xy) {
        (Some(kelvin), None) => balance::white(kelvin, d.tint.unwrap_or(balance::TINT.default)).map_err(one),
        (None, Some(_)) if d.tint.is_some() => refuse("tint", "goes with `kelvin`, not with `xy`"),
        (None, Some(xy)) => Ok(Xy::new(xy[0], xy[1])),
        (None, None) => refuse("", "needs `kelvin` or `xy`"),
        (Some(_), Some(_)) => refuse("xy", "says the same as `kelvin`: give one of the two"),
    }
}

fn cdl(d: &CdlDoc, name: &str, files: &Recorder<'_>) -> Result<Cdl, Refused> {
    let Some(file) = &d.file else {
        if d.id.is_some() {
            return refuse("id", "names a correction of a `file`, which is missing");
        }
        let base = CdlNumbers::default();
        let numbers = CdlNumbers {
            slope: d.slope.unwrap_or(base.slope),
            offset: d.offset.unwrap_or(base.offset),
            power: d.power.unwrap_or(base.power),
            saturation: d.saturation.unwrap_or(base.saturation),
        };
        return Cdl::new(numbers, d.clamp);
    };
    if d.slope.is_some() || d.offset.is_some() || d.power.is_some() || d.saturation.is_some() {
        return refuse("file", "holds the numbers: give a file or numbers, not both");
    }
    let (file, read) = within("file", corrections(file, None, name, files))?;
    Cdl::new(one_of(&read, &file, d.id.as_deref())?.numbers, d.clamp)
}

fn cube(d: &CubeDoc, name: &str, files: &Recorder<'_>) -> Result<Made, Refused> {
    let read = files
        .bytes(name, &d.file)
        .and_then(|(file, text)| {
            let read = format::cube::read(&text, Strictness::Tolerant).map_err(|e| format!("`{file}`, {e}"))?;
            read.into_cube().map_err(|why| format!("`{file}`: {why}"))
        })
        .map_err(|why| vec![Invalid::new("file", why)]);
    let expects = within("expects", space(&d.expects, name, files));
    let ((read, expects), gives) = both(both(read, expects), within("gives", gives(&d.gives, name, files)))?;
    let table = Arc::new(read);
    let interpolation = d.interpolation.map_or(Interpolation::default(), |i| i.0);
    let strength = d.strength.unwrap_or(STRENGTH.default);
    let made = match gives {
        Gives::Light(gives) => {
            let step = SceneCube::new(table, interpolation, expects, gives, strength).map_err(one)?;
            Made::Step(Step::Cube(Box::new(step)))
        }
        Gives::Display(_) if strength != 1.0 => {
            return refuse("strength", "only for a cube that gives scene light: display signal is taken whole");
        }
        Gives::Display(display) => {
            Made::Rendering(Rendering::Cube(Box::new(DisplayCube::new(table, interpolation, expects, *display))))
        }
    };
    Ok(made)
}

/// The log and the gamut of a table.
pub(crate) fn space(d: &SpaceDoc, name: &str, files: &Recorder<'_>) -> Result<LogSpace, Refused> {
    let (curve, gamut) = both(resolve_curve(&d.curve, d.ei, name, files), resolve_gamut(&d.gamut, "gamut"))?;
    Ok(LogSpace::new(curve, &gamut))
}

/// What a cube gives.
enum Gives {
    Light(LogSpace),
    Display(Box<Display>),
}

fn gives(d: &GivesDoc, name: &str, files: &Recorder<'_>) -> Result<Gives, Refused> {
    match (&d.curve, &d.gamut, &d.display) {
        (None, None, Some(display)) => match display::standard(display) {
            Some(standard) => Ok(Gives::Display(Box::new(Display::of(standard)))),
            None => refuse("display", unknown("display", display, display::STANDARDS.map(|s| s.name))),
        },
        (Some(curve), Some(gamut), None) => {
            let (curve, gamut) = both(resolve_curve(curve, d.ei, name, files), resolve_gamut(gamut, "gamut"))?;
            Ok(Gives::Light(LogSpace::new(curve, &gamut)))
        }
        (_, _, Some(_)) => refuse("display", "stands alone: a display, or a curve and a gamut"),
        (None, _, None) => refuse("", "needs `curve` and `gamut`, or `display`"),
        (Some(_), None, None) => refuse("", "needs `gamut` beside `curve`"),
    }
}

fn print(d: &PrintDoc) -> Result<PrintSettings, Refused> {
    let base = match &d.variant {
        None => VARIANTS[0].settings,
        Some(name) => match VARIANTS.iter().find(|v| v.name == name) {
            Some(variant) => variant.settings,
            None => return refuse("variant", unknown("variant", name, VARIANTS.iter().map(|v| v.name))),
        },
    };
    let settings = PrintSettings {
        exposure: d.exposure.unwrap_or(base.exposure),
        grey: d.grey.unwrap_or(base.grey),
        contrast: d.contrast.unwrap_or(base.contrast),
        toe: d.toe.unwrap_or(base.toe),
        shoulder: d.shoulder.unwrap_or(base.shoulder),
        black: d.black.unwrap_or(base.black),
        colour: d.colour.unwrap_or(base.colour),
        hue: d.hue.unwrap_or(base.hue),
        crosstalk: d.crosstalk.unwrap_or(base.crosstalk),
        lights: d.lights.unwrap_or(base.lights),
        kelvin: d.kelvin.unwrap_or(base.kelvin),
        flare: d.flare.unwrap_or(base.flare),
    };
    settings.check().map(|()| settings)
}

fn tone(d: &ToneDoc) -> Result<ToneSettings, Refused> {
    let base = ToneSettings::default();
    let settings = ToneSettings {
        grey: d.grey.unwrap_or(base.grey),
        contrast: d.contrast.unwrap_or(base.contrast),
        toe: d.toe.unwrap_or(base.toe),
        shoulder: d.shoulder.unwrap_or(base.shoulder),
        black: d.black.unwrap_or(base.black),
        per_channel: d.per_channel.unwrap_or(base.per_channel),
    };
    settings.check().map(|()| settings)
}
