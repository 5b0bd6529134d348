//! `study`: one or two values of the file swept, numbers over ranges, words one by one, on all
//! cores.
//!
//! What is done is kept ([`kept`]): after Ctrl-C the same command goes on, and several machines do
//! a share each.

mod kept;

use super::args::Common;
use super::beside::beside;
use super::{Ending, complain, load, refuse};
use crate::pipeline;
use crate::pipeline::study::{SweepError, sweep, with};
use crate::process::study::{Ended, Share, Study, Sweep, Value, study};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use kept::{Kept, Notes};
use std::io::{IsTerminal, Write};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Which runs are computed.
pub(super) struct Runs {
    /// One share of them; all without it.
    pub share: Option<Share>,
    /// None: what is there is put together.
    pub merge: bool,
}

pub(super) fn run(
    file: &Path,
    vary: &[String],
    runs: &Runs,
    common: &Common,
    out: &mut dyn Write,
) -> Ending {
    let (bytes, stem) = match load(file) {
        Ok(x) => x,
        Err(ending) => return ending,
    };
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let memory = pipeline::Memory::default();
    let job = match pipeline::read_with(&bytes, &beside(file), &memory) {
        Ok(job) => job,
        Err(faults) => return refuse(&file.display().to_string(), &text, &faults, common, out),
    };
    job.system().enter();
    let sweeps: Result<Vec<Sweep>, SweepError> = vary.iter().map(|v| sweep(v)).collect();
    let sweeps = match sweeps {
        Ok(s) => s,
        Err(why) => return complain(&why.to_string()),
    };
    for s in &sweeps {
        if let Err(why) = with(&text, &[(s, &s.values[0])]) {
            return complain(&why.to_string());
        }
    }
    let make =
        |values: &[Value]| pipeline::study::design(&job, &text, &sweeps, values, (&stem, &memory));
    let kept = Kept::of(&job, &sweeps, &common.out, &stem);
    let share = match runs {
        Runs { merge: true, .. } => Share::NONE,
        Runs { share, .. } => share.unwrap_or(Share::WHOLE),
    };
    // A share minds its own runs, whoever puts them together those of all.
    let have = kept.rows(runs.share);
    let notes = match share == Share::NONE {
        true => None,
        false => match kept.begin(runs.share, &have) {
            Ok(notes) => Some(notes),
            Err(e) => return complain(&format!("{}: {e}", kept.folder.display())),
        },
    };
    let stop = Arc::new(AtomicBool::new(false));
    let seen = stop.clone();
    // A second handler in one process is refused; then Ctrl-C simply ends the program.
    let _ = ctrlc::set_handler(move || seen.store(true, Ordering::Relaxed));
    let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
    if !common.quiet && std::io::stderr().is_terminal() {
        bar.set_draw_target(ProgressDrawTarget::stderr());
        if let Ok(style) = ProgressStyle::with_template("{wide_bar} {pos}/{len} {eta}") {
            bar.set_style(style);
        }
    }
    let options = pipeline::study::options(&job);
    let result = study(&sweeps, (share, &have), &make, &options, &|ended: Ended<
        '_,
    >| {
        bar.set_length(ended.all as u64);
        bar.set_position(ended.done as u64);
        let noted = notes.as_ref().is_none_or(|n| n.add(ended.row));
        noted && !stop.load(Ordering::Relaxed)
    });
    bar.finish_and_clear();
    if notes.is_some_and(Notes::failed) {
        return complain(&format!(
            "{}: what was done could not be kept",
            kept.folder.display()
        ));
    }
    match result {
        Ok(study) => finish(&study, &kept, runs, common, out),
        Err(why) => complain(&why.to_string()),
    }
}

/// Writes table and plot, and prints the table; of a share only says what is done.
fn finish(study: &Study, kept: &Kept, runs: &Runs, common: &Common, out: &mut dyn Write) -> Ending {
    if let Err(e) = kept.finish(study, runs.share) {
        return complain(&format!("{}: {e}", kept.folder.display()));
    }
    let folder = kept.folder.display();
    if let Some(share) = runs.share {
        if !common.quiet {
            let done = study.rows.len();
            let file = Kept::file(runs.share);
            let _ = writeln!(
                out,
                "share {share}: {done} runs done, in {folder}/{file}; with the files of all shares there, --merge puts them together"
            );
        }
        return Ending::Fine;
    }
    if common.json {
        let _ = writeln!(out, "{}", kept.json(study));
    } else if !common.quiet {
        let mut page = study.to_csv();
        if study.missing > 0 {
            let left = match study.missing {
                1 => "1 run is missing".to_owned(),
                n => format!("{n} runs are missing"),
            };
            page.push_str(&format!(
                "{left}; what is done is kept, and the same command without --merge goes on\n"
            ));
        }
        page.push_str(&format!("table and plot in {folder}\n"));
        let _ = out.write_all(page.as_bytes());
    }
    Ending::Fine
}
