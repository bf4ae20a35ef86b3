//! `printer`: points per channel, as a laboratory times its printer lights.
//!
//! On scene light, more points are more light in that channel. Twelve points to a stop is common practice, no source.

use crate::invalid::{Invalid, Parameter, Refusals};
use crate::math;

/// Points of one channel.
pub const POINTS: Parameter = Parameter {
    key: "points",
    min: -50.0,
    max: 50.0,
    default: 0.0,
    unit: "printer points",
    help: "printer points for red, green and blue; more points, more light",
};

/// How many points make a stop.
pub const PER_STOP: Parameter = Parameter {
    key: "per_stop",
    min: 1.0,
    max: 100.0,
    default: 12.0,
    unit: "printer points a stop",
    help: "how many points make one stop",
};

/// A factor per channel. Domain and range: scene light, unbounded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Printer {
    factors: [f64; 3],
}

impl Printer {
    /// From points per channel and points per stop.
    ///
    /// # Errors
    /// Values out of [`POINTS`] and [`PER_STOP`].
    pub fn new(points: [f64; 3], per_stop: f64) -> Result<Self, Vec<Invalid>> {
        let mut refusals = Refusals::new();
        refusals.bound_each(&POINTS, &points);
        refusals.bound(&PER_STOP, per_stop);
        refusals.finish(|| Self { factors: points.map(|p| math::exp2(p / per_stop)) })
    }

    /// The same exposure for all channels; none where it is that already.
    pub(crate) fn even(&self) -> Option<Self> {
        let [r, g, b] = self.factors;
        (r != g || g != b).then(|| Self { factors: [math::cbrt(r * g * b); 3] })
    }

    /// The light after the step.
    pub fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        std::array::from_fn(|i| rgb[i] * self.factors[i])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twelve_points_are_a_stop() {
        assert_eq!(Printer::new([12.0, 0.0, -12.0], 12.0).unwrap().apply([1.0; 3]), [2.0, 1.0, 0.5]);
    }

    #[test]
    fn every_bad_channel_is_named() {
        let refused = Printer::new([51.0, 0.0, f64::NAN], 0.0).unwrap_err();
        let keys: Vec<_> = refused.iter().map(|r| r.key.as_str()).collect();
        assert_eq!(keys, ["points[0]", "points[2]", "per_stop"]);
    }
}
