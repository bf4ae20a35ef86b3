//! A camera: how its log signal becomes scene light.
//!
//! Signal is code value over 1023 (10 bits; the same ratio at other depths) of what enters the cube, 0 to 1 in each
//! channel. Scene light is linear AP1, 0.18 mid-grey.

use crate::adaptation::Adaptation;
use crate::chromaticity::{D65, Xy};
use crate::colour::{SceneLight, Signal};
use crate::gamut::{AP1, Gamut, NO_WHITE};
use crate::invalid::{Invalid, Parameter, Refusals};
use crate::math::{bounded, log2};
use crate::step::balance::Balance;
use crate::transfer::{Encoding, MID_GREY, Transfer};
use nalgebra::{Matrix3, Vector3};
use std::sync::Arc;

mod matrix;

pub use matrix::{LightMatrix, WHITE_KEPT, between};

pub use crate::range::Range;

/// An exposure index of a rating.
pub const EI: Parameter = Parameter {
    key: "ei",
    min: 1.0,
    max: 1_000_000.0,
    default: 800.0,
    unit: "EI",
    help: "the exposure index that the camera is set to",
};

/// The signal at which the sensor clips.
pub const CLIP: Parameter = Parameter {
    key: "clip",
    min: 0.0,
    max: 1.0,
    default: 1.0,
    unit: "of the signal",
    help: "signal where the sensor clips at this EI, as measured, 0 to 1",
};

/// The lowest usable stop.
pub const FLOOR_STOPS: Parameter = Parameter {
    key: "floor_stops",
    min: -20.0,
    max: 0.0,
    default: -7.0,
    unit: "stops from mid-grey",
    help: "the lowest usable stop under mid-grey at this EI",
};

/// What a camera does at one exposure index.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rating {
    /// The exposure index.
    pub ei: f64,
    /// The signal where the sensor clips, if measured.
    pub clip: Option<f64>,
    /// The lowest usable stop, from mid-grey, if known.
    pub floor_stops: Option<f64>,
}

/// A curve, a gamut or a matrix, a range and ratings.
#[derive(Debug, Clone)]
pub struct Camera {
    curve: Arc<dyn Transfer>,
    /// Curves with constants of their own at an exposure index.
    curves_by_ei: Vec<(f64, Arc<dyn Transfer>)>,
    range: Range,
    ratings: Vec<Rating>,
    /// Light to XYZ under the camera's own white.
    to_xyz: Matrix3<f64>,
    /// Light to AP1 as the camera balanced it itself, and back.
    native: [Matrix3<f64>; 2],
    /// Light to AP1 with the white balance of the set-up, and back.
    to_ap1: Matrix3<f64>,
    from_ap1: Matrix3<f64>,
    white: Option<Xy>,
}

impl Camera {
    /// A published encoding in a gamut: full range, no ratings.
    ///
    /// # Errors
    /// A white of the gamut that cannot be adapted.
    pub fn of(encoding: &Encoding, gamut: &Gamut) -> Result<Self, Refusals> {
        Self::new(encoding.curve(), gamut, None, Range::Full, Vec::new())
    }

    /// From its parts; without `adaptation`, the gamut's is used.
    ///
    /// # Errors
    /// Ratings out of [`EI`], [`CLIP`] and [`FLOOR_STOPS`], a clip at or under mid-grey, an EI twice; a white of
    /// the gamut that cannot be adapted.
    pub fn new(
        curve: Arc<dyn Transfer>,
        gamut: &Gamut,
        adaptation: Option<Adaptation>,
        range: Range,
        ratings: Vec<Rating>,
    ) -> Result<Self, Refusals> {
        if !gamut.adaptation_to(&AP1, adaptation).sees(gamut.white) {
            return Err(Invalid::new("gamut", NO_WHITE).into());
        }
        let grey = range.encode(curve.encode(MID_GREY));
        Self::check_ratings(&ratings, Some(grey))?;
        let to_ap1 = gamut.to(&AP1, adaptation);
        let from_ap1 = AP1.to(gamut, Some(gamut.adaptation_to(&AP1, adaptation)));
        Ok(Self::made(curve, gamut.to_xyz(), [to_ap1, from_ap1], range, ratings))
    }

    /// By a matrix from its light to XYZ under D65, which a gamut may not be able to state; D65 is carried to the working
    /// white by Bradford.
    ///
    /// # Errors
    /// As [`new`](Self::new) for the ratings.
    pub fn of_matrix(
        curve: Arc<dyn Transfer>,
        matrix: &LightMatrix,
        range: Range,
        ratings: Vec<Rating>,
    ) -> Result<Self, Refusals> {
        Self::check_ratings(&ratings, Some(range.encode(curve.encode(MID_GREY))))?;
        let to_ap1 = AP1.from_xyz() * Adaptation::Bradford.matrix(D65, AP1.white) * matrix.to_xyz();
        let from_ap1 = matrix.from_xyz() * Adaptation::Bradford.matrix(AP1.white, D65) * AP1.to_xyz();
        Ok(Self::made(curve, *matrix.to_xyz(), [to_ap1, from_ap1], range, ratings))
    }

    fn made(
        curve: Arc<dyn Transfer>,
        to_xyz: Matrix3<f64>,
        native: [Matrix3<f64>; 2],
        range: Range,
        ratings: Vec<Rating>,
    ) -> Self {
        let [to_ap1, from_ap1] = native;
        Self { curve, curves_by_ei: Vec::new(), range, ratings, to_xyz, native, to_ap1, from_ap1, white: None }
    }

    /// The same camera with a white balance: light of `white`, as the camera sees it where its own neutral is D65, becomes
    /// neutral before anything else is done to it (Bradford).
    ///
    /// # Errors
    /// A white that is no light's, under `white`.
    pub fn balanced(mut self, white: Xy) -> Result<Self, Refusals> {
        let within =
            |refused: Refusals| -> Refusals { refused.into_iter().map(|r| Invalid::new("white", r.message)).collect() };
        let balance = |from, to| Balance::new(from, to, Adaptation::Bradford).map_err(within);
        self.to_ap1 = balance(white, D65)?.matrix() * self.native[0];
        self.from_ap1 = self.native[1] * balance(D65, white)?.matrix();
        self.white = Some(white);
        Ok(self)
    }

    /// The same camera as it balanced the light itself.
    #[must_use]
    pub fn unbalanced(mut self) -> Self {
        [self.to_ap1, self.from_ap1] = self.native;
        self.white = None;
        self
    }

    /// The white that [`balanced`](Self::balanced) makes neutral.
    pub const fn white(&self) -> Option<Xy> {
        self.white
    }

    /// What is odd about a rating's clip: a signal of legal range over its largest code, which was read as percent of legal
    /// range rather than as a share of all codes.
    pub fn odd_clip(&self, rating: &Rating) -> Option<String> {
        let legal = Range::Legal;
        let white = legal.encode(1.0);
        let clip = rating.clip.filter(|clip| self.range == legal && *clip > white)?;
        let [code, top] = [clip, white].map(|signal| legal.code(signal, 10));
        let (percent, right) = (100.0 * clip, legal.encode(clip));
        Some(format!(
            "clip = {clip} at EI {} is code {code:.0} of 10 bits, over {top:.0}, the top of legal range. If it was read as \
             {percent:.0} % on a waveform of legal range, write {right:.4}",
            rating.ei
        ))
    }

    /// Checks ratings by themselves; `grey` is the signal of mid-grey where the curve is known.
    ///
    /// # Errors
    /// As [`new`](Self::new), under `rating[0].ei` and so on.
    pub fn check_ratings(ratings: &[Rating], grey: Option<f64>) -> Result<(), Refusals> {
        /// Beyond any camera; each is compared with all before it.
        const MOST: usize = 500;
        let mut refusals = Refusals::new();
        if ratings.len() > MOST {
            refusals.push("rating", format!("{} ratings: {MOST} at most", ratings.len()));
            return refusals.finish(|| ());
        }
        for (i, rating) in ratings.iter().enumerate() {
            let mut one = Refusals::new();
            one.bound(&EI, rating.ei);
            if let Some(clip) = rating.clip {
                one.bound(&CLIP, clip);
                if let Some(grey) = grey.filter(|grey| clip <= *grey) {
                    one.push("clip", format!("{clip} is not above mid-grey, which this curve puts at {grey:.4}"));
                }
            }
            if let Some(stops) = rating.floor_stops {
                one.bound(&FLOOR_STOPS, stops);
            }
            if ratings[..i].iter().any(|r| r.ei == rating.ei) {
                one.push("ei", format!("EI {} is listed twice", rating.ei));
            }
            let refused = one.finish(|| ()).err().unwrap_or_default();
            refusals.extend(refused.into_iter().map(|r| r.within(&format!("rating[{i}]"))));
        }
        refusals.finish(|| ())
    }

    /// Signal to light in the camera's own gamut; infinite where the curve says so.
    pub fn linearise(&self, signal: impl Into<Signal>) -> [f64; 3] {
        signal.into().map(|v| self.curve.decode(self.range.decode(v)))
    }

    /// Signal to scene light (AP1): finite for any finite signal.
    pub fn decode(&self, signal: impl Into<Signal>) -> SceneLight {
        self.scene_light(self.linearise(signal))
    }

    /// The luminance of a signal's scene light in stops from mid-grey; none where there is no light.
    pub fn stops(&self, signal: impl Into<Signal>) -> Option<f64> {
        let luminance = AP1.luminance_weights().dot(&Vector3::from(self.decode(signal)));
        (luminance > 0.0).then(|| log2(luminance / MID_GREY))
    }

    /// Light in the camera's own gamut, as [`linearise`](Self::linearise) gives it, to scene light (AP1).
    pub fn scene_light(&self, linear: [f64; 3]) -> SceneLight {
        SceneLight((self.to_ap1 * Vector3::from(bounded(linear))).into())
    }

    /// Whether both make the same light of every signal: the same curve, not merely an equal one.
    pub(crate) fn decodes_as(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.curve, &other.curve) && self.range == other.range && self.to_ap1 == other.to_ap1
    }

    /// Scene light (AP1) to signal.
    pub fn encode(&self, light: impl Into<SceneLight>) -> Signal {
        let light = self.from_ap1 * Vector3::from(light.into().0);
        Signal(std::array::from_fn(|i| self.range.encode(self.curve.encode(light[i]))))
    }

    /// Linear light in the camera's gamut to AP1.
    pub const fn to_ap1(&self) -> &Matrix3<f64> {
        &self.to_ap1
    }

    /// The curve.
    pub fn curve(&self) -> &dyn Transfer {
        self.curve.as_ref()
    }

    /// The same camera with a curve of its own at exposure index `ei`, for encodings that are published by EI.
    #[must_use]
    pub fn with_curve_at(mut self, ei: f64, curve: Arc<dyn Transfer>) -> Self {
        self.curves_by_ei.push((ei, curve));
        self
    }

    /// The curve at exposure index `ei`, where it has one of its own there.
    pub fn curve_at(&self, ei: f64) -> Option<&dyn Transfer> {
        self.curves_by_ei.iter().find(|(at, _)| *at == ei).map(|(_, curve)| curve.as_ref())
    }

    /// The curve that holds at exposure index `ei`: its own there, or else the camera's, to keep.
    pub fn shared_curve_at(&self, ei: f64) -> Arc<dyn Transfer> {
        self.curves_by_ei
            .iter()
            .find(|(at, _)| *at == ei)
            .map_or_else(|| self.shared_curve(), |(_, curve)| curve.clone())
    }

    /// Whether the curve is published by exposure index, but has no constants at `ei`: the camera's curve stands in there.
    pub fn lacks_curve_at(&self, ei: f64) -> bool {
        !self.curves_by_ei.is_empty() && self.curve_at(ei).is_none()
    }

    /// Linear light in the camera's own colours to XYZ under its own white, without [`balanced`](Self::balanced).
    pub const fn to_xyz(&self) -> &Matrix3<f64> {
        &self.to_xyz
    }

    /// Linear light in the camera's own colours to XYZ under D65, with its white balance.
    pub fn to_d65(&self) -> Matrix3<f64> {
        Adaptation::Bradford.matrix(AP1.white, D65) * AP1.to_xyz() * self.to_ap1
    }

    /// The weights of red, green and blue in luminance Y, after the white balance; their sum is 1 where there is none.
    pub fn luminance_weights(&self) -> Vector3<f64> {
        let row = self.to_xyz.row(1);
        if self.white.is_none() { row.transpose() } else { (row * self.native[1] * self.to_ap1).transpose() }
    }

    /// The curve, to keep.
    pub fn shared_curve(&self) -> Arc<dyn Transfer> {
        self.curve.clone()
    }

    /// The range of the signal.
    pub const fn range(&self) -> Range {
        self.range
    }

    /// The rating at exposure index `ei`.
    pub fn rating(&self, ei: f64) -> Option<&Rating> {
        self.ratings.iter().find(|r| r.ei == ei)
    }

    /// The ratings, as given.
    pub fn ratings(&self) -> &[Rating] {
        &self.ratings
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gamut::named_gamut;
    use crate::transfer::encoding;

    fn camera(range: Range, ratings: Vec<Rating>) -> Result<Camera, Refusals> {
        let curve = encoding("slog3").unwrap().build(None).unwrap();
        Camera::new(curve, &named_gamut("sgamut3-cine").unwrap().gamut, None, range, ratings)
    }

    #[test]
    fn mid_grey_decodes_to_mid_grey_in_both_ranges() {
        // Code 420 in the maker's own table of S-Log3, and the same curve squeezed into 64..940.
        for (range, code) in [(Range::Full, 420.0), (Range::Legal, 64.0 + 876.0 * 420.0 / 1023.0)] {
            let camera = camera(range, vec![]).unwrap();
            for c in *camera.decode([code / 1023.0; 3]) {
                assert!((c - 0.18).abs() < 1e-9, "{range:?}: {c}");
            }
            let there = camera.encode(camera.decode([0.6, 0.3, 0.2]));
            assert!(there.iter().zip([0.6, 0.3, 0.2]).all(|(a, b)| (a - b).abs() < 1e-12));
        }
    }

    #[test]
    fn a_white_balance_makes_its_white_neutral_and_is_undone() {
        let plain = camera(Range::Full, vec![]).unwrap();
        let warm = crate::spectrum::locus_white(3200.0, -4.0).unwrap();
        let balanced = plain.clone().balanced(warm).unwrap();
        let grey = AP1.from_xyz() * Adaptation::Bradford.matrix(D65, AP1.white) * warm.to_xyz(0.18);
        let signal = plain.encode(<[f64; 3]>::from(grey));
        assert!(balanced.decode(signal).iter().all(|c| (c - 0.18).abs() < 1e-12));
        let back = balanced.encode([0.18; 3]);
        assert!(back.iter().zip(signal.iter()).all(|(a, b)| (a - b).abs() < 1e-12));
        // The luminance of the grey is that of neutral light.
        let seen = balanced.luminance_weights().dot(&Vector3::from(balanced.linearise(signal)));
        assert!((seen - 0.18).abs() < 1e-12, "{seen}");
        assert_eq!(balanced.white(), Some(warm));
        assert_eq!(balanced.unbalanced().to_ap1(), plain.to_ap1());
        assert_eq!(plain.balanced(Xy::new(0.3, 0.0)).unwrap_err()[0].key, "white");
    }

    #[test]
    fn a_matrix_and_the_gamut_that_states_the_same_make_one_camera() {
        let gamut = Gamut { adaptation: Adaptation::Bradford, white: D65, ..crate::gamut::SGAMUT3_CINE };
        let curve = encoding("slog3").unwrap().curve();
        let by_gamut = Camera::new(curve.clone(), &gamut, None, Range::Full, vec![]).unwrap();
        let matrix = LightMatrix::new(gamut.to_xyz()).unwrap();
        let by_matrix = Camera::of_matrix(curve, &matrix, Range::Full, vec![]).unwrap();
        assert!((by_gamut.to_ap1() - by_matrix.to_ap1()).norm() < 1e-12);
        assert!((by_gamut.to_d65() - gamut.to_xyz()).norm() < 1e-12);
        assert!((by_gamut.luminance_weights() - by_matrix.luminance_weights()).norm() < 1e-12);
    }

    #[test]
    fn stops_are_of_luminance_from_mid_grey() {
        let camera = camera(Range::Full, vec![]).unwrap();
        assert!(camera.stops([420.0 / 1023.0; 3]).unwrap().abs() < 1e-9);
        let two_over = camera.encode([4.0 * MID_GREY; 3]);
        assert!((camera.stops(two_over).unwrap() - 2.0).abs() < 1e-9);
        assert_eq!(camera.stops(camera.encode([-0.01; 3])), None, "black and what is darker has no stop");
    }

    #[test]
    fn bad_ratings_are_refused_by_key() {
        let rating = |ei, clip| Rating { ei, clip: Some(clip), floor_stops: Some(-7.0) };
        let refused = camera(Range::Full, vec![rating(800.0, 0.94), rating(800.0, 0.3), rating(0.0, f64::NAN)]);
        let keys: Vec<_> = refused.unwrap_err().into_iter().map(|r| r.key).collect();
        assert_eq!(keys, ["rating[1].clip", "rating[1].ei", "rating[2].ei", "rating[2].clip"]);
    }
}
