//! A plate: stock plus features; and the whole design.
//!
//! Mold coordinates: origin on the sprue axis, z = 0 on the parting plane, +z
//! towards the nozzle. The A plate lies above z = 0, the B plate below. An adaptor
//! plate stands on z = 0 with the nozzle above.

use super::bought_item::Hardware;
use super::feature::Feature;
use super::feed::{Feed, Machine, Plastic};
use super::joint::{Clamp, NozzleSeat, OutletEnd};
use crate::base::{Decisions, Finding};
use crate::data::profile::Process;
use crate::part::{Form, PartModel};
use crate::sketch::{Contour, Point, Region};
use serde::Serialize;

/// One of the two flat faces of a plate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Face {
    /// The face at the plate's smaller z.
    Low,
    /// The face at the plate's larger z.
    High,
}

/// Which plate of the tool: what it is there for. A tool has any number of plates.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// The nozzle side.
    A,
    /// A profile-cut sheet between the closing plates.
    Sheet,
    /// The moving side.
    B,
    /// A core of its own, bolted on the B plate.
    Core,
    /// A piece of a sheet that stands loose in its opening, held on the B plate.
    Island,
    /// A bought pin that keeps a hole of the part open.
    Pin,
    /// A nozzle adaptor plate.
    Adaptor,
    /// A turned adaptor with two ends.
    Reducer,
}

impl Side {
    /// What its features' tags begin with.
    pub fn letter(self) -> &'static str {
        match self {
            Side::A => "A",
            Side::Sheet => "S",
            Side::B => "B",
            Side::Core => "C",
            Side::Island => "I",
            Side::Pin => "P",
            Side::Adaptor | Side::Reducer => "N",
        }
    }
    /// True for the plates that close the tool on the outside: they bend under the melt.
    pub fn closes(self) -> bool {
        matches!(self, Side::A | Side::B)
    }
    /// True for the plates that the mold's screws and dowels go through.
    pub fn stacked(self) -> bool {
        matches!(self, Side::A | Side::Sheet | Side::B)
    }
    /// True for what is cut out of sheet by a service.
    pub fn profile_cut(self) -> bool {
        matches!(self, Side::Sheet | Side::Island)
    }
    /// True for what is a flat plate that can be cut out of a sheet: pins, cores and reducers are
    /// turned from a bar.
    pub fn lies_on_sheet(self) -> bool {
        !matches!(self, Side::Pin | Side::Core | Side::Reducer)
    }
    /// True for what is a job of its own, without a mold around it.
    pub fn is_alone(self) -> bool {
        matches!(self, Side::Adaptor | Side::Reducer)
    }
    /// True for what the workshop makes from a drawing: a pin is bought as it is.
    pub fn is_made(self) -> bool {
        self != Side::Pin
    }
    /// True for what stands in the cavity with all of its body.
    pub fn stands_in_cavity(self) -> bool {
        matches!(self, Side::Island | Side::Pin)
    }
}

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
        matches!(f.shape, super::Shape::Pocket { depth, draft_deg, .. }
            if depth >= self.thickness() - 1e-6 && draft_deg == 0.0)
    }
    /// Whether a body of triangles is cut into it or stands on it: then not all its faces are
    /// exact surfaces.
    pub fn has_facets(&self) -> bool {
        self.features.iter().any(|f| match &f.shape {
            super::Shape::Cavity(i) | super::Shape::Core(i) => {
                i.holds(|f| matches!(f, Form::Mesh { .. }))
            }
            _ => false,
        })
    }
    /// How far cores stand above the upper face, mm.
    pub fn standing(&self) -> f64 {
        self.features
            .iter()
            .filter_map(|f| match &f.shape {
                super::Shape::Core(i) => Some(i.depth),
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

/// How a part lies in the mold: scaled by the shrinkage, turned about z, then moved.
///
/// Several cavities are copies turned about the sprue axis, so that every
/// runner is the same: balanced by symmetry.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Placement {
    /// Where the part's origin lies, mold coordinates.
    pub at: Point,
    /// Turned counter-clockwise, degrees.
    pub angle_deg: f64,
    /// 1 + shrinkage.
    pub scale: f64,
}

impl Placement {
    /// A point of the part in mold coordinates.
    pub fn apply(&self, p: Point) -> Point {
        let (sin, cos) = self.angle_deg.to_radians().sin_cos();
        let (x, y) = (p.x * self.scale, p.y * self.scale);
        Point::new(self.at.x + cos * x - sin * y, self.at.y + sin * x + cos * y)
    }
    /// A point of the mold in part coordinates.
    pub fn back(&self, q: Point) -> Point {
        let (sin, cos) = self.angle_deg.to_radians().sin_cos();
        let d = q - self.at;
        Point::new(
            (cos * d.x + sin * d.y) / self.scale,
            (cos * d.y - sin * d.x) / self.scale,
        )
    }
    /// A contour of the part in mold coordinates.
    pub fn contour(&self, c: &Contour) -> Contour {
        c.moved_points(|p| self.apply(p))
    }
    /// A region of the part in mold coordinates.
    pub fn region(&self, r: &Region) -> Region {
        r.moved_points(|p| self.apply(p))
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
