//! A small picture of a plate as it lies on the machine in one set-up.
//!
//! Input: a plate and the face that looks up. Output: a [`Drawing`] as wide as a page of
//! a document: outline, what is cut from this face, tags, the datum with its axes.

use super::face::{bounds_on, face_picture};
use super::label::Placer;
use super::template::datum_mark;
use super::text::{Box2, extent};
use super::{Drawing, Frame, Item, Pen};
use crate::design::{Face, Plate};
use crate::shop::view::FaceView;
use crate::sketch::Point;
use crate::write::document::pages::WIDTH;

/// Room for the plate, and around it for labels and the datum, mm.
const ROOM: (f64, f64) = (130.0, 80.0);
const AROUND: (f64, f64) = (22.0, 11.0);
/// Height of tags, mm.
const TAG: f64 = 2.5;

/// The picture.
pub fn setup_picture(plate: &Plate, face: Face) -> Drawing {
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
    let mut items = p.items;
    items.extend(mark);
    items.extend(labels);
    Drawing {
        width: WIDTH,
        height,
        title: format!("{} as it is clamped", plate.title),
        items,
    }
}
