//! Standard output, once, at the end of a command.

use crate::failure::Failure;
use std::io::{ErrorKind, Write};

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

/// Prints a value as indented JSON.
pub(crate) fn print_json(value: &impl serde::Serialize) -> Result<(), Failure> {
    let text = serde_json::to_string_pretty(value).map_err(|e| Failure::new(e.to_string()))?;
    print(&format!("{text}\n"))
}
