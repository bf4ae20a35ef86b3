//! A look in sentences, for people who light and expose by it and do not read TOML.
//!
//! Every number that a document gives is said with its unit; what is left out is said where the picture hangs on it.

use super::settings::{Setting, StepSettings as Step, steps, table};
use crate::step::compress::{PUBLISHED_LIMITS, PUBLISHED_POWER, PUBLISHED_THRESHOLDS};
use crate::step::print::{VARIANTS, variant};
use crate::step::printer;
use schemars::JsonSchema;
use serde::Serialize;
use std::cell::RefCell;
use toml::Value;

/// One step of a look in words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Sentence {
    /// The step's name in documents, such as `tint`.
    pub step: String,
    /// What the step is, in a few words.
    pub title: String,
    /// What it does here.
    pub words: String,
}

/// The steps of the look document `text`, in order. The document has been read and found sound.
pub fn sentences(text: &str) -> Vec<Sentence> {
    steps(&table(text)).iter().map(sentence).collect()
}

/// A step's settings, of which each that is read counts as said.
struct Told<'s> {
    step: &'s Step,
    said: RefCell<Vec<&'s str>>,
}

impl<'s> Told<'s> {
    fn setting(&self, key: &str) -> Option<&'s Setting> {
        let setting = self.step.settings.iter().find(|s| s.key == key)?;
        self.said.borrow_mut().push(&setting.key);
        Some(setting)
    }

    fn number(&self, key: &str) -> Option<f64> {
        number(&self.setting(key)?.raw)
    }

    fn triple(&self, key: &str) -> Option<[f64; 3]> {
        triple(&self.setting(key)?.raw)
    }

    fn text(&self, key: &str) -> Option<&'s str> {
        self.setting(key)?.raw.as_str()
    }

    fn is(&self, key: &str) -> bool {
        self.setting(key).and_then(|s| s.raw.as_bool()).unwrap_or_default()
    }

    /// What the document says and no sentence has said yet, by its keys.
    fn rest(&self) -> Vec<String> {
        let said = self.said.borrow();
        let left = self.step.settings.iter().filter(|s| s.given && !said.contains(&s.key.as_str()));
        left.map(|s| s.said(&self.step.name)).collect()
    }
}

fn number(value: &Value) -> Option<f64> {
    value.as_float().or_else(|| value.as_integer().map(|v| v as f64))
}

fn triple(value: &Value) -> Option<[f64; 3]> {
    let numbers: Vec<f64> = value.as_array()?.iter().filter_map(number).collect();
    numbers.try_into().ok()
}

fn sentence(step: &Step) -> Sentence {
    let told = Told { step, said: RefCell::default() };
    let (title, words) = match step.name.as_str() {
        "exposure" => ("Exposure", exposure(&told)),
        "balance" => ("White balance", balance(&told)),
        "cdl" => ("ASC CDL, in ACEScct", cdl(&told)),
        "printer" => ("Printer points", points(&told)),
        "saturation" => ("Saturation", saturation(&told)),
        "contrast" => ("Contrast", contrast(&told)),
        "tint" => ("Tint", tint(&told)),
        "compress" => ("Gamut compression", compress(&told)),
        "cube" => ("Cube", cube(&told)),
        "print" => ("Print", print(&told)),
        "tone" => ("Tone curve", tone(&told)),
        _ => ("", None),
    };
    let mut words = words.unwrap_or_default();
    let rest = told.rest();
    if !rest.is_empty() {
        let space = if words.is_empty() { "" } else { " " };
        words = format!("{words}{space}{}.", capital(&rest.join(", ")));
    }
    Sentence { step: step.name.clone(), title: title.to_owned(), words }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A number with the sign of an amount: `+0.14`, `−0.4`, `0`.
fn signed(value: f64) -> String {
    let size = plain(value.abs());
    match size.as_str() {
        "0" => size,
        _ if value < 0.0 => format!("\u{2212}{size}"),
        _ => format!("+{size}"),
    }
}

/// A number as the document has it, to four decimals at most.
fn plain(value: f64) -> String {
    let text = format!("{value:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.replace('-', "\u{2212}") }
}

fn stops(count: f64) -> String {
    let amount = plain(count);
    if amount == "1" { "1 stop".to_owned() } else { format!("{amount} stops") }
}

fn percent(share: f64) -> String {
    format!("{} %", plain(100.0 * share))
}

/// Red, green and blue: `red +0.06, blue −0.08`; what stays goes unsaid.
fn channels(values: [f64; 3], stays: f64, write: impl Fn(f64) -> String) -> String {
    let moved = ["red", "green", "blue"].into_iter().zip(values).filter(|(_, v)| *v != stays);
    moved.map(|(name, v)| format!("{name} {}", write(v))).collect::<Vec<_>>().join(", ")
}

fn exposure(told: &Told<'_>) -> Option<String> {
    if let Some(amount) = told.number("stops") {
        let way = if amount < 0.0 { "darker" } else { "brighter" };
        let unmoved = "The light stays as it is.".to_owned();
        return Some(if amount == 0.0 { unmoved } else { format!("{} {way}.", capital(&stops(amount.abs()))) });
    }
    let factor = told.number("factor")?;
    let in_stops = signed((crate::math::log2(factor) * 1e4).round() / 1e4);
    Some(format!("The light times {}: {in_stops} stops.", plain(factor)))
}

/// The white under `end`: `5400 K`, and its kelvin.
fn white(told: &Told<'_>, end: &str) -> Option<(String, Option<f64>)> {
    if let Some(kelvin) = told.number(&format!("{end}.kelvin")) {
        let tint = told.setting(&format!("{end}.tint")).and_then(|s| Some((number(&s.raw)?, s.unit)));
        let tint = tint.filter(|(t, _)| *t != 0.0).map(|(t, unit)| format!(" with a tint of {} {unit}", signed(t)));
        let said = format!("{} K{}", plain(kelvin), tint.unwrap_or_default().trim_end());
        return Some((said, Some(kelvin)));
    }
    let xy = told.setting(&format!("{end}.xy"))?;
    let numbers: Vec<String> = xy.raw.as_array()?.iter().filter_map(number).map(plain).collect();
    Some((format!("x {} y {}", numbers.first()?, numbers.get(1)?), None))
}

/// D65 as a colour temperature, where a balance leads when it says nothing else.
const D65_KELVIN: f64 = 6504.0;

fn balance(told: &Told<'_>) -> Option<String> {
    let (from, warm) = white(told, "from")?;
    let (to, cold) = white(told, "to").unwrap_or(("neutral (D65)".to_owned(), Some(D65_KELVIN)));
    let turns = match warm.zip(cold) {
        Some((from, to)) if from < to => "; the whole picture turns cooler",
        Some((from, to)) if from > to => "; the whole picture turns warmer",
        _ => "",
    };
    let by = told.text("adaptation").unwrap_or_default();
    let by = told.step.settings.iter().any(|s| s.key == "adaptation" && s.given).then(|| format!(", by {by}"));
    Some(format!("A light of {from} becomes {to}{}{turns}.", by.unwrap_or_default()))
}

fn cdl(told: &Told<'_>) -> Option<String> {
    let mut said = Vec::new();
    for (key, stays) in [("slope", 1.0), ("offset", 0.0), ("power", 1.0)] {
        let values = told.triple(key)?;
        if values != [stays; 3] {
            let write = if key == "offset" { signed } else { plain };
            said.push(format!("{key} {}", values.map(write).join(" ")));
        }
    }
    let saturation = told.number("saturation")?;
    if saturation != 1.0 {
        said.push(format!("saturation {}", plain(saturation)));
    }
    if told.is("clamp") {
        said.push("clamped to 0..1".to_owned());
    }
    let unmoved = "All at rest: the picture stays as it is.".to_owned();
    Some(if said.is_empty() { unmoved } else { format!("{} (red, green, blue).", capital(&said.join("; "))) })
}

fn points(told: &Told<'_>) -> Option<String> {
    let (values, per_stop) = (told.triple("points")?, told.number("per_stop")?);
    let of = format!("{} points to a stop", plain(per_stop));
    let of = if per_stop == printer::PER_STOP.default { "twelve points to a stop".to_owned() } else { of };
    let said = channels(values, 0.0, |v| {
        let amount = signed((v / per_stop * 1e3).round() / 1e3);
        format!("{} ({amount} stops)", signed(v))
    });
    let said = if said.is_empty() { "No channel moves".to_owned() } else { said };
    Some(format!("{}; {of}, more points are more light.", capital(&said)))
}

fn saturation(told: &Told<'_>) -> Option<String> {
    let amount = told.number("amount")?;
    Some(match amount {
        0.0 => "Monochrome.".to_owned(),
        1.0 => "Colours stay as they are.".to_owned(),
        _ => format!("Colours at {} of their strength; luminance stays.", percent(amount)),
    })
}

/// A number of stops from mid-grey in words.
fn from_grey(at: f64) -> String {
    match at {
        0.0 => "mid-grey".to_owned(),
        at if at < 0.0 => format!("{} under mid-grey", stops(-at)),
        at => format!("{} over mid-grey", stops(at)),
    }
}

fn contrast(told: &Told<'_>) -> Option<String> {
    let (amount, pivot) = (told.number("amount")?, told.number("pivot")?);
    Some(format!("{} out for a stop in, about {}.", capital(&stops(amount)), from_grey(pivot)))
}

fn tint(told: &Told<'_>) -> Option<String> {
    let mut said = Vec::new();
    for (zone, start, width, beyond) in
        [("shadows", "shadow_start", "shadow_width", -1.0), ("highlights", "highlight_start", "highlight_width", 1.0)]
    {
        let moved = channels(told.triple(zone)?, 0.0, signed);
        if !moved.is_empty() {
            let (start, width) = (told.number(start)?, told.number(width)?);
            let full = from_grey(start + beyond * width);
            said.push(format!("{} {moved} stops, from {} on, full {full}.", capital(zone), from_grey(start)));
        }
    }
    if said.is_empty() {
        said.push("No zone is tinted.".to_owned());
    }
    let kept = [(told.is("keep_grey"), "mid-grey"), (told.is("keep_luminance"), "the luminance of greys")];
    let kept: Vec<&str> = kept.into_iter().filter(|(is, _)| *is).map(|(_, what)| what).collect();
    said.push(match kept.as_slice() {
        [] => "Mid-grey and the luminance of greys may move.".to_owned(),
        [one] => format!("{} stays.", capital(one)),
        both => format!("{} stay.", capital(&both.join(" and "))),
    });
    Some(said.join(" "))
}

fn compress(told: &Told<'_>) -> Option<String> {
    let (limits, thresholds, power) = (told.triple("limits")?, told.triple("thresholds")?, told.number("power")?);
    let what = "Lights beyond what film and displays have are drawn in softly";
    if (limits, thresholds, power) == (PUBLISHED_LIMITS, PUBLISHED_THRESHOLDS, PUBLISHED_POWER) {
        return Some(format!("{what}, by the published numbers of the ACES reference gamut compression."));
    }
    let list = |values: [f64; 3]| values.map(plain).join(" ");
    Some(format!(
        "{what} (ACES reference gamut compression): untouched up to {} from grey, limits {}, power {}; towards cyan, \
         magenta, yellow.",
        list(thresholds),
        list(limits),
        plain(power)
    ))
}

fn cube(told: &Told<'_>) -> Option<String> {
    let file = told.text("file")?;
    let space = |end: &str| {
        let curve = told.text(&format!("{end}.curve"))?;
        let ei = told.number(&format!("{end}.ei")).map(|ei| format!(" at EI {}", plain(ei))).unwrap_or_default();
        let gamut = told.text(&format!("{end}.gamut"));
        Some(format!("{curve}{ei}{}", gamut.map_or_else(String::new, |g| format!(" / {g}"))))
    };
    let gives = told.text("gives.display").map(|d| format!("signal of the display {d}")).or_else(|| space("gives"));
    let reading = told.text("interpolation").unwrap_or_default();
    let strength = told.number("strength").unwrap_or(1.0);
    let part = if strength == 1.0 { String::new() } else { format!(", at {} of its strength", percent(strength)) };
    Some(format!("The file {file}{part}: takes {}, gives {}; {reading} reading.", space("expects")?, gives?))
}

/// What a print and a tone curve do to greys.
fn scale(told: &Told<'_>) -> Option<String> {
    let (grey, contrast, black) = (told.number("grey")?, told.number("contrast")?, told.number("black")?);
    let (toe, shoulder) = (told.number("toe")?, told.number("shoulder")?);
    Some(format!(
        "Mid-grey is shown at {} of white; contrast {} (density per log exposure); shadows roll off over {} into a black of \
         density {}, highlights over {} into white.",
        percent(grey),
        plain(contrast),
        stops(toe),
        plain(black),
        stops(shoulder)
    ))
}

fn print(told: &Told<'_>) -> Option<String> {
    let name = told.text("variant")?;
    let base = variant(name).unwrap_or(&VARIANTS[0]);
    let mut said = vec![format!("The print `{name}`: {}.", base.help), scale(told)?];
    let mut more = Vec::new();
    if let Some(amount) = told.number("exposure").filter(|v| *v != 0.0) {
        more.push(format!("negative exposed {} stops", signed(amount)));
    }
    if let Some(colour) = told.number("colour") {
        more.push(format!("colours at {}", percent(colour)));
    }
    if let Some(hue) = told.number("hue") {
        more.push(match hue {
            0.0 => "bright lights turn in hue as the dyes turn them".to_owned(),
            _ => format!("bright lights keep their hue at {}", percent(hue)),
        });
    }
    if let Some(share) = told.number("crosstalk") {
        more.push(format!("crosstalk of the layers {}", percent(share)));
    }
    if let Some(lights) = told.triple("lights") {
        more.push(format!("printer lights {}", lights.map(plain).join(" ")));
    }
    if let Some(kelvin) = told.number("kelvin") {
        more.push(format!("projector of {} K", plain(kelvin)));
    }
    if let Some(flare) = told.number("flare").filter(|v| *v != 0.0) {
        more.push(format!("flare {} of white", percent(flare)));
    }
    said.push(format!("{}.", capital(&more.join(", "))));
    Some(said.join(" "))
}

fn tone(told: &Told<'_>) -> Option<String> {
    let colours = if told.is("per_channel") {
        "A plain curve on each channel, no print: bright lights turn in hue."
    } else {
        "A plain curve, no print: bright lights keep their hue and end in white."
    };
    Some(format!("{colours} {}", scale(told)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(steps: &str) -> Vec<String> {
        sentences(&format!("schema = 1\ngeneration = 2\ntitle = 'Night'\n{steps}"))
            .into_iter()
            .map(|s| s.words)
            .collect()
    }

    #[test]
    fn steps_are_sentences_with_units() {
        let steps = "[[step]]\ndo = 'compress'\n[[step]]\ndo = 'exposure'\nstops = -0.4\n[[step]]\ndo = 'balance'\nfrom = { kelvin \
            = 5400 }\n[[step]]\ndo = 'tint'\nshadows = [-0.16, 0.02, 0.14]\nhighlights = [0.06, 0, -0.08]\n[[step]]\ndo = \
            'contrast'\namount = 1.05\npivot = -1\n[[step]]\ndo = 'printer'\npoints = [0.5, 0.0, -6]\n[[step]]\ndo = \
            'saturation'\namount = 0.95\n";
        assert_eq!(
            words(steps),
            [
                "Lights beyond what film and displays have are drawn in softly, by the published numbers of the ACES reference \
                 gamut compression.",
                "0.4 stops darker.",
                "A light of 5400 K becomes neutral (D65); the whole picture turns cooler.",
                "Shadows red −0.16, green +0.02, blue +0.14 stops, from mid-grey on, full 4 stops under mid-grey. Highlights \
                 red +0.06, blue −0.08 stops, from mid-grey on, full 4 stops over mid-grey. Mid-grey and the luminance of \
                 greys stay.",
                "1.05 stops out for a stop in, about 1 stop under mid-grey.",
                "Red +0.5 (+0.042 stops), blue −6 (−0.5 stops); twelve points to a stop, more points are more light.",
                "Colours at 95 % of their strength; luminance stays.",
            ]
        );
    }

    #[test]
    fn a_print_says_what_its_variant_leaves_unsaid() {
        let said = &words("[[step]]\ndo = 'print'\nvariant = 'deep'\ntoe = 1.0\nlights = [25, 24, 25]\n")[0];
        for part in [
            "`deep`",
            "8.5 % of white",
            "hue at 85 %",
            "contrast 4.4",
            "over 1 stop into",
            "density 4.5,",
            "lights 25 24 25",
        ] {
            assert!(said.contains(part), "{part}: {said}");
        }
    }

    /// Every number and name that a look can give is said: each key of the schema is set to a value of its own, which
    /// must stand in the sentence.
    #[test]
    fn nothing_that_a_document_gives_goes_unsaid() {
        let schema = crate::look::schema();
        let defs = &schema["$defs"];
        let mut count = 0;
        for step in defs["StepDoc"]["oneOf"].as_array().unwrap() {
            let name = step["properties"]["do"]["const"].as_str().unwrap();
            let own = step["properties"].as_object();
            let link = step["$ref"].as_str().and_then(|link| defs[link.rsplit('/').next()?]["properties"].as_object());
            for (key, shape) in own.into_iter().chain(link).flatten().filter(|(key, _)| *key != "do") {
                let shape = shape["anyOf"].as_array().map_or(shape, |any| &any[0]);
                let (value, said) = match shape["type"].as_str() {
                    Some("array") => ("[0.11, 0.22, 0.33]", "0.22"),
                    Some("number") => ("0.25", "25"),
                    Some("boolean") | None => continue,
                    _ if shape["enum"].is_array() => continue,
                    _ => ("'odd-name'", "odd-name"),
                };
                let must = match name {
                    "balance" => "from = { kelvin = 4000 }\n",
                    "cube" if key != "file" => "file = 'x.cube'\n",
                    "saturation" | "contrast" if key != "amount" => "amount = 1.1\n",
                    "printer" if key != "points" => "points = [1, 2, 3]\n",
                    _ => "",
                };
                let spaces = "expects = { curve = 'slog3', gamut = 'sgamut3' }\ngives = { display = 'bt709' }\n";
                let must = if name == "cube" { format!("{must}{spaces}") } else { must.to_owned() };
                let text = format!("[[step]]\ndo = '{name}'\n{must}{key} = {value}\n");
                let words = words(&text);
                assert!(words[0].contains(said), "{text}\n{words:?}");
                count += 1;
            }
        }
        assert!(count > 28, "{count}");
    }
}
