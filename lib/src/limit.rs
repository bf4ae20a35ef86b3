//! Limits on measured figures: `max=2`, or of one set of colours `neutral.max=0.3`.

use crate::invalid::{Invalid, out_of_range};
use crate::message::unknown;
use std::fmt;

/// The most that a figure may be.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// The set that it is of, where it names one.
    pub set: Option<String>,
    /// The figure, such as `mean`.
    pub figure: String,
    /// The most that it may be.
    pub most: f64,
}

/// `most` where it can limit anything, or why it cannot.
pub(crate) fn limiting(most: f64) -> Result<f64, Invalid> {
    if (0.0..f64::INFINITY).contains(&most) {
        Ok(most)
    } else {
        Err(Invalid::plain(out_of_range(most, "", "a limit is a number from 0 up")))
    }
}

impl Limit {
    /// The limit that `name`, `[SET.]FIGURE` of those known, puts at `most`.
    ///
    /// # Errors
    /// A name that is not known, or a limit that is no number from 0 up.
    pub fn new(name: &str, most: f64, sets: &[&str], figures: &[&str]) -> Result<Self, Invalid> {
        let refuse = |why: String| Invalid::plain(format!("`{name}`: {why}"));
        let (set, figure) = match name.split_once('.') {
            Some((set, figure)) => (Some(set), figure),
            None => (None, name),
        };
        if let Some(set) = set.filter(|s| !sets.contains(s)) {
            return Err(refuse(unknown("set of colours", set, sets.iter().copied())));
        }
        if !figures.contains(&figure) {
            return Err(refuse(unknown("figure", figure, figures.iter().copied())));
        }
        let most = limiting(most).map_err(|why| refuse(why.message))?;
        Ok(Self { set: set.map(str::to_owned), figure: figure.to_owned(), most })
    }

    /// Reads `[SET.]FIGURE=VALUE`.
    ///
    /// # Errors
    /// As [`new`](Self::new), and what has no such form.
    pub fn parse(text: &str, sets: &[&str], figures: &[&str]) -> Result<Self, Invalid> {
        let right = || format!("`{text}`: a limit is [SET.]FIGURE=VALUE, such as max=2 or {}.mean=0.5", sets[0]);
        let form = || Invalid::plain(right());
        let (name, most) = text.split_once('=').ok_or_else(form)?;
        Self::new(name.trim(), most.trim().parse().map_err(|_| form())?, sets, figures)
    }

    /// Whether `value` is beyond the limit.
    pub fn is_broken_by(&self, value: f64) -> bool {
        // What is no number keeps no limit.
        value > self.most || value.is_nan()
    }
}

impl fmt::Display for Limit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(set) = &self.set {
            write!(f, "{set}.")?;
        }
        write!(f, "{}={}", self.figure, self.most)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parse(text: &str) -> Result<Limit, Invalid> {
        Limit::parse(text, &["uniform", "neutral"], &["mean", "max"])
    }

    #[test]
    fn limits_are_read_and_say_themselves_again() {
        let limit = parse("neutral.max=0.3").unwrap();
        assert_eq!((limit.set.as_deref(), limit.figure.as_str(), limit.most), (Some("neutral"), "max", 0.3));
        for text in ["neutral.max=0.3", "mean=2"] {
            assert_eq!(parse(text).unwrap().to_string(), text);
        }
        assert!(limit.is_broken_by(0.30001) && limit.is_broken_by(f64::NAN) && !limit.is_broken_by(0.3));
    }

    #[test]
    fn what_is_no_limit_is_told_what_would_be() {
        for (text, said) in [
            ("max", "a limit is [SET.]FIGURE=VALUE, such as max=2 or uniform.mean=0.5"),
            ("max=two", "a limit is"),
            ("maxx=2", "unknown figure `maxx`: did you mean `max`?"),
            ("neutrals.max=2", "unknown set of colours `neutrals`: did you mean `neutral`?"),
            ("max=-1", "a number from 0 up"),
            ("max=nan", "a number from 0 up"),
        ] {
            let refused = parse(text).unwrap_err();
            assert!(refused.message.contains(said), "{text}: {refused}");
        }
    }
}
