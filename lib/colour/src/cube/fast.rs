//! The fast way through a cube, in f32, for applying and previewing: never for baking, and never the reference.
//!
//! A [`FastCube`] is a [`Cube`] whose nodes are rounded to f32 once. [`Cube::at`] stays the reference: every path here is
//! tested against it.
//!
//! # Samples
//! `f32` samples are what the cube takes and gives: its domain in, its nodes' range out, nothing clamped on the way out.
//! `u8` and `u16` samples are code values: 255 or 65535 stands for 1.0 in and out, the output is clamped to 0..1 and
//! rounded to the nearest code value.
//!
//! # Outside the domain
//! Inputs are clamped to the domain, infinities included; NaN goes to the low end. A [`Cube`] holds no NaN and no
//! infinity, so none comes out. The domain's bounds are taken as the nearest f32.
//!
//! # Error
//! Against [`Cube::at`], with M the largest magnitude of a node and `last` the size less one: below M (12 + 4 `last`) /
//! 2^24 for `f32` over 0..1. The part with `last` occurs only within 2^-24 `last` cell widths of a node, and only where
//! the cube bends sharply there. Over another domain the rounding of its bounds adds as much as half a last place of the
//! larger bound would, put on the input. Integer output is at most 0.6 code value from the reference's unrounded value
//! where nodes lie within 0..1.
//!
//! # Paths
//! AVX-512, or AVX2 with FMA, on x86-64 and NEON on 64-bit ARM, where the processor has them, found out at run time: these
//! give the same bits, so which of them runs is a question of speed alone ([`Path::fastest`]). Elsewhere plain blocks that the
//! compiler turns into the target's vectors, which may differ in the last bits of f32; on x86-64 they also take code values
//! through cubes with nodes beyond 32767. Within one path, a pixel's value depends on nothing but the pixel: neither its place
//! in the frame, nor the layout, nor the count of threads.
//!
//! # Threads
//! Frames above [`CHUNK`] pixels are shared out over the current rayon pool; for one core, call from a pool of one thread.
//!
//! # Speed
//! Planes, and interleaved floats of three components, are the fastest layouts. Source and target apart, of 8 MiB and more,
//! count as too large for the caches: two planes of floats are then written past them. All of the target is there for every thread when the call returns.

mod block;
mod frame;
#[cfg(target_arch = "aarch64")]
mod neon;
mod sample;
#[cfg(test)]
mod tests;
#[cfg(target_arch = "x86_64")]
mod x86;

pub use sample::Sample;

use super::{Cube, Interpolation};
use crate::invalid::Refusals;
use frame::{Frame, Interleaved, InterleavedInPlace, Planar, PlanarInPlace};
use std::fmt;

/// Pixels that one thread takes at a time.
pub const CHUNK: usize = 1 << 15;

/// Pixels that are planned and then blended together: enough to hide latencies, few enough to stay in the first cache.
const TILE: usize = 128;

/// Largest magnitude of a node: sums of weighted nodes stay finite (Cube LUT Specification 1.0, 2013, the range of numbers).
const NODE_LIMIT: f64 = 1e37;

/// Largest magnitude of a node whose value in codes of 16 bits is a whole number of 32 bits.
const CODE_LIMIT: f64 = 32767.0;

/// Largest size of a cube that [`Path::Avx512`] is chosen for: 33 points are 0.6 MB, 41 are 1.1.
const WIDE_SIZE: usize = 33;

/// A plane of a tile.
type Lane<T> = [T; TILE];

/// One node, aligned so that no load straddles two cache lines; the fourth component is zero.
#[derive(Debug, Clone, Copy, PartialEq)]
#[repr(C, align(16))]
struct Node([f32; 4]);

/// From a channel's samples to steps of the grid.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Axis {
    /// What is taken off a sample.
    low: f32,
    /// Upper end after that.
    range: f32,
    /// Steps per unit of sample, and what f32 leaves of it.
    scale: f32,
    scale_rest: f32,
    /// The same in one number.
    scale_f64: f64,
}

/// Where a tile's pixels lie in the table, and how their nodes are weighed.
///
/// Tetrahedral: `index` has the first three nodes (the fourth lies a fixed stride above the first), `weight` one weight
/// for each of the four. Trilinear: `index[0]` has the lowest corner, `weight` the fractions in red, green and blue.
#[repr(C, align(64))]
struct Plan {
    index: [Lane<u32>; 3],
    weight: [Lane<f32>; 4],
}

impl Plan {
    const fn new() -> Self {
        Self { index: [[0; TILE]; 3], weight: [[0.0; TILE]; 4] }
    }
}

/// Which code runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Path {
    /// AVX-512, on x86-64 processors that have its foundation, AVX2 and FMA.
    Avx512,
    /// AVX2 and FMA, on x86-64 processors that have them.
    Avx2,
    /// NEON, on 64-bit ARM processors that have it.
    Neon,
    /// Plain blocks, anywhere.
    Block,
}

impl Path {
    /// The fastest path of this machine for a cube of `size` nodes along each edge.
    ///
    /// Sixteen pixels at a time want more of the table at once: where it is larger than the caches of a core, or eight nodes
    /// are read for each pixel, eight at a time are as fast or faster.
    pub fn fastest(size: usize, interpolation: Interpolation) -> Self {
        let wide = size <= WIDE_SIZE && interpolation == Interpolation::Tetrahedral;
        let mut paths = Self::available().iter().filter(|path| wide || **path != Self::Avx512);
        *paths.next().unwrap_or(&Self::Block)
    }

    /// The paths that this machine can run, widest vectors first.
    pub fn available() -> &'static [Self] {
        #[cfg(target_arch = "x86_64")]
        return x86::available();
        #[cfg(target_arch = "aarch64")]
        if neon::available() {
            return &[Self::Neon, Self::Block];
        }
        #[cfg(not(target_arch = "x86_64"))]
        &[Self::Block]
    }
}

/// Slices that do not make a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum FrameError {
    /// Planes, or source and target, of different lengths.
    Lengths,
    /// Interleaved samples that are no whole number of pixels.
    Partial,
}

impl fmt::Display for FrameError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Lengths => "planes, source and target must have the same number of samples",
            Self::Partial => "interleaved samples must make whole pixels",
        })
    }
}

impl std::error::Error for FrameError {}

/// A cube made ready for frames.
#[derive(Debug, Clone, PartialEq)]
pub struct FastCube {
    size: usize,
    interpolation: Interpolation,
    path: Path,
    domain: [[f64; 3]; 2],
    /// size³ nodes, red fastest, then size² + size + 2 more: so that no step from a node of the cube leaves the table.
    /// At the upper end of an edge such a step meets a node that is not the neighbour, with a weight of zero.
    nodes: Vec<Node>,
    /// No node is beyond [`CODE_LIMIT`].
    codes_fit: bool,
}

impl FastCube {
    /// `cube` on the fastest path of this machine.
    ///
    /// # Errors
    /// Nodes beyond 1e37 in magnitude, or a domain so small, large or far from zero that f32 cannot hold it.
    pub fn new(cube: &Cube, interpolation: Interpolation) -> Result<Self, Refusals> {
        Self::on_path(cube, interpolation, Path::fastest(cube.size, interpolation))
    }

    /// `cube` on a path of one's choice, one of [`Path::available`]; to compare the paths.
    ///
    /// # Errors
    /// As [`new`](Self::new), and a path that this machine cannot run.
    pub fn on_path(cube: &Cube, interpolation: Interpolation, path: Path) -> Result<Self, Refusals> {
        let mut refusals = Refusals::new();
        if !Path::available().contains(&path) {
            refusals.push("path", format!("{path:?}: this processor does not have it"));
        }
        if let Some(at) = cube.nodes.iter().position(|n| n.iter().any(|v| v.abs() > NODE_LIMIT)) {
            refusals.push("nodes", format!("node {at} is beyond 1e37"));
        }
        let codes_fit = cube.nodes.iter().flatten().all(|v| v.abs() <= CODE_LIMIT);
        let made = Self { size: cube.size, interpolation, path, domain: cube.domain, nodes: Vec::new(), codes_fit };
        let sound = |a: Axis| a.low.is_finite() && a.range.is_normal() && a.range > 0.0 && a.scale.is_normal();
        if ![f32::MAX_CODE, u8::MAX_CODE, u16::MAX_CODE].into_iter().flat_map(|code| made.axes(code)).all(sound) {
            refusals.push("domain", "bounds that single precision cannot tell apart or hold");
        }
        refusals.finish(|| {
            let node = |n: &[f64; 3]| Node([n[0] as f32, n[1] as f32, n[2] as f32, 0.0]);
            let mut nodes: Vec<Node> = Vec::with_capacity(padded(cube.size));
            nodes.extend(cube.nodes.iter().map(node));
            nodes.resize(padded(cube.size), nodes[nodes.len() - 1]);
            Self { nodes, ..made }
        })
    }

    /// The path that runs.
    pub const fn path(&self) -> Path {
        self.path
    }

    /// The interpolation.
    pub const fn interpolation(&self) -> Interpolation {
        self.interpolation
    }

    /// Nodes along each edge.
    pub const fn size(&self) -> usize {
        self.size
    }

    /// Three planes of red, green and blue into three others.
    ///
    /// # Errors
    /// Planes of different lengths.
    pub fn planar<S: Sample>(&self, source: [&[S]; 3], target: [&mut [S]; 3]) -> Result<(), FrameError> {
        let len = source[0].len();
        if source.iter().any(|p| p.len() != len) || target.iter().any(|p| p.len() != len) {
            return Err(FrameError::Lengths);
        }
        self.drive(Planar::new(source, target));
        Ok(())
    }

    /// Three planes of red, green and blue, in place.
    ///
    /// # Errors
    /// Planes of different lengths.
    pub fn planar_in_place<S: Sample>(&self, planes: [&mut [S]; 3]) -> Result<(), FrameError> {
        if planes.iter().any(|p| p.len() != planes[0].len()) {
            return Err(FrameError::Lengths);
        }
        self.drive(PlanarInPlace { planes });
        Ok(())
    }

    /// Interleaved red, green, blue.
    ///
    /// # Errors
    /// Slices of different lengths, or of a length that three does not divide.
    pub fn rgb<S: Sample>(&self, source: &[S], target: &mut [S]) -> Result<(), FrameError> {
        self.interleaved::<S, 3>(source, target)
    }

    /// Interleaved red, green, blue, in place.
    ///
    /// # Errors
    /// A length that three does not divide.
    pub fn rgb_in_place<S: Sample>(&self, pixels: &mut [S]) -> Result<(), FrameError> {
        self.interleaved_in_place::<S, 3>(pixels)
    }

    /// Interleaved red, green, blue, alpha; alpha is copied, bit for bit. Colours are taken as they stand: unassociated.
    ///
    /// # Errors
    /// Slices of different lengths, or of a length that four does not divide.
    pub fn rgba<S: Sample>(&self, source: &[S], target: &mut [S]) -> Result<(), FrameError> {
        self.interleaved::<S, 4>(source, target)
    }

    /// Interleaved red, green, blue, alpha, in place; alpha is left alone.
    ///
    /// # Errors
    /// A length that four does not divide.
    pub fn rgba_in_place<S: Sample>(&self, pixels: &mut [S]) -> Result<(), FrameError> {
        self.interleaved_in_place::<S, 4>(pixels)
    }

    /// One colour, as a frame of one pixel would have it.
    pub fn at(&self, rgb: [f32; 3]) -> [f32; 3] {
        let mut pixel = rgb;
        self.run(InterleavedInPlace::<f32, 3> { pixels: &mut pixel });
        pixel
    }

    fn interleaved<S: Sample, const N: usize>(&self, source: &[S], target: &mut [S]) -> Result<(), FrameError> {
        if source.len() != target.len() {
            return Err(FrameError::Lengths);
        }
        if !source.len().is_multiple_of(N) {
            return Err(FrameError::Partial);
        }
        self.drive(Interleaved::<S, N> { source, target });
        Ok(())
    }

    fn interleaved_in_place<S: Sample, const N: usize>(&self, pixels: &mut [S]) -> Result<(), FrameError> {
        if !pixels.len().is_multiple_of(N) {
            return Err(FrameError::Partial);
        }
        self.drive(InterleavedInPlace::<S, N> { pixels });
        Ok(())
    }

    /// Halves the frame until a part is one thread's work.
    fn drive<F: Frame>(&self, frame: F) {
        if frame.pixels() <= CHUNK {
            return self.run(frame);
        }
        let middle = (frame.pixels() / 2).next_multiple_of(TILE);
        let (low, high) = frame.split_at(middle);
        crate::parallel::join(|| self.drive(low), || self.drive(high));
    }

    fn run<F: Frame>(&self, frame: F) {
        match self.path {
            #[cfg(target_arch = "x86_64")]
            Path::Avx512 | Path::Avx2 if self.codes_fit || F::Sample::MAX_CODE == 1.0 => x86::run(self, frame),
            #[cfg(target_arch = "aarch64")]
            Path::Neon => neon::run(self, frame),
            _ => block::run(self, frame),
        }
    }

    /// The axes for samples in which `code` stands for 1.0.
    fn axes(&self, code: f32) -> [Axis; 3] {
        let [low, high] = self.domain;
        let last = (self.size - 1) as f64;
        std::array::from_fn(|i| {
            let start = (low[i] * f64::from(code)) as f32;
            let range = (high[i] * f64::from(code) - f64::from(start)) as f32;
            // Over the rounded range, so that the upper end meets the last node exactly.
            let scale = last / f64::from(range);
            let rest = scale - f64::from(scale as f32);
            Axis { low: start, range, scale: scale as f32, scale_rest: rest as f32, scale_f64: scale }
        })
    }

    /// Steps in the table to the next node in red, green and blue.
    const fn strides(&self) -> [usize; 3] {
        [1, self.size, self.size * self.size]
    }
}

/// Nodes of a table with room for every step from a node of the cube.
const fn padded(size: usize) -> usize {
    size * size * size + size * size + size + 2
}
