//! What the first shots taught: a grade of plastic with its ranges, as a file that others name.
//!
//! Input: the text of such a file. Output: [`Learned`], or what is wrong; and the text again. Learns
//! nothing itself (see `process::shots`).

use super::codes;
use super::key::{Kind, REQUIRED, Section, quantity};
use super::machine::PLASTICS;
use super::place::{Findings, Place};
use super::read::{parsed, text_of};
use super::reader::Table;
use super::section::section;
use super::shots::Fault;
use super::value::Value;
use crate::base::dimension::Dimension;
use crate::base::units::{decimals, number};
use crate::base::{Diagnostic, Diagnostics, OtherFile, Ratio, Span, Temperature};
use serde::{Deserialize, Serialize};
use toml::Spanned;
use toml::de::DeValue;

/// The ending of a file with a grade.
pub const GRADE_FILES: &[&str] = &["grade"];

/// How what was learned is asked for by a changed text of the same file (see
/// [`super::attached::Beside`]); there is no such file.
pub const LEARNED: &str = "*.learned";

/// What is known of a plastic after the first shots, with 95 % ranges.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Learned {
    /// Short name of the plastic.
    pub plastic: String,
    /// Melt flow rates that the shots speak for, g/10 min: easiest, typical and hardest that are
    /// still possible.
    pub melt_flow: [f64; 3],
    /// Temperature, °C, and load, kg, of that test.
    pub test: [f64; 2],
    /// What flakes and entrance of the nozzle take, against the tables' typical: low, typical, high.
    pub losses: [f64; 3],
    /// Contact of melt and metal, W/(m² K): low, typical, high.
    pub contact: [f64; 3],
    /// For the mold that made the shots: melt flow rate and contact with which it fills most
    /// easily, usually, and least easily, of what is still possible. What these two are wrong by
    /// goes together, so this lies closer than both ranges do.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub here: Option<[[f64; 2]; 3]>,
    /// Shrinkage, fractions: low, typical, high; `None` when no size was measured.
    pub shrinkage: Option<[f64; 3]>,
    /// The shots behind it, in words.
    pub from: String,
    /// What was predicted and measured; empty for a grade that was read from a file.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub compared: Vec<Compared>,
    /// Shots of a mold that was made from an older or newer text of the file, in words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub other_revision: Vec<String>,
    /// What to do about it, in sentences.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub todo: Vec<String>,
    /// Causes of the faults that were seen, by fault, the likeliest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub causes: Vec<Cause>,
}

/// A cause of a fault.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Cause {
    /// The fault that was seen.
    pub fault: Fault,
    /// What may be behind it, and what to do.
    pub cause: String,
    /// Share of likelihood among the causes of this fault.
    pub likely: f64,
    /// What speaks for it, in numbers.
    pub reason: String,
}

/// One number that was measured, and what was predicted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Compared {
    /// "shot 2", "purge 1".
    pub record: String,
    /// Its line in the file of shots.
    pub line: usize,
    /// What was measured: "time", "filled", "mass", the name of a size.
    pub what: String,
    /// Unit: "s", "%", "g", "mm", "cm³/s".
    pub unit: String,
    /// Low, typical and high before: by the tables, contact taken wider (see `forward`).
    pub before: [f64; 3],
    /// Low, typical and high by what was learned.
    pub after: [f64; 3],
    /// What it was.
    pub measured: f64,
    /// True where what was learned explains it within its accuracy.
    pub explained: bool,
}

section! {
    /// `[grade]`
    pub struct GradeSection, "grade", "A grade of plastic as the shots of another mold showed it; written by `platewright shots FILE --save-grade NAME.grade`.";
    /// Short name of the plastic.
    plastic: String = Kind::Plastic(PLASTICS), REQUIRED, "\"PP\"";
    /// Melt flow rate of the easiest that is still possible, g/10 min.
    melt_flow_easy: f64 = quantity(Dimension::MeltFlow, 0.001, 5000.0), REQUIRED, "14";
    /// Melt flow rate that the shots speak for, g/10 min.
    melt_flow: f64 = quantity(Dimension::MeltFlow, 0.001, 5000.0), REQUIRED, "9";
    /// Melt flow rate of the hardest that is still possible, g/10 min.
    melt_flow_hard: f64 = quantity(Dimension::MeltFlow, 0.001, 5000.0), REQUIRED, "6";
    /// Temperature of that test.
    melt_flow_temperature: Temperature = quantity(Dimension::Temperature, 100.0, 350.0), REQUIRED, "230";
    /// Load of that test.
    melt_flow_load: f64 = quantity(Dimension::Mass, 0.1, 25.0), REQUIRED, "2.16";
    /// Losses in flakes and entrance of the nozzle, against the tables' typical: the least.
    losses_low: f64 = quantity(Dimension::Number, 0.01, 100.0), REQUIRED, "0.7";
    /// The same: typical.
    losses: f64 = quantity(Dimension::Number, 0.01, 100.0), REQUIRED, "1";
    /// The same: the most.
    losses_high: f64 = quantity(Dimension::Number, 0.01, 100.0), REQUIRED, "1.5";
    /// Least contact of melt and metal, W/(m² K).
    contact_low: f64 = quantity(Dimension::Number, 10.0, 100_000.0), REQUIRED, "1400";
    /// Contact of melt and metal, W/(m² K).
    contact: f64 = quantity(Dimension::Number, 10.0, 100_000.0), REQUIRED, "2000";
    /// Most contact of melt and metal, W/(m² K).
    contact_high: f64 = quantity(Dimension::Number, 10.0, 100_000.0), REQUIRED, "3100";
    /// Least shrinkage.
    shrinkage_low: Ratio = quantity(Dimension::Ratio, 0.0, 0.1), "no size was measured", "\"2.1 %\"";
    /// Shrinkage.
    shrinkage: Ratio = quantity(Dimension::Ratio, 0.0, 0.1), "no size was measured", "\"2.2 %\"";
    /// Most shrinkage.
    shrinkage_high: Ratio = quantity(Dimension::Ratio, 0.0, 0.1), "no size was measured", "\"2.3 %\"";
    /// The shots behind it.
    from: String = Kind::Text(200), "not said", "\"4 shots of coaster.toml\"";
}

section! {
    /// The file.
    pub struct GradeKeys, "", "A grade that was learned, in a file NAME.grade that parameter files name by plastic.grade.";
    /// The grade.
    grade: GradeSection = Kind::Table(GradeSection::SECTION), REQUIRED, "{ plastic = \"PP\" }";
}

impl Value for GradeSection {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        at.table(value, Self::SECTION).map(|t| Self::read(&t))
    }
}

impl Learned {
    /// The file as a section.
    pub const FILE: &'static Section = GradeKeys::SECTION;

    /// As a file: reading it gives the same numbers again.
    pub fn text(&self) -> String {
        let mut out = String::from(
            "# A grade as the first shots of a mold showed it. Name it in other parameter files:\n\
             # [plastic]\n# grade = \"NAME.grade\"\n[grade]\n",
        );
        let mut put = |key: &str, value: String| out.push_str(&format!("{key} = {value}\n"));
        put("plastic", format!("\"{}\"", self.plastic));
        let three = |put: &mut dyn FnMut(&str, String), keys: [&str; 3], values: [f64; 3]| {
            for (key, value) in keys.into_iter().zip(values) {
                put(key, format!("{value:?}"));
            }
        };
        three(
            &mut put,
            ["melt_flow_easy", "melt_flow", "melt_flow_hard"],
            self.melt_flow,
        );
        put("melt_flow_temperature", format!("{:?}", self.test[0]));
        put("melt_flow_load", format!("{:?}", self.test[1]));
        three(
            &mut put,
            ["losses_low", "losses", "losses_high"],
            self.losses,
        );
        three(
            &mut put,
            ["contact_low", "contact", "contact_high"],
            self.contact,
        );
        if let Some(s) = self.shrinkage {
            three(
                &mut put,
                ["shrinkage_low", "shrinkage", "shrinkage_high"],
                s,
            );
        }
        put("from", toml::Value::String(self.from.clone()).to_string());
        out
    }

    /// Melt flow rate, g/10 min, and contact, W/(m² K), of the easy, the typical and the hard case.
    pub fn cases(&self) -> [[f64; 2]; 3] {
        let apart = || std::array::from_fn(|k| [self.melt_flow[k], self.contact[k]]);
        self.here.unwrap_or_else(apart)
    }

    /// Everything, for a changed text of the same file (see [`LEARNED`]).
    pub fn handed_on(&self) -> Vec<u8> {
        serde_json::to_vec(self).unwrap_or_default()
    }

    /// What [`Learned::handed_on`] gave.
    pub fn taken_up(bytes: &[u8]) -> Option<Self> {
        serde_json::from_slice(bytes).ok()
    }

    /// Reads such a file; `name` is told with what is wrong.
    ///
    /// # Errors
    /// Everything that is wrong with it.
    pub fn read(bytes: &[u8], name: &str) -> Result<Self, Diagnostics> {
        let file = || OtherFile {
            name: name.to_owned(),
            text: String::from_utf8_lossy(bytes).into_owned(),
        };
        let read = || -> Result<Self, Diagnostics> {
            let text = text_of(bytes)?;
            let learned = parsed(text, |root, broken| {
                let found = Findings::new(broken.first().map(|d| d.span.start), Self::FILE);
                let table = Table::open(root, Span::default(), Self::FILE, String::new(), &found);
                let keys = GradeKeys::read(&table);
                let learned = keys.grade.and_then(|g| {
                    let learned = from_keys(&g.value);
                    if let Some(why) = learned.as_ref().and_then(disorder) {
                        found.push(Diagnostic::new(
                            codes::OUT_OF_RANGE,
                            g.span,
                            format!("the ends of a range are out of order: {why}"),
                            "here",
                            "low, typical and high have to grow; save the grade again",
                        ));
                    }
                    learned
                });
                (learned, found.into_diagnostics())
            })?;
            // Every required key has its own fault where it is missing.
            learned.ok_or_else(Diagnostics::default)
        };
        read().map_err(|all| Diagnostics(all.0.into_iter().map(|d| d.in_file(file())).collect()))
    }

    /// A typical value with its range, in words.
    pub fn range_words(values: [f64; 3]) -> String {
        let [low, typical, high] = rounded(values);
        format!("{typical} ({low} to {high})")
    }

    /// The range of the typical melt flow rate, in words.
    pub fn flow_words(&self) -> String {
        let [easy, typical, hard] = self.melt_flow.map(|v| decimals(v, 2));
        format!("{typical} g/10 min ({hard} to {easy})")
    }
}

/// A range with as many digits as it is known to.
pub fn rounded(values: [f64; 3]) -> [String; 3] {
    let span = (values[2] - values[0]).abs().max(1e-9);
    let places = (1.0 - span.log10().floor()).clamp(0.0, 4.0) as usize;
    values.map(|v| decimals(v, places))
}

impl Compared {
    /// What was measured, with its unit.
    pub fn measured_words(&self) -> String {
        match (self.what.as_str(), self.measured >= 100.0) {
            ("full", true) => "full".to_owned(),
            ("full", false) => "nothing came".to_owned(),
            _ => {
                let places = if self.unit == "mm" { 2 } else { 1 };
                format!("{} {}", decimals(self.measured, places), self.unit)
            }
        }
    }
}

fn from_keys(g: &GradeSection) -> Option<Learned> {
    let n = |v: &crate::base::Opt<f64>| v.as_ref().map(|g| g.value);
    let share = |v: &crate::base::Opt<Ratio>| v.as_ref().map(|g| g.value.value());
    Some(Learned {
        plastic: g.plastic.as_ref()?.value.clone(),
        melt_flow: [
            n(&g.melt_flow_easy)?,
            n(&g.melt_flow)?,
            n(&g.melt_flow_hard)?,
        ],
        test: [
            g.melt_flow_temperature.as_ref()?.value.celsius(),
            n(&g.melt_flow_load)?,
        ],
        losses: [n(&g.losses_low)?, n(&g.losses)?, n(&g.losses_high)?],
        contact: [n(&g.contact_low)?, n(&g.contact)?, n(&g.contact_high)?],
        here: None,
        shrinkage: share(&g.shrinkage_low)
            .zip(share(&g.shrinkage))
            .zip(share(&g.shrinkage_high))
            .map(|((low, typical), high)| [low, typical, high]),
        from: g
            .from
            .as_ref()
            .map_or("not said".into(), |f| f.value.clone()),
        compared: Vec::new(),
        other_revision: Vec::new(),
        todo: Vec::new(),
        causes: Vec::new(),
    })
}

/// What does not grow as it should.
fn disorder(l: &Learned) -> Option<String> {
    let [easy, typical, hard] = l.melt_flow;
    let say = |name: &str, v: [f64; 3]| {
        let rises = v[0] < v[1] && v[1] < v[2];
        (!rises).then(|| {
            format!(
                "{name} {}, {}, {}",
                number(v[0]),
                number(v[1]),
                number(v[2])
            )
        })
    };
    say("melt flow rates", [hard, typical, easy])
        .or_else(|| say("losses", l.losses))
        .or_else(|| say("contact", l.contact))
        .or_else(|| l.shrinkage.and_then(|s| say("shrinkage", s)))
}

#[cfg(test)]
mod tests {
    use super::*;

    pub(crate) fn sample() -> Learned {
        Learned {
            plastic: "PP".into(),
            melt_flow: [13.1, 9.0 + 1e-13, 6.2],
            test: [230.0, 2.16],
            losses: [0.7, 1.0 / 3.0 + 0.6, 1.7],
            contact: [1400.0, 2100.5, 3000.0],
            here: None,
            shrinkage: Some([0.0201, 0.0222, 0.0243]),
            from: "2 shots of \"tray\"".into(),
            compared: Vec::new(),
            other_revision: Vec::new(),
            todo: Vec::new(),
            causes: Vec::new(),
        }
    }

    #[test]
    fn a_grade_is_read_as_it_was_written() {
        let mut grade = sample();
        assert_eq!(
            Learned::read(grade.text().as_bytes(), "a.grade"),
            Ok(grade.clone())
        );
        grade.shrinkage = None;
        assert_eq!(
            Learned::read(grade.text().as_bytes(), "a.grade"),
            Ok(grade.clone())
        );
        grade.melt_flow.reverse();
        let wrong = Learned::read(grade.text().as_bytes(), "a.grade").unwrap_err();
        assert!(wrong.0[0].message.contains("out of order"), "{wrong:?}");
        let wrong = Learned::read(b"[grade]\nplastic = \"PP\"\n", "a.grade").unwrap_err();
        assert!(
            wrong
                .0
                .iter()
                .all(|d| d.code == codes::MISSING_KEY && d.other.is_some())
        );
    }
}
