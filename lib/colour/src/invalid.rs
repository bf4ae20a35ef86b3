//! What is wrong with a value, and what would be right.

use std::fmt;
use std::ops::Deref;

/// A value that a validated type refused: which key, and what would be right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Invalid {
    /// The key that holds the value, relative to the table that the type is read from, such as `stops` or `xy[1]`.
    pub key: String,
    /// What is wrong and what would be right, without a full stop.
    pub message: String,
}

impl Invalid {
    /// A refusal of `key`.
    pub fn new(key: impl Into<String>, message: impl Into<String>) -> Self {
        Self { key: key.into(), message: message.into() }
    }

    /// A refusal of a value that has no key: a file, a text, an argument.
    pub fn plain(message: impl Into<String>) -> Self {
        Self::new("", message)
    }

    /// The same refusal, seen from the table that holds this one under `prefix`.
    #[must_use]
    pub fn within(self, prefix: &str) -> Self {
        let key = if self.key.is_empty() { prefix.to_owned() } else { format!("{prefix}.{}", self.key) };
        Self { key, ..self }
    }
}

impl fmt::Display for Invalid {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.key.is_empty() { f.write_str(&self.message) } else { write!(f, "{}: {}", self.key, self.message) }
    }
}

impl std::error::Error for Invalid {}

/// That a number cannot be taken, and what would be right.
pub fn out_of_range(value: f64, unit: &str, right: impl fmt::Display) -> String {
    let space = if unit.is_empty() { "" } else { " " };
    format!("{}{space}{unit} is out of range: {right}", short(value))
}

/// A number in full, or with an exponent where that would take more than thirty characters.
pub fn short(value: f64) -> String {
    let plain = value.to_string();
    if plain.len() <= 30 { plain } else { format!("{value:e}") }
}

/// The bounds, the default and the meaning of one number that a user sets.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parameter {
    /// The key in a document.
    pub key: &'static str,
    /// Smallest value allowed.
    pub min: f64,
    /// Largest value allowed.
    pub max: f64,
    /// The value where a document does not set the key.
    pub default: f64,
    /// The unit, such as `stops` or `K`; empty for a plain number.
    pub unit: &'static str,
    /// One line of help.
    pub help: &'static str,
}

impl Parameter {
    /// The value if it is a number within bounds, else what would be right.
    pub fn check(&self, value: f64) -> Result<f64, Invalid> {
        self.check_as(self.key, value)
    }

    /// [`check`](Self::check) under another key, for one element of a list: `lights[1]`.
    pub fn check_as(&self, key: &str, value: f64) -> Result<f64, Invalid> {
        if value >= self.min && value <= self.max {
            return Ok(value);
        }
        let unit = if self.unit.is_empty() { String::new() } else { format!(" {}", self.unit) };
        let right = format!("it must lie between {} and {}{unit}", self.min, self.max);
        Err(Invalid::new(key, out_of_range(value, "", right)))
    }
}

/// Everything that a type refuses, gathered so that it is reported in one round. As an error it is never empty.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Refusals(Vec<Invalid>);

impl Refusals {
    /// No refusals yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds one.
    pub fn push(&mut self, key: impl Into<String>, message: impl Into<String>) {
        self.0.push(Invalid::new(key, message));
    }

    /// Checks `value` against `parameter`'s bounds and keeps the refusal, if any.
    pub fn bound(&mut self, parameter: &Parameter, value: f64) {
        self.0.extend(parameter.check(value).err());
    }

    /// Checks every element of `values` against `parameter`'s bounds, under `key[0]`, `key[1]` and so on.
    pub fn bound_each(&mut self, parameter: &Parameter, values: &[f64]) {
        for (i, value) in values.iter().enumerate() {
            self.0.extend(parameter.check_as(&format!("{}[{i}]", parameter.key), *value).err());
        }
    }

    /// Adds refusals that another type gave.
    pub fn extend(&mut self, refused: impl IntoIterator<Item = Invalid>) {
        self.0.extend(refused);
    }

    /// `made` when nothing was refused, else every refusal.
    pub fn finish<T>(self, made: impl FnOnce() -> T) -> Result<T, Self> {
        if self.0.is_empty() { Ok(made()) } else { Err(self) }
    }
}

impl fmt::Display for Refusals {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, invalid) in self.0.iter().enumerate() {
            write!(f, "{}{invalid}", if i == 0 { "" } else { "; " })?;
        }
        Ok(())
    }
}

impl std::error::Error for Refusals {}

impl Deref for Refusals {
    type Target = [Invalid];

    fn deref(&self) -> &[Invalid] {
        &self.0
    }
}

impl From<Invalid> for Refusals {
    fn from(invalid: Invalid) -> Self {
        Self(vec![invalid])
    }
}

impl From<Vec<Invalid>> for Refusals {
    fn from(all: Vec<Invalid>) -> Self {
        Self(all)
    }
}

impl FromIterator<Invalid> for Refusals {
    fn from_iter<I: IntoIterator<Item = Invalid>>(all: I) -> Self {
        Self(all.into_iter().collect())
    }
}

impl IntoIterator for Refusals {
    type Item = Invalid;
    type IntoIter = std::vec::IntoIter<Invalid>;

    fn into_iter(self) -> Self::IntoIter {
        self.0.into_iter()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is refused goes up through any error of a program.
    #[test]
    fn refusals_are_one_error() {
        fn made() -> Result<(), Box<dyn std::error::Error>> {
            let mut refusals = Refusals::new();
            refusals.push("a", "is wrong");
            refusals.push("b", "is wrong, too");
            refusals.finish(|| ())?;
            Ok(())
        }
        assert_eq!(made().unwrap_err().to_string(), "a: is wrong; b: is wrong, too");
    }

    #[test]
    fn a_number_out_of_bounds_is_named_in_few_digits() {
        let stops = Parameter { key: "stops", min: -20.0, max: 20.0, default: 0.0, unit: "stops", help: "" };
        for (value, said) in [
            (25.5, "25.5"),
            (-400000.0, "-400000"),
            (1e308, "1e308"),
            (-f64::MAX, "-1.7976931348623157e308"),
            (f64::NAN, "NaN"),
            (f64::INFINITY, "inf"),
        ] {
            let want = format!("stops: {said} is out of range: it must lie between -20 and 20 stops");
            assert_eq!(stops.check(value).unwrap_err().to_string(), want);
        }
        let gain = Parameter { key: "gain", min: 0.1, unit: "", ..stops };
        assert_eq!(
            gain.check(5e-324).unwrap_err().to_string(),
            "gain: 5e-324 is out of range: it must lie between 0.1 and 20"
        );
        assert_eq!(gain.check(0.0).unwrap_err().to_string(), "gain: 0 is out of range: it must lie between 0.1 and 20");
        assert_eq!(out_of_range(1e300, "nits", "it must be less"), "1e300 nits is out of range: it must be less");
    }
}
