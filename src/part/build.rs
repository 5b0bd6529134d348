//! From the `[part]` section to bodies.
//!
//! Input: the section and the decided [`Frame`]. Output: a [`PartModel`], or every
//! fault of the section at once. Sizes are the finished part's. Order of bodies:
//! the outline, the features in the order written, the through holes.

use super::check;
use super::edge;
use super::edge::Side;
use super::feature::{self, PlacedFeature};
use super::form::{Form, ProfilePoint};
use super::model::{BodyOf, PartBody, PartModel, Role};
use super::outline::{region_of, regions_of};
use super::repeat;
use super::rounding::{Rounder, Rounding};
use crate::base::shown;
use crate::base::units::number;
use crate::base::{Diagnostic, Diagnostics, Span};
use crate::sketch::{Contour, CutterSide, Region};
use crate::spec::job::PartSection;

/// Thinnest plastic left anywhere, mm. Common practice for hand-lever pressures, no source.
pub const THINNEST: f64 = 0.4;
/// How far cutting bodies reach beyond the face they open, mm (so that no two faces coincide).
pub const OVERSHOOT: f64 = 1.0;
/// Steepest draft accepted, degrees.
pub const STEEPEST: f64 = 45.0;

/// The numbers of a plate part that may be decided for the user.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Thickness, mm.
    pub thickness: f64,
    /// Wall draft per side, degrees, for the outline, holes and features without their own.
    pub draft_deg: f64,
    /// Height of the parting plane above the part's bottom face, mm.
    pub parting: f64,
}

impl Frame {
    /// Height of the top face above the parting plane, mm.
    pub fn above(&self) -> f64 {
        self.thickness - self.parting
    }
}

/// Builds the part.
///
/// # Errors
/// All faults at once. Codes: `part-outline-missing`, `part-thickness`,
/// `part-parting`, `part-draft`, `part-edge`, `part-hole`, `part-feature`,
/// `part-web`, `text-glyph`, `outline-pieces`, `drawing`, and those of
/// [`contour_of`](super::outline::contour_of).
pub fn build(part: &PartSection, frame: Frame) -> Result<PartModel, Diagnostics> {
    Ok(build_rounded(part, frame, 0.0)?.0)
}

/// Builds the part with every inner corner rounded to at least `radius` mm at the narrowest
/// place of its wall; 0 leaves corners as they are drawn. Letters keep theirs.
///
/// # Errors
/// As [`build`].
pub fn build_rounded(
    part: &PartSection,
    frame: Frame,
    radius: f64,
) -> Result<(PartModel, Vec<Rounding>), Diagnostics> {
    let mut rounder = Rounder {
        radius,
        done: Vec::new(),
    };
    let model = build_with(part, frame, &mut rounder)?;
    Ok((model, rounder.done))
}

fn build_with(
    part: &PartSection,
    frame: Frame,
    rounder: &mut Rounder,
) -> Result<PartModel, Diagnostics> {
    let mut faults = Diagnostics::default();
    check_frame(part, frame, &mut faults);
    let Some(outline) = &part.outline else {
        faults.push(Diagnostic::new(
            "part-outline-missing",
            part.span,
            "the part has no outline",
            "no [part.outline] here",
            "add [part.outline] with shape = \"circle\" and a diameter, or another shape",
        ));
        return faults.or(PartModel::default());
    };
    let region = match region_of(&outline.value, outline.span, "a part") {
        Ok(r) => Some(r),
        Err(d) => {
            faults.push(*d);
            None
        }
    };
    let outer = region.as_ref().map(|r| &r.outer);
    let mut holes = hole_contours(part, outer, &mut faults);
    // The holes of a drawing are through holes like any other.
    for hole in region.iter().flat_map(|r| &r.holes) {
        holes.push(PlacedHole {
            number: holes.len() + 1,
            span: outline.span,
            contour: hole.clone().counter_clockwise(),
        });
    }
    let mut features = feature::place_all(part, frame, outer, &mut faults);
    for f in &mut features {
        f.round(rounder);
    }
    let slope = frame.draft_deg.to_radians().tan();
    for h in &mut holes {
        // The core is widest at both faces: there its corners are tightest.
        let growth = slope * frame.above().max(frame.parting);
        rounder.round(
            &format!("part.hole[{}]", h.number - 1),
            &mut h.contour,
            CutterSide::Right,
            growth,
        );
    }
    // Without a sound frame and outline the later checks would only echo their faults.
    let contour = region.map(|r| {
        let mut outer = r.outer;
        let inset = wall_of(part, frame).map_or(0.0, |w| deepest(&w));
        rounder.round("outline", &mut outer, CutterSide::Left, inset);
        outer
    });
    let Some(contour) = contour.filter(|_| faults.0.iter().all(|d| !is_frame_fault(d.code))) else {
        return faults.or(PartModel::default());
    };
    let Some(body) = outline_body(part, frame, contour, outline.span, &mut faults) else {
        return faults.or(PartModel::default());
    };
    check::features(&body, &features, frame, &mut faults);
    let highest = |top: bool| {
        features
            .iter()
            .filter(|f| f.top == top && f.raised)
            .map(PlacedFeature::end)
            .fold(0.0, f64::max)
    };
    let reach = Reach {
        down: frame.parting + highest(false) + OVERSHOOT,
        up: frame.above() + highest(true) + OVERSHOOT,
    };
    check::holes(&body, &holes, frame, reach, &mut faults);
    let mut bodies = vec![PartBody {
        of: BodyOf::Outline,
        role: Role::Add,
        form: body,
    }];
    for f in &features {
        bodies.extend(f.bodies(frame, &features));
    }
    for hole in &holes {
        bodies.push(PartBody {
            of: BodyOf::Hole(hole.number - 1),
            role: Role::Remove,
            form: hole_body(hole, frame, reach),
        });
    }
    let eased = features.iter().filter_map(PlacedFeature::eased).collect();
    faults.or(PartModel { bodies, eased })
}

fn is_frame_fault(code: &str) -> bool {
    matches!(code, "part-thickness" | "part-parting" | "part-draft")
}

fn check_frame(part: &PartSection, frame: Frame, faults: &mut Diagnostics) {
    let span_of = |s: Option<Span>| s.unwrap_or(part.span);
    let thickness = span_of(part.thickness.as_ref().map(|t| t.span));
    if !(frame.thickness >= THINNEST && frame.thickness <= 1000.0) {
        faults.push(Diagnostic::new(
            "part-thickness",
            thickness,
            format!("the part is {} thick", shown::size(frame.thickness)),
            "out of range",
            format!(
                "give a thickness from {THINNEST} to {}",
                shown::size(1000.0)
            ),
        ));
    } else if !(0.0..=frame.thickness).contains(&frame.parting) {
        faults.push(Diagnostic::new(
            "part-parting",
            thickness,
            format!(
                "the parting plane lies {} above the bottom face of a part {} thick",
                shown::size(frame.parting),
                shown::size(frame.thickness)
            ),
            "thickness",
            format!(
                "set mold.parting between 0 and {}",
                shown::size(frame.thickness)
            ),
        ));
    }
    if !(0.0..=STEEPEST).contains(&frame.draft_deg) {
        faults.push(Diagnostic::new(
            "part-draft",
            span_of(part.draft.as_ref().map(|d| d.span)),
            format!("draft is {} deg", number(frame.draft_deg)),
            "out of range",
            format!("give a draft from 0 to {STEEPEST} deg; 1 to 3 deg is usual"),
        ));
    }
}

/// The wall of the main body.
fn wall_of(part: &PartSection, frame: Frame) -> Result<Vec<ProfilePoint>, edge::EdgeError> {
    edge::wall(
        frame.parting,
        frame.above(),
        frame.draft_deg,
        part.edge_bottom.as_ref().map(|e| e.value),
        part.edge_top.as_ref().map(|e| e.value),
    )
}

/// How far a wall leans in at most, mm.
fn deepest(profile: &[ProfilePoint]) -> f64 {
    profile.iter().map(|p| p.across).fold(0.0, f64::max)
}

/// The main body; its largest inset is proved possible here.
fn outline_body(
    part: &PartSection,
    frame: Frame,
    contour: Contour,
    span: Span,
    faults: &mut Diagnostics,
) -> Option<Form> {
    let bottom = part.edge_bottom.as_ref();
    let top = part.edge_top.as_ref();
    let profile = match wall_of(part, frame) {
        Ok(p) => p,
        Err(e) => {
            let (edge::EdgeError::Size { face, .. } | edge::EdgeError::TooHigh { face, .. }) = e;
            let given = match face {
                Side::Top => top,
                Side::Bottom => bottom,
            };
            faults.push(Diagnostic::new(
                "part-edge",
                given.map_or(part.span, |g| g.span),
                e.to_string(),
                "does not fit",
                "use a smaller edge, a thicker part, or move the parting plane (mold.parting)",
            ));
            return None;
        }
    };
    let region = Region::simple(contour);
    let inset = deepest(&profile);
    if let Err(e) = region.mitred(inset) {
        let most = inset * check::largest_share(|s| region.mitred(s * inset).is_ok());
        faults.push(Diagnostic::new(
            "part-edge",
            span,
            format!("draft and edges narrow the outline by {} per side: {e}", shown::size(inset)),
            format!("too small near ({}, {})", shown::bare_size(e.at().x), shown::bare_size(e.at().y)),
            format!(
                "less draft or smaller edges, together at most {} per side here; or larger corner radii (or sharp corners), or a wider outline",
                shown::size((1e3 * most).floor() * 1e-3)
            ),
        ));
        return None;
    }
    Some(Form::Prism { region, profile })
}

/// How far the cores of through holes reach below and above the parting plane, mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reach {
    pub down: f64,
    pub up: f64,
}

/// A through hole in place.
pub(super) struct PlacedHole {
    pub number: usize,
    pub span: Span,
    pub contour: Contour,
}

pub(super) fn hole_contours(
    part: &PartSection,
    outline: Option<&Contour>,
    faults: &mut Diagnostics,
) -> Vec<PlacedHole> {
    let mut placed = Vec::new();
    for (i, hole) in part.holes.iter().enumerate() {
        let at = hole.value.at.value;
        if !check::near(at) {
            faults.push(check::far_away("part-hole", hole.value.at.span));
            continue;
        }
        match regions_of(&hole.value.outline, hole.span) {
            Ok(regions) if regions.iter().any(|r| !r.holes.is_empty()) => {
                faults.push(Diagnostic::new(
                    "part-hole",
                    hole.span,
                    format!("the shape of part.hole[{i}] has plastic inside it"),
                    "would fall out",
                    "fill the inside of the shape, or cut the hole with a bridge left standing",
                ));
            }
            Ok(regions) => {
                let here: Vec<Region> = (regions.iter()).map(|r| r.translated(at.coords)).collect();
                match repeat::all(here, hole.value.repeat.as_ref(), at, outline) {
                    Ok(all) => placed.extend(all.into_iter().map(|r| PlacedHole {
                        number: i + 1,
                        span: hole.span,
                        contour: r.outer,
                    })),
                    Err(d) => faults.push(*d),
                }
            }
            Err(d) => faults.push(*d),
        }
    }
    placed
}

/// The core stands on both plates, split at the parting plane; each half is
/// widest at its root, so the hole has its drawn size at z = 0 and opens to both faces.
pub(super) fn hole_body(hole: &PlacedHole, frame: Frame, reach: Reach) -> Form {
    let slope = frame.draft_deg.to_radians().tan();
    let mut profile = vec![ProfilePoint::new(-reach.down * slope, -reach.down)];
    if slope > 0.0 {
        profile.push(ProfilePoint::new(0.0, 0.0));
    }
    profile.push(ProfilePoint::new(-reach.up * slope, reach.up));
    Form::Prism {
        region: Region::simple(hole.contour.clone()),
        profile,
    }
}
