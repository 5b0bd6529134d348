//! The members of a series: the file's text once for each line of values.
//!
//! Input: a job with a `[series]`, its files attached. Output: [`Member`]s, each a parameter file
//! of its own, and the tables over all of them. What a member is made of is read from its finished
//! package, whether it was made just now or earlier.

use crate::base::finding::Change;
use crate::base::slug::slug;
use crate::base::units::decimals;
use crate::base::{Diagnostic, Diagnostics, Span};
use crate::spec::job::JobSection;
use crate::spec::key::Kind;
use crate::spec::series::SeriesSection;
use crate::spec::{Job, codes, edit, sections};
use serde::Serialize;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

/// Most members of a series.
pub const MOST: usize = 500;
/// Longest name of a member, characters: that of a package.
const LONGEST: usize = 40;

/// A member of a series.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Member {
    /// Folder of its package.
    pub name: String,
    /// What it has of each key, as written; empty where the file's own value stays.
    pub values: Vec<String>,
    /// Its parameter file.
    #[serde(skip)]
    pub text: String,
}

/// A series.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Series {
    /// The keys that change.
    pub keys: Vec<String>,
    /// The members.
    pub members: Vec<Member>,
}

/// The members of the series of a job; `None` when it has none.
///
/// # Errors
/// Keys that do not exist, lines with another number of values, two members of one name, values
/// that have no place in the file.
pub fn members(job: &Job, stem: &str) -> Result<Option<Series>, Diagnostics> {
    let Some(series) = &job.series else {
        return Ok(None);
    };
    let one = |d: Diagnostic| Err(Diagnostics(vec![d]));
    let (lines, span) = match lines(job, series) {
        Ok(x) => x,
        Err(d) => return one(*d),
    };
    let Some((keys, rows)) = lines.split_first() else {
        return one(Diagnostic::new(
            codes::BAD_COUNT,
            span,
            "the series has no line",
            "empty",
            "name the keys in the first line, and the values of a member in each other one",
        ));
    };
    if rows.is_empty() || rows.len() > MOST {
        return one(Diagnostic::new(
            codes::BAD_COUNT,
            span,
            format!("the series has {} members", rows.len()),
            "number of members",
            format!("give 1 to {MOST} lines of values"),
        ));
    }
    let mut faults = Diagnostics::default();
    for key in keys {
        if let Some(d) = unfit(key, span) {
            faults.push(d);
        }
    }
    if !faults.0.is_empty() {
        return Err(faults);
    }
    let own_name = JobSection::name.to_string();
    let mut names = BTreeSet::new();
    let mut all = Vec::with_capacity(rows.len());
    for (i, row) in rows.iter().enumerate() {
        if row.len() != keys.len() {
            faults.push(Diagnostic::new(
                codes::BAD_COUNT,
                span,
                format!("member {} of the series has {}, and the number of keys is {}", i + 1, match row.len() {
                        1 => "1 value".to_owned(),
                        n => format!("{n} values"),
                    }, keys.len()),
                "another number of values",
                "give one value for each key, divided by commas; text with a comma stands in double quotes",
            ));
            continue;
        }
        let named = (keys.iter().zip(row))
            .find(|(k, v)| **k == own_name && !v.is_empty())
            .map(|(_, v)| v.clone());
        let name = named.unwrap_or_else(|| default_name(job, stem, row, i, &names));
        if !names.insert(name.clone()) {
            faults.push(Diagnostic::new(
                codes::DUPLICATE_KEY,
                span,
                format!("two members of the series are called \"{name}\""),
                "the same name",
                "give each member its own job.name, or leave it out of the series",
            ));
            continue;
        }
        let mut changes = vec![change("series", None)];
        for (key, value) in keys.iter().zip(row).filter(|(_, v)| !v.is_empty()) {
            changes.push(change(key, Some(written(key, value))));
        }
        changes.push(change(&own_name, Some(quoted(&name))));
        match edit::apply(&job.source, &changes) {
            Some(text) => all.push(Member {
                name,
                values: row.clone(),
                text,
            }),
            None => faults.push(Diagnostic::new(
                codes::UNKNOWN_KEY,
                span,
                format!("the values of member {} have no place in this file", i + 1),
                "a list that is too short, or a value that is none",
                "name only places of lists that the file has: part.feature[0] is the first [[part.feature]]",
            )),
        }
    }
    faults.or(Some(Series {
        keys: keys.clone(),
        members: all,
    }))
}

fn change(key: &str, to: Option<String>) -> Change {
    Change {
        key: key.to_owned(),
        given: None,
        to,
    }
}

/// All lines of the series, that of the keys first, and where they stand.
fn lines(job: &Job, series: &SeriesSection) -> Result<(Vec<Vec<String>>, Span), Box<Diagnostic>> {
    if let Some(file) = &series.file {
        let bytes = job.attached.get(&file.value.0);
        let text = String::from_utf8_lossy(bytes.map_or(&[][..], |b| b));
        let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
        return Ok((table(text, file.span)?, file.span));
    }
    let span = series.rows.as_ref().map(|r| r.span).unwrap_or_default();
    let keys = series.keys.as_ref().map(|k| k.value.clone());
    let mut all = vec![keys.unwrap_or_default()];
    for row in series.rows.iter().flat_map(|r| &r.value) {
        all.extend(table(row, span)?);
    }
    Ok((all, span))
}

/// Lines of values divided by commas (RFC 4180); blanks around values do not count.
fn table(text: &str, span: Span) -> Result<Vec<Vec<String>>, Box<Diagnostic>> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut all = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|e| {
            Box::new(Diagnostic::new(
                codes::SYNTAX,
                span,
                format!("a line of the series cannot be read: {e}"),
                "not divided by commas",
                "write values divided by commas; text with a comma or a quote stands in double quotes",
            ))
        })?;
        all.push(record.iter().map(str::to_owned).collect());
    }
    Ok(all)
}

/// Why a key cannot change from member to member.
fn unfit(key: &str, span: Span) -> Option<Diagnostic> {
    let found = sections::find(key);
    if key.starts_with("series") {
        return Some(Diagnostic::new(
            codes::KEY_NOT_USED,
            span,
            "a series cannot change itself",
            "this key",
            "name keys of other sections",
        ));
    }
    match found.map(|k| k.kind) {
        None => {
            let near = sections::nearest(key);
            Some(Diagnostic::new(
                codes::UNKNOWN_KEY,
                span,
                format!("the series names `{key}`, and there is no such key"),
                "unknown key",
                near.map_or_else(
                    || "write the dotted path, such as part.thickness".to_owned(),
                    |n| format!("did you mean {n}?"),
                ),
            ))
        }
        Some(_) => None,
    }
}

/// A value as the file has it, by the kind of its key: numbers plain, text in quotes, lists and
/// tables as they are.
pub fn written(key: &str, value: &str) -> String {
    let plain = value.parse::<f64>().is_ok_and(f64::is_finite);
    let as_is = match sections::find(key).map(|k| k.kind) {
        Some(Kind::Quantity { .. } | Kind::Count { .. }) => plain,
        Some(Kind::Flag) => true,
        Some(
            Kind::Text(_)
            | Kind::Name(_)
            | Kind::File(_)
            | Kind::Word(_)
            | Kind::Plastic(_)
            | Kind::Material(_)
            | Kind::PipeThread,
        ) => false,
        _ => plain || value.starts_with(['[', '{']),
    };
    if as_is {
        value.to_owned()
    } else {
        quoted(value)
    }
}

fn quoted(text: &str) -> String {
    toml_edit::Value::from(text).to_string()
}

/// The name of a member that gives none: the file's and its first value, or its number.
fn default_name(
    job: &Job,
    stem: &str,
    row: &[String],
    i: usize,
    taken: &BTreeSet<String>,
) -> String {
    let base = job.job.name.as_ref().map_or(stem, |n| n.value.as_str());
    let first = row.iter().find(|v| !v.is_empty()).map(|v| slug(v));
    let number = format!("{}", i + 1);
    let short = |tail: &str| {
        let room = LONGEST.saturating_sub(tail.len() + 1);
        let head: String = slug(base).chars().take(room).collect();
        format!("{}-{tail}", head.trim_end_matches('-'))
    };
    let named = first
        .filter(|s| !s.is_empty() && s.len() < 24)
        .map(|s| short(&s));
    named
        .filter(|n| !taken.contains(n))
        .unwrap_or_else(|| short(&number))
}

/// How a member ended.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Outcome {
    /// Its package stands there.
    Made(Box<Facts>),
    /// It was refused, and why.
    Refused(String),
    /// The program failed its own checks on it.
    Failed(String),
}

/// What a finished package says of its member.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Facts {
    /// True when no finding forbids cutting metal.
    pub released: bool,
    /// Findings that stop, and that warn.
    pub stops: usize,
    /// Findings that warn.
    pub warnings: usize,
    /// The first of the gravest.
    pub worst: Option<String>,
    /// Mass of one part, g.
    pub part_g: Option<f64>,
    /// Mass of one shot, g.
    pub shot_g: Option<f64>,
    /// Time to fill with the typical grade, s.
    pub fill_s: Option<f64>,
    /// Metal of all plates, g.
    pub plates_g: f64,
    /// What is to be bought: designation and number.
    pub hardware: BTreeMap<String, u64>,
    /// Cut files: name, metal, thickness in mm.
    pub cuts: Vec<(String, String, f64)>,
}

/// What a package says: from the JSON files that it holds.
pub fn facts(design: &Value, process: Option<&Value>) -> Facts {
    let list = |v: &Value| v.as_array().cloned().unwrap_or_default();
    let findings = list(&design["findings"]);
    let of = |level: &str| findings.iter().filter(|f| f["level"] == level).count();
    let worst = ["stop", "warn"]
        .iter()
        .find_map(|level| findings.iter().find(|f| f["level"] == *level))
        .and_then(|f| f["what"].as_str().map(str::to_owned));
    let plates = list(&design["plates"]);
    let is_plate = |name: &Value| plates.iter().any(|p| p["name"] == *name);
    let mut hardware: BTreeMap<String, u64> = BTreeMap::new();
    for h in list(&design["hardware"]) {
        let name = h["designation"].as_str().unwrap_or_default().to_owned();
        *hardware.entry(name).or_default() += h["count"].as_u64().unwrap_or(0);
    }
    let typical = process
        .map(|p| list(&p["fill"]["cases"]))
        .unwrap_or_default();
    let typical = typical.iter().find(|c| c["name"] == "typical").cloned();
    Facts {
        released: design["released"] == true,
        stops: of("stop"),
        warnings: of("warn"),
        worst,
        part_g: process.and_then(|p| p["shot"]["part_mass"].as_f64()),
        shot_g: process.and_then(|p| p["shot"]["shot_mass"].as_f64()),
        fill_s: typical.and_then(|c| c["time"].as_f64()),
        plates_g: list(&design["solids"])
            .iter()
            .filter(|s| is_plate(&s["name"]))
            .filter_map(|s| s["mass_g"].as_f64())
            .sum(),
        hardware,
        cuts: plates
            .iter()
            .map(|p| {
                let text = |v: &Value| v.as_str().unwrap_or_default().to_owned();
                let z = |k: &str| p[k].as_f64().unwrap_or(0.0);
                (
                    text(&p["name"]),
                    text(&p["material"]),
                    z("z_high") - z("z_low"),
                )
            })
            .collect(),
    }
}

/// The table of all members: CSV.
pub fn overview(series: &Series, outcomes: &[Outcome]) -> String {
    let mut head = vec!["member".to_owned()];
    head.extend(series.keys.iter().cloned());
    head.extend(
        [
            "outcome", "stops", "warnings", "part_g", "shot_g", "fill_s", "plates_g", "worst",
        ]
        .map(str::to_owned),
    );
    let rows = series.members.iter().zip(outcomes).map(|(m, o)| {
        let mut row = vec![m.name.clone()];
        row.extend(m.values.iter().cloned());
        let number = |v: Option<f64>, places| v.map_or_else(String::new, |v| decimals(v, places));
        match o {
            Outcome::Made(f) => row.extend([
                if f.released {
                    "released"
                } else {
                    "not released"
                }
                .to_owned(),
                f.stops.to_string(),
                f.warnings.to_string(),
                number(f.part_g, 2),
                number(f.shot_g, 2),
                number(f.fill_s, 2),
                number(Some(f.plates_g), 0),
                f.worst.clone().unwrap_or_default(),
            ]),
            Outcome::Refused(why) | Outcome::Failed(why) => {
                let word = if matches!(o, Outcome::Refused(_)) {
                    "refused"
                } else {
                    "failed"
                };
                row.push(word.to_owned());
                row.extend(std::iter::repeat_n(String::new(), 6));
                row.push(why.clone());
            }
        }
        row
    });
    text_of(std::iter::once(head).chain(rows))
}

/// What all made members together need bought: CSV.
pub fn shopping(outcomes: &[Outcome]) -> String {
    let mut all: BTreeMap<&str, u64> = BTreeMap::new();
    for f in made(outcomes).flat_map(|(_, f)| &f.hardware) {
        *all.entry(f.0).or_default() += f.1;
    }
    let head = ["count", "designation"].map(str::to_owned).to_vec();
    let rows = all
        .iter()
        .map(|(name, n)| vec![n.to_string(), (*name).to_owned()]);
    text_of(std::iter::once(head).chain(rows))
}

/// Plates to be cut of each metal and thickness, with their files: CSV.
pub fn cut_files(series: &Series, outcomes: &[Outcome]) -> String {
    let head = ["metal", "thickness_mm", "count", "file"]
        .map(str::to_owned)
        .to_vec();
    let mut rows: Vec<(String, i64, String)> = Vec::new();
    for (i, f) in made(outcomes) {
        for (name, metal, thick) in &f.cuts {
            let file = format!("{}/{name}.dxf", series.members[i].name);
            rows.push((metal.clone(), (thick * 100.0).round() as i64, file));
        }
    }
    rows.sort();
    let rows = rows.into_iter().map(|(metal, thick, file)| {
        vec![
            metal,
            decimals(thick as f64 / 100.0, 2),
            "1".to_owned(),
            file,
        ]
    });
    text_of(std::iter::once(head).chain(rows))
}

fn made(outcomes: &[Outcome]) -> impl Iterator<Item = (usize, &Facts)> {
    outcomes.iter().enumerate().filter_map(|(i, o)| match o {
        Outcome::Made(f) => Some((i, f.as_ref())),
        _ => None,
    })
}

/// Rows as CSV; a cell that a table program would take for a formula begins with a quote mark.
fn text_of(rows: impl Iterator<Item = Vec<String>>) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        let row = row.into_iter().map(|c| {
            let number = c.parse::<f64>().is_ok();
            if c.starts_with(['=', '+', '-', '@']) && !number {
                format!("'{c}")
            } else {
                c
            }
        });
        // Writing to memory cannot fail.
        let _ = writer.write_record(row);
    }
    let bytes = writer.into_inner().unwrap_or_default();
    String::from_utf8_lossy(&bytes).into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    const FILE: &str = "# tiles\n[job]\nname = \"tile\"\n[plastic]\nkind = \"PP\"\n[part]\nthickness = 3 # mm\n[part.outline]\nshape = \"rectangle\"\nwidth = 30\nheight = 30\n[[part.feature]]\nkind = \"text\"\ntext = \"A\"\nsize = 12\nheight = 0.8\n";

    fn series(section: &str) -> Result<Series, String> {
        let job =
            crate::spec::read(&format!("{FILE}{section}")).map_err(|d| d.0[0].message.clone())?;
        members(&job, "file")
            .map(|s| s.expect("a series"))
            .map_err(|d| d.0[0].message.clone())
    }

    #[test]
    fn each_line_is_a_file_of_its_own() {
        let s = series("[series]\nkeys = [\"part.feature[0].text\", \"part.thickness\"]\nrows = [\"B, 3.5\", \"\\\"C,D\\\",\", \"7,\"]\n").unwrap();
        let names: Vec<&str> = s.members.iter().map(|m| m.name.as_str()).collect();
        assert_eq!(names, ["tile-b", "tile-c-d", "tile-7"]);
        let first = &s.members[0].text;
        assert!(
            first.contains("text = \"B\"") && first.contains("thickness = 3.5 # mm"),
            "{first}"
        );
        assert!(
            first.contains("name = \"tile-b\"") && !first.contains("series"),
            "{first}"
        );
        assert!(
            s.members[1].text.contains("text = \"C,D\"")
                && s.members[1].text.contains("thickness = 3 #")
        );
        // A digit where a text is meant stays a text.
        assert!(s.members[2].text.contains("text = \"7\""));
        for m in &s.members {
            crate::spec::read(&m.text).expect("a parameter file");
        }
    }

    #[test]
    fn what_is_no_series_says_why() {
        let bad = |section: &str| series(section).unwrap_err();
        assert!(
            bad("[series]\nkeys = [\"part.thicknes\"]\nrows = [\"4\"]\n").contains("no such key")
        );
        assert!(
            bad("[series]\nkeys = [\"part.thickness\"]\nrows = [\"4, 5\"]\n").contains("2 values")
        );
        assert!(
            bad("[series]\nkeys = [\"part.feature[3].text\"]\nrows = [\"A\"]\n")
                .contains("no place")
        );
        assert!(
            bad("[series]\nkeys = [\"job.name\"]\nrows = [\"a\", \"a\"]\n")
                .contains("called \"a\"")
        );
        assert!(bad("[series]\nkeys = [\"series.rows\"]\nrows = [\"a\"]\n").contains("itself"));
        assert!(bad("[series]\nkeys = [\"part.thickness\"]\n").contains("rows"));
    }

    #[test]
    fn equal_first_values_get_numbers() {
        let s = series("[series]\nkeys = [\"part.feature[0].text\", \"part.thickness\"]\nrows = [\"A, 3\", \"A, 4\"]\n").unwrap();
        let names: Vec<&str> = s.members.iter().map(|m| m.name.as_str()).collect();
        assert_eq!(names, ["tile-a", "tile-2"]);
    }

    #[test]
    fn tables_add_up() {
        let facts = |n: u64| {
            Outcome::Made(Box::new(Facts {
                released: true,
                stops: 0,
                warnings: 1,
                worst: Some("=thin".to_owned()),
                part_g: Some(4.0),
                shot_g: Some(5.0),
                fill_s: None,
                plates_g: 1000.0,
                hardware: [("M8".to_owned(), n)].into(),
                cuts: vec![("plate-a".to_owned(), "S235".to_owned(), 15.0)],
            }))
        };
        let s = series("[series]\nkeys = [\"part.thickness\"]\nrows = [\"3\", \"4\", \"5\"]\n")
            .unwrap();
        let outcomes = [facts(4), Outcome::Refused("too thin".to_owned()), facts(6)];
        assert_eq!(shopping(&outcomes), "count,designation\n10,M8\n");
        assert_eq!(
            cut_files(&s, &outcomes),
            "metal,thickness_mm,count,file\nS235,15,1,tile-3/plate-a.dxf\nS235,15,1,tile-5/plate-a.dxf\n"
        );
        let table = overview(&s, &outcomes);
        assert!(
            table.contains("tile-4,4,refused,,,,,,,too thin") && table.contains("'=thin"),
            "{table}"
        );
    }
}
