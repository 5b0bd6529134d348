//! Topology and geometry of one solid.

use super::entities::{Entities, fine, list, real};
use crate::solid::brep::{Brep, Curve, Edge, EdgeUse, Face, Frame, Spline};
use crate::solid::surface::{Point3, Surface, Vector3};

/// Writes a solid; returns the number of its MANIFOLD_SOLID_BREP.
pub(super) fn solid(e: &mut Entities, name: &str, brep: &Brep) -> usize {
    let vertices: Vec<usize> = brep
        .vertices
        .iter()
        .map(|p| {
            let at = point(e, p);
            e.add(&format!("VERTEX_POINT('',#{at})"))
        })
        .collect();
    let edges: Vec<usize> = brep.edges.iter().map(|x| edge(e, x, &vertices)).collect();
    let faces: Vec<usize> = brep
        .faces
        .iter()
        .map(|f| face(e, brep, f, (&vertices, &edges)))
        .collect();
    let shell = e.add(&format!("CLOSED_SHELL('',{})", list(&faces)));
    e.add(&format!("MANIFOLD_SOLID_BREP({name},#{shell})"))
}

fn point(e: &mut Entities, p: &Point3) -> usize {
    e.share(format!(
        "CARTESIAN_POINT('',({},{},{}))",
        real(p.x),
        real(p.y),
        real(p.z)
    ))
}

fn direction(e: &mut Entities, v: &Vector3) -> usize {
    e.share(format!(
        "DIRECTION('',({},{},{}))",
        fine(v.x),
        fine(v.y),
        fine(v.z)
    ))
}

/// An AXIS2_PLACEMENT_3D.
pub(super) fn placement(e: &mut Entities, at: &Point3, z: &Vector3, x: &Vector3) -> usize {
    let (p, z, x) = (point(e, at), direction(e, z), direction(e, x));
    e.share(format!("AXIS2_PLACEMENT_3D('',#{p},#{z},#{x})"))
}

fn edge(e: &mut Entities, x: &Edge, vertices: &[usize]) -> usize {
    let c = curve(e, &x.curve);
    let [a, b] = x.ends.map(|i| vertices[i]);
    e.add(&format!("EDGE_CURVE('',#{a},#{b},#{c},.T.)"))
}

fn curve(e: &mut Entities, c: &Curve) -> usize {
    match c {
        Curve::Line {
            origin,
            direction: d,
        } => {
            let (p, d) = (point(e, origin), direction(e, d));
            let v = e.share(format!("VECTOR('',#{d},1.)"));
            e.add(&format!("LINE('',#{p},#{v})"))
        }
        Curve::Circle {
            centre,
            axis,
            x,
            radius,
        } => {
            let at = placement(e, centre, axis, x);
            e.add(&format!("CIRCLE('',#{at},{})", real(*radius)))
        }
        Curve::Ellipse {
            centre,
            axis,
            x,
            major,
            minor,
        } => {
            let at = placement(e, centre, axis, x);
            e.add(&format!(
                "ELLIPSE('',#{at},{},{})",
                real(*major),
                real(*minor)
            ))
        }
        Curve::Spline(s) => spline(e, s),
    }
}

fn spline(e: &mut Entities, s: &Spline) -> usize {
    let points: Vec<usize> = s.points.iter().map(|p| point(e, p)).collect();
    let n = s.knots.len();
    let times: Vec<&str> = (0..n)
        .map(|i| if i == 0 || i + 1 == n { "4" } else { "2" })
        .collect();
    let knots: Vec<String> = s.knots.iter().map(|k| real(*k)).collect();
    e.add(&format!(
        "B_SPLINE_CURVE_WITH_KNOTS('',3,{},.UNSPECIFIED.,.F.,.F.,({}),({}),.UNSPECIFIED.)",
        list(&points),
        times.join(","),
        knots.join(",")
    ))
}

/// The cap of such a torus around the point where it meets its axis: of its circle only the arc
/// from there to just beyond the rim, because the rest reaches the axis too.
fn cap(e: &mut Entities, f: &Face) -> Option<usize> {
    let Surface::Torus { major, minor, .. } = f.surface else {
        return None;
    };
    let apex = f.apex_angle().filter(|_| major <= 0.0)?;
    // As far beyond the face's middle as the apex is before it, and a little more.
    let end = apex + 2.1 * (f.branch - apex);
    let circle = profile(e, &f.frame, (major, minor));
    let arc = e.share(format!(
        "TRIMMED_CURVE('',#{circle},(PARAMETER_VALUE({})),(PARAMETER_VALUE({})),.T.,.PARAMETER.)",
        fine(apex.min(end)),
        fine(apex.max(end))
    ));
    Some(turned(e, &f.frame, arc))
}

/// The circle in the half plane of the frame's x whose turning about z makes a torus; its
/// parameter is the tube angle.
fn profile(e: &mut Entities, frame: &Frame, (major, minor): (f64, f64)) -> usize {
    let centre = frame.origin + frame.x * major;
    let ring = placement(e, &centre, &-frame.y, &frame.x);
    e.share(format!("CIRCLE('',#{ring},{})", real(minor)))
}

/// A curve turned about the frame's z.
fn turned(e: &mut Entities, frame: &Frame, curve: usize) -> usize {
    let (p, z) = (point(e, &frame.origin), direction(e, &frame.z));
    let axis = e.share(format!("AXIS1_PLACEMENT('',#{p},#{z})"));
    e.share(format!("SURFACE_OF_REVOLUTION('',#{curve},#{axis})"))
}

fn surface(e: &mut Entities, s: &Surface, frame: &Frame) -> usize {
    let at = placement(e, &frame.origin, &frame.z, &frame.x);
    let body = match s {
        Surface::Plane { .. } => format!("PLANE('',#{at})"),
        Surface::Cylinder { radius, .. } => {
            format!("CYLINDRICAL_SURFACE('',#{at},{})", real(*radius))
        }
        Surface::Cone { radius, slope, .. } => format!(
            "CONICAL_SURFACE('',#{at},{},{})",
            real(*radius),
            fine(slope.atan())
        ),
        // An arc about a centre beyond the axis: TOROIDAL_SURFACE allows no such radius.
        Surface::Torus { major, minor, .. } if *major <= 0.0 => {
            let circle = profile(e, frame, (*major, *minor));
            return turned(e, frame, circle);
        }
        // The outer half of a ring wider than its centre circle.
        Surface::Torus { major, minor, .. } if major < minor => format!(
            "DEGENERATE_TOROIDAL_SURFACE('',#{at},{},{},.T.)",
            real(*major),
            real(*minor)
        ),
        Surface::Torus { major, minor, .. } => {
            format!(
                "TOROIDAL_SURFACE('',#{at},{},{})",
                real(*major),
                real(*minor)
            )
        }
        Surface::Sphere { radius, .. } => {
            format!("SPHERICAL_SURFACE('',#{at},{})", real(*radius))
        }
    };
    e.share(body)
}

fn face(e: &mut Entities, brep: &Brep, f: &Face, (vertices, edges): (&[usize], &[usize])) -> usize {
    let used = |e: &mut Entities, edge: usize, forward: bool| {
        let sense = if forward { 'T' } else { 'F' };
        e.add(&format!("ORIENTED_EDGE('',*,*,#{edge},.{sense}.)"))
    };
    let bounds: Vec<usize> = f
        .loops
        .iter()
        .map(|l| {
            // A cap is bounded by its rim, the way from there to the axis, and the way back: of
            // the rim alone a reader would not know which part of the torus it bounds.
            let seam = f.seam.zip(f.apex_angle()).filter(|_| l.winding != 0);
            let begins = |u: &EdgeUse| seam.is_some_and(|s| brep.ends(*u)[0] == s.0);
            let first = l.uses.iter().position(begins).unwrap_or(0);
            let along = l.uses[first..].iter().chain(&l.uses[..first]);
            let mut uses: Vec<usize> = along.map(|u| used(e, edges[u.edge], u.forward)).collect();
            if let Some((from, apex)) = seam {
                let way = meridian(e, f, apex, (&brep.vertices[from], vertices[from]));
                uses.extend([true, false].map(|forward| used(e, way, forward)));
            }
            let chain = e.add(&format!("EDGE_LOOP('',{})", list(&uses)));
            let kind = if l.outer || seam.is_some() {
                "FACE_OUTER_BOUND"
            } else {
                "FACE_BOUND"
            };
            e.add(&format!("{kind}('',#{chain},.T.)"))
        })
        .collect();
    let on = cap(e, f).unwrap_or_else(|| surface(e, &f.surface, &f.frame));
    let sense = if f.same_sense { 'T' } else { 'F' };
    e.add(&format!(
        "ADVANCED_FACE('',{},#{on},.{sense}.)",
        list(&bounds)
    ))
}

/// The edge from a point on a torus along its tube to the axis.
fn meridian(e: &mut Entities, f: &Face, apex: f64, (from, vertex): (&Point3, usize)) -> usize {
    let Surface::Torus { major, minor, .. } = f.surface else {
        unreachable!("only a torus has tube angles");
    };
    let p = f.frame.local(from);
    let out = (f.frame.x * p.x + f.frame.y * p.y).normalize();
    let (_, here) = f.parameters(p);
    let ring = placement(
        e,
        &(f.frame.origin + out * major),
        &out.cross(&f.frame.z),
        &out,
    );
    let circle = e.share(format!("CIRCLE('',#{ring},{})", real(minor)));
    let tip = f.frame.origin + f.frame.z * (minor * apex.sin());
    let tip = point(e, &tip);
    let tip = e.add(&format!("VERTEX_POINT('',#{tip})"));
    let sense = if apex > here { 'T' } else { 'F' };
    e.add(&format!(
        "EDGE_CURVE('',#{vertex},#{tip},#{circle},.{sense}.)"
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tori_are_written_with_radii_that_the_schema_allows() {
        // ISO 10303-42: major_radius and minor_radius are positive; a torus whose tube is
        // the wider is degenerate.
        for (major, kind) in [
            (8.0, "TOROIDAL_SURFACE('',"),
            (1.0, "DEGENERATE_TOROIDAL_SURFACE('',"),
            (-1.0, "SURFACE_OF_REVOLUTION('',"),
        ] {
            let torus = Surface::Torus {
                centre: Point3::origin(),
                axis: Vector3::z(),
                major,
                minor: 2.0,
            };
            let mut e = Entities::default();
            let n = surface(&mut e, &torus, &Frame::of(&torus));
            assert!(e.data().contains(&format!("#{n}={kind}")), "{}", e.data());
            assert!(!e.data().contains(",-1.,2."), "{}", e.data());
        }
    }
}
