//! What is recorded of a mesh file: its unit, what was mended, how the body lies.
//!
//! Input: the file as read, and the body as it lies. Output: decisions, and notes on the file.

use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::units::decimals;
use crate::base::{Code, Finding, Level};
use crate::design::planner::Planner;
use crate::part::imported::{LAID, Lying};
use crate::sketch::Region;
use crate::spec::job::MoldSection;
use crate::spec::job::{MeshSpec, Up};
use crate::spec::mesh::MeshKeys;
use crate::trace::mesh::{TracedMesh, UnitFrom};

pub(super) fn unit(p: &mut Planner, spec: &MeshSpec, mesh: &TracedMesh) {
    let size = extent(mesh);
    let words = shown::size(mesh.unit);
    let from = match mesh.unit_from {
        UnitFrom::Given => "part.mesh.unit".to_owned(),
        UnitFrom::File => "the file says so".to_owned(),
        UnitFrom::Guess => format!(
            "a guess: millimetres, unless the part would be smaller than {}",
            shown::size(2.0)
        ),
    };
    p.decisions.record(
        "part.mesh.unit",
        words,
        Rule::new("millimetres of one unit of the file", from)
            .with(
                "size",
                format!(
                    "{} × {} × {}",
                    shown::bare_length(size[0], 3),
                    shown::bare_length(size[1], 3),
                    shown::length(size[2], 3)
                ),
            )
            .with("triangles", mesh.triangles.len())
            .changes_with("part.mesh.unit"),
    );
    if mesh.unit_from == UnitFrom::Guess {
        p.findings.push(
            Finding::new(
                Level::Warn,
                Code::MeshUnitGuessed,
                "part.mesh.unit",
                format!(
                    "{} does not say its unit: with {} to the unit the part is {} × {} × {}",
                    spec.file.value.0,
                    shown::size(mesh.unit),
                    shown::bare_length(size[0], 2),
                    shown::bare_length(size[1], 2),
                    shown::length(size[2], 2)
                ),
                "STL and OBJ files hold numbers without a unit",
                "if that is its size, write part.mesh.unit = \"mm\" (or \"cm\", \"m\", \"in\")",
            )
            .because_of(Some(spec.file.span)),
        );
    }
}

fn extent(mesh: &TracedMesh) -> [f64; 3] {
    let first = mesh.points.first().copied().unwrap_or_default();
    let (low, high) = mesh
        .points
        .iter()
        .fold((first, first), |(a, b), p| (a.inf(p), b.sup(p)));
    (high - low).into()
}

pub(super) fn mended(p: &mut Planner, spec: &MeshSpec, mesh: &TracedMesh) {
    let m = &mesh.mended;
    let mut done: Vec<String> = [
        (m.degenerate, "triangles without area dropped"),
        (m.doubled, "doubled triangles dropped"),
        (m.turned, "triangles turned round"),
        (m.joined, "corners on cracks joined"),
        (m.split, "edges split at a neighbour's corner"),
        (m.filled, "holes of three edges closed"),
        (m.crumbs, "loose crumbs dropped"),
    ]
    .iter()
    .filter(|(n, _)| *n > 0)
    .map(|(n, what)| format!("{n} {what}"))
    .collect();
    if m.inside_out {
        done.push("the body was inside out and is turned".into());
    }
    done.extend(mesh.notes.iter().cloned());
    if done.is_empty() {
        return;
    }
    p.findings.push(
        Finding::new(
            Level::Note,
            Code::MeshMended,
            "part.mesh.file",
            format!("{}: {}", spec.file.value.0, done.join("; ")),
            "small faults of a mesh are mended; what is molded is the mended body",
            "look at the part in the 3-D view; export again where it is not what was meant",
        )
        .because_of(Some(spec.file.span)),
    );
}

/// Records direction and parting plane.
pub(super) fn lies(p: &mut Planner, spec: &MeshSpec, mesh: &TracedMesh, laid: &Lying) {
    let mut rule = Rule::new(
        "of the axes, the body's principal axes, its large flat faces and those of its convex hull, both ways: least area that hooks or lies on the wrong side of the best parting plane, then the shallowest, then on a flat face, then hollows away from the nozzle",
        "geometry: lines cast along each direction",
    )
    .changes_with("part.mesh.up");
    for w in &laid.tried {
        rule = rule.with(
            &w.name,
            format!(
                "{} hook, {} wrong side, {} tall",
                shown::quantity(shown::Kind::Area, w.hidden, 1),
                shown::quantity(shown::Kind::Area, w.wrong, 1),
                shown::length(w.tall, 1)
            ),
        );
    }
    let word = |u: &Up| format!("{u:?}");
    match &spec.up {
        Some(up) => {
            p.decisions
                .decide(MeshKeys::up.at("part.mesh"), Some(up), word, || {
                    (up.value, rule)
                });
        }
        None => p
            .decisions
            .record("part.mesh.up", laid.way.name.clone(), rule),
    }
    lies_flat(p, spec, laid);
    stands_turned(p, spec, laid);
    let given = p.job.mold.parting.clone();
    p.length(MoldSection::parting, given.as_ref(), || {
        (
            laid.parting.z,
            Rule::new(
                "where neither plate has to reach through the plane beside the part; of several heights the upper end, for a deep hollow its rim",
                "geometry: lines cast along the pull",
            )
            .with(
                "range",
                format!(
                    "{} to {}",
                    shown::bare_length(laid.parting.range.0, 3),
                    shown::length(laid.parting.range.1, 3)
                ),
            )
            .with("height of the part", shown::length(laid.tall, 3))
            .changes_with("mold.parting, part.mesh.up"),
        )
    });
    let volume = laid.body.volume();
    let holes: usize = laid.body.outline().iter().map(|r| r.holes.len()).sum();
    p.decisions.record(
        "part.mesh.file",
        shown::quantity(shown::Kind::SmallVolume, volume, 1),
        Rule::new("volume of the closed body", spec.file.value.0.clone())
            .with("triangles", mesh.triangles.len())
            .with(
                "covers in plan",
                shown::quantity(
                    shown::Kind::Area,
                    laid.body.outline().iter().map(Region::area).sum(),
                    1,
                ),
            )
            .with("through holes", holes)
            .with(
                "through holes are closed by",
                "metal of both plates that meets at the parting plane",
            )
            .changes_with("part.mesh.file"),
    );
}

/// Says how a flat face that is not quite square to the direction meant was taken.
fn lies_flat(p: &mut Planner, spec: &MeshSpec, laid: &Lying) {
    let Some(tilt) = laid.tilt else {
        return;
    };
    // Hundredths of a degree are seen on a large part.
    let degrees = decimals(tilt.degrees, if tilt.degrees < 0.1 { 3 } else { 2 });
    let face = format!(
        "flat face of {} ({} % of its plan)",
        shown::quantity(shown::Kind::Area, tilt.area, 0),
        decimals(100.0 * tilt.share, 0)
    );
    let rises = format!(
        "{} over the part",
        shown::length(tilt.rise, if tilt.rise < 0.1 { 3 } else { 2 })
    );
    let finding = if tilt.laid {
        Finding::new(
            Level::Note,
            Code::MeshLaidFlat,
            "part.mesh.up",
            format!("tilted by {degrees}° in the file, the part is laid on its {face}: {rises}"),
            format!(
                "a flat face of at least a twentieth of the plan that leans by no more than {LAID}° was meant to be square to the pull; the plates then meet it all over"
            ),
            "part.mesh.up keeps the file's own direction",
        )
    } else {
        Finding::new(
            Level::Warn,
            Code::MeshTilted,
            "part.mesh.up",
            format!(
                "the part's {face} leans by {degrees}° against the given part.mesh.up ({}): {rises}",
                laid.way.name
            ),
            "the given direction is kept; a leaning face has a step at the parting plane, and sprue or gate may miss it",
            "leave part.mesh.up out and the part is laid on that face, or turn the model",
        )
    };
    p.findings
        .push(finding.because_of(Some(spec.up.as_ref().map_or(spec.file.span, |u| u.span))));
}

/// Says that a part was turned to open, and what that costs.
fn stands_turned(p: &mut Planner, spec: &MeshSpec, laid: &Lying) {
    let Some(as_drawn) = laid.tried.first() else {
        return;
    };
    let degrees = laid.way.up.angle(&nalgebra::Vector3::z()).to_degrees();
    if degrees <= LAID {
        return;
    }
    let hooks = as_drawn.hidden + as_drawn.wrong;
    let reason = if hooks > laid.way.hidden + laid.way.wrong + 0.05 {
        format!(
            "as it lies in the file {} would hook or lie on the wrong side of the parting plane, this way {}",
            shown::quantity(shown::Kind::Area, hooks, 1),
            shown::quantity(shown::Kind::Area, laid.way.hidden + laid.way.wrong, 1)
        )
    } else if as_drawn.tall > laid.tall + 1e-3 {
        "it opens either way, and this way the cavity is shallower".to_owned()
    } else {
        "it opens either way, and this way its hollows or flat face look away from the nozzle"
            .to_owned()
    };
    let cost = laid.tall - as_drawn.tall;
    let depth = if cost > 0.005 {
        format!("{} more of plate depth", shown::length(cost, 2))
    } else if cost < -0.005 {
        format!("{} less of plate depth", shown::length(-cost, 2))
    } else {
        "no more plate depth".to_owned()
    };
    p.findings.push(
        Finding::new(
            Level::Warn,
            Code::MeshTurned,
            "part.mesh.up",
            format!(
                "the part does not lie as in its file: {} looks at the nozzle, {}° from the file's +z; it is {} deep in the plates instead of {}: {depth}",
                laid.way.name,
                decimals(degrees, if degrees < 10.0 { 2 } else { 0 }),
                shown::length(laid.tall, 2),
                shown::length(as_drawn.tall, 2)
            ),
            reason,
            "look at the part in the 3-D view; part.mesh.up = \"+z\" keeps it as in the file",
        )
        .because_of(Some(spec.file.span)),
    );
}
