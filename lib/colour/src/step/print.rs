//! A film-print-style tone map: a negative and its print, as a physical model with generic numbers (no film stock's).
//!
//! Scene light exposes three layers, which gain density along one curve ([`density`]). Layers hold back their
//! neighbours ([`interlayer`]). A printer lights the negative on to print film, which has a steeper curve of the same
//! family ([`scale`] puts the two in line for greys). Print densities become amounts of dye ([`dyes`]), and a lamp
//! shines through the dyes on the CIE 1931 observer ([`projector`]). Last, the light is turned towards the hue that the
//! layers saw ([`mod@hue`]), which dyes alone would lose as a light brightens.
//!
//! So colours get denser as they get stronger, a strong light keeps its hue from its glow to its white core, and
//! highlights and shadows end softly, without a crease anywhere.
//!
//! A display with a higher peak shows greys in steeper steps, and every step of colour with them: the interlayer effects
//! are weaker there ([`NeutralScale::steepness`]), so that a face has the same chroma in standard and in high range.
//!
//! Inner functions write out the three channels and loops: closures of `map` and `from_fn` would not be compiled for wide
//! vectors with the rest.
//!
//! *Domain*: scene-linear ACES AP1, 0.18 = mid-grey, any finite number. *Range*: XYZ under the display's white, Y = 1 at
//! diffuse white; may lie outside the display's gamut, never below zero luminance.

pub mod density;
pub mod dyes;
pub mod hue;
pub mod interlayer;
pub mod projector;
pub mod scale;

mod settings;

use super::Rendered;
use crate::adaptation::Adaptation;
use crate::chromaticity::Xy;
use crate::invalid::{Refusals, out_of_range};
use crate::math::{Wide, exp2, log10_each, wide};
use crate::transfer::MID_GREY;
use density::DensityTable;
use dyes::DyeTable;
use hue::HueGuard;
use interlayer::Interlayer;
use nalgebra::Matrix3;
use projector::Projector;
use scale::{NeutralScale, Tone, floored};

pub use settings::{PrintSettings, VariantName};

/// Neutral printer points.
const NEUTRAL_POINTS: f64 = 25.0;
/// Log10 exposure of one printer point (common practice, no source).
const POINT: f64 = 0.025;
/// How far the hue guard lets amber go: less turns fire to copper and peach, more turns red-orange lights with it by over
/// 22.5 degrees.
const WARMTH: f64 = 0.8;

/// Log10 exposures that the tables of the curves cover; beyond them the curves themselves are taken.
const NEGATIVE_SPAN: [f64; 2] = [-4.1, 4.0];
const PRINT_SPAN: [f64; 2] = [-3.0, 4.0];

/// Bounds, default and help of each setting.
pub mod parameters {
    use crate::invalid::Parameter;

    const fn parameter(
        key: &'static str,
        [min, default, max]: [f64; 3],
        unit: &'static str,
        help: &'static str,
    ) -> Parameter {
        Parameter { key, min, max, default, unit, help }
    }

    /// [`PrintSettings::exposure`](super::PrintSettings::exposure).
    pub const EXPOSURE: Parameter =
        parameter("exposure", [-10.0, 0.0, 10.0], "stops", "exposure of the negative, over or under; moves mid-grey");
    /// [`PrintSettings::grey`](super::PrintSettings::grey).
    pub const GREY: Parameter =
        parameter("grey", [0.05, 0.12, 0.25], "of white", "display light of mid-grey, as a fraction of diffuse white");
    /// [`PrintSettings::contrast`](super::PrintSettings::contrast).
    pub const CONTRAST: Parameter =
        parameter("contrast", [1.8, 3.8, 6.0], "density per log exposure", "gamma of the print");
    /// [`PrintSettings::toe`](super::PrintSettings::toe).
    pub const TOE: Parameter = parameter("toe", [0.3, 1.5, 3.0], "stops", "how softly shadows roll off into black");
    /// [`PrintSettings::shoulder`](super::PrintSettings::shoulder).
    pub const SHOULDER: Parameter =
        parameter("shoulder", [0.3, 1.5, 3.0], "stops", "how softly highlights roll off into white");
    /// [`PrintSettings::black`](super::PrintSettings::black).
    pub const BLACK: Parameter =
        parameter("black", [2.0, 4.0, 5.0], "density over white", "density of the deepest black (D-max)");
    /// [`PrintSettings::colour`](super::PrintSettings::colour).
    pub const COLOUR: Parameter =
        parameter("colour", [0.0, 1.0, 1.25], "", "strength of colours: 0 as the layers mix, 1 as in the scene");
    /// [`PrintSettings::hue`](super::PrintSettings::hue).
    pub const HUE: Parameter = parameter(
        "hue",
        [0.0, 0.85, 1.0],
        "",
        "how far bright lights keep their hue: 0 as the dyes turn them, 1 fully",
    );
    /// [`PrintSettings::crosstalk`](super::PrintSettings::crosstalk).
    pub const CROSSTALK: Parameter =
        parameter("crosstalk", [0.0, 0.04, 0.1], "", "share of each neighbour in a layer's exposure");
    /// Each of [`PrintSettings::lights`](super::PrintSettings::lights).
    pub const LIGHTS: Parameter =
        parameter("lights", [0.0, 25.0, 50.0], "printer points", "printer lights of red, green, blue; more is denser");
    /// [`PrintSettings::kelvin`](super::PrintSettings::kelvin).
    pub const KELVIN: Parameter =
        parameter("kelvin", [3200.0, 5600.0, 9300.0], "K", "colour temperature of the projector's lamp");
    /// [`PrintSettings::flare`](super::PrintSettings::flare).
    pub const FLARE: Parameter =
        parameter("flare", [0.0, 0.0, 0.02], "of white", "stray light of the projection, which lifts black");

    /// Every parameter, in the order of the settings.
    pub const ALL: [Parameter; 12] =
        [EXPOSURE, GREY, CONTRAST, TOE, SHOULDER, BLACK, COLOUR, HUE, CROSSTALK, LIGHTS, KELVIN, FLARE];
}

impl PrintSettings {
    /// The neutral print.
    pub const NEUTRAL: Self = Self {
        variant: VariantName::FIRST,
        exposure: parameters::EXPOSURE.default,
        grey: parameters::GREY.default,
        contrast: parameters::CONTRAST.default,
        toe: parameters::TOE.default,
        shoulder: parameters::SHOULDER.default,
        black: parameters::BLACK.default,
        colour: parameters::COLOUR.default,
        hue: parameters::HUE.default,
        crosstalk: parameters::CROSSTALK.default,
        lights: [parameters::LIGHTS.default; 3],
        kelvin: parameters::KELVIN.default,
        flare: parameters::FLARE.default,
    };

    /// Everything that is out of bounds, by key.
    pub fn check(&self) -> Result<(), Refusals> {
        self.refusals().finish(|| ())
    }

    fn refusals(&self) -> Refusals {
        use parameters::*;
        let mut refusals = Refusals::new();
        let values = [
            (EXPOSURE, self.exposure),
            (GREY, self.grey),
            (CONTRAST, self.contrast),
            (TOE, self.toe),
            (SHOULDER, self.shoulder),
            (BLACK, self.black),
            (COLOUR, self.colour),
            (HUE, self.hue),
            (CROSSTALK, self.crosstalk),
            (KELVIN, self.kelvin),
            (FLARE, self.flare),
        ];
        for (parameter, value) in &values {
            refusals.bound(parameter, *value);
        }
        for (i, points) in self.lights.into_iter().enumerate() {
            refusals.bound(
                &crate::invalid::Parameter { key: ["lights[0]", "lights[1]", "lights[2]"][i], ..LIGHTS },
                points,
            );
        }
        refusals
    }
}

/// A print with a name of its own, to start from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Variant {
    /// The name in documents.
    pub name: &'static str,
    /// One line of help.
    pub help: &'static str,
    /// What it sets.
    pub settings: PrintSettings,
}

/// The built-in prints. The first is the default.
pub const VARIANTS: &[Variant] = &[
    Variant {
        name: "even",
        help: "the neutral print: full contrast, colours as in the scene",
        settings: PrintSettings::NEUTRAL,
    },
    Variant {
        name: "deep",
        help: "more contrast, mid-tones half a stop down, denser blacks: for night and hard light",
        settings: PrintSettings {
            grey: 0.085,
            contrast: 4.4,
            toe: 1.4,
            shoulder: 1.7,
            black: 4.5,
            ..PrintSettings::NEUTRAL
        },
    },
    Variant {
        name: "soft",
        help: "less contrast, long roll-offs, lifted shadows, quieter colours: for faces and flat days",
        settings: PrintSettings {
            grey: 0.125,
            contrast: 2.8,
            toe: 1.8,
            shoulder: 1.8,
            black: 3.3,
            ..PrintSettings::NEUTRAL
        },
    },
    Variant {
        name: "rich",
        help: "stronger colours, warm shadows and mid-tones: for wood, fire and evening sun",
        settings: PrintSettings {
            grey: 0.11,
            contrast: 3.9,
            toe: 1.4,
            shoulder: 1.7,
            black: 4.2,
            colour: 1.1,
            lights: [24.7, 25.0, 25.3],
            ..PrintSettings::NEUTRAL
        },
    },
];

/// The built-in print of that name.
pub fn variant(name: &str) -> Option<&'static Variant> {
    VARIANTS.iter().find(|v| v.name == name)
}

/// A print, compiled for one display white and peak.
#[derive(Debug, Clone)]
pub struct Print {
    /// Scene light to the layers' exposures relative to mid-grey.
    layers: [[f64; 3]; 3],
    interlayer: Interlayer,
    /// Log10 exposure that the printer lights add.
    lights: [f64; 3],
    scale: NeutralScale,
    negative: DensityTable,
    print: DensityTable,
    dyes: DyeTable,
    projector: Projector,
    /// Light through the print to XYZ under the display's white, with the hue of the layers' exposures.
    guard: HueGuard,
    /// XYZ of the projection's flare.
    flare: [f64; 3],
}

impl Print {
    /// Compiles `settings` for a display of chromaticity `white`, whose peak is `peak` times diffuse white: 1 for
    /// standard range, such as 1000 / 203 for high range (diffuse white at 203 cd/m², ITU-R BT.2408-7, 2023).
    ///
    /// # Errors
    /// Everything that is out of bounds, in one go: settings by [`parameters`], `peak` 1 to 50, `white.y` above 0.
    pub fn new(settings: &PrintSettings, white: Xy, peak: f64) -> Result<Self, Refusals> {
        let mut refusals = settings.refusals();
        if !(1.0..=50.0).contains(&peak) {
            refusals.push("peak", out_of_range(peak, "", "it must lie between 1 and 50 times diffuse white"));
        }
        if !(white.x > 0.0 && white.y > 0.0 && white.x + white.y < 1.0) {
            refusals.push("white", format!("x {}, y {} is not a light", white.x, white.y));
        }
        refusals.finish(|| ())?;
        Self::compile(settings, white, peak)
    }

    fn compile(settings: &PrintSettings, white: Xy, peak: f64) -> Result<Self, Refusals> {
        let tone = Tone {
            contrast: settings.contrast,
            toe: settings.toe,
            shoulder: settings.shoulder,
            black: settings.black,
            grey: settings.grey,
            flare: settings.flare,
        };
        let scale = NeutralScale::new(&tone, peak);
        // By the third power the median chroma of a chart at 1000 nits is that of standard range, within a few per cent.
        let steepness = scale.steepness(&tone, peak);
        let colour = settings.colour / (steepness * steepness * steepness);
        let mut projector = Projector::new(settings.kelvin).map_err(Refusals::from)?;
        let dyes = DyeTable::new(&projector, scale.print().base(), scale.print().top());
        let (low, high) = dyes.span();
        projector.tabulate(&low, &high);
        let gain = exp2(settings.exposure) / MID_GREY;
        let lamp = projector.white_chromaticity();
        let to_display = Adaptation::Bradford.matrix(lamp, white) * scale.clear();
        let lights = settings.lights.map(|points| (points - NEUTRAL_POINTS) * POINT);
        let gains = HueGuard::gains_of(lights, scale::negative::GAMMA);
        Ok(Self {
            layers: rows(&(interlayer::crosstalk_matrix(settings.crosstalk) * gain)),
            interlayer: Interlayer::new(settings.crosstalk, colour),
            lights,
            guard: HueGuard::new(settings.hue, WARMTH, gains, lamp, &to_display),
            flare: (white.to_xyz(1.0) * settings.flare).into(),
            negative: DensityTable::new(*scale.negative(), NEGATIVE_SPAN[0], NEGATIVE_SPAN[1]),
            print: DensityTable::new(*scale.print(), PRINT_SPAN[0], PRINT_SPAN[1]),
            scale,
            dyes,
            projector,
        })
    }

    /// Scene light to display light: AP1 (0.18 = mid-grey) to XYZ under the display's white, Y = 1 at diffuse white.
    ///
    /// Any finite number gives finite light; NaN gives NaN.
    #[inline]
    pub fn render(&self, ap1: [f64; 3]) -> [f64; 3] {
        wide(Render { print: self, ap1 })
    }

    /// Exposures of the red, green and blue layers, linear, relative to mid-grey: above zero for any light.
    #[inline(always)]
    pub fn exposures(&self, ap1: [f64; 3]) -> [f64; 3] {
        // Large lights of both signs would overflow to a NaN in the mix; the negative is at its end long before.
        let [red, green, blue] = ap1;
        let held = [red.clamp(-1e90, 1e90), green.clamp(-1e90, 1e90), blue.clamp(-1e90, 1e90)];
        let [red, green, blue] = apply(&self.layers, held);
        [floored(red), floored(green), floored(blue)]
    }

    /// Densities of the negative's layers, over base, before interlayer effects, from their exposures.
    #[inline(always)]
    pub fn negative_densities(&self, exposures: [f64; 3]) -> [f64; 3] {
        let [red, green, blue] = log10_each(exposures);
        [self.negative.value(red), self.negative.value(green), self.negative.value(blue)]
    }

    /// Equivalent neutral densities of the print, over diffuse white, from the negative's densities: red-, green- and
    /// blue-absorbing.
    #[inline(always)]
    pub fn print_densities(&self, negative: [f64; 3]) -> [f64; 3] {
        let grey = self.scale.grey_negative();
        let [red, green, blue] = negative;
        let mut densities = self.interlayer.apply([red - grey, green - grey, blue - grey]);
        for i in 0..3 {
            densities[i] = self.print.value(self.scale.grey_print() - densities[i] + self.lights[i]);
        }
        densities
    }

    /// Display light of print densities, XYZ under the display's white, with the hue of the layers' `exposures`.
    #[inline(always)]
    pub fn light_of_densities(&self, exposures: [f64; 3], densities: [f64; 3]) -> [f64; 3] {
        let mut light = self.guard.apply(exposures, self.projector.light(self.dyes.amounts(densities)));
        for k in 0..3 {
            light[k] += self.flare[k];
        }
        light
    }

    /// The neutral scale of this print: its curves, and display light of grey exposures.
    pub const fn scale(&self) -> &NeutralScale {
        &self.scale
    }

    /// The amounts of dye against density.
    pub const fn dyes(&self) -> &DyeTable {
        &self.dyes
    }

    /// The lamp, the dyes and the observer.
    pub const fn projector(&self) -> &Projector {
        &self.projector
    }
}

impl Rendered for Print {
    fn render(&self, rgb: [f64; 3]) -> [f64; 3] {
        self.render(rgb)
    }
}

/// One colour through a print.
struct Render<'a> {
    print: &'a Print,
    ap1: [f64; 3],
}

impl Wide for Render<'_> {
    type Output = [f64; 3];

    #[inline(always)]
    fn run<const FUSED: bool>(self) -> [f64; 3] {
        let Self { print, ap1 } = self;
        let exposures = print.exposures(ap1);
        print.light_of_densities(exposures, print.print_densities(print.negative_densities(exposures)))
    }
}

pub(super) fn rows(matrix: &Matrix3<f64>) -> [[f64; 3]; 3] {
    std::array::from_fn(|r| std::array::from_fn(|c| matrix[(r, c)]))
}

#[inline(always)]
pub(super) fn apply(matrix: &[[f64; 3]; 3], v: [f64; 3]) -> [f64; 3] {
    let mut sums = [0.0; 3];
    for k in 0..3 {
        sums[k] = matrix[k][0] * v[0] + matrix[k][1] * v[1] + matrix[k][2] * v[2];
    }
    sums
}
