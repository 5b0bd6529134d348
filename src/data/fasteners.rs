//! Screws and what they need: threads, holes, heads, nuts, washers, wing nuts.
//!
//! Input: a thread designation ("M8", "1/4-20"). Output: rows of the built-in tables, millimetres.
//! Does not know loads (see `tightening`) and places nothing.

use super::cited::{Confidence, built_in};
use super::fits;
use crate::base::System;
use serde::{Deserialize, Serialize};

/// A row with a thread designation in its first column.
pub trait Threaded {
    /// "M8", "1/4-20".
    fn thread(&self) -> &str;
}

macro_rules! threaded {
    ($($(#[$doc:meta])* $name:ident { $($(#[$fdoc:meta])* $field:ident: $ty:ty,)* })*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
        pub struct $name {
            /// Thread designation: "M8", "1/4-20".
            pub thread: String,
            $($(#[$fdoc])* pub $field: $ty,)*
            /// Where the row comes from.
            pub source: String,
            /// How far to trust it.
            pub confidence: Confidence,
        }
        impl Threaded for $name {
            fn thread(&self) -> &str { &self.thread }
        }
    )*};
}

threaded! {
    /// A coarse screw thread: metric, ISO 724 / ISO 2306, M3 to M16; unified, ASME B1.1, 4-40 to
    /// 3/4-10.
    ScrewThread {
        /// Pitch, mm.
        pitch_mm: f64,
        /// Nominal (major) diameter d, mm.
        major_dia_mm: f64,
        /// Pitch diameter d2, mm.
        pitch_dia_mm: f64,
        /// Core diameter d3 of the screw, mm.
        core_dia_mm: f64,
        /// Minor diameter D1 of the nut thread, mm: the least one of 6H or 2B.
        minor_dia_mm: f64,
        /// The largest one of 6H (ISO 965-1) or 2B (ASME B1.1), mm.
        minor_max_mm: f64,
        /// Tap drill, mm.
        tap_drill_mm: f64,
        /// Tap drill for hard metal, mm, where listed.
        tap_drill_hard_mm: Option<f64>,
        /// Stress area As, mm².
        stress_area_mm2: f64,
    }
    /// Clearance holes, ISO 273; ASME B18.2.8 (close, normal, loose).
    ClearanceHole {
        /// Fine series, H12, mm.
        fine_mm: f64,
        /// Medium series, H13, mm.
        medium_mm: f64,
        /// Coarse series, H14, mm.
        coarse_mm: f64,
    }
    /// Hexagon socket head cap screw, ISO 4762; ASME B18.3.
    SocketHead {
        /// Head diameter dk, mm (plain head, maximum).
        head_dia_mm: f64,
        /// Head height k, mm (maximum).
        head_height_mm: f64,
        /// Key size s, mm.
        key_mm: f64,
    }
    /// Counterbore for a socket head, flush with 0.4 to 0.6 mm to spare.
    Counterbore {
        /// Diameter, mm.
        dia_mm: f64,
        /// Diameter that takes a washer ISO 7089 too, mm.
        with_washer_mm: f64,
        /// Depth, mm.
        depth_mm: f64,
    }
    /// Countersink for a flat head: ISO 10642 in DIN 74 form F; ASME B18.3, 82°.
    Countersink {
        /// Theoretical head diameter, mm.
        head_dia_mm: f64,
        /// The countersink's diameter at the face, mm.
        sink_dia_mm: f64,
        /// Included angle, degrees.
        angle_deg: f64,
        /// Key size, mm.
        key_mm: f64,
    }
    /// Plain washer, ISO 7089; ASME B18.21.1, type A narrow.
    Washer {
        /// Inside diameter, mm.
        inside_mm: f64,
        /// Outside diameter, mm.
        outside_mm: f64,
        /// Nominal thickness, mm.
        thickness_mm: f64,
    }
    /// Hexagon nut ISO 4032, or hexagon head ISO 4017; ASME B18.2.2 and B18.2.1.
    Hexagon {
        /// Width across flats, mm (ISO: M10 16, M12 18; the old DIN flats were 17 and 19).
        flats_mm: f64,
        /// Height, mm.
        height_mm: f64,
    }
    /// Wing nut with rounded wings, DIN 315.
    WingNut {
        /// Span over the wings e, mm.
        span_mm: f64,
        /// Height over all h, mm.
        height_mm: f64,
        /// Boss diameter d2, mm.
        boss_dia_mm: f64,
    }
    /// Bearing diameters dw under the head (least values).
    BearingFace {
        /// ISO 4762 socket head, mm.
        socket_head_mm: f64,
        /// ISO 4017 hexagon head, mm, where known.
        hexagon_head_mm: Option<f64>,
    }
}

built_in!(
    /// Coarse metric threads M3 to M16, ascending.
    metric_threads: ScrewThread = "metric-threads"
);
built_in!(
    /// Coarse unified threads 4-40 to 3/4-10, ascending.
    unc_threads: ScrewThread = "unc-threads"
);
built_in!(
    /// Clearance holes, ISO 273.
    clearance_holes: ClearanceHole = "clearance-holes"
);
built_in!(
    /// Socket heads, ISO 4762.
    socket_heads: SocketHead = "socket-heads"
);
built_in!(
    /// Counterbores for ISO 4762 heads.
    counterbores: Counterbore = "counterbores"
);
built_in!(
    /// Countersinks for ISO 10642 heads.
    countersinks: Countersink = "countersinks"
);
built_in!(
    /// Plain washers, ISO 7089.
    washers: Washer = "washers"
);
built_in!(
    /// Hexagon nuts, ISO 4032.
    hexagon_nuts: Hexagon = "hexagon-nuts"
);
built_in!(
    /// Hexagon heads, ISO 4017.
    hexagon_heads: Hexagon = "hexagon-heads"
);
built_in!(
    /// Wing nuts, DIN 315, M4 to M16.
    wing_nuts: WingNut = "wing-nuts"
);
built_in!(
    /// Bearing diameters under the head.
    bearing_faces: BearingFace = "bearing-faces"
);

/// The family a screw thread belongs to: which workshop has taps and screws for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Series {
    /// Coarse metric, ISO 724.
    Metric,
    /// Unified coarse, ASME B1.1.
    Unc,
}

impl Series {
    /// Letters behind a designation on a drawing; none for metric ones, which begin with M.
    pub fn letters(self) -> &'static str {
        match self {
            Series::Metric => "",
            Series::Unc => " UNC",
        }
    }
    /// The usual class of a nut thread, as it stands behind a designation.
    pub fn nut_class(self) -> &'static str {
        match self {
            Series::Metric => "-6H",
            Series::Unc => "-2B",
        }
    }
    /// Property class of the socket head screws on a shelf.
    pub fn usual_class(self) -> &'static str {
        match self {
            Series::Metric => "8.8",
            Series::Unc => "A574",
        }
    }
    /// Classes in the table of proof loads, weakest first.
    pub fn classes(self) -> &'static [&'static str] {
        match self {
            Series::Metric => &["A2-70", "8.8", "10.9", "12.9"],
            Series::Unc => &["A574"],
        }
    }
    /// Its threads, ascending.
    pub fn threads(self) -> &'static [ScrewThread] {
        match self {
            Series::Metric => metric_threads(),
            Series::Unc => unc_threads(),
        }
    }
    /// The dowel pin that goes with it and is nearest to a diameter, mm; the smaller of two.
    pub fn pin(self, dia_mm: f64) -> f64 {
        let units = match self {
            Series::Metric => System::Metric,
            Series::Unc => System::Inch,
        };
        let off = |d: &f64| (d - dia_mm).abs();
        let sold = fits::pins_sold(units);
        let nearest = sold
            .iter()
            .copied()
            .min_by(|a, b| off(a).total_cmp(&off(b)));
        nearest.unwrap_or(dia_mm)
    }
    /// The thread of this series that is nearest to a diameter, mm; the larger of two.
    pub fn nearest(self, dia_mm: f64) -> &'static ScrewThread {
        let off = |t: &ScrewThread| (t.major_dia_mm - dia_mm).abs();
        let rows = self.threads();
        let nearer = |a, b: &'static ScrewThread| if off(b) <= off(a) { b } else { a };
        rows.iter().fold(&rows[0], nearer)
    }
}

impl ScrewThread {
    /// The family it belongs to.
    pub fn series(&self) -> Series {
        match metric_threads().iter().any(|t| t.thread == self.thread) {
            true => Series::Metric,
            false => Series::Unc,
        }
    }
}

/// As on a drawing: "M8", "1/4-20 UNC".
impl std::fmt::Display for ScrewThread {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}{}", self.thread, self.series().letters())
    }
}

/// The row of a thread: "M8", "m8" or "M8x1.25" (the coarse pitch written out); "1/4-20".
pub fn of<'a, T: Threaded>(rows: &'a [T], thread: &str) -> Option<&'a T> {
    let name = &screw_thread(thread)?.thread;
    rows.iter().find(|r| r.thread() == name)
}

/// The coarse thread of a designation, metric or unified.
pub fn screw_thread(thread: &str) -> Option<&'static ScrewThread> {
    coarse_metric(thread).or_else(|| unified_coarse(thread))
}
/// Property class of the socket head screws of this thread on a shelf: 8.8, or A574 of unified
/// ones.
pub fn usual_class(thread: &str) -> &'static str {
    series_of(thread).usual_class()
}
/// The family of a thread; one that is in no table counts as metric.
pub fn series_of(thread: &str) -> Series {
    screw_thread(thread).map_or(Series::Metric, ScrewThread::series)
}
/// A thread as it stands in a designation: "M8", "1/4-20 UNC".
pub fn designation(thread: &str) -> String {
    screw_thread(thread).map_or_else(|| thread.to_owned(), ToString::to_string)
}
/// The standard of the socket head cap screws of a thread.
pub fn cap_screws(thread: &str) -> &'static str {
    match series_of(thread) {
        Series::Metric => "ISO 4762",
        Series::Unc => "ASME B18.3",
    }
}
/// The clearance holes of a thread.
pub fn clearance_hole(thread: &str) -> Option<&'static ClearanceHole> {
    of(clearance_holes(), thread)
}
/// The socket head of a thread.
pub fn socket_head(thread: &str) -> Option<&'static SocketHead> {
    of(socket_heads(), thread)
}
/// The counterbore of a thread.
pub fn counterbore(thread: &str) -> Option<&'static Counterbore> {
    of(counterbores(), thread)
}
/// The countersink of a thread.
pub fn countersink(thread: &str) -> Option<&'static Countersink> {
    of(countersinks(), thread)
}

/// The coarse metric thread that is meant; `None` for a fine pitch or an unknown size.
fn coarse_metric(thread: &str) -> Option<&'static ScrewThread> {
    let text = thread.trim().to_ascii_uppercase().replace('×', "X");
    let (name, pitch) = match text.split_once('X') {
        Some((name, pitch)) => (name.trim(), Some(pitch.trim().replace(',', "."))),
        None => (text.as_str(), None),
    };
    let row = metric_threads().iter().find(|r| r.thread == name)?;
    match pitch {
        None => Some(row),
        Some(p) => ((p.parse::<f64>().ok()? - row.pitch_mm).abs() < 1e-9).then_some(row),
    }
}

/// The unified coarse thread that is meant: "1/4-20", "1/4-20 UNC", "#10-24", "No. 10-24 UNC-2B".
fn unified_coarse(thread: &str) -> Option<&'static ScrewThread> {
    let text = thread.trim().to_ascii_uppercase();
    let text = text.strip_suffix("-2B").unwrap_or(&text);
    let text = text.strip_suffix("UNC").unwrap_or(text).trim();
    let text = text.strip_prefix("NO.").unwrap_or(text);
    let name = text.strip_prefix('#').unwrap_or(text).trim();
    unc_threads().iter().find(|r| r.thread == name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::data::formulae;

    #[test]
    fn stress_area_follows_from_the_pitch() {
        // ISO 898-1: As = pi/4 ((d2+d3)/2)², d2 = d − 0.6495 P, d3 = d − 1.2269 P.
        for t in metric_threads() {
            let area = formulae::stress_area(t.major_dia_mm, t.pitch_mm);
            assert!(
                (area - t.stress_area_mm2).abs() <= 0.4_f64.min(0.004 * area),
                "{}: {area}",
                t.thread
            );
            assert!(
                (formulae::thread_pitch_dia(t.major_dia_mm, t.pitch_mm) - t.pitch_dia_mm).abs()
                    < 1e-3
            );
            assert!(
                (formulae::thread_core_dia(t.major_dia_mm, t.pitch_mm) - t.core_dia_mm).abs()
                    < 1e-3
            );
            assert!(
                (t.major_dia_mm - 1.0825 * t.pitch_mm - t.minor_dia_mm).abs() < 2e-3,
                "{}",
                t.thread
            );
        }
    }

    #[test]
    fn every_thread_has_its_holes_and_heads() {
        for t in metric_threads() {
            let n = &t.thread;
            let hole = clearance_hole(n).unwrap();
            assert!(
                t.major_dia_mm < hole.fine_mm
                    && hole.fine_mm < hole.medium_mm
                    && hole.medium_mm < hole.coarse_mm
            );
            let head = socket_head(n).unwrap();
            let bore = counterbore(n).unwrap();
            assert!(
                bore.dia_mm > head.head_dia_mm && bore.depth_mm > head.head_height_mm,
                "{n}"
            );
            assert!(
                (0.4..=0.6)
                    .contains(&(((bore.depth_mm - head.head_height_mm) * 1e6).round() / 1e6)),
                "{n}"
            );
            assert!(
                of(hexagon_nuts(), n).is_some()
                    && of(washers(), n).is_some()
                    && countersink(n).is_some()
            );
            assert!(
                t.tap_drill_mm < t.major_dia_mm && t.tap_drill_mm >= t.minor_dia_mm,
                "{n}"
            );
            // ISO 10642: 2.24 d to M12, 2.1 d for M16; DIN 74 form F gives it room.
            let sink = countersink(n).unwrap();
            let factor = if t.major_dia_mm > 12.0 { 2.1 } else { 2.24 };
            assert!((sink.head_dia_mm - factor * t.major_dia_mm).abs() < 1e-9);
            assert!(sink.sink_dia_mm > sink.head_dia_mm + 0.2);
            assert!(sink.sink_dia_mm < sink.head_dia_mm + 0.4);
            assert!(of(bearing_faces(), n).unwrap().socket_head_mm < head.head_dia_mm);
        }
    }

    #[test]
    fn iso_flats_not_the_old_din_ones() {
        assert_eq!(of(hexagon_nuts(), "M10").unwrap().flats_mm, 16.0);
        assert_eq!(of(hexagon_nuts(), "M12").unwrap().flats_mm, 18.0);
        assert_eq!(of(hexagon_heads(), "M12").unwrap().flats_mm, 18.0);
    }

    #[test]
    fn designations_as_people_write_them() {
        assert_eq!(screw_thread("m8").unwrap().thread, "M8");
        assert_eq!(screw_thread("M8x1.25").unwrap().thread, "M8");
        assert_eq!(screw_thread("M8 × 1,25").unwrap().thread, "M8");
        assert!(screw_thread("M8x1").is_none());
        for text in [
            "10-24",
            "#10-24",
            "No. 10-24",
            "10-24 UNC",
            "No. 10-24 UNC-2B",
        ] {
            let thread = screw_thread(text).unwrap();
            assert_eq!(thread.to_string(), "10-24 UNC", "{text}");
            assert_eq!(thread.series(), Series::Unc);
        }
        assert!(screw_thread("1/4-28").is_none() && screw_thread("1/4").is_none());
        assert!(screw_thread("M7").is_none());
    }
}
