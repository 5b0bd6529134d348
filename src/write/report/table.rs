//! Tables of the page.
//!
//! Input: headings and cells. Output: markup. On a narrow screen each row becomes a block
//! whose cells name their column.

use crate::write::markup::escape;

/// A table under construction.
pub(super) struct Table<'a> {
    name: &'a str,
    columns: &'a [&'a str],
    numeric: usize,
    rows: String,
}

impl<'a> Table<'a> {
    /// A table with a name for screen readers; columns from `numeric` on are set flush right.
    pub(super) fn new(name: &'a str, columns: &'a [&'a str], numeric: usize) -> Self {
        Self {
            name,
            columns,
            numeric,
            rows: String::new(),
        }
    }
    /// A row of plain texts; the first names the row.
    pub(super) fn row(&mut self, cells: &[&str]) {
        let cells: Vec<String> = cells.iter().map(|c| escape(c)).collect();
        self.markup_row(&cells);
    }
    /// A row of cells that are markup already.
    pub(super) fn markup_row(&mut self, cells: &[String]) {
        self.push(cells, "<tr>");
    }
    /// The same with a key that the page's script finds the row by.
    pub(super) fn keyed_row(&mut self, key: &str, cells: &[String]) {
        self.push(cells, &format!("<tr data-key=\"{}\">", escape(key)));
    }
    fn push(&mut self, cells: &[String], begin: &str) {
        debug_assert_eq!(cells.len(), self.columns.len());
        self.rows.push_str(begin);
        for (i, (cell, column)) in cells.iter().zip(self.columns).enumerate() {
            let class = if i >= self.numeric {
                " class=\"n\""
            } else {
                ""
            };
            if i == 0 {
                self.rows
                    .push_str(&format!("<th scope=\"row\"{class}>{cell}</th>"));
            } else {
                let column = escape(column);
                self.rows
                    .push_str(&format!("<td{class} data-column=\"{column}\">{cell}</td>"));
            }
        }
        self.rows.push_str("</tr>\n");
    }
    /// The markup; nothing when there is no row.
    pub(super) fn end(self) -> String {
        if self.rows.is_empty() {
            return String::new();
        }
        let mut head = String::new();
        for (i, c) in self.columns.iter().enumerate() {
            let class = if i >= self.numeric {
                " class=\"n\""
            } else {
                ""
            };
            head.push_str(&format!("<th scope=\"col\"{class}>{}</th>", escape(c)));
        }
        format!(
            "<table><caption>{}</caption>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{}</tbody></table>\n",
            escape(self.name),
            self.rows
        )
    }
}

/// Lines of label, value with unit, remark.
#[derive(Default)]
pub(super) struct Numbers(Vec<[String; 3]>);

impl Numbers {
    /// Adds a line.
    pub(super) fn line(
        &mut self,
        label: &str,
        value: impl Into<String>,
        remark: impl Into<String>,
    ) {
        self.0.push([label.to_owned(), value.into(), remark.into()]);
    }
    /// The markup under a heading; nothing when there is no line.
    pub(super) fn end(self, name: &str) -> String {
        let mut t = Table::new(name, &["what", "value", "remark"], usize::MAX);
        for [label, value, remark] in &self.0 {
            t.row(&[label, value, remark]);
        }
        t.end()
    }
}
