//! `cdl`: slope, offset, power and saturation (ASC Color Decision List, version 1.2, 2009), in ACEScct.
//!
//! The specification clamps to 0..1 after the offset and after the saturation; without clamping, values outside keep
//! going: negative values skip the power. In ACEScct, 1.0 is 222.9 in linear light, so clamping cuts at 10.3 stops
//! over mid-grey, and at the bottom at light -0.0069.

use super::words::{plain, signed};
use super::{Context, Extremes, Maths, OnScene, Role, StepSettings, Uncast, even, extremes};
use crate::invalid::{Invalid, Parameter, Refusals};
use crate::math;
use crate::setting::{CHANNELS, settings};
use crate::transfer::Transfer;
use crate::transfer::acescct::ACES_CCT;
use std::fmt;
use std::sync::Arc;

/// Slope per channel.
pub const SLOPE: Parameter = Parameter {
    key: "slope",
    min: 0.0,
    max: 16.0,
    default: 1.0,
    unit: "",
    help: "ACEScct values are multiplied by this, per channel",
};

/// Offset per channel.
pub const OFFSET: Parameter = Parameter {
    key: "offset",
    min: -4.0,
    max: 4.0,
    default: 0.0,
    unit: "ACEScct",
    help: "added to ACEScct values, per channel; 0.057 is a stop",
};

/// Power per channel.
pub const POWER: Parameter = Parameter {
    key: "power",
    min: 0.01,
    max: 16.0,
    default: 1.0,
    unit: "",
    help: "ACEScct values are raised to this power, per channel",
};

/// Saturation.
pub const SATURATION: Parameter = Parameter {
    key: "saturation",
    min: 0.0,
    max: 16.0,
    default: 1.0,
    unit: "",
    help: "0 is monochrome, 1 leaves the picture as it is",
};

/// The luma weights that the specification fixes (ASC CDL 1.2: those of ITU-R BT.709).
pub const LUMA: [f64; 3] = [0.2126, 0.7152, 0.0722];

/// The ten numbers of a correction.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct CdlNumbers {
    /// Factors, per channel.
    pub slope: [f64; 3],
    /// Added after, per channel.
    pub offset: [f64; 3],
    /// Powers, per channel.
    pub power: [f64; 3],
    /// Saturation about luma.
    pub saturation: f64,
}

impl Default for CdlNumbers {
    fn default() -> Self {
        Self {
            slope: [SLOPE.default; 3],
            offset: [OFFSET.default; 3],
            power: [POWER.default; 3],
            saturation: SATURATION.default,
        }
    }
}

impl fmt::Display for CdlNumbers {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [slope, offset, power] = [self.slope, self.offset, self.power].map(|v| v.map(|v| v.to_string()).join(" "));
        write!(f, "slope {slope}, offset {offset}, power {power}, saturation {}", self.saturation)
    }
}

settings! {
    "CdlDoc",
    /// A correction by its numbers, or of a file.
    pub struct CdlSettings {
        /// Factors, per channel.
        slope: [f64; 3] = [SLOPE.default; 3], Three(&SLOPE, CHANNELS);
        /// Added after, per channel.
        offset: [f64; 3] = [OFFSET.default; 3], Three(&OFFSET, CHANNELS);
        /// Powers, per channel.
        power: [f64; 3] = [POWER.default; 3], Three(&POWER, CHANNELS);
        /// Saturation about luma.
        saturation: f64 = SATURATION.default, Number(&SATURATION);
        /// Clamp to 0..1 as the specification's formula does.
        clamp: bool = false, Flag;
        /// A file of corrections (.cc, .ccc, .cdl, .ale, .csv), relative to this document, instead of numbers.
        file: Option<String> = None, Text;
        /// The id of the correction in the file; default: the only one.
        id: Option<String> = None, Text;
    }
}

/// What stands in the file where one is named.
const OF_FILE: &[&str] = &["slope", "offset", "power", "saturation"];

impl CdlSettings {
    /// The correction of these numbers, without clamping.
    pub fn of(numbers: CdlNumbers) -> Self {
        let CdlNumbers { slope, offset, power, saturation } = numbers;
        Self { slope, offset, power, saturation, ..Self::default() }
    }

    /// The numbers that are set; those of a file stand there.
    pub const fn numbers(&self) -> CdlNumbers {
        let Self { slope, offset, power, saturation, .. } = *self;
        CdlNumbers { slope, offset, power, saturation }
    }
}

impl StepSettings for CdlSettings {
    const NAME: &'static str = "cdl";
    const TITLE: &'static str = "ASC CDL, in ACEScct";
    const HELP: &'static str = "ASC CDL slope, offset, power and saturation, in ACEScct.";
    const ROLE: Role = Role::Scene;
    const EXAMPLE: &'static str = "slope = [1.02, 1, 0.98]\nsaturation = 0.95";
    const EXTREMES: &'static [Extremes] = &[
        extremes(
            "slope",
            "less contrast, and dark highlights",
            "more contrast, and highlights that run into white; in one channel, highlights of its colour",
        ),
        extremes(
            "offset",
            "the whole picture is dark, highlights too",
            "the whole picture is bright; a strong blue light runs into white early",
        ),
        extremes("power", "bright, pale mid-tones", "dark mid-tones"),
        extremes("saturation", "pale colours", "colours like paint, and saturated lights without shape"),
    ];

    fn make(&self, with: &dyn Context) -> Result<Maths, Refusals> {
        let refuse = |key: &str, why: &str| Err(Invalid::new(key, why).into());
        let numbers = match &self.file {
            None if self.id.is_some() => return refuse("id", "names a correction of a `file`, which is missing"),
            None => self.numbers(),
            Some(_) if OF_FILE.iter().any(|key| with.states(key)) || self.numbers() != CdlNumbers::default() => {
                return refuse("file", "holds the numbers: give a file or numbers, not both");
            }
            Some(file) => with.correction(file, self.id.as_deref())?,
        };
        Cdl::new(numbers, self.clamp).map(Maths::scene)
    }

    fn describe(&self, _: &dyn Fn(&str) -> bool) -> String {
        let clamp = self.clamp.then(|| "clamped to 0..1".to_owned());
        if let Some(file) = &self.file {
            let id = self.id.as_ref().map(|id| format!(", id {id}")).unwrap_or_default();
            return format!("File {file}{id}{}.", clamp.map(|clamp| format!("; {clamp}")).unwrap_or_default());
        }
        let mut said = Vec::new();
        for (key, values, stays) in
            [("slope", self.slope, 1.0), ("offset", self.offset, 0.0), ("power", self.power, 1.0)]
        {
            if values != [stays; 3] {
                let write = if key == "offset" { signed } else { plain };
                said.push(format!("{key} {}", values.map(write).join(" ")));
            }
        }
        if self.saturation != 1.0 {
            said.push(format!("saturation {}", plain(self.saturation)));
        }
        said.extend(clamp);
        if said.is_empty() {
            return "All at rest: the picture stays as it is.".to_owned();
        }
        format!("{} (red, green, blue).", said.join("; "))
    }

    fn meaningless(&self) -> &'static [&'static str] {
        if self.file.is_some() { OF_FILE } else { &[] }
    }
}

/// A colour correction. As [`correct`](Self::correct) on any encoded values, as [`apply`](Self::apply) on scene light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cdl {
    numbers: CdlNumbers,
    clamp: bool,
}

impl Cdl {
    /// From its numbers; `clamp` as the specification's formula has it, or without.
    ///
    /// # Errors
    /// Values out of [`SLOPE`], [`OFFSET`], [`POWER`] and [`SATURATION`].
    pub fn new(numbers: CdlNumbers, clamp: bool) -> Result<Self, Refusals> {
        let mut refusals = Refusals::new();
        refusals.bound_each(&SLOPE, &numbers.slope);
        refusals.bound_each(&OFFSET, &numbers.offset);
        refusals.bound_each(&POWER, &numbers.power);
        refusals.bound(&SATURATION, numbers.saturation);
        refusals.finish(|| Self { numbers, clamp })
    }

    /// The numbers.
    pub const fn numbers(&self) -> &CdlNumbers {
        &self.numbers
    }

    /// Whether it clamps to 0..1.
    pub const fn clamps(&self) -> bool {
        self.clamp
    }

    /// The same without what it does to one channel more than to another: means of slope, offset and power; none where
    /// it does nothing of that.
    pub(crate) fn even(&self) -> Option<Self> {
        let CdlNumbers { slope, offset, power, saturation } = self.numbers;
        let numbers = CdlNumbers { slope: even(slope), offset: even(offset), power: even(power), saturation };
        (numbers != self.numbers).then_some(Self { numbers, clamp: self.clamp })
    }

    /// The correction on encoded values, any domain; range 0..1 when clamped.
    pub fn correct(&self, rgb: [f64; 3]) -> [f64; 3] {
        let CdlNumbers { slope, offset, power, saturation } = self.numbers;
        let limit = |v: f64| if self.clamp { v.clamp(0.0, 1.0) } else { v };
        let values = std::array::from_fn(|i| limit(rgb[i] * slope[i] + offset[i]));
        let powers = math::powers(values, power);
        let graded: [f64; 3] = std::array::from_fn(|i| if values[i] > 0.0 { powers[i] } else { values[i] });
        let luma = LUMA[0] * graded[0] + LUMA[1] * graded[1] + LUMA[2] * graded[2];
        graded.map(|v| limit(luma + saturation * (v - luma)))
    }

    /// The correction on scene light, in ACEScct.
    pub fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        self.correct(rgb.map(|c| ACES_CCT.encode(c))).map(|v| ACES_CCT.decode(v))
    }
}

impl OnScene for Cdl {
    fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        self.apply(rgb)
    }

    fn uncast(&self) -> Uncast {
        self.even().map_or(Uncast::Same, |even| Uncast::Less(Arc::new(even)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cdl(clamp: bool) -> Cdl {
        let numbers =
            CdlNumbers { slope: [1.1, 1.0, 0.9], offset: [0.05, -0.1, 0.0], power: [1.2, 1.0, 0.8], saturation: 0.7 };
        Cdl::new(numbers, clamp).unwrap()
    }

    #[test]
    fn clamping_limits_and_no_clamp_goes_on() {
        assert_eq!(cdl(true).correct([2.0, 2.0, 2.0]), [1.0, 1.0, 1.0]);
        assert!(cdl(false).correct([2.0, 2.0, 2.0])[0] > 1.5);
        assert!(cdl(true).correct([-1.0; 3]).iter().all(|v| *v == 0.0));
        assert!(cdl(false).correct([-1.0; 3]).iter().all(|v| *v < -0.5));
    }

    #[test]
    fn the_neutral_correction_is_the_identity() {
        let none = Cdl::new(CdlNumbers::default(), false).unwrap();
        for colour in [[0.18, 0.5, 0.02], [-0.01, 12.0, 0.0]] {
            let out = none.apply(colour);
            for i in 0..3 {
                assert!((out[i] - colour[i]).abs() < 1e-14 * (1.0 + colour[i].abs()));
            }
        }
    }

    #[test]
    fn every_bad_value_is_named() {
        let numbers = CdlNumbers {
            slope: [-1.0, 1.0, 1.0],
            power: [1.0, 0.0, 1.0],
            saturation: f64::NAN,
            ..CdlNumbers::default()
        };
        let refused = Cdl::new(numbers, true).unwrap_err();
        let keys: Vec<_> = refused.iter().map(|r| r.key.as_str()).collect();
        assert_eq!(keys, ["slope[0]", "power[1]", "saturation"]);
    }
}
