//! An ICC profile of a display: matrix and curves (ICC.1:2022, profile version 4.4).
//!
//! Three colorants adapted to the D50 of the connection space by Bradford, with the matrix of that in `chad`, one curve
//! for all three, and the code points (`cicp`) where H.273 has them: a reader that knows high dynamic range uses these,
//! others by the curve.
//!
//! # Simplifications
//! White is the display's peak, so that a reader without high dynamic range shows PQ and HLG dark but in proportion. The
//! curve of HLG is that of neutrals: its system gamma acts on luminance, which curves cannot say. Black is taken as zero
//! light, as all of the path takes it.

use super::tags::{self, code};
use crate::adaptation::Adaptation;
use crate::chromaticity::Xy;
use crate::display::{Display, Eotf};
use crate::transfer::gamma::{GAMMA22, GAMMA24};
use nalgebra::{Matrix3, Vector3};

/// D50 of the connection space (ICC.1:2022, 7.2.16), X, Y and Z.
const PCS_WHITE: [f64; 3] = [0.9642, 1.0, 0.8249];
/// Entries of a sampled curve: the most that every reader takes.
const ENTRIES: usize = 4096;

/// The profile of a display's full-range signal, with the same bytes every time.
pub fn profile(display: &Display) -> Vec<u8> {
    let settings = display.settings();
    let [x, y, z] = PCS_WHITE;
    let pcs = Xy::new(x / (x + y + z), y / (x + y + z));
    let adapt = Adaptation::Bradford.matrix(settings.gamut.white, pcs);
    let colorants = adapt * settings.gamut.to_xyz();
    let name = description(display);
    let mut elements: Vec<([u8; 4], Vec<u8>)> = vec![
        (*b"desc", text(&name)),
        (*b"cprt", text("No copyright, use freely")),
        (*b"wtpt", xyz(Vector3::from(PCS_WHITE))),
        (*b"chad", matrix(&adapt)),
        (*b"rXYZ", xyz(colorants.column(0).into())),
        (*b"gXYZ", xyz(colorants.column(1).into())),
        (*b"bXYZ", xyz(colorants.column(2).into())),
        (*b"rTRC", curve(display)),
        (*b"gTRC", Vec::new()),
        (*b"bTRC", Vec::new()),
    ];
    let codes = tags::codes(display);
    if codes.primaries != code::UNSPECIFIED && codes.transfer != code::UNSPECIFIED {
        let mut cicp = element(b"cicp");
        cicp.extend([codes.primaries, codes.transfer, 0, 1]);
        elements.push((*b"cicp", cicp));
    }
    assemble(&elements)
}

/// What the display is, in words.
fn description(display: &Display) -> String {
    let codes = tags::codes(display);
    let gamut = match codes.primaries {
        code::BT709 => "BT.709",
        code::BT2020 => "BT.2020",
        code::P3_D65 => "P3-D65",
        code::P3_DCI => "P3-DCI",
        _ => "display",
    };
    format!("{gamut} primaries, {}", display.settings().eotf.name())
}

fn curve(display: &Display) -> Vec<u8> {
    let settings = display.settings();
    // ICC.1:2022, table 68: type 0 is a power, type 3 that of IEC 61966-2-1.
    let parametric = |kind: u16, numbers: &[f64]| {
        let mut bytes = element(b"para");
        bytes.extend(kind.to_be_bytes());
        bytes.extend([0, 0]);
        numbers.iter().for_each(|v| bytes.extend(fixed(*v)));
        bytes
    };
    match settings.eotf {
        Eotf::Srgb => parametric(3, &[2.4, 1.0 / 1.055, 0.055 / 1.055, 1.0 / 12.92, 0.04045]),
        Eotf::Bt1886 if settings.black == 0.0 => parametric(0, &[2.4]),
        Eotf::Gamma(gamma) if gamma == GAMMA22 => parametric(0, &[2.2]),
        Eotf::Gamma(gamma) if gamma == GAMMA24 => parametric(0, &[2.4]),
        Eotf::Gamma(_) => parametric(0, &[2.6]),
        Eotf::Bt1886 | Eotf::Pq | Eotf::Hlg => {
            let mut bytes = element(b"curv");
            bytes.extend((ENTRIES as u32).to_be_bytes());
            for i in 0..ENTRIES {
                let signal = i as f64 / (ENTRIES - 1) as f64;
                let light = display.decode([signal; 3])[0] / display.peak_ratio();
                bytes.extend(((light.clamp(0.0, 1.0) * 65535.0).round() as u16).to_be_bytes());
            }
            bytes
        }
    }
}

/// The head of an element: its signature, and four reserved bytes.
fn element(kind: &[u8; 4]) -> Vec<u8> {
    let mut bytes = kind.to_vec();
    bytes.extend([0; 4]);
    bytes
}

/// s15Fixed16Number.
fn fixed(value: f64) -> [u8; 4] {
    ((value * 65536.0).round() as i32).to_be_bytes()
}

fn xyz(value: Vector3<f64>) -> Vec<u8> {
    let mut bytes = element(b"XYZ ");
    value.iter().for_each(|v| bytes.extend(fixed(*v)));
    bytes
}

/// Row by row.
fn matrix(value: &Matrix3<f64>) -> Vec<u8> {
    let mut bytes = element(b"sf32");
    value.transpose().iter().for_each(|v| bytes.extend(fixed(*v)));
    bytes
}

/// multiLocalizedUnicodeType, in English.
fn text(text: &str) -> Vec<u8> {
    let words: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
    let mut bytes = element(b"mluc");
    for number in [1, 12] {
        bytes.extend(u32::to_be_bytes(number));
    }
    bytes.extend(*b"enUS");
    for number in [words.len() as u32, 28] {
        bytes.extend(number.to_be_bytes());
    }
    bytes.extend(words);
    bytes
}

/// Header, table and elements; an empty element shares the bytes of the one before it.
fn assemble(elements: &[([u8; 4], Vec<u8>)]) -> Vec<u8> {
    const HEADER: usize = 128;
    let mut table = (elements.len() as u32).to_be_bytes().to_vec();
    let mut data = Vec::new();
    let start = HEADER + 4 + 12 * elements.len();
    let (mut at, mut length) = (0, 0);
    for (signature, bytes) in elements {
        if !bytes.is_empty() {
            (at, length) = (start + data.len(), bytes.len());
            data.extend(bytes);
            data.resize(data.len().next_multiple_of(4), 0);
        }
        table.extend(signature);
        table.extend((at as u32).to_be_bytes());
        table.extend((length as u32).to_be_bytes());
    }
    // ICC.1:2022, table 17; fields left at zero are unset: no maker, and no date that would change the bytes.
    let mut file = vec![0; HEADER];
    file[0..4].copy_from_slice(&((start + data.len()) as u32).to_be_bytes());
    file[8..12].copy_from_slice(&[4, 0x40, 0, 0]);
    file[12..24].copy_from_slice(b"mntrRGB XYZ ");
    // A date that is one: the edition of the specification.
    for (i, number) in [2022u16, 5, 1, 0, 0, 0].into_iter().enumerate() {
        file[24 + 2 * i..26 + 2 * i].copy_from_slice(&number.to_be_bytes());
    }
    file[36..40].copy_from_slice(b"acsp");
    // Media-relative colorimetric.
    file[67] = 1;
    for (i, v) in PCS_WHITE.into_iter().enumerate() {
        file[68 + 4 * i..72 + 4 * i].copy_from_slice(&fixed(v));
    }
    file.extend(table);
    file.extend(data);
    file
}
