//! From the mesh's faces and edges to exact ones.
//!
//! Input: groups and chains, the mesh's chord error. Output: vertices on all
//! their surfaces, edges on exact curves, faces with loops. Refuses (typed error)
//! whatever moved further than the chord error explains.

use super::chains::{Chain, Topology};
use super::curve::Curve;
use super::error::BrepError;
use super::facets::FLAT;
use super::frame::perpendicular;
use super::intersect::common_curves;
use super::kinks::{nearly_one_plane, straight};
use super::loops::face;
use super::model::{Brep, Edge};
use super::project::{gradient, hold, settle};
use super::spline;
use crate::solid::mesh::TaggedMesh;
use crate::solid::surface::{Point3, Surface};
use std::collections::BTreeMap;

/// Largest distance of a vertex from its surfaces and curves, mm.
pub(super) const ON: f64 = 1e-7;
/// Shortest edge, mm: shorter ones mean that mesh and exact faces meet differently.
const SHORTEST: f64 = 1e-5;
/// Sine of the flattest angle that explains how far a corner of the mesh lies from the exact one.
pub(super) const FLATTEST: f64 = 0.02;

/// Builds the exact solid.
pub(super) fn assemble(
    mesh: &TaggedMesh,
    topology: &Topology,
    chord: f64,
) -> Result<Brep, BrepError> {
    let mut curves = Vec::with_capacity(topology.chains.len());
    for chain in &topology.chains {
        curves.push(exact_curve(mesh, topology, chain, chord)?);
    }
    let mut brep = Brep::default();
    let corners = corners(mesh, topology, &curves, chord, &mut brep)?;
    for (chain, curve) in topology.chains.iter().zip(curves) {
        let [a, b] = pair(topology, chain);
        let edge = match curve {
            Some(c) => exact_edge(mesh, chain, c, &corners, &mut brep, chord)?,
            None => spline_edge(mesh, chain, [a, b], &corners, &mut brep, chord)?,
        };
        brep.edges.push(edge);
    }
    for group in &topology.groups {
        let made = face(mesh, topology, group)?;
        brep.faces.push(made);
    }
    Ok(brep)
}

/// The two surfaces of a chain.
pub(super) fn pair(topology: &Topology, chain: &Chain) -> [Surface; 2] {
    chain.groups.map(|g| topology.groups[g].surface)
}

pub(super) fn curved(s: &Surface) -> bool {
    !matches!(s, Surface::Plane { .. })
}

/// How far a mesh point near the common curve of two surfaces may lie from it, mm.
pub(super) fn reach([a, b]: &[Surface; 2], p: &Point3, chord: f64) -> f64 {
    if !curved(a) && !curved(b) {
        return 10.0 * ON;
    }
    let sine = gradient(a, p).cross(&gradient(b, p)).norm();
    10.0 * ON + 2.0 * chord / sine.max(0.05)
}

/// The line, circle or ellipse that a chain follows, if it follows one.
fn exact_curve(
    mesh: &TaggedMesh,
    topology: &Topology,
    chain: &Chain,
    chord: f64,
) -> Result<Option<Curve>, BrepError> {
    let [a, b] = pair(topology, chain);
    let points: Vec<Point3> = chain
        .vertices
        .iter()
        .map(|v| mesh.points[*v as usize])
        .collect();
    let middle = points[points.len() / 2];
    if a == b {
        return Err(BrepError::unclear("a face folds back on itself", middle));
    }
    if straight(mesh, chain, &[a, b]) {
        let along = points[points.len() - 1] - points[0];
        let direction = along.try_normalize(0.0);
        return Ok(direction.map(|direction| Curve::Line {
            origin: points[0],
            direction,
        }));
    }
    // Worst distance in units of what is allowed there.
    let cost = |c: &Curve| {
        points
            .iter()
            .map(|p| c.distance(p) / reach(&[a, b], p, chord))
            .fold(0.0, f64::max)
    };
    let mut fits: Vec<(f64, Curve)> = common_curves(&a, &b)
        .into_iter()
        .map(|c| (cost(&c), c))
        .filter(|x| x.0 <= 1.0)
        .collect();
    fits.sort_by(|x, y| x.0.total_cmp(&y.0));
    if fits.len() > 1 && fits[1].0 < 1.0 && fits[0].0 > 0.1 * fits[1].0 {
        return Err(BrepError::unclear("two edges lie too close", middle));
    }
    Ok(fits.into_iter().next().map(|x| x.1))
}

/// The surfaces that a corner is brought onto: of planes that hardly differ the first one, as
/// long as the corner lies on all of them.
fn apart(all: &[Surface], raw: &Point3) -> Vec<Surface> {
    let mut out: Vec<Surface> = Vec::new();
    for s in all {
        let known = out.iter().any(|k| nearly_one_plane(k, s));
        if !known || s.distance(raw).abs() > FLAT {
            out.push(*s);
        }
    }
    out
}

/// Places a vertex at every end of an open chain; returns the vertex of each mesh vertex.
fn corners(
    mesh: &TaggedMesh,
    topology: &Topology,
    curves: &[Option<Curve>],
    chord: f64,
    brep: &mut Brep,
) -> Result<BTreeMap<u32, usize>, BrepError> {
    let mut meeting: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for (i, chain) in topology.chains.iter().enumerate() {
        if !chain.closed {
            for v in [chain.vertices[0], chain.vertices[chain.vertices.len() - 1]] {
                meeting.entry(v).or_default().push(i);
            }
        }
    }
    let mut out = BTreeMap::new();
    for (v, chains) in meeting {
        let raw = mesh.points[v as usize];
        let mut on: Vec<Surface> = Vec::new();
        let mut limit: f64 = 0.0;
        for i in &chains {
            let two = pair(topology, &topology.chains[*i]);
            limit = limit.max(reach(&two, &raw, chord));
            for s in two {
                if !on.contains(&s) {
                    on.push(s);
                }
            }
            if let Some(c) = &curves[*i]
                && !straight(mesh, &topology.chains[*i], &two)
            {
                on.extend(c.carriers());
            }
        }
        let flat = !on.iter().any(curved);
        let some = apart(&on, &raw);
        let (mut at, mut left) = settle(raw, &some);
        if some.len() < on.len() && on.iter().any(|s| s.distance(&at).abs() > FLAT) {
            (at, left) = settle(raw, &on);
        }
        if flat && (left > ON || (at - raw).norm() > ON) {
            // Flat faces of a mesh: the corner stays where it lies on all of them.
            let off = on.iter().map(|s| s.distance(&raw).abs());
            (at, left) = (raw, off.fold(0.0, f64::max));
        }
        if left > if flat { FLAT } else { ON } {
            return Err(BrepError::unclear("faces do not meet in one point", raw));
        }
        // A curve of two faces that pierces the third at a flat angle ends far along itself.
        if on.iter().any(curved) {
            limit = limit.max(10.0 * ON + 2.0 * chord / hold(&on, &at).max(FLATTEST));
        }
        if (at - raw).norm() > 3.0 * limit {
            return Err(BrepError::unclear("a corner moved too far", raw));
        }
        out.insert(v, brep.vertices.len());
        brep.vertices.push(at);
    }
    Ok(out)
}

/// Length of the mesh chain, mm.
fn raw_length(mesh: &TaggedMesh, chain: &Chain) -> f64 {
    chain
        .vertices
        .windows(2)
        .map(|w| (mesh.points[w[1] as usize] - mesh.points[w[0] as usize]).norm())
        .sum()
}

/// An edge on a line, circle or ellipse.
fn exact_edge(
    mesh: &TaggedMesh,
    chain: &Chain,
    mut curve: Curve,
    corners: &BTreeMap<u32, usize>,
    brep: &mut Brep,
    chord: f64,
) -> Result<Edge, BrepError> {
    let points: Vec<Point3> = chain
        .vertices
        .iter()
        .map(|v| mesh.points[*v as usize])
        .collect();
    let last = points.len() - 1;
    // Turn the curve to run along the chain.
    if let Curve::Circle { centre, axis, .. } | Curve::Ellipse { centre, axis, .. } = &mut curve {
        let turning: f64 = points
            .windows(2)
            .map(|w| (w[0] - *centre).cross(&(w[1] - *centre)).dot(axis))
            .sum();
        if turning < 0.0 {
            *axis = -*axis;
        }
    }
    let ends;
    let range;
    if chain.closed {
        if let Curve::Circle { axis, x, .. } = &mut curve {
            *x = perpendicular(*axis);
        }
        if matches!(curve, Curve::Line { .. }) {
            return Err(BrepError::unclear("a closed edge on a line", points[0]));
        }
        brep.vertices.push(curve.point(0.0));
        ends = [brep.vertices.len() - 1; 2];
        range = [0.0, std::f64::consts::TAU];
    } else {
        ends = [corners[&chain.vertices[0]], corners[&chain.vertices[last]]];
        let (p, q) = (brep.vertices[ends[0]], brep.vertices[ends[1]]);
        match &mut curve {
            Curve::Line { origin, direction } => {
                let length = (q - p).norm();
                if length < SHORTEST || (q - p).dot(&(points[last] - points[0])) <= 0.0 {
                    return Err(BrepError::unclear("an edge vanished", p));
                }
                *origin = p;
                *direction = (q - p) / length;
                range = [0.0, length];
            }
            Curve::Circle {
                centre, axis, x, ..
            } => {
                let v = p - *centre;
                *x = (v - *axis * v.dot(axis)).normalize();
                range = [0.0, positive_turn(curve.parameter(&q), ends[0] == ends[1])];
            }
            _ => {
                let t0 = curve.parameter(&p);
                let turn = (curve.parameter(&q) - t0).rem_euclid(std::f64::consts::TAU);
                range = [t0, t0 + positive_turn(turn, ends[0] == ends[1])];
            }
        }
    }
    let (long, raw) = (curve.length(range), raw_length(mesh, chain));
    if long < SHORTEST || (long - raw).abs() > 0.1 * raw + 100.0 * chord {
        return Err(BrepError::unclear(
            "an edge runs another way",
            points[last / 2],
        ));
    }
    Ok(Edge { curve, range, ends })
}

/// A turn from a vertex to itself is a whole one.
fn positive_turn(angle: f64, same_vertex: bool) -> f64 {
    if same_vertex {
        std::f64::consts::TAU
    } else {
        angle
    }
}

/// An edge on a B-spline along both surfaces.
fn spline_edge(
    mesh: &TaggedMesh,
    chain: &Chain,
    pair: [Surface; 2],
    corners: &BTreeMap<u32, usize>,
    brep: &mut Brep,
    chord: f64,
) -> Result<Edge, BrepError> {
    let mut points: Vec<Point3> = chain
        .vertices
        .iter()
        .map(|v| mesh.points[*v as usize])
        .collect();
    let last = points.len() - 1;
    let ends = if chain.closed {
        let (at, left) = settle(points[0], &pair);
        if left > ON {
            return Err(BrepError::unclear("two faces do not cross", points[0]));
        }
        brep.vertices.push(at);
        [brep.vertices.len() - 1; 2]
    } else {
        [corners[&chain.vertices[0]], corners[&chain.vertices[last]]]
    };
    points[0] = brep.vertices[ends[0]];
    points[last] = brep.vertices[ends[1]];
    if raw_length(mesh, chain) < SHORTEST {
        return Err(BrepError::unclear("an edge vanished", points[0]));
    }
    let far = points
        .iter()
        .map(|p| reach(&pair, p, chord))
        .fold(0.0, f64::max);
    let s = spline::along(&pair[0], &pair[1], &points, far)?;
    let range = [0.0, s.knots[s.knots.len() - 1]];
    Ok(Edge {
        curve: Curve::Spline(s),
        range,
        ends,
    })
}
