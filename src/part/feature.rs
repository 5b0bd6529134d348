//! Raised and sunk features of a plate part, placed and turned into bodies.
//!
//! Input: the written features. Output: regions in part coordinates with heights,
//! and from them prisms that release from the mold: raised features shrink away
//! from the part's face, sunk ones are widest at it. Drawn size lies at the face.

use super::build::Frame;
use super::check;
use super::edge;
use super::form::Form;
use super::model::{BodyOf, Eased, PartBody, Role};
use super::outline::regions_of;
use super::repeat;
use super::rounding::Rounder;
use crate::base::shown;
use crate::base::units::number;
use crate::base::{Diagnostic, Diagnostics, Span};
use crate::sketch::text::{self, TextError};
use crate::sketch::{Contour, CutterSide, Point, Region, ShapeError, shapes};
use crate::spec::job::{ArcSide, FeatureKind, FeatureSpec, PartSection, PartSide, TextSize};

/// How far a raised body reaches into the plastic, and a sunk one beyond the face, mm.
pub(super) const BITE: f64 = 0.1;

/// One region of a feature and what to call it.
pub(super) struct Piece {
    pub region: Region,
    /// For a letter of a text: the letter.
    pub name: Option<char>,
}

/// A feature in place.
pub(super) struct PlacedFeature {
    /// From 1.
    pub number: usize,
    /// What it is, in the user's words.
    pub words: String,
    pub span: Span,
    pub height_span: Span,
    pub top: bool,
    pub raised: bool,
    pub height: f64,
    /// Height of what it stands on above the part's face, outward; below it negative.
    pub base: f64,
    /// What it stands on, if not on the face: its place among those placed.
    pub on: Option<usize>,
    pub draft_deg: f64,
    pub pieces: Vec<Piece>,
    /// Where it stands.
    pub at: Point,
    /// Height of the letters of a text, mm.
    pub letters: Option<f64>,
    /// Of a text that takes less draft than the part: the part's, degrees.
    less_than: Option<f64>,
}

impl PlacedFeature {
    /// Its name for people.
    pub(super) fn label(&self) -> String {
        let of = BodyOf::Feature {
            index: self.number - 1,
            words: self.words.clone(),
            letter: None,
        };
        of.to_string()
    }
    /// True when some piece of one meets a piece of the other in plan.
    pub(super) fn meets(&self, other: &PlacedFeature) -> bool {
        self.pieces.iter().any(|p| {
            other
                .pieces
                .iter()
                .any(|q| check::meet_in_plan(&p.region, &q.region))
        })
    }
    /// Distance that the wall moves in plan over the height, mm.
    pub(super) fn lean(&self) -> f64 {
        self.height * self.draft_deg.to_radians().tan()
    }
    /// How far the bodies reach to the other side of the face, mm. A sunk feature
    /// cuts through whatever earlier features raised above the face in its way; a raised
    /// one starts below the floor of whatever earlier features sank there.
    pub(super) fn reach(&self, all: &[PlacedFeature]) -> f64 {
        let hidden = all
            .iter()
            .take_while(|f| f.number < self.number)
            .filter(|f| f.top == self.top && f.raised != self.raised && f.meets(self))
            .map(|f| {
                if self.raised {
                    self.base - f.end()
                } else {
                    f.end() - self.base
                }
            })
            .fold(0.0, f64::max);
        hidden + BITE
    }
    /// Height of its top or floor above the part's face; below it negative.
    pub(super) fn end(&self) -> f64 {
        if self.raised {
            self.base + self.height
        } else {
            self.base - self.height
        }
    }
    /// What to tell when it takes less draft than the part.
    pub(super) fn eased(&self) -> Option<Eased> {
        self.less_than.map(|part_deg| Eased {
            index: self.number - 1,
            draft_deg: self.draft_deg,
            part_deg,
        })
    }
    /// Rounds its inner corners; letters keep theirs.
    pub(super) fn round(&mut self, rounder: &mut Rounder) {
        // Plastic raised: the cutter runs inside, and the floor is the narrowest place. Plastic
        // sunk: it runs around the metal, which is widest at its root, where it is drawn.
        let (side, lean) = if self.raised {
            (CutterSide::Left, self.lean())
        } else {
            (CutterSide::Right, 0.0)
        };
        let label = self.label();
        for piece in self.pieces.iter_mut().filter(|p| p.name.is_none()) {
            let region = &mut piece.region;
            for c in std::iter::once(&mut region.outer).chain(&mut region.holes) {
                rounder.round(&label, c, side, lean);
            }
        }
    }
    /// The bodies.
    pub(super) fn bodies(&self, frame: Frame, all: &[PlacedFeature]) -> Vec<PartBody> {
        let reach = self.reach(all);
        // Heights counted from what it stands on, outward positive.
        let (low, high) = if self.raised {
            (-reach, self.height)
        } else {
            (-self.height, reach)
        };
        let profile = if self.top {
            let face = frame.above() + self.base;
            edge::straight(face + low, face + high, face, self.draft_deg, !self.raised)
        } else {
            let face = -frame.parting - self.base;
            edge::straight(face - high, face - low, face, self.draft_deg, self.raised)
        };
        let role = if self.raised { Role::Add } else { Role::Remove };
        self.pieces
            .iter()
            .map(|piece| PartBody {
                of: BodyOf::Feature {
                    index: self.number - 1,
                    words: self.words.clone(),
                    letter: piece.name,
                },
                role,
                form: Form::Prism {
                    region: piece.region.clone(),
                    profile: profile.clone(),
                },
            })
            .collect()
    }
}

/// Places all features; what cannot be drawn becomes a fault and is left out.
pub(super) fn place_all(
    part: &PartSection,
    frame: Frame,
    outline: Option<&Contour>,
    faults: &mut Diagnostics,
) -> Vec<PlacedFeature> {
    let mut placed: Vec<PlacedFeature> = Vec::new();
    for (i, given) in part.features.iter().enumerate() {
        let spec = &given.value;
        let height = spec.height.value.mm();
        let draft = spec
            .draft
            .as_ref()
            .map_or(frame.draft_deg, |d| d.value.degrees());
        let sound = sound_numbers(spec, height, draft, given.span, faults);
        let stands = match standing(spec, i, &placed) {
            Ok(on) => on,
            Err(d) => {
                faults.push(*d);
                continue;
            }
        };
        let drawn = pieces(spec, given.span).and_then(|p| with_copies(p, spec, outline));
        match drawn {
            Ok(pieces) if sound => placed.push(PlacedFeature {
                number: i + 1,
                words: words(&spec.kind),
                span: given.span,
                height_span: spec.height.span,
                top: spec.side.value == PartSide::Top,
                raised: spec.raised,
                height,
                base: stands.map_or(0.0, |k| placed[k].end()),
                on: stands,
                draft_deg: draft,
                pieces,
                at: spec.at.value,
                letters: letters(spec),
                less_than: None,
            }),
            Ok(_) => {}
            Err(d) => faults.push(*d),
        }
    }
    ease(&mut placed, part);
    placed
}

/// The feature that one stands on, its place among those placed.
fn standing(
    spec: &FeatureSpec,
    index: usize,
    placed: &[PlacedFeature],
) -> Result<Option<usize>, Box<Diagnostic>> {
    let Some(on) = &spec.on else {
        return Ok(None);
    };
    let fault = |message: String, label: &str, remedy: &str| {
        Err(Box::new(Diagnostic::new(
            "part-feature",
            on.span,
            message,
            label,
            remedy,
        )))
    };
    let parent = on.value as usize;
    if parent >= index {
        return fault(
            format!(
                "part.feature[{index}] stands on part.feature[{parent}], which does not stand before it in the file"
            ),
            "no earlier feature",
            "places are counted from 0; move the feature that carries it before it",
        );
    }
    let Some(k) = placed.iter().position(|f| f.number == parent + 1) else {
        // That one has a fault of its own.
        return Ok(None);
    };
    if placed[k].top != (spec.side.value == PartSide::Top) {
        return fault(
            format!(
                "part.feature[{index}] stands on part.feature[{parent}], which is on the other side"
            ),
            "another side",
            "give both the same `side`",
        );
    }
    Ok(Some(k))
}

/// Letters whose draft is left open take as much of the part's as their strokes survive.
fn ease(placed: &mut [PlacedFeature], part: &PartSection) {
    for i in 0..placed.len() {
        let spec = &part.features[placed[i].number - 1].value;
        if spec.draft.is_some() || !matches!(spec.kind, FeatureKind::Text { .. }) {
            continue;
        }
        let reach = placed[i].reach(placed);
        if let Some(less) = check::largest_draft(&placed[i], reach) {
            placed[i].less_than = Some(placed[i].draft_deg);
            placed[i].draft_deg = less;
        }
    }
}

fn sound_numbers(
    spec: &FeatureSpec,
    height: f64,
    draft: f64,
    span: Span,
    faults: &mut Diagnostics,
) -> bool {
    let before = faults.0.len();
    if !(height > 0.0 && height <= shapes::LARGEST) {
        faults.push(Diagnostic::new(
            "part-feature",
            spec.height.span,
            format!(
                "the {} of the feature is {}",
                if spec.raised { "height" } else { "depth" },
                shown::size(height)
            ),
            "must be greater than 0",
            "give a positive height or depth in millimetres",
        ));
    }
    if !(0.0..=super::build::STEEPEST).contains(&draft) {
        faults.push(Diagnostic::new(
            "part-draft",
            spec.draft.as_ref().map_or(span, |d| d.span),
            format!("draft is {} deg", number(draft)),
            "out of range",
            "give a draft from 0 to 45 deg; 1 to 3 deg is usual",
        ));
    }
    if !check::near(spec.at.value) {
        faults.push(check::far_away("part-feature", spec.at.span));
    }
    faults.0.len() == before
}

/// Height of the letters of a text that stands on one straight line, mm: such a text can be
/// told how large it may be.
fn letters(spec: &FeatureSpec) -> Option<f64> {
    match &spec.kind {
        FeatureKind::Text {
            text,
            size,
            arc_diameter: None,
            ..
        } if spec.repeat.is_none() => capitals(&text.value, size).ok(),
        _ => None,
    }
}

/// Height of the capitals of a text, mm.
fn capitals(text: &str, size: &TextSize) -> Result<f64, TextError> {
    /// Any size will do to measure how wide a text is for its height.
    const TRIAL: f64 = 10.0;
    match size {
        TextSize::Capitals(size) => Ok(size.value.mm()),
        TextSize::Width(width) => {
            let wide = text::line(text, TRIAL)?.bounds().width();
            Ok(TRIAL * width.value.mm() / wide)
        }
    }
}

/// All copies of the pieces; a letter that runs into its copy loses its name.
fn with_copies(
    pieces: Vec<Piece>,
    spec: &FeatureSpec,
    outline: Option<&Contour>,
) -> Result<Vec<Piece>, Box<Diagnostic>> {
    if spec.repeat.is_none() {
        return Ok(pieces);
    }
    let count = pieces.len();
    let names: Vec<Option<char>> = pieces.iter().map(|p| p.name).collect();
    let regions = pieces.into_iter().map(|p| p.region).collect();
    let all = repeat::all(regions, spec.repeat.as_ref(), spec.at.value, outline)?;
    let whole = all.len().is_multiple_of(count.max(1));
    Ok(all
        .into_iter()
        .enumerate()
        .map(|(i, region)| Piece {
            region,
            name: if whole { names[i % count] } else { None },
        })
        .collect())
}

/// The feature in the user's words.
fn words(kind: &FeatureKind) -> String {
    match kind {
        FeatureKind::Boss { .. } => "boss".to_owned(),
        FeatureKind::Pocket { .. } => "pocket".to_owned(),
        FeatureKind::Rib { .. } => "rib".to_owned(),
        FeatureKind::Waves { .. } => "waves".to_owned(),
        FeatureKind::Text { text, .. } => format!("text \"{}\"", text.value),
    }
}

fn plain(region: Region) -> Piece {
    Piece { region, name: None }
}

fn pieces(spec: &FeatureSpec, span: Span) -> Result<Vec<Piece>, Box<Diagnostic>> {
    let at = spec.at.value;
    let fault = |span: Span, message: String, remedy: &str| {
        Box::new(Diagnostic::new(
            "part-feature",
            span,
            message,
            "cannot be drawn",
            remedy,
        ))
    };
    match &spec.kind {
        FeatureKind::Boss { outline } | FeatureKind::Pocket { outline } => {
            let regions = regions_of(outline, span)?;
            Ok(regions
                .into_iter()
                .map(|r| plain(r.translated(at.coords)))
                .collect())
        }
        FeatureKind::Rib { to, width } => {
            let far = (to.value - at).norm();
            if !(shapes::SMALLEST..=2.0 * shapes::LARGEST).contains(&far) {
                return Err(fault(
                    to.span,
                    format!("the rib is {} long", shown::size(far)),
                    "give two different points on the part",
                ));
            }
            let w = width.value.mm();
            if !(shapes::SMALLEST..=shapes::LARGEST).contains(&w) {
                return Err(fault(
                    width.span,
                    format!("the rib is {} wide", shown::size(w)),
                    "give a positive width in millimetres",
                ));
            }
            shapes::bar(at, to.value, w)
                .map(|c| vec![plain(Region::simple(c))])
                .map_err(|e| fault(span, e.to_string(), "keep the rib on the part"))
        }
        FeatureKind::Waves {
            first_diameter,
            pitch,
            count,
            width,
        } => {
            let (d, p, w) = (
                first_diameter.value.mm(),
                pitch.value.mm(),
                width.value.mm(),
            );
            if !(1..=50).contains(&count.value) {
                return Err(fault(
                    count.span,
                    format!("{} rings", count.value),
                    "give 1 to 50 rings",
                ));
            }
            if count.value > 1 && (p.is_nan() || p <= w) {
                return Err(fault(
                    pitch.span,
                    format!(
                        "rings {} wide at a pitch of {} run into each other",
                        shown::size(w),
                        shown::size(p)
                    ),
                    "make the pitch greater than the ring width",
                ));
            }
            (0..count.value)
                .map(|i| ring(d + 2.0 * p * f64::from(i), w))
                .collect::<Result<Vec<_>, _>>()
                .map(|rings| {
                    rings
                        .into_iter()
                        .map(|r| plain(r.translated(at.coords)))
                        .collect()
                })
                .map_err(|e| {
                    fault(
                        first_diameter.span,
                        e.to_string(),
                        "the first diameter must be greater than the ring width",
                    )
                })
        }
        FeatureKind::Text {
            text,
            size,
            angle,
            arc_diameter,
            arc,
        } => {
            let turned = angle.as_ref().map_or(0.0, |a| a.value.degrees());
            if !turned.is_finite() {
                return Err(fault(
                    span,
                    "the text's angle is no number".to_owned(),
                    "give an angle in degrees",
                ));
            }
            let line = capitals(&text.value, size)
                .and_then(|high| text::line(&text.value, high))
                .and_then(|line| match arc_diameter {
                    None => Ok(line),
                    Some(d) => line.bent(d.value.mm(), *arc == ArcSide::Under),
                });
            let line = line.map_err(|e| {
                let (span, remedy) = match e {
                    TextError::Size(_) => (
                        size.given().span,
                        format!(
                            "give letters from {} to {} high, or a width at which they are",
                            shown::bare_size(0.5),
                            shown::size(500.0)
                        ),
                    ),
                    TextError::Crowded { .. } => (
                        arc_diameter.as_ref().map_or(span, |d| d.span),
                        "use a larger circle, smaller letters, or a shorter text".to_owned(),
                    ),
                    _ => (text.span, "use other characters, or fewer".to_owned()),
                };
                Box::new(Diagnostic::new(
                    "text-glyph",
                    span,
                    e.to_string(),
                    "this text",
                    remedy,
                ))
            })?;
            let mirrored = spec.side.value == PartSide::Bottom;
            Ok(line
                .glyphs
                .into_iter()
                .flat_map(|g| {
                    let name = Some(g.character);
                    g.regions
                        .into_iter()
                        .map(move |region| Piece { region, name })
                })
                .map(|p| {
                    // The bottom is read from below: x runs the other way there.
                    let turned = p.region.rotated(turned);
                    let seen = if mirrored {
                        turned.mirrored_x(0.0)
                    } else {
                        turned
                    };
                    Piece {
                        region: seen.translated(at.coords),
                        name: p.name,
                    }
                })
                .collect())
        }
    }
}

/// A ring about (0, 0) by the diameter of its centre line and its width.
fn ring(diameter: f64, width: f64) -> Result<Region, ShapeError> {
    let outer = shapes::circle(diameter + width)?;
    let hole = shapes::circle(diameter - width)?.clockwise();
    Ok(Region {
        outer,
        holes: vec![hole],
    })
}
