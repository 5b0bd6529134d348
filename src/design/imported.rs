//! A part from a mesh file: how it lies, where the plates part, what hooks, what is thin.
//!
//! Input: `[part.mesh]` with its body read. Output: [`Molded`], decisions, findings with numbers.

use super::planner::{PRACTICE, Planner, span_of};
use crate::base::decision::Rule;
use crate::base::units::{decimals, number};
use crate::base::{Finding, Given, Length, Level, Span};
use crate::part::imported::{
    Lying, Mark, MeshBody, MeshWalls, Spot, cores, hooks, lie, spots, walls,
};
use crate::part::{Form, Molded, PartBody, PartModel, Role};
use crate::sketch::Region;
use crate::spec::job::{MeshSpec, Up};
use crate::trace::mesh::{TracedMesh, UnitFrom};
use std::sync::{Arc, OnceLock};

/// Walls thinner than this, mm, are listed: no melt gets through by hand (common practice, no source).
pub(crate) const THIN: f64 = 0.4;
/// Hidden area below this, mm², is the mesh's own roundness.
const HIDDEN: f64 = 0.05;

/// What is computed of a mesh before its part is designed: the same for every design of a job.
#[derive(Debug, Clone)]
pub struct Laid {
    lying: Lying,
    /// The core and the cavity in A that goes with it.
    cores: Option<(Arc<MeshBody>, Arc<MeshBody>)>,
    outline: Region,
    walls: MeshWalls,
}

/// Builds the part; a mesh that has been laid in `known` is not laid again. Faults are left in
/// `p.errors`.
pub(super) fn part(
    p: &mut Planner,
    spec: &Given<MeshSpec>,
    known: &OnceLock<Laid>,
) -> Option<Molded> {
    let mesh = spec.value.traced.clone()?;
    let file = spec.value.file.span;
    unit(p, &spec.value, &mesh);
    mended(p, &spec.value, &mesh);
    let parting = p.job.mold.parting.clone();
    let laid = match known.get() {
        Some(laid) => laid,
        None => {
            let laid = lay(p, spec, &mesh, parting.as_ref())?;
            known.get_or_init(|| laid)
        }
    };
    lies(p, &spec.value, &mesh, &laid.lying);
    hooks_found(p, file, &laid.lying, &parting);
    thickness(p, file, &laid.lying.body, &laid.walls);
    Some(molded(laid, p))
}

/// Lays the body and measures it.
fn lay(
    p: &mut Planner,
    spec: &Given<MeshSpec>,
    mesh: &TracedMesh,
    parting: Option<&Given<Length>>,
) -> Option<Laid> {
    let file = spec.value.file.span;
    let lying = lie(
        mesh,
        spec.value.up.as_ref().map(|u| u.value.direction()),
        spec.value.angle.as_ref().map_or(0.0, |a| a.value.degrees()),
        parting.map(|g| g.value.mm()),
    );
    let lying = match lying {
        Ok(lying) => lying,
        Err(why) => return refuse(p, file, &why),
    };
    if let Some(g) = parting
        && !(0.0..=lying.tall).contains(&g.value.mm())
    {
        p.refuse(
            "parting-outside-part",
            Some(g.span),
            format!(
                "the parting plane lies {} mm above the part's lowest point, outside the part of {} mm",
                number(g.value.mm()),
                decimals(lying.tall, 3)
            ),
            "outside the part",
            format!("a height from 0 to {} mm", decimals(lying.tall, 3)),
        );
        return None;
    }
    let cores = match cores(&lying.body, &lying.survey.hidden) {
        Ok(made) => made.map(|(core, cavity)| (Arc::new(core), Arc::new(cavity))),
        Err(why) => return refuse(p, file, &why),
    };
    let [outline] = lying.body.outline() else {
        let count = lying.body.outline().len();
        return refuse(
            p,
            file,
            &format!("it has {count} outlines in plan, not one"),
        );
    };
    Some(Laid {
        outline: outline.clone(),
        walls: walls(&lying.body, THIN),
        cores,
        lying,
    })
}

fn refuse(p: &mut Planner, file: Span, why: &str) -> Option<Laid> {
    p.refuse(
        "mesh",
        Some(file),
        format!("this mesh cannot be molded between two plates: {why}"),
        "cannot be molded",
        "another direction (part.mesh.up), or a simpler body",
    );
    None
}

fn molded(laid: &Laid, p: &Planner) -> Molded {
    let Laid {
        lying,
        cores,
        outline,
        walls,
    } = laid;
    let mut marks: Vec<(u32, Mark)> = Vec::new();
    marks.extend(lying.survey.hidden.iter().map(|h| (h.0, Mark::Undercut)));
    marks.extend(walls.thin.iter().map(|t| (t.0, Mark::Thin)));
    marks.sort_unstable();
    marks.dedup_by_key(|m| m.0);
    let body = Arc::new(lying.body.clone().marked(marks).standing_steep(walls.steep));
    let one = |label: &str, body: &Arc<MeshBody>| PartBody {
        label: label.to_owned(),
        role: Role::Add,
        form: Form::Mesh { body: body.clone() },
        key: "part.mesh".to_owned(),
    };
    let part = one("imported body", &body);
    let (low, high) = body.bounds();
    let (standing, hull) = match cores {
        Some((core, cavity)) => (
            vec![one("hollow", core)],
            one("imported body with its hollows", cavity),
        ),
        None => (Vec::new(), part.clone()),
    };
    let a = if high.z > 1e-6 {
        vec![hull]
    } else {
        Vec::new()
    };
    let b = if low.z < -1e-6 {
        vec![part.clone()]
    } else {
        Vec::new()
    };
    let at = p
        .job
        .feed
        .at
        .as_ref()
        .map_or(outline.outer.bounds().centre(), |g| g.value);
    let ceiling = body.heights(at.x, at.y).last().map_or(0.0, |i| i.high);
    Molded {
        model: PartModel { bodies: vec![part] },
        shadow: outline.clone(),
        a,
        b,
        core: standing,
        wall: walls.usual,
        ceiling: ceiling.max(0.0),
        draft_deg: walls.draft,
    }
}

fn unit(p: &mut Planner, spec: &MeshSpec, mesh: &TracedMesh) {
    let size = extent(mesh);
    let words = format!("{} mm", number(mesh.unit));
    let from = match mesh.unit_from {
        UnitFrom::Given => "part.mesh.unit",
        UnitFrom::File => "the file says so",
        UnitFrom::Guess => "a guess: millimetres, unless the part would be smaller than 2 mm",
    };
    p.decisions.record(
        "part.mesh.unit",
        words,
        Rule::new("millimetres of one unit of the file", from)
            .with(
                "size",
                format!(
                    "{} × {} × {} mm",
                    decimals(size[0], 3),
                    decimals(size[1], 3),
                    decimals(size[2], 3)
                ),
            )
            .with("triangles", mesh.triangles.len())
            .changes_with("part.mesh.unit"),
    );
    if mesh.unit_from == UnitFrom::Guess {
        p.findings.push(
            Finding::new(
                Level::Warn,
                "mesh-unit-guessed",
                "part.mesh.unit",
                format!(
                    "{} does not say its unit: with {} mm to the unit the part is {} × {} × {} mm",
                    spec.file.value.0,
                    number(mesh.unit),
                    decimals(size[0], 2),
                    decimals(size[1], 2),
                    decimals(size[2], 2)
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

fn mended(p: &mut Planner, spec: &MeshSpec, mesh: &TracedMesh) {
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
            "mesh-mended",
            "part.mesh.file",
            format!("{}: {}", spec.file.value.0, done.join("; ")),
            "small faults of a mesh are mended; what is molded is the mended body",
            "look at the part in the 3-D view; export again where it is not what was meant",
        )
        .because_of(Some(spec.file.span)),
    );
}

/// Records direction and parting plane.
fn lies(p: &mut Planner, spec: &MeshSpec, mesh: &TracedMesh, laid: &Lying) {
    let mut rule = Rule::new(
        "of the axes and the body's principal axes, both ways: least area that hooks or lies on the wrong side of the best parting plane, then the shallowest, then hollows away from the nozzle",
        "geometry: lines cast along each direction",
    )
    .changes_with("part.mesh.up");
    for w in &laid.tried {
        rule = rule.with(
            &w.name,
            format!(
                "{} mm² hook, {} mm² wrong side, {} mm tall",
                decimals(w.hidden, 1),
                decimals(w.wrong, 1),
                decimals(w.tall, 1)
            ),
        );
    }
    let word = |u: &Up| format!("{u:?}");
    match &spec.up {
        Some(up) => {
            p.decisions
                .decide("part.mesh.up", Some(up), word, || (up.value, rule));
        }
        None => p
            .decisions
            .record("part.mesh.up", laid.way.name.clone(), rule),
    }
    let given = p.job.mold.parting.clone();
    p.length("mold.parting", given.as_ref(), || {
        (
            laid.parting.z,
            Rule::new(
                "where neither plate has to reach through the plane beside the part; of several heights the upper end, for a deep hollow its rim",
                "geometry: lines cast along the pull",
            )
            .with(
                "range",
                format!(
                    "{} to {} mm",
                    decimals(laid.parting.range.0, 3),
                    decimals(laid.parting.range.1, 3)
                ),
            )
            .with("height of the part", format!("{} mm", decimals(laid.tall, 3)))
            .changes_with("mold.parting, part.mesh.up"),
        )
    });
    let volume = laid.body.volume();
    let holes: usize = laid.body.outline().iter().map(|r| r.holes.len()).sum();
    p.decisions.record(
        "part.mesh.file",
        format!("{} mm³", decimals(volume, 1)),
        Rule::new("volume of the closed body", spec.file.value.0.clone())
            .with("triangles", mesh.triangles.len())
            .with(
                "covers in plan",
                format!(
                    "{} mm²",
                    decimals(laid.body.outline().iter().map(Region::area).sum(), 1)
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

/// Undercuts, and a plane at which a plate would have to reach through it.
fn hooks_found(p: &mut Planner, file: Span, laid: &Lying, parting: &Option<Given<Length>>) {
    let hidden = laid.survey.hidden_area();
    if hidden > HIDDEN {
        let places = spots(&laid.body, &laid.survey.hidden);
        let shown: Vec<String> = places.iter().take(4).map(spot_words).collect();
        let more = if places.len() > 4 { " …" } else { "" };
        p.findings.push(
            Finding::new(
                Level::Stop,
                "undercut",
                "part.mesh",
                format!(
                    "{} mm² in {} place(s) hook behind other parts of the body when the mold opens: {}{more} (x, y from the part's middle, z from the parting plane; way up {})",
                    decimals(hidden, 1),
                    places.len(),
                    shown.join("; "),
                    laid.way.name
                ),
                "a plate pulled along one line frees only what that line does not pass twice; there are no slides in a two-plate mold",
                "fill or open these places in the model, split the part, or another direction (part.mesh.up)",
            )
            .because_of(Some(file))
            .with_picture(hooks(&laid.body, &laid.survey)),
        );
    }
    let cost = &laid.parting.cost;
    let most = 2e-3 * laid.survey.shadow() + 4.0 * laid.survey.pitch.powi(2);
    let range = format!(
        "{} to {} mm",
        decimals(laid.parting.range.0, 2),
        decimals(laid.parting.range.1, 2)
    );
    for (area, code, what) in [
        (
            cost.from_a,
            "wrong-side-a",
            "have their upper side below the parting plane: metal of the A plate would have to reach through it",
        ),
        (
            cost.beside,
            "wrong-side-b",
            "have their lower side above the parting plane at the rim: metal of the B plate would have to stand beside the part",
        ),
    ] {
        if area > most {
            p.findings.push(
                Finding::new(
                    Level::Stop,
                    code,
                    "mold.parting",
                    format!("{} mm² of the part in plan {what}", decimals(area, 1)),
                    "the plates part in a plane: everything beside the part lies on it",
                    format!("mold.parting in {range} has the least of it; else another direction (part.mesh.up), or a part that is widest in one plane"),
                )
                .because_of(span_of(parting.as_ref()).or(Some(file))),
            );
        }
    }
}

fn spot_words(s: &Spot) -> String {
    format!(
        "{} mm² about ({}, {}, {})",
        decimals(s.area, 1),
        decimals(s.at.x, 1),
        decimals(s.at.y, 1),
        decimals(s.at.z, 1)
    )
}

fn thickness(p: &mut Planner, file: Span, body: &MeshBody, walls: &MeshWalls) {
    p.decisions.record(
        "part.wall",
        format!("{} mm", decimals(walls.usual, 2)),
        Rule::new(
            "median over the surface of the way straight inward to the other side",
            "geometry: rays",
        )
        .with(
            "1 % is thinner than",
            format!("{} mm", decimals(walls.thinnest, 2)),
        )
        .with(
            "99 % are thinner than",
            format!("{} mm", decimals(walls.thickest, 2)),
        )
        .changes_with("part.mesh.file"),
    );
    let thin: f64 = walls.thin.iter().map(|t| t.1).sum();
    if thin > 0.5 {
        let largest = spots(body, &walls.thin);
        let shown: Vec<String> = largest.iter().take(3).map(spot_words).collect();
        p.findings.push(
            Finding::new(
                Level::Warn,
                "wall-thin",
                "part.mesh",
                format!(
                    "{} mm² of the surface have a wall thinner than {} mm: {}",
                    decimals(thin, 1),
                    number(THIN),
                    shown.join("; ")
                ),
                format!("hand pressure pushes no melt through so thin a gap ({PRACTICE})"),
                "thicken the model there",
            )
            .because_of(Some(file)),
        );
    }
    if walls.thickest > 4.0 * walls.usual.max(0.1) {
        p.findings.push(
            Finding::new(
                Level::Note,
                "wall-uneven",
                "part.mesh",
                format!(
                    "the wall is usually {} mm thick and up to {} mm",
                    decimals(walls.usual, 1),
                    decimals(walls.thickest, 1)
                ),
                format!("thick places cool last, sink in and warp the rest; up to 3 to 1 is usual ({PRACTICE})"),
                "hollow out the thick place in the model",
            )
            .because_of(Some(file)),
        );
    }
}
