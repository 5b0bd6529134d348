//! Pry slots and plate marks.

use super::feature::{Purpose, Shape};
use super::frame::Frame;
use super::obstacle::{Obstacle, is_clear, near};
use super::planner::{PRACTICE, Planner};
use super::plate::Plate;
use super::plate::push;
use super::side::Face;
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::{Code, Finding, Level};
use crate::sketch::{Point, Region, shapes, text};
use crate::spec::job::MoldSection;

/// Width along the edge, depth into the plate, and depth from the face of a pry slot, mm.
const SLOT: (f64, f64, f64) = (20.0, 8.0, 3.0);
/// Height of the engraved letters, mm, and their depth.
const MARK: (f64, f64) = (8.0, 0.3);

/// Two slots at opposite edges of the B plate's parting face, where nothing else is.
pub(super) fn pry_slots(p: &mut Planner, b: &mut Plate, frame: &Frame, blocked: &[Obstacle]) {
    for region in notches(p, frame, blocked, 2.0) {
        push(
            b,
            Purpose::PrySlot,
            Face::High,
            Shape::Pocket {
                region,
                depth: SLOT.2,
                draft_deg: 0.0,
                cutter: 8.0,
            },
        );
    }
}

/// Where a flat bar finds room at two opposite edges: areas over the plates' edge that keep
/// `gap` mm from everything in `blocked`. None when the file asks for none.
pub(super) fn notches(
    p: &mut Planner,
    frame: &Frame,
    blocked: &[Obstacle],
    gap: f64,
) -> Vec<Region> {
    let wanted = p.yes_no(MoldSection::pry_slots, p.job.mold.pry_slots.as_ref(), || {
        (
            true,
            Rule::new(
                "two slots for a flat bar at opposite edges: the halves open without marking the parting face",
                PRACTICE,
            )
            .changes_with("mold.pry_slots"),
        )
    });
    if !wanted {
        return Vec::new();
    }
    let (long, deep, _) = SLOT;
    let half = (frame.width / 2.0, frame.height / 2.0);
    // Sample the slot's area; all of it must be clear.
    let free = |centre: Point, along_x: bool| {
        let around = nalgebra::Vector2::new(long, long);
        let near = near(blocked, centre - around, centre + around, gap);
        (-4..=4).all(|i| {
            let t = f64::from(i) / 4.0 * long / 2.0;
            [0.0, 0.5, 1.0].iter().all(|s| {
                let q = if along_x {
                    Point::new(centre.x + t, centre.y - s * deep * centre.y.signum())
                } else {
                    Point::new(centre.x - s * deep * centre.x.signum(), centre.y + t)
                };
                is_clear(near.iter().copied(), q, gap)
            })
        })
    };
    let find = |sign: f64, along_x: bool| {
        let reach = (if along_x { half.0 } else { half.1 }) - long / 2.0 - 2.0;
        let steps = reach.max(0.0) as i32;
        // From the corner inwards: a lever works best far from the middle.
        (0..=2 * steps)
            .map(|i| {
                let t = sign * (reach - f64::from(i));
                if along_x {
                    Point::new(t, sign * half.1)
                } else {
                    Point::new(sign * half.0, t)
                }
            })
            .find(|q| free(*q, along_x))
    };
    let mut made = Vec::new();
    for sign in [-1.0, 1.0] {
        let (at, along_x) = match (find(sign, true), find(sign, false)) {
            (Some(q), _) => (q, true),
            (None, Some(q)) => (q, false),
            (None, None) => continue,
        };
        // The slot's rectangle is centred on the plate's edge: half of it is air.
        let (w, h) = if along_x {
            (long, 2.0 * deep)
        } else {
            (2.0 * deep, long)
        };
        if let Ok(rect) = shapes::rectangle(w, h, [4.0; 4]) {
            made.push(Region::simple(rect.translated(at.coords)));
        }
    }
    if made.len() < 2 {
        p.findings.push(Finding::new(
            Level::Note,
            Code::FewerPrySlots,
            "mold.pry_slots",
            format!("{} of 2 pry slots found room", made.len()),
            format!(
                "a slot of 20 × {} keeps {} from everything else there",
                shown::size(8.0),
                shown::size(gap)
            ),
            "a larger plate, or fewer vents",
        ));
    }
    made
}

/// Plate letters on the outer faces, when asked for.
pub(super) fn marks(
    p: &mut Planner,
    plates: &mut [&mut Plate],
    frame: &Frame,
    blocked: &[Obstacle],
) {
    let wanted = p.yes_no(MoldSection::marks, p.job.mold.marks.as_ref(), || {
        (
            false,
            Rule::new("letters are punched by hand after machining", PRACTICE)
                .changes_with("mold.marks = true engraves them"),
        )
    });
    if !wanted {
        return;
    }
    for plate in plates.iter_mut() {
        let face = match plate.reference {
            Face::Low => Face::High,
            Face::High => Face::Low,
        };
        let letter = plate.side.letter();
        let Ok(line) = text::line(letter, MARK.0) else {
            continue;
        };
        // Anywhere along the plate's lower border that is free of screw and dowel holes.
        let holes: Vec<Obstacle> = blocked
            .iter()
            .filter(|o| matches!(o, Obstacle::Disk(..)))
            .cloned()
            .collect();
        let y = -frame.height / 2.0 + MARK.0;
        let room = MARK.0 * 0.8;
        let steps = (frame.width / 2.0 - MARK.0) as i32;
        let Some(x) = (0..=steps)
            .flat_map(|i| [f64::from(i), -f64::from(i)])
            .find(|x| is_clear(&holes, Point::new(*x, y), room))
        else {
            continue;
        };
        for glyph in line.glyphs.into_iter().flat_map(|g| g.regions) {
            // Seen from below a letter has to be drawn mirrored.
            let glyph = if face == Face::Low {
                glyph.mirrored_x(0.0)
            } else {
                glyph
            };
            push(
                plate,
                Purpose::Mark,
                face,
                Shape::Pocket {
                    region: glyph.translated(nalgebra::Vector2::new(x, y)),
                    depth: MARK.1,
                    draft_deg: 0.0,
                    cutter: 0.8,
                },
            );
        }
    }
}
