//! Finding the largest value of a function: a coarse grid says where to begin, a compass search climbs from there.
//!
//! No clock, no random number, and no result that depends on the thread count: grids are judged in their own order, and
//! each climb is a walk of its own.

use rayon::prelude::*;

/// One coordinate of what is searched.
#[derive(Debug, Clone, Copy)]
pub(super) struct Axis {
    pub(super) low: f64,
    pub(super) high: f64,
    /// The grid's spacing, with which a climb begins.
    pub(super) step: f64,
    /// Whether the coordinate goes round, as a hue does.
    pub(super) round: bool,
}

impl Axis {
    /// From `low` to `high`; where that is lower, at `low` alone.
    pub(super) const fn new(low: f64, high: f64, step: f64) -> Self {
        Self { low, high: high.max(low), step, round: false }
    }

    pub(super) const fn round(low: f64, high: f64, step: f64) -> Self {
        Self { low, high, step, round: true }
    }

    /// From the lowest on, a step apart.
    pub(super) fn values(&self) -> Vec<f64> {
        let count = ((self.high - self.low) / self.step).round() as usize;
        (0..=count).map(|i| self.low + self.step * i as f64).collect()
    }

    fn keep(&self, v: f64) -> f64 {
        if self.round {
            self.low + (v - self.low).rem_euclid(self.high - self.low)
        } else {
            v.clamp(self.low, self.high)
        }
    }

    /// Steps between two values.
    fn apart(&self, a: f64, b: f64) -> f64 {
        let d = (a - b).abs();
        (if self.round { d.min(self.high - self.low - d) } else { d }) / self.step
    }
}

/// Climbs from so many of the best points of the grid.
pub(super) const CLIMBS: usize = 6;
/// Points of the grid nearer than this to a better one, in steps of every axis, begin no climb of their own.
const APART: f64 = 1.5;
/// The search ends when its step is this part of the grid's.
const FINEST: f64 = 1.0 / 1024.0;
/// Values that a climb asks for at most.
const MOST_VALUES: usize = 1500;

/// The largest value of `f` that is found from the points `seeds`, and where; none where `f` is nowhere above `-inf`.
pub(super) fn largest<const D: usize>(
    f: &(impl Fn([f64; D]) -> f64 + Sync),
    axes: &[Axis; D],
    seeds: &[[f64; D]],
) -> Option<([f64; D], f64)> {
    largest_of(CLIMBS, f, axes, seeds)
}

/// [`largest`] by so many climbs.
pub(super) fn largest_of<const D: usize>(
    climbs: usize,
    f: &(impl Fn([f64; D]) -> f64 + Sync),
    axes: &[Axis; D],
    seeds: &[[f64; D]],
) -> Option<([f64; D], f64)> {
    let values: Vec<f64> = seeds.par_iter().map(|seed| f(*seed)).collect();
    let mut order: Vec<usize> = (0..seeds.len()).filter(|i| values[*i] > f64::NEG_INFINITY).collect();
    order.sort_by(|a, b| values[*b].total_cmp(&values[*a]).then(a.cmp(b)));
    let mut starts: Vec<usize> = Vec::new();
    for i in order {
        let near = |other: &usize| (0..D).all(|d| axes[d].apart(seeds[i][d], seeds[*other][d]) < APART);
        if !starts.iter().any(near) {
            starts.push(i);
        }
        if starts.len() == climbs {
            break;
        }
    }
    let directions = directions::<D>();
    let tops: Vec<([f64; D], f64)> =
        starts.par_iter().map(|i| climb(f, axes, &directions, seeds[*i], values[*i])).collect();
    tops.into_iter().reduce(|best, top| if top.1 > best.1 { top } else { best })
}

/// Along every axis, and along the diagonal of every two of them, both ways.
fn directions<const D: usize>() -> Vec<[f64; D]> {
    let mut all = Vec::new();
    for a in 0..D {
        for sign in [1.0, -1.0] {
            let mut along = [0.0; D];
            along[a] = sign;
            all.push(along);
            for b in a + 1..D {
                for other in [1.0, -1.0] {
                    let mut diagonal = along;
                    diagonal[b] = other;
                    all.push(diagonal);
                }
            }
        }
    }
    all
}

/// Steps to the first better neighbour, halving the step where there is none (Hooke and Jeeves, "Direct search", 1961).
fn climb<const D: usize>(
    f: &impl Fn([f64; D]) -> f64,
    axes: &[Axis; D],
    directions: &[[f64; D]],
    mut at: [f64; D],
    mut value: f64,
) -> ([f64; D], f64) {
    let (mut scale, mut asked) = (0.5, 0);
    while scale >= FINEST && asked < MOST_VALUES {
        let better = directions.iter().find_map(|direction| {
            let there = std::array::from_fn(|d| axes[d].keep(at[d] + scale * axes[d].step * direction[d]));
            asked += 1;
            let found = f(there);
            (found > value).then_some((there, found))
        });
        match better {
            Some(found) => (at, value) = found,
            None => scale /= 2.0,
        }
    }
    (at, value)
}

/// Where `holds` turns from true at `from` to false at `to`, by halving; `from` where it is nowhere true.
pub(super) fn turn(from: f64, to: f64, holds: impl Fn(f64) -> bool) -> f64 {
    let (mut inside, mut outside) = (from, to);
    for _ in 0..40 {
        let middle = (inside + outside) / 2.0;
        if holds(middle) { inside = middle } else { outside = middle }
    }
    inside
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(n: usize) -> Vec<[f64; 2]> {
        (0..n * n).map(|i| [(i % n) as f64, (i / n) as f64].map(|v| v / (n - 1) as f64)).collect()
    }

    #[test]
    fn an_axis_that_has_no_width_is_a_point() {
        let axis = Axis::new(1.0, 0.999, 0.01);
        assert_eq!(axis.values(), [1.0]);
        let found = largest(&|[v]: [f64; 1]| v, &[axis], &[[0.5]]).unwrap();
        assert_eq!(found, ([1.0], 1.0));
    }

    #[test]
    fn a_peak_between_the_points_is_climbed() {
        let f = |[x, y]: [f64; 2]| 3.0 - (x - 0.437).abs() - 2.0 * (y - 0.6113 + 0.3 * (x - 0.437)).abs();
        let axes = [Axis::new(0.0, 1.0, 0.1), Axis::new(0.0, 1.0, 0.1)];
        let (at, value) = largest(&f, &axes, &grid(11)).unwrap();
        assert!((value - 3.0).abs() < 1e-3 && (at[0] - 0.437).abs() < 1e-3, "{at:?} {value}");
    }

    #[test]
    fn a_lesser_grid_point_can_lead_to_the_higher_peak() {
        // A broad hill under a grid point, and a needle that the grid sees only the foot of.
        let f = |[x, y]: [f64; 2]| {
            let hill = 1.0 - 4.0 * ((x - 0.5) * (x - 0.5) + (y - 0.5) * (y - 0.5));
            let needle = 2.0 - 13.0 * ((x - 0.06) * (x - 0.06) + (y - 0.06) * (y - 0.06)).sqrt();
            hill.max(needle)
        };
        let axes = [Axis::new(0.0, 1.0, 0.1), Axis::new(0.0, 1.0, 0.1)];
        assert!((largest(&f, &axes, &grid(11)).unwrap().1 - 2.0).abs() < 0.01);
    }

    #[test]
    fn hues_go_round_and_nowhere_is_nothing() {
        let f = |[h]: [f64; 1]| -((h - 359.0 + 180.0).rem_euclid(360.0) - 180.0).abs();
        let (at, _) = largest(&f, &[Axis::round(0.0, 360.0, 15.0)], &[[0.0], [90.0]]).unwrap();
        assert!((at[0] - 359.0).abs() < 0.1, "{at:?}");
        assert!(largest(&|_: [f64; 1]| f64::NEG_INFINITY, &[Axis::new(0.0, 1.0, 0.5)], &[[0.0]]).is_none());
    }

    #[test]
    fn the_thread_count_does_not_matter() {
        let f = |[x, y]: [f64; 2]| crate::math::sin(31.0 * x) * crate::math::cos(27.0 * y + x);
        let axes = [Axis::new(0.0, 1.0, 0.1), Axis::new(0.0, 1.0, 0.1)];
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| largest(&f, &axes, &grid(11)))
        };
        assert_eq!(on(1), on(5));
    }

    #[test]
    fn a_turn_is_halved_to_its_place() {
        assert!((turn(0.0, 1.0, |v| v < 0.7301) - 0.7301).abs() < 1e-9);
        assert!((turn(1.0, 0.0, |v| v > 0.25) - 0.25).abs() < 1e-9);
    }
}
