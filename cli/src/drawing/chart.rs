//! Charts: panels of lines and dots over labelled axes, with a legend each and notes below.
//!
//! Our own, since lines must be true to a hundredth of a pixel: common plotting crates draw on whole pixels, which makes
//! stairs of smooth curves in an SVG file.

mod axis;

pub(crate) use axis::Axis;

use super::svg::{Anchor, Canvas, Paint};
use super::{Drawing, Unit, theme};
use axis::{Scale, Tick};

#[derive(Debug, Clone)]
pub(crate) struct Chart {
    pub(crate) title: String,
    /// One sentence under the title, or nothing.
    pub(crate) subtitle: String,
    /// From the left to the right, row by row.
    pub(crate) panels: Vec<Panel>,
    /// Panels in a row.
    pub(crate) columns: usize,
    /// Width and height of each panel's plot, in pixels.
    pub(crate) plot: [f64; 2],
    /// Paragraphs below.
    pub(crate) notes: Vec<String>,
}

#[derive(Debug, Clone)]
pub(crate) struct Panel {
    pub(crate) title: String,
    pub(crate) x: Axis,
    pub(crate) y: Axis,
    /// Drawn in this order, later ones on top.
    pub(crate) series: Vec<Series>,
    pub(crate) guides: Vec<Guide>,
}

#[derive(Debug, Clone)]
pub(crate) struct Series {
    /// For the legend; empty for none.
    pub(crate) name: String,
    /// x and y. A line is broken where one is not finite.
    pub(crate) points: Vec<[f64; 2]>,
    pub(crate) colour: &'static str,
    pub(crate) mark: Mark,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Mark {
    Line { width: f64, dash: &'static [f64] },
    Dots { radius: f64 },
}

impl Mark {
    pub(crate) const LINE: Self = Self::Line { width: 1.8, dash: &[] };
    pub(crate) const DASHED: Self = Self::Line { width: 1.8, dash: &[6.0, 4.0] };
}

/// A quiet line that helps to read the others.
#[derive(Debug, Clone)]
pub(crate) enum Guide {
    /// Upright, at a value of x, with what it says.
    X(f64, String),
    /// The same, with what it says at its foot.
    Foot(f64, String),
    /// Level, at a value of y.
    Y(f64, String),
    /// Between two points, unnamed: an identity.
    Line([[f64; 2]; 2]),
}

impl Series {
    pub(crate) fn line(name: impl Into<String>, colour: &'static str, points: Vec<[f64; 2]>) -> Self {
        Self { name: name.into(), points, colour, mark: Mark::LINE }
    }

    /// The three channels, so drawn that each shows where they run on one another.
    pub(crate) fn channels(points: [Vec<[f64; 2]>; 3]) -> Vec<Self> {
        points
            .into_iter()
            .zip(["red", "green", "blue"])
            .zip(theme::CHANNELS.into_iter().zip(theme::CHANNEL_WIDTHS))
            .map(|((points, name), (colour, width))| {
                let mark = Mark::Line { width, dash: &[] };
                Self { name: name.to_owned(), points, colour, mark }
            })
            .collect()
    }
}

const TICK: f64 = 4.0;
/// Room for one tick label: along x, and along y.
const ROOM: [f64; 2] = [58.0, 42.0];
const LINE_HEIGHT: f64 = 1.4;
/// Space between the parts of a chart within a page.
const INSET: f64 = 10.0;
const SWATCH: f64 = 20.0;

/// A panel with its scales and what its margins need.
struct Laid<'c> {
    panel: &'c Panel,
    x: Scale<'c>,
    y: Scale<'c>,
    x_ticks: Vec<Tick>,
    y_ticks: Vec<Tick>,
    title: Vec<String>,
    /// Series of the legend with their places, by row.
    legend: Vec<Vec<(f64, &'c Series)>>,
}

impl<'c> Laid<'c> {
    fn new(panel: &'c Panel, [width, height]: [f64; 2]) -> Self {
        let points = || panel.series.iter().flat_map(|s| &s.points).filter(|p| p.iter().all(|v| v.is_finite()));
        let x = panel.x.scale(points().map(|p| p[0]));
        let y = panel.y.scale(points().map(|p| p[1]));
        let mut legend: Vec<Vec<(f64, &Series)>> = Vec::new();
        let mut end = f64::INFINITY;
        for series in panel.series.iter().filter(|s| !s.name.is_empty()) {
            let wide = SWATCH + 6.0 + theme::LABEL.width_of(&series.name);
            if end + wide > width {
                legend.push(Vec::new());
                end = 0.0;
            }
            if let Some(row) = legend.last_mut() {
                row.push((end, series));
            }
            end += wide + 16.0;
        }
        let (x_ticks, y_ticks) = (x.ticks(width / ROOM[0]), y.ticks(height / ROOM[1]));
        let title = if panel.title.is_empty() { Vec::new() } else { theme::PANEL.wrap(&panel.title, width) };
        Self { panel, x, y, x_ticks, y_ticks, title, legend }
    }

    /// Room on the left of the plot.
    fn left(&self) -> f64 {
        let widest = self.y_ticks.iter().map(|t| theme::LABEL.width_of(&t.label)).fold(0.0, f64::max);
        widest + TICK + 6.0 + if self.panel.y.label.is_empty() { 0.0 } else { 20.0 }
    }

    /// Room above the plot.
    fn above(&self) -> f64 {
        let row = theme::PANEL.size * LINE_HEIGHT;
        self.title.len() as f64 * row + self.legend.len() as f64 * row + 8.0
    }

    /// Room below the plot.
    fn below(&self) -> f64 {
        TICK + 16.0 + if self.panel.x.label.is_empty() { 0.0 } else { 18.0 }
    }

    /// Draws the panel; `[left, top]` is the corner of its plot.
    fn draw(&self, canvas: &mut Canvas, [left, top]: [f64; 2], [width, height]: [f64; 2]) {
        let row = theme::PANEL.size * LINE_HEIGHT;
        let mut y = top - self.above() + theme::PANEL.size;
        for line in &self.title {
            canvas.text([left, y], line, &theme::PANEL);
            y += row;
        }
        for entries in &self.legend {
            for (at, series) in entries {
                series.swatch(canvas, [left + at, y - 4.0]);
                canvas.text([left + at + SWATCH + 6.0, y], &series.name, &theme::LABEL);
            }
            y += row;
        }
        self.axes(canvas, [left, top], [width, height]);
        canvas.window([left, top], [width, height], |canvas| {
            for guide in &self.panel.guides {
                self.guide(guide, canvas, [width, height]);
            }
            for series in &self.panel.series {
                series.draw(canvas, |p| self.place(p, [width, height]));
            }
            // What guides say lies over the lines, on a ground of its own.
            for guide in &self.panel.guides {
                self.said(guide, canvas, [width, height]);
            }
        });
        canvas.rect([left, top], [width, height], &Paint::stroke(theme::FRAME, 1.0));
    }

    /// A point of the data within a plot of this size.
    fn place(&self, [x, y]: [f64; 2], [width, height]: [f64; 2]) -> [f64; 2] {
        [width * self.x.place(x), height * (1.0 - self.y.place(y))]
    }

    fn axes(&self, canvas: &mut Canvas, [left, top]: [f64; 2], [width, height]: [f64; 2]) {
        let (grid, frame) = (Paint::stroke(theme::GRID, 1.0), Paint::stroke(theme::FRAME, 1.0));
        let (bottom, right) = (top + height, left + width);
        for tick in &self.x_ticks {
            let x = left + width * tick.at;
            canvas.line([x, top], [x, bottom], &grid);
            let length = if tick.label.is_empty() { TICK / 2.0 } else { TICK };
            canvas.line([x, bottom], [x, bottom + length], &frame);
            if !tick.label.is_empty() {
                canvas.text([x, bottom + TICK + 12.0], &tick.label, &theme::LABEL.anchor(Anchor::Middle));
            }
        }
        for tick in &self.y_ticks {
            let y = bottom - height * tick.at;
            canvas.line([left, y], [right, y], &grid);
            let length = if tick.label.is_empty() { TICK / 2.0 } else { TICK };
            canvas.line([left - length, y], [left, y], &frame);
            if !tick.label.is_empty() {
                canvas.text([left - TICK - 3.0, y + 4.0], &tick.label, &theme::LABEL.anchor(Anchor::End));
            }
        }
        let label = theme::BODY.anchor(Anchor::Middle);
        canvas.text([left + width / 2.0, bottom + TICK + 30.0], &self.panel.x.label, &label);
        if !self.panel.y.label.is_empty() {
            let upwards = super::Text { upwards: true, ..label };
            canvas.text([left - self.left() + 12.0, top + height / 2.0], &self.panel.y.label, &upwards);
        }
    }

    fn said(&self, guide: &Guide, canvas: &mut Canvas, [width, height]: [f64; 2]) {
        let (said, left, base) = match guide {
            Guide::X(value, said) | Guide::Foot(value, said) => {
                let x = width * self.x.place(*value);
                let base = if matches!(guide, Guide::X(..)) { 12.0 } else { height - 5.0 };
                let wide = theme::LABEL.width_of(said);
                (said, if x + 4.0 + wide > width { x - 4.0 - wide } else { x + 4.0 }, base)
            }
            Guide::Y(value, said) => {
                let y = height * (1.0 - self.y.place(*value));
                let base = if y < 18.0 { y + 13.0 } else { y - 5.0 };
                let wide = theme::LABEL.width_of(said);
                // At the right, or at the left where only there nothing that is drawn lies under it.
                let covers = |left: f64| {
                    self.panel.series.iter().flat_map(|s| &s.points).any(|p| {
                        let [x, y] = self.place(*p, [width, height]);
                        (left - 6.0..left + wide + 6.0).contains(&x) && (base - 16.0..base + 8.0).contains(&y)
                    })
                };
                let [right, left] = [width - 5.0 - wide, 5.0];
                (said, if covers(right) && !covers(left) { left } else { right }, base)
            }
            Guide::Line(_) => return,
        };
        if said.is_empty() {
            return;
        }
        let size = theme::LABEL.size;
        let ground = Paint { opacity: Some(0.85), ..Paint::fill(theme::GROUND) };
        canvas.rect([left - 2.0, base - size], [theme::LABEL.width_of(said) + 4.0, size + 3.0], &ground);
        canvas.text([left, base], said, &theme::LABEL);
    }

    fn guide(&self, guide: &Guide, canvas: &mut Canvas, [width, height]: [f64; 2]) {
        let paint = Paint { dash: &[3.0, 3.0], ..Paint::stroke(theme::GUIDE, 1.0) };
        match guide {
            Guide::X(value, _) | Guide::Foot(value, _) => {
                let x = width * self.x.place(*value);
                canvas.line([x, 0.0], [x, height], &paint);
            }
            Guide::Y(value, _) => {
                let y = height * (1.0 - self.y.place(*value));
                canvas.line([0.0, y], [width, y], &paint);
            }
            Guide::Line(ends) => {
                let [from, to] = ends.map(|p| self.place(p, [width, height]));
                canvas.line(from, to, &paint);
            }
        }
    }
}

impl Series {
    fn draw(&self, canvas: &mut Canvas, place: impl Fn([f64; 2]) -> [f64; 2]) {
        let places = self.points.iter().map(|p| place(*p));
        match self.mark {
            Mark::Line { width, dash } => {
                let places: Vec<_> = places.collect();
                for run in places.split(|p| !p.iter().all(|v| v.is_finite())).filter(|run| !run.is_empty()) {
                    canvas.polyline(&straightened(&thinned(run)), &Paint { dash, ..Paint::stroke(self.colour, width) });
                }
            }
            Mark::Dots { radius } => {
                let paint = Paint { opacity: Some(0.75), ..Paint::fill(self.colour) };
                for at in places.filter(|p| p.iter().all(|v| v.is_finite())) {
                    canvas.circle(at, radius, &paint);
                }
            }
        }
    }

    /// What the legend shows, `at` its middle left.
    fn swatch(&self, canvas: &mut Canvas, [x, y]: [f64; 2]) {
        match self.mark {
            Mark::Line { width, dash } => {
                canvas.line([x, y], [x + SWATCH, y], &Paint { dash, ..Paint::stroke(self.colour, width) });
            }
            Mark::Dots { radius } => canvas.circle([x + SWATCH / 2.0, y], radius, &Paint::fill(self.colour)),
        }
    }
}

/// Of the points that share half a pixel column, the first, the lowest, the highest and the last: as many points as can be
/// seen, however long the table.
fn thinned(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let column = |p: &[f64; 2]| (2.0 * p[0]).floor();
    let mut kept = Vec::new();
    for run in points.chunk_by(|a, b| column(a) == column(b)) {
        if run.len() <= 4 {
            kept.extend_from_slice(run);
            continue;
        }
        let by = |a: &usize, b: &usize| run[*a][1].total_cmp(&run[*b][1]);
        let (low, high) = ((0..run.len()).min_by(by).unwrap_or(0), (0..run.len()).max_by(by).unwrap_or(0));
        let mut indices = [0, low.min(high), low.max(high), run.len() - 1].to_vec();
        indices.dedup();
        kept.extend(indices.into_iter().map(|i| run[i]));
    }
    kept
}

/// The largest distance of a line from its points, in pixels: too small to be seen.
const STRAY: f64 = 0.04;

/// The points that a line needs so as to pass all of them within [`STRAY`] (Ramer 1972, Douglas and Peucker 1973).
fn straightened(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let mut needed = vec![false; points.len()];
    let mut spans = vec![(0, points.len().saturating_sub(1))];
    while let Some((first, last)) = spans.pop() {
        let (a, b) = (points[first], points[last]);
        (needed[first], needed[last]) = (true, true);
        let [dx, dy] = [b[0] - a[0], b[1] - a[1]];
        let length = (dx * dx + dy * dy).sqrt();
        let distance = |i: usize| {
            let [px, py] = [points[i][0] - a[0], points[i][1] - a[1]];
            if length > 0.0 { (px * dy - py * dx).abs() / length } else { (px * px + py * py).sqrt() }
        };
        let farthest = (first + 1..last).map(|i| (distance(i), i)).max_by(|one, two| one.0.total_cmp(&two.0));
        if let Some((_, i)) = farthest.filter(|(away, _)| *away > STRAY) {
            spans.extend([(first, i), (i, last)]);
        }
    }
    points.iter().zip(needed).filter(|(_, needed)| *needed).map(|(point, _)| *point).collect()
}

impl Chart {
    pub(crate) fn draw(&self) -> Drawing {
        self.draw_within(theme::GAP, &self.title)
    }

    /// The chart as a part of a page, which says around it what it is: hardly a margin, and `said` for a screen reader.
    pub(crate) fn inset(&self, said: &str) -> Drawing {
        self.draw_within(INSET, said)
    }

    fn draw_within(&self, gap: f64, said: &str) -> Drawing {
        let [width, height] = self.plot;
        let columns = self.columns.clamp(1, self.panels.len().max(1));
        let laid: Vec<_> = self.panels.iter().map(|panel| Laid::new(panel, self.plot)).collect();
        let left = laid.iter().map(Laid::left).fold(0.0, f64::max);
        // The last label of an x axis reaches beyond its plot.
        let whole = (gap + columns as f64 * (left + width + gap)).ceil();
        let across = whole - 2.0 * gap;
        let lines =
            |text: &str, set: &super::Text<'_>| if text.is_empty() { Vec::new() } else { set.wrap(text, across) };
        let title = lines(&self.title, &theme::HEADING);
        let subtitle = lines(&self.subtitle, &theme::BODY);
        let notes: Vec<_> = self.notes.iter().map(|note| lines(note, &theme::LABEL)).collect();
        let rows: Vec<_> = laid
            .chunks(columns)
            .map(|row| {
                let above = row.iter().map(Laid::above).fold(0.0, f64::max);
                (row, above, row.iter().map(Laid::below).fold(0.0, f64::max))
            })
            .collect();
        let set = |lines: usize, text: &super::Text<'_>| lines as f64 * text.size * LINE_HEIGHT;
        let head = set(title.len(), &theme::HEADING) + set(subtitle.len(), &theme::BODY);
        let plots: f64 = rows.iter().map(|(_, above, below)| gap * 0.75 + above + height + below).sum();
        let foot: f64 = notes.iter().map(|note| 4.0 + set(note.len(), &theme::LABEL)).sum();
        let foot = if notes.is_empty() { 0.0 } else { foot + gap / 2.0 };
        let mut canvas = Canvas::new(said, whole, (2.0 * gap + head + plots + foot).ceil(), Unit::Px);
        let mut y = gap;
        let write = |canvas: &mut Canvas, y: &mut f64, lines: &[String], text: &super::Text<'_>| {
            for line in lines {
                canvas.text([gap, *y + text.size], line, text);
                *y += text.size * LINE_HEIGHT;
            }
        };
        write(&mut canvas, &mut y, &title, &theme::HEADING);
        write(&mut canvas, &mut y, &subtitle, &theme::BODY.colour(theme::QUIET));
        for (row, above, below) in rows {
            y += gap * 0.75 + above;
            for (column, panel) in row.iter().enumerate() {
                let x = gap + left + column as f64 * (left + width + gap);
                panel.draw(&mut canvas, [x, y], self.plot);
            }
            y += height + below;
        }
        y += gap / 2.0;
        for note in &notes {
            y += 4.0;
            write(&mut canvas, &mut y, note, &theme::LABEL);
        }
        canvas.finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_keeps_what_can_be_seen_and_no_more() {
        let bent: Vec<_> =
            (0..=1000).map(|i| f64::from(i) / 10.0).map(|x| [x, if x < 30.0 { x } else { 30.0 }]).collect();
        let drawn = straightened(&thinned(&bent));
        assert_eq!(drawn, [[0.0, 0.0], [30.0, 30.0], [100.0, 30.0]]);
        // A spike within a pixel column stays.
        let mut spiked: Vec<_> = (0..65536).map(|i| [f64::from(i) / 200.0, 5.0]).collect();
        spiked[30001][1] = 90.0;
        let drawn = straightened(&thinned(&spiked));
        assert!(drawn.iter().any(|p| p[1] == 90.0) && drawn.len() < 10, "{drawn:?}");
        assert_eq!(straightened(&[[1.0, 2.0]]), [[1.0, 2.0]]);
    }
}
