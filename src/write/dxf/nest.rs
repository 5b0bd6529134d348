//! One sheet with all plates of a thickness for a profile-cutting service.
//!
//! Input: a design, the process, the kerf. Output: drawings with the plates side by side.
//! Contours are moved by half the kerf, outer ones outward, inner ones inward. Each has a
//! lead-in: the beam pierces in the scrap, not on the edge. Holes that are tapped, reamed,
//! tapered, or smaller than the process can cut become centre marks, to be drilled.
//!
//! | layer | holds |
//! |---|---|
//! | CUT_INNER | closed contours inside a plate: cut first |
//! | CUT_OUTER | outlines of the plates: cut last |
//! | LEAD_IN | from the pierce point to the contour |
//! | MARK | crosses on hole centres: engraved or popped, not cut |

mod pack;

use pack::{Laid, pack};

use super::entity::{Drawing, Geometry, Layer};
use super::plate::unit_word;
use crate::base::finding::released;
use crate::base::shown;
use crate::design::{Design, Plate, Shape};
use crate::shop::profile::{ProfileCut, hole_is_cut, lead, spacing};
use crate::shop::view::FaceView;
use crate::sketch::rotate;
use crate::sketch::{Contour, Point, Region};
use crate::write::dxf::plate::visible_circles;
use nalgebra::Vector2;

const CUT_INNER: Layer = Layer {
    name: "CUT_INNER",
    colour: 1,
};
const CUT_OUTER: Layer = Layer {
    name: "CUT_OUTER",
    colour: 7,
};
const LEAD_IN: Layer = Layer {
    name: "LEAD_IN",
    colour: 3,
};
const MARK: Layer = Layer {
    name: "MARK",
    colour: 8,
};

/// Half the length of a cross, mm.
const CROSS: f64 = 2.0;

/// Sheets by material and thickness, each group on as many as `size` (width and height, mm)
/// asks for, or on one as large as it needs; each with words for its file name (empty when
/// there is only one).
pub fn cut_sheets(
    design: &Design,
    cut: &ProfileCut,
    size: Option<(f64, f64)>,
) -> Vec<(String, Drawing)> {
    let mut groups: Vec<(String, Vec<&Plate>)> = Vec::new();
    for p in design.plates.iter().filter(|p| p.side.lies_on_sheet()) {
        let key = format!(
            "{}-{}",
            p.material.to_lowercase(),
            shown::size(p.thickness()).replace(' ', "")
        );
        match groups.iter_mut().find(|g| g.0 == key) {
            Some(g) => g.1.push(p),
            None => groups.push((key, vec![p])),
        }
    }
    let single = groups.len() == 1;
    let mut out = Vec::new();
    for (key, plates) in groups {
        let drawings = sheets(design, &plates, cut, size);
        let many = drawings.len() > 1;
        for (i, d) in drawings.into_iter().enumerate() {
            let words = match (single, many) {
                (true, false) => String::new(),
                (true, true) => (i + 1).to_string(),
                (false, false) => key.clone(),
                (false, true) => format!("{key}-{}", i + 1),
            };
            out.push((words, d));
        }
    }
    out
}

/// The plates of one material and thickness on their sheets.
fn sheets(
    design: &Design,
    plates: &[&Plate],
    cut: &ProfileCut,
    size: Option<(f64, f64)>,
) -> Vec<Drawing> {
    let thickness = plates.iter().map(|p| p.thickness()).fold(0.0, f64::max);
    let gap = spacing(thickness, cut.kerf);
    let sizes: Vec<(f64, f64)> = plates
        .iter()
        .map(|p| {
            let b = seen(p).bounds();
            (b.width(), b.height())
        })
        .collect();
    let laid = pack(&sizes, gap, size);
    let count = laid.iter().map(|l| l.sheet + 1).max().unwrap_or(0);
    (0..count)
        .map(|k| {
            let on: Vec<&Laid> = laid.iter().filter(|l| l.sheet == k).collect();
            let mut d = Drawing::default();
            let mut names = Vec::new();
            for l in on {
                let plate = plates[l.index];
                place(&mut d, plate, cut, l);
                names.push(format!(
                    "{} at X {} Y {}{}",
                    plate.name,
                    shown::bare_size(l.low.x),
                    shown::bare_size(l.low.y),
                    if l.turned { ", turned by 90°" } else { "" }
                ));
            }
            if !released(&design.findings) {
                d.comments.push("NOT RELEASED - do not cut metal".into());
            }
            let of = size.map_or(String::new(), |(w, h)| {
                format!("; sheet {} of {count}, {} x {}", k + 1, shown::bare_size(w), shown::size(h))
            });
            d.comments.extend([
                format!(
                    "{} - cut sheet - revision {}{of}",
                    design.title, design.revision
                ),
                format!(
                    "{}, {} thick, {}; unit {}, scale 1:1; seen on the reference faces",
                    plates.first().map_or("", |p| p.material.as_str()),
                    shown::size(thickness),
                    cut.process.word(),
                    unit_word()
                ),
                format!(
                    "Compensated for a kerf of {}: do not compensate again.",
                    shown::size(cut.kerf)
                ),
                "Cut CUT_INNER first, CUT_OUTER last; LEAD_IN begins at the pierce; MARK is not cut."
                    .into(),
                names.join("; "),
            ]);
            d
        })
        .collect()
}

/// A plate as it lies on the sheet: its view, turned or not, then moved.
struct Lying {
    view: FaceView,
    angle_deg: f64,
    by: Vector2<f64>,
}

impl Lying {
    fn new(plate: &Plate, l: &Laid) -> Self {
        let mut out = Self {
            view: FaceView::of(plate),
            angle_deg: if l.turned { 90.0 } else { 0.0 },
            by: Vector2::zeros(),
        };
        out.by = l.low - out.region(&plate.outline).bounds().min;
        out
    }
    fn point(&self, p: Point) -> Point {
        rotate(self.view.point(p), self.angle_deg) + self.by
    }
    fn region(&self, r: &Region) -> Region {
        let seen = self.view.region(r);
        seen.rotated(self.angle_deg).translated(self.by)
    }
}

/// The plate's outline as seen on its reference face.
fn seen(plate: &Plate) -> Region {
    FaceView::of(plate).region(&plate.outline)
}

fn place(d: &mut Drawing, plate: &Plate, cut: &ProfileCut, l: &Laid) {
    let half = 0.5 * cut.kerf;
    let length = lead(plate.thickness());
    let lying = Lying::new(plate, l);
    let mut inner: Vec<(String, Contour)> = Vec::new();
    for f in &plate.features {
        match &f.shape {
            Shape::Hole(hole) => {
                let at = lying.point(hole.at);
                match hole_is_cut(plate, hole, cut) {
                    Some(dia) => {
                        let through = visible_circles(hole)
                            .iter()
                            .any(|c| c.2 && (c.1 - dia).abs() < 1e-9);
                        debug_assert!(through);
                        let radius = 0.5 * dia - half;
                        d.push(CUT_INNER, &f.tag, Geometry::Circle { centre: at, radius });
                        let from = at + Vector2::new((radius - length).max(0.0), 0.0);
                        let to = at + Vector2::new(radius, 0.0);
                        d.push(LEAD_IN, &f.tag, Geometry::Line { from, to });
                    }
                    None => cross(d, &f.tag, at),
                }
            }
            Shape::Pocket { region, .. } if plate.opens(f) => {
                for r in lying.region(region).offset(-half) {
                    inner.extend(r.contours().map(|c| (f.tag.clone(), c.clone())));
                }
            }
            _ => {}
        }
    }
    for (tag, c) in inner {
        lead_in(d, &tag, &c, length, true);
        d.push_contour(CUT_INNER, &tag, &c);
    }
    for r in lying.region(&plate.outline).offset(half) {
        for (k, c) in r.contours().enumerate() {
            lead_in(d, "", c, length, k > 0);
            d.push_contour(if k == 0 { CUT_OUTER } else { CUT_INNER }, "", c);
        }
    }
}

fn cross(d: &mut Drawing, tag: &str, at: Point) {
    for arm in [Vector2::new(CROSS, 0.0), Vector2::new(0.0, CROSS)] {
        let (from, to) = (at - arm, at + arm);
        d.push(MARK, tag, Geometry::Line { from, to });
    }
}

/// A line square to the middle of the contour's longest piece, from the scrap.
fn lead_in(d: &mut Drawing, tag: &str, c: &Contour, length: f64, inside: bool) {
    let Some(s) = c
        .segments()
        .max_by(|a, b| a.length().total_cmp(&b.length()))
    else {
        return;
    };
    let to = s.point_at(0.5);
    let along = s.direction_at(0.5);
    let left = Vector2::new(-along.y, along.x);
    // The metal lies left of a counter-clockwise contour; scrap is inside for an inner one.
    let inner_side = if c.signed_area() > 0.0 { left } else { -left };
    let scrap = if inside { inner_side } else { -inner_side };
    let b = c.bounds();
    let most = if inside {
        0.4 * b.width().min(b.height())
    } else {
        f64::INFINITY
    };
    let from = to + scrap * length.min(most);
    d.push(LEAD_IN, tag, Geometry::Line { from, to });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::data::profile::Process;
    use crate::design::sample;

    #[test]
    fn plates_stand_apart_compensated_with_small_holes_marked() {
        let design = sample::design();
        let cut = ProfileCut {
            process: Process::Waterjet,
            kerf: 1.0,
        };
        let sheets = cut_sheets(&design, &cut, None);
        let contours: Vec<(f64, f64)> = sheets
            .iter()
            .flat_map(|s| &s.1.entities)
            .filter(|e| e.layer == CUT_OUTER)
            .map(|e| {
                let Geometry::Polyline { vertices, .. } = &e.geometry else {
                    panic!("{e:?}");
                };
                let b = Contour::new(vertices.clone()).bounds();
                (b.width(), b.height())
            })
            .collect();
        assert_eq!(contours.len(), design.plates.len());
        for ((w, h), p) in contours.iter().zip(&design.plates) {
            let b = p.outline.bounds();
            assert!((w - b.width() - 1.0).abs() < 1e-6 && (h - b.height() - 1.0).abs() < 1e-6);
        }
        // Every hole is either cut or marked with a cross of two lines.
        let holes = design.plates.iter().flat_map(|p| &p.features);
        let holes = holes.filter(|f| matches!(f.shape, Shape::Hole(_))).count();
        let all = || sheets.iter().flat_map(|s| &s.1.entities);
        let marks = all().filter(|e| e.layer == MARK).count();
        let cut = all()
            .filter(|e| e.layer == CUT_INNER && matches!(e.geometry, Geometry::Circle { .. }))
            .count();
        assert_eq!(marks / 2 + cut, holes);
    }
}
