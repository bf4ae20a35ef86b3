//! Table files: cubes, CLF, Hald images.

use crate::disk::read_bytes;
use crate::failure::Failure;
use rushlight::cube::{Cube, Interpolation, Table, UNIT};
use rushlight::format::clf::{self, ProcessList};
use rushlight::format::cube::{self, CubeFile, Strictness};
use rushlight::format::hald::Hald;
use std::path::Path;

/// What a file is, by its name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Cube,
    Clf,
    Png,
}

impl Kind {
    pub(crate) fn of(path: &Path) -> Option<Self> {
        let extension = path.extension()?.to_str()?.to_ascii_lowercase();
        [("cube", Self::Cube), ("clf", Self::Clf), ("png", Self::Png)]
            .into_iter()
            .find(|(name, _)| *name == extension)
            .map(|(_, kind)| kind)
    }

    /// The same where the file has to be a table.
    pub(crate) fn needed(path: &Path) -> Result<Self, Failure> {
        Self::of(path)
            .ok_or_else(|| Failure::new(format!("{}: the name must end in .cube, .clf or .png", path.display())))
    }
}

/// What was read, and how it is read between its nodes.
pub(crate) enum Source {
    Cube(CubeFile, Interpolation),
    Clf(ProcessList),
}

impl Source {
    /// Reads a table file, tolerantly.
    pub(crate) fn load(path: &Path) -> Result<Self, Failure> {
        let kind = Kind::needed(path)?;
        Self::from_bytes(kind, &read_bytes(path)?, path)
    }

    /// What `bytes`, which `path` holds, are.
    pub(crate) fn from_bytes(kind: Kind, bytes: &[u8], path: &Path) -> Result<Self, Failure> {
        let fail = |why: String| Failure::new(format!("{}, {why}", path.display()));
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
    pub(crate) fn read_by(self, interpolation: Option<Interpolation>) -> Self {
        match (self, interpolation) {
            (Self::Cube(file, _), Some(kind)) => Self::Cube(file, kind),
            (Self::Clf(list), Some(kind)) => Self::Clf(list.with_interpolation(kind)),
            (same, None) => same,
        }
    }

    /// The name of the interpolation; none where there is no cube, or cubes of a CLF differ.
    pub(crate) fn interpolation(&self) -> Option<&'static str> {
        match self {
            Self::Cube(CubeFile { table: Table::One(_), .. }, _) => None,
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
    pub(crate) fn stages(&self, rgb: [f64; 3]) -> Vec<(&'static str, [f64; 3])> {
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
                let name = if matches!(file.table, Table::One(_)) { "curves" } else { "cube" };
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
    pub(crate) fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        match self {
            Self::Cube(file, kind) => {
                let rgb = file.shaper.as_ref().map_or(rgb, |s| s.at(rgb));
                file.table.at(rgb, *kind)
            }
            Self::Clf(list) => list.apply(rgb),
        }
    }

    pub(crate) fn title(&self) -> &str {
        match self {
            Self::Cube(file, _) => &file.title,
            Self::Clf(list) => list.name.as_deref().unwrap_or(""),
        }
    }

    /// The cube, where there is nothing else.
    pub(crate) fn cube(&self) -> Option<&Cube> {
        match self {
            Self::Cube(CubeFile { shaper: None, table: Table::Three(cube), .. }, _) => Some(cube),
            _ => None,
        }
    }

    /// The cube and how it is read, where there is nothing else.
    pub(crate) fn alone(&self) -> Option<(&Cube, Interpolation)> {
        match self {
            Self::Cube(_, kind) => self.cube().map(|cube| (cube, *kind)),
            Self::Clf(list) => match list.nodes.as_slice() {
                [clf::Node { operation: clf::Operation::Lut3d(cube, kind), .. }] => Some((cube, *kind)),
                _ => None,
            },
        }
    }

    /// Points of its largest cube.
    pub(crate) fn points(&self) -> Option<usize> {
        match self {
            Self::Cube(CubeFile { table: Table::Three(cube), .. }, _) => Some(cube.size()),
            Self::Cube(..) => None,
            Self::Clf(list) => list.largest_cube(),
        }
    }

    /// The bounds of its input.
    pub(crate) fn domain(&self) -> [[f64; 3]; 2] {
        match self {
            Self::Cube(file, _) => file.shaper.as_ref().map_or(file.table.domain(), |s| s.domain()),
            Self::Clf(_) => UNIT,
        }
    }
}
