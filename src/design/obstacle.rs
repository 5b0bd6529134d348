//! What takes up room on a parting face, so that the next feature finds a free place.

use crate::sketch::{Contour, Path, Point};

/// Something that another feature must keep clear of.
#[derive(Debug, Clone)]
pub(super) enum Obstacle {
    /// A round hole.
    Disk(Point, f64),
    /// An area.
    Area(Contour),
    /// A channel of this half width.
    Channel(Path, f64),
}

impl Obstacle {
    /// Distance from `p` to the obstacle's edge, mm; negative or zero inside.
    pub(super) fn clearance(&self, p: Point) -> f64 {
        match self {
            Obstacle::Disk(at, radius) => (p - at).norm() - radius,
            Obstacle::Area(contour) => {
                let d = contour.distance(p);
                if contour.contains(p) { -d } else { d }
            }
            Obstacle::Channel(path, half) => {
                path.segments()
                    .map(|s| s.distance(p))
                    .fold(f64::INFINITY, f64::min)
                    - half
            }
        }
    }
}

/// Least clearance of a point from all obstacles, mm (infinite when there are none).
pub(super) fn clearance(obstacles: &[Obstacle], p: Point) -> f64 {
    obstacles
        .iter()
        .map(|o| o.clearance(p))
        .fold(f64::INFINITY, f64::min)
}

/// True when a straight strip of `half` width from `from` to `to` keeps `gap` from all obstacles.
pub(super) fn strip_is_free(
    obstacles: &[Obstacle],
    from: Point,
    to: Point,
    half: f64,
    gap: f64,
) -> bool {
    let length = (to - from).norm();
    let steps = (length / 1.0).ceil().max(1.0) as usize;
    (0..=steps).all(|i| {
        let p = from + (to - from) * (i as f64 / steps as f64);
        clearance(obstacles, p) >= half + gap
    })
}
