//! How true the zone edges of an exposure cube are: where its output changes over, against where it should.

use super::cube::Reader;
use super::zones::Fill;
use crate::cube::{Cube, Interpolation};
use crate::difference::ciede2000;
use crate::math::{cbrt, exp2, log2};
use crate::transfer::MID_GREY;
use schemars::JsonSchema;
use serde::Serialize;

/// Hues of the colours that edges are measured on, and their saturations: the share of a pure hue of the camera's own
/// gamut in a mixture with neutral.
const HUES: usize = 12;
const SATURATIONS: [f64; 2] = [0.25, 0.5];
/// Halvings of the stops between two zones' middles.
const HALVINGS: usize = 40;

/// Stops that are black to every curve.
const DARK: f64 = -60.0;
/// The largest error of an edge that a picture can be exposed by, in stops.
pub const MOST_OFF: f64 = 0.5;

/// Errors of a set of edges, in stops.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct EdgeErrors {
    /// Edges measured.
    pub count: usize,
    /// Mean of the magnitudes.
    pub mean: f64,
    /// The largest magnitude.
    pub max: f64,
    /// Edges at which the output does not change over at all: a zone is lost there.
    pub lost: usize,
}

impl EdgeErrors {
    fn of(errors: &[Option<f64>]) -> Self {
        let found: Vec<f64> = errors.iter().flatten().map(|e| e.abs()).collect();
        let count = found.len();
        Self {
            count,
            mean: if count == 0 { 0.0 } else { found.iter().sum::<f64>() / count as f64 },
            max: found.iter().copied().fold(0.0, f64::max),
            lost: errors.len() - count,
        }
    }
}

/// One edge on the neutral ramp.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Edge {
    /// The stops at which it should be.
    pub stops: f64,
    /// How many stops over that it is, by each interpolation, tetrahedral first; none where a zone is lost.
    pub errors: [Option<f64>; 2],
}

impl Edge {
    /// The error by tetrahedral interpolation; none where a zone is lost, by that or by trilinear interpolation.
    pub fn error(&self) -> Option<f64> {
        let [tetrahedral, trilinear] = self.errors;
        trilinear.and(tetrahedral)
    }

    /// Whether it is off by more than [`MOST_OFF`], or cannot be seen at all.
    pub fn is_off(&self) -> bool {
        self.error().is_none_or(|error| error.abs() > MOST_OFF)
    }
}

/// What a zone shows on neutrals. A monitor blends its colour with its neighbours' from the last node of the one to the first of
/// the other, so the narrower a zone, the less of it has its own.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Shown {
    /// Code values of 10 bits that lie in the zone.
    pub codes: usize,
    /// Share of them whose output is nearer to the zone's own colour than to any other's, by CIEDE2000 and by each
    /// interpolation, tetrahedral first; 0 where it holds no code.
    pub own: [f64; 2],
    /// Codes whose output is nearest to the colour of a zone that is neither this one nor beside it.
    pub codes_of_other_zones: [usize; 2],
}

impl Shown {
    /// The smaller of both shares.
    pub fn least(&self) -> f64 {
        self.own[0].min(self.own[1])
    }

    /// Whether the zone shows its own colour in less than half of its codes: it cannot be relied on.
    pub fn is_weak(&self) -> bool {
        self.least() < 0.5
    }
}

/// How true the edges of one cube are.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Edges {
    /// Each edge on neutrals, from the lowest.
    pub neutral: Vec<Edge>,
    /// All edges on neutrals, by each interpolation, tetrahedral first.
    pub neutrals: [EdgeErrors; 2],
    /// All edges on colours of up to half the saturation of the camera's own primaries.
    pub colours: [EdgeErrors; 2],
    /// What each zone shows on neutrals, from the lowest; the clip's, if it is marked, last.
    pub shown: Vec<Shown>,
    /// Stops from the clip to where its mark outweighs the zone under it on neutrals, below zero, by each
    /// interpolation, tetrahedral first; none where the clip is not marked.
    pub clip: Option<[f64; 2]>,
}

impl Edges {
    /// The edges on neutrals that mislead, [`Edge::is_off`].
    pub fn off(&self) -> impl Iterator<Item = &Edge> {
        self.neutral.iter().filter(|edge| edge.is_off())
    }

    pub(super) fn of(reader: &Reader<'_>, cube: &Cube) -> Self {
        let neutral: Vec<Edge> = reader
            .zones
            .edges()
            .map(|(stops, upper)| Edge {
                stops,
                errors: Interpolation::ALL
                    .map(|kind| error(reader, cube, [1.0; 3], (stops, upper), kind).unwrap_or(None)),
            })
            .collect();
        let colours: Vec<[f64; 3]> = SATURATIONS.iter().flat_map(|s| (0..HUES).map(|hue| mixture(hue, *s))).collect();
        let over = |kind: Interpolation| {
            let errors: Vec<Option<f64>> = colours
                .iter()
                .flat_map(|rgb| reader.zones.edges().filter_map(|edge| error(reader, cube, *rgb, edge, kind)))
                .collect();
            EdgeErrors::of(&errors)
        };
        let clip = reader.zones.clip.is_some().then(|| {
            // Below the first node that is marked: a neutral between it and the last that is not has all of its cell's
            // corners but one marked, of which the tetrahedral interpolant takes one and the trilinear all eight.
            [0.5, cbrt(0.5)].map(|share| {
                let edge = reader.grid.clip_node - share * reader.grid.step;
                reader.curve.stops_of(edge) - reader.ends.clip.0.stops
            })
        });
        Self {
            neutrals: std::array::from_fn(|i| {
                EdgeErrors::of(&neutral.iter().map(|edge| edge.errors[i]).collect::<Vec<_>>())
            }),
            colours: Interpolation::ALL.map(over),
            neutral,
            shown: shown(reader, cube),
            clip,
        }
    }
}

/// The largest code value of 10 bits.
const LARGEST: usize = 1023;

/// What each zone shows, code by code from black to white of the signal's range.
fn shown(reader: &Reader<'_>, cube: &Cube) -> Vec<Shown> {
    let zones = &reader.zones;
    let fills: Vec<Fill> = zones.list.iter().chain(&zones.clip).map(|zone| zone.fill).collect();
    let mut shown = vec![Shown { codes: 0, own: [0.0; 2], codes_of_other_zones: [0; 2] }; fills.len()];
    let colours: Vec<[f64; 3]> = fills.iter().map(|fill| reader.place(reader.filled(*fill, 0.0))).collect();
    let range = reader.curve.range;
    let code = |share: f64| LARGEST as f64 * range.encode(share);
    for k in code(0.0).ceil() as usize..=code(1.0).floor() as usize {
        let signal = k as f64 / LARGEST as f64;
        let stops = reader.curve.stops_of(signal);
        let clips = zones.clip.is_some() && signal >= reader.ends.clip.0.signal;
        let here = if clips { fills.len() - 1 } else { zones.at(stops) };
        let stops = if stops.is_nan() { DARK } else { stops.max(DARK) };
        let picture = reader.place(reader.filled(Fill::Picture, stops));
        shown[here].codes += 1;
        for (i, kind) in Interpolation::ALL.into_iter().enumerate() {
            let out = reader.place(cube.at([signal; 3], kind));
            let away = |zone: usize| ciede2000(out, if fills[zone] == Fill::Picture { picture } else { colours[zone] });
            let nearest = (0..fills.len()).map(|zone| (away(zone), zone)).min_by(|a, b| a.0.total_cmp(&b.0));
            let nearest = nearest.map_or(here, |(_, zone)| zone);
            if fills[nearest] == fills[here] {
                shown[here].own[i] += 1.0;
            } else if !(here.saturating_sub(1)..=here + 1).any(|zone| fills.get(zone) == Some(&fills[nearest])) {
                shown[here].codes_of_other_zones[i] += 1;
            }
        }
    }
    for zone in &mut shown {
        zone.own = zone.own.map(|count| count / zone.codes.max(1) as f64);
    }
    shown
}

/// A hue of the camera's gamut mixed with neutral.
fn mixture(hue: usize, saturation: f64) -> [f64; 3] {
    let sixth = hue as f64 * 6.0 / HUES as f64;
    std::array::from_fn(|i| {
        let away = (sixth - 2.0 * i as f64).abs();
        let pure = (2.0 - away.min(6.0 - away)).clamp(0.0, 1.0);
        1.0 - saturation + saturation * pure
    })
}

/// How many stops over an edge the output along a ray of one chromaticity changes over from one zone to the next: none
/// where it does not. No answer at all where the ray clips, or has no such exposure.
fn error(
    reader: &Reader<'_>,
    cube: &Cube,
    rgb: [f64; 3],
    (edge, upper): (f64, usize),
    kind: Interpolation,
) -> Option<Option<f64>> {
    let unit = reader.light(rgb);
    if unit <= 0.0 {
        return None;
    }
    let list = &reader.zones.list;
    let signal = |stops: f64| {
        let scale = MID_GREY * exp2(stops) / unit;
        rgb.map(|c| reader.curve.signal_of(c * scale))
    };
    // As far up as no channel comes near the clip mark, or the end of the signal.
    let limit = if reader.zones.clip.is_some() { reader.grid.clip_node - reader.grid.step } else { 1.0 };
    let strongest = rgb[0].max(rgb[1]).max(rgb[2]);
    let reach = log2(unit * reader.curve.light_of(limit) / strongest / MID_GREY);
    // To the middles of the signals of both zones; the outermost reach from one node to the next.
    let (curve, here) = (&reader.curve, reader.curve.signal_at(edge));
    let middle = |other: Option<f64>, reach: f64| {
        let signal = other.map_or(here + reach, |other| 0.5 * (here + curve.signal_at(other)));
        if signal > curve.signal_of(0.0) { curve.stops_of(signal).max(DARK) } else { DARK }
    };
    let below = middle(list[upper - 1].from, -reader.grid.step);
    let above = middle(list.get(upper + 1).and_then(|zone| zone.from), reader.grid.step).min(reach);
    if above <= edge || signal(below).iter().any(|v| *v < 0.0) {
        return None;
    }
    let (low, high) = (list[upper - 1].fill, list[upper].fill);
    // Zero in the lower zone, one in the upper: the place of the output between the two at the same exposure.
    let share = |stops: f64| {
        let (a, b, out) = (reader.filled(low, stops), reader.filled(high, stops), cube.at(signal(stops), kind));
        let (mut along, mut whole) = (0.0, 0.0);
        for i in 0..3 {
            along += (out[i] - a[i]) * (b[i] - a[i]);
            whole += (b[i] - a[i]) * (b[i] - a[i]);
        }
        along / whole
    };
    let (mut from, mut to) = (below, above);
    if !(share(from) < 0.5 && share(to) > 0.5) {
        return Some(None);
    }
    for _ in 0..HALVINGS {
        let half = 0.5 * (from + to);
        if share(half) < 0.5 { from = half } else { to = half }
    }
    Some(Some(0.5 * (from + to) - edge))
}
