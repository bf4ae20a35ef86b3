//! Event lists: corrections into one, and from one form to another.

use super::corrections::{chosen, together, usable};
use crate::args::Convert;
use crate::corrections::{form, load, wrong};
use crate::disk::{self, read_bytes};
use crate::failure::Failure;
use crate::output;
use rushlight::format::events::{self, Form};
use rushlight::format::timecode::base;
use rushlight::format::{LineError, LineErrors};
use std::cell::RefCell;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Names that a sentence lists.
const LISTED: usize = 10;

/// Whether this is about an event list: one is written, or corrections go into one.
pub(super) fn is_about(args: &Convert, out: &Path) -> bool {
    args.into.is_some() || form(out).is_some_and(|form| form != Form::Csv)
}

pub(super) fn run(args: &Convert, inputs: &[PathBuf], out: &Path) -> Result<(), Failure> {
    if args.clamp || args.title.is_some() {
        return Err(Failure::new("--clamp, --title: an event list has no place for them"));
    }
    let Some(to) = form(out) else {
        return Err(Failure::new(format!("{}: --into writes an event list: .edl, .ale or .csv", out.display())));
    };
    match &args.into {
        Some(list) => enter(args, inputs, list, to, out),
        None => rewrite(args, inputs, to, out),
    }
}

fn lines(path: &Path) -> impl Fn(LineErrors) -> Failure {
    move |all| Failure::new(wrong(path, &all))
}

fn named(names: &[String]) -> String {
    let few = names.iter().take(LISTED).cloned().collect::<Vec<_>>().join(", ");
    match names.len().checked_sub(LISTED) {
        None | Some(0) => few,
        Some(more) => format!("{few} and {more} more"),
    }
}

/// Corrections into a list, by the names of its events.
fn enter(args: &Convert, inputs: &[PathBuf], list: &Path, to: Form, out: &Path) -> Result<(), Failure> {
    if form(list) != Some(to) {
        let (list, out) = (list.display(), out.display());
        return Err(Failure::new(format!("--into {list}: the list and {out} must be of one form: the same extension")));
    }
    let read = inputs.iter().map(|path| load(path, args.column.as_deref())).collect::<Result<Vec<_>, _>>()?;
    let left = usable(&read, inputs, &args.id)?;
    let file = chosen(together(&read, inputs)?, &args.id)?;
    let (used, bare) = (RefCell::new(BTreeSet::new()), RefCell::new(Vec::new()));
    let bytes = read_bytes(list)?;
    let text = events::enter(&bytes, to, args.column.as_deref(), |event| match file.get(&event.name) {
        Some(found) => {
            used.borrow_mut().insert(event.name.clone());
            Some(found.numbers)
        }
        None => {
            bare.borrow_mut().push(event.called().to_owned());
            None
        }
    });
    let text = text.map_err(lines(list))?;
    let (used, bare) = (used.into_inner(), bare.into_inner());
    if used.is_empty() {
        let known: Vec<String> = file.ids().map(str::to_owned).collect();
        return Err(Failure::new(format!(
            "{}: no event has the name of a correction: they are called {}",
            list.display(),
            named(&known)
        )));
    }
    let unused: Vec<String> = file.ids().filter(|id| !used.contains(*id)).map(str::to_owned).collect();
    disk::write(out, text)?;
    let mut said = format!("{}: corrections of {} shots entered\n", out.display(), used.len());
    if !bare.is_empty() {
        said += &format!("events without a correction here, as they were: {}\n", named(&bare));
    }
    if !unused.is_empty() {
        said += &format!("corrections without an event: {}\n", named(&unused));
    }
    left.iter().for_each(|line| said += &format!("{line}\n"));
    output::print(&said.lines().map(output::paragraph).collect::<String>())
}

/// A list in another form.
fn rewrite(args: &Convert, inputs: &[PathBuf], to: Form, out: &Path) -> Result<(), Failure> {
    let [input] = inputs else {
        return Err(Failure::new(format!("{}: such a list is made of one event list", out.display())));
    };
    let Some(from) = form(input) else {
        return Err(Failure::new(format!(
            "{}: it has no reels and timecodes: give the event list that its corrections are to go into, with --into",
            input.display()
        )));
    };
    if !args.id.is_empty() {
        return Err(Failure::new("--id: for corrections; an event list is converted as a whole"));
    }
    let mut list = events::read(&read_bytes(input)?, from, args.column.as_deref()).map_err(lines(input))?;
    let bad = |e: &events::Event| {
        let corrections = e.correction().err().unwrap_or_default().into_iter().map(|refused| refused.to_string());
        let all = e.unusable.iter().chain(&e.untimed).cloned().chain(corrections);
        all.map(|why| LineError { line: e.line, message: format!("{}: {why}", e.called()) }).collect::<Vec<_>>()
    };
    let bad: Vec<LineError> = list.events.iter().flat_map(bad).collect();
    if !bad.is_empty() {
        return Err(lines(input)(bad.into()));
    }
    if let Some(rate) = args.rate {
        if base(rate).is_none() {
            return Err(Failure::new(format!("--rate: {rate}: no timecode counts that many frames per second")));
        }
        list.rate = Some(rate);
    }
    let text = events::write(&list, to);
    let text = text.map_err(|why| {
        Failure::new(match why.key.as_ref() {
            "rate" => format!(
                "{}: the list does not say its frames per second: give --rate, such as --rate 24",
                input.display()
            ),
            _ => format!("{}: {}", input.display(), why.message),
        })
    })?;
    disk::write(out, text)?;
    let kept = "what has no place in such a list, such as further columns and notes, is not in it";
    output::print(&output::paragraph(&format!("{}: {} events; {kept}", out.display(), list.events.len())))
}
