//! Shared inputs of the benchmarks.

use rushlight::show::Show;
use std::collections::BTreeMap;

macro_rules! demo_files {
    ($($name:literal),*) => {
        [$(($name, include_str!(concat!("../../fixtures/demo/", $name)))),*]
    };
}

/// The demo show, as its documents give it.
///
/// # Panics
/// When the show does not read.
pub fn demo_show() -> Show {
    let files = demo_files!["show.toml", "curves/harbour.toml", "looks/night.toml", "looks/day.toml"];
    let text = files[0].1;
    let files: BTreeMap<String, Vec<u8>> =
        files.iter().map(|(name, text)| ((*name).to_owned(), text.as_bytes().to_vec())).collect();
    Show::parse("show.toml", text, &files).expect("the demo show reads")
}
