//! Colours, type and line weights of every drawing: dark ink on a white ground, so that it prints as it looks.

use super::Drawing;
use super::svg::Text;

pub(crate) const GROUND: &str = "#ffffff";
pub(crate) const INK: &str = "#1c2126";
/// Second rank: axis labels and notes.
pub(crate) const QUIET: &str = "#5a636b";
/// Frames of plots.
pub(crate) const FRAME: &str = "#9aa3ab";
pub(crate) const GRID: &str = "#e6e9ec";
/// The diagonal of an identity, a limit, a mark on an axis.
pub(crate) const GUIDE: &str = "#7d868e";
pub(crate) const WARNING: &str = "#b3261e";
/// The halves of a ruler under mid-grey and over it: apart by lightness alone.
pub(crate) const DARK_HALF: &str = "#c9cfd4";
pub(crate) const LIGHT_HALF: &str = "#f3f5f6";

/// The red, green and blue channels. They differ in lightness as well, for those who do not tell red from green.
pub(crate) const CHANNELS: [&str; 3] = ["#962e1f", "#31a626", "#0033cc"];
/// Widths for lines of the channels, in pixels: where they run on one another, each shows at the sides of the next.
pub(crate) const CHANNEL_WIDTHS: [f64; 3] = [3.6, 2.4, 1.3];

/// Lines that are no channel, in this order. Found by a search for the six colours that lie furthest apart in Oklab, to
/// normal sight and to each kind of dichromat alike, with a contrast of 3 to 1 or more against the ground.
pub(crate) const SERIES: [&str; 6] = ["#2c345b", "#e5630d", "#4755c6", "#c679c3", "#963500", "#401100"];

/// Colours of drawings, and what stands for each on a dark page: as light on its ground as the other is dark on white.
pub(crate) const NIGHT: [(&str, &str); 18] = [
    (GROUND, "none"),
    (INK, "#e6e8ea"),
    (QUIET, "#a3abb2"),
    (FRAME, "#66707a"),
    (GRID, "#2c3238"),
    (GUIDE, "#8d969e"),
    (WARNING, "#ff8a80"),
    (DARK_HALF, "#2a3036"),
    (LIGHT_HALF, "#4a535b"),
    (CHANNELS[0], "#f0776a"),
    (CHANNELS[1], "#5ad24d"),
    (CHANNELS[2], "#7d9dff"),
    (SERIES[0], "#b3bdf2"),
    (SERIES[1], "#ff9248"),
    (SERIES[2], "#8794ff"),
    (SERIES[3], "#dd9bda"),
    (SERIES[4], "#d98a4a"),
    (SERIES[5], "#c49a86"),
];

/// The ground of a drawing for night work: dark enough not to light a face.
const NIGHT_GROUND: &str = "#101417";

/// The same drawing for night work.
pub(crate) fn at_night(drawing: &Drawing) -> Drawing {
    let ground = (GROUND, NIGHT_GROUND);
    let mut svg = String::with_capacity(drawing.svg.len());
    let mut rest = drawing.svg.as_str();
    // Every colour is in quotes; one pass, so that no new colour is taken for an old one.
    while let Some(at) = rest.find("\"#") {
        let (before, after) = rest.split_at(at + 1);
        svg.push_str(before);
        let colour = after.get(..7).unwrap_or(after);
        let pairs = std::iter::once(ground).chain(NIGHT.into_iter().skip(1));
        let night = pairs.into_iter().find(|(day, _)| *day == colour).map_or(colour, |(_, night)| night);
        svg.push_str(night);
        rest = &after[colour.len()..];
    }
    svg.push_str(rest);
    Drawing { svg, ..drawing.clone() }
}

/// The first is embedded; the others stand in where a viewer of an SVG file does not have it.
pub(crate) const FONTS: &str = "Inter, 'Helvetica Neue', 'Liberation Sans', Arial, sans-serif";

pub(crate) const HEADING: Text<'static> = Text { size: 18.0, bold: true, ..Text::PLAIN };
pub(crate) const PANEL: Text<'static> = Text { size: 13.0, bold: true, ..Text::PLAIN };
pub(crate) const BODY: Text<'static> = Text { size: 12.0, ..Text::PLAIN };
pub(crate) const LABEL: Text<'static> = Text { size: 11.0, colour: QUIET, ..Text::PLAIN };

/// Space between the parts of a drawing.
pub(crate) const GAP: f64 = 24.0;
