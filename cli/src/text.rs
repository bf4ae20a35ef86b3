//! Text for a terminal: cleaned, wrapped, pasted.

use std::borrow::Cow;
use textwrap::{Options, WordSeparator, WordSplitter, WrapAlgorithm};

/// Columns that a report has.
pub(crate) const COLUMNS: usize = 80;

/// Text on its way to a terminal, a log or a page of Markdown, where control characters would do something: each byte of one
/// is a `?`; line ends and tabs stay. Names and titles come from documents of any source.
pub(crate) fn clean(text: &str) -> Cow<'_, str> {
    let is_odd = |c: char| {
        c.is_control() && !matches!(c, '\n' | '\t') || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    if !text.contains(is_odd) {
        return Cow::Borrowed(text);
    }
    let mut cleaned = String::with_capacity(text.len());
    for c in text.chars() {
        if is_odd(c) { cleaned.extend(std::iter::repeat_n('?', c.len_utf8())) } else { cleaned.push(c) }
    }
    Cow::Owned(cleaned)
}

/// A path as a shell takes it: in single quotes where it holds anything that a shell would read.
pub(crate) fn pasted(path: &std::path::Path) -> String {
    let text = path.display().to_string();
    let plain =
        |c: char| c.is_alphanumeric() || matches!(c, '/' | '.' | '_' | '-' | '+' | ':' | '\\' | ',' | '@' | '%');
    if !text.is_empty() && text.chars().all(plain) { text } else { format!("'{}'", text.replace('\'', "'\\''")) }
}

/// Lines of at most `width` columns, broken at blanks; line ends of `text` stay.
pub(crate) fn wrap(text: &str, width: usize) -> Vec<String> {
    let options = Options::new(width)
        .break_words(false)
        .word_separator(WordSeparator::AsciiSpace)
        .word_splitter(WordSplitter::NoHyphenation)
        .wrap_algorithm(WrapAlgorithm::FirstFit);
    textwrap::wrap(text, options).into_iter().map(Cow::into_owned).collect()
}

/// A paragraph of a report; the lines after its first are set in.
pub(crate) fn paragraph(text: &str) -> String {
    wrap(text, COLUMNS - 2).join("\n  ") + "\n"
}

/// Adds `name` and its text, wrapped beside it.
pub(crate) fn push_field(text: &mut String, name: &str, said: &str) {
    push_entry(text, 8, name, said);
}

/// The same where names have so many columns, the blank after them included. A longer name pushes its line to the right.
pub(crate) fn push_entry(text: &mut String, columns: usize, name: &str, said: &str) {
    let padded = columns - 1;
    for (i, line) in wrap(said, COLUMNS - 2 - columns).into_iter().enumerate() {
        let name = if i == 0 { name } else { "" };
        text.push_str(format!("  {name:<padded$} {line}").trim_end());
        text.push('\n');
    }
}

/// At most six decimals, without zeros at the end.
pub(crate) fn short(value: f64) -> String {
    let text = format!("{value:.6}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_name_stays_apart_from_what_follows() {
        let mut text = String::new();
        push_entry(&mut text, 5, "name", "one");
        push_entry(&mut text, 5, "names", &"word ".repeat(20));
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!((lines[0], &lines[1][..12], &lines[2][..11]), ("  name one", "  names word", "       word"));
        assert!(lines.iter().all(|line| line.len() <= COLUMNS + 1), "{text}");
    }

    #[test]
    fn a_path_can_be_pasted_into_a_shell() {
        let pasted = |path: &str| pasted(std::path::Path::new(path));
        assert_eq!(pasted("new/show_1.toml"), "new/show_1.toml");
        assert_eq!(pasted("Lantern Street/show.toml"), "'Lantern Street/show.toml'");
        assert_eq!(pasted("Nan's $show"), "'Nan'\\''s $show'");
    }

    /// Columns of a terminal, not letters: one of these letters takes two.
    #[test]
    fn lines_are_as_wide_as_a_terminal_shows_them() {
        assert_eq!(wrap("one two  three\n\n  four", 8), ["one two", "three", "", "  four"]);
        assert_eq!(wrap("夜景 夜景 夜景", 10), ["夜景 夜景", "夜景"]);
        assert_eq!(wrap("a-word-that-is-longer b", 8), ["a-word-that-is-longer", "b"]);
    }
}
