//! A screw in its joint after VDI 2230: what a torque gives at the friction of its threads, what
//! the load adds, how hard its head presses.
//!
//! Input: thread, class, state of the threads, the clamped metal. Output: forces in N, stresses in
//! MPa, compliances in mm/N. Does not decide how many screws there are.
//!
//! Formulae: VDI 2230-1 (2003), as handbooks quote them; cone angle and compliances from memory.

use super::cited::{Confidence, built_in};
use super::fasteners::{self, screw_thread};
use super::formulae::friction_torque;
use super::materials::{Group, Material};
use super::tightening::{proof_load, standard_screw};
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;

/// Highest share of the proof load that tightening may give, at the lowest friction of the
/// threads' state (VDI 2230 aims at 90 % of the yield point).
pub const HIGHEST_SHARE: f64 = 0.9;
/// Clamping force of all screws at their least preload over the parting force (common practice,
/// no source).
pub const MARGIN: f64 = 1.2;
/// Young's modulus of screws, MPa.
const STEEL: f64 = 205_000.0;
/// Share of a load between the plates that acts at the heads (VDI 2230, load introduction factor
/// n of a load at mid-height; from memory).
const INTRODUCTION: f64 = 0.5;
/// What aluminium at 100 °C keeps of the limiting pressure (order of magnitude, no source).
const WARM_ALUMINIUM: f64 = 0.9;

/// Friction of threads and head faces in one state.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FrictionRow {
    /// dry, oiled, paste.
    pub state: String,
    /// Lowest coefficient.
    pub low: f64,
    /// Highest coefficient.
    pub high: f64,
    /// What is meant.
    pub words: String,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

/// Limiting pressure under a head.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HeadPressure {
    /// Key of the metal.
    pub metal: String,
    /// Limit, MPa.
    pub limit_mpa: f64,
    /// Tensile strength of the row's metal, MPa.
    pub strength_mpa: f64,
    /// The row's name of the metal.
    pub name: String,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

built_in!(
    /// Friction by state.
    friction_rows: FrictionRow = "thread-friction"
);
built_in!(
    /// Limiting pressures.
    head_pressures: HeadPressure = "head-pressures"
);

/// A screw tightened by torque in a state of its threads.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Tightened {
    /// Torque, N·m.
    pub torque: f64,
    /// Preload at the lowest friction, N: 90 % of the proof load, or what the head may press.
    pub highest: f64,
    /// Preload at the middle of the friction, N.
    pub usual: f64,
    /// Preload at the highest friction, N: what the joint can be sure of.
    pub least: f64,
    /// Lowest and highest friction.
    pub friction: (f64, f64),
}

/// The torque that gives 90 % of the proof load at the lowest friction, and what it gives at the
/// others; `None` for a screw or state that is not in the tables.
pub fn tightened(thread: &str, class: &str, state: &str) -> Option<Tightened> {
    let proof = proof_load(thread, class)?;
    tightened_to(thread, state, HIGHEST_SHARE * proof.proof_load_n)
}

/// The same for a bare head on a metal: no more than its limiting pressure allows.
pub fn tightened_on(thread: &str, class: &str, state: &str, metal: &Material) -> Option<Tightened> {
    let proof = HIGHEST_SHARE * proof_load(thread, class)?.proof_load_n;
    let allowed = pressure_limit(metal).map_or(f64::INFINITY, |(limit, _)| limit);
    tightened_to(
        thread,
        state,
        proof.min(allowed * bearing_area(thread, false)?),
    )
}

/// The torque that gives a preload at the lowest friction of the threads' state.
fn tightened_to(thread: &str, state: &str, highest: f64) -> Option<Tightened> {
    let row = friction_rows().iter().find(|r| r.state == state)?;
    let screw = standard_screw(thread)?;
    let torque = friction_torque(screw, highest, row.low);
    // The torque is in proportion to the preload.
    let at = |friction: f64| torque / friction_torque(screw, 1.0, friction);
    Some(Tightened {
        torque,
        highest,
        usual: at(0.5 * (row.low + row.high)),
        least: at(row.high),
        friction: (row.low, row.high),
    })
}

/// Limit of the pressure under a head on a warm plate, MPa, and its row.
pub fn pressure_limit(metal: &Material) -> Option<(f64, &'static HeadPressure)> {
    let row = head_pressures().iter().find(|r| r.metal == metal.key)?;
    let warm = if metal.group == Group::Aluminium {
        WARM_ALUMINIUM
    } else {
        1.0
    };
    Some((warm * row.limit_mpa, row))
}

/// Area under a socket head over an ISO 273 hole, or of a washer ISO 7089 there, mm².
pub fn bearing_area(thread: &str, washer: bool) -> Option<f64> {
    let hole = fasteners::clearance_hole(thread)?.medium_mm;
    let outside = if washer {
        fasteners::of(fasteners::washers(), thread)?.outside_mm
    } else {
        fasteners::of(fasteners::bearing_faces(), thread)?.socket_head_mm
    };
    Some(PI / 4.0 * (outside * outside - hole * hole))
}

/// Compliance of a socket head screw, mm/N: head 0.5 d, threaded shank of the grip at its core,
/// engaged thread 0.5 d at the core and 0.33 d (tapped) or 0.4 d (nut) at the nominal diameter.
pub fn screw_compliance(thread: &str, grip: f64, tapped: bool) -> Option<f64> {
    let m = screw_thread(thread)?;
    let d = m.major_dia_mm;
    let nominal = PI / 4.0 * d * d;
    let core = PI / 4.0 * m.core_dia_mm * m.core_dia_mm;
    let nut = if tapped { 0.33 } else { 0.4 };
    Some((0.5 * d / nominal + grip / core + 0.5 * d / core + nut * d / nominal) / STEEL)
}

/// Compliance of the clamped plates, mm/N: a cone from the head (tapped: one, through: two) about
/// a hole of `hole` mm, head or washer of `head` mm, plates of `modulus` MPa and three times as
/// wide as the head.
pub fn plate_compliance(grip: f64, head: f64, hole: f64, modulus: f64, tapped: bool) -> f64 {
    let slender = grip / head;
    let (cones, tan) = if tapped {
        (
            2.0,
            0.348 + 0.013 * slender.max(0.1).ln() + 0.193 * 3.0_f64.ln(),
        )
    } else {
        (
            1.0,
            0.362 + 0.032 * (0.5 * slender).max(0.1).ln() + 0.153 * 3.0_f64.ln(),
        )
    };
    let w = cones * grip * tan;
    let ratio = (head + hole) * (head + w - hole) / ((head - hole) * (head + w + hole));
    2.0 * ratio.ln() / (cones * modulus * PI * hole * tan)
}

/// Share of a load between the plates that the screw feels on top of its preload.
pub fn load_share(screw: f64, plates: f64) -> f64 {
    INTRODUCTION * plates / (screw + plates)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::data::material;

    /// One joint step by step after VDI 2230: M8 8.8 with anti-seize paste, heads on 6082, grip
    /// 20 mm, tapped. Hand: d2 7.188, d3 6.466, As 36.6, proof 580 MPa · 36.6 = 21.2 kN; highest
    /// 0.9 · 21.2 = 19.1 kN; T(0.08) = 19.1 (0.16 · 1.25 + 0.58 · 7.188 · 0.08 + 0.08 (12.33 + 9)/4)
    /// = 19.1 (0.2 + 0.3335 + 0.4266) = 18.3 N·m; least at 0.14: 18.3 / (0.2 + 0.5837 + 0.7466)
    /// = 12.0 kN; under the head π/4 (12.33² - 9²) = 55.8 mm²: 342 MPa, over 0.9 · 260; on a washer
    /// 16 mm 137.4 mm²: 139 MPa.
    #[test]
    fn a_joint_by_hand() {
        let t = tightened("M8", "8.8", "paste").expect("M8");
        assert!((t.highest - 19_100.0).abs() < 60.0, "{t:?}");
        assert!((t.torque - 18.3).abs() < 0.1, "{t:?}");
        assert!((t.least - 11_980.0).abs() < 80.0, "{t:?}");
        assert!(t.least < t.usual && t.usual < t.highest);
        let head = bearing_area("M8", false).expect("M8");
        assert!((head - 55.8).abs() < 0.1, "{head}");
        let (limit, row) = pressure_limit(material("6082").expect("6082")).expect("a row");
        assert_eq!((limit, row.limit_mpa), (234.0, 260.0));
        assert!(t.highest / head > 340.0 && t.highest / head < 345.0);
        // On 6082 without a washer: 234 · 55.8 = 13.06 kN at most, 12.5 N·m.
        let bare = tightened_on("M8", "8.8", "paste", material("6082").expect("6082"));
        let bare = bare.expect("M8");
        assert!((bare.highest - 13_060.0).abs() < 30.0, "{bare:?}");
        assert!((bare.torque - 12.5).abs() < 0.1, "{bare:?}");
        let washer = bearing_area("M8", true).expect("M8");
        assert!((washer - 137.4).abs() < 0.2, "{washer}");
        // Screw: (4/50.27 + 20/32.84 + 4/32.84 + 2.64/50.27) / 205000 = 4.21e-6 mm/N.
        let screw = screw_compliance("M8", 20.0, true).expect("M8");
        assert!((screw - 4.21e-6).abs() < 0.02e-6, "{screw}");
        // Plates: tan 0.348 + 0.013 ln(20/16) + 0.193 ln 3 = 0.5629; 2 · 20 · 0.5629 = 22.52;
        // ln((25 · 29.52)/(7 · 47.52)) = 0.7969; 2 · 0.7969/(2 · 70000 · π · 9 · 0.5629) = 0.715e-6.
        let plates = plate_compliance(20.0, 16.0, 9.0, 70_000.0, true);
        assert!((plates - 0.715e-6).abs() < 0.003e-6, "{plates}");
        // Φ = 0.5 · 0.715 / (4.21 + 0.715) = 0.0726.
        let share = load_share(screw, plates);
        assert!((share - 0.0726).abs() < 0.0005, "{share}");
    }

    /// Scatter of a torque wrench with estimated friction, VDI 2230 table A8: 1.6 to 2.0 in class B,
    /// 1.4 to 1.6 where the torque was found by trial.
    #[test]
    fn scatter_is_of_the_order_of_the_tightening_factor() {
        for state in ["dry", "oiled", "paste"] {
            for thread in ["M5", "M8", "M12", "M16"] {
                let t = tightened(thread, "8.8", state).expect(thread);
                let factor = t.highest / t.least;
                assert!(factor > 1.35 && factor < 2.0, "{thread} {state}: {factor}");
            }
        }
        assert!(tightened("M8", "8.8", "wet").is_none());
    }
}
