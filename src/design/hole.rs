//! A hole: one axis, the steps that make it, and the profile they leave.

use crate::data::Thread;
use crate::data::fasteners::ScrewThread;
use crate::sketch::Point;
use serde::Serialize;

/// How deep a step goes, measured from the feature's face.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Depth {
    /// Through the plate.
    Through,
    /// To this depth of full diameter, mm.
    Blind(f64),
}

/// One tool that makes part of a hole.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "step", rename_all = "lowercase")]
pub enum HoleStep {
    /// Twist drill. A blind hole ends in a cone of the point angle beyond the depth.
    Drill {
        /// Diameter, mm.
        dia: f64,
        /// Depth of full diameter.
        depth: Depth,
        /// Included point angle, degrees (118 usual, 180 = flat bottom).
        point_deg: f64,
    },
    /// Reamer, after an undersize drill; leaves a cylinder.
    Ream {
        /// Nominal diameter, mm.
        dia: f64,
        /// Depth of full diameter.
        depth: Depth,
        /// ISO 286 hole class: "H7", "G7".
        fit: String,
    },
    /// Counterbore with a flat bottom.
    Counterbore {
        /// Diameter, mm.
        dia: f64,
        /// Depth, mm.
        depth: f64,
    },
    /// Countersink or chamfer at the face.
    Countersink {
        /// Diameter at the face, mm.
        dia: f64,
        /// Included angle, degrees.
        angle_deg: f64,
    },
    /// Tap. Cuts no volume of its own in the solid: the thread is cosmetic.
    Tap {
        /// What it cuts.
        thread: Thread,
        /// Major diameter at the face, mm (for drawings).
        major: f64,
        /// Pitch, mm.
        pitch: f64,
        /// Depth of full thread, mm.
        depth: Depth,
    },
    /// Taper reamer or tapered cutter: a cone frustum.
    Taper {
        /// What it is for.
        #[serde(skip)]
        kind: TaperKind,
        /// Diameter at the feature's face, mm.
        dia_face: f64,
        /// Diameter at `depth`, mm.
        dia_end: f64,
        /// Depth, mm; for a way right through the plate, its thickness.
        depth: f64,
    },
    /// A groove turned into the wall: the relief behind a thread.
    Groove {
        /// Diameter, mm.
        dia: f64,
        /// Where it begins below the face, mm.
        from: f64,
        /// Where it ends, mm.
        to: f64,
    },
    /// A spherical dish: the seat of a round nozzle tip. Stands alone in its hole; its bottom
    /// lies on the axis.
    Dish {
        /// Diameter at the face, mm.
        dia: f64,
        /// Radius of the sphere, mm.
        radius: f64,
    },
}

/// What a taper bore is reamed for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TaperKind {
    /// A taper pipe thread, tapped after it: 1:16.
    Pipe,
    /// The melt's way: a sprue that is drawn out of it.
    Sprue,
}

/// Depth of a spherical dish, mm: R − √(R² − (d/2)²).
pub fn dish_depth(dia: f64, radius: f64) -> f64 {
    radius - (radius * radius - 0.25 * dia * dia).max(0.0).sqrt()
}

impl HoleStep {
    /// Largest diameter this step leaves in the metal, mm (a tap: none of its own).
    pub fn dia(&self) -> f64 {
        match self {
            HoleStep::Drill { dia, .. }
            | HoleStep::Ream { dia, .. }
            | HoleStep::Counterbore { dia, .. }
            | HoleStep::Countersink { dia, .. }
            | HoleStep::Groove { dia, .. }
            | HoleStep::Dish { dia, .. } => *dia,
            HoleStep::Taper {
                dia_face, dia_end, ..
            } => dia_face.max(*dia_end),
            HoleStep::Tap { .. } => 0.0,
        }
    }
    /// How deep it goes, without the cone of a drill's point; `None` for a countersink.
    pub fn depth(&self) -> Option<Depth> {
        match self {
            HoleStep::Drill { depth, .. }
            | HoleStep::Ream { depth, .. }
            | HoleStep::Tap { depth, .. } => Some(*depth),
            HoleStep::Counterbore { depth, .. } | HoleStep::Taper { depth, .. } => {
                Some(Depth::Blind(*depth))
            }
            HoleStep::Groove { to, .. } => Some(Depth::Blind(*to)),
            HoleStep::Dish { dia, radius } => Some(Depth::Blind(dish_depth(*dia, *radius))),
            HoleStep::Countersink { .. } => None,
        }
    }
    /// A twist drill right through the plate.
    pub(crate) fn through(dia: f64) -> Self {
        HoleStep::Drill {
            dia,
            depth: Depth::Through,
            point_deg: 118.0,
        }
    }
    /// The steps of a screw hole whose head is let in: diameter drilled through; diameter and
    /// depth of the counterbore, mm.
    pub(crate) fn sunk(clearance: f64, (dia, depth): (f64, f64)) -> [Self; 2] {
        [
            HoleStep::through(clearance),
            HoleStep::Counterbore { dia, depth },
        ]
    }
    /// The steps of a tapped hole: drill, chamfer to just over the thread, tap.
    pub(crate) fn tapped(metric: &'static ScrewThread, drill: Depth, thread: Depth) -> [Self; 3] {
        [
            HoleStep::Drill {
                dia: metric.tap_drill_mm,
                depth: drill,
                point_deg: 118.0,
            },
            HoleStep::Countersink {
                dia: metric.major_dia_mm + 0.4,
                angle_deg: 90.0,
            },
            HoleStep::Tap {
                thread: Thread::Screw(metric),
                major: metric.major_dia_mm,
                pitch: metric.pitch_mm,
                depth: thread,
            },
        ]
    }
}

impl Depth {
    /// In a plate of some thickness, mm.
    pub fn within(self, thickness: f64) -> f64 {
        match self {
            Depth::Through => thickness,
            Depth::Blind(d) => d,
        }
    }
}

/// A hole about one axis parallel to z.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Hole {
    /// Axis, mold coordinates.
    pub at: Point,
    /// The steps, in the order they are machined.
    pub steps: Vec<HoleStep>,
}
