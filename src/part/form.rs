//! Exact bodies: what a cutter leaves, or what a part is made of.
//!
//! Every solid in the project starts as one of these, so that volumes, sections,
//! meshes and exact surfaces all come from the same few numbers. Millimetres.

use super::imported::MeshBody;
use crate::sketch::{Contour, Path, Point, Region};
use serde::{Serialize, Serializer};
use std::sync::Arc;

/// A corner of a body's wall profile.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ProfilePoint {
    /// Distance inward from the region's contour (prism: positive = smaller
    /// body) or radius from the axis (turned body), mm.
    pub across: f64,
    /// Height, mm.
    pub z: f64,
    /// Bulge of the profile segment to the next point (as in [`crate::sketch::Vertex`],
    /// taken in the (across, z) plane); 0 = straight.
    pub bulge: f64,
}

impl ProfilePoint {
    /// A profile corner followed by a straight piece.
    pub fn new(across: f64, z: f64) -> Self {
        Self {
            across,
            z,
            bulge: 0.0,
        }
    }
}

/// An exact body.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "form", rename_all = "lowercase")]
pub enum Form {
    /// A region whose contour moves inward by `across` while z rises along
    /// `profile` (listed by rising z, first point on the bottom face, last on the top face).
    ///
    /// Two points with different `across` = draft; a 45° piece = chamfer; a
    /// quarter arc = rounded edge. Straight segments make planes (arc pieces:
    /// cylinders), arcs make cylinders and cones (arc pieces: tori).
    /// Sharp corners of the region stay sharp (mitre) at every height.
    Prism {
        /// The region at `across = 0`.
        region: Region,
        /// Wall profile, ≥ 2 points, strictly rising or level in z.
        profile: Vec<ProfilePoint>,
    },
    /// A body of revolution about a line parallel to z through `at`.
    Turned {
        /// The axis.
        at: Point,
        /// Profile by rising z; `across` = radius ≥ 0. First and last point close flat to the axis.
        profile: Vec<ProfilePoint>,
    },
    /// A body of revolution of any section: hollow, ringed or re-entrant.
    Revolved {
        /// The axis, parallel to z.
        at: Point,
        /// The section, x = distance from the axis ≥ 0, y = height, counter-clockwise.
        /// Edges along the axis (x = 0) make no face.
        section: Contour,
    },
    /// A round-bottomed groove: the half below `z` (or above it) of the space
    /// swept by a ball of `radius` whose centre runs along `path` at height `z`.
    /// Cylinders along lines, tori along arcs, quarter spheres at both ends.
    Groove {
        /// Centre line.
        path: Path,
        /// Ball radius, mm.
        radius: f64,
        /// Height of the ball's centre, mm (the face the groove is cut from).
        z: f64,
        /// True when the groove lies below `z`.
        below: bool,
    },
    /// A closed body of triangles from a file.
    Mesh {
        /// The body; shared, for it may be large.
        #[serde(serialize_with = "in_short")]
        body: Arc<MeshBody>,
    },
}

/// How many triangles and how large: the numbers themselves are in the mesh files.
fn in_short<S: Serializer>(body: &Arc<MeshBody>, serializer: S) -> Result<S::Ok, S::Error> {
    body.as_ref().serialize(serializer)
}

impl Form {
    /// The body scaled about the origin, turned about z and moved in the plane;
    /// heights are scaled about z = 0 (the parting plane).
    ///
    /// `place` must be that same similarity for points of the plane.
    pub fn placed(&self, scale: f64, place: &dyn Fn(Point) -> Point) -> Form {
        let profile = |points: &[ProfilePoint]| {
            points
                .iter()
                .map(|p| ProfilePoint {
                    across: p.across * scale,
                    z: p.z * scale,
                    bulge: p.bulge,
                })
                .collect()
        };
        match self {
            Form::Prism { region, profile: p } => Form::Prism {
                region: region.moved_points(place),
                profile: profile(p),
            },
            Form::Turned { at, profile: p } => Form::Turned {
                at: place(*at),
                profile: profile(p),
            },
            Form::Revolved { at, section } => Form::Revolved {
                at: place(*at),
                section: section.scaled(scale),
            },
            Form::Groove {
                path,
                radius,
                z,
                below,
            } => Form::Groove {
                path: path.moved_points(place),
                radius: radius * scale,
                z: z * scale,
                below: *below,
            },
            Form::Mesh { body } => Form::Mesh {
                body: Arc::new(body.placed(scale, place)),
            },
        }
    }
}
