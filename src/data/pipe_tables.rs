//! The rows of the pipe thread and pipe fitting tables.
//!
//! Input: the built-in tables. Output: typed rows, units in the names.
//! Does not combine them: see `pipe`.

use super::cited::{Confidence, built_in};
use serde::{Deserialize, Serialize};

macro_rules! rows {
    ($($(#[$doc:meta])* $name:ident { $($(#[$fdoc:meta])* $field:ident: $ty:ty,)* })*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
        pub struct $name {
            /// Nominal size: "1/2".
            pub size: String,
            $($(#[$fdoc])* pub $field: $ty,)*
            /// Where the row comes from.
            pub source: String,
            /// How far to trust it.
            pub confidence: Confidence,
        }
    )*};
}

rows! {
    /// G thread, ISO 228-1.
    GThread {
        /// Threads per inch.
        tpi: f64,
        /// Pitch, mm.
        pitch_mm: f64,
        /// Major diameter, mm.
        major_dia_mm: f64,
        /// Pitch diameter, mm.
        pitch_dia_mm: f64,
        /// Minor diameter, mm.
        minor_dia_mm: f64,
    }
    /// Tolerances of a G thread.
    GTolerance {
        /// Internal pitch diameter, +mm (external class A: −).
        pitch_dia_tol_internal_mm: f64,
        /// External class B pitch diameter, −mm.
        pitch_dia_tol_external_b_mm: f64,
        /// Internal minor diameter, +mm.
        minor_dia_tol_internal_mm: f64,
        /// External major diameter, −mm.
        major_dia_tol_external_mm: f64,
        /// Largest internal minor diameter, mm.
        minor_dia_max_mm: f64,
    }
    /// R, Rp and Rc thread, ISO 7-1; diameters at the gauge plane.
    Iso7Thread {
        /// Threads per inch.
        tpi: f64,
        /// Pitch, mm.
        pitch_mm: f64,
        /// Height of the thread, mm.
        thread_height_mm: f64,
        /// Major diameter, mm.
        major_dia_mm: f64,
        /// Pitch diameter, mm.
        pitch_dia_mm: f64,
        /// Minor diameter, mm.
        minor_dia_mm: f64,
        /// Gauge length of R, mm.
        gauge_length_mm: f64,
        /// Its tolerance, ±mm.
        gauge_length_tol_mm: f64,
        /// Fitting allowance, mm.
        fitting_allowance_mm: f64,
        /// Least useful thread length of R, mm.
        useful_length_mm: f64,
        /// Tolerance of the internal gauge plane, ±mm.
        internal_gauge_plane_tol_mm: f64,
        /// The same as a diameter (Rp), ±mm.
        rp_dia_tol_mm: f64,
        /// Least internal length with incomplete threads, mm from the gauge plane.
        internal_length_incomplete_mm: f64,
        /// Least internal length of complete threads, mm from the gauge plane.
        internal_length_complete_mm: f64,
        /// Major diameter of R at its small end, mm.
        r_major_small_end_mm: f64,
        /// Least minor diameter of Rp, mm.
        rp_minor_min_mm: f64,
        /// Largest minor diameter of Rp, mm.
        rp_minor_max_mm: f64,
    }
    /// NPT thread, ASME B1.20.1.
    NptThread {
        /// Threads per inch.
        tpi: f64,
        /// Pitch, mm.
        pitch_mm: f64,
        /// Outside diameter of the pipe, inch.
        outside_dia_in: f64,
        /// Pitch diameter E0 at the small end of the external thread, inch.
        e0_in: f64,
        /// Pitch diameter E1 at the hand-tight plane, inch.
        e1_in: f64,
        /// E1, mm.
        e1_mm: f64,
        /// Hand-tight engagement L1, inch.
        l1_in: f64,
        /// L1, mm.
        l1_mm: f64,
        /// Effective external thread L2, inch.
        l2_in: f64,
        /// L2, mm.
        l2_mm: f64,
        /// Wrench make-up L3 (three pitches), mm.
        l3_mm: f64,
        /// Thread height 0.8 P, mm.
        thread_height_mm: f64,
        /// Minor diameter of the external thread at its small end, mm.
        external_minor_small_end_mm: f64,
        /// Minor diameter of the internal thread at its face, mm.
        internal_minor_face_mm: f64,
    }
    /// Tap drill of a pipe thread.
    TapDrill {
        /// g, rp, rc-short, rc-long, npt.
        bore: String,
        /// Drill diameter as published, mm.
        drill_mm: f64,
        /// Least minor diameter, mm.
        minor_min_mm: Option<f64>,
        /// Largest minor diameter, mm.
        minor_max_mm: Option<f64>,
        /// What to know.
        remark: String,
    }
    /// Wall of a pipe or tube.
    PipeWall {
        /// "EN 10255 medium" or "schedule 40".
        series: String,
        /// Outside diameter, mm.
        outside_dia_mm: f64,
        /// Wall, mm.
        wall_mm: f64,
        /// Bore, mm.
        bore_mm: f64,
    }
    /// Usual hexagon of a plug: widths across flats of pipe fittings are no longer set by
    /// a standard, so this is only what to offer; the user's measure counts.
    PipeHexagon {
        /// Which plug or fitting.
        item: String,
        /// Angle of its thread, degrees, where the row is of one.
        angle_deg: Option<f64>,
        /// "across flats" or "socket".
        measure: String,
        /// Width, mm, where there is a usual one.
        flats_mm: Option<f64>,
        /// What to know.
        remark: String,
    }
    /// Port with a G thread that seals on its face.
    GPort {
        /// "ISO 1179-1" or "DIN 3852-2".
        standard: String,
        /// Face around the thread that is kept flat and square, diameter, mm.
        spot_face_mm: f64,
        /// How deep it may be sunk, mm.
        spot_face_depth_mm: f64,
        /// Chamfer at the mouth, diameter, mm.
        chamfer_mm: f64,
        /// Least full thread, mm.
        full_thread_mm: f64,
        /// Least depth of the tap drill, mm.
        drill_depth_mm: f64,
    }
    /// Moments that tighten a G stud end on a copper ring, threads oiled.
    RingTorque {
        /// Stud end in aluminium, N·m.
        aluminium_nm: f64,
        /// Stud end in steel, N·m.
        steel_nm: f64,
        /// Plug screw of about this diameter.
        plug: String,
        /// The plug screw in aluminium, N·m.
        plug_aluminium_nm: Option<f64>,
        /// The plug screw in steel, N·m.
        plug_steel_nm: Option<f64>,
    }
    /// Copper ring for a G stud end, DIN 7603.
    CopperRing {
        /// Inside diameter, mm.
        inside_mm: f64,
        /// Outside diameter, mm.
        outside_mm: f64,
        /// Thickness, mm.
        thickness_mm: f64,
    }
}

/// Relief behind a thread, DIN 76-1.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ThreadRelief {
    /// Pitch, mm.
    pub pitch_mm: f64,
    /// Behind an internal thread C (normal) or D (short), behind an external one A or B.
    pub form: String,
    /// Groove wider than the thread's major diameter by this much, mm; narrower (negative) behind
    /// an external thread.
    pub over_mm: f64,
    /// Least width of the groove, mm.
    pub width_min_mm: f64,
    /// Largest width with its radii, mm.
    pub width_max_mm: f64,
    /// Radius in its corners, mm.
    pub radius_mm: f64,
    /// Hole (or length up to the shoulder) beyond the full thread where there is no groove, mm.
    pub beyond_mm: f64,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

/// The short relief (form D) of the next larger pitch in the table; pipe threads have a standard
/// of their own (DIN 76-2) that no source was at hand for.
pub fn short_relief(pitch: f64) -> Option<&'static ThreadRelief> {
    relief_of("D", pitch)
}

/// The short relief (form B) between an external thread and its shoulder, as [`short_relief`].
pub fn short_undercut(pitch: f64) -> Option<&'static ThreadRelief> {
    relief_of("B", pitch)
}

fn relief_of(form: &str, pitch: f64) -> Option<&'static ThreadRelief> {
    thread_reliefs()
        .iter()
        .filter(|r| r.form == form && r.pitch_mm + 1e-9 >= pitch)
        .min_by(|a, b| a.pitch_mm.total_cmp(&b.pitch_mm))
}

/// The port of a G size in a standard.
pub fn g_port(size: &str, standard: &str) -> Option<&'static GPort> {
    g_ports()
        .iter()
        .find(|p| p.size == size && p.standard == standard)
}

impl RingTorque {
    /// The moment to use, N·m, and the other one that is published: in aluminium the lower of
    /// stud end and plug screw, in steel the stud end's.
    pub fn moment(&self, aluminium: bool) -> (f64, Option<f64>) {
        let (stud, plug) = if aluminium {
            (self.aluminium_nm, self.plug_aluminium_nm)
        } else {
            (self.steel_nm, self.plug_steel_nm)
        };
        match plug {
            Some(plug) if aluminium && plug < stud => (plug, Some(stud)),
            _ => (stud, plug),
        }
    }
}

impl TapDrill {
    /// True when the published drill leaves a minor diameter inside the limits (or no limits are known).
    pub fn within_limits(&self) -> bool {
        self.minor_min_mm.is_none_or(|m| self.drill_mm >= m)
            && self.minor_max_mm.is_none_or(|m| self.drill_mm <= m)
    }
    /// The drill to use, mm: the published one, or the next quarter millimetre below the
    /// largest minor diameter where the published one is too large (G 1 1/2).
    pub fn usable_mm(&self) -> f64 {
        match self.minor_max_mm {
            Some(max) if self.drill_mm > max => (max * 4.0).floor() / 4.0,
            _ => self.drill_mm,
        }
    }
}

built_in!(
    /// G threads.
    g_threads: GThread = "pipe-threads-g"
);
built_in!(
    /// Tolerances of G threads.
    g_tolerances: GTolerance = "pipe-threads-g-tolerances"
);
built_in!(
    /// R, Rp and Rc threads.
    iso7_threads: Iso7Thread = "pipe-threads-iso7"
);
built_in!(
    /// NPT threads.
    npt_threads: NptThread = "pipe-threads-npt"
);
built_in!(
    /// Tap drills of all families.
    tap_drills: TapDrill = "pipe-tap-drills"
);
built_in!(
    /// Pipe and tube walls.
    pipe_walls: PipeWall = "pipe-walls"
);
built_in!(
    /// Usual hexagons of plugs.
    pipe_hexagons: PipeHexagon = "pipe-hexagons"
);
built_in!(
    /// Copper rings.
    copper_rings: CopperRing = "copper-rings"
);
built_in!(
    /// Ports with a G thread.
    g_ports: GPort = "g-ports"
);
built_in!(
    /// Moments on a copper ring.
    ring_torques: RingTorque = "ring-torques"
);
built_in!(
    /// Reliefs behind internal threads.
    thread_reliefs: ThreadRelief = "thread-reliefs"
);
