//! `guide`: one page to learn from, with pictures of a mold that is made for it.

use super::args::Common;
use super::{Ending, complain};
use crate::base::System;
use crate::pipeline::{self, MakeError};
use crate::spec::templates;
use crate::write::guide::{FirstMold, TITLE, page};
use std::io::Write;
use std::path::Path;

/// The starter that is shown.
const STARTER: &str = "coaster";
/// Bytes at the beginning of a file that say whether it is a guide.
const HEAD: usize = 2000;

/// The coaster's package in memory: its drawings are the pictures.
fn mold(units: System) -> Result<FirstMold, MakeError> {
    let starter = templates::get(STARTER).ok_or_else(|| MakeError::Internal {
        stage: "guide".into(),
        what: format!("no starter called {STARTER}"),
    })?;
    let mut text = starter.text.to_owned();
    if units == System::Inch {
        text.push_str("\n[output]\nunits = \"inch\"\n");
    }
    let job = pipeline::read(text.as_bytes(), &|file| starter.file(file))?;
    let made = pipeline::make(&job, STARTER, &|_| {})?;
    let files = made.package.files;
    let picture = |name: &str, caption: &str| {
        let svg = String::from_utf8(files.get(name)?.clone()).ok()?;
        // Within a page the declaration is left out.
        let from = svg.find("<svg")?;
        Some((caption.to_owned(), svg[from..].to_owned()))
    };
    let pictures = [
        (
            "assembly.svg",
            "The coaster's mold, pulled apart, with its parts list",
        ),
        (
            "plate-a.svg",
            "The A plate: the nozzle's thread, the sprue, the screws",
        ),
        (
            "plate-b.svg",
            "The B plate: the cavity with its rings, vents, pry slots",
        ),
    ];
    Ok(FirstMold {
        text,
        pictures: pictures.iter().filter_map(|(n, c)| picture(n, c)).collect(),
        files: files.keys().cloned().collect(),
    })
}

/// Writes the page: over an older guide, never over anything else.
pub(super) fn run(file: &Path, units: System, common: &Common, out: &mut dyn Write) -> Ending {
    let shown = file.display();
    if let Ok(old) = std::fs::read(file) {
        let head = String::from_utf8_lossy(&old[..old.len().min(HEAD)]).into_owned();
        if !head.contains(TITLE) {
            return complain(&format!(
                "{shown} exists, is no guide and is left as it is; name another file"
            ));
        }
    }
    units.enter();
    let text = match mold(units) {
        Ok(mold) => page(&mold),
        Err(e) => {
            complain(&format!("internal error, nothing was written: {e}"));
            return Ending::Internal;
        }
    };
    let folder = file.parent().filter(|p| !p.as_os_str().is_empty());
    // Whole or not at all: beside it first, then in its place.
    let written =
        tempfile::NamedTempFile::new_in(folder.unwrap_or(Path::new("."))).and_then(|mut fresh| {
            fresh.write_all(text.as_bytes())?;
            #[cfg(unix)]
            {
                use std::os::unix::fs::PermissionsExt;
                let readable = std::fs::Permissions::from_mode(0o644);
                fresh.as_file().set_permissions(readable)?;
            }
            fresh.persist(file).map_err(|e| e.error).map(drop)
        });
    if let Err(e) = written {
        return complain(&format!("{shown}: {e}"));
    }
    if common.json {
        super::print_json(&serde_json::json!({ "file": shown.to_string() }), out);
    } else if !common.quiet {
        let _ = writeln!(out, "{shown} written; open it in a browser");
    }
    Ending::Fine
}
