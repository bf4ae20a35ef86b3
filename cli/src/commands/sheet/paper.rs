//! The layout of a sheet on A4: which part is on which side, and how wide the pictures are. All measures are millimetres, as
//! the style of the page prints them.

use super::pictures::Pictures;
use rushlight::sheet::{CameraSheet, LookSheet, table_stops};

/// The area within the margins.
const WIDTH: f64 = 186.0;
const HEIGHT: f64 = 275.0;
/// The running title of a side, and the footer of the last one.
const RUNNING: f64 = 6.0;
const FOOTER: f64 = 7.0;
/// The heading and the notes of the pictures; of the cubes; the heading of the list of files.
const PICTURES: f64 = 13.0;
const CUBES: f64 = 14.0;
const FILES: f64 = 6.0;
/// The heading and the notes of the stop tables; the head of one of them.
const TABLES: f64 = 18.0;
const HEAD: f64 = 8.0;
/// The heading, the head and the note of the table of shots.
const SHOTS: f64 = 16.0;
/// A line of the table of cubes, one of the list of files, one of a stop table and one of the table of shots.
const CUBE: f64 = 3.6;
const SOURCE: f64 = 3.1;
const STOP: f64 = 3.6;
const SHOT: f64 = 3.6;
/// The notes of a shot, under its numbers.
const NOTED: f64 = 3.6;
/// Left free on a side, for notes that long names of cameras and displays make a line longer.
const SPARE: f64 = 14.0;
/// The caption of a column of pictures, in three lines, and the space between columns and rows.
const CAPTION: f64 = 9.0;
const GAP: f64 = 2.0;
/// Between two pictures of a column.
const SEAM: f64 = 0.8;
/// Narrower pictures show nothing: the sheet then has more than two sides.
const LEAST: f64 = 24.0;
/// Fewer columns are taken if the pictures get at least this many times as wide.
const WIDER: f64 = 1.4;
/// Displays in one stop table: a third would make the type smaller than 7 points.
pub(super) const TABLE_DISPLAYS: usize = 2;

/// A part of the sheet behind its first side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Part {
    Tables,
    Pictures,
    Shots,
    /// The cubes, and the files that the look was made from.
    Cubes,
}

/// The layout behind the first side.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Plan {
    /// The parts of each side, from the top.
    pub(super) sides: Vec<Vec<Part>>,
    /// Columns of pictures, and the width of each.
    pub(super) columns: usize,
    pub(super) picture: f64,
}

/// The heights and numbers from which a plan follows.
#[derive(Debug, Clone)]
struct Needs {
    tables: f64,
    /// 0 without shots.
    shots: f64,
    cubes: f64,
    /// For each camera its displays, and height over width of a column of its pictures.
    cameras: Vec<(usize, f64)>,
    /// Pictures in a column.
    pictures: usize,
}

/// The plan for a look, `displays` of each camera.
pub(super) fn plan(look: &LookSheet, displays: impl Fn(&CameraSheet) -> usize, pictures: &Pictures<'_>) -> Plan {
    let tables = look.displays.len().div_ceil(TABLE_DISPLAYS) as f64;
    let stops = table_stops().count() as f64;
    let noted = look.shots.iter().filter(|shot| shot.notes.is_some()).count();
    let camera = |camera: &CameraSheet| (displays(camera), pictures.aspect(&camera.name));
    let needs = Needs {
        tables: TABLES + tables * (HEAD + STOP * stops),
        shots: if look.shots.is_empty() { 0.0 } else { SHOTS + SHOT * look.shots.len() as f64 + NOTED * noted as f64 },
        cubes: CUBES + CUBE * look.cubes.len() as f64 + FILES + SOURCE * look.sources.len() as f64,
        cameras: look.cameras.iter().map(camera).collect(),
        pictures: pictures.count(),
    };
    needs.plan()
}

impl Plan {
    /// Pairs of before and after in a row.
    pub(super) fn pairs(&self) -> usize {
        pairs(self.columns)
    }
}

/// Pairs of before and after in a row: the log has the first column.
fn pairs(columns: usize) -> usize {
    (columns - 1) / 2
}

fn widest(columns: usize) -> f64 {
    (WIDTH - GAP * (columns - 1) as f64) / columns as f64
}

impl Needs {
    /// Rows of pictures of every camera, and the sum of their heights over the width of a picture.
    fn rows(&self, columns: usize) -> (f64, f64) {
        let rows =
            self.cameras.iter().map(|(displays, aspect)| (displays.div_ceil(pairs(columns)).max(1) as f64, aspect));
        rows.fold((0.0, 0.0), |(count, sum), (rows, aspect)| (count + rows, sum + rows * aspect))
    }

    /// The height of all pictures, each so wide.
    fn height(&self, columns: usize, picture: f64) -> f64 {
        let (rows, aspects) = self.rows(columns);
        PICTURES + rows * self.extra() + picture * aspects
    }

    /// The height of a row without its pictures.
    fn extra(&self) -> f64 {
        CAPTION + GAP + SEAM * (self.pictures - 1) as f64
    }

    /// The columns that give the widest pictures within a height, and their width.
    fn fitting(&self, height: f64) -> (usize, f64) {
        let most = self.cameras.iter().map(|(displays, _)| *displays).max().unwrap_or(1);
        let of = |columns: usize| {
            let (rows, aspects) = self.rows(columns);
            (columns, ((height - PICTURES - rows * self.extra()) / aspects).min(widest(columns)))
        };
        let (three, five) = (of(3), of(5));
        if most == 1 || three.1 >= WIDER * five.1 { three } else { five }
    }

    fn plan(&self) -> Plan {
        let shots = (self.shots > 0.0).then_some(Part::Shots);
        let all = [Some(Part::Tables), Some(Part::Pictures), shots, Some(Part::Cubes)].into_iter().flatten().collect();
        let room = HEIGHT - RUNNING - SPARE;
        let (columns, picture) = self.fitting(room - FOOTER - self.tables - self.shots - self.cubes);
        if picture >= LEAST {
            return Plan { sides: vec![all], columns, picture };
        }
        // Two sides, one for the tables and one for the pictures. The other parts go where there is more room, so that
        // neither side is nearly empty. A part that fits on neither has a side of its own.
        let (columns, widest) = self.fitting(room - FOOTER);
        let least = self.height(columns, LEAST.min(widest));
        let mut sides = vec![vec![Part::Tables], vec![Part::Pictures]];
        let mut used = [self.tables, self.height(columns, widest)];
        let mut beside_pictures = 0.0;
        let mut apart = Vec::new();
        for (part, height) in [(Part::Cubes, self.cubes), (Part::Shots, self.shots)] {
            if part == Part::Shots && shots.is_none() {
                continue;
            }
            let fits = [used[0] + height <= room, least + beside_pictures + height <= room - FOOTER];
            match fits {
                [true, false] => sides[0].push(part),
                [false, true] => sides[1].push(part),
                [true, true] => sides[usize::from(used[1] < used[0])].push(part),
                [false, false] => {
                    apart.push(vec![part]);
                    continue;
                }
            }
            let side = usize::from(sides[1].contains(&part));
            used[side] += height;
            beside_pictures += if side == 1 { height } else { 0.0 };
        }
        sides.extend(apart);
        let (columns, picture) = self.fitting(room - FOOTER - beside_pictures);
        // Where even the narrowest do not fit, the sheet gets longer.
        let picture = if picture < LEAST { self::widest(columns) } else { picture };
        Plan { sides, columns, picture }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The height of each side of a plan.
    fn heights(needs: &Needs, plan: &Plan) -> Vec<f64> {
        let part = |part: &Part| match part {
            Part::Tables => needs.tables,
            Part::Pictures => needs.height(plan.columns, plan.picture),
            Part::Shots => needs.shots,
            Part::Cubes => needs.cubes,
        };
        plan.sides.iter().map(|side| RUNNING + side.iter().map(part).sum::<f64>()).collect()
    }

    fn needs(cameras: usize, displays: usize, frames: usize, shots: usize) -> Needs {
        Needs {
            tables: TABLES + displays.div_ceil(TABLE_DISPLAYS) as f64 * (HEAD + STOP * 15.0),
            shots: if shots == 0 { 0.0 } else { SHOTS + SHOT * shots as f64 },
            cubes: CUBES + CUBE * (cameras * displays) as f64 + FILES + SOURCE * 4.0,
            cameras: vec![(displays, 0.35 + 0.5625 * frames as f64); cameras],
            pictures: frames + 1,
        }
    }

    #[test]
    fn no_side_is_half_empty_and_none_runs_over() {
        for (cameras, displays, frames, shots) in [
            (1, 3, 1, 0),
            (2, 3, 1, 0),
            (2, 3, 1, 8),
            (3, 3, 1, 4),
            (1, 4, 1, 0),
            (2, 4, 1, 0),
            (2, 2, 1, 3),
            (1, 3, 0, 0),
        ] {
            let needs = needs(cameras, displays, frames, shots);
            let plan = needs.plan();
            let name = format!("{cameras} cameras, {displays} displays, {frames} frames, {shots} shots: {plan:?}");
            let parts: usize = plan.sides.iter().map(Vec::len).sum();
            assert_eq!(parts, 3 + usize::from(shots > 0), "{name}");
            assert!(plan.picture >= LEAST, "{name}");
            for height in heights(&needs, &plan) {
                assert!(height > 0.5 * HEIGHT && height <= HEIGHT, "{height:.0} of {HEIGHT}: {name}");
            }
        }
    }

    #[test]
    fn a_long_list_of_shots_has_sides_of_its_own() {
        let plan = needs(2, 2, 1, 100).plan();
        assert_eq!(plan.sides.last().map(Vec::as_slice), Some(&[Part::Shots][..]));
    }
}
