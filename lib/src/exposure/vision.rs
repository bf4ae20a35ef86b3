//! How a colour looks to an eye that lacks one kind of cone.
//!
//! Source: Machado, Oliveira and Fernandes, "A Physiologically-based Model for Simulation of Color Vision Deficiency",
//! IEEE Transactions on Visualization and Computer Graphics 15 (6), 2009: the matrices of severity 1.0, over linear RGB of
//! the primaries of sRGB, which are those of BT.709.

use crate::difference::lab;
use crate::gamut::BT709;
use nalgebra::Vector3;

/// An eye.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Vision {
    /// All three kinds of cone.
    Normal,
    /// Without the long-wave cones.
    Protan,
    /// Without the medium-wave cones.
    Deutan,
    /// Without the short-wave cones.
    Tritan,
}

/// The paper's matrices at severity 1.0, rows giving red, green and blue.
mod matrices {
    pub(super) const PROTAN: [[f64; 3]; 3] = [
        [0.152286, 1.052583, -0.204868], //
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ];
    pub(super) const DEUTAN: [[f64; 3]; 3] = [
        [0.367322, 0.860646, -0.227968], //
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ];
    pub(super) const TRITAN: [[f64; 3]; 3] = [
        [1.255528, -0.076749, -0.178779], //
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ];
}

rushlight_colour::named!(Vision, "vision", { Normal => "normal", Protan => "protan", Deutan => "deutan", Tritan => "tritan" });

impl Vision {
    /// What linear BT.709 light, 0 to 1 in each channel, looks like; within 0 to 1.
    pub fn see(self, rgb: [f64; 3]) -> [f64; 3] {
        let matrix = match self {
            Self::Normal => return rgb,
            Self::Protan => matrices::PROTAN,
            Self::Deutan => matrices::DEUTAN,
            Self::Tritan => matrices::TRITAN,
        };
        matrix.map(|row| (row[0] * rgb[0] + row[1] * rgb[1] + row[2] * rgb[2]).clamp(0.0, 1.0))
    }

    /// CIELAB under D65 of what linear BT.709 light looks like; L* of white is 100.
    pub fn place(self, rgb: [f64; 3]) -> [f64; 3] {
        let to_xyz = BT709.to_xyz();
        let white = to_xyz * Vector3::repeat(1.0);
        lab(to_xyz * Vector3::from(self.see(rgb)), white).0
    }
}
