use super::*;
use crate::transform::function;

const BITS: [u8; 4] = [8, 10, 12, 16];

fn raw(planes: Planes, codes: &[[u16; 3]]) -> Vec<u8> {
    let plane = |p: usize| codes.iter().flat_map(move |c| c[p].to_le_bytes().into_iter().take(planes.bytes()));
    (0..planes.count()).flat_map(plane).collect()
}

/// ITU-R BT.709-6, table 3, items 3.2 to 3.4: colours at full amplitude, in codes of 10 bits.
#[test]
fn the_matrix_gives_back_the_codes_of_the_colours() {
    let planes = Planes::new(10, Coding::Luma { full: false, weights: BT709 });
    for rgb in [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [0.5, 0.5, 0.5], [1.0, 1.0, 1.0]] {
        let luma = 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2];
        let [b, r] = [(rgb[2] - luma) / 1.8556, (rgb[0] - luma) / 1.5748];
        let codes = [64.0 + 876.0 * luma, 512.0 + 896.0 * b, 512.0 + 896.0 * r].map(|v: f64| v.round() as u16);
        let found = planes.samples(&raw(planes, &[codes]), 1);
        for (found, want) in found.into_iter().zip(rgb) {
            // A code of chroma is at most 1.9 of blue.
            assert!((f64::from(found) * 1023.0 - (64.0 + 876.0 * want)).abs() < 1.6, "{found} for {want}");
        }
        // And forth.
        let mut target = vec![0; 6];
        let signal = Planes::new(16, Coding::Rgb);
        let source = raw(signal, &[[rgb[1], rgb[2], rgb[0]].map(|v| (v * 65535.0f64).round() as u16)]);
        let same = Transform::of(function(|rgb| rgb));
        apply(&same, (signal, &source), (planes, &mut target), Range::Full, 1);
        assert_eq!(target, raw(planes, &[codes]), "{rgb:?}");
    }
}

#[test]
fn what_is_left_alone_keeps_its_codes() {
    let same = Transform::of(function(|rgb| rgb));
    for bits in BITS {
        let top = (1u32 << bits) - 1;
        // More pixels than one part, and no whole number of parts; grey and near it, which every matrix holds.
        let pixels = PART + 77;
        let codes: Vec<[u16; 3]> = (0..pixels as u32)
            .map(|i| {
                let y = (top / 4 + i * 31 % (top / 2)) as u16;
                let off = |k: u32| ((1u32 << (bits - 1)) + (i * k % 9) * (top / 255) - 4 * (top / 255)) as u16;
                [y, off(5), off(7)]
            })
            .collect();
        let rgb = Planes::new(bits, Coding::Rgb);
        let mut out = vec![0; rgb.size(pixels).unwrap()];
        apply(&same, (rgb, &raw(rgb, &codes)), (rgb, &mut out), Range::Full, pixels);
        assert!(out == raw(rgb, &codes), "{bits} bits of RGB");
        for (full, weights) in [(false, BT709), (false, BT2020), (true, BT601)] {
            let luma = Planes::new(bits, Coding::Luma { full, weights });
            let mut out = vec![0; luma.size(pixels).unwrap()];
            // As recorded, legal codes come as a legal signal, which is written as one.
            let range = if full { Range::Full } else { Range::Legal };
            apply(&same, (luma, &raw(luma, &codes)), (luma, &mut out), range, pixels);
            let back = raw(luma, &codes);
            if full || bits == 10 {
                assert!(out == back, "{bits} bits of luma, full: {full}");
            }
        }
    }
}

#[test]
fn sixteen_bits_at_once_are_what_they_are_part_by_part() {
    use crate::cube::{Cube, Interpolation};
    let cube = Cube::sample(9, |[r, g, b]| [r * r, (g * (1.0 - r)).sqrt(), 0.2 + 0.7 * b * g]).unwrap();
    let cube = Transform::cube(&cube, Interpolation::Tetrahedral).unwrap();
    let planes = Planes::new(16, Coding::Rgb);
    let pixels = PART + 13;
    let codes: Vec<[u16; 3]> = (0..pixels as u32).map(|i| [11, 5, 29].map(|k| (i * k * 7919 % 65536) as u16)).collect();
    let bytes = raw(planes, &codes);
    let mut whole = vec![0; bytes.len()];
    assert!(at_once(&cube, (planes, &bytes), &mut whole, pixels));
    // Bytes that do not begin where a sample of two may go part by part.
    let mut odd = vec![0; bytes.len() + 1];
    odd[1..].copy_from_slice(&bytes);
    let (mut parts, start) = (vec![0; bytes.len()], usize::from(odd.as_ptr().addr().is_multiple_of(2)));
    if start == 0 {
        odd.rotate_left(1);
    }
    assert!(!at_once(&cube, (planes, &odd[start..start + bytes.len()]), &mut parts, pixels));
    apply(&cube, (planes, &odd[start..start + bytes.len()]), (planes, &mut parts), Range::Full, pixels);
    let samples =
        |raw: &[u8]| raw.as_chunks::<2>().0.iter().map(|b| i32::from(u16::from_le_bytes(*b))).collect::<Vec<_>>();
    let (whole, parts) = (samples(&whole), samples(&parts));
    assert!(whole.iter().zip(&parts).all(|(a, b)| (a - b).abs() <= 1));
    assert!(whole.iter().zip(&parts).filter(|(a, b)| a != b).count() * 50 < whole.len());
    let mut through = vec![0; bytes.len()];
    apply(&cube, (planes, &bytes), (planes, &mut through), Range::Full, pixels);
    assert!(samples(&through) == whole);
}

#[test]
fn a_frame_has_the_codes_that_its_planes_would_have() {
    let same = Transform::of(function(|rgb| rgb));
    let pixels = PART + 5;
    let source = Planes::new(16, Coding::Rgb);
    let codes: Vec<[u16; 3]> = (0..pixels as u32).map(|i| [3, 5, 7].map(|k| (i * k * 97 % 65536) as u16)).collect();
    let bytes = raw(source, &codes);
    for alpha in [false, true] {
        let rgb = source.samples(&bytes, pixels);
        let samples = match alpha {
            false => rgb,
            true => rgb.chunks_exact(3).flat_map(|p| [p[0], p[1], p[2], 0.5]).collect(),
        };
        let info = crate::frame::Info::new(crate::frame::Format::Dpx, crate::frame::Depth::Integer(16));
        let frame = Frame::new(pixels, 1, alpha, samples, info).unwrap();
        for (to, range) in [
            (Planes::new(10, Coding::Luma { full: false, weights: BT709 }), Range::Full),
            (Planes::new(12, Coding::Rgb), Range::Legal),
        ] {
            let mut ours = vec![0; to.size(pixels).unwrap()];
            let mut theirs = ours.clone();
            store(&frame, (to, &mut ours), range);
            apply(&same, (source, &bytes), (to, &mut theirs), range, pixels);
            assert!(ours == theirs, "alpha: {alpha}, {to:?}");
        }
    }
}

#[test]
fn grey_has_three_equal_channels() {
    let grey = Planes::new(10, Coding::Grey);
    assert_eq!(grey.samples(&raw(grey, &[[1023, 0, 0], [0, 0, 0]]), 2), [1.0, 1.0, 1.0, 0.0, 0.0, 0.0]);
}

#[test]
fn alpha_is_kept_at_its_own_depth() {
    let same = Transform::of(function(|rgb| rgb));
    let pixels = PART + 9;
    let alpha = |coding, bits| Planes { bits, coding, alpha: true };
    let luma = Coding::Luma { full: false, weights: BT709 };
    let codes: Vec<[u16; 3]> = (0..pixels as u16).map(|i| [200 + i % 500, 512, 512]).collect();
    let covers: Vec<u16> = (0..pixels as u16).map(|i| i * 7 % 1024).collect();
    let plane = |codes: &[u16]| codes.iter().flat_map(|c| c.to_le_bytes()).collect::<Vec<u8>>();
    let source = [raw(Planes::new(10, luma), &codes), plane(&covers)].concat();
    let mut out = vec![0; source.len()];
    apply(&same, (alpha(luma, 10), &source), (alpha(luma, 10), &mut out), Range::Legal, pixels);
    assert!(out == source, "the same layout");
    // At another depth the nearest, and none where there is none.
    let mut deep = vec![0; pixels * 8];
    apply(&same, (alpha(luma, 10), &source), (alpha(Coding::Rgb, 12), &mut deep), Range::Full, pixels);
    let want: Vec<u16> = covers.iter().map(|c| (f32::from(*c) * 4095.0 / 1023.0).round() as u16).collect();
    assert!(deep[pixels * 6..] == plane(&want));
    let mut opaque = vec![0; pixels * 6];
    apply(&same, (alpha(luma, 10), &source), (Planes::new(12, Coding::Rgb), &mut opaque), Range::Full, pixels);
    assert!(opaque == deep[..pixels * 6]);
    // Full where the source has none.
    let mut full = vec![0; pixels * 4];
    let bytes = raw(Planes::new(10, luma), &codes);
    apply(&same, (Planes::new(10, luma), &bytes), (alpha(luma, 8), &mut full), Range::Legal, pixels);
    assert!(full[pixels * 3..].iter().all(|a| *a == 255));
    // As a frame, and back.
    let samples = alpha(luma, 10).samples(&source, pixels);
    assert!(samples.chunks_exact(4).zip(&covers).all(|(p, c)| p[3] == f32::from(*c) / 1023.0));
    let info = crate::frame::Info::new(crate::frame::Format::Dpx, crate::frame::Depth::Integer(10));
    let frame = Frame::new(pixels, 1, true, samples, info).unwrap();
    store(&frame, (alpha(luma, 10), &mut out), Range::Legal);
    assert!(out[pixels * 6..] == source[pixels * 6..]);
}
