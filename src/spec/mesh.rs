//! `[part.mesh]`: a part given as a mesh file.
//!
//! Input: its table. Output: the typed section. Does not read the file (see `part::imported`).

use super::attached::{FileName, MESH_FILES};
use super::key::{Kind, REQUIRED, length, quantity};
use super::place::Place;
use super::section::section;
use super::value::{Value, Word, words};
use crate::base::Opt;
use crate::base::dimension::Dimension;
use crate::base::{Angle, Given, Length};
use crate::trace::mesh::TracedMesh;
use serde::Serialize;
use std::sync::Arc;
use toml::Spanned;
use toml::de::DeValue;

/// What one unit of a file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum MeshUnit {
    /// Millimetre.
    #[default]
    Mm,
    /// Centimetre.
    Cm,
    /// Metre.
    M,
    /// Inch.
    In,
}
words!(MeshUnit { "mm" => MeshUnit::Mm, "cm" => MeshUnit::Cm, "m" => MeshUnit::M, "in" => MeshUnit::In });

impl MeshUnit {
    /// Its millimetres.
    pub fn mm(self) -> f64 {
        match self {
            Self::Mm => 1.0,
            Self::Cm => 10.0,
            Self::M => 1000.0,
            Self::In => 25.4,
        }
    }
}

/// Which of the file's directions looks at the nozzle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
pub enum Up {
    /// +x
    #[serde(rename = "+x")]
    PlusX,
    /// -x
    #[serde(rename = "-x")]
    MinusX,
    /// +y
    #[serde(rename = "+y")]
    PlusY,
    /// -y
    #[serde(rename = "-y")]
    MinusY,
    /// +z
    #[default]
    #[serde(rename = "+z")]
    PlusZ,
    /// -z
    #[serde(rename = "-z")]
    MinusZ,
}
words!(Up {
    "+x" => Up::PlusX, "-x" => Up::MinusX,
    "+y" => Up::PlusY, "-y" => Up::MinusY,
    "+z" => Up::PlusZ, "-z" => Up::MinusZ,
});

impl Up {
    /// The unit vector, file axes.
    pub fn direction(self) -> [f64; 3] {
        match self {
            Self::PlusX => [1.0, 0.0, 0.0],
            Self::MinusX => [-1.0, 0.0, 0.0],
            Self::PlusY => [0.0, 1.0, 0.0],
            Self::MinusY => [0.0, -1.0, 0.0],
            Self::PlusZ => [0.0, 0.0, 1.0],
            Self::MinusZ => [0.0, 0.0, -1.0],
        }
    }
}

/// `[part.mesh]`
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MeshSpec {
    /// The file.
    pub file: Given<FileName>,
    /// What one unit of the file is.
    pub unit: Opt<MeshUnit>,
    /// Which of the file's directions looks at the nozzle: the pull.
    pub up: Opt<Up>,
    /// Turned about the pull by this angle, seen from the nozzle.
    pub angle: Opt<Angle>,
    /// Cracks up to this width are closed.
    pub mend: Opt<Length>,
    /// The body, once the file has been read.
    #[serde(skip)]
    pub traced: Option<Arc<TracedMesh>>,
}

section! {
    /// The keys of a mesh.
    pub struct MeshKeys, "mesh", "A part given as a mesh file: one closed body of triangles. Its middle in plan becomes (0, 0).";
    /// STL, 3MF or OBJ file beside the parameter file.
    file: FileName = Kind::File(MESH_FILES), REQUIRED, "\"hook.stl\"";
    /// What one unit of the file is: mm, cm, m or in. STL and OBJ do not say.
    unit: MeshUnit = Kind::Word(<MeshUnit as Word>::NAMES), "as a 3MF file says; else mm, unless the part would be smaller than 2 mm", "\"mm\"";
    /// Which of the file's directions looks at the nozzle: the mold opens along it.
    up: Up = Kind::Word(<Up as Word>::NAMES), "with the least area that hooks, then the shallowest cavity", "\"+z\"";
    /// Turns the part about the pull, against the clock seen from the nozzle.
    angle: Angle = quantity(Dimension::Angle, -360.0, 360.0), "0 deg", "30";
    /// Cracks in the mesh up to this width are closed.
    mend: Length = length(0.0, 1.0), "0.01 mm", "0.05";
}

impl Value for MeshSpec {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        let table = at.table(value, MeshKeys::SECTION)?;
        let keys = MeshKeys::read(&table);
        Some(MeshSpec {
            file: keys.file?,
            unit: keys.unit,
            up: keys.up,
            angle: keys.angle,
            mend: keys.mend,
            traced: None,
        })
    }
}
