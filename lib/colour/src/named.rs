//! Values with names: one list for documents, command lines and reports.

use crate::message::unknown;
use std::fmt;

/// A value out of a list, each with a name. `FromStr` and `Display` go by the names.
pub trait Named: Copy + fmt::Debug + PartialEq + Send + Sync + 'static {
    /// What the list is of, such as `range`.
    const WHAT: &'static str;
    /// Every value, in the order of reports.
    const LIST: &'static [Self];

    /// The name.
    fn name(self) -> &'static str;

    /// What it means, in a few words; empty where the name says it.
    fn help(self) -> &'static str {
        ""
    }

    /// The value of a name, exactly as written.
    ///
    /// # Errors
    /// A name that is not in the list.
    fn named(name: &str) -> Result<Self, UnknownName> {
        let names = || Self::LIST.iter().map(|value| value.name());
        Self::LIST
            .iter()
            .copied()
            .find(|value| value.name() == name)
            .ok_or_else(|| UnknownName::of(Self::WHAT, name, names()))
    }
}

/// A name that is not in a list: what there is instead, or the name that was probably meant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnknownName(String);

impl UnknownName {
    /// `given`, where `what` is named by one of `known`.
    pub fn of<'a>(what: &str, given: &str, known: impl IntoIterator<Item = &'a str>) -> Self {
        Self(unknown(what, given, known))
    }
}

impl fmt::Display for UnknownName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for UnknownName {}

/// Gives an enum its names: `ALL`, `name`, `from_name`, [`Named`], `FromStr` and `Display`.
///
/// With `by` in place of the list, the type has `ALL` and `name` of its own.
#[doc(hidden)]
#[macro_export]
macro_rules! named {
    ($type:ident, $what:literal, { $($variant:ident => $name:literal $(: $help:literal)?),+ $(,)? }) => {
        impl $type {
            /// Every one, in the order of lists and reports.
            pub const ALL: [Self; [$($name),+].len()] = [$(Self::$variant),+];

            /// The name in documents, on the command line and in reports.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)+ }
            }
        }

        impl $crate::named::Named for $type {
            const WHAT: &'static str = $what;
            const LIST: &'static [Self] = &Self::ALL;

            fn name(self) -> &'static str {
                Self::name(self)
            }

            fn help(self) -> &'static str {
                match self { $(Self::$variant => concat!("" $(, $help)?),)+ }
            }
        }

        $crate::named!(@text $type);
    };
    ($type:ident, $what:literal, by $all:ident) => {
        impl $crate::named::Named for $type {
            const WHAT: &'static str = $what;
            const LIST: &'static [Self] = &Self::$all;

            fn name(self) -> &'static str {
                Self::name(self)
            }
        }

        $crate::named!(@text $type);
    };
    (@text $type:ident) => {
        impl $type {
            /// The one of that name, exactly as written.
            pub fn from_name(name: &str) -> Option<Self> {
                <Self as $crate::named::Named>::named(name).ok()
            }
        }

        impl std::str::FromStr for $type {
            type Err = $crate::named::UnknownName;

            fn from_str(name: &str) -> Result<Self, Self::Err> {
                $crate::named::Named::named(name)
            }
        }

        impl std::fmt::Display for $type {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(Self::name(*self))
            }
        }
    };
}

#[cfg(test)]
mod tests {
    use crate::adaptation::Adaptation;
    use crate::display::Eotf;
    use crate::range::Range;

    #[test]
    fn names_are_read_and_written() {
        for range in Range::ALL {
            assert_eq!(range.to_string().parse(), Ok(range));
        }
        for eotf in Eotf::ALL {
            assert_eq!(eotf.name().parse(), Ok(eotf));
        }
        assert_eq!(format!("{:>8}", Adaptation::Cat02), "   cat02");
        let wrong = "ful".parse::<Range>().unwrap_err();
        assert_eq!(wrong.to_string(), "unknown range `ful`: did you mean `full`?");
        assert!("nothing".parse::<Adaptation>().is_err());
    }
}
