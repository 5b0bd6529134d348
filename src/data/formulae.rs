//! Formulae of the workshop: cutting, screws, welds, tapers.
//!
//! Input and output: plain numbers, units in the names and docs. Each formula names
//! its source. Does not look anything up.

use std::f64::consts::PI;

/// Spindle speed n = 1000 v / (π d), 1/min, for a cutting speed in m/min and a
/// diameter in mm. Source: zps-fn.cz drill formulae; Dormer handbook p. 211.
pub fn spindle_speed(cutting_speed_m_per_min: f64, dia_mm: f64) -> f64 {
    1000.0 * cutting_speed_m_per_min / (PI * dia_mm)
}

/// Cutting speed v = π d n / 1000, m/min: the spindle formula turned round.
pub fn cutting_speed(rpm: f64, dia_mm: f64) -> f64 {
    PI * dia_mm * rpm / 1000.0
}

/// Milling feed vf = fz z n, mm/min. Source: Dormer p. 211; Mechanical Engineers Data Handbook p. 187.
pub fn table_feed(feed_per_tooth_mm: f64, teeth: f64, rpm: f64) -> f64 {
    feed_per_tooth_mm * teeth * rpm
}

/// Drilling (and, with the pitch as feed, tapping) feed s = f n, mm/min. Source: zps-fn.cz.
pub fn drill_feed(feed_per_rev_mm: f64, rpm: f64) -> f64 {
    feed_per_rev_mm * rpm
}

/// Machining time t = L / vf, seconds; the length includes cutter run-in or drill point.
/// Source: lzqtool.com.cn.
pub fn machining_time_s(length_mm: f64, feed_mm_per_min: f64) -> f64 {
    60.0 * length_mm / feed_mm_per_min
}

/// Length of a drill point, mm: d/2 / tan(angle/2). Geometry.
pub fn drill_point(dia_mm: f64, point_angle_deg: f64) -> f64 {
    dia_mm / 2.0 / (point_angle_deg.to_radians() / 2.0).tan()
}

/// Pitch diameter d2 = d − 0.6495 P of a metric thread, mm. Source: ISO 724.
pub fn thread_pitch_dia(major_mm: f64, pitch_mm: f64) -> f64 {
    major_mm - 0.6495 * pitch_mm
}

/// Core diameter d3 = d − 1.2269 P of a metric screw, mm. Source: ISO 898-1.
pub fn thread_core_dia(major_mm: f64, pitch_mm: f64) -> f64 {
    major_mm - 1.2269 * pitch_mm
}

/// Stress area As = π/4 ((d2 + d3)/2)², mm². Source: ISO 898-1.
pub fn stress_area(major_mm: f64, pitch_mm: f64) -> f64 {
    let mean = (thread_pitch_dia(major_mm, pitch_mm) + thread_core_dia(major_mm, pitch_mm)) / 2.0;
    PI / 4.0 * mean * mean
}

/// Tightening torque T = K F d, N·m. K: 0.15 lubricated,
/// 0.17 zinc plated, 0.20 plain dry. Source: torque-tension note; the usual K method.
pub fn torque(nut_factor: f64, preload_n: f64, dia_mm: f64) -> f64 {
    nut_factor * preload_n * dia_mm / 1000.0
}

/// What the tightening formulae need to know of a screw, millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Screw {
    /// Nominal diameter d.
    pub dia_mm: f64,
    /// Pitch P.
    pub pitch_mm: f64,
    /// Bearing diameter dw under the head.
    pub bearing_mm: f64,
    /// Diameter of the clearance hole.
    pub hole_mm: f64,
}

/// Preload at 90 % of yield while tightening, N (thread under tension and torsion):
/// F = 0.9 Rp As / √(1 + 3 [3/2 · d2/d0 · (P/(π d2) + 1.155 µ)]²), d0 = (d2 + d3)/2.
/// Source: VDI 2230 method; reproduces published fine-thread rows (mastik.pt p. 685)
/// and the M12 8.8, µ 0.14 worked example (41.9 kN). An upper limit, not a target.
pub fn yield_preload(screw: Screw, yield_mpa: f64, friction: f64) -> f64 {
    let d2 = thread_pitch_dia(screw.dia_mm, screw.pitch_mm);
    let d0 = (d2 + thread_core_dia(screw.dia_mm, screw.pitch_mm)) / 2.0;
    let twist = 1.5 * d2 / d0 * (screw.pitch_mm / (PI * d2) + 1.155 * friction);
    0.9 * yield_mpa * stress_area(screw.dia_mm, screw.pitch_mm) / (1.0 + 3.0 * twist * twist).sqrt()
}

/// Tightening torque of a preload, N·m: T = F (0.16 P + 0.58 d2 µ + µ (dw + dh)/4),
/// the same friction in thread and under the head. Source: VDI 2230 method.
pub fn friction_torque(screw: Screw, preload_n: f64, friction: f64) -> f64 {
    let d2 = thread_pitch_dia(screw.dia_mm, screw.pitch_mm);
    preload_n
        * (0.16 * screw.pitch_mm
            + 0.58 * d2 * friction
            + friction * (screw.bearing_mm + screw.hole_mm) / 4.0)
        / 1000.0
}

/// Least preload left by a scattering way of tightening, same unit as the largest:
/// F / αA (αA 1.4 to 1.6 torque wrench, 1.8 and more by feel). Source: VDI 2230 method.
pub fn least_preload(largest: f64, tightening_factor: f64) -> f64 {
    largest / tightening_factor
}

/// Throat of an equal-leg fillet weld, mm: a = z / √2. Source: ISO 2553 geometry.
pub fn fillet_throat(leg_mm: f64) -> f64 {
    leg_mm / 2.0_f64.sqrt()
}

/// Leg of an equal-leg fillet weld, mm: z = a √2. Source: ISO 2553 geometry.
pub fn fillet_leg(throat_mm: f64) -> f64 {
    throat_mm * 2.0_f64.sqrt()
}

/// Design shear strength of a fillet throat, MPa: fu / (√3 βw 1.25).
/// Source: EN 1993-1-8 simplified method (strokeforge.tech; βw from steelcalculator.app).
pub fn weld_shear_strength(ultimate_mpa: f64, correlation: f64) -> f64 {
    ultimate_mpa / (3.0_f64.sqrt() * correlation * 1.25)
}

/// Half angle, degrees, of a taper given as change of diameter per length
/// (1:16 pipe thread = 1/16; sprue 1/2 in per foot = 1/24). Geometry.
pub fn taper_half_angle(dia_per_length: f64) -> f64 {
    (dia_per_length / 2.0).atan().to_degrees()
}

/// Included angle of the same, degrees.
pub fn taper_included_angle(dia_per_length: f64) -> f64 {
    2.0 * taper_half_angle(dia_per_length)
}

/// Bulge of a circular arc in DXF: tan(included angle / 4), positive counter-clockwise.
/// Source: DXF reference, group code 42.
pub fn bulge(included_angle_deg: f64) -> f64 {
    (included_angle_deg.to_radians() / 4.0).tan()
}

/// Standard tolerance unit i = 0.45 ∛D + 0.001 D, µm, D the geometric mean of the band, mm.
/// Source: ISO 286-1. A check on the table only: the table rules.
pub fn tolerance_unit(geometric_mean_mm: f64) -> f64 {
    0.45 * geometric_mean_mm.cbrt() + 0.001 * geometric_mean_mm
}

/// Height of the ridges a ball end mill leaves, mm: r − √(r² − (s/2)²). Geometry.
pub fn scallop(ball_radius_mm: f64, step_over_mm: f64) -> f64 {
    let half = (step_over_mm / 2.0).min(ball_radius_mm);
    ball_radius_mm - (ball_radius_mm * ball_radius_mm - half * half).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_fine_thread_rows_close() {
        // mastik.pt p. 685, class 8.8, µ 0.12: M8x1 20.2 kN and 26.1 N·m. Bearing and hole
        // diameters: ISO 4017 dw 11.6 and ISO 273 medium.
        let m8x1 = Screw {
            dia_mm: 8.0,
            pitch_mm: 1.0,
            bearing_mm: 11.6,
            hole_mm: 9.0,
        };
        let f = yield_preload(m8x1, 640.0, 0.12);
        assert!((f / 1000.0 - 20.2).abs() < 0.1, "{f}");
        assert!((friction_torque(m8x1, f, 0.12) - 26.1).abs() < 0.1);
    }

    #[test]
    fn published_k_method_example_closes() {
        // aionlinecalculator.com: M12 8.8, 84.3 mm², 580 MPa, 70 %, K 0.2: 34 kN, 82 N·m.
        let f = 0.7_f64 * 580.0 * 84.3;
        assert!((f - 34_000.0).abs() < 500.0);
        assert!((torque(0.20, f, 12.0) - 82.0).abs() < 0.5);
    }

    #[test]
    fn printed_weld_strengths_follow() {
        // S235: fu 360, βw 0.80: 207.8 MPa; S275: 430, 0.85: 233.7; S355: 510, 0.90: 261.7.
        for (fu, beta, want) in [
            (360.0, 0.80, 207.8),
            (430.0, 0.85, 233.7),
            (510.0, 0.90, 261.7),
        ] {
            assert!((weld_shear_strength(fu, beta) - want).abs() < 0.06);
        }
    }

    #[test]
    fn drill_points_of_the_handbook_table() {
        assert!((drill_point(10.0, 118.0) - 3.0).abs() < 0.01);
        assert!((drill_point(10.0, 135.0) - 2.07).abs() < 0.005);
        assert!((scallop(3.0, 1.0) - 1.0 / 24.0).abs() < 5e-4);
    }
}
