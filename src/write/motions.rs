//! The motions that prove the machining sheet, for programs: `motions.json`.
//!
//! Input: a plan. Output: JSON. Lengths in mm, mold coordinates (origin on the sprue's axis in the
//! parting plane). What the work piece is cut from, then the operations in their order, each with
//! its motions and with what it leaves; a motion's tool comes from the operation's face, at the
//! height `from`.

use crate::design::{Design, Face, Plate};
use crate::shop::area::Area;
use crate::shop::motion::Motion;
use crate::shop::{Operation, ShopPlan, removal};
use serde_json::{Value, json};

/// Decimals of a length.
const PLACES: f64 = 1e5;

fn length(v: f64) -> f64 {
    (v * PLACES).round() / PLACES
}

fn point(p: [f64; 2]) -> [f64; 2] {
    p.map(length)
}

/// Shapes apart from each other; of each its outer loop first, then its holes.
fn area(a: &Area) -> Value {
    let ring = |r: &Vec<[f64; 2]>| r.iter().map(|p| json!(point(*p))).collect::<Value>();
    let shape = |s: &Vec<Vec<[f64; 2]>>| s.iter().map(ring).collect::<Value>();
    a.shapes().iter().map(shape).collect()
}

fn motion(m: &Motion) -> Value {
    let places = |v: &[[f64; 2]]| v.iter().map(|p| json!(point(*p))).collect::<Value>();
    match m {
        Motion::Outline { keep } => json!({ "motion": "outline", "keep": area(keep) }),
        Motion::Through { area: out } => json!({ "motion": "through", "area": area(out) }),
        Motion::Axis { at, shape } => json!({
            "motion": "axis",
            "at": point([at.x, at.y]),
            // (radius, depth below the face)
            "shape": places(shape),
        }),
        Motion::Clear { centres, z, radius } => json!({
            "motion": "clear",
            "centres": area(centres),
            "z": length(*z),
            "radius": length(*radius),
        }),
        Motion::Ball { path, z, radius } => json!({
            "motion": "ball",
            "path": path.iter().map(|p| json!(point([p.x, p.y]))).collect::<Value>(),
            "z": length(*z),
            "radius": length(*radius),
        }),
        Motion::Bore { at, section } => json!({
            "motion": "bore",
            "at": point([at.x, at.y]),
            // (radius, height)
            "section": places(section),
        }),
        Motion::Undercut {
            at,
            bore,
            radius,
            between,
        } => json!({
            "motion": "undercut",
            "at": point([at.x, at.y]),
            "bore": length(*bore),
            "radius": length(*radius),
            "between": point(*between),
        }),
        Motion::Neck {
            at,
            outside,
            radius,
            between,
        } => json!({
            "motion": "neck",
            "at": point([at.x, at.y]),
            "outside": length(*outside),
            "radius": length(*radius),
            "between": point(*between),
        }),
    }
}

fn operation(plate: &Plate, o: &Operation) -> Value {
    json!({
        "number": o.number,
        "setup": o.setup,
        "face": match o.face { Face::High => "upper", Face::Low => "lower" },
        "from": length(plate.z(o.face)),
        "kind": o.kind.word(),
        "what": o.what,
        "tool": o.tool,
        "motions": o.motions.iter().map(motion).collect::<Value>(),
        "leaves": o.rests.iter()
            .map(|r| json!({ "area": area(&r.area), "height": length(r.height) }))
            .collect::<Value>(),
    })
}

/// The file.
///
/// # Errors
/// What cannot be written as JSON.
pub fn motions(design: &Design, plan: &ShopPlan) -> Result<String, serde_json::Error> {
    let plates = design.plates.iter().zip(&plan.plates);
    let plates = plates
        .filter(|(plate, sheet)| removal::by_heights(plate, sheet))
        .map(|(plate, sheet)| {
            let (box_, [low, high]) = removal::stock_box(plate, sheet);
            json!({
                "name": plate.name,
                "stock": {
                    "from": point([box_.min.x, box_.min.y]),
                    "to": point([box_.max.x, box_.max.y]),
                    "low": length(low),
                    "high": length(high),
                },
                "operations": sheet.operations.iter().map(|o| operation(plate, o)).collect::<Value>(),
            })
        });
    let all = json!({ "plates": plates.collect::<Value>() });
    let mut text = serde_json::to_string(&all)?;
    text.push('\n');
    Ok(text)
}
