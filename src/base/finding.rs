//! What the checks found out about a design that can be made.

use super::code::Code;
use super::span::Span;
use serde::{Deserialize, Serialize};

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Level {
    /// Do not cut metal: the package is marked NOT RELEASED.
    Stop,
    /// Works with care; read before cutting.
    Warn,
    /// Good to know.
    Note,
}

impl Level {
    /// The lower-case word used in every output.
    pub fn word(self) -> &'static str {
        match self {
            Level::Stop => "stop",
            Level::Warn => "warn",
            Level::Note => "note",
        }
    }
}

/// One value of the parameter file that a [`Remedy`] changes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Change {
    /// Dotted key.
    pub key: String,
    /// What the file says; `None`: nothing, the value was assumed or decided.
    pub given: Option<String>,
    /// What to write; `None`: the key is taken out.
    pub to: Option<String>,
}

impl Change {
    /// The line of the file, or what is done to it.
    pub fn line(&self) -> String {
        match &self.to {
            Some(to) => format!("{} = {to}", self.key),
            None => format!("{} taken out", self.key),
        }
    }
}

/// Changes of the file with which a finding is gone: the changed file was designed and computed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Remedy {
    /// All of them together.
    pub changes: Vec<Change>,
    /// What the changed file is warned of that this one is not.
    pub brings: Vec<Code>,
}

impl Remedy {
    /// The lines of the file, and what they bring.
    pub fn lines(&self) -> String {
        let lines: Vec<String> = self.changes.iter().map(Change::line).collect();
        let brings: Vec<&str> = self.brings.iter().map(|c| c.as_str()).collect();
        match brings.is_empty() {
            true => lines.join(" with "),
            false => format!("{} (brings {})", lines.join(" with "), brings.join(", ")),
        }
    }
}

/// One result of a check (promise P3): what, where, why, and what to change, with numbers.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// How much it matters.
    pub level: Level,
    /// Stable code of the check.
    pub code: Code,
    /// What was found, with its numbers.
    pub what: String,
    /// Where: a feature tag, a plate, a key of the file.
    pub at: String,
    /// Why it matters, with the rule and its source.
    pub why: String,
    /// What to change.
    pub change: String,
    /// What was tried and is enough, each by itself; the easiest first.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub remedies: Vec<Remedy>,
    /// The line of the parameter file that causes it, if one does.
    #[serde(skip)]
    pub span: Option<Span>,
    /// A little picture (SVG text) of the places, where one helps.
    #[serde(skip)]
    pub picture: Option<String>,
}

impl Finding {
    /// A finding; see the fields for what each text holds.
    pub fn new(
        level: Level,
        code: Code,
        at: impl Into<String>,
        what: impl Into<String>,
        why: impl Into<String>,
        change: impl Into<String>,
    ) -> Self {
        debug_assert!(
            code.levels().contains(&level),
            "{code} comes as {}",
            level.word()
        );
        Self {
            level,
            code,
            what: what.into(),
            at: at.into(),
            why: why.into(),
            change: change.into(),
            remedies: Vec::new(),
            span: None,
            picture: None,
        }
    }
    /// What to change, and the lines of the file that were tried.
    pub fn advice(&self) -> String {
        let lines: Vec<String> = self.remedies.iter().map(Remedy::lines).collect();
        match lines.as_slice() {
            [] => self.change.clone(),
            [one] => format!("{}. Tried, and enough: {one}", self.change),
            many => format!(
                "{}. Tried, and each enough by itself: {}",
                self.change,
                many.join("; ")
            ),
        }
    }
    /// With a picture of the places (SVG text).
    #[must_use]
    pub fn with_picture(mut self, svg: String) -> Self {
        self.picture = Some(svg);
        self
    }
    /// With the place in the parameter file that causes it.
    #[must_use]
    pub fn because_of(mut self, span: Option<Span>) -> Self {
        self.span = span.filter(|s| s.end > s.start);
        self
    }
}

/// Stops first, then warnings and notes, each in a fixed order.
pub fn sort(findings: &mut [Finding]) {
    findings.sort_by(|a, b| {
        let key = |f: &Finding| (f.level, f.code.as_str());
        (key(a), &a.at, &a.what).cmp(&(key(b), &b.at, &b.what))
    });
}

/// True when no finding is a `stop`.
pub fn released(findings: &[Finding]) -> bool {
    findings.iter().all(|f| f.level != Level::Stop)
}
