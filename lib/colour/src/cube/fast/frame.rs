//! Layouts of a frame: how tiles of red, green and blue are taken from them and put back.

use super::sample::Sample;
use super::{Lane, TILE};

/// Bytes.
pub(super) const CACHE_LINE: usize = 64;

/// Bytes of a target beyond which a core's share of the caches does not hold it until it is read, roughly.
pub(super) const LARGE: usize = 8 << 20;

/// A whole tile as it lies in a frame.
#[cfg_attr(
    not(target_arch = "x86_64"),
    expect(dead_code, reason = "other kernels take interleaved pixels tile by tile")
)]
pub(super) enum Source<'a, S> {
    Planes([&'a Lane<S>; 3]),
    Rgb(&'a [[f32; 3]; TILE]),
    Rgba(&'a [[f32; 4]; TILE]),
}

/// A whole tile to write; alpha stays.
#[cfg_attr(
    not(target_arch = "x86_64"),
    expect(dead_code, reason = "other kernels take interleaved pixels tile by tile")
)]
pub(super) enum Target<'a, S> {
    Planes([&'a mut Lane<S>; 3]),
    Rgb(&'a mut [[f32; 3]; TILE]),
    Rgba(&'a mut [[f32; 4]; TILE]),
}

impl<'a, S: Sample> Source<'a, S> {
    /// For a kernel that takes nothing but planes.
    #[inline(always)]
    pub(super) fn planes(self) -> [&'a Lane<S>; 3] {
        match self {
            Self::Planes(planes) => planes,
            _ => unreachable!("interleaved pixels are for kernels that take them"),
        }
    }

    /// Of interleaved pixels of `N` floats.
    #[inline(always)]
    fn pixels<const N: usize>(pixels: &'a [S], at: usize) -> Option<Self> {
        let floats = S::floats(pixels.get(at * N..(at + TILE) * N)?)?;
        match N {
            3 => Some(Self::Rgb(floats.as_chunks().0.first_chunk()?)),
            _ => Some(Self::Rgba(floats.as_chunks().0.first_chunk()?)),
        }
    }
}

impl<'a, S: Sample> Target<'a, S> {
    /// As [`Source::planes`].
    #[inline(always)]
    pub(super) fn planes(self) -> [&'a mut Lane<S>; 3] {
        match self {
            Self::Planes(planes) => planes,
            _ => unreachable!("interleaved pixels are for kernels that take them"),
        }
    }

    /// As [`Source::pixels`].
    #[inline(always)]
    fn pixels<const N: usize>(pixels: &'a mut [S], at: usize) -> Option<Self> {
        let floats = S::floats_mut(pixels.get_mut(at * N..(at + TILE) * N)?)?;
        match N {
            3 => Some(Self::Rgb(floats.as_chunks_mut().0.first_chunk_mut()?)),
            _ => Some(Self::Rgba(floats.as_chunks_mut().0.first_chunk_mut()?)),
        }
    }
}

/// A run of pixels, source and target in one.
pub(super) trait Frame: Send + Sized {
    type Sample: Sample;
    /// Whether pixels lie one after the other, and not in planes.
    const INTERLEAVED: bool = false;

    fn pixels(&self) -> usize;

    /// The pixels before `middle`, and the rest.
    fn split_at(self, middle: usize) -> (Self, Self);

    /// Takes `count` pixels from `at`, as numbers of the samples; the rest of the tile stays.
    fn load(&self, at: usize, count: usize, tile: &mut [Lane<f32>; 3]);

    /// Puts `count` pixels, values of the cube, back at `at`.
    fn store(&mut self, at: usize, count: usize, tile: &[Lane<f32>; 3]);

    /// Pixels to take first, 1 to [`TILE`], so that whole tiles of the target start on cache lines.
    fn head(&self) -> usize;

    /// A whole tile of the source where a kernel can take it as it lies: planes, or interleaved floats.
    fn source(&self, at: usize) -> Option<Source<'_, Self::Sample>>;

    /// Whether the target is apart from the source, and so large that little of it would stay in the caches.
    #[inline(always)]
    fn large(&self) -> bool {
        false
    }

    /// The same of the target.
    fn target(&mut self, at: usize) -> Option<Target<'_, Self::Sample>>;
}

#[inline(always)]
fn lane<S>(plane: &[S], at: usize) -> Option<&Lane<S>> {
    plane.get(at..)?.first_chunk()
}

#[inline(always)]
fn lane_mut<S>(plane: &mut [S], at: usize) -> Option<&mut Lane<S>> {
    plane.get_mut(at..)?.first_chunk_mut()
}

/// As [`Frame::head`], for a plane, or for pixels of `N` samples: most allocators start what is large 16 bytes off a cache line,
/// and stores across lines are slow.
fn head<S, const N: usize>(samples: &[S]) -> usize {
    let past = |pixels: usize| (samples.as_ptr().addr() + pixels * N * size_of::<S>()) % CACHE_LINE;
    if past(0) == 0 { TILE } else { (1..TILE).find(|pixels| past(*pixels) == 0).unwrap_or(TILE) }
}

#[inline(always)]
fn load_plane<S: Sample>(plane: &[S], at: usize, count: usize, lane: &mut Lane<f32>) {
    for (to, from) in lane.iter_mut().zip(&plane[at..at + count]) {
        *to = from.number();
    }
}

#[inline(always)]
fn store_plane<S: Sample>(plane: &mut [S], at: usize, count: usize, lane: &Lane<f32>) {
    for (to, from) in plane[at..at + count].iter_mut().zip(lane) {
        *to = S::from_value(*from);
    }
}

pub(super) struct Planar<'a, S> {
    source: [&'a [S]; 3],
    target: [&'a mut [S]; 3],
    large: bool,
}

impl<'a, S: Sample> Planar<'a, S> {
    /// Planes of one length.
    pub(super) fn new(source: [&'a [S]; 3], target: [&'a mut [S]; 3]) -> Self {
        let large = 3 * size_of_val(source[0]) >= LARGE;
        Self { source, target, large }
    }
}

impl<S: Sample> Frame for Planar<'_, S> {
    type Sample = S;

    fn pixels(&self) -> usize {
        self.source[0].len()
    }

    fn split_at(self, middle: usize) -> (Self, Self) {
        let [(r, r2), (g, g2), (b, b2)] = self.source.map(|p| p.split_at(middle));
        let [(tr, tr2), (tg, tg2), (tb, tb2)] = self.target.map(|p| p.split_at_mut(middle));
        (
            Self { source: [r, g, b], target: [tr, tg, tb], ..self },
            Self { source: [r2, g2, b2], target: [tr2, tg2, tb2], ..self },
        )
    }

    #[inline(always)]
    fn load(&self, at: usize, count: usize, tile: &mut [Lane<f32>; 3]) {
        for i in 0..3 {
            load_plane(self.source[i], at, count, &mut tile[i]);
        }
    }

    #[inline(always)]
    fn store(&mut self, at: usize, count: usize, tile: &[Lane<f32>; 3]) {
        for i in 0..3 {
            store_plane(self.target[i], at, count, &tile[i]);
        }
    }

    fn head(&self) -> usize {
        head::<S, 1>(self.target[0])
    }

    #[inline(always)]
    fn large(&self) -> bool {
        self.large
    }

    #[inline(always)]
    fn source(&self, at: usize) -> Option<Source<'_, S>> {
        let [r, g, b] = self.source;
        Some(Source::Planes([lane(r, at)?, lane(g, at)?, lane(b, at)?]))
    }

    #[inline(always)]
    fn target(&mut self, at: usize) -> Option<Target<'_, S>> {
        let [r, g, b] = &mut self.target;
        Some(Target::Planes([lane_mut(r, at)?, lane_mut(g, at)?, lane_mut(b, at)?]))
    }
}

pub(super) struct PlanarInPlace<'a, S> {
    pub(super) planes: [&'a mut [S]; 3],
}

impl<S: Sample> Frame for PlanarInPlace<'_, S> {
    type Sample = S;

    fn pixels(&self) -> usize {
        self.planes[0].len()
    }

    fn split_at(self, middle: usize) -> (Self, Self) {
        let [(r, r2), (g, g2), (b, b2)] = self.planes.map(|p| p.split_at_mut(middle));
        (Self { planes: [r, g, b] }, Self { planes: [r2, g2, b2] })
    }

    #[inline(always)]
    fn load(&self, at: usize, count: usize, tile: &mut [Lane<f32>; 3]) {
        for i in 0..3 {
            load_plane(self.planes[i], at, count, &mut tile[i]);
        }
    }

    #[inline(always)]
    fn store(&mut self, at: usize, count: usize, tile: &[Lane<f32>; 3]) {
        for i in 0..3 {
            store_plane(self.planes[i], at, count, &tile[i]);
        }
    }

    fn head(&self) -> usize {
        head::<S, 1>(self.planes[0])
    }

    #[inline(always)]
    fn source(&self, at: usize) -> Option<Source<'_, S>> {
        let [r, g, b] = &self.planes;
        Some(Source::Planes([lane(r, at)?, lane(g, at)?, lane(b, at)?]))
    }

    #[inline(always)]
    fn target(&mut self, at: usize) -> Option<Target<'_, S>> {
        let [r, g, b] = &mut self.planes;
        Some(Target::Planes([lane_mut(r, at)?, lane_mut(g, at)?, lane_mut(b, at)?]))
    }
}

#[inline(always)]
fn load_pixels<S: Sample, const N: usize>(pixels: &[S], at: usize, count: usize, tile: &mut [Lane<f32>; 3]) {
    let (pixels, _) = pixels[at * N..(at + count) * N].as_chunks::<N>();
    let [red, green, blue] = tile;
    for (i, pixel) in pixels.iter().enumerate().take(TILE) {
        (red[i], green[i], blue[i]) = (pixel[0].number(), pixel[1].number(), pixel[2].number());
    }
}

#[inline(always)]
fn store_pixels<S: Sample, const N: usize>(pixels: &mut [S], at: usize, count: usize, tile: &[Lane<f32>; 3]) {
    let (pixels, _) = pixels[at * N..(at + count) * N].as_chunks_mut::<N>();
    for (i, pixel) in pixels.iter_mut().enumerate().take(TILE) {
        for c in 0..3 {
            pixel[c] = S::from_value(tile[c][i]);
        }
    }
}

pub(super) struct Interleaved<'a, S, const N: usize> {
    pub(super) source: &'a [S],
    pub(super) target: &'a mut [S],
}

impl<S: Sample, const N: usize> Interleaved<'_, S, N> {
    /// Where there is alpha: it, and with it the colour that is then written over.
    #[inline(always)]
    fn copy_alpha(&mut self, at: usize, count: usize) {
        if N > 3 {
            let range = at * N..(at + count) * N;
            self.target[range.clone()].copy_from_slice(&self.source[range]);
        }
    }
}

impl<S: Sample, const N: usize> Frame for Interleaved<'_, S, N> {
    type Sample = S;
    const INTERLEAVED: bool = true;

    fn pixels(&self) -> usize {
        self.source.len() / N
    }

    fn split_at(self, middle: usize) -> (Self, Self) {
        let (source, source2) = self.source.split_at(middle * N);
        let (target, target2) = self.target.split_at_mut(middle * N);
        (Self { source, target }, Self { source: source2, target: target2 })
    }

    #[inline(always)]
    fn load(&self, at: usize, count: usize, tile: &mut [Lane<f32>; 3]) {
        load_pixels::<S, N>(self.source, at, count, tile);
    }

    #[inline(always)]
    fn store(&mut self, at: usize, count: usize, tile: &[Lane<f32>; 3]) {
        self.copy_alpha(at, count);
        store_pixels::<S, N>(self.target, at, count, tile);
    }

    fn head(&self) -> usize {
        head::<S, N>(self.target)
    }

    #[inline(always)]
    fn source(&self, at: usize) -> Option<Source<'_, S>> {
        Source::pixels::<N>(self.source, at)
    }

    #[inline(always)]
    fn target(&mut self, at: usize) -> Option<Target<'_, S>> {
        self.copy_alpha(at, TILE.min(self.pixels() - at));
        Target::pixels::<N>(self.target, at)
    }
}

pub(super) struct InterleavedInPlace<'a, S, const N: usize> {
    pub(super) pixels: &'a mut [S],
}

impl<S: Sample, const N: usize> Frame for InterleavedInPlace<'_, S, N> {
    type Sample = S;
    const INTERLEAVED: bool = true;

    fn pixels(&self) -> usize {
        self.pixels.len() / N
    }

    fn split_at(self, middle: usize) -> (Self, Self) {
        let (pixels, rest) = self.pixels.split_at_mut(middle * N);
        (Self { pixels }, Self { pixels: rest })
    }

    #[inline(always)]
    fn load(&self, at: usize, count: usize, tile: &mut [Lane<f32>; 3]) {
        load_pixels::<S, N>(self.pixels, at, count, tile);
    }

    #[inline(always)]
    fn store(&mut self, at: usize, count: usize, tile: &[Lane<f32>; 3]) {
        store_pixels::<S, N>(self.pixels, at, count, tile);
    }

    fn head(&self) -> usize {
        head::<S, N>(self.pixels)
    }

    #[inline(always)]
    fn source(&self, at: usize) -> Option<Source<'_, S>> {
        Source::pixels::<N>(self.pixels, at)
    }

    #[inline(always)]
    fn target(&mut self, at: usize) -> Option<Target<'_, S>> {
        Target::pixels::<N>(self.pixels, at)
    }
}

/// What a path does with a tile.
pub(super) trait Kernel {
    /// Whether planes of integers are best taken as they lie, and not by way of floats.
    const INTEGERS: bool;
    /// Whether the kernel takes interleaved floats as they lie.
    const PIXELS: bool = false;

    /// Finds the nodes and weights of every pixel of a tile, and keeps them. Samples of any kind are numbers here.
    fn plan<S: Sample>(&mut self, source: Source<'_, S>);

    /// Called with a tile of a frame before it is planned: the next tiles follow it in memory.
    #[inline(always)]
    fn fetch<S: Sample>(&self, _source: &Source<'_, S>) {}

    /// Weighs the nodes that were planned last; gives samples of the kind asked for. `large` as by [`Frame::large`].
    fn blend<S: Sample>(&self, target: Target<'_, S>, large: bool);
}

/// Three lanes of numbers, aligned so that no vector straddles two cache lines.
#[repr(align(64))]
struct Tile([Lane<f32>; 3]);

/// The frame, tile by tile; inlined into each path, so that taking and putting back use its instructions too.
#[inline(always)]
pub(super) fn tiles<K: Kernel, F: Frame>(mut kernel: K, mut frame: F) {
    let mut tile = Tile([[0.0; TILE]; 3]);
    let tile = &mut tile.0;
    let (pixels, large) = (frame.pixels(), frame.large());
    let floats = F::Sample::MAX_CODE == 1.0;
    let as_they_lie = if F::INTERLEAVED { K::PIXELS && floats } else { K::INTEGERS || floats };
    let (mut at, mut count) = (0, frame.head());
    while at < pixels {
        count = count.min(pixels - at);
        let whole = as_they_lie && count == TILE;
        match if whole { frame.source(at) } else { None } {
            Some(source) => {
                kernel.fetch(&source);
                kernel.plan(source);
            }
            None => {
                // A whole tile apart, so that the compiler knows its length.
                if count == TILE {
                    frame.load(at, TILE, tile)
                } else {
                    frame.load(at, count, tile)
                }
                kernel.plan(Source::Planes([&tile[0], &tile[1], &tile[2]]));
            }
        }
        match if whole { frame.target(at) } else { None } {
            Some(target) => kernel.blend(target, large),
            None => {
                let [r, g, b] = &mut *tile;
                kernel.blend(Target::Planes([r, g, b]), false);
                if count == TILE { frame.store(at, TILE, tile) } else { frame.store(at, count, tile) }
            }
        }
        (at, count) = (at + count, TILE);
    }
}
