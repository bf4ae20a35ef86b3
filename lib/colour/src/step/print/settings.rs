//! What can be set of a print, and its sentence.

use super::parameters::{
    BLACK, COLOUR, CONTRAST, CROSSTALK, EXPOSURE, FLARE, GREY, HUE, KELVIN, LIGHTS, SHOULDER, TOE,
};
use super::{Print, VARIANTS, variant};
use crate::chromaticity::Xy;
use crate::invalid::Refusals;
use crate::setting::{CHANNELS, Setting, Value, settings};
use crate::step::tone::{ToneSettings, looks};
use crate::step::words::{capital, percent, plain, signed};
use crate::step::{Compiled, Context, Extremes, Maths, Renders, Role, StepSettings, even, extremes};
use std::sync::Arc;

settings! {
    "PrintDoc", base PrintSettings::of_variant,
    /// The settings of a print: plain numbers, checked by [`Print::new`]. The default is a neutral print.
    #[derive(Copy)]
    pub struct PrintSettings {
        /// A print by name: it gives the defaults of all settings below.
        variant: VariantName = VariantName::FIRST, Choice(|| VARIANTS.iter().map(|v| v.name).collect());
        /// Trim of the scene's exposure before the negative, stops. Moves mid-grey.
        exposure: f64 = EXPOSURE.default, Number(&EXPOSURE);
        /// Display light of mid-grey, a fraction of diffuse white.
        grey: f64 = GREY.default, Number(&GREY);
        /// Print gamma, density per log10 print exposure.
        contrast: f64 = CONTRAST.default, Number(&CONTRAST);
        /// Width of the roll-off into black, stops of scene light.
        toe: f64 = TOE.default, Number(&TOE);
        /// Width of the roll-off into white, stops of scene light.
        shoulder: f64 = SHOULDER.default, Number(&SHOULDER);
        /// Density of black over diffuse white (D-max).
        black: f64 = BLACK.default, Number(&BLACK);
        /// Strength of the interlayer effects: how much chroma the print gives back, 1 = as the scene.
        colour: f64 = COLOUR.default, Number(&COLOUR);
        /// How far a light keeps its hue as it gets brighter: 0 as the dyes turn it, 1 the hue that the layers saw.
        hue: f64 = HUE.default, Number(&HUE);
        /// Share of each layer's neighbours in its exposure.
        crosstalk: f64 = CROSSTALK.default, Number(&CROSSTALK);
        /// Printer points of red, green, blue; more light makes a denser print, 25 is neutral.
        lights: [f64; 3] = [LIGHTS.default; 3], Three(&LIGHTS, CHANNELS);
        /// Colour temperature of the projector's lamp, K. White is adapted to the display's; the dyes' hues shift.
        kelvin: f64 = KELVIN.default, Number(&KELVIN);
        /// Stray light of the projection, a fraction of diffuse white. Mid-grey stays on target.
        flare: f64 = FLARE.default, Number(&FLARE);
    }
}

impl PrintSettings {
    /// The numbers of the variant that these name; the variant itself is the first where none is stated.
    fn of_variant(&self) -> Self {
        variant(self.variant.name()).map_or(Self::NEUTRAL, |v| v.settings)
    }

    /// A built-in print by its name.
    pub fn named(name: &str) -> Option<Self> {
        variant(name).map(|v| Self { variant: VariantName(v.name), ..v.settings })
    }
}

impl StepSettings for PrintSettings {
    const NAME: &'static str = "print";
    const TITLE: &'static str = "Print";
    const HELP: &'static str = "Film-print-style tone map to display light; the last step.";
    const ROLE: Role = Role::Rendering;
    const EXAMPLE: &'static str = "variant = \"soft\"\nlights = [25, 24.5, 25]";
    const EXTREMES: &'static [Extremes] = &[
        extremes("exposure", "a dark picture, with dense shadows", "a bright picture, with thin highlights"),
        looks::GREY,
        looks::CONTRAST,
        looks::TOE,
        looks::SHOULDER,
        looks::BLACK,
        extremes("colour", "pale colours, grey skin", "strong colours: a red turns harsh first"),
        extremes(
            "hue",
            "warm lights turn yellow as they get brighter",
            "bright fire stays orange to the end, and can look painted",
        ),
        extremes(
            "crosstalk",
            "bright lights keep much colour on their way to white",
            "bright lights go to white early",
        ),
        extremes(
            "lights",
            "a bright picture; in one channel, a cast of its colour",
            "a dark picture; in one channel, the opposite colour",
        ),
        extremes(
            "kelvin",
            "reds are brighter, as under a warm lamp; whites stay white",
            "blues are stronger, as under a cold lamp; whites stay white",
        ),
        extremes("flare", "nothing to see: 0 is no stray light", "milky blacks"),
    ];

    fn make(&self, _: &dyn Context) -> Result<Maths, Refusals> {
        self.check().map(|()| Maths::rendering(*self))
    }

    fn describe(&self, _: &dyn Fn(&str) -> bool) -> String {
        let name = self.variant.name();
        let help = variant(name).unwrap_or(&VARIANTS[0]).help;
        let Self { grey, contrast, toe, shoulder, black, .. } = *self;
        let greys = ToneSettings { grey, contrast, toe, shoulder, black, per_channel: false }.greys();
        let mut more = Vec::new();
        if self.exposure != 0.0 {
            more.push(format!("negative exposed {} stops", signed(self.exposure)));
        }
        more.push(format!("colours at {}", percent(self.colour)));
        more.push(match self.hue {
            0.0 => "bright lights turn in hue as the dyes turn them".to_owned(),
            hue => format!("bright lights keep their hue at {}", percent(hue)),
        });
        more.push(format!("crosstalk of the layers {}", percent(self.crosstalk)));
        more.push(format!("printer lights {}", self.lights.map(plain).join(" ")));
        more.push(format!("projector of {} K", plain(self.kelvin)));
        if self.flare != 0.0 {
            more.push(format!("flare {} of white", percent(self.flare)));
        }
        format!("The print `{name}`: {help}. {greys} {}.", capital(&more.join(", ")))
    }
}

impl Renders for PrintSettings {
    fn compile(&self, white: Xy, peak: f64) -> Result<Compiled, Refusals> {
        Print::new(self, white, peak).map(Compiled::new)
    }

    fn uncast(&self) -> Option<Arc<dyn Renders>> {
        let bare = Self { lights: even(self.lights), kelvin: Self::NEUTRAL.kelvin, ..*self };
        (bare != *self).then(|| Arc::new(bare) as Arc<dyn Renders>)
    }
}

/// The name of a built-in print.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct VariantName(&'static str);

impl VariantName {
    /// That of the first, which is the default.
    pub const FIRST: Self = Self("even");

    /// The name.
    pub const fn name(self) -> &'static str {
        self.0
    }
}

#[cfg(feature = "serde")]
impl serde::Serialize for VariantName {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.0)
    }
}

impl Setting for VariantName {
    #[cfg(feature = "serde")]
    fn read<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let name = <String as serde::Deserialize>::deserialize(deserializer)?;
        let known = || VARIANTS.iter().map(|v| v.name);
        variant(&name)
            .map(|v| Self(v.name))
            .ok_or_else(|| serde::de::Error::custom(crate::message::unknown("variant", &name, known())))
    }

    fn list(&self, path: &str, all: &mut Vec<(String, Value)>) {
        all.push((path.to_owned(), Value::Text(self.0.to_owned())));
    }
}
