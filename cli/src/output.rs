//! Standard output, once, at the end of a command.

use crate::failure::Failure;
pub(crate) use crate::text::{COLUMNS, clean, paragraph, pasted, push_entry, push_field, short, wrap};
use std::io::{ErrorKind, Write};

/// Prints `text`, cleaned. A reader that went away, such as `head`, is no failure.
pub(crate) fn print(text: &str) -> Result<(), Failure> {
    let text = clean(text);
    let mut stdout = std::io::stdout().lock();
    match stdout.write_all(text.as_bytes()).and_then(|()| stdout.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            Err(Failure::new(format!("cannot write to standard output: {error}")))
        }
        _ => Ok(()),
    }
}

/// A line on standard error, cleaned.
pub(crate) fn say(line: &str) {
    // There is no place for it where standard error is closed.
    let _ = writeln!(std::io::stderr().lock(), "{}", clean(line));
}

/// Says something on standard error that a user should know of a command that goes on.
pub(crate) fn note(words: &str) {
    say(&format!("note: {words}"));
}

/// Prints a note on standard error.
pub(crate) fn warn(lines: &[String]) {
    lines.iter().flat_map(|line| wrap(&format!("warning: {line}"), COLUMNS)).for_each(|line| say(&line));
}

/// Prints a value as indented JSON.
pub(crate) fn print_json(value: &impl serde::Serialize) -> Result<(), Failure> {
    print(&json(value)?)
}

/// A value as indented JSON.
pub(crate) fn json(value: &impl serde::Serialize) -> Result<String, Failure> {
    let text = serde_json::to_string_pretty(value).map_err(|e| Failure::new(e.to_string()))?;
    // What JSON need not escape, but a terminal takes for a command.
    let mut escaped = String::with_capacity(text.len() + 1);
    for c in text.chars() {
        if matches!(c, '\u{7f}'..='\u{9f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}') {
            escaped += &format!("\\u{:04x}", u32::from(c));
        } else {
            escaped.push(c);
        }
    }
    escaped.push('\n');
    Ok(escaped)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::borrow::Cow;

    #[test]
    fn control_characters_do_nothing_and_bytes_keep_their_places() {
        let hostile = "a\u{1b}[2J\u{7}\u{9b}\u{202e}\r\n\tb é";
        let cleaned = clean(hostile);
        assert_eq!(cleaned, "a?[2J???????\n\tb é");
        assert_eq!(cleaned.len(), hostile.len());
        assert!(matches!(clean("plain é\n"), Cow::Borrowed(_)));
        let text = json(&"a\u{1b}\u{7f}\u{9b}\u{202e}").unwrap();
        assert_eq!(text, "\"a\\u001b\\u007f\\u009b\\u202e\"\n");
        assert_eq!(serde_json::from_str::<String>(&text).unwrap(), "a\u{1b}\u{7f}\u{9b}\u{202e}");
    }
}
