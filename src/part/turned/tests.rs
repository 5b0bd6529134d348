//! Volumes by Pappus, the identity of the halves, refusals with numbers.

use super::*;
use crate::part::Form;
use crate::sketch::{Contour, Point, Vertex};
use std::f64::consts::PI;

fn contour(points: &[(f64, f64)]) -> Contour {
    Contour::new(points.iter().map(|p| Vertex::new(p.0, p.1, 0.0)).collect())
}

fn volume(c: &Contour) -> f64 {
    let at = Point::origin();
    let section = c.clone();
    Form::Revolved { at, section }.volume().expect("a volume")
}

fn sum(all: &[Contour]) -> f64 {
    all.iter().map(volume).sum()
}

/// Cavity A + cavity B − core = part.
fn identity(h: &Halves) {
    let (want, got) = (volume(&h.part), sum(&h.a) + sum(&h.b) - sum(&h.core));
    assert!((got - want).abs() < 1e-9 * want, "{got} {want}");
}

fn cup() -> Contour {
    // Drawn standing: base below, rim at 40. Walls of 2 mm, 1 in 20.
    contour(&[
        (0.0, 0.0),
        (20.0, 0.0),
        (22.0, 40.0),
        (20.0, 40.0),
        (18.1, 2.0),
        (0.0, 2.0),
    ])
}

#[test]
fn a_standing_cup_is_turned_over_and_gets_a_core() {
    let h = split(&cup(), None, None).expect("a cup");
    assert!(h.turned_over && h.parting.abs() < 1e-9 && h.b.is_empty());
    let frustum = |r: f64, s: f64, h: f64| PI * h / 3.0 * (r * r + r * s + s * s);
    let (outer, inner) = (frustum(20.0, 22.0, 40.0), frustum(18.1, 20.0, 38.0));
    assert!((sum(&h.a) - outer).abs() < 1e-9 * outer);
    assert!((sum(&h.core) - inner).abs() < 1e-9 * inner);
    identity(&h);
    let e = split(&cup(), Some(false), None).expect_err("a core on the A plate");
    assert!(matches!(e, SplitError::CoreOnA { .. }), "{e}");
}

#[test]
fn an_arc_that_ends_at_the_widest_corner_does_not_move_the_plane() {
    // The arc bulges out, its circle's widest place lies beyond its end at (29.28, 10.73).
    let mut knob = contour(&[
        (0.0, 0.0),
        (21.44, 0.0),
        (29.28, 10.73),
        (18.62, 17.96),
        (0.0, 17.96),
    ]);
    knob.vertices[1].bulge = 0.053;
    let h = split(&knob, None, None).expect("a knob");
    assert!((h.parting - 10.73).abs() < 1e-9, "{}", h.parting);
    assert!((h.range.0 - 10.73).abs() < 1e-9 && (h.range.1 - 10.73).abs() < 1e-9);
    identity(&h);
}

#[test]
fn a_wheel_is_parted_where_it_needs_no_core() {
    // Rim, web and hub with a bore of 8 mm; web from 8 to 12, rim 0 to 20.
    let wheel = contour(&[
        (4.0, -2.0),
        (9.0, -2.0),
        (9.5, 8.0),
        (30.5, 8.0),
        (31.0, 0.0),
        (36.0, 0.0),
        (36.5, 12.0),
        (36.0, 20.0),
        (31.0, 20.0),
        (30.5, 12.0),
        (9.5, 12.0),
        (9.0, 22.0),
        (4.0, 22.0),
    ]);
    let h = split(&wheel, None, None).expect("a wheel");
    assert!(!h.turned_over && h.core.is_empty());
    assert!((h.parting - 14.0).abs() < 1e-9, "{}", h.parting);
    identity(&h);
    let e = split(&wheel, None, Some(18.0)).expect_err("not at the widest place");
    assert!(e.to_string().contains("widest at 14 mm"), "{e}");
}

#[test]
fn a_flower_pot_is_shut_off_at_the_narrowest_place_of_its_bore() {
    // Base hole that narrows upwards (in the mold): the core's pin reaches the A plate.
    let pot = contour(&[
        (6.0, 0.0),
        (20.0, 0.0),
        (22.0, 40.0),
        (20.0, 40.0),
        (18.1, 2.0),
        (6.2, 2.0),
    ]);
    let h = split(&pot, None, None).expect("a pot");
    assert!(h.turned_over && h.core.len() == 1);
    assert!((h.core[0].bounds().max.y - 40.0).abs() < 1e-9);
    identity(&h);
}

#[test]
fn an_undercut_is_refused_with_its_place() {
    let spool = contour(&[
        (0.0, 0.0),
        (20.0, 0.0),
        (20.0, 3.0),
        (10.0, 4.0),
        (10.0, 16.0),
        (20.0, 17.0),
        (20.0, 20.0),
        (0.0, 20.0),
    ]);
    let e = split(&spool, None, None).expect_err("an undercut");
    let SplitError::Undercut {
        radius,
        below,
        above,
    } = e
    else {
        panic!("{e}")
    };
    assert!(radius > 10.0 && below < 4.0 + 1e-9 && above > 16.0 - 1e-9);
}

#[test]
fn the_wall_runs_parallel_to_the_outside() {
    let text = "[job]\nname = \"cup\"\n[part.profile]\nstart = [0, 60]\nsteps = [{ to = [30, 60], fillet = 6 }, { to = [33, 0] }]\nwall = 2\n";
    let job = crate::spec::read_bytes(text.as_bytes()).expect("a job");
    let spec = job.part.and_then(|p| p.profile).expect("a profile");
    let drawn = section(&spec.value, spec.span).expect("a section");
    let w = walls(&drawn);
    assert!(
        (w.usual - 2.0).abs() < 1e-6 && (w.thinnest.0 - 2.0).abs() < 1e-3,
        "{w:?}"
    );
    let h = split(&drawn, None, None).expect("a cup");
    assert!(!h.turned_over && h.core.len() == 1);
    identity(&h);
    // Outside by Pappus: frustum less the corner ring; here only bounds of the shell.
    let shell = volume(&h.part);
    let area = PI * (30.0 * 30.0 + (30.0 + 33.0) * 60.0);
    assert!(shell > 1.8 * area && shell < 2.0 * area, "{shell} {area}");
    let way: f64 = w.way.iter().map(|s| s.length).sum();
    assert!((w.way[0].radius < 1.0) && way > 84.0 && way < 90.0, "{way}");
}
