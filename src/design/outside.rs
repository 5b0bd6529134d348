//! The outside of a turned end: what the lathe takes off around its axis, as a turner reads it.
//!
//! Input: steps from the end inward. Output: the profile they leave, and what is removed.
//! Threads are at their crests: their form is cosmetic, as that of a tap.

use crate::data::pipe_fit::OutsideThread;
use crate::sketch::{Contour, Point, Vertex};
use serde::{Serialize, Serializer};

/// What a step of the outside is.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "step", rename_all = "lowercase")]
pub enum OutsideKind {
    /// A chamfer at an end.
    Chamfer,
    /// A plain cylinder or cone.
    Plain,
    /// An external thread, to its crests.
    Thread {
        /// What is cut.
        #[serde(serialize_with = "designation")]
        thread: OutsideThread,
        /// Pitch, mm.
        pitch: f64,
        /// Diameter at its roots where it begins, mm.
        root: f64,
    },
    /// The groove between a thread and its shoulder.
    Relief,
    /// A sphere about the axis, up to its equator.
    Nose {
        /// Radius, mm.
        radius: f64,
    },
    /// The chamfer that takes the corners off a hexagon's face.
    Crown,
}

fn designation<S: Serializer>(thread: &OutsideThread, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(thread)
}

/// One step: a diameter at its beginning and at its end, and how long it is.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OutsideStep {
    /// What it is.
    #[serde(flatten)]
    pub kind: OutsideKind,
    /// Diameter where it begins, towards the end of the piece, mm.
    pub start: f64,
    /// Diameter where it ends, mm.
    pub end: f64,
    /// Length along the axis, mm.
    pub length: f64,
}

impl OutsideStep {
    /// A cylinder.
    pub(super) fn cylinder(kind: OutsideKind, dia: f64, length: f64) -> Self {
        Self::cone(kind, [dia, dia], length)
    }
    /// A cone from one diameter to another.
    pub(super) fn cone(kind: OutsideKind, [start, end]: [f64; 2], length: f64) -> Self {
        Self {
            kind,
            start,
            end,
            length,
        }
    }
}

/// All that is turned from one face: steps from the face to the shoulder. What is left of the bar
/// beyond the last one keeps its section.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Outside {
    /// The steps.
    pub steps: Vec<OutsideStep>,
}

impl Outside {
    /// How far the last step reaches from the face, mm.
    pub fn depth(&self) -> f64 {
        self.steps.iter().map(|s| s.length).sum()
    }
    /// The profile from the face inward: radius and depth, with the bulge of the piece that
    /// follows. Two points at one depth are a shoulder.
    pub fn profile(&self) -> Vec<Vertex> {
        let mut out: Vec<Vertex> = Vec::new();
        let mut depth = 0.0;
        for s in &self.steps {
            let from = Point::new(0.5 * s.start, depth);
            depth += s.length;
            let to = Point::new(0.5 * s.end, depth);
            let bulge = match s.kind {
                // About a centre on the axis at the depth of the equator, at the left of the way.
                OutsideKind::Nose { radius } => ((from.x / radius).acos() / 4.0).tan(),
                _ => 0.0,
            };
            match out.last_mut() {
                Some(last) if (last.at - from).norm() < 1e-9 => last.bulge = bulge,
                _ => out.push(Vertex { at: from, bulge }),
            }
            out.push(Vertex { at: to, bulge: 0.0 });
        }
        out
    }
    /// How deep it is turned at each radius, as seen from the face: radius and depth by rising radius
    /// from the axis out to `out`. Grooves lie behind what is wider before them.
    pub fn seen(&self, out: f64, sag: f64) -> Vec<[f64; 2]> {
        let mut points: Vec<[f64; 2]> = vec![[0.0, 0.0]];
        // A piece of the profile: of it only what is wider than all before.
        let mut along = |[r0, d0]: [f64; 2], [r1, d1]: [f64; 2]| {
            let widest = points.last().map_or(0.0, |p| p[0]);
            if r1 > widest {
                let from = r0.max(widest);
                points.push([from, d0 + (d1 - d0) * (from - r0) / (r1 - r0)]);
                points.push([r1, d1]);
            }
        };
        let (mut depth, mut before) = (0.0, 0.0);
        for s in &self.steps {
            let (start, end) = (0.5 * s.start, 0.5 * s.end);
            along([before, depth], [start, depth]);
            let mut last = [start, depth];
            if let OutsideKind::Nose { radius } = s.kind {
                // Enough pieces that no chord lies farther than `sag` from the sphere.
                let pieces =
                    (0.5 * std::f64::consts::PI / (8.0 * sag / radius).sqrt()).ceil() * 2.0;
                for k in 1..pieces as usize {
                    let t = (start / radius).acos() * (1.0 - k as f64 / pieces);
                    let next = [radius * t.cos(), depth + s.length - radius * t.sin()];
                    along(last, next);
                    last = next;
                }
            }
            depth += s.length;
            along(last, [end, depth]);
            before = end;
        }
        // A crown's slope runs on outside of the bar's corners.
        let slope = self.steps.last().filter(|s| s.end > s.start);
        if let Some(s) = slope {
            let rise = s.length / (0.5 * (s.end - s.start));
            along([before, depth], [out, depth + rise * (out - before)]);
        }
        along([before, depth], [out, depth]);
        points
    }
    /// The grooves: radius of what stands before them, their own radius, from and to depth.
    pub fn grooves(&self) -> Vec<[f64; 4]> {
        let mut from = 0.0;
        let mut out = Vec::new();
        for s in &self.steps {
            if s.kind == OutsideKind::Relief {
                out.push([
                    self.widest_before(from),
                    0.5 * s.start,
                    from,
                    from + s.length,
                ]);
            }
            from += s.length;
        }
        out
    }
    /// The largest diameter of an external thread, and from and to which depth it is cut, with the
    /// chamfer before it.
    pub fn threaded(&self, own: &OutsideThread) -> Option<(f64, [f64; 2])> {
        let (mut depth, mut chamfer) = (0.0, 0.0);
        for s in &self.steps {
            if matches!(&s.kind, OutsideKind::Thread { thread, .. } if thread == own) {
                return Some((s.end, [chamfer, depth + s.length]));
            }
            chamfer = if s.kind == OutsideKind::Chamfer {
                depth
            } else {
                depth + s.length
            };
            depth += s.length;
        }
        None
    }
    /// Diameters of the edges that are seen from the face, each once, the largest first.
    pub fn edges(&self) -> Vec<f64> {
        let mut widest = 0.0;
        let mut out = Vec::new();
        for dia in self.steps.iter().flat_map(|s| [s.start, s.end]) {
            if dia > widest + 1e-6 {
                widest = dia;
                out.push(dia);
            }
        }
        out.reverse();
        out
    }
    /// Radius at a depth: of the step that holds it.
    pub fn radius_at(&self, depth: f64) -> Option<f64> {
        let mut from = 0.0;
        for s in &self.steps {
            let t = depth - from;
            if t <= s.length {
                return Some(match s.kind {
                    OutsideKind::Nose { radius } => {
                        let below = s.length - t;
                        (radius * radius - below * below).max(0.0).sqrt()
                    }
                    _ => 0.5 * (s.start + (s.end - s.start) * t / s.length.max(1e-12)),
                });
            }
            from += s.length;
        }
        None
    }
    /// The largest radius that an earlier step leaves within `depth` of the face: what is behind it
    /// is hidden from the face.
    pub fn widest_before(&self, depth: f64) -> f64 {
        let mut from = 0.0;
        let mut widest: f64 = 0.0;
        for s in &self.steps {
            if from >= depth - 1e-9 {
                break;
            }
            widest = widest.max(0.5 * s.start).max(0.5 * s.end);
            from += s.length;
        }
        widest
    }
    /// What is turned off as a section in (radius, height): from the face at height `face` inward
    /// (`inward`: +1 or −1), `over` beyond the face, out to a radius of `out`.
    pub fn removed(&self, face: f64, inward: f64, over: f64, out: f64) -> Contour {
        let mut profile = self.profile();
        // A chamfer of the bar's corners runs on until it is outside of them.
        if let (Some(last), Some(step)) = (profile.last().copied(), self.steps.last())
            && step.end > step.start
            && last.at.x < out
        {
            let slope = step.length / (0.5 * (step.end - step.start));
            let at = Point::new(out, last.at.y + slope * (out - last.at.x));
            profile.pop();
            profile.push(Vertex { at, bulge: 0.0 });
        }
        let mut points: Vec<Vertex> = profile;
        if let Some(last) = points.last().copied()
            && last.at.x < out - 1e-9
        {
            points.push(Vertex::new(out, last.at.y, 0.0));
        }
        points.push(Vertex::new(out, -over, 0.0));
        if let Some(first) = points.first().copied() {
            points.push(Vertex::new(first.at.x, -over, 0.0));
        }
        let vertices = points.into_iter().map(|v| Vertex {
            at: Point::new(v.at.x, face + inward * v.at.y),
            bulge: inward * v.bulge,
        });
        Contour::new(vertices.collect()).counter_clockwise()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    #[test]
    fn a_round_nose_is_a_sphere() {
        let radius = 11.0;
        let length = f64::sqrt(radius * radius - 16.0);
        let nose = Outside {
            steps: vec![
                OutsideStep::cone(OutsideKind::Nose { radius }, [8.0, 22.0], length),
                OutsideStep::cylinder(OutsideKind::Plain, 22.0, 3.0),
            ],
        };
        for (face, inward) in [(0.0, 1.0), (30.0, -1.0)] {
            let removed = nose.removed(face, inward, 1.0, 14.0);
            assert!(removed.signed_area() > 0.0);
            // Before the face 14 − 4; beside the sphere by the integral of its circle; beside the neck.
            let r2 = radius * radius;
            let circle =
                0.5 * (length * (r2 - length * length).sqrt() + r2 * (length / radius).asin());
            let want = 10.0 + 14.0 * length - circle + 3.0 * 3.0;
            let area = removed.signed_area();
            assert!((area - want).abs() < 1e-9, "{area} {want}");
        }
        assert!((nose.radius_at(length).unwrap() - radius).abs() < 1e-9);
        assert!((nose.radius_at(0.0).unwrap() - 4.0).abs() < 1e-9);
    }
}
