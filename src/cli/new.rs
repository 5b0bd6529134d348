//! `new`: writes a commented starter file.

use super::args::Common;
use super::{Ending, complain, say};
use crate::spec::templates;
use std::fs::OpenOptions;
use std::io::Write;
use std::path::{Path, PathBuf};

pub(super) fn run(
    starter: Option<&str>,
    file: Option<&Path>,
    common: &Common,
    out: &mut dyn Write,
) -> Ending {
    let Some(name) = starter else {
        let mut text = String::from("Starter files:\n");
        for t in templates::list() {
            text.push_str(&format!("  {:<10} {}\n", t.name, t.about));
        }
        text.push_str("\nplatewright new NAME FILE writes one.\n");
        return say(out, &text);
    };
    let Some(template) = templates::get(name) else {
        let hint =
            templates::nearest(name).map_or_else(String::new, |n| format!("; did you mean {n}?"));
        return complain(&format!(
            "no starter called \"{name}\"{hint} `platewright new` lists them"
        ));
    };
    let path = file.map_or_else(|| PathBuf::from(format!("{name}.toml")), Path::to_owned);
    // Never over an existing file.
    let written = OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(&path)
        .and_then(|mut f| f.write_all(template.text.as_bytes()));
    match written {
        Ok(()) => {
            if !common.quiet {
                let _ = writeln!(
                    out,
                    "{} written; next: platewright make {}",
                    path.display(),
                    path.display()
                );
            }
            Ending::Fine
        }
        Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => complain(&format!(
            "{} exists and is left as it is; name another file",
            path.display()
        )),
        Err(e) => complain(&format!("{}: {e}", path.display())),
    }
}
