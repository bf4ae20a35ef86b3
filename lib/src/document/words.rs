//! What is wrong with a document, in words.

use crate::invalid::short;

/// Letters of what stands in a document that are repeated.
const LETTERS: usize = 80;

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
            return format!("is {given}: it must be {}", plain(wanted));
        }
    }
    message.to_owned()
}

/// The beginning of what stands in a document.
pub(crate) fn beginning(text: &str) -> String {
    let cut: String = text.chars().take(LETTERS).collect();
    let more = if cut.len() < text.len() { "..." } else { "" };
    format!("{cut}{more}")
}

/// What Rust and serde call a value, in plain words.
fn plain(what: &str) -> String {
    let long = what.strip_prefix("floating point `").and_then(|n| n.strip_suffix('`')).filter(|n| n.len() > LETTERS);
    if let Some(number) = long.and_then(|n| n.parse().ok()) {
        return format!("number `{}`", short(number));
    }
    let what = what.replace("floating point `", "number `").replace("integer `", "number `").replace("boolean `", "`");
    match what.as_str() {
        "f64" => "a number".to_owned(),
        "u32" | "usize" => "a whole number, 0 or more".to_owned(),
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

/// What to say of a name that is not one of `known`.
pub fn unknown<'a>(what: &str, given: &str, known: impl IntoIterator<Item = &'a str>) -> String {
    /// Names that are listed, and names that are compared.
    const LISTED: usize = 60;
    const COMPARED: usize = 2000;
    let known: Vec<&str> = known.into_iter().collect();
    let near = known
        .iter()
        .take(COMPARED)
        .filter(|k| k.len().max(given.len()) <= LETTERS)
        .map(|k| (distance(&given.to_lowercase(), &k.to_lowercase()), *k))
        .filter(|(d, k)| *d <= 1 + k.chars().count().max(given.chars().count()) / 4)
        .min();
    let hint = near.map(|(_, k)| format!(": did you mean `{k}`?")).unwrap_or_else(|| match known.len() {
        0 => String::new(),
        n @ ..=LISTED => format!(": it must be one of {}", known[..n].join(", ")),
        n => format!(": it must be one of {} and {} more", known[..LISTED].join(", "), n - LISTED),
    });
    format!("unknown {what} `{}`{hint}", beginning(given))
}

/// Edits between two words (Levenshtein).
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, ca) in a.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, cb) in b.iter().enumerate() {
            let substitution = diagonal + usize::from(ca != *cb);
            diagonal = row[j + 1];
            row[j + 1] = substitution.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[b.len()]
}
