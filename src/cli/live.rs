//! `live`: the page that follows the file, until Ctrl-C.

use super::args::Common;
use super::beside::without_shots;
use super::{Ending, complain, load};
use crate::live::{self, FIRST_PORT, LiveError, Options};
use crate::pipeline::Follower;
use std::io::Write;
use std::net::IpAddr;
use std::path::Path;
use std::sync::Arc;
use std::sync::mpsc::channel;

pub(super) fn run(
    file: &Path,
    port: Option<u16>,
    address: IpAddr,
    common: &Common,
    out: &mut dyn Write,
) -> Ending {
    // A file with faults can be followed; one that is not there is a slip of the pen.
    let stem = match load(file) {
        Ok((_, stem)) => stem,
        Err(ending) => return ending,
    };
    let options = Options {
        file: file.to_owned(),
        address,
        port,
    };
    let maker = Arc::new(Follower::new(stem, Box::new(without_shots(file))));
    let running = match live::start(&options, maker) {
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
        let _ = writeln!(
            out,
            "{url}\nOpen this address in a browser: the page follows {} as you save it. Ctrl-C ends it.",
            file.display()
        );
        if !address.is_loopback() {
            let _ = writeln!(
                out,
                "Everybody in your network who has this address can look, and write numbers into the file."
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
