//! Standard output, once, at the end of a command.

use crate::failure::Failure;
use std::io::{ErrorKind, Write};

/// Columns that a report has.
pub(crate) const COLUMNS: usize = 80;

/// Prints `text`. A reader that went away, such as `head`, is no failure.
pub(crate) fn print(text: &str) -> Result<(), Failure> {
    let mut stdout = std::io::stdout().lock();
    match stdout.write_all(text.as_bytes()).and_then(|()| stdout.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            Err(Failure::new(format!("cannot write to standard output: {error}")))
        }
        _ => Ok(()),
    }
}

/// Says on standard error what one should know of what is made.
pub(crate) fn warn(lines: &[String]) {
    lines.iter().flat_map(|line| wrap(&format!("warning: {line}"), COLUMNS)).for_each(|line| eprintln!("{line}"));
}

/// Prints a value as indented JSON.
pub(crate) fn print_json(value: &impl serde::Serialize) -> Result<(), Failure> {
    print(&json(value)?)
}

/// A value as indented JSON.
pub(crate) fn json(value: &impl serde::Serialize) -> Result<String, Failure> {
    let text = serde_json::to_string_pretty(value).map_err(|e| Failure::new(e.to_string()))?;
    Ok(format!("{text}\n"))
}

/// Lines of at most `width` characters, broken between words; line ends of `text` stay.
pub(crate) fn wrap(text: &str, width: usize) -> Vec<String> {
    text.split('\n').flat_map(|line| wrap_line(line, width)).collect()
}

fn wrap_line(line: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in line.split(' ') {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// Adds `name` and what is said of it, wrapped beside it.
pub(crate) fn push_field(text: &mut String, name: &str, said: &str) {
    for (i, line) in wrap(said, COLUMNS - 10).into_iter().enumerate() {
        let name = if i == 0 { name } else { "" };
        text.push_str(format!("  {name:<8}{line}").trim_end());
        text.push('\n');
    }
}

/// At most six decimals, without zeros at the end.
pub(crate) fn short(value: f64) -> String {
    let text = format!("{value:.6}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
