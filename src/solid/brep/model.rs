//! The exact boundary representation: vertices, edges, faces.
//!
//! Indices instead of references, so that it is cheap to build, check and write.
//! A closed edge (a full circle) has the same vertex at both ends. A face on a
//! surface of revolution may be a band between two rims, or a cap around the
//! pole or apex with one rim; it then has no outer loop.

use super::curve::Curve;
use super::frame::{Frame, parameters};
use crate::solid::surface::{Point3, Surface, Vector3};
use std::f64::consts::TAU;

/// A closed, oriented solid with one shell.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Brep {
    /// Vertex positions, millimetres.
    pub vertices: Vec<Point3>,
    /// Edges.
    pub edges: Vec<Edge>,
    /// Faces.
    pub faces: Vec<Face>,
}

/// A piece of a curve between two vertices; runs with rising parameter.
#[derive(Debug, Clone, PartialEq)]
pub struct Edge {
    /// The exact curve.
    pub curve: Curve,
    /// Parameter at the first and last vertex, rising.
    pub range: [f64; 2],
    /// First and last vertex.
    pub ends: [usize; 2],
}

impl Edge {
    /// True when both ends are one vertex.
    pub fn is_closed(&self) -> bool {
        self.ends[0] == self.ends[1]
    }
}

/// One edge in a loop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct EdgeUse {
    /// Index of the edge.
    pub edge: usize,
    /// True when the loop runs along the edge.
    pub forward: bool,
}

/// A closed chain of edges with the face on its left, seen from outside.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Loop {
    /// The edges in order.
    pub uses: Vec<EdgeUse>,
    /// True for the loop that encloses the face; false for holes and for rims of bands.
    pub outer: bool,
    /// Times the loop runs around the surface's axis, counter-clockwise positive.
    pub winding: i32,
}

/// A piece of an exact surface.
#[derive(Debug, Clone, PartialEq)]
pub struct Face {
    /// The exact surface.
    pub surface: Surface,
    /// Placement of the surface: its own axis, or for a sphere one with poles off the face's edges.
    pub frame: Frame,
    /// True when the outside lies on the side of the surface's own normal.
    pub same_sense: bool,
    /// Torus: the middle of the face's tube angles, radians; else 0.
    pub branch: f64,
    /// Its loops.
    pub loops: Vec<Loop>,
    /// Of a cap with an apex: the vertex of its rim that a seam may run from.
    pub seam: Option<usize>,
}

impl Face {
    /// Turns around its axis that its loops make together: not 0 around a pole, apex or tip.
    pub(super) fn winding(&self) -> i32 {
        self.loops.iter().map(|l| l.winding).sum()
    }

    /// The parameters of a point on it, given in its frame (see [`parameters`]); a torus' tube
    /// angle within half a turn of the face's middle.
    pub(crate) fn parameters(&self, local: Vector3) -> (f64, f64) {
        let (u, v) = parameters(&self.surface, local);
        match self.surface {
            Surface::Torus { .. } => (u, self.unrolled(v)),
            _ => (u, v),
        }
    }

    fn unrolled(&self, tube: f64) -> f64 {
        tube + TAU * ((self.branch - tube) / TAU).round()
    }

    /// Tube angle at which the face reaches its axis, radians: of a torus whose tube is wider than
    /// its ring, inside its only rim.
    pub(crate) fn apex_angle(&self) -> Option<f64> {
        let Surface::Torus { major, minor, .. } = self.surface else {
            return None;
        };
        if self.winding() == 0 || major.abs() >= minor {
            return None;
        }
        let angle = (-major / minor).acos();
        [angle, -angle]
            .map(|a| self.unrolled(a))
            .into_iter()
            .min_by(|a, b| (a - self.branch).abs().total_cmp(&(b - self.branch).abs()))
    }
}

impl Brep {
    /// First and last vertex of an edge as used.
    pub fn ends(&self, u: EdgeUse) -> [usize; 2] {
        let [a, b] = self.edges[u.edge].ends;
        if u.forward { [a, b] } else { [b, a] }
    }
}
