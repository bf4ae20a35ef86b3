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
            return format!("is {given}, but must be {}", plain(wanted));
        }
    }
    message.to_owned()
}

/// The beginning of what stands in a document.
pub(crate) fn beginning(text: &str) -> String {
    beginning_of(text, LETTERS)
}

/// The first letters of a text.
pub(crate) fn beginning_of(text: &str, letters: usize) -> String {
    match text.char_indices().nth(letters) {
        Some((at, _)) => format!("{}...", &text[..at]),
        None => text.to_owned(),
    }
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

/// The one of `known` for which `given` is probably a slip of the pen.
pub(crate) fn nearest<'a>(given: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    /// Names that are compared.
    const COMPARED: usize = 2000;
    known
        .into_iter()
        .take(COMPARED)
        .filter(|k| k.len().max(given.len()) <= LETTERS)
        .map(|k| (distance(&given.to_lowercase(), &k.to_lowercase()), k))
        // One edit in three letters: with more, another word was meant.
        .filter(|(d, k)| *d <= k.chars().count().max(given.chars().count()) / 3)
        .min()
        .map(|(_, k)| k)
}

/// What to say of a name that is not one of `known`.
pub fn unknown<'a>(what: &str, given: &str, known: impl IntoIterator<Item = &'a str>) -> String {
    /// Names that are listed.
    const LISTED: usize = 60;
    let known: Vec<&str> = known.into_iter().collect();
    let listed = |names: &[&str]| names.iter().map(|name| beginning(name)).collect::<Vec<_>>().join(", ");
    let near = nearest(given, known.iter().copied());
    let hint = near.map(|k| format!(": did you mean `{k}`?")).unwrap_or_else(|| match known.len() {
        0 => String::new(),
        n @ ..=LISTED => format!(": it must be one of {}", listed(&known[..n])),
        n => format!(": it must be one of {} and {} more", listed(&known[..LISTED]), n - LISTED),
    });
    format!("unknown {what} `{}`{hint}", beginning(given))
}

/// Edits between two words: letters put in, taken out, changed, or two neighbours that changed places (Damerau and
/// Levenshtein; no part edited twice).
fn distance(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    let mut before: Vec<usize> = Vec::new();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for i in 1..=a.len() {
        let mut next = vec![i];
        for j in 1..=b.len() {
            let mut edits = (row[j - 1] + usize::from(a[i - 1] != b[j - 1])).min(row[j] + 1).min(next[j - 1] + 1);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                edits = edits.min(before[j - 2] + 1);
            }
            next.push(edits);
        }
        before = std::mem::replace(&mut row, next);
    }
    row[b.len()]
}
