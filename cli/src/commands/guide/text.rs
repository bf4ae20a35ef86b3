//! Markdown as text for a terminal of 80 columns: headings underlined, tables aligned, code indented.

use crate::output::{COLUMNS, wrap};
use pulldown_cmark::{Alignment, CodeBlockKind, Event, HeadingLevel, Options, Parser, Tag, TagEnd};

/// Spaces between the columns of a table.
const GAP: usize = 2;

/// The first sentence of the first paragraph.
pub(super) fn purpose(markdown: &str) -> String {
    let mut inline = Inline::default();
    let mut inside = false;
    for event in Parser::new(markdown) {
        match event {
            Event::Start(Tag::Paragraph) => inside = true,
            Event::End(TagEnd::Paragraph) => break,
            event if inside => inline.take(&event),
            _ => {}
        }
    }
    let first = inline.text.split_once(". ").map(|(first, _)| first.to_owned()).unwrap_or(inline.text);
    first.trim_end_matches('.').to_owned()
}

/// The whole page.
pub(super) fn plain(markdown: &str) -> String {
    let mut page = Page::default();
    for event in Parser::new_ext(markdown, Options::ENABLE_TABLES) {
        page.take(event);
    }
    page.text.trim_start_matches('\n').to_owned()
}

/// Text within a paragraph, a heading or a cell.
#[derive(Default)]
struct Inline {
    text: String,
    /// What follows the words of a link or a picture.
    after: Vec<String>,
}

impl Inline {
    fn take(&mut self, event: &Event<'_>) {
        match event {
            Event::Text(text) => self.text += text,
            Event::Code(code) => self.text += &format!("`{code}`"),
            Event::SoftBreak | Event::HardBreak => self.text.push(' '),
            Event::Start(Tag::Link { dest_url, .. }) => self.after.push(place(dest_url)),
            Event::Start(Tag::Image { .. }) => {
                self.text += "[picture: ";
                self.after.push("]".to_owned());
            }
            Event::End(TagEnd::Link | TagEnd::Image) => self.text += &self.after.pop().unwrap_or_default(),
            _ => {}
        }
    }
}

/// Where a link leads, for a reader who cannot click it.
fn place(url: &str) -> String {
    let file = url.split('#').next().unwrap_or_default();
    match file.strip_suffix(".md") {
        _ if file.is_empty() => String::new(),
        Some(page) if !page.contains('/') => format!(" (rushlight guide {page})"),
        _ => format!(" ({url})"),
    }
}

#[derive(Default)]
struct Page {
    text: String,
    inline: Inline,
    /// Number of the next item of each open list; none where items have dots.
    lists: Vec<Option<u64>>,
    /// What goes in front of the next line: the mark of an item.
    mark: String,
    quotes: usize,
    /// The last block was an item without paragraphs, after which the next item needs no empty line.
    is_tight: bool,
    code: Option<String>,
    table: Table,
}

impl Page {
    fn take(&mut self, event: Event<'_>) {
        match event {
            Event::Start(Tag::List(first)) => {
                self.flush();
                self.lists.push(first);
            }
            Event::End(TagEnd::List(_)) => {
                self.lists.pop();
                self.is_tight &= !self.lists.is_empty();
            }
            Event::Start(Tag::Item) => {
                self.flush();
                self.mark = match self.lists.last_mut() {
                    Some(Some(number)) => {
                        *number += 1;
                        format!("{}. ", *number - 1)
                    }
                    _ => "- ".to_owned(),
                };
            }
            Event::End(TagEnd::Item) => self.flush(),
            Event::End(TagEnd::Paragraph) => {
                self.flush();
                self.is_tight = false;
            }
            Event::Start(Tag::BlockQuote(_)) => self.quotes += 1,
            Event::End(TagEnd::BlockQuote(_)) => self.quotes -= 1,
            Event::End(TagEnd::Heading(level)) => self.heading(level),
            Event::Start(Tag::CodeBlock(CodeBlockKind::Fenced(_) | CodeBlockKind::Indented)) => {
                self.flush();
                self.is_tight = false;
                self.code = Some(String::new());
            }
            Event::End(TagEnd::CodeBlock) => self.code(),
            Event::Text(text) if self.code.is_some() => self.code.get_or_insert_default().push_str(&text),
            Event::Start(Tag::Table(alignments)) => self.table = Table { alignments, rows: Vec::new() },
            Event::Start(Tag::TableHead | Tag::TableRow) => self.table.rows.push(Vec::new()),
            Event::End(TagEnd::TableCell) => {
                let cell = std::mem::take(&mut self.inline.text);
                if let Some(row) = self.table.rows.last_mut() {
                    row.push(cell);
                }
            }
            Event::End(TagEnd::Table) => {
                let lines = std::mem::take(&mut self.table).lines();
                self.block(&lines);
            }
            event => self.inline.take(&event),
        }
    }

    /// Lines after an empty one.
    fn block(&mut self, lines: &[String]) {
        if !std::mem::take(&mut self.is_tight) {
            self.text.push('\n');
        }
        for line in lines {
            self.text += line.trim_end();
            self.text.push('\n');
        }
    }

    fn heading(&mut self, level: HeadingLevel) {
        let title = std::mem::take(&mut self.inline.text);
        let under = match level {
            HeadingLevel::H1 => "=",
            HeadingLevel::H2 => "-",
            _ => "",
        };
        let rule = under.repeat(title.chars().count());
        if under.is_empty() { self.block(&[title]) } else { self.block(&[title, rule]) }
    }

    /// A paragraph, or what an item of a list holds.
    fn flush(&mut self) {
        let text = std::mem::take(&mut self.inline.text);
        if text.trim().is_empty() {
            return;
        }
        let follows_an_item = std::mem::take(&mut self.is_tight) && !self.mark.is_empty();
        let depth = self.lists.len().saturating_sub(1) * 2;
        let hang = if self.lists.is_empty() { 0 } else { depth + self.mark.len().max(2) };
        let quote = "| ".repeat(self.quotes);
        let mark = format!("{}{}", " ".repeat(depth), std::mem::take(&mut self.mark));
        let lines: Vec<String> = wrap(text.trim(), COLUMNS - hang - quote.len())
            .into_iter()
            .enumerate()
            .map(|(i, line)| format!("{quote}{:<hang$}{line}", if i == 0 { &mark } else { "" }))
            .collect();
        self.is_tight = follows_an_item;
        self.block(&lines);
        self.is_tight = !self.lists.is_empty();
    }

    fn code(&mut self) {
        let code = self.code.take().unwrap_or_default();
        let widest = code.lines().map(|line| line.chars().count()).max().unwrap_or_default();
        // What a command printed may fill the terminal by itself.
        let indent = " ".repeat(4.min(COLUMNS.saturating_sub(widest)));
        let lines: Vec<String> = code.lines().map(|line| format!("{indent}{line}")).collect();
        self.block(&lines);
    }
}

#[derive(Default)]
struct Table {
    alignments: Vec<Alignment>,
    rows: Vec<Vec<String>>,
}

impl Table {
    fn lines(self) -> Vec<String> {
        let widths = self.widths();
        let mut lines = Vec::new();
        for (index, row) in self.rows.iter().enumerate() {
            // A head without words is only there because Markdown asks for one.
            if index == 0 && row.iter().all(String::is_empty) {
                continue;
            }
            let cells: Vec<Vec<String>> = row.iter().zip(&widths).map(|(cell, width)| wrap(cell, *width)).collect();
            for line in 0..cells.iter().map(Vec::len).max().unwrap_or_default() {
                let parts = cells.iter().zip(&widths).zip(&self.alignments).map(|((cell, &width), alignment)| {
                    let part = cell.get(line).map_or("", String::as_str);
                    match alignment {
                        Alignment::Right => format!("{part:>width$}"),
                        _ => format!("{part:<width$}"),
                    }
                });
                lines.push(parts.collect::<Vec<_>>().join(&" ".repeat(GAP)));
            }
            if index == 0 {
                lines.push(widths.iter().map(|width| "-".repeat(*width)).collect::<Vec<_>>().join(&" ".repeat(GAP)));
            }
        }
        lines
    }

    /// Columns as wide as their cells, the widest narrowed until the table fits, none below its longest word.
    fn widths(&self) -> Vec<usize> {
        let most = |column: usize, measure: &dyn Fn(&str) -> usize| {
            self.rows.iter().filter_map(|row| row.get(column)).map(|cell| measure(cell)).max().unwrap_or_default()
        };
        let count = |cell: &str| cell.chars().count();
        let word = |cell: &str| cell.split(' ').map(count).max().unwrap_or_default();
        let columns = self.alignments.len();
        let mut widths: Vec<usize> = (0..columns).map(|column| most(column, &count)).collect();
        let least: Vec<usize> = (0..columns).map(|column| most(column, &word)).collect();
        while widths.iter().sum::<usize>() + GAP * columns.saturating_sub(1) > COLUMNS {
            let widest = (0..columns).filter(|&c| widths[c] > least[c]).max_by_key(|&c| widths[c]);
            let Some(widest) = widest else { break };
            widths[widest] -= 1;
        }
        widths
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markdown_becomes_readable_text() {
        let markdown = "# Title\n\nFirst *words* of `code`. More.\n\n## Part\n\n- one\n  more\n- two\n\n1. a\n2. b\n\n> Mind.\n\n- last\n\n### Small\n\n```toml\n\
                        x = 1\n\n[y]\n```\n\n| a | long |\n| --- | ---: |\n| `b` | 1 |\n\n![Alt](p.png) [Looks](looks.md#x) [f](../f.md)\n";
        let shown = "Title\n=====\n\nFirst words of `code`. More.\n\nPart\n----\n\n- one more\n- two\n\n1. a\n2. b\n\n| Mind.\n\n- last\n\nSmall\n\n\
                     \x20   x = 1\n\n    [y]\n\na    long\n---  ----\n`b`     1\n\n\
                     [picture: Alt] Looks (rushlight guide looks) f (../f.md)\n";
        assert_eq!(plain(markdown), shown);
        assert_eq!(purpose(markdown), "First words of `code`");
    }

    #[test]
    fn a_wide_table_wraps_in_its_cells() {
        let words = "word ".repeat(40);
        let shown = plain(&format!("| a | b | c |\n| --- | --- | --- |\n| k | {words} | {words} |\n"));
        assert!(shown.lines().all(|line| line.chars().count() <= COLUMNS), "{shown}");
        assert_eq!(shown.matches("word").count(), 80);
    }
}
