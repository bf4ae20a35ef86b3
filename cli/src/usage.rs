//! Mistakes in arguments, in the words of a user: what was probably meant, and what to do.

use crate::args::Args;
use clap::builder::StyledStr;
use clap::error::{ContextKind, ContextValue, ErrorKind};
use clap::{Command, CommandFactory as _, Error};
use rushlight::message::nearest;
use std::error::Error as _;
use std::ffi::OsString;
use std::num::{IntErrorKind, ParseFloatError, ParseIntError};
use std::path::Path;

/// Forms of a report, which `--format FORM=FILE` writes.
const FORMS: [&str; 6] = ["text", "json", "markdown", "html", "csv", "junit"];
/// Commands that are named for an option that another command does not have.
const MOST: usize = 3;
/// Pairs of options that exclude each other, and why.
const WHY: [(&str, &str, &str); 2] = [
    ("--camera", "--scene-linear", "drop --camera: scene light has no camera"),
    ("--split", "--scene-linear", "drop --split: light without the look is no picture of a display"),
];

/// The error of arguments, given all words of the command line.
pub(crate) fn in_plain_words(error: Error, words: &[OsString]) -> Error {
    if let Some(error) = of_number(&error) {
        return error;
    }
    match error.kind() {
        ErrorKind::UnknownArgument => unknown(error, words),
        ErrorKind::ArgumentConflict => conflict(&error).unwrap_or(error),
        ErrorKind::MissingRequiredArgument => missing(error),
        _ => error,
    }
}

/// An argument that is not a number, in other words than those of Rust's parsers.
fn of_number(error: &Error) -> Option<Error> {
    let source = error.source()?;
    let whole = source.downcast_ref::<ParseIntError>().map(|e| match e.kind() {
        IntErrorKind::PosOverflow | IntErrorKind::NegOverflow => "the number is too large",
        _ => "it must be a whole number",
    });
    let right = whole.or(source.is::<ParseFloatError>().then_some("it must be a number"))?;
    let value = error.get(ContextKind::InvalidValue)?;
    let argument = error.get(ContextKind::InvalidArg)?;
    Some(raw(error.kind(), &format!("invalid value '{value}' for '{argument}': {right}")))
}

fn raw(kind: ErrorKind, message: &str) -> Error {
    Error::raw(kind, format!("{message}\n\nFor more information, try '--help'.\n"))
}

fn with_tip(mut error: Error, tip: String) -> Error {
    error.insert(ContextKind::Suggested, ContextValue::StyledStrs(vec![StyledStr::from(tip)]));
    error
}

fn text(error: &Error, kind: ContextKind) -> Option<String> {
    match error.get(kind)? {
        ContextValue::String(text) => Some(text.clone()),
        ContextValue::Strings(all) => match &all[..] {
            [one] => Some(one.clone()),
            _ => None,
        },
        _ => None,
    }
}

/// The command that the words name.
fn command(words: &[OsString]) -> Option<Command> {
    let mut found = Args::command();
    found.build();
    for word in words.iter().skip(1).filter_map(|word| word.to_str()) {
        match found.find_subcommand(word) {
            Some(inner) => found = inner.clone(),
            None => break,
        }
    }
    Some(found)
}

fn options(command: &Command) -> Vec<String> {
    command.get_arguments().filter_map(|a| a.get_long()).map(|long| format!("--{long}")).collect()
}

/// An argument that the command does not have.
fn unknown(mut error: Error, words: &[OsString]) -> Error {
    let Some((given, of)) = text(&error, ContextKind::InvalidArg).zip(command(words)) else { return error };
    // That it could be passed as a value helps with no mistake.
    error.remove(ContextKind::Suggested);
    if !given.starts_with('-') {
        let before = words.windows(2).find(|two| two[1] == *given).and_then(|two| two[0].to_str());
        let whole = before.filter(|before| !before.starts_with('-') && of.find_subcommand(before).is_none());
        let whole = whole.map(|before| format!(": \"{before} {given}\"")).unwrap_or_default();
        let quotes = format!("a name or a text with a blank goes in quotes{whole}");
        let is_file = before.is_some_and(|before| [before, &given].iter().all(|name| Path::new(name).exists()));
        let tip =
            if is_file { "this command takes no further file here: run it once for each".to_owned() } else { quotes };
        return with_tip(error, tip);
    }
    let option = given.split('=').next().unwrap_or(&given);
    let known = options(&of);
    let form = option.trim_start_matches('-');
    if FORMS.contains(&form) && known.iter().any(|known| known == "--format") {
        error.remove(ContextKind::SuggestedArg);
        return with_tip(error, format!("give --format {form}=FILE"));
    }
    // The very option of another command, rather than a near one of this.
    let mut all = Args::command();
    all.build();
    let others = all.get_subcommands().filter(|c| options(c).iter().any(|known| known == option));
    let others: Vec<String> = others.map(|c| format!("`rushlight {}`", c.get_name())).collect();
    if (1..=MOST).contains(&others.len()) {
        error.remove(ContextKind::SuggestedArg);
        return with_tip(error, format!("{option} is an option of {}", others.join(", ")));
    }
    if error.get(ContextKind::SuggestedArg).is_some() {
        return error;
    }
    match nearest(option, known.iter().map(String::as_str)).map(str::to_owned) {
        Some(near) => with_tip(error, format!("did you mean {near}?")),
        None => error,
    }
}

/// Two options that exclude each other.
fn conflict(error: &Error) -> Option<Error> {
    // An option without the name of its value.
    let name = |kind| {
        let whole = text(error, kind)?;
        Some(if whole.starts_with("--") { whole.split(' ').next()?.to_owned() } else { whole })
    };
    let (one, other) = (name(ContextKind::InvalidArg)?, name(ContextKind::PriorArg)?);
    if one == other {
        return None;
    }
    let why = WHY.iter().find(|(a, b, _)| (*a == one && *b == other) || (*a == other && *b == one));
    let why = why.map_or("drop one of the two", |(_, _, why)| why);
    Some(raw(error.kind(), &format!("{one} cannot be used with {other}: {why}")))
}

/// Arguments that are missing, of which another may take the place.
fn missing(error: Error) -> Error {
    let Some(ContextValue::Strings(all)) = error.get(ContextKind::InvalidArg) else { return error };
    let lacks = |name: &str| all.iter().any(|one| one.split(' ').next() == Some(name));
    match () {
        () if lacks("--curve") => {
            with_tip(error, "--show and --camera, together, take the place of --curve".to_owned())
        }
        () if lacks("<FRAMES>...") || lacks("[FRAMES]...") => {
            with_tip(error, "--list, a CSV file of frames, may take the place of the frames".to_owned())
        }
        () => error,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::Parser as _;

    fn said(line: &str) -> String {
        let words: Vec<OsString> = line.split('|').map(OsString::from).collect();
        let error = in_plain_words(Args::try_parse_from(&words).unwrap_err(), &words);
        error.render().to_string()
    }

    #[test]
    fn a_wrong_argument_is_answered_by_what_was_meant() {
        for (line, wanted) in [
            ("rushlight|stress|show.toml|--html|x.html", "tip: give --format html=FILE"),
            ("rushlight|camera|show.toml|--ie|800", "--ei"),
            (
                "rushlight|camera|show.toml|--date|2026-03-14",
                "tip: --date is an option of `rushlight measure`, `rushlight chart`",
            ),
            (
                "rushlight|bake|my|show/show.toml",
                "tip: a name or a text with a blank goes in quotes: \"my show/show.toml\"",
            ),
            (
                "rushlight|inspect|Cargo.toml|src/main.rs",
                "tip: this command takes no further file here: run it once for each",
            ),
            (
                "rushlight|apply|s.toml|--camera|a|--scene-linear|aces-ap1|x.exr|y.png",
                "--camera: scene light has no camera",
            ),
            ("rushlight|apply|s.toml|--split|--scene-linear|aces-ap1|x.exr|y.png", "drop --split"),
            ("rushlight|diff|a.cube|b.cube|--git|x|--show|s|--force", "unexpected argument '--force'"),
            ("rushlight|chart|x.png|--light|d55", "tip: --show and --camera, together, take the place of --curve"),
            ("rushlight|stress|s.toml|--points|x", "it must be a whole number"),
        ] {
            let said = said(line);
            assert!(said.contains(wanted) && !said.contains("as a value"), "{line}: {said}");
        }
    }
}
