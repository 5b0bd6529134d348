//! `[[part.hole]]` and `[[part.feature]]`: through holes, raised and sunk features of the part.
//!
//! Input: their tables. Output: the typed entries. Does not build bodies (see `part`).

use super::codes;
use super::key::{Case, Kind, REQUIRED, Rule, Variants, count, length, quantity};
use super::place::Place;
use super::repeat::{Repeat, RepeatKeys};
use super::section::section;
use super::shape::{LARGEST, OutlineSpec, ShapeKeys};
use super::value::{Value, Word, list, words};
use crate::base::Opt;
use crate::base::dimension::Dimension;
use crate::base::{Angle, Diagnostic, Given, Length};
use crate::sketch::Point;
use serde::Serialize;
use toml::Spanned;
use toml::de::DeValue;

/// A through hole of the part, `[[part.hole]]`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HoleSpec {
    /// Centre of the shape, part coordinates.
    pub at: Given<Point>,
    /// Its shape (a plain `diameter` means a circle).
    pub outline: OutlineSpec,
    /// The same again, elsewhere.
    pub repeat: Opt<Repeat>,
}

/// Most holes, and most features, of a part.
pub const MOST: usize = 200;

/// Side of the part: `top` towards the nozzle (A plate), `bottom` away from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum PartSide {
    /// Towards the A plate.
    Top,
    /// Towards the B plate.
    #[default]
    Bottom,
}
words!(PartSide { "top" => PartSide::Top, "bottom" => PartSide::Bottom });

section! {
    /// The keys of `[[part.hole]]`.
    pub struct HoleKeys, "hole", "A through hole of the part.";
    rules &[Rule::ExactlyOne(&["diameter", "outline"])];
    /// Centre of the hole.
    at: Point = Kind::Point(LARGEST), "[0, 0]", "[0, 10]";
    /// Diameter of a round hole.
    diameter: Length = length(0.5, LARGEST), "`outline` gives the shape", "5";
    /// Shape of any other hole.
    outline: OutlineSpec = Kind::Table(ShapeKeys::SECTION), "`diameter` gives a round hole", "{ shape = \"slot\", length = 12, width = 4 }";
    /// The same again, elsewhere: a row, a grid, a circle, or along the outline.
    repeat: Repeat = Kind::Table(RepeatKeys::SECTION), "once", "{ along = \"row\", count = 5, step = [8, 0] }";
}

/// A round or any other shape.
fn round_or(diameter: Opt<Length>, outline: Opt<OutlineSpec>) -> Option<OutlineSpec> {
    match (diameter, outline) {
        (Some(diameter), _) => Some(OutlineSpec::Circle { diameter }),
        (None, outline) => outline.map(|o| o.value),
    }
}

/// Copies along the outline stand where the outline is: a place would be ignored.
fn place_is_used(
    at: &Place<'_>,
    place: Option<&Given<Point>>,
    repeat: Option<&Given<Repeat>>,
) -> Option<()> {
    let (Some(place), Some(Repeat::Outline { .. })) = (place, repeat.map(|r| &r.value)) else {
        return Some(());
    };
    at.found.push(Diagnostic::new(
        codes::KEY_NOT_USED,
        place.span,
        format!(
            "`{}.at` says nothing: the copies stand along the part's outline",
            at.path
        ),
        "not used",
        "take it out; `inset` says how far inside the outline they stand",
    ));
    None
}

/// An entry of a list of tables.
struct Hole(Given<HoleSpec>);

impl Value for Hole {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        let table = at.table(value, HoleKeys::SECTION)?;
        let keys = HoleKeys::read(&table);
        place_is_used(at, keys.at.as_ref(), keys.repeat.as_ref())?;
        let spec = HoleSpec {
            at: keys.at.unwrap_or(Given::new(Point::origin(), at.span)),
            outline: round_or(keys.diameter, keys.outline)?,
            repeat: keys.repeat,
        };
        Some(Hole(Given::new(spec, at.span)))
    }
}

impl Value for Vec<Given<HoleSpec>> {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        let holes: Vec<Hole> = list(at, value, 0, MOST)?;
        Some(holes.into_iter().map(|h| h.0).collect())
    }
}

/// A raised or sunk feature of the part, `[[part.feature]]`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FeatureSpec {
    /// What it is.
    pub kind: FeatureKind,
    /// On which side.
    pub side: Given<PartSide>,
    /// Raised: height above the face, sunk: depth below it. Positive.
    pub height: Given<Length>,
    /// True when it stands proud of the part's face, false when sunk into it.
    pub raised: bool,
    /// Centre, part coordinates.
    pub at: Given<Point>,
    /// Wall draft per side; left out = the part's.
    pub draft: Opt<Angle>,
    /// The same again, elsewhere.
    pub repeat: Opt<Repeat>,
    /// The earlier feature on whose top or floor it stands, its place in the list; left out = on the part's face.
    pub on: Opt<u32>,
}

/// The kinds of raised and sunk features.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum FeatureKind {
    /// `kind = "boss"`: raised shape.
    Boss {
        /// Its shape.
        outline: OutlineSpec,
    },
    /// `kind = "pocket"`: sunk shape.
    Pocket {
        /// Its shape.
        outline: OutlineSpec,
    },
    /// `kind = "rib"`: raised straight bar with round ends from `at` to `to`.
    Rib {
        /// Other end, part coordinates.
        to: Given<Point>,
        /// Width.
        width: Given<Length>,
    },
    /// `kind = "waves"`: concentric rings about `at`, raised or sunk.
    Waves {
        /// Outer diameter of the innermost ring's centre line.
        first_diameter: Given<Length>,
        /// Distance from ring to ring (radius step).
        pitch: Given<Length>,
        /// Number of rings, 1 to 50.
        count: Given<u32>,
        /// Width of a ring.
        width: Given<Length>,
    },
    /// `kind = "text"`.
    Text {
        /// The text; one line.
        text: Given<String>,
        /// How large it is.
        size: TextSize,
        /// Turned by this angle.
        angle: Opt<Angle>,
        /// Set on a circle of this diameter about `at`; left out = on a straight line.
        arc_diameter: Opt<Length>,
        /// On which half of that circle it reads from left to right.
        arc: ArcSide,
    },
}

/// How large a text is.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum TextSize {
    /// `size`: height of capital letters.
    Capitals(Given<Length>),
    /// `width`: as large as fits this width.
    Width(Given<Length>),
}

impl TextSize {
    /// The number written.
    pub fn given(&self) -> &Given<Length> {
        match self {
            TextSize::Capitals(v) | TextSize::Width(v) => v,
        }
    }
}

/// On which half of its circle a text reads from left to right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum ArcSide {
    /// The upper half: feet on the circle, heads outward.
    #[default]
    Over,
    /// The lower half: heads toward the middle, feet on the circle.
    Under,
}
words!(ArcSide { "over" => ArcSide::Over, "under" => ArcSide::Under });

/// The words behind `kind`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum FeatureWord {
    /// Raised shape.
    Boss,
    /// Sunk shape.
    Pocket,
    /// Raised bar.
    Rib,
    /// Concentric rings.
    Waves,
    /// Text.
    Text,
}
words!(FeatureWord {
    "boss" => FeatureWord::Boss,
    "pocket" => FeatureWord::Pocket,
    "rib" => FeatureWord::Rib,
    "waves" => FeatureWord::Waves,
    "text" => FeatureWord::Text,
});

const SHAPED: &[Rule] = &[Rule::ExactlyOne(&["diameter", "outline"])];
const UP_OR_DOWN: &[Rule] = &[Rule::ExactlyOne(&["height", "depth"])];
const TEXT: &[Rule] = &[
    Rule::ExactlyOne(&["height", "depth"]),
    Rule::ExactlyOne(&["size", "width"]),
    Rule::Needs("arc", "arc_diameter"),
];

section! {
    /// The keys of `[[part.feature]]`.
    pub struct FeatureKeys, "feature", "Something raised or sunk on a face of the part.";
    variants Variants {
        selector: "kind",
        cases: &[
            Case { word: "boss", needs: &["height"], may: &["at", "diameter", "outline"], rules: SHAPED },
            Case { word: "pocket", needs: &["depth"], may: &["at", "diameter", "outline"], rules: SHAPED },
            Case { word: "rib", needs: &["height", "at", "to", "width"], may: &[], rules: &[] },
            Case {
                word: "waves",
                needs: &["first_diameter", "pitch", "count", "width"],
                may: &["at", "height", "depth"],
                rules: UP_OR_DOWN,
            },
            Case {
                word: "text",
                needs: &["text"],
                may: &["size", "width", "at", "angle", "arc_diameter", "arc", "height", "depth"],
                rules: TEXT,
            },
        ],
    };
    /// boss (raised shape), pocket (sunk shape), rib (raised bar), waves (rings) or text.
    kind: FeatureWord = Kind::Word(<FeatureWord as Word>::NAMES), REQUIRED, "\"pocket\"";
    /// The face: top is towards the nozzle, bottom away from it.
    side: PartSide = Kind::Word(<PartSide as Word>::NAMES), "bottom", "\"top\"";
    /// Stands on the top or the floor of an earlier feature, not on the part's face: that one's place in the list, counted from 0.
    on: u32 = count(0, MOST as u32 - 1), "on the part's face", "0";
    /// Raised by this much above the face.
    height: Length = length(0.05, 60.0), "sunk: `depth` is given", "1";
    /// Sunk by this much below the face.
    depth: Length = length(0.05, 60.0), "raised: `height` is given", "1";
    /// Centre; of a rib, one end.
    at: Point = Kind::Point(LARGEST), "[0, 0]", "[0, 0]";
    /// Draft of its walls per side.
    draft: Angle = quantity(Dimension::Angle, 0.0, 45.0), "the part's; letters take less where their strokes would not survive it", "5";
    /// Boss, pocket: diameter of a round one.
    diameter: Length = length(0.5, LARGEST), "`outline` gives the shape", "20";
    /// Boss, pocket: any other shape.
    outline: OutlineSpec = Kind::Table(ShapeKeys::SECTION), "`diameter` gives a round one", "{ shape = \"rectangle\", width = 20, height = 10 }";
    /// Rib: the other end.
    to: Point = Kind::Point(LARGEST), "", "[20, 0]";
    /// Rib, waves: width. Text: as large as fits this width.
    width: Length = length(0.3, LARGEST), "", "2";
    /// Waves: diameter of the innermost ring's centre line.
    first_diameter: Length = length(0.5, LARGEST), "", "20";
    /// Waves: distance from ring to ring.
    pitch: Length = length(0.5, 200.0), "", "6";
    /// Waves: number of rings.
    count: u32 = count(1, 50), "", "5";
    /// Text: one line.
    text: String = Kind::Text(60), "", "\"SALTMARSH\"";
    /// Text: height of capital letters.
    size: Length = length(1.0, 200.0), "", "6";
    /// Text: turned by this angle, counter-clockwise.
    angle: Angle = quantity(Dimension::Angle, -360.0, 360.0), "0", "90";
    /// Text: set on a circle of this diameter, through the feet of its letters, about `at`.
    arc_diameter: Length = length(2.0, LARGEST), "on a straight line", "40";
    /// Text on a circle: over (its upper half) or under (its lower half, heads toward the middle).
    arc: ArcSide = Kind::Word(<ArcSide as Word>::NAMES), "over", "\"under\"";
    /// The same again, elsewhere: a row, a grid, a circle, or along the outline.
    repeat: Repeat = Kind::Table(RepeatKeys::SECTION), "once", "{ along = \"row\", count = 5, step = [8, 0] }";
}

/// An entry of a list of tables.
struct Feature(Given<FeatureSpec>);

impl Value for Feature {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        let table = at.table(value, FeatureKeys::SECTION)?;
        let keys = FeatureKeys::read(&table);
        let kind = match keys.kind?.value {
            FeatureWord::Boss => FeatureKind::Boss {
                outline: round_or(keys.diameter, keys.outline)?,
            },
            FeatureWord::Pocket => FeatureKind::Pocket {
                outline: round_or(keys.diameter, keys.outline)?,
            },
            FeatureWord::Rib => FeatureKind::Rib {
                to: keys.to?,
                width: keys.width?,
            },
            FeatureWord::Waves => waves(
                at,
                keys.first_diameter?,
                keys.pitch?,
                keys.count?,
                keys.width?,
            )?,
            FeatureWord::Text => FeatureKind::Text {
                text: keys.text?,
                size: match (keys.size, keys.width) {
                    (Some(size), _) => TextSize::Capitals(size),
                    (None, width) => TextSize::Width(width?),
                },
                angle: keys.angle,
                arc_diameter: keys.arc_diameter,
                arc: keys.arc.map(|a| a.value).unwrap_or_default(),
            },
        };
        let (height, raised) = match (keys.height, keys.depth) {
            (Some(h), _) => (h, true),
            (None, Some(d)) => (d, false),
            (None, None) => return None,
        };
        place_is_used(at, keys.at.as_ref(), keys.repeat.as_ref())?;
        let spec = FeatureSpec {
            kind,
            side: keys
                .side
                .unwrap_or(Given::new(PartSide::default(), at.span)),
            height,
            raised,
            at: keys.at.unwrap_or(Given::new(Point::origin(), at.span)),
            draft: keys.draft,
            repeat: keys.repeat,
            on: keys.on,
        };
        Some(Feature(Given::new(spec, at.span)))
    }
}

fn waves(
    at: &Place<'_>,
    first_diameter: Given<Length>,
    pitch: Given<Length>,
    count: Given<u32>,
    width: Given<Length>,
) -> Option<FeatureKind> {
    if count.value > 1 && width.value.mm() >= pitch.value.mm() {
        at.found.push(Diagnostic::new(
            codes::OUT_OF_RANGE,
            width.span,
            format!(
                "`{}`: rings {} wide at a pitch of {} run into each other",
                at.path, width.value, pitch.value
            ),
            "not less than the pitch",
            "make the width smaller or the pitch larger; half the pitch looks even",
        ));
        return None;
    }
    Some(FeatureKind::Waves {
        first_diameter,
        pitch,
        count,
        width,
    })
}

impl Value for Vec<Given<FeatureSpec>> {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        let features: Vec<Feature> = list(at, value, 0, MOST)?;
        Some(features.into_iter().map(|f| f.0).collect())
    }
}
