//! How hard a screw may be pulled: proof loads, preload, torque, thread engagement.
//!
//! Input: a thread ("M8"), a property class ("8.8", "A2-70"), the tapped metal.
//! Output: newtons, newton metres, lengths in millimetres, each with its source.
//! Does not know the load of a joint.
//!
//! Default: preload 75 % of the proof load, torque 0.17 F d. The 90 %-of-yield
//! rows are limits, not targets.

use super::cited::{Confidence, built_in};
use super::fasteners::{self, screw_thread};
use super::formulae::{self, Screw};
use super::materials::{Group, Material};
use serde::{Deserialize, Serialize};

/// Share of the proof load used as preload. Source: torque-tension note, 75 % of proof.
pub const PROOF_SHARE: f64 = 0.75;

/// K of T = K F d for plated, lightly oiled screws (µ about 0.125): 0.17. The same note:
/// 0.15 lubricated, 0.20 plain and dry.
pub const NUT_FACTOR: f64 = 0.17;

/// Proof load of a screw.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProofLoad {
    /// "M8".
    pub thread: String,
    /// Property class: "8.8", "10.9", "12.9", "A2-70", "A574".
    pub class: String,
    /// Proof stress, MPa (A2-70: the 0.2 % limit).
    pub proof_stress_mpa: f64,
    /// Proof load, N.
    pub proof_load_n: f64,
    /// Which standard, and what the number is.
    pub standard: String,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

/// A published or computed pair of preload and torque.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TighteningRow {
    /// "M8".
    pub thread: String,
    /// Property class.
    pub class: String,
    /// recommended, limit, limit-old.
    #[serde(rename = "use")]
    pub purpose: String,
    /// Coefficient of friction.
    pub friction: f64,
    /// Preload, kN.
    pub preload_kn: f64,
    /// Torque, N·m.
    pub torque_nm: f64,
    /// The rule behind it.
    pub basis: String,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

/// A rule for the length of engaged thread.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EngagementRow {
    /// Property class or "any".
    pub class: String,
    /// steel, steel-500, aluminium-hard, aluminium-soft, brass, cast-iron, run-out.
    pub parent: String,
    /// For a coarse thread, in `unit`.
    pub coarse: f64,
    /// For a fine thread, where listed.
    pub fine: Option<f64>,
    /// "x d" (diameters) or "x P" (pitches).
    pub unit: String,
    /// What to know.
    pub remark: String,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

built_in!(
    /// Proof loads.
    proof_loads: ProofLoad = "proof-loads"
);
built_in!(
    /// Preload and torque rows.
    tightening_rows: TighteningRow = "tightening"
);
built_in!(
    /// Engagement rules.
    engagement_rows: EngagementRow = "thread-engagement"
);

/// Proof load of a thread in a class.
pub fn proof_load(thread: &str, class: &str) -> Option<&'static ProofLoad> {
    let name = &screw_thread(thread)?.thread;
    proof_loads()
        .iter()
        .find(|p| p.thread == *name && p.class.eq_ignore_ascii_case(class.trim()))
}

/// What to tighten a screw to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tightening {
    /// Preload to aim at, N.
    pub preload: f64,
    /// Torque for it, N·m.
    pub torque: f64,
    /// Never above this preload, N: 90 % of yield at µ 0.12 (A2-70: the published row
    /// where there is one, else none).
    pub limit_preload: Option<f64>,
    /// Torque at that limit, N·m.
    pub limit_torque: Option<f64>,
    /// Where the numbers come from.
    pub source: String,
    /// How far to trust them.
    pub confidence: Confidence,
}

/// Yield stress used at the 90 % limit, MPa: 8.8 640, 10.9 940, 12.9 1100 (ISO 898-1).
pub fn yield_stress(class: &str) -> Option<f64> {
    match class.trim() {
        "8.8" => Some(640.0),
        "10.9" => Some(940.0),
        "12.9" => Some(1100.0),
        // ASTM A574: 0.2 % yield 153 ksi, from memory.
        "A574" => Some(1055.0),
        _ => None,
    }
}

/// Preload and torque of a screw: 75 % of the proof load, T = 0.17 F d, and the
/// 90 % limit beside it. For A2-70 the proof load stands for the 0.2 % limit, and the
/// published limit row (µ 0.2) caps the preload where it is lower. Stainless threads
/// rub more than 0.17 assumes: grease them, else the torque gives less preload.
pub fn tightening(thread: &str, class: &str) -> Option<Tightening> {
    let proof = proof_load(thread, class)?;
    let metric = screw_thread(thread)?;
    let (limit_preload, limit_torque) = match yield_stress(class) {
        Some(yield_mpa) => {
            let screw = standard_screw(thread)?;
            let force = formulae::yield_preload(screw, yield_mpa, 0.12);
            let torque = formulae::friction_torque(screw, force, 0.12);
            (Some(force), Some(torque))
        }
        None => tightening_rows()
            .iter()
            .filter(|r| {
                r.thread == proof.thread && r.class == proof.class && r.purpose != "recommended"
            })
            .map(|r| (Some(r.preload_kn * 1000.0), Some(r.torque_nm)))
            .next_back()
            .unwrap_or((None, None)),
    };
    let preload = PROOF_SHARE * proof.proof_load_n;
    let preload = limit_preload.map_or(preload, |limit| preload.min(limit));
    Some(Tightening {
        preload,
        torque: formulae::torque(NUT_FACTOR, preload, metric.major_dia_mm),
        limit_preload,
        limit_torque,
        source: format!(
            "{}; rule: 75 % of proof load, T = 0.17 F d (torque-tension note); limit: VDI 2230 method",
            proof.source
        ),
        confidence: proof.confidence,
    })
}

/// A socket head screw of coarse thread in an ISO 273 medium hole.
pub fn standard_screw(thread: &str) -> Option<Screw> {
    let metric = screw_thread(thread)?;
    Some(Screw {
        dia_mm: metric.major_dia_mm,
        pitch_mm: metric.pitch_mm,
        bearing_mm: fasteners::of(fasteners::bearing_faces(), thread)?.socket_head_mm,
        hole_mm: fasteners::clearance_hole(thread)?.medium_mm,
    })
}

/// Length of engaged thread that lets the screw, not the thread in the plate, be the weak part.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Engagement {
    /// In diameters of the screw (coarse thread).
    pub diameters: f64,
    /// True where the class is not listed for this metal and the 8.8 row was scaled by
    /// the proof stress (reasoned: the thread carries in proportion to its length).
    pub scaled: bool,
    /// What the row says.
    pub remark: String,
    /// Where it comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

/// Engagement rule of a class in a metal: 6082 and 7075 count as hardened aluminium, 5083
/// as soft. A2-70 takes the 8.8 rows (its tensile strength is lower: the safe side), A574 those of 12.9
/// (its proof stress is 0.5 % lower).
pub fn engagement(class: &str, metal: &Material) -> Option<Engagement> {
    let class = class.trim();
    let parent = match metal.group {
        Group::Aluminium if metal.key == "5083" => "aluminium-soft",
        Group::Aluminium => "aluminium-hard",
        Group::MildSteel => "steel",
        Group::Brass => "brass",
        Group::CastIron => "cast-iron",
        Group::Copper => return None,
    };
    let row_of = |class: &str| {
        engagement_rows()
            .iter()
            .find(|r| r.parent == parent && r.class == class)
    };
    let listed = match class {
        "A2-70" => "8.8",
        "A574" => "12.9",
        class => class,
    };
    let base = row_of("8.8").or_else(|| row_of("any"))?;
    let (row, factor) = match row_of(listed) {
        Some(row) => (row, 1.0),
        None => {
            let stress = |c: &str| {
                proof_loads()
                    .iter()
                    .find(|p| p.class == c)
                    .map(|p| p.proof_stress_mpa)
            };
            (base, (stress(listed)? / stress("8.8")?).max(1.0))
        }
    };
    Some(Engagement {
        diameters: row.coarse * factor,
        scaled: factor > 1.0,
        remark: row.remark.clone(),
        source: if factor > 1.0 {
            format!(
                "{}; scaled from class 8.8 by the proof stress (reasoned)",
                row.source
            )
        } else {
            row.source.clone()
        },
        confidence: row.confidence,
    })
}

/// Drill depth needed beyond the full thread of a blind hole, mm: three pitches at least,
/// six at ease (DIN 76 / ISO 3508 practice, from memory).
pub fn tap_run_out(thread: &str) -> Option<(f64, f64)> {
    let pitch = screw_thread(thread)?.pitch_mm;
    let row = engagement_rows().iter().find(|r| r.parent == "run-out")?;
    Some((row.coarse * pitch, row.fine.unwrap_or(row.coarse) * pitch))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::data::material;

    #[test]
    fn stress_area_times_proof_stress_is_the_proof_load() {
        // ISO 898-1; the published loads are rounded: 1.2 %.
        for p in proof_loads() {
            let area = screw_thread(&p.thread).unwrap().stress_area_mm2;
            let ratio = area * p.proof_stress_mpa / p.proof_load_n;
            assert!(
                (ratio - 1.0).abs() < 0.012,
                "{} {}: {ratio}",
                p.thread,
                p.class
            );
        }
    }

    #[test]
    fn the_limit_rows_of_the_table_follow_from_the_formula() {
        let mut checked = 0;
        for r in tightening_rows() {
            let (Some(yield_mpa), "limit") = (yield_stress(&r.class), r.purpose.as_str()) else {
                continue;
            };
            let screw = standard_screw(&r.thread).unwrap();
            let force = formulae::yield_preload(screw, yield_mpa, r.friction);
            let torque = formulae::friction_torque(screw, force, r.friction);
            assert!(
                (force / 1000.0 - r.preload_kn).abs() <= 0.0501,
                "{} {} {force}",
                r.thread,
                r.class
            );
            let step = if r.torque_nm < 10.0 { 0.00501 } else { 0.0501 };
            assert!(
                (torque - r.torque_nm).abs() <= step,
                "{} {} {torque}",
                r.thread,
                r.class
            );
            checked += 1;
        }
        assert_eq!(checked, 48);
    }

    #[test]
    fn the_recommended_rows_follow_from_the_rule() {
        let mut checked = 0;
        for r in tightening_rows()
            .iter()
            .filter(|r| r.purpose == "recommended")
        {
            let t = tightening(&r.thread, &r.class).unwrap();
            assert!(
                (t.preload / 1000.0 - r.preload_kn).abs() <= 0.0051,
                "{} {}",
                r.thread,
                r.class
            );
            assert!(
                (t.torque - r.torque_nm).abs() <= 0.0051,
                "{} {}",
                r.thread,
                r.class
            );
            assert!(t.preload < t.limit_preload.unwrap() && t.torque < t.limit_torque.unwrap());
            checked += 1;
        }
        assert_eq!(checked, 24);
    }

    #[test]
    fn published_recommended_torques_at_friction_0_125() {
        // scribd 658344318, class 8.8: M6 9, M8 21, M10 42, M12 73, M16 182 N·m.
        for (thread, want) in [
            ("M6", 9.0),
            ("M8", 21.0),
            ("M10", 42.0),
            ("M12", 73.0),
            ("M16", 182.0),
        ] {
            let got = tightening(thread, "8.8").unwrap().torque;
            assert!((got / want - 1.0).abs() < 0.03, "{thread}: {got}");
        }
    }

    #[test]
    fn stainless_is_capped_by_its_published_limit() {
        for thread in ["M5", "M8", "M10"] {
            let t = tightening(thread, "A2-70").unwrap();
            assert!(t.preload <= t.limit_preload.unwrap(), "{thread}");
        }
        assert!(tightening("M8", "4.6").is_none() && tightening("M7", "8.8").is_none());
    }

    #[test]
    fn engagement_by_class_and_metal() {
        let of = |class, metal| engagement(class, material(metal).unwrap()).unwrap();
        assert_eq!(of("8.8", "S235").diameters, 1.0);
        assert_eq!(of("8.8", "6082").diameters, 1.6);
        assert_eq!(of("8.8", "5083").diameters, 2.0);
        assert_eq!(of("12.9", "S235").diameters, 1.4);
        assert_eq!(of("A2-70", "6082").diameters, 1.6);
        let scaled = of("10.9", "6082");
        assert!(scaled.scaled && (scaled.diameters - 1.6 * 830.0 / 580.0).abs() < 1e-9);
        assert!(engagement("8.8", material("copper").unwrap()).is_none());
        assert_eq!(tap_run_out("M8"), Some((3.75, 7.5)));
    }
}
