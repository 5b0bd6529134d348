//! The screwed or welded joint at the nozzle: thrust, stresses, swing circle.
//!
//! Input and output: plain numbers, units in the docs. Does not decide what a stress may be.

use super::formulae::fillet_throat;
use std::f64::consts::PI;

/// Force of the melt on a joint, N: pressure (MPa) on the circle of its diameter (mm).
pub fn thrust(pressure: f64, across: f64) -> f64 {
    pressure * PI / 4.0 * across * across
}

/// Shear stress in the thread of the plate, MPa, for a thrust in N; major diameter, pitch and
/// engaged length in mm.
///
/// Shear area π d_m L/2 at the mean diameter d − 0.64 P (half the wall is thread; common
/// form of the stripping check, from memory). A tapered thread is a little stronger.
pub fn thread_shear(thrust: f64, major: f64, pitch: f64, length: f64) -> f64 {
    let mean = major - 0.64 * pitch;
    thrust / (0.5 * PI * mean * length).max(1e-9)
}

/// Stress in the throat of a fillet weld all round a tube, MPa: thrust in N over throat times
/// circumference; diameter and leg in mm.
pub fn weld_throat_stress(thrust: f64, dia: f64, leg: f64) -> f64 {
    thrust / (PI * dia * fillet_throat(leg)).max(1e-9)
}

/// Diameter of the circle swept about the nozzle axis when the mold is turned on, mm, from the
/// distances of its corners to the axis.
pub fn swing_circle(reaches: impl IntoIterator<Item = f64>) -> f64 {
    2.0 * reaches.into_iter().fold(0.0, f64::max)
}

/// Bending stress, MPa, in the wall of the pipe that carries a mold by its thread, nozzle level:
/// moment of the weight (N) at the distance of the mold's middle from the joint (mm) over the
/// section modulus π (D⁴ − d⁴)/(32 D) of the thread's core diameter and the bore, mm.
/// Elementary beam theory.
pub fn hanging_stress(weight: f64, arm: f64, core: f64, bore: f64) -> f64 {
    let modulus = PI * (core.powi(4) - bore.powi(4)) / (32.0 * core);
    weight * arm / modulus.max(1e-9)
}

/// A soft ring or a narrow face as a gasket.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gasket {
    /// Inside and outside diameter of what touches, mm.
    pub inside: f64,
    /// Outside diameter, mm.
    pub outside: f64,
    /// Gasket factor m: face pressure over melt pressure in service.
    pub factor: f64,
    /// Seating stress y, MPa.
    pub seating: f64,
}

/// m and y of soft copper, flat (ASME BPVC VIII-1, Appendix 2, table 2-5.1, from memory).
pub const SOFT_COPPER: (f64, f64) = (4.75, 89.6);
/// m and y of iron or soft steel, flat: metal on metal (the same table, from memory).
pub const STEEL_FACE: (f64, f64) = (5.5, 124.1);
/// m and y of soft aluminium, flat (the same table, from memory).
pub const SOFT_ALUMINIUM: (f64, f64) = (4.0, 60.7);

impl Gasket {
    /// Width N of what touches, mm.
    pub fn width(&self) -> f64 {
        0.5 * (self.outside - self.inside)
    }
    /// Effective width b, mm: b₀ = N/2 for a flat face; b = b₀ up to 6 mm, else 2.5 √b₀
    /// (ASME BPVC VIII-1, Appendix 2, from memory).
    pub fn effective_width(&self) -> f64 {
        let b0 = self.width() / 2.0;
        if b0 <= 6.0 { b0 } else { 2.5 * b0.sqrt() }
    }
    /// Diameter G of the load's reaction, mm: the mean one for b₀ ≤ 6 mm.
    pub fn reaction_dia(&self) -> f64 {
        let b0 = self.width() / 2.0;
        if b0 <= 6.0 {
            0.5 * (self.inside + self.outside)
        } else {
            self.outside - 2.0 * self.effective_width()
        }
    }
    /// Force in service, N: π/4 G² p + 2 b π G m p, melt pressure in MPa.
    pub fn service_force(&self, pressure: f64) -> f64 {
        let (g, b) = (self.reaction_dia(), self.effective_width());
        thrust(pressure, g) + 2.0 * b * PI * g * self.factor * pressure
    }
    /// Force to seat it, N: π b G y.
    pub fn seating_force(&self) -> f64 {
        PI * self.effective_width() * self.reaction_dia() * self.seating
    }
    /// The larger of both, N.
    pub fn force(&self, pressure: f64) -> f64 {
        self.service_force(pressure).max(self.seating_force())
    }
    /// Pressure on the face under a force, MPa.
    pub fn face_pressure(&self, force: f64) -> f64 {
        let area = PI / 4.0 * (self.outside.powi(2) - self.inside.powi(2));
        force / area.max(1e-9)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gaskets_by_hand() {
        // DIN 7603 ring 21 × 26: N 2.5, b 1.25, G 23.5. Service at 4 MPa:
        // π/4 · 23.5² · 4 = 1735 N; 2 · 1.25 · π · 23.5 · 4.75 · 4 = 3507 N; seating
        // π · 1.25 · 23.5 · 89.6 = 8269 N.
        let ring = Gasket {
            inside: 21.0,
            outside: 26.0,
            factor: SOFT_COPPER.0,
            seating: SOFT_COPPER.1,
        };
        assert!((ring.service_force(4.0) - 5241.8).abs() < 1.0);
        assert!((ring.seating_force() - 8268.7).abs() < 1.0);
        assert_eq!(ring.force(4.0), ring.seating_force());
        // π/4 (26² − 21²) = 184.57 mm².
        assert!((ring.face_pressure(8268.7) - 44.8).abs() < 0.01);
        // 60 N at 40 mm on a tube 18.6 × 16.1: W = π (18.6⁴ − 16.1⁴)/(32 · 18.6) = 277.1 mm³.
        assert!((hanging_stress(60.0, 40.0, 18.6, 16.1) - 2400.0 / 277.1).abs() < 0.01);
    }

    #[test]
    fn by_hand() {
        // 4 MPa on a 21 mm circle: 1385 N; leg 5 round 25 mm: throat area 277.7 mm².
        let force = thrust(4.0, 21.0);
        assert!((force - 1385.4).abs() < 0.1);
        assert!((weld_throat_stress(force, 25.0, 5.0) - force / 277.68).abs() < 1e-2);
        // M20 x 2.5 engaged 20 mm: mean diameter 18.4 mm, area 578.05 mm².
        assert!((thread_shear(force, 20.0, 2.5, 20.0) - force / 578.05).abs() < 1e-3);
        assert_eq!(swing_circle([100.0, 10.0]), 200.0);
    }
}
