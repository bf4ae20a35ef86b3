//! The 1D table: one curve per channel, with straight lines between its entries.

use crate::invalid::Refusals;

/// Entries that a 1D table may have (Cube LUT Specification 1.0, 2013).
pub const ENTRIES: std::ops::RangeInclusive<usize> = 2..=65536;

/// Three curves of equally many, evenly spaced entries. Domain: clamped to [`domain`](Self::domain), NaN goes to its low
/// end; range: what the entries hold.
#[derive(Debug, Clone, PartialEq)]
pub struct Curves {
    domain: [[f64; 3]; 2],
    entries: Vec<[f64; 3]>,
}

impl Curves {
    /// Curves from their entries: entry i holds, for each channel, the output at the input i / (n - 1) of the way from
    /// `domain[0]` to `domain[1]`.
    ///
    /// # Errors
    /// A count of entries out of [`ENTRIES`], a domain that is not finite and ascending, entries that are not finite.
    pub fn new(domain: [[f64; 3]; 2], entries: Vec<[f64; 3]>) -> Result<Self, Refusals> {
        let mut refusals = Refusals::new();
        if !ENTRIES.contains(&entries.len()) {
            let (least, most) = (ENTRIES.start(), ENTRIES.end());
            refusals.push("size", format!("{} entries: it must lie between {least} and {most}", entries.len()));
        }
        super::check_domain(&domain, &mut refusals);
        if let Some(at) = entries.iter().position(|n| !n.iter().all(|v| v.is_finite())) {
            refusals.push("entries", format!("entry {at} is not finite"));
        }
        refusals.finish(|| Self { domain, entries })
    }

    /// Samples one function for all three channels at `size` points over 0..1.
    ///
    /// # Errors
    /// As [`new`](Self::new).
    pub fn sample(size: usize, f: impl Fn(f64) -> f64) -> Result<Self, Refusals> {
        let last = size.max(2) as f64 - 1.0;
        let count = if ENTRIES.contains(&size) { size } else { 0 };
        Self::new([[0.0; 3], [1.0; 3]], (0..count).map(|i| [f(i as f64 / last); 3]).collect())
    }

    /// Entries of each curve.
    pub fn size(&self) -> usize {
        self.entries.len()
    }

    /// The lower and the upper bounds of the input.
    pub const fn domain(&self) -> [[f64; 3]; 2] {
        self.domain
    }

    /// The entries: red, green and blue curve side by side.
    pub fn entries(&self) -> &[[f64; 3]] {
        &self.entries
    }

    /// The input of entry `i`, in each channel.
    pub fn input(&self, i: usize) -> [f64; 3] {
        let t = i as f64 / (self.entries.len() - 1) as f64;
        std::array::from_fn(|c| self.domain[0][c] + t * (self.domain[1][c] - self.domain[0][c]))
    }

    /// The output for `rgb`, clamped to the domain; NaN goes to the low end.
    pub fn at(&self, rgb: [f64; 3]) -> [f64; 3] {
        let last = self.entries.len() - 1;
        std::array::from_fn(|c| {
            let (low, high) = (self.domain[0][c], self.domain[1][c]);
            let place = (rgb[c] - low) / (high - low) * last as f64;
            // `max` before `min` sends NaN to the low end.
            let place = place.max(0.0).min(last as f64);
            let step = (place as usize).min(last - 1);
            let t = place - step as f64;
            (1.0 - t) * self.entries[step][c] + t * self.entries[step + 1][c]
        })
    }

    /// Whether every curve rises from each entry to the next.
    pub fn rising(&self) -> bool {
        self.entries.windows(2).all(|w| (0..3).all(|c| w[0][c] < w[1][c]))
    }

    /// The input of which the curves make `rgb`, where they are [`rising`](Self::rising); beyond their ends, the ends of
    /// the domain; NaN goes to the low end.
    pub fn inverse(&self, rgb: [f64; 3]) -> [f64; 3] {
        let last = self.entries.len() - 1;
        std::array::from_fn(|c| {
            // The first entry above the value ends the line that holds it.
            let step = self.entries.partition_point(|e| e[c] <= rgb[c]).clamp(1, last) - 1;
            let (from, to) = (self.entries[step][c], self.entries[step + 1][c]);
            let t = (rgb[c] - from) / (to - from);
            let t = if t > 0.0 { t.min(1.0) } else { 0.0 };
            self.domain[0][c] + (step as f64 + t) / last as f64 * (self.domain[1][c] - self.domain[0][c])
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn entries_are_given_exactly_and_lines_run_between() {
        let curves = Curves::new([[0.0, -1.0, 0.0], [1.0, 1.0, 4.0]], vec![[0.0, 5.0, 1.0], [0.5, 7.0, 2.0], [2.0; 3]]);
        let curves = curves.unwrap();
        for i in 0..3 {
            assert_eq!(curves.at(curves.input(i)), curves.entries()[i]);
        }
        assert_eq!(curves.at([0.25, -0.5, 1.0]), [0.25, 6.0, 1.5]);
        assert_eq!(curves.at([0.75, 0.5, 3.0]), [1.25, 4.5, 2.0]);
    }

    #[test]
    fn the_inverse_leads_back() {
        let curves = Curves::sample(9, |v| v * (0.2 + 0.8 * v)).unwrap();
        assert!(curves.rising() && !Curves::sample(3, |_| 0.5).unwrap().rising());
        for i in 0..=200 {
            let v = [f64::from(i) / 200.0, 1.0 - f64::from(i) / 200.0, f64::from(i * i) / 40000.0];
            let back = curves.inverse(curves.at(v));
            assert!((0..3).all(|c| (back[c] - v[c]).abs() < 1e-14), "{v:?} {back:?}");
        }
        assert_eq!(curves.inverse([-1.0, 2.0, f64::NAN]), [0.0, 1.0, 0.0]);
    }

    #[test]
    fn outside_and_nan_are_clamped() {
        let curves = Curves::sample(5, |v| v).unwrap();
        assert_eq!(curves.at([-1.0, f64::NAN, f64::INFINITY]), [0.0, 0.0, 1.0]);
    }

    #[test]
    fn what_is_no_curve_is_refused() {
        let unit = [[0.0; 3], [1.0; 3]];
        assert_eq!(Curves::new(unit, vec![[0.0; 3]]).unwrap_err()[0].key, "size");
        assert_eq!(Curves::new(unit, vec![[0.0; 3]; 65537]).unwrap_err()[0].key, "size");
        assert_eq!(Curves::new([[1.0; 3]; 2], vec![[0.0; 3]; 2]).unwrap_err()[0].key, "domain");
        assert_eq!(Curves::new(unit, vec![[f64::INFINITY; 3]; 2]).unwrap_err()[0].key, "entries");
        assert!(Curves::sample(1, |v| v).is_err());
        assert_eq!(Curves::sample(65536, |v| v).unwrap().size(), 65536);
    }
}
