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

#[cfg(test)]
mod tests {
    use super::*;

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
