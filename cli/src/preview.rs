//! The server of `preview`: looks on real frames, on this machine alone, in a browser.
//!
//! `server` listens and guards; `api`, `looks_api` and `scopes_api` answer; `studio` holds the show and its looks, `look` one look
//! with undo and redo, its history in words and the versions held beside it; `edit` changes its text, `fields` tells what can be
//! set; `bakes`, `frames` and `overlay` are what the page draws with, `page_settings` how a user has it; `versus` compares, `worst`
//! searches in the background, `watch` looks after the files, `live` reads a live picture, `shots` has each shot's correction with its versions, and writes it
//! into its file; `unsaved` keeps what is in none, `left` offers it again, and `seats` tells which look is which when the show
//! changes.

mod api;
mod assets;
mod bakes;
mod crowd;
mod edit;
mod events;
mod fields;
mod frames;
mod guard;
mod history;
mod left;
mod live;
mod look;
mod looks_api;
mod overlay;
mod page_settings;
mod patience;
mod question;
mod refusal;
mod scopes;
mod scopes_api;
mod seats;
mod server;
mod shots;
mod steady;
mod studio;
mod unsaved;
mod versus;
mod wanted;
mod watch;
mod worst;

pub(crate) use live::Settings as LiveSettings;
pub(crate) use server::{Options, Preview};
