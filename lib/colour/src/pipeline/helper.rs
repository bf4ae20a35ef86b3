//! Exposure in stops and white in kelvin as numbers of a shot's correction: what the correction is given is turned as more
//! light, or light of another white, would turn it at a grey card.
//!
//! A correction of a log signal takes them as offsets, one of the display's signal as slopes. On a curve that is a logarithm they
//! are right at every light; on another one their error is measured here.

use super::Pipeline;
use crate::adaptation::Adaptation;
use crate::chromaticity::{D65, Xy};
use crate::colour::SceneLight;
use crate::invalid::{Invalid, Refusals};
use crate::math::{bounded, exp2, log2};
use crate::shot::{Correction, Grading, Order, Space};
use crate::step::balance::Balance;
use crate::step::cdl::CdlNumbers;
use crate::step::luminance_weights;
use crate::transfer::acescct::ACES_CCT;
use crate::transfer::{MID_GREY, Transfer};
use nalgebra::Vector3;
use std::array::from_fn;

/// Stops that are added at once at most.
pub(super) const MOST_STOPS: f64 = 10.0;
/// Stops from mid-grey between which a helper is measured.
const SPAN: f64 = 8.0;
/// The step of that, in stops.
const STEP: f64 = 0.25;
/// Stops by which a helper may miss and is called exact: a sixtieth of what is just seen (common practice, no source).
const EXACT: f64 = 0.005;

/// Which of the numbers a helper writes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Key {
    /// Added to what the correction is given.
    Offset,
    /// What it is given is multiplied by this.
    Slope,
}

crate::named!(Key, "number of a correction", { Offset => "offset", Slope => "slope" });

/// A correction with what a helper wrote into it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Helped {
    /// The correction.
    pub numbers: CdlNumbers,
    /// Which of its numbers changed.
    pub key: Key,
    /// What was added to the offset or multiplied into the slope, per channel, as it stands before the slope of the correction.
    pub by: [f64; 3],
    /// From how many to how many stops from mid-grey it is as exact as exposure itself; none: at the grey card alone.
    pub exact: Option<[f64; 2]>,
    /// The most that it misses between 8 stops under mid-grey and 8 over, in stops; on the display's signal none.
    pub most: Option<f64>,
}

impl Helped {
    /// In one sentence what was written, and how exact that is.
    pub fn words(&self) -> String {
        let by = self.by.map(|v| format!("{v:+.4}"));
        let one = by[0] == by[1] && by[1] == by[2];
        let by = if one { by[0].clone() } else { by.join(" ") };
        let key = match self.key {
            Key::Offset => format!("offset {by} before the slope"),
            Key::Slope => format!("slope times {}", by.replace('+', "")),
        };
        match (self.exact, self.most) {
            (Some([low, high]), Some(most)) if low <= -SPAN && high >= SPAN => {
                format!("{key}: exact from {low:+} to {high:+} stops (within {most:.3})")
            }
            (Some([low, high]), Some(most)) => {
                format!("{key}: exact from {low:+} to {high:+} stops, off by up to {most:.2} stops beyond")
            }
            (_, Some(most)) => format!("{key}: exact at mid-grey, off by up to {most:.2} stops elsewhere"),
            (_, None) => {
                format!("{key}: exact at mid-grey, and an approximation elsewhere, since it comes after the look")
            }
        }
    }
}

impl Pipeline {
    /// `numbers` with so many stops more light before them.
    ///
    /// # Errors
    /// Stops out of -10 to 10, under `stops`; numbers that no correction has.
    pub fn exposed(&self, grading: &Grading, numbers: CdlNumbers, stops: f64) -> Result<Helped, Refusals> {
        check_stops(stops)?;
        let factor = exp2(stops);
        self.helped(grading, numbers, [MID_GREY; 3], [MID_GREY * factor; 3])
    }

    /// `numbers` with light of `white`, as a camera balanced for D65 sees it, made neutral before them: a grey card under that
    /// light becomes grey, as bright as it was. A camera with a white of its own in the show has made that neutral already.
    ///
    /// # Errors
    /// A white that is no light's, or so far off that a channel has none of it, under `white`; numbers that no correction has.
    pub fn whitened(&self, grading: &Grading, numbers: CdlNumbers, white: Xy) -> Result<Helped, Refusals> {
        let card = self.card(white)?;
        self.helped(grading, numbers, card, [luminance(card); 3])
    }

    /// A grey card under light of `white`, as this camera sees it.
    ///
    /// # Errors
    /// A white that is no light's, or so far off that a channel has none of it, under `white`.
    pub(super) fn card(&self, white: Xy) -> Result<[f64; 3], Refusals> {
        let within =
            |refused: Refusals| -> Refusals { refused.into_iter().map(|r| Invalid::new("white", r.message)).collect() };
        // What D65 becomes where `white` is neutral, the other way round: how a grey card under `white` is seen.
        let seen = Balance::new(D65, white, Adaptation::Bradford).map_err(within)?;
        let mut card: [f64; 3] = (seen.matrix() * Vector3::from([MID_GREY; 3])).into();
        if let Some(balanced) = self.camera.white() {
            card = Balance::new(balanced, D65, Adaptation::Bradford).map_err(within)?.apply(card);
        }
        if !card.iter().all(|v| *v > MID_GREY / 100.0) {
            let message = "so far off that a channel has no light from it: balance the camera instead";
            return Err(Invalid::new("white", message).into());
        }
        Ok(card)
    }

    /// What the correction is given of scene light, in its own space.
    pub(super) fn given(&self, grading: &Grading, light: [f64; 3]) -> [f64; 3] {
        let first = self.steps.first().filter(|step| step.compress().is_some());
        let light = match first {
            Some(step) if grading.order() == Order::AfterCompress => step.apply(SceneLight(light)).0,
            _ => light,
        };
        match grading.space() {
            Space::AcesCct => light.map(|v| ACES_CCT.encode(v)),
            Space::Log(_, space) => space.encode(light),
            Space::Camera => {
                let range = self.camera.range();
                self.camera.encode(light).0.map(|v| range.decode(v))
            }
            Space::Display => {
                let range = self.display.settings().range;
                let plain = self.clone().with_correction(None);
                plain.apply_to_light(light).0.map(|v| range.decode(v))
            }
        }
    }

    /// The numbers that turn `from` into `to` before all that they do already.
    fn helped(&self, grading: &Grading, numbers: CdlNumbers, from: [f64; 3], to: [f64; 3]) -> Result<Helped, Refusals> {
        let given = [self.given(grading, from), self.given(grading, to)];
        self.helped_from(grading, numbers, given, [from, to])
    }

    /// The same, with what the correction is given of both.
    pub(super) fn helped_from(
        &self,
        grading: &Grading,
        numbers: CdlNumbers,
        [before, after]: [[f64; 3]; 2],
        [from, to]: [[f64; 3]; 2],
    ) -> Result<Helped, Refusals> {
        let CdlNumbers { slope, offset, .. } = numbers;
        let (key, by, numbers) = if matches!(grading.space(), Space::Display) {
            let by: [f64; 3] = from_fn(|i| if before[i] > 0.0 { after[i] / before[i] } else { 1.0 });
            (Key::Slope, by, CdlNumbers { slope: from_fn(|i| slope[i] * by[i]), ..numbers })
        } else {
            // (v + by) slope + offset = v slope + (offset + by slope)
            let by: [f64; 3] = from_fn(|i| after[i] - before[i]);
            (Key::Offset, by, CdlNumbers { offset: from_fn(|i| offset[i] + by[i] * slope[i]), ..numbers })
        };
        grading.correction(numbers)?;
        let (exact, most) = match key {
            Key::Slope => (None, None),
            Key::Offset => {
                let alone = CdlNumbers { offset: by, ..CdlNumbers::default() };
                let (exact, most) = self.exactness(&grading.correction(alone)?, from, to);
                (exact, Some(most))
            }
        };
        Ok(Helped { numbers, key, by, exact, most })
    }

    /// Between which stops a correction turns the light `from` into `to` at every level, and the most that it misses, in stops.
    fn exactness(&self, alone: &Correction, from: [f64; 3], to: [f64; 3]) -> (Option<[f64; 2]>, f64) {
        let count = (2.0 * SPAN / STEP) as i32;
        let off = |stops: f64| {
            let factor = exp2(stops);
            let made = self.corrected_light(alone, from.map(|v| v * factor));
            let off = |i: usize| {
                let wanted = to[i] * factor;
                if made[i] > 0.0 { log2(made[i] / wanted).abs() } else { SPAN }
            };
            (0..3).map(off).fold(0.0, f64::max)
        };
        let all: Vec<(f64, f64)> =
            (0..=count).map(|i| -SPAN + STEP * f64::from(i)).map(|stops| (stops, off(stops))).collect();
        let most = all.iter().map(|(_, off)| *off).fold(0.0, f64::max);
        // Around mid-grey, as far as it holds.
        let (under, over): (Vec<_>, Vec<_>) = all.into_iter().partition(|(stops, _)| *stops < 0.0);
        let low = under.into_iter().rev().take_while(|(_, off)| *off <= EXACT).last().map_or(0.0, |(stops, _)| stops);
        let high = over.into_iter().take_while(|(_, off)| *off <= EXACT).last().map_or(0.0, |(stops, _)| stops);
        (Some([low, high]).filter(|_| low < high), most)
    }

    /// Scene light after a correction alone.
    fn corrected_light(&self, correction: &Correction, light: [f64; 3]) -> [f64; 3] {
        match correction.space() {
            Space::Camera => {
                let signal = bounded(correction.on_signal(self.camera.range(), self.camera.encode(light).0));
                self.camera.decode(signal).0
            }
            _ => correction.on_light(light),
        }
    }
}

/// The luminance of scene light.
pub(super) fn luminance(light: [f64; 3]) -> f64 {
    luminance_weights().dot(&Vector3::from(light))
}

pub(super) fn check_stops(stops: f64) -> Result<(), Invalid> {
    if stops.is_nan() || stops.abs() > MOST_STOPS {
        let message = format!("{stops} is out of range: from -{MOST_STOPS} to {MOST_STOPS}");
        return Err(Invalid::new("stops", message));
    }
    Ok(())
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::camera::Camera;
    use crate::display::{Display, standard};
    use crate::gamut::named_gamut;
    use crate::look::Look;
    use crate::range::Range;
    use crate::step::compress::CompressSettings;
    use crate::step::print::PrintSettings;
    use crate::step::{Rendering, Step};
    use crate::transfer::encoding;

    pub(in super::super) fn path() -> Pipeline {
        let curve = encoding("slog3").unwrap().build(None).unwrap();
        let camera =
            Camera::new(curve, &named_gamut("sgamut3-cine").unwrap().gamut, None, Range::Full, vec![]).unwrap();
        let steps = vec![Step::new(CompressSettings::default()).unwrap()];
        let look = Look::new("Dusk", 1, steps, Rendering::new(PrintSettings::default()).unwrap());
        Pipeline::new(&camera, &look, &Display::of(standard("bt709").unwrap())).unwrap()
    }

    pub(in super::super) fn gradings() -> Vec<Grading> {
        [(Order::Before, Space::AcesCct), (Order::AfterCompress, Space::AcesCct), (Order::Before, Space::Camera)]
            .into_iter()
            .map(|(order, space)| Grading::new(order, space, false).unwrap())
            .collect()
    }

    fn corrected(grading: &Grading, numbers: CdlNumbers) -> Pipeline {
        path().with_correction(Some(grading.correction(numbers).unwrap()))
    }

    /// S-2016-001 (ACEScct): 17.52 codes of its own are the stops of 0 to 1 where it is a logarithm.
    #[test]
    fn a_stop_in_acescct_is_one_part_of_17_52() {
        let helped = path().exposed(&Grading::default(), CdlNumbers::default(), 1.0).unwrap();
        assert!(helped.numbers.offset.iter().all(|v| (v - 1.0 / 17.52).abs() < 1e-12), "{helped:?}");
        // Its straight part begins at 0.0078125, 4.5 stops under mid-grey.
        assert_eq!(helped.exact, Some([-4.5, 8.0]));
        assert!(
            helped.words().starts_with("offset +0.0571 before the slope: exact from -4.5 to +8 stops, off by up to")
        );
    }

    #[test]
    fn exposure_is_that_of_more_light_whatever_the_correction_does() {
        let numbers =
            CdlNumbers { slope: [1.1, 1.0, 0.9], offset: [0.01, 0.0, -0.02], power: [1.0, 1.1, 0.9], saturation: 0.9 };
        for grading in gradings() {
            let helped = path().exposed(&grading, numbers, -0.75).unwrap();
            let [more, same] = [corrected(&grading, helped.numbers), corrected(&grading, numbers)];
            let dimmer = MID_GREY * exp2(-0.75);
            let [got, wanted] = [more.apply_to_light([MID_GREY; 3]), same.apply_to_light([dimmer; 3])];
            assert!(got.iter().zip(wanted.iter()).all(|(a, b)| (a - b).abs() < 1e-9), "{grading:?}");
        }
    }

    #[test]
    fn a_grey_card_under_the_light_becomes_grey() {
        let white = crate::step::balance::white(3200.0, 0.0).unwrap();
        let seen = Balance::new(D65, white, Adaptation::Bradford).unwrap().apply([MID_GREY; 3]);
        for grading in gradings() {
            let helped = path().whitened(&grading, CdlNumbers::default(), white).unwrap();
            let card = corrected(&grading, helped.numbers).apply_to_light(seen);
            let spread = card.iter().fold(0.0f64, |most, v| most.max((v - card[1]).abs()));
            assert!(spread < 1e-9, "{grading:?}: {card:?}");
            assert!(helped.by[0] < 0.0 && helped.by[2] > 0.0, "{helped:?}");
        }
    }

    #[test]
    fn after_the_look_the_card_lands_where_more_light_puts_it() {
        let grading = Grading::new(Order::After, Space::Display, false).unwrap();
        let helped = path().exposed(&grading, CdlNumbers::default(), 0.5).unwrap();
        assert_eq!((helped.key, helped.most), (Key::Slope, None));
        let got = corrected(&grading, helped.numbers).apply_to_light([MID_GREY; 3]);
        let wanted = path().apply_to_light([MID_GREY * exp2(0.5); 3]);
        assert!(got.iter().zip(wanted.iter()).all(|(a, b)| (a - b).abs() < 1e-9));
        assert!(helped.words().contains("after the look"));
    }

    #[test]
    fn what_no_correction_holds_is_refused() {
        let grading = Grading::default();
        assert_eq!(path().exposed(&grading, CdlNumbers::default(), f64::NAN).unwrap_err()[0].key, "stops");
        let far = Xy::new(0.72, 0.27);
        assert_eq!(path().whitened(&grading, CdlNumbers::default(), far).unwrap_err()[0].key, "white");
        let full = CdlNumbers { offset: [4.0; 3], ..CdlNumbers::default() };
        assert!(path().exposed(&grading, full, 1.0).is_err());
    }
}
