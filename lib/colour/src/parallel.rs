//! Work shared out over the processors by rayon (feature `parallel`), or done in order without it: the same results.

#[cfg(feature = "parallel")]
use rayon::prelude::*;

/// Does `f` with every chunk of `size` items and its number.
#[cfg(feature = "parallel")]
pub(crate) fn chunks<T: Send>(items: &mut [T], size: usize, f: impl Fn(usize, &mut [T]) + Sync) {
    items.par_chunks_mut(size).enumerate().for_each(|(i, chunk)| f(i, chunk));
}

/// Does `f` with every chunk of `size` items and its number.
#[cfg(not(feature = "parallel"))]
pub(crate) fn chunks<T: Send>(items: &mut [T], size: usize, f: impl Fn(usize, &mut [T]) + Sync) {
    items.chunks_mut(size).enumerate().for_each(|(i, chunk)| f(i, chunk));
}

/// `f` of every number below `count`; no thread takes less than `least` of them.
#[cfg(feature = "parallel")]
pub(crate) fn collect<T: Send>(count: usize, least: usize, f: impl Fn(usize) -> T + Send + Sync) -> Vec<T> {
    (0..count).into_par_iter().with_min_len(least).map(f).collect()
}

/// `f` of every number below `count`.
#[cfg(not(feature = "parallel"))]
pub(crate) fn collect<T: Send>(count: usize, _: usize, f: impl Fn(usize) -> T + Send + Sync) -> Vec<T> {
    (0..count).map(f).collect()
}

/// Both, at once where that can be.
#[cfg(feature = "parallel")]
pub(crate) fn join(a: impl FnOnce() + Send, b: impl FnOnce() + Send) {
    rayon::join(a, b);
}

/// Both, one after the other.
#[cfg(not(feature = "parallel"))]
pub(crate) fn join(a: impl FnOnce() + Send, b: impl FnOnce() + Send) {
    a();
    b();
}
