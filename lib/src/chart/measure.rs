//! Finds the colours of a camera from charts in frames.

use super::fit::{self, Fit, Published, Seen, differences, every, published, without_patch};
use super::light::Light;
use super::read::View;
use super::{Chart, ChartError};
use crate::difference::Statistics;
use crate::gamut::Gamut;
use crate::math::{exp2, log2};
use nalgebra::{Matrix3, Vector3};

/// A chart in one frame, and its light.
#[derive(Debug, Clone)]
pub struct Shot {
    /// The file.
    pub name: String,
    /// The light that it was shot under.
    pub light: Light,
    /// What was read.
    pub view: View,
}

/// Greys further than this from neutral, in stops of red or blue against green, are balanced before the fit.
const NEUTRAL: f64 = 0.03;
/// A light that falls off by more than this over the chart cannot be corrected, in stops.
const SLOPE: f64 = 0.7;
/// One that falls off by less than this is even.
const FLAT: f64 = 0.03;
/// An exposure that is further off than this is refused, in stops.
pub const EXPOSURE: f64 = 3.0;
/// Rounds of balancing, correcting and fitting.
const ROUNDS: usize = 4;
/// A matrix that leaves more than this in the mean, or [`LEFT_MOST`] at most, is worth a warning.
pub const LEFT_MEAN: f64 = 2.0;
/// See [`LEFT_MEAN`].
pub const LEFT_MOST: f64 = 6.0;

/// The findings of one frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Frame {
    /// The file.
    pub name: String,
    /// The name of its light.
    pub light: String,
    /// Correlated colour temperature of its light, kelvin; not a number where it is not known.
    pub kelvin: f64,
    /// Stops by which it is darker than this chart should be by the curve; below 0 it is brighter.
    pub under: f64,
    /// Stops of red and of blue over green that its greys had, and that were taken off: the camera's white balance.
    pub cast: [f64; 2],
    /// Stops by which the light falls off across and down the chart, which were corrected.
    pub slope: [f64; 2],
    /// CIEDE2000 of each patch through the gamut that the camera had before; none without one.
    pub before: Option<Vec<f64>>,
    /// CIEDE2000 of each patch through the fitted matrix.
    pub after: Vec<f64>,
    /// CIEDE2000 of each patch in a fit without that patch.
    pub without_patch: Vec<f64>,
    /// Patches that were fitted to.
    pub used: Vec<bool>,
    /// Reference colours, XYZ under D65, and what the matrix makes of the patches.
    pub colours: Vec<[[f64; 3]; 2]>,
}

/// The colours of a camera.
#[derive(Debug, Clone, PartialEq)]
pub struct Colours {
    /// Camera light to XYZ under D65; white is kept.
    pub matrix: Matrix3<f64>,
    /// The same as primaries and white; none where no primaries can state it.
    pub gamut: Option<Gamut>,
    /// Each frame.
    pub frames: Vec<Frame>,
    /// CIEDE2000 that is left, over all patches and frames.
    pub after: Statistics,
    /// The same through the gamut that the camera had before.
    pub before: Option<Statistics>,
    /// The same of each patch in a fit without that patch, in any frame.
    pub without_patch: Statistics,
    /// Published gamuts, the best first.
    pub published: Vec<Published>,
    /// Remarks, in sentences.
    pub remarks: Vec<String>,
}

/// A frame on its way to the fit.
struct Prepared {
    seen: Seen,
    /// Patches that are grey.
    greys: Vec<usize>,
    cast: [f64; 2],
    slope: [f64; 2],
}

/// The colours of a camera by one or more frames of a chart; `before` takes its light to XYZ under D65 as it is
/// taken to do.
///
/// # Errors
/// Light that falls off too much, exposure that is far off, too few patches.
pub fn colours(chart: &Chart, shots: &[Shot], before: Option<&Matrix3<f64>>) -> Result<Colours, ChartError> {
    let prepared = shots.iter().map(|shot| prepared(chart, shot)).collect::<Result<Vec<_>, _>>()?;
    found(chart, shots, prepared, before)
}

/// The colours of a camera as another one has them: by frames of the same chart in the same light, in pairs. `matrix` takes the
/// light of the other camera to XYZ under D65, whose exposure, white balance and fall-off are taken as they are. What [`Frame::under`] and
/// [`Frame::cast`] say is against the other camera.
///
/// # Errors
/// As [`colours`]; frames that are no pairs.
pub fn matched(
    chart: &Chart,
    shots: &[Shot],
    others: &[Shot],
    matrix: &Matrix3<f64>,
    before: Option<&Matrix3<f64>>,
) -> Result<Colours, ChartError> {
    if shots.len() != others.len() {
        return Err(ChartError::Fit("each frame needs one of the other camera".to_owned()));
    }
    let mut all = Vec::new();
    for (shot, other) in shots.iter().zip(others) {
        let mut one = prepared(chart, shot)?;
        let two = prepared(chart, other)?;
        let usable = one.seen.used.iter().zip(&two.seen.used).map(|(a, b)| *a && *b).collect();
        one.seen.reference = two.seen.light.iter().map(|rgb| (matrix * Vector3::from(*rgb)).into()).collect();
        one.seen.used = usable;
        // The greys are those that the other camera sees as grey.
        one.greys = chart.greys(&one.seen.reference);
        all.push(one);
    }
    found(chart, shots, all, before)
}

/// A frame before anything is taken off.
fn prepared(chart: &Chart, shot: &Shot) -> Result<Prepared, ChartError> {
    let reference = chart.reference(&shot.light).map_err(|why| ChartError::Fit(why.message))?;
    let greys = chart.greys(&reference);
    let used = shot.view.patches.iter().map(super::read::Reading::usable).collect();
    let light = shot.view.patches.iter().map(|p| p.light.map(|v| v.max(0.0))).collect();
    Ok(Prepared { seen: Seen { light, reference, used }, greys, cast: [0.0; 2], slope: [0.0; 2] })
}

fn found(
    chart: &Chart,
    shots: &[Shot],
    mut prepared: Vec<Prepared>,
    before: Option<&Matrix3<f64>>,
) -> Result<Colours, ChartError> {
    let mut fitted = solve(&prepared)?;
    for _ in 0..ROUNDS {
        let mut changed = false;
        for (frame, stops) in prepared.iter_mut().zip(&fitted.stops) {
            changed |= balance(frame, &fitted.matrix);
            changed |= mend(chart, frame, &fitted.matrix, *stops);
        }
        if !changed {
            break;
        }
        fitted = solve(&prepared)?;
    }
    for (shot, (frame, stops)) in shots.iter().zip(prepared.iter().zip(&fitted.stops)) {
        let name = &shot.name;
        let most = frame.slope.iter().map(|s| s.abs()).fold(0.0, f64::max);
        if most > SLOPE {
            return Err(ChartError::Uneven(format!(
                "{name}: the light falls off by {most:.1} stops over the chart: light it evenly, from two sides"
            )));
        }
        if stops.abs() > EXPOSURE {
            let way = if *stops > 0.0 { "under" } else { "over" };
            return Err(ChartError::Exposure(format!(
                "{name}: the chart is exposed {:.1} stops {way}: its white should lie about 2.3 stops over mid-grey",
                stops.abs()
            )));
        }
    }
    let seen: Vec<Seen> = prepared.iter().map(|p| p.seen.clone()).collect();
    let gamut = fit::gamut(&fitted.matrix).ok();
    let old = before.map(|matrix| fit::with_matrix(&seen, matrix));
    let mut unseen = without_patch(&seen)?;
    let frames: Vec<Frame> = (0..shots.len())
        .map(|i| {
            let (shot, frame, stops) = (&shots[i], &prepared[i], fitted.stops[i]);
            let made = |rgb: &[f64; 3]| (fitted.matrix * (Vector3::from(*rgb) * exp2(stops))).into();
            Frame {
                name: shot.name.clone(),
                light: shot.light.name.clone(),
                kelvin: shot.light.kelvin,
                under: stops,
                cast: frame.cast,
                slope: frame.slope,
                before: old.as_ref().map(|o| differences(&seen[i], &o.matrix, o.stops[i])),
                after: differences(&seen[i], &fitted.matrix, stops),
                without_patch: std::mem::take(&mut unseen[i]),
                used: frame.seen.used.clone(),
                colours: seen[i].reference.iter().zip(&seen[i].light).map(|(r, l)| [*r, made(l)]).collect(),
            }
        })
        .collect();
    let after = Statistics::of(&every(&seen, &fitted));
    let before = old.map(|o| Statistics::of(&every(&seen, &o)));
    let unseen: Vec<f64> = frames
        .iter()
        .flat_map(|f| f.without_patch.iter().zip(&f.used).filter(|(_, used)| **used).map(|(d, _)| *d))
        .collect();
    let without_patch = Statistics::of(&unseen);
    let published = published(&seen);
    let remarks = remarks(chart, &frames, &after, &without_patch, &published);
    Ok(Colours { matrix: fitted.matrix, gamut, frames, after, before, without_patch, published, remarks })
}

fn solve(prepared: &[Prepared]) -> Result<Fit, ChartError> {
    fit::fit(&prepared.iter().map(|p| p.seen.clone()).collect::<Vec<_>>())
}

/// Takes off what cast the greys have beyond what the matrix expects of them. Whether anything was.
fn balance(frame: &mut Prepared, matrix: &Matrix3<f64>) -> bool {
    let Some(inverse) = matrix.try_inverse() else { return false };
    let mut cast = [0.0; 2];
    // Without black: flare lies on it.
    let greys: Vec<usize> =
        frame.greys.iter().copied().filter(|i| frame.seen.used[*i] && frame.seen.reference[*i][1] > 0.05).collect();
    if greys.is_empty() {
        return false;
    }
    for i in &greys {
        let expected = inverse * Vector3::from(frame.seen.reference[*i]);
        let ratio = |c: usize| frame.seen.light[*i][c] / expected[c];
        cast[0] += log2(ratio(0) / ratio(1)) / greys.len() as f64;
        cast[1] += log2(ratio(2) / ratio(1)) / greys.len() as f64;
    }
    let whole = [frame.cast[0] + cast[0], frame.cast[1] + cast[1]];
    let far = |c: [f64; 2]| c.iter().any(|v| v.abs() > NEUTRAL);
    if !cast.iter().all(|c| c.is_finite()) || !far(whole) || cast.iter().all(|c| c.abs() < 1e-6) {
        return false;
    }
    for rgb in &mut frame.seen.light {
        rgb[0] *= exp2(-cast[0]);
        rgb[2] *= exp2(-cast[1]);
    }
    frame.cast = whole;
    true
}

/// Takes off a slope of the light over the chart, by the luminance of all patches. Whether there was one.
fn mend(chart: &Chart, frame: &mut Prepared, matrix: &Matrix3<f64>, stops: f64) -> bool {
    let at = |i: usize| {
        let along = |at: usize, count: usize| if count > 1 { at as f64 / (count - 1) as f64 - 0.5 } else { 0.0 };
        [along(i % chart.columns, chart.columns), along(i / chart.columns, chart.rows)]
    };
    let mut normal = Matrix3::zeros();
    let mut right = Vector3::zeros();
    let mut rows = Vec::new();
    for i in (0..frame.seen.light.len()).filter(|i| frame.seen.used[*i] && frame.seen.reference[*i][1] > 0.05) {
        let found = (matrix * Vector3::from(frame.seen.light[i])).y;
        if found > 0.0 {
            let off = log2(found / frame.seen.reference[i][1]) + stops;
            let [x, y] = at(i);
            let row = Vector3::new(1.0, x, y);
            normal += row * row.transpose();
            right += row * off;
            rows.push((row, off));
        }
    }
    let Some(inverse) = normal.try_inverse() else { return false };
    let plane = inverse * right;
    let left = rows.iter().map(|(row, off)| (off - plane.dot(row)) * (off - plane.dot(row))).sum::<f64>();
    let variance = left / (rows.len() as f64 - 3.0).max(1.0);
    // A slope within three standard errors, or too small to see, is chance: the matrix leaves differences of its own.
    let clear = |k: usize| plane[k].abs() > (3.0 * (variance * inverse[(k, k)]).sqrt()).max(FLAT);
    let slope = [1, 2].map(|k| if clear(k) { plane[k] } else { 0.0 });
    if slope == [0.0; 2] {
        return false;
    }
    for (i, rgb) in frame.seen.light.iter_mut().enumerate() {
        let [x, y] = at(i);
        let gain = exp2(-(slope[0] * x + slope[1] * y));
        *rgb = rgb.map(|v| v * gain);
    }
    frame.slope = [frame.slope[0] + slope[0], frame.slope[1] + slope[1]];
    true
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

fn remarks(
    chart: &Chart,
    frames: &[Frame],
    after: &Statistics,
    without_patch: &Statistics,
    published: &[Published],
) -> Vec<String> {
    let mut said = Vec::new();
    if after.mean > LEFT_MEAN || after.max > LEFT_MOST {
        said.push(format!(
            "no matrix makes this camera see these colours as eyes do: {:.1} in the mean and {:.1} at most remain; colours near the worst patches will differ from other cameras",
            after.mean, after.max
        ));
    }
    if without_patch.mean > 1.3 * after.mean + 0.1 {
        said.push(format!(
            "expect {:.1} in the mean of colours that are not on the chart: the fit has learnt the chart in part",
            without_patch.mean
        ));
    }
    for frame in frames {
        let name = &frame.name;
        if frame.cast.iter().any(|c| *c != 0.0) {
            let [red, blue] = frame.cast;
            said.push(format!(
                "{name}: the greys had a cast of {red:+.2} stops in red and {blue:+.2} in blue against green, which was taken off: the camera's white balance was not that of the light"
            ));
        }
        let most = frame.slope.iter().map(|s| s.abs()).fold(0.0, f64::max);
        if most > 0.0 {
            said.push(format!("{name}: the light falls off by {most:.2} stops over the chart, which was corrected"));
        }
        if frame.under.abs() > 1.0 {
            let way = if frame.under > 0.0 { "under" } else { "over" };
            said.push(format!("{name}: the chart is exposed {:.1} stops {way}", frame.under.abs()));
        }
        let unused: Vec<&str> =
            chart.patches.iter().zip(&frame.used).filter(|(_, used)| !**used).map(|(p, _)| p.name.as_str()).collect();
        if !unused.is_empty() {
            said.push(format!("{name}: not used, since they clip or are not even: {}", unused.join(", ")));
        }
    }
    if !chart.has_spectra() && frames.iter().all(|f| f.kelvin.is_finite()) {
        said.push(
            "the chart is described by colours, not spectra: they hold for the light that they were measured under, and were only adapted to the light here".to_owned(),
        );
    }
    if let Some(best) = published.first() {
        let left = mean(&best.differences);
        if left < after.mean + 0.3 {
            said.push(format!(
                "the published gamut {} is nearly as good, with {left:.1} in the mean: use it",
                best.name
            ));
        }
    }
    said
}
