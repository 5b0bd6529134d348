//! A document in blocks, printed the same way as a web page and as sheets of A4.
//!
//! Input: headings, paragraphs, tables, pictures. Output: HTML ([`html`]) or [`Drawing`]s
//! ([`pages`]). Knows nothing of molds.

pub mod html;
pub mod pages;
mod style;

use super::drawing::Drawing;

/// How a run of text is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// As it is.
    Plain,
    /// Bold.
    Bold,
    /// Less loud on the screen.
    Soft,
    /// Something to watch out for.
    Caution,
    /// The word of a finding that stops.
    Stop,
    /// The word of a warning.
    Warn,
    /// The word of a note.
    Note,
}

/// A run of text.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// The text.
    pub text: String,
    /// How it is set.
    pub tone: Tone,
}

impl Run {
    /// A run.
    pub fn new(text: impl Into<String>, tone: Tone) -> Self {
        Self {
            text: text.into(),
            tone,
        }
    }
    /// A plain run.
    pub fn plain(text: impl Into<String>) -> Self {
        Self::new(text, Tone::Plain)
    }
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Set {
    /// Words; may be broken.
    Words,
    /// Words that want room.
    Wide,
    /// A short word; kept on one line on the screen.
    Word,
    /// Numbers, to the right.
    Number,
    /// Room to write in.
    Fill,
}

/// A column of a table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Column {
    /// Its heading.
    pub name: &'static str,
    /// What it holds.
    pub set: Set,
    /// Its width on paper, mm; all of a table together at most [`pages::WIDTH`].
    pub width: f64,
}

/// A column.
pub const fn column(name: &'static str, set: Set, width: f64) -> Column {
    Column { name, set, width }
}

/// A cell of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Lines of text, one under the other; no line: empty.
    Lines(Vec<Run>),
    /// A box to tick.
    Box,
}

impl Cell {
    /// A plain line.
    pub fn text(text: impl Into<String>) -> Self {
        Self::Lines(vec![Run::plain(text)])
    }
    /// Nothing.
    pub fn empty() -> Self {
        Self::Lines(Vec::new())
    }
}

/// A table.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Its columns.
    pub columns: Vec<Column>,
    /// Its rows, each with a cell for every column.
    pub rows: Vec<Vec<Cell>>,
}

impl Table {
    /// A table without rows.
    pub fn new(columns: &[Column]) -> Self {
        Self {
            columns: columns.to_vec(),
            rows: Vec::new(),
        }
    }
    /// Adds a row.
    pub fn row(&mut self, cells: Vec<Cell>) {
        debug_assert_eq!(cells.len(), self.columns.len());
        self.rows.push(cells);
    }
}

/// Where a block is shown.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// A heading: 2 or 3, its text, and a name to link to (may be empty).
    Heading(u8, String, String),
    /// Runs one after the other.
    Paragraph(Vec<Run>),
    /// A list; each entry is a run in bold and one that is plain.
    List(Vec<(String, String)>),
    /// What is done one after the other, numbered.
    Steps(Vec<String>),
    /// A table.
    Table(Table),
    /// A picture in millimetres at most [`pages::WIDTH`] wide; the name makes its ids unique.
    Picture(Drawing, String),
    /// Blocks for the screen alone.
    Screen(Vec<Block>),
    /// Markup for the screen alone.
    Markup(String),
    /// Begins a new sheet; on the screen a section with this name.
    NewPage(String),
}

/// The document.
#[derive(Debug, Clone, PartialEq)]
pub struct Document {
    /// What it is about.
    pub title: String,
    /// What it is, and which revision.
    pub subtitle: String,
    /// Short form of both for the head of every sheet.
    pub running: String,
    /// Wanted on one sheet of paper: set with less room between the lines where that does it.
    pub one_sheet: bool,
    /// What stands across it when metal must not be cut; empty when it may.
    pub banner: String,
    /// Links on the screen: name and words.
    pub links: Vec<(String, String)>,
    /// The blocks.
    pub blocks: Vec<Block>,
}
