//! The files of a package, as bytes, made on all cores in a fixed order.

use super::drawings::Drawings;
use super::{Checked, MakeError, Solids, Threads};
use crate::base::System;
use crate::base::finding::released;
use crate::base::{Diagnostic, Diagnostics};
use crate::design::{Design, Plate};
use crate::process;
use crate::shop::ShopPlan;
use crate::shop::profile::ProfileCut;
use crate::solid::brep::Brep;
use crate::spec::{Job, codes};
use crate::write::document::{html, pages};
use crate::write::drawing::template::{self, Head};
use crate::write::drawing::{Drawing, svg};
use crate::write::package::{INDEX, Package};
use crate::write::pdf;
use crate::write::report::{self, Report};
use crate::write::sheet::{self, Sheet};
use crate::write::{card, design_json, dxf, motions, step, stl, threemf};
use rayon::prelude::*;
use std::collections::BTreeMap;

pub(super) type Files = Vec<(String, Vec<u8>)>;

/// A job that makes some files.
type Task<'a> = Box<dyn Fn() -> Result<Files, MakeError> + Send + Sync + 'a>;

/// The page that shows everything.
const REPORT: &str = "report.html";

/// Writes every file of the package in memory.
pub(super) fn write(job: &Job, checked: &Checked) -> Result<Package, MakeError> {
    let (design, solids, plan) = (&checked.design, &checked.solids, &checked.plan);
    let drawings = Drawings::of(job, design, solids);
    let pictures: BTreeMap<String, String> = design
        .plates
        .iter()
        .filter_map(|p| Some((p.name.clone(), drawings.first(&p.name)?)))
        .map(|(name, d)| (name.clone(), svg::element(d, &name)))
        .collect();
    let threaded = &checked.threaded;
    let mut tasks: Vec<Task<'_>> = vec![Box::new(|| Ok(step_files(checked)))];
    let whole = |name: &str| !solids.in_pieces.contains_key(name);
    for (name, mesh) in solids.meshes.iter().filter(|m| whole(&m.0)) {
        let mesh = threaded.shown(name, mesh);
        tasks.push(Box::new(move || {
            let bytes =
                stl::stl(mesh).map_err(|e| MakeError::internal(format!("{name}.stl"), e))?;
            Ok(vec![(format!("{name}.stl"), bytes)])
        }));
    }
    tasks.push(Box::new(|| threemf_file(design, solids, threaded)));
    for plate in design.plates.iter().filter(|p| p.side.is_made()) {
        let drawing = drawings.first(&plate.name);
        tasks.push(Box::new(move || {
            Ok(plate_files(job, design, plate, drawing))
        }));
    }
    tasks.push(Box::new(|| drawings.files(job, design)));
    tasks.push(Box::new(|| templates_pdf(job, design)));
    tasks.push(Box::new(|| Ok(cut_files(job, design, plan))));
    tasks.push(Box::new(|| {
        sheet_files(job, design, solids, plan, &pictures)
    }));
    tasks.push(Box::new(|| {
        let programs = checked.programs.iter();
        Ok(programs
            .map(|p| (p.name.clone(), p.text.clone().into_bytes()))
            .collect())
    }));
    tasks.push(Box::new(|| process_files(job, checked)));
    tasks.push(Box::new(|| {
        let json = design_json::design_json(
            design,
            &solids.facts,
            &checked.plan.minutes(),
            solids.tolerance.chord,
        )
        .map_err(|e| MakeError::internal("design.json", e))?;
        let mut files = vec![
            ("design.json".into(), json.into_bytes()),
            (
                format!("{}.toml", design.name),
                job.source.clone().into_bytes(),
            ),
        ];
        let pictures = design.findings.iter().filter_map(|f| {
            let svg = f.picture.as_ref()?;
            Some((format!("{}.svg", f.code), svg.clone().into_bytes()))
        });
        files.extend(pictures);
        // With the parameter file goes what it names: the package can be made again from itself.
        files.extend(job.attached.iter().map(|(n, b)| (n.clone(), b.to_vec())));
        Ok(files)
    }));
    let units = System::current();
    let made: Result<Vec<Files>, MakeError> = tasks.par_iter().map(|t| units.within(t)).collect();
    let mut package = Package::default();
    // Where capitals do not count, two names that differ by them are one file.
    let mut taken: BTreeMap<String, String> = BTreeMap::new();
    for (name, bytes) in made?.into_iter().flatten() {
        if let Some(other) = taken.insert(name.to_lowercase(), name.clone()) {
            return Err(name_taken(job, &name, &other));
        }
        package.add(name, bytes);
    }
    for reserved in [INDEX, REPORT] {
        if let Some(other) = taken.get(reserved) {
            return Err(name_taken(job, other, reserved));
        }
    }
    // Last, because it lists the others with their sizes.
    let sizes: Vec<(String, usize)> = package
        .files
        .iter()
        .map(|(name, bytes)| (name.clone(), bytes.len()))
        .collect();
    let page = report::page(&Report {
        design,
        process: &checked.process,
        solids: &solids.facts,
        meshes: &solids.meshes,
        pictures: &pictures,
        marked: &solids.marked,
        files: &sizes,
    });
    package.add(REPORT, page);
    Ok(package)
}

/// Two files of one name: one of them is the user's.
fn name_taken(job: &Job, name: &str, other: &str) -> MakeError {
    let users = |f: &&crate::base::Given<String>| f.value == name || f.value == other;
    match job.file_names.iter().find(users) {
        Some(given) => MakeError::Input(Diagnostics(vec![Diagnostic::new(
            codes::BAD_FILE_NAME,
            given.span,
            format!(
                "\"{}\" is also the name of a file that the package gets, apart from capitals",
                given.value
            ),
            "would be written twice",
            "give the file another name",
        )])),
        None => MakeError::internal(name, "written twice"),
    }
}

/// The process computation for programs, and the card for the machine (molds only).
fn process_files(job: &Job, checked: &Checked) -> Result<Files, MakeError> {
    if checked.design.part.is_none() {
        return Ok(Files::new());
    }
    let json = serde_json::to_string_pretty(&checked.process)
        .map_err(|e| MakeError::internal("process.json", e))?;
    let card = process::card::card(&checked.design, &checked.process);
    let document = card::document(&card);
    let sheets = pages::sheets(&document);
    let mut files = pdf_file(job, "process-card.pdf", &document.running, &sheets)?;
    files.push(("process.json".into(), format!("{json}\n").into_bytes()));
    files.push((
        "process-card.html".into(),
        html::page(&document).into_bytes(),
    ));
    Ok(files)
}

/// Cut file and drawing of a plate.
fn plate_files(job: &Job, design: &Design, plate: &Plate, sheet: Option<&Drawing>) -> Files {
    let kerf = job.output.kerf.as_ref().map_or(0.0, |k| k.value.mm());
    let cut = dxf::plate_drawing(plate, &design.title, &design.revision, kerf);
    let mut files = vec![(
        format!("{}.dxf", plate.name),
        dxf::write(&cut, version(job)).into_bytes(),
    )];
    if let Some(sheet) = sheet {
        let name = format!("{}.svg", plate.name);
        files.push((name, svg::file(sheet).into_bytes()));
    }
    files
}

/// One PDF of some sheets.
pub(super) fn pdf_file(
    job: &Job,
    name: &str,
    title: &str,
    sheets: &[Drawing],
) -> Result<Files, MakeError> {
    if sheets.is_empty() {
        return Ok(Files::new());
    }
    let author = job.job.author.as_ref().map_or("", |a| a.value.as_str());
    let bytes = pdf::file(title, author, sheets).map_err(|e| MakeError::internal(name, e))?;
    Ok(vec![(name.to_owned(), bytes)])
}

/// Paper at full size to punch through, for every face that is drilled.
fn templates_pdf(job: &Job, design: &Design) -> Result<Files, MakeError> {
    let head = Head {
        title: design.title.clone(),
        revision: design.revision.clone(),
        released: released(&design.findings),
    };
    let sheets: Vec<Drawing> = design
        .plates
        .iter()
        .flat_map(|p| {
            let faces = template::drilled_faces(p);
            faces
                .into_iter()
                .flat_map(|f| template::template(p, f, &head))
                .collect::<Vec<_>>()
        })
        .collect();
    let title = format!("{} – drill templates", design.title);
    pdf_file(job, "drill-templates.pdf", &title, &sheets)
}

/// All plates on one sheet for the service at hand that cuts them out.
fn cut_files(job: &Job, design: &Design, plan: &ShopPlan) -> Files {
    let Some(process) = plan.profile else {
        return Files::new();
    };
    // The file's kerf, else the middle of the process's usual one.
    let usual = process.kerf().map_or(0.0, |k| k.value.typical);
    let kerf = job.output.kerf.as_ref().map_or(usual, |k| k.value.mm());
    let cut = ProfileCut { process, kerf };
    let size = job
        .shop
        .sheet_width
        .as_ref()
        .zip(job.shop.sheet_height.as_ref());
    let size = size.map(|(w, h)| (w.value.mm(), h.value.mm()));
    dxf::cut_sheets(design, &cut, size)
        .into_iter()
        .map(|(words, d)| {
            let name = if words.is_empty() {
                "cut-sheet.dxf".to_owned()
            } else {
                format!("cut-sheet-{words}.dxf")
            };
            (name, dxf::write(&d, version(job)).into_bytes())
        })
        .collect()
}

/// Which DXF release is asked for.
fn version(job: &Job) -> dxf::Version {
    job.output
        .dxf_version
        .as_ref()
        .map_or_else(dxf::Version::default, |v| v.value)
}

/// The machining sheet as a page, as a PDF and as a table.
fn sheet_files(
    job: &Job,
    design: &Design,
    solids: &Solids,
    plan: &ShopPlan,
    pictures: &BTreeMap<String, String>,
) -> Result<Files, MakeError> {
    let sheet = Sheet {
        design,
        plan,
        solids: &solids.facts,
        pictures,
    };
    let table =
        sheet::csv::table(&sheet).map_err(|e| MakeError::internal("machining-sheet.csv", e))?;
    let document = sheet::content::document(&sheet);
    let mut files = pdf_file(
        job,
        "machining-sheet.pdf",
        &document.running,
        &pages::sheets(&document),
    )?;
    files.push((
        "machining-sheet.html".into(),
        html::page(&document).into_bytes(),
    ));
    files.push(("machining-sheet.csv".into(), table.into_bytes()));
    if job.output.motions.as_ref().is_some_and(|m| m.value) {
        let json =
            motions::motions(design, plan).map_err(|e| MakeError::internal("motions.json", e))?;
        files.push(("motions.json".into(), json.into_bytes()));
    }
    Ok(files)
}

/// Colour of a solid by its name, red green blue 0 to 1.
fn colour(name: &str) -> [f64; 3] {
    match name {
        "plate-a" => [0.55, 0.63, 0.70],
        "plate-b" => [0.72, 0.66, 0.56],
        n if n.starts_with("sheet-") => [0.62, 0.68, 0.58],
        n if n.starts_with("island-") => [0.56, 0.60, 0.66],
        n if n.starts_with("pin-") => [0.70, 0.70, 0.72],
        n if n == "core" || n.starts_with("core-") => [0.66, 0.70, 0.62],
        "adaptor" | "reducer" => [0.60, 0.62, 0.60],
        _ => [0.85, 0.47, 0.20],
    }
}

/// The plates in place, as one 3MF.
fn threemf_file(design: &Design, solids: &Solids, threaded: &Threads) -> Result<Files, MakeError> {
    let objects: Vec<threemf::Object<'_>> = design
        .plates
        .iter()
        .filter(|p| !solids.in_pieces.contains_key(&p.name))
        .filter_map(|p| {
            let m = threaded.shown(&p.name, solids.get(&p.name)?);
            Some(threemf::Object {
                name: &p.title,
                colour: colour(&p.name),
                points: &m.points,
                triangles: &m.triangles,
            })
        })
        .collect();
    if objects.is_empty() {
        return Ok(Files::new());
    }
    let name = format!("{}.3mf", design.name);
    let bytes = threemf::package(&design.title, &objects)
        .map_err(|e| MakeError::internal(name.clone(), e))?;
    Ok(vec![(name, bytes)])
}

/// A STEP file of every solid with exact faces, and the plates in place as one assembly when all
/// of them are exact.
fn step_files(checked: &Checked) -> Files {
    let design = &checked.design;
    // In the order of the solids.
    let exact: Vec<(&str, &Brep)> = checked
        .solids
        .meshes
        .iter()
        .filter_map(|(name, _)| Some((name.as_str(), checked.exact.solids.get(name)?)))
        .collect();
    let title = |name: &str| {
        design
            .plates
            .iter()
            .find(|p| p.name == name)
            .map_or_else(|| format!("{} {name}", design.title), |p| p.title.clone())
    };
    let titles: Vec<String> = exact.iter().map(|(name, _)| title(name)).collect();
    let items: Vec<step::Item<'_>> = exact
        .iter()
        .zip(&titles)
        .map(|((name, solid), title)| step::Item {
            name,
            title,
            colour: colour(name),
            solid,
        })
        .collect();
    let mut files: Files = items
        .iter()
        .map(|i| (format!("{}.step", i.name), step::part(i).into_bytes()))
        .collect();
    let plates: Vec<step::Item<'_>> = items
        .iter()
        .filter(|i| design.plates.iter().any(|p| p.name == i.name))
        .copied()
        .collect();
    let whole = plates.len() == design.plates.len();
    if whole && !design.plates.iter().all(|p| p.side.is_alone()) {
        files.push((
            format!("{}.step", design.name),
            step::assembly(&design.name, &design.title, &plates).into_bytes(),
        ));
    }
    files
}
