//! What was found, as text.

use super::Found;
use super::written::{rows, stated};
use crate::args::Chart as Args;
use crate::failure::Failure;
use crate::output::{COLUMNS, wrap};
use rushlight::camera::{Camera, LightMatrix};
use rushlight::chart::measure::{Colours, Shot};
use rushlight::chart::report::{Figures, ThroughLook};
use rushlight::chart::{Chart, fit};
use rushlight::difference::{Difference, Statistics};
use rushlight::math::exp2;
use rushlight::measure::Claim;
use rushlight::message::unknown;
use rushlight::pipeline::Pipeline;
use rushlight::show::Show;
use std::fmt::Write as _;

pub(crate) fn field(text: &mut String, name: &str, said: &str) {
    for (i, line) in wrap(said, COLUMNS - 12).into_iter().enumerate() {
        let name = if i == 0 { name } else { "" };
        let _ = writeln!(text, "{}", format!("  {name:<10}{line}").trim_end());
    }
}

fn figures(s: impl Into<Figures>) -> String {
    let s: Figures = s.into();
    format!("{:.2} in the mean, {:.2} at 95 %, {:.2} at most", s.mean, s.p95, s.max)
}

/// What remains between two cameras through a look, patch by patch.
fn through(seen: &ThroughLook) -> String {
    let ThroughLook { look, display, formula, .. } = seen;
    let mut text = format!("\n  through the look {look} on {display}, exposure matched, {formula}:\n");
    field(&mut text, "before", &figures(seen.before));
    field(&mut text, "matched", &figures(seen.after));
    let _ = writeln!(text, "\n                             before  matched");
    for (i, patch) in seen.patches.iter().enumerate() {
        let name: String = patch.name.chars().take(20).collect();
        let _ = writeln!(text, "  {:>3} {name:<20} {:8.2} {:8.2}", i + 1, patch.before, patch.after);
    }
    text
}

pub(super) fn text(found: &Found) -> String {
    let c = &found.colours;
    let mut text = String::new();
    let _ = writeln!(text, "Error after the fit: CIEDE2000 {}", figures(&c.after));
    field(&mut text, "target", &found.target);
    field(&mut text, "curve", &found.claim.name);
    if let (Some(before), Some(had)) = (&c.before, &found.had) {
        field(&mut text, "before", &format!("{}: {had} of the show", figures(before)));
    }
    field(&mut text, "unseen", &format!("{}: each patch in a fit without it", figures(&c.without_patch)));
    match &c.gamut {
        Some(gamut) => field(&mut text, "gamut", &format!("{}, white unchanged", stated(gamut))),
        None => {
            let said = "no primaries can state this matrix: --write needs --matrix and --date for it";
            let rows = LightMatrix::new(c.matrix).map(|m| rows(&m).to_string()).unwrap_or_default();
            field(&mut text, "matrix", &format!("{rows}, white unchanged; {said}"));
        }
    }
    for (light, own) in &found.by_light {
        field(&mut text, "alone", &format!("{} in {} by its own matrix", figures(&own.after), light.name));
    }
    if let Some((kelvin, matrix)) = &found.between {
        let said =
            fit::gamut(matrix.to_xyz()).map_or_else(|_| rows(matrix).to_string(), |gamut| stated(&gamut).to_string());
        field(&mut text, &format!("{kelvin} K"), &format!("{said}, between the two lights by reciprocal kelvin"));
    }
    let published: Vec<String> =
        c.published.iter().take(4).map(|p| format!("{} {:.2}", p.name, Statistics::of(&p.differences).mean)).collect();
    field(&mut text, "published", &format!("{} (mean)", published.join(", ")));
    for frame in &c.frames {
        let [red, blue] = frame.cast;
        field(
            &mut text,
            "frame",
            &format!(
                "{}, {}{}: exposure {:+.2} stops, cast {red:+.2} red {blue:+.2} blue, fall-off {:.2}",
                frame.name,
                frame.light,
                if frame.kelvin.is_finite() { format!(" ({:.0} K)", frame.kelvin) } else { String::new() },
                -frame.under,
                frame.slope.iter().map(|s| s.abs()).fold(0.0, f64::max)
            ),
        );
    }
    text += "\n  CIEDE2000                ";
    text += if c.before.is_some() { "before    after   unseen\n" } else { "          after   unseen\n" };
    let mean = |of: &dyn Fn(&rushlight::chart::measure::Frame) -> f64| {
        c.frames.iter().map(of).sum::<f64>() / c.frames.len() as f64
    };
    for (i, patch) in found.chart.patches.iter().enumerate() {
        let used = c.frames.iter().any(|f| f.used[i]);
        let before = if c.before.is_some() {
            format!("{:8.2}", mean(&|f| f.before.as_ref().map_or(f64::NAN, |b| b[i])))
        } else {
            " ".repeat(8)
        };
        let name: String = patch.name.chars().take(20).collect();
        let unused = if used { "" } else { "  not used" };
        let _ = writeln!(
            text,
            "  {:>3} {name:<20} {before} {:8.2} {:8.2}{unused}",
            i + 1,
            mean(&|f| f.after[i]),
            mean(&|f| f.without_patch[i])
        );
    }
    if let Some(seen) = &found.seen {
        text += &through(seen);
    }
    text.push('\n');
    for remark in &c.remarks {
        field(&mut text, "note", remark);
    }
    let said = "The matrix holds for this light, this lens and this setting of the camera, and for colours like those of a chart. Deep LED colours are not like them. Look at the picture before you use it.";
    wrap(said, COLUMNS).iter().for_each(|line| text += &format!("{line}\n"));
    text
}

/// Every patch of both cameras through the look, where one is named.
pub(super) fn through_look(
    args: &Args,
    show: &Show,
    chart: &Chart,
    claim: &Claim,
    (found, shots): (&Colours, &[Shot]),
    (name, others): (&str, &[Shot]),
) -> Result<Option<ThroughLook>, Failure> {
    let (Some(look), Some(display)) = (args.look.as_deref(), args.display.as_deref()) else { return Ok(None) };
    let no = |option: &str, kind: &str, name: &str, all: Vec<&String>| {
        Failure::new(format!("{option}: {}", unknown(kind, name, all.into_iter().map(String::as_str))))
    };
    let looked = show.looks().get(look).ok_or_else(|| no("--look", "look", look, show.looks().keys().collect()))?;
    let shown = show
        .displays()
        .get(display)
        .ok_or_else(|| no("--display", "display", display, show.displays().keys().collect()))?;
    let own = super::of_show(show, "--camera", args.camera.as_deref().unwrap_or_default())?;
    let other = super::of_show(show, "--to", name)?;
    let matrix = LightMatrix::new(found.matrix).map_err(Failure::refused)?;
    let fitted = Camera::of_matrix(claim.curve.clone(), &matrix, claim.range, Vec::new()).map_err(Failure::refused)?;
    let path = |camera: &Camera| Pipeline::new(camera, &looked.item, &shown.item).map_err(Failure::refused);
    let (now, then, target) = (path(&fitted)?, path(own)?, path(other)?);
    let difference = Difference::on(&shown.item);
    let mut differences = Vec::new();
    for ((shot, frame), other_shot) in shots.iter().zip(&found.frames).zip(others) {
        for (patch, wanted) in shot.view.patches.iter().zip(&other_shot.view.patches) {
            let signal = |light: [f64; 3]| light.map(|v| claim.encode(v));
            let wanted =
                difference.place(target.apply(wanted.light.map(|v| other.range().encode(other.curve().encode(v)))));
            let gain = exp2(frame.under);
            let [r, g, b] = patch.light;
            let matched = [r * gain * exp2(-frame.cast[0]), g * gain, b * gain * exp2(-frame.cast[1])];
            let exposed = patch.light.map(|v| v * gain);
            differences.push(
                [(&then, exposed), (&now, matched)]
                    .map(|(path, light)| difference.between(wanted, difference.place(path.apply(signal(light))))),
            );
        }
    }
    Ok(Some(ThroughLook::new([look, display], difference.formula().title(), chart, &differences)))
}
