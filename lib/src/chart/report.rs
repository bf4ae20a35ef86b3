//! The report of `chart` for programs.

use super::measure::{Colours, Frame};
use super::{Chart, fit};
use crate::difference::Statistics;
use schemars::JsonSchema;
use serde::Serialize;

/// The version of the report's shape.
pub const SCHEMA: u32 = 1;

/// The whole report of `chart`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "Rushlight chart")]
pub struct Report {
    /// The version of this shape: 1.
    #[schemars(extend("const" = SCHEMA))]
    pub schema: u32,
    /// Version of the program.
    pub version: &'static str,
    /// The chart.
    pub chart: String,
    /// Where its reference colours come from.
    pub source: String,
    /// The curve that made light of the signal.
    pub curve: String,
    /// The target of the fit: reference colours, or another camera.
    pub target: String,
    /// Camera light to XYZ under D65, three rows; 1, 1, 1 goes to white.
    pub matrix: [[f64; 3]; 3],
    /// The same as primaries and white, CIE 1931 x and y: red, green, blue, white; none where no primaries can state it.
    pub gamut: Option<[[f64; 2]; 4]>,
    /// CIEDE2000 through the fitted matrix.
    pub after: Figures,
    /// CIEDE2000 through the gamut that the show has.
    pub before: Option<Figures>,
    /// CIEDE2000 of each patch in a fit without that patch.
    pub without_patch: Figures,
    /// Published gamuts, the best first.
    pub published: Vec<Gamut>,
    /// The difference that remains between two cameras through a look on a display; null if no look was named.
    pub through_look: Option<ThroughLook>,
    /// Each frame.
    pub frames: Vec<View>,
    /// Further notes, in sentences.
    pub remarks: Vec<String>,
}

/// Statistics of CIEDE2000.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Figures {
    /// The mean.
    pub mean: f64,
    /// The difference that 95 of 100 patches do not exceed.
    pub p95: f64,
    /// The largest.
    pub max: f64,
}

impl From<&Statistics> for Figures {
    fn from(s: &Statistics) -> Self {
        Self { mean: s.mean, p95: s.p95, max: s.max }
    }
}

/// A published gamut.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Gamut {
    /// Its name.
    pub name: &'static str,
    /// The difference that it leaves.
    #[serde(flatten)]
    pub figures: Figures,
}

/// Two matched cameras through one look on one display.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ThroughLook {
    /// The look.
    pub look: String,
    /// The display.
    pub display: String,
    /// Unit of the differences: CIEDE2000, or Delta E ITP on PQ and HLG.
    pub formula: &'static str,
    /// With the gamut that the show has, exposure matched.
    pub before: Figures,
    /// With the fitted matrix, exposure and white matched.
    pub after: Figures,
    /// Every patch of every frame, in their order.
    pub patches: Vec<PatchThroughLook>,
}

/// One patch of both cameras through one look.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PatchThroughLook {
    /// Its name.
    pub name: String,
    /// With the gamut that the show has.
    pub before: f64,
    /// With the fitted matrix.
    pub after: f64,
}

impl ThroughLook {
    /// Of differences before and after the match, of every patch of `chart`, frame after frame.
    pub fn new([look, display]: [&str; 2], formula: &'static str, chart: &Chart, differences: &[[f64; 2]]) -> Self {
        let figures = |of: usize| {
            let all: Vec<f64> = differences.iter().map(|d| d[of]).collect();
            Figures::from(&Statistics::of(&all))
        };
        let patch = |(i, [before, after]): (usize, &[f64; 2])| PatchThroughLook {
            name: chart.patches[i % chart.patches.len()].name.clone(),
            before: *before,
            after: *after,
        };
        Self {
            look: look.to_owned(),
            display: display.to_owned(),
            formula,
            before: figures(0),
            after: figures(1),
            patches: differences.iter().enumerate().map(patch).collect(),
        }
    }
}

/// One frame.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct View {
    /// The file.
    pub file: String,
    /// Its SHA-256.
    pub sha256: String,
    /// Its light.
    pub light: String,
    /// Correlated colour temperature of the light, where it is known.
    pub kelvin: Option<f64>,
    /// Stops by which it is darker than this chart should be by the curve.
    pub under_stops: f64,
    /// Stops of red and blue over green of its greys, taken off before the fit.
    pub cast_stops: [f64; 2],
    /// Stops by which the light falls off across and down the chart, taken off before the fit.
    pub slope_stops: [f64; 2],
    /// Every patch.
    pub patches: Vec<Patch>,
}

/// One patch in one frame.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Patch {
    /// Its name.
    pub name: String,
    /// Whether the fit used it.
    pub used: bool,
    /// Its reference: XYZ under D65, 1 for the perfect diffuser.
    pub reference: [f64; 3],
    /// Its colour through the matrix.
    pub found: [f64; 3],
    /// CIEDE2000 through the gamut that the show has.
    pub before: Option<f64>,
    /// CIEDE2000 through the fitted matrix.
    pub after: f64,
    /// CIEDE2000 in a fit without it.
    pub without_patch: f64,
}

impl Report {
    /// Makes the report of the findings; `files` are the SHA-256 of the frames.
    pub fn new(chart: &Chart, curve: &str, target: &str, colours: &Colours, files: &[String]) -> Self {
        let view = |(frame, sha256): (&Frame, &String)| View {
            file: frame.name.clone(),
            sha256: sha256.clone(),
            light: frame.light.clone(),
            kelvin: Some(frame.kelvin).filter(|k| k.is_finite()),
            under_stops: frame.under,
            cast_stops: frame.cast,
            slope_stops: frame.slope,
            patches: chart
                .patches
                .iter()
                .enumerate()
                .map(|(i, patch)| Patch {
                    name: patch.name.clone(),
                    used: frame.used[i],
                    reference: frame.colours[i][0],
                    found: frame.colours[i][1],
                    before: frame.before.as_ref().map(|b| b[i]),
                    after: frame.after[i],
                    without_patch: frame.without_patch[i],
                })
                .collect(),
        };
        let published = |p: &fit::Published| Gamut { name: p.name, figures: (&Statistics::of(&p.differences)).into() };
        let xy = |c: crate::chromaticity::Xy| [c.x, c.y];
        Self {
            schema: SCHEMA,
            version: env!("CARGO_PKG_VERSION"),
            chart: chart.name.clone(),
            source: chart.source.clone(),
            curve: curve.to_owned(),
            target: target.to_owned(),
            matrix: std::array::from_fn(|r| std::array::from_fn(|c| colours.matrix[(r, c)])),
            gamut: colours.gamut.map(|g| {
                let [red, green, blue] = g.primaries.map(xy);
                [red, green, blue, xy(g.white)]
            }),
            after: (&colours.after).into(),
            before: colours.before.as_ref().map(Figures::from),
            without_patch: (&colours.without_patch).into(),
            published: colours.published.iter().map(published).collect(),
            through_look: None,
            frames: colours.frames.iter().zip(files).map(view).collect(),
            remarks: colours.remarks.clone(),
        }
    }

    /// Adds the differences through a look.
    #[must_use]
    pub fn with_look(self, through_look: Option<ThroughLook>) -> Self {
        Self { through_look, ..self }
    }
}

/// The JSON Schema of the report.
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(Report).to_value()
}
