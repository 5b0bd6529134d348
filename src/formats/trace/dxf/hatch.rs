//! The boundaries of a HATCH: outlines, where a drawing has no others.
//!
//! Input: the entity. Output: chains, one for each path. Source: the DXF reference, HATCH and
//! "boundary path data".

use super::entity::{Entity, bulged};
use super::spline;
use crate::trace::affine::{Affine, unit_arc};
use crate::trace::error::TraceError;
use platewright_sketch::Point;
use platewright_sketch::Stroke;

/// Reads the pairs of the entity one after the other.
struct Pairs<'e, 'a> {
    entity: &'e Entity<'a>,
    next: usize,
}

impl Pairs<'_, '_> {
    /// The next pair's number, if it has this code.
    fn take(&mut self, code: i32) -> Option<f64> {
        let tag = self.entity.tags.get(self.next).filter(|t| t.0 == code)?;
        self.next += 1;
        tag.1.parse::<f64>().ok().filter(|v| v.is_finite())
    }
    fn need(&mut self, code: i32) -> Result<f64, TraceError> {
        self.take(code).ok_or_else(|| {
            TraceError::new(
                format!("has a HATCH whose boundary lacks a number for group {code}"),
                "draw the outline as a polyline, or explode the hatch",
            )
            .at_line(self.entity.line)
        })
    }
    fn count(&mut self, code: i32) -> Result<usize, TraceError> {
        let n = self.need(code)?;
        Ok(n.clamp(0.0, self.entity.tags.len() as f64) as usize)
    }
    fn point(&mut self, code: i32) -> Result<Point, TraceError> {
        Ok(Point::new(self.need(code)?, self.need(code + 10)?))
    }
}

/// The boundary paths.
pub(super) fn paths(e: &Entity<'_>) -> Result<Vec<Vec<Stroke>>, TraceError> {
    let mut pairs = Pairs { entity: e, next: 0 };
    let Some(start) = e.tags.iter().position(|t| t.0 == 91) else {
        return Ok(Vec::new());
    };
    pairs.next = start;
    let mut out = Vec::new();
    for _ in 0..pairs.count(91)? {
        let flags = pairs.need(92)? as i64;
        let path = if flags & 2 != 0 {
            polyline(&mut pairs)?
        } else {
            let mut all = Vec::new();
            for _ in 0..pairs.count(93)? {
                edge(&mut pairs, &mut all)?;
            }
            all
        };
        // The objects that the boundary was found from.
        let sources = pairs.take(97).unwrap_or(0.0) as usize;
        for _ in 0..sources.min(e.tags.len()) {
            pairs.next += usize::from(e.tags.get(pairs.next).is_some_and(|t| t.0 == 330));
        }
        // Text boxes are no outlines.
        if flags & 8 == 0 {
            out.push(path);
        }
    }
    Ok(out)
}

fn polyline(pairs: &mut Pairs<'_, '_>) -> Result<Vec<Stroke>, TraceError> {
    let bulges = pairs.take(72).unwrap_or(0.0) != 0.0;
    let _ = pairs.take(73);
    let mut points = Vec::new();
    for _ in 0..pairs.count(93)? {
        let p = pairs.point(10)?;
        let bulge = if bulges {
            pairs.take(42).unwrap_or(0.0)
        } else {
            0.0
        };
        points.push((p.x, p.y, bulge));
    }
    // A boundary closes whether it is marked so or not.
    Ok(bulged(&points, true))
}

fn edge(pairs: &mut Pairs<'_, '_>, out: &mut Vec<Stroke>) -> Result<(), TraceError> {
    match pairs.need(72)? as i64 {
        1 => {
            let (p, q) = (pairs.point(10)?, pairs.point(11)?);
            if p != q {
                out.push(Stroke::Line(p, q));
            }
        }
        2 => {
            let c = pairs.point(10)?;
            let r = pairs.need(40)?;
            let map = Affine::new(r, 0.0, 0.0, r, c.x, c.y);
            arc(pairs, &map, out)?;
        }
        3 => {
            let (c, a) = (pairs.point(10)?, pairs.point(11)?);
            let ratio = pairs.need(40)?;
            let map = Affine::new(a.x, a.y, -a.y * ratio, a.x * ratio, c.x, c.y);
            arc(pairs, &map, out)?;
        }
        _ => {
            let degree = pairs.need(94)? as i64;
            let _ = (pairs.take(73), pairs.take(74));
            let (knots, points) = (pairs.count(95)?, pairs.count(96)?);
            let mut curve = Entity::new("SPLINE", pairs.entity.line);
            // Its numbers as a SPLINE of its own has them.
            let from = pairs.next;
            for _ in 0..knots {
                pairs.need(40)?;
            }
            for _ in 0..points {
                pairs.point(10)?;
                let _ = pairs.take(42);
            }
            for (code, value) in &pairs.entity.tags[from..pairs.next] {
                curve
                    .tags
                    .push((if *code == 42 { 41 } else { *code }, value));
            }
            let fits = pairs.take(97).unwrap_or(0.0) as usize;
            for _ in 0..fits.min(pairs.entity.tags.len()) {
                pairs.point(11)?;
            }
            if fits > 0 {
                let _ = (
                    pairs.take(12),
                    pairs.take(22),
                    pairs.take(13),
                    pairs.take(23),
                );
            }
            out.extend(spline::of_degree(&curve, degree)?);
        }
    }
    Ok(())
}

/// The arc over the angles that follow; those of a clockwise one count the other way.
fn arc(pairs: &mut Pairs<'_, '_>, map: &Affine, out: &mut Vec<Stroke>) -> Result<(), TraceError> {
    let (from, to) = (pairs.need(50)?, pairs.need(51)?);
    let clockwise = pairs.take(73) == Some(0.0);
    let turn = |a: f64| if clockwise { -a } else { a }.to_radians();
    let sweep = turn(to) - turn(from);
    if sweep != 0.0 {
        let whole = std::f64::consts::TAU;
        out.extend(unit_arc(turn(from), sweep.clamp(-whole, whole), map));
    }
    Ok(())
}
