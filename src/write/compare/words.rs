//! Changes in words.
//!
//! Input: [`Changes`]. Output: five lines for the terminal; the same as markup with tables.

use super::{Changes, FILL, FeatureChange, Found, METAL, NumberChange, TIME, ValueChange};
use crate::base::units::decimals;
use crate::write::markup::escape;

/// Values that a line names before it only counts.
const NAMED: usize = 4;

impl ValueChange {
    /// Key, before and after.
    pub fn words(&self) -> String {
        let or = |v: &Option<String>| v.clone().unwrap_or_else(|| "none".into());
        format!("{} {} → {}", self.key, or(&self.before), or(&self.after))
    }
}

impl NumberChange {
    fn shown(&self, value: Option<f64>) -> String {
        value.map_or_else(|| "none".into(), |v| self.unit.number(v, self.places))
    }
    fn unit(&self) -> String {
        match self.unit.word() {
            "" => String::new(),
            unit => format!(" {unit}"),
        }
    }
    /// By how much, with its sign.
    pub fn difference(&self) -> Option<String> {
        // Of the numbers as they are shown, so that the three agree.
        let (was, is) = (
            self.shown(self.before?.into()),
            self.shown(self.after?.into()),
        );
        let places = |text: &str| text.split_once('.').map_or(0, |(_, after)| after.len());
        let most = places(&was).max(places(&is));
        let by = is.parse::<f64>().ok()? - was.parse::<f64>().ok()?;
        let sign = if by < 0.0 { "−" } else { "+" };
        Some(format!("{sign}{}{}", decimals(by.abs(), most), self.unit()))
    }
    /// Name, before and after, and by how much.
    pub fn words(&self) -> String {
        let (was, is) = (self.shown(self.before), self.shown(self.after));
        let by = self
            .difference()
            .map_or_else(String::new, |d| format!(" ({d})"));
        format!("{} {was} → {is}{}{by}", self.name, self.unit())
    }
}

impl FeatureChange {
    /// What of the plate, and what became of it.
    pub fn words(&self) -> String {
        let tag = self.tags[1].as_ref().or(self.tags[0].as_ref());
        let tag = tag.map_or_else(String::new, |t| format!(" {t}"));
        let place = match &self.places {
            [Some(was), Some(is)] if was != is => format!(" from {was} to {is}"),
            [None, Some(at)] | [Some(at), None] | [Some(_), Some(at)] => format!(" at {at}"),
            [None, None] => String::new(),
        };
        let purpose = self.purpose.replace('_', " ");
        format!("{}: {purpose}{tag} {}{place}", self.plate, self.what.word())
    }
}

/// Each code once, with its level and how often.
fn codes(all: &[Found]) -> String {
    let mut seen: Vec<(String, usize)> = Vec::new();
    for f in all {
        let words = format!("{} {}", f.level, f.code);
        match seen.iter_mut().find(|s| s.0 == words) {
            Some(one) => one.1 += 1,
            None => seen.push((words, 1)),
        }
    }
    let told = seen.into_iter().map(|(words, n)| match n {
        1 => words,
        n => format!("{words} × {n}"),
    });
    told.collect::<Vec<_>>().join(", ")
}

fn joined(numbers: &[&NumberChange]) -> String {
    match numbers {
        [] => "as before".into(),
        all => all.iter().map(|n| n.words()).collect::<Vec<_>>().join(", "),
    }
}

fn more(named: Vec<String>, all: usize) -> String {
    let rest = all - named.len();
    let named = named.join(", ");
    match rest {
        0 => named,
        n => format!("{named}, {n} more"),
    }
}

impl Changes {
    /// Five lines: subject and text. Empty when nothing differs.
    pub fn lines(&self) -> Vec<(&'static str, String)> {
        if self.is_empty() {
            return Vec::new();
        }
        let values = match self.values.as_slice() {
            [] => "as before".to_owned(),
            all => more(
                all.iter().take(NAMED).map(ValueChange::words).collect(),
                all.len(),
            ),
        };
        let mut findings: Vec<String> = self.release().into_iter().collect();
        if !self.gone.is_empty() {
            findings.push(format!("gone: {}", codes(&self.gone)));
        }
        if !self.new.is_empty() {
            findings.push(format!("new: {}", codes(&self.new)));
        }
        if findings.is_empty() {
            findings.push("the same".into());
        }
        vec![
            ("values", values),
            ("findings", findings.join("; ")),
            ("metal", joined(&self.among(METAL))),
            ("time", joined(&self.among(TIME))),
            ("fill", joined(&self.among(FILL))),
        ]
    }

    /// Whether cutting metal is allowed now, or no longer; none where that is as it was.
    fn release(&self) -> Option<String> {
        match self.released {
            [false, true] => Some("released now".to_owned()),
            [true, false] => Some("no longer released".to_owned()),
            _ => None,
        }
    }

    /// The shortest that says what it did: values that follow, then numbers, then findings.
    /// `own`: keys that somebody changed and need not be told of.
    pub fn effect(&self, own: &[String]) -> Vec<String> {
        let followed = self.values.iter().filter(|v| !own.contains(&v.key));
        let mut out: Vec<String> = self.release().into_iter().collect();
        for (word, list) in [("gone: ", &self.gone), ("new: ", &self.new)] {
            if !list.is_empty() {
                out.push(format!("{word}{}", codes(list)));
            }
        }
        out.extend(self.numbers.iter().map(NumberChange::words));
        out.extend(followed.map(ValueChange::words));
        out
    }

    /// Tables of all that differs, as markup.
    pub fn markup(&self) -> String {
        if self.is_empty() {
            return "<p>Nothing differs.</p>\n".into();
        }
        let mut out = String::new();
        let or = |v: &Option<String>| escape(v.as_deref().unwrap_or("none"));
        let numbers = self.numbers.iter().map(|n| {
            let cells = [
                escape(n.name),
                escape(&(n.shown(n.before) + &n.unit())),
                escape(&(n.shown(n.after) + &n.unit())),
                escape(&n.difference().unwrap_or_default()),
            ];
            row(&cells)
        });
        table(
            &mut out,
            "Numbers of the whole",
            &["", "before", "after", "by"],
            numbers,
        );
        let findings = |list: &[Found], word: &'static str| -> Vec<String> {
            let told = list.iter().map(|f| {
                row(&[
                    word.into(),
                    escape(&f.level),
                    escape(&f.what),
                    escape(&f.code),
                ])
            });
            told.collect()
        };
        let mut found = findings(&self.gone, "gone");
        found.extend(findings(&self.new, "new"));
        found.extend(self.moved.iter().map(|(was, is)| {
            let text = format!(
                "{} <span class=\"soft\">(before: {})</span>",
                escape(&is.what),
                escape(&was.what)
            );
            row(&[
                "other numbers".into(),
                escape(&is.level),
                text,
                escape(&is.code),
            ])
        }));
        table(
            &mut out,
            "Findings",
            &["", "level", "what", "code"],
            found.into_iter(),
        );
        let values = self.values.iter().map(|v| {
            let by = if v.given { "file" } else { "follows" };
            row(&[escape(&v.key), or(&v.before), or(&v.after), by.into()])
        });
        table(
            &mut out,
            "Values",
            &["key", "before", "after", "by"],
            values,
        );
        let features = self.features.iter().map(|f| {
            let side = |k: usize| {
                let tag = f.tags[k].clone().unwrap_or_default();
                let place = f.places[k].clone().unwrap_or_default();
                escape(format!("{tag} {place}").trim())
            };
            let name = format!("{}: {}", f.plate, f.purpose.replace('_', " "));
            row(&[escape(&name), f.what.word().into(), side(0), side(1)])
        });
        table(
            &mut out,
            "Features",
            &["feature", "", "before", "after"],
            features,
        );
        out
    }
}

fn row(cells: &[String; 4]) -> String {
    let [first, rest @ ..] = cells;
    let rest: String = rest.iter().map(|c| format!("<td>{c}</td>")).collect();
    format!("<tr><th scope=\"row\">{first}</th>{rest}</tr>\n")
}

fn table(out: &mut String, name: &str, heads: &[&str; 4], rows: impl Iterator<Item = String>) {
    let rows: String = rows.collect();
    if rows.is_empty() {
        return;
    }
    let head = |h: &str| match h {
        "" => "<td></td>".to_owned(),
        h => format!("<th scope=\"col\">{h}</th>"),
    };
    let heads: String = heads.iter().map(|h| head(h)).collect();
    out.push_str(&format!(
        "<table class=\"changes\"><caption>{name}</caption><thead><tr>{heads}</tr></thead>\n<tbody>{rows}</tbody></table>\n"
    ));
}
