//! What may change in a picture: limits on the figures of groups.

use super::{Group, GroupName};
use crate::document::unknown;
use crate::invalid::Parameter;
use schemars::JsonSchema;
use serde::Serialize;

/// A figure of a group that can be limited.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Figure {
    /// The mean difference.
    Mean,
    /// What 95 of 100 differences do not exceed.
    P95,
    /// The largest difference.
    Max,
}

impl Figure {
    /// Every figure.
    pub const ALL: [Self; 3] = [Self::Mean, Self::P95, Self::Max];

    /// The name in limits.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Mean => "mean",
            Self::P95 => "p95",
            Self::Max => "max",
        }
    }

    /// The figure of a group.
    pub const fn of(self, group: &Group) -> f64 {
        match self {
            Self::Mean => group.mean,
            Self::P95 => group.p95,
            Self::Max => group.max,
        }
    }
}

/// The most that a figure may be, in one group or in every one.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Limit {
    /// The group; every one when none is named.
    pub group: Option<GroupName>,
    /// Which figure.
    pub figure: Figure,
    /// What it may not exceed, in units of the difference.
    pub value: f64,
}

/// The key under which a limit is written: `max`, `neutral.max`.
fn key(group: Option<GroupName>, figure: Figure) -> String {
    group.map_or_else(|| figure.name().to_owned(), |g| format!("{}.{}", g.name(), figure.name()))
}

/// The value of a limit.
pub const VALUE: Parameter = Parameter {
    key: "limit",
    min: 0.0,
    max: 1000.0,
    default: 1.0,
    unit: "of the difference",
    help: "what a figure may not exceed",
};

impl Limit {
    /// From `[GROUP.]FIGURE=VALUE`, as on a command line.
    ///
    /// # Errors
    /// What is wrong with it, and what would be right.
    pub fn parse(text: &str) -> Result<Self, String> {
        let (name, value) = text
            .split_once('=')
            .ok_or_else(|| format!("`{text}`: it must be [GROUP.]FIGURE=VALUE, such as max=2 or skin.mean=0.4"))?;
        let (group, figure) = match name.trim().split_once('.') {
            Some((group, figure)) => (Some(group), figure),
            None => (None, name.trim()),
        };
        let group = match group {
            None => None,
            Some(name) => match GroupName::ALL.into_iter().find(|g| g.name() == name) {
                Some(group) => Some(group),
                None => return Err(unknown("group", name, GroupName::ALL.map(GroupName::name))),
            },
        };
        let figure = Figure::ALL
            .into_iter()
            .find(|f| f.name() == figure)
            .ok_or_else(|| unknown("figure", figure, Figure::ALL.map(Figure::name)))?;
        let value = value.trim().parse().map_err(|_| format!("`{}` is not a number", value.trim()))?;
        let value = VALUE.check_as(&key(group, figure), value).map_err(|refused| refused.to_string())?;
        Ok(Self { group, figure, value })
    }

    /// The key under which it is written: `max`, `neutral.max`.
    pub fn key(&self) -> String {
        key(self.group, self.figure)
    }
}

/// Limits, one for each key, in the order of the keys.
#[derive(Debug, Clone, PartialEq, Default, Serialize, JsonSchema)]
#[serde(transparent)]
pub struct Limits(Vec<Limit>);

impl Limits {
    /// None.
    pub const fn none() -> Self {
        Self(Vec::new())
    }

    /// Sets a limit, in the place of one under the same key.
    pub fn set(&mut self, limit: Limit) {
        self.0.retain(|l| (l.group, l.figure) != (limit.group, limit.figure));
        let at = self.0.partition_point(|l| (l.group, l.figure) < (limit.group, limit.figure));
        self.0.insert(at, limit);
    }

    /// Each of them.
    pub fn iter(&self) -> impl Iterator<Item = &Limit> {
        self.0.iter()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// What the groups of one comparison make of the limits. A limit on a group that was not measured does not hold: nobody
    /// knows whether it would.
    pub fn check(&self, groups: &[Group]) -> Vec<Check> {
        let mut checks = Vec::new();
        for limit in &self.0 {
            let mut add = |group, value: Option<f64>| {
                let holds = value.is_some_and(|v| v <= limit.value);
                checks.push(Check { limit: limit.key(), group, figure: limit.figure, most: limit.value, value, holds });
            };
            if let Some(name) = limit.group.filter(|name| !groups.iter().any(|g| g.name == *name)) {
                add(name, None);
            }
            for group in groups.iter().filter(|g| limit.group.is_none_or(|name| name == g.name)) {
                add(group.name, Some(limit.figure.of(group)));
            }
        }
        checks
    }
}

/// Whether a limit holds in one group.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Check {
    /// The limit's key.
    pub limit: String,
    /// The group.
    pub group: GroupName,
    /// The figure.
    pub figure: Figure,
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
    fn limits_are_read_as_they_are_written() {
        for (text, key, value) in
            [("max=2", "max", 2.0), ("skin.mean=0.4", "skin.mean", 0.4), ("neutral.p95 = 0", "neutral.p95", 0.0)]
        {
            let limit = Limit::parse(text).unwrap();
            assert_eq!((limit.key().as_str(), limit.value), (key, value));
        }
        for (text, why) in [
            ("max", "such as max=2"),
            ("maxx=2", "did you mean `max`?"),
            ("greys.max=2", "unknown group `greys`"),
            ("neutral.median=2", "unknown figure `median`"),
            ("max=two", "`two` is not a number"),
            ("max=-1", "between 0 and 1000"),
            ("max=nan", "between 0 and 1000"),
        ] {
            let refused = Limit::parse(text).unwrap_err();
            assert!(refused.contains(why), "{text}: {refused}");
        }
    }

    #[test]
    fn a_later_limit_takes_the_place_of_an_earlier_one() {
        let mut limits = Limits::none();
        for text in ["skin.max=3", "max=1", "skin.max=2"] {
            limits.set(Limit::parse(text).unwrap());
        }
        let all: Vec<_> = limits.iter().map(|l| (l.key(), l.value)).collect();
        assert_eq!(all, [("max".to_owned(), 1.0), ("skin.max".to_owned(), 2.0)]);
    }
}
