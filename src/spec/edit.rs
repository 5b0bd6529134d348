//! Changes keys of a parameter file's text; comments, order and everything else stay.
//!
//! Input: the text and [`Change`]s. Output: the changed text, or `None` where a key has no place in
//! it. Does not judge values: what was written is read and checked as any file is.

use crate::base::finding::Change;
use toml_edit::{DocumentMut, Item, Table, TableLike, Value};

/// The text with all changes; places of lists are counted from 0: `part.feature[0].draft`.
pub fn apply(text: &str, changes: &[Change]) -> Option<String> {
    let mut file: DocumentMut = text.parse().ok()?;
    for change in changes {
        let mut words: Vec<&str> = change.key.split('.').collect();
        let last = words.pop()?;
        let mut table: &mut dyn TableLike = file.as_table_mut();
        for word in words {
            table = match word.split_once('[') {
                Some((list, place)) => entry(table.get_mut(list)?, place.strip_suffix(']')?)?,
                None => {
                    if table.get(word).is_none() {
                        change.to.as_ref()?;
                        table.insert(word, Item::Table(Table::new()));
                    }
                    table.get_mut(word)?.as_table_like_mut()?
                }
            };
        }
        match &change.to {
            None => {
                table.remove(last)?;
            }
            Some(to) => {
                let mut value: Value = to.parse().ok()?;
                match table.get_mut(last).and_then(Item::as_value_mut) {
                    // What stands around the old value, a comment behind it too, stays.
                    Some(old) => {
                        *value.decor_mut() = old.decor().clone();
                        *old = value;
                    }
                    None => {
                        table.insert(last, Item::Value(value));
                    }
                }
            }
        }
    }
    let out = file.to_string();
    // The editor writes its own line ends; those of a file from another system stay.
    let ends = text.matches('\n').count();
    Some(match ends > 0 && ends == text.matches("\r\n").count() {
        true => out.replace("\r\n", "\n").replace('\n', "\r\n"),
        false => out,
    })
}

/// A table of a list, however the list is written; places are counted from 0.
fn entry<'a>(list: &'a mut Item, place: &str) -> Option<&'a mut dyn TableLike> {
    let place: usize = place.parse().ok()?;
    match list {
        Item::ArrayOfTables(all) => all.get_mut(place).map(|t| t as &mut dyn TableLike),
        Item::Value(Value::Array(all)) => {
            let one = all.get_mut(place)?.as_inline_table_mut()?;
            Some(one as &mut dyn TableLike)
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FILE: &str = "# a lid\n[part]\nthickness = 3 # mm\noutline = { shape = \"circle\", diameter = 60 }\n\n[mold]\nthickness_a = 20 # at hand\n";

    fn set(key: &str, to: &str) -> Change {
        Change {
            key: key.to_owned(),
            given: None,
            to: Some(to.to_owned()),
        }
    }
    fn remove(key: &str) -> Change {
        Change {
            to: None,
            ..set(key, "")
        }
    }

    #[test]
    fn comments_and_everything_else_stay() {
        let edits = [
            set("part.thickness", "3.4"),
            remove("mold.thickness_a"),
            set("mold.cavities", "2"),
            set("part.outline.diameter", "50"),
            set("machine.hand_force", "150"),
        ];
        let text = apply(FILE, &edits).expect("a text");
        assert_eq!(
            text,
            "# a lid\n[part]\nthickness = 3.4 # mm\noutline = { shape = \"circle\", diameter = 50 }\n\n[mold]\ncavities = 2\n\n[machine]\nhand_force = 150\n"
        );
    }

    #[test]
    fn line_ends_stay() {
        let dos = FILE.replace('\n', "\r\n");
        let text = apply(&dos, &[set("mold.cavities", "2")]).expect("a text");
        let unix = apply(FILE, &[set("mold.cavities", "2")]).expect("a text");
        assert_eq!(text, unix.replace('\n', "\r\n"));
    }

    #[test]
    fn tables_of_lists_have_their_places() {
        for text in [
            "[[part.hole]]\ndiameter = 4\n[[part.hole]]\ndiameter = 5 # pin\n",
            "part.hole = [{ diameter = 4 }, { diameter = 5 }] # pins\n",
        ] {
            let changed = apply(text, &[set("part.hole[1].diameter", "6")]).expect("a text");
            assert_eq!(changed, text.replace('5', "6"));
            assert_eq!(apply(text, &[set("part.hole[2].diameter", "6")]), None);
        }
    }

    #[test]
    fn what_has_no_place_is_not_forced() {
        assert_eq!(apply(FILE, &[remove("feed.at")]), None);
        assert_eq!(apply(FILE, &[set("part.thickness.x", "1")]), None);
        assert_eq!(apply(FILE, &[set("part.thickness", "1 2")]), None);
        assert_eq!(apply("[part\n", &[set("part.thickness", "1")]), None);
    }
}
