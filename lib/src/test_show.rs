//! The small show of unit tests: one camera, one display, one look.

use crate::show::Show;
use std::collections::BTreeMap;

/// Its document.
pub(crate) const SHOW: &str = "schema = 1\ntitle = 'Saltmarsh'\n[cameras.a]\ncurve = 'slog3'\ngamut = 'sgamut3-cine'\n\
    [displays.onset]\nstandard = 'bt709'\n[looks]\nnight = 'looks/night.toml'\n[[bake]]\npoints = 5\n";
/// The document of its look.
pub(crate) const NIGHT: &str =
    "schema = 1\ngeneration = 2\ntitle = 'Night'\n[[step]]\ndo = 'compress'\n[[step]]\ndo = 'print'\n";

/// A look of other steps.
pub(crate) fn look(steps: &str) -> String {
    let (head, _) = NIGHT.split_once("[[step]]").unwrap();
    format!("{head}{steps}")
}

/// Files by name.
pub(crate) fn files(files: &[(&str, &str)]) -> BTreeMap<String, Vec<u8>> {
    files.iter().map(|(name, text)| ((*name).to_owned(), text.as_bytes().to_vec())).collect()
}

/// The show with a look of these steps, and with `more` at its end.
pub(crate) fn show(steps: &str, more: &str) -> Show {
    let files = files(&[("looks/night.toml", &look(steps))]);
    Show::parse("show.toml", &format!("{SHOW}{more}"), &files).unwrap()
}
