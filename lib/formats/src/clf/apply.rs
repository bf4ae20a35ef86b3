//! What each node does to a colour, in f64.

use super::{
    CdlNumbers, CdlStyle, ExponentParameters, ExponentStyle, LogParameters, LogStyle, Operation, ProcessList, Range,
};
use crate::zip;
use rushlight_colour::math;
use rushlight_colour::step::cdl::Cdl;
use rushlight_colour::step::cdl::LUMA;
use rushlight_colour::transform::ColourTransform;

/// The smallest normal 32-bit float, below which no logarithm is taken (CLF v3.0, Log).
const LEAST: f64 = f32::MIN_POSITIVE as f64;

impl ProcessList {
    /// The colour after every node; in and out are normalised, 1.0 being the largest code of an integer depth.
    pub fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        self.nodes.iter().fold(rgb, |rgb, node| node.operation.apply(rgb))
    }
}

impl ColourTransform for ProcessList {
    fn transform(&self, rgb: [f64; 3]) -> [f64; 3] {
        self.apply(rgb)
    }
}

impl Operation {
    /// The colour after this node.
    pub fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        match self {
            Self::Lut1d(curves) => curves.at(rgb),
            Self::HalfLut1d(entries) => {
                let [r, g, b] = rgb.map(|v| half_at(entries, v));
                [r[0], g[1], b[2]]
            }
            Self::Lut3d(cube, interpolation) => cube.at(rgb, *interpolation),
            Self::Matrix(rows) => rows.map(|m| m[0] * rgb[0] + m[1] * rgb[1] + m[2] * rgb[2] + m[3]),
            Self::Range(range) => rgb.map(|v| range.apply(v)),
            Self::Log(style, by_channel) => zip(*by_channel, rgb).map(|(own, v)| own.map_or(v, |p| p.apply(*style, v))),
            Self::Exponent(style, by_channel) => {
                zip(*by_channel, rgb).map(|(own, v)| own.map_or(v, |p| p.apply(*style, v)))
            }
            Self::Cdl(style, numbers) => correct(numbers, *style, rgb),
        }
    }
}

/// A half float's bits as a number.
pub(super) fn half(bits: u16) -> f64 {
    let (exponent, fraction) = (i32::from(bits >> 10 & 0x1f), f64::from(bits & 0x3ff));
    let magnitude = match exponent {
        0 => fraction * math::exp2(-24.0),
        31 if fraction == 0.0 => f64::INFINITY,
        31 => f64::NAN,
        _ => (1024.0 + fraction) * math::exp2(f64::from(exponent - 25)),
    };
    if bits >> 15 == 1 { -magnitude } else { magnitude }
}

/// The largest finite half float's bits.
const LARGEST_HALF: u16 = 0x7bff;

/// A table with an entry for each half float, linear between them; NaN is taken for 0, as is an entry that is not there.
fn half_at(entries: &[[f64; 3]], v: f64) -> [f64; 3] {
    let sign = if v < 0.0 { 0x8000 } else { 0 };
    // `max` sends NaN to 0.
    let magnitude = v.abs().max(0.0).min(half(LARGEST_HALF));
    // Bits grow with the magnitude: the last half float that is not above it.
    let (mut low, mut high) = (0, LARGEST_HALF + 1);
    while high - low > 1 {
        let middle = low + (high - low) / 2;
        if half(middle) <= magnitude { low = middle } else { high = middle }
    }
    let at = |bits: u16| entries.get(usize::from(sign | bits)).copied().unwrap_or_default();
    if low == LARGEST_HALF {
        return at(low);
    }
    let t = (magnitude - half(low)) / (half(low + 1) - half(low));
    if t == 0.0 { at(low) } else { zip(at(low), at(low + 1)).map(|(low, high)| (1.0 - t) * low + t * high) }
}

impl Range {
    fn apply(&self, v: f64) -> f64 {
        match (self.low, self.high) {
            (Some([min_in, min_out]), Some([max_in, max_out])) => {
                let scale = (max_out - min_out) / (max_in - min_in);
                let out = v * scale + min_out - min_in * scale;
                if self.clamp { out.max(min_out).min(max_out) } else { out }
            }
            (Some([_, min_out]), None) => v.max(min_out),
            (None, Some([_, max_out])) => v.min(max_out),
            (None, None) => v,
        }
    }
}

fn log(base: f64, v: f64) -> f64 {
    let v = v.max(LEAST);
    match base {
        2.0 => math::log2(v),
        10.0 => math::log10(v),
        _ => math::ln(v) / math::ln(base),
    }
}

fn anti_log(base: f64, v: f64) -> f64 {
    match base {
        2.0 => math::exp2(v),
        10.0 => math::exp10(v),
        _ => math::pow(base, v),
    }
}

impl LogParameters {
    fn to_log(self, v: f64) -> f64 {
        self.log_slope * log(self.base, self.lin_slope * v + self.lin_offset) + self.log_offset
    }

    fn to_lin(self, v: f64) -> f64 {
        (anti_log(self.base, (v - self.log_offset) / self.log_slope) - self.lin_offset) / self.lin_slope
    }

    /// Slope and offset of the straight line, and the logarithm at the break: the line meets the curve there.
    fn line(self, lin_break: f64) -> (f64, f64, f64) {
        let log_break = self.to_log(lin_break);
        let slope = self.linear_slope.unwrap_or_else(|| {
            let inner = self.lin_slope * lin_break + self.lin_offset;
            self.log_slope * self.lin_slope / (inner * math::ln(self.base))
        });
        (slope, log_break - slope * lin_break, log_break)
    }

    fn apply(self, style: LogStyle, v: f64) -> f64 {
        let lin_break = self.lin_break.unwrap_or(f64::NEG_INFINITY);
        match style {
            LogStyle::Log10 => log(10.0, v),
            LogStyle::AntiLog10 => anti_log(10.0, v),
            LogStyle::Log2 => log(2.0, v),
            LogStyle::AntiLog2 => anti_log(2.0, v),
            LogStyle::LinToLog => self.to_log(v),
            LogStyle::LogToLin => self.to_lin(v),
            LogStyle::CameraLinToLog if v <= lin_break => {
                let (slope, offset, _) = self.line(lin_break);
                slope * v + offset
            }
            LogStyle::CameraLinToLog => self.to_log(v),
            LogStyle::CameraLogToLin => {
                let (slope, offset, log_break) = self.line(lin_break);
                if v <= log_break { (v - offset) / slope } else { self.to_lin(v) }
            }
        }
    }
}

impl ExponentParameters {
    fn apply(self, style: ExponentStyle, v: f64) -> f64 {
        let (forward, reverse) = (self.exponent, 1.0 / self.exponent);
        let mirror = |f: &dyn Fn(f64) -> f64| f(v.abs()).copysign(v);
        match style {
            ExponentStyle::BasicFwd => math::pow(v.max(0.0), forward),
            ExponentStyle::BasicRev => math::pow(v.max(0.0), reverse),
            ExponentStyle::BasicMirrorFwd => math::signed_pow(v, forward),
            ExponentStyle::BasicMirrorRev => math::signed_pow(v, reverse),
            ExponentStyle::BasicPassThruFwd => {
                if v < 0.0 {
                    v
                } else {
                    math::pow(v, forward)
                }
            }
            ExponentStyle::BasicPassThruRev => {
                if v < 0.0 {
                    v
                } else {
                    math::pow(v, reverse)
                }
            }
            ExponentStyle::MonCurveFwd => self.curve(v),
            ExponentStyle::MonCurveRev => self.inverse_curve(v),
            ExponentStyle::MonCurveMirrorFwd => mirror(&|v| self.curve(v)),
            ExponentStyle::MonCurveMirrorRev => mirror(&|v| self.inverse_curve(v)),
        }
    }

    /// The break of the input, of the output, and the slope below; none where the formula has no straight line: without an
    /// offset it is a plain power, with exponent 1 all of it is one line.
    fn breaks(self) -> Option<(f64, f64, f64)> {
        let Self { exponent: g, offset: k } = self;
        if k == 0.0 || g == 1.0 {
            return None;
        }
        let y_break = math::pow(k * g / ((g - 1.0) * (1.0 + k)), g);
        Some((k / (g - 1.0), y_break, (g - 1.0) / k * y_break))
    }

    fn curve(self, v: f64) -> f64 {
        let Self { exponent: g, offset: k } = self;
        match self.breaks() {
            Some((x_break, _, slope)) if v < x_break => v * slope,
            None if g == 1.0 => v / (1.0 + k),
            None => math::pow(v.max(0.0), g),
            Some(_) => math::pow((v + k) / (1.0 + k), g),
        }
    }

    fn inverse_curve(self, v: f64) -> f64 {
        let Self { exponent: g, offset: k } = self;
        match self.breaks() {
            Some((_, y_break, slope)) if v < y_break => v / slope,
            None if g == 1.0 => v * (1.0 + k),
            None => math::pow(v.max(0.0), 1.0 / g),
            Some(_) => (1.0 + k) * math::pow(v, 1.0 / g) - k,
        }
    }
}

/// A correction in one of the styles.
fn correct(numbers: &CdlNumbers, style: CdlStyle, rgb: [f64; 3]) -> [f64; 3] {
    let clamp = matches!(style, CdlStyle::Fwd | CdlStyle::Rev);
    if matches!(style, CdlStyle::Fwd | CdlStyle::FwdNoClamp) {
        // The numbers were checked when the file was read.
        return Cdl::new(*numbers, clamp).map_or(rgb, |cdl| cdl.correct(rgb));
    }
    let limit = |v: f64| if clamp { v.clamp(0.0, 1.0) } else { v };
    let limited = rgb.map(limit);
    let luma = LUMA[0] * limited[0] + LUMA[1] * limited[1] + LUMA[2] * limited[2];
    let power = zip(limited, numbers.power).map(|(v, power)| {
        let v = limit(luma + (v - luma) / numbers.saturation);
        if v > 0.0 { math::pow(v, 1.0 / power) } else { v }
    });
    zip(power, zip(numbers.offset, numbers.slope)).map(|(v, (offset, slope))| limit((v - offset) / slope))
}
