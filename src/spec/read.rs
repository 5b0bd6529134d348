//! From text to a [`Job`], or everything that is wrong with it.
//!
//! Input: the parameter file's bytes or text. Output: [`Job`] or [`Diagnostics`].
//! Decides nothing and builds no geometry: a crossing outline is found later.

use super::codes;
use super::job::{FileKeys, Job, JobKind, Joint};
use super::place::Findings;
use super::reader::Table;
use super::sections::FILE;
use super::syntax;
use crate::base::{Diagnostic, Diagnostics, Span, System};
use toml::de::DeTable;

/// Largest parameter file, bytes.
pub const LARGEST_FILE: u64 = 1 << 20;

/// Sections that say nothing without a mold.
pub(crate) const NOT_FOR_ADAPTOR: [&str; 6] = ["part", "mold", "feed", "vents", "bolts", "dowels"];

/// Reads a parameter file from its bytes.
///
/// # Errors
/// As [`read`]; also when the bytes are no UTF-8 text.
pub fn read_bytes(bytes: &[u8]) -> Result<Job, Diagnostics> {
    read(text_of(bytes)?)
}

/// The bytes of a file as text, if that is what they are.
pub(super) fn text_of(bytes: &[u8]) -> Result<&str, Diagnostics> {
    if bytes.len() as u64 > LARGEST_FILE {
        return Err(too_large(bytes.len()));
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok(text),
        Err(e) => {
            let at = e.valid_up_to();
            let line = bytes[..at].iter().filter(|b| **b == b'\n').count() + 1;
            Err(one(Diagnostic::new(
                codes::NOT_UTF8,
                Span::new(at..at),
                format!("the file is no UTF-8 text (byte {at}, line {line})"),
                "the first bad byte",
                "save it as UTF-8 in your editor; if it is a picture or a program, it is the wrong file",
            )))
        }
    }
}

/// Reads a parameter file.
///
/// # Errors
/// Everything that is wrong with the text, in order of place; see [`super::codes`].
pub fn read(text: &str) -> Result<Job, Diagnostics> {
    if text.len() as u64 > LARGEST_FILE {
        return Err(too_large(text.len()));
    }
    if let Some(d) = syntax::too_deep(text) {
        return Err(one(d));
    }
    let (root, errors) = DeTable::parse_recoverable(text);
    let broken = syntax::diagnostics(text, &errors);
    let root = root.into_inner();
    if root.is_empty() && broken.is_empty() {
        return Err(one(Diagnostic::new(
            codes::EMPTY_FILE,
            Span::default(),
            "the file says nothing",
            "empty",
            "begin with a template: `platewright new coaster my.toml`",
        )));
    }
    // What is wrong is said in the units that the file asks for.
    units(&root).within(|| values(text, &root, broken))
}

/// Whether a text is meant as a parameter file: what it would make stands in it.
pub fn is_parameter_file(text: &str) -> bool {
    if text.len() as u64 > LARGEST_FILE || syntax::too_deep(text).is_some() {
        return false;
    }
    let root = DeTable::parse_recoverable(text).0.into_inner();
    let table = |name: &str| root.get(name).is_some_and(|v| v.get_ref().is_table());
    ["part", "adaptor", "reducer"].into_iter().any(table)
}

/// The units of the output, as far as they can be told before anything else is read.
fn units(root: &DeTable<'_>) -> System {
    system(root, "output", "units").unwrap_or_default()
}

fn system(root: &DeTable<'_>, section: &str, key: &str) -> Option<System> {
    let word = root.get(section)?.get_ref().as_table()?.get(key)?;
    Some(match word.get_ref().as_str()? {
        "inch" => System::Inch,
        _ => System::Metric,
    })
}

/// The units of what is bought, as [`Job::sold`], of a text that may not be read as a whole.
pub fn sold(text: &str) -> System {
    let root = DeTable::parse_recoverable(text).0.into_inner();
    system(&root, "shop", "stock").unwrap_or_else(|| units(&root))
}

/// A file of its own, beside a parameter file: parsed, then read by `values` from its table and
/// what broke the rules of TOML. The units are those of the thread.
pub(super) fn parsed<T>(
    text: &str,
    values: impl FnOnce(&DeTable<'_>, &[Diagnostic]) -> (T, Diagnostics),
) -> Result<T, Diagnostics> {
    if text.len() as u64 > LARGEST_FILE {
        return Err(too_large(text.len()));
    }
    if let Some(d) = syntax::too_deep(text) {
        return Err(one(d));
    }
    let (root, errors) = DeTable::parse_recoverable(text);
    let broken = syntax::diagnostics(text, &errors);
    let (value, mut all) = values(root.get_ref(), &broken);
    with_broken(&mut all, text, broken);
    all.or(value)
}

/// Adds what broke the rules of TOML.
fn with_broken(all: &mut Diagnostics, text: &str, broken: Vec<Diagnostic>) {
    // What the parser made of a broken line is not worth a second message.
    let lines: Vec<usize> = broken.iter().map(|d| d.span.line(text)).collect();
    all.0
        .retain(|d| lines.is_empty() || !lines.contains(&d.span.line(text)));
    all.0.extend(broken);
}

/// Reads every key.
fn values(text: &str, root: &DeTable<'_>, broken: Vec<Diagnostic>) -> Result<Job, Diagnostics> {
    let found = Findings::new(broken.first().map(|d| d.span.start), FILE);
    let start = Span::default();
    let table = Table::open(root, start, FILE, String::new(), &found);
    let keys = FileKeys::read(&table);
    check_sections(&table, &keys, &found);
    let job = Job {
        job: value(keys.job),
        plastic: value(keys.plastic),
        machine: value(keys.machine),
        nozzle: value(keys.nozzle),
        part: keys.part.map(|p| p.value),
        mold: value(keys.mold),
        feed: value(keys.feed),
        vents: value(keys.vents),
        bolts: value(keys.bolts),
        dowels: value(keys.dowels),
        adaptor: value(keys.adaptor),
        reducer: value(keys.reducer),
        shop: value(keys.shop),
        output: value(keys.output),
        series: keys.series.map(|s| s.value),
        source: text.to_owned(),
        file_names: found.take_files(),
        attached: Default::default(),
        grade: None,
        learned: None,
    };
    let mut all = found.into_diagnostics();
    with_broken(&mut all, text, broken);
    all.or(job)
}

fn value<T: Default>(given: crate::base::Opt<T>) -> T {
    given.map(|g| g.value).unwrap_or_default()
}

pub(super) fn one(d: Diagnostic) -> Diagnostics {
    Diagnostics(vec![d])
}

fn too_large(bytes: usize) -> Diagnostics {
    one(Diagnostic::new(
        codes::FILE_TOO_LARGE,
        Span::default(),
        format!("the file is too large: {bytes} bytes"),
        "larger than 1 MiB",
        "a parameter file is a page of text; this is probably the wrong file",
    ))
}

/// What sections need of each other.
fn check_sections(table: &Table<'_, '_>, keys: &FileKeys, found: &Findings) {
    let kind = keys.job.as_ref().and_then(|j| j.value.kind.as_ref());
    if kind.is_none() && table.has_inside("job", "kind") {
        return; // Written, but wrong: nothing more can be said.
    }
    let place = kind.map_or_else(|| table.key_span("job"), |k| k.span);
    match kind.map(|k| k.value).unwrap_or_default() {
        JobKind::Mold => {
            if !table.has("part") {
                found.push_missing(Diagnostic::new(
                    codes::MISSING_SECTION,
                    place,
                    "a mold needs a [part]",
                    "no part is described",
                    "add [part] with a thickness and [part.outline], or write `kind = \"adaptor\"` in [job] for an adaptor plate",
                ));
            }
            for name in ["adaptor", "reducer"] {
                if table.has(name) {
                    found.push(Diagnostic::new(
                        codes::KEY_NOT_USED,
                        table.key_span(name),
                        format!("[{name}] says nothing for a mold"),
                        "not used",
                        format!("take it out, or write `kind = \"{name}\"` in [job]"),
                    ));
                }
            }
            let direct = keys.feed.as_ref().and_then(|f| f.value.direct.as_ref());
            let cavities = keys.mold.as_ref().and_then(|m| m.value.cavities.as_ref());
            if let (Some(direct), Some(cavities)) = (direct, cavities)
                && direct.value
                && cavities.value > 1
            {
                found.push(Diagnostic::new(
                    codes::EXCLUSIVE_KEYS,
                    direct.span,
                    format!("a direct sprue cannot feed {} cavities", cavities.value),
                    "only for one cavity",
                    "take `direct` out, so that runners and gates are made, or set `cavities = 1`",
                ));
            }
        }
        JobKind::Adaptor => {
            not_used(table, found, "reducer", "an adaptor");
            if !table.has("adaptor") {
                found.push_missing(Diagnostic::new(
                    codes::MISSING_SECTION,
                    place,
                    "an adaptor job needs an [adaptor]",
                    "no adaptor is described",
                    "add [adaptor] with its hole pattern: `pattern = { pattern = \"circle\", count = 4, diameter = 60 }`",
                ));
            } else if !table.has_inside("adaptor", "pattern") {
                found.push_missing(Diagnostic::new(
                    codes::MISSING_KEY,
                    table.key_span("adaptor"),
                    "[adaptor] has no `pattern`",
                    "no holes to bolt it on",
                    "add `pattern = { pattern = \"circle\", count = 4, diameter = 60 }`, measured on your machine",
                ));
            }
            needs_thread(table, keys, found, (place, "an adaptor"));
        }
        JobKind::Reducer => {
            not_used(table, found, "adaptor", "a reducer");
            if !table.has("reducer") {
                found.push_missing(Diagnostic::new(
                    codes::MISSING_SECTION,
                    place,
                    "a reducer job needs a [reducer]",
                    "no reducer is described",
                    "add [reducer] with its other end: `outlet = { end = \"male\", thread = \"G 3/4\" }`",
                ));
            } else if !table.has_inside("reducer", "outlet") {
                found.push_missing(Diagnostic::new(
                    codes::MISSING_KEY,
                    table.key_span("reducer"),
                    "[reducer] has no `outlet`",
                    "only one end",
                    "add `outlet = { end = \"male\", thread = \"G 3/4\" }`: what it screws into, or is pressed on",
                ));
            }
            needs_thread(table, keys, found, (place, "a reducer"));
        }
    }
}

/// Sections that say nothing where there is no mold; and that of the other kind of job.
fn not_used(table: &Table<'_, '_>, found: &Findings, other: &str, what: &str) {
    for name in NOT_FOR_ADAPTOR.into_iter().chain([other]) {
        if table.has(name) {
            let kind = if name == other { other } else { "mold" };
            found.push(Diagnostic::new(
                codes::KEY_NOT_USED,
                table.key_span(name),
                format!("[{name}] says nothing for {what}"),
                "not used",
                format!("take it out, or write `kind = \"{kind}\"` in [job]"),
            ));
        }
    }
}

/// Its nozzle's thread is never guessed.
fn needs_thread(
    table: &Table<'_, '_>,
    keys: &FileKeys,
    found: &Findings,
    (place, what): (Span, &str),
) {
    let pressed = keys
        .nozzle
        .as_ref()
        .and_then(|n| n.value.joint.as_ref())
        .is_some_and(|j| j.value == Joint::Seat);
    if !pressed && !table.has_inside("nozzle", "thread") {
        found.push_missing(Diagnostic::new(
            codes::MISSING_KEY,
            place,
            format!("{what} needs the nozzle's thread"),
            "no thread is given",
            "add [nozzle] with `thread = \"G 1/2\"`, compared with your nozzle",
        ));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spec::job::OutlineSpec;
    use crate::spec::key::Kind;
    use crate::spec::sections;

    const COASTER: &str =
        "[part]\nthickness = 4\n[part.outline]\nshape = \"circle\"\ndiameter = 90\n";

    #[test]
    fn five_lines_are_enough() {
        let job = read(COASTER).unwrap();
        let part = job.part.unwrap();
        assert_eq!(part.thickness.unwrap().value.mm(), 4.0);
        let outline = part.outline.unwrap().value;
        assert!(matches!(outline, OutlineSpec::Circle { diameter } if diameter.value.mm() == 90.0));
    }

    #[test]
    fn all_faults_at_once_and_in_order() {
        let text = "[part]\nthickness = \"4 N\"\ntickness = 2\n[part.outline]\nshape = \"circel\"\n[bolts]\ncount = 1e9\n";
        let wrong = read(text).unwrap_err();
        let seen: Vec<(&str, usize)> = wrong
            .0
            .iter()
            .map(|d| (d.code, d.span.line(text)))
            .collect();
        assert_eq!(
            seen,
            [
                (codes::WRONG_QUANTITY, 2),
                (codes::UNKNOWN_KEY, 3),
                (codes::UNKNOWN_WORD, 5),
                (codes::OUT_OF_RANGE, 7),
            ]
        );
    }

    /// A file around a key: what stands before its section, beside it, and after.
    fn surroundings(section: &str, key: &str) -> (String, String, String) {
        let part = "thickness = 3\noutline = { shape = \"circle\", diameter = 91 }\n";
        let grid = "{ pattern = \"grid\", columns = 2, rows = 2, pitch_x = 40, pitch_y = 40 }";
        let (before, beside, after) = match (section, key) {
            ("part", "profile" | "turned_over") => (
                "",
                "profile = { start = [0, 12], steps = [{ to = [14, 12] }, { to = [15, 0] }] }\n"
                    .to_owned(),
                "",
            ),
            ("part", "mesh") => ("", String::new(), ""),
            ("part", _) => ("", part.to_owned(), ""),
            ("adaptor", _) => (
                "[job]\nkind = \"adaptor\"\n[nozzle]\nthread = \"G 1/2\"\n",
                format!("pattern = {grid}\nspigot_diameter = 21\nbore = 7\n"),
                "",
            ),
            ("reducer", _) => (
                "[job]\nkind = \"reducer\"\n[nozzle]\nthread = \"G 1/2\"\n",
                "outlet = { end = \"male\", thread = \"G 3/4\" }\n".to_owned(),
                "",
            ),
            ("mold", "layers") => ("", "build = \"layered\"\n".to_owned(), COASTER),
            ("shop", "sheet_width" | "sheet_height") => (
                "",
                "sheet_width = 900\nsheet_height = 400\n".to_owned(),
                COASTER,
            ),
            // It says what the melt flow rate is.
            ("plastic", "grade") => ("", String::new(), COASTER),
            ("plastic", _) => ("", "melt_flow = 11\n".to_owned(), COASTER),
            ("nozzle", "seat" | "tip_radius" | "tip_angle" | "tip_diameter") => {
                ("", "joint = \"seat\"\n".to_owned(), COASTER)
            }
            ("nozzle", k) if k.starts_with("flange") || k.starts_with("spigot") => {
                ("", "joint = \"flange\"\n".to_owned(), COASTER)
            }
            ("nozzle", _) => ("", "joint = \"welded\"\n".to_owned(), COASTER),
            ("series", "keys") => ("", "rows = [\"A, 4\", \"B, 5\"]\n".to_owned(), COASTER),
            ("series", "rows") => ("", "keys = [\"job.title\"]\n".to_owned(), COASTER),
            ("machine", "pinion_radius") => ("", "lever_length = 400\n".to_owned(), COASTER),
            ("machine", "lever_length") => ("", "pinion_radius = 19\n".to_owned(), COASTER),
            _ => ("", String::new(), COASTER),
        };
        // The key itself is written by the test.
        let beside = beside
            .lines()
            .filter(|l| !l.starts_with(&format!("{key} ")))
            .map(|l| format!("{l}\n"))
            .collect();
        (before.to_owned(), beside, after.to_owned())
    }

    /// Each key's example is read, and changes the job: no key is listed and then forgotten.
    #[test]
    fn every_key_with_its_example_changes_the_job() {
        let shown = |job: &Job| serde_json::to_string(job).unwrap();
        let mut compared = 0;
        for section in sections::FILE.keys {
            let Kind::Table(definition) = section.kind else {
                panic!("{} is no table", section.name)
            };
            for key in definition.keys {
                let name = format!("{}.{}", section.name, key.name);
                let (before, beside, after) = surroundings(section.name, key.name);
                let file =
                    |line: &str| format!("{before}[{}]\n{beside}{line}{after}", section.name);
                let with = file(&format!("{} = {}\n", key.name, key.example));
                let with = read(&with).unwrap_or_else(|d| panic!("{name}\n{with}\n{d:#?}"));
                match read(&file("")) {
                    Ok(without) => {
                        assert_ne!(shown(&with), shown(&without), "{name} changes nothing");
                        compared += 1;
                    }
                    Err(lacking) => assert!(
                        lacking
                            .0
                            .iter()
                            .all(|d| [codes::MISSING_KEY, codes::KEYS_TOGETHER].contains(&d.code)),
                        "{name}: {lacking:#?}"
                    ),
                }
            }
        }
        assert!(compared > 75, "{compared}");
    }
}
