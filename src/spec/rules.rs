//! Rules between the keys of one table: what excludes, needs or forbids what.
//!
//! Input: a [`Table`] and its section's rules. Output: diagnostics.

use super::codes;
use super::key::{Case, Rule};
use super::reader::Table;
use super::suggest::join;
use crate::base::Diagnostic;

impl Table<'_, '_> {
    pub(super) fn check_case(&self, case: &'static Case) {
        let Some(variants) = self.section.variants else {
            return;
        };
        let for_word = format!(" for {} = \"{}\"", variants.selector, case.word);
        for name in case.needs {
            if let Some(key) = self.section.key(name)
                && !self.has(name)
            {
                self.missing(key, &for_word);
            }
        }
        for (name, _) in self.table {
            let name: &str = name.get_ref();
            if variants.mentions(name) && !case.takes(name) {
                let own: Vec<&str> = case.needs.iter().chain(case.may).copied().collect();
                self.found.push(Diagnostic::new(
                    codes::KEY_NOT_USED,
                    self.key_span(name),
                    format!("`{name}` says nothing{for_word}"),
                    format!("not a key of \"{}\"", case.word),
                    format!("take it out; \"{}\" takes {}", case.word, join(&own, "and")),
                ));
            }
        }
    }

    pub(super) fn check_rule(&self, rule: &Rule) {
        let present = |keys: &[&'static str]| -> Vec<&'static str> {
            let mut names: Vec<&'static str> =
                keys.iter().copied().filter(|k| self.has(k)).collect();
            names.sort_by_key(|k| self.key_span(k).start);
            names
        };
        match *rule {
            Rule::AtMostOne(keys) | Rule::ExactlyOne(keys) => {
                let there = present(keys);
                if let [first, .., last] = there[..] {
                    self.found.push(Diagnostic::new(
                        codes::EXCLUSIVE_KEYS,
                        self.key_span(last),
                        format!("`{first}` and `{last}` exclude each other"),
                        format!("`{first}` is given too"),
                        format!("keep one of {}", join(&ticks(keys), "and")),
                    ));
                } else if there.is_empty()
                    && matches!(rule, Rule::ExactlyOne(_))
                    && !keys.iter().any(|k| self.misspelt(k))
                {
                    self.found.push_missing(Diagnostic::new(
                        codes::MISSING_KEY,
                        self.span,
                        format!("{} has no {}", self.place_words(), join(&ticks(keys), "or")),
                        "one of them is missing",
                        format!("give {}", join(&self.examples(keys), "or")),
                    ));
                }
            }
            Rule::Together(keys) => {
                let there = present(keys);
                if let Some(first) = there.first()
                    && there.len() < keys.len()
                {
                    let lacking: Vec<&str> =
                        keys.iter().copied().filter(|k| !self.has(k)).collect();
                    self.lonely(first, &lacking);
                }
            }
            Rule::Needs(key, other) => {
                if self.has(key) && !self.has(other) {
                    self.lonely(key, &[other]);
                }
            }
            Rule::OnlyWith {
                selector,
                word,
                keys,
            } => {
                let chosen = self.raw(selector).and_then(|v| v.get_ref().as_str());
                if chosen == Some(word) {
                    return;
                }
                for key in present(keys) {
                    self.found.push(Diagnostic::new(
                        codes::KEY_NOT_USED,
                        self.key_span(key),
                        format!("`{key}` says nothing unless {selector} = \"{word}\""),
                        "not used",
                        format!("add `{selector} = \"{word}\"`, or take `{key}` out"),
                    ));
                }
            }
            Rule::NotWith { flag, keys } => {
                let on = self.raw(flag).and_then(|v| v.get_ref().as_bool());
                if on != Some(true) {
                    return;
                }
                for key in present(keys) {
                    self.found.push(Diagnostic::new(
                        codes::EXCLUSIVE_KEYS,
                        self.key_span(key),
                        format!("`{key}` says nothing with {flag} = true"),
                        "not used",
                        format!("take `{key}` out, or set `{flag} = false`"),
                    ));
                }
            }
        }
    }

    fn lonely(&self, key: &str, lacking: &[&str]) {
        if lacking.iter().any(|k| self.misspelt(k)) {
            return; // Said already: did you mean …?
        }
        self.found.push_missing(Diagnostic::new(
            codes::KEYS_TOGETHER,
            self.key_span(key),
            format!(
                "`{key}` says nothing without {}",
                join(&ticks(lacking), "and")
            ),
            format!("{} missing", join(&ticks(lacking), "and")),
            format!(
                "add {}, or take `{key}` out",
                join(&self.examples(lacking), "and")
            ),
        ));
    }

    fn examples(&self, keys: &[&str]) -> Vec<String> {
        keys.iter()
            .filter_map(|k| self.section.key(k))
            .map(|k| format!("`{} = {}`", k.name, k.example))
            .collect()
    }
}

fn ticks(keys: &[&str]) -> Vec<String> {
    keys.iter().map(|k| format!("`{k}`")).collect()
}
