//! The stop table: where each stop of a camera lies in its signal at one exposure index.

use super::{HIGHLIGHT, MARGIN};
use crate::camera::{Camera, FLOOR_STOPS, Range, Rating};
use crate::invalid::{Invalid, Refusals};
use crate::math::{exp2, log2};
use crate::transfer::{MID_GREY, Transfer};
use schemars::JsonSchema;
use serde::Serialize;

/// Stops over mid-grey at which skin is set (common practice, no source: between one half and one and a half).
pub const SKIN: f64 = 1.0;
/// Reflectance of the white that makers give code values for.
pub const WHITE: f64 = 0.9;
/// One code value of 10 bits.
const CODE: f64 = 1.0 / 1023.0;
/// Stops within which a step of the table and its floor, its white or its clip are one row.
const SAME: f64 = 1e-6;
/// Stops by which a measured clip may miss what another rating's clip leads to expect, before it is noted.
const SAME_SENSOR: f64 = 0.25;

/// A place on a camera's curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Level {
    /// Stops from mid-grey.
    pub stops: f64,
    /// Scene reflectance; 0.18 is mid-grey.
    pub light: f64,
    /// Code value over 1023.
    pub signal: f64,
    /// Percent of full range: 0 is code 0, 100 the largest code.
    pub percent_full: f64,
    /// Percent of legal range: 0 is code 64 of 10 bits, 100 is code 940.
    pub percent_legal: f64,
    /// Code value of 10 bits.
    pub code_10: f64,
    /// Code value of 12 bits.
    pub code_12: f64,
}

/// What sets an end of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Limit {
    /// The rating says so.
    Rating,
    /// Another rating says so, moved by the ratio of the two exposure indices.
    Extrapolated,
    /// Nothing is known of the sensor: the curve itself ends here. At the top that is the end of its signal, at the bottom
    /// one code value of 10 bits over black. The sensor clips no later, and is usable no deeper.
    Curve,
}

impl Limit {
    /// The name in reports.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Rating => "rating",
            Self::Extrapolated => "extrapolated",
            Self::Curve => "curve",
        }
    }
}

/// Where a camera clips and how deep it is usable at one rating.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ends {
    /// The exposure index; none for a camera without ratings.
    pub ei: Option<f64>,
    /// The lowest usable level, and what says so.
    pub floor: (Level, Limit),
    /// The level of the clip, and what says so.
    pub clip: (Level, Limit),
}

/// A rating that is not in the show, worked out from the nearest one that is: at a fixed sensor, each doubling of the EI
/// moves one stop from below mid-grey to above it (common practice, no source). Not so between the bases of a sensor that
/// has two. A clip beyond the curve's end is dropped, and so becomes the end of the curve.
///
/// # Errors
/// Under `ei`: no rating to start from, or one so far off that nothing is left under mid-grey.
pub fn extrapolate(camera: &Camera, ei: f64) -> Result<(Rating, f64), Invalid> {
    crate::camera::EI.check(ei)?;
    let apart = |r: &Rating| log2(ei / r.ei).abs();
    let nearest = camera.ratings().iter().min_by(|a, b| apart(a).total_cmp(&apart(b)));
    let base = nearest
        .ok_or_else(|| Invalid::new("ei", "the camera has no rating to extrapolate from: add one to the show"))?;
    let moved = log2(ei / base.ei);
    let curve = Curve::of(camera, Some(base.ei));
    let target = Curve::of(camera, Some(ei));
    let clip = base.clip.map(|clip| target.signal_at(curve.stops_of(clip) + moved)).filter(|c| *c < target.top());
    let floor_stops = base.floor_stops.map(|floor| floor + moved);
    if let Some(floor) = floor_stops.filter(|f| FLOOR_STOPS.check(*f).is_err()) {
        return Err(Invalid::new(
            "ei",
            format!(
                "extrapolated from EI {}, the floor would lie at {floor:+.1} stops: add a rating for this EI",
                base.ei
            ),
        ));
    }
    if clip.is_some_and(|clip| clip <= target.signal_at(0.0)) {
        return Err(Invalid::new(
            "ei",
            format!("extrapolated from EI {}, the clip would lie below mid-grey: add a rating for this EI", base.ei),
        ));
    }
    Ok((Rating { ei, clip, floor_stops }, base.ei))
}

/// A camera's curve at one exposure index, in stops and signal.
#[derive(Debug, Clone, Copy)]
pub(super) struct Curve<'c> {
    transfer: &'c dyn Transfer,
    pub(super) range: Range,
}

impl<'c> Curve<'c> {
    /// The curve that the rating has of its own, or else the camera's.
    pub(super) fn of(camera: &'c Camera, ei: Option<f64>) -> Self {
        let own = ei.and_then(|ei| camera.curve_at(ei));
        Self { transfer: own.unwrap_or(camera.curve()), range: camera.range() }
    }

    pub(super) fn light_of(&self, signal: f64) -> f64 {
        self.transfer.decode(self.range.decode(signal))
    }

    pub(super) fn signal_of(&self, light: f64) -> f64 {
        self.range.encode(self.transfer.encode(light))
    }

    pub(super) fn signal_at(&self, stops: f64) -> f64 {
        self.signal_of(MID_GREY * exp2(stops))
    }

    /// Stops of a signal above black.
    pub(super) fn stops_of(&self, signal: f64) -> f64 {
        log2(self.light_of(signal) / MID_GREY)
    }

    /// The signal at which the curve ends.
    fn top(&self) -> f64 {
        self.range.encode(self.transfer.top())
    }

    fn level(&self, stops: f64, light: f64, signal: f64) -> Level {
        let range = self.range;
        Level {
            stops,
            light,
            signal,
            percent_full: 100.0 * signal,
            percent_legal: 100.0 * Range::Legal.decode(signal),
            code_10: range.code(signal, 10),
            code_12: range.code(signal, 12),
        }
    }

    fn at(&self, stops: f64) -> Level {
        let light = MID_GREY * exp2(stops);
        self.level(stops, light, self.signal_of(light))
    }

    fn at_signal(&self, signal: f64) -> Level {
        self.level(self.stops_of(signal), self.light_of(signal), signal)
    }
}

impl Ends {
    /// Of a rating of `camera`; none: of the camera's curve alone.
    ///
    /// # Errors
    /// Under `curve`: a curve that ends at or under mid-grey, or has none between black and mid-grey.
    pub fn of(camera: &Camera, rating: Option<&Rating>, extrapolated: bool) -> Result<Self, Invalid> {
        let ei = rating.map(|r| r.ei);
        let curve = Curve::of(camera, ei);
        let said = if extrapolated { Limit::Extrapolated } else { Limit::Rating };
        let clip = match rating.and_then(|r| r.clip) {
            Some(signal) => (curve.at_signal(signal), said),
            None => (curve.at_signal(curve.top()), Limit::Curve),
        };
        let floor = match rating.and_then(|r| r.floor_stops) {
            Some(stops) => (curve.at(stops), said),
            None => (curve.at_signal(curve.signal_of(0.0) + CODE), Limit::Curve),
        };
        let grey = curve.signal_at(0.0);
        if !(clip.0.signal > grey && clip.0.stops > 0.0) {
            let end = clip.0.signal;
            return Err(Invalid::new("curve", format!("it ends at {end:.4}, not above mid-grey at {grey:.4}")));
        }
        if !(floor.0.signal <= grey && floor.0.stops <= 0.0) {
            return Err(Invalid::new("curve", "it has no code value of 10 bits between black and mid-grey"));
        }
        Ok(Self { ei, floor, clip })
    }
}

/// What a row of the table stands for besides its stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Mark {
    /// The lowest usable stop.
    Floor,
    /// Mid-grey.
    Grey,
    /// Skin: a stop over mid-grey.
    Skin,
    /// A white of 90 %.
    White,
    /// The clip.
    Clip,
}

impl Mark {
    /// The name in reports.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Floor => "floor",
            Self::Grey => "grey",
            Self::Skin => "skin",
            Self::White => "white",
            Self::Clip => "clip",
        }
    }
}

/// A row of the table.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Row {
    /// What it stands for.
    pub mark: Option<Mark>,
    /// Where it lies.
    #[serde(flatten)]
    pub level: Level,
}

/// What a stop table is asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Rows to the stop: 1, 2 or 3.
    pub per_stop: u32,
    /// A highlight that must not clip, in stops over mid-grey as first exposed ([`HIGHLIGHT`]).
    pub highlight: f64,
    /// Headroom below the clip, in stops ([`MARGIN`]).
    pub margin: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self { per_stop: 1, highlight: HIGHLIGHT.default, margin: MARGIN.default }
    }
}

/// `per_stop` if a table may have that many rows to the stop.
///
/// # Errors
/// A refusal under `per-stop`.
pub fn check_per_stop(per_stop: u32) -> Result<u32, Invalid> {
    if (1..=3).contains(&per_stop) {
        return Ok(per_stop);
    }
    Err(Invalid::new("per-stop", format!("{per_stop}: it must be 1, 2 or 3 rows to the stop")))
}

/// Where each stop lies at one rating, from the floor to the clip.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct StopTable {
    /// The exposure index; none for a camera without ratings.
    pub ei: Option<f64>,
    /// The exposure index from which this one was extrapolated.
    pub extrapolated_from: Option<f64>,
    /// Whether the curve has constants of its own at this exposure index.
    pub own_curve: bool,
    /// The curve is published by exposure index, but not for this one: the camera's own curve stands in.
    pub lacks_curve: bool,
    /// Mid-grey.
    pub grey: Level,
    /// Skin: one stop over mid-grey.
    pub skin: Level,
    /// A white of 90 %.
    pub white: Level,
    /// The lowest usable level.
    pub floor: Level,
    /// What says where the floor is.
    pub floor_from: Limit,
    /// The clip.
    pub clip: Level,
    /// What says where the clip is.
    pub clip_from: Limit,
    /// Stops from mid-grey up to the clip.
    pub above: f64,
    /// Stops from the floor up to mid-grey.
    pub below: f64,
    /// Stops by which the whole exposure may be opened up before the highlight comes within the margin of the clip; below
    /// zero, by how much it must be closed down.
    pub open_up: f64,
    /// How far the clip lies from where the rating before it leads to expect a fixed sensor's, where that is more than a
    /// quarter of a stop.
    pub unlike: Option<Unlike>,
    /// A row a step, with the floor, the skin, the white and the clip among them.
    pub rows: Vec<Row>,
}

/// A measured clip that is not where another rating's clip, moved by the ratio of the two indices, would be.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Unlike {
    /// The other rating.
    pub ei: f64,
    /// Stops from the expected clip to the measured one.
    pub stops: f64,
}

impl StopTable {
    /// The tables of every rating of `camera`, in order of exposure index; of its curve alone where it has no rating.
    ///
    /// # Errors
    /// Settings out of their bounds; as [`Ends::of`].
    pub fn all(camera: &Camera, settings: &Settings) -> Result<Vec<Self>, Refusals> {
        let mut ratings: Vec<&Rating> = camera.ratings().iter().collect();
        ratings.sort_by(|a, b| a.ei.total_cmp(&b.ei));
        let mut tables = if ratings.is_empty() {
            vec![Self::of(camera, None, None, settings)?]
        } else {
            let tables = ratings.iter().map(|r| Self::of(camera, Some(r), None, settings));
            tables.collect::<Result<Vec<_>, _>>()?
        };
        for i in 1..tables.len() {
            let (before, here) = (&tables[i - 1], &tables[i]);
            if let (Limit::Rating, Limit::Rating, Some(from), Some(ei)) =
                (before.clip_from, here.clip_from, before.ei, here.ei)
            {
                let ends = |t: &Self| Curve::of(camera, t.ei).top();
                let end = Curve::of(camera, here.ei).stops_of(ends(here));
                let stops = here.above - (before.above + log2(ei / from)).min(end);
                // Where the signal ends before the sensor clips, the sensor may clip at any light above.
                let open = before.clip.signal > ends(before) - CODE && stops > 0.0;
                tables[i].unlike = Some(Unlike { ei: from, stops }).filter(|u| !open && u.stops.abs() > SAME_SENSOR);
            }
        }
        Ok(tables)
    }

    /// The table of one rating, which may be extrapolated from another; without a rating, of the camera's curve alone.
    ///
    /// # Errors
    /// As [`all`](Self::all).
    pub fn of(
        camera: &Camera,
        rating: Option<&Rating>,
        extrapolated_from: Option<f64>,
        settings: &Settings,
    ) -> Result<Self, Refusals> {
        let mut refusals = Refusals::new();
        refusals.extend(check_per_stop(settings.per_stop).err());
        refusals.bound(&HIGHLIGHT, settings.highlight);
        refusals.bound(&MARGIN, settings.margin);
        refusals.finish(|| ())?;
        let ends = Ends::of(camera, rating, extrapolated_from.is_some()).map_err(Refusals::from)?;
        let curve = Curve::of(camera, ends.ei);
        let (floor, clip) = (ends.floor.0, ends.clip.0);
        Ok(Self {
            ei: ends.ei,
            extrapolated_from,
            own_curve: ends.ei.is_some_and(|ei| camera.curve_at(ei).is_some()),
            lacks_curve: ends.ei.is_some_and(|ei| camera.lacks_curve_at(ei)),
            grey: curve.at(0.0),
            skin: curve.at(SKIN),
            white: curve.at(log2(WHITE / MID_GREY)),
            floor,
            floor_from: ends.floor.1,
            clip,
            clip_from: ends.clip.1,
            above: clip.stops,
            below: -floor.stops,
            open_up: clip.stops - settings.margin - settings.highlight,
            unlike: None,
            rows: rows(&curve, floor, clip, settings.per_stop),
        })
    }
}

/// The rows from the floor to the clip.
fn rows(curve: &Curve<'_>, floor: Level, clip: Level, per_stop: u32) -> Vec<Row> {
    let n = f64::from(per_stop);
    // Both lie within 20 stops or so of mid-grey, whatever the curve: at most a few hundred rows.
    let (first, last) =
        ((floor.stops * n).ceil().max(-100.0 * n) as i32, (clip.stops * n).floor().min(100.0 * n) as i32);
    let mark = |step: i32| match step {
        0 => Some(Mark::Grey),
        s if f64::from(s) == SKIN * n => Some(Mark::Skin),
        _ => None,
    };
    let mut rows: Vec<Row> =
        (first..=last).map(|step| Row { mark: mark(step), level: curve.at(f64::from(step) / n) }).collect();
    let white = curve.at(log2(WHITE / MID_GREY));
    let ends = [(Mark::Floor, floor), (Mark::White, white), (Mark::Clip, clip)];
    for (mark, level) in ends.into_iter().filter(|(_, l)| l.stops <= clip.stops && l.stops >= floor.stops) {
        // A step that falls on the floor, the white or the clip is that.
        match rows.iter_mut().find(|r| r.mark.is_none() && (r.level.stops - level.stops).abs() < SAME) {
            Some(row) => *row = Row { mark: Some(mark), level },
            None => rows.push(Row { mark: Some(mark), level }),
        }
    }
    rows.sort_by(|a, b| a.level.stops.total_cmp(&b.level.stops));
    rows
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gamut::named_gamut;
    use crate::transfer::encoding;

    fn camera(range: Range, ratings: Vec<Rating>) -> Camera {
        let curve = encoding("slog3").unwrap().build(None).unwrap();
        Camera::new(curve, &named_gamut("sgamut3-cine").unwrap().gamut, None, range, ratings).unwrap()
    }

    fn table(camera: &Camera, settings: &Settings) -> StopTable {
        StopTable::all(camera, settings).unwrap().remove(0)
    }

    #[test]
    fn without_a_rating_the_curve_itself_ends_the_table() {
        for range in Range::ALL {
            let table = table(&camera(range, vec![]), &Settings::default());
            assert_eq!((table.ei, table.clip_from, table.floor_from), (None, Limit::Curve, Limit::Curve));
            assert_eq!(table.clip.signal, range.encode(1.0));
            // The sensor's black is code 95 of the curve's own 0 to 1023; the floor is a code of the signal above it.
            let black = range.encode(95.0 / 1023.0);
            assert!((table.floor.signal - black - 1.0 / 1023.0).abs() < 1e-15);
            assert!(table.rows[0].mark == Some(Mark::Floor) && table.rows.last().unwrap().mark == Some(Mark::Clip));
        }
    }

    #[test]
    fn rows_stand_in_order_at_their_stops() {
        let rating = Rating { ei: 800.0, clip: Some(0.866), floor_stops: Some(-7.5) };
        for per_stop in 1..=3 {
            let table = table(&camera(Range::Full, vec![rating]), &Settings { per_stop, ..Settings::default() });
            let n = f64::from(per_stop);
            let steps: Vec<&Row> =
                table.rows.iter().filter(|r| ((r.level.stops * n).round() - r.level.stops * n).abs() < 1e-12).collect();
            assert!(table.rows.windows(2).all(|w| w[0].level.signal <= w[1].level.signal), "{per_stop}");
            // From -7.5 to +5.997.
            assert!(steps.len() >= (13.0 * n) as usize, "{per_stop}: {}", steps.len());
            for row in &table.rows {
                let Level { stops, light, signal, .. } = row.level;
                assert!((log2(light / MID_GREY) - stops).abs() < 1e-12);
                assert!((camera(Range::Full, vec![]).linearise([signal; 3])[0] / light - 1.0).abs() < 1e-9);
            }
        }
        assert!(check_per_stop(0).is_err() && check_per_stop(4).is_err());
    }

    /// The signal of S-Log3 ends at +7.74 stops: what a sensor of one base does above that is not seen.
    #[test]
    fn a_clip_at_the_end_of_the_signal_is_no_second_base() {
        let unlike = |clips: [f64; 2]| {
            let rating = |ei, clip| Rating { ei, clip: Some(clip), floor_stops: None };
            let camera = camera(Range::Full, vec![rating(800.0, clips[0]), rating(3200.0, clips[1])]);
            StopTable::all(&camera, &Settings::default()).unwrap()[1].unlike.map(|u| u.stops)
        };
        assert_eq!(unlike([0.95, 1.0]), None, "expected at +9.09, which the signal does not reach");
        assert_eq!(unlike([1.0, 1.0]), None);
        let early = unlike([0.95, 0.9]).unwrap();
        assert!(early < -1.0, "{early}: under the end of the signal");
        let open = Rating { ei: 800.0, clip: Some(1.0), floor_stops: None };
        let lower = Rating { ei: 400.0, clip: Some(0.95), floor_stops: None };
        let camera = camera(Range::Full, vec![lower, open]);
        let tables = StopTable::all(&camera, &Settings::default()).unwrap();
        assert_eq!((tables[0].ei, tables[1].unlike), (Some(400.0), None), "{:?}", tables[1].unlike);
    }

    #[test]
    fn opening_up_brings_the_highlight_to_the_clip_less_its_margin() {
        let rating = Rating { ei: 800.0, clip: Some(0.866), floor_stops: None };
        let camera = camera(Range::Full, vec![rating]);
        let open = |highlight, margin| table(&camera, &Settings { highlight, margin, per_stop: 1 }).open_up;
        let clip = table(&camera, &Settings::default()).above;
        assert!((open(4.0, 0.0) - (clip - 4.0)).abs() < 1e-12);
        assert!((open(4.0, 0.5) - (clip - 4.5)).abs() < 1e-12);
        assert!(open(7.0, 0.0) < 0.0, "a highlight over the clip asks for less");
        let refused =
            StopTable::all(&camera, &Settings { per_stop: 9, highlight: f64::NAN, margin: -1.0 }).unwrap_err();
        assert_eq!(refused.iter().map(|r| r.key.as_str()).collect::<Vec<_>>(), ["per-stop", "highlight", "margin"]);
    }

    #[test]
    fn a_rating_is_extrapolated_from_the_nearest_one() {
        let at = |ei, clip_stops: f64, floor| {
            let camera = camera(Range::Full, vec![]);
            let signal = camera.curve().encode(0.18 * exp2(clip_stops));
            Rating { ei, clip: Some(signal), floor_stops: Some(floor) }
        };
        let camera = camera(Range::Full, vec![at(100.0, 3.0, -7.0), at(3200.0, 6.0, -6.0)]);
        let (rating, from) = extrapolate(&camera, 400.0).unwrap();
        let table = StopTable::of(&camera, Some(&rating), Some(from), &Settings::default()).unwrap();
        assert_eq!((from, table.clip_from), (100.0, Limit::Extrapolated));
        assert!((table.above - 5.0).abs() < 1e-9 && (table.below - 5.0).abs() < 1e-9, "{table:?}");
        assert_eq!(extrapolate(&camera, 1600.0).unwrap().1, 3200.0);
        // Two stops over 3200 the clip would lie at +8, where the curve has ended.
        assert_eq!(extrapolate(&camera, 12800.0).unwrap().0.clip, None);
        assert!(
            extrapolate(&camera, 1e6).is_err()
                && extrapolate(&camera, 0.0).is_err()
                && extrapolate(&camera, 5.0).is_err()
        );
    }
}
