//! Calls the stages in order: text → job → design → solids → files.
//!
//! Input: the parameter file's text. Output: a [`Made`] with the whole package in memory.
//! Does not touch the disk and prints nothing.

mod checks;
mod files;
mod solids;

pub use solids::Solids;

use crate::base::{Diagnostics, finding};
use crate::design::{self, Design, Hints};
use crate::shop::{self, ShopPlan, Workshop};
use crate::spec::{self, Job};
use crate::write::package::Package;

/// Everything made from one parameter file.
#[derive(Debug)]
pub struct Made {
    /// The design with all decisions and findings.
    pub design: Design,
    /// The solids and what was measured of them.
    pub solids: Solids,
    /// The operations in the workshop.
    pub plan: ShopPlan,
    /// The files.
    pub package: Package,
}

impl Made {
    /// True when no finding forbids cutting metal.
    pub fn released(&self) -> bool {
        finding::released(&self.design.findings)
    }
}

/// Why nothing was made.
#[derive(Debug, thiserror::Error)]
pub enum MakeError {
    /// The parameter file is at fault.
    #[error(transparent)]
    Input(#[from] Diagnostics),
    /// The program is at fault: a solid or file failed its own check. The case is worth keeping.
    #[error("{stage}: {what}")]
    Internal {
        /// What was being made.
        stage: String,
        /// What went wrong.
        what: String,
    },
}

impl MakeError {
    fn internal(stage: impl Into<String>, what: impl ToString) -> Self {
        Self::Internal {
            stage: stage.into(),
            what: what.to_string(),
        }
    }
}

/// Reads a parameter file.
///
/// # Errors
/// Everything that is wrong with it.
pub fn read(bytes: &[u8]) -> Result<Job, Diagnostics> {
    spec::read_bytes(bytes)
}

/// Designs a job and checks it, without writing files.
///
/// # Errors
/// Input that cannot be designed; a solid that fails its audit.
pub fn check(
    job: &Job,
    fallback_name: &str,
    say: &dyn Fn(&str),
) -> Result<(Design, Solids, ShopPlan), MakeError> {
    say("deciding sizes");
    let mut design = design::design(job, fallback_name, &Hints::default())?;
    say("cutting solids");
    let solids = solids::make(job, &design)?;
    say("checking");
    checks::add(&mut design, &solids, job);
    let workshop = Workshop::decide(&job.shop, &mut design.decisions);
    let plan = shop::plan(&design, &workshop);
    checks::take(&mut design, plan.findings.clone());
    Ok((design, solids, plan))
}

/// Makes the whole package in memory.
///
/// # Errors
/// As [`check`]; a file that fails its own check.
pub fn make(job: &Job, fallback_name: &str, say: &dyn Fn(&str)) -> Result<Made, MakeError> {
    let (design, solids, plan) = check(job, fallback_name, say)?;
    say("writing files");
    let package = files::write(job, &design, &solids, &plan)?;
    Ok(Made {
        design,
        solids,
        plan,
        package,
    })
}
