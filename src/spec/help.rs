//! A key explained: what it means, what may stand there, what happens without it.
//!
//! Input: a dotted path. Output: text for a person.

use super::key::{Key, Kind};
use super::measure::with_unit;
use super::sections;
use super::suggest::{join, list};
use crate::base::dimension::Dimension;
use crate::base::{System, shown};

/// A key of the parameter file, explained; `None` when there is no such key.
pub fn key(path: &str) -> Option<String> {
    sections::find(path).map(|k| explain(path, k))
}

fn explain(path: &str, key: &Key) -> String {
    let mut text = format!("{path}\n  {}\n  takes: {}\n", key.doc, takes(key.kind));
    if !key.default.is_empty() {
        let line = if key.is_required() {
            "  must be given\n".to_owned()
        } else {
            format!("  left out: {}\n", shown::sentence(key.default))
        };
        text.push_str(&line);
    }
    text.push_str(&format!("  example: {} = {}\n", key.name, key.example));
    text
}

/// What may stand behind a key, in words.
pub fn takes(kind: Kind) -> String {
    match kind {
        Kind::Quantity {
            dimension,
            min,
            max,
        } => measure(dimension, min, max),
        Kind::Count { min, max } => format!("a whole number from {min} to {max}"),
        Kind::Flag => "true or false".into(),
        Kind::Text(max) => format!("one line of text, at most {max} characters"),
        Kind::Name(max) => {
            format!("a name of lower-case letters, digits and hyphens, at most {max}")
        }
        Kind::File(endings) => format!(
            "the name of a file beside the parameter file, ending in .{}",
            endings.join(" or .")
        ),
        Kind::Word(words) | Kind::Plastic(words) | Kind::Material(words) | Kind::Screw(words) => {
            list(words)
        }
        Kind::Words(words) => format!("a list of {}", list(words)),
        Kind::Texts(_) => "a list of texts".into(),
        Kind::Lengths { min, max } => {
            format!("a list, each {}", measure(Dimension::Length, min, max))
        }
        Kind::Drills { min, max } => format!(
            "{}, or a list, each {}",
            list(&["inch", "metric"]),
            measure(Dimension::Length, min, max)
        ),
        Kind::Turnings { min, max } => {
            format!("a list, each {}", measure(Dimension::Rotation, min, max))
        }
        Kind::Corners { max } => format!(
            "{}, or a list of four",
            measure(Dimension::Length, 0.0, max)
        ),
        Kind::Point(max) => format!("a point [x, y], each at most {}", shown::size(max)),
        Kind::PipeThread => {
            let sizes: Vec<&str> = crate::data::pipe::sizes().collect();
            format!("G, Rp, Rc or NPT and a size: {}", join(&sizes, "or"))
        }
        Kind::Table(section) | Kind::Tables(section, _) => {
            let names: Vec<&str> = section.keys.iter().map(|k| k.name).collect();
            let what = if matches!(kind, Kind::Table(_)) {
                "a table".to_owned()
            } else {
                "a list of tables".to_owned()
            };
            format!("{what} with {}", join(&names, "and"))
        }
    }
}

fn measure(dimension: Dimension, min: f64, max: f64) -> String {
    let units = dimension.symbols();
    let also = if units.len() > 1 || dimension == Dimension::Ratio {
        format!(" (or text with a unit: {})", units.join(", "))
    } else {
        String::new()
    };
    // A plain number is one of millimetres whatever is read.
    let plain = match (System::current(), shown::Kind::of(dimension)) {
        (System::Inch, Some(_)) => format!("; a plain number is in {}", dimension.symbol()),
        _ => String::new(),
    };
    format!(
        "{} from {} to {}{also}{plain}",
        dimension.noun(),
        with_unit(min, dimension),
        with_unit(max, dimension),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_explains_itself() {
        let text = key("bolts.count").unwrap();
        assert!(text.contains("whole number from 2 to 24"), "{text}");
        assert!(text.contains("left out: separating force"), "{text}");
        assert!(key("part.outline.shape").unwrap().contains("must be given"));
        assert!(key("part.feature[2].depth").unwrap().contains("0.05 mm"));
        assert!(key("bolts.colour").is_none());
        for (path, key) in sections::all() {
            assert!(
                key.doc.ends_with('.') || key.doc.ends_with(')'),
                "{path}: {}",
                key.doc
            );
            assert!(super::key(&path).is_some(), "{path}");
        }
        assert_eq!(
            sections::nearest("bolt.count").as_deref(),
            Some("bolts.count")
        );
    }
}
