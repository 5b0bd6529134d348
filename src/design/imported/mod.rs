//! A part from a mesh file: how it lies, where the plates part, what hooks, what is thin.
//!
//! Input: `[part.mesh]` with its body read. Output: [`Molded`], decisions, findings with numbers.
//! What is recorded of the file and of the way it lies: [`lying`]; what is wrong with it: [`faults`].

mod faults;
mod lying;

use super::planner::Planner;
use crate::base::shown;
use crate::base::{Given, Length, Span};
use crate::part::imported::{Lying, Mark, MeshBody, MeshWalls, cores, lie, walls};
use crate::part::{BodyOf, Form, Molded, PartBody, PartModel, Role};
use crate::sketch::Region;
use crate::spec::job::MeshSpec;
use crate::trace::mesh::TracedMesh;
use std::sync::{Arc, OnceLock};

/// Walls thinner than this, mm, are listed: no melt gets through by hand (common practice, no source).
pub(crate) const THIN: f64 = 0.4;

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
    lying::unit(p, &spec.value, &mesh);
    lying::mended(p, &spec.value, &mesh);
    let parting = p.job.mold.parting.clone();
    let laid = match known.get() {
        Some(laid) => laid,
        None => {
            let laid = lay(p, spec, &mesh, parting.as_ref())?;
            known.get_or_init(|| laid)
        }
    };
    lying::lies(p, &spec.value, &mesh, &laid.lying);
    faults::hooks_found(p, file, &laid.lying, &parting);
    faults::thickness(p, file, &laid.lying.body, &laid.walls);
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
        Err(why) => return refuse(p, file, &why.to_string()),
    };
    if let Some(g) = parting
        && !(0.0..=lying.tall).contains(&g.value.mm())
    {
        p.refuse(
            "parting-outside-part",
            Some(g.span),
            format!(
                "the parting plane lies {} above the part's lowest point, outside the part of {}",
                shown::size(g.value.mm()),
                shown::length(lying.tall, 3)
            ),
            "outside the part",
            format!("a height from 0 to {}", shown::length(lying.tall, 3)),
        );
        return None;
    }
    let cores = match cores(&lying.body, &lying.survey.hidden) {
        Ok(made) => made.map(|(core, cavity)| (Arc::new(core), Arc::new(cavity))),
        Err(why) => return refuse(p, file, &why.to_string()),
    };
    let [outline] = lying.body.outline() else {
        let count = lying.body.outline().len();
        return refuse(
            p,
            file,
            &format!(
                "seen along the pull it is {count} outlines that hang together by less than {}",
                shown::size(0.04)
            ),
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
    let one = |of: BodyOf, body: &Arc<MeshBody>| PartBody {
        of,
        role: Role::Add,
        form: Form::Mesh { body: body.clone() },
    };
    let part = one(BodyOf::Mesh, &body);
    let (low, high) = body.bounds();
    let (standing, hull) = match cores {
        Some((core, cavity)) => (vec![one(BodyOf::Hollow, core)], one(BodyOf::Filled, cavity)),
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
        model: PartModel::of(vec![part]),
        shadow: outline.clone(),
        a,
        b,
        core: standing,
        wall: walls.usual,
        ceiling: ceiling.max(0.0),
        draft_deg: walls.draft,
        steepest: None,
    }
}
