//! The text of STEP files, and packages for the reference checks.

use super::*;
use crate::design::{Design, Plate, random, sample};
use crate::solid::brep::{BrepError, recover_with_retry};
use crate::solid::{SolidError, TaggedMesh, Tolerance, plate_solid};
use crate::write::threemf;
use std::collections::BTreeSet;

#[derive(Debug)]
#[allow(dead_code, reason = "shown when a test fails")]
enum Failure {
    Solid(SolidError),
    Brep(BrepError),
}
impl From<BrepError> for Failure {
    fn from(e: BrepError) -> Self {
        Failure::Brep(e)
    }
}

/// Exact solid and mesh of a plate.
fn solids(plate: &Plate) -> Result<(Brep, TaggedMesh), Failure> {
    let mut mesh = None;
    let brep = recover_with_retry(0.01, |chord| {
        let m = plate_solid(plate, &Tolerance::with_chord(chord)).map_err(Failure::Solid)?;
        mesh = Some(m.clone());
        Ok::<_, Failure>(m)
    })?;
    Ok((brep, mesh.expect("made before it was recovered")))
}

/// Every file of a design that this module and 3MF make.
fn files(design: &Design) -> Result<Vec<(String, Vec<u8>)>, Failure> {
    let made: Vec<(Brep, TaggedMesh)> =
        design.plates.iter().map(solids).collect::<Result<_, _>>()?;
    let colours = [[0.70, 0.72, 0.75], [0.55, 0.62, 0.70]];
    let items: Vec<Item<'_>> = design
        .plates
        .iter()
        .zip(&made)
        .enumerate()
        .map(|(i, (p, m))| Item {
            name: &p.name,
            title: &p.title,
            colour: colours[i % 2],
            solid: &m.0,
        })
        .collect();
    let objects: Vec<threemf::Object<'_>> = items
        .iter()
        .zip(&made)
        .map(|(i, m)| threemf::Object {
            name: i.name,
            colour: i.colour,
            points: &m.1.points,
            triangles: &m.1.triangles,
        })
        .collect();
    let mut out: Vec<(String, Vec<u8>)> = items
        .iter()
        .map(|i| (format!("{}.step", i.name), part(i).into_bytes()))
        .collect();
    let whole = assembly(&design.name, &design.title, &items).into_bytes();
    out.push(("assembly.step".into(), whole));
    let package = threemf::package(&design.title, &objects).expect("3MF");
    out.push(("assembly.3mf".into(), package));
    let json = crate::write::design_json::design_json(design, &[], &Default::default(), 0.01)
        .expect("json");
    out.push(("design.json".into(), json.into_bytes()));
    Ok(out)
}

/// Numbers of the entities a line defines and refers to.
fn references(line: &str) -> (Option<u64>, Vec<u64>) {
    let mut quoted = false;
    let mut all = Vec::new();
    let mut chars = line.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '\'' => quoted = !quoted,
            '#' if !quoted => {
                let mut n = 0;
                while let Some(d) = chars.peek().and_then(|c| c.to_digit(10)) {
                    n = 10 * n + u64::from(d);
                    chars.next();
                }
                all.push(n);
            }
            _ => {}
        }
    }
    let defines = line.starts_with('#');
    let first = defines.then(|| all.remove(0));
    (first, all)
}

#[test]
fn files_are_the_same_each_time_and_refer_only_to_what_they_define() {
    let design = sample::design();
    let first = files(&design).expect("files");
    let again = files(&design).expect("files");
    for (a, b) in first.iter().zip(&again) {
        assert!(a == b, "{} is not the same each time", a.0);
    }
    for (name, bytes) in first.iter().filter(|f| f.0.ends_with(".step")) {
        let text = String::from_utf8(bytes.clone()).expect("text");
        assert!(text.is_ascii());
        let mut known = BTreeSet::new();
        let mut asked = BTreeSet::new();
        for line in text.lines() {
            let (defined, refers) = references(line);
            if let Some(n) = defined {
                assert!(known.insert(n), "{name}: #{n} twice");
            }
            asked.extend(refers);
        }
        assert!(asked.is_subset(&known), "{name}: unresolved reference");
        assert!(text.len() < 300_000, "{name} has {} bytes", text.len());
    }
}

#[test]
fn a_drilled_hole_is_a_true_cylinder() {
    let (brep, _) = solids(&sample::plate_a()).expect("plate");
    let text = part(&Item {
        name: "plate-a",
        title: "A",
        colour: [0.5; 3],
        solid: &brep,
    });
    // Radii of the G 1/2 seat, M8 core and dowel holes; the sprue's drill is all taper.
    for radius in ["9.5", "3.4", "3."] {
        assert!(
            text.lines().any(
                |l| l.contains("=CYLINDRICAL_SURFACE(") && l.ends_with(&format!(",{radius});"))
            ),
            "no cylinder of radius {radius}"
        );
    }
}

/// Writes packages for the reference checks into the folder named by PLATEWRIGHT_OUT:
/// the sample design, and as many random plates as PLATEWRIGHT_RANDOM says (40).
/// A plate that is refused is named in `refused.txt`.
#[test]
#[ignore = "writes files for the reference checks"]
fn reference_packages() {
    let folder = std::env::var_os("PLATEWRIGHT_OUT").expect("PLATEWRIGHT_OUT");
    let folder = std::path::Path::new(&folder);
    let many = std::env::var("PLATEWRIGHT_RANDOM").map_or(40, |n| n.parse().expect("a number"));
    let mut designs = vec![sample::design()];
    for seed in 0..many {
        let mut design = sample::design();
        design.name = format!("random-{seed}");
        design.plates = vec![random::plate(seed)];
        designs.push(design);
    }
    let mut refused = String::new();
    for design in designs {
        match files(&design) {
            Ok(files) => {
                let to = folder.join(&design.name);
                std::fs::create_dir_all(&to).expect("folder");
                for (name, bytes) in files {
                    std::fs::write(to.join(name), bytes).expect("file");
                }
            }
            Err(e) => refused += &format!("{}: {e:?}\n", design.name),
        }
    }
    std::fs::write(folder.join("refused.txt"), refused).expect("file");
}
