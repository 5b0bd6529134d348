//! Reads one table by its section's definition and collects everything wrong with it.
//!
//! Input: a spanned TOML table, its [`Section`]. Output: typed values with their
//! places; diagnostics in the shared [`Findings`].
//! Does not parse TOML and knows no section by name.

use super::codes;
use super::key::{Case, Key, Section};
use super::place::{Findings, Place};
use super::suggest::{closest, join, list};
use super::value::Value;
use crate::base::{Diagnostic, Given, Span};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// One table being read.
pub(super) struct Table<'t, 'i> {
    pub(super) table: &'t DeTable<'i>,
    /// Place of the header, or of the whole inline table.
    pub(crate) span: Span,
    pub(crate) section: &'static Section,
    /// Dotted path for messages: `part.feature[2]`; empty for the file.
    pub(crate) path: String,
    pub(crate) found: &'t Findings,
}

impl<'t, 'i> Table<'t, 'i> {
    /// Opens a table: unknown keys and rules between keys are checked here.
    pub(crate) fn open(
        table: &'t DeTable<'i>,
        span: Span,
        section: &'static Section,
        path: String,
        found: &'t Findings,
    ) -> Self {
        let this = Self {
            table,
            span,
            section,
            path,
            found,
        };
        this.check_names();
        let case = this.case();
        if let Some(case) = case {
            this.check_case(case);
        }
        for key in section.keys.iter().filter(|k| k.is_required()) {
            if !this.has(key.name) {
                this.missing(key, "");
            }
        }
        for rule in section
            .rules
            .iter()
            .chain(case.map_or(&[][..], |c| c.rules))
        {
            this.check_rule(rule);
        }
        this
    }

    /// A value, if it is there and right.
    pub(crate) fn take<T: Value>(&self, name: &str) -> Option<Given<T>> {
        let value = self.raw(name)?;
        let key = self.section.key(name)?;
        let span = Span::new(value.span());
        let place = Place {
            key,
            path: self.dotted(name),
            span,
            found: self.found,
        };
        T::read(&place, value).map(|v| Given::new(v, span))
    }

    /// True when the key is written, right or wrong.
    pub(crate) fn has(&self, name: &str) -> bool {
        self.raw(name).is_some()
    }

    /// True when `section` is a table in which `name` is written.
    pub(crate) fn has_inside(&self, section: &str, name: &str) -> bool {
        self.raw(section)
            .and_then(|v| v.get_ref().as_table())
            .is_some_and(|t| t.get(name).is_some())
    }

    pub(super) fn raw(&self, name: &str) -> Option<&'t Spanned<DeValue<'i>>> {
        self.table.get(name)
    }

    /// Place of a key's name; the table's when it is not written.
    pub(crate) fn key_span(&self, name: &str) -> Span {
        self.table
            .get_key_value(name)
            .map_or(self.span, |(k, _)| Span::new(k.span()))
    }

    fn dotted(&self, name: &str) -> String {
        if self.path.is_empty() {
            name.to_owned()
        } else {
            format!("{}.{name}", self.path)
        }
    }

    /// The words for this table in a sentence.
    pub(super) fn place_words(&self) -> String {
        if self.path.is_empty() {
            "the file".into()
        } else if self.path.ends_with(']') {
            format!("`{}`", self.path)
        } else {
            format!("[{}]", self.path)
        }
    }

    /// The kind of this table, when it has kinds and names one.
    fn case(&self) -> Option<&'static Case> {
        let variants = self.section.variants?;
        let word = self.raw(variants.selector)?.get_ref().as_str()?;
        variants.cases.iter().find(|c| c.word == word)
    }

    fn check_names(&self) {
        for (name, value) in self.table {
            if self.section.key(name.get_ref()).is_none() {
                self.unknown(name.get_ref(), Span::new(name.span()), value.get_ref());
            }
        }
    }

    fn unknown(&self, name: &str, span: Span, value: &DeValue<'_>) {
        let names = self.section.keys.iter().map(|k| k.name);
        let at_root = self.path.is_empty();
        if at_root && self.found.broken_at.is_some_and(|b| span.start > b) {
            return; // Its header was not understood.
        }
        let (code, what) = if at_root && value.is_table() {
            (codes::UNKNOWN_SECTION, "section")
        } else {
            (codes::UNKNOWN_KEY, "key")
        };
        let shown: String = name.chars().take(40).collect();
        let message = format!("unknown {what} `{shown}` in {}", self.place_words());
        let near = closest(name, names);
        if let Some((word, true)) = near {
            self.found.push(
                Diagnostic::new(
                    code,
                    span,
                    message,
                    format!("no such {what}"),
                    format!("did you mean `{word}`?"),
                )
                .replace_with(word),
            );
            return;
        }
        let homes = self.found.root.homes(name);
        if !value.is_table() && !homes.is_empty() {
            self.found.push(Diagnostic::new(
                codes::WRONG_SECTION,
                span,
                format!("`{shown}` does not belong in {}", self.place_words()),
                "in the wrong section",
                format!("move it to {}", join(&homes, "or")),
            ));
            return;
        }
        let all: Vec<&str> = self.section.keys.iter().map(|k| k.name).collect();
        let remedy = match near {
            Some((word, _)) => format!("did you mean `{word}`?"),
            None => format!("possible here: {}", all.join(", ")),
        };
        self.found.push(Diagnostic::new(
            code,
            span,
            message,
            format!("no such {what}"),
            remedy,
        ));
    }

    /// True when a key stands here that was probably meant to be this one.
    pub(super) fn misspelt(&self, key: &str) -> bool {
        let names = self.section.keys.iter().map(|k| k.name);
        self.table.iter().any(|(written, _)| {
            self.section.key(written.get_ref()).is_none()
                && closest(written.get_ref(), names.clone()).is_some_and(|c| c == (key, true))
        })
    }

    pub(super) fn missing(&self, key: &Key, why: &str) {
        if self.misspelt(key.name) {
            return; // Said already: did you mean …?
        }
        self.found.push_missing(Diagnostic::new(
            codes::MISSING_KEY,
            self.span,
            format!("{} has no `{}`{why}", self.place_words(), key.name),
            format!("`{}` is missing", key.name),
            format!(
                "add `{} = {}` ({})",
                key.name,
                key.example,
                key.doc.trim_end_matches('.')
            ),
        ));
    }
}

impl Place<'_> {
    /// Reports something wrong with this value.
    pub(crate) fn wrong(
        &self,
        code: &'static str,
        message: impl Into<String>,
        label: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Diagnostic {
        Diagnostic::new(code, self.span, message, label, remedy)
    }

    /// Opens a table that stands behind this key.
    pub(crate) fn table<'t, 'i>(
        &'t self,
        value: &'t Spanned<DeValue<'i>>,
        section: &'static Section,
    ) -> Option<Table<'t, 'i>> {
        match value.get_ref() {
            DeValue::Table(table) => Some(Table::open(
                table,
                self.span,
                section,
                self.path.clone(),
                self.found,
            )),
            other => self.wrong_type(other, "a table"),
        }
    }

    /// The same key at another place: an entry of a list.
    pub(crate) fn entry(&self, index: usize, span: Span) -> Self {
        Self {
            key: self.key,
            path: format!("{}[{}]", self.path, index),
            span,
            found: self.found,
        }
    }

    /// Finds `word` among `words`; else reports it with a did-you-mean.
    pub(crate) fn choose(&self, word: &str, words: &[&'static str]) -> Option<&'static str> {
        let exact = words.iter().find(|w| **w == word).copied();
        if exact.is_some() {
            return exact;
        }
        let shown: String = word.chars().take(40).collect();
        let mut d = self.wrong(
            codes::UNKNOWN_WORD,
            format!("`{}` cannot be \"{shown}\"", self.path),
            "not one of the possible words",
            format!("possible: {}", list(words)),
        );
        if let Some((meant, near)) = closest(word, words.iter().copied()) {
            d.remedy = format!("did you mean \"{meant}\"? Possible: {}", list(words));
            if near {
                d = d.replace_with(format!("\"{meant}\""));
            }
        }
        self.found.push(d);
        None
    }
}
