//! The live page: follows the parameter file and shows its solids, findings and fill.
//!
//! Input: the path of a parameter file, and a [`Maker`] that turns its text into a
//! [`Model`]; or a folder with such files, and a [`Keeper`]. Output: a page on one address of this
//! machine. Nothing is read from disk by an address; the page is one text, and pushes carry what
//! changed, also against the save before ([`versions`]).
//!
//! The way of a save: [`watch`] sees the file, or one that it names, change → [`work`] makes solids and findings,
//! then the fill, and drops either when a newer save comes → [`board`] holds what is to be
//! seen → [`room`] pushes it to every page. A [`folder`] lists its files, opens a room for each that
//! is looked at, and writes new ones.
//!
//! # Limits
//! A browser opens about six connections to one address: pages in hidden tabs let go of
//! theirs and come back when looked at.

mod board;
mod fault;
mod findings;
mod folder;
mod http;
mod numbers;
mod page;
mod ranges;
mod room;
mod rows;
mod serve;
mod shares;
mod source;
mod studies;
mod versions;
mod watch;
mod work;

use crate::base::Diagnostics;
use crate::design::Design;
use crate::process::ProcessReport;
use crate::process::study::Study;
use crate::solid::TaggedMesh;
use crate::write::design_json::SolidFacts;
use crate::write::package::Package;
use crate::write::report::MarkedArea;
use serde::Serialize;
use std::collections::BTreeMap;
use std::io;
use std::net::{IpAddr, SocketAddr, TcpListener};
use std::path::{Path, PathBuf};
use std::sync::Arc;

pub use serve::Running;
pub(crate) use source::replace;

/// What is shown of one state of the file.
#[derive(Debug, Clone)]
pub struct Model {
    /// The design with the findings of every stage that has run.
    pub design: Design,
    /// The process computation; none with the solids alone, without a fill until it is done.
    pub process: Option<ProcessReport>,
    /// Volumes and masses.
    pub facts: Vec<SolidFacts>,
    /// Name and mesh of each solid.
    pub meshes: Vec<(String, TaggedMesh)>,
    /// Areas of the solids that are shown apart.
    pub marked: Vec<MarkedArea>,
    /// Estimated work on each plate by its name, minutes; empty until it is planned.
    pub minutes: BTreeMap<String, f64>,
    /// False when the solids are those of the model shown before: they are not sent again.
    pub new_solids: bool,
    /// How far it has come.
    pub stage: Stage,
}

/// How far a model has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// Solids to look at: coarser than those that are written, and not yet checked.
    Solids,
    /// With every finding that needs no fill; shown again when the solids are those that are
    /// written.
    Checked,
    /// Everything.
    Done,
}

/// Why there is no model.
#[derive(Debug)]
pub enum Trouble {
    /// The parameter file is at fault.
    Input(Diagnostics),
    /// The program is at fault.
    Internal(String),
}

/// Makes models of texts; called from one thread at a time, [`Maker::package`] from any.
pub trait Maker: Send + Sync {
    /// Makes a text's models one after the other and shows each: solids, findings, fill. A
    /// stage that is known already may be left out. `go_on` is asked again and again; when it
    /// says no, this ends soon. `told`: the share of the fill that is done, 0 to 1.
    ///
    /// # Errors
    /// See [`Trouble`].
    fn follow(
        &self,
        text: &[u8],
        go_on: &(dyn Fn() -> bool + Sync),
        show: &(dyn Fn(Model) + Sync),
        told: &(dyn Fn(f64) + Sync),
    ) -> Result<(), Trouble>;
    /// The files that the text names, relative to the parameter file's folder; `None` when it
    /// cannot be understood.
    fn names(&self, text: &[u8]) -> Option<Vec<String>>;
    /// A study of a text: one or two of its values varied, each as `KEY=FROM..TO:STEPS` or
    /// `KEY=A,B,C`. `told`: runs that are done, and all; false from it ends the study.
    ///
    /// # Errors
    /// What is wrong with the values or the text; a sentence.
    fn study(
        &self,
        text: &[u8],
        vary: &[String],
        told: &(dyn Fn(usize, usize) -> bool + Sync),
    ) -> Result<Study, String>;
    /// The whole package and its name.
    ///
    /// # Errors
    /// See [`Trouble`].
    fn package(&self, text: &[u8]) -> Result<(String, Package), Trouble>;
}

/// Knows the files of a folder: how each is made, and how a new one begins.
pub trait Keeper: Send + Sync {
    /// Makes models of a file in the folder.
    fn maker(&self, file: &Path) -> Arc<dyn Maker>;
    /// The interview that ends in a parameter file, with the answers so far. `given`: a drawing or
    /// mesh in the folder that the part comes from.
    fn ask(&self, folder: &Path, given: Option<&str>, answers: &[String]) -> Turn;
}

/// A question of the interview.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Question {
    /// The question.
    pub ask: String,
    /// What no answer means.
    pub usual: String,
    /// What can be chosen, each with what it is; none: anything.
    pub words: Vec<(String, String)>,
    /// What was said since the last answer, such as what is wrong with it.
    pub said: String,
}

/// Where the interview is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Turn {
    /// This is to be answered.
    Open(Question),
    /// All is known: the name of the job and the file's text.
    Done(String, String),
    /// Each answer was good, but they do not go together: why.
    Apart(String),
}

/// What is followed.
pub enum Follow {
    /// One parameter file.
    File(Arc<dyn Maker>),
    /// Those of a folder.
    Folder(Arc<dyn Keeper>),
}

/// What to follow, and where to show it.
#[derive(Debug, Clone)]
pub struct Options {
    /// The parameter file, or the folder.
    pub path: PathBuf,
    /// The address to listen at.
    pub address: IpAddr,
    /// The port; `None`: the first free one from [`FIRST_PORT`] on.
    pub port: Option<u16>,
}

/// Where free ports are looked for.
pub const FIRST_PORT: u16 = 7411;
/// How many ports are tried.
const PORTS: u16 = 20;

/// Why the page could not be served.
#[derive(Debug, thiserror::Error)]
pub enum LiveError {
    /// The port cannot be had.
    #[error("{address} cannot be listened at: {source}")]
    Port {
        /// Address with port.
        address: SocketAddr,
        /// What the system said.
        source: io::Error,
    },
    /// The folder of the file cannot be watched, or there are no random numbers.
    #[error("{what}: {why}")]
    System {
        /// What was wanted.
        what: &'static str,
        /// What the system said.
        why: String,
    },
}

/// Begins to follow the file or folder; returns at once. The page lives until [`Running::stop`].
///
/// # Errors
/// See [`LiveError`].
pub fn start(options: &Options, follow: Follow) -> Result<Running, LiveError> {
    let listener = listen(options)?;
    let mut random = [0; 16];
    getrandom::fill(&mut random).map_err(|e| LiveError::System {
        what: "no random numbers for the page's key",
        why: e.to_string(),
    })?;
    let key: String = random.iter().map(|b| format!("{b:02x}")).collect();
    serve::start(listener, options, key, follow)
}

fn listen(options: &Options) -> Result<TcpListener, LiveError> {
    let at = |port| SocketAddr::new(options.address, port);
    let bind = |port| {
        TcpListener::bind(at(port)).map_err(|source| LiveError::Port {
            address: at(port),
            source,
        })
    };
    match options.port {
        Some(port) => bind(port),
        None => {
            let first = bind(FIRST_PORT);
            (FIRST_PORT + 1..FIRST_PORT + PORTS)
                .fold(first, |had, port| had.or_else(|_| bind(port)))
        }
    }
}
