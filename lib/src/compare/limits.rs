//! What may change in a picture: limits on the figures of groups.

use super::{Group, GroupName};
use crate::invalid::Invalid;
use crate::limit::Limit;
use schemars::JsonSchema;
use serde::Serialize;

/// Names of the figures that can be limited.
pub const FIGURES: [&str; 3] = ["mean", "p95", "max"];

/// A limit from `[GROUP.]FIGURE=VALUE`, as on a command line. Without a group it is on every group that has none of its own
/// on that figure.
///
/// # Errors
/// What is wrong with it, and what would be right.
pub fn parse(text: &str) -> Result<Limit, Invalid> {
    Limit::parse(text, &GroupName::ALL.map(GroupName::name), &FIGURES)
}

/// A limit from its name, `[GROUP.]FIGURE`, and its value.
///
/// # Errors
/// As [`parse`].
pub fn limit(name: &str, most: f64) -> Result<Limit, Invalid> {
    Limit::new(name, most, &GroupName::ALL.map(GroupName::name), &FIGURES)
}

/// Limits, one of each name.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Limits(Vec<Limit>);

impl Limits {
    /// None.
    pub const fn none() -> Self {
        Self(Vec::new())
    }

    /// Sets a limit, in the place of one of the same name.
    pub fn set(&mut self, limit: Limit) {
        match self.0.iter_mut().find(|l| (&l.set, &l.figure) == (&limit.set, &limit.figure)) {
            Some(there) => *there = limit,
            None => self.0.push(limit),
        }
    }

    /// Each of them, in the order in which their names were first set.
    pub fn iter(&self) -> impl Iterator<Item = &Limit> {
        self.0.iter()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// What the groups of one comparison make of the limits; a limit of a group's own takes the place of the one on all. A
    /// limit on a group that was not measured does not hold.
    pub fn check(&self, groups: &[Group]) -> Vec<Check> {
        let mut checks = Vec::new();
        for limit in &self.0 {
            let own = |name: GroupName| {
                self.0.iter().any(|l| l.figure == limit.figure && l.set.as_deref() == Some(name.name()))
            };
            let of = |name: GroupName| match limit.set.as_deref() {
                Some(set) => set == name.name(),
                None => !own(name),
            };
            for name in GroupName::ALL.into_iter().filter(|name| of(*name)) {
                let value = groups.iter().find(|g| g.name == name).and_then(|g| g.figure(&limit.figure));
                // A group that no limit names need not be there.
                if value.is_some() || limit.set.is_some() {
                    let holds = value.is_some_and(|v| !limit.is_broken_by(v));
                    let (limit, most, figure) = (limit.to_string(), limit.most, limit.figure.clone());
                    checks.push(Check { limit, group: name, figure, most, value, holds });
                }
            }
        }
        checks
    }
}

impl Group {
    /// The figure of that name in [`FIGURES`].
    pub fn figure(&self, name: &str) -> Option<f64> {
        match name {
            "mean" => Some(self.mean),
            "p95" => Some(self.p95),
            "max" => Some(self.max),
            _ => None,
        }
    }
}

/// Whether a limit holds in one group.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Check {
    /// The limit, as on a command line: `neutral.max=0.3`.
    pub limit: String,
    /// The group.
    pub group: GroupName,
    /// The figure: `mean`, `p95`, `max`.
    pub figure: String,
    /// What it may not exceed.
    pub most: f64,
    /// What it is; nothing where the group could not be measured.
    pub value: Option<f64>,
    /// Whether it holds.
    pub holds: bool,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_later_limit_takes_the_place_of_an_earlier_one() {
        let mut limits = Limits::none();
        for text in ["skin.max=3", "max=1", "skin.max=2"] {
            limits.set(parse(text).unwrap());
        }
        let all: Vec<_> = limits.iter().map(ToString::to_string).collect();
        assert_eq!(all, ["skin.max=2", "max=1"]);
        let groups: Vec<Group> = Vec::new();
        assert_eq!(limits.check(&groups).len(), 1, "a group that is named must be there");
        assert!(parse("greys.max=1").unwrap_err().message.contains("unknown set of colours `greys`"));
    }
}
