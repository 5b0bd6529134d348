//! Screws that jack the plates apart.
//!
//! Input: both plates, what is on the parting face. Output: two tapped holes in the B plate on a
//! diagonal, and a sunk face opposite each in the A plate, so that the screw's dent does not stand
//! up; hardware. How hard the part holds is told by the release computation.

use super::bought_item::{Hardware, Item, Use};
use super::feature::{Purpose, Shape};
use super::frame::Frame;
use super::hole::{Depth, Hole, HoleStep};
use super::obstacle::{Obstacle, is_clear};
use super::planner::{PRACTICE, Planner, span_of};
use super::plate::Plate;
use super::plate::push;
use super::side::Face;
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::{Code, Finding, Level};
use crate::data::fasteners::{self, ScrewThread};
use crate::sketch::Point;
use crate::spec::job::MoldSection;

/// Metal that stays around thread and sunk face, mm.
const WEB: f64 = 2.0;
/// The sunk face is this much wider than the screw, and this deep, mm (common practice, no
/// source).
const SUNK: (f64, f64) = (3.0, 1.0);
/// Torque of a hand key, N·m, and the coefficient of a dry thread: what one screw pushes with.
const HAND_KEY: (f64, f64) = (5.0, 0.2);

/// Diameter by the plate's longer side, mm: 6 to 100 mm, 8 to 200 mm, 10 above (common practice,
/// no source).
fn dia_for(side: f64) -> f64 {
    match side {
        s if s <= 100.0 => 6.0,
        s if s <= 200.0 => 8.0,
        _ => 10.0,
    }
}

/// Two places on a diagonal, as far out as there is room.
fn places(frame: &Frame, blocked: &[Obstacle], metric: &ScrewThread) -> Option<[Point; 2]> {
    let radius = 0.5 * (metric.major_dia_mm + SUNK.0);
    let inset = radius + WEB;
    let half = (0.5 * frame.width - inset, 0.5 * frame.height - inset);
    let free = |q: Point| is_clear(blocked, q, radius + WEB);
    let mut best: Option<([Point; 2], f64)> = None;
    let steps = |h: f64| (h / 2.0).floor().max(0.0) as i32;
    for i in 0..=steps(half.0) {
        for k in 0..=steps(half.1) {
            for flip in [1.0, -1.0] {
                let q = Point::new(
                    half.0 - 2.0 * f64::from(i),
                    flip * (half.1 - 2.0 * f64::from(k)),
                );
                let pair = [q, Point::new(-q.x, -q.y)];
                let far = q.coords.norm();
                if best.as_ref().is_none_or(|b| far > b.1 + 1e-9) && pair.iter().all(|q| free(*q)) {
                    best = Some((pair, far));
                }
            }
        }
    }
    best.map(|b| b.0)
}

/// Decides and cuts them. `holds`: a core stands in the part; `slots`: pry slots that found room.
pub(super) fn cut(
    p: &mut Planner,
    (a, b): (&mut Plate, &mut Plate),
    frame: &Frame,
    blocked: &[Obstacle],
    holds: bool,
    slots: usize,
) -> Option<Hardware> {
    let given = p.job.mold.jack_screws.clone();
    let wanted = p.yes_no(MoldSection::jack_screws, given.as_ref(), || {
        let (yes, why) = if holds {
            (true, "a core holds the part: screws part the plates straight where a lever would bind them")
        } else if slots < 2 {
            (true, "pry slots found no room at two opposite edges")
        } else {
            (false, "a flat bar in the pry slots opens a mold without a core")
        };
        (
            yes,
            Rule::new(why, PRACTICE).changes_with("mold.jack_screws, mold.pry_slots"),
        )
    });
    if !wanted {
        return None;
    }
    let thread = p.screw(dia_for(frame.width.max(frame.height)));
    let metric = fasteners::screw_thread(thread)?;
    let Some(places) = places(frame, blocked, metric) else {
        p.findings.push(
            Finding::new(
                Level::Note,
                Code::NoRoomForJacks,
                "mold.jack_screws",
                format!("two jack screws {thread} found no room on a diagonal of the plates"),
                format!(
                    "their sunk faces keep {} from everything on the parting face",
                    shown::size(WEB)
                ),
                "a larger plate (mold.width, mold.height), fewer screws or vents",
            )
            .because_of(span_of(given.as_ref())),
        );
        return None;
    };
    let push_each = HAND_KEY.0 * 1e3 / (HAND_KEY.1 * metric.major_dia_mm);
    p.decisions.record(
        "mold.jack_force",
        shown::quantity(shown::Kind::Force, 2.0 * push_each, 0),
        Rule::new(
            format!(
                "two screws by a hand key of {}: T / (0.2 d) each",
                shown::quantity(shown::Kind::Torque, 5.0, 4)
            ),
            "torque and preload of a dry thread, K 0.2 (from memory)",
        )
        .with("thread", thread)
        .with("each", shown::quantity(shown::Kind::Force, push_each, 0))
        .changes_with("the plate's size"),
    );
    let wide = metric.major_dia_mm + SUNK.0;
    for at in places {
        push(
            b,
            Purpose::Jack,
            Face::Low,
            Shape::Hole(Hole {
                at,
                steps: HoleStep::tapped(metric, Depth::Through, Depth::Through).to_vec(),
            }),
        );
        push(
            a,
            Purpose::Jack,
            Face::Low,
            Shape::Hole(Hole {
                at,
                steps: vec![HoleStep::Counterbore {
                    dia: wide,
                    depth: SUNK.1,
                }],
            }),
        );
    }
    let length = super::hardware::clamp_screw_at_least(thread, b.thickness() + 8.0);
    Some(Hardware {
        count: 2,
        item: Item::CapScrew {
            thread: thread.to_owned(),
            length,
            class: fasteners::usual_class(thread).into(),
        },
        purpose: Use::Jack,
        keys: "mold.jack_screws",
        bodies: Vec::new(),
    })
}
