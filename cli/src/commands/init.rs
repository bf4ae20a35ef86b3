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
            return Err(Failure::new(format!("{} is already there: choose another folder", path.display())));
        }
    }
    for (folder, name, text) in files {
        let mut batch = Batch::new(&folder)?;
        batch.add(name, text)?;
        batch.finish()?;
    }
    let shown = dir.display();
    output::print(&format!(
        "A new show in {shown}:\n  show.toml         cameras, displays, what to bake\n  looks/first.toml  a first look\n\n\
         Bake it:\n  rushlight bake {shown}/show.toml --out {shown}/cubes\n"
    ))
}
