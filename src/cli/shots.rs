//! `shots`: what the first shots of a mold teach, as a table; and the grade as a file.
//!
//! Reads the file of shots and never writes it.

use super::args::Common;
use super::beside::{beside, shots_of};
use super::make::internal;
use super::{Ending, complain, load_or_tell, paint, put, refuse};
use crate::base::shown;
use crate::base::units::decimals;
use crate::pipeline::{self, MakeError};
use crate::process::shots::Lessons;
use crate::spec::learned::{Compared, GRADE_FILES, Learned};
use crate::spec::shots::{EXAMPLE, PURGE_TEST};
use std::io::Write;
use std::path::Path;

pub(super) fn run(
    path: &Path,
    save: Option<&Path>,
    common: &Common,
    out: &mut dyn Write,
) -> Ending {
    let (bytes, stem) = match load_or_tell(path, common, out) {
        Ok(x) => x,
        Err(ending) => return ending,
    };
    if let Some(to) = save.filter(|to| !is_grade(to)) {
        return complain(&format!(
            "{}: a grade is kept in a file that ends in .grade, such as caps.grade",
            to.display()
        ));
    }
    let name = path.display().to_string();
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let beside = beside(path);
    // The job itself, without what its shots taught: that is computed here, once.
    let plain = |file: &str| match file.starts_with('*') {
        true => Err(String::new()),
        false => beside(file),
    };
    let job = match pipeline::read(&bytes, &plain) {
        Ok(job) => job,
        Err(faults) => return refuse(&name, &text, &faults, common, out),
    };
    job.system().enter();
    let shots = match pipeline::shots::beside_of(&job, &beside) {
        Ok(Some(shots)) => shots,
        Ok(None) => {
            let wanted = shots_of(path).unwrap_or_default();
            return complain(&format!(
                "{} is not there: write what was measured at the machine into it, one [[shot]] each\n\n{EXAMPLE}\n{}",
                wanted.display(),
                paint::wrap(PURGE_TEST, 92).join("\n")
            ));
        }
        Err(faults) => return refuse(&name, &text, &faults, common, out),
    };
    let lessons = match pipeline::shots::lessons(&job, &stem, &shots) {
        Ok(lessons) => lessons,
        Err(MakeError::Input(faults)) => return refuse(&name, &text, &faults, common, out),
        Err(MakeError::Internal { stage, what }) => {
            return internal(&text, &stem, common, &format!("{stage}: {what}"));
        }
    };
    if let Some(to) = save {
        let folder = to.parent().unwrap_or(Path::new(""));
        let file = to.file_name().unwrap_or_default().to_string_lossy();
        let folder = if folder.as_os_str().is_empty() {
            Path::new(".")
        } else {
            folder
        };
        // Whoever names the grade learns which mold it comes from.
        let name = job.job.name.as_ref().map_or(&stem, |n| &n.value);
        let grade = Learned {
            from: format!("{} of {name}", lessons.learned.from),
            ..lessons.learned.clone()
        };
        if let Err(e) = put(folder, &file, &grade.text()) {
            return complain(&format!("{}: {e}", to.display()));
        }
    }
    if common.json {
        super::print_json(&lessons, out);
    } else if !common.quiet {
        let mut page = String::new();
        show(&lessons, &mut page);
        if let Some(to) = save {
            page.push_str(&format!("\nThe grade is in {}.\n", to.display()));
        }
        let _ = out.write_all(page.as_bytes());
    }
    Ending::Fine
}

fn is_grade(path: &Path) -> bool {
    let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
    ending.is_some_and(|e| GRADE_FILES.contains(&e.as_str()))
}

fn shown_row(c: &Compared) -> [String; 4] {
    let unexplained = if c.explained { "" } else { "  NOT EXPLAINED" };
    [
        format!("{}, {}", c.record, c.what),
        c.measured_words(),
        Learned::range_words(c.before),
        Learned::range_words(c.after) + unexplained,
    ]
}

fn show(l: &Lessons, page: &mut String) {
    let head = |page: &mut String, words: &str| {
        page.push_str(&format!("\n{}{words}{:#}\n", paint::HEAD, paint::HEAD));
    };
    head(page, "Measured and predicted, with 95 % ranges");
    let mut rows = vec![["record", "measured", "before", "with the shots"].map(str::to_owned)];
    rows.extend(l.learned.compared.iter().map(shown_row));
    table(&rows, page);
    let wrong: Vec<String> = l
        .learned
        .compared
        .iter()
        .filter(|c| !c.explained)
        .map(|c| format!("{} (line {}, {})", c.record, c.line, c.what))
        .collect();
    if !wrong.is_empty() {
        page.push_str(&format!(
            "\nNo setting explains all records within their accuracy: {}. All ranges are widened, as if \
             every reading were {} times less accurate. Measure these again, or write how well they \
             were measured under [accuracy].\n",
            wrong.join("; "),
            decimals(l.widened, 1)
        ));
    }
    if !l.learned.other_revision.is_empty() {
        head(
            page,
            "Made with another text of the file, read as if made with this one",
        );
        list(&l.learned.other_revision, page);
    }
    head(page, "What is known of plastic and machine");
    let mut rows = vec![["", "before", "with the shots", ""].map(str::to_owned)];
    for u in &l.ranges {
        rows.push([
            u.name.to_owned(),
            Learned::range_words(u.before),
            Learned::range_words(u.after),
            u.unit.to_owned(),
        ]);
    }
    table(&rows, page);
    if !l.learned.todo.is_empty() {
        head(page, "What to do");
        list(&l.learned.todo, page);
    }
    if !l.learned.causes.is_empty() {
        head(page, "Likely causes of the faults that were seen");
        let lines: Vec<String> = l
            .learned
            .causes
            .iter()
            .map(|c| {
                format!(
                    "{:?}, {} %: {} ({})",
                    c.fault,
                    decimals(100.0 * c.likely, 0),
                    c.cause,
                    c.reason
                )
            })
            .collect();
        list(&lines, page);
    }
    head(page, "What to measure next");
    let lines: Vec<String> = l
        .next
        .iter()
        .map(|n| match n.question.starts_with("does") {
            true => format!(
                "{}: the least force that fills, known to a factor of {} now, to {} then",
                n.what,
                decimals(n.now, 2),
                decimals(n.then, 2)
            ),
            false => format!(
                "{}: shrinkage, known to {} % from end to end now, to {} % then",
                n.what,
                decimals(n.now, 2),
                decimals(n.then, 2)
            ),
        })
        .collect();
    list(&lines, page);
    page.push_str(&format!(
        "\nWrite `revision = \"{}\"` into the records of shots that a mold of the file as it is now makes.\n",
        l.revision
    ));
    page.push_str(&format!(
        "\nNo published fill at {} to {} with all its numbers was found: the fill behind these ranges is held to mathematics.\n",
        shown::bare(shown::Kind::Pressure, 1.0, 4),
        shown::quantity(shown::Kind::Pressure, 6.0, 4)
    ));
}

fn list(lines: &[String], page: &mut String) {
    for l in lines {
        for (i, part) in paint::wrap(l, 92).iter().enumerate() {
            page.push_str(&format!("  {} {part}\n", if i == 0 { "-" } else { " " }));
        }
    }
}

fn table(rows: &[[String; 4]], page: &mut String) {
    let wide = |k: usize| rows.iter().map(|r| r[k].chars().count()).max().unwrap_or(0);
    let widths = [wide(0), wide(1), wide(2), wide(3)];
    for row in rows {
        let mut line = String::from("  ");
        for (cell, width) in row.iter().zip(widths) {
            let pad = width - cell.chars().count() + 2;
            line.push_str(cell);
            line.push_str(&" ".repeat(pad));
        }
        page.push_str(line.trim_end());
        page.push('\n');
    }
}
