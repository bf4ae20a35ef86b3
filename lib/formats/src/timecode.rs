//! Timecode of SMPTE ST 12-1: hours, minutes, seconds and frames, and the frames that it counts.
//!
//! Drop-frame counting leaves out two numbers (four at 60) at the start of each minute but every tenth, so that 30 a second
//! keep up with 29.97. A separator before the frames that is no colon says drop-frame (common practice, no source).

use rushlight_colour::invalid::Invalid;
use std::fmt;
use std::str::FromStr;

/// Seconds of a day.
const DAY: u64 = 24 * 3600;

/// A time of day in frames. Which frame of the day it is depends on the frames a second that it counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Timecode {
    hours: u8,
    minutes: u8,
    seconds: u8,
    frames: u8,
    drop: bool,
}

/// The whole frames a second that the timecode of a rate counts: 24 for 23.976. None for a rate that no timecode has.
pub fn base(rate: f64) -> Option<u32> {
    let base = rate.round();
    ((1.0..=120.0).contains(&base) && (rate / base - 1.0).abs() < 0.002).then_some(base as u32)
}

impl Timecode {
    /// The timecode of frame `number` of a day at so many frames a second, over midnight where it is beyond; drop-frame is
    /// for multiples of 30.
    pub fn of_frame(number: u64, base: u32, drop: bool) -> Self {
        let (base, drop) = (u64::from(base.max(1)), drop && base.is_multiple_of(30));
        let left_out = if drop { base / 15 } else { 0 };
        let (minute, ten) = (60 * base - left_out, 600 * base - 9 * left_out);
        let number = number % (144 * ten);
        let (tens, rest) = (number / ten, number % ten);
        // The first minute of ten leaves out none.
        let minutes = if rest < 60 * base { 0 } else { 1 + (rest - 60 * base) / minute };
        let counted = number + left_out * (9 * tens + minutes);
        let seconds = counted / base % DAY;
        let part = |v: u64| u8::try_from(v).unwrap_or(0);
        Self {
            hours: part(seconds / 3600),
            minutes: part(seconds / 60 % 60),
            seconds: part(seconds % 60),
            frames: part(counted % base),
            drop,
        }
    }

    /// Which frame of the day it is, from 0, at so many frames a second.
    ///
    /// # Errors
    /// It has a frame number that there is not at this rate, in words.
    pub fn frame(self, base: u32) -> Result<u64, Invalid> {
        if u32::from(self.frames) >= base {
            return Err(Invalid::plain(format!("timecode {self} counts more frames than {base} a second")));
        }
        let minutes = 60 * u64::from(self.hours) + u64::from(self.minutes);
        let counted = (60 * minutes + u64::from(self.seconds)) * u64::from(base) + u64::from(self.frames);
        let left_out = if self.drop && base.is_multiple_of(30) { u64::from(base / 15) } else { 0 };
        Ok(counted - left_out * (minutes - minutes / 10))
    }

    /// Whether it counts drop-frame.
    pub const fn is_drop(self) -> bool {
        self.drop
    }
}

impl FromStr for Timecode {
    type Err = Invalid;

    /// From text such as `01:02:03:04`, or `01:02:03;04` for drop-frame.
    ///
    /// # Errors
    /// What is wrong with it, in words.
    fn from_str(text: &str) -> Result<Self, Invalid> {
        let shape = || Invalid::plain(format!("`{text}` is no timecode: it must be HH:MM:SS:FF"));
        let drop = text.rfind([':', ';', '.', ',']).is_some_and(|at| !text[at..].starts_with(':'));
        let parts: Vec<&str> = text.split([':', ';', '.', ',']).collect();
        let number = |part: &&str| part.parse::<u8>().ok().filter(|_| part.len() <= 3 && !part.starts_with('+'));
        let parts = parts.iter().map(number).collect::<Option<Vec<u8>>>().ok_or_else(shape)?;
        let [hours, minutes, seconds, frames] = <[u8; 4]>::try_from(parts).map_err(|_| shape())?;
        if hours > 23 || minutes > 59 || seconds > 59 {
            return Err(Invalid::plain(format!("`{text}` is no time of day")));
        }
        if drop && seconds == 0 && !minutes.is_multiple_of(10) && frames < 2 {
            return Err(Invalid::plain(format!("`{text}`: drop-frame timecode leaves out this number")));
        }
        Ok(Self { hours, minutes, seconds, frames, drop })
    }
}

impl fmt::Display for Timecode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { hours, minutes, seconds, frames, drop } = self;
        write!(f, "{hours:02}:{minutes:02}:{seconds:02}{}{frames:02}", if *drop { ';' } else { ':' })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn frame(text: &str, base: u32) -> u64 {
        text.parse::<Timecode>().unwrap().frame(base).unwrap()
    }

    /// SMPTE ST 12-1: a day of drop-frame has 2 589 408 frames, an hour 107 892, ten minutes 17 982 (from memory).
    #[test]
    fn drop_frame_counts_as_the_standard_does() {
        assert_eq!(frame("00:10:00;00", 30), 17_982);
        assert_eq!(frame("01:00:00;00", 30), 107_892);
        assert_eq!(frame("23:59:59;29", 30), 2_589_408 - 1);
        assert_eq!(frame("00:01:00;02", 30), frame("00:00:59;29", 30) + 1);
        assert_eq!(frame("01:00:00:00", 24), 86_400);
        assert_eq!(frame("01:00:00:00", 30), 108_000);
        assert_eq!(Timecode::of_frame(1800, 30, true).to_string(), "00:01:00;02");
    }

    #[test]
    fn what_is_no_timecode() {
        for bad in [
            "",
            "1:2:3",
            "24:00:00:00",
            "00:60:00:00",
            "a:b:c:d",
            "00:01:00;00",
            "1:1:1:1:1",
            "+1:00:00:00",
            "-1:0:0:0",
        ] {
            assert!(bad.parse::<Timecode>().is_err(), "{bad}");
        }
        assert!(
            "00:00:00:24".parse::<Timecode>().unwrap().frame(24).unwrap_err().message.contains("more frames than 24")
        );
        assert_eq!([23.976, 29.97, 25.0, 59.94].map(base), [Some(24), Some(30), Some(25), Some(60)]);
        assert_eq!([0.0, 24.5, 1000.0, f64::NAN].map(base), [None; 4]);
    }

    proptest! {
        #[test]
        fn frames_and_timecodes_are_one_for_one(number in 0u64..2_000_000, base in prop::sample::select(vec![24u32, 25, 30, 48, 50, 60]), drop in any::<bool>()) {
            let timecode = Timecode::of_frame(number, base, drop);
            prop_assert_eq!(timecode.frame(base), Ok(number));
            prop_assert_eq!(timecode.to_string().parse::<Timecode>(), Ok(timecode));
        }
    }
}
