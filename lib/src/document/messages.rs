//! What is wrong with a document, in words.

use crate::invalid::short;
use crate::message::{beginning, unknown};

/// Digits of a number that are repeated.
const DIGITS: usize = 80;

/// Serde's messages in our words, with the nearest known name where one was mistyped.
pub(super) fn reword(message: &str) -> String {
    let message = message.lines().next().unwrap_or(message);
    let quoted: Vec<&str> = message.split('`').skip(1).step_by(2).collect();
    if message.starts_with("unknown field") || message.starts_with("unknown variant") {
        let what = if message.starts_with("unknown field") { "key" } else { "name" };
        let (given, known) = quoted.split_first().map_or(("", &[][..]), |(g, k)| (*g, k));
        return unknown(what, given, known.iter().copied());
    }
    if message.starts_with("missing field") {
        return format!("missing key `{}`", quoted.first().unwrap_or(&""));
    }
    for kind in ["invalid type: ", "invalid value: ", "invalid length "] {
        if let Some((given, wanted)) = message.strip_prefix(kind).and_then(|m| m.split_once(", expected ")) {
            let given = if kind == "invalid length " { format!("a list of {given}") } else { beginning(&plain(given)) };
            return format!("is {given}, but must be {}", plain(wanted));
        }
    }
    message.to_owned()
}

/// What Rust and serde call a value, in plain words.
fn plain(what: &str) -> String {
    let long = what.strip_prefix("floating point `").and_then(|n| n.strip_suffix('`')).filter(|n| n.len() > DIGITS);
    if let Some(number) = long.and_then(|n| n.parse().ok()) {
        return format!("number `{}`", short(number));
    }
    let what = what.replace("floating point `", "number `").replace("integer `", "number `").replace("boolean `", "`");
    match what.as_str() {
        "f64" => "a number".to_owned(),
        "u32" => "a whole number, 1 or more".to_owned(),
        "usize" => "a whole number, 0 or more".to_owned(),
        "a boolean" => "true or false".to_owned(),
        "map" | "a map" => "a table".to_owned(),
        "sequence" | "a sequence" => "a list".to_owned(),
        other if other.starts_with("struct ") => "a table".to_owned(),
        other => match other.strip_prefix("an array of length ") {
            Some(count) => format!("a list of {count}"),
            None => what,
        },
    }
}
