//! What a shot's correction amounts to in exposure and white, however it came about, and a correction that amounts to others.
//!
//! A correction turns one light into mid-grey. How far that light is from a grey card under D65 says how much exposure and which
//! white there is in it: after any number of helpers their sum (exactly, where the space is a logarithm, as ACEScct is over its
//! straight part), and after edits by hand what they do at a grey card.

use super::Pipeline;
use super::helper::{Helped, MOST_STOPS, check_stops, luminance};
use crate::adaptation::Adaptation;
use crate::chromaticity::{D65, Xy};
use crate::gamut::AP1;
use crate::invalid::{Invalid, Refusals};
use crate::math::{exp2, log2, powers};
use crate::shot::{Grading, Space};
use crate::step::balance::Balance;
use crate::step::cdl::CdlNumbers;
use crate::transfer::acescct::ACES_CCT;
use crate::transfer::{MID_GREY, Transfer};
use nalgebra::Vector3;
use std::array::from_fn;

/// The exposure and the white of a correction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Amount {
    /// A grey card that is so many stops under mid-grey becomes mid-grey.
    pub stops: f64,
    /// Under this light, as a camera balanced for D65 sees it; none where it is the light of no lamp.
    pub white: Option<Xy>,
    /// The light that becomes mid-grey, and the same as the correction is given it.
    light: [f64; 3],
    given: [f64; 3],
}

impl Pipeline {
    /// What a correction amounts to; none of one that comes after the look, or that turns no light into mid-grey.
    pub fn amount(&self, grading: &Grading, numbers: CdlNumbers) -> Option<Amount> {
        let grey = match grading.space() {
            Space::Display => return None,
            _ => self.given(grading, [MID_GREY; 3]),
        };
        let CdlNumbers { slope, offset, power, .. } = numbers;
        let sum = if grey.iter().all(|v| *v > 0.0) { powers(grey, power.map(|p| 1.0 / p)) } else { grey };
        let given: [f64; 3] = from_fn(|i| (sum[i] - offset[i]) / slope[i]);
        let light = match grading.space() {
            Space::AcesCct => given.map(|v| ACES_CCT.decode(v)),
            Space::Log(_, space) => space.decode(given),
            Space::Camera => self.camera.decode(given.map(|v| self.camera.range().encode(v))).0,
            Space::Display => return None,
        };
        let luminance = luminance(light);
        if !light.iter().all(|v| v.is_finite()) || luminance <= 0.0 {
            return None;
        }
        let stops = log2(MID_GREY / luminance);
        Some(Amount { stops, white: self.white_of(light), light, given }).filter(|_| stops.abs() <= 2.0 * MOST_STOPS)
    }

    /// `numbers` changed so that they amount to other stops, another white, or both; what is not given stays.
    ///
    /// # Errors
    /// Stops out of -10 to 10, under `stops`; a white that is no light's, under `white`; a correction that has no amount.
    pub fn amounting(
        &self,
        grading: &Grading,
        numbers: CdlNumbers,
        stops: Option<f64>,
        white: Option<Xy>,
    ) -> Result<Helped, Refusals> {
        stops.map_or(Ok(()), check_stops)?;
        let now = self.amount(grading, numbers).ok_or_else(|| {
            Invalid::plain("this correction has no exposure and no white that could be set: add stops instead")
        })?;
        let light = match white {
            Some(white) => self.card(white)?,
            None => now.light,
        };
        let factor = exp2(-stops.unwrap_or(now.stops)) * MID_GREY / luminance(light);
        let wanted = light.map(|v| v * factor);
        let before = self.given(grading, wanted);
        self.helped_from(grading, numbers, [before, now.given], [wanted, now.light])
    }

    /// The white of a light, as a camera sees it that is balanced for D65.
    fn white_of(&self, light: [f64; 3]) -> Option<Xy> {
        let seen = match self.camera.white() {
            Some(balanced) => Balance::new(D65, balanced, Adaptation::Bradford).ok()?.apply(light),
            None => light,
        };
        let to_d65 = Adaptation::Bradford.matrix(AP1.white, D65) * AP1.to_xyz();
        let white = Xy::from_xyz(&(to_d65 * Vector3::from(seen)))?;
        (seen.iter().all(|v| *v > 0.0) && white.y > 0.01).then_some(white)
    }
}

#[cfg(test)]
mod tests {
    use super::super::helper::tests::{gradings, path};
    use super::*;
    use crate::shot::Order;
    use crate::spectrum::kelvin_and_tint;
    use crate::step::balance::white;

    fn by_hand() -> CdlNumbers {
        CdlNumbers { slope: [1.1, 1.0, 0.9], offset: [0.01, 0.0, -0.02], power: [1.0, 1.1, 0.9], saturation: 0.9 }
    }

    fn close(amount: &Amount, stops: f64, kelvin: f64) -> bool {
        let (found, tint) = kelvin_and_tint(amount.white.unwrap()).unwrap();
        (amount.stops - stops).abs() < 1e-6 && (found - kelvin).abs() < 0.5 && tint.abs() < 0.01
    }

    #[test]
    fn helpers_one_after_the_other_amount_to_their_sum() {
        for grading in gradings() {
            let none = path().amount(&grading, CdlNumbers::default()).unwrap();
            assert!(none.stops.abs() < 1e-12, "{none:?}");
            let white = white(3200.0, 0.0).unwrap();
            let first = path().exposed(&grading, CdlNumbers::default(), 0.75).unwrap();
            let second = path().whitened(&grading, first.numbers, white).unwrap();
            let third = path().exposed(&grading, second.numbers, -0.25).unwrap();
            let amount = path().amount(&grading, third.numbers).unwrap();
            // What all of them add leads from its light to mid-grey, in every space.
            let [from, to] = [amount.light, [MID_GREY; 3]].map(|light| path().given(&grading, light));
            for i in 0..3 {
                let sum = first.by[i] + second.by[i] + third.by[i];
                assert!((from[i] + sum - to[i]).abs() < 1e-9, "{amount:?}");
            }
            match grading.space() {
                Space::AcesCct => assert!(close(&amount, 0.5, 3200.0), "{amount:?}"),
                // The same offset is not the same stops at every light there.
                _ => assert!((amount.stops - 0.5).abs() < 0.02, "{amount:?}"),
            }
        }
    }

    #[test]
    fn what_is_set_is_what_is_read_and_the_other_stays() {
        for grading in gradings() {
            for numbers in [CdlNumbers::default(), by_hand()] {
                let before = path().amount(&grading, numbers).unwrap();
                let exposed = path().amounting(&grading, numbers, Some(1.5), None).unwrap().numbers;
                let amount = path().amount(&grading, exposed).unwrap();
                let stays = |v: Xy, w: Xy| (v.x - w.x).abs() < 1e-9 && (v.y - w.y).abs() < 1e-9;
                assert!((amount.stops - 1.5).abs() < 1e-9 && stays(amount.white.unwrap(), before.white.unwrap()));
                let white = white(4300.0, 0.0).unwrap();
                let warm = path().amounting(&grading, exposed, None, Some(white)).unwrap().numbers;
                assert!(close(&path().amount(&grading, warm).unwrap(), 1.5, 4300.0), "{grading:?}");
                // Set again it is the same, and nothing is added.
                let again = path().amounting(&grading, warm, Some(1.5), Some(white)).unwrap();
                assert!(again.by.iter().all(|v| v.abs() < 1e-9), "{again:?}");
                let CdlNumbers { slope, power, saturation, .. } = again.numbers;
                assert_eq!((slope, power, saturation), (numbers.slope, numbers.power, numbers.saturation));
            }
        }
    }

    #[test]
    fn a_correction_without_an_amount_is_refused() {
        let after = Grading::new(Order::After, Space::Display, false).unwrap();
        assert_eq!(path().amount(&after, CdlNumbers::default()), None);
        assert!(path().amounting(&after, CdlNumbers::default(), Some(1.0), None).is_err());
        let grading = Grading::default();
        let flat = CdlNumbers { slope: [0.0; 3], ..CdlNumbers::default() };
        assert_eq!(path().amount(&grading, flat), None);
        for stops in [11.0, f64::NAN] {
            let refused = path().amounting(&grading, CdlNumbers::default(), Some(stops), None).unwrap_err();
            assert_eq!(refused[0].key, "stops");
        }
    }
}
