//! What the kernel asks of a processor's vectors. The functions are to be inlined always, or vectors would travel through
//! memory.
//!
//! Pixels lie in a vector of numbers one after the other. A vector of nodes holds whole nodes, four numbers each, and the four
//! vectors of a group have the nodes of as many pixels as a vector has numbers: vector k those of the pixels k, k + 4 and so on.

use crate::cube::fast::frame::CACHE_LINE;
use crate::cube::fast::sample::Sample;
use crate::cube::fast::{Lane, Node, TILE};
use std::arch::x86_64::*;
use std::ptr;

/// Bytes from what is at work to what is fetched meanwhile.
const AHEAD: usize = 1536;

/// Work that is compiled for a processor's instructions, as one function.
pub(super) trait Work {
    /// To be inlined always: what is not would not have the instructions.
    fn run(self);
}

/// A processor's vectors. A value is made only where the processor has them, so code that has one may use them.
pub(super) trait Vector: Copy {
    /// Numbers in a vector.
    const LANES: usize;
    /// Numbers of single precision.
    type Floats: Copy;
    /// Whole numbers of 32 bits.
    type Wholes: Copy;
    /// Yes or no for each number.
    type Mask: Copy;
    /// Offsets in bytes of the nodes of one vector.
    type Offsets: Copy;

    /// Where the processor has the instructions.
    fn found() -> Option<Self>;

    /// Runs the work, compiled for these vectors.
    fn with(self, work: impl Work);

    /// One number in all places.
    fn all(self, value: f32) -> Self::Floats;
    fn all_wholes(self, value: u32) -> Self::Wholes;

    /// Samples as floats.
    fn load<S: Sample>(self, lane: &Lane<S>, at: usize) -> Self::Floats;
    /// Interleaved pixels as planes.
    fn load_three(self, pixels: &[[f32; 3]; TILE], at: usize) -> [Self::Floats; 3];
    fn load_four(self, pixels: &[[f32; 4]; TILE], at: usize) -> [Self::Floats; 3];

    /// Values of the cube as samples, rounded as [`Sample::from_value`] rounds.
    fn store<S: Sample>(self, lane: &mut Lane<S>, at: usize, values: Self::Floats);
    fn store_wholes(self, lane: &mut Lane<u32>, at: usize, values: Self::Wholes);
    /// A group as interleaved pixels, which keep their alpha.
    fn store_three(self, pixels: &mut [[f32; 3]; TILE], at: usize, group: [Self::Floats; 4]);
    fn store_four(self, pixels: &mut [[f32; 4]; TILE], at: usize, group: [Self::Floats; 4]);
    /// Past the caches. The plane must be one that [`streams`].
    fn stream<S: Sample>(self, lane: &mut Lane<S>, at: usize, values: Self::Floats);

    fn subtract(self, a: Self::Floats, b: Self::Floats) -> Self::Floats;
    fn multiply(self, a: Self::Floats, b: Self::Floats) -> Self::Floats;
    /// a b + c, rounded once.
    fn multiply_add(self, a: Self::Floats, b: Self::Floats, c: Self::Floats) -> Self::Floats;
    /// a b - c, rounded once.
    fn multiply_subtract(self, a: Self::Floats, b: Self::Floats, c: Self::Floats) -> Self::Floats;
    fn floor(self, a: Self::Floats) -> Self::Floats;
    /// To 0..`most`; NaN to 0.
    fn clamp(self, a: Self::Floats, most: Self::Floats) -> Self::Floats;
    /// Whole numbers from floats that are whole.
    fn wholes(self, a: Self::Floats) -> Self::Wholes;
    fn add_wholes(self, a: Self::Wholes, b: Self::Wholes) -> Self::Wholes;

    /// The larger of numbers of which at least one is not negative, and the smaller: as whole numbers, which more of the
    /// processor's units can compare. Between two below zero, by a rounding, either may come out.
    fn max_min(self, a: Self::Floats, b: Self::Floats) -> (Self::Floats, Self::Floats);
    /// Where `a` is greater than `b`, ordered as by [`max_min`](Self::max_min).
    fn greater(self, a: Self::Floats, b: Self::Floats) -> Self::Mask;
    fn choose(self, mask: Self::Mask, yes: Self::Wholes, no: Self::Wholes) -> Self::Wholes;

    /// Offsets of the nodes of each vector of a group.
    fn offsets(self, lane: &Lane<u32>, at: usize) -> [Self::Offsets; 4];
    /// Nodes at offsets in bytes, each a further `step` on.
    ///
    /// # Safety
    /// The sums must be multiples of a node's size that leave a whole node in the table.
    unsafe fn nodes(self, table: &[Node], at: Self::Offsets, step: usize) -> Self::Floats;
    /// The numbers of vector `K` of a group, each over the four numbers of its node.
    fn spread<const K: usize>(self, numbers: Self::Floats) -> Self::Floats;
    /// A group as planes; the fourth number of each node is dropped.
    fn planes(self, group: [Self::Floats; 4]) -> [Self::Floats; 3];
}

/// Has planes or pixels read ahead. The processor guesses on its own where they go on, but not among nodes that lie anywhere.
#[inline(always)]
pub(super) fn fetch<T>(samples: &[T]) {
    samples.iter().step_by(CACHE_LINE / size_of::<T>()).for_each(fetch_line);
}

/// Has the line read that lies [`AHEAD`] bytes past a sample.
#[inline(always)]
pub(super) fn fetch_line<T>(sample: &T) {
    // SAFETY: an address is only a hint here, and may lie anywhere.
    unsafe { _mm_prefetch::<_MM_HINT_T0>(ptr::from_ref(sample).cast::<i8>().wrapping_add(AHEAD)) };
}

/// Whether a plane can be written past the caches: floats, from the start of a line of the cache.
#[inline(always)]
pub(super) fn streams<S: Sample>(lane: &Lane<S>) -> bool {
    size_of::<S>() == 4 && lane.as_ptr().addr().is_multiple_of(CACHE_LINE)
}

/// Has what was streamed there for every thread before a frame counts as done.
pub(super) fn finish() {
    // SAFETY: every processor of this family has the instruction.
    unsafe { _mm_sfence() }
}

/// A choice from four numbers, the first of the result in the lowest bits, for shuffles.
pub(super) const fn order(a: i32, b: i32, c: i32, d: i32) -> i32 {
    a | b << 2 | c << 4 | d << 6
}
