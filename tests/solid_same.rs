//! The same input gives the same solid, bit by bit, whatever the library's hash maps do:
//! every thread and every map hashes with other keys, so each repetition is a new draw.

use platewright::part::{Form, ProfilePoint};
use platewright::sketch::{Contour, Path, Point, Region, Vertex};
use platewright::solid::boolean::{difference, intersection, union};
use platewright::solid::{TaggedMesh, Tolerance, audit, form_mesh};
use std::f64::consts::FRAC_PI_8;

const TOLERANCE: Tolerance = Tolerance {
    chord: 0.02,
    turn: 0.0,
};

fn made(form: &Form) -> TaggedMesh {
    form_mesh(form, &TOLERANCE).expect("a body")
}

fn block(x: [f64; 2], y: [f64; 2], z: [f64; 2]) -> TaggedMesh {
    let corners = [(0, 0), (1, 0), (1, 1), (0, 1)];
    let contour = corners.map(|(i, j)| Vertex::new(x[i], y[j], 0.0));
    made(&Form::Prism {
        region: Region::simple(Contour::new(contour.to_vec())),
        profile: vec![ProfilePoint::new(0.0, z[0]), ProfilePoint::new(0.0, z[1])],
    })
}

fn turned(x: f64, y: f64, profile: Vec<ProfilePoint>) -> TaggedMesh {
    made(&Form::Turned {
        at: Point::new(x, y),
        profile,
    })
}

fn rod(x: f64, y: f64, r: f64, z: [f64; 2]) -> TaggedMesh {
    turned(x, y, z.map(|z| ProfilePoint::new(r, z)).to_vec())
}

fn rounded_disc() -> TaggedMesh {
    let quarter = ProfilePoint {
        across: 9.0,
        z: 0.0,
        bulge: FRAC_PI_8.tan(),
    };
    let profile = vec![
        quarter,
        ProfilePoint::new(11.0, 2.0),
        ProfilePoint::new(11.0, 6.0),
    ];
    turned(0.0, 0.0, profile)
}

fn groove(z: f64) -> TaggedMesh {
    let vertices = [(-14.0, -3.0, 0.4), (2.0, 4.0, -0.7), (9.0, -8.0, 0.0)];
    made(&Form::Groove {
        path: Path {
            vertices: vertices.map(|(x, y, b)| Vertex::new(x, y, b)).to_vec(),
        },
        radius: 1.5,
        z,
        below: true,
    })
}

/// Bodies that share planes, edges and corners, cross each other's diagonals or only touch.
fn nasty() -> Vec<(&'static str, TaggedMesh, TaggedMesh)> {
    let cube = block([0.0, 10.0], [0.0, 10.0], [0.0, 10.0]);
    let mut two = block([-4.0, 0.0], [0.0, 4.0], [2.0, 8.0]);
    two.append(&block([10.0, 14.0], [10.0, 12.0], [0.0, 10.0]));
    vec![
        (
            "shared faces",
            cube.clone(),
            block([10.0, 15.0], [0.0, 10.0], [0.0, 5.0]),
        ),
        (
            "shared edge",
            cube.clone(),
            block([10.0, 15.0], [10.0, 15.0], [0.0, 10.0]),
        ),
        (
            "shared corner",
            cube.clone(),
            block([10.0, 15.0], [10.0, 15.0], [10.0, 15.0]),
        ),
        (
            "flush pocket",
            cube.clone(),
            block([3.0, 7.0], [0.0, 6.0], [4.0, 10.0]),
        ),
        (
            "through slot",
            cube.clone(),
            block([2.0, 4.0], [-1.0, 11.0], [5.0, 10.0]),
        ),
        ("same body", cube.clone(), cube.clone()),
        (
            "on the diagonal",
            cube.clone(),
            rod(5.0, 5.0, 2.0, [5.0, 12.0]),
        ),
        (
            "tangent to a side",
            cube.clone(),
            rod(5.0, 2.0, 2.0, [-1.0, 11.0]),
        ),
        (
            "about an edge",
            cube.clone(),
            rod(10.0, 10.0, 3.0, [-1.0, 10.0]),
        ),
        ("touching pieces", cube, two),
        (
            "rods side by side",
            rod(0.0, 0.0, 5.0, [0.0, 8.0]),
            rod(6.0, 1.0, 5.0, [0.0, 8.0]),
        ),
        (
            "rod on its axis",
            rod(0.0, 0.0, 5.0, [0.0, 8.0]),
            rod(0.0, 0.0, 5.0, [4.0, 12.0]),
        ),
        ("groove in a disc", rounded_disc(), groove(6.0)),
        ("groove under a disc", rounded_disc(), groove(1.0)),
        (
            "bar across a disc",
            rounded_disc(),
            block([-20.0, 20.0], [-2.0, 2.0], [2.0, 8.0]),
        ),
    ]
}

/// Every operation on the pair, and a second cut through the results.
fn all(a: &TaggedMesh, b: &TaggedMesh) -> Vec<Result<TaggedMesh, String>> {
    let second = rod(4.0, 4.5, 3.25, [3.0, 14.0]);
    let first = [
        union(a, b),
        difference(a, b),
        difference(b, a),
        intersection(a, b),
    ];
    let mut out = Vec::new();
    for mesh in first {
        if let Ok(mesh) = &mesh {
            out.push(difference(mesh, &second).map_err(|e| e.to_string()));
            out.push(union(&second, mesh).map_err(|e| e.to_string()));
        }
        out.push(mesh.map_err(|e| e.to_string()));
    }
    out
}

#[test]
fn nasty_bodies_again_and_again() {
    for (name, a, b) in nasty() {
        let first = all(&a, &b);
        let again: Vec<_> = std::thread::scope(|s| {
            let runs: Vec<_> = (0..12).map(|_| s.spawn(|| all(&a, &b))).collect();
            runs.into_iter()
                .map(|r| r.join().expect("no panic"))
                .collect()
        });
        for (k, found) in again.iter().flat_map(|r| r.iter().enumerate()) {
            assert!(
                *found == first[k],
                "{name}, result {k}: {}",
                unlike(found, &first[k])
            );
        }
    }
}

/// What differs, for the message.
fn unlike(a: &Result<TaggedMesh, String>, b: &Result<TaggedMesh, String>) -> String {
    match (a, b) {
        (Ok(a), Ok(b)) => {
            let places = a
                .points
                .iter()
                .zip(&b.points)
                .filter(|(p, q)| p != q)
                .count();
            let rows = a
                .triangles
                .iter()
                .zip(&b.triangles)
                .filter(|(p, q)| p != q)
                .count();
            format!(
                "{} and {} vertices, {places} differ; {} and {} triangles, {rows} differ",
                a.points.len(),
                b.points.len(),
                a.triangles.len(),
                b.triangles.len()
            )
        }
        _ => format!("{:?} and {:?}", a.as_ref().err(), b.as_ref().err()),
    }
}

/// Volumes by set algebra: vol(A) + vol(B) = vol(A ∪ B) + vol(A ∩ B), vol(A − B) = vol(A) − vol(A ∩ B).
#[test]
fn nasty_bodies_keep_their_volumes() {
    for (name, a, b) in nasty() {
        let volume = |m: Result<TaggedMesh, _>| m.map(|m| m.volume()).expect("a body");
        let (va, vb) = (a.volume(), b.volume());
        let both = volume(intersection(&a, &b));
        let near = |x: f64, y: f64| (x - y).abs() < 1e-9 * (va + vb);
        assert!(near(volume(union(&a, &b)), va + vb - both), "{name}: union");
        assert!(
            near(volume(difference(&a, &b)), va - both),
            "{name}: difference"
        );
        assert!(
            near(volume(difference(&b, &a)), vb - both),
            "{name}: the other difference"
        );
        for m in [difference(&a, &b), union(&a, &b), intersection(&a, &b)] {
            let m = m.expect("a body");
            assert!(
                m.is_empty() || audit(&m, &TOLERANCE).is_ok(),
                "{name}: {:?}",
                audit(&m, &TOLERANCE)
            );
        }
    }
}
