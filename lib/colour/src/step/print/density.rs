//! The density curve of a photographic layer: a straight line between a toe and a shoulder, without breaks.

use crate::math::{logistic, soft_plus, soft_plus_inverse};

/// Density against log10 exposure: `base` far to the left, `top` far to the right, a line of slope `gamma` between.
///
/// With sp(x) = ln(1 + e^x), the line bends out of the base at `toe` over `toe_width`,
///
/// > y = gamma · toe_width · sp((x - toe) / toe_width),
///
/// and into the top over `shoulder_width`,
///
/// > D = base + w · (sp(R / w) - sp((R - y) / w)), with R = w · sp⁻¹((top - base) / w), w = `shoulder_width`.
///
/// Both asymptotes are exact, every derivative is continuous, the slope is above zero everywhere, and the inverse is
/// in closed form. Domain: any log10 exposure; range: `base` to `top`, in density.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DensityCurve {
    gamma: f64,
    toe: f64,
    toe_width: f64,
    base: f64,
    top: f64,
    shoulder_width: f64,
    /// R of the formula: where the shoulder bends.
    reach: f64,
    /// sp(R / w), which makes the base exact.
    reach_soft: f64,
}

/// The numbers that make a [`DensityCurve`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DensityShape {
    /// Slope of the straight part, density per log10 exposure; above 0.
    pub gamma: f64,
    /// Log10 exposure where the straight part would leave the base.
    pub toe: f64,
    /// Width of the toe, log10 exposure; above 0.
    pub toe_width: f64,
    /// Least density, approached far below the toe.
    pub base: f64,
    /// Greatest density, approached far above the shoulder; above `base`.
    pub top: f64,
    /// Width of the shoulder, density; above 0.
    pub shoulder_width: f64,
}

impl DensityCurve {
    /// The curve of that shape.
    pub fn new(shape: DensityShape) -> Self {
        let DensityShape { gamma, toe, toe_width, base, top, shoulder_width } = shape;
        let reach = shoulder_width * soft_plus_inverse((top - base) / shoulder_width);
        let reach_soft = soft_plus(reach / shoulder_width);
        Self { gamma, toe, toe_width, base, top, shoulder_width, reach, reach_soft }
    }

    /// Least density.
    pub const fn base(&self) -> f64 {
        self.base
    }

    /// Greatest density.
    pub const fn top(&self) -> f64 {
        self.top
    }

    /// Density at log10 exposure `x`.
    #[inline]
    pub fn value(&self, x: f64) -> f64 {
        let y = self.gamma * self.toe_width * soft_plus((x - self.toe) / self.toe_width);
        let left = soft_plus((self.reach - y) / self.shoulder_width);
        self.base + self.shoulder_width * (self.reach_soft - left)
    }

    /// Slope at log10 exposure `x`: density per log10 exposure, above 0 and below `gamma`.
    pub fn slope(&self, x: f64) -> f64 {
        let u = (x - self.toe) / self.toe_width;
        let y = self.gamma * self.toe_width * soft_plus(u);
        self.gamma * logistic(u) * logistic((self.reach - y) / self.shoulder_width)
    }

    /// The log10 exposure that gives `density`: minus infinity at or below the base, infinity at or above the top.
    pub fn inverse(&self, density: f64) -> f64 {
        if density <= self.base {
            return f64::NEG_INFINITY;
        }
        if density >= self.top {
            return f64::INFINITY;
        }
        let y = self.reach - self.shoulder_width * soft_plus_inverse((self.top - density) / self.shoulder_width);
        self.toe + self.toe_width * soft_plus_inverse(y / (self.gamma * self.toe_width))
    }
}

/// A [`DensityCurve`] read from a table, for speed: cubic Hermite pieces on exact values and slopes.
///
/// Deviates from the curve by less than 1e-9 in density for bends 0.16 log10 exposure wide, less than 1e-8 for the narrowest
/// that a print allows (0.05); beyond the table it is the curve.
#[derive(Debug, Clone)]
pub struct DensityTable {
    curve: DensityCurve,
    first: f64,
    /// Value and slope (per step) at each step.
    rows: Vec<[f64; 2]>,
}

impl DensityTable {
    /// Rows per log10 exposure.
    const PER_DECADE: f64 = 256.0;

    /// The table of `curve` from log10 exposure `first` to `last`.
    pub fn new(curve: DensityCurve, first: f64, last: f64) -> Self {
        let count = ((last - first) * Self::PER_DECADE).ceil() as usize + 1;
        let row = |i: usize| {
            let x = first + i as f64 / Self::PER_DECADE;
            [curve.value(x), curve.slope(x) / Self::PER_DECADE]
        };
        Self { curve, first, rows: (0..count).map(row).collect() }
    }

    /// Density at log10 exposure `x`.
    #[inline(always)]
    pub fn value(&self, x: f64) -> f64 {
        let position = (x - self.first) * Self::PER_DECADE;
        // By a narrower whole number: the way to a wide one has more steps. What lies below zero is in no cell.
        let cell = position as i32 as usize;
        match self.rows.get(cell..cell.saturating_add(2)) {
            Some([a, b]) if position >= 0.0 => hermite(position - cell as f64, [a[0], b[0]], [a[1], b[1]]),
            _ => self.curve.value(x),
        }
    }
}

/// Cubic Hermite on one cell: values and slopes (per cell) at its ends, `t` from 0 to 1.
#[inline(always)]
pub fn hermite(t: f64, values: [f64; 2], slopes: [f64; 2]) -> f64 {
    let s = 1.0 - t;
    let from = s * s * ((1.0 + 2.0 * t) * values[0] + t * slopes[0]);
    let to = t * t * ((3.0 - 2.0 * t) * values[1] - s * slopes[1]);
    from + to
}

#[cfg(test)]
mod tests {
    use super::*;

    fn curves() -> [DensityCurve; 3] {
        [
            DensityShape { gamma: 0.58, toe: -1.8, toe_width: 0.25, base: 0.0, top: 1.9, shoulder_width: 0.12 },
            DensityShape { gamma: 3.0, toe: 0.0, toe_width: 0.16, base: -0.016, top: 3.7, shoulder_width: 0.35 },
            DensityShape { gamma: 1.5, toe: 0.2, toe_width: 0.5, base: -1.7, top: 2.0, shoulder_width: 1.4 },
        ]
        .map(DensityCurve::new)
    }

    #[test]
    fn the_asymptotes_are_exact_and_the_curve_only_rises() {
        for curve in curves() {
            assert!((curve.value(-300.0) - curve.base()).abs() < 1e-15);
            assert!((curve.value(300.0) - curve.top()).abs() < 1e-14);
            let mut last = f64::NEG_INFINITY;
            for i in -600..=600 {
                let x = f64::from(i) * 0.005;
                let d = curve.value(x);
                assert!(d > last, "{x}");
                assert!(d > curve.base() && d < curve.top());
                last = d;
            }
        }
    }

    #[test]
    fn the_slope_is_the_derivative() {
        for curve in curves() {
            for i in -40..=40 {
                let x = f64::from(i) * 0.1;
                let h = 1e-5;
                let slope = (curve.value(x + h) - curve.value(x - h)) / (2.0 * h);
                assert!((slope - curve.slope(x)).abs() < 1e-8, "{x}: {slope} against {}", curve.slope(x));
            }
        }
    }

    #[test]
    fn the_inverse_comes_back() {
        for curve in curves() {
            for i in -100..=100 {
                let x = f64::from(i) * 0.02;
                let back = curve.inverse(curve.value(x));
                // An error of one rounding in density is that over the slope in exposure.
                let tolerance = 4e-15 / curve.slope(x) + 1e-13;
                assert!((back - x).abs() < tolerance, "{x} came back as {back}");
            }
            assert_eq!(curve.inverse(curve.base()), f64::NEG_INFINITY);
            assert_eq!(curve.inverse(curve.top() + 1.0), f64::INFINITY);
        }
    }

    #[test]
    fn the_table_is_the_curve() {
        let worst = |curve: DensityCurve| {
            let table = DensityTable::new(curve, -4.0, 4.0);
            assert_eq!(table.value(1e9), curve.value(1e9));
            assert_eq!(table.value(-1e9), curve.value(-1e9));
            assert!(table.value(f64::NAN).is_nan());
            (-5000..=5000)
                .map(|i| f64::from(i) * 0.000_987_3)
                .fold(0.0_f64, |worst, x| worst.max((table.value(x) - curve.value(x)).abs()))
        };
        for curve in curves() {
            assert!(worst(curve) < 1e-9, "{:e}", worst(curve));
        }
        let narrow =
            DensityShape { gamma: 4.5, toe: 0.0, toe_width: 0.05, base: 0.0, top: 4.5, shoulder_width: 0.05 * 4.5 };
        let narrow = DensityCurve::new(narrow);
        assert!(worst(narrow) < 1e-8, "{:e}", worst(narrow));
    }
}
