//! `measure --chart` and `--to`: what another mode of the camera does to colours.

use super::Measured;
use super::report::field;
use crate::args::Measure;
use crate::commands::chart::{Input, failure, light, of_show};
use crate::commands::claims::{Claims, load};
use crate::failure::Failure;
use rushlight::camera::Camera;
use rushlight::chart::classic::classic;
use rushlight::chart::light::Light;
use rushlight::chart::measure::colours;
use rushlight::chart::modes::{by_frames, by_matrices};
use rushlight::measure::report::{ColourFound, ColourFrame};
use rushlight::measure::{Claim, Measurement};
use std::fmt::Write as _;

/// The light of surfaces where none is named: that of the white to which all colours are adapted.
const LIGHT: &str = "d65";

/// Colours of both modes; none where they were not asked for. `modes` are the brackets of both, where there are some.
pub(super) fn of(
    args: &Measure,
    claims: &Claims,
    measured: &[Measured],
    second: Option<&Measurement>,
) -> Result<Option<ColourFound>, Failure> {
    if args.chart.is_empty() && args.to.is_none() {
        return Ok(None);
    }
    let show = args.show.as_deref().map(load).transpose()?;
    let camera = |option: &str, name: Option<&str>| -> Result<Option<Camera>, Failure> {
        let (Some(show), Some(name)) = (show.as_ref(), name) else { return Ok(None) };
        of_show(show, option, name).map(|camera| Some(camera.clone().unbalanced()))
    };
    let one = camera("--camera", args.camera.as_deref())?;
    let two = camera("--to", args.to.as_deref())?;
    let light = light("--light", args.light.as_deref().unwrap_or(LIGHT))?;
    if args.chart.is_empty() {
        let (Some(one), Some(two)) = (one, two) else {
            return Err(Failure::new("--to needs --show and --camera"));
        };
        return matrices(&one, &two, &light).map(Some);
    }
    let used = |m: &Measurement| m.used.claim().clone();
    let claim = claims.at(args.ei)?.or_else(|| measured.first().map(|m| used(&m.measurement)));
    let claim = claim.ok_or_else(|| Failure::new("the curve is unknown: give --show, or --curve"))?;
    let claim_two = match (&two, second) {
        (Some(camera), _) => {
            Claim { name: args.to.clone().unwrap_or_default(), curve: camera.shared_curve(), range: camera.range() }
        }
        (None, Some(measurement)) => used(measurement),
        (None, None) => claim.clone(),
    };
    frames(args, (&claim, one.as_ref()), (&claim_two, two.as_ref()), &light).map(Some)
}

/// What the show states of both.
fn matrices(one: &Camera, two: &Camera, light: &Light) -> Result<ColourFound, Failure> {
    let chart = classic();
    let reference = chart.reference(light).map_err(|why| Failure::new(why.message))?;
    let modes = by_matrices(&chart, &reference, &one.to_d65(), &two.to_d65()).map_err(failure)?;
    Ok(ColourFound { frames: Vec::new(), light: light.name.clone(), sentences: modes.words(), modes })
}

/// What two frames of one chart say. The first mode's matrix is the show's, or fitted to its frame.
fn frames(
    args: &Measure,
    one: (&Claim, Option<&Camera>),
    two: (&Claim, Option<&Camera>),
    light: &Light,
) -> Result<ColourFound, Failure> {
    let [path_one, path_two] = &args.chart[..] else {
        return Err(Failure::new("--chart takes two frames: this mode's and the other mode's"));
    };
    let chart = classic();
    let input = Input { layer: args.layer.as_deref(), memory: &args.memory, ei: args.ei };
    let first = input.read(path_one, &chart, light, one, None)?;
    let second = input.read(path_two, &chart, light, two, None)?;
    let matrix = match one.1 {
        Some(camera) => camera.to_d65(),
        None => colours(&chart, std::slice::from_ref(&first.shot), None).map_err(failure)?.matrix,
    };
    let modes = by_frames(&chart, &first.shot, &second.shot, &matrix).map_err(failure)?;
    let frame =
        |read: &crate::commands::chart::Read| ColourFrame { file: read.shot.name.clone(), sha256: read.sha256.clone() };
    let frames = vec![frame(&first), frame(&second)];
    Ok(ColourFound { frames, light: light.name.clone(), sentences: modes.words(), modes })
}

/// The part of the report on it.
pub(super) fn text(found: &ColourFound) -> String {
    let how = if found.frames.is_empty() { "as the show states both" } else { "by the chart in both" };
    let mut text = format!("what the second does to colours, {how}, in {}\n", found.light);
    found.sentences.iter().for_each(|said| field(&mut text, "", said));
    let rows = found.modes.matrix.map(|row| row.map(|v| format!("{v:.5}")).join(", "));
    field(&mut text, "matrix", &format!("of the second, light to XYZ: [{}]", rows.join("], [")));
    let _ = writeln!(text, "\n  CIEDE2000                first's matrix  its own");
    for (i, patch) in found.modes.patches.iter().enumerate() {
        let name: String = patch.name.chars().take(20).collect();
        let _ = writeln!(text, "  {:>3} {name:<20} {:14.2} {:8.2}", i + 1, patch.through_first, patch.by_its_own);
    }
    text
}
