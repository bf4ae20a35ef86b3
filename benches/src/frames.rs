//! Made frames: what the benchmarks apply cubes to.

/// Width and height of a UHD frame.
pub const UHD: (usize, usize) = (3840, 2160);

/// A hash of a counter, 0..1 (SplitMix64's finaliser).
fn unit(seed: u64) -> f32 {
    let mut z = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((z ^ (z >> 31)) >> 40) as f32 / (1u32 << 24) as f32
}

/// Independent uniform values in three planes: the hardest frame for a cache.
pub fn random(pixels: usize) -> [Vec<f32>; 3] {
    [1, 2, 3].map(|plane: u64| (0..pixels as u64).map(|i| unit(plane << 40 | i)).collect())
}

/// Value noise: smooth between lattice points `pitch` pixels apart.
fn noise(seed: u64, x: usize, y: usize, pitch: usize) -> f32 {
    let corner = |cx: usize, cy: usize| unit(seed << 48 | (cy as u64) << 24 | cx as u64);
    let ease = |t: f32| t * t * (3.0 - 2.0 * t);
    let (cx, cy) = (x / pitch, y / pitch);
    let (tx, ty) = (ease((x % pitch) as f32 / pitch as f32), ease((y % pitch) as f32 / pitch as f32));
    let row = |cy: usize| corner(cx, cy) * (1.0 - tx) + corner(cx + 1, cy) * tx;
    row(cy) * (1.0 - ty) + row(cy + 1) * ty
}

/// A frame with the statistics of a picture: light falling off over large shapes with hard edges, texture at several
/// scales, modest colour that changes slowly, and a sensor's noise in each pixel. Three planes, 0..1.
pub fn natural(width: usize, height: usize) -> [Vec<f32>; 3] {
    let mut planes = [(); 3].map(|()| Vec::with_capacity(width * height));
    for y in 0..height {
        for x in 0..width {
            let shape = if noise(1, x, y, 400) > 0.55 { 0.12 } else { -0.06 };
            let light = 0.42 + shape + 0.35 * (noise(2, x, y, 900) - 0.5);
            let texture = 0.10 * (noise(3, x, y, 60) - 0.5) + 0.05 * (noise(4, x, y, 9) - 0.5);
            let warm = 0.16 * (noise(5, x, y, 500) - 0.5) + 0.04 * (noise(6, x, y, 40) - 0.5);
            let green = 0.08 * (noise(7, x, y, 350) - 0.5);
            let colour = [warm, green, -warm];
            for (c, plane) in planes.iter_mut().enumerate() {
                let grain = 0.012 * (unit(((c + 8) as u64) << 48 | (y as u64) << 24 | x as u64) - 0.5);
                plane.push((light + texture + colour[c] + grain).clamp(0.0, 1.0));
            }
        }
    }
    planes
}

/// The same planes in 16 bits.
pub fn sixteen(planes: &[Vec<f32>; 3]) -> [Vec<u16>; 3] {
    [0, 1, 2].map(|c| planes[c].iter().map(|v| (v * 65535.0 + 0.5) as u16).collect())
}
