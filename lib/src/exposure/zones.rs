//! Zones of exposure: which stops have which colour.

use super::palette::{Signpost, ladder};
use super::stops::{Curve, Ends};
use crate::invalid::{Invalid, Parameter, Refusals};

/// Stops to a zone of the ladder.
pub const ZONE: Parameter =
    Parameter { key: "zone", min: 0.25, max: 4.0, default: 1.0, unit: "stops", help: "ladder: stops to a zone" };

/// How wide the two zones of the key are.
pub const WIDTH: Parameter = Parameter {
    key: "width",
    min: 0.1,
    max: 1.0,
    default: 0.5,
    unit: "stops",
    help: "key: how wide mid-grey and the stop over it are marked",
};

/// How near to the clip and to the floor is near.
pub const NEAR: Parameter = Parameter {
    key: "near",
    min: 0.1,
    max: 4.0,
    default: 1.0,
    unit: "stops",
    help: "clip: how near to the clip or the floor is marked",
};

/// An end of the window.
pub const WINDOW: Parameter = Parameter {
    key: "window",
    min: -20.0,
    max: 20.0,
    default: 1.0,
    unit: "stops from mid-grey",
    help: "range: the window, from its lower to its upper end",
};

/// What an exposure cube shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// Every stop in a colour of its own.
    Ladder,
    /// Mid-grey and one stop over it, on a grey picture.
    Key,
    /// What is at and near the clip and the floor, on a grey picture.
    Clip,
    /// What is outside a window of stops, on a grey picture.
    Range,
}

rushlight_colour::named!(Kind, "kind of exposure cube", { Ladder => "ladder": "Every stop in a different colour", Key => "key": "Mid-grey and one stop over it, on a grey picture", Clip => "clip": "Signal at and near the clip and the floor, on a grey picture", Range => "range": "Signal outside a window of stops, on a grey picture" });

/// Numbers of the zones.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// What the cube shows.
    pub kind: Kind,
    /// Stops to a zone of the ladder ([`ZONE`]).
    pub zone: f64,
    /// Width in stops of the key's two zones ([`WIDTH`]).
    pub width: f64,
    /// How near is near, in stops ([`NEAR`]).
    pub near: f64,
    /// The window in stops from mid-grey ([`WINDOW`]).
    pub window: [f64; 2],
}

impl Settings {
    /// The usual numbers of a kind.
    pub const fn of(kind: Kind) -> Self {
        Self {
            kind,
            zone: ZONE.default,
            width: WIDTH.default,
            near: NEAR.default,
            window: [-WINDOW.default, WINDOW.default],
        }
    }
}

/// How a zone is filled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fill {
    /// By one colour: linear BT.709 light, 0 to 1.
    Colour([f64; 3]),
    /// By the grey picture.
    Picture,
}

/// Stops of one fill.
#[derive(Debug, Clone, PartialEq)]
pub struct Zone {
    /// What it is, in a few words.
    pub name: String,
    /// The stop from which it reaches; the first zone has none.
    pub from: Option<f64>,
    /// The fill.
    pub fill: Fill,
}

/// The zones of a cube, from the lowest, and what marks the clip.
#[derive(Debug, Clone, PartialEq)]
pub struct Zones {
    /// From dark to light: each reaches to where the next begins.
    pub list: Vec<Zone>,
    /// Whatever reaches the clip in any channel; none for a kind that does not mark it.
    pub clip: Option<Zone>,
    /// What could not be as it was asked for, since a zone must be as wide as the distance between two nodes.
    pub notes: Vec<String>,
}

/// The signal between two nodes of a cube, and the clip as the cube can mark it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Grid {
    /// Signal from one node to the next.
    pub(super) step: f64,
    /// The first node that is marked as clipped: at the clip or just under it, so that a clipped picture, whose signal
    /// stops there, is marked in full.
    pub(super) clip_node: f64,
}

/// Share of a step by which a signal may miss a node and still be at it.
const AT_NODE: f64 = 1e-9;

impl Grid {
    pub(super) fn new(points: usize, clip: f64) -> Self {
        let last = (points - 1) as f64;
        Self { step: 1.0 / last, clip_node: (clip * last + AT_NODE).floor() / last }
    }

    /// Whether a node's signal counts as clipped.
    pub(super) fn clips(&self, signal: [f64; 3]) -> bool {
        signal.iter().any(|v| *v >= self.clip_node - AT_NODE * self.step)
    }

    /// The signal from which on the clip mark outweighs what lies under it.
    fn clip_edge(&self) -> f64 {
        self.clip_node - 0.5 * self.step
    }
}

/// A number of stops, signed.
pub fn signed(stops: f64) -> String {
    if stops == 0.0 { "0".to_owned() } else { format!("{:+}", (stops * 100.0).round() / 100.0) }
}

impl Zones {
    pub(super) fn new(curve: &Curve<'_>, ends: &Ends, grid: &Grid, settings: &Settings) -> Result<Self, Refusals> {
        let mut refusals = Refusals::new();
        match settings.kind {
            Kind::Ladder => refusals.bound(&ZONE, settings.zone),
            Kind::Key => refusals.bound(&WIDTH, settings.width),
            Kind::Clip => refusals.bound(&NEAR, settings.near),
            Kind::Range => {
                refusals.bound_each(&WINDOW, &settings.window);
                let [low, high] = settings.window;
                if low >= high {
                    refusals.push("window", format!("{low} to {high}: the lower end must be below the upper one"));
                }
            }
        }
        refusals.finish(|| ())?;
        let make = Maker { curve, grid, floor: ends.floor.0.stops, clip: ends.clip.0.stops };
        match settings.kind {
            Kind::Ladder => make.ladder(settings.zone),
            Kind::Key => make.key(settings.width),
            Kind::Clip => make.clip(settings.near),
            Kind::Range => make.range(settings.window),
        }
        .map_err(Refusals::from)
    }

    /// The zone of a number of stops, without regard to the clip; NaN is in the first.
    pub fn at(&self, stops: f64) -> usize {
        self.list.iter().rposition(|zone| zone.from.is_none_or(|from| stops >= from)).unwrap_or(0)
    }

    /// Where one zone gives way to the next: the stops, and the number of the upper one.
    pub fn edges(&self) -> impl Iterator<Item = (f64, usize)> {
        self.list.iter().enumerate().filter_map(|(i, zone)| Some((zone.from?, i)))
    }
}

fn zone(name: impl Into<String>, from: Option<f64>, fill: Fill) -> Zone {
    Zone { name: name.into(), from, fill }
}

fn signpost(name: impl Into<String>, from: Option<f64>, colour: Signpost) -> Zone {
    zone(name, from, Fill::Colour(colour.colour()))
}

/// Steps of the ladder that share a zone.
struct Group {
    /// The steps nearest to mid-grey and furthest from it, as multiples.
    first: f64,
    last: f64,
    /// The stops at which they end on those two sides.
    near: f64,
    far: f64,
    /// Where a rest began that holds no node between it and the end of the ladder, and so joined this zone.
    rest: Option<f64>,
}

impl Group {
    fn name(&self, step: f64) -> String {
        let (low, high) = (self.first.min(self.last) * step, self.first.max(self.last) * step);
        if low < high { format!("{} to {}", signed(low), signed(high)) } else { signed(high) }
    }
}

struct Maker<'m> {
    curve: &'m Curve<'m>,
    grid: &'m Grid,
    floor: f64,
    clip: f64,
}

impl Maker<'_> {
    /// Whether the signal between two stops holds a node for certain.
    fn holds(&self, low: f64, high: f64) -> bool {
        self.curve.signal_at(high) - self.curve.signal_at(low) >= self.grid.step
    }

    /// The stop at which the clip mark takes over.
    fn clip_edge(&self) -> f64 {
        self.curve.stops_of(self.grid.clip_edge())
    }

    fn too_narrow(&self, key: &str, what: &str) -> Invalid {
        let points = (1.0 / self.grid.step).round() + 1.0;
        Invalid::new(
            key,
            format!(
                "{what} is narrower than the distance between two nodes of {points} points: give more points or a wider zone"
            ),
        )
    }

    /// A zone around every multiple of `step` stops from the floor to the clip. Where stops lie closer together than the
    /// nodes of the cube, several share a zone.
    fn ladder(&self, step: f64) -> Result<Zones, Invalid> {
        let half = 0.5 * step;
        if !self.holds(-half, half) {
            return Err(self.too_narrow("zone", "the zone of mid-grey"));
        }
        if self.floor > -half || self.clip_edge() < half {
            let (floor, clip) = (signed(self.floor), signed(self.clip_edge()));
            let message =
                format!("the zone of mid-grey reaches beyond the floor at {floor} or the clip, marked at {clip}");
            return Err(Invalid::new("zone", message));
        }
        let (under, over) = (self.outward(step, -1.0), self.outward(step, 1.0));
        let colours = ladder(under.len(), over.len())?;
        let mut notes = Vec::new();
        if under.is_empty() && self.floor < -half {
            notes.push(format!("the floor is marked from {} stops down: nothing between holds a node", signed(-half)));
        }
        let mut list = vec![zone("floor", None, Fill::Colour(colours[0]))];
        for group in under.iter().rev() {
            list.push(zone(group.name(step), Some(group.far), Fill::Colour(colours[list.len()])));
        }
        list.push(zone("mid-grey", Some(-half), Fill::Colour(colours[list.len()])));
        for group in &over {
            list.push(zone(group.name(step), Some(group.near), Fill::Colour(colours[list.len()])));
        }
        let shared = under.iter().rev().chain(&over).filter(|g| g.first != g.last);
        notes.extend(shared.map(|g| {
            let why = match g.rest {
                Some(rest) => {
                    let (end, side) = if g.first < 0.0 { ("the floor", "over") } else { ("the clip", "under") };
                    format!(
                        "between {} stops and {end} the cube has no node, so these stops get the colour of the zone {side} them",
                        signed(rest)
                    )
                }
                None => "alone, one of them would hold no node of the cube".to_owned(),
            };
            format!("{} share a zone: {why}", g.name(step))
        }));
        let clip = zone("clip", Some(self.clip), Fill::Colour(colours[list.len()]));
        Ok(Zones { list, clip: Some(clip), notes })
    }

    /// The zones on one side of mid-grey, from mid-grey outward, each of as few steps as hold a node.
    fn outward(&self, step: f64, side: f64) -> Vec<Group> {
        let limit = if side < 0.0 { self.floor } else { self.clip_edge() };
        let mut groups: Vec<Group> = Vec::new();
        let mut open: Option<Group> = None;
        let mut k = 1.0;
        while side * limit > (k - 0.5) * step {
            let far = side * (side * limit).min((k + 0.5) * step);
            let near = side * (k - 0.5) * step;
            let group = open.take().map_or(Group { first: side * k, last: side * k, near, far, rest: None }, |group| {
                Group { last: side * k, far, ..group }
            });
            if self.holds(group.near.min(group.far), group.near.max(group.far)) {
                groups.push(group);
            } else {
                open = Some(group);
            }
            k += 1.0;
        }
        // What is left over belongs to the last one; where there is none, to the floor or to mid-grey.
        if let (Some(rest), Some(last)) = (open, groups.last_mut()) {
            (last.last, last.far, last.rest) = (rest.last, rest.far, Some(rest.near));
        }
        groups
    }

    fn key(&self, width: f64) -> Result<Zones, Invalid> {
        let half = 0.5 * width;
        if self.floor > -half || self.clip < 1.0 + half {
            let (floor, clip) = (signed(self.floor), signed(self.clip));
            let message =
                format!("mid-grey and the stop over it reach beyond the floor at {floor} or the clip at {clip}");
            return Err(Invalid::new("width", message));
        }
        if !self.holds(-half, half) || !self.holds(1.0 - half, 1.0 + half) {
            return Err(self.too_narrow("width", "a zone of the key"));
        }
        let mut list = vec![zone("picture", None, Fill::Picture)];
        list.push(signpost("mid-grey", Some(-half), Signpost::Grey));
        if half < 1.0 - half {
            if !self.holds(half, 1.0 - half) {
                return Err(self.too_narrow("width", "what lies between the zones of the key"));
            }
            list.push(zone("picture", Some(half), Fill::Picture));
        }
        list.push(signpost("+1", Some(1.0 - half), Signpost::Skin));
        list.push(zone("picture", Some(1.0 + half), Fill::Picture));
        Ok(Zones { list, clip: None, notes: Vec::new() })
    }

    fn clip(&self, near: f64) -> Result<Zones, Invalid> {
        let mut notes = Vec::new();
        let low = self.floor + near;
        let low = if self.holds(self.floor, low) {
            low
        } else {
            let widened = self.curve.stops_of(self.curve.signal_at(self.floor) + self.grid.step);
            notes.push(format!(
                "the mark near the floor ends at {} stops, the nearest node of the cube, not at {}",
                signed(widened),
                signed(low)
            ));
            widened
        };
        let (high, top) = (self.clip - near, self.clip_edge());
        let high = if self.holds(high, top) {
            high
        } else {
            let widened = self.curve.stops_of(self.curve.signal_at(top) - self.grid.step);
            notes.push(format!(
                "the mark near the clip begins at {} stops, the nearest node of the cube, not at {}",
                signed(widened),
                signed(high)
            ));
            widened
        };
        if !self.holds(low, high) {
            return Err(self.too_narrow("near", "what lies between near the floor and near the clip"));
        }
        let list = vec![
            signpost("floor", None, Signpost::Floor),
            signpost("near the floor", Some(self.floor), Signpost::Low),
            zone("picture", Some(low), Fill::Picture),
            signpost("near the clip", Some(high), Signpost::High),
        ];
        let clip = signpost("clip", Some(self.clip), Signpost::Clip);
        Ok(Zones { list, clip: Some(clip), notes })
    }

    fn range(&self, [low, high]: [f64; 2]) -> Result<Zones, Invalid> {
        if !self.holds(low, high) {
            return Err(self.too_narrow("window", "the window"));
        }
        for (what, stops) in [("lower", low), ("upper", high)] {
            if stops <= self.floor || stops >= self.clip_edge() {
                let (floor, clip) = (signed(self.floor), signed(self.clip_edge()));
                let message = format!(
                    "its {what} end, {}, is not between the floor and the clip, {floor} to {clip}",
                    signed(stops)
                );
                return Err(Invalid::new("window", message));
            }
        }
        let list = vec![
            signpost("under", None, Signpost::Low),
            zone("inside", Some(low), Fill::Picture),
            signpost("over", Some(high), Signpost::High),
        ];
        Ok(Zones { list, clip: Some(signpost("clip", Some(self.clip), Signpost::Clip)), notes: Vec::new() })
    }
}
