//! Why each number is what it is (promise P2).

use super::file_key::KeyPath;
use super::span::{Given, Span};
use serde::Serialize;

/// Where a decided value comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Origin {
    /// Written by the user in the parameter file.
    File,
    /// Decided here by a rule.
    Rule,
}

/// One decided value with its reason.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Decision {
    /// Dotted key as in the parameter file: `bolts.count`.
    pub key: String,
    /// The value for people, with unit: `4`, `M8`, `12 mm`.
    pub value: String,
    /// From the file or by a rule.
    pub origin: Origin,
    /// The rule or formula in words or symbols.
    pub rule: String,
    /// Inputs of the rule: name and value with unit.
    pub inputs: Vec<(String, String)>,
    /// Standard, handbook, or "common practice, no source".
    pub source: String,
    /// What would change it.
    pub changes_with: String,
    /// The value as the parameter file would have it, TOML, where a rule decided a key of it.
    #[serde(skip)]
    pub written: Option<String>,
    /// Its place, when it was written in the file.
    #[serde(skip)]
    pub span: Option<Span>,
}

/// A value that can stand behind a key of the parameter file.
pub trait Written {
    /// As it would be written there, TOML; `None` for what no single value says.
    fn written(&self) -> Option<String> {
        None
    }
}

impl Written for f64 {
    /// All digits: what is taken over is what was decided, to the last bit.
    fn written(&self) -> Option<String> {
        self.is_finite().then(|| self.to_string())
    }
}
impl Written for u32 {
    fn written(&self) -> Option<String> {
        Some(self.to_string())
    }
}
impl Written for bool {
    fn written(&self) -> Option<String> {
        Some(self.to_string())
    }
}
impl Written for String {
    fn written(&self) -> Option<String> {
        let plain = |c: char| !c.is_control() && c != '"' && c != '\\';
        self.chars().all(plain).then(|| format!("\"{self}\""))
    }
}
impl Written for [f64; 2] {
    fn written(&self) -> Option<String> {
        self.to_vec().written()
    }
}
impl<T: Written> Written for Vec<T> {
    fn written(&self) -> Option<String> {
        let all: Option<Vec<String>> = self.iter().map(T::written).collect();
        Some(format!("[{}]", all?.join(", ")))
    }
}

/// The rule behind a value the tool decides itself.
#[derive(Debug, Clone, Default)]
pub struct Rule {
    /// The rule or formula.
    pub rule: String,
    /// Its inputs.
    pub inputs: Vec<(String, String)>,
    /// Its source.
    pub source: String,
    /// What would change the value.
    pub changes_with: String,
}

impl Rule {
    /// A rule with its source.
    pub fn new(rule: impl Into<String>, source: impl Into<String>) -> Self {
        Self {
            rule: rule.into(),
            source: source.into(),
            ..Self::default()
        }
    }
    /// Adds an input.
    #[must_use]
    pub fn with(mut self, name: impl Into<String>, value: impl ToString) -> Self {
        self.inputs.push((name.into(), value.to_string()));
        self
    }
    /// Says what would change the value.
    #[must_use]
    pub fn changes_with(mut self, text: impl Into<String>) -> Self {
        self.changes_with = text.into();
        self
    }
}

/// The record of all decisions, in the order they were made.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
#[serde(transparent)]
pub struct Decisions(pub Vec<Decision>);

impl Decisions {
    /// Takes the user's value where there is one, else the rule's; records which.
    ///
    /// `show` turns the value into text with its unit.
    pub fn decide<T: Clone + Written>(
        &mut self,
        key: impl Into<KeyPath>,
        given: Option<&Given<T>>,
        show: impl Fn(&T) -> String,
        rule: impl FnOnce() -> (T, Rule),
    ) -> T {
        let key = key.into();
        match given {
            Some(g) => {
                self.0.push(Decision {
                    key: key.to_string(),
                    value: show(&g.value),
                    origin: Origin::File,
                    rule: "given in the parameter file".into(),
                    inputs: Vec::new(),
                    source: "the user".into(),
                    changes_with: format!("the key {key}"),
                    written: None,
                    span: Some(g.span),
                });
                g.value.clone()
            }
            None => {
                let (value, rule) = rule();
                self.record(key.to_string(), show(&value), rule);
                if let Some(last) = self.0.last_mut() {
                    last.written = value.written();
                }
                value
            }
        }
    }

    /// Records a value that follows from others and is no key of the file.
    pub fn record(&mut self, key: impl Into<String>, value: impl Into<String>, rule: Rule) {
        self.0.push(Decision {
            key: key.into(),
            value: value.into(),
            origin: Origin::Rule,
            rule: rule.rule,
            inputs: rule.inputs,
            source: rule.source,
            changes_with: rule.changes_with,
            written: None,
            span: None,
        });
    }

    /// Changes a decision of a rule when something decided later asks for it: the value, what is
    /// added to the rule's words, and an input that says what it was.
    pub fn revise(
        &mut self,
        key: impl ToString,
        value: impl Into<String>,
        because: &str,
        was: (&str, String),
    ) {
        let key = key.to_string();
        if let Some(d) = self.0.iter_mut().rev().find(|d| d.key == key) {
            d.value = value.into();
            d.rule.push_str(because);
            d.inputs.push((was.0.to_owned(), was.1));
        }
    }

    /// The last decision of a key.
    pub fn get(&self, key: &str) -> Option<&Decision> {
        self.0.iter().rev().find(|d| d.key == key)
    }
}
