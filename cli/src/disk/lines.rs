//! Line ends and the byte order mark of a text: what is not edited keeps its own.

/// The byte order mark, which some editors put first.
const MARK: char = '\u{feff}';
/// Lines that are looked ahead for one that is the same in both texts.
const AHEAD: usize = 200;

/// The text without its byte order mark and with plain line ends.
pub(super) fn plain(text: &str) -> String {
    text.strip_prefix(MARK).unwrap_or(text).replace("\r\n", "\n")
}

/// A line without its end, and its end.
fn parts(line: &str) -> (&str, &str) {
    let bare = line.strip_suffix('\n').unwrap_or(line);
    let bare = bare.strip_suffix('\r').filter(|_| line.ends_with('\n')).unwrap_or(bare);
    (bare, &line[bare.len()..])
}

/// The plain text `new` as it stands in place of `old`: with its byte order mark, and with its line ends, those of each line
/// that stays and, for what is new, those of the line above.
pub(super) fn like(old: &str, new: &str) -> String {
    let (mark, old) = old.strip_prefix(MARK).map_or(("", old), |rest| ("\u{feff}", rest));
    if !old.contains("\r\n") {
        return format!("{mark}{new}");
    }
    let old: Vec<(&str, &str)> = old.split_inclusive('\n').map(parts).collect();
    let mut text = mark.to_owned();
    let (mut at, mut end) = (0, old.first().map_or("\n", |(_, end)| *end));
    for (line, own) in new.split_inclusive('\n').map(parts) {
        let same = old[at..].iter().take(AHEAD).position(|(other, _)| *other == line);
        if let Some(ahead) = same {
            // The last line may have had none.
            end = Some(old[at + ahead].1).filter(|end| !end.is_empty()).unwrap_or(end);
            at += ahead + 1;
        }
        text += line;
        text += if own.is_empty() { "" } else { end };
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_edited_keeps_its_line_ends() {
        let mixed = "\u{feff}a\r\nb\nc\r\nd";
        assert_eq!(plain(mixed), "a\nb\nc\nd");
        assert_eq!(like(mixed, &plain(mixed)), mixed);
        assert_eq!(like(mixed, "a\nnew\nb\nc\nd\n"), "\u{feff}a\r\nnew\r\nb\nc\r\nd\r\n");
        assert_eq!(like("a\r\nb\r\n", "z\nb\nc\n"), "z\r\nb\r\nc\r\n");
        for old in ["", "a\n", "a", "\u{feff}", "a\rb\n"] {
            assert_eq!(like(old, &plain(old)), old);
        }
    }
}
