//! Text within Markdown.

/// Text that stands for itself, in a table too: nothing of it is taken for markup, a mention or a heading.
pub(crate) fn plain(text: &str) -> String {
    let mut safe = String::new();
    for c in text.chars() {
        match c {
            '\\' | '`' | '*' | '_' | '[' | ']' | '#' | '|' | '~' | '@' => {
                safe.push('\\');
                safe.push(c);
            }
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '&' => safe.push_str("&amp;"),
            c if c.is_control() => safe.push(' '),
            c => safe.push(c),
        }
    }
    // An arrow is read as one.
    safe.replace("-&gt;", "→")
}

/// A name as code, whatever stands in it.
pub(crate) fn code(name: &str) -> String {
    if name.contains('`') { format!("`` {name} ``") } else { format!("`{name}`") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_text_is_taken_for_markup() {
        assert_eq!(
            plain("a|b *c* _d_ `e` [f](g) #1 @you ~h~ \\"),
            "a\\|b \\*c\\* \\_d\\_ \\`e\\` \\[f\\](g) \\#1 \\@you \\~h\\~ \\\\"
        );
        assert_eq!(plain("<b>&\r\n\u{7}"), "&lt;b&gt;&amp;   ");
        assert_eq!(plain("1 -> 2"), "1 → 2");
        assert_eq!(code("a`b"), "`` a`b ``");
    }
}
