//! Unknown names, and long texts, in messages: the name that was probably meant, and the beginning of the text.

/// Most letters of a message, whatever it repeats of a file.
pub const LETTERS_OF_MESSAGE: usize = 3000;
/// Most letters of a title, or of the name of a correction, which becomes part of file names and of headers.
pub const LONGEST_TITLE: usize = 200;
/// Letters of what stands in a document that are repeated.
const LETTERS: usize = 80;

/// The beginning of what stands in a document.
pub fn beginning(text: &str) -> String {
    beginning_of(text, LETTERS)
}

/// The first letters of a text.
pub fn beginning_of(text: &str, letters: usize) -> String {
    match text.char_indices().nth(letters) {
        Some((at, _)) => format!("{}...", &text[..at]),
        None => text.to_owned(),
    }
}

/// A text in one line, without control characters.
pub fn one_line(text: &str) -> String {
    let line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    line.chars().filter(|c| !c.is_control()).collect()
}

/// The one of `known` for which `given` is probably a slip of the pen.
pub fn nearest<'a>(given: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    /// Names that are compared.
    const COMPARED: usize = 2000;
    known
        .into_iter()
        .take(COMPARED)
        .filter(|k| k.len().max(given.len()) <= LETTERS)
        .map(|k| (strsim::osa_distance(&given.to_lowercase(), &k.to_lowercase()), k))
        // One edit in three letters: with more, another word was meant.
        .filter(|(d, k)| *d <= k.chars().count().max(given.chars().count()) / 3)
        .min()
        .map(|(_, k)| k)
}

/// Those of `known` that begin with `given`, if they are few: `slog2` and `slog3` for `slog`.
fn with_beginning<'a>(given: &str, known: &[&'a str]) -> Vec<&'a str> {
    /// Shorter beginnings say too little.
    const LEAST: usize = 3;
    /// More names are no hint.
    const MOST: usize = 4;
    let given = given.to_lowercase();
    let begins = |name: &&str| given.chars().count() >= LEAST && name.to_lowercase().starts_with(&given);
    let alike: Vec<&str> = known.iter().copied().filter(begins).collect();
    if alike.len() > MOST { Vec::new() } else { alike }
}

/// Those of `known` of which `given` is one part between hyphens: `P3` of `p3-d65` and `p3-dci`.
fn with_part<'a>(given: &str, known: &[&'a str]) -> Vec<&'a str> {
    let given = given.to_lowercase();
    known.iter().copied().filter(|name| name.split('-').any(|part| part.to_lowercase() == given)).collect()
}

/// What to say of a name that is not one of `known`.
pub fn unknown<'a>(what: &str, given: &str, known: impl IntoIterator<Item = &'a str>) -> String {
    format!("unknown {what} `{}`{}", beginning(given), meant(given, known))
}

/// Which of `known` was probably meant by a name, or which there are; begins with a colon where there is something to say.
pub fn meant<'a>(given: &str, known: impl IntoIterator<Item = &'a str>) -> String {
    /// Names that are listed.
    const LISTED: usize = 60;
    let known: Vec<&str> = known.into_iter().collect();
    let listed = |names: &[&str]| names.iter().map(|name| beginning(name)).collect::<Vec<_>>().join(", ");
    let alike = with_beginning(given, &known);
    let near = match alike.is_empty() {
        true => nearest(given, known.iter().copied()).map_or_else(|| with_part(given, &known), |name| vec![name]),
        false => alike,
    };
    let meant = (!near.is_empty()).then(|| near.iter().map(|k| format!("`{k}`")).collect::<Vec<_>>().join(" or "));
    meant.map(|names| format!(": did you mean {names}?")).unwrap_or_else(|| match known.len() {
        0 => String::new(),
        n @ ..=LISTED => format!(": it must be one of {}", listed(&known[..n])),
        n => format!(": it must be one of {} and {} more", listed(&known[..LISTED]), n - LISTED),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_of_a_name_names_all_that_have_it() {
        let displays = ["bt709", "p3-d65", "p3-dci", "bt2100-pq"];
        let said = |given: &str| unknown("display", given, displays);
        assert_eq!(said("P3"), "unknown display `P3`: did you mean `p3-d65` or `p3-dci`?");
        assert_eq!(said("pq"), "unknown display `pq`: did you mean `bt2100-pq`?");
        assert_eq!(
            unknown("curve", "slog", ["dlog", "slog2", "slog3"]),
            "unknown curve `slog`: did you mean `slog2` or `slog3`?"
        );
        assert_eq!(said("p3-dc"), "unknown display `p3-dc`: did you mean `p3-dci`?");
        assert_eq!(said("cinema"), "unknown display `cinema`: it must be one of bt709, p3-d65, p3-dci, bt2100-pq");
    }
}
