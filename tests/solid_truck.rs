//! Our meshes against bodies built and measured by another library.
//!
//! `truck-modeling` builds the same cylinder, frustum and drafted block from its own
//! operations, `truck-meshalgo` triangulates and measures them. Its round bodies come
//! out small by 2e-4 to 1e-3 of their volume at 0.002 mm (measured), plane ones to rounding.

use platewright::part::{Form, ProfilePoint};
use platewright::sketch::{Contour, Point, Region, Vertex};
use platewright::solid::{Tolerance, form_mesh};
use truck_meshalgo::prelude::{CalcVolume, MeshableShape, MeshedShape};
use truck_modeling::{Point3, Rad, Shell, Solid, Vector3, Wire, builder};

fn circle(radius: f64, z: f64) -> Wire {
    let start = builder::vertex(Point3::new(radius, 0.0, z));
    let full = Rad(std::f64::consts::TAU);
    builder::rsweep(&start, Point3::new(0.0, 0.0, z), Vector3::unit_z(), full)
}

fn polygon(corners: &[[f64; 2]], z: f64) -> Wire {
    let v: Vec<_> = corners
        .iter()
        .map(|c| builder::vertex(Point3::new(c[0], c[1], z)))
        .collect();
    (0..v.len())
        .map(|i| builder::line(&v[i], &v[(i + 1) % v.len()]))
        .collect()
}

/// The volume between two wires of equally many edges, each closed by a plane face.
fn lofted(low: &Wire, high: &Wire) -> f64 {
    let mut shell: Shell = builder::try_wire_homotopy(low, high).expect("a loft");
    shell.push(builder::try_attach_plane(&[low.inverse()]).expect("a floor"));
    shell.push(builder::try_attach_plane(std::slice::from_ref(high)).expect("a top"));
    let solid = Solid::new(vec![shell]);
    solid.triangulation(0.002).to_polygon().volume().abs()
}

fn ours(form: &Form) -> f64 {
    form_mesh(form, &Tolerance::with_chord(1e-4))
        .expect("a body")
        .volume()
}

fn turned(list: &[(f64, f64)]) -> Form {
    Form::Turned {
        at: Point::new(0.0, 0.0),
        profile: list.iter().map(|&(r, z)| ProfilePoint::new(r, z)).collect(),
    }
}

#[test]
fn a_cylinder_and_a_frustum_agree_with_truck() {
    for top in [8.0, 5.0] {
        let theirs = lofted(&circle(8.0, 0.0), &circle(top, 12.0));
        let mine = ours(&turned(&[(8.0, 0.0), (top, 12.0)]));
        assert!((theirs - mine).abs() < 1.5e-3 * mine, "{theirs} {mine}");
        // Not just any body of that size: theirs is inscribed too.
        assert!(theirs < mine * (1.0 + 1e-5));
    }
}

#[test]
fn a_drafted_block_agrees_with_truck_to_rounding() {
    let rectangle = |x: f64, y: f64| [[-x, -y], [x, -y], [x, y], [-x, y]];
    let theirs = lofted(
        &polygon(&rectangle(20.0, 15.0), 0.0),
        &polygon(&rectangle(19.0, 14.0), 12.0),
    );
    let region = Region::simple(Contour::new(
        rectangle(20.0, 15.0)
            .iter()
            .map(|c| Vertex::new(c[0], c[1], 0.0))
            .collect(),
    ));
    let mine = ours(&Form::Prism {
        region,
        profile: vec![ProfilePoint::new(0.0, 0.0), ProfilePoint::new(1.0, 12.0)],
    });
    assert!((theirs - mine).abs() < 1e-6 * mine, "{theirs} {mine}");
}
