//! What was found in a frame, drawn.

use super::Found;
use crate::drawing::mosaic::{Mosaic, Outline};

/// Cells across the picture.
const CELLS: usize = 192;
/// A patch that differs by more than this is marked.
const FAR: f64 = 4.0;

/// The first frame, with every patch that was read and its name.
pub(super) fn picture(found: &Found) -> Mosaic {
    let read = &found.reads[0];
    let frame = &read.frame;
    let step = frame.width().div_ceil(CELLS).max(1);
    let (columns, rows) = (frame.width().div_ceil(step), frame.height().div_ceil(step));
    let cells = (0..columns * rows)
        .map(|i| {
            let (left, top) = (i % columns * step, i / columns * step);
            let (mut sum, mut count) = ([0.0; 3], 0.0);
            for y in top..(top + step).min(frame.height()) {
                for x in left..(left + step).min(frame.width()) {
                    let rgb = frame.rgb(x, y);
                    (0..3).for_each(|c| sum[c] += f64::from(rgb[c]));
                    count += 1.0;
                }
            }
            sum.map(|v| v / f64::max(count, 1.0))
        })
        .collect();
    let first = &found.colours.frames[0];
    let outlines = found
        .chart
        .patches
        .iter()
        .enumerate()
        .map(|(i, patch)| {
            let colour = match first.used[i] {
                false => Outline::BAD,
                true if first.after[i] > FAR => Outline::OTHER,
                true => Outline::FOUND,
            };
            let label = if i == 0 { format!("1 {}", patch.name) } else { format!("{} {:.1}", i + 1, first.after[i]) };
            Outline { corners: read.shot.view.squares[i].to_vec(), colour, dashed: !first.used[i], label }
        })
        .collect();
    Mosaic {
        title: format!("The chart as it was found: {}", found.chart.name),
        subtitle: format!("{} in {}, signal as it is", read.shot.name, read.shot.light.name),
        size: [frame.width(), frame.height()],
        step,
        columns,
        cells,
        outlines,
        notes: vec![
            "Each square must lie within one patch, and 1 on the chart's first. Numbers: CIEDE2000 that the fitted matrix leaves; yellow above 4; red and dashed: not used.".to_owned(),
        ],
    }
}
