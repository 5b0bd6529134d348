//! How closely a mesh follows its exact surfaces.

/// Largest number of triangles of one body.
pub const MAX_TRIANGLES: usize = 4_000_000;

/// How finely round surfaces are divided.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerance {
    /// Largest distance between an arc and its chord, mm.
    pub chord: f64,
    /// Bodies of revolution begin so far beside the x axis, radians: 0 puts vertices on the
    /// quadrants, where neighbours that touch there agree. Bodies of triangles are moved by some
    /// millionths of a millimetre with it.
    pub turn: f64,
}

impl Default for Tolerance {
    /// 0.01 mm: 50 chords on a 10 mm hole, well below what a drill holds.
    fn default() -> Self {
        Self {
            chord: 0.01,
            turn: 0.0,
        }
    }
}

impl Tolerance {
    /// A tolerance with this chord error, kept between 0.001 µm and 1 mm.
    pub fn with_chord(chord: f64) -> Self {
        Self {
            chord: if chord.is_finite() {
                chord.clamp(1e-6, 1.0)
            } else {
                Self::default().chord
            },
            turn: 0.0,
        }
    }
    /// Largest angle of one chord on a circle of `radius`, radians: sagitta
    /// s = r(1 − cos(θ/2)) (elementary geometry), and never more than 30°.
    pub fn step(&self, radius: f64) -> f64 {
        let limit = std::f64::consts::PI / 6.0;
        if radius <= 0.0 {
            return limit;
        }
        let ratio = (1.0 - self.chord / radius).clamp(-1.0, 1.0);
        (2.0 * ratio.acos()).clamp(1e-4, limit)
    }
    /// Farthest that a vertex of a finished mesh may lie from the surface its
    /// triangle names: a cut through a facet is up to one sagitta off in each of two directions.
    pub fn off_surface(&self) -> f64 {
        2.5 * self.chord + 1e-6
    }
}
