//! The path for AVX2 and AVX-512: one kernel, over vectors of eight pixels and of sixteen. Every pixel goes through the same
//! operations in the same order with either, so both give the same bits.
//!
//! Unsafe, with what is under it: vector loads and stores take pointers, the table is read without a bounds check, and
//! functions compiled for a processor's features may be called only where it has them.
#![allow(unsafe_code)]

mod avx2;
mod avx512;
mod method;
mod vector;

use super::frame::{CACHE_LINE, Frame, Kernel, Source, Target, tiles};
use super::sample::Sample;
use super::{FastCube, Interpolation, Lane, Node, Path, Plan, TILE};
use avx2::Avx2;
use avx512::Avx512;
use method::{CODES, FLOATS, Method, OTHER, Place, Table, Tetrahedral, Trilinear, base};
use std::sync::atomic::{Ordering, compiler_fence};
use vector::{Vector, Work, fetch, fetch_line, finish, streams};

/// Bytes of a node.
const NODE: usize = size_of::<Node>();

/// The paths that this processor has, fastest first.
pub(super) fn available() -> &'static [Path] {
    match (Avx512::found(), Avx2::found()) {
        (Some(_), Some(_)) => &[Path::Avx512, Path::Avx2, Path::Block],
        (_, Some(_)) => &[Path::Avx2, Path::Block],
        _ => &[Path::Block],
    }
}

/// Runs the frame on the cube's path.
///
/// # Panics
/// Where the processor lacks the features.
pub(super) fn run<F: Frame>(cube: &FastCube, frame: F) {
    match cube.path {
        Path::Avx512 => run_on(Avx512::found().expect("a processor with AVX-512"), cube, frame),
        _ => run_on(Avx2::found().expect("a processor with AVX2 and FMA"), cube, frame),
    }
}

fn run_on<V: Vector, F: Frame>(vector: V, cube: &FastCube, frame: F) {
    let (code, large) = (F::Sample::MAX_CODE, frame.large());
    let table = Table::new(vector, cube, code);
    let unit = table.axes.iter().all(|a| a.low == 0.0 && a.range == code);
    match (unit, code == 1.0) {
        (true, true) => run_in::<V, F, FLOATS>(table, cube.interpolation, frame),
        (true, false) => run_in::<V, F, CODES>(table, cube.interpolation, frame),
        (false, _) => run_in::<V, F, OTHER>(table, cube.interpolation, frame),
    }
    if large {
        finish();
    }
}

fn run_in<V: Vector, F: Frame, const DOMAIN: u8>(table: Table<'_, V>, interpolation: Interpolation, frame: F) {
    let (vector, plan) = (table.vector, Plan::new());
    match interpolation {
        Interpolation::Tetrahedral => {
            let kernel = Vectors::<V, Tetrahedral<V>, DOMAIN> { method: Tetrahedral::new(&table), table, plan };
            vector.with(Tiles { kernel, frame });
        }
        Interpolation::Trilinear => {
            let kernel = Vectors::<V, Trilinear, DOMAIN> { method: Trilinear, table, plan };
            vector.with(Tiles { kernel, frame });
        }
    }
}

struct Tiles<K, F> {
    kernel: K,
    frame: F,
}

impl<K: Kernel, F: Frame> Work for Tiles<K, F> {
    #[inline(always)]
    fn run(self) {
        tiles(self.kernel, self.frame);
    }
}

/// The kernel. The plan holds offsets that [`Planning`] made for this table, or zeros, which any table has.
struct Vectors<'a, V, M, const DOMAIN: u8> {
    method: M,
    table: Table<'a, V>,
    plan: Plan,
}

impl<V: Vector, M: Method<V>, const DOMAIN: u8> Vectors<'_, V, M, DOMAIN> {
    #[inline(always)]
    fn group(&self, at: usize) -> [V::Floats; 4] {
        // SAFETY: what the plan holds.
        unsafe { M::group(&self.table, &self.plan, at) }
    }
}

/// The samples of a tile as planes, a vector at a time.
trait Taken {
    type Sample: Sample;
    fn take<V: Vector>(&self, v: V, at: usize) -> [V::Floats; 3];
}

impl<S: Sample> Taken for [&Lane<S>; 3] {
    type Sample = S;
    #[inline(always)]
    fn take<V: Vector>(&self, v: V, at: usize) -> [V::Floats; 3] {
        [v.load(self[0], at), v.load(self[1], at), v.load(self[2], at)]
    }
}

impl Taken for &[[f32; 3]; TILE] {
    type Sample = f32;
    #[inline(always)]
    fn take<V: Vector>(&self, v: V, at: usize) -> [V::Floats; 3] {
        v.load_three(self, at)
    }
}

impl Taken for &[[f32; 4]; TILE] {
    type Sample = f32;
    #[inline(always)]
    fn take<V: Vector>(&self, v: V, at: usize) -> [V::Floats; 3] {
        v.load_four(self, at)
    }
}

struct Planning<'k, K, T> {
    kernel: &'k mut K,
    source: T,
}

impl<V: Vector, M: Method<V>, T: Taken, const DOMAIN: u8> Work for Planning<'_, Vectors<'_, V, M, DOMAIN>, T> {
    #[inline(always)]
    fn run(self) {
        let Vectors { method, table, plan } = self.kernel;
        let v = table.vector;
        // Apart from the plan, so that they stay in registers while it is written.
        let places = [Place::of(table, 0), Place::of(table, 1), Place::of(table, 2)];
        for at in (0..TILE).step_by(V::LANES) {
            let [r, g, b] = self.source.take(v, at);
            let (r, r_step) = places[0].at::<DOMAIN, T::Sample>(v, r);
            let (g, g_step) = places[1].at::<DOMAIN, T::Sample>(v, g);
            let (b, b_step) = places[2].at::<DOMAIN, T::Sample>(v, b);
            method.plan(v, plan, at, base(v, &places, [r_step, g_step, b_step]), [r, g, b]);
        }
    }
}

struct Blending<'k, K, T> {
    kernel: &'k K,
    target: T,
}

/// Planes to write; with `PAST`, two of three go past the caches.
struct Planes<'t, S: Sample, const PAST: bool>([&'t mut Lane<S>; 3]);

/// Lines of the cache in one go, which costs less. A large frame of floats goes past the caches in two planes of three: memory
/// takes all of it no faster than that, none of it would have memory read what is then written over, and push the table out.
/// The third plane is fetched early, which the processor leaves undone among nodes that lie anywhere.
impl<V: Vector, M: Method<V>, S: Sample, const DOMAIN: u8, const PAST: bool> Work
    for Blending<'_, Vectors<'_, V, M, DOMAIN>, Planes<'_, S, PAST>>
{
    #[inline(always)]
    fn run(self) {
        let (kernel, v, Planes([red, green, blue])) = (self.kernel, self.kernel.table.vector, self.target);
        // With codes the work outweighs the writing, and two at a time would have the offsets wait in memory.
        let two = M::LINES && size_of::<S>() == 4 && V::LANES < CACHE_LINE / 4;
        for at in (0..TILE).step_by(if two { 2 * V::LANES } else { V::LANES }) {
            let next = at + V::LANES;
            let [r, g, b] = v.planes(kernel.group(at));
            let after = if two { Some(v.planes(kernel.group(next))) } else { None };
            // Or the compiler may store the first vector long before the second.
            compiler_fence(Ordering::SeqCst);
            if PAST {
                v.stream(red, at, r);
                if let Some([r, ..]) = after {
                    v.stream(red, next, r);
                }
                v.stream(green, at, g);
                if let Some([_, g, _]) = after {
                    v.stream(green, next, g);
                }
                fetch_line(&blue[at]);
            } else {
                v.store(red, at, r);
                if let Some([r, ..]) = after {
                    v.store(red, next, r);
                }
                v.store(green, at, g);
                if let Some([_, g, _]) = after {
                    v.store(green, next, g);
                }
            }
            v.store(blue, at, b);
            if let Some([.., b]) = after {
                v.store(blue, next, b);
            }
        }
    }
}

impl<V: Vector, M: Method<V>, const DOMAIN: u8> Work
    for Blending<'_, Vectors<'_, V, M, DOMAIN>, &mut [[f32; 3]; TILE]>
{
    #[inline(always)]
    fn run(self) {
        for at in (0..TILE).step_by(V::LANES) {
            self.kernel.table.vector.store_three(self.target, at, self.kernel.group(at));
        }
    }
}

impl<V: Vector, M: Method<V>, const DOMAIN: u8> Work
    for Blending<'_, Vectors<'_, V, M, DOMAIN>, &mut [[f32; 4]; TILE]>
{
    #[inline(always)]
    fn run(self) {
        for at in (0..TILE).step_by(V::LANES) {
            self.kernel.table.vector.store_four(self.target, at, self.kernel.group(at));
        }
    }
}

impl<V: Vector, M: Method<V>, const DOMAIN: u8> Kernel for Vectors<'_, V, M, DOMAIN> {
    const INTEGERS: bool = true;
    const PIXELS: bool = true;

    #[inline(always)]
    fn plan<S: Sample>(&mut self, source: Source<'_, S>) {
        let v = self.table.vector;
        match source {
            Source::Planes(source) => v.with(Planning { kernel: self, source }),
            Source::Rgb(source) => v.with(Planning { kernel: self, source }),
            Source::Rgba(source) => v.with(Planning { kernel: self, source }),
        }
    }

    #[inline(always)]
    fn fetch<S: Sample>(&self, source: &Source<'_, S>) {
        match source {
            Source::Planes(planes) => planes.iter().for_each(|plane| fetch(&plane[..])),
            Source::Rgb(pixels) => fetch(pixels.as_flattened()),
            Source::Rgba(pixels) => fetch(pixels.as_flattened()),
        }
    }

    #[inline(always)]
    fn blend<S: Sample>(&self, target: Target<'_, S>, large: bool) {
        let v = self.table.vector;
        match target {
            Target::Planes(planes) if M::LINES && large && streams(planes[0]) && streams(planes[1]) => {
                v.with(Blending { kernel: self, target: Planes::<S, true>(planes) });
            }
            Target::Planes(planes) => v.with(Blending { kernel: self, target: Planes::<S, false>(planes) }),
            Target::Rgb(target) => v.with(Blending { kernel: self, target }),
            Target::Rgba(target) => v.with(Blending { kernel: self, target }),
        }
    }
}
