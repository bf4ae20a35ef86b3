//! Where a chart lies in a frame: the perspective from its own plane to pixels.
//!
//! The plane of a chart is measured in patches: the middle of the first patch is (0, 0), that of the next in its row (1, 0),
//! that of the first in the next row (0, 1).

use nalgebra::{DMatrix, Matrix3, Vector3};

/// What a patch covers of the distance from one to the next, in the classic chart: from memory.
pub const COVER: f64 = 0.86;

/// A perspective (homography) from the plane of a chart to pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place(Matrix3<f64>);

impl Place {
    /// The perspective that takes points of the plane to pixels with the least squares of their distances, in its linear
    /// form; at least four points, no three on one line. None where they fix none.
    pub fn fit(points: &[([f64; 2], [f64; 2])]) -> Option<Self> {
        if points.len() < 4 {
            return None;
        }
        // Both sides about 0 and of size 1, as the linear form needs (Hartley 1997).
        type Pair = ([f64; 2], [f64; 2]);
        let normal = |of: &dyn Fn(&Pair) -> [f64; 2]| {
            let n = points.len() as f64;
            let mean = [0, 1].map(|i| points.iter().map(|p| of(p)[i]).sum::<f64>() / n);
            let size = points.iter().map(|p| {
                let [x, y] = of(p);
                ((x - mean[0]) * (x - mean[0]) + (y - mean[1]) * (y - mean[1])).sqrt()
            });
            let scale = std::f64::consts::SQRT_2 / (size.sum::<f64>() / n).max(1e-300);
            Matrix3::new(scale, 0.0, -scale * mean[0], 0.0, scale, -scale * mean[1], 0.0, 0.0, 1.0)
        };
        let (from, to) = (normal(&|p| p.0), normal(&|p| p.1));
        let mut rows = DMatrix::zeros((2 * points.len()).max(9), 9);
        for (i, (a, b)) in points.iter().enumerate() {
            let (a, b) = (from * Vector3::new(a[0], a[1], 1.0), to * Vector3::new(b[0], b[1], 1.0));
            let [x, y, u, v] = [a.x, a.y, b.x, b.y];
            rows.row_mut(2 * i).copy_from_slice(&[x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y, -u]);
            rows.row_mut(2 * i + 1).copy_from_slice(&[0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y, -v]);
        }
        let svd = rows.svd(false, true);
        let (least, _) = svd.singular_values.argmin();
        let found = svd.v_t?;
        let h = Matrix3::from_row_slice(found.row(least).iter().copied().collect::<Vec<_>>().as_slice());
        let place = to.try_inverse()? * h * from;
        // One sign for all of the chart: a point behind the camera is no point of it.
        let place = place / place[(2, 2)];
        let before = points.iter().all(|(a, _)| (place * Vector3::new(a[0], a[1], 1.0)).z > 0.0);
        (before && place.iter().all(|v| v.is_finite()) && place.determinant().abs() > 1e-12).then_some(Self(place))
    }

    /// From the outer corners of the four corner patches, clockwise from that of the first patch, for a chart of so many
    /// columns and rows.
    pub fn of_corners(corners: [[f64; 2]; 4], columns: usize, rows: usize) -> Option<Self> {
        let turn = |i: usize| {
            let [a, b, c] = [i, (i + 1) % 4, (i + 2) % 4].map(|k| corners[k]);
            (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
        };
        // Clockwise and convex: y grows downwards.
        if (0..4).any(|i| turn(i) <= 0.0) {
            return None;
        }
        let plane = outer(columns, rows);
        Self::fit(&[0, 1, 2, 3].map(|i| (plane[i], corners[i])))
    }

    /// A point of the plane in pixels.
    pub fn pixel(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let p = self.0 * Vector3::new(x, y, 1.0);
        [p.x / p.z, p.y / p.z]
    }

    /// Pixels to the plane.
    pub fn inverse(&self) -> Option<Self> {
        self.0.try_inverse().map(Self)
    }

    /// The same chart seen from its plane turned or moved: first `plane`, then this.
    #[must_use]
    pub fn after(&self, plane: Matrix3<f64>) -> Self {
        Self(self.0 * plane)
    }

    /// The same place in a frame that is `scale` times as large. A pixel's middle is its number plus one half.
    #[must_use]
    pub fn scaled(&self, scale: f64) -> Self {
        Self(Matrix3::new(scale, 0.0, 0.0, 0.0, scale, 0.0, 0.0, 0.0, 1.0) * self.0)
    }

    /// The corners of a square about a patch, `half` of the distance between patches to each side.
    pub fn square(&self, [x, y]: [f64; 2], half: f64) -> [[f64; 2]; 4] {
        [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]].map(|[i, j]| self.pixel([x + i * half, y + j * half]))
    }
}

/// The outer corners of the corner patches in the plane, clockwise from the first patch's.
pub fn outer(columns: usize, rows: usize) -> [[f64; 2]; 4] {
    let (right, down, half) = (columns as f64 - 1.0, rows as f64 - 1.0, COVER / 2.0);
    [[-half, -half], [right + half, -half], [right + half, down + half], [-half, down + half]]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners_come_back_and_points_between_lie_in_perspective() {
        let corners = [[100.0, 80.0], [520.0, 110.0], [480.0, 390.0], [130.0, 340.0]];
        let place = Place::of_corners(corners, 6, 4).unwrap();
        for (plane, corner) in outer(6, 4).into_iter().zip(corners) {
            let at = place.pixel(plane);
            assert!((at[0] - corner[0]).abs() < 1e-9 && (at[1] - corner[1]).abs() < 1e-9, "{at:?}");
            let back = place.inverse().unwrap().pixel(corner);
            assert!((back[0] - plane[0]).abs() < 1e-9 && (back[1] - plane[1]).abs() < 1e-9);
        }
        // The diagonals of the plane meet where those of the picture do.
        let middle = place.pixel([2.5, 1.5]);
        let on = |a: [f64; 2], b: [f64; 2]| (b[0] - a[0]) * (middle[1] - a[1]) - (b[1] - a[1]) * (middle[0] - a[0]);
        assert!(on(corners[0], corners[2]).abs() < 1e-6 && on(corners[1], corners[3]).abs() < 1e-6);
        // The other way round, and crossed.
        assert!(Place::of_corners([corners[0], corners[3], corners[2], corners[1]], 6, 4).is_none());
        assert!(Place::of_corners([corners[0], corners[2], corners[1], corners[3]], 6, 4).is_none());
    }
}
