//! The cubes that may be in a chain, and what a box reads of them.

use super::model::{Fault, Loaded, after, changed, in_order};
use super::patches::{STOPS, patches};
use crate::cube::{Cell, Cube, Curves, Interpolation, Share, UNIT};
use crate::invalid::Invalid;
use crate::pipeline::Pipeline;
use std::sync::OnceLock;

type Rgb = [f64; 3];

/// Points along each edge that a box may cut a cube down to.
pub const FEWER: [usize; 2] = [17, 33];

/// How a box reads a cube.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Reading {
    /// Between nodes.
    pub interpolation: Interpolation,
    /// Not between nodes, but the nearest.
    pub nearest: bool,
    /// Points that are used; none for all.
    pub points: Option<usize>,
    /// As if the domain were 0 to 1.
    pub is_unit: bool,
}

impl Reading {
    /// As faults say.
    pub fn of(faults: &[Fault], interpolation: Interpolation) -> Self {
        let points = faults.iter().find_map(|f| if let Fault::Points(n) = f { Some(*n) } else { None });
        Self {
            interpolation,
            nearest: faults.contains(&Fault::Nearest),
            points,
            is_unit: faults.contains(&Fault::Domain),
        }
    }
}

/// Where the nodes of a cube come from.
#[derive(Debug)]
enum Nodes {
    Table(Cube),
    /// Those of a path. Each is computed when it is first read: a check reads some thousands of a cube's nodes.
    Path(Box<Path>),
}

#[derive(Debug)]
struct Path {
    pipeline: Pipeline,
    size: usize,
    held: Vec<OnceLock<Rgb>>,
}

impl Nodes {
    const fn size(&self) -> usize {
        match self {
            Self::Table(cube) => cube.size(),
            Self::Path(path) => path.size,
        }
    }

    const fn domain(&self) -> [Rgb; 2] {
        match self {
            Self::Table(cube) => cube.domain(),
            Self::Path(_) => UNIT,
        }
    }

    fn node(&self, [r, g, b]: [usize; 3]) -> Rgb {
        match self {
            Self::Table(cube) => cube.node(r, g, b),
            Self::Path(path) => {
                let signal = || [r, g, b].map(|i| i as f64 / (path.size - 1) as f64);
                *path.held[r + path.size * (g + path.size * b)].get_or_init(|| path.pipeline.apply(signal()).0)
            }
        }
    }
}

/// A cube that may be in the chain.
#[derive(Debug)]
pub struct Candidate {
    /// What it is called: the name of its file, without the ending.
    pub name: String,
    shaper: Option<Curves>,
    nodes: Nodes,
    /// What it gives for the colours of the chart, once that was asked.
    shown: OnceLock<Vec<Rgb>>,
}

impl Candidate {
    /// A cube, perhaps behind curves.
    pub fn new(name: &str, shaper: Option<Curves>, cube: Cube) -> Self {
        Self { name: name.to_owned(), shaper, nodes: Nodes::Table(cube), shown: OnceLock::new() }
    }

    /// The cube of a path, `size` points along each edge over 0..1: the nodes of [`Pipeline::cube`].
    ///
    /// # Errors
    /// A size that no cube has.
    pub fn of_path(name: &str, pipeline: Pipeline, size: usize) -> Result<Self, Invalid> {
        let size = crate::cube::check_points("points", size)?;
        let held = std::iter::repeat_with(OnceLock::new).take(size * size * size).collect();
        let nodes = Nodes::Path(Box::new(Path { pipeline, size, held }));
        Ok(Self { name: name.to_owned(), shaper: None, nodes, shown: OnceLock::new() })
    }

    /// Points along each edge.
    pub const fn points(&self) -> usize {
        self.nodes.size()
    }

    /// Whether it states another domain than 0 to 1.
    pub fn has_domain(&self) -> bool {
        self.nodes.domain() != UNIT
    }

    /// The value at a signal.
    pub fn at(&self, rgb: Rgb, reading: Reading) -> Rgb {
        let rgb = self.shaper.as_ref().map_or(rgb, |curves| curves.at(rgb));
        let [low, high] = self.nodes.domain();
        let rgb = if reading.is_unit { std::array::from_fn(|c| low[c] + rgb[c] * (high[c] - low[c])) } else { rgb };
        let size = reading.points.filter(|n| *n < self.points()).unwrap_or(self.points());
        let value = if reading.nearest {
            let last = (size - 1) as f64;
            let step = |c: usize| ((rgb[c] - low[c]) / (high[c] - low[c]) * last).round().clamp(0.0, last) as usize;
            self.node(size, std::array::from_fn(step))
        } else {
            let cell = Cell::of(size, &[low, high], rgb);
            match reading.interpolation {
                Interpolation::Tetrahedral => self.mixed(size, &cell, &cell.tetrahedral()),
                Interpolation::Trilinear => self.mixed(size, &cell, &cell.trilinear()),
            }
        };
        value.map(|v| v.clamp(0.0, 1.0))
    }

    fn mixed(&self, size: usize, cell: &Cell, shares: &[Share]) -> Rgb {
        let mut value = [0.0; 3];
        for (corner, weight) in shares.iter().filter(|(_, weight)| *weight != 0.0) {
            let node = self.node(size, std::array::from_fn(|c| cell.step[c] + (*corner >> c & 1)));
            (0..3).for_each(|c| value[c] += weight * node[c]);
        }
        value
    }

    /// A node of the cube cut down to `size` points: one of its own where the sizes allow, or between them.
    fn node(&self, size: usize, at: [usize; 3]) -> Rgb {
        let (last, cut) = (self.points() - 1, size - 1);
        if last.is_multiple_of(cut) {
            return self.nodes.node(at.map(|i| i * (last / cut)));
        }
        let [low, high] = self.nodes.domain();
        let rgb = std::array::from_fn(|c| low[c] + at[c] as f64 / cut as f64 * (high[c] - low[c]));
        let cell = Cell::of(self.points(), &[low, high], rgb);
        self.mixed(self.points(), &cell, &cell.tetrahedral())
    }

    /// What it gives for the colours of the chart.
    fn shown(&self) -> &[Rgb] {
        let signals = || patches(&[0; STOPS]).into_iter().map(|p| p.signal());
        self.shown.get_or_init(|| signals().map(|s| self.at(s, Reading::default())).collect())
    }
}

/// Cubes that differ by less in signal (root mean square) are one.
const SAME: f64 = 1e-4;

/// The cubes that may be in a chain.
#[derive(Debug)]
pub struct Bank {
    /// The expected one first.
    pub cubes: Vec<Candidate>,
}

impl Bank {
    /// The cube that should be there.
    pub fn expected(&self) -> &Candidate {
        &self.cubes[0]
    }

    /// Adds a cube that may be there instead, unless it is one that is known already, to less than a tenth of a code over
    /// the chart's colours; whether it was added.
    pub fn add(&mut self, candidate: Candidate) -> bool {
        let is_same = |known: &Candidate| {
            let pairs = known.shown().iter().zip(candidate.shown());
            let square = |(a, b): (&Rgb, &Rgb)| (0..3).map(|c| (a[c] - b[c]) * (a[c] - b[c])).sum::<f64>();
            pairs.map(square).sum::<f64>() < candidate.shown().len() as f64 * SAME * SAME
        };
        let is_new = !self.cubes.iter().any(is_same);
        if is_new {
            self.cubes.push(candidate);
        }
        is_new
    }

    /// What is given after the cube for a signal that enters it.
    pub fn through(&self, loaded: Option<Loaded>, reading: Reading, rgb: Rgb) -> Rgb {
        let expected = |rgb| self.expected().at(rgb, reading);
        let other = |i: usize, rgb| self.cubes.get(i).map_or(rgb, |c: &Candidate| c.at(rgb, reading));
        match loaded {
            None => expected(rgb),
            Some(Loaded::None) => rgb,
            Some(Loaded::Other(i)) => other(i, rgb),
            Some(Loaded::Twice) => expected(expected(rgb)),
            Some(Loaded::Before(i)) => expected(other(i, rgb)),
        }
    }

    /// The captured signals of a chain with these faults.
    pub fn captured(&self, faults: &[Fault], interpolation: Interpolation, signals: &[Rgb]) -> Vec<Rgb> {
        let before = in_order(faults.iter().filter_map(|f| if let Fault::Input(c) = f { Some(*c) } else { None }));
        let loaded = faults.iter().find_map(|f| if let Fault::Cube(l) = f { Some(*l) } else { None });
        let reading = Reading::of(faults, interpolation);
        let through = |signal: &Rgb| self.through(loaded, reading, changed(&before, *signal));
        after(faults, &signals.iter().map(through).collect::<Vec<_>>())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::camera::Camera;
    use crate::display::{Display, standard};
    use crate::gamut::named_gamut;
    use crate::look::Look;
    use crate::range::Range;
    use crate::step::{Rendering, print::PrintSettings};
    use crate::transfer::encoding;

    fn path() -> Pipeline {
        let curve = encoding("slog3").unwrap().build(None).unwrap();
        let gamut = &named_gamut("sgamut3-cine").unwrap().gamut;
        let camera = Camera::new(curve, gamut, None, Range::Full, vec![]).unwrap();
        let look = Look::new("Dusk", 1, vec![], Rendering::new(PrintSettings::default()).unwrap());
        Pipeline::new(&camera, &look, &Display::of(standard("bt709").unwrap())).unwrap()
    }

    fn signals() -> impl Iterator<Item = Rgb> {
        let place = |i: usize, by: usize| (i * by % 211) as f64 / 210.0;
        (0..211).map(move |i| [place(i, 1), place(i, 58), place(i, 133)])
    }

    #[test]
    fn a_path_is_read_as_its_cube_is_in_every_reading() {
        let cube = path().cube(33).unwrap();
        let lazy = Candidate::of_path("dusk", path(), 33).unwrap();
        let table = Candidate::new("dusk", None, cube.clone());
        for interpolation in Interpolation::ALL {
            for (nearest, points) in
                [(false, None), (true, None), (false, Some(17)), (true, Some(17)), (false, Some(65))]
            {
                let reading = Reading { interpolation, nearest, points, is_unit: false };
                for rgb in signals() {
                    let [a, b] = [&lazy, &table].map(|c| c.at(rgb, reading));
                    assert!((0..3).all(|c| (a[c] - b[c]).abs() < 1e-12), "{rgb:?} {reading:?}: {a:?} {b:?}");
                }
            }
            let reading = Reading { interpolation, ..Reading::default() };
            for rgb in signals() {
                let [a, b] = [table.at(rgb, reading), cube.at(rgb, interpolation).map(|v| v.clamp(0.0, 1.0))];
                assert!((0..3).all(|c| (a[c] - b[c]).abs() < 1e-12), "{rgb:?}: {a:?} {b:?}");
            }
        }
        assert!(Candidate::of_path("dusk", path(), 1).is_err());
    }

    #[test]
    fn a_cube_is_cut_down_at_its_own_nodes_or_between_them() {
        let bend = |[r, g, b]: Rgb| [0.2 + 0.7 * r * g, 0.9 * g * b, b * r];
        for size in [33, 32, 65] {
            let cube = Cube::sample(size, bend).unwrap();
            let cut = Cube::sample(17, |rgb| cube.at(rgb, Interpolation::Tetrahedral)).unwrap();
            let candidate = Candidate::new("bend", None, cube);
            for interpolation in Interpolation::ALL {
                let reading = Reading { interpolation, points: Some(17), ..Reading::default() };
                for rgb in signals() {
                    let [a, b] = [candidate.at(rgb, reading), cut.at(rgb, interpolation)];
                    assert!((0..3).all(|c| (a[c] - b[c]).abs() < 1e-12), "{size}: {rgb:?}: {a:?} {b:?}");
                }
            }
        }
    }
}
