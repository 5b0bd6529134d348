//! The files of a package, as bytes.

use super::{MakeError, Solids};
use crate::design::Design;
use crate::spec::Job;
use crate::write::package::Package;
use crate::write::{design_json, dxf};

/// Writes every file of the package in memory.
pub(super) fn write(job: &Job, design: &Design, solids: &Solids) -> Result<Package, MakeError> {
    let mut package = Package::default();
    package.add(format!("{}.toml", design.name), job.source.as_bytes());
    for (name, mesh) in &solids.meshes {
        let _ = (name, mesh);
    }
    let version = job
        .output
        .dxf_version
        .as_ref()
        .and_then(|v| dxf::Version::from_word(&v.value))
        .unwrap_or(dxf::Version::R2000);
    for plate in &design.plates {
        let drawing = dxf::plate_drawing(plate, &design.title, &design.revision);
        package.add(format!("{}.dxf", plate.name), dxf::write(&drawing, version));
    }
    let json = design_json::design_json(design, &solids.facts)
        .map_err(|e| MakeError::internal("design.json", e))?;
    package.add("design.json", json);
    Ok(package)
}
