//! `live`: the page that follows a file, or lists those of a folder, until Ctrl-C.

use super::args::Common;
use super::beside::beside;
use super::keeper::Keeper;
use super::{Ending, complain, load};
use crate::live::{self, FIRST_PORT, Follow, LiveError, Options};
use crate::pipeline::Follower;
use std::io::Write;
use std::net::IpAddr;
use std::path::Path;
use std::sync::Arc;
use std::sync::mpsc::channel;

pub(super) fn run(
    path: Option<&Path>,
    port: Option<u16>,
    address: IpAddr,
    common: &Common,
    out: &mut dyn Write,
) -> Ending {
    let path = path.unwrap_or(Path::new("."));
    let folder = path.is_dir();
    let follow = if folder {
        Follow::Folder(Arc::new(Keeper))
    } else {
        // A file with faults can be followed; one that is not there is a slip of the pen.
        let stem = match load(path) {
            Ok((_, stem)) => stem,
            Err(ending) => return ending,
        };
        Follow::File(Arc::new(Follower::new(stem, Box::new(beside(path)))))
    };
    let options = Options {
        path: path.to_owned(),
        address,
        port,
    };
    let running = match live::start(&options, follow) {
        Ok(running) => running,
        Err(e @ LiveError::Port { .. }) => {
            let remedy = match port {
                Some(_) => "give another --port, or none: then a free one is taken".to_owned(),
                None => format!("no port from {FIRST_PORT} on is free there; give one with --port"),
            };
            return complain(&format!("{e}; {remedy}"));
        }
        Err(e) => return complain(&e.to_string()),
    };
    let url = running.url();
    if common.json {
        let _ = writeln!(out, "{}", serde_json::json!({ "url": url }));
    } else if common.quiet {
        let _ = writeln!(out, "{url}");
    } else {
        let does = match folder {
            true => format!("the page lists the parameter files in {}", shown(path)),
            false => format!("the page follows {} as you save it", path.display()),
        };
        let _ = writeln!(
            out,
            "{url}\nOpen this whole address in a browser: {does}. Ctrl-C ends it."
        );
        if !address.is_loopback() {
            let _ = writeln!(
                out,
                "Everybody in your network who has this address can look, and write {}.",
                match folder {
                    true => "files of the folder",
                    false => "numbers into the file",
                }
            );
        }
    }
    let _ = out.flush();
    let (sign, signs) = channel();
    // Without a handler Ctrl-C ends the program as well, only less tidily.
    let _ = ctrlc::set_handler(move || {
        let _ = sign.send(());
    });
    let _ = signs.recv();
    running.stop();
    Ending::Fine
}

/// A folder as people know it.
fn shown(path: &Path) -> String {
    match path == Path::new(".") {
        true => "this folder".to_owned(),
        false => path.display().to_string(),
    }
}
