//! What an external pipe thread does in an internal one: how far it goes by hand, whether it seals.
//!
//! Input: a nozzle's external thread (G, R, NPT) and a mold's internal one. Output: a [`Fit`]:
//! engagement by hand from the basic sizes, turns, what stops it, whether the pair is one
//! that a standard makes. Millimetres. Does not know tolerances of worn or home-cut threads.
//!
//! Sources: ISO 7-1, ISO 228-1, ASME B1.20.1 (the rows of `pipe_tables`). Diameter equivalents
//! of errors of pitch, δP cot(α/2), and of the half angle, 0.0105 P (δ₁ + δ₂) with the error
//! in degrees: thread-gauging practice (BS 84), from memory.

pub use super::family::OutsideFamily;
use super::pipe::{PipeThread, size_and_tpi};
use super::pipe_tables::{g_port, g_threads, iso7_threads, npt_threads};
use serde::Serialize;

/// The standard of ports whose full thread a G thread goes in by.
pub const PORT: &str = "ISO 1179-1";

/// Turns by wrench after hand tight of a taper thread (common practice, no source: one to two).
pub const WRENCH_TURNS: f64 = 1.5;

/// How far the external thread of the pair goes into a taper joint by hand and wrench, mm, in
/// tenths; `None` for G.
pub fn wrench_tight(inside: &PipeThread) -> Option<f64> {
    if !inside.family.seals_in_thread() {
        return None;
    }
    let pair = fit(&OutsideThread::mate_of(inside), inside)?;
    let reach = pair.engaged + WRENCH_TURNS * pair.pitch[0];
    Some((reach * 10.0).round() / 10.0)
}

/// An external pipe thread: "R 1/2".
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize)]
pub struct OutsideThread {
    /// Family.
    pub family: OutsideFamily,
    /// Nominal size: "1/2".
    pub size: String,
}

impl OutsideThread {
    /// Reads "R 1/2", "G 1/2", "1/2 NPT", "1/2-14 NPT"; `None` for anything else and for
    /// sizes that are not in the tables.
    pub fn parse(text: &str) -> Option<Self> {
        OutsideFamily::ALL.into_iter().find_map(|family| {
            let (size, tpi) = size_and_tpi(text, family.row().letters)?;
            let thread = Self { family, size };
            let listed = thread.tpi()?;
            tpi.is_none_or(|t| (t - listed).abs() < 1e-9)
                .then_some(thread)
        })
    }

    /// The external thread that belongs into an internal one.
    pub fn mate_of(inside: &PipeThread) -> Self {
        Self {
            family: inside.family.row().mate,
            size: inside.size.clone(),
        }
    }

    /// "R 1/2", "G 1/2", "1/2-14 NPT".
    pub fn designation(&self) -> String {
        let row = self.family.row();
        match self.tpi().filter(|_| row.letters_last) {
            Some(tpi) => format!("{}-{tpi} {}", self.size, row.letters),
            None if row.letters_last => format!("{} {}", self.size, row.letters),
            None => format!("{} {}", row.letters, self.size),
        }
    }

    /// Its standard.
    pub fn standard(&self) -> &'static str {
        self.family.row().standard
    }

    /// Threads per inch; `None` when the size is not in the tables.
    fn tpi(&self) -> Option<f64> {
        let size = |s: &String| *s == self.size;
        match self.family {
            OutsideFamily::G => Some(g_threads().iter().find(|r| size(&r.size))?.tpi),
            OutsideFamily::R => Some(iso7_threads().iter().find(|r| size(&r.size))?.tpi),
            OutsideFamily::Npt => Some(npt_threads().iter().find(|r| size(&r.size))?.tpi),
        }
    }

    /// Its geometry; `None` when the size is not in the tables.
    pub fn form(&self) -> Option<OutsideForm> {
        let row = self.family.row();
        let (half_angle_deg, taper) = (row.profile.half_angle_deg(), row.taper);
        let iso7 = || iso7_threads().iter().find(|r| r.size == self.size);
        match self.family {
            OutsideFamily::G => {
                let r = g_threads().iter().find(|r| r.size == self.size)?;
                Some(OutsideForm {
                    pitch: r.pitch_mm,
                    half_angle_deg,
                    small_end: [r.major_dia_mm, r.pitch_dia_mm, r.minor_dia_mm],
                    taper,
                    // ISO 228-1 sets no length: as far as a port's thread is full.
                    useful_length: g_port(&self.size, PORT)
                        .map(|p| p.full_thread_mm)
                        .or_else(|| iso7().map(|i| i.useful_length_mm))
                        .unwrap_or(5.0 * r.pitch_mm),
                    gauge_length: None,
                })
            }
            OutsideFamily::R => {
                let r = iso7()?;
                let down = r.gauge_length_mm * taper;
                Some(OutsideForm {
                    pitch: r.pitch_mm,
                    half_angle_deg,
                    small_end: [r.major_dia_mm, r.pitch_dia_mm, r.minor_dia_mm].map(|d| d - down),
                    taper,
                    useful_length: r.useful_length_mm,
                    gauge_length: Some(r.gauge_length_mm),
                })
            }
            OutsideFamily::Npt => {
                let r = npt_threads().iter().find(|r| r.size == self.size)?;
                let e0 = r.e0_in * 25.4;
                Some(OutsideForm {
                    pitch: r.pitch_mm,
                    half_angle_deg,
                    small_end: [e0 + r.thread_height_mm, e0, e0 - r.thread_height_mm],
                    taper,
                    useful_length: r.l2_mm,
                    gauge_length: Some(r.l1_mm),
                })
            }
        }
    }
}

impl std::fmt::Display for OutsideThread {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.designation())
    }
}

/// Geometry of an external pipe thread, mm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OutsideForm {
    /// Pitch.
    pub pitch: f64,
    /// Half of the thread's angle, degrees.
    pub half_angle_deg: f64,
    /// Major, pitch and minor diameter at the small end.
    pub small_end: [f64; 3],
    /// Growth of the diameters per length from the small end.
    pub taper: f64,
    /// Useful thread length.
    pub useful_length: f64,
    /// Gauge length (R) or hand-tight length L1 (NPT); `None` for G.
    pub gauge_length: Option<f64>,
}

/// What ends the screwing in by hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum StoppedBy {
    /// Nothing: it goes in to the end of the useful thread.
    Length,
    /// The flanks are tight: a taper pair of one standard.
    Flanks,
    /// The crest of the external thread meets the root of the internal one.
    Crest,
    /// The crest of the internal thread meets the root of the external one.
    Root,
    /// Flanks of different pitch or angle wedge.
    PitchOrAngle,
    /// It is too small to hold.
    Loose,
}

/// Whether melt stays in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Seal {
    /// In the thread, with a sealant that stands the heat.
    Thread,
    /// Not in the thread: on a face or a soft ring.
    Face,
    /// No standard makes this pair: it leaks or strips.
    None,
}

/// An external thread in an internal one.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fit {
    /// External thread: "R 1/2".
    pub outside: String,
    /// Internal thread: "Rp 1/2".
    pub inside: String,
    /// Engagement by hand, mm.
    pub engaged: f64,
    /// The same in turns of the external thread.
    pub turns: f64,
    /// What ends it.
    pub stopped_by: StoppedBy,
    /// Whether it seals.
    pub seal: Seal,
    /// Pitches of both, mm.
    pub pitch: [f64; 2],
    /// Thread angles of both, degrees.
    pub angle: [f64; 2],
    /// Change of diameter per length of both (1/16 or 0).
    pub taper: [f64; 2],
}

/// Puts an external thread into an internal one, both at their basic sizes; `None` when a size
/// is not in the tables.
pub fn fit(outside: &OutsideThread, inside: &PipeThread) -> Option<Fit> {
    let (o, i) = (outside.form()?, inside.form()?);
    let i_half = inside.family.row().profile.half_angle_deg();
    let seal = if outside.size != inside.size {
        Seal::None
    } else {
        let row = inside.family.row();
        match (row.mate == outside.family, row.seals_in_thread) {
            (true, true) => Seal::Thread,
            (true, false) => Seal::Face,
            (false, _) => Seal::None,
        }
    };
    // What the flanks lose to a wrong pitch over `s`, and to a wrong angle, as a diameter.
    let cot = 1.0 / i_half.min(o.half_angle_deg).to_radians().tan();
    let wrong = |s: f64| {
        (s / o.pitch) * (o.pitch - i.pitch).abs() * cot
            + 0.0105 * o.pitch * 2.0 * (o.half_angle_deg - i_half).abs()
    };
    // Least play on crest, flanks, root when the small end is `s` deep: both ends of the
    // engaged length, since everything is straight between them.
    let inner = [i.major, i.pitch_dia, i.minor];
    let play = |s: f64| -> [f64; 3] {
        std::array::from_fn(|k| {
            let at = |y: f64| i.at_depth(inner[k], y) - o.small_end[k] - (s - y) * o.taper;
            let flanks = if k == 1 { wrong(s) } else { 0.0 };
            at(0.0).min(at(s)) - flanks
        })
    };
    const TOUCH: f64 = 1e-6;
    let tight = |s: f64| play(s).iter().any(|p| *p < -TOUCH);
    let most = o.useful_length;
    let engaged = if tight(0.0) {
        0.0
    } else if !tight(most) {
        most
    } else {
        let (mut low, mut high) = (0.0, most);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if tight(middle) {
                high = middle;
            } else {
                low = middle;
            }
        }
        low
    };
    // Overlap of the crests when it is as far in as it goes: less than a third of the thread's
    // height does not hold (common practice, no source).
    let height = 0.5 * (i.major - i.minor);
    let overlap = 0.5 * (o.small_end[0] + engaged * o.taper - i.minor_at(0.0));
    let alike = (o.pitch - i.pitch).abs() < 1e-3 && o.half_angle_deg == i_half;
    let stopped_by = if overlap < height / 3.0 {
        StoppedBy::Loose
    } else if engaged >= most - 1e-9 {
        StoppedBy::Length
    } else {
        let after = play(engaged + 1e-3);
        let worst = (0..3).min_by(|a, b| after[*a].total_cmp(&after[*b]));
        match worst {
            Some(1) if alike => StoppedBy::Flanks,
            Some(1) => StoppedBy::PitchOrAngle,
            // Threads of one form touch everywhere at once: that is the flanks.
            Some(_) if alike && after[1] < 0.0 => StoppedBy::Flanks,
            Some(0) => StoppedBy::Crest,
            _ => StoppedBy::Root,
        }
    };
    let engaged = if stopped_by == StoppedBy::Loose {
        0.0
    } else {
        engaged
    };
    Some(Fit {
        outside: outside.designation(),
        inside: inside.designation(),
        engaged,
        turns: engaged / o.pitch,
        stopped_by,
        seal,
        pitch: [o.pitch, i.pitch],
        angle: [2.0 * o.half_angle_deg, 2.0 * i_half],
        taper: [o.taper, i.taper],
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::data::pipe;

    fn of(outside: &str, inside: &str) -> Fit {
        fit(
            &OutsideThread::parse(outside).unwrap_or_else(|| panic!("{outside}")),
            &PipeThread::parse(inside).unwrap_or_else(|| panic!("{inside}")),
        )
        .unwrap()
    }

    /// ISO 7-1: R screws into Rp by its gauge length, into Rc by half a pitch more (the gauge
    /// plane of the internal thread lies half a pitch behind the face). ASME B1.20.1: NPT
    /// hand-tight by L1 because E1 = E0 + L1/16. All sizes.
    #[test]
    fn pairs_of_one_standard_go_in_by_the_standards_length() {
        for size in pipe::sizes() {
            let row = iso7_threads().iter().find(|r| r.size == size).unwrap();
            let rp = of(&format!("R {size}"), &format!("Rp {size}"));
            assert!((rp.engaged - row.gauge_length_mm).abs() < 0.01, "{rp:?}");
            assert_eq!((rp.seal, rp.stopped_by), (Seal::Thread, StoppedBy::Flanks));
            let rc = of(&format!("R {size}"), &format!("Rc {size}"));
            let half = row.pitch_mm / 2.0;
            assert!((rc.engaged - row.gauge_length_mm - half).abs() < 0.01);
            let npt = npt_threads().iter().find(|r| r.size == size).unwrap();
            let n = of(&format!("{size} NPT"), &format!("{size} NPT"));
            // E0 and E1 are printed to 0.00001 in: 1/16 taper makes 0.004 mm of it.
            assert!((n.engaged - npt.l1_mm).abs() < 0.02, "{size} {n:?}");
            let g = of(&format!("G {size}"), &format!("G {size}"));
            assert_eq!((g.seal, g.stopped_by), (Seal::Face, StoppedBy::Length));
        }
    }

    #[test]
    fn strangers_start_and_jam() {
        // Both have 14 threads per inch at 1/2: they start, and leak. Crest of the NPT thread
        // 20.715 at its end meets the 20.955 root after (20.955 - 20.715) × 16 = 3.8 mm.
        let f = of("1/2 NPT", "G 1/2");
        assert_eq!((f.seal, f.stopped_by), (Seal::None, StoppedBy::Crest));
        assert!((f.engaged - 3.84).abs() < 0.05, "{f:?}");
        assert!(f.turns > 1.5 && f.turns < 3.0);
        // 11 against 11.5 threads per inch at size 1, 55 against 60 degrees. By hand: play
        // 31.770 - 30.826 less 0.0105 · 2.2087 · 5 is used up by s/16 and by
        // s/2.2087 · 0.1003 · cot 27.5: s = 5.53.
        let one = of("1 NPT", "Rp 1");
        assert_eq!(
            (one.seal, one.stopped_by),
            (Seal::None, StoppedBy::PitchOrAngle)
        );
        assert!((one.engaged - 5.53).abs() < 0.02, "{one:?}");
        // A parallel thread in a taper one: gauge sizes meet at the mouth at once.
        assert!(of("G 1/2", "Rc 1/2").engaged < 1.0);
        assert_eq!(of("R 1/2", "G 1/2").seal, Seal::None);
        // One size smaller: nothing holds.
        assert_eq!(of("R 3/8", "Rp 1/2").stopped_by, StoppedBy::Loose);
        assert_eq!(of("R 3/4", "Rp 1/2").engaged, 0.0);
    }

    #[test]
    fn names() {
        for (text, shown) in [
            ("r1/2", "R 1/2"),
            ("R 1 1/4", "R 1 1/4"),
            ("NPT 1/2", "1/2-14 NPT"),
            ("G 3/8", "G 3/8"),
        ] {
            assert_eq!(OutsideThread::parse(text).unwrap().designation(), shown);
        }
        for text in ["Rp 1/2", "Rc 1/2", "M20", "R 5/16", "", "1/2"] {
            assert_eq!(OutsideThread::parse(text), None, "{text}");
        }
    }
}
