//! Lights with a spectrum: lines, bands as of LEDs, lamps, alone and mixed with daylight on skin.
//!
//! The CIE 1931 observer makes XYZ of a spectrum, the camera's own primaries make signal of it, as a sensor would that
//! saw as the observer does. Exposure is counted by the brightest camera channel, in stops over mid-grey.

mod rows;

use super::figures::{LIGHTS_HUE, LIGHTS_OUTSIDE, LIGHTS_SHAPE, LIGHTS_WARM};
use super::path::Path;
use super::rays::Sweep;
use super::search::{Axis, CLIMBS, largest, largest_of};
use super::turn::{self, Turn};
use super::{Found, Light, Point, Reading, Run};
use crate::adaptation::Adaptation;
use crate::camera::Camera;
use crate::chromaticity::{ACES, D65};
use crate::gamut::AP1;
use crate::math;
use crate::spectrum::{COUNT, FIRST, LAST, Spectrum, gaussian, illuminant_d65, line, planck, test_colours};
use crate::transfer::MID_GREY;
use nalgebra::Matrix3;
use rayon::prelude::*;
use std::collections::HashMap;

pub use rows::{LightOutcome, LightRow, NAMED, NamedLight, SpectrumRow, named_signals};
pub(super) use rows::{named, spectrum};

/// Stops over mid-grey from which and up to which a light is raised, and the steps of pictures of it.
pub const SWEEP: (f64, f64, f64) = (-2.0, 5.0, 0.25);
/// Widths of a band, nm.
const WIDTHS: [f64; 2] = [10.0, 40.0];
/// Width of the band that is mixed with daylight, nm.
const MIXED_WIDTH: f64 = 20.0;
/// Where such a band lies, nm: beyond, it would have to outshine the daylight by far to be seen at all.
const MIXED: [f64; 2] = [400.0, 700.0];
/// Stops over mid-grey up to which lit skin has to keep its shape. Daylit skin lies half a stop to one and a half over
/// mid-grey (common practice, no source); at four it is overexposed by two and a half stops and more, and belongs to
/// white. A sign or a tube is still a subject at five.
const SKIN_SHAPED_TO: f64 = 4.0;
/// Steps of wavelength of the grid, nm.
const STEP: f64 = 5.0;
/// Where blue signs and stage blues lie, nm: such a light is named in words.
const NEON_BLUE: [f64; 2] = [455.0, 475.0];
/// The number of skin among the test colours of CIE 13.3.
const SKIN: usize = 13;

#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    Band(f64, f64),
    Line(f64),
    /// Lines: wavelengths and shares.
    Lines([(f64, f64); 4]),
    Lamp(f64),
    /// Skin in daylight and this share of a band.
    Skin(f64, f64),
}

/// The lights of one camera.
pub(super) struct Lights {
    camera: Camera,
    to_ap1: Matrix3<f64>,
    skin: Spectrum,
    /// Skin in daylight, brightest camera channel at mid-grey.
    daylit: [f64; 3],
    /// The brightest exposure: what the signal carries.
    most: f64,
    /// The lights of each family's grid, by their two numbers.
    known: [HashMap<[u64; 2], Option<[f64; 3]>>; 3],
}

impl Lights {
    pub(super) fn of(camera: &Camera) -> Self {
        let mut lights = Self::without_grid(camera);
        lights.known = families().map(|family| {
            let light = |at: [f64; 2]| (at.map(f64::to_bits), lights.of_kind((family.kind)(at[0], at[1])));
            family.grid().into_par_iter().map(light).collect()
        });
        lights
    }

    /// For lights by name alone.
    fn without_grid(camera: &Camera) -> Self {
        let skin = test_colours().nth(SKIN - 1).expect("fourteen samples").reflectance;
        let to_ap1 = AP1.from_xyz() * Adaptation::Bradford.matrix(D65, ACES);
        let most = math::log2((camera.curve().decode(1.0) / MID_GREY).max(1e-3)).min(SWEEP.1);
        let known = Default::default();
        let mut lights = Self { camera: camera.clone(), to_ap1, skin, daylit: [MID_GREY; 3], most, known };
        let daylight = illuminant_d65().times(&lights.skin).expect("a table times a table");
        lights.daylit = lights.unit(&daylight).unwrap_or([MID_GREY; 3]);
        lights
    }

    /// The light of a family, by its place among [`families`] and its two numbers.
    fn of_family(&self, family: usize, kind: fn(f64, f64) -> Kind, [nm, second]: [f64; 2]) -> Option<[f64; 3]> {
        let known = self.known[family].get(&[nm.to_bits(), second.to_bits()]);
        known.copied().unwrap_or_else(|| self.of_kind(kind(nm, second)))
    }

    /// AP1 light of a spectrum whose brightest camera channel is at mid-grey; none of what the camera does not see.
    fn unit(&self, spectrum: &Spectrum) -> Option<[f64; 3]> {
        let light = self.to_ap1 * spectrum.to_xyz();
        let size = light.amax();
        if size <= 0.0 {
            return None;
        }
        let light = light * (MID_GREY / size);
        let camera = self.camera.linearise(self.camera.encode(light));
        let brightest = camera[0].max(camera[1]).max(camera[2]);
        (brightest > 0.0).then(|| (light * (MID_GREY / brightest)).into())
    }

    fn of_kind(&self, kind: Kind) -> Option<[f64; 3]> {
        match kind {
            Kind::Band(nm, width) => self.unit(&gaussian(nm, width).ok()?),
            Kind::Line(nm) => self.unit(&line(nm).ok()?),
            Kind::Lines(lines) => {
                let mut samples = [0.0; COUNT];
                for (nm, share) in lines {
                    let one = line(nm).ok()?;
                    samples.iter_mut().zip(one.samples()).for_each(|(sum, v)| *sum += share * v);
                }
                self.unit(&Spectrum::new(samples).ok()?)
            }
            Kind::Lamp(kelvin) => self.unit(&planck(kelvin).ok()?),
            Kind::Skin(_, 0.0) => Some(self.daylit),
            Kind::Skin(nm, share) => {
                let band = self.unit(&gaussian(nm, MIXED_WIDTH).ok()?.times(&self.skin).ok()?)?;
                let mixed: [f64; 3] = std::array::from_fn(|i| (1.0 - share) * self.daylit[i] + share * band[i]);
                self.unit_of(mixed)
            }
        }
    }

    /// The same chromaticity with the brightest camera channel at mid-grey.
    fn unit_of(&self, ap1: [f64; 3]) -> Option<[f64; 3]> {
        let camera = self.camera.linearise(self.camera.encode(ap1));
        let brightest = camera[0].max(camera[1]).max(camera[2]);
        (brightest > 0.0).then(|| ap1.map(|c| c * MID_GREY / brightest))
    }

    /// Camera signal of a light so many stops over mid-grey; what the signal cannot carry is cut off, as the camera does.
    fn signal(&self, unit: [f64; 3], stops: f64) -> [f64; 3] {
        let gain = math::exp2(stops);
        self.camera.encode(unit.map(|c| c * gain)).map(|v| v.clamp(0.0, 1.0))
    }
}

/// A family of lights with two numbers.
#[derive(Clone, Copy)]
struct Family {
    axes: [Axis; 2],
    kind: fn(f64, f64) -> Kind,
    /// Stops over mid-grey up to which it has to keep its shape.
    shaped_to: f64,
}

fn families() -> [Family; 3] {
    let nm = Axis::new(FIRST, LAST, STEP);
    [
        Family { axes: [nm, Axis::new(WIDTHS[0], WIDTHS[1], 10.0)], kind: Kind::Band, shaped_to: SWEEP.1 },
        // A line has no second number.
        Family { axes: [nm, Axis::new(0.0, 0.0, 1.0)], kind: |nm, _| Kind::Line(nm), shaped_to: SWEEP.1 },
        Family {
            axes: [Axis::new(MIXED[0], MIXED[1], STEP), Axis::new(0.1, 0.9, 0.2)],
            kind: Kind::Skin,
            shaped_to: SKIN_SHAPED_TO,
        },
    ]
}

impl Family {
    fn grid(&self) -> Vec<[f64; 2]> {
        let [nm, second] = self.axes.each_ref().map(Axis::values);
        nm.iter().flat_map(|nm| second.iter().map(|s| [*nm, *s])).collect()
    }
}

/// A light of a family in words.
fn words(kind: Kind) -> String {
    let blue = |nm: f64| if (NEON_BLUE[0]..=NEON_BLUE[1]).contains(&nm) { "neon blue: " } else { "" };
    match kind {
        Kind::Band(nm, width) => format!("{}band at {nm:.0} nm, {width:.0} nm wide", blue(nm)),
        Kind::Line(nm) => format!("{}line at {nm:.0} nm", blue(nm)),
        Kind::Skin(nm, share) => {
            format!("{}skin in daylight and a band at {nm:.0} nm ({:.0} %)", blue(nm), 100.0 * share)
        }
        Kind::Lamp(kelvin) => format!("black body of {kelvin} K"),
        Kind::Lines(_) => "lines".to_owned(),
    }
}

fn point(run: &Run<'_>, path: &Path<'_>, name: String, unit: [f64; 3], stops: f64) -> Point {
    let light = Light { hue: None, saturation: None, name: Some(name) };
    Point::new(path, run.lights.signal(unit, stops), light, Some(stops))
}

/// Exposures of the grid.
fn exposures(most: f64, step: f64) -> Vec<f64> {
    let count = ((most - SWEEP.0) / step + 1e-9).floor().max(0.0) as usize;
    (0..=count).map(|i| SWEEP.0 + step * i as f64).collect()
}

pub(super) fn measure(run: &Run<'_>, path: &Path<'_>, _sweep: &Sweep<'_>, found: &mut Found) {
    let lights = run.lights;
    let place = |unit: [f64; 3], stops: f64| path.place(lights.signal(unit, stops));
    let shape = |unit, stops| path.difference.between(place(unit, stops), place(unit, stops + 1.0));
    let exposure = |high: f64| Axis::new(SWEEP.0, high.max(SWEEP.0), 1.0);
    // A light, its exposures, and the value.
    let mut flattest: Option<(Kind, f64, f64)> = None;
    let mut turns: [Option<(Kind, [f64; 2], f64)>; 2] = [None; 2];
    for (i, family) in families().into_iter().enumerate() {
        let Family { axes, kind, shaped_to } = family;
        let grid = family.grid();
        let brightest = lights.most.min(shaped_to) - 1.0;
        let unit = |nm, second| lights.of_family(i, kind, [nm, second]);

        let seeds: Vec<[f64; 3]> = grid
            .iter()
            .flat_map(|[nm, s]| exposures(brightest, 1.0).into_iter().map(|stops| [*nm, *s, stops]))
            .collect();
        let flat = |[nm, s, stops]: [f64; 3]| unit(nm, s).map_or(f64::NEG_INFINITY, |u| -shape(u, stops));
        let worst = largest(&flat, &[axes[0], axes[1], exposure(brightest)], &seeds);
        if let Some(([nm, s, stops], value)) = worst
            && flattest.is_none_or(|f| -value < f.2)
        {
            flattest = Some((kind(nm, s), stops, -value));
        }

        let hue = |unit, stops| turn::hue(run, path, lights.signal(unit, stops));
        let seeds: Vec<[Option<[f64; 4]>; 2]> = grid
            .par_iter()
            .filter_map(|[nm, s]| {
                let u = unit(*nm, *s)?;
                let stops = exposures(lights.most, 1.0).into_iter();
                let along: Vec<_> = stops.filter_map(|stops| Some((stops, hue(u, stops)?))).collect();
                Some(turn::widest(&along).map(|ends| ends.map(|[from, to]| [*nm, *s, from, to])))
            })
            .collect();
        // The second breaks nothing, and is not worth as many climbs.
        for ((to_yellow, climbs), turns) in
            [(false, turn::climbs(run, path)), (true, CLIMBS / 3)].into_iter().zip(&mut turns)
        {
            let value = |[nm, s, from, to]: [f64; 4]| {
                let Some(u) = unit(nm, s) else { return f64::NEG_INFINITY };
                let (Some(darker), Some(brighter)) = (hue(u, from.min(to)), hue(u, from.max(to))) else {
                    return f64::NEG_INFINITY;
                };
                Turn::between(darker, brighter).of_kind(to_yellow)
            };
            let seeds: Vec<[f64; 4]> = seeds.iter().filter_map(|s| s[usize::from(to_yellow)]).collect();
            let stops = exposure(lights.most);
            let worst = largest_of(climbs, &value, &[axes[0], axes[1], stops, stops], &seeds);
            if let Some(([nm, s, from, to], value)) = worst
                && turns.is_none_or(|t| value > t.2)
            {
                *turns = Some((kind(nm, s), [from.min(to), from.max(to)], value));
            }
        }
    }
    let at = |kind, stops| lights.of_kind(kind).map(|unit| point(run, path, words(kind), unit, stops));
    let shape = flattest.map_or(Reading::nowhere(0.0), |(kind, stops, value)| {
        Reading::new(value, at(kind, stops), at(kind, stops + 1.0))
    });
    found.add(&LIGHTS_SHAPE, shape);
    for (figure, turn) in [&LIGHTS_HUE, &LIGHTS_WARM].into_iter().zip(turns) {
        let reading = turn.map_or(Reading::nowhere(0.0), |(kind, [from, to], value)| {
            let unit = lights.of_kind(kind);
            let total = unit.and_then(|u| turn::total(run, path, [from, to], |stops| lights.signal(u, stops)));
            Reading { total, ..Reading::new(value, at(kind, from), at(kind, to)) }
        });
        found.add(figure, reading);
    }
    found.add(&LIGHTS_OUTSIDE, Reading::nowhere(*run.outside.get_or_init(|| outside_share(run))));
}

/// Whether a light lies outside the display's gamut before it is brought in.
fn is_outside(run: &Run<'_>, signal: [f64; 3]) -> bool {
    const ROUNDING: f64 = 1e-6;
    let stages = run.pipeline.stages(signal);
    let light = stages.iter().find(|s| s.name == "display").map_or([0.0; 3], |s| s.rgb);
    light.iter().any(|c| *c < -ROUNDING || *c > run.display.peak_ratio() + ROUNDING)
}

/// The share of lines and bands, at every stop, outside the display's gamut.
fn outside_share(run: &Run<'_>) -> f64 {
    let signals: Vec<[f64; 3]> = families()[..2]
        .iter()
        .flat_map(|family| family.grid().into_iter().map(|[nm, s]| (family.kind)(nm, s)))
        .filter_map(|kind| run.lights.of_kind(kind))
        .flat_map(|unit| exposures(run.lights.most, 1.0).into_iter().map(move |stops| (unit, stops)))
        .map(|(unit, stops)| run.lights.signal(unit, stops))
        .collect();
    let outside = signals.par_iter().filter(|signal| is_outside(run, **signal)).count();
    100.0 * outside as f64 / signals.len().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::camera::Range;
    use crate::gamut::named_gamut;
    use crate::transfer::encoding;

    fn lights() -> Lights {
        let curve = encoding("slog3").unwrap().build(None).unwrap();
        Lights::of(&Camera::new(curve, &named_gamut("sgamut3-cine").unwrap().gamut, None, Range::Full, vec![]).unwrap())
    }

    #[test]
    fn every_named_light_is_a_light_at_its_exposure() {
        let lights = lights();
        for named in NAMED {
            let unit = lights.of_kind(named.kind).unwrap();
            let camera = lights.camera.linearise(lights.signal(unit, 2.0));
            let brightest = camera.iter().fold(0.0f64, |m, c| m.max(*c));
            assert!((brightest / MID_GREY - 4.0).abs() < 1e-6, "{}: {camera:?}", named.name);
        }
        assert_eq!(NAMED[0].name, "neon blue");
    }

    /// Chromaticities of the same Gaussians by colour-science 0.4.7: its CIE 1931 observer, sums of 5 nm from 380 to 780.
    #[test]
    fn named_bands_have_their_chromaticity() {
        let lights = lights();
        let back = lights.to_ap1.try_inverse().unwrap();
        for (name, x, y) in [
            ("neon blue", 0.13530597, 0.0447097),
            ("cyan LED", 0.04606925, 0.49279552),
            ("green LED", 0.15122058, 0.75870225),
            ("amber LED", 0.58347935, 0.41589845),
            ("red LED", 0.70259301, 0.29731825),
        ] {
            let named = NAMED.iter().find(|n| n.name == name).unwrap();
            let xyz = back * nalgebra::Vector3::from(lights.of_kind(named.kind).unwrap());
            let sum = xyz.sum();
            assert!((xyz.x / sum - x).abs() < 1e-7 && (xyz.y / sum - y).abs() < 1e-7, "{name}: {}", xyz / sum);
        }
    }

    /// D65 is the white of the camera.
    #[test]
    fn daylight_is_grey() {
        let unit = lights().unit(&illuminant_d65()).unwrap();
        assert!(unit.iter().all(|c| (c - MID_GREY).abs() < 1e-4), "{unit:?}");
    }

    #[test]
    fn a_blue_near_465_is_called_neon() {
        assert!(words(Kind::Band(466.0, 20.0)).starts_with("neon blue: "));
        assert!(words(Kind::Line(520.0)).starts_with("line at 520 nm"));
    }
}
