//! The specification's rules by name.

use std::fmt;

macro_rules! rules {
    ($($(#[doc = $doc:literal])+ $name:ident = $text:literal,)+) => {
        /// A rule of the Cube LUT Specification 1.0 (2013).
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Rule {
            $($(#[doc = $doc])+ $name,)+
        }

        impl Rule {
            /// Every rule.
            pub const ALL: &[Self] = &[$(Self::$name,)+];

            /// The rule's name in reports.
            pub const fn name(self) -> &'static str {
                match self {
                    $(Self::$name => $text,)+
                }
            }
        }
    };
}

rules! {
    /// Text in ASCII, with no byte order mark.
    Characters = "characters",
    /// Lines end in a newline, 0x0A (5.3); a carriage return may stand before it, as the sample reader of Annex B has it, and
    /// ends no line alone.
    LineEnd = "line-end",
    /// A line has at most 250 bytes, its newline not counted (5.3).
    LineLength = "line-length",
    /// A line is a keyword, a comment or a row of the table: none is blank (5.3).
    BlankLine = "blank-line",
    /// Fields are parted by spaces; none stand before the first (for comments, 5.8) or after the last.
    Spaces = "spaces",
    /// A comment is a whole line that begins with `#` (5.8).
    Comment = "comment",
    /// Keywords are the specification's own, in upper case.
    Keyword = "keyword",
    /// A keyword occurs once at most.
    Repeated = "repeated",
    /// Keywords come before the table.
    Order = "order",
    /// `TITLE "text"`: in double quotes (5.6).
    Title = "title",
    /// Three lower bounds, each below its upper bound (5.6).
    Domain = "domain",
    /// One of LUT_1D_SIZE and LUT_3D_SIZE: a whole number, 2 to 65536, or 2 to 256 (7.1).
    Size = "size",
    /// Numbers are decimal, finite, within 1e37 of zero.
    Number = "number",
    /// Three numbers on a row.
    Row = "row",
    /// As many rows as the size asks for (7.2).
    RowCount = "row-count",
}

impl fmt::Display for Rule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}
