//! A colour chart in a scene, as a camera of known colours sees it: any place in perspective, light that falls off, noise,
//! and things beside the chart.

use crate::sensor::{Draw, Sensor};
use nalgebra::{Matrix3, Vector3};
use rushlight::chart::Chart;
use rushlight::chart::place::{COVER, Place};
use rushlight::frame::Frame;
use rushlight::math::{cos, exp2, sin};

/// A rectangle beside the chart: left, top, width, height in pixels, and its XYZ.
pub type Thing = ([f64; 4], [f64; 3]);

/// A scene.
#[derive(Debug, Clone)]
pub struct Scene {
    /// Pixels across and down.
    pub size: [usize; 2],
    /// Where the chart lies.
    pub place: Place,
    /// XYZ of the chart's patches.
    pub colours: Vec<[f64; 3]>,
    /// What is beside the chart, each over those before it.
    pub things: Vec<Thing>,
    /// Stops of exposure.
    pub stops: f64,
    /// Stops by which the corners of the frame are darker than its middle.
    pub vignette: f64,
    /// Stops by which the light rises from the left edge of the frame to the right one.
    pub slope: f64,
    /// XYZ to the light of the camera's channels.
    pub sees: Matrix3<f64>,
    /// Shine on a part of the chart: a patch and the light that is added to a quarter of it.
    pub shine: Option<(usize, f64)>,
}

impl Scene {
    /// The frame that a sensor gives of it.
    ///
    /// # Panics
    /// For a place that cannot be inverted.
    pub fn seen(&self, chart: &Chart, sensor: &Sensor, seed: u64) -> Frame {
        let inverse = self.place.inverse().expect("a place in perspective");
        let [width, height] = self.size.map(|v| v as f64);
        let board = [-0.5 - 0.2, chart.columns as f64 - 0.5 + 0.2, -0.7, chart.rows as f64 - 0.5 + 0.2];
        sensor.picture(self.size[0], self.size[1], seed, |x, y| {
            let (px, py) = (x as f64 + 0.5, y as f64 + 0.5);
            let [u, v] = inverse.pixel([px, py]);
            let (column, row) = (u.round(), v.round());
            let on = (0.0..chart.columns as f64).contains(&column) && (0.0..chart.rows as f64).contains(&row);
            let mut xyz = if on && (u - column).abs() < COVER / 2.0 && (v - row).abs() < COVER / 2.0 {
                let patch = row as usize * chart.columns + column as usize;
                let mut xyz = self.colours[patch];
                if let Some((_, light)) = self.shine.filter(|s| s.0 == patch && u > column && v > row) {
                    xyz = xyz.map(|c| c + light);
                }
                xyz
            } else if u > board[0] && u < board[1] && v > board[2] && v < board[3] {
                [0.03, 0.031, 0.034]
            } else {
                let inside = |t: &&Thing| {
                    let [left, top, w, h] = t.0;
                    px >= left && px < left + w && py >= top && py < top + h
                };
                // A wall with some texture.
                let wall = 0.16 + 0.02 * sin(px / 23.0) * cos(py / 31.0);
                self.things.iter().rev().find(inside).map_or([0.95 * wall, wall, 1.08 * wall], |t| t.1)
            };
            let (dx, dy) = (2.0 * px / width - 1.0, 2.0 * py / height - 1.0);
            let gain = exp2(self.stops - self.vignette * (dx * dx + dy * dy) / 2.0 + self.slope * px / width);
            xyz = xyz.map(|c| c * gain);
            (self.sees * Vector3::from(xyz)).into()
        })
    }

    /// A scene whose chart is turned, leaned and placed at random.
    pub fn drawn(chart: &Chart, colours: &[[f64; 3]], size: [usize; 2], sees: Matrix3<f64>, draw: &mut Draw) -> Self {
        let between = |draw: &mut Draw, from: f64, to: f64| from + (to - from) * draw.unit();
        let [width, height] = size.map(|v| v as f64);
        let turn = (draw.unit() * 4.0).floor().min(3.0);
        let angle = turn * std::f64::consts::FRAC_PI_2 + between(draw, -0.3, 0.3);
        let (w, h) = (chart.columns as f64, chart.rows as f64);
        let share = between(draw, 0.35, 0.8);
        // As large as its share of the frame's shorter side lets it be.
        let unit = share * height / (w * w + h * h).sqrt() * 1.2;
        let middle = [width * between(draw, 0.42, 0.58), height * between(draw, 0.44, 0.56)];
        let lean = [between(draw, -0.12, 0.12), between(draw, -0.12, 0.12)];
        let corners = rushlight::chart::place::outer(chart.columns, chart.rows).map(|[x, y]| {
            let (x, y) = (x - (w - 1.0) / 2.0, y - (h - 1.0) / 2.0);
            let (a, b) = (x * cos(angle) - y * sin(angle), x * sin(angle) + y * cos(angle));
            let far = 1.0 + (lean[0] * a + lean[1] * b) / w;
            [middle[0] + unit * a / far, middle[1] + unit * b / far]
        });
        let place = Place::of_corners(corners, chart.columns, chart.rows).expect("a convex place");
        let things = (0..(draw.unit() * 9.0) as usize)
            .map(|_| {
                let at = [draw.unit() * width, draw.unit() * height];
                let edge = between(draw, 10.0, 90.0);
                let colour = [between(draw, 0.02, 0.8), between(draw, 0.02, 0.8), between(draw, 0.02, 0.8)];
                ([at[0], at[1], edge, edge * between(draw, 0.7, 1.4)], colour)
            })
            .collect();
        Self {
            size,
            place,
            colours: colours.to_vec(),
            things,
            stops: between(draw, -1.5, 0.8),
            vignette: between(draw, 0.0, 0.8),
            slope: between(draw, -0.3, 0.3),
            sees,
            shine: None,
        }
    }

    /// Whether a found place is the true one: every patch within a fifth of the distance between patches.
    pub fn is_at(&self, chart: &Chart, found: &Place) -> bool {
        (0..chart.patches.len()).all(|i| {
            let at = [(i % chart.columns) as f64, (i / chart.columns) as f64];
            let [a, b] = [self.place.pixel(at), found.pixel(at)];
            let next = self.place.pixel([at[0] + 1.0, at[1]]);
            let length =
                |a: [f64; 2], b: [f64; 2]| ((a[0] - b[0]) * (a[0] - b[0]) + (a[1] - b[1]) * (a[1] - b[1])).sqrt();
            length(a, b) < 0.2 * length(self.place.pixel(at), next)
        })
    }
}
