//! Exposure cubes: log signal in, zones of exposure out.
//!
//! A cube holds its output at nodes and blends between them, so a zone cannot end anywhere: with plain edges each node has
//! the colour of its own zone, and the edge comes out half-way between two nodes; with soft ones the nodes beside an edge
//! are blended so that the output is half one zone and half the other just where the edge belongs: on neutrals exactly, as
//! long as the zones are one and a half times as wide as the nodes are apart.
//! [`Edges`] measures the error of either. Near black a log curve is so flat that two nodes lie stops apart: a plain edge
//! that would be off by more than [`MOST_OFF`] is blended all the same, and noted.

use super::edges::{Edge, Edges, MOST_OFF};
use super::palette::picture;
use super::stops::{Curve, Ends};
use super::zones::{Fill, Grid, Settings, Zones, signed};
use crate::camera::{Camera, Rating};
use crate::cube::{Cube, check_points};
use crate::difference::lab;
use crate::display::Display;
use crate::gamut::BT709;
use crate::invalid::Refusals;
use crate::math::{bounded, log2};
use crate::transfer::MID_GREY;
use nalgebra::{Matrix3, Vector3};

/// Points along each edge of an exposure cube, unless another number is asked for: each zone edge can only lie between
/// nodes.
pub const POINTS: usize = 65;

/// What exposure is read from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Basis {
    /// Luminance, by the camera's own primaries.
    #[default]
    Luminance,
    /// The strongest channel.
    Highest,
}

rushlight_colour::named!(Basis, "basis", { Luminance => "luminance": "Luminance by the camera's primaries", Highest => "highest": "The strongest channel" });

/// What an exposure cube is made of besides its camera and its display.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// The zones.
    pub zones: Settings,
    /// What exposure is read from. The clip is always any channel's.
    pub basis: Basis,
    /// Points along each edge.
    pub points: usize,
    /// Whether edges are blended.
    pub soft: bool,
}

/// What a signal is, exactly: the function that the cube samples, without its nodes.
pub(super) struct Reader<'c> {
    pub(super) curve: Curve<'c>,
    pub(super) ends: Ends,
    pub(super) zones: Zones,
    pub(super) grid: Grid,
    pub(super) basis: Basis,
    weights: Vector3<f64>,
    to_display: Matrix3<f64>,
    display: &'c Display,
}

impl Reader<'_> {
    /// The light that exposure is read from, in the camera's own gamut; mid-grey is 0.18.
    pub(super) fn light(&self, rgb: [f64; 3]) -> f64 {
        match self.basis {
            Basis::Luminance => self.weights[0] * rgb[0] + self.weights[1] * rgb[1] + self.weights[2] * rgb[2],
            Basis::Highest => rgb[0].max(rgb[1]).max(rgb[2]),
        }
    }

    /// Linear BT.709 light as the signal of the display.
    fn encode(&self, rgb: [f64; 3]) -> [f64; 3] {
        // A display whose gamut is smaller cuts a colour off: the mapping of pictures would change those within it too.
        let light: [f64; 3] = (self.to_display * Vector3::from(rgb)).into();
        self.display.encode(light.map(|c| c.clamp(0.0, 1.0))).0
    }

    /// CIELAB of a signal of the display, under its picture's white.
    pub(super) fn place(&self, signal: [f64; 3]) -> [f64; 3] {
        let to_xyz = self.display.gamut().to_xyz();
        let xyz = |signal: [f64; 3]| to_xyz * Vector3::from(self.display.decode(signal));
        lab(xyz(signal), xyz(self.encode([1.0; 3]))).0
    }

    /// The signal of the display for a fill at a number of stops.
    pub(super) fn filled(&self, fill: Fill, stops: f64) -> [f64; 3] {
        self.encode(match fill {
            Fill::Colour(rgb) => rgb,
            Fill::Picture => picture(stops, self.ends.floor.0.stops, self.ends.clip.0.stops),
        })
    }

    /// The output of a node; `soft` has for each edge, in order, whether it is blended.
    fn node(&self, signal: [f64; 3], soft: &[bool]) -> [f64; 3] {
        if let Some(clip) = self.zones.clip.as_ref().filter(|_| self.grid.clips(signal)) {
            return self.filled(clip.fill, self.ends.clip.0.stops);
        }
        let light = self.light(bounded(signal.map(|v| self.curve.light_of(v))));
        // Black and what is darker has no stop; it is below every zone.
        let stops = if light > 0.0 { log2(light / MID_GREY) } else { f64::NEG_INFINITY };
        let here = |zone: usize| self.filled(self.zones.list[zone].fill, stops.max(LOWEST));
        let zone = self.zones.at(stops);
        if !soft.contains(&true) {
            return here(zone);
        }
        // How far the neutral of this exposure lies from the nearest edge, in steps from node to node.
        let place = self.curve.signal_of(light);
        let away = |((edge, upper), soft): ((f64, usize), bool)| {
            ((place - self.curve.signal_at(edge)) / self.grid.step, upper, soft)
        };
        let edges = self.zones.edges().zip(soft.iter().copied());
        let nearest = edges.map(away).min_by(|a, b| a.0.abs().total_cmp(&b.0.abs()));
        match nearest {
            Some((away, upper, true)) if away.abs() < 0.5 => {
                let share = share_of_upper(away);
                let (below, above) = (here(upper - 1), here(upper));
                std::array::from_fn(|i| below[i] + share * (above[i] - below[i]))
            }
            _ => here(zone),
        }
    }
}

/// Stops that stand for black in the grey picture.
const LOWEST: f64 = -100.0;

/// What is noted of an edge that is blended although plain edges were asked for.
fn blended_note(edge: &Edge) -> String {
    let error =
        edge.error().map_or("could not be seen".to_owned(), |e| format!("would be off by {:.1} stops", e.abs()));
    format!("the edge at {} is soft: a plain one {error}, more than {MOST_OFF}", signed(edge.stops))
}

/// The share of the upper zone in a node that lies `away` steps above an edge, half a step at most: what makes a straight
/// line between it and the node on the edge's other side reach one half at the edge itself.
fn share_of_upper(away: f64) -> f64 {
    let below = |away: f64| (0.5 - away) / (1.0 - away);
    if away < 0.0 { below(-away) } else { 1.0 - below(away) }
}

/// An exposure cube, with what it holds and how true it is.
#[derive(Debug, Clone)]
pub struct ExposureCube {
    /// The table: camera signal in, display signal out.
    pub cube: Cube,
    /// The ends of the rating that it holds for.
    pub ends: Ends,
    /// Its zones.
    pub zones: Zones,
    /// The display signal of each zone, in order; of the picture at the zone's middle. The clip's, if it is marked, last.
    pub colours: Vec<[f64; 3]>,
    /// How true its edges are.
    pub edges: Edges,
}

impl ExposureCube {
    /// Checks what [`new`](Self::new) would refuse, without making the cube.
    ///
    /// # Errors
    /// As [`new`](Self::new).
    pub fn check(
        camera: &Camera,
        rating: Option<&Rating>,
        extrapolated: bool,
        options: &Options,
    ) -> Result<(), Refusals> {
        let points = check_points("points", options.points).map_err(Refusals::from)?;
        let ends = Ends::of(camera, rating, extrapolated).map_err(Refusals::from)?;
        let grid = Grid::new(points, ends.clip.0.signal);
        Zones::new(&Curve::of(camera, ends.ei), &ends, &grid, &options.zones).map(|_| ())
    }

    /// Makes the cube of `camera` at `rating` (none: of its curve alone) for `display`.
    ///
    /// # Errors
    /// As [`Ends::of`]; settings out of their bounds; zones that the nodes cannot hold, or that have no distinct colours.
    pub fn new(
        camera: &Camera,
        rating: Option<&Rating>,
        extrapolated: bool,
        display: &Display,
        options: &Options,
    ) -> Result<Self, Refusals> {
        let points = check_points("points", options.points).map_err(Refusals::from)?;
        let ends = Ends::of(camera, rating, extrapolated).map_err(Refusals::from)?;
        let curve = Curve::of(camera, ends.ei);
        let grid = Grid::new(points, ends.clip.0.signal);
        let zones = Zones::new(&curve, &ends, &grid, &options.zones)?;
        let reader = Reader {
            curve,
            ends,
            zones,
            grid,
            basis: options.basis,
            weights: camera.luminance_weights(),
            to_display: to_display(display),
            display,
        };
        let made = |soft: &[bool]| -> Result<(Cube, Edges), Refusals> {
            let cube = Cube::sample(points, |signal| reader.node(signal, soft))?;
            let edges = Edges::of(&reader, &cube);
            Ok((cube, edges))
        };
        let (mut cube, mut edges) = made(&vec![options.soft; reader.zones.edges().count()])?;
        let mut notes = Vec::new();
        if !options.soft && edges.off().next().is_some() {
            let off: Vec<bool> = edges.neutral.iter().map(Edge::is_off).collect();
            let (blended, errors) = made(&off)?;
            if errors.off().count() < edges.off().count() {
                notes = edges.off().map(blended_note).collect();
                (cube, edges) = (blended, errors);
            }
        }
        let colours = reader.colours();
        let mut zones = reader.zones;
        zones.notes.extend(notes);
        Ok(Self { cube, ends, zones, colours, edges })
    }
}

impl ExposureCube {
    /// The signal of `camera` at a number of stops, by the curve that the cube was made for.
    pub fn signal_at(&self, camera: &Camera, stops: f64) -> f64 {
        Curve::of(camera, self.ends.ei).signal_at(stops)
    }
}

impl Reader<'_> {
    fn colours(&self) -> Vec<[f64; 3]> {
        let (floor, clip) = (self.ends.floor.0.stops, self.ends.clip.0.stops);
        let list = &self.zones.list;
        let middle = |i: usize| {
            let from = list[i].from.unwrap_or(floor);
            let to = list.get(i + 1).and_then(|next| next.from).unwrap_or(clip);
            0.5 * (from + to)
        };
        let zones = list.iter().enumerate().map(|(i, zone)| self.filled(zone.fill, middle(i)));
        zones.chain(self.zones.clip.iter().map(|zone| self.filled(zone.fill, clip))).collect()
    }
}

/// Linear BT.709 light to the linear light of a display, white on the picture's white.
fn to_display(display: &Display) -> Matrix3<f64> {
    let white = display.picture_white();
    let adapted = crate::adaptation::Adaptation::Bradford.matrix(BT709.white, white) * BT709.to_xyz();
    Matrix3::from_columns(&std::array::from_fn::<_, 3, _>(|i| {
        Vector3::from(display.to_linear(adapted.column(i).into_owned()))
    }))
}
