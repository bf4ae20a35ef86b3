//! The demo frame: a night on the marsh, computed.
//!
//! Scene-linear ACES AP1, 0.18 mid-grey, as a camera balanced for D65 would see it without noise. Each light is a
//! spectrum, each surface a reflectance; their product goes through the CIE 1931 observer to XYZ, from D65 to the ACES
//! white by Bradford, and to AP1. Geometry, levels and places are invented. Every pixel is the mean of 4 x 4 rays, from
//! functions that round alike on every machine, so that the frame can be made again to the bit.
//!
//! Levels are in stops of the strongest AP1 channel over mid-grey, as a waveform shows them. For a light on a surface,
//! that of an 18 % grey that faces it.

use exr::prelude::f16;
use rayon::prelude::*;
use rushlight::adaptation::Adaptation;
use rushlight::chromaticity::D65;
use rushlight::frame::{Depth, Format, Frame, Info};
use rushlight::gamut::AP1;
use rushlight::math::{exp, exp2};
use rushlight::spectrum::{Spectrum, daylight, gaussian, illuminant_d65, line, planck, test_colours};
use rushlight::transfer::MID_GREY;
use std::array::from_fn;

/// Pixels across.
pub const WIDTH: usize = 640;
/// Pixels down.
pub const HEIGHT: usize = 360;
/// Pixels down of the scene; the charts lie below.
const SCENE: usize = 304;
/// Pixels down where the row of patches in stops begins, and where the smooth ramp does.
const PATCHES: usize = 330;
const RAMP: usize = 352;
/// Rays along each edge of a pixel.
const RAYS: usize = 4;
/// Half the width of the picture at a distance of 1.
const HALF_WIDTH: f64 = 0.47;
/// Stops that the ramps reach on either side of mid-grey.
const REACH: f64 = 7.0;
/// A colour in AP1.
type Rgb = [f64; 3];
/// A place or a direction: right, up, away.
type V = [f64; 3];

fn add(a: V, b: V) -> V {
    from_fn(|i| a[i] + b[i])
}
fn sub(a: V, b: V) -> V {
    from_fn(|i| a[i] - b[i])
}
fn scale(a: V, k: f64) -> V {
    a.map(|v| v * k)
}
fn dot(a: V, b: V) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}
fn unit(a: V) -> V {
    scale(a, 1.0 / dot(a, a).sqrt())
}
/// 0 to 1 as `x` goes from `from` to `to`, smooth at both ends.
fn smooth(from: f64, to: f64, x: f64) -> f64 {
    let t = ((x - from) / (to - from)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// What surfaces are made of.
#[derive(Clone, Copy)]
enum Stuff {
    Skin,
    Leaf,
    Grey,
    Board,
}

/// What shines, by its number in [`World::lights`]: the moon, then these, the lantern as the third.
#[derive(Clone, Copy)]
enum Source {
    Sky = 1,
    Window = 3,
    Sign = 4,
    Lamp = 5,
}
const SOURCES: usize = 6;

/// A light: its place, or its direction when it is far away.
struct Light {
    place: V,
    far: bool,
    /// Stops at [`distance`](Self::distance).
    stops: f64,
    distance: f64,
    /// How far the light reaches around a surface that turns away: its size as seen from there.
    wrap: f64,
    /// Its edges, for soft shadows.
    size: f64,
}

struct Sphere {
    centre: V,
    radius: f64,
    stuff: Stuff,
}

struct World {
    /// Light of a source at level 1 back from a stuff.
    surfaces: [[Rgb; SOURCES]; 4],
    /// A source's own colour, the strongest channel 1.
    own: [Rgb; SOURCES],
    chart: Vec<Rgb>,
    lights: [Light; SOURCES],
    spheres: Vec<Sphere>,
}

/// The window in the wall of the house: left, right, bottom, top.
const WINDOW: [f64; 4] = [1.55, 2.75, 1.05, 2.25];
const WALL: f64 = 8.0;
/// The house: left, right, eaves.
const HOUSE: [f64; 3] = [0.95, 5.5, 2.9];
/// The board of the sign: left, right, bottom, top.
const BOARD: [f64; 4] = [-3.15, -1.15, 1.95, 3.05];
const TUBE: f64 = 0.045;
const LAMP: V = [-3.7, 3.1, 30.0];
const SHORE: f64 = 14.0;

impl World {
    fn new() -> Self {
        let from_xyz = AP1.from_xyz() * Adaptation::Bradford.matrix(D65, AP1.white);
        let ap1 = |spectrum: &Spectrum| -> Rgb { (from_xyz * spectrum.to_xyz()).into() };
        let colours: Vec<Spectrum> = test_colours().map(|c| c.reflectance).collect();
        let flat = |v| Spectrum::flat(v).expect("a reflectance");
        let stuffs = [colours[12].clone(), colours[13].clone(), flat(MID_GREY), flat(0.05)];
        let spectra =
            [daylight(7500.0), daylight(12_000.0), planck(3200.0), planck(2856.0), gaussian(469.0, 22.0), line(589.3)]
                .map(|s| s.expect("within every domain"));
        let strongest = |c: Rgb| c[0].max(c[1]).max(c[2]);
        let own = from_fn(|i| {
            let c = ap1(&spectra[i]);
            scale(c, 1.0 / strongest(c))
        });
        let surfaces = from_fn(|m| {
            from_fn(|i| {
                let back = ap1(&stuffs[m].times(&spectra[i]).expect("finite"));
                scale(back, 1.0 / strongest(ap1(&spectra[i])))
            })
        });
        let chart = colours
            .iter()
            .map(|c| {
                let xyz = c.to_xyz_under(&illuminant_d65()).expect("D65 shines");
                (from_xyz * xyz).into()
            })
            .collect();
        let centre = [(WINDOW[0] + WINDOW[1]) / 2.0, (WINDOW[2] + WINDOW[3]) / 2.0, WALL];
        let light = |place, stops, distance, wrap, size| Light { place, far: false, stops, distance, wrap, size };
        let lights = [
            Light { far: true, ..light(unit([-0.8, 0.6, -0.25]), -1.3, 1.0, 0.08, 0.02) },
            Light { far: true, ..light([0.0, 1.0, 0.0], -2.9, 1.0, 1.0, 0.0) },
            light([1.9, 2.3, 2.8], 1.1, 1.9, 0.25, 0.25),
            light(centre, 1.5, 1.5, 0.3, 0.6),
            light([-2.5, 2.5, 5.8], 0.6, 1.3, 0.3, 0.3),
            light(LAMP, 0.5, 3.5, 0.1, 0.1),
        ];
        let ball = |centre, radius, stuff| Sphere { centre, radius, stuff };
        let spheres = vec![
            ball([0.05, 1.35, 5.0], 0.62, Stuff::Skin),
            ball([1.05, 0.55, 6.9], 0.42, Stuff::Skin),
            ball([-2.15, 1.0, 6.6], 0.55, Stuff::Skin),
            ball([-1.35, 0.75, 5.2], 0.6, Stuff::Leaf),
            ball([1.05, 0.62, 4.6], 0.34, Stuff::Grey),
            ball([2.15, 0.6, 5.6], 0.5, Stuff::Leaf),
        ];
        Self { surfaces, own, chart, lights, spheres }
    }

    /// The nearest sphere that a ray meets: its number and the distance.
    fn sphere(&self, from: V, way: V) -> Option<(usize, f64)> {
        let mut nearest = None;
        for (i, sphere) in self.spheres.iter().enumerate() {
            let to = sub(sphere.centre, from);
            let along = dot(to, way);
            let inside = sphere.radius * sphere.radius - (dot(to, to) - along * along);
            if inside > 0.0 {
                let distance = along - inside.sqrt();
                if distance > 1e-6 && nearest.is_none_or(|(_, d)| distance < d) {
                    nearest = Some((i, distance));
                }
            }
        }
        nearest
    }

    /// The light that comes back from a surface; `ray` of `RAYS`² picks the spot on each light that casts shadows.
    fn lit(&self, stuff: Stuff, at: V, normal: V, ray: usize) -> Rgb {
        let mut sum = [0.0; 3];
        for (i, light) in self.lights.iter().enumerate() {
            let spot = [(ray % RAYS) as f64, (ray / RAYS) as f64].map(|k| (k + 0.5) / RAYS as f64 - 0.5);
            // Across and down in steps that do not go with the pixel's own.
            let spot = [spot[1] + spot[0] / RAYS as f64, spot[0] - spot[1] / RAYS as f64, 0.0];
            let place = add(light.place, scale(spot, 2.0 * light.size));
            let to = if light.far { place } else { sub(place, at) };
            let squared = dot(to, to);
            let way = unit(to);
            let facing = (dot(normal, way) + light.wrap) / (1.0 + light.wrap);
            if facing <= 0.0 {
                continue;
            }
            let shaded = light.wrap < 1.0
                && self.sphere(add(at, scale(normal, 1e-4)), way).is_some_and(|(_, d)| d * d < squared || light.far);
            if shaded {
                continue;
            }
            let falloff = if light.far { 1.0 } else { light.distance * light.distance / (squared + 0.02) };
            let level = exp2(light.stops) * facing * falloff;
            sum = add(sum, scale(self.surfaces[stuff as usize][i], level));
        }
        sum
    }

    fn emission(&self, source: Source, stops: f64) -> Rgb {
        scale(self.own[source as usize], MID_GREY * exp2(stops))
    }

    /// What a ray from the camera sees.
    fn ray(&self, from: V, way: V, ray: usize) -> Rgb {
        let sphere = self.sphere(from, way);
        let limit = sphere.map_or(f64::INFINITY, |s| s.1);
        let at_wall = WALL / way[2];
        if at_wall < limit {
            let p = add(from, scale(way, at_wall));
            if let Some(rgb) = self.wall(p, ray) {
                return rgb;
            }
        }
        if let Some((i, distance)) = sphere {
            let s = &self.spheres[i];
            let p = add(from, scale(way, distance));
            return self.lit(s.stuff, p, unit(sub(p, s.centre)), ray);
        }
        let (dx, dy) = (way[0] / way[2] * LAMP[2] - LAMP[0], way[1] / way[2] * LAMP[2] + EYE[1] - LAMP[1]);
        if dx * dx + dy * dy < 0.15 * 0.15 {
            return self.emission(Source::Lamp, 6.0);
        }
        if dx.abs() < 0.05 && dy < 0.0 && dy > -LAMP[1] {
            return [0.0; 3];
        }
        if way[1] < -1e-4 {
            let p = add(from, scale(way, -from[1] / way[1]));
            let sky = self.sky(-way[1]);
            let lamp = LAMP[0] - p[0];
            if p[2] > SHORE {
                // The sea: the sky, and the lamp's long streak.
                let across = lamp / (0.35 + 0.02 * p[2]);
                let streak = exp(-across * across) * (0.6 + 0.4 * wave(p));
                return add(
                    scale(sky, 0.55),
                    scale(self.emission(Source::Lamp, -0.5), streak * smooth(70.0, 16.0, p[2])),
                );
            }
            let patchy = 0.55 + 0.6 * patches(p[0] * 2.2, p[2] * 1.1);
            return scale(self.lit(Stuff::Leaf, p, [0.0, 1.0, 0.0], ray), patchy);
        }
        self.sky(way[1])
    }

    /// The sky at a height over the horizon.
    fn sky(&self, height: f64) -> Rgb {
        let stops = -2.6 - 1.6 * smooth(0.0, 0.35, height);
        self.emission(Source::Sky, stops)
    }

    /// The house and the sign, which stand in one plane; nothing beside them.
    fn wall(&self, p: V, ray: usize) -> Option<Rgb> {
        let [x, y, _] = p;
        if y < 0.0 {
            return None;
        }
        let within = |r: [f64; 4]| x > r[0] && x < r[1] && y > r[2] && y < r[3];
        if within(WINDOW) {
            let across = ((x - WINDOW[0]) / (WINDOW[1] - WINDOW[0]) * 2.0).fract();
            let up = ((y - WINDOW[2]) / (WINDOW[3] - WINDOW[2]) * 2.0).fract();
            let pane = |t: f64| t > 0.06 && t < 0.94;
            if !(pane(across) && pane(up)) {
                return Some(self.emission(Source::Window, -1.5));
            }
            // A lampshade inside: brightest low on the right, five stops over at its heart.
            let (dx, dy) = (x - 2.35, y - 1.5);
            return Some(self.emission(Source::Window, 5.0 - 1.8 * smooth(0.0, 1.1, (dx * dx + dy * dy).sqrt())));
        }
        let toward = [0.0, 0.0, -1.0];
        let roof = HOUSE[2] + 0.22 * (x - HOUSE[0]).min(2.2);
        if x > HOUSE[0] && x < HOUSE[1] && y < roof {
            // The window's own glow on its frame and sill, and boards that overlap.
            let near = rectangle(x, y, WINDOW);
            let glow = scale(self.surfaces[Stuff::Grey as usize][Source::Window as usize], 0.9 * exp(-near * 5.0));
            let board = 0.8 + 0.2 * smooth(0.0, 0.25, (y / 0.22).fract());
            return Some(scale(add(self.lit(Stuff::Grey, [x, y, WALL - 0.01], toward, ray), glow), board));
        }
        if within(BOARD) {
            let tube = tube(x, y);
            let board = self.lit(Stuff::Board, [x, y, WALL - 0.01], toward, ray);
            let glow = scale(self.own[Source::Sign as usize], MID_GREY * 2.0 / (1.0 + 90.0 * tube * tube));
            return Some(if tube < TUBE { self.emission(Source::Sign, 4.0) } else { add(board, glow) });
        }
        let post = (x - (BOARD[0] + BOARD[1]) / 2.0).abs() < 0.05 && y < BOARD[2];
        post.then(|| self.lit(Stuff::Board, [x, y, WALL - 0.01], toward, ray))
    }

    /// Light that the lens spreads about what is bright, in the direction that meets the plane of the wall at `x`, `y`.
    fn glow(&self, way: V) -> Rgb {
        let (x, y) = (way[0] / way[2] * WALL, way[1] / way[2] * WALL + EYE[1]);
        let spread = |d: f64, width: f64| 1.0 / ((1.0 + d * d / (width * width)) * (1.0 + d / width));
        let window = spread(rectangle(x, y, WINDOW), 0.12);
        let sign = spread(tube(x, y), 0.10);
        let lamp = {
            let p = [(LAMP[0] - EYE[0]) / LAMP[2] * WALL, (LAMP[1] - EYE[1]) / LAMP[2] * WALL + EYE[1]];
            let (dx, dy) = (x - p[0], y - p[1]);
            (dx * dx + dy * dy).sqrt()
        };
        [
            scale(self.emission(Source::Window, 5.0), 0.012 * window),
            scale(self.emission(Source::Sign, 4.0), 0.02 * sign),
            scale(self.emission(Source::Lamp, 6.0), 0.02 * spread(lamp, 0.06)),
        ]
        .into_iter()
        .fold([0.0; 3], add)
    }

    /// The charts, by pixel: the fourteen test colours under D65, patches in stops, a smooth ramp.
    fn charts(&self, x: f64, y: usize) -> Rgb {
        let across = x / WIDTH as f64;
        if y < SCENE + 4 {
            return [0.0; 3];
        }
        if y < PATCHES {
            return self.chart[(across * self.chart.len() as f64) as usize];
        }
        let stops =
            if y < RAMP { (across * (2.0 * REACH + 1.0)).floor() - REACH } else { REACH * (2.0 * across - 1.0) };
        [MID_GREY * exp2(stops); 3]
    }
}

/// Where the camera stands.
const EYE: V = [0.0, 1.55, 0.0];

/// How far a place of the wall lies outside a rectangle.
fn rectangle(x: f64, y: f64, r: [f64; 4]) -> f64 {
    let dx = (r[0] - x).max(x - r[1]).max(0.0);
    let dy = (r[2] - y).max(y - r[3]).max(0.0);
    (dx * dx + dy * dy).sqrt()
}

/// How far a place of the wall lies from the middle of the sign's tube: a ring, and two strokes of a wave beside it.
fn tube(x: f64, y: f64) -> f64 {
    let (dx, dy) = (x + 2.7, y - 2.5);
    let ring = ((dx * dx + dy * dy).sqrt() - 0.28).abs();
    let crest = |base: f64| {
        const CREST: [[f64; 2]; 5] = [[-2.2, 0.0], [-2.0, 0.22], [-1.8, 0.0], [-1.6, 0.22], [-1.4, 0.0]];
        CREST.windows(2).fold(f64::INFINITY, |near, ends| {
            let [a, b] = [ends[0], ends[1]];
            let (ex, ey, px, py) = (b[0] - a[0], b[1] - a[1], x - a[0], y - base - a[1]);
            let t = ((ex * px + ey * py) / (ex * ex + ey * ey)).clamp(0.0, 1.0);
            let (qx, qy) = (px - t * ex, py - t * ey);
            near.min((qx * qx + qy * qy).sqrt())
        })
    };
    ring.min(crest(2.22)).min(crest(2.55))
}

/// A number from 0 to 1 for a corner of the ground's lattice.
fn hash(x: i64, y: i64) -> f64 {
    let mut h = (x as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ (y as u64).wrapping_mul(0xc2b2_ae3d_27d4_eb4f);
    h = (h ^ (h >> 29)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    (h ^ (h >> 32)) as u32 as f64 / f64::from(u32::MAX)
}

/// Patches of the ground, 0 to 1, smooth.
fn patches(x: f64, y: f64) -> f64 {
    let (i, j) = (x.floor(), y.floor());
    let (s, t) = (smooth(0.0, 1.0, x - i), smooth(0.0, 1.0, y - j));
    let corner = |di: f64, dj: f64| hash((i + di) as i64, (j + dj) as i64);
    let row = |dj: f64| corner(0.0, dj) * (1.0 - s) + corner(1.0, dj) * s;
    row(0.0) * (1.0 - t) + row(1.0) * t
}

/// The swell, -1 to 1.
fn wave(p: V) -> f64 {
    2.0 * patches(p[0] * 0.15, p[2] * 1.3) - 1.0
}

/// The frame, exact as half floats.
pub fn render() -> Frame {
    let world = World::new();
    let mut samples = vec![0.0; WIDTH * HEIGHT * 3];
    samples.par_chunks_mut(WIDTH * 3).enumerate().for_each(|(y, row)| {
        for (x, pixel) in row.chunks_exact_mut(3).enumerate() {
            let mut sum = [0.0; 3];
            for ray in 0..RAYS * RAYS {
                let sx = x as f64 + ((ray % RAYS) as f64 + 0.5) / RAYS as f64;
                let sy = y as f64 + ((ray / RAYS) as f64 + 0.5) / RAYS as f64;
                let rgb = if y < SCENE {
                    let half = WIDTH as f64 / 2.0;
                    let way = unit([
                        (sx - half) / half * HALF_WIDTH,
                        (SCENE as f64 / 2.0 - sy) / half * HALF_WIDTH - 0.01,
                        1.0,
                    ]);
                    add(world.ray(EYE, way, ray), world.glow(way))
                } else {
                    world.charts(sx, y)
                };
                sum = add(sum, rgb);
            }
            pixel.copy_from_slice(&sum.map(|v| f16::from_f64(v / (RAYS * RAYS) as f64).to_f32()));
        }
    });
    let mut info = Info::new(Format::Exr, Depth::Half);
    info.tags.chromaticities = Some([AP1.primaries[0], AP1.primaries[1], AP1.primaries[2], AP1.white]);
    Frame::new(WIDTH, HEIGHT, false, samples, info).expect("every pixel")
}
