//! Whether what a curve gives is a signal, 0 to 1, that a picture can be read from; and what was meant where it is not.

use crate::camera::Range;
use crate::invalid::{Invalid, short};
use crate::math::{exp2, log2};
use crate::transfer::{MID_GREY, Transfer};

/// One code value of 10 bits.
const CODE: f64 = 1.0 / 1023.0;
/// Stops from mid-grey between which a curve must rise by a code.
const SPAN: f64 = 8.0;
/// The furthest over mid-grey that a curve may end, in stops: eight times as far as any camera sees.
const FURTHEST: f64 = 100.0;

/// What the numbers of a table count.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Unit {
    /// Signal, 0 to 1.
    Signal,
    /// Codes of so many bits.
    Codes(u32),
    /// Per cent of legal range.
    Percent,
}

impl Unit {
    /// As a signal.
    pub(super) fn signal(self, value: f64) -> f64 {
        match self {
            Self::Signal => value,
            Self::Codes(bits) => value / f64::from((1u32 << bits) - 1),
            Self::Percent => Range::Legal.encode(value / 100.0),
        }
    }

    /// What numbers up to `most` are probably.
    fn guess(most: f64) -> Option<&'static str> {
        match most {
            _ if most <= 2.0 || most.is_nan() => None,
            _ if most <= 110.0 => Some("these look like per cent: set `percent = true`"),
            _ if most <= 255.0 => Some("these look like codes of 8 bits: divide by 255, or set `codes = 8`"),
            _ if most <= 1023.0 => Some("these look like codes of 10 bits: divide by 1023, or set `codes = 10`"),
            _ if most <= 4095.0 => Some("these look like codes of 12 bits: divide by 4095, or set `codes = 12`"),
            _ => None,
        }
    }
}

/// Refuses numbers of a table that are no signal.
pub(super) fn check_points(points: &[[f64; 2]], unit: Unit) -> Result<(), Invalid> {
    let most = points.iter().map(|p| p[1]).fold(f64::MIN, f64::max);
    let refuse = |why: String| Err(Invalid::new("points", why));
    match unit {
        Unit::Signal => match Unit::guess(most) {
            Some(guess) => refuse(format!("a signal is 0 to 1, not {}: {guess}", short(most))),
            None => Ok(()),
        },
        // Less than two codes or per cent at the brightest: divided already.
        _ if most <= 2.0 => refuse(format!(
            "the highest is {}: these are signals, 0 to 1, already: remove `codes` or `percent`",
            short(most)
        )),
        Unit::Codes(bits) if most > f64::from((1u32 << bits) - 1) => {
            refuse(format!("{} is not a code of {bits} bits, which end at {}", short(most), (1u32 << bits) - 1))
        }
        Unit::Percent if most > 110.0 => refuse(format!("{} is over 110 per cent", short(most))),
        _ => Ok(()),
    }
}

/// Refuses a curve that puts mid-grey outside of the signal or at its end, hardly rises, or never ends.
pub(super) fn check(curve: &dyn Transfer) -> Result<(), Invalid> {
    let refuse = |why: String| Err(Invalid::plain(why));
    let (grey, end) = (curve.encode(MID_GREY), curve.top());
    if !grey.is_finite() || !(-CODE..=1.0).contains(&grey) {
        let meant = Unit::guess(grey).map_or("a signal is 0 to 1: a code divided by 1023".to_owned(), |guess| {
            format!("a signal is 0 to 1: {}", guess.split(": ").next().unwrap_or(guess))
        });
        return refuse(format!("it puts mid-grey, light of 0.18, at {}: {meant}", short(grey)));
    }
    if end <= grey + CODE {
        return refuse(format!(
            "it ends at {}, not above mid-grey at {}: its highest point or its numbers are too low",
            short(end),
            short(grey)
        ));
    }
    let [low, high] = [-SPAN, SPAN].map(|stops| curve.encode(MID_GREY * exp2(stops)).clamp(0.0, end));
    if (high - low).is_nan() || high - low < CODE {
        return refuse(format!(
            "it rises by {} from {SPAN} stops under mid-grey to {SPAN} over: less than a code of 10 bits, {}",
            short(high - low),
            short(CODE)
        ));
    }
    let stops = log2(curve.decode(end) / MID_GREY);
    if stops.is_nan() || stops > FURTHEST {
        return refuse(format!(
            "it reaches its end, {}, only {} stops over mid-grey: it rises too slowly for a camera's",
            short(end),
            if stops.is_finite() { format!("{stops:.0}") } else { "infinitely many".to_owned() }
        ));
    }
    Ok(())
}
