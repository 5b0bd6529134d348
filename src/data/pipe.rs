//! Pipe threads G, Rp, Rc and NPT: what the nozzle of the machine screws into.
//!
//! Input: a family and a nominal size. Output: diameters at any depth, lengths,
//! tap drills, the designation for a drawing. Millimetres.
//! Does not decide whether a joint holds or seals; that is `design` and `process`.
//!
//! G and Rp share form and basic sizes but not tolerances; of the four 1/2 drills
//! (G 19.0, Rp 18.75, NPT 18.26, Rc 17.9) none serves another family.

use super::cited::Confidence;
pub use super::family::{FamilyRow, PipeFamily, Profile, TAPER};
use super::pipe_tables::{TapDrill, g_threads, iso7_threads, npt_threads, tap_drills};
use serde::Serialize;

/// A pipe thread as written: "G 1/2", "Rc 3/8", "1/2 NPT".
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize)]
pub struct PipeThread {
    /// Family.
    pub family: PipeFamily,
    /// Nominal size as in the standards: "1/8", "1/4", "3/8", "1/2", "3/4", "1", "1 1/4".
    pub size: String,
}

impl crate::base::decision::Written for PipeThread {
    fn written(&self) -> Option<String> {
        self.designation().written()
    }
}

impl PipeThread {
    /// Reads what a person writes: `G 1/2`, `g1/2`, `Rc 1 1/4`, `1/2 NPT`, `1/2-14 NPT`,
    /// `NPT 1/2`, with or without inch marks. `None` for anything else, and for a size
    /// that is not in the tables.
    pub fn parse(text: &str) -> Option<Self> {
        let (family, size, tpi) = PipeFamily::ALL
            .into_iter()
            .find_map(|f| size_and_tpi(text, f.letters()).map(|(s, t)| (f, s, t)))?;
        let thread = Self { family, size };
        let form = thread.form()?;
        tpi.is_none_or(|t| (t - form.tpi).abs() < 1e-9)
            .then_some(thread)
    }

    /// The designation for a drawing (ISO 6410-1 practice): `G 1/2`, `Rc 1/2`, `1/2-14 NPT`.
    pub fn designation(&self) -> String {
        let row = self.family.row();
        match self.form().filter(|_| row.letters_last) {
            Some(form) => format!("{}-{} {}", self.size, form.tpi, row.letters),
            None if row.letters_last => format!("{} {}", self.size, row.letters),
            None => format!("{} {}", row.letters, self.size),
        }
    }

    /// Its geometry; `None` when the size is not in the tables.
    pub fn form(&self) -> Option<PipeForm> {
        match self.family {
            PipeFamily::G => {
                let row = g_threads().iter().find(|r| r.size == self.size)?;
                Some(PipeForm {
                    tpi: row.tpi,
                    pitch: row.pitch_mm,
                    major: row.major_dia_mm,
                    pitch_dia: row.pitch_dia_mm,
                    minor: row.minor_dia_mm,
                    taper: self.family.row().taper,
                    gauge_plane: 0.0,
                    hand_tight: None,
                    external_length: None,
                    sealed_length: None,
                    sealed_length_incomplete: None,
                    source: format!("ISO 228-1: {}", row.source),
                    confidence: row.confidence,
                })
            }
            PipeFamily::Rp | PipeFamily::Rc => {
                let row = iso7_threads().iter().find(|r| r.size == self.size)?;
                let half = row.pitch_mm / 2.0;
                Some(PipeForm {
                    tpi: row.tpi,
                    pitch: row.pitch_mm,
                    major: row.major_dia_mm,
                    pitch_dia: row.pitch_dia_mm,
                    minor: row.minor_dia_mm,
                    taper: self.family.row().taper,
                    gauge_plane: half,
                    hand_tight: Some(row.gauge_length_mm),
                    external_length: Some(row.useful_length_mm),
                    sealed_length: Some(row.internal_length_complete_mm + half),
                    sealed_length_incomplete: Some(row.internal_length_incomplete_mm + half),
                    source: format!("ISO 7-1: {}", row.source),
                    confidence: row.confidence,
                })
            }
            PipeFamily::Npt => {
                let row = npt_threads().iter().find(|r| r.size == self.size)?;
                Some(PipeForm {
                    tpi: row.tpi,
                    pitch: row.pitch_mm,
                    major: row.e1_mm + row.thread_height_mm,
                    pitch_dia: row.e1_mm,
                    minor: row.e1_mm - row.thread_height_mm,
                    taper: self.family.row().taper,
                    gauge_plane: 0.0,
                    hand_tight: Some(row.l1_mm),
                    external_length: Some(row.l2_mm),
                    sealed_length: Some(row.l1_mm + row.l3_mm),
                    sealed_length_incomplete: Some(row.l1_mm + row.l3_mm),
                    source: format!("ASME B1.20.1: {}", row.source),
                    confidence: row.confidence,
                })
            }
        }
    }

    /// The straight tap drill. `bore` matters for Rc only: a short bore stays under the
    /// minor diameter over the whole thread, a long one also under its incomplete end.
    pub fn tap_drill(&self, bore: Bore) -> Option<&'static TapDrill> {
        let [short, long] = self.family.row().tap_drills;
        let key = match bore {
            Bore::Short => short,
            Bore::Long => long,
        };
        tap_drills()
            .iter()
            .find(|d| d.size == self.size && d.bore == key)
    }
}

impl std::fmt::Display for PipeThread {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.designation())
    }
}

/// Nominal size and threads per inch of a designation with these letters before or behind it;
/// `None` where they do not stand there.
pub(super) fn size_and_tpi(text: &str, letters: &str) -> Option<(String, Option<f64>)> {
    let clean = text.trim().replace(['"', '″'], "").to_ascii_uppercase();
    let letters = letters.to_ascii_uppercase();
    let rest = clean
        .strip_prefix(&letters)
        .or_else(|| clean.strip_suffix(&letters))?
        .trim();
    let (size, tpi) = match rest.split_once('-') {
        // "1-1/4" is another way to write 1 1/4; "1/2-14" names the threads per inch.
        Some((whole, part)) if part.contains('/') => (format!("{whole} {part}"), None),
        Some((size, tpi)) => (size.to_owned(), Some(tpi.trim().parse::<f64>().ok()?)),
        None => (rest.to_owned(), None),
    };
    let size = size.split_whitespace().collect::<Vec<_>>().join(" ");
    Some((size, tpi))
}

/// Which straight bore a taper Rc thread is cut into.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bore {
    /// Only complete threads: the tap runs right through.
    Short,
    /// A blind or long bore where incomplete threads follow.
    Long,
}

/// Geometry of an internal pipe thread, millimetres.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PipeForm {
    /// Threads per inch.
    pub tpi: f64,
    /// Pitch.
    pub pitch: f64,
    /// Major diameter at the gauge plane (parallel: everywhere).
    pub major: f64,
    /// Pitch diameter at the gauge plane.
    pub pitch_dia: f64,
    /// Minor diameter at the gauge plane.
    pub minor: f64,
    /// Change of diameter per length: 1/16 or 0.
    pub taper: f64,
    /// Depth of the gauge plane behind the face of the internal thread: half a pitch
    /// for Rp and Rc (ISO 7-1), 0 for NPT (hand-tight plane) and G.
    pub gauge_plane: f64,
    /// Engagement of the external thread when tightened by hand; `None` for G.
    pub hand_tight: Option<f64>,
    /// Useful thread length of the external thread; `None` for G.
    pub external_length: Option<f64>,
    /// Least depth of complete internal thread, from the face, for a sealed joint;
    /// `None` for G, which seals on a face.
    pub sealed_length: Option<f64>,
    /// The same where the depth includes incomplete threads of the tap's lead.
    pub sealed_length_incomplete: Option<f64>,
    /// Where it comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

impl PipeForm {
    /// A gauge-plane diameter carried to `depth` below the face of the internal thread:
    /// d − (depth − gauge plane) × taper.
    pub fn at_depth(&self, dia_at_gauge_plane: f64, depth: f64) -> f64 {
        at_distance(dia_at_gauge_plane, depth - self.gauge_plane, self.taper)
    }
    /// Major diameter at `depth` below the face.
    pub fn major_at(&self, depth: f64) -> f64 {
        self.at_depth(self.major, depth)
    }
    /// Pitch diameter at `depth` below the face.
    pub fn pitch_dia_at(&self, depth: f64) -> f64 {
        self.at_depth(self.pitch_dia, depth)
    }
    /// Minor diameter at `depth` below the face.
    pub fn minor_at(&self, depth: f64) -> f64 {
        self.at_depth(self.minor, depth)
    }
}

/// A taper diameter at a distance from the gauge plane, mm, positive towards the small end.
pub fn at_distance(dia_at_gauge_plane: f64, towards_small_end: f64, taper: f64) -> f64 {
    dia_at_gauge_plane - towards_small_end * taper
}

/// Major diameter of the external R thread at its small end, mm: the gauge plane lies
/// the gauge length behind it (R 1/2: 20.442, not 20.955). ISO 7-1.
pub fn r_small_end(size: &str) -> Option<f64> {
    let row = iso7_threads().iter().find(|r| r.size == size)?;
    Some(at_distance(row.major_dia_mm, row.gauge_length_mm, TAPER))
}

/// Nominal sizes in the tables, ascending.
pub fn sizes() -> impl Iterator<Item = &'static str> {
    iso7_threads().iter().map(|r| r.size.as_str())
}
