//! The Common LUT Format, version 3 (Academy S-2014-006; SMPTE ST 2136-1): a list of process nodes as XML.
//!
//! Source: the Academy's published "CLF Specification v3.0". Bit depths only scale the numbers of a file, so everything
//! here is normalised: 1.0 is the largest code of an integer depth, and [`ProcessList::apply`] takes and gives such values.

mod apply;
mod conform;
mod read;
#[cfg(test)]
mod tests;
mod write;

pub use super::LineError;
pub use conform::{Departure, RULES, departures};
pub use read::read;

use super::xml::Dialect;
use super::zip;
use rushlight_colour::cube::{Cube, Curves, Interpolation, Table, UNIT};
use rushlight_colour::invalid::Refusals;
use rushlight_colour::step::cdl::CdlNumbers;

/// The version written.
pub const VERSION: &str = "3.0";
/// A CLF file, as XML.
const DIALECT: Dialect = Dialect { file: "CLF file", root: "ProcessList", most: 20_000 };
/// Points that a 3D table may have; the specification advises against more than 128.
pub const LARGEST_3D: usize = 256;

/// Depth of the numbers at a node's input or output: a scale, nothing else.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BitDepth {
    /// 8-bit integers.
    I8,
    /// 10-bit integers.
    I10,
    /// 12-bit integers.
    I12,
    /// 16-bit integers.
    I16,
    /// Half floats.
    F16,
    /// Floats.
    F32,
}

impl BitDepth {
    /// Every depth.
    pub const ALL: [Self; 6] = [Self::I8, Self::I10, Self::I12, Self::I16, Self::F16, Self::F32];

    /// The name in a file.
    pub const fn name(self) -> &'static str {
        match self {
            Self::I8 => "8i",
            Self::I10 => "10i",
            Self::I12 => "12i",
            Self::I16 => "16i",
            Self::F16 => "16f",
            Self::F32 => "32f",
        }
    }

    /// What 1.0 is written as.
    pub const fn scale(self) -> f64 {
        match self {
            Self::I8 => 255.0,
            Self::I10 => 1023.0,
            Self::I12 => 4095.0,
            Self::I16 => 65535.0,
            Self::F16 | Self::F32 => 1.0,
        }
    }

    /// A number of a file, on the scale on which 1.0 is 1.
    fn level(self, number: f64) -> f64 {
        number / self.scale()
    }
}

/// A coefficient of a file's matrix from one depth to another, between levels.
fn coefficient(number: f64, from: BitDepth, to: BitDepth) -> f64 {
    number * from.scale() / to.scale()
}

/// A file: what it is called, and its nodes in the order in which a colour passes them.
#[derive(Debug, Clone, PartialEq)]
pub struct ProcessList {
    /// Identifies the file.
    pub id: String,
    /// The label for reports.
    pub name: Option<String>,
    /// Remarks.
    pub descriptions: Vec<String>,
    /// What goes in.
    pub input: Option<String>,
    /// What comes out.
    pub output: Option<String>,
    /// The nodes, one at least.
    pub nodes: Vec<Node>,
}

/// A node.
#[derive(Debug, Clone, PartialEq)]
pub struct Node {
    /// Identifies the node.
    pub id: Option<String>,
    /// The label for reports.
    pub name: Option<String>,
    /// Remarks.
    pub descriptions: Vec<String>,
    /// Scale of the numbers that concern its input.
    pub from: BitDepth,
    /// Scale of the numbers that concern its output.
    pub to: BitDepth,
    /// What it does.
    pub operation: Operation,
}

/// What a node does. Numbers are normalised.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Operation {
    /// One curve per channel over 0..1, linear between entries.
    Lut1d(Curves),
    /// One curve per channel with an entry for each half float, by its bit pattern.
    HalfLut1d(Vec<[f64; 3]>),
    /// A cube over 0..1.
    Lut3d(Cube, Interpolation),
    /// Rows of three coefficients and an offset.
    Matrix([[f64; 4]; 3]),
    /// A scale, an offset and limits.
    Range(Range),
    /// A logarithm or its inverse; by channel, none where the channel is left as it is.
    Log(LogStyle, [Option<LogParameters>; 3]),
    /// A power; by channel, none where the channel is left as it is.
    Exponent(ExponentStyle, [Option<ExponentParameters>; 3]),
    /// A colour correction by the ASC CDL.
    Cdl(CdlStyle, CdlNumbers),
}

impl Operation {
    /// The name of the node in a file.
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Lut1d(_) | Self::HalfLut1d(_) => "LUT1D",
            Self::Lut3d(..) => "LUT3D",
            Self::Matrix(_) => "Matrix",
            Self::Range(_) => "Range",
            Self::Log(..) => "Log",
            Self::Exponent(..) => "Exponent",
            Self::Cdl(..) => "ASC_CDL",
        }
    }
}

/// Bounds of a `Range` node: each pair is given or not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// Lower bound of the input and of the output.
    pub low: Option<[f64; 2]>,
    /// Upper bound of the input and of the output.
    pub high: Option<[f64; 2]>,
    /// Outputs are limited to the bounds.
    pub clamp: bool,
}

macro_rules! styles {
    ($(#[doc = $doc:literal])+ $name:ident { $($(#[doc = $item_doc:literal])+ $item:ident = $text:literal,)+ }) => {
        $(#[doc = $doc])+
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum $name {
            $($(#[doc = $item_doc])+ $item,)+
        }

        impl $name {
            /// Every style.
            pub const ALL: &[Self] = &[$(Self::$item,)+];

            /// The name in a file.
            pub const fn name(self) -> &'static str {
                match self {
                    $(Self::$item => $text,)+
                }
            }
        }
    };
}

styles! {
    /// Styles of a `Log` node.
    LogStyle {
        /// Logarithm to base 10.
        Log10 = "log10",
        /// 10 to the power of the input.
        AntiLog10 = "antiLog10",
        /// Logarithm to base 2.
        Log2 = "log2",
        /// 2 to the power of the input.
        AntiLog2 = "antiLog2",
        /// Logarithm with slopes and offsets.
        LinToLog = "linToLog",
        /// Its inverse.
        LogToLin = "logToLin",
        /// Logarithm with a straight line below a break.
        CameraLinToLog = "cameraLinToLog",
        /// Its inverse.
        CameraLogToLin = "cameraLogToLin",
    }
}

styles! {
    /// Styles of an `Exponent` node.
    ExponentStyle {
        /// A power, 0 below 0.
        BasicFwd = "basicFwd",
        /// Its inverse.
        BasicRev = "basicRev",
        /// A power of the magnitude that keeps the sign.
        BasicMirrorFwd = "basicMirrorFwd",
        /// Its inverse.
        BasicMirrorRev = "basicMirrorRev",
        /// A power, the input itself below 0.
        BasicPassThruFwd = "basicPassThruFwd",
        /// Its inverse.
        BasicPassThruRev = "basicPassThruRev",
        /// A power with an offset and a straight line below a break.
        MonCurveFwd = "monCurveFwd",
        /// Its inverse.
        MonCurveRev = "monCurveRev",
        /// The same of the magnitude, keeping the sign.
        MonCurveMirrorFwd = "monCurveMirrorFwd",
        /// Its inverse.
        MonCurveMirrorRev = "monCurveMirrorRev",
    }
}

styles! {
    /// Styles of an `ASC_CDL` node.
    CdlStyle {
        /// The formula, limited to 0..1 at each stage.
        Fwd = "Fwd",
        /// Its inverse.
        Rev = "Rev",
        /// The formula without limits; no power below 0.
        FwdNoClamp = "FwdNoClamp",
        /// Its inverse.
        RevNoClamp = "RevNoClamp",
    }
}

/// Numbers of a `Log` node for one channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogParameters {
    /// The base.
    pub base: f64,
    /// Factor of the logarithm.
    pub log_slope: f64,
    /// Added to the logarithm.
    pub log_offset: f64,
    /// Factor of the linear input.
    pub lin_slope: f64,
    /// Added to the linear input.
    pub lin_offset: f64,
    /// The linear input up to which the straight line runs; the camera styles need it.
    pub lin_break: Option<f64>,
    /// The slope of the straight line; default: that of the logarithm at the break.
    pub linear_slope: Option<f64>,
}

impl Default for LogParameters {
    fn default() -> Self {
        Self {
            base: 2.0,
            log_slope: 1.0,
            log_offset: 0.0,
            lin_slope: 1.0,
            lin_offset: 0.0,
            lin_break: None,
            linear_slope: None,
        }
    }
}

/// Numbers of an `Exponent` node for one channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExponentParameters {
    /// The exponent.
    pub exponent: f64,
    /// The offset of the monCurve styles.
    pub offset: f64,
}

impl ProcessList {
    /// A file of `tables`, in the order in which a colour passes them; cubes by `interpolation`. A domain other than 0..1
    /// becomes a matrix in front of its table.
    ///
    /// # Errors
    /// None for tables of sane magnitude.
    pub fn of_tables(
        id: impl Into<String>,
        name: impl Into<String>,
        descriptions: Vec<String>,
        tables: &[Table],
        interpolation: Interpolation,
    ) -> Result<Self, Refusals> {
        let mut nodes = Vec::new();
        let mut add = |operation| {
            nodes.push(Node {
                id: None,
                name: None,
                descriptions: Vec::new(),
                from: BitDepth::F32,
                to: BitDepth::F32,
                operation,
            });
        };
        for table in tables {
            let [low, high] = table.domain();
            if [low, high] != UNIT {
                let [r, g, b] = zip(low, high).map(|(low, high)| {
                    let scale = 1.0 / (high - low);
                    (scale, -low * scale)
                });
                add(Operation::Matrix([[r.0, 0.0, 0.0, r.1], [0.0, g.0, 0.0, g.1], [0.0, 0.0, b.0, b.1]]));
            }
            add(match table {
                Table::Curves(curves) => Operation::Lut1d(Curves::new(UNIT, curves.entries().to_vec())?),
                Table::Cube(cube) => {
                    Operation::Lut3d(Cube::new(cube.size(), UNIT, cube.nodes().to_vec())?, interpolation)
                }
            });
        }
        let name = Some(name.into()).filter(|n: &String| !n.is_empty());
        Ok(Self { id: id.into(), name, descriptions, input: None, output: None, nodes })
    }

    /// Its tables, in the order in which a colour passes them; none where it does anything else. A matrix that only scales and
    /// moves each channel before a table is the domain of that table, as [`Self::of_tables`] writes it.
    pub fn tables(&self) -> Option<Vec<Table>> {
        let (mut tables, mut domain) = (Vec::new(), None);
        for node in &self.nodes {
            let over = domain.take().unwrap_or(UNIT);
            match &node.operation {
                Operation::Matrix(rows) if over == UNIT => domain = Some(domain_of(rows)?),
                Operation::Lut1d(curves) => {
                    tables.push(Table::Curves(Curves::new(over, curves.entries().to_vec()).ok()?));
                }
                Operation::Lut3d(cube, _) => {
                    tables.push(Table::Cube(Cube::new(cube.size(), over, cube.nodes().to_vec()).ok()?));
                }
                _ => return None,
            }
        }
        domain.is_none().then_some(tables)
    }

    /// The same file with every cube read by `interpolation`.
    #[must_use]
    pub fn with_interpolation(mut self, interpolation: Interpolation) -> Self {
        for node in &mut self.nodes {
            if let Operation::Lut3d(_, kind) = &mut node.operation {
                *kind = interpolation;
            }
        }
        self
    }

    /// Points of the largest cube in the file, if there is one.
    pub fn largest_cube(&self) -> Option<usize> {
        let sizes = self.nodes.iter().filter_map(|n| match &n.operation {
            Operation::Lut3d(cube, _) => Some(cube.size()),
            _ => None,
        });
        sizes.max()
    }
}

/// What a matrix of a scale and an offset for each channel leads to 0..1; none for any other.
fn domain_of(rows: &[[f64; 4]; 3]) -> Option<[[f64; 3]; 2]> {
    let [[r, rg, rb, r_offset], [gr, g, gb, g_offset], [br, bg, b, b_offset]] = *rows;
    let is_diagonal = [rg, rb, gr, gb, br, bg].iter().all(|v| *v == 0.0) && [r, g, b].iter().all(|v| *v > 0.0);
    // A file has the scale and the offset with fewer digits than a domain is said with.
    let end = |v: f64| {
        zip([r, g, b], [r_offset, g_offset, b_offset]).map(|(scale, offset)| ((v - offset) / scale * 1e6).round() / 1e6)
    };
    is_diagonal.then(|| [end(0.0), end(1.0)])
}

/// The rows of a cube of `n` points with red and blue in each other's place: a file has blue fastest, a cube red.
fn turned<T>(rows: &[T], n: usize) -> impl Iterator<Item = &T> {
    (0..n * n).flat_map(move |i| rows.iter().skip(i / n + n * (i % n)).step_by(n * n))
}
