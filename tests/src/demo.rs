//! The demo show, read from the fixtures.

use rushlight::files::{FileError, Files};
use rushlight::frame::{Frame, ReadOptions};
use rushlight::show::Show;
use std::path::{Path, PathBuf};

/// The files of a folder.
pub struct Folder(pub PathBuf);

impl Files for Folder {
    fn read(&self, name: &str) -> Result<Vec<u8>, FileError> {
        Ok(std::fs::read(self.0.join(name))?)
    }
}

/// The folder of the demo show.
pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/demo")
}

/// Copies the demo's documents, without its brackets and charts, into a folder.
///
/// # Panics
/// Where that cannot be.
pub fn copy(to: &Path) {
    for name in
        ["show.toml", "looks/night.toml", "looks/day.toml", "curves/harbour.toml", "cdl/night1.ccc", "cdl/day2.ale"]
    {
        let place = to.join(name);
        std::fs::create_dir_all(place.parent().expect("a file has a folder")).expect("a folder");
        std::fs::copy(folder().join(name), place).expect("a fixture");
    }
}

/// The show of the file at `path`.
///
/// # Panics
/// With every problem of the show.
pub fn show_of(path: &Path) -> Show {
    let files = Folder(path.parent().expect("a file has a folder").to_owned());
    let name = path.file_name().and_then(|n| n.to_str()).expect("a name in UTF-8");
    let text = std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    Show::parse(name, &text, &files).unwrap_or_else(|problems| {
        panic!("{}", problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))
    })
}

/// The demo show.
pub fn show() -> Show {
    show_of(&folder().join("show.toml"))
}

/// The still at `path`.
///
/// # Panics
/// When it cannot be read.
pub fn still(path: &Path) -> Frame {
    let bytes = std::fs::read(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    rushlight::frame::read(&bytes, &ReadOptions::default()).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// The demo show with the older revision of its night look.
///
/// # Panics
/// With every problem of the show.
pub fn older() -> Show {
    let path = folder().join("show.toml");
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let text = text.replace("night = \"looks/night.toml\"", "night = \"revisions/night-2.toml\"");
    Show::parse("show.toml", &text, &Folder(folder())).unwrap_or_else(|problems| {
        panic!("{}", problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))
    })
}
