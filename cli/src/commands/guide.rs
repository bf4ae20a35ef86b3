//! `guide`: the pages of `cli/guide`, compiled in, as text for a terminal.

mod text;

use crate::args::Guide;
use crate::failure::Failure;
use crate::output;
use std::io::{IsTerminal, Write as _};
use std::process::{Command, Stdio};

macro_rules! pages {
    ($($name:literal),* $(,)?) => {
        /// Every page: its name and its Markdown, in the order in which one reads them.
        const PAGES: &[(&str, &str)] = &[$(($name, include_str!(concat!("../../guide/", $name, ".md")))),*];
        /// Names of the pages.
        pub(crate) const NAMES: &[&str] = &[$($name),*];
    };
}
pages![
    "start",
    "looks",
    "cameras",
    "know-your-camera",
    "monitors",
    "cubes",
    "chain",
    "frames",
    "shots",
    "stress",
    "versions",
    "hand-off",
    "preview",
    "python",
    "formulas",
    "reference",
    "terms",
];

pub(crate) fn run(args: &Guide) -> Result<(), Failure> {
    let Some(name) = &args.page else {
        return output::print(&list());
    };
    let page = PAGES.iter().find(|(n, _)| n == name).map(|(_, markdown)| text::plain(markdown)).unwrap_or_default();
    let pager = std::env::var("PAGER").ok().filter(|pager| !pager.trim().is_empty());
    if std::io::stdout().is_terminal() && paged(&page, pager.as_deref().unwrap_or("less")) {
        return Ok(());
    }
    output::print(&page)
}

fn list() -> String {
    let mut list = String::from("Pages of the guide:\n");
    let width = PAGES.iter().map(|(name, _)| name.len()).max().unwrap_or(0) + 1;
    for (name, markdown) in PAGES {
        output::push_entry(&mut list, width, name, &text::purpose(markdown));
    }
    list + "\nPrint a page:\n  rushlight guide start\n"
}

/// Shows text in a pager, a program with its arguments; whether it could.
fn paged(text: &str, command: &str) -> bool {
    let mut words = command.split_whitespace();
    let Some(program) = words.next() else { return false };
    let mut pager = Command::new(program);
    pager.args(words).stdin(Stdio::piped());
    if std::env::var_os("LESS").is_none() {
        // A page that fits is printed and the pager ends; a long one stays on the screen afterwards; an interrupt, which
        // ends this program, ends the pager too.
        pager.env("LESS", "FRXK");
    }
    let Ok(mut child) = pager.spawn() else { return false };
    if let Some(mut input) = child.stdin.take() {
        // A reader who leaves before the end closes the pipe.
        let _ = input.write_all(text.as_bytes());
    }
    child.wait().is_ok_and(|status| status.success())
}

/// Every page as a manual page of section 7: its file's name and its text.
pub(crate) fn manuals() -> impl Iterator<Item = (String, String)> {
    PAGES.iter().map(|(name, markdown)| {
        let title = format!("rushlight-guide-{name}");
        let mut roff = format!(".TH {title} 7\n.SH NAME\n{title} \\- {}\n", escaped(&text::purpose(markdown)));
        // The text is laid out already: a manual page shows its lines as they stand.
        roff += ".SH GUIDE\n.nf\n";
        for line in text::plain(markdown).lines() {
            roff += &escaped(line);
            roff.push('\n');
        }
        (format!("{title}.7"), roff + ".fi\n")
    })
}

/// A line as roff prints it literally.
fn escaped(line: &str) -> String {
    let line = line.replace('\\', "\\e").replace('-', "\\-");
    // A dot or an apostrophe in front would be a request.
    if line.starts_with(['.', '\'']) { format!("\\&{line}") } else { line }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_page_says_what_it_is_for_and_ends_with_what_can_go_wrong() {
        for (name, markdown) in PAGES {
            let purpose = text::purpose(markdown);
            assert!(!purpose.is_empty() && purpose.len() <= 67, "{name}: {purpose:?}");
            let last = markdown.lines().rfind(|line| line.starts_with("## "));
            assert_eq!(last, Some("## What can go wrong"), "{name}");
        }
    }

    #[test]
    fn pages_fit_a_terminal_and_leave_no_marks() {
        for (name, markdown) in PAGES {
            let page = text::plain(markdown);
            for line in page.lines() {
                assert!(line.chars().count() <= output::COLUMNS, "{name}: {line}");
            }
            let table = |line: &str| line.trim_start().starts_with("| ---");
            assert!(!page.contains("```") && !page.lines().any(table), "{name}");
            // Code may have two asterisks: a power in Python.
            let code: Vec<&str> =
                markdown.split("```").skip(1).step_by(2).flat_map(str::lines).map(str::trim).collect();
            let bold = |line: &&str| line.contains("**") && !code.contains(&line.trim());
            assert_eq!(page.lines().find(bold), None, "{name}");
        }
    }

    #[test]
    fn links_between_pages_lead_somewhere() {
        for (name, markdown) in PAGES {
            for link in markdown.split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
                let (file, anchor) = link.split_once('#').unwrap_or((link, ""));
                let Some(target) = file.strip_suffix(".md").or(file.is_empty().then_some(*name)) else { continue };
                let page = PAGES.iter().find(|(n, _)| *n == target);
                let page = page.unwrap_or_else(|| panic!("{name}: no page `{target}`")).1;
                let slug = |line: &str| {
                    let title = line.trim_start_matches('#').trim().to_lowercase().replace(' ', "-");
                    title.chars().filter(|c| c.is_alphanumeric() || *c == '-').collect::<String>()
                };
                let found = page.lines().any(|line| line.starts_with('#') && slug(line) == anchor);
                assert!(anchor.is_empty() || found, "{name}: no heading for `{link}`");
            }
        }
    }

    #[cfg(unix)]
    #[test]
    fn a_pager_gets_the_page_and_a_missing_one_is_no_failure() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("page");
        assert!(paged("a page\n", &format!("sort -o {}", file.display())));
        assert_eq!(std::fs::read_to_string(file).unwrap(), "a page\n");
        assert!(!paged("a page\n", "no-such-pager -x"));
        assert!(!paged("a page\n", "false"));
    }

    #[test]
    fn manual_pages_print_their_lines_literally() {
        assert_eq!(escaped(".TH a\\b --out"), "\\&.TH a\\eb \\-\\-out");
        assert!(manuals().all(|(name, roff)| name.ends_with(".7") && roff.starts_with(".TH rushlight-guide-")));
    }
}
