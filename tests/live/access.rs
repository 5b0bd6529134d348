//! Who may ask for what, and what nonsense gets.

use crate::bench::{Quick, TEXT, at, bench, status};
use platewright::write::report::base64;
use sha2::{Digest, Sha256};
use std::fs;
use std::net::Ipv4Addr;

#[test]
fn only_this_machine_by_its_number_may_ask() {
    let b = bench(Quick::default());
    let port = b.address.port();
    let asked = |host: &str| {
        let answer = b.raw(format!("GET {}/ HTTP/1.1\r\n{host}\r\n", b.prefix).as_bytes());
        status(&answer).to_owned()
    };
    for good in ["127.0.0.1", "localhost", "LOCALHOST", "[::1]", "127.0.0.2"] {
        assert_eq!(asked(&format!("Host: {good}:{port}\r\n")), "200", "{good}");
    }
    for bad in [
        String::new(),
        "Host: \r\n".into(),
        "Host: localhost\r\n".into(),
        format!("Host: localhost:{}\r\n", port ^ 1),
        format!("Host: shed.example:{port}\r\n"),
        format!("Host: localhost.shed.example:{port}\r\n"),
        format!("Host: 192.168.1.5:{port}\r\n"),
        format!("Host: 127.0.0.1.shed.example:{port}\r\n"),
        format!("Host: localhost:{port}\r\nHost: localhost:{port}\r\n"),
    ] {
        assert_eq!(asked(&bad), "403", "{bad}");
    }
}

#[test]
fn nothing_is_read_by_an_address() {
    let b = bench(Quick::default());
    b.events().phase("done");
    for path in [
        "/disk.toml",
        "/../disk.toml",
        "/..%2f..%2fetc/passwd",
        "//etc/passwd",
        "/./",
        "/events/..",
        "/package.zip/../../x",
        "/%00",
        "/C:\\x",
        "/index.html",
        "/favicon.ico",
    ] {
        let answer = b.get(path);
        assert_eq!(status(&answer), "404", "{path}");
        assert!(!answer.contains("thickness"), "{path}");
    }
    let zipped = b.get("/package.zip");
    assert_eq!(status(&zipped), "200");
    assert!(zipped.contains("filename=\"disk.zip\""));
    for method in ["POST / ", "DELETE /events ", "PUT /write ", "GET /write "] {
        let method = method.replace('/', &format!("{}/", b.prefix));
        let request = format!("{method}HTTP/1.1\r\nHost: {}\r\n\r\n", b.address);
        assert_eq!(status(&b.raw(request.as_bytes())), "405", "{method}");
    }
}

#[test]
fn nonsense_is_refused_and_leaves_nothing_behind() {
    let b = bench(Quick::default());
    let host = format!("Host: {}\r\n", b.address);
    let long = "x".repeat(20_000);
    let many = "a: b\r\n".repeat(100);
    let post = format!("POST {}/write HTTP/1.1\r\n{host}", b.prefix);
    for (request, wanted) in [
        ("\r\n\r\n\r\n".to_owned(), "none"),
        ("\u{16}\u{3}\u{1}\u{2}\0\u{1}\0\u{1}\u{3}".into(), "400"),
        ("GET\r\n\r\n".into(), "400"),
        ("GET / HTTP/9.9\r\n\r\n".into(), "400"),
        (format!("GET /{long} HTTP/1.1\r\n"), "431"),
        (format!("GET / HTTP/1.1\r\n{many}\r\n"), "431"),
        (format!("GET / HTTP/1.1\r\nbad header\r\n{host}\r\n"), "400"),
        (
            format!("{post}Content-Length: 99999999999999999999\r\n\r\n"),
            "400",
        ),
        (format!("{post}Content-Length: -1\r\n\r\n"), "400"),
        (format!("{post}Content-Length: 9000000\r\n\r\n"), "413"),
        (
            format!("{post}Content-Length: 1\r\nContent-Length: 2\r\n\r\nxx"),
            "400",
        ),
        (
            format!("{post}Transfer-Encoding: chunked\r\n\r\n0\r\n\r\n"),
            "411",
        ),
    ] {
        let answer = b.raw(request.as_bytes());
        let shown: String = request.chars().take(60).collect();
        // Bytes that were left unread may cut the answer off; then it is none.
        let got = status(&answer);
        assert!(got == wanted || got == "none", "{shown}: {got}");
    }
    assert_eq!(status(&b.get("/")), "200");
}

#[test]
fn only_the_printed_address_tells_the_key() {
    for ip in [Ipv4Addr::LOCALHOST, Ipv4Addr::UNSPECIFIED] {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("disk.toml");
        fs::write(&file, TEXT).expect("written");
        let b = at(folder, file, ip, Quick::default());
        let url = b.page.url();
        let key = url.split('/').nth(3).expect("a key").to_owned();
        assert_eq!(key.len(), 32);
        for bad in [
            "/",
            "/events",
            "/package.zip",
            "/numbers",
            "/0123456789abcdef0123456789abcdef/",
        ] {
            let answer = b.bare(bad);
            assert_eq!(status(&answer), "404", "{bad}");
            assert!(!answer.contains(&key), "{bad}");
        }
        assert_eq!(status(&b.get("/")), "200");
        let port = b.address.port();
        let by_name = format!("GET /{key}/ HTTP/1.1\r\nHost: shed.example:{port}\r\n\r\n");
        assert_eq!(status(&b.raw(by_name.as_bytes())), "403");
        // Another number of this machine is known only where others may ask.
        let other = format!("GET /{key}/ HTTP/1.1\r\nHost: 192.168.1.5:{port}\r\n\r\n");
        let wanted = if ip.is_loopback() { "403" } else { "200" };
        assert_eq!(status(&b.raw(other.as_bytes())), wanted);
    }
}

#[test]
fn the_frame_lets_only_its_own_script_run() {
    let b = bench(Quick::default());
    let page = b.get("/");
    let from = page.rfind("<script>").expect("a script") + 8;
    let script = &page[from..page.rfind("</script>").expect("its end")];
    let hash = base64(&Sha256::digest(script.as_bytes()));
    assert!(page.contains(&format!("script-src 'sha256-{hash}'")));
    assert!(page.contains("default-src 'none'"));
    assert!(!page.contains("http://") && !page.contains("https://"));
}
