//! One value: from a spanned TOML value to its type, by its key's definition.
//!
//! Input: a value and its [`Place`]. Output: the typed value, or a diagnostic.
//! Tables (outlines, features) are read in [`super::shape`] and [`super::part`].

use super::codes;
use super::key::Kind;
use super::measure::plain;
use super::place::Place;
use crate::base::shown;
use crate::base::slug::slug;
use crate::base::units::number;
use crate::base::{Length, Span};
use crate::sketch::Point;
use toml::Spanned;
use toml::de::DeValue;

/// A type that can stand behind a key.
pub(super) trait Value: Sized {
    /// Reads it; what is wrong is reported at the place.
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self>;
}

/// An enumeration written as a word.
pub(super) trait Word: Copy + 'static {
    /// The words and what they mean.
    const WORDS: &'static [(&'static str, Self)];
    /// The words alone, for the key's definition.
    const NAMES: &'static [&'static str];
}

/// Makes an enumeration readable as a word.
macro_rules! words {
    ($name:ty { $($word:literal => $value:expr),* $(,)? }) => {
        impl $crate::spec::value::Word for $name {
            const WORDS: &'static [(&'static str, Self)] = &[$(($word, $value)),*];
            const NAMES: &'static [&'static str] = &[$($word),*];
        }
        impl $name {
            /// The word that stands for it in the parameter file.
            pub fn word(self) -> &'static str {
                use $crate::spec::value::Word;
                Self::WORDS
                    .iter()
                    .find(|(_, v)| *v == self)
                    .map_or("", |(w, _)| w)
            }
        }
        impl $crate::base::decision::Written for $name {
            fn written(&self) -> Option<String> {
                Some(format!("\"{}\"", self.word()))
            }
        }
        impl $crate::spec::value::Value for $name {
            fn read(
                at: &$crate::spec::place::Place<'_>,
                value: &toml::Spanned<toml::de::DeValue<'_>>,
            ) -> Option<Self> {
                $crate::spec::value::word(at, value)
            }
        }
    };
}
pub(crate) use words;

/// What stands there, in words.
fn found(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

impl Place<'_> {
    /// Reports a wrong type.
    pub(crate) fn wrong_type<T>(&self, value: &DeValue<'_>, wanted: &str) -> Option<T> {
        self.found.push(self.wrong(
            codes::WRONG_TYPE,
            format!("`{}` must be {wanted}, not {}", self.path, found(value)),
            format!("this is {}", found(value)),
            match self.key.kind {
                Kind::Table(_) => format!(
                    "open it once with [{}] and write its keys under it, or `{} = {}`",
                    self.path, self.key.name, self.key.example
                ),
                Kind::Tables(..) if value.is_table() => {
                    format!("there may be several: write [[{}]]", self.path)
                }
                _ => format!(
                    "write for example `{} = {}`",
                    self.key.name, self.key.example
                ),
            },
        ));
        None
    }
}

impl Value for bool {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        match value.get_ref() {
            DeValue::Boolean(b) => Some(*b),
            other => at.wrong_type(other, "true or false (without quotes)"),
        }
    }
}

/// Reads an enumeration.
pub(crate) fn word<T: Word>(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<T> {
    let DeValue::String(text) = value.get_ref() else {
        return at.wrong_type(value.get_ref(), "a word in quotes");
    };
    let chosen = at.choose(text, T::NAMES)?;
    T::WORDS.iter().find(|w| w.0 == chosen).map(|w| w.1)
}

impl Value for String {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        let text = match value.get_ref() {
            DeValue::String(text) => text,
            other => {
                // A bare number where a word is meant: `material = 6082`.
                if let (
                    Kind::Word(words) | Kind::Material(words),
                    DeValue::Integer(_) | DeValue::Float(_),
                ) = (at.key.kind, other)
                    && let Some(n) = plain(other)
                    && let Some(word) = words.iter().find(|w| **w == number(n))
                {
                    at.found.push(
                        at.wrong(
                            codes::WRONG_TYPE,
                            format!("`{}` is a word, not a number", at.path),
                            "quotes missing",
                            "put it in quotes",
                        )
                        .replace_with(format!("\"{word}\"")),
                    );
                    return None;
                }
                return at.wrong_type(other, "text in quotes");
            }
        };
        match at.key.kind {
            Kind::Word(words) | Kind::Words(words) => at.choose(text, words).map(str::to_owned),
            Kind::Plastic(words) => plastic(at, text, words),
            Kind::Material(words) => match crate::data::material(text) {
                Some(m) if words.contains(&m.key.as_str()) => Some(m.key.clone()),
                _ => at.choose(text, words).map(str::to_owned),
            },
            Kind::Screw(words) => match crate::data::fasteners::screw_thread(text) {
                Some(t) if words.contains(&t.thread.as_str()) => Some(t.thread.clone()),
                _ => at.choose(text, words).map(str::to_owned),
            },
            Kind::Text(max) | Kind::Texts(max) => line_of_text(at, text, max),
            Kind::Name(max) => folder_name(at, text, max),
            _ => at.wrong_type(value.get_ref(), "something else"),
        }
    }
}

fn plastic(at: &Place<'_>, text: &str, words: &[&'static str]) -> Option<String> {
    if let Some(reason) = crate::data::plastics::refusal(text) {
        at.found.push(at.wrong(
            codes::REFUSED_PLASTIC,
            format!("`{}`: this plastic is refused", at.path),
            "must not be molded here",
            format!(
                "{}; sort it out, use PP or HDPE, and never melt an unknown plastic (source: {})",
                shown::sentence(&reason.value),
                reason.source
            ),
        ));
        return None;
    }
    match crate::data::plastic(text) {
        Some(p) if words.contains(&p.key) => Some(p.key.to_owned()),
        _ => at.choose(text, words).map(str::to_owned),
    }
}

/// Marks of the writing direction would turn what stands beside them on a sheet; numbers that
/// are no characters (U+FFFE …) may not stand in XML (Unicode, sections 23.2 and 23.7; XML 1.0,
/// production 2).
fn unprintable(c: char) -> bool {
    matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{fdd0}'..='\u{fdef}')
        || u32::from(c) & 0xfffe == 0xfffe
}

fn line_of_text(at: &Place<'_>, text: &str, max: usize) -> Option<String> {
    let count = text.chars().count();
    let fault = if text.trim().is_empty() {
        "empty".to_owned()
    } else if count > max {
        format!("{count} characters, at most {max} fit")
    } else if text.chars().any(char::is_control) {
        "more than one line, or a control character".to_owned()
    } else if let Some(c) = text.chars().find(|c| unprintable(*c)) {
        format!(
            "the character U+{:04X}, which has no shape of its own",
            u32::from(c)
        )
    } else {
        return Some(text.to_owned());
    };
    at.found.push(at.wrong(
        codes::BAD_TEXT,
        format!("`{}` cannot be used: {fault}", at.path),
        fault,
        format!("write one line of 1 to {max} characters"),
    ));
    None
}

fn folder_name(at: &Place<'_>, text: &str, max: usize) -> Option<String> {
    let good = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    if !text.is_empty()
        && text.len() <= max
        && text.chars().all(good)
        && !text.starts_with('-')
        && !text.ends_with('-')
    {
        return Some(text.to_owned());
    }
    let mut d = at.wrong(
        codes::BAD_TEXT,
        format!(
            "`{}` names a folder and cannot be written like this",
            at.path
        ),
        "not a plain name",
        format!("use 1 to {max} lower-case letters a-z, digits and hyphens"),
    );
    let plain = slug(text);
    if !plain.is_empty() && plain.len() <= max {
        d = d.replace_with(format!("\"{plain}\""));
    }
    at.found.push(d);
    None
}

/// Each entry of a list, up to `most`; a single value counts as a list of one when `one_will_do`.
pub(crate) fn list<T: Value>(
    at: &Place<'_>,
    value: &Spanned<DeValue<'_>>,
    least: usize,
    most: usize,
) -> Option<Vec<T>> {
    let DeValue::Array(entries) = value.get_ref() else {
        return at.wrong_type(value.get_ref(), "a list in square brackets");
    };
    if entries.len() < least || entries.len() > most {
        let number = match entries.len() {
            1 => "1 entry".to_owned(),
            n => format!("{n} entries"),
        };
        at.found.push(at.wrong(
            codes::BAD_COUNT,
            format!("`{}` has {number}", at.path),
            number,
            if least == most {
                format!("give exactly {most}")
            } else {
                format!("give {least} to {most}")
            },
        ));
        return None;
    }
    let read: Vec<Option<T>> = entries
        .iter()
        .enumerate()
        .map(|(i, e)| T::read(&at.entry(i, Span::new(e.span())), e))
        .collect();
    read.into_iter().collect()
}

impl Value for Vec<Length> {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        list(at, value, 1, 40)
    }
}

impl Value for Vec<f64> {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        list(at, value, 1, 40)
    }
}

impl<T: Word> Value for Vec<T>
where
    T: Value,
{
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        list(at, value, 1, 40)
    }
}

impl Value for Vec<String> {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        list(at, value, 1, 40)
    }
}

impl Value for [Length; 4] {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        if value.get_ref().is_array() {
            list::<Length>(at, value, 4, 4)?.try_into().ok()
        } else {
            Length::read(at, value).map(|r| [r; 4])
        }
    }
}

impl Value for Point {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        if !value.get_ref().is_array() {
            return at.wrong_type(value.get_ref(), "a point [x, y]");
        }
        let [x, y]: [Length; 2] = list(at, value, 2, 2)?.try_into().ok()?;
        Some(Point::new(x.mm(), y.mm()))
    }
}

#[cfg(test)]
mod tests {
    use crate::data::{material, plastics};
    use crate::spec::machine::PLASTICS;
    use crate::spec::stock::PLATE_MATERIALS;

    #[test]
    fn the_words_of_the_file_are_the_keys_of_the_tables() {
        let keys: Vec<&str> = plastics::plastics().iter().map(|p| p.key).collect();
        let mut sorted = (keys.clone(), PLASTICS.to_vec());
        sorted.0.sort_unstable();
        sorted.1.sort_unstable();
        assert_eq!(sorted.0, sorted.1);
        for name in PLATE_MATERIALS {
            assert_eq!(material(name).map(|m| m.key.as_str()), Some(*name));
        }
    }
}
