//! Numbers in sentences, for people who light and expose by a look and do not read TOML.

/// One step of a look in words.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Sentence {
    /// The step's name in documents, such as `tint`.
    pub step: String,
    /// What the step is, in a few words.
    pub title: String,
    /// What it does here.
    pub words: String,
}

pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A number with the sign of an amount: `+0.14`, `−0.4`, `0`.
pub(super) fn signed(value: f64) -> String {
    let size = plain(value.abs());
    match size.as_str() {
        "0" => size,
        _ if value < 0.0 => format!("\u{2212}{size}"),
        _ => format!("+{size}"),
    }
}

/// A number as the document has it, to four decimals at most.
pub(super) fn plain(value: f64) -> String {
    let text = format!("{value:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.replace('-', "\u{2212}") }
}

pub(super) fn stops(count: f64) -> String {
    let amount = plain(count);
    if amount == "1" { "1 stop".to_owned() } else { format!("{amount} stops") }
}

pub(super) fn percent(share: f64) -> String {
    format!("{} %", plain(100.0 * share))
}

/// A number of stops from mid-grey in words.
pub(super) fn from_grey(at: f64) -> String {
    match at {
        0.0 => "mid-grey".to_owned(),
        at if at < 0.0 => format!("{} under mid-grey", stops(-at)),
        at => format!("{} over mid-grey", stops(at)),
    }
}

/// Red, green and blue: `red +0.06, blue −0.08`; what stays goes unsaid.
pub(super) fn channels(values: [f64; 3], stays: f64, write: impl Fn(f64) -> String) -> String {
    let moved = ["red", "green", "blue"].into_iter().zip(values).filter(|(_, v)| *v != stays);
    moved.map(|(name, v)| format!("{name} {}", write(v))).collect::<Vec<_>>().join(", ")
}
