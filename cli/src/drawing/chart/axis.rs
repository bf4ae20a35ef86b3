//! Axes: from values to places, and ticks at round numbers.

use rushlight::math;

/// One axis of a panel.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Axis {
    /// The quantity with its unit.
    pub(crate) label: String,
    /// Equal ratios are equally far apart; values must be above 0.
    pub(crate) log: bool,
    /// Ends of the axis; default: those of the data and a little more.
    pub(crate) range: Option<[f64; 2]>,
    /// From one label to the next: a difference, or decades; default: as there is room.
    pub(crate) step: Option<f64>,
}

impl Axis {
    pub(crate) fn linear(label: impl Into<String>) -> Self {
        Self { label: label.into(), log: false, range: None, step: None }
    }

    pub(crate) fn log(label: impl Into<String>) -> Self {
        Self { log: true, ..Self::linear(label) }
    }

    pub(crate) fn over(self, low: f64, high: f64) -> Self {
        Self { range: Some([low, high]), ..self }
    }

    pub(crate) fn every(self, step: f64) -> Self {
        Self { step: Some(step), ..self }
    }

    /// The axis over its own range, or over that of `values`.
    pub(super) fn scale(&self, values: impl Iterator<Item = f64>) -> Scale {
        let place = |v: f64| if self.log { math::log10(v) } else { v };
        let fits = |v: &f64| v.is_finite() && (!self.log || *v > 0.0);
        let given = self.range.filter(|ends| ends.iter().all(fits) && ends[0] < ends[1]);
        let ends = given.map(|ends| ends.map(place)).unwrap_or_else(|| {
            let [low, high] = values
                .filter(fits)
                .map(place)
                .fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], v| [low.min(v), high.max(v)]);
            let room = ROOM * (high - low);
            match (low, high) {
                // No data, or a single value.
                (low, high) if low > high => [0.0, 1.0],
                (low, high) if low == high => [low - 0.5, high + 0.5],
                _ => [low - room, high + room],
            }
        });
        Scale { log: self.log, ends, step: self.step }
    }
}

/// The share of the data's span that is left free at either end.
const ROOM: f64 = 0.04;

/// A mark on an axis.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tick {
    /// Its place, 0 to 1.
    pub(super) at: f64,
    /// Empty for a tick between those that are named.
    pub(super) label: String,
}

/// An axis whose ends are known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    log: bool,
    /// Values, or their decimal logarithms.
    ends: [f64; 2],
    step: Option<f64>,
}

impl Scale {
    /// The place of a value, 0 to 1 on the axis; NaN for what has none.
    pub(super) fn place(&self, value: f64) -> f64 {
        let value = if !self.log {
            value
        } else if value > 0.0 {
            math::log10(value)
        } else {
            f64::NAN
        };
        self.linear(value)
    }

    fn linear(&self, value: f64) -> f64 {
        (value - self.ends[0]) / (self.ends[1] - self.ends[0])
    }

    /// Ticks for an axis with room for about `count` labels.
    pub(super) fn ticks(&self, count: f64) -> Vec<Tick> {
        let decades = self.ends[1] - self.ends[0];
        // Under a decade, powers of ten are too few.
        if self.log && decades >= 1.0 { self.decades(count) } else { self.even(count) }
    }

    fn even(&self, count: f64) -> Vec<Tick> {
        let [low, high] = if self.log { self.ends.map(math::exp10) } else { self.ends };
        let step = self.step.unwrap_or_else(|| round_step((high - low) / count.max(1.0)));
        let slack = 1e-6 * step;
        let (first, last) = (((low - slack) / step).ceil() as i64, ((high + slack) / step).floor() as i64);
        (first..=last)
            .map(|i| i as f64 * step)
            .filter(|v| !self.log || *v > 0.0)
            .map(|v| Tick { at: self.place(v), label: label(v, step) })
            .collect()
    }

    fn decades(&self, count: f64) -> Vec<Tick> {
        let (first, last) = (self.ends[0].floor() as i32, self.ends[1].ceil() as i32);
        let every = self.step.unwrap_or(f64::from(last - first) / count.max(1.0)).ceil().max(1.0) as i32;
        let room = f64::from(last - first) * 2.0 <= count;
        let mut ticks = Vec::new();
        for decade in first..=last {
            let power = math::exp10(f64::from(decade));
            for digit in 1..10 {
                let value = f64::from(digit) * power;
                let named = match digit {
                    1 => decade.rem_euclid(every) == 0,
                    2 | 5 => room,
                    _ => false,
                };
                let at = self.place(value);
                if (-1e-9..=1.0 + 1e-9).contains(&at) {
                    ticks.push(Tick { at, label: if named { label(value, power) } else { String::new() } });
                }
            }
        }
        ticks
    }
}

/// The round number next above `step`: 1, 2 or 5 times a power of ten.
fn round_step(step: f64) -> f64 {
    let power = math::exp10(math::log10(step).floor());
    let times = [1.0, 2.0, 5.0].into_iter().find(|t| step <= t * power * (1.0 + 1e-9)).unwrap_or(10.0);
    times * power
}

/// A value of an axis whose labels are `step` apart, with no more decimals than they need.
fn label(value: f64, step: f64) -> String {
    let size = value.abs().max(step);
    if !(1e-5..1e7).contains(&size) {
        return format!("{value:e}").replace('-', "\u{2212}");
    }
    let decimals = (-math::log10(step) - 1e-9).ceil().max(0.0) as usize;
    let text = format!("{value:.decimals$}");
    let is_zero = text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
    if is_zero { text.replace('-', "") } else { text.replace('-', "\u{2212}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(axis: &Axis, count: f64) -> Vec<String> {
        axis.scale([].into_iter()).ticks(count).into_iter().map(|t| t.label).filter(|l| !l.is_empty()).collect()
    }

    #[test]
    fn ticks_stand_at_round_numbers() {
        let axis = Axis::linear("");
        assert_eq!(labels(&axis.clone().over(0.0, 1.0), 5.0), ["0.0", "0.2", "0.4", "0.6", "0.8", "1.0"]);
        assert_eq!(labels(&axis.clone().over(-8.0, 7.0), 8.0), ["−8", "−6", "−4", "−2", "0", "2", "4", "6"]);
        assert_eq!(labels(&axis.clone().over(0.0, 0.03), 4.0), ["0.00", "0.01", "0.02", "0.03"]);
        assert_eq!(labels(&axis.clone().over(0.0, 1023.0), 4.0), ["0", "500", "1000"]);
        assert_eq!(labels(&axis.over(0.0, 1023.0).every(250.0), 1.0), ["0", "250", "500", "750", "1000"]);
    }

    #[test]
    fn a_log_axis_has_powers_of_ten_and_parts_where_there_is_room() {
        assert_eq!(labels(&Axis::log("").over(0.01, 100.0), 5.0), ["0.01", "0.1", "1", "10", "100"]);
        assert_eq!(labels(&Axis::log("").over(1.0, 100.0), 6.0), ["1", "2", "5", "10", "20", "50", "100"]);
        assert_eq!(labels(&Axis::log("").over(0.05, 200.0).every(1.0), 1.0), ["0.1", "1", "10", "100"]);
        assert_eq!(labels(&Axis::log("").over(2.0, 6.0), 4.0), ["2", "3", "4", "5", "6"]);
        let axis = Axis::log("").over(0.01, 100.0).scale([].into_iter());
        assert!((axis.place(1.0) - 0.5).abs() < 1e-12 && axis.place(-1.0).is_nan());
    }

    #[test]
    fn a_range_is_that_of_the_data_unless_it_is_given() {
        let scale = Axis::linear("").scale([0.0, f64::NAN, 10.0, f64::INFINITY].into_iter());
        assert!((scale.place(5.0) - 0.5).abs() < 1e-12 && scale.place(0.0) > 0.0 && scale.place(10.0) < 1.0);
        for nothing in [&[][..], &[f64::NAN], &[3.0, 3.0]] {
            let scale = Axis::linear("").scale(nothing.iter().copied());
            assert!(scale.place(3.0).is_finite() && !scale.ticks(5.0).is_empty());
        }
        // An empty range is ignored.
        assert!(Axis::linear("").over(1.0, 1.0).scale([].into_iter()).place(0.5).is_finite());
    }
}
