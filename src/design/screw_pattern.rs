//! The screw holes of an adaptor plate: where they are, how they are made, what they hold.

use super::hole::{Depth, HoleStep};
use super::planner::{PRACTICE, Planner};
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::{Given, Length, Span};
use crate::data::Material;
use crate::data::clamped::{self, Tightened};
use crate::data::fasteners::{self, Series};
use crate::sketch::Point;
use crate::spec::job::AdaptorSection;
use crate::spec::job::{HoleStyle, Pattern};

/// The pattern of screw holes: four on a 60 mm circle unless told otherwise.
pub(super) fn decide(p: &mut Planner) -> Pattern {
    p.decisions.decide(
        AdaptorSection::pattern,
        p.job.adaptor.pattern.as_ref(),
        |pattern| match pattern {
            Pattern::Circle {
                count, diameter, ..
            } => format!("{} holes on a circle of {}", count.value, diameter.value),
            Pattern::Grid {
                columns,
                rows,
                pitch_x,
                pitch_y,
            } => format!(
                "{} × {} holes at {} × {}",
                columns.value, rows.value, pitch_x.value, pitch_y.value
            ),
        },
        || {
            (
                Pattern::Circle {
                    count: Given::new(4, Span::default()),
                    diameter: Given::new(Length::from_mm(60.0), Span::default()),
                    angle: Some(Given::new(
                        crate::base::Angle::from_degrees(45.0),
                        Span::default(),
                    )),
                },
                Rule::new(
                    format!("four screws on a circle of {}", shown::size(60.0)),
                    PRACTICE,
                )
                .changes_with("adaptor.pattern: copy the machine's holes"),
            )
        },
    )
}

/// Hole centres of a pattern.
pub(super) fn places(pattern: &Pattern) -> Vec<Point> {
    match pattern {
        Pattern::Circle {
            count,
            diameter,
            angle,
        } => {
            let first = angle.as_ref().map_or(0.0, |a| a.value.degrees());
            (0..count.value)
                .map(|i| {
                    let a = first + 360.0 * f64::from(i) / f64::from(count.value);
                    crate::sketch::rotate(Point::new(diameter.value.mm() / 2.0, 0.0), a)
                })
                .collect()
        }
        Pattern::Grid {
            columns,
            rows,
            pitch_x,
            pitch_y,
        } => {
            let at = |i: u32, n: u32, pitch: f64| (f64::from(i) - f64::from(n - 1) / 2.0) * pitch;
            let mut all = Vec::new();
            for j in 0..rows.value.max(1) {
                for i in 0..columns.value.max(1) {
                    let q = Point::new(
                        at(i, columns.value.max(1), pitch_x.value.mm()),
                        at(j, rows.value.max(1), pitch_y.value.mm()),
                    );
                    // The nozzle sits in the middle of an odd grid.
                    if q.coords.norm() > 1e-9 {
                        all.push(q);
                    }
                }
            }
            all
        }
    }
}

/// Steps of a screw hole in the wanted style.
pub(super) fn steps(p: &mut Planner, screw: &str) -> Option<Vec<HoleStep>> {
    let (holes, source) = match fasteners::screw_thread(screw)?.series() {
        Series::Metric => ("plain clearance holes, ISO 273 medium", "ISO 273"),
        Series::Unc => ("plain clearance holes, ASME B18.2.8 normal", "ASME B18.2.8"),
    };
    let style = p.decisions.decide(
        AdaptorSection::style,
        p.job.adaptor.style.as_ref(),
        |s| match s {
            HoleStyle::Clearance => "clearance".into(),
            HoleStyle::Counterbored => "counterbored".into(),
            HoleStyle::Countersunk => "countersunk".into(),
            HoleStyle::Tapped => "tapped".into(),
        },
        || {
            (
                HoleStyle::Clearance,
                Rule::new(holes, source).changes_with("adaptor.style"),
            )
        },
    );
    let metric = fasteners::screw_thread(screw)?;
    let medium = fasteners::clearance_hole(screw)?.medium_mm;
    Some(match style {
        HoleStyle::Clearance => vec![HoleStep::through(medium)],
        HoleStyle::Counterbored => {
            let b = fasteners::counterbore(screw)?;
            HoleStep::sunk(medium, (b.dia_mm, b.depth_mm)).to_vec()
        }
        HoleStyle::Countersunk => {
            let c = fasteners::countersink(screw)?;
            vec![
                HoleStep::through(medium),
                HoleStep::Countersink {
                    dia: c.sink_dia_mm,
                    angle_deg: c.angle_deg,
                },
            ]
        }
        HoleStyle::Tapped => HoleStep::tapped(metric, Depth::Through, Depth::Through).to_vec(),
    })
}

/// What a screw of the pattern may be tightened to (of the usual class, with paste): a head on the plate
/// presses no more than its metal carries.
pub(super) fn tightened(p: &Planner, screw: &str, metal: &Material) -> Option<Tightened> {
    let style = p.job.adaptor.style.as_ref().map(|s| s.value);
    let (class, state) = (fasteners::usual_class(screw), "paste");
    match style {
        Some(HoleStyle::Countersunk | HoleStyle::Tapped) => clamped::tightened(screw, class, state),
        _ => clamped::tightened_on(screw, class, state, metal),
    }
}
