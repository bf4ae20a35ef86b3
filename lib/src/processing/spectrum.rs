//! The power of noise by its frequency, across and down: white noise has the same at every frequency, smoothed noise
//! has only the low ones.
//!
//! The patch is freed of its slow changes (a quadratic surface by least squares), cut into windows that overlap by half,
//! each weighed by a Hann window, and the squares of their Fourier transforms are averaged (the method of Welch, 1967). The
//! power is so scaled that its mean over all frequencies is the variance of the noise.
//!
//! # Smoothing
//! Where a camera takes means of neighbouring pixels, variance falls, but the power at the lowest frequencies stays. So power
//! at frequency 0 over mean power is the factor by which white noise of the same low-frequency power would have more
//! variance, and its root is the edge of the square of pixels whose mean smooths as much. For a Gaussian of standard
//! deviation s that edge is `2 sqrt(pi) s`.

use super::Plane;
use crate::math::{cos, exp, ln, sin};
use crate::statistics::without_surface;
use nalgebra::{DMatrix, DVector};
use std::f64::consts::TAU;

/// Edges of windows, pixels: the largest that fits is taken.
const EDGES: [usize; 3] = [64, 32, 16];
/// Windows of one plane, at most; more are taken evenly from all.
const MOST: usize = 24;
/// Frequencies within this many steps of 0 are ignored: they hold the rest of uneven light.
const NEAREST: f64 = 1.5;
/// The power at frequency 0 follows from rings that have at least this part of the lowest one's.
const FALL: f64 = 0.35;
/// Rings that it follows from, at least.
const RINGS: usize = 3;

/// Power by frequency.
#[derive(Debug, Clone, PartialEq)]
pub struct Spectrum {
    /// Frequencies along each axis: 0, 1/n ... cycles per pixel, those from the middle on negative.
    n: usize,
    /// Row after row.
    power: Vec<f64>,
    windows: usize,
}

impl Spectrum {
    /// The spectrum of a plane; `None` if it is smaller than 16 pixels.
    pub fn of(plane: &Plane) -> Option<Self> {
        let (width, height) = (plane.width, plane.height());
        let n = EDGES.into_iter().find(|n| *n <= width.min(height))?;
        let flat = without_surface(&plane.values, plane.width);
        let places = |length: usize| -> Vec<usize> { (0..=length - n).step_by(n / 2).collect() };
        let all: Vec<(usize, usize)> =
            places(height).iter().flat_map(|y| places(width).into_iter().map(move |x| (x, *y))).collect();
        let every = all.len().div_ceil(MOST);
        let transform = Transform::new(n);
        let mut power = vec![0.0; n * n];
        let mut windows = 0;
        for (x, y) in all.into_iter().step_by(every) {
            let window = DMatrix::from_fn(n, n, |row, column| flat[(y + row) * width + x + column]);
            transform.add(&window, &mut power);
            windows += 1;
        }
        power.iter_mut().for_each(|p| *p /= windows as f64);
        Some(Self { n, power, windows })
    }

    /// The mean of several spectra with windows of one size; `None` of an empty list.
    pub fn mean(all: &[Self]) -> Option<Self> {
        let n = all.iter().map(|s| s.n).min()?;
        let same: Vec<&Self> = all.iter().filter(|s| s.n == n).collect();
        let power = (0..n * n).map(|i| same.iter().map(|s| s.power[i]).sum::<f64>() / same.len() as f64).collect();
        Some(Self { n, power, windows: same.iter().map(|s| s.windows).sum() })
    }

    /// The same with all power over `by`.
    #[must_use]
    pub fn over(mut self, by: f64) -> Self {
        self.power.iter_mut().for_each(|p| *p /= by);
        self
    }

    /// Frequency and power of every bin, without those nearest to 0.
    fn places(&self) -> impl Iterator<Item = ([f64; 2], f64)> + '_ {
        let signed = |k: usize| if k <= self.n / 2 { k as f64 } else { k as f64 - self.n as f64 };
        self.power.iter().enumerate().filter_map(move |(i, power)| {
            let [x, y] = [signed(i % self.n), signed(i / self.n)];
            (x * x + y * y >= NEAREST * NEAREST).then_some(([x, y], *power))
        })
    }

    /// Mean power over the frequencies: the variance of the noise.
    pub fn variance(&self) -> f64 {
        let (sum, count) = self.places().fold((0.0, 0.0), |(sum, count), (_, p)| (sum + p, count + 1.0));
        sum / f64::max(count, 1.0)
    }

    /// Mean power by frequency in whatever direction, as [cycles per pixel, power], with the number of places of each.
    fn rings(&self) -> Vec<([f64; 2], f64)> {
        let mut sums = vec![[0.0; 3]; self.n / 2 + 1];
        for ([x, y], power) in self.places() {
            let radius = (x * x + y * y).sqrt();
            if let Some(sum) = sums.get_mut(radius.round() as usize) {
                *sum = [sum[0] + radius, sum[1] + power, sum[2] + 1.0];
            }
        }
        let n = self.n as f64;
        sums.into_iter().filter(|s| s[2] > 0.0).map(|[r, p, count]| ([r / count / n, p / count], count)).collect()
    }

    /// Mean power by frequency, in whatever direction: [cycles per pixel, power].
    pub fn radial(&self) -> Vec<[f64; 2]> {
        self.rings().into_iter().map(|(point, _)| point).collect()
    }

    /// Power at frequency 0, by the parabola through the logarithm of the lowest rings: exact for a Gaussian.
    pub fn at_zero(&self) -> f64 {
        let rings = self.rings();
        let Some(first) = rings.first().map(|r| r.0[1]) else { return 0.0 };
        let used = rings.iter().take_while(|r| r.0[1] >= FALL * first).count().max(RINGS).min(rings.len());
        let used: Vec<_> = rings[..used].iter().filter(|r| r.0[1] > 0.0).collect();
        // ln P = a - b f^2, each ring by its number of places.
        let sum = |of: &dyn Fn(f64, f64) -> f64| -> f64 {
            used.iter().map(|([f, p], count)| count * of(f * f, ln(*p))).sum()
        };
        let (w, x, y) = (sum(&|_, _| 1.0), sum(&|x, _| x), sum(&|_, y| y));
        let (xx, xy) = (sum(&|x, _| x * x), sum(&|x, y| x * y));
        let determinant = w * xx - x * x;
        if determinant > 1e-12 * w * xx { exp((xx * y - x * xy) / determinant) } else { first }
    }

    /// How much more variance white noise of the same low-frequency power would have, with `white` of the variance known to
    /// be white: that which the steps of the codes add. None where there is no other noise.
    pub fn factor(&self, white: f64) -> Option<f64> {
        let variance = self.variance() - white;
        (variance > 0.1 * white && variance > 0.0).then(|| (self.at_zero() - white).max(0.0) / variance)
    }

    /// The autocorrelation of the noise at 0, 1 ... 8 pixels, the mean of both axes.
    pub fn autocorrelation(&self) -> Vec<f64> {
        let n = self.n;
        let window: Vec<f64> = hann(n);
        let overlap = |lag: usize| -> f64 { (0..n - lag).map(|i| window[i] * window[i + lag]).sum() };
        let at = |lag: usize| {
            let of = |x: f64| cos(TAU * x * lag as f64 / n as f64);
            self.places().map(|([x, y], p)| p * (of(x) + of(y)) / 2.0).sum::<f64>()
        };
        let all = at(0).max(f64::MIN_POSITIVE);
        (0..=8).map(|lag| at(lag) / all * overlap(0) / overlap(lag)).collect()
    }
}

fn hann(n: usize) -> Vec<f64> {
    (0..n).map(|i| 0.5 - 0.5 * cos(TAU * (i as f64 + 0.5) / n as f64)).collect()
}

/// The Fourier transform of a square window, as products of matrices.
struct Transform {
    window: Vec<f64>,
    cosines: DMatrix<f64>,
    sines: DMatrix<f64>,
    /// The factor from squares to power.
    scale: f64,
}

impl Transform {
    fn new(n: usize) -> Self {
        let window = hann(n);
        let angle = |i: usize, j: usize| TAU * (i * j % n) as f64 / n as f64;
        let squares: f64 = window.iter().map(|w| w * w).sum();
        Self {
            cosines: DMatrix::from_fn(n, n, |i, j| cos(angle(i, j))),
            sines: DMatrix::from_fn(n, n, |i, j| sin(angle(i, j))),
            scale: 1.0 / (squares * squares),
            window,
        }
    }

    fn add(&self, window: &DMatrix<f64>, power: &mut [f64]) {
        let n = self.window.len();
        let weighed = DMatrix::from_fn(n, n, |i, j| window[(i, j)] * self.window[i] * self.window[j]);
        let (down_c, down_s) = (&self.cosines * &weighed, &self.sines * &weighed);
        let real = &down_c * &self.cosines - &down_s * &self.sines;
        let imaginary = down_c * &self.sines + down_s * &self.cosines;
        for (i, power) in power.iter_mut().enumerate() {
            let at = (i / n, i % n);
            *power += self.scale * (real[at] * real[at] + imaginary[at] * imaginary[at]);
        }
    }
}

/// Power along one axis of a plane, by windows of 32 pixels of its rows without their means: 16 frequencies, 1/32 to 1/2
/// cycles per pixel. For what differs across and down, as chroma does. None where a row is shorter.
pub fn along_rows(plane: &Plane) -> Option<Vec<f64>> {
    const N: usize = 32;
    let (width, height) = (plane.width, plane.height());
    if width < N || height == 0 {
        return None;
    }
    let window = hann(N);
    let waves: Vec<[DVector<f64>; 2]> = (1..=N / 2)
        .map(|k| {
            let of = |wave: fn(f64) -> f64| {
                DVector::from_fn(N, |i, _| window[i] * wave(TAU * (k * i % N) as f64 / N as f64))
            };
            [of(cos), of(sin)]
        })
        .collect();
    let places: Vec<(usize, usize)> =
        (0..height).flat_map(|y| (0..=width - N).step_by(N / 2).map(move |x| (x, y))).collect();
    let every = places.len().div_ceil(4000);
    let mut power = vec![0.0; N / 2];
    let total: f64 = window.iter().sum();
    let squares: f64 = window.iter().map(|w| w * w).sum();
    let mut count = 0.0;
    for (x, y) in places.into_iter().step_by(every) {
        let row = &plane.values[y * width + x..][..N];
        // The mean as the window sees it, so that none of it leaks.
        let mean = row.iter().zip(&window).map(|(v, w)| v * w).sum::<f64>() / total;
        let row = DVector::from_fn(N, |i, _| row[i] - mean);
        for (power, [c, s]) in power.iter_mut().zip(&waves) {
            let (c, s) = (c.dot(&row), s.dot(&row));
            *power += (c * c + s * s) / squares;
        }
        count += 1.0;
    }
    power.iter_mut().for_each(|p| *p /= count);
    Some(power)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::ln;

    /// White noise, the same on every machine.
    fn white(side: usize) -> Vec<f64> {
        let mut state = 7u64;
        let mut draw = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            ((state >> 33) as f64 + 1.0) / (1u64 << 31) as f64
        };
        (0..side * side).map(|_| (-2.0 * ln(draw())).sqrt() * cos(TAU * draw())).collect()
    }

    /// White noise through a separable kernel.
    fn through(kernel: &[f64], side: usize) -> Plane {
        let wide = side + kernel.len();
        let noise = white(wide);
        let at = |x: usize, y: usize| -> f64 {
            let row =
                |j: usize| -> f64 { kernel.iter().enumerate().map(|(i, k)| k * noise[(y + j) * wide + x + i]).sum() };
            kernel.iter().enumerate().map(|(j, k)| k * row(j)).sum()
        };
        Plane { width: side, values: (0..side * side).map(|i| at(i % side, i / side)).collect() }
    }

    #[test]
    fn white_noise_is_white_and_its_variance_comes_back() {
        let found = Spectrum::of(&through(&[1.0], 160)).unwrap();
        assert!((found.variance() - 1.0).abs() < 0.03, "{}", found.variance());
        assert!((found.factor(0.0).unwrap() - 1.0).abs() < 0.15, "{:?}", found.factor(0.0));
        let alike = found.autocorrelation();
        assert!(alike[1..].iter().all(|r| r.abs() < 0.03), "{alike:?}");
    }

    /// The edge of a mean, and of a Gaussian by its own formula, within 10 %.
    #[test]
    fn smoothing_comes_back_in_pixels() {
        for edge in [2usize, 3, 4, 5] {
            let found = Spectrum::of(&through(&vec![1.0 / edge as f64; edge], 400)).unwrap();
            let pixels = found.factor(0.0).unwrap().sqrt();
            assert!((pixels / edge as f64 - 1.0).abs() < 0.1, "mean over {edge}: {pixels}");
        }
        for sigma in [0.7, 1.0, 1.5, 2.0] {
            let kernel: Vec<f64> = (-8..=8).map(|i: i32| exp(-f64::from(i * i) / (2.0 * sigma * sigma))).collect();
            let sum: f64 = kernel.iter().sum();
            let kernel: Vec<f64> = kernel.into_iter().map(|k| k / sum).collect();
            let found = Spectrum::of(&through(&kernel, 192)).unwrap();
            // Sampled, the sum of squares differs a little from the integral's 1 / (2 sqrt(pi) s).
            let truth = 1.0 / kernel.iter().map(|k| k * k).sum::<f64>();
            let pixels = found.factor(0.0).unwrap().sqrt();
            assert!((pixels / truth - 1.0).abs() < 0.1, "Gaussian of {sigma}: {pixels} for {truth}");
        }
    }

    #[test]
    fn uneven_light_is_no_noise() {
        let mut plane = through(&[1.0], 128);
        for (i, v) in plane.values.iter_mut().enumerate() {
            let (x, y) = ((i % 128) as f64 / 128.0, (i / 128) as f64 / 128.0);
            *v += 30.0 * x - 12.0 * y * y + 5.0 * x * y;
        }
        let found = Spectrum::of(&plane).unwrap();
        assert!((found.factor(0.0).unwrap() - 1.0).abs() < 0.2, "{:?}", found.factor(0.0));
    }

    #[test]
    fn too_few_pixels_give_nothing() {
        assert_eq!(Spectrum::of(&Plane { width: 15, values: vec![0.0; 15 * 40] }), None);
        assert_eq!(along_rows(&Plane { width: 31, values: vec![0.0; 31] }), None);
        // No noise, no smoothing.
        assert_eq!(Spectrum::of(&Plane { width: 32, values: vec![0.5; 32 * 32] }).unwrap().factor(1e-9), None);
    }
}
