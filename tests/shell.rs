//! The mesh of the starter file `shell`: made here, from formulae.
//!
//! A scalloped dome: radius 38 + 1.2 cos 14a mm, 9 mm of rise, ribs of 0.5 mm that run out at the
//! rim, 2.6 mm thick along the pull, and a foot that lies flat all round.

use std::f64::consts::TAU;

const ROUND: usize = 112;
const RINGS: usize = 10;

/// Radius of the edge at an angle, mm.
fn edge(a: f64) -> f64 {
    38.0 + 1.2 * (14.0 * a).cos()
}

/// Rise over the foot at a share of the radius, mm.
fn rise(s: f64, a: f64) -> f64 {
    let ribs = 0.5 * (14.0 * a).cos() * s * s * (1.0 - s * s) * 4.0;
    9.0 * (1.0 - s * s) + ribs
}

/// One side of the shell: its middle, then rings; `inset` from the edge, `lift` over the rise.
fn side(inset: f64, lift: f64) -> Vec<[f64; 3]> {
    let mut points = vec![[0.0, 0.0, rise(0.0, 0.0) + lift]];
    for i in 1..=RINGS {
        let s = i as f64 / RINGS as f64;
        for k in 0..ROUND {
            let a = TAU * k as f64 / ROUND as f64;
            let r = s * (edge(a) - inset);
            points.push([r * a.cos(), r * a.sin(), rise(s, a) + lift]);
        }
    }
    points
}

fn triangles() -> Vec<[[f64; 3]; 3]> {
    let at = |i: usize, k: usize| 1 + (i - 1) * ROUND + k % ROUND;
    let mut out = Vec::new();
    let (top, bottom) = (side(0.0, 2.6), side(2.6, 0.0));
    let mut sheet = |p: &[[f64; 3]], up: bool| {
        let mut face = |t: [usize; 3]| {
            let [a, b, c] = t.map(|i| p[i]);
            out.push(if up { [a, b, c] } else { [a, c, b] });
        };
        for k in 0..ROUND {
            face([0, at(1, k), at(1, k + 1)]);
            for i in 1..RINGS {
                face([at(i, k), at(i + 1, k), at(i + 1, k + 1)]);
                face([at(i, k), at(i + 1, k + 1), at(i, k + 1)]);
            }
        }
    };
    sheet(&top, true);
    sheet(&bottom, false);
    // The rim leans 3 degrees; the foot runs from it to the lower side's edge.
    let foot = |k: usize| {
        let a = TAU * (k % ROUND) as f64 / ROUND as f64;
        let r = edge(a) + 2.6 * 3f64.to_radians().tan();
        [r * a.cos(), r * a.sin(), 0.0]
    };
    for k in 0..ROUND {
        let (a, b) = (top[at(RINGS, k)], top[at(RINGS, k + 1)]);
        let (c, d) = (foot(k), foot(k + 1));
        let (e, f) = (bottom[at(RINGS, k)], bottom[at(RINGS, k + 1)]);
        out.extend([[a, c, d], [a, d, b], [c, e, f], [c, f, d]]);
    }
    out
}

/// Binary STL.
fn bytes() -> Vec<u8> {
    let all = triangles();
    let mut out = vec![0; 80];
    let head = b"Saltmarsh Repair Shed: shell soap dish, millimetres";
    out[..head.len()].copy_from_slice(head);
    out.extend((all.len() as u32).to_le_bytes());
    for t in all {
        out.extend([0; 12]);
        // Thousandths of a millimetre: the same numbers on every machine.
        for v in t.iter().flatten() {
            out.extend((((v * 1e3).round() / 1e3) as f32).to_le_bytes());
        }
        out.extend([0; 2]);
    }
    out
}

/// `UPDATE_GOLDEN=1 cargo test --test shell` writes the committed file anew.
#[test]
fn the_committed_mesh_is_the_made_one() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/templates/shell.stl");
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        std::fs::write(path, bytes()).unwrap();
    }
    assert!(
        std::fs::read(path).unwrap() == bytes(),
        "templates/shell.stl is not up to date: UPDATE_GOLDEN=1 cargo test --test shell"
    );
}
