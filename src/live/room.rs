//! One file that is followed: what is made of it, and what its page may ask.
//!
//! Input: the file, requests. Output: the page, its stream of parts, the package, a study; numbers
//! moved and written. Two threads of its own, until it is closed.

use super::board::Board;
use super::http::{self, Answer};
use super::serve::Asked;
use super::shares::Share;
use super::source::{Moves, Objection, Source};
use super::watch::{self, Followed};
use super::work::Desk;
use super::{Maker, page};
use std::io::{self, Write};
use std::net::TcpStream;
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::Duration;

/// So often a stream is written to though nothing happens; a page that left is noticed.
const HEARTBEAT: Duration = Duration::from_secs(10);

/// A file that is followed.
pub(super) struct Room {
    desk: Desk,
    source: Source,
    page: String,
    stop: Arc<AtomicBool>,
    /// Pages that look at it.
    looked_at: AtomicUsize,
    threads: Mutex<Vec<JoinHandle<()>>>,
}

impl Room {
    /// Begins to follow a file. `home`: where the list of files is, from its page.
    pub(super) fn open(
        file: &Path,
        key: &str,
        home: Option<&str>,
        maker: Arc<dyn Maker>,
    ) -> io::Result<Arc<Self>> {
        let room = Arc::new(Self {
            desk: Desk::new(maker.clone()),
            source: Source::new(file),
            page: page::shell(key, file, home),
            stop: Arc::new(AtomicBool::new(false)),
            looked_at: AtomicUsize::new(0),
            threads: Mutex::default(),
        });
        room.look_at_file();
        let at_work = room.clone();
        let worker = thread::Builder::new()
            .name("work".into())
            .spawn(move || at_work.desk.work())?;
        let followed = Followed {
            path: room.source.path().to_owned(),
            first: room.source.seen(),
            beside: watch::folder(file),
        };
        let told = room.clone();
        let watcher = watch::follow(
            followed,
            room.stop.clone(),
            move |text| maker.names(text),
            move |seen| {
                told.source.see(seen);
                told.look_at_file();
            },
        );
        // Without a watcher the worker ends as well.
        if watcher.is_err() {
            room.desk.close();
        }
        let mut threads = room.lock();
        threads.push(worker);
        threads.push(watcher?);
        drop(threads);
        Ok(room)
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, Vec<JoinHandle<()>>> {
        self.threads.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Ends it; returns when its threads have ended.
    pub(super) fn close(&self) {
        self.stop.store(true, Ordering::SeqCst);
        self.desk.close();
        let threads = std::mem::take(&mut *self.lock());
        for t in threads {
            let _ = t.join();
        }
    }

    /// Whether something is computed for it.
    pub(super) fn busy(&self) -> bool {
        self.desk.busy()
    }

    /// Whether a page looks at it.
    pub(super) fn looked_at(&self) -> bool {
        self.looked_at.load(Ordering::SeqCst) > 0
    }

    /// Puts the file as last seen on the desk.
    fn look_at_file(&self) {
        match self.source.task() {
            Ok(task) => self.desk.put(task),
            Err(why) => self.desk.gone(&why.to_string()),
        }
    }

    /// Answers a request for `path` below its own.
    pub(super) fn answer(
        &self,
        stream: &mut TcpStream,
        path: &str,
        asked: &Asked<'_>,
    ) -> io::Result<()> {
        match (asked.request.method.as_str(), path) {
            ("GET", "/") => http::send(stream, &Answer::page(&self.page)),
            ("GET", "/events") => {
                self.looked_at.fetch_add(1, Ordering::SeqCst);
                let ended = events(stream, &self.desk.board, asked);
                self.looked_at.fetch_sub(1, Ordering::SeqCst);
                ended
            }
            ("GET", "/package.zip") => self.package(stream),
            ("POST", "/numbers" | "/write" | "/back" | "/study") => {
                let (status, text) = match asked.own {
                    true => self.change(&asked.request.body, path),
                    false => (403, "load the page again\n".into()),
                };
                http::send(stream, &Answer::text(status, &text))
            }
            (_, "/" | "/events" | "/package.zip" | "/numbers" | "/write" | "/back" | "/study") => {
                http::send(stream, &Answer::text(405, "not in this way\n"))
            }
            _ => http::send(stream, &Answer::text(404, "nothing here\n")),
        }
    }

    fn package(&self, stream: &mut TcpStream) -> io::Result<()> {
        match self.desk.package() {
            Ok(zipped) => {
                // A package's name is lower-case letters, digits and hyphens.
                let more = format!(
                    "Content-Disposition: attachment; filename=\"{}.zip\"\r\n",
                    zipped.name
                );
                http::send(
                    stream,
                    &Answer {
                        status: 200,
                        kind: "application/zip",
                        more: &more,
                        body: &zipped.bytes,
                    },
                )
            }
            Err(why) => http::send(stream, &Answer::text(503, &format!("{why}\n"))),
        }
    }

    /// Values on trial, or written into the file, a version of before, or a study: status and a
    /// sentence.
    fn change(&self, body: &[u8], path: &str) -> (u16, String) {
        let done = match path {
            "/back" => {
                let Ok(back) = serde_json::from_slice::<Back>(body) else {
                    return (400, "the number of a version is wanted\n".into());
                };
                match self.desk.version(back.version) {
                    Some(text) => self.source.go_back(&back.base, &text),
                    None => return (422, "there is no such version any more\n".into()),
                }
            }
            "/study" => {
                let Ok(wanted) = serde_json::from_slice::<Wanted>(body) else {
                    return (400, "values to vary are wanted\n".into());
                };
                return match self.desk.study(wanted.vary) {
                    Ok(()) => (200, "done\n".into()),
                    Err(why) => (422, format!("{why}\n")),
                };
            }
            _ => {
                let Ok(moves) = serde_json::from_slice::<Moves>(body) else {
                    return (400, "numbers are wanted\n".into());
                };
                match path {
                    "/write" => self.source.write(&moves),
                    _ => self.source.moved(&moves).map(|task| self.desk.put(task)),
                }
            }
        };
        match done {
            Ok(()) => (200, "done\n".into()),
            Err(Objection::Changed) => (
                409,
                "the file has changed meanwhile; the page shows it as it is now\n".into(),
            ),
            Err(Objection::Numbers(why)) => (422, format!("{why}\n")),
            Err(Objection::Write(why)) => (422, format!("{why}\n")),
        }
    }
}

/// A version that a page wants in the file.
#[derive(serde::Deserialize)]
struct Back {
    /// The file's text as the page knows it.
    base: String,
    version: usize,
}

/// What a page wants to vary, as `study` takes it: `part.thickness=2..5:7`. Nothing: the study
/// that is computed is stopped.
#[derive(serde::Deserialize)]
struct Wanted {
    vary: Vec<String>,
}

/// The stream of parts, until page or program ends.
pub(super) fn events(stream: &mut TcpStream, board: &Board, asked: &Asked<'_>) -> io::Result<()> {
    let Some(_one) = Share::take(asked.streams, asked.peer) else {
        return http::send(stream, &Answer::busy());
    };
    http::begin_events(stream)?;
    let mut seen = 0;
    loop {
        let news = board.news(seen, HEARTBEAT);
        if news.closed {
            return stream.write_all(b"event: end\ndata: {}\n\n");
        }
        let mut text = String::new();
        for (name, json) in &news.parts {
            // JSON has no line ends: one line of data each.
            text.push_str(&format!("event: {name}\ndata: {json}\n\n"));
        }
        if text.is_empty() {
            text.push_str(": still here\n\n");
        }
        drop(news.parts);
        stream.write_all(text.as_bytes())?;
        seen = news.clock;
    }
}
