//! What takes up room on a parting face, so that the next feature finds a free place.

use crate::sketch::{Bounds, Contour, Path, Point};

/// Something that another feature must keep clear of.
#[derive(Debug, Clone)]
pub(super) enum Obstacle {
    /// A round hole.
    Disk(Point, f64),
    /// An area, with its box.
    Area(Contour, Bounds),
    /// A channel of this half width.
    Channel(Path, f64),
}

impl Obstacle {
    /// What lies inside of a contour.
    pub(super) fn area(contour: Contour) -> Self {
        let bounds = contour.bounds();
        Obstacle::Area(contour, bounds)
    }

    /// Distance from `p` to the obstacle's edge, mm; negative or zero inside.
    fn clearance(&self, p: Point) -> f64 {
        match self {
            Obstacle::Disk(at, radius) => (p - at).norm() - radius,
            Obstacle::Area(contour, _) => {
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

    /// True when every point of the box from `low` to `high` is surely farther away than `wanted`.
    fn is_far(&self, low: Point, high: Point, wanted: f64) -> bool {
        let bounds = match self {
            Obstacle::Area(_, bounds) => bounds,
            _ => return false,
        };
        // A hair more, for what rounding may move.
        let reach = wanted + 1e-6;
        bounds.min.x > high.x + reach
            || bounds.min.y > high.y + reach
            || bounds.max.x < low.x - reach
            || bounds.max.y < low.y - reach
    }

    /// Whether the clearance at `p` is at least `wanted`, mm; what lies farther away is hardly
    /// looked at.
    pub(super) fn leaves(&self, p: Point, wanted: f64) -> bool {
        match self {
            Obstacle::Area(contour, _) if wanted > 0.0 => {
                self.is_far(p, p, wanted)
                    || contour.distance_within(p, wanted) >= wanted && !contour.contains(p)
            }
            _ => self.clearance(p) >= wanted,
        }
    }
}

/// The obstacles that may be nearer than `wanted` to a point of the box from `low` to `high`.
pub(super) fn near(obstacles: &[Obstacle], low: Point, high: Point, wanted: f64) -> Vec<&Obstacle> {
    let all = obstacles.iter();
    all.filter(|o| !o.is_far(low, high, wanted)).collect()
}

/// True when a point keeps `wanted` from all obstacles, mm.
pub(super) fn is_clear<'a>(
    obstacles: impl IntoIterator<Item = &'a Obstacle>,
    p: Point,
    wanted: f64,
) -> bool {
    obstacles.into_iter().all(|o| o.leaves(p, wanted))
}

/// True when a straight strip of `half` width from `from` to `to` keeps `gap` from all obstacles.
pub(super) fn strip_is_free(
    obstacles: &[Obstacle],
    from: Point,
    to: Point,
    half: f64,
    gap: f64,
) -> bool {
    let wanted = half + gap;
    let (low, high) = (from.inf(&to), from.sup(&to));
    let near = near(obstacles, low, high, wanted);
    let length = (to - from).norm();
    let steps = (length / 1.0).ceil().max(1.0) as usize;
    (0..=steps).all(|i| {
        let p = from + (to - from) * (i as f64 / steps as f64);
        is_clear(near.iter().copied(), p, wanted)
    })
}
