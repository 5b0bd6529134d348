//! The plates' size in the plane, and where screws and dowels stand.

use super::bolts::Bolts;
use super::dowels::{self, DowelFit};
use super::obstacle::{Obstacle, is_clear};
use super::planner::{PRACTICE, Planner, span_of, up_to};
use crate::base::System;
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::{Code, Finding, Level};
use crate::data::fits;
use crate::sketch::Point;
use crate::spec::job::{BoltStyle, BoltsSection, DowelsSection, MoldSection};

/// Size of the plates and places of screws and dowels, mold coordinates.
pub(super) struct Frame {
    pub width: f64,
    pub height: f64,
    pub corner_radius: f64,
    pub bolts: Vec<Point>,
    pub dowels: Vec<Point>,
    pub dowel_dia: f64,
    pub dowel_fit: DowelFit,
}

/// Metal between a cavity and a hole at least, mm (common practice, no source).
pub(super) const WEB: f64 = 5.0;

/// Decides plate size, screw and dowel places.
///
/// `obstacles`: cavities and runners. `reach`: half extents (x, y) they fill, mm.
/// `depth`: deepest cavity, mm.
pub(super) fn decide(
    p: &mut Planner,
    bolts: &Bolts,
    obstacles: &[Obstacle],
    reach: (f64, f64),
    depth: f64,
    nozzle_radius: f64,
) -> Frame {
    let grid = p.grid();
    let mold = p.job.mold.clone();
    let spec = p.job.dowels.clone();
    let wall = p.length(MoldSection::wall, mold.wall.as_ref(), || {
        (
            up_to((1.5 * depth).clamp(18.0, 30.0), grid(1.0)),
            Rule::new(
                format!("metal around the cavities: 1.5 × cavity depth, {} at least for vents and dowels, {} at most: the pressure is {}", shown::size(18.0), shown::size(30.0), shown::few_units_of_pressure()),
                PRACTICE,
            )
            .with("cavity depth", shown::size(depth))
            .changes_with("mold.wall"),
        )
    });
    let hole_radius = match bolts.style {
        BoltStyle::Tapped => bolts.counterbore.0 / 2.0,
        BoltStyle::Through => bolts.clearance / 2.0,
    };
    let edge = p.length(BoltsSection::edge, p.job.bolts.edge.as_ref(), || {
        (
            up_to((1.5 * bolts.dia).max(hole_radius + 4.0), grid(0.5)),
            Rule::new(
                format!(
                    "1.5 × screw diameter, and {} of metal outside the counterbore",
                    shown::size(4.0)
                ),
                PRACTICE,
            )
            .with("screw", &bolts.thread)
            .changes_with("bolts.edge, bolts.size"),
        )
    });
    let dowel_dia = p.length(DowelsSection::diameter, spec.diameter.as_ref(), || {
        let sold: Vec<f64> = match p.job.sold() {
            System::Metric => vec![4.0, 5.0, 6.0, 8.0, 10.0, 12.0],
            System::Inch => fits::pins_sold(System::Inch),
        };
        let thick = sold
            .iter()
            .find(|d| **d >= bolts.dia - 1e-9)
            .or(sold.last());
        let dia = thick.copied().unwrap_or(bolts.dia);
        (
            dia,
            Rule::new("dowels as thick as the screws", PRACTICE)
                .with("screw", &bolts.thread)
                .changes_with("dowels.diameter; 0 leaves them out"),
        )
    });
    let dowel_fit = if dowel_dia > 0.0 {
        dowels::decide(p, dowel_dia)
    } else {
        dowels::PRESSED
    };
    let offset = p.length(DowelsSection::offset, spec.offset.as_ref(), || {
        (
            dowel_dia.max(6.0),
            Rule::new(
                "one dowel moved by its own diameter off the mirrored place: the halves go together one way only",
                PRACTICE,
            )
            .changes_with("dowels.offset"),
        )
    });
    // Grow the plate until screws and dowels find room.
    let half = (
        (reach.0 + wall).max(nozzle_radius + 4.0 * bolts.dia),
        (reach.1 + wall).max(nozzle_radius + 2.0 * bolts.dia),
    );
    let fixed = (
        mold.width.as_ref().map(|w| w.value.mm() / 2.0),
        mold.height.as_ref().map(|h| h.value.mm() / 2.0),
    );
    let seek = |fixed: (Option<f64>, Option<f64>)| {
        let mut half = (fixed.0.unwrap_or(half.0), fixed.1.unwrap_or(half.1));
        for _ in 0..60 {
            let size = size_of(half, fixed, grid(5.0));
            let places = screw_places(bolts.count, size, edge);
            // What melt fills stays inside the plate.
            let inside =
                0.5 * size.0 >= reach.0 + WEB - 1e-9 && 0.5 * size.1 >= reach.1 + WEB - 1e-9;
            let room = places
                .iter()
                .all(|b| is_clear(obstacles, *b, hole_radius + WEB));
            if inside && room {
                let dowels = dowel_places(&places, obstacles, size, dowel_dia, offset, hole_radius);
                if dowel_dia == 0.0 || dowels.is_some() {
                    return Some((size, places, dowels.unwrap_or_default()));
                }
            }
            if fixed.0.is_some() && fixed.1.is_some() {
                return None;
            }
            half = (half.0 + 2.5, half.1 + 2.5);
        }
        None
    };
    let ((width, height), places, dowels) = seek(fixed).unwrap_or_else(|| {
        let size = size_of(half, fixed, grid(5.0));
        // One given size left out, the other kept; else both.
        let cures = [(None, fixed.1), (fixed.0, None), (None, None)];
        let cure = cures.into_iter().find_map(|f| Some((f, seek(f)?.0)));
        let change = match cure {
            Some(((None, None), (w, h))) => {
                format!(
                    "mold.width = {} and mold.height = {}",
                    shown::written(shown::Kind::Length, w, 4),
                    shown::written(shown::Kind::Length, h, 4)
                )
            }
            Some(((None, _), (w, _))) => {
                format!("mold.width = {}", shown::written(shown::Kind::Length, w, 4))
            }
            Some((_, (_, h))) => format!(
                "mold.height = {}",
                shown::written(shown::Kind::Length, h, 4)
            ),
            None => "fewer or smaller screws (bolts.count, bolts.size)".to_owned(),
        };
        p.findings.push(
            Finding::new(
                Level::Stop,
                Code::PlateTooSmall,
                "plates",
                format!(
                    "cavities, screws and dowels find no room on a plate of {} × {}",
                    shown::bare_size(size.0),
                    shown::size(size.1)
                ),
                format!(
                    "each needs {} of metal to the cavity, and so does the plate's edge",
                    shown::size(WEB)
                ),
                change,
            )
            .because_of(span_of(mold.width.as_ref()).or(span_of(mold.height.as_ref()))),
        );
        (size, screw_places(bolts.count, size, edge), Vec::new())
    });
    let rule = |axis: &str| {
        Rule::new(
            format!(
                "cavities + wall, grown in {} steps until screws, dowels and their webs fit",
                shown::size(5.0)
            ),
            format!("geometry; {} steps: saw-cut stock", shown::size(5.0)),
        )
        .with(
            "cavities reach",
            format!(
                "{} × {}",
                shown::bare_size(2.0 * reach.0),
                shown::size(2.0 * reach.1)
            ),
        )
        .with("wall", shown::size(wall))
        .changes_with(format!(
            "mold.{axis}, mold.wall, bolts.size, the part's size"
        ))
    };
    let width = p.length(MoldSection::width, mold.width.as_ref(), || {
        (width, rule("width"))
    });
    let height = p.length(MoldSection::height, mold.height.as_ref(), || {
        (height, rule("height"))
    });
    let corner_radius = p.length(
        MoldSection::corner_radius,
        mold.corner_radius.as_ref(),
        || {
            (
                0.0,
                Rule::new("square sawn corners; break the edges with a file", PRACTICE)
                    .changes_with("mold.corner_radius, for plates cut by laser or plasma"),
            )
        },
    );
    Frame {
        width,
        height,
        corner_radius: corner_radius.min(0.5 * width.min(height) - 1.0).max(0.0),
        bolts: places,
        dowels,
        dowel_dia,
        dowel_fit,
    }
}

/// Size of a plate of these half sizes, in steps of so many mm where none is given.
fn size_of(half: (f64, f64), fixed: (Option<f64>, Option<f64>), step: f64) -> (f64, f64) {
    let one = |half: f64, fixed: Option<f64>| fixed.map_or(up_to(2.0 * half, step), |f| 2.0 * f);
    (one(half.0, fixed.0), one(half.1, fixed.1))
}

/// Screw places: the four corners, the rest shared over the longer sides first.
fn screw_places(count: u32, size: (f64, f64), edge: f64) -> Vec<Point> {
    let (x, y) = (size.0 / 2.0 - edge, size.1 / 2.0 - edge);
    if count == 2 {
        return vec![Point::new(-x, -y), Point::new(x, y)];
    }
    let mut pairs = (count.max(4) - 4) / 2;
    let (mut along_x, mut along_y) = (0u32, 0u32);
    while pairs > 0 {
        if x / f64::from(along_x + 1) >= y / f64::from(along_y + 1) {
            along_x += 1;
        } else {
            along_y += 1;
        }
        pairs -= 1;
    }
    let mut places = vec![
        Point::new(-x, -y),
        Point::new(x, -y),
        Point::new(x, y),
        Point::new(-x, y),
    ];
    let step = |n: u32, i: u32| -1.0 + 2.0 * f64::from(i + 1) / f64::from(n + 1);
    for i in 0..along_x {
        let t = x * step(along_x, i);
        places.push(Point::new(t, -y));
        places.push(Point::new(t, y));
    }
    for i in 0..along_y {
        let t = y * step(along_y, i);
        places.push(Point::new(-x, t));
        places.push(Point::new(x, t));
    }
    places
}

/// Two dowels on the left and right borders (or lower and upper), as far apart as
/// possible, one moved by `offset`; `None` without room.
fn dowel_places(
    screws: &[Point],
    obstacles: &[Obstacle],
    size: (f64, f64),
    dia: f64,
    offset: f64,
    screw_radius: f64,
) -> Option<Vec<Point>> {
    if dia == 0.0 {
        return None;
    }
    let radius = dia / 2.0;
    let inset = radius + (0.8 * dia).max(4.0);
    let free = |q: Point| {
        is_clear(obstacles, q, radius + WEB)
            && screws
                .iter()
                .all(|s| (s - q).norm() >= radius + screw_radius + 2.0)
    };
    let across = size.0 >= size.1;
    let place = |sign: f64, t: f64| {
        if across {
            Point::new(sign * (size.0 / 2.0 - inset), t)
        } else {
            Point::new(t, sign * (size.1 / 2.0 - inset))
        }
    };
    let reach = (if across { size.1 } else { size.0 }) / 2.0 - inset;
    let steps = (reach / 1.0).floor().max(0.0) as i32;
    for i in 0..=steps {
        for t in [f64::from(i), -f64::from(i)] {
            let (a, b) = (place(-1.0, t), place(1.0, t + offset));
            if t + offset <= reach && free(a) && free(b) {
                return Some(vec![a, b]);
            }
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn screws_are_symmetric_and_as_many_as_asked() {
        for count in [2, 4, 6, 8, 10, 12, 24] {
            let places = screw_places(count, (200.0, 120.0), 12.0);
            assert_eq!(places.len(), count as usize);
            let sum = places
                .iter()
                .fold(nalgebra::Vector2::zeros(), |s, p| s + p.coords);
            assert!(sum.norm() < 1e-9);
        }
    }

    #[test]
    fn dowels_fit_one_way_only() {
        let screws = screw_places(4, (120.0, 120.0), 12.0);
        let d = dowel_places(&screws, &[], (120.0, 120.0), 8.0, 8.0, 7.5).unwrap();
        // Turned by 180° the pattern does not fall on itself.
        assert!((d[0].coords + d[1].coords).norm() > 4.0);
    }
}
