//! Every hollow of a plate and everything that stands in one, in the words of a drawing.
//!
//! Input: a plate and one of its features. Output: [`Entry`]s: where it lies on its face, and
//! its shape, depth, draft and edges, so that it can be made from the sheet alone. Sizes hold
//! where it opens towards the face: at the mouth of a hollow, at the top of what stands.
//! Depths are from the face.

use super::figure::{Figure, Placed, circle, points_words, recognise, size};
use crate::base::shown;
use crate::base::units::decimals;
use crate::design::{Feature, Impression, Plate, Purpose, Shape};
use crate::part::{BodyOf, Form, ProfilePoint, Role};
use crate::shop::hole_table::{OtherRow, outside_words};
use crate::shop::view::FaceView;
use crate::sketch::{Contour, Point, Region, Segment, Vertex};

/// One hollow, or one thing that stands.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Entry {
    /// Where, from the datum on its face; none for the plate's own axis.
    pub at: Option<Point>,
    /// How it is turned, degrees; none where that is nothing.
    pub angle_deg: Option<f64>,
    /// What it is.
    pub text: String,
}

/// Bodies run this far into what they grow from, mm, so that no skin is left between them; on
/// paper they end where they meet it.
const ROOT: f64 = 0.15;
/// Depths nearer than this are one, mm.
const SAME: f64 = 1e-6;

/// All entries of a feature that is no hole; `row` is its row in the hole table.
pub(super) fn entries(plate: &Plate, f: &Feature, row: &OtherRow) -> Vec<Entry> {
    let view = FaceView::on(plate, f.face);
    let file = format!("{}.dxf", plate.name);
    match &f.shape {
        Shape::Hole(_) => Vec::new(),
        Shape::Pocket {
            region,
            depth,
            draft_deg,
            ..
        } => vec![pocket(plate, f, row, region, (*depth, *draft_deg), &file)],
        Shape::Groove { path, radius } => {
            let path = view.path(path);
            let start = path.vertices.first().map(|v| v.at);
            let ends = points_words(&path.vertices, false, 1.0);
            vec![Entry {
                at: start,
                angle_deg: None,
                text: format!(
                    "half-round R{}, round ends, along X;Y {ends}",
                    size(*radius)
                ),
            }]
        }
        Shape::Outside(o) => vec![Entry {
            at: None,
            angle_deg: None,
            text: format!("from the face: {}", outside_words(o)),
        }],
        Shape::Cavity(i) | Shape::Core(i) => bodies(plate, f, i, &view),
    }
}

fn entry(placed: &Placed, text: String) -> Entry {
    Entry {
        at: Some(placed.at),
        angle_deg: placed.turned().then_some(placed.angle_deg),
        text,
    }
}

fn pocket(
    plate: &Plate,
    f: &Feature,
    row: &OtherRow,
    region: &Region,
    (depth, draft_deg): (f64, f64),
    file: &str,
) -> Entry {
    let view = FaceView::on(plate, f.face);
    let deep = match (plate.opens(f), f.purpose) {
        (true, _) => "through".to_owned(),
        // What the general tolerance does not cover.
        (_, Purpose::VentLand | Purpose::Gate) => {
            format!(
                "{} ±{} deep",
                shown::gauged(depth),
                shown::gauged(row.depth_tolerance)
            )
        }
        _ => format!("{} deep", shown::gauged(depth)),
    };
    let draft = match draft_deg > 0.0 {
        true => format!(", draft {}°", decimals(draft_deg, 2)),
        false => String::new(),
    };
    let region = view.region(region);
    let outline = view.region(&plate.outline);
    // Everything around something that is left standing.
    if let [left] = region.holes.as_slice()
        && region.outer.encloses(&outline.outer)
    {
        let placed = recognise(&Region::simple(left.clone().counter_clockwise()));
        let text = format!("all around {}, {deep}", placed.words(file));
        return entry(&placed, text);
    }
    let placed = recognise(&region);
    let words = match (f.purpose, &placed.figure) {
        // In inches a fit has four decimals.
        (Purpose::CoreSeat, Figure::Circle { dia }) => {
            format!("ø{} H7", shown::bare_length(*dia, 3))
        }
        (Purpose::CoreSeat, _) => format!("{} H7", placed.words(file)),
        _ => placed.words(file),
    };
    entry(&placed, format!("{words}, {deep}{draft}"))
}

/// A body of an impression as seen from its face.
struct Seen<'a> {
    form: &'a Form,
    label: &'a BodyOf,
    hollow: bool,
    /// Where it begins and ends below the face (above it: negative), mm.
    from: f64,
    to: f64,
}

/// How far a height is below a feature's face (above it: negative), mm.
fn below(plate: &Plate, f: &Feature, z: f64) -> f64 {
    (z - plate.z(f.face)) * Plate::inward(f.face)
}

/// Where a body begins and ends below a feature's face, mm.
fn depths(plate: &Plate, f: &Feature, form: &Form) -> (f64, f64) {
    let e = form.extent();
    let (a, b) = (below(plate, f, e.low), below(plate, f, e.high));
    (a.min(b), a.max(b))
}

fn bodies(plate: &Plate, f: &Feature, i: &Impression, view: &FaceView) -> Vec<Entry> {
    let core = matches!(f.shape, Shape::Core(_));
    let depth_of = |z: f64| below(plate, f, z);
    let shaping = f.shaping();
    let mut seen: Vec<Seen<'_>> = Vec::new();
    for ((role, form), label) in i.bodies.iter().zip(&i.labels) {
        if !shaping.iter().any(|(_, other)| std::ptr::eq(other, form)) {
            continue;
        }
        let (mut from, mut to) = depths(plate, f, form);
        if core {
            to = to.min(0.0);
        } else {
            from = from.max(0.0);
        }
        seen.push(Seen {
            form,
            label,
            // On a core the part's bodies are metal.
            hollow: (*role == Role::Add) != core,
            from,
            to,
        });
    }
    let swallowed: Vec<bool> = seen.iter().map(|s| swallowed(s, &seen)).collect();
    let mut keep = swallowed.iter();
    seen.retain(|_| keep.next() == Some(&false));
    meet(&mut seen, core, &depth_of);
    let mut out: Vec<Entry> = Vec::new();
    let mut drawn: Vec<Lettering> = Vec::new();
    for s in &seen {
        let listed = match one(plate, f, s, view) {
            Told::Entry(e) => {
                out.push(e);
                continue;
            }
            Told::Outline {
                region,
                wall,
                listed,
            } => Lettering::new(s, wall, region, listed),
        };
        match drawn.last_mut().filter(|d| d.goes_on(&listed)) {
            Some(d) => d.add(listed),
            None => drawn.push(listed),
        }
    }
    let layer = match f.face == plate.reference {
        true => "CAVITY",
        false => "CAVITY_BACK",
    };
    out.extend(drawn.into_iter().map(|d| d.entry(&plate.name, layer)));
    out
}

/// True for the root of a body of the other plate that reaches over the face into a hollow that
/// holds it: nothing of it is to be seen here.
fn swallowed(s: &Seen<'_>, all: &[Seen<'_>]) -> bool {
    let Form::Prism { region, .. } = s.form else {
        return false;
    };
    s.hollow
        && s.to < ROOT
        && all.iter().any(|o| match o.form {
            Form::Prism { region: around, .. } => {
                o.hollow && o.to > s.to + SAME && o.from < SAME && around.encloses(&region.outer)
            }
            _ => false,
        })
}

/// How deep other hollows reach under the edge of a body, where that is the same all around.
fn floor_under(s: &Seen<'_>, all: &[(&Form, bool)], depth: &dyn Fn(f64) -> f64) -> Option<f64> {
    let Form::Prism { region, .. } = s.form else {
        return None;
    };
    let deep = |p: &Point| {
        let hollows = all
            .iter()
            .filter(|(f, hollow)| *hollow && !std::ptr::eq(*f, s.form));
        hollows
            .flat_map(|(f, _)| f.heights(p.x, p.y))
            .flat_map(|i| [depth(i.low), depth(i.high)])
            .fold(f64::NEG_INFINITY, f64::max)
    };
    let mut found = region.outer.vertices.iter().map(|v| deep(&v.at));
    let first = found.next().filter(|d| *d > SAME)?;
    found.all(|d| (d - first).abs() < SAME).then_some(first)
}

/// Where bodies run into one another only to leave no skin, they end at the other's floor or top;
/// what stands ends where its floor is.
fn meet(seen: &mut [Seen<'_>], core: bool, depth: &dyn Fn(f64) -> f64) {
    let forms: Vec<(&Form, bool)> = seen.iter().map(|s| (s.form, s.hollow)).collect();
    let deepest = seen
        .iter()
        .filter(|s| s.hollow)
        .map(|s| s.to)
        .fold(f64::NEG_INFINITY, f64::max);
    let mut levels: Vec<f64> = seen
        .iter()
        .map(|s| if s.hollow { s.to } else { s.from })
        .collect();
    levels.push(0.0);
    for s in seen {
        let floor = floor_under(s, &forms, depth);
        let near = |at: f64, up: bool| {
            let known = levels.iter().copied().chain(floor);
            known
                .filter(|l| {
                    let off = if up { at - l } else { l - at };
                    off > SAME && off < ROOT
                })
                .min_by(|a, b| (a - at).abs().total_cmp(&(b - at).abs()))
        };
        if s.hollow {
            if let Some(l) = near(s.from, false).filter(|l| s.from > SAME && *l < s.to) {
                s.from = l;
            }
            continue;
        }
        match floor.filter(|_| !core) {
            Some(l) if l > s.from + SAME => s.to = s.to.min(l),
            _ if !core && s.to > deepest => s.to = deepest,
            _ => {
                if let Some(l) = near(s.to, true).filter(|l| *l > s.from) {
                    s.to = l;
                }
            }
        }
    }
}

/// A body described, or one with an outline of its own: with its wall, and its entry where its
/// points are few enough for paper.
enum Told {
    Entry(Entry),
    Outline {
        region: Region,
        wall: String,
        listed: Option<Entry>,
    },
}

fn one(plate: &Plate, f: &Feature, s: &Seen<'_>, view: &FaceView) -> Told {
    let z = |depth: f64| plate.z(f.face) + Plate::inward(f.face) * depth;
    match s.form {
        Form::Prism { region, profile } => {
            let mut wall = by_depth(profile, |z| below(plate, f, z));
            wall = cut(&wall, s.from, s.to);
            let at_mouth = wall.first().map_or(0.0, |v| v.at.x);
            let words = wall_words(&wall, s.hollow);
            let drawn = view.region(region);
            let placed = match drawn.mitred(at_mouth) {
                Ok(mouth) => recognise(&mouth),
                Err(_) => Placed {
                    at: drawn.bounds().centre(),
                    figure: Figure::Drawn(drawn.clone()),
                    angle_deg: 0.0,
                },
            };
            let (shape, levels) = (placed.words(""), levels(s.hollow, s.from, s.to));
            let text = match s.hollow {
                true => format!("{shape}, {levels}{words}"),
                false => format!("standing {shape}, {levels}{words}"),
            };
            let inset = match at_mouth.abs() < 0.005 {
                true => String::new(),
                false => format!(", set in {} there", size(at_mouth)),
            };
            let outline = |listed| Told::Outline {
                region: drawn.clone(),
                wall: format!("{inset}{words}"),
                listed,
            };
            match placed.figure {
                Figure::Drawn(_) => outline(None),
                Figure::Points(_) => outline(Some(entry(&placed, text))),
                _ => Told::Entry(entry(&placed, text)),
            }
        }
        Form::Turned { at, profile } => {
            let mut vertices: Vec<Vertex> = profile
                .iter()
                .map(|p| Vertex::new(p.across, p.z, p.bulge))
                .collect();
            if let Some(last) = vertices.last_mut() {
                last.bulge = 0.0;
            }
            let ends = [vertices.last(), vertices.first()].map(|v| v.map_or(0.0, |v| v.at.y));
            for (z, v) in [(ends[0], vertices.len()), (ends[1], vertices.len() + 1)] {
                vertices.insert(v, Vertex::new(0.0, z, 0.0));
            }
            vertices.dedup_by(|a, b| (a.at - b.at).norm() < 1e-9);
            Told::Entry(turned(&Contour::new(vertices), *at, s, view, z))
        }
        Form::Revolved { at, section } => Told::Entry(turned(section, *at, s, view, z)),
        Form::Groove { path, radius, .. } => {
            let path = view.path(path);
            let what = if s.hollow { "" } else { "standing " };
            let along = points_words(&path.vertices, false, 1.0);
            Told::Entry(Entry {
                at: path.vertices.first().map(|v| v.at),
                angle_deg: None,
                text: format!(
                    "{what}half-round R{}, round ends, along X;Y {along}",
                    size(*radius)
                ),
            })
        }
        Form::Mesh { .. } => {
            let b = s.form.extent().plan;
            let low = view.point(b.min);
            let high = view.point(b.max);
            let what = if s.hollow { "" } else { "standing " };
            let levels = levels(s.hollow, s.from, s.to);
            Told::Entry(Entry {
                at: None,
                angle_deg: None,
                text: format!(
                    "{what}free shape of {}.stl within X {} to {}, Y {} to {}, {levels}",
                    plate.name,
                    size(low.x.min(high.x)),
                    size(low.x.max(high.x)),
                    size(low.y),
                    size(high.y)
                ),
            })
        }
    }
}

/// From where to where: `4.1 deep`, `from 4.1 to 4.9`, `from 4.1 up to 3.28`.
fn levels(hollow: bool, from: f64, to: f64) -> String {
    let level = |d: f64| match d {
        d if d.abs() < SAME => "the face".to_owned(),
        d if d < 0.0 => format!("{} above it", shown::gauged(-d)),
        d => shown::gauged(d),
    };
    match hollow {
        true if from.abs() < SAME => format!("{} deep", shown::gauged(to)),
        true => format!("from {} to {}", level(from), level(to)),
        false => format!("from {} up to {}", level(to), level(from)),
    }
}

/// A body of revolution by its section.
fn turned(
    section: &Contour,
    at: Point,
    s: &Seen<'_>,
    view: &FaceView,
    z: impl Fn(f64) -> f64,
) -> Entry {
    let (a, b) = (z(s.from), z(s.to));
    let (low, high) = (a.min(b), a.max(b));
    let far = section.bounds().max.x + 1.0;
    let slab = Contour::new(vec![
        Vertex::new(-1.0, low, 0.0),
        Vertex::new(far, low, 0.0),
        Vertex::new(far, high, 0.0),
        Vertex::new(-1.0, high, 0.0),
    ]);
    let whole = Region::simple(section.clone().counter_clockwise());
    let kept = whole
        .intersection(&Region::simple(slab))
        .ok()
        .filter(|r| !r.is_empty())
        .unwrap_or_else(|| vec![whole]);
    // Depths in place of heights: mirrored where z runs up from the face.
    let down = z(1.0) < z(0.0);
    let depth = |v: f64| if down { z(0.0) - v } else { v - z(0.0) };
    let mut out = Vec::new();
    for contour in kept.iter().flat_map(Region::contours) {
        let c = contour.moved_points(|p| Point::new(p.x, depth(p.y)));
        let c = match down {
            true => Contour::new(
                c.vertices
                    .iter()
                    .map(|v| Vertex {
                        at: v.at,
                        bulge: -v.bulge,
                    })
                    .collect(),
            ),
            false => c,
        };
        out.push(points_words(&c.counter_clockwise().vertices, true, 2.0));
    }
    let what = if s.hollow { "" } else { "standing, " };
    Entry {
        at: Some(view.point(at)),
        angle_deg: None,
        text: format!("{what}turned, ø;depth {}", out.join(" and ")),
    }
}

/// A profile as seen from the face: across and depth, the depth rising.
fn by_depth(profile: &[ProfilePoint], depth: impl Fn(f64) -> f64) -> Vec<Vertex> {
    let all: Vec<Vertex> = profile
        .iter()
        .map(|p| Vertex::new(p.across, depth(p.z), p.bulge))
        .collect();
    let rises = all
        .first()
        .zip(all.last())
        .is_some_and(|(a, b)| a.at.y <= b.at.y);
    if rises {
        return all;
    }
    // Backwards each piece belongs to the vertex before it; mirrored and reversed, its bulge stays.
    let n = all.len();
    (0..n)
        .map(|i| Vertex {
            at: all[n - 1 - i].at,
            bulge: if i + 1 < n { all[n - 2 - i].bulge } else { 0.0 },
        })
        .collect()
}

/// The part of a wall between two depths.
fn cut(wall: &[Vertex], from: f64, to: f64) -> Vec<Vertex> {
    let mut out: Vec<Vertex> = Vec::new();
    for w in wall.windows(2) {
        let s = Segment::between(w[0], w[1].at);
        let (a, b) = (w[0].at.y, w[1].at.y);
        if b <= from + 1e-9 || a >= to - 1e-9 {
            // A level piece at the end of what is kept belongs to it.
            if (b - a).abs() > 1e-9 || a < from - 1e-9 || b > to + 1e-9 {
                continue;
            }
        }
        let t = |depth: f64| fraction_at(&s, depth);
        let (t0, t1) = (
            if a < from { t(from) } else { 0.0 },
            if b > to { t(to) } else { 1.0 },
        );
        let piece = s.piece(t0, t1);
        match out.last_mut() {
            Some(last) => last.bulge = piece.bulge(),
            None => out.push(piece.vertex()),
        }
        out.push(Vertex {
            at: piece.to(),
            bulge: 0.0,
        });
    }
    out
}

/// Where a piece that runs down reaches a depth.
fn fraction_at(s: &Segment, depth: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if s.point_at(middle).y < depth {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// Draft and edges of a wall that begins at the mouth (the top of what stands): `, draft 2°, floor
/// edge R1.02`; any other wall point by point, inward from the size that is given.
fn wall_words(wall: &[Vertex], hollow: bool) -> String {
    let Some(first) = wall.first() else {
        return String::new();
    };
    let pieces: Vec<Segment> = wall
        .windows(2)
        .map(|w| Segment::between(w[0], w[1].at))
        .collect();
    let told =
        match pieces.as_slice() {
            [s] => draft(s, hollow),
            [s, e] if steep(s) => edge(e, Some(s), hollow, false)
                .and_then(|e| Some(format!("{}{e}", draft(s, hollow)?))),
            [e, s] => edge(e, Some(s), hollow, true)
                .and_then(|e| Some(format!("{}{e}", draft(s, hollow)?))),
            [a, s, b] => edge(a, Some(s), hollow, true)
                .zip(edge(b, Some(s), hollow, false))
                .and_then(|(a, b)| Some(format!("{}{a}{b}", draft(s, hollow)?))),
            _ => None,
        };
    told.unwrap_or_else(|| {
        let moved: Vec<Vertex> = wall
            .iter()
            .map(|v| Vertex {
                at: Point::new(v.at.x - first.at.x, v.at.y),
                bulge: v.bulge,
            })
            .collect();
        format!(", wall in;depth {}", points_words(&moved, false, 1.0))
    })
}

/// A straight piece within 40° of upright.
fn steep(s: &Segment) -> bool {
    let way = s.to() - s.from();
    matches!(s, Segment::Line { .. }) && way.x.abs() < 0.84 * way.y
}

/// `, draft 2°`: narrower with depth; what stands grows wider.
fn draft(s: &Segment, hollow: bool) -> Option<String> {
    if !steep(s) {
        return None;
    }
    let way = s.to() - s.from();
    let sign = if hollow { 1.0 } else { -1.0 };
    let angle = (sign * way.x / way.y).atan().to_degrees();
    Some(match angle.abs() < 0.005 {
        true => String::new(),
        false => format!(", draft {}°", decimals(angle, 2)),
    })
}

/// A rounded or chamfered edge beside a wall, at its beginning or its end.
fn edge(e: &Segment, wall: Option<&Segment>, hollow: bool, begins: bool) -> Option<String> {
    let name = match (hollow, begins) {
        (true, true) => "mouth",
        (true, false) => "floor",
        (false, true) => "top",
        (false, false) => "root",
    };
    match e {
        Segment::Line { from, to } => {
            let way = to - from;
            (way.y > 1e-6).then(|| {
                format!(
                    ", {name} edge chamfer {} × {} deep",
                    size(way.x.abs()),
                    size(way.y)
                )
            })
        }
        Segment::Arc { radius, sweep, .. } => {
            // Level where it meets the flat, tangent to the wall, and bent the usual way.
            let (flat, side) = match begins {
                true => (e.direction_at(0.0), e.direction_at(1.0)),
                false => (e.direction_at(1.0), e.direction_at(0.0)),
            };
            let along = wall?.direction_at(0.5);
            let usual = match (hollow, begins) {
                (true, true) | (false, false) => *sweep > 0.0,
                (true, false) | (false, true) => *sweep < 0.0,
            };
            let smooth = flat.y.abs() < 1e-3 && side.perp(&along).abs() < 1e-3;
            (usual && smooth).then(|| format!(", {name} edge R{}", size(*radius)))
        }
    }
}

/// Bodies with outlines of their own and one wall, each after the other: letters, a traced relief.
struct Lettering {
    labels: Vec<BodyOf>,
    hollow: bool,
    wall: String,
    from: f64,
    to: f64,
    count: usize,
    bounds: crate::sketch::Bounds,
    area: f64,
    /// Of one that can be listed.
    listed: Option<Entry>,
}

impl Lettering {
    fn new(s: &Seen<'_>, wall: String, region: Region, listed: Option<Entry>) -> Self {
        Self {
            labels: vec![s.label.clone()],
            hollow: s.hollow,
            wall,
            from: s.from,
            to: s.to,
            count: 1,
            bounds: region.bounds(),
            area: region.area(),
            listed,
        }
    }
    /// Whether another is one more of the same.
    fn goes_on(&self, next: &Self) -> bool {
        self.hollow == next.hollow
            && self.wall == next.wall
            && (self.from - next.from).abs() + (self.to - next.to).abs() < SAME
    }
    fn add(&mut self, next: Self) {
        self.count += 1;
        self.bounds = self.bounds.union(&next.bounds);
        self.area += next.area;
        // Letters of one text are that text.
        self.labels = self.labels.iter().map(BodyOf::whole).collect();
        for label in next.labels.iter().map(BodyOf::whole) {
            if !self.labels.contains(&label) {
                self.labels.push(label);
            }
        }
        self.listed = None;
    }
    fn entry(self, plate: &str, layer: &str) -> Entry {
        if let Some(entry) = self.listed {
            return entry;
        }
        let b = self.bounds;
        let labels: Vec<String> = self.labels.iter().map(ToString::to_string).collect();
        let what = if self.hollow { "" } else { "standing, " };
        let outlines = match self.count {
            1 => "outline".to_owned(),
            n => format!("{n} outlines"),
        };
        Entry {
            at: Some(b.centre()),
            angle_deg: None,
            text: format!(
                "{what}{}: {outlines} of {plate}.dxf, layer {layer}, {} × {}, {} in all{}, {}",
                labels.join(", "),
                size(b.width()),
                size(b.height()),
                shown::quantity(shown::Kind::Area, self.area, 2),
                self.wall,
                levels(self.hollow, self.from, self.to)
            ),
        }
    }
}

/// Whether a plate's outline is one circle: its diameter.
pub(super) fn round(plate: &Plate) -> Option<f64> {
    circle(&plate.outline.outer).map(|(_, r)| 2.0 * r)
}

/// The lowest floors and tops that a section of the plate meets: depth from the face at which
/// each begins and ends, deepest of the impression first, and where in x its wall stands.
pub(super) fn floors(f: &Feature, plate: &Plate) -> Vec<(f64, f64, crate::sketch::Bounds)> {
    if let Shape::Core(_) = f.shape {
        return Vec::new();
    }
    let hollows = f
        .shaping()
        .into_iter()
        .filter(|(role, _)| *role == Role::Add);
    hollows
        .map(|(_, form)| {
            let (from, to) = depths(plate, f, form);
            (from.max(0.0), to, form.extent().plan)
        })
        .collect()
}
