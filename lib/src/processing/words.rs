//! Sentences on the findings: the verdict before the figure.

use super::Processing;
use super::codec::Codec;
use super::edge::Edge;
use super::noise::{FRESH, INTERPOLATION, Noise, WHITE};
use super::scene::Difference;
use schemars::JsonSchema;
use serde::Serialize;

/// MTF50 that differs by less than this part of it is the same: the error of two edges in one frame.
const ALIKE: f64 = 0.04;
/// More than this part of MTF50 is no longer "slightly".
const MUCH: f64 = 0.2;
/// Per cent of the step beyond which an edge is sharpened.
const SHARPENED: f64 = 3.0;
/// Steps at the borders of blocks beyond this factor are easily visible.
const PLAIN: f64 = 1.5;
/// Missing or uneven codes beyond this are reported, per cent.
const GAPS: f64 = 5.0;
/// The share of response above the limit of the grid beyond which fine patterns alias.
const ALIASES: f64 = 0.15;

/// One exposure index, exposed in one way, at one final brightness.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Choice {
    /// The exposure index.
    pub ei: f64,
    /// Stops exposed over what the meter says, and brought down afterwards.
    pub over: f64,
    /// Stops over mid-grey of the final picture at which it clips.
    pub stops_over: f64,
    /// Stops under it of the lowest usable light, with the measured noise.
    pub stops_under: Option<f64>,
    /// The same with white noise of the same low-frequency power.
    pub stops_under_white: Option<f64>,
    /// Measured noise at mid-grey of the final picture, per cent of the light: the worst channel.
    pub noise_percent: Option<f64>,
    /// The same with white noise of the same low-frequency power.
    pub noise_white_percent: Option<f64>,
    /// Edge of the square of pixels whose mean smooths noise as much.
    pub smoothed_pixels: Option<f64>,
    /// Whether its noise is smoothed, over pixels or frames, and so flatters the camera.
    pub is_smoothed: bool,
    /// Green, cycles per pixel.
    pub mtf50: Option<f64>,
    /// Steps at the borders of blocks over others: 1 for no blocks.
    pub block_steps: Option<f64>,
}

impl Choice {
    /// Its usual notation: EI 1600 +1.
    pub fn name(&self) -> String {
        let over = if self.over == 0.0 { String::new() } else { format!(" {:+}", self.over) };
        format!("EI {}{over}", self.ei)
    }
}

/// Sentences on one exposure index.
pub fn sentences(found: &Processing) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(noise) = &found.noise {
        said.extend(of_noise(noise));
    }
    if let Some(edge) = &found.edge {
        said.extend(of_edge(edge));
    }
    if let Some(codec) = &found.codec {
        said.extend(of_codec(codec));
    }
    said
}

fn pixels(width: f64) -> String {
    format!("{width:.1} pixels")
}

/// Sentences on noise.
pub fn of_noise(noise: &Noise) -> Vec<String> {
    let mut said = Vec::new();
    match noise.smoothed_pixels {
        Some(width) if width <= WHITE => said.push("noise is not smoothed: it is white".to_owned()),
        Some(width) if width <= INTERPOLATION => said.push(format!(
            "noise is smoothed over about {}: as much as the interpolation of a colour filter array does, or a light noise reduction",
            pixels(width)
        )),
        Some(width) => said.push(format!(
            "noise is smoothed over about {}: noise reduction, or a picture that was enlarged",
            pixels(width)
        )),
        None => said.push("smoothing of noise could not be measured: the patch is too small, or noise is smaller than a code".to_owned()),
    }
    if let Some(frames) = noise.averaged_frames {
        if frames > FRESH {
            said.push(format!(
                "noise is averaged over about {frames:.1} frames: noise reduction in time, which smears what moves"
            ));
        } else {
            said.push("noise is new in each frame".to_owned());
        }
    }
    if let (Some(temporal), Some(fixed)) = (noise.temporal_percent, noise.fixed_percent) {
        said.push(format!(
            "at mid-grey {temporal:.2} % of the light is noise that changes, {fixed:.2} % a fixed pattern that stays"
        ));
    }
    said.extend(noise.too_good.iter().cloned());
    if let (Some(seen), Some(white)) = (noise.seen.stops(), noise.white.stops()) {
        let [under, under_white] = [noise.seen, noise.white].map(|l| -l.floor_stops.unwrap_or(0.0));
        let clip = if noise.seen.clip_seen { "" } else { ", without a clip that was seen" };
        said.push(if !noise.is_smoothed() || (seen - white).abs() < 0.1 {
            format!("latitude {seen:.1} stops, {under:.1} under mid-grey{clip}; smoothing does not flatter it")
        } else {
            format!(
                "latitude {seen:.1} stops as seen, {under:.1} under mid-grey; {white:.1} stops, {under_white:.1} under, with white noise of the same low-frequency power{clip}: expose by {white:.1} stops"
            )
        });
    }
    said
}

/// Sentences on sharpness.
pub fn of_edge(edge: &Edge) -> Vec<String> {
    let mut said = Vec::new();
    let green = edge.green();
    let frequency = |f: Option<f64>| f.map_or("over 1".to_owned(), |f| format!("{f:.3}"));
    let all = edge.channels.each_ref().map(|c| frequency(c.mtf50)).join(", ");
    said.push(format!(
        "sharpness: MTF50 {} cycles per pixel (red, green, blue {all}), MTF10 {}",
        frequency(green.mtf50),
        frequency(green.mtf10)
    ));
    let (over, under) = (green.overshoot_percent, green.undershoot_percent);
    let highest = green.response.iter().map(|p| p[1]).fold(0.0, f64::max);
    said.push(if over.max(under) > SHARPENED {
        format!(
            "edges are sharpened: {over:.0} % overshoot on the bright side, {under:.0} % undershoot on the dark one, in signal; the response rises to {highest:.2}, so MTF50 flatters the lens"
        )
    } else {
        format!("edges are not sharpened: {over:.0} % overshoot, {under:.0} % undershoot")
    });
    if green.above_nyquist > ALIASES {
        said.push(format!(
            "fine patterns alias: response above 0.5 cycles per pixel is {:.0} % of that below",
            100.0 * green.above_nyquist
        ));
    }
    // Chroma at half the resolution reduces the sharpness of red and blue.
    let softer =
        [0, 2].map(|c| edge.channels[c].mtf50.zip(green.mtf50).is_some_and(|(other, green)| other < 0.75 * green));
    if softer[0] && softer[1] {
        said.push(
            "red and blue are much softer than green: chroma at less than full resolution, or the lens".to_owned(),
        );
    }
    said
}

/// Sentences on the codec.
pub fn of_codec(codec: &Codec) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(blocks) = &codec.blocks {
        let strength = blocks.strength();
        said.push(match blocks.size {
            Some(size) => {
                let how = if strength >= PLAIN { "plainly seen" } else { "slight" };
                let [across, down] = blocks.steps;
                format!(
                    "blocks of {size} pixels, {how}: steps at their borders are {across:.2} times those elsewhere across, {down:.2} times down"
                )
            }
            None => "no blocks".to_owned(),
        });
    }
    let fewer: Vec<(&str, u8, u8)> = codec
        .codes
        .iter()
        .filter_map(|c| Some((c.channel, c.file_bits?, c.true_bits?)))
        .filter(|(_, file, bits)| bits < file)
        .collect();
    if let Some((_, file, bits)) = fewer.first() {
        let channels: Vec<&str> = fewer.iter().map(|f| f.0).collect();
        let alike = fewer.iter().all(|f| (f.1, f.2) == (*file, *bits));
        let each = |(channel, _, bits): &(&str, u8, u8)| format!("{bits} in {channel}");
        said.push(if alike {
            format!("codes of {bits} bits in a file of {file} ({})", channels.join(", "))
        } else {
            format!(
                "codes of fewer bits than the {file} of the file: {}",
                fewer.iter().map(each).collect::<Vec<_>>().join(", ")
            )
        });
    }
    for codes in &codec.codes {
        if codes.missing_percent > GAPS {
            let bits = codes.effective_bits().map(|b| format!(", as of {b:.1} bits")).unwrap_or_default();
            said.push(format!(
                "{}: {:.0} % of the codes in use never occur{bits}: gradients get bands",
                codes.channel, codes.missing_percent
            ));
        }
        if let Some(uneven) = codes.uneven_percent.filter(|u| *u > GAPS) {
            said.push(format!(
                "{}: {uneven:.0} % of the codes occur far more or less often than their neighbours: codes were stretched or squeezed after recording with fewer",
                codes.channel
            ));
        }
    }
    if let Some(chroma) = &codec.chroma {
        said.push(match chroma.halved {
            [false, false] => "chroma has the resolution of luma (4:4:4)".to_owned(),
            [across, down] => {
                let axes = match (across, down) {
                    (true, true) => "across and down",
                    (true, false) => "across",
                    _ => "down",
                };
                format!(
                    "chroma has half the resolution of luma {axes}, as {} has, or a colour filter array by itself",
                    chroma.name()
                )
            }
        });
    }
    if let Some(pumping) = &codec.pumping {
        said.push(match pumping.period_frames {
            Some(period) => format!(
                "key frames pump: detail rises and falls by {:.0} % every {period} frames",
                pumping.detail_percent
            ),
            None => format!("no pumping in {} frames", codec.frames),
        });
        if let Some(period) = pumping.still_period_frames {
            said.push(format!(
                "noise stands still and jumps every {period} frames, {:.1} times as far as from one frame to the next: the codec copies it between key frames",
                pumping.jump_times
            ));
        }
    }
    said
}

/// Sharpness against another, such as "slightly softer: MTF50 0.310 instead of 0.340 cycles per pixel".
pub fn sharper(this: f64, than: f64) -> String {
    let by = this / than.max(f64::MIN_POSITIVE);
    let word = if (by - 1.0).abs() < ALIKE {
        "as sharp"
    } else {
        match (by < 1.0, (by - 1.0).abs() > MUCH) {
            (true, false) => "slightly softer",
            (true, true) => "softer",
            (false, false) => "slightly sharper",
            (false, true) => "sharper",
        }
    };
    format!("{word}: MTF50 {this:.3} instead of {than:.3} cycles per pixel")
}

/// A sentence that compares two exposures.
pub fn choice(this: &Choice, first: &Choice) -> String {
    let mut said = Vec::new();
    let stops = |by: f64, what: &str| {
        let (amount, more) = (by.abs(), if by > 0.0 { "more" } else { "less" });
        if amount < 0.05 { format!("the same {what}") } else { format!("{amount:.1} stops {more} {what}") }
    };
    said.push(stops(this.stops_over - first.stops_over, "in the highlights"));
    // Figures as if the noise were white are estimates: they count where a smoothed noise would flatter.
    let smoothed = this.is_smoothed || first.is_smoothed;
    let seen = |c: &Choice| (c.stops_under, c.noise_percent);
    let unsmoothed = |c: &Choice| (c.stops_under_white, c.noise_white_percent);
    let [(under, noise), (first_under, first_noise)] =
        [this, first].map(|c| if smoothed { unsmoothed(c) } else { seen(c) });
    if let Some((a, b)) = under.zip(first_under) {
        let mut text = stops(a - b, "in the shadows");
        if let Some((seen, other)) = this.stops_under.zip(first.stops_under)
            && ((seen - other) - (a - b)).abs() > 0.15
        {
            text += &format!(
                " ({} as seen, which smoothing flatters)",
                stops(seen - other, "in the shadows").replace(" in the shadows", "")
            );
        }
        said.push(text);
    }
    if let Some((a, b)) = noise.zip(first_noise) {
        let by = a / b.max(f64::MIN_POSITIVE);
        said.push(if (by - 1.0).abs() < 0.07 {
            "the same noise at mid-grey".to_owned()
        } else {
            format!("{by:.2} times the noise at mid-grey")
        });
    }
    if let Some((a, b)) = this.smoothed_pixels.zip(first.smoothed_pixels)
        && (a / b - 1.0).abs() > 0.2
    {
        said.push(format!("noise smoothed over {} instead of {b:.1}", pixels(a)));
    }
    if let Some((a, b)) = this.mtf50.zip(first.mtf50) {
        said.push(sharper(a, b));
    }
    if let Some((a, b)) = this.block_steps.zip(first.block_steps)
        && (a / b - 1.0).abs() > 0.1
    {
        said.push(if a > b { "stronger blocks".to_owned() } else { "weaker blocks".to_owned() });
    }
    format!("{} against {}: {}", this.name(), first.name(), said.join("; "))
}

/// From which exposure index on noise is smoothed, for several in rising order.
pub fn from_which(all: &[(f64, &Noise)]) -> Option<String> {
    let smoothed = |n: &Noise| n.smoothed_pixels.filter(|width| *width > INTERPOLATION);
    if all.len() < 2 {
        return None;
    }
    let first = all.iter().position(|(_, n)| smoothed(n).is_some())?;
    let (ei, width) = (all[first].0, smoothed(all[first].1)?);
    let rest = all[first..].iter().all(|(_, n)| smoothed(n).is_some());
    let whole = if first == 0 { "at every EI".to_owned() } else { format!("from EI {ei} on") };
    rest.then(|| format!("noise is smoothed over about {} {whole}", pixels(width)))
}

/// Sentences on the second frame of one scene against the first.
pub fn of_scene(found: &Difference) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(fine) = found.fine() {
        let percent = 100.0 * fine;
        said.push(if (fine - 1.0).abs() < 0.1 {
            "fine detail and noise are the same".to_owned()
        } else if fine < 1.0 {
            format!("fine detail and noise have {percent:.0} % of the contrast: noise reduction, a softer picture or a coarser codec")
        } else {
            format!("fine detail and noise have {percent:.0} % of the contrast: sharpening, or more noise")
        });
    }
    if let Some(colour) = &found.colour {
        let mut text = Vec::new();
        let by = 100.0 * (colour.saturation - 1.0);
        if by.abs() >= 2.0 {
            text.push(format!("{:.0} % {} saturated in signal", by.abs(), if by > 0.0 { "more" } else { "less" }));
        }
        if colour.hue_degrees.abs() >= 1.0 {
            let way = if colour.hue_degrees > 0.0 { "from red towards yellow" } else { "from red towards magenta" };
            text.push(format!("hues turn by {:.1} degrees, {way}", colour.hue_degrees.abs()));
        }
        if colour.left_percent >= 5.0 {
            text.push(format!("what remains is {:.0} % of the colour: not all hues change alike", colour.left_percent));
        }
        said.push(if text.is_empty() {
            "colour is the same".to_owned()
        } else {
            format!("colour differs: {}", text.join("; "))
        });
    }
    said
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_estimate_without_smoothing_counts_only_where_noise_is_smoothed() {
        let of = |ei: f64, under: [f64; 2], noise: [f64; 2], is_smoothed: bool| Choice {
            ei,
            over: 0.0,
            stops_over: 6.0,
            stops_under: Some(under[0]),
            stops_under_white: Some(under[1]),
            noise_percent: Some(noise[0]),
            noise_white_percent: Some(noise[1]),
            smoothed_pixels: None,
            is_smoothed,
            mtf50: None,
            block_steps: None,
        };
        let first = of(800.0, [7.52, 7.09], [3.66, 4.27], false);
        let white = choice(&of(1600.0, [7.49, 7.30], [3.70, 3.71], false), &first);
        assert_eq!(
            white,
            "EI 1600 against EI 800: the same in the highlights; the same in the shadows; the same noise at mid-grey"
        );
        let smoothed = choice(&of(1600.0, [8.0, 7.30], [2.5, 3.71], true), &first);
        assert_eq!(
            smoothed,
            "EI 1600 against EI 800: the same in the highlights; 0.2 stops more in the shadows (0.5 stops more as seen, which \
             smoothing flatters); 0.87 times the noise at mid-grey"
        );
    }
}
