//! Do holes and features fit the part?
//!
//! Input: the main body and what was placed on it. Output: faults with numbers.

use super::build::{Frame, OVERSHOOT, PlacedHole, Reach, THINNEST};
use super::feature::{Piece, PlacedFeature};
use super::form::Form;
use crate::base::shown;
use crate::base::units::{decimals, number};
use crate::base::{Diagnostic, Diagnostics, Span};
use crate::sketch::shapes::LARGEST;
use crate::sketch::{Contour, MitreError, Point, Region, mitre_offset};

/// True when a point lies within the size limits (and is a number).
pub(super) fn near(p: Point) -> bool {
    p.x.abs() <= LARGEST && p.y.abs() <= LARGEST
}

/// The fault of a place beyond all limits.
pub(super) fn far_away(code: &'static str, span: Span) -> Diagnostic {
    Diagnostic::new(
        code,
        span,
        format!(
            "this place is more than {} from the part's origin",
            shown::size(LARGEST)
        ),
        "out of range",
        "give x and y in millimetres, on the part",
    )
}

/// True when two regions share a point.
pub(super) fn meet_in_plan(a: &Region, b: &Region) -> bool {
    let start = |r: &Region| r.outer.vertices.first().map(|v| v.at);
    a.bounds().touches(&b.bounds())
        && (a.contours().any(|c| {
            b.contours()
                .any(|d| c.bounds().touches(&d.bounds()) && !c.crossings(d).is_empty())
        }) || start(b).is_some_and(|p| a.contains(p))
            || start(a).is_some_and(|p| b.contains(p)))
}

/// The region of the plastic at the top or bottom face.
fn face(body: &Form, top: bool) -> Option<Region> {
    let Form::Prism { region, profile } = body else {
        return None;
    };
    let end = if top { profile.last() } else { profile.first() }?;
    region.mitred(end.across).ok()
}

/// Checks the features against the main body and each other.
pub(super) fn features(
    body: &Form,
    placed: &[PlacedFeature],
    frame: Frame,
    faults: &mut Diagnostics,
) {
    let faces = [face(body, false), face(body, true)];
    for (i, f) in placed.iter().enumerate() {
        match f.on {
            Some(k) => on_feature(f, &placed[k], faults),
            None => {
                if let Some(face) = &faces[usize::from(f.top)] {
                    on_face(f, face, faults);
                }
            }
        }
        draft_fits(f, f.reach(placed), faults);
        if f.raised {
            continue;
        }
        let (side, height) = if f.top {
            ("above", frame.above())
        } else {
            ("below", frame.parting)
        };
        let deep = -f.end();
        let web = frame.thickness - deep;
        if web < THINNEST {
            faults.push(too_thin(f, web, frame, "the part"));
        } else if deep > height + 1e-9 {
            faults.push(Diagnostic::new(
                "part-feature",
                f.height_span,
                format!(
                    "sunk {}, but only {} of the part lie {side} the parting plane: the metal that forms it would stand free",
                    shown::size(deep),
                    shown::size(height)
                ),
                "deeper than its half of the mold",
                "move the parting plane (mold.parting), sink it less, or sink it from the other side",
            ));
        }
        for other in &placed[..i] {
            let both = deep - other.end();
            if !other.raised
                && other.top != f.top
                && frame.thickness - both < THINNEST
                && f.meets(other)
            {
                let partner = format!("{} on the other side", other.label());
                faults.push(too_thin(f, frame.thickness - both, frame, &partner));
            }
        }
    }
}

fn too_thin(f: &PlacedFeature, web: f64, frame: Frame, against: &str) -> Diagnostic {
    Diagnostic::new(
        "part-web",
        f.height_span,
        format!(
            "sunk {} into a part {} thick, it leaves {} of plastic against {against}; at least {} are needed",
            shown::size(-f.end()),
            shown::size(frame.thickness),
            shown::size(web.max(0.0)),
            shown::size(THINNEST)
        ),
        "too deep",
        format!(
            "sink it {} less, or make the part thicker",
            shown::size(THINNEST - web)
        ),
    )
}

fn on_face(f: &PlacedFeature, face: &Region, faults: &mut Diagnostics) {
    let outside = f.pieces.iter().find(|p| !face.encloses(&p.region.outer));
    let Some(piece) = outside else {
        return;
    };
    let b = piece.region.bounds();
    let name = piece.name.map(|c| format!(" ({c})")).unwrap_or_default();
    let limit = face.bounds();
    faults.push(Diagnostic::new(
        "part-feature",
        f.span,
        format!(
            "{}{name} reaches beyond the {} face of the part: it spans x {} to {}, y {} to {}, the face x {} to {}, y {} to {}",
            f.label(),
            if f.top { "top" } else { "bottom" },
            shown::bare_size(b.min.x), shown::bare_size(b.max.x), shown::bare_size(b.min.y), shown::bare_size(b.max.y),
            shown::bare_size(limit.min.x), shown::bare_size(limit.max.x), shown::bare_size(limit.min.y), shown::bare_size(limit.max.y),
        ),
        "outside the face",
        match fitting_letters(f, face) {
            Some(size) => format!(
                "letters {} high fit here (size = {}); or move it inward, or make it shorter",
                shown::size(size),
                shown::written(shown::Kind::Length, size, 4)
            ),
            None => "move it inward or make it smaller; draft and edges make the face smaller than the outline".to_owned(),
        },
    ));
}

/// A feature stands on the top or floor of another with all it has.
fn on_feature(f: &PlacedFeature, carrier: &PlacedFeature, faults: &mut Diagnostics) {
    let tops: Vec<Region> = (carrier.pieces.iter())
        .filter_map(|p| p.region.mitred(carrier.lean()).ok())
        .collect();
    let inside = |p: &&Piece| !tops.iter().any(|t| t.encloses(&p.region.outer));
    let Some(piece) = f.pieces.iter().find(inside) else {
        return;
    };
    let b = piece.region.bounds();
    let all = tops
        .iter()
        .fold(Default::default(), |b: crate::sketch::Bounds, t| {
            b.union(&t.bounds())
        });
    let name = piece.name.map(|c| format!(" ({c})")).unwrap_or_default();
    faults.push(Diagnostic::new(
        "part-feature",
        f.span,
        format!(
            "{}{name} reaches beyond the {} of {}: it spans x {} to {}, y {} to {}, and there is room over x {} to {}, y {} to {}",
            f.label(),
            if carrier.raised { "top" } else { "floor" },
            carrier.label(),
            shown::bare_size(b.min.x), shown::bare_size(b.max.x), shown::bare_size(b.min.y), shown::bare_size(b.max.y),
            shown::bare_size(all.min.x), shown::bare_size(all.max.x), shown::bare_size(all.min.y), shown::bare_size(all.max.y),
        ),
        "not on what carries it",
        "move it inward or make it smaller; draft makes a top or a floor smaller than the outline",
    ));
}

/// Least height of letters, mm.
const LEAST_LETTERS: f64 = 0.5;

/// The largest letters with which a text fits on the face where it stands, in tenths of a
/// millimetre.
fn fitting_letters(f: &PlacedFeature, face: &Region) -> Option<f64> {
    let size = f.letters?;
    let fits = |tenths: i64| {
        let scale = tenths as f64 / 10.0 / size;
        f.pieces.iter().all(|p| {
            let moved = p.region.translated(-f.at.coords).scaled(scale);
            face.encloses(&moved.translated(f.at.coords).outer)
        })
    };
    let (mut good, mut bad) = ((10.0 * LEAST_LETTERS) as i64, (10.0 * size).ceil() as i64);
    if !fits(good) {
        return None;
    }
    while bad - good > 1 {
        let middle = i64::midpoint(good, bad);
        if fits(middle) {
            good = middle;
        } else {
            bad = middle;
        }
    }
    Some(good as f64 / 10.0)
}

/// The largest share of a size, below 1, at which something still fits; 0 when it never does.
pub(super) fn largest_share(fits: impl Fn(f64) -> bool) -> f64 {
    let (mut good, mut bad) = (0.0, 1.0);
    for _ in 0..16 {
        let middle = 0.5 * (good + bad);
        if fits(middle) {
            good = middle;
        } else {
            bad = middle;
        }
    }
    good
}

/// Every edge of a piece survives its walls leaning in by `lean` mm over the height, and out by
/// `out` mm beyond what it stands on.
fn survives(piece: &Piece, lean: f64, out: f64) -> Result<(), MitreError> {
    piece.region.mitred(lean)?;
    piece.region.mitred(-out).map(drop)
}

/// The share of a feature's slope that all its edges survive; a hundredth less, for what rounding
/// takes.
fn surviving_share(f: &PlacedFeature, reach: f64) -> f64 {
    let slope = f.draft_deg.to_radians().tan();
    let whole = |s: f64| {
        let survives = |p: &Piece| survives(p, s * f.lean(), s * reach * slope).is_ok();
        f.pieces.iter().all(survives)
    };
    0.99 * largest_share(whole)
}

/// An angle in whole tenths of a degree, not more.
fn tenths(angle: f64) -> f64 {
    0.1 * (10.0 * angle.to_degrees()).floor()
}

/// The largest draft, degrees, that the edges of a feature survive; `None` when its own is no
/// larger, or none would do.
pub(super) fn largest_draft(f: &PlacedFeature, reach: f64) -> Option<f64> {
    let slope = f.draft_deg.to_radians().tan();
    let whole = |p: &Piece| survives(p, f.lean(), reach * slope).is_ok();
    if f.pieces.iter().all(whole) {
        return None;
    }
    let most = tenths((surviving_share(f, reach) * slope).atan());
    (most > 0.0).then_some(most)
}

/// The walls lean in over the height, and out over the `reach` beyond the face: every
/// edge must survive both.
pub(super) fn draft_fits(f: &PlacedFeature, reach: f64, faults: &mut Diagnostics) {
    let slope = f.draft_deg.to_radians().tan();
    for piece in &f.pieces {
        let Err(e) = survives(piece, f.lean(), reach * slope) else {
            continue;
        };
        let name = piece.name.map(|c| format!(" ({c})")).unwrap_or_default();
        let share = surviving_share(f, reach);
        let most = tenths((share * slope).atan());
        let larger = match f.letters {
            Some(size) if share > 0.05 => {
                let size = 0.1 * (10.0 * size / share).ceil();
                format!("letters of at least {}", shown::length(size, 1))
            }
            _ => "a wider feature, larger (or sharp) corners".to_owned(),
        };
        let remedy = if most > 0.0 {
            format!(
                "a draft of at most {} deg, less height, or {larger}",
                decimals(most, 1)
            )
        } else {
            "no draft, a wider feature, or larger (or sharp) corners".to_owned()
        };
        faults.push(Diagnostic::new(
            "part-feature",
            f.span,
            format!(
                "{}{name}: its edges do not survive a draft of {} deg over {}: {e}",
                f.label(),
                number(f.draft_deg),
                shown::size(f.height + reach)
            ),
            "too narrow for its draft",
            remedy,
        ));
        return;
    }
}

/// A hole opened by its draft to `growth`; its metal must exist up to `longest`, mm per side.
pub(super) fn drafted(
    h: &PlacedHole,
    longest: f64,
    growth: f64,
) -> Result<Contour, Box<Diagnostic>> {
    mitre_offset(&h.contour, -longest)
        .and_then(|_| mitre_offset(&h.contour, -growth))
        .map_err(|e| {
            Box::new(Diagnostic::new(
                "part-hole",
                h.span,
                format!(
                    "part.hole[{}]: draft opens it by {} per side: {e}",
                    h.number - 1,
                    shown::size(longest)
                ),
                "cannot be drafted",
                "use less draft, or larger inner corner radii",
            ))
        })
}

/// Checks the through holes against the main body and each other.
pub(super) fn holes(
    body: &Form,
    placed: &[PlacedHole],
    frame: Frame,
    reach: Reach,
    faults: &mut Diagnostics,
) {
    let Form::Prism { region, profile } = body else {
        return;
    };
    let inset = profile.iter().map(|p| p.across).fold(0.0, f64::max);
    let Ok(narrow) = region.mitred(inset) else {
        return;
    };
    let slope = frame.draft_deg.to_radians().tan();
    let growth = slope * frame.above().max(frame.parting);
    let mut sound: Vec<(usize, Contour)> = Vec::new();
    for h in placed {
        // The core must exist over its full length, overshoot included.
        let longest = slope * reach.down.max(reach.up).max(OVERSHOOT);
        let wide = match drafted(h, longest, growth) {
            Ok(w) => w,
            Err(d) => {
                faults.push(*d);
                continue;
            }
        };
        let web = narrow.outer.gap(&wide).distance;
        if !narrow.outer.encloses(&wide) {
            faults.push(Diagnostic::new(
                "part-hole",
                h.span,
                format!(
                    "part.hole[{}] breaks through the edge of the part",
                    h.number - 1
                ),
                "not inside the outline",
                "move the hole inward or make it smaller; draft and edges narrow the face",
            ));
        } else if web < THINNEST {
            faults.push(Diagnostic::new(
                "part-web",
                h.span,
                format!(
                    "part.hole[{}] leaves {} of plastic to the edge of the part; at least {} are needed",
                    h.number - 1,
                    shown::size(web),
                    shown::size(THINNEST)
                ),
                "too near to the edge",
                format!("move it inward by {}", shown::size(THINNEST - web)),
            ));
        }
        for (other, contour) in &sound {
            let meets = meet_in_plan(
                &Region::simple(contour.clone()),
                &Region::simple(wide.clone()),
            );
            let web = if meets {
                0.0
            } else {
                contour.gap(&wide).distance
            };
            if web < THINNEST {
                faults.push(Diagnostic::new(
                    "part-web",
                    h.span,
                    format!(
                        "part.hole[{}] and part.hole[{}] leave {} of plastic between them; at least {} are needed", other - 1, h.number - 1, shown::size(web), shown::size(THINNEST)),
                    "too near to another hole",
                    format!("move them {} apart", shown::size(THINNEST - web)),
                ));
            }
        }
        sound.push((h.number, wide));
    }
}
