//! `[part]`: the molded part; its holes and features are in `part_feature`.
//!
//! Input: its tables. Output: the typed section. Does not build bodies (see `part`).

use super::key::{Kind, Rule, length, quantity};
use super::mesh::{MeshKeys, MeshSpec};
use super::part_feature::{FeatureKeys, FeatureSpec, HoleKeys, HoleSpec};
pub use super::part_feature::{MOST, PartSide};
use super::place::Place;
use super::profile::{ProfileKeys, ProfileSpec};
use super::section::section;
use super::shape::{OutlineSpec, ShapeKeys};
use super::value::Value;
use crate::base::Opt;
use crate::base::dimension::Dimension;
use crate::base::{Angle, Given, Length, Span};
use serde::Serialize;
use toml::Spanned;
use toml::de::DeValue;

/// Edge treatment.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum EdgeKind {
    /// 45° chamfer of this leg.
    Chamfer(Length),
    /// Quarter-round of this radius.
    Radius(Length),
}

section! {
    /// The keys of an edge.
    pub struct EdgeKeys, "edge", "How an edge is broken: `{ chamfer = 1 }` or `{ radius = 1 }`.";
    rules &[Rule::ExactlyOne(&["chamfer", "radius"])];
    /// 45 degree chamfer of this leg.
    chamfer: Length = length(0.05, 50.0), "a radius", "1";
    /// Quarter round of this radius.
    radius: Length = length(0.05, 50.0), "a chamfer", "1";
}

impl Value for EdgeKind {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        let table = at.table(value, EdgeKeys::SECTION)?;
        let keys = EdgeKeys::read(&table);
        match (keys.chamfer, keys.radius) {
            (Some(leg), _) => Some(EdgeKind::Chamfer(leg.value)),
            (None, radius) => radius.map(|r| EdgeKind::Radius(r.value)),
        }
    }
}

/// `[part]`
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct PartSection {
    /// Place of the section header.
    #[serde(skip)]
    pub span: Span,
    /// Thickness of the plate part.
    pub thickness: Opt<Length>,
    /// Wall draft per side about the parting plane.
    pub draft: Opt<Angle>,
    /// Edge of the bottom face (`edge_bottom = { chamfer = 1 }` or `{ radius = 1 }`).
    pub edge_bottom: Opt<EdgeKind>,
    /// Edge of the top face.
    pub edge_top: Opt<EdgeKind>,
    /// Inner corners sharper than the smallest end mill are rounded to its radius.
    pub round: Opt<bool>,
    /// The outline of a plate part; required unless there is a profile.
    pub outline: Opt<OutlineSpec>,
    /// The section of a turned part; then there is no outline.
    pub profile: Opt<ProfileSpec>,
    /// A body from a mesh file; then there is neither outline nor profile.
    pub mesh: Opt<MeshSpec>,
    /// Turned part: drawn upside down to how it lies in the mold.
    pub turned_over: Opt<bool>,
    /// Through-cut holes of the outline (`[[part.hole]]`): metal cores in the mold.
    pub holes: Vec<Given<HoleSpec>>,
    /// Raised and sunk features (`[[part.feature]]`).
    pub features: Vec<Given<FeatureSpec>>,
}

section! {
    /// The keys of `[part]`.
    pub struct PartKeys, "part", "The molded part: a plate of any outline, a turned part, or a body from a mesh file. x and y are seen from the nozzle side.";
    rules &[
        Rule::ExactlyOne(&["outline", "profile", "mesh"]),
        Rule::Needs("outline", "thickness"),
        Rule::AtMostOne(&["profile", "thickness"]),
        Rule::AtMostOne(&["profile", "edge_bottom"]),
        Rule::AtMostOne(&["profile", "edge_top"]),
        Rule::Needs("turned_over", "profile"),
        Rule::AtMostOne(&["mesh", "thickness"]),
        Rule::AtMostOne(&["mesh", "draft"]),
        Rule::AtMostOne(&["mesh", "edge_bottom"]),
        Rule::AtMostOne(&["mesh", "edge_top"]),
        Rule::AtMostOne(&["mesh", "round"]),
        Rule::AtMostOne(&["mesh", "hole"]),
        Rule::AtMostOne(&["mesh", "feature"]),
    ];
    /// Thickness of the plate part.
    thickness: Length = length(0.4, 60.0), "needed with an outline", "4";
    /// Draft of the walls per side: the slope that lets the part out.
    draft: Angle = quantity(Dimension::Angle, 0.0, 30.0), "2 deg", "2";
    /// Edge of the bottom face: `{ chamfer = 1 }` or `{ radius = 1 }`.
    edge_bottom: EdgeKind = Kind::Table(EdgeKeys::SECTION), "sharp", "{ radius = 1.5 }";
    /// Edge of the top face: `{ chamfer = 1 }` or `{ radius = 1 }`.
    edge_top: EdgeKind = Kind::Table(EdgeKeys::SECTION), "sharp", "{ chamfer = 0.5 }";
    /// Rounds inner corners that no end mill at hand can cut, to a little more than the smallest one's radius.
    round: bool = Kind::Flag, "false", "true";
    /// The outline, also written as a section `[part.outline]`.
    outline: OutlineSpec = Kind::Table(ShapeKeys::SECTION), "`profile` draws a turned part", "{ shape = \"circle\", diameter = 90 }";
    /// The section of a turned part, also written as a section `[part.profile]`.
    profile: ProfileSpec = Kind::Table(ProfileKeys::SECTION), "`outline` draws a plate part", "{ start = [0, 12], steps = [{ to = [15, 12] }, { to = [16, 0] }] }";
    /// A body from a mesh file, also written as a section `[part.mesh]`.
    mesh: MeshSpec = Kind::Table(MeshKeys::SECTION), "`outline` draws a plate part", "{ file = \"hook.stl\" }";
    /// Turned part: true when it lies upside down in the mold. The nozzle then looks at the drawing's bottom.
    turned_over: bool = Kind::Flag, "so that a hollow opens away from the nozzle", "true";
    /// Through holes, one `[[part.hole]]` each: metal cores in the mold.
    hole: Vec<Given<HoleSpec>> = Kind::Tables(HoleKeys::SECTION, MOST), "none", "[{ at = [0, 10], diameter = 5 }]";
    /// Raised and sunk features, one `[[part.feature]]` each.
    feature: Vec<Given<FeatureSpec>> = Kind::Tables(FeatureKeys::SECTION, MOST), "none", "[{ kind = \"pocket\", diameter = 20, depth = 1 }]";
}

impl Value for PartSection {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        let table = at.table(value, PartKeys::SECTION)?;
        let keys = PartKeys::read(&table);
        Some(Self {
            span: at.span,
            thickness: keys.thickness,
            draft: keys.draft,
            edge_bottom: keys.edge_bottom,
            edge_top: keys.edge_top,
            round: keys.round,
            outline: keys.outline,
            profile: keys.profile,
            mesh: keys.mesh,
            turned_over: keys.turned_over,
            holes: keys.hole.map(|h| h.value).unwrap_or_default(),
            features: keys.feature.map(|f| f.value).unwrap_or_default(),
        })
    }
}
