//! Whether it matters that a show does not say where its shots' corrections come.

use super::{Job, Show};
use crate::difference::Difference;
use crate::shot::{Grading, Order};
use crate::stress::named_signals;
use std::collections::BTreeMap;

/// CIEDE2000, or Delta E ITP on PQ and HLG, from which on two pictures of a light differ at a glance: about 1 is just seen
/// side by side.
const SEEN: f64 = 5.0;

impl Show {
    /// What to say of the corrections of `jobs` where the show does not say `order`: a line for each shot whose look begins
    /// with `compress` and to which it matters whether the correction comes before that, as it does then, or after. The
    /// lights are those that the stress test has names for. A shot with a correction of the camera's own signal has no
    /// choice.
    pub fn order_warnings(&self, jobs: &[Job<'_>]) -> Vec<String> {
        let Ok(after) = Grading::new(Order::AfterCompress, self.grading.space().clone(), self.grading.clamps()) else {
            return Vec::new();
        };
        if !self.order_left_out || self.grading.order() != Order::Before {
            return Vec::new();
        }
        let mut worst: BTreeMap<&str, (f64, String)> = BTreeMap::new();
        for job in jobs {
            let Some((name, value, words)) = self.between_orders(job, &after) else { continue };
            let kept = worst.entry(name).or_default();
            if value > kept.0 {
                *kept = (value, words);
            }
        }
        let seen = worst.into_iter().filter(|(_, (value, _))| *value > SEEN);
        seen.map(|(shot, (_, words))| {
            format!(
                "shot {shot}: its correction comes before the look's compress, which turns strong lights: after it, {words}. \
                 Say in the show which is meant, under [cdl]: order = \"after-compress\", or order = \"before\" for the \
                 picture as it is"
            )
        })
        .collect()
    }

    /// How far a shot's two orders lie apart at the light where they do most.
    fn between_orders<'j>(&self, job: &Job<'j>, after: &Grading) -> Option<(&'j str, f64, String)> {
        let (name, shot) = (job.shot()?, job.correction()?);
        if !job.look().item().begins_with_compress() {
            return None;
        }
        let before = job.pipeline().ok()?;
        let compressed = before.clone().with_correction(Some(after.correction(shot.numbers).ok()?));
        let difference = Difference::on(before.display());
        let apart = |signal| {
            difference.between(difference.place(before.apply(signal)), difference.place(compressed.apply(signal)))
        };
        let lights =
            named_signals(before.camera()).into_iter().map(|(light, stops, signal)| (apart(signal), light, stops));
        let (value, light, stops) = lights.max_by(|a, b| a.0.total_cmp(&b.0))?;
        let unit = difference.formula().title();
        let words = format!(
            "{light} at {stops:+} stops would differ by {unit} {value:.1} (camera {}, display {})",
            job.camera().name,
            job.display().name
        );
        Some((name, value, words))
    }
}
