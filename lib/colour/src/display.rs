//! A display: how display light becomes the signal of one monitor.
//!
//! Display light is linear, 1.0 at diffuse white, from 0 at the display's black to its peak (1.0 for SDR, peak over
//! diffuse white for HDR). Light outside the display's gamut is first brought in by its [`Mapping`]. Signal is code value
//! over 1023, 0 to 1 in each channel.

pub mod mapping;

pub use mapping::{Ceiling, Mapping};

use crate::adaptation::Adaptation;
use crate::chromaticity::{D65, Xy};
use crate::colour::{DisplayLight, Signal, Xyz};
use crate::gamut::{self, Gamut, NO_WHITE};
use crate::invalid::{Parameter, Refusals};
use crate::range::Range;
use crate::transfer::bt1886::Bt1886;
use crate::transfer::gamma::{GAMMA22, GAMMA24, GAMMA26, Gamma};
use crate::transfer::hlg::HlgDisplay;
use crate::transfer::{Transfer, pq::Pq, srgb::Srgb};
use nalgebra::{Matrix3, Vector3};

/// The luminance of the brightest white.
pub const PEAK: Parameter = Parameter {
    key: "peak",
    min: 10.0,
    max: 10_000.0,
    default: 100.0,
    unit: "nits",
    help: "luminance of the brightest white that the display shows",
};

/// The luminance of black.
pub const BLACK: Parameter = Parameter {
    key: "black",
    min: 0.0,
    max: 5.0,
    default: 0.0,
    unit: "nits",
    help: "luminance of the display's black; for bt1886, pq and hlg",
};

/// The luminance of diffuse white.
pub const DIFFUSE_WHITE: Parameter = Parameter {
    key: "diffuse_white",
    min: 10.0,
    max: 10_000.0,
    default: 203.0,
    unit: "nits",
    help: "HDR: luminance of the picture's white; 203 by ITU-R BT.2408",
};

/// How a display turns signal into light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Eotf {
    /// ITU-R BT.1886 (2011), with the display's own black.
    Bt1886,
    /// IEC 61966-2-1:1999.
    Srgb,
    /// A pure power.
    Gamma(Gamma),
    /// The perceptual quantizer of ITU-R BT.2100-2 (2018).
    Pq,
    /// Hybrid log-gamma of ITU-R BT.2100-2 (2018), its system gamma by the peak.
    Hlg,
}

impl Eotf {
    /// Every kind, in the order of the catalogue.
    pub const ALL: [Self; 7] = [
        Self::Bt1886,
        Self::Srgb,
        Self::Gamma(GAMMA22),
        Self::Gamma(GAMMA24),
        Self::Gamma(GAMMA26),
        Self::Pq,
        Self::Hlg,
    ];

    /// The name in documents.
    pub fn name(self) -> &'static str {
        match self {
            Self::Bt1886 => "bt1886",
            Self::Srgb => "srgb",
            Self::Gamma(g) if g == GAMMA22 => "gamma22",
            Self::Gamma(g) if g == GAMMA24 => "gamma24",
            Self::Gamma(_) => "gamma26",
            Self::Pq => "pq",
            Self::Hlg => "hlg",
        }
    }

    /// Whether the signal carries light above diffuse white.
    pub const fn is_hdr(self) -> bool {
        matches!(self, Self::Pq | Self::Hlg)
    }
}

crate::named!(Eotf, "eotf", by ALL);

/// A standard display of the catalogue.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standard {
    /// The name in documents and on the command line.
    pub name: &'static str,
    /// What it is, with its source.
    pub title: &'static str,
    /// Primaries and white.
    pub gamut: Gamut,
    /// Signal to light.
    pub eotf: Eotf,
    /// Nits of the brightest white.
    pub peak: f64,
}

/// ITU-R BT.709-6 primaries, ITU-R BT.1886 at 100 nits.
pub const BT709: Standard = Standard {
    name: "bt709",
    title: "ITU-R BT.709-6 primaries, ITU-R BT.1886 at 100 nits",
    gamut: gamut::BT709,
    eotf: Eotf::Bt1886,
    peak: 100.0,
};

/// IEC 61966-2-1:1999, 80 nits.
pub const SRGB: Standard =
    Standard { name: "srgb", title: "IEC 61966-2-1:1999, 80 nits", gamut: gamut::BT709, eotf: Eotf::Srgb, peak: 80.0 };

/// SMPTE RP 431-2 primaries with D65, gamma 2.6 at 48 nits.
pub const P3_D65: Standard = Standard {
    name: "p3-d65",
    title: "SMPTE RP 431-2 primaries with D65, gamma 2.6 at 48 nits: a projector set to D65",
    gamut: gamut::P3_D65,
    eotf: Eotf::Gamma(GAMMA26),
    peak: 48.0,
};

/// SMPTE RP 431-2:2011 primaries and calibration white, gamma 2.6 at 48 nits.
pub const P3_DCI: Standard = Standard {
    name: "p3-dci",
    title: "SMPTE RP 431-2:2011 primaries and calibration white, gamma 2.6 at 48 nits: a cinema projector",
    gamut: gamut::P3_DCI,
    eotf: Eotf::Gamma(GAMMA26),
    peak: 48.0,
};

/// ITU-R BT.2020-2 primaries, ITU-R BT.1886 at 100 nits.
pub const BT2020: Standard = Standard {
    name: "bt2020",
    title: "ITU-R BT.2020-2 primaries, ITU-R BT.1886 at 100 nits",
    gamut: gamut::BT2020,
    eotf: Eotf::Bt1886,
    peak: 100.0,
};

/// ITU-R BT.2100-2, PQ, peak 1000 nits, diffuse white 203 nits (ITU-R BT.2408).
pub const BT2100_PQ: Standard = Standard {
    name: "bt2100-pq",
    title: "ITU-R BT.2100-2, PQ, peak 1000 nits, diffuse white 203 nits (ITU-R BT.2408)",
    gamut: gamut::BT2020,
    eotf: Eotf::Pq,
    peak: 1000.0,
};

/// ITU-R BT.2100-2, HLG, peak 1000 nits, diffuse white 203 nits (ITU-R BT.2408).
pub const BT2100_HLG: Standard = Standard {
    name: "bt2100-hlg",
    title: "ITU-R BT.2100-2, HLG, peak 1000 nits, diffuse white 203 nits (ITU-R BT.2408)",
    gamut: gamut::BT2020,
    eotf: Eotf::Hlg,
    peak: 1000.0,
};

/// Every display that is built in.
pub const STANDARDS: [Standard; 7] = [BT709, SRGB, P3_D65, P3_DCI, BT2020, BT2100_PQ, BT2100_HLG];

/// The standard display of that name.
pub fn standard(name: &str) -> Option<&'static Standard> {
    const ALL: &[Standard] = &STANDARDS;
    ALL.iter().find(|s| s.name == name)
}

/// What white means on a display whose white is not the picture's own.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum White {
    /// The picture's white is the display's white (Bradford).
    #[default]
    Adapt,
    /// The picture keeps this white. Light is scaled so that white's brightest channel reaches the display's peak; each
    /// channel then ends at its own share of white.
    Keep(Xy),
}

impl White {
    /// The white that is kept when none is given.
    pub const KEPT: Self = Self::Keep(D65);
}

/// The numbers of a display.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DisplaySettings {
    /// Primaries and white.
    pub gamut: Gamut,
    /// Signal to light.
    pub eotf: Eotf,
    /// Nits of the brightest white.
    pub peak: f64,
    /// Nits of black.
    pub black: f64,
    /// Nits of diffuse white; for SDR the same as the peak.
    pub diffuse_white: f64,
    /// Range of the signal.
    pub range: Range,
    /// How light outside the gamut is brought in.
    pub mapping: Mapping,
    /// What white means.
    pub white: White,
}

impl DisplaySettings {
    /// The settings of a standard display: full range, soft mapping, black at zero.
    pub fn of(standard: &Standard) -> Self {
        Self {
            gamut: standard.gamut,
            eotf: standard.eotf,
            peak: standard.peak,
            black: BLACK.default,
            diffuse_white: if standard.eotf.is_hdr() { DIFFUSE_WHITE.default } else { standard.peak },
            range: Range::Full,
            mapping: Mapping::default(),
            white: White::default(),
        }
    }
}

/// A display, ready to encode.
#[derive(Debug, Clone)]
pub struct Display {
    settings: DisplaySettings,
    curve: Curve,
    /// XYZ to display light, scaled for the picture's white.
    from_xyz: Matrix3<f64>,
    /// The picture's white in display light: 1, 1, 1 unless another white is kept.
    white: Vector3<f64>,
    /// Luminance of channels that are shares of `white`.
    weights: Vector3<f64>,
    /// How bright a channel may be at a luminance.
    ceiling: Ceiling,
}

/// The part of an [`Eotf`] that works on light.
#[derive(Debug, Clone, Copy)]
enum Curve {
    Bt1886(Bt1886),
    Srgb(Srgb),
    Gamma(Gamma),
    Pq(Pq),
    Hlg(HlgDisplay),
}

impl Display {
    /// From its numbers.
    ///
    /// # Errors
    /// Values out of [`PEAK`], [`BLACK`] and [`DIFFUSE_WHITE`], a diffuse white above the peak, a black at or above
    /// white or where the EOTF has none, a white to keep that lies outside the display's triangle.
    pub fn new(settings: DisplaySettings) -> Result<Self, Refusals> {
        let s = settings;
        let mut refusals = Refusals::new();
        refusals.bound(&PEAK, s.peak);
        refusals.bound(&BLACK, s.black);
        // Where white is the peak, the peak alone is to blame.
        if s.diffuse_white != s.peak {
            refusals.bound(&DIFFUSE_WHITE, s.diffuse_white);
        }
        if s.diffuse_white > s.peak {
            refusals.push("diffuse_white", format!("{} nits is above the peak, {} nits", s.diffuse_white, s.peak));
        }
        if !s.eotf.is_hdr() && s.diffuse_white != s.peak {
            let name = s.eotf.name();
            refusals.push("diffuse_white", format!("only for pq and hlg: with {name}, white is the peak"));
        }
        // A peak out of its bounds is reported alone.
        if s.black >= s.diffuse_white && PEAK.check(s.peak).is_ok() {
            refusals.push("black", format!("{} nits is not below white, {} nits", s.black, s.diffuse_white));
        }
        if s.black > 0.0 && matches!(s.eotf, Eotf::Srgb | Eotf::Gamma(_)) {
            refusals.push("black", format!("only for bt1886, pq and hlg: {} has no black level", s.eotf.name()));
        }
        let (from_xyz, white) = match s.white {
            White::Adapt => (s.gamut.from_xyz(), Vector3::repeat(1.0)),
            White::Keep(white) => {
                let rgb = s.gamut.from_xyz() * white.to_xyz(1.0);
                if !(white.y > 0.0 && rgb.iter().all(|c| *c > 0.0 && c.is_finite())) {
                    refusals.push("keep_white", "must lie inside the triangle of the display's primaries");
                } else if !Adaptation::Bradford.sees(white) {
                    refusals.push("keep_white", NO_WHITE);
                }
                (s.gamut.from_xyz() / rgb.max(), rgb / rgb.max())
            }
        };
        refusals.finish(|| ())?;
        let curve = match s.eotf {
            Eotf::Bt1886 => Curve::Bt1886(Bt1886::new(s.peak, s.black)?),
            Eotf::Srgb => Curve::Srgb(Srgb),
            Eotf::Gamma(gamma) => Curve::Gamma(gamma),
            Eotf::Pq => Curve::Pq(Pq::new()),
            Eotf::Hlg => Curve::Hlg(HlgDisplay::new(s.peak, s.black)?),
        };
        let weights = match s.white {
            White::Adapt => s.gamut.luminance_weights(),
            White::Keep(_) => {
                let shares = s.gamut.luminance_weights().component_mul(&white);
                shares / shares.sum()
            }
        };
        let ceiling = match &curve {
            Curve::Hlg(hlg) => Ceiling::of_system_gamma(hlg.gamma()),
            _ => Ceiling::White,
        };
        Ok(Self { settings, curve, from_xyz, white, weights, ceiling })
    }

    /// A standard display as it stands.
    pub fn of(standard: &Standard) -> Self {
        Self::new(DisplaySettings::of(standard)).expect("the catalogue is in bounds")
    }

    /// The numbers it was made from.
    pub const fn settings(&self) -> &DisplaySettings {
        &self.settings
    }

    /// Primaries and white.
    pub const fn gamut(&self) -> &Gamut {
        &self.settings.gamut
    }

    /// The white of the picture on this display.
    pub const fn picture_white(&self) -> Xy {
        match self.settings.white {
            White::Adapt => self.settings.gamut.white,
            White::Keep(white) => white,
        }
    }

    /// Peak over diffuse white: 1 for SDR.
    pub fn peak_ratio(&self) -> f64 {
        self.settings.peak / self.settings.diffuse_white
    }

    /// XYZ under the picture's white (Y = 1 at diffuse white) to display-linear light, unbounded.
    pub fn to_linear(&self, xyz: impl Into<Xyz>) -> DisplayLight {
        DisplayLight((self.from_xyz * Vector3::from(xyz.into().0)).into())
    }

    /// Display-linear light brought into the gamut: each channel from 0 to [`peak_ratio`](Self::peak_ratio), of its share
    /// of white where another white is kept. The picture's neutrals stay neutral.
    pub fn map(&self, light: impl Into<DisplayLight>) -> DisplayLight {
        let full = self.white * self.peak_ratio();
        let shares = Vector3::from(light.into().0).component_div(&full).into();
        let mapped = self.settings.mapping.apply(shares, self.weights.into(), self.ceiling);
        DisplayLight(Vector3::from(mapped).component_mul(&full).into())
    }

    /// Display-linear light, 0 to [`peak_ratio`](Self::peak_ratio), to signal.
    pub fn encode(&self, light: impl Into<DisplayLight>) -> Signal {
        let rgb = light.into().0;
        let s = &self.settings;
        // Black of the picture lands on the display's own black.
        let nits = rgb.map(|c| s.black + c / self.peak_ratio() * (s.peak - s.black));
        let values = match &self.curve {
            Curve::Bt1886(curve) => curve.encode_each(nits.map(|l| l / s.peak)),
            Curve::Srgb(curve) => curve.encode_each(rgb),
            Curve::Gamma(curve) => curve.encode_each(rgb),
            Curve::Pq(pq) => pq.encode_each(nits),
            Curve::Hlg(hlg) => hlg.inverse_eotf(nits),
        };
        Signal(values.map(|v| s.range.encode(v)))
    }

    /// Display-linear light, brought into the gamut, to the signal that is sent: [`encode`](Self::encode) held within the
    /// range.
    pub fn send(&self, light: impl Into<DisplayLight>) -> Signal {
        let [low, high] = [0.0, 1.0].map(|v| self.settings.range.encode(v));
        Signal(self.encode(light).map(|v| v.clamp(low, high)))
    }

    /// XYZ under the picture's white to the signal that is sent: as display light, brought into the gamut, encoded.
    pub fn show(&self, xyz: impl Into<Xyz>) -> Signal {
        self.send(self.map(self.to_linear(xyz)))
    }

    /// Luminance of a signal in nits, the display's black included.
    pub fn nits(&self, signal: impl Into<Signal>) -> f64 {
        let DisplaySettings { black, peak, .. } = self.settings;
        let share = self.gamut().luminance_weights().dot(&Vector3::from(self.decode(signal).0));
        black + share / self.peak_ratio() * (peak - black)
    }

    /// Signal to display-linear light, 1.0 at diffuse white.
    pub fn decode(&self, signal: impl Into<Signal>) -> DisplayLight {
        let s = &self.settings;
        let values = signal.into().map(|v| s.range.decode(v));
        let nits = match &self.curve {
            Curve::Srgb(curve) => return DisplayLight(curve.decode_each(values)),
            Curve::Gamma(curve) => return DisplayLight(curve.decode_each(values)),
            Curve::Bt1886(curve) => curve.decode_each(values).map(|l| l * s.peak),
            Curve::Pq(pq) => pq.decode_each(values),
            Curve::Hlg(hlg) => hlg.eotf(values),
        };
        DisplayLight(nits.map(|l| (l - s.black) / (s.peak - s.black) * self.peak_ratio()))
    }
}
