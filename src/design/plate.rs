//! A plate: stock plus features; and the whole design.
//!
//! Mold coordinates: origin on the sprue axis, z = 0 on the parting plane, +z
//! towards the nozzle. The A plate lies above z = 0, the B plate below. An adaptor
//! plate stands on z = 0 with the nozzle above.

use super::bought_item::Hardware;
use super::feature::{Feature, Purpose, Shape};
use super::feed::{Feed, Machine, Plastic};
use super::joint::{Clamp, NozzleSeat, OutletEnd};
use super::placement::Placement;
use super::side::{Face, Side};
use crate::base::{Decisions, Finding};
use crate::data::profile::Process;
use crate::part::{Form, PartModel};
use crate::sketch::{Point, Region};
use serde::Serialize;

/// Stock and everything cut into it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Plate {
    /// Which plate.
    pub side: Side,
    /// File and drawing name: `plate-a`, `sheet-1`, `plate-b`, `core`, `adaptor`, `reducer`.
    pub name: String,
    /// Title for people: "A plate (nozzle side)".
    pub title: String,
    /// Key of the material in `data::materials`.
    pub material: String,
    /// The finished outline in the plane.
    pub outline: Region,
    /// Lower face, mm.
    pub z_low: f64,
    /// Upper face, mm.
    pub z_high: f64,
    /// Zero point of the hole table: the lower-left corner of a rectangular
    /// plate, the centre of a round one (mold coordinates).
    pub datum: Point,
    /// The face that lies on the parting plane (or is machined first).
    pub reference: Face,
    /// Everything cut into it, in the order of the tags.
    pub features: Vec<Feature>,
}

impl Plate {
    /// Thickness, mm.
    pub fn thickness(&self) -> f64 {
        self.z_high - self.z_low
    }
    /// True for a pocket with upright walls right through the plate: an opening.
    pub fn opens(&self, f: &Feature) -> bool {
        matches!(f.shape, Shape::Pocket { depth, draft_deg, .. }
            if depth >= self.thickness() - 1e-6 && draft_deg == 0.0)
    }
    /// Whether a body of triangles is cut into it or stands on it: then not all its faces are
    /// exact surfaces.
    pub fn has_facets(&self) -> bool {
        self.features.iter().any(|f| match &f.shape {
            Shape::Cavity(i) | Shape::Core(i) => i.holds(|f| matches!(f, Form::Mesh { .. })),
            _ => false,
        })
    }
    /// How far cores stand above the upper face, mm.
    pub fn standing(&self) -> f64 {
        self.features
            .iter()
            .filter_map(|f| match &f.shape {
                Shape::Core(i) => Some(i.depth),
                _ => None,
            })
            .fold(0.0, f64::max)
    }
    /// Height of a face, mm.
    pub fn z(&self, face: Face) -> f64 {
        match face {
            Face::Low => self.z_low,
            Face::High => self.z_high,
        }
    }
    /// +1 when going into the plate from `face` raises z, else −1.
    pub fn inward(face: Face) -> f64 {
        match face {
            Face::Low => 1.0,
            Face::High => -1.0,
        }
    }
}

/// How a mold of sheets is built.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LayerBuild {
    /// The service that cuts the sheets.
    pub cut: Process,
    /// How much smaller each opening is than the one above it, all around, mm.
    pub step: f64,
    /// Usual ± tolerance of the cut, mm.
    pub tolerance: f64,
}

/// Everything decided about one job.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Design {
    /// Name of the job, safe as a folder name.
    pub name: String,
    /// Title for people.
    pub title: String,
    /// First 8 hexadecimal digits of a hash of the parameter file: the revision.
    pub revision: String,
    /// The plates, those that are stacked from the nozzle side down, then what stands on them.
    pub plates: Vec<Plate>,
    /// The finished part (without shrinkage), if there is one.
    pub part: Option<PartModel>,
    /// Where each cavity lies.
    pub cavities: Vec<Placement>,
    /// The melt's way; `None` for an adaptor.
    pub feed: Option<Feed>,
    /// Sprue, runners, gates and cavities are one body that cuts nothing else (promise P9).
    /// Without it there is no shot to make and no fill to compute; a finding says why.
    pub whole_shot: bool,
    /// The nozzle's seat.
    pub nozzle: NozzleSeat,
    /// The end towards the mold of a turned adaptor.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub outlet: Option<OutletEnd>,
    /// How its sheets are cut; `None` unless the mold is layered.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub layers: Option<LayerBuild>,
    /// The screws of the closed mold; `None` for an adaptor.
    pub clamp: Option<Clamp>,
    /// The plastic (its shrinkage: cavity = part × (1 + shrinkage) about the part's origin).
    pub plastic: Plastic,
    /// The machine.
    pub machine: Machine,
    /// Things to buy.
    pub hardware: Vec<Hardware>,
    /// Every decided value.
    pub decisions: Decisions,
    /// Results of all checks.
    pub findings: Vec<Finding>,
}

/// Appends a feature without a tag (tags are given at the end).
pub(super) fn push(plate: &mut Plate, purpose: Purpose, face: Face, shape: Shape) {
    plate.features.push(Feature {
        tag: String::new(),
        purpose,
        face,
        shape,
    });
}

/// Gives every feature its tag: A1, A2 … in the order of the features; with the plate's
/// number where there are several of a kind: S1.1, S2.1 …
pub(super) fn tag(design: &mut Design) {
    let sides: Vec<Side> = design.plates.iter().map(|p| p.side).collect();
    for (k, plate) in design.plates.iter_mut().enumerate() {
        let alike = |list: &[Side]| list.iter().filter(|s| **s == plate.side).count();
        let prefix = match alike(&sides) {
            1 => plate.side.letter().to_owned(),
            _ => format!("{}{}.", plate.side.letter(), alike(&sides[..=k])),
        };
        for (i, feature) in plate.features.iter_mut().enumerate() {
            feature.tag = format!("{prefix}{}", i + 1);
        }
    }
}
