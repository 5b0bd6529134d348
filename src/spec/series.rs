//! `[series]`: the same file several times, each with other values.
//!
//! Input: its table. Output: the keys that change and the lines of values. Makes nothing of them
//! (see `pipeline::series`).

use super::attached::FileName;
use super::key::{Kind, Rule};
use super::section::section;

section! {
    /// `[series]`
    pub struct SeriesSection, "series", "One package for each line of values: the same file several times, with other values of some keys.";
    rules &[
        Rule::ExactlyOne(&["rows", "file"]),
        Rule::Together(&["keys", "rows"]),
    ];
    /// The keys that change, by their dotted paths; places of lists are counted from 0.
    keys: Vec<String> = Kind::Texts(120), "the first line of `file`", "[\"part.feature[0].text\", \"part.thickness\"]";
    /// The values of each member, in the order of the keys, divided by commas; an empty one leaves what the file says.
    rows: Vec<String> = Kind::Texts(1000), "the other lines of `file`", "[\"A, 4\", \"B, 4.5\"]";
    /// The same as a table beside this file: its first line names the keys, each other line is a member.
    file: FileName = Kind::File(&["csv"]), "`keys` and `rows` are given", "\"tiles.csv\"";
}
