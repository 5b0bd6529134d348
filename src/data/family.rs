//! Families of pipe threads: what the standard of each says of all its sizes.
//!
//! Input: nothing. Output: a row for each family of internal and of external threads: letters,
//! standard, profile, taper, what seals. Knows no size: see `pipe` and `pipe_fit`.

use serde::Serialize;

/// Change of diameter per length of a taper pipe thread (R, Rc, NPT).
pub const TAPER: f64 = 1.0 / 16.0;

/// Pipe thread families.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, PartialOrd, Ord)]
pub enum PipeFamily {
    /// ISO 228-1, parallel, seals on a face.
    G,
    /// ISO 7-1, parallel internal, seals in the thread with R.
    Rp,
    /// ISO 7-1, taper internal.
    Rc,
    /// ASME B1.20.1, taper.
    #[serde(rename = "NPT")]
    Npt,
}

/// The profile of a thread, ISO 7-1 and ISO 228-1 or ASME B1.20.1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Profile {
    /// 55°, crests and roots rounded.
    Rounded55,
    /// 60°, crests and roots flat.
    Flat60,
}

impl Profile {
    /// Half of the angle between its flanks, degrees.
    pub fn half_angle_deg(self) -> f64 {
        match self {
            Self::Rounded55 => 27.5,
            Self::Flat60 => 30.0,
        }
    }
}

/// What the standard of a family says of all its sizes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FamilyRow {
    /// The letters of the designation.
    pub letters: &'static str,
    /// They stand behind the size and the threads per inch: 1/2-14 NPT.
    pub letters_last: bool,
    /// The standard.
    pub standard: &'static str,
    /// The thread's profile.
    pub profile: Profile,
    /// Change of diameter per length of the internal thread: 1/16 or 0.
    pub taper: f64,
    /// The thread itself seals, with a taper external thread; a fastening thread needs a sealing
    /// face (ISO 228-1 scope).
    pub seals_in_thread: bool,
    /// The external thread that belongs into it.
    pub mate: OutsideFamily,
    /// Its rows in the table of tap drills: of a bore with complete threads only, and of one where
    /// incomplete threads follow.
    pub(super) tap_drills: [&'static str; 2],
}

impl PipeFamily {
    /// All families.
    pub const ALL: [PipeFamily; 4] = [Self::G, Self::Rp, Self::Rc, Self::Npt];
    /// What its standard says of all sizes.
    pub const fn row(self) -> &'static FamilyRow {
        match self {
            Self::G => &FamilyRow {
                letters: "G",
                letters_last: false,
                standard: "ISO 228-1",
                profile: Profile::Rounded55,
                taper: 0.0,
                seals_in_thread: false,
                mate: OutsideFamily::G,
                tap_drills: ["g", "g"],
            },
            Self::Rp => &FamilyRow {
                letters: "Rp",
                letters_last: false,
                standard: "ISO 7-1",
                profile: Profile::Rounded55,
                taper: 0.0,
                seals_in_thread: true,
                mate: OutsideFamily::R,
                tap_drills: ["rp", "rp"],
            },
            Self::Rc => &FamilyRow {
                letters: "Rc",
                letters_last: false,
                standard: "ISO 7-1",
                profile: Profile::Rounded55,
                taper: TAPER,
                seals_in_thread: true,
                mate: OutsideFamily::R,
                tap_drills: ["rc-short", "rc-long"],
            },
            Self::Npt => &FamilyRow {
                letters: "NPT",
                letters_last: true,
                standard: "ASME B1.20.1",
                profile: Profile::Flat60,
                taper: TAPER,
                seals_in_thread: true,
                mate: OutsideFamily::Npt,
                tap_drills: ["npt", "npt"],
            },
        }
    }
    /// The letters of the designation.
    pub fn letters(self) -> &'static str {
        self.row().letters
    }
    /// The standard.
    pub fn standard(self) -> &'static str {
        self.row().standard
    }
    /// True where the thread itself seals.
    pub fn seals_in_thread(self) -> bool {
        self.row().seals_in_thread
    }
    /// True for a taper internal thread.
    pub fn tapered(self) -> bool {
        self.row().taper > 0.0
    }
}

/// Families of external pipe threads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
pub enum OutsideFamily {
    /// ISO 228-1, parallel.
    G,
    /// ISO 7-1, taper.
    R,
    /// ASME B1.20.1, taper.
    #[serde(rename = "NPT")]
    Npt,
}

/// What the standard of a family says of all its sizes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutsideRow {
    /// The letters of the designation.
    pub letters: &'static str,
    /// They stand behind the size and the threads per inch: 1/2-14 NPT.
    pub letters_last: bool,
    /// The standard.
    pub standard: &'static str,
    /// The thread's profile.
    pub profile: Profile,
    /// Growth of the diameter per length from the small end: 1/16 or 0.
    pub taper: f64,
}

impl OutsideFamily {
    /// All families.
    pub const ALL: [OutsideFamily; 3] = [Self::G, Self::R, Self::Npt];
    /// What its standard says of all sizes.
    pub const fn row(self) -> &'static OutsideRow {
        match self {
            Self::G => &OutsideRow {
                letters: "G",
                letters_last: false,
                standard: "ISO 228-1",
                profile: Profile::Rounded55,
                taper: 0.0,
            },
            Self::R => &OutsideRow {
                letters: "R",
                letters_last: false,
                standard: "ISO 7-1",
                profile: Profile::Rounded55,
                taper: TAPER,
            },
            Self::Npt => &OutsideRow {
                letters: "NPT",
                letters_last: true,
                standard: "ASME B1.20.1",
                profile: Profile::Flat60,
                taper: TAPER,
            },
        }
    }
}
