//! What a study has done by now, in files beside its results.
//!
//! Each run is noted as it ends, a line each, behind a line that says of which study: in
//! `rows.jsonl`, or in a file of each share. The same command takes up what it finds there, in
//! `study.json` too; a study of another file, of other values or by another version finds nothing.

use crate::cli::put;
use crate::process::study::{Share, Study, StudyRow, Sweep};
use crate::spec::job::Job;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::Mutex;

/// Where a whole study notes its runs; gone when the table is written.
const ROWS: &str = "rows.jsonl";
/// The results, for programs.
const RESULT: &str = "study.json";

/// A study on disk.
#[derive(Debug)]
pub(super) struct Kept {
    /// Its folder.
    pub(in crate::cli) folder: PathBuf,
    /// What it is of: file, what the file names, values, version.
    of: String,
}

/// First line of a file of notes.
#[derive(Serialize, Deserialize)]
struct Head {
    of: String,
}

/// The results with what they are of.
#[derive(Serialize)]
struct Written<'a> {
    of: &'a str,
    #[serde(flatten)]
    study: &'a Study,
}

/// What is read of the results.
#[derive(Deserialize)]
struct Results {
    of: String,
    rows: Vec<StudyRow>,
}

impl Kept {
    /// Where a study goes: the folder that it has begun in, else a new one.
    pub(in crate::cli) fn of(job: &Job, sweeps: &[Sweep], out: &Path, stem: &str) -> Self {
        let mut hash = Sha256::new();
        let mut part = |bytes: &[u8]| {
            hash.update((bytes.len() as u64).to_le_bytes());
            hash.update(bytes);
        };
        part(env!("CARGO_PKG_VERSION").as_bytes());
        part(job.source.as_bytes());
        for file in job.attached.values() {
            part(file);
        }
        if let Some(learned) = &job.learned {
            part(&learned.handed_on());
        }
        part(serde_json::to_string(sweeps).unwrap_or_default().as_bytes());
        let of: String = hash.finalize().iter().map(|b| format!("{b:02x}")).collect();
        let first = out.join(format!("{stem}-study"));
        let others = (2..10_000).map(|k| out.join(format!("{stem}-study-{k}")));
        let mut all = std::iter::once(first.clone()).chain(others);
        let folder = all.find(|f| is_free(f) || has(f, &of)).unwrap_or(first);
        Self { folder, of }
    }

    /// The file of a share's runs, or of all.
    pub(in crate::cli) fn file(share: Option<Share>) -> String {
        share.map_or(ROWS.to_owned(), |s| {
            format!("share-{}-of-{}.jsonl", s.number, s.of)
        })
    }

    /// Runs that are done: of a share those that it has noted; else all that there are.
    pub(in crate::cli) fn rows(&self, share: Option<Share>) -> Vec<StudyRow> {
        if share.is_some() {
            return noted(&self.folder.join(Self::file(share)), &self.of);
        }
        let mut all = results(&self.folder)
            .filter(|r| r.of == self.of)
            .map_or_else(Vec::new, |r| r.rows);
        for file in notes(&self.folder) {
            all.extend(noted(&file, &self.of));
        }
        all
    }

    /// Begins to note runs, behind those that are done.
    pub(in crate::cli) fn begin(
        &self,
        share: Option<Share>,
        have: &[StudyRow],
    ) -> io::Result<Notes> {
        let name = Self::file(share);
        put(&self.folder, &name, &self.lines(have)?)?;
        let file = File::options().append(true).open(self.folder.join(name))?;
        Ok(Notes(Mutex::new((file, true))))
    }

    /// The head and a line for each row.
    fn lines(&self, rows: &[StudyRow]) -> io::Result<String> {
        let of = self.of.clone();
        let mut text = serde_json::to_string(&Head { of })? + "\n";
        for row in rows {
            text += &(serde_json::to_string(row)? + "\n");
        }
        Ok(text)
    }

    /// The results as JSON.
    pub(in crate::cli) fn json(&self, study: &Study) -> String {
        let of = &self.of;
        serde_json::to_string_pretty(&Written { of, study }).unwrap_or_default()
    }

    /// Writes the results, or the runs of a share in their order.
    pub(in crate::cli) fn finish(&self, study: &Study, share: Option<Share>) -> io::Result<()> {
        if share.is_some() {
            return put(&self.folder, &Self::file(share), &self.lines(&study.rows)?);
        }
        put(&self.folder, "study.csv", &study.to_csv())?;
        put(&self.folder, "study.svg", &study.to_svg())?;
        put(&self.folder, RESULT, &self.json(study))?;
        match fs::remove_file(self.folder.join(ROWS)) {
            Err(e) if e.kind() != io::ErrorKind::NotFound => Err(e),
            _ => Ok(()),
        }
    }
}

/// Where runs are noted as they end.
#[derive(Debug)]
pub(super) struct Notes(Mutex<(File, bool)>);

impl Notes {
    /// Notes a run; false where that is not possible.
    pub(in crate::cli) fn add(&self, row: &StudyRow) -> bool {
        let Ok(mut at) = self.0.lock() else {
            return false;
        };
        let line = serde_json::to_string(row).map(|text| text + "\n");
        let (file, fine) = &mut *at;
        *fine &= line.is_ok_and(|line| file.write_all(line.as_bytes()).is_ok());
        *fine
    }

    /// True when a run could not be noted.
    pub(in crate::cli) fn failed(self) -> bool {
        !self.0.into_inner().is_ok_and(|(_, fine)| fine)
    }
}

/// True where nothing is yet, or nothing of a study.
fn is_free(folder: &Path) -> bool {
    !folder.exists() || (!folder.join(RESULT).exists() && notes(folder).is_empty())
}

/// True where the folder holds this study.
fn has(folder: &Path, of: &str) -> bool {
    results(folder).is_some_and(|r| r.of == of) || notes(folder).iter().any(|f| head(f) == of)
}

fn results(folder: &Path) -> Option<Results> {
    let text = fs::read_to_string(folder.join(RESULT)).ok()?;
    serde_json::from_str(&text).ok()
}

/// All files of notes, in the order of their names.
fn notes(folder: &Path) -> Vec<PathBuf> {
    let files = fs::read_dir(folder).into_iter().flatten().flatten();
    let mut all: Vec<PathBuf> = files
        .map(|e| e.path())
        .filter(|p| p.extension().is_some_and(|e| e == "jsonl"))
        .collect();
    all.sort();
    all
}

fn head(file: &Path) -> String {
    let text = fs::read_to_string(file).unwrap_or_default();
    let first = text.lines().next().unwrap_or_default();
    serde_json::from_str(first).map_or_else(|_| String::new(), |h: Head| h.of)
}

/// Rows of a file of notes that is of this study; a line that was cut off is none.
fn noted(file: &Path, of: &str) -> Vec<StudyRow> {
    if head(file) != of {
        return Vec::new();
    }
    let text = fs::read_to_string(file).unwrap_or_default();
    let rows = text.lines().skip(1);
    rows.filter_map(|line| serde_json::from_str(line).ok())
        .collect()
}
