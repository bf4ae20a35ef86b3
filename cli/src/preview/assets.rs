//! The page itself, which is part of the program: it asks nothing of any other machine.

use rushlight::chromaticity::D65;
use rushlight::gamut::BT709;
use std::borrow::Cow;
use std::path::Path;

macro_rules! file {
    ($name:literal) => {
        ($name, include_str!(concat!("page/", $name)))
    };
}

/// Every file of the page, by the name that it has in the address.
const FILES: &[(&str, &str)] = &[
    file!("index.html"),
    file!("alone.js"),
    file!("bars.js"),
    file!("coloured.js"),
    file!("compare.js"),
    file!("curve.js"),
    file!("dom.js"),
    file!("controls.css"),
    file!("edits.js"),
    file!("fields.js"),
    file!("grid.css"),
    file!("grid.js"),
    file!("grid_draw.js"),
    file!("grid_heads.js"),
    file!("grid_work.js"),
    file!("history.js"),
    file!("keys.js"),
    file!("layout.js"),
    file!("live.js"),
    file!("main.js"),
    file!("overlay_key.js"),
    file!("page.css"),
    file!("panel.js"),
    file!("picture.js"),
    file!("readings.js"),
    file!("scope_counts.js"),
    file!("scope_draw.js"),
    file!("scope_panel.js"),
    file!("scope_pins.js"),
    file!("scope_plots.js"),
    file!("scope_sample.js"),
    file!("scopes.css"),
    file!("scopes.js"),
    file!("server.js"),
    file!("shaders.js"),
    file!("shots.css"),
    file!("shots.js"),
    file!("shots_amount.js"),
    file!("shots_cubes.js"),
    file!("shots_drag.js"),
    file!("shots_list.js"),
    file!("shots_manage.js"),
    file!("shots_new.js"),
    file!("shots_notes.js"),
    file!("shots_order.js"),
    file!("signal.js"),
    file!("stage.js"),
    file!("state.js"),
    file!("steps.js"),
    file!("work.js"),
];

/// The library's constants of colour, which the page's programs take from here.
const CONSTANTS: &str = "constants.js";

/// A module of JavaScript with the matrix of sRGB light to XYZ, row by row, and the white of it, both at a luminance of 1.
fn constants() -> String {
    let (matrix, white) = (BT709.to_xyz(), D65.to_xyz(1.0));
    let list = |values: Vec<f64>| values.iter().map(f64::to_string).collect::<Vec<_>>().join(", ");
    let rows = (0..3).map(|i| format!("[{}]", list(matrix.row(i).iter().copied().collect()))).collect::<Vec<_>>();
    format!(
        "// Written by the server, from the library's gamuts.\nexport const TO_XYZ = [{}];\nexport const WHITE = [{}];\n",
        rows.join(", "),
        list(white.iter().copied().collect())
    )
}

/// A file of the page and its media type. `folder`: read there at each request, for who works on the page.
pub(super) fn file(name: &str, folder: Option<&Path>) -> Option<(&'static str, Cow<'static, str>)> {
    let name = if name.is_empty() { "index.html" } else { name };
    let (stem, ending) = name.rsplit_once('.')?;
    let kind = match ending {
        "html" => "text/html; charset=utf-8",
        "js" => "text/javascript; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        _ => return None,
    };
    // A plain name leads nowhere else.
    if stem.is_empty() || !stem.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '_')) {
        return None;
    }
    let text = match folder {
        _ if name == CONSTANTS => Cow::Owned(constants()),
        Some(folder) => Cow::Owned(String::from_utf8(crate::disk::regular(&folder.join(name)).ok()?).ok()?),
        None => Cow::Borrowed(FILES.iter().find(|(n, _)| *n == name)?.1),
    };
    Some((kind, text))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What the page draws with is the library's own, to the last digit.
    #[test]
    fn the_page_has_the_constants_of_the_library() {
        let (kind, text) = file(CONSTANTS, None).unwrap();
        assert!(kind.starts_with("text/javascript"));
        let list = |name: &str| -> Vec<f64> {
            let (_, rest) = text.split_once(&format!("export const {name} = ")).unwrap();
            let (list, _) = rest.split_once(';').unwrap();
            list.split([',', '[', ']', ' ']).filter(|part| !part.is_empty()).map(|part| part.parse().unwrap()).collect()
        };
        assert_eq!(list("TO_XYZ"), BT709.to_xyz().transpose().as_slice());
        assert_eq!(list("WHITE"), D65.to_xyz(1.0).as_slice());
        let (_, shaders) = file("shaders.js", None).unwrap();
        assert!(shaders.contains("from \"./constants.js\"") && !shaders.contains("0.4123"));
    }
}
