//! A small picture of a plate as it lies on the machine in one set-up.
//!
//! Input: a plate, the face that looks up, the work piece when the set-up is done. Output: a
//! [`Drawing`] as wide as a page of a document: the metal in greys by depth, outline, what is cut
//! from this face, tags, the datum with its axes.

use super::face::{bounds_on, face_picture};
use super::label::Placer;
use super::template::datum_mark;
use super::text::{Box2, extent};
use super::{Drawing, Frame, Item, Pen};
use crate::design::{Face, Plate};
use crate::shop::removal::WorkPiece;
use crate::shop::view::FaceView;
use crate::sketch::Point;
use crate::write::document::pages::WIDTH;

/// Room for the plate, and around it for labels and the datum, mm.
const ROOM: (f64, f64) = (130.0, 80.0);
const AROUND: (f64, f64) = (22.0, 11.0);
/// Height of tags, mm.
const TAG: f64 = 2.5;

/// Greys of a picture of the work piece: at the face, and at its deepest.
const GREYS: (f32, f32) = (242.0, 130.0);
/// Places of the work piece over the longer side of a plate.
const PLACES: f64 = 150.0;

/// Distance of places for a picture of a plate's work piece, mm.
pub fn pitch(plate: &Plate) -> f64 {
    let b = plate.outline.bounds();
    b.width().max(b.height()) / PLACES
}

/// The metal of a work piece: the darker the deeper, white where it is open right through.
fn metal(plate: &Plate, face: Face, work: &WorkPiece, frame: Frame) -> Vec<Item> {
    let view = FaceView::on(plate, face);
    let (nx, ny) = work.size;
    let deepest = work.depths.iter().flatten().copied().fold(0.0, f32::max);
    let grey = |d: f32| {
        // Shallow cuts show too: by the root of the depth, in a few steps.
        let share = (d.max(0.0) / deepest.max(1e-3)).sqrt();
        (GREYS.0 + (GREYS.1 - GREYS.0) * (share * 12.0).ceil() / 12.0) as u8
    };
    // Runs of one grey along a row; equal ones of the rows above go on.
    let mut open: Vec<(usize, usize, u8, usize)> = Vec::new();
    let mut out = Vec::new();
    let mut close = |(i0, i1, grey, j0): (usize, usize, u8, usize), j: usize| {
        let corner = |i: usize, j: usize| {
            let by = nalgebra::Vector2::new(i as f64 - 0.5, j as f64 - 0.5) * work.pitch;
            frame.point(view.point(work.first + by))
        };
        let points = vec![corner(i0, j0), corner(i1, j0), corner(i1, j), corner(i0, j)];
        out.push(Item::Shade(points, grey));
    };
    for j in 0..ny {
        let mut runs: Vec<(usize, usize, u8)> = Vec::new();
        for i in 0..nx {
            let Some(g) = work.depths[j * nx + i].map(grey) else {
                continue;
            };
            match runs.last_mut() {
                Some((_, end, last)) if *end == i && *last == g => *end = i + 1,
                _ => runs.push((i, i + 1, g)),
            }
        }
        let (go_on, ended): (Vec<_>, Vec<_>) = open
            .drain(..)
            .partition(|o| runs.contains(&(o.0, o.1, o.2)));
        ended.into_iter().for_each(|o| close(o, j));
        let fresh = runs
            .iter()
            .filter(|r| !go_on.iter().any(|o| (o.0, o.1, o.2) == **r));
        let fresh: Vec<_> = fresh.map(|r| (r.0, r.1, r.2, j)).collect();
        open = go_on;
        open.extend(fresh);
    }
    open.into_iter().for_each(|o| close(o, ny));
    out
}

/// The picture; with the work piece as it is after the set-up.
pub fn setup_picture(plate: &Plate, face: Face, work: Option<&WorkPiece>) -> Drawing {
    let b = bounds_on(plate, face);
    let scale = (ROOM.0 / b.width())
        .min(ROOM.1 / b.height())
        .clamp(1e-6, 1.5);
    let (w, h) = (b.width() * scale, b.height() * scale);
    let height = h + 2.0 * AROUND.1;
    let left = (0.5 * (WIDTH - w)).max(AROUND.0);
    let frame = Frame {
        origin: Point::new(left - b.min.x * scale, AROUND.1 - b.min.y * scale),
        scale,
    };
    let p = face_picture(plate, face, frame, Pen::Outline, Pen::Narrow);
    let view = FaceView::on(plate, face);
    let mark = datum_mark(
        frame.point(view.point(view.datum)),
        if view.mirrored() { -1.0 } else { 1.0 },
    );
    let mut placer = Placer {
        bounds: Some(Box2 {
            low: Point::origin(),
            high: Point::new(WIDTH, height),
        }),
        ..Placer::default()
    };
    for i in &mark {
        if let Item::Text(t) = i {
            placer.taken.push(extent(t));
        }
    }
    let labels = p.labels(&mut placer, TAG);
    let mut items = work.map_or_else(Vec::new, |w| metal(plate, face, w, frame));
    items.extend(p.items);
    items.extend(mark);
    items.extend(labels);
    Drawing {
        width: WIDTH,
        height,
        title: format!("{} as it is clamped", plate.title),
        items,
    }
}
