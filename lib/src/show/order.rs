//! Where the corrections of a show's shots come, and to which shots it matters.

use super::{Job, Show};
use crate::difference::Difference;
use crate::shot::{Grading, Order};
use crate::stress::named_signals;
use serde::Serialize;
use std::collections::BTreeMap;

/// CIEDE2000, or Delta E ITP on PQ and HLG, from which on two pictures of a light differ at a glance: about 1 is just seen
/// side by side.
const SEEN: f64 = 5.0;
/// Shots that are named one by one; more are counted.
const NAMED: usize = 8;

/// A shot whose correction comes before the `compress` that its look begins with, where after it the picture would be
/// another: at the light where the two differ the most.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OrderDifference {
    /// The shot.
    pub shot: String,
    /// The light, as the stress test calls it.
    pub light: String,
    /// Stops of that light over mid-grey.
    pub stops: f64,
    /// The difference there.
    pub difference: f64,
    /// The name of the difference: CIEDE2000, or Delta E ITP on PQ and HLG.
    pub formula: &'static str,
    /// The camera.
    pub camera: String,
    /// The display.
    pub display: String,
}

impl OrderDifference {
    /// In a sentence.
    pub fn words(&self) -> String {
        let Self { shot, light, stops, difference, formula, camera, display } = self;
        format!(
            "shot {shot}: its correction comes before the look's compress, which turns strong lights: after it, {light} at \
             {stops:+} stops would differ by {formula} {difference:.1} (camera {camera}, display {display})"
        )
    }
}

impl OrderDifference {
    /// What to say: a line for each of `differences`, and one where the show does not say where corrections come.
    pub fn warnings(differences: &[Self], is_open: bool) -> Vec<String> {
        let mut said: Vec<String> = differences.iter().take(NAMED).map(Self::words).collect();
        if let Some(more) = differences.len().checked_sub(NAMED).filter(|more| *more > 0) {
            said.push(format!("so do the corrections of {more} more shots, each by a little less"));
        }
        if is_open {
            said.push(
                "the show does not say where corrections come: they come before the look. Say which is meant, under [cdl]: \
                 order = \"after-compress\", or order = \"before\" for the picture as it is"
                    .to_owned(),
            );
        }
        said
    }
}

impl Show {
    /// The shots of `jobs` for which it matters that corrections come before the look: those whose look begins with
    /// `compress`, and for which a light that the stress test has a name for differs by more than 5, CIEDE2000 or on PQ
    /// and HLG Delta E ITP, from the same correction after that. The largest difference of each, the largest first. A correction of the camera's own signal
    /// has no choice, and gives none.
    pub fn order_differences(&self, jobs: &[Job<'_>]) -> Vec<OrderDifference> {
        let Ok(after) = Grading::new(Order::AfterCompress, self.grading.space().clone(), self.grading.clamps()) else {
            return Vec::new();
        };
        if self.grading.order() != Order::Before {
            return Vec::new();
        }
        let mut worst: BTreeMap<String, OrderDifference> = BTreeMap::new();
        for found in jobs.iter().filter_map(|job| between_orders(job, &after)).filter(|d| d.difference > SEEN) {
            match worst.get(&found.shot) {
                Some(kept) if kept.difference >= found.difference => {}
                _ => drop(worst.insert(found.shot.clone(), found)),
            }
        }
        let mut all: Vec<OrderDifference> = worst.into_values().collect();
        all.sort_by(|a, b| b.difference.total_cmp(&a.difference));
        all
    }

    /// Whether the show does not say where corrections come, although a look of a shot of `jobs` leaves a choice.
    pub fn leaves_order_open(&self, jobs: &[Job<'_>]) -> bool {
        let has_choice = |job: &Job<'_>| job.shot().is_some() && job.look().item().begins_with_compress();
        let is_possible = Grading::new(Order::AfterCompress, self.grading.space().clone(), false).is_ok();
        self.order_left_out && is_possible && self.grading.order() == Order::Before && jobs.iter().any(has_choice)
    }

    /// What to say of where the corrections of `jobs` come: a line for each shot of [`order_differences`], and one where the
    /// show does not say it.
    ///
    /// [`order_differences`]: Self::order_differences
    pub fn order_warnings(&self, jobs: &[Job<'_>]) -> Vec<String> {
        OrderDifference::warnings(&self.order_differences(jobs), self.leaves_order_open(jobs))
    }
}

/// How far a shot's two orders lie apart at the light where they do most; none where there is no choice.
fn between_orders(job: &Job<'_>, after: &Grading) -> Option<OrderDifference> {
    let (name, shot) = (job.shot()?, job.correction()?);
    if !job.look().item().begins_with_compress() {
        return None;
    }
    let before = job.pipeline().ok()?;
    let compressed = before.clone().with_correction(Some(after.correction(shot.numbers).ok()?));
    let difference = Difference::on(before.display());
    let apart =
        |signal| difference.between(difference.place(before.apply(signal)), difference.place(compressed.apply(signal)));
    let lights = named_signals(before.camera()).into_iter().map(|(light, stops, signal)| (apart(signal), light, stops));
    let (value, light, stops) = lights.max_by(|a, b| a.0.total_cmp(&b.0))?;
    Some(OrderDifference {
        shot: name.to_owned(),
        light: light.to_string(),
        stops,
        difference: value,
        formula: difference.formula().title(),
        camera: job.camera().name.to_owned(),
        display: job.display().name.to_owned(),
    })
}
