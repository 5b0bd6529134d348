//! A plate as a solid: stock minus every feature's tool.
//!
//! Input: a [`Plate`]. Output: an audited [`TaggedMesh`].

use super::audit::audit;
use super::block::Block;
use super::boolean::{batches, difference};
use super::canonical::canonicalise;
use super::error::SolidError;
use super::mesh::TaggedMesh;
use super::tolerance::Tolerance;
use super::tool::cutter::tools;
use crate::design::Plate;

/// The plate by plain booleans: tools whose boxes are apart are joined and cut together.
/// The second, independent way that [`plate_solid`](super::plate_solid) is compared with.
pub fn plate_solid_joined(plate: &Plate, tolerance: &Tolerance) -> Result<TaggedMesh, SolidError> {
    let stock = Block::new(&plate.outline, plate.z_low, plate.z_high, tolerance)?;
    let mut all = Vec::new();
    for feature in &plate.features {
        all.extend(tools(plate, feature, tolerance)?);
    }
    let mut body = stock.mesh();
    for batch in batches(all) {
        body = difference(&body, &batch)?;
    }
    if body.is_empty() {
        return Err(SolidError::Empty(plate.title.clone()));
    }
    body.drop_unused();
    canonicalise(&mut body);
    audit(&body, tolerance)?;
    Ok(body)
}
