//! Table files: cubes, CLF and Hald images as one function of a colour.

use crate::cube::{Cube, Interpolation, Table, UNIT};
use crate::format::clf::{self, ProcessList};
use crate::format::cube::{self, CubeFile, Strictness};
use crate::format::hald::Hald;
use crate::invalid::Invalid;
use crate::transform::{ColourTransform, Interpolate};
use std::path::Path;

/// A stage of a table file: its name, and the colour after it.
pub type Stage = (&'static str, [f64; 3]);

/// What a file is, by its name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// By the Cube LUT Specification.
    Cube,
    /// By the Common LUT Format.
    Clf,
    /// A Hald image.
    Png,
}

impl Kind {
    /// By the end of the name.
    pub fn of(path: &Path) -> Option<Self> {
        let extension = path.extension()?.to_str()?.to_ascii_lowercase();
        [("cube", Self::Cube), ("clf", Self::Clf), ("png", Self::Png)]
            .into_iter()
            .find(|(name, _)| *name == extension)
            .map(|(_, kind)| kind)
    }
}

/// What was read, and how it is read between its nodes.
#[derive(Debug, Clone)]
pub enum TableFile {
    /// A cube or curves, and the interpolation of it.
    Cube(CubeFile, Interpolation),
    /// A list of operations, each with its own interpolation.
    Clf(ProcessList),
}

impl TableFile {
    /// Reads a table file, tolerantly.
    ///
    /// # Errors
    /// Why the bytes are no file of that kind, with the line.
    pub fn read(kind: Kind, bytes: &[u8]) -> Result<Self, Invalid> {
        let fail = |why: String| Invalid::plain(why);
        match kind {
            Kind::Cube => {
                let file = cube::read(bytes, Strictness::Tolerant).map_err(|e| fail(e.to_string()))?;
                Ok(Self::Cube(file, Interpolation::default()))
            }
            Kind::Clf => clf::read(bytes).map(Self::Clf).map_err(|e| fail(e.to_string())),
            Kind::Png => {
                let table = Table::from(Hald::from_png(bytes).map_err(|e| fail(e.to_string()))?.to_cube());
                let file = CubeFile { title: String::new(), shaper: None, table, warnings: Vec::new() };
                Ok(Self::Cube(file, Interpolation::default()))
            }
        }
    }

    /// The same, read by another interpolation where one is given.
    #[must_use]
    pub fn read_by(self, interpolation: Option<Interpolation>) -> Self {
        match (self, interpolation) {
            (Self::Cube(file, _), Some(kind)) => Self::Cube(file, kind),
            (Self::Clf(list), Some(kind)) => Self::Clf(list.with_interpolation(kind)),
            (same, None) => same,
        }
    }

    /// The name of the interpolation; none where there is no cube, or cubes of a CLF differ.
    pub fn interpolation(&self) -> Option<&'static str> {
        match self {
            Self::Cube(CubeFile { table: Table::Curves(_), .. }, _) => None,
            Self::Cube(_, kind) => Some(kind.name()),
            Self::Clf(list) => {
                let mut kinds = list.nodes.iter().filter_map(|n| match &n.operation {
                    clf::Operation::Lut3d(_, kind) => Some(kind.name()),
                    _ => None,
                });
                let first = kinds.next()?;
                kinds.all(|k| k == first).then_some(first)
            }
        }
    }

    /// The colour after each table or node.
    pub fn stages(&self, rgb: [f64; 3]) -> Vec<Stage> {
        let mut at = rgb;
        let mut stages = Vec::new();
        let mut add = |name, rgb| {
            stages.push((name, rgb));
            rgb
        };
        match self {
            Self::Cube(file, kind) => {
                if let Some(shaper) = &file.shaper {
                    at = add("curves", shaper.at(at));
                }
                let name = if matches!(file.table, Table::Curves(_)) { "curves" } else { "cube" };
                add(name, file.table.at(at, *kind));
            }
            Self::Clf(list) => {
                for node in &list.nodes {
                    at = add(node.operation.name(), node.operation.apply(at));
                }
            }
        }
        stages
    }

    /// What the file does to a colour.
    pub fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        match self {
            Self::Cube(file, kind) => file.value(rgb, *kind),
            Self::Clf(list) => list.apply(rgb),
        }
    }

    /// Its title; empty where it states none.
    pub fn title(&self) -> &str {
        match self {
            Self::Cube(file, _) => &file.title,
            Self::Clf(list) => list.name.as_deref().unwrap_or(""),
        }
    }

    /// The cube, where there is nothing else.
    pub fn cube(&self) -> Option<&Cube> {
        match self {
            Self::Cube(CubeFile { shaper: None, table: Table::Cube(cube), .. }, _) => Some(cube),
            _ => None,
        }
    }

    /// The cube and how it is read, where there is nothing else.
    pub fn alone(&self) -> Option<(&Cube, Interpolation)> {
        match self {
            Self::Cube(_, kind) => self.cube().map(|cube| (cube, *kind)),
            Self::Clf(list) => match list.nodes.as_slice() {
                [clf::Node { operation: clf::Operation::Lut3d(cube, kind), .. }] => Some((cube, *kind)),
                _ => None,
            },
        }
    }

    /// Points of its largest cube.
    pub fn points(&self) -> Option<usize> {
        match self {
            Self::Cube(CubeFile { table: Table::Cube(cube), .. }, _) => Some(cube.size()),
            Self::Cube(..) => None,
            Self::Clf(list) => list.largest_cube(),
        }
    }

    /// The bounds of its input.
    pub fn domain(&self) -> [[f64; 3]; 2] {
        match self {
            Self::Cube(file, _) => file.bounds(),
            Self::Clf(_) => UNIT,
        }
    }
}

impl ColourTransform for TableFile {
    fn transform(&self, rgb: [f64; 3]) -> [f64; 3] {
        self.apply(rgb)
    }

    fn domain(&self) -> [[f64; 3]; 2] {
        Self::domain(self)
    }
}
