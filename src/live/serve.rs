//! Answers the pages: who may ask, and whom for.
//!
//! Input: connections. Output: requests, each to the file or folder that it is for. A fixed most of
//! connections, a thread each, shared out so that no peer can take them all; one request a
//! connection.
//!
//! # Who may ask
//! Requests whose `Host` is not this machine by number (or `localhost`) are refused, so
//! that no foreign name can be pointed here. Every path begins with a key that only the printed
//! address tells, so that others on this machine or in its network see and write nothing. Changes
//! need the page's own key and origin as well.

use super::folder::Folder;
use super::http::{self, Answer, Refusal, Request};
use super::room::Room;
use super::shares::{Share, Shares};
use super::{Follow, LiveError, Options};
use crate::spec::attached;
use std::io;
use std::net::{IpAddr, SocketAddr, TcpListener, TcpStream};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::Duration;

/// Most connections at a time.
const MOST_CONNECTIONS: usize = 160;
/// Most of them that are streams: the others must still get through.
const MOST_STREAMS: usize = 128;
/// Stack of a connection's thread, bytes; only what is used is taken.
const STACK: usize = 2 << 20;

/// What is behind the address.
enum Site {
    File(Arc<Room>),
    Folder(Arc<Folder>),
}

/// All that connections share.
struct Shared {
    site: Site,
    key: String,
    /// What stands before every path: `/KEY`.
    prefix: String,
    /// Others than this machine may ask.
    open: bool,
    port: u16,
    stop: Arc<AtomicBool>,
    connections: Arc<Shares>,
    streams: Arc<Shares>,
    /// One large file comes in at a time.
    large: Arc<Shares>,
}

/// A request of somebody who may look.
pub(super) struct Asked<'a> {
    pub request: &'a Request,
    pub peer: IpAddr,
    /// It comes from one of our pages: it may change something.
    pub own: bool,
    /// Streams that are open.
    pub streams: &'a Arc<Shares>,
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
    follow: Follow,
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
    let site = match follow {
        Follow::File(maker) => {
            Site::File(Room::open(&options.path, &key, None, maker).map_err(system("no thread"))?)
        }
        Follow::Folder(keeper) => {
            Site::Folder(Folder::open(&options.path, &key, keeper).map_err(system("the folder"))?)
        }
    };
    let shared = Arc::new(Shared {
        site,
        prefix: format!("/{key}"),
        key,
        open: !address.ip().is_loopback(),
        port: address.port(),
        stop: Arc::new(AtomicBool::new(false)),
        connections: Arc::new(Shares::of(MOST_CONNECTIONS)),
        streams: Arc::new(Shares::of(MOST_STREAMS)),
        large: Arc::new(Shares::of(1)),
    });
    let taking = shared.clone();
    let door = thread::Builder::new()
        .name("door".into())
        .spawn(move || taking.take(&listener))
        .map_err(system("no thread"))?;
    Ok(Running {
        shared,
        address,
        threads: Mutex::new(vec![door]),
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
        match &self.shared.site {
            Site::File(room) => room.close(),
            Site::Folder(folder) => folder.close(),
        }
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
                let _ = http::send(&mut stream, &Answer::busy());
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
        let head = match http::head(stream) {
            Ok(head) => head,
            Err(refusal) => return refused(stream, refusal),
        };
        // A drawing or mesh is taken from our own page only, one at a time.
        let name = self.large_body(&head);
        let one = name.as_ref().and_then(|_| Share::take(&self.large, peer));
        let most = match (&name, &one) {
            (Some(name), Some(_)) => http::Most::file(attached::largest(name)),
            (Some(_), None) => {
                return http::send(stream, &Answer::text(503, "another file is coming in\n"));
            }
            (None, _) => http::Most::NUMBERS,
        };
        let request = match http::body(stream, head, most) {
            Ok(request) => request,
            Err(refusal) => return refused(stream, refusal),
        };
        if !self.knows_host(&request) {
            let text = "this page answers to the machine's own number only\n";
            return http::send(stream, &Answer::text(403, text));
        }
        let Some(path) = self.path_of(&request) else {
            return http::send(stream, &Answer::text(404, "nothing here\n"));
        };
        let asked = Asked {
            request: &request,
            peer,
            own: self.own(&request),
            streams: &self.streams,
        };
        match &self.site {
            Site::File(room) => room.answer(stream, path, &asked),
            Site::Folder(folder) => folder.answer(stream, path, &asked),
        }
    }

    /// What stands behind the key; `None` when the key is not there.
    fn path_of<'r>(&self, request: &'r Request) -> Option<&'r str> {
        let path = request.target.strip_prefix(self.prefix.as_str())?;
        Some(path.split('?').next().unwrap_or(path))
    }

    /// The name of a file that one of our pages wants to put into the folder.
    fn large_body(&self, head: &Request) -> Option<String> {
        let drop = self.path_of(head) == Some("/drop") && head.method == "POST";
        let may = drop && self.knows_host(head) && self.own(head);
        may.then(|| head.header("x-file-name").unwrap_or_default().to_owned())
    }

    /// From one of our pages: it has the key and comes from this address.
    fn own(&self, request: &Request) -> bool {
        let host = request.header("host").unwrap_or_default();
        let own = format!("http://{host}");
        request.header("origin").is_none_or(|o| o == own)
            && request.header("x-page-key") == Some(&self.key)
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
            Ok(ip) => self.open || ip.is_loopback(),
            Err(_) => name.eq_ignore_ascii_case("localhost"),
        };
        ours && port == Some(self.port)
    }
}

fn refused(stream: &mut TcpStream, refusal: Refusal) -> io::Result<()> {
    match refusal {
        Refusal::Gone => Ok(()),
        Refusal::Status(status) => http::send(stream, &Answer::text(status, "not understood\n")),
    }
}
