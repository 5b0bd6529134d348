//! The files of the package, as bytes and text.
//!
//! Input: a design, what `shop` and `process` made of it, its solids. Output: file
//! contents, and [`package::Package`] which puts them on disk all or nothing.
//! No writer invents geometry: everything is taken from the design's features.

pub mod design_json;
pub mod drawing;
pub mod dxf;
pub mod package;
pub mod step;
pub mod threemf;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::sample;

    /// Writes the sample package into the folder named by PLATEWRIGHT_SAMPLE_OUT, for
    /// the reference checks and for looking at: `cargo test sample_package -- --ignored`.
    #[test]
    #[ignore = "writes files for the reference checks"]
    fn sample_package() {
        let folder = std::env::var_os("PLATEWRIGHT_SAMPLE_OUT").expect("PLATEWRIGHT_SAMPLE_OUT");
        let design = sample::design();
        let mut p = package::Package::default();
        p.add(
            "design.json",
            design_json::design_json(&design, &[]).expect("json"),
        );
        for plate in &design.plates {
            let d = dxf::plate_drawing(plate, &design.title, &design.revision);
            p.add(
                format!("{}.dxf", plate.name),
                dxf::write(&d, dxf::Version::R2000),
            );
            p.add(
                format!("{}-r12.dxf", plate.name),
                dxf::write(&d, dxf::Version::R12),
            );
        }
        p.install(std::path::Path::new(&folder)).expect("installed");
    }
}
