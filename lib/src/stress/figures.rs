//! The figures of the stress test, with their limits and the reasons for them.

use schemars::JsonSchema;
use serde::Serialize;

/// The verdict on a property of a look.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Grade {
    /// Within the stricter limit, or a figure without limits.
    Holds,
    /// Between the two limits: look at it.
    Marginal,
    /// Beyond the wider limit.
    Breaks,
}

impl Grade {
    /// The name in reports.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Holds => "holds",
            Self::Marginal => "marginal",
            Self::Breaks => "breaks",
        }
    }
}

/// The unit of a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// L* of CIELAB, or 720 times the intensity of ICtCp, as Delta E ITP counts it.
    Lightness,
    /// CIEDE2000, or Delta E ITP.
    Difference,
    /// Chroma of CIELAB, or the chromatic part of Delta E ITP.
    Chroma,
    /// Code values of 10 bits, full range, for one such code value of input.
    Codes,
    /// Distance in CIELAB, or Delta E ITP, for one code value of 10 bits of input.
    Rate,
    /// Degrees of hue of Oklab.
    Degrees,
    /// Stops of exposure.
    Stops,
    /// Parts of a hundred.
    Percent,
}

impl Unit {
    /// The name, for a display of standard or of high dynamic range.
    pub const fn name(self, hdr: bool) -> &'static str {
        match (self, hdr) {
            (Self::Lightness, false) => "L*",
            (Self::Difference, false) => "CIEDE2000",
            (Self::Chroma, false) => "CIELAB",
            (Self::Lightness | Self::Difference | Self::Chroma, true) => "Delta E ITP",
            (Self::Rate, false) => "CIELAB/code",
            (Self::Rate, true) => "ITP/code",
            (Self::Codes, _) => "codes/code",
            (Self::Degrees, _) => "degrees",
            (Self::Stops, _) => "stops",
            (Self::Percent, _) => "%",
        }
    }
}

/// Two limits of a figure: within `holds` it stands, beyond `breaks` it does not.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Bounds {
    /// The stricter one.
    pub holds: f64,
    /// The wider one.
    pub breaks: f64,
}

/// One figure of the stress test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figure {
    /// The property that it is of.
    pub property: &'static str,
    /// Its name within the property.
    pub name: &'static str,
    /// Its title.
    pub title: &'static str,
    /// What one sees on the monitor if it does not hold.
    pub means: &'static str,
    /// Its unit.
    pub unit: Unit,
    /// Whether more of it is worse; if not, less is.
    pub most: bool,
    /// The default limits; a figure without limits is reported, not graded.
    pub bounds: Option<Bounds>,
}

/// The properties, in the order of reports, and what each asks.
pub const PROPERTIES: [(&str, &str); 7] = [
    ("order", "more light never comes out darker"),
    ("folds", "of two lights, the brighter one stays the brighter"),
    ("clipping", "white, black and colours keep their shapes to the ends"),
    ("banding", "one step of signal stays a small step of picture"),
    ("hue", "a light keeps its hue as it gets brighter"),
    ("neutral", "grey has the cast that was asked for, and no other"),
    ("lights", "narrow lights stay apart from stop to stop, and keep their hue"),
];

const fn figure(
    property: &'static str,
    name: &'static str,
    [title, means]: [&'static str; 2],
    unit: Unit,
    [holds, breaks]: [f64; 2],
) -> Figure {
    // Where less is worse, the wider limit lies below.
    Figure { property, name, title, means, unit, most: holds <= breaks, bounds: Some(Bounds { holds, breaks }) }
}

const fn ungraded(
    property: &'static str,
    name: &'static str,
    [title, means]: [&'static str; 2],
    unit: Unit,
    most: bool,
) -> Figure {
    Figure { property, name, title, means, unit, most, bounds: None }
}

// The limits, and why. About 1 of a colour difference is what a careful eye just sees side by side.

/// A fall within rounding holds; half of what an eye just sees breaks a ramp of greys.
pub const ORDER_NEUTRAL: Figure = figure(
    "order",
    "neutral",
    [
        "fall of lightness of greys as light rises",
        "a dark ring round a lamp, or a dark band across a wall, where the scene has none",
    ],
    Unit::Lightness,
    [0.01, 0.5],
);
/// As for greys, but coloured lights are seldom seen as ramps.
pub const ORDER_COLOURS: Figure = figure(
    "order",
    "colours",
    [
        "fall of lightness of coloured lights",
        "a dark ring in the glow of a coloured light, between its edge and its core",
    ],
    Unit::Lightness,
    [0.1, 1.0],
);
/// Over a cell of a 33-point cube, 32 codes, 0.01 comes to a third of a unit, which is not visible, 0.03 to a whole one.
/// (Red and green that change places on a BT.709 display come to 0.066 at most.)
pub const FOLDS_DEPTH: Figure = figure(
    "folds",
    "depth",
    [
        "rate at which colours change places",
        "colours change places: a fall-off between two gels turns back on itself and shows an edge",
    ],
    Unit::Rate,
    [0.01, 0.03],
);
/// A thousandth of all signals is one colour of a picture; a hundredth is an area of it.
pub const FOLDS_SHARE: Figure = figure(
    "folds",
    "share",
    [
        "share of signals where colours change places",
        "the more of the signal this is, the likelier it appears in a frame",
    ],
    Unit::Percent,
    [0.1, 1.0],
);
/// Diffuse white lies 2.5 stops over mid-grey; a stop and a half more keeps cloud and skin under sun.
pub const CLIPPING_WHITE: Figure = figure(
    "clipping",
    "white",
    [
        "stops over grey where white clips",
        "whatever is brighter, sky, practical or face in the sun, is one flat white on this monitor",
    ],
    Unit::Stops,
    [4.0, 2.5],
);
/// Black cloth lies 2 to 3 stops under mid-grey (common practice, no source), its folds two more.
pub const CLIPPING_BLACK: Figure = figure(
    "clipping",
    "black",
    [
        "stops under grey where black is one code",
        "whatever is darker, cloth, hair or night, is one flat black on this monitor",
    ],
    Unit::Stops,
    [5.0, 3.0],
);
/// Reported, not graded: a night look has more of it than a day look.
pub const CLIPPING_SHARE: Figure = ungraded(
    "clipping",
    "share",
    [
        "share of a camera's colours at the display's boundary",
        "these colours have lost a channel: what differs in it alone looks the same",
    ],
    Unit::Percent,
    true,
);
/// A light at mid-grey that clips has no room at all; two stops over it are a lamp in the frame.
pub const CLIPPING_SATURATED: Figure = ungraded(
    "clipping",
    "saturated",
    [
        "stops from grey where a saturated light first clips",
        "from here on such a light only fades towards white, or stays one flat patch",
    ],
    Unit::Stops,
    false,
);
/// Four codes of 10 bits are one of 8 bits: beyond, an 8-bit display skips codes; beyond two, gradients show it.
pub const BANDING_NEUTRAL_STEP: Figure = figure(
    "banding",
    "neutral-step",
    [
        "largest step of greys",
        "skies and walls show steps, and noise grows as much: the monitor skips codes between two of the recording",
    ],
    Unit::Codes,
    [4.0, 8.0],
);
/// Colours move fastest where a channel leaves its end, which no gradient of a scene follows for long.
pub const BANDING_COLOUR_STEP: Figure = figure(
    "banding",
    "colour-step",
    [
        "largest step of any colour when one channel changes by a code",
        "soft light of that colour shows steps, and its noise grows as much",
    ],
    Unit::Codes,
    [8.0, 32.0],
);
/// A change of slope within a code of a quarter of what an eye sees is hidden by the codes themselves.
pub const BANDING_NEUTRAL_JUMP: Figure = figure(
    "banding",
    "neutral-jump",
    ["largest change of step of greys", "a soft gradient shows a line where the picture suddenly changes its slope"],
    Unit::Difference,
    [0.25, 1.0],
);
/// As for greys, twice as much.
pub const BANDING_COLOUR_JUMP: Figure = figure(
    "banding",
    "colour-jump",
    [
        "largest change of step of coloured lights",
        "the fall-off of a coloured light shows a line where the picture suddenly changes its slope",
    ],
    Unit::Difference,
    [0.5, 2.0],
);
/// Eight names divide the hues: past 45 degrees a light has another name, past half of that it no longer is its own.
///
/// The two limits part renderings that look after hue from those that do not. Turns of one path each (S-Log3,
/// S-Gamut3.Cine, the published compression, BT.709, the print's own neutral curve), warm lights among them, measured by
/// this test for a study of our own:
///
/// | rendering | degrees |
/// | --- | --- |
/// | one curve per channel in AP1, BT.2020 or BT.709, cut off or mapped softly | 65 to 76 |
/// | the curves per channel of ACES 1 | 65 |
/// | a print without anything that holds hue | 64 |
/// | a print that turns light towards the hue that its layers saw, mostly or wholly | 33, 30 |
/// | luminance by the curve with the chromaticity kept, with a path to white or without | 18, 19 |
/// | the outer two channels by the curve, the hue of the hexagon kept | 17 |
/// | the hue of Oklab kept | 0 |
///
/// Only lights that there are count, without what the look asks for. Hues are Oklab's, with a chroma of at least 0.05.
pub const HUE_SKEW: Figure = figure(
    "hue",
    "skew",
    [
        "turn of a light's hue from -6 to +6 stops",
        "a light has one colour in its core and another in its glow, and changes it as you open up",
    ],
    Unit::Degrees,
    [22.5, 45.0],
);
/// As [`HUE_SKEW`]; but eyes see orange go to yellow in bright light by themselves, and audiences know fire and lamps so:
/// to be looked at, never a fault alone. No turn is over 180 degrees.
pub const HUE_WARM: Figure = figure(
    "hue",
    "warm",
    [
        "turn of warm lights to yellow from -6 to +6 stops",
        "an orange light is yellow in its core, as fire and lamps look on film and to the eye",
    ],
    Unit::Degrees,
    [22.5, 180.0],
);
/// As [`HUE_SKEW`], of signals beyond every mixture of wavelengths: no light of a scene turns so, but dark noise and an edge
/// where a channel of the camera clips can. Twice as much, and never a fault alone.
pub const HUE_UNREAL: Figure = figure(
    "hue",
    "unreal",
    [
        "turn of signals that no light makes",
        "noise in the dark, or the rim of a light where a camera's channel clips, flickers in another hue",
    ],
    Unit::Degrees,
    [45.0, 180.0],
);
/// A reversal of a degree is not seen; ten change the order of two neighbouring gels.
pub const HUE_ORDER: Figure = figure(
    "hue",
    "order",
    ["hues that run backwards", "of two gels side by side, the warmer one looks the cooler"],
    Unit::Degrees,
    [1.0, 10.0],
);
/// Reported, not graded: it is what the look asks for.
pub const NEUTRAL_CAST: Figure = ungraded(
    "neutral",
    "cast",
    ["largest cast of greys", "the tint of the look at its strongest, by intent or not"],
    Unit::Chroma,
    true,
);
/// One is just seen, three is a wrong grey card.
pub const NEUTRAL_UNASKED: Figure = figure(
    "neutral",
    "unasked",
    ["largest cast that no step asks for", "a grey card has an unintended cast on this monitor"],
    Unit::Chroma,
    [1.0, 3.0],
);
/// Two exposures a stop apart that an eye just tells apart are flat; three times as much has some shape.
pub const LIGHTS_SHAPE: Figure = figure(
    "lights",
    "shape",
    [
        "least difference of a light and itself a stop brighter",
        "such a light is one flat patch: a stop more or less makes no difference, and a tube or a sign has no form",
    ],
    Unit::Difference,
    [3.0, 1.0],
);
/// As [`HUE_SKEW`], of lights with a spectrum.
pub const LIGHTS_HUE: Figure = figure(
    "lights",
    "hue",
    [
        "turn of a narrow light's hue from -2 to +5 stops",
        "an LED, lamp or sign has one colour in its core and another in its glow",
    ],
    Unit::Degrees,
    [22.5, 45.0],
);
/// As [`HUE_WARM`], of lights with a spectrum.
pub const LIGHTS_WARM: Figure = figure(
    "lights",
    "warm",
    [
        "turn of warm narrow lights to yellow from -2 to +5 stops",
        "an amber LED or a sodium lamp is yellow in its core, as lamps look on film and to the eye",
    ],
    Unit::Degrees,
    [22.5, 180.0],
);
/// Reported, not graded: it says how much the mapping has to do.
pub const LIGHTS_OUTSIDE: Figure = ungraded(
    "lights",
    "outside",
    [
        "share of narrow lights outside the display's gamut",
        "this monitor cannot show them as they are: whatever it shows instead is the look's choice",
    ],
    Unit::Percent,
    true,
);

/// Every figure, in the order of reports.
pub const FIGURES: [&Figure; 22] = [
    &ORDER_NEUTRAL,
    &ORDER_COLOURS,
    &FOLDS_DEPTH,
    &FOLDS_SHARE,
    &CLIPPING_WHITE,
    &CLIPPING_BLACK,
    &CLIPPING_SHARE,
    &CLIPPING_SATURATED,
    &BANDING_NEUTRAL_STEP,
    &BANDING_COLOUR_STEP,
    &BANDING_NEUTRAL_JUMP,
    &BANDING_COLOUR_JUMP,
    &HUE_SKEW,
    &HUE_WARM,
    &HUE_UNREAL,
    &HUE_ORDER,
    &NEUTRAL_CAST,
    &NEUTRAL_UNASKED,
    &LIGHTS_SHAPE,
    &LIGHTS_HUE,
    &LIGHTS_WARM,
    &LIGHTS_OUTSIDE,
];

impl Figure {
    /// Its name in documents and reports: `property.name`.
    pub fn key(&self) -> String {
        format!("{}.{}", self.property, self.name)
    }

    /// The verdict on a value under `bounds`. NaN breaks.
    pub fn grade(&self, value: f64, bounds: Option<Bounds>) -> Grade {
        let Some(Bounds { holds, breaks }) = bounds else { return Grade::Holds };
        let within = |limit: f64| if self.most { value <= limit } else { value >= limit };
        if within(holds) {
            Grade::Holds
        } else if within(breaks) {
            Grade::Marginal
        } else {
            Grade::Breaks
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_figure_belongs_to_a_property_and_has_a_name_of_its_own() {
        for (i, figure) in FIGURES.iter().enumerate() {
            assert!(PROPERTIES.iter().any(|p| p.0 == figure.property));
            assert!(FIGURES[..i].iter().all(|other| other.key() != figure.key()));
        }
        for (property, _) in PROPERTIES {
            assert!(FIGURES.iter().any(|f| f.property == property && f.bounds.is_some()), "{property}");
        }
    }

    #[test]
    fn grades_go_by_the_limits_either_way() {
        let most = |v| HUE_SKEW.grade(v, HUE_SKEW.bounds);
        assert_eq!([22.5, 22.6, 45.0, 45.1].map(most), [Grade::Holds, Grade::Marginal, Grade::Marginal, Grade::Breaks]);
        let least = |v| CLIPPING_WHITE.grade(v, CLIPPING_WHITE.bounds);
        assert_eq!([4.0, 3.9, 2.5, 2.4].map(least), [Grade::Holds, Grade::Marginal, Grade::Marginal, Grade::Breaks]);
        assert_eq!(most(f64::NAN), Grade::Breaks);
        assert_eq!(NEUTRAL_CAST.grade(1e9, None), Grade::Holds);
    }
}
