//! `init`

use crate::args::Init;
use crate::disk::{Batch, read_start};
use crate::failure::Failure;
use crate::output;
use std::path::Path;

/// The files of a new show.
const SHOW: &str = include_str!("../../templates/show.toml");
const LOOK: &str = include_str!("../../templates/looks/first.toml");

/// The line of the show that has its title.
const TITLE: &str = "title = \"My show\"";

/// Letters of a title that come from the name of a folder, at most.
const LETTERS: usize = 60;

/// The title of a show, from the name of its folder: `night-market` is `Night market`.
fn title(dir: &Path) -> String {
    let path = std::path::absolute(dir).unwrap_or_else(|_| dir.to_owned());
    let name = path.file_name().map(|name| name.to_string_lossy().replace(['-', '_'], " ")).unwrap_or_default();
    let mut letters = name.trim().chars().filter(|c| !c.is_control()).take(LETTERS);
    let title: String = letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default();
    if title.is_empty() { "My show".to_owned() } else { title }
}

pub(crate) fn run(args: &Init) -> Result<(), Failure> {
    let dir = &args.dir;
    let document = SHOW.replace(TITLE, &format!("title = {}", serde_json::Value::from(title(dir))));
    let files = [(dir.join("looks"), "first.toml", LOOK), (dir.clone(), "show.toml", document.as_str())];
    for (folder, name, text) in &files {
        let path = folder.join(name);
        // The show is written last: if it is missing, identical files were left by a killed run.
        let is_begun = !dir.join("show.toml").exists() && read_start(&path, text.len() + 1) == text.as_bytes();
        if path.exists() && !is_begun {
            return Err(Failure::new(format!("{} already exists: choose another folder", path.display())));
        }
    }
    for (folder, name, text) in files {
        let mut batch = Batch::new(&folder)?;
        batch.add(name, text)?;
        batch.finish()?;
    }
    let shown = dir.display();
    let [show, cubes] = [dir.join("show.toml"), dir.join("cubes")].map(|path| output::pasted(&path));
    output::print(&format!(
        "New show in {shown}:\n  show.toml         cameras, displays, looks, cubes to bake\n  looks/first.toml  a first look\n\n\
         Bake it:\n  rushlight bake {show} --out {cubes}\n"
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_show_has_its_title_from_its_folder() {
        assert!(SHOW.contains(TITLE));
        for (folder, of) in [
            ("Lantern Street", "Lantern Street"),
            ("my-show", "My show"),
            ("shows/night_2", "Night 2"),
            ("/", "My show"),
        ] {
            assert_eq!(title(Path::new(folder)), of);
        }
    }
}
