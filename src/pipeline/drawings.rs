//! The drawings of a design: the tool pulled apart, then the sheets of each plate.

use super::files::{Files, pdf_file};
use super::{MakeError, Solids};
use crate::base::System;
use crate::base::finding::released;
use crate::base::shown;
use crate::data::materials;
use crate::design::{Design, Plate, Purpose, Side};
use crate::shop::stock::bar_of;
use crate::spec::Job;
use crate::write::drawing::sheet::Draft;
use crate::write::drawing::title::TitleBlock;
use crate::write::drawing::{Drawing, assembly::assembly, number_sheets, plate_sheets, svg};
use rayon::prelude::*;

/// All sheets in order, numbered.
pub(super) struct Drawings {
    sheets: Vec<Drawing>,
    /// Name of a plate, or `assembly`, and the index of its first sheet.
    first: Vec<(String, usize)>,
}

impl Drawings {
    /// Draws everything, on all cores.
    pub(super) fn of(job: &Job, design: &Design, solids: &Solids) -> Self {
        let common = block(job, design);
        // `None` is the assembly: only of more than one plate.
        // A bought pin has a standard, not a drawing.
        let made = design.plates.iter().filter(|p| p.side.is_made());
        let mut what: Vec<Option<&Plate>> = made.map(Some).collect();
        if design.plates.len() > 1 {
            what.insert(0, None);
        }
        let units = System::current();
        let drafts: Vec<(String, Vec<Draft>)> = what
            .par_iter()
            .filter_map(|plate| {
                units.within(|| {
                    let Some(plate) = plate else {
                        let block = TitleBlock {
                            part: "assembly".into(),
                            document: "assembly drawing".into(),
                            number: format!("{}-assembly", design.name),
                            ..common.clone()
                        };
                        let sheets = assembly(design, |name| solids.get(name), &block);
                        return Some(("assembly".to_owned(), sheets));
                    };
                    let mesh = solids.get(&plate.name)?;
                    let block = plate_block(&common, design, plate);
                    Some((plate.name.clone(), plate_sheets(plate, mesh, &block)))
                })
            })
            .collect();
        let mut first = Vec::new();
        let mut all = Vec::new();
        for (name, drafts) in drafts {
            first.push((name, all.len()));
            all.extend(drafts);
        }
        Self {
            sheets: number_sheets(all),
            first,
        }
    }
    /// The first sheet of a plate.
    pub(super) fn first(&self, name: &str) -> Option<&Drawing> {
        let (_, at) = self.first.iter().find(|(n, _)| n == name)?;
        self.sheets.get(*at)
    }
    /// The PDF of all sheets, and the assembly as a picture.
    pub(super) fn files(&self, job: &Job, design: &Design) -> Result<Files, MakeError> {
        let mut files = pdf_file(job, "drawings.pdf", &design.title, &self.sheets)?;
        if let Some(sheet) = self.first("assembly") {
            files.push(("assembly.svg".into(), svg::file(sheet).into_bytes()));
        }
        Ok(files)
    }
}

/// What stands in the title block of every sheet.
fn block(job: &Job, design: &Design) -> TitleBlock {
    let word = |given: &Option<crate::base::Given<String>>| {
        given.as_ref().map_or_else(String::new, |g| g.value.clone())
    };
    TitleBlock {
        title: design.title.clone(),
        owner: word(&job.job.owner),
        author: word(&job.job.author),
        revision: design.revision.clone(),
        projection: job.projection(),
        released: released(&design.findings),
        ..TitleBlock::default()
    }
}

fn plate_block(common: &TitleBlock, design: &Design, plate: &Plate) -> TitleBlock {
    let metal = materials::material(&plate.material)
        .map_or_else(|| plate.material.clone(), |m| m.name.clone());
    // Roughness: common practice, no source; grades N8 and N6 of ISO 1302.
    let seals = plate.side == Side::Reducer;
    let wet = plate.features.iter().any(|f| {
        matches!(
            f.purpose,
            Purpose::Cavity | Purpose::Sprue | Purpose::Runner | Purpose::Gate
        )
    });
    TitleBlock {
        part: plate.title.clone(),
        document: "part drawing".into(),
        number: format!("{}-{}", design.name, plate.name),
        material: match bar_of(plate) {
            Some(bar) => format!("{metal}, {}", bar.short()),
            None => format!("{metal}, {}", shown::size(plate.thickness())),
        },
        texture: if wet {
            format!(
                "Ra {}; cavity and feed Ra {}",
                shown::roughness(3.2),
                shown::roughness(0.8)
            )
        } else if seals {
            format!(
                "Ra {}; seal faces, bore Ra {}",
                shown::roughness(3.2),
                shown::roughness(1.6)
            )
        } else {
            format!("Ra {}", shown::roughness(3.2))
        },
        ..common.clone()
    }
}
