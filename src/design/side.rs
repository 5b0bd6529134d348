//! Which plate of the tool, and which of its two faces.
//!
//! Input: nothing. Output: [`Side`], [`Face`]. Knows no sizes.

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
