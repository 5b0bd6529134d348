//! A page on a bench: a file of its own, a quick maker, and somebody who asks and listens.

use platewright::design::{Hints, design};
use platewright::live::{self, Follow, Maker, Model, Options, Running, Stage, Trouble};
use platewright::process::study::Study;
use platewright::process::{ProcessOptions, process};
use platewright::spec;
use platewright::write::package::Package;
use serde_json::Value;
use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpStream};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, OnceLock};
use std::time::{Duration, Instant};
use tempfile::TempDir;

pub(crate) const TEXT: &str = "# a disk\n[job]\nname = \"disk\"\n[machine]\nbarrel_bore = 26\nstroke = 120\nhand_force = \"250 N\" # one person\n\
                        lever_ratio = 10\n[nozzle]\nthread = \"G 1/2\"\n[part]\nthickness = 4   # four\noutline = { shape = \"circle\", diameter = 60 }\n";

/// The text with another thickness.
pub(crate) fn thick(value: f64) -> String {
    TEXT.replace("= 4 ", &format!("= {value} "))
}

/// Reads the text for real, but designs only once: what is tested is the page.
#[derive(Default)]
pub(crate) struct Quick {
    /// Fills that were given up.
    pub given_up: AtomicUsize,
    /// Texts that were looked at.
    pub looks: AtomicUsize,
    /// How long a fill takes.
    pub fill: Duration,
}

/// The model of the usual text, without solids and fill.
fn usual() -> Model {
    static MODEL: OnceLock<Model> = OnceLock::new();
    let made = MODEL.get_or_init(|| {
        let job = spec::read(TEXT).expect("a job");
        let design = design(&job, "disk", &Hints::default()).expect("a design");
        let options = ProcessOptions {
            fill: false,
            cells: 100,
            ..ProcessOptions::default()
        };
        Model {
            process: process(&design, &options, &|_| true).ok(),
            design,
            facts: Vec::new(),
            meshes: Vec::new(),
            marked: Vec::new(),
            minutes: Default::default(),
            new_solids: true,
            stage: Stage::Done,
        }
    });
    made.clone()
}

impl Quick {
    fn model(text: &[u8], stage: Stage) -> Result<Model, Trouble> {
        spec::read_bytes(text).map_err(Trouble::Input)?;
        Ok(Model { stage, ..usual() })
    }
}

impl Maker for Quick {
    fn follow(
        &self,
        text: &[u8],
        go_on: &(dyn Fn() -> bool + Sync),
        show: &(dyn Fn(Model) + Sync),
        _: &(dyn Fn(f64) + Sync),
    ) -> Result<(), Trouble> {
        self.looks.fetch_add(1, Ordering::SeqCst);
        if text.windows(5).any(|w| w == b"PANIC") {
            panic!("on purpose");
        }
        show(Self::model(text, Stage::Checked)?);
        let until = Instant::now() + self.fill;
        while Instant::now() < until {
            if !go_on() {
                self.given_up.fetch_add(1, Ordering::SeqCst);
                return Ok(());
            }
            std::thread::sleep(Duration::from_millis(1));
        }
        show(Self::model(text, Stage::Done)?);
        Ok(())
    }
    fn names(&self, text: &[u8]) -> Option<Vec<String>> {
        let text = std::str::from_utf8(text).ok()?;
        let named = text.lines().filter_map(|l| l.strip_prefix("# beside: "));
        Some(named.map(str::to_owned).collect())
    }
    fn study(
        &self,
        _: &[u8],
        vary: &[String],
        told: &(dyn Fn(usize, usize) -> bool + Sync),
    ) -> Result<Study, String> {
        for done in 0..200 {
            if !told(done, 200) {
                break;
            }
            std::thread::sleep(Duration::from_millis(5));
        }
        match vary {
            [one] if one == "part.thickness=2..5" => Ok(Study {
                sweeps: Vec::new(),
                rows: Vec::new(),
                missing: 0,
            }),
            _ => Err("an unknown key".into()),
        }
    }
    fn package(&self, text: &[u8]) -> Result<(String, Package), Trouble> {
        let mut p = Package::default();
        p.add("disk.toml", text);
        Ok(("disk".into(), p))
    }
}

/// A file, and a page that follows it.
pub(crate) struct Bench {
    folder: TempDir,
    pub file: PathBuf,
    pub maker: Arc<Quick>,
    pub page: Running,
    pub address: SocketAddr,
    /// What stands before every path: `/KEY`.
    pub prefix: String,
}

/// The usual page of the usual text.
pub(crate) fn bench(maker: Quick) -> Bench {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("disk.toml");
    fs::write(&file, TEXT).expect("written");
    at(folder, file, Ipv4Addr::LOCALHOST, maker)
}

/// A page of a file, at an address.
pub(crate) fn at(folder: TempDir, file: PathBuf, ip: Ipv4Addr, maker: Quick) -> Bench {
    let maker = Arc::new(maker);
    let follow = Follow::File(maker.clone());
    begun(folder, file, ip, (maker, follow))
}

/// The page of a folder that has been filled.
pub(crate) fn folder(fill: impl Fn(&Path)) -> Bench {
    let folder = tempfile::tempdir().expect("a folder");
    fill(folder.path());
    let (path, ip) = (folder.path().to_owned(), Ipv4Addr::LOCALHOST);
    let follow = Follow::Folder(Arc::new(crate::folder::Two));
    begun(folder, path, ip, (Arc::new(Quick::default()), follow))
}

fn begun(
    folder: TempDir,
    file: PathBuf,
    ip: Ipv4Addr,
    (maker, follow): (Arc<Quick>, Follow),
) -> Bench {
    let options = Options {
        path: file.clone(),
        address: ip.into(),
        port: Some(0),
    };
    let page = live::start(&options, follow).expect("a page");
    let url = page.url();
    let place = url.split('/').nth(2).expect("a place");
    let prefix = format!("/{}", url.split('/').nth(3).expect("a key"));
    let port = place.rsplit_once(':').expect("a port").1.parse();
    Bench {
        folder,
        file,
        maker,
        page,
        address: SocketAddr::new(Ipv4Addr::LOCALHOST.into(), port.expect("a number")),
        prefix,
    }
}

impl Drop for Bench {
    fn drop(&mut self) {
        self.page.stop();
    }
}

impl Bench {
    pub(crate) fn connect(&self) -> TcpStream {
        let s = TcpStream::connect(self.address).expect("connected");
        s.set_read_timeout(Some(Duration::from_secs(30)))
            .expect("set");
        s
    }
    /// Sends bytes as they are, and no more; the whole answer.
    pub(crate) fn raw(&self, bytes: &[u8]) -> String {
        let mut s = self.connect();
        // A refusal may come before everything is sent.
        let _ = s.write_all(bytes);
        let _ = s.shutdown(std::net::Shutdown::Write);
        let mut answer = Vec::new();
        let _ = s.read_to_end(&mut answer);
        String::from_utf8_lossy(&answer).into_owned()
    }
    /// What stands behind the key.
    pub(crate) fn get(&self, path: &str) -> String {
        self.bare(&format!("{}{path}", self.prefix))
    }
    /// Any path.
    pub(crate) fn bare(&self, path: &str) -> String {
        self.raw(format!("GET {path} HTTP/1.1\r\nHost: {}\r\n\r\n", self.address).as_bytes())
    }
    /// The key that the page itself was given.
    pub(crate) fn key(&self) -> String {
        let page = self.get("/");
        let at = page.find("data-key=\"").expect("a key") + 10;
        page[at..at + 32].to_owned()
    }
    pub(crate) fn post(&self, path: &str, more: &str, body: &str) -> String {
        let head = format!(
            "POST {}{path} HTTP/1.1\r\nHost: {}\r\nContent-Length: {}\r\n{more}\r\n",
            self.prefix,
            self.address,
            body.len()
        );
        self.raw(format!("{head}{body}").as_bytes())
    }
    /// Where its files are.
    pub(crate) fn folder(&self) -> &Path {
        self.folder.path()
    }
    pub(crate) fn save(&self, text: &str) {
        fs::write(&self.file, text).expect("written");
    }
    pub(crate) fn events(&self) -> Events {
        self.events_at("/events")
    }
    pub(crate) fn events_at(&self, path: &str) -> Events {
        let mut s = self.connect();
        let (key, host) = (&self.prefix, self.address);
        s.write_all(format!("GET {key}{path} HTTP/1.1\r\nHost: {host}\r\n\r\n").as_bytes())
            .expect("asked");
        Events(BufReader::new(s))
    }
}

/// A page's stream.
pub(crate) struct Events(BufReader<TcpStream>);

impl Events {
    /// The next part; an empty one now and then, so that who waits can give up.
    fn next(&mut self) -> (String, Value) {
        let mut name = String::new();
        loop {
            let mut line = String::new();
            let n = self.0.read_line(&mut line).expect("a line in time");
            assert!(n > 0, "the stream ended");
            let line = line.trim_end();
            if let Some(n) = line.strip_prefix("event: ") {
                n.clone_into(&mut name);
            } else if line.starts_with(':') {
                return (String::new(), Value::Null);
            } else if let Some(data) = line.strip_prefix("data: ") {
                return (name, serde_json::from_str(data).expect("JSON"));
            }
        }
    }
    /// The next part of this name for which `wanted` holds.
    pub(crate) fn wait(&mut self, part: &str, wanted: impl Fn(&Value) -> bool) -> Value {
        let until = Instant::now() + Duration::from_secs(120);
        loop {
            assert!(Instant::now() < until, "no such {part} came");
            let (name, value) = self.next();
            if name == part && wanted(&value) {
                return value;
            }
        }
    }
    pub(crate) fn phase(&mut self, phase: &str) -> Value {
        self.wait("state", |s| s["phase"] == phase)
    }
    /// A fault that says this.
    pub(crate) fn fault(&mut self, words: &str) {
        self.wait("fault", |f| f.as_str().is_some_and(|t| t.contains(words)));
    }
    /// The thickness of the part, once it is this.
    pub(crate) fn thickness(&mut self, value: f64) {
        self.wait("numbers", |all| {
            let all = all.as_array().expect("a list");
            all.iter()
                .any(|n| n["key"] == "part.thickness" && n["value"] == value)
        });
    }
}

/// The three digits of an answer.
pub(crate) fn status(answer: &str) -> &str {
    answer.get(9..12).unwrap_or("none")
}
