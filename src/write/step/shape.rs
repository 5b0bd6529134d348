//! Topology and geometry of one solid.

use super::entities::{Entities, fine, list, real};
use crate::solid::brep::{Brep, Curve, Edge, Face, Frame, Spline};
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
    let faces: Vec<usize> = brep.faces.iter().map(|f| face(e, f, &edges)).collect();
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
            let centre = frame.origin + frame.x * *major;
            let ring = placement(e, &centre, &-frame.y, &frame.x);
            let circle = e.share(format!("CIRCLE('',#{ring},{})", real(*minor)));
            let (p, z) = (point(e, &frame.origin), direction(e, &frame.z));
            let axis = e.share(format!("AXIS1_PLACEMENT('',#{p},#{z})"));
            format!("SURFACE_OF_REVOLUTION('',#{circle},#{axis})")
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

fn face(e: &mut Entities, f: &Face, edges: &[usize]) -> usize {
    let bounds: Vec<usize> = f
        .loops
        .iter()
        .map(|l| {
            let uses: Vec<usize> = l
                .uses
                .iter()
                .map(|u| {
                    let sense = if u.forward { 'T' } else { 'F' };
                    e.add(&format!(
                        "ORIENTED_EDGE('',*,*,#{},.{sense}.)",
                        edges[u.edge]
                    ))
                })
                .collect();
            let chain = e.add(&format!("EDGE_LOOP('',{})", list(&uses)));
            let kind = if l.outer {
                "FACE_OUTER_BOUND"
            } else {
                "FACE_BOUND"
            };
            e.add(&format!("{kind}('',#{chain},.T.)"))
        })
        .collect();
    let on = surface(e, &f.surface, &f.frame);
    let sense = if f.same_sense { 'T' } else { 'F' };
    e.add(&format!(
        "ADVANCED_FACE('',{},#{on},.{sense}.)",
        list(&bounds)
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
