//! `init`

use crate::args::Init;
use crate::disk::{Batch, read_start};
use crate::failure::Failure;
use crate::output;

/// The files of a new show.
const SHOW: &str = include_str!("../../templates/show.toml");
const LOOK: &str = include_str!("../../templates/looks/first.toml");

pub(crate) fn run(args: &Init) -> Result<(), Failure> {
    let dir = &args.dir;
    let files = [(dir.join("looks"), "first.toml", LOOK), (dir.clone(), "show.toml", SHOW)];
    for (folder, name, text) in &files {
        let path = folder.join(name);
        // The show comes last: without it, what is the same is what a run left that was killed.
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
