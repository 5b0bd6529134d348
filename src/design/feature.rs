//! A feature of a plate: the one description behind solid, DXF, drawing, hole table and operation.

use super::hole::Hole;
use super::outside::Outside;
use super::placement::Placement;
use super::side::Face;
use crate::part::{BodyOf, Form, PartBody, Role};
use crate::sketch::{Path, Point, Region};
use serde::Serialize;

/// What a feature is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Purpose {
    /// Threaded or plain seat of the nozzle.
    Nozzle,
    /// Tapered melt way through the A plate.
    Sprue,
    /// Small pocket opposite the sprue that catches cold melt and pulls the sprue.
    SpruePuller,
    /// Melt channel between sprue and gate.
    Runner,
    /// Thin way into the cavity.
    Gate,
    /// The part's impression.
    Cavity,
    /// Thin land that lets air out.
    VentLand,
    /// Deeper way from the land to the plate's edge.
    VentRelief,
    /// Screw hole.
    Bolt,
    /// Screw hole of the nozzle's flange.
    FlangeScrew,
    /// Shoulder around the spigot of a flange.
    Register,
    /// Dowel hole.
    Dowel,
    /// Slot for a lever to open the mold.
    PrySlot,
    /// Thread of a screw that jacks the plates apart, or the sunk face that its end meets.
    Jack,
    /// Marking (plate letter, revision).
    Mark,
    /// Metal that stands on the plate and forms the hollow of the part.
    Core,
    /// Bore for a core's spigot.
    CoreSeat,
    /// Screw of a core.
    CoreScrew,
    /// The outside of a turned end.
    TurnedEnd,
    /// Thread inside the end towards the mold.
    Outlet,
    /// Way of the melt through a turned adaptor.
    MeltWay,
    /// Flat or hole for a spanner.
    Spanner,
    /// Any other hole or pocket asked for by the user.
    Custom,
}

/// What is cut.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "shape", rename_all = "lowercase")]
pub enum Shape {
    /// Holes about an axis parallel to z: drilled, reamed, tapped, counterbored, tapered.
    Hole(Hole),
    /// A flat-bottomed pocket or slot of a region; may run over the plate's edge.
    Pocket {
        /// Area at the face, mold coordinates.
        region: Region,
        /// Depth from the face, mm.
        depth: f64,
        /// Wall slope per side, degrees: the floor is smaller.
        draft_deg: f64,
        /// Largest end mill that cuts it, mm diameter.
        cutter: f64,
    },
    /// A half-round groove cut with a ball end mill.
    Groove {
        /// Centre line, mold coordinates.
        path: Path,
        /// Ball radius = depth, mm.
        radius: f64,
    },
    /// One part's impression in this plate.
    Cavity(Impression),
    /// Metal that stands on the upper face: the blank is as much thicker, all around it is
    /// cut away. In its bodies `Add` = metal, `Remove` = cut into it; `depth` is its height.
    Core(Impression),
    /// What is turned off the outside about the origin's axis.
    Outside(Outside),
}

/// The cavity cut into one plate: bodies in mold coordinates, scaled by the
/// shrinkage, and the plane that bounds them (z = 0).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Impression {
    /// Centre of the cavity (part origin), mold coordinates.
    pub at: Point,
    /// Bodies in order. `Add` = metal cut away, `Remove` = metal left standing.
    /// Only the half on this plate's side of z = 0 counts.
    pub bodies: Vec<(Role, Form)>,
    /// The same labels as the part's bodies, for callouts.
    pub labels: Vec<BodyOf>,
    /// Deepest point from the parting face, mm.
    pub depth: f64,
    /// Smallest concave corner radius that a cutter meets, mm (0 = sharp).
    pub corner_radius: f64,
}

impl Impression {
    /// Bodies of the part placed in the mold; depth and corner radius in mm.
    pub(super) fn of(
        bodies: &[PartBody],
        place: &Placement,
        depth: f64,
        corner_radius: f64,
    ) -> Self {
        Self {
            at: place.at,
            bodies: bodies
                .iter()
                .map(|b| (b.role, b.form.placed(place.scale, &|q| place.apply(q))))
                .collect(),
            labels: bodies.iter().map(|b| b.of.clone()).collect(),
            depth,
            corner_radius,
        }
    }
    /// Whether one of its bodies has such a form.
    pub fn holds(&self, is: impl Fn(&Form) -> bool) -> bool {
        self.bodies.iter().any(|(_, form)| is(form))
    }
}

impl Feature {
    /// The bodies of its impression that shape this plate, on this side of the parting plane: those
    /// that it is cut by, and of what stands in it only what stands in one of these.
    pub fn shaping(&self) -> Vec<&(Role, Form)> {
        let (impression, up) = match &self.shape {
            Shape::Cavity(i) => (i, self.face == Face::Low),
            Shape::Core(i) => (i, true),
            _ => return Vec::new(),
        };
        let here = |form: &Form| {
            let e = form.extent();
            let (low, high) = match up {
                true => (e.low.max(0.0), e.high),
                false => (e.low, e.high.min(0.0)),
            };
            (high - low > SAME_HEIGHT).then_some((e.plan, low, high))
        };
        let cut: Vec<_> = (impression.bodies.iter())
            .filter(|(role, _)| *role == Role::Add)
            .filter_map(|(_, form)| here(form))
            .collect();
        let stands = |form: &Form| {
            here(form).is_some_and(|(plan, low, high)| {
                cut.iter().any(|(other, from, to)| {
                    plan.touches(other) && high.min(*to) - low.max(*from) > SAME_HEIGHT
                })
            })
        };
        (impression.bodies.iter())
            .filter(|(role, form)| match role {
                Role::Add => here(form).is_some(),
                Role::Remove => stands(form),
            })
            .collect()
    }
}

/// Heights nearer than this are one, mm.
const SAME_HEIGHT: f64 = 1e-6;

/// One feature of a plate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Feature {
    /// Tag on drawings and sheets, unique in the plate: `A3`.
    pub tag: String,
    /// What it is for.
    pub purpose: Purpose,
    /// The face it is cut from.
    pub face: Face,
    /// What is cut.
    #[serde(flatten)]
    pub shape: Shape,
}
