//! The report of what a camera does to the picture: by exposure index, for each exposure that is compared, and for two
//! modes.

use super::scene::Difference;
use super::{Processing, words};
use crate::measure::Measurement;
use crate::measure::compare::{Exposure, Row, Zone, compare};
use schemars::JsonSchema;
use serde::Serialize;

/// What was found at one exposure index.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct AtIndex {
    /// The exposure index; null if it is not known.
    pub ei: Option<f64>,
    /// The findings.
    #[serde(flatten)]
    pub found: Processing,
    /// The same in sentences.
    pub sentences: Vec<String>,
    /// Notes on the frames.
    pub notes: Vec<String>,
}

impl AtIndex {
    /// Adds the sentences to the findings.
    pub fn new(ei: Option<f64>, found: Processing, notes: Vec<String>) -> Self {
        let sentences = words::sentences(&found);
        Self { ei, found, sentences, notes }
    }
}

/// The whole report.
#[derive(Debug, Clone, PartialEq, Default, Serialize, JsonSchema)]
pub struct Report {
    /// By exposure index.
    pub indices: Vec<AtIndex>,
    /// The exposures that are compared.
    pub choices: Vec<words::Choice>,
    /// Sentences: each exposure against the first, and the exposure index from which noise is smoothed.
    pub choices_in_words: Vec<String>,
    /// Two frames of one scene in two modes; null if none were given.
    pub difference: Option<Difference>,
    /// The same in sentences.
    pub difference_in_words: Vec<String>,
}

impl Report {
    /// Adds the exposures `rows` that are compared.
    pub fn compare(&mut self, measured: &[(f64, &Measurement)], rows: &[Row]) {
        let choice = |row: &Row| {
            let own = measured.iter().find(|m| m.0 == row.ei)?.1;
            let at = self.indices.iter().find(|i| i.ei == Some(row.ei))?;
            let noise = at.found.noise.as_ref()?;
            let of =
                |measured: &Measurement| compare(&[Exposure { ei: row.ei, measured, over: row.over }], &[0.0]).pop();
            let white = noise.unsmoothed.as_ref().and_then(|u| of(&u.0));
            let percent = |row: &Row| row.zones.first().copied().and_then(Zone::percent);
            Some(words::Choice {
                ei: row.ei,
                over: row.over,
                stops_over: row.clip,
                stops_under: row.floor.map(|f| -f),
                stops_under_white: white.as_ref().and_then(|r| r.floor).map(|f| -f),
                noise_percent: of(own).as_ref().and_then(percent),
                noise_white_percent: white.as_ref().and_then(percent),
                smoothed_pixels: noise.smoothed_pixels,
                is_smoothed: noise.is_smoothed(),
                mtf50: at.found.edge.as_ref().and_then(|e| e.green().mtf50),
                block_steps: at.found.codec.as_ref().and_then(|c| c.blocks.as_ref()).map(|b| b.strength()),
            })
        };
        let choices: Vec<words::Choice> = rows.iter().filter_map(choice).collect();
        let mut said: Vec<String> = choices.iter().skip(1).map(|c| words::choice(c, &choices[0])).collect();
        let mut noises: Vec<_> = self.indices.iter().filter_map(|i| Some((i.ei?, i.found.noise.as_ref()?))).collect();
        noises.sort_by(|a, b| a.0.total_cmp(&b.0));
        said.extend(words::from_which(&noises));
        (self.choices, self.choices_in_words) = (choices, said);
    }
}

/// The JSON Schema of the report.
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(Report).to_value()
}
