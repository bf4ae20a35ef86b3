//! Writes an SVG document: shapes and text with short numbers.
//!
//! It has no ids and no style sheet, so that several can stand in one HTML page.

use super::{Drawing, Unit, font, theme};
use std::fmt::Write as _;

/// Text that may stand in XML, in an element or an attribute.
pub(crate) fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            // XML has no other control characters; a line end in a line of text is a blank.
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => safe.push(' '),
            c => safe.push(c),
        }
    }
    safe
}

/// A length with two decimals at most.
fn short(value: f64) -> String {
    let text = format!("{value:.2}");
    match text.trim_end_matches('0').trim_end_matches('.') {
        "-0" => "0".to_owned(),
        text => text.to_owned(),
    }
}

/// How a shape is filled and outlined. Colours are anything that SVG takes.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Paint<'p> {
    pub(crate) fill: Option<&'p str>,
    pub(crate) stroke: Option<&'p str>,
    /// Of the outline.
    pub(crate) width: f64,
    /// Lengths of dashes and gaps; none for an unbroken line.
    pub(crate) dash: &'p [f64],
    /// 0 to 1; `None` is opaque.
    pub(crate) opacity: Option<f64>,
}

impl<'p> Paint<'p> {
    pub(crate) fn fill(colour: &'p str) -> Self {
        Self { fill: Some(colour), ..Self::default() }
    }

    pub(crate) fn stroke(colour: &'p str, width: f64) -> Self {
        Self { stroke: Some(colour), width, ..Self::default() }
    }

    fn attributes(&self) -> String {
        let mut said = format!(" fill=\"{}\"", self.fill.unwrap_or("none"));
        if let Some(stroke) = self.stroke {
            let _ = write!(said, " stroke=\"{stroke}\" stroke-width=\"{}\"", short(self.width));
            if !self.dash.is_empty() {
                let lengths: Vec<_> = self.dash.iter().map(|v| short(*v)).collect();
                let _ = write!(said, " stroke-dasharray=\"{}\"", lengths.join(" "));
            }
        }
        if let Some(opacity) = self.opacity {
            let _ = write!(said, " opacity=\"{}\"", short(opacity));
        }
        said
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

/// How a line of text is set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Text<'t> {
    pub(crate) size: f64,
    pub(crate) bold: bool,
    pub(crate) colour: &'t str,
    pub(crate) anchor: Anchor,
    /// Turned to the left about its place, so that it reads upwards.
    pub(crate) upwards: bool,
}

impl<'t> Text<'t> {
    pub(crate) const PLAIN: Text<'static> =
        Text { size: 12.0, bold: false, colour: theme::INK, anchor: Anchor::Start, upwards: false };

    pub(crate) fn anchor(self, anchor: Anchor) -> Self {
        Self { anchor, ..self }
    }

    pub(crate) fn colour(self, colour: &'t str) -> Self {
        Self { colour, ..self }
    }

    pub(crate) fn width_of(&self, text: &str) -> f64 {
        self.size * font::width_of(text, self.bold)
    }

    /// As much of `text` as is no wider than `width`.
    pub(crate) fn cut(&self, text: &str, width: f64) -> String {
        let mut text = text.to_owned();
        while self.width_of(&text) > width && text.pop().is_some() {}
        text
    }

    /// `text` in lines no wider than `width`, broken between words.
    pub(crate) fn wrap(&self, text: &str, width: f64) -> Vec<String> {
        let mut lines: Vec<String> = Vec::new();
        for word in text.split(' ') {
            match lines.last_mut() {
                Some(line) if self.width_of(&format!("{line} {word}")) <= width => {
                    line.push(' ');
                    line.push_str(word);
                }
                _ => lines.push(word.to_owned()),
            }
        }
        lines
    }
}

/// A drawing in the making. x grows to the right and y downwards; (0, 0) is the upper left corner.
#[derive(Debug)]
pub(crate) struct Canvas {
    title: String,
    width: f64,
    height: f64,
    unit: Unit,
    body: String,
}

impl Canvas {
    /// An empty drawing on a ground of [`theme::GROUND`]. The title is what a screen reader says of it.
    pub(crate) fn new(title: &str, width: f64, height: f64, unit: Unit) -> Self {
        let mut canvas = Self { title: title.to_owned(), width, height, unit, body: String::new() };
        canvas.rect([0.0, 0.0], [width, height], &Paint::fill(theme::GROUND));
        canvas
    }

    pub(crate) fn rect(&mut self, [x, y]: [f64; 2], [width, height]: [f64; 2], paint: &Paint<'_>) {
        let [x, y, width, height] = [x, y, width, height].map(short);
        self.add(format_args!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\"{}/>",
            paint.attributes()
        ));
    }

    pub(crate) fn line(&mut self, [x1, y1]: [f64; 2], [x2, y2]: [f64; 2], paint: &Paint<'_>) {
        let [x1, y1, x2, y2] = [x1, y1, x2, y2].map(short);
        self.add(format_args!("<line x1=\"{x1}\" y1=\"{y1}\" x2=\"{x2}\" y2=\"{y2}\"{}/>", paint.attributes()));
    }

    pub(crate) fn circle(&mut self, [x, y]: [f64; 2], radius: f64, paint: &Paint<'_>) {
        let [x, y, radius] = [x, y, radius].map(short);
        self.add(format_args!("<circle cx=\"{x}\" cy=\"{y}\" r=\"{radius}\"{}/>", paint.attributes()));
    }

    /// A line through points, with round joins.
    pub(crate) fn polyline(&mut self, points: &[[f64; 2]], paint: &Paint<'_>) {
        let places: Vec<_> = points.iter().map(|[x, y]| format!("{},{}", short(*x), short(*y))).collect();
        let places = places.join(" ");
        self.add(format_args!(
            "<polyline points=\"{places}\" stroke-linejoin=\"round\" stroke-linecap=\"round\"{}/>",
            paint.attributes()
        ));
    }

    /// A picture by its address, drawn over the whole of a rectangle.
    pub(crate) fn image(&mut self, [x, y]: [f64; 2], [width, height]: [f64; 2], uri: &str) {
        let ([x, y, width, height], uri) = ([x, y, width, height].map(short), escape(uri));
        self.add(format_args!(
            "<image x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" preserveAspectRatio=\"none\" href=\"{uri}\"/>"
        ));
    }

    /// A line of text; `y` is its base line.
    pub(crate) fn text(&mut self, [x, y]: [f64; 2], text: &str, set: &Text<'_>) {
        let [x, y, size] = [x, y, set.size].map(short);
        let anchor = match set.anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let weight = if set.bold { " font-weight=\"600\"" } else { "" };
        let turn = if set.upwards { format!(" transform=\"rotate(-90 {x} {y})\"") } else { String::new() };
        let (colour, text) = (set.colour, escape(text));
        self.add(format_args!(
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" fill=\"{colour}\"{weight}{anchor}{turn}>{text}</text>"
        ));
    }

    /// Draws with the corner of a window as (0, 0), and nothing beyond the window.
    pub(crate) fn window(&mut self, [x, y]: [f64; 2], [width, height]: [f64; 2], draw: impl FnOnce(&mut Self)) {
        let [x, y, width, height] = [x, y, width, height].map(short);
        self.add(format_args!("<svg x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" overflow=\"hidden\">"));
        draw(self);
        self.add(format_args!("</svg>"));
    }

    fn add(&mut self, element: std::fmt::Arguments<'_>) {
        let _ = writeln!(self.body, "{element}");
    }

    pub(crate) fn finish(self) -> Drawing {
        let Self { title, width, height, unit, body } = self;
        let ([w, h], suffix) = ([width, height].map(short), unit.suffix());
        let (said, fonts) = (escape(&title), theme::FONTS);
        let svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}{suffix}\" height=\"{h}{suffix}\" \
             viewBox=\"0 0 {w} {h}\" role=\"img\" font-family=\"{fonts}\">\n<title>{said}</title>\n{body}</svg>\n"
        );
        Drawing { svg, title, slate: String::new(), width, height, unit }
    }
}
