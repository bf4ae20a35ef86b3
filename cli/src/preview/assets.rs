//! The page itself, which is part of the program: it asks nothing of any other machine.

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
    file!("bars.js"),
    file!("curve.js"),
    file!("dom.js"),
    file!("edits.js"),
    file!("fields.js"),
    file!("main.js"),
    file!("page.css"),
    file!("panel.js"),
    file!("picture.js"),
    file!("readings.js"),
    file!("server.js"),
    file!("shaders.js"),
    file!("signal.js"),
    file!("stage.js"),
    file!("state.js"),
    file!("steps.js"),
    file!("work.js"),
];

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
        Some(folder) => Cow::Owned(String::from_utf8(crate::disk::regular(&folder.join(name)).ok()?).ok()?),
        None => Cow::Borrowed(FILES.iter().find(|(n, _)| *n == name)?.1),
    };
    Some((kind, text))
}
