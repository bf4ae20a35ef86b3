use super::*;
use proptest::prelude::*;

/// A cube of independent nodes over `low..high`: the steepest that the range of its nodes allows.
fn rough(size: usize, domain: [[f64; 3]; 2], nodes: std::ops::Range<f64>) -> Cube {
    let mut state = 88172645463325252u64;
    let mut next = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        nodes.start + (state >> 11) as f64 / (1u64 << 53) as f64 * (nodes.end - nodes.start)
    };
    Cube::new(size, domain, (0..size * size * size).map(|_| [next(), next(), next()]).collect()).unwrap()
}

const UNIT: [[f64; 3]; 2] = [[0.0; 3], [1.0; 3]];
const WIDE: [[f64; 3]; 2] = [[-0.1, 0.0, 0.25], [1.1, 4.0, 0.75]];

fn each(cube: &Cube, mut check: impl FnMut(&FastCube, Interpolation)) {
    for interpolation in Interpolation::ALL {
        for path in Path::available() {
            check(&FastCube::on_path(cube, interpolation, *path).unwrap(), interpolation);
        }
    }
}

/// The documented bound: nodes and the sum round in f32; near a node the cell below or above may be taken. A domain whose
/// bounds f32 does not hold shifts the input by up to half a last place of the bound (`shift`, in grid steps).
fn bound(cube: &Cube) -> f64 {
    let most = cube.nodes.iter().flatten().fold(0.0f64, |m, v| m.max(v.abs()));
    let last = (cube.size - 1) as f64;
    let [low, high] = cube.domain;
    let shift =
        (0..3)
            .map(|i| {
                if low[i] == 0.0 && high[i] == 1.0 { 0.0 } else { low[i].abs().max(high[i].abs()) / (high[i] - low[i]) }
            })
            .fold(0.0, f64::max);
    // A step in each of three channels changes the value by at most twice `most`.
    most * (12.0 + 4.0 * last + 3.0 * 2.0 * 2.0 * last * shift) / f64::from(1u32 << 24)
}

fn rgb_f32(fast: &FastCube, pixels: &[[f32; 3]]) -> Vec<[f32; 3]> {
    let mut flat = pixels.to_vec();
    fast.rgb_in_place(flat.as_flattened_mut()).unwrap();
    flat
}

/// Values in and around the domain, and what is no ordinary number.
fn component() -> impl Strategy<Value = f32> {
    prop_oneof![
        8 => -0.3f32..1.3,
        2 => (0u32..=64).prop_map(|k| k as f32 / 64.0),
        1 => (0u32..=16, -2i32..=2).prop_map(|(k, d)| f32::from_bits((k as f32 / 16.0).to_bits().saturating_add_signed(d))),
        1 => -1e30f32..1e30,
        1 => prop::sample::select(vec![f32::NAN, f32::INFINITY, f32::NEG_INFINITY, -0.0, f32::MIN_POSITIVE, 1e-42, f32::MAX]),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn floats_stay_within_the_bound_of_the_reference(
        pixels in prop::collection::vec([component(), component(), component()], 1..300),
        size in prop::sample::select(vec![2usize, 3, 17, 33, 40]),
        wide: bool,
    ) {
        let cube = rough(size, if wide { WIDE } else { UNIT }, -0.5..2.0);
        let bound = bound(&cube);
        each(&cube, |fast, interpolation| {
            for (pixel, got) in pixels.iter().zip(rgb_f32(fast, &pixels)) {
                let exact = cube.at(pixel.map(f64::from), interpolation);
                for c in 0..3 {
                    let off = (f64::from(got[c]) - exact[c]).abs();
                    assert!(off <= bound, "{:?} {interpolation:?} {pixel:?}: {off:e} > {bound:e}", fast.path());
                }
            }
        });
    }

    #[test]
    fn sixteen_bits_are_rounded_within_0_6(
        codes in prop::collection::vec(any::<[u16; 3]>(), 1..300),
        size in prop::sample::select(vec![2usize, 17, 33, 65]),
    ) {
        let cube = rough(size, UNIT, 0.0..1.0);
        each(&cube, |fast, interpolation| {
            let mut flat = codes.clone();
            fast.rgb_in_place(flat.as_flattened_mut()).unwrap();
            for (code, got) in codes.iter().zip(&flat) {
                let exact = cube.at(code.map(|v| f64::from(v) / 65535.0), interpolation);
                for c in 0..3 {
                    let off = (f64::from(got[c]) - exact[c] * 65535.0).abs();
                    assert!(off <= 0.6, "{:?} {interpolation:?} {code:?}: {off}", fast.path());
                }
            }
        });
    }

    #[test]
    fn eight_bits_are_rounded_within_0_6(codes in prop::collection::vec(any::<[u8; 4]>(), 1..300)) {
        // Nodes beyond 0..1 too: the output is clamped.
        let cube = rough(17, UNIT, -0.4..1.4);
        each(&cube, |fast, interpolation| {
            let mut flat = codes.clone();
            fast.rgba_in_place(flat.as_flattened_mut()).unwrap();
            for (code, got) in codes.iter().zip(&flat) {
                let exact = cube.at([0, 1, 2].map(|c| f64::from(code[c]) / 255.0), interpolation);
                for c in 0..3 {
                    let off = (f64::from(got[c]) - exact[c].clamp(0.0, 1.0) * 255.0).abs();
                    assert!(off <= 0.501, "{:?} {interpolation:?} {code:?}: {off}", fast.path());
                }
                assert_eq!(code[3], got[3]);
            }
        });
    }

    #[test]
    fn every_layout_gives_a_pixel_the_same_value(
        pixels in prop::collection::vec([component(), component(), component()], 1..600),
        offset in 0usize..20,
    ) {
        let cube = rough(17, UNIT, 0.0..1.0);
        each(&cube, |fast, _| {
            let expected: Vec<[f32; 3]> = pixels.iter().map(|p| fast.at(*p)).collect();
            assert_eq!(rgb_f32(fast, &pixels), expected);

            // Planes that start anywhere, so that heads and tails of every length are met.
            let plane = |c: usize| [vec![0.5; offset], pixels.iter().map(|p| p[c]).collect()].concat();
            let source = [0, 1, 2].map(plane);
            let mut target = source.clone().map(|p| vec![9.0f32; p.len()]);
            let [r, g, b] = &mut target;
            let parts = [&source[0][offset..], &source[1][offset..], &source[2][offset..]];
            fast.planar(parts, [&mut r[offset..], &mut g[offset..], &mut b[offset..]]).unwrap();
            let mut within = source.clone();
            let [r, g, b] = &mut within;
            fast.planar_in_place([&mut r[offset..], &mut g[offset..], &mut b[offset..]]).unwrap();
            for (i, value) in expected.iter().enumerate() {
                assert_eq!([0, 1, 2].map(|c| target[c][offset + i]), *value);
                assert_eq!([0, 1, 2].map(|c| within[c][offset + i]), *value);
            }
            assert!(target.iter().all(|p| p[..offset].iter().all(|v| *v == 9.0)), "written before the frame");

            let apart = [vec![[0.5; 3]; offset], pixels.clone()].concat();
            let mut out = vec![[9.0f32; 3]; offset + pixels.len() + 1];
            let end = offset + pixels.len();
            fast.rgb(apart[offset..].as_flattened(), out[offset..end].as_flattened_mut()).unwrap();
            assert_eq!(out[offset..end], expected);
            assert!(out[..offset].iter().chain(&out[end..]).all(|p| *p == [9.0; 3]), "written beside the frame");

            let with_alpha: Vec<[f32; 4]> = pixels.iter().map(|p| [p[0], p[1], p[2], f32::NAN]).collect();
            let mut out = vec![[0.0f32; 4]; pixels.len()];
            fast.rgba(with_alpha.as_flattened(), out.as_flattened_mut()).unwrap();
            for (got, value) in out.iter().zip(&expected) {
                assert_eq!(got[..3], value[..]);
                assert_eq!(got[3].to_bits(), f32::NAN.to_bits());
            }
            let mut within = with_alpha;
            fast.rgba_in_place(within.as_flattened_mut()).unwrap();
            let bits = |pixels: &[[f32; 4]]| pixels.iter().map(|p| p.map(f32::to_bits)).collect::<Vec<_>>();
            assert_eq!(bits(&within), bits(&out));
        });
    }

    #[test]
    fn integers_agree_between_layouts(
        wide in prop::collection::vec(any::<[u16; 3]>(), 1..600),
        narrow in prop::collection::vec(any::<[u8; 3]>(), 1..600),
        domain in prop::sample::select(vec![UNIT, WIDE, [[0.0; 3], [0.5; 3]], [[0.2, 0.0, -1.0], [1.0, 1.0, 7.0]]]),
        nodes in prop::sample::select(vec![0.0..1.0, -0.5..1.5, -32767.0..32767.0, -4e4..4e4, -1e37..1e37]),
    ) {
        each(&rough(9, domain, nodes), |fast, _| {
            integers_agree(fast, &wide);
            integers_agree(fast, &narrow);
        });
    }
}

/// Planes, which may be taken as they lie, against interleaved pixels, which never are.
fn integers_agree<S: Sample + PartialEq + std::fmt::Debug>(fast: &FastCube, pixels: &[[S; 3]]) {
    let mut interleaved = vec![[S::default(); 3]; pixels.len()];
    fast.rgb(pixels.as_flattened(), interleaved.as_flattened_mut()).unwrap();
    let planes = [0, 1, 2].map(|c| pixels.iter().map(|p| p[c]).collect::<Vec<S>>());
    let mut target = planes.clone();
    let [r, g, b] = &mut target;
    fast.planar([&planes[0], &planes[1], &planes[2]], [r, g, b]).unwrap();
    let mut within = planes;
    let [r, g, b] = &mut within;
    fast.planar_in_place([r, g, b]).unwrap();
    for (i, pixel) in interleaved.iter().enumerate() {
        assert_eq!(*pixel, [0, 1, 2].map(|c| target[c][i]), "{:?} {i}", fast.path());
        assert_eq!(*pixel, [0, 1, 2].map(|c| within[c][i]), "{:?} {i}", fast.path());
    }
}

#[test]
fn nodes_are_given_to_the_last_bit_of_f32() {
    let cube = rough(33, UNIT, -1.0..1.0);
    each(&cube, |fast, interpolation| {
        for b in [0, 1, 16, 31, 32] {
            for g in 0..33 {
                for r in 0..33 {
                    let input = cube.input(r, g, b).map(|v| v as f32);
                    assert_eq!(fast.at(input)[0], cube.node(r, g, b)[0] as f32, "{interpolation:?} {r} {g} {b}");
                }
            }
        }
    });
}

#[test]
fn what_is_outside_goes_to_the_ends_and_nan_to_the_low_end() {
    let cube = Cube::new(2, WIDE, rough(2, WIDE, 0.0..1.0).nodes).unwrap();
    each(&cube, |fast, _| {
        let node = |r, g, b| cube.node(r, g, b).map(|v| v as f32);
        assert_eq!(fast.at([f32::NAN; 3]), node(0, 0, 0));
        assert_eq!(fast.at([f32::NEG_INFINITY, f32::INFINITY, f32::NAN]), node(0, 1, 0));
        assert_eq!(fast.at([f32::INFINITY; 3]), node(1, 1, 1));
        assert_eq!(fast.at([-3.0, 1e9, 0.0]), node(0, 1, 0));
    });
}

#[test]
fn the_largest_cube_is_reached_to_its_corners() {
    let cube = Cube::sample(256, |[r, g, b]| [b, r, g]).unwrap();
    each(&cube, |fast, interpolation| {
        for corner in 0..8 {
            let [r, g, b] = [0, 1, 2].map(|c| (corner >> c & 1) as f32);
            assert_eq!(fast.at([r, g, b]), [b, r, g], "{interpolation:?}");
        }
        let [r, g, b] = [0.9981f32, 0.9999, 0.99999];
        let got = fast.at([r, g, b]);
        for (got, exact) in got.into_iter().zip([b, r, g]) {
            assert!((got - exact).abs() <= 2.0 * f32::EPSILON, "{interpolation:?}: {got} {exact}");
        }
    });
}

#[test]
fn the_thread_count_does_not_change_a_pixel() {
    let cube = rough(17, UNIT, 0.0..1.0);
    let fast = FastCube::new(&cube, Interpolation::Tetrahedral).unwrap();
    let source: Vec<f32> = (0..3 * (3 * CHUNK + 77)).map(|i| (i as f32 * 0.618_034).fract()).collect();
    let run = |threads: usize| {
        let mut target = vec![0.0; source.len()];
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| fast.rgb(&source, &mut target)).unwrap();
        target
    };
    let one = run(1);
    assert_eq!(one, run(2));
    assert_eq!(one, run(5));
    for pixel in [0, CHUNK - 1, CHUNK, 3 * CHUNK + 76] {
        let at = 3 * pixel;
        assert_eq!(one[at..at + 3], fast.at([source[at], source[at + 1], source[at + 2]]));
    }
}

/// Frames that are written past the caches in part: each pixel as in place, and nothing beside them.
#[test]
fn a_large_frame_is_as_any_other_wherever_it_starts() {
    const PIXELS: usize = frame::LARGE / size_of::<[f32; 3]>() + 1234;
    let cube = rough(17, UNIT, 0.0..1.0);
    let source = [3, 5, 7].map(|step| (0..PIXELS).map(|i| (i * step % 1021) as f32 / 1020.0).collect::<Vec<f32>>());
    each(&cube, |fast, _| {
        let mut expected = source.clone();
        let [r, g, b] = &mut expected;
        fast.planar_in_place([r, g, b]).unwrap();
        for starts in [[0, 0, 0], [1, 1, 1], [4, 4, 4], [0, 5, 16], [16, 0, 5]] {
            let mut target = starts.map(|start| vec![9.0f32; start + PIXELS + 40]);
            let mut frame = 0..3;
            let parts = target.each_mut().map(|plane| {
                let start = starts[frame.next().unwrap()];
                &mut plane[start..start + PIXELS]
            });
            fast.planar(source.each_ref().map(|p| &p[..]), parts).unwrap();
            for c in 0..3 {
                let (before, rest) = target[c].split_at(starts[c]);
                let (frame, after) = rest.split_at(PIXELS);
                assert!(frame == expected[c], "{:?} {starts:?} {c}", fast.path());
                assert!(before.iter().chain(after).all(|v| *v == 9.0), "{:?} {starts:?} {c}", fast.path());
            }
        }
    });
}

#[test]
fn what_is_no_frame_or_no_cube_for_f32_is_refused() {
    let fast = FastCube::new(&rough(2, UNIT, 0.0..1.0), Interpolation::Tetrahedral).unwrap();
    assert_eq!(fast.rgb_in_place(&mut [0.0f32; 7]), Err(FrameError::Partial));
    assert_eq!(fast.rgba(&[0u8; 8], &mut [0u8; 4]), Err(FrameError::Lengths));
    assert_eq!(fast.rgba_in_place(&mut [0u16; 6]), Err(FrameError::Partial));
    let (mut r, mut g, mut b) = ([0.0f32; 4], [0.0f32; 4], [0.0f32; 3]);
    assert_eq!(fast.planar_in_place([&mut r[..], &mut g, &mut b]), Err(FrameError::Lengths));
    assert_eq!(fast.rgb::<u8>(&[], &mut []), Ok(()));

    let refused = |domain, nodes| {
        let cube = Cube::new(2, domain, vec![nodes; 8]).unwrap();
        FastCube::new(&cube, Interpolation::Tetrahedral).unwrap_err()[0].key.clone()
    };
    assert_eq!(refused(UNIT, [1e38, 0.0, 0.0]), "nodes");
    assert_eq!(refused([[0.0; 3], [1e300; 3]], [0.0; 3]), "domain");
    assert_eq!(refused([[0.0; 3], [1e-60; 3]], [0.0; 3]), "domain");
    assert_eq!(refused([[1e9; 3], [1e9 + 1e-7; 3]], [0.0; 3]), "domain");
}

/// Frames of `S` of every length to 64 pixels at every place within a vector: each sample within `most` of the reference,
/// and nothing written beside them.
fn every_length_and_place<S: Sample + Into<f64> + PartialEq + std::fmt::Debug>(value: impl Fn(usize) -> S, most: f64) {
    let cube = rough(17, UNIT, 0.0..1.0);
    let code = f64::from(S::MAX_CODE);
    each(&cube, |fast, interpolation| {
        for offset in 0..32 / size_of::<S>().min(4) {
            for length in 0..=64 {
                let source: Vec<S> = (0..offset + 3 * length + 8).map(&value).collect();
                let mut target = source.clone();
                let frame = offset..offset + 3 * length;
                fast.rgb(&source[frame.clone()], &mut target[frame.clone()]).unwrap();
                assert!(target[..offset] == source[..offset] && target[frame.end..] == source[frame.end..]);
                for (from, to) in source[frame.clone()].chunks_exact(3).zip(target[frame].chunks_exact(3)) {
                    let exact = cube.at([from[0], from[1], from[2]].map(|v| v.into() / code), interpolation);
                    for c in 0..3 {
                        let off = (to[c].into() - exact[c] * code).abs();
                        assert!(off <= most, "{:?} {offset} {length} {from:?}: {off}", fast.path());
                    }
                }
            }
        }
    });
}

#[test]
fn every_length_and_place_is_as_the_reference() {
    let part = |i: usize| (i as f32 * 0.618_034).fract();
    every_length_and_place(part, bound(&rough(17, UNIT, 0.0..1.0)));
    every_length_and_place(|i| (part(i) * 65535.0) as u16, 0.6);
    every_length_and_place(|i| (part(i) * 255.0) as u8, 0.501);
}

/// FNV-1a of 64 bits, which tells one changed bit.
fn sum(bytes: impl IntoIterator<Item = u8>, sum: &mut u64) {
    for byte in bytes {
        *sum = (*sum ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
    }
}

/// Paths of different processors cannot all be run beside each other: each is held to what the path for AVX2 gave.
#[test]
fn vector_paths_give_the_same_bits_on_every_processor() {
    let expected = [
        (true, Interpolation::Tetrahedral, 0x563a_fbcb_55fa_fb03),
        (true, Interpolation::Trilinear, 0xf8f0_7e09_9df7_7be3),
        (false, Interpolation::Tetrahedral, 0xcb5b_7bbc_9005_7956),
        (false, Interpolation::Trilinear, 0xbced_79b0_248d_735b),
    ];
    for domain in [UNIT, WIDE] {
        let cube = rough(17, domain, -0.2..1.2);
        each(&cube, |fast, interpolation| {
            if fast.path() == Path::Block {
                return;
            }
            let codes: Vec<u16> = (0..30_000u32).map(|i| (i * 40_503 % 65_536) as u16).collect();
            let mut total = 0xcbf2_9ce4_8422_2325;
            let mut floats: Vec<f32> = codes.iter().map(|c| f32::from(*c) * 2e-5 - 0.1).collect();
            fast.rgb_in_place(&mut floats).unwrap();
            sum(floats.iter().flat_map(|v| v.to_le_bytes()), &mut total);
            let mut bytes: Vec<u8> = codes.iter().map(|c| (c >> 8) as u8).collect();
            fast.rgb_in_place(&mut bytes).unwrap();
            sum(bytes, &mut total);
            let mut codes = codes;
            fast.rgb_in_place(&mut codes).unwrap();
            sum(codes.iter().flat_map(|v| v.to_le_bytes()), &mut total);
            let (_, _, right) =
                expected.iter().find(|(unit, i, _)| (*unit, *i) == (domain == UNIT, interpolation)).unwrap();
            assert_eq!(total, *right, "{:?} {interpolation:?} {domain:?}: {total:x}", fast.path());
        });
    }
}

/// Sixteen pixels at a time are chosen for tetrahedra in a table that a cache holds, and for nothing else.
#[test]
fn the_path_goes_by_the_table_and_the_interpolation() {
    let path = |size, interpolation| FastCube::new(&rough(size, UNIT, 0.0..1.0), interpolation).unwrap().path();
    let narrower = *Path::available().iter().find(|path| **path != Path::Avx512).unwrap();
    assert_eq!(path(33, Interpolation::Tetrahedral), Path::available()[0]);
    assert_eq!(path(34, Interpolation::Tetrahedral), narrower);
    assert_eq!(path(33, Interpolation::Trilinear), narrower);
}
