//! Areas of two outlines: what lies in both and in either must add up; an offset inwards lies
//! within, one outwards around. Corners lie on a grid, so that edges touch, overlap and coincide.
#![no_main]

use libfuzzer_sys::fuzz_target;
use platewright::sketch::{Contour, Region, Vertex};

/// Tangents of a quarter of an arc's angle.
const BULGES: [f64; 8] = [0.0, 0.0, 0.0, 0.0, 0.4142135623730951, -0.4142135623730951, 1.0, -0.2];

fn outline(bytes: &[u8]) -> Option<Region> {
    let corners = bytes.chunks_exact(2).map(|c| {
        let bulge = BULGES[usize::from(c[0] >> 5)];
        Vertex::new(f64::from(c[0] & 31), f64::from(c[1] & 31), bulge)
    });
    let mut contour = Contour::new(corners.take(12).collect());
    let all = &contour.vertices;
    let doubled = (0..all.len()).any(|i| all[i].at == all[(i + 1) % all.len()].at);
    if all.len() < 3 || doubled || !contour.is_simple() {
        return None;
    }
    if contour.signed_area() < 0.0 {
        contour = contour.reversed();
    }
    (contour.signed_area() > 0.5).then(|| Region::simple(contour))
}

fn area(regions: &[Region]) -> f64 {
    regions.iter().map(Region::area).sum()
}

fuzz_target!(|bytes: &[u8]| {
    let Some((by, rest)) = bytes.split_first() else {
        return;
    };
    let (a, b) = rest.split_at(rest.len() / 2);
    let Some(a) = outline(a) else { return };
    if let Some(b) = outline(b) {
        let all = (a.union(&b), a.intersection(&b), a.difference(&b));
        if let (Ok(either), Ok(both), Ok(rest)) = all {
            let (either, both, rest) = (area(&either), area(&both), area(&rest));
            assert!((either + both - a.area() - b.area()).abs() < 1e-3, "{either} {both}");
            assert!((rest + both - a.area()).abs() < 1e-3, "{rest} {both}");
        }
    }
    let d = 0.1 + f64::from(by % 32) / 16.0;
    let (larger, smaller) = (area(&a.offset(d)), area(&a.offset(-d)));
    assert!(larger > a.area(), "{larger} by {d}");
    assert!(smaller < a.area(), "{smaller} by {d}");
});
