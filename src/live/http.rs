//! Just enough HTTP/1.1 for one page: bounded requests in, whole answers out.
//!
//! Input: a socket. Output: a [`Request`], or the status that refuses it. Heads are read
//! by `httparse`; sizes and times are limited here, so that no peer can hold memory or a
//! thread for long. One request a connection; no chunked bodies.

use std::io::{self, Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

/// Largest head of a request, bytes.
const LARGEST_HEAD: usize = 8 << 10;
/// Most header lines.
const MOST_HEADERS: usize = 64;
/// A request must have come in whole within this time.
const PATIENCE: Duration = Duration::from_secs(5);

/// How much a request may bring, and how long that may take.
#[derive(Debug, Clone, Copy)]
pub(super) struct Most {
    bytes: usize,
    time: Duration,
}

impl Most {
    /// The numbers of one file.
    pub(super) const NUMBERS: Self = Self {
        bytes: 64 << 10,
        time: PATIENCE,
    };
    /// A file.
    pub(super) fn file(bytes: u64) -> Self {
        Self {
            bytes: usize::try_from(bytes).unwrap_or(usize::MAX),
            time: Duration::from_secs(60),
        }
    }
}

/// A peer that takes nothing for this long is dropped.
const WRITE_PATIENCE: Duration = Duration::from_secs(15);

/// What was asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Request {
    /// `GET`, `POST`.
    pub method: String,
    /// Path with everything behind it, as sent.
    pub target: String,
    /// Header lines, names in lower case.
    headers: Vec<(String, String)>,
    /// The body.
    pub body: Vec<u8>,
}

impl Request {
    /// A header that stands there exactly once.
    pub(super) fn header(&self, name: &str) -> Option<&str> {
        let mut all = self.headers.iter().filter(|(n, _)| n == name);
        match (all.next(), all.next()) {
            (Some((_, value)), None) => Some(value),
            _ => None,
        }
    }
}

/// Why no request was read: the status to answer with, or nothing to answer at all.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Refusal {
    /// Answer with this status.
    Status(u16),
    /// The peer has gone or was too slow.
    Gone,
}

/// Sets the time limits of a new connection.
pub(super) fn limit(stream: &TcpStream) -> io::Result<()> {
    stream.set_nodelay(true)?;
    stream.set_write_timeout(Some(WRITE_PATIENCE))
}

/// Reads a request up to its body; what has come of that stands in it.
pub(super) fn head(stream: &mut TcpStream) -> Result<Request, Refusal> {
    let until = Instant::now() + PATIENCE;
    let mut bytes = Vec::with_capacity(1024);
    loop {
        let mut lines = [httparse::EMPTY_HEADER; MOST_HEADERS];
        let mut head = httparse::Request::new(&mut lines);
        match head.parse(&bytes) {
            Ok(httparse::Status::Complete(size)) => {
                return Ok(Request {
                    method: head.method.unwrap_or_default().to_owned(),
                    target: head.path.unwrap_or_default().to_owned(),
                    headers: head
                        .headers
                        .iter()
                        .map(|h| {
                            let value = String::from_utf8_lossy(h.value).trim().to_owned();
                            (h.name.to_ascii_lowercase(), value)
                        })
                        .collect(),
                    body: bytes.split_off(size),
                });
            }
            Ok(httparse::Status::Partial) if bytes.len() >= LARGEST_HEAD => {
                return Err(Refusal::Status(431));
            }
            Ok(httparse::Status::Partial) => more(stream, until, &mut bytes)?,
            Err(httparse::Error::TooManyHeaders) => return Err(Refusal::Status(431)),
            Err(_) => return Err(Refusal::Status(400)),
        }
    }
}

/// Reads the rest of a request.
pub(super) fn body(
    stream: &mut TcpStream,
    mut request: Request,
    most: Most,
) -> Result<Request, Refusal> {
    let until = Instant::now() + most.time;
    let wanted = body_size(&request, most.bytes)?;
    while request.body.len() < wanted {
        more(stream, until, &mut request.body)?;
    }
    request.body.truncate(wanted);
    Ok(request)
}

fn body_size(request: &Request, most: usize) -> Result<usize, Refusal> {
    if request
        .headers
        .iter()
        .any(|(n, _)| n == "transfer-encoding")
    {
        return Err(Refusal::Status(411));
    }
    if !request.headers.iter().any(|(n, _)| n == "content-length") {
        return Ok(0);
    }
    match request.header("content-length").map(str::parse::<usize>) {
        Some(Ok(n)) if n <= most => Ok(n),
        Some(Ok(_)) => Err(Refusal::Status(413)),
        _ => Err(Refusal::Status(400)),
    }
}

/// Some more bytes; an error when none came in time.
fn more(stream: &mut TcpStream, until: Instant, bytes: &mut Vec<u8>) -> Result<(), Refusal> {
    let left = until.saturating_duration_since(Instant::now());
    if left.is_zero() {
        return Err(Refusal::Gone);
    }
    let mut piece = [0; 16384];
    let read = stream
        .set_read_timeout(Some(left))
        .and_then(|()| stream.read(&mut piece));
    match read {
        Ok(0) | Err(_) => Err(Refusal::Gone),
        Ok(n) => {
            bytes.extend_from_slice(&piece[..n]);
            Ok(())
        }
    }
}

/// An answer, headers without their length.
#[derive(Debug)]
pub(super) struct Answer<'a> {
    /// 200 and the like.
    pub status: u16,
    /// Media type.
    pub kind: &'a str,
    /// Further header lines, each with its line end.
    pub more: &'a str,
    /// The body.
    pub body: &'a [u8],
}

impl<'a> Answer<'a> {
    /// A short sentence.
    pub(super) fn text(status: u16, body: &'a str) -> Self {
        Self {
            status,
            kind: "text/plain; charset=utf-8",
            more: "",
            body: body.as_bytes(),
        }
    }
    /// A page.
    pub(super) fn page(text: &'a str) -> Self {
        Self {
            kind: "text/html; charset=utf-8",
            ..Self::text(200, text)
        }
    }
}

impl Answer<'static> {
    /// Too many ask.
    pub(super) fn busy() -> Self {
        Self::text(503, "too many pages at once; close some and load again\n")
    }
}

/// Never kept by a cache, never guessed at, never framed, no address passed on.
const ALWAYS: &str = "Cache-Control: no-store\r\nX-Content-Type-Options: nosniff\r\n\
                      X-Frame-Options: DENY\r\nReferrer-Policy: no-referrer\r\n\
                      Cross-Origin-Resource-Policy: same-origin\r\nConnection: close\r\n";

/// Sends an answer.
pub(super) fn send(stream: &mut TcpStream, answer: &Answer<'_>) -> io::Result<()> {
    let head = format!(
        "HTTP/1.1 {} {}\r\nContent-Type: {}\r\nContent-Length: {}\r\n{ALWAYS}{}\r\n",
        answer.status,
        reason(answer.status),
        answer.kind,
        answer.body.len(),
        answer.more
    );
    stream.write_all(head.as_bytes())?;
    stream.write_all(answer.body)?;
    stream.flush()
}

/// Begins an answer that goes on until either side closes.
pub(super) fn begin_events(stream: &mut TcpStream) -> io::Result<()> {
    let head = format!("HTTP/1.1 200 OK\r\nContent-Type: text/event-stream\r\n{ALWAYS}\r\n");
    stream.write_all(head.as_bytes())
}

fn reason(status: u16) -> &'static str {
    match status {
        200 => "OK",
        400 => "Bad Request",
        403 => "Forbidden",
        404 => "Not Found",
        405 => "Method Not Allowed",
        409 => "Conflict",
        411 => "Length Required",
        413 => "Content Too Large",
        422 => "Unprocessable Content",
        431 => "Request Header Fields Too Large",
        503 => "Service Unavailable",
        _ => "Error",
    }
}
