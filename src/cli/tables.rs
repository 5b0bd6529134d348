//! Built-in tables as aligned text: `platewright tables pipe-threads`.
//!
//! Input: a [`Table`] and the width of the screen in characters. Output: text with the
//! sources as footnotes and a mark on what is from memory. Does not print.

use crate::data::Table;
use crate::data::table::{Citation, TableRow};

/// Space between two columns.
const GAP: &str = "  ";
/// No column is squeezed below this many characters.
const LEAST_COLUMN: usize = 8;
/// The mark of a row that is from memory, or weaker.
const WEAK: &str = "*";

/// One line per table: id and title.
pub fn list(tables: &[Table]) -> String {
    let widest = tables.iter().map(|t| t.id.len()).max().unwrap_or(0);
    tables
        .iter()
        .map(|t| format!("{:widest$}{GAP}{}\n", t.id, t.title))
        .collect()
}

/// The table as text. Long cells wrap so that lines stay within `width` characters where
/// the number of columns allows it; numbers are set flush right.
pub fn render(table: &Table, width: usize) -> String {
    let notes = table.sources();
    let columns = columns(table, &notes);
    let widths = fit(&columns, width);
    let mut text = format!("{}\n\n", table.title);
    let numeric: Vec<bool> = columns.iter().map(|c| is_numeric(&c[1..])).collect();
    let rule = widths.iter().sum::<usize>() + GAP.len() * (widths.len() - 1);
    for row in 0..=table.rows.len() {
        let cells: Vec<Vec<String>> = columns
            .iter()
            .zip(&widths)
            .map(|(c, w)| wrap(&c[row], *w))
            .collect();
        push_row(&mut text, &cells, &widths, &numeric);
        if row == 0 {
            text.push_str(&"-".repeat(rule.min(width.max(LEAST_COLUMN))));
            text.push('\n');
        }
    }
    text.push('\n');
    if table.rows.iter().any(TableRow::is_weak) {
        text.push_str(&format!(
            "{WEAK} from memory or uncertain: check before relying on it\n"
        ));
    }
    for (i, note) in notes.iter().enumerate() {
        let head = format!("[{}] ", i + 1);
        let indent = " ".repeat(head.len());
        let room = width.saturating_sub(head.len()).max(LEAST_COLUMN);
        for (j, line) in wrap(
            &format!("{} ({})", note.source, note.confidence.words()),
            room,
        )
        .iter()
        .enumerate()
        {
            text.push_str(if j == 0 { &head } else { &indent });
            text.push_str(line);
            text.push('\n');
        }
    }
    text
}

/// Each column with its head as the first text: the table's own, then mark and footnote.
fn columns(table: &Table, notes: &[&Citation]) -> Vec<Vec<String>> {
    let mut columns: Vec<Vec<String>> = table.header.iter().map(|h| vec![h.clone()]).collect();
    let mut last = vec!["source".to_owned()];
    for row in &table.rows {
        for (column, cell) in columns.iter_mut().zip(&row.cells) {
            column.push(cell.clone());
        }
        let numbers: Vec<String> = row
            .sources
            .iter()
            .filter_map(|c| notes.iter().position(|n| *n == c))
            .map(|i| (i + 1).to_string())
            .collect();
        let mark = if row.is_weak() { WEAK } else { "" };
        last.push(format!("[{}]{mark}", numbers.join(",")));
    }
    columns.push(last);
    columns
}

/// Widths of the columns: as wide as the longest text, the widest squeezed first until
/// the line fits or every column is at its longest word or [`LEAST_COLUMN`].
fn fit(columns: &[Vec<String>], width: usize) -> Vec<usize> {
    let longest = |column: &[String], part: fn(&str) -> usize| {
        column.iter().map(|c| part(c)).max().unwrap_or(0).max(1)
    };
    let mut widths: Vec<usize> = columns
        .iter()
        // The head may wrap; its longest word may not.
        .map(|c| longest(&c[1..], chars).max(longest_word(&c[0])))
        .collect();
    let least: Vec<usize> = columns
        .iter()
        .map(|c| {
            let natural = longest(&c[1..], chars).max(longest_word(&c[0]));
            natural.min(longest(c, longest_word).max(LEAST_COLUMN))
        })
        .collect();
    let room = width.saturating_sub(GAP.len() * (columns.len() - 1));
    while widths.iter().sum::<usize>() > room {
        let widest = (0..widths.len())
            .filter(|i| widths[*i] > least[*i])
            .max_by_key(|i| (widths[*i], usize::MAX - i));
        match widest {
            Some(i) => widths[i] -= 1,
            None => break,
        }
    }
    widths
}

fn chars(text: &str) -> usize {
    text.chars().count()
}

fn longest_word(text: &str) -> usize {
    text.split_whitespace().map(chars).max().unwrap_or(0)
}

/// Lines of at most `width` characters, broken at spaces; a longer word is cut.
fn wrap(text: &str, width: usize) -> Vec<String> {
    let width = width.max(1);
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let mut rest: Vec<char> = word.chars().collect();
        if !line.is_empty() && chars(&line) + 1 + rest.len() > width {
            lines.push(std::mem::take(&mut line));
        }
        while rest.len() > width {
            let tail = rest.split_off(width);
            lines.push(rest.into_iter().collect());
            rest = tail;
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.extend(rest);
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

/// True when every filled cell begins like a number: such a column is set flush right.
fn is_numeric(cells: &[String]) -> bool {
    let mut any = false;
    cells
        .iter()
        .filter(|c| !c.is_empty() && *c != "-")
        .all(|c| {
            any = true;
            c.parse::<f64>().is_ok()
        })
        && any
}

fn push_row(text: &mut String, cells: &[Vec<String>], widths: &[usize], numeric: &[bool]) {
    let lines = cells.iter().map(Vec::len).max().unwrap_or(0);
    for n in 0..lines {
        let parts: Vec<String> = cells
            .iter()
            .zip(widths)
            .zip(numeric)
            .map(|((cell, w), right)| {
                let part = cell.get(n).map_or("", String::as_str);
                let pad = " ".repeat(w.saturating_sub(chars(part)));
                if *right {
                    format!("{pad}{part}")
                } else {
                    format!("{part}{pad}")
                }
            })
            .collect();
        text.push_str(parts.join(GAP).trim_end());
        text.push('\n');
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::data::{table, tables};

    #[test]
    fn every_table_renders_within_its_width() {
        for t in tables() {
            for width in [80, 100, 180] {
                let text = render(t, width);
                assert!(!text.contains('\t'));
                for line in text.lines() {
                    assert_eq!(line, line.trim_end());
                }
                // Tables of long words or many columns may exceed a narrow screen, no other.
                let widest = text.lines().map(chars).max().unwrap();
                if width == 180 {
                    assert!(widest <= width, "{}: {widest}", t.id);
                }
            }
        }
    }

    #[test]
    fn each_row_shows_its_cells_and_its_footnote() {
        for t in tables() {
            let text = render(t, 400);
            for (n, note) in t.sources().iter().enumerate() {
                assert!(
                    text.contains(&format!("[{}] ", n + 1)),
                    "{}: {}",
                    t.id,
                    note.source
                );
            }
            let marked = text.lines().filter(|l| l.ends_with("]*")).count();
            assert_eq!(
                marked,
                t.rows.iter().filter(|r| r.is_weak()).count(),
                "{}",
                t.id
            );
        }
    }

    #[test]
    fn the_pipe_threads_as_printed() {
        let text = render(table("pipe-threads").unwrap(), 120);
        let line = text.lines().find(|l| l.starts_with("Rc 1/2 ")).unwrap();
        let cells: Vec<&str> = line.split_whitespace().collect();
        assert_eq!(
            &cells[..12],
            &[
                "Rc", "1/2", "14", "1.814", "20.955", "19.793", "18.631", "1:16", "8.20", "13.20",
                "10.01", "17.9"
            ]
        );
    }

    #[test]
    fn long_words_are_cut_and_short_ones_kept() {
        assert_eq!(wrap("a bc def", 4), ["a bc", "def"]);
        assert_eq!(wrap("abcdefgh", 3), ["abc", "def", "gh"]);
        assert_eq!(wrap("", 5), [""]);
        assert_eq!(wrap("x abcdef", 3), ["x", "abc", "def"]);
    }

    #[test]
    fn the_list_names_every_table() {
        let text = list(tables());
        assert_eq!(text.lines().count(), tables().len());
        assert!(text.starts_with("pipe-threads "));
    }
}
