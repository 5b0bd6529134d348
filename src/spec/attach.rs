//! Reads the files that a job names.
//!
//! Input: a way to read them by name. Output: their bytes in [`Job::attached`].

use super::attached::Beside;
use super::codes;
use super::job::Job;
use super::learned::{LEARNED, Learned};
use crate::base::{Diagnostic, Diagnostics};
use std::sync::Arc;

impl Job {
    /// A file that was read beside this job, for a changed text of it.
    ///
    /// # Errors
    /// A name that this job does not have.
    pub fn beside_again(&self, name: &str) -> Result<Vec<u8>, String> {
        if let Some(learned) = self.learned.as_ref().filter(|_| name == LEARNED) {
            return Ok(learned.handed_on());
        }
        let known = self.attached.get(name);
        known.map_or(Err("was not read".to_owned()), |b| Ok(b.to_vec()))
    }

    /// Reads every file that the job names.
    ///
    /// # Errors
    /// `file-not-read` at each name whose file cannot be had.
    pub fn attach(&mut self, beside: &Beside<'_>) -> Result<(), Diagnostics> {
        let mut faults = Diagnostics::default();
        for given in &self.file_names {
            let name = &given.value;
            if self.attached.contains_key(name) {
                continue;
            }
            match beside(name) {
                Ok(bytes) => {
                    self.attached.insert(name.clone(), bytes.into());
                }
                Err(why) => faults.push(Diagnostic::new(
                    codes::FILE_NOT_READ,
                    given.span,
                    format!("the file \"{name}\" {why}"),
                    "this file",
                    "the name is taken relative to the parameter file's folder; mind capital letters",
                )),
            }
        }
        faults.or(())?;
        self.read_grade()
    }

    /// The grade that the file names; it has to be of the same plastic.
    fn read_grade(&mut self) -> Result<(), Diagnostics> {
        let Some(given) = &self.plastic.grade else {
            return Ok(());
        };
        let Some(bytes) = self.attached.get(&given.value.0) else {
            return Ok(());
        };
        let grade = Learned::read(bytes, &given.value.0)?;
        let kind = self.plastic.kind.as_ref();
        let molded = kind.map_or("PP", |k| k.value.as_str());
        if molded != grade.plastic {
            return Err(Diagnostics(vec![Diagnostic::new(
                codes::BAD_FILE_NAME,
                given.span,
                format!(
                    "the grade \"{}\" is of {}, but {molded} is molded",
                    given.value.0, grade.plastic
                ),
                "another plastic",
                format!(
                    "write `kind = \"{}\"` in [plastic], or name a grade of {molded}",
                    grade.plastic
                ),
            )]));
        }
        self.grade = Some(Arc::new(grade));
        Ok(())
    }
}
