//! Where the patch lies, drawn.

use super::{Findings, Measured, Title};
use crate::drawing::mosaic::{Mosaic, Outline};
use rushlight::measure::patch::Patch;

fn outline(patch: &Patch, colour: &'static str, label: String) -> Outline {
    Outline::rect([patch.x, patch.y, patch.width, patch.height], colour, label)
}

/// The frame nearest to mid-grey of the first bracket, with its patch and the next best.
pub(super) fn picture(findings: &Findings, title: &Title<'_>) -> Mosaic {
    let Measured { ei, bracket, .. } = &findings.measured[0];
    let middle = &bracket.middle;
    let mut outlines = vec![outline(&bracket.patch, Outline::FOUND, "measured".to_owned())];
    if let Some(other) = bracket.choice.as_ref().and_then(|c| c.runner_up.as_ref()) {
        let label = format!("next best, {:+.2} stops", other.stops);
        outlines.push(Outline { dashed: true, ..outline(&other.patch, Outline::OTHER, label) });
    }
    Mosaic {
        title: format!("Measured patch: {}", title.of(&ei.iter().copied().collect::<Vec<_>>())),
        subtitle: format!("frame {}, signal as it is", middle.name),
        size: middle.size,
        step: middle.step,
        columns: middle.columns,
        cells: middle.means.clone(),
        outlines,
        notes: vec![
            "The patch must lie wholly on the card, and on nothing else. Give another by --patch X,Y,W,H.".to_owned(),
        ],
    }
}

/// Columns and most rows of the map of a report.
const MAP: [usize; 2] = [48, 14];

/// The frame as letters: `#` is the patch, `o` the next best, `.` the rest.
pub(super) fn map(measured: &Measured) -> Vec<String> {
    let [width, height] = measured.bracket.size;
    // A letter is about twice as high as it is wide.
    let rows = (MAP[0] * height / width / 2).clamp(3, MAP[1]);
    let columns = (rows * 2 * width / height).clamp(6, 2 * MAP[0]).min(66);
    let other = measured.bracket.choice.as_ref().and_then(|c| c.runner_up.as_ref()).map(|r| r.patch);
    let inside = |p: &Patch, x: usize, y: usize| x >= p.x && x < p.x + p.width && y >= p.y && y < p.y + p.height;
    let letter = |row: usize, column: usize| {
        let (x, y) = ((2 * column + 1) * width / (2 * columns), (2 * row + 1) * height / (2 * rows));
        match other {
            _ if inside(&measured.bracket.patch, x, y) => '#',
            Some(other) if inside(&other, x, y) => 'o',
            _ => '.',
        }
    };
    (0..rows).map(|row| (0..columns).map(|column| letter(row, column)).collect()).collect()
}
