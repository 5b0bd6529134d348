//! What is cut from one face of a plate, drawn by its defining contours.
//!
//! Input: a plate, one of its faces, where it lands on the sheet. Output: items: the
//! plate's outline, circles of the holes drilled from this face, contours of what is
//! milled; and the points to label. For drill templates and pictures of set-ups: exact
//! circles, no solid needed, nothing hidden behind anything.

use super::label::{Placer, Target};
use super::text::Box2;
use super::{Frame, Item, Pen};
use crate::design::{Face, HoleStep, Plate, Shape};
use crate::shop::view::FaceView;
use crate::sketch::{Bounds, Contour, Point};
use crate::write::dxf::plate::{impression_contours, visible_circles};

/// A hole on the face.
#[derive(Debug, Clone, PartialEq)]
pub struct FaceHole {
    /// Tag.
    pub tag: String,
    /// Its axis on the sheet.
    pub at: Point,
    /// Widest radius on the sheet, mm.
    pub radius: f64,
}

/// What one sees of the work on a face.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FacePicture {
    /// Outline, circles, contours.
    pub items: Vec<Item>,
    /// Holes drilled from this face.
    pub holes: Vec<FaceHole>,
    /// Labels to set, holes first.
    pub targets: Vec<Target>,
}

/// The plate's box as seen on a face, mm from the datum.
pub fn bounds_on(plate: &Plate, face: Face) -> Bounds {
    FaceView::on(plate, face).region(&plate.outline).bounds()
}

/// Draws what is cut from `face`; `holes` and `milled` are the pens of circles and contours.
pub fn face_picture(
    plate: &Plate,
    face: Face,
    frame: Frame,
    holes: Pen,
    milled: Pen,
) -> FacePicture {
    let view = FaceView::on(plate, face);
    let mut out = FacePicture::default();
    let outline = frame.contour(&view.contour(&plate.outline.outer));
    for c in plate.outline.contours() {
        let c = frame.contour(&view.contour(c));
        out.items.push(Item::Contour(c, Pen::Outline));
    }
    let mut others = Vec::new();
    for f in plate.features.iter().filter(|f| f.face == face) {
        let mut label = |c: &Contour| {
            others.push(Target {
                at: nearest_to(c, outline.bounds()),
                clear: 0.6,
                text: f.tag.clone(),
            });
        };
        match &f.shape {
            Shape::Hole(hole) => {
                let at = frame.point(view.point(hole.at));
                let mut radius: f64 = 0.0;
                for (_, dia, _) in visible_circles(hole) {
                    radius = radius.max(0.5 * dia * frame.scale);
                    out.items
                        .push(Item::Circle(at, 0.5 * dia * frame.scale, holes));
                }
                for s in &hole.steps {
                    if let HoleStep::Tap { major, .. } = s {
                        radius = radius.max(0.5 * major * frame.scale);
                        let circle = Item::Circle(at, 0.5 * major * frame.scale, Pen::Hidden);
                        out.items.push(circle);
                    }
                }
                let text = f.tag.clone();
                out.targets.push(Target {
                    at,
                    clear: radius,
                    text: text.clone(),
                });
                out.holes.push(FaceHole {
                    tag: text,
                    at,
                    radius,
                });
            }
            Shape::Pocket { region, .. } => {
                let all: Vec<Item> = region
                    .contours()
                    .map(|k| Item::Contour(frame.contour(&view.contour(k)), milled))
                    .collect();
                // A pocket may run over the edge of the plate.
                out.items.push(Item::Clipped(outline.clone(), all));
                label(&frame.contour(&view.contour(&region.outer)));
            }
            Shape::Groove { path, .. } => {
                let p = frame.path(&view.path(path));
                label(&Contour::new(p.vertices.clone()));
                out.items.push(Item::Path(p, Pen::Centre));
            }
            Shape::Outside(o) => {
                let at = frame.point(view.point(Point::origin()));
                let circles = o.edges().into_iter().map(|d| 0.5 * d * frame.scale);
                out.items
                    .extend(circles.map(|r| Item::Circle(at, r, milled)));
                others.push(Target {
                    at,
                    clear: 0.6,
                    text: f.tag.clone(),
                });
            }
            Shape::Cavity(i) | Shape::Core(i) => {
                let all: Vec<Contour> = impression_contours(f)
                    .iter()
                    .map(|k| frame.contour(&view.contour(k)))
                    .collect();
                others.push(Target {
                    at: frame.point(view.point(i.at)),
                    clear: 0.6,
                    text: f.tag.clone(),
                });
                out.items
                    .extend(all.into_iter().map(|k| Item::Contour(k, milled)));
            }
        }
    }
    out.targets.extend(others);
    out
}

impl FacePicture {
    /// Texts for all targets, clear of circles and lines.
    pub fn labels(&self, placer: &mut Placer, height: f64) -> Vec<Item> {
        for h in &self.holes {
            let r = 0.7 * h.radius.max(1.0);
            placer.taken.push(Box2::around(h.at, r, r));
        }
        super::plan::keep_clear(placer, &self.items);
        placer.place(&self.targets, height)
    }
}

/// The vertex that lies nearest to the middle of a box: there is room beside it.
fn nearest_to(c: &Contour, b: Bounds) -> Point {
    let middle = Point::new(0.5 * (b.min.x + b.max.x), 0.5 * (b.min.y + b.max.y));
    let far = |p: &Point| (p - middle).norm_squared();
    c.vertices
        .iter()
        .map(|v| v.at)
        .min_by(|a, b| far(a).total_cmp(&far(b)))
        .unwrap_or(middle)
}
