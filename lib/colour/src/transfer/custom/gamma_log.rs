//! A power below, a logarithm above.

use super::{check_log, check_step, finite, positive};
use crate::invalid::{Refusals, out_of_range, short};
use crate::math::{pow, signed_pow};
use crate::transfer::Transfer;
use crate::transfer::segment::{LogBase, LogSegment};

/// Parameters of a [`GammaLogCurve`], under the names that a document gives them.
///
/// Below `break_light`: signal = gain (light + shift)^exponent + black, odd about -shift. From there up:
/// signal = log_slope log(light_gain light + light_offset) + signal_offset. Of `gain` and `signal_offset` one may be
/// absent; it follows so that the pieces meet. Light is scene reflectance, signal is code value / 1023.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GammaLogParameters {
    /// Factor of the power, in signal. Above 0.
    pub gain: Option<f64>,
    /// Exponent of the power, such as 0.5 for a square root. Above 0, at most 1.
    pub exponent: f64,
    /// Added to light before the power, in reflectance; 0 where the document has none.
    pub shift: f64,
    /// Added to the power, in signal; 0 where the document has none.
    pub black: f64,
    /// Base of the logarithm, as the maker's document writes it.
    pub log_base: LogBase,
    /// Signal for each unit of the logarithm. Above 0.
    pub log_slope: f64,
    /// Factor on light inside the logarithm, per reflectance. Above 0.
    pub light_gain: f64,
    /// Added to light after the factor, inside the logarithm; no unit.
    pub light_offset: f64,
    /// Added to the logarithm, in signal.
    pub signal_offset: Option<f64>,
    /// The light, in reflectance, at which the logarithm begins.
    pub break_light: f64,
}

/// A power below a logarithm. Continuous and strictly rising; both directions are defined for every number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GammaLogCurve {
    log: LogSegment,
    gain: f64,
    exponent: f64,
    shift: f64,
    black: f64,
    break_light: f64,
    break_signal: f64,
    closed_step: f64,
}

impl GammaLogCurve {
    /// The curve, or every parameter that is wrong. Keys of refusals: the names in [`GammaLogParameters`].
    pub fn new(parameters: &GammaLogParameters) -> Result<Self, Refusals> {
        let &GammaLogParameters { gain, exponent, shift, black, break_light, .. } = parameters;
        let mut refusals = Refusals::new();
        let log = LogSegment {
            base: parameters.log_base,
            slope: parameters.log_slope,
            gain: parameters.light_gain,
            offset: parameters.light_offset,
            signal_offset: parameters.signal_offset.unwrap_or(0.0),
        };
        check_log(&mut refusals, &log, break_light);
        if let Some(gain) = gain {
            positive(&mut refusals, "gain", gain);
        }
        if !(exponent > 0.0 && exponent <= 1.0) {
            refusals.push("exponent", out_of_range(exponent, "", "it must be above 0 and at most 1"));
        }
        finite(&mut refusals, "shift", shift);
        finite(&mut refusals, "black", black);
        if gain.is_none() && parameters.signal_offset.is_none() {
            refusals.push("gain", "give gain or signal_offset: one of them can follow from the other, not both");
        }
        if break_light + shift <= 0.0 {
            refusals.push(
                "break_light",
                out_of_range(break_light, "", format!("it must be above {}, -shift", short(-shift))),
            );
        }
        refusals.finish(|| ())?;

        let mut refusals = Refusals::new();
        let power = pow(break_light + shift, exponent);
        let gain = gain.unwrap_or_else(|| (log.encode(break_light) - black) / power);
        let low = gain * power + black;
        let signal_offset = parameters.signal_offset.unwrap_or_else(|| low - log.encode(break_light));
        let log = LogSegment { signal_offset, ..log };
        positive(&mut refusals, "gain", gain);
        let break_signal = log.encode(break_light);
        let closed_step = check_step(&mut refusals, "signal_offset", break_light, low, break_signal);
        refusals.finish(|| Self {
            log,
            gain,
            exponent,
            shift,
            black: black + (break_signal - low),
            break_light,
            break_signal,
            closed_step,
        })
    }

    /// The step that rounded constants left at the break, in code values of 10 bits, and that was closed by moving the
    /// power; at most [`CLOSED_STEP`](super::CLOSED_STEP).
    pub fn closed_step(&self) -> f64 {
        self.closed_step
    }
}

impl Transfer for GammaLogCurve {
    fn encode(&self, light: f64) -> f64 {
        if light >= self.break_light {
            self.log.encode(light)
        } else {
            self.gain * signed_pow(light + self.shift, self.exponent) + self.black
        }
    }

    fn decode(&self, signal: f64) -> f64 {
        if signal >= self.break_signal {
            self.log.decode(signal)
        } else {
            signed_pow((signal - self.black) / self.gain, 1.0 / self.exponent) - self.shift
        }
    }

    fn breaks(&self) -> Vec<f64> {
        vec![self.break_light]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::transfer::{hlg::Hlg, nlog::NLog};

    /// HLG's own form, with the constants of ITU-R BT.2100-2 Table 5.
    fn hybrid() -> GammaLogParameters {
        GammaLogParameters {
            gain: Some(3.0f64.sqrt()),
            exponent: 0.5,
            shift: 0.0,
            black: 0.0,
            log_base: LogBase::E,
            log_slope: 0.17883277,
            light_gain: 12.0,
            light_offset: -0.28466892,
            signal_offset: Some(0.55991073),
            break_light: 1.0 / 12.0,
        }
    }

    fn refused(parameters: GammaLogParameters) -> Vec<String> {
        GammaLogCurve::new(&parameters).expect_err("must be refused").into_iter().map(|one| one.key).collect()
    }

    fn round_trip(curve: &GammaLogCurve) {
        let mut last = f64::NEG_INFINITY;
        for i in -1000..=8000 {
            let light = f64::from(i) * 1e-3;
            let signal = curve.encode(light);
            assert!(signal > last, "not rising at {light}");
            last = signal;
            let back = curve.decode(signal);
            assert!((back - light).abs() <= 1e-13 * (1.0 + light.abs()), "{light} came back as {back}");
        }
    }

    #[test]
    fn it_can_be_hlg() {
        let curve = GammaLogCurve::new(&hybrid()).unwrap();
        for i in -10..=120 {
            let light = f64::from(i) * 0.01;
            assert!((curve.encode(light) - Hlg.encode(light)).abs() < 6e-10, "at {light}");
        }
        assert!(curve.jumps().is_empty());
        round_trip(&curve);
    }

    #[test]
    fn it_can_be_a_cube_root_with_a_shift() {
        // Constants of Nikon's N-Log Specification Document 1.0.0; its own step at the break is too large, so the
        // factor is left to follow.
        let curve = GammaLogCurve::new(&GammaLogParameters {
            gain: None,
            exponent: 1.0 / 3.0,
            shift: 0.0075,
            log_slope: 150.0 / 1023.0,
            light_gain: 1.0,
            light_offset: 0.0,
            signal_offset: Some(619.0 / 1023.0),
            break_light: 0.328,
            ..hybrid()
        })
        .unwrap();
        for light in [-0.1, 0.0, 0.18, 0.3, 0.5, 4.0] {
            assert!((curve.encode(light) - NLog.encode(light)).abs() < 0.14 / 1023.0, "at {light}");
        }
        round_trip(&curve);
    }

    #[test]
    fn either_end_follows_from_the_other() {
        for parameters in
            [GammaLogParameters { gain: None, ..hybrid() }, GammaLogParameters { signal_offset: None, ..hybrid() }]
        {
            let curve = GammaLogCurve::new(&parameters).unwrap();
            assert!(curve.closed_step().abs() < 1e-10);
            round_trip(&curve);
        }
    }

    #[test]
    fn every_wrong_parameter_is_named() {
        assert_eq!(refused(GammaLogParameters { gain: None, signal_offset: None, ..hybrid() }), ["gain"]);
        assert_eq!(
            refused(GammaLogParameters { exponent: 1.5, log_slope: 0.0, ..hybrid() }),
            ["log_slope", "exponent"]
        );
        assert_eq!(refused(GammaLogParameters { signal_offset: Some(0.57), ..hybrid() }), ["signal_offset"]);
        assert_eq!(refused(GammaLogParameters { shift: f64::NAN, ..hybrid() }), ["shift"]);
        assert_eq!(refused(GammaLogParameters { black: 0.9, gain: None, ..hybrid() }), ["gain"]);
        assert_eq!(refused(GammaLogParameters { break_light: 0.01, ..hybrid() }), ["break_light"]);
    }
}
