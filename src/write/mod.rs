//! The files of the package, as bytes and text.
//!
//! Input: a design, what `shop` and `process` made of it, its solids. Output: file
//! contents, and [`package::Package`] which puts them on disk all or nothing.
//! No writer invents geometry: everything is taken from the design's features.

pub mod budget;
pub mod card;
pub mod compare;
pub mod design_json;
pub mod document;
pub mod drawing;
pub mod dxf;
pub mod guide;
pub mod motions;
pub mod package;
mod paper;
pub mod pdf;
pub mod programs;
pub mod register;
pub mod report;
pub mod sheet;
pub mod step;
pub mod stl;

pub use platewright_formats::{archive, markup, threemf};

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::sample;
    use crate::solid::{Tolerance, plate_solid, shot_solid};

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
            design_json::design_json(&design, &[], &Default::default(), 0.01).expect("json"),
        );
        for plate in &design.plates {
            let d = dxf::plate_drawing(plate, &design.title, &design.revision, 0.0);
            p.add(
                format!("{}.dxf", plate.name),
                dxf::write(&d, dxf::Version::R2000),
            );
            p.add(
                format!("{}-r12.dxf", plate.name),
                dxf::write(&d, dxf::Version::R12),
            );
            let solid = plate_solid(plate, &Tolerance::default()).expect("a solid");
            p.add(
                format!("{}.stl", plate.name),
                stl::stl(&solid).expect("a file"),
            );
        }
        let shot = shot_solid(&design, &Tolerance::default()).expect("a solid");
        let shot = stl::stl(&shot.expect("a shot")).expect("a file");
        p.add("shot.stl", shot);
        let workshop = crate::shop::Workshop::decide(
            &Default::default(),
            crate::base::System::Metric,
            &mut crate::base::Decisions::default(),
        );
        let plan = crate::shop::plan(&design, &workshop);
        let mut pictures = std::collections::BTreeMap::new();
        let mut solids = Vec::new();
        for plate in &design.plates {
            let tolerance = crate::solid::Tolerance::with_chord(0.01);
            let mesh = crate::solid::plate_solid_joined(plate, &tolerance).expect("a solid");
            let block = drawing::title::TitleBlock {
                title: design.title.clone(),
                owner: "Saltmarsh Repair Shed".into(),
                material: plate.material.clone(),
                revision: design.revision.clone(),
                released: true,
                ..Default::default()
            };
            let drafts = drawing::plate_sheets(plate, &mesh, &block);
            let sheet = drawing::number_sheets(drafts).remove(0);
            pictures.insert(
                plate.name.clone(),
                drawing::svg::element(&sheet, &plate.name),
            );
            solids.push(design_json::SolidFacts {
                name: plate.name.clone(),
                volume_mm3: mesh.volume(),
                mass_g: mesh.volume() * 2.7e-3,
                triangles: mesh.triangles.len(),
            });
            p.add(format!("{}.svg", plate.name), drawing::svg::file(&sheet));
        }
        let sheet = sheet::Sheet {
            design: &design,
            plan: &plan,
            solids: &solids,
            pictures: &pictures,
        };
        p.add(
            "machining-sheet.html",
            document::html::page(&sheet::content::document(&sheet)),
        );
        p.add(
            "machining-sheet.csv",
            sheet::csv::table(&sheet).expect("csv"),
        );
        p.install(std::path::Path::new(&folder)).expect("installed");
    }
}
