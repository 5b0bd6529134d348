//! Why a free path cannot be drawn: each fault with its step and its numbers.

use super::contour::Point;
use super::freeform::MOST_STEPS;
use super::shapes::LARGEST;
use platewright_base::shown;

/// Why a path cannot be drawn. Steps are counted from 1; the closing line counts
/// as one more.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FreePathError {
    /// A coordinate that is no number or absurdly large.
    #[error("step {step}: coordinates must lie between {} and {}", shown::bare_size(-LARGEST), shown::size(LARGEST))]
    Coordinates {
        /// Step, 0 for the start point.
        step: usize,
    },
    /// Too many steps.
    #[error("a path has at most {MOST_STEPS} steps, this one has {0}")]
    TooMany(usize),
    /// A step that goes nowhere.
    #[error("step {step} has no length: it ends where it starts, at ({}, {})", shown::bare_size(at.x), shown::bare_size(at.y))]
    NoLength {
        /// Step.
        step: usize,
        /// Where.
        at: Point,
    },
    /// A bulge that makes no arc.
    #[error("step {step}: bulge {bulge} makes no arc; 1 is a half circle, 0.414 a quarter")]
    Bulge {
        /// Step.
        step: usize,
        /// Bulge.
        bulge: f64,
    },
    /// Start and end at different distances from the centre.
    #[error("step {step}: the start is {} from the centre, the end {}; an arc needs both equal", shown::size(*.start), shown::size(*.end))]
    Centre {
        /// Step.
        step: usize,
        /// Distance of the start from the centre, mm.
        start: f64,
        /// Distance of the end from the centre, mm.
        end: f64,
    },
    /// A tangent arc without a step before it.
    #[error("step 1 cannot be tangent: there is no step before it")]
    TangentFirst,
    /// A tangent arc to a point straight behind.
    #[error("step {step}: no arc tangent to the step before leads straight back")]
    TangentBehind {
        /// Step.
        step: usize,
    },
    /// A corner radius that does not fit.
    #[error("step {step}: corner radius {} needs {} of edge, edge is {}", shown::size(*.radius), shown::size(*.needs), shown::size(*.length))]
    Fillet {
        /// Step whose end is rounded.
        step: usize,
        /// Radius, mm.
        radius: f64,
        /// Edge used up, mm.
        needs: f64,
        /// Length of the edge, mm.
        length: f64,
    },
    /// A corner radius that touches no place on both neighbours.
    #[error("step {step}: no arc of radius {} touches both neighbours of the corner", shown::size(*.radius))]
    FilletNowhere {
        /// Step whose end is rounded.
        step: usize,
        /// Radius, mm.
        radius: f64,
    },
    /// The path encloses nothing.
    #[error("the path encloses no area")]
    NoArea,
}

impl FreePathError {
    /// The step at fault (from 1), where one is.
    pub fn step(&self) -> Option<usize> {
        match *self {
            FreePathError::Coordinates { step }
            | FreePathError::NoLength { step, .. }
            | FreePathError::Bulge { step, .. }
            | FreePathError::Centre { step, .. }
            | FreePathError::TangentBehind { step }
            | FreePathError::Fillet { step, .. }
            | FreePathError::FilletNowhere { step, .. } => Some(step),
            FreePathError::TangentFirst => Some(1),
            FreePathError::TooMany(_) | FreePathError::NoArea => None,
        }
    }
}
