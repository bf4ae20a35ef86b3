//! How far a light's hue turns between two exposures, and whose doing that is.
//!
//! What the look asks for, its tints and its balance, turns hues by intent: it is the bare path without them (as for the
//! cast of greys) that is measured. A cube's error against its exact path is asked for by no step: it is added to that.
//!
//! Warm lights that go to yellow are a figure of their own. Eyes see orange go to yellow in bright light by themselves (the effect of
//! Bezold and Brücke, 1873 and 1878), film and screens have always shown fire and lamps so, and audiences expect it.

use super::Run;
use super::path::{Path, turned};
use super::search::CLIMBS;

/// Hues of Oklab, degrees, of lights that are called warm at their darker end: from red-orange (BT.709's red is 29,
/// its red and a quarter of its green 42) to its yellow, 110.
const WARM: [f64; 2] = [40.0, 110.0];
/// How far towards yellow such a light may go: not into green.
const YELLOW: f64 = 115.0;

/// A turn of hue from a darker light to a brighter one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Turn {
    /// Degrees, 0 to 180.
    pub(super) degrees: f64,
    /// Whether it is a warm light that goes towards yellow.
    pub(super) to_yellow: bool,
}

impl Turn {
    /// Between the hues at a darker and a brighter exposure.
    pub(super) fn between(darker: f64, brighter: f64) -> Self {
        let by = turned(brighter - darker);
        let from = darker.rem_euclid(360.0);
        let to_yellow = by > 0.0 && (WARM[0]..=WARM[1]).contains(&from) && from + by <= YELLOW;
        Self { degrees: by.abs(), to_yellow }
    }

    /// Its degrees, where it is of the kind that is asked for.
    pub(super) fn of_kind(self, to_yellow: bool) -> f64 {
        if self.to_yellow == to_yellow { self.degrees } else { f64::NEG_INFINITY }
    }
}

/// Climbs that a search for a turn is worth on a path: a cube's every value takes three paths where the look asks for
/// something, and its error against the exact path is small.
pub(super) fn climbs(run: &Run<'_>, path: &Path<'_>) -> usize {
    if run.asks && !path.is_exact() { CLIMBS / 2 } else { CLIMBS }
}

/// The hue on the display, degrees, without what the look asks for; none where there is too little chroma.
pub(super) fn hue(run: &Run<'_>, path: &Path<'_>, signal: [f64; 3]) -> Option<f64> {
    if !run.asks {
        return path.hue_of(signal);
    }
    let bare = run.untinted.hue_of(signal)?;
    if path.is_exact() {
        return Some(bare);
    }
    unasked(Some(bare), Some(path.hue_of(signal)?), run.exact.hue_of(signal))
}

/// The hue on the bare path, with the error of a cube against the exact path added.
pub(super) fn unasked(bare: Option<f64>, cube: Option<f64>, exact: Option<f64>) -> Option<f64> {
    Some(turned(bare? + turned(cube? - exact?)))
}

/// Degrees that the hue spans between two exposures with all that the look asks for; none where it asks for nothing.
pub(super) fn total(
    run: &Run<'_>,
    path: &Path<'_>,
    [from, to]: [f64; 2],
    signal: impl Fn(f64) -> [f64; 3],
) -> Option<f64> {
    const STEPS: u32 = 32;
    let exposures = (0..=STEPS).map(|i| from + (to - from) * f64::from(i) / f64::from(STEPS));
    run.asks.then(|| span(exposures.filter_map(|at| path.hue_of(signal(at))))).flatten()
}

/// The two exposures between which a light turns most, of each kind: any turn but warm lights to yellow, and those. `hues`
/// are the exposures and hues of one light, the darkest first.
pub(super) fn widest(hues: &[(f64, f64)]) -> [Option<[f64; 2]>; 2] {
    let mut best: [(f64, Option<[f64; 2]>); 2] = [(0.0, None); 2];
    for (i, (from, darker)) in hues.iter().enumerate() {
        for (to, brighter) in &hues[i + 1..] {
            let turn = Turn::between(*darker, *brighter);
            let kept = &mut best[usize::from(turn.to_yellow)];
            if turn.degrees > kept.0 {
                *kept = (turn.degrees, Some([*from, *to]));
            }
        }
    }
    best.map(|b| b.1)
}

/// Degrees that the hues of one light span, unwound; none where there are none.
pub(super) fn span(hues: impl Iterator<Item = f64>) -> Option<f64> {
    let mut last: Option<f64> = None;
    let unwound = hues.map(|hue| {
        let here = last.map_or(hue, |last| last + turned(hue - last));
        last = Some(here);
        here
    });
    let (least, most) =
        unwound.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), hue| (least.min(hue), most.max(hue)));
    (least <= most).then_some(most - least)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn warm_lights_to_yellow_are_told_apart_from_every_other_turn() {
        let turn = Turn::between;
        assert_eq!(turn(65.0, 105.0), Turn { degrees: 40.0, to_yellow: true });
        // Away from yellow, from red, and through yellow into green.
        assert_eq!(turn(105.0, 65.0), Turn { degrees: 40.0, to_yellow: false });
        assert_eq!(turn(29.0, 105.0), Turn { degrees: 76.0, to_yellow: false });
        assert_eq!(turn(100.0, 140.0), Turn { degrees: 40.0, to_yellow: false });
        // Round the circle, by the short way.
        assert_eq!(turn(-170.0, 170.0), Turn { degrees: 20.0, to_yellow: false });
        assert_eq!(turn(-295.0, -255.0), Turn { degrees: 40.0, to_yellow: true });
    }

    #[test]
    fn the_widest_turns_of_a_light_are_found_by_kind() {
        // Orange to yellow, and then back a little.
        let hues = [(-2.0, 60.0), (0.0, 70.0), (2.0, 108.0), (4.0, 90.0)];
        assert_eq!(widest(&hues), [Some([2.0, 4.0]), Some([-2.0, 2.0])]);
        assert_eq!(widest(&[(0.0, -70.0), (1.0, -40.0)]), [Some([0.0, 1.0]), None]);
        assert_eq!(widest(&[(0.0, 10.0)]), [None, None]);
    }

    #[test]
    fn a_span_goes_on_past_a_full_turn() {
        assert_eq!(span([170.0, -170.0, -150.0].into_iter()), Some(40.0));
        assert_eq!(span([0.0, 90.0, 179.0, -91.0, -1.0].into_iter()), Some(359.0));
        assert_eq!(span(std::iter::empty()), None);
    }
}
