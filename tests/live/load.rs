//! Many pages, many saves, slow readers: bounded while they last, nothing left afterwards.

use crate::bench::{Events, Quick, bench, status, thick};
use std::fs;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

/// Threads and resident memory (kB) of this process, where the system tells.
fn threads_and_memory() -> Option<(u64, u64)> {
    let text = fs::read_to_string("/proc/self/status").ok()?;
    let field = |name: &str| -> Option<u64> {
        let line = text.lines().find(|l| l.starts_with(name))?;
        line.split_whitespace().nth(1)?.parse().ok()
    };
    Some((field("Threads:")?, field("VmRSS:")?))
}

/// Everybody sees the last save, slow readers and half requests are let go, and memory is
/// flat. `PLATEWRIGHT_NIGHTLY=1`: 50 pages and 1 000 saves.
#[test]
fn many_pages_and_saves_leave_nothing_behind() {
    let night = std::env::var("PLATEWRIGHT_NIGHTLY").is_ok_and(|v| v == "1");
    let (pages, saves) = if night { (50_u32, 1000_u32) } else { (12, 60) };
    let b = bench(Quick::default());
    b.events().phase("done");
    // Peers that take nothing, or never end their request.
    let slow: Vec<Events> = (0..10).map(|_| b.events()).collect();
    let half: Vec<TcpStream> = (0..10)
        .map(|_| {
            let mut s = b.connect();
            s.write_all(b"GET / HTTP/1.1\r\nHost:").expect("sent");
            s
        })
        .collect();
    let at = |i: u32| 4.0 + f64::from(i) / 1000.0;
    let readers: Vec<_> = (0..pages)
        .map(|_| {
            let mut events = b.events();
            std::thread::spawn(move || events.thickness(at(saves)))
        })
        .collect();
    let mut half_way = None;
    for i in 1..=saves {
        b.save(&thick(at(i)));
        if i % 20 == 0 {
            b.raw(b"nonsense\r\n\r\n");
        }
        std::thread::sleep(Duration::from_millis(5));
        if i == saves / 2 {
            half_way = threads_and_memory();
        }
    }
    for r in readers {
        r.join().expect("saw the last save");
    }
    let open = b.page.connections();
    assert!(open <= pages as usize + 30, "{open} connections");
    if let (Some((threads, before)), Some((_, now))) = (half_way, threads_and_memory()) {
        println!("half way {threads} threads and {before} kB, at the end {now} kB");
        // A thread a page and two of the test's own; a leak of one page's parts a save
        // would be 60 kB × saves × pages.
        assert!(
            now < before + 60_000,
            "{before} kB half way, {now} kB at the end"
        );
    }
    drop((slow, half));
    // A stream notices at its next word that nobody is there.
    let until = Instant::now() + Duration::from_secs(60);
    let mut i = saves;
    while b.page.connections() > 0 && Instant::now() < until {
        i += 1;
        b.save(&thick(at(i)));
        std::thread::sleep(Duration::from_millis(200));
    }
    assert_eq!(b.page.connections(), 0);
}

#[test]
fn more_pages_than_there_is_room_for_are_told_so() {
    let b = bench(Quick::default());
    b.events().phase("done");
    let mut open = Vec::new();
    let mut refused = 0;
    for _ in 0..220 {
        let mut s = b.connect();
        let ask = format!(
            "GET {}/events HTTP/1.1\r\nHost: {}\r\n\r\n",
            b.prefix, b.address
        );
        let _ = s.write_all(ask.as_bytes());
        let mut head = [0; 12];
        if s.read_exact(&mut head).is_ok() && &head[9..] == b"200" {
            open.push(s);
        } else {
            refused += 1;
        }
    }
    assert!(
        open.len() <= 128 && refused >= 92,
        "{} {refused}",
        open.len()
    );
    // The page itself still comes.
    assert_eq!(status(&b.get("/")), "200");
}
