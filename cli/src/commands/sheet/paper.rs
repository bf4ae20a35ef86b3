//! What fits on a side of A4: all measures in millimetres, as the style of the page prints them.

use super::pictures::Pictures;
use rushlight::sheet::{CameraSheet, LookSheet, table_stops};

/// What the margins leave.
const WIDTH: f64 = 186.0;
const HEIGHT: f64 = 275.0;
/// Everything on the side of the pictures but the pictures and the lines of the tables.
const FIXED: f64 = 46.0;
/// A line of the table of cubes, one of the list of files, one of a stop table and one of the table of shots.
const CUBE: f64 = 3.6;
const SOURCE: f64 = 3.1;
const STOP: f64 = 3.6;
const SHOT: f64 = 3.6;
/// The heading, the head and the notes of a stop table and of the table of shots.
const TABLE: f64 = 26.0;
const SHOTS: f64 = 16.0;
/// The caption of a column of pictures, in two lines, and the space between columns and rows.
const CAPTION: f64 = 6.0;
const GAP: f64 = 2.0;
/// Between two pictures of a column.
const SEAM: f64 = 0.8;
/// Narrower pictures show nothing: the sheet then has more than two sides.
const LEAST: f64 = 24.0;
/// Displays in one stop table: a third would make the type smaller than 7 points.
pub(super) const TABLE_DISPLAYS: usize = 2;

/// How the side of the pictures is laid out.
pub(super) struct Plan {
    /// Columns of pictures, and how wide each may be.
    pub(super) columns: usize,
    pub(super) picture: f64,
    /// Whether the stop tables have a side, and whether the shots have one.
    pub(super) tables_apart: bool,
    pub(super) shots_apart: bool,
}

/// The plan for a look, `displays` of each camera.
pub(super) fn plan(look: &LookSheet, displays: impl Fn(&CameraSheet) -> usize, pictures: &Pictures<'_>) -> Plan {
    let most = look.cameras.iter().map(&displays).max().unwrap_or(1);
    // The log, then a pair for each display, two pairs a row.
    let columns = if most > 1 { 5 } else { 3 };
    let rows = |camera: &CameraSheet| displays(camera).div_ceil(2).max(1) as f64;
    let count: f64 = look.cameras.iter().map(rows).sum();
    let aspects: f64 = look.cameras.iter().map(|c| rows(c) * pictures.aspect(&c.name)).sum();
    let tables_apart = look.displays.len() > TABLE_DISPLAYS;
    let stops = table_stops().count() as f64;
    let table = if tables_apart { 0.0 } else { TABLE + STOP * stops };
    let noted = look.shots.iter().filter(|shot| shot.notes.is_some()).count();
    let shots = if look.shots.is_empty() { 0.0 } else { SHOTS + SHOT * (look.shots.len() + noted) as f64 };
    let seams = SEAM * (pictures.count() - 1) as f64;
    let lines = CUBE * look.cubes.len() as f64 + SOURCE * look.sources.len() as f64;
    let room = HEIGHT - FIXED - lines - table - count * (CAPTION + GAP + seams);
    let widest = (WIDTH - GAP * (columns - 1) as f64) / columns as f64;
    let shots_apart = shots > 0.0 && (room - shots) / aspects < LEAST;
    let fits = if shots_apart { room } else { room - shots } / aspects;
    let picture = if fits < LEAST { widest } else { fits.min(widest) };
    Plan { columns, picture, tables_apart, shots_apart }
}
