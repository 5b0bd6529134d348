//! What the file held, save after save of this sitting, and what each changed.
//!
//! Input: texts as they are seen, models as they are made. Output: what a model changed against
//! the one before it; the list for the page; the text of a version. Keeps the newest only.

use super::{Model, Stage};
use crate::write::compare::{self, State};
use serde_json::{Value, json};
use std::collections::VecDeque;
use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};

/// So many versions are kept.
const KEPT: usize = 20;
/// Lines of a change that are told in the list.
const LINES: usize = 6;

/// One state of the file.
struct Version {
    number: usize,
    /// Tells texts apart.
    base: String,
    text: Arc<[u8]>,
    /// Milliseconds of the clock when it was seen; for this page only.
    at: u64,
    /// Once it has been computed in full.
    state: Option<State>,
    /// What it changed; `None` until it is known.
    said: Option<Vec<String>>,
}

/// The versions, the oldest first.
#[derive(Default)]
pub(super) struct Versions {
    all: VecDeque<Version>,
    made: usize,
}

impl Versions {
    /// The file has been seen with this text.
    pub(super) fn saved(&mut self, base: &str, text: &Arc<[u8]>) {
        if self.all.back().is_some_and(|v| v.base == base) {
            return;
        }
        self.made += 1;
        let now = SystemTime::now().duration_since(UNIX_EPOCH);
        self.all.push_back(Version {
            number: self.made,
            base: base.to_owned(),
            text: text.clone(),
            at: now.map_or(0, |t| u64::try_from(t.as_millis()).unwrap_or(0)),
            state: None,
            said: None,
        });
        if self.all.len() > KEPT {
            self.all.pop_front();
        }
    }

    /// What a model changes: with values on trial (`own`), against the file; else against the
    /// save before. Until it is computed in full, what is known of it.
    pub(super) fn made(&mut self, base: &str, own: &[String], model: &Model) -> Vec<String> {
        let Some(place) = self.all.iter().rposition(|v| v.base == base) else {
            return Vec::new();
        };
        let before = match own {
            [] => place,
            _ => place + 1,
        };
        let before = self
            .all
            .range(..before)
            .rev()
            .find_map(|v| v.state.as_ref());
        let state = state(model);
        let said = before.map(|before| {
            let mut all = compare::changes(before, &state);
            if model.stage != Stage::Done {
                all.keep_known();
            }
            all.effect(own)
        });
        if model.stage == Stage::Done && own.is_empty() {
            let version = &mut self.all[place];
            version.state = Some(state);
            version.said = Some(said.clone().unwrap_or_default());
        }
        said.unwrap_or_default()
    }

    /// The newest first, as JSON.
    pub(super) fn list(&self) -> String {
        let list = self.all.iter().rev().map(|v| {
            let said = v.said.as_ref().map(|all| {
                let mut told: Vec<String> = all.iter().take(LINES).cloned().collect();
                if all.len() > LINES {
                    told.push(format!("{} more", all.len() - LINES));
                }
                told
            });
            let released = v.state.as_ref().map(|s| s.released);
            json!({ "number": v.number, "at": v.at, "said": said, "released": released })
        });
        json!(list.collect::<Vec<_>>()).to_string()
    }

    /// The text of a version.
    pub(super) fn text(&self, number: usize) -> Option<Arc<[u8]>> {
        let found = self.all.iter().find(|v| v.number == number);
        found.map(|v| v.text.clone())
    }
}

/// The same fields that the two files of a package hold.
fn state(model: &Model) -> State {
    let design = json!({
        "title": model.design.title,
        "revision": model.design.revision,
        "decisions": model.design.decisions,
        "findings": model.design.findings,
        "plates": model.design.plates,
        "solids": model.facts,
        "minutes": model.minutes,
    });
    let process = model.process.as_ref().map_or(Value::Null, |p| {
        json!({
            "shot": p.shot,
            "cool": p.cool,
            "hold": p.hold,
            "fill": { "cases": p.fill.as_ref().map(|f| &f.cases) },
        })
    });
    State::of(&design, &process)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::sample;
    use std::collections::BTreeMap;

    fn model(thickness: &str, stage: Stage) -> Model {
        let mut design = sample::design();
        let rule = crate::base::decision::Rule::default();
        design.decisions.record("mold.thickness_b", thickness, rule);
        Model {
            design,
            process: None,
            facts: Vec::new(),
            meshes: Vec::new(),
            marked: Vec::new(),
            minutes: BTreeMap::new(),
            new_solids: true,
            stage,
        }
    }

    #[test]
    fn each_save_is_told_against_the_one_before_and_twenty_are_kept() {
        let mut versions = Versions::default();
        let text = |n: usize| -> Arc<[u8]> { n.to_string().into_bytes().into() };
        for n in 1..=25 {
            versions.saved(&n.to_string(), &text(n));
            versions.saved(&n.to_string(), &text(n));
            let said = versions.made(&n.to_string(), &[], &model(&format!("{n} mm"), Stage::Done));
            if n > 1 {
                assert_eq!(said, [format!("mold.thickness_b {} mm → {n} mm", n - 1)]);
            }
        }
        let list: Value = serde_json::from_str(&versions.list()).expect("JSON");
        assert_eq!(list.as_array().expect("a list").len(), KEPT);
        assert_eq!(list[0]["number"], 25);
        assert_eq!(list[0]["said"][0], "mold.thickness_b 24 mm → 25 mm");
        assert_eq!(versions.text(25).expect("a text"), text(25));
        assert!(versions.text(5).is_none() && versions.text(6).is_some());
        // On trial: against the file itself; the value that was moved need not be told.
        let trial = model("40 mm", Stage::Done);
        assert_eq!(versions.made("25", &[], &trial).len(), 1);
        assert!(
            versions
                .made("25", &["mold.thickness_b".into()], &trial)
                .is_empty()
        );
    }
}
