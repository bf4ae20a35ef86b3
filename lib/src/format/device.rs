//! What a box can take: limits that a file is checked against before it is written.

use super::cube::{WriteOptions, clean_title};
use crate::cube::Table;
use crate::invalid::{Invalid, Refusals};

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
    /// Bits of each value in its own table, 8 to 16.
    pub bits: Option<u8>,
}

/// Bits that a device's table may have.
pub const BITS: std::ops::RangeInclusive<u8> = 8..=16;

impl Device {
    /// Every limit that a file called `name` with `table` would break if it were written as `options` say.
    ///
    /// # Errors
    /// The limits broken, each under its own key.
    pub fn check(&self, name: &str, table: &Table, options: &WriteOptions<'_>) -> Result<(), Vec<Invalid>> {
        let mut refusals = Refusals::new();
        if let (Some(most), Table::Three(cube)) = (self.max_points, table)
            && cube.size() > most
        {
            refusals.push("max_points", format!("{} points: the device takes at most {most}", cube.size()));
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
        if self.clamp && !options.clamp {
            let outside = table.rows().iter().flatten().filter(|v| !(0.0..=1.0).contains(*v)).count();
            if outside > 0 {
                refusals
                    .push("clamp", format!("{outside} values lie outside 0 to 1, which is all that the device takes"));
            }
        }
        if let Some(bits) = self.bits {
            if !BITS.contains(&bits) {
                refusals.push("bits", format!("{bits} is out of range: it must lie between 8 and 16"));
            } else if crate::math::exp10(options.digits as f64) < crate::math::exp2(f64::from(bits)) {
                let message = format!("{} decimals are coarser than the {bits} bits of the device", options.digits);
                refusals.push("bits", message);
            }
        }
        refusals.finish(|| ())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cube::Cube;

    #[test]
    fn every_limit_broken_is_listed_and_a_fitting_file_passes() {
        let device =
            Device { max_points: Some(17), title_length: Some(8), ascii_name: true, clamp: true, bits: Some(14) };
        let wide = Table::from(Cube::sample(33, |rgb| rgb.map(|v| 1.2 * v - 0.1)).unwrap());
        let options = WriteOptions { title: "Saltmarsh", digits: 4, ..Default::default() };
        let refused = device.check("nächt 1.cube", &wide, &options).unwrap_err();
        let keys: Vec<&str> = refused.iter().map(|r| r.key.as_str()).collect();
        assert_eq!(keys, ["max_points", "title_length", "ascii_name", "clamp", "bits"]);
        assert!(Device::default().check("nächt 1.cube", &wide, &options).is_ok());
        let small = Table::from(Cube::sample(17, |rgb| rgb.map(|v| 1.2 * v - 0.1)).unwrap());
        let fitting = WriteOptions { title: "Salt", digits: 6, clamp: true, ..Default::default() };
        assert_eq!(device.check("night_1.cube", &small, &fitting), Ok(()));
    }
}
