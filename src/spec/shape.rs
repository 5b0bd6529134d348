//! A closed shape: `[part.outline]`, and wherever a shape is asked for.
//!
//! Input: its table. Output: an [`OutlineSpec`]. Does not build the contour
//! (see `sketch` and `part`), so crossings are not found here.

use super::attached::FileName;
use super::codes;
use super::key::{Case, Kind, REQUIRED, Rule, Variants, count, length, quantity};
use super::place::Place;
use super::section::section;
use super::value::{Value, Word, list, words};
use crate::base::Opt;
use crate::base::dimension::Dimension;
use crate::base::{Angle, Given, Length, Span};
use crate::sketch::Point;
use crate::trace::Traced;
use serde::Serialize;
use std::sync::Arc;
use toml::Spanned;
use toml::de::DeValue;

/// Largest size of a part or plate, mm.
pub(super) const LARGEST: f64 = 600.0;
/// Most steps of a path.
const MOST_STEPS: usize = 500;

/// A table is no single value.
impl crate::base::decision::Written for OutlineSpec {}

/// A closed shape: `[part.outline]`, and wherever a shape is asked for.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "shape", rename_all = "lowercase")]
pub enum OutlineSpec {
    /// `shape = "circle"`, `diameter`.
    Circle {
        /// Diameter.
        diameter: Given<Length>,
    },
    /// `shape = "rectangle"`, `width` (x), `height` (y), `corner_radius` (one or four values).
    Rectangle {
        /// Size in x.
        width: Given<Length>,
        /// Size in y.
        height: Given<Length>,
        /// Corner radii: lower left, lower right, upper right, upper left.
        corner_radius: Option<Given<[Length; 4]>>,
    },
    /// `shape = "slot"`: a rectangle with half-round ends along x; `length` over all, `width`.
    Slot {
        /// Length over all.
        length: Given<Length>,
        /// Width.
        width: Given<Length>,
        /// Turned by this angle about its centre.
        angle: Opt<Angle>,
    },
    /// `shape = "polygon"`, regular: `sides`, `across_flats` or `diameter` (circumscribed), `corner_radius`, `angle`.
    Polygon {
        /// Number of sides, 3 to 60.
        sides: Given<u32>,
        /// Circumscribed circle's diameter.
        diameter: Given<Length>,
        /// Fillet at the corners.
        corner_radius: Opt<Length>,
        /// Turned by this angle.
        angle: Opt<Angle>,
    },
    /// `shape = "star"`: `points`, `diameter` over them, `inner_diameter`, `corner_radius`, `angle`.
    Star {
        /// Number of points.
        points: Given<u32>,
        /// Diameter over the points.
        diameter: Given<Length>,
        /// Diameter through the corners between them.
        inner_diameter: Given<Length>,
        /// Fillet at all corners.
        corner_radius: Opt<Length>,
        /// Turned by this angle; without, one points up.
        angle: Opt<Angle>,
    },
    /// `shape = "ring"`: `diameter`, `inner_diameter`.
    Ring {
        /// Outer diameter.
        diameter: Given<Length>,
        /// Inner diameter.
        inner_diameter: Given<Length>,
    },
    /// `shape = "keyhole"`: a round head of `diameter` about (0, 0), a slot of `width` up from it, `length` over both.
    Keyhole {
        /// Diameter of the head.
        diameter: Given<Length>,
        /// Width of the slot.
        width: Given<Length>,
        /// Length over all.
        length: Given<Length>,
        /// Turned by this angle about the head.
        angle: Opt<Angle>,
    },
    /// `shape = "comb"`: a back with teeth downward.
    Comb(Box<CombSpec>),
    /// `shape = "gear"`: involute teeth.
    Gear(Box<GearSpec>),
    /// `shape = "path"`: `start` and a list of `steps`; closes to the start with a line if need be.
    Path {
        /// First point.
        start: Given<Point>,
        /// Lines and arcs.
        steps: Vec<Given<PathStep>>,
    },
    /// `shape = "file"`: the outline of a drawing, `file = "tag.svg"` or `"tag.dxf"`.
    File(Box<DrawingSpec>),
}

/// A comb: `width`, `height`, `teeth`, `tooth_width`, `tooth_length`, `corner_radius`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CombSpec {
    /// Over all, in x.
    pub width: Given<Length>,
    /// Over all, in y.
    pub height: Given<Length>,
    /// Number of teeth.
    pub teeth: Given<u32>,
    /// Width of a tooth.
    pub tooth_width: Given<Length>,
    /// Length of a tooth.
    pub tooth_length: Given<Length>,
    /// Radius of the upper corners.
    pub corner_radius: Opt<Length>,
}

/// A spur gear: `module`, `teeth`, `pressure_angle`, `backlash`, `profile_shift`, `bore`, `angle`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GearSpec {
    /// Module.
    pub module: Given<Length>,
    /// Number of teeth.
    pub teeth: Given<u32>,
    /// Pressure angle; left out = 20°.
    pub pressure_angle: Opt<Angle>,
    /// How much thinner each tooth is; left out = 0.
    pub backlash: Opt<Length>,
    /// Profile shift in modules; left out = 0.
    pub profile_shift: Opt<f64>,
    /// Diameter of its bore; left out = none.
    pub bore: Opt<Length>,
    /// Turned by this angle; without, one tooth points along x.
    pub angle: Opt<Angle>,
}

/// The outline of a drawing file.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DrawingSpec {
    /// The file.
    pub file: Given<FileName>,
    /// Its width, height or scale; left out = as large as the file says.
    pub size: Opt<DrawingSize>,
    /// Lines become bars of this width.
    pub stroke: Opt<Length>,
    /// Layers that are taken; left out = all.
    pub layers: Opt<Vec<String>>,
    /// Loose ends nearer than this are joined.
    pub join: Opt<Length>,
    /// How far arcs may lie from the drawing's curves.
    pub fit: Opt<Length>,
    /// What becomes (0, 0).
    pub origin: Opt<DrawingOrigin>,
    /// Left and right exchanged.
    pub mirror: Opt<bool>,
    /// Turned by this angle.
    pub angle: Opt<Angle>,
    /// The outline, once the file has been read.
    #[serde(skip)]
    pub traced: Option<Arc<Traced>>,
}

/// How large a drawing becomes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum DrawingSize {
    /// This wide.
    Width(Length),
    /// This high.
    Height(Length),
    /// This many millimetres for one unit of the drawing.
    Scale(f64),
}

/// What becomes (0, 0).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum DrawingOrigin {
    /// The middle of the outline's box.
    #[default]
    Middle,
    /// The drawing's own origin.
    Drawing,
}
words!(DrawingOrigin { "middle" => DrawingOrigin::Middle, "drawing" => DrawingOrigin::Drawing });

/// One step of a free path.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum PathStep {
    /// `{ to = [x, y] }`: a line; with `fillet = r` the corner at its end is rounded.
    Line {
        /// End point.
        to: Point,
        /// Corner radius at the end point.
        fillet: Option<Length>,
    },
    /// `{ to = [x, y], bulge = b }`.
    Bulge {
        /// End point.
        to: Point,
        /// tan(included angle / 4), counter-clockwise positive; any size but 0.
        bulge: f64,
    },
    /// `{ to = [x, y], centre = [x, y], turn = "left" | "right" }`.
    Centre {
        /// End point.
        to: Point,
        /// Centre.
        centre: Point,
        /// True when the arc turns left (counter-clockwise).
        left: bool,
    },
    /// `{ to = [x, y], tangent = true }`: an arc tangent to the step before.
    Tangent {
        /// End point.
        to: Point,
    },
}

/// The kinds of shape.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum ShapeKind {
    /// Circle.
    Circle,
    /// Rectangle with corner radii.
    Rectangle,
    /// Rectangle with half-round ends.
    Slot,
    /// Regular polygon.
    Polygon,
    /// Star.
    Star,
    /// Ring.
    Ring,
    /// Keyhole.
    Keyhole,
    /// Comb.
    Comb,
    /// Spur gear.
    Gear,
    /// Free path of lines and arcs.
    Path,
    /// The outline of a drawing.
    File,
}
words!(ShapeKind {
    "circle" => ShapeKind::Circle,
    "rectangle" => ShapeKind::Rectangle,
    "slot" => ShapeKind::Slot,
    "polygon" => ShapeKind::Polygon,
    "star" => ShapeKind::Star,
    "ring" => ShapeKind::Ring,
    "keyhole" => ShapeKind::Keyhole,
    "comb" => ShapeKind::Comb,
    "gear" => ShapeKind::Gear,
    "path" => ShapeKind::Path,
    "file" => ShapeKind::File,
});

section! {
    /// The keys of a shape.
    pub struct ShapeKeys, "outline", "A closed shape of lines and arcs.";
    variants Variants {
        selector: "shape",
        cases: &[
            Case { word: "circle", needs: &["diameter"], may: &[], rules: &[] },
            Case { word: "rectangle", needs: &["width", "height"], may: &["corner_radius"], rules: &[] },
            Case { word: "slot", needs: &["length", "width"], may: &["angle"], rules: &[] },
            Case {
                word: "polygon",
                needs: &["sides"],
                may: &["diameter", "across_flats", "corner_radius", "angle"],
                rules: &[Rule::ExactlyOne(&["diameter", "across_flats"])],
            },
            Case { word: "star", needs: &["points", "diameter", "inner_diameter"], may: &["corner_radius", "angle"], rules: &[] },
            Case { word: "ring", needs: &["diameter", "inner_diameter"], may: &[], rules: &[] },
            Case { word: "keyhole", needs: &["diameter", "width", "length"], may: &["angle"], rules: &[] },
            Case {
                word: "comb",
                needs: &["width", "height", "teeth", "tooth_width", "tooth_length"],
                may: &["corner_radius"],
                rules: &[],
            },
            Case {
                word: "gear",
                needs: &["module", "teeth"],
                may: &["pressure_angle", "backlash", "profile_shift", "bore", "angle"],
                rules: &[],
            },
            Case { word: "path", needs: &["start", "steps"], may: &[], rules: &[] },
            Case {
                word: "file",
                needs: &["file"],
                may: &["width", "height", "scale", "stroke", "layers", "join", "fit", "origin", "mirror", "angle"],
                rules: &[Rule::AtMostOne(&["width", "height", "scale"])],
            },
        ],
    };
    /// circle, rectangle, slot, polygon, star, ring, keyhole, comb, gear, path or file (the outline of a drawing).
    shape: ShapeKind = Kind::Word(<ShapeKind as Word>::NAMES), REQUIRED, "\"circle\"";
    /// Diameter of the circle; of a polygon or star, the circle through its outer corners; of a ring, the outer one; of a keyhole, its head.
    diameter: Length = length(0.5, LARGEST), "", "90";
    /// Rectangle, comb, drawing: size in x. Slot, keyhole: width.
    width: Length = length(0.5, LARGEST), "", "60";
    /// Rectangle, comb, drawing: size in y.
    height: Length = length(0.5, LARGEST), "", "40";
    /// Slot: length over all, along x. Keyhole: length over all.
    length: Length = length(0.5, LARGEST), "", "50";
    /// Corner radius; a rectangle may have four: lower left, lower right, upper right, upper left.
    corner_radius: [Length; 4] = Kind::Corners { max: LARGEST }, "0, sharp corners", "5";
    /// Turned by this angle about its centre, counter-clockwise.
    angle: Angle = quantity(Dimension::Angle, -360.0, 360.0), "0", "30";
    /// Polygon: number of sides.
    sides: u32 = count(3, 60), "", "6";
    /// Polygon: distance between opposite flats (with an odd number: twice the inner radius).
    across_flats: Length = length(0.5, LARGEST), "", "30";
    /// Star: number of its points.
    points: u32 = count(3, 60), "", "5";
    /// Star: the circle through its inner corners. Ring: the hole.
    inner_diameter: Length = length(0.5, LARGEST), "", "20";
    /// Comb, gear: number of teeth.
    teeth: u32 = count(2, 200), "", "24";
    /// Comb: width of a tooth, whose tip is round.
    tooth_width: Length = length(0.5, 100.0), "", "2.5";
    /// Comb: length of a tooth.
    tooth_length: Length = length(0.5, LARGEST), "", "20";
    /// Gear: module, the reference diameter over the number of teeth.
    module: Length = length(0.3, 20.0), "", "2";
    /// Gear: pressure angle.
    pressure_angle: Angle = quantity(Dimension::Angle, 14.0, 30.0), "20 deg", "20";
    /// Gear: how much thinner each tooth is along the reference circle than half the pitch.
    backlash: Length = length(0.0, 5.0), "0", "0.1";
    /// Gear: profile shift, in modules: more makes the teeth of small gears stronger.
    profile_shift: f64 = quantity(Dimension::Number, -0.8, 1.2), "0", "0.3";
    /// Gear: diameter of its bore.
    bore: Length = length(0.5, LARGEST), "none", "8";
    /// Path: first point.
    start: Point = Kind::Point(LARGEST), "", "[0, 0]";
    /// Path: lines and arcs, one after the other; closed with a line if need be.
    steps: Vec<Given<PathStep>> = Kind::Tables(StepKeys::SECTION, MOST_STEPS), "", "[{ to = [40, 0] }, { to = [20, 30] }]";
    /// Drawing: an SVG (filled shapes) or DXF (closed outlines) beside this file.
    file: FileName = Kind::File(&["svg", "dxf"]), "", "\"tag.svg\"";
    /// Drawing: millimetres of one of its units; `width` or `height` may be given instead.
    scale: f64 = quantity(Dimension::Number, 1e-6, 1e6), "as large as the drawing says", "1";
    /// Drawing: lines become bars of this width with round ends; an SVG says the width of its lines itself.
    stroke: Length = length(0.3, 100.0), "as wide as the SVG draws them; the lines of a DXF are edges", "3";
    /// Drawing: layers (DXF) or named groups (SVG) that are taken.
    layers: Vec<String> = Kind::Texts(100), "all that show", "[\"outline\"]";
    /// Drawing: loose ends nearer than this are joined.
    join: Length = length(0.0, 5.0), "0.05 mm", "0.1";
    /// Drawing: how far the arcs may lie from its curves.
    fit: Length = length(0.001, 1.0), "0.01 mm", "0.02";
    /// Drawing: what becomes (0, 0): the middle of its box, or the drawing's own origin.
    origin: DrawingOrigin = Kind::Word(<DrawingOrigin as Word>::NAMES), "middle", "\"drawing\"";
    /// Drawing: left and right exchanged.
    mirror: bool = Kind::Flag, "false; true for a boss or pocket on the bottom, so that it reads right there", "true";
}

/// Which way an arc turns.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Turn {
    /// Counter-clockwise.
    Left,
    /// Clockwise.
    Right,
}
words!(Turn { "left" => Turn::Left, "right" => Turn::Right });

section! {
    /// The keys of one step of a path.
    pub struct StepKeys, "step", "A line or an arc of a path.";
    rules &[
        Rule::AtMostOne(&["bulge", "centre", "tangent", "fillet"]),
        Rule::Together(&["centre", "turn"]),
    ];
    /// End point.
    to: Point = Kind::Point(LARGEST), REQUIRED, "[40, 0]";
    /// Line: radius that rounds the corner at its end.
    fillet: Length = length(0.0, 300.0), "0, a sharp corner", "3";
    /// Arc: tangent of a quarter of its included angle; counter-clockwise positive, 1 is a half circle.
    bulge: f64 = quantity(Dimension::Number, -50.0, 50.0), "a line", "0.5";
    /// Arc: its centre.
    centre: Point = Kind::Point(10.0 * LARGEST), "a line", "[20, 0]";
    /// Arc about a centre: left (counter-clockwise) or right.
    turn: Turn = Kind::Word(<Turn as Word>::NAMES), "a line", "\"left\"";
    /// Arc that goes on in the direction of the step before.
    tangent: bool = Kind::Flag, "false", "true";
}

impl Value for OutlineSpec {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        let table = at.table(value, ShapeKeys::SECTION)?;
        let keys = ShapeKeys::read(&table);
        match keys.shape?.value {
            ShapeKind::Circle => Some(OutlineSpec::Circle {
                diameter: keys.diameter?,
            }),
            ShapeKind::Rectangle => Some(OutlineSpec::Rectangle {
                width: keys.width?,
                height: keys.height?,
                corner_radius: keys.corner_radius,
            }),
            ShapeKind::Slot => {
                let (length, width) = (keys.length?, keys.width?);
                if length.value.mm() < width.value.mm() {
                    at.found.push(crate::base::Diagnostic::new(
                        codes::OUT_OF_RANGE,
                        length.span,
                        format!(
                            "`{}` is shorter than it is wide: {} and {}",
                            at.path, length.value, width.value
                        ),
                        "shorter than the width",
                        "a slot's length is measured over its round ends; swap the two and turn it with `angle = 90`",
                    ));
                    return None;
                }
                Some(OutlineSpec::Slot {
                    length,
                    width,
                    angle: keys.angle,
                })
            }
            ShapeKind::Polygon => {
                let sides = keys.sides?;
                let diameter = match (keys.diameter, keys.across_flats) {
                    (Some(d), _) => d,
                    (None, flats) => circumscribed(sides.value, flats?),
                };
                Some(OutlineSpec::Polygon {
                    sides,
                    diameter,
                    corner_radius: match keys.corner_radius {
                        Some(r) => Some(single_radius(at, r)?),
                        None => None,
                    },
                    angle: keys.angle,
                })
            }
            ShapeKind::Star => Some(OutlineSpec::Star {
                points: keys.points?,
                diameter: keys.diameter?,
                inner_diameter: keys.inner_diameter?,
                corner_radius: match keys.corner_radius {
                    Some(r) => Some(single_radius(at, r)?),
                    None => None,
                },
                angle: keys.angle,
            }),
            ShapeKind::Ring => Some(OutlineSpec::Ring {
                diameter: keys.diameter?,
                inner_diameter: keys.inner_diameter?,
            }),
            ShapeKind::Keyhole => Some(OutlineSpec::Keyhole {
                diameter: keys.diameter?,
                width: keys.width?,
                length: keys.length?,
                angle: keys.angle,
            }),
            ShapeKind::Comb => Some(OutlineSpec::Comb(Box::new(CombSpec {
                width: keys.width?,
                height: keys.height?,
                teeth: keys.teeth?,
                tooth_width: keys.tooth_width?,
                tooth_length: keys.tooth_length?,
                corner_radius: match keys.corner_radius {
                    Some(r) => Some(single_radius(at, r)?),
                    None => None,
                },
            }))),
            ShapeKind::Gear => Some(OutlineSpec::Gear(Box::new(GearSpec {
                module: keys.module?,
                teeth: keys.teeth?,
                pressure_angle: keys.pressure_angle,
                backlash: keys.backlash,
                profile_shift: keys.profile_shift,
                bore: keys.bore,
                angle: keys.angle,
            }))),
            ShapeKind::Path => Some(OutlineSpec::Path {
                start: keys.start?,
                steps: keys.steps?.value,
            }),
            ShapeKind::File => {
                let width = keys
                    .width
                    .map(|w| Given::new(DrawingSize::Width(w.value), w.span));
                let height = keys
                    .height
                    .map(|h| Given::new(DrawingSize::Height(h.value), h.span));
                let scale = keys
                    .scale
                    .map(|s| Given::new(DrawingSize::Scale(s.value), s.span));
                Some(OutlineSpec::File(Box::new(DrawingSpec {
                    file: keys.file?,
                    size: width.or(height).or(scale),
                    stroke: keys.stroke,
                    layers: keys.layers,
                    join: keys.join,
                    fit: keys.fit,
                    origin: keys.origin,
                    mirror: keys.mirror,
                    angle: keys.angle,
                    traced: None,
                })))
            }
        }
    }
}

/// Diameter through the corners: across flats / cos(π/n).
fn circumscribed(sides: u32, flats: Given<Length>) -> Given<Length> {
    let half = std::f64::consts::PI / f64::from(sides);
    Given::new(Length::from_mm(flats.value.mm() / half.cos()), flats.span)
}

fn single_radius(at: &Place<'_>, radii: Given<[Length; 4]>) -> Option<Given<Length>> {
    if radii.value.iter().all(|v| *v == radii.value[0]) {
        return Some(Given::new(radii.value[0], radii.span));
    }
    at.found.push(crate::base::Diagnostic::new(
        codes::BAD_COUNT,
        radii.span,
        format!("`{}` has four corner radii", at.path),
        "four values",
        "this shape takes one radius for all its corners",
    ));
    None
}

impl Value for Vec<Given<PathStep>> {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        let steps: Vec<Step> = list(at, value, 1, MOST_STEPS)?;
        Some(steps.into_iter().map(|s| s.0).collect())
    }
}

/// A step with its place.
struct Step(Given<PathStep>);

impl Value for Step {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        let table = at.table(value, StepKeys::SECTION)?;
        let keys = StepKeys::read(&table);
        let to = keys.to?.value;
        let step = if let Some(bulge) = keys.bulge {
            if bulge.value == 0.0 {
                PathStep::Line { to, fillet: None }
            } else {
                PathStep::Bulge {
                    to,
                    bulge: bulge.value,
                }
            }
        } else if table.has("centre") {
            PathStep::Centre {
                to,
                centre: keys.centre?.value,
                left: keys.turn?.value == Turn::Left,
            }
        } else if keys.tangent.is_some_and(|t| t.value) {
            PathStep::Tangent { to }
        } else {
            PathStep::Line {
                to,
                fillet: keys.fillet.map(|f| f.value),
            }
        };
        Some(Step(Given::new(step, Span::new(value.span()))))
    }
}
