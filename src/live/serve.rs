//! Answers the pages: who may ask, and what there is to ask for.
//!
//! Input: connections. Output: the page, its stream of parts, the package; numbers moved
//! and written. A fixed most of connections, a thread each, shared out so that no peer can
//! take them all; one request a connection.
//!
//! # Who may ask
//! Requests whose `Host` is not this machine by number (or `localhost`) are refused, so
//! that no foreign name can be pointed here. Changes need the page's own key and origin.
//! Off the loopback address the key stands in the path as well.

use super::http::{self, Answer, Refusal, Request};
use super::shares::{Share, Shares};
use super::source::{Moves, Objection, Source};
use super::watch::{self, Followed};
use super::work::Desk;
use super::{LiveError, Maker, Options, page};
use std::io::{self, Write};
use std::net::{IpAddr, SocketAddr, TcpListener, TcpStream};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::Duration;

/// Most connections at a time.
const MOST_CONNECTIONS: usize = 160;
/// Most of them that are streams: the others must still get through.
const MOST_STREAMS: usize = 128;
/// So often a stream is written to though nothing happens; a page that left is noticed.
const HEARTBEAT: Duration = Duration::from_secs(10);
/// Stack of a connection's thread, bytes; only what is used is taken.
const STACK: usize = 2 << 20;

/// All that connections share.
struct Shared {
    desk: Desk,
    source: Source,
    key: String,
    /// What stands before every path: nothing, or `/KEY`.
    prefix: String,
    page: String,
    port: u16,
    stop: Arc<AtomicBool>,
    connections: Arc<Shares>,
    streams: Arc<Shares>,
}

/// A page that is being served.
pub struct Running {
    shared: Arc<Shared>,
    address: SocketAddr,
    threads: Mutex<Vec<JoinHandle<()>>>,
}

pub(super) fn start(
    listener: TcpListener,
    options: &Options,
    key: String,
    maker: Arc<dyn Maker>,
) -> Result<Running, LiveError> {
    let system = |what| {
        move |e: io::Error| LiveError::System {
            what,
            why: e.to_string(),
        }
    };
    let address = listener
        .local_addr()
        .map_err(system("no address to listen at"))?;
    let prefix = if address.ip().is_loopback() {
        String::new()
    } else {
        format!("/{key}")
    };
    let stop = Arc::new(AtomicBool::new(false));
    let source = Source::new(&options.file);
    let shared = Arc::new(Shared {
        page: page::shell(&key, &options.file),
        desk: Desk::new(maker.clone()),
        source,
        key,
        prefix,
        port: address.port(),
        stop: stop.clone(),
        connections: Arc::new(Shares::of(MOST_CONNECTIONS)),
        streams: Arc::new(Shares::of(MOST_STREAMS)),
    });
    shared.look_at_file();
    let no_thread = system("no thread");
    let at_work = shared.clone();
    let worker = thread::Builder::new()
        .name("work".into())
        .spawn(move || at_work.desk.work())
        .map_err(&no_thread)?;
    let (told, reader) = (shared.clone(), maker);
    let followed = Followed {
        path: shared.source.path().to_owned(),
        first: shared.source.seen(),
        beside: watch::folder(&options.file),
    };
    let watcher = watch::follow(
        followed,
        stop,
        move |text| reader.names(text),
        move |seen| {
            told.source.see(seen);
            told.look_at_file();
        },
    )
    .map_err(&no_thread)?;
    let taking = shared.clone();
    let door = thread::Builder::new()
        .name("door".into())
        .spawn(move || taking.take(&listener))
        .map_err(&no_thread)?;
    Ok(Running {
        shared,
        address,
        threads: Mutex::new(vec![worker, watcher, door]),
    })
}

impl Running {
    /// Where the page is.
    pub fn url(&self) -> String {
        format!("http://{}{}/", self.address, self.shared.prefix)
    }
    /// Open connections.
    pub fn connections(&self) -> usize {
        self.shared.connections.taken()
    }
    /// Ends everything; returns when the threads have ended.
    pub fn stop(&self) {
        self.shared.stop.store(true, Ordering::SeqCst);
        self.shared.desk.close();
        // Wakes the door.
        let ip = match self.address.ip() {
            ip if ip.is_unspecified() && ip.is_ipv6() => IpAddr::from([0, 0, 0, 0, 0, 0, 0, 1]),
            ip if ip.is_unspecified() => IpAddr::from([127, 0, 0, 1]),
            ip => ip,
        };
        let _ = TcpStream::connect_timeout(
            &SocketAddr::new(ip, self.address.port()),
            Duration::from_secs(1),
        );
        let threads =
            std::mem::take(&mut *self.threads.lock().unwrap_or_else(PoisonError::into_inner));
        for t in threads {
            let _ = t.join();
        }
    }
}

impl Shared {
    /// Puts the file as last seen on the desk.
    fn look_at_file(&self) {
        match self.source.task() {
            Ok(task) => self.desk.put(task),
            Err(why) => self.desk.gone(&why.to_string()),
        }
    }

    /// Takes connections until told to stop.
    fn take(self: &Arc<Self>, listener: &TcpListener) {
        loop {
            let taken = listener.accept();
            if self.stop.load(Ordering::SeqCst) {
                return;
            }
            let Ok((mut stream, peer)) = taken else {
                // No more sockets for now.
                thread::sleep(Duration::from_millis(50));
                continue;
            };
            let Some(one) = Share::take(&self.connections, peer.ip()) else {
                // Refused here, without a thread.
                let _ = stream.set_write_timeout(Some(Duration::from_millis(50)));
                let _ = http::send(&mut stream, &busy());
                continue;
            };
            let shared = self.clone();
            let begun = thread::Builder::new().stack_size(STACK).spawn(move || {
                let _one = one;
                // A peer that has gone is no error of ours.
                let _ = shared.serve(&mut stream, peer.ip());
            });
            if begun.is_err() {
                thread::sleep(Duration::from_millis(50));
            }
        }
    }

    fn serve(&self, stream: &mut TcpStream, peer: IpAddr) -> io::Result<()> {
        http::limit(stream)?;
        let request = match http::read(stream) {
            Ok(r) => r,
            Err(Refusal::Gone) => return Ok(()),
            Err(Refusal::Status(status)) => {
                return http::send(stream, &Answer::text(status, "not understood\n"));
            }
        };
        if !self.knows_host(&request) {
            let text = "this page answers to the machine's own number only\n";
            return http::send(stream, &Answer::text(403, text));
        }
        let path = match request.target.strip_prefix(self.prefix.as_str()) {
            Some(path) => path.split('?').next().unwrap_or(path),
            None => return http::send(stream, &Answer::text(404, "nothing here\n")),
        };
        match (request.method.as_str(), path) {
            ("GET", "/") => http::send(
                stream,
                &Answer {
                    status: 200,
                    kind: "text/html; charset=utf-8",
                    more: "",
                    body: self.page.as_bytes(),
                },
            ),
            ("GET", "/events") => self.events(stream, peer),
            ("GET", "/package.zip") => self.package(stream),
            ("POST", "/numbers" | "/write" | "/back") => {
                let (status, text) = self.change(&request, path);
                http::send(stream, &Answer::text(status, &text))
            }
            (_, "/" | "/events" | "/package.zip" | "/numbers" | "/write" | "/back") => {
                http::send(stream, &Answer::text(405, "not in this way\n"))
            }
            _ => http::send(stream, &Answer::text(404, "nothing here\n")),
        }
    }

    /// The machine by number, with the right port. A name other than `localhost` could be
    /// anybody's, pointed at this machine.
    fn knows_host(&self, request: &Request) -> bool {
        let Some(host) = request.header("host") else {
            return false;
        };
        let (name, port) = match host.rsplit_once(':') {
            Some((name, port)) if !port.contains(']') => (name, port.parse().ok()),
            _ => (host, Some(80)),
        };
        let number = name.trim_start_matches('[').trim_end_matches(']');
        let ours = match number.parse::<IpAddr>() {
            Ok(ip) => !self.prefix.is_empty() || ip.is_loopback(),
            Err(_) => name.eq_ignore_ascii_case("localhost"),
        };
        ours && port == Some(self.port)
    }

    /// The stream of parts, until page or program ends.
    fn events(&self, stream: &mut TcpStream, peer: IpAddr) -> io::Result<()> {
        let Some(_one) = Share::take(&self.streams, peer) else {
            return http::send(stream, &busy());
        };
        http::begin_events(stream)?;
        let mut seen = 0;
        loop {
            let news = self.desk.board.news(seen, HEARTBEAT);
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

    /// Values on trial, or written into the file, or a version of before: status and a sentence.
    fn change(&self, request: &Request, path: &str) -> (u16, String) {
        let host = request.header("host").unwrap_or_default();
        let own = format!("http://{host}");
        if request.header("origin").is_some_and(|o| o != own)
            || request.header("x-page-key") != Some(&self.key)
        {
            return (403, "load the page again\n".into());
        }
        let done = if path == "/back" {
            let Ok(back) = serde_json::from_slice::<Back>(&request.body) else {
                return (400, "the number of a version is wanted\n".into());
            };
            match self.desk.version(back.version) {
                Some(text) => self.source.go_back(&back.base, &text),
                None => return (422, "there is no such version any more\n".into()),
            }
        } else {
            let Ok(moves) = serde_json::from_slice::<Moves>(&request.body) else {
                return (400, "numbers are wanted\n".into());
            };
            match path {
                "/write" => self.source.write(&moves),
                _ => self.source.moved(&moves).map(|task| self.desk.put(task)),
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

fn busy() -> Answer<'static> {
    Answer::text(503, "too many pages at once; close some and load again\n")
}
