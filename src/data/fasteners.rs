//! Metric screws and what they need: threads, holes, heads, nuts, washers, wing nuts.
//!
//! Input: a thread designation ("M8"). Output: rows of the built-in tables, millimetres.
//! Does not know loads (see `tightening`) and places nothing.

use super::cited::{Confidence, built_in};
use serde::{Deserialize, Serialize};

/// A row with a thread designation in its first column.
pub trait Threaded {
    /// "M8".
    fn thread(&self) -> &str;
}

macro_rules! threaded {
    ($($(#[$doc:meta])* $name:ident { $($(#[$fdoc:meta])* $field:ident: $ty:ty,)* })*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
        pub struct $name {
            /// Thread designation: "M8".
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
    /// A coarse metric thread, ISO 724 / ISO 2306, M3 to M16.
    MetricThread {
        /// Pitch, mm.
        pitch_mm: f64,
        /// Nominal (major) diameter d, mm.
        major_dia_mm: f64,
        /// Pitch diameter d2, mm.
        pitch_dia_mm: f64,
        /// Core diameter d3 of the screw, mm.
        core_dia_mm: f64,
        /// Minor diameter D1 of the nut thread, mm: the least one of 6H.
        minor_dia_mm: f64,
        /// The largest one of 6H, ISO 965-1, mm.
        minor_max_mm: f64,
        /// Tap drill, mm.
        tap_drill_mm: f64,
        /// Tap drill for hard metal, mm, where listed.
        tap_drill_hard_mm: Option<f64>,
        /// Stress area As, mm².
        stress_area_mm2: f64,
    }
    /// Clearance holes, ISO 273.
    ClearanceHole {
        /// Fine series, H12, mm.
        fine_mm: f64,
        /// Medium series, H13, mm.
        medium_mm: f64,
        /// Coarse series, H14, mm.
        coarse_mm: f64,
    }
    /// Hexagon socket head cap screw, ISO 4762.
    SocketHead {
        /// Head diameter dk, mm (plain head, maximum).
        head_dia_mm: f64,
        /// Head height k, mm (maximum).
        head_height_mm: f64,
        /// Key size s, mm.
        key_mm: f64,
    }
    /// Counterbore for an ISO 4762 head, flush with 0.4 to 0.6 mm to spare.
    Counterbore {
        /// Diameter, mm.
        dia_mm: f64,
        /// Diameter that takes a washer ISO 7089 too, mm.
        with_washer_mm: f64,
        /// Depth, mm.
        depth_mm: f64,
    }
    /// Countersink for an ISO 10642 head, DIN 74 form F.
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
    /// Plain washer, ISO 7089.
    Washer {
        /// Inside diameter, mm.
        inside_mm: f64,
        /// Outside diameter, mm.
        outside_mm: f64,
        /// Nominal thickness, mm.
        thickness_mm: f64,
    }
    /// Hexagon nut ISO 4032, or hexagon head ISO 4017.
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
    metric_threads: MetricThread = "metric-threads"
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

/// The row of a thread: "M8", "m8" or "M8x1.25" (the coarse pitch written out).
pub fn of<'a, T: Threaded>(rows: &'a [T], thread: &str) -> Option<&'a T> {
    let name = coarse_name(thread)?;
    rows.iter().find(|r| r.thread() == name)
}

/// The coarse metric thread of a designation.
pub fn metric_thread(thread: &str) -> Option<&'static MetricThread> {
    of(metric_threads(), thread)
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

/// "M8" from what a user may write; `None` for a fine pitch or an unknown size.
fn coarse_name(thread: &str) -> Option<String> {
    let text = thread.trim().to_ascii_uppercase().replace('×', "X");
    let (name, pitch) = match text.split_once('X') {
        Some((name, pitch)) => (name.trim().to_owned(), Some(pitch.trim().to_owned())),
        None => (text, None),
    };
    let row = metric_threads().iter().find(|r| r.thread == name)?;
    match pitch {
        None => Some(name),
        Some(p) => {
            let p: f64 = p.replace(',', ".").parse().ok()?;
            ((p - row.pitch_mm).abs() < 1e-9).then_some(name)
        }
    }
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
        assert_eq!(metric_thread("m8").unwrap().thread, "M8");
        assert_eq!(metric_thread("M8x1.25").unwrap().thread, "M8");
        assert_eq!(metric_thread("M8 × 1,25").unwrap().thread, "M8");
        assert!(metric_thread("M8x1").is_none());
        assert!(metric_thread("M7").is_none());
    }
}
