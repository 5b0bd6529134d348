//! A folder: its parameter files with picture and verdict, and new ones.
//!
//! Input: the folder, a [`Keeper`], requests. Output: the page with the list, a [`Room`] for each
//! file that is looked at, and new files: from a starter, from answers, or as they were dropped on
//! the page. Looks at its own files only, no links and no folders below; a file that is there is
//! never written over.
//!
//! The files are computed one after the other, while nobody waits for a room.

use super::board::Board;
use super::fault;
use super::findings;
use super::http::{self, Answer};
use super::page::{HEAR, filled, policy};
use super::room::{self, Room};
use super::serve::Asked;
use super::source::base;
use super::watch::{Outside, Seen, outside, read};
use super::work::guarded;
use super::{Keeper, Maker, Model, Question, Stage, Turn};
use crate::base::Level;
use crate::base::finding::Change;
use crate::base::slug::slug;
use crate::spec::attached::MESH_FILES;
use crate::spec::shots::SHOTS;
use crate::spec::{self, LARGEST_FILE, edit, templates};
use crate::write::markup::escape;
use crate::write::report::{self, Scene, base64};
use serde::Deserialize;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, OpenOptions};
use std::io::{self, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// Most parameter files that are listed.
const MOST_FILES: usize = 200;
/// Most names of a folder that are looked at.
const MOST_NAMES: usize = 10_000;
/// Most files that are followed at a time.
const MOST_ROOMS: usize = 6;
/// The folder is looked at so often.
const BEAT: Duration = Duration::from_millis(400);
/// Endings of drawings and meshes that are taken.
const DRAWINGS: [&str; 2] = ["svg", "dxf"];
/// Longest name of a file that is taken.
const LONGEST_NAME: usize = 100;

const FRAME: &str = include_str!("folder.html");
const STYLE: &str = include_str!("folder.css");
const SCRIPT: &str = include_str!("folder.js");

/// What is known of a file.
#[derive(Debug, Clone, PartialEq)]
enum Known {
    /// It is no parameter file, and not listed.
    Other,
    /// Not computed yet.
    Waits,
    /// It is being computed.
    Begun,
    /// Title, verdict as markup, picture as an address with its bytes.
    Made(String, String, String),
    /// What is wrong with it.
    Fault(String),
}

#[derive(Debug, Clone)]
struct Card {
    /// The file and those that it names, from outside.
    stamp: Vec<Outside>,
    /// Files that it names.
    names: Vec<PathBuf>,
    known: Known,
}

/// A file that is followed.
struct Open {
    name: String,
    room: Arc<Room>,
    asked: Instant,
}

/// A folder that is served.
pub(super) struct Folder {
    path: PathBuf,
    key: String,
    page: String,
    keeper: Arc<dyn Keeper>,
    board: Board,
    cards: Mutex<BTreeMap<String, Card>>,
    rooms: Mutex<Vec<Open>>,
    /// Held while a file is written: two pages do not take one name.
    writing: Mutex<()>,
    stop: AtomicBool,
    thread: Mutex<Option<JoinHandle<()>>>,
}

fn lock<T>(m: &Mutex<T>) -> MutexGuard<'_, T> {
    // What these locks guard is whole after each step.
    m.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The name of a file in an address.
fn id(name: &str) -> String {
    base(name.as_bytes())
}

impl Folder {
    /// Begins to look at a folder.
    pub(super) fn open(path: &Path, key: &str, keeper: Arc<dyn Keeper>) -> io::Result<Arc<Self>> {
        let path = fs::canonicalize(path)?;
        let folder = Arc::new(Self {
            page: shell(key, &path),
            path,
            key: key.to_owned(),
            keeper,
            board: Board::default(),
            cards: Mutex::default(),
            rooms: Mutex::default(),
            writing: Mutex::default(),
            stop: AtomicBool::new(false),
            thread: Mutex::default(),
        });
        folder.look();
        folder.show();
        let at_work = folder.clone();
        let thread = thread::Builder::new()
            .name("folder".into())
            .spawn(move || at_work.work())?;
        *lock(&folder.thread) = Some(thread);
        Ok(folder)
    }

    /// Ends it and all its rooms.
    pub(super) fn close(&self) {
        self.stop.store(true, Ordering::SeqCst);
        self.board.close();
        let rooms = std::mem::take(&mut *lock(&self.rooms));
        rooms.iter().for_each(|open| open.room.close());
        if let Some(thread) = lock(&self.thread).take() {
            let _ = thread.join();
        }
    }

    fn work(&self) {
        while !self.stop.load(Ordering::SeqCst) {
            self.look();
            if self.resting() && self.compute_one() {
                continue;
            }
            thread::sleep(BEAT);
        }
    }

    /// Whether nobody waits for a room.
    fn resting(&self) -> bool {
        let waits = |open: &Open| open.room.looked_at() && open.room.busy();
        !lock(&self.rooms).iter().any(waits)
    }

    /// Parameter files of the folder: ordinary files, no links.
    fn names(&self) -> BTreeSet<String> {
        let Ok(all) = fs::read_dir(&self.path) else {
            return BTreeSet::new();
        };
        let names: BTreeSet<String> = all
            .take(MOST_NAMES)
            .filter_map(|entry| {
                let entry = entry.ok()?;
                let name = entry.file_name().into_string().ok()?;
                let shots = name.ends_with(SHOTS.trim_start_matches('*'));
                let ours = name.ends_with(".toml") && !shots && !name.starts_with('.');
                (ours && entry.file_type().ok()?.is_file()).then_some(name)
            })
            .collect();
        names.into_iter().take(MOST_FILES).collect()
    }

    /// Takes up what has changed in the folder.
    fn look(&self) {
        let names = self.names();
        // Pictures stay where they are: this is done again and again.
        let (seen, gone) = {
            let mut cards = lock(&self.cards);
            let before = cards.len();
            cards.retain(|name, _| names.contains(name));
            let outside = |(name, card): (&String, &Card)| {
                (name.clone(), (card.stamp.clone(), card.names.clone()))
            };
            let seen: BTreeMap<_, _> = cards.iter().map(outside).collect();
            (seen, cards.len() < before)
        };
        let mut changed = gone;
        for name in names {
            let file = self.path.join(&name);
            let stamp = |more: &[PathBuf]| -> Vec<Outside> {
                let all = std::iter::once(&file).chain(more);
                all.map(|f| outside(f)).collect()
            };
            if let Some((seen, more)) = seen.get(&name)
                && *seen == stamp(more)
            {
                continue;
            }
            let before = stamp(&[]);
            let (known, more) = match read(&file) {
                Seen::Gone(why) => (Known::Fault(why), Vec::new()),
                Seen::Text(text) if !is_parameter_file(&text) => (Known::Other, Vec::new()),
                Seen::Text(text) => {
                    let maker = self.keeper.maker(&file);
                    match maker.names(&text) {
                        Some(named) => {
                            let more = named.into_iter().map(|n| self.path.join(n)).collect();
                            (Known::Waits, more)
                        }
                        // What cannot be read is told at once.
                        None => (faulty(&*maker, &text), Vec::new()),
                    }
                }
            };
            let all = stamp(&more);
            // Written meanwhile: looked at again.
            if all[0] == before[0] {
                let card = Card {
                    stamp: all,
                    names: more,
                    known,
                };
                lock(&self.cards).insert(name, card);
                changed = true;
            }
        }
        if changed {
            self.show();
        }
    }

    fn show(&self) {
        let cards = lock(&self.cards);
        let list: Vec<Value> = (cards.iter())
            .filter_map(|(name, card)| shown(name, card))
            .collect();
        let files = json!({ "files": list, "most": MOST_FILES }).to_string();
        drop(cards);
        self.board.show(vec![("files", files)]);
    }

    /// Computes a file that waits; false when there is none.
    fn compute_one(&self) -> bool {
        let next = {
            let mut cards = lock(&self.cards);
            let waits = cards.iter_mut().find(|(_, c)| c.known == Known::Waits);
            waits.map(|(name, card)| {
                card.known = Known::Begun;
                (name.clone(), card.stamp.clone())
            })
        };
        let Some((name, stamp)) = next else {
            return false;
        };
        self.show();
        let file = self.path.join(&name);
        let own = || outside(&file) == stamp[0];
        let made: Mutex<Option<Known>> = Mutex::default();
        let given_up = AtomicBool::new(false);
        let go_on = || {
            let goes = !self.stop.load(Ordering::SeqCst) && self.resting() && own();
            given_up.fetch_or(!goes, Ordering::SeqCst);
            goes && lock(&made).is_none()
        };
        let known = match read(&file) {
            Seen::Gone(why) => Known::Fault(why),
            Seen::Text(text) => {
                let show = |model: Model| {
                    if model.stage == Stage::Done {
                        *lock(&made) = Some(known(&model));
                    }
                };
                let maker = self.keeper.maker(&file);
                match guarded(|| maker.follow(&text, &go_on, &show, &|_| {})) {
                    Err(trouble) => {
                        Known::Fault(fault::first(&String::from_utf8_lossy(&text), &trouble))
                    }
                    Ok(()) => match lock(&made).take() {
                        Some(known) => known,
                        // Given up for something else: once more, later.
                        None if given_up.load(Ordering::SeqCst) => Known::Waits,
                        None => Known::Fault("it could not be computed".into()),
                    },
                }
            }
        };
        let mut cards = lock(&self.cards);
        if let Some(card) = cards.get_mut(&name)
            && card.stamp == stamp
        {
            card.known = known;
        }
        drop(cards);
        self.show();
        true
    }

    /// Answers a request.
    pub(super) fn answer(
        &self,
        stream: &mut TcpStream,
        path: &str,
        asked: &Asked<'_>,
    ) -> io::Result<()> {
        if let Some((id, path)) = path
            .strip_prefix("/file/")
            .and_then(|rest| rest.split_at_checked(16))
        {
            return match self.room(id) {
                Ok(room) => room.answer(stream, path, asked),
                Err((status, why)) => http::send(stream, &Answer::text(status, why)),
            };
        }
        match (asked.request.method.as_str(), path) {
            ("GET", "/") => http::send(stream, &Answer::page(&self.page)),
            ("GET", "/events") => room::events(stream, &self.board, asked),
            ("POST", "/new" | "/ask" | "/drop") => {
                let (status, text) = match asked.own {
                    true => self.change(asked, path).unwrap_or_else(|refused| refused),
                    false => (403, "load the page again\n".into()),
                };
                http::send(stream, &Answer::text(status, &text))
            }
            (_, "/" | "/events" | "/new" | "/ask" | "/drop") => {
                http::send(stream, &Answer::text(405, "not in this way\n"))
            }
            _ => http::send(stream, &Answer::text(404, "nothing here\n")),
        }
    }

    /// The room of a file, opened when it was not.
    fn room(&self, wanted: &str) -> Result<Arc<Room>, (u16, &'static str)> {
        let mut rooms = lock(&self.rooms);
        if self.stop.load(Ordering::SeqCst) {
            return Err((503, "the program ends\n"));
        }
        if let Some(open) = rooms.iter_mut().find(|open| id(&open.name) == wanted) {
            open.asked = Instant::now();
            return Ok(open.room.clone());
        }
        let name = self.names().into_iter().find(|name| id(name) == wanted);
        let name = name.ok_or((404, "no such file in the folder\n"))?;
        if rooms.len() >= MOST_ROOMS {
            let oldest = (0..rooms.len())
                .filter(|i| !rooms[*i].room.looked_at())
                .min_by_key(|i| rooms[*i].asked);
            let oldest = oldest.ok_or((503, "too many files are open; close a page\n"))?;
            let open = rooms.remove(oldest);
            // What it computes is given up, which may take a moment.
            thread::spawn(move || open.room.close());
        }
        let file = self.path.join(&name);
        let room = Room::open(&file, &self.key, Some("../../"), self.keeper.maker(&file))
            .map_err(|_| (503, "no thread for another file; try again\n"))?;
        rooms.push(Open {
            name,
            room: room.clone(),
            asked: Instant::now(),
        });
        Ok(room)
    }

    /// Writes a file, or goes on with the interview: status and text; the error is one too.
    fn change(&self, asked: &Asked<'_>, path: &str) -> Result<(u16, String), (u16, String)> {
        let body = &asked.request.body;
        let unknown = |_| (400, "not understood\n".to_owned());
        match path {
            "/new" => {
                let new: New = serde_json::from_slice(body).map_err(unknown)?;
                self.starter(&new)
            }
            "/ask" => {
                let ask: Ask = serde_json::from_slice(body).map_err(unknown)?;
                self.ask(&ask)
            }
            _ => {
                let name = asked.request.header("x-file-name").unwrap_or_default();
                self.take(name, body)
            }
        }
    }

    fn starter(&self, new: &New) -> Result<(u16, String), (u16, String)> {
        let starter = templates::get(&new.starter)
            .ok_or((422, "there is no such starter file\n".to_owned()))?;
        let name = slug(&new.name);
        if name.is_empty() || name.len() > LONGEST_NAME {
            return Err((422, "a name of letters and digits is wanted\n".into()));
        }
        // Its package is named after it.
        let named = Change {
            key: "job.name".into(),
            given: None,
            to: Some(format!("\"{name}\"")),
        };
        let text = edit::apply(starter.text, &[named]).unwrap_or_else(|| starter.text.to_owned());
        let text = match name == starter.name {
            true => starter.text.to_owned(),
            false => text,
        };
        let _one = lock(&self.writing);
        let file = format!("{name}.toml");
        if self.there(&file) {
            return Err((409, exists(&file)));
        }
        // What it names first: with the parameter file all that belongs to it is there.
        for (beside, bytes) in starter.files {
            self.put(beside, bytes)?;
        }
        self.put(&file, text.as_bytes())?;
        Ok(self.written(&file))
    }

    fn ask(&self, ask: &Ask) -> Result<(u16, String), (u16, String)> {
        if let Some(given) = &ask.given
            && !is_plain(given)
        {
            return Err((400, "not understood\n".into()));
        }
        let turn = self
            .keeper
            .ask(&self.path, ask.given.as_deref(), &ask.answers);
        match turn {
            Turn::Open(question) => Ok((200, asked(&question))),
            Turn::Apart(why) => Err((422, format!("these answers do not go together: {why}\n"))),
            Turn::Done(name, text) => {
                let _one = lock(&self.writing);
                let file = format!("{}.toml", slug(&name));
                self.put(&file, text.as_bytes())?;
                Ok(self.written(&file))
            }
        }
    }

    /// Takes a file that was dropped on the page.
    fn take(&self, name: &str, bytes: &[u8]) -> Result<(u16, String), (u16, String)> {
        let ending = name.rsplit_once('.').map_or("", |(_, e)| e);
        let ending = ending.to_ascii_lowercase();
        let drawn = DRAWINGS.contains(&ending.as_str()) || MESH_FILES.contains(&ending.as_str());
        if !is_plain(name) || !(drawn || ending == "toml") {
            let wanted = "a drawing (SVG, DXF), a mesh (STL, OBJ, 3MF) or a parameter file (TOML)";
            return Err((422, format!("{name} is not taken: {wanted} is wanted\n")));
        }
        if ending == "toml" && (bytes.len() as u64 > LARGEST_FILE || !is_parameter_file(bytes)) {
            return Err((422, format!("{name} is no parameter file\n")));
        }
        let _one = lock(&self.writing);
        self.put(name, bytes)?;
        match drawn {
            true => Ok((200, json!({ "given": name }).to_string())),
            false => Ok(self.written(name)),
        }
    }

    fn there(&self, name: &str) -> bool {
        self.path.join(name).symlink_metadata().is_ok()
    }

    /// Writes a file that is not there; the same file will do.
    fn put(&self, name: &str, bytes: &[u8]) -> Result<(), (u16, String)> {
        let path = self.path.join(name);
        let fresh = OpenOptions::new().write(true).create_new(true).open(&path);
        let written = match fresh {
            Err(e) if e.kind() == io::ErrorKind::AlreadyExists => {
                let about = path.symlink_metadata().ok();
                let ours = about.is_some_and(|m| m.is_file() && m.len() == bytes.len() as u64);
                return match ours && fs::read(&path).is_ok_and(|b| b == bytes) {
                    true => Ok(()),
                    false => Err((409, exists(name))),
                };
            }
            Err(e) => Err(e),
            Ok(mut file) => file.write_all(bytes).inspect_err(|_| {
                // Half a file is none.
                let _ = fs::remove_file(&path);
            }),
        };
        written.map_err(|e| (422, format!("{name} cannot be written: {e}\n")))
    }

    /// The answer with the page of a file that has been written.
    fn written(&self, file: &str) -> (u16, String) {
        self.look();
        (
            200,
            json!({ "open": format!("file/{}/", id(file)) }).to_string(),
        )
    }
}

fn exists(name: &str) -> String {
    format!("{name} exists and is left as it is; take another name\n")
}

fn asked(question: &Question) -> String {
    json!({ "question": question }).to_string()
}

/// A name without folders, that no system reads in another way.
fn is_plain(name: &str) -> bool {
    let plain = |c: char| c.is_ascii_alphanumeric() || "._-".contains(c);
    name.len() <= LONGEST_NAME
        && name.chars().all(plain)
        && name.starts_with(|c: char| c.is_ascii_alphanumeric())
}

/// A text in another encoding is one with a fault.
fn is_parameter_file(text: &[u8]) -> bool {
    std::str::from_utf8(text).map_or(true, spec::is_parameter_file)
}

/// Why a text is not made.
fn faulty(maker: &dyn Maker, text: &[u8]) -> Known {
    match maker.follow(text, &|| false, &|_| {}, &|_| {}) {
        Err(trouble) => Known::Fault(fault::first(&String::from_utf8_lossy(text), &trouble)),
        Ok(()) => Known::Waits,
    }
}

fn known(model: &Model) -> Known {
    let scene = Scene {
        design: &model.design,
        solids: &model.facts,
        meshes: &model.meshes,
        marked: &[],
    };
    let found = &model.design.findings;
    let mut told = findings::verdict(found, Stage::Done);
    let worst = found.iter().find(|f| f.level != Level::Note);
    if let Some(worst) = worst {
        told.push_str(&format!("<p class=\"worst\">{}</p>\n", escape(&worst.what)));
    }
    let picture = match report::picture(&scene) {
        bytes if bytes.is_empty() => String::new(),
        bytes => format!("data:image/png;base64,{}", base64(&bytes)),
    };
    Known::Made(model.design.title.clone(), told, picture)
}

/// What a page is told of a file that is listed.
fn shown(name: &str, card: &Card) -> Option<Value> {
    let mut out = json!({ "open": format!("file/{}/", id(name)), "file": name });
    let (state, title, told, picture) = match &card.known {
        Known::Other => return None,
        Known::Waits => ("waits", "", "", ""),
        Known::Begun => ("begun", "", "", ""),
        Known::Made(title, told, picture) => {
            ("made", title.as_str(), told.as_str(), picture.as_str())
        }
        Known::Fault(why) => ("fault", "", why.as_str(), ""),
    };
    for (key, value) in [
        ("state", state),
        ("title", title),
        ("told", told),
        ("picture", picture),
    ] {
        out[key] = value.into();
    }
    Some(out)
}

/// A file from a starter.
#[derive(Deserialize)]
struct New {
    starter: String,
    name: String,
}

/// The interview so far.
#[derive(Deserialize)]
struct Ask {
    given: Option<String>,
    answers: Vec<String>,
}

fn shell(key: &str, folder: &Path) -> String {
    let name = folder
        .file_name()
        .map_or_else(|| folder.to_string_lossy(), |n| n.to_string_lossy());
    let starters: String = templates::list()
        .iter()
        .map(|t| {
            format!(
                "<option value=\"{0}\">{0}: {1}</option>\n",
                t.name,
                escape(t.about)
            )
        })
        .collect();
    let script = format!("\n{HEAR}{SCRIPT}");
    let policy = policy(&script);
    filled(
        FRAME,
        &[
            ("{policy}", &policy),
            ("{style}", &format!("{}{STYLE}", report::STYLE)),
            ("{key}", &escape(key)),
            ("{folder}", &escape(&name)),
            ("{starters}", &starters),
            ("{script}", &script),
        ],
    )
}
