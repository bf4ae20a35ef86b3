//! Draws a frame as coarse cells of its signal, with the found patches outlined.

use super::svg::{Canvas, Paint, Text};
use super::{Drawing, Unit, theme};

/// Width of the picture, in pixels.
const WIDTH: f64 = 960.0;
/// Text within the picture has this around it, so that it can be read on any ground.
const HALO: &str = "#000000";

#[derive(Debug, Clone)]
pub(crate) struct Mosaic {
    pub(crate) title: String,
    pub(crate) subtitle: String,
    /// Pixels of the frame.
    pub(crate) size: [usize; 2],
    /// Pixels of a cell along each edge, and cells across.
    pub(crate) step: usize,
    pub(crate) columns: usize,
    /// Signal of each cell, red, green, blue, 0 to 1, row after row.
    pub(crate) cells: Vec<[f64; 3]>,
    pub(crate) outlines: Vec<Outline>,
    pub(crate) notes: Vec<String>,
}

/// A closed line in the frame.
#[derive(Debug, Clone)]
pub(crate) struct Outline {
    /// Pixels from the upper left corner.
    pub(crate) corners: Vec<[f64; 2]>,
    pub(crate) colour: &'static str,
    pub(crate) dashed: bool,
    /// Written at its middle.
    pub(crate) label: String,
}

impl Outline {
    pub(crate) const FOUND: &'static str = "#ffffff";
    pub(crate) const OTHER: &'static str = "#ffd24a";
    pub(crate) const BAD: &'static str = "#ff6a5e";

    /// A rectangle of pixels.
    pub(crate) fn rect([x, y, w, h]: [usize; 4], colour: &'static str, label: String) -> Self {
        let ([x0, y0], [x1, y1]) = ([x as f64, y as f64], [(x + w) as f64, (y + h) as f64]);
        Self { corners: vec![[x0, y0], [x1, y0], [x1, y1], [x0, y1]], colour, dashed: false, label }
    }
}

impl Mosaic {
    pub(crate) fn draw(&self) -> Drawing {
        let scale = WIDTH / self.size[0] as f64;
        let height = self.size[1] as f64 * scale;
        let notes: Vec<String> = self.notes.iter().flat_map(|n| theme::BODY.wrap(n, WIDTH)).collect();
        let line = 1.4 * theme::BODY.size;
        let top = theme::GAP + theme::HEADING.size + 2.0 * line;
        let all = top + height + theme::GAP + notes.len() as f64 * line + theme::GAP;
        let mut canvas = Canvas::new(&self.title, WIDTH + 2.0 * theme::GAP, all, Unit::Px);
        canvas.text([theme::GAP, theme::GAP + theme::HEADING.size], &self.title, &theme::HEADING);
        canvas.text([theme::GAP, theme::GAP + theme::HEADING.size + line], &self.subtitle, &theme::BODY);
        canvas.window([theme::GAP, top], [WIDTH, height], |canvas| {
            let edge = self.step as f64 * scale;
            for (i, cell) in self.cells.iter().enumerate() {
                let [r, g, b] = cell.map(|v| (255.0 * v.clamp(0.0, 1.0)).round() as u8);
                let at = [(i % self.columns) as f64 * edge, (i / self.columns) as f64 * edge];
                // A little larger than a cell, so that no seams show.
                canvas.rect(at, [edge + 0.4, edge + 0.4], &Paint::fill(&format!("#{r:02x}{g:02x}{b:02x}")));
            }
            for outline in &self.outlines {
                let mut line: Vec<[f64; 2]> = outline.corners.iter().map(|c| c.map(|v| v * scale)).collect();
                line.extend(line.first().copied());
                let dash: &[f64] = if outline.dashed { &[7.0, 5.0] } else { &[] };
                canvas.polyline(&line, &Paint::stroke(HALO, 3.6));
                canvas.polyline(&line, &Paint { dash, ..Paint::stroke(outline.colour, 1.8) });
            }
            for outline in self.outlines.iter().filter(|o| !o.label.is_empty()) {
                self.label(canvas, outline, scale);
            }
        });
        for (i, note) in notes.iter().enumerate() {
            canvas.text([theme::GAP, top + height + theme::GAP + (i as f64 + 0.7) * line], note, &theme::BODY);
        }
        canvas.finish()
    }

    fn label(&self, canvas: &mut Canvas, outline: &Outline, scale: f64) {
        let count = outline.corners.len().max(1) as f64;
        let middle = [0, 1].map(|i| outline.corners.iter().map(|c| c[i]).sum::<f64>() / count * scale);
        let set = Text { size: 11.0, bold: true, colour: outline.colour, ..Text::PLAIN };
        let width = set.width_of(&outline.label);
        let at = [(middle[0] - width / 2.0).max(2.0), middle[1] + 4.0];
        let ground = Paint { opacity: Some(0.6), ..Paint::fill(HALO) };
        canvas.rect([at[0] - 3.0, at[1] - 11.0], [width + 6.0, 15.0], &ground);
        canvas.text(at, &outline.label, &set);
    }
}
