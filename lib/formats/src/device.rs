//! What a box can take: limits that a file is checked against before it is written.

use super::cube::{WriteOptions, clean_title};
use rushlight_colour::cube::{Cube, check_points};
use rushlight_colour::invalid::{Invalid, Refusals};
use rushlight_colour::math::{exp2, exp10};

/// The limits of a monitor, a converter or a camera that reads cube files; nothing is limited by default.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Device {
    /// Points along each edge that it takes at most.
    pub max_points: Option<usize>,
    /// Characters of a title that it takes at most.
    pub title_length: Option<usize>,
    /// File names must be of ASCII letters, digits, `-`, `_` and `.`.
    pub ascii_name: bool,
    /// Values must lie within 0..1.
    pub clamp: bool,
    /// Bits of each value in the table of the device, 8 to 16.
    pub bits: Option<u8>,
}

/// Bits that a device's table may have.
pub const BITS: std::ops::RangeInclusive<u8> = 8..=16;

/// Characters of a title that a limit may ask for.
pub const TITLE_LENGTHS: std::ops::RangeInclusive<usize> = 1..=240;

impl Device {
    /// The limits, if each is one that a device can have.
    ///
    /// # Errors
    /// Limits out of range, each under its own key.
    pub fn sound(self) -> Result<Self, Refusals> {
        let mut refusals = Refusals::new();
        if let Some(Err(refused)) = self.max_points.map(|most| check_points("max_points", most)) {
            refusals.extend([refused]);
        }
        let mut within = |key, value: Option<usize>, least: usize, most: usize| {
            if let Some(value) = value.filter(|v| !(least..=most).contains(v)) {
                refusals.push(key, format!("{value} is out of range: it must lie between {least} and {most}"));
            }
        };
        within("title_length", self.title_length, *TITLE_LENGTHS.start(), *TITLE_LENGTHS.end());
        within("bits", self.bits.map(usize::from), usize::from(*BITS.start()), usize::from(*BITS.end()));
        refusals.finish(|| self)
    }

    /// Every limit that a cube file called `name` of `points` would break if it were written as `options` say, whatever
    /// its values.
    ///
    /// # Errors
    /// The limits broken, each under its own key.
    pub fn check_file(&self, name: &str, points: usize, options: &WriteOptions<'_>) -> Result<(), Refusals> {
        let mut refusals = Refusals::new();
        if let Some(most) = self.max_points.filter(|most| points > *most) {
            refusals.push("max_points", format!("{points} points: the device takes at most {most}"));
        }
        let title = clean_title(options.title);
        if let Some(most) = self.title_length.filter(|most| title.len() > *most) {
            refusals.push("title_length", format!("`{title}` has {} characters: at most {most}", title.len()));
        }
        let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.');
        if self.ascii_name && !name.chars().all(plain) {
            let message = format!("`{name}`: the device takes letters, digits, `-`, `_` and `.` of ASCII");
            refusals.push("ascii_name", message);
        }
        if let Some(bits) = self.bits.filter(|bits| exp10(options.digits as f64) < exp2(f64::from(*bits))) {
            let message = format!("{} decimals are coarser than the {bits} bits of the device", options.digits);
            refusals.push("bits", message);
        }
        refusals.finish(|| ())
    }

    /// Whether the device takes the values of `cube` as `options` write them.
    ///
    /// # Errors
    /// Values out of 0..1, under `clamp`.
    pub fn check_values(&self, cube: &Cube, options: &WriteOptions<'_>) -> Result<(), Refusals> {
        if !self.clamp || options.clamp {
            return Ok(());
        }
        match cube.nodes().iter().flatten().filter(|v| !(0.0..=1.0).contains(*v)).count() {
            0 => Ok(()),
            outside => Err(Invalid::new(
                "clamp",
                format!("{outside} values lie outside 0 to 1, which is all that the device takes"),
            )
            .into()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_limit_broken_is_listed_and_a_fitting_file_passes() {
        let device =
            Device { max_points: Some(17), title_length: Some(8), ascii_name: true, clamp: true, bits: Some(14) };
        assert_eq!(device.sound(), Ok(device));
        let cube = Cube::sample(9, |rgb| rgb.map(|v| 1.2 * v - 0.1)).unwrap();
        let options = WriteOptions { title: "Saltmarsh", digits: 4, ..Default::default() };
        let refused = device.check_file("nächt 1.cube", 33, &options).unwrap_err();
        let keys: Vec<&str> = refused.iter().map(|r| r.key.as_str()).collect();
        assert_eq!(keys, ["max_points", "title_length", "ascii_name", "bits"]);
        assert_eq!(device.check_values(&cube, &options).unwrap_err()[0].key, "clamp");
        assert!(Device::default().check_file("nächt 1.cube", 33, &options).is_ok());
        assert!(Device::default().check_values(&cube, &options).is_ok());
        let fitting = WriteOptions { title: "Salt", digits: 6, clamp: true, ..Default::default() };
        assert_eq!(device.check_file("night_1.cube", 17, &fitting), Ok(()));
        assert_eq!(device.check_values(&cube, &fitting), Ok(()));
    }

    #[test]
    fn limits_that_no_device_has_are_refused() {
        let device = Device { max_points: Some(1), title_length: Some(0), bits: Some(20), ..Device::default() };
        let keys: Vec<String> = device.sound().unwrap_err().into_iter().map(|r| r.key).collect();
        assert_eq!(keys, ["max_points", "title_length", "bits"]);
    }
}
